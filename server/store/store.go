package store

import (
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"
)

const (
	// busyTimeout is how long a connection waits for another program that is
	// using the same file.
	busyTimeout = 5 * time.Second
	// readers is the number of connections for reading. A page reads for
	// a millisecond or two, so a few serve a class.
	readers = 4
	// timeLayout is RFC 3339 in UTC with all nine digits of the second, so
	// that the text sorts as the times do.
	timeLayout = "2006-01-02T15:04:05.000000000Z"
)

// Store is the open database. Its methods may be called from several
// goroutines at once.
type Store struct {
	write  *sql.DB // one connection
	writer *writer // through which all changes go
	read   *sql.DB // several connections, query_only
}

// NewID returns a new random id of 26 lower-case letters and digits, for a
// visitor, a saved plan or an attempt. It cannot be guessed.
func NewID() string {
	return strings.ToLower(rand.Text())
}

// Open opens the database at the path and brings it to the current schema. The
// folder and the file are made if they do not exist, readable by their owner
// only. It returns [ErrNewer] if a newer version of the program has already
// changed the schema, and refuses the database of another program.
func Open(ctx context.Context, path string) (*Store, error) {
	s, err := open(ctx, path)
	if err != nil {
		return nil, fmt.Errorf("open database %s: %w", path, err)
	}
	return s, nil
}

func open(ctx context.Context, path string) (*Store, error) {
	if path == "" {
		return nil, errors.New("the path is empty, name a file")
	}
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	if err := createFile(path); err != nil {
		return nil, err
	}
	if err := refuseForeign(ctx, path); err != nil {
		return nil, kind(err)
	}

	write, err := sql.Open(driverName, dataSource(path, false))
	if err != nil {
		return nil, err
	}
	write.SetMaxOpenConns(1)
	if err := connect(ctx, write); err != nil {
		return nil, errors.Join(kind(err), write.Close())
	}
	if err := migrate(ctx, write); err != nil {
		return nil, errors.Join(kind(err), write.Close())
	}

	read, err := sql.Open(driverName, dataSource(path, true))
	if err != nil {
		return nil, errors.Join(err, write.Close())
	}
	read.SetMaxOpenConns(readers)
	read.SetMaxIdleConns(readers)
	return &Store{write: write, writer: newWriter(write, mostTogether), read: read}, nil
}

// connect makes the first connection, which turns a new file into a WAL one.
// SQLite does not wait for another program that is doing the same at that
// moment, so this tries again until the busy timeout is over.
func connect(ctx context.Context, db *sql.DB) error {
	ctx, cancel := context.WithTimeout(ctx, busyTimeout)
	defer cancel()
	for {
		err := db.PingContext(ctx)
		if resultCode(err)&0xff != codeBusy {
			return err
		}
		select {
		case <-ctx.Done():
			return err
		case <-time.After(10 * time.Millisecond):
		}
	}
}

// createFile makes the folder and an empty file, so that both are private from
// the start. SQLite gives its side files the permissions of the main file. A
// file that exists is not even opened: closing it would release the locks that
// another Store of this process holds on it.
func createFile(path string) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return err
	}
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return nil
	}
	if err != nil {
		return err
	}
	return f.Close()
}

// fileURI names a file to SQLite. The URI form is the only one in which a path
// may hold a question mark, a per cent sign or a number sign.
func fileURI(path string, query url.Values) string {
	path = filepath.ToSlash(path)
	if !strings.HasPrefix(path, "/") {
		path = "/" + path // C:/folder becomes /C:/folder
	}
	u := url.URL{Scheme: "file", Path: path, RawQuery: query.Encode()}
	return u.String()
}

// Close waits for the changes under way, moves what is still in the write-ahead log
// into the database file and closes it. No other method may be called afterwards.
func (s *Store) Close() error {
	s.writer.close()
	err := errors.Join(s.read.Close(), s.checkpoint(context.Background()), s.write.Close())
	if err != nil {
		return fmt.Errorf("close database: %w", kind(err))
	}
	return nil
}

const pingSchema = `select count(*) from sqlite_schema`

// Ping says whether the database can be read.
func (s *Store) Ping(ctx context.Context) error {
	var n int
	if err := s.read.QueryRowContext(ctx, pingSchema).Scan(&n); err != nil {
		return fmt.Errorf("ping database: %w", kind(err))
	}
	return nil
}

const (
	integrityCheck  = `select integrity_check from pragma_integrity_check`
	foreignKeyCheck = `select 'row ' || coalesce(rowid, '?') || ' of ' || "table" || ' refers to a missing row of ' || parent from pragma_foreign_key_check`
)

// Integrity reads the whole file and returns an error that lists what is
// damaged, or nil.
func (s *Store) Integrity(ctx context.Context) error {
	return whole(ctx, s.read)
}

func whole(ctx context.Context, db *sql.DB) error {
	var problems []error
	for _, query := range []string{integrityCheck, foreignKeyCheck} {
		lines, err := queryAll(ctx, db, scanText, query)
		if err != nil {
			return fmt.Errorf("check database: %w", kind(err))
		}
		for _, line := range lines {
			if line != "ok" {
				problems = append(problems, errors.New(line))
			}
		}
	}
	if problems != nil {
		return fmt.Errorf("check database: damaged, restore a copy of the file: %w", errors.Join(problems...))
	}
	return nil
}

const truncateLog = `pragma wal_checkpoint(truncate)`

// checkpoint moves the write-ahead log into the database file and empties it.
// If a reader is at work for longer than the busy timeout the log stays, which
// is no error: the next checkpoint takes it.
func (s *Store) checkpoint(ctx context.Context) error {
	_, err := s.write.ExecContext(ctx, truncateLog)
	return err
}

// changeOne runs a statement, among others of one transaction, that must change exactly
// one row; none is [ErrNotFound].
func (s *Store) changeOne(ctx context.Context, tx *sql.Tx, statement string, args ...any) error {
	result, err := tx.ExecContext(ctx, statement, args...)
	if err != nil {
		return err
	}
	n, err := result.RowsAffected()
	if err != nil {
		return err
	}
	if n == 0 {
		return ErrNotFound
	}
	return nil
}

// row is one row of a result, from QueryRow or Query alike.
type row interface {
	Scan(dest ...any) error
}

// queryAll scans every row of a result.
func queryAll[T any](ctx context.Context, db *sql.DB, scan func(row) (T, error), query string, args ...any) ([]T, error) {
	rows, err := db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []T
	for rows.Next() {
		t, err := scan(rows)
		if err != nil {
			return nil, err
		}
		all = append(all, t)
	}
	return all, rows.Err()
}

func scanText(r row) (string, error) {
	var s string
	err := r.Scan(&s)
	return s, err
}

// timeText is the time as it is stored.
func timeText(t time.Time) string {
	return t.UTC().Format(timeLayout)
}

// blob returns b, or an empty slice for nil, which a driver would store as
// NULL.
func blob(b []byte) []byte {
	if b == nil {
		return []byte{}
	}
	return b
}
