package substitute_test

import (
	"context"
	"html"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"halfsplit/internal/adapter/cli"
	"halfsplit/internal/adapter/store"
	"halfsplit/internal/adapter/web/parts"
	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/adapter/web/substitute"
	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

var forbidden = regexp.MustCompile(`(?i)<[^>]*\s(style|on[a-z]+)\s*=|<script>|<style`)
var quoted = regexp.MustCompile(`"[^"]*"`) // an escaped text cannot end its quotes

// open is the page over a real store: job 1 has the invented keyboard, job 2 no board.
func open(t *testing.T) (ask func(path string, byScript bool) (int, string)) {
	t.Helper()
	ctx := context.Background()
	st, err := store.Open(ctx, filepath.Join(t.TempDir(), "halfsplit.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { st.Close() })
	wall := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	d := app.NewDesk(st, yamlfile.Texts{}, app.Clock{Now: func() time.Time { return wall }, Mono: func() time.Duration { return time.Hour }})
	list, err := cli.ExampleJobs()
	if err != nil {
		t.Fatal(err)
	}
	d.OfferExamples(list)
	if _, err := d.Example(ctx, "keyboard-scanner/row-of-four", "one"); err != nil {
		t.Fatal(err)
	}
	if _, err := d.Take(ctx, job.Intake{Machine: "Boardless", Complaint: "dead"}, "two"); err != nil {
		t.Fatal(err)
	}
	sh, err := shell.New(d, slog.New(slog.NewTextHandler(io.Discard, nil)), false)
	if err != nil {
		t.Fatal(err)
	}
	mux := http.NewServeMux()
	substitute.Register(mux, sh)
	parts.Register(mux, sh)
	return func(path string, byScript bool) (int, string) {
		t.Helper()
		r := httptest.NewRequest("GET", path, nil)
		if byScript {
			r.Header.Set("HX-Request", "true")
		}
		w := httptest.NewRecorder()
		mux.ServeHTTP(w, r)
		if m := forbidden.FindString(quoted.ReplaceAllString(w.Body.String(), `""`)); m != "" {
			t.Errorf("%s: %.200s", path, m)
		}
		return w.Code, html.UnescapeString(w.Body.String())
	}
}

// Every chip of the board, and one part of each other kind, can be asked about; the page says the verdict with the arithmetic behind it.
func TestEveryChip(t *testing.T) {
	ask := open(t)
	_, page := ask("/jobs/1/substitute", false)
	refs := regexp.MustCompile(`<option value="([^"]+)">[^:]+: ([^<]+)`).FindAllStringSubmatch(page, -1)
	n, answers, kinds := 0, 0, map[string]bool{}
	for _, m := range refs {
		if kinds[m[2]] && m[1][0] != 'U' {
			continue
		}
		kinds[m[2]] = true
		code, page := ask("/jobs/1/substitute?part="+url.QueryEscape(m[1]), false)
		if code != 200 || !strings.Contains(page, "<h2>"+m[1]+": ") {
			t.Errorf("%s: %d", m[1], code)
		}
		answers += strings.Count(page, "Show the arithmetic of ")
		n++
	}
	if len(refs) < 50 || n < 17 || answers < 90 {
		t.Errorf("of %d parts %d were asked about, with %d stand-ins", len(refs), n, answers)
	}
	// /MWR: U6 (LS) gives 2.70 V, SN74LS parts; U7 (HC at 4.5 V) hears high from 3.15 V.
	code, page := ask("/jobs/1/substitute?part=U7&with=74HC00", false)
	if code != 200 {
		t.Error(code)
	}
	for _, x := range []string{"not here", "pin 4: 2A (input) instead of 2Y (output)", "gives a high of at least 2.70 V", "✕ fails", "✓ holds", "Figures from"} {
		if !strings.Contains(page, x) {
			t.Errorf("74HC00 for U7 lacks %q", x)
		}
	}
}

// Mistakes keep what was typed, say which field is meant, and are escaped.
func TestMistakes(t *testing.T) {
	ask := open(t)
	n := 0
	for _, c := range []struct{ query, text string }{
		{"part=U99", "No part U99 on this board"}, {"with=74LS00", "Which part of the board?"}, {"part=U7&with=nosuch", "nosuch"},
	} {
		for _, script := range []bool{false, true} {
			code, page := ask("/jobs/1/substitute?"+c.query, script)
			if code != map[bool]int{false: 422, true: 200}[script] || !strings.Contains(page, c.text) || !strings.Contains(page, `id="wrong"`) {
				t.Errorf("%s by script %v: %d", c.query, script, code)
			}
			n++
		}
	}
	if n != 6 {
		t.Error(n)
	}
	code, page := ask("/jobs/2/substitute?part=U7", false)
	if code != 422 || !strings.Contains(page, "bring it in first") {
		t.Error(code)
	}
	for _, path := range []string{"/jobs/99/substitute", "/jobs/x/substitute"} {
		if code, _ := ask(path, false); code != 404 {
			t.Errorf("%s: %d", path, code)
		}
	}
	hostile := url.QueryEscape(`"><img src=x onerror=alert(1)>`)
	for _, q := range []string{"part=" + hostile, "part=U7&with=" + hostile} {
		if code, page := ask("/jobs/1/substitute?"+q, false); code != 422 || !strings.Contains(page, "onerror") {
			t.Error(q, code)
		}
	}
}

// From what may stand in for a part to the page of its type and back: the part and the job are kept, through the families too.
func TestThereAndBack(t *testing.T) {
	ask := open(t)
	_, page := ask("/jobs/1/substitute?part=U7", false)
	there := regexp.MustCompile(`href="(/parts/[^"]+)"`).FindStringSubmatch(page)
	if there == nil {
		t.Fatal("no link to the page of the type")
	}
	code, page := ask(there[1], false)
	back := "/jobs/1/substitute?part=U7"
	if code != 200 || !strings.Contains(page, `href="`+back+`"`) || !strings.Contains(page, "What may replace U7 on the board of this job") {
		t.Errorf("%s: %d, no way back", there[1], code)
	}
	_, gates := ask("/parts/74LS00?job=1&part=U7", false)
	family := regexp.MustCompile(`href="(/parts/[^"]*job=1[^"]*)"`).FindStringSubmatch(gates)
	if family == nil || !strings.Contains(family[1], "part=U7") {
		t.Errorf("the families forget the job: %v", family)
	}
	judged := regexp.MustCompile(`href="(/jobs/1/substitute\?part=U7&with=[^"]+)"`).FindStringSubmatch(page)
	if judged == nil {
		t.Fatal("no stand-in leads to its judgement")
	}
	if code, page := ask(judged[1], false); code != 200 || !strings.Contains(page, "The arithmetic") {
		t.Errorf("%s: %d", judged[1], code)
	}
	for _, q := range []string{"", "?job=0&part=U7", "?job=x&part=U7", "?job=1&part="} {
		if code, page := ask("/parts/74LS00"+q, false); code != 200 || strings.Contains(page, "/substitute") {
			t.Errorf("%q: %d, or a link to nowhere", q, code)
		}
	}
}
