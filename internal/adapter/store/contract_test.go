package store

// What app.Store asks of any store, method by method.

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

var (
	bg   = context.Background()
	noon = time.Date(2026, 11, 25, 12, 0, 0, 123e6, time.UTC)
	jpeg = []byte("\xff\xd8\xff a picture")
)

func fresh(t testing.TB) *Store {
	t.Helper()
	return reopen(t, filepath.Join(t.TempDir(), "workshop.db"))
}

func reopen(t testing.TB, path string) *Store {
	t.Helper()
	s, err := Open(bg, path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	return s
}

func event(key string) job.Event {
	return job.Event{At: noon, Key: key, Kind: "note", Data: json.RawMessage(fmt.Sprintf(`{"text": %q}`, key))}
}

func opened(t testing.TB, s *Store, key string) int64 {
	t.Helper()
	id, err := s.CreateJob(bg, event(key), app.JobSummary{Title: key, State: "bench"})
	if err != nil {
		t.Fatal(err)
	}
	return id
}

func added(t testing.TB, s *Store, id, seq int64, key string) {
	t.Helper()
	e, old, err := s.Append(bg, id, seq, event(key), app.JobSummary{Title: key, State: "bench"})
	if err != nil || old || e.Seq != seq {
		t.Fatalf("job %d entry %d: %+v, old %v, %v", id, seq, e, old, err)
	}
}

func same(t testing.TB, what string, got, want any) {
	t.Helper()
	if g, w := fmt.Sprintf("%+v", got), fmt.Sprintf("%+v", want); g != w {
		t.Errorf("%s: got %s, want %s", what, g, w)
	}
}

func TestEventsComeBackAsWritten(t *testing.T) {
	s := fresh(t)
	first := job.Event{At: noon.In(time.FixedZone("", 7200)), Key: "k1", Kind: "intake", Data: json.RawMessage(`{"a" :  1.50, "ü":"\u0000 ☃"}`)}
	id, err := s.CreateJob(bg, first, app.JobSummary{Title: "Ledger 8"})
	if err != nil {
		t.Fatal(err)
	}
	second := job.Event{At: noon.Add(789 * time.Microsecond), Key: "k2", Kind: "note", Data: json.RawMessage(`[]`)}
	stored, old, err := s.Append(bg, id, 2, second, app.JobSummary{})
	if err != nil || old {
		t.Fatal(old, err)
	}
	first.Seq, first.At, second.Seq, second.At = 1, noon, 2, noon
	same(t, "stored", stored, second)
	for range 2 { // also from a file opened again
		got, err := s.Events(bg, id, 0)
		if err != nil {
			t.Fatal(err)
		}
		same(t, "events", got, []job.Event{first, second})
		got, err = s.Events(bg, id, 1)
		if err != nil {
			t.Fatal(err)
		}
		same(t, "events after 1", got, []job.Event{second})
		if got, err := s.Events(bg, id, 2); err != nil || len(got) != 0 {
			t.Errorf("events after the last: %v, %v", got, err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		s = reopen(t, s.Path())
	}
}

func TestTheSameKeyIsTheSameEvent(t *testing.T) {
	s := fresh(t)
	id := opened(t, s, "open")
	other := opened(t, s, "open another")
	if again := opened(t, s, "open"); again != id || other == id {
		t.Errorf("jobs %d and %d, the first key again gives %d", id, other, again)
	}
	added(t, s, id, 2, "a")
	added(t, s, other, 2, "a") // keys are per job
	for _, seq := range []int64{2, 3, 99} {
		changed := event("a")
		changed.Data = json.RawMessage(`"typed again"`)
		e, old, err := s.Append(bg, id, seq, changed, app.JobSummary{Title: "changed"})
		if err != nil || !old || e.Seq != 2 || string(e.Data) != `{"text": "a"}` {
			t.Errorf("key a again as %d: %+v, old %v, %v", seq, e, old, err)
		}
	}
	rows, err := s.Jobs(bg, "changed", "")
	if err != nil || len(rows) != 0 {
		t.Errorf("an event that was there has changed the summary: %v, %v", rows, err)
	}
}

func TestNumbersHaveNoGaps(t *testing.T) {
	s := fresh(t)
	id := opened(t, s, "open")
	for _, seq := range []int64{-1, 0, 1, 3, 1 << 62} {
		if _, _, err := s.Append(bg, id, seq, event("x"), app.JobSummary{}); !errors.Is(err, app.ErrStale) {
			t.Errorf("entry %d after 1: %v", seq, err)
		}
	}
	if _, _, err := s.Append(bg, id+1, 1, event("x"), app.JobSummary{}); !errors.Is(err, app.ErrNone) {
		t.Errorf("a job that does not exist: %v", err)
	}
	if _, err := s.Events(bg, id+1, 0); !errors.Is(err, app.ErrNone) {
		t.Errorf("events of a job that does not exist: %v", err)
	}
	added(t, s, id, 2, "x")
}

// Many windows write into the same job, each trying again when another was faster.
func TestWindowsTakeTurns(t *testing.T) {
	const windows, each = 8, 25
	s := fresh(t)
	id := opened(t, s, "open")
	var all sync.WaitGroup
	for w := range windows {
		all.Go(func() {
			seq := int64(2)
			for n := range each {
				for {
					_, old, err := s.Append(bg, id, seq, event(fmt.Sprintf("%d-%d", w, n)), app.JobSummary{})
					if errors.Is(err, app.ErrStale) {
						behind, err := s.Events(bg, id, seq-1)
						if err != nil {
							t.Error(err)
							return
						}
						seq += int64(len(behind))
						continue
					}
					if err != nil || old {
						t.Error(old, err)
						return
					}
					seq++
					break
				}
			}
		})
	}
	all.Wait()
	got, err := s.Events(bg, id, 0)
	if err != nil || len(got) != 1+windows*each {
		t.Fatalf("%d events, %v", len(got), err)
	}
	keys := map[string]bool{}
	for k, e := range got {
		keys[e.Key] = true
		if e.Seq != int64(k)+1 {
			t.Fatalf("entry %d has number %d", k+1, e.Seq)
		}
	}
	same(t, "different keys", len(keys), len(got))
}

// A clock that jumps changes neither the order of entries nor that of the list.
func TestClockJumps(t *testing.T) {
	s := fresh(t)
	a, b := opened(t, s, "a"), opened(t, s, "b")
	for k, at := range []time.Time{noon.AddDate(30, 0, 0), noon.AddDate(-60, 0, 0), {}, noon} {
		e := event(fmt.Sprint(k))
		e.At = at
		if _, _, err := s.Append(bg, a, int64(k)+2, e, app.JobSummary{}); err != nil {
			t.Fatal(err)
		}
	}
	added(t, s, b, 2, "later, though the clock says earlier")
	events, err := s.Events(bg, a, 0)
	if err != nil {
		t.Fatal(err)
	}
	var keys []string
	for _, e := range events {
		keys = append(keys, e.Key)
	}
	same(t, "order of entries", keys, []string{"a", "0", "1", "2", "3"})
	if !events[3].At.IsZero() {
		t.Errorf("time zero came back as %v", events[3].At)
	}
	rows, err := s.Jobs(bg, "", "")
	if err != nil || len(rows) != 2 {
		t.Fatal(rows, err)
	}
	same(t, "last changed", rows[0].ID, b)
	same(t, "changed never goes back", rows[1].Changed, noon.AddDate(30, 0, 0))
	same(t, "opened", rows[1].Opened, noon)
}

func TestSearch(t *testing.T) {
	s := fresh(t)
	for k, r := range []app.JobSummary{
		{Title: "Ledger 8", Owner: "K-0017", State: "bench", Stage: "power", Text: "Bildschirm bleibt DUNKEL, Öl im Gehäuse"},
		{Title: "ΣΊΣΥΦΟΣ", Owner: "K-0018", State: "waiting", Waiting: "parts", Text: "100% sure, _under_ 5\\V \x00 behind"},
		{Title: "Привет", Owner: "K-0019", State: "bench", Text: "ledger of the \u212Aelvin kind"},
	} {
		if _, err := s.CreateJob(bg, event(fmt.Sprint(k)), r); err != nil {
			t.Fatal(err)
		}
	}
	cases := []struct {
		search, state string
		want          []int64
	}{
		{"", "", []int64{3, 2, 1}},
		{" \t\n", "", []int64{3, 2, 1}},
		{"", "bench", []int64{3, 1}},
		{"ledger", "", []int64{3, 1}},
		{"LEDGER öl", "", []int64{1}},
		{"GEHÄUSE dunkel bildSCHIRM", "", []int64{1}},
		{"ledger", "waiting", nil},
		{"σίσυφος", "", []int64{2}},
		{"ΠΡИВЕТ", "", nil}, // Greek Π and Ρ are other letters
		{"ПРИВЕТ", "", []int64{3}},
		{"kelvin", "", []int64{3}},
		{"100%", "", []int64{2}},
		{"%", "", []int64{2}},
		{"_under_", "", []int64{2}},
		{"5\\v", "", []int64{2}},
		{"behind", "", []int64{2}},
		{"k-001", "", []int64{3, 2, 1}},
		{"ledger8", "", nil},
		{"8k-0017", "", nil}, // no word over two fields
		{`"' OR 1=1 --`, "", nil},
		{strings.Repeat("ledger ", 5000), "", []int64{3, 1}},
		{"", "%", nil},
	}
	for _, c := range cases {
		rows, err := s.Jobs(bg, c.search, c.state)
		if err != nil {
			t.Fatal(err)
		}
		var got []int64
		for _, r := range rows {
			got = append(got, r.ID)
		}
		same(t, fmt.Sprintf("%.40q in state %q", c.search, c.state), got, c.want)
	}
	rows, err := s.Jobs(bg, "σίσυφος", "")
	if err != nil {
		t.Fatal(err)
	}
	same(t, "row", rows[0].JobSummary, app.JobSummary{Title: "ΣΊΣΥΦΟΣ", Owner: "K-0018", State: "waiting", Waiting: "parts", Text: "100% sure, _under_ 5\\V \x00 behind"})
}

func TestBoardVersions(t *testing.T) {
	s := fresh(t)
	save := func(id int64, b app.BoardFiles) app.BoardVersion {
		t.Helper()
		v, err := s.SaveBoard(bg, id, b, noon)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	one := app.BoardFiles{Title: "video", Parts: 3, Text: "name: video\n", Files: map[string][]byte{"rom.hex": {0, 1, 255}, "parts.yaml": nil}}
	two := app.BoardFiles{Title: "Video 2", Parts: 4, Text: "name: Video 2\n"}
	a := save(0, one)
	same(t, "first", []int64{a.BoardID, int64(a.Number), int64(a.Parts)}, []int64{1, 1, 3})
	same(t, "saved again", save(a.BoardID, one), a)
	b := save(a.BoardID, two)
	same(t, "second", []int64{b.BoardID, int64(b.Number)}, []int64{1, 2})
	back := save(a.BoardID, one)
	same(t, "back to the first text", []int64{back.BoardID, int64(back.Number)}, []int64{1, 3})
	other := one
	other.Files = map[string][]byte{"rom.hex": {0, 1, 254}, "parts.yaml": nil}
	same(t, "another memory", save(a.BoardID, other).Number, 4)
	cpu := save(0, app.BoardFiles{Title: "CPU", Text: "name: video\n"})

	v, files, err := s.BoardVersion(bg, a.ID)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "version", v, a)
	same(t, "files", files, app.BoardFiles{Title: "video", Parts: 3, Text: one.Text, Files: map[string][]byte{"rom.hex": {0, 1, 255}, "parts.yaml": {}}})

	boards, err := s.Boards(bg)
	if err != nil || len(boards) != 2 {
		t.Fatal(boards, err)
	}
	same(t, "boards by title", []int64{boards[0].ID, int64(boards[1].Number)}, []int64{cpu.ID, 4})
	versions, err := s.BoardVersions(bg, a.BoardID)
	if err != nil {
		t.Fatal(err)
	}
	var numbers []int
	for _, v := range versions {
		numbers = append(numbers, v.Number)
	}
	same(t, "newest first", numbers, []int{4, 3, 2, 1})

	missing := 0
	for _, err := range []error{
		func() error { _, err := s.SaveBoard(bg, 99, one, noon); return err }(),
		func() error { _, _, err := s.BoardVersion(bg, 99); return err }(),
		func() error { _, err := s.BoardVersions(bg, 99); return err }(),
	} {
		if errors.Is(err, app.ErrNone) {
			missing++
		}
	}
	same(t, "missing boards told", missing, 3)
	refused := 0
	for _, name := range []string{"", ".", "..", "a/b", `a\b`, "../../etc/passwd", "C:x", "a\x00b", "a\nb", strings.Repeat("x", 101)} {
		if _, err := s.SaveBoard(bg, 0, app.BoardFiles{Files: map[string][]byte{name: nil}}, noon); errors.Is(err, errPlainName) {
			refused++
		}
	}
	same(t, "file names refused", refused, 10)
}

func TestPhotosDraftsSettings(t *testing.T) {
	s := fresh(t)
	id := opened(t, s, "open")
	small := append(slices.Clone(jpeg), "small"...)
	photo, err := s.SavePhoto(bg, id, jpeg, small, 4000, 3000, noon)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []struct {
		small bool
		data  []byte
	}{{false, jpeg}, {true, small}} {
		got, err := s.Photo(bg, photo, want.small)
		if err != nil || string(got) != string(want.data) {
			t.Errorf("photo: %q, %v", got, err)
		}
	}
	if _, err := s.SavePhoto(bg, id+1, jpeg, small, 1, 1, noon); !errors.Is(err, app.ErrNone) {
		t.Errorf("a photo of no job: %v", err)
	}
	if _, err := s.Photo(bg, photo+1, false); !errors.Is(err, app.ErrNone) {
		t.Errorf("no photo: %v", err)
	}
	if _, err := s.SavePhoto(bg, id, []byte("<html>"), small, 1, 1, noon); err == nil {
		t.Error("HTML was taken for a picture")
	}
	for _, text := range []string{"half ty", "half typed\x00 and more", ""} {
		if err := s.SaveDraft(bg, "board 1", text, noon); err != nil {
			t.Fatal(err)
		}
		got, at, err := s.Draft(bg, "board 1")
		if err != nil || got != text || at.Equal(noon) != (text != "") {
			t.Errorf("draft %q: %q %v %v", text, got, at, err)
		}
	}
	for _, value := range []string{"", "42.50", "", "EUR"} {
		if got, err := s.Setting(bg, "never set"); err != nil || got != "" {
			t.Error(got, err)
		}
		if err := s.SetSetting(bg, "rate", value); err != nil {
			t.Fatal(err)
		}
		if got, err := s.Setting(bg, "rate"); err != nil || got != value {
			t.Error(got, err)
		}
	}
}

// An asker who goes away before its turn leaves nothing behind; what has begun is carried through or not there at all.
func TestAskerGone(t *testing.T) {
	s := fresh(t)
	id := opened(t, s, "open")
	gone, cancel := context.WithCancel(bg)
	cancel()
	if _, _, err := s.Append(gone, id, 2, event("x"), app.JobSummary{}); !errors.Is(err, context.Canceled) {
		t.Errorf("asker gone: %v", err)
	}
	for k := range 50 { // in the middle, at some moment
		ctx, cancel := context.WithTimeout(bg, time.Duration(k)*20*time.Microsecond)
		seq := int64(1)
		if events, err := s.Events(bg, id, 0); err != nil {
			t.Fatal(err)
		} else {
			seq += int64(len(events))
		}
		_, _, err := s.Append(ctx, id, seq, event(fmt.Sprint(k)), app.JobSummary{})
		cancel()
		events, err2 := s.Events(bg, id, 0)
		if err2 != nil {
			t.Fatal(err2)
		}
		if (err == nil) != (int64(len(events)) == seq) {
			t.Fatalf("confirmed %v, but %d entries where %d were tried", err, len(events), seq)
		}
	}
}

func TestRefusedEvents(t *testing.T) {
	s := fresh(t)
	id := opened(t, s, "open")
	refused := 0
	for _, e := range []job.Event{
		{Kind: "note", Data: json.RawMessage("{}")},
		{Key: strings.Repeat("k", 201), Kind: "note", Data: json.RawMessage("{}")},
		{Key: "k", Data: json.RawMessage("{}")},
		{Key: "k", Kind: "note"},
		{Key: "k", Kind: "note", Data: json.RawMessage("{")},
		{Key: "k", Kind: "note", Data: json.RawMessage(strings.Repeat("[", 5000) + strings.Repeat("]", 5000))},
	} {
		_, err1 := s.CreateJob(bg, e, app.JobSummary{})
		_, _, err2 := s.Append(bg, id, 2, e, app.JobSummary{})
		if err1 != nil && err2 != nil {
			refused++
		}
	}
	same(t, "refused", refused, 6)
	rows, err := s.Jobs(bg, "", "")
	if err != nil || len(rows) != 1 {
		t.Error(rows, err)
	}
	added(t, s, id, 2, "still works")
}
