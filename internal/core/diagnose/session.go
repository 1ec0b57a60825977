// Package diagnose finds which faults explain everything that was seen: P(suspect | log) ∝ P(faults) · Π P(reading | suspect),
// over all single faults, and over pairs and triples where they are the better story.
//
// A Session keeps what it has computed, so that one more reading costs little. It is not safe for concurrent use.
package diagnose

import (
	"fmt"
	"slices"
	"strings"
	"sync"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/predict"
)

// Ground is what all cases of one board share: its faults, each alone in a lane, and what they show. It may be used by many
// sessions at once.
type Ground struct {
	M      *predict.Model
	Faults []fault.Fault // every single fault, in a fixed order
	Half   Half          // the half that is not logic; nil on most boards

	ways    []way
	singles *predict.Pack // the ways, each in a lane; the last lane is the good board
	order   []int         // lane of singles → way
	mu      sync.Mutex
	shown   map[string][]*predict.Shown
}

// NewGround lists the faults of a board.
func NewGround(m *predict.Model) *Ground { return GroundOf(m, fault.Universe(m.C)) }

// GroundOf considers the given faults only, in their order: for whoever knows better what can be wrong.
func GroundOf(m *predict.Model, faults []fault.Fault) *Ground {
	g := &Ground{M: m, Faults: faults, shown: map[string][]*predict.Shown{}}
	var hyps [][]predict.Way
	for i, f := range g.Faults {
		for mode := range f.Modes() {
			g.ways = append(g.ways, way{i, mode, f.ModeWeight(mode)})
		}
	}
	g.order = g.lanes()
	for _, w := range g.order {
		hyps = append(hyps, []predict.Way{{F: g.Faults[g.ways[w].fault], Mode: g.ways[w].mode}})
	}
	g.singles = m.Pack(append(hyps, nil))
	return g
}

// Session is one case against one board.
type Session struct {
	*Ground
	Case   *evidence.Case
	Odds   []float64 // prior odds of each; their sum is Expected
	Obs    []Obs
	Lifted []int // pins lifted at the end of the log

	half     Log     // what the other half has of the case; nil without one
	readings int     // of the other half
	fitting  float64 // what they weigh if all of them fit

	deferred []bool      // per observation: some lanes, hopeless ones, have the good board's value
	sum      []float64   // per lane of singles: logarithm of prior and likelihood so far
	lik      [][]float32 // per observation, per way, at the end the good board: natural logarithm
	epochs   int
	repairs  []repair
}

// Expected is how many faults a faulty machine is taken to have besides the first: it sets the odds of one more (estimate).
const Expected = 0.5

// way is a lane of the single-fault pack.
type way struct {
	fault, mode int
	share       float64
}

// ObsKind is what was measured.
type ObsKind uint8

// Kinds of observation.
const (
	Read ObsKind = iota
	See
	Volts
	Ohms
	OtherHalf
)

// Obs is one reading of the log, resolved.
type Obs struct {
	Entry   int // index into the log, from 0
	Kind    ObsKind
	Setting predict.Setting
	Place   circuit.Place
	To      circuit.Place // ohms
	Lamp    int           // see: lamp, or None
	Digit   int           // see: digit, or None
	Word    predict.Word
	Seen    string // as written
	Value   float64
	Sure    float64
	Epoch   int
	At      string // as written
	What    string // other half: volts, ripple, …
	Reading int    // other half: counts its readings
}

// repair is what a log entry changed for good; faults of the epoch before may have ended with it.
type repair struct {
	entry    int
	replaced []int // parts
	soldered []int // pins
	reseated []int // parts
	cleared  []int // nets
}

// New prepares a case. Findings name entries that do not fit the board; with an error among them the Session is nil.
func New(m *predict.Model, c *evidence.Case) (*Session, finding.List) {
	return NewGround(m).Session(c)
}

// Session prepares a case on a board that is known already.
func (g *Ground) Session(c *evidence.Case) (*Session, finding.List) {
	s := &Session{Ground: g, Case: &evidence.Case{Title: c.Title, File: c.File, Board: c.Board, Have: c.Have, Damage: c.Damage}}
	s.Odds = fault.Priors(g.M.C, s.Faults, c.Damage)
	total := 0.0
	for _, o := range s.Odds {
		total += o
	}
	for i := range s.Odds {
		s.Odds[i] *= Expected / total
	}
	if g.Half != nil {
		s.half = g.Half.Start(s.Case)
	}
	fl := s.checkZones(c)
	for _, e := range c.Log {
		fl = append(fl, s.Add(e)...)
	}
	if fl.Errors() {
		return nil, fl
	}
	return s, fl
}

func (s *Session) checkZones(c *evidence.Case) finding.List {
	var fl finding.List
	for _, z := range c.Damage {
		for _, p := range z.Parts {
			if _, ok := s.M.C.PartByRef(p); !ok {
				_, hint := s.M.C.FindPlace(p + ".1")
				fl.Errorf(z.Pos, p, "", "damage: %s", hint)
			}
		}
		for _, n := range z.Nets {
			if _, ok := s.M.C.Net(n); !ok {
				_, hint := s.M.C.FindPlace(n)
				fl.Errorf(z.Pos, n, "", "damage: %s", hint)
			}
		}
	}
	return fl
}

// Add takes in one more entry of the log.
func (s *Session) Add(e evidence.Entry) finding.List {
	var fl finding.List
	e.Index = len(s.Case.Log) + 1
	if e.Sure == 0 {
		e.Sure = evidence.DefaultSure
	}
	r := resolver{s: s, e: e, fl: &fl}
	setting, ok := r.setting()
	if ok {
		s.Obs = append(s.Obs, r.observations(setting)...)
		r.repairs()
	}
	s.Case.Log = append(s.Case.Log, e)
	return fl
}

// Try says what is wrong with an entry, as Add would, and takes nothing in.
func (s *Session) Try(e evidence.Entry) finding.List {
	t := Session{Ground: s.Ground, Case: &evidence.Case{}, Lifted: s.Lifted}
	if s.Half != nil {
		t.half = s.Half.Start(t.Case)
	}
	return t.Add(e)
}

type resolver struct {
	s  *Session
	e  evidence.Entry
	fl *finding.List
}

func (r *resolver) setting() (predict.Setting, bool) {
	set := predict.Setting{Lifted: slices.Clone(r.s.Lifted)}
	for _, name := range r.e.Do {
		i, ok := r.s.M.C.ActionByName(name)
		if !ok {
			var known []string
			for _, a := range r.s.M.C.Actions {
				known = append(known, a.Name)
			}
			r.fl.Errorf(r.e.Pos, name, finding.DidYouMean(name, known), "entry %d: no action %s on this board", r.e.Index, name)
			return set, false
		}
		set.Actions = append(set.Actions, i)
	}
	return set, true
}

func (r *resolver) place(at string, pos finding.Pos) (circuit.Place, bool) {
	p, hint := r.s.M.C.FindPlace(at)
	if p.Net == circuit.None {
		r.fl.Errorf(pos, at, "", "entry %d: %s", r.e.Index, hint)
		return p, false
	}
	return p, true
}

func (r *resolver) observations(set predict.Setting) []Obs {
	out := r.takeOther(set)
	base := Obs{Entry: r.e.Index - 1, Setting: set, Sure: r.e.Sure, Epoch: r.s.epochs, Lamp: circuit.None, Digit: circuit.None}
	for _, x := range r.e.Read {
		o := base
		w, ok := predict.WordOf(x.Is)
		if !ok {
			r.fl.Errorf(x.Pos, x.At, finding.DidYouMean(x.Is, []string{"low", "high", "pulses", "floating", "between"}), "entry %d: %q is not a reading", r.e.Index, x.Is)
			continue
		}
		if o.Place, ok = r.place(x.At, x.Pos); ok {
			o.Kind, o.Word, o.Seen, o.At = Read, w, x.Is, x.At
			out = append(out, o)
		}
	}
	for _, x := range r.e.See {
		o := base
		var hint string
		o.Lamp, o.Digit, hint = r.s.M.C.FindLamp(x.At)
		o.Kind, o.Seen, o.At = See, x.Is, x.At
		switch {
		case hint != "":
			r.fl.Errorf(x.Pos, x.At, "", "entry %d: %s", r.e.Index, hint)
		case o.Digit == circuit.None && x.Is != "lit" && x.Is != "dark" && x.Is != "blinking":
			r.fl.Errorf(x.Pos, x.At, "write lit, dark or blinking", "entry %d: %s is a lamp and cannot show %q", r.e.Index, x.At, x.Is)
		case o.Digit != circuit.None && !isGlyph(x.Is):
			r.fl.Errorf(x.Pos, x.At, `write "0" to "9", blank, or lit: and the segments`, "entry %d: %s is a digit and cannot show %q", r.e.Index, x.At, x.Is)
		default:
			out = append(out, o)
		}
	}
	for _, x := range r.e.Volts {
		o := base
		var ok bool
		if o.Place, ok = r.place(x.At, x.Pos); ok {
			if n := len(set.Actions); n > 0 && r.s.M.C.Actions[set.Actions[n-1]].FreeRun != circuit.None && !r.s.M.C.Nets[o.Place.Net].Rail {
				r.fl.Errorf(x.Pos, x.At, "read its level instead: low, high, pulses, floating or between", "entry %d: a free run never comes to rest, so %s has no steady volts", r.e.Index, x.At)
				continue
			}
			o.Kind, o.Value, o.At, o.Seen = Volts, x.Volts, x.At, fmt.Sprintf("%.3g V", x.Volts)
			out = append(out, o)
		}
	}
	for _, x := range r.e.Ohms {
		o := base
		var ok1, ok2 bool
		o.Place, ok1 = r.place(x.At, x.Pos)
		o.To, ok2 = r.place(x.To, x.Pos)
		if ok1 && ok2 {
			o.Kind, o.Value, o.At, o.Seen = Ohms, x.Ohms, x.At, fmt.Sprintf("%.3g Ω to %s", x.Ohms, x.To)
			if x.Open {
				o.Value, o.Seen = 1e7, "open to "+x.To
			}
			out = append(out, o)
		}
	}
	return out
}

func (r *resolver) repairs() {
	s := r.s
	rep := repair{entry: r.e.Index - 1}
	pins := func(words []string, f func(int)) {
		for _, w := range words {
			if p, ok := r.place(w, r.e.Pos); ok {
				if p.Pin == circuit.None {
					r.fl.Errorf(r.e.Pos, w, "name the pin, such as "+s.M.C.PinName(s.M.C.Nets[p.Net].Pins[0]), "entry %d: %s is a net, not a pin", r.e.Index, w)
					continue
				}
				f(p.Pin)
			}
		}
	}
	parts := func(words []string, f func(int)) {
		for _, w := range words {
			i, ok := s.M.C.PartByRef(w)
			if !ok {
				_, hint := s.M.C.FindPlace(w + ".1")
				r.fl.Errorf(r.e.Pos, w, "", "entry %d: %s", r.e.Index, strings.TrimPrefix(hint, "no net or pin"))
				continue
			}
			f(i)
		}
	}
	pins(r.e.Lifted, func(p int) { s.lift(p, true) })
	pins(r.e.Refitted, func(p int) { s.lift(p, false) })
	parts(r.e.Replaced, func(i int) {
		rep.replaced = append(rep.replaced, i)
		for _, p := range s.M.C.Parts[i].Pins { // a new part is soldered in with all its pins
			s.lift(p, false)
		}
	})
	pins(r.e.Resolder, func(p int) { rep.soldered = append(rep.soldered, p) })
	parts(r.e.Reseated, func(i int) { rep.reseated = append(rep.reseated, i) })
	for _, n := range r.e.Cleared {
		if p, ok := r.place(n, r.e.Pos); ok {
			rep.cleared = append(rep.cleared, p.Net)
		}
	}
	if len(rep.replaced)+len(rep.soldered)+len(rep.reseated)+len(rep.cleared) > 0 {
		s.epochs++
		s.repairs = append(s.repairs, rep)
	}
}

func (s *Session) lift(pin int, up bool) {
	i, found := slices.BinarySearch(s.Lifted, pin)
	switch {
	case up && !found:
		s.Lifted = slices.Insert(slices.Clone(s.Lifted), i, pin)
	case !up && found:
		s.Lifted = slices.Delete(slices.Clone(s.Lifted), i, i+1)
	}
}

// Epoch is the number of repairs so far.
func (s *Session) Epoch() int { return s.epochs }

// Surprising tells whether an observation is not what a good board shows.
func (s *Session) Surprising(obs int) bool {
	return obs < len(s.lik) && s.lik[obs][len(s.ways)] < fitsLog
}

// cache keeps runs of a pack.
type cache interface {
	get(key string) ([]*predict.Shown, bool)
	put(key string, sh []*predict.Shown)
}

func (g *Ground) get(key string) ([]*predict.Shown, bool) {
	g.mu.Lock()
	defer g.mu.Unlock()
	sh, ok := g.shown[key]
	return sh, ok
}

func (g *Ground) put(key string, sh []*predict.Shown) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.shown[key] = sh
}

// runs is the cache of a pack that lives for one question.
type runs map[string][]*predict.Shown

func (r runs) get(key string) ([]*predict.Shown, bool) {
	sh, ok := r[key]
	return sh, ok
}

func (r runs) put(key string, sh []*predict.Shown) { r[key] = sh }
