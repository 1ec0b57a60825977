package analog

import (
	"math"
	"testing"

	"halfsplit/examples"
	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/elec"
	"halfsplit/internal/core/part"
)

// Where the board at rest stands for the waveform it says what the waveform says: every hypothesis of the machines that have a supply.
func TestRestStandsForTheWaveform(t *testing.T) {
	lib, _ := part.Embedded()
	for _, k := range []struct {
		name  string
		least float64 // share of the hypotheses that rest
	}{{"bench-supply", 0.45}, {"water-tower", 0.65}} {
		text, err := examples.Files.ReadFile(k.name + "/board.yaml")
		if err != nil {
			t.Fatal(err)
		}
		b, fl := yamlfile.ParseBoard(k.name, text, nil)
		c, more := circuit.Build(b, lib)
		if c == nil {
			t.Fatal(fl, more)
		}
		m, fl := New(c, 2)
		if m == nil {
			t.Fatal(fl)
		}
		l := NewLab(NewUniverse(m))
		if l.atRest == nil {
			t.Errorf("%s: nothing stands for its waveform", k.name)
			continue
		}
		rests, bad, joined := 0, 0, 0
		worst := 0.0
		load := elec.Patch{Bridges: []elec.Bridge{{A: m.node[m.rails[0]], Ohms: 300}}} // another state of what lies behind
		for h := range l.Hyps {
			p := l.patch(h, Usual())
			if before, _ := l.atRest.part(l, p); len(before.Changes)+len(before.Bridges) > 0 {
				p = p.And(load)
				joined++
			}
			volts, ripple, ok := l.atRest.levels(l, p)
			if !ok {
				continue
			}
			rests++
			v, r, ok := l.periods(p, l.steady)
			if !ok {
				continue
			}
			for n := range v {
				d := math.Abs(volts[n]-v[n]) / (0.03*math.Abs(v[n]) + 0.02)
				e := math.Abs(ripple[n]-r[n]) / (0.25*r[n] + 0.02)
				if l.atRest.before[n] {
					continue
				}
				worst = max(worst, d, e)
				if d > 1 || e > 1 {
					bad++
					if bad < 25 {
						t.Logf("%s %s: %s rests at %.4f with ripple %.4f, waveform %.4f and %.4f", k.name, m.Name(l.U.Faults[l.Hyps[h].Fault]), m.NodeName(n), volts[n], ripple[n], v[n], r[n])
					}
				}
			}
		}
		t.Logf("%s: %d of %d hypotheses rest, %d lie before the reservoirs; worst %.2f of what is allowed, %d off", k.name, rests, len(l.Hyps), joined, worst, bad)
		if float64(rests) < k.least*float64(len(l.Hyps)) || bad > 0 {
			t.Errorf("%s: %d of %d hypotheses rest, %d figures off", k.name, rests, len(l.Hyps), bad)
		}
	}
}
