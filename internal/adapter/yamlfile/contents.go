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
		data, start, err = intelHex(data)
	case ".s19", ".s28", ".s37", ".srec", ".mot":
		data, start, err = sRecords(data)
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

// sRecords unpacks S-records and returns the bytes from address 0 and the first address written.
func sRecords(text []byte) (data []byte, start int, err error) {
	img, err := romfile.Read(text)
	switch {
	case err != nil:
		return nil, 0, err
	case img.Format != romfile.SRecord:
		return nil, 0, fmt.Errorf("line 1: a record begins with S0 to S9")
	case img.Start+len(img.Data) > maxContents:
		return nil, 0, fmt.Errorf("address %X lies beyond %X, the largest memory", img.Start+len(img.Data)-1, maxContents-1)
	}
	return append(bytes.Repeat([]byte{0xFF}, img.Start), img.Data...), img.Start, nil
}

// intelHex unpacks Intel HEX (the published format, records 00 to 05) and returns the bytes from address 0 and the first
// address written. Gaps read FF, as an erased EPROM does.
func intelHex(text []byte) (data []byte, start int, err error) {
	var written []bool
	base, start := 0, -1
	lines := strings.Split(string(bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n"))), "\n")
	for i, line := range lines {
		if line = strings.TrimSpace(line); line == "" {
			continue
		}
		bad := func(format string, args ...any) ([]byte, int, error) {
			return nil, 0, fmt.Errorf("line %d: "+format, append([]any{i + 1}, args...)...)
		}
		rec, sum, err := hexRecord(line)
		if err != nil {
			return bad("%v", err)
		}
		if sum != 0 {
			return bad("the checksum is %02X, expected %02X", rec[len(rec)-1], rec[len(rec)-1]-sum)
		}
		count, addr, payload := int(rec[0]), int(rec[1])<<8|int(rec[2]), rec[4:len(rec)-1]
		switch rec[3] {
		case 0:
			at := base + addr
			if at+count > maxContents {
				return bad("address %X lies beyond %X, the largest memory", at+count-1, maxContents-1)
			}
			for len(data) < at+count {
				data, written = append(data, 0xFF), append(written, false)
			}
			for k, b := range payload {
				if written[at+k] && data[at+k] != b {
					return bad("address %X is given twice with different bytes", at+k)
				}
				data[at+k], written[at+k] = b, true
			}
			if count > 0 && (start < 0 || at < start) {
				start = at
			}
		case 1:
			return data, max(start, 0), nil
		case 2, 4:
			if count != 2 {
				return bad("an address record has %d bytes, expected 2", count)
			}
			base = (int(payload[0])<<8 | int(payload[1])) << map[byte]int{2: 4, 4: 16}[rec[3]]
		case 3, 5: // where a program starts: nothing that a memory holds
		default:
			return bad("record type %02X is not Intel HEX", rec[3])
		}
	}
	return nil, 0, fmt.Errorf("the end record :00000001FF is missing; the file is cut off or not Intel HEX")
}

// hexRecord reads `:LLAAAATT…CC` and the sum of its bytes, 0 when the checksum is right.
func hexRecord(line string) (rec []byte, sum byte, err error) {
	if line[0] != ':' {
		return nil, 0, fmt.Errorf("a record begins with a colon, found %s", quote(line))
	}
	rec, err = hex.DecodeString(line[1:])
	if err != nil || len(rec) < 5 || len(rec) != int(rec[0])+5 {
		return nil, 0, fmt.Errorf("not a whole Intel HEX record: %s", quote(line))
	}
	for _, b := range rec {
		sum += b
	}
	return rec, sum, nil
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
