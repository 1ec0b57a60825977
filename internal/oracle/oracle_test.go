package oracle

// Every row of every truth table, run through Icarus Verilog on a board of one part.

import (
	"context"
	"fmt"
	"testing"
)

func load(t *testing.T) *Library {
	t.Helper()
	if err := Available(); err != nil {
		t.Fatal(err)
	}
	l, err := Load()
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func run(t *testing.T, l *Library, jobs []Job) []Trace {
	t.Helper()
	traces, err := l.Run(context.Background(), jobs)
	if err != nil {
		t.Fatal(err)
	}
	return traces
}

// familyOf gives a family that the part exists in, for a board of one part.
func familyOf(name string) string {
	switch {
	case name == "74LS51" || name == "74112":
		return "LS"
	case name == "74F51":
		return "F"
	case name == "74HC51":
		return "HC"
	case name == "74HCT51":
		return "HCT"
	case name[:2] == "74":
		return "74"
	case name[0] == '4':
		return "4000"
	}
	return "nmos"
}

// expectation is what one moment of one job must show.
type expectation struct {
	job, moment int
	net         string
	level       byte
	why         string
}

func check(t *testing.T, traces []Trace, want []expectation) {
	t.Helper()
	for _, w := range want {
		if got := at(traces[w.job], w.moment, w.net); got != w.level {
			t.Errorf("%s: %s is %c, not %c", w.why, w.net, got, w.level)
		}
	}
}

// at gives a net's level at the end of a moment, or '?' where the trace has no such net.
func at(tr Trace, moment int, net string) byte {
	for i, name := range tr.Nets {
		if name == net {
			return tr.Moments[moment][i]
		}
	}
	return '?'
}

// idle is what a test drives on a pin that its table does not name: nothing where the part itself may drive.
func idle(m *Model, skip map[int]byte) map[string]byte {
	step := map[string]byte{}
	driven := map[int]bool{}
	for _, pin := range append(m.Driven(), m.Switched()...) {
		driven[pin] = true
	}
	for _, pin := range m.InputPins() {
		step[PinNet(pin)] = '1'
		if driven[pin] {
			step[PinNet(pin)] = 'Z'
		}
		if level, ok := skip[pin]; ok && !(driven[pin] && level == '1') {
			step[PinNet(pin)] = level
		}
	}
	return step
}

// fillIn gives the level for a column: the row's, or for don't-care one by variant 0, 1 or a mixture.
func fillIn(symbol rune, variant, place int) byte {
	switch {
	case symbol == 'H':
		return '1'
	case symbol == 'L':
		return '0'
	case variant < 2:
		return '0' + byte(variant)
	}
	return '0' + byte((variant*7+place*(variant+3)+place*place)>>1&1)
}

const variants = 4

func TestTableRows(t *testing.T) {
	l := load(t)
	var jobs []Job
	var want []expectation
	rows, latched := 0, 0
	for _, rec := range l.Records {
		m := l.models[rec.Names[0]]
		for _, name := range rec.Names {
			b := Single(m, name, familyOf(name))
			for _, s := range rec.Sections {
				for _, unit := range s.Units {
					for _, table := range s.Tables {
						pins, ok := columns(table.In, unit)
						if !ok {
							latched += len(table.Rows)
							continue
						}
						for _, row := range table.Rows {
							rows++
							for v := 0; v < variants; v++ {
								want = append(want, tableStep(m, b, s, unit, table, row, pins, v, len(jobs))...)
							}
						}
					}
				}
			}
			if len(b.Steps) > 0 {
				jobs = append(jobs, Job{Board: b})
			}
		}
	}
	traces := run(t, l, jobs)
	check(t, traces, want)
	holdCore(t, jobs, traces)
	// So many rows are typed, counted for each unit and each part name; a row lost on the way would show here.
	if rows != wantTableRows || latched != wantLatchedRows {
		t.Errorf("%d rows of truth tables (%d behind latches), not %d (%d)", rows, latched, wantTableRows, wantLatchedRows)
	}
	t.Logf("%d rows, %d parts, %d checks", rows, len(jobs), len(want))
}

const (
	wantTableRows   = 1145
	wantLatchedRows = 68
)

// columns gives the pins of a table's inputs; not ok when one of them is a stored bit (sequences check those).
func columns(names []string, unit map[string]int) ([]int, bool) {
	var pins []int
	for _, name := range names {
		pin, ok := unit[name]
		if !ok {
			return nil, false
		}
		pins = append(pins, pin)
	}
	return pins, true
}

func tableStep(m *Model, b *Board, s *Section, unit map[string]int, table *Table, row Row, pins []int, v, job int) []expectation {
	levels := map[int]byte{}
	for i, pin := range pins {
		levels[pin] = fillIn(row.In[i], v, i)
	}
	moment := len(b.Steps)
	why := fmt.Sprintf("%s line %d variant %d", m.Record.Names[0], row.Line, v)
	var want []expectation
	for o, name := range table.Out {
		expect := map[rune]byte{'H': '1', 'L': '0', 'Z': 'Z'}[row.Out[o]]
		pin := unit[name]
		for _, sw := range s.Switches {
			if sw.Name == name {
				// One end is driven to 0 or 1 and the other must follow, or float.
				levels[unit[sw.A]] = '0' + byte(v&1)
				pin, expect = unit[sw.B], 'Z'
				if row.Out[o] == 'H' {
					expect = '0' + byte(v&1)
				}
			}
		}
		if table.OpenCollector && row.Out[o] == 'H' {
			expect = 'Z'
		}
		want = append(want, expectation{job, moment, PinNet(pin), expect, why})
	}
	step := idle(m, levels)
	for _, sw := range s.Switches {
		step[PinNet(unit[sw.A])] = '0' + byte(v&1)
	}
	b.Steps = append(b.Steps, step)
	return want
}
