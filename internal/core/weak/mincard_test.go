package weak

// Sizes and numbers of the least diagnoses of the benchmark observations, against figures that two other methods agree on (satisfiability
// with a totaliser by another solver; brute force on the small ones).

import (
	"context"
	"testing"
	"time"
)

// checks of the benchmark systems: every observation of the small ones, and with -short not set of the large ones too.
var systems = []struct {
	name  string
	obs   int
	count int // the most sets that are listed and counted; 0: sizes only
}{
	{"c17", 63, 100}, {"74182", 250, 400}, {"74283", 202, 400}, {"74181", 350, 400}, {"c432", 301, 0}, {"c499", 835, 0}, {"c880", 1182, 0},
}

func TestBenchmarkSystems(t *testing.T) {
	ctx, stop := context.WithTimeout(context.Background(), 5*time.Minute)
	defer stop()
	for _, k := range systems {
		sys, ok1 := benchmark(t, "mincard/"+k.name+".sys")
		obs, ok2 := benchmark(t, "mincard/"+k.name+"_iscas85.obs")
		csv, ok3 := benchmark(t, "mincard/"+k.name+".mincard.csv")
		if !ok1 || !ok2 || !ok3 {
			continue
		}
		n := system(sys)
		c := n.mount(t)
		sizes, counts := 0, 0
		for _, o := range observations(t, n, obs, csv) {
			d := n.feed(c, o.in)
			if k.count == 0 || o.count == 0 || o.count > k.count {
				size, ok, err := Smallest(ctx, d, n.saw(d, o.out), Options{})
				if err != nil || !ok || size != o.size {
					t.Fatalf("%s, observation %d: %d parts, %v, %v, want %d", k.name, o.number, size, ok, err, o.size)
				}
				sizes++
				continue
			}
			r, err := Diagnose(ctx, d, n.saw(d, o.out), Options{Most: k.count})
			if err != nil || !r.Possible || r.Cardinality != o.size || len(r.Sets) != o.count || r.More {
				t.Fatalf("%s, observation %d: %d sets of %d, %v, %v, want %d of %d", k.name, o.number, len(r.Sets), r.Cardinality, r.Possible, err, o.count, o.size)
			}
			sizes++
			counts++
		}
		t.Logf("%s: %d sizes, %d counts", k.name, sizes, counts)
		if sizes != k.obs || k.count > 0 && counts < k.obs/2 {
			t.Errorf("%s: %d sizes and %d counts checked, want %d sizes and counts for half of them", k.name, sizes, counts, k.obs)
		}
	}
}

// c1355 is c499 with every exclusive or made of four NANDs (published with the circuits). The last of the four can do whatever the exclusive or does, and
// the exclusive or whatever the four do: every observation has the same least size in both.
func TestSameSizeWithNANDs(t *testing.T) {
	text, ok1 := benchmark(t, "iscas85/c1355.v")
	text499, ok := benchmark(t, "iscas85/c499.v")
	obs, ok2 := benchmark(t, "mincard/c499_iscas85.obs")
	csv, ok3 := benchmark(t, "mincard/c499.mincard.csv")
	sys, ok4 := benchmark(t, "mincard/c499.sys")
	if !ok || !ok1 || !ok2 || !ok3 || !ok4 {
		return
	}
	wide, small := module(text), module(text499)
	if len(wide.gates) != 546 || len(wide.in) != 41 || len(wide.out) != 32 || len(small.gates) != 202 {
		t.Fatalf("c1355: %d gates, %d inputs, %d outputs; c499: %d gates", len(wide.gates), len(wide.in), len(wide.out), len(small.gates))
	}
	c, c499 := wide.mount(t), small.mount(t)
	checked := 0
	for _, o := range observations(t, system(sys), obs, csv) {
		if o.number%8 == 0 {
			d := small.feed(c499, o.in)
			if size, _, err := Smallest(context.Background(), d, small.saw(d, o.out), Options{}); err != nil || size != o.size {
				t.Fatalf("the two netlists of c499 differ at observation %d: %d, want %d", o.number, size, o.size)
			}
		}
		if o.number%4 == 0 {
			checked++
			d := wide.feed(c, o.in)
			size, ok, err := Smallest(context.Background(), d, wide.saw(d, o.out), Options{})
			if err != nil || !ok || size != o.size {
				t.Fatalf("c1355, observation %d of c499: %d parts, %v, %v, want %d", o.number, size, ok, err, o.size)
			}
		}
	}
	if checked < 200 {
		t.Errorf("%d observations checked", checked)
	}
}
