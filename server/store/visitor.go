package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// Visitor holds the settings of one visitor.
type Visitor struct {
	ID string
	// AltitudeFt is the visitor's altitude in feet above sea level; it means
	// nothing unless AltitudeKnown.
	AltitudeFt    float64
	AltitudeKnown bool
	CanningDay    string // "2026-08-20", empty until the visitor names one
	TimeZone      string // a name of the time zone database, empty until it is known
}

const getVisitor = `select id, altitude_ft, canning_day, time_zone from visitors where id = ?`

// Visitor returns the settings of the visitor, or [ErrNotFound] if nothing was
// ever saved for the visitor. Whoever saved something but no altitude is found,
// with AltitudeKnown false.
func (s *Store) Visitor(ctx context.Context, id string) (Visitor, error) {
	var v Visitor
	var altitude sql.NullFloat64
	if err := s.read.QueryRowContext(ctx, getVisitor, id).Scan(&v.ID, &altitude, &v.CanningDay, &v.TimeZone); err != nil {
		return Visitor{}, fmt.Errorf("visitor: %w", kind(err))
	}
	v.AltitudeFt, v.AltitudeKnown = altitude.Float64, altitude.Valid
	return v, nil
}

const listVisitors = `select id from visitors order by id`

// Visitors lists the ids of all visitors of whom something is kept.
func (s *Store) Visitors(ctx context.Context) ([]string, error) {
	all, err := queryAll(ctx, s.read, scanText, listVisitors)
	if err != nil {
		return nil, fmt.Errorf("list visitors: %w", kind(err))
	}
	return all, nil
}

const setAltitude = `update visitors set altitude_ft = ? where id = ?`

// SetAltitude keeps the visitor's altitude in feet above sea level, in place of
// any earlier one. Altitudes outside -1500 to 30000 ft are an error: nobody
// cans there, so it is a slip.
func (s *Store) SetAltitude(ctx context.Context, visitor string, feet float64) error {
	if !(feet >= -1500 && feet <= 30000) { // written so that NaN fails too
		return fmt.Errorf("set altitude: %v ft is not between -1500 and 30000 ft", feet)
	}
	if err := s.writeFor(ctx, visitor, setAltitude, feet, visitor); err != nil {
		return fmt.Errorf("set altitude: %w", err)
	}
	return nil
}

const setCanningDay = `update visitors set canning_day = ?, time_zone = ? where id = ?`

// SetCanningDay keeps the day the visitor means to can, as 2026-08-20, and the zone
// whose midnight ends a day; an empty day takes it back. A day or a zone that is
// none is an error.
func (s *Store) SetCanningDay(ctx context.Context, visitor, day, zone string) error {
	if _, err := time.Parse(time.DateOnly, day); err != nil && day != "" {
		return fmt.Errorf("set the canning day: %q is no day such as 2026-08-20", day)
	}
	if _, err := time.LoadLocation(zone); err != nil {
		return fmt.Errorf("set the canning day: %q is no time zone such as America/Denver", zone)
	}
	if err := s.writeFor(ctx, visitor, setCanningDay, day, zone, visitor); err != nil {
		return fmt.Errorf("set the canning day: %w", err)
	}
	return nil
}

// What a visitor's work is kept in, beside settings.
var workTables = []string{"answers", "plans", "attempts", "sittings", "batches"}

const (
	hasWork   = `select exists (select 1 from answers where visitor = ?1) + exists (select 1 from plans where visitor = ?1) + exists (select 1 from attempts where visitor = ?1) + exists (select 1 from sittings where visitor = ?1)`
	moveWork  = `update %s set visitor = ? where visitor = ?`
	dropEmpty = `delete from visitors where id = ? and id not in (select visitor from people)`
)

// HasWork says whether anything but settings is kept for the visitor.
func (s *Store) HasWork(ctx context.Context, visitor string) (bool, error) {
	var n int
	if err := s.read.QueryRowContext(ctx, hasWork, visitor).Scan(&n); err != nil {
		return false, fmt.Errorf("has work: %w", kind(err))
	}
	return n > 0, nil
}

// TakeAlong gives all work of a visitor without a name to a person. The work of
// another person is left alone.
func (s *Store) TakeAlong(ctx context.Context, visitor, person string) error {
	err := s.together(ctx, func(tx *sql.Tx) error {
		var named int
		if err := tx.QueryRowContext(ctx, `select count(*) from people where visitor = ?`, visitor).Scan(&named); err != nil || named > 0 {
			return err
		}
		for _, table := range workTables {
			if _, err := tx.ExecContext(ctx, fmt.Sprintf(moveWork, table), person, visitor); err != nil {
				return err
			}
		}
		_, err := tx.ExecContext(ctx, dropEmpty, visitor)
		return err
	})
	if err != nil {
		return fmt.Errorf("take work along: %w", err)
	}
	return nil
}

const (
	forgetVisitor = `delete from visitors where id = ?`
	toBeWiped     = `insert into unwiped (at) values (?)`
	isUnwiped     = `select count(*) from unwiped`
	rebuildFile   = `vacuum`
	wiped         = `delete from unwiped`
)

// Forget deletes everything kept for the visitor: settings, answers, saved
// plans and attempts. A visitor nobody knows is no error. The session that
// carries the visitor's id is ended by whoever began it.
//
// The text is then gone from the file and not only from sight. SQLite zeroes
// what is deleted, but a page that was split earlier may hold stale copies of
// its rows, so the file is rebuilt, which takes about a second for every
// hundred megabytes, and the write-ahead log is emptied, also if the caller has
// left meanwhile. If this part fails, as it may on a disk that is nearly full, the
// error is [ErrUnwiped], and [Store.SweepSessions] tries it again, also after the
// program was ended. If a reader keeps the
// log in use for longer than the busy timeout, emptying it is left to
// [Store.SweepSessions] or [Store.Close]. Copies of the file made earlier, and
// blocks the disk itself has put aside, are beyond reach.
func (s *Store) Forget(ctx context.Context, visitor string) error {
	err := s.together(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, forgetVisitor, visitor); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, toBeWiped, timeText(time.Now()))
		return err
	})
	if err != nil {
		return fmt.Errorf("forget visitor: %w", err)
	}
	if err := s.wipe(context.WithoutCancel(ctx)); err != nil {
		return fmt.Errorf("forget visitor: %w: %w", ErrUnwiped, err)
	}
	return nil
}

// wipe rebuilds the file without what was deleted, and empties the log.
func (s *Store) wipe(ctx context.Context) error {
	if _, err := s.write.ExecContext(ctx, rebuildFile); err != nil {
		return err
	}
	if err := s.change(ctx, wiped); err != nil {
		return err
	}
	return s.checkpoint(ctx)
}
