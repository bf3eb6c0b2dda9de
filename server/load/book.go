// Package load keeps a server busy as a class of students does, and holds the server to
// what it acknowledged.
package load

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"regexp"
	"strings"
	"sync"
	"time"

	"rollingboil/server/store"
)

// Book is what students sent, and what they were told is kept. Each thing has a name
// that tells it from all others. Many students may use a book at once.
type Book struct {
	// Since is when the first thing was sent; what the database holds from before is
	// none of the class's.
	Since time.Time
	// Alone says that nobody else writes, so that whatever is in the database from
	// Since on must have been sent.
	Alone bool

	mu                 sync.Mutex
	sent, acknowledged map[string]bool
	last               uint64
	left               int // to be acknowledged until enough is closed
	enough             chan struct{}
}

// NewBook makes an empty book.
func NewBook(since time.Time, alone bool) *Book {
	// The columns of times are text that sorts as the times do; a clock of the system
	// may be a little behind itself.
	return &Book{Since: since.Add(-time.Second), Alone: alone, sent: map[string]bool{}, acknowledged: map[string]bool{}}
}

// After closes when so many more requests are acknowledged.
func (b *Book) After(requests int) <-chan struct{} {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.left, b.enough = requests, make(chan struct{})
	return b.enough
}

// SoFar is a book of what is acknowledged at this moment; what is sent later may be in
// the database or not.
func (b *Book) SoFar() *Book {
	b.mu.Lock()
	defer b.mu.Unlock()
	return &Book{Since: b.Since, acknowledged: maps.Clone(b.acknowledged)}
}

// Acknowledged is how many things students were told are kept.
func (b *Book) Acknowledged() int {
	b.mu.Lock()
	defer b.mu.Unlock()
	return len(b.acknowledged)
}

// next numbers the things, from 1.
func (b *Book) next() uint64 {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.last++
	return b.last
}

func (b *Book) noteSent(names ...string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, name := range names {
		b.sent[name] = true
	}
}

func (b *Book) noteAcknowledged(names ...string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, name := range names {
		b.acknowledged[name] = true
	}
	if b.left--; b.left == 0 {
		close(b.enough)
	}
}

func answerName(question string, seed uint64) string {
	return fmt.Sprintf("answer %s %d", question, seed)
}
func attemptName(seed uint64) string           { return fmt.Sprintf("attempt %d", seed) }
func planName(altitude, minutes string) string { return "plan " + altitude + " " + minutes }
func setName(id string) string                 { return "set " + id }
func placeName(id string, place int) string    { return fmt.Sprintf("place %s %d", id, place) }
func handedInName(id string) string            { return "handed in " + id }
func accountName(student string) string        { return "account of " + student }
func memberName(class, student string) string  { return "member of " + class + ": " + student }
func batchName(student, assignment string) string {
	return "batch of " + student + " for " + assignment
}

// versionName says also what a version holds: the name of its plan or record.
func versionName(batch string, n int, holds string) string {
	return fmt.Sprintf("version %d of batch %s: %s", n, batch, holds)
}
func recordName(lot string) string { return "record of " + lot }
func eventName(batch, what string, version int) string {
	return fmt.Sprintf("%s with version %d of batch %s", what, version, batch)
}

func photoName(batch string, jar int) string {
	return fmt.Sprintf("photo of jar %d of batch %s", jar, batch)
}

// mostProblems is how many problems Check tells; after those a list says no more.
const mostProblems = 10

// Check compares the book with a database. Its error lists what was acknowledged and is
// not there, what is there more than once, and, if the class is alone, what is there
// and was never sent. No student may be at work meanwhile.
func (b *Book) Check(ctx context.Context, db *store.Store) error {
	kept, problems, err := b.kept(ctx, db)
	if err != nil {
		return err
	}
	for name := range b.acknowledged {
		if kept[name] == 0 {
			problems = append(problems, fmt.Errorf("%s was acknowledged and is not there", name))
		}
	}
	for name, n := range kept {
		if n > 1 {
			problems = append(problems, fmt.Errorf("%s is there %d times", name, n))
		}
		// The name of a set is known only from the answer to its request.
		if b.Alone && !b.sent[name] && !strings.HasPrefix(name, setName("")) {
			problems = append(problems, fmt.Errorf("%s is there and was never sent", name))
		}
	}
	if n := len(problems); n > mostProblems {
		problems = append(problems[:mostProblems], fmt.Errorf("and %d more", n-mostProblems))
	}
	return errors.Join(problems...)
}

// kept counts what the database holds, by name.
func (b *Book) kept(ctx context.Context, db *store.Store) (kept map[string]int, problems []error, err error) {
	visitors, err := db.Visitors(ctx)
	if err != nil {
		return nil, nil, err
	}
	kept = map[string]int{}
	for _, v := range visitors {
		answers, err1 := db.ListAnswers(ctx, v)
		plans, err2 := db.ListPlans(ctx, v)
		attempts, err3 := db.ListAttempts(ctx, v)
		sets, err4 := db.ListSittings(ctx, v)
		if err := errors.Join(err1, err2, err3, err4); err != nil {
			return nil, nil, err
		}
		handedIn := map[string]int{} // answers by set
		for _, a := range answers {
			switch {
			case a.Sitting != "":
				handedIn[a.Sitting]++
			case a.At.After(b.Since):
				kept[answerName(a.Question, a.Seed)]++
			}
		}
		for _, p := range plans {
			if p.At.After(b.Since) {
				kept[nameOfPlan(p.Plan)]++
			}
		}
		for _, a := range attempts {
			if a.At.After(b.Since) {
				kept[attemptName(a.Seed)]++
			}
		}
		for _, s := range sets {
			if !s.Begun.After(b.Since) {
				continue
			}
			kept[setName(s.ID)]++
			for place := range s.Answers {
				kept[placeName(s.ID, place)]++
			}
			want := 0
			if !s.Submitted.IsZero() {
				kept[handedInName(s.ID)]++
				want = len(s.Answers)
			}
			if handedIn[s.ID] != want {
				problems = append(problems, fmt.Errorf("set %s with %d answers, handed in: %v, has given %d answers", s.ID, len(s.Answers), !s.Submitted.IsZero(), handedIn[s.ID]))
			}
		}
		wrong, err := b.keptByName(ctx, db, v, kept)
		if err != nil {
			return nil, nil, err
		}
		problems = append(problems, wrong...)
	}
	return kept, problems, nil
}

// keptByName counts what hangs on an account: the account itself, the classes it is a
// member of, and its practice batches. A visitor without a name has none of these.
func (b *Book) keptByName(ctx context.Context, db *store.Store, visitor string, kept map[string]int) (problems []error, err error) {
	p, err := db.Person(ctx, visitor)
	if errors.Is(err, store.ErrNotFound) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	if p.Role == store.Student && p.Joined.After(b.Since) {
		kept[accountName(p.Name)]++
		classes, err := db.Joined(ctx, visitor)
		if err != nil {
			return nil, err
		}
		for _, class := range classes {
			kept[memberName(class.ID, p.Name)]++
		}
	}
	batches, err := db.ListBatches(ctx, visitor)
	if err != nil {
		return nil, err
	}
	for _, batch := range batches {
		if !batch.Made.After(b.Since) {
			continue
		}
		kept[batchName(p.Name, batch.Assignment)]++
		wrong, err := keptOfBatch(ctx, db, batch.ID, kept)
		if err != nil {
			return nil, err
		}
		problems = append(problems, wrong...)
	}
	return problems, nil
}

// keptOfBatch counts what a batch holds. A photo whose bytes are not those it was kept
// with is a problem.
func keptOfBatch(ctx context.Context, db *store.Store, batch string, kept map[string]int) (problems []error, err error) {
	versions, err1 := db.BatchVersions(ctx, batch)
	events, err2 := db.BatchEvents(ctx, batch)
	photos, err3 := db.BatchPhotos(ctx, batch)
	if err := errors.Join(err1, err2, err3); err != nil {
		return nil, err
	}
	for _, v := range versions {
		holds := nameOfPlan(v.File)
		if v.Kind == store.RecordVersion {
			holds = recordName(v.Lot)
		}
		kept[versionName(batch, v.N, holds)]++
	}
	for _, e := range events {
		kept[eventName(batch, e.What, e.N)]++
	}
	for _, photo := range photos {
		name := photoName(batch, photo.Jar)
		kept[name]++
		picture, err := db.Photo(ctx, batch, photo.ID, false)
		if err != nil {
			return nil, err
		}
		if sum := sha256.Sum256(picture); hex.EncodeToString(sum[:]) != photo.Sum {
			problems = append(problems, fmt.Errorf("%s is there and is not the picture that was kept", name))
		}
	}
	return problems, nil
}

var planLines = regexp.MustCompile(`(?s)altitude: (\d+) ft\n.*time: (\d+) min\n`)

// nameOfPlan names a kept plan by its altitude and time, or by all of it.
func nameOfPlan(plan []byte) string {
	if found := planLines.FindSubmatch(plan); found != nil {
		return planName(string(found[1]), string(found[2]))
	}
	return string(plan)
}
