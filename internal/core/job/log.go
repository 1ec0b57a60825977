package job

import (
	"errors"
	"fmt"
	"math"
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
var HaveWords = []string{"scope", "logic-probe", "meter", "iron", "spare"}

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
	return evidence.Bench{Scope: has("scope"), Probe: has("logic-probe"), Meter: has("meter"), Iron: has("iron"), Spare: has("spare")}
}

// Entry is one line of the bench log: readings, or repairs. Its fields are those of the log in a case file.
type Entry struct {
	Do         []string  `json:"do,omitempty"`
	Read       []Reading `json:"read,omitempty"`
	See        []Reading `json:"see,omitempty"`
	Volts      []Volts   `json:"volts,omitempty"`
	Ohms       []Ohms    `json:"ohms,omitempty"`
	Lifted     []string  `json:"lifted,omitempty"`
	Refitted   []string  `json:"refitted,omitempty"`
	Replaced   []string  `json:"replaced,omitempty"`
	Resoldered []string  `json:"resoldered,omitempty"`
	Reseated   []string  `json:"reseated,omitempty"`
	Cleared    []string  `json:"cleared,omitempty"`
	Sure       float64   `json:"sure,omitempty"`    // 0: evidence.DefaultSure
	Skipped    string    `json:"skipped,omitempty"` // the check that could not be done: its place; no evidence
	Note       string    `json:"note,omitempty"`
}

// Reading is a place and the word seen there.
type Reading struct {
	At string `json:"at"`
	Is string `json:"is"`
}

// Volts is a voltage at a place.
type Volts struct {
	At    string  `json:"at"`
	Volts float64 `json:"volts"`
}

// Ohms is a resistance between two places; Open when the meter shows none.
type Ohms struct {
	At   string  `json:"at"`
	To   string  `json:"to"`
	Ohms float64 `json:"ohms"`
	Open bool    `json:"open,omitempty"`
}

// Repairs tells whether the entry is about something done rather than seen.
func (f *Entry) Repairs() bool {
	return len(f.Lifted)+len(f.Refitted)+len(f.Replaced)+len(f.Resoldered)+len(f.Reseated)+len(f.Cleared) > 0
}

// Reads tells whether the entry holds a reading.
func (f *Entry) Reads() bool { return len(f.Read)+len(f.See)+len(f.Volts)+len(f.Ohms) > 0 }

// Evidence is the entry as the diagnosis takes it; index counts from 1.
func (f *Entry) Evidence(index int) evidence.Entry {
	e := evidence.Entry{Index: index, Do: f.Do, HasDo: len(f.Do) > 0, Lifted: f.Lifted, Refitted: f.Refitted, Replaced: f.Replaced,
		Resolder: f.Resoldered, Reseated: f.Reseated, Cleared: f.Cleared, Sure: f.Sure, Note: f.Note}
	if e.Sure == 0 {
		e.Sure = evidence.DefaultSure
	}
	for _, r := range f.Read {
		e.Read = append(e.Read, evidence.Reading{At: r.At, Is: r.Is})
	}
	for _, r := range f.See {
		e.See = append(e.See, evidence.Reading{At: r.At, Is: r.Is})
	}
	for _, v := range f.Volts {
		e.Volts = append(e.Volts, evidence.Measured{At: v.At, Volts: v.Volts})
	}
	for _, o := range f.Ohms {
		e.Ohms = append(e.Ohms, evidence.Resistance{At: o.At, To: o.To, Ohms: o.Ohms, Open: o.Open})
	}
	return e
}

func (*Entry) kind() string { return "entry" }

// What a meter on this bench can show at all; beyond it a slip of the finger is likelier.
const (
	mostVolts = 1000
	mostOhms  = 1e9
)

func (f *Entry) check(j *Job) error {
	var wrong []error
	if j.Board.Version == 0 && f.Reads() {
		wrong = append(wrong, errors.New("the job has no board yet: choose one under Board, so that places have names"))
	}
	if !f.Reads() && !f.Repairs() && f.Skipped == "" && strings.TrimSpace(f.Note) == "" {
		wrong = append(wrong, errors.New("the entry is empty: say what was seen, measured or done"))
	}
	if f.Reads() && f.Repairs() {
		wrong = append(wrong, errors.New("one entry holds either readings or repairs: what was read before a repair speaks of the old part"))
	}
	for _, v := range f.Volts {
		if math.IsNaN(v.Volts) || math.Abs(v.Volts) > mostVolts {
			wrong = append(wrong, fmt.Errorf("%g V at %s: no reading of this bench goes beyond ±%d V", v.Volts, v.At, mostVolts))
		}
	}
	for _, o := range f.Ohms {
		if math.IsNaN(o.Ohms) || o.Ohms < 0 || o.Ohms > mostOhms {
			wrong = append(wrong, fmt.Errorf("%g Ω at %s: a meter shows 0 to %g Ω, or open", o.Ohms, o.At, mostOhms))
		}
	}
	if f.Sure < 0 || f.Sure > 1 || math.IsNaN(f.Sure) {
		wrong = append(wrong, fmt.Errorf("sure is %g; it lies between 0 and 1", f.Sure))
	}
	if (f.Reads() || len(f.Do) > 0) && len(f.Ohms) == 0 {
		if open := j.OpenCautions(Powered); len(open) > 0 {
			wrong = append(wrong, fmt.Errorf("power is not cleared yet: %s is not ticked under Made safe", open[0].Title))
		}
	}
	return errors.Join(append(wrong, tooLong("the note", f.Note, longText))...)
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
