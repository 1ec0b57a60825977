package cli

import (
	"bytes"
	"context"
	"testing"
)

// An interrupt ends the work and says so.
func TestInterrupted(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	stop()
	ran := 0
	for _, args := range [][]string{
		{"demo"},
		{"diagnose", "../../../examples/lift-panel/never-goes-up.case.yaml"},
		{"expect", "../../../examples/lift-panel/board.yaml", "--do", "call-2"},
	} {
		var out, errs bytes.Buffer
		if s := Run(ctx, args, Streams{Out: &out, Err: &errs}, "(test)"); s == Done || errs.String() != "halfsplit: stopped\n" || out.Len() > 0 {
			t.Errorf("%v: exit status %d, %q, %d bytes of answer", args, s, errs.String(), out.Len())
		}
		ran++
	}
	if ran != 3 {
		t.Errorf("ran %d", ran)
	}
}
