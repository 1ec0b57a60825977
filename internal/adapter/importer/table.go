package importer

// Tables as spreadsheets export them: the delimiter, the cells, which column is what.

import (
	"regexp"
	"strings"
)

// row is one record of a table; line is where it begins.
type row struct {
	line  int
	cells []string
}

// maxJoined is over how many lines a quoted cell may run.
const maxJoined = 30

// delimiter is the one of ; , tab | that divides most of the first lines alike; 0 when none does.
func delimiter(head string) byte {
	best, bestScore := byte(0), 0
	for _, d := range []byte{'\t', ';', ',', '|'} {
		counts := map[int]int{}
		n := 0
		for number, line := range lines(head) {
			if number > 50 {
				break
			}
			if strings.TrimSpace(line) == "" || strings.HasPrefix(strings.TrimSpace(line), "#") {
				continue
			}
			n++
			counts[len(split(line, d))-1]++
		}
		score := 0
		for fields, times := range counts {
			if fields > 0 {
				score = max(score, times*8+min(fields, 7))
			}
		}
		if score > bestScore && n > 0 {
			best, bestScore = d, score
		}
	}
	return best
}

// split cuts a line at a delimiter outside quotes, and takes the quotes off.
func split(line string, d byte) []string {
	var out []string
	for {
		trimmed := strings.TrimLeft(line, " ")
		if strings.HasPrefix(trimmed, `"`) {
			cell, rest, closed := quoted(trimmed[1:])
			if i := strings.IndexByte(rest, d); closed && strings.TrimSpace(rest[:max(i, 0)]) == "" && (i >= 0 || strings.TrimSpace(rest) == "") {
				out = append(out, cell)
				if i < 0 {
					return out
				}
				line = rest[i+1:]
				continue
			}
		}
		i := strings.IndexByte(line, d)
		if i < 0 {
			return append(out, strings.TrimSpace(line))
		}
		out = append(out, strings.TrimSpace(line[:i]))
		line = line[i+1:]
	}
}

// quoted reads up to the closing quote; two quotes are one.
func quoted(s string) (cell, rest string, closed bool) {
	var b strings.Builder
	for {
		i := strings.IndexByte(s, '"')
		if i < 0 {
			return "", s, false
		}
		b.WriteString(s[:i])
		s = s[i+1:]
		if !strings.HasPrefix(s, `"`) {
			return strings.Join(strings.Fields(b.String()), " "), s, true
		}
		b.WriteByte('"')
		s = s[1:]
	}
}

// rows goes over the records of a table. Blank lines and lines that begin with # are passed over.
func (r *reader) rows(text string, d byte, yield func(row) bool) {
	var held strings.Builder
	first, joined := 0, 0
	flush := func(line string, number int) bool {
		if d == ' ' {
			return yield(row{number, strings.Fields(line)})
		}
		return yield(row{number, split(line, d)})
	}
	for number, line := range lines(text) {
		if joined == 0 && (strings.TrimSpace(line) == "" || strings.HasPrefix(strings.TrimSpace(line), "#")) {
			continue
		}
		odd := strings.Count(line, `"`)%2 == 1
		if joined == 0 && !odd {
			if !flush(line, number) {
				return
			}
			continue
		}
		if joined == 0 {
			first = number
		}
		held.WriteString(line)
		joined++
		switch {
		case joined > 1 && odd:
		case joined > maxJoined:
			r.errorf(first, "", "close it", "a quote in this line is never closed; what follows it is taken as it stands")
			all := strings.Split(held.String(), "\n")
			held.Reset()
			joined = 0
			for i, l := range all {
				if !flush(strings.ReplaceAll(l, `"`, ""), first+i) {
					return
				}
			}
			continue
		default:
			held.WriteByte('\n')
			continue
		}
		whole := held.String()
		held.Reset()
		joined = 0
		if !flush(whole, first) {
			return
		}
	}
	if joined > 0 {
		r.errorf(first, "", "close it; is the file cut off?", "a quote in this line is never closed")
		for i, l := range strings.Split(strings.TrimSuffix(held.String(), "\n"), "\n") {
			if !flush(strings.ReplaceAll(l, `"`, ""), first+i) {
				return
			}
		}
	}
}

// column is what stands in a column.
type column uint8

const (
	other column = iota
	refColumn
	pinColumn
	netColumn
	typeColumn
	valueColumn
	xColumn
	yColumn
	sideColumn
	turnColumn
	nodeColumn // U1.3 in one cell
)

// headings are the words that spreadsheets and layout programs put above their columns, lower case, letters only (common practice, no source).
var headings = map[string]column{
	"ref": refColumn, "refs": refColumn, "refdes": refColumn, "reference": refColumn, "references": refColumn, "designator": refColumn, "designators": refColumn,
	"referencedesignator": refColumn, "referencedesignators": refColumn, "location": refColumn, "position": refColumn,
	"bauteil": refColumn, "schematicreference": refColumn, "chip": refColumn, "ic": refColumn,
	"pin": pinColumn, "pinno": pinColumn, "pinnumber": pinColumn, "pinnr": pinColumn, "pad": pinColumn, "pinnum": pinColumn, "terminal": pinColumn, "pinname": pinColumn,
	"net": netColumn, "netname": netColumn, "signal": netColumn, "signalname": netColumn, "netz": netColumn, "node": netColumn, "wire": netColumn, "connection": netColumn,
	"type": typeColumn, "partnumber": typeColumn, "partno": typeColumn, "mpn": typeColumn, "device": typeColumn, "parttype": typeColumn, "manufacturerpartnumber": typeColumn,
	"mfrpartnumber": typeColumn, "typ": typeColumn, "description": typeColumn, "marking": typeColumn,
	"value": valueColumn, "val": valueColumn, "comment": valueColumn, "wert": valueColumn, "partvalue": valueColumn,
	"x": xColumn, "posx": xColumn, "xpos": xColumn, "midx": xColumn, "centerx": xColumn, "xmm": xColumn, "posxmm": xColumn, "centerxmm": xColumn, "midxmm": xColumn, "xlocation": xColumn,
	"y": yColumn, "posy": yColumn, "ypos": yColumn, "midy": yColumn, "centery": yColumn, "ymm": yColumn, "posymm": yColumn, "centerymm": yColumn, "midymm": yColumn, "ylocation": yColumn,
	"side": sideColumn, "layer": sideColumn, "tb": sideColumn,
	"rotation": turnColumn, "rot": turnColumn, "angle": turnColumn, "turn": turnColumn,
	"pins": nodeColumn, "nodes": nodeColumn, "connections": nodeColumn, "refpin": nodeColumn, "partpin": nodeColumn,
}

// either are words that stand above the references in one list and above the types in another.
var either = map[string]bool{"part": true, "parts": true, "component": true, "components": true}

func heading(cell string) column { return headings[letters(cell)] }

func letters(cell string) string {
	var b strings.Builder
	for _, c := range strings.ToLower(cell) {
		if c >= 'a' && c <= 'z' {
			b.WriteRune(c)
		}
	}
	return b.String()
}

// header gives the column of each kind; nil when the cells are no header. Of two columns of one kind the first counts.
func header(cells []string) map[column]int {
	out := map[column]int{}
	for i, c := range cells {
		if k := heading(c); k != other {
			if _, taken := out[k]; !taken {
				out[k] = i
			}
		}
	}
	for i, c := range cells {
		if either[letters(c)] {
			for _, k := range []column{refColumn, typeColumn} {
				if _, taken := out[k]; !taken {
					out[k] = i
					break
				}
			}
		}
	}
	for _, c := range cells { // a header has no reference in it
		if refWord.MatchString(c) {
			return nil
		}
	}
	if len(out) < 2 {
		return nil
	}
	return out
}

// refWord is a reference designator: letters, then a number (IEEE 315-1975, clause 22), with a letter for a section at the end.
var refWord = regexp.MustCompile(`^[A-Za-z]{1,6}[0-9]{1,5}[A-Za-z]?$`)

// nodeWord is a pin of a part: U1.3, U1-3, U1:3, U1/3, U1(3).
var nodeWord = regexp.MustCompile(`^([A-Za-z]{1,6}[0-9]{1,5}[A-Za-z]?)[.:/(-]([^\s.:(),;]{1,20}?)\)?$`)

func node(s string) (ref, pin string, ok bool) {
	m := nodeWord.FindStringSubmatch(s)
	if m == nil {
		return "", "", false
	}
	return m[1], m[2], true
}

// sniffTable tells a pin list from a bill of materials.
func sniffTable(head string) Format {
	if d := delimiter(head); d != 0 {
		n := 0
		for _, line := range lines(head) {
			if strings.TrimSpace(line) == "" || strings.HasPrefix(strings.TrimSpace(line), "#") {
				continue
			}
			h := header(split(line, d))
			has := func(k column) bool { _, ok := h[k]; return ok }
			switch {
			case has(netColumn) && (has(pinColumn) || has(nodeColumn) || has(refColumn)):
				return PinList
			case has(refColumn) && (has(typeColumn) || has(valueColumn) || has(xColumn)):
				return BOM
			}
			if n++; n == 20 {
				break
			}
		}
		if c := guessColumns(head, d); c != nil {
			return PinList
		}
	}
	nodes, refs, n := 0, 0, 0
	for number, line := range lines(head) {
		if number > lookedLines {
			break
		}
		words := strings.FieldsFunc(line, listed)
		if len(words) < 2 || strings.HasPrefix(words[0], "#") {
			continue
		}
		n++
		if _, _, ok := node(words[len(words)-1]); ok {
			nodes++
		} else if refWord.MatchString(words[0]) {
			refs++
		}
	}
	switch {
	case n > 0 && 2*nodes > n:
		return PinList
	case n > 0 && 2*refs > n:
		return BOM
	}
	return Unknown
}

// listed divides words of a list.
func listed(c rune) bool { return strings.ContainsRune(" \t,;|=\"", c) }
