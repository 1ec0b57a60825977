// Package romfile reads and writes memory images: raw bytes, Intel HEX (Intel specification rev. A, 1988) and Motorola S-records.
package romfile

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
)

// Largest is the largest image, in bytes from address 0.
const Largest = 16 << 20

// Format of a file.
type Format string

// The formats.
const (
	Raw      Format = "raw"
	IntelHex Format = "Intel HEX"
	SRecord  Format = "S-records"
)

// Image is what a file holds: Data from address Start on. Gaps between records read FF, as an erased EPROM does.
type Image struct {
	Format Format
	Start  int
	Data   []byte
	Gaps   int // bytes between the records that the file does not give
}

// Read tells the format by the first character that is no blank – a colon, or S with a digit, and nothing but text after it – and reads the file. Anything else is raw.
func Read(data []byte) (Image, error) {
	if len(data) > 3*Largest {
		return Image{}, fmt.Errorf("%d bytes are more than any memory of the time holds", len(data))
	}
	t := bytes.TrimLeft(data, " \t\r\n\xef\xbb\xbf")
	switch {
	case len(t) > 10 && t[0] == ':' && isText(t):
		return records(string(data), IntelHex, intel)
	case len(t) > 9 && t[0] == 'S' && t[1] >= '0' && t[1] <= '9' && isText(t):
		return records(string(data), SRecord, motorola)
	}
	if len(data) == 0 {
		return Image{}, fmt.Errorf("the file is empty")
	}
	if len(data) > Largest {
		return Image{}, fmt.Errorf("%d bytes are more than the %d that are read", len(data), Largest)
	}
	return Image{Format: Raw, Data: data}, nil
}

// isText reports whether the first line is hexadecimal text, so that a dump that happens to begin with a colon stays raw.
func isText(t []byte) bool {
	line, _, _ := bytes.Cut(t, []byte("\n"))
	for _, c := range bytes.TrimRight(line, " \t\r")[1:] {
		if !strings.ContainsRune("0123456789ABCDEFabcdef", rune(c)) {
			return false
		}
	}
	return true
}

// record is one line unpacked: data at an address, or end when the file ends there.
type record struct {
	at   int
	data []byte
	end  bool
}

// records puts the lines of a file together.
func records(text string, format Format, parse func(line string, base *int) (record, error)) (Image, error) {
	img := Image{Format: format}
	written := map[int]byte{}
	base, n, ended := 0, 0, false
	for line := range strings.Lines(text) {
		n++
		line = strings.Trim(line, " \t\r\n\ufeff\x1a")
		if line == "" {
			continue
		}
		if ended {
			return Image{}, fmt.Errorf("line %d: something stands after the end record", n)
		}
		r, err := parse(line, &base)
		if err != nil {
			return Image{}, fmt.Errorf("line %d: %w", n, err)
		}
		if r.at+len(r.data) > Largest {
			return Image{}, fmt.Errorf("line %d: address %X lies beyond %X", n, r.at+len(r.data)-1, Largest-1)
		}
		for i, b := range r.data {
			if old, ok := written[r.at+i]; ok && old != b {
				return Image{}, fmt.Errorf("line %d: address %X is given twice with different bytes", n, r.at+i)
			}
			written[r.at+i] = b
		}
		ended = r.end
	}
	if !ended {
		return Image{}, fmt.Errorf("the end record is missing: the file is cut off")
	}
	if len(written) == 0 {
		return Image{}, fmt.Errorf("the file holds no bytes")
	}
	lo, hi := Largest, 0
	for a := range written {
		lo, hi = min(lo, a), max(hi, a)
	}
	img.Start, img.Data = lo, bytes.Repeat([]byte{0xFF}, hi-lo+1)
	for a, b := range written {
		img.Data[a-lo] = b
	}
	img.Gaps = len(img.Data) - len(written)
	return img, nil
}

// intel unpacks one record of Intel HEX.
func intel(line string, base *int) (record, error) {
	if line[0] != ':' {
		return record{}, fmt.Errorf("a record begins with a colon, found %.20q", line)
	}
	b, err := hex.DecodeString(line[1:])
	if err != nil || len(b) < 5 || len(b) != int(b[0])+5 {
		return record{}, fmt.Errorf("%.40q is no whole record", line)
	}
	if s := sum(b); s != 0 {
		return record{}, fmt.Errorf("the checksum is %02X, expected %02X", b[len(b)-1], b[len(b)-1]-s)
	}
	data := b[4 : len(b)-1]
	switch b[3] {
	case 0:
		return record{at: *base + (int(b[1])<<8 | int(b[2])), data: data}, nil
	case 1:
		return record{end: true}, nil
	case 2, 4:
		if len(data) != 2 {
			return record{}, fmt.Errorf("an address record has %d bytes, expected 2", len(data))
		}
		shift := 4
		if b[3] == 4 {
			shift = 16
		}
		*base = (int(data[0])<<8 | int(data[1])) << shift
		return record{}, nil
	case 3, 5: // where a program starts: nothing that a memory holds
		return record{}, nil
	}
	return record{}, fmt.Errorf("record type %02X is not Intel HEX", b[3])
}

// motorola unpacks one S-record.
func motorola(line string, _ *int) (record, error) {
	if line[0] != 'S' || len(line) < 4 {
		return record{}, fmt.Errorf("a record begins with S and a digit, found %.20q", line)
	}
	b, err := hex.DecodeString(line[2:])
	if err != nil || len(b) < 2 || len(b) != int(b[0])+1 {
		return record{}, fmt.Errorf("%.40q is no whole record", line)
	}
	if s := sum(b); s != 0xFF {
		return record{}, fmt.Errorf("the checksum is %02X, expected %02X", b[len(b)-1], b[len(b)-1]+0xFF-s)
	}
	wide, ok := map[byte]int{'0': 2, '1': 2, '2': 3, '3': 4, '5': 2, '6': 3, '7': 4, '8': 3, '9': 2}[line[1]]
	if !ok {
		return record{}, fmt.Errorf("there is no record S%c", line[1])
	}
	if len(b) < wide+2 {
		return record{}, fmt.Errorf("%.40q has no whole address", line)
	}
	at := 0
	for _, x := range b[1 : 1+wide] {
		at = at<<8 | int(x)
	}
	switch line[1] {
	case '1', '2', '3':
		return record{at: at, data: b[1+wide : len(b)-1]}, nil
	case '7', '8', '9':
		return record{end: true}, nil
	}
	return record{}, nil // S0 a title, S5 and S6 a count
}

func sum(b []byte) byte {
	var s byte
	for _, x := range b {
		s += x
	}
	return s
}

// Write packs bytes from start on into a format: Intel HEX with 16 bytes a line and type 04 records, S-records of the shortest address form, or as they are.
func Write(format Format, start int, data []byte) ([]byte, error) {
	if start < 0 || start+len(data) > Largest {
		return nil, fmt.Errorf("addresses %X to %X are more than an image holds", start, start+len(data)-1)
	}
	var out strings.Builder
	line := func(head string, b []byte, inverse bool) {
		c := -sum(b)
		if inverse {
			c = ^sum(b)
		}
		fmt.Fprintf(&out, "%s%X\n", head, append(b, c))
	}
	switch format {
	case Raw:
		return slices.Clone(data), nil
	case IntelHex:
		high := 0
		for i := 0; i < len(data); {
			at := start + i
			if at>>16 != high {
				high = at >> 16
				line(":", []byte{2, 0, 0, 4, byte(high >> 8), byte(high)}, false)
			}
			n := min(16, len(data)-i, 1<<16-at&0xFFFF)
			line(":", append([]byte{byte(n), byte(at >> 8), byte(at), 0}, data[i:i+n]...), false)
			i += n
		}
		line(":", []byte{0, 0, 0, 1}, false)
	case SRecord:
		kind, end, wide := "S1", "S9", 2
		if start+len(data) > 1<<16 {
			kind, end, wide = "S2", "S8", 3
		}
		for i := 0; i < len(data); i += 16 {
			n := min(16, len(data)-i)
			line(kind, append(address(n, start+i, wide), data[i:i+n]...), true)
		}
		line(end, address(0, 0, wide), true)
	default:
		return nil, fmt.Errorf("no format %s", format)
	}
	return []byte(out.String()), nil
}

// address is the count and address of an S-record with n data bytes.
func address(n, at, wide int) []byte {
	b := []byte{byte(n + wide + 1)}
	for i := wide - 1; i >= 0; i-- {
		b = append(b, byte(at>>(8*i)))
	}
	return b
}
