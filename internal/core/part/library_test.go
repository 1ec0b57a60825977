package part

import (
	"strings"
	"sync"
	"testing"
)

// The nearest name of a type that the library does not have, before and after parts are added, asked from several goroutines.
func TestNearestTypeKnowsWhatWasAdded(t *testing.T) {
	lib, _ := Embedded()
	hint := func(l *Library) string {
		_, err := l.Find("frobnicatr")
		if err == nil {
			t.Fatal("there is a frobnicatr")
		}
		return err.Error()
	}
	if h := hint(lib); strings.Contains(h, "did you mean frob") {
		t.Errorf("before it was added: %s", h)
	}
	types, fl := Parse("own.yaml", []byte("- part: frobnicator\n  title: it\n  package: two terminals\n  pins: A B\n  logic: |\n    contact A B\n  source: made for the test\n"))
	if len(fl) > 0 {
		t.Fatal(fl)
	}
	own := lib.Clone()
	own.Add(types, false)
	var wg sync.WaitGroup
	said := make([]string, 8)
	for i := range said {
		wg.Go(func() { said[i] = hint(own) })
	}
	wg.Wait()
	for _, h := range said {
		if !strings.Contains(h, "did you mean frobnicator?") {
			t.Errorf("after it was added: %s", h)
		}
	}
	if h := hint(lib); strings.Contains(h, "did you mean frob") {
		t.Errorf("the library that was copied knows it too: %s", h)
	}
	names := own.Names()
	names[0] = "changed"
	if own.Names()[0] == "changed" {
		t.Error("what Names gives is the library's own list")
	}
}

func BenchmarkFindMiss(b *testing.B) {
	lib, _ := Embedded()
	for b.Loop() {
		_, _ = lib.Find("frobnicatr")
	}
}
