package reckon_test

import (
	"bytes"
	"context"
	"fmt"
	"html"
	"io"
	"log/slog"
	"mime/multipart"
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
	"halfsplit/internal/adapter/web/reckon"
	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/app"
)

// The pages over a real store, with one job of the invented keyboard.

type site struct {
	t   *testing.T
	mux *http.ServeMux
	job int64
}

func open(t *testing.T) *site {
	t.Helper()
	st, err := store.Open(context.Background(), filepath.Join(t.TempDir(), "halfsplit.db"))
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
	id, err := d.Example(context.Background(), "keyboard-scanner/row-of-four", "one")
	if err != nil {
		t.Fatal(err)
	}
	sh, err := shell.New(d, slog.New(slog.NewTextHandler(io.Discard, nil)), false)
	if err != nil {
		t.Fatal(err)
	}
	s := &site{t, http.NewServeMux(), id}
	reckon.Register(s.mux, sh)
	return s
}

func (s *site) ask(r *http.Request) (int, string) {
	s.t.Helper()
	w := httptest.NewRecorder()
	s.mux.ServeHTTP(w, r)
	clean(s.t, r.URL.String(), w.Body.String())
	return w.Code, w.Body.String()
}

func (s *site) get(path string) (int, string) {
	s.t.Helper()
	return s.ask(httptest.NewRequest("GET", path, nil))
}

func (s *site) post(path string, form url.Values) (int, string) {
	s.t.Helper()
	r := httptest.NewRequest("POST", path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return s.ask(r)
}

func (s *site) upload(good, bad []byte) (int, string) {
	s.t.Helper()
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for name, data := range map[string][]byte{"good": good, "bad": bad} {
		if data != nil {
			w, err := m.CreateFormFile(name, name+"<b>.bin")
			if err != nil {
				s.t.Fatal(err)
			}
			w.Write(data)
		}
	}
	m.Close()
	r := httptest.NewRequest("POST", "/reckon/roms", &b)
	r.Header.Set("Content-Type", m.FormDataContentType())
	return s.ask(r)
}

var forbidden = regexp.MustCompile(`(?i)<[^>]*\s(style|on[a-z]+)\s*=|<script>|<style`)

var quoted = regexp.MustCompile(`"[^"]*"`) // an escaped text cannot end its quotes

// clean refuses what the content policy would: inline styles, scripts and handlers.
func clean(t *testing.T, where, page string) {
	t.Helper()
	if m := forbidden.FindString(quoted.ReplaceAllString(page, `""`)); m != "" {
		t.Errorf("%s: %.200s", where, m)
	}
}

// has demands texts of a page, as a reader sees them.
func has(t *testing.T, where, page string, texts ...string) {
	t.Helper()
	p := html.UnescapeString(page)
	for _, x := range texts {
		if !strings.Contains(p, x) {
			t.Errorf("%s lacks %q", where, x)
		}
	}
}

func hasAnswer(page string) bool { return strings.Contains(page, `id="answer"`) }

var (
	exampleLink = regexp.MustCompile(`href="(/reckon/[a-z-]+\?[^"]+)">Show an example`)
	mistakeText = regexp.MustCompile(`class="form-error block"[^>]*>([^<]+)`)
	chosen      = regexp.MustCompile(`<option value="([^"]*)" selected>([^<]*)`)
)

// Every calculator has a page that opens without a mistake and without shouting, and whose example gives an answer with its arithmetic.
func TestEveryCalculator(t *testing.T) {
	s := open(t)
	_, list := s.get("/reckon")
	n, fields, choices := 0, 0, 0
	for _, c := range app.CalcList() {
		path := "/reckon/" + c.Name
		if strings.Count(list, `href="`+path+`"`) != 1 {
			t.Errorf("%s is not once in the list", c.Name)
		}
		code, page := s.get(path)
		if code != 200 || mistakeText.MatchString(page) {
			t.Errorf("%s opens with %d %q", path, code, mistakeText.FindString(page))
		}
		has(t, path, page, c.Title, c.Formula, c.Range, c.Source)
		for _, in := range c.Inputs {
			if strings.Count(page, `name="`+in.Name+`"`) != 1 || strings.Count(page, `for="f-`+in.Name+`"`) != 1 {
				t.Errorf("%s: field %s", path, in.Name)
			}
			fields++
		}
		for _, in := range c.Inputs { // what an untouched choice shows is what it stands for
			if len(in.Words) == 0 || in.Default == "" {
				continue
			}
			_, after, _ := strings.Cut(page, `id="f-`+in.Name+`"`)
			if m := chosen.FindStringSubmatch(after); len(m) != 3 || m[1] != "" || m[2] != in.Default {
				t.Errorf("%s: %s shows %q, not its usual %s", path, in.Name, m, in.Default)
			}
			choices++
		}
		m := exampleLink.FindStringSubmatch(page)
		if m == nil {
			t.Errorf("%s has no example", path)
			continue
		}
		code, page = s.get(html.UnescapeString(m[1]))
		if code != 200 || !hasAnswer(page) || mistakeText.MatchString(page) {
			t.Errorf("%s: %d %s", m[1], code, mistakeText.FindString(page))
		}
		if !strings.Contains(page, `class="how"`) && !strings.Contains("resistor capacitor wear", c.Name) {
			t.Errorf("%s shows no arithmetic", m[1])
		}
		n++
	}
	if n != 24 || fields != 145 || choices != 9 {
		t.Errorf("%d calculators, %d fields, %d choices", n, fields, choices)
	}
}

// A value from print comes out of the page: DM74LS12, TL/F/6351, four outputs and three inputs: 2321 Ω and 410 Ω.
func TestPublishedPullUp(t *testing.T) {
	code, page := open(t).get("/reckon/pull-up?driver=74&load=74&drivers=4&loads=3&tolerance=0")
	if code != 200 {
		t.Error(code)
	}
	has(t, "pull-up", page, "2.32 kΩ", "411 Ω", "halfsplit calc pull-up driver=74")
}

// Each field of each calculator tells its own mistake and keeps what was typed: 422 to the browser, the page to the script.
func TestMistakesAreToldAtTheirField(t *testing.T) {
	s, n := open(t), 0
	for _, c := range app.CalcList() {
		for _, in := range c.Inputs {
			if in.Text {
				continue // free text, told apart by its own reader
			}
			q := url.Values{}
			for _, other := range c.Inputs { // so that no other field is to blame
				switch {
				case other.Default != "" || other.Optional:
				case len(other.Words) > 0:
					q.Set(other.Name, other.Words[0])
				case other.Text:
					q.Set(other.Name, "10k")
				default:
					q.Set(other.Name, "1")
				}
			}
			bad := `1e999"><b>no`
			q.Set(in.Name, bad)
			path := "/reckon/" + c.Name + "?" + q.Encode()
			code, page := s.get(path)
			at := fmt.Sprintf(`id="e-%s">`, in.Name)
			_, told, found := strings.Cut(page, at)
			if code != 422 || hasAnswer(page) || !found {
				t.Errorf("%s %s: %d, told at the field %v", c.Name, in.Name, code, found)
				continue
			}
			if told, _, _ = strings.Cut(told, "<"); !strings.Contains(strings.ToLower(html.UnescapeString(told)), strings.ToLower(in.Title)) {
				t.Errorf("%s %s: %q does not name the field", c.Name, in.Name, told)
			}
			if !strings.Contains(page, `value="`+html.EscapeString(bad)) && !strings.Contains(page, `value="1e999&#34;&gt;&lt;b&gt;no"`) || strings.Contains(page, "<b>no") {
				t.Errorf("%s %s: what was typed is lost or not escaped", c.Name, in.Name)
			}
			r := httptest.NewRequest("GET", path, nil)
			r.Header.Set("HX-Request", "true")
			if code, page := s.ask(r); code != 200 || !strings.Contains(page, at) {
				t.Errorf("%s %s by script: %d", c.Name, in.Name, code)
			}
			n++
		}
	}
	if n != 142 {
		t.Errorf("%d fields tried", n)
	}
}

// A job's board fills what it knows; what is typed wins; a place that does not fit is told there.
func TestBoardFills(t *testing.T) {
	s := open(t)
	job := fmt.Sprintf("job=%d", s.job)
	code, page := s.get("/reckon/resistor?" + job + "&at=R4")
	if code != 200 || !hasAnswer(page) {
		t.Error(code, mistakeText.FindString(page))
	}
	has(t, "R4", page, "R4 is 4.7 kΩ", "yellow violet red", "String keyboard, scanner and memory card")
	_, page = s.get("/reckon/resistor?" + job + "&at=R4&mark=10k")
	has(t, "typed over R4", page, "brown black orange")
	for _, c := range []struct{ path, field, text string }{
		{"/reckon/resistor?" + job + "&at=R999", "at", "no part R999"},
		{"/reckon/filter?" + job + "&place=R999", "place", "no part R999"},
		{"/reckon/led?" + job + "&at=R1", "at", "R1 is not in series with an LED"},
		{"/reckon/led?at=R1", "job", "Choose the job"},
	} {
		code, page := s.get(c.path)
		if code != 422 || !strings.Contains(page, `id="e-`+c.field+`">`) {
			t.Errorf("%s: %d", c.path, code)
		}
		has(t, c.path, strings.ToLower(page), strings.ToLower(c.text))
	}
	for _, path := range []string{"/reckon/led?job=99&at=R1", "/reckon/led?job=x", "/reckon/nothing", "/reckon?job=99"} {
		if code, _ := s.get(path); code != 404 {
			t.Errorf("%s: %d", path, code)
		}
	}
}
