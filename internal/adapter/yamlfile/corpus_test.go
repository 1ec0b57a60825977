package yamlfile

// The corpus: testdata/board and testdata/case hold txtar archives. In each, NAME.yaml is read and its findings are
// compared, line by line, with NAME.want; other files are contents files. To add a case, add a file or a pair.
// After a deliberate change of wording: go test -run Corpus -update, then read the difference.

import (
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/tools/txtar"

	"halfsplit/internal/core/finding"
)

var update = flag.Bool("update", false, "write the findings into the corpus")

func TestBoardCorpus(t *testing.T) {
	corpus(t, "testdata/board", 100, func(name string, data []byte, open func(string) ([]byte, error)) (bool, finding.List) {
		b, l := ParseBoard(name, data, open)
		return b != nil, l
	})
}

func TestCaseCorpus(t *testing.T) {
	corpus(t, "testdata/case", 40, func(name string, data []byte, _ func(string) ([]byte, error)) (bool, finding.List) {
		c, l := ParseCase(name, data)
		return c != nil, l
	})
}

func corpus(t *testing.T, dir string, least int, read func(string, []byte, func(string) ([]byte, error)) (bool, finding.List)) {
	paths, err := filepath.Glob(filepath.Join(dir, "*.txtar"))
	if err != nil {
		t.Fatal(err)
	}
	checked := 0
	for _, path := range paths {
		archive, err := txtar.ParseFile(path)
		if err != nil {
			t.Fatal(err)
		}
		files := map[string][]byte{}
		for _, f := range archive.Files {
			files[f.Name] = f.Data
		}
		open := func(name string) ([]byte, error) {
			if d, ok := files[name]; ok {
				return d, nil
			}
			return nil, errors.New("there is no such file")
		}
		for _, f := range archive.Files {
			stem, isYAML := strings.CutSuffix(f.Name, ".yaml")
			if !isYAML {
				continue
			}
			ok, l := read(f.Name, f.Data, open)
			got := text(l)
			want, paired := files[stem+".want"]
			if !paired && !*update {
				t.Errorf("%s: %s has no %s.want", path, f.Name, stem)
			}
			if !ok && !l.Errors() {
				t.Errorf("%s: %s: nothing was read, and no error says why", path, f.Name)
			}
			if got != string(want) && !*update {
				t.Errorf("%s: %s\n got:\n%s want:\n%s", path, f.Name, got, want)
			}
			files[stem+".want"] = []byte(got)
			checked++
		}
		if *update {
			rewrite(t, path, archive, files)
		}
	}
	if checked < least {
		t.Errorf("checked %d files of %s, expected at least %d", checked, dir, least)
	}
}

func rewrite(t *testing.T, path string, archive *txtar.Archive, files map[string][]byte) {
	out := &txtar.Archive{Comment: archive.Comment}
	for _, f := range archive.Files {
		if strings.HasSuffix(f.Name, ".want") {
			continue
		}
		out.Files = append(out.Files, f)
		if stem, ok := strings.CutSuffix(f.Name, ".yaml"); ok {
			out.Files = append(out.Files, txtar.File{Name: stem + ".want", Data: files[stem+".want"]})
		}
	}
	if err := os.WriteFile(path, txtar.Format(out), 0o644); err != nil {
		t.Fatal(err)
	}
}

func text(l finding.List) string {
	var b strings.Builder
	for _, f := range l {
		b.WriteString(f.String() + "\n")
	}
	return b.String()
}
