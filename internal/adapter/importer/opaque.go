package importer

// Records for parts that the library does not know: pins, and which way they go as far as the wiring tells.

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

// maxRecordPins is how many pins a part record may have.
const maxRecordPins = 128

// record is a part record to be written.
type record struct {
	name, title, source, prior, logic, families string
	pins                                        []string // names by number, from 1
	words                                       map[string]string
	dirs                                        map[string]direction
	supply                                      map[string]float64
}

// pin is how the board writes a pin of the file; "" when the record has no room for it.
func (r *record) pin(word string) string { return r.words[word] }

// drives reports whether a pin, as the board writes it, may drive its net.
func (r *record) drives(word string) bool {
	name := word
	if digits(word) == len(word) && atoi(word) >= 1 && atoi(word) <= len(r.pins) {
		name = r.pins[atoi(word)-1]
	}
	return r.dirs[name] == out || r.dirs[name] == inout
}

// gateRecords are gates of netlists that a board has no word for: flip-flops of ISCAS-89, three-state gates of IEEE 1364-2005, 7.4.
var gateRecords = map[string]func() *record{
	"dff": func() *record {
		return gateRecord("dff", "D flip-flop", "D CLK Q", "store q: rise CLK -> D\nQ = q", "ISCAS-89 bench format")
	},
	"bufif1": func() *record {
		return gateRecord("bufif1", "buffer, drives while E is high", "Y A E", "tri Y = A when E", ieee)
	},
	"bufif0": func() *record {
		return gateRecord("bufif0", "buffer, drives while E is low", "Y A E", "tri Y = A when !E", ieee)
	},
	"notif1": func() *record {
		return gateRecord("notif1", "inverter, drives while E is high", "Y A E", "tri Y = !A when E", ieee)
	},
	"notif0": func() *record {
		return gateRecord("notif0", "inverter, drives while E is low", "Y A E", "tri Y = !A when !E", ieee)
	},
}

const ieee = "IEEE 1364-2005, 7.4"

func gateRecord(name, title, pins, logic, source string) *record {
	r := &record{name: name, title: title, pins: strings.Fields(pins), logic: logic, source: source, prior: "ssi", families: "ttl", words: map[string]string{}}
	for _, p := range r.pins {
		r.words[p] = p
	}
	return r
}

// describeUnknown makes one record for each type that is not known.
func (j *joiner) describeUnknown() {
	groups := map[string][]*npart{}
	var order []string
	for _, p := range j.unknown {
		p.given = p.typ != "" || p.value != ""
		typ, _ := newWords().clean(cmp.Or(p.typ, p.value, "unknown-"+strings.ToLower(p.ref)), false)
		if p.given && j.plausible(strings.ToUpper(typ)) && j.misses < maxMisses {
			j.misses++
			if _, err := j.lib.Find(typ); err == nil || !strings.HasPrefix(err.Error(), "unknown part type") {
				typ += "-unknown" // the library would take the name for another part
			}
		}
		key := strings.ToUpper(typ)
		if len(groups[key]) == 0 {
			order = append(order, key)
			p.typ = typ
		} else {
			p.typ = groups[key][0].typ
		}
		groups[key] = append(groups[key], p)
		j.res.Unknown = append(j.res.Unknown, p.ref)
	}
	if len(order) == 0 {
		return
	}
	names := j.lib.Names()
	driven := j.hardDriven()
	for i, key := range order {
		g := groups[key]
		r := newRecord(g)
		j.records[g[0].typ] = r
		r.directions(g, driven, j.rails)
		r.supplies(g, j.rails)
		hint := ""
		if i < maxFindings && g[0].given {
			if near := finding.Nearest(g[0].typ, names); near != "" {
				hint = "did you mean " + near + "?"
			}
		}
		var refs []string
		for _, p := range g[:min(len(g), 8)] {
			refs = append(refs, p.ref)
		}
		j.warnf(g[0].pos, g[0].ref, hint, "unknown part type %s (%s): an opaque part, described by its wiring in the parts file; what it drives is unknown", short(g[0].typ), strings.Join(refs, ", "))
	}
}

// newRecord numbers the pins of a group of parts of one type.
func newRecord(group []*npart) *record {
	r := &record{name: group[0].typ, title: "not described; imported from a netlist", source: "the wiring of the imported board", prior: "opaque",
		words: map[string]string{}, dirs: map[string]direction{}}
	byNumber := map[int]string{}
	var named []string
	enter := func(word string) {
		if _, seen := r.words[word]; seen {
			return
		}
		if n := digits(word); n > 0 && n == len(word) && n <= 3 && word[0] != '0' {
			if k := atoi(word); k <= maxRecordPins {
				byNumber[k] = word
				r.words[word] = word
			} else {
				r.words[word] = ""
			}
			return
		}
		r.words[word] = ""
		named = append(named, word)
	}
	for _, p := range group {
		for _, q := range p.ports {
			enter(q.name)
		}
		for _, w := range p.pins {
			enter(w.pin)
		}
	}
	if len(group[0].ports) == 0 {
		slices.SortFunc(named, func(a, b string) int { return cmp.Or(natural(a, b), cmp.Compare(a, b)) })
	}
	most := 0
	for k := range byNumber {
		most = max(most, k)
	}
	taken := map[string]bool{}
	for k := 1; k <= most; k++ {
		name := "P" + itoa(k)
		r.pins = append(r.pins, name)
		taken[name] = true
	}
	for _, w := range named {
		if len(r.pins) == maxRecordPins {
			break
		}
		name := uniquePin(w, taken)
		r.pins = append(r.pins, name)
		r.words[w] = name
	}
	if len(r.pins) == 0 {
		r.pins = []string{"P1"}
	}
	return r
}

// uniquePin makes a name that a part record can hold.
func uniquePin(word string, taken map[string]bool) string {
	word = strings.TrimPrefix(word, "~")
	var b strings.Builder
	for i, c := range word {
		switch {
		case c == '/' && i == 0 && len(word) > 1, c < 0x80 && (isDigit(byte(c)) || isWord(byte(c)) && c != '$'):
			b.WriteRune(c)
		case c == '[' || c == ']' || c == '<' || c == '>' || c == '{' || c == '}' || c == '(' || c == ')':
		default:
			b.WriteByte('_')
		}
	}
	name := b.String()
	if r := []rune(name); len(r) > 40 {
		name = string(r[:40])
	}
	if name == "" || name == "/" || digits(name) == len(name) {
		name = "P" + strings.TrimPrefix(name, "/")
	}
	for base, k := name, 2; taken[name]; k++ {
		name = base + "_" + itoa(k)
	}
	taken[name] = true
	return name
}

// name is the name of the pin that the file calls word; "" when there is none.
func (r *record) nameOf(word string) string {
	w := r.words[word]
	if w != "" && digits(w) == len(w) {
		return r.pins[atoi(w)-1]
	}
	return w
}

// hardDriven are the nets on which an output of a known part never lets go.
func (j *joiner) hardDriven() map[string]bool {
	out := map[string]bool{}
	for _, p := range j.n.parts {
		m, ok := j.match[p.ref]
		if !ok {
			continue
		}
		hard := make([]bool, len(m.Type.Nodes))
		for _, s := range m.Type.Stmts {
			if s.Kind == part.Drive {
				hard[s.Node] = true
			}
		}
		for i, w := range p.pins {
			nums := []int{i + 1}
			if !p.gate {
				nums = m.Type.PinByName(pinWord(m.Type, w.pin))
			}
			for _, n := range nums {
				if k := m.Type.Pins[n-1].Node; k >= 0 && hard[k] {
					out[w.net] = true
				}
			}
		}
	}
	return out
}

// directions: what the file says; else a pin is an input where an output of a known part, or a rail, holds its net on some board
// place, and may go both ways elsewhere.
func (r *record) directions(group []*npart, driven map[string]bool, rails map[string]float64) {
	for _, p := range group {
		for _, q := range p.ports {
			if name := r.nameOf(q.name); name != "" && q.dir != unsaid {
				r.dirs[name] = q.dir
			}
		}
	}
	said := map[string]bool{}
	for name := range r.dirs {
		said[name] = true
	}
	for _, p := range group {
		for _, w := range p.pins {
			name := r.nameOf(w.pin)
			_, rail := rails[w.net]
			switch {
			case name == "" || said[name] || w.net == "-":
			case rail || driven[w.net]:
				r.dirs[name] = in
			case r.dirs[name] == unsaid:
				r.dirs[name] = inout
			}
		}
	}
}

// supplies takes the corner pins of a package for its supply where they are on rails everywhere: the last of the first row on 0 V, the
// last of all on another (the habit of the era). Pins named VCC and the like are supply pins by their names.
func (r *record) supplies(group []*npart, rails map[string]float64) {
	n := len(r.pins)
	if n < 8 || n%2 != 0 || r.pins[n-1] != "P"+itoa(n) {
		for _, name := range r.pins {
			if slices.Contains([]string{"VCC", "VDD", "VSS", "VEE", "VBB", "GND"}, name) {
				delete(r.dirs, name)
			}
		}
		return
	}
	low, high := "P"+itoa(n/2), "P"+itoa(n)
	volts := map[string]float64{}
	for _, p := range group {
		found := 0
		for _, w := range p.pins {
			name := r.nameOf(w.pin)
			v, rail := rails[w.net]
			if rail && (name == low && v == 0 || name == high && v > 0) {
				found++
				volts[name] = v
			}
		}
		if found != 2 {
			return
		}
	}
	r.supply = volts
	delete(r.dirs, low)
	delete(r.dirs, high)
}

// recordText writes the records as a parts file.
func (j *joiner) recordText() []byte {
	var b strings.Builder
	b.WriteString("# Parts that the library does not know, written by the import. The pins are those that the files wire; which way they go\n" +
		"# was told from the wiring. Correct it from the data sheet where you can.\n")
	for _, key := range sortedKeys(j.records) {
		j.records[key].write(&b)
	}
	return []byte(b.String())
}

func (r *record) write(b *strings.Builder) {
	fmt.Fprintf(b, "\n- part: %q\n  title: %q\n", r.name, r.title)
	if r.families != "" {
		fmt.Fprintf(b, "  families: [%s]\n", r.families)
	}
	pack := plural(len(r.pins), "pin", "pins")
	if n := len(r.pins); slices.Contains([]int{8, 14, 16, 18, 20, 22, 24, 28, 40, 64}, n) && r.pins[n-1] == "P"+itoa(n) {
		pack = "DIP" + itoa(n)
	}
	fmt.Fprintf(b, "  package: %s\n  pins: %q\n", pack, strings.Join(r.pins, " "))
	if r.logic != "" {
		fmt.Fprintf(b, "  logic: |\n    %s\n", strings.ReplaceAll(r.logic, "\n", "\n    "))
	} else {
		if len(r.supply) > 0 {
			var s []string
			for _, name := range r.pins {
				if v, ok := r.supply[name]; ok {
					s = append(s, fmt.Sprintf("%s: %g", name, v))
				}
			}
			fmt.Fprintf(b, "  supply: {%s}\n", strings.Join(s, ", "))
		}
		var groups []string
		for _, g := range []struct {
			word string
			dir  direction
		}{{"inputs", in}, {"outputs", out}, {"both", inout}} {
			var names []string
			for _, name := range r.pins {
				if r.dirs[name] == g.dir {
					names = append(names, fmt.Sprintf("%q", name))
				}
			}
			if len(names) > 0 {
				groups = append(groups, g.word+": ["+strings.Join(names, ", ")+"]")
			}
		}
		fmt.Fprintf(b, "  opaque: {%s}\n", strings.Join(groups, ", "))
	}
	fmt.Fprintf(b, "  prior: %s\n  source: %q\n", r.prior, r.source)
}
