package store

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// The roles a person can have.
const (
	Instructor = "instructor"
	Student    = "student"
)

// Person is a visitor with a name and a password.
type Person struct {
	Visitor  string // whose work is the person's
	Role     string // Instructor or Student
	Name     string
	Password string // hashed
	Sessions int    // sessions begun under another number have ended
	Joined   time.Time
}

// KnownAs is a name as names are compared: one person, however it is capitalized,
// spaced or composed.
//
// It is the compatibility caseless match of the Unicode Standard, D146, composed in the
// end, without spaces around it.
func KnownAs(name string) string {
	fold := cases.Fold()
	folded := norm.NFKC.String(fold.String(norm.NFKD.String(fold.String(norm.NFD.String(name)))))
	return strings.Join(strings.Fields(folded), " ")
}

const (
	personColumns   = `visitor, role, name, password, sessions, joined`
	addPerson       = `insert into people (visitor, role, name, known_as, password, joined) values (?, ?, ?, ?, ?, ?)`
	getPerson       = `select ` + personColumns + ` from people where visitor = ?`
	getPersonByName = `select ` + personColumns + ` from people where known_as = ?`
	listInstructors = `select ` + personColumns + ` from people where role = 'instructor' order by known_as`
	setPassword     = `update people set password = ?, sessions = sessions + 1 where visitor = ?`
)

// AddPerson gives a visitor a name. A name that is taken, or a visitor who has one, is
// [ErrExists].
func (s *Store) AddPerson(ctx context.Context, p Person) error {
	if err := s.writeFor(ctx, p.Visitor, addPerson, p.Visitor, p.Role, p.Name, KnownAs(p.Name), p.Password, timeText(p.Joined)); err != nil {
		return fmt.Errorf("add %s: %w", p.Role, err)
	}
	return nil
}

// Person returns the person who is this visitor, or [ErrNotFound].
func (s *Store) Person(ctx context.Context, visitor string) (Person, error) {
	p, err := scanPerson(s.read.QueryRowContext(ctx, getPerson, visitor))
	if err != nil {
		return Person{}, fmt.Errorf("person: %w", kind(err))
	}
	return p, nil
}

// PersonByName returns the person of that name, or [ErrNotFound].
func (s *Store) PersonByName(ctx context.Context, name string) (Person, error) {
	p, err := scanPerson(s.read.QueryRowContext(ctx, getPersonByName, KnownAs(name)))
	if err != nil {
		return Person{}, fmt.Errorf("person by name: %w", kind(err))
	}
	return p, nil
}

// Instructors lists all instructors by name.
func (s *Store) Instructors(ctx context.Context) ([]Person, error) {
	all, err := queryAll(ctx, s.read, scanPerson, listInstructors)
	if err != nil {
		return nil, fmt.Errorf("list instructors: %w", kind(err))
	}
	return all, nil
}

// SetPassword keeps a new hashed password and ends all sessions of the person. It
// returns the number under which sessions begin from now on.
func (s *Store) SetPassword(ctx context.Context, visitor, password string) (int, error) {
	if err := s.changeAlone(ctx, setPassword, password, visitor); err != nil {
		return 0, fmt.Errorf("set password: %w", err)
	}
	p, err := s.Person(ctx, visitor)
	return p.Sessions, err
}

func scanPerson(r row) (Person, error) {
	var p Person
	var joined string
	if err := r.Scan(&p.Visitor, &p.Role, &p.Name, &p.Password, &p.Sessions, &joined); err != nil {
		return Person{}, err
	}
	var err error
	p.Joined, err = time.Parse(timeLayout, joined)
	return p, err
}

const (
	addCode   = `insert into once_codes (hash, person, expires) values (?, ?, ?)`
	dropCodes = `delete from once_codes where person is ?`
	getCode   = `select coalesce(person, '') from once_codes where hash = ? and expires > ?`
	takeCode  = `delete from once_codes where hash = ? and person is ? and expires > ?`
	dropOld   = `delete from once_codes where expires <= ?`
)

// GiveCode keeps a code that works once, until it expires, in place of earlier ones of
// the same kind. For a person it sets a new password; with person "" it makes an
// instructor.
func (s *Store) GiveCode(ctx context.Context, code, person string, now, expires time.Time) error {
	err := s.together(ctx, func(tx *sql.Tx) error {
		for _, step := range []struct {
			statement string
			args      []any
		}{
			{dropOld, []any{timeText(now)}},
			{dropCodes, []any{orNull(person)}},
			{addCode, []any{hashed(code), orNull(person), timeText(expires)}},
		} {
			if _, err := tx.ExecContext(ctx, step.statement, step.args...); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("give a code: %w", err)
	}
	return nil
}

// Code says for whom a code is, "" for one that makes an instructor, or
// [ErrNotFound] for one that is used, too old or none.
func (s *Store) Code(ctx context.Context, code string, now time.Time) (person string, err error) {
	err = s.read.QueryRowContext(ctx, getCode, hashed(code), timeText(now)).Scan(&person)
	if err != nil {
		return "", fmt.Errorf("code: %w", kind(err))
	}
	return person, nil
}

// SetUp uses the code that makes an instructor. Code and person, or neither: a name
// that is taken leaves the code as it was.
func (s *Store) SetUp(ctx context.Context, code string, p Person, now time.Time) error {
	err := s.together(ctx, func(tx *sql.Tx) error {
		if err := s.changeOne(ctx, tx, takeCode, hashed(code), nil, timeText(now)); err != nil {
			return err
		}
		return addPersonIn(ctx, tx, p)
	})
	if err != nil {
		return fmt.Errorf("set up: %w", err)
	}
	return nil
}

// UseCode sets the password of the person a code is for and ends all sessions of that
// person.
func (s *Store) UseCode(ctx context.Context, code, person, password string, now time.Time) error {
	err := s.together(ctx, func(tx *sql.Tx) error {
		if err := s.changeOne(ctx, tx, takeCode, hashed(code), person, timeText(now)); err != nil {
			return err
		}
		return s.changeOne(ctx, tx, setPassword, password, person)
	})
	if err != nil {
		return fmt.Errorf("use a code: %w", err)
	}
	return nil
}

func addPersonIn(ctx context.Context, tx *sql.Tx, p Person) error {
	if _, err := tx.ExecContext(ctx, ensureVisitor, p.Visitor); err != nil {
		return err
	}
	_, err := tx.ExecContext(ctx, addPerson, p.Visitor, p.Role, p.Name, KnownAs(p.Name), p.Password, timeText(p.Joined))
	return err
}

// orNull stores "" as null.
func orNull(text string) any {
	if text == "" {
		return nil
	}
	return text
}
