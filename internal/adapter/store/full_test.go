package store

// A disk without space. SQLite gives the same error for it as for a file that has reached a limit set by itself, so the tests set the limit.

import (
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"syscall"
	"testing"

	"halfsplit/internal/app"
)

// limit lets the file grow by so many more pages; below 0, without end.
func limit(t *testing.T, s *Store, pages int) {
	t.Helper()
	var now int
	if err := s.write.QueryRow("PRAGMA page_count").Scan(&now); err != nil {
		t.Fatal(err)
	}
	most := now + pages
	if pages < 0 {
		most = 1 << 30
	}
	if _, err := s.write.Exec(fmt.Sprintf("PRAGMA max_page_count = %d", most)); err != nil {
		t.Fatal(err)
	}
}

func TestFullDisk(t *testing.T) {
	s := fresh(t)
	id := opened(t, s, "open")
	seq := int64(2)
	text := strings.Repeat("x", 500)
	refused := 0
	for round := range 5 {
		limit(t, s, round)
		var err error
		for try := 0; err == nil && try < 500; try++ {
			e := event(fmt.Sprint(seq, text)[:150])
			if _, _, err = s.Append(bg, id, seq, e, app.JobSummary{Text: text}); err == nil {
				seq++
			}
		}
		if !errors.Is(err, ErrFull) || !strings.Contains(err.Error(), "MB free") || !strings.Contains(err.Error(), "could not write an entry") {
			t.Fatalf("round %d: %v", round, err)
		}
		refused++
		big := slices.Concat(jpeg, make([]byte, 1<<20))
		others := []error{
			func() error { _, err := s.SavePhoto(bg, id, big, big, 1, 1, noon); return err }(),
			func() error {
				_, err := s.SaveBoard(bg, 0, app.BoardFiles{Text: "t", Files: map[string][]byte{"a": big}}, noon)
				return err
			}(),
			s.SaveDraft(bg, "d", string(big), noon),
			s.SetSetting(bg, "s", string(big)),
		}
		for k, err := range others {
			if !errors.Is(err, ErrFull) {
				t.Fatalf("round %d, %d: %v", round, k, err)
			}
			refused++
		}
		// What was confirmed is there, what was not is not, and reading goes on.
		events, err := s.Events(bg, id, 0)
		if err != nil || int64(len(events)) != seq-1 {
			t.Fatalf("%d events, %d confirmed: %v", len(events), seq-1, err)
		}
		boards, err := s.Boards(bg)
		if err != nil || len(boards) != round {
			t.Fatal(boards, err)
		}
		// Space has returned: the same entries are taken.
		limit(t, s, -1)
		added(t, s, id, seq, fmt.Sprint("after ", round))
		seq++
		if _, err := s.SaveBoard(bg, 0, app.BoardFiles{Text: "t"}, noon); err != nil {
			t.Fatal(err)
		}
	}
	same(t, "refused", refused, 25)
	if seq < 20 {
		t.Errorf("only %d entries before the disk was full", seq)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	reopen(t, s.Path()) // which checks the file
}

// A restore that does not fit leaves everything as it was.
func TestRestoreOnFullDisk(t *testing.T) {
	s := fresh(t)
	fill(t, s, 4)
	backup := backedUp(t, s)
	small := fresh(t)
	opened(t, small, "what was there")
	before := content(t, small)
	limit(t, small, 3)
	if err := small.Restore(bg, strings.NewReader(backup)); !errors.Is(err, ErrFull) {
		t.Fatalf("%v", err)
	}
	same(t, "content", content(t, small), before)
	limit(t, small, -1)
	opened(t, small, "goes on")
	if err := small.Restore(bg, strings.NewReader(backup)); err != nil {
		t.Fatal(err)
	}
	same(t, "restored", content(t, small), content(t, s))
	same(t, "backup to a pipe nobody reads", s.Backup(bg, closed{}), fmt.Sprintf("%s: could not write a backup: %v", s.Path(), io.ErrClosedPipe))
}

// A backup onto a full stick says that it is the stick.
func TestBackupOntoFullDisk(t *testing.T) {
	s := fresh(t)
	err := s.Backup(bg, full{})
	if !errors.Is(err, ErrFull) || !strings.Contains(err.Error(), "where the backup is written") || strings.Contains(err.Error(), s.Path()) {
		t.Error(err)
	}
}

type full struct{}

func (full) Write([]byte) (int, error) {
	return 0, &os.PathError{Op: "write", Path: "stick", Err: syscall.ENOSPC}
}

// closed is a connection whose other end has gone.
type closed struct{}

func (closed) Write([]byte) (int, error) { return 0, io.ErrClosedPipe }
