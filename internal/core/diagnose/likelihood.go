package diagnose

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/predict"
)

// P(reading | suspect). A reading is never absolute: `sure` leaves room for a slip, and a slip is likelier between
// readings that look alike on a screen.

// chance is the probability of any one word when the model cannot say: about one in four, because floating and between are rare (estimate).
const chance = 0.25

// confusion shares out the probability of a slip: row predicted, column seen (estimates).
var confusion = [predict.Words][predict.Words]float64{
	predict.Low:      {predict.High: .25, predict.Pulses: .25, predict.Floating: .2, predict.Between: .3},
	predict.High:     {predict.Low: .25, predict.Pulses: .25, predict.Floating: .25, predict.Between: .25},
	predict.Pulses:   {predict.Low: .35, predict.High: .35, predict.Floating: .1, predict.Between: .2},
	predict.Floating: {predict.Low: .2, predict.High: .25, predict.Pulses: .05, predict.Between: .5},
	predict.Between:  {predict.Low: .25, predict.High: .2, predict.Pulses: .15, predict.Floating: .4},
}

// WordLik is P(seen | predicted) at a given certainty.
func WordLik(predicted, seen predict.Word, sure float64) float64 {
	switch predicted {
	case predict.Unknown:
		return chance
	case seen:
		return sure
	}
	return max((1-sure)*confusion[predicted][seen], 1e-4)
}

// softLik is WordLik where a junction pulls a high down so that it may be taken for less.
func softLik(predicted, seen predict.Word, sure float64) float64 {
	p := WordLik(predicted, seen, sure)
	if predicted == predict.High || predicted == predict.Pulses {
		p = 0.7*p + 0.15*WordLik(predict.Between, seen, sure) + 0.15*WordLik(predict.Low, seen, sure)
	}
	return p
}

// want says what must be kept of a run for an observation; the key tells cached runs apart.
func (s *Session) want(p *predict.Pack, o Obs) (predict.Want, string) {
	w := predict.Want{Lamps: len(s.M.C.Lamps) > 0}
	key := ""
	if o.Kind == Volts {
		w.Volts = []int{o.Place.Net}
		key = fmt.Sprint(" volts ", o.Place.Net)
	}
	if o.Place.Pin != circuit.None && o.Kind != See {
		w.Pins = []int{o.Place.Pin}
		key += fmt.Sprint(" pin ", o.Place.Pin)
		if !s.ownSide(p, o) {
			w.Pins = nil
			if o.Kind == Read {
				key = ""
			}
		}
	}
	return w, key
}

// ownSide tells whether the pin of an observation can differ from its net: when it is lifted, or a hypothesis opens its joint.
func (s *Session) ownSide(p *predict.Pack, o Obs) bool {
	if slices.Contains(o.Setting.Lifted, o.Place.Pin) {
		return true
	}
	for _, h := range p.Hyps {
		for _, w := range h {
			if w.F.Kind == "joint-open" && w.F.A == o.Place.Pin {
				return true
			}
		}
	}
	return false
}

// likelihood gives ln P(observation | hypothesis) for every hypothesis of a pack. Runs are kept.
func (s *Session) likelihood(ctx context.Context, p *predict.Pack, kept cache, o Obs) ([]float32, error) {
	return s.likelihoodOf(ctx, p, kept, o, nil, 0)
}

// likelihoodOf runs only the batches that are needed (nil: all); hypotheses of the others get the value instead.
func (s *Session) likelihoodOf(ctx context.Context, p *predict.Pack, kept cache, o Obs, need []bool, instead float32) ([]float32, error) {
	if o.Kind == OtherHalf {
		return s.weighOther(ctx, p, kept, o, need, instead)
	}
	out := make([]float32, len(p.Hyps))
	if o.Kind == Ohms {
		for h, x := range s.M.OhmsAll(p.Hyps, o.Setting.Lifted, o.Place, o.To) {
			out[h] = float32(math.Log(o.Sure*x.Density(o.Value) + (1-o.Sure)/7))
		}
		return out, ctx.Err()
	}
	w, extra := s.want(p, o)
	key := o.Setting.Key() + extra
	have, _ := kept.get(key)
	sh, err := p.ShowSome(ctx, o.Setting, w, have, need)
	if err != nil {
		return nil, err
	}
	kept.put(key, sh)
	for b, x := range sh {
		if x == nil || need != nil && !need[b] {
			for k := range min(64, len(p.Hyps)-b*64) {
				out[b*64+k] = instead
			}
			continue
		}
		lane := s.laneLik(x, o)
		for k := range min(64, len(p.Hyps)-b*64) {
			out[b*64+k] = float32(math.Log(lane(p.Hyps[b*64+k], k)))
		}
	}
	return out, nil
}

// laneLik returns P(o) for one lane of a batch.
func (s *Session) laneLik(x *predict.Shown, o Obs) func(hyp []predict.Way, lane int) float64 {
	switch {
	case o.Kind == Volts:
		m := s.M.Volter(o.Place)
		return func(hyp []predict.Way, lane int) float64 {
			return o.Sure*x.VoltsWith(m, hyp, o.Place, lane).Density(o.Value) + (1-o.Sure)/6.5
		}
	case o.Kind == Read:
		split := x.Place(o.Place)
		var table [predict.Words]float64
		for w := range table {
			table[w] = WordLik(predict.Word(w), o.Word, o.Sure)
			if predict.Soft(s.M.C, o.Place.Net) {
				table[w] = softLik(predict.Word(w), o.Word, o.Sure)
			}
		}
		return func(_ []predict.Way, lane int) float64 { return table[split.Word(lane)] }
	case o.Lamp != circuit.None:
		lit, dark, changes := x.Lamp(o.Lamp)
		whole := s.M.Whole(o.Setting)
		return func(_ []predict.Way, lane int) float64 {
			return lampLik(lit>>lane&1 == 1, dark>>lane&1 == 1, changes>>lane&1 == 1, whole, o.Seen, o.Sure)
		}
	}
	segs := s.digitLanes(x, o.Digit)
	return func(_ []predict.Way, lane int) float64 { return segs.lik(lane, o.Seen, o.Sure) }
}

func lampLik(lit, dark, changes, whole bool, seen string, sure float64) float64 {
	switch {
	case seen == "blinking":
		if changes {
			return 0.5 * sure
		}
		return max((1-sure)/2, 1e-4)
	case !lit && !dark:
		return 0.45
	case lit == (seen == "lit"):
		return sure
	case changes && !whole: // it did show the other for a while
		return max(0.05, (1-sure)/2)
	}
	return max((1-sure)/2, 1e-4)
}

// digit is what the segments of one digit show in 64 lanes.
type digit struct {
	have      [8]bool
	lit, dark [8]uint64
}

func (s *Ground) digitLanes(x *predict.Shown, d int) digit {
	var out digit
	for k, lamp := range s.M.C.Digits[d].Segs {
		if lamp != circuit.None {
			out.have[k] = true
			out.lit[k], out.dark[k], _ = x.Lamp(lamp)
		}
	}
	return out
}

const segLetters = "abcdefg"

// glyphs are the ways people draw a digit; 6, 7 and 9 come with and without a tail (Fairchild DS006518, National TL/F/5991).
var glyphs = map[string][]string{"0": {"abcdef"}, "1": {"bc"}, "2": {"abdeg"}, "3": {"abcdg"}, "4": {"bcfg"}, "5": {"acdfg"},
	"6": {"cdefg", "acdefg"}, "7": {"abc", "abcf"}, "8": {"abcdefg"}, "9": {"abcfg", "abcdfg"}, "blank": {""}}

func isGlyph(seen string) bool {
	_, ok := glyphs[seen]
	return ok || strings.HasPrefix(seen, "lit:")
}

// shapes lists the sets of segments that a word may mean. The point is ignored unless it is named.
func shapes(seen string) []string {
	if segs, ok := strings.CutPrefix(seen, "lit:"); ok {
		return []string{strings.TrimSuffix(segs, "dp")}
	}
	return glyphs[seen]
}

func (d digit) lik(lane int, seen string, sure float64) float64 {
	best := 0.0
	for _, shape := range shapes(seen) {
		p := sure
		wrong := false
		for k, letter := range segLetters {
			if !d.have[k] {
				continue
			}
			on := strings.ContainsRune(shape, letter)
			lit, dark := d.lit[k]>>lane&1 == 1, d.dark[k]>>lane&1 == 1
			switch {
			case !lit && !dark:
				p *= 0.5
			case lit != on:
				wrong = true
			}
		}
		if !wrong {
			best = max(best, p, 0.11) // many unknown segments are still an account
		}
	}
	return max(best, (1-sure)/10, 1e-4)
}

// DigitTexts is what a digit shows in the first n lanes of a batch, as a file writes it, or unknown.
func (s *Ground) DigitTexts(x *predict.Shown, d, n int) []string {
	dg := s.digitLanes(x, d)
	out := make([]string, n)
	for k := range out {
		out[k] = dg.text(k)
	}
	return out
}

func (d digit) text(lane int) string {
	var on []byte
	for k := range segLetters {
		if !d.have[k] {
			continue
		}
		lit, dark := d.lit[k]>>lane&1 == 1, d.dark[k]>>lane&1 == 1
		if !lit && !dark {
			return "unknown"
		}
		if lit {
			on = append(on, segLetters[k])
		}
	}
	for _, g := range []string{"0", "1", "2", "3", "4", "5", "6", "7", "8", "9", "blank"} {
		if slices.Contains(glyphs[g], string(on)) {
			return g
		}
	}
	return "lit:" + string(on)
}
