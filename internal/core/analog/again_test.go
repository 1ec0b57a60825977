package analog_test

// Reading once more: a second reading that agrees is no second witness, one that does not takes a slip back, and a slip is ruled out before rare faults are
// chased. And gain, from where the signal comes in.

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/analog"
	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/part"
)

// ladder is a chain of dividers behind a regulator.
func ladder(t *testing.T) *analog.Lab {
	list := []board.Part{{Ref: "U1", Type: "78L05", Pins: []board.Pin{{Pin: "IN", Net: "+12V"}, {Pin: "GND", Net: "GND"}, {Pin: "OUT", Net: "REF"}}}}
	for _, n := range []string{"A", "B", "C", "D", "E", "F"} {
		list = append(list, two("R1"+n, "resistor", 10e3, "REF", n), two("R2"+n, "resistor", 10e3, n, "GND"))
	}
	return parts(t, list...)
}

func modelled(t *testing.T, b *board.Board) *analog.Lab {
	t.Helper()
	lib, fl := part.Embedded()
	if fl.Errors() {
		t.Fatal(fl)
	}
	c, fl := circuit.Build(b, lib)
	if c == nil {
		t.Fatal(fl)
	}
	m, fl := analog.New(c, 2)
	if m == nil {
		t.Fatal(fl)
	}
	return analog.NewLab(analog.NewUniverse(m))
}

func planned(t *testing.T, s *analog.Session) []analog.Proposal {
	t.Helper()
	p, err := s.Plan(context.Background(), evidence.Bench{Meter: true, Scope: true}, advise.DefaultCosts())
	if err != nil {
		t.Fatal(err)
	}
	return p.Proposals
}

func suspect(s *analog.Session, words string) float64 {
	sum := 0.0
	for _, st := range s.Stories {
		if strings.Contains(s.Words(st), words) {
			sum += st.P
		}
	}
	return sum
}

func TestASecondReadingThatAgreesIsNoSecondWitness(t *testing.T) {
	l := ladder(t)
	one := healthy(ran(t, l, evidence.Entry{Volts: volts("A", 2.56)}))
	same := healthy(ran(t, l, evidence.Entry{Volts: volts("A", 2.56)}, evidence.Entry{Volts: volts("A", 2.562)}, evidence.Entry{Volts: volts("A", 2.558)}))
	if r := same / one; !(r > 0.6 && r < 1.7) {
		t.Errorf("the good board went from %.3f to %.3f by reading the same twice more", one, same)
	}
}

func TestASecondReadingTakesASlipBack(t *testing.T) {
	l := ladder(t)
	odd := ran(t, l, evidence.Entry{Volts: volts("A", 0.02)})
	again := ran(t, l, evidence.Entry{Volts: volts("A", 0.02)}, evidence.Entry{Volts: volts("A", 0.02)})
	back := ran(t, l, evidence.Entry{Volts: volts("A", 0.02)}, evidence.Entry{Volts: volts("A", 2.5)})
	if a, b, c := healthy(odd), healthy(again), healthy(back); !(b < a/5) || !(c > 5*a) {
		t.Errorf("the good board has %.4g after an odd reading, %.4g after it was confirmed, %.4g after it was taken back", a, b, c)
	}
	const short = "net-short@REF" // accounts for 0.02 V
	third := ran(t, l, evidence.Entry{Volts: volts("A", 0.02)}, evidence.Entry{Volts: volts("A", 2.5)}, evidence.Entry{Volts: volts("A", 2.5)})
	if a, b, c := suspect(again, short), suspect(back, short), suspect(third, short); !(a > 0.9) || !(b < 0.7) || !(c < 0.05) {
		t.Errorf("the short has %.3f after it was confirmed, %.3f after it was taken back, %.3f after a third reading", a, b, c)
	}
	if !slices.ContainsFunc(planned(t, back), func(x analog.Proposal) bool { return x.Again == 2 && x.At == "A" }) {
		t.Error("two readings that contradict each other are not followed by a third")
	}
}

// 6.4 V at A, behind 5 V, is for a bridge, which is rare: a slip is as good an account. The reading is proposed once more; after one that agrees and a story
// that accounts for both it is not proposed a third time.
func TestASlipIsRuledOut(t *testing.T) {
	l := ladder(t)
	odd := evidence.Entry{Volts: volts("A", 6.4)}
	first := planned(t, ran(t, l, odd))
	at := slices.IndexFunc(first, func(x analog.Proposal) bool { return x.Again == 1 && x.At == "A" })
	if at < 0 || !(first[at].Bits > 0.04) {
		t.Fatalf("reading A again stands at %d of %d", at, len(first))
	}
	if i := slices.IndexFunc(first, func(x analog.Proposal) bool { return x.Again > 0 && x.At != "A" }); i >= 0 {
		t.Errorf("%s was not read and is to be read again", first[i].At)
	}
	short := evidence.Entry{Volts: volts("A", 0.0)}
	s := ran(t, l, short, short)
	looked := 0
	for _, x := range planned(t, s) {
		looked++
		if x.Again > 0 {
			t.Errorf("%v %s is to be read for the time %d, while %s accounts for all", x.Check.Kind, x.At, x.Again+1, s.Words(s.Stories[0]))
		}
	}
	if looked == 0 {
		t.Error("nothing was planned")
	}
}

// On this machine a complaint that only a rare fault accounts for once cost 24 further checks.
func TestARareFaultIsNotChasedThroughTheBoard(t *testing.T) {
	l := modelled(t, analog.Generate(rand.New(rand.NewPCG(100, 1)), 100))
	trial, err := analog.Drill(context.Background(), l, rand.New(rand.NewPCG(101, 3)), evidence.Bench{Meter: true, Scope: true, Iron: true}, true, 0)
	if err != nil {
		t.Fatal(err)
	}
	t.Log(trial.Truth, trial.Symptom, trial.Asked, trial.Ended)
	if !trial.Found || trial.Checks > 9 {
		t.Errorf("found %v after %d checks", trial.Found, trial.Checks)
	}
}

// A signal behind 1 kΩ into a divider of 10 kΩ and 10 kΩ with a buffer behind it: a half, whatever the source gives. With the lower resistor open it is one.
func TestGainIsProposed(t *testing.T) {
	b := &board.Board{Title: "test", Rails: []board.Rail{{Net: "+12V", Volts: 12}, {Net: "GND"}, {Net: "-12V", Volts: -12}},
		Analog: &board.Analog{Ground: "GND", Age: 40, Sources: []board.Source{{Name: "TONE", Kind: board.Signal, Plus: "IN", Minus: "GND", Volts: 0.3, Frequency: 1000, Ohms: 1000}}},
		Parts: []board.Part{two("R1", "resistor", 10e3, "IN", "MID"), two("R2", "resistor", 10e3, "MID", "GND"), two("R3", "resistor", 10e3, "OUT", "GND"),
			{Ref: "U1", Type: "TL071", Pins: []board.Pin{{Pin: "IN+", Net: "MID"}, {Pin: "IN-", Net: "OUT"}, {Pin: "OUT", Net: "OUT"}, {Pin: "VCC", Net: "+12V"}, {Pin: "VEE", Net: "-12V"}}}}}
	l := modelled(t, b)
	m := l.U.M
	s := ran(t, l, evidence.Entry{AC: []evidence.Level{{At: "OUT", Frequency: 1000, Volts: 0.0}}})
	seen := 0
	for _, x := range planned(t, s) {
		if x.Check.Kind != analog.Gain {
			continue
		}
		seen++
		if from := m.NodeName(x.Check.A); from != "IN" || !strings.HasPrefix(x.At, "IN to ") {
			t.Errorf("gain from %s, at %q", from, x.At)
		}
		want := map[string]float64{"IN to MID": 0.5, "IN to OUT": 0.5}[x.At]
		if got := math.Exp(x.Good.Mu) - 0.01; math.Abs(got-want) > 0.02 { // on a logarithmic scale above 0.01
			t.Errorf("%s: %.3f on a good board, want %.2f", x.At, got, want)
		}
	}
	if seen != 2 {
		t.Errorf("%d gains were proposed", seen)
	}
	open := ran(t, l, evidence.Entry{Gain: []evidence.Gain{{From: "IN", To: "OUT", Frequency: 1000, Is: 1.0}}})
	if p := suspect(open, "open@R2"); !(p > 0.2) {
		t.Errorf("R2 open has %.3f when the gain is one", p)
	}
}
