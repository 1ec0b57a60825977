package app

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/predict"
)

// ExpectRequest asks what places show in one experiment, in the words of the files. The zero value asks for every named
// net of a good board after start.
type ExpectRequest struct {
	Do     []string // actions after start, in order; the last is watched
	At     []string // pins, nets and indicators; none: every net that has a name
	Faults []string // KIND@WHERE, all present at once
	Lifted []string // pins
}

// Expect says what each place shows. The error joins everything that the board does not have, each with the nearest right word.
func Expect(ctx context.Context, c *circuit.Circuit, req ExpectRequest) (Expectation, error) {
	q, err := resolve(c, req)
	if err != nil {
		return Expectation{}, err
	}
	m := predict.New(c, 1)
	out := Expectation{At: map[string]PlaceView{}}
	shapes, err := m.Expect(ctx, q.ways, q.setting, q.places)
	if err != nil {
		return Expectation{}, err
	}
	for i, s := range shapes {
		v := PlaceView{Reading: s.Word.String(), Moments: make([]string, len(s.Moments))}
		for k, b := range s.Moments {
			v.Moments[k] = string(rune(b))
		}
		if pi := freeRunOf(c, q.setting.Actions); pi != circuit.None && len(q.ways) == 0 {
			v.Rate = rateAt(c, pi, q.places[i].Net)
		}
		out.At[q.names[i]] = v
	}
	if len(q.lamps)+len(q.digits) == 0 {
		return out, nil
	}
	shown, err := m.Pack([][]predict.Way{q.ways}).Show(ctx, q.setting, predict.Want{Lamps: true})
	if err != nil {
		return Expectation{}, err
	}
	for name, lamp := range q.lamps {
		out.At[name] = PlaceView{Reading: lampWord(shown[0], lamp), Moments: []string{}}
	}
	for name, d := range q.digits {
		out.At[name] = PlaceView{Reading: digitWord(c, shown[0], d), Moments: []string{}}
	}
	return out, nil
}

// question is a request in indices of the circuit.
type question struct {
	setting predict.Setting
	ways    []predict.Way
	names   []string // of places, as they were asked for
	places  []circuit.Place
	lamps   map[string]int
	digits  map[string]int
}

func resolve(c *circuit.Circuit, req ExpectRequest) (question, error) {
	q := question{lamps: map[string]int{}, digits: map[string]int{}}
	var wrong []error
	for _, name := range req.Do {
		a, err := action(c, name)
		if err != nil {
			wrong = append(wrong, err)
		}
		q.setting.Actions = append(q.setting.Actions, a)
	}
	for _, s := range req.Faults {
		f, err := fault.Parse(c, s)
		if err != nil {
			wrong = append(wrong, err)
		}
		q.ways = append(q.ways, predict.Way{F: f})
	}
	for _, s := range req.Lifted {
		p, hint := c.FindPlace(s)
		switch {
		case p.Net == circuit.None:
			wrong = append(wrong, errors.New(hint))
		case p.Pin == circuit.None:
			wrong = append(wrong, fmt.Errorf("%s is a net; a pin is lifted, such as U1.4", s))
		}
		q.setting.Lifted = append(q.setting.Lifted, p.Pin)
	}
	slices.Sort(q.setting.Lifted)
	q.setting.Lifted = slices.Compact(q.setting.Lifted)
	wrong = append(wrong, q.where(c, req.At)...)
	return q, errors.Join(wrong...)
}

// where finds the places; a word that is both a net and an indicator means the net.
func (q *question) where(c *circuit.Circuit, at []string) (wrong []error) {
	if len(at) == 0 {
		for i, n := range c.Nets {
			if !n.Hidden {
				q.names, q.places = append(q.names, n.Name), append(q.places, circuit.Place{Pin: circuit.None, Net: i})
			}
		}
		return nil
	}
	for _, s := range at {
		if p, hint := c.FindPlace(s); p.Net != circuit.None {
			q.names, q.places = append(q.names, s), append(q.places, p)
		} else if lamp, digit, _ := c.FindLamp(s); lamp != circuit.None {
			q.lamps[s] = lamp
		} else if digit != circuit.None {
			q.digits[s] = digit
		} else {
			wrong = append(wrong, errors.New(hint))
		}
	}
	return wrong
}

// action finds an action by name.
func action(c *circuit.Circuit, name string) (int, error) {
	if i, ok := c.ActionByName(name); ok {
		return i, nil
	}
	var known []string
	for _, a := range c.Actions {
		known = append(known, a.Name)
	}
	hint := finding.DidYouMean(name, known)
	if hint == "" {
		hint = "the board lists its actions under actions:"
	}
	return circuit.None, fmt.Errorf("no action %s on this board; %s", name, hint)
}
