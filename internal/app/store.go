package app

import (
	"context"
	"errors"
	"io"
	"time"

	"halfsplit/internal/core/job"
)

// Store is where the workshop keeps its jobs, boards and pictures. An adapter provides it. Whatever a method has acknowledged with a nil
// error survives the end of the process, however it ends.
type Store interface {
	// CreateJob opens a job with its first event and returns its number. The same key again returns the job opened first.
	CreateJob(ctx context.Context, first job.Event, row JobSummary) (int64, error)
	// Append adds an event and returns it with its number. When the job already has an event of that key, that one is returned and
	// nothing is added (old is true). The summary takes the place of the one kept for the list; it is computed for seq, the number the
	// caller expects the event to get: when another window was faster, ErrStale is returned, nothing is added, and the caller reads on.
	Append(ctx context.Context, jobID, seq int64, e job.Event, row JobSummary) (stored job.Event, old bool, err error)
	// Events are a job's events with numbers above after, in order. A job that does not exist is ErrNone.
	Events(ctx context.Context, jobID, after int64) ([]job.Event, error)
	// Jobs lists jobs, last changed first, whose summary holds every word of the search in any case. Empty search: all. State "" : any.
	Jobs(ctx context.Context, search, state string) ([]JobRow, error)

	// SaveBoard keeps a version of a board. BoardID 0 makes a new board. A text equal to the newest version's makes no new version.
	SaveBoard(ctx context.Context, boardID int64, b BoardFiles, at time.Time) (BoardVersion, error)
	// BoardVersion is a version with its files.
	BoardVersion(ctx context.Context, version int64) (BoardVersion, BoardFiles, error)
	// Boards lists the newest version of each board, by title.
	Boards(ctx context.Context) ([]BoardVersion, error)
	// BoardVersions lists the versions of one board, newest first.
	BoardVersions(ctx context.Context, boardID int64) ([]BoardVersion, error)
	// SaveDraft keeps what is half typed, as it is; "" takes the draft away. Draft returns it with the time of its last change.
	SaveDraft(ctx context.Context, name, text string, at time.Time) error
	Draft(ctx context.Context, name string) (text string, at time.Time, err error)

	// SavePhoto keeps a picture (JPEG bytes, full and small) and returns its number.
	SavePhoto(ctx context.Context, jobID int64, full, small []byte, w, h int, at time.Time) (int64, error)
	Photo(ctx context.Context, id int64, small bool) ([]byte, error)

	// Setting and SetSetting keep small values: rate, currency, passphrase hash, costs. A setting never set is "".
	Setting(ctx context.Context, name string) (string, error)
	SetSetting(ctx context.Context, name, value string) error

	// Backup writes everything as one file, consistent while others write. Restore checks such a file wholly and then takes it in place of
	// what is there, all or nothing.
	Backup(ctx context.Context, w io.Writer) error
	Restore(ctx context.Context, r io.Reader) error
	Close() error
}

// ErrNone is returned for a number that nothing has; ErrStale when another window wrote first.
var (
	ErrNone  = errors.New("there is no such entry")
	ErrStale = errors.New("another window has written meanwhile")
)

// JobSummary is what the list of jobs shows and searches.
type JobSummary struct {
	Title   string `json:"title"`   // the machine
	Owner   string `json:"owner"`   // a reference, not a name
	State   string `json:"state"`   // see package job
	Waiting string `json:"waiting"` // reason
	Stage   string `json:"stage"`   // the stage the job stands at
	Text    string `json:"text"`    // complaint and notes, for the search
}

// JobRow is one line of the list.
type JobRow struct {
	ID int64
	JobSummary
	Opened, Changed time.Time
}

// BoardVersion tells one version of a board from another.
type BoardVersion struct {
	ID      int64 // of this version
	BoardID int64
	Number  int // from 1 within its board
	Title   string
	Parts   int
	SHA256  string // hex, over the files
	At      time.Time
}

// BoardFiles are the files of a board: the board file itself and what it names (parts.yaml, memory contents), by file name.
type BoardFiles struct {
	Title string
	Parts int
	Text  string            // board.yaml
	Files map[string][]byte // parts.yaml, *.hex …; no folders in the names
}
