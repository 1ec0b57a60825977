package app

import (
	"context"
	"fmt"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/job"
)

// JobBoard is the board of a job for a computation beside it. The circuit is nil when the job has no board, or one with errors.
func (d *Desk) JobBoard(ctx context.Context, id int64) (*job.Job, *circuit.Circuit, error) {
	j, l, err := d.boardOfJob(ctx, id)
	if err != nil || l == nil {
		return j, nil, err
	}
	return j, l.circuit, nil
}

// JobSubstitute says what may stand in for a part of a job's board, or how the part named with does there.
func (d *Desk) JobSubstitute(ctx context.Context, id int64, ref, with string) (SubstituteView, error) {
	_, l, err := d.boardOfJob(ctx, id)
	switch {
	case err != nil:
		return SubstituteView{}, err
	case l == nil || l.circuit == nil:
		return SubstituteView{}, Wrong{fmt.Errorf("the job has no board without errors yet; what may stand in for a part is judged on the board")}
	}
	lib, _ := library(heldFiles{d.texts, l.files}, BoardName, nil)
	v, err := Substitute(l.circuit, lib, ref, with)
	if err != nil {
		return v, Wrong{err}
	}
	return v, nil
}

// boardOfJob loads the version of the board that a job keeps; nil without one.
func (d *Desk) boardOfJob(ctx context.Context, id int64) (*job.Job, *loadedBoard, error) {
	o, err := d.open(ctx, id)
	if err != nil {
		return nil, nil, err
	}
	j := o.job.Clone()
	o.mu.Unlock()
	if j.Board.Version == 0 {
		return j, nil, nil
	}
	l, err := d.loaded(ctx, j.Board.Version)
	return j, l, err
}
