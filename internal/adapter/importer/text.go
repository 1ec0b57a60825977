package importer

// Bytes to text: encodings, line ends, control characters.

import (
	"bytes"
	"encoding/binary"
	"iter"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// decode returns the text as UTF-8 with lines ended by \n. What had to be assumed is a finding.
func (r *reader) decode(data []byte) string {
	cut := len(data) > MaxFile
	if cut {
		data = data[:MaxFile]
	}
	text := r.unicode(data)
	if strings.IndexByte(text, '\r') >= 0 {
		text = strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
	}
	text = r.controls(text)
	switch {
	case cut:
		r.errorf(1+strings.Count(text, "\n"), "", "split the design", "the file is cut off here: at most %d MiB are read", MaxFile>>20)
	case strings.TrimSpace(text) == "" && len(r.list) == 0:
		r.errorf(1, "", "", "the file is empty")
	}
	return text
}

// unicode takes UTF-8, UTF-16 with a byte order mark or with every second byte zero, and else Windows-1252.
func (r *reader) unicode(data []byte) string {
	order, wide := wideText(data)
	switch {
	case wide:
		if len(data)%2 != 0 {
			r.errorf(0, "", "", "the file is UTF-16 and ends in the middle of a character")
		}
		units := make([]uint16, len(data)/2)
		for i := range units {
			units[i] = order.Uint16(data[2*i:])
		}
		return strings.TrimPrefix(string(utf16.Decode(units)), "\uFEFF")
	case utf8.Valid(data):
		return strings.TrimPrefix(string(data), "\uFEFF")
	}
	var b strings.Builder
	b.Grow(len(data) + len(data)/8)
	first := -1
	for i, c := range data {
		switch {
		case c < utf8.RuneSelf:
			b.WriteByte(c)
			continue
		case c < 0xA0:
			b.WriteRune(windows1252[c-0x80])
		default:
			b.WriteRune(rune(c))
		}
		if first < 0 {
			first = i
		}
	}
	r.warnf(lineOf(data[:first]), "", "save it as UTF-8 if a name looks wrong", "byte %02X is not UTF-8; the file is read as Windows-1252", data[first])
	return b.String()
}

// lineOf counts lines as every line end does, also a lone carriage return.
func lineOf(before []byte) int {
	return 1 + bytes.Count(before, []byte("\n")) + bytes.Count(before, []byte("\r")) - bytes.Count(before, []byte("\r\n"))
}

func wideText(data []byte) (binary.ByteOrder, bool) {
	switch {
	case bytes.HasPrefix(data, []byte{0xFF, 0xFE}):
		return binary.LittleEndian, true
	case bytes.HasPrefix(data, []byte{0xFE, 0xFF}):
		return binary.BigEndian, true
	}
	head := data[:min(len(data), 512)]
	var zero [2]int
	for i, c := range head {
		if c == 0 {
			zero[i%2]++
		}
	}
	switch n := len(head) / 2; {
	case n >= 4 && zero[1] > n*3/4 && zero[0] == 0:
		return binary.LittleEndian, true
	case n >= 4 && zero[0] > n*3/4 && zero[1] == 0:
		return binary.BigEndian, true
	}
	return nil, false
}

// windows1252 is what the bytes 80 to 9F mean (the table published by Unicode, VENDORS/MICSFT/WINDOWS/CP1252); the five that mean nothing are kept apart.
var windows1252 = [32]rune{'€', '\uFFFD', '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', '\uFFFD', 'Ž', '\uFFFD',
	'\uFFFD', '‘', '’', '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', '\uFFFD', 'ž', 'Ÿ'}

// controls puts blanks in place of control characters, and gives up on what is mostly such.
func (r *reader) controls(text string) string {
	bad := func(c rune) bool { return c < ' ' && c != '\n' && c != '\t' || c >= 0x7F && c < 0xA0 }
	at := strings.IndexFunc(text, bad)
	if at < 0 {
		return text
	}
	head, n := text[:min(len(text), 4096)], 0
	for _, c := range head {
		if bad(c) {
			n++
		}
	}
	line := 1 + strings.Count(text[:at], "\n")
	if n > len(head)/10 {
		r.errorf(line, "", "export a text format", "this is not a text file: it is full of control characters")
		return ""
	}
	c, _ := utf8.DecodeRuneInString(text[at:])
	r.warnf(line, "", "", "a control character (code %02X) does not belong here; a blank is taken in its place", c)
	return strings.Map(func(c rune) rune {
		if bad(c) {
			return ' '
		}
		return c
	}, text)
}

// lines goes over the lines of a text with their numbers from 1, without their ends.
func lines(text string) iter.Seq2[int, string] {
	return func(yield func(int, string) bool) {
		for n := 1; text != ""; n++ {
			line, rest, _ := strings.Cut(text, "\n")
			if !yield(n, line) {
				return
			}
			text = rest
		}
	}
}
