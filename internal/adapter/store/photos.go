package store

// Pictures.

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"time"
)

// SavePhoto keeps a picture of a job; see app.Store. A job that does not exist is app.ErrNone.
func (s *Store) SavePhoto(ctx context.Context, jobID int64, full, small []byte, w, h int, at time.Time) (id int64, err error) {
	jpeg := []byte{0xff, 0xd8, 0xff}
	if !bytes.HasPrefix(full, jpeg) || !bytes.HasPrefix(small, jpeg) {
		return 0, errors.New("a picture has to be a JPEG")
	}
	if w < 1 || h < 1 || w > 65535 || h > 65535 { // the format's own limit
		return 0, errors.New("a picture has 1 to 65535 points each way")
	}
	err = s.change(ctx, "save the picture", func(ctx context.Context, tx *sql.Tx) error {
		var one int
		if err := tx.QueryRowContext(ctx, "SELECT 1 FROM job WHERE id = ?", jobID).Scan(&one); err != nil {
			return none(err, "job %d", jobID)
		}
		r, err := tx.ExecContext(ctx, "INSERT INTO photo (job, width, height, at) VALUES (?, ?, ?, ?)", jobID, w, h, at.UnixMilli())
		if err != nil {
			return err
		}
		if id, err = r.LastInsertId(); err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, "INSERT INTO photo_data (photo, small, jpeg) VALUES (?1, 0, ?2), (?1, 1, ?3)", id, full, small)
		return err
	})
	if err != nil {
		return 0, err
	}
	return id, nil
}

// Photo reads a picture; see app.Store.
func (s *Store) Photo(ctx context.Context, id int64, small bool) ([]byte, error) {
	var jpeg []byte
	err := s.read.QueryRowContext(ctx, "SELECT jpeg FROM photo_data WHERE photo = ? AND small = ?", id, small).Scan(&jpeg)
	if err != nil {
		return nil, s.explain("read a picture", none(err, "picture %d", id))
	}
	return jpeg, nil
}
