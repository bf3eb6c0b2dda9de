package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// newPath returns the path of a database that does not exist yet.
func newPath(t testing.TB) string {
	t.Helper()
	return filepath.Join(t.TempDir(), "rollingboil.db")
}

// openStore opens the database at the path until the test ends.
func openStore(t testing.TB, path string) *Store {
	t.Helper()
	s, err := Open(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Errorf("Close() = %v", err)
		}
	})
	return s
}

// noon is the time everything happens at in these tests, more or less. It has
// nine digits after the second, the last two of them zero.
var noon = time.Date(2026, time.August, 20, 12, 0, 0, 123456700, time.UTC)

// sample holds one visitor with something of everything.
type sample struct {
	Visitor  Visitor
	Answers  []Answer
	Plans    []SavedPlan
	Attempts []Attempt
}

// sampleOf returns the sample of a visitor, always the same for the same id.
func sampleOf(visitor string) sample {
	return sample{
		Visitor: Visitor{ID: visitor, AltitudeFt: 6240, AltitudeKnown: true},
		Answers: []Answer{
			{Visitor: visitor, Question: "altitude-why", Lesson: "altitude", Given: []string{"lower-boiling"}, Right: true, At: noon},
			{Visitor: visitor, Question: "headspace-pick", Given: []string{"½ in", "", "it's \"full\""}, At: noon.Add(time.Nanosecond)},
		},
		Plans: []SavedPlan{
			{ID: visitor + "-plan", Visitor: visitor, Title: "Thursday's sauce", Plan: []byte("food: tomato-sauce\r\n"), Report: []byte(`{"verdict":"incomplete"}`), Verdict: "incomplete", At: noon},
		},
		Attempts: []Attempt{
			{ID: visitor + "-late", Visitor: visitor, Scenario: "grange-supper", Plan: []byte("\x00\xff"), Report: []byte("{}\n"), Verdict: "as-tested", Passed: true, At: noon.Add(time.Hour)},
			{ID: visitor + "-early", Visitor: visitor, Scenario: "grange-supper", Plan: []byte("pack: raw"), Report: []byte("{}"), Verdict: "unsafe", At: noon},
		},
	}
}

// save stores the sample.
func (x sample) save(ctx context.Context, s *Store) error {
	errs := []error{s.SetAltitude(ctx, x.Visitor.ID, x.Visitor.AltitudeFt)}
	for _, a := range x.Answers {
		errs = append(errs, s.SaveAnswer(ctx, a))
	}
	for _, p := range x.Plans {
		errs = append(errs, s.SavePlan(ctx, p))
	}
	for _, a := range x.Attempts {
		errs = append(errs, s.SaveAttempt(ctx, a))
	}
	return errors.Join(errs...)
}

// check compares the sample with what is stored.
func (x sample) check(ctx context.Context, s *Store) error {
	got, err := stored(ctx, s, x.Visitor.ID)
	if err != nil {
		return err
	}
	if d := cmp.Diff(x, got, cmpopts.EquateEmpty()); d != "" {
		return fmt.Errorf("stored for %s (-want +got):\n%s", x.Visitor.ID, d)
	}
	return nil
}

// stored returns everything that is stored for the visitor.
func stored(ctx context.Context, s *Store, visitor string) (sample, error) {
	v, err := s.Visitor(ctx, visitor)
	if errors.Is(err, ErrNotFound) {
		v, err = Visitor{ID: visitor}, nil
	}
	answers, err1 := s.ListAnswers(ctx, visitor)
	plans, err2 := s.ListPlans(ctx, visitor)
	attempts, err3 := s.ListAttempts(ctx, visitor)
	return sample{v, answers, plans, attempts}, errors.Join(err, err1, err2, err3)
}

func TestSavedThingsComeBackAsTheyWere(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	path := newPath(t)
	s, err := Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	ada, ben := sampleOf("ada"), sampleOf("ben")
	for _, x := range []sample{ada, ben} {
		if err := x.save(ctx, s); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}

	s = openStore(t, path)
	for _, x := range []sample{ada, ben} {
		if err := x.check(ctx, s); err != nil {
			t.Error(err)
		}
	}
	plan, err := s.Plan(ctx, "ada", "ada-plan")
	if d := cmp.Diff(ada.Plans[0], plan); d != "" || err != nil {
		t.Errorf("Plan() = %v, (-want +got):\n%s", err, d)
	}
	attempt, err := s.Attempt(ctx, "ada", "ada-late")
	if d := cmp.Diff(ada.Attempts[0], attempt, cmpopts.EquateEmpty()); d != "" || err != nil {
		t.Errorf("Attempt() = %v, (-want +got):\n%s", err, d)
	}
	if err := s.Ping(ctx); err != nil {
		t.Errorf("Ping() = %v", err)
	}
	if err := s.Integrity(ctx); err != nil {
		t.Errorf("Integrity() = %v", err)
	}
}

// TestLastPlan: the one that heads the list, and of this visitor alone.
func TestLastPlan(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s, err := Open(ctx, newPath(t))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	if _, err := s.LastPlan(ctx, "ada"); !errors.Is(err, ErrNotFound) {
		t.Errorf("LastPlan() = %v, want ErrNotFound", err)
	}
	for _, visitor := range []string{"ada", "ben"} {
		x := sampleOf(visitor)
		if err := x.save(ctx, s); err != nil {
			t.Fatal(err)
		}
	}
	later := SavedPlan{ID: NewID(), Visitor: "ada", Title: "later", Plan: []byte("p"), Report: []byte("r"), Verdict: "v", At: sampleOf("ada").Plans[0].At.Add(time.Hour)}
	if err := s.SavePlan(ctx, later); err != nil {
		t.Fatal(err)
	}
	last, err := s.LastPlan(ctx, "ada")
	if diff := cmp.Diff(later, last); err != nil || diff != "" {
		t.Errorf("LastPlan() = %v (-want +got):\n%s", err, diff)
	}
}

func TestNothingSavedIsNotFound(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := openStore(t, newPath(t))
	if err := sampleOf("ada").save(ctx, s); err != nil {
		t.Fatal(err)
	}

	for _, test := range []struct {
		name string
		call func() error
	}{
		{"unknown visitor", func() error { _, err := s.Visitor(ctx, "ben"); return err }},
		{"unknown plan", func() error { _, err := s.Plan(ctx, "ada", "nope"); return err }},
		{"plan of another visitor", func() error { _, err := s.Plan(ctx, "ben", "ada-plan"); return err }},
		{"unknown attempt", func() error { _, err := s.Attempt(ctx, "ada", "nope"); return err }},
		{"attempt of another visitor", func() error { _, err := s.Attempt(ctx, "ben", "ada-late"); return err }},
		{"delete unknown plan", func() error { return s.DeletePlan(ctx, "ada", "nope") }},
		{"delete plan of another visitor", func() error { return s.DeletePlan(ctx, "ben", "ada-plan") }},
		{"delete unknown attempt", func() error { return s.DeleteAttempt(ctx, "ada", "nope") }},
		{"delete attempt of another visitor", func() error { return s.DeleteAttempt(ctx, "ben", "ada-late") }},
	} {
		if err := test.call(); !errors.Is(err, ErrNotFound) {
			t.Errorf("%s: got %v, want ErrNotFound", test.name, err)
		}
	}
	if err := sampleOf("ada").check(ctx, s); err != nil {
		t.Error(err)
	}
	if err := (sample{Visitor: Visitor{ID: "ben"}}).check(ctx, s); err != nil {
		t.Error(err)
	}
}

func TestDeleteTakesOneThingOnly(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := openStore(t, newPath(t))
	want := sampleOf("ada")
	if err := want.save(ctx, s); err != nil {
		t.Fatal(err)
	}

	if err := s.DeletePlan(ctx, "ada", "ada-plan"); err != nil {
		t.Fatal(err)
	}
	if err := s.DeleteAttempt(ctx, "ada", "ada-late"); err != nil {
		t.Fatal(err)
	}
	want.Plans, want.Attempts = nil, want.Attempts[1:]
	if err := want.check(ctx, s); err != nil {
		t.Error(err)
	}
}

func TestAnIDInUseIsNeverOverwritten(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := openStore(t, newPath(t))
	want := sampleOf("ada")
	if err := want.save(ctx, s); err != nil {
		t.Fatal(err)
	}

	plan := SavedPlan{ID: "ada-plan", Visitor: "ben", Title: "another", At: noon}
	if err := s.SavePlan(ctx, plan); !errors.Is(err, ErrExists) {
		t.Errorf("SavePlan() = %v, want ErrExists", err)
	}
	attempt := Attempt{ID: "ada-late", Visitor: "ben", Scenario: "another", At: noon}
	if err := s.SaveAttempt(ctx, attempt); !errors.Is(err, ErrExists) {
		t.Errorf("SaveAttempt() = %v, want ErrExists", err)
	}
	if err := want.check(ctx, s); err != nil {
		t.Error(err)
	}
	if _, err := s.Visitor(ctx, "ben"); !errors.Is(err, ErrNotFound) {
		t.Errorf("Visitor(ben) = %v, want ErrNotFound: the refused save left a row", err)
	}
}

func TestAltitude(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := openStore(t, newPath(t))

	// The limits are our own, no source: the lowest and highest places where
	// people live lie well inside.
	for _, feet := range []float64{-1500, 0, 6240, 30000, 1234.5} {
		if err := s.SetAltitude(ctx, "ada", feet); err != nil {
			t.Errorf("SetAltitude(%v) = %v", feet, err)
		}
		got, err := s.Visitor(ctx, "ada")
		if want := (Visitor{ID: "ada", AltitudeFt: feet, AltitudeKnown: true}); err != nil || got != want {
			t.Errorf("Visitor() = %v, %v, want %v", got, err, want)
		}
	}
	for _, feet := range []float64{-1501, 30001, math.NaN(), math.Inf(1), math.Inf(-1)} {
		if err := s.SetAltitude(ctx, "ada", feet); err == nil {
			t.Errorf("SetAltitude(%v) = nil, want an error", feet)
		}
	}
	if got, err := s.Visitor(ctx, "ada"); err != nil || got.AltitudeFt != 1234.5 {
		t.Errorf("Visitor() = %v, %v, want the last good altitude 1234.5", got, err)
	}

	if err := s.SaveAnswer(ctx, Answer{Visitor: "ben", Question: "q", At: noon}); err != nil {
		t.Fatal(err)
	}
	if got, err := s.Visitor(ctx, "ben"); err != nil || got.AltitudeKnown {
		t.Errorf("Visitor(ben) = %v, %v, want an unknown altitude", got, err)
	}
}

func TestEmptyIDsAreRefused(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := openStore(t, newPath(t))
	for name, err := range map[string]error{
		"altitude of no visitor": s.SetAltitude(ctx, "", 100),
		"answer of no visitor":   s.SaveAnswer(ctx, Answer{Question: "q", At: noon}),
		"answer to no question":  s.SaveAnswer(ctx, Answer{Visitor: "ada", At: noon}),
		"plan without an id":     s.SavePlan(ctx, SavedPlan{Visitor: "ada", At: noon}),
		"attempt without an id":  s.SaveAttempt(ctx, Attempt{Visitor: "ada", Scenario: "x", At: noon}),
		"attempt at no scenario": s.SaveAttempt(ctx, Attempt{ID: "x", Visitor: "ada", At: noon}),
	} {
		if err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	for _, visitor := range []string{"", "ada"} {
		if err := (sample{Visitor: Visitor{ID: visitor}}).check(ctx, s); err != nil {
			t.Error(err)
		}
	}
}

func TestNewIDs(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for range 1000 {
		id := NewID()
		if len(id) != 26 || strings.Trim(id, "abcdefghijklmnopqrstuvwxyz234567") != "" || seen[id] {
			t.Fatalf("NewID() = %q, want 26 lower-case letters and digits, never twice", id)
		}
		seen[id] = true
	}
}

// pragmas reads what a connection is set to.
func pragmas(ctx context.Context, c *sql.Conn) (map[string]string, error) {
	got := map[string]string{}
	for _, name := range []string{"journal_mode", "foreign_keys", "busy_timeout", "synchronous", "secure_delete", "query_only"} {
		var value string
		if err := c.QueryRowContext(ctx, "pragma "+name).Scan(&value); err != nil {
			return nil, err
		}
		got[name] = value
	}
	return got, nil
}

func TestEveryConnectionHasThePragmas(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	path := newPath(t)
	s := openStore(t, path)
	// The write handle has one connection only; a second handle of the same
	// name shows that it is the name that sets the pragmas.
	wide, err := sql.Open(driverName, dataSource(path, false))
	if err != nil {
		t.Fatal(err)
	}
	defer wide.Close()

	for _, test := range []struct {
		name      string
		db        *sql.DB
		held      int
		queryOnly string
	}{
		{"write", s.write, 1, "0"},
		{"same name as write", wide, 3, "0"},
		{"read", s.read, 3, "1"},
	} {
		for i := range test.held {
			conn, err := test.db.Conn(ctx)
			if err != nil {
				t.Fatal(err)
			}
			defer conn.Close() // held until the test ends, so that the next one is another
			got, err := pragmas(ctx, conn)
			if err != nil {
				t.Fatal(err)
			}
			want := map[string]string{
				"journal_mode":  "wal",
				"foreign_keys":  "1",
				"busy_timeout":  "5000",
				"synchronous":   "2", // FULL
				"secure_delete": "1",
				"query_only":    test.queryOnly,
			}
			if d := cmp.Diff(want, got); d != "" {
				t.Errorf("%s, connection %d (-want +got):\n%s", test.name, i+1, d)
			}
		}
	}
	if n := s.write.Stats().MaxOpenConnections; n != 1 {
		t.Errorf("the write handle has up to %d connections, want 1", n)
	}
}

func TestReadHandleCannotWrite(t *testing.T) {
	t.Parallel()
	s := openStore(t, newPath(t))
	if _, err := s.read.ExecContext(t.Context(), ensureVisitor, "ada"); err == nil {
		t.Error("a row was inserted through the read handle")
	}
}

// otherProgram opens the database a second time, as another program would, and
// does not wait for locks.
func otherProgram(t *testing.T, path string) *sql.DB {
	t.Helper()
	db, err := sql.Open(driverName, dataSource(path, false))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	db.SetMaxOpenConns(1)
	if _, err := db.ExecContext(t.Context(), "pragma busy_timeout = 0"); err != nil {
		t.Fatal(err)
	}
	return db
}

func TestTransactionsTakeTheWriteLockWhenTheyBegin(t *testing.T) {
	t.Parallel()
	path := newPath(t)
	s := openStore(t, path)
	other := otherProgram(t, path)

	tx, err := s.write.BeginTx(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	defer tx.Rollback()
	_, err = other.ExecContext(t.Context(), ensureVisitor, "ada")
	if !errors.Is(kind(err), ErrBusy) {
		t.Errorf("a second writer got %v, want ErrBusy", err)
	}
}

func TestAWriterThatWaitsTooLongIsBusy(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	path := newPath(t)
	s := openStore(t, path)
	tx, err := otherProgram(t, path).BeginTx(ctx, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer tx.Rollback()

	start := time.Now()
	err = s.SaveAnswer(ctx, Answer{Visitor: "ada", Question: "q", At: noon})
	if !errors.Is(err, ErrBusy) {
		t.Errorf("SaveAnswer() = %v, want ErrBusy", err)
	}
	if waited := time.Since(start); waited < 4*time.Second {
		t.Errorf("SaveAnswer waited %v for the lock, want about 5 s", waited)
	}
	if _, err := s.Visitor(ctx, "ada"); !errors.Is(err, ErrNotFound) {
		t.Errorf("reading while another program writes: %v, want ErrNotFound", err)
	}
}

func TestAFullDiskLosesNothing(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := openStore(t, newPath(t))
	want := sampleOf("ada")
	if err := want.save(ctx, s); err != nil {
		t.Fatal(err)
	}

	// SQLite gives the same code when the file may not grow as when the disk
	// has no room.
	if _, err := s.write.ExecContext(ctx, "pragma max_page_count = 30"); err != nil {
		t.Fatal(err)
	}
	big := SavedPlan{ID: "big", Visitor: "ada", Plan: make([]byte, 130_000), At: noon.Add(-time.Hour)}
	if err := s.SavePlan(ctx, big); !errors.Is(err, ErrFull) {
		t.Errorf("SavePlan() = %v, want ErrFull", err)
	}
	if err := want.check(ctx, s); err != nil {
		t.Error(err)
	}

	if _, err := s.write.ExecContext(ctx, "pragma max_page_count = 10000"); err != nil {
		t.Fatal(err)
	}
	if err := s.SavePlan(ctx, big); err != nil {
		t.Errorf("SavePlan() with room again = %v", err)
	}
	want.Plans = append(want.Plans, big)
	if err := want.check(ctx, s); err != nil {
		t.Error(err)
	}
}

func TestACancelledRequestStoresNothing(t *testing.T) {
	t.Parallel()
	s := openStore(t, newPath(t))
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := sampleOf("ada").save(ctx, s); !errors.Is(err, context.Canceled) {
		t.Errorf("save = %v, want context.Canceled", err)
	}
	if err := (sample{Visitor: Visitor{ID: "ada"}}).check(t.Context(), s); err != nil {
		t.Error(err)
	}
}

func TestIntegrityFindsLostRows(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	path := newPath(t)
	s := openStore(t, path)
	if err := sampleOf("ada").save(ctx, s); err != nil {
		t.Fatal(err)
	}
	other := otherProgram(t, path)
	for _, statement := range []string{
		"pragma foreign_keys = off",
		"delete from visitors where id = 'ada'",
	} {
		if _, err := other.ExecContext(ctx, statement); err != nil {
			t.Fatal(err)
		}
	}
	err := s.Integrity(ctx)
	if err == nil || !strings.Contains(err.Error(), "of answers refers to a missing row of visitors") {
		t.Errorf("Integrity() = %v, want it to name the table answers", err)
	}
}

func TestIntegrityFindsDamagedPages(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	path := newPath(t)
	s, err := Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	if err := sampleOf("ada").save(ctx, s); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}

	file, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	i := strings.Index(string(file), "Thursday's sauce")
	if i < 0 {
		t.Fatal("the title is not in the file")
	}
	page := i / 4096 * 4096
	copy(file[page:], "damage from the first byte of the page on")
	if err := os.WriteFile(path, file, 0o600); err != nil {
		t.Fatal(err)
	}
	s = openStore(t, path)
	if err := s.Integrity(ctx); err == nil {
		t.Error("Integrity() = nil, want the damaged page")
	}
	if _, err := s.ListPlans(ctx, "ada"); err == nil {
		t.Error("ListPlans() = nil, want an error: the page is damaged")
	}
}

func TestPathsAndPermissions(t *testing.T) {
	t.Parallel()
	names := []string{"plain.db", "with space.db", "per%20cent.db", "hash#mark.db", "é½.db", "new folder/and another/x.db"}
	if runtime.GOOS != "windows" { // which allows no question mark in a name
		names = append(names, "question?mark=1&_foreign_keys=off.db")
	}
	for _, name := range names {
		path := filepath.Join(t.TempDir(), "made", filepath.FromSlash(name))
		s := openStore(t, path)
		if err := sampleOf("ada").save(t.Context(), s); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if runtime.GOOS == "windows" { // which keeps permissions in another way
			continue
		}
		for p, want := range map[string]os.FileMode{
			filepath.Dir(path): 0o700 | os.ModeDir,
			path:               0o600,
			path + "-wal":      0o600,
		} {
			info, err := os.Stat(p)
			if err != nil {
				t.Errorf("%s: %v", name, err)
			} else if info.Mode() != want {
				t.Errorf("%s has mode %v, want %v", p, info.Mode(), want)
			}
		}
	}
}

func TestPathsThatCannotBeOpened(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	text := filepath.Join(dir, "notes.txt")
	if err := os.WriteFile(text, []byte(strings.Repeat("not a database\n", 100)), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"", dir, text, filepath.Join(text, "x.db")} {
		s, err := Open(t.Context(), path)
		if err == nil {
			s.Close()
			t.Errorf("Open(%q) = nil, want an error", path)
		} else if !strings.HasPrefix(err.Error(), "open database "+path) {
			t.Errorf("Open(%q) = %v, want the path in the error", path, err)
		}
	}
	got, err := os.ReadFile(text)
	if err != nil || string(got) != strings.Repeat("not a database\n", 100) {
		t.Errorf("the text file was changed: %v, %q", err, got)
	}
}

// TestLastAttempt: an attempt keeps its kind, its case, the version it was judged by
// and what was said, and the latest one is found.
func TestLastAttempt(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := openStore(t, newPath(t))
	if _, err := s.LastAttempt(ctx, "ada", "grange-supper"); !errors.Is(err, ErrNotFound) {
		t.Errorf("LastAttempt() of none = %v, want %v", err, ErrNotFound)
	}
	early := Attempt{ID: "early", Visitor: "ada", Scenario: "grange-supper", Kind: "faults", Wording: "a-material/3", Seed: 1<<63 + 5, Version: "r-1", Plan: []byte("{}"), Report: []byte("null"), Result: []byte(`{"passed": false}`), Verdict: "fix-first", At: noon}
	late := early
	late.ID, late.Result, late.Passed, late.At = "late", []byte(`{"passed": true}`), true, noon.Add(time.Minute)
	other := early
	other.ID, other.Visitor, other.At = "other", "ben", noon.Add(time.Hour)
	for _, a := range []Attempt{late, early, other} {
		if err := s.SaveAttempt(ctx, a); err != nil {
			t.Fatal(err)
		}
	}
	got, err := s.LastAttempt(ctx, "ada", "grange-supper")
	if d := cmp.Diff(late, got); d != "" || err != nil {
		t.Errorf("LastAttempt() = %v, (-want +got):\n%s", err, d)
	}
}
