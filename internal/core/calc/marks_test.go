package calc

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// E192 of IEC 60063, from the table in the public encyclopedia's article on E-series; E96 is every second value of it, E48 every fourth.
const e192Table = `100 101 102 104 105 106 107 109 110 111 113 114 115 117 118 120 121 123 124 126 127 129 130 132 133 135 137 138 140 142 143 145
147 149 150 152 154 156 158 160 162 164 165 167 169 172 174 176 178 180 182 184 187 189 191 193 196 198 200 203 205 208 210 213
215 218 221 223 226 229 232 234 237 240 243 246 249 252 255 258 261 264 267 271 274 277 280 284 287 291 294 298 301 305 309 312
316 320 324 328 332 336 340 344 348 352 357 361 365 370 374 379 383 388 392 397 402 407 412 417 422 427 432 437 442 448 453 459
464 470 475 481 487 493 499 505 511 517 523 530 536 542 549 556 562 569 576 583 590 597 604 612 619 626 634 642 649 657 665 673
681 690 698 706 715 723 732 741 750 759 768 777 787 796 806 816 825 835 845 856 866 876 887 898 909 920 931 942 953 965 976 988`

func TestSeriesAreIEC60063(t *testing.T) {
	var all []int
	for _, w := range strings.Fields(e192Table) {
		v, err := strconv.Atoi(w)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, v)
	}
	if len(all) != 192 {
		t.Fatalf("the table has %d values", len(all))
	}
	want := map[string][]int{"E192": all, "E12": {100, 120, 150, 180, 220, 270, 330, 390, 470, 560, 680, 820}, "E6": {100, 150, 220, 330, 470, 680}, "E3": {100, 220, 470},
		"E24": {100, 110, 120, 130, 150, 160, 180, 200, 220, 240, 270, 300, 330, 360, 390, 430, 470, 510, 560, 620, 680, 750, 820, 910}}
	for i := 0; i < 192; i += 2 {
		want["E96"] = append(want["E96"], all[i])
		if i%4 == 0 {
			want["E48"] = append(want["E48"], all[i])
		}
	}
	values := 0
	for _, s := range seriesWords {
		if got := Series(s); !slices.Equal(got, want[s]) {
			t.Errorf("%s: %v", s, got)
		}
		values += len(want[s])
	}
	if values != 3+6+12+24+48+96+192 {
		t.Error(values)
	}
	for _, s := range []string{"", "E", "E5", "E1", "e12", "E-3", "E0", "E192 "} {
		if Series(s) != nil {
			t.Errorf("%q is a series", s)
		}
	}
}

// Around against a plain search through the neighbouring decades.
func TestAround(t *testing.T) {
	n := 0
	for _, s := range seriesWords {
		var all []float64
		for d := -5; d < 5; d++ {
			for _, m := range Series(s) {
				all = append(all, scaled(m, d))
			}
		}
		for v := 1e-2; v < 1e5; v *= 1.0137 {
			lo, hi := 0.0, math.Inf(1)
			for _, e := range all {
				if e <= v {
					lo = math.Max(lo, e)
				}
				if e >= v {
					hi = math.Min(hi, e)
				}
			}
			if a, b, ok := Around(s, v); !ok || !near(a, lo) || !near(b, hi) {
				t.Errorf("%s around %g: %g %g %v, want %g %g", s, v, a, b, ok, lo, hi)
			}
			n++
		}
		for _, e := range all {
			if a, b, _ := Around(s, e); a != e || b != e {
				t.Errorf("%s around its own %g: %g %g", s, e, a, b)
			}
			n++
		}
	}
	for _, v := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if _, _, ok := Around("E12", v); ok {
			t.Errorf("around %g", v)
		}
	}
	if n != 12105 {
		t.Error(n)
	}
}

// Every colour in every place, against the digits of IEC 60062 written out once more here.
func TestColourCodeWhole(t *testing.T) {
	digits := strings.Fields("black brown red orange yellow green blue violet grey white")
	powers := map[string]int{"gold": -1, "silver": -2, "pink": -3}
	for i, d := range digits {
		powers[d] = i
	}
	tolerance := map[string]float64{"brown": 1, "red": 2, "orange": 0.05, "yellow": 0.02, "green": 0.5, "blue": 0.25, "violet": 0.1, "grey": 0.01, "gold": 5, "silver": 10}
	read, refused := 0, 0
	check := func(words []string, want, tol float64) {
		m, err := Bands(words)
		if err != nil || math.Abs(m.Value-want) > 1e-9*want || math.Abs(m.High*100-tol) > 1e-9 {
			t.Errorf("%v: %+v %v, want %g %g %%", words, m, err, want, tol)
		}
		read++
	}
	for a, ca := range digits {
		for b, cb := range digits {
			for mul, p := range powers {
				want := float64(a*10+b) * math.Pow10(p)
				if a == 0 {
					if _, err := Bands([]string{ca, cb, mul}); err == nil {
						t.Errorf("%s first is read", ca)
					}
					refused++
					continue
				}
				check([]string{ca, cb, mul}, want, 20)
				for c, tol := range tolerance {
					check([]string{ca, cb, mul, c}, want, tol)
				}
				for d, cd := range digits {
					check([]string{ca, cb, cd, mul, "brown"}, float64(a*100+b*10+d)*math.Pow10(p), 1)
				}
			}
		}
	}
	for _, w := range [][]string{{"gold", "red", "red"}, {"red", "red"}, {"red", "red", "red", "black"}, {"red", "red", "red", "white"}, {"red", "red", "red", "pink"}, {"red", "red", "silver", "gold", "gold"},
		{"red", "red", "red", "red", "red", "gold"}, {"red", "red", "red", "red", "red", "red", "red"}, {"mauve", "red", "red"}, {}} {
		if m, err := Bands(w); err == nil {
			t.Errorf("%v is read as %+v", w, m)
		}
		refused++
	}
	m, err := Bands(strings.Fields("brown black black red brown red"))
	if err != nil || m.Value != 10000 || m.PPM != 50 || m.High != 0.01 {
		t.Errorf("six bands: %+v %v", m, err)
	}
	if read != 9*10*13*21 || refused != 130+10 {
		t.Error(read, refused)
	}
}

// Value to bands and back, for every E-series value of the usual decades.
func TestBandsThereAndBack(t *testing.T) {
	n := 0
	for _, c := range []struct {
		series string
		digits int
	}{{"E24", 2}, {"E192", 3}} {
		for d := -3; d <= 5; d++ {
			for _, m := range Series(c.series) {
				v := scaled(m, d)
				b, ok := BandsOf(v, c.digits)
				if !ok {
					t.Errorf("%g has no bands", v)
					continue
				}
				if c.digits == 3 {
					b = append(b, "brown")
				}
				if got, err := Bands(b); err != nil || !near(got.Value, v) {
					t.Errorf("%g: %v reads %g %v", v, b, got.Value, err)
				}
				n++
			}
		}
	}
	if n != 9*(24+192) {
		t.Error(n)
	}
	for _, v := range []float64{0, -1, math.NaN(), math.Inf(1), 4.71, 1e20, 1e-6} {
		if b, ok := BandsOf(v, 2); ok {
			t.Errorf("%g has bands %v", v, b)
		}
	}
}

func TestEIA96Whole(t *testing.T) {
	n := 0
	for i, e := range Series("E96") {
		for l, p := range eia96 {
			if l == "R" { // 10R is ten ohms; its other reading is told
				continue
			}
			code := fmt.Sprintf("%02d%s", i+1, l)
			m, _, err := ResistorMark(code)
			if err != nil || !near(m.Value, float64(e)*math.Pow10(p)) || m.High != 0.01 {
				t.Errorf("%s: %+v %v", code, m, err)
			}
			if back := eia96Of(m.Value); back[:2] != code[:2] || eia96[back[2:]] != p {
				t.Errorf("%s: %g is %s", code, m.Value, back)
			}
			n++
		}
	}
	if n != 96*11 {
		t.Error(n)
	}
}

func TestPrintedMarks(t *testing.T) {
	n := 0
	for mark, want := range map[string]float64{"4K7": 4700, "R47": 0.47, "2M2": 2.2e6, "4R7J": 4.7, "100R": 100, "470K": 470e3, "2M2K": 2.2e6, "1L5": 1.5e-3, "472": 4700, "4701": 4700, "1002F": 10e3, "000": 0,
		"01C": 10e3, "68X": 49.9, "4.7k": 4700, "330 Ω": 330, "brown black red": 1000, "yellow-violet-orange-gold": 47e3, "ye vt og gd": 47e3, "gold red violet yellow": 4700, "black": 0} {
		m, _, err := ResistorMark(mark)
		if err != nil || math.Abs(m.Value-want) > 1e-9*want {
			t.Errorf("%s: %+v %v, want %g", mark, m, err, want)
		}
		n++
	}
	for mark, want := range map[string]Mark{"104": {Value: 100e-9}, "104K": {Value: 100e-9, Low: 0.1, High: 0.1}, "104Z": {Value: 100e-9, Low: 0.2, High: 0.8}, "2A104J": {Value: 100e-9, Low: 0.05, High: 0.05, Volts: 100},
		"1H223M": {Value: 22e-9, Low: 0.2, High: 0.2, Volts: 50}, "4n7": {Value: 4.7e-9}, "4n7J63": {Value: 4.7e-9, Low: 0.05, High: 0.05, Volts: 63}, "p68": {Value: 0.68e-12}, "47": {Value: 47e-12}, "47J": {Value: 47e-12, Low: 0.05, High: 0.05},
		"4R7D": {Value: 4.7e-12, Absolute: 0.5e-12}, "479": {Value: 4.7e-12}, "0.1": {Value: 100e-9}, ".022K400": {Value: 22e-9, Low: 0.1, High: 0.1, Volts: 400}, "100 µF": {Value: 100e-6}, "µ47": {Value: 0.47e-6}, "100nF": {Value: 100e-9}} {
		m, _, err := CapacitorMark(mark)
		m.How = ""
		if err != nil || math.Abs(m.Value-want.Value) > 1e-9*want.Value || m.Low != want.Low || m.High != want.High || m.Absolute != want.Absolute || m.Volts != want.Volts {
			t.Errorf("%s: %+v %v, want %+v", mark, m, err, want)
		}
		n++
	}
	for _, mark := range []string{"", "K", "R", "4K7Q9", "97A", "hello", "-4.7k", "4K7X", "9999999999K", "red", "1e40"} {
		if m, _, err := ResistorMark(mark); err == nil {
			t.Errorf("%q is read as %+v", mark, m)
		}
		n++
	}
	for _, mark := range []string{"", "n", "104A", "9I104", "-5n", "5 V F", "1e+40"} {
		if m, _, err := CapacitorMark(mark); err == nil {
			t.Errorf("%q is read as %+v", mark, m)
		}
		n++
	}
	if n != 21+17+11+7 {
		t.Error(n)
	}
}

func FuzzMarks(f *testing.F) {
	for _, s := range []string{"4K7", "104K", "brown black red gold", "01C", "2A104J", "0.1"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if m, _, err := ResistorMark(s); err == nil && !(m.Value >= 0 && m.Value < 1e18) {
			t.Errorf("%q: %+v", s, m)
		}
		if m, _, err := CapacitorMark(s); err == nil && !(m.Value >= 0 && m.Value < 1e18) {
			t.Errorf("%q: %+v", s, m)
		}
	})
}
