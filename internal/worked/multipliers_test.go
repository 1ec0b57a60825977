package worked

// Three multipliers and two adders: X = A·C (M1), Y = B·D (M2), Z = C·E (M3), F = X+Y (A1), G = Y+Z (A2), with A=3 B=2 C=2 D=3 E=3.
// F should be 12 and reads 10; G should be 12 and is. Davis; de Kleer and Williams, "Diagnosing Multiple Faults", Artificial
// Intelligence 32 (1987) 97-130.
//
// Here a multiplier is a ROM that a part file describes, an adder is logic of the same file, and every number is four lines wide, sums
// modulo 16: wide enough for all that is observed.

import (
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	"halfsplit/internal/core/predict"
)

const polyboxParts = `
- part: mul2
  title: 2 by 2 bit multiplier
  families: [ttl]
  package: DIP10
  pins: A1 A0 B1 B0 GND P0 P1 P2 P3 VCC
  logic: |
    rom m 16x4: address A1 A0 B1 B0
    each 0 1 2 3: P# = m.#
  source: the product itself
- part: add4
  title: 4-bit adder without carry out
  families: [ttl]
  package: DIP14
  pins: A3 A2 A1 A0 B3 B2 GND B1 B0 S0 S1 S2 S3 VCC
  logic: |
    c1 = A0 & B0
    c2 = A1 & B1 | (A1 | B1) & c1
    c3 = A2 & B2 | (A2 | B2) & c2
    S0 = A0 ^ B0
    S1 = A1 ^ B1 ^ c1
    S2 = A2 ^ B2 ^ c2
    S3 = A3 ^ B3 ^ c3
  source: the sum itself
`

const polyboxBoard = `
board: Three multipliers and two adders
rails: {VCC: 5 V, GND: 0 V}
inputs: [a1, a0, b1, b0, c1, c0, d1, d0, e1, e0]
buses: {A: [a1, a0], B: [b1, b0], C: [c1, c0], D: [d1, d0], E: [e1, e0]}
parts:
  M1: {type: mul2, contents: products.bin, pins: {A1: a1, A0: a0, B1: c1, B0: c0, P3: x3, P2: x2, P1: x1, P0: x0}}
  M2: {type: mul2, contents: products.bin, pins: {A1: b1, A0: b0, B1: d1, B0: d0, P3: y3, P2: y2, P1: y1, P0: y0}}
  M3: {type: mul2, contents: products.bin, pins: {A1: c1, A0: c0, B1: e1, B0: e0, P3: z3, P2: z2, P1: z1, P0: z0}}
  A1: {type: add4, pins: {A3: x3, A2: x2, A1: x1, A0: x0, B3: y3, B2: y2, B1: y1, B0: y0, S3: f3, S2: f2, S1: f1, S0: f0}}
  A2: {type: add4, pins: {A3: y3, A2: y2, A1: y1, A0: y0, B3: z3, B2: z2, B1: z1, B0: z0, S3: g3, S2: g2, S1: g1, S0: g0}}
start: power-up
actions:
  power-up:
    steps:
      - {A: 3, B: 2, C: 2, D: 3, E: 3}
  feed:
    steps:
      - {A: 3, B: 2, C: 2, D: 3, E: 3}
`

// polybox is the machine in its one experiment.
func polybox(t *testing.T) *machine {
	t.Helper()
	var products []byte
	for k := range 16 {
		products = append(products, byte(k>>2*(k&3)))
	}
	b := boardFrom(t, polyboxBoard, map[string][]byte{"products.bin": products})
	return newMachine(t, build(t, b, polyboxParts), "feed", "A1", "A2", "M1", "M2", "M3")
}

// lines are the nets of a number, most significant first.
func lines(letter string) []string {
	return []string{letter + "3", letter + "2", letter + "1", letter + "0"}
}

// numbers reads the five results of hypotheses; -1 where a line is not known.
func (x *machine) numbers(letter string, shown []string) []int {
	out := make([]int, len(shown))
	for i, s := range shown {
		for _, bit := range s {
			out[i] = out[i]<<1 | int(bit-'0')
			if bit == 'X' {
				out[i] = -1
				break
			}
		}
	}
	return out
}

// polyboxSeen is what the example begins with.
func polyboxSeen() seen { return seen{}.with(lines("f"), 10).with(lines("g"), 12) }

func TestPolyboxGood(t *testing.T) {
	x := polybox(t)
	for letter, want := range map[string]int{"x": 6, "y": 6, "z": 6, "f": 12, "g": 12} {
		if got := x.numbers(letter, x.shows([][]predict.Way{nil}, lines(letter)))[0]; got != want {
			t.Errorf("%s = %d on the good board, want %d", letter, got, want)
		}
	}
}

func TestPolyboxDiagnoses(t *testing.T) {
	x := polybox(t)
	checked := 0
	for _, k := range []struct {
		after                string
		obs                  seen
		conflicts, diagnoses string // "": not published
	}{
		{"F=10", seen{}.with(lines("f"), 10), "A1,M1,M2", "A1 M1 M2"},
		{"F=10 G=12", polyboxSeen(), "A1,M1,M2 A1,A2,M1,M3", "A1 M1 A2,M2 M2,M3"},
		{"X=4", polyboxSeen().with(lines("x"), 4), "M1", "M1"},
		{"X=6", polyboxSeen().with(lines("x"), 6), "A1,M2 A1,A2,M3", "A1 A2,M2 M2,M3"},
		{"X=5", polyboxSeen().with(lines("x"), 5), "M1 A1,M2 A1,A2,M3", "A1,M1 A2,M1,M2 M1,M2,M3"},
		{"X=9", polyboxSeen().with(lines("x"), 9), "M1 A1,M2 A1,A2,M3", "A1,M1 A2,M1,M2 M1,M2,M3"},
		{"Y=4", polyboxSeen().with(lines("y"), 4), "", "A2,M2 M2,M3"},
		{"Y=6", polyboxSeen().with(lines("y"), 6), "", "A1 M1"},
		{"Z=6", polyboxSeen().with(lines("z"), 6), "", "A1 M1 A2,M2"},
		{"Z=8", polyboxSeen().with(lines("z"), 8), "", "M2,M3 A1,A2,M3 A2,M1,M3"},
	} {
		checked++
		if got := sorted(x.diagnoses(k.obs)); got != sorted(k.diagnoses) {
			t.Errorf("after %s: diagnoses %s, want %s", k.after, got, k.diagnoses)
		}
		if k.conflicts == "" {
			continue
		}
		checked++
		if got := sorted(x.conflicts(k.obs)); got != sorted(k.conflicts) {
			t.Errorf("after %s: conflicts %s, want %s", k.after, got, k.conflicts)
		}
	}
	if checked != 16 {
		t.Errorf("%d lists checked", checked)
	}
}

func sorted(sets string) string {
	w := strings.Fields(sets)
	slices.Sort(w)
	return strings.Join(w, " ")
}

// state is a set of bad parts with its probability and how that splits by the values of X, Y and Z.
type state struct {
	p  float64
	by map[string]map[int]float64
}

// posterior weighs all 32 states of health: prior p for each bad part, and each level that its four outputs may hold alike (eps is
// 1/16). Keys are written like "A1,M2".
func (x *machine) posterior(p float64) map[string]*state {
	out := map[string]*state{}
	total := 0.0
	for _, set := range x.subsets(5) {
		worlds := x.worlds(set, polyboxSeen())
		if len(worlds) == 0 {
			continue
		}
		each := 1.0
		for _, part := range x.parts {
			if slices.Contains(set, part) {
				each *= p / 16
			} else {
				each *= 1 - p
			}
		}
		s := &state{each * float64(len(worlds)), map[string]map[int]float64{}}
		for _, letter := range []string{"x", "y", "z"} {
			s.by[letter] = map[int]float64{}
			for _, v := range x.numbers(letter, x.shows(worlds, lines(letter))) {
				s.by[letter][v] += each
			}
		}
		total += s.p
		out[strings.Join(set, ",")] = s
	}
	for _, s := range out {
		s.p /= total
		for _, m := range s.by {
			for v := range m {
				m[v] /= total
			}
		}
	}
	return out
}

func bits(p []float64) float64 {
	slices.Sort(p) // the order of a map must not show in the last digit
	h, total := 0.0, 0.0
	for _, v := range p {
		total += v
	}
	for _, v := range p {
		if v > 0 {
			h -= v / total * math.Log2(v/total)
		}
	}
	return h
}

// left is the entropy that is expected to remain once a number has been read.
func left(states map[string]*state, letter string) float64 {
	h := 0.0
	for v := range 16 {
		var ps []float64
		sum := 0.0
		for _, k := range slices.Sorted(maps.Keys(states)) {
			p := states[k].by[letter][v]
			ps = append(ps, p)
			sum += p
		}
		if sum > 0 {
			h += sum * bits(ps)
		}
	}
	return h
}

// The figures were computed for this table by an independent program over the same assumptions; the paper's own table was not at hand. Where
// X was read best is published (Edinburgh, Knowledge Engineering, slide 121).
func TestPolyboxEntropies(t *testing.T) {
	x := polybox(t)
	checked := 0
	near := func(what string, got, want, within float64) {
		t.Helper()
		checked++
		if math.Abs(got-want) > within {
			t.Errorf("%s: %.6f, want %.6f", what, got, want)
		}
	}
	for _, k := range []struct {
		p                            float64
		single, both, double         float64
		now, afterX, afterY, afterZ  float64
		marginM1, marginM2, marginA2 float64
		xIs4, xIs6, xElse            float64
	}{
		{0.01, 0.496225, 0.005012, 0.000313, 1.0714, 0.0383, 1.0635, 1.0670, 0.5022, 0.0013, 0.0010, 0.4972, 0.4978, 0.0050},
		{p: 0.05, single: 0.480602, both: 0.025295, double: 0.001581, now: 1.2796, afterX: 0.1640, afterY: 1.2442, afterZ: 1.2578},
	} {
		st := x.posterior(k.p)
		near("{M1}", st["M1"].p, k.single, 5e-7)
		near("{A1}", st["A1"].p, k.single, 5e-7)
		near("{A1,M1}", st["A1,M1"].p, k.both, 5e-7)
		doubles := 0
		for name, s := range st {
			if strings.Count(name, ",") == 1 && name != "A1,M1" && math.Abs(s.p-k.double) < 5e-7 {
				doubles++
			}
		}
		near("doubles alike", float64(doubles), 8, 0)
		var all []float64
		margin, xs := map[string]float64{}, map[int]float64{}
		for _, name := range slices.Sorted(maps.Keys(st)) {
			all = append(all, st[name].p)
			for _, part := range strings.Split(name, ",") {
				margin[part] += st[name].p
			}
			v := -1 // X may be anything
			if x := st[name].by["x"]; len(x) == 1 {
				v = slices.Collect(maps.Keys(x))[0]
			}
			xs[v] += st[name].p
		}
		near("entropy", bits(all), k.now, 5e-5)
		ax, ay, az := left(st, "x"), left(st, "y"), left(st, "z")
		near("after X", ax, k.afterX, 5e-5)
		near("after Y", ay, k.afterY, 5e-5)
		near("after Z", az, k.afterZ, 5e-5)
		if !(ax < ay/5 && ay < az) {
			t.Errorf("X should tell most by far, then Y, then Z: %.4f %.4f %.4f bits left", ax, ay, az)
		}
		if k.marginM1 == 0 {
			continue
		}
		for part, want := range map[string]float64{"M1": k.marginM1, "A1": k.marginM1, "M2": k.marginM2, "M3": k.marginA2, "A2": k.marginA2} {
			near("marginal "+part, margin[part], want, 5e-5)
		}
		near("X predicted 4", xs[4], k.xIs4, 5e-5)
		near("X predicted 6", xs[6], k.xIs6, 5e-5)
		near("X not predicted", xs[-1], k.xElse, 5e-5)
	}
	if checked != 2*8+8 {
		t.Errorf("%d figures checked", checked)
	}
}
