package store

import (
	"errors"
	"testing"
	"time"
)

// TestWorkOfAClass: the members' work and nobody else's, up to a time that is not
// included, the earliest first.
func TestWorkOfAClass(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := openStore(t, newPath(t))
	person := func(visitor, role string) Person {
		return Person{Visitor: visitor, Role: role, Name: visitor, Password: "x", Joined: noon}
	}
	for _, instructor := range []string{"ida", "otto"} {
		if err := s.AddPerson(ctx, person(instructor, Instructor)); err != nil {
			t.Fatal(err)
		}
		class := Class{ID: instructor + "’s", Instructor: instructor, Name: "Class", Starts: "2026-08-20", Zone: "America/Denver", Weeks: 6, Code: instructor, CodeUntil: noon, Made: noon}
		if err := s.AddClass(ctx, class); err != nil {
			t.Fatal(err)
		}
	}
	for visitor, class := range map[string]string{"ada": "ida’s", "ben": "ida’s", "cleo": "otto’s"} {
		if err := s.Join(ctx, class, person(visitor, Student), false); err != nil {
			t.Fatal(err)
		}
		if err := sampleOf(visitor).save(ctx, s); err != nil {
			t.Fatal(err)
		}
		if err := s.BeginSitting(ctx, Sitting{ID: "set of " + visitor, Visitor: visitor, Title: "Set", Begun: noon}); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.SetCanningDay(ctx, "ben", "", "America/Denver"); err != nil {
		t.Fatal(err)
	}

	one := sampleOf("ada")
	answers, err := s.ClassAnswers(ctx, "ida’s", time.Time{})
	if err != nil || len(answers) != 2*len(one.Answers) {
		t.Fatalf("%d answers, %v; want those of two members, %d", len(answers), err, 2*len(one.Answers))
	}
	for i, a := range answers {
		if a.Visitor == "cleo" || i > 0 && a.At.Before(answers[i-1].At) {
			t.Errorf("answer %d is of %s at %s", i, a.Visitor, a.At)
		}
	}
	last := answers[len(answers)-1].At
	early, err := s.ClassAnswers(ctx, "ida’s", last)
	if err != nil || len(early) == 0 || len(early) >= len(answers) {
		t.Errorf("before the last answer there are %d of %d, %v", len(early), len(answers), err)
	}
	for _, a := range early {
		if !a.At.Before(last) {
			t.Errorf("an answer at %s counts as before %s", a.At, last)
		}
	}
	plans, err := s.ClassPlans(ctx, "ida’s", time.Time{})
	if err != nil || len(plans) != 2*len(one.Plans) {
		t.Errorf("%d plans, %v; want %d", len(plans), err, 2*len(one.Plans))
	}
	attempts, err := s.ClassAttempts(ctx, "ida’s", time.Time{})
	if err != nil || len(attempts) != 2*len(one.Attempts) {
		t.Errorf("%d attempts, %v; want %d", len(attempts), err, 2*len(one.Attempts))
	}
	sittings, err := s.ClassSittings(ctx, "ida’s")
	if err != nil || len(sittings) != 2 {
		t.Errorf("%d sittings, %v; want 2", len(sittings), err)
	}
	zones, err := s.MemberZones(ctx, "ida’s")
	if err != nil || len(zones) != 2 || zones["ben"] != "America/Denver" || zones["ada"] != "" {
		t.Errorf("zones %v, %v", zones, err)
	}
}

// TestTogether: only the class's own instructor switches it, and of two who make the page
// anew at once the first one stays.
func TestTogether(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := openStore(t, newPath(t))
	if err := s.AddPerson(ctx, Person{Visitor: "ida", Role: Instructor, Name: "ida", Password: "x", Joined: noon}); err != nil {
		t.Fatal(err)
	}
	if err := s.AddClass(ctx, Class{ID: "class", Instructor: "ida", Name: "Class", Starts: "2026-08-20", Zone: "UTC", Weeks: 6, Code: "code", CodeUntil: noon, Made: noon}); err != nil {
		t.Fatal(err)
	}
	if got, err := s.Together(ctx, "class"); err != nil || got.Shown || len(got.Page) > 0 {
		t.Errorf("before it is switched on: %+v, %v", got, err)
	}
	if err := s.ShowTogether(ctx, "class", "otto", true); !errors.Is(err, ErrNotFound) {
		t.Errorf("another instructor switches it: %v", err)
	}
	if err := s.ShowTogether(ctx, "class", "ida", true); err != nil {
		t.Fatal(err)
	}
	if err := s.RenewTogether(ctx, "class", time.Time{}, Together{Page: []byte("first"), Made: noon}); err != nil {
		t.Fatal(err)
	}
	if err := s.RenewTogether(ctx, "class", time.Time{}, Together{Page: []byte("second"), Made: noon}); !errors.Is(err, ErrNotFound) {
		t.Errorf("who came second: %v", err)
	}
	for _, on := range []bool{false, true} { // switching makes nothing anew
		if err := s.ShowTogether(ctx, "class", "ida", on); err != nil {
			t.Fatal(err)
		}
		if got, err := s.Together(ctx, "class"); err != nil || got.Shown != on || string(got.Page) != "first" || !got.Made.Equal(noon) {
			t.Errorf("switched to %t: %+v, %v", on, got, err)
		}
	}
	if err := s.RenewTogether(ctx, "class", noon, Together{Page: []byte("third"), Made: noon.Add(time.Hour)}); err != nil {
		t.Error(err)
	}
}
