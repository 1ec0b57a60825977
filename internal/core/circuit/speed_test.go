package circuit_test

// Lint on a board of ten thousand parts: a board that was imported in part has thousands of nets on one pin only, and for each the nearest
// name is sought.

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
)

// big has n inverters with every pin on a net of its own.
func big(n int, name func(i, pin int) string) *board.Board {
	b := &board.Board{Rails: []board.Rail{{Net: "GND"}, {Net: "VCC", Volts: 5}}}
	for i := range n {
		p := board.Part{Ref: fmt.Sprintf("U%d", i+1), Type: "74LS04"}
		for pin := 1; pin <= 2; pin++ {
			p.Pins = append(p.Pins, board.Pin{Pin: fmt.Sprint(pin), Net: name(i, pin)})
		}
		b.Parts = append(b.Parts, p)
	}
	return b
}

func TestLintOfABigBoardTakesSeconds(t *testing.T) {
	lib := library(t)
	for what, name := range map[string]func(i, pin int) string{
		"numbered": func(i, pin int) string { return fmt.Sprintf("N%05d", 2*i+pin) },
		"by pin":   func(i, pin int) string { return fmt.Sprintf("Net-(U%d-Pad%d)", i+1, pin) },
		"far apart": func(i, pin int) string { // no two are near each other
			return strings.Repeat(string(rune('A'+i%26)), 3+i/26%9) + strings.Repeat(string(rune('a'+i/234%26)), 8) + strings.Repeat(string(rune('0'+pin)), 7) + fmt.Sprint(i/6084)
		},
	} {
		begin := time.Now()
		c, fl := circuit.Build(big(10_000, name), lib)
		took := time.Since(begin)
		if c == nil {
			t.Fatal(fl)
		}
		lonely := 0
		for _, f := range fl {
			if strings.Contains(f.Text, "on one pin only") {
				lonely++
			}
		}
		t.Logf("%s: %d lonely nets in %v", what, lonely, took)
		if lonely < 19_000 || took > 20*time.Second {
			t.Errorf("%s: %d lonely nets in %v", what, lonely, took)
		}
	}
}
