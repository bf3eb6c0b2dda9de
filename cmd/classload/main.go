// Command classload plays a class at its deadline: students who read a lesson, answer
// questions, have a plan checked and try a scenario, all over HTTP. It tells how long
// that takes, and then looks into the database whether everything that was acknowledged
// is there.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/signal"
	"slices"
	"sync"
	"time"

	"github.com/alecthomas/kong"

	"rollingboil/server"
	"rollingboil/server/load"
	"rollingboil/server/store"
)

type flags struct {
	Students int           `default:"300" help:"How many students there are."`
	Within   time.Duration `default:"10s" help:"Time within which they come, each at a moment of its own."`
	Most     time.Duration `default:"5m" help:"Time after which those who are not done are sent home."`
	Answers  int           `default:"3" help:"Questions that each student answers."`
	Seed     uint64        `default:"1" help:"What the students do is drawn with it."`
	Addr     string        `help:"Address of a server that runs already, on this machine only. Without it, classload starts one of its own on a new database."`
	DB       string        `name:"db" placeholder:"FILE" help:"Database of that server."`
}

func main() {
	var f flags
	kong.Parse(&f, kong.Name("classload"), kong.Description("Plays a class at its deadline and checks that what was acknowledged is kept."))
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, f, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "classload:", err)
		os.Exit(1)
	}
}

// run plays the class and writes the report. Whatever is not as it should be is an
// error.
func run(ctx context.Context, f flags, out io.Writer) (err error) {
	if f.Students < 1 || f.Answers < 0 || f.Within < 0 || f.Most <= 0 {
		return errors.New("there must be students, and time for them")
	}
	course, err := server.LoadCourse("")
	if err != nil {
		return err
	}
	var db *store.Store
	base := ""
	if f.Addr == "" {
		s, err := startOwn(course)
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, s.stop()) }()
		base, db = s.base, s.store
	} else {
		if base, err = onThisMachine(f.Addr); err != nil {
			return err
		}
		if f.DB == "" {
			return errors.New("name the database of the server with --db, to see whether everything is kept")
		}
		if _, err := os.Stat(f.DB); err != nil {
			return err
		}
		if db, err = store.Open(ctx, f.DB); err != nil {
			return err
		}
		defer func() { err = errors.Join(err, db.Close()) }()
	}
	start := time.Now()
	book := load.NewBook(start, f.Addr == "")
	seen := play(ctx, f, course, book, base)
	seen.tell(out, f.Students, time.Since(start))
	checking := time.Now()
	if err := book.Check(context.WithoutCancel(ctx), db); err != nil {
		return fmt.Errorf("the database is not as acknowledged: %w", err)
	}
	if err := db.Integrity(context.WithoutCancel(ctx)); err != nil {
		return err
	}
	fmt.Fprintf(out, "%d things were acknowledged; all are in the database, none twice, and the file is whole (checked in %s).\n", book.Acknowledged(), time.Since(checking).Round(time.Millisecond))
	return seen.wrong()
}

// play has the students come, do their work and leave.
func play(ctx context.Context, f flags, course *server.Course, book *load.Book, base string) *seen {
	ctx, cancel := context.WithTimeout(ctx, f.Most)
	defer cancel()
	seen := &seen{took: map[string][]time.Duration{}}
	draw := rand.New(rand.NewPCG(f.Seed, 0))
	var class sync.WaitGroup
	for i := range f.Students {
		s := load.NewStudent(book, course, rand.New(rand.NewPCG(f.Seed, uint64(i)+1)))
		s.Base, s.Took = base, seen.note
		comes := time.Duration(draw.Float64() * float64(f.Within))
		class.Go(func() {
			defer s.Leave()
			select {
			case <-time.After(comes):
			case <-ctx.Done():
			}
			if work(ctx, s, f.Answers) {
				seen.oneDone()
			}
		})
	}
	class.Wait()
	return seen
}

// work is what one student does, and whether all of it went well. What goes wrong is
// noted where it happens; the student goes on to the next thing, as people do.
func work(ctx context.Context, s *load.Student, answers int) bool {
	steps := []func(context.Context) error{s.Read}
	for range answers {
		steps = append(steps, s.Answer)
	}
	steps = append(steps, s.Plan, s.Scenario)
	done := true
	for _, step := range steps {
		if ctx.Err() != nil {
			return false
		}
		if err := step(ctx); err != nil {
			done = false
		}
	}
	return done
}

// seen is what happened to the requests.
type seen struct {
	mu     sync.Mutex
	took   map[string][]time.Duration // by kind
	failed int
	first  error
	done   int
}

func (s *seen) note(kind string, took time.Duration, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err != nil {
		s.failed++
		if s.first == nil {
			s.first = err
		}
		return
	}
	s.took[kind] = append(s.took[kind], took)
}

func (s *seen) oneDone() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.done++
}

// wrong tells of the requests that failed.
func (s *seen) wrong() error {
	if s.failed == 0 {
		return nil
	}
	return fmt.Errorf("%d requests failed, the first: %w", s.failed, s.first)
}

// tell writes the report.
func (s *seen) tell(out io.Writer, students int, took time.Duration) {
	fmt.Fprintf(out, "%-10s %9s %9s %9s %9s %9s\n", "", "requests", "p50", "p95", "p99", "longest")
	var all []time.Duration
	line := func(name string, took []time.Duration) {
		if len(took) > 0 {
			slices.Sort(took)
			fmt.Fprintf(out, "%-10s %9d %9s %9s %9s %9s\n", name, len(took), short(percentile(took, 50)), short(percentile(took, 95)), short(percentile(took, 99)), short(took[len(took)-1]))
		}
	}
	for _, kind := range load.Kinds() {
		all = append(all, s.took[kind]...)
		line(kind, s.took[kind])
	}
	line("all", all)
	fmt.Fprintf(out, "%d of %d students done in %s; %.0f requests a second; %d failed.\n", s.done, students, took.Round(10*time.Millisecond), float64(len(all))/took.Seconds(), s.failed)
}

// percentile is the smallest of the sorted times that so many of a hundred do not
// exceed: the nearest rank.
func percentile(sorted []time.Duration, p int) time.Duration {
	return sorted[(len(sorted)*p+99)/100-1]
}

// short rounds a time to what matters of it.
func short(d time.Duration) time.Duration {
	if d > time.Second {
		return d.Round(10 * time.Millisecond)
	}
	return d.Round(10 * time.Microsecond)
}
