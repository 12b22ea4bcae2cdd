package logbook

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
)

//go:embed migrations/*.sql
var migrationFiles embed.FS

// migrations bring a logbook from one version to the next: the first from nothing to
// version 1. A migration that has been released is never changed.
var migrations = []string{
	"migrations/0001_entries.sql",
	"migrations/0002_files.sql",
	"migrations/0003_daily.sql",
}

// Versions of the file in which something came in.
const (
	versionFiles = 2
	versionDaily = 3
)

var latest = len(migrations)

// migrate brings a logbook from one version to another in one transaction.
func migrate(ctx context.Context, db *sql.DB, from, to int) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	for version := from + 1; version <= to; version++ {
		text, err := migrationFiles.ReadFile(migrations[version-1])
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, string(text)); err != nil {
			return fmt.Errorf("bringing it from version %d to %d: %w", version-1, version, err)
		}
	}
	if _, err := tx.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", applicationID, to)); err != nil {
		return err
	}
	return tx.Commit()
}
