package store

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"

	"github.com/pressly/goose/v3"
)

//go:embed migrations/*.sql
var migrationFiles embed.FS

// applicationID is what the first migration writes into the header of the file.
const applicationID = 0x5242636e // "RBcn"

// migrate brings the database to the newest schema, forward only.
func migrate(ctx context.Context, db *sql.DB) error {
	if err := checkOwner(ctx, db); err != nil {
		return err
	}
	files, err := fs.Sub(migrationFiles, "migrations")
	if err != nil {
		return err
	}
	provider, err := goose.NewProvider(goose.DialectSQLite3, db, files, goose.WithGoMigrations(hashTokens), goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return err
	}
	for {
		current, newest, err := provider.GetVersions(ctx)
		if err != nil {
			return err
		}
		if current > newest {
			return fmt.Errorf("schema %d, known up to %d: %w", current, newest, ErrNewer)
		}
		_, failed := provider.Up(ctx)
		if failed == nil {
			return nil
		}
		// Another program opening the same file may have taken the same
		// step in the meantime. Then there is nothing wrong: look again.
		moved, err := provider.GetDBVersion(ctx)
		if err != nil || moved == current {
			return errors.Join(failed, err)
		}
	}
}

const (
	readOwner   = `select application_id from pragma_application_id`
	countTables = `select count(*) from sqlite_schema where type = 'table' and name not in ('goose_db_version', 'sqlite_sequence')`
)

// refuseForeign refuses a database that is not ours, before anything is done to it: to
// connect for writing changes the way a file is kept.
func refuseForeign(ctx context.Context, path string) error {
	db, err := openQuietly(path, true)
	if err != nil {
		return err
	}
	return errors.Join(checkOwner(ctx, db), db.Close())
}

// checkOwner refuses a database that has tables and is not ours.
func checkOwner(ctx context.Context, db *sql.DB) error {
	var tables, owner int
	if err := db.QueryRowContext(ctx, countTables).Scan(&tables); err != nil {
		return err
	}
	if err := db.QueryRowContext(ctx, readOwner).Scan(&owner); err != nil {
		return err
	}
	if tables > 0 && owner != applicationID {
		return errors.New("the file is the database of another program, name another file")
	}
	return nil
}
