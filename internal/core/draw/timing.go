package draw

import (
	"fmt"
	"strings"
)

// The moments of an action as a timing diagram: what a good board does on each line, and what was seen. A reading is a word for the
// whole action, so the seen trace is the word drawn out; moments at which it cannot agree are hatched, and the line is signed.

// TimingRow is one line of the diagram.
type TimingRow struct {
	Label    string
	Expected []byte // per moment: '0', '1', 'X' unknown, 'Z' let go, 'F' fought over
	Seen     string // low, high, pulses, floating, between; "" when nothing was read
	Place    string // what a tap means; "" for none
}

// TimingOptions describes a timing diagram.
type TimingOptions struct {
	Title    string
	Rows     []TimingRow
	Captions []string // per moment: what is done; "" for nothing said
	Most     int      // moments drawn before the middle is left out; 0 is 32
}

const (
	momentW   = 44.0
	traceH    = 26.0
	traceGap  = 14.0 // between what is good and what was seen
	timingTop = 40.0
)

// Timing draws the moments from left to right, numbered from 1.
func Timing(o TimingOptions) Picture {
	moments := len(o.Captions)
	for _, r := range o.Rows {
		moments = max(moments, len(r.Expected))
	}
	if moments == 0 || len(o.Rows) == 0 {
		return Picture{}
	}
	cols, skipped := columns(moments, o.Most)
	labelW := 60.0
	for _, r := range o.Rows {
		labelW = max(labelW, min(textWidth(r.Label, 15, true), 190))
		_, word := r.verdict()
		labelW = max(labelW, textWidth(word, smallSize, true)+20)
	}
	labelW += 14
	p := Picture{W: labelW + float64(len(cols))*momentW + 8, Title: o.Title, Desc: fmt.Sprintf("%d lines over %d moments", len(o.Rows), moments)}
	for i, m := range cols {
		if m >= 0 {
			p.Shapes = append(p.Shapes, text(labelW+(float64(i)+0.5)*momentW, 26, fmt.Sprint(m+1), smallSize, Label).bold().at("middle"))
		}
	}
	y := timingTop
	var groups []Shape
	for _, r := range o.Rows {
		g, h := r.draw(cols, labelW, y)
		groups = append(groups, g)
		y += h
	}
	for i := range len(cols) + 1 {
		x := labelW + float64(i)*momentW
		p.Shapes = append(p.Shapes, line(Grid, x, 32, x, y-8).thick(1))
	}
	p.Shapes = append(p.Shapes, groups...)
	read := false
	for _, r := range o.Rows {
		read = read || r.Seen != ""
	}
	for i, m := range cols {
		if m < 0 {
			x := labelW + float64(i)*momentW
			p.Shapes = append(p.Shapes, rect(Paper, x+4, 12, momentW-8, y-16, 0))
			for k := range 3 {
				p.Shapes = append(p.Shapes, circle(Mark, x+momentW/2+float64(k-1)*9, 22, 2))
			}
		}
	}
	p.H = y
	return pad(p.captions(o.Captions, cols, skipped, read), 8)
}

// columns chooses the moments to draw: all, or the first and the last ones with -1 where the middle is left out.
func columns(moments, most int) (cols []int, skipped int) {
	if most <= 0 {
		most = 32
	}
	most = max(most, 4)
	for m := range moments {
		if moments > most && m >= most/2 && m < moments-most/2+1 {
			if skipped == 0 {
				cols = append(cols, -1)
			}
			skipped++
			continue
		}
		cols = append(cols, m)
	}
	return cols, skipped
}

// captions lists below the diagram what is done at the moments, equal ones together, and how the traces are to be read.
func (p Picture) captions(said []string, cols []int, skipped int, read bool) Picture {
	p.W = max(p.W, 340)
	at := map[string][]int{}
	var order []string
	for _, m := range cols {
		if m >= 0 && m < len(said) && said[m] != "" {
			if at[said[m]] == nil {
				order = append(order, said[m])
			}
			at[said[m]] = append(at[said[m]], m+1)
		}
	}
	for _, what := range order {
		numbers := fit(ranges(at[what]), 14, true, p.W/2)
		x := max(48, textWidth(numbers, 14, true)+14)
		p.H += 2
		p.Shapes = append(p.Shapes, text(0, p.H+18, numbers, 14, Label).bold())
		for _, l := range wrap(what, 14, p.W-x) {
			p.H += 18
			p.Shapes = append(p.Shapes, text(x, p.H, l, 14, Label))
		}
	}
	if skipped > 0 {
		p = remark(p, fmt.Sprintf("%d moments in the middle are left out", skipped))
	}
	if read {
		p = remark(p, "thin: a good board; thick: seen; hatched: the two cannot agree")
	}
	p.H += 8
	return p
}

// ranges writes rising numbers, neighbours as 3-5.
func ranges(n []int) string {
	var out []string
	for i := 0; i < len(n); {
		j := i
		for j+1 < len(n) && n[j+1] == n[j]+1 {
			j++
		}
		out = append(out, fmt.Sprint(n[i]))
		if j > i {
			out[len(out)-1] += "-" + fmt.Sprint(n[j])
		}
		i = j + 1
	}
	return strings.Join(out, ", ")
}

// agrees says whether a moment of a good board can be part of what was seen; a word that speaks of change says nothing of one moment.
func agrees(seen string, good byte) bool {
	switch seen {
	case "low":
		return good != '1' && good != 'Z'
	case "high":
		return good != '0' && good != 'Z'
	case "floating":
		return good != '0' && good != '1'
	case "between":
		return good != '0' && good != '1' && good != 'Z'
	}
	return true
}

// verdict tells whether the line as a whole is wrong, and the word for it.
func (r TimingRow) verdict() (differ bool, word string) {
	if r.Seen == "" {
		return false, ""
	}
	changes := false
	for i, e := range r.Expected {
		differ = differ || !agrees(r.Seen, e)
		changes = changes || i > 0 && e != r.Expected[i-1] || e == 'X'
	}
	differ = differ || r.Seen == "pulses" && !changes && len(r.Expected) > 0
	return differ, "seen: " + r.Seen
}

func (r TimingRow) draw(cols []int, x0, y float64) (Shape, float64) {
	differ, word := r.verdict()
	label := text(0, y+traceH/2+5, fit(r.Label, 15, true, 190), 15, Label).bold()
	say := r.Label
	h := traceH
	var in []Shape
	if r.Seen != "" {
		say += ", " + word
		seenY := y + traceH + traceGap
		h += traceH + traceGap
		seen := text(0, seenY+traceH/2+5, word, smallSize, Seen)
		if differ {
			say += ", differs from a good board"
			seen = seen.bold()
			seen.X, seen.Class = 20, Wrong
			in = append(in, notEqual(8, seenY+traceH/2, 13))
		}
		in = append(in, seen)
		for i, m := range cols {
			if m >= 0 && m < len(r.Expected) && !agrees(r.Seen, r.Expected[m]) {
				x := x0 + float64(i)*momentW
				in = append(in, hatch(box{x + 1, y, x + momentW - 1, seenY + traceH}, 9)...)
			}
		}
		in = append(in, seenTrace(r.Seen, x0, x0+float64(len(cols))*momentW, seenY)...)
	}
	in = append(in, trace(r.Expected, cols, x0, y)...)
	in = append([]Shape{label}, in...)
	h += 22
	if r.Place == "" {
		return Shape{Kind: Group, Inner: in}, h
	}
	in = append([]Shape{hit(-4, y-8, x0+float64(len(cols))*momentW, h-4)}, in...)
	return tap(r.Place, say, in...), h
}

// trace draws the levels of a good board.
func trace(levels []byte, cols []int, x0, y float64) []Shape {
	var out []Shape
	run := line(Expected).thick(2)
	flush := func() {
		if len(run.Points) > 1 {
			out = append(out, run)
		}
		run = line(Expected).thick(2)
	}
	height := map[byte]float64{'0': y + traceH, '1': y}
	for i, m := range cols {
		x := x0 + float64(i)*momentW
		if m < 0 || m >= len(levels) {
			flush()
			continue
		}
		l := levels[m]
		if at, ok := height[l]; ok {
			run.Points = append(run.Points, Point{x, at}, Point{x + momentW, at})
			continue
		}
		flush()
		mid := y + traceH/2
		switch l {
		case 'Z':
			out = append(out, line(Expected, x+2, mid, x+momentW-2, mid).thick(2).dashed())
		default:
			out = append(out, rect(Ring, x+2, y, momentW-4, traceH, 0).dashed(), text(x+momentW/2, mid+5, map[bool]string{true: "fight", false: "?"}[l == 'F'], smallSize, Expected).at("middle"))
		}
	}
	flush()
	return out
}

// seenTrace draws a word out: flat for low and high, a train of pulses, a dashed middle line.
func seenTrace(seen string, x0, x1, y float64) []Shape {
	mid := y + traceH/2
	switch seen {
	case "low":
		return []Shape{line(Seen, x0, y+traceH, x1, y+traceH).thick(3.5)}
	case "high":
		return []Shape{line(Seen, x0, y, x1, y).thick(3.5)}
	case "pulses":
		s := line(Seen).thick(3.5)
		for x, up := x0, true; x < x1; x, up = x+momentW/4, !up {
			at := y + traceH
			if up {
				at = y + 4
			}
			s.Points = append(s.Points, Point{x, at}, Point{min(x+momentW/4, x1), at})
		}
		return []Shape{s}
	case "floating":
		return []Shape{line(Seen, x0, mid, x1, mid).thick(3.5).dashed()}
	case "between":
		return []Shape{line(Seen, x0, mid-4, x1, mid-4).thick(2), line(Seen, x0, mid+4, x1, mid+4).thick(2)}
	}
	return []Shape{text(x0+8, mid+5, strings.TrimSpace(seen), smallSize, Seen)}
}
