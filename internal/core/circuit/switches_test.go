package circuit_test

// Switches with several contacts: sections, throws, where they rest, what an action does to them, and what is refused.

import (
	"slices"
	"strings"
	"testing"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

func library(t *testing.T) *part.Library {
	t.Helper()
	lib, fl := part.Embedded()
	if len(fl) > 0 {
		t.Fatal(fl)
	}
	return lib
}

func listed(ref, typ string, nets ...string) board.Part {
	p := board.Part{Ref: ref, Type: typ, Listed: true}
	for _, n := range nets {
		p.Pins = append(p.Pins, board.Pin{Net: n})
	}
	return p
}

// panel has a change-over switch, a bank of four sections, a rotary switch with a code and a plain button.
func panel() *board.Board {
	return &board.Board{
		Rails: []board.Rail{{Net: "GND"}, {Net: "VCC", Volts: 5}},
		Parts: []board.Part{
			listed("S1", "switch-spdt", "VCC", "Y", "GND"),
			listed("S2", "dip-switch-4", "P1", "P2", "P3", "P4", "GND", "GND", "GND", "GND"),
			listed("S3", "switch-bcd", "GND", "W1", "W2", "W4", "W8"),
			listed("S4", "button", "K", "GND"),
		},
	}
}

func steps(b *board.Board, s ...board.Step) *board.Board {
	b.Actions = append(b.Actions, board.Action{Name: "go", Steps: s})
	return b
}

// stands gives, after each moment of the action, the contacts that are closed, by the name that a fault has for them.
func stands(c *circuit.Circuit) []string {
	pressed := make([]bool, len(c.Contacts))
	say := func() string {
		var out []string
		for li, l := range c.Links {
			if l.Contact != circuit.None && c.Contacts[l.Contact].Closed != pressed[l.Contact] {
				out = append(out, c.ElementName(li))
			}
		}
		return strings.Join(out, " ")
	}
	out := []string{say()}
	for _, m := range c.Actions[0].Moments {
		for _, s := range m.Contacts {
			pressed[s.Contact] = s.Pressed
		}
		out = append(out, say())
	}
	return out
}

func TestSwitchesStandWhereTheyArePut(t *testing.T) {
	b := panel()
	b.Parts[1].Rests = []board.Rest{{Section: "2", To: "closed"}, {Section: "3", To: "closed"}}
	name := func(s string) []board.Name { return []board.Name{{Text: s}} }
	steps(b,
		board.Step{Moves: []board.Move{{Switch: "S1", To: "down"}, {Switch: "S2.3", To: "open"}}},
		board.Step{Press: name("S2.4"), Moves: []board.Move{{Switch: "S3", To: "6"}}},
		board.Step{Release: name("S1"), Moves: []board.Move{{Switch: "S3", To: "9"}}},
		board.Step{Press: []board.Name{{Text: "S2"}, {Text: "S4"}}}, // all sections away from where they rest, as before there were sections
		board.Step{Moves: []board.Move{{Switch: "S2", To: "closed"}, {Switch: "S4", To: "open"}}},
	)
	c, fl := circuit.Build(b, library(t))
	if c == nil {
		t.Fatal(fl)
	}
	want := []string{
		"S1.A S2.2 S2.3",
		"S1.B S2.2",
		"S1.B S2.2 S2.4 S3.3 S3.4",
		"S1.A S2.2 S2.4 S3.2 S3.5",
		"S1.A S2.1 S2.4 S3.2 S3.5 S4",
		"S1.A S2.1 S2.2 S2.3 S2.4 S3.2 S3.5",
	}
	if got := stands(c); !slices.Equal(got, want) {
		t.Errorf("closed after each moment:\n got %q\nwant %q", got, want)
	}
	said := []string{}
	for _, m := range c.Actions[0].Moments {
		for _, mv := range m.Moves {
			said = append(said, c.MoveText(mv))
		}
	}
	if got, want := strings.Join(said[:5], ", "), "S1 down, S2.3 open, S2.4 closed, S3 6, S1 up"; got != want {
		t.Errorf("for people: %s, want %s", got, want)
	}
	if got := c.LeverNames(); !slices.Equal(got, []string{"S1", "S2", "S2.1", "S2.2", "S2.3", "S2.4", "S3", "S4"}) {
		t.Errorf("what an action may move: %q", got)
	}
}

func TestACentreOffSwitchRestsInTheMiddle(t *testing.T) {
	b := panel()
	b.Parts[0].Type = "switch-spdt-centre-off"
	steps(b, board.Step{Moves: []board.Move{{Switch: "S1", To: "up"}}}, board.Step{Moves: []board.Move{{Switch: "S1", To: "centre"}}})
	c, fl := circuit.Build(b, library(t))
	if c == nil {
		t.Fatal(fl)
	}
	if got := stands(c); !slices.Equal(got, []string{"", "S1.A", ""}) {
		t.Errorf("closed: %q", got)
	}
	b.Parts[0].Rests = []board.Rest{{To: "down"}}
	if c, fl = circuit.Build(b, library(t)); c == nil {
		t.Fatal(fl)
	}
	if got := stands(c); !slices.Equal(got, []string{"S1.B", "S1.A", ""}) {
		t.Errorf("closed when it rests down: %q", got)
	}
}

func TestAPlainSwitchIsAsItWas(t *testing.T) {
	b := steps(panel(), board.Step{Press: []board.Name{{Text: "S4"}}}, board.Step{Release: []board.Name{{Text: "S4"}}})
	for _, closed := range []bool{false, true} {
		b.Parts[3].Closed = closed
		c, fl := circuit.Build(b, library(t))
		if c == nil {
			t.Fatal(fl)
		}
		k := c.Levers[slices.IndexFunc(c.Levers, func(l circuit.Lever) bool { return c.Parts[l.Part].Ref == "S4" })].Contacts[0]
		m := c.Actions[0].Moments
		if c.Contacts[k].Closed != closed || !slices.Equal(m[0].Contacts, []circuit.ContactSet{{Contact: k, Pressed: true}}) ||
			!slices.Equal(m[1].Contacts, []circuit.ContactSet{{Contact: k, Pressed: false}}) {
			t.Errorf("rests closed %v: contact %+v, moments %+v", closed, c.Contacts[k], m)
		}
		if got := c.MoveText(m[0].Moves[0]) + ", " + c.MoveText(m[1].Moves[0]); got != "press S4, release S4" {
			t.Errorf("for people: %s", got)
		}
	}
}

func TestWhatASwitchRefuses(t *testing.T) {
	put := func(sw, to string) board.Step { return board.Step{Moves: []board.Move{{Switch: sw, To: to}}} }
	press := func(sw string) board.Step { return board.Step{Press: []board.Name{{Text: sw}}} }
	rest := func(i int, section, to string) func(*board.Board) {
		return func(b *board.Board) { b.Parts[i].Rests = []board.Rest{{Section: section, To: to}} }
	}
	none := func(*board.Board) {}
	for _, c := range []struct {
		change func(*board.Board)
		step   board.Step
		want   string
	}{
		{none, put("S1", "dwon"), `S1 is put up or down, found "dwon" (did you mean down?)`},
		{none, put("S2.5", "closed"), "S2 has no section 5 (its sections: 1, 2, 3, 4)"},
		{none, press("S4.1"), "S4 has no section 1 (all of it moves together: leave the section out)"},
		{none, put("S3", "12"), `S3 is put 0, 1, 2, 3, 4, 5, 6, 7, 8 or 9, found "12"`},
		{none, press("S3"), "S3 has more than two positions: 0, 1, 2, 3, 4, 5, 6, 7, 8, 9 (write  S3: 1)"},
		{none, press("S5"), "S5 is not a switch or button of this board"},
		{none, board.Step{Press: []board.Name{{Text: "S2"}}, Moves: []board.Move{{Switch: "S2.1", To: "open"}}}, "S2.1 is put closed and open in the same moment (make two steps of it)"},
		{rest(0, "", "close"), board.Step{}, `S1 rests up or down, found "close"`},
		{rest(3, "", "close"), board.Step{}, `S4 rests open or closed, found "close" (did you mean closed?)`},
		{rest(1, "7", "closed"), board.Step{}, "S2 has no section 7 to rest closed (its sections: 1, 2, 3, 4)"},
		{func(b *board.Board) { b.Parts[0].Closed = true }, board.Step{}, `S1 rests up or down, found "closed"`},
	} {
		b := panel()
		c.change(b)
		_, fl := circuit.Build(steps(b, c.step), library(t))
		said := ""
		for _, f := range fl {
			if f.Severity == finding.Error {
				said += f.String() + "\n"
			}
		}
		if !strings.Contains(said, c.want) {
			t.Errorf("%+v: found %q, want %q", c.step, said, c.want)
		}
	}
}

func TestRestsOfWhatIsNoSwitchIsSaid(t *testing.T) {
	b := panel()
	b.Parts = append(b.Parts, board.Part{Ref: "R1", Type: "resistor", Listed: true, Closed: true, Pins: []board.Pin{{Net: "VCC"}, {Net: "K"}}})
	_, fl := circuit.Build(b, library(t))
	if !slices.ContainsFunc(fl, func(f finding.Finding) bool { return f.Where == "R1" && strings.Contains(f.Text, "no switch") }) {
		t.Errorf("nothing said of rests on a resistor: %v", fl)
	}
}

// A CMOS input behind a switch needs a resistor, unless the switch always holds it one way or the other.
func TestInputsThatOnlySwitchesHold(t *testing.T) {
	r := listed("R1", "resistor", "VCC", "A")
	for _, x := range []struct {
		what  string
		parts []board.Part
		warns bool
	}{
		{"a section to ground", []board.Part{listed("S1", "dip-switch-2", "A", "B", "GND", "GND"), named("U1", "74HC04", "1A", "A", "1Y", "Y")}, true},
		{"with a pull-up", []board.Part{listed("S1", "dip-switch-2", "A", "B", "GND", "GND"), named("U1", "74HC04", "1A", "A", "1Y", "Y"), r}, false},
		{"a bipolar input, which is heard as high", []board.Part{listed("S1", "dip-switch-2", "A", "B", "GND", "GND"), named("U1", "74LS04", "1A", "A", "1Y", "Y")}, false},
		{"a change-over switch between the rails", []board.Part{listed("S1", "switch-spdt", "VCC", "A", "GND"), named("U1", "74HC04", "1A", "A", "1Y", "Y")}, false},
		{"one that is open in the middle", []board.Part{listed("S1", "switch-spdt-centre-off", "VCC", "A", "GND"), named("U1", "74HC04", "1A", "A", "1Y", "Y")}, true},
		{"the throw of one", []board.Part{listed("S1", "switch-spdt", "A", "GND", "B"), named("U1", "74HC04", "1A", "A", "1Y", "Y")}, true},
	} {
		_, fl := circuit.Build(&board.Board{Rails: []board.Rail{{Net: "GND"}, {Net: "VCC", Volts: 5}}, Parts: x.parts}, library(t))
		got := slices.ContainsFunc(fl, func(f finding.Finding) bool {
			return f.Where == "A" && strings.Contains(f.Text, "held by switches only")
		})
		if got != x.warns {
			t.Errorf("%s: warned %v, want %v: %v", x.what, got, x.warns, fl)
		}
	}
}
