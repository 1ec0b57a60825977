package e2e

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"time"

	protocol "github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	cdp "github.com/chromedp/chromedp"
)

// The browser, and a window of it with a hand that presses, taps and types.

// Size is that of a window, in CSS pixels.
type Size struct {
	Name  string
	W, H  int64
	Touch bool
}

// The sizes that the page is made for.
var (
	Phone   = Size{"phone", 390, 844, true}
	Tablet  = Size{"tablet", 820, 1180, true}
	Desktop = Size{"desktop", 1440, 900, false}
)

// patience is how long a page may take until what is waited for shows; it is generous because both cores may be busy.
const patience = 20 * time.Second

// Browser is a running Chromium.
type Browser struct{ ctx context.Context }

// Open starts Chromium; the function ends it.
func Open(w Witness) (*Browser, func()) {
	w.Helper()
	if _, err := exec.LookPath("chromium"); err != nil {
		w.Fatalf("there is no chromium: install the Debian package chromium")
	}
	options := append(cdp.DefaultExecAllocatorOptions[:], cdp.NoSandbox, cdp.ExecPath("chromium"))
	alloc, end := cdp.NewExecAllocator(context.Background(), options...)
	ctx, endFirst := cdp.NewContext(alloc)
	if err := cdp.Do(ctx); err != nil {
		w.Fatalf("chromium does not start: %v", err)
	}
	return &Browser{ctx}, func() { endFirst(); end() }
}

// Tab is a window on the page of a server.
type Tab struct {
	Size Size
	w    Witness
	ctx  context.Context
	base string

	mu       sync.Mutex
	requests int
	troubles []string // errors of the console, breaches of the content policy, requests that leave the program
}

// Tab opens a window for as long as the browser runs, or until the function is called.
func (b *Browser) Tab(w Witness, base string, size Size) (*Tab, func()) {
	w.Helper()
	ctx, end := cdp.NewContext(b.ctx, cdp.WithNewBrowserContext())
	t := &Tab{Size: size, w: w, ctx: ctx, base: base}
	t.do(cdp.Func(func(context.Context, *cdp.Target) error { return nil }))
	listen(t, log.EntryAdded, func(e log.EventEntryAdded) string {
		if e.Entry.Level != log.EntryLevelError && e.Entry.Source != log.EntrySourceSecurity {
			return ""
		}
		return fmt.Sprintf("console: %s %s", e.Entry.Text, e.Entry.URL)
	})
	listen(t, runtime.ExceptionThrown, func(e runtime.EventExceptionThrown) string {
		return "exception: " + e.ExceptionDetails.Text + " " + e.ExceptionDetails.URL
	})
	listen(t, runtime.ConsoleAPICalled, func(e runtime.EventConsoleAPICalled) string {
		if e.Type != runtime.ConsoleAPICalledTypeError && e.Type != runtime.ConsoleAPICalledTypeWarning {
			return ""
		}
		text := ""
		if len(e.Args) > 0 {
			text = string(e.Args[0].Value)
		}
		return fmt.Sprintf("console.%s: %s", e.Type, text)
	})
	listen(t, network.RequestWillBeSent, func(e network.EventRequestWillBeSent) string {
		t.mu.Lock()
		t.requests++
		t.mu.Unlock()
		u := e.Request.URL
		if strings.HasPrefix(u, base+"/") || strings.HasPrefix(u, "data:") || strings.HasPrefix(u, "about:") {
			return ""
		}
		return "a request left the program: " + u
	})
	t.Resize(size.W, size.H)
	return t, end
}

// listen collects what is wrong in the events of a window.
func listen[E any](t *Tab, ev protocol.Event[E], trouble func(E) string) {
	events := cdp.Events(t.ctx, ev)
	go func() {
		for e, err := range events {
			if err != nil {
				return // the window was closed
			}
			if s := trouble(e); s != "" {
				t.mu.Lock()
				t.troubles = append(t.troubles, s)
				t.mu.Unlock()
			}
		}
	}()
}

// Troubles are what was wrong since the last call, and how many requests were looked at so far.
func (t *Tab) Troubles() ([]string, int) {
	t.mu.Lock()
	defer t.mu.Unlock()
	out := t.troubles
	t.troubles = nil
	return out, t.requests
}

func (t *Tab) do(actions ...cdp.Action[cdp.Void]) {
	t.w.Helper()
	if err := cdp.Do(t.ctx, actions...); err != nil {
		t.w.Fatalf("the browser: %v", err)
	}
}

// Resize changes the window; a window of a touch screen stays one.
func (t *Tab) Resize(w, h int64) {
	t.w.Helper()
	if t.Size.Touch {
		t.do(cdp.EmulateViewport(w, h, cdp.EmulateTouch))
		return
	}
	t.do(cdp.EmulateViewport(w, h))
}

// Dark asks for the dark dress, or the light one.
func (t *Tab) Dark(on bool) {
	t.w.Helper()
	value := "light"
	if on {
		value = "dark"
	}
	_, err := cdp.Call(t.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{
		{Name: "prefers-color-scheme", Value: value}, {Name: "prefers-reduced-motion", Value: "reduce"}}})
	if err != nil {
		t.w.Fatalf("the browser: %v", err)
	}
}

// Go opens an address of the program, such as /jobs.
func (t *Tab) Go(path string) {
	t.w.Helper()
	t.do(cdp.Navigate(t.base + path))
	t.Settle()
}

// Eval evaluates a JavaScript expression in the page; a promise is awaited.
func Eval[T any](t *Tab, js string) T {
	t.w.Helper()
	v, err := cdp.Run(t.ctx, cdp.Evaluate[T](js, cdp.EvalAwaitPromise))
	if err != nil {
		t.w.Fatalf("%.200s: %v", js, err)
	}
	return v
}

// Await waits until an expression is true.
func (t *Tab) Await(js string) {
	t.w.Helper()
	end := time.Now().Add(patience)
	for {
		v, err := cdp.Run(t.ctx, cdp.Evaluate[bool]("!!("+js+")"))
		if err == nil && v {
			return
		}
		if time.Now().After(end) {
			t.w.Fatalf("this did not come true at %s: %s (%v)\n%s", t.Path(), js, err, t.Text("#main"))
		}
		time.Sleep(25 * time.Millisecond)
	}
}

// Settle waits until nothing is under way any more.
func (t *Tab) Settle() {
	t.w.Helper()
	t.Await(`document.readyState === "complete" && window.htmx && !document.querySelector(".htmx-request, .htmx-swapping, .htmx-settling, .htmx-added, .picture-wait")`)
}

// Path is the address of the page, without the host.
func (t *Tab) Path() string {
	t.w.Helper()
	return Eval[string](t, "location.pathname + location.search")
}

// Text is what is to be read in an element; "" when it is not there.
func (t *Tab) Text(sel string) string {
	t.w.Helper()
	return Eval[string](t, fmt.Sprintf("(document.querySelector(%s) || {innerText: ''}).innerText", quote(sel)))
}

// spot finds the middle of the first visible element that matches and holds the text, or of its first line where a link runs over two, brings it into
// view, and tells what lies on top of it.
const spot = `(function (sel, text) {
	const list = [...document.querySelectorAll(sel)].filter(e => e.checkVisibility() && (e.innerText || e.textContent || "").replace(/\s+/g, " ").includes(text));
	const e = list[0];
	if (!e) return {missing: true};
	e.scrollIntoView({block: "center", inline: "center", behavior: "instant"});
	const r = e.getClientRects()[0] || e.getBoundingClientRect(), x = r.left + r.width / 2, y = r.top + r.height / 2, top = document.elementFromPoint(x, y);
	return {x, y, disabled: !!e.disabled, covered: top && (e.contains(top) || top.contains(e)) ? "" : (top ? top.outerHTML.slice(0, 200) : "nothing")};
})(%s, %s)`

type place struct {
	X, Y              float64
	Missing, Disabled bool
	Covered           string
}

// Press taps or clicks the first visible element that matches and holds the text, as a finger would: where it lies, if nothing covers it.
// It returns when the page has settled.
func (t *Tab) Press(sel, text string) {
	t.w.Helper()
	at := Eval[place](t, fmt.Sprintf(spot, quote(sel), quote(text)))
	if at.Missing || at.Disabled || at.Covered != "" {
		t.w.Fatalf("%s %q cannot be pressed at %s: %+v\n%s", sel, text, t.Path(), at, t.Text("#main"))
	}
	t.Tap(at.X, at.Y)
}

// Tap taps or clicks a point of the window, in CSS pixels, and returns when the page has settled.
func (t *Tab) Tap(x, y float64) {
	t.w.Helper()
	if t.Size.Touch {
		t.do(cdp.TapXY(x, y))
	} else {
		t.do(cdp.MouseClickXY(x, y))
	}
	t.Settle()
}

// Key presses a key.
func (t *Tab) Key(key string) {
	t.w.Helper()
	t.do(cdp.KeyEvent(key))
	t.Settle()
}

// Fill types into a field, in place of what was in it.
func (t *Tab) Fill(sel, text string) {
	t.w.Helper()
	ok := Eval[bool](t, fmt.Sprintf(`(function (sel) {
		const e = [...document.querySelectorAll(sel)].filter(e => e.checkVisibility())[0];
		if (!e) return false;
		e.scrollIntoView({block: "center"}); e.focus(); if (e.select) e.select();
		return document.activeElement === e;
	})(%s)`, quote(sel)))
	if !ok {
		t.w.Fatalf("%s cannot be typed into at %s", sel, t.Path())
	}
	t.do(cdp.KeyEvent(text))
}

// Choose takes a word of a list.
func (t *Tab) Choose(sel, value string) {
	t.w.Helper()
	got := Eval[string](t, fmt.Sprintf(`(function (sel, value) {
		const e = document.querySelector(sel);
		if (!e) return "there is no such list";
		e.value = value; e.dispatchEvent(new Event("change", {bubbles: true}));
		return e.value;
	})(%s, %s)`, quote(sel), quote(value)))
	if got != value {
		t.w.Fatalf("%s does not offer %q (%s)", sel, value, got)
	}
}

// File gives files to a field.
func (t *Tab) File(sel string, names ...string) {
	t.w.Helper()
	t.do(cdp.SetUploadFiles(cdp.CSS(sel), names))
}

// Seq is the number of the last entry of the job that the page shows.
func (t *Tab) Seq() int {
	t.w.Helper()
	return Eval[int](t, `Number((document.querySelector("[data-seq]") || {dataset: {seq: 0}}).dataset.seq)`)
}

// Send does something that writes into the job, and waits until the page shows it.
func (t *Tab) Send(act func()) {
	t.w.Helper()
	before := t.Seq()
	act()
	t.Await(fmt.Sprintf(`Number((document.querySelector("[data-seq]") || {dataset: {seq: 0}}).dataset.seq) > %d || [...document.querySelectorAll(".form-error")].some(e => e.checkVisibility())`, before))
	if said := t.Mistake(); said != "" {
		t.w.Fatalf("the page at %s refuses: %s", t.Path(), said)
	}
	t.Settle()
}

// Mistake is what the page says is wrong with what was sent; "" when it says nothing.
func (t *Tab) Mistake() string {
	t.w.Helper()
	return Eval[string](t, `[...document.querySelectorAll(".form-error")].filter(e => e.checkVisibility()).map(e => e.innerText).join("; ")`)
}

// Refused does something that the page must refuse, and returns what it says.
func (t *Tab) Refused(act func()) string {
	t.w.Helper()
	act()
	t.Await(`[...document.querySelectorAll(".form-error")].some(e => e.checkVisibility())`)
	return t.Mistake()
}

// Shot takes a picture of the whole page into a folder, or of what is in the window.
func (t *Tab) Shot(dir, name string, whole bool) string {
	t.w.Helper()
	take := cdp.CaptureScreenshot()
	if whole {
		take = cdp.FullScreenshot(100)
		Eval[bool](t, `(window.scrollTo(0, 0), true)`)
	}
	data, err := cdp.Run(t.ctx, take)
	if err != nil {
		t.w.Fatalf("a picture of %s: %v", t.Path(), err)
	}
	file := filepath.Join(dir, name+".png")
	if err := os.WriteFile(file, data, 0o644); err != nil {
		t.w.Fatalf("%v", err)
	}
	return file
}

// AnswerAsks says yes to every question of the page from now on.
func (t *Tab) AnswerAsks() {
	asks := cdp.Events(t.ctx, page.JavascriptDialogOpening)
	go func() {
		for _, err := range asks {
			if err != nil {
				return
			}
			_, _ = cdp.Call(t.ctx, page.HandleJavaScriptDialog, page.HandleJavaScriptDialogParams{Accept: true}) // the window may close meanwhile
		}
	}()
}

func quote(s string) string {
	b, err := json.Marshal(s)
	if err != nil {
		return `""` // no string fails
	}
	return string(b)
}
