package app

import (
	"encoding/csv"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/unit"
)

// Rows that were copied out of a spreadsheet or a list, merged into a board: reference, type and value; reference, pin and net; or a net
// with its pins. What cannot be understood is a finding with its row and does not stop the others.

// PasteBounds: longer cells are no names, and more rows are no board.
const (
	maxCell      = 100 // characters
	maxPasteRows = 100_000
)

// PasteResult is what came of pasted rows.
type PasteResult struct {
	Edits    []PartEdit
	Rows     int          // understood
	Findings finding.List // line is the row, from 1
	Left     string       // the rows that were not understood, as they were
}

var netRow = regexp.MustCompile(`^\s*([^\s:;,\t][^:;,\t]*?)\s*:\s*((?:[^\s.,;:]+\.[^\s,;]+[\s,]*)+)$`)

// paste gathers what the rows say.
type paste struct {
	lib    *part.Library
	parts  []*board.Part
	was    []string // as in PartEdit, beside parts
	byRef  map[string]*board.Part
	dirty  map[string]bool
	res    PasteResult
	column map[string]int // of a header; nil without one
	types  bool           // second of three cells is a type
}

// ReadPaste understands pasted rows against the parts that the board has (nil for none).
func ReadPaste(text string, b *board.Board, lib *part.Library) PasteResult {
	p := &paste{lib: lib, byRef: map[string]*board.Part{}, dirty: map[string]bool{}}
	if b != nil {
		for i := range b.Parts {
			q := b.Parts[i]
			q.Pins = slices.Clone(q.Pins)
			p.add(&q, q.Ref)
		}
	}
	lines := strings.Split(PlainLines(text), "\n")
	rows := make([][]string, len(lines))
	sep := separator(lines)
	var left []string
	votes, seen := 0, 0
	for i, l := range lines {
		rows[i] = cells(l, sep)
		if len(rows[i]) == 3 && len(l) < 4*maxCell && i < maxPasteRows {
			seen++
			if p.known(rows[i][1]) {
				votes++
			}
		}
	}
	p.types = 2*votes > seen || votes > 0 && seen < 3
	for i, l := range lines {
		if len(rows[i]) == 0 {
			continue
		}
		err := p.row(l, rows[i], i)
		if err == nil {
			continue
		}
		left = append(left, l)
		if len(p.res.Findings) < 100 {
			p.res.Findings.Errorf(finding.Pos{Line: i + 1}, "", "", "%v", err)
		}
	}
	p.res.Left = strings.Join(left, "\n")
	for i, q := range p.parts {
		if p.dirty[q.Ref] {
			p.res.Edits = append(p.res.Edits, PartEdit{Was: p.was[i], Part: *q})
		}
	}
	return p.res
}

func (p *paste) add(q *board.Part, was string) *board.Part {
	p.parts, p.was = append(p.parts, q), append(p.was, was)
	p.byRef[q.Ref] = q
	return q
}

// separator is what stands between cells: a tab, a semicolon, a comma, or 0 for blanks.
func separator(lines []string) rune {
	for _, sep := range "\t;," {
		if slices.ContainsFunc(lines, func(l string) bool { return strings.ContainsRune(l, sep) && !netRow.MatchString(l) }) {
			return sep
		}
	}
	return 0
}

func cells(l string, sep rune) []string {
	if strings.TrimSpace(l) == "" {
		return nil
	}
	var out []string
	if sep == 0 {
		out = strings.Fields(l)
	} else {
		r := csv.NewReader(strings.NewReader(l))
		r.Comma, r.LazyQuotes, r.FieldsPerRecord = sep, true, -1
		got, err := r.Read()
		if err != nil {
			return []string{l}
		}
		for _, c := range got {
			out = append(out, strings.TrimSpace(c))
		}
	}
	for len(out) > 0 && out[len(out)-1] == "" {
		out = out[:len(out)-1]
	}
	return out
}

func (p *paste) known(typ string) bool {
	if part.IsGate(typ) {
		return true
	}
	_, err := p.lib.Find(typ)
	return err == nil
}

var headWords = map[string]string{"ref": "ref", "refdes": "ref", "reference": "ref", "designator": "ref", "part": "ref", "component": "ref", "references": "ref",
	"type": "type", "device": "type", "part type": "type", "part number": "type", "partnumber": "type", "mpn": "type",
	"value": "value", "val": "value", "pin": "pin", "pin number": "pin", "pin no": "pin", "pin name": "pin", "terminal": "pin", "net": "net", "signal": "net", "net name": "net", "netname": "net", "node": "net"}

// header reads the first row when it names its columns.
func (p *paste) header(row []string) bool {
	col := map[string]int{}
	for i, c := range row {
		if w := headWords[strings.ToLower(strings.Trim(c, " ._#"))]; w != "" {
			if _, twice := col[w]; !twice {
				col[w] = i
			}
		}
	}
	if _, ok := col["ref"]; !ok || len(col) < 2 {
		return false
	}
	p.column = col
	return true
}

func (p *paste) row(line string, row []string, i int) error {
	if i >= maxPasteRows {
		return fmt.Errorf("more than %d rows; paste the rest on its own", maxPasteRows)
	}
	if i := strings.IndexFunc(line, func(r rune) bool { return r == utf8.RuneError || unicode.IsControl(r) && r != '\t' }); i >= 0 {
		return fmt.Errorf("there is a character in this row that is no text")
	}
	for n, c := range row {
		if k := utf8.RuneCountInString(c); k > maxCell && !netRow.MatchString(line) {
			return fmt.Errorf("cell %d has %d characters; a name has at most %d", n+1, k, maxCell)
		}
	}
	if i == 0 && p.header(row) {
		return nil
	}
	if m := netRow.FindStringSubmatch(line); m != nil {
		return p.net(m[1], m[2])
	}
	cell := func(name string) string {
		if n, ok := p.column[name]; ok && n < len(row) {
			return row[n]
		}
		return ""
	}
	if p.column != nil {
		ref := cell("ref")
		if ref == "" {
			return fmt.Errorf("no reference in this row")
		}
		pin := cell("pin")
		if at, dotted, ok := strings.Cut(ref, "."); ok && pin == "" {
			ref, pin = at, dotted
		}
		if err := p.part(ref, cell("type"), cell("value")); err != nil {
			return err
		}
		if net := cell("net"); pin != "" || net != "" {
			return p.pin(ref, pin, net)
		}
		return nil
	}
	switch len(row) {
	case 2:
		if ref, pin, ok := strings.Cut(row[0], "."); ok {
			return p.pin(ref, pin, row[1])
		}
		if _, err := unit.Parse(row[1]); err == nil && !p.known(row[1]) {
			return p.part(row[0], "", row[1])
		}
		return p.part(row[0], row[1], "")
	case 3:
		if p.types || p.known(row[1]) && !p.isPin(row[0], row[1]) {
			return p.part(row[0], row[1], row[2])
		}
		return p.pin(row[0], row[1], row[2])
	case 4:
		if err := p.part(row[0], row[1], ""); err != nil {
			return err
		}
		return p.pin(row[0], row[2], row[3])
	}
	return fmt.Errorf("a row of %d cells: expected reference, type and value, or reference, pin and net, or NET: U1.3 U2.5; or name the columns in the first row", len(row))
}

func (p *paste) isPin(ref, word string) bool {
	q := p.byRef[ref]
	if q == nil {
		return false
	}
	m, err := p.lib.Find(q.Type)
	return err == nil && m.Type.PinByName(word) != nil
}

func checkRef(ref string) error {
	if ref == "" || strings.ContainsAny(ref, " .") {
		return fmt.Errorf("%q is no reference: expected one such as U7", ref)
	}
	return nil
}

// part says what a part is. A type or a value that is left out stays as it was.
func (p *paste) part(ref, typ, value string) error {
	if err := checkRef(ref); err != nil {
		return err
	}
	q := p.byRef[ref]
	n := board.Part{Ref: ref}
	if q != nil {
		n = *q
	}
	if value != "" {
		if err := SetValue(&n, value); err != nil {
			return err
		}
	}
	if typ == "" && n.Type == "" {
		typ = usualType(ref)
	}
	if typ != "" {
		n.Type = typ
	}
	if q == nil {
		q = p.add(&board.Part{}, "")
		p.byRef[ref] = q
	}
	*q = n
	p.mark(q)
	return nil
}

func (p *paste) mark(q *board.Part) {
	p.dirty[q.Ref] = true
	p.res.Rows++
}

// usualType is what a part most likely is by the letters of its reference.
func usualType(ref string) string {
	return map[string]string{"R": "resistor", "C": "capacitor", "D": "diode", "LD": "led", "Y": "crystal", "F": "fuse"}[strings.TrimRight(ref, "0123456789")]
}

func (p *paste) net(net, pins string) error {
	for _, w := range strings.FieldsFunc(pins, func(r rune) bool { return r == ' ' || r == '\t' || r == ',' }) {
		ref, pin, _ := strings.Cut(w, ".")
		if err := p.pin(ref, pin, net); err != nil {
			return err
		}
	}
	return nil
}

// pin wires a pin, in the place of what it was on.
func (p *paste) pin(ref, pin, net string) error {
	if err := checkRef(ref); err != nil {
		return err
	}
	pin = strings.TrimPrefix(pin, "/#")
	if pin == "" || net == "" {
		return fmt.Errorf("%s: pin and net belong together, and one of them is empty", ref)
	}
	if utf8.RuneCountInString(net) > maxCell || utf8.RuneCountInString(pin) > maxCell {
		return fmt.Errorf("%s: a name has at most %d characters", ref, maxCell)
	}
	q := p.byRef[ref]
	if q == nil {
		q = p.add(&board.Part{Ref: ref, Type: usualType(ref)}, "")
	}
	var t *part.Type
	if m, err := p.lib.Find(q.Type); err == nil {
		t = m.Type
	}
	SetPin(q, t, pin, net)
	p.mark(q)
	return nil
}

// SetPin puts a pin onto a net. Type may be nil; with it a pin that is listed by another of its names is found. A part whose pins are a
// list gets named pins when the pin is not one of the list.
func SetPin(q *board.Part, t *part.Type, pin, net string) {
	if q.Listed {
		list := make([]board.Pin, len(q.Pins))
		for i, w := range q.Pins {
			list[i] = board.Pin{Pin: fmt.Sprint(i + 1), Net: w.Net, Pos: w.Pos}
		}
		q.Pins, q.Listed = list, false
	}
	same := func(w board.Pin) bool {
		if w.Pin == pin {
			return true
		}
		if t == nil {
			return false
		}
		a, b := t.PinByName(w.Pin), t.PinByName(pin)
		return a != nil && slices.Equal(a, b)
	}
	if i := slices.IndexFunc(q.Pins, same); i >= 0 {
		q.Pins[i].Net = net
		return
	}
	q.Pins = append(q.Pins, board.Pin{Pin: pin, Net: net})
}
