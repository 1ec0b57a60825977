package diagnose

import (
	"context"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/predict"
)

// A board may have a half that is not logic. Its faults stand beside those of the logic (fault.Other), each with a lane that shows what the logic
// notices of it; its readings are observations like others, weighed by the half under every set of faults, with the logic standing as that set
// makes it stand. So singles, pairs, triples, repairs and accounts are the same for both.

// Half is the other half of a mixed board.
type Half interface {
	// Nets are those whose settled levels the half has to know.
	Nets() []int
	// Start begins on a case.
	Start(c *evidence.Case) Log
}

// Log is what the half has of one case.
type Log interface {
	// Take reads an entry of the log. It returns the readings that the half weighs, and the entry without them.
	Take(e evidence.Entry) ([]Seen, evidence.Entry, finding.List)
	// Weigh gives ln P(reading | set) for the sets of a pack; the readings are against a constant, so that one that fits has about Fitting. ask
	// tells the lanes that matter; the others get no value.
	Weigh(ctx context.Context, reading int, q Question) ([]float64, error)
	// Tell says in words what each set shows, and whether that accounts for the reading.
	Tell(ctx context.Context, reading int, q Question) ([]string, []bool, error)
}

// Fitting is what a reading that fits weighs.
const Fitting = 2.5

// Seen is one reading of the half.
type Seen struct {
	What string // volts, ripple, …
	At   string
	Is   string
}

// Question is a pack with what the logic shows; Ask may be nil for all. Before gives the readings that the half has weighed before this one since
// the last repair, each with what the logic shows there; nil where nothing is asked of them.
type Question struct {
	Hyps   [][]predict.Way
	Shown  []*predict.Shown
	Ask    func(hyp int) bool
	Before func() ([]Earlier, error)
}

// Earlier is a reading with the question that was asked about it.
type Earlier struct {
	Reading int
	Question
}

// Level is what the settled level of a net is in a lane, and whether it is held there by a short or rail.
func (q Question) Level(hyp, net int) (sign byte, held, driven bool) {
	v, layers := q.Shown[hyp/64].End(circuit.Place{Pin: circuit.None, Net: net})
	k := hyp & 63
	return v.Sign(k), layers[0]>>k&1 == 1, layers[1]>>k&1 == 1
}

// other prepares the question for an observation of the half.
func (s *Session) other(ctx context.Context, p *predict.Pack, kept cache, o Obs, need []bool) (Question, error) {
	ask := func(h int) bool { return need == nil || need[h/64] }
	show := func(o Obs) ([]*predict.Shown, error) {
		key := o.Setting.Key() + " half"
		have, _ := kept.get(key)
		sh, err := p.ShowSome(ctx, o.Setting, predict.Want{Lamps: len(s.M.C.Lamps) > 0, Volts: s.Half.Nets()}, have, need)
		if err == nil {
			kept.put(key, sh)
		}
		return sh, err
	}
	sh, err := show(o)
	if err != nil {
		return Question{}, err
	}
	before := func() (out []Earlier, err error) {
		for _, x := range s.Obs {
			if x.Kind != OtherHalf || x.Epoch != o.Epoch || x.Reading >= o.Reading {
				continue
			}
			shown, err := show(x)
			if err != nil {
				return nil, err
			}
			out = append(out, Earlier{x.Reading, Question{Hyps: p.Hyps, Shown: shown, Ask: ask}})
		}
		return out, nil
	}
	return Question{p.Hyps, sh, ask, before}, nil
}

func (s *Session) weighOther(ctx context.Context, p *predict.Pack, kept cache, o Obs, need []bool, instead float32) ([]float32, error) {
	q, err := s.other(ctx, p, kept, o, need)
	if err != nil {
		return nil, err
	}
	w, err := s.half.Weigh(ctx, o.Reading, q)
	if err != nil {
		return nil, err
	}
	out := make([]float32, len(w))
	for h, x := range w {
		out[h] = instead
		if q.Ask(h) {
			out[h] = float32(x)
		}
	}
	return out, nil
}

// Other is what the other half has of the case; nil on a board without one.
func (s *Session) Other() Log { return s.half }

// takeOther lets the half have its readings of an entry.
func (r *resolver) takeOther(set predict.Setting) []Obs {
	if r.s.half == nil {
		return nil
	}
	seen, rest, fl := r.s.half.Take(r.e)
	*r.fl = append(*r.fl, fl...)
	var out []Obs
	for _, x := range seen {
		none := circuit.Place{Pin: circuit.None, Net: circuit.None}
		out = append(out, Obs{Entry: r.e.Index - 1, Kind: OtherHalf, Setting: set, Place: none, To: none, Lamp: circuit.None, Digit: circuit.None, Sure: r.e.Sure,
			Epoch: r.s.epochs, At: x.At, Seen: x.Is, What: x.What, Reading: r.s.readings})
		r.s.readings++
		r.s.fitting += Fitting
	}
	r.e = rest
	return out
}
