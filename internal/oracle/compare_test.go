package oracle

// Comparing two traces of one board.

import "fmt"

type difference struct {
	all, differ int
	first       string
}

// compare lists how many levels differ; first names the earliest.
func compare(got, want Trace) difference {
	var d difference
	if len(got.Moments) != len(want.Moments) {
		d.first = fmt.Sprintf("%d moments, not %d", len(got.Moments), len(want.Moments))
		return d
	}
	for m := -1; m < len(want.Moments); m++ {
		g, w := got.Start, want.Start
		if m >= 0 {
			g, w = got.Moments[m], want.Moments[m]
		}
		for i := range w {
			d.all++
			if g[i] != w[i] {
				d.differ++
				if d.first == "" {
					d.first = fmt.Sprintf("moment %d net %s: %c, not %c", m, want.Nets[i], g[i], w[i])
				}
			}
		}
	}
	return d
}
