package e2e

import (
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// What goes wrong at a bench: the power fails, the connection is lost under an entry, two windows are open, files are not what they say.

// post sends a form as the page does, and tells whether it was taken. form needs a key.
func post(base, path string, form url.Values) bool {
	c := &http.Client{Timeout: 10 * time.Second, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	r, err := http.NewRequest(http.MethodPost, base+path, strings.NewReader(form.Encode()))
	if err != nil {
		return false
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Origin", base)
	res, err := c.Do(r)
	if err != nil {
		return false
	}
	res.Body.Close()
	return res.StatusCode == http.StatusSeeOther || res.StatusCode == http.StatusOK
}

// Every entry that was answered with success is there after a kill, whenever it comes. The kill follows what was answered, not the clock,
// so that a slow machine shows as much.
func TestKilledUnderLoad(t *testing.T) {
	const kills, writers, perKill = 20, 3, 12
	data := t.TempDir()
	var taken []string // notes that were answered with success
	for k := range kills {
		s := Serve(t, bin, data, "127.0.0.1:0")
		if k == 0 && !post(s.URL, "/jobs/example", url.Values{"key": {"take"}, "name": {exampleCase}}) {
			t.Fatal("no job could be taken in")
		}
		var mu sync.Mutex
		var all sync.WaitGroup
		enough := make(chan struct{})
		now := 0
		for w := range writers {
			all.Go(func() {
				for i := 0; ; i++ {
					note := fmt.Sprintf("note %d-%d-%d.", k, w, i)
					if !post(s.URL, "/jobs/1/note", url.Values{"key": {note}, "text": {note}, "stage": {""}}) {
						return // it was killed
					}
					mu.Lock()
					taken = append(taken, note)
					if now++; now == perKill+k%5 {
						close(enough)
					}
					mu.Unlock()
				}
			})
		}
		select {
		case <-enough:
		case <-time.After(patience):
			s.Kill()
			t.Fatalf("after %d kills the program takes no notes any more", k)
		}
		s.Kill()
		all.Wait()
	}
	s := Serve(t, bin, data, "127.0.0.1:0")
	defer s.Stop()
	res, err := http.Get(s.URL + "/jobs/1")
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	page := string(body)
	lost := 0
	for _, note := range taken {
		if strings.Count(page, note) != 1 {
			lost++
			t.Errorf("%s stands %d times in the job", note, strings.Count(page, note))
		}
	}
	if len(taken) < kills*perKill {
		t.Errorf("only %d notes were taken", len(taken))
	}
	t.Logf("%d kills, %d entries answered with success, %d lost", kills, len(taken), lost)
}

// An answer that finds no program waits in the page and arrives by itself, once; what stands in the other window follows.
func TestConnectionLost(t *testing.T) {
	data := t.TempDir()
	s := Serve(t, bin, data, "127.0.0.1:0")
	addr := s.Addr()
	if !post(s.URL, "/jobs/example", url.Values{"key": {"take"}, "name": {exampleCase}}) {
		t.Fatal("no job")
	}
	a := &audit{}
	one, endOne := chromium.Tab(t, s.URL, Phone)
	defer endOne()
	two, endTwo := chromium.Tab(t, s.URL, Desktop)
	defer endTwo()
	one.Go("/jobs/1/safety")
	for Eval[bool](one, `[...document.querySelectorAll("button")].some(b => b.innerText.includes("Read, and done"))`) {
		one.Send(func() { one.Press("button", "Read, and done") })
	}
	one.Go("/jobs/1/probe")
	two.Go("/jobs/1/probe")

	// Two windows stay in step.
	began := time.Now()
	one.Send(func() { one.Press("button", "Let the invented machine show") })
	lines := Eval[int](one, `document.querySelectorAll(".log li").length`)
	two.Await(fmt.Sprintf(`document.querySelectorAll(".log li").length >= %d`, lines))
	if late := time.Since(began); late > 3*time.Second {
		t.Errorf("the other window shows the entry after %v", late)
	}
	two.Settle()
	a.quiet(t, one)
	a.quiet(t, two)

	// The program dies under the hand.
	before := one.Seq()
	s.Kill()
	one.Fill(".card [name=value]", "5.01")
	one.Press(".card button.main", "Enter")
	one.Await(`document.querySelector("#offline").checkVisibility() && document.querySelector("#offline").innerText.includes("1 entry waits")`)
	one.Shot(shots, "phone-lost-connection", false)
	one.Press(".card button.main", "Enter") // pressed again, out of impatience: it is the same entry
	one.Await(`document.querySelector("#offline").innerText.includes("1 entry waits")`)
	s = Serve(t, bin, data, addr)
	defer s.Stop()
	one.Await(`!document.querySelector("#offline").checkVisibility()`)
	one.Await(fmt.Sprintf(`Number(document.querySelector("[data-seq]").dataset.seq) > %d`, before))
	one.Settle()
	one.Go("/jobs/1/probe")
	if n := strings.Count(one.Text(".log"), "5.01 V"); n != 1 {
		t.Errorf("the entry stands %d times in the log:\n%s", n, one.Text(".log"))
	}
	if n := Eval[int](one, `JSON.parse(localStorage.getItem("unsent") || "[]").length`); n != 0 {
		t.Errorf("%d entries still wait in the browser", n)
	}
	two.Await(`document.querySelector(".log").innerText.includes("5.01 V")`) // after the program came back without being asked to load

	// Taken back, the rail is asked for again; it is left out for a reason.
	one.Send(func() { one.Key("u") })
	if !strings.Contains(one.Text(".card"), "Power before logic") {
		t.Fatalf("the rail is not asked for again, but %s", one.Text(".card"))
	}
	one.Press(".card summary", "Leave the rails out")
	one.Fill(".card [name=reason]", "measured on the last job")
	one.Send(func() { one.Press(".card button", "Go on without") })
	if card := one.Text(".card"); strings.Contains(card, "Power before logic") {
		t.Errorf("the rails are left out and still asked for: %s", card)
	}
}

// Files that are not what they say, large ones, and figures that cannot be: the message stands at the form, and what was typed stays.
func TestBadInput(t *testing.T) {
	s := Serve(t, bin, t.TempDir(), "127.0.0.1:0")
	defer s.Stop()
	if !post(s.URL, "/jobs/example", url.Values{"key": {"take"}, "name": {exampleCase}}) {
		t.Fatal("no job")
	}
	tab, end := chromium.Tab(t, s.URL, Phone)
	defer end()
	a := &audit{}
	dir := t.TempDir()
	pdf := filepath.Join(dir, "board.jpg")
	if err := os.WriteFile(pdf, []byte("%PDF-1.7\n1 0 obj\n<< >>\nendobj\ntrailer\n<< >>\n%%EOF\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	tab.Go("/jobs/1/intake")
	tab.Fill("form[action$=photos] [name=caption]", "the inside")
	tab.File("input[name=photo]", pdf)
	if said := tab.Refused(func() { tab.Press("form[action$=photos] button", "Add") }); !strings.Contains(said, "board.jpg") || !strings.Contains(said, "PDF") {
		t.Errorf("a PDF named .jpg is answered with %q", said)
	}
	if kept := Eval[string](tab, `document.querySelector("form[action$=photos] [name=caption]").value`); kept != "the inside" {
		t.Errorf("the caption is %q after the refusal", kept)
	}
	tab.Shot(shots, "phone-refused-photo", false)

	large := filepath.Join(dir, "large.jpg")
	f, err := os.Create(large)
	if err != nil {
		t.Fatal(err)
	}
	if err := jpeg.Encode(f, image.NewGray(image.Rect(0, 0, 7744, 5184)), nil); err != nil { // 40.1 megapixels
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	tab.File("input[name=photo]", large)
	tab.Send(func() { tab.Press("form[action$=photos] button", "Add") })
	if w := Eval[int](tab, `fetch("/photos/1").then(r => r.blob()).then(createImageBitmap).then(b => b.width)`); w < 1000 || w > 2560 {
		t.Errorf("the large photo is kept %d pixels wide", w)
	}

	tab.Go("/jobs/1/terms")
	tab.Fill("[name=rate]", "9e99")
	tab.Fill("[name=limit]", "four hundred")
	tab.Fill("[name=how]", "by message")
	if said := tab.Refused(func() { tab.Press("button", "Save what was agreed") }); !strings.Contains(said, "9e99") || !strings.Contains(said, "four hundred") {
		t.Errorf("absurd amounts are answered with %q", said)
	}
	if kept := Eval[string](tab, `["rate", "limit", "how"].map(n => document.querySelector("[name=" + n + "]").value).join()`); kept != "9e99,four hundred,by message" {
		t.Errorf("the form holds %q after the refusal", kept)
	}
	tab.Shot(shots, "phone-refused-terms", false)
	tab.Go("/jobs/1/supply")
	tab.Fill("[name=rail]", "VCC")
	tab.Fill("[name=volts-found]", "1e300")
	if said := tab.Refused(func() { tab.Press("#rail ~ form button", "Write it down") }); !strings.Contains(said, "volt") {
		t.Errorf("an absurd voltage is answered with %q", said)
	}
	tab.Go("/jobs/1/probe")
	tab.Key("/")
	tab.Fill(":focus", "U99.77")
	if said := tab.Refused(func() { tab.Key("\r") }); !strings.Contains(said, "U99") {
		t.Errorf("a pin that is not there is answered with %q", said)
	}
	a.quiet(t, tab, refusals...)
	if n := tab.Seq(); n == 0 {
		t.Error("the job is gone")
	}
}
