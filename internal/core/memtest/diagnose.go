package memtest

import (
	"cmp"
	"math"
	"slices"
)

// Read is one read of a memory test and what it should have been. Element is the march element (from 1: M0 only writes) or −1 when that is not known; Order
// counts the backgrounds from 0.
type Read struct {
	Element       int
	Background    int
	Address       int
	Expected, Got uint32
}

// Suspect is a cause with its probability.
type Suspect struct {
	Cause       Cause
	Probability float64
	Exact       bool // it predicts exactly the failing reads
	Missed      int  // failing reads that it does not predict
	Extra       int  // reads that it predicts wrong and that passed, or were not listed
}

// CellFinding is what the failing elements say of one bit at one address.
type CellFinding struct {
	Address, Bit int
	Chip         string
	Elements     []int
	Kinds        []string // what shows these elements under the test; none when nothing does
}

// Report is what the failing reads say.
type Report struct {
	Suspects []Suspect
	Facts    []string
	Cells    []CellFinding // at most 16, for marches
}

const (
	wrongRead  = 0.02 // chance that one read was noted wrongly or is marginal; an estimate without a source
	mostCells  = 16
	mostCauses = 12
)

// DiagnoseMarch explains the failing reads of a whole run of a march test: every other read passed. Each cause is simulated through the test and compared.
// reads must be failing ones with Element and Background filled in. No failing read gives an empty report.
func DiagnoseMarch(s Shape, m March, backgrounds []uint32, fails []Read) (Report, error) {
	if err := check(s, fails); err != nil {
		return Report{}, err
	}
	var r Report
	if len(fails) == 0 {
		return r, nil
	}
	type key struct{ background, element, address int }
	want := map[key]uint32{} // the last failing read of an element at an address
	for _, f := range fails {
		want[key{f.Background, f.Element, f.Address}] = f.Got
	}
	for _, c := range append(s.lineCauses(), cellCauses(s, fails)...) {
		var hit, extra int
		if c.Kind == CellBad || c.Kind == RowOrColumn {
			hit, extra = cellCover(c, fails), 0
		} else {
			mem := newMemory(s, c)
			got := map[key]uint32{}
			for bi, bg := range backgrounds {
				m.Steps(s.Words, s.Width, []uint32{bg}, func(st Step) bool {
					if !st.Read {
						mem.write(st.Address, st.Data)
					} else if v := mem.read(st.Address); v != st.Data {
						got[key{bi, st.Element, st.Address}] = v
					}
					return len(got) < 4*len(want)+1000 // far more than was seen: no use going on
				})
			}
			for k, v := range got {
				if w, ok := want[k]; ok && w == v {
					hit++
				} else {
					extra++
				}
			}
		}
		r.Suspects = append(r.Suspects, Suspect{Cause: c, Missed: len(want) - min(hit, len(want)), Extra: extra})
	}
	weigh(&r, len(want))
	r.Facts = facts(s, fails)
	r.Cells = cellFindings(s, m, fails)
	return r, nil
}

// DiagnoseReads explains single reads – address, expected, read – of any test, passes among them. What a read at an aliased address should give is taken from
// the expected data of the other address, so tests that write the address as data tell most.
func DiagnoseReads(s Shape, reads []Read) (Report, error) {
	if err := check(s, reads); err != nil {
		return Report{}, err
	}
	var r Report
	var fails []Read
	expected := map[int]uint32{}
	for _, x := range reads {
		if x.Got != x.Expected {
			fails = append(fails, x)
		}
		expected[x.Address] = x.Expected
	}
	if len(fails) == 0 {
		return r, nil
	}
	for _, c := range append(s.lineCauses(), cellCauses(s, fails)...) {
		su := Suspect{Cause: c}
		for _, x := range reads {
			p, known := predict(s, c, x, expected)
			switch {
			case x.Got != x.Expected && (!known || p != x.Got):
				su.Missed++
			case x.Got == x.Expected && known && p != x.Got:
				su.Extra++
			}
		}
		r.Suspects = append(r.Suspects, su)
	}
	weigh(&r, len(fails))
	r.Facts = facts(s, fails)
	return r, nil
}

// predict is what a read gives under a cause; known is false where the cause says nothing about it.
func predict(s Shape, c Cause, x Read, expected map[int]uint32) (v uint32, known bool) {
	m := memory{s: s, c: c}
	switch c.Kind {
	case DataStuck, DataShorted:
		return m.lines(x.Expected), true
	case ChipDead:
		k := s.chip(c.A)
		if x.Address < k.First || x.Address > k.Last {
			return x.Expected, true
		}
		mask := (uint32(1)<<k.Bits - 1) << k.LowBit
		if c.High {
			return x.Expected | mask, true
		}
		return x.Expected &^ mask, true
	case AddressStuck, AddressShorted:
		to := x.Address
		if c.Kind == AddressStuck {
			to = force(to, c.A, c.High)
		} else {
			to = join(to, c.A, c.B, c.High)
		}
		// the cell holds what was written last to any address that reaches it: the highest of them, when the test wrote upwards
		last := -1
		for a, bit := range aliases(c, to) {
			if _, ok := expected[a]; ok && bit && a > last {
				last = a
			}
		}
		if last < 0 {
			return 0, false
		}
		return expected[last], true
	case CellBad:
		if x.Address == c.A && (x.Expected^x.Got)&^(1<<c.B) == 0 && x.Expected != x.Got {
			return x.Got, true
		}
		return 0, false
	}
	if (x.Expected^x.Got)&^(1<<c.B) == 0 && x.Expected != x.Got {
		return x.Got, true
	}
	return 0, false
}

// aliases lists the addresses that reach a cell.
func aliases(c Cause, to int) map[int]bool {
	out := map[int]bool{to: true}
	for _, a := range []int{to ^ 1<<c.A, to ^ 1<<c.B, to ^ 1<<c.A ^ 1<<c.B} {
		if c.Kind == AddressStuck && force(a, c.A, c.High) == to || c.Kind == AddressShorted && join(a, c.A, c.B, c.High) == to {
			out[a] = true
		}
	}
	return out
}

func check(s Shape, reads []Read) error {
	if err := s.Check(); err != nil {
		return err
	}
	for _, x := range reads {
		if x.Address < 0 || x.Address >= s.Words {
			return outside("address %X", x.Address, s)
		}
		if x.Expected>>s.Width != 0 {
			return outside("expected data %X", int(x.Expected), s)
		}
		if x.Got>>s.Width != 0 {
			return outside("data read %X", int(x.Got), s)
		}
	}
	return nil
}

// cellCauses proposes single cells, and rows or columns when several cells of one bit fail.
func cellCauses(s Shape, fails []Read) []Cause {
	cells := map[[2]int]bool{}
	perBit := make([]int, s.Width)
	for _, f := range fails {
		for b := range s.Width {
			if (f.Expected^f.Got)>>b&1 == 1 && !cells[[2]int{f.Address, b}] {
				cells[[2]int{f.Address, b}] = true
				perBit[b]++
			}
		}
	}
	var out []Cause
	for k := range cells {
		if len(cells) <= mostCells {
			out = append(out, Cause{Kind: CellBad, A: k[0], B: k[1]})
		}
	}
	for b, n := range perBit {
		if n > 1 {
			out = append(out, Cause{Kind: RowOrColumn, B: b})
		}
	}
	slices.SortFunc(out, func(a, b Cause) int {
		return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.A, b.A), cmp.Compare(a.B, b.B))
	})
	return out
}

// cellCover counts the failing reads that a bad cell or a row or column of one bit accounts for.
func cellCover(c Cause, fails []Read) int {
	n := 0
	for _, f := range fails {
		if (f.Expected^f.Got)&^(1<<c.B) == 0 && (c.Kind == RowOrColumn || f.Address == c.A) {
			n++
		}
	}
	return n
}

// weigh turns misses into probabilities: each read that a cause does not account for counts against it, up to a limit so that numbers stay finite. What
// accounts for no failing read at all is left out.
func weigh(r *Report, fails int) {
	r.Suspects = slices.DeleteFunc(r.Suspects, func(s Suspect) bool { return s.Missed >= fails })
	if len(r.Suspects) == 0 {
		return
	}
	for i := range r.Suspects {
		s := &r.Suspects[i]
		s.Exact = s.Missed == 0 && s.Extra == 0
		loss := float64(s.Missed) + float64(s.Extra)
		if s.Cause.Kind == RowOrColumn || s.Cause.Kind == CellBad {
			loss += 0.5 // says less than a line: it fits whatever failed
		}
		s.Probability = math.Log(s.Cause.prior()) + math.Log(wrongRead)*math.Min(loss, 100)
	}
	best := slices.MaxFunc(r.Suspects, func(a, b Suspect) int { return cmp.Compare(a.Probability, b.Probability) }).Probability
	sum := 0.0
	for i := range r.Suspects {
		r.Suspects[i].Probability = math.Exp(r.Suspects[i].Probability - best)
		sum += r.Suspects[i].Probability
	}
	for i := range r.Suspects {
		r.Suspects[i].Probability /= sum
	}
	slices.SortStableFunc(r.Suspects, func(a, b Suspect) int { return cmp.Compare(b.Probability, a.Probability) })
	r.Suspects = r.Suspects[:min(len(r.Suspects), mostCauses)]
}
