package store

// Drafts and settings: texts under a name, of which only the last is kept.

import (
	"context"
	"database/sql"
	"errors"
	"time"
)

// SaveDraft keeps what is half typed; see app.Store.
func (s *Store) SaveDraft(ctx context.Context, name, text string, at time.Time) error {
	return s.change(ctx, "keep what was typed", func(ctx context.Context, tx *sql.Tx) error {
		if text == "" {
			_, err := tx.ExecContext(ctx, "DELETE FROM draft WHERE name = ?", name)
			return err
		}
		_, err := tx.ExecContext(ctx, `INSERT INTO draft (name, text, at) VALUES (?, ?, ?)
			ON CONFLICT (name) DO UPDATE SET text = excluded.text, at = excluded.at`, name, text, at.UnixMilli())
		return err
	})
}

// Draft reads what is half typed; see app.Store. Without a draft the text is "" and the time is zero.
func (s *Store) Draft(ctx context.Context, name string) (text string, at time.Time, err error) {
	var ms int64
	err = s.read.QueryRowContext(ctx, "SELECT text, at FROM draft WHERE name = ?", name).Scan(&text, &ms)
	if errors.Is(err, sql.ErrNoRows) {
		return "", time.Time{}, nil
	}
	if err != nil {
		return "", time.Time{}, s.explain("read a draft", err)
	}
	return text, moment(ms), nil
}

// Setting reads a setting; see app.Store.
func (s *Store) Setting(ctx context.Context, name string) (value string, err error) {
	err = s.read.QueryRowContext(ctx, "SELECT value FROM setting WHERE name = ?", name).Scan(&value)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return "", s.explain("read a setting", err)
	}
	return value, nil
}

// SetSetting writes a setting; see app.Store.
func (s *Store) SetSetting(ctx context.Context, name, value string) error {
	return s.change(ctx, "write a setting", func(ctx context.Context, tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "INSERT INTO setting (name, value) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value", name, value)
		return err
	})
}
