package importer

// The netlist and the library become a board: names that a board file can hold, types, rails, inputs, and records for what the library
// does not know.

import (
	"cmp"
	"slices"
	"strings"
	"unicode"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

// joiner holds what is known while the board is made.
type joiner struct {
	n       *netlist
	lib     *part.Library
	res     *Result
	b       *board.Board
	match   map[string]part.Match // by reference: the parts that the library knows, bare gates too
	unknown []*npart
	records map[string]*record
	rails   map[string]float64
	perFile map[string]int // findings given so far
	known   map[string]bool
	asked   map[string]part.Match // answers of the library by word; no type where it knows none
	misses  int
}

func join(n *netlist, lib *part.Library, res *Result) {
	if len(n.parts) == 0 {
		return
	}
	j := &joiner{n: n, lib: lib, res: res, b: &board.Board{Title: n.title}, match: map[string]part.Match{}, records: map[string]*record{}, rails: map[string]float64{}, perFile: map[string]int{}, asked: map[string]part.Match{}}
	if strings.TrimSpace(j.b.Title) == "" {
		j.b.Title = "Imported board"
	}
	slices.SortStableFunc(n.parts, func(a, b *npart) int { return cmp.Or(natural(a.ref, b.ref), cmp.Compare(a.ref, b.ref)) })
	j.cutRefs()
	j.idle()
	j.names()
	for _, p := range n.parts {
		j.typeOf(p)
	}
	j.findRails()
	j.describeUnknown()
	for _, p := range n.parts {
		j.write(p)
	}
	j.supplies()
	j.outside()
	j.check()
	res.Board = j.b
}

// errorf and warnf add a finding at the place of something in a file, at most maxFindings for one file.
func (j *joiner) errorf(pos finding.Pos, where, hint, format string, args ...any) {
	if j.perFile[pos.File]++; j.perFile[pos.File] <= maxFindings {
		j.res.Findings.Errorf(pos, where, hint, format, args...)
	}
}

func (j *joiner) warnf(pos finding.Pos, where, hint, format string, args ...any) {
	if j.perFile[pos.File]++; j.perFile[pos.File] <= maxFindings {
		j.res.Findings.Warnf(pos, where, hint, format, args...)
	}
}

// cutRefs joins a reference that a fixed column has cut off with the longer one of the bill of materials.
func (j *joiner) cutRefs() {
	const columns = 6
	kept := j.n.parts[:0:0]
	for _, p := range j.n.parts {
		if len(p.ref) <= columns || len(p.pins) > 0 {
			kept = append(kept, p)
			continue
		}
		short := j.n.byRef[p.ref[:columns]]
		others := 0
		for _, o := range j.n.parts {
			if len(o.ref) > columns && strings.HasPrefix(o.ref, p.ref[:columns]) {
				others++
			}
		}
		if short == nil || short.typ != "" || len(short.pins) == 0 || others != 1 {
			kept = append(kept, p)
			continue
		}
		j.warnf(short.pos, p.ref, "", "%s is taken for %s, which the columns of the file have no room for", short.ref, p.ref)
		short.typ, short.value = p.typ, p.value
		short.place = cmp.Or(p.place, short.place)
		delete(j.n.byRef, short.ref)
		short.ref = p.ref
		j.n.byRef[p.ref] = short
	}
	j.n.parts = kept
}

// idle leaves out what a bill of materials names and no netlist wires. A bill alone makes a board of unwired parts.
func (j *joiner) idle() {
	if j.n.pins == 0 {
		return
	}
	j.n.parts = slices.DeleteFunc(j.n.parts, func(p *npart) bool {
		if len(p.pins) == 0 && p.noPlace {
			j.warnf(p.pos, p.ref, "", "part %s is on no net; it is left out", p.ref)
			return true
		}
		return false
	})
}

// names makes every name one that a board file can hold, and keeps different names apart.
func (j *joiner) names() {
	nets, refs := newWords(), newWords()
	net := func(s string, pos finding.Pos) string {
		if s == "-" {
			return s
		}
		out, changed := nets.clean(s, false)
		if changed {
			j.warnf(pos, out, "", "net %s is written %s", short(s), short(out))
		}
		return out
	}
	for i := range j.n.inputs {
		in := &j.n.inputs[i]
		in.text = net(in.text, in.pos)
	}
	for _, p := range j.n.parts {
		ref, changed := refs.clean(p.ref, true)
		if changed {
			j.warnf(p.pos, ref, "", "part %s is written %s", short(p.ref), ref)
		}
		p.ref = ref
		for i := range p.pins {
			p.pins[i].net = net(p.pins[i].net, p.pins[i].pos)
		}
	}
	for i := range j.n.outputs {
		o := &j.n.outputs[i]
		o.text = net(o.text, o.pos)
		j.res.Outputs = append(j.res.Outputs, o.text)
	}
	for _, b := range j.n.buses {
		for i := range b.nets {
			b.nets[i] = net(b.nets[i], finding.Pos{})
		}
	}
	for i := range j.n.near {
		for k := range j.n.near[i] {
			j.n.near[i][k] = net(j.n.near[i][k], finding.Pos{})
		}
	}
	if title, _ := newWords().clean(j.b.Title, false); title != "" {
		j.b.Title = title
	}
}

// words maps names to names that can be written, one to one.
type wordList struct {
	to    map[string]string
	taken map[string]bool
}

func newWords() *wordList { return &wordList{map[string]string{}, map[string]bool{}} }

func (w *wordList) clean(s string, ref bool) (out string, changed bool) {
	if out, ok := w.to[s]; ok {
		return out, false
	}
	out = strings.Map(func(r rune) rune {
		blank := unicode.IsControl(r) || r == '\u2028' || r == '\u2029' || r == '\uFFFD' || unicode.IsSpace(r)
		switch {
		case ref && (r == '.' || blank):
			return '_'
		case blank:
			return ' '
		}
		return r
	}, s)
	out = strings.Join(strings.Fields(out), " ")
	if r := []rune(out); len(r) > maxName-4 {
		out = string(r[:maxName-4])
	}
	out = strings.TrimSpace(out)
	switch out {
	case "", "-":
		out = "unnamed"
	case "pulse", "cycles", "repeat", "press", "release": // words of the steps
		if !ref {
			out += "_"
		}
	}
	for base, k := out, 2; w.taken[out]; k++ {
		out = base + "_" + itoa(k)
	}
	w.taken[out], w.to[s] = true, out
	return out, out != s
}

// write enters a part into the board.
func (j *joiner) write(p *npart) {
	m, known := j.match[p.ref]
	bp := board.Part{Ref: p.ref, Type: p.typ, Pos: p.pos, TypePos: p.pos, Place: p.place, Listed: p.gate}
	if p.gate {
		for _, w := range p.pins {
			bp.Pins = append(bp.Pins, board.Pin{Net: w.net, Pos: w.pos})
		}
		j.b.Parts = append(j.b.Parts, bp)
		return
	}
	bp.Value, bp.HasValue = quantity(p.value)
	bp.Note = p.note
	seen := map[string]board.Pin{}
	for _, w := range p.pins {
		var word string
		if known {
			word = pinWord(m.Type, w.pin)
		} else {
			word = j.records[p.typ].pin(w.pin)
		}
		if word == "" {
			hint := "is the type right?"
			if known {
				hint = cmp.Or(finding.DidYouMean(w.pin, m.Type.PinWords()), hint)
				j.errorf(w.pos, p.ref+"."+w.pin, hint, "no pin %s on a %s (%d pins); the pin is left out, it is on net %s", short(w.pin), p.typ, len(m.Type.Pins), short(w.net))
			} else {
				j.errorf(w.pos, p.ref+"."+w.pin, "", "a part has at most %d pins; pin %s is left out, it is on net %s", maxRecordPins, short(w.pin), short(w.net))
			}
			continue
		}
		if old, dup := seen[word]; dup {
			if old.Net != w.net {
				j.errorf(w.pos, p.ref+"."+word, "correct the file; the first is kept", "%s pin %s is on net %s here and on net %s in line %d", p.ref, word, w.net, old.Net, old.Pos.Line)
			}
			continue
		}
		pin := board.Pin{Pin: word, Net: w.net, Pos: w.pos}
		seen[word] = pin
		bp.Pins = append(bp.Pins, pin)
	}
	slices.SortStableFunc(bp.Pins, func(a, b board.Pin) int { return natural(a.Pin, b.Pin) })
	if known && len(m.Type.Pins) == 2 && len(bp.Pins) == 2 && bp.Pins[0].Pin == m.Type.Pins[0].Name && bp.Pins[1].Pin == m.Type.Pins[1].Name {
		bp.Listed = true // as a person writes a part with two ends
		bp.Pins[0].Pin, bp.Pins[1].Pin = "", ""
	}
	j.b.Parts = append(j.b.Parts, bp)
}

// mostChecked is the largest number of pins for which the board is joined with the library to see whether it loads.
const mostChecked = 10_000

// check joins the board with the library, as lint will, and reports what stands in the way.
func (j *joiner) check() {
	lib := j.lib
	if len(j.records) > 0 {
		j.res.Records = j.recordText()
		types, fl := part.Parse("parts.yaml", j.res.Records)
		lib = lib.Clone()
		fl = append(fl, lib.Add(types, true)...)
		j.res.Findings = append(j.res.Findings, fl.Only(finding.Error)...)
	}
	if j.n.pins > mostChecked {
		j.warnf(finding.Pos{}, "", "check it with lint", "the board has %d pins; it was not checked as a whole", j.n.pins)
		return
	}
	_, fl := circuit.Build(j.b, lib)
	for i, f := range fl.Only(finding.Error) {
		if i < maxFindings {
			j.res.Findings = append(j.res.Findings, f)
		}
	}
}
