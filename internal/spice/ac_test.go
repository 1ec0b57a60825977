package spice

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"halfsplit/internal/core/elec"
)

// filters are circuits whose small-signal answer matters; every other family is driven through its first source too.
var filters = []struct {
	name string
	make func(c *circuit)
}{
	{"ladder filter", func(c *circuit) {
		c.add(elec.VoltageSource, 0, params{"ac": 1}, "a0", "0")
		for i := range 3 + c.rng.IntN(6) {
			a, b := fmt.Sprintf("a%d", i), fmt.Sprintf("a%d", i+1)
			c.r(1e3, 1e4, a, b).add(elec.Capacitor, c.ohms(1, 100)*1e-9, params{"esr": c.between(0, 20), "leak": 1e8}, b, "0")
		}
	}},
	{"sallen-key", func(c *circuit) {
		c.rails(12).add(elec.VoltageSource, 0.1, params{"ac": 1}, "in", "0").r(5e3, 2e4, "in", "x").r(5e3, 2e4, "x", "p").add(elec.Capacitor, c.ohms(1, 20)*1e-9, nil, "x", "o").
			add(elec.Capacitor, c.ohms(1, 20)*1e-9, nil, "p", "0").add(elec.OpAmp, 0, c.opamp(), "p", "o", "o", "vp", "vn").r(1e3, 1e4, "o", "0")
	}},
	{"coupled stage", func(c *circuit) {
		c.add(elec.VoltageSource, 12, nil, "vp", "0").add(elec.VoltageSource, 0, params{"ac": 1, "acphase": 30}, "in", "0").add(elec.Capacitor, 1e-6, nil, "in", "b").r(3e4, 1e5, "vp", "b").r(5e3, 2e4, "b", "0").
			add(elec.BJT, 0, c.npn(), "c", "b", "e").r(2e3, 6e3, "vp", "c").r(500, 2e3, "e", "0").add(elec.Capacitor, 47e-6, params{"esr": 1}, "e", "0").add(elec.Capacitor, 1e-6, nil, "c", "o").r(1e4, 1e5, "o", "0")
	}},
	{"transformer", func(c *circuit) {
		c.add(elec.VoltageSource, 0, params{"ac": 10, "ohms": 5}, "in", "0").add(elec.Transformer, 0, params{"lp": c.between(1, 20), "k": 0.995, "ratio": c.between(0.05, 2), "rs": 1, "ratio2": 0.1}, "in", "0", "s", "0", "t", "0").
			r(10, 1e3, "s", "0").r(10, 1e3, "t", "0").add(elec.Inductor, 0.1, params{"dcr": 3}, "t", "u").add(elec.Capacitor, 1e-6, nil, "u", "0")
	}},
	{"ota filter", func(c *circuit) {
		c.rails(12).add(elec.VoltageSource, 0, params{"ac": 1}, "in", "0").r(5e4, 1e5, "in", "p").r(200, 1e3, "p", "0").r(2e4, 2e5, "vp", "b").add(elec.OTA, 0, nil, "p", "n", "o", "b", "vp", "vn").add(elec.Capacitor, c.ohms(0.1, 10)*1e-9, nil, "o", "0").
			add(elec.JFET, 0, params{"vto": -1.5, "beta": 1e-3}, "vp", "o", "f").r(5e3, 1e4, "f", "vn").r(5e4, 1e5, "f", "n").r(200, 1e3, "n", "0")
	}},
	{"ripple through a regulator", func(c *circuit) {
		c.add(elec.VoltageSource, 10, params{"ac": 1, "ohms": 0.1}, "in", "0").add(elec.Regulator, 0, nil, "in", "o", "0").add(elec.Capacitor, 1e-5, params{"esr": 0.5}, "o", "0").r(10, 100, "o", "0")
	}},
}

// Small-signal answers of good and faulty circuits agree in both parts.
func TestSmallSignal(t *testing.T) {
	models, _ := elec.Embedded()
	rng := rand.New(rand.NewPCG(7, 1))
	opt := elec.ACOptions{Options: elec.Options{Leak: leakSiemens, Gmin: 1e-14}}
	type acCase struct {
		name string
		job  *job
		ac   *elec.AC
	}
	var cases []acCase
	try := func(family string, build func(*circuit), faults int) {
		c := newCircuit(family, rng)
		build(c)
		first := &c.nl.Devices[0]
		if first.Kind == elec.VoltageSource && first.Params["ilim"] > 0 || family == "thyristor" {
			return
		}
		if i := slices.IndexFunc(c.nl.Devices, func(d elec.Device) bool { return d.Params["ac"] != 0 }); i < 0 {
			p := params{"ac": 1}
			for k, v := range first.Params {
				p[k] = v
			}
			first.Params = p
		}
		e, fs := elec.Compile(c.nl, models)
		if e == nil {
			t.Fatal(family, fs)
		}
		for k := range faults + 1 {
			p, what := elec.Patch{}, "good"
			if k > 0 {
				p, what = fault(c, e)
			}
			hz := c.ohms(20, 2e5)
			ac, err := e.AC(opt, p, []float64{hz})
			if err != nil {
				t.Errorf("%s, %s: %v", family, what, err)
				continue
			}
			d := write(c.nl, e, models, p, "")
			j := &job{deck: d, options: tight, analysis: fmt.Sprintf("ac lin 1 %.9g %.9g", hz, hz)}
			for i, n := range d.nodes[1:] {
				j.deck.add(".nodeset v(%s)=%.9g", n, ac.Point.Voltage(i+1))
				j.print = append(j.print, "real(v("+n+"))", "imag(v("+n+"))")
			}
			cases = append(cases, acCase{fmt.Sprintf("%s, %s at %g Hz", family, what, hz), j, ac})
		}
	}
	for _, fam := range filters {
		for range 6 {
			try(fam.name, fam.make, 2)
		}
	}
	for _, fam := range families {
		try(fam.name, fam.make, 2)
	}
	var jobs []*job
	for _, c := range cases {
		jobs = append(jobs, c.job)
	}
	simulate(t, jobs)
	agreed, silent := 0, 0
	for _, c := range cases {
		missing, bad := false, false
		for i, n := range c.job.deck.nodes[1:] {
			re, ok1 := c.job.values["real(v("+n+"))"]
			im, ok2 := c.job.values["imag(v("+n+"))"]
			if !ok1 || !ok2 {
				missing = true
				break
			}
			got, want := c.ac.Voltage(0, i+1), complex(re, im)
			if d := cmplx.Abs(got - want); !(d <= 1e-6+2e-3*cmplx.Abs(want)) || math.IsNaN(d) {
				bad = true
				t.Errorf("%s: node %d is %v, the simulator says %v", c.name, i+1, got, want)
				break
			}
		}
		if missing {
			silent++
			t.Logf("no answer from the simulator: %s", c.name)
		} else if !bad {
			agreed++
		}
	}
	t.Logf("%d small-signal answers agree, the simulator gave up on %d", agreed, silent)
	if agreed < 160 || silent > len(cases)/20 {
		t.Errorf("only %d agree, %d without answer", agreed, silent)
	}
}
