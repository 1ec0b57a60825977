package store

// What can be wrong with the file or the disk, in words for the person at the bench.

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"syscall"

	"modernc.org/sqlite"
	lib "modernc.org/sqlite/lib"

	"halfsplit/internal/app"
)

// The kinds of trouble, for errors.Is.
var (
	ErrNewer    = errors.New("written by a newer version of this program")
	ErrForeign  = errors.New("not a file of this program")
	ErrDamaged  = errors.New("damaged")
	ErrReadOnly = errors.New("may not be written")
	ErrFolder   = errors.New("is a folder")
	ErrInUse    = errors.New("in use by another halfsplit")
	ErrFull     = errors.New("no space left")
	ErrBackup   = errors.New("not a sound backup")
)

// Error tells what was found in which file and what to do about it. Is and As see Kind (one of the errors above) and Err, the cause, which
// may be nil.
type Error struct {
	Path  string
	Kind  error
	Found string // a sentence without its full stop
	Do    string // one sentence or more
	Err   error
}

func (e *Error) Error() string {
	s := fmt.Sprintf("%s: %s. %s", e.Path, e.Found, e.Do)
	if e.Err != nil {
		s += fmt.Sprintf(" (%v)", e.Err)
	}
	return s
}

func (e *Error) Unwrap() []error {
	if e.Err == nil {
		return []error{e.Kind}
	}
	return []error{e.Kind, e.Err}
}

// code is SQLite's result code without its extension, -1 for other errors.
func code(err error) int {
	var e *sqlite.Error
	if errors.As(err, &e) {
		return e.Code() & 0xff
	}
	return -1
}

// explain turns what SQLite or the system says into what it means here.
func (s *Store) explain(what string, err error) error { return explain(s.path, what, err) }

func explain(path, what string, err error) error {
	if err == nil {
		return nil
	}
	var known *Error
	if errors.As(err, &known) || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) || errors.Is(err, app.ErrNone) || errors.Is(err, app.ErrStale) {
		return err
	}
	switch c := code(err); {
	case c == lib.SQLITE_FULL || errors.Is(err, syscall.ENOSPC):
		return &Error{Path: path, Kind: ErrFull, Err: err,
			Found: fmt.Sprintf("could not %s: no space left on the disk (%s)", what, spaceWords(filepath.Dir(path))),
			Do:    "Everything confirmed before is safe; what was just asked for was not done. Make space, then try again."}
	case c == lib.SQLITE_CORRUPT || c == lib.SQLITE_NOTADB:
		return damaged(path, fmt.Sprintf("could not %s: the file is damaged", what), err)
	case c == lib.SQLITE_READONLY || errors.Is(err, fs.ErrPermission) || errors.Is(err, syscall.EROFS):
		return &Error{Path: path, Kind: ErrReadOnly, Err: err, Found: fmt.Sprintf("could not %s: the file or its folder may not be written", what),
			Do: "Give yourself the right to write there, or choose another file."}
	case c == lib.SQLITE_BUSY:
		return &Error{Path: path, Kind: ErrInUse, Err: err, Found: fmt.Sprintf("could not %s: another program holds the file", what),
			Do: "Close the other program and try again."}
	}
	return fmt.Errorf("%s: could not %s: %w", path, what, err)
}

func damaged(path, found string, err error) *Error {
	return &Error{Path: path, Kind: ErrDamaged, Found: found, Err: err,
		Do: "Nothing was changed. Copy the file and those beside it whose names begin like it to a safe place, then restore a backup into a new file."}
}

// spaceWords says how much space is left where dir is.
func spaceWords(dir string) string {
	free, err := freeSpace(dir)
	if err != nil {
		return "free space unknown"
	}
	return fmt.Sprintf("%.1f MB free", float64(free)/1e6)
}
