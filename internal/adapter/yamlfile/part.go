package yamlfile

// Parts: their type, pins and what else is known of them.

import (
	"fmt"

	"halfsplit/internal/core/board"
)

var partKeys = []string{"type", "pins", "value", "contents", "rests", "socketed", "access", "fitted", "place", "note"}

func (r *boardReader) readParts(n *node) {
	if n.kind != mapping {
		r.errorf(n, "parts", "write {U1: {type: 74LS00, pins: {1: A}}}", "expected parts as a map by reference designator, found %s", n.found())
		return
	}
	if len(n.pairs) == 0 {
		r.errorf(n, "parts", "", "the board has no parts")
	}
	for _, p := range n.pairs {
		ref, ok := r.ref(p.key, "parts")
		if !ok {
			continue
		}
		r.parts[ref] = true
		part := board.Part{Ref: ref, Pos: p.key.pos}
		r.readPart(p.value, &part)
		r.b.Parts = append(r.b.Parts, part)
		for _, pin := range part.Pins {
			if pin.Net != "-" {
				r.onPin[pin.Net] = true
			}
		}
	}
}

func (r *boardReader) readPart(n *node, p *board.Part) {
	f := r.fields(n, p.Ref, "a part", partKeys)
	if f == nil {
		return
	}
	if v := f["type"]; v != nil {
		p.Type, _ = r.name(v, p.Ref, "a part type such as 74LS00")
		p.TypePos = v.pos
	} else if !n.has("type") {
		r.missing(n, p, "type", "type: 74LS00")
	}
	if v := f["pins"]; v != nil {
		r.readPins(v, p)
	} else if !n.has("pins") {
		r.missing(n, p, "pins", "pins: {1: A, 2: B}")
	}
	if v := f["value"]; v != nil {
		p.Value, p.HasValue = r.quantity(v, p.Ref, quantity{what: "a value", units: unitWords, lo: 0, hi: 1e12, example: "4.7k, 4K7 or 100n"})
	}
	if v := f["contents"]; v != nil {
		r.readContents(v, p)
	}
	if v := f["rests"]; v != nil {
		r.readRests(v, p)
	}
	if v := f["socketed"]; v != nil {
		p.Socketed = r.yes(v, p.Ref, "socketed")
	}
	if v := f["access"]; v != nil {
		w, _ := r.word(v, p.Ref, "access", "easy", "normal", "hard")
		p.Access = map[string]board.Access{"easy": board.Easy, "hard": board.Hard}[w]
	}
	if v := f["fitted"]; v != nil {
		w, _ := r.word(v, p.Ref, "fitted", "original", "replaced")
		p.Replaced = w == "replaced"
	}
	if v := f["place"]; v != nil {
		p.Place = r.readPlace(v, p.Ref)
	}
	if v := f["note"]; v != nil {
		p.Note = r.text(v, p.Ref, "a note")
	}
}

// readRests reads open, closed or a position, or a map of them by section. What positions and sections there are, the part's type says.
func (r *boardReader) readRests(n *node, p *board.Part) {
	const example = "write open, closed, a position such as down, or {1: closed, 4: closed} by section"
	switch {
	case n.kind == scalar && !n.null && n.text == "open":
	case n.kind == scalar && !n.null && n.text == "closed":
		p.Closed = true
	case n.kind == scalar && !n.null:
		if w, ok := r.name(n, p.Ref, "where the switch rests"); ok {
			p.Rests = append(p.Rests, board.Rest{To: w, Pos: n.pos})
		}
	case n.kind == mapping && len(n.pairs) > 0:
		for _, kv := range n.pairs {
			section, ok := r.name(kv.key, p.Ref, "a section of the switch")
			if to, ok2 := r.name(kv.value, p.Ref, "where section "+kv.key.text+" rests"); ok && ok2 {
				p.Rests = append(p.Rests, board.Rest{Section: section, To: to, Pos: kv.value.pos})
			}
		}
	default:
		r.errorf(n, p.Ref, example, "expected where the switch rests, found %s", n.found())
	}
}

// missing points at the part's name, where the key has to be added.
func (r *boardReader) missing(n *node, p *board.Part, key, example string) {
	at := *n
	at.pos = p.Pos
	r.errorf(&at, p.Ref, "write `"+example+"`", "%s has no `%s:`", p.Ref, key)
}

func (r *boardReader) readPins(n *node, p *board.Part) {
	switch n.kind {
	case scalar:
		r.errorf(n, p.Ref, "write {1: A, 2: B}, or [A, B] in the order of the pins", "expected pins as a map or a list, found %s", n.found())
	case list:
		p.Listed = true
		for i, it := range n.items {
			where := fmt.Sprintf("%s.%d", p.Ref, i+1)
			if net, ok := r.pinNet(it, where); ok {
				p.Pins = append(p.Pins, board.Pin{Net: net, Pos: it.pos})
			} else { // keep the place, so that the pins after it do not move up
				p.Pins = append(p.Pins, board.Pin{Net: "-", Pos: it.pos})
			}
		}
	case mapping:
		for _, kv := range n.pairs {
			pin, ok := r.name(kv.key, p.Ref, "a pin by number or name")
			if !ok {
				continue
			}
			if net, ok := r.pinNet(kv.value, p.Ref+"."+pin); ok {
				p.Pins = append(p.Pins, board.Pin{Pin: pin, Net: net, Pos: kv.key.pos})
			}
		}
	}
}

// pinNet reads the net of one pin; "-" is a pin left open on purpose.
func (r *boardReader) pinNet(n *node, where string) (string, bool) {
	if n.kind == scalar && n.null {
		r.errorf(n, where, "write `-` for a pin that is unconnected on purpose; quote a net that is really called null or ~", "pin %s has no net", where)
		return "", false
	}
	return r.name(n, where, "a net")
}

func (r *boardReader) readPlace(n *node, ref string) *board.Place {
	f := r.fields(n, ref, "a place", []string{"x", "y", "side", "turn"})
	if f == nil {
		return nil
	}
	p := board.Place{Side: "top"}
	good := true
	for _, c := range []struct {
		key string
		to  *float64
	}{{"x", &p.X}, {"y", &p.Y}, {"turn", &p.Turn}} {
		v := f[c.key]
		if v == nil {
			if c.key != "turn" && !n.has(c.key) {
				r.errorf(n, ref, "write {x: 31.5, y: 12}, in millimetres", "the place has no `%s:`", c.key)
			}
			good = good && c.key == "turn"
			continue
		}
		what, bound := "millimetres", 10000.0
		if c.key == "turn" {
			what, bound = "degrees", 360
		}
		var ok bool
		*c.to, ok = r.number(v, ref, what, -bound, bound)
		good = good && ok
	}
	if v := f["side"]; v != nil {
		w, ok := r.word(v, ref, "side", "top", "bottom")
		p.Side, good = w, good && ok
	}
	if !good {
		return nil
	}
	return &p
}
