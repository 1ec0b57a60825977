package app

import (
	"testing"

	"halfsplit/internal/core/drill"
)

func TestPercentile(t *testing.T) {
	checked := 0
	for _, c := range []struct {
		x    []float64
		want float64
	}{
		{nil, 0},
		{[]float64{7}, 7},
		{[]float64{3, 1, 2}, 3},
		{[]float64{20, 19, 18, 17, 16, 15, 14, 13, 12, 11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1}, 19}, // 19 of 20 are 95 %
	} {
		checked++
		if got := percentile(c.x, 0.95); got != c.want {
			t.Errorf("%v: got %g, want %g", c.x, got, c.want)
		}
	}
	if checked != 4 {
		t.Errorf("checked %d", checked)
	}
}

// Every claim falls into exactly one band, those on an edge into the upper one, certainty into the last.
func TestBands(t *testing.T) {
	got := bands([]drill.Stated{{P: 1, True: true}, {P: 0, True: false}, {P: 0.5, True: true}, {P: 0.55, True: false}, {P: 0.95, True: false}})
	want := []Calibration{
		{From: 0, To: 0.1, Stated: 0, Observed: 0, Count: 1},
		{From: 0.5, To: 0.6, Stated: 0.525, Observed: 0.5, Count: 2},
		{From: 0.9, To: 1, Stated: 0.975, Observed: 0.5, Count: 2},
	}
	if len(got) != len(want) {
		t.Fatalf("got %v", got)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("got %v, want %v", got[i], want[i])
		}
	}
}
