package store

// Files that must not be taken are told from those that may, and left as they are.

import (
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"halfsplit/internal/app"
)

// prints is a fingerprint of each file of a folder, the lock left out.
func prints(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || strings.HasSuffix(name, ".lock") {
			return err
		}
		data, err := os.ReadFile(name)
		out[name] = fmt.Sprintf("%d %x", len(data), sha256.Sum256(data))
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// workshop writes a closed file with some jobs and pictures in it.
func workshop(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "workshop.db")
	s := reopen(t, path)
	fill(t, s, 3)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

func fill(t testing.TB, s *Store, jobs int) {
	t.Helper()
	for k := range jobs {
		id := opened(t, s, fmt.Sprintf("job %d", k))
		for seq := int64(2); seq < 40; seq++ {
			added(t, s, id, seq, fmt.Sprint(seq))
		}
		if _, err := s.SavePhoto(bg, id, slices.Concat(jpeg, make([]byte, 9000)), jpeg, 40, 30, noon); err != nil {
			t.Fatal(err)
		}
		if _, err := s.SaveBoard(bg, 0, app.BoardFiles{Title: "board", Text: fmt.Sprint(k), Files: map[string][]byte{"a.hex": {1}}}, noon); err != nil {
			t.Fatal(err)
		}
	}
	if err := errors.Join(s.SetSetting(bg, "rate", "42"), s.SaveDraft(bg, "d", "half ty", noon)); err != nil {
		t.Fatal(err)
	}
}

// crashed is a file as a killed process leaves it: the database, and beside it a log that holds the last entries.
func crashed(t *testing.T, last ...string) string {
	t.Helper()
	s := fresh(t)
	fill(t, s, 1)
	for _, sql := range last {
		if _, err := s.write.Exec(sql); err != nil {
			t.Fatal(err)
		}
	}
	path := filepath.Join(t.TempDir(), "workshop.db")
	for _, end := range []string{"", "-wal", "-shm"} {
		if err := copyFile(s.Path()+end, path+end); err != nil {
			t.Fatal(err)
		}
	}
	return path
}

// copyFile copies into a file that has yet to be made.
func copyFile(from, to string) error {
	src, err := os.Open(from)
	if err != nil {
		return err
	}
	defer src.Close()
	dst, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(dst, src)
	return errors.Join(err, dst.Close())
}

// bend writes bytes over a place in the file.
func bend(t *testing.T, path string, at int64, with string) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.WriteAt([]byte(with), at); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
}

func TestRefusedFilesAreLeftAlone(t *testing.T) {
	put := func(t *testing.T, text string) string {
		path := filepath.Join(t.TempDir(), "workshop.db")
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	cases := []struct {
		name string
		make func(t *testing.T) string
		kind error
		says string
	}{
		{"text", func(t *testing.T) string { return put(t, "name: video\n") }, ErrForeign, "not a file of halfsplit"},
		{"picture", func(t *testing.T) string { return put(t, string(jpeg)+strings.Repeat("x", 5000)) }, ErrForeign, "not a file of halfsplit"},
		{"empty", func(t *testing.T) string { return put(t, "") }, ErrForeign, "empty"},
		{"only the magic word", func(t *testing.T) string { return put(t, "SQLite format 3\x00") }, ErrDamaged, "damaged"},
		{"magic word and noise", func(t *testing.T) string { return put(t, "SQLite format 3\x00"+strings.Repeat("noise", 3000)) }, ErrDamaged, "damaged"},
		{"folder", func(t *testing.T) string { return t.TempDir() }, ErrFolder, "folder"},
		{"another program's", func(t *testing.T) string {
			path := filepath.Join(t.TempDir(), "workshop.db")
			db, err := sql.Open("sqlite", path)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := db.Exec("CREATE TABLE t (a); PRAGMA user_version = 1"); err != nil {
				t.Fatal(err)
			}
			if err := db.Close(); err != nil {
				t.Fatal(err)
			}
			return path
		}, ErrForeign, "another program"},
		{"newer", func(t *testing.T) string {
			path := workshop(t)
			bend(t, path, 60, "\x00\x00\x00\x09")
			return path
		}, ErrNewer, "its version is 9, this program knows up to 1"},
		{"newer, in the log of a crash", func(t *testing.T) string { return crashed(t, "PRAGMA user_version = 7") }, ErrNewer, "its version is 7"},
		{"another program's, in the log of a crash", func(t *testing.T) string { return crashed(t, "PRAGMA application_id = 7") }, ErrForeign, "another program"},
		{"of no version", func(t *testing.T) string {
			path := workshop(t)
			bend(t, path, 60, "\x00\x00\x00\x00")
			return path
		}, ErrDamaged, "version 0"},
		{"cut off", func(t *testing.T) string {
			path := workshop(t)
			if err := os.Truncate(path, size(path)/2); err != nil {
				t.Fatal(err)
			}
			return path
		}, ErrDamaged, "damaged"},
		{"page of noise", func(t *testing.T) string {
			path := workshop(t)
			bend(t, path, 3*4096, strings.Repeat("noise", 800))
			return path
		}, ErrDamaged, "damaged"},
		{"page of noise under the log of a crash", func(t *testing.T) string {
			path := workshop(t)
			s := reopen(t, path)
			added(t, s, 1, 40, "one more")
			crash := filepath.Join(t.TempDir(), "workshop.db")
			for _, end := range []string{"", "-wal", "-shm"} {
				if err := copyFile(path+end, crash+end); err != nil {
					t.Fatal(err)
				}
			}
			bend(t, crash, size(crash)-3*4096, strings.Repeat("noise", 2400))
			return crash
		}, ErrDamaged, "damaged"},
		{"an entry of no job", func(t *testing.T) string {
			path := workshop(t)
			db, err := sql.Open("sqlite", path)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := db.Exec("PRAGMA foreign_keys = OFF; DELETE FROM job WHERE id = 2"); err != nil {
				t.Fatal(err)
			}
			if err := db.Close(); err != nil {
				t.Fatal(err)
			}
			return path
		}, ErrDamaged, "belong to nothing"},
		{"begun by another program", func(t *testing.T) string {
			path := workshop(t)
			if err := os.WriteFile(path+"-journal", []byte("begun"), 0o600); err != nil {
				t.Fatal(err)
			}
			return path
		}, ErrDamaged, "another program has begun"},
		{"log without its database", func(t *testing.T) string {
			path := crashed(t)
			if err := os.Remove(path); err != nil {
				t.Fatal(err)
			}
			return path
		}, ErrDamaged, "missing"},
	}
	refused := 0
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			path := c.make(t)
			before := prints(t, filepath.Dir(path))
			s, err := Open(bg, path)
			if err == nil {
				_ = s.Close()
				t.Fatal("it was opened")
			}
			same(t, "the folder", prints(t, filepath.Dir(path)), before)
			var e *Error
			if !errors.Is(err, c.kind) || !errors.As(err, &e) || e.Path != path || e.Do == "" || !strings.Contains(err.Error(), c.says) {
				t.Errorf("%v", err)
			}
			t.Log(err)
			refused++
		})
	}
	same(t, "refused", refused, len(cases))
}

// What a crash leaves is taken, with everything in the log.
func TestAfterACrash(t *testing.T) {
	path := crashed(t, "INSERT INTO setting VALUES ('last', 'in the log')")
	bend(t, path+"-shm", 0, strings.Repeat("noise", 100)) // only an index; SQLite makes it anew
	s := reopen(t, path)
	if got, err := s.Setting(bg, "last"); err != nil || got != "in the log" {
		t.Errorf("%q, %v", got, err)
	}
	for k, left := range []string{"new", "check", "backup-123"} { // of a killed process
		name := tempName(path, left)
		if err := os.Mkdir(name, 0o700); err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(s.Close()); err != nil {
			t.Fatal(err)
		}
		s = reopen(t, path)
		if _, err := os.Stat(name); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%d: %s is still there", k, name)
		}
	}
}

// One at a time, in this process and in others.
func TestInUse(t *testing.T) {
	s := fresh(t)
	link := filepath.Join(t.TempDir(), "link.db")
	if err := os.Symlink(s.Path(), link); err != nil {
		t.Fatal(err)
	}
	told := 0
	for _, name := range []string{s.Path(), link} {
		_, err := Open(bg, name)
		if errors.Is(err, ErrInUse) && strings.Contains(err.Error(), fmt.Sprintf("process %d on ", os.Getpid())) {
			told++
		} else {
			t.Error(err)
		}
	}
	same(t, "told", told, 2)
	opened(t, s, "the first one is not disturbed")
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	reopen(t, s.Path())
}

// Names with characters that mean something in a connection string, and folders that have yet to be made, only for their owner.
func TestNamesAndRights(t *testing.T) {
	for _, name := range []string{"a b.db", "50%41.db", "what?.db", "no#1.db", "Gerät & Co;x=1.db", ":memory:", "file:x.db?mode=memory"} {
		dir := filepath.Join(t.TempDir(), "new", "folders")
		path := filepath.Join(dir, name)
		s := reopen(t, path)
		opened(t, s, "k")
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		got := map[string]string{}
		for _, f := range []string{dir, path, path + ".lock"} {
			info, err := os.Stat(f)
			if err != nil {
				t.Fatal(err)
			}
			got[filepath.Base(f)] = info.Mode().Perm().String()
		}
		same(t, "rights", got, map[string]string{"folders": "-rwx------", name: "-rw-------", name + ".lock": "-rw-------"})
		entries, err := os.ReadDir(dir)
		if err != nil || len(entries) != 2 {
			t.Errorf("%v, %v", entries, err)
		}
	}
	for _, name := range []string{"", "a\x00b"} {
		if _, err := Open(bg, name); !errors.Is(err, fs.ErrInvalid) {
			t.Errorf("%q: %v", name, err)
		}
	}
}

// Every connection has the settings, whichever of the pool it is.
func TestSettingsOnEveryConnection(t *testing.T) {
	s := fresh(t)
	checked := 0
	look := func(db *sql.DB, n int, want map[string]string) {
		for range n {
			c, err := db.Conn(bg) // kept, so that each is another one
			if err != nil {
				t.Fatal(err)
			}
			defer c.Close()
			for pragma, w := range want {
				var got string
				if err := c.QueryRowContext(bg, "PRAGMA "+pragma).Scan(&got); err != nil || got != w {
					t.Errorf("%s is %s, not %s: %v", pragma, got, w, err)
				}
				checked++
			}
		}
	}
	look(s.read, readers, map[string]string{"journal_mode": "wal", "foreign_keys": "1", "trusted_schema": "0", "query_only": "1", "busy_timeout": "5000", "cell_size_check": "1"})
	look(s.write, 1, map[string]string{"journal_mode": "wal", "foreign_keys": "1", "trusted_schema": "0", "synchronous": "2", "busy_timeout": "5000",
		"application_id": fmt.Sprint(applicationID), "user_version": "1"})
	same(t, "checked", checked, readers*6+7)
}

// A file of an older program is copied, then brought up to date; when that fails, the copy is there and the file is as it was.
func TestOlderFiles(t *testing.T) {
	next := func(sql string) fs.FS {
		first, err := fs.ReadFile(migrations(), "00001_jobs_boards_photos.sql")
		if err != nil {
			t.Fatal(err)
		}
		return fstest.MapFS{"00001_a.sql": {Data: first}, "00002_b.sql": {Data: []byte("-- +goose Up\nPRAGMA user_version = 2;\n" + sql)}}
	}
	path := workshop(t)
	if _, err := open(bg, path, next("CREATE TABLE extra (a TEXT) STRICT;\nSELECT no_such_function();")); err == nil {
		t.Fatal("a failing migration was not told")
	}
	good := next("CREATE TABLE extra (a TEXT) STRICT;")
	s, err := open(bg, path, good)
	if err != nil {
		t.Fatal(err)
	}
	var version int
	if err := s.write.QueryRow("SELECT user_version FROM pragma_user_version, extra UNION ALL SELECT user_version FROM pragma_user_version").Scan(&version); err != nil || version != 2 {
		t.Errorf("version %d: %v", version, err)
	}
	added(t, s, 1, 40, "goes on")
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(bg, path); !errors.Is(err, ErrNewer) {
		t.Errorf("the older program: %v", err)
	}
	for _, end := range []string{".before-1", ".before-1-2"} { // of both attempts; the older program can use them
		old := reopen(t, path+end)
		events, err := old.Events(bg, 1, 0)
		if err != nil || len(events) != 39 {
			t.Errorf("%s: %d events, %v", end, len(events), err)
		}
	}
	if s, err = open(bg, path, good); err != nil { // no copy when nothing is to be done
		t.Fatal(err)
	}
	defer s.Close()
	if _, err := os.Stat(path + ".before-2"); err == nil {
		t.Error("a needless copy")
	}
}
