package web_test

import (
	"context"
	"fmt"
	"io/fs"
	"strings"
	"testing"

	"halfsplit/examples"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

// A board with both halves in the page: levels and figures stand beside each other, in the sheets, the drawings and the log.
func TestMixedBoard(t *testing.T) {
	b := newBench(t)
	ctx := context.Background()
	data, err := fs.ReadFile(examples.Files, "water-tower/board.yaml")
	if err != nil {
		t.Fatal(err)
	}
	v, fl, err := b.SaveBoard(ctx, 0, app.BoardFiles{Text: string(data)})
	if err != nil || fl.Errors() {
		t.Fatal(err, fl)
	}
	id, err := b.Take(ctx, job.Intake{Machine: "Water tower", Complaint: "says full"}, "take")
	if err != nil {
		t.Fatal(err)
	}
	b.record(id, &job.BoardUsed{Version: v.ID, Title: v.Title, Number: 1, Parts: v.Parts})
	for _, c := range job.Cautions {
		b.record(id, &job.Tick{Caution: c.Name})
	}
	b.record(id, &job.Entry{Do: []string{"one-tick"}, See: []job.Reading{{At: "LD3", Is: "lit"}}})
	b.record(id, &job.Entry{Volts: []job.Volts{{At: "+5V", Volts: 4.98}, {At: "FLOAT", Volts: 4.9}}})
	p := b.probe(id)
	if len(p.Diagnosis.Suspects) == 0 || len(p.Diagnosis.Next) == 0 || !p.Analog() || !p.Levels() {
		t.Fatalf("suspects %v, next %v", p.Diagnosis.Suspects, p.Diagnosis.Next)
	}
	pg := newPage(t, b)
	at := fmt.Sprintf("/jobs/%d/", id)
	looked := 0
	for path, want := range map[string]string{
		"probe":                  "Suspects",
		"why/1":                  "What it predicts",
		"place?at=FLOAT":         "A good board shows",
		"place?at=U4.3":          "Pulses",
		"place?at=C1":            "Series resistance",
		"picture/package?at=U2":  "good: 3.33",
		"picture/circuit?at=RUN": "<svg",
		"volts":                  "FLOAT",
		"supply":                 "Ripple on C1",
		"report":                 "Water tower",
	} {
		if s := pg.body(at + path); !strings.Contains(s, want) {
			t.Errorf("%s does not say %q", path, want)
		}
		looked++
	}
	if looked != 10 {
		t.Errorf("%d pages", looked)
	}
}

// With two faults, one in each half, an outcome names the pairs that it points to by the letters of their groups.
func TestPairsArePointedTo(t *testing.T) {
	b := newBench(t)
	id := b.example("water-tower/two-at-once", true)
	five := []string{"five-ticks"}
	for _, e := range []job.Entry{
		{See: []job.Reading{{At: "LD1", Is: "lit"}, {At: "LD2", Is: "dark"}, {At: "LD3", Is: "dark"}}},
		{Do: five, See: []job.Reading{{At: "LD4", Is: "dark"}}},
		{Volts: []job.Volts{{At: "QB", Volts: 3.43}, {At: "QC", Volts: 4.07}}},
		{Do: five, Read: []job.Reading{{At: "U5.3", Is: "pulses"}, {At: "U5.5", Is: "low"}}},
	} {
		b.record(id, &e)
	}
	d := b.probe(id).Diagnosis
	pairs := map[string]bool{}
	for _, s := range d.Suspects {
		if len(s.Faults) == 2 {
			pairs[app.SuspectKey(s)] = true
		}
	}
	pointed := 0
	for _, c := range d.Next {
		for _, o := range c.Outcomes {
			for _, key := range o.Suspects {
				if pairs[key] {
					pointed++
				}
			}
		}
	}
	if len(pairs) == 0 || pointed == 0 {
		t.Errorf("%d pairs, %d times pointed to", len(pairs), pointed)
	}
}
