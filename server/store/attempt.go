package store

import (
	"context"
	"fmt"
	"time"
)

// Attempt is one try of a visitor at a scenario, with the report it was given
// then.
type Attempt struct {
	ID       string // from [NewID]
	Visitor  string
	Scenario string // slug of the scenario
	Plan     []byte // the plan file (YAML), kept byte for byte
	Report   []byte // the report (JSON), kept byte for byte
	Verdict  string // the verdict of the report
	Passed   bool   // whether the scenario counts as passed
	At       time.Time
}

const saveAttempt = `insert into attempts (id, visitor, scenario, plan, report, verdict, passed, at) values (?, ?, ?, ?, ?, ?, ?, ?)`

// SaveAttempt appends an attempt. It never overwrites: an id in use is
// [ErrExists].
func (s *Store) SaveAttempt(ctx context.Context, a Attempt) error {
	err := s.writeFor(ctx, a.Visitor, saveAttempt,
		a.ID, a.Visitor, a.Scenario, blob(a.Plan), blob(a.Report), a.Verdict, a.Passed, timeText(a.At))
	if err != nil {
		return fmt.Errorf("save attempt %s: %w", a.ID, err)
	}
	return nil
}

const getAttempt = `select id, visitor, scenario, plan, report, verdict, passed, at from attempts where visitor = ? and id = ?`

// Attempt returns one attempt of the visitor, or [ErrNotFound] if there is no
// such attempt or it is another visitor's.
func (s *Store) Attempt(ctx context.Context, visitor, id string) (Attempt, error) {
	a, err := scanAttempt(s.read.QueryRowContext(ctx, getAttempt, visitor, id))
	if err != nil {
		return Attempt{}, fmt.Errorf("attempt %s: %w", id, kind(err))
	}
	return a, nil
}

const listAttempts = `select id, visitor, scenario, plan, report, verdict, passed, at from attempts where visitor = ? order by at desc, id`

// ListAttempts returns all attempts of the visitor, the latest first.
func (s *Store) ListAttempts(ctx context.Context, visitor string) ([]Attempt, error) {
	all, err := queryAll(ctx, s.read, scanAttempt, listAttempts, visitor)
	if err != nil {
		return nil, fmt.Errorf("list attempts: %w", kind(err))
	}
	return all, nil
}

const deleteAttempt = `delete from attempts where visitor = ? and id = ?`

// DeleteAttempt deletes one attempt of the visitor. It returns [ErrNotFound] if
// there is no such attempt or it is another visitor's.
func (s *Store) DeleteAttempt(ctx context.Context, visitor, id string) error {
	if err := s.deleteOne(ctx, deleteAttempt, visitor, id); err != nil {
		return fmt.Errorf("delete attempt %s: %w", id, err)
	}
	return nil
}

func scanAttempt(r row) (Attempt, error) {
	var a Attempt
	var at string
	if err := r.Scan(&a.ID, &a.Visitor, &a.Scenario, &a.Plan, &a.Report, &a.Verdict, &a.Passed, &at); err != nil {
		return Attempt{}, err
	}
	var err error
	a.At, err = time.Parse(timeLayout, at)
	return a, err
}
