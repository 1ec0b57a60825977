package cli

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"halfsplit/internal/app"
	"halfsplit/internal/core/circuit"
)

type calcCmd struct {
	Name  string   `arg:"" optional:"" help:"Calculator; the list of all when left out." placeholder:"NAME"`
	Set   []string `arg:"" optional:"" help:"Inputs as name=value, with prefix and unit: current=0.8 capacitance=4700u." placeholder:"INPUT=VALUE"`
	Board string   `help:"Board file that fills inputs." placeholder:"FILE"`
	At    string   `help:"With --board: the part or net to take them from." placeholder:"PLACE"`
	Parts []string `help:"Further file of part descriptions." placeholder:"FILE" sep:"none"`
	JSON  bool     `name:"json" help:"Answer as JSON."`
}

// Validate refuses what no board could make right.
func (c *calcCmd) Validate() error {
	seen := map[string]bool{}
	for _, s := range c.Set {
		name, _, ok := strings.Cut(s, "=")
		if !ok || name == "" {
			return fmt.Errorf("%q: an input is written name=value, such as current=0.8", s)
		}
		if seen[name] {
			return fmt.Errorf("%s is given twice", name)
		}
		seen[name] = true
	}
	if (c.At == "") != (c.Board == "") {
		return fmt.Errorf("--board and --at belong together")
	}
	return nil
}

func (c *calcCmd) Run(d *desk) error {
	if c.Name == "" {
		list := app.CalcList()
		if c.JSON {
			return d.json(list)
		}
		return d.text(calcListText(list))
	}
	typed := map[string]string{}
	for _, s := range c.Set {
		name, v, _ := strings.Cut(s, "=")
		typed[name] = v
	}
	var board *circuit.Circuit
	if c.Board != "" {
		b, fl := app.LoadBoard(d.files, c.Board, c.Parts)
		if err := d.findings(fl, warningsBefore(true)); err != nil {
			return err
		}
		board = b
	}
	if len(typed) == 0 && board == nil {
		for _, r := range app.CalcList() {
			if r.Name == c.Name {
				if c.JSON {
					return d.json(r)
				}
				return d.text(calcFormText(r))
			}
		}
	}
	v, err := app.Calc(c.Name, typed, board, c.At)
	switch {
	case err != nil:
		return err
	case c.JSON:
		return d.json(v)
	}
	return d.text(calcText(v))
}

func calcListText(list []app.CalcRow) string {
	p := &page{}
	rows := [][]string{}
	for _, r := range list {
		mark := ""
		if r.Board {
			mark = "*"
		}
		rows = append(rows, []string{r.Name, mark, r.Title})
	}
	p.table("", rows)
	p.line("%s; halfsplit calc NAME shows the inputs; * a board can fill some (--board FILE --at PLACE)", plural(len(list), "calculator", "calculators"))
	return p.String()
}

// calcFormText shows a calculator that was asked for without inputs.
func calcFormText(r app.CalcRow) string {
	p := &page{}
	p.line("%s: %s", r.Name, r.Title)
	rows := [][]string{}
	for _, in := range r.Inputs {
		what := in.Title
		if in.Unit != "" {
			what += ", " + in.Unit
		}
		if len(in.Words) > 0 {
			what += ": " + strings.Join(in.Words, " ")
		}
		state := "needed"
		if in.Default != "" {
			state = in.Default
		} else if in.Optional {
			state = "optional"
		}
		if in.Help != "" {
			what += " (" + in.Help + ")"
		}
		rows = append(rows, []string{in.Name, state, what})
	}
	p.table("  ", rows)
	about(p, r.Formula, r.Range, r.Source)
	return p.String()
}

func about(p *page, formula, rng, source string) {
	p.gap()
	p.para("formula   ", formula)
	p.para("range     ", rng)
	p.para("source    ", source)
}

func calcText(v app.CalcView) string {
	p := &page{}
	p.line("%s", v.Title)
	for _, b := range v.Board {
		if b != "" {
			p.para("  board   ", b)
		}
	}
	rows := [][]string{}
	for _, g := range v.Given {
		rows = append(rows, []string{g.Title, g.Text})
	}
	p.table("  ", rows)
	p.gap()
	rows = rows[:0]
	var long []app.CalcLine // answers in words would push the arithmetic off the screen
	for _, l := range v.Lines {
		if utf8.RuneCountInString(l.Text) > 40 {
			long = append(long, l)
			continue
		}
		rows = append(rows, []string{l.Title, l.Text, l.How})
	}
	p.table("  ", rows)
	for _, l := range long {
		p.para("  "+l.Title+": ", l.Text)
	}
	for _, w := range v.Warnings {
		p.para("  warning: ", w)
	}
	for _, c := range v.Cautions {
		p.para("  caution: ", c)
	}
	about(p, v.Formula, v.Range, v.Source)
	return p.String()
}
