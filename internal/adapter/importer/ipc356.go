package importer

// IPC-D-356A, "Bare Substrate Electrical Test Data Format" (IPC, 1998): records of 80 columns. Read are the parameters (P), the test
// records 317 and 327 with what continues them (017, 027), and the records of nets that lie side by side (379, 079). Columns from 1:
//
//	1-3 operation code    4-17 net, or the name that a P NNAME record explains    21-26 part, or VIA    27 -    28-31 pin
//	32 M for a point in the middle of a net    33-38 hole    39-41 access: A00 both sides, A01 the first, else another
//	42-49 X and seven columns    50-57 Y and seven columns    58-71 size and rotation    73-74 solder mask
//
// The layout is written down from memory of the published tables and agrees with public samples of the format.

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"halfsplit/internal/core/board"
)

type ipcReader struct {
	*reader
	scale  float64           // millimetres for one unit of X and Y
	long   map[string]string // NNAME1 → the whole name
	net    string            // of the test record before
	beside string            // of the 379 record before
	pads   map[string][]pad
	other  map[string]int // other records by operation code
	first  map[string]int // line of the first of them
}

type pad struct {
	pin    string
	x, y   float64
	bottom bool
}

// inch4 is 0.0001 inch in millimetres, the unit of UNITS CUST 0; UNITS SI and CUST 1 count in 0.001 mm.
const (
	inch4    = 0.00254
	millesim = 0.001
)

func (r *reader) ipc356(text string) {
	i := &ipcReader{reader: r, scale: inch4, long: map[string]string{}, pads: map[string][]pad{}, other: map[string]int{}, first: map[string]int{}}
	for number, line := range lines(text) { // names may be explained after they are used
		if strings.HasPrefix(line, "P") || strings.HasPrefix(line, "C  NNAME") {
			i.parameter(strings.TrimRight(line, " \t"), number)
		}
	}
	ended, last := 0, 0
	for number, line := range lines(text) {
		line = strings.TrimRight(line, " \t")
		if line == "" || r.stopped {
			continue
		}
		if ended > 0 {
			r.warnf(number, "", "", "records after the end record 999 of line %d are passed over", ended)
			break
		}
		last = number
		switch code := line[:min(3, len(line))]; {
		case line[0] == 'P' || line[0] == 'C':
		case code == "999":
			ended = number
		case strings.Contains(line, "\t"):
			i.errorf(number, "", "write it with blanks", "a tab stands in a record of fixed columns: %s", short(line))
		case code == "317" || code == "327" || code == "337" || code == "347" || code == "307":
			i.test(line, number)
		case code == "017" || code == "027" || code == "037" || code == "047" || code == "007":
			i.more(line, number)
		case code == "379":
			i.beside = i.netName(cut(line, 4, 17))
			i.adjacent(line[min(17, len(line)):])
		case code == "079":
			i.adjacent(line[3:])
		case len(code) == 3 && digits(code) == 3:
			if i.other[code]++; i.other[code] == 1 {
				i.first[code] = number
			}
		default:
			i.errorf(number, "", "is the file cut off or not IPC-D-356A?", "not a record: %s", short(line))
		}
	}
	if ended == 0 && !r.stopped {
		i.errorf(last, "", "is the file cut off?", "the end record 999 is missing")
	}
	for _, code := range sortedKeys(i.other) {
		i.warnf(i.first[code], code, "", "%s: %s are passed over", plural(i.other[code], "record "+code, "records "+code), ipcWords[code])
	}
	i.places()
}

// ipcWords says what other records hold.
var ipcWords = map[string]string{"367": "tooling holes", "067": "tooling holes", "378": "tracks", "078": "tracks", "389": "board outlines", "089": "board outlines",
	"390": "data of other kinds", "090": "data of other kinds", "099": "places of test points", "399": "places of test points", "380": "tracks", "080": "tracks"}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return itoa(n) + " " + many
}

// cut returns columns from to to, from 1, without the blanks around.
func cut(line string, from, to int) string {
	if len(line) < from {
		return ""
	}
	return strings.TrimSpace(line[from-1 : min(to, len(line))])
}

// parameter reads P  UNITS CUST 0, P  JOB name, P  VER IPC-D-356A, P  NNAME1  long name.
func (i *ipcReader) parameter(line string, number int) {
	words := strings.Fields(line[1:])
	if len(words) == 0 {
		return
	}
	word, rest := strings.ToUpper(words[0]), strings.Join(words[1:], " ")
	switch {
	case strings.HasPrefix(word, "NNAME"):
		i.nname(words, number)
	case word == "JOB" || word == "TITLE":
		if i.n.title == "" && rest != "" {
			i.n.title = rest
		}
	case word == "UNITS":
		i.units(strings.ToUpper(rest), number)
	case word == "VER":
		if up := strings.ToUpper(rest); up != "IPC-D-356A" && up != "IPC-D-356" {
			i.errorf(number, "VER", "export IPC-D-356A", "the file is %s; it is read as IPC-D-356A, which may be wrong", short(rest))
		}
	case word == "IMAGE":
		if up := strings.ToUpper(rest); up != "" && up != "PRIMARY" {
			i.warnf(number, "IMAGE", "", "image %s is a further copy of the board and is not read as one", short(rest))
		}
	}
}

func (i *ipcReader) units(rest string, number int) {
	switch rest {
	case "CUST 0", "CUST", "ENGL", "CUST 2":
		i.scale = inch4
	case "SI", "CUST 1":
		i.scale = millesim
	default:
		i.errorf(number, "UNITS", "known: CUST 0, CUST 1, CUST 2, SI", "units %s are not known; 0.0001 inch is taken, so places may be wrong", short(rest))
	}
}

func (i *ipcReader) nname(words []string, number int) {
	name, full := words[0], strings.Join(words[1:], " ")
	if len(words[0]) == len("NNAME") && len(words) > 2 { // P  NNAME 1 long name
		name, full = words[0]+words[1], strings.Join(words[2:], " ")
	}
	if full == "" || len(name) == len("NNAME") {
		i.errorf(number, name, "is the file cut off?", "%s does not say what it stands for", name)
		return
	}
	for _, key := range []string{name, name[len("NNAME"):]} { // both spellings are met in the net's columns
		if old, ok := i.long[key]; ok && old != full {
			i.errorf(number, name, "the first is kept", "%s stands for %s here and for %s before", name, short(full), short(old))
			return
		}
		i.long[key] = full
	}
}

func (i *ipcReader) netName(field string) string {
	if full, ok := i.long[field]; ok {
		return full
	}
	return field
}

// test reads a test record: the pin of a part, or a via.
func (i *ipcReader) test(line string, number int) {
	field := cut(line, 4, 17)
	i.net = i.netName(field)
	if strings.HasPrefix(field, "NNAME") && i.net == field {
		i.errorf(number, field, "", "no P record says what %s stands for", field)
	}
	i.pinOf(line, number)
}

// more reads a record that continues a test record: a further point of the same net where it names one.
func (i *ipcReader) more(line string, number int) {
	if cut(line, 21, 26) != "" && len(line) > 27 && line[26] == '-' {
		if field := cut(line, 4, 17); field != "" {
			i.net = i.netName(field)
		}
		i.pinOf(line, number)
	}
}

func (i *ipcReader) pinOf(line string, number int) {
	ref, pin := cut(line, 21, 26), cut(line, 28, 31)
	switch {
	case len(line) < 31 && (len(line) < 27 || pin == "") && ref != "VIA":
		i.errorf(number, "", "is the file cut off?", "a test record of %d columns: %s", len(line), short(line))
		return
	case ref == "VIA" || ref == "" && pin == "":
		return
	case ref == "":
		i.errorf(number, "", "", "pin %s belongs to no part", pin)
		return
	case pin == "":
		i.warnf(number, ref, "", "a point of %s has no pin number; it is passed over", ref)
		return
	}
	p := i.part(ref, number)
	if p == nil {
		return
	}
	net := i.net
	if net == "" || unconnected[strings.ToUpper(net)] {
		net = "-"
	}
	i.pin(p, pin, net, number)
	x, okX := coordinate(line, 42, 'X')
	y, okY := coordinate(line, 50, 'Y')
	switch {
	case okX && okY:
		access := cut(line, 39, 41)
		bottom := len(access) == 3 && access[0] == 'A' && access != "A00" && access != "A01"
		i.pads[ref] = append(i.pads[ref], pad{pin, x * i.scale, y * i.scale, bottom})
	case len(line) > 41:
		i.errorf(number, ref+"."+pin, "", "no place in columns 42 to 57: %s", short(line[41:]))
	}
}

// coordinate reads X+012345 at a column.
func coordinate(line string, column int, letter byte) (float64, bool) {
	if len(line) < column+2 || line[column-1] != letter {
		return 0, false
	}
	s := line[column:min(column+7, len(line))]
	v, err := strconv.Atoi(strings.TrimPrefix(strings.TrimSpace(s), "+"))
	return float64(v), err == nil
}

// adjacent reads the nets that lie beside the net of the 379 record.
func (i *ipcReader) adjacent(rest string) {
	for _, f := range strings.Fields(rest) {
		if i.beside != "" && len(i.n.near) < maxParts {
			i.n.near = append(i.n.near, [2]string{i.beside, i.netName(f)})
		}
	}
}

// places puts each part in the middle of its pads. The file counts y upwards, a board file downwards as on a photo: y is turned over at the
// highest pad. A turn is that of the way from pin 1 to pin 2, clockwise from the right, seen from the part's own side.
func (i *ipcReader) places() {
	top := math.Inf(-1)
	for _, pads := range i.pads {
		for _, d := range pads {
			top = max(top, d.y)
		}
	}
	for _, p := range i.n.parts {
		pads := i.pads[p.ref]
		if len(pads) == 0 || p.place != nil {
			continue
		}
		lo, hi := pads[0], pads[0]
		at := map[string]pad{}
		for _, d := range pads {
			lo.x, lo.y, hi.x, hi.y = min(lo.x, d.x), min(lo.y, d.y), max(hi.x, d.x), max(hi.y, d.y)
			at[d.pin] = d
		}
		bottom := !slices.ContainsFunc(pads, func(d pad) bool { return !d.bottom })
		pl := &board.Place{X: round3((lo.x + hi.x) / 2), Y: round3(top - (lo.y+hi.y)/2), Side: map[bool]string{true: "bottom", false: "top"}[bottom]}
		a, ok1 := at["1"]
		b, ok2 := at["2"]
		if ok1 && ok2 && a != b {
			dx, dy := b.x-a.x, b.y-a.y
			if bottom {
				dx = -dx
			}
			turn := math.Atan2(-dy, dx) * 180 / math.Pi
			pl.Turn = math.Mod(math.Round(turn)+360, 360)
		}
		if math.Abs(pl.X) < 1e4 && math.Abs(pl.Y) < 1e4 {
			p.place = pl
		}
	}
}

func round3(v float64) float64 { return math.Round(v*1000) / 1000 }
