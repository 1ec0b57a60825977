package differ

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"halfsplit/internal/core/board"
)

// parse reads U1:74LS00 1=A 2=B; U2:… into a board.
func parse(text string) *board.Board {
	b := &board.Board{}
	for s := range strings.SplitSeq(text, ";") {
		f := strings.Fields(s)
		if len(f) == 0 {
			continue
		}
		ref, typ, _ := strings.Cut(f[0], ":")
		p := board.Part{Ref: ref, Type: typ}
		for _, w := range f[1:] {
			pin, net, _ := strings.Cut(w, "=")
			p.Pins = append(p.Pins, board.Pin{Pin: pin, Net: net})
		}
		b.Parts = append(b.Parts, p)
	}
	return b
}

func same(a, b *board.Board) Difference { return Boards(a, b, wires(a), wires(b)) }

func wires(b *board.Board) map[string]string {
	out := map[string]string{}
	for _, p := range b.Parts {
		for _, w := range p.Pins {
			if w.Net != "-" {
				out[p.Ref+"."+w.Pin] = w.Net
			}
		}
	}
	return out
}

func show(d Difference) string {
	var out []string
	for _, r := range d.Added {
		out = append(out, "+"+r)
	}
	for _, r := range d.Removed {
		out = append(out, "-"+r)
	}
	for _, c := range append(append(append([]Change{}, d.Changed...), d.Inputs...), d.Rails...) {
		out = append(out, fmt.Sprintf("%s %s %s>%s", c.Part, c.What, c.From, c.To))
	}
	for _, n := range d.Nets {
		out = append(out, fmt.Sprintf("%s %s>%s +%s -%s", n.Kind, strings.Join(n.A, ","), strings.Join(n.B, ","), strings.Join(n.Plus, ","), strings.Join(n.Minus, ",")))
	}
	return strings.Join(out, "; ")
}

func TestBoards(t *testing.T) {
	for i, k := range []struct{ a, b, want string }{
		{"U1:74LS00 1=A 2=B; U2:x 1=A", "U2:x 1=A; U1:74LS00 2=B 1=A", ""},
		{"U1:74LS00 1=A 2=B; U2:x 1=A", "U1:74LS00 1=Q 2=B; U2:x 1=Q", "renamed A>Q + -"},
		// two nets that swap their names are two renamed nets, not four moved pins
		{"U1:a 1=A 2=B; U2:b 1=A 2=B", "U1:a 1=B 2=A; U2:b 1=B 2=A", "renamed A>B + -; renamed B>A + -"},
		{"U1:a 1=A; U2:b 1=A; U3:c 1=A 2=A", "U1:a 1=A; U2:b 1=A; U3:c 1=Z 2=A", "rewired A>A + -U3.1; split A>Z +U3.1 -"},
		{"U1:a 1=A 2=A; U2:b 1=B", "U1:a 1=A 2=A; U2:b 1=A", "rewired A>A +U2.1 -; joined B>A + -U2.1"},
		{"U1:74LS00 1=A", "U1:74HC00 1=A; U10:q 1=A; U9:q 1=C", "+U9; +U10; U1 type 74LS00>74HC00; rewired A>A +U10.1 -; new >C +U9.1 -"},
		{"U1:a 1=A 2=Q; U5:e 1=A 2=Z", "U1:a 1=A 2=-", "-U5; rewired A>A + -U5.1; gone Q> + -U1.2; gone Z> + -U5.2"},
		{"U1:a 1=A 2=B", "U1:a 1=A 2=A", "rewired A>A +U1.2 -; joined B>A + -U1.2"},
	} {
		if got := show(same(parse(k.a), parse(k.b))); got != k.want {
			t.Errorf("case %d:\n%s\nwant\n%s", i, got, k.want)
		}
	}
}

func TestValuesRailsInputs(t *testing.T) {
	a, b := parse("R1:resistor 1=A 2=V; U1:x 1=A 2=V"), parse("R1:resistor 1=A 2=VCC; U1:x 1=A 2=VCC")
	a.Parts[0].Value, a.Parts[0].HasValue = 4700, true
	b.Parts[0].Value, b.Parts[0].HasValue = 1000, true
	a.Rails, b.Rails = []board.Rail{{Net: "V", Volts: 5}}, []board.Rail{{Net: "VCC", Volts: 5}, {Net: "GND"}}
	a.Inputs, b.Inputs = []board.Name{{Text: "A"}}, []board.Name{{Text: "B"}}
	want := "R1 value 4.7k>1k;  input A>;  input >B; GND rail >0 V; renamed V>VCC + -"
	if got := show(same(a, b)); got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
}

// Renaming nets and shuffling parts and pins is never anything but renaming, and a board differs from itself in nothing.
func TestRenamedAtRandom(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 7))
	for round := range 200 {
		a := &board.Board{}
		for u := range 12 {
			p := board.Part{Ref: "U" + itoa(u), Type: "x"}
			for k := range 14 {
				p.Pins = append(p.Pins, board.Pin{Pin: itoa(k + 1), Net: "N" + itoa(rnd.IntN(40))})
			}
			a.Parts = append(a.Parts, p)
		}
		used := map[string]bool{}
		b := &board.Board{}
		for _, p := range a.Parts {
			q := p
			q.Pins = nil
			for _, w := range p.Pins {
				used[w.Net] = true
				q.Pins = append(q.Pins, board.Pin{Pin: w.Pin, Net: "M" + w.Net})
			}
			rnd.Shuffle(len(q.Pins), func(i, j int) { q.Pins[i], q.Pins[j] = q.Pins[j], q.Pins[i] })
			b.Parts = append(b.Parts, q)
		}
		rnd.Shuffle(len(b.Parts), func(i, j int) { b.Parts[i], b.Parts[j] = b.Parts[j], b.Parts[i] })
		if d := same(a, a); !d.Empty() {
			t.Fatalf("round %d: %s", round, show(d))
		}
		d := same(a, b)
		for _, n := range d.Nets {
			if n.Kind != Renamed || n.B[0] != "M"+n.A[0] {
				t.Fatalf("round %d: %s", round, show(d))
			}
		}
		if len(d.Nets) != len(used) || len(d.Added)+len(d.Removed)+len(d.Changed) > 0 {
			t.Fatalf("round %d: %d nets, want %d", round, len(d.Nets), len(used))
		}
	}
}
