package analog_test

// The likelihood of a log as a whole: what one tolerance moves together is one witness, a comparator near its threshold may stand either way, and a log read
// at once says the same as one read line by line.

import (
	"context"
	"fmt"
	"testing"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/analog"
	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/part"
)

// parts is a board between +12V and GND; every part is ref, type, value and the nets of its pins in order.
func parts(t *testing.T, list ...board.Part) *analog.Lab {
	t.Helper()
	lib, fl := part.Embedded()
	if fl.Errors() {
		t.Fatal(fl)
	}
	b := &board.Board{Title: "test", Rails: []board.Rail{{Net: "+12V", Volts: 12}, {Net: "GND"}}, Analog: &board.Analog{Ground: "GND", Age: 40}, Parts: list}
	c, fl := circuit.Build(b, lib)
	if c == nil {
		t.Fatal(fl)
	}
	m, fl := analog.New(c, 2)
	if m == nil || len(m.Silent) > 0 {
		t.Fatal(fl)
	}
	return analog.NewLab(analog.NewUniverse(m))
}

func two(ref, typ string, value float64, a, b string) board.Part {
	return board.Part{Ref: ref, Type: typ, Listed: true, Value: value, HasValue: value > 0, Pins: []board.Pin{{Net: a}, {Net: b}}}
}

func volts(pairs ...any) []evidence.Measured {
	var out []evidence.Measured
	for i := 0; i < len(pairs); i += 2 {
		out = append(out, evidence.Measured{At: pairs[i].(string), Volts: pairs[i+1].(float64)})
	}
	return out
}

func ran(t *testing.T, l *analog.Lab, log ...evidence.Entry) *analog.Session {
	t.Helper()
	for i := range log {
		log[i].Index, log[i].Sure = i+1, 0.98
	}
	s, fl := analog.NewSession(l, &evidence.Case{Log: log})
	if s == nil {
		t.Fatal(fl)
	}
	if err := s.Run(context.Background()); err != nil {
		t.Fatal(err)
	}
	return s
}

// healthy is the probability of the sound board.
func healthy(s *analog.Session) float64 {
	for _, st := range s.Stories {
		if len(st.Hyps) == 0 {
			return st.P
		}
	}
	return 0
}

// A regulator of ±5 % feeds four dividers; 5.19 V of it shows everywhere. That is one tolerance and no evidence against the good board: each further
// reading that agrees leaves it where it was, while one that does not is an accusation.
func TestOneToleranceIsOneWitness(t *testing.T) {
	list := []board.Part{{Ref: "U1", Type: "78L05", Pins: []board.Pin{{Pin: "IN", Net: "+12V"}, {Pin: "GND", Net: "GND"}, {Pin: "OUT", Net: "REF"}}}}
	for _, n := range []string{"A", "B", "C", "D"} {
		list = append(list, two("R1"+n, "resistor", 1e3, "REF", n), two("R2"+n, "resistor", 100e3, n, "GND"))
	}
	l := parts(t, list...)
	one := healthy(ran(t, l, evidence.Entry{Volts: volts("REF", 5.19)}))
	all := healthy(ran(t, l, evidence.Entry{Volts: volts("REF", 5.19, "A", 5.14, "B", 5.13, "C", 5.14, "D", 5.15)}))
	not := healthy(ran(t, l, evidence.Entry{Volts: volts("REF", 5.19, "A", 5.14, "B", 5.13, "C", 5.14, "D", 4.95)}))
	t.Logf("good with %.3f after one reading, %.3f after five that agree, %.3g with one that does not", one, all, not)
	if all < one {
		t.Errorf("four readings that agree took the good board from %.3f to %.3f", one, all)
	}
	if not > all/3 {
		t.Errorf("a reading that disagrees leaves it at %.3g", not)
	}
}

// A comparator whose threshold lies within the tolerances of its dividers: neither level of its output accuses anything much.
func TestAComparatorStandsEitherWay(t *testing.T) {
	l := parts(t, two("R1", "resistor", 10e3, "+12V", "IN"), two("R2", "resistor", 10e3, "IN", "GND"), two("R3", "resistor", 22e3, "+12V", "TH"), two("R4", "resistor", 22e3, "TH", "GND"),
		board.Part{Ref: "U1", Type: "LM393", Pins: []board.Pin{{Pin: "1IN+", Net: "IN"}, {Pin: "1IN-", Net: "TH"}, {Pin: "1OUT", Net: "OUT"}, {Pin: "VCC", Net: "+12V"},
			{Pin: "GND", Net: "GND"}, {Pin: "2IN+", Net: "GND"}, {Pin: "2IN-", Net: "GND"}, {Pin: "2OUT", Net: "-"}}}, two("R5", "resistor", 2.2e3, "+12V", "OUT"))
	high := healthy(ran(t, l, evidence.Entry{Volts: volts("OUT", 12.0)}))
	low := healthy(ran(t, l, evidence.Entry{Volts: volts("OUT", 0.14)}))
	t.Logf("good with %.3f when high, %.3f when low", high, low)
	if high < 0.01 || low < 0.01 {
		t.Errorf("good with %.3g when high, %.3g when low", high, low)
	}
}

func TestALogAtOnceIsALogLineByLine(t *testing.T) {
	log := []evidence.Entry{{Index: 1, Sure: 0.98, Volts: volts("N2", 0.2)}, {Index: 2, Sure: 0.98, Volts: volts("+12V", 11.9)}, {Index: 3, Sure: 0.98, Volts: volts("N1", 0.9, "N4", -1.2)}}
	said := func(s *analog.Session) (out string) {
		p, err := s.Plan(context.Background(), evidence.Bench{Meter: true}, advise.DefaultCosts())
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range s.Suspects(p) {
			out += fmt.Sprintf("%v %.9f %d\n", x.Faults, x.P, x.Group)
		}
		for _, x := range p.Proposals {
			out += fmt.Sprintf("%v %s %.9f\n", x.Check, x.At, x.Bits)
		}
		return out
	}
	l := lab(t, 20, 20, 2)
	s, fl := analog.NewSession(l, &evidence.Case{})
	if s == nil {
		t.Fatal(fl)
	}
	for _, e := range log {
		if fl := s.Add(e); fl.Errors() {
			t.Fatal(fl)
		}
		if err := s.Run(context.Background()); err != nil {
			t.Fatal(err)
		}
		said(s)
	}
	line := said(s)
	once := said(ran(t, lab(t, 20, 20, 2), log...))
	if line != once || len(once) < 100 {
		t.Errorf("line by line:\n%.600s\nat once:\n%.600s", line, once)
	}
}
