package cli

import (
	"fmt"
	"strings"

	"halfsplit/internal/app"
	"halfsplit/internal/core/unit"
)

type partCmd struct {
	Name    string   `arg:"" help:"Part as it is marked (74LS138, CD4013BE, resistor)." placeholder:"NAME"`
	FreeRun bool     `name:"freerun" help:"Steps of a free-run test as a board file takes them."`
	Clock   string   `help:"Clock of the processor, for the rates of a free run." default:"1M" placeholder:"4M"`
	Parts   []string `help:"Further file of part descriptions." placeholder:"FILE" sep:"none"`
	Fuses   string   `help:"Fuse map of programmable logic (JEDEC file): the equations in it." placeholder:"FILE"`
	JSON    bool     `name:"json" help:"Answer as JSON."`
}

func (c *partCmd) Run(d *desk) error {
	hertz, err := unit.Parse(c.Clock)
	if err != nil || hertz <= 0 {
		return commandError{fmt.Errorf("--clock %s is no frequency; write one as 4M or 1.023 MHz", c.Clock)}
	}
	lib, fl := app.Library(d.files, c.Parts)
	if err := d.findings(fl, warningsBefore(c.JSON)); err != nil {
		return err
	}
	if c.Fuses != "" {
		lib, fl = app.WithFuses(lib, d.files, c.Name, c.Fuses)
		if err := d.findings(fl, warningsBefore(c.JSON)); err != nil {
			return err
		}
	}
	v, err := app.Page(lib, c.Name)
	switch {
	case err != nil:
		return err
	case c.FreeRun && v.FreeRun == nil:
		return fmt.Errorf("%s has no free run: only processors that fetch no-operations do", v.Marking)
	case c.JSON:
		return d.json(v)
	case c.FreeRun:
		return d.text(freeRunSteps(v))
	}
	return d.text(pageText(v, hertz))
}

func pageText(v app.PartPage, hertz float64) string {
	p := &page{}
	p.line("%s  %s", v.Marking, v.Title)
	if len(v.Aka) > 0 {
		p.para("also      ", strings.Join(v.Aka, ", "))
	}
	p.gap()
	pinOut(p, v.PartView)
	underside(p, v.PartView)
	behaviour(p, v.PartView)
	p.gap()
	if v.Timing != "" {
		p.para("timing    ", v.Timing)
	}
	limitTable(p, v)
	p.gap()
	for i, f := range v.Failures {
		p.para(lead("fails     ", i), f.Text+" ["+f.Source+"]")
	}
	standIns(p, v)
	if v.FreeRun != nil {
		freeRunText(p, v, hertz)
	}
	p.gap()
	if v.Notes != "" {
		p.para("notes     ", v.Notes)
	}
	p.para("source    ", v.Source)
	return p.String()
}

func lead(word string, i int) string {
	if i > 0 {
		return strings.Repeat(" ", len(word))
	}
	return word
}

// underside draws the same package from the solder side: left and right change places.
func underside(p *page, v app.PartView) {
	n := len(v.Pins)
	if !strings.HasPrefix(v.Package, "DIP") || n%2 != 0 {
		return
	}
	wide := 0
	for _, pin := range v.Pins {
		wide = max(wide, len(pin.Name))
	}
	space := strings.Repeat(" ", wide)
	p.gap()
	p.line("  %s   ┌────∪────┐  from the solder side", space)
	for i := range n / 2 {
		l, r := v.Pins[n-1-i], v.Pins[i]
		p.line("  %s%s %s │%2d     %2d│ %s %s", space[len(l.Name):], l.Name, arrow(l.Use, "→", "←"), l.Number, r.Number, arrow(r.Use, "←", "→"), r.Name)
	}
	p.line("  %s   └─────────┘", space)
}

func limitTable(p *page, v app.PartPage) {
	if len(v.Limits) == 0 {
		return
	}
	p.gap()
	all := v.Limits[0]
	p.line("levels and currents at 5 V (supply %g to %g V)", all.SupplyMin, all.SupplyMax)
	rows := [][]string{{"", "VIL", "VIH", "VOL", "VOH", "IIL", "IIH", "IOL", "IOH"}}
	for _, l := range v.Limits {
		rows = append(rows, []string{l.Pins, volt(l.VIL), volt(l.VIH), volt(l.VOL), volt(l.VOH), milli(l.IIL), milli(l.IIH), milli(l.IOL), milli(l.IOH)})
	}
	p.table("  ", rows, 1, 2, 3, 4, 5, 6, 7, 8)
	if all.Delay > 0 {
		p.line("  a gate takes up to %.3g ns", all.Delay)
	}
	var said []string
	for _, l := range v.Limits {
		if !strings.Contains(strings.Join(said, "; "), l.Source) {
			said = append(said, l.Source)
		}
	}
	p.para("  from ", strings.TrimPrefix(strings.Join(said, "; "), "from "))
}

func volt(v float64) string { return fmt.Sprintf("%.2f V", v) }

func milli(ma float64) string {
	if ma == 0 {
		return "-"
	}
	return unit.Format(ma/1e3) + "A"
}

func standIns(p *page, v app.PartPage) {
	if len(v.StandIns)+len(v.Known) == 0 {
		return
	}
	p.gap()
	if len(v.StandIns) > 0 {
		p.para("stand-ins ", "same pin-out and function: "+strings.Join(v.StandIns, ", ")+"; whether they serve depends on the board: halfsplit substitute BOARD PART")
	}
	for i, k := range v.Known {
		p.para(lead("known     ", i), k)
	}
}

func freeRunText(p *page, v app.PartPage, hertz float64) {
	f := v.FreeRun
	p.gap()
	p.para("free run  ", fmt.Sprintf("take the processor's data pins off the bus and hold them at %s (no operation): %s", f.Opcode, pinLevels(f.Data)))
	if len(f.Hold) > 0 {
		p.para("          ", "hold also: "+pinLevels(f.Hold))
	}
	p.para("          ", fmt.Sprintf("each no-operation takes %d periods of %s; expected with %sHz there:", f.Clocks, f.Clock, unit.Format(hertz)))
	rows := [][]string{}
	for _, l := range f.Lines {
		rows = append(rows, []string{fmt.Sprintf("pin %d", l.Number), l.Name, fmt.Sprintf("clock / %d", l.Divide), unit.Format(l.Rate(hertz)) + "Hz"})
	}
	p.table("          ", rows, 3)
	p.para("          ", "on a board with it the run is an action: halfsplit expect BOARD --do free-run")
	if f.Notes != "" {
		p.para("          ", f.Notes)
	}
}

func pinLevels(pins []app.PinLevel) string {
	var out []string
	for _, l := range pins {
		out = append(out, fmt.Sprintf("%s (%d) = %d", l.Name, l.Number, l.Level))
	}
	return strings.Join(out, ", ")
}

// freeRunSteps prints an action for a board file whose inputs are the address lines: every line moves, the highest count fully, as
// they do in a free run, so that decoders and selects show what they should.
func freeRunSteps(v app.PartPage) string {
	n := len(v.FreeRun.Lines)
	low := max(0, n-4)
	var names []string
	for i := range v.FreeRun.Lines {
		names = append(names, v.FreeRun.Lines[n-1-i].Name)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "# Free run of a %s with %s at its data pins. The address lines stand under inputs: and in this bus:\n", v.Marking, v.FreeRun.Opcode)
	fmt.Fprintf(&b, "#   buses: {A: [%s]}\n", strings.Join(names, ", "))
	fmt.Fprintf(&b, "# Put this under actions: and set what enables a read in the first step.\n")
	fmt.Fprintf(&b, "  free-run:\n    title: The processor runs free through all addresses\n    steps:\n")
	for i := range 1 << (n - low) {
		address := i << low
		if i%2 == 1 {
			address |= 1<<low - 1
		}
		fmt.Fprintf(&b, "      - {A: 0x%0*X}\n", (n+3)/4, address)
	}
	return b.String()
}
