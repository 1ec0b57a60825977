package sim_test

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/sim"
	"halfsplit/internal/core/sim/ref"
)

// The fast simulator against the slow one: random boards, every lane, every net, pin and indicator, every moment.

var faultKinds = []struct {
	name, class string
	fast        sim.PatchKind
	slow        ref.Kind
}{
	{"out-low", "out", sim.OutLow, ref.OutLow}, {"out-high", "out", sim.OutHigh, ref.OutHigh}, {"out-open", "out", sim.OutOpen, ref.OutOpen},
	{"out-unknown", "out", sim.OutUnknown, ref.OutUnknown}, {"in-low", "in", sim.InLow, ref.InLow}, {"in-high", "in", sim.InHigh, ref.InHigh},
	{"in-open", "in", sim.InOpen, ref.InOpen}, {"joint-open", "joint", sim.JointOpen, ref.JointOpen}, {"net-low", "net", sim.NetLow, ref.NetLow},
	{"net-high", "net", sim.NetHigh, ref.NetHigh}, {"bridge", "bridge", sim.Bridge, ref.Bridge}, {"link-open", "link", sim.LinkOpen, ref.LinkOpen},
	{"link-short", "link", sim.LinkShort, ref.LinkShort}, {"link-maybe", "link", sim.LinkMaybe, ref.LinkMaybe}, {"dark", "lamp", sim.Dark, ref.Dark},
	{"src-low", "source", sim.SrcLow, ref.SrcLow}, {"src-high", "source", sim.SrcHigh, ref.SrcHigh}, {"src-dead", "source", sim.SrcDead, ref.SrcDead},
}

func kindOf(name string) int {
	for i, k := range faultKinds {
		if k.name == name {
			return i
		}
	}
	return -1
}

// find gives the indices of a fault's place; ok is false when the place is gone.
func (f fault) find(c *circuit.Circuit) (at, other int, ok bool) {
	switch class := faultKinds[f.kind].class; class {
	case "out", "in", "joint":
		p, _ := c.FindPlace(f.at)
		return p.Pin, 0, p.Pin != circuit.None
	case "link", "lamp":
		pi, ok := c.PartByRef(f.at)
		if !ok || f.number >= len(c.Parts[pi].Links) {
			return 0, 0, false
		}
		l := c.Parts[pi].Links[f.number]
		if class == "lamp" {
			l = c.Links[l].Lamp
		}
		return l, 0, l != circuit.None
	case "source":
		n, ok := c.Net(f.at)
		i := slices.IndexFunc(c.Inputs, func(in circuit.Input) bool { return ok && in.Net == n })
		return i, 0, i >= 0
	}
	at, ok1 := c.Net(f.at)
	if f.other == "" {
		return at, 0, ok1
	}
	other, ok2 := c.Net(f.other)
	return at, other, ok1 && ok2
}

func fastPatches(c *circuit.Circuit, faults []fault, lanes uint64) []sim.Patch {
	var out []sim.Patch
	for _, f := range faults {
		if at, other, ok := f.find(c); ok {
			out = append(out, sim.Patch{Kind: faultKinds[f.kind].fast, Index: at, Other: other, Lanes: lanes})
		}
	}
	return out
}

// view is what one lane shows in one moment: a sign for each net, pin and lamp.
type view struct{ nets, pins, lamps, plain string }

// runFast follows all lanes through all actions: in one go, or (cut > 0) with a stop after that many actions and another engine from there.
func (tr *trial) runFast(c *circuit.Circuit, cut int) [][]view {
	p := sim.Compile(c)
	bench := fastPatches(c, tr.bench, ^uint64(0))
	var faults []sim.Patch
	for lane, fs := range tr.lanes {
		faults = append(faults, fastPatches(c, fs, 1<<lane)...)
	}
	ov := p.Overlay(bench, faults)
	var all []int
	for i := range c.Actions {
		all = append(all, i)
	}
	out := make([][]view, len(tr.lanes))
	record := func(e *sim.Engine) func(int) {
		return func(int) {
			for lane := range out {
				out[lane] = append(out[lane], fastView(c, e, lane))
			}
		}
	}
	trace := p.Unknown(bench)
	var from *sim.Batch
	if cut > 0 {
		trace = trace.Extend(all[:cut]...)
		e := sim.NewEngine(p)
		from = e.Run(trace, ov, nil, record(e))
		all = all[cut:]
	}
	e := sim.NewEngine(p)
	e.Run(trace.Extend(all...), ov, from, record(e))
	return out
}

func fastView(c *circuit.Circuit, e *sim.Engine, lane int) view {
	var v view
	var nets, pins, lamps, plain []byte
	for i := range c.Nets {
		s := e.NetLevel(i).Sign(lane)
		nets = append(nets, s)
		if s == 'F' {
			plain = append(plain, '0'+byte(e.PlainFight(i)>>lane&1))
		}
	}
	for i := range c.Pins {
		pins = append(pins, e.PinLevel(i).Sign(lane))
	}
	for i := range c.Lamps {
		l := e.Lit(i)
		lamps = append(lamps, "?01X"[l.P0>>lane&1|l.P1>>lane&1<<1])
	}
	v.nets, v.pins, v.lamps, v.plain = string(nets), string(pins), string(lamps), string(plain)
	return v
}

func (tr *trial) runSlow(c *circuit.Circuit, lane int) []view {
	m := ref.New(c)
	for _, f := range append(slices.Clone(tr.bench), tr.lanes[lane]...) {
		if at, other, ok := f.find(c); ok {
			m.Patch(ref.Patch{Kind: faultKinds[f.kind].slow, At: at, To: other})
		}
	}
	var all []int
	for i := range c.Actions {
		all = append(all, i)
	}
	var out []view
	for _, f := range m.Run(all) {
		var nets, pins, lamps, plain []byte
		for i := range c.Nets {
			nets = append(nets, f.Net(i))
			if f.Net(i) == 'F' {
				plain = append(plain, map[bool]byte{false: '0', true: '1'}[f.PlainFight(i)])
			}
		}
		for i := range c.Pins {
			pins = append(pins, f.Pin(i))
		}
		for i := range c.Lamps {
			lamps = append(lamps, f.Lit(i))
		}
		out = append(out, view{string(nets), string(pins), string(lamps), string(plain)})
	}
	return out
}

// Two answers may differ, and only where the definition leaves room: at the leg of an element that is off its net, the fast simulator goes
// by the far end's level where the slow one still knows what made it, and may so be unsure; and an indicator with a leg off its net cannot
// light, which the slow one leaves open where the other leg's net fights. Nothing else depends on either.

func vagueLeg(c *circuit.Circuit, pin int, fast view) bool {
	return fast.pins[pin] == 'X' && c.Pins[pin].Use&part.Linked != 0
}

func vagueLamp(fast, slow view, lamp int) bool {
	return fast.lamps[lamp] == '0' && slow.lamps[lamp] == 'X'
}

// differs describes the first disagreement of a lane, "" when there is none.
func differs(c *circuit.Circuit, fast, slow []view) string {
	if len(fast) != len(slow) {
		return fmt.Sprintf("%d moments, ref has %d", len(fast), len(slow))
	}
	for m := range fast {
		if fast[m] == slow[m] {
			continue
		}
		for i := range c.Nets {
			if fast[m].nets[i] != slow[m].nets[i] {
				return fmt.Sprintf("moment %d net %s: fast %c, ref %c", m, c.NetName(i), fast[m].nets[i], slow[m].nets[i])
			}
		}
		for i := range c.Pins {
			if fast[m].pins[i] != slow[m].pins[i] && !vagueLeg(c, i, fast[m]) {
				return fmt.Sprintf("moment %d pin %s: fast %c, ref %c", m, c.PinName(i), fast[m].pins[i], slow[m].pins[i])
			}
		}
		for i, l := range c.Lamps {
			if fast[m].lamps[i] != slow[m].lamps[i] && !vagueLamp(fast[m], slow[m], i) {
				return fmt.Sprintf("moment %d lamp %s: fast %c, ref %c", m, l.Name, fast[m].lamps[i], slow[m].lamps[i])
			}
		}
		if fast[m].plain == slow[m].plain && fast[m].nets == slow[m].nets {
			continue
		}
		return fmt.Sprintf("moment %d: fights of plain 74 outputs: fast %s, ref %s", m, fast[m].plain, slow[m].plain)
	}
	return ""
}

// compare gives the first lane that disagrees and how, -1 when all agree, and how many signs were compared.
func (tr *trial) compare(c *circuit.Circuit, cut int) (lane int, how string, signs int) {
	fast := tr.runFast(c, cut)
	for lane := range tr.lanes {
		slow := tr.runSlow(c, lane)
		if how := differs(c, fast[lane], slow); how != "" {
			return lane, how, signs
		}
		signs += len(slow) * (len(c.Nets) + len(c.Pins) + len(c.Lamps))
	}
	return -1, "", signs
}

var (
	boards    = flag.Int("boards", 24, "how many random boards to compare with the slow simulator")
	firstSeed = flag.Uint64("seed", 0, "seed of the first random board")
)

func TestAgainstTheSlowSimulator(t *testing.T) {
	done, signs := 0, 0
	for k := range *boards {
		seed := *firstSeed + uint64(k)
		n, how := checkSeed(seed, 5+int(seed*23%56))
		if how != "" {
			t.Fatalf("seed %d: %s", seed, how)
		}
		done, signs = done+1, signs+n
	}
	if done != *boards || signs < 20_000**boards {
		t.Errorf("only %d boards of 64 lanes, %d signs compared", done, signs)
	}
}

// trialOf makes the random trial of a seed.
func trialOf(seed uint64, parts int) *trial {
	r := rand.New(rand.NewPCG(seed, 74))
	tr := randomTrial(r, parts)
	if c := tr.build(); c != nil {
		tr.randomFaults(r, c)
	}
	return tr
}

// compareInTime is compare, but a run that does not end (a loop that does not settle) ends the test with the board that does it.
func (tr *trial) compareInTime(t *testing.T, c *circuit.Circuit, cut int) (lane int, how string) {
	t.Helper()
	done := make(chan struct{})
	go func() {
		defer close(done)
		lane, how, _ = tr.compare(c, cut)
	}()
	select {
	case <-done:
		return lane, how
	case <-time.After(10 * time.Second):
		return -1, "does not end"
	}
}

// checkSeed compares one random board; when the two disagree it says how, on the smallest board that still shows it.
func checkSeed(seed uint64, parts int) (signs int, how string) {
	tr := trialOf(seed, parts)
	c := tr.build()
	if c == nil {
		return 0, "the random board was refused:\n" + tr.text()
	}
	cut := int(seed/3) % len(tr.actions)
	ended := time.AfterFunc(time.Minute, func() { panic(fmt.Sprintf("seed %d does not end:\n%s", seed, tr.text())) })
	lane, how, signs := tr.compare(c, cut)
	ended.Stop()
	if lane < 0 {
		return signs, ""
	}
	small, smallHow := tr.shrink(lane, cut)
	return signs, fmt.Sprintf("lane %d, %s; smallest (cut %d): %s\n%s", lane, how, cut, smallHow, small.text())
}
