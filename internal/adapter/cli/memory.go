package cli

import (
	"fmt"
	"io"
	"strings"

	"halfsplit/internal/app"
	"halfsplit/internal/core/memtest"
)

type memoryCmd struct {
	March   marchCmd    `cmd:"" help:"Make out a march test: its cycles, what it finds, what its failing elements mean."`
	Result  memResCmd   `cmd:"" help:"Say which chip, data bit or address line the failing reads of a RAM test point to."`
	Compare compareCmd  `cmd:"" help:"Compare two ROM dumps: decay, stuck, shorted and swapped lines."`
	Sum     identifyCmd `cmd:"" help:"Checksums of a ROM dump, and what looks wrong in it."`
}

type marchCmd struct {
	Test  string `arg:"" optional:"" default:"c-" help:"Test by name (mats mats+ mats++ x y c- c a b), or in notation: any(w0); up(r0,w1)." placeholder:"TEST"`
	Words int    `help:"Number of words." default:"1024" placeholder:"N"`
	Width int    `help:"Bits of a word." default:"8" placeholder:"N"`
	Steps bool   `help:"List every bus cycle."`
	JSON  bool   `name:"json" help:"Answer as JSON."`
}

func (c *marchCmd) Run(d *desk) error {
	v, err := app.March(c.Test, c.Words, c.Width, c.Steps)
	switch {
	case err != nil:
		return err
	case c.JSON:
		return d.json(v)
	}
	p := &page{}
	p.line("%s: %s", v.Name, v.Notation)
	p.line("%d operations for each address, %s (%s), %d cycles", v.Length, plural(len(v.Backgrounds), "background", "backgrounds"), strings.Join(v.Backgrounds, " "), v.Cycles)
	if c.Steps {
		p.gap()
		rows := [][]string{}
		for _, s := range v.Steps {
			rows = append(rows, []string{s.Element, s.Address, s.Op, s.Data})
		}
		p.table("  ", rows)
		return d.text(p.String())
	}
	p.gap()
	for _, r := range v.Coverage {
		p.line("  finds %2d of %2d %s faults", r.Found, r.All, r.Class)
	}
	p.gap()
	for _, s := range v.Syndromes {
		p.para("  "+s.Elements+": ", strings.Join(s.Kinds, "; "))
	}
	return d.text(p.String())
}

type memResCmd struct {
	File  string   `arg:"" help:"Lines of address, expected and read in hexadecimal; M2 before them for a march element. - reads them from the standard input." placeholder:"FILE"`
	Words int      `help:"Number of words." placeholder:"N"`
	Width int      `help:"Bits of a word." default:"8" placeholder:"N"`
	Chip  []string `help:"Chip with its data bits and its addresses in hexadecimal: U5=0-3,000-3FF." placeholder:"CHIP" sep:"none"`
	March string   `help:"The lines are the failing reads of this march test, and all others passed." placeholder:"TEST"`
	Board string   `help:"Board file whose RAM chips these are." placeholder:"FILE"`
	Parts []string `help:"Further file of part descriptions." placeholder:"FILE" sep:"none"`
	JSON  bool     `name:"json" help:"Answer as JSON."`
}

// Validate refuses what no file could make right.
func (c *memResCmd) Validate() error {
	if (c.Board == "") == (c.Words == 0) {
		return fmt.Errorf("give either --words or --board")
	}
	return nil
}

func (c *memResCmd) Run(d *desk) error {
	s, err := c.shape(d)
	if err != nil {
		return err
	}
	var text []byte
	if c.File == "-" {
		text, err = io.ReadAll(io.LimitReader(d.in, largestParts))
	} else {
		text, err = d.files.Bytes(c.File)
	}
	if err != nil {
		return err
	}
	reads, err := app.MemoryReads(string(text))
	if err != nil {
		return fmt.Errorf("%s: %w", c.File, err)
	}
	v, err := app.Memory(s, c.March, reads)
	switch {
	case err != nil:
		return err
	case c.JSON:
		return d.json(v)
	}
	return d.text(memoryText(v))
}

func (c *memResCmd) shape(d *desk) (memtest.Shape, error) {
	if c.Board != "" {
		b, fl := app.LoadBoard(d.files, c.Board, c.Parts)
		if err := d.findings(fl, 0); err != nil {
			return memtest.Shape{}, err
		}
		return app.MemoryOf(b)
	}
	s := memtest.Shape{Words: c.Words, Width: c.Width}
	for _, t := range c.Chip {
		k, err := app.MemoryChip(t, c.Words)
		if err != nil {
			return s, err
		}
		s.Chips = append(s.Chips, k)
	}
	return s, s.Check()
}

func memoryText(v app.MemoryView) string {
	p := &page{}
	p.line("%d words of %d bits, %s, %d of them failing", v.Words, v.Width, plural(v.Reads, "read", "reads"), v.Failing)
	if v.Failing == 0 {
		return p.String()
	}
	for _, f := range v.Facts {
		p.para("  ", f)
	}
	p.gap()
	for i, s := range v.Suspects {
		p.para(fmt.Sprintf("%2d.  %5s    ", i+1, percent(s.Probability)), s.Text)
		switch {
		case s.Exact:
		case s.Missed > 0 && s.Extra > 0:
			p.para("             ", fmt.Sprintf("leaves %s and would cause %d more", plural(s.Missed, "failing read", "failing reads"), s.Extra))
		case s.Missed > 0:
			p.para("             ", "leaves "+plural(s.Missed, "failing read", "failing reads")+" unexplained")
		case s.Extra > 0:
			p.para("             ", fmt.Sprintf("would cause %d failures that were not seen", s.Extra))
		}
	}
	if len(v.Suspects) == 0 {
		p.line("Nothing considered accounts for these reads.")
	}
	if len(v.Cells) > 0 {
		p.gap()
		for _, c := range v.Cells {
			kinds := strings.Join(c.Kinds, "; ")
			if kinds == "" {
				kinds = "no single fault of a cell shows this"
			}
			p.para(fmt.Sprintf("  %s D%d (%s) fails in %s: ", c.Address, c.Bit, c.Chip, c.Elements), kinds)
		}
	}
	return p.String()
}

type compareCmd struct {
	Good string `arg:"" help:"Dump that is known to be good: raw, Intel HEX or S-records." placeholder:"GOOD"`
	Bad  string `arg:"" help:"Dump that is doubted." placeholder:"BAD"`
	JSON bool   `name:"json" help:"Answer as JSON."`
}

func (c *compareCmd) Run(d *desk) error { return romRun(d, c.Good, c.Bad, c.JSON) }

type identifyCmd struct {
	File string `arg:"" help:"Dump: raw, Intel HEX or S-records." placeholder:"FILE"`
	JSON bool   `name:"json" help:"Answer as JSON."`
}

func (c *identifyCmd) Run(d *desk) error { return romRun(d, c.File, "", c.JSON) }

func romRun(d *desk, good, bad string, json bool) error {
	v, err := app.Rom(d.files, good, bad)
	switch {
	case err != nil:
		return err
	case json:
		return d.json(v)
	}
	return d.text(romText(v))
}

func romText(v app.RomView) string {
	p := &page{}
	rows := [][]string{}
	dumps := []app.RomDump{v.Good}
	if v.Bad != nil {
		dumps = append(dumps, *v.Bad)
	}
	for _, r := range dumps {
		from := ""
		if r.Start != "" {
			from = "from " + r.Start
		}
		rows = append(rows, []string{r.File, r.Format, fmt.Sprintf("%d bytes", r.Size), "sum " + r.Sum, "CRC-32 " + r.CRC, from})
	}
	p.table("  ", rows)
	for _, f := range v.Facts {
		p.para("  ", f)
	}
	if len(v.First) > 0 {
		p.gap()
		rows = [][]string{{"address", "good", "bad"}}
		for _, b := range v.First {
			rows = append(rows, []string{b.Address, b.Good, b.Bad})
		}
		p.table("  ", rows)
		if v.Different > len(v.First) {
			p.line("  and %d more", v.Different-len(v.First))
		}
		p.gap()
		rows = [][]string{{"", "D7", "D6", "D5", "D4", "D3", "D2", "D1", "D0"}, {"rose"}, {"fell"}}
		for b := 7; b >= 0; b-- {
			rows[1], rows[2] = append(rows[1], fmt.Sprint(v.Rose[b])), append(rows[2], fmt.Sprint(v.Fell[b]))
		}
		p.table("  ", rows, 1, 2, 3, 4, 5, 6, 7, 8)
	}
	if len(v.Causes) > 0 {
		p.gap()
	}
	for i, c := range v.Causes {
		fits := fmt.Sprintf("fits %.2f %%", c.Share*100)
		if c.Exact {
			fits = "fits every byte"
		}
		p.para(fmt.Sprintf("%2d.  ", i+1), c.Text+" ("+fits+")")
	}
	if v.Bad != nil && v.Different > 0 && len(v.Causes) == 0 {
		p.gap()
		p.line("No stuck, shorted or swapped line makes the one of the other: other content, or bad cells.")
	}
	return p.String()
}
