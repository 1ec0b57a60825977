package cli

import (
	"bytes"
	"context"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"
)

var elapsed = regexp.MustCompile(`"elapsed_ms": [0-9.]+`)

// The same case gives the same bytes on any number of processors, the time it took aside.
func TestSameAnswerOnAnyNumberOfProcessors(t *testing.T) {
	cases, err := filepath.Glob("../../../examples/*/*.case.yaml")
	if err != nil || len(cases) < 12 {
		t.Fatalf("%d example cases (%v)", len(cases), err)
	}
	compared := 0
	for i := 0; i < len(cases); i += 4 {
		var first []byte
		for _, workers := range []int{1, 2, 5} {
			var out, errs bytes.Buffer
			args := []string{"diagnose", cases[i], "--json", "--workers", strconv.Itoa(workers)}
			if s := Run(context.Background(), args, Streams{Out: &out, Err: &errs}, "(test)"); s != Done {
				t.Fatalf("%v: exit status %d: %s", args, s, errs.String())
			}
			answer := elapsed.ReplaceAll(out.Bytes(), nil)
			if len(answer) == out.Len() {
				t.Fatalf("%v: no elapsed time in the answer", args)
			}
			if first == nil {
				first = answer
				continue
			}
			compared++
			if !bytes.Equal(first, answer) {
				t.Errorf("%s: the answer depends on the number of processors", cases[i])
			}
		}
	}
	if compared < 6 {
		t.Errorf("only %d answers compared", compared)
	}
}
