package store

// Backups: what goes in comes out, and nothing that is not sound is taken.

import (
	"archive/tar"
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/fstest"

	"halfsplit/internal/app"
)

func backedUp(t testing.TB, s *Store) string {
	t.Helper()
	var b bytes.Buffer
	if err := s.Backup(bg, &b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// content is everything that the file holds, as text, table by table.
func content(t testing.TB, s *Store) string {
	t.Helper()
	db, err := connect(s.Path(), reading)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	tables, err := column(bg, db, "SELECT name FROM sqlite_schema WHERE type = 'table' AND name <> 'migration' AND name NOT LIKE 'sqlite%' ORDER BY name")
	if err != nil || len(tables) < 9 {
		t.Fatal(tables, err)
	}
	var b strings.Builder
	for _, table := range tables {
		names, err := column(bg, db, "SELECT group_concat('quote(' || name || ')', ' || '','' || ') FROM pragma_table_info('"+table+"')")
		if err != nil {
			t.Fatal(err)
		}
		rows, err := column(bg, db, "SELECT "+names[0]+" AS r FROM "+table+" ORDER BY r")
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&b, "%s %d\n%s\n", table, len(rows), strings.Join(rows, "\n"))
	}
	return b.String()
}

func TestBackupAndRestore(t *testing.T) {
	s := fresh(t)
	fill(t, s, 3)
	backup, was := backedUp(t, s), content(t, s)
	same(t, "empty tables", strings.Contains(was, " 0\n\n"), false) // all of them have something to lose

	// The same file, changed since.
	added(t, s, 1, 40, "since")
	opened(t, s, "since")
	if err := s.SetSetting(bg, "rate", "43"); err != nil {
		t.Fatal(err)
	}
	since := content(t, s)
	if err := s.Restore(bg, strings.NewReader(backup)); err != nil {
		t.Fatal(err)
	}
	same(t, "restored", content(t, s), was)
	kept := reopen(t, s.Path()+".before-restore")
	same(t, "kept", content(t, kept), since)
	added(t, s, 1, 40, "goes on")
	if err := s.Restore(bg, strings.NewReader(backup)); err != nil { // again, and the first copy stays
		t.Fatal(err)
	}
	same(t, "kept", content(t, kept), since)
	reopen(t, s.Path()+".before-restore-2")

	// A new file, and that one opened again; only what belongs there is left beside it.
	other := fresh(t)
	if err := other.Restore(bg, strings.NewReader(backup)); err != nil {
		t.Fatal(err)
	}
	if err := other.Close(); err != nil {
		t.Fatal(err)
	}
	same(t, "restored elsewhere", content(t, reopen(t, other.Path())), was)
	var names []string
	entries, err := os.ReadDir(filepath.Dir(s.Path()))
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if !strings.HasSuffix(e.Name(), "-wal") && !strings.HasSuffix(e.Name(), "-shm") {
			names = append(names, strings.TrimPrefix(e.Name(), "workshop.db"))
		}
	}
	same(t, "beside the file", names, []string{"", ".before-restore", ".before-restore-2", ".before-restore-2.lock", ".before-restore.lock", ".lock"})
}

// While others write, a backup holds a state that was there at one moment: of two jobs written in turn, neither is ahead by more than one.
func TestBackupUnderWriters(t *testing.T) {
	s := fresh(t)
	a, b := opened(t, s, "a"), opened(t, s, "b")
	ctx, stop := context.WithCancel(bg)
	var writer sync.WaitGroup
	writer.Go(func() {
		for seq := int64(2); ctx.Err() == nil; seq++ {
			for _, id := range []int64{a, b} {
				if _, _, err := s.Append(bg, id, seq, event(fmt.Sprint(seq)), app.JobSummary{}); err != nil {
					t.Error(err)
					return
				}
			}
		}
	})
	last, grew := 0, 0
	for range 12 {
		backup := backedUp(t, s)
		other := fresh(t)
		if err := other.Restore(bg, strings.NewReader(backup)); err != nil {
			t.Fatal(err)
		}
		ea, err := other.Events(bg, a, 0)
		if err != nil {
			t.Fatal(err)
		}
		eb, err := other.Events(bg, b, 0)
		if err != nil {
			t.Fatal(err)
		}
		if d := len(ea) - len(eb); d != 0 && d != 1 {
			t.Errorf("%d and %d entries", len(ea), len(eb))
		}
		if len(ea) > last {
			grew++
		}
		last = len(ea)
	}
	stop()
	writer.Wait()
	if grew < 6 {
		t.Errorf("only %d of 12 backups had more than the one before: was anything written meanwhile?", grew)
	}
}

// packed makes a backup file of members as given.
func packed(t testing.TB, members ...tar.Header) string {
	t.Helper()
	var b bytes.Buffer
	w := tar.NewWriter(&b)
	for _, m := range members {
		data := m.Linkname // carries the content, where it is no link
		if m.Typeflag == tar.TypeReg || m.Typeflag == 0 {
			m.Linkname, m.Size = "", int64(len(data))
		}
		if err := w.WriteHeader(&m); err != nil {
			t.Fatal(err)
		}
		if m.Linkname == "" {
			if _, err := io.WriteString(w, data); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func plain(name, data string) tar.Header {
	return tar.Header{Name: name, Linkname: data, Format: tar.FormatUSTAR, Typeflag: tar.TypeReg}
}

// described is the manifest that fits a database.
func described(t testing.TB, database string, change ...func(*manifest)) string {
	t.Helper()
	m := manifest{Format: backupFormat, Version: 1, Size: int64(len(database)), SHA256: fmt.Sprintf("%x", sha256.Sum256([]byte(database))), Made: noon}
	for _, c := range change {
		c(&m)
	}
	said, err := json.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	return string(said)
}

// database is a workshop file changed by some SQL, as bytes.
func database(t testing.TB, sqls ...string) string {
	t.Helper()
	s := fresh(t)
	fill(t, s, 2)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	db, err := sql.Open("sqlite", fileURI(s.Path())+"?_pragma=writable_schema(ON)")
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range append(sqls, "PRAGMA wal_checkpoint(TRUNCATE)") {
		if _, err := db.Exec(q); err != nil {
			t.Fatalf("%s: %v", q, err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(s.Path())
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

func wrap(t testing.TB, database string) string {
	return packed(t, plain(manifestName, described(t, database)), plain(databaseName, database))
}

func TestUnsoundBackups(t *testing.T) {
	good := database(t)
	cut := func(s string, at int) string { return s[:at] + "\xff\xfe\xfd" + s[at+3:] }
	odd := func(h tar.Header, change func(*tar.Header)) tar.Header { change(&h); return h }
	m, d := plain(manifestName, described(t, good)), plain(databaseName, good)
	cases := []struct {
		name, file string
		kind       error
	}{
		{"nothing", "", ErrBackup},
		{"text", strings.Repeat("no backup ", 500), ErrBackup},
		{"a bare database", good, ErrBackup},
		{"empty archive", packed(t), ErrBackup},
		{"only a manifest", packed(t, m), ErrBackup},
		{"wrong order", packed(t, d, m), ErrBackup},
		{"a third file", packed(t, m, d, plain("x", "x")), ErrBackup},
		{"a second database", packed(t, m, d, d), ErrBackup},
		{"something behind", wrap(t, good) + "x", ErrBackup},
		{"zeros without end behind", wrap(t, good) + strings.Repeat("\x00", 200<<10), ErrBackup},
		{"a way out of the folder", packed(t, m, odd(d, func(h *tar.Header) { h.Name = "../../" + databaseName })), ErrBackup},
		{"a full path", packed(t, m, odd(d, func(h *tar.Header) { h.Name = "/tmp/" + databaseName })), ErrBackup},
		{"a link", packed(t, m, tar.Header{Name: databaseName, Typeflag: tar.TypeSymlink, Linkname: "/etc/passwd", Format: tar.FormatUSTAR}), ErrBackup},
		{"a hard link", packed(t, m, tar.Header{Name: databaseName, Typeflag: tar.TypeLink, Linkname: manifestName, Format: tar.FormatUSTAR}), ErrBackup},
		{"a device", packed(t, m, tar.Header{Name: databaseName, Typeflag: tar.TypeChar, Format: tar.FormatUSTAR}), ErrBackup},
		{"a folder", packed(t, m, tar.Header{Name: databaseName, Typeflag: tar.TypeDir, Format: tar.FormatUSTAR}), ErrBackup},
		{"another archive format", packed(t, m, odd(d, func(h *tar.Header) { h.Format = tar.FormatPAX; h.PAXRecords = map[string]string{"HALFSPLIT.x": "1"} })), ErrBackup},
		{"a manifest too long", packed(t, plain(manifestName, described(t, good)+strings.Repeat(" ", 65<<10)), d), ErrBackup},
		{"a manifest that is none", packed(t, plain(manifestName, "[]"), d), ErrBackup},
		{"a manifest twice", packed(t, plain(manifestName, described(t, good)+described(t, good)), d), ErrBackup},
		{"a manifest with more", packed(t, plain(manifestName, strings.Replace(described(t, good), "{", `{"run": "x",`, 1)), d), ErrBackup},
		{"another kind", packed(t, plain(manifestName, described(t, good, func(m *manifest) { m.Format = "halfsplit backup 2" })), d), ErrBackup},
		{"another size", packed(t, plain(manifestName, described(t, good, func(m *manifest) { m.Size-- })), d), ErrBackup},
		{"another sum", packed(t, plain(manifestName, described(t, good, func(m *manifest) { m.SHA256 = strings.Repeat("0", 64) })), d), ErrBackup},
		{"another version", packed(t, plain(manifestName, described(t, good, func(m *manifest) { m.Version = 3 })), d), ErrBackup},
		{"a byte of the database changed", cut(wrap(t, good), 40000), ErrBackup},
		{"no database", wrap(t, strings.Repeat("noise ", 2000)), ErrBackup},
		{"an empty database", wrap(t, ""), ErrBackup},
		{"a database cut off", wrap(t, good[:len(good)/2]), ErrBackup},
		{"a page of noise, sum and all", wrap(t, good[:8192]+strings.Repeat("nois", 1024)+good[12288:]), ErrBackup},
		{"a newer database", wrap(t, database(t, "PRAGMA user_version = 2")), ErrNewer},
		{"another program's", wrap(t, database(t, "PRAGMA application_id = 2")), ErrBackup},
		{"of version 0", wrap(t, database(t, "PRAGMA user_version = 0")), ErrBackup},
		{"a trigger", wrap(t, database(t, "CREATE TRIGGER x AFTER INSERT ON event BEGIN DELETE FROM job; END")), ErrBackup},
		{"a view", wrap(t, database(t, "CREATE VIEW x AS SELECT load_extension('x')")), ErrBackup},
		{"one more table", wrap(t, database(t, "CREATE TABLE x (a)")), ErrBackup},
		{"one table less", wrap(t, database(t, "DROP TABLE draft")), ErrBackup},
		{"a table under another's name", wrap(t, database(t, "DROP TABLE setting", "CREATE VIEW setting AS SELECT 1 AS name, 2 AS value")), ErrBackup},
		{"a table without its checks", wrap(t, database(t, "DROP TABLE draft", "CREATE TABLE draft (name TEXT PRIMARY KEY, text TEXT, at INTEGER)")), ErrBackup},
		{"an entry of no job", wrap(t, database(t, "DELETE FROM job WHERE id = 1")), ErrBackup},
		{"an entry left out", wrap(t, database(t, "DELETE FROM event WHERE job = 2 AND seq = 7")), ErrBackup},
		{"the first entry left out", wrap(t, database(t, "DELETE FROM event WHERE job = 2 AND seq = 1")), ErrBackup},
		{"a job without entries", wrap(t, database(t, "DELETE FROM event WHERE job = 2")), ErrBackup},
		{"a board version left out", wrap(t, database(t, "UPDATE board_version SET number = 2 WHERE id = 1")), ErrBackup},
		{"a web page for a picture", wrap(t, database(t, "PRAGMA ignore_check_constraints = ON", "UPDATE photo_data SET jpeg = CAST('<script>' AS BLOB)")), ErrBackup},
		{"an entry that is no JSON", wrap(t, database(t, "PRAGMA ignore_check_constraints = ON", "UPDATE event SET data = '{' WHERE seq = 3")), ErrBackup},
	}
	for n := 0; n < len(good); n += len(good)/25 + 1 { // cut off anywhere
		cases = append(cases, struct {
			name, file string
			kind       error
		}{fmt.Sprintf("cut off after %d bytes", n), wrap(t, good)[:n], ErrBackup})
	}
	s := fresh(t)
	opened(t, s, "what was there")
	before := content(t, s)
	refused := 0
	for _, c := range cases {
		err := s.Restore(bg, strings.NewReader(c.file))
		var e *Error
		if !errors.Is(err, c.kind) || !errors.As(err, &e) || e.Path != "backup" || strings.Contains(err.Error(), s.Path()) {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		refused++
		if now := content(t, s); now != before {
			t.Fatalf("%s has changed what was there:\n%s", c.name, now)
		}
	}
	same(t, "refused", refused, 46+25)
	entries, err := os.ReadDir(filepath.Dir(s.Path()))
	if err != nil || len(entries) != 4 { // database, log, index, lock
		t.Errorf("left behind: %v, %v", entries, err)
	}
	if err := s.Restore(bg, strings.NewReader(wrap(t, good))); err != nil { // the one that all others were made from
		t.Errorf("a sound one: %v", err)
	}
}

// An archive that promises more than the disk holds is refused before it is read, and so is one beyond the format's limit.
func TestBackupTooLarge(t *testing.T) {
	s := fresh(t)
	var b bytes.Buffer
	w := tar.NewWriter(&b)
	said := described(t, "", func(m *manifest) { m.Size = largestBackup })
	for _, h := range []tar.Header{
		{Name: manifestName, Size: int64(len(said)), Format: tar.FormatUSTAR, Typeflag: tar.TypeReg},
		{Name: databaseName, Size: largestBackup, Format: tar.FormatUSTAR, Typeflag: tar.TypeReg},
	} {
		if err := w.WriteHeader(&h); err != nil {
			t.Fatal(err)
		}
		if h.Name == manifestName {
			if _, err := io.WriteString(w, said); err != nil {
				t.Fatal(err)
			}
		}
	}
	read := int64(0)
	endless := io.TeeReader(io.MultiReader(&b, io.LimitReader(zeros{}, 1<<20)), counter{&read}) // ends early, so nothing can be taken
	err := s.Restore(bg, endless)
	if !errors.Is(err, ErrBackup) && !errors.Is(err, ErrFull) {
		t.Errorf("%v", err)
	}
	if read > 2<<20 {
		t.Errorf("%d bytes were read", read)
	}
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

type counter struct{ n *int64 }

func (c counter) Write(p []byte) (int, error) { *c.n += int64(len(p)); return len(p), nil }

// A backup of an older program is brought up to date on the way in.
func TestOlderBackup(t *testing.T) {
	first, err := fs.ReadFile(migrations(), "00001_jobs_boards_photos.sql")
	if err != nil {
		t.Fatal(err)
	}
	s, err := open(bg, filepath.Join(t.TempDir(), "workshop.db"), fstest.MapFS{"00001_a.sql": {Data: first},
		"00002_b.sql": {Data: []byte("-- +goose Up\nPRAGMA user_version = 2;\nALTER TABLE setting ADD COLUMN note TEXT NOT NULL DEFAULT 'none';")}})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := s.Restore(bg, strings.NewReader(wrap(t, database(t)))); err != nil {
		t.Fatal(err)
	}
	var note string
	if err := s.read.QueryRow("SELECT note FROM setting WHERE name = 'rate' AND value = '42'").Scan(&note); err != nil || note != "none" {
		t.Errorf("%q, %v", note, err)
	}
	newer := backedUp(t, s)
	if err := fresh(t).Restore(bg, strings.NewReader(newer)); !errors.Is(err, ErrNewer) {
		t.Errorf("the older program: %v", err)
	}
}
