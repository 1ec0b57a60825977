package cli

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"strings"

	"halfsplit/internal/app"
)

const practiceHelp = `  see [ACTION]          look at every indicator
  read PLACE [ACTION]   put the scope on a pin or net
  fix PART|PIN|NET      replace a part, resolder a pin, clear a net
  actions               what can be done to the board
  advice                what halfsplit makes of what you have seen so far
  truth                 give up and be told
  quit
`

// practise lets a person find a hidden fault, line by line, until it is found, given up, or the input ends.
func practise(d *desk, p *app.Practice) error {
	wrong, err := p.Wrong(d.ctx)
	if err != nil {
		return err
	}
	fmt.Fprintf(d.out, "%s: something is wrong; it shows after %s. Your turn:\n%s", p.Board, wrong, practiceHelp)
	lines := read(d.ctx, d.in)
	for {
		fmt.Fprint(d.out, "> ")
		select {
		case <-d.ctx.Done():
			return d.ctx.Err()
		case line, open := <-lines:
			if !open {
				fmt.Fprintln(d.out)
				return nil
			}
			done, err := turn(d, p, strings.Fields(line))
			if err != nil {
				if d.ctx.Err() != nil {
					return err
				}
				fmt.Fprintln(d.out, err)
			}
			if done {
				fmt.Fprintf(d.out, "%s, about %s at the bench\n", plural(p.Checks, "check", "checks"), minutes(p.Minutes))
				return nil
			}
		}
	}
}

// read gives the lines of in; the channel is closed at its end.
func read(ctx context.Context, in io.Reader) <-chan string {
	lines := make(chan string)
	go func() {
		defer close(lines)
		for s := bufio.NewScanner(in); s.Scan(); {
			select {
			case lines <- s.Text():
			case <-ctx.Done():
				return
			}
		}
	}()
	return lines
}

// turn does one line of a player. An error is a word that was not understood.
func turn(d *desk, p *app.Practice, words []string) (done bool, err error) {
	if len(words) == 0 {
		return false, nil
	}
	word := func(i int) string {
		if i < len(words) {
			return words[i]
		}
		return ""
	}
	switch verb := words[0]; {
	case verb == "see" && len(words) <= 2:
		seen, err := p.See(d.ctx, word(1))
		if err != nil {
			return false, err
		}
		var out []string
		for _, r := range seen {
			out = append(out, r.At+" "+r.Is)
		}
		fmt.Fprintln(d.out, strings.Join(out, ", "))
	case verb == "read" && (len(words) == 2 || len(words) == 3):
		is, err := p.Read(d.ctx, words[1], word(2))
		if err != nil {
			return false, err
		}
		fmt.Fprintln(d.out, words[1], is)
	case verb == "fix" && len(words) == 2:
		works, err := p.Fix(words[1])
		if err != nil {
			return false, err
		}
		if works {
			fmt.Fprintln(d.out, "Everything works. Well done.")
			return true, nil
		}
		fmt.Fprintln(d.out, "Done, and something is still wrong.")
	case verb == "actions":
		var rows [][]string
		for _, a := range p.Actions() {
			rows = append(rows, a[:])
		}
		pg := &page{}
		pg.table("  ", rows)
		fmt.Fprint(d.out, pg)
	case verb == "advice":
		v, err := p.Advice(d.ctx)
		if err != nil {
			return false, err
		}
		fmt.Fprint(d.out, diagnosisText(v, false, false))
	case verb == "truth":
		fmt.Fprintln(d.out, strings.Join(p.Truth(), "\n"))
		return true, nil
	case verb == "quit":
		return true, nil
	default:
		fmt.Fprint(d.out, practiceHelp)
	}
	return false, nil
}
