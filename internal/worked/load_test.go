package worked

// Loading the examples: boards and parts from text, circuits of gates from structural Verilog, and the benchmark files where they
// lie beside the repository.

import (
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

// library is read once: nothing here changes it.
var library = sync.OnceValues(part.Embedded)

// build joins a board with the library and the given part records.
func build(t *testing.T, b *board.Board, parts string) *circuit.Circuit {
	t.Helper()
	lib, fl := library()
	if parts != "" {
		lib = lib.Clone()
		types, more := part.Parse("parts.yaml", []byte(parts))
		fl = append(fl, more...)
		fl = append(fl, lib.Add(types, true)...)
	}
	c, more := circuit.Build(b, lib)
	noErrors(t, append(fl, more...))
	return c
}

// boardFrom reads a board written as a technician would write it. contents holds the files it names.
func boardFrom(t *testing.T, text string, contents map[string][]byte) *board.Board {
	t.Helper()
	b, fl := yamlfile.ParseBoard("board.yaml", []byte(text), func(name string) ([]byte, error) {
		if data, ok := contents[name]; ok {
			return data, nil
		}
		return nil, fs.ErrNotExist
	})
	noErrors(t, fl)
	return b
}

func noErrors(t *testing.T, fl finding.List) {
	t.Helper()
	if !fl.Errors() {
		return
	}
	for _, f := range fl.Only(finding.Error) {
		t.Error(f)
	}
	t.FailNow()
}

// benchmark reads a file of the benchmark data, which does not belong to the repository and may be absent.
func benchmark(t *testing.T, name string) (text string, ok bool) {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			break
		}
		up := filepath.Dir(dir)
		if up == dir {
			t.Fatal("no go.mod above the test")
		}
		dir = up
	}
	data, err := os.ReadFile(filepath.Join(dir, "..", "shared", "data", filepath.FromSlash(name)))
	if err != nil {
		t.Logf("%s is not there; the small examples in this package are checked without it", name)
		return "", false
	}
	return string(data), true
}
