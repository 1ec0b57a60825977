package predict

import (
	"context"

	"halfsplit/internal/core/circuit"
)

// Shape is one place in one experiment: the reading, and the level at the end of each moment from the settled state
// just before the last action: 0 1 X Z F.
type Shape struct {
	Word    Word
	Moments []byte
}

// Expect gives the shapes of places for one hypothesis. A hypothesis with several modes takes the first.
func (m *Model) Expect(ctx context.Context, hyp []Way, s Setting, places []circuit.Place) ([]Shape, error) {
	p := m.Pack([][]Way{hyp})
	before, watched := m.plan(s)
	base := m.trace(s, before)
	whole := base
	if watched != circuit.None {
		whole = m.trace(s, append(before[:len(before):len(before)], watched))
	}
	out := make([]Shape, len(places))
	accs := make([]acc, len(places))
	err := m.each(ctx, 1, func(w *worker, _ int) {
		ov := p.batchOverlays(s)[0]
		st := w.e.Run(base, ov, nil, nil)
		look := func(int) {
			for i, pl := range places {
				v := w.e.NetLevel(pl.Net)
				if pl.Pin != circuit.None {
					v = w.e.PinLevel(pl.Pin)
				}
				accs[i].add(v, w.e.PlainFight(pl.Net))
				out[i].Moments = append(out[i].Moments, v.Sign(0))
			}
		}
		w.e.Resume(base, ov, st)
		look(0)
		w.e.Run(whole, ov, st, look)
	})
	for i := range out {
		out[i].Word = accs[i].split().Word(0)
	}
	return out, err
}

// Word is the reading of one lane.
func (s Split) Word(lane int) Word {
	for w, m := range s {
		if m>>lane&1 == 1 {
			return Word(w)
		}
	}
	return Unknown
}
