package rules

import (
	"bytes"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// What is generated from templates is what the templates say today.
func TestGeneratedFilesAreFresh(t *testing.T) {
	root, dir := filepath.Join("..", ".."), t.TempDir()
	var templates []string
	err := filepath.WalkDir(filepath.Join(root, "internal"), func(name string, d fs.DirEntry, err error) error {
		if err != nil || filepath.Ext(name) != ".templ" {
			return err
		}
		rel, err := filepath.Rel(root, name)
		if err != nil {
			return err
		}
		text, err := os.ReadFile(name)
		if err != nil {
			return err
		}
		templates = append(templates, rel)
		if err := os.MkdirAll(filepath.Join(dir, filepath.Dir(rel)), 0o700); err != nil {
			return err
		}
		return os.WriteFile(filepath.Join(dir, rel), text, 0o600)
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(templates) < 5 {
		t.Fatalf("only %d templates found", len(templates))
	}
	done := map[string]bool{}
	for _, rel := range templates {
		if folder := filepath.Dir(rel); !done[folder] {
			done[folder] = true // folder by folder, as go generate does it: file names in the output count from there
			c := exec.Command("go", "tool", "templ", "generate", "-path", filepath.Join(dir, folder))
			c.Dir = root
			if out, err := c.CombinedOutput(); err != nil {
				t.Fatalf("%v: %s", err, out)
			}
		}
		made := strings.TrimSuffix(rel, ".templ") + "_templ.go"
		want, err := os.ReadFile(filepath.Join(dir, made))
		if err != nil {
			t.Fatal(err)
		}
		got, err := os.ReadFile(filepath.Join(root, made))
		if err != nil || !bytes.Equal(bytes.TrimSpace(got), bytes.TrimSpace(want)) {
			t.Errorf("%s is not what %s says: run `go generate ./...`", made, rel)
		}
	}
}
