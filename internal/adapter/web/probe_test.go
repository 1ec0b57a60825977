package web_test

import (
	"context"
	"fmt"
	"html"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"halfsplit/internal/adapter/web"
	"halfsplit/internal/adapter/web/guard"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

// The probe page by its forms, as a browser sends them.

type page struct {
	t *testing.T
	h http.Handler
}

func newPage(t *testing.T, b *bench) page {
	t.Helper()
	srv, err := web.New(b.Desk, guard.Config{Addr: "127.0.0.1:0", Dir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	return page{t, srv.Handler()}
}

// post sends a form as the page's script does.
func (p page) post(path string, fields ...string) *httptest.ResponseRecorder {
	p.t.Helper()
	return p.send(path, true, fields)
}

// plain sends a form as a browser without script does: the answer leads to the page.
func (p page) plain(path string, fields ...string) *httptest.ResponseRecorder {
	p.t.Helper()
	return p.send(path, false, fields)
}

func (p page) send(path string, script bool, fields []string) *httptest.ResponseRecorder {
	p.t.Helper()
	f := url.Values{}
	for i := 0; i < len(fields); i += 2 {
		f.Add(fields[i], fields[i+1])
	}
	r := httptest.NewRequest("POST", "http://127.0.0.1"+path, strings.NewReader(f.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Origin", "http://127.0.0.1")
	if script {
		r.Header.Set("HX-Request", "true")
	}
	w := httptest.NewRecorder()
	p.h.ServeHTTP(w, r)
	return w
}

func (p page) body(path string) string {
	p.t.Helper()
	w := get(p.t, p.h, path)
	if w.Code != http.StatusOK {
		p.t.Fatalf("%s is answered with %d: %s", path, w.Code, w.Body)
	}
	return w.Body.String()
}

var entriesField = regexp.MustCompile(`name="entries" value="([^"]*)"`)

func TestProbeForms(t *testing.T) {
	b := newBench(t)
	id := b.example("lift-panel/never-goes-up", true)
	p := newPage(t, b)
	at := fmt.Sprintf("/jobs/%d/", id)
	standing := func() int { return len(b.probe(id).Job.Standing()) }

	// A rail first; its figure is checked, kept with what was typed wrong told at the form.
	text := p.body(at + "probe")
	m := entriesField.FindStringSubmatch(text)
	if m == nil || !strings.Contains(text, "Power before logic") {
		t.Fatal("the first card is not that of a rail")
	}
	rail := html.UnescapeString(m[1])
	for i, typed := range []string{"", "abc", "1e9", "NaN", "5 apples", "--5", strings.Repeat("9", 400)} {
		if w := p.post(at+"answer", "key", fmt.Sprint("bad", i), "entries", rail, "value", typed); w.Code != http.StatusUnprocessableEntity || len(w.Body.String()) < 10 {
			t.Errorf("volts %q are answered with %d %q", typed, w.Code, w.Body)
		}
	}
	for i, entries := range []string{"", "[]", "null", "[{}]", `[{"read":{"NOPE":null}}]`, "[[[", `[{"replaced":[1]}]`, `[{"see":{"LP2":{"x":1}}}]`} {
		if w := p.post(at+"answer", "key", fmt.Sprint("odd", i), "entries", entries, "is", "low"); w.Code != http.StatusUnprocessableEntity {
			t.Errorf("entries %q are answered with %d %q", entries, w.Code, w.Body)
		}
	}
	if n := standing(); n != 0 {
		t.Fatalf("%d entries stand after nothing but wrong ones", n)
	}
	w := p.post(at+"answer", "key", "r", "entries", rail, "value", "4,98")
	if w.Code != http.StatusOK || standing() != 1 || strings.Contains(w.Body.String(), "Power before logic") {
		t.Fatalf("the rail is answered with %d, %d entries stand", w.Code, standing())
	}

	// What the owner complains of, a look, one unsure reading, one out of reach, undo, put back, correct.
	steps := []struct {
		path   string
		fields []string
		want   int // entries that stand afterwards
	}{
		{"symptoms", nil, standing() + len(exampleOf(b, id).Symptoms)},
		{"look", []string{"do", "call-1", "lamp", "LP1", "is0", "lit", "lamp", "LP2", "is1", ""}, 0},
		{"answer", []string{"entries", `[{"do":"call-2","read":{"UPGO":null}}]`, "is", "low", "unsure", "1"}, 0},
		{"answer", []string{"entries", `[{"do":"call-2","read":{"U4.5":null}}]`, "skip", "U4.5"}, -1},
		{"entry", []string{"kind", "ohms", "at", "UPGO", "to", "GND", "value", "22"}, 0},
		{"entry", []string{"kind", "volts", "at", "UPGO", "do", "call-2", "value", "60m"}, 0},
		{"entry", []string{"kind", "lifted", "at", "U12.12"}, 0},
		{"entry", []string{"kind", "refitted", "at", "U12.12"}, 0},
		{"have", []string{"have", "meter", "have", "scope"}, -1},
	}
	n := standing()
	for i, s := range steps {
		switch {
		case s.want == -1:
		case s.want > 0:
			n = s.want
		default:
			n++
		}
		w := p.post(at+s.path, append([]string{"key", fmt.Sprint("step", i)}, s.fields...)...)
		if w.Code != http.StatusOK || standing() != n {
			t.Fatalf("%s %v: %d, %d entries stand, want %d: %.200s", s.path, s.fields, w.Code, standing(), n, w.Body)
		}
	}
	v := b.probe(id)
	if l := v.Job.Log[len(v.Job.Log)-1]; len(l.Entry.Refitted) != 1 {
		t.Errorf("the last line is %+v", l.Entry)
	}
	sure := 0
	for _, l := range v.Job.Standing() {
		if l.Entry.Sure == 0.7 {
			sure++
		}
	}
	if sure != 1 || len(v.Skipped) != 1 {
		t.Errorf("%d unsure readings, out of reach %v", sure, v.Skipped)
	}
	for _, c := range v.Diagnosis.Next {
		if c.At == "U4.5" || c.Kind == "lift" || c.Kind == "replace" {
			t.Errorf("%s at %s is proposed, out of reach or without an iron", c.Kind, c.At)
		}
	}
	last := fmt.Sprint(v.Job.Log[len(v.Job.Log)-1].Seq)
	p.post(at+"retract", "key", "u1", "entry", last)
	if standing() != n-1 {
		t.Error("taking back changed nothing")
	}
	if w := p.post(at+"retract", "key", "u2", "entry", last); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("taking back twice is answered with %d", w.Code)
	}
	p.post(at+"correct", "key", "u3", "entry", last, "kind", "lifted", "at", "U12.13")
	if l := b.probe(id).Job.Log; l[len(l)-1].Entry.Lifted[0] != "U12.13" || standing() != n {
		t.Error("the correction did not arrive")
	}

	// The pieces of the page.
	for path, want := range map[string]string{
		"why/1":                             "What it predicts",
		"place?at=U12.12":                   "A good board shows",
		"place?at=DS1":                      "It shows",
		"place?at=VCC":                      "Enter the voltage",
		"line/" + last:                      "Before that it said",
		"picture/package?at=U12.12":         "probe here",
		"picture/package?at=U12&solder=1":   "SOLDER side, mirrored",
		"picture/circuit?at=UPGO":           "<svg",
		"picture/moments?at=UPGO&do=call-2": "good board",
		"picture/board":                     "<svg",
		"picture/moments?at=DS1":            "Choose a pin or a net",
	} {
		if s := p.body(at + path); !strings.Contains(s, want) {
			t.Errorf("%s does not say %q", path, want)
		}
	}
	for path, code := range map[string]int{"why/0": 404, "why/999": 404, "why/x": 404, "place?at=U99.1": 422, "line/99999": 404, "picture/circuit?do=fly": 422} {
		if w := get(t, p.h, at+path); w.Code != code {
			t.Errorf("%s is answered with %d, want %d", path, w.Code, code)
		}
	}
}

// Where no part has a place, the photo with marked parts stands for the board from above.
func TestPhotoStandsForBoard(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	v, fl, err := b.SaveBoard(ctx, 0, app.BoardFiles{Text: "board: Two lamps\nrails: {VCC: 5 V, GND: 0 V}\ninputs: [A]\nparts:\n  U1: {type: 74LS04, pins: {1A: A, 1Y: B}}\n  R1: {type: resistor, value: 330, pins: [B, C]}\n  LP1: {type: led, pins: [C, GND]}\nactions:\n  low:\n    steps: [{A: 0}]\n"})
	if err != nil || fl.Errors() {
		t.Fatal(err, fl)
	}
	id, err := b.Take(ctx, job.Intake{Machine: "Panel", Complaint: "dark"}, "take")
	if err != nil {
		t.Fatal(err)
	}
	b.record(id, &job.BoardUsed{Version: v.ID, Title: v.Title, Number: 1, Parts: v.Parts})
	p := newPage(t, b)
	at := fmt.Sprintf("/jobs/%d/picture/board", id)
	if strings.Contains(p.body(at), "/photos/") {
		t.Error("there is a photo before one was taken")
	}
	b.record(id, &job.Photo{ID: 7, W: 1000, H: 500, Caption: "inside", Spots: []job.Spot{{X: 0.25, Y: 0.5, Part: "U1"}, {X: 0.5, Y: 0.5, Text: "scratch"}}})
	text := p.body(at)
	if !strings.Contains(text, "/photos/7") || !strings.Contains(text, `data-place="U1"`) || !strings.Contains(text, `cx="250.0"`) {
		t.Errorf("the photo does not stand for the board: %s", text)
	}
}

// Words of a person stay words; no page carries anything that the content policy would stop.
func TestNothingInline(t *testing.T) {
	b := newBench(t)
	id := b.example("lift-panel/never-goes-up", true)
	b.symptom(id)
	in := b.probe(id).Job.Intake
	in.Complaint, in.Machine = `<script>alert("x")</script>`, `"><img src=x onerror=alert(1)>`
	b.record(id, &in)
	b.record(id, &job.Note{Text: `</textarea><script>1</script>`, Report: true})
	p := newPage(t, b)
	inline := regexp.MustCompile(`<[a-zA-Z][^>]*\s(style|on[a-z]+)=`)
	quoted := regexp.MustCompile(`"[^"]*"`)
	pages := 0
	for _, path := range []string{"/jobs", "/jobs/new", "/shop"} {
		pages++
		if s := quoted.ReplaceAllString(p.body(path), `""`); inline.MatchString(s) {
			t.Errorf("%s has %s", path, inline.FindString(s))
		}
	}
	for _, s := range []string{"", "probe", "why/1", "report", "handover"} {
		pages++
		path := strings.TrimSuffix(fmt.Sprintf("/jobs/%d/%s", id, s), "/")
		text := p.body(path)
		if strings.Contains(text, "<script>") || strings.Contains(text, "<img src=x") {
			t.Errorf("%s lets markup through", path)
		}
		if q := quoted.ReplaceAllString(text, `""`); inline.MatchString(q) {
			t.Errorf("%s has %s", path, inline.FindString(q))
		}
	}
	for i := range job.Stages {
		pages++
		p.body(fmt.Sprintf("/jobs/%d/%s", id, job.Stages[i].Name))
	}
	if pages < 20 {
		t.Errorf("only %d pages looked at", pages)
	}
}

func exampleOf(b *bench, id int64) (e struct{ Symptoms []job.Entry }) {
	name := b.probe(id).Job.Intake.Example
	for _, x := range b.Examples() {
		if x.Name == name {
			e.Symptoms = x.Symptoms
		}
	}
	return e
}

// The live stream tells a second window of what the first has written.
func TestLive(t *testing.T) {
	b := newBench(t)
	id := b.example("lift-panel/never-goes-up", true)
	srv, err := web.New(b.Desk, guard.Config{Addr: "127.0.0.1:0", Dir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	if err := srv.Listen(); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- srv.Serve(ctx) }()
	req, err := http.NewRequestWithContext(ctx, "GET", fmt.Sprintf("%s/jobs/%d/live", strings.TrimSuffix(srv.URL(), "/"), id), nil)
	if err != nil {
		t.Fatal(err)
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	buf := make([]byte, 256)
	read := func() string {
		n, err := resp.Body.Read(buf)
		if err != nil {
			t.Fatal(err)
		}
		return string(buf[:n])
	}
	if s := read(); !strings.HasPrefix(s, "data: ") {
		t.Errorf("the stream begins with %q", s)
	}
	seq := b.record(id, &job.Note{Text: "seen from the other window"})
	if s := read(); s != fmt.Sprintf("data: %d\n\n", seq) {
		t.Errorf("the stream says %q, the note is entry %d", s, seq)
	}
	stop()
	if err := <-ended; err != nil {
		t.Errorf("the server ends with %v", err)
	}
}
