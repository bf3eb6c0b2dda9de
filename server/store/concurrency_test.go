package store

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"testing"
	"time"
)

// Writers, readers, sweeps and forgetting go on at once. Every write must
// arrive and no call may fail.
func TestWritersAndReadersAtOnce(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := openStore(t, newPath(t))

	const writers, rounds = 6, 30
	var writing, reading sync.WaitGroup
	for w := range writers {
		writing.Go(func() {
			visitor := fmt.Sprint("visitor", w)
			for i := range rounds {
				at := noon.Add(time.Duration(i) * time.Second)
				if err := s.SaveAnswer(ctx, Answer{Visitor: visitor, Question: fmt.Sprint(i), At: at}); err != nil {
					t.Error(err)
				}
				if err := s.SavePlan(ctx, SavedPlan{ID: NewID(), Visitor: visitor, Plan: make([]byte, 2000), At: at}); err != nil {
					t.Error(err)
				}
				if err := s.Sessions().CommitCtx(ctx, visitor, []byte(fmt.Sprint(i)), at); err != nil {
					t.Error(err)
				}
			}
		})
	}
	writing.Go(func() {
		for range rounds / 3 {
			if err := s.SetAltitude(ctx, "passing", 6240); err != nil {
				t.Error(err)
			}
			if err := s.Forget(ctx, "passing"); err != nil {
				t.Error(err)
			}
			if _, err := s.SweepSessions(ctx, noon); err != nil {
				t.Error(err)
			}
		}
	})
	done, stop := context.WithCancel(ctx)
	for w := range 2 * readers {
		reading.Go(func() {
			seen := 0
			for done.Err() == nil {
				answers, err := s.ListAnswers(ctx, fmt.Sprint("visitor", w%writers))
				if err != nil {
					t.Error(err)
				}
				if len(answers) < seen {
					t.Errorf("a reader saw %d answers and then %d", seen, len(answers))
				}
				seen = len(answers)
				if err := s.Ping(ctx); err != nil {
					t.Error(err)
				}
			}
		})
	}
	writing.Wait()
	stop()
	reading.Wait()

	for w := range writers {
		visitor := fmt.Sprint("visitor", w)
		got, err := stored(ctx, s, visitor)
		if err != nil || len(got.Answers) != rounds || len(got.Plans) != rounds {
			t.Errorf("%s: %d answers, %d plans, %v, want %d of each", visitor, len(got.Answers), len(got.Plans), err, rounds)
		}
	}
	if err := s.Integrity(ctx); err != nil {
		t.Error(err)
	}
}

// Two stores on one file stand for two programs. SQLite does not queue them
// fairly, so either may find the file busy for too long; it then tries again,
// as the error says, and nothing is lost or there twice.
func TestTwoProgramsOnOneFile(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	path := newPath(t)
	stores := []*Store{openStore(t, path), openStore(t, path)}

	const rounds = 100
	var writing sync.WaitGroup
	for i, s := range stores {
		writing.Go(func() {
			visitor := fmt.Sprint("visitor", i)
			for round := range rounds {
				a := Answer{Visitor: visitor, Question: fmt.Sprint(round), At: noon.Add(time.Duration(round))}
				err := s.SaveAnswer(ctx, a)
				for errors.Is(err, ErrBusy) {
					err = s.SaveAnswer(ctx, a)
				}
				if err != nil {
					t.Error(err)
				}
			}
		})
	}
	writing.Wait()

	for i := range stores {
		answers, err := stores[1-i].ListAnswers(ctx, fmt.Sprint("visitor", i))
		if err != nil || len(answers) != rounds {
			t.Errorf("visitor%d: %d answers, %v, want %d", i, len(answers), err, rounds)
		}
		for round, a := range answers {
			if a.Question != fmt.Sprint(round) {
				t.Errorf("visitor%d: answer %d is to question %s", i, round, a.Question)
			}
		}
	}
	if err := stores[0].Integrity(ctx); err != nil {
		t.Error(err)
	}
}

func TestANewFileOpenedByManyAtOnce(t *testing.T) {
	t.Parallel()
	path := newPath(t)
	var opening sync.WaitGroup
	for i := range 8 {
		opening.Go(func() {
			s, err := Open(t.Context(), path)
			if err != nil {
				t.Error(err)
				return
			}
			defer s.Close()
			x := sampleOf(fmt.Sprint("visitor", i))
			if err := x.save(t.Context(), s); err != nil {
				t.Error(err)
			}
		})
	}
	opening.Wait()

	s := openStore(t, path)
	for i := range 8 {
		if err := sampleOf(fmt.Sprint("visitor", i)).check(t.Context(), s); err != nil {
			t.Error(err)
		}
	}
}
