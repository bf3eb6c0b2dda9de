package store

import (
	"context"
	"database/sql"
	"errors"
	"sync"
)

// mostTogether is how many jobs are committed together at most, so that the first of
// them does not wait long for the last.
const mostTogether = 256

var errClosed = errors.New("the database is closed")

// writer commits together what arrives together. The disk takes about as long to
// confirm one change as a hundred, so while it confirms one group the next one
// gathers. Nobody is answered before the group is on the disk.
type writer struct {
	db    *sql.DB // one connection
	most  int     // jobs committed together
	jobs  chan *job
	ended chan struct{} // closed when nothing is written any more

	// asking counts those between being let in and being answered, and closed lets
	// nobody in any more.
	mu     sync.Mutex
	asking sync.WaitGroup
	closed bool
}

// job is a change that is made as a whole or not at all. It may be run twice, the
// first time to no effect.
type job struct {
	ctx    context.Context
	change func(*sql.Tx) error
	failed error // why it was not made
	done   chan struct{}
}

func newWriter(db *sql.DB, most int) *writer {
	w := &writer{db: db, most: most, jobs: make(chan *job), ended: make(chan struct{})}
	go w.run()
	return w
}

// do makes a change and returns when it is on the disk, or why it was not made. A
// change whose context ends before it has begun is not made. Once it has begun, do
// waits for the end and tells what came of it.
func (w *writer) do(ctx context.Context, change func(*sql.Tx) error) error {
	w.mu.Lock()
	if w.closed {
		w.mu.Unlock()
		return errClosed
	}
	w.asking.Add(1)
	w.mu.Unlock()
	defer w.asking.Done()

	j := &job{ctx: ctx, change: change, done: make(chan struct{})}
	select {
	case w.jobs <- j:
	case <-ctx.Done():
		return ctx.Err()
	}
	<-j.done
	return j.failed
}

// close waits until everything that was asked for is answered.
func (w *writer) close() {
	w.mu.Lock()
	first := !w.closed
	w.closed = true
	w.mu.Unlock()
	w.asking.Wait()
	if first {
		close(w.jobs)
	}
	<-w.ended
}

func (w *writer) run() {
	defer close(w.ended)
	for j := range w.jobs {
		group := append(make([]*job, 0, w.most), j)
		for waiting := true; waiting && len(group) < w.most; {
			select {
			case next, open := <-w.jobs:
				if waiting = open; open {
					group = append(group, next)
				}
			default:
				waiting = false
			}
		}
		w.write(group)
		for _, j := range group {
			close(j.done)
		}
	}
}

// write makes the changes of a group. A group that fails as a whole, since SQLite
// takes everything back when the disk is full, is made again one by one: what fails
// then fails alone.
func (w *writer) write(group []*job) {
	begun, err := w.inOne(group)
	if err != nil && begun && len(group) > 1 {
		for _, j := range group {
			w.write([]*job{j})
		}
		return
	}
	for _, j := range group {
		if err != nil && j.failed == nil {
			j.failed = err
		}
	}
}

// inOne runs a group in one transaction. An error means that nothing was kept; what
// fails of one job alone is said in the job.
func (w *writer) inOne(group []*job) (begun bool, err error) {
	ctx := context.Background() // the end of one request must not end the others
	tx, err := w.db.BeginTx(ctx, nil)
	if err != nil {
		return false, err // the file is in use or gone: trying each would only take longer
	}
	defer tx.Rollback() // does nothing after Commit
	for _, j := range group {
		if j.failed = j.ctx.Err(); j.failed != nil {
			continue
		}
		if _, err := tx.ExecContext(ctx, `savepoint job`); err != nil {
			return true, err
		}
		if j.failed = j.change(tx); j.failed != nil {
			if _, err := tx.ExecContext(ctx, `rollback to job`); err != nil {
				return true, j.failed // it took the whole transaction with it
			}
		}
		if _, err := tx.ExecContext(ctx, `release job`); err != nil {
			return true, err
		}
	}
	return true, tx.Commit()
}

// together runs steps that are done all or not at all. The steps may be run twice, the
// first time to no effect.
func (s *Store) together(ctx context.Context, steps func(*sql.Tx) error) error {
	return kind(s.writer.do(ctx, steps))
}

// change runs one statement.
func (s *Store) change(ctx context.Context, statement string, args ...any) error {
	return s.together(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(context.WithoutCancel(ctx), statement, args...)
		return err
	})
}

const ensureVisitor = `insert into visitors (id) values (?) on conflict (id) do nothing`

// writeFor makes sure the visitor's row exists and runs one statement, both or
// neither.
func (s *Store) writeFor(ctx context.Context, visitor, statement string, args ...any) error {
	return s.together(ctx, func(tx *sql.Tx) error {
		ctx := context.WithoutCancel(ctx)
		if _, err := tx.ExecContext(ctx, ensureVisitor, visitor); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, statement, args...)
		return err
	})
}

// changeAlone runs one statement that must change exactly one row; none is
// [ErrNotFound].
func (s *Store) changeAlone(ctx context.Context, statement string, args ...any) error {
	return s.together(ctx, func(tx *sql.Tx) error {
		return s.changeOne(context.WithoutCancel(ctx), tx, statement, args...)
	})
}
