package e2e

import (
	_ "embed"
	"fmt"
	"strings"
	"testing"
)

// What must hold on every page, whatever it shows: nothing to scroll sideways, targets that a finger hits, no word from the console, no
// request to anybody else, and no breach of WCAG 2.2 A and AA that axe-core finds.

//go:embed testdata/axe.min.js
var axe string

// targets lists what is too small to be hit. Buttons, fields and links that stand alone need 44 by 44 px (the size this page sets itself,
// that of WCAG 2.2 SC 2.5.5); a link within text is excepted there, and SC 2.5.8 asks for 24 px where targets crowd, which axe-core checks.
// A box of a check mark is hit with its label. What can be tapped in a drawing is left to axe-core's 24 px: it can be enlarged.
const targets = `(function () {
	const out = [];
	for (const e of document.querySelectorAll("button, a, input, select, textarea, summary, [role=button]")) {
		if (e.type === "hidden" || e.disabled || !e.checkVisibility({visibilityProperty: true}) || getComputedStyle(e).pointerEvents === "none") continue;
		if (e.classList.contains("skip") || e.type === "image" || e.closest("svg")) continue;
		let box = e.getBoundingClientRect();
		if (e.tagName === "INPUT" && (e.type === "checkbox" || e.type === "radio")) {
			const l = e.closest("label");
			if (l) box = l.getBoundingClientRect();
		}
		if (!box.width || !box.height) continue;
		const least = e.tagName === "A" && getComputedStyle(e).display === "inline" ? 24 : 43.5;
		if (box.height < least || box.width < Math.min(least, 40)) out.push(e.outerHTML.replace(/\s+/g, " ").slice(0, 110) + " is " + box.width.toFixed(0) + " by " + box.height.toFixed(0));
	}
	return out;
})()`

// wide lists what sticks out of the window at the side.
const wide = `(function () {
	if (document.documentElement.scrollWidth <= window.innerWidth) return [];
	const out = ["the page is " + document.documentElement.scrollWidth + " wide in a window of " + window.innerWidth];
	for (const e of document.querySelectorAll("#main *")) {
		const r = e.getBoundingClientRect();
		if (r.right > window.innerWidth + 1 && !e.closest(".scroll, .canvas, svg")) out.push(e.outerHTML.replace(/\s+/g, " ").slice(0, 90) + " ends at " + r.right.toFixed(0));
		if (out.length > 6) break;
	}
	return out;
})()`

// runAxe leaves one thing to nameless: a pin of a drawing shows its number and its name apart from each other, and axe-core wants the
// visible words as one string.
const runAxe = `axe.run(document, {runOnly: {type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}, resultTypes: ["violations"]}).then(r =>
	r.violations.flatMap(v => v.nodes.filter(n => v.id !== "label-content-name-mismatch" || !document.querySelector(n.target[0]).closest("svg")).slice(0, 3).map(n => v.id + ": " + n.target.join(" ") + ": " + n.html.replace(/\s+/g, " ").slice(0, 140) + " | " + (n.any[0] || n.all[0] || n.none[0] || {}).message)).concat(["rules " + (r.passes.length + r.violations.length + r.incomplete.length)]))`

// nameless lists what can be tapped in a drawing and has a visible word that its name does not have (WCAG 2.2 SC 2.5.3).
const nameless = `[...document.querySelectorAll("svg .tap[aria-label]")].filter(e => [...e.querySelectorAll("text")].some(x => x.textContent.trim().split(/\s+/).some(w => w.length > 1 && !e.getAttribute("aria-label").toLowerCase().includes(w.toLowerCase())))).map(e => e.getAttribute("aria-label") + " shows " + [...e.querySelectorAll("text")].map(x => x.textContent).join(" | "))`

// audit counts what it looked at, so that a test can say that it looked at all.
type audit struct{ pages, axe, rules int }

// page checks what the window shows. With themes the page is shown to axe-core in the light and the dark dress.
func (a *audit) page(t *testing.T, tab *Tab, themes bool) {
	t.Helper()
	a.pages++
	where := tab.Path()
	report := func(kind string, list []string) {
		for _, s := range list {
			t.Errorf("%s at %s: %s: %s", tab.Size.Name, where, kind, s)
		}
	}
	report("target", Eval[[]string](tab, targets))
	report("width", Eval[[]string](tab, wide))
	report("name", Eval[[]string](tab, nameless))
	if themes {
		if !Eval[bool](tab, `typeof axe === "object"`) {
			Eval[bool](tab, axe+";true")
		}
		for _, dark := range []bool{true, false} {
			tab.Dark(dark)
			list := Eval[[]string](tab, runAxe)
			n := 0
			if _, err := fmt.Sscanf(list[len(list)-1], "rules %d", &n); err != nil {
				t.Fatal(err)
			}
			a.axe, a.rules = a.axe+1, a.rules+n
			report(fmt.Sprintf("axe (dark %v)", dark), list[:len(list)-1])
		}
		for _, w := range []int64{360, 1600} {
			tab.Resize(w, tab.Size.H)
			report(fmt.Sprint("at ", w), Eval[[]string](tab, wide))
		}
		tab.Resize(tab.Size.W, tab.Size.H)
	}
	a.quiet(t, tab)
}

// refusals are what the browser and the page's script say of an answer with status 422, which tests bring about on purpose.
var refusals = []string{"console: Failed to load resource: the server responded with a status of 422", `console.error: "Response Status Error Code 422`}

// quiet checks that nothing was said on the console and nothing was asked of anybody else. allowed are beginnings of lines that the test
// itself has brought about.
func (a *audit) quiet(t *testing.T, tab *Tab, allowed ...string) {
	t.Helper()
	list, requests := tab.Troubles()
	if requests == 0 {
		t.Error("no request was seen at all: the check of foreign hosts checks nothing")
	}
next:
	for _, s := range list {
		for _, a := range allowed {
			if strings.HasPrefix(s, a) {
				continue next
			}
		}
		t.Errorf("%s at %s: %s", tab.Size.Name, tab.Path(), s)
	}
}

// A breach of each rule must be seen, or the audit says nothing.
func TestAuditSees(t *testing.T) {
	s := Serve(t, bin, t.TempDir(), "127.0.0.1:0")
	defer s.Stop()
	tab, end := chromium.Tab(t, s.URL, Phone)
	defer end()
	tab.Go("/jobs")
	Eval[bool](tab, `(document.querySelector("#content").insertAdjacentHTML("beforeend", "<button class=probe-target>x</button><div class=probe-wide>x</div><input class=probe-label>"), true)`)
	Eval[bool](tab, `(document.querySelector(".probe-target").style.cssText = "min-height:0;height:10px;padding:0", document.querySelector(".probe-wide").style.cssText = "width:900px;height:3px", true)`)
	if n := len(Eval[[]string](tab, targets)); n == 0 {
		t.Error("a target of 10 px is not seen")
	}
	if n := len(Eval[[]string](tab, wide)); n == 0 {
		t.Error("a page that scrolls sideways is not seen")
	}
	Eval[bool](tab, axe+";true")
	if list := Eval[[]string](tab, runAxe); !strings.HasPrefix(list[0], "label:") {
		t.Errorf("a field without a label is not seen: %v", list)
	}
	Eval[string](tab, `fetch("http://192.0.2.1/").catch(e => "refused").then(() => "done")`)
	Eval[bool](tab, `(document.querySelector("#content").insertAdjacentHTML("beforeend", "<img src='http://192.0.2.1/x.png' alt=x>"), true)`)
	tab.Await("true")
	list, _ := tab.Troubles()
	for range 40 {
		if len(list) > 1 {
			break
		}
		more, _ := tab.Troubles()
		list = append(list, more...)
		tab.Await("true")
	}
	if all := strings.Join(list, "\n"); !strings.Contains(all, "Content Security Policy") {
		t.Errorf("a breach of the content policy is not seen: %s", all)
	}
}
