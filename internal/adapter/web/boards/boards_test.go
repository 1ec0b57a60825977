package boards_test

import (
	"archive/zip"
	"bytes"
	"context"
	"fmt"
	"html"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"halfsplit/internal/adapter/store"
	"halfsplit/internal/adapter/web"
	"halfsplit/internal/adapter/web/guard"
	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

// The pages through the whole server, with a real store.

type shop struct {
	t    *testing.T
	desk *app.Desk
	h    http.Handler
}

func open(t *testing.T) *shop {
	t.Helper()
	st, err := store.Open(context.Background(), filepath.Join(t.TempDir(), "halfsplit.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { st.Close() })
	d := app.NewDesk(st, yamlfile.Texts{}, app.RealClock())
	s, err := web.New(d, guard.Config{Addr: "127.0.0.1:0"})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Listen(); err != nil {
		t.Fatal(err)
	}
	return &shop{t, d, s.Handler()}
}

func (s *shop) send(r *http.Request, want int) *httptest.ResponseRecorder {
	s.t.Helper()
	w := httptest.NewRecorder()
	s.h.ServeHTTP(w, r)
	if w.Code != want {
		s.t.Fatalf("%s %s: status %d, want %d\n%.600s", r.Method, r.URL, w.Code, want, w.Body)
	}
	return w
}

func (s *shop) get(path string, want int) string {
	s.t.Helper()
	r := httptest.NewRequest("GET", path, nil)
	r.Host = "127.0.0.1"
	return s.send(r, want).Body.String()
}

// post sends a form as the page's script does, and returns the body, or the address that it leads to.
func (s *shop) post(path string, want int, fields ...string) string {
	s.t.Helper()
	v := url.Values{}
	for i := 0; i < len(fields); i += 2 {
		v.Add(fields[i], fields[i+1])
	}
	r := httptest.NewRequest("POST", path, strings.NewReader(v.Encode()))
	r.Host = "127.0.0.1"
	r.Header.Set("Origin", "http://127.0.0.1")
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("HX-Request", "true")
	w := s.send(r, want)
	if w.Code == http.StatusSeeOther {
		return w.Header().Get("Location")
	}
	return w.Body.String()
}

func (s *shop) upload(path string, want int, files map[string]string) string {
	s.t.Helper()
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for name, text := range files {
		f, err := m.CreateFormFile("file", name)
		if err != nil {
			s.t.Fatal(err)
		}
		io.WriteString(f, text)
	}
	m.Close()
	r := httptest.NewRequest("POST", path, &b)
	r.Host = "127.0.0.1"
	r.Header.Set("Origin", "http://127.0.0.1")
	r.Header.Set("Content-Type", m.FormDataContentType())
	return s.send(r, want).Body.String()
}

func has(t *testing.T, body string, words ...string) {
	t.Helper()
	for _, w := range words {
		if !strings.Contains(body, w) && !strings.Contains(html.UnescapeString(body), w) {
			t.Errorf("%q is missing in\n%.3000s", w, body)
		}
	}
}

const small = "board: Small\nrails: {VCC: 5 V, GND: 0 V}\ninputs: [A]\nparts:\n  U1: {type: 74LS04, pins: {1: A, 2: Y}} # first\n  R1: {type: resistor, value: 330, pins: [Y, GND]}\n"

var textOf = regexp.MustCompile(`(?s)<textarea id="text".*?>\n(.*?)</textarea>`)

// text is what stands in the editor.
func (s *shop) text(path string) string {
	s.t.Helper()
	m := textOf.FindStringSubmatch(s.get(path, 200))
	if m == nil {
		s.t.Fatal("no text in the editor")
	}
	return html.UnescapeString(m[1])
}

func TestFromTheFirstLetterToTheSecondVersion(t *testing.T) {
	s := open(t)
	has(t, s.get("/boards", 200), "No boards yet")
	has(t, s.get("/boards/new", 200), "A new board", "This board can be worked with")

	// Half typed: findings at their lines, and the draft survives the page.
	half := "board: Small\nparts:\n  U1: {type: 74LS05x, pins: {99: A}}\n  U1: {type: 74LS04, pins: {1: \"A"
	has(t, s.post("/boards/new/check", 200, "text", half), "Line 4", "mistake")
	if got := s.text("/boards/new"); got != half {
		t.Errorf("the draft came back as %q", got)
	}
	has(t, s.get("/boards", 200), "Go on with the new board")
	has(t, s.post("/boards/new/part", 422, "ref", "U2", "type", "74LS00"), "mend it first")

	to := s.post("/boards/new/save", 303, "text", strings.ReplaceAll(small, "\n", "\r\n"))
	if to != "/boards/1?done=saved" {
		t.Fatalf("saving leads to %s", to)
	}
	if got := s.text(to); got != small {
		t.Errorf("saved as %q", got)
	}
	if text, _, _ := s.desk.Store().Draft(context.Background(), "board-0"); text != "" {
		t.Errorf("a draft is left: %q", text)
	}
	if to := s.post("/boards/1/save", 303, "text", small); !strings.Contains(to, "done=same") {
		t.Errorf("an unchanged text leads to %s", to)
	}

	// A row through its form.
	form := s.get("/boards/1/part?ref=U1", 200)
	has(t, form, "74LS04", "hex", "<svg", "seen from the SOLDER side", `value="A"`)
	to = s.post("/boards/1/part", 303, "was", "U1", "ref", "U1", "type", "74LS04", "value", "", "pin", "1", "net", "A", "pin", "2", "net", "Y2", "pin", "3", "net", "")
	got := s.text(to)
	has(t, got, "2: Y2", "# first", "R1: {type: resistor, value: 330, pins: [Y, GND]}\n", "rails: {VCC: 5 V, GND: 0 V}\n")
	if v, _ := s.desk.Store().BoardVersions(context.Background(), 1); len(v) != 1 {
		t.Errorf("%d versions before saving", len(v))
	}
	s.post("/boards/1/part", 422, "was", "U1", "ref", "R1", "type", "74LS04")
	s.post("/boards/1/part", 422, "was", "R1", "ref", "R1", "type", "resistor", "value", "much")
	has(t, s.post("/boards/1/part/preview", 200, "was", "", "ref", "R1", "type", "74LS139", "pin", "1", "net", "A"), "There is a part R1 already", "<svg")

	// A bank of switches: how its sections stand is typed beside its pins, and comes back.
	has(t, s.post("/boards/1/part/preview", 200, "was", "", "ref", "SW1", "type", "dip-switch-4", "pin", "1", "net", "A"), "open or closed; by section: 1: closed, 2: closed", `name="rests"`)
	to = s.post("/boards/1/part", 303, "was", "", "ref", "SW1", "type", "dip-switch-4", "rests", "2: closed, 4: closed", "pin", "1", "net", "A", "pin", "8", "net", "GND")
	has(t, s.text(to), "rests: {2: closed, 4: closed}")
	has(t, s.get("/boards/1/part?ref=SW1", 200), `value="2: closed, 4: closed"`)
	s.post("/boards/1/part", 422, "was", "SW1", "ref", "SW1", "type", "dip-switch-4", "rests", "2 4", "pin", "1", "net", "A")
	to = s.post("/boards/1/part", 303, "was", "SW1", "ref", "SW1", "type", "dip-switch-4", "pin", "1", "net", "A")
	has(t, s.text(to), "rests: {2: closed, 4: closed}") // a form without the field leaves it
	s.post("/boards/1/part/away", 303, "was", "SW1")

	// Rows that were pasted; one is wrong and stays in the box.
	body := s.post("/boards/1/paste", 200, "rows", "C1\tcapacitor\t100n\nC 2\tcapacitor\t1u\nU1\t74LS04\t")
	has(t, body, "Row 2", "2 of the rows are in the text", "C 2\tcapacitor\t1u", "C1:")
	s.post("/boards/1/nets", 303, "rails", "VCC: 5 V\nGND: 0 V\nV\"M: 12 V", "inputs", "A B")
	has(t, s.text("/boards/1"), `rails: {VCC: 5 V, GND: 0 V, "V\"M": 12 V}`, "inputs: [A, B]")
	s.post("/boards/1/nets", 422, "rails", "five", "inputs", "")
	s.post("/boards/1/part/away", 303, "was", "C1")
	to = s.post("/boards/1/save", 303)
	has(t, s.get(to, 200), "Version 2")
	has(t, s.get("/boards/1/versions", 200), "Version 1", "Version 2", "Y2", "The first.")

	// Back to the first.
	has(t, s.get("/boards/1/versions/1", 200), "Save it again", "# first")
	s.post("/boards/1/versions/1/again", 303)
	if got := s.text("/boards/1"); got != small {
		t.Errorf("the first version came back as %q", got)
	}
	s.get("/boards/7", 404)
	s.get("/boards/1/versions/99", 404)
	s.post("/boards/1/discard", 303)
}

func TestErrorsAreSavedAndSaidSo(t *testing.T) {
	s := open(t)
	to := s.post("/boards/new/save", 303, "text", "board: Half\nparts:\n  U1: {type: nothing, pins: {1: A}}\n")
	has(t, s.get(to, 200), "errors and all", "Line 3")
	s.post("/boards/new/save", 422, "text", " \n")
}

func TestAJobChoosesItsBoard(t *testing.T) {
	s := open(t)
	id, err := s.desk.Take(context.Background(), job.Intake{Machine: "Lamp box", Owner: "B-1", Complaint: "dark"}, "k1")
	if err != nil {
		t.Fatal(err)
	}
	model := fmt.Sprintf("/jobs/%d/model", id)
	has(t, s.get(model, 200), "No board yet")
	s.post("/boards/new/save", 303, "text", small)
	s.post(fmt.Sprintf("/jobs/%d/board", id), 303, "key", "k2", "version", "1")
	has(t, s.get(model, 200), "in use", "It can be worked with")
	s.post("/boards/1/save", 303, "text", strings.Replace(small, "330", "470", 1))
	has(t, s.get(model, 200), "There is a newer version 2")
	s.post(fmt.Sprintf("/jobs/%d/board", id), 303, "key", "k3", "version", "2")
	v, err := s.desk.View(context.Background(), id)
	if err != nil || v.Job.Board.Number != 2 {
		t.Errorf("the job has %+v, %v", v.Job.Board, err)
	}
	s.post(fmt.Sprintf("/jobs/%d/board", id), 404, "key", "k4", "version", "99")
	s.post(fmt.Sprintf("/jobs/%d/board", id), 422, "key", "k5", "version", "x")
	s.get("/jobs/99/model", 404)
}

func TestImportAndExport(t *testing.T) {
	s := open(t)
	records := "- part: odd\n  title: odd chip\n  package: DIP8\n  pins: A - - GND B - - VCC\n  opaque: {inputs: [A], outputs: [B]}\n  source: from memory\n"
	own := strings.Replace(small, "parts:\n", "parts:\n  U9: {type: odd, pins: {A: A, B: Z}}\n", 1)
	has(t, s.upload("/boards/import", 200, map[string]string{"x/board.yaml": own, `C:\tmp\parts.yaml`: records}), "3 parts", "board file")
	has(t, s.get("/boards/1", 200), "This board can be worked with", "parts.yaml")
	first := s.get("/boards/1/export", 200)
	z, err := zip.NewReader(strings.NewReader(first), int64(len(first)))
	if err != nil || len(z.File) != 2 || first != s.get("/boards/1/export", 200) {
		t.Fatalf("the archive: %v, or it is not always the same", err)
	}
	has(t, s.upload("/boards/import", 200, map[string]string{"board-1.zip": first}), "3 parts")

	has(t, s.upload("/boards/import", 200, map[string]string{"net.bench": "INPUT(a)\nINPUT(b)\nOUTPUT(y)\ny = NAND(a, b)\nz = FROB(a)\n"}), "ISCAS bench", "line 5")
	has(t, s.get("/boards/3", 200), "# imported from net.bench")
	if plain := s.get("/boards/3/export", 200); strings.HasPrefix(plain, "PK") && !strings.Contains(plain, "parts.yaml") {
		t.Error("an archive without need")
	}
	has(t, s.upload("/boards/import", 422, map[string]string{"photo.jpg": "\xff\xd8\xff\xe0 nothing"}), "No board was made of it")
	has(t, s.upload("/boards/import", 422, map[string]string{"x.zip": "PK\x03\x04 broken"}), "archive cannot be read")
	s.upload("/boards/import", 422, map[string]string{})
	s.upload("/boards/1/files", 303, map[string]string{"../../rom.hex": ":00000001FF\n"})
	has(t, s.get("/boards/1", 200), "rom.hex", "Version 2")
	s.post("/boards/1/files/away", 303, "file", "rom.hex")
	if strings.Contains(s.get("/boards/1", 200), "rom.hex") {
		t.Error("the file is still there")
	}
}

func TestAbsurdTexts(t *testing.T) {
	s := open(t)
	var big strings.Builder
	big.WriteString("board: Big\nrails: {VCC: 5 V, GND: 0 V}\nparts:\n")
	for i := range 3000 {
		fmt.Fprintf(&big, "  U%d: {type: 74LS00, pins: {1: N%d, 2: N%d, 3: N%d}}\n", i, i, i+1, i+7)
	}
	cases := []struct{ name, text, says string }{
		{"many parts", big.String(), "3000 parts"},
		{"a huge cell", "board: x\nparts:\n  U1: {type: 74LS00, pins: {1: " + strings.Repeat("x", 200_000) + "}}\n", "Line 3"},
		{"a NUL", "board: x\nparts:\n  U1: {type: 74LS00, pins: {1: A\x00B}}\n", "Line 3"},
		{"not UTF-8", "board: x\nparts:\n  U1: {type: 74LS00, pins: {1: \xff}}\n", "Line 3"},
		{"a script", "board: <script>alert(1)</script>\nparts:\n  <b>: {type: <i>, pins: {}}\n", "&lt;b&gt;"},
		{"nothing", "", "empty"},
	}
	for _, c := range cases {
		body := s.post("/boards/new/check", 200, "text", c.text)
		if !strings.Contains(body, c.says) {
			t.Errorf("%s: %q is missing in\n%.800s", c.name, c.says, body)
		}
		if len(body) > 400_000 {
			t.Errorf("%s: the answer has %d bytes", c.name, len(body))
		}
		if kept, _, err := s.desk.Store().Draft(context.Background(), "board-0"); err != nil || strings.TrimSpace(kept) != strings.TrimSpace(c.text) {
			t.Errorf("%s: the draft is not what was typed (%v)", c.name, err)
		}
		s.get("/boards/new", 200)
	}
	has(t, s.post("/boards/new/check", 422, "text", strings.Repeat("#", 3<<20+1)), "split the board")
	has(t, s.post("/boards/new/check", 413, "text", strings.Repeat("a", 13<<20)), "too much at once")
}

func TestPartPages(t *testing.T) {
	s := open(t)
	has(t, s.get("/parts", 200), "more; search for them")
	has(t, s.get("/parts?q=decoder", 200), "74x138")
	has(t, s.get("/parts?q=SN74LS138N", 200), "1 of ", "74x138")
	has(t, s.get("/parts?q=zzzz", 200), "none like that")
	has(t, s.get("/parts/74LS138", 200), "seen from the SOLDER side", "/G2A", "0.80 V", "What may stand in", "Source:")
	has(t, s.get("/parts/74x138", 200), "74LS138")
	has(t, s.get("/parts/resistor", 200), "How it fails")
	has(t, s.get("/parts/quonk", 422), "Unknown part")
	checked := 0
	for _, m := range regexp.MustCompile(`href="(/parts/[^"]+)"`).FindAllStringSubmatch(s.get("/parts?q=4", 200), -1) {
		if checked < 40 {
			has(t, s.get(html.UnescapeString(m[1]), 200), "<svg")
			checked++
		}
	}
	if checked != 40 {
		t.Errorf("%d part pages looked at, want 40", checked)
	}
}
