package e2e

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"testing"

	"halfsplit/internal/adapter/store"
	"halfsplit/internal/adapter/web"
	"halfsplit/internal/adapter/web/guard"
	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/app"
	"halfsplit/internal/bench"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/job"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/predict"
)

// How long an answer takes until the page that shows it has been written, on a board of 200 packages.

const (
	benchSeed     = 11
	benchPackages = 200
	benchBefore   = 8  // readings that are in the log already
	benchAfter    = 12 // readings that are posted
)

// largeJob is a job on a drawn board with a hidden fault; the readings are those of the fault.
type largeJob struct {
	desk    *app.Desk
	handler http.Handler
	id      int64
	forms   []url.Values
}

func newLargeJob(b *testing.B) *largeJob {
	b.Helper()
	ctx := context.Background()
	st, err := store.Open(ctx, filepath.Join(b.TempDir(), "halfsplit.db"))
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { st.Close() })
	brd := bench.Generate(benchSeed, benchPackages)
	text, err := yamlfile.Texts{}.WriteBoard(brd)
	if err != nil {
		b.Fatal(err)
	}
	desk := app.NewDesk(st, yamlfile.Texts{}, app.RealClock())
	v, fl, err := desk.SaveBoard(ctx, 0, app.BoardFiles{Text: string(text)})
	if err != nil || fl.Errors() {
		b.Fatal(err, fl)
	}
	id, err := desk.Take(ctx, job.Intake{Machine: "Drawn board", Complaint: "does not work"}, "take")
	if err != nil {
		b.Fatal(err)
	}
	facts := []job.Fact{&job.BoardUsed{Version: v.ID, Title: v.Title, Number: v.Number, Parts: v.Parts}}
	for _, c := range job.Cautions {
		facts = append(facts, &job.Tick{Caution: c.Name})
	}
	facts = append(facts, &job.StageMark{Stage: "rails", Mark: job.NotNeeded, Reason: "measured at the supply"})
	for i, f := range facts {
		if _, err := desk.Record(ctx, id, fmt.Sprint("fact", i), f); err != nil {
			b.Fatal(err)
		}
	}
	l := &largeJob{desk: desk, id: id}
	lib, _ := part.Embedded()
	c, _ := circuit.Build(brd, lib)
	m := predict.New(c, 0)
	f, err := bench.Fault(ctx, m, benchSeed)
	if err != nil {
		b.Fatal(err)
	}
	log, err := bench.Log(ctx, m, f, benchSeed, benchBefore+benchAfter)
	if err != nil {
		b.Fatal(err)
	}
	for i, e := range log {
		form := url.Values{"key": {fmt.Sprint("reading", i)}, "do": {strings.Join(e.Do, " ")}}
		if len(e.Read) > 0 {
			form.Set("kind", "read")
			form.Set("at", e.Read[0].At)
			form.Set("is", e.Read[0].Is)
		} else {
			form.Set("kind", "see")
			form.Set("at", e.See[0].At)
			form.Set("is", e.See[0].Is)
		}
		l.forms = append(l.forms, form)
	}
	l.serve(b, desk)
	for range benchBefore {
		l.answer(b)
	}
	return l
}

// serve puts the page before a desk.
func (l *largeJob) serve(b *testing.B, desk *app.Desk) {
	b.Helper()
	s, err := web.New(desk, guard.Config{Addr: "127.0.0.1:0"})
	if err != nil {
		b.Fatal(err)
	}
	l.handler = s.Handler()
}

// answer posts the next reading as the page's script does and takes the new page.
func (l *largeJob) answer(b *testing.B) {
	b.Helper()
	form := l.forms[0]
	l.forms = l.forms[1:]
	r := httptest.NewRequest(http.MethodPost, fmt.Sprintf("http://127.0.0.1/jobs/%d/entry", l.id), strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Origin", "http://127.0.0.1")
	r.Header.Set("HX-Request", "true")
	w := httptest.NewRecorder()
	l.handler.ServeHTTP(w, r)
	if body := w.Body.String(); w.Code != http.StatusOK || !strings.Contains(body, "By what can be told apart") {
		b.Fatalf("%v is answered with %d: %.600s", form, w.Code, body)
	}
}

// BenchmarkAnswer posts readings one after the other. Beside it, in the same run, the same page for the first time after a start, when
// nothing is computed yet.
func BenchmarkAnswer(b *testing.B) {
	b.Run("warm", func(b *testing.B) {
		l := newLargeJob(b)
		n := 0
		for b.Loop() {
			if len(l.forms) == 0 {
				b.StopTimer()
				l = newLargeJob(b)
				b.StartTimer()
			}
			l.answer(b)
			n++
		}
		b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(n), "ms/answer")
	})
	b.Run("cold", func(b *testing.B) {
		l := newLargeJob(b)
		n := 0
		for b.Loop() {
			b.StopTimer()
			l.serve(b, app.NewDesk(l.desk.Store(), yamlfile.Texts{}, app.RealClock()))
			b.StartTimer()
			w := httptest.NewRecorder()
			l.handler.ServeHTTP(w, httptest.NewRequest(http.MethodGet, fmt.Sprintf("http://127.0.0.1/jobs/%d/probe", l.id), nil))
			if w.Code != http.StatusOK {
				b.Fatalf("%d: %s", w.Code, w.Body)
			}
			n++
		}
		b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(n), "ms/answer")
	})
}
