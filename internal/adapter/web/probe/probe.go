// Package probe is the page beside the work: the next check as one large card that one tap answers, the suspects and what would
// separate them, the drawings, and the log in which everything can be taken back and nothing is erased.
package probe

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"halfsplit/internal/adapter/web/guard"
	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

//go:generate go tool templ generate

// Register adds the pages of the probe view.
func Register(mux *http.ServeMux, s *shell.Shell) {
	p := &pages{s}
	mux.HandleFunc("GET /jobs/{id}/probe", p.show)
	mux.HandleFunc("GET /jobs/{id}/live", p.live)
	mux.HandleFunc("GET /jobs/{id}/ready", p.ready)
	mux.HandleFunc("GET /jobs/{id}/why/{n}", p.why)
	mux.HandleFunc("GET /jobs/{id}/place", p.place)
	mux.HandleFunc("GET /jobs/{id}/picture/{view}", p.picture)
	mux.HandleFunc("GET /jobs/{id}/line/{seq}", p.line)
	mux.HandleFunc("POST /jobs/{id}/answer", p.answer)
	mux.HandleFunc("POST /jobs/{id}/entry", p.entry)
	mux.HandleFunc("POST /jobs/{id}/look", p.look)
	mux.HandleFunc("POST /jobs/{id}/retract", p.retract)
	mux.HandleFunc("POST /jobs/{id}/correct", p.correct)
	mux.HandleFunc("POST /jobs/{id}/have", p.have)
	mux.HandleFunc("POST /jobs/{id}/symptoms", p.symptoms)
}

type pages struct{ s *shell.Shell }

// view computes the job for a page, or tells what went wrong.
func (p *pages) view(w http.ResponseWriter, r *http.Request) (*app.JobView, bool) {
	id := shell.ID(r, "id")
	if id == 0 {
		p.s.Fail(w, r, app.ErrNone)
		return nil, false
	}
	v, err := p.s.Desk.ViewSoon(r.Context(), id)
	if err != nil {
		p.s.Fail(w, r, err)
		return nil, false
	}
	return v, true
}

// screen is what the templates of the page are given.
type screen struct {
	shell.Info
	V      *app.JobView
	P      *app.ProbeView
	At, Do string // the place that the drawings show, when it is not that of the card
	View   string
	Solder bool
	Key    string
}

// invented tells whether the machine can answer for itself.
func (x screen) invented() bool { return x.Shell.Desk.Invented(x.V.Job) }

func (p *pages) show(w http.ResponseWriter, r *http.Request) {
	if v, ok := p.view(w, r); ok {
		p.render(w, r, v)
	}
}

func (p *pages) render(w http.ResponseWriter, r *http.Request, v *app.JobView) {
	q := r.URL.Query()
	x := screen{Info: shell.Info{Shell: p.s, Title: v.Job.Intake.Machine, Nav: "jobs", Job: v, Stage: "find"}, V: v, P: v.Probe,
		At: q.Get("at"), Do: q.Get("do"), View: q.Get("view"), Solder: q.Get("solder") == "1", Key: shell.Key()}
	if rail := v.Probe.RailDue(); rail != nil && !railsLeft(v) {
		x.Stage = "rails"
		if x.At == "" && len(v.Probe.Gate) == 0 {
			x.At = rail.At // the card asks there, so the drawings show it
		}
	}
	p.s.Render(w, r, http.StatusOK, page(x))
}

// ready says whether what was being worked out is there now; the page's script asks, and loads the page anew when it is.
func (p *pages) ready(w http.ResponseWriter, r *http.Request) {
	if v, ok := p.view(w, r); ok && v.Probe.Working != nil {
		w.WriteHeader(http.StatusNoContent)
	}
}

// railsLeft tells whether the stage of the rails was left out for a reason.
func railsLeft(v *app.JobView) bool { return v.Job.Stages["rails"].Mark == job.NotNeeded }

// done answers a form: by script with the page as it is now, which saves a round trip under the probe; else by sending the browser there.
func (p *pages) done(w http.ResponseWriter, r *http.Request) {
	if !shell.ByScript(r) {
		shell.Back(w, r, shell.JobPath(shell.ID(r, "id"), "probe"))
		return
	}
	w.Header().Set("HX-Push-Url", shell.JobPath(shell.ID(r, "id"), "probe"))
	r.URL.RawQuery = ""
	p.show(w, r)
}

// record writes facts under keys made from the form's own; every one is on the disk before the page says so.
func (p *pages) record(w http.ResponseWriter, r *http.Request, facts ...job.Fact) {
	key := r.PostFormValue("key")
	for i, f := range facts {
		k := key
		if i > 0 && key != "" {
			k = fmt.Sprintf("%s.%d", key, i)
		}
		if _, err := p.s.Desk.Record(r.Context(), shell.ID(r, "id"), k, f); err != nil {
			p.s.Fail(w, r, err)
			return
		}
	}
	p.done(w, r)
}

// answer takes what the card's check showed.
func (p *pages) answer(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		p.s.Fail(w, r, err)
		return
	}
	if at := r.PostFormValue("skip"); at != "" {
		p.record(w, r, &job.Entry{Skipped: at, Note: r.PostFormValue("note")})
		return
	}
	is := r.PostFormValue("is")
	if is == "" {
		is = r.PostFormValue("value")
	}
	if r.PostFormValue("ask") != "" {
		var err error
		if is, err = p.s.Desk.AskMachine(r.Context(), shell.ID(r, "id"), r.PostFormValue("entries")); err != nil {
			p.s.Fail(w, r, err)
			return
		}
	}
	entries, err := app.Answer(r.PostFormValue("entries"), is, r.PostFormValue("unsure") != "")
	if err != nil {
		p.s.Fail(w, r, err)
		return
	}
	var facts []job.Fact
	for i := range entries {
		facts = append(facts, &entries[i])
	}
	p.record(w, r, facts...)
}

// entry takes a reading or a repair at any place.
func (p *pages) entry(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		p.s.Fail(w, r, err)
		return
	}
	e, err := readEntry(r.PostForm)
	if err != nil {
		p.s.Fail(w, r, err)
		return
	}
	p.record(w, r, e)
}

// readEntry reads the form of one reading or repair: kind, at, do, is, value, unsure, note, and what app.Enter needs more.
func readEntry(f url.Values) (*job.Entry, error) {
	at, is := strings.TrimSpace(f.Get("at")), f.Get("is")
	if is == "" {
		is = strings.TrimSpace(f.Get("value"))
	}
	e := &job.Entry{Note: f.Get("note")}
	if at == "" {
		return nil, app.Wrong{Err: fmt.Errorf("no place was given: write a pin (U3.7), a net, or an indicator")}
	}
	if do := f.Get("do"); do != "" {
		e.Do = []string{do}
	}
	if f.Get("unsure") != "" {
		e.Sure = 0.7
	}
	kind := f.Get("kind")
	_, figure := app.FigureOf(kind)
	if is == "" && (kind == "read" || kind == "see" || figure) {
		return nil, app.Wrong{Err: fmt.Errorf("nothing was entered for %s", at)}
	}
	if figure {
		if kind == "ohms" || kind == "esr" {
			e.Do = nil
		}
		return e, app.Enter(e, kind, at, is, f.Get)
	}
	switch kind {
	case "read":
		e.Read = []job.Reading{{At: at, Is: is}}
	case "see":
		e.See = []job.Reading{{At: at, Is: is}}
	case "lifted", "refitted", "replaced", "resoldered", "reseated", "cleared":
		e.Do = nil
		*map[string]*[]string{"lifted": &e.Lifted, "refitted": &e.Refitted, "replaced": &e.Replaced, "resoldered": &e.Resoldered, "reseated": &e.Reseated, "cleared": &e.Cleared}[kind] = []string{at}
	default:
		return nil, app.Wrong{Err: fmt.Errorf("%q is nothing that can be entered", kind)}
	}
	return e, nil
}

// look takes what several indicators showed in one action.
func (p *pages) look(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		p.s.Fail(w, r, err)
		return
	}
	e := &job.Entry{}
	if do := r.PostForm.Get("do"); do != "" {
		e.Do = []string{do}
	}
	for i, at := range r.PostForm["lamp"] {
		if is := r.PostForm.Get("is" + strconv.Itoa(i)); is != "" {
			e.See = append(e.See, job.Reading{At: at, Is: is})
		}
	}
	if len(e.See) == 0 {
		p.s.Fail(w, r, app.Wrong{Err: fmt.Errorf("nothing was seen: choose for at least one indicator what it shows")})
		return
	}
	p.record(w, r, e)
}

func (p *pages) retract(w http.ResponseWriter, r *http.Request) {
	seq, err := strconv.ParseInt(r.PostFormValue("entry"), 10, 64)
	if err != nil {
		p.s.Fail(w, r, app.Wrong{Err: fmt.Errorf("the log has no such entry")})
		return
	}
	p.record(w, r, &job.Retract{Entry: seq, Back: r.PostFormValue("back") != "", Reason: r.PostFormValue("reason")})
}

// correct takes another entry in the place of one.
func (p *pages) correct(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		p.s.Fail(w, r, err)
		return
	}
	seq, err := strconv.ParseInt(r.PostFormValue("entry"), 10, 64)
	if err != nil {
		p.s.Fail(w, r, app.Wrong{Err: fmt.Errorf("the log has no such entry")})
		return
	}
	e, err := readEntry(r.PostForm)
	if err != nil {
		p.s.Fail(w, r, err)
		return
	}
	p.record(w, r, &job.Correct{Entry: seq, By: *e, Reason: r.PostFormValue("reason")})
}

func (p *pages) have(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		p.s.Fail(w, r, err)
		return
	}
	p.record(w, r, &job.Have{Words: r.PostForm["have"]})
}

// symptoms enters what the owner of an invented machine saw.
func (p *pages) symptoms(w http.ResponseWriter, r *http.Request) {
	if err := p.s.Desk.Symptoms(r.Context(), shell.ID(r, "id"), r.PostFormValue("key")); err != nil {
		p.s.Fail(w, r, err)
		return
	}
	p.done(w, r)
}

// live is the stream that tells other windows of a job that it has grown.
func (p *pages) live(w http.ResponseWriter, r *http.Request) {
	ch, end, err := p.s.Desk.Watch(r.Context(), shell.ID(r, "id"))
	if err != nil {
		p.s.Fail(w, r, err)
		return
	}
	defer end()
	st, err := guard.Live(w, r)
	if err != nil {
		p.s.Fail(w, r, err)
		return
	}
	beat := time.NewTicker(20 * time.Second)
	defer beat.Stop()
	for {
		select {
		case <-st.Done():
			return
		case seq := <-ch:
			err = st.Send(fmt.Appendf(nil, "data: %d\n\n", seq))
		case <-beat.C:
			err = st.Send([]byte(": still here\n\n"))
		}
		if err != nil {
			return
		}
	}
}
