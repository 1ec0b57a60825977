package yamlfile

// What is in a memory: raw bytes, Intel HEX (.hex), S-records (.s19 .s28 .s37 .srec .mot) or hexadecimal bytes as text (.txt);
// in programmable logic: a fuse map in the JEDEC format (.jed, .jedec).

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"path"
	"path/filepath"
	"strconv"
	"strings"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/romfile"
)

func (r *boardReader) readContents(n *node, p *board.Part) {
	name, ok := r.name(n, p.Ref, "the name of a contents file")
	if !ok {
		return
	}
	if path.IsAbs(name) || !filepath.IsLocal(filepath.FromSlash(name)) || strings.Contains(name, `\`) {
		r.errorf(n, p.Ref, "put the file beside the board file and write its name, with / before subfolders", "%s does not lie in the board's folder or below", quote(name))
		return
	}
	p.ContentsFile = name
	if r.open == nil {
		r.errorf(n, p.Ref, "", "contents file %s cannot be read here", quote(name))
		return
	}
	data, err := r.open(name)
	if err == nil && len(data) > maxContents {
		err = tooBig(int64(len(data)), maxContents)
	}
	if err != nil {
		r.errorf(n, p.Ref, "", "contents file %s: %v", quote(name), err)
		return
	}
	if isFuseMap(name) {
		r.readFuses(n, p, name, data)
		return
	}
	var start int
	switch strings.ToLower(path.Ext(name)) {
	case ".hex":
		data, start, err = records(data, romfile.IntelHex, "a colon")
	case ".s19", ".s28", ".s37", ".srec", ".mot":
		data, start, err = records(data, romfile.SRecord, "S0 to S9")
	case ".txt":
		data, err = hexText(data)
	}
	switch {
	case err != nil:
		r.errorf(n, p.Ref, "", "contents file %s: %v", quote(name), err)
	case len(data) == 0:
		r.errorf(n, p.Ref, "", "contents file %s holds no bytes", quote(name))
	default:
		if start > 0 {
			r.warnf(n, p.Ref, "write the addresses as the memory sees them, from 0", "contents file %s begins at address %04X; the bytes before it are taken as FF", quote(name), start)
		}
		p.Contents = data
	}
}

// records unpacks Intel HEX or S-records and returns the bytes from address 0 and the first address written. Gaps read FF, as an erased EPROM does.
func records(text []byte, format romfile.Format, begins string) (data []byte, start int, err error) {
	img, err := romfile.Read(text)
	switch {
	case err != nil:
		return nil, 0, err
	case img.Format != format:
		return nil, 0, fmt.Errorf("line 1: a record begins with %s", begins)
	case img.Start+len(img.Data) > maxContents:
		return nil, 0, fmt.Errorf("address %X lies beyond %X, the largest memory", img.Start+len(img.Data)-1, maxContents-1)
	}
	return append(bytes.Repeat([]byte{0xFF}, img.Start), img.Data...), img.Start, nil
}

// hexText reads bytes written as hexadecimal, apart or run together, with 0x or without; # and ; begin comments.
func hexText(text []byte) ([]byte, error) {
	var out []byte
	for i, line := range strings.Split(string(text), "\n") {
		if k := strings.IndexAny(line, "#;"); k >= 0 {
			line = line[:k]
		}
		for _, w := range strings.FieldsFunc(line, func(c rune) bool { return strings.ContainsRune(" \t\r,", c) }) {
			digits := strings.TrimPrefix(strings.TrimPrefix(w, "0x"), "0X")
			if len(digits) == 1 {
				digits = "0" + digits
			}
			b, err := hex.DecodeString(digits)
			if err != nil || len(b) == 0 {
				return nil, fmt.Errorf("line %s: expected bytes such as C3 0F, found %s (leave addresses out)", strconv.Itoa(i+1), quote(w))
			}
			out = append(out, b...)
		}
	}
	return out, nil
}
