package yamlfile

// A case as canonical text.

import (
	"strings"

	"halfsplit/internal/core/evidence"
)

// WriteCase writes a case so that reading it gives the same case, but for places in the text. It returns an error
// for what no case file can hold: control characters and numbers that are not finite.
func WriteCase(c *evidence.Case) ([]byte, error) {
	w := &caseWriter{}
	w.line(0, "case: %s", w.word(c.Title))
	w.line(0, "board: %s", w.word(c.Board))
	w.line(0, "have: %s", w.words(have(c.Have)))
	if len(c.Damage) > 0 {
		w.line(0, "damage:")
		for _, z := range c.Damage {
			w.zone(z)
		}
	}
	if c.Note != "" {
		w.line(0, "note: %s", w.word(c.Note))
	}
	if c.Golden {
		w.line(0, "golden: true")
	}
	w.line(0, "log:%s", map[bool]string{true: " []"}[len(c.Log) == 0])
	for i := range c.Log {
		w.entry(&c.Log[i])
	}
	return w.bytes()
}

type caseWriter struct{ emitter }

func have(b evidence.Bench) []string {
	var out []string
	for _, h := range []struct {
		on   bool
		word string
	}{{b.Scope, "scope"}, {b.Probe, "logic-probe"}, {b.Meter, "meter"}, {b.Iron, "iron"}, {b.Spare, "spare"}, {b.Adapter, "adapter"}} {
		if h.on {
			out = append(out, h.word)
		}
	}
	return out
}

func (w *caseWriter) zone(z evidence.Zone) {
	out := []string{"kind: " + w.word(z.Kind)}
	if len(z.Parts) > 0 {
		out = append(out, "parts: "+w.words(z.Parts))
	}
	if len(z.Nets) > 0 {
		out = append(out, "nets: "+w.words(z.Nets))
	}
	w.line(1, "- {%s}", strings.Join(out, ", "))
}

// entry writes one log entry; its first key follows the dash.
func (w *caseWriter) entry(e *evidence.Entry) {
	dash := "- "
	key := func(k, open string, entries []string, closer string) {
		w.wrapped(1, dash+k+": ", open, entries, closer)
		dash = "  "
	}
	if len(e.Do) > 0 {
		key("do", "", []string{w.oneOrMore(e.Do)}, "")
	}
	if len(e.Read) > 0 {
		key("read", "{", w.readings(e.Read), "}")
	}
	if len(e.See) > 0 {
		key("see", "{", w.readings(e.See), "}")
	}
	if len(e.Volts) > 0 {
		var out []string
		for _, m := range e.Volts {
			out = append(out, w.word(m.At)+": "+w.decimal(m.Volts))
		}
		key("volts", "{", out, "}")
	}
	if len(e.Ohms) > 0 {
		var out []string
		for _, o := range e.Ohms {
			is := "open"
			if !o.Open {
				is = w.value(o.Ohms)
			}
			out = append(out, "{at: "+w.word(o.At)+", to: "+w.word(o.To)+", is: "+is+"}")
		}
		key("ohms", "[", out, "]")
	}
	w.analogEntry(e, key)
	for _, r := range []struct {
		key   string
		names []string
	}{{"lifted", e.Lifted}, {"refitted", e.Refitted}, {"replaced", e.Replaced}, {"resoldered", e.Resolder}, {"reseated", e.Reseated}, {"cleared", e.Cleared}} {
		if len(r.names) > 0 {
			key(r.key, "", []string{w.words(r.names)}, "")
		}
	}
	said := dash != "- " || e.Note != ""
	if !(e.Sure > 0 && e.Sure <= 1) {
		w.fail("log entry %d is %v sure; it must be above 0 and at most 1", e.Index, e.Sure)
	}
	if e.Sure != evidence.DefaultSure {
		key("sure", "", []string{w.decimal(e.Sure)}, "")
	}
	if e.Note != "" {
		key("note", "", []string{w.word(e.Note)}, "")
	}
	if !said {
		w.fail("log entry %d says nothing", e.Index)
	}
}

func (w *caseWriter) readings(rs []evidence.Reading) []string {
	out := make([]string, len(rs))
	for i, r := range rs {
		out[i] = w.word(r.At) + ": " + w.word(r.Is)
	}
	return out
}
