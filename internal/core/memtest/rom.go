package memtest

import (
	"bytes"
	"cmp"
	"fmt"
	"hash/crc32"
	"math/bits"
	"slices"
)

// Dump is what identifies a ROM's content: the plain sum of its bytes and CRC-32 (IEEE 802.3).
type Dump struct {
	Size  int
	Sum   uint32
	CRC   uint32
	Blank int // bytes at the end that read FF
}

// Identify sums a dump up.
func Identify(data []byte) Dump {
	d := Dump{Size: len(data), CRC: crc32.ChecksumIEEE(data)}
	for _, b := range data {
		d.Sum += uint32(b)
	}
	d.Blank = len(data) - len(bytes.TrimRight(data, "\xFF"))
	return d
}

// Difference is one byte that differs.
type Difference struct {
	Address   int
	Good, Bad byte
}

// RomCause is one thing that would make the second dump of the first.
type RomCause struct {
	Kind  string
	Text  string
	Share float64 // bytes of the second dump that it predicts right
	Exact bool
}

// Comparison is a good dump against one that is doubted.
type Comparison struct {
	Good, Bad  Dump
	Different  int // bytes that differ, over the common length
	First      []Difference
	Rose, Fell [8]int // bits that read 1 instead of 0, and 0 instead of 1
	OnlyRose   bool   // an EPROM that loses charge: its cells go towards 1
	OnlyFell   bool
	Facts      []string
	Causes     []RomCause // best first
}

// Limits of a comparison.
const (
	mostRom   = 1 << 22 // bytes
	mostShown = 16
)

// Compare names what turns good into bad. Both must hold 1 byte to 4 MiB.
func Compare(good, bad []byte) (Comparison, error) {
	for _, d := range [][]byte{good, bad} {
		if len(d) == 0 || len(d) > mostRom {
			return Comparison{}, fmt.Errorf("a dump of %d bytes; 1 to %d are compared", len(d), mostRom)
		}
	}
	c := Comparison{Good: Identify(good), Bad: Identify(bad)}
	n := min(len(good), len(bad))
	rose, fell := 0, 0
	and, or := ^0, 0
	for i := range n {
		if good[i] == bad[i] {
			continue
		}
		c.Different++
		and, or = and&i, or|i
		if len(c.First) < mostShown {
			c.First = append(c.First, Difference{i, good[i], bad[i]})
		}
		for b := range 8 {
			if x, y := good[i]>>b&1, bad[i]>>b&1; x < y {
				c.Rose[b]++
				rose++
			} else if x > y {
				c.Fell[b]++
				fell++
			}
		}
	}
	c.OnlyRose, c.OnlyFell = rose > 0 && fell == 0, fell > 0 && rose == 0
	c.Facts = romFacts(c, n, rose, fell, and, or)
	if c.Different > 0 || len(good) != len(bad) {
		c.Causes = romCauses(good, bad, c, rose)
	}
	return c, nil
}

func romFacts(c Comparison, n, rose, fell, and, or int) []string {
	var out []string
	add := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	if c.Good.Size != c.Bad.Size {
		add("the sizes differ: %d and %d bytes", c.Good.Size, c.Bad.Size)
	}
	if c.Different == 0 {
		add("all %d bytes in common are the same", n)
		return out
	}
	add("%d of %d bytes differ, %d bits rose (0 to 1) and %d fell", c.Different, n, rose, fell)
	var lines []int
	for b := range 8 {
		if c.Rose[b]+c.Fell[b] > 0 {
			lines = append(lines, b)
		}
	}
	if len(lines) < 8 {
		s := ""
		for _, b := range lines {
			s += fmt.Sprintf(" D%d", b)
		}
		add("only these data bits differ:%s", s)
	}
	for a := range bits.Len(uint(n - 1)) {
		switch {
		case c.Different > 3 && and>>a&1 == 1:
			add("every difference is where A%d = 1", a)
		case c.Different > 3 && or>>a&1 == 0:
			add("every difference is where A%d = 0", a)
		}
	}
	return out
}

// romCauses tries every line fault, swap and shift on the good dump and keeps those that predict the bad one better than no fault at all: at least nine
// tenths of the bytes that differ.
func romCauses(good, bad []byte, c Comparison, rose int) []RomCause {
	var out []RomCause
	n := len(bad)
	differing := 0
	for i := range n {
		if bad[i] != good[i%len(good)] {
			differing++
		}
	}
	try := func(kind, text string, f func(i int) byte) {
		wrong := 0
		for i := range n {
			if f(i) != bad[i] {
				wrong++
				if wrong*10 > differing {
					return
				}
			}
		}
		out = append(out, RomCause{kind, text, 1 - float64(wrong)/float64(n), wrong == 0})
	}
	at := func(i int) byte { return good[i%len(good)] }
	if len(good) != len(bad) {
		sizes(try, good, bad)
	}
	if differing > 0 {
		dataCauses(try, at)
		addressCauses(try, at, bits.Len(uint(max(len(good), len(bad))-1)))
		shifts(try, at, n)
	}
	if c.OnlyRose {
		text := fmt.Sprintf("the cells are losing charge: %d bits, all of them from 0 to 1, as an EPROM does with age; read it again at a lower and a higher supply, and program a new one from the good dump", rose)
		out = append(out, RomCause{"decay", text, 1 - float64(c.Different)/float64(n), false})
	}
	slices.SortStableFunc(out, func(a, b RomCause) int { return cmp.Compare(b.Share, a.Share) })
	return out[:min(len(out), 8)]
}

type trial = func(kind, text string, f func(i int) byte)

// sizes looks for a dump that is the other one repeated, or a part of it.
func sizes(try trial, good, bad []byte) {
	if len(bad) > len(good) && len(bad)%len(good) == 0 {
		try("mirrored", fmt.Sprintf("the same content %d times over: the reader was set to a larger part, or the upper address lines do nothing", len(bad)/len(good)), func(i int) byte { return good[i%len(good)] })
	}
	if len(bad) < len(good) && len(good)%len(bad) == 0 {
		for k := 1; k < len(good)/len(bad); k++ { // part 0 is the plain comparison
			try("part", fmt.Sprintf("it is the part from %X on of the other", k*len(bad)), func(i int) byte { return good[k*len(bad)+i] })
		}
	}
}

// dataCauses are faults of the data lines.
func dataCauses(try trial, at func(int) byte) {
	for b := range 8 {
		for _, high := range []bool{false, true} {
			lv := map[bool]string{false: "low", true: "high"}[high]
			try("data-line-stuck", fmt.Sprintf("data line D%d is stuck %s, or open at the reader", b, lv), func(i int) byte { return byte(force(int(at(i)), b, high)) })
			for o := b + 1; o < 8; o++ {
				win := map[bool]string{false: "the low one wins", true: "the high one wins"}[high]
				try("data-lines-shorted", fmt.Sprintf("data lines D%d and D%d are shorted together (%s)", b, o, win), func(i int) byte { return byte(join(int(at(i)), b, o, high)) })
			}
		}
		for o := b + 1; o < 8; o++ {
			try("data-lines-swapped", fmt.Sprintf("data lines D%d and D%d are swapped", b, o), func(i int) byte { return byte(exchange(int(at(i)), b, o)) })
		}
	}
	try("inverted", "every bit is inverted: an inverting buffer, or a dump of one", func(i int) byte { return ^at(i) })
	try("reversed", "the data bits are in the opposite order", func(i int) byte { return bits.Reverse8(at(i)) })
	try("nibbles", "the halves of each byte are swapped", func(i int) byte { return at(i)<<4 | at(i)>>4 })
	try("blank", "every byte reads FF: erased, not selected, or no supply", func(int) byte { return 0xFF })
	try("zero", "every byte reads 00: shorted bus, or not selected", func(int) byte { return 0 })
}

// addressCauses are faults of the address lines.
func addressCauses(try trial, at func(int) byte, lines int) {
	for a := range lines {
		for _, high := range []bool{false, true} {
			lv := map[bool]string{false: "low", true: "high"}[high]
			try("address-line-stuck", fmt.Sprintf("address line A%d is stuck %s or open: the halves that it tells apart read the same", a, lv), func(i int) byte { return at(force(i, a, high)) })
			for o := a + 1; o < lines; o++ {
				win := map[bool]string{false: "the low one wins", true: "the high one wins"}[high]
				try("address-lines-shorted", fmt.Sprintf("address lines A%d and A%d are shorted together (%s)", a, o, win), func(i int) byte { return at(join(i, a, o, high)) })
			}
		}
		text := fmt.Sprintf("address line A%d is inverted: the halves are exchanged", a)
		if a == 0 {
			text = "even and odd bytes are exchanged"
		}
		try("halves-exchanged", text, func(i int) byte { return at(i ^ 1<<a) })
		for o := a + 1; o < lines; o++ {
			try("address-lines-swapped", fmt.Sprintf("address lines A%d and A%d are swapped", a, o), func(i int) byte { return at(exchange(i, a, o)) })
		}
	}
}

// shifts are dumps that begin some bytes early or late.
func shifts(try trial, at func(int) byte, n int) {
	for k := 1; k <= 256 && k < n; k++ {
		try("shifted", fmt.Sprintf("the content begins %d bytes too late", k), func(i int) byte { return at(i + n - k) })
		try("shifted", fmt.Sprintf("the content begins %d bytes too early", k), func(i int) byte { return at(i + k) })
	}
}

// exchange swaps two bits.
func exchange(v, a, b int) int {
	x, y := v>>a&1, v>>b&1
	return v&^(1<<a|1<<b) | x<<b | y<<a
}

// Inspect looks at one dump alone: bits that never change, pairs of bits that are always equal, halves that are the same.
func Inspect(data []byte) (Dump, []string, error) {
	if len(data) == 0 || len(data) > mostRom {
		return Dump{}, nil, fmt.Errorf("a dump of %d bytes; 1 to %d are looked at", len(data), mostRom)
	}
	d := Identify(data)
	var out []string
	add := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	if d.Blank == d.Size {
		add("blank: every byte reads FF")
		return d, out, nil
	}
	content := data[:d.Size-d.Blank]
	and, or := byte(0xFF), byte(0)
	var differ [8][8]bool
	for _, b := range content {
		and, or = and&b, or|b
		for x := range 8 {
			for y := range x {
				differ[x][y] = differ[x][y] || b>>x&1 != b>>y&1
			}
		}
	}
	if len(content) >= 64 { // fewer bytes may well share a bit by chance
		for x := range 8 {
			switch {
			case and>>x&1 == 1:
				add("D%d always reads 1: stuck, or open at the reader", x)
			case or>>x&1 == 0:
				add("D%d always reads 0: stuck", x)
			}
			for y := range x {
				if !differ[x][y] && and>>x&1 == 0 && or>>x&1 == 1 {
					add("D%d and D%d always read the same: perhaps shorted together", y, x)
				}
			}
		}
	}
	for a := range bits.Len(uint(d.Size - 1)) {
		same := 1<<(a+1) <= d.Size && d.Size%(1<<(a+1)) == 0
		for i := 0; same && i < d.Size; i++ {
			same = data[i] == data[i^1<<a]
		}
		if same {
			add("A%d makes no difference: that line is open or stuck, or the part is smaller than the dump", a)
		}
	}
	if d.Blank >= 8 { // fewer may well be content
		add("the last %d bytes are blank (FF)", d.Blank)
	}
	return d, out, nil
}
