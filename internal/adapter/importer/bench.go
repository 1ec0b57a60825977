package importer

// ISCAS `.bench`: INPUT(a), OUTPUT(z), z = NAND(a, b), q = DFF(d). The format of F. Brglez and H. Fujiwara, "A neutral netlist of 10
// combinational benchmark circuits", ISCAS 1985, and F. Brglez, D. Bryan and K. Kozminski, "Combinational profiles of sequential
// benchmark circuits", ISCAS 1989. A gate is named after the net it drives.

import "strings"

// benchGates are the words of the format and the gates of a board.
var benchGates = map[string]string{"AND": "and", "OR": "or", "NAND": "nand", "NOR": "nor", "XOR": "xor", "XNOR": "xnor", "NOT": "not", "INV": "not",
	"BUF": "buf", "BUFF": "buf", "DFF": "dff"}

func benchGate(word string) string { return benchGates[word] }

// benchClock is the net that clocks every flip-flop: the format leaves it out.
const benchClock = "CLK"

func (r *reader) bench(text string) {
	r.n.gates = true
	driven := map[string]int{} // net → line of its gate
	said := map[string]bool{}
	flops := 0
	for number, line := range lines(text) {
		if r.stopped {
			break
		}
		line, comment, _ := strings.Cut(line, "#")
		if number == 1 && r.n.title == "" {
			r.n.title = benchTitle(comment)
		}
		line = strings.TrimSpace(line)
		if line == "" {
			continue
		}
		left, right, isGate := strings.Cut(line, "=")
		if !isGate {
			right = line
		}
		word, args, ok := call(right)
		word = strings.ToUpper(word)
		switch {
		case !ok:
			r.errorf(number, "", "write z = NAND(a, b), or INPUT(a)", "not a line of a bench file, or cut off: %s", short(line))
		case !isGate && (word == "INPUT" || word == "OUTPUT") && len(args) == 1:
			r.benchPort(word, args[0], number, said)
		case isGate && benchGate(word) != "":
			name := strings.TrimSpace(left)
			switch {
			case name == "" || strings.ContainsAny(name, " \t()"):
				r.errorf(number, "", "", "this gate drives no net, or the line is two: %s", short(line))
			case driven[name] > 0:
				r.errorf(number, name, "give one of them another name; the first is kept", "net %s is driven by a second gate here; the first is in line %d", name, driven[name])
			default:
				driven[name] = number
				if r.benchGate(name, benchGate(word), args, number) && benchGate(word) == "dff" {
					flops++
				}
			}
		default:
			r.errorf(number, "", "known: INPUT, OUTPUT, AND, OR, NAND, NOR, XOR, XNOR, NOT, BUFF, DFF", "%s is not known here: %s", word, short(line))
		}
	}
	if flops > 0 {
		r.n.inputs = append(r.n.inputs, nname{benchClock, r.pos(0)})
		r.warnf(0, benchClock, "", "the format names no clock: net %s clocks all %d flip-flops", benchClock, flops)
	}
	for _, o := range r.n.outputs {
		if driven[o.text] == 0 && !said["INPUT "+o.text] && o.pos.File == r.file {
			r.errorf(o.pos.Line, o.text, "is the file cut off?", "output %s is driven by no gate", o.text)
		}
	}
}

// benchTitle is the circuit's name where the first line is a comment of one word, as in the published files.
func benchTitle(comment string) string {
	if f := strings.Fields(comment); len(f) == 1 {
		return f[0]
	}
	return ""
}

// call takes apart WORD(a, b).
func call(s string) (word string, args []string, ok bool) {
	word, rest, ok := strings.Cut(s, "(")
	inside, after, closed := strings.Cut(rest, ")")
	if !ok || !closed || strings.TrimSpace(after) != "" {
		return "", nil, false
	}
	for a := range strings.SplitSeq(inside, ",") {
		if a = strings.TrimSpace(a); a == "" {
			return "", nil, false
		}
		args = append(args, a)
	}
	return strings.TrimSpace(word), args, true
}

func (r *reader) benchPort(word, net string, number int, said map[string]bool) {
	if said[word+" "+net] {
		r.errorf(number, net, "take one out", "%s(%s) stands here for the second time", word, net)
		return
	}
	said[word+" "+net] = true
	if word == "INPUT" {
		r.n.inputs = append(r.n.inputs, nname{net, r.pos(number)})
	} else {
		r.n.outputs = append(r.n.outputs, nname{net, r.pos(number)})
	}
}

// benchGate adds a gate. It reports whether it could.
func (r *reader) benchGate(name, typ string, args []string, number int) bool {
	if typ == "dff" && len(args) != 1 {
		r.errorf(number, name, "", "a DFF has one input, found %d", len(args))
		return false
	}
	if typ == "dff" {
		p := r.part(name, number)
		if p == nil {
			return false
		}
		p.typ = "dff"
		r.pin(p, "D", args[0], number)
		r.pin(p, "CLK", benchClock, number)
		r.pin(p, "Q", name, number)
		return true
	}
	return r.gate(name, typ, append([]string{name}, args...), number)
}

// gate adds a bare gate, output first. and, or and xor of one input are a buffer, their inversions a not (IEEE 1364-2005, 7.2). It
// reports whether it could.
func (r *reader) gate(ref, typ string, nets []string, number int) bool {
	inputs := len(nets) - 1
	if inputs == 1 {
		switch typ {
		case "and", "or", "xor":
			typ = "buf"
		case "nand", "nor", "xnor":
			typ = "not"
		}
	}
	switch {
	case inputs < 1:
		r.errorf(number, ref, "", "gate %s has no input", ref)
		return false
	case (typ == "not" || typ == "buf") && inputs > 1:
		r.errorf(number, ref, "", "a %s has one input, found %d", typ, inputs)
		return false
	case inputs > 64:
		r.errorf(number, ref, "split it", "gate %s has %d inputs; at most 64 are possible", ref, inputs)
		return false
	}
	if r.n.pins+len(nets) > maxPins {
		r.stop(number, "more than %d pins", maxPins)
		return false
	}
	p := r.part(ref, number)
	if p == nil {
		return false
	}
	p.typ, p.gate = typ, true
	r.n.pins += len(nets)
	for _, net := range nets {
		p.pins = append(p.pins, npin{"", net, r.pos(number)})
	}
	return true
}
