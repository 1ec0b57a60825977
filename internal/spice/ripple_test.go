package spice

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"halfsplit/internal/core/elec"
)

var rectifier = params{"is": 1e-9, "n": 1.8, "rs": 0.05}

// supplies are mains rectifiers; the node r carries the reservoir, o the output.
var supplies = []struct {
	name string
	make func(c *circuit)
}{
	{"half wave", func(c *circuit) {
		c.mains(12, "a", "0").add(elec.Diode, 0, rectifier, "a", "r").reservoir().r(50, 300, "r", "0").r(1e3, 1e4, "r", "o").r(1e3, 1e4, "o", "0")
	}},
	{"bridge", func(c *circuit) {
		c.mains(12, "a", "b").add(elec.Rectifier, 0, rectifier, "a", "b", "r", "0").reservoir().r(20, 200, "r", "0").r(100, 1e3, "r", "o").add(elec.Capacitor, 1e-4, nil, "o", "0").r(1e3, 1e4, "o", "0")
	}},
	{"regulated", func(c *circuit) {
		c.mains(9, "a", "b").add(elec.Rectifier, 0, rectifier, "a", "b", "r", "0").reservoir().add(elec.Regulator, 0, params{"vsoa": 20}, "r", "o", "0").r(8, 50, "o", "0").add(elec.Capacitor, 1e-5, params{"esr": 0.3}, "o", "0")
	}},
	{"centre tap", func(c *circuit) {
		c.add(elec.VoltageSource, 0, params{"amplitude": 325, "frequency": 50}, "m", "0").add(elec.Fuse, 1, nil, "m", "p").
			add(elec.Transformer, 0, params{"lp": 20, "k": 0.9995, "rp": 100, "ratio": 0.04, "rs": 0.5}, "p", "0", "a", "0", "0", "b").
			add(elec.Diode, 0, rectifier, "a", "r").add(elec.Diode, 0, rectifier, "b", "r").reservoir().r(30, 200, "r", "0").r(300, 1e3, "r", "o").
			add(elec.Zener, 0, params{"is": 1e-14, "bv": 5.1, "ibv": 5e-3, "nbv": 2, "rs": 3}, "0", "o")
	}},
}

func (c *circuit) mains(rms float64, a, b string) *circuit {
	return c.add(elec.VoltageSource, 0, params{"amplitude": rms * math.Sqrt2 * c.between(0.9, 1.1), "frequency": 50, "ohms": c.between(0.2, 1)}, a, b)
}

func (c *circuit) reservoir() *circuit {
	return c.add(elec.Capacitor, c.ohms(470, 4700)*1e-6, params{"esr": c.between(0.02, 0.3), "leak": 1e5}, "r", "0")
}

// worn is what happens to supplies: the reservoir dries up or leaks, a diode opens, the load grows.
func worn(c *circuit, e *elec.Circuit, k int) (elec.Patch, string) {
	find := func(kind elec.Kind) int {
		for i, d := range c.nl.Devices {
			if d.Kind == kind {
				return i
			}
		}
		return -1
	}
	cap := find(elec.Capacitor)
	set := func(dev int, do elec.Do, name string, v float64) elec.Patch {
		return elec.Patch{Changes: []elec.Change{{Device: dev, Do: do, Param: name, Value: v}}}
	}
	switch k {
	case 0:
		return elec.Patch{}, "good"
	case 1:
		return set(cap, elec.Scale, "farads", 0.3), "dried reservoir"
	case 2:
		return set(cap, elec.Set, "esr", 3), "high series resistance"
	case 3:
		return set(cap, elec.Set, "leak", 150), "leaky reservoir"
	default:
		if b := find(elec.Rectifier); b >= 0 {
			return set(b, elec.Set, "open", 2), "one diode of the bridge open"
		}
		return set(find(elec.Diode), elec.Set, "rs", 5), "tired diode"
	}
}

// Levels and ripple of supplies agree over the last period of the same stretch of time.
func TestRipple(t *testing.T) {
	models, _ := elec.Embedded()
	rng := rand.New(rand.NewPCG(11, 2))
	const stop, from = 0.2, 0.16
	type rippleCase struct {
		name string
		job  *job
		l    [2]elec.Level
	}
	var cases []rippleCase
	for _, fam := range supplies {
		for k := range 10 {
			c := newCircuit(fam.name, rng)
			fam.make(c)
			e, fs := elec.Compile(c.nl, models)
			if e == nil {
				t.Fatal(fam.name, fs)
			}
			p, what := worn(c, e, k%5)
			w, err := e.Tran(elec.TranOptions{Options: elec.Options{Leak: leakSiemens, Gmin: 1e-14}, Stop: stop, MaxStep: 1e-4}, p)
			if err != nil {
				t.Errorf("%s, %s: %v", fam.name, what, err)
				continue
			}
			d := write(c.nl, e, models, p, "")
			j := &job{deck: d, options: "reltol=1e-4 itl4=100", analysis: fmt.Sprintf("tran 2e-4 %g 0 1e-4", stop)}
			rc := rippleCase{name: fmt.Sprintf("%s %d, %s", fam.name, k, what), job: j}
			for i, node := range []string{"r", "o"} {
				n := d.nodes[c.at[node]]
				rc.l[i] = w.Level(c.at[node], from)
				for _, m := range []string{"max", "min", "avg"} {
					j.measure = append(j.measure, fmt.Sprintf("meas tran %s%s %s v(%s) from=%g to=%g", m, node, m, n, from, stop))
				}
			}
			cases = append(cases, rc)
		}
	}
	var jobs []*job
	for _, c := range cases {
		jobs = append(jobs, c.job)
	}
	simulate(t, jobs)
	agreed := 0
	for _, c := range cases {
		ok := true
		for i, node := range []string{"r", "o"} {
			hi, ok1 := c.job.values["max"+node]
			lo, ok2 := c.job.values["min"+node]
			mean, ok3 := c.job.values["avg"+node]
			if !ok1 || !ok2 || !ok3 {
				t.Errorf("%s: no answer from the simulator: %v", c.name, c.job.values)
				ok = false
				break
			}
			l := c.l[i]
			tol := 0.01 + 0.005*math.Abs(hi)
			if pp := hi - lo; !(math.Abs(l.PeakToPeak()-pp) <= 0.005+0.03*pp) || !(math.Abs(l.Max-hi) <= tol) || !(math.Abs(l.Mean-mean) <= tol) {
				t.Errorf("%s: %s is %.4f to %.4f, mean %.4f V; the simulator says %.4f to %.4f, mean %.4f V", c.name, node, l.Min, l.Max, l.Mean, lo, hi, mean)
				ok = false
			}
		}
		if ok {
			agreed++
		}
	}
	t.Logf("%d transients agree", agreed)
	if agreed != 40 {
		t.Errorf("%d transients agree of 40", agreed)
	}
}
