// Package jedec reads fuse maps of programmable logic: files in the format of JEDEC Standard No. 3 (JESD3-C),
// as every device programmer and every logic compiler writes them.
//
// A file is a sequence of fields, each ended by an asterisk. Files of the field often differ from the standard in
// harmless ways: no STX and ETX, no title, carriage returns alone, UTF-16, a dummy transmission checksum. These are
// read; what makes the fuses doubtful is an error that says where and what to do.
package jedec

import (
	"bytes"
	"cmp"
	"slices"
	"unicode/utf16"

	"halfsplit/internal/core/finding"
)

// Largest is the largest number of fuses that is read: twenty times a GAL22V10.
const Largest = 1 << 17

// File is what a fuse map file holds.
type File struct {
	Title string // the design specification, as written, blanks trimmed
	Pins  int    // of the package, as given by QP; 0 when not given
	// Fuses holds one byte for each fuse by number: 0 is intact (the two lines are connected), 1 is blown.
	Fuses   []byte
	Secured bool     // G1: the security fuse is blown, so the part itself can no longer be read
	Idle    byte     // what a condition X drives at an input: '0', '1', or 0 when not given
	Vectors []Vector // by rising number
}

// Vector is one step of the functional test that a file may carry.
type Vector struct {
	Number int
	Line   int
	// At holds the test condition of each pin, pin 1 first: 0 1 drive, C K clock, F float, L H Z expect, N X not tested,
	// P B preload, 2 to 9 a voltage above the supply.
	At string
}

// Read reads a file; name is what findings call it. The File is complete unless a finding is an error.
func Read(name string, data []byte) (File, finding.List) {
	r := &reader{name: name, text: plain(data), line: 1, given: map[int]byte{}, vectors: map[int]Vector{}, standard: '?', total: -1, sum: -1}
	if len(data) > 8*Largest {
		r.fail(0, "check that this is a fuse map", "%d bytes are more than the fuse map of any part of the time", len(data))
		return File{}, r.fl
	}
	r.fields()
	r.finish()
	r.fl.Sort()
	if r.fl.Errors() {
		return File{}, r.fl
	}
	return r.f, r.fl
}

// plain brings a file to one byte a character: UTF-16 with a byte order mark is unpacked, the mark of UTF-8 is dropped.
func plain(data []byte) []byte {
	big := bytes.HasPrefix(data, []byte{0xFE, 0xFF})
	if big || bytes.HasPrefix(data, []byte{0xFF, 0xFE}) {
		words := make([]uint16, 0, len(data)/2)
		for i := 2; i+1 < len(data); i += 2 {
			w := uint16(data[i]) | uint16(data[i+1])<<8
			if big {
				w = w<<8 | w>>8
			}
			words = append(words, w)
		}
		return []byte(string(utf16.Decode(words)))
	}
	return bytes.TrimPrefix(data, []byte{0xEF, 0xBB, 0xBF})
}

const (
	stx = 0x02
	etx = 0x03
)

// reader goes through the text once.
type reader struct {
	name     string
	text     []byte
	line     int // of the character at hand, from 1
	fl       finding.List
	f        File
	total    int // QF, -1 when not given
	given    map[int]byte
	highest  int  // number of the highest fuse given, plus 1
	standard byte // F: '0', '1', or '?' when not given
	sum      int  // C, -1 when not given
	sumLine  int
	order    []int // P: pin numbers in the order of the conditions
	vectors  map[int]Vector
	ended    bool // an ETX was seen
}

func (r *reader) pos(line int) finding.Pos { return finding.Pos{File: r.name, Line: line} }

func (r *reader) fail(line int, hint, format string, args ...any) {
	if len(r.fl) < 20 { // a file that is no fuse map at all need not say so a thousand times
		r.fl.Errorf(r.pos(line), r.name, hint, format, args...)
	}
}

func (r *reader) warn(line int, hint, format string, args ...any) {
	if len(r.fl) < 20 {
		r.fl.Warnf(r.pos(line), r.name, hint, format, args...)
	}
}

// fields cuts the text at the asterisks. The first field is the title, unless it is a field of data already.
func (r *reader) fields() {
	from, at := 0, r.text
	if i := bytes.IndexByte(at, stx); i >= 0 { // what stands before it is not part of the transmission
		r.newlines(at[:i])
		from = i + 1
	}
	body, tail := at[from:], []byte(nil)
	if i := bytes.IndexByte(body, etx); i >= 0 {
		body, tail = body[:i], body[i+1:]
		r.ended = true
	}
	body = bytes.TrimRight(body, "\x00\x1a")
	for first := true; len(body) > 0; first = false {
		end := bytes.IndexByte(body, '*')
		if end < 0 {
			r.unended(body, first)
			break
		}
		field := body[:end]
		blank := len(field) - len(bytes.TrimLeft(field, blanks))
		r.newlines(field[:blank])
		if !first || isData(field[blank:]) {
			r.field(field[blank:])
		} else {
			r.f.Title = string(bytes.TrimSpace(field))
		}
		r.newlines(field[blank:])
		body = body[end+1:]
	}
	if r.ended && from > 0 {
		r.transmission(at[from-1:len(at)-len(tail)], tail)
	}
}

const blanks = " \t\r\n\v\f\x00"

// unended is text after the last asterisk: nothing, or a field that was cut off.
func (r *reader) unended(body []byte, first bool) {
	rest := bytes.Trim(body, blanks)
	switch {
	case len(rest) == 0:
	case first:
		r.fail(r.line, "a JEDEC file has fields such as QF2048* and L0000 1101…*", "no field ends with an asterisk: this is no fuse map file")
	case len(rest) == 4 && isHex(rest) && r.sum >= 0: // the transmission checksum of a file that lost its ETX
	default:
		r.newlines(body[:len(body)-len(bytes.TrimLeft(body, blanks))])
		r.fail(r.line, "fetch the file again, or end the field with *", "the file is cut off: the field %.20q does not end with an asterisk", rest)
	}
}

// newlines counts the ends of lines in text: LF, CR LF and CR alone.
func (r *reader) newlines(text []byte) {
	for i, c := range text {
		if c == '\n' || c == '\r' && (i+1 == len(text) || text[i+1] != '\n') {
			r.line++
		}
	}
}

// isData tells a field of data from a title: some files have no title.
func isData(field []byte) bool {
	f := bytes.TrimSpace(field)
	if len(f) < 2 {
		return false
	}
	switch f[0] {
	case 'Q':
		return len(f) > 2 && (f[1] == 'F' || f[1] == 'P' || f[1] == 'V') && allIn(f[2:], "0123456789")
	case 'F', 'G', 'X':
		return len(f) == 2 && (f[1] == '0' || f[1] == '1')
	case 'L':
		return allIn(f[1:], "01 \t\r\n23456789") && len(f) > 8
	}
	return false
}

func allIn(b []byte, set string) bool {
	return len(bytes.Trim(b, set)) == 0
}

func isHex(b []byte) bool { return allIn(b, "0123456789abcdefABCDEF") }

// finish fills in the fuses that no L field gave and checks the whole.
func (r *reader) finish() {
	if r.fl.Errors() {
		return
	}
	n := r.total
	if n < 0 {
		n = r.highest
	}
	if n == 0 {
		r.fail(0, "a fuse map has an L field", "the file gives no fuses")
		return
	}
	if r.highest > n {
		r.fail(0, "compare QF with the part: is this the map of another type?", "fuse %d is given, but the file says that the part has %d", r.highest-1, n)
		return
	}
	missing := n - len(r.given)
	if missing > 0 && r.standard == '?' {
		r.fail(0, "write F0* or F1* before the first L field, or fetch the whole file", "%d of %d fuses are not given and the file names no default", missing, n)
		return
	}
	r.f.Fuses = bytes.Repeat([]byte{r.standard - '0'}, n)
	for k, v := range r.given {
		r.f.Fuses[k] = v
	}
	r.checksum()
	for _, v := range r.vectors {
		r.f.Vectors = append(r.f.Vectors, r.ordered(v))
	}
	slices.SortFunc(r.f.Vectors, func(a, b Vector) int { return cmp.Compare(a.Number, b.Number) })
}

// Checksum is the 16-bit sum of the fuses, eight to a byte, the fuse of the lowest number in the lowest bit.
func Checksum(fuses []byte) int {
	s := 0
	for i, f := range fuses {
		s += int(f&1) << (i % 8)
	}
	return s & 0xFFFF
}

func (r *reader) checksum() {
	s := Checksum(r.f.Fuses)
	switch {
	case r.sum < 0:
		r.warn(0, "compare the fuses with another copy", "the file has no fuse checksum, so nothing shows that the map is whole; the fuses add up to %04X", s)
	case r.sum == 0 && s != 0:
		r.warn(r.sumLine, "compare the fuses with another copy", "the fuse checksum is the dummy 0000; the fuses add up to %04X", s)
	case r.sum != s:
		r.fail(r.sumLine, "read the part or fetch the file again; where the fuses were changed by hand, write C"+hex4(s)+"*",
			"the fuse checksum is %04X, but the fuses add up to %04X", r.sum, s)
	}
}
