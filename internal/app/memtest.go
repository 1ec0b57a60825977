package app

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/memtest"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/romfile"
)

// MarchView is a march test made out for a memory.
type MarchView struct {
	Name        string          `json:"test"`
	Notation    string          `json:"notation"`
	Length      int             `json:"operations_per_address"`
	Elements    []string        `json:"elements"` // M0 …
	Backgrounds []string        `json:"backgrounds"`
	Cycles      int             `json:"cycles"`
	Coverage    []CoverageRow   `json:"coverage"` // four one-bit cells, every content at switch-on
	Syndromes   []SyndromeRow   `json:"syndromes"`
	Steps       []MarchStepView `json:"steps,omitempty"`
}

// CoverageRow says how many faults of a class a test finds, by exhaustive simulation.
type CoverageRow struct {
	Class string `json:"class"`
	Found int    `json:"found"`
	All   int    `json:"all"`
}

// SyndromeRow lists what shows one set of failing elements.
type SyndromeRow struct {
	Elements string   `json:"elements"` // M2 M4
	Kinds    []string `json:"kinds"`
}

// MarchStepView is one bus cycle.
type MarchStepView struct {
	Element string `json:"element"`
	Address string `json:"address"`
	Op      string `json:"op"` // write, read
	Data    string `json:"data"`
}

// MostSteps is how many cycles are listed; longer tests are run by a program, not by hand.
const MostSteps = 100_000

// March makes a test out for words words of width bits; steps lists every cycle.
func March(name string, words, width int, steps bool) (MarchView, error) {
	m, err := memtest.Named(name)
	if err != nil {
		return MarchView{}, err
	}
	if err := (memtest.Shape{Words: words, Width: width}).Check(); err != nil {
		return MarchView{}, err
	}
	bgs := memtest.Backgrounds(width)
	v := MarchView{Name: m.Name, Notation: m.String(), Length: m.Length(), Cycles: m.Length() * words * len(bgs)}
	v.Elements = strings.Split(v.Notation, "; ")
	for _, b := range bgs {
		v.Backgrounds = append(v.Backgrounds, hexText(int(b), width))
	}
	for _, c := range memtest.Classes() {
		found, all := memtest.Coverage(m, c, 4)
		v.Coverage = append(v.Coverage, CoverageRow{string(c), found, all})
	}
	for _, s := range memtest.Syndromes(m) {
		name := elementsText(s.Elements)
		if n := len(v.Syndromes); n == 0 || v.Syndromes[n-1].Elements != name {
			v.Syndromes = append(v.Syndromes, SyndromeRow{Elements: name})
		}
		last := &v.Syndromes[len(v.Syndromes)-1]
		if !slices.Contains(last.Kinds, s.Text) {
			last.Kinds = append(last.Kinds, s.Text)
		}
	}
	if !steps {
		return v, nil
	}
	if v.Cycles > MostSteps {
		return MarchView{}, fmt.Errorf("%d cycles are too many to list; at most %d", v.Cycles, MostSteps)
	}
	m.Steps(words, width, bgs, func(s memtest.Step) bool {
		op := "write"
		if s.Read {
			op = "read"
		}
		v.Steps = append(v.Steps, MarchStepView{"M" + strconv.Itoa(s.Element), hexText(s.Address, bitsFor(words)), op, hexText(int(s.Data), width)})
		return true
	})
	return v, nil
}

func elementsText(el []int) string {
	var out []string
	for _, e := range el {
		out = append(out, "M"+strconv.Itoa(e))
	}
	return strings.Join(out, " ")
}

func bitsFor(words int) int {
	n := 1
	for 1<<n < words {
		n++
	}
	return n
}

// hexText writes a value of so many bits.
func hexText(v, width int) string { return fmt.Sprintf("%0*X", (width+3)/4, v) }

// MemoryView is what the failing reads of a memory test say.
type MemoryView struct {
	Words    int             `json:"words"`
	Width    int             `json:"width"`
	Chips    []string        `json:"chips,omitempty"`
	Reads    int             `json:"reads"`
	Failing  int             `json:"failing"`
	Suspects []MemorySuspect `json:"suspects"`
	Facts    []string        `json:"facts"`
	Cells    []MemoryCell    `json:"cells,omitempty"`
}

// MemorySuspect is one cause.
type MemorySuspect struct {
	Kind        string  `json:"kind"`
	Text        string  `json:"text"`
	Probability float64 `json:"probability"`
	Exact       bool    `json:"exact"`  // it predicts exactly what failed
	Missed      int     `json:"missed"` // failing reads that it does not account for
	Extra       int     `json:"extra"`  // failures that it predicts and that were not seen
}

// MemoryCell is one cell with what its failing march elements mean.
type MemoryCell struct {
	Address  string   `json:"address"`
	Bit      int      `json:"bit"`
	Chip     string   `json:"chip"`
	Elements string   `json:"elements"`
	Kinds    []string `json:"kinds"`
}

// Memory explains a memory test. test names a march test when the reads carry elements and every read that is not listed passed; "" when they are single reads.
func Memory(s memtest.Shape, test string, reads []memtest.Read) (MemoryView, error) {
	v := MemoryView{Words: s.Words, Width: s.Width, Reads: len(reads), Suspects: []MemorySuspect{}, Facts: []string{}}
	for _, c := range s.Chips {
		v.Chips = append(v.Chips, c.Name)
	}
	var fails []memtest.Read
	for _, r := range reads {
		if r.Got != r.Expected {
			fails = append(fails, r)
		}
	}
	v.Failing = len(fails)
	var r memtest.Report
	var err error
	if test == "" {
		r, err = memtest.DiagnoseReads(s, reads)
	} else {
		var m memtest.March
		if m, err = memtest.Named(test); err == nil {
			if fails, err = onMarch(m, s, fails); err == nil {
				r, err = memtest.DiagnoseMarch(s, m, memtest.Backgrounds(s.Width), fails)
			}
		}
	}
	if err != nil {
		return v, err
	}
	for _, x := range r.Suspects {
		if x.Probability >= 0.005 || len(v.Suspects) == 0 {
			v.Suspects = append(v.Suspects, MemorySuspect{string(x.Cause.Kind), x.Cause.Text(s), x.Probability, x.Exact, x.Missed, x.Extra})
		}
	}
	v.Facts = append(v.Facts, r.Facts...)
	for _, c := range r.Cells {
		v.Cells = append(v.Cells, MemoryCell{hexText(c.Address, bitsFor(s.Words)), c.Bit, c.Chip, elementsText(c.Elements), c.Kinds})
	}
	return v, nil
}

// onMarch refuses failing reads that the test does not make, and finds the background of each by its expected data.
func onMarch(m memtest.March, s memtest.Shape, fails []memtest.Read) ([]memtest.Read, error) {
	out := slices.Clone(fails)
	bgs := memtest.Backgrounds(s.Width)
	mask := uint32(1)<<s.Width - 1
	for i, f := range out {
		if f.Element < 0 || f.Element >= len(m.Elements) {
			return nil, fmt.Errorf("address %X: say the march element before the address, M1 to M%d", f.Address, len(m.Elements)-1)
		}
		found := false
		for bi, bg := range bgs {
			for _, o := range m.Elements[f.Element].Ops {
				d := bg & mask
				if o.One {
					d = ^bg & mask
				}
				if o.Read && d == f.Expected && !found {
					out[i].Background, found = bi, true
				}
			}
		}
		if !found {
			return nil, fmt.Errorf("address %X: M%d of this test never expects %s", f.Address, f.Element, hexText(int(f.Expected), s.Width))
		}
	}
	return out, nil
}

// MemoryReads understands the lines of a test's result: address, expected and read in hexadecimal, with the march element M2 before them when it is known.
// # begins a remark.
func MemoryReads(text string) ([]memtest.Read, error) {
	var out []memtest.Read
	n := 0
	for l := range strings.Lines(text) {
		n++
		l, _, _ = strings.Cut(l, "#")
		f := strings.FieldsFunc(l, func(r rune) bool { return strings.ContainsRune(" \t\r\n,;:", r) })
		if len(f) == 0 {
			continue
		}
		r := memtest.Read{Element: -1}
		if e, ok := strings.CutPrefix(f[0], "M"); ok {
			v, err := strconv.Atoi(e)
			if err != nil || v < 0 || v > 63 {
				return nil, fmt.Errorf("line %d: %.20q is no march element; write M1 to M5", n, f[0])
			}
			r.Element = v
			f = f[1:]
		}
		if len(f) != 3 {
			return nil, fmt.Errorf("line %d: write address, expected and read in hexadecimal, as 01F FF FB", n)
		}
		var v [3]uint64
		for i, w := range f {
			x, err := strconv.ParseUint(strings.TrimPrefix(strings.TrimPrefix(strings.TrimPrefix(w, "0x"), "0X"), "$"), 16, 31)
			if err != nil {
				return nil, fmt.Errorf("line %d: %.20q is no hexadecimal number", n, w)
			}
			v[i] = x
		}
		r.Address, r.Expected, r.Got = int(v[0]), uint32(v[1]), uint32(v[2])
		out = append(out, r)
		if len(out) > 1_000_000 {
			return nil, fmt.Errorf("more than 1 000 000 lines")
		}
	}
	return out, nil
}

// MemoryChip understands a chip: NAME=BITS or NAME=BITS,FIRST-LAST, such as U5=0-3,000-3FF; bits in decimal, addresses in hexadecimal.
func MemoryChip(text string, words int) (memtest.Chip, error) {
	name, rest, ok := strings.Cut(text, "=")
	bitRange, addresses, limited := strings.Cut(rest, ",")
	lo, hi, err := span(bitRange, 10)
	if !ok || name == "" || err != nil {
		return memtest.Chip{}, fmt.Errorf("%.40q: a chip is written U5=0-3 or U5=0-3,000-3FF: its data bits, and its addresses in hexadecimal", text)
	}
	c := memtest.Chip{Name: name, LowBit: lo, Bits: hi - lo + 1, First: 0, Last: words - 1}
	if limited {
		if c.First, c.Last, err = span(addresses, 16); err != nil {
			return c, fmt.Errorf("%.40q: addresses are written 000-3FF in hexadecimal", text)
		}
	}
	return c, nil
}

func span(s string, base int) (lo, hi int, err error) {
	a, b, two := strings.Cut(s, "-")
	if !two {
		b = a
	}
	x, err := strconv.ParseInt(strings.TrimPrefix(a, "D"), base, 31)
	if err != nil {
		return 0, 0, err
	}
	y, err := strconv.ParseInt(strings.TrimPrefix(b, "D"), base, 31)
	return int(x), int(y), err
}

// MemoryOf takes the memories of a board: its RAM chips with the data bits that they have on their bus. The words are those of the largest.
func MemoryOf(c *circuit.Circuit) (memtest.Shape, error) {
	s := memtest.Shape{}
	type found struct {
		part int
		bits []int
	}
	var chips []found
	for _, m := range c.Memories {
		if m.Stmt.Kind != part.RAM || slices.ContainsFunc(chips, func(f found) bool { return f.part == m.Part }) {
			continue
		}
		if bits := busBits(c, m.Part); len(bits) > 0 {
			chips = append(chips, found{m.Part, bits})
			s.Words, s.Width = max(s.Words, m.Stmt.Words), max(s.Width, bits[len(bits)-1]+1)
		}
	}
	for _, f := range chips {
		s.Chips = append(s.Chips, memtest.Chip{Name: c.Parts[f.part].Ref, LowBit: f.bits[0], Bits: f.bits[len(f.bits)-1] - f.bits[0] + 1, First: 0, Last: s.Words - 1})
	}
	if len(chips) == 0 {
		return s, fmt.Errorf("no RAM with its data on a bus was found on this board; give --words, --width and --chip")
	}
	return s, s.Check()
}

// busBits lists the bits of a bus, lowest first, that a part drives; the bus is the one on which it drives most.
func busBits(c *circuit.Circuit, p int) []int {
	var best []int
	for _, b := range c.Board.Buses {
		var bits []int
		for i, n := range b.Nets {
			net, ok := c.Net(n.Text)
			if ok && slices.ContainsFunc(c.Nets[net].Pins, func(pin int) bool { return c.Pins[pin].Part == p && c.Pins[pin].Use&part.Driven != 0 }) {
				bits = append(bits, len(b.Nets)-1-i)
			}
		}
		if len(bits) > len(best) {
			best = bits
		}
	}
	slices.Sort(best)
	return best
}

// RomView is a dump, or two of them compared.
type RomView struct {
	Good      RomDump    `json:"good"`
	Bad       *RomDump   `json:"bad,omitempty"`
	Different int        `json:"different"`
	First     []RomByte  `json:"first,omitempty"`
	Rose      [8]int     `json:"rose"` // by data bit
	Fell      [8]int     `json:"fell"`
	OnlyRose  bool       `json:"only_rose"`
	OnlyFell  bool       `json:"only_fell"`
	Facts     []string   `json:"facts"`
	Causes    []RomCause `json:"causes"`
}

// RomDump identifies a dump.
type RomDump struct {
	File   string `json:"file"`
	Format string `json:"format"`
	Start  string `json:"start,omitempty"` // address of the first byte, for records
	Size   int    `json:"size"`
	Sum    string `json:"sum"` // of all bytes, modulo 2^16
	CRC    string `json:"crc32"`
	Blank  int    `json:"blank"` // bytes FF at the end
}

// RomByte is one byte that differs.
type RomByte struct {
	Address string `json:"address"`
	Good    string `json:"good"`
	Bad     string `json:"bad"`
}

// RomCause is one thing that would make the second dump of the first.
type RomCause struct {
	Kind  string  `json:"kind"`
	Text  string  `json:"text"`
	Share float64 `json:"share"` // bytes predicted right
	Exact bool    `json:"exact"`
}

// Rom looks at one dump, or compares a doubtful one with a good one when bad is not "".
func Rom(files Files, good, bad string) (RomView, error) {
	g, gd, err := dump(files, good)
	if err != nil {
		return RomView{}, err
	}
	if bad == "" {
		_, facts, err := memtest.Inspect(g.Data)
		return RomView{Good: gd, Facts: append([]string{}, facts...), Causes: []RomCause{}}, err
	}
	b, bd, err := dump(files, bad)
	if err != nil {
		return RomView{}, err
	}
	c, err := memtest.Compare(g.Data, b.Data)
	if err != nil {
		return RomView{}, err
	}
	v := RomView{Good: gd, Bad: &bd, Different: c.Different, Rose: c.Rose, Fell: c.Fell, OnlyRose: c.OnlyRose, OnlyFell: c.OnlyFell, Facts: c.Facts, Causes: []RomCause{}}
	if g.Start != b.Start {
		v.Facts = append(v.Facts, fmt.Sprintf("the files begin at different addresses, %X and %X; they are compared from their first bytes on", g.Start, b.Start))
	}
	for _, d := range c.First {
		v.First = append(v.First, RomByte{hexText(d.Address, bitsFor(max(c.Good.Size, 256))), hexText(int(d.Good), 8), hexText(int(d.Bad), 8)})
	}
	for _, x := range c.Causes {
		v.Causes = append(v.Causes, RomCause(x))
	}
	return v, nil
}

func dump(files Files, name string) (romfile.Image, RomDump, error) {
	data, err := files.Bytes(name)
	if err != nil {
		return romfile.Image{}, RomDump{}, fmt.Errorf("%s: %w", name, plain(err))
	}
	img, err := romfile.Read(data)
	if err != nil {
		return img, RomDump{}, fmt.Errorf("%s: %w", name, err)
	}
	id := memtest.Identify(img.Data)
	d := RomDump{File: name, Format: string(img.Format), Size: id.Size, Sum: hexText(int(id.Sum&0xFFFF), 16), CRC: fmt.Sprintf("%08X", id.CRC), Blank: id.Blank}
	if img.Format != romfile.Raw {
		d.Start = fmt.Sprintf("%04X", img.Start)
	}
	return img, d, nil
}
