package boards_test

import (
	"io/fs"
	"strings"
	"testing"

	"halfsplit/examples"
)

// The analogue half of a board through the editor: its findings stand at their lines, and nothing that is edited around it changes it.
func TestAnalogSection(t *testing.T) {
	s := open(t)
	data, err := fs.ReadFile(examples.Files, "bench-supply/board.yaml")
	if err != nil {
		t.Fatal(err)
	}
	text := string(data)
	section := text[strings.Index(text, "\nanalog:"):]
	has(t, s.post("/boards/new/check", 200, "text", text), "This board can be worked with")
	at := s.post("/boards/new/save", 303, "text", text)
	has(t, s.get(at, 200), "Voltages")
	has(t, s.get("/boards/1/volts", 200), "7805", "+5V", "4.99 V")

	// A part edited in its form, and rails in theirs: the section stays to the letter.
	s.post("/boards/1/part", 303, "was", "R1", "ref", "R1", "type", "resistor", "value", "390", "pin", "1", "net", "+5V", "pin", "2", "net", "LED5")
	s.post("/boards/1/nets", 303, "rails", "GND: 0 V", "inputs", "", "text", s.text("/boards/1"))
	if got := s.text("/boards/1"); !strings.Contains(got, section) {
		t.Errorf("the section became\n%s", got[strings.Index(got, "\nanalog:"):])
	}

	looked := 0
	for wrong, want := range map[string]string{
		"ground: NOWHERE": "NOWHERE",
		"ground: GND\n  sources:\n    T1: {kind: mains, plus: AC1, minus: AC2}":                                                                                   "needs volts",
		"ground: GND\n  controls: {R1: 0.5, XX9: 0.2}":                                                                                                            "XX9",
		"ground: GND\n  sources:\n    T1: {kind: mian, plus: AC1, minus: AC2, volts: 9 V}":                                                                        "mains",
		"ground: GND\n  sources:\n    T1: {kind: dc, plus: V9, minus: GND, volts: 9 V}\n    T2: {kind: dc, plus: V9, minus: GND, volts: 19 V, ohms: 0.3, age: 3}": "age",
	} {
		half := text[:strings.Index(text, "\nanalog:")] + "\nanalog:\n  " + wrong + "\n"
		has(t, s.post("/boards/1/check", 200, "text", half), "mistake", want, "Line ")
		looked++
	}
	if looked != 5 {
		t.Errorf("%d wrong sections", looked)
	}
}

// Readings of a known-good unit are kept with the board, replaced and taken away; what is no place is refused.
func TestKnownGood(t *testing.T) {
	s := open(t)
	data, err := fs.ReadFile(examples.Files, "string-voice/board.yaml")
	if err != nil {
		t.Fatal(err)
	}
	s.post("/boards/new/save", 303, "text", string(data))
	if to := s.post("/boards/1/golden", 303, "at", "EG", "value", "5,61"); to != "/boards/1/volts?done=1" {
		t.Errorf("leads to %s", to)
	}
	s.post("/boards/1/golden", 303, "at", "C6.P", "value", "5620 mV") // on EG: the later reading counts
	has(t, s.get("/boards/1/volts?done=1", 200), "unit (1)", "5.62 V", "known good; model", "version 3")
	has(t, s.get("/boards/1", 200), "golden.case.yaml")
	has(t, s.post("/boards/1/golden", 422, "at", "NOPE", "value", "1"), "NOPE")
	has(t, s.post("/boards/1/golden", 422, "at", "EG", "value", "much"), "no voltage")
	s.post("/boards/1/golden", 303, "away", "EG")
	has(t, s.get("/boards/1/volts", 200), "unit (0)")
	if strings.Contains(s.get("/boards/1", 200), "golden.case.yaml") {
		t.Error("the file stays after its last reading was taken away")
	}
	s.get("/boards/9/volts", 404)
}
