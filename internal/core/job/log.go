package job

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"halfsplit/internal/core/evidence"
)

// BoardUsed ties the job to a version of a board. The job keeps that version until it is told otherwise.
type BoardUsed struct {
	Version int64  `json:"version"`
	Title   string `json:"title"`
	Number  int    `json:"number"` // of the version within its board
	Parts   int    `json:"parts"`  // how many
}

func (*BoardUsed) kind() string { return "board" }
func (f *BoardUsed) check(*Job) error {
	if f.Version <= 0 {
		return errors.New("no board was chosen")
	}
	return nil
}
func (f *BoardUsed) apply(j *Job, _ Event) { j.Board = *f }

// Have is what the bench has.
type Have struct {
	Words []string `json:"words"`
}

// HaveWords are the instruments and tools that checks may ask for.
var HaveWords = []string{"scope", "logic-probe", "meter", "iron", "spare", "adapter"}

func (*Have) kind() string { return "have" }
func (f *Have) check(*Job) error {
	for _, w := range f.Words {
		if !oneOf(HaveWords, w) {
			return fmt.Errorf("%q is none of %s", w, strings.Join(HaveWords, ", "))
		}
	}
	return nil
}
func (f *Have) apply(j *Job, _ Event) { j.Have = f.Words }

// Bench tells what checks may ask for.
func (j *Job) Bench() evidence.Bench {
	has := func(w string) bool { return oneOf(j.Have, w) }
	return evidence.Bench{Scope: has("scope"), Probe: has("logic-probe"), Meter: has("meter"), Iron: has("iron"), Spare: has("spare"), Adapter: has("adapter")}
}

// LogLine is an entry as it stands now, with what it was before.
type LogLine struct {
	Seq     int64
	At      time.Time
	Entry   Entry
	Gone    bool   // taken back
	Reason  string // of the last change
	Earlier []Entry
	Changed time.Time
}

func (f *Entry) apply(j *Job, e Event) {
	j.Log = append(j.Log, LogLine{Seq: e.Seq, At: e.At, Entry: *f})
}

// Retract takes an entry back, or puts it back.
type Retract struct {
	Entry  int64  `json:"entry"` // Seq of the entry
	Back   bool   `json:"back,omitempty"`
	Reason string `json:"reason,omitempty"`
}

func (*Retract) kind() string { return "retract" }

func (f *Retract) check(j *Job) error {
	l := j.line(f.Entry)
	switch {
	case l == nil:
		return fmt.Errorf("there is no entry %d in this job's log", f.Entry)
	case l.Gone == !f.Back:
		return errors.New("that was done already, perhaps in another window")
	}
	return tooLong("the reason", f.Reason, shortText)
}

func (f *Retract) apply(j *Job, e Event) {
	if l := j.line(f.Entry); l != nil {
		l.Gone, l.Reason, l.Changed = !f.Back, f.Reason, e.At
	}
}

// Correct puts another entry in the place of one; both are kept.
type Correct struct {
	Entry  int64  `json:"entry"`
	By     Entry  `json:"by"`
	Reason string `json:"reason,omitempty"`
}

func (*Correct) kind() string { return "correct" }

func (f *Correct) check(j *Job) error {
	if j.line(f.Entry) == nil {
		return fmt.Errorf("there is no entry %d in this job's log", f.Entry)
	}
	return errors.Join(f.By.check(j), tooLong("the reason", f.Reason, shortText))
}

func (f *Correct) apply(j *Job, e Event) {
	if l := j.line(f.Entry); l != nil {
		l.Earlier = append(l.Earlier, l.Entry)
		l.Entry, l.Gone, l.Reason, l.Changed = f.By, false, f.Reason, e.At
	}
}

func (j *Job) line(seq int64) *LogLine {
	i := slices.IndexFunc(j.Log, func(l LogLine) bool { return l.Seq == seq })
	if i < 0 {
		return nil
	}
	return &j.Log[i]
}

// Standing are the lines of the log that count as evidence, in order.
func (j *Job) Standing() []LogLine {
	var out []LogLine
	for _, l := range j.Log {
		if !l.Gone && (l.Entry.Reads() || l.Entry.Repairs()) {
			out = append(out, l)
		}
	}
	return out
}

// Case is the job's log as a case, ready for diagnosis. board is the name of the board file beside it.
func (j *Job) Case(board string) *evidence.Case {
	c := &evidence.Case{Title: j.Intake.Complaint, Board: board, Have: j.Bench()}
	for _, z := range j.Intake.Zones {
		if (z.Kind == "water" || z.Kind == "battery" || z.Kind == "heat") && len(z.Parts)+len(z.Nets) > 0 {
			c.Damage = append(c.Damage, evidence.Zone{Kind: z.Kind, Parts: z.Parts, Nets: z.Nets})
		}
	}
	for i, l := range j.Standing() {
		c.Log = append(c.Log, l.Entry.Evidence(i+1))
	}
	return c
}
