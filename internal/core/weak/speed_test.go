package weak

import (
	"context"
	"testing"
)

// BenchmarkObservation is the time of one observation of the benchmark circuits, its least size alone: with the gates that no other stands in front of
// (tops), and, as the baseline of the same run, with a counter over all gates (plain); sets is size and up to 100 sets. c1355 takes the observations of c499, whose function it has.
// Without the benchmark data there is nothing to time.
func BenchmarkObservation(b *testing.B) {
	for _, k := range []struct{ name, obs, netlist string }{{"c17", "c17", ""}, {"c432", "c432", ""}, {"c499", "c499", ""}, {"c880", "c880", ""}, {"c1355", "c499", "iscas85/c1355.v"}} {
		sys, ok := benchmark(b, "mincard/"+k.obs+".sys")
		obs, _ := benchmark(b, "mincard/"+k.obs+"_iscas85.obs")
		csv, _ := benchmark(b, "mincard/"+k.obs+".mincard.csv")
		if !ok {
			continue
		}
		n := system(sys)
		list := observations(b, n, obs, csv)
		if k.netlist != "" {
			text, _ := benchmark(b, k.netlist)
			n = module(text)
		}
		c := n.mount(b)
		ctx := context.Background()
		step := max(1, len(list)/50) // fifty observations spread over the file, one after the other
		each := func(f func(o observation) (int, error)) func(*testing.B) {
			return func(b *testing.B) {
				for i := 0; b.Loop(); i++ {
					o := list[i*step%len(list)]
					if size, err := f(o); err != nil || size != o.size {
						b.Fatal(size, err)
					}
				}
			}
		}
		b.Run(k.name+"/tops", each(func(o observation) (int, error) {
			d := n.feed(c, o.in)
			size, _, err := Smallest(ctx, d, n.saw(d, o.out), Options{})
			return size, err
		}))
		if k.name == "c880" { // up to 26 bad gates of 383: counted plainly, one observation takes more than a second on average
			continue
		}
		b.Run(k.name+"/plain", each(func(o observation) (int, error) {
			d := n.feed(c, o.in)
			p := newPlan(d, n.saw(d, o.out), 0)
			_, reach := p.tops()
			f, bad, err := p.clauses(ctx, reach)
			if err != nil {
				return 0, err
			}
			size, _, err := least(ctx, f, lits(bad))
			return size, err
		}))
		b.Run(k.name+"/sets", each(func(o observation) (int, error) {
			d := n.feed(c, o.in)
			r, err := Diagnose(ctx, d, n.saw(d, o.out), Options{Most: 100})
			return r.Cardinality, err
		}))
	}
}
