package job

// The order of work and the gate.

import (
	"slices"
	"strings"
	"testing"
)

func view(j *Job, p Progress, name string) StageView {
	for _, v := range j.Rail(p) {
		if v.Name == name {
			return v
		}
	}
	return StageView{}
}

func here(j *Job, p Progress) string {
	for _, v := range j.Rail(p) {
		if v.Current {
			return v.Name
		}
	}
	return ""
}

func TestAStageComesAfterEarlierOnesOnly(t *testing.T) {
	seen, after := map[string]bool{}, 0
	for _, s := range Stages {
		for _, a := range s.After {
			after++
			if !seen[a] {
				t.Errorf("%s comes after %s, which is not before it", s.Name, a)
			}
		}
		if s.lacks == nil || s.Purpose == "" || s.Title == "" || seen[s.Name] {
			t.Errorf("stage %q is not whole, or there twice", s.Name)
		}
		seen[s.Name] = true
	}
	if len(Stages) != 17 || after < 15 {
		t.Errorf("%d stages, %d of them after another", len(Stages), after)
	}
}

// TestAWholeJobWalksTheRail does a job from the door to the door and asks at each step where it stands.
func TestAWholeJobWalksTheRail(t *testing.T) {
	b := newBench(t, &Intake{Machine: "Counter box", Complaint: "dead"})
	p := Progress{}
	steps := 0
	at := func(want string) {
		t.Helper()
		steps++
		if got := here(b.j, p); got != want {
			t.Fatalf("step %d: the job stands at %q, want %q", steps, got, want)
		}
	}
	at("intake")
	in := radio()
	in.Mains, in.Backed, in.Zones = true, true, []Zone{{Kind: "water", Parts: []string{"U3"}}}
	b.add(in)
	at("safety")
	for _, c := range b.j.OpenCautions("") {
		b.add(&Tick{Caution: c.Name})
	}
	at("terms")
	b.add(&Terms{Rate: 4500, NoLimit: true})
	at("opened")
	b.add(&Photo{ID: 1, W: 4, H: 3})
	at("opened")
	b.add(&StageMark{Stage: "opened", Mark: Done})
	at("model")
	b.add(&BoardUsed{Version: 1, Title: "main"})
	at("model")
	p.Model = true
	at("clean")
	b.add(&Proof{Stage: "clean", What: "Net D0", Failed: true}, &StageMark{Stage: "clean", Mark: Done})
	at("clean")
	b.add(&Proof{Stage: "clean", What: "Net D0", After: "mended with wire", Seqs: b.j.Proofs[0].Seq})
	at("controls")
	b.add(&StageMark{Stage: "controls", Mark: NotNeeded, Reason: "has none"})
	at("supply")
	b.add(&Proof{Stage: "supply", What: "+5V", Before: "4.6 V", Failed: true})
	at("supply")
	b.add(&Proof{Stage: "supply", What: "+5V", After: "5.0 V", Seqs: b.j.Proofs[1].Seq}, &StageMark{Stage: "supply", Mark: Done})
	p.Rails = []string{"+5V", "+12V"}
	at("rails")
	p.RailsRead, p.RailsBad = []string{"+5V"}, []string{"+12V"}
	at("rails")
	p.RailsRead, p.RailsBad = []string{"+5V", "+12V"}, nil
	at("find")
	p.Seen, p.Explained = 3, true
	at("find")
	p.Healthy, p.LiftedOpen = 0.95, []string{"U3.4"}
	at("mend")
	b.add(&Entry{Replaced: []string{"U3"}})
	p.LiftedOpen = nil
	at("mend")
	b.add(&Used{Ref: "U3", Type: "74LS138", Count: 1})
	p.Unrepaired = []string{"LAMP3"}
	at("proof")
	p.Unrepaired = nil
	b.add(&Proof{Stage: "proof", What: "lamp 3", Before: "dark", After: "lit"})
	at("backup")
	b.add(&Proof{Stage: "backup", What: "an hour", After: "kept"})
	at("adjust")
	b.add(&StageMark{Stage: "adjust", Mark: NotNeeded, Reason: "nothing to adjust"})
	at("soak")
	b.add(&Proof{Stage: "soak", What: "8 h"})
	at("final")
	b.add(&Proof{Stage: "final", What: "earth", After: "0.06 Ω"})
	at("handover")
	b.add(&StateMark{State: Returned})
	at("")
	if steps != 25 {
		t.Errorf("%d steps", steps)
	}
}

func TestPowerBeforeLogicBeforeProof(t *testing.T) {
	b := newBench(t, radio())
	tried := 0
	for stage, first := range map[string]string{"opened": "Made safe", "supply": "Made safe", "rails": "Supply", "find": "Rails at the chips", "mend": "Fault finding",
		"proof": "Fault finding", "soak": "Proof"} {
		tried++
		if v := view(b.j, Progress{}, stage); v.Settled || !slices.Contains(v.Blocked, first) {
			t.Errorf("%s waits for %v, want %s; settled: %v", stage, v.Blocked, first, v.Settled)
		}
	}
	if tried != 7 {
		t.Errorf("%d stages tried", tried)
	}
	// Repairs lack nothing yet, but they are no done deed before a fault was found.
	if v := view(b.j, Progress{}, "mend"); len(v.Lacks) != 0 || v.Settled {
		t.Errorf("%+v", v)
	}
}

func TestAStageLeftOutCanBeOpenedAgain(t *testing.T) {
	b := newBench(t, radio(), &StageMark{Stage: "soak", Mark: NotNeeded, Reason: "no intermittent fault"})
	if v := view(b.j, Progress{}, "soak"); !v.Settled || v.Mark.Reason == "" {
		t.Errorf("%+v", v)
	}
	b.add(&StageMark{Stage: "soak", Mark: Open})
	if v := view(b.j, Progress{}, "soak"); v.Settled || len(v.Lacks) != 1 {
		t.Errorf("%+v", v)
	}
}

func TestTheGate(t *testing.T) {
	reading := &Entry{Read: []Reading{{"U1.1", "low"}}}
	ohms := &Entry{Ohms: []Ohms{{At: "U1.1", To: "U2.2", Ohms: 0.3}}}
	in := radio()
	in.Mains = true
	b := newBench(t, in, &BoardUsed{Version: 1})
	gates := 0
	for {
		open := b.j.OpenCautions(Powered)
		if len(open) == 0 {
			break
		}
		gates++
		b.refuses(reading, open[0].Title)
		if err := b.j.Check(ohms); err != nil {
			t.Errorf("ohms need no power: %v", err)
		}
		b.add(&Tick{Caution: open[0].Name})
	}
	if gates < 4 {
		t.Errorf("%d gates before the power of a mains unit", gates)
	}
	b.add(reading)
	b.add(&Tick{Caution: "mains", Off: true})
	b.refuses(reading, "Mains unplugged")
	b.refuses(&Correct{Entry: b.j.Log[0].Seq, By: *reading}, "Mains unplugged")
}

func TestCautionsFollowTheUnit(t *testing.T) {
	for _, c := range []struct {
		in   Intake
		want string // cautions beyond those of every unit
	}{
		{Intake{}, ""},
		{Intake{Mains: true}, "mains charge earth"},
		{Intake{Tube: true}, "charge tube"},
		{Intake{Battery: true}, "cells"},
		{Intake{Zones: []Zone{{Kind: "water"}}}, "wet fluids"},
		{Intake{Zones: []Zone{{Kind: "battery"}}}, "cells fluids"},
		{Intake{Zones: []Zone{{Kind: "animals"}}}, "fluids"},
	} {
		always := []string{"before-power", "clip", "solder", "static", "old-matter", "weight"}
		var more []string
		for _, x := range (&Job{Intake: c.in}).CautionsOf() {
			if i := slices.Index(always, x.Name); i >= 0 {
				always = slices.Delete(always, i, i+1)
			} else {
				more = append(more, x.Name)
			}
		}
		if len(always) > 0 || strings.Join(more, " ") != c.want {
			t.Errorf("%+v: %v, want %q; missing %v", c.in, more, c.want, always)
		}
	}
	gates := 0
	for _, c := range Cautions {
		if c.Title == "" || c.Hazard == "" || c.Do == "" || c.Source == "" || len(c.Before) == 0 {
			t.Errorf("caution %s is not whole", c.Name)
		}
		if c.Gate {
			gates++
		}
		for _, s := range []string{c.Title, c.Hazard, c.Do, c.Unsure} {
			if strings.Contains(strings.ToLower(s), "you are safe") || strings.Contains(strings.ToLower(s), "harmless") {
				t.Errorf("caution %s promises safety: %s", c.Name, s)
			}
		}
	}
	if gates < 10 {
		t.Errorf("%d cautions to be ticked", gates)
	}
}

func TestReplacedPartsWaitForTheirPrice(t *testing.T) {
	b := newBench(t, radio(), &Entry{Replaced: []string{"U3", "C1"}}, &Entry{Replaced: []string{"U3"}}, &Entry{Replaced: []string{"U9"}}, &Retract{Entry: 4}, &Used{Ref: "C1", Type: "100 nF", Count: 1})
	if got := b.j.Unpriced(); !slices.Equal(got, []string{"U3"}) {
		t.Errorf("%v", got)
	}
}
