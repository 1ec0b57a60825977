package diagnose

import (
	"context"
	"fmt"
	"math"
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/predict"
)

// The account of a suspect: for each reading of the log what the suspect predicts there, and how a wrong level gets to it.

// Line is one reading of the account.
type Line struct {
	Obs       int // index into Session.Obs
	Predicted string
	Good      string
	Fits      bool
	Surprise  bool // a good board would have shown something else
	Path      []Step
}

// Step is a net on the way of the wrong level, with what it reads good and bad.
type Step struct {
	Net       int
	Good, Bad predict.Word
}

// Accounts gives the accounts of suspects, in their order.
func (s *Session) Accounts(ctx context.Context, us []Suspect) ([][]Line, error) {
	out := make([][]Line, len(us))
	for e := 0; e <= s.epochs; e++ {
		hyps := make([][]predict.Way, 0, len(us)+1)
		for _, u := range us {
			hyps = append(hyps, s.Ways(u, e))
		}
		hyps = append(hyps, nil)
		pack := s.M.Pack(hyps)
		kept := runs{}
		for oi, o := range s.Obs {
			if o.Epoch != e {
				continue
			}
			lik, err := s.likelihood(ctx, pack, kept, o)
			if err != nil {
				return nil, err
			}
			texts, fits, err := s.tell(ctx, pack, kept, o, lik)
			if err != nil {
				return nil, err
			}
			last := len(us)
			for i := range us {
				l := Line{Obs: oi, Predicted: texts[i], Good: texts[last], Fits: fits[i], Surprise: texts[i] != texts[last]}
				if o.Kind == OtherHalf {
					l.Surprise = !fits[last]
				}
				if l.Surprise && o.Kind == Read {
					l.Path = s.path(kept, o, hyps[i], i, last)
				}
				out[i] = append(out[i], l)
			}
		}
	}
	for i := range out {
		slices.SortStableFunc(out[i], func(a, b Line) int { return a.Obs - b.Obs })
	}
	return out, nil
}

// tell says in words what each hypothesis of a pack predicts for an observation, and whether that accounts for it.
func (s *Session) tell(ctx context.Context, p *predict.Pack, kept runs, o Obs, lik []float32) ([]string, []bool, error) {
	if o.Kind == OtherHalf {
		q, err := s.other(ctx, p, kept, o, nil)
		if err != nil {
			return nil, nil, err
		}
		return s.half.Tell(ctx, o.Reading, q)
	}
	fits := make([]bool, len(lik))
	for i, x := range lik {
		fits[i] = x >= s.fitsAt(o)
	}
	return s.predictions(p, kept, o), fits, nil
}

// fitsAt is the least likelihood that counts as accounted for.
func (s *Session) fitsAt(o Obs) float32 {
	if o.Kind == Volts || o.Kind == Ohms { // densities: not worse than a fifth of knowing nothing
		return float32(math.Log(0.2 / 6.5))
	}
	return fitsLog
}

// predictions says in words what each hypothesis of a pack predicts for an observation.
func (s *Session) predictions(p *predict.Pack, kept runs, o Obs) []string {
	out := make([]string, len(p.Hyps))
	if o.Kind == Ohms {
		for i, x := range s.M.OhmsAll(p.Hyps, o.Setting.Lifted, o.Place, o.To) {
			out[i] = OhmsText(x)
		}
		return out
	}
	_, extra := s.want(p, o)
	for b, x := range kept[o.Setting.Key()+extra] {
		for k := range min(64, len(p.Hyps)-b*64) {
			switch {
			case o.Kind == Volts:
				out[b*64+k] = VoltsText(x.Volts(p.Hyps[b*64+k], o.Place, k))
			case o.Kind == Read:
				out[b*64+k] = x.Place(o.Place).Word(k).String()
			case o.Lamp != circuit.None:
				out[b*64+k] = LampText(x, o.Lamp, k)
			default:
				d := s.digitLanes(x, o.Digit)
				out[b*64+k] = d.text(k)
			}
		}
	}
	return out
}

// LampText is what an indicator shows in one lane: lit, dark or unknown.
func LampText(x *predict.Shown, lamp, lane int) string {
	lit, dark, _ := x.Lamp(lamp)
	switch {
	case lit>>lane&1 == 1:
		return "lit"
	case dark>>lane&1 == 1:
		return "dark"
	}
	return "unknown"
}

// VoltsText names the likeliest voltage.
func VoltsText(b predict.Bells) string {
	if len(b) == 0 {
		return "unknown"
	}
	best := slices.MaxFunc(b, func(x, y predict.Bell) int {
		if x.Weight < y.Weight {
			return -1
		}
		return 1
	})
	return fmt.Sprintf("about %.2f V", best.Mean)
}

// OhmsText names the likeliest resistance.
func OhmsText(o predict.Ohms) string {
	if o.Wide {
		return "no short: what the parts' junctions give"
	}
	v := math.Pow(10, o.Log10)
	if v >= 1000 {
		return fmt.Sprintf("about %.2g kΩ", v/1000)
	}
	return fmt.Sprintf("about %.2g Ω", v)
}

// path finds the shortest way from the faults to the place along nets that read otherwise than on a good board.
func (s *Session) path(kept runs, o Obs, hyp []predict.Way, lane, good int) []Step {
	_, extra := s.want(s.M.Pack([][]predict.Way{hyp}), o)
	shown := kept[o.Setting.Key()+extra]
	if shown == nil {
		shown = kept[o.Setting.Key()]
	}
	if shown == nil {
		return nil
	}
	x, g := shown[lane/64], shown[good/64]
	differs := func(n int) bool { return x.Net(n).Word(lane&63) != g.Net(n).Word(good&63) }
	c := s.M.C
	from := map[int]int{}
	var todo []int
	push := func(n, via int) {
		if _, ok := from[n]; !ok && n != circuit.None && !c.Nets[n].Rail {
			from[n] = via
			todo = append(todo, n)
		}
	}
	for _, w := range hyp {
		for _, n := range s.seats(w) {
			push(n, circuit.None)
		}
	}
	for len(todo) > 0 {
		n := todo[0]
		todo = todo[1:]
		if n == o.Place.Net {
			return s.unwind(from, n, x, g, lane, good)
		}
		for _, m := range s.downstream(n) {
			if m == o.Place.Net || differs(m) {
				push(m, n)
			}
		}
	}
	return nil
}

func (s *Session) unwind(from map[int]int, n int, x, g *predict.Shown, lane, good int) []Step {
	var out []Step
	for ; n != circuit.None; n = from[n] {
		out = append(out, Step{n, g.Net(n).Word(good & 63), x.Net(n).Word(lane & 63)})
	}
	slices.Reverse(out)
	return out
}

// seats are the nets at which a fault first shows.
func (s *Session) seats(w predict.Way) []int {
	c := s.M.C
	f := w.F
	switch n := f.Net(c); {
	case f.Kind == fault.Other:
		return f.Touched(c, w.Mode)
	case f.Kind == "bridge":
		return []int{f.A, f.B}
	case f.Kind == "input-open" || f.Kind == "joint-open" && c.Pins[f.A].Driver == circuit.None:
		return append([]int{n}, s.outputs(c.Pins[f.A].Part)...)
	case n != circuit.None:
		return []int{n}
	}
	p := f.Part(c)
	if p == circuit.None {
		return nil
	}
	out := s.outputs(p)
	for _, l := range c.Parts[p].Links {
		out = append(out, c.Links[l].A, c.Links[l].B)
	}
	return out
}

func (s *Session) outputs(p int) []int {
	var out []int
	for _, d := range s.M.C.Parts[p].Drivers {
		out = append(out, s.M.C.Pins[s.M.C.Drivers[d].Pin].Net)
	}
	return out
}

// downstream lists the nets that a net can change directly: outputs of the parts that listen to it, and ends of its links.
func (s *Session) downstream(n int) []int {
	c := s.M.C
	var out []int
	for _, q := range c.Nets[n].Pins {
		if c.Pins[q].Use&part.Heard != 0 {
			out = append(out, s.outputs(c.Pins[q].Part)...)
		}
		for _, l := range c.Parts[c.Pins[q].Part].Links {
			out = append(out, c.Links[l].A, c.Links[l].B)
		}
	}
	return out
}

// Conflict is two readings that cannot both be right of one machine in one state.
type Conflict struct {
	A, B int // indices into Session.Obs, A earlier
	Text string
}

// Conflicts finds readings of the same thing, between the same repairs, that contradict each other.
func (s *Session) Conflicts() []Conflict {
	var out []Conflict
	for j := range s.Obs {
		for i := range j {
			a, b := s.Obs[i], s.Obs[j]
			if a.Epoch != b.Epoch || a.Kind != b.Kind || a.Setting.Key() != b.Setting.Key() || a.Place != b.Place || a.Lamp != b.Lamp || a.Digit != b.Digit || a.To != b.To {
				continue
			}
			clash := a.Seen != b.Seen && a.Kind != OtherHalf
			switch a.Kind {
			case Volts:
				clash = math.Abs(a.Value-b.Value) > 0.6
			case Ohms:
				clash = math.Abs(math.Log10(max(a.Value, .1))-math.Log10(max(b.Value, .1))) > 0.7
			case See:
				clash = clash && a.Seen != "blinking" && b.Seen != "blinking"
			}
			if clash {
				out = append(out, Conflict{i, j, fmt.Sprintf("entry %d says %s at %s, entry %d says %s, and nothing was repaired in between", a.Entry+1, a.Seen, a.At, b.Entry+1, b.Seen)})
			}
		}
	}
	return out
}
