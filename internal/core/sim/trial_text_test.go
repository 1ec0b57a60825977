package sim_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"halfsplit/internal/core/board"
)

// Trials as text: what a failing test prints can be put into testdata/kept as it stands, and is compared from then on.
//
//	inputs N1 N2
//	U1 74LS00 value=100 rests=closed 1(1A)=N1 3(1Y)=N3    the pins not listed are open, supplies are on their rails
//	go N1=0 +U4                                           action; settings, switches pressed, released and (@S1.2=closed) put somewhere
//	go: N1=~                                              its next moment
//	lifted joint-open U1.3; joint-open U2.1
//	lane 5 link-short U2 #1; bridge N1 N2
//	lane 9
//	cut 1                                                 stop after so many actions and go on with another engine

func (tr *trial) text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "inputs %s\n", strings.Join(tr.inputs, " "))
	for _, p := range tr.parts {
		fmt.Fprintf(&b, "%s %s", p.Ref, p.Type)
		if p.HasValue {
			fmt.Fprintf(&b, " value=%g", p.Value)
		}
		if p.Closed {
			b.WriteString(" rests=closed")
		}
		for _, x := range p.Rests {
			fmt.Fprintf(&b, " rests=%s:%s", x.Section, x.To)
		}
		if p.Contents != nil {
			fmt.Fprintf(&b, " contents=%x", p.Contents)
		}
		m, _ := library().Find(p.Type)
		for _, w := range p.Pins {
			node := m.Type.Nodes[m.Type.Pins[m.Type.PinByName(w.Pin)[0]-1].Node]
			if w.Net != "-" && !node.Supply {
				fmt.Fprintf(&b, " %s(%s)=%s", w.Pin, node.Name, w.Net)
			}
		}
		b.WriteString("\n")
	}
	for _, steps := range tr.actions {
		for i, s := range steps {
			b.WriteString([]string{"go", "go:"}[min(i, 1)] + stepText(s) + "\n")
		}
	}
	fmt.Fprintf(&b, "lifted %s\n", faultsText(tr.bench))
	for lane, faults := range tr.lanes {
		fmt.Fprintf(&b, "lane %d %s\n", lane, faultsText(faults))
	}
	return b.String()
}

func stepText(s board.Step) string {
	out := ""
	for _, x := range s.Sets {
		v := strconv.FormatUint(x.Value.Number, 10)
		if x.Value.Letter != 0 {
			v = string(x.Value.Letter)
		}
		out += " " + x.Net + "=" + v
	}
	if s.Pulse.Text != "" {
		out += " " + s.Pulse.Text + "=~"
	}
	for _, x := range s.Press {
		out += " +" + x.Text
	}
	for _, x := range s.Release {
		out += " -" + x.Text
	}
	for _, x := range s.Moves {
		out += " @" + x.Switch + "=" + x.To
	}
	return out
}

func faultsText(faults []fault) string {
	var out []string
	for _, f := range faults {
		out = append(out, f.String())
	}
	return strings.Join(out, "; ")
}

// parseTrial reads what text prints. Lanes that are not listed have no faults.
func parseTrial(text string) (tr *trial, cut int, err error) {
	tr = &trial{lanes: make([][]fault, 64)}
	for line := range strings.Lines(text) {
		f := strings.Fields(line)
		if len(f) == 0 || f[0] == "#" {
			continue
		}
		switch f[0] {
		case "inputs":
			tr.inputs = f[1:]
		case "go":
			tr.actions = append(tr.actions, []board.Step{parseStep(f[1:])})
		case "go:":
			last := &tr.actions[len(tr.actions)-1]
			*last = append(*last, parseStep(f[1:]))
		case "lifted":
			tr.bench, err = parseFaults(strings.TrimPrefix(strings.TrimSpace(line), "lifted"))
		case "lane":
			var lane int
			if lane, err = strconv.Atoi(f[1]); err == nil {
				_, rest, _ := strings.Cut(line, f[1])
				tr.lanes[lane], err = parseFaults(rest)
			}
		case "cut":
			cut, err = strconv.Atoi(f[1])
		default:
			var p board.Part
			p, err = parsePart(f)
			tr.parts = append(tr.parts, p)
		}
		if err != nil {
			return nil, 0, fmt.Errorf("%s: %w", strings.TrimSpace(line), err)
		}
	}
	return tr, cut, nil
}

func parsePart(f []string) (board.Part, error) {
	p := board.Part{Ref: f[0], Type: f[1]}
	m, err := library().Find(p.Type)
	if err != nil {
		return p, err
	}
	wired := map[string]string{}
	for _, w := range f[2:] {
		k, v, _ := strings.Cut(w, "=")
		switch k {
		case "value":
			p.HasValue = true
			p.Value, err = strconv.ParseFloat(v, 64)
		case "rests":
			if sec, to, ok := strings.Cut(v, ":"); ok {
				p.Rests = append(p.Rests, board.Rest{Section: sec, To: to})
			} else {
				p.Closed = true
			}
		case "contents":
			_, err = fmt.Sscanf(v, "%x", &p.Contents)
		default:
			number, _, _ := strings.Cut(k, "(")
			wired[number] = v
		}
		if err != nil {
			return p, err
		}
	}
	for _, node := range m.Type.Nodes {
		number := strconv.Itoa(node.Pins[0])
		net := wired[number]
		if node.Supply {
			net = railFor(node)
		} else if net == "" {
			net = "-"
		}
		p.Pins = append(p.Pins, board.Pin{Pin: number, Net: net})
	}
	return p, nil
}

func parseStep(words []string) board.Step {
	var s board.Step
	for _, w := range words {
		net, v, _ := strings.Cut(w, "=")
		switch {
		case w[0] == '+':
			s.Press = append(s.Press, board.Name{Text: w[1:]})
		case w[0] == '-':
			s.Release = append(s.Release, board.Name{Text: w[1:]})
		case w[0] == '@':
			s.Moves = append(s.Moves, board.Move{Switch: net[1:], To: v})
		case v == "~":
			s.Pulse = board.Name{Text: net}
		case v == "x" || v == "z":
			s.Sets = append(s.Sets, board.Set{Net: net, Value: board.Value{Letter: v[0]}})
		default:
			s.Sets = append(s.Sets, board.Set{Net: net, Value: board.Value{Number: uint64(v[0] - '0')}})
		}
	}
	return s
}

func parseFaults(text string) ([]fault, error) {
	var out []fault
	for one := range strings.SplitSeq(text, ";") {
		w := strings.Fields(one)
		if len(w) == 0 {
			continue
		}
		f := fault{kind: kindOf(w[0]), at: w[1]}
		if f.kind < 0 {
			return nil, fmt.Errorf("no fault %s", w[0])
		}
		if len(w) > 2 {
			if number, ok := strings.CutPrefix(w[2], "#"); ok {
				f.number, _ = strconv.Atoi(number)
			} else {
				f.other = w[2]
			}
		}
		out = append(out, f)
	}
	return out, nil
}

// TestKeptTrials compares the trials on which the two simulators once disagreed.
func TestKeptTrials(t *testing.T) {
	files, err := filepath.Glob("testdata/kept/*.txt")
	if err != nil || len(files) < 20 {
		t.Fatalf("only %d kept trials (%v)", len(files), err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".txt"), func(t *testing.T) {
			text, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			tr, cut, err := parseTrial(string(text))
			if err != nil {
				t.Fatal(err)
			}
			c := tr.build()
			if c == nil {
				t.Fatal("the board is refused")
			}
			if lane, how := tr.compareInTime(t, c, cut); how != "" {
				t.Errorf("lane %d: %s\n%s", lane, how, text)
			}
		})
	}
}

func TestTrialsReadBackAsPrinted(t *testing.T) {
	for seed := range uint64(20) {
		tr := trialOf(seed, 10)
		again, _, err := parseTrial(tr.text())
		if err != nil || again.text() != tr.text() {
			t.Errorf("seed %d: %v\n%s", seed, err, tr.text())
		}
	}
}
