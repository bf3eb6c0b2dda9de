package load

import (
	"context"
	"errors"
	"fmt"
	"time"

	"rollingboil/server/store"
)

// Class is a class that students join, and the practice batch it is given.
type Class struct {
	ID, Code   string
	Assignment string // its id
}

// The kind and the food of the assignment that students know how to do.
const (
	batchKind = "batch"
	batchFood = "tomatoes-crushed"
)

// MakeClass makes an instructor, a class with an open code, and a practice batch that is
// assigned to everyone. Nobody can log in as the instructor: there is no password.
func MakeClass(ctx context.Context, db *store.Store, now time.Time) (Class, error) {
	instructor := store.Person{Visitor: store.NewID(), Role: store.Instructor, Name: "Instructor " + store.NewID(), Joined: now}
	class := store.Class{
		ID: store.NewID(), Instructor: instructor.Visitor, Name: "A class at its deadline", Starts: now.Format(time.DateOnly), Zone: "America/Denver",
		AltitudeFt: 6240, Weeks: 6, Code: "class-at-deadline", CodeUntil: now.AddDate(0, 0, 1), CodeOpen: true, Made: now,
	}
	batch := store.Assignment{
		ID: store.NewID(), Class: class.ID, Kind: batchKind, About: batchFood, Title: "One load: crushed tomatoes",
		Settings: []byte(`{"as_tested": true}`), Opens: now.Add(-time.Minute), Due: now.AddDate(0, 0, 1), Made: now,
	}
	if err := db.AddPerson(ctx, instructor); err != nil {
		return Class{}, err
	}
	if err := db.AddClass(ctx, class); err != nil {
		return Class{}, err
	}
	if err := db.Assign(ctx, batch); err != nil {
		return Class{}, err
	}
	return FindClass(ctx, db, class.Code, now)
}

// FindClass finds the class that a code opens and a practice batch in it that students
// know how to do. A class without one is an error that says what is missing.
func FindClass(ctx context.Context, db *store.Store, code string, now time.Time) (Class, error) {
	class, err := db.ClassByCode(ctx, code, now)
	if errors.Is(err, store.ErrNotFound) {
		return Class{}, fmt.Errorf("the code %q opens no class; write it as the page of the class shows it, and see that it is open", code)
	}
	if err != nil {
		return Class{}, err
	}
	assigned, err := db.Assignments(ctx, class.ID)
	if err != nil {
		return Class{}, err
	}
	for _, a := range assigned {
		if a.Kind == batchKind && a.About == batchFood && a.Everyone && !a.Opens.After(now) {
			return Class{ID: class.ID, Code: code, Assignment: a.ID}, nil
		}
	}
	return Class{}, fmt.Errorf("nothing for the students to cook: assign a practice batch of crushed tomatoes to everyone in the class %q, open now", class.Name)
}
