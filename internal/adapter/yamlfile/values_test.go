package yamlfile

// What the readers make of good files, spelled out field by field.

import (
	"errors"
	"reflect"
	"strings"
	"testing"

	"golang.org/x/tools/txtar"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
)

// example returns a file of a corpus archive.
func example(t *testing.T, archive, name string) []byte {
	t.Helper()
	a, err := txtar.ParseFile(archive)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range a.Files {
		if f.Name == name {
			return f.Data
		}
	}
	t.Fatalf("no %s in %s", name, archive)
	return nil
}

func named(ss ...string) (out []board.Name) {
	for _, s := range ss {
		out = append(out, board.Name{Text: s})
	}
	return out
}

// wired makes pins of `pin net` pairs, or of nets alone when listed.
func wired(listed bool, words string) (out []board.Pin) {
	w := strings.Fields(words)
	for i := 0; i < len(w); i++ {
		p := board.Pin{Net: w[i]}
		if !listed {
			p = board.Pin{Pin: w[i], Net: w[i+1]}
			i++
		}
		out = append(out, p)
	}
	return out
}

func num(net string, v uint64) board.Set { return board.Set{Net: net, Value: board.Value{Number: v}} }

func TestExampleBoard(t *testing.T) {
	b, l := ParseBoard("hall.yaml", example(t, "testdata/board/formats.txtar", "whole.yaml"), nil)
	if len(l) != 0 {
		t.Fatal(l)
	}
	want := &board.Board{
		Title:  "Hall lamps, two-car lift",
		File:   "hall.yaml",
		Rails:  []board.Rail{{Net: "VCC", Volts: 5}, {Net: "GND", Volts: 0}},
		Inputs: named("A0", "A1", "D0", "D1", "D2", "D3", "/WR"),
		Buses:  []board.Bus{{Name: "A", Nets: named("A1", "A0")}, {Name: "D", Nets: named("D3", "D2", "D1", "D0")}},
		Parts: []board.Part{
			{Ref: "U1", Type: "74LS139", Pins: wired(false, "1 /WR 2 A0 3 A1 4 CAR0 5 CAR1 8 GND 16 VCC")},
			{Ref: "U2", Type: "74LS175", Pins: wired(false, "CLK CAR0 /CLR VCC 1D D0 1Q UP0")},
			{Ref: "R1", Type: "resistor", Listed: true, Value: 4700, HasValue: true, Pins: wired(true, "VCC /KEY")},
			{Ref: "R2", Type: "resistor", Listed: true, Value: 330, HasValue: true, Pins: wired(true, "UP0 LA")},
			{Ref: "LP1", Type: "led", Listed: true, Pins: wired(true, "LA GND")},
			{Ref: "X1", Type: "clock", Listed: true, Pins: wired(true, "CLK")},
			{Ref: "SW7", Type: "button", Listed: true, Pins: wired(true, "/KEY GND"), Socketed: true, Access: board.Hard, Replaced: true,
				Place: &board.Place{X: 31.5, Y: 12, Side: "top", Turn: 90}, Note: "sticky"},
		},
		Near:  [][2]board.Name{{{Text: "D3"}, {Text: "D2"}}},
		Start: named("power-up"),
		Actions: []board.Action{
			{Name: "power-up", Title: "Switch on", Steps: []board.Step{{Sets: []board.Set{num("D", 0), num("A", 0), num("/WR", 1)}}}},
			{Name: "lamps-3", Title: "Send pattern 3 to car 0", Steps: []board.Step{
				{Sets: []board.Set{num("D", 3), num("A", 0)}},
				{Pulse: board.Name{Text: "/WR"}},
				{Cycles: []board.Cycle{{Net: "CLK", N: 16}}},
				{Times: 4, Steps: []board.Step{{Pulse: board.Name{Text: "/WR"}}}},
			}},
			{Name: "key-7", Title: "Hold key 7 while the columns are scanned", Whole: true, Steps: []board.Step{
				{Press: named("SW7")}, {Sets: []board.Set{num("A", 0)}}, {Sets: []board.Set{num("A", 1)}},
			}},
		},
	}
	if !same(b, want) {
		t.Errorf("got  %+v\nwant %+v", bare(reflect.ValueOf(b)), bare(reflect.ValueOf(want)))
	}
	for i, c := range []struct {
		got       finding.Pos
		line, col int
	}{
		{b.Rails[1].Pos, 2, 19}, {b.Inputs[6].Pos, 3, 34}, {b.Buses[1].Pos, 6, 3}, {b.Buses[1].Nets[3].Pos, 6, 19}, {b.Parts[0].Pos, 8, 3}, {b.Parts[0].TypePos, 9, 11},
		{b.Parts[0].Pins[6].Pos, 10, 60}, {b.Parts[2].Pins[1].Pos, 12, 49}, {b.Near[0][1].Pos, 17, 13}, {b.Start[0].Pos, 18, 8}, {b.Actions[1].Pos, 24, 3},
		{b.Actions[1].Steps[0].Pos, 27, 9}, {b.Actions[1].Steps[0].Sets[1].Pos, 27, 16}, {b.Actions[1].Steps[1].Pulse.Pos, 28, 16}, {b.Actions[1].Steps[2].Cycles[0].Pos, 29, 18},
		{b.Actions[1].Steps[3].Steps[0].Pos, 30, 36}, {b.Actions[2].Steps[0].Press[0].Pos, 35, 16},
	} {
		if want := (finding.Pos{File: "hall.yaml", Line: c.line, Col: c.col}); c.got != want {
			t.Errorf("place %d: %v, want %v", i, c.got, want)
		}
	}
}

func TestExampleCase(t *testing.T) {
	c, l := ParseCase("c.yaml", example(t, "testdata/case/formats.txtar", "example.yaml"))
	if len(l) != 0 {
		t.Fatal(l)
	}
	const sure = evidence.DefaultSure
	lamps := []string{"lamps-3"}
	want := &evidence.Case{Title: "Car 0, first lamp stays dark", File: "c.yaml", Board: "hall-lamps.yaml", Have: evidence.Bench{Scope: true, Meter: true, Iron: true},
		Log: []evidence.Entry{
			{Index: 1, HasDo: true, Do: lamps, See: []evidence.Reading{{At: "LP1", Is: "dark"}}, Sure: sure},
			{Index: 2, HasDo: true, Do: lamps, Read: []evidence.Reading{{At: "U2.2", Is: "low"}, {At: "CAR0", Is: "pulses"}}, Sure: 0.9},
			{Index: 3, Volts: []evidence.Measured{{At: "U2.2", Volts: 0.03}}, Sure: sure},
			{Index: 4, Ohms: []evidence.Resistance{{At: "U2.2", To: "GND", Ohms: 4.1}}, Sure: sure},
			{Index: 5, Lifted: []string{"U2.2"}, Sure: sure},
			{Index: 6, Replaced: []string{"U1"}, Sure: sure},
			{Index: 7, HasDo: true, Do: lamps, See: []evidence.Reading{{At: "LP1", Is: "lit"}}, Sure: sure},
		}}
	if !same(c, want) {
		t.Errorf("got  %+v\nwant %+v", bare(reflect.ValueOf(c)), bare(reflect.ValueOf(want)))
	}
	if p := c.Log[1].Read[1].Pos; p.Line != 8 || p.Col != 23 || c.Log[1].Pos.Line != 7 {
		t.Errorf("places %v %v", p, c.Log[1].Pos)
	}
}

// TestSmallThings checks what the example leaves out.
func TestSmallThings(t *testing.T) {
	b, l := ParseBoard("b.yaml", example(t, "testdata/board/values.txtar", "numbers-as-names.yaml"), nil)
	if len(l) != 0 || !same(b.Parts[0].Pins, wired(false, "1 5 2 0x10 3 1E3 4 007 5 1_000 6 true 7 .5 8 - 9 .inf")) {
		t.Errorf("%v %+v", l, b.Parts)
	}
	b, l = ParseBoard("b.yaml", example(t, "testdata/board/values.txtar", "yaml12.yaml"), nil)
	if len(l) != 0 || b.Title != "yes" || !same(b.Inputs, named("on", "off", "no", "y")) || b.Actions[0].Title != "off" || !same(b.Start, named("on")) ||
		!same(b.Actions[0].Steps[0].Sets, []board.Set{num("on", 1), num("off", 0), {Net: "no", Value: board.Value{Letter: 'x'}}, {Net: "y", Value: board.Value{Letter: 'z'}}}) {
		t.Errorf("%v %+v", l, b)
	}
	b, l = ParseBoard("b.yaml", example(t, "testdata/board/values.txtar", "values-good.yaml"), nil)
	for i, v := range []float64{4700, 330, 4700, 2.2, 10e6, 1000, 100e-9, 10e-6, 5.1} {
		if got := b.Parts[i].Value; got < v*(1-1e-12) || got > v*(1+1e-12) || !b.Parts[i].HasValue || len(l) != 0 {
			t.Errorf("%s: %v, want %v; %v", b.Parts[i].Ref, got, v, l)
		}
	}
	b, _ = ParseBoard("b.yaml", example(t, "testdata/board/steps.txtar", "good.yaml"), nil)
	s := b.Actions[0].Steps
	if !same(s[1].Sets, []board.Set{num("A", 3)}) || !same(s[2].Sets, []board.Set{num("A", 2)}) || !same(s[9], board.Step{Release: named("SW7"), Sets: []board.Set{num("A0", 1)}}) {
		t.Errorf("%+v", s)
	}
	c, _ := ParseCase("c.yaml", example(t, "testdata/case/entries.txtar", "good.yaml"))
	seen := map[string]string{"DS1": "5", "DS2": "0", "DS3": "blank", "DS4": "lit:abdeg", "LP1": "lit", "LP2": "dark", "LP3": "blinking"}
	for _, r := range c.Log[1].See {
		if seen[r.At] != r.Is {
			t.Errorf("%s reads %s, want %s", r.At, r.Is, seen[r.At])
		}
		delete(seen, r.At)
	}
	if len(seen) != 0 {
		t.Errorf("not seen: %v", seen)
	}
	if !same(c.Log[1].Do, []string{"a", "b"}) || c.Log[2].HasDo || c.Log[4].Volts[3].Volts != 0.03 || !c.Log[5].Ohms[1].Open || c.Log[5].Ohms[3].Ohms != 10e6 || !same(c.Log[6].Resolder, []string{"U1.4", "U1.5"}) {
		t.Errorf("%+v", c.Log)
	}
	c, _ = ParseCase("c.yaml", []byte("case: c\nboard: b.yaml\n"))
	if c.Have != (evidence.Bench{Scope: true, Meter: true, Iron: true}) || c.Log != nil {
		t.Errorf("%+v", c)
	}
}

func TestContents(t *testing.T) {
	a, err := txtar.ParseFile("testdata/board/contents.txtar")
	if err != nil {
		t.Fatal(err)
	}
	gap := strings.Repeat("\xFF", 16)
	want := map[string]string{
		"rom.bin":  "raw bytes\n",
		"good.hex": "\x00\x01\x02\x03\x04\x05\x06\x07\x08\x09\x0A\x0B\x0C\x0D\x0E\x0F" + gap + "\x01\x02",
		"good.txt": "\xC3\x00\x0F\xFF\x01\xDE\xAD\xBE\xEF\x07",
	}
	for _, f := range a.Files {
		bytes, known := want[f.Name]
		if !known {
			continue
		}
		delete(want, f.Name)
		b, l := ParseBoard("b.yaml", []byte("board: T\nparts: {U1: {type: 2716, pins: {}, contents: "+f.Name+"}}"), func(name string) ([]byte, error) {
			if name != f.Name {
				return nil, errors.New("wrong name " + name)
			}
			return f.Data, nil
		})
		if len(l) != 0 || string(b.Parts[0].Contents) != bytes || b.Parts[0].ContentsFile != f.Name {
			t.Errorf("%s: %v % X, want % X", f.Name, l, b.Parts[0].Contents, bytes)
		}
	}
	if len(want) != 0 {
		t.Errorf("not checked: %v", want)
	}
	b, l := ParseBoard("b.yaml", []byte("board: T\nparts: {U1: {type: 2716, pins: {}, contents: a.bin}}"), nil)
	if len(l) != 1 || b.Parts[0].Contents != nil || b.Parts[0].ContentsFile != "a.bin" {
		t.Errorf("without a folder: %v", l)
	}
}
