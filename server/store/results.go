package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// What the members of a class did, each kind in one query for the whole class. until is
// not included; a zero time is no limit.

const (
	classAnswers  = `select ` + answerColumns + ` from answers where visitor in (select person from members where class = ?1) and (?2 = '' or at < ?2) order by at, id`
	classAttempts = `select ` + attemptColumns + ` from attempts where visitor in (select person from members where class = ?1) and (?2 = '' or at < ?2) order by at, id`
	classPlans    = `select id, visitor, title, plan, report, verdict, at from plans where visitor in (select person from members where class = ?1) and (?2 = '' or at < ?2) order by at, id`
	classSittings = `select id, visitor, title, questions, begun, submitted from sittings where visitor in (select person from members where class = ?1) order by begun, id`
	memberZones   = `select v.id, v.time_zone from members m join visitors v on v.id = m.person where m.class = ?`
)

// ClassAnswers lists the answers of all members of a class, the earliest first.
func (s *Store) ClassAnswers(ctx context.Context, class string, until time.Time) ([]Answer, error) {
	return ofClass(ctx, s, "answers", scanAnswer, classAnswers, class, until)
}

// ClassAttempts lists the attempts of all members of a class, the earliest first.
func (s *Store) ClassAttempts(ctx context.Context, class string, until time.Time) ([]Attempt, error) {
	return ofClass(ctx, s, "attempts", scanAttempt, classAttempts, class, until)
}

// ClassPlans lists the kept plans of all members of a class, the earliest first.
func (s *Store) ClassPlans(ctx context.Context, class string, until time.Time) ([]SavedPlan, error) {
	return ofClass(ctx, s, "plans", scanPlan, classPlans, class, until)
}

// ClassSittings lists the sets of questions that members of a class began, the earliest
// first, without the answers in them: those that were handed in are among all answers.
func (s *Store) ClassSittings(ctx context.Context, class string) ([]Sitting, error) {
	all, err := queryAll(ctx, s.read, scanSitting, classSittings, class)
	if err != nil {
		return nil, fmt.Errorf("list the sittings of a class: %w", kind(err))
	}
	return all, nil
}

func ofClass[T any](ctx context.Context, s *Store, what string, scan func(row) (T, error), query, class string, until time.Time) ([]T, error) {
	limit := ""
	if !until.IsZero() {
		limit = timeText(until)
	}
	all, err := queryAll(ctx, s.read, scan, query, class, limit)
	if err != nil {
		return nil, fmt.Errorf("list the %s of a class: %w", what, kind(err))
	}
	return all, nil
}

// MemberZones gives the time zone that each member of a class has named, "" where none
// is known.
func (s *Store) MemberZones(ctx context.Context, class string) (map[string]string, error) {
	type zone struct{ of, name string }
	all, err := queryAll(ctx, s.read, func(r row) (z zone, err error) {
		err = r.Scan(&z.of, &z.name)
		return z, err
	}, memberZones, class)
	if err != nil {
		return nil, fmt.Errorf("list the zones of a class: %w", kind(err))
	}
	zones := make(map[string]string, len(all))
	for _, z := range all {
		zones[z.of] = z.name
	}
	return zones, nil
}

// Together is what a class is shown of itself.
type Together struct {
	Shown bool      // its instructor has switched it on
	Page  []byte    // JSON, as it was made; empty while there is too little
	Made  time.Time // answers before it are in the page; zero before there was one
}

const (
	getTogether   = `select shown, page, made from together where class = ?`
	showTogether  = `insert into together (class, shown) select id, ? from classes where id = ? and instructor = ? on conflict (class) do update set shown = excluded.shown`
	renewTogether = `update together set page = ?, made = ? where class = ? and made = ?`
)

// Together returns what a class is shown of itself; nothing, if that was never switched
// on.
func (s *Store) Together(ctx context.Context, class string) (Together, error) {
	var t Together
	var made string
	err := s.read.QueryRowContext(ctx, getTogether, class).Scan(&t.Shown, &t.Page, &made)
	if errors.Is(err, sql.ErrNoRows) {
		return Together{}, nil
	}
	if err == nil && made != "" {
		t.Made, err = time.Parse(timeLayout, made)
	}
	if err != nil {
		return Together{}, fmt.Errorf("what a class is shown: %w", kind(err))
	}
	return t, nil
}

// ShowTogether switches on or off that a class sees something of itself. A class of
// another instructor is [ErrNotFound]. What was made stays as it is, so that switching
// makes nothing anew.
func (s *Store) ShowTogether(ctx context.Context, class, instructor string, on bool) error {
	if err := s.changeAlone(ctx, showTogether, on, class, instructor); err != nil {
		return fmt.Errorf("switch what a class is shown: %w", err)
	}
	return nil
}

// RenewTogether keeps a new page in place of the one made at before. If that has been
// done in the meantime it is [ErrNotFound], and the page of whoever was first stays.
func (s *Store) RenewTogether(ctx context.Context, class string, before time.Time, t Together) error {
	old := ""
	if !before.IsZero() {
		old = timeText(before)
	}
	if err := s.changeAlone(ctx, renewTogether, string(t.Page), timeText(t.Made), class, old); err != nil {
		return fmt.Errorf("renew what a class is shown: %w", err)
	}
	return nil
}
