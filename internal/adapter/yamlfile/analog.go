package yamlfile

// The analogue half: what feeds a board, how its controls stand, and the readings that only it has.

import (
	"strings"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/evidence"
)

var (
	sourceKeys  = []string{"kind", "plus", "minus", "volts", "amperes", "frequency", "ohms", "tolerance"}
	sourceKinds = []string{"mains", "signal", "dc", "load"}

	voltsOf   = quantity{what: "volts", units: []string{"V"}, lo: -1e5, hi: 1e5, example: "12 V"}
	ampsOf    = quantity{what: "amperes", units: []string{"A"}, lo: -1e4, hi: 1e4, example: "0.4 A"}
	hertzOf   = quantity{what: "a frequency", units: []string{"Hz"}, lo: 1e-3, hi: 1e9, example: "1 kHz"}
	ohmsOf    = quantity{what: "ohms", units: ohmWords, lo: 0, hi: 1e12, example: "0.5 ohm"}
	positions = quantity{what: "a position", lo: 0, hi: 1, example: "0.5"}
)

func (r *boardReader) readAnalog(n *node) {
	f := r.fields(n, "analog", "the analogue half", []string{"ground", "age", "sources", "controls"})
	if f == nil {
		return
	}
	a := &board.Analog{Pos: n.pos}
	r.b.Analog = a
	if v := f["ground"]; v != nil {
		if net, ok := r.net(v, "analog"); ok && r.knownOrRail(v, net) {
			a.Ground = net
		}
	}
	if v := f["age"]; v != nil {
		a.Age, _ = r.quantity(v, "analog", quantity{what: "years", lo: 0, hi: 150, example: "40"})
	}
	if v := f["sources"]; v != nil {
		if v.kind != mapping {
			r.errorf(v, "analog", "write {T1: {kind: mains, plus: AC1, minus: AC2, volts: 9 V}}", "expected sources as a map by name, found %s", v.found())
			return
		}
		for _, p := range v.pairs {
			if name, ok := r.ref(p.key, "analog"); ok {
				s := board.Source{Name: name, Pos: p.key.pos}
				r.readSource(p.value, &s)
				a.Sources = append(a.Sources, s)
			}
		}
	}
	if v := f["controls"]; v != nil {
		if v.kind != mapping {
			r.errorf(v, "analog", "write {SL1: 0.5}", "expected controls as a map of parts and positions, found %s", v.found())
			return
		}
		for _, p := range v.pairs {
			ref, ok := r.ref(p.key, "analog")
			at, ok2 := r.quantity(p.value, "control "+ref, positions)
			if ok && !r.parts[ref] {
				r.unknown(p.key, "analog", sorted(r.parts), "no part %s on this board", ref)
			} else if ok && ok2 {
				a.Controls = append(a.Controls, board.Control{Ref: ref, Position: at, Pos: p.key.pos})
			}
		}
	}
}

func (r *boardReader) knownOrRail(n *node, net string) bool {
	return r.rails[net] || r.known(n, "analog", net)
}

func (r *boardReader) readSource(n *node, s *board.Source) {
	where := "source " + s.Name
	f := r.fields(n, where, "a source", sourceKeys)
	if f == nil {
		return
	}
	for _, key := range []string{"kind", "plus", "minus"} {
		if !n.has(key) {
			r.errorf(n, where, "write {kind: mains, plus: AC1, minus: AC2, volts: 9 V}", "the source has no `%s:`", key)
		}
	}
	if v := f["kind"]; v != nil {
		k, _ := r.word(v, where, "the kind of a source", sourceKinds...)
		s.Kind = board.SourceKind(k)
	}
	for key, to := range map[string]*string{"plus": &s.Plus, "minus": &s.Minus} {
		if v := f[key]; v != nil {
			if net, ok := r.net(v, where); ok && r.knownOrRail(v, net) {
				*to = net
			}
		}
	}
	for _, k := range []struct {
		key string
		q   quantity
		to  *float64
	}{{"volts", voltsOf, &s.Volts}, {"amperes", ampsOf, &s.Amperes}, {"frequency", hertzOf, &s.Frequency}, {"ohms", ohmsOf, &s.Ohms},
		{"tolerance", quantity{what: "a fraction", lo: 0, hi: 0.9, example: "0.05 for 5 %"}, &s.Tolerance}} {
		if v := f[k.key]; v != nil {
			*k.to, _ = r.quantity(v, where, k.q)
		}
	}
	if n.has("kind") && s.Kind != board.Load && s.Kind != "" && !n.has("volts") {
		r.errorf(n, where, "add `volts:`", "a %s source needs volts", s.Kind)
	}
	if s.Kind == board.Load && n.has("amperes") == n.has("ohms") {
		r.errorf(n, where, "", "a load has either `amperes:` or `ohms:`")
	}
	if s.Plus != "" && s.Plus == s.Minus {
		r.errorf(n, where, "", "both ends of the source are on %s", s.Plus)
	}
}

func (r *caseReader) readAnalogEntry(f map[string]*node, where string, e *evidence.Entry) {
	for _, k := range []struct {
		key, example string
		q            quantity
		to           *[]evidence.Amount
	}{{"current", "{F1: 0.85}", ampsOf, &e.Current}, {"ripple", "{VRAW: 1.2}", voltsOf, &e.Ripple}, {"esr", "{C1: 0.3}", ohmsOf, &e.ESR}} {
		v := f[k.key]
		if v == nil {
			continue
		}
		for _, p := range r.places(v, where, k.key, k.example) {
			place, ok := r.name(p.key, where, "a part, a pin or a net")
			x, ok2 := r.quantity(p.value, at(where, p.key.text), k.q)
			if ok && ok2 {
				*k.to = append(*k.to, evidence.Amount{At: place, Is: x, Pos: p.key.pos})
			}
		}
	}
	r.each(f["ac"], where, "a level", []string{"at", "frequency", "level"}, "{at: OUT, frequency: 1k, level: 0.5}", func(n *node, w []string, x []float64) {
		e.AC = append(e.AC, evidence.Level{At: w[0], Frequency: x[0], Volts: x[1], Pos: n.pos})
	}, hertzOf, voltsOf)
	r.each(f["gain"], where, "a gain", []string{"from", "to", "frequency", "is"}, "{from: IN, to: OUT, frequency: 1k, is: 2.1}", func(n *node, w []string, x []float64) {
		e.Gain = append(e.Gain, evidence.Gain{From: w[0], To: w[1], Frequency: x[0], Is: x[1], Pos: n.pos})
	}, hertzOf, quantity{what: "a ratio", lo: 0, hi: 1e9, example: "2.1"})
	r.each(f["wiper"], where, "a control", []string{"at", "position", "volts"}, "{at: SL1, position: 0.5, volts: 2.1}", func(n *node, w []string, x []float64) {
		e.Wiper = append(e.Wiper, evidence.Wiper{At: w[0], Position: x[0], Volts: x[1], Pos: n.pos})
	}, positions, voltsOf)
	r.each(f["bench"], where, "a bench supply", []string{"at", "volts", "ohms"}, "{at: VCC, volts: 1 V, ohms: 1}", func(n *node, w []string, x []float64) {
		if e.Feed != nil {
			r.errorf(n, where, "", "one bench supply at a time")
		}
		if x[1] <= 0 {
			r.errorf(n, where, "write the volts at no load divided by the current limit", "the bench supply needs ohms in series that limit its current")
		}
		e.Feed = &evidence.Feed{At: w[0], Volts: x[0], Ohms: x[1], Pos: n.pos}
	}, voltsOf, ohmsOf)
}

// each reads one map or a list of maps with words first and then quantities, all of them needed.
func (r *caseReader) each(n *node, where, what string, keys []string, example string, put func(*node, []string, []float64), qs ...quantity) {
	if n == nil {
		return
	}
	nodes := []*node{n}
	if n.kind == list {
		nodes = n.items
	}
	if len(nodes) == 0 {
		r.errorf(n, where, "write "+example, "an empty list; expected %s", what)
	}
	for _, it := range nodes {
		f := r.fields(it, where, what, keys, keys[len(keys)-1])
		if f == nil {
			continue
		}
		var words []string
		var values []float64
		good := true
		nw := len(keys) - len(qs)
		for i, key := range keys {
			v := f[key]
			if v == nil {
				good = false
				if !it.has(key) {
					r.errorf(it, where, "write "+example, "%s has no `%s:`", what, key)
				}
				continue
			}
			if i < nw {
				w, ok := r.name(v, where, "a part, a pin or a net")
				words, good = append(words, w), good && ok
				continue
			}
			if v.null {
				r.errorf(v, where, "write what was seen, or take the entry out", "the reading of %s is still to be filled in", strings.Join(words, " "))
				good = false
				continue
			}
			x, ok := r.quantity(v, where, qs[i-nw])
			values, good = append(values, x), good && ok
		}
		if good {
			put(it, words, values)
		}
	}
}

func (w *boardWriter) analog(a *board.Analog) {
	if a.Ground == "" && a.Age == 0 && len(a.Sources) == 0 && len(a.Controls) == 0 {
		w.line(0, "analog: {}")
		return
	}
	w.line(0, "analog:")
	if a.Ground != "" {
		w.line(1, "ground: %s", w.word(a.Ground))
	}
	if a.Age != 0 {
		w.line(1, "age: %s", w.decimal(a.Age))
	}
	if len(a.Sources) > 0 {
		w.line(1, "sources:")
	}
	for _, s := range a.Sources {
		out := []string{"kind: " + string(s.Kind), "plus: " + w.word(s.Plus), "minus: " + w.word(s.Minus)}
		if s.Kind != board.Load {
			out = append(out, "volts: "+w.value(s.Volts)+" V")
		}
		if s.Kind == board.Load && s.Ohms == 0 || s.Amperes != 0 {
			out = append(out, "amperes: "+w.value(s.Amperes)+" A")
		}
		if s.Frequency != 0 {
			out = append(out, "frequency: "+w.value(s.Frequency)+" Hz")
		}
		if s.Ohms != 0 {
			out = append(out, "ohms: "+w.value(s.Ohms))
		}
		if s.Tolerance != 0 {
			out = append(out, "tolerance: "+w.decimal(s.Tolerance))
		}
		w.wrapped(2, w.word(s.Name)+": ", "{", out, "}")
	}
	if len(a.Controls) > 0 {
		var out []string
		for _, c := range a.Controls {
			out = append(out, w.word(c.Ref)+": "+w.decimal(c.Position))
		}
		w.wrapped(1, "controls: ", "{", out, "}")
	}
}

func (w *caseWriter) analogEntry(e *evidence.Entry, key func(k, open string, entries []string, closer string)) {
	if f := e.Feed; f != nil {
		key("bench", "{", []string{"at: " + w.word(f.At), "volts: " + w.decimal(f.Volts), "ohms: " + w.decimal(f.Ohms)}, "}")
	}
	for _, k := range []struct {
		key  string
		list []evidence.Amount
	}{{"current", e.Current}, {"ripple", e.Ripple}, {"esr", e.ESR}} {
		var out []string
		for _, a := range k.list {
			out = append(out, w.word(a.At)+": "+w.decimal(a.Is))
		}
		if len(out) > 0 {
			key(k.key, "{", out, "}")
		}
	}
	var ac, gain, wiper []string
	for _, a := range e.AC {
		ac = append(ac, "{at: "+w.word(a.At)+", frequency: "+w.decimal(a.Frequency)+", level: "+w.decimal(a.Volts)+"}")
	}
	for _, g := range e.Gain {
		gain = append(gain, "{from: "+w.word(g.From)+", to: "+w.word(g.To)+", frequency: "+w.decimal(g.Frequency)+", is: "+w.decimal(g.Is)+"}")
	}
	for _, p := range e.Wiper {
		wiper = append(wiper, "{at: "+w.word(p.At)+", position: "+w.decimal(p.Position)+", volts: "+w.decimal(p.Volts)+"}")
	}
	for _, k := range []struct {
		key  string
		list []string
	}{{"ac", ac}, {"gain", gain}, {"wiper", wiper}} {
		if len(k.list) > 0 {
			key(k.key, "[", k.list, "]")
		}
	}
}
