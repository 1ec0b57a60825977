package yamlfile

// One entry of the log: an experiment with its readings, a measurement, or a repair.

import (
	"fmt"
	"slices"

	"halfsplit/internal/core/evidence"
)

var (
	readingKeys = []string{"read", "see", "volts", "ohms", "current", "ripple", "esr", "ac", "gain", "wiper"}
	repairKeys  = []string{"lifted", "refitted", "replaced", "resoldered", "reseated", "cleared"}
	entryKeys   = slices.Concat([]string{"do"}, readingKeys, repairKeys, []string{"bench", "sure", "note"})
	readWords   = []string{"low", "high", "pulses", "floating", "between"}
)

func (r *caseReader) readEntry(n *node, index int) evidence.Entry {
	e := evidence.Entry{Index: index, Sure: evidence.DefaultSure, Pos: n.pos}
	where := fmt.Sprintf("log entry %d", index)
	f := r.fields(n, where, "a log entry", entryKeys)
	if f == nil {
		return e
	}
	r.checkMix(n, where)
	if v := f["do"]; v != nil {
		for _, it := range r.oneOrMore(v, where, "actions", "lamps-3 or [power-up, lamps-3]") {
			if s, ok := r.name(it, where, "the name of an action"); ok {
				e.Do = append(e.Do, s)
			}
		}
		e.HasDo = len(e.Do) > 0
	}
	if v := f["read"]; v != nil {
		e.Read = r.readings(v, where, "{U2.2: low}", r.readLevel)
	}
	if v := f["see"]; v != nil {
		e.See = r.readings(v, where, "{LP1: lit}", r.readLook)
	}
	if v := f["volts"]; v != nil {
		e.Volts = r.readVolts(v, where)
	}
	if v := f["ohms"]; v != nil {
		e.Ohms = r.readOhms(v, where)
	}
	r.readAnalogEntry(f, where, &e)
	r.readRepairs(f, where, &e)
	if v := f["sure"]; v != nil {
		if s, ok := r.quantity(v, where, quantity{what: "a certainty", lo: 0, hi: 1, example: "0.9"}); ok {
			if s == 0 {
				r.errorf(v, where, "leave the entry out if it says nothing", "expected a certainty above 0 and at most 1, found %s", quote(v.text))
			} else {
				e.Sure = s
			}
		}
	}
	if v := f["note"]; v != nil {
		e.Note = r.text(v, where, "a note")
	}
	return e
}

// checkMix tells what an entry must hold and what it cannot hold at once.
func (r *caseReader) checkMix(n *node, where string) {
	var first, repair *node // the first key that speaks of an experiment, of a repair
	readings, notes := 0, 0
	for _, p := range n.pairs {
		switch k := p.key.text; {
		case slices.Contains(readingKeys, k):
			readings++
			fallthrough
		case k == "do", k == "bench":
			if first == nil {
				first = p.key
			}
		case slices.Contains(repairKeys, k):
			if repair == nil {
				repair = p.key
			}
		case k != "sure":
			notes++
		}
	}
	switch {
	case first != nil && repair != nil:
		r.errorf(repair, where, "make two entries of it, in the order in which they happened", "`%s:` and `%s:` stand in one entry", first.text, repair.text)
	case first != nil && readings == 0:
		r.warnf(first, where, "add `read:`, `see:` or `volts:`", "nothing was read after this experiment")
	case first == nil && repair == nil && notes == 0:
		r.errorf(n, where, "write a reading such as {do: power-up, read: {U2.2: low}}, or a repair", "the entry says nothing")
	}
}

// readings reads a map of places and words.
func (r *caseReader) readings(n *node, where, example string, word func(*node, string) (string, bool)) []evidence.Reading {
	var out []evidence.Reading
	for _, p := range r.places(n, where, "readings", example) {
		place, ok := r.name(p.key, where, "a pin, a net or a part")
		if !ok {
			continue
		}
		if w, ok := word(p.value, at(where, place)); ok {
			out = append(out, evidence.Reading{At: place, Is: w, Pos: p.key.pos})
		}
	}
	return out
}

// places returns the pairs of a map, and reports what is still to be filled in.
func (r *caseReader) places(n *node, where, what, example string) []pair {
	if n.kind != mapping || len(n.pairs) == 0 {
		r.errorf(n, where, "write "+example, "expected %s as a map of places, found %s", what, n.found())
		return nil
	}
	return slices.DeleteFunc(slices.Clone(n.pairs), func(p pair) bool {
		if p.value.null {
			r.errorf(p.value, at(where, p.key.text), "write what was seen, or take the entry out", "the reading at %s is still to be filled in", p.key.text)
		}
		return p.value.null
	})
}

func at(where, place string) string { return where + ", " + place }

func (r *caseReader) readLevel(n *node, where string) (string, bool) {
	if n.kind == scalar && (n.text == "0" || n.text == "1") {
		r.errorf(n, where, "did you mean "+map[string]string{"0": "low", "1": "high"}[n.text]+"?", "a reading is %s, found %s", oneOf(readWords), quote(n.text))
		return "", false
	}
	return r.word(n, where, "a reading", readWords...)
}

func (r *caseReader) readVolts(n *node, where string) []evidence.Measured {
	var out []evidence.Measured
	for _, p := range r.places(n, where, "volts", "{U2.2: 0.03}") {
		place, ok := r.name(p.key, where, "a pin or a net")
		v, ok2 := r.quantity(p.value, at(where, p.key.text), quantity{what: "volts", units: []string{"V"}, lo: -1e5, hi: 1e5, example: "0.03"})
		if ok && ok2 {
			out = append(out, evidence.Measured{At: place, Volts: v, Pos: p.key.pos})
		}
	}
	return out
}

func (r *caseReader) readOhms(n *node, where string) []evidence.Resistance {
	nodes := []*node{n}
	if n.kind == list {
		nodes = n.items
	}
	if len(nodes) == 0 {
		r.errorf(n, where, "write {at: U2.2, to: GND, is: 4.1}", "an empty list; expected a resistance")
	}
	var out []evidence.Resistance
	for _, it := range nodes {
		if o, ok := r.readResistance(it, where); ok {
			out = append(out, o)
		}
	}
	return out
}

func (r *caseReader) readResistance(n *node, where string) (evidence.Resistance, bool) {
	o := evidence.Resistance{Pos: n.pos}
	f := r.fields(n, where, "a resistance", []string{"at", "to", "is"}, "is")
	if f == nil {
		return o, false
	}
	for _, key := range []string{"at", "to", "is"} {
		if !n.has(key) {
			r.errorf(n, where, "write {at: U2.2, to: GND, is: 4.1}", "the resistance has no `%s:`", key)
		}
	}
	at, to, is := f["at"], f["to"], f["is"]
	if at == nil || to == nil || is == nil {
		return o, false
	}
	var ok1, ok2, ok3 bool
	o.At, ok1 = r.name(at, where, "a pin or a net")
	o.To, ok2 = r.name(to, where, "a pin or a net")
	if ok1 && ok2 && o.At == o.To {
		r.errorf(to, where, "", "the resistance is measured from %s to itself", o.At)
		return o, false
	}
	switch {
	case is.null:
		r.errorf(is, where, "write ohms, or open", "the reading at %s is still to be filled in", at.text)
	case is.kind == scalar && is.text == "open":
		o.Open, ok3 = true, true
	case is.kind == scalar && slices.Contains([]string{"OL", "O.L", "0L", "inf", ".inf", "∞", "infinite", "Open", "OPEN"}, is.text):
		r.errorf(is, where, "did you mean open?", "expected ohms such as 4.1 or 4.7k, or open, found %s", quote(is.text))
	default:
		o.Ohms, ok3 = r.quantity(is, where, quantity{what: "ohms", units: ohmWords, lo: 0, hi: 1e12, example: "4.1 or 4.7k, or open"})
	}
	return o, ok1 && ok2 && ok3
}

func (r *caseReader) readRepairs(f map[string]*node, where string, e *evidence.Entry) {
	for _, k := range []struct {
		key, what, example string
		one                func(*node, string) (string, bool)
		to                 *[]string
	}{
		{"lifted", "pins", "[U2.2]", r.pin, &e.Lifted},
		{"refitted", "pins", "[U2.2]", r.pin, &e.Refitted},
		{"replaced", "parts", "[U1]", r.ref, &e.Replaced},
		{"resoldered", "pins", "[U1.4]", r.pin, &e.Resolder},
		{"reseated", "parts", "[U1]", r.ref, &e.Reseated},
		{"cleared", "nets", "[D3]", r.net, &e.Cleared},
	} {
		if v := f[k.key]; v != nil {
			*k.to = r.words(v, where, k.what, k.example, k.one)
		}
	}
	for _, p := range e.Lifted {
		if slices.Contains(e.Refitted, p) {
			r.errorf(f["refitted"], where, "make two entries of it, in the order in which they happened", "%s is lifted and refitted in one entry", p)
		}
	}
}
