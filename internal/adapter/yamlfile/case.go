package yamlfile

// The case file: one machine, what the bench has, the damage, and the log. Log entries are in entry.go.

import (
	"slices"
	"strings"

	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
)

var (
	caseKeys  = []string{"case", "board", "have", "damage", "log", "note", "golden"}
	haveWords = []string{"eyes", "scope", "logic-probe", "meter", "iron", "spare", "adapter"}
)

// ReadCase reads a case file. The case holds what could be read and is nil when nothing could; it may be trusted only
// when the findings hold no error. The board it names is not opened, so places in the log are not checked.
func ReadCase(path string) (*evidence.Case, finding.List) {
	data, l := readFile(path)
	if l != nil {
		return nil, l
	}
	return ParseCase(path, data)
}

// ParseCase is ReadCase for text already in memory; file is the name shown in findings.
func ParseCase(file string, data []byte) (*evidence.Case, finding.List) {
	r := &caseReader{reader: &reader{file: file}, c: &evidence.Case{File: file}}
	root := r.parse(data, "a case file", "`case: TITLE`")
	if root == nil {
		return nil, r.findings()
	}
	if root.has("parts") || root.has("actions") {
		r.errorf(root, "", "give a case file, whose `board:` names this one", "this is a board file; expected a case file")
		return nil, r.findings()
	}
	r.read(root)
	return r.c, r.findings()
}

type caseReader struct {
	*reader
	c *evidence.Case
}

func (r *caseReader) read(root *node) {
	f := r.fields(root, "", "a case file", caseKeys, "log")
	if n := f["case"]; n != nil {
		r.c.Title = r.text(n, "case", "the title")
	} else if !root.has("case") {
		r.warnf(root, "", "begin the file with `case: TITLE`", "the case has no title")
	}
	if n := f["board"]; n != nil {
		r.c.Board, _ = r.name(n, "board", "the name of the board file")
	} else if !root.has("board") {
		r.errorf(root, "", "write `board: FILE.yaml`", "the case names no board file")
	}
	r.c.Have = evidence.Bench{Scope: true, Meter: true, Iron: true}
	if n := f["have"]; n != nil {
		r.readHave(n)
	}
	if n := f["damage"]; n != nil {
		r.readDamage(n)
	}
	if n := f["note"]; n != nil {
		r.c.Note = r.text(n, "note", "a note")
	}
	if n := f["golden"]; n != nil {
		r.c.Golden = r.yes(n, "golden", "golden")
	}
	if n := f["log"]; n != nil && !n.null {
		for i, it := range r.items(n, "log", "entries", "[{do: power-up, read: {U1.4: low}}]") {
			r.c.Log = append(r.c.Log, r.readEntry(it, i+1))
		}
	}
}

func (r *caseReader) readHave(n *node) {
	r.c.Have = evidence.Bench{}
	for _, it := range r.distinct(r.items(n, "have", "words", "[scope, meter, iron]"), "have", "word") {
		w, _ := r.word(it, "have", "what the bench has", haveWords...)
		switch w {
		case "scope":
			r.c.Have.Scope = true
		case "logic-probe":
			r.c.Have.Probe = true
		case "meter":
			r.c.Have.Meter = true
		case "iron":
			r.c.Have.Iron = true
		case "spare":
			r.c.Have.Spare = true
		case "adapter":
			r.c.Have.Adapter = true
		}
	}
}

func (r *caseReader) readDamage(n *node) {
	for _, it := range r.items(n, "damage", "areas", "[{kind: water, parts: [U1, U2]}]") {
		f := r.fields(it, "damage", "an area of damage", []string{"kind", "parts", "nets"})
		if f == nil {
			continue
		}
		z := evidence.Zone{Pos: it.pos}
		if v := f["kind"]; v != nil {
			z.Kind, _ = r.word(v, "damage", "kind", "water", "battery", "heat")
		} else if !it.has("kind") {
			r.errorf(it, "damage", "write `kind: water`, battery or heat", "the area of damage has no `kind:`")
		}
		if v := f["parts"]; v != nil {
			z.Parts = r.words(v, "damage", "parts", "[U1, U2]", r.ref)
		}
		if v := f["nets"]; v != nil {
			z.Nets = r.words(v, "damage", "nets", "[D3, D4]", r.net)
		}
		if !slices.ContainsFunc(it.pairs, func(p pair) bool { return p.key.text == "parts" || p.key.text == "nets" }) {
			r.errorf(it, "damage", "write `parts: [U1, U2]` or `nets: [D3]`", "the area of damage names no parts and no nets")
		}
		r.c.Damage = append(r.c.Damage, z)
	}
}

// words reads one word or a list of words, each once, with the reader of a single one.
func (r *caseReader) words(n *node, where, what, example string, one func(*node, string) (string, bool)) []string {
	var out []string
	for _, it := range r.distinct(r.oneOrMore(n, where, what, example), where, strings.TrimSuffix(what, "s")) {
		if s, ok := one(it, where); ok {
			out = append(out, s)
		}
	}
	return out
}
