package server

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"time"

	"rollingboil/scenarios/measure"
	"rollingboil/server/photo"
	"rollingboil/server/store"
)

// The demonstration: an invented class of six weeks, so that an instructor can look at
// a full course before there is one. Answers, plans and batches are invented from a
// fixed seed; what is said to them is the course's own judgement, made while the
// database is filled. Chances are whole numbers of a thousand, so that every machine
// comes to the same.

// ErrNotEmpty means that a database holds something, so the invented class is not put
// beside it.
var ErrNotEmpty = errors.New("the database is not empty: the invented class goes into a database of its own, name a new file")

// DemoLogin is how to look around in the invented class. The passwords are made anew
// for each database.
type DemoLogin struct {
	Instructor, InstructorPassword string
	Student, StudentPassword       string
	Class                          string // where the class is
}

const (
	demoSeed  = 6240
	demoWeeks = 6
)

type demo struct {
	*Server
	random      *rand.Rand
	zone        *time.Location
	instructor  string
	class       store.Class
	students    []*demoStudent
	assignments []store.Assignment
	pictures    map[jarPhoto]photo.Photo
}

// FillDemo fills an empty database with the invented class; one that holds anything is
// [ErrNotEmpty] and is left as it is.
func (s *Server) FillDemo(ctx context.Context) (login DemoLogin, err error) {
	empty, err := s.store.Empty(ctx)
	if err == nil && !empty {
		err = ErrNotEmpty
	}
	if err != nil {
		return login, err
	}
	d := &demo{Server: s, random: rand.New(rand.NewPCG(demoSeed, demoWeeks)), zone: zoneOf("America/Denver"), students: demoStudents(), pictures: map[jarPhoto]photo.Photo{}}
	login = DemoLogin{Instructor: demoInstructor, InstructorPassword: newCode(4), Student: d.students[0].name, StudentPassword: newCode(4)}
	err = s.store.InBulk(ctx, func() error {
		for _, step := range []func(context.Context) error{func(ctx context.Context) error { return d.people(ctx, login) }, d.assign, d.weeks, d.cook, d.compare} {
			if err := step(ctx); err != nil {
				return err
			}
		}
		return nil
	})
	if err == nil {
		err = d.writes(ctx) // of what is in the database by now
	}
	if err != nil {
		return login, fmt.Errorf("fill the database with the invented class: %w; it is filled in part, so delete the file before the next try", err)
	}
	login.Class = "/class/" + d.class.ID
	return login, nil
}

// id is an id like those of the store, drawn from the fixed seed.
func (d *demo) id() string {
	const letters = "abcdefghijklmnopqrstuvwxyz234567"
	id := make([]byte, 26)
	for i := range id {
		id[i] = letters[d.random.IntN(len(letters))]
	}
	return string(id)
}

// chance is true so many times of a thousand.
func (d *demo) chance(ofThousand int) bool { return d.random.IntN(1000) < ofThousand }

// holds says whether a belief still shows: it does less in every week.
func (d *demo) holds(week int) bool { return d.chance(850 * max(0, demoWeeks-week) / demoWeeks) }

// at is a time of the class: weeks and days from the first Thursday.
func (d *demo) at(week, days, hour, minute int) time.Time {
	return time.Date(2026, 7, 16+7*week+days, hour, minute, 0, 0, d.zone)
}

// evening is a time at which somebody sits down to study between two Thursdays.
func (d *demo) evening(week int) time.Time {
	return d.at(week, 1+d.random.IntN(5), 16+d.random.IntN(5), d.random.IntN(60))
}

// awake is the time, or the next morning where people sleep.
func (d *demo) awake(t time.Time) time.Time {
	t = t.In(d.zone)
	days := 0
	switch {
	case t.Hour() >= 22:
		days = 1
	case t.Hour() >= 7:
		return t
	}
	return time.Date(t.Year(), t.Month(), t.Day()+days, 7+d.random.IntN(2), d.random.IntN(60), 0, 0, d.zone)
}

// people makes the instructor, the class and its students. All students have one hash,
// since hashing is slow on purpose and only one of them is told of.
func (d *demo) people(ctx context.Context, login DemoLogin) error {
	hash, err := d.hasher.hash(ctx, login.InstructorPassword)
	if err != nil {
		return err
	}
	d.instructor = d.id()
	if err := d.store.AddPerson(ctx, store.Person{Visitor: d.instructor, Role: store.Instructor, Name: login.Instructor, Password: hash, Joined: d.at(-1, 0, 9, 0)}); err != nil {
		return err
	}
	// Its code is as well known as this file, so nobody can join with it.
	d.class = store.Class{
		ID: d.id(), Instructor: d.instructor, Name: demoClassName, Starts: "2026-07-16", Zone: d.zone.String(), AltitudeFt: 6240,
		CanningDay: "2026-08-22", Weeks: demoWeeks, Code: "invented-example-class", CodeUntil: d.at(0, 0, 18, 0), Made: d.at(-1, 0, 9, 30),
	}
	if err := d.store.AddClass(ctx, d.class); err != nil {
		return err
	}
	if hash, err = d.hasher.hash(ctx, login.StudentPassword); err != nil {
		return err
	}
	for i, st := range d.students {
		st.id, st.lids, st.lot = d.id(), "two-piece", demoLots[i%len(demoLots)].name
		if i%8 == 5 {
			st.lids, st.lot = "reusable-gasket", "reusable lids, bought in May"
		}
		p := store.Person{Visitor: st.id, Role: store.Student, Name: st.name, Password: hash, Joined: d.at(-1, 1+d.random.IntN(6), 12+d.random.IntN(9), d.random.IntN(60))}
		if err := d.store.Join(ctx, d.class.ID, p, false); err != nil {
			return err
		}
		if err := d.store.SetAltitude(ctx, st.id, float64(st.altitude)); err != nil {
			return err
		}
		if err := d.store.SetCanningDay(ctx, st.id, d.class.CanningDay, d.class.Zone); err != nil {
			return err
		}
	}
	return nil
}

// demoAssigned is what is assigned on each of the six evenings, and what is said of it.
var demoAssigned = []struct {
	week              int
	kind, about, note string
	forSome           int // so many of the students, the steadiest; 0 for everyone
}{
	{0, lessonKind, "altitude", "Find your own altitude first, and write it down.", 0},
	{0, lessonKind, "acid", "", 0},
	{1, lessonKind, "headspace", "", 0},
	{1, scenarioKind, "peaches-two-packs", "", 0},
	{1, batchKind, "tomatoes-crushed", "One canner load, in the jars you have. Send the plan in before you buy the tomatoes.", 0},
	{2, lessonKind, "process-time", "", 0},
	{2, questionsKind, "process-time", "Ten questions, without looking at the lesson.", 0},
	{2, scenarioKind, "first-crushed-tomatoes", "", 0},
	{3, lessonKind, "testing-seals", "", 0},
	{3, scenarioKind, "card-from-the-coast", "Read every line, also those that look sound.", 0},
	{3, batchKind, "peaches", "Hot pack. Keep the clock times as they happen.", 0},
	{4, lessonKind, "unsealed-jars", "", 0},
	{4, questionsKind, "testing-seals", "", 0},
	{4, scenarioKind, "rings-and-thuds", "", 0},
	{4, batchKind, "applesauce", "For those who want one more load before the season is over.", 8},
	{5, questionsKind, "recipe-changes", "The last set. Bring what you missed to the class.", 0},
}

func (d *demo) assign(ctx context.Context) error {
	for _, to := range demoAssigned {
		a := store.Assignment{
			ID: d.id(), Class: d.class.ID, Kind: to.kind, About: to.about, Note: to.note, Settings: []byte("{}"),
			Opens: d.at(to.week, 0, 20, 0), Due: d.at(to.week, 7, 18, 0), Made: d.at(to.week, 0, 9, 0),
		}
		if to.kind == batchKind {
			a.Due = d.at(to.week, 14, 18, 0)
			var err error
			if a.Settings, err = json.Marshal(batchSettings{AsTested: true}); err != nil {
				return err
			}
		}
		var known bool
		if a.Title, known = d.shipped.assignmentTitle(a); !known {
			return fmt.Errorf("there is no %s %q to assign", a.Kind, a.About)
		}
		for _, st := range d.students[:to.forSome] {
			a.For = append(a.For, st.id)
		}
		if err := d.store.Assign(ctx, a); err != nil {
			return err
		}
		d.assignments = append(d.assignments, a)
	}
	return nil
}

// weeks lets every student study, week after week.
func (d *demo) weeks(ctx context.Context) error {
	for week := range demoWeeks {
		for _, st := range d.students {
			if err := d.study(ctx, st, week); err != nil {
				return fmt.Errorf("%s, week %d: %w", st.name, week+1, err)
			}
		}
	}
	return nil
}

// altitudeOf is a student's altitude as it is typed.
func altitudeOf(st *demoStudent) string { return measure.Altitude(st.altitude).String() }
