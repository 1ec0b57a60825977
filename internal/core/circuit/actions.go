package circuit

import (
	"maps"
	"slices"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/finding"
)

// Actions become flat lists of moments. A pulse is two, cycles of N are 2·N.

// MaxMoments bounds one action, so that a slip in `times:` cannot make a run endless.
const MaxMoments = 100_000

func (b *builder) actions() {
	for _, a := range b.c.Board.Actions {
		act := Action{Name: a.Name, Title: a.Title, Whole: a.Whole, FreeRun: None}
		b.steps(&act, a.Steps, a)
		if _, dup := b.c.actByName[a.Name]; dup {
			b.fl.Errorf(a.Pos, a.Name, "", "there are two actions %s", a.Name)
		}
		b.c.actByName[a.Name] = len(b.c.Actions)
		b.c.Actions = append(b.c.Actions, act)
	}
	for _, s := range b.c.Board.Start {
		i, ok := b.c.actByName[s.Text]
		if !ok {
			b.fl.Errorf(s.Pos, s.Text, finding.DidYouMean(s.Text, slices.Collect(maps.Keys(b.c.actByName))), "start: no action %s", s.Text)
			continue
		}
		b.c.start = append(b.c.start, i)
	}
}

func (b *builder) steps(act *Action, steps []board.Step, a board.Action) {
	for _, s := range steps {
		if len(act.Moments) > MaxMoments {
			b.fl.Errorf(a.Pos, a.Name, "shorten it: a few periods show the same", "action %s has more than %d moments", a.Name, MaxMoments)
			return
		}
		switch {
		case s.Pulse.Text != "":
			if in := b.settable(s.Pulse.Text, s.Pulse.Pos); in != None {
				flip := Moment{Sets: []InputSet{{in, Invert}}}
				act.Moments = append(act.Moments, flip, flip)
			}
		case len(s.Cycles) > 0:
			for _, cy := range s.Cycles {
				in := b.settable(cy.Net, cy.Pos)
				if in == None || cy.N > MaxMoments {
					continue
				}
				for range 2 * cy.N {
					act.Moments = append(act.Moments, Moment{Sets: []InputSet{{in, Invert}}})
				}
			}
		case s.Times > 0:
			once := &Action{}
			b.steps(once, s.Steps, a)
			if len(once.Moments)*s.Times > MaxMoments {
				b.fl.Errorf(s.Pos, a.Name, "shorten it: a few periods show the same", "action %s has more than %d moments", a.Name, MaxMoments)
				return
			}
			for range s.Times {
				act.Moments = append(act.Moments, once.Moments...)
			}
		default:
			act.Moments = append(act.Moments, b.moment(s))
		}
	}
}

func (b *builder) moment(s board.Step) Moment {
	var m Moment
	for _, set := range s.Sets {
		bus := slices.IndexFunc(b.c.Board.Buses, func(x board.Bus) bool { return x.Name == set.Net })
		if bus < 0 {
			if in := b.settable(set.Net, set.Pos); in != None {
				if set.Value.Letter == 0 && set.Value.Number > 1 {
					b.fl.Errorf(set.Pos, set.Net, "", "%s is one net: 0, 1, x or z, not %d", set.Net, set.Value.Number)
				}
				m.Sets = append(m.Sets, InputSet{in, level(set.Value, 0)})
			}
			continue
		}
		nets := b.c.Board.Buses[bus].Nets
		if set.Value.Letter == 0 && len(nets) < 64 && set.Value.Number>>len(nets) != 0 {
			b.fl.Errorf(set.Pos, set.Net, "", "%d does not fit into bus %s of %d lines", set.Value.Number, set.Net, len(nets))
		}
		for k, n := range nets {
			if in := b.settable(n.Text, set.Pos); in != None {
				m.Sets = append(m.Sets, InputSet{in, level(set.Value, len(nets)-1-k)})
			}
		}
	}
	for _, p := range s.Press {
		b.press(&m, p, true)
	}
	for _, p := range s.Release {
		b.press(&m, p, false)
	}
	for _, mv := range s.Moves {
		b.move(&m, mv)
	}
	return m
}

// settable gives the input that an action moves under a name: a net of inputs:, or a clock source's output.
func (b *builder) settable(name string, pos finding.Pos) int {
	n, ok := b.c.netByName[name]
	if ok {
		if in, ok := b.clockOf[n]; ok {
			return in
		}
		if in, ok := b.inputOf[n]; ok {
			return in
		}
	}
	var known []string
	for n := range b.inputOf {
		known = append(known, b.c.Nets[n].Name)
	}
	for _, bus := range b.c.Board.Buses {
		known = append(known, bus.Name)
	}
	hint := finding.DidYouMean(name, known)
	if ok {
		hint = "only nets under inputs: (or a clock source's) can be set; add it there"
	}
	b.fl.Errorf(pos, name, hint, "%s is not an input or bus of this board", name)
	return None
}

func level(v board.Value, bit int) Level {
	switch {
	case v.Letter == 'x':
		return Unknown
	case v.Letter == 'z':
		return LetGo
	case v.Number>>bit&1 == 1:
		return High
	}
	return Low
}
