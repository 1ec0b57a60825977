package joint

import (
	"context"
	"slices"

	"halfsplit/internal/core/analog"
	"halfsplit/internal/core/circuit"
)

// Stages that the logic moves: an analogue switch in front of a comparator, a ladder of resistors on outputs. What the logic hears there is a table over
// the levels that move the stage, and a fault has a table of its own.

// mostMovers is how many levels a table may hang on.
const mostMovers = 3

// stage is a solved stage with the shares that move it.
type stage struct {
	root   int
	shares []int
	taps   []int
}

// findMoving finds the taps that move with the logic, and their tables on the sound board.
func (b *Board) findMoving(ctx context.Context) error {
	s := b.A.Split
	shares := map[int][]int{}
	for i, sh := range s.Shares {
		for _, r := range sh.Stages {
			shares[r] = append(shares[r], i)
		}
	}
	for r := range s.Stage {
		if len(shares[r]) == 0 {
			continue
		}
		st := stage{root: r, shares: shares[r]}
		for i, t := range b.taps {
			if t.stage == r {
				st.taps = append(st.taps, i)
			}
		}
		if len(st.taps) > 0 {
			b.stages = append(b.stages, st)
		}
	}
	free := string(slices.Repeat([]byte{analog.Free}, len(s.Shares)))
	for k := range b.stages {
		st := &b.stages[k]
		list, err := b.images(ctx, st, free, []int{0})
		if err != nil {
			return err
		}
		for _, i := range st.taps {
			row := column(list, 0, i)
			if slices.Max(row) == slices.Min(row) {
				continue
			}
			b.taps[i].from, b.taps[i].table = st.shares, row
			if len(st.shares) > mostMovers { // its levels are too many to tell
				b.taps[i].from, b.taps[i].table = st.shares[:1], []byte{unknown, unknown}
			}
		}
	}
	return nil
}

// images solves a stage under every setting of what moves it, or under the two uniform ones where these are too many: by setting, then hypothesis.
func (b *Board) images(ctx context.Context, st *stage, base string, hyps []int) ([]map[int]image, error) {
	var out []map[int]image
	for c := range settings(st) {
		ws, err := b.Lab.Worlds(ctx, st.drive(base, c), hyps)
		if err != nil {
			return nil, err
		}
		at := map[int]image{}
		for _, h := range hyps {
			at[h] = b.image(ws[h])
		}
		out = append(out, at)
	}
	return out, nil
}

// settings is how many settings of its movers a stage is solved under.
func settings(st *stage) int {
	if len(st.shares) > mostMovers {
		return 2
	}
	return 1 << len(st.shares)
}

// drive is a drive with the movers of the stage in a setting.
func (st *stage) drive(base string, setting int) string {
	signs := []byte(base)
	for k, sh := range st.shares {
		on := setting>>k&1 == 1
		if len(st.shares) > mostMovers {
			on = setting == 1
		}
		signs[sh] = analog.OutLow
		if on {
			signs[sh] = analog.OutHigh
		}
	}
	return string(signs)
}

// column is what a tap shows over the settings.
func column(list []map[int]image, h, tap int) []byte {
	var out []byte
	for _, at := range list {
		out = append(out, at[h].taps[tap])
	}
	return out
}

// tables gives for each hypothesis that can change them the tables of its moving taps: hypothesis, tap, levels. Those that neither sit in the stage nor show
// anything at rest leave the tables as they are.
func (b *Board) tables(ctx context.Context, worlds []analog.World) (map[int]map[int][]byte, error) {
	out := map[int]map[int][]byte{}
	for k := range b.stages {
		st := &b.stages[k]
		if !slices.ContainsFunc(st.taps, func(i int) bool { return b.taps[i].from != nil }) || len(st.shares) > mostMovers {
			continue
		}
		var hyps []int
		for h := range b.Lab.Hyps {
			if h > 0 && (b.inStage(h, st.root) || !b.same(b.image(worlds[h]))) {
				hyps = append(hyps, h)
			}
		}
		list, err := b.images(ctx, st, b.Lab.Rest, hyps)
		if err != nil {
			return nil, err
		}
		for _, h := range hyps {
			if out[h] == nil {
				out[h] = map[int][]byte{}
			}
			for _, i := range st.taps {
				out[h][i] = column(list, h, i)
			}
		}
	}
	return out, nil
}

// inStage tells whether a hypothesis touches a stage.
func (b *Board) inStage(h, root int) bool {
	f := b.Lab.U.Faults[b.Lab.Hyps[h].Fault]
	at := func(n int) bool { return n != circuit.None && n < len(b.A.Split.Stage) && b.A.Split.Stage[n] == root }
	if f.Device < 0 {
		return at(f.A) || at(f.B)
	}
	return slices.ContainsFunc(b.A.Devices[f.Device].Pins, func(p int) bool { return p != circuit.None && at(b.C.Pins[p].Net) })
}

// same tells whether an image is that of the sound board.
func (b *Board) same(im image) bool {
	return slices.Equal(im.taps, b.rest.taps) && slices.Equal(im.loads, b.rest.loads) && slices.Equal(im.rails, b.rest.rails)
}

// told is a tap as the circuit is built with it.
func (t *tap) told(s *analog.Split) circuit.Told {
	out := circuit.Told{Net: t.net, Lamp: t.lamp, Table: t.table}
	for _, sh := range t.from {
		out.From = append(out.From, s.Shares[sh].Net)
	}
	return out
}

// tableForce is what a hypothesis makes of a moving tap; false where it leaves it as it is.
func (t *tap) tableForce(levels []byte) (circuit.Force, bool) {
	if levels == nil || slices.Equal(levels, t.table) || len(levels) != len(t.table) {
		return circuit.Force{}, false
	}
	f := circuit.Force{Do: circuit.DrivesXThere, Index: t.seat}
	if slices.Max(levels) == slices.Min(levels) {
		switch levels[0] {
		case heard0:
			f.Do = circuit.Drives0There
		case heard1:
			f.Do = circuit.Drives1There
		}
	}
	return f, true
}
