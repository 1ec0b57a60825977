package cli

import (
	"context"
	"testing"
)

type broken struct{}

func (broken) Write([]byte) (int, error) { panic("broken") }

// What goes wrong inside the program comes out: it does not end as if all were well.
func TestAMistakeInsideIsNotSwallowed(t *testing.T) {
	defer func() {
		if r := recover(); r != "broken" {
			t.Errorf("got %v, want the panic of the writer", r)
		}
	}()
	status := Run(context.Background(), []string{"parts"}, Streams{Out: broken{}, Err: broken{}}, "test")
	t.Errorf("ended with status %d", status)
}
