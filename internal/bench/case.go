package bench

import (
	"context"
	"fmt"
	"math/rand/v2"

	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/predict"
)

// Fault draws a hidden fault that shows itself: in at least two actions some net reads otherwise than on the good board.
func Fault(ctx context.Context, m *predict.Model, seed uint64) (fault.Fault, error) {
	r := rand.New(rand.NewPCG(seed, 1))
	fs := fault.Universe(m.C)
	for range 1000 {
		f := fs[r.IntN(len(fs))]
		symptoms := 0
		for a := range m.C.Actions {
			p, err := look(ctx, m, f, a)
			if err != nil {
				return f, err
			}
			if len(p.wrong) > 0 {
				symptoms++
			}
		}
		if symptoms >= 2 {
			return f, nil
		}
	}
	return fault.Fault{}, fmt.Errorf("no fault of this board shows itself")
}

// Log makes the log of a technician who works on a board with the fault: so many readings, taken of indicators and nets in
// changing actions. Every third shows something wrong, as far as the fault does; all are what the model predicts for the fault.
func Log(ctx context.Context, m *predict.Model, f fault.Fault, seed uint64, readings int) ([]evidence.Entry, error) {
	r := rand.New(rand.NewPCG(seed, 2))
	var out []evidence.Entry
	taken := map[string]bool{}
	for tries := 0; len(out) < readings; tries++ {
		if tries > 100*readings {
			return nil, fmt.Errorf("only %d different readings on this board", len(out))
		}
		a := r.IntN(len(m.C.Actions))
		p, err := look(ctx, m, f, a)
		if err != nil {
			return nil, err
		}
		from := p.right
		if len(out)%3 == 0 && len(p.wrong) > 0 {
			from = p.wrong
		} else if len(out)%3 == 0 && tries < 50*readings {
			continue
		}
		if len(from) == 0 {
			continue
		}
		e := from[r.IntN(len(from))]
		if key := fmt.Sprint(e.Do, e.Read, e.See); !taken[key] {
			taken[key] = true
			out = append(out, e)
		}
	}
	return out, nil
}

// panel is what can be read of a broken board in an action: as on the good board, and otherwise.
type panel struct{ right, wrong []evidence.Entry }

func look(ctx context.Context, m *predict.Model, f fault.Fault, action int) (panel, error) {
	c := m.C
	var p panel
	var set predict.Setting
	var do []string
	if name := c.Actions[action].Name; action != c.Start()[0] {
		set.Actions, do = []int{action}, []string{name}
	}
	shown, err := m.Pack([][]predict.Way{{{F: f}}, nil}).Show(ctx, set, predict.Want{Lamps: true})
	if err != nil {
		return p, err
	}
	sh := shown[0]
	add := func(wrong bool, e evidence.Entry) {
		e.Do, e.HasDo = do, do != nil
		if wrong {
			p.wrong = append(p.wrong, e)
		} else {
			p.right = append(p.right, e)
		}
	}
	for n := range c.Nets {
		if c.Nets[n].Hidden || c.Nets[n].Rail || len(c.Nets[n].Pins) == 0 {
			continue
		}
		split := sh.Net(n)
		if w := split.Word(0); w != predict.Unknown {
			add(w != split.Word(1), evidence.Entry{Read: []evidence.Reading{{At: c.Nets[n].Name, Is: w.String()}}})
		}
	}
	for l := range c.Lamps {
		lit, dark, _ := sh.Lamp(l)
		is := "dark"
		if lit&1 == 1 {
			is = "lit"
		} else if dark&1 == 0 {
			continue
		}
		add(lit&1 != lit>>1&1, evidence.Entry{See: []evidence.Reading{{At: c.Lamps[l].Name, Is: is}}})
	}
	return p, nil
}
