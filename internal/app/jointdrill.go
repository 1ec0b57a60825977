package app

import (
	"context"
	"fmt"
	"math/rand/v2"

	"halfsplit/internal/core/drill"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/joint"
)

// jointDrill is Drill for a mixed board: faults of both halves by their weights, tolerances drawn. Two faults are one in each half, and repairs are made
// on the way. There are no other players, and no bound: figures have no count of outcomes to reckon one from.
func jointDrill(ctx context.Context, b *joint.Board, q DrillRequest) (DrillView, error) {
	switch {
	case q.Faults > 2:
		return DrillView{}, Wrong{fmt.Errorf("a board with an analogue half is drilled with one fault, or with one in each half")}
	case q.Slips > 0 || q.Exhaustive:
		return DrillView{}, Wrong{fmt.Errorf("wrong readings and planning over all checks are drilled on boards of logic only")}
	}
	v := DrillView{Board: b.C.Board.Title, Faults: q.Faults, Count: q.Count, Seed: q.Seed, Have: haveWords(q.Have), Mixed: true}
	var trials []drill.Play
	var stated []drill.Stated
	for i := uint64(0); len(trials) < q.Count; i++ {
		if v.Invisible > 20*(q.Count+10) {
			return v, Wrong{fmt.Errorf("hardly any fault of this board shows on a lamp or in volts; add actions or indicators")}
		}
		rng := rand.New(rand.NewPCG(q.Seed, i))
		faults := []int{b.Draw(rng)}
		for len(faults) < q.Faults {
			if f := b.Draw(rng); (b.Ground.Faults[f].Kind == fault.Other) != (b.Ground.Faults[faults[0]].Kind == fault.Other) {
				faults = append(faults, f)
			}
		}
		t, ok, err := b.Play(ctx, faults, rng, q.Have, q.Faults > 1)
		if err != nil {
			return v, err
		}
		if !ok {
			v.Invisible++
			continue
		}
		found := t.Found
		if q.Faults > 1 {
			found = t.Mended && t.Wrong == 0
		} else {
			stated = append(stated, drill.Stated{P: t.First, True: t.Found})
		}
		trials = append(trials, drill.Play{Checks: t.Checks, Minutes: t.Minutes, Found: found})
		if q.Progress != nil {
			q.Progress(len(trials))
		}
	}
	var list []drill.Trial
	for _, p := range trials {
		list = append(list, drill.Trial{Planner: p})
	}
	v.Planner = figures(list, func(t drill.Trial) drill.Play { return t.Planner })
	v.Calibration = bands(stated)
	return v, nil
}
