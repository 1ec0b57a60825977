package cli

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/app"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/ring"
)

type ringCmd struct {
	Board   string   `arg:"" help:"Board file: its parts, and the nets that are known." placeholder:"BOARD"`
	Answer  []string `help:"What was heard: U1.3=U2.5 joined, U1.3!U2.5 not joined, U1.3! joined to nothing." placeholder:"ANSWER" sep:"none"`
	Answers string   `help:"File that keeps the answers, one a line; left out: beside the board." placeholder:"FILE"`
	Next    int      `help:"How many ringings to propose." default:"5" placeholder:"N"`
	Ask     bool     `help:"Ask one after the other, and read y, n or q."`
	Write   bool     `help:"Write the nets into the board file; comments in it are kept."`
	Parts   []string `help:"Further file of part descriptions." placeholder:"FILE" sep:"none"`
	JSON    bool     `name:"json" help:"Answer as JSON."`
}

// Help is printed below the options.
func (c *ringCmd) Help() string {
	return "Finds the nets of a board without a schematic by continuity, power off. Proposed first is what tells most per minute: supply pins, then buses, then enables, then the rest. What follows from the answers is never asked."
}

// Validate refuses answers that could fit no board.
func (c *ringCmd) Validate() error {
	for _, text := range c.Answer {
		if a, problem := ring.ParseAnswer(text); problem != "" || len(a.Ends) == 0 {
			return fmt.Errorf("--answer %q: write U1.3=U2.5 for joined, U1.3!U2.5 for not joined, U1.3! for joined to nothing", text)
		}
	}
	if c.Next < 1 || c.Next > 1000 {
		return fmt.Errorf("--next %d: propose 1 to 1000", c.Next)
	}
	if c.Ask && c.JSON {
		return errors.New("--ask talks to a person; leave --json out")
	}
	return nil
}

// mostAnswers is the largest answers file that is read, in bytes.
const mostAnswers = 16 << 20

func (c *ringCmd) Run(d *desk) error {
	if c.Answers == "" {
		c.Answers = strings.TrimSuffix(c.Board, filepath.Ext(c.Board)) + ".rung.txt"
	}
	r, fl := app.OpenRinging(d.files, c.Board, c.Parts)
	if err := d.findings(fl, warningsBefore(c.JSON)); err != nil {
		return err
	}
	wrong, err := c.earlier(r)
	if err != nil {
		return err
	}
	for _, text := range c.Answer {
		a, _ := ring.ParseAnswer(text)
		fl := r.Take([]ring.Answer{a})
		wrong = append(wrong, fl...)
		if fl == nil {
			if err := c.keep(a); err != nil {
				return err
			}
		}
	}
	if c.Ask {
		if err := c.ask(d, r); err != nil {
			return err
		}
	}
	if c.Write {
		if err := c.write(r); err != nil {
			return err
		}
	}
	v := r.View(c.Next)
	if c.JSON {
		return errors.Join(d.json(v), d.findings(wrong, 0))
	}
	return errors.Join(d.text(ringText(v)), d.findings(wrong, -1))
}

// write puts the nets into the board file.
func (c *ringCmd) write(r *app.Ringing) error {
	text, err := os.ReadFile(c.Board)
	if err != nil {
		return err
	}
	b, _ := yamlfile.ReadBoard(c.Board)
	files := map[string][]byte{}
	for _, p := range b.Parts {
		if p.ContentsFile == "" {
			continue
		}
		if files[path.Base(p.ContentsFile)], err = os.ReadFile(filepath.Join(filepath.Dir(c.Board), filepath.FromSlash(p.ContentsFile))); err != nil {
			return err
		}
	}
	wired, err := r.WiredText(yamlfile.Texts{}, string(text), files)
	if err != nil {
		return fmt.Errorf("%s: %w", c.Board, err)
	}
	return os.WriteFile(c.Board, []byte(wired), 0o666)
}

// earlier takes the answers that the file keeps.
func (c *ringCmd) earlier(r *app.Ringing) (finding.List, error) {
	data, err := readUpTo(c.Answers, mostAnswers+1)
	if _, missing := os.Stat(c.Answers); errors.Is(missing, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", c.Answers, err)
	}
	if len(data) > mostAnswers {
		return nil, fmt.Errorf("%s: more than %d MiB", c.Answers, mostAnswers>>20)
	}
	answers, fl := ring.ParseAnswers(c.Answers, string(data))
	return append(fl, r.Take(answers)...), nil
}

// keep adds an answer to the file, at once: what was rung is never lost.
func (c *ringCmd) keep(a ring.Answer) error {
	f, err := os.OpenFile(c.Answers, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o666)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintln(f, a)
	return errors.Join(err, f.Close())
}

// ask goes on until nothing is left, or the person stops.
func (c *ringCmd) ask(d *desk, r *app.Ringing) error {
	in := bufio.NewScanner(io.LimitReader(d.in, mostAnswers))
	for d.ctx.Err() == nil {
		v := r.View(1)
		if len(v.Next) == 0 {
			return nil
		}
		g := v.Next[0]
		if err := d.text(fmt.Sprintf("%s  -  %s   (%s)  y/n/q ", g.TextA, g.TextB, g.Why)); err != nil {
			return err
		}
		if !in.Scan() {
			return errors.Join(d.text("\n"), in.Err())
		}
		word := strings.ToLower(strings.TrimSpace(in.Text()))
		switch word {
		case "y", "yes", "n", "no":
			a := ring.Answer{Ends: []string{g.A, g.B}, Not: strings.HasPrefix(word, "n")}
			if err := c.keep(a); err != nil {
				return err
			}
			if err := d.findings(r.Take([]ring.Answer{a}), -1); err != nil {
				return err
			}
		case "q", "quit":
			return nil
		default:
			if err := d.text("y: it beeps; n: it does not; q: stop here\n"); err != nil {
				return err
			}
		}
	}
	return d.ctx.Err()
}

func ringText(v app.RingView) string {
	p := &page{}
	p.line("%s: %s, %s alone so far", v.Board, plural(v.Nets, "net", "nets"), plural(v.Single, "pin", "pins"))
	if len(v.Next) == 0 {
		p.line("nothing is left to ring out")
		return p.String()
	}
	p.gap()
	p.line("ring out next, power off (stage: %s)", v.Stage)
	rows := [][]string{}
	for _, g := range v.Next {
		rows = append(rows, []string{g.TextA, g.TextB, fmt.Sprintf("%.0f %%", 100*g.Probability), fmt.Sprintf("%.2f bits/min", g.Bits/g.Minutes), g.Why})
	}
	p.table("  ", rows, 2, 3)
	p.gap()
	p.line("answer with  --answer '%s'  or  --answer '%s'", strings.ReplaceAll(v.Next[0].Yes, " ", ""), strings.ReplaceAll(v.Next[0].No, " ", ""))
	return p.String()
}
