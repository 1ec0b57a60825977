package app

import (
	"halfsplit/internal/core/board"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
)

// Files is what the use cases need from the outside: the files of a technician, read and checked. An adapter provides it, so that
// nothing here knows whether they lie on a disk or inside the program.
type Files interface {
	// Board reads a board file and the contents files it names. The board is nil when nothing could be read.
	Board(path string) (*board.Board, finding.List)
	// Case reads a case file. The board it names is not opened.
	Case(path string) (*evidence.Case, finding.List)
	// Bytes returns a parts file as it is. The error is an fs.ErrNotExist when there is none.
	Bytes(path string) ([]byte, error)
}
