package app

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/unit"
)

// The table beside a board's text: each row is one part, and what is changed in a row goes into the text in the place of that part's
// lines alone. The text stays the only source, so whatever was typed there by hand, comments too, is kept byte for byte.

// PartEdit is what becomes of one part.
type PartEdit struct {
	Was    string     // its reference before; "" adds a part
	Part   board.Part // as it is to be; what the table does not show is taken over by the caller
	Remove bool       // then Part means nothing
}

// PlainLines gives a text the one kind of line end that a board keeps. Browsers send another.
func PlainLines(s string) string {
	return strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n")
}

// ReadText is the board as it stands in a text, nil when it cannot be read at all, with the reader's findings alone.
func (d *Desk) ReadText(files BoardFiles) (*board.Board, finding.List) {
	return heldFiles{d.texts, files}.Board(BoardName)
}

// LibraryOf is the library as a board with these files sees it.
func (d *Desk) LibraryOf(files BoardFiles) (*part.Library, finding.List) {
	return LibraryBeside(heldFiles{d.texts, files}, BoardName, nil)
}

// EditParts writes edits into the text of a board. The error is a Wrong that says what stands in the way; then nothing was changed.
func (d *Desk) EditParts(files BoardFiles, edits []PartEdit) (string, error) {
	text := PlainLines(files.Text)
	b, fl := d.ReadText(BoardFiles{Text: text, Files: files.Files})
	if b == nil {
		if strings.TrimSpace(text) == "" {
			b, fl, text = &board.Board{}, nil, "parts:\n"
		} else {
			return "", Wrong{fmt.Errorf("the text cannot be read, so no row can be put into it; mend it first: %s", firstError(fl))}
		}
	}
	want, changes, err := plan(b, edits)
	if err != nil {
		return "", err
	}
	out, err := d.intoLines(text, b, fl, changes)
	if err == nil {
		now, _ := d.ReadText(BoardFiles{Text: out, Files: files.Files})
		same, werr := d.sameParts(now, want)
		if werr != nil {
			return "", Wrong{werr}
		}
		if same {
			return out, nil
		}
		err = errors.New("the lines of the part cannot be told from the others")
	}
	var wrong Wrong
	if errors.As(err, &wrong) {
		return "", err
	}
	// Parts in brackets, several to a line: the whole text is written anew when nothing that was typed would go with that.
	if fl.Errors() || strings.Contains(text, "#") {
		return "", Wrong{fmt.Errorf("%w; give each part lines of its own in the text, then the table can change it", err)}
	}
	whole := *b
	whole.Parts = want
	written, err := d.texts.WriteBoard(&whole)
	if err != nil {
		return "", Wrong{err}
	}
	return string(written), nil
}

func firstError(fl finding.List) string {
	list := fl.Only(finding.Error)
	switch {
	case len(list) == 0:
		return "it is empty"
	case list[0].Pos.Line > 0:
		return fmt.Sprintf("line %d: %s", list[0].Pos.Line, list[0].Text)
	}
	return list[0].Text
}

// change is one part to be written: old is its index, or -1 for a new one.
type change struct {
	old    int
	part   board.Part
	remove bool
}

// plan is the list of parts as it is to be, and what has to be written for that.
func plan(b *board.Board, edits []PartEdit) (want []board.Part, out []change, err error) {
	at := map[string]int{}
	for i, p := range b.Parts {
		at[p.Ref] = i
	}
	want = slices.Clone(b.Parts)
	gone := map[int]bool{}
	taken := map[string]bool{}
	for r := range at {
		taken[r] = true
	}
	for _, e := range edits {
		old := -1
		if e.Was != "" {
			i, ok := at[e.Was]
			if !ok {
				return nil, nil, Wrong{fmt.Errorf("there is no part %s in the text any more", e.Was)}
			}
			old = i
		}
		if e.Remove {
			gone[old] = true
			out = append(out, change{old, board.Part{}, true})
			continue
		}
		if e.Part.Ref == "" {
			return nil, nil, Wrong{errors.New("the part has no reference: write it as U7")}
		}
		if strings.ContainsAny(e.Part.Ref, " .") {
			return nil, nil, Wrong{fmt.Errorf("the reference %q holds a blank or a dot: write it as U7", e.Part.Ref)}
		}
		if e.Part.Ref != e.Was && taken[e.Part.Ref] {
			return nil, nil, Wrong{fmt.Errorf("there is a part %s already; open that one, or choose another reference", e.Part.Ref)}
		}
		taken[e.Part.Ref] = true
		if old >= 0 {
			want[old] = e.Part
		} else {
			want = append(want, e.Part)
		}
		out = append(out, change{old, e.Part, false})
	}
	kept := want[:0]
	for i, p := range want {
		if !gone[i] {
			kept = append(kept, p)
		}
	}
	return kept, out, nil
}

// entry is one part as it stands in a board file, indented by col blanks.
func (d *Desk) entry(p board.Part, col int) ([]string, error) {
	written, err := d.texts.WriteBoard(&board.Board{Parts: []board.Part{p}})
	if err != nil {
		return nil, Wrong{fmt.Errorf("%s: %w", p.Ref, err)}
	}
	_, body, _ := strings.Cut(string(written), "parts:\n")
	lines := strings.Split(strings.TrimSuffix(body, "\n"), "\n")
	for i, l := range lines {
		lines[i] = strings.Repeat(" ", col) + strings.TrimPrefix(l, "  ")
	}
	return lines, nil
}

// sameParts tells whether a text was read as the parts that were meant.
func (d *Desk) sameParts(got *board.Board, want []board.Part) (bool, error) {
	if got == nil {
		return false, nil
	}
	a, err := d.texts.WriteBoard(&board.Board{Parts: got.Parts})
	if err != nil {
		return false, err
	}
	b, err := d.texts.WriteBoard(&board.Board{Parts: want})
	return bytes.Equal(a, b), err
}

// intoLines puts the changes into the lines of the text.
func (d *Desk) intoLines(text string, b *board.Board, fl finding.List, changes []change) (string, error) {
	lines := strings.Split(text, "\n")
	col := 2
	for i, p := range b.Parts {
		line := lines[min(max(p.Pos.Line-1, 0), len(lines)-1)]
		if p.Pos.Line == 0 || p.Pos.Col < 2 || strings.TrimSpace(line[:min(p.Pos.Col-1, len(line))]) != "" {
			return "", errors.New("the parts stand in brackets")
		}
		if i == 0 {
			col = p.Pos.Col - 1
		}
	}
	type piece struct {
		from, to int // lines from, before to, from 0
		lines    []string
	}
	var pieces []piece
	insert := -1 // new parts go before this line
	for _, p := range b.Parts {
		insert = max(insert, entryEnd(lines, p.Pos))
	}
	var fresh []string
	for _, c := range changes {
		var in []string
		if !c.remove {
			indent := col
			if c.old >= 0 {
				indent = b.Parts[c.old].Pos.Col - 1
			}
			var err error
			if in, err = d.entry(c.part, indent); err != nil {
				return "", err
			}
		}
		if c.old < 0 {
			fresh = append(fresh, in...)
			continue
		}
		p := b.Parts[c.old]
		from, to := p.Pos.Line-1, entryEnd(lines, p.Pos)
		if !c.remove {
			in = append(in, keptWords(lines[from:to], fl, from, p.Pos.Col-1)...)
		}
		pieces = append(pieces, piece{from, to, in})
	}
	if len(fresh) > 0 {
		if insert < 0 {
			insert = slices.IndexFunc(lines, func(l string) bool { return strings.HasPrefix(l, "parts:") }) + 1
			if insert == 0 {
				if lines[len(lines)-1] != "" {
					lines = append(lines, "")
				}
				lines = slices.Insert(lines, len(lines)-1, "parts:")
				insert = len(lines) - 1
			} else if rest := strings.TrimSpace(strings.TrimPrefix(lines[insert-1], "parts:")); strings.HasPrefix(rest, "{}") {
				lines[insert-1] = strings.TrimRight("parts: "+strings.TrimSpace(strings.TrimPrefix(rest, "{}")), " ")
			}
		}
		if insert == len(lines) {
			fresh = append(fresh, "")
		}
		pieces = append(pieces, piece{insert, insert, fresh})
	}
	slices.SortStableFunc(pieces, func(x, y piece) int { return x.from - y.from })
	var out []string
	at := 0
	for _, p := range pieces {
		if p.from < at {
			return "", errors.New("the lines of two parts overlap")
		}
		out = append(append(out, lines[at:p.from]...), p.lines...)
		at = p.to
	}
	return strings.Join(append(out, lines[at:]...), "\n"), nil
}

// entryEnd is the line (from 0) after the last one of the part whose name stands at pos. Comments and empty lines below it that are not
// indented deeper than its name belong to what follows.
func entryEnd(lines []string, pos finding.Pos) int {
	end := pos.Line
	for i := pos.Line; i < len(lines); i++ {
		t := strings.TrimLeft(lines[i], " \t")
		indent := len(lines[i]) - len(t)
		if t == "" {
			continue
		}
		if indent < pos.Col {
			break
		}
		end = i + 1
	}
	return end
}

// keptWords is what a part's old lines hold beside its data: comments, and lines that could not be understood, as comments.
func keptWords(old []string, fl finding.List, from, col int) (out []string) {
	keep := strings.Repeat(" ", col+2) + "# "
	for i, l := range old {
		if slices.ContainsFunc(fl, func(f finding.Finding) bool { return f.Severity == finding.Error && f.Pos.Line == from+i+1 }) {
			out = append(out, keep+"was: "+strings.TrimSpace(l))
			continue
		}
		if c := comment(l); c != "" {
			out = append(out, keep+c)
		}
	}
	return out
}

// comment is what stands after the # of a line, outside quotes.
func comment(l string) string {
	quote := byte(0)
	for i := range len(l) {
		switch c := l[i]; {
		case quote != 0:
			if c == quote && (quote == '\'' || l[i-1] != '\\') {
				quote = 0
			}
		case (c == '"' || c == '\'') && (i == 0 || strings.IndexByte(" [{,:", l[i-1]) >= 0):
			quote = c
		case c == '#' && (i == 0 || l[i-1] == ' ' || l[i-1] == '\t'):
			return strings.TrimSpace(l[i+1:])
		}
	}
	return ""
}

// ValueText writes the value of a part so that it reads back exactly; "" without one.
func ValueText(p *board.Part) string {
	if !p.HasValue {
		return ""
	}
	s := unit.Format(p.Value)
	if v, err := unit.Parse(s); err == nil && v == p.Value {
		return s
	}
	return strconv.FormatFloat(p.Value, 'g', -1, 64)
}

// SetValue reads what was typed as a value; empty takes it away.
func SetValue(p *board.Part, typed string) error {
	typed = strings.TrimSpace(typed)
	if typed == ValueText(p) {
		return nil
	}
	if typed == "" {
		p.Value, p.HasValue = 0, false
		return nil
	}
	v, err := unit.Parse(typed)
	if err == nil && (v < 0 || v > 1e12) {
		err = fmt.Errorf("the value %.40q is out of range", typed)
	}
	if err != nil {
		return err
	}
	p.Value, p.HasValue = v, true
	return nil
}

// PinsText is the wiring of a part in one line.
func PinsText(p *board.Part) string {
	var out []string
	for _, w := range p.Pins {
		if w.Pin == "" {
			out = append(out, w.Net)
		} else {
			out = append(out, w.Pin+"="+w.Net)
		}
	}
	return strings.Join(out, "  ")
}
