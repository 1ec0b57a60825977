package app

import (
	"context"
	"fmt"
	"io/fs"
	"path"
	"sync"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
)

// Texts reads and writes the files of a technician from memory. An adapter provides it.
type Texts interface {
	// ParseBoard reads a board; open brings the contents files that it names. The board is nil when nothing could be read.
	ParseBoard(name string, text []byte, open func(string) ([]byte, error)) (*board.Board, finding.List)
	WriteBoard(*board.Board) ([]byte, error)
	ParseCase(name string, text []byte) (*evidence.Case, finding.List)
	WriteCase(*evidence.Case) ([]byte, error)
}

// BoardName is what the board's own file is called in exports and findings.
const BoardName = "board.yaml"

// loadedBoard is a version of a board, ready for use. It is not changed after it was loaded.
type loadedBoard struct {
	version  BoardVersion
	files    BoardFiles
	circuit  *circuit.Circuit // nil when a finding is an error
	findings finding.List
	golden   *evidence.Case // readings of a known-good machine beside the board; may be nil

	once   sync.Once
	lab    *BoardLab
	err    error
	joined VoltsTable // of a mixed board

	expect   sync.Mutex // guards what follows
	volts    *VoltsTable
	machines map[string]inventedMachine // by example
	unit     *jointGround               // of a mixed board, for its invented machines; made when it is needed
}

// table is what a good board shows, reckoned once; the empty table for a board without an analogue half.
func (l *loadedBoard) table(ctx context.Context) (VoltsTable, error) {
	if l.circuit == nil || l.circuit.Board.Analog == nil {
		return VoltsTable{}, nil
	}
	if b, err := l.board(); err != nil || b.Joint != nil {
		return l.joined, err
	}
	l.expect.Lock()
	defer l.expect.Unlock()
	if l.volts == nil {
		t, fl, err := voltsOf(ctx, l.circuit, l.golden)
		if err != nil {
			return t, Wrong{err}
		}
		if fl.Errors() {
			return t, Wrong{fmt.Errorf("%s", fl.Only(finding.Error)[0].Text)}
		}
		l.volts = &t
	}
	return *l.volts, nil
}

// board prepares what is shared by all cases of the board, once. Joining the halves of a mixed board takes seconds.
func (l *loadedBoard) board() (*BoardLab, error) {
	l.once.Do(func() {
		lab, fl := NewBoardLab(l.circuit, l.golden, 0)
		if lab == nil {
			l.err = Wrong{fmt.Errorf("the board cannot be worked with: %s", fl.Only(finding.Error)[0].Text)}
			return
		}
		if lab.Joint != nil { // what a good board shows is known by then, and nobody is at work with it yet
			if l.joined, l.err = lab.table(context.Background()); l.err != nil {
				return
			}
		}
		l.lab = lab
	})
	return l.lab, l.err
}

// heldFiles lets the use cases read a board that lies in memory.
type heldFiles struct {
	texts Texts
	files BoardFiles
}

func (h heldFiles) Board(string) (*board.Board, finding.List) {
	return h.texts.ParseBoard(BoardName, []byte(h.files.Text), func(name string) ([]byte, error) { return h.Bytes(name) })
}

func (h heldFiles) Case(name string) (*evidence.Case, finding.List) {
	var fl finding.List
	fl.Errorf(finding.Pos{File: name}, name, "", "there is no such file")
	return nil, fl
}

func (h heldFiles) Bytes(name string) ([]byte, error) {
	if data, ok := h.files.Files[path.Base(name)]; ok {
		return data, nil
	}
	return nil, fs.ErrNotExist
}

// CheckBoard joins a board with the library as it is typed: the circuit (nil with an error) and every finding.
func (d *Desk) CheckBoard(files BoardFiles) (*circuit.Circuit, *board.Board, finding.List) {
	h := heldFiles{d.texts, files}
	b, _ := h.Board(BoardName)
	c, fl := LoadBoard(h, BoardName, nil)
	return c, b, fl
}

// SaveBoard keeps a board as a new version, errors and all: a board half typed is not lost. boardID 0 makes a new board.
func (d *Desk) SaveBoard(ctx context.Context, boardID int64, files BoardFiles) (BoardVersion, finding.List, error) {
	c, b, fl := d.CheckBoard(files)
	if b != nil {
		files.Title, files.Parts = b.Title, len(b.Parts)
	}
	if c == nil && files.Title == "" {
		files.Title = "without a title"
	}
	v, err := d.store.SaveBoard(ctx, boardID, files, d.clock.Now())
	return v, fl, err
}

// BoardOf loads a version of a board, ready for use.
func (d *Desk) BoardOf(ctx context.Context, version int64) (*circuit.Circuit, BoardFiles, finding.List, error) {
	l, err := d.loaded(ctx, version)
	if err != nil {
		return nil, BoardFiles{}, nil, err
	}
	return l.circuit, l.files, l.findings, nil
}

// keptBoards bounds the boards in memory.
const keptBoards = 16

func (d *Desk) loaded(ctx context.Context, version int64) (*loadedBoard, error) {
	d.mu.Lock()
	l := d.boards[version]
	d.mu.Unlock()
	if l != nil {
		return l, nil
	}
	v, files, err := d.store.BoardVersion(ctx, version)
	if err != nil {
		return nil, fmt.Errorf("version %d of the board: %w", version, err)
	}
	c, _, fl := d.CheckBoard(files)
	l = &loadedBoard{version: v, files: files, circuit: c, findings: fl, golden: d.golden(files)}
	d.mu.Lock()
	defer d.mu.Unlock()
	if len(d.boards) >= keptBoards {
		clear(d.boards)
	}
	d.boards[version] = l
	return l, nil
}

// golden are the readings of a known-good machine that lie beside a board; nil when there are none that can be read.
func (d *Desk) golden(files BoardFiles) *evidence.Case {
	text, ok := files.Files[GoldenBeside]
	if !ok {
		return nil
	}
	c, fl := d.texts.ParseCase(GoldenBeside, text)
	if c == nil || fl.Errors() || !c.Golden {
		return nil
	}
	return c
}

// WriteBoard is the text of a board, as the command line reads it.
func (d *Desk) WriteBoard(b *board.Board) ([]byte, error) { return d.texts.WriteBoard(b) }
