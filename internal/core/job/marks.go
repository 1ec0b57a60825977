package job

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// States of a job.
const (
	AtBench  = "bench"
	Waiting  = "waiting"
	Finished = "finished" // proven, ready to go back
	Returned = "returned" // handed over
	Declined = "declined" // goes back as it came
)

// States in the order of a list.
var States = []string{AtBench, Waiting, Finished, Returned, Declined}

// WaitReasons are the usual ones; another may be written.
var WaitReasons = []string{"parts", "approval", "drying", "owner", "advice"}

// StateMark puts the job in a state.
type StateMark struct {
	State  string `json:"state"`
	Reason string `json:"reason,omitempty"` // why it waits
	Note   string `json:"note,omitempty"`
}

func (*StateMark) kind() string { return "state" }
func (f *StateMark) check(j *Job) error {
	switch {
	case !oneOf(States, f.State):
		return fmt.Errorf("%q is none of %s", f.State, strings.Join(States, ", "))
	case f.State == Waiting && strings.TrimSpace(f.Reason) == "":
		return errors.New("a job waits for something: parts, approval, drying …")
	case f.State != AtBench && f.State != Waiting && j.Running != nil:
		return errors.New("a clock is still running: stop it first")
	}
	return errors.Join(tooLong("the reason", f.Reason, shortText), tooLong("the note", f.Note, longText))
}
func (f *StateMark) apply(j *Job, _ Event) { j.State = *f }

// Marks of a stage.
const (
	Done      = "done"
	NotNeeded = "not-needed"
	Open      = "open"
)

// StageMark says that a stage is done, is not needed for a reason, or is open again.
type StageMark struct {
	Stage  string `json:"stage"`
	Mark   string `json:"mark"`
	Reason string `json:"reason,omitempty"`
}

// StageLine is a stage's mark with its time.
type StageLine struct {
	StageMark
	At time.Time
}

func (*StageMark) kind() string { return "stage" }
func (f *StageMark) check(*Job) error {
	s := StageByName(f.Stage)
	switch {
	case s == nil:
		return fmt.Errorf("there is no stage %q", f.Stage)
	case f.Mark != Done && f.Mark != NotNeeded && f.Mark != Open:
		return fmt.Errorf("%q is none of done, not-needed, open", f.Mark)
	case f.Mark == NotNeeded && s.Always:
		return fmt.Errorf("%s is part of every job", s.Title)
	case f.Mark == NotNeeded && strings.TrimSpace(f.Reason) == "":
		return errors.New("a stage is left out for a reason: write it, the report will show it")
	}
	return tooLong("the reason", f.Reason, shortText)
}
func (f *StageMark) apply(j *Job, e Event) { j.Stages[f.Stage] = StageLine{*f, e.At} }

// Tick says that a caution was read and followed, or takes the tick away.
type Tick struct {
	Caution string `json:"caution"`
	Off     bool   `json:"off,omitempty"`
	Note    string `json:"note,omitempty"`
}

// TickLine is a tick with its time.
type TickLine struct {
	Tick
	At time.Time
}

func (*Tick) kind() string { return "tick" }
func (f *Tick) check(*Job) error {
	if CautionByName(f.Caution) == nil {
		return fmt.Errorf("there is no caution %q", f.Caution)
	}
	return tooLong("the note", f.Note, shortText)
}
func (f *Tick) apply(j *Job, e Event) {
	if f.Off {
		delete(j.Ticks, f.Caution)
		return
	}
	j.Ticks[f.Caution] = TickLine{*f, e.At}
}

// Note is a remark; it goes into the report when Report is set.
type Note struct {
	Stage  string `json:"stage,omitempty"`
	Text   string `json:"text"`
	Report bool   `json:"report,omitempty"`
}

// NoteLine is a note with its number and time.
type NoteLine struct {
	Note
	Seq int64
	At  time.Time
}

func (*Note) kind() string { return "note" }
func (f *Note) check(*Job) error {
	if strings.TrimSpace(f.Text) == "" {
		return errors.New("the note is empty")
	}
	return tooLong("the note", f.Text, longText)
}
func (f *Note) apply(j *Job, e Event) { j.Notes = append(j.Notes, NoteLine{*f, e.Seq, e.At}) }

// Proof is a test of the finished unit, or a reading before and after: a supply as found, a net rung out, a function tried, the memory
// left without power, a soak, a calibration step, an electrical safety reading with the code it was judged by.
type Proof struct {
	Stage  string `json:"stage"` // clean, supply, proof, backup, adjust, soak, final …
	What   string `json:"what"`
	Before string `json:"before,omitempty"`
	After  string `json:"after,omitempty"`
	Limit  string `json:"limit,omitempty"` // what it was judged by, with its source
	Failed bool   `json:"failed,omitempty"`
	Seqs   int64  `json:"of,omitempty"` // takes the place of the proof with this Seq
}

// ProofLine is a proof with its number and time.
type ProofLine struct {
	Proof
	Seq int64
	At  time.Time
}

func (*Proof) kind() string { return "proof" }
func (f *Proof) check(*Job) error {
	switch {
	case StageByName(f.Stage) == nil:
		return fmt.Errorf("there is no stage %q", f.Stage)
	case strings.TrimSpace(f.What) == "":
		return errors.New("the test has no name: write what was tried")
	}
	return errors.Join(tooLong("the test", f.What, shortText), tooLong("the result", f.After, shortText), tooLong("the result before", f.Before, shortText),
		tooLong("what it was judged by", f.Limit, shortText))
}
func (f *Proof) apply(j *Job, e Event) {
	for i := range j.Proofs {
		if f.Seqs != 0 && j.Proofs[i].Seq == f.Seqs {
			j.Proofs[i] = ProofLine{*f, f.Seqs, e.At}
			return
		}
	}
	j.Proofs = append(j.Proofs, ProofLine{*f, e.Seq, e.At})
}

// Strike takes a line out of the job's pages and sums: a part used, a cost, a note or a test that was written down by mistake. The event
// that wrote it stays in the list.
type Strike struct {
	Line   int64  `json:"line"` // Seq of the line
	Reason string `json:"reason,omitempty"`
}

func (*Strike) kind() string { return "strike" }
func (f *Strike) check(j *Job) error {
	k := *j
	k.Used, k.Costs, k.Notes, k.Proofs = slices.Clone(j.Used), slices.Clone(j.Costs), slices.Clone(j.Notes), slices.Clone(j.Proofs)
	if !k.strike(f.Line) {
		return errors.New("that line is not there any more, perhaps it was taken out in another window")
	}
	return tooLong("the reason", f.Reason, shortText)
}
func (f *Strike) apply(j *Job, _ Event) { j.strike(f.Line) }

// strike reports whether there was such a line.
func (j *Job) strike(seq int64) bool {
	n := len(j.Used) + len(j.Costs) + len(j.Notes) + len(j.Proofs)
	j.Used = slices.DeleteFunc(j.Used, func(l UsedLine) bool { return l.Seq == seq })
	j.Costs = slices.DeleteFunc(j.Costs, func(l CostLine) bool { return l.Seq == seq })
	j.Notes = slices.DeleteFunc(j.Notes, func(l NoteLine) bool { return l.Seq == seq })
	j.Proofs = slices.DeleteFunc(j.Proofs, func(l ProofLine) bool { return l.Seq == seq })
	return len(j.Used)+len(j.Costs)+len(j.Notes)+len(j.Proofs) < n
}
