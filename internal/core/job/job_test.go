package job

// Events and what they add up to.

import (
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"
)

var noon = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

// bench is a job under test: facts come in a minute apart.
type bench struct {
	t      *testing.T
	j      *Job
	events []Event
	at     time.Time
}

func newBench(t *testing.T, facts ...Fact) *bench {
	t.Helper()
	j, err := Fold(7, nil)
	if err != nil {
		t.Fatal(err)
	}
	b := &bench{t: t, j: j, at: noon}
	b.add(facts...)
	return b
}

// add checks each fact as the desk does and applies it.
func (b *bench) add(facts ...Fact) {
	b.t.Helper()
	for _, f := range facts {
		if err := b.j.Check(f); err != nil {
			b.t.Fatalf("%s: %v", Kind(f), err)
		}
		e, err := NewEvent(f, b.at, fmt.Sprint("k", len(b.events)))
		if err != nil {
			b.t.Fatal(err)
		}
		e.Seq = int64(len(b.events) + 1)
		if err := b.j.Apply(e); err != nil {
			b.t.Fatal(err)
		}
		b.events = append(b.events, e)
		b.at = b.at.Add(time.Minute)
	}
}

// refuses expects a mistake whose message holds the words.
func (b *bench) refuses(f Fact, words string) {
	b.t.Helper()
	err := b.j.Check(f)
	if err == nil || !strings.Contains(err.Error(), words) {
		b.t.Errorf("%s %+v: %v; want a mistake with %q", Kind(f), f, err, words)
	}
}

func radio() *Intake {
	return &Intake{Machine: "Counter box", Owner: "K-1", Complaint: "dead", Condition: "scratched", Accessories: "none"}
}

func TestFoldGivesWhatApplyGave(t *testing.T) {
	b := newBench(t, radio(), &Have{Words: []string{"meter"}}, &Photo{ID: 3, W: 10, H: 10}, &Photo{ID: 4, W: 10, H: 10, Stage: "opened"}, &PhotoAway{ID: 3},
		&Photo{ID: 4, W: 10, H: 10, Spots: []Spot{{0.5, 1, "crack", "U1"}}}, &BoardUsed{Version: 2, Title: "main"}, &Tick{Caution: "clip"},
		&StageMark{Stage: "controls", Mark: Done}, &StateMark{State: Waiting, Reason: "parts"}, &Timer{Stage: "find"}, &Timer{Stop: true},
		&Entry{Replaced: []string{"U3"}}, &Retract{Entry: 13, Reason: "wrong one"}, &Retract{Entry: 13, Back: true}, &Correct{Entry: 13, By: Entry{Replaced: []string{"U4"}}},
		&Used{Type: "74LS00", Count: 2, Each: 150}, &Cost{Text: "carriage", Amount: 900}, &Terms{Rate: 4500, Currency: "EUR"}, &Quote{Median: 1, High: 2},
		&Note{Text: "loose screw"}, &Proof{Stage: "proof", What: "up"}, &Strike{Line: 21})
	if len(b.events) != 23 {
		t.Fatalf("%d events", len(b.events))
	}
	kinds := map[string]bool{}
	for i, e := range b.events { // through what is stored
		raw, err := json.Marshal(e)
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(raw, &b.events[i]); err != nil {
			t.Fatal(err)
		}
		kinds[e.Kind] = true
	}
	if len(kinds) != len(facts) {
		t.Errorf("%d of %d kinds of facts were tried", len(kinds), len(facts))
	}
	again, err := Fold(7, b.events)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(again, b.j) {
		t.Errorf("folded again:\n%+v\nwant\n%+v", again, b.j)
	}
	if len(b.j.Photos) != 1 || len(b.j.Photos[0].Spots) != 1 || b.j.Photos[0].Seq != 4 || b.j.Photos[0].Stage != "" {
		t.Errorf("photos %+v", b.j.Photos)
	}
	if len(b.j.Notes) != 0 {
		t.Errorf("the struck note is still there: %+v", b.j.Notes)
	}
	if l := b.j.Log[0]; l.Gone || len(l.Earlier) != 1 || l.Earlier[0].Replaced[0] != "U3" || l.Entry.Replaced[0] != "U4" {
		t.Errorf("the corrected line: %+v", l)
	}
}

func TestAFactOfANewerProgramIsAnErrorNotASilence(t *testing.T) {
	b := newBench(t, radio())
	before := b.j.Clone()
	for _, e := range []Event{{Seq: 2, Kind: "hologram", Data: []byte("{}")}, {Seq: 2, Kind: "note", Data: []byte(`"text"`)}, {Seq: 2, Kind: "note", Data: nil}} {
		if err := b.j.Apply(e); err == nil || !strings.Contains(err.Error(), "event 2") {
			t.Errorf("%s %s: %v", e.Kind, e.Data, err)
		}
		if _, err := Fold(1, append([]Event{b.events[0]}, e)); err == nil {
			t.Errorf("a list with %s %s folds", e.Kind, e.Data)
		}
	}
	if !reflect.DeepEqual(before, b.j) {
		t.Error("an event that cannot be read has changed the job")
	}
}

func TestACloneStaysAsItWas(t *testing.T) {
	b := newBench(t, radio(), &Note{Text: "one"}, &Used{Type: "x", Count: 1}, &Proof{Stage: "soak", What: "s"}, &Photo{ID: 1}, &Tick{Caution: "clip"}, &Entry{Replaced: []string{"U1"}})
	k := b.j.Clone()
	want, err := json.Marshal(k)
	if err != nil {
		t.Fatal(err)
	}
	b.add(&Strike{Line: 2}, &Strike{Line: 3}, &Proof{Stage: "soak", What: "t", Seqs: 4}, &Photo{ID: 1, Caption: "c"}, &Tick{Caution: "clip", Off: true}, &Retract{Entry: 7},
		&Timer{Stage: "find"}, &StageMark{Stage: "controls", Mark: Done})
	if got, err := json.Marshal(k); err != nil || string(got) != string(want) {
		t.Errorf("%s, %v; want %s", got, err, want)
	}
}

func TestWhatIsRefused(t *testing.T) {
	b := newBench(t, radio(), &Entry{Replaced: []string{"U3"}})
	long := strings.Repeat("é", longText+1)
	b.refuses(&Intake{Machine: " ", Complaint: "x"}, "no name")
	b.refuses(&Intake{Machine: "x", Complaint: "\n"}, "complaint is empty")
	b.refuses(&Intake{Machine: "x", Complaint: long}, "20001 characters; at most 20000")
	b.refuses(&Intake{Machine: "x", Complaint: "y", Zones: []Zone{{Kind: "flood"}}}, `"flood" is none of water`)
	b.refuses(&Intake{Machine: "x", Complaint: "y", Zones: make([]Zone, mostZones+1)}, "51 areas")
	b.refuses(&Photo{}, "not stored")
	for _, s := range []Spot{{X: -0.01}, {Y: 1.01}, {X: math.NaN()}} {
		b.refuses(&Photo{ID: 1, Spots: []Spot{s}}, "outside the picture")
	}
	b.refuses(&Photo{ID: 1, Spots: make([]Spot, mostSpots+1)}, "101 marks")
	b.refuses(&Have{Words: []string{"oracle"}}, `"oracle" is none of`)
	b.refuses(&StateMark{State: "lost"}, "is none of")
	b.refuses(&StateMark{State: Waiting, Reason: " "}, "waits for something")
	b.refuses(&StageMark{Stage: "tea", Mark: Done}, "no stage")
	b.refuses(&StageMark{Stage: "clean", Mark: "half"}, "is none of done")
	b.refuses(&StageMark{Stage: "safety", Mark: NotNeeded, Reason: "hurry"}, "part of every job")
	b.refuses(&StageMark{Stage: "clean", Mark: NotNeeded}, "for a reason")
	b.refuses(&Tick{Caution: "hope"}, "no caution")
	b.refuses(&Note{Text: " \n"}, "empty")
	b.refuses(&Proof{Stage: "tea", What: "x"}, "no stage")
	b.refuses(&Proof{Stage: "soak"}, "no name")
	b.refuses(&Used{Type: " ", Count: 1}, "no type")
	b.refuses(&Used{Type: "x", Count: 0}, "0 pieces")
	b.refuses(&Used{Type: "x", Count: 10001}, "10001 pieces")
	b.refuses(&Used{Type: "x", Count: 1, Each: -1}, "negative or absurd")
	b.refuses(&Cost{Text: " ", Amount: 1}, "no text")
	b.refuses(&Cost{Text: "x"}, "is nothing")
	b.refuses(&Cost{Text: "x", Amount: -mostMoney - 1}, "absurd")
	b.refuses(&Terms{Rate: -1}, "hourly rate is negative")
	b.refuses(&Terms{Limit: mostMoney + 1}, "limit is negative or absurd")
	b.refuses(&Terms{Limit: 1, NoLimit: true}, "either a limit or none")
	b.refuses(&Terms{Warn: 101}, "1 to 100 per cent")
	b.refuses(&Quote{Median: 2, High: 1}, "from its median up")
	b.refuses(&Strike{Line: 2}, "not there any more")
	b.refuses(&BoardUsed{}, "no board was chosen")
	b.refuses(&Retract{Entry: 99}, "no entry 99")
	b.refuses(&Retract{Entry: 2, Back: true}, "done already")
	b.refuses(&Correct{Entry: 99}, "no entry 99")
	b.refuses(&Entry{}, "entry is empty")
	b.refuses(&Entry{Read: []Reading{{"U1.1", "low"}}}, "no board yet")
	b.add(&BoardUsed{Version: 1})
	b.refuses(&Entry{Read: []Reading{{"U1.1", "low"}}, Replaced: []string{"U1"}}, "either readings or repairs")
	b.refuses(&Entry{Volts: []Volts{{"U1.1", 5000}}}, "goes beyond ±1000 V")
	b.refuses(&Entry{Volts: []Volts{{"U1.1", math.NaN()}}}, "goes beyond")
	b.refuses(&Entry{Ohms: []Ohms{{At: "a", To: "b", Ohms: -1}}}, "0 to")
	b.refuses(&Entry{Note: "x", Sure: 1.5}, "between 0 and 1")
}

func TestAStruckLineLeavesTheSums(t *testing.T) {
	b := newBench(t, radio(), &Used{Type: "a", Count: 1, Each: 300}, &Cost{Text: "b", Amount: 50}, &Proof{Stage: "proof", What: "c", Failed: true})
	b.add(&Strike{Line: 2}, &Strike{Line: 3}, &Strike{Line: 4, Reason: "typed twice"})
	if len(b.j.Used)+len(b.j.Costs)+len(b.j.Proofs) != 0 || b.j.Spent(0) != 0 {
		t.Errorf("left: %+v %+v %+v, %d", b.j.Used, b.j.Costs, b.j.Proofs, b.j.Spent(0))
	}
	b.refuses(&Strike{Line: 2}, "not there any more")
	if len(b.events) != 7 {
		t.Errorf("%d events; nothing is erased", len(b.events))
	}
}
