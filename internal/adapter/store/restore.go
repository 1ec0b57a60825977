package store

// Taking a backup back. It may come from anywhere, so nothing in it is believed: it is unpacked under names of our own, and its database
// has to have exactly the tables that our own migrations make, whole and fitting together, before any of it is taken.

import (
	"archive/tar"
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"database/sql/driver"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	lib "modernc.org/sqlite/lib"
)

// Restore takes a backup in place of what is there, all or nothing; see app.Store. What was there is kept as name.before-restore. Writers
// wait until it is done; readers see either all of the old or all of the new. Settings are replaced too. A file that is not
// wholly sound gives an *Error of kind ErrBackup or ErrNewer and changes nothing.
func (s *Store) Restore(ctx context.Context, r io.Reader) error {
	return s.explain("restore the backup", s.restore(ctx, r))
}

func (s *Store) restore(ctx context.Context, r io.Reader) error {
	dir, err := os.MkdirTemp(filepath.Dir(s.path), tempName(filepath.Base(s.path), "restore-*")) // swept away by the next Open, if this process is killed
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	name := filepath.Join(dir, databaseName)
	m, err := unpack(stopping{ctx, r}, name, s.path)
	if err != nil {
		return err
	}
	if err := s.vet(ctx, name, m); err != nil {
		return err
	}
	return s.replace(ctx, name)
}

// unsound is the error for a backup that is not taken.
func unsound(found string, err error) *Error {
	return &Error{Path: "backup", Kind: ErrBackup, Found: found, Err: err, Do: "Nothing was changed. Choose another backup file, or fetch this one again."}
}

// unpack writes the backup's database to name and checks that it is what the manifest says. Names in the archive are compared, never used.
func unpack(r io.Reader, name, beside string) (manifest, error) {
	archive := tar.NewReader(r)
	if _, err := member(archive, manifestName, 64<<10); err != nil {
		return manifest{}, err
	}
	var m manifest
	said, err := io.ReadAll(archive)
	if err != nil {
		return manifest{}, unsound("the backup ends too early or cannot be read", err)
	}
	d := json.NewDecoder(bytes.NewReader(said))
	d.DisallowUnknownFields()
	if err := d.Decode(&m); err != nil || d.More() {
		return manifest{}, unsound("the backup's description cannot be read", err)
	}
	if m.Format != backupFormat {
		return manifest{}, unsound(fmt.Sprintf("the backup is of the kind %.40q, this program reads %q", m.Format, backupFormat), nil)
	}
	n, err := member(archive, databaseName, largestBackup)
	if err != nil {
		return manifest{}, err
	}
	if n != m.Size {
		return manifest{}, unsound(fmt.Sprintf("the backup's database has %d bytes where %d were written", n, m.Size), nil)
	}
	// Three times: unpacked, the copy of what is there, and the log of the change.
	if free, err := freeSpace(filepath.Dir(beside)); err == nil && free/3 < n {
		return manifest{}, &Error{Path: beside, Kind: ErrFull, Found: fmt.Sprintf("restoring needs %.1f MB, %.1f MB are free", 3*float64(n)/1e6, float64(free)/1e6), Do: "Nothing was changed. Make space and try again."}
	}
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return manifest{}, err
	}
	h := sha256.New()
	_, err = io.Copy(f, io.TeeReader(archive, h))
	if closed := f.Close(); closed != nil {
		return manifest{}, closed
	}
	var disk *fs.PathError
	switch {
	case errors.As(err, &disk):
		return manifest{}, err
	case err != nil:
		return manifest{}, unsound("the backup ends too early or cannot be read", err)
	case fmt.Sprintf("%x", h.Sum(nil)) != m.SHA256:
		return manifest{}, unsound("the backup was changed or damaged after it was written: its checksum does not fit", nil)
	}
	if _, err := archive.Next(); err != io.EOF {
		return manifest{}, unsound("the backup holds more than it should, or ends too early", err)
	}
	rest, err := io.ReadAll(io.LimitReader(r, 64<<10))
	if err != nil || len(bytes.Trim(rest, "\x00")) > 0 || len(rest) == 64<<10 {
		return manifest{}, unsound("something follows the backup in its file", err)
	}
	return m, nil
}

// member goes to the archive's next file, which must be a plain one of this name and at most so many bytes, and returns its length.
func member(archive *tar.Reader, name string, most int64) (int64, error) {
	h, err := archive.Next()
	if err != nil {
		return 0, unsound("this is not a backup of halfsplit, or it ends too early", err)
	}
	if h.Name != name || h.Typeflag != tar.TypeReg || h.Format != tar.FormatUSTAR || len(h.PAXRecords) > 0 {
		return 0, unsound(fmt.Sprintf("this is not a backup of halfsplit: it has %.60q where %q belongs", h.Name, name), nil)
	}
	if h.Size > most {
		return 0, unsound(fmt.Sprintf("%s has %d bytes, more than the %d that are taken", name, h.Size, most), nil)
	}
	return h.Size, nil
}

// vet makes sure that the unpacked database is whole, ours, and of this version, bringing an older one up to date.
func (s *Store) vet(ctx context.Context, name string, m manifest) error {
	newest, err := newestVersion(s.known)
	if err != nil {
		return err
	}
	version, err := s.vetAs(ctx, name, newest)
	if err != nil {
		return inBackup(err)
	}
	if version != m.Version {
		return unsound(fmt.Sprintf("the backup's database is of version %d where %d was written", version, m.Version), nil)
	}
	if version == newest {
		return nil
	}
	db, err := connect(name, writing)
	if err != nil {
		return err
	}
	if err := errors.Join(migrate(ctx, db, s.known), db.Close()); err != nil {
		return unsound("the backup is of an older version and could not be brought up to date", err)
	}
	_, err = s.vetAs(ctx, name, newest)
	return inBackup(err)
}

// vetAs checks an unpacked database as it stands and returns its version.
func (s *Store) vetAs(ctx context.Context, name string, newest int64) (int64, error) {
	db, err := connect(name, writing) // SQLite does not load the CHECKs of a file that it may not write
	if err != nil {
		return 0, err
	}
	defer db.Close()
	version, err := identify(ctx, db, name, newest)
	if err != nil {
		return 0, err
	}
	if err := s.sameShape(ctx, db, version); err != nil {
		return 0, err
	}
	if err := sound(ctx, db, name, "integrity_check"); err != nil {
		return 0, err
	}
	return version, counted(ctx, db)
}

// inBackup says that the trouble is the backup's and not the workshop file's.
func inBackup(err error) error {
	var e *Error
	switch {
	case !errors.As(err, &e) || e.Kind == ErrBackup:
		return err
	case e.Kind == ErrNewer:
		return &Error{Path: "backup", Kind: ErrNewer, Found: e.Found, Do: e.Do}
	}
	return unsound(e.Found, e.Err)
}

// sameShape insists on exactly the tables and indexes of that version: no trigger, view or table of anyone else's.
func (s *Store) sameShape(ctx context.Context, db *sql.DB, version int64) error {
	ours, err := sql.Open("sqlite", "file::memory:")
	if err != nil {
		return err
	}
	defer ours.Close()
	ours.SetMaxOpenConns(1) // each connection would have a memory of its own
	if err := migrateTo(ctx, ours, s.known, version); err != nil {
		return err
	}
	want, err := shape(ctx, ours)
	if err != nil {
		return err
	}
	got, err := shape(ctx, db)
	if err != nil {
		return unsound("the backup's tables cannot be read", err)
	}
	if !slices.Equal(got, want) {
		return unsound("the backup's tables are not those that this program makes", nil)
	}
	return nil
}

// shape lists everything that a database has in its schema.
func shape(ctx context.Context, db *sql.DB) ([]string, error) {
	return column(ctx, db, "SELECT concat_ws(char(31), type, name, tbl_name, sql) FROM sqlite_schema ORDER BY type, name")
}

// counted insists that the entries of each job and the versions of each board count from 1 without a gap.
func counted(ctx context.Context, db *sql.DB) error {
	gaps, err := column(ctx, db, `
		SELECT concat('job ', id) FROM job LEFT JOIN event ON job = id GROUP BY id HAVING min(seq) IS NOT 1 OR max(seq) IS NOT count(seq)
		UNION ALL
		SELECT concat('board ', b.id) FROM board b LEFT JOIN board_version v ON v.board = b.id
		GROUP BY b.id HAVING min(number) IS NOT 1 OR max(number) IS NOT count(number)`)
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case err != nil:
		return unsound("the backup's entries cannot be counted", err)
	case len(gaps) > 0:
		return unsound("the backup lacks entries of "+gaps[0], nil)
	}
	return nil
}

// column is the first column of a query's answer.
func column(ctx context.Context, db interface {
	QueryContext(context.Context, string, ...any) (*sql.Rows, error)
}, query string) ([]string, error) {
	rows, err := db.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []string
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, rows.Err()
}

// replace takes all rows of a vetted database in place of ours, in one transaction, after keeping a copy. It holds the only writer
// all the while, so that nothing is confirmed between copy and change.
func (s *Store) replace(ctx context.Context, name string) error {
	conn, err := s.write.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	ctx = context.WithoutCancel(ctx)
	kept, err := keepCopy(ctx, conn, s.path, "before-restore")
	if err != nil {
		return err
	}
	unchanged := func(err error) error {
		_ = os.Remove(kept)
		if code(err) == lib.SQLITE_CONSTRAINT {
			return unsound("the backup breaks the rules of its own tables", err)
		}
		return err
	}
	if _, err := conn.ExecContext(ctx, "ATTACH ? AS incoming", fileURI(name)+"?immutable=1&mode=ro"); err != nil {
		return unchanged(err)
	}
	defer func() {
		if _, err := conn.ExecContext(ctx, "DETACH incoming"); err != nil {
			_ = conn.Raw(func(any) error { return driver.ErrBadConn }) // the next writer gets a new connection
		}
	}()
	tx, err := conn.BeginTx(ctx, nil)
	if err != nil {
		return unchanged(err)
	}
	if err := copyRows(ctx, tx); err != nil {
		_ = tx.Rollback()
		return unchanged(err)
	}
	if err := tx.Commit(); err != nil {
		_ = tx.Rollback()
		return err
	}
	return nil
}

// copyRows empties every table and fills it from the attached database.
func copyRows(ctx context.Context, tx *sql.Tx) error {
	// In the order in which the migrations make them, a table comes after those to which it refers.
	tables, err := column(ctx, tx, `SELECT name FROM main.sqlite_schema
		WHERE type = 'table' AND name NOT LIKE 'sqlite\_%' ESCAPE '\' AND name <> '`+migrationTable+`' ORDER BY rowid`)
	if err != nil {
		return err
	}
	steps := []string{"PRAGMA defer_foreign_keys = ON"}
	for _, t := range slices.Backward(tables) {
		steps = append(steps, "DELETE FROM main."+t)
	}
	for _, t := range tables {
		steps = append(steps, strings.ReplaceAll("INSERT INTO main.$ SELECT * FROM incoming.$", "$", t))
	}
	for _, s := range steps {
		if _, err := tx.ExecContext(ctx, s); err != nil {
			return err
		}
	}
	return nil
}
