package cli

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"

	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/core/board"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
)

// Where files come from: the disk, or the examples inside the program.

// largestParts is the size of parts file that is still read; part.Parse says the same limit in its finding.
const largestParts = 4 << 20

// disk reads the technician's files.
type disk struct{}

func (disk) Board(path string) (*board.Board, finding.List)  { return yamlfile.ReadBoard(path) }
func (disk) Case(path string) (*evidence.Case, finding.List) { return yamlfile.ReadCase(path) }

func (disk) Bytes(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, largestParts+1))
}

// inside reads files that are built into the program. Paths are slash-separated.
type inside struct{ fs fs.FS }

func (i inside) Board(name string) (*board.Board, finding.List) {
	data, fl := i.read(name)
	if fl != nil {
		return nil, fl
	}
	return yamlfile.ParseBoard(name, data, func(contents string) ([]byte, error) {
		return fs.ReadFile(i.fs, path.Join(path.Dir(name), contents))
	})
}

func (i inside) Case(name string) (*evidence.Case, finding.List) {
	data, fl := i.read(name)
	if fl != nil {
		return nil, fl
	}
	return yamlfile.ParseCase(name, data)
}

func (i inside) Bytes(name string) ([]byte, error) { return fs.ReadFile(i.fs, filepath.ToSlash(name)) }

func (i inside) read(name string) (data []byte, fl finding.List) {
	data, err := i.Bytes(name)
	if err != nil {
		fl.Errorf(finding.Pos{File: name}, name, "", "%v", fmt.Errorf("not among the examples inside this program: %w", err))
	}
	return data, fl
}

// writeNew writes a file and the folders above it; a file that is there already is an error.
func writeNew(name string, data []byte) error {
	if err := os.MkdirAll(filepath.Dir(name), 0o777); err != nil {
		return err
	}
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	return errors.Join(err, f.Close())
}
