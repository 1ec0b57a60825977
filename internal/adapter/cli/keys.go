package cli

import (
	"fmt"
	"strings"

	"halfsplit/internal/app"
	"halfsplit/internal/core/matrix"
)

type keysCmd struct {
	Board    string   `arg:"" optional:"" help:"Board file whose switches form the matrix." placeholder:"BOARD"`
	Rows     int      `help:"Without a board: number of rows." placeholder:"N"`
	Columns  int      `help:"Without a board: number of columns." placeholder:"N"`
	First    int      `help:"Number of the first key." default:"1"`
	Down     bool     `help:"Keys are numbered down the columns instead of along the rows."`
	NoDiodes bool     `help:"There is no diode at each key."`
	Dead     []string `help:"Keys that do nothing: 3,7,11." placeholder:"KEY,…"`
	Repeats  []string `help:"Keys that come more than once." placeholder:"KEY,…"`
	Stuck    []string `help:"Keys that read pressed at rest." placeholder:"KEY,…"`
	Untested []string `help:"Keys not tried yet; all others work." placeholder:"KEY,…"`
	Tried    []string `help:"Keys held and what came of it: 5=5,6 or 1+2+9=1,2,9,10 (nothing after = for nothing)." placeholder:"KEYS=KEYS" sep:"none"`
	Held     []string `help:"Tell which ghosts these keys bring on a good matrix." placeholder:"KEY,…"`
	Parts    []string `help:"Further file of part descriptions." placeholder:"FILE" sep:"none"`
	JSON     bool     `name:"json" help:"Answer as JSON."`
}

// Validate refuses what no board could make right.
func (c *keysCmd) Validate() error {
	switch {
	case c.Board == "" && (c.Rows == 0 || c.Columns == 0):
		return fmt.Errorf("give a board file, or --rows and --columns")
	case c.Board != "" && (c.Rows != 0 || c.Columns != 0):
		return fmt.Errorf("the board has its own rows and columns")
	}
	for _, t := range c.Tried {
		if keys, _, ok := strings.Cut(t, "="); !ok || keys == "" {
			return fmt.Errorf("--tried %s: write the keys held, =, and the keys that were read: 1+2=1,2", t)
		}
	}
	return nil
}

func (c *keysCmd) Run(d *desk) error {
	l, notes, err := c.layout(d)
	if err != nil {
		return err
	}
	req := app.KeysRequest{Dead: c.Dead, Repeats: c.Repeats, Stuck: c.Stuck, Untested: c.Untested, Held: c.Held}
	for _, t := range c.Tried {
		held, read, _ := strings.Cut(t, "=")
		req.Trials = append(req.Trials, app.KeyTrial{Pressed: words(held, "+"), Read: words(read, ",")})
	}
	v, err := app.Keys(l, req, notes)
	switch {
	case err != nil:
		return err
	case c.JSON:
		return d.json(v)
	}
	return d.text(keysText(v))
}

func (c *keysCmd) layout(d *desk) (matrix.Layout, []string, error) {
	if c.Board == "" {
		l, err := matrix.Grid(c.Rows, c.Columns, c.First, c.Down, !c.NoDiodes)
		return l, nil, err
	}
	b, fl := app.LoadBoard(d.files, c.Board, c.Parts)
	if err := d.findings(fl, 0); err != nil {
		return matrix.Layout{}, nil, err
	}
	return app.KeysOf(b)
}

// words splits at a sign and leaves out what is empty.
func words(s, sign string) []string {
	out := []string{}
	for _, w := range strings.Split(s, sign) {
		if w = strings.TrimSpace(w); w != "" {
			out = append(out, w)
		}
	}
	return out
}

func keysText(v app.KeysView) string {
	p := &page{}
	rows := [][]string{append([]string{""}, v.Columns...)}
	for i, r := range v.Grid {
		line := []string{v.Rows[i]}
		for _, k := range r {
			if k == "" {
				k = "·"
			}
			line = append(line, k)
		}
		rows = append(rows, line)
	}
	if len(v.Columns) <= 12 {
		p.table("  ", rows)
	} else {
		p.line("  %d rows, %d columns", len(v.Rows), len(v.Columns))
	}
	for _, n := range v.Notes {
		p.para("  note: ", n)
	}
	p.gap()
	if v.Healthy {
		p.line("Every trial is what a good matrix reads.")
	}
	for i, s := range v.Suspects {
		for k, f := range s.Faults {
			lead := "             "
			if k == 0 {
				lead = fmt.Sprintf("%2d.  %5s    ", i+1, percent(s.Probability))
			}
			p.para(lead, f.Text)
			for _, o := range f.Or {
				p.para("               or ", o)
			}
		}
	}
	if v.Cut {
		p.line("The search stopped at its limit: there may be likelier sets.")
	}
	if !v.Healthy && len(v.Suspects) == 0 {
		p.line("Nothing considered explains this: check the lists.")
	}
	for _, w := range v.Wrong {
		p.para("  not explained: ", fmt.Sprintf("%s read %s", orNothing(w.Pressed, "+"), orNothing(w.Read, ", ")))
	}
	if len(v.Next) > 0 {
		p.gap()
		p.line("Press next")
		for _, n := range v.Next {
			var out []string
			for _, o := range n.Outcomes {
				if len(out) < 4 {
					out = append(out, fmt.Sprintf("%s %s", o.Is, percent(o.Probability)))
				}
			}
			p.para(fmt.Sprintf("  %-12s %.2f bits  ", strings.Join(n.Press, "+"), n.Bits), strings.Join(out, "; "))
		}
	}
	if len(v.Meter) > 0 {
		p.gap()
		for _, m := range v.Meter {
			p.para("  check: ", m)
		}
	}
	ghosts(p, v)
	return p.String()
}

func ghosts(p *page, v app.KeysView) {
	if v.Ghosts == nil {
		return
	}
	p.gap()
	p.para("Held keys bring: ", orNothing(v.Ghosts, ", "))
	for _, g := range v.Avoid {
		p.para("  with "+g.Key+" too: ", strings.Join(g.Appears, ", "))
	}
}

func orNothing(words []string, sign string) string {
	if len(words) == 0 {
		return "nothing"
	}
	return strings.Join(words, sign)
}
