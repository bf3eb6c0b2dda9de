package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

// held keeps the only connection for writing, so that jobs gather; letGo gives it back.
func held(t *testing.T, s *Store) (letGo func()) {
	t.Helper()
	conn, err := s.write.Conn(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return sync.OnceFunc(func() {
		if err := conn.Close(); err != nil {
			t.Error(err)
		}
	})
}

// groupOf makes jobs that are run in one transaction.
func groupOf(ctx context.Context, changes ...func(*sql.Tx) error) []*job {
	var group []*job
	for _, change := range changes {
		group = append(group, &job{ctx: ctx, change: change, done: make(chan struct{})})
	}
	return group
}

// adds gives a change that adds a visitor.
func adds(visitor string) func(*sql.Tx) error {
	return func(tx *sql.Tx) error {
		_, err := tx.Exec(`insert into visitors (id) values (?)`, visitor)
		return err
	}
}

// visitorsIn lists the visitors of a store.
func visitorsIn(t *testing.T, s *Store) []string {
	t.Helper()
	all, err := s.Visitors(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// TestOneOfAGroupFailsAlone: what one job of a group has done is taken back when it
// fails, and the others are kept.
func TestOneOfAGroupFailsAlone(t *testing.T) {
	t.Parallel()
	s := openStore(t, newPath(t))
	slip := errors.New("a slip")
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	group := groupOf(t.Context(), adds("ada"), func(tx *sql.Tx) error { return errors.Join(adds("ben")(tx), slip) }, adds("ada"), adds("cleo"), adds("dora"))
	group[4].ctx = gone
	s.writer.write(group)
	for i, want := range []error{nil, slip, ErrExists, nil, context.Canceled} {
		if got := kind(group[i].failed); !errors.Is(got, want) || (got == nil) != (want == nil) {
			t.Errorf("job %d: %v, want %v", i+1, got, want)
		}
	}
	if got := visitorsIn(t, s); !slices.Equal(got, []string{"ada", "cleo"}) {
		t.Errorf("kept are %v, want ada and cleo", got)
	}
}

// TestOneOfAGroupEndsTheTransaction: SQLite rolls a whole transaction back when a
// statement is interrupted or finds no room (https://www.sqlite.org/lang_transaction.html,
// section 3). The other jobs are kept all the same.
func TestOneOfAGroupEndsTheTransaction(t *testing.T) {
	t.Parallel()
	s := openStore(t, newPath(t))
	runs := 0
	group := groupOf(t.Context(), adds("ada"), func(tx *sql.Tx) error {
		runs++
		_, err := tx.Exec(`rollback`)
		return errors.Join(err, ErrFull)
	}, adds("ben"))
	s.writer.write(group)
	for i, want := range []error{nil, ErrFull, nil} {
		if got := group[i].failed; !errors.Is(got, want) || (got == nil) != (want == nil) {
			t.Errorf("job %d: %v, want %v", i+1, got, want)
		}
	}
	if got := visitorsIn(t, s); runs != 2 || !slices.Equal(got, []string{"ada", "ben"}) {
		t.Errorf("after %d runs kept are %v, want ada and ben", runs, got)
	}
}

// TestNoRoomForOneOfAGroup: the one that finds no room says so, and the small ones
// beside it are kept.
func TestNoRoomForOneOfAGroup(t *testing.T) {
	t.Parallel()
	s := openStore(t, newPath(t))
	if _, err := s.write.ExecContext(t.Context(), "pragma max_page_count = 60"); err != nil {
		t.Fatal(err)
	}
	group := groupOf(t.Context(), adds("ada"), func(tx *sql.Tx) error {
		_, err := tx.Exec(savePlan, "big", "ada", "", make([]byte, 1_000_000), []byte{}, "", timeText(noon))
		return err
	}, adds("ben"))
	s.writer.write(group)
	for i, want := range []error{nil, ErrFull, nil} {
		if got := kind(group[i].failed); !errors.Is(got, want) || (got == nil) != (want == nil) {
			t.Errorf("job %d: %v, want %v", i+1, got, want)
		}
	}
	if got := visitorsIn(t, s); !slices.Equal(got, []string{"ada", "ben"}) {
		t.Errorf("kept are %v, want ada and ben", got)
	}
}

// TestInterruptedInAGroup: a request that ends in the middle of a long statement ends
// that statement, and no other job.
func TestInterruptedInAGroup(t *testing.T) {
	t.Parallel()
	s := openStore(t, newPath(t))
	ctx, cancel := context.WithCancel(t.Context())
	group := groupOf(t.Context(), adds("ada"), func(tx *sql.Tx) error {
		time.AfterFunc(20*time.Millisecond, cancel)
		_, err := tx.ExecContext(ctx, `insert into visitors (id) with recursive n (i) as (select 1 union all select i + 1 from n) select 'v' || i from n`)
		return err
	}, adds("ben"))
	s.writer.write(group)
	if group[0].failed != nil || group[1].failed == nil || group[2].failed != nil {
		t.Errorf("failed: %v, %v, %v; want only the second", group[0].failed, group[1].failed, group[2].failed)
	}
	if got := visitorsIn(t, s); !slices.Equal(got, []string{"ada", "ben"}) {
		t.Errorf("kept are %v, want ada and ben", got)
	}
}

// TestAnsweredWhenCommitted: whoever is answered finds the change through another
// connection, which sees only what is committed.
func TestAnsweredWhenCommitted(t *testing.T) {
	t.Parallel()
	s := openStore(t, newPath(t))
	var asking sync.WaitGroup
	for w := range 32 {
		asking.Go(func() {
			for i := range 10 {
				visitor := fmt.Sprint("visitor ", w, " ", i)
				if err := s.writer.do(t.Context(), adds(visitor)); err != nil {
					t.Error(err)
				}
				if _, err := s.Visitor(t.Context(), visitor); err != nil {
					t.Errorf("%s was answered before it was there: %v", visitor, err)
				}
			}
		})
	}
	asking.Wait()
}

// TestCancelled: a change that has not begun when its request ends is not made. One
// that has begun is, and its caller hears so.
func TestCancelled(t *testing.T) {
	t.Parallel()
	s := openStore(t, newPath(t))
	before, cancel := context.WithCancel(t.Context())
	letGo := held(t, s)
	answered := make(chan error, 1)
	go func() { answered <- s.writer.do(before, adds("ada")) }()
	time.Sleep(20 * time.Millisecond) // so that it waits for the connection
	cancel()
	letGo()
	if err := <-answered; !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled before it began: %v", err)
	}
	during, cancel := context.WithCancel(t.Context())
	err := s.writer.do(during, func(tx *sql.Tx) error {
		cancel()
		return adds("ben")(tx)
	})
	if err != nil {
		t.Errorf("cancelled after it began: %v", err)
	}
	if got := visitorsIn(t, s); !slices.Equal(got, []string{"ben"}) {
		t.Errorf("kept are %v, want ben", got)
	}
}

// TestCloseWaits: what was asked for before the end is kept; what is asked for after
// it is refused, and nobody waits for ever.
func TestCloseWaits(t *testing.T) {
	t.Parallel()
	path := newPath(t)
	s, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	letGo := held(t, s)
	const asking = 500
	results := make(chan error, asking)
	for i := range asking {
		go func() { results <- s.writer.do(context.Background(), adds(fmt.Sprint("visitor", i))) }()
	}
	time.Sleep(20 * time.Millisecond)
	closed := make(chan error)
	go func() { closed <- s.Close() }()
	time.Sleep(20 * time.Millisecond)
	letGo()
	if err := <-closed; err != nil {
		t.Error(err)
	}
	kept := 0
	for range asking {
		switch err := <-results; {
		case err == nil:
			kept++
		case !errors.Is(err, errClosed):
			t.Error(err)
		}
	}
	if err := s.writer.do(t.Context(), adds("late")); !errors.Is(err, errClosed) {
		t.Errorf("after the end: %v", err)
	}
	if got := len(visitorsIn(t, openStore(t, path))); got != kept || kept == 0 {
		t.Errorf("%d are kept, %d were told so", got, kept)
	}
}

// TestGroupsAreBounded: more than fit into a group are answered group by group.
func TestGroupsAreBounded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var mu sync.Mutex
		transactions, inThis, most := map[*sql.Tx]bool{}, 0, 0
		s, err := Open(t.Context(), filepath.Join(t.TempDir(), "x.db"))
		if err != nil {
			t.Fatal(err)
		}
		s.writer.close()
		s.writer = newWriter(s.write, 10)
		conn, err := s.write.Conn(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		var asking sync.WaitGroup
		for range 95 {
			asking.Go(func() {
				err := s.writer.do(t.Context(), func(tx *sql.Tx) error {
					mu.Lock()
					defer mu.Unlock()
					if !transactions[tx] {
						transactions[tx], inThis = true, 0
					}
					inThis++
					most = max(most, inThis)
					return nil
				})
				if err != nil {
					t.Error(err)
				}
			})
		}
		synctest.Wait() // all of them wait now
		if err := conn.Close(); err != nil {
			t.Fatal(err)
		}
		asking.Wait()
		// The first group had nobody to wait for when it was made.
		if most != 10 || len(transactions) < 10 || len(transactions) > 11 {
			t.Errorf("95 jobs were made in %d transactions of up to %d, want 10 or 11 of up to 10", len(transactions), most)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
}

// TestOnlyTheWriterWrites: the connection for writing is used where it is opened and
// closed, by the writer, and to rebuild the file and empty the log, which SQLite allows
// in no transaction; nowhere else.
func TestOnlyTheWriterWrites(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	var users []string
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range parsed.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok {
				continue
			}
			ast.Inspect(f, func(n ast.Node) bool {
				if x, ok := n.(*ast.SelectorExpr); ok && x.Sel.Name == "write" {
					if of, ok := x.X.(*ast.Ident); !ok || of.Name != "w" {
						users = append(users, f.Name.Name)
					}
				}
				return true
			})
		}
	}
	slices.Sort(users)
	users = slices.Compact(users)
	if want := []string{"Close", "InBulk", "checkpoint", "wipe"}; !slices.Equal(users, want) {
		t.Errorf("the connection for writing is used in %v, want only %v: make changes with together, change, changeAlone or writeFor", users, want)
	}
}

// BenchmarkSubmit has 64 students hand in answers at once: committed together, and, for
// comparison, each in a transaction of its own.
func BenchmarkSubmit(b *testing.B) {
	for _, how := range []struct {
		name string
		most int
	}{{"grouped", mostTogether}, {"one-each", 1}} {
		b.Run(how.name, func(b *testing.B) {
			s := openStore(b, newPath(b))
			s.writer.close()
			s.writer = newWriter(s.write, how.most)
			b.SetParallelism(64 / min(64, runtime.GOMAXPROCS(0)))
			start := time.Now()
			b.RunParallel(func(pb *testing.PB) {
				a := Answer{Visitor: NewID(), Question: "altitude-why", Lesson: "altitude", Given: []string{"lower-boiling"}, Right: true, At: noon}
				for pb.Next() {
					if err := s.SaveAnswer(b.Context(), a); err != nil {
						b.Error(err)
					}
				}
			})
			b.ReportMetric(float64(b.N)/time.Since(start).Seconds(), "answers/s")
		})
	}
}
