package store

import (
	"bytes"
	"errors"
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func sittingOf(visitor string) Sitting {
	return Sitting{
		ID: visitor + "-sitting", Visitor: visitor, Title: "Ten on altitude", Begun: noon,
		Questions: []AskedQuestion{{"altitude-1", 1<<64 - 1}, {"altitude-20", 7}, {"altitude-2", 0}},
		Answers:   map[int]SittingAnswer{},
	}
}

// TestSittingIsAnsweredAndHandedInOnce: answers are kept one by one and can be
// changed, until it is handed in; then nothing of it changes, and its answers are
// among all others.
func TestSittingIsAnsweredAndHandedInOnce(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	path := newPath(t)
	s, err := Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	want := sittingOf("ada")
	if err := s.BeginSitting(ctx, want); err != nil {
		t.Fatal(err)
	}
	if err := s.BeginSitting(ctx, want); !errors.Is(err, ErrExists) {
		t.Errorf("beginning it twice: %v", err)
	}
	answer := func(place int, given ...string) {
		t.Helper()
		a := SittingAnswer{Given: given, At: noon.Add(time.Duration(place) * time.Minute)}
		if err := s.SaveSittingAnswer(ctx, "ada", want.ID, place, a); err != nil {
			t.Fatal(err)
		}
		want.Answers[place] = a
	}
	answer(1, "60 min")
	answer(0, "a", "b")
	answer(1, "55 min")
	if err := s.SaveSittingAnswer(ctx, "ben", want.ID, 2, SittingAnswer{Given: []string{"x"}, At: noon}); !errors.Is(err, ErrNotFound) {
		t.Errorf("an answer in another's sitting: %v", err)
	}
	// The phone dies.
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = openStore(t, path)
	got, err := s.Sitting(ctx, "ada", want.ID)
	if d := cmp.Diff(want, got); err != nil || d != "" {
		t.Fatalf("Sitting() = %v (-want +got):\n%s", err, d)
	}
	if _, err := s.Sitting(ctx, "ben", want.ID); !errors.Is(err, ErrNotFound) {
		t.Errorf("another's sitting: %v", err)
	}
	marked := []Answer{
		{Visitor: "ada", Question: "altitude-1", Seed: 1<<64 - 1, Lesson: "altitude", Sitting: want.ID, Given: []string{"a", "b"}, Right: true, Beliefs: []string{}, At: noon},
		{Visitor: "ada", Question: "altitude-20", Seed: 7, Lesson: "altitude", Sitting: want.ID, Given: []string{"55 min"}, Beliefs: []string{"sea-level-everywhere", "b"}, Wording: "a-material/2", At: noon.Add(time.Minute)},
		{Visitor: "ada", Question: "altitude-3", Lesson: "altitude", Sitting: want.ID, Given: []string{"c"}, At: noon.Add(2 * time.Minute)}, // from before they were kept
	}
	end := noon.Add(time.Hour)
	// Of a set that was read before its last answer came, nothing is handed in.
	for name, early := range map[string]map[int]SittingAnswer{
		"none":         {},
		"another time": {0: {At: noon}, 1: {At: noon.Add(time.Hour)}},
	} {
		before := want
		before.Answers = early
		if err := s.SubmitSitting(ctx, before, marked, end); !errors.Is(err, ErrChanged) {
			t.Errorf("%s: handed in as it was read before: %v", name, err)
		}
	}
	if err := s.SubmitSitting(ctx, want, marked, end); err != nil {
		t.Fatal(err)
	}
	if err := s.SubmitSitting(ctx, want, marked, end); !errors.Is(err, ErrNotFound) {
		t.Errorf("handed in twice: %v", err)
	}
	if err := s.SaveSittingAnswer(ctx, "ada", want.ID, 2, SittingAnswer{Given: []string{"late"}, At: end}); !errors.Is(err, ErrNotFound) {
		t.Errorf("an answer after it was handed in: %v", err)
	}
	want.Submitted = end
	all, err := s.ListSittings(ctx, "ada")
	if d := cmp.Diff([]Sitting{want}, all); err != nil || d != "" {
		t.Errorf("ListSittings() = %v (-want +got):\n%s", err, d)
	}
	answers, err := s.ListAnswers(ctx, "ada")
	if d := cmp.Diff(marked, answers); err != nil || d != "" {
		t.Errorf("ListAnswers() = %v (-want +got):\n%s", err, d)
	}
}

// TestHandingInAtOnce: of many that hand in at the same moment, one does, and its
// answers are there once.
func TestHandingInAtOnce(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := openStore(t, newPath(t))
	v := sittingOf("ada")
	if err := s.BeginSitting(ctx, v); err != nil {
		t.Fatal(err)
	}
	var group sync.WaitGroup
	results := make(chan error, 8)
	for range 8 {
		group.Go(func() {
			results <- s.SubmitSitting(ctx, v, []Answer{{Question: "altitude-1", Given: []string{"a"}, At: noon}}, noon)
		})
	}
	group.Wait()
	close(results)
	done := 0
	for err := range results {
		switch {
		case err == nil:
			done++
		case !errors.Is(err, ErrNotFound):
			t.Error(err)
		}
	}
	answers, err := s.ListAnswers(ctx, "ada")
	if err != nil || done != 1 || len(answers) != 1 {
		t.Errorf("%d handed it in, %d answers are there, %v", done, len(answers), err)
	}
}

// TestForgottenSittingLeavesNothing: no byte of it is in the files.
func TestForgottenSittingLeavesNothing(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	path := newPath(t)
	s := openStore(t, path)
	for i := range 40 {
		v := sittingOf(fmt.Sprintf("visitor%02d.", i))
		v.Title = "visitor's set"
		if err := s.BeginSitting(ctx, v); err != nil {
			t.Fatal(err)
		}
		for place := range 3 {
			if err := s.SaveSittingAnswer(ctx, v.Visitor, v.ID, place, SittingAnswer{Given: []string{"said by " + v.Visitor}, At: noon}); err != nil {
				t.Fatal(err)
			}
		}
		if err := s.SetCanningDay(ctx, v.Visitor, "2026-08-20", "America/Denver"); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Forget(ctx, "visitor07."); err != nil {
		t.Fatal(err)
	}
	if n := bytes.Count(onDisk(t, path), []byte("visitor07.")); n > 0 {
		t.Errorf("the files name the forgotten visitor %d times", n)
	}
	if err := s.Integrity(ctx); err != nil {
		t.Error(err)
	}
}

func TestCanningDay(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := openStore(t, newPath(t))
	if err := s.SetCanningDay(ctx, "ada", "2026-08-20", "America/Denver"); err != nil {
		t.Fatal(err)
	}
	v, err := s.Visitor(ctx, "ada")
	if err != nil || v.CanningDay != "2026-08-20" || v.TimeZone != "America/Denver" {
		t.Errorf("%+v, %v", v, err)
	}
	for _, bad := range [][2]string{{"20.08.2026", ""}, {"2026-02-30", ""}, {"2026-08-20", "Mars/Olympus"}, {"2026-08-20", "../etc/passwd"}} {
		if err := s.SetCanningDay(ctx, "ada", bad[0], bad[1]); err == nil {
			t.Errorf("%q in %q is taken", bad[0], bad[1])
		}
	}
	if again, err := s.Visitor(ctx, "ada"); err != nil || again != v {
		t.Errorf("after what was refused: %+v, %v", again, err)
	}
}
