// Package finding holds a problem in the user's files as data: where it is, what is wrong,
// what was expected, and the nearest right word. Findings are returned beside a value and
// never abort a bench session by themselves.
package finding

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Severity tells whether the answer can still be trusted.
type Severity int

// Errors make the input unusable; warnings do not.
const (
	Warning Severity = iota
	Error
)

func (s Severity) String() string {
	if s == Error {
		return "error"
	}
	return "warning"
}

// Pos is a place in a text file. Line and Col count from 1; 0 means unknown.
type Pos struct {
	File      string
	Line, Col int
}

// String prints file:line:col as compilers do, leaving out what is unknown.
func (p Pos) String() string {
	var b strings.Builder
	b.WriteString(p.File)
	if p.Line > 0 {
		fmt.Fprintf(&b, ":%d", p.Line)
		if p.Col > 0 {
			fmt.Fprintf(&b, ":%d", p.Col)
		}
	}
	return b.String()
}

// Finding is one problem. Where names the thing in the user's words (U7, U7.4, net /WR);
// Text says what is wrong and what was expected; Hint is the way out, and may be empty.
type Finding struct {
	Severity Severity
	Pos      Pos
	Where    string
	Text     string
	Hint     string
}

// String is the one-line form: place, severity, text, hint.
func (f Finding) String() string {
	s := f.Severity.String() + ": " + f.Text
	if p := f.Pos.String(); p != "" {
		s = p + ": " + s
	}
	if f.Hint != "" {
		s += " (" + f.Hint + ")"
	}
	return s
}

// List collects findings; the zero value is ready to use.
type List []Finding

// Errorf adds an error.
func (l *List) Errorf(p Pos, where, hint, format string, args ...any) {
	*l = append(*l, Finding{Error, p, where, fmt.Sprintf(format, args...), hint})
}

// Warnf adds a warning.
func (l *List) Warnf(p Pos, where, hint, format string, args ...any) {
	*l = append(*l, Finding{Warning, p, where, fmt.Sprintf(format, args...), hint})
}

// Errors reports whether the list holds at least one error.
func (l List) Errors() bool {
	return slices.ContainsFunc(l, func(f Finding) bool { return f.Severity == Error })
}

// Only returns the findings of one severity, in order.
func (l List) Only(s Severity) List {
	var out List
	for _, f := range l {
		if f.Severity == s {
			out = append(out, f)
		}
	}
	return out
}

// Sort orders by file, line, column, then text, and drops exact repeats, so that output does not depend on
// the order in which checks ran.
func (l *List) Sort() {
	slices.SortStableFunc(*l, func(a, b Finding) int {
		return cmp.Or(cmp.Compare(a.Pos.File, b.Pos.File), cmp.Compare(a.Pos.Line, b.Pos.Line),
			cmp.Compare(a.Pos.Col, b.Pos.Col), cmp.Compare(b.Severity, a.Severity), cmp.Compare(a.Text, b.Text))
	})
	*l = slices.Compact(*l)
}
