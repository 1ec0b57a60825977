package app

import (
	"context"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/analog"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/diagnose"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/joint"
	"halfsplit/internal/core/predict"
)

// Workbench is a case in work on one board: what was seen and done goes in line by line, the ranking and the next checks come out. Bench is
// the one for boards of logic, AnalogBench the one for boards with an `analog:` section. The desk knows only this. A Workbench is for one
// goroutine at a time.
type Workbench interface {
	// Add takes in one more line of the log. An error among the findings says that the line does not fit the board; the bench is then
	// to be thrown away.
	Add(e evidence.Entry) finding.List
	// Allow says what may be proposed from now on: with which instruments, with the power off only, and not at these places (pins, nets,
	// parts as they are written).
	Allow(have evidence.Bench, unpowered bool, unreached []string)
	// Diagnose ranks the suspects of the log so far and chooses the next checks. top bounds the suspects listed, accounts those with an
	// account; 0 means the usual number.
	Diagnose(ctx context.Context, top, accounts int) (Diagnosis, error)

	// Surprising tells whether a line of the log, from 0, holds a reading that a good board would not show. As of the last Diagnose.
	Surprising(entry int) bool
	// Wrong are the last readings of their places that a good board would not show, in the order in which the places were first read. As of
	// the last Diagnose.
	Wrong() []WrongReading
	// Rails are the nets to be measured before what hangs on them, whether they were measured or not.
	Rails(ctx context.Context) ([]RailCheck, error)
	// Mend is what would end a fault of the last Diagnose; false when it is not known.
	Mend(f FaultView) (Mending, bool)
}

// WrongReading is a reading that a good board would not show.
type WrongReading struct {
	Entry int            // of the log, from 0
	Kind  string         // read, see, volts, …
	At    string         // as it was written
	Do    []string       // the actions of the reading
	Text  string         // the place with its actions: DS1 (ride-2)
	Open  map[string]any // the same reading as Check.Entries has it, to be filled in again
	Good  string         // what a good board shows; "" where that is reckoned when it is needed
}

// Mending is a repair.
type Mending struct {
	Kind    string // replace, reseat, resolder; "" for a search along the copper or before the board
	Minutes float64
}

// BoardLab is what is computed of a board once for all cases: for one goroutine at a time, which Enter sees to.
type BoardLab struct {
	C      *circuit.Circuit
	Lab    *analog.Lab    // nil for a board of logic, and for a mixed one
	Joint  *joint.Board   // a mixed board; else nil
	Golden *evidence.Case // readings of a known-good machine; may be nil

	turn chan struct{}
}

// NewBoardLab prepares a board. golden may be nil. The lab is nil when a finding is an error.
func NewBoardLab(c *circuit.Circuit, golden *evidence.Case, workers int) (*BoardLab, finding.List) {
	b := &BoardLab{C: c, Golden: golden, turn: make(chan struct{}, 1)}
	if c.Board.Analog == nil {
		return b, nil
	}
	x, fl, err := mixed(context.Background(), c, golden, workers)
	if x != nil || err != nil || fl.Errors() {
		b.Joint = x
		if err != nil {
			fl.Errorf(finding.Pos{}, "analog", "", "the halves of the board cannot be joined: %v", err)
		}
		if x == nil || err != nil {
			return nil, fl
		}
		return b, fl
	}
	lab, fl := NewAnalogLab(c, workers)
	if lab == nil {
		return nil, fl
	}
	b.Lab = lab
	if golden != nil {
		fl = append(fl, lab.Golden(golden)...)
	}
	return b, fl
}

// Enter waits for one's turn at the lab; leave ends it.
func (b *BoardLab) Enter(ctx context.Context) (leave func(), err error) {
	select {
	case b.turn <- struct{}{}:
		return func() { <-b.turn }, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// NewWorkbench starts work on a case with the bench that the board asks for. Zero costs mean the defaults. The bench is nil when a finding is
// an error.
func NewWorkbench(b *BoardLab, k *evidence.Case, workers int, costs advise.Costs) (Workbench, finding.List) {
	if b.Lab != nil {
		w, fl := NewAnalogBench(b.Lab, k, nil, costs)
		if w == nil {
			return nil, fl
		}
		return w, fl
	}
	if b.Joint != nil {
		w, fl := NewJointBench(b.Joint, k, costs)
		if w == nil {
			return nil, fl
		}
		return w, fl
	}
	w, fl := NewBench(b.C, k, workers, costs)
	if w == nil {
		return nil, fl
	}
	return w, fl
}

// tryEntry says what is wrong with a line of a log on this board, and takes nothing in.
func tryEntry(b *BoardLab, e evidence.Entry) finding.List {
	if b.Joint != nil {
		s := diagnose.Session{Ground: b.Joint.Ground, Case: &evidence.Case{}}
		return s.Try(e)
	}
	logic := func(e evidence.Entry) finding.List {
		s := diagnose.Session{Ground: &diagnose.Ground{M: predict.New(b.C, 1)}, Case: &evidence.Case{}}
		return s.Add(e)
	}
	if b.Lab == nil {
		return logic(e)
	}
	fl := b.Lab.U.M.Try(e).Only(finding.Error)
	if len(e.Do)+len(e.Read)+len(e.See) > 0 {
		fl = append(fl, logic(evidence.Entry{Index: e.Index, Do: e.Do, HasDo: e.HasDo, Read: e.Read, See: e.See, Sure: e.Sure})...)
	}
	return fl
}
