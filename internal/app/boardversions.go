package app

import (
	"context"
	"io/fs"
	"path"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
)

// DifferVersions compares two versions of boards that the workshop keeps.
func (d *Desk) DifferVersions(ctx context.Context, older, newer int64) (DifferenceView, finding.List, error) {
	_, a, err := d.store.BoardVersion(ctx, older)
	if err != nil {
		return DifferenceView{}, nil, err
	}
	_, b, err := d.store.BoardVersion(ctx, newer)
	if err != nil {
		return DifferenceView{}, nil, err
	}
	v, fl := Differ(twoBoards{"older": heldFiles{d.texts, a}, "newer": heldFiles{d.texts, b}}, "older/"+BoardName, "newer/"+BoardName, nil)
	return v, fl, nil
}

// twoBoards are the files of two boards side by side, each in a folder.
type twoBoards map[string]heldFiles

func (t twoBoards) Board(name string) (*board.Board, finding.List) {
	return t[path.Dir(name)].Board(name)
}

func (t twoBoards) Case(name string) (*evidence.Case, finding.List) {
	return t[path.Dir(name)].Case(name)
}

func (t twoBoards) Bytes(name string) ([]byte, error) {
	h, ok := t[path.Dir(name)]
	if !ok {
		return nil, fs.ErrNotExist
	}
	return h.Bytes(name)
}
