package part

import "testing"

func TestEmbeddedLibraryHasNoMistakes(t *testing.T) {
	lib, fl := Embedded()
	for _, f := range fl {
		t.Error(f)
	}
	if n := len(lib.Types()); n < 100 {
		t.Errorf("only %d records", n)
	}
}
