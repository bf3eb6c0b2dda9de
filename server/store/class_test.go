package store

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

// classOf is a class, always the same for the same id.
func classOf(id, instructor string) Class {
	return Class{
		ID: id, Instructor: instructor, Name: "Class " + id, Starts: "2026-08-20", Zone: "America/Denver", AltitudeFt: 6240.5, CanningDay: "2026-09-26", Weeks: 6,
		Code: "code-of-" + id, CodeUntil: noon.Add(time.Hour), CodeOpen: true, Made: noon,
	}
}

// newClass is a store with an instructor, ada, another, eve, a class of each, and two
// students of ada's, cora and dan.
func newClass(t *testing.T) *Store {
	t.Helper()
	ctx := t.Context()
	s := openStore(t, newPath(t))
	for _, p := range []Person{personOf("ada", Instructor, "Ada Field"), personOf("eve", Instructor, "Eve Stone")} {
		if err := s.AddPerson(ctx, p); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []Class{classOf("autumn", "ada"), classOf("winter", "eve")} {
		if err := s.AddClass(ctx, c); err != nil {
			t.Fatal(err)
		}
	}
	for _, p := range []Person{personOf("dan", Student, "Dan Reed"), personOf("cora", Student, "Cora Lake")} {
		if err := s.Join(ctx, "autumn", p, false); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

func TestClass(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := newClass(t)
	want := classOf("autumn", "ada")
	if got, err := s.Class(ctx, "autumn"); err != nil || !cmp.Equal(got, want) {
		t.Errorf("Class() = %v, -want +got:\n%s", err, cmp.Diff(want, got))
	}
	_, err := s.Class(ctx, "none")
	wantErr(t, "Class()", err, ErrNotFound)
	again := classOf("autumn", "eve")
	wantErr(t, "an id that is taken", s.AddClass(ctx, again), ErrExists)
	again.ID = "spring"
	wantErr(t, "a code that is taken", s.AddClass(ctx, again), ErrExists)

	// The code opens the class while it is open and not too old.
	byCode := func(code string, at time.Time, want error) {
		t.Helper()
		got, err := s.ClassByCode(ctx, code, at)
		if !errors.Is(err, want) || err == nil && got.ID != "autumn" {
			t.Errorf("ClassByCode(%s) = %s, %v, want %v", code, got.ID, err, want)
		}
	}
	byCode("code-of-autumn", noon.Add(time.Hour-time.Nanosecond), nil)
	byCode("code-of-autumn", noon.Add(time.Hour), ErrNotFound)
	byCode("", noon, ErrNotFound)
	want.CodeOpen = false
	if err := s.SetClassCode(ctx, want); err != nil {
		t.Fatal(err)
	}
	byCode("code-of-autumn", noon, ErrNotFound)
	want.CodeOpen, want.Code, want.CodeUntil = true, "another-code", noon.Add(2*time.Hour)
	if err := s.SetClassCode(ctx, want); err != nil {
		t.Fatal(err)
	}
	byCode("code-of-autumn", noon, ErrNotFound)
	byCode("another-code", noon.Add(time.Hour), nil)

	// What is said of a class changes, its code does not; and only by its instructor.
	want.Name, want.Weeks, want.Zone, want.CanningDay, want.AltitudeFt, want.Starts = "Late class", 2, "UTC", "", -20, "2026-10-01"
	if err := s.ChangeClass(ctx, want); err != nil {
		t.Fatal(err)
	}
	if got, err := s.Class(ctx, "autumn"); err != nil || !cmp.Equal(got, want) {
		t.Errorf("Class() after a change = %v, -want +got:\n%s", err, cmp.Diff(want, got))
	}
	others := want
	others.Instructor, others.Name, others.Code = "eve", "Eve’s now", "eves-code"
	wantErr(t, "another instructor's change", s.ChangeClass(ctx, others), ErrNotFound)
	wantErr(t, "another instructor's code", s.SetClassCode(ctx, others), ErrNotFound)
	if got, err := s.Class(ctx, "autumn"); err != nil || !cmp.Equal(got, want) {
		t.Errorf("another instructor changed the class: %v, %s", err, cmp.Diff(want, got))
	}

	for visitor, want := range map[string]string{"ada": "autumn", "eve": "winter", "cora": "", "none": ""} {
		held, err := s.Held(ctx, visitor)
		if got := idsOf(held); got != want || err != nil {
			t.Errorf("%s holds %q, %v, want %q", visitor, got, err, want)
		}
	}
	if err := s.Forget(ctx, "ada"); err == nil {
		t.Error("an instructor who holds a class was deleted")
	}
	if _, err := s.Person(ctx, "ada"); err != nil {
		t.Errorf("after that the instructor: %v", err)
	}
}

func idsOf(classes []Class) string {
	var ids []string
	for _, c := range classes {
		ids = append(ids, c.ID)
	}
	return strings.Join(ids, " ")
}

func TestMembers(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := newClass(t)
	members := func(class, want string) {
		t.Helper()
		all, err := s.Members(ctx, class)
		var names []string
		for _, p := range all {
			names = append(names, p.Visitor)
		}
		if got := strings.Join(names, " "); got != want || err != nil {
			t.Errorf("members of %s: %q, %v, want %q", class, got, err, want)
		}
	}
	members("autumn", "cora dan") // by name
	members("winter", "")
	cora := personOf("cora", Student, "Cora Lake")
	cora.Joined = noon.Add(time.Hour)
	for range 2 {
		for _, class := range []string{"winter", "autumn"} {
			if err := s.Join(ctx, class, cora, true); err != nil {
				t.Fatal(err)
			}
		}
	}
	members("autumn", "cora dan")
	members("winter", "cora")
	all, err := s.Members(ctx, "autumn")
	if err != nil || !all[0].Joined.Equal(noon) {
		t.Errorf("joining again changed when: %v, %v", all[0].Joined, err)
	}
	if joined, err := s.Joined(ctx, "cora"); err != nil || idsOf(joined) != "autumn winter" {
		t.Errorf("joined: %q, %v", idsOf(joined), err)
	}
	if err := s.Join(ctx, "none", personOf("gil", Student, "Gil Wood"), false); err == nil {
		t.Error("joined a class that is none")
	}
	_, err = s.Person(ctx, "gil")
	wantErr(t, "the person who joined no class", err, ErrNotFound)
	wantErr(t, "joining under a name that is taken", s.Join(ctx, "autumn", personOf("gil", Student, "DAN reed"), false), ErrExists)
	if err := s.Join(ctx, "autumn", personOf("hana", Student, "Hana Ito"), true); err == nil {
		t.Error("somebody unknown joined as known")
	}

	if err := s.Leave(ctx, "autumn", "cora"); err != nil {
		t.Fatal(err)
	}
	wantErr(t, "leaving again", s.Leave(ctx, "autumn", "cora"), ErrNotFound)
	members("autumn", "dan")
	members("winter", "cora")
	if is, err := s.IsMember(ctx, "autumn", "cora"); is || err != nil {
		t.Errorf("is a member after leaving: %v, %v", is, err)
	}
	if _, err := s.Person(ctx, "cora"); err != nil {
		t.Errorf("who left a class: %v", err)
	}
}

func assignmentOf(id string, to ...string) Assignment {
	return Assignment{ID: id, Class: "autumn", Kind: "lesson", About: "headspace", Title: "Headspace", Note: "Read it: " + id, Settings: []byte(`{"as_tested":true}`), Opens: noon, Due: noon.Add(time.Hour), For: to, Everyone: len(to) == 0, Made: noon}
}

func TestAssign(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := newClass(t)
	all, one := assignmentOf("all"), assignmentOf("one", "cora")
	one.Due = noon.Add(time.Minute)
	for _, a := range []Assignment{all, one} {
		if err := s.Assign(ctx, a); err != nil {
			t.Fatal(err)
		}
		if got, err := s.Assignment(ctx, a.ID); err != nil || !cmp.Equal(got, a, cmpopts.EquateEmpty()) {
			t.Errorf("Assignment() = %v, -want +got:\n%s", err, cmp.Diff(a, got))
		}
	}
	wantErr(t, "for one who is no member", s.Assign(ctx, assignmentOf("two", "cora", "eve")), ErrNotFound)
	_, err := s.Assignment(ctx, "two")
	wantErr(t, "what was not kept", err, ErrNotFound)
	taken := all
	taken.Note = "Another note."
	wantErr(t, "an id that is taken", s.Assign(ctx, taken), ErrExists)
	again := one
	again.ID = "again"
	wantErr(t, "sent twice", s.Assign(ctx, again), nil)
	_, err = s.Assignment(ctx, "again")
	wantErr(t, "what was sent twice", err, ErrNotFound)
	has := func(visitor, want string) {
		t.Helper()
		list, err := s.AssignedTo(ctx, "autumn", visitor)
		var ids []string
		for _, a := range list {
			ids = append(ids, a.ID)
		}
		if got := strings.Join(ids, " "); got != want || err != nil {
			t.Errorf("%s has %q, %v, want %q", visitor, got, err, want)
		}
	}
	has("cora", "one all") // the first due first
	has("dan", "all")

	// Whose only student has left is for nobody, and for nobody who comes later.
	if err := s.Leave(ctx, "autumn", "cora"); err != nil {
		t.Fatal(err)
	}
	list, err := s.Assignments(ctx, "autumn")
	if err != nil || len(list) != 2 || list[0].Everyone || len(list[0].For) != 0 || !list[1].Everyone {
		t.Errorf("after leaving: %+v, %v", list, err)
	}
	if err := s.Join(ctx, "autumn", personOf("cora", Student, "Cora Lake"), true); err != nil {
		t.Fatal(err)
	}
	has("cora", "all")

	wantErr(t, "taking back what another class has", s.TakeBack(ctx, "winter", "all"), ErrNotFound)
	if err := s.TakeBack(ctx, "autumn", "all"); err != nil {
		t.Fatal(err)
	}
	wantErr(t, "taking it back again", s.TakeBack(ctx, "autumn", "all"), ErrNotFound)
	has("dan", "")
}

// TestFeed: the calendar's address is of one person in one class, and ends when it is
// changed, and when the person leaves, even if it was made just then.
func TestFeed(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := newClass(t)
	is := func(secret, class, person string) {
		t.Helper()
		gotClass, gotPerson, err := s.FeedOf(ctx, secret)
		if class == "" {
			wantErr(t, "FeedOf("+secret+")", err, ErrNotFound)
		} else if gotClass != class || gotPerson != person || err != nil {
			t.Errorf("FeedOf(%s) = %s, %s, %v, want %s, %s", secret, gotClass, gotPerson, err, class, person)
		}
	}
	if secret, err := s.Feed(ctx, "autumn", "cora"); secret != "" || err != nil {
		t.Errorf("a calendar nobody asked for has the secret %q, %v", secret, err)
	}
	for person, secret := range map[string]string{"cora": "s1", "dan": "s2", "ada": "s3"} {
		if got, err := s.FirstFeed(ctx, "autumn", person, secret); got != secret || err != nil {
			t.Errorf("the first secret is %q, %v, want %q", got, err, secret)
		}
		is(secret, "autumn", person)
	}
	if got, err := s.FirstFeed(ctx, "autumn", "cora", "s9"); got != "s1" || err != nil {
		t.Errorf("the second first secret is %q, %v, want s1", got, err)
	}
	if err := s.SetFeed(ctx, "autumn", "cora", "s4"); err != nil {
		t.Fatal(err)
	}
	is("s1", "", "")
	is("s4", "autumn", "cora")
	is("", "", "")
	if err := s.Leave(ctx, "autumn", "cora"); err != nil {
		t.Fatal(err)
	}
	is("s4", "", "")
	if secret, err := s.Feed(ctx, "autumn", "cora"); secret != "" || err != nil {
		t.Errorf("who left still has the secret %q, %v", secret, err)
	}
	// A page that was on its way while the student was taken out makes an address that
	// leads nowhere.
	if err := s.SetFeed(ctx, "autumn", "cora", "s5"); err != nil {
		t.Fatal(err)
	}
	is("s5", "", "")
	is("s2", "autumn", "dan")
	is("s3", "autumn", "ada")
}

func TestClassWork(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := newClass(t)
	if err := sampleOf("cora").save(ctx, s); err != nil {
		t.Fatal(err)
	}
	got, err := s.ClassWork(ctx, "autumn")
	// Of a sample: two answers, one right, of one lesson and of none; a plan; two attempts
	// at one scenario, the later one passed.
	want := []WorkOf{{Person: "cora", Answered: 2, Right: 1, Scenarios: 1, Plans: 1, Last: noon.Add(time.Hour), LessonsTouched: 2}, {Person: "dan"}}
	if diff := cmp.Diff(want, got); diff != "" || err != nil {
		t.Errorf("ClassWork() %v, -want +got:\n%s", err, diff)
	}
	if got, err := s.ClassWork(ctx, "winter"); len(got) != 0 || err != nil {
		t.Errorf("the work of a class without members: %v, %v", got, err)
	}
}

// TestForgetMember: deleting a student takes the student out of everything, and leaves
// the class as it was.
func TestForgetMember(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := newClass(t)
	for _, a := range []Assignment{assignmentOf("one", "cora"), assignmentOf("both", "cora", "dan"), assignmentOf("all")} {
		if err := s.Assign(ctx, a); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.SetFeed(ctx, "autumn", "cora", "secret"); err != nil {
		t.Fatal(err)
	}
	if err := s.Forget(ctx, "cora"); err != nil {
		t.Fatal(err)
	}
	list, err := s.Assignments(ctx, "autumn")
	if err != nil || len(list) != 3 {
		t.Fatalf("%d assignments, %v", len(list), err)
	}
	for _, a := range list {
		if slices.Contains(a.For, "cora") || a.ID == "both" && !slices.Equal(a.For, []string{"dan"}) {
			t.Errorf("%s is for %v", a.ID, a.For)
		}
	}
	if members, err := s.Members(ctx, "autumn"); err != nil || len(members) != 1 {
		t.Errorf("%d members, %v", len(members), err)
	}
	_, _, err = s.FeedOf(ctx, "secret")
	wantErr(t, "the calendar's address", err, ErrNotFound)
	if err := s.Integrity(ctx); err != nil {
		t.Error(err)
	}
}

// TestMembershipIsAsCounted compares joining, leaving, assigning, taking back and
// deleting with plain maps.
func TestMembershipIsAsCounted(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		ctx := t.Context()
		s, err := Open(ctx, newPath(t))
		if err != nil {
			r.Fatal(err)
		}
		defer s.Close()
		must := func(err error) {
			r.Helper()
			if err != nil {
				r.Fatal(err)
			}
		}
		must(s.AddPerson(ctx, personOf("ada", Instructor, "Ada Field")))
		classes := []string{"autumn", "winter"}
		for _, class := range classes {
			must(s.AddClass(ctx, classOf(class, "ada")))
		}
		known := map[string]bool{}
		members := map[string]map[string]bool{"autumn": {}, "winter": {}}
		assigned := map[string]map[string][]string{"autumn": {}, "winter": {}} // nil for everyone
		person := rapid.SampledFrom([]string{"p1", "p2", "p3"})
		for step := range rapid.IntRange(1, 30).Draw(r, "steps") {
			class, who := rapid.SampledFrom(classes).Draw(r, "class"), person.Draw(r, "person")
			switch rapid.IntRange(0, 5).Draw(r, "what") {
			case 0, 1:
				must(s.Join(ctx, class, personOf(who, Student, who), known[who]))
				known[who], members[class][who] = true, true
			case 2:
				if err := s.Leave(ctx, class, who); (err == nil) != members[class][who] {
					r.Fatalf("leaving, being a member %v: %v", members[class][who], err)
				}
				delete(members[class], who)
				for id, to := range assigned[class] {
					if to != nil {
						assigned[class][id] = slices.DeleteFunc(to, func(v string) bool { return v == who })
					}
				}
			case 3, 4:
				a := assignmentOf(fmt.Sprint("a", step))
				a.Class = class
				if rapid.Bool().Draw(r, "for some") {
					a.For = slices.Compact(slices.Sorted(slices.Values(rapid.SliceOfN(person, 1, 3).Draw(r, "whom"))))
				}
				may := !slices.ContainsFunc(a.For, func(v string) bool { return !members[class][v] })
				if err := s.Assign(ctx, a); (err == nil) != may {
					r.Fatalf("assigning to %v, members %v: %v", a.For, members[class], err)
				}
				if may {
					assigned[class][a.ID] = a.For
				}
			case 5:
				must(s.Forget(ctx, who))
				delete(known, who)
				for _, class := range classes {
					delete(members[class], who)
					for id, to := range assigned[class] {
						if to != nil {
							assigned[class][id] = slices.DeleteFunc(to, func(v string) bool { return v == who })
						}
					}
				}
			}
		}
		for _, class := range classes {
			all, err := s.Members(ctx, class)
			must(err)
			if len(all) != len(members[class]) {
				r.Fatalf("%s has %d members, want %v", class, len(all), members[class])
			}
			for who := range members[class] {
				list, err := s.AssignedTo(ctx, class, who)
				must(err)
				n := 0
				for _, to := range assigned[class] {
					if to == nil || slices.Contains(to, who) {
						n++
					}
				}
				if len(list) != n {
					r.Fatalf("%s in %s has %d assignments, want %d of %v", who, class, len(list), n, assigned[class])
				}
			}
		}
		must(s.Integrity(ctx))
	})
}
