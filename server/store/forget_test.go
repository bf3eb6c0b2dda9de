package store

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
	"time"
)

// onDisk returns all bytes of the database file and of its log.
func onDisk(t *testing.T, path string) []byte {
	t.Helper()
	all, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	log, err := os.ReadFile(path + "-wal")
	if err != nil {
		t.Fatal(err)
	}
	return append(all, log...)
}

// marked returns a text of at least n bytes in which the visitor's mark is
// everywhere.
func marked(visitor string, n int) string {
	return strings.Repeat("<"+visitor+">", n/(len(visitor)+2)+1)
}

// Rows of many sizes, in an order without order, are spread over many pages,
// which are split and joined as rows come and go. That leaves stale copies of
// rows behind that zeroing the deleted row does not reach, and these too must
// be gone. With some of these seeds there are such copies when the file is not
// rebuilt.
func TestForgetLeavesNoByteInTheFile(t *testing.T) {
	t.Parallel()
	for _, seed := range []uint64{9, 17, 18, 20, 22, 33, 34} {
		t.Run(fmt.Sprint("seed ", seed), func(t *testing.T) {
			t.Parallel()
			ctx := t.Context()
			path := newPath(t)
			s := openStore(t, path)
			r := rand.New(rand.NewPCG(seed, 0))
			for i := range 300 {
				v := fmt.Sprintf("visitor%02d.", r.IntN(40))
				id := fmt.Sprint(r.Uint64())
				at := noon.Add(time.Duration(r.IntN(1000)) * time.Second)
				text := func() string {
					if r.IntN(6) == 0 {
						return marked(v, r.IntN(3000))
					}
					return marked(v, r.IntN(200))
				}
				var err error
				switch r.IntN(12) {
				case 0:
					_, err = s.write.ExecContext(ctx, forgetVisitor, v)
				case 1, 2:
					err = s.SavePlan(ctx, SavedPlan{ID: id, Visitor: v, Title: text(), Plan: []byte(text()), Report: []byte(text()), At: at})
				case 3, 4:
					err = s.SaveAttempt(ctx, Attempt{ID: id, Visitor: v, Scenario: text(), Plan: []byte(text()), Report: []byte(text()), At: at})
				default:
					err = s.SaveAnswer(ctx, Answer{Visitor: v, Question: text(), Given: []string{text()}, At: at})
				}
				if err != nil {
					t.Fatalf("thing %d: %v", i, err)
				}
			}

			kept, err := stored(ctx, s, "visitor39.")
			if err != nil {
				t.Fatal(err)
			}
			const gone = 20
			for v := range gone {
				if err := s.Forget(ctx, fmt.Sprintf("visitor%02d.", v)); err != nil {
					t.Fatal(err)
				}
			}
			files := onDisk(t, path)
			for v := range gone {
				name := fmt.Sprintf("visitor%02d.", v)
				if n := bytes.Count(files, []byte(name)); n > 0 {
					t.Errorf("the files hold %q %d times after it was forgotten", name, n)
				}
			}
			if err := kept.check(ctx, s); err != nil {
				t.Error(err)
			}
			if err := s.Integrity(ctx); err != nil {
				t.Error(err)
			}
		})
	}
}

func TestForgetUnknownVisitor(t *testing.T) {
	t.Parallel()
	s := openStore(t, newPath(t))
	want := sampleOf("ada")
	if err := want.save(t.Context(), s); err != nil {
		t.Fatal(err)
	}
	if err := s.Forget(t.Context(), "ben"); err != nil {
		t.Errorf("Forget() = %v", err)
	}
	if err := want.check(t.Context(), s); err != nil {
		t.Error(err)
	}
}

// A reader that started before Forget still needs the log. Once it is done, the
// next sweep empties it.
func TestSweepEmptiesTheLogForgetCouldNot(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	path := newPath(t)
	s := openStore(t, path)
	if err := s.SaveAnswer(ctx, Answer{Visitor: "ada", Question: marked("ada", 100), At: noon}); err != nil {
		t.Fatal(err)
	}
	rows, err := s.read.QueryContext(ctx, "select question from answers")
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	if !rows.Next() {
		t.Fatal("no row")
	}

	if err := s.Forget(ctx, "ada"); err != nil {
		t.Errorf("Forget() while somebody reads = %v", err)
	}
	if !bytes.Contains(onDisk(t, path), []byte("<ada>")) {
		t.Error("the reader lost the log it reads from")
	}
	if err := rows.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := s.SweepSessions(ctx, noon); err != nil {
		t.Fatal(err)
	}
	if bytes.Contains(onDisk(t, path), []byte("<ada>")) {
		t.Error("the text is still there after the sweep")
	}
}

// Forget deletes one row and leaves the rest to foreign keys, so every table
// that knows visitors must have one.
func TestEveryTableOfAVisitorIsForgotten(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := openStore(t, newPath(t))
	tables, err := queryAll(ctx, s.read, scanText, `
		select t.name from pragma_table_list t, pragma_table_info(t.name) c
		where c.name = 'visitor' order by t.name`)
	if err != nil {
		t.Fatal(err)
	}
	if len(tables) < 3 {
		t.Fatalf("tables with a visitor: %v, want answers, attempts, plans and any later one", tables)
	}
	for _, table := range tables {
		cascades, err := queryAll(ctx, s.read, scanText, `
			select "from" from pragma_foreign_key_list(?)
			where "table" = 'visitors' and "to" = 'id' and on_delete = 'CASCADE'`, table)
		if err != nil {
			t.Fatal(err)
		}
		if len(cascades) != 1 || cascades[0] != "visitor" {
			t.Errorf("table %s: the column visitor must reference visitors (id) on delete cascade", table)
		}
	}
}
