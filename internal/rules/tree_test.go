package rules

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

// module is the import path of this repository's root.
const module = "halfsplit/"

// source is one Go file of the repository. dir and name are slash-separated, relative to the root.
type source struct {
	dir, name string
	test      bool
	ast       *ast.File
	imports   []string // own packages without the module's name
}

// tree reads every Go file of the repository once.
var tree = sync.OnceValues(func() ([]source, error) {
	var out []source
	root := os.DirFS(filepath.Join("..", ".."))
	err := fs.WalkDir(root, ".", func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && name != "." && (strings.HasPrefix(d.Name(), ".") || d.Name() == "testdata"):
			return fs.SkipDir
		case d.IsDir() || path.Ext(name) != ".go":
			return nil
		}
		text, err := fs.ReadFile(root, name)
		if err != nil {
			return err
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, text, parser.ParseComments)
		if err != nil {
			return err
		}
		s := source{dir: path.Dir(name), name: name, test: strings.HasSuffix(name, "_test.go"), ast: f}
		for _, i := range f.Imports {
			s.imports = append(s.imports, strings.TrimPrefix(strings.Trim(i.Path.Value, `"`), module))
		}
		out = append(out, s)
		return nil
	})
	return out, err
})

// files returns the sources and insists that the walk found the repository.
func files(t *testing.T) []source {
	t.Helper()
	all, err := tree()
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 120 {
		t.Fatalf("only %d Go files found; is this the repository?", len(all))
	}
	return all
}

// below reports whether a package lies in one of the folders.
func below(pkg string, folders ...string) bool {
	for _, f := range folders {
		if pkg == f || strings.HasPrefix(pkg, f+"/") {
			return true
		}
	}
	return false
}
