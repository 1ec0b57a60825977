package matrix

import (
	"math/rand/v2"
	"testing"
	"time"
)

// A flooded keyboard – everything wrong at random – is answered within seconds too.
func TestNonsenseEndsSoon(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 9))
	l := grid(t, 8, 16, false)
	some := func(n int) (out []int) {
		for range n {
			out = append(out, rng.IntN(len(l.Keys)))
		}
		return out
	}
	extra := map[int][]int{}
	for _, k := range some(60) {
		extra[k] = some(3)
	}
	trials := Trials(l, some(30), some(20), some(3), some(20), extra)
	start := time.Now()
	d := Diagnose(l, trials)
	mid := time.Since(start)
	next := Next(l, trials, d, 5)
	if total := time.Since(start); total > 20*time.Second {
		t.Errorf("%v to diagnose, %v in all, %d suspects, %d next", mid, total, len(d.Suspects), len(next))
	} else {
		t.Logf("%v to diagnose, %v in all", mid, total)
	}
}
