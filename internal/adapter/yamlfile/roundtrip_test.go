package yamlfile

// What is written reads back the same, but for places in the text.

import (
	"errors"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
)

// same compares two models, places aside.
func same(a, b any) bool {
	return reflect.DeepEqual(bare(reflect.ValueOf(a)).Interface(), bare(reflect.ValueOf(b)).Interface())
}

// bare copies a value with every finding.Pos emptied.
func bare(v reflect.Value) reflect.Value {
	out := reflect.New(v.Type()).Elem()
	switch {
	case v.Type() == reflect.TypeFor[finding.Pos]():
	case v.Kind() == reflect.Pointer && !v.IsNil():
		p := reflect.New(v.Type().Elem())
		p.Elem().Set(bare(v.Elem()))
		out.Set(p)
	case v.Kind() == reflect.Struct:
		for i := range v.NumField() {
			out.Field(i).Set(bare(v.Field(i)))
		}
	case v.Kind() == reflect.Slice && !v.IsNil():
		out.Set(reflect.MakeSlice(v.Type(), v.Len(), v.Len()))
		for i := range v.Len() {
			out.Index(i).Set(bare(v.Index(i)))
		}
	case v.Kind() == reflect.Array:
		for i := range v.Len() {
			out.Index(i).Set(bare(v.Index(i)))
		}
	default:
		out.Set(v)
	}
	return out
}

// Names as they are found on schematics, and as a spiteful hand would choose them.
var (
	word = rapid.OneOf(
		rapid.StringMatching(`/?[A-Z][A-Z0-9_]{0,5}[+-]?`),
		rapid.SampledFrom([]string{"5", "0x10", "1E3", "~", "null", "true", "on", "no", ".5", "+5V", "-12V", "<<", "A: B", "a, b", "[x]", "{", "#1", "x #y", "it's", `say "go"`,
			`back\slash`, "µ", "Ω1", "é", "Net-(U1-3)", "a - b", "-x", "?", ":", "a:", "%x", "@x", "&a", "*a", "!t", "|", ">", "`", "---", "...", "=", "1:2", "日本", "a\u2003b", "\ufeff1"}),
		rapid.StringMatching(`[!-~]{1,8}`),
		rapid.StringMatching(`[!-~][ -~]{0,8}[!-~]`),
	)
	prose = rapid.OneOf(rapid.SampledFrom([]string{"", "-", " ", "two\nlines\n", "\ttab", "a: b # c", "trailing ", "\u0085", "\u2028", "😀"}), rapid.StringMatching(`[ -~\n\tµé]{0,40}`), word)
	volts = rapid.OneOf(rapid.SampledFrom([]float64{0, 5, -12, 4.98, 0.03, 1e-7}), rapid.Float64Range(-1e5, 1e5))
	ohms  = rapid.OneOf(rapid.SampledFrom([]float64{0, 330, 4700, 1e-7, 1e12, 4.1}), rapid.Float64Range(0, 1e12))
)

// names draws n different words that are none of taken and not refused where a net is meant.
func names(t *rapid.T, label string, n int, taken map[string]bool) []string {
	return rapid.SliceOfNDistinct(word.Filter(func(s string) bool {
		return !taken[s] && s != "-" && !slices.Contains(stepWords, s)
	}), n, n, rapid.ID).Draw(t, label)
}

func ref(s string) bool { return !strings.ContainsAny(s, " .") && s != "" }

func drawBoard(t *rapid.T) *board.Board {
	b := &board.Board{Title: prose.Draw(t, "title")}
	taken := map[string]bool{}
	claim := func(label string, lo, hi int) []string {
		ns := names(t, label, rapid.IntRange(lo, hi).Draw(t, label+"#"), taken)
		for _, n := range ns {
			taken[n] = true
		}
		return ns
	}
	rails, inputs, others, busNames := claim("rail", 0, 3), claim("input", 1, 8), claim("net", 1, 5), claim("bus", 0, 2)
	for _, n := range rails {
		b.Rails = append(b.Rails, board.Rail{Net: n, Volts: volts.Draw(t, "volts") + 0})
	}
	for _, n := range inputs {
		b.Inputs = append(b.Inputs, board.Name{Text: n})
	}
	for _, n := range busNames {
		bus := board.Bus{Name: n}
		for _, net := range inputs[:rapid.IntRange(1, len(inputs)).Draw(t, "width")] {
			bus.Nets = append(bus.Nets, board.Name{Text: net})
		}
		b.Buses = append(b.Buses, bus)
	}
	nets := slices.Concat(rails, inputs, others)
	net := rapid.OneOf(rapid.SampledFrom(nets), rapid.Just("-"))
	for i, r := range rapid.SliceOfNDistinct(word.Filter(ref), 1, 4, rapid.ID).Draw(t, "refs") {
		b.Parts = append(b.Parts, drawPart(t, r, net))
		if i == 0 { // one part touches every net, so that all may be named
			b.Parts[0].Listed, b.Parts[0].Pins = true, nil
			for _, n := range nets {
				b.Parts[0].Pins = append(b.Parts[0].Pins, board.Pin{Net: n})
			}
		}
	}
	if rapid.Bool().Draw(t, "near") && len(nets) > 1 {
		b.Near = [][2]board.Name{{{Text: nets[0]}, {Text: nets[len(nets)-1]}}}
	}
	for _, n := range rapid.SliceOfNDistinct(word, 0, 3, rapid.ID).Draw(t, "actions") {
		a := board.Action{Name: n, Title: prose.Draw(t, "title"), Whole: rapid.Bool().Draw(t, "whole")}
		a.Steps = drawSteps(t, b, slices.Concat(inputs, others), 2, 0)
		b.Actions = append(b.Actions, a)
		if rapid.Bool().Draw(t, "start") {
			b.Start = append(b.Start, board.Name{Text: n})
		}
	}
	return b
}

func drawPart(t *rapid.T, ref string, net *rapid.Generator[string]) board.Part {
	flag := func(s string) bool { return rapid.Bool().Draw(t, s) }
	p := board.Part{Ref: ref, Type: word.Draw(t, "type"), Listed: flag("listed"), Closed: flag("closed"), Socketed: flag("socketed"),
		Replaced: flag("replaced"), Access: board.Access(rapid.IntRange(0, 2).Draw(t, "access")), Note: prose.Draw(t, "note")}
	if !p.Closed && flag("rests") {
		if flag("by section") {
			for _, sec := range rapid.SliceOfNDistinct(word, 1, 4, rapid.ID).Draw(t, "sections") {
				p.Rests = append(p.Rests, board.Rest{Section: sec, To: word.Draw(t, "to")})
			}
		} else {
			p.Rests = []board.Rest{{To: word.Filter(func(s string) bool { return s != "open" && s != "closed" }).Draw(t, "to")}}
		}
	}
	if flag("value") {
		p.Value, p.HasValue = ohms.Draw(t, "ohms"), true
	}
	if flag("contents") {
		p.ContentsFile, p.Contents = "roms/a b.bin", []byte("data")
	}
	if flag("place") {
		mm := rapid.Float64Range(-10000, 10000)
		p.Place = &board.Place{X: mm.Draw(t, "x") + 0, Y: mm.Draw(t, "y") + 0, Turn: rapid.Float64Range(-360, 360).Draw(t, "turn") + 0, Side: rapid.SampledFrom([]string{"top", "bottom"}).Draw(t, "side")}
	}
	for _, pin := range rapid.SliceOfNDistinct(word, 0, 40, rapid.ID).Draw(t, "pins") {
		if p.Listed {
			pin = ""
		}
		p.Pins = append(p.Pins, board.Pin{Pin: pin, Net: net.Draw(t, "net")})
	}
	return p
}

func drawSteps(t *rapid.T, b *board.Board, nets []string, depth, least int) []board.Step {
	var out []board.Step
	one := rapid.SampledFrom(nets)
	for range rapid.IntRange(least, 3).Draw(t, "steps") {
		var s board.Step
		switch kind := rapid.IntRange(0, 4).Draw(t, "kind"); {
		case kind == 0:
			s.Pulse = board.Name{Text: one.Draw(t, "pulse")}
		case kind == 1:
			for _, n := range rapid.SliceOfNDistinct(one, 1, 2, rapid.ID).Draw(t, "cycles") {
				s.Cycles = append(s.Cycles, board.Cycle{Net: n, N: rapid.IntRange(1, 100).Draw(t, "n")})
			}
		case kind == 2 && depth > 0:
			s.Times, s.Steps = rapid.IntRange(1, 5).Draw(t, "times"), drawSteps(t, b, nets, depth-1, 1)
		case kind == 3 && len(b.Buses) > 0:
			bus := b.Buses[len(b.Buses)-1]
			s.Sets = []board.Set{{Net: bus.Name, Value: drawValue(t, len(bus.Nets))}}
		default:
			s.Press = []board.Name{{Text: b.Parts[0].Ref}}
			for _, n := range rapid.SliceOfNDistinct(one, 0, 4, rapid.ID).Draw(t, "sets") {
				s.Sets = append(s.Sets, board.Set{Net: n, Value: drawValue(t, 1)})
			}
			for _, m := range []string{b.Parts[0].Ref, b.Parts[0].Ref + ".3"} {
				if !slices.Contains(slices.Concat(nets, busesOf(b), stepWords), m) && !isRail(b, m) && rapid.Bool().Draw(t, "move") {
					s.Moves = append(s.Moves, board.Move{Switch: m, To: word.Draw(t, "to")})
				}
			}
			if len(b.Parts) > 1 {
				for _, p := range b.Parts[1:] {
					s.Release = append(s.Release, board.Name{Text: p.Ref})
				}
			}
		}
		out = append(out, s)
	}
	return out
}

func busesOf(b *board.Board) (out []string) {
	for _, x := range b.Buses {
		out = append(out, x.Name)
	}
	return out
}

func isRail(b *board.Board, net string) bool {
	return slices.ContainsFunc(b.Rails, func(r board.Rail) bool { return r.Net == net })
}

func drawValue(t *rapid.T, width int) board.Value {
	if l := rapid.SampledFrom([]byte{0, 0, 'x', 'z'}).Draw(t, "letter"); l != 0 {
		return board.Value{Letter: l}
	}
	return board.Value{Number: rapid.Uint64Max(1<<width-1).Draw(t, "number")}
}

func TestBoardRoundTrip(t *testing.T) {
	open := func(name string) ([]byte, error) {
		if name != "roms/a b.bin" {
			return nil, errors.New("there is no such file")
		}
		return []byte("data"), nil
	}
	rapid.Check(t, func(t *rapid.T) {
		b := drawBoard(t)
		text, err := WriteBoard(b)
		if err != nil {
			t.Fatal(err)
		}
		back, l := ParseBoard("", text, open)
		if len(l) != 0 || !same(b, back) {
			t.Fatalf("%v\n%s\n%+v\n%+v", l, text, b, back)
		}
		again, err := WriteBoard(back)
		if err != nil || string(again) != string(text) {
			t.Fatalf("%v\n%s\n%s", err, text, again)
		}
	})
}

func drawCase(t *rapid.T) *evidence.Case {
	flag := func(s string) bool { return rapid.Bool().Draw(t, s) }
	c := &evidence.Case{Title: prose.Draw(t, "title"), Board: word.Draw(t, "board"), Note: prose.Draw(t, "note"),
		Have: evidence.Bench{Scope: flag("scope"), Probe: flag("probe"), Meter: flag("meter"), Iron: flag("iron"), Spare: flag("spare"), Adapter: flag("adapter")}}
	refs, pins, places := rapid.SliceOfNDistinct(word.Filter(ref), 1, 3, rapid.ID),
		rapid.SliceOfNDistinct(rapid.Map(word, func(s string) string { return "U1." + s }), 1, 3, rapid.ID), rapid.SliceOfNDistinct(word, 1, 12, rapid.ID)
	net := rapid.SliceOfNDistinct(word.Filter(func(s string) bool { return s != "-" }), 1, 3, rapid.ID)
	for range rapid.IntRange(0, 2).Draw(t, "zones") {
		c.Damage = append(c.Damage, evidence.Zone{Kind: rapid.SampledFrom([]string{"water", "battery", "heat"}).Draw(t, "kind"), Parts: refs.Draw(t, "parts"), Nets: net.Draw(t, "nets")})
	}
	look := rapid.OneOf(rapid.SampledFrom([]string{"lit", "dark", "blinking", "blank", "0", "9", "lit:dp", "lit:addp"}), rapid.StringMatching(`lit:ab?c?d?e?f?g?`))
	for i := range rapid.IntRange(0, 5).Draw(t, "entries") {
		e := evidence.Entry{Index: i + 1, Note: prose.Draw(t, "note"), Sure: rapid.OneOf(rapid.Just(evidence.DefaultSure), rapid.Float64Range(1e-300, 1)).Draw(t, "sure")}
		switch rapid.IntRange(0, 2).Draw(t, "sort") {
		case 0:
			e.Lifted, e.Replaced = pins.Draw(t, "lifted"), refs.Draw(t, "replaced")
			e.Resolder, e.Reseated, e.Cleared = pins.Draw(t, "resoldered"), refs.Draw(t, "reseated"), net.Draw(t, "cleared")
		case 1:
			e.Refitted = pins.Draw(t, "refitted")
		default:
			if flag("do") {
				e.HasDo, e.Do = true, places.Draw(t, "do")
			}
			for _, p := range places.Draw(t, "read") {
				e.Read = append(e.Read, evidence.Reading{At: p, Is: rapid.SampledFrom(readWords).Draw(t, "is")})
			}
			for _, p := range places.Draw(t, "see") {
				e.See = append(e.See, evidence.Reading{At: p, Is: look.Draw(t, "look")})
			}
			for _, p := range places.Draw(t, "volts") {
				e.Volts = append(e.Volts, evidence.Measured{At: p, Volts: volts.Draw(t, "v") + 0})
			}
			for _, p := range places.Draw(t, "ohms") {
				o := evidence.Resistance{At: p, To: p + "x", Open: flag("open")}
				if !o.Open {
					o.Ohms = ohms.Draw(t, "o")
				}
				e.Ohms = append(e.Ohms, o)
			}
		}
		c.Log = append(c.Log, e)
	}
	return c
}

func TestCaseRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCase(t)
		text, err := WriteCase(c)
		if err != nil {
			t.Fatal(err)
		}
		back, l := ParseCase("", text)
		if len(l) != 0 || !same(c, back) {
			t.Fatalf("%v\n%s\n%+v\n%+v", l, text, c, back)
		}
		again, err := WriteCase(back)
		if err != nil || string(again) != string(text) {
			t.Fatalf("%v\n%s\n%s", err, text, again)
		}
	})
}

func TestCannotBeWritten(t *testing.T) {
	part := func(p board.Part) *board.Board { return &board.Board{Parts: []board.Part{p}} }
	for i, b := range []*board.Board{
		{Title: "a\x00b"},
		{Title: "\xFF"},
		part(board.Part{Ref: "U1\x1b"}),
		part(board.Part{Ref: "U1", Contents: []byte{1}}),
		{Rails: []board.Rail{{Net: "VCC", Volts: math.Inf(1)}}},
	} {
		if text, err := WriteBoard(b); err == nil {
			t.Errorf("board %d was written:\n%s", i, text)
		}
	}
	for i, c := range []*evidence.Case{
		{Title: "\x7f"},
		{Log: []evidence.Entry{{Index: 1, Sure: 1}}},
		{Log: []evidence.Entry{{Index: 1, Note: "a"}}},
		{Log: []evidence.Entry{{Index: 1, Sure: 1, Volts: []evidence.Measured{{At: "A", Volts: math.Inf(1)}}}}},
	} {
		if text, err := WriteCase(c); err == nil {
			t.Errorf("case %d was written:\n%s", i, text)
		}
	}
}
