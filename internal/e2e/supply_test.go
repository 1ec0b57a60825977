package e2e

import (
	"fmt"
	"strings"
	"testing"
)

// A supply is mended in the browser: figures with their units, the gate, the rails, the voltages of a good board, and a known-good unit.

const supplyCase = "bench-supply/leaky-tantalum"

// worked waits until the diagnosis is there.
func worked(tab *Tab) {
	tab.Await(`!document.querySelector("[data-wait]")`)
	tab.Settle()
}

// tour gives a function that waits until a page is worked out, audits it and takes its picture, numbered from 1.
func tour(t *testing.T, tab *Tab, a *audit, machine string) func(name string) {
	n := 0
	return func(name string) {
		t.Helper()
		n++
		worked(tab)
		a.page(t, tab, true)
		tab.Shot(shots, fmt.Sprintf("%s-%02d-%s", machine, n, name), true)
	}
}

func TestSupplyMended(t *testing.T) {
	s := Serve(t, bin, t.TempDir(), "127.0.0.1:0")
	defer s.Stop()
	tab, end := chromium.Tab(t, s.URL, Tablet)
	defer end()
	tab.AnswerAsks()
	a := &audit{}
	see := tour(t, tab, a, "supply")
	tab.Go("/")
	tab.Choose("select[name=name]", supplyCase)
	follow(tab, "button", "Try it on this one")

	// With the gate closed only what is measured with the power off is asked for.
	tab.Go("/jobs/1/probe")
	worked(tab)
	if card := tab.Text(".b-card .card"); !strings.Contains(card, "Power off.") || strings.Contains(card, "Measure the rail") {
		t.Errorf("with the gate closed the card asks: %s", card)
	}
	see("gate")
	follow(tab, ".gate a", "Made safe")
	for Eval[bool](tab, `[...document.querySelectorAll("button")].some(b => b.innerText.includes("Read, and done"))`) {
		tab.Send(func() { tab.Press("button", "Read, and done") })
	}

	// The complaint, as readings; then a rail, typed with its unit. What is no voltage is refused and stays.
	tab.Go("/jobs/1/probe")
	worked(tab)
	see("rail")
	tab.Fill(".card [name=value]", "twelve")
	if said := tab.Refused(func() { tab.Press(".card button.main", "Enter") }); !strings.Contains(said, "no voltage") {
		t.Errorf("a word for a voltage is answered with %q", said)
	}
	a.quiet(t, tab, refusals...)
	tab.Fill(".card [name=value]", "5010 mV")
	tab.Send(func() { tab.Press(".card button.main", "Enter") })
	worked(tab)
	if log := tab.Text(".log"); !strings.Contains(log, "5.01 V") {
		t.Errorf("5010 mV stand in the log as %q", log)
	}
	tab.Send(func() { tab.Key("u") })
	tab.Go("/jobs/1/place?at=V18")
	see("place")
	for _, w := range []string{"A good board shows", "Ripple", "bench supply"} {
		if !strings.Contains(tab.Text("#content"), w) {
			t.Errorf("the place does not speak of %q", w)
		}
	}
	tab.Go("/jobs/1/probe")
	worked(tab)
	openReadings(tab)
	checks := 0
	for !strings.Contains(tab.Text(".b-card"), "Everything reads as on a good board") {
		if checks++; checks > 40 {
			t.Fatalf("after 40 checks it is not mended:\n%s", tab.Text("main"))
		}
		if checks == 4 {
			see("card")
			tab.Press("a", "why?")
			tab.Await(`document.querySelector("dialog[open]")`)
			see("why")
			tab.Key("\x1b")
			tab.Await(`!document.querySelector("dialog[open]")`)
		}
		before := tab.Seq()
		tab.Press(".card button[name=ask]", "")
		tab.Await(fmt.Sprintf(`Number(document.querySelector("[data-seq]").dataset.seq) > %d || [...document.querySelectorAll(".form-error")].some(e => e.checkVisibility())`, before))
		worked(tab)
		if tab.Mistake() != "" {
			tab.Send(func() { tab.Key("c") })
			a.quiet(t, tab, refusals...)
		}
	}
	see("mended")
	if side := tab.Text(".b-side"); !strings.Contains(side, "What the repairs changed") || !strings.Contains(side, "replaced C10") {
		t.Errorf("the repairs are not told: %s", side)
	}

	// A reading at a place; the table beside the readings; the unit is good now, and what was read since its repair is kept.
	tab.Go("/jobs/1/place?at=V18")
	tab.Fill("form[action$=entry] [name=value]", "18.9 V")
	tab.Send(func() { tab.Press("button", "Enter the voltage") })
	worked(tab)
	tab.Go("/jobs/1/volts")
	see("volts")
	tab.Press("summary", "known-good unit")
	tab.Press("button", "This unit is known to be good")
	tab.Await(`document.querySelector("#content").innerText.includes("known good; model") || [...document.querySelectorAll(".form-error")].some(e => e.checkVisibility())`)
	worked(tab)
	if said := tab.Mistake(); said != "" {
		t.Errorf("keeping the voltages of a good unit: %q", said)
	}
	see("golden")
	tab.Go("/boards/1/volts")
	see("board-volts")
	if rows := Eval[int](tab, `document.querySelectorAll("table.expected tbody tr").length`); rows != 23 {
		t.Errorf("the table has %d nets", rows)
	}
	if pins := strings.Count(string(fetch(tab, "/boards/1/volts.csv")), "\n"); pins != 90 {
		t.Errorf("the table as CSV has %d lines", pins)
	}
	for _, size := range []Size{Phone, Desktop} {
		other, end := chromium.Tab(t, s.URL, size)
		for _, p := range []string{"/jobs/1/probe", "/jobs/1/place?at=V18", "/jobs/1/place?at=C10", "/jobs/1/volts", "/boards/1/volts", "/boards/1", "/jobs/1/report"} {
			other.Go(p)
			worked(other)
			a.page(t, other, false)
			other.Shot(shots, "supply-"+size.Name+strings.NewReplacer("/", "-", "?", "-", "=", "-").Replace(p), true)
		}
		end()
	}
	if a.pages < 20 || a.axe < 16 {
		t.Errorf("only %d pages were looked at, axe-core ran %d times", a.pages, a.axe)
	}
	t.Logf("%d checks, %d pages", checks, a.pages)
}

// openReadings lets the machine show what it was brought with.
func openReadings(tab *Tab) {
	if !Eval[bool](tab, `[...document.querySelectorAll("button")].some(b => b.innerText.includes("Let the invented machine show") && b.checkVisibility())`) {
		tab.Press("summary", "What was measured already?")
	}
	tab.Send(func() { tab.Press("button", "Let the invented machine show") })
	worked(tab)
}
