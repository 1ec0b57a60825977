package yamlfile

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/goccy/go-yaml/token"

	"halfsplit/internal/core/finding"
)

// slow is how long refusing or reading the worst files may take; it is generous, because the machine may be busy.
const slow = 20 * time.Second

// checkSays reads a board and demands exactly one error that holds the words.
func checkSays(t *testing.T, name string, data []byte, words string) {
	t.Helper()
	start := time.Now()
	_, l := ParseBoard("b.yaml", data, nil)
	if took := time.Since(start); took > slow {
		t.Errorf("%s took %v", name, took)
	}
	if len(l) != 1 || !strings.Contains(l[0].String(), words) {
		t.Errorf("%s: got %.300v, want one finding with %q", name, l, words)
	}
}

func TestBytesRefused(t *testing.T) {
	cases := []struct{ name, data, words string }{
		{"empty", "", "b.yaml: error: the file is empty"},
		{"blank", " \n\n  \n", "the file is empty"},
		{"bom only", "\xEF\xBB\xBF", "the file is empty"},
		{"latin1", "board: Geh\xE4use\n", "b.yaml:1:11: error: byte E4 is not UTF-8"},
		{"cut rune", "board: \xC3", "b.yaml:1:8: error: byte C3 is not UTF-8"},
		{"nul", "board: a\nparts\x00: b\n", "b.yaml:2:6: error: a control character (code 00)"},
		{"escape", "board: \x1b[31m\n", "a control character (code 1B)"},
		{"c1", "board: \u0084\n", "a control character (code 84)"},
		{"utf16 le", "\xFF\xFEb\x00o\x00", "UTF-16"},
		{"utf16 be", "\xFE\xFF\x00b\x00o", "UTF-16"},
		{"long", strings.Repeat("# padding\n", maxFile/10+1), "at most 16 MiB are read"},
		{"marks", "board: [" + strings.Repeat(",", maxMarks+1), "more than 1000000 lines and punctuation marks"},
	}
	for _, c := range cases {
		checkSays(t, c.name, []byte(c.data), c.words)
	}
}

// good is a board whose only finding would be a mistake of the reader.
const good = "board: T\nparts:\n  U1: {type: 74LS00, pins: {1: A, 2: B}}\n"

func TestBytesAccepted(t *testing.T) {
	want, _ := ParseBoard("b.yaml", []byte(good), nil)
	cases := map[string]string{
		"byte order mark": "\xEF\xBB\xBF" + good,
		"crlf":            strings.ReplaceAll(good, "\n", "\r\n"),
		"cr":              strings.ReplaceAll(good, "\n", "\r"),
		"no last newline": strings.TrimSuffix(good, "\n"),
		"blank lines":     "\n\n" + strings.ReplaceAll(good, "\n", "\n\n# x\n"),
	}
	for name, text := range cases {
		b, l := ParseBoard("b.yaml", []byte(text), nil)
		if len(l) != 0 || !same(b, want) {
			t.Errorf("%s: %v %+v", name, l, b)
		}
	}
	b, l := ParseBoard("b.yaml", []byte(strings.ReplaceAll(good, "\n", "\r\n")), nil)
	if got := b.Parts[0].Pins[1].Pos; got != (finding.Pos{File: "b.yaml", Line: 3, Col: 35}) || len(l) != 0 {
		t.Errorf("place with CRLF: %v", got)
	}
}

func TestHostileShapes(t *testing.T) {
	bomb := "a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n"
	for i := 1; i < 20; i++ {
		bomb += fmt.Sprintf("a%d: &a%d [%s*a%d]\n", i, i, strings.Repeat(fmt.Sprintf("*a%d, ", i-1), 9), i-1)
	}
	chain := "a0: &a0 [x]\n"
	for i := 1; i < 100; i++ {
		chain += fmt.Sprintf("a%d: &a%d [*a%d]\n", i, i, i-1)
	}
	staircase := ""
	for i := range 200 {
		staircase += strings.Repeat(" ", i) + "a:\n"
	}
	cases := []struct{ name, data, words string }{
		{"brackets", "board: " + strings.Repeat("[", 200_000), "nested more than 64 deep"},
		{"closed brackets", "board: " + strings.Repeat("[", 65) + strings.Repeat("]", 65), "nested more than 64 deep"},
		{"braces", "board: " + strings.Repeat("{a: ", 100_000), "nested more than 64 deep"},
		{"dashes", strings.Repeat("- ", 100_000), "nested more than 64 deep"},
		{"staircase", staircase, "nested more than 64 deep"},
		{"question marks", strings.Repeat("? ", 100_000), "keys are not used here"},
		{"anchors", "board: " + strings.Repeat("&a ", 100_000), "one anchor"},
		{"tags", "board: " + strings.Repeat("!a ", 100_000), "tags"},
		{"stars", "board: " + strings.Repeat("*a ", 100_000), "no anchor"},
		{"alias bomb", bomb, "once the aliases (*) are written out"},
		{"alias chain", chain, "nested more than 64 deep"},
		{"documents", strings.Repeat("---\n", 10_000), "several documents"},
		{"quotes", "board: " + strings.Repeat("\"a\" ", 100_000), "does not belong"},
		{"one long word", strings.Repeat("x", 4<<20), "expected a board file"},
		{"colons", strings.Repeat(": ", 100_000), "nothing stands before this colon"},
		{"blank lines", "board: |\n" + strings.Repeat("\n", 100_000), "more than 100 blank lines in a row"},
		{"angles", "board: " + strings.Repeat("<", 240_000), "more than 63 `<` in a row"},
		{"long text", "board: |\n" + strings.Repeat("  a: b\n", 20_000), "a text of more than 64 KiB"},
		{"empty texts", "a: b\n   - c\n   - d\n   " + strings.Repeat("  a: |\n", 30_000), "a text of more than 64 KiB"},
		{"text without keys", "board: a\n" + strings.Repeat("   - b\n", 30_000), "more than 64 KiB of lines without a `key: value`"},
		{"bars", "board: " + strings.Repeat("| ", 100_000), ""},
	}
	for _, c := range cases {
		checkSays(t, c.name, []byte(c.data), c.words)
	}
}

// TestLargeButFair reads what the YAML library's own parser took 10 s for.
func TestLargeButFair(t *testing.T) {
	var b strings.Builder
	b.WriteString("board: T\nparts:\n")
	for i := range 20_000 {
		fmt.Fprintf(&b, "  U%d:\n    type: 74LS00\n    pins: {1: A%d, 2: B}\n", i, i)
	}
	start := time.Now()
	got, l := ParseBoard("b.yaml", []byte(b.String()), nil)
	if len(l) != 0 || len(got.Parts) != 20_000 || got.Parts[19_999].Pins[0].Net != "A19999" {
		t.Fatalf("%d parts, findings %.200v", len(got.Parts), l)
	}
	if took := time.Since(start); took > slow {
		t.Errorf("took %v", took)
	}
}

func TestManyFindings(t *testing.T) {
	text := "board: T\nparts:\n" + strings.Repeat("  U1: {}\n", 1000)
	_, l := ParseBoard("b.yaml", []byte(text), nil)
	if len(l) != maxFindings+1 || !strings.Contains(l[maxFindings].Text, "more than 100 problems") {
		t.Fatalf("%d findings, the last %v", len(l), l[len(l)-1])
	}
}

// TestScannerPanics shows that a panic inside the YAML library comes back as a finding.
func TestScannerPanics(t *testing.T) {
	_, err := tokenize("b.yaml", "x", func(string) token.Tokens { panic("index out of range") }, maxScan)
	if err == nil || !strings.Contains(err.Error(), "b.yaml: error: the YAML library gave up on this file: index out of range") {
		t.Error(err)
	}
}

// TestScannerHangs shows that a scanner that never comes back does not take the reader with it.
func TestScannerHangs(t *testing.T) {
	release := make(chan struct{})
	defer close(release)
	_, err := tokenize("b.yaml", "x", func(string) token.Tokens { <-release; return nil }, time.Millisecond)
	if err == nil || !strings.Contains(err.Error(), "did not finish with this file within 1ms") {
		t.Error(err)
	}
}

func TestReadFiles(t *testing.T) {
	dir := t.TempDir()
	in := func(name string) string { return filepath.Join(dir, name) }
	write := func(name, text string) {
		if err := os.WriteFile(in(name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, d := range []string{"roms", "folder.yaml", "outside"} {
		if err := os.Mkdir(in(d), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	write("hall-lamps.yaml", "board: T\nparts:\n  U1: {type: 2716, contents: roms/a.bin, pins: {}}\n")
	write("roms/a.bin", "\x01\x02\x00")
	write("folder.yaml/b.yaml", "board: T\nparts:\n  U1: {type: 2716, contents: ../roms/a.bin, pins: {}}\n  U2: {type: 2716, contents: link.bin, pins: {}}\n  U3: {type: 2716, contents: ., pins: {}}\n")
	if err := os.Symlink("../roms/a.bin", in("folder.yaml/link.bin")); err != nil {
		t.Fatal(err)
	}
	write("roms/big.bin", strings.Repeat("x", maxContents+1))
	write("roms.yaml", "board: T\nparts:\n  U1: {type: 2716, contents: roms/big.bin, pins: {}}\n  U2: {type: 2716, contents: roms, pins: {}}\n")
	write("case.yaml", "case: c\nboard: b.yaml\nlog: []\n")

	b, l := ReadBoard(in("hall-lamps.yaml"))
	if len(l) != 0 || string(b.Parts[0].Contents) != "\x01\x02\x00" || b.Parts[0].ContentsFile != "roms/a.bin" || b.File != in("hall-lamps.yaml") {
		t.Errorf("%v %+v", l, b)
	}
	c, l := ReadCase(in("case.yaml"))
	if len(l) != 0 || c.Board != "b.yaml" || c.File != in("case.yaml") {
		t.Errorf("%v %+v", l, c)
	}

	big, err := os.Create(in("huge.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	if err := big.Truncate(100 << 20); err != nil {
		t.Fatal(err)
	}
	big.Close()
	start := time.Now()
	for name, words := range map[string][]string{
		"huge.yaml":          {"huge.yaml: error: the file has 100.0 MiB; at most 16 MiB are read"},
		"hall-lamp.yaml":     {"hall-lamp.yaml: error: there is no such file (did you mean hall-lamps.yaml?)"},
		"nowhere/b.yaml":     {"there is no such file"},
		"folder.yaml":        {"this is a folder, not a file"},
		"folder.yaml/b.yaml": {"does not lie in the board's folder", "link.bin", "this is a folder"},
		"roms.yaml":          {"larger than 1 MiB", "this is a folder"},
	} {
		_, l := ReadBoard(in(name))
		if len(l) != len(words) {
			t.Errorf("%s: %v", name, l)
			continue
		}
		for i, w := range words {
			if !strings.Contains(l[i].String(), w) {
				t.Errorf("%s: %v, want %q", name, l[i], w)
			}
		}
	}
	if took := time.Since(start); took > time.Second {
		t.Errorf("refusing took %v", took)
	}
	if c, l := ReadCase(in("huge.yaml")); c != nil || len(l) != 1 {
		t.Errorf("%v", l)
	}
}
