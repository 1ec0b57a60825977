package app

import (
	"fmt"
	"strings"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/part"
)

// Where a switch rests, as one field of a form: "down", or "2: closed, 4: closed" by section; the words of `rests:` in a board file.

// RestsText writes where a switch rests so that SetRests reads it back; "" while it is open, or in the first of its positions.
func RestsText(p *board.Part) string {
	if p.Closed {
		return part.ClosedWord
	}
	var out []string
	for _, r := range p.Rests {
		if r.Section == "" {
			return r.To
		}
		out = append(out, r.Section+": "+r.To)
	}
	return strings.Join(out, ", ")
}

// SetRests reads what was typed. The error says how it is written; what positions and sections there are, the check of the board says.
func SetRests(p *board.Part, typed string) error {
	if typed = strings.TrimSpace(typed); typed == RestsText(p) {
		return nil
	}
	var rests []board.Rest
	closed := false
	switch {
	case typed == "" || typed == part.OpenWord:
	case typed == part.ClosedWord:
		closed = true
	case !strings.Contains(typed, ":"):
		if strings.ContainsAny(typed, " ,") {
			return fmt.Errorf("where it rests is one word, such as down, or one for each section, such as 2: closed, 4: closed; found %.40q", typed)
		}
		rests = []board.Rest{{To: typed}}
	default:
		for one := range strings.SplitSeq(typed, ",") {
			section, to, ok := strings.Cut(one, ":")
			section, to = strings.TrimSpace(section), strings.TrimSpace(to)
			if !ok || section == "" || to == "" {
				return fmt.Errorf("a section and where it rests are written 2: closed; found %.40q", strings.TrimSpace(one))
			}
			for _, r := range rests {
				if r.Section == section {
					return fmt.Errorf("section %.20s stands there twice", section)
				}
			}
			rests = append(rests, board.Rest{Section: section, To: to})
		}
	}
	p.Closed, p.Rests = closed, rests
	return nil
}

// RestsHint says what may stand in the field for a type; "" for what is no switch.
func RestsHint(t *part.Type) string {
	sections := t.Sections()
	if sections == nil {
		return ""
	}
	positions := t.PositionsOf(sections[0])
	hint := strings.Join(positions[:len(positions)-1], ", ") + " or " + positions[len(positions)-1]
	if len(sections) > 1 {
		hint += fmt.Sprintf("; by section: %s: %s, %s: %s", sections[0], positions[1], sections[1], positions[1])
	}
	return hint
}
