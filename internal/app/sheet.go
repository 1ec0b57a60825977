package app

import (
	"context"
	"fmt"
	"slices"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/unit"
)

// Sheet is one place of the board: what it is and what a good board shows there.
type Sheet struct {
	At, Where string
	Pin       bool
	Net       string // "" for a part
	Part      string // of the pin, or the part itself
	Type      string
	Known     bool     // the built-in library has a page of the type
	Lamps     []string // indicators of the part
	Digit     bool
	Lifted    bool
	Do        string
	Actions   []ActionRow
	Good      PlaceView
	Rail      bool
	Others    []string // other pins on the net

	// On a board with an analogue half:
	Figures   []GoodFigure // what a good board shows here
	Kinds     []string     // kinds of Figure that can be taken here besides volts and ohms
	Across    bool         // the part has two ends: volts across it
	Ground    string       // what ohms are against
	Signal    string       // net where the board's signal goes in; "" without
	Frequency string       // its frequency
}

// GoodFigure is what a good board shows at a place.
type GoodFigure struct{ What, Good string }

// Sheet says what a place is. at is a pin, a net, a part or an indicator; do is the action to compare with, "" after start.
func (d *Desk) Sheet(ctx context.Context, id int64, at, do string) (*Sheet, error) {
	o, err := d.open(ctx, id)
	if err != nil {
		return nil, err
	}
	j := o.job.Clone()
	o.mu.Unlock()
	if j.Board.Version == 0 {
		return nil, Wrong{fmt.Errorf("the job has no board without errors yet")}
	}
	l, err := d.loaded(ctx, j.Board.Version)
	if err != nil {
		return nil, err
	}
	c := l.circuit
	if c == nil {
		return nil, Wrong{fmt.Errorf("the job has no board without errors yet")}
	}
	s := &Sheet{At: at, Do: do, Actions: Actions(c), Ground: "GND"}
	if c.Board.Analog != nil {
		if err := s.figures(ctx, l, at); err != nil {
			return nil, err
		}
	}
	ask := at
	if p, ok := c.PartByRef(at); ok {
		x := &c.Parts[p]
		s.Part, s.Type, s.Known, s.Where = at, x.Src.Type, BuiltIn(x.Type), at+" ("+x.Src.Type+")"
		for _, l := range x.Lamps {
			s.Lamps = append(s.Lamps, c.Lamps[l].Name)
		}
		_, digit, _ := c.FindLamp(at)
		s.Digit = digit != circuit.None
		if len(s.Lamps) == 0 {
			return s, nil
		}
	} else if p, hint := c.FindPlace(at); p.Net != circuit.None {
		s.Net, s.Rail = c.NetName(p.Net), c.Nets[p.Net].Rail
		s.Where = "Net " + s.Net
		if p.Pin != circuit.None {
			s.Pin, s.At = true, c.PinName(p.Pin)
			x := &c.Parts[c.Pins[p.Pin].Part]
			s.Part, s.Type, s.Known, s.Where = x.Ref, x.Src.Type, BuiltIn(x.Type), c.PinText(p.Pin)
			s.Lifted = slices.Contains(Progress(j, &ProbeView{Circuit: c}).LiftedOpen, s.At)
		}
		for _, q := range c.Nets[p.Net].Pins {
			if q != p.Pin {
				s.Others = append(s.Others, c.PinName(q))
			}
		}
	} else {
		return nil, Wrong{fmt.Errorf("%s", hint)}
	}
	req := ExpectRequest{At: []string{ask}}
	if do != "" {
		req.Do = []string{do}
	}
	if c.Board.Analog != nil {
		b, err := l.board()
		if err != nil {
			return nil, err
		}
		c = b.asLogicSees()
	}
	e, err := Expect(ctx, c, req)
	if err != nil {
		return nil, Wrong{err}
	}
	s.Good = e.At[ask]
	return s, nil
}

// figures says what of the analogue half can be measured at a place, and what a good board shows there.
func (s *Sheet) figures(ctx context.Context, l *loadedBoard, at string) error {
	b, err := l.board()
	if err != nil {
		return err
	}
	if b.analogue() == nil {
		return nil
	}
	m := b.analogue().U.M
	s.Ground = l.circuit.NetName(m.Ground)
	for _, src := range l.circuit.Board.Analog.Sources {
		if src.Kind == board.Signal && s.Signal == "" {
			s.Signal, s.Frequency = src.Plus, unit.Format(src.Frequency)
		}
	}
	if pi, ok := l.circuit.PartByRef(at); ok {
		for _, d := range m.Devices {
			if d.Part != pi {
				continue
			}
			s.Across = len(d.Pins) == 2
			switch d.Class {
			case "fuse":
				s.Kinds = append(s.Kinds, "current")
			case "electrolytic", "tantalum", "capacitor":
				s.Kinds = append(s.Kinds, "esr")
			case "potentiometer":
				s.Kinds = append(s.Kinds, "wiper")
			}
			break
		}
		return nil
	}
	if m.Mains {
		s.Kinds = append(s.Kinds, "ripple")
	}
	if s.Signal != "" {
		s.Kinds = append(s.Kinds, "ac", "gain")
	}
	p, _ := l.circuit.FindPlace(at)
	if p.Net == circuit.None {
		return nil
	}
	t, err := l.table(ctx)
	if err != nil {
		return err
	}
	row, ok := t.Net(l.circuit.NetName(p.Net))
	if !ok {
		return nil
	}
	s.Figures = append(s.Figures, GoodFigure{"A good board shows", row.Range()})
	if row.Golden != nil {
		s.Figures = append(s.Figures, GoodFigure{"The known-good unit showed", VoltsText(*row.Golden)}, GoodFigure{"The model alone says", VoltsText(*row.Model)})
	}
	if row.Ripple != nil {
		s.Figures = append(s.Figures, GoodFigure{"Ripple", "about " + unit.With(*row.Ripple, "V p-p")})
	}
	return nil
}
