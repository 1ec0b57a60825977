package yamlfile

// Whatever the bytes: no panic, nothing dropped without an error, places that exist, and what reads well is written well.

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/tools/txtar"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/finding"
)

// seed adds every YAML file of a corpus folder, and some bytes that no text archive holds.
func seed(f *testing.F, dir string, least int) {
	paths, err := filepath.Glob(filepath.Join(dir, "*.txtar"))
	if err != nil {
		f.Fatal(err)
	}
	n := 0
	for _, p := range paths {
		a, err := txtar.ParseFile(p)
		if err != nil {
			f.Fatal(err)
		}
		for _, file := range a.Files {
			if strings.HasSuffix(file.Name, ".yaml") {
				f.Add(file.Data)
				n++
			}
		}
	}
	if n < least {
		f.Fatalf("%d seeds in %s, expected at least %d", n, dir, least)
	}
	for _, s := range []string{"", "\x00", "\xEF\xBB\xBFboard: T\r\nparts: {U1: {type: a, pins: [A]}}\r\n", "\xFF\xFE", "board: |\n", "board: >-\n\n\n x", "? a", "a: &b [*b]", "- - - a\n  - b", "a:\n\t- b", "{a: [b, {c: d}], e: 'f'}"} {
		f.Add([]byte(s))
	}
}

// checkFindings demands places inside the file and an error wherever nothing was read.
func checkFindings(t *testing.T, data []byte, read bool, l finding.List) {
	if !read && !l.Errors() {
		t.Fatal("nothing was read, and no error says why")
	}
	lines := 1 + bytes.Count(data, []byte("\n")) + bytes.Count(data, []byte("\r"))
	for _, f := range l {
		if f.Text == "" || f.Pos.File != "f.yaml" || f.Pos.Line < 0 || f.Pos.Line > lines || f.Pos.Col < 0 || f.Pos.Col > len(data)+1 || (f.Pos.Line == 0) != (f.Pos.Col == 0) {
			t.Fatalf("bad finding %+v in %d lines", f, lines)
		}
	}
}

func FuzzBoard(f *testing.F) {
	seed(f, "testdata/board", 100)
	open := func(string) ([]byte, error) { return []byte(":0100000001FE\n:00000001FF\n"), nil }
	f.Fuzz(func(t *testing.T, data []byte) {
		b, l := ParseBoard("f.yaml", data, open)
		checkFindings(t, data, b != nil, l)
		if l.Errors() {
			return
		}
		for _, a := range b.Actions {
			if n := board.Moments(a.Steps); n > board.MaxMoments {
				t.Fatalf("action %q has %d moments", a.Name, n)
			}
		}
		text, err := WriteBoard(b)
		if err != nil {
			t.Fatal(err)
		}
		back, l := ParseBoard("f.yaml", text, open)
		if l.Errors() || !same(b, back) {
			t.Fatalf("%v\n%s\n%+v\n%+v", l, text, b, back)
		}
	})
}

func FuzzCase(f *testing.F) {
	seed(f, "testdata/case", 40)
	f.Fuzz(func(t *testing.T, data []byte) {
		c, l := ParseCase("f.yaml", data)
		checkFindings(t, data, c != nil, l)
		if l.Errors() {
			return
		}
		text, err := WriteCase(c)
		if err != nil {
			t.Fatal(err)
		}
		back, l := ParseCase("f.yaml", text)
		if l.Errors() || !same(c, back) {
			t.Fatalf("%v\n%s\n%+v\n%+v", l, text, c, back)
		}
	})
}
