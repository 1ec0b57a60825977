package ref

import (
	"strconv"
	"strings"
	"sync"
	"testing"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// Boards and checks in a few lines of text, for the tests of this package.
//
//	rails GND=0 VCC=5
//	inputs A B
//	U1 74LS00 1=A 2=B 3=Y        part: reference, type, pins; value=OHMS, rests=closed
//	go A=1 B=0 +S1 -S2           action with one moment: settings, contacts pressed and released
//	go: ...                      a further moment of the same action
//
// Levels of a place are one sign per moment, the unknown state first.

// extra parts, for what no real part shows alone.
const extraParts = `
- part: ttlin
  title: input of a bipolar part and what it hears
  families: [ttl]
  pins: A Y GND VCC
  logic: |
    Y = A
  source: made for the test
- part: cmosin
  title: input of a CMOS part and what it hears
  families: [cmos]
  pins: A Y GND VCC
  logic: |
    Y = A
  source: made for the test
- part: known
  title: expressions that are known although a leaf is not
  families: [ttl]
  pins: A B S Y1 Y2 Y3 Y4 GND VCC
  logic: |
    Y1 = A & !A
    Y2 = S ? B : B
    Y3 = A ^ A ^ B
    table A B S -> Y4
      00- 1
      1-0 0
      1-1 x
      010 0
  source: made for the test
- part: openemitter
  title: open-emitter buffer
  families: [ttl]
  pins: A Y GND VCC
  logic: |
    oe Y = A
  source: made for the test
- part: latch2
  title: latch whose second clause is level sensitive
  families: [ttl]
  pins: A B C D Q GND VCC
  logic: |
    store q: while A -> 0; while B -> 1; rise C -> D
    Q = q
  source: made for the test
- part: shift2
  title: a bit that clocks another
  families: [ttl]
  pins: C D Q1 Q2 GND VCC
  logic: |
    store a: rise C -> D
    store b: rise a -> D
    Q1 = a
    Q2 = b
  source: made for the test
- part: buzz
  title: a bit that changes as long as it may run, and one that follows
  families: [ttl]
  pins: R Q P GND VCC
  logic: |
    store q: while R -> !q
    store p: rise q -> !p
    Q = q
    P = p
  source: made for the test
- part: ram2
  title: four words of two bits
  families: [ttl]
  pins: A1 A0 D1 D0 W Q1 Q0 GND VCC
  logic: |
    ram m 4x2: address A1 A0; data D1 D0; write W
    Q1 = m.1
    Q0 = m.0
  source: made for the test
- part: rom2
  title: four words of two bits
  families: [ttl]
  pins: A1 A0 Q1 Q0 GND VCC
  logic: |
    rom m 4x2: address A1 A0
    Q1 = m.1
    Q0 = m.0
  source: made for the test
`

// library is the embedded one and the extra parts; reading it takes a while, so it is read once.
var library = sync.OnceValue(func() *part.Library {
	lib, _ := part.Embedded()
	extra, fl := part.Parse("extra.yaml", []byte(extraParts))
	if len(fl) > 0 {
		panic(fl[0])
	}
	lib.Add(extra, false)
	return lib
})

// build reads the text form above. Contents of memories are given by reference designator.
func build(t *testing.T, text string, contents map[string][]byte) *circuit.Circuit {
	t.Helper()
	lib := library()
	b := &board.Board{}
	for line := range strings.Lines(text) {
		f := strings.Fields(line)
		switch {
		case len(f) == 0:
		case f[0] == "rails":
			for _, r := range f[1:] {
				n, v, _ := strings.Cut(r, "=")
				volts, err := strconv.ParseFloat(v, 64)
				if err != nil {
					t.Fatal(err)
				}
				b.Rails = append(b.Rails, board.Rail{Net: n, Volts: volts})
			}
		case f[0] == "inputs":
			for _, n := range f[1:] {
				b.Inputs = append(b.Inputs, board.Name{Text: n})
			}
		case f[0] == "go":
			b.Actions = append(b.Actions, board.Action{Name: "go" + strconv.Itoa(len(b.Actions)), Steps: []board.Step{step(t, f[1:])}})
		case f[0] == "go:":
			last := &b.Actions[len(b.Actions)-1]
			last.Steps = append(last.Steps, step(t, f[1:]))
		default:
			b.Parts = append(b.Parts, onePart(t, f, contents))
		}
	}
	c, fl := circuit.Build(b, lib)
	if c == nil {
		t.Fatalf("%v\n%s", fl, text)
	}
	return c
}

func onePart(t *testing.T, f []string, contents map[string][]byte) board.Part {
	t.Helper()
	p := board.Part{Ref: f[0], Type: f[1], Contents: contents[f[0]]}
	for _, w := range f[2:] {
		k, v, _ := strings.Cut(w, "=")
		switch k {
		case "value":
			ohms, err := strconv.ParseFloat(v, 64)
			if err != nil {
				t.Fatal(err)
			}
			p.Value, p.HasValue = ohms, true
		case "rests":
			p.Closed = v == "closed"
		default:
			p.Pins = append(p.Pins, board.Pin{Pin: k, Net: v})
		}
	}
	return p
}

func step(t *testing.T, words []string) board.Step {
	t.Helper()
	var s board.Step
	for _, w := range words {
		if ref, ok := strings.CutPrefix(w, "+"); ok {
			s.Press = append(s.Press, board.Name{Text: ref})
			continue
		}
		if ref, ok := strings.CutPrefix(w, "-"); ok {
			s.Release = append(s.Release, board.Name{Text: ref})
			continue
		}
		n, v, _ := strings.Cut(w, "=")
		set := board.Set{Net: n}
		switch v {
		case "x", "z":
			set.Value.Letter = v[0]
		case "~":
			s.Pulse = board.Name{Text: n}
			continue
		default:
			set.Value.Number = uint64(v[0] - '0')
		}
		s.Sets = append(s.Sets, set)
	}
	return s
}

var kinds = map[string]Kind{"out-low": OutLow, "out-high": OutHigh, "out-open": OutOpen, "out-unknown": OutUnknown, "in-low": InLow, "in-high": InHigh,
	"in-open": InOpen, "joint-open": JointOpen, "net-low": NetLow, "net-high": NetHigh, "bridge": Bridge, "link-open": LinkOpen, "link-short": LinkShort,
	"link-maybe": LinkMaybe, "dark": Dark, "src-low": SrcLow, "src-high": SrcHigh, "src-dead": SrcDead}

// patch reads  out-low U1.3  or  bridge A B. Links are named by their part and are its first one.
func patch(t *testing.T, c *circuit.Circuit, text string) Patch {
	t.Helper()
	f := strings.Fields(text)
	k, ok := kinds[f[0]]
	if !ok {
		t.Fatalf("no fault %s", f[0])
	}
	p := Patch{Kind: k}
	switch {
	case k <= JointOpen:
		p.At = place(t, c, f[1]).Pin
	case k <= Bridge:
		p.At = place(t, c, f[1]).Net
		if k == Bridge {
			p.To = place(t, c, f[2]).Net
		}
	case k == Dark:
		p.At, _, _ = c.FindLamp(f[1])
	case k >= SrcLow:
		p.At = c.Nets[place(t, c, f[1]).Net].Input
	default:
		i, ok := c.PartByRef(f[1])
		if !ok {
			t.Fatalf("no part %s", f[1])
		}
		p.At = c.Parts[i].Links[0]
	}
	return p
}

func place(t *testing.T, c *circuit.Circuit, name string) circuit.Place {
	t.Helper()
	p, hint := c.FindPlace(name)
	if hint != "" {
		t.Fatalf("%s: %s", name, hint)
	}
	return p
}

// look runs all actions in order and returns the signs of the places, each "NAME=SIGNS", in the order asked.
func look(t *testing.T, c *circuit.Circuit, patches []string, names []string) string {
	t.Helper()
	m := New(c)
	for _, p := range patches {
		m.Patch(patch(t, c, p))
	}
	var all []int
	for i := range c.Actions {
		all = append(all, i)
	}
	var out []string
	frames := m.Run(all)
	for _, name := range names {
		signs := ""
		for _, f := range frames {
			if lamp, ok := strings.CutPrefix(name, "*"); ok {
				i, _, hint := c.FindLamp(lamp)
				if hint != "" {
					t.Fatal(hint)
				}
				signs += string(f.Lit(i))
			} else if p := place(t, c, name); p.Pin != circuit.None {
				signs += string(f.Pin(p.Pin))
			} else {
				signs += string(f.Net(p.Net))
			}
		}
		out = append(out, name+"="+signs)
	}
	return strings.Join(out, " ")
}

// check compares the signs of places (want: "Y=X10 U1.3=X1Z *LP1=X01") on a board with faults.
func check(t *testing.T, text string, patches []string, want string) {
	t.Helper()
	checkWith(t, text, nil, patches, want)
}

func checkWith(t *testing.T, text string, contents map[string][]byte, patches []string, want string) {
	t.Helper()
	var names []string
	for w := range strings.FieldsSeq(want) {
		n, _, _ := strings.Cut(w, "=")
		names = append(names, n)
	}
	if got := look(t, build(t, text, contents), patches, names); got != want {
		t.Errorf("faults %v on%s\n got %s\nwant %s", patches, text, got, want)
	}
}
