package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Class is a course that an instructor holds.
type Class struct {
	ID         string // from [NewID]
	Instructor string // visitor of the instructor
	Name       string
	Starts     string // day, as 2026-08-20
	Zone       string // name of a time zone
	AltitudeFt float64
	CanningDay string // day, or "" while it is not set
	Weeks      int
	Code       string // with which students join
	CodeUntil  time.Time
	CodeOpen   bool
	Made       time.Time
}

// Assignment is something the members of a class are to do.
type Assignment struct {
	ID       string // from [NewID]
	Class    string
	Kind     string // lesson, questions, scenario or batch
	About    string // the lesson's or scenario's slug, the food of a batch
	Title    string
	Note     string // what the instructor says about it
	Settings []byte // JSON
	Opens    time.Time
	Due      time.Time
	For      []string // visitors; when kept, none means everyone
	Everyone bool     // whether it was kept for everyone: those it was for may have left
	Made     time.Time
}

const (
	classColumns = `id, instructor, name, starts, zone, altitude_ft, canning_day, weeks, code, code_expires, code_open, made`
	addClass     = `insert into classes (` + classColumns + `) values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`
	changeClass  = `update classes set name = ?, starts = ?, zone = ?, altitude_ft = ?, canning_day = ?, weeks = ? where id = ? and instructor = ?`
	setCode      = `update classes set code = ?, code_expires = ?, code_open = ? where id = ? and instructor = ?`
	getClass     = `select ` + classColumns + ` from classes where id = ?`
	getByCode    = `select ` + classColumns + ` from classes where code = ? and code_open = 1 and code_expires > ?`
	listHeld     = `select ` + classColumns + ` from classes where instructor = ? order by starts desc, name, id`
	listJoined   = `select ` + classColumns + ` from classes where id in (select class from members where person = ?) order by starts desc, name, id`
	firstFeed    = `insert into feeds (secret, class, person) values (?, ?, ?) on conflict (class, person) do nothing`
	setFeed      = `insert into feeds (secret, class, person) values (?, ?, ?) on conflict (class, person) do update set secret = excluded.secret`
	getFeed      = `select secret from feeds where class = ? and person = ?`
	getByFeed    = `select class, person from feeds f where secret = ? and (exists (select 1 from members m where m.class = f.class and m.person = f.person) or exists (select 1 from classes c where c.id = f.class and c.instructor = f.person))`
)

// AddClass keeps a new class.
func (s *Store) AddClass(ctx context.Context, c Class) error {
	err := s.change(ctx, addClass, c.ID, c.Instructor, c.Name, c.Starts, c.Zone, c.AltitudeFt, c.CanningDay, c.Weeks, c.Code, timeText(c.CodeUntil), c.CodeOpen, timeText(c.Made))
	if err != nil {
		return fmt.Errorf("add class: %w", err)
	}
	return nil
}

// ChangeClass changes what an instructor says of a class. A class of another
// instructor is [ErrNotFound].
func (s *Store) ChangeClass(ctx context.Context, c Class) error {
	if err := s.changeAlone(ctx, changeClass, c.Name, c.Starts, c.Zone, c.AltitudeFt, c.CanningDay, c.Weeks, c.ID, c.Instructor); err != nil {
		return fmt.Errorf("change class: %w", err)
	}
	return nil
}

// SetClassCode sets the code with which students join, until when, and whether it is
// open.
func (s *Store) SetClassCode(ctx context.Context, c Class) error {
	if err := s.changeAlone(ctx, setCode, c.Code, timeText(c.CodeUntil), c.CodeOpen, c.ID, c.Instructor); err != nil {
		return fmt.Errorf("set the class code: %w", err)
	}
	return nil
}

// SetFeed gives the calendar of a class, as one person sees it, a new secret in its
// address; the old address ends.
func (s *Store) SetFeed(ctx context.Context, class, person, secret string) error {
	if err := s.change(ctx, setFeed, secret, class, person); err != nil {
		return fmt.Errorf("set the calendar's address: %w", err)
	}
	return nil
}

// FirstFeed gives the calendar a secret if it has none yet, and returns the one it has.
func (s *Store) FirstFeed(ctx context.Context, class, person, secret string) (string, error) {
	if err := s.change(ctx, firstFeed, secret, class, person); err != nil {
		return "", fmt.Errorf("set the calendar's first address: %w", err)
	}
	return s.Feed(ctx, class, person)
}

// Feed returns the secret in the address of the calendar, "" if it has none yet.
func (s *Store) Feed(ctx context.Context, class, person string) (string, error) {
	var secret string
	err := s.read.QueryRowContext(ctx, getFeed, class, person).Scan(&secret)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return "", fmt.Errorf("the calendar's address: %w", kind(err))
	}
	return secret, nil
}

// FeedOf returns whose calendar has the secret in its address, or [ErrNotFound]; so it
// is for somebody who has left the class.
func (s *Store) FeedOf(ctx context.Context, secret string) (class, person string, err error) {
	if err := s.read.QueryRowContext(ctx, getByFeed, secret).Scan(&class, &person); err != nil {
		return "", "", fmt.Errorf("calendar: %w", kind(err))
	}
	return class, person, nil
}

// Class returns a class, or [ErrNotFound].
func (s *Store) Class(ctx context.Context, id string) (Class, error) {
	return s.oneClass(ctx, "class", getClass, id)
}

// ClassByCode returns the class that a code opens now, or [ErrNotFound].
func (s *Store) ClassByCode(ctx context.Context, code string, now time.Time) (Class, error) {
	return s.oneClass(ctx, "class by code", getByCode, code, timeText(now))
}

// Held lists the classes of an instructor, the latest first.
func (s *Store) Held(ctx context.Context, instructor string) ([]Class, error) {
	return s.classes(ctx, "list classes held", listHeld, instructor)
}

// Joined lists the classes a student is a member of, the latest first.
func (s *Store) Joined(ctx context.Context, person string) ([]Class, error) {
	return s.classes(ctx, "list classes joined", listJoined, person)
}

func (s *Store) oneClass(ctx context.Context, what, query string, args ...any) (Class, error) {
	c, err := scanClass(s.read.QueryRowContext(ctx, query, args...))
	if err != nil {
		return Class{}, fmt.Errorf("%s: %w", what, kind(err))
	}
	return c, nil
}

func (s *Store) classes(ctx context.Context, what, query string, args ...any) ([]Class, error) {
	all, err := queryAll(ctx, s.read, scanClass, query, args...)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", what, kind(err))
	}
	return all, nil
}

func scanClass(r row) (Class, error) {
	var c Class
	var until, made string
	if err := r.Scan(&c.ID, &c.Instructor, &c.Name, &c.Starts, &c.Zone, &c.AltitudeFt, &c.CanningDay, &c.Weeks, &c.Code, &until, &c.CodeOpen, &made); err != nil {
		return Class{}, err
	}
	var err error
	if c.CodeUntil, err = time.Parse(timeLayout, until); err != nil {
		return Class{}, err
	}
	c.Made, err = time.Parse(timeLayout, made)
	return c, err
}

const (
	addMember    = `insert into members (class, person, joined) values (?, ?, ?) on conflict do nothing`
	removeMember = `delete from members where class = ? and person = ?`
	dropFeed     = `delete from feeds where person = ? and class = ?`
	unassign     = `delete from assigned where person = ? and assignment in (select id from assignments where class = ?)`
	listMembers  = `select p.visitor, p.role, p.name, p.password, p.sessions, m.joined from members m join people p on p.visitor = m.person where m.class = ? order by p.known_as`
	isMember     = `select count(*) from members where class = ? and person = ?`
)

// Join makes a student, who is already known or comes with p, a member of a class.
// Joining again changes nothing.
func (s *Store) Join(ctx context.Context, class string, p Person, known bool) error {
	err := s.together(ctx, func(tx *sql.Tx) error {
		if !known {
			if err := addPersonIn(ctx, tx, p); err != nil {
				return err
			}
		}
		_, err := tx.ExecContext(ctx, addMember, class, p.Visitor, timeText(p.Joined))
		return err
	})
	if err != nil {
		return fmt.Errorf("join: %w", err)
	}
	return nil
}

// Leave takes a student out of a class. The student's work stays the student's.
func (s *Store) Leave(ctx context.Context, class, person string) error {
	err := s.together(ctx, func(tx *sql.Tx) error {
		for _, statement := range []string{unassign, dropFeed} {
			if _, err := tx.ExecContext(ctx, statement, person, class); err != nil {
				return err
			}
		}
		return s.changeOne(ctx, tx, removeMember, class, person)
	})
	if err != nil {
		return fmt.Errorf("leave: %w", err)
	}
	return nil
}

// Members lists the students of a class by name. Joined is when they joined it.
func (s *Store) Members(ctx context.Context, class string) ([]Person, error) {
	all, err := queryAll(ctx, s.read, scanPerson, listMembers, class)
	if err != nil {
		return nil, fmt.Errorf("list members: %w", kind(err))
	}
	return all, nil
}

// IsMember says whether a student belongs to a class.
func (s *Store) IsMember(ctx context.Context, class, person string) (bool, error) {
	var n int
	if err := s.read.QueryRowContext(ctx, isMember, class, person).Scan(&n); err != nil {
		return false, fmt.Errorf("is member: %w", kind(err))
	}
	return n > 0, nil
}

const (
	assignmentColumns = `id, class, kind, about, title, note, settings, opens, due, made`
	addAssignment     = `insert into assignments (` + assignmentColumns + `, everyone) values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`
	sameAssigned      = `select count(*) from assignments a where class = ? and kind = ? and about = ? and note = ? and settings = ? and opens = ? and due = ? and everyone = ? and coalesce((select group_concat(person, ' ') from (select person from assigned where assignment = a.id order by person)), '') = ?`
	assignTo          = `insert into assigned (assignment, person) select ?, person from members where class = ? and person = ?`
	removeAssignment  = `delete from assignments where class = ? and id = ? and id not in (select assignment from batches)`
	isAssigned        = `select count(*) from assignments where class = ? and id = ?`
	listAssignments   = `select ` + assignmentColumns + `, everyone, (select group_concat(person, ' ') from assigned where assignment = id) from assignments where class = ? order by due, made, id`
	listAssignedTo    = `select ` + assignmentColumns + `, everyone, null from assignments where class = ? and (everyone = 1 or id in (select assignment from assigned where person = ?)) order by due, made, id`
	getAssignment     = `select ` + assignmentColumns + `, everyone, (select group_concat(person, ' ') from assigned where assignment = id) from assignments where id = ?`
)

// Assign keeps an assignment. Whoever it is for must be a member, or it is
// [ErrNotFound] and nothing is kept. One just like another, as of a form that was sent
// twice, is kept once.
func (s *Store) Assign(ctx context.Context, a Assignment) error {
	people := slices.Sorted(slices.Values(a.For))
	err := s.together(ctx, func(tx *sql.Tx) error {
		var same int
		if err := tx.QueryRowContext(ctx, sameAssigned, a.Class, a.Kind, a.About, a.Note, string(a.Settings), timeText(a.Opens), timeText(a.Due), len(a.For) == 0, strings.Join(people, " ")).Scan(&same); err != nil || same > 0 {
			return err
		}
		if _, err := tx.ExecContext(ctx, addAssignment, a.ID, a.Class, a.Kind, a.About, a.Title, a.Note, string(a.Settings), timeText(a.Opens), timeText(a.Due), timeText(a.Made), len(a.For) == 0); err != nil {
			return err
		}
		for _, person := range people {
			if err := s.changeOne(ctx, tx, assignTo, a.ID, a.Class, person); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("assign: %w", err)
	}
	return nil
}

// TakeBack removes an assignment. What was answered for it stays; one that has batches
// is [ErrChanged] and stays, so that none of them is lost.
func (s *Store) TakeBack(ctx context.Context, class, id string) error {
	err := s.changeAlone(ctx, removeAssignment, class, id)
	if errors.Is(err, ErrNotFound) {
		var n int
		if err := s.read.QueryRowContext(ctx, isAssigned, class, id).Scan(&n); err != nil {
			return fmt.Errorf("take back an assignment: %w", kind(err))
		}
		if n > 0 {
			err = ErrChanged
		}
	}
	if err != nil {
		return fmt.Errorf("take back an assignment: %w", err)
	}
	return nil
}

// Assignment returns one assignment, or [ErrNotFound].
func (s *Store) Assignment(ctx context.Context, id string) (Assignment, error) {
	a, err := scanAssignment(s.read.QueryRowContext(ctx, getAssignment, id))
	if err != nil {
		return Assignment{}, fmt.Errorf("assignment: %w", kind(err))
	}
	return a, nil
}

// Assignments lists all assignments of a class, the first due first.
func (s *Store) Assignments(ctx context.Context, class string) ([]Assignment, error) {
	return s.assignments(ctx, listAssignments, class)
}

// AssignedTo lists what a class has for one member, the first due first.
func (s *Store) AssignedTo(ctx context.Context, class, person string) ([]Assignment, error) {
	return s.assignments(ctx, listAssignedTo, class, person)
}

func (s *Store) assignments(ctx context.Context, query string, args ...any) ([]Assignment, error) {
	all, err := queryAll(ctx, s.read, scanAssignment, query, args...)
	if err != nil {
		return nil, fmt.Errorf("list assignments: %w", kind(err))
	}
	return all, nil
}

func scanAssignment(r row) (Assignment, error) {
	var a Assignment
	var opens, due, made string
	var people sql.NullString
	if err := r.Scan(&a.ID, &a.Class, &a.Kind, &a.About, &a.Title, &a.Note, &a.Settings, &opens, &due, &made, &a.Everyone, &people); err != nil {
		return Assignment{}, err
	}
	a.For = strings.Fields(people.String)
	for _, t := range []struct {
		to   *time.Time
		text string
	}{{&a.Opens, opens}, {&a.Due, due}, {&a.Made, made}} {
		var err error
		if *t.to, err = time.Parse(timeLayout, t.text); err != nil {
			return Assignment{}, err
		}
	}
	return a, nil
}
