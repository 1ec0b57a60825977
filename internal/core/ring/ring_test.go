package ring

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

// machine is an invented processor card: the truth that a test's technician rings out.
const machine = `U1:Z80 11=VCC 29=GND 30=A0 31=A1 32=A2 33=A3 34=A4 35=A5 36=A6 37=A7 38=A8 39=A9 40=A10 1=A11 2=A12 3=A13 4=A14 5=A15 14=D0 15=D1 12=D2 8=D3 7=D4 9=D5 10=D6 13=D7 19=/MREQ 21=/RD 22=/WR 6=CLK 26=/RESET
U2:2716 24=VCC 12=GND 21=VCC 8=A0 7=A1 6=A2 5=A3 4=A4 3=A5 2=A6 1=A7 23=A8 22=A9 19=A10 9=D0 10=D1 11=D2 13=D3 14=D4 15=D5 16=D6 17=D7 18=/ROM 20=/RD
U3:6116 24=VCC 12=GND 8=A0 7=A1 6=A2 5=A3 4=A4 3=A5 2=A6 1=A7 23=A8 22=A9 19=A10 9=D0 10=D1 11=D2 13=D3 14=D4 15=D5 16=D6 17=D7 18=/RAM 20=/RD 21=/WR
U4:74LS138 16=VCC 8=GND 1=A11 2=A12 3=A13 4=/MREQ 5=A15 6=A14 15=/ROM 14=/RAM`

// unwired is the machine as a bill of materials gives it, and the net of each pin that the technician would hear.
func unwired(t *testing.T) (*board.Board, map[string]string) {
	t.Helper()
	b := &board.Board{Title: "card", Rails: []board.Rail{{Net: "VCC", Volts: 5}, {Net: "GND"}}}
	truth := map[string]string{"VCC": "VCC", "GND": "GND"}
	for line := range strings.Lines(machine) {
		f := strings.Fields(line)
		ref, typ, _ := strings.Cut(f[0], ":")
		b.Parts = append(b.Parts, board.Part{Ref: ref, Type: typ})
		for _, w := range f[1:] {
			pin, net, _ := strings.Cut(w, "=")
			truth[ref+"."+pin] = net
		}
	}
	return b, truth
}

func library(t *testing.T) *part.Library {
	t.Helper()
	lib, fl := part.Embedded()
	if fl.Errors() {
		t.Fatal(fl)
	}
	return lib
}

// hears tells whether it beeps.
func hears(truth map[string]string, a, b string) bool { return truth[a] != "" && truth[a] == truth[b] }

// ringOut answers honestly, at most n times, and returns the ringings. It fails when one is asked that follows from the earlier ones, by
// a check of its own: closure over the answers, written without the session.
func ringOut(t *testing.T, s *Session, truth map[string]string, n int) []Ringing {
	t.Helper()
	class := map[string]int{}
	no := map[[2]int]bool{}
	of := func(e string) int {
		if _, ok := class[e]; !ok {
			class[e] = len(class) + 1
		}
		return class[e]
	}
	no[[2]int{of("VCC"), of("GND")}] = true
	var asked []Ringing
	for len(asked) < n {
		next := s.Next(1)
		if len(next) == 0 {
			break
		}
		r := next[0]
		asked = append(asked, r)
		x, y := of(r.A), of(r.B)
		if x == y || no[[2]int{min(x, y), max(x, y)}] {
			t.Fatalf("ringing %d asks %s and %s, which follows", len(asked), r.A, r.B)
		}
		if r.Probability <= 0 || r.Probability >= 1 || r.Bits <= 0 || r.Bits > 1 || r.Minutes <= 0 {
			t.Fatalf("%+v", r)
		}
		joined := hears(truth, r.A, r.B)
		if fl := s.Take(Answer{Ends: []string{r.A, r.B}, Not: !joined, Pos: finding.Pos{File: "a", Line: len(asked)}}); len(fl) > 0 {
			t.Fatal(fl)
		}
		if !joined {
			no[[2]int{min(x, y), max(x, y)}] = true
			continue
		}
		for e, c := range class {
			if c == y {
				class[e] = x
			}
		}
		for k := range no {
			for i := range k {
				if k[i] == y {
					delete(no, k)
					k[i] = x
					no[[2]int{min(k[0], k[1]), max(k[0], k[1])}] = true
				}
			}
		}
	}
	return asked
}

func TestStagesComeInOrderAndFindTheBuses(t *testing.T) {
	b, truth := unwired(t)
	s, fl := New(b, library(t))
	if len(fl) > 0 {
		t.Fatal(fl)
	}
	asked := ringOut(t, s, truth, 60)
	if len(asked) != 60 {
		t.Fatalf("%d ringings", len(asked))
	}
	supplies := 9 // two of each part, and the programming voltage of the EPROM
	for i, r := range asked {
		if i > 0 && r.Stage < asked[i-1].Stage {
			t.Errorf("ringing %d is of stage %s after %s", i, r.Stage, asked[i-1].Stage)
		}
		if want := i < supplies; (r.Stage == Rails) != want {
			t.Errorf("ringing %d of stage %s", i, r.Stage)
		}
	}
	// by then the three parts on the buses share all eight data lines and eleven address lines
	wired := s.Wired()
	net := nets(wired)
	found := 0
	for _, line := range []string{"A0", "A1", "A2", "A3", "A4", "A5", "A6", "A7", "A8", "A9", "A10", "D0", "D1", "D2", "D3", "D4", "D5", "D6", "D7"} {
		var pins []string
		for pin, n := range truth {
			if n == line {
				pins = append(pins, pin)
			}
		}
		slices.Sort(pins)
		if len(pins) != 3 || net[pins[0]] != line || net[pins[1]] != line || net[pins[2]] != line {
			t.Errorf("line %s: %v on %s %s %s", line, pins, net[pins[0]], net[pins[1]], net[pins[2]])
			continue
		}
		found++
	}
	if found != 19 {
		t.Errorf("%d lines found", found)
	}
}

func nets(b *board.Board) map[string]string {
	out := map[string]string{}
	for _, p := range b.Parts {
		for _, w := range p.Pins {
			if w.Net != "-" {
				out[p.Ref+"."+w.Pin] = w.Net
			}
		}
	}
	return out
}

// Asked to the end, the nets are the truth, and no ringing was asked twice. The number stays far below one for every two pins.
func TestToTheEnd(t *testing.T) {
	b, truth := unwired(t)
	s, _ := New(b, library(t))
	pairs := len(s.ends) * (len(s.ends) - 1) / 2
	asked := ringOut(t, s, truth, pairs)
	if len(s.Next(1)) != 0 {
		t.Error("there is still something to ask")
	}
	seen := map[string]bool{}
	for _, r := range asked {
		seen[min(r.A, r.B)+" "+max(r.A, r.B)] = true
	}
	if len(seen) != len(asked) || len(asked) > pairs*7/10 {
		t.Errorf("%d ringings, %d of them different, of %d pairs", len(asked), len(seen), pairs)
	}
	got := nets(s.Wired())
	name := map[string]string{} // the net that the session found for each true one
	checked := 0
	for pin, n := range truth {
		alone := true
		for other, m := range truth {
			alone = alone && (other == pin || m != n)
		}
		if pin == "VCC" || pin == "GND" || alone {
			continue
		}
		checked++
		if name[n] == "" {
			name[n] = got[pin]
		}
		if got[pin] == "" || got[pin] != name[n] {
			t.Errorf("%s is on %q, others of %s on %q", pin, got[pin], n, name[n])
		}
	}
	used := map[string]bool{}
	for _, n := range name {
		if used[n] {
			t.Errorf("two nets are called %s", n)
		}
		used[n] = true
	}
	if checked < 80 {
		t.Errorf("%d pins checked", checked)
	}
}

// The measure is the entropy of a yes, in bits: 1 at even odds, and Shannon's 0.8113 at 1 in 4.
func TestEntropy(t *testing.T) {
	for p, want := range map[float64]float64{0.5: 1, 0.25: 0.8112781, 0: 0, 1: 0, 0.98: 0.1414405} {
		if got := entropy(p); math.Abs(got-want) > 1e-6 {
			t.Errorf("entropy(%g) = %g, want %g", p, got, want)
		}
	}
}

// A bus that is buffered is given up soon: after two lines that do not beep the odds of the others have fallen.
func TestOddsLearn(t *testing.T) {
	b, _ := unwired(t)
	s, _ := New(b, library(t))
	odds := func(bit int) float64 {
		i, _ := s.end("U1.A" + strconv.Itoa(bit))
		j, _ := s.end("U2.A" + strconv.Itoa(bit))
		_, p, _ := s.odds(&s.ends[i], &s.ends[j])
		return p
	}
	before := odds(5)
	for bit := range 2 {
		if fl := s.Take(Answer{Ends: []string{fmt.Sprintf("U1.A%d", bit), fmt.Sprintf("U2.A%d", bit)}, Not: true}); len(fl) > 0 {
			t.Fatal(fl)
		}
	}
	if after := odds(5); before != oddsBus || math.Abs(after-oddsBus*weight/(weight+2)) > 1e-12 {
		t.Errorf("odds %g, then %g", before, after)
	}
}

func TestAnswers(t *testing.T) {
	as, fl := ParseAnswers("rung.txt", "# card\nU1.30=U2.8 = U3.8\r\nU1.30!U2.7\r\n U1.4 !\n\nU1.1\nU1.1=\n!\nU1=U2!U3\n")
	var got []string
	for _, a := range as {
		got = append(got, fmt.Sprint(a.Pos.Line, " ", a))
	}
	if want := []string{"2 U1.30 = U2.8 = U3.8", "3 U1.30 ! U2.7", "4 U1.4 !"}; !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
	if len(fl) != 4 || fl[0].Pos.Line != 6 || fl[3].Pos.Line != 9 {
		t.Errorf("%v", fl)
	}
}

func TestContradictions(t *testing.T) {
	b, _ := unwired(t)
	for i, k := range []struct{ first, second, want string }{
		{"U1.30=U2.8", "U2.8!U1.30", "joined by what was said before"},
		{"U1.30!U2.8", "U1.30=U2.8", "a:1 says that they are not"},
		{"U1.11=VCC", "U1.11=GND", "they would join two rails"},
		{"U1.30=U9.8", "", "no pin and no rail U9.8"},
		{"U1.30=U2.8=U3.8", "U1.30!U3.8", "joined by what was said before"},
		{"U1.30!", "U1.30=U2.8", ""}, // said too early: taken back
	} {
		s, _ := New(b, library(t))
		var fl finding.List
		for n, text := range []string{k.first, k.second} {
			a, problem := ParseAnswer(text)
			if problem != "" {
				t.Fatal(problem)
			}
			a.Pos = finding.Pos{File: "a", Line: n + 1}
			fl = append(fl, s.Take(a)...)
		}
		if (k.want == "") != (len(fl) == 0) || len(fl) > 0 && !strings.Contains(fl[0].Text, k.want) {
			t.Errorf("case %d: %v", i, fl)
		}
	}
}
