package bench

import (
	"fmt"

	"halfsplit/internal/core/board"
)

// Actions of an invented board: switch on, and about forty things that a technician could do to it: write a register, count,
// write and count, read a port.

// actionsPerBoard is how many actions a board has, switching on included.
const actionsPerBoard = 40

func set(pairs ...any) board.Step {
	var s board.Step
	for i := 0; i < len(pairs); i += 2 {
		v := board.Value{}
		switch x := pairs[i+1].(type) {
		case int:
			v.Number = uint64(x)
		case byte:
			v.Letter = x
		}
		s.Sets = append(s.Sets, board.Set{Net: pairs[i].(string), Value: v})
	}
	return s
}

func pulse(net string) board.Step { return board.Step{Pulse: board.Name{Text: net}} }

func cycles(n int) board.Step { return board.Step{Cycles: []board.Cycle{{Net: "CLK", N: n}}} }

func (l *layout) actions() {
	l.b.Start = []board.Name{{Text: "power-up"}}
	l.b.Actions = append(l.b.Actions, board.Action{Name: "power-up", Title: "Switch on and reset", Steps: []board.Step{
		set("A", 0, "D", 0, "/WR", 1, "/RD", 1, "CLK", 0, "/RESET", 0), cycles(2), set("/RESET", 1), cycles(3)}})
	for k := 1; k < actionsPerBoard; k++ {
		s := l.made[l.r.IntN(len(l.made))]
		var a board.Action
		switch {
		case k%8 == 1:
			n := 3 + l.r.IntN(8)
			a = board.Action{Name: fmt.Sprint("count-", k), Title: fmt.Sprintf("Clock %d times", n), Steps: []board.Step{cycles(n)}}
		case k%8 < 4 && len(s.reads) > 0:
			port := s.reads[l.r.IntN(len(s.reads))]
			a = board.Action{Name: fmt.Sprint("read-", k), Title: fmt.Sprintf("Read port %d of section %d", port, s.n),
				Steps: append(s.count(1+l.r.IntN(4)), s.read(port)...)}
		case k%8 < 6:
			a = board.Action{Name: fmt.Sprint("write-", k), Title: fmt.Sprintf("Write to section %d", s.n)}
			for range 1 + l.r.IntN(4) {
				a.Steps = append(a.Steps, s.write(s.port(), l.r.IntN(256))...)
			}
		default:
			a = board.Action{Name: fmt.Sprint("run-", k), Title: fmt.Sprintf("Let section %d count", s.n), Steps: s.count(2 + l.r.IntN(7))}
		}
		l.b.Actions = append(l.b.Actions, a)
	}
}

// port is a port that can be written.
func (s *section) port() int {
	if len(s.writes) == 0 {
		return 0
	}
	return s.writes[s.l.r.IntN(len(s.writes))]
}

// write takes three moments.
func (s *section) write(port, value int) []board.Step {
	return []board.Step{set("A", s.n<<3|port, "D", value), pulse("/WR")}
}

// read lets the data bus go and strobes a port: three moments.
func (s *section) read(port int) []board.Step {
	return []board.Step{set("A", s.n<<3|port, "D", byte('z')), pulse("/RD")}
}

// count sets the counter free and clocks it.
func (s *section) count(n int) []board.Step {
	return append(s.write(0, 3|s.l.r.IntN(64)<<2), cycles(n))
}
