package app_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/app"
	"halfsplit/internal/core/board"
)

func tableDesk() *app.Desk { return app.NewDesk(nil, yamlfile.Texts{}, app.RealClock()) }

func partsText(t *testing.T, parts []board.Part) string {
	t.Helper()
	out, err := yamlfile.WriteBoard(&board.Board{Parts: parts})
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}

const handWritten = `# head remark
board: Test   # title remark
rails: {VCC: 5 V, GND: 0 V}
parts:
  # the decoder
  U1:   # by the edge
    type: 74LS139  # socketed later
    pins: {1: /G, 2: A0,
      3: A1}
    note: 'with # inside'
  R1: {type: resistor, value: 4.7k, pins: [VCC, A0]}

  # the last one
  U2:
    type: 74LS00
    pins: {1A: A0, 1B: A1, 1Y: Y}
start: go
actions:
  go: {steps: [{A0: 1}]}
`

func readParts(t *testing.T, d *app.Desk, text string) *board.Board {
	t.Helper()
	b, fl := d.ReadText(app.BoardFiles{Text: text})
	if b == nil {
		t.Fatalf("cannot be read: %v\n%s", fl, text)
	}
	return b
}

// Every line that is not one of the part's own stays as it was, and what was written as a remark in its lines stays a remark.
func TestReplacingOnePartKeepsTheOtherBytes(t *testing.T) {
	d := tableDesk()
	b := readParts(t, d, handWritten)
	p := b.Parts[0]
	p.Pins = append([]board.Pin{}, p.Pins...)
	p.Pins[1].Net = "A5"
	out, err := d.EditParts(app.BoardFiles{Text: handWritten}, []app.PartEdit{{Was: "U1", Part: p}})
	if err != nil {
		t.Fatal(err)
	}
	before, rest, _ := strings.Cut(handWritten, "  U1:")
	_, after, _ := strings.Cut(rest, "  R1:")
	after = "  R1:" + after
	if !strings.HasPrefix(out, before) || !strings.HasSuffix(out, after) {
		t.Errorf("other lines were changed:\n%s", out)
	}
	for _, want := range []string{"by the edge", "socketed later", "2: A5", "with # inside"} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is lost:\n%s", want, out)
		}
	}
	if strings.Count(out, "inside") != 1 {
		t.Errorf("a text in quotes was taken for a remark:\n%s", out)
	}
}

func TestAddingAndTakingParts(t *testing.T) {
	d := tableDesk()
	add := app.PartEdit{Part: board.Part{Ref: "U9", Type: "74LS04", Pins: []board.Pin{{Pin: "1", Net: "A0"}}}}
	cases := []struct {
		name, text string
		edits      []app.PartEdit
		want       []string // references
	}{
		{"at the end", handWritten, []app.PartEdit{add}, []string{"U1", "R1", "U2", "U9"}},
		{"take out", handWritten, []app.PartEdit{{Was: "R1", Remove: true}}, []string{"U1", "U2"}},
		{"both", handWritten, []app.PartEdit{{Was: "U1", Remove: true}, add, {Was: "U2", Remove: true}}, []string{"R1", "U9"}},
		{"empty text", "", []app.PartEdit{add}, []string{"U9"}},
		{"no parts yet", "board: x\nstart: []\n", []app.PartEdit{add}, []string{"U9"}},
		{"empty parts", "board: x\nparts: {}  # none\n", []app.PartEdit{add}, []string{"U9"}},
		{"parts without end of line", "board: x\nparts:\n  R1: {type: resistor, pins: [A, B]}", []app.PartEdit{add}, []string{"R1", "U9"}},
		{"deep indent", "board: x\nparts:\n      R1:\n         type: resistor\n         pins: [A, B]\ninputs: [A]\n", []app.PartEdit{add}, []string{"R1", "U9"}},
		{"brackets", "board: x\nparts: {R1: {type: resistor, pins: [A, B]}, R2: {type: resistor, pins: [B, C]}}\n", []app.PartEdit{add, {Was: "R1", Remove: true}}, []string{"R2", "U9"}},
		{"windows line ends", strings.ReplaceAll(handWritten, "\n", "\r\n"), []app.PartEdit{add}, []string{"U1", "R1", "U2", "U9"}},
	}
	for _, c := range cases {
		out, err := d.EditParts(app.BoardFiles{Text: c.text}, c.edits)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		var got []string
		for _, p := range readParts(t, d, out).Parts {
			got = append(got, p.Ref)
		}
		if fmt.Sprint(got) != fmt.Sprint(c.want) {
			t.Errorf("%s: parts %v, want %v\n%s", c.name, got, c.want, out)
		}
	}
}

func TestEditsThatAreRefused(t *testing.T) {
	d := tableDesk()
	u := func(ref string) app.PartEdit { return app.PartEdit{Part: board.Part{Ref: ref, Type: "74LS00"}} }
	cases := []struct {
		text string
		edit app.PartEdit
		says string
	}{
		{handWritten, u("U1"), "already"},
		{handWritten, u(""), "no reference"},
		{handWritten, u("U 1"), "blank"},
		{handWritten, app.PartEdit{Was: "U7", Remove: true}, "no part U7"},
		{handWritten, u("U\x00"), "control"},
		{"parts: {R1: [", u("U1"), "mend it first"},
		{"parts: {R1: {type: resistor, pins: [A, B]}} # kept\n", app.PartEdit{Was: "R1", Remove: true}, "lines of its own"},
	}
	for _, c := range cases {
		out, err := d.EditParts(app.BoardFiles{Text: c.text}, []app.PartEdit{c.edit})
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%v: error %v, want one with %q\n%s", c.edit, err, c.says, out)
		}
	}
}

// Rows at random, put into a text one after the other: what is read back is what was put in, and a row put in unchanged changes nothing
// but the form of its own lines.
func TestRowsComeBackAsTheyWentIn(t *testing.T) {
	d := tableDesk()
	r := rand.New(rand.NewPCG(4, 2))
	nets := []string{"A0", "/WR", "-", "a b", `q"uote`, "it's", "#1", "x: y", "[z]", "null", "D{3}", "5", "0x10", "µP", "~", "a,b"}
	types := []string{"74LS00", "resistor", "odd type", "nand", ""}
	steps := 0
	for round := range 60 {
		text := handWritten
		want := append([]board.Part{}, readParts(t, d, text).Parts...)
		for range 12 {
			p := board.Part{Ref: fmt.Sprintf("X%d", r.IntN(1000000)), Type: types[r.IntN(len(types))], Socketed: r.IntN(2) == 0, Listed: r.IntN(3) == 0}
			for k := range r.IntN(6) {
				pin := board.Pin{Pin: fmt.Sprint(k + 1), Net: nets[r.IntN(len(nets))]}
				if p.Listed {
					pin.Pin = ""
				}
				p.Pins = append(p.Pins, pin)
			}
			if r.IntN(3) == 0 {
				p.Note = nets[r.IntN(len(nets))]
			}
			if err := app.SetValue(&p, []string{"", "4.7k", "100n", "330"}[r.IntN(4)]); err != nil {
				t.Fatal(err)
			}
			e := app.PartEdit{Part: p}
			switch i := r.IntN(len(want)); {
			case r.IntN(2) == 0:
				want = append(want, p)
			case r.IntN(4) == 0 && len(want) > 1:
				e = app.PartEdit{Was: want[i].Ref, Remove: true}
				want = append(want[:i:i], want[i+1:]...)
			default:
				e.Was = want[i].Ref
				want[i] = p
			}
			out, err := d.EditParts(app.BoardFiles{Text: text}, []app.PartEdit{e})
			if err != nil {
				t.Fatalf("round %d: %v: %v\n%s", round, e, err, text)
			}
			got := readParts(t, d, out)
			if partsText(t, got.Parts) != partsText(t, want) {
				t.Fatalf("round %d: read\n%s\nwant\n%s", round, partsText(t, got.Parts), partsText(t, want))
			}
			if got.Title != "Test" || len(got.Rails) != 2 || !strings.Contains(out, "# head remark") {
				t.Fatalf("round %d: something beside the parts was changed:\n%s", round, out)
			}
			text = out
			steps++
		}
	}
	if steps != 720 {
		t.Errorf("%d edits tried, want 720", steps)
	}
}

func TestPasteShapes(t *testing.T) {
	d := tableDesk()
	lib, fl := d.LibraryOf(app.BoardFiles{})
	if fl.Errors() {
		t.Fatal(fl)
	}
	base := readParts(t, d, handWritten)
	cases := []struct {
		name, rows string
		want       []string // reference type value pins, of the parts that were touched
		wrong      int
	}{
		{"types, tabs", "U5\t74LS138\t\nR5\tresistor\t4k7\n", []string{"U5 74LS138  ", "R5 resistor 4.7k "}, 0},
		{"pins, semicolons", "U5;1;A0\nU5;2;A1", []string{"U5   1=A0  2=A1"}, 0},
		{"pins of a known part", "U1,2,A9\nU1,6,Y2", []string{"U1 74LS139  1=/G  2=A9  3=A1  6=Y2"}, 0},
		{"pin by another name", "U2\t1\tA9", []string{"U2 74LS00  1A=A9  1B=A1  1Y=Y"}, 0},
		{"nets", "D0: U5.1 U6.2\nD1: U5.3, U6.4", []string{"U5   1=D0  3=D1", "U6   2=D0  4=D1"}, 0},
		{"header", "Net\tPin\tRefDes\nD0\t1\tU5\nD1\t2\tU5", []string{"U5   1=D0  2=D1"}, 0},
		{"header with type", "ref,type,value,pin,net\nU5,74LS04,,1,A0\nU5,,,2,B0", []string{"U5 74LS04  1=A0  2=B0"}, 0},
		{"dotted", "U5.1\tA0\nU5.2\tA1", []string{"U5   1=A0  2=A1"}, 0},
		{"two columns", "R7 4.7k\nU8 74LS04", []string{"R7 resistor 4.7k ", "U8 74LS04  "}, 0},
		{"quoted", "\"U5\",\"1\",\"a,b\"", []string{"U5   1=a,b"}, 0},
		{"four columns", "U5;74LS04;1;A0", []string{"U5 74LS04  1=A0"}, 0},
		{"mixed types and pins", "U5\t74LS04\t\nU5\t1\tA0\nU5\t2\tY0\nU5\t14\tVCC", []string{"U5 74LS04  1=A0  2=Y0  14=VCC"}, 0},
		{"bad rows among good ones", "U5\t1\tA0\nU 6\t1\tA0\nU7\t1\t" + strings.Repeat("x", 200_000) + "\nU8\t\x00\tA\na\tb\tc\td\te\tf", []string{"U5   1=A0"}, 4},
		{"a value that is none", "R1\tresistor\tblue", nil, 1},
		{"nothing", "\n \n", nil, 0},
	}
	for _, c := range cases {
		res := app.ReadPaste(c.rows, base, lib)
		var got []string
		for _, e := range res.Edits {
			got = append(got, strings.Join([]string{e.Part.Ref, e.Part.Type, app.ValueText(&e.Part), app.PinsText(&e.Part)}, " "))
		}
		if fmt.Sprintf("%q", got) != fmt.Sprintf("%q", c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
		if len(res.Findings) != c.wrong || (c.wrong > 0) != (res.Left != "") {
			t.Errorf("%s: findings %.300v, want %d; left %.60q", c.name, res.Findings, c.wrong, res.Left)
		}
		if len(res.Edits) > 0 {
			if _, err := d.EditParts(app.BoardFiles{Text: handWritten}, res.Edits); err != nil {
				t.Errorf("%s: %v", c.name, err)
			}
		}
	}
}
