package advise

import (
	"math"
	"slices"
	"testing"
)

// The classic of sequential search: one of three parts is bad, with probabilities .5 .3 .2; trying them takes 10, 2 and 5 minutes. In the
// order of probability over cost the search is expected to take 10.0 minutes, in the next best order 10.5, in the order of probability
// 12.0 (figures derived from the rule, not published).
//
// The rule's caveat does not arise here: a part that is convicted because the others passed need not be tested (the second and third part
// first: 5.5 minutes, against 9 for the second and first), but a repair that is the last one left still has to be made, so expected
// charges for it.
func TestExpectedIsSequentialSearch(t *testing.T) {
	p := []float64{.5, .3, .2}
	minutes := []float64{10, 2, 5}
	var ms []mend
	for i, m := range minutes {
		ms = append(ms, mend{Mend{Kind: Replace, Target: i, Minutes: m - Verify}, []int{i}})
	}
	order := make([]int, 3)
	if got := expected(ms, p, order); math.Abs(got-10) > 1e-9 {
		t.Errorf("expected %.3f minutes, want 10.0", got)
	}
	if !slices.Equal(order, []int{1, 0, 2}) {
		t.Errorf("order %v, want the second, the first, the third", order)
	}
	inOrder := func(order ...int) float64 {
		left, total := 1.0, 0.0
		for _, i := range order {
			total += left * minutes[i]
			left -= p[i]
		}
		return total
	}
	checked := 0
	for _, k := range []struct {
		order []int
		want  float64
	}{{[]int{1, 0, 2}, 10.0}, {[]int{1, 2, 0}, 10.5}, {[]int{0, 1, 2}, 12.0}, {[]int{0, 2, 1}, 13.1}, {[]int{2, 1, 0}, 11.6}, {[]int{2, 0, 1}, 13.6}} {
		checked++
		got := inOrder(k.order...)
		if math.Abs(got-k.want) > 1e-9 {
			t.Errorf("order %v takes %.3f minutes, want %.1f", k.order, got, k.want)
		}
		if best := expected(ms, p, order); best > got+1e-9 {
			t.Errorf("order %v takes %.3f minutes, less than the %.3f of expected", k.order, got, best)
		}
	}
	if checked != 6 {
		t.Errorf("%d orders checked", checked)
	}
}

// What is cheap goes first even when it is unlikely, and what is certain to be solved costs nothing more.
func TestExpectedStopsWhenNothingIsLeft(t *testing.T) {
	ms := []mend{{Mend{Minutes: 100 - Verify}, []int{0}}, {Mend{Minutes: 4 - Verify}, []int{1}}, {Mend{Minutes: 50 - Verify}, []int{2}}}
	order := make([]int, 3)
	if got, want := expected(ms, []float64{.9, .1, 0}, order), 4+.9*100; math.Abs(got-want) > 1e-9 {
		t.Errorf("expected %.2f minutes, want %.2f", got, want)
	}
	if order[0] != 1 || order[1] != 0 {
		t.Errorf("order %v", order)
	}
}
