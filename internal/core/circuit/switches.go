package circuit

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

// Switches: sections that move on their own, positions, and what an action does to them. To the simulator all of it is contacts, each closed
// or open at rest and in each moment.

// switches makes the sections of a part, at rest as the board says.
func (b *builder) switches(pi int) {
	p := &b.c.Parts[pi]
	sections := p.Type.Sections()
	if sections == nil {
		if p.Src.Closed || len(p.Src.Rests) > 0 {
			b.fl.Warnf(p.Src.Pos, p.Ref, "take it out", "%s is a %s, no switch: `rests:` means nothing there", p.Ref, p.Src.Type)
		}
		return
	}
	rests := slices.Clone(p.Src.Rests)
	if p.Src.Closed {
		rests = append(rests, board.Rest{To: part.ClosedWord, Pos: p.Src.Pos})
	}
	for _, r := range rests {
		if r.Section != "" && !slices.Contains(sections, r.Section) {
			b.fl.Errorf(r.Pos, p.Ref, sectionHint(r.Section, sections), "%s has no section %s to rest %s", p.Ref, r.Section, r.To)
		}
	}
	for _, sec := range sections {
		s := Lever{Part: pi, Section: sec, Positions: p.Type.PositionsOf(sec)}
		s.Rest = s.Positions[0]
		for _, r := range rests {
			if r.Section != "" && r.Section != sec {
				continue
			}
			if !slices.Contains(s.Positions, r.To) {
				b.fl.Errorf(r.Pos, p.Ref, finding.DidYouMean(r.To, s.Positions), "%s rests %s, found %q", b.sectionName(pi, sec), orList(s.Positions), r.To)
				continue
			}
			s.Rest = r.To
		}
		b.leverOf[pi] = append(b.leverOf[pi], len(b.c.Levers))
		b.c.Levers = append(b.c.Levers, s)
	}
}

// contact is the contact that a statement belongs to; those of a section that close in the same positions are one.
func (b *builder) contact(pi int, s *part.Stmt) int {
	at := s.At
	if at == nil {
		at = []string{part.ClosedWord}
	}
	for _, k := range b.leverOf[pi] {
		sw := &b.c.Levers[k]
		if sw.Section != s.As {
			continue
		}
		for _, i := range sw.Contacts {
			if slices.Equal(b.c.Contacts[i].At, at) {
				return i
			}
		}
		sw.Contacts = append(sw.Contacts, len(b.c.Contacts))
		b.c.Contacts = append(b.c.Contacts, Contact{Part: pi, Lever: k, At: at, Closed: slices.Contains(at, sw.Rest)})
		return len(b.c.Contacts) - 1
	}
	return None // not reached: switches made a lever for every section
}

// named finds the switches that a word of an action means: S1 all sections of S1, S1.3 one of them.
func (b *builder) named(word string, pos finding.Pos) []int {
	ref, section, one := strings.Cut(word, ".")
	pi, ok := b.c.partByRef[ref]
	list := b.leverOf[pi]
	if !ok || len(list) == 0 {
		var known []string
		for pi := range b.leverOf {
			known = append(known, b.c.Parts[pi].Ref)
		}
		b.fl.Errorf(pos, word, finding.DidYouMean(ref, known), "%s is not a switch or button of this board", ref)
		return nil
	}
	if !one {
		return list
	}
	var sections []string
	for _, k := range list {
		if b.c.Levers[k].Section == section {
			return []int{k}
		}
		sections = append(sections, b.c.Levers[k].Section)
	}
	b.fl.Errorf(pos, word, sectionHint(section, sections), "%s has no section %s", ref, section)
	return nil
}

func sectionHint(word string, sections []string) string {
	if len(sections) == 1 && sections[0] == "" {
		return "all of it moves together: leave the section out"
	}
	hint := "its sections: " + strings.Join(sections, ", ")
	if near := finding.Nearest(word, sections); near != "" {
		hint = "did you mean " + near + "? " + hint
	}
	return hint
}

func orList(words []string) string {
	return strings.Join(words[:len(words)-1], ", ") + " or " + words[len(words)-1]
}

func (b *builder) sectionName(pi int, section string) string {
	if section == "" {
		return b.c.Parts[pi].Ref
	}
	return b.c.Parts[pi].Ref + "." + section
}

// press moves a switch from where it rests to its other position, or lets it go back.
func (b *builder) press(m *Moment, p board.Name, down bool) {
	for _, k := range b.named(p.Text, p.Pos) {
		sw := b.c.Levers[k]
		to := sw.Rest
		if down {
			if len(sw.Positions) > 2 {
				b.fl.Errorf(p.Pos, p.Text, fmt.Sprintf("write  %s: %s", p.Text, sw.Positions[1]), "%s has more than two positions: %s", p.Text, strings.Join(sw.Positions, ", "))
				return
			}
			to = sw.Positions[0]
			if to == sw.Rest {
				to = sw.Positions[1]
			}
		}
		b.put(m, k, to, p.Pos)
	}
}

func (b *builder) move(m *Moment, mv board.Move) {
	list := b.named(mv.Switch, mv.Pos)
	for _, k := range list {
		if sw := b.c.Levers[k]; !slices.Contains(sw.Positions, mv.To) {
			b.fl.Errorf(mv.Pos, mv.Switch, finding.DidYouMean(mv.To, sw.Positions), "%s is put %s, found %q", mv.Switch, orList(sw.Positions), mv.To)
			return
		}
	}
	for _, k := range list {
		b.put(m, k, mv.To, mv.Pos)
	}
}

// put sets the contacts of a switch as they are in a position.
func (b *builder) put(m *Moment, k int, to string, pos finding.Pos) {
	for _, old := range m.Moves {
		if old.Lever == k && old.To != to {
			name := b.c.LeverName(k)
			b.fl.Errorf(pos, name, "make two steps of it", "%s is put %s and %s in the same moment", name, old.To, to)
			return
		}
	}
	m.Moves = append(m.Moves, Move{k, to})
	for _, i := range b.c.Levers[k].Contacts {
		c := b.c.Contacts[i]
		m.Contacts = append(m.Contacts, ContactSet{i, slices.Contains(c.At, to) != c.Closed})
	}
}

// held warns of a CMOS input that only switches hold, where they may all be open: a pull resistor is missing, or not listed.
func (b *builder) held(ni int, heard bool) {
	c := b.c
	n := &c.Nets[ni]
	if !heard || len(n.Drivers) > 0 || n.Input != None || len(n.Pins) < 2 {
		return
	}
	cmos := ""
	for _, p := range n.Pins {
		if c.Pins[p].Use&part.Heard != 0 && !c.Parts[c.Pins[p].Part].Family.Bipolar() {
			cmos = c.PinName(p)
		}
	}
	closed := map[int]map[string]bool{} // lever → positions in which one of its contacts holds the net
	var links []int
	for _, l := range n.Links {
		if c.Links[l].Kind == Joint { // what shares a pin lies behind its joint
			links = append(links, c.Nets[c.Links[l].B].Links...)
			continue
		}
		links = append(links, l)
	}
	for _, l := range links {
		switch k := c.Links[l].Contact; {
		case c.Links[l].Kind == Joint:
		case k == None:
			return
		default:
			lever := c.Contacts[k].Lever
			if closed[lever] == nil {
				closed[lever] = map[string]bool{}
			}
			for _, at := range c.Contacts[k].At {
				closed[lever][at] = true
			}
			if len(closed[lever]) == len(c.Levers[lever].Positions) {
				return
			}
		}
	}
	if cmos == "" || len(closed) == 0 {
		return
	}
	first := slices.Min(slices.Collect(maps.Keys(closed)))
	b.fl.Warnf(n.Pos, n.Name, "add the pull resistor to the board file", "net %s is held by switches only: while %s is open nothing decides what %s hears", n.Name, c.LeverName(first), cmos)
}

// LeverName is a switch as an action writes it: S1, or S1.3 for one section.
func (c *Circuit) LeverName(k int) string {
	s := c.Levers[k]
	if s.Section == "" {
		return c.Parts[s.Part].Ref
	}
	return c.Parts[s.Part].Ref + "." + s.Section
}

// LeverNames are all words that an action may move, sorted: each switch, and each of its sections.
func (c *Circuit) LeverNames() []string {
	seen := map[string]bool{}
	for k, s := range c.Levers {
		seen[c.Parts[s.Part].Ref], seen[c.LeverName(k)] = true, true
	}
	return slices.Sorted(maps.Keys(seen))
}

// MoveText is a move for people: press S1, S1.3 closed, S2 down.
func (c *Circuit) MoveText(m Move) string {
	s := c.Levers[m.Lever]
	if len(s.Positions) == 2 && s.Positions[0] == part.OpenWord && s.Section == "" {
		if m.To == s.Rest {
			return "release " + c.LeverName(m.Lever)
		}
		return "press " + c.LeverName(m.Lever)
	}
	return c.LeverName(m.Lever) + " " + m.To
}

// ElementName is one element of a part as a fault names it: the part, when it is the only one; else the section of a switch, or the pin
// that only this element has.
func (c *Circuit) ElementName(li int) string {
	l := c.Links[li]
	ref := c.Parts[l.Part].Ref
	if c.Elements(l.Part) == 1 {
		return ref
	}
	if name, ok := c.sectionOf(li); ok {
		return name
	}
	for _, pin := range []int{l.PinB, l.PinA} {
		if pin != None {
			return c.PinName(pin)
		}
	}
	for _, n := range []int{l.B, l.A} {
		for _, pin := range c.Nets[n].Pins {
			if c.Pins[pin].Part == l.Part {
				return c.PinName(pin)
			}
		}
	}
	return ref
}

// sectionOf names a contact by its section, where that is the only contact in it and the word means no other pin of the part.
func (c *Circuit) sectionOf(li int) (string, bool) {
	l := c.Links[li]
	if l.Contact == None {
		return "", false
	}
	sw := c.Levers[c.Contacts[l.Contact].Lever]
	if sw.Section == "" {
		return "", false
	}
	for _, other := range c.Parts[l.Part].Links {
		if k := c.Links[other].Contact; other != li && k != None && c.Contacts[k].Lever == c.Contacts[l.Contact].Lever {
			return "", false
		}
	}
	if pin := c.PinOf(l.Part, sw.Section); pin != None && pin != l.PinA && pin != l.PinB {
		return "", false
	}
	return c.Parts[l.Part].Ref + "." + sw.Section, true
}

// Elements counts the elements of a part, joints left out.
func (c *Circuit) Elements(pi int) int {
	n := 0
	for _, l := range c.Parts[pi].Links {
		if c.Links[l].Kind != Joint {
			n++
		}
	}
	return n
}

// ContactText says which contact of a switch is meant, for people: "S1 section 3 (pins 3 and 14)", "S2 contact COM to A (closed when up)".
func (c *Circuit) ContactText(li int) string {
	l := c.Links[li]
	p := c.Parts[l.Part]
	if c.Elements(l.Part) == 1 {
		return p.Ref
	}
	k := c.Contacts[l.Contact]
	sw := c.Levers[k.Lever]
	end := func(pin, net int) (string, string) {
		if pin == None { // several contacts share the pin: it is the one whose inside end this is
			for _, i := range c.Nets[net].Pins {
				if c.Pins[i].Part == l.Part {
					pin = i
				}
			}
		}
		if pin == None {
			return "", ""
		}
		return fmt.Sprint(c.Pins[pin].Number), p.Type.Nodes[c.Pins[pin].Node].Name
	}
	numA, nameA := end(l.PinA, l.A)
	numB, nameB := end(l.PinB, l.B)
	if name, ok := c.sectionOf(li); ok {
		_, section, _ := strings.Cut(name, ".")
		return fmt.Sprintf("%s section %s (pins %s and %s)", p.Ref, section, numA, numB)
	}
	text := fmt.Sprintf("%s contact %s to %s", p.Ref, nameA, nameB)
	if len(sw.Positions) > 0 && k.At[0] != part.ClosedWord {
		text += " (closed when " + orWords(k.At) + ")"
	}
	return text
}

func orWords(words []string) string {
	if len(words) == 1 {
		return words[0]
	}
	return orList(words)
}
