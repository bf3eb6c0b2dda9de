package store

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// Trial is a question that an instructor puts to two or more ways of canning.
type Trial struct {
	ID       string // from [NewID]
	Class    string
	Question string
	Made     time.Time
	Shown    bool // the members of the class may see it
}

// TrialVariant is one of the ways.
type TrialVariant struct {
	N       int // counts up from 1
	Name    string
	Plan    []byte // the plan file
	Lids    string // kind or lot, in the instructor's own words
	Verdict string // on the day it was made
	Version string // of the rules and the table it was judged by then
	Made    time.Time
}

// The kinds of entry a trial has.
const (
	TypedEntry  = "typed"
	LinkedEntry = "linked"
	VoidEntry   = "void"
)

// TrialEntry is one load of a trial, or the correction of one.
type TrialEntry struct {
	N        int    // counts up from 1
	Form     string // of the form it was sent with
	Variant  int
	Kind     string // TypedEntry, LinkedEntry or VoidEntry
	Replaces int    // the entry it corrects, 0 for none
	Batch    string // of a linked one; "" once its student deleted it
	Load     []byte // JSON: what was seen, of a typed one
	Why      string // what was amiss with the one it replaces
	At       time.Time
}

// What can be decided about a trial.
const (
	TrialShown  = "shown"
	TrialHidden = "hidden"
	SetAside    = "set-aside"
)

// TrialEvent is something that was decided about a trial.
type TrialEvent struct {
	What    string
	Variant int // that is set aside; 0 for the whole trial
	Says    string
	At      time.Time
}

const (
	trialColumns = `id, class, question, made, coalesce((select what from trial_events e where e.trial = trials.id and what <> 'set-aside' order by e.id desc limit 1), 'hidden') = 'shown'`
	addTrial     = `insert into trials (id, class, question, made) values (?, ?, ?, ?)`
	getTrial     = `select ` + trialColumns + ` from trials where class = ? and id = ?`
	listTrials   = `select ` + trialColumns + ` from trials where class = ? order by made desc, id`
	trialsAsking = `select t.id, v.n, v.name, v.plan, v.lids from trials t join trial_variants v on v.trial = t.id where t.class = ? and t.question = ? and ? = (select count(*) from trial_variants where trial = t.id)`
	addVariant   = `insert into trial_variants (trial, n, name, plan, lids, verdict, version, made) select ?1, coalesce(max(n), 0) + 1, ?2, ?3, ?4, ?5, ?6, ?7 from trial_variants where trial = ?1`
	listVariants = `select n, name, plan, lids, verdict, version, made from trial_variants where trial = ? order by n`
	sentBefore   = `select variant = ?3 and kind = ?4 and coalesce(replaces, 0) = ?5 and coalesce(batch, '') = ?6 and load = ?7 and why = ?8 from trial_entries where trial = ?1 and form = ?2`
	isCurrent    = `select count(*) from trial_entries e where trial = ? and n = ? and kind <> 'void' and not exists (select 1 from trial_entries later where later.trial = e.trial and later.replaces = e.n)`
	isLinked     = `select count(*) from trial_entries e where trial = ? and batch = ? and not exists (select 1 from trial_entries later where later.trial = e.trial and later.replaces = e.n)`
	addEntry     = `insert into trial_entries (trial, n, form, variant, kind, replaces, batch, load, why, at) select ?1, coalesce(max(n), 0) + 1, ?2, ?3, ?4, nullif(?5, 0), nullif(?6, ''), ?7, ?8, ?9 from trial_entries where trial = ?1`
	listEntries  = `select n, form, variant, kind, coalesce(replaces, 0), coalesce(batch, ''), load, why, at from trial_entries where trial = ? order by n`
	addDecision  = `insert into trial_events (trial, what, variant, says, at) values (?, ?, ?, ?, ?)`
	listDecided  = `select what, variant, says, at from trial_events where trial = ? order by id`
)

// AddTrial keeps a new trial with its variants, which are numbered in order, and gives its
// id. For one just like another of the class, as of a form that was sent twice, it is that
// of the other, and nothing is kept.
func (s *Store) AddTrial(ctx context.Context, t Trial, variants []TrialVariant) (string, error) {
	id := t.ID
	err := s.together(ctx, func(tx *sql.Tx) error {
		same, err := sameTrial(ctx, tx, t, variants)
		if err != nil {
			return err
		}
		if same != "" {
			id = same
			return nil
		}
		if _, err := tx.ExecContext(ctx, addTrial, t.ID, t.Class, t.Question, timeText(t.Made)); err != nil {
			return err
		}
		for _, v := range variants {
			if err := addVariantIn(ctx, tx, t.ID, v); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return "", fmt.Errorf("add a trial: %w", err)
	}
	return id, nil
}

// sameTrial is the id of a trial of the class with the same question and the same ways,
// "" for none.
func sameTrial(ctx context.Context, tx *sql.Tx, t Trial, variants []TrialVariant) (id string, err error) {
	rows, err := tx.QueryContext(ctx, trialsAsking, t.Class, t.Question, len(variants))
	if err != nil {
		return "", err
	}
	defer rows.Close()
	has := map[string]int{} // how many of the ways a trial has
	for rows.Next() {
		var v TrialVariant
		var of string
		if err := rows.Scan(&of, &v.N, &v.Name, &v.Plan, &v.Lids); err != nil {
			return "", err
		}
		if given := variants[v.N-1]; given.Name == v.Name && given.Lids == v.Lids && bytes.Equal(given.Plan, v.Plan) {
			has[of]++
		}
		if has[of] == len(variants) {
			id = of
		}
	}
	return id, rows.Err()
}

// AddTrialVariant adds a further variant to a trial, under the next number.
func (s *Store) AddTrialVariant(ctx context.Context, trial string, v TrialVariant) error {
	err := s.together(ctx, func(tx *sql.Tx) error { return addVariantIn(ctx, tx, trial, v) })
	if err != nil {
		return fmt.Errorf("add a variant to a trial: %w", err)
	}
	return nil
}

func addVariantIn(ctx context.Context, tx *sql.Tx, trial string, v TrialVariant) error {
	_, err := tx.ExecContext(ctx, addVariant, trial, v.Name, blob(v.Plan), v.Lids, v.Verdict, v.Version, timeText(v.Made))
	return err
}

// Trial returns a trial of a class, or [ErrNotFound].
func (s *Store) Trial(ctx context.Context, class, id string) (Trial, error) {
	t, err := scanTrial(s.read.QueryRowContext(ctx, getTrial, class, id))
	if err != nil {
		return Trial{}, fmt.Errorf("trial: %w", kind(err))
	}
	return t, nil
}

// Trials lists the trials of a class, the latest first.
func (s *Store) Trials(ctx context.Context, class string) ([]Trial, error) {
	all, err := queryAll(ctx, s.read, scanTrial, listTrials, class)
	if err != nil {
		return nil, fmt.Errorf("list trials: %w", kind(err))
	}
	return all, nil
}

func scanTrial(r row) (t Trial, err error) {
	var made string
	if err := r.Scan(&t.ID, &t.Class, &t.Question, &made, &t.Shown); err != nil {
		return t, err
	}
	t.Made, err = time.Parse(timeLayout, made)
	return t, err
}

// TrialVariants lists the variants of a trial in order.
func (s *Store) TrialVariants(ctx context.Context, trial string) ([]TrialVariant, error) {
	all, err := queryAll(ctx, s.read, func(r row) (v TrialVariant, err error) {
		var made string
		if err := r.Scan(&v.N, &v.Name, &v.Plan, &v.Lids, &v.Verdict, &v.Version, &made); err != nil {
			return v, err
		}
		v.Made, err = time.Parse(timeLayout, made)
		return v, err
	}, listVariants, trial)
	if err != nil {
		return nil, fmt.Errorf("list the variants of a trial: %w", kind(err))
	}
	return all, nil
}

// AddTrialEntry adds an entry under the next number. One that was sent before with the
// same form is kept once. Where it replaces an entry, that must be one that counts, a
// batch may be linked once, and a form says one thing: else it is [ErrChanged].
func (s *Store) AddTrialEntry(ctx context.Context, trial string, e TrialEntry) error {
	err := s.together(ctx, func(tx *sql.Tx) error {
		count := func(query string, about any) (n int, err error) {
			err = tx.QueryRowContext(ctx, query, trial, about).Scan(&n)
			return n, err
		}
		var same bool
		switch err := tx.QueryRowContext(ctx, sentBefore, trial, e.Form, e.Variant, e.Kind, e.Replaces, e.Batch, string(e.Load), e.Why).Scan(&same); {
		case err == nil && same:
			return nil
		case err == nil:
			return ErrChanged
		case !errors.Is(err, sql.ErrNoRows):
			return err
		}
		if e.Replaces != 0 {
			if n, err := count(isCurrent, e.Replaces); err != nil {
				return err
			} else if n == 0 {
				return ErrChanged
			}
		}
		if e.Kind == LinkedEntry {
			if n, err := count(isLinked, e.Batch); err != nil {
				return err
			} else if n > 0 {
				return ErrChanged
			}
		}
		_, err := tx.ExecContext(ctx, addEntry, trial, e.Form, e.Variant, e.Kind, e.Replaces, e.Batch, string(e.Load), e.Why, timeText(e.At))
		return err
	})
	if err != nil {
		return fmt.Errorf("add to a trial: %w", err)
	}
	return nil
}

// TrialEntries lists all entries of a trial, the first first, replaced ones too.
func (s *Store) TrialEntries(ctx context.Context, trial string) ([]TrialEntry, error) {
	all, err := queryAll(ctx, s.read, func(r row) (e TrialEntry, err error) {
		var at string
		if err := r.Scan(&e.N, &e.Form, &e.Variant, &e.Kind, &e.Replaces, &e.Batch, &e.Load, &e.Why, &at); err != nil {
			return e, err
		}
		e.At, err = time.Parse(timeLayout, at)
		return e, err
	}, listEntries, trial)
	if err != nil {
		return nil, fmt.Errorf("list the entries of a trial: %w", kind(err))
	}
	return all, nil
}

// AddTrialEvent keeps what was decided about a trial.
func (s *Store) AddTrialEvent(ctx context.Context, trial string, e TrialEvent) error {
	err := s.together(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, addDecision, trial, e.What, e.Variant, e.Says, timeText(e.At))
		return err
	})
	if err != nil {
		return fmt.Errorf("decide about a trial: %w", err)
	}
	return nil
}

// TrialEvents lists what was decided about a trial, the first first.
func (s *Store) TrialEvents(ctx context.Context, trial string) ([]TrialEvent, error) {
	all, err := queryAll(ctx, s.read, func(r row) (e TrialEvent, err error) {
		var at string
		if err := r.Scan(&e.What, &e.Variant, &e.Says, &at); err != nil {
			return e, err
		}
		e.At, err = time.Parse(timeLayout, at)
		return e, err
	}, listDecided, trial)
	if err != nil {
		return nil, fmt.Errorf("list what was decided about a trial: %w", kind(err))
	}
	return all, nil
}
