// Package fault knows what can be wrong with a board: the kinds of fault, where each can sit, how likely each is
// before anything was seen, and which patches make the simulator show it.
package fault

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

// Kind names a kind of fault, as files and JSON write it.
type Kind string

// The kinds of fault.
const (
	OutputLow   Kind = "output-low"
	OutputHigh  Kind = "output-high"
	OutputOpen  Kind = "output-open"
	InputLow    Kind = "input-low"
	InputHigh   Kind = "input-high"
	InputOpen   Kind = "input-open"
	JointOpen   Kind = "joint-open"
	NetLow      Kind = "net-low"
	NetHigh     Kind = "net-high"
	Bridge      Kind = "bridge"
	PartDead    Kind = "part-dead"
	NoSupply    Kind = "no-supply"
	PartErratic Kind = "part-erratic"
	Open        Kind = "open"
	Short       Kind = "short"
	Value       Kind = "value"
	SegmentDark Kind = "segment-dark"
	SourceLow   Kind = "source-low"
	SourceHigh  Kind = "source-high"
	SourceDead  Kind = "source-dead"
)

// Kinds lists all kinds in the order of the contract.
func Kinds() []Kind {
	return []Kind{OutputLow, OutputHigh, OutputOpen, InputLow, InputHigh, InputOpen, JointOpen, NetLow, NetHigh, Bridge, PartDead, NoSupply,
		PartErratic, Open, Short, Value, SegmentDark, SourceLow, SourceHigh, SourceDead}
}

// site is what the index of a fault counts.
type site uint8

const (
	atPin site = iota
	atNet
	atNets
	atPart
	atLink
	atLamp
	atInput
	elsewhere // in an analogue half
)

// Site tells what the index of a fault of this kind counts; two faults of one site and index are at one place.
func (k Kind) Site() int { return int(k.site()) }

func (k Kind) site() site {
	switch k {
	case OutputLow, OutputHigh, OutputOpen, InputLow, InputHigh, InputOpen, JointOpen:
		return atPin
	case NetLow, NetHigh:
		return atNet
	case Bridge:
		return atNets
	case PartDead, NoSupply, PartErratic:
		return atPart
	case SegmentDark:
		return atLamp
	case SourceLow, SourceHigh, SourceDead:
		return atInput
	case Other:
		return elsewhere
	}
	return atLink
}

// Fault is one physical thing wrong in one place. A is a circuit index of what the kind counts: pin, net (a bridge: A < B),
// part, link, lamp or input. Faults are comparable.
type Fault struct {
	Kind Kind
	A, B int
}

// At is the place as a file writes it: U2.2, D3, D3+D4, U2, R1.
func (f Fault) At(c *circuit.Circuit) string {
	switch f.Kind.site() {
	case atPin:
		return c.PinName(f.A)
	case atNet:
		return c.NetName(f.A)
	case atNets:
		return c.NetName(f.A) + "+" + c.NetName(f.B)
	case atPart:
		return c.Parts[f.A].Ref
	case atLamp:
		return c.Lamps[f.A].Name
	case atInput:
		return c.NetName(c.Inputs[f.A].Net)
	case elsewhere:
		return c.Others[f.A].At
	}
	return c.ElementName(f.A)
}

// String is KIND@WHERE.
func (f Fault) String(c *circuit.Circuit) string { return f.Word(c) + "@" + f.At(c) }

// Part is the part the fault is in, or None (a net, a bridge, an input).
func (f Fault) Part(c *circuit.Circuit) int {
	switch f.Kind.site() {
	case atPin:
		return c.Pins[f.A].Part
	case atPart:
		return f.A
	case atLamp:
		return c.Lamps[f.A].Part
	case atLink:
		return c.Links[f.A].Part
	case elsewhere:
		return c.Others[f.A].Part
	}
	return circuit.None
}

// Net is the net that the fault touches, or None; a bridge touches A and B and gives A.
func (f Fault) Net(c *circuit.Circuit) int {
	switch f.Kind.site() {
	case atPin:
		return c.Pins[f.A].Net
	case atNet, atNets:
		return f.A
	case atInput:
		return c.Inputs[f.A].Net
	case elsewhere:
		return c.Others[f.A].Net
	}
	return circuit.None
}

// Text says the fault in a sentence.
func (f Fault) Text(c *circuit.Circuit) string {
	pin := func() string { return c.PinText(f.A) }
	switch f.Kind {
	case Other:
		return c.Others[f.A].Text
	case OutputLow:
		return pin() + " is held low inside the part"
	case OutputHigh:
		return pin() + " is held high inside the part"
	case OutputOpen:
		return pin() + " drives nothing: the output is open inside the part"
	case InputLow:
		return pin() + " is shorted to ground inside the part and drags net " + c.NetName(f.Net(c))
	case InputHigh:
		return pin() + " is shorted to the supply inside the part and holds net " + c.NetName(f.Net(c))
	case InputOpen:
		return pin() + " is open inside the part: it no longer hears net " + c.NetName(f.Net(c))
	case JointOpen:
		return "open joint, socket contact or track at " + pin() + " (net " + c.NetName(f.Net(c)) + ")"
	case NetLow:
		return "net " + c.NetName(f.A) + " is shorted to ground outside the parts"
	case NetHigh:
		return "net " + c.NetName(f.A) + " is shorted to the supply outside the parts"
	case Bridge:
		return "nets " + c.NetName(f.A) + " and " + c.NetName(f.B) + " are bridged"
	case PartDead:
		return c.Parts[f.A].Ref + " is dead: its outputs drive nothing or sit at one level"
	case NoSupply:
		return c.Parts[f.A].Ref + " gets no supply"
	case PartErratic:
		return c.Parts[f.A].Ref + " fails in a way that is not listed here"
	case SegmentDark:
		return c.Lamps[f.A].Name + " never lights"
	case SourceLow:
		return c.NetName(f.Net(c)) + " comes in low: the cause lies before the model"
	case SourceHigh:
		return c.NetName(f.Net(c)) + " comes in high: the cause lies before the model"
	case SourceDead:
		return c.NetName(f.Net(c)) + " is not driven from outside: the cause lies before the model"
	}
	if c.Links[f.A].Kind == circuit.Contact1 {
		return c.ContactText(f.A) + " " + elementText(c, f)
	}
	return f.At(c) + " " + elementText(c, f)
}

func elementText(c *circuit.Circuit, f Fault) string {
	contact := c.Links[f.A].Kind == circuit.Contact1
	switch {
	case contact && f.Kind == Open:
		return "never closes"
	case contact && f.Kind == Short:
		return "never opens"
	case f.Kind == Open:
		return "is open"
	case f.Kind == Short:
		return "is shorted"
	}
	return "has drifted far from its value"
}

// Compare orders faults by place and kind, so that output never depends on the order of a map.
func Compare(a, b Fault) int {
	return cmp.Or(cmp.Compare(a.Kind.site(), b.Kind.site()), cmp.Compare(a.A, b.A), cmp.Compare(a.B, b.B), cmp.Compare(a.Kind, b.Kind))
}

// Parse reads KIND@WHERE. The error says what was expected and the nearest right word.
func Parse(c *circuit.Circuit, s string) (Fault, error) {
	k, where, ok := strings.Cut(s, "@")
	kind := Kind(k)
	if !ok || where == "" {
		return Fault{}, fmt.Errorf("%q: a fault is written KIND@WHERE, such as input-low@U3.7", s)
	}
	for i, o := range c.Others {
		if o.Kind == k && o.At == where {
			return OtherFault(c, i), nil
		}
	}
	if !slices.Contains(Kinds(), kind) {
		var words []string
		for _, x := range Kinds() {
			words = append(words, string(x))
		}
		return Fault{}, fmt.Errorf("no kind of fault %q; %s", k, finding.DidYouMean(k, words))
	}
	f := Fault{Kind: kind, A: circuit.None, B: circuit.None}
	switch kind.site() {
	case atPin:
		return f, parsePin(c, &f, where)
	case atNet, atInput:
		return f, parseNet(c, &f, where)
	case atNets:
		return f, parseBridge(c, &f, where)
	case atLamp:
		lamp, _, hint := c.FindLamp(where)
		if lamp == circuit.None {
			if hint == "" {
				hint = where + " is a digit; name a segment, such as " + where + ".a"
			}
			return f, fmt.Errorf("%s: %s", s, hint)
		}
		f.A = lamp
		return f, nil
	}
	return f, parsePart(c, &f, where)
}

func parsePin(c *circuit.Circuit, f *Fault, where string) error {
	p, hint := c.FindPlace(where)
	switch {
	case p.Net == circuit.None:
		return fmt.Errorf("%s@%s: %s", f.Kind, where, hint)
	case p.Pin == circuit.None:
		return fmt.Errorf("%s@%s: %s is a net; this kind of fault sits at a pin, such as %s", f.Kind, where, where, c.PinName(c.Nets[p.Net].Pins[0]))
	}
	f.A = p.Pin
	pin := c.Pins[p.Pin]
	out := f.Kind == OutputLow || f.Kind == OutputHigh || f.Kind == OutputOpen
	in := f.Kind == InputLow || f.Kind == InputHigh || f.Kind == InputOpen
	if out && pin.Driver == circuit.None {
		return fmt.Errorf("%s@%s: %s is not an output", f.Kind, where, where)
	}
	if in && pin.Use&part.Heard == 0 {
		return fmt.Errorf("%s@%s: %s is not an input", f.Kind, where, where)
	}
	return nil
}

func parseNet(c *circuit.Circuit, f *Fault, where string) error {
	p, hint := c.FindPlace(where)
	if p.Net == circuit.None {
		return fmt.Errorf("%s@%s: %s", f.Kind, where, hint)
	}
	f.A = p.Net
	if c.Nets[p.Net].Rail {
		return fmt.Errorf("%s@%s: %s is a rail", f.Kind, where, where)
	}
	if f.Kind.site() == atInput {
		f.A = c.Nets[p.Net].Input
		if f.A == circuit.None {
			return fmt.Errorf("%s@%s: %s is not an input of the board", f.Kind, where, where)
		}
	}
	return nil
}

func parseBridge(c *circuit.Circuit, f *Fault, where string) error {
	// net names may hold a plus sign: try every split
	for i := range where {
		if where[i] != '+' {
			continue
		}
		a, _ := c.FindPlace(where[:i])
		b, _ := c.FindPlace(where[i+1:])
		if a.Net != circuit.None && b.Net != circuit.None && a.Net != b.Net {
			f.A, f.B = min(a.Net, b.Net), max(a.Net, b.Net)
			return nil
		}
	}
	return fmt.Errorf("bridge@%s: expected two different nets of this board, as in bridge@D3+D4", where)
}

func parsePart(c *circuit.Circuit, f *Fault, where string) error {
	pi, ok := c.PartByRef(where)
	if f.Kind.site() == atPart {
		if !ok {
			_, hint := c.FindPlace(where + ".1")
			return fmt.Errorf("%s@%s: %s", f.Kind, where, hint)
		}
		f.A = pi
		return nil
	}
	if ok && ambiguous(c, pi) {
		return fmt.Errorf("%s@%s: %s has several elements; name one by its section or pin, such as %s@%s", f.Kind, where, where, f.Kind, c.ElementName(firstElement(c, pi)))
	}
	for _, hit := range []func(li int, l circuit.Link) bool{
		func(li int, l circuit.Link) bool { return c.ElementName(li) == where || ok && l.Part == pi },
		func(_ int, l circuit.Link) bool { // a contact by either of its pins
			p, _ := c.FindPlace(where)
			return l.Contact != circuit.None && p.Pin != circuit.None && (p.Pin == l.PinA || p.Pin == l.PinB)
		},
	} {
		for li, l := range c.Links {
			if l.Kind != circuit.Joint && hit(li, l) {
				f.A = li
				return nil
			}
		}
	}
	_, hint := c.FindPlace(where + ".1")
	return fmt.Errorf("%s@%s: expected a two- or three-terminal part or one element of a network; %s", f.Kind, where, hint)
}

// ambiguous tells whether a part's own name does not say which element is meant: of a switch with several contacts, and of anything with more than
// three pins.
func ambiguous(c *circuit.Circuit, pi int) bool {
	first := firstElement(c, pi)
	return first != circuit.None && c.Elements(pi) > 1 && (c.Links[first].Contact != circuit.None || len(c.Parts[pi].Type.Pins) > 3)
}

// firstElement is the first link of a part that is no joint, or None.
func firstElement(c *circuit.Circuit, pi int) int {
	for _, li := range c.Parts[pi].Links {
		if c.Links[li].Kind != circuit.Joint {
			return li
		}
	}
	return circuit.None
}
