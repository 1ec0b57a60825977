package store

// The shapes that the file has had, and the way from each to the next.

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"
	"log/slog"
	"path"
	"strconv"
	"strings"

	"github.com/pressly/goose/v3"
)

//go:embed migrations/*.sql
var embedded embed.FS

// migrations are the numbered steps, oldest first. Each sets user_version to its own number.
func migrations() fs.FS {
	sub, err := fs.Sub(embedded, "migrations")
	if err != nil { // only when the name above is wrong
		panic(err)
	}
	return sub
}

// migrationTable is where the steps that were taken are noted.
const migrationTable = "migration"

// newestVersion is the number of the last step.
func newestVersion(known fs.FS) (int64, error) {
	names, err := fs.Glob(known, "*.sql")
	if err != nil || len(names) == 0 {
		return 0, fmt.Errorf("no migrations: %w", err)
	}
	number, _, _ := strings.Cut(path.Base(names[len(names)-1]), "_")
	return strconv.ParseInt(number, 10, 64)
}

// migrate takes the steps that are missing, each in one transaction.
func migrate(ctx context.Context, db *sql.DB, known fs.FS) error {
	newest, err := newestVersion(known)
	if err != nil {
		return err
	}
	return migrateTo(ctx, db, known, newest)
}

func migrateTo(ctx context.Context, db *sql.DB, known fs.FS, version int64) error {
	p, err := goose.NewProvider(goose.DialectSQLite3, db, known,
		goose.WithTableName(migrationTable),
		goose.WithDisableGlobalRegistry(true),
		goose.WithSlog(slog.New(slog.DiscardHandler)))
	if err != nil {
		return fmt.Errorf("migrations: %w", err)
	}
	if _, err := p.UpTo(ctx, version); err != nil {
		return fmt.Errorf("migration: %w", err)
	}
	return nil
}
