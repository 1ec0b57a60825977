// Package store keeps the workshop's jobs, boards and pictures in one SQLite file. It provides app.Store.
//
// What is promised: a method that has returned nil has its work in the file, which survives the end of the process however it ends
// (tested by killing it some hundred times while it writes). Each commit also waits for the disk (synchronous=FULL), so it should survive a
// power cut as well, as far as disk and file system keep what they promise; that is not tested here.
//
// One process at a time has a file open; a lock beside it (name.lock) sees to that. Inside the process there is one writer and many
// readers, which do not wait for each other. A file that this program cannot take is refused with an *Error and not changed by a byte.
package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	_ "modernc.org/sqlite" // the driver, in Go

	"halfsplit/internal/app"
)

var _ app.Store = (*Store)(nil)

// Store is an open workshop file. All methods may be called from many goroutines.
type Store struct {
	path  string
	lock  *os.File
	write *sql.DB // one connection, so that writers queue here and not in SQLite
	read  *sql.DB
	known fs.FS // migrations
}

// readers is how many questions are answered at once; more wait.
const readers = 8

// Open opens the workshop file, or makes it, with its folder, when it is missing. A file of an older program is brought up to date after a
// copy of it was kept as name.before-N. A file that cannot be taken gives an *Error and stays as it is.
func Open(ctx context.Context, path string) (*Store, error) {
	return open(ctx, path, migrations())
}

func open(ctx context.Context, path string, known fs.FS) (_ *Store, err error) {
	newest, err := newestVersion(known)
	if err != nil {
		return nil, err
	}
	path, missing, err := look(path)
	if err != nil {
		return nil, err
	}
	lock, err := takeLock(path)
	if err != nil {
		return nil, err
	}
	s := &Store{path: path, lock: lock, known: known}
	defer func() {
		if err != nil {
			_ = s.Close()
		}
	}()
	if err := sweep(path); err != nil {
		return nil, err
	}
	if missing {
		if err := create(ctx, path, known); err != nil {
			return nil, err
		}
	}
	found, err := check(ctx, path, newest)
	if err != nil {
		return nil, err
	}
	if s.write, err = connect(path, writing); err != nil {
		return nil, err
	}
	if found < newest {
		if err := s.update(ctx, found); err != nil {
			return nil, err
		}
	}
	if s.read, err = connect(path, reading); err != nil {
		return nil, err
	}
	if err := s.read.PingContext(ctx); err != nil {
		return nil, s.explain("open", err)
	}
	return s, nil
}

// update keeps a copy of a file of version found, then brings the file up to date.
func (s *Store) update(ctx context.Context, found int64) error {
	conn, err := s.write.Conn(ctx)
	if err != nil {
		return s.explain("open", err)
	}
	_, err = keepCopy(ctx, conn, s.path, fmt.Sprintf("before-%d", found))
	_ = conn.Close()
	if err != nil {
		return s.explain("keep a copy before bringing the file up to date", err)
	}
	if err := migrate(ctx, s.write, s.known); err != nil {
		return s.explain("bring the file up to date", err)
	}
	return nil
}

// Close ends all work on the file. Nothing may be called afterwards.
func (s *Store) Close() error {
	var errs []error
	for _, db := range []*sql.DB{s.read, s.write} { // the writer last: the last one to go folds the log into the file
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	if s.lock != nil {
		errs = append(errs, unlock(s.lock), s.lock.Close())
	}
	return errors.Join(errs...)
}

// Path is the file's full name.
func (s *Store) Path() string { return s.path }

// use says what a connection is for.
type use int

const (
	writing   use = iota
	reading       // beside a writer
	untouched     // nothing beside the file is made or looked at; only for a file that nobody writes
)

// connect prepares connections to a file. The settings go into the connection string, because they must hold on every connection
// of the pool, not only on the first.
func connect(path string, u use) (*sql.DB, error) { return connectTo(fileURI(path), u, nil) }

func connectTo(uri string, u use, more url.Values) (*sql.DB, error) {
	q := url.Values{
		"_defensive": {"1"},
		"_dqs":       {"0"},
		"_error_rc":  {"1"},
		"_pragma": {
			"busy_timeout(5000)",
			"foreign_keys(ON)",
			"trusted_schema(OFF)",
			"cell_size_check(ON)",
			"mmap_size(0)",
		},
	}
	switch u {
	case writing:
		q.Set("mode", "rw")
		q.Set("_txlock", "immediate") // a writer that starts as a reader may have to give up half-way
		q["_pragma"] = append(q["_pragma"], "journal_mode(WAL)", "synchronous(FULL)", "fullfsync(ON)", "checkpoint_fullfsync(ON)",
			"journal_size_limit(16777216)")
	case reading:
		q.Set("mode", "rw") // a reader of a write-ahead log marks in its index how far it reads
		q["_pragma"] = append(q["_pragma"], "query_only(ON)")
	case untouched:
		q.Set("immutable", "1")
		q.Set("mode", "ro")
		q["_pragma"] = append(q["_pragma"], "query_only(ON)")
	}
	maps.Copy(q, more)
	db, err := sql.Open("sqlite", uri+"?"+q.Encode())
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", uri, err)
	}
	n := 1
	if u == reading {
		n = readers
	}
	db.SetMaxOpenConns(n)
	db.SetMaxIdleConns(n)
	return db, nil
}

// fileURI writes a full file name so that no character in it is taken for part of the settings.
func fileURI(path string) string {
	p := filepath.ToSlash(path)
	if !strings.HasPrefix(p, "/") { // C:/...
		p = "/" + p
	}
	return (&url.URL{Scheme: "file", Path: p}).String()
}

// change runs do in one transaction. It may be given up while it waits for its turn; once begun it is carried through even when the
// asker has gone, so that an entry that has arrived is kept.
func (s *Store) change(ctx context.Context, what string, do func(ctx context.Context, tx *sql.Tx) error) error {
	conn, err := s.write.Conn(ctx)
	if err != nil {
		return s.explain(what, err)
	}
	defer conn.Close()
	ctx = context.WithoutCancel(ctx)
	tx, err := conn.BeginTx(ctx, nil)
	if err != nil {
		return s.explain(what, err)
	}
	if err := do(ctx, tx); err != nil {
		_ = tx.Rollback() // after a full disk SQLite has already rolled back
		return s.explain(what, err)
	}
	if err := tx.Commit(); err != nil {
		_ = tx.Rollback()
		return s.explain(what, err)
	}
	return nil
}
