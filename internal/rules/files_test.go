package rules

import (
	"bytes"
	"go/ast"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// Every package says what it is.
func TestPackageComments(t *testing.T) {
	said := map[string]bool{}
	for _, s := range files(t) {
		if !s.test {
			said[s.dir] = said[s.dir] || s.ast.Doc != nil && len(s.ast.Doc.Text()) > 40
		}
	}
	for dir, ok := range said {
		if !ok {
			t.Errorf("package %s has no package comment", dir)
		}
	}
	if len(said) < 15 {
		t.Errorf("only %d packages found", len(said))
	}
}

// A package is named after what it holds.
func TestNoDrawerPackages(t *testing.T) {
	for _, s := range files(t) {
		if slices.Contains([]string{"util", "utils", "helpers", "helper", "common", "misc", "base", "shared"}, path.Base(s.dir)) {
			t.Errorf("%s: %s says nothing about what is inside", s.name, path.Base(s.dir))
		}
	}
}

// A test that does not run proves nothing.
func TestNoSkippedTests(t *testing.T) {
	tests := 0
	for _, s := range files(t) {
		if !s.test {
			continue
		}
		ast.Inspect(s.ast, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.FuncDecl:
				if strings.HasPrefix(n.Name.Name, "Test") {
					tests++
				}
			case *ast.CallExpr:
				sel, ok := n.Fun.(*ast.SelectorExpr)
				if ok && slices.Contains([]string{"Skip", "Skipf", "SkipNow"}, sel.Sel.Name) && len(n.Args) < 3 {
					t.Errorf("%s calls %s", s.name, sel.Sel.Name)
				}
			}
			return true
		})
	}
	if tests < 30 {
		t.Errorf("only %d tests found", tests)
	}
}

const (
	longestFile = 600 // lines
	fewestTexts = 150 // files that must have been looked at
)

var (
	unfinished = regexp.MustCompile(`\b(TO` + `DO|FIX` + `ME|XX` + `X)\b`)
	skipLine   = regexp.MustCompile(`(?m)^(\[[^\]]*\] )?(skip|stop)\b`)
)

// Files stay small enough to be read in one sitting, and nothing is left for later.
func TestTexts(t *testing.T) {
	root := os.DirFS(filepath.Join("..", ".."))
	looked := 0
	err := fs.WalkDir(root, ".", func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && name != "." && strings.HasPrefix(d.Name(), "."):
			return fs.SkipDir
		case d.IsDir() || !slices.Contains([]string{".go", ".md", ".yaml", ".txtar", ".txt"}, path.Ext(name)):
			return nil
		}
		text, err := fs.ReadFile(root, name)
		if err != nil {
			return err
		}
		looked++
		if n := bytes.Count(text, []byte("\n")); n > longestFile && !strings.HasSuffix(name, "_templ.go") {
			t.Errorf("%s has %d lines; split it", name, n)
		}
		if path.Ext(name) == ".go" {
			for _, m := range unfinished.FindAllString(comments(string(text)), -1) {
				t.Errorf("%s: %s", name, m)
			}
		}
		if strings.Contains(name, "testdata/script/") && skipLine.Match(text) {
			t.Errorf("%s leaves out part of itself", name)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if looked < fewestTexts {
		t.Errorf("only %d files looked at", looked)
	}
}

// comments keeps what stands after // on each line.
func comments(text string) string {
	var b strings.Builder
	for line := range strings.Lines(text) {
		if _, c, ok := strings.Cut(line, "//"); ok {
			b.WriteString(c)
		}
	}
	return b.String()
}
