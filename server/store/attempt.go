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
	Kind     string // of scenario; empty for one kept before there were kinds but plan
	Wording  string // of the scenario: "" for the course's own, else of a material and its version
	Seed     uint64 // of the case
	Version  string // of the rules and the table it was judged by
	Plan     []byte // the answer: for a plan its file (YAML), kept byte for byte
	Report   []byte // the report on a plan (JSON), kept byte for byte
	Result   []byte // what was said to the answer (JSON), kept byte for byte
	Verdict  string // the verdict of the report
	Passed   bool   // whether the scenario counts as passed
	At       time.Time
}

const attemptColumns = `id, visitor, scenario, plan, report, verdict, passed, at, kind, seed, version, result, wording`

const saveAttempt = `insert into attempts (` + attemptColumns + `) values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`

// SaveAttempt appends an attempt. It never overwrites: an id in use is
// [ErrExists].
func (s *Store) SaveAttempt(ctx context.Context, a Attempt) error {
	err := s.writeFor(ctx, a.Visitor, saveAttempt,
		a.ID, a.Visitor, a.Scenario, blob(a.Plan), blob(a.Report), a.Verdict, a.Passed, timeText(a.At), a.Kind, int64(a.Seed), a.Version, blob(a.Result), a.Wording)
	if err != nil {
		return fmt.Errorf("save attempt %s: %w", a.ID, err)
	}
	return nil
}

const getAttempt = `select ` + attemptColumns + ` from attempts where visitor = ? and id = ?`

// Attempt returns one attempt of the visitor, or [ErrNotFound] if there is no
// such attempt or it is another visitor's.
func (s *Store) Attempt(ctx context.Context, visitor, id string) (Attempt, error) {
	a, err := scanAttempt(s.read.QueryRowContext(ctx, getAttempt, visitor, id))
	if err != nil {
		return Attempt{}, fmt.Errorf("attempt %s: %w", id, kind(err))
	}
	return a, nil
}

const listAttempts = `select ` + attemptColumns + ` from attempts where visitor = ? order by at desc, id`

// ListAttempts returns all attempts of the visitor, the latest first.
func (s *Store) ListAttempts(ctx context.Context, visitor string) ([]Attempt, error) {
	all, err := queryAll(ctx, s.read, scanAttempt, listAttempts, visitor)
	if err != nil {
		return nil, fmt.Errorf("list attempts: %w", kind(err))
	}
	return all, nil
}

const lastAttempt = `select ` + attemptColumns + ` from attempts where visitor = ? and scenario = ? order by at desc, id limit 1`

// LastAttempt returns the latest attempt of the visitor at a scenario, or
// [ErrNotFound].
func (s *Store) LastAttempt(ctx context.Context, visitor, scenario string) (Attempt, error) {
	a, err := scanAttempt(s.read.QueryRowContext(ctx, lastAttempt, visitor, scenario))
	if err != nil {
		return Attempt{}, fmt.Errorf("last attempt at %s: %w", scenario, kind(err))
	}
	return a, nil
}

const deleteAttempt = `delete from attempts where visitor = ? and id = ?`

// DeleteAttempt deletes one attempt of the visitor. It returns [ErrNotFound] if
// there is no such attempt or it is another visitor's.
func (s *Store) DeleteAttempt(ctx context.Context, visitor, id string) error {
	if err := s.changeAlone(ctx, deleteAttempt, visitor, id); err != nil {
		return fmt.Errorf("delete attempt %s: %w", id, err)
	}
	return nil
}

func scanAttempt(r row) (Attempt, error) {
	var a Attempt
	var at string
	var seed int64
	if err := r.Scan(&a.ID, &a.Visitor, &a.Scenario, &a.Plan, &a.Report, &a.Verdict, &a.Passed, &at, &a.Kind, &seed, &a.Version, &a.Result, &a.Wording); err != nil {
		return Attempt{}, err
	}
	a.Seed = uint64(seed)
	var err error
	a.At, err = time.Parse(timeLayout, at)
	return a, err
}
