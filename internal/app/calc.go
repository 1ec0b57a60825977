package app

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"halfsplit/internal/core/calc"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

// CalcRow is one calculator as it describes itself: enough to make a form of it.
type CalcRow struct {
	Name    string      `json:"calculator"`
	Title   string      `json:"title"`
	Formula string      `json:"formula"`
	Source  string      `json:"source"`
	Range   string      `json:"range"`
	Inputs  []CalcInput `json:"inputs"`
	Board   bool        `json:"board,omitempty"` // a board can fill some inputs
}

// CalcInput is one field: a choice where Words is not empty, free text where Text is set, else a number in Unit.
type CalcInput struct {
	Name     string   `json:"name"`
	Title    string   `json:"title"`
	Unit     string   `json:"unit,omitempty"`
	Default  string   `json:"default,omitempty"`
	Words    []string `json:"words,omitempty"`
	Text     bool     `json:"text,omitempty"`
	Optional bool     `json:"optional,omitempty"`
	Help     string   `json:"help,omitempty"`
	Min      float64  `json:"min,omitempty"` // in SI units
	Max      float64  `json:"max,omitempty"`
}

// CalcView is an answer. Values are in SI units (temperatures in °C, shares as fractions).
type CalcView struct {
	Name     string     `json:"calculator"`
	Title    string     `json:"title"`
	Given    []CalcLine `json:"given"`
	Lines    []CalcLine `json:"answers"`
	Formula  string     `json:"formula"`
	Source   string     `json:"source"`
	Range    string     `json:"range"`
	Board    []string   `json:"board,omitempty"` // what was taken from the board, in words
	Warnings []string   `json:"warnings,omitempty"`
	Cautions []string   `json:"cautions,omitempty"`
}

// CalcLine is one quantity: given or found.
type CalcLine struct {
	Name  string  `json:"name"`
	Title string  `json:"title"`
	Text  string  `json:"text"`
	Value float64 `json:"value"`
	Unit  string  `json:"unit,omitempty"`
	How   string  `json:"how,omitempty"`
}

// CalcList lists the calculators.
func CalcList() []CalcRow {
	out := []CalcRow{}
	for _, c := range calc.All() {
		r := CalcRow{Name: c.Name, Title: c.Title, Formula: c.Formula, Source: c.Source, Range: c.Range, Board: fillers[c.Name] != nil}
		for _, in := range c.Inputs {
			r.Inputs = append(r.Inputs, CalcInput{in.Name, in.Title, in.Unit, in.Default, in.Words, in.Text, in.Optional, in.Help, in.Min, in.Max})
		}
		out = append(out, r)
	}
	return out
}

// Calc runs a calculator on fields as typed; c and at fill fields from a board (c nil for none), and what is typed wins over the board.
func Calc(name string, typed map[string]string, c *circuit.Circuit, at string) (CalcView, error) {
	k, err := calc.Find(name)
	if err != nil {
		return CalcView{}, err
	}
	v := CalcView{Name: k.Name, Title: k.Title, Formula: k.Formula, Source: k.Source, Range: k.Range, Given: []CalcLine{}, Lines: []CalcLine{}}
	fields := map[string]string{}
	if c != nil {
		taken, err := CalcFrom(c, name, at)
		if err != nil {
			return CalcView{}, err
		}
		for _, t := range taken {
			if _, own := typed[t.Name]; !own {
				fields[t.Name] = t.Value
				v.Board = append(v.Board, t.Why)
			}
		}
	}
	for f, s := range typed {
		fields[f] = s
	}
	r, given, err := k.Calculate(fields)
	if err != nil {
		return CalcView{}, err
	}
	for _, g := range given {
		v.Given = append(v.Given, CalcLine{Name: g.Name, Title: g.Title, Text: g.Text, Value: g.Value, Unit: g.Unit})
	}
	for _, l := range r.Lines {
		v.Lines = append(v.Lines, CalcLine(l))
	}
	v.Warnings, v.Cautions = r.Warnings, r.Cautions
	return v, nil
}

// Taken is a field that a board fills, with the reason in words.
type Taken struct{ Name, Value, Why string }

// fillers say what a board knows of a calculator's fields; at is a part or a net.
var fillers = map[string]func(*circuit.Circuit, string) ([]Taken, error){
	"pull-up": fillPullUp, "led": fillLED, "rc": fillRC, "filter": fillRC, "one-shot": fillOneShot, "ripple": fillRipple, "reservoir": fillReservoir, "regulator": fillRegulator, "discharge": fillDischarge, "divider": fillDivider,
	"resistor": fillMark, "capacitor": fillMark, "e-series": fillValue,
}

// CalcFrom returns the fields of a calculator that a board fills at a part or net. The error says what is missing there.
func CalcFrom(c *circuit.Circuit, name, at string) ([]Taken, error) {
	f := fillers[name]
	if f == nil {
		var known []string
		for n := range fillers {
			known = append(known, n)
		}
		slices.Sort(known)
		return nil, fmt.Errorf("a board fills nothing of %s; it does for %s", name, strings.Join(known, ", "))
	}
	if at == "" {
		return nil, fmt.Errorf("say where on the board: a part such as R12, or a net")
	}
	return f(c, at)
}

// partAt finds a part, with the nearest right word when there is none.
func partAt(c *circuit.Circuit, at string) (circuit.Part, error) {
	i, ok := c.PartByRef(at)
	if !ok {
		var refs []string
		for _, p := range c.Parts {
			refs = append(refs, p.Ref)
		}
		return circuit.Part{}, fmt.Errorf("no part %s on this board; %s", at, finding.DidYouMean(at, refs))
	}
	return c.Parts[i], nil
}

// twoEnds are the nets of a two-terminal part.
func twoEnds(c *circuit.Circuit, p circuit.Part) (a, b int, err error) {
	if len(p.Pins) != 2 {
		return 0, 0, fmt.Errorf("%s (%s) has not two ends that are wired", p.Ref, p.Src.Type)
	}
	return c.Pins[p.Pins[0]].Net, c.Pins[p.Pins[1]].Net, nil
}

func isResistor(p circuit.Part) bool { return p.Type.Name == "resistor" }
func isCapacitor(p circuit.Part) bool {
	return p.Type.Prior == "capacitor" || p.Type.Prior == "electrolytic" || p.Type.Prior == "tantalum"
}

// valued returns a part's value, or says that the board does not give it.
func valued(p circuit.Part) (string, error) {
	if !p.Src.HasValue || p.Src.Value <= 0 {
		return "", fmt.Errorf("%s has no value on this board; add  value:  or type it", p.Ref)
	}
	return plainNumber(p.Src.Value), nil
}

// isWorth says a part's value in words.
func isWorth(p circuit.Part) string {
	u := ""
	switch {
	case isResistor(p):
		u = "Ω"
	case isCapacitor(p):
		u = "F"
	}
	return p.Ref + " is " + strings.TrimSpace(calc.Show(p.Src.Value, u))
}

func plainNumber(v float64) string { return fmt.Sprintf("%.9g", v) }

// others lists the parts with a pin on a net, but not this one, in order.
func others(c *circuit.Circuit, net int, not string) []circuit.Part {
	var out []circuit.Part
	seen := map[int]bool{}
	for _, p := range c.Nets[net].Pins {
		if i := c.Pins[p].Part; !seen[i] && c.Parts[i].Ref != not {
			seen[i] = true
			out = append(out, c.Parts[i])
		}
	}
	slices.SortFunc(out, func(a, b circuit.Part) int { return cmp.Compare(a.Ref, b.Ref) })
	return out
}

// fillPullUp takes a pull-up resistor, or a net with or without one on it.
func fillPullUp(c *circuit.Circuit, at string) ([]Taken, error) {
	if net, ok := c.Net(at); ok {
		for _, p := range others(c, net, "") {
			if a, b, err := twoEnds(c, p); isResistor(p) && err == nil && (c.Nets[a].Rail || c.Nets[b].Rail) {
				return fillPullUpPart(c, p)
			}
		}
		return pullUpNet(c, net, nil)
	}
	p, err := partAt(c, at)
	if err != nil {
		return nil, err
	}
	return fillPullUpPart(c, p)
}

func fillPullUpPart(c *circuit.Circuit, p circuit.Part) ([]Taken, error) {
	a, b, err := twoEnds(c, p)
	if err != nil {
		return nil, err
	}
	if c.Nets[b].Rail {
		a, b = b, a
	}
	if !c.Nets[a].Rail || c.Nets[a].Volts <= 0 || c.Nets[b].Rail {
		return nil, fmt.Errorf("%s does not go from a supply to a signal, so it is no pull-up", p.Ref)
	}
	var out []Taken
	if v, err := valued(p); err == nil {
		out = append(out, Taken{"fitted", v, isWorth(p)})
	}
	out = append(out, Taken{"vcc", plainNumber(c.Nets[a].Volts), fmt.Sprintf("%s goes to %s, %g V", p.Ref, c.Nets[a].Name, c.Nets[a].Volts)})
	return pullUpNet(c, b, out)
}

// pullUpNet counts the open-collector outputs and the inputs of a net.
func pullUpNet(c *circuit.Circuit, net int, out []Taken) ([]Taken, error) {
	drivers, loads, high, low := 0, 0, 0.0, 0.0
	var weakest calc.Loading
	var names []string
	strict := 0.0
	for _, id := range c.Nets[net].Pins {
		p := c.Pins[id]
		fam, known := calc.LoadingOf(string(c.Parts[p.Part].Family))
		if p.Use&part.Driven != 0 && p.Driver != circuit.None {
			switch c.Drivers[p.Driver].Stmt.Kind {
			case part.DriveLow:
				if !known {
					return nil, fmt.Errorf("%s drives the net, but the family of %s is not known here", c.PinName(id), c.Parts[p.Part].Ref)
				}
				if drivers == 0 || fam.IOL < weakest.IOL {
					weakest = fam
				}
				drivers++
				continue
			case part.Drive, part.DriveHigh:
				return nil, fmt.Errorf("%s is no open-collector output: a pull-up does not set the level of %s", c.PinName(id), c.NetName(net))
			}
		}
		if p.Use&part.Heard != 0 && known {
			loads++
			high, low, strict = high+fam.IIH, low+fam.IIL, math.Max(strict, fam.VOH)
			if !slices.Contains(names, fam.Family) {
				names = append(names, fam.Family)
			}
		}
	}
	if drivers == 0 {
		return nil, fmt.Errorf("no open-collector output drives %s on this board; type the fields instead", c.NetName(net))
	}
	slices.Sort(names)
	out = append(out, Taken{"driver", weakest.Family, fmt.Sprintf("%d open-collector %s on %s, weakest family %s", drivers, map[bool]string{true: "output", false: "outputs"}[drivers == 1], c.NetName(net), weakest.Family)},
		Taken{"drivers", fmt.Sprint(drivers), ""}, Taken{"loads", fmt.Sprint(loads), fmt.Sprintf("%d inputs (%s)", loads, strings.Join(names, ", "))})
	if loads > 0 {
		load := names[0]
		for _, n := range names {
			if l, _ := calc.LoadingOf(n); l.VOH == strict {
				load = n
			}
		}
		out = append(out, Taken{"load", load, ""}, Taken{"iih-sum", plainNumber(high), ""}, Taken{"iil-sum", plainNumber(low), ""})
	}
	return slices.DeleteFunc(out, func(t Taken) bool { return t.Value == "" }), nil
}

func fillLED(c *circuit.Circuit, at string) ([]Taken, error) {
	p, err := partAt(c, at)
	if err != nil {
		return nil, err
	}
	if len(p.Lamps) > 0 { // the LED itself: look for its resistor
		for _, id := range p.Pins {
			for _, q := range others(c, c.Pins[id].Net, p.Ref) {
				if isResistor(q) && !c.Nets[c.Pins[id].Net].Rail {
					return fillLED(c, q.Ref)
				}
			}
		}
		return nil, fmt.Errorf("no resistor is in series with %s on this board", at)
	}
	a, b, err := twoEnds(c, p)
	if err != nil {
		return nil, err
	}
	v, err := valued(p)
	if err != nil {
		return nil, err
	}
	for _, n := range []int{a, b} {
		for _, q := range others(c, n, p.Ref) {
			if len(q.Lamps) == 0 || c.Nets[n].Rail {
				continue
			}
			out := []Taken{{"resistor", v, isWorth(p) + ", in series with " + q.Ref}}
			for _, m := range append([]int{a, b}, c.Pins[q.Pins[0]].Net, c.Pins[q.Pins[len(q.Pins)-1]].Net) {
				if c.Nets[m].Rail && c.Nets[m].Volts > 0 {
					return append(out, Taken{"supply", plainNumber(c.Nets[m].Volts), fmt.Sprintf("from %s, %g V", c.Nets[m].Name, c.Nets[m].Volts)}), nil
				}
			}
			return out, nil
		}
	}
	return nil, fmt.Errorf("%s is not in series with an LED on this board", at)
}
