package substitute

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/loading"
	"halfsplit/internal/core/part"
)

// Find judges every part of the library that has the pin-out and the function of the part at index pi, best first. The part that is
// fitted comes as the first of the answers that are yes.
func Find(c *circuit.Circuit, lib *part.Library, pi int) []Answer {
	b := loading.New(c)
	fitted := b.Match(pi)
	var out []Answer
	for _, m := range Candidates(lib, fitted) {
		out = append(out, judge(b, pi, fitted, m))
	}
	slices.SortStableFunc(out, func(x, y Answer) int {
		return cmp.Or(cmp.Compare(x.Verdict, y.Verdict), cmp.Compare(other(x.Match, fitted), other(y.Match, fitted)), cmp.Compare(x.Match.Name(), y.Match.Name()))
	})
	return out
}

func other(m, fitted part.Match) int {
	if m.Type == fitted.Type && m.Family == fitted.Family {
		return 0
	}
	return 1
}

// Judge judges one named part at the place of index pi, whatever its pin-out.
func Judge(c *circuit.Circuit, pi int, m part.Match) Answer {
	b := loading.New(c)
	return judge(b, pi, b.Match(pi), m)
}

// Candidates are all parts and families with the same pin-out and function, and what the record names as equivalent.
func Candidates(lib *part.Library, fitted part.Match) []part.Match {
	var out []part.Match
	seen := map[string]bool{}
	add := func(m part.Match) {
		if key := m.Name(); !seen[key] {
			seen[key] = true
			out = append(out, m)
		}
	}
	add(fitted)
	for _, t := range lib.Types() {
		if t != fitted.Type && (len(pinDifferences(fitted.Type, t)) > 0 || !alike(fitted.Type, t)) {
			continue
		}
		families := t.Families
		if len(families) == 0 {
			families = []string{""}
		}
		for _, f := range families {
			add(part.Match{Type: t, Family: part.Family(f)})
		}
	}
	for _, words := range fitted.Type.Equivalents {
		name, _, _ := strings.Cut(words, " ")
		if m, err := lib.Find(name); err == nil {
			add(m)
		}
	}
	return out
}

func alike(a, b *part.Type) bool {
	r := sameFunction(a, b)
	return r == same || r == otherOutputs
}

func judge(b *loading.Board, pi int, fitted, m part.Match) Answer {
	a := Answer{Match: m}
	add := func(v Verdict, text, remedy, source string) {
		a.Reasons = append(a.Reasons, Reason{v, text, remedy, source})
		a.Verdict = max(a.Verdict, v)
	}
	itself := m.Type == fitted.Type && m.Family == fitted.Family
	a.Pins = pinDifferences(fitted.Type, m.Type)
	if len(a.Pins) > 0 {
		add(No, "another pin-out: "+strings.Join(firstFew(a.Pins), "; "), "", m.Type.Source)
	}
	a.Logic = logic(fitted, m, add, len(a.Pins) == 0)
	if len(m.Type.Pins) == len(fitted.Type.Pins) {
		nets(&a, b, pi, fitted, m, add)
	}
	supply(b.Supply(pi), m, itself, add)
	if !itself {
		speed(b.Supply(pi), fitted, m, add)
	}
	slices.SortStableFunc(a.Reasons, func(x, y Reason) int { return cmp.Compare(y.Verdict, x.Verdict) })
	return a
}

func firstFew(s []string) []string {
	if len(s) > 4 {
		return append(slices.Clone(s[:4]), fmt.Sprintf("and %d more", len(s)-4))
	}
	return s
}

// logic says how the functions compare.
func logic(fitted, m part.Match, add func(Verdict, string, string, string), pinsAgree bool) string {
	schmitt := func(t *part.Type) bool { return strings.Contains(t.Title, "Schmitt") }
	if schmitt(fitted.Type) && !schmitt(m.Type) {
		add(Care, "no Schmitt inputs: slow edges and RC circuits at its inputs will not work as before", "", m.Type.Source)
	}
	if !pinsAgree {
		return "not compared, the pins differ"
	}
	switch sameFunction(fitted.Type, m.Type) {
	case same:
		if m.Type == fitted.Type {
			return "the same part in family " + cmp.Or(string(m.Family), "none")
		}
		return "the same function, pin by pin"
	case otherOutputs:
		return "the same function with another kind of output (open collector against push-pull)"
	case unmodelled:
		add(Care, "the insides are not modelled, so the functions were not compared", "read both data sheets", m.Type.Source)
		return "not compared: not modelled"
	}
	add(No, "another function", "", m.Type.Source)
	return "another function"
}

// nets judges each net of the part with the stand-in in place, beside how it is now.
func nets(a *Answer, b *loading.Board, pi int, fitted, m part.Match, add func(Verdict, string, string, string)) {
	now := map[string]bool{}
	for _, s := range stepsOf(b, pi) {
		if s.Verdict >= loading.Marginal {
			now[key(s)] = true
			a.Before++
		}
	}
	stricter := stricterInputs(fitted, m, b.Supply(pi))
	unknown := 0
	a.Steps = stepsOf(b.With(pi, m), pi)
	for _, s := range a.Steps {
		text := fmt.Sprintf("%s, net %s: %s", s.What, s.Net, s.Text)
		switch {
		case s.Verdict == loading.Unknown:
			unknown++
		case s.Verdict >= loading.Marginal && now[key(s)]:
			add(Care, text+" (so it is already with the part that is fitted)", s.Remedy, s.Source)
		case s.Verdict == loading.Marginal:
			add(Care, text, s.Remedy, s.Source)
		case s.Verdict == loading.Fails:
			add(No, text, s.Remedy, s.Source)
		}
	}
	if unknown > 0 && stricter != "" {
		add(Care, fmt.Sprintf("its inputs want more than those of the part that is fitted (%s), and %d of its pins meet drivers that the model has no figures for", stricter, unknown), "measure the levels there", "")
	}
}

func stepsOf(b *loading.Board, pi int) (out []loading.Step) {
	for _, root := range b.RootsOf(pi) {
		for _, s := range b.Judge(root) {
			if slices.Contains(s.Parts, pi) {
				out = append(out, s)
			}
		}
	}
	return out
}

func key(s loading.Step) string { return fmt.Sprint(s.Net, s.What, s.Parts) }

func stricterInputs(fitted, m part.Match, supply float64) string {
	x, okX := fitted.Limits(-1, supply)
	y, okY := m.Limits(-1, supply)
	var out []string
	if okX && okY {
		if y.VIH > x.VIH+1e-9 {
			out = append(out, fmt.Sprintf("high from %.2f V instead of %.2f V", y.VIH, x.VIH))
		}
		if y.VIL < x.VIL-1e-9 {
			out = append(out, fmt.Sprintf("low up to %.2f V instead of %.2f V", y.VIL, x.VIL))
		}
		if y.IIL > x.IIL*1.001 {
			out = append(out, fmt.Sprintf("%.2f mA at a low instead of %.2f mA", y.IIL*1e3, x.IIL*1e3))
		}
	}
	return strings.Join(out, ", ")
}

func supply(volts float64, m part.Match, itself bool, add func(Verdict, string, string, string)) {
	low, high, ok := m.SupplyRange()
	if !ok || volts == 0 || volts >= low && volts <= high {
		return
	}
	v := No
	if itself {
		v = Care
	}
	add(v, fmt.Sprintf("supply of %g V; guaranteed from %g to %g V", volts, low, high), "", m.Type.Source)
}

const (
	slower = 1.2 // maximum delays of gates that differ by less count as the same class (common practice, no source)
	faster = 2.5 // from here on edges are sharp enough to ring on an old board (common practice, no source)
)

func speed(supply float64, fitted, m part.Match, add func(Verdict, string, string, string)) {
	x, okX := fitted.Limits(-1, supply)
	y, okY := m.Limits(-1, supply)
	if !okX || !okY || x.Delay == 0 || y.Delay == 0 {
		return
	}
	if timed(fitted.Type) && m.Family != fitted.Family {
		add(Care, "its pulse length depends on the family: compare the timing formulas and change R or C", "", m.Type.Source)
	}
	switch {
	case y.Delay > slower*x.Delay:
		add(Care, fmt.Sprintf("slower: a gate takes up to %.0f ns instead of %.0f ns; whether the board has that time is not modelled", y.Delay*1e9, x.Delay*1e9), "", y.Source)
	case y.Delay*faster < x.Delay:
		add(Care, fmt.Sprintf("faster: %.0f ns instead of %.0f ns, with edges that may ring or pass short glitches on", y.Delay*1e9, x.Delay*1e9), "a decoupling capacitor at the part", y.Source)
	}
}

func timed(t *part.Type) bool {
	return slices.ContainsFunc(t.Stmts, func(s part.Stmt) bool { return s.Pulse || s.Kind == part.ClockOut })
}
