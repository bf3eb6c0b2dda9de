package main

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"rollingboil/server"
	"rollingboil/server/load"
	"rollingboil/server/store"
)

const (
	lanes    = 2 // databases, each with a program and students of its own
	kills    = 50 / lanes
	students = 6
	// killSeed draws what the students do and when the program is killed. What the
	// system does in between it does not draw.
	killSeed = 20260820
)

// TestKilledFiftyTimes: while students join, and send answers, plans, scenarios, sets and
// whole batches with their photos, the program is killed as by a power cut, and started again on the same file. Whatever was
// acknowledged is there, once; nothing is there that was not sent; the file is whole.
func TestKilledFiftyTimes(t *testing.T) {
	t.Parallel()
	program := build(t)
	course, err := server.LoadCourse("")
	if err != nil {
		t.Fatal(err)
	}
	for lane := range uint64(lanes) {
		t.Run(fmt.Sprint("seed ", killSeed+lane), func(t *testing.T) {
			t.Parallel()
			file, book := filepath.Join(t.TempDir(), "x.db"), load.NewBook(time.Now(), true)
			draw := rand.New(rand.NewPCG(killSeed+lane, students))
			class := busyClass(t, book, course, file, killSeed+lane, students)
			for killed := 0; killed < kills && !t.Failed(); {
				base, kill := start(t, program, "127.0.0.1:0", file)
				killedWhileBusy(t, class, base, kill, book.After(1+draw.IntN(60)))
				killed++
				// Most often it is the program that finds the file as it was left.
				if killed%5 == 0 || killed == kills || t.Failed() {
					checkBook(t, book, file)
				}
			}
			records := recordsIn(t, file, class[0].Class)
			t.Logf("%d things acknowledged, %d batches with a record", book.Acknowledged(), records)
			if book.Acknowledged() < 10*kills || records == 0 {
				t.Error("too few to tell anything")
			}
		})
	}
}

// killedWhileBusy kills the program when enough is acknowledged: the other students are
// in the middle of something then.
func killedWhileBusy(t *testing.T, class []*busy, base string, kill func(), enough <-chan struct{}) {
	t.Helper()
	over, end := context.WithCancel(t.Context())
	var working sync.WaitGroup
	for _, s := range class {
		s.Base = base
		working.Go(func() {
			if err := s.work(over); err != nil {
				t.Error(err)
			}
			s.Leave()
		})
	}
	select {
	case <-enough:
	case <-time.After(2 * time.Minute):
		t.Error("nothing is acknowledged any more")
	}
	end() // first, so that no student takes the kill for a fault
	kill()
	working.Wait()
}

// busy is a student who does one thing after the other.
type busy struct {
	*load.Student
	draw *rand.Rand
}

// busyClass makes a class in the file, and so many students of it.
func busyClass(t *testing.T, book *load.Book, course *server.Course, file string, seed uint64, students int) []*busy {
	t.Helper()
	db, err := store.Open(t.Context(), file)
	if err != nil {
		t.Fatal(err)
	}
	class, err := load.MakeClass(t.Context(), db, time.Now())
	if err := errors.Join(err, db.Close()); err != nil {
		t.Fatal(err)
	}
	photo, err := load.DrawPhoto(160, 120) // small, since it is the writing that is tried here
	if err != nil {
		t.Fatal(err)
	}
	all := make([]*busy, students)
	for i := range all {
		own := rand.New(rand.NewPCG(seed, uint64(i)))
		all[i] = &busy{load.NewStudent(book, course, own), own}
		all[i].Class, all[i].Photo = class, photo
	}
	return all
}

// work goes on until the program is killed. An error is anything else that goes wrong.
// The context ends no request: it is the kill that does.
func (s *busy) work(over context.Context) error {
	if s.draw.IntN(4) == 0 {
		s.Forget()
	}
	ctx := context.WithoutCancel(over)
	for {
		if err := s.oneThing(ctx); err != nil {
			if over.Err() != nil {
				return nil
			}
			return err
		}
	}
}

// oneThing sends something that is to be kept.
func (s *busy) oneThing(ctx context.Context) error {
	do := []func(context.Context) error{s.Answer, s.Answer, s.Plan, s.Scenario, s.Set, s.batch}[s.draw.IntN(6)]
	return do(ctx)
}

// batch is another student's, from joining to the record sent in.
func (s *busy) batch(ctx context.Context) error {
	s.Forget()
	if err := s.Join(ctx); err != nil {
		return err
	}
	return s.Batch(ctx)
}

// recordsIn counts the batches of a class that came as far as a record.
func recordsIn(t *testing.T, file string, class load.Class) (n int) {
	t.Helper()
	db, err := store.Open(t.Context(), file)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	batches, err := db.ClassBatches(t.Context(), class.ID)
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range batches {
		versions, err := db.BatchVersions(t.Context(), b.ID)
		if err != nil {
			t.Fatal(err)
		}
		if slices.ContainsFunc(versions, func(v store.BatchVersion) bool { return v.Kind == store.RecordVersion }) {
			n++
		}
	}
	return n
}

// checkBook compares the file, as it was left, with what was acknowledged.
func checkBook(t *testing.T, book *load.Book, file string) {
	t.Helper()
	db, err := store.Open(t.Context(), file)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := errors.Join(db.Integrity(t.Context()), book.Check(t.Context(), db)); err != nil {
		t.Error(err)
	}
}
