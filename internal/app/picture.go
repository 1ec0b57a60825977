package app

import (
	"context"
	"fmt"
	"maps"
	"strings"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/draw"
	"halfsplit/internal/core/fault"
)

// The drawings of a job: what core/draw is asked to draw, from the job's board, its log and its suspects.

// PictureRequest says which drawing.
type PictureRequest struct {
	View   string // package, circuit, board, moments
	At     string // pin, net or part; "" means the place of the next check
	Do     string // action, for what is expected; "" means that of the next check, or start
	Solder bool   // as seen from the solder side
}

// PictureViews are the drawings in the order of the tabs.
var PictureViews = []struct{ Name, Title string }{{"package", "Package"}, {"circuit", "Circuit"}, {"moments", "Moments"}, {"board", "Board"}}

// Picture draws. W = 0: there is nothing to draw, and Desc says why.
func (d *Desk) Picture(ctx context.Context, v *ProbeView, q PictureRequest) (draw.Picture, error) {
	c := v.Circuit
	if c == nil {
		return draw.Picture{Desc: "There is no board without errors yet."}, nil
	}
	next := v.Card()
	if q.At == "" && next != nil {
		q.At = next.At
	}
	if q.Do == "" && next != nil && len(next.Do) > 0 {
		q.Do = next.Do[len(next.Do)-1]
	}
	pin, net, part := find(c, q.At)
	switch q.View {
	case "package":
		if part == circuit.None {
			return draw.Picture{Desc: "Choose a pin or a part."}, nil
		}
		levels, err := d.levels(ctx, v, q.Do)
		if err != nil {
			return draw.Picture{}, err
		}
		return draw.Package(c, part, draw.PackageOptions{Pin: pin, Solder: q.Solder, Levels: levels}), nil
	case "circuit":
		levels, err := d.levels(ctx, v, q.Do)
		if err != nil {
			return draw.Picture{}, err
		}
		o := draw.NeighbourhoodOptions{Levels: levels, Path: v.path(), Hops: 1}
		if net != circuit.None && !c.Nets[net].Rail {
			o.Nets = append(o.Nets, net)
		} else if part != circuit.None {
			o.Parts = append(o.Parts, part)
		}
		o.Parts, o.Nets = v.places(o.Parts, o.Nets)
		return draw.Neighbourhood(c, o), nil
	case "board":
		o := draw.BoardOptions{Pin: pin, Solder: q.Solder, Marks: map[int]draw.BoardMark{}}
		for _, s := range v.Diagnosis.Parts {
			if p, ok := c.PartByRef(s.Part); ok && s.Probability >= 0.02 {
				o.Marks[p] = draw.BoardMark{Text: fmt.Sprintf("%.0f %%", 100*s.Probability), Weight: s.Probability}
			}
		}
		return draw.Board(c, o), nil
	case "moments":
		return d.moments(ctx, v, q)
	}
	return draw.Picture{Desc: "There is no such drawing."}, nil
}

// Card is what to do next, or nil.
func (v *ProbeView) Card() *Check {
	if v.Copper != nil {
		return v.Copper
	}
	if len(v.Diagnosis.Next) == 0 {
		return nil
	}
	return &v.Diagnosis.Next[0]
}

// find is a place in indices; what it has not is circuit.None.
func find(c *circuit.Circuit, at string) (pin, net, part int) {
	pin, net, part = circuit.None, circuit.None, circuit.None
	if p, ok := c.PartByRef(at); ok {
		return pin, net, p
	}
	if p, _ := c.FindPlace(at); p.Net != circuit.None {
		pin, net = p.Pin, p.Net
		if pin != circuit.None {
			part = c.Pins[pin].Part
		} else if pins := c.Nets[net].Pins; len(pins) > 0 {
			part = c.Pins[pins[0]].Part // some part on the net
		}
		return pin, net, part
	}
	if ref, _, ok := strings.Cut(at, "."); ok { // a segment: DS1.a
		if p, ok := c.PartByRef(ref); ok {
			part = p
		}
	}
	return pin, net, part
}

// levels is what was last read on each net and what a good board shows there under an action.
func (d *Desk) levels(ctx context.Context, v *ProbeView, do string) (map[int]draw.Level, error) {
	c := v.Circuit
	out := map[int]draw.Level{}
	if v.Levels() {
		seen, err := d.logicOf(ctx, v)
		if err != nil {
			return nil, err
		}
		req := ExpectRequest{}
		if do != "" {
			req.Do = []string{do}
		}
		e, err := Expect(ctx, seen, req)
		if err != nil {
			return nil, err
		}
		for i := range c.Nets {
			n := &c.Nets[i]
			if x, ok := e.At[n.Name]; ok && !n.Hidden && !n.Rail && x.Reading != "unknown" {
				out[i] = draw.Level{Expected: x.Reading}
			}
		}
	}
	volts, err := d.voltLevels(ctx, v)
	if err != nil {
		return nil, err
	}
	maps.Copy(out, volts)
	for _, row := range v.Log {
		l := row.Line
		if l.Gone || strings.Join(l.Entry.Do, " ") != do {
			continue
		}
		for _, r := range l.Entry.Read {
			if _, net, _ := find(c, r.At); net != circuit.None {
				x := out[net]
				x.Seen = r.Is
				out[net] = x
			}
		}
		for _, r := range l.Entry.Volts {
			if _, net, _ := find(c, r.At); net != circuit.None && !c.Nets[net].Rail && volts[net] == (draw.Level{}) {
				x := out[net]
				x.Seen = fmt.Sprintf("%.3g V", r.Volts)
				if !row.Surprise { // a voltage that a good board shows too, though its level is called by a word
					x.Expected = x.Seen
				}
				out[net] = x
			}
		}
	}
	return out, nil
}

// logicOf is the board's circuit with what an analogue half decides for the logic.
func (d *Desk) logicOf(ctx context.Context, v *ProbeView) (*circuit.Circuit, error) {
	if !v.Analog() {
		return v.Circuit, nil
	}
	l, err := d.loaded(ctx, v.Job.Board.Version)
	if err != nil {
		return nil, err
	}
	b, err := l.board()
	if err != nil {
		return nil, err
	}
	return b.asLogicSees(), nil
}

// path is the way that the wrong level takes in the leading suspect's account: the longest one that explains a surprise.
func (v *ProbeView) path() []int {
	var best []Hop
	if len(v.Diagnosis.Suspects) > 0 {
		for _, a := range v.Diagnosis.Suspects[0].Account {
			if a.Surprise && a.Fits && len(a.Path) > len(best) {
				best = a.Path
			}
		}
	}
	var out []int
	for _, h := range best {
		if n, ok := v.Circuit.Net(h.At); ok {
			out = append(out, n)
		}
	}
	return out
}

// drawnSuspects bounds how many suspects the circuit is drawn around.
const drawnSuspects = 4

// places adds where the leading suspects sit.
func (v *ProbeView) places(parts, nets []int) ([]int, []int) {
	for _, s := range v.Diagnosis.Suspects[:min(drawnSuspects, len(v.Diagnosis.Suspects))] {
		for _, f := range s.Faults {
			if p, ok := v.Circuit.PartByRef(f.Part); ok {
				parts = append(parts, p)
			} else if n, ok := v.Circuit.Net(f.Net); ok {
				nets = append(nets, n)
			}
		}
	}
	return parts, nets
}

// moments draws a place over the action: as on a good board, and as each of the leading suspects would have it.
func (d *Desk) moments(ctx context.Context, v *ProbeView, q PictureRequest) (draw.Picture, error) {
	c := v.Circuit
	if _, net, _ := find(c, q.At); net == circuit.None {
		return draw.Picture{Desc: "Choose a pin or a net: an indicator has no moments of its own."}, nil
	}
	req := ExpectRequest{At: []string{q.At}}
	o := draw.TimingOptions{Title: "Moments at " + q.At + " after start"}
	if q.Do != "" {
		req.Do = []string{q.Do}
		o.Title = "Moments at " + q.At + " during " + q.Do
		if a, ok := c.ActionByName(q.Do); ok {
			o.Captions = append(o.Captions, "before")
			for _, m := range c.Actions[a].Moments {
				o.Captions = append(o.Captions, momentText(c, m))
			}
		}
	}
	sees, err := d.logicOf(ctx, v)
	if err != nil {
		return draw.Picture{}, err
	}
	row := func(label, seen string, faults []string) error {
		req.Faults = faults
		e, err := Expect(ctx, sees, req)
		if err != nil {
			return err
		}
		var levels []byte
		for _, m := range e.At[q.At].Moments {
			levels = append(levels, m...)
		}
		o.Rows = append(o.Rows, draw.TimingRow{Label: label, Expected: levels, Seen: seen, Place: q.At})
		return nil
	}
	seen := ""
	for _, l := range v.Job.Standing() {
		for _, r := range l.Entry.Read {
			if r.At == q.At && strings.Join(l.Entry.Do, " ") == q.Do {
				seen = r.Is
			}
		}
	}
	if err := row("good board", seen, nil); err != nil {
		return draw.Picture{}, err
	}
	for _, g := range v.Groups[:min(3, len(v.Groups))] {
		s := v.Diagnosis.Suspects[g.Suspects[0]]
		var faults []string
		known := true
		for _, f := range s.Faults {
			faults = append(faults, f.Kind+"@"+f.At)
			if _, err := fault.Parse(c, f.Kind+"@"+f.At); err != nil {
				known = false
			}
		}
		if !known {
			continue
		}
		if err := row("with "+g.Letter, "", faults); err != nil {
			return draw.Picture{}, err
		}
	}
	return draw.Timing(o), nil
}

// momentText says what an action changes in one moment.
func momentText(c *circuit.Circuit, m circuit.Moment) string {
	var out []string
	for _, s := range m.Sets {
		in := c.Inputs[s.Input]
		name := ""
		if in.Net != circuit.None {
			name = c.NetName(in.Net)
		}
		if s.To == circuit.Invert {
			out = append(out, name+" turned")
			continue
		}
		out = append(out, name+"="+[...]string{"0", "1", "x", "z"}[s.To])
	}
	for _, mv := range m.Moves {
		out = append(out, c.MoveText(mv))
	}
	if len(out) > 4 {
		out = append(out[:3], fmt.Sprintf("%d more", len(out)-3))
	}
	return strings.Join(out, " ")
}
