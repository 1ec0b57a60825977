package probe

import (
	"net/http"
	"strconv"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
)

// Pieces of the page that are asked for one by one: the account of a suspect, a place, a line of the log, a drawing.

// why is the account of a group of suspects.
func (p *pages) why(w http.ResponseWriter, r *http.Request) {
	v, ok := p.view(w, r)
	if !ok {
		return
	}
	n, err := strconv.Atoi(r.PathValue("n"))
	if err != nil || n < 1 || n > len(v.Probe.Diagnosis.Suspects) {
		p.s.Fail(w, r, app.ErrNone)
		return
	}
	p.sheet(w, r, v, account(v.Probe, n-1))
}

// place is one pin, net, part or indicator, with what can be entered there.
func (p *pages) place(w http.ResponseWriter, r *http.Request) {
	v, ok := p.view(w, r)
	if !ok {
		return
	}
	q := r.URL.Query()
	if !q.Has("do") {
		if c := v.Probe.Card(); c != nil && len(c.Do) > 0 {
			q.Set("do", c.Do[len(c.Do)-1])
		}
	}
	s, err := p.s.Desk.Sheet(r.Context(), v.Job.ID, q.Get("at"), q.Get("do"))
	if err != nil {
		p.s.Fail(w, r, err)
		return
	}
	p.sheet(w, r, v, placeSheet(v, s))
}

// line is one line of the log with all that it ever was, and the form to correct it.
func (p *pages) line(w http.ResponseWriter, r *http.Request) {
	v, ok := p.view(w, r)
	if !ok {
		return
	}
	seq := shell.ID(r, "seq")
	for _, l := range v.Probe.Log {
		if l.Line.Seq == seq {
			p.sheet(w, r, v, lineSheet(v, l))
			return
		}
	}
	p.s.Fail(w, r, app.ErrNone)
}

func (p *pages) picture(w http.ResponseWriter, r *http.Request) {
	v, ok := p.view(w, r)
	if !ok {
		return
	}
	q := r.URL.Query()
	x := screen{V: v, P: v.Probe, At: q.Get("at"), Do: q.Get("do"), View: r.PathValue("view"), Solder: q.Get("solder") == "1"}
	pic, err := p.s.Desk.Picture(r.Context(), v.Probe, app.PictureRequest{View: x.View, At: x.At, Do: x.Do, Solder: x.Solder})
	if err != nil {
		p.s.Fail(w, r, app.Wrong{Err: err})
		return
	}
	if q.Get("file") != "" && pic.W > 0 {
		w.Header().Set("Content-Type", "image/svg+xml")
		w.Header().Set("Content-Disposition", `attachment; filename="`+x.View+`.svg"`)
		w.Write([]byte(pic.Standalone()))
		return
	}
	if photo, found := photoWithParts(v.Job); x.View == "board" && pic.W == 0 && found {
		p.piece(w, r, v, photoOfBoard(v, photo))
		return
	}
	p.piece(w, r, v, figure(x, pic))
}
