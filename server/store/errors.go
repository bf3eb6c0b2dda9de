package store

import (
	"database/sql"
	"errors"
	"fmt"
)

// The kinds of error a caller can do something about. Every error of this
// package that is of such a kind wraps it, for errors.Is.
var (
	// ErrNotFound means there is no such thing, or it is another visitor's.
	ErrNotFound = errors.New("not found")
	// ErrExists means the id is taken; what is stored under it is unchanged.
	ErrExists = errors.New("already stored")
	// ErrBusy means another program held the database for longer than the
	// busy timeout; nothing was changed and trying again may succeed.
	ErrBusy = errors.New("the database is busy, try again")
	// ErrFull means the disk is full; nothing was changed.
	ErrFull = errors.New("no room left on the disk for the database")
	// ErrUnwiped means that something is deleted and that its text may still be in the
	// file; [Store.SweepSessions] tries again to wipe it.
	ErrUnwiped = errors.New("deleted, but not yet wiped from the file")
	// ErrNewer means the file was written by a newer version of the program.
	ErrNewer = errors.New("the database is newer than this program, start the newer program or restore an older copy of the file")
)

// SQLite result codes, https://www.sqlite.org/rescode.html. The low byte is
// the primary code, the rest says more.
const (
	codeBusy         = 5
	codeCorrupt      = 11
	codeFull         = 13
	codePrimaryKey   = 19 | 6<<8
	codeUnique       = 19 | 8<<8
	codeNotADatabase = 26
)

// kind puts the sentinel error in front of an error that is of its kind.
func kind(err error) error {
	switch code := resultCode(err); {
	case errors.Is(err, sql.ErrNoRows):
		return ErrNotFound
	case code == codeUnique, code == codePrimaryKey:
		return fmt.Errorf("%w: %w", ErrExists, err)
	case code&0xff == codeBusy:
		return fmt.Errorf("%w: %w", ErrBusy, err)
	case code&0xff == codeFull:
		return fmt.Errorf("%w: %w", ErrFull, err)
	}
	return err
}
