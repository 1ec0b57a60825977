package oracle

// The sequences and function tables of parts that store, run through Icarus Verilog on a board of one part.

import (
	"fmt"
	"math/rand"
	"testing"
)

// TestSequences applies the rows of every sequence in order, with don't-care inputs low, high and mixed.
func TestSequences(t *testing.T) {
	l := load(t)
	var jobs []Job
	var want []expectation
	rows := 0
	for _, rec := range l.Records {
		m := l.models[rec.Names[0]]
		for _, s := range rec.Sections {
			for _, unit := range s.Units {
				for _, q := range s.Sequences {
					pins, ok := columns(q.In, unit)
					if !ok {
						t.Fatalf("%s: a sequence names something that is no pin", rec.Names[0])
					}
					rows += len(q.Rows)
					for v := 0; v < variants; v++ {
						b := Single(m, rec.Names[0], familyOf(rec.Names[0]))
						for r, row := range q.Rows {
							want = append(want, sequenceStep(m, b, unit, q, row, pins, v+r*(v&2), v, len(jobs))...)
						}
						jobs = append(jobs, Job{Board: b})
					}
				}
			}
		}
	}
	traces := run(t, l, jobs)
	check(t, traces, want)
	holdCore(t, jobs, traces)
	if rows != wantSequenceRows {
		t.Errorf("%d rows of sequences, not %d", rows, wantSequenceRows)
	}
	t.Logf("%d rows, %d checks", rows, len(want))
}

const wantSequenceRows = 684

func sequenceStep(m *Model, b *Board, unit map[string]int, q *Sequence, row Row, pins []int, seed, v, job int) []expectation {
	levels := map[int]byte{}
	edge := -1
	for i, pin := range pins {
		switch row.In[i] {
		case '↑':
			levels[pin], edge = '0', pin
		case '↓':
			levels[pin], edge = '1', pin
		default:
			levels[pin] = fillIn(row.In[i], min(v, seed), i)
		}
	}
	b.Steps = append(b.Steps, idle(m, levels))
	if edge >= 0 {
		b.Steps = append(b.Steps, map[string]byte{PinNet(edge): '0' + '1' - levels[edge]})
	}
	var want []expectation
	for o, name := range q.Out {
		if level, ok := map[rune]byte{'H': '1', 'L': '0', 'Z': 'Z'}[row.Out[o]]; ok {
			why := fmt.Sprintf("%s line %d variant %d", m.Record.Names[0], row.Line, v)
			want = append(want, expectation{job, len(b.Steps) - 1, PinNet(unit[name]), level, why})
		}
	}
	return want
}

// flopWalk drives one bit of a part through its function table. It keeps what the table says the bit must be.
type flopWalk struct {
	f      *Function
	clock  int
	edge   rune
	inputs []byte // last level by column
	bit    byte   // '0', '1', or 'X' before the first definite row
	store  map[string]bool
}

// apply gives the row that the change to the new levels falls under, or nil for no change, and updates the bit.
func (w *flopWalk) apply(next []byte) *Row {
	var hit *Row
	for r := range w.f.Rows {
		if w.fits(&w.f.Rows[r], next) {
			hit = &w.f.Rows[r]
			break
		}
	}
	w.inputs = next
	if hit == nil || hit.Out[0] == 'Z' {
		return hit
	}
	both := len(hit.Out) == 2 && hit.Out[0] == hit.Out[1]
	switch {
	case both || hit.Out[0] == 'L':
		w.bit = '0'
	case hit.Out[0] == 'H':
		w.bit = '1'
	case hit.Out[0] == 'N' && w.bit != 'X':
		w.bit = '0' + '1' - w.bit
	}
	return hit
}

// fits matches a row: the clock's change, data as it was before an edge, the rest as it is now.
func (w *flopWalk) fits(row *Row, next []byte) bool {
	edge := w.clock >= 0 && w.inputs[w.clock] != next[w.clock] && (next[w.clock] == '1') == (w.edge == '↑')
	if edge && (row.In[w.clock] == 'H' || row.In[w.clock] == 'L') {
		return false
	}
	for i, c := range row.In {
		level := next[i]
		if edge && i != w.clock && !w.f.Async[i] && (len(w.f.Store) == 0 || w.store[w.f.In[i]]) {
			level = w.inputs[i]
		}
		switch c {
		case '↑':
			if w.inputs[i] != '0' || next[i] != '1' {
				return false
			}
		case '↓':
			if w.inputs[i] != '1' || next[i] != '0' {
				return false
			}
		case 'H':
			if level != '1' {
				return false
			}
		case 'L':
			if level != '0' {
				return false
			}
		}
	}
	return true
}

// TestFunctionTables visits every row of every function table many times in random order.
func TestFunctionTables(t *testing.T) {
	l := load(t)
	random := rand.New(rand.NewSource(1))
	var jobs []Job
	var want []expectation
	rows := 0
	for _, rec := range l.Records {
		m := l.models[rec.Names[0]]
		for _, s := range rec.Sections {
			for _, unit := range s.Units {
				for _, f := range s.Functions {
					b := Single(m, rec.Names[0], familyOf(rec.Names[0]))
					seen, checks := walk(t, m, b, unit, f, random, len(jobs))
					if seen != len(f.Rows) {
						t.Errorf("%s: %d of %d rows visited", rec.Names[0], seen, len(f.Rows))
					}
					rows += seen
					want = append(want, checks...)
					jobs = append(jobs, Job{Board: b})
				}
			}
		}
	}
	traces := run(t, l, jobs)
	check(t, traces, want)
	holdCore(t, jobs, traces)
	if rows != wantFunctionRows {
		t.Errorf("%d rows of function tables, not %d", rows, wantFunctionRows)
	}
	t.Logf("%d rows, %d checks", rows, len(want))
}

const wantFunctionRows = 352

func walk(t *testing.T, m *Model, b *Board, unit map[string]int, f *Function, random *rand.Rand, job int) (int, []expectation) {
	t.Helper()
	w := &flopWalk{f: f, bit: 'X', inputs: make([]byte, len(f.In))}
	w.clock, w.edge = activeEdge(f)
	pins, ok := columns(f.In, unit)
	if !ok {
		t.Fatalf("%s: a function table names something that is no pin", m.Record.Names[0])
	}
	w.store = map[string]bool{}
	for _, name := range f.Store {
		w.store[name] = true
	}
	visited := map[int]bool{}
	var want []expectation
	move := func(next []byte, why string) {
		row := w.apply(next)
		if row != nil {
			visited[row.Line] = true
		}
		levels := map[int]byte{}
		for i, pin := range pins {
			levels[pin] = next[i]
		}
		b.Steps = append(b.Steps, idle(m, levels))
		if row == nil {
			return
		}
		for o, name := range f.Out {
			level := map[rune]byte{'H': '1', 'L': '0', 'Z': 'Z'}[row.Out[o]]
			if row.Out[o] == 'Q' || row.Out[o] == 'N' {
				level = w.bit
				if o == 1 && w.bit != 'X' {
					level = '0' + '1' - w.bit
				}
			}
			want = append(want, expectation{job, len(b.Steps) - 1, PinNet(unit[name]), level, why})
		}
	}
	first := make([]byte, len(f.In))
	for i := range first {
		first[i] = '0'
	}
	w.inputs = first
	move(first, "start")
	for visit := 0; visit < 12*len(f.Rows); visit++ {
		row := &f.Rows[random.Intn(len(f.Rows))]
		next := make([]byte, len(f.In))
		for i, c := range row.In {
			switch c {
			case 'H', '↓':
				next[i] = '1'
			case 'L', '↑':
				next[i] = '0'
			default:
				next[i] = '0' + byte(random.Intn(2))
			}
			// A row that prints Z says nothing about the bit: leave what the bit depends on alone.
			if row.Out[0] == 'Z' && w.store[f.In[i]] {
				next[i] = w.inputs[i]
			}
		}
		why := fmt.Sprintf("%s line %d visit %d", m.Record.Names[0], row.Line, visit)
		move(next, why)
		for i, c := range row.In {
			if c == '↑' || c == '↓' {
				after := append([]byte(nil), next...)
				after[i] = '0' + '1' - next[i]
				move(after, why)
			}
		}
	}
	return len(visited), want
}
