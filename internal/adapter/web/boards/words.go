package boards

import (
	"fmt"
	"strings"

	"halfsplit/internal/app"
)

// How boards and their differences are called.

func count(n int, one, more string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, more)
}

func titleOf(b app.BoardVersion) string {
	if strings.TrimSpace(b.Title) == "" {
		return "without a title"
	}
	return short(b.Title, 120)
}

func boardTitle(s *sheet) string {
	if s.id == 0 {
		return "New board"
	}
	return titleOf(s.kept)
}

func useWord(use string) string {
	return map[string]string{"input": "in", "output": "out", "both": "in and out", "supply": "supply", "none": "no connection"}[use]
}

func orNothing(s string) string {
	if s == "" {
		return "nothing"
	}
	return short(s, 100)
}

// mostChanges bounds what is listed of one difference.
const mostChanges = 60

func limited(c []app.ChangedPart) []app.ChangedPart   { return c[:min(len(c), mostChanges)] }
func limitedNets(n []app.ChangedNet) []app.ChangedNet { return n[:min(len(n), mostChanges)] }

func netNames(n app.ChangedNet) string {
	a, b := strings.Join(n.A, " "), strings.Join(n.B, " ")
	switch {
	case a == "":
		return b
	case b == "" || a == b:
		return a
	}
	return a + " → " + b
}

func pinChanges(n app.ChangedNet) string {
	var out []string
	for _, p := range n.Plus {
		out = append(out, "+"+p)
	}
	for _, p := range n.Minus {
		out = append(out, "−"+p)
	}
	return short(strings.Join(out, " "), 300)
}

// left are the pasted rows that were not understood.
func (v editorView) left() string {
	if v.paste == nil {
		return ""
	}
	return v.paste.Left
}
