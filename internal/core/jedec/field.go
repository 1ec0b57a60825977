package jedec

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
)

// One field each. Letters that the standard reserves are passed over, as it asks.

func (r *reader) field(text []byte) {
	if len(text) == 0 {
		return
	}
	rest := bytes.TrimSpace(text[1:])
	switch text[0] {
	case 'Q':
		r.value(rest)
	case 'F':
		if c, ok := r.bit(rest, "F"); ok {
			if r.standard != '?' && r.standard != c {
				r.fail(r.line, "keep one of them", "the default state is given twice, F%c and F%c", r.standard, c)
			}
			r.standard = c
		}
	case 'L':
		r.fuses(text[1:], 1)
	case 'K':
		r.fuses(text[1:], 4)
	case 'C':
		n, err := strconv.ParseUint(string(rest), 16, 16)
		if err != nil {
			r.fail(r.line, "a checksum is four hexadecimal digits, such as C124E*", "%.20q is no fuse checksum", text)
			return
		}
		r.sum, r.sumLine = int(n), r.line
	case 'G':
		if c, ok := r.bit(rest, "G"); ok {
			r.f.Secured = c == '1'
		}
	case 'X':
		if c, ok := r.bit(rest, "X"); ok {
			r.f.Idle = c
		}
	case 'P':
		r.pins(rest)
	case 'V':
		r.vector(text[1:])
	default:
		if c := text[0]; c < 'A' || c > 'Z' {
			r.warn(r.line, "a field begins with a capital letter", "the field %.20q is passed over", text)
		}
	}
}

func (r *reader) bit(rest []byte, field string) (byte, bool) {
	if len(rest) != 1 || rest[0] != '0' && rest[0] != '1' {
		r.fail(r.line, "write "+field+"0* or "+field+"1*", "%s is followed by %.20q", field, rest)
		return 0, false
	}
	return rest[0], true
}

// value reads QF, QP and QV; other letters after Q are the maker's own.
func (r *reader) value(rest []byte) {
	if len(rest) < 2 || strings.IndexByte("FPV", rest[0]) < 0 {
		return
	}
	digits := string(bytes.TrimSpace(rest[1:]))
	n, err := strconv.Atoi(digits)
	if err != nil || n < 0 || rest[0] == 'F' && (n == 0 || n > Largest) || rest[0] == 'P' && (n == 0 || n > 256) {
		r.fail(r.line, "check that the whole file arrived", "Q%c%.20s is out of range: 1 to %d fuses, 1 to 256 pins", rest[0], digits, Largest)
		return
	}
	switch rest[0] {
	case 'F':
		if r.total >= 0 && r.total != n {
			r.fail(r.line, "keep the one that fits the part", "the number of fuses is given twice, %d and %d", r.total, n)
		}
		r.total = n
	case 'P':
		r.f.Pins = n
	}
}

// fuses reads a list of states from a fuse number on, each digit being per fuses, the first in the highest bit.
func (r *reader) fuses(text []byte, per int) {
	start := r.line
	digits, rest := number(text)
	first, err := strconv.Atoi(digits)
	switch {
	case digits != "" && len(rest) == 0:
		r.fail(start, "put a blank between the number and the states", "the list from fuse %.20s on has no states", digits)
		return
	case err != nil:
		r.fail(start, "write the number of the first fuse, a blank, then the states", "%.20q does not begin with a fuse number", "L"+string(text))
		return
	}
	at, line, limit := first, start, Largest
	if r.total >= 0 {
		limit = r.total
	}
	for i, c := range rest {
		switch {
		case c == '\n' || c == '\r' && (i+1 == len(rest) || rest[i+1] != '\n'):
			line++
			continue
		case strings.IndexByte(blanks, c) >= 0:
			continue
		}
		v, err := strconv.ParseUint(string(c), 1<<per, 8)
		if err != nil {
			r.fail(line, "a state is 0, intact, or 1, blown", "fuse %d has the state %q", at, c)
			return
		}
		for b := per - 1; b >= 0; b-- {
			state := byte(v >> b & 1)
			if at < limit {
				r.given[at] = state
				at++
			} else if per == 1 || state != 0 { // the last hexadecimal digit may be filled up with zeros
				r.fail(line, "compare QF with the part: is this the map of another type?", "fuse %d is given, but the file says that the part has %d", at, limit)
				return
			}
		}
		r.highest = max(r.highest, at)
	}
}

// number splits the digits at the front from what follows a blank. Fuse numbers and states look alike, so that a list
// without the blank between them cannot be told and has no rest.
func number(text []byte) (digits string, rest []byte) {
	t := bytes.TrimLeft(text, " \t")
	n := 0
	for n < len(t) && t[n] >= '0' && t[n] <= '9' {
		n++
	}
	if n == len(t) || strings.IndexByte(blanks, t[n]) < 0 {
		if n < len(t) {
			n = 0
		}
		return string(t[:n]), nil
	}
	return string(t[:n]), t[n:]
}

// pins reads the order in which the conditions of the vectors stand.
func (r *reader) pins(rest []byte) {
	r.order = nil
	seen := map[int]bool{}
	for w := range strings.FieldsSeq(string(rest)) {
		n, err := strconv.Atoi(w)
		if err != nil || n < 1 || n > 256 || seen[n] {
			r.warn(r.line, "list each pin number once", "the pin order %.40q is not a list of pins; the vectors are taken in the order of the pins", rest)
			r.order = nil
			return
		}
		seen[n] = true
		r.order = append(r.order, n)
	}
}

const conditions = "0123456789BCFHKLNPXZ"

func (r *reader) vector(text []byte) {
	digits, rest := number(text)
	n, err := strconv.Atoi(digits)
	at := strings.ToUpper(strings.Join(strings.Fields(string(rest)), ""))
	if err != nil || at == "" || strings.Trim(at, conditions) != "" {
		r.warn(r.line, "a vector is a number, a blank, and one condition for each pin", "the test vector %.40q is passed over", "V"+string(text))
		return
	}
	r.vectors[n] = Vector{n, r.line, at}
}

// ordered brings the conditions of a vector into the order of the pins.
func (r *reader) ordered(v Vector) Vector {
	if want := max(r.f.Pins, len(r.order)); want > 0 && len(v.At) != want {
		r.warn(v.Line, "give one condition for each pin", "test vector %d has %d conditions for %d pins", v.Number, len(v.At), want)
	}
	if r.order == nil {
		return v
	}
	top := 0
	for _, p := range r.order {
		top = max(top, p)
	}
	at := bytes.Repeat([]byte("X"), top)
	for i := range min(len(v.At), len(r.order)) {
		at[r.order[i]-1] = v.At[i]
	}
	v.At = string(at)
	return v
}

// transmission checks the sum after ETX. Editors and mail change the ends of lines, which says nothing of the fuses: a sum
// that does not fit is a warning.
func (r *reader) transmission(sent, tail []byte) {
	t := bytes.TrimLeft(tail, blanks)
	if len(t) < 4 || !isHex(t[:4]) {
		return
	}
	want, err := strconv.ParseUint(string(t[:4]), 16, 16)
	if err != nil || want == 0 {
		return
	}
	sum := 0
	for _, c := range sent {
		sum += int(c & 0x7F)
	}
	if sum&0xFFFF != int(want) {
		r.warn(r.line, "nothing to do where the fuse checksum fits", "the transmission checksum is %04X, the characters add up to %04X: an editor or a transfer has changed the text", want, sum&0xFFFF)
	}
}

func hex4(n int) string { return fmt.Sprintf("%04X", n) }
