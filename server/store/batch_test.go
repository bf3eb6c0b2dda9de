package store

import (
	"errors"
	"slices"
	"testing"
	"time"
)

// newBatch is a store with one batch in it.
func newBatch(t *testing.T) (*Store, string) {
	t.Helper()
	s := openStore(t, newPath(t))
	ctx := t.Context()
	for _, err := range []error{
		s.AddPerson(ctx, Person{Visitor: "ida", Role: Instructor, Name: "Ida Field", Password: "x", Joined: noon}),
		s.AddClass(ctx, Class{ID: "grange", Instructor: "ida", Name: "Thursday", Starts: "2026-08-20", Zone: "America/Denver", Weeks: 6, Code: "a-b-c", CodeUntil: noon.Add(time.Hour), Made: noon}),
		s.Join(ctx, "grange", Person{Visitor: "ann", Role: Student, Name: "Ann Orchard", Password: "x", Joined: noon}, false),
		s.Assign(ctx, Assignment{ID: "load", Class: "grange", Kind: "batch", About: "tomatoes-crushed", Title: "One load", Everyone: true, Settings: []byte("{}"), Opens: noon, Due: noon.Add(time.Hour), Made: noon}),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.BeginBatch(ctx, Batch{ID: "one", Visitor: "ann", Assignment: "load", Made: noon}); err != nil {
		t.Fatal(err)
	}
	return s, "one"
}

// TestDecisionIsAboutWhatWasSentLast: an instructor's decision about another version, or in
// another state, is not kept.
func TestDecisionIsAboutWhatWasSentLast(t *testing.T) {
	t.Parallel()
	s, batch := newBatch(t)
	add := func(what string, n int, byInstructor bool, after ...string) error {
		return s.AddBatchEvent(t.Context(), batch, BatchEvent{What: what, N: n, ByInstructor: byInstructor, At: time.Now()}, after...)
	}
	for i, step := range []struct {
		err  error
		want error
	}{
		{add(PlanFine, 0, true, PlanSent), ErrChanged}, // nothing was sent in
		{add(PlanSent, 1, false, ""), nil},
		{add(PlanSent, 3, false, PlanSent), nil},
		{add(PlanFine, 1, true, PlanSent), ErrChanged},
		{add(PlanFine, 2, true, PlanSent), ErrChanged}, // never sent in
		{add(Comment, 1, true), nil},                   // a comment decides nothing
		{add(PlanBack, 1, true, PlanSent), ErrChanged},
		{add(PlanFine, 3, true, PlanSent), nil},
		{add(PlanBack, 3, true, PlanSent), ErrChanged}, // it is decided
	} {
		if !errors.Is(step.err, step.want) {
			t.Errorf("step %d: %v, want %v", i+1, step.err, step.want)
		}
	}
	events, err := s.BatchEvents(t.Context(), batch)
	var whats []string
	for _, e := range events {
		whats = append(whats, e.What)
	}
	if want := []string{PlanSent, PlanSent, Comment, PlanFine}; err != nil || !slices.Equal(whats, want) {
		t.Errorf("kept %v, %v; want %v", whats, err, want)
	}
}

// TestVersionFollowsOnTheState: a version is kept in the named states alone, and under the
// next number.
func TestVersionFollowsOnTheState(t *testing.T) {
	t.Parallel()
	s, batch := newBatch(t)
	add := func(n int, kind string, after ...string) error {
		return s.AddBatchVersion(t.Context(), BatchVersion{Batch: batch, N: n, Kind: kind, File: []byte("f"), Report: []byte("{}"), At: time.Now()}, after...)
	}
	sends := func(what string, n int, after ...string) error {
		return s.AddBatchEvent(t.Context(), batch, BatchEvent{What: what, N: n, At: time.Now()}, after...)
	}
	for i, step := range []struct {
		err  error
		want error
	}{
		{add(1, PlanVersion), ErrChanged}, // no state is named
		{add(1, RecordVersion, PlanSent, RecordBack), ErrChanged},
		{add(1, PlanVersion, ""), nil},
		{sends(PlanSent, 1, ""), nil},
		{add(2, PlanVersion, ""), ErrChanged},
		{add(3, RecordVersion, PlanSent, RecordBack), ErrChanged},
		{add(2, RecordVersion, PlanSent, RecordBack), nil},
		{sends(RecordSent, 2, PlanSent), nil},
		{sends(Comment, 2), nil},
		{add(3, RecordVersion, PlanSent, RecordBack), ErrChanged},
	} {
		if !errors.Is(step.err, step.want) {
			t.Errorf("step %d: %v, want %v", i+1, step.err, step.want)
		}
	}
	if versions, err := s.BatchVersions(t.Context(), batch); err != nil || len(versions) != 2 {
		t.Errorf("%d versions, %v, want 2", len(versions), err)
	}
}
