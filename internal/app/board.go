package app

import (
	"errors"
	"io/fs"
	"path/filepath"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

// PartsBeside is the name of the parts file that is read without being asked for when it lies in the board's folder.
const PartsBeside = "parts.yaml"

// LoadBoard reads a board file and joins it with the part library: what is built in, then parts.yaml beside the board, then the files
// of partsFiles in order; a later description of a part takes the place of an earlier one. The circuit is nil when a finding is an error.
func LoadBoard(files Files, path string, partsFiles []string) (*circuit.Circuit, finding.List) {
	b, fl := files.Board(path)
	lib, more := library(files, path, partsFiles)
	fl = append(fl, more...)
	fl.Sort()
	if b == nil || fl.Errors() {
		return nil, fl
	}
	c, more := circuit.Build(b, lib)
	fl = append(fl, more...)
	fl.Sort()
	return c, fl
}

// Library is the built-in part library with the given files added in order, each taking the place of what was there.
func Library(files Files, partsFiles []string) (*part.Library, finding.List) {
	lib, fl := part.Embedded()
	for _, p := range partsFiles {
		data, err := files.Bytes(p)
		if err != nil {
			fl.Errorf(finding.Pos{File: p}, p, "", "%v", plain(err))
			continue
		}
		fl = append(fl, addParts(lib, p, data)...)
	}
	return lib, fl
}

func library(files Files, boardPath string, partsFiles []string) (*part.Library, finding.List) {
	beside := filepath.Join(filepath.Dir(boardPath), PartsBeside)
	_, err := files.Bytes(beside)
	if errors.Is(err, fs.ErrNotExist) {
		return Library(files, partsFiles)
	}
	return Library(files, append([]string{beside}, partsFiles...))
}

// addParts lets a file's records take the place of what the library had, but not of each other.
func addParts(lib *part.Library, file string, data []byte) finding.List {
	types, fl := part.Parse(file, data)
	seen := map[string]*part.Type{}
	for _, t := range types {
		families := t.Families
		if len(families) == 0 {
			families = []string{""}
		}
		for _, family := range families {
			key := t.Name + " " + family
			if old := seen[key]; old != nil {
				fl.Errorf(t.Pos, t.Name, "take one of them out", "part %s is described twice; the first is at %s", t.Name, old.Pos)
			}
			seen[key] = t
		}
	}
	return append(fl, lib.Add(types, true)...)
}

// plain leaves out the system call and the path, which the finding shows already.
func plain(err error) error {
	var pe *fs.PathError
	if errors.Is(err, fs.ErrNotExist) {
		return errors.New("there is no such file")
	}
	if errors.As(err, &pe) {
		return pe.Err
	}
	return err
}
