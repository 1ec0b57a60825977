package ring

// Answers: as a person writes them, and what they change.

import (
	"slices"
	"strings"

	"halfsplit/internal/core/finding"
)

// Answer is what was heard: Ends are all joined to each other, or, with Not, the first is not joined to any of the others; without others
// it is joined to nothing at all.
type Answer struct {
	Ends []string
	Not  bool
	Pos  finding.Pos
}

// String is the answer as ParseAnswer reads it.
func (a Answer) String() string {
	switch {
	case a.Not && len(a.Ends) == 1:
		return a.Ends[0] + " !"
	case a.Not:
		return a.Ends[0] + " ! " + strings.Join(a.Ends[1:], " ! ")
	}
	return strings.Join(a.Ends, " = ")
}

// ParseAnswer reads U1.3=U2.5 (joined), U1.3!U2.5 (not joined), U1.3! (joined to nothing). Several may stand in a row: U1.3=U2.5=U7.1.
// "" and comments after # give no ends. The text of a problem is "" when there is none.
func ParseAnswer(line string) (a Answer, problem string) {
	line, _, _ = strings.Cut(line, "#")
	line = strings.TrimSpace(line)
	if line == "" {
		return a, ""
	}
	yes, no := strings.Contains(line, "="), strings.Contains(line, "!")
	if yes == no {
		return a, "write U1.3=U2.5 for joined, U1.3!U2.5 for not joined, U1.3! for joined to nothing"
	}
	a.Not = no
	words := strings.FieldsFunc(line, func(c rune) bool { return c == '=' || c == '!' })
	for _, w := range words {
		if w = strings.TrimSpace(w); w != "" {
			a.Ends = append(a.Ends, w)
		}
	}
	switch {
	case len(a.Ends) == 0, yes && len(a.Ends) < 2, no && len(a.Ends) == 1 && !strings.HasSuffix(line, "!"):
		return Answer{}, "an end is missing; write U1.3=U2.5, U1.3!U2.5 or U1.3!"
	}
	return a, ""
}

// ParseAnswers reads one answer a line.
func ParseAnswers(file, text string) ([]Answer, finding.List) {
	var out []Answer
	var fl finding.List
	number := 0
	for line := range strings.SplitSeq(strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n"), "\n") {
		number++
		a, problem := ParseAnswer(line)
		a.Pos = finding.Pos{File: file, Line: number}
		switch {
		case problem != "" && len(fl) < 100:
			fl.Errorf(a.Pos, "", problem, "not an answer: %.60q", line)
		case len(a.Ends) > 0:
			out = append(out, a)
		}
	}
	return out, fl
}

// end finds a place by its name: U1.4, U1./CS, VCC.
func (s *Session) end(word string) (int, bool) {
	if i, ok := s.byName[word]; ok {
		return i, true
	}
	ref, name, ok := strings.Cut(word, ".")
	if !ok {
		return 0, false
	}
	for i, e := range s.ends {
		if e.part >= 0 && s.b.Parts[e.part].Ref == ref && strings.EqualFold(e.word, name) {
			return i, true
		}
	}
	return 0, false
}

// Take enters an answer. An answer that contradicts what follows from earlier ones, or names what the board has not, is an error and
// changes nothing.
func (s *Session) Take(a Answer) finding.List {
	var fl finding.List
	var ends []int
	for _, w := range a.Ends {
		i, ok := s.end(w)
		if !ok {
			fl.Errorf(a.Pos, w, finding.DidYouMean(w, s.names()), "there is no pin and no rail %s on this board", w)
			return fl
		}
		ends = append(ends, i)
	}
	if len(ends) == 0 {
		return nil
	}
	first := ends[0]
	if a.Not && len(ends) == 1 {
		s.closed[s.root(first)] = true
		return nil
	}
	for k, j := range ends[1:] {
		joined, known := s.follows(first, j)
		closed := !joined && known && s.isClosed(first, j)
		switch {
		case known && joined && a.Not:
			fl.Errorf(a.Pos, a.Ends[0], "ring it again", "%s and %s are joined by what was said before", a.Ends[0], a.Ends[k+1])
			return fl
		case known && !joined && !a.Not && !closed:
			pos := s.apart[ordered(s.root(first), s.root(j))]
			text := "they would join two rails"
			if pos.Line > 0 {
				text = pos.String() + " says that they are not"
			}
			fl.Errorf(a.Pos, a.Ends[0], "ring it again", "%s and %s cannot be joined: %s", a.Ends[0], a.Ends[k+1], text)
			return fl
		}
	}
	for _, j := range ends[1:] {
		s.count(first, j, !a.Not)
		if a.Not {
			s.apart[ordered(s.root(first), s.root(j))] = a.Pos
		} else {
			delete(s.closed, s.root(first))
			delete(s.closed, s.root(j))
			s.union(first, j)
		}
	}
	if p, q := s.ends[first].part, s.ends[ends[len(ends)-1]].part; p >= 0 && q >= 0 {
		s.last = [2]string{s.b.Parts[p].Ref, s.b.Parts[q].Ref}
	}
	return nil
}

func (s *Session) isClosed(i, j int) bool {
	_, no := s.apart[ordered(s.root(i), s.root(j))]
	return !no && (s.closed[s.root(i)] || s.closed[s.root(j)])
}

// count keeps how often a bus was found between two parts.
func (s *Session) count(i, j int, yes bool) {
	a, b := &s.ends[i], &s.ends[j]
	if a.part < 0 || b.part < 0 || a.bus == "" && b.bus == "" || a.bus != "" && b.bus != "" && (a.bus != b.bus || a.bit != b.bit) {
		return
	}
	k := key(a, b)
	t := s.tally[k]
	if yes {
		t[0]++
	} else {
		t[1]++
	}
	s.tally[k] = t
}

func (s *Session) names() []string {
	var out []string
	for _, e := range s.ends {
		out = append(out, e.name)
	}
	slices.Sort(out)
	return out
}
