package store

// The file before it is opened for writing: is it there, is it ours, is it whole. Nothing here changes it.

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"modernc.org/sqlite/vfs"
)

// applicationID stands in every file of this program: "hspl".
const applicationID = 0x6873706c

// look finds the file's full name, links followed, and whether it has yet to be made.
func look(path string) (full string, missing bool, err error) {
	full, err = filepath.Abs(path)
	if err != nil || path == "" || strings.ContainsRune(path, 0) {
		return "", false, fmt.Errorf("%q is no file name: %w", path, errors.Join(err, fs.ErrInvalid))
	}
	if real, err := filepath.EvalSymlinks(full); err == nil {
		full = real
	}
	info, err := os.Stat(full)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if size(full+"-wal") > 0 {
			return "", false, damaged(full, "the file is missing but its write-ahead log ("+filepath.Base(full)+"-wal) is there", nil)
		}
		if err := os.MkdirAll(filepath.Dir(full), 0o700); err != nil {
			return "", false, explain(full, "make the folder", err)
		}
		return full, true, nil
	case err != nil:
		return "", false, explain(full, "look at the file", err)
	case info.IsDir():
		return "", false, &Error{Path: full, Kind: ErrFolder, Found: "this is a folder, a file is needed", Do: "Give the name of a file, for example " + filepath.Join(full, "workshop.db") + "."}
	case !info.Mode().IsRegular():
		return "", false, &Error{Path: full, Kind: ErrForeign, Found: "this is not an ordinary file", Do: "Give another name."}
	}
	f, err := os.OpenFile(full, os.O_RDWR, 0)
	if err != nil {
		return "", false, explain(full, "open the file for writing", err)
	}
	return full, false, f.Close()
}

// takeLock makes sure that no other process works on the file. The system gives the lock back when the process ends, however it ends.
func takeLock(path string) (*os.File, error) {
	f, err := os.OpenFile(path+".lock", os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, explain(path, "lock the file", err)
	}
	ok, err := tryLock(f)
	if err != nil {
		_ = f.Close()
		return nil, explain(path, "lock the file", err)
	}
	if !ok {
		who, _ := io.ReadAll(io.LimitReader(f, 300))
		_ = f.Close()
		return nil, &Error{Path: path, Kind: ErrInUse, Found: "another halfsplit has this file open (" + strings.TrimSpace(string(who)) + ")",
			Do: "Use the page of the one that runs, or end it first. On a network drive it may run on another machine."}
	}
	host, _ := os.Hostname()
	who := fmt.Sprintf("process %d on %s\n", os.Getpid(), host)
	// Only for the message above: a full disk must not keep anyone from opening.
	_ = f.Truncate(0)
	_, _ = f.WriteAt([]byte(who), 0)
	return f, nil
}

// tempName is how everything begins that is made beside the file and is of no use after the process.
func tempName(path, what string) string { return path + ".tmp-" + what }

// sweep removes what a process that was killed has left. Only the holder of the lock may call it.
func sweep(path string) error {
	entries, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		return explain(path, "look into the folder", err)
	}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), tempName(filepath.Base(path), "")) {
			if err := os.RemoveAll(filepath.Join(filepath.Dir(path), e.Name())); err != nil {
				return explain(path, "clear away "+e.Name(), err)
			}
		}
	}
	return nil
}

// create makes the file under another name and then gives it its own, so that a file of the right name is always whole.
func create(ctx context.Context, path string, known fs.FS) error {
	temp := tempName(path, "new")
	f, err := os.OpenFile(temp, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return explain(path, "make the file", err)
	}
	_ = f.Close()
	db, err := connect(temp, writing)
	if err != nil {
		return err
	}
	err = errors.Join(migrate(ctx, db, known), db.Close())
	if err == nil {
		err = errors.Join(syncFile(temp), os.Rename(temp, path), syncFolder(filepath.Dir(path)))
	}
	if err != nil {
		_ = sweep(path)
		return explain(path, "make the file", err)
	}
	return nil
}

// check says which version the file has, or why it cannot be taken.
func check(ctx context.Context, path string, newest int64) (version int64, err error) {
	head := make([]byte, 16)
	if err := readHead(path, head); err != nil {
		return 0, explain(path, "read the file", err)
	}
	if string(head) != "SQLite format 3\x00" {
		found := "this is not a file of halfsplit"
		if size(path) == 0 {
			found = "the file is empty, which a file of halfsplit never is"
		}
		return 0, &Error{Path: path, Kind: ErrForeign, Found: found, Do: "Nothing was changed. Give another name, or move that file away and restore a backup."}
	}
	if size(path+"-journal") > 0 {
		return 0, damaged(path, "another program has begun to change the file and has not ended ("+filepath.Base(path)+"-journal)", nil)
	}
	uri, more := fileURI(path), url.Values{}
	if size(path+"-wal") > 0 {
		o, err := overlay(path)
		if err != nil {
			return 0, explain(path, "read the file", err)
		}
		defer o.done()
		name, shown, err := vfs.New(o)
		if err != nil {
			return 0, explain(path, "check the file", err)
		}
		defer shown.Close()
		uri, more = "file:"+overlaidName, url.Values{"vfs": {name}}
	}
	db, err := connectTo(uri, untouched, more)
	if err != nil {
		return 0, err
	}
	defer db.Close()
	version, err = identify(ctx, db, path, newest)
	if err != nil {
		return 0, err
	}
	if err := sound(ctx, db, path, "quick_check"); err != nil {
		return 0, err
	}
	return version, nil
}

// identify reads whose file it is and of which version.
func identify(ctx context.Context, db *sql.DB, path string, newest int64) (version int64, err error) {
	var id int64
	err = db.QueryRowContext(ctx, "SELECT application_id, user_version FROM pragma_application_id, pragma_user_version").Scan(&id, &version)
	switch {
	case ctx.Err() != nil:
		return 0, ctx.Err()
	case err != nil:
		return 0, damaged(path, "the file is damaged: its first page cannot be read", err)
	case id != applicationID:
		return 0, &Error{Path: path, Kind: ErrForeign, Found: "this is a database of another program", Do: "Nothing was changed. Give another name."}
	case version > newest:
		return 0, &Error{Path: path, Kind: ErrNewer,
			Found: fmt.Sprintf("the file was written by a newer halfsplit (its version is %d, this program knows up to %d)", version, newest),
			Do:    "Nothing was changed. Use the newer program."}
	case version < 1:
		return 0, damaged(path, fmt.Sprintf("the file is damaged: it says it is of version %d", version), nil)
	}
	return version, nil
}

// sound runs one of SQLite's own checks, quick_check or integrity_check, and foreign_key_check.
func sound(ctx context.Context, db *sql.DB, path, pragma string) error {
	var said string
	err := db.QueryRowContext(ctx, "PRAGMA "+pragma+"(1)").Scan(&said)
	if err == nil && said == "ok" {
		var rows int
		if err = db.QueryRowContext(ctx, "SELECT count(*) FROM pragma_foreign_key_check").Scan(&rows); err == nil && rows > 0 {
			said = fmt.Sprintf("%d rows belong to nothing", rows)
		}
	}
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case err != nil:
		return damaged(path, "the file is damaged", err)
	case said != "ok":
		lines := strings.Split(strings.TrimSpace(said), "\n") // the first may say only which database
		return damaged(path, "the file is damaged: "+lines[len(lines)-1], nil)
	}
	return nil
}

// size of a file in bytes, 0 when it is missing.
func size(path string) int64 {
	info, err := os.Stat(path)
	if err != nil {
		return 0
	}
	return info.Size()
}

// readHead fills head from the file's beginning; what a short file lacks stays zero.
func readHead(path string, head []byte) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	if _, err := io.ReadFull(f, head); err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return err
	}
	return nil
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// keepCopy writes the whole database as it is now to name.what, or name.what-2 and so on when that is taken, and returns the name.
func keepCopy(ctx context.Context, conn *sql.Conn, path, what string) (string, error) {
	name := path + "." + what
	for n := 2; ; n++ {
		f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
		if err == nil {
			_ = f.Close()
			break
		}
		if !errors.Is(err, fs.ErrExist) {
			return "", err
		}
		name = fmt.Sprintf("%s.%s-%d", path, what, n)
	}
	_, err := conn.ExecContext(ctx, "VACUUM INTO ?", name)
	if err == nil {
		err = errors.Join(syncFile(name), syncFolder(filepath.Dir(path)))
	}
	if err != nil {
		_ = os.Remove(name)
		return "", err
	}
	return name, nil
}
