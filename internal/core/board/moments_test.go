package board

import (
	"math"
	"testing"
)

func TestMoments(t *testing.T) {
	set := Step{Sets: []Set{{Net: "A"}}}
	pulse := Step{Pulse: Name{Text: "A"}}
	deep := set
	for range 12 {
		deep = Step{Times: 1_000_000, Steps: []Step{deep}}
	}
	cases := []struct {
		steps []Step
		want  int
	}{
		{nil, 0},
		{[]Step{set}, 1},
		{[]Step{pulse, set}, 3},
		{[]Step{{Press: []Name{{Text: "S1"}}, Sets: set.Sets}}, 1},
		{[]Step{{Cycles: []Cycle{{Net: "CLK", N: 16}, {Net: "PHI", N: 1}}}}, 34},
		{[]Step{{Times: 4, Steps: []Step{pulse, set}}}, 12},
		{[]Step{{Times: 3}}, 0},
		{[]Step{deep}, math.MaxInt},
		{[]Step{deep, set}, math.MaxInt},
	}
	for i, c := range cases {
		if got := Moments(c.steps); got != c.want {
			t.Errorf("case %d: %d moments, want %d", i, got, c.want)
		}
	}
}
