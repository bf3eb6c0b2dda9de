package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// made makes a closed database with the sample of ada.
func made(t *testing.T) string {
	t.Helper()
	path := newPath(t)
	s, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	if err := sampleOf("ada").save(t.Context(), s); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// filesIn lists what is in the folder of a file.
func filesIn(t *testing.T, path string) []string {
	t.Helper()
	entries, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

func readFile(t *testing.T, path string) string {
	t.Helper()
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(raw)
}

// rowsOf is the number of rows that a database holds in a table.
func rowsOf(c Contents, table string) int {
	i := slices.IndexFunc(c.Rows, func(n Count) bool { return n.Table == table })
	if i < 0 {
		return -1
	}
	return c.Rows[i].Rows
}

// TestBackupWhileWriting: each writer keeps an answer and then a plan of the same
// number. Whatever the moment, a copy holds the numbers from 0 on without a gap, and at
// most one answer more than plans.
func TestBackupWhileWriting(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	path := newPath(t)
	s := openStore(t, path)
	writing, stop := context.WithCancel(ctx)
	var writers sync.WaitGroup
	const n = 6
	for w := range n {
		visitor := fmt.Sprint("visitor", w)
		writers.Go(func() {
			for i := 0; writing.Err() == nil; i++ {
				at := noon.Add(time.Duration(i) * time.Second)
				if err := s.SaveAnswer(ctx, Answer{Visitor: visitor, Question: fmt.Sprint(i), At: at}); err != nil {
					t.Error(err)
				}
				if err := s.SavePlan(ctx, SavedPlan{ID: fmt.Sprint(visitor, "-", i), Visitor: visitor, Plan: make([]byte, 3000), At: at}); err != nil {
					t.Error(err)
				}
			}
		})
	}
	var copies []string
	for i := range 5 {
		time.Sleep(50 * time.Millisecond)
		to := filepath.Join(t.TempDir(), "é #%20?.db")
		if runtime.GOOS == "windows" {
			to = filepath.Join(t.TempDir(), "é #%20.db")
		}
		held, err := Backup(ctx, path, to)
		if err != nil {
			t.Fatal(err)
		}
		if i > 0 && rowsOf(held, "answers") == 0 {
			t.Error("nothing was written before the copy was made")
		}
		copies = append(copies, to)
	}
	stop()
	writers.Wait()
	before := 0
	for _, file := range copies {
		if runtime.GOOS != "windows" {
			if info, err := os.Stat(file); err != nil || info.Mode() != 0o600 {
				t.Errorf("the copy has mode %v, %v; want it private", info.Mode(), err)
			}
		}
		held, err := Inspect(ctx, file)
		if err != nil {
			t.Fatal(err)
		}
		if got := filesIn(t, file); len(got) != 1 {
			t.Errorf("a backup should be one file, there are %v", got)
		}
		c := openStore(t, file)
		total := 0
		for w := range n {
			got, err := stored(ctx, c, fmt.Sprint("visitor", w))
			if err != nil {
				t.Fatal(err)
			}
			if more := len(got.Answers) - len(got.Plans); more != 0 && more != 1 {
				t.Errorf("visitor%d has %d answers and %d plans: that was never so", w, len(got.Answers), len(got.Plans))
			}
			for i, a := range got.Answers {
				if a.Question != fmt.Sprint(i) {
					t.Fatalf("visitor%d: answer %d is to %s", w, i, a.Question)
				}
			}
			total += len(got.Answers)
		}
		if total != rowsOf(held, "answers") || total < before {
			t.Errorf("the copy holds %d answers, it said %d, the copy before held %d", total, rowsOf(held, "answers"), before)
		}
		before = total
	}
}

// TestBackupOfAKilledProgram: what is only in the log is in the copy, too.
func TestBackupOfAKilledProgram(t *testing.T) {
	t.Parallel()
	path := newPath(t)
	s := openStore(t, path)
	if err := sampleOf("ada").save(t.Context(), s); err != nil {
		t.Fatal(err)
	}
	killed := newPath(t)
	for _, side := range []string{"", "-wal"} {
		if err := os.WriteFile(killed+side, []byte(readFile(t, path+side)), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	before := readFile(t, killed)
	to := newPath(t)
	if _, err := Backup(t.Context(), killed, to); err != nil {
		t.Fatal(err)
	}
	if readFile(t, killed) != before {
		t.Error("the database was changed by making a copy of it")
	}
	if err := sampleOf("ada").check(t.Context(), openStore(t, to)); err != nil {
		t.Error(err)
	}
}

// TestBackupRefuses: no file of another is overwritten, none is left behind, and none
// is made out of what is no database of ours.
func TestBackupRefuses(t *testing.T) {
	t.Parallel()
	ctx, path := t.Context(), made(t)
	taken := filepath.Join(t.TempDir(), "taken.db")
	if err := os.WriteFile(taken, []byte("a letter"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Backup(ctx, path, taken); !errors.Is(err, fs.ErrExist) {
		t.Errorf("onto a file: %v, want fs.ErrExist", err)
	}
	if got := readFile(t, taken); got != "a letter" {
		t.Errorf("the file holds %q now", got)
	}
	for name, from := range notOurs(t) {
		to := newPath(t)
		if _, err := Backup(ctx, from, to); err == nil {
			t.Errorf("of %s: no error", name)
		}
		if left := filesIn(t, to); len(left) != 0 {
			t.Errorf("of %s: left %v", name, left)
		}
	}
}

// notOurs makes files that must not be restored, by what they are.
func notOurs(t *testing.T) map[string]string {
	t.Helper()
	files := map[string]string{"nothing": newPath(t)}
	write := func(name, content string) {
		files[name] = newPath(t)
		if err := os.WriteFile(files[name], []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write("an empty file", "")
	write("a text", strings.Repeat("not a database\n", 100))
	good := readFile(t, made(t))
	write("half a file", good[:len(good)/2])
	page := strings.Index(good, "Thursday's sauce") / 4096 * 4096
	write("a damaged page", good[:page]+"damage from the first byte of the page on"+good[page+41:])

	run := func(name, path string, statements ...string) {
		files[name] = path
		raw := rawDatabase(t, path)
		for _, statement := range statements {
			if _, err := raw.ExecContext(t.Context(), statement); err != nil {
				t.Fatal(err)
			}
		}
		if err := raw.Close(); err != nil {
			t.Fatal(err)
		}
	}
	run("another program's", newPath(t), "create table recipes (id integer primary key)")
	run("a newer one", made(t), "insert into goose_db_version (version_id, is_applied) values (9999, 1)")
	run("one with lost rows", made(t), "pragma foreign_keys = off", "delete from visitors")
	return files
}

// TestRestore: into no database, over a closed one, over a damaged one, over one whose
// program was killed; what was there is beside it, whole.
func TestRestore(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	backup := newPath(t)
	if _, err := Backup(ctx, made(t), backup); err != nil {
		t.Fatal(err)
	}
	kept := readFile(t, backup)
	const before = "rollingboil.db.before-20260820T120000Z"
	for _, test := range []struct {
		name  string
		there func(t *testing.T, path string) // makes what is there before
		whole bool                            // it is a database with the sample of ben
	}{
		{"nothing", nil, false},
		{"a closed database", func(t *testing.T, path string) {
			s, err := Open(ctx, path)
			if err := errors.Join(err, sampleOf("ben").save(ctx, s), s.Close()); err != nil {
				t.Fatal(err)
			}
		}, true},
		{"the database of a killed program", func(t *testing.T, path string) {
			other := newPath(t)
			s := openStore(t, other)
			if err := sampleOf("ben").save(ctx, s); err != nil {
				t.Fatal(err)
			}
			for _, side := range []string{"", "-wal"} {
				if err := os.WriteFile(path+side, []byte(readFile(t, other+side)), 0o600); err != nil {
					t.Fatal(err)
				}
			}
		}, true},
		{"damage", func(t *testing.T, path string) {
			if err := os.WriteFile(path, []byte(strings.Repeat("damaged", 2000)), 0o600); err != nil {
				t.Fatal(err)
			}
		}, false},
	} {
		t.Run(test.name, func(t *testing.T) {
			path := newPath(t)
			if test.there != nil {
				test.there(t, path)
			}
			r, err := Restore(ctx, path, backup, noon)
			if err != nil {
				t.Fatal(err)
			}
			want := []string{"rollingboil.db"}
			if test.there != nil {
				want = append(want, before)
				if filepath.Base(r.Before) != before {
					t.Errorf("the one before is said to be %q", r.Before)
				}
			} else if r.Before != "" {
				t.Errorf("the one before is said to be %q, there was none", r.Before)
			}
			if d := cmp.Diff(want, filesIn(t, path)); d != "" {
				t.Errorf("files (-want +got):\n%s", d)
			}
			if r.Schema != newestSchema() || rowsOf(r.Contents, "answers") != 2 || rowsOf(r.Contents, "plans") != 1 {
				t.Errorf("it is said to hold %+v", r.Contents)
			}
			if err := sampleOf("ada").check(ctx, openStore(t, path)); err != nil {
				t.Error(err)
			}
			if test.whole {
				if err := sampleOf("ben").check(ctx, openStore(t, r.Before)); err != nil {
					t.Error(err)
				}
			}
			if readFile(t, backup) != kept {
				t.Error("the backup was changed")
			}
		})
	}
}

// TestRestoreOfEachOlderSchema brings it up to date.
func TestRestoreOfEachOlderSchema(t *testing.T) {
	t.Parallel()
	for _, number := range migrationNumbers(t) {
		from := newPath(t)
		raw := rawDatabase(t, from)
		if _, err := raw.ExecContext(t.Context(), readFile(t, filepath.Join("testdata", "schema-"+number+".sql"))); err != nil {
			t.Fatal(err)
		}
		if err := raw.Close(); err != nil {
			t.Fatal(err)
		}
		path := newPath(t)
		r, err := Restore(t.Context(), path, from, noon)
		if err != nil || r.Schema != newestSchema() {
			t.Errorf("schema %s: now %d, %v", number, r.Schema, err)
			continue
		}
		if err := sampleOf("ada").check(t.Context(), openStore(t, path)); err != nil {
			t.Errorf("schema %s: %v", number, err)
		}
	}
}

// TestRestoreRefuses: what must not be restored leaves everything as it was.
func TestRestoreRefuses(t *testing.T) {
	t.Parallel()
	ctx, path := t.Context(), made(t)
	before := readFile(t, path)
	files := notOurs(t)
	files["the database itself"] = path
	for name, from := range files {
		if _, err := Restore(ctx, path, from, noon); err == nil {
			t.Errorf("%s was restored", name)
		} else if name == "a newer one" && !errors.Is(err, ErrNewer) {
			t.Errorf("%s: %v, want ErrNewer", name, err)
		}
	}
	if got := filesIn(t, path); len(got) != 1 || readFile(t, path) != before {
		t.Errorf("there is now %v, or the database has changed", got)
	}
}

// TestRestoreUnderARunningProgram is refused, and over another program's database, too.
func TestRestoreUnderARunningProgram(t *testing.T) {
	t.Parallel()
	ctx, path := t.Context(), newPath(t)
	s := openStore(t, path)
	if err := sampleOf("ben").save(ctx, s); err != nil {
		t.Fatal(err)
	}
	backup := made(t)
	if _, err := Restore(ctx, path, backup, noon); !errors.Is(err, ErrBusy) || !strings.Contains(err.Error(), "must be stopped first") {
		t.Errorf("while it is in use: %v, want ErrBusy and what to do", err)
	}
	if err := sampleOf("cleo").save(ctx, s); err != nil {
		t.Errorf("afterwards the program cannot write: %v", err)
	}
	for _, visitor := range []string{"ben", "cleo"} {
		if err := sampleOf(visitor).check(ctx, s); err != nil {
			t.Error(err)
		}
	}
	other := notOurs(t)["another program's"]
	before := readFile(t, other)
	if _, err := Restore(ctx, other, backup, noon); err == nil || readFile(t, other) != before || len(filesIn(t, other)) != 1 {
		t.Errorf("over another program's database: %v, files %v", err, filesIn(t, other))
	}
}
