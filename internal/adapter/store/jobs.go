package store

// Jobs and their events.

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

// CreateJob opens a job; see app.Store.
func (s *Store) CreateJob(ctx context.Context, first job.Event, row app.JobSummary) (id int64, err error) {
	if err := writable(first); err != nil {
		return 0, err
	}
	err = s.change(ctx, "open a job", func(ctx context.Context, tx *sql.Tx) error {
		err := tx.QueryRowContext(ctx, "SELECT id FROM job WHERE opening_key = ?", first.Key).Scan(&id)
		if !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		r, err := tx.ExecContext(ctx, `INSERT INTO job (opening_key, title, owner, state, waiting, stage, text, folded, opened, changed, touched)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, (SELECT coalesce(max(touched), 0) + 1 FROM job))`,
			first.Key, row.Title, row.Owner, row.State, row.Waiting, row.Stage, row.Text, searched(row), first.At.UnixMilli(), first.At.UnixMilli())
		if err != nil {
			return err
		}
		if id, err = r.LastInsertId(); err != nil {
			return err
		}
		first.Seq = 1
		return insert(ctx, tx, id, first)
	})
	if err != nil {
		return 0, err
	}
	return id, nil
}

// Append adds an event; see app.Store. The event comes back as it is stored: its time in UTC, to the millisecond.
func (s *Store) Append(ctx context.Context, jobID, seq int64, e job.Event, row app.JobSummary) (stored job.Event, old bool, err error) {
	if err := writable(e); err != nil {
		return job.Event{}, false, err
	}
	err = s.change(ctx, "write an entry", func(ctx context.Context, tx *sql.Tx) error {
		stored, err = scanEvent(tx.QueryRowContext(ctx, "SELECT seq, at, key, kind, data FROM event WHERE job = ? AND key = ?", jobID, e.Key))
		if !errors.Is(err, sql.ErrNoRows) {
			old = err == nil
			return err
		}
		var last sql.NullInt64
		if err := tx.QueryRowContext(ctx, "SELECT max(seq) FROM event WHERE job = ?", jobID).Scan(&last); err != nil {
			return err
		}
		if !last.Valid {
			return fmt.Errorf("job %d: %w", jobID, app.ErrNone)
		}
		if seq != last.Int64+1 {
			return fmt.Errorf("job %d has %d entries, entry %d was expected to be next: %w", jobID, last.Int64, seq, app.ErrStale)
		}
		stored = e
		stored.Seq, stored.At = seq, e.At.UTC().Truncate(time.Millisecond)
		if err := insert(ctx, tx, jobID, stored); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `UPDATE job SET title = ?, owner = ?, state = ?, waiting = ?, stage = ?, text = ?, folded = ?,
			changed = max(changed, ?), touched = (SELECT max(touched) + 1 FROM job) WHERE id = ?`,
			row.Title, row.Owner, row.State, row.Waiting, row.Stage, row.Text, searched(row), e.At.UnixMilli(), jobID)
		return err
	})
	if err != nil {
		return job.Event{}, false, err
	}
	return stored, old, nil
}

// Events reads a job's events with numbers above after; see app.Store.
func (s *Store) Events(ctx context.Context, jobID, after int64) ([]job.Event, error) {
	rows, err := s.read.QueryContext(ctx, "SELECT seq, at, key, kind, data FROM event WHERE job = ? AND seq > ? ORDER BY seq", jobID, after)
	if err != nil {
		return nil, s.explain("read a job", err)
	}
	defer rows.Close()
	var out []job.Event
	for rows.Next() {
		e, err := scanEvent(rows)
		if err != nil {
			return nil, s.explain("read a job", err)
		}
		out = append(out, e)
	}
	if err := rows.Err(); err != nil {
		return nil, s.explain("read a job", err)
	}
	if len(out) == 0 { // nothing new, or no such job
		var one int
		err := s.read.QueryRowContext(ctx, "SELECT 1 FROM job WHERE id = ?", jobID).Scan(&one)
		if err != nil {
			return nil, s.explain("read a job", none(err, "job %d", jobID))
		}
	}
	return out, nil
}

// Jobs lists jobs; see app.Store. "Last changed" is the order of writing, which a clock that was set back does not upset.
func (s *Store) Jobs(ctx context.Context, search, state string) ([]app.JobRow, error) {
	words, err := json.Marshal(append([]string{}, strings.Fields(fold(search))...))
	if err != nil {
		return nil, err
	}
	rows, err := s.read.QueryContext(ctx, `SELECT id, title, owner, state, waiting, stage, text, opened, changed FROM job
		WHERE (?1 = '' OR state = ?1) AND NOT EXISTS (SELECT 1 FROM json_each(?2) WHERE instr(folded, value) = 0)
		ORDER BY touched DESC`, state, string(words))
	if err != nil {
		return nil, s.explain("list the jobs", err)
	}
	defer rows.Close()
	var out []app.JobRow
	for rows.Next() {
		var r app.JobRow
		var opened, changed int64
		if err := rows.Scan(&r.ID, &r.Title, &r.Owner, &r.State, &r.Waiting, &r.Stage, &r.Text, &opened, &changed); err != nil {
			return nil, s.explain("list the jobs", err)
		}
		r.Opened, r.Changed = moment(opened), moment(changed)
		out = append(out, r)
	}
	if err := rows.Err(); err != nil {
		return nil, s.explain("list the jobs", err)
	}
	return out, nil
}

// longestKey is the most characters of an event's key.
const longestKey = 200

// writable says what is wrong with an event before the file is asked, in words.
func writable(e job.Event) error {
	switch {
	case e.Key == "" || len(e.Key) > longestKey:
		return fmt.Errorf("an entry needs a key of 1 to %d characters, this one has %d", longestKey, len(e.Key))
	case e.Kind == "":
		return errors.New("an entry needs a kind")
	case !json.Valid(e.Data):
		return fmt.Errorf("entry %q (%s) is not valid JSON", e.Key, e.Kind)
	}
	return nil
}

func insert(ctx context.Context, tx *sql.Tx, jobID int64, e job.Event) error {
	_, err := tx.ExecContext(ctx, "INSERT INTO event (job, seq, at, key, kind, data) VALUES (?, ?, ?, ?, ?, ?)",
		jobID, e.Seq, e.At.UnixMilli(), e.Key, e.Kind, string(e.Data))
	return err
}

func scanEvent(row interface{ Scan(...any) error }) (job.Event, error) {
	var e job.Event
	var at int64
	var data string
	if err := row.Scan(&e.Seq, &at, &e.Key, &e.Kind, &data); err != nil {
		return job.Event{}, err
	}
	e.At, e.Data = moment(at), json.RawMessage(data)
	return e, nil
}

// searched is the text in which Jobs looks for words; no word reaches over the end of a field.
func searched(r app.JobSummary) string {
	return fold(strings.Join([]string{r.Title, r.Owner, r.State, r.Waiting, r.Stage, r.Text}, "\n"))
}

func moment(ms int64) time.Time { return time.UnixMilli(ms).UTC() }

// none says what is missing when a query found no row.
func none(err error, what string, args ...any) error {
	if errors.Is(err, sql.ErrNoRows) {
		return fmt.Errorf(what+": %w", append(args, app.ErrNone)...)
	}
	return err
}
