// Command classload plays a class at its deadline: students who join, read a lesson,
// answer questions, have a plan checked, try a scenario, and bring a practice batch from
// its plan to the record sent in, all over HTTP. It tells how long that takes, and then
// looks into the database whether everything that was acknowledged is there.
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
	"strconv"
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
	Late     int           `default:"5" help:"Of a hundred students, how many join only at the deadline. The others joined in the weeks before: they do so first, ${atOnce} at a time, and are told of apart."`
	Photos   int           `default:"20" help:"Of a hundred students, how many send a photo with their record, of ${photoSize} px. Making it small takes the server a quarter of a second of a processor, and keeping it a fifth of a megabyte."`
	Seed     uint64        `default:"1" help:"What the students do is drawn with it."`
	Addr     string        `help:"Address of a server that runs already, on this machine only. Without it, classload starts one of its own on a new database."`
	DB       string        `name:"db" placeholder:"FILE" help:"Database of that server, in which classload looks up what is kept."`
	Code     string        `help:"Code of a class on that server, which everybody joins. A practice batch of crushed tomatoes must be assigned to everyone in it."`
}

// What the help text tells.
const (
	joinAtOnce  = 2 // as many as a small machine hashes at once: nobody waits for another
	photoWidth  = 1600
	photoHeight = 1200
)

func (flags) Help() string {
	return "Each student comes from an address of its own, named in X-Forwarded-For as by a proxy before the server: a server slows down who tries to join twenty times from one address. Nothing of the server is weaker than it is when it serves."
}

func main() {
	var f flags
	kong.Parse(&f, kong.Name("classload"), kong.Description("Plays a class at its deadline and checks that what was acknowledged is kept."),
		kong.Vars{"atOnce": strconv.Itoa(joinAtOnce), "photoSize": fmt.Sprintf("%d by %d", photoWidth, photoHeight)})
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
	if f.Late < 0 || f.Late > 100 || f.Photos < 0 || f.Photos > 100 {
		return errors.New("--late and --photos are of a hundred students: from 0 to 100")
	}
	course, err := server.LoadCourse("")
	if err != nil {
		return err
	}
	var db *store.Store
	var class load.Class
	base := ""
	if f.Addr == "" {
		s, err := startOwn(ctx, course)
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, s.stop()) }()
		base, db, class = s.base, s.store, s.class
	} else {
		if base, err = onThisMachine(f.Addr); err != nil {
			return err
		}
		if f.DB == "" {
			return errors.New("name the database of the server with --db, to see whether everything is kept")
		}
		if f.Code == "" {
			return errors.New("name the code of a class on the server with --code, for the students to join")
		}
		if _, err := os.Stat(f.DB); err != nil {
			return err
		}
		if db, err = store.Open(ctx, f.DB); err != nil {
			return err
		}
		defer func() { err = errors.Join(err, db.Close()) }()
		if class, err = load.FindClass(ctx, db, f.Code, time.Now()); err != nil {
			return err
		}
	}
	photo, err := load.DrawPhoto(photoWidth, photoHeight)
	if err != nil {
		return err
	}
	book := load.NewBook(time.Now(), f.Addr == "")
	students := make([]*load.Student, f.Students)
	for i := range students {
		s := load.NewStudent(book, course, rand.New(rand.NewPCG(f.Seed, uint64(i)+1)))
		s.Base, s.Class = base, class
		if falls(i, f.Photos) {
			s.Photo = photo
		}
		students[i] = s
	}
	before := joinBefore(ctx, f, students)
	before.tell(out, "In the weeks before, students join.")
	seen := play(ctx, f, students)
	seen.tell(out, "The deadline.")
	checking := time.Now()
	if err := book.Check(context.WithoutCancel(ctx), db); err != nil {
		return fmt.Errorf("the database is not as acknowledged: %w", err)
	}
	if err := db.Integrity(context.WithoutCancel(ctx)); err != nil {
		return err
	}
	fmt.Fprintf(out, "%d things were acknowledged; all are in the database, none twice, and the file is whole (checked in %s).\n", book.Acknowledged(), time.Since(checking).Round(time.Millisecond))
	return errors.Join(before.wrong(), seen.wrong())
}

// falls says whether the ith is one of so many of a hundred, evenly spread.
func falls(i, ofHundred int) bool { return i*ofHundred/100 != (i+1)*ofHundred/100 }

// joinBefore has those students join who do so in the weeks before the deadline, a few at
// a time: nothing else happens then, and nobody is in a hurry.
func joinBefore(ctx context.Context, f flags, students []*load.Student) *seen {
	seen := newSeen()
	early := make(chan *load.Student)
	var joining sync.WaitGroup
	for range joinAtOnce {
		joining.Go(func() {
			for s := range early {
				s.Took = seen.note
				if s.Join(ctx) == nil {
					seen.oneDone()
				}
				s.Leave()
			}
		})
	}
	for i, s := range students {
		if !falls(i, f.Late) {
			seen.students++
			early <- s
		}
	}
	close(early)
	joining.Wait()
	seen.took = time.Since(seen.start)
	return seen
}

// play has the students come, do their work and leave.
func play(ctx context.Context, f flags, students []*load.Student) *seen {
	ctx, cancel := context.WithTimeout(ctx, f.Most)
	defer cancel()
	seen := newSeen()
	seen.students = len(students)
	draw := rand.New(rand.NewPCG(f.Seed, 0))
	var class sync.WaitGroup
	for i, s := range students {
		s.Took = seen.note
		comes := time.Duration(draw.Float64() * float64(f.Within))
		class.Go(func() {
			defer s.Leave()
			select {
			case <-time.After(comes):
			case <-ctx.Done():
			}
			if work(ctx, s, f.Answers, falls(i, f.Late)) {
				seen.oneDone()
			}
		})
	}
	class.Wait()
	seen.took = time.Since(seen.start)
	return seen
}

// work is what one student does, and whether all of it went well. What goes wrong is
// noted where it happens; the student goes on to the next thing, as people do.
func work(ctx context.Context, s *load.Student, answers int, late bool) bool {
	var steps []func(context.Context) error
	if late {
		steps = append(steps, s.Join)
	}
	steps = append(steps, s.Read)
	for range answers {
		steps = append(steps, s.Answer)
	}
	steps = append(steps, s.Plan, s.Scenario, s.Batch)
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

// seen is what happened to the requests of a time.
type seen struct {
	start    time.Time
	took     time.Duration // the whole of it
	students int           // who were to do something

	mu       sync.Mutex
	answered map[string][]time.Duration // by kind
	failed   map[string]int             // by kind
	first    error
	done     int
}

func newSeen() *seen {
	return &seen{start: time.Now(), answered: map[string][]time.Duration{}, failed: map[string]int{}}
}

func (s *seen) note(kind string, took time.Duration, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err != nil {
		s.failed[kind]++
		if s.first == nil {
			s.first = err
		}
		return
	}
	s.answered[kind] = append(s.answered[kind], took)
}

func (s *seen) oneDone() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.done++
}

// failures is how many requests failed.
func (s *seen) failures() (n int) {
	for _, of := range s.failed {
		n += of
	}
	return n
}

// wrong tells of the requests that failed, and of students who were not done.
func (s *seen) wrong() error {
	switch {
	case s.failures() > 0:
		return fmt.Errorf("%d requests failed, the first: %w", s.failures(), s.first)
	case s.done < s.students:
		return fmt.Errorf("%d of %d students were not done; give them more time with --most", s.students-s.done, s.students)
	}
	return nil
}

// tell writes the report.
func (s *seen) tell(out io.Writer, title string) {
	if s.students == 0 {
		return
	}
	fmt.Fprintf(out, "%s\n%-10s %9s %9s %9s %9s %9s %9s\n", title, "", "requests", "p50", "p95", "p99", "longest", "failed")
	var all []time.Duration
	line := func(name string, took []time.Duration, failed int) {
		slices.Sort(took)
		p := func(percent int) string {
			if len(took) == 0 {
				return "-"
			}
			return short(percentile(took, percent)).String()
		}
		fmt.Fprintf(out, "%-10s %9d %9s %9s %9s %9s %9d\n", name, len(took), p(50), p(95), p(99), p(100), failed)
	}
	for _, kind := range load.Kinds() {
		if len(s.answered[kind])+s.failed[kind] > 0 {
			all = append(all, s.answered[kind]...)
			line(kind, s.answered[kind], s.failed[kind])
		}
	}
	line("all", all, s.failures())
	fmt.Fprintf(out, "%d of %d students done in %s; %.0f requests a second; %d failed.\n", s.done, s.students, s.took.Round(10*time.Millisecond), float64(len(all))/s.took.Seconds(), s.failures())
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
