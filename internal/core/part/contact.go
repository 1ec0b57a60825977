package part

import (
	"fmt"
	"slices"
	"strings"
)

// Switches: contacts in sections that move on their own, and throws that are closed in some positions of the lever.

// OpenWord and ClosedWord are the positions of a contact that no `at` speaks of.
const (
	OpenWord   = "open"
	ClosedWord = "closed"
)

// contact reads  contact A B [as SECTION] [at POSITION…].
func (p *logicParser) contact(st *Stmt, rest string) error {
	f := strings.Fields(rest)
	if i := slices.Index(f, "at"); i >= 2 {
		st.At, f = f[i+1:], f[:i]
		if len(st.At) == 0 {
			return p.fail("at needs the positions in which the contact is closed")
		}
	}
	if len(f) == 4 && f[2] == "as" {
		st.As, f = f[3], f[:2]
	}
	if len(f) != 2 {
		return p.fail("expected  contact A B [as SECTION] [at POSITION…]")
	}
	for _, w := range append([]string{st.As}, st.At...) {
		if w != "" && (!isName(w) || strings.ContainsAny(w, "/.")) {
			return p.fail("%q is no name of a section or position: letters, digits and _", w)
		}
		if w == OpenWord || w == ClosedWord {
			return p.fail("%s is what a contact without `at` is; give the position another name", w)
		}
	}
	var err error
	st.Kind = Contact
	if st.A, err = p.pin(f[0]); err != nil {
		return err
	}
	if st.B, err = p.pin(f[1]); err != nil {
		return err
	}
	p.t.Nodes[st.A].Use |= Linked
	p.t.Nodes[st.B].Use |= Linked
	return nil
}

// positions reads  positions up centre down.
func (p *logicParser) positions(rest string) error {
	f := strings.Fields(rest)
	if len(f) < 2 || p.t.Positions != nil {
		return p.fail("expected  positions P Q …  once, with at least two words")
	}
	for i, w := range f {
		if !isName(w) || strings.ContainsAny(w, "/.") || w == OpenWord || w == ClosedWord || slices.Contains(f[:i], w) {
			return p.fail("%q is no name of a position, or stands twice", w)
		}
	}
	p.t.Positions = f
	return nil
}

// checkContacts demands that the contacts of a section are of one sort, and that their positions are declared.
func (t *Type) checkContacts() error {
	thrown := map[string]bool{} // section → its contacts name positions
	for _, s := range t.Stmts {
		if s.Kind != Contact {
			continue
		}
		if was, ok := thrown[s.As]; ok && was != (s.At != nil) {
			return fmt.Errorf("logic line %d: a contact with `at` and one without it cannot be moved together; name a section for each with `as`", s.Line)
		}
		thrown[s.As] = s.At != nil
		for _, w := range s.At {
			if !slices.Contains(t.Positions, w) {
				return fmt.Errorf("logic line %d: no position %s; write a line  positions  with all of them, the one at rest first", s.Line, w)
			}
		}
	}
	if t.Positions != nil && !slices.ContainsFunc(t.Stmts, func(s Stmt) bool { return s.At != nil }) {
		return fmt.Errorf("positions are named but no contact is closed `at` one")
	}
	return nil
}

// Sections are the names of the sections of a switch that move on their own, in the order of the record; "" for a part whose contacts all
// move together. Nil for a part without contacts.
func (t *Type) Sections() []string {
	var out []string
	for _, s := range t.Stmts {
		if s.Kind == Contact && !slices.Contains(out, s.As) {
			out = append(out, s.As)
		}
	}
	return out
}

// PositionsOf are the words for where a section stands, the one at rest first: open and closed, or the part's own.
func (t *Type) PositionsOf(section string) []string {
	for _, s := range t.Stmts {
		if s.Kind == Contact && s.As == section && s.At != nil {
			return t.Positions
		}
	}
	return []string{OpenWord, ClosedWord}
}
