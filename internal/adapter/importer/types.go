package importer

// What a part is, from the words of a file: a type of the library, a class of parts by its reference, or unknown.

import (
	"regexp"
	"slices"
	"strings"

	"halfsplit/internal/core/part"
	"halfsplit/internal/core/unit"
)

// typeOf finds the type of a part and enters it in match; what is not found goes to unknown.
func (j *joiner) typeOf(p *npart) {
	if p.gate {
		if m, err := part.Gate(p.typ, len(p.pins)-1); err == nil {
			j.match[p.ref] = m
		}
		return
	}
	if r, ok := gateRecords[p.typ]; ok { // gates that are no bare gates of a board
		j.records[p.typ] = r()
		return
	}
	for _, text := range []string{p.typ, p.value} {
		for _, name := range candidates(text) {
			if m, ok := j.find(name); ok && fits(m.Type, p) {
				if text == p.value {
					p.value = p.typ
				}
				p.typ = name
				j.match[p.ref] = m
				return
			}
		}
	}
	if j.classOf(p) {
		return
	}
	j.unknown = append(j.unknown, p)
}

// most look-ups of words that the library does not know: each costs it a search for the nearest word that it knows.
const maxMisses = 5000

// find asks the library, but only for what it may have.
func (j *joiner) find(name string) (part.Match, bool) {
	up := strings.ToUpper(strings.TrimSpace(name))
	if a, ok := j.asked[up]; ok {
		return a, a.Type != nil
	}
	if !j.plausible(up) || j.misses >= maxMisses {
		return part.Match{}, false
	}
	m, err := j.lib.Find(name)
	if err != nil {
		j.misses++
		m = part.Match{}
	}
	j.asked[up] = m
	return m, err == nil
}

var digitRun = regexp.MustCompile(`[0-9]{2,5}`)

// plausible reports whether the library has the word itself, or a 74 or 4000 part with a number that stands in it.
func (j *joiner) plausible(up string) bool {
	if j.known == nil {
		j.known = map[string]bool{}
		for _, t := range j.lib.Types() {
			for _, n := range append([]string{t.Name}, t.Aka...) {
				j.known[strings.ToUpper(n)] = true
			}
		}
	}
	if j.known[up] {
		return true
	}
	for _, run := range digitRun.FindAllString(up, -1) {
		for from := range len(run) - 1 {
			if j.known["74X"+run[from:]] || j.known[run[from:]] || len(run) == 5 && j.known[run[:4]] {
				return true
			}
		}
	}
	return false
}

// fits refuses a type whose name is a mere number or word that happens to be in the library, for a part of another kind: the value 100 of R1.
func fits(t *part.Type, p *npart) bool {
	if len(t.Pins) >= 8 || len(p.pins) == 0 {
		return true
	}
	return len(p.pins) <= len(t.Pins)
}

// candidates are the ways in which a type may stand in a cell: whole, its first word, without what a name in a program needs in front.
func candidates(text string) []string {
	text = strings.TrimSpace(text)
	if text == "" || len(text) > maxName {
		return nil
	}
	out := []string{text}
	if f := strings.FieldsFunc(text, func(c rune) bool { return strings.ContainsRune(" ,;/(", c) }); len(f) > 1 {
		out = append(out, f[0])
	}
	if t := strings.TrimLeft(text, "_"); t != text && t != "" {
		out = append(out, t)
	}
	if low := strings.ToLower(text); low != text {
		out = append(out, low)
	}
	return out
}

var refLetters = regexp.MustCompile(`^[A-Za-z]+`)

// classes are the class letters of references (IEEE 315-1975, clause 22, and the habits of the trade) with the library's types.
var classes = map[string]string{"R": "resistor", "C": "capacitor", "L": "inductor", "F": "fuse", "D": "diode", "CR": "diode", "LED": "led", "ZD": "zener",
	"Y": "crystal", "X": "crystal", "XTAL": "crystal", "FB": "ferrite", "TP": "test-point", "SW": "switch", "S": "switch", "BT": "battery"}

var plugs = []string{"J", "P", "CN", "CON", "JP", "X", "PL", "SK", "CONN"}

// classOf takes a part by the letters of its reference where that leaves no doubt about its pins.
func (j *joiner) classOf(p *npart) bool {
	letters := strings.ToUpper(refLetters.FindString(p.ref[strings.LastIndexByte(p.ref, '/')+1:]))
	was := strings.TrimSpace(strings.Join([]string{p.typ, p.value}, " "))
	if slices.Contains(plugs, letters) && (letters != "X" || len(p.pins) > 2) {
		if typ := j.plug(p); typ != "" {
			m, _ := j.find(typ)
			j.match[p.ref], p.typ, p.note, p.value = m, typ, was, ""
			return true
		}
		return false
	}
	class := classes[letters]
	if class == "switch" {
		class = switchOf(p)
	}
	m, ok := j.find(class)
	if !ok || len(p.pins) > len(m.Type.Pins) {
		return false
	}
	for _, w := range p.pins {
		if pinWord(m.Type, w.pin) == "" {
			return false
		}
	}
	value := ""
	for _, text := range []string{p.value, p.typ} {
		if f := strings.Fields(text); value == "" && len(f) > 0 {
			for _, word := range []string{text, f[0]} {
				if _, ok := quantity(word); ok && value == "" {
					value = word
				}
			}
		}
	}
	if value == "" || strings.TrimSpace(was) != value {
		p.note = was
	}
	if len(m.Type.Pins) == 2 && slices.Contains([]string{"diode", "led", "zener"}, class) && numbered(p) {
		j.warnf(p.pos, p.ref, "turn it round in the board if pin 1 is the cathode", "%s: pin 1 is taken as the anode", p.ref)
	}
	if class == "switch-spdt" && numbered(p) {
		j.warnf(p.pos, p.ref, "name its pins A, COM and B in the board if the pole is another", "%s: pin 2 is taken as the pole of a change-over switch", p.ref)
	}
	if value == "" && class == "resistor" && len(p.pins) > 0 {
		j.warnf(p.pos, p.ref, "add value: to the board", "%s: nothing gives its value", p.ref)
	}
	j.match[p.ref], p.typ, p.value = m, class, value
	return true
}

// switchOf is the kind of switch that has the pins of p: a DIP switch where its type says so, a change-over switch for three pins.
func switchOf(p *npart) string {
	n := len(p.pins) // or the highest number, where sections are wired to nothing
	for _, w := range p.pins {
		if w.pin == "NO" || w.pin == "NC" {
			return "button-spdt"
		}
		if digits(w.pin) == len(w.pin) && len(w.pin) < 3 {
			n = max(n, atoi(w.pin))
		}
	}
	switch {
	case strings.Contains(strings.ToUpper(p.typ+" "+p.value), "DIP") && n >= 4:
		return "dip-switch-" + itoa((n+1)/2)
	case n == 3:
		return "switch-spdt"
	}
	return "switch"
}

func numbered(p *npart) bool {
	return !slices.ContainsFunc(p.pins, func(w npin) bool { return digits(w.pin) != len(w.pin) })
}

// plug is the smallest connector of the library that has all the pins of p; "" when there is none.
func (j *joiner) plug(p *npart) string {
	most := 0
	for _, w := range p.pins {
		if digits(w.pin) != len(w.pin) || len(w.pin) > 3 {
			return ""
		}
		most = max(most, atoi(w.pin))
	}
	for n := max(most, 2); n <= 2*most+2; n++ {
		if _, ok := j.find("conn-" + itoa(n)); ok {
			return "conn-" + itoa(n)
		}
	}
	return ""
}

func atoi(s string) int {
	n := 0
	for _, c := range s {
		n = n*10 + int(c-'0')
	}
	return n
}

// quantity reads 4.7k, 100nF, 1uF/16V, 470R 5%.
func quantity(text string) (float64, bool) {
	text = strings.TrimSpace(text)
	if text == "" || !(text[0] >= '0' && text[0] <= '9' || text[0] == '.') {
		return 0, false
	}
	if i := strings.IndexAny(text, " /,"); i > 0 && !(text[i] == ',' && i+1 < len(text) && isDigit(text[i+1])) {
		if v, err := unit.Parse(text); err == nil {
			return positive(v)
		}
		text = text[:i]
	}
	v, err := unit.Parse(strings.Replace(text, ",", ".", 1))
	if err != nil {
		return 0, false
	}
	return positive(v)
}

func positive(v float64) (float64, bool) { return v, v >= 0 && v <= 1e12 }

// pinWord is the way in which a board writes a pin of a type: its number where it has one, else its name; "" when the type has no such
// pin. Programs that cannot write /G2A write nG2A, G2A_n, G2A#, !G2A or ~{G2A}, and P1, PIN1 or _1 for pin 1.
func pinWord(t *part.Type, word string) string {
	for _, w := range spellings(word) {
		switch nums := t.PinByName(w); {
		case len(nums) == 0:
		case len(nums) == 1 && (len(t.Pins) > 3 || t.Pins[nums[0]-1].Node < 0):
			return itoa(nums[0])
		default:
			return t.Pins[nums[0]-1].Name
		}
	}
	return ""
}

var letterNumber = regexp.MustCompile(`^([A-Za-z]+)([0-9]{1,2})$`)

func spellings(word string) []string {
	out := []string{word}
	for _, front := range []string{"PIN", "pin", "Pin", "P", "p", "_"} {
		if rest, ok := strings.CutPrefix(word, front); ok && rest != "" && digits(rest) == len(rest) {
			out = append(out, rest)
		}
	}
	base := strings.TrimSuffix(strings.TrimPrefix(word, "~{"), "}")
	for _, front := range []string{"n", "N", "!", "~", "_", "-"} {
		if rest, ok := strings.CutPrefix(base, front); ok && rest != "" {
			out = append(out, "/"+rest)
		}
	}
	for _, end := range []string{"_n", "_N", "_L", "_B", "_bar", "_BAR", "#", "*", "N"} {
		if rest, ok := strings.CutSuffix(base, end); ok && rest != "" {
			out = append(out, "/"+rest)
		}
	}
	if m := letterNumber.FindStringSubmatch(word); m != nil { // D8 for 8D
		out = append(out, m[2]+m[1])
	}
	return append(out, "/"+base)
}
