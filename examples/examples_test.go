package examples_test

// The boards load without a single finding, the good boards are fully determined, and they do what their stories say.

import (
	"context"
	"slices"
	"testing"

	"halfsplit/internal/app"
	"halfsplit/internal/core/circuit"
)

func TestBoardsLoad(t *testing.T) {
	for _, m := range machines {
		c, fl := loadBoard(t, m.dir)
		for _, f := range fl {
			t.Errorf("%s: %v", m.dir, f)
		}
		if len(c.Parts) != m.parts || len(c.Actions) != m.actions {
			t.Errorf("%s: %d parts, %d actions, expected %d and %d", m.dir, len(c.Parts), len(c.Actions), m.parts, m.actions)
		}
		for _, a := range c.Actions {
			if a.Title == "" {
				t.Errorf("%s: action %s has no title", m.dir, a.Name)
			}
		}
		for _, p := range c.Parts {
			if p.Src.Place == nil {
				t.Errorf("%s: %s has no place", m.dir, p.Ref)
			}
		}
		_, names := answers(t, c, m.dir)
		if len(names) != m.cases {
			t.Errorf("%s: %d cases, expected %d", m.dir, len(names), m.cases)
		}
	}
}

// notModelled are the places behind a part whose inside is not described.
var notModelled = map[string][]string{"lift-panel": {"TONE", "BZ1"}}

// TestGoodBoardIsKnown insists that every action gives a definite reading everywhere: else a case could not be told from a good board.
func TestGoodBoardIsKnown(t *testing.T) {
	checked, unknown := 0, 0
	for _, m := range machines {
		c := boardOf(t, m.dir)
		for _, a := range c.Actions {
			for _, at := range [][]string{nil, indicators(c)} {
				for place, v := range expect(t, c, app.ExpectRequest{Do: []string{a.Name}, At: at}) {
					checked++
					want := slices.Contains(notModelled[m.dir], place)
					if (v.Reading == "unknown") != want {
						t.Errorf("%s, %s: %s reads %s", m.dir, a.Name, place, v.Reading)
					}
					if want {
						unknown++
					}
				}
			}
		}
	}
	if checked != 2464 || unknown != 30 {
		t.Errorf("checked %d readings, %d of them unknown", checked, unknown)
	}
}

// TestStory checks what the machines do against what their stories promise; the values are reasoned from the wiring, not computed.
func TestStory(t *testing.T) {
	checked := 0
	for _, m := range machines {
		c := boardOf(t, m.dir)
		for action, seen := range stories[m.dir] {
			for place, want := range seen {
				got := expect(t, c, app.ExpectRequest{Do: []string{action}, At: []string{place}})[place].Reading
				if got != want {
					t.Errorf("%s, %s: %s shows %s, expected %s", m.dir, action, place, got, want)
				}
				checked++
			}
		}
	}
	if checked != 82 {
		t.Errorf("checked %d indications", checked)
	}
}

type seen map[string]string

var stories = map[string]map[string]seen{
	"keyboard-scanner": {
		"power-up":    {"LD1": "dark", "LD2": "dark", "LD3": "dark", "LD4": "dark", "LD5": "dark"},
		"scan":        {"LD5": "dark", "COL0": "pulses", "COL3": "pulses", "D4": "high", "ROW0": "high"},
		"hold-0":      {"LD5": "lit", "ROW0": "pulses", "ROW1": "high", "D4": "pulses"},
		"hold-5":      {"LD5": "lit", "ROW0": "high", "ROW1": "pulses", "D4": "pulses"},
		"hold-9":      {"LD5": "lit", "ROW1": "high", "ROW2": "pulses", "D4": "pulses"},
		"stop-at-6":   {"LD5": "lit"},
		"stop-at-7":   {"LD5": "dark"},
		"octave-down": {"LD1": "lit", "LD2": "dark", "LD3": "dark"},
		"octave-up":   {"LD1": "dark", "LD2": "lit", "LD3": "lit"},
		"protected":   {"LD4": "lit", "/MWE": "high", "/MWR": "pulses"},
		"power-fails": {"LD4": "dark", "/MWE": "pulses", "/MCS": "pulses"},
	},
	"lift-panel": {
		"power-up":         {"DS1": "0", "K1": "dark", "K2": "dark", "LP0": "dark", "LP3": "dark"},
		"call-0":           {"LP0": "lit", "K1": "dark", "K2": "dark", "/GONG": "pulses"},
		"call-2":           {"LP2": "lit", "K1": "lit", "LD1": "lit", "K2": "dark", "LD2": "dark"},
		"all-calls":        {"LP0": "lit", "LP1": "lit", "LP2": "lit", "LP3": "lit", "T0": "pulses", "T1": "pulses"},
		"call-2-door-open": {"LP2": "lit", "K1": "dark", "LD1": "dark"},
		"ride-1":           {"DS1": "1", "K1": "dark", "LP1": "lit"},
		"ride-2":           {"DS1": "2", "K1": "dark", "LP2": "lit"},
		"ride-3":           {"DS1": "3", "K1": "dark", "LP3": "lit"},
		"arrive-2":         {"DS1": "2", "LP2": "dark"},
		"arrive-3":         {"DS1": "3", "LP3": "dark"},
		"down-starts":      {"DS1": "3", "K2": "lit", "LD2": "lit", "LP1": "lit"},
		"down-again":       {"DS1": "1", "K2": "dark", "LP1": "lit"},
		"home":             {"DS1": "0", "K1": "lit", "LP3": "lit"},
	},
}

// TestBytesOnTheBus reads the data bus at the end of the actions that leave a byte on it.
func TestBytesOnTheBus(t *testing.T) {
	c := boardOf(t, "keyboard-scanner")
	const keyUp, keyDown = 0x10, 0x20 // bits of the key latch; both status bits above are 1
	checked := 0
	for action, want := range map[string]int{
		"read-3": 0x55, "read-12": 0xAA, "protected": 0x55, "power-fails": 0x55,
		"stop-at-6": 0xC0 | keyDown | 6, "stop-at-7": 0xC0 | keyUp | 7,
	} {
		got := 0
		bus := []string{"D7", "D6", "D5", "D4", "D3", "D2", "D1", "D0"}
		at := expect(t, c, app.ExpectRequest{Do: []string{action}, At: bus})
		for _, net := range bus {
			m := at[net].Moments
			got <<= 1
			if m[len(m)-1] == "1" {
				got |= 1
			}
			checked++
		}
		if got != want {
			t.Errorf("%s leaves %02X on the bus, expected %02X", action, got, want)
		}
	}
	if checked != 48 {
		t.Errorf("checked %d bits", checked)
	}
}

func expect(t *testing.T, c *circuit.Circuit, req app.ExpectRequest) map[string]app.PlaceView {
	t.Helper()
	e, err := app.Expect(context.Background(), c, req)
	if err != nil {
		t.Fatal(err)
	}
	return e.At
}

// indicators lists what an eye can see: digits, and lamps that are no segment.
func indicators(c *circuit.Circuit) []string {
	var out []string
	for _, d := range c.Digits {
		out = append(out, c.Parts[d.Part].Ref)
	}
	for _, l := range c.Lamps {
		if l.Seg == "" {
			out = append(out, l.Name)
		}
	}
	return out
}
