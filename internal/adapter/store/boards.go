package store

// Boards and their versions.

import (
	"cmp"
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"halfsplit/internal/app"
)

// SaveBoard keeps a version of a board; see app.Store. The same text and files as the newest version's make no new version.
func (s *Store) SaveBoard(ctx context.Context, boardID int64, b app.BoardFiles, at time.Time) (v app.BoardVersion, err error) {
	for name := range b.Files {
		if err := plainName(name); err != nil {
			return app.BoardVersion{}, err
		}
	}
	sum := boardSum(b)
	err = s.change(ctx, "save the board", func(ctx context.Context, tx *sql.Tx) error {
		number := 1
		if boardID != 0 {
			newest, err := scanVersion(tx.QueryRowContext(ctx, versionQuery+"WHERE board = ? ORDER BY number DESC LIMIT 1", boardID))
			if err != nil {
				return none(err, "board %d", boardID)
			}
			if newest.SHA256 == sum {
				v = newest
				return nil
			}
			number = newest.Number + 1
		} else {
			r, err := tx.ExecContext(ctx, "INSERT INTO board DEFAULT VALUES")
			if err != nil {
				return err
			}
			if boardID, err = r.LastInsertId(); err != nil {
				return err
			}
		}
		v = app.BoardVersion{BoardID: boardID, Number: number, Title: b.Title, Parts: b.Parts, SHA256: sum, At: at.UTC().Truncate(time.Millisecond)}
		r, err := tx.ExecContext(ctx, "INSERT INTO board_version (board, number, title, parts, sha256, at, text) VALUES (?, ?, ?, ?, ?, ?, ?)",
			v.BoardID, v.Number, v.Title, v.Parts, v.SHA256, at.UnixMilli(), b.Text)
		if err != nil {
			return err
		}
		if v.ID, err = r.LastInsertId(); err != nil {
			return err
		}
		for _, name := range slices.Sorted(maps.Keys(b.Files)) {
			data := b.Files[name]
			if data == nil {
				data = []byte{} // nil would be NULL
			}
			if _, err := tx.ExecContext(ctx, "INSERT INTO board_file (version, name, data) VALUES (?, ?, ?)", v.ID, name, data); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return app.BoardVersion{}, err
	}
	return v, nil
}

// BoardVersion reads a version with its files; see app.Store.
func (s *Store) BoardVersion(ctx context.Context, version int64) (app.BoardVersion, app.BoardFiles, error) {
	v, err := scanVersion(s.read.QueryRowContext(ctx, versionQuery+"WHERE id = ?", version))
	if err != nil {
		return app.BoardVersion{}, app.BoardFiles{}, s.explain("read a board", none(err, "board version %d", version))
	}
	b := app.BoardFiles{Title: v.Title, Parts: v.Parts, Files: map[string][]byte{}}
	if err := s.read.QueryRowContext(ctx, "SELECT text FROM board_version WHERE id = ?", version).Scan(&b.Text); err != nil {
		return app.BoardVersion{}, app.BoardFiles{}, s.explain("read a board", err)
	}
	rows, err := s.read.QueryContext(ctx, "SELECT name, data FROM board_file WHERE version = ?", version)
	if err != nil {
		return app.BoardVersion{}, app.BoardFiles{}, s.explain("read a board", err)
	}
	defer rows.Close()
	for rows.Next() {
		var name string
		var data []byte
		if err := rows.Scan(&name, &data); err != nil {
			return app.BoardVersion{}, app.BoardFiles{}, s.explain("read a board", err)
		}
		b.Files[name] = data
	}
	if err := rows.Err(); err != nil {
		return app.BoardVersion{}, app.BoardFiles{}, s.explain("read a board", err)
	}
	if boardSum(b) != v.SHA256 {
		return app.BoardVersion{}, app.BoardFiles{}, damaged(s.path, fmt.Sprintf("board version %d is not what was saved", version), nil)
	}
	return v, b, nil
}

// Boards lists the newest version of each board, by title in any case; see app.Store.
func (s *Store) Boards(ctx context.Context) ([]app.BoardVersion, error) {
	out, err := s.versions(ctx, "v WHERE number = (SELECT max(number) FROM board_version WHERE board = v.board)")
	slices.SortFunc(out, func(a, b app.BoardVersion) int {
		return cmp.Or(cmp.Compare(fold(a.Title), fold(b.Title)), cmp.Compare(a.BoardID, b.BoardID))
	})
	return out, err
}

// BoardVersions lists the versions of a board, newest first; see app.Store. A board that does not exist is app.ErrNone.
func (s *Store) BoardVersions(ctx context.Context, boardID int64) ([]app.BoardVersion, error) {
	out, err := s.versions(ctx, "WHERE board = ? ORDER BY number DESC", boardID)
	if err == nil && len(out) == 0 {
		err = fmt.Errorf("board %d: %w", boardID, app.ErrNone)
	}
	return out, err
}

const versionQuery = "SELECT id, board, number, title, parts, sha256, at FROM board_version "

func (s *Store) versions(ctx context.Context, where string, args ...any) ([]app.BoardVersion, error) {
	rows, err := s.read.QueryContext(ctx, versionQuery+where, args...)
	if err != nil {
		return nil, s.explain("list the boards", err)
	}
	defer rows.Close()
	var out []app.BoardVersion
	for rows.Next() {
		v, err := scanVersion(rows)
		if err != nil {
			return nil, s.explain("list the boards", err)
		}
		out = append(out, v)
	}
	if err := rows.Err(); err != nil {
		return nil, s.explain("list the boards", err)
	}
	return out, nil
}

func scanVersion(row interface{ Scan(...any) error }) (app.BoardVersion, error) {
	var v app.BoardVersion
	var at int64
	err := row.Scan(&v.ID, &v.BoardID, &v.Number, &v.Title, &v.Parts, &v.SHA256, &at)
	v.At = moment(at)
	return v, err
}

// boardSum is the SHA-256, in hex, of the board's text and its files in the order of their names, each with its name and length in front.
func boardSum(b app.BoardFiles) string {
	h := sha256.New()
	fmt.Fprintf(h, "%d\n%s", len(b.Text), b.Text)
	for _, name := range slices.Sorted(maps.Keys(b.Files)) {
		fmt.Fprintf(h, "%q %d\n", name, len(b.Files[name]))
		h.Write(b.Files[name])
	}
	return fmt.Sprintf("%x", h.Sum(nil))
}

// plainName refuses what is no plain file name, on any system.
func plainName(name string) error {
	bad := name == "" || name == "." || name == ".." || len(name) > 100 || strings.ContainsFunc(name, func(r rune) bool {
		return r < ' ' || r == 0x7f || strings.ContainsRune(`/\:*?"<>|`, r)
	})
	if bad {
		return fmt.Errorf("%q is no name for a file of a board: %w", name, errPlainName)
	}
	return nil
}

var errPlainName = errors.New("1 to 100 characters, no folders, none of / \\ : * ? \" < > |")
