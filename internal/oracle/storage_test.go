package oracle

// Long counts and memories, run through Icarus Verilog on a board of one part.

import (
	"fmt"
	"testing"
)

// TestCounts counts the ripple counters through all their states and once round.
func TestCounts(t *testing.T) {
	l := load(t)
	counted := 0
	for _, rec := range l.Records {
		m := l.models[rec.Names[0]]
		for _, s := range rec.Sections {
			if s.Count == nil {
				continue
			}
			counted++
			unit := s.Units[0]
			clock := PinNet(unit[s.Count.Clock])
			b := Single(m, rec.Names[0], "4000")
			b.Steps = []map[string]byte{{clock: '1', PinNet(unit["r"]): '1'}, {PinNet(unit["r"]): '0'}}
			for e := 0; e < s.Count.Edges; e++ {
				b.Steps = append(b.Steps, map[string]byte{clock: '0'}, map[string]byte{clock: '1'})
			}
			tr := run(t, l, []Job{{Board: b}})[0]
			holdCore(t, []Job{{Board: b}}, []Trace{tr})
			checks := 0
			for name, pin := range unit {
				var bit int
				if n, _ := fmt.Sscanf(name, "q%d", &bit); n != 1 {
					continue
				}
				for e := 0; e < s.Count.Edges; e++ {
					// Both after the falling edge that counts and after the rising one that does not.
					for half := 0; half < 2; half++ {
						checks++
						if got, want := at(tr, 2+2*e+half, PinNet(pin)), '0'+byte((e+1)>>(bit-1)&1); got != want {
							t.Fatalf("%s: after %d edges Q%d is %c, not %c", rec.Names[0], e+1, bit, got, want)
						}
					}
				}
			}
			t.Logf("%s: %d checks", rec.Names[0], checks)
		}
	}
	if counted != 3 {
		t.Errorf("%d counters, not 3", counted)
	}
}

// memoryStep sets the address and the named control pins; data 'Z' lets the part drive.
func memoryStep(m *Model, unit map[string]int, addr int, data int, write bool) map[string]byte {
	step := map[string]byte{}
	for i, pin := range m.memory.address {
		step[PinNet(pin)] = '0' + byte(addr>>i&1)
	}
	for i, pin := range m.memory.data {
		step[PinNet(pin)] = 'Z'
		if write {
			step[PinNet(pin)] = '0' + byte(data>>i&1)
		}
	}
	for _, name := range []string{"cs", "ce", "oe", "we"} {
		if pin, ok := unit[name]; ok {
			step[PinNet(pin)] = '0'
			if (name == "we" && !write) || (name == "oe" && write) {
				step[PinNet(pin)] = '1'
			}
		}
	}
	return step
}

// addresses are all zero, all one, each line alone and some mixed.
func addresses(words int) []int {
	list := []int{0, words - 1}
	for bit := 1; bit < words; bit <<= 1 {
		list = append(list, bit, (words-1)&^bit, bit*5%words^3)
	}
	return list
}

func word(addr, bits int) int { return (addr*29 + addr>>3 + 7) & (1<<bits - 1) }

// TestMemories writes words at addresses that use every line and reads them back; memories that only read are
// loaded with contents.
func TestMemories(t *testing.T) {
	l := load(t)
	tested, checks := 0, 0
	for _, rec := range l.Records {
		m := l.models[rec.Names[0]]
		if m.memory == nil {
			continue
		}
		tested++
		unit := rec.Sections[0].Units[0]
		b := Single(m, rec.Names[0], "nmos")
		list := addresses(m.memory.words)
		if m.memory.write == nil {
			b.Parts[0].Contents = make([]byte, m.memory.words)
			for a := range b.Parts[0].Contents {
				b.Parts[0].Contents[a] = byte(word(a, 8))
			}
		} else {
			for _, a := range list {
				idle := memoryStep(m, unit, a, 0, false)
				b.Steps = append(b.Steps, idle, memoryStep(m, unit, a, word(a, m.memory.bits), true), idle)
			}
		}
		first := len(b.Steps)
		for _, a := range list {
			b.Steps = append(b.Steps, memoryStep(m, unit, a, 0, false))
		}
		deselect := memoryStep(m, unit, 0, 0, false)
		for _, name := range []string{"cs", "ce"} {
			if pin, ok := unit[name]; ok {
				deselect[PinNet(pin)] = '1'
			}
		}
		b.Steps = append(b.Steps, deselect)
		tr := run(t, l, []Job{{Board: b}})[0]
		holdCore(t, []Job{{Board: b}}, []Trace{tr})
		for i := 0; i < m.memory.bits; i++ {
			pin := m.drivers[driverOfBit(t, m, i)].pin
			for k, a := range list {
				checks++
				if got, want := at(tr, first+k, PinNet(pin)), '0'+byte(word(a, m.memory.bits)>>i&1); got != want {
					t.Fatalf("%s: word %d bit %d is %c, not %c", rec.Names[0], a, i, got, want)
				}
			}
			checks++
			if got := at(tr, len(b.Steps)-1, PinNet(pin)); got != 'Z' {
				t.Errorf("%s: deselected, bit %d is %c", rec.Names[0], i, got)
			}
		}
	}
	if tested != 8 || checks != wantMemoryChecks {
		t.Errorf("%d memories, %d checks, not 8 and %d", tested, checks, wantMemoryChecks)
	}
}

const wantMemoryChecks = 2364

// driverOfBit finds the driver whose function reads the memory's bit.
func driverOfBit(t *testing.T, m *Model, bit int) int {
	t.Helper()
	for i, d := range m.drivers {
		for _, l := range d.fn.leaves {
			if l.kind == memoryLeaf && l.bit == bit {
				return i
			}
		}
	}
	t.Fatalf("%s: no pin shows bit %d", m.Record.Names[0], bit)
	return 0
}

// TestUnknownAddress checks that reading with an unknown address line gives what both words share, and that writing
// with one spoils only what differs.
func TestUnknownAddress(t *testing.T) {
	l := load(t)
	m, err := l.Model("2114", "nmos")
	if err != nil {
		t.Fatal(err)
	}
	unit := m.Record.Sections[0].Units[0]
	b := Single(m, "2114", "nmos")
	step := func(addr, data int, write bool, x string) {
		s := memoryStep(m, unit, addr, data, write)
		if x != "" {
			s[PinNet(unit[x])] = 'X'
		}
		b.Steps = append(b.Steps, s)
	}
	step(0, 0, false, "")
	step(0, 0b0011, true, "")
	step(0, 0, false, "")
	step(4, 0, false, "")
	step(4, 0b0101, true, "")
	step(4, 0, false, "")
	step(0, 0, false, "a2") // 6: words 0 and 4
	step(0, 0, false, "")
	// Address settles while not writing; then one of words 0 and 4 is written.
	step(0, 0, false, "a2")
	step(0, 0b0001, true, "a2")
	step(0, 0, false, "a2")
	step(0, 0, false, "") // 11
	step(4, 0, false, "") // 12
	step(8, 0, false, "") // 13: never written
	tr := run(t, l, []Job{{Board: b}})[0]
	holdCore(t, []Job{{Board: b}}, []Trace{tr})
	for moment, want := range map[int]string{6: "0XX1", 7: "0011", 11: "00X1", 12: "0X01", 13: "XXXX"} {
		got := ""
		for i := 3; i >= 0; i-- {
			got += string(at(tr, moment, PinNet(m.memory.data[i])))
		}
		if got != want {
			t.Errorf("moment %d: word is %s, not %s", moment, got, want)
		}
	}
}
