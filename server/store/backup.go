package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"github.com/pressly/goose/v3"
)

// Contents is what a database holds.
type Contents struct {
	Schema int     // number of the last migration
	Rows   []Count // by name of the table
}

// Count is the number of rows in a table.
type Count struct {
	Table string
	Rows  int
}

const (
	copyInto = `vacuum into ?`
	// What only matters while the program runs, and what others keep there, is not
	// worth counting.
	listTables = `select name from sqlite_schema where type = 'table' and name not like 'sqlite_%' and name not in ('goose_db_version', 'sessions', 'once_codes') order by name`
	readSchema = `select coalesce(max(version_id), 0) from goose_db_version where is_applied`
	oneFile    = `pragma journal_mode = delete`
)

// Backup copies the database at the path into a new file, as it is at one moment,
// while other programs may read and write it. The copy is checked and on the disk when
// Backup returns. A file that exists is [fs.ErrExist] and is left alone.
//
// The copy is made by VACUUM INTO and not by SQLite's backup interface: it is the same
// statement for both drivers, it reads in one transaction, where the interface begins
// anew whenever another program writes, and nothing that was deleted is in the copy.
func Backup(ctx context.Context, path, to string) (Contents, error) {
	held, err := backUp(ctx, path, to)
	if err != nil {
		return Contents{}, fmt.Errorf("back up %s to %s: %w", path, to, err)
	}
	return held, nil
}

func backUp(ctx context.Context, path, to string) (Contents, error) {
	if _, err := os.Stat(path); err != nil {
		return Contents{}, err
	}
	db, err := openQuietly(path, true)
	if err != nil {
		return Contents{}, err
	}
	defer db.Close()
	if err := known(ctx, db); err != nil {
		return Contents{}, err
	}
	return copyTo(ctx, db, to)
}

// copyTo copies an open database into a new file and checks the copy.
func copyTo(ctx context.Context, db *sql.DB, to string) (held Contents, err error) {
	// SQLite accepts an empty file. Making it here keeps it private, and another file
	// of that name whole.
	f, err := os.OpenFile(to, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return Contents{}, err
	}
	if err := f.Close(); err != nil {
		return Contents{}, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(to)) // half a copy is worse than none
			_ = os.Remove(to + "-journal")        // which SQLite takes away itself when it can
		}
	}()
	absolute, err := filepath.Abs(to)
	if err != nil {
		return Contents{}, err
	}
	if _, err := db.ExecContext(ctx, copyInto, fileURI(absolute, nil)); err != nil {
		return Contents{}, kind(err)
	}
	if err := synced(to); err != nil {
		return Contents{}, err
	}
	return Inspect(ctx, to)
}

// synced returns when the file, and its name in its folder, are on the disk.
func synced(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	if err := errors.Join(f.Sync(), f.Close()); err != nil {
		return err
	}
	// A folder cannot be synced on every system; where it can, its errors are of no
	// other use than this.
	if folder, err := os.Open(filepath.Dir(path)); err == nil {
		_ = folder.Sync()
		_ = folder.Close()
	}
	return nil
}

// Inspect checks that the file is a whole database of this program, not newer than the
// program, and tells what it holds. It changes nothing.
func Inspect(ctx context.Context, path string) (Contents, error) {
	held, err := inspect(ctx, path)
	if err != nil {
		return Contents{}, fmt.Errorf("inspect %s: %w", path, err)
	}
	return held, nil
}

func inspect(ctx context.Context, path string) (Contents, error) {
	if _, err := os.Stat(path); err != nil {
		return Contents{}, err
	}
	db, err := openQuietly(path, true)
	if err != nil {
		return Contents{}, err
	}
	defer db.Close()
	if err := known(ctx, db); err != nil {
		return Contents{}, err
	}
	if err := whole(ctx, db); err != nil {
		return Contents{}, err
	}
	return contents(ctx, db)
}

// openQuietly opens a database as it is: unlike [Open] it neither makes a file nor
// changes the schema or the way the file is kept.
func openQuietly(path string, readOnly bool) (*sql.DB, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	mode := "rw"
	if readOnly {
		mode = "ro"
	}
	db, err := sql.Open(driverName, fileURI(path, url.Values{
		"mode":          {mode},
		"_busy_timeout": {strconv.FormatInt(busyTimeout.Milliseconds(), 10)},
	}))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	return db, nil
}

// known says whether the database is one that this program made, or an older one.
func known(ctx context.Context, db *sql.DB) error {
	var owner int
	if err := db.QueryRowContext(ctx, readOwner).Scan(&owner); err != nil {
		return fmt.Errorf("it cannot be read as a database: %w", kind(err))
	}
	if owner != applicationID {
		return errors.New("it is not a database of this program")
	}
	schema, err := schemaNumber(ctx, db)
	if err != nil {
		return err
	}
	if newest := newestSchema(); schema > newest {
		return fmt.Errorf("schema %d, known up to %d: %w", schema, newest, ErrNewer)
	}
	return nil
}

func schemaNumber(ctx context.Context, db *sql.DB) (int, error) {
	var n int
	if err := db.QueryRowContext(ctx, readSchema).Scan(&n); err != nil {
		return 0, fmt.Errorf("read the number of its schema: %w", kind(err))
	}
	return n, nil
}

// newestSchema is the number of the last migration.
func newestSchema() int {
	newest := hashTokens.Version
	files, _ := fs.Glob(migrationFiles, "migrations/*.sql") // the pattern is in order
	for _, f := range files {
		if n, err := goose.NumericComponent(f); err == nil {
			newest = max(newest, n)
		}
	}
	return int(newest)
}

func contents(ctx context.Context, db *sql.DB) (Contents, error) {
	held := Contents{}
	var err error
	if held.Schema, err = schemaNumber(ctx, db); err != nil {
		return Contents{}, err
	}
	tables, err := queryAll(ctx, db, scanText, listTables)
	if err != nil {
		return Contents{}, kind(err)
	}
	for _, t := range tables {
		c := Count{Table: t}
		if err := db.QueryRowContext(ctx, `select count(*) from "`+t+`"`).Scan(&c.Rows); err != nil {
			return Contents{}, kind(err)
		}
		held.Rows = append(held.Rows, c)
	}
	return held, nil
}

// Restored is what a restored database holds, and where the one before it is now.
type Restored struct {
	Contents
	Before string // "" if there was none
}

// Restore puts a backup in the place of the database at the path. The backup stays as
// it is: a copy of it is checked and brought to the current schema first. Only then is
// the database that was there renamed to NAME.before-TIME; it is never deleted. A
// database that another program has open is [ErrBusy], and nothing is changed.
func Restore(ctx context.Context, path, from string, now time.Time) (Restored, error) {
	r, err := restore(ctx, path, from, now)
	if err != nil {
		return Restored{}, fmt.Errorf("restore %s from %s: %w", path, from, err)
	}
	return r, nil
}

func restore(ctx context.Context, path, from string, now time.Time) (r Restored, err error) {
	if sameFile(path, from) {
		return Restored{}, errors.New("this is the database itself, name a backup of it")
	}
	if _, err := Inspect(ctx, from); err != nil {
		return Restored{}, err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return Restored{}, err
	}
	stamp := now.UTC().Format("20060102T150405Z")
	fresh := path + ".restoring-" + stamp
	source, err := openQuietly(from, true)
	if err != nil {
		return Restored{}, err
	}
	_, err = copyTo(ctx, source, fresh)
	if err := errors.Join(err, source.Close()); err != nil {
		return Restored{}, err
	}
	defer func() {
		if err != nil {
			_ = os.Remove(fresh) // a copy of the backup, which is still there
		}
	}()
	if r.Contents, err = bringUp(ctx, fresh); err != nil {
		return Restored{}, err
	}
	if r.Before, err = moveAside(ctx, path, path+".before-"+stamp); err != nil {
		return Restored{}, err
	}
	if err := errors.Join(os.Rename(fresh, path), synced(path)); err != nil {
		if r.Before != "" {
			err = fmt.Errorf("%w; what was there before is now %s", err, r.Before)
		}
		return Restored{}, err
	}
	return r, nil
}

func sameFile(a, b string) bool {
	first, err := os.Stat(a)
	if err != nil {
		return false
	}
	second, err := os.Stat(b)
	return err == nil && os.SameFile(first, second)
}

// bringUp brings a database to the current schema and checks it after that.
func bringUp(ctx context.Context, path string) (Contents, error) {
	s, err := Open(ctx, path)
	if err != nil {
		return Contents{}, err
	}
	err = s.Integrity(ctx)
	held, unread := contents(ctx, s.read)
	return held, errors.Join(err, unread, s.Close(), synced(path))
}

// sideFiles are what SQLite may keep beside a database that was not closed. They belong
// to their database: beside another they would damage it.
var sideFiles = []string{"-wal", "-shm", "-journal"}

// moveAside renames the database at the path, if there is one, with all that belongs to
// it, and returns its new name.
func moveAside(ctx context.Context, path, to string) (string, error) {
	if _, err := os.Lstat(to); err == nil {
		return "", fmt.Errorf("%s: %w", to, fs.ErrExist)
	}
	if _, err := os.Stat(path); err == nil {
		if err := settle(ctx, path); err != nil {
			return "", err
		}
	}
	moved := ""
	for _, side := range append([]string{""}, sideFiles...) {
		err := os.Rename(path+side, to+side)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return "", err
		}
		if moved == "" {
			moved = to + side
		}
	}
	return moved, nil
}

// settle makes one file of a database and its log, which SQLite does only when no other
// program has it open. What cannot be read as a database has no log to care for.
func settle(ctx context.Context, path string) error {
	db, err := openQuietly(path, false)
	if err != nil {
		return err
	}
	defer db.Close()
	if err = checkOwner(ctx, db); err == nil {
		_, err = db.ExecContext(ctx, oneFile)
	}
	switch resultCode(err) & 0xff {
	case codeCorrupt, codeNotADatabase:
		return nil
	case codeBusy:
		return fmt.Errorf("%w: the program that uses %s must be stopped first", ErrBusy, path)
	}
	return kind(err)
}
