package jobs

// Every form with good and with bad input: good input is taken once however often it is sent, bad input changes nothing and is told in
// words.

import (
	"net/http"
	"strings"
	"testing"

	"halfsplit/internal/core/job"
)

func TestFormsTakeGoodInputOnce(t *testing.T) {
	s := newShop(t)
	id := s.take()
	s.record(id, &job.Entry{Replaced: []string{"U1"}}, &job.Note{Text: "to be struck"})
	note := s.view(id).Job.Notes[0].Seq
	forms := []struct {
		path   string
		fields string // separated by |
		goes   string // where to, after the job's own address
		events int    // how many it writes
	}{
		{"intake", "machine=Box|complaint=dead|zone-kind=water|zone-kind=|zone-text=wet|zone-text=|zone-parts=U1, U2|zone-parts=|zone-nets=LC3|zone-nets=|mains=1", "/intake", 1},
		{"tick", "caution=mains", "/safety", 1},
		{"tick", "caution=mains|off=1", "/safety", 1},
		{"terms", "rate=45,50|fee=30|limit=1'200|currency=EUR|warn=75|how=letter", "/terms", 1},
		{"quote", "median=10000|high=15000|text=by letter", "", 1},
		{"cost", "text=carriage|amount=12.50", "/terms", 1},
		{"cost", "text=goodwill|amount=5|off=1", "/terms", 1},
		{"used", "ref=U1|type=74LS138|count=2|each=1,20|supplier=drawer|note=tested", "/mend", 1},
		{"state", "state=waiting|reason=parts|note=ordered", "", 1},
		{"note", "text=A screw\r\nis missing|stage=opened|report=1", "", 1},
		{"strike", "line=" + itoa(note), "", 1},
		{"timer", "stage=clean|minutes=12.5", "", 1},
		{"timer", "stage=find", "", 1},
		{"timer", "stop=1", "", 1},
		{"mark", "stage=controls|mark=done", "", 1},
		{"mark", "stage=controls|mark=open", "", 1},
		{"mark", "stage=soak|mark=not-needed|reason=no intermittent fault", "", 1},
		{"proof", "stage=proof|what=Lamp 3|before=dark|after=lit|limit=by eye|failed=0", "", 1},
		{"rung", "net=LC3", "/clean", 1},
		{"rung", "net=LC3|open=U9.13 to LP3.B", "/clean", 1},
		{"supply", "rail=+5V|allowed=4.75 to 5.25|volts-found=4,61|ripple-found=180|volts-left=5.01|failed=0", "/supply", 2},
		{"backup", "volts=2.9|pin=U8.24|minutes=60|limit=2 V|failed=0", "/backup", 1},
		{"soak", "from=2026-11-24T08:00|to=2026-11-24T16:00|interval=2.5|failed=0|what=room 22 °C", "/soak", 1},
	}
	for n, f := range forms {
		path := s.path(id, f.path)
		before := s.events(id)
		fields := append(strings.Split(f.fields, "|"), "key=form"+itoa(int64(n)))
		for range 2 {
			w := s.post(path, fields...)
			if w.Code != http.StatusSeeOther || w.Header().Get("Location") != s.path(id, "")+f.goes {
				t.Errorf("%s %s: %d to %q: %s", f.path, f.fields, w.Code, w.Header().Get("Location"), body(w))
			}
		}
		if got := s.events(id) - before; got != f.events {
			t.Errorf("%s %s sent twice: %d events, want %d", f.path, f.fields, got, f.events)
		}
		if w := s.post(path, strings.Split(f.fields, "|")...); w.Code != http.StatusUnprocessableEntity {
			t.Errorf("%s without a key: %d", f.path, w.Code)
		}
	}
	if len(forms) != 23 {
		t.Errorf("%d forms", len(forms))
	}
	j := s.view(id).Job
	checks := 0
	for what, ok := range map[string]bool{
		"intake":   j.Intake.Machine == "Box" && len(j.Intake.Zones) == 1 && len(j.Intake.Zones[0].Parts) == 2 && !j.Intake.Battery,
		"terms":    j.Terms == job.Terms{Currency: "EUR", Rate: 4550, Fee: 3000, Limit: 120000, Warn: 75, How: "letter"},
		"costs":    len(j.Costs) == 2 && j.Costs[1].Amount == -500,
		"used":     len(j.Used) == 1 && j.Used[0].Count == 2 && j.Used[0].Each == 120,
		"note":     len(j.Notes) == 1 && j.Notes[0].Text == "A screw\nis missing" && j.Notes[0].Report,
		"timer":    j.Times["clean"].Seconds() == 750,
		"stage":    j.Stages["soak"].Mark == job.NotNeeded,
		"quote":    len(j.Quotes) == 1 && j.Quotes[0].High == 15000,
		"waits":    j.State.Reason == "parts",
		"no ticks": len(j.Ticks) == 0,
	} {
		checks++
		if !ok {
			t.Errorf("%s is not what was sent: %+v", what, j)
		}
	}
	if checks != 10 {
		t.Errorf("%d checks", checks)
	}
	var proofs []string
	for _, p := range j.Proofs {
		proofs = append(proofs, strings.Join([]string{p.Stage, p.What, p.Before, p.After, p.Limit}, "; "))
	}
	want := []string{
		"proof; Lamp 3; dark; lit; by eye",
		"clean; Net LC3 rung out; through, all 2 pins; open at U9.13 to LP3.B; ",
		"supply; +5V voltage; 4.61 V; 5.01 V; 4.75 to 5.25",
		"supply; +5V ripple; 180 mV; ; ",
		"backup; Memory without power; ; kept after 1 h 00 min; 2.9 V at U8.24; 2 V",
		"soak; Soak 24 Nov 2026 08:00 to 24 Nov 16:00; failed every 2 h 30 min at the longest; 8 h 00 min without a failure: room 22 °C; at least 3 × 2 h 30 min = 7 h 30 min",
	}
	if got := strings.Join(proofs, "\n"); got != strings.Join(want, "\n") {
		t.Errorf("tests:\n%s\nwant:\n%s", got, strings.Join(want, "\n"))
	}
}

func TestFormsTellMistakesAndChangeNothing(t *testing.T) {
	s := newShop(t)
	id := s.take()
	before := s.events(id)
	wrong := []struct{ path, fields, words string }{
		{"intake", "machine=|complaint=", "The machine has no name"},
		{"intake", "machine=x|complaint=y|zone-kind=|zone-text=wet|zone-parts=|zone-nets=", "Damage row 1 has no kind"},
		{"intake", "machine=x|complaint=y|zone-kind=water", "rows of damage are not whole"},
		{"tick", "caution=luck", "There is no caution"},
		{"terms", "rate=a lot", "is no amount"},
		{"terms", "rate=-5", "negative or absurd"},
		{"terms", "warn=0", "is not within 1 to 100"},
		{"terms", "limit=5|no-limit=1", "either a limit or none"},
		{"quote", "median=x|high=1", "load the page again"},
		{"quote", "median=5|high=1", "from its median up"},
		{"cost", "text=|amount=5", "no text"},
		{"cost", "text=x|amount=", "is nothing"},
		{"used", "type=", "no type"},
		{"used", "type=x|count=1.5", "no whole number"},
		{"used", "type=x|count=0", "is not within 1 to 10000"},
		{"state", "state=gone", "is none of"},
		{"state", "state=waiting", "waits for something"},
		{"note", "text= ", "The note is empty"},
		{"strike", "line=1", "not there any more"},
		{"strike", "line=", "load the page again"},
		{"timer", "stop=1", "No clock is running"},
		{"timer", "stage=tea", "There is no stage"},
		{"timer", "stage=find|minutes=", "How many minutes"},
		{"timer", "stage=find|minutes=NaN", "is no number"},
		{"timer", "stage=find|minutes=2000", "is not within -1440 to 1440"},
		{"mark", "stage=soak|mark=not-needed", "for a reason"},
		{"mark", "stage=safety|mark=not-needed|reason=hurry", "part of every job"},
		{"proof", "stage=proof|what=x", "Choose one"},
		{"proof", "stage=proof|failed=0", "has no name"},
		{"rung", "", "No net is chosen"},
		{"rung", "net=NOSUCH", "does not run through the damage"},
		{"rung", "net=LC3|net=GND|open=U1.1", "belongs to one net"},
		{"supply", "rail=|volts-found=5|failed=0", "which rail"},
		{"supply", "rail=+5V|failed=0", "Nothing was measured"},
		{"supply", "rail=+5V|volts-found=5", "Choose one"},
		{"supply", "rail=+5V|volts-found=50000|failed=0", "is not within -1000 to 1000"},
		{"supply", "rail=+5V|ripple-left=-1|failed=0", "is not within 0 to"},
		{"backup", "minutes=5|failed=0", "is missing"},
		{"backup", "volts=3|failed=0", "without power?"},
		{"backup", "volts=3|minutes=5", "Choose one"},
		{"soak", "from=x|to=2026-11-24T16:00|failed=0", "The start: write it as"},
		{"soak", "from=2026-11-24T16:00|to=2026-11-24T16:00|failed=0", "not after the start"},
		{"soak", "from=2026-01-24T16:00|to=2026-11-24T16:00|failed=0", "more than 60 days"},
		{"soak", "from=2026-11-24T16:00|to=2026-12-24T16:00|failed=0", "lies in the future"},
		{"soak", "from=2026-11-24T08:00|to=2026-11-24T16:00", "Choose one"},
		{"photos/99/spots", "x=1|y=1|text=z", "not here"},
	}
	for n, f := range wrong {
		w := s.post(s.path(id, f.path), append(strings.Split(f.fields, "|"), "key=wrong"+itoa(int64(n)))...)
		code := http.StatusUnprocessableEntity
		if strings.HasPrefix(f.path, "photos/") {
			code = http.StatusNotFound
		}
		if w.Code != code || !strings.Contains(strings.ToLower(body(w)), strings.ToLower(f.words)) || strings.Contains(body(w), "<") {
			t.Errorf("%s %s: %d %q, want %d with %q", f.path, f.fields, w.Code, body(w), code, f.words)
		}
	}
	if s.events(id) != before || len(wrong) != 46 {
		t.Errorf("%d events more after %d mistakes", s.events(id)-before, len(wrong))
	}
}

func TestTakingIn(t *testing.T) {
	s := newShop(t)
	if w := s.post("/shop", "key=k", "currency=EUR", "rate=48", "have=meter"); w.Code != http.StatusSeeOther {
		t.Fatalf("%d %s", w.Code, body(w))
	}
	unit := []string{"key=unit", "machine=Box", "complaint=dead", "mains=1", "stored=1"}
	for range 2 {
		if w := s.post("/jobs", unit...); w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/jobs/1" {
			t.Fatalf("%d %s", w.Code, body(w))
		}
	}
	j := s.view(1).Job
	if !j.Intake.Mains || !j.Intake.Stored || j.Intake.Tube || j.Terms.Rate != 4800 || j.Terms.Currency != "EUR" || len(j.Have) != 1 || s.events(1) != 3 {
		t.Errorf("%d events: %+v", s.events(1), j)
	}
	// Without script the page comes back with everything that was typed.
	w := s.send(false, "/jobs", "key=x", "machine=", "complaint=typed <b>with care</b>", "tube=1", "zone-kind=heat", "zone-text=brown spot", "zone-parts=U3 U4", "zone-nets=")
	for _, want := range []string{"The machine has no name", "typed &lt;b&gt;with care", `name="tube" value="1" checked`, `value="heat" selected`, "brown spot", `value="U3 U4"`} {
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(body(w), want) {
			t.Errorf("%d, %q is missing", w.Code, want)
		}
	}
	w = s.send(false, "/jobs/1/intake", "key=y", "machine=Box", "complaint=")
	if w.Code != http.StatusUnprocessableEntity || !strings.Contains(body(w), "The complaint is empty") || s.events(1) != 3 {
		t.Errorf("%d %d", w.Code, s.events(1))
	}
	// An invented machine stays one when its intake is edited.
	if w := s.post("/jobs/example", "key=ex", "name="); w.Header().Get("Location") != "/jobs/2" {
		t.Fatalf("%d %s", w.Code, body(w))
	}
	s.post("/jobs/2/intake", "key=z", "machine=Lift", "complaint=stuck")
	if j := s.view(2).Job; j.Intake.Example == "" || j.Intake.Machine != "Lift" {
		t.Errorf("%+v", j.Intake)
	}
	if w := s.post("/jobs/example", "key=ey", "name=no such"); w.Code != http.StatusNotFound {
		t.Errorf("%d", w.Code)
	}
}

func TestAFormGoesBackToItsPage(t *testing.T) {
	s := newShop(t)
	id := s.take()
	own := s.path(id, "")
	for referer, want := range map[string]string{
		"http://bench" + own + "/clean?edit=3": own + "/clean", "": own, "http://bench" + own: own, "http://bench" + own + "9/clean": own, "http://bench/jobs": own,
		"http://bench" + own + "/%2e%2e/%2fevil": own, "javascript:alert(1)": own, "http://bench//evil" + own: own,
	} {
		r := newForm(t, own+"/note", "key=n"+referer, "text=x")
		r.Header.Set("Referer", referer)
		w := s.do(r)
		if got := w.Header().Get("Location"); w.Code != http.StatusSeeOther || got != want {
			t.Errorf("from %q to %q (%d), want %q", referer, got, w.Code, want)
		}
	}
}
