package importer

// The corpus: each archive under testdata/corpus holds input files and what must come of them, findings with their lines included.
// go test -update writes the expectations anew; they are to be read before they are committed.

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"golang.org/x/tools/txtar"

	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

var update = flag.Bool("update", false, "write the expectations of the corpus anew")

var library = sync.OnceValues(part.Embedded)

// read imports and demands what holds of every import: places inside the files, a board that can be written and read back.
func read(t *testing.T, files ...File) (Result, string) {
	t.Helper()
	lib, fl := library()
	if fl.Errors() {
		t.Fatal(fl)
	}
	res := Import(files, lib)
	for _, f := range res.Findings {
		if f.Text == "" || f.Pos.Line < 0 {
			t.Errorf("bad finding %+v", f)
		}
	}
	if res.Board == nil {
		if !res.Findings.Errors() {
			t.Error("no board, and no error says why")
		}
		return res, ""
	}
	text, err := yamlfile.WriteBoard(res.Board)
	if err != nil {
		t.Fatal(err)
	}
	back, fl := yamlfile.ParseBoard("board.yaml", text, nil)
	if fl.Errors() {
		t.Fatalf("%v\n%s", fl.Only(finding.Error), text)
	}
	if res.Records != nil {
		types, fl := part.Parse("parts.yaml", res.Records)
		if fl.Errors() {
			t.Fatalf("%v\n%s", fl.Only(finding.Error), res.Records)
		}
		lib = lib.Clone()
		if fl := lib.Add(types, true); fl.Errors() {
			t.Fatal(fl)
		}
	}
	if _, fl := circuit.Build(back, lib); fl.Errors() && !res.Findings.Errors() {
		t.Errorf("the board does not load, and no finding says so: %v", fl.Only(finding.Error))
	}
	return res, string(text)
}

func TestCorpus(t *testing.T) {
	paths, err := filepath.Glob("testdata/corpus/*.txtar")
	if err != nil || len(paths) < 15 {
		t.Fatalf("%d archives, expected at least 15 (%v)", len(paths), err)
	}
	for _, path := range paths {
		t.Run(strings.TrimSuffix(filepath.Base(path), ".txtar"), func(t *testing.T) {
			a, err := txtar.ParseFile(path)
			if err != nil {
				t.Fatal(err)
			}
			var in []File
			want := map[string]string{}
			kept := a.Files[:0:0]
			for _, f := range a.Files {
				if name, ok := strings.CutPrefix(f.Name, "want/"); ok {
					want[name] = string(f.Data)
					continue
				}
				in = append(in, File{f.Name, f.Data})
				kept = append(kept, f)
			}
			res, board := read(t, in...)
			got := map[string]string{"board.yaml": board, "parts.yaml": string(res.Records), "findings": ""}
			for _, f := range res.Findings {
				got["findings"] += f.String() + "\n"
			}
			for _, r := range res.Files {
				got["findings"] += r.File + " is " + string(r.Format) + "\n"
			}
			for _, name := range []string{"board.yaml", "parts.yaml", "findings"} {
				if *update {
					if got[name] != "" {
						kept = append(kept, txtar.File{Name: "want/" + name, Data: []byte(got[name])})
					}
				} else if got[name] != want[name] {
					t.Errorf("%s:\n%s\nwant:\n%s", name, got[name], want[name])
				}
			}
			if *update {
				a.Files = kept
				if err := os.WriteFile(path, txtar.Format(a), 0o666); err != nil {
					t.Fatal(err)
				}
			}
		})
	}
}
