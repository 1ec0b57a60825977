package advise

import (
	"math"
	"testing"
)

// Two stories that nothing speaks for are one while another accounts for the symptom: a check that only tells those two apart is worth nothing,
// one that tells them from the third keeps its worth.
func TestLatentStoriesCountAsOne(t *testing.T) {
	p := make([]float64, 64)
	p[0], p[1], p[2] = 0.25, 0.25, 0.5
	cells := func(sets ...uint64) *Check {
		c := &Check{}
		for i, s := range sets {
			like := make([]float64, len(sets))
			like[i] = 1
			c.cells = append(c.cells, cell{[]uint64{s}, like})
		}
		return c
	}
	asleep := []uint64{0b011}
	for _, k := range []struct {
		name         string
		check        *Check
		apart, asOne float64
	}{
		{"the third from both", cells(0b011, 0b100), 1, 1},
		{"the two from each other", cells(0b101, 0b010), 0.811278, 0.311278}, // H(1/4); and H(1/4) − ½·H(½), the third in with the first
		{"everything", cells(0b001, 0b010, 0b100), 1.5, 1},
	} {
		if _, got := split(k.check, p, nil, nil); math.Abs(got-k.apart) > 1e-6 {
			t.Errorf("%s, each by itself: %.6f bits, want %.6f", k.name, got, k.apart)
		}
		if _, got := split(k.check, p, nil, asleep); math.Abs(got-k.asOne) > 1e-6 {
			t.Errorf("%s, the sleeping ones as one: %.6f bits, want %.6f", k.name, got, k.asOne)
		}
	}
}
