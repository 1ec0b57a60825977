package importer

// A bill of materials: what the parts are, and where they sit.

import (
	"regexp"
	"strconv"
	"strings"

	"halfsplit/internal/core/board"
)

func (r *reader) bom(text string) {
	head := text[:min(len(text), lookedBytes)]
	d := delimiter(head)
	if d == 0 {
		d = ' '
	}
	var cols map[column]int
	seen := map[string]int{}
	r.rows(text, d, func(w row) bool {
		if cols == nil {
			h := header(w.cells)
			_, ref := h[refColumn]
			if len(h) > 1 && ref {
				cols = h
				return true
			}
			if len(w.cells) > 1 && refWord.MatchString(firstWord(w.cells[0])) {
				cols = map[column]int{refColumn: 0, typeColumn: 1}
			} else {
				return true // lines above the table
			}
		}
		r.bomRow(w, cols, seen)
		return !r.stopped
	})
	if cols == nil {
		r.errorf(1, "", "put a header above the columns: ref, type, value", "no column for the parts was found")
	}
}

func firstWord(s string) string {
	f := strings.FieldsFunc(s, func(c rune) bool { return strings.ContainsRune(" ,;-", c) })
	if len(f) == 0 {
		return ""
	}
	return f[0]
}

func (r *reader) bomRow(w row, cols map[column]int, seen map[string]int) {
	cell := func(k column) string {
		if i, ok := cols[k]; ok && i < len(w.cells) {
			return w.cells[i]
		}
		return ""
	}
	refs, bad := expand(cell(refColumn))
	if bad != "" {
		r.errorf(w.line, bad, "write R1, R2 or R1-R4", "not a part, or not a range of parts: %s", short(bad))
	}
	typ, value := cell(typeColumn), cell(valueColumn)
	if len(refs) > 0 && typ == "" && value == "" && cell(xColumn) == "" {
		r.errorf(w.line, refs[0], "is the file cut off?", "%s: nothing says what it is", short(cell(refColumn)))
	}
	for _, ref := range refs {
		if first := seen[ref]; first > 0 {
			r.errorf(w.line, ref, "the first is kept", "part %s stands here for the second time; the first is in line %d", ref, first)
			continue
		}
		seen[ref] = w.line
		p := r.part(ref, w.line)
		if p == nil {
			return
		}
		if len(p.pins) == 0 {
			p.noPlace = true
		}
		r.describe(p, typ, value, w.line)
		r.place(p, cell(xColumn), cell(yColumn), cell(sideColumn), cell(turnColumn), len(refs), w.line)
	}
}

// place enters where a part sits; a row for several parts gives none.
func (r *reader) place(p *npart, x, y, side, turn string, several, line int) {
	if x == "" || y == "" || several > 1 {
		return
	}
	px, ok1 := millimetres(x)
	py, ok2 := millimetres(y)
	pt, ok3 := 0.0, true
	if turn != "" {
		v, err := strconv.ParseFloat(strings.Replace(strings.TrimSuffix(turn, "°"), ",", ".", 1), 64)
		pt, ok3 = v, err == nil && v >= -360 && v <= 360
	}
	if !ok1 || !ok2 || !ok3 {
		r.errorf(line, p.ref, "write millimetres and degrees", "%s: not a place: x %s, y %s, turn %s", p.ref, short(x), short(y), short(turn))
		return
	}
	p.place = &board.Place{X: px, Y: py, Turn: pt, Side: "top"}
	if s := strings.ToLower(side); strings.HasPrefix(s, "b") {
		p.place.Side = "bottom"
	}
}

// millimetres reads 12.7, 12,7, 12.7mm, 500mil or 0.5in.
func millimetres(s string) (float64, bool) {
	s = strings.ToLower(strings.TrimSpace(s))
	mul := 1.0
	for unit, m := range map[string]float64{"mm": 1, "mil": 0.0254, "in": 25.4} {
		if rest, ok := strings.CutSuffix(s, unit); ok {
			s, mul = strings.TrimSpace(rest), m
			break
		}
	}
	v, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	v *= mul
	return v, err == nil && v > -1e4 && v < 1e4
}

var refRange = regexp.MustCompile(`^([A-Za-z]{1,6})([0-9]{1,5})\s*(?:-|–|\.\.\.?|to)\s*([A-Za-z]{0,6})([0-9]{1,5})$`)
var refGap = regexp.MustCompile(`\s*(-|–|\.\.\.?)\s*`)

// maxRange is how many parts one range may stand for.
const maxRange = 2000

// expand reads R1-R4, R7, R9 R10. bad is the first word that is neither a part nor a range.
func expand(cell string) (refs []string, bad string) {
	cell = refGap.ReplaceAllString(cell, "$1")
	for _, w := range strings.FieldsFunc(cell, listed) {
		m := refRange.FindStringSubmatch(w)
		switch {
		case m != nil && (m[3] == "" || strings.EqualFold(m[3], m[1])):
			from, _ := strconv.Atoi(m[2])
			to, _ := strconv.Atoi(m[4])
			if to < from || to-from >= maxRange {
				bad = w
				continue
			}
			for i := from; i <= to; i++ {
				refs = append(refs, m[1]+strconv.Itoa(i))
			}
		case looseRef.MatchString(w):
			refs = append(refs, w)
		case bad == "":
			bad = w
		}
	}
	return refs, bad
}

// looseRef is what may name a part where a column says so: also IC12A, 7B, X_MAIN.
var looseRef = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_]{0,19}$`)
