// Package calc holds the bench calculators: ripple, pull-up, one-shot times, colour bands and the like. Each describes itself – formula, source, range,
// inputs – so that the command line and a page can be made from the description alone, and each shows its arithmetic with the numbers filled in.
//
// Calculate is the way in: it reads what the user typed, refuses what makes no sense with the name of the field, and sees to it that no answer
// holds NaN or an infinity. Run is the bare computation on numbers in SI units (temperatures in °C, shares as fractions).
package calc

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/unit"
)

// Calculator is one computation of the bench. Formula is in words of the inputs, Source the document it is from, Range where it holds.
type Calculator struct {
	Name, Title, Formula, Source, Range string
	Inputs                              []Input
	Run                                 func(n map[string]float64, words map[string]string) (Result, error)
}

// Input is one field. An input with Words is a choice, one with Text free text, every other a number in Unit between Min and Max (in SI units).
// A field without Default must be given unless it is Optional; an optional one that is left out is missing from the maps that Run gets.
type Input struct {
	Name, Title, Unit string
	Default           string
	Words             []string
	Text, Optional    bool
	Help              string
	Min, Max          float64
}

// Result is what a calculator found. A warning says that the range of the formula was left; a caution protects the technician or the machine.
type Result struct {
	Lines    []Line
	Warnings []string
	Cautions []string
}

// Line is one answer: Text for people, Value in Unit for programs (0 and "" where the answer is a word), How the arithmetic.
type Line struct {
	Name, Title, Text string
	Value             float64
	Unit              string
	How               string
}

// Given is one input as it was used.
type Given struct {
	Name, Title, Text string
	Value             float64
	Unit              string
}

// FieldError says what is wrong with one field.
type FieldError struct{ Field, Text string }

func (e *FieldError) Error() string { return e.Field + ": " + e.Text }

// wrong makes a FieldError.
func wrong(field, format string, args ...any) error {
	return &FieldError{field, fmt.Sprintf(format, args...)}
}

// All lists the calculators in the order in which they are offered.
func All() []Calculator {
	return slices.Concat(supplyCalculators(), []Calculator{discharge()}, batteryCalculators(), levelCalculators(), lightCalculators(), timeCalculators(),
		oneShotCalculators(), pitchCalculators(), markCalculators(), controlCalculators(), copperCalculators())
}

// Names lists the names in the order of All.
func Names() []string {
	var out []string
	for _, c := range All() {
		out = append(out, c.Name)
	}
	return out
}

// Find returns the calculator of a name; the error names the nearest right word.
func Find(name string) (Calculator, error) {
	for _, c := range All() {
		if c.Name == name {
			return c, nil
		}
	}
	if n := finding.Nearest(name, Names()); n != "" {
		return Calculator{}, fmt.Errorf("no calculator %s; did you mean %s?", name, n)
	}
	return Calculator{}, fmt.Errorf("no calculator %s; there are %s", name, strings.Join(Names(), ", "))
}

// Input returns the input of a name, or nil.
func (c Calculator) Input(name string) *Input {
	for i := range c.Inputs {
		if c.Inputs[i].Name == name {
			return &c.Inputs[i]
		}
	}
	return nil
}

// Calculate reads the fields as typed, checks them and runs the calculator. Fields are looked at in the calculator's order; an error is about
// the first that is wrong and is a *FieldError wherever one field is to blame.
func (c Calculator) Calculate(typed map[string]string) (Result, []Given, error) {
	var known []string
	for _, in := range c.Inputs {
		known = append(known, in.Name)
	}
	var strange []string
	for name := range typed {
		if !slices.Contains(known, name) {
			strange = append(strange, name)
		}
	}
	if len(strange) > 0 {
		slices.Sort(strange)
		return Result{}, nil, wrong(strange[0], "calculator %s has no such input; %s", c.Name, finding.DidYouMean(strange[0], known))
	}
	n, words, given := map[string]float64{}, map[string]string{}, []Given{}
	for _, in := range c.Inputs {
		s := strings.TrimSpace(typed[in.Name])
		if s == "" {
			s = in.Default
		}
		if s == "" && !in.Optional {
			return Result{}, nil, wrong(in.Name, "%s is missing%s", in.Title, example(in))
		}
		if s == "" {
			continue
		}
		g, err := in.read(s)
		if err != nil {
			return Result{}, nil, err
		}
		given = append(given, g)
		if len(in.Words) > 0 || in.Text {
			words[in.Name] = g.Text
		} else {
			n[in.Name] = g.Value
		}
	}
	r, err := c.Run(n, words)
	if err != nil {
		return Result{}, given, err
	}
	for _, l := range r.Lines {
		if math.IsNaN(l.Value) || math.IsInf(l.Value, 0) {
			return Result{}, given, fmt.Errorf("%s: these values give no number for the %s", c.Name, strings.ToLower(l.Title))
		}
	}
	return r, given, nil
}

func example(in Input) string {
	switch {
	case in.Help != "":
		return ": " + in.Help
	case in.Unit != "":
		return "; write " + in.Name + "=… in " + in.Unit
	}
	return ""
}

// read understands one field.
func (in Input) read(s string) (Given, error) {
	g := Given{Name: in.Name, Title: in.Title, Text: s, Unit: in.Unit}
	switch {
	case len(s) > maxText:
		return g, wrong(in.Name, "%d characters are more than the %d that are read", len(s), maxText)
	case in.Text:
		return g, nil
	case len(in.Words) > 0:
		for _, w := range in.Words {
			if strings.EqualFold(w, s) {
				g.Text = w
				return g, nil
			}
		}
		return g, wrong(in.Name, "%q is not one of %s%s", s, strings.Join(in.Words, ", "), nearest(s, in.Words))
	}
	v, err := Parse(s, in.Unit)
	if err != nil {
		return g, wrong(in.Name, "%v", err)
	}
	if v < in.Min || v > in.Max {
		return g, wrong(in.Name, "%s is outside what makes sense here, %s to %s", show(v, in.Unit), show(in.Min, in.Unit), show(in.Max, in.Unit))
	}
	g.Value, g.Text = v, show(v, in.Unit)
	return g, nil
}

// maxText is the longest field: a wear map of a few hundred readings.
const maxText = 20000

func nearest(s string, words []string) string {
	if n := finding.Nearest(s, words); n != "" {
		return "; did you mean " + n + "?"
	}
	return ""
}

// scales are units that are no SI unit with a prefix: what a plain number in them is worth, and other words for them.
var scales = map[string][]struct {
	word string
	is   float64
}{
	"%":     {{"%", 0.01}, {"percent", 0.01}},
	"°C":    {{"°C", 1}, {"degC", 1}, {"C", 1}},
	"K/W":   {{"K/W", 1}, {"°C/W", 1}, {"C/W", 1}},
	"mAh":   {{"mAh", 3.6}, {"Ah", 3600}},
	"mm":    {{"mm", 1e-3}, {"µm", 1e-6}, {"um", 1e-6}, {"cm", 1e-2}, {"mil", 25.4e-6}, {"in", 25.4e-3}, {"m", 1}},
	"µm":    {{"µm", 1e-6}, {"um", 1e-6}, {"mm", 1e-3}, {"oz", 35e-6}},
	"%/a":   {{"%/a", 0.01}, {"%/y", 0.01}, {"%/year", 0.01}, {"%/month", 0.12}, {"%/mo", 0.12}},
	"cent":  {{"cents", 1}, {"cent", 1}},
	"s":     {{"min", 60}, {"hours", 3600}, {"hour", 3600}, {"h", 3600}, {"days", 86400}, {"day", 86400}, {"d", 86400}},
	"":      {{"×", 1}, {"x", 1}},
	"V/oct": {{"V/oct", 1}, {"V", 1}},
	"Hz/V":  {{"Hz/V", 1}, {"Hz", 1}},
	"W":     {{"W", 1}},
}

// Parse reads a number as it is typed at the bench. A plain number is in the unit asked for; a prefix and the unit's own word may follow, but no
// other unit's: 4700u, 4700 µF, 4K7, 12 mm, 5 %.
func Parse(s, want string) (float64, error) {
	t := strings.TrimSpace(s)
	for _, w := range scales[want] {
		if r, ok := strings.CutSuffix(t, w.word); ok && r != "" {
			if v, err := unit.Parse(r); err == nil {
				return v * w.is, nil
			}
		}
	}
	if want == "%" || want == "mm" || want == "µm" || want == "mAh" || want == "%/a" {
		v, err := unit.Parse(t)
		if err != nil || endsInUnit(t) {
			return 0, fmt.Errorf("%.40q is not a value in %s", s, want)
		}
		return v * scales[want][0].is, nil
	}
	if other := unitOf(t); other != "" && other != want {
		return 0, fmt.Errorf("%.40q is in %s, but this is in %s", s, other, orNumber(want))
	}
	v, err := unit.Parse(t)
	if err != nil {
		return 0, fmt.Errorf("%.40q is not a value in %s; write one as 4.7k, 4K7 or 100n", s, orNumber(want))
	}
	return v, nil
}

func orNumber(u string) string {
	if u == "" {
		return "plain numbers"
	}
	return u
}

// unitOf names the unit that stands at the end of a value, or "".
func unitOf(t string) string {
	for _, u := range []struct{ word, is string }{{"ohms", "Ω"}, {"ohm", "Ω"}, {"Ohms", "Ω"}, {"Ohm", "Ω"}, {"Ω", "Ω"}, {"Ω", "Ω"}, {"Hz", "Hz"}, {"V", "V"}, {"F", "F"},
		{"H", "H"}, {"A", "A"}, {"s", "s"}, {"W", "W"}} {
		if strings.HasSuffix(t, u.word) {
			return u.is
		}
	}
	return ""
}

func endsInUnit(t string) bool { return unitOf(t) != "" }
