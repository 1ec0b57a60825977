package sweep

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// track makes readings of a good part: base of the law, n stops, whole resistance.
func track(base float64, n int, total float64, rising bool) []Reading {
	var rs []Reading
	for i := range n {
		x := float64(i) / float64(n-1)
		y := share(base, x)
		if !rising {
			y = 1 - y
		}
		rs = append(rs, Reading{At: x, Value: total * y})
	}
	return rs
}

// Laws are found again, with one per cent of meter error, from three inner points and from twenty.
func TestFitFindsTheLaw(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	n := 0
	for range 300 {
		middle := []float64{0.10, 0.12, 0.15, 0.5, 0.85, 0.9}[rng.IntN(6)]
		base := math.Pow(1/middle-1, 2) // b^½ = 1/m − 1
		for _, stops := range []int{5, 20} {
			var ps []Point
			for _, r := range track(base, stops, 1, true) {
				ps = append(ps, Point{r.At, r.Value * (1 + 0.01*rng.NormFloat64())})
			}
			l := Fit(ps)
			want := Linear
			if middle < 0.3 {
				want = Log
			} else if middle > 0.7 {
				want = Reverse
			}
			if l.Kind != want || math.Abs(l.Middle-middle) > 0.03 {
				t.Errorf("mid-travel %g with %d stops: %+v", middle, stops, l)
			}
			n++
		}
	}
	if n != 600 {
		t.Error(n)
	}
}

func TestSShape(t *testing.T) {
	var rs []Reading
	for i := 0; i <= 20; i++ {
		x := float64(i) / 20
		rs = append(rs, Reading{At: x, Value: 10e3 * (3*x*x - 2*x*x*x)})
	}
	r, err := Judge(rs, 0, true, DefaultLimits)
	if err != nil || r.Law.Kind != SShape {
		t.Errorf("%+v %v", r.Law, err)
	}
}

// One fault put into a good track is found at its place, for every law, direction and place; the good track has none.
func TestFindsThePlantedFault(t *testing.T) {
	good, planted := 0, 0
	for _, base := range []float64{1, 30, 1.0 / 30} {
		for _, rising := range []bool{true, false} {
			clean := track(base, 21, 47e3, rising)
			r, err := Judge(clean, 0, true, DefaultLimits)
			if err != nil || !r.Good || r.Rising != rising {
				t.Errorf("good track, base %g rising %v: %+v %v", base, rising, r.Zones, err)
			}
			good++
			for at := 3; at <= 17; at++ {
				for _, kind := range []string{"dead", "open", "worn"} {
					rs := append([]Reading{}, clean...)
					switch kind {
					case "dead":
						rs[at].Value += 0.5 * 47e3
					case "open":
						rs[at].Open = true
					case "worn":
						rs[at].Value += 0.08 * 47e3
					}
					r, err := Judge(rs, 47e3, true, DefaultLimits)
					want := strings.Replace(kind, "open", "dead", 1)
					found := false
					for _, z := range r.Zones {
						found = found || z.Kind == want && z.From <= rs[at].At && z.To >= rs[at].At
					}
					if err != nil || !found {
						t.Errorf("base %g rising %v: %s at %g: %+v %v", base, rising, kind, rs[at].At, r.Zones, err)
					}
					planted++
				}
			}
		}
	}
	if good != 6 || planted != 6*15*3 {
		t.Error(good, planted)
	}
}

func TestStepsAndEnds(t *testing.T) {
	rs := track(1, 11, 10e3, true)
	rs[4].Value, rs[5].Value = 4600, 4400 // goes back
	rs[0].Value = 900                     // never gets to zero
	rs = append(rs, Reading{At: 0.9, Value: 7000})
	r, err := Judge(rs, 10e3, true, DefaultLimits)
	if err != nil {
		t.Fatal(err)
	}
	kinds := map[string]int{}
	for _, z := range r.Zones {
		kinds[z.Kind]++
	}
	if kinds["back"] != 1 || kinds["end"] != 1 || kinds["noisy"] != 1 {
		t.Errorf("%+v", r.Zones)
	}
}

// A linear part with the computed load passes through the law at half travel; elsewhere it departs by up to 0.28, which the answer says.
func TestReplacement(t *testing.T) {
	n := 0
	for _, m := range []float64{0.1, 0.12, 0.15, 0.85, 0.88, 0.9} {
		r, err := Judge(track(math.Pow(1/m-1, 2), 11, 95e3, true), 0, true, DefaultLimits)
		if err != nil {
			t.Fatal(err)
		}
		if got := Loaded(0.5, r.Replace.Load, r.Replace.ToTop); math.Abs(got-m) > 0.005 || r.Replace.Rest > 0.3 || r.Replace.Value != 100e3 {
			t.Errorf("middle %g: loaded %g, %+v", m, got, r.Replace)
		}
		n++
	}
	if n != 6 {
		t.Error(n)
	}
}

func TestRead(t *testing.T) {
	for _, s := range []string{"0=12 25=1.2k 50=open 100=10k", "0 12\n25 1.2k # dirty here\n50 OL\n100 10k", "0%;12;25%;1.2k;50%;inf;100%;10k"} {
		rs, isVolts, err := Read(s)
		if err != nil || isVolts || len(rs) != 4 || rs[1] != (Reading{At: 0.25, Value: 1200}) || !rs[2].Open {
			t.Errorf("%q: %v %v %v", s, rs, isVolts, err)
		}
	}
	if _, isVolts, err := Read("0 0V 50 2.5V"); err != nil || !isVolts {
		t.Error(err)
	}
	for _, s := range []string{"0", "0 12 120 5", "x 5", "0 x", "0 1V 50 3", "0 -5"} {
		if rs, _, err := Read(s); err == nil {
			t.Errorf("%q: %v", s, rs)
		}
	}
}

func TestRefuses(t *testing.T) {
	for _, rs := range [][]Reading{nil, track(1, 3, 1, true), {{0, 5, false}, {0.3, 5, false}, {0.6, 5, false}, {1, 5, false}}, {{0, 0, false}, {0.3, 1, false}, {2, 2, false}, {1, 5, false}},
		{{0, 0, false}, {0.3, math.NaN(), false}, {0.5, 2, false}, {1, 5, false}, {1, 5, false}}} {
		if r, err := Judge(rs, 0, true, DefaultLimits); err == nil {
			t.Errorf("%v: %+v", rs, r)
		}
	}
}

func FuzzJudge(f *testing.F) {
	f.Add("0=12 25=1.2k 50=open 75=3k 80=4k 100=10k")
	f.Fuzz(func(t *testing.T, s string) {
		rs, isVolts, err := Read(s)
		if err != nil {
			return
		}
		r, err := Judge(rs, 0, !isVolts, DefaultLimits)
		if err != nil {
			return
		}
		for _, v := range []float64{r.Law.Base, r.Law.Middle, r.Law.RMS, r.Replace.Value, r.Replace.Load, r.Replace.Rest} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("%q: %+v", s, r)
			}
		}
	})
}
