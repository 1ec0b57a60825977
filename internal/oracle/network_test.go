package oracle

// What docs/simulation.md says about levels, strengths, hearing and faults, as small boards with the outcome typed
// by hand.

import (
	"fmt"
	"strings"
	"testing"
)

// rig is a board in a few words: inputs "a=1" and parts such as "LS 7404 1=a 2=y" or "R 4700 a b". Nets + and G are
// rails.
type rig struct {
	name, inputs string
	parts        []string
	faults       []Fault
	want         string // "y=1 z=X"
}

func (r rig) board(t *testing.T) *Board {
	t.Helper()
	b := &Board{Rails: map[string]byte{"+": '1', "G": '0'}}
	step := map[string]byte{}
	for _, f := range strings.Fields(r.inputs) {
		net, level, _ := strings.Cut(f, "=")
		b.Inputs = append(b.Inputs, net)
		step[net] = level[0]
	}
	for i, text := range r.parts {
		f := strings.Fields(text)
		p := Part{Ref: fmt.Sprintf("U%d", i+1), Family: f[0], Type: f[1], Pins: map[int]string{}}
		if f[0] == "R" {
			p.Type = "resistor"
			fmt.Sscan(f[1], &p.Ohms)
			p.Pins[1], p.Pins[2] = f[2], f[3]
			f = nil
		}
		for _, pin := range f[min(2, len(f)):] {
			number, net, _ := strings.Cut(pin, "=")
			n := 0
			if _, err := fmt.Sscan(number, &n); err != nil {
				t.Fatalf("%s: %v", r.name, err)
			}
			p.Pins[n] = net
		}
		b.Parts = append(b.Parts, p)
	}
	b.Steps = []map[string]byte{step}
	return b
}

const inv = "LS 7404 1=a 2=y"

var rigs = []rig{
	// Strengths.
	{name: "nothing drives", inputs: "b=1", parts: []string{"LS 7404 1=a 2=y"}, want: "a=Z y=0"},
	{name: "an open CMOS input", inputs: "b=1", parts: []string{"4000 4069 1=a 2=y"}, want: "a=Z y=X"},
	{name: "two outputs agree", inputs: "a=1 b=1", parts: []string{"LS 7404 1=a 2=y 3=b 4=y"}, want: "y=0"},
	{name: "two outputs fight", inputs: "a=1 b=0", parts: []string{"LS 7404 1=a 2=y 3=b 4=y"}, want: "y=F"},
	{name: "bipolar fight is heard as 0", inputs: "a=1 b=0", parts: []string{"LS 7404 1=a 2=y 3=b 4=y 5=y 6=z"}, want: "y=F z=1"},
	{name: "bipolar fight, CMOS ear", inputs: "a=1 b=0", parts: []string{"LS 7404 1=a 2=y 3=b 4=y", "HC 7404 1=y 2=z"}, want: "y=F z=1"},
	{name: "mixed fight", inputs: "a=1 b=0", parts: []string{"LS 7404 1=a 2=y", "HC 7404 1=b 2=y 3=y 4=z"}, want: "y=F z=X"},
	{name: "CMOS fight", inputs: "a=1 b=0", parts: []string{"HC 7404 1=a 2=y 3=b 4=y 5=y 6=z"}, want: "y=F z=X"},
	{name: "an input on a bipolar net counts as bipolar", inputs: "a=1 y=1", parts: []string{"LS 7404 1=a 2=y 3=y 4=z"}, want: "y=F z=1"},
	{name: "an input on a CMOS net", inputs: "a=1 y=1", parts: []string{"HC 7404 1=a 2=y 3=y 4=z"}, want: "y=F z=X"},
	{name: "pull-up", inputs: "a=1", parts: []string{"LS 7405 1=a 2=y", "R 4700 + y", "HC 7404 1=y 2=z"}, want: "y=0 z=1"},
	{name: "pull-up lets go", inputs: "a=0", parts: []string{"LS 7405 1=a 2=y", "R 4700 + y", "HC 7404 1=y 2=z"}, want: "y=1 z=0"},
	{name: "no pull-up", inputs: "a=0", parts: []string{"LS 7405 1=a 2=y"}, want: "y=Z"},
	{name: "supply beats outputs", inputs: "a=0", parts: []string{inv}, faults: []Fault{{Kind: "net-low", Net: "y"}}, want: "y=0"},
	{name: "a bridge to a rail", inputs: "a=1", parts: []string{inv}, faults: []Fault{{Kind: "bridge", Net: "y", Net2: "+"}}, want: "y=1"},
	{name: "rails stay, even joined", inputs: "a=1", parts: []string{inv}, faults: []Fault{{Kind: "bridge", Net: "G", Net2: "+"}}, want: "+=1 G=0"},
	{name: "supplies fight", inputs: "a=1", parts: []string{inv, "LS 7404 3=y 4=z"},
		faults: []Fault{{Kind: "net-low", Net: "y"}, {Kind: "bridge", Net: "y", Net2: "+"}}, want: "y=X +=1 z=X"},
	// Weak against weak: 0 below 0.3 of the way, 1 above 0.5, unknown between.
	{name: "divider at 0.29", inputs: "a=1", parts: []string{"R 7100 + y", "R 2900 y G"}, want: "y=0"},
	{name: "divider at 0.3", inputs: "a=1", parts: []string{"R 7000 + y", "R 3000 y G"}, want: "y=X"},
	{name: "divider at 0.5", inputs: "a=1", parts: []string{"R 5000 + y", "R 5000 y G"}, want: "y=X"},
	{name: "divider at 0.51", inputs: "a=1", parts: []string{"R 4900 + y", "R 5100 y G"}, want: "y=1"},
	{name: "no value counts as 10k", inputs: "a=1", parts: []string{"R 0 + y", "R 10300 y G"}, want: "y=1"},
	{name: "lowest total resistance", inputs: "a=1", parts: []string{"R 1000 + x", "R 1000 x y", "R 3000 y G"}, want: "x=1 y=1"},
	{name: "series from an output", inputs: "a=1", parts: []string{inv, "R 330 y z", "HC 7404 1=z 2=w"}, want: "y=0 z=0 w=1"},
	{name: "series and pull-up", inputs: "a=1", parts: []string{inv, "R 1000 y z", "R 10000 z +"}, want: "z=0"},
	{name: "series from nothing", inputs: "a=Z", parts: []string{"R 330 a z"}, want: "a=Z z=Z"},
	{name: "an unknown three-state with a pull-up that agrees", inputs: "a=1 g=X",
		parts: []string{"LS 74125 1=g 2=a 3=y", "R 4700 + y"}, want: "y=1"},
	{name: "an unknown three-state with a pull-up that differs", inputs: "a=0 g=X",
		parts: []string{"LS 74125 1=g 2=a 3=y", "R 4700 + y"}, want: "y=X"},
	{name: "resistor open", inputs: "a=0", parts: []string{"LS 7405 1=a 2=y", "R 4700 + y"}, faults: []Fault{{Kind: "open", Ref: "U2"}}, want: "y=Z"},
	{name: "resistor short", inputs: "a=1", parts: []string{inv, "R 4700 + y"}, faults: []Fault{{Kind: "short", Ref: "U2"}}, want: "y=1"},
	{name: "series resistor short", inputs: "a=1 b=0", parts: []string{"LS 7404 1=a 2=y 3=b 4=z", "R 330 y z"},
		faults: []Fault{{Kind: "short", Ref: "U2"}}, want: "y=F z=F"},
	// Analogue switches.
	{name: "switch on", inputs: "a=1 c=1", parts: []string{"4000 4066 1=a 2=y 13=c"}, want: "y=1"},
	{name: "switch off", inputs: "a=1 c=0", parts: []string{"4000 4066 1=a 2=y 13=c"}, want: "y=Z"},
	{name: "switch perhaps on", inputs: "a=1 c=X", parts: []string{"4000 4066 1=a 2=y 13=c"}, want: "y=X"},
	{name: "switch fights with an output", inputs: "a=1 c=1 y=0", parts: []string{"4000 4066 1=a 2=y 13=c"}, want: "a=F y=F"},
	{name: "supply through a switch is an output", inputs: "c=1 y=0", parts: []string{"4000 4066 1=+ 2=y 13=c"}, want: "y=F +=1"},
	{name: "a rail does not pass what it beats", inputs: "a=1 c=1", parts: []string{"4000 4066 1=a 2=G 13=c 4=G 3=y 5=c"}, want: "a=F y=0 G=0"},
	{name: "weak through a switch", inputs: "c=1", parts: []string{"4000 4066 1=x 2=y 13=c", "R 1000 + x"}, want: "x=1 y=1"},
	// Faults.
	{name: "output-low", inputs: "a=0", parts: []string{inv}, faults: []Fault{{Kind: "output-low", Ref: "U1", Pin: 2}}, want: "y=0"},
	{name: "output-high fights", inputs: "a=1 b=1", parts: []string{"LS 7404 1=a 2=y 3=b 4=y"},
		faults: []Fault{{Kind: "output-high", Ref: "U1", Pin: 2}}, want: "y=F"},
	{name: "output-high on an open collector", inputs: "a=1", parts: []string{"LS 7405 1=a 2=y"},
		faults: []Fault{{Kind: "output-high", Ref: "U1", Pin: 2}}, want: "y=1"},
	{name: "output-open", inputs: "a=1", parts: []string{inv, "LS 7404 1=y 2=z"}, faults: []Fault{{Kind: "output-open", Ref: "U1", Pin: 2}}, want: "y=Z z=0"},
	{name: "input-low", inputs: "a=1", parts: []string{inv}, faults: []Fault{{Kind: "input-low", Ref: "U1", Pin: 1}}, want: "a=0 y=1"},
	{name: "input-high", inputs: "a=0", parts: []string{inv}, faults: []Fault{{Kind: "input-high", Ref: "U1", Pin: 1}}, want: "a=1 y=0"},
	{name: "input-open", inputs: "a=0", parts: []string{inv}, faults: []Fault{{Kind: "input-open", Ref: "U1", Pin: 1}}, want: "a=0 y=0"},
	{name: "input-open CMOS", inputs: "a=0", parts: []string{"HC 7404 1=a 2=y"}, faults: []Fault{{Kind: "input-open", Ref: "U1", Pin: 1}}, want: "a=0 y=X"},
	{name: "joint-open at an output", inputs: "a=0", parts: []string{inv, "HC 7404 1=y 2=z"}, faults: []Fault{{Kind: "joint-open", Ref: "U1", Pin: 2}}, want: "y=Z z=X"},
	{name: "joint-open at an input", inputs: "a=0", parts: []string{inv}, faults: []Fault{{Kind: "joint-open", Ref: "U1", Pin: 1}}, want: "a=0 y=0"},
	{name: "joint-open at a supply pin", inputs: "a=0", parts: []string{inv + " 14=+ 7=G"}, faults: []Fault{{Kind: "joint-open", Ref: "U1", Pin: 7}}, want: "y=Z"},
	{name: "joint-open and input-low", inputs: "a=1", parts: []string{inv},
		faults: []Fault{{Kind: "joint-open", Ref: "U1", Pin: 1}, {Kind: "input-low", Ref: "U1", Pin: 1}}, want: "a=1 y=1"},
	{name: "joint-open at a switch", inputs: "a=1 c=1", parts: []string{"4000 4066 1=a 2=y 13=c"}, faults: []Fault{{Kind: "joint-open", Ref: "U1", Pin: 2}}, want: "a=1 y=Z"},
	{name: "net-high", inputs: "a=0", parts: []string{inv}, faults: []Fault{{Kind: "net-high", Net: "a"}}, want: "a=1 y=0"},
	{name: "bridge", inputs: "a=1 b=0", parts: []string{"LS 7404 1=a 2=y 3=b 4=z 5=y 6=w"}, faults: []Fault{{Kind: "bridge", Net: "y", Net2: "z"}}, want: "y=F z=F w=1"},
	{name: "part-dead", inputs: "a=0", parts: []string{inv}, faults: []Fault{{Kind: "part-dead", Ref: "U1"}}, want: "y=Z"},
	{name: "no-supply", inputs: "a=0", parts: []string{inv}, faults: []Fault{{Kind: "no-supply", Ref: "U1"}}, want: "y=Z"},
	{name: "part-erratic", inputs: "a=0", parts: []string{inv}, faults: []Fault{{Kind: "part-erratic", Ref: "U1"}}, want: "y=X"},
	{name: "source-low", inputs: "a=1", parts: []string{inv}, faults: []Fault{{Kind: "source-low", Net: "a"}}, want: "a=0 y=1"},
	{name: "source-high", inputs: "a=0", parts: []string{inv}, faults: []Fault{{Kind: "source-high", Net: "a"}}, want: "a=1 y=0"},
	{name: "source-dead", inputs: "a=0", parts: []string{inv}, faults: []Fault{{Kind: "source-dead", Net: "a"}}, want: "a=Z y=0"},
	// Exact: a selector with unknown select between equal inputs, a forced gate, an exclusive-or of unknowns.
	{name: "selector", inputs: "a=1 b=1 s=X g=0", parts: []string{"LS 74157 1=s 15=g 2=a 3=b 4=y"}, want: "y=1"},
	{name: "selector that differs", inputs: "a=1 b=0 s=X g=0", parts: []string{"LS 74157 1=s 15=g 2=a 3=b 4=y"}, want: "y=X"},
	{name: "the same unknown twice", inputs: "a=X", parts: []string{"LS 7486 1=a 2=a 3=y", "LS 74157 1=a 15=a 2=a 3=a 4=z"}, want: "y=X z=X"},
	// Loops: a latch of two NANDs with both inputs high from the start, and one that is set.
	{name: "latch unknown", inputs: "s=1 r=1", parts: []string{"LS 7400 1=s 2=q 3=n 4=r 5=n 6=q"}, want: "q=X n=X"},
	{name: "latch set", inputs: "s=1 r=0", parts: []string{"LS 7400 1=s 2=q 3=n 4=r 5=n 6=q"}, want: "q=1 n=0"},
	{name: "inverter bridged over", inputs: "b=0", parts: []string{"LS 7404 1=a 2=y"}, faults: []Fault{{Kind: "bridge", Net: "a", Net2: "y"}}, want: "a=X y=X"},
}

func TestLevels(t *testing.T) {
	l := load(t)
	var jobs []Job
	for _, r := range rigs {
		jobs = append(jobs, Job{r.board(t), r.faults})
	}
	traces := run(t, l, jobs)
	checks := 0
	for i, r := range rigs {
		for _, f := range strings.Fields(r.want) {
			net, level := f[:len(f)-2], f[len(f)-1]
			if got := at(traces[i], 0, net); got != level {
				t.Errorf("%s: %s is %c, not %c", r.name, net, got, level)
			}
			checks++
		}
	}
	if len(rigs) != 65 || checks != 107 {
		t.Errorf("%d boards and %d checks, not 65 and 107", len(rigs), checks)
	}
}

// TestMoments holds what docs/simulation.md says about rounds, moments and loops over time.
func TestMoments(t *testing.T) {
	l := load(t)
	tests := []struct {
		name   string
		parts  []string
		inputs string // names
		steps  []string
		net    string
		want   string // one level per moment
	}{
		{"a latch of gates holds", []string{"LS 7400 1=s 2=q 3=n 4=r 5=n 6=q"}, "s r",
			[]string{"11", "10", "11", "01", "11", "00", "11"}, "q", "X11001X"},
		{"a divide-by-two", []string{"LS 7474 1=r 4=+ 3=c 2=n 5=q 6=n"}, "r c",
			[]string{"00", "10", "11", "10", "11", "10", "11"}, "q", "0011001"},
		{"a shift register of two chips moves one step", []string{"LS 7474 1=r 4=+ 3=c 2=d 5=q1 13=r 10=+ 11=c 12=q1 9=q2"}, "r c d",
			[]string{"000", "101", "111", "100", "110", "110"}, "q2", "000011"},
		{"an unknown clock", []string{"LS 7474 1=r 4=+ 3=c 2=d 5=q"}, "r c d",
			[]string{"000", "101", "1X1", "101"}, "q", "00XX"},
		{"a clock that was unknown and may have risen", []string{"LS 7474 1=r 4=+ 3=c 2=d 5=q"}, "r c d",
			[]string{"0X1", "1X1", "111"}, "q", "0XX"},
		{"a ring through a latch comes to rest as unknown", []string{"LS 74373 1=G 11=g 3=n 2=q", "LS 7404 1=q 2=n"}, "g",
			[]string{"0", "1", "0"}, "q", "XXX"},
		{"a one-shot falls in the next moment", []string{"LS 74123 1=G 2=b 3=r 13=q"}, "r b",
			[]string{"00", "10", "11", "11", "10", "11"}, "q", "001001"},
	}
	var jobs []Job
	for _, c := range tests {
		b := rig{name: c.name, parts: c.parts}.board(t)
		b.Inputs = strings.Fields(c.inputs)
		b.Steps = nil
		for _, s := range c.steps {
			step := map[string]byte{}
			for i, net := range b.Inputs {
				step[net] = s[i]
			}
			b.Steps = append(b.Steps, step)
		}
		jobs = append(jobs, Job{Board: b})
	}
	traces := run(t, l, jobs)
	for i, c := range tests {
		got := ""
		for m := range c.steps {
			got += string(at(traces[i], m, c.net))
		}
		if got != c.want {
			t.Errorf("%s: %s is %s, not %s", c.name, c.net, got, c.want)
		}
	}
	if len(tests) != 7 {
		t.Errorf("%d tests, not 7", len(tests))
	}
}
