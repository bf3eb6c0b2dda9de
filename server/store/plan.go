package store

import (
	"context"
	"fmt"
	"time"
)

// SavedPlan is a plan a visitor kept, with the report it was given then.
type SavedPlan struct {
	ID      string // from [NewID]
	Visitor string
	Title   string
	Plan    []byte // the plan file (YAML), kept byte for byte
	Report  []byte // the report (JSON), kept byte for byte
	Verdict string // the verdict of the report
	At      time.Time
}

const savePlan = `insert into plans (id, visitor, title, plan, report, verdict, at) values (?, ?, ?, ?, ?, ?, ?)`

// SavePlan appends a plan. It never overwrites: an id in use is [ErrExists].
func (s *Store) SavePlan(ctx context.Context, p SavedPlan) error {
	err := s.writeFor(ctx, p.Visitor, savePlan,
		p.ID, p.Visitor, p.Title, blob(p.Plan), blob(p.Report), p.Verdict, timeText(p.At))
	if err != nil {
		return fmt.Errorf("save plan %s: %w", p.ID, err)
	}
	return nil
}

const getPlan = `select id, visitor, title, plan, report, verdict, at from plans where visitor = ? and id = ?`

// Plan returns one saved plan of the visitor, or [ErrNotFound] if there is no
// such plan or it is another visitor's.
func (s *Store) Plan(ctx context.Context, visitor, id string) (SavedPlan, error) {
	p, err := scanPlan(s.read.QueryRowContext(ctx, getPlan, visitor, id))
	if err != nil {
		return SavedPlan{}, fmt.Errorf("plan %s: %w", id, kind(err))
	}
	return p, nil
}

const listPlans = `select id, visitor, title, plan, report, verdict, at from plans where visitor = ? order by at desc, id`

// ListPlans returns all saved plans of the visitor, the latest first.
func (s *Store) ListPlans(ctx context.Context, visitor string) ([]SavedPlan, error) {
	all, err := queryAll(ctx, s.read, scanPlan, listPlans, visitor)
	if err != nil {
		return nil, fmt.Errorf("list plans: %w", kind(err))
	}
	return all, nil
}

const lastPlan = listPlans + ` limit 1`

// LastPlan returns the visitor's latest saved plan, or [ErrNotFound] if there is
// none.
func (s *Store) LastPlan(ctx context.Context, visitor string) (SavedPlan, error) {
	p, err := scanPlan(s.read.QueryRowContext(ctx, lastPlan, visitor))
	if err != nil {
		return SavedPlan{}, fmt.Errorf("last plan: %w", kind(err))
	}
	return p, nil
}

const deletePlan = `delete from plans where visitor = ? and id = ?`

// DeletePlan deletes one saved plan of the visitor. It returns [ErrNotFound] if
// there is no such plan or it is another visitor's.
func (s *Store) DeletePlan(ctx context.Context, visitor, id string) error {
	if err := s.changeAlone(ctx, deletePlan, visitor, id); err != nil {
		return fmt.Errorf("delete plan %s: %w", id, err)
	}
	return nil
}

func scanPlan(r row) (SavedPlan, error) {
	var p SavedPlan
	var at string
	if err := r.Scan(&p.ID, &p.Visitor, &p.Title, &p.Plan, &p.Report, &p.Verdict, &at); err != nil {
		return SavedPlan{}, err
	}
	var err error
	p.At, err = time.Parse(timeLayout, at)
	return p, err
}
