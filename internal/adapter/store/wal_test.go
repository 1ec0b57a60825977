package store

// The overlay against SQLite itself, which folds the same log into the same file.

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// foldedBySQLite is what SQLite makes of a file and its log: one file without a log.
func foldedBySQLite(t *testing.T, path string) []byte {
	t.Helper()
	copied := filepath.Join(t.TempDir(), "x.db")
	for _, end := range []string{"", "-wal"} {
		if err := copyFile(path+end, copied+end); err != nil {
			t.Fatal(err)
		}
	}
	db, err := connect(copied, writing)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("PRAGMA wal_checkpoint(TRUNCATE)"); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(copied)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func TestOverlayIsWhatSQLiteSees(t *testing.T) {
	moments := rand.New(rand.NewPCG(28, 0))
	compared, laidOver := 0, map[int]bool{}
	for round := range 6 {
		// A log of several transactions, over the rests of an earlier one that was longer, with the file at another size in between.
		s := fresh(t)
		fill(t, s, 2)
		if round%2 == 1 {
			if _, err := s.write.Exec("PRAGMA wal_checkpoint(RESTART)"); err != nil {
				t.Fatal(err)
			}
			for k := range 5 + round {
				if err := s.SaveDraft(bg, fmt.Sprint(k), strings.Repeat("draft ", 1+moments.IntN(4000)), noon); err != nil {
					t.Fatal(err)
				}
			}
		}
		if round%3 == 2 {
			if _, err := s.write.Exec("DELETE FROM photo_data; VACUUM"); err != nil { // smaller than before
				t.Fatal(err)
			}
		}
		path := filepath.Join(t.TempDir(), "workshop.db")
		for _, end := range []string{"", "-wal"} {
			if err := copyFile(s.Path()+end, path+end); err != nil {
				t.Fatal(err)
			}
		}
		whole, err := os.ReadFile(path + "-wal")
		if err != nil {
			t.Fatal(err)
		}
		for try := range 25 {
			log := bytes.Clone(whole)
			switch {
			case try == 0:
			case try%2 == 0: // cut off somewhere
				log = log[:1+moments.IntN(len(log))]
			case try < 6: // damage in the header
				log[moments.IntN(walHeader)] ^= 1 << moments.IntN(8)
			default:
				log[moments.IntN(len(log))] ^= 1 << moments.IntN(8)
			}
			if err := os.WriteFile(path+"-wal", log, 0o600); err != nil {
				t.Fatal(err)
			}
			o, err := overlay(path)
			if err != nil {
				t.Fatal(err)
			}
			f, err := o.Open(overlaidName)
			if err != nil {
				t.Fatal(err)
			}
			got, err := io.ReadAll(f)
			if err != nil {
				t.Fatal(err)
			}
			if want := foldedBySQLite(t, path); !bytes.Equal(got, want) {
				t.Fatalf("round %d, try %d: %d bytes, SQLite has %d", round, try, len(got), len(want))
			}
			laidOver[len(o.newest)] = true
			compared++
			if err := o.done(); err != nil {
				t.Fatal(err)
			}
		}
	}
	same(t, "compared", compared, 150)
	if len(laidOver) < 10 || !laidOver[0] {
		t.Errorf("only %d different numbers of pages laid over: %v", len(laidOver), laidOver)
	}
}
