package cli

import (
	"fmt"
	"io"
	"os"
)

// progress gives a function that shows how far long work is, or nil when nobody is watching: w is not a terminal.
func progress(w io.Writer, what string, total int) func(done int) {
	f, ok := w.(*os.File)
	if !ok {
		return nil
	}
	if info, err := f.Stat(); err != nil || info.Mode()&os.ModeCharDevice == 0 {
		return nil
	}
	return func(done int) {
		fmt.Fprintf(f, "\r%s %d of %d", what, done, total)
		if done == total {
			fmt.Fprint(f, "\r\x1b[K")
		}
	}
}
