package calc

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// Every calculator says everything about itself, once.
func TestDescriptions(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range All() {
		if c.Name == "" || c.Title == "" || c.Formula == "" || c.Source == "" || c.Range == "" || len(c.Inputs) == 0 || c.Run == nil || seen[c.Name] {
			t.Errorf("%q is not described, or twice", c.Name)
		}
		seen[c.Name] = true
		fields := map[string]bool{}
		for _, in := range c.Inputs {
			number := len(in.Words) == 0 && !in.Text
			if in.Name == "" || in.Title == "" || fields[in.Name] || number && in.Min >= in.Max {
				t.Errorf("%s: input %q is not described, or twice", c.Name, in.Name)
			}
			fields[in.Name] = true
			if in.Default != "" {
				if _, err := in.read(in.Default); err != nil {
					t.Errorf("%s: the default of %s: %v", c.Name, in.Name, err)
				}
			}
			if got := c.Input(in.Name); got == nil || got.Title != in.Title {
				t.Errorf("%s: Input(%s) = %v", c.Name, in.Name, got)
			}
		}
	}
	if len(seen) != 24 {
		t.Errorf("%d calculators", len(seen))
	}
}

func TestFindNamesTheNearest(t *testing.T) {
	if _, err := Find("riple"); err == nil || !strings.Contains(err.Error(), "did you mean ripple?") {
		t.Error(err)
	}
	if _, err := Find("zzzzzzzzzz"); err == nil || !strings.Contains(err.Error(), "there are ripple, ") {
		t.Error(err)
	}
}

func TestErrorsNameTheField(t *testing.T) {
	n := 0
	for _, c := range []struct{ calc, fields, field, text string }{
		{"ripple", "capacitance=4700u", "current", "is missing"},
		{"ripple", "current=1 capacitance=0", "capacitance", "outside what makes sense"},
		{"ripple", "current=1 capacitance=1e30", "capacitance", "outside what makes sense"},
		{"ripple", "current=1 capacitance=-1u", "capacitance", "outside"},
		{"ripple", "current=1 capacitance=NaN", "capacitance", "is not a value"},
		{"ripple", "current=1 capacitance=12_V", "capacitance", "is in V, but this is in F"},
		{"ripple", "curent=1 capacitance=1u", "curent", "did you mean current?"},
		{"ripple", "current=1 capacitance=1u rectifier=ful", "rectifier", "did you mean full?"},
		{"reservoir", "current=1", "droop", "or both"},
		{"reservoir", "current=1 secondary=5 lowest=12", "lowest", "no capacitor"},
		{"divider", "r1=0 r2=1k", "r1", "outside"},
		{"rc", "resistor=1k capacitance=1u threshold=9", "threshold", "is not passed"},
		{"filter", "kind=lc capacitance=1u", "inductance", "is needed"},
		{"led", "supply=1", "supply", "does not reach"},
		{"one-shot", "part=74LS123 capacitance=1u", "resistor", "give the timing resistor"},
		{"one-shot", "part=74LS124 capacitance=1u", "part", "did you mean"},
		{"pull-up", "loads=100", "loads", "no resistor works"},
		{"resistor", "mark=hello", "mark", "no marking"},
		{"wear", "readings=0_1_2", "readings", "in turn"},
		{"track", "width=1", "length", "give the length"},
		{"battery", "capacity=200 retention=0 selfdischarge=0", "retention", "nothing to compute"},
		{"taper", "total=10k quarter=1k half=20k three=7k", "half", "more than the whole"},
	} {
		calc, err := Find(c.calc)
		if err != nil {
			t.Fatal(err)
		}
		typed := map[string]string{}
		for _, f := range strings.Fields(c.fields) {
			k, v, _ := strings.Cut(f, "=")
			typed[k] = strings.ReplaceAll(v, "_", " ")
		}
		_, _, err = calc.Calculate(typed)
		var fe *FieldError
		if !errors.As(err, &fe) || fe.Field != c.field || !strings.Contains(fe.Text, c.text) {
			t.Errorf("%s %s: %v, want field %s and %q", c.calc, c.fields, err, c.field, c.text)
		}
		n++
	}
	if n != 22 {
		t.Error(n)
	}
}

// No input that is accepted gives NaN or an infinity: every calculator at random values, edges included.
func TestNeverNaN(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	accepted, tried := map[string]int{}, 0
	for _, c := range All() {
		for range 3000 {
			typed := map[string]string{}
			for _, in := range c.Inputs {
				if (in.Optional || in.Default != "") && rng.IntN(2) == 0 {
					continue
				}
				typed[in.Name] = randomField(rng, c.Name, in)
			}
			tried++
			r, _, err := c.Calculate(typed)
			if err != nil {
				if strings.Contains(err.Error(), "NaN") || strings.Contains(err.Error(), "Inf") {
					t.Errorf("%s %v: %v", c.Name, typed, err)
				}
				continue
			}
			accepted[c.Name]++
			for _, l := range r.Lines {
				if math.IsNaN(l.Value) || math.IsInf(l.Value, 0) || strings.Contains(l.Text+l.How, "NaN") || strings.Contains(l.Text+l.How, "Inf") {
					t.Fatalf("%s %v: %+v", c.Name, typed, l)
				}
			}
		}
	}
	for _, c := range All() {
		if accepted[c.Name] < 20 {
			t.Errorf("%s accepted only %d random inputs", c.Name, accepted[c.Name])
		}
	}
	if tried != 24*3000 {
		t.Error(tried)
	}
}

func randomField(rng *rand.Rand, calc string, in Input) string {
	switch {
	case len(in.Words) > 0:
		return in.Words[rng.IntN(len(in.Words))]
	case in.Name == "mark":
		return []string{"104", "4K7", "100p", "47", "01C", "brown black red", "0.1", "999", "R47", "2A104J", "4n7K"}[rng.IntN(11)]
	case in.Text:
		s := ""
		for i := range 6 {
			s += strconv.Itoa(i*20) + " " + strconv.Itoa(rng.IntN(20000)) + " "
		}
		return s
	}
	v := in.Min
	switch rng.IntN(6) {
	case 0:
	case 1:
		v = in.Max
	case 2, 3:
		v = in.Min + (in.Max-in.Min)*rng.Float64()
	default:
		v = math.Exp(rng.NormFloat64() * 4)
	}
	if s := scales[in.Unit]; s != nil {
		v /= s[0].is
	}
	if in.Unit == "s" {
		v = math.Abs(v) * 60
	}
	return strconv.FormatFloat(v, 'g', 12, 64)
}

func FuzzCalculate(f *testing.F) {
	f.Add("ripple", "current", "1", "capacitance", "4700u")
	f.Add("resistor", "mark", "brown black red gold", "tolerance", "5 %")
	f.Add("capacitor", "mark", "2A104J", "", "")
	f.Add("wear", "readings", "0 1 25 open 50 3 75 4 100 5", "total", "5")
	f.Fuzz(func(t *testing.T, name, a, va, b, vb string) {
		c, err := Find(name)
		if err != nil {
			return
		}
		r, _, err := c.Calculate(map[string]string{a: va, b: vb})
		if err != nil {
			return
		}
		for _, l := range r.Lines {
			if math.IsNaN(l.Value) || math.IsInf(l.Value, 0) {
				t.Fatalf("%+v", l)
			}
		}
	})
}

func TestParse(t *testing.T) {
	n := 0
	for _, c := range []struct {
		text, unit string
		want       float64
	}{
		{"4700u", "F", 4.7e-3}, {"4700 µF", "F", 4.7e-3}, {"4K7", "Ω", 4700}, {"5 %", "%", 0.05}, {"5", "%", 0.05}, {"12", "mm", 0.012}, {"12 mm", "mm", 0.012}, {"1.2 cm", "mm", 0.012},
		{"1 oz", "µm", 35e-6}, {"35", "µm", 35e-6}, {"235", "mAh", 846}, {"2.3 Ah", "mAh", 8280}, {"17.5 %/month", "%/a", 2.1}, {"1 %/y", "%/a", 0.01}, {"25 °C", "°C", 25}, {"-10 C", "°C", -10},
		{"3 min", "s", 180}, {"2 h", "s", 7200}, {"5 ms", "s", 5e-3}, {"65 K/W", "K/W", 65}, {"100 mW", "W", 0.1}, {"50", "Hz", 50}, {"8 mil", "mm", 203.2e-6},
	} {
		got, err := Parse(c.text, c.unit)
		if err != nil || math.Abs(got-c.want) > 1e-9*math.Abs(c.want) {
			t.Errorf("Parse(%q, %s) = %g, %v; want %g", c.text, c.unit, got, err, c.want)
		}
		n++
	}
	for _, c := range [][2]string{{"5 V", "%"}, {"5 V", "A"}, {"", "V"}, {"5 mm", "V"}, {"1e999", "V"}, {"5 A", "mm"}, {"Inf", "Ω"}} {
		if got, err := Parse(c[0], c[1]); err == nil {
			t.Errorf("Parse(%q, %s) = %g", c[0], c[1], got)
		}
		n++
	}
	if n != 30 {
		t.Error(n)
	}
}

func TestNamesAreInOrder(t *testing.T) {
	if n := Names(); len(n) != len(All()) || !slices.Contains(n, "volts-per-octave") {
		t.Error(n)
	}
}
