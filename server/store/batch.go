package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"time"
)

// Batch is what one student does for one assignment.
type Batch struct {
	ID         string // from [NewID]
	Visitor    string
	Assignment string
	Made       time.Time
}

// The kinds of version a batch has.
const (
	PlanVersion   = "plan"
	RecordVersion = "record"
)

// BatchVersion is a plan or a record as it was at one time.
type BatchVersion struct {
	Batch   string
	N       int    // counts up from 1, over plans and records
	Kind    string // PlanVersion or RecordVersion
	File    []byte // the plan or batch file, byte for byte
	Report  []byte // JSON, byte for byte
	Verdict string
	Lot     string // of the lids, in the student's own words
	Version string // of the rules and the table it was judged by
	At      time.Time
}

// What can be done with a batch.
const (
	PlanSent   = "plan-sent"
	PlanBack   = "plan-back"
	PlanFine   = "plan-fine"
	RecordSent = "record-sent"
	RecordBack = "record-back"
	Accepted   = "accepted"
	Comment    = "comment"
)

// BatchEvent is one thing that was done with a batch, or said about it.
type BatchEvent struct {
	What         string
	N            int // the version it is about
	ByInstructor bool
	Says         string
	At           time.Time
}

// BatchTime is a clock time from the kitchen.
type BatchTime struct {
	ID   string // the telephone's own
	What string
	At   time.Time // keeps the telephone's offset

	Received time.Time // when it came here; set when read
}

// BatchPhoto is a photo of a jar, without the picture itself.
type BatchPhoto struct {
	ID, Batch     string
	Jar           int // 0 for the whole batch
	Sum           string
	Width, Height int
	At            time.Time
}

const (
	addBatch      = `insert into batches (id, visitor, assignment, made) values (?, ?, ?, ?) on conflict (visitor, assignment) do nothing`
	batchColumns  = `id, visitor, assignment, made`
	getBatch      = `select ` + batchColumns + ` from batches where id = ?`
	getBatchFor   = `select ` + batchColumns + ` from batches where visitor = ? and assignment = ?`
	listBatches   = `select ` + batchColumns + ` from batches where visitor = ? order by made desc, id`
	classBatches  = `select b.id, b.visitor, b.assignment, b.made from batches b join assignments a on a.id = b.assignment where a.class = ? order by b.made desc, b.id`
	lastVersion   = `select coalesce(max(n), 0) from batch_versions where batch = ?`
	addVersion    = `insert into batch_versions (batch, n, kind, file, report, verdict, lot, version, at) values (?, ?, ?, ?, ?, ?, ?, ?, ?)`
	listVersions  = `select batch, n, kind, file, report, verdict, lot, version, at from batch_versions where batch = ? order by n`
	addEvent      = `insert into batch_events (batch, what, n, by_instructor, says, at) values (?, ?, ?, ?, ?, ?)`
	listEvents    = `select what, n, by_instructor, says, at from batch_events where batch = ? order by id`
	lastEvent     = `select what, n from batch_events where batch = ? and what <> 'comment' order by id desc limit 1`
	addBatchTime  = `insert into batch_times (batch, id, what, at, received) values (?, ?, ?, ?, ?) on conflict (batch, id) do nothing`
	listTimes     = `select id, what, at, received from batch_times where batch = ? order by at, id`
	addPhoto      = `insert into batch_photos (id, batch, jar, sum, width, height, small, big, at) values (?, ?, ?, ?, ?, ?, ?, ?, ?) on conflict (batch, jar, sum) do nothing`
	countPhotos   = `select count(*), count(*) filter (where jar = ?2 and sum = ?3) from batch_photos where batch = ?1`
	listPhotos    = `select id, batch, jar, sum, width, height, at from batch_photos where batch = ? order by jar, at, id`
	getPhoto      = `select big from batch_photos where batch = ? and id = ?`
	getSmallPhoto = `select small from batch_photos where batch = ? and id = ?`
	deletePhoto   = `delete from batch_photos where batch = ? and id = ?`
)

// ErrChanged means somebody, or another tab, did something in the meantime on which this
// does not follow; nothing was kept.
var ErrChanged = errors.New("changed in the meantime")

// BeginBatch begins the batch of a visitor for an assignment, or returns the one begun.
func (s *Store) BeginBatch(ctx context.Context, b Batch) (Batch, error) {
	if err := s.writeFor(ctx, b.Visitor, addBatch, b.ID, b.Visitor, b.Assignment, timeText(b.Made)); err != nil {
		return Batch{}, fmt.Errorf("begin batch: %w", err)
	}
	return s.oneBatch(ctx, getBatchFor, b.Visitor, b.Assignment)
}

// Batch returns a batch, or [ErrNotFound].
func (s *Store) Batch(ctx context.Context, id string) (Batch, error) {
	return s.oneBatch(ctx, getBatch, id)
}

func (s *Store) oneBatch(ctx context.Context, query string, args ...any) (Batch, error) {
	b, err := scanBatch(s.read.QueryRowContext(ctx, query, args...))
	if err != nil {
		return Batch{}, fmt.Errorf("batch: %w", kind(err))
	}
	return b, nil
}

// ListBatches lists the batches of a visitor, the latest first.
func (s *Store) ListBatches(ctx context.Context, visitor string) ([]Batch, error) {
	return s.batches(ctx, listBatches, visitor)
}

// ClassBatches lists the batches of a class, the latest first.
func (s *Store) ClassBatches(ctx context.Context, class string) ([]Batch, error) {
	return s.batches(ctx, classBatches, class)
}

func (s *Store) batches(ctx context.Context, query, of string) ([]Batch, error) {
	all, err := queryAll(ctx, s.read, scanBatch, query, of)
	if err != nil {
		return nil, fmt.Errorf("list batches: %w", kind(err))
	}
	return all, nil
}

func scanBatch(r row) (Batch, error) {
	var b Batch
	var made string
	if err := r.Scan(&b.ID, &b.Visitor, &b.Assignment, &made); err != nil {
		return Batch{}, err
	}
	var err error
	b.Made, err = time.Parse(timeLayout, made)
	return b, err
}

// BatchState is a batch and what was last done with it.
type BatchState struct {
	Batch
	Title, Student string
	State          string // the last event that is no comment; "" before
	At             time.Time
}

const batchStates = `select b.id, b.visitor, b.assignment, b.made, a.title, p.name,
	coalesce((select what from batch_events e where e.batch = b.id and what <> 'comment' order by e.id desc limit 1), ''),
	coalesce((select at from batch_events e where e.batch = b.id order by e.id desc limit 1), b.made)
from batches b join assignments a on a.id = b.assignment join people p on p.visitor = b.visitor
where (?1 = '' or b.visitor = ?1) and (?2 = '' or a.class = ?2) order by 8, b.id`

// BatchStates lists the batches of a visitor or of a class, "" for any, those that
// waited longest first.
func (s *Store) BatchStates(ctx context.Context, visitor, class string) ([]BatchState, error) {
	all, err := queryAll(ctx, s.read, func(r row) (b BatchState, err error) {
		var made, at string
		if err := r.Scan(&b.ID, &b.Visitor, &b.Assignment, &made, &b.Title, &b.Student, &b.State, &at); err != nil {
			return b, err
		}
		if b.Made, err = time.Parse(timeLayout, made); err != nil {
			return b, err
		}
		b.At, err = time.Parse(timeLayout, at)
		return b, err
	}, batchStates, visitor, class)
	if err != nil {
		return nil, fmt.Errorf("list the states of batches: %w", kind(err))
	}
	return all, nil
}

// following is the version that the last event of a batch, comments aside, is about.
// Where that event is none of those named in after ("" for no event), it is [ErrChanged].
func following(ctx context.Context, tx *sql.Tx, batch string, after []string) (n int, err error) {
	var last string
	err = tx.QueryRowContext(ctx, lastEvent, batch).Scan(&last, &n)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return 0, err
	}
	if !slices.Contains(after, last) {
		return 0, ErrChanged
	}
	return n, nil
}

// AddBatchVersion keeps a further version. Its number must be the next one, and the last
// event of the batch, comments aside, one of those named in after ("" for none), or it is
// [ErrChanged].
func (s *Store) AddBatchVersion(ctx context.Context, v BatchVersion, after ...string) error {
	err := s.together(ctx, func(tx *sql.Tx) error {
		if _, err := following(ctx, tx, v.Batch, after); err != nil {
			return err
		}
		var last int
		if err := tx.QueryRowContext(ctx, lastVersion, v.Batch).Scan(&last); err != nil {
			return err
		}
		if v.N != last+1 {
			return ErrChanged
		}
		_, err := tx.ExecContext(ctx, addVersion, v.Batch, v.N, v.Kind, blob(v.File), blob(v.Report), v.Verdict, v.Lot, v.Version, timeText(v.At))
		return err
	})
	if err != nil {
		return fmt.Errorf("add a version of a batch: %w", err)
	}
	return nil
}

// BatchVersions lists all versions of a batch, the first first.
func (s *Store) BatchVersions(ctx context.Context, batch string) ([]BatchVersion, error) {
	all, err := queryAll(ctx, s.read, func(r row) (v BatchVersion, err error) {
		var at string
		if err := r.Scan(&v.Batch, &v.N, &v.Kind, &v.File, &v.Report, &v.Verdict, &v.Lot, &v.Version, &at); err != nil {
			return v, err
		}
		v.At, err = time.Parse(timeLayout, at)
		return v, err
	}, listVersions, batch)
	if err != nil {
		return nil, fmt.Errorf("list versions of a batch: %w", kind(err))
	}
	return all, nil
}

// AddBatchEvent keeps what was done with a batch. Where it follows on something, after
// names what the last event, comments aside, may be ("" for none); another one is
// [ErrChanged]. So is what an instructor decides about another version than the one that
// event is about: it was not the one that was sent in last. A comment follows on anything.
func (s *Store) AddBatchEvent(ctx context.Context, batch string, e BatchEvent, after ...string) error {
	err := s.together(ctx, func(tx *sql.Tx) error {
		if e.What != Comment {
			sent, err := following(ctx, tx, batch, after)
			if err != nil {
				return err
			}
			if e.ByInstructor && e.N != sent {
				return ErrChanged
			}
		}
		_, err := tx.ExecContext(ctx, addEvent, batch, e.What, e.N, e.ByInstructor, e.Says, timeText(e.At))
		return err
	})
	if err != nil {
		return fmt.Errorf("add to the course of a batch: %w", err)
	}
	return nil
}

// BatchEvents lists what was done with a batch, the first first.
func (s *Store) BatchEvents(ctx context.Context, batch string) ([]BatchEvent, error) {
	all, err := queryAll(ctx, s.read, func(r row) (e BatchEvent, err error) {
		var at string
		if err := r.Scan(&e.What, &e.N, &e.ByInstructor, &e.Says, &at); err != nil {
			return e, err
		}
		e.At, err = time.Parse(timeLayout, at)
		return e, err
	}, listEvents, batch)
	if err != nil {
		return nil, fmt.Errorf("list the course of a batch: %w", kind(err))
	}
	return all, nil
}

// AddBatchTimes keeps clock times from the kitchen; one that is kept already stays as it
// was. All or none.
func (s *Store) AddBatchTimes(ctx context.Context, batch string, times []BatchTime, received time.Time) error {
	err := s.together(ctx, func(tx *sql.Tx) error {
		for _, t := range times {
			if _, err := tx.ExecContext(ctx, addBatchTime, batch, t.ID, t.What, t.At.Format(time.RFC3339Nano), timeText(received)); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("add clock times: %w", err)
	}
	return nil
}

// BatchTimes lists the clock times of a batch in their order.
func (s *Store) BatchTimes(ctx context.Context, batch string) ([]BatchTime, error) {
	all, err := queryAll(ctx, s.read, func(r row) (t BatchTime, err error) {
		var at, received string
		if err := r.Scan(&t.ID, &t.What, &at, &received); err != nil {
			return t, err
		}
		if t.At, err = time.Parse(time.RFC3339Nano, at); err != nil {
			return t, err
		}
		t.Received, err = time.Parse(timeLayout, received)
		return t, err
	}, listTimes, batch)
	if err != nil {
		return nil, fmt.Errorf("list clock times: %w", kind(err))
	}
	slices.SortStableFunc(all, func(a, b BatchTime) int { return a.At.Compare(b.At) })
	return all, nil
}

// AddBatchPhoto keeps a photo, the same one of the same jar only once, however often it is
// sent. More than most photos is [ErrChanged].
func (s *Store) AddBatchPhoto(ctx context.Context, p BatchPhoto, small, big []byte, most int) error {
	err := s.together(ctx, func(tx *sql.Tx) error {
		var n, same int
		if err := tx.QueryRowContext(ctx, countPhotos, p.Batch, p.Jar, p.Sum).Scan(&n, &same); err != nil {
			return err
		}
		if same > 0 {
			return nil
		}
		if n >= most {
			return ErrChanged
		}
		_, err := tx.ExecContext(ctx, addPhoto, p.ID, p.Batch, p.Jar, p.Sum, p.Width, p.Height, blob(small), blob(big), timeText(p.At))
		return err
	})
	if err != nil {
		return fmt.Errorf("add a photo: %w", err)
	}
	return nil
}

// BatchPhotos lists the photos of a batch by jar.
func (s *Store) BatchPhotos(ctx context.Context, batch string) ([]BatchPhoto, error) {
	all, err := queryAll(ctx, s.read, func(r row) (p BatchPhoto, err error) {
		var at string
		if err := r.Scan(&p.ID, &p.Batch, &p.Jar, &p.Sum, &p.Width, &p.Height, &at); err != nil {
			return p, err
		}
		p.At, err = time.Parse(timeLayout, at)
		return p, err
	}, listPhotos, batch)
	if err != nil {
		return nil, fmt.Errorf("list photos: %w", kind(err))
	}
	return all, nil
}

// Photo returns a photo of a batch as JPEG, small or big, or [ErrNotFound].
func (s *Store) Photo(ctx context.Context, batch, id string, small bool) ([]byte, error) {
	query := getPhoto
	if small {
		query = getSmallPhoto
	}
	var picture []byte
	if err := s.read.QueryRowContext(ctx, query, batch, id).Scan(&picture); err != nil {
		return nil, fmt.Errorf("photo: %w", kind(err))
	}
	return picture, nil
}

// DeletePhoto deletes a photo of a batch, or [ErrNotFound].
func (s *Store) DeletePhoto(ctx context.Context, batch, id string) error {
	if err := s.changeAlone(ctx, deletePhoto, batch, id); err != nil {
		return fmt.Errorf("delete photo: %w", err)
	}
	return nil
}
