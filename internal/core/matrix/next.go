package matrix

// The next keys to try, and what a meter says where keys cannot.

import (
	"math"
	"slices"
	"strings"
)

// Try is a combination of keys worth pressing: how many bits it is expected to tell, and what it could read.
type Try struct {
	Keys     []string
	Bits     float64
	Outcomes []Outcome
}

// Outcome is one reading and its probability.
type Outcome struct {
	Read        []string // keys that appear; none for nothing
	Repeats     bool
	Probability float64
}

const (
	mostHypotheses = 200
	mostTries      = 3000
)

// hypothesis is one concrete set of faults.
type hypothesis struct {
	faults []Fault
	p      float64
}

// expand writes out the look-alike classes of the suspects, sharing each suspect's probability by prior.
func expand(l Layout, d Diagnosis) []hypothesis {
	var out []hypothesis
	for _, s := range d.Suspects {
		hs := []hypothesis{{nil, s.Probability}}
		for _, class := range s.Faults {
			sum := 0.0
			for _, f := range class {
				sum += f.prior(l)
			}
			var next []hypothesis
			for _, h := range hs {
				for _, f := range class {
					if len(next) < mostHypotheses {
						next = append(next, hypothesis{append(slices.Clone(h.faults), f), h.p * f.prior(l) / sum})
					}
				}
			}
			hs = next
		}
		out = append(out, hs...)
		if len(out) >= mostHypotheses {
			break
		}
	}
	return out
}

// Next ranks what to press next: single keys not tried yet, and pairs and rectangles of three that touch a suspected line. Best first, at most most of
// them, and none that would tell less than a hundredth of a bit.
func Next(l Layout, trials []Trial, d Diagnosis, most int) []Try {
	hs := expand(l, d)
	if len(hs) < 2 {
		return nil
	}
	tried := map[string]bool{}
	for _, t := range trials {
		tried[keysText(l, t.Pressed)] = true
	}
	var out []Try
	for _, keys := range candidates(l, hs) {
		if tried[keysText(l, keys)] {
			continue
		}
		if t := expected(l, hs, keys); t.Bits >= 0.01 {
			out = append(out, t)
		}
	}
	// a combination costs more than one key: each further key is more than half as much work again (an estimate)
	slices.SortStableFunc(out, func(a, b Try) int {
		x, y := a.Bits/(1+0.6*float64(len(a.Keys)-1)), b.Bits/(1+0.6*float64(len(b.Keys)-1))
		switch {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	return out[:min(most, len(out))]
}

func keysText(l Layout, keys []int) string {
	var names []string
	for _, k := range slices.Sorted(slices.Values(keys)) {
		names = append(names, l.Keys[k].Name)
	}
	return strings.Join(names, "+")
}

// candidates lists single keys, and pairs and rectangle corners about the keys and lines that the hypotheses name.
func candidates(l Layout, hs []hypothesis) [][]int {
	rows, columns, keys := map[int]bool{}, map[int]bool{}, map[int]bool{}
	for _, h := range hs {
		for _, f := range h.faults {
			switch f.Kind {
			case ContactOpen, ContactNoisy, ContactClosed, DiodeOpen, DiodeShort:
				rows[l.Keys[f.A].Row], columns[l.Keys[f.A].Column], keys[f.A] = true, true, true
			case RowOpen, RowNoisy, RowBreak, RowHeld:
				rows[f.A] = true
			case ColumnOpen, ColumnNoisy, ColumnBreak, ColumnHeld:
				columns[f.A] = true
			case RowsShort:
				rows[f.A], rows[f.B] = true, true
			case ColumnsShort:
				columns[f.A], columns[f.B] = true, true
			case CrossShort:
				rows[f.A], columns[f.B] = true, true
			}
		}
	}
	var out [][]int
	for k := range l.Keys {
		out = append(out, []int{k})
	}
	at := map[[2]int]int{}
	for i, k := range l.Keys {
		at[[2]int{k.Row, k.Column}] = i
	}
	for a, ka := range l.Keys {
		if !rows[ka.Row] && !columns[ka.Column] {
			continue
		}
		for b, kb := range l.Keys {
			if b == a || len(out) > mostTries {
				continue
			}
			if a < b && (ka.Row == kb.Row || ka.Column == kb.Column) {
				out = append(out, []int{a, b})
			}
			if c, ok := at[[2]int{ka.Row, kb.Column}]; ok && ka.Row != kb.Row && ka.Column != kb.Column && (keys[a] || keys[b] || keys[c]) {
				out = append(out, slices.Sorted(slices.Values([]int{a, b, c}))) // three corners
			}
		}
	}
	return out
}

func expected(l Layout, hs []hypothesis, keys []int) Try {
	t := Try{}
	for _, k := range keys {
		t.Keys = append(t.Keys, l.Keys[k].Name)
	}
	share := map[string]int{}
	total := 0.0
	for _, h := range hs {
		s := l.observe(h.faults, keys)
		read := l.names(s.read)
		bounce := slices.ContainsFunc(s.noisy, func(w uint64) bool { return w != 0 })
		id := strings.Join(read, " ")
		if bounce {
			id += " ~"
		}
		i, ok := share[id]
		if !ok {
			i = len(t.Outcomes)
			share[id] = i
			t.Outcomes = append(t.Outcomes, Outcome{Read: read, Repeats: bounce})
		}
		t.Outcomes[i].Probability += h.p
		total += h.p
	}
	for i := range t.Outcomes {
		p := t.Outcomes[i].Probability / total
		t.Outcomes[i].Probability = p
		if p > 0 {
			t.Bits -= p * math.Log2(p)
		}
	}
	slices.SortStableFunc(t.Outcomes, func(a, b Outcome) int {
		switch {
		case a.Probability > b.Probability:
			return -1
		case a.Probability < b.Probability:
			return 1
		}
		return strings.Compare(strings.Join(a.Read, " "), strings.Join(b.Read, " "))
	})
	return t
}

// Meter says what separates look-alikes of a class with a meter or a wire, where no key does: one sentence for each pair of kinds that occurs.
func Meter(l Layout, s Suspect) []string {
	var out []string
	add := func(t string) {
		if !slices.Contains(out, t) {
			out = append(out, t)
		}
	}
	for _, class := range s.Faults {
		f := class[0]
		switch f.Kind {
		case ContactOpen, ContactNoisy, DiodeOpen:
			key := l.Keys[f.A].Name
			if l.Keys[f.A].Diode {
				add("bridge the contact of key " + key + " at its pads: if the key then comes, the contact is at fault; if not, test its diode in both directions, power off")
			} else {
				add("power off, ohms across the contact of key " + key + " while it is held: clean it when that is above a few hundred ohms")
			}
		case ContactClosed, CrossShort:
			add("power off, ohms across the closed crossing: lift one leg of the key to tell a stuck contact from a short between the lines")
		case RowOpen, RowBreak, RowNoisy:
			add("continuity of " + l.Rows[f.A] + " from its input pin to each of its keys in turn: it ends at the break")
		case ColumnOpen, ColumnBreak, ColumnNoisy:
			add("continuity of " + l.Columns[f.A] + " from its driver pin to each of its keys in turn; and look for scan pulses at the driver")
		case RowsShort, ColumnsShort:
			add("power off, ohms between the two lines: a whisker, spilt drink or a bridge at the connector; the lowest reading is nearest to it")
		case RowHeld, ColumnHeld:
			add("level of the held line with the keyboard unplugged: if it stays, its driver or input is at fault; if it recovers, a short on the keyboard")
		case RowAddress, ColumnAddress:
			add("scope on the address inputs of the selector: one of them does not move, or two move as one")
		case ChipDead:
			add("supply and enable at " + l.Chips[f.A].Name + ", then its outputs")
		case MatrixDead:
			add("the keyboard connector, then supply, enable and clock of the scanner")
		case DiodeShort:
			add("test the diode of key " + l.Keys[f.A].Name + " in both directions, power off")
		}
	}
	return out
}
