package board

// How long an action is, counted in moments.

import "math"

// MaxMoments is the longest action that is simulated; readers refuse longer ones.
const MaxMoments = 100_000

// Moments counts the moments of steps, repeats unrolled: a pulse takes two, N cycles 2·N, a repeat its steps times
// over, anything else one. It returns math.MaxInt rather than overflow.
func Moments(steps []Step) int {
	total := 0
	for _, s := range steps {
		n := 1
		switch {
		case s.Pulse.Text != "":
			n = 2
		case len(s.Cycles) > 0:
			n = 0
			for _, c := range s.Cycles {
				n = add(n, times(2, c.N))
			}
		case s.Times > 0:
			n = times(s.Times, Moments(s.Steps))
		}
		total = add(total, n)
	}
	return total
}

func add(a, b int) int {
	if a > math.MaxInt-b {
		return math.MaxInt
	}
	return a + b
}

func times(a, b int) int {
	if b > 0 && a > math.MaxInt/b {
		return math.MaxInt
	}
	return a * b
}
