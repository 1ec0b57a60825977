package loading

import (
	"fmt"
	"math"
	"strings"

	"halfsplit/internal/core/part"
	"halfsplit/internal/core/unit"
)

// Verdict of one step of the arithmetic, from good to bad.
type Verdict uint8

// Unknown means that figures are missing; Marginal that it holds at 25 °C or by typical figures only.
const (
	Holds Verdict = iota
	Unknown
	Marginal
	Fails
)

func (v Verdict) String() string {
	return [...]string{"holds", "unknown", "marginal", "fails"}[v]
}

// What a step is about.
const (
	LevelHigh  = "high level"
	LevelLow   = "low level"
	FanOutLow  = "fan-out low"
	FanOutHigh = "fan-out high"
	PullUpStep = "pull-up"
	OpenInput  = "open input"
	Figures    = "figures" // what is missing for a comparison
	Fight      = "outputs"
)

// Step is one comparison with its numbers.
type Step struct {
	Net     string
	What    string
	Text    string
	Verdict Verdict
	Source  string
	Remedy  string // what would make it hold; "" when nothing simple does
	Parts   []int  // indices of the parts whose pins are compared
	Wiring  bool   // visible without any figures; the check of the wiring says it too
}

// judging gathers the steps of one net.
type judging struct {
	b     *Board
	n     Net
	steps []Step
}

// Judge compares everything that meets on the net of an index. A rail gives nothing.
func (b *Board) Judge(ni int) []Step {
	j := &judging{b: b, n: b.Net(ni)}
	if j.n.Rail {
		return nil
	}
	j.fight()
	for _, o := range j.n.Outputs {
		if !o.Known {
			j.add(Unknown, Figures, "", "", []int{j.part(o.Pin)}, "no figures for %s: what it gives is not judged", b.C.PinText(o.Pin))
			continue
		}
		j.levels(o)
		j.currents(o)
	}
	j.pullUp()
	j.undriven()
	return j.steps
}

func (j *judging) add(v Verdict, what, source, remedy string, parts []int, format string, args ...any) {
	j.steps = append(j.steps, Step{Net: j.n.Name, What: what, Text: fmt.Sprintf(format, args...), Verdict: v, Source: source, Remedy: remedy, Parts: parts})
}

func (j *judging) part(pin int) int { return j.b.C.Pins[pin].Part }

// who is a part with the family it has here: U6 (LS).
func (j *judging) who(pi int) string {
	ref := j.b.C.Parts[pi].Ref
	if f := j.b.Match(pi).Family; f != "" {
		return ref + " (" + string(f) + ")"
	}
	return ref
}

func amps(a float64) string { return unit.Format(a) + "A" }

func volts(v float64) string { return fmt.Sprintf("%.2f V", v) }

// fight finds outputs that never let go beside others.
func (j *judging) fight() {
	var hard, other []string
	var parts []int
	for _, o := range j.n.Outputs {
		if o.Kind == part.Drive {
			hard = append(hard, j.b.C.PinName(o.Pin))
		} else {
			other = append(other, j.b.C.PinName(o.Pin))
		}
		parts = append(parts, j.part(o.Pin))
	}
	switch {
	case len(hard) > 1:
		j.add(Fails, Fight, "", "", parts, "%s never let go and fight whenever they differ", strings.Join(hard, " and "))
		j.steps[len(j.steps)-1].Wiring = true
	case len(hard) == 1 && len(other) > 0:
		j.add(Fails, Fight, "", "", parts, "%s never lets go, so %s cannot have the net", hard[0], strings.Join(other, ", "))
	}
}

// pulls adds up the resistors to positive rails and to the lowest ones: ohms of all in parallel and the rail's voltage.
func (j *judging) pulls() (up, rail, down float64) {
	for _, p := range j.n.Pulls {
		switch {
		case p.Ohms <= 0:
		case p.Volts > 0:
			up, rail = up+1/p.Ohms, max(rail, p.Volts)
		default:
			down += 1 / p.Ohms
		}
	}
	return inverse(up), rail, inverse(down)
}

func inverse(x float64) float64 {
	if x == 0 {
		return 0
	}
	return 1 / x
}

// Supplies are taken 5 % low and high, the range over which TTL is guaranteed.
const (
	supplyLow  = 0.95
	supplyHigh = 1.05
)

// high sums what flows out of the net when it is high, without the output of pin.
func (j *judging) high(pin int) (sum float64) {
	for _, i := range j.n.Inputs {
		if i.Pin != pin && i.Known {
			sum += i.Limits.IIH
		}
	}
	for _, o := range j.n.Outputs {
		if o.Pin == pin || !o.Known {
			continue
		}
		switch o.Kind {
		case part.DriveTri:
			sum += o.Limits.Off
		case part.DriveLow:
			sum += o.Limits.Leak
		}
	}
	return sum
}

func (j *judging) low(pin int) (sum float64) {
	for _, i := range j.n.Inputs {
		if i.Pin != pin && i.Known {
			sum += i.Limits.IIL
		}
	}
	for _, o := range j.n.Outputs {
		if o.Pin != pin && o.Known && o.Kind == part.DriveTri {
			sum += o.Limits.Off
		}
	}
	return sum
}

func (j *judging) extra(high bool) (sum float64, text string) {
	for _, e := range j.n.Extras {
		a := e.Low
		if high {
			a = e.High
		}
		if a > 0 {
			sum += a
			text += fmt.Sprintf(" + %s %s", e.Text, amps(a))
		}
	}
	return sum, text
}

// levels compares what an output guarantees with what each other part's inputs want, once per part.
func (j *judging) levels(o Output) {
	up, rail, down := j.pulls()
	dc := max(j.high(o.Pin), j.low(o.Pin))
	heavy, _ := j.extra(true)
	drain, _ := j.extra(false)
	light := dc <= part.LightLoad && up == 0 && down == 0 && heavy+drain == 0
	vol, voh := o.Limits.VOL, o.Limits.VOH
	if light {
		vol, voh = o.Limits.VOLLight, o.Limits.VOHLight
	}
	lifted := 0.0
	if up > 0 {
		lifted = rail*supplyLow - up*j.high(-1)
		if o.Kind == part.DriveLow {
			lifted = rail*supplyLow - up*(j.high(o.Pin)+o.Limits.Leak)
		}
	}
	done := map[int]bool{}
	for _, i := range j.n.Inputs {
		pi := j.part(i.Pin)
		if pi == j.part(o.Pin) && i.Pin == o.Pin || done[pi] || !i.Known {
			continue
		}
		done[pi] = true
		from, to, both := j.who(j.part(o.Pin)), j.who(pi), []int{j.part(o.Pin), pi}
		source := o.Limits.Source
		if i.Limits.Source != source {
			source += "; " + i.Limits.Source
		}
		if o.Kind != part.DriveHigh {
			j.margin(LevelLow, i.Limits.VIL-vol, source, "", both, "%s gives a low of at most %s, %s hears low up to %s", from, volts(vol), to, volts(i.Limits.VIL))
		}
		switch {
		case o.Kind == part.DriveLow:
		case lifted > voh:
			j.margin(LevelHigh, lifted-i.Limits.VIH, source, "a smaller pull-up resistor", both, "with the pull-up of %sΩ a high reaches %.2f V - %sΩ x %s = %s, %s hears high from %s",
				unit.Format(up), rail*supplyLow, unit.Format(up), amps(j.high(-1)), volts(lifted), to, volts(i.Limits.VIH))
		default:
			j.margin(LevelHigh, voh-i.Limits.VIH, source, "a pull-up resistor to the receiver's supply", both, "%s gives a high of at least %s, %s hears high from %s", from, volts(voh), to, volts(i.Limits.VIH))
		}
	}
}

func (j *judging) margin(what string, by float64, source, remedy string, parts []int, format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	if by < -1e-9 {
		j.add(Fails, what, source, remedy, parts, "%s: short by %s", text, volts(-by))
		return
	}
	j.add(Holds, what, source, "", parts, "%s: margin %s", text, volts(by))
}

// lampsOnly is how far past its rated current an output may go where nothing listens to its level (an estimate, no source).
const lampsOnly = 1.5

// currents compares what all inputs, resistors and lamps on the net ask of an output with what it can sink and give.
func (j *judging) currents(o Output) {
	up, rail, down := j.pulls()
	who, self := j.who(j.part(o.Pin)), []int{j.part(o.Pin)}
	for _, i := range j.n.Inputs {
		self = append(self, j.part(i.Pin))
	}
	listens := len(j.n.Inputs) > 0
	if o.Limits.IOL > 0 && o.Kind != part.DriveHigh {
		need, text := j.low(o.Pin), j.sum(o.Pin, false)
		if up > 0 {
			a := max(0, rail*supplyHigh-o.Limits.VOL) / up
			need += a
			text += fmt.Sprintf(" + pull-up (%.2f - %.2f V)/%sΩ = %s", rail*supplyHigh, o.Limits.VOL, unit.Format(up), amps(a))
		}
		a, more := j.extra(false)
		j.load(FanOutLow, need+a, o.Limits.IOL, o.Limits.IOL25, listens, o.Limits.Source, self, who+" sinks", text+more)
	}
	if o.Limits.IOH > 0 && o.Kind != part.DriveLow {
		need, text := j.high(o.Pin), j.sum(o.Pin, true)
		if up > 0 { // the pull-up carries its share of a high
			need = 0
			text = "the pull-up carries the highs"
		}
		if down > 0 {
			a := o.Limits.VOH / down
			need += a
			text += fmt.Sprintf(" + pull-down %.2f V/%sΩ = %s", o.Limits.VOH, unit.Format(down), amps(a))
		}
		a, more := j.extra(true)
		j.load(FanOutHigh, need+a, o.Limits.IOH, 0, listens, o.Limits.Source, self, who+" gives", text+more)
	}
}

// sum writes the inputs' share: 3 inputs 1.2 mA.
func (j *judging) sum(pin int, high bool) string {
	type kind struct {
		f part.Family
		a float64
	}
	var order []kind
	count := map[kind]int{}
	for _, i := range j.n.Inputs {
		if i.Pin == pin || !i.Known {
			continue
		}
		k := kind{i.Family, i.Limits.IIL}
		if high {
			k.a = i.Limits.IIH
		}
		if count[k] == 0 {
			order = append(order, k)
		}
		count[k]++
	}
	var out []string
	for _, k := range order {
		out = append(out, fmt.Sprintf("%d x %s %s", count[k], k.f, amps(k.a)))
	}
	if len(out) == 0 {
		return "no inputs"
	}
	return strings.Join(out, " + ")
}

func (j *judging) load(what string, need, has, at25 float64, listens bool, source string, parts []int, who, text string) {
	say := fmt.Sprintf("%s %s, asked %s (%s)", who, amps(has), amps(need), text)
	switch {
	case need <= has*(1+1e-6):
		j.add(Holds, what, source, "", parts, "%s: uses %.0f %%", say, 100*need/has)
	case at25 > 0 && need <= at25*(1+1e-6):
		j.add(Marginal, what, source, "a buffer, or fewer inputs", parts, "%s: holds at 25 °C (%s), not when warm", say, amps(at25))
	case !listens && need <= lampsOnly*has:
		j.add(Holds, what, source, "", parts, "%s: past the rating by %.0f %%, and no input listens", say, 100*(need/has-1))
	default:
		j.add(Fails, what, source, "fewer inputs, lighter ones, or a stronger output", parts, "%s: over by %s", say, amps(need-has))
	}
}

// pullUp judges the resistor of an open-collector net by the equations of TL/F/6351.
func (j *judging) pullUp() {
	var open []Output
	for _, o := range j.n.Outputs {
		if o.Kind != part.DriveLow {
			return
		}
		if o.Known {
			open = append(open, o)
		}
	}
	if len(open) == 0 || len(j.n.Inputs) == 0 {
		return
	}
	up, rail, _ := j.pulls()
	var parts []int
	p := PullUp{SupplyMin: 4.75, SupplyMax: 5.25, VOL: math.Inf(1), IOL: math.Inf(1), IIH: 0, IIL: 0}
	if rail > 0 {
		p.SupplyMin, p.SupplyMax = rail*supplyLow, rail*supplyHigh
	}
	for _, o := range open {
		parts = append(parts, j.part(o.Pin))
		p.Leak += o.Limits.Leak
		p.VOL, p.IOL = min(p.VOL, o.Limits.VOL), min(p.IOL, o.Limits.IOL)
		if o.Limits.PullMax > 0 && rail > o.Limits.PullMax {
			j.add(Fails, PullUpStep, o.Limits.Source, "", parts, "%s may be pulled up to %g V, the resistor goes to %g V", j.who(j.part(o.Pin)), o.Limits.PullMax, rail)
		}
	}
	for _, i := range j.n.Inputs {
		parts = append(parts, j.part(i.Pin))
		if i.Known {
			p.IIH, p.IIL, p.VOH = p.IIH+i.Limits.IIH, p.IIL+i.Limits.IIL, max(p.VOH, i.Limits.VIH+highMargin)
		}
	}
	a, _ := j.extra(false)
	p.IIL += a
	smallest, largest, fits := p.Range()
	sums := fmt.Sprintf("R between (%.2f - %.2f V)/(%s - %s) = %.0f Ω and (%.2f - %.2f V)/(%s + %s) = %.0f Ω", p.SupplyMax, p.VOL, amps(p.IOL), amps(p.IIL), smallest,
		p.SupplyMin, p.VOH, amps(p.Leak), amps(p.IIH), largest)
	const source = "equations of TL/F/6351"
	switch {
	case p.IIL >= p.IOL:
		j.add(Fails, PullUpStep, source, "fewer inputs or a stronger output", parts, "no pull-up can serve this net: the inputs alone ask %s at a low, one output sinks %s", amps(p.IIL), amps(p.IOL))
	case !fits:
		j.add(Fails, PullUpStep, source, "fewer inputs or a stronger output", parts, "no pull-up can serve this net: %s", sums)
	case up == 0 && (j.n.Outside || j.n.Moved):
		j.add(Unknown, PullUpStep, source, "", parts, "no pull-up on the board; it needs one: %s", sums)
	case up == 0:
		j.add(Fails, PullUpStep, source, fmt.Sprintf("a pull-up between %.0f Ω and %.0f Ω", smallest, largest), parts, "an open collector gives no high and there is no pull-up: %s", sums)
		j.steps[len(j.steps)-1].Wiring = true
	case up < smallest*0.999 || up > largest*1.001:
		j.add(Fails, PullUpStep, source, fmt.Sprintf("a pull-up between %.0f Ω and %.0f Ω", smallest, largest), parts, "the pull-up is %sΩ; %s", unit.Format(up), sums)
	default:
		j.add(Holds, PullUpStep, source, "", parts, "the pull-up is %sΩ; %s", unit.Format(up), sums)
	}
}

// highMargin is the noise margin that is kept above VIH in the choice of a pull-up: 0.4 V, as TTL guarantees (2.4 V against 2.0 V).
const highMargin = 0.4

// undriven judges inputs that only a resistor holds, and inputs that nothing holds.
func (j *judging) undriven() {
	if len(j.n.Outputs) > 0 || len(j.n.Inputs) == 0 {
		return
	}
	up, rail, down := j.pulls()
	var parts []int
	for _, i := range j.n.Inputs {
		parts = append(parts, j.part(i.Pin))
	}
	done := map[int]bool{}
	for _, i := range j.n.Inputs {
		pi := j.part(i.Pin)
		if done[pi] || !i.Known {
			continue
		}
		done[pi] = true
		switch {
		case j.n.Outside:
			j.add(Unknown, Figures, i.Limits.Source, "", []int{pi}, "driven from outside the model: it must reach %s for a high and %s for a low, and takes %s and gives %s at %s", volts(i.Limits.VIH), volts(i.Limits.VIL),
				amps(i.Limits.IIH), amps(i.Limits.IIL), j.b.C.PinText(i.Pin))
		case up > 0 && down == 0:
			v := rail*supplyLow - up*j.high(-1)
			j.margin(LevelHigh, v-i.Limits.VIH, i.Limits.Source, "a smaller pull-up resistor", parts, "the pull-up of %sΩ gives %.2f V - %sΩ x %s = %s, %s hears high from %s",
				unit.Format(up), rail*supplyLow, unit.Format(up), amps(j.high(-1)), volts(v), j.who(pi), volts(i.Limits.VIH))
		case down > 0 && up == 0 && !j.n.Moved:
			v := down * j.low(-1)
			j.margin(LevelLow, i.Limits.VIL-v, i.Limits.Source, "a smaller pull-down resistor", parts, "the pull-down of %sΩ gives %sΩ x %s = %s, %s hears low up to %s",
				unit.Format(down), unit.Format(down), amps(j.low(-1)), volts(v), j.who(pi), volts(i.Limits.VIL))
		case up == 0 && down == 0 && !j.n.Moved && i.Family.CMOS():
			j.add(Fails, OpenInput, i.Limits.Source, "tie it to the supply or to ground", []int{pi}, "%s has an open input at %s; CMOS inputs float anywhere and must be tied", j.who(pi), j.b.C.PinText(i.Pin))
		case up == 0 && down == 0 && !j.n.Moved && i.Family.Bipolar():
			j.add(Holds, OpenInput, "a service periodical on failure modes of digital ICs, 1996", "", []int{pi}, "%s has an open input at %s, which is heard as high (about 1.5 V)", j.who(pi), j.b.C.PinText(i.Pin))
		}
	}
}
