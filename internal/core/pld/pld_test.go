package pld_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/pld"
	"halfsplit/internal/core/sim"
)

func pinName(n int) string { return fmt.Sprintf("p%d", n) }

// chart is a map as a listing gives it: rows of blown fuses by first fuse, with the columns that stay intact; other rows are intact.
type chart struct {
	device string
	fuses  int
	width  int
	rows   map[int][]int
	states map[int]string // further fuses, as a list of states
}

func (c chart) set() []byte {
	f := make([]byte, c.fuses)
	for at, joined := range c.rows {
		for i := range c.width {
			f[at+i] = 1
		}
		for _, k := range joined {
			f[at+k] = 0
		}
	}
	for at, s := range c.states {
		for i := range s {
			f[at+i] = s[i] - '0'
		}
	}
	return f
}

func ones(n int) string { return strings.Repeat("1", n) }

// Maps that logic compilers made of equations, as fuse numbers, beside those equations: the tests of Galette and GALasm for the GALs (reg, complex_in,
// combinatorial, arsp, invertedreg), read in July 2019 and later versions; one term of the published map of a home computer's 82S100 and
// its published equation. The text expected is the equation in pin numbers.
func TestCompiledExamples(t *testing.T) {
	cases := []struct {
		name string
		c    chart
		want []string
	}{
		{"GAL16V8 with registers: O2.R = I4 /I5 + /I4 I5 on pin 14, /O4.R = I0 + … + I5 on pin 16", chart{"16V8", 2194, 32, map[int][]int{
			768: {0}, 800: {4}, 832: {8}, 864: {12}, 896: {16}, 928: {20}, 1280: {16, 21}, 1312: {17, 20}, 1792: {0, 4}},
			map[int]string{2048: "00001111", 2120: "00000000", 2128: ones(64), 2192: "01"}},
			[]string{"store q16: rise p1 -> p2 | p3 | p4 | p5 | p6 | p7", "store q14: rise p1 -> !(p6 & !p7 | !p6 & p7)", "store q12: rise p1 -> !(p2 & p3)",
				"tri p16 = !q16 when !p11", "tri p14 = !q14 when !p11", "tri p12 = !q12 when !p11"}},
		{"GAL16V8 complex: O0 = I0 I1 + I6 on pin 12 with I6 on pin 15, /O4 = … on pin 16", chart{"16V8", 2194, 32, map[int][]int{
			768: nil, 800: {0}, 832: {4}, 864: {8}, 896: {12}, 928: {16}, 960: {20}, 1280: nil, 1312: {16, 21}, 1344: {17, 20}, 1536: nil, 1568: {8}, 1600: {12}, 1792: nil, 1824: {0, 4}, 1856: {18}},
			map[int]string{2048: "00000111", 2120: "00011111", 2128: ones(64), 2192: "11"}},
			[]string{"p16 = !(p2 | p3 | p4 | p5 | p6 | p7)", "p14 = p6 & !p7 | !p6 & p7", "p13 = p4 | p5", "p12 = p2 & p3 | p15"}},
		{"GAL16V8 simple: O1 = I2 + I3 + I6 on pin 13 with I6 on pin 17", chart{"16V8", 2194, 32, map[int][]int{
			1024: {0, 4, 8, 12, 16, 20}, 1280: {16, 21}, 1312: {17, 20}, 1536: {8}, 1568: {12}, 1600: {14}, 1792: {0, 4}},
			map[int]string{2048: "00001111", 2120: "00100000", 2128: ones(64), 2192: "10"}},
			[]string{"p15 = p2 & p3 & p4 & p5 & p6 & p7", "p13 = p4 | p5 | p17", "p12 = p2 & p3", "p19 = 1"}},
		{"GAL20V8 complex: /O5 = /I7 + I8 on pin 20 with I8 on pin 14, O0 = I0 I1 + I9 on pin 15 with I9 on pin 18", chart{"20V8", 2706, 40, map[int][]int{
			640: nil, 680: {30}, 720: {34}, 960: nil, 1000: {0}, 2240: nil, 2280: {0, 4}, 2320: {22}},
			map[int]string{2560: "00000111", 2632: "00111111", 2640: ones(64), 2704: "11"}},
			[]string{"p15 = p2 & p3 | p18", "p19 = !(p2)", "p20 = !(p16 | p14)"}},
		{"GAL22V10: AR = I0, SP = I1, /O5.R = /I7 + I8 on pin 20, O6.R = O5 on pin 21", chart{"22V10", 5892, 44, map[int][]int{
			0: {4}, 924: nil, 968: {14}, 1496: nil, 1540: {37}, 1584: {40}, 5368: nil, 5412: {4, 8}, 5764: {8}},
			map[int]string{5808: "00101000000010101010"}},
			[]string{"store q21: while p2 -> 0; rise p1 -> p3 | !q20", "store q20: while p2 -> 0; rise p1 -> p3 | !p10 | p11", "store q14: while p2 -> 0; rise p1 -> p3 | p2 & p3", "p14 = q14", "p20 = !q20", "p21 = q21"}},
		{"GAL22V10: /Q1.R = /Q2, /Q3.R = Q4, /Q5.R = /Q6, /Q7.R = Q8 with Q6 and Q8 active high", chart{"22V10", 5892, 44, map[int][]int{
			924: nil, 968: {4, 8}, 1496: nil, 1540: {12}, 2156: nil, 2200: {4, 8}, 2904: nil, 2948: {18}, 3652: nil, 3696: {4, 8}, 4312: nil, 4356: {26}, 4884: nil, 4928: {4, 8}, 5368: nil, 5412: {35}},
			map[int]string{5808: "00001000100000000000"}},
			[]string{"store q14: rise p1 -> q15", "p15 = !q15", "store q16: rise p1 -> !q17", "p17 = !q17", "store q18: rise p1 -> !q19", "p19 = q19"}},
		{"82S100: F1 = /(I5 /I6 I7 I1 I2 I13 /I10 I11)", chart{"82S100", 1928, 40, map[int][]int{
			0: {3, 5, 11, 12, 15, 20, 23, 27, 32, 33}}, map[int]string{1920: "01000000"}},
			[]string{"t0 = p8 & p7 & p4 & !p3 & p2 & !p25 & p24 & p22", "tri p18 = t0 when !p19", "tri p17 = !(t0) when !p19", "tri p10 = 0 when !p19"}},
	}
	for _, c := range cases {
		text, _, err := pld.Logic(c.c.device, c.c.set(), pinName)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		lines := strings.Split(text, "\n")
		for _, w := range c.want {
			if !slices.Contains(lines, w) {
				t.Errorf("%s: no line %q in\n%s", c.name, w, text)
			}
		}
	}
	if len(cases) != 7 {
		t.Error(len(cases))
	}
}

// A PAL16L8: a term joined to both lines of a pair is never 1, a row of blown fuses always; an enable that is never 1 leaves an input; the array
// hears the pin, not what drives it.
func TestRows(t *testing.T) {
	rows := map[int][]int{}
	for _, c := range []int{0, 256, 512} { // pins 19, 18, 17: always on
		rows[c] = nil
	}
	rows[32], rows[64] = []int{0, 1}, []int{2}    // pin 19: never, or pin 1
	rows[288] = []int{7}                          // pin 18: its own complement, an inverter on itself
	rows[544] = nil                               // pin 17: always 1
	rows[768], rows[800] = []int{4}, []int{4, 10} // pin 16 while pin 3: pin 3 and pin 17
	rows[1056] = []int{28}                        // pin 15 has a term, but its enable is never 1
	text, pins, err := pld.Logic("16L8", chart{"16L8", 2048, 32, rows, nil}.set(), pinName)
	want := "p19 = !(p1)\ntri p18 = !(!p18) when 1\ntri p17 = 0 when 1\ntri p16 = !(p17) when p3\n"
	if err != nil || text != want {
		t.Errorf("%v\n%s", err, text)
	}
	if got := fmt.Sprint(pins.Inputs); got != "[1 2 3 4 5 6 7 8 9 11 13 14 15 17 18]" {
		t.Errorf("inputs %s", got)
	}
}

func TestWrongMaps(t *testing.T) {
	for _, c := range []struct {
		device string
		fuses  int
		say    string
	}{{"16L8", 2194, "it fits a 16V8"}, {"16V8", 2048, "it fits a 16L8, 16R4, 16R6, 16R8"}, {"16L8", 7, "no part that is known has so many"}, {"18P8", 2600, "no fuse array 18P8"}, {"16V8", 2194, "both 0"}, {"20V8", 2706, "2704 and 2705"}} {
		if _, _, err := pld.Logic(c.device, make([]byte, c.fuses), pinName); err == nil || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s with %d fuses: %v", c.device, c.fuses, err)
		}
	}
}

// Every record of the library with a fuse array takes any map: as it comes from the maker, all blown, and random ones, dense and sparse. None takes
// long, whatever the fuses.
func TestAnyMap(t *testing.T) {
	lib := library(t)
	rng := rand.New(rand.NewPCG(1, 2))
	devices, maps := map[string]bool{}, 0
	for _, r := range lib.Types() {
		if r.Array == "" {
			continue
		}
		devices[r.Array] = true
		for _, n := range pld.Total(r.Array) {
			for _, density := range []float64{0, 0.03, 0.06, 0.1, 0.5, 1} {
				f := make([]byte, n)
				for i := range f {
					if rng.Float64() >= density {
						f[i] = 1
					}
				}
				if strings.HasSuffix(r.Array, "V8") {
					f[n-1] = 1 // one of its modes
				}
				began := time.Now()
				p, err := r.Programmed(f)
				if err != nil {
					t.Fatalf("%s, %.2f intact: %v", r.Name, density, err)
				}
				if p.Opaque || r.Opaque != true || len(p.Pins) != len(r.Pins) {
					t.Errorf("%s: opaque %v, record opaque %v", r.Name, p.Opaque, r.Opaque)
				}
				b := &board.Board{Rails: []board.Rail{{Net: "VCC", Volts: 5}, {Net: "GND"}}, Parts: []board.Part{{Ref: "U1", Type: r.Name, Fuses: f, ContentsFile: "x.jed"}}, Actions: []board.Action{{Name: "a"}}}
				for k, p := range r.Pins {
					if !r.Nodes[p.Node].Supply {
						b.Parts[0].Pins = append(b.Parts[0].Pins, board.Pin{Pin: fmt.Sprint(k + 1), Net: pinName(k + 1)})
						b.Inputs = append(b.Inputs, board.Name{Text: pinName(k + 1)})
					}
				}
				c, fl := circuit.Build(b, lib)
				if c == nil {
					t.Fatal(fl)
				}
				sim.Compile(c)
				if d := time.Since(began); d > 20*time.Second {
					t.Errorf("%s, %.2f intact: %v", r.Name, density, d)
				} else if d > 200*time.Millisecond {
					t.Logf("%s, %.2f intact: %v", r.Name, density, d)
				}
				maps++
			}
		}
	}
	if len(devices) != len(pld.Devices()) || maps != 138 {
		t.Errorf("%d of %d arrays, %d maps", len(devices), len(pld.Devices()), maps)
	}
}
