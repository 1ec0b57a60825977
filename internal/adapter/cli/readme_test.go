package cli

import (
	"bytes"
	"context"
	"flag"
	"os"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the generated part of README.md anew")

// What README.md shows is what the program prints: go test ./internal/adapter/cli -run TestReadme -update writes it anew.
func TestReadme(t *testing.T) {
	const file = "../../../README.md"
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	head, rest, ok := strings.Cut(string(text), "-update -->\n")
	_, tail, ok2 := strings.Cut(rest, "<!-- end of demo -->")
	if !ok || !ok2 {
		t.Fatal("README.md has lost the marks around the demo")
	}
	var out, errs bytes.Buffer
	if s := Run(context.Background(), []string{"demo"}, Streams{Out: &out, Err: &errs}, "(test)"); s != Done || out.Len() < 1000 {
		t.Fatalf("exit status %d, %d bytes: %s", s, out.Len(), errs.String())
	}
	fresh := head + "-update -->\n\n```\n" + out.String() + "```\n\n<!-- end of demo -->" + tail
	if fresh == string(text) {
		return
	}
	if !*update {
		t.Fatal("README.md is out of date: run go test ./internal/adapter/cli -run TestReadme -update")
	}
	if err := os.WriteFile(file, []byte(fresh), 0o666); err != nil {
		t.Fatal(err)
	}
}
