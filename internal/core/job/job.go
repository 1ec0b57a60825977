// Package job is one machine in the workshop, from the day it is taken in to the day it goes back: what was agreed, seen, done and
// spent, in the order in which it was written down.
//
// A job is a list of events that only grows. Taking something back or correcting it is one more event, so nothing that was ever
// written is lost; what the job is now is computed from the list (Fold). Nothing here reads a clock: every event brings its time.
package job

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"time"
)

// Event is one thing written down. Seq counts from 1 within its job. Key is chosen by the sender; the same key sent twice is the same
// event, so a form may be sent again after a lost connection.
type Event struct {
	Seq  int64           `json:"seq"`
	At   time.Time       `json:"at"`
	Key  string          `json:"key"`
	Kind string          `json:"kind"`
	Data json.RawMessage `json:"data"`
}

// Fact is what an event says; its dynamic type decides the event's Kind.
type Fact interface {
	kind() string
	// check says what is wrong with the fact for this job, in words for the person who typed it; nil when nothing is.
	check(j *Job) error
	apply(j *Job, e Event)
}

// facts makes an empty fact of each kind, for reading events back.
var facts = map[string]func() Fact{
	"intake":  func() Fact { return &Intake{} },
	"photo":   func() Fact { return &Photo{} },
	"unphoto": func() Fact { return &PhotoAway{} },
	"board":   func() Fact { return &BoardUsed{} },
	"have":    func() Fact { return &Have{} },
	"tick":    func() Fact { return &Tick{} },
	"stage":   func() Fact { return &StageMark{} },
	"state":   func() Fact { return &StateMark{} },
	"timer":   func() Fact { return &Timer{} },
	"entry":   func() Fact { return &Entry{} },
	"retract": func() Fact { return &Retract{} },
	"correct": func() Fact { return &Correct{} },
	"used":    func() Fact { return &Used{} },
	"cost":    func() Fact { return &Cost{} },
	"terms":   func() Fact { return &Terms{} },
	"quote":   func() Fact { return &Quote{} },
	"note":    func() Fact { return &Note{} },
	"proof":   func() Fact { return &Proof{} },
	"strike":  func() Fact { return &Strike{} },
}

// NewEvent puts a fact into an event without a number; the store gives it one.
func NewEvent(f Fact, at time.Time, key string) (Event, error) {
	data, err := json.Marshal(f)
	if err != nil {
		return Event{}, fmt.Errorf("job: a fact of kind %s cannot be written: %w", f.kind(), err)
	}
	return Event{At: at.UTC().Truncate(time.Millisecond), Key: key, Kind: f.kind(), Data: data}, nil
}

// Fact reads what the event says. An event of a kind that this program does not know is an error.
func (e Event) Fact() (Fact, error) {
	make := facts[e.Kind]
	if make == nil {
		return nil, fmt.Errorf("event %d is of kind %q, which this program does not know: it was written by a newer one", e.Seq, e.Kind)
	}
	f := make()
	if err := json.Unmarshal(e.Data, f); err != nil {
		return nil, fmt.Errorf("event %d (%s) cannot be read: %w", e.Seq, e.Kind, err)
	}
	return f, nil
}

// Job is what the events add up to.
type Job struct {
	ID      int64
	Opened  time.Time
	Changed time.Time
	Last    int64 // Seq of the last event
	Intake  Intake
	Photos  []PhotoLine
	Board   BoardUsed // Version 0: no board yet
	Have    []string
	Ticks   map[string]TickLine // by caution
	Stages  map[string]StageLine
	State   StateMark
	Times   map[string]time.Duration // per stage, closed spans
	Running *Span
	Log     []LogLine
	Used    []UsedLine
	Costs   []CostLine
	Terms   Terms
	Quotes  []QuoteLine
	Notes   []NoteLine
	Proofs  []ProofLine
}

// Fold computes a job from its events, which must be in order.
func Fold(id int64, events []Event) (*Job, error) {
	j := &Job{ID: id, Ticks: map[string]TickLine{}, Stages: map[string]StageLine{}, Times: map[string]time.Duration{}, State: StateMark{State: AtBench}}
	for _, e := range events {
		if err := j.Apply(e); err != nil {
			return nil, err
		}
	}
	return j, nil
}

// Apply adds one more event to the job.
func (j *Job) Apply(e Event) error {
	f, err := e.Fact()
	if err != nil {
		return err
	}
	if j.Last == 0 {
		j.Opened = e.At
	}
	j.Last = e.Seq
	if e.At.After(j.Changed) { // a clock that was set back does not move the job into the past
		j.Changed = e.At
	}
	f.apply(j, e)
	return nil
}

// Check says whether a fact may be added to the job now; the error is meant for the person who typed it.
func (j *Job) Check(f Fact) error { return f.check(j) }

// Kind is the word under which a fact is stored.
func Kind(f Fact) string { return f.kind() }

// Clone is a copy that later events do not change.
func (j *Job) Clone() *Job {
	k := *j
	k.Photos, k.Have, k.Log = slices.Clone(j.Photos), slices.Clone(j.Have), slices.Clone(j.Log)
	k.Used, k.Costs, k.Quotes = slices.Clone(j.Used), slices.Clone(j.Costs), slices.Clone(j.Quotes)
	k.Notes, k.Proofs = slices.Clone(j.Notes), slices.Clone(j.Proofs)
	k.Ticks, k.Stages, k.Times = maps.Clone(j.Ticks), maps.Clone(j.Stages), maps.Clone(j.Times)
	return &k
}
