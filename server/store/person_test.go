package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"
	"unicode"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/text/unicode/norm"
	"pgregory.net/rapid"
)

// personOf is a person, always the same for the same id.
func personOf(visitor, role, name string) Person {
	return Person{Visitor: visitor, Role: role, Name: name, Password: "hash of " + visitor, Sessions: 1, Joined: noon}
}

// atOnce runs a call many times at once and counts how often it did without an error.
// Any error but the one allowed fails the test.
func atOnce(t *testing.T, times int, allowed error, call func(i int) error) int {
	t.Helper()
	var mu sync.Mutex
	won := 0
	var all sync.WaitGroup
	start := make(chan struct{})
	for i := range times {
		all.Go(func() {
			<-start
			err := call(i)
			mu.Lock()
			defer mu.Unlock()
			if err == nil {
				won++
			} else if !errors.Is(err, allowed) {
				t.Errorf("call %d: %v", i, err)
			}
		})
	}
	close(start)
	all.Wait()
	return won
}

func wantErr(t *testing.T, call string, got, want error) {
	t.Helper()
	if !errors.Is(got, want) {
		t.Errorf("%s = %v, want %v", call, got, want)
	}
}

// TestKnownAs: one name, however it is written (Unicode Standard, D146: a compatibility
// caseless match), and another one stays another one.
func TestKnownAs(t *testing.T) {
	t.Parallel()
	for _, same := range [][]string{
		{"Ada Field", "ada field", "ADA  FIELD", "\tAda\u00a0Field ", "Ａda Field"},
		{"Zoë", "Zoe\u0308", "ZOË", "zoë"},
		{"Groß", "GROSS", "gross"},
		{"Οδυσσεύς", "ΟΔΥΣΣΕΎΣ", "οδυσσεύσ"},
		{"ﬁnn", "FINN"},
	} {
		for _, name := range same {
			if got := KnownAs(name); got != KnownAs(same[0]) {
				t.Errorf("%q is known as %q, want %q as %q is", name, got, KnownAs(same[0]), same[0])
			}
		}
	}
	for _, other := range []string{"Ada Fields", "Adafield", "Áda Field", "Ada-Field"} {
		if KnownAs(other) == KnownAs("Ada Field") {
			t.Errorf("%q is taken for Ada Field", other)
		}
	}
	rapid.Check(t, func(r *rapid.T) {
		name := rapid.String().Draw(r, "name")
		known := KnownAs(name)
		if again := KnownAs(known); again != known {
			r.Fatalf("%q is known as %q, and that as %q", name, known, again)
		}
		for _, form := range []norm.Form{norm.NFC, norm.NFD, norm.NFKC, norm.NFKD} {
			if got := KnownAs(form.String(name)); got != known {
				r.Fatalf("%q otherwise composed is known as %q, want %q", name, got, known)
			}
		}
		if known != strings.Join(strings.FieldsFunc(known, unicode.IsSpace), " ") {
			r.Fatalf("%q is known as %q, with other spaces than one between words", name, known)
		}
	})
}

func TestPerson(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := openStore(t, newPath(t))
	ada, ben := personOf("ada", Instructor, "Ada Field"), personOf("ben", Student, "Ben  Moss")
	for _, p := range []Person{ada, ben} {
		if err := s.AddPerson(ctx, p); err != nil {
			t.Fatal(err)
		}
	}
	wantErr(t, "a name that is taken", s.AddPerson(ctx, personOf("eve", Student, "ADA\u00a0field")), ErrExists)
	wantErr(t, "a second name", s.AddPerson(ctx, personOf("ada", Student, "Ada Stone")), ErrExists)
	if err := s.AddPerson(ctx, personOf("eve", "owner", "Eve Stone")); err == nil {
		t.Error("a role that is none is kept")
	}
	_, err := s.Visitor(ctx, "eve")
	wantErr(t, "the visitor of a person who was refused", err, ErrNotFound)

	for _, want := range []Person{ada, ben} {
		got, err := s.Person(ctx, want.Visitor)
		if diff := cmp.Diff(want, got); diff != "" || err != nil {
			t.Errorf("Person() %v, -want +got:\n%s", err, diff)
		}
		if got, err = s.PersonByName(ctx, strings.ToUpper(want.Name)); !cmp.Equal(want, got) || err != nil {
			t.Errorf("PersonByName() = %+v, %v", got, err)
		}
	}
	_, err = s.Person(ctx, "eve")
	wantErr(t, "Person()", err, ErrNotFound)
	_, err = s.PersonByName(ctx, "")
	wantErr(t, "PersonByName()", err, ErrNotFound)
	if all, err := s.Instructors(ctx); err != nil || !cmp.Equal(all, []Person{ada}) {
		t.Errorf("Instructors() = %+v, %v", all, err)
	}

	for want := 2; want < 4; want++ {
		if n, err := s.SetPassword(ctx, "ben", "new"); n != want || err != nil {
			t.Errorf("SetPassword() = %d, %v, want %d", n, err, want)
		}
	}
	_, err = s.SetPassword(ctx, "eve", "new")
	wantErr(t, "SetPassword()", err, ErrNotFound)
	if p, err := s.Person(ctx, "ada"); err != nil || p.Password != ada.Password || p.Sessions != 1 {
		t.Errorf("another person's new password changed %+v, %v", p, err)
	}
}

func TestCodeOnce(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	path := newPath(t)
	s := openStore(t, path)
	if err := s.AddPerson(ctx, personOf("ben", Student, "Ben Moss")); err != nil {
		t.Fatal(err)
	}
	give := func(code, person string, at time.Time) {
		t.Helper()
		if err := s.GiveCode(ctx, code, person, at, at.Add(time.Hour)); err != nil {
			t.Fatal(err)
		}
	}
	is := func(code, person string, at time.Time, want error) {
		t.Helper()
		got, err := s.Code(ctx, code, at)
		if !errors.Is(err, want) || got != person {
			t.Errorf("Code(%s) = %q, %v, want %q, %v", code, got, err, person, want)
		}
	}
	give("set-up-1", "", noon)
	give("for-ben-1", "ben", noon)
	is("set-up-1", "", noon, nil)
	is("for-ben-1", "ben", noon.Add(time.Hour-time.Nanosecond), nil)
	is("for-ben-1", "", noon.Add(time.Hour), ErrNotFound)
	is("none", "", noon, ErrNotFound)
	// Each kind replaces its own.
	give("for-ben-2", "ben", noon)
	is("for-ben-1", "", noon, ErrNotFound)
	is("set-up-1", "", noon, nil)
	give("set-up-2", "", noon)
	is("set-up-1", "", noon, ErrNotFound)
	is("for-ben-2", "ben", noon, nil)
	if bytes.Contains(onDisk(t, path), []byte("for-ben-2")) {
		t.Error("the file holds a code as it is typed")
	}

	if err := s.UseCode(ctx, "for-ben-2", "ben", "new", noon); err != nil {
		t.Fatal(err)
	}
	wantErr(t, "using it again", s.UseCode(ctx, "for-ben-2", "ben", "newer", noon), ErrNotFound)
	wantErr(t, "a code that is too old", s.UseCode(ctx, "set-up-2", "ben", "newer", noon.Add(time.Hour)), ErrNotFound)
	wantErr(t, "a code of another", s.UseCode(ctx, "set-up-2", "ben", "newer", noon), ErrNotFound)
	if p, err := s.Person(ctx, "ben"); err != nil || p.Password != "new" || p.Sessions != 2 {
		t.Errorf("after one use of the code: %+v, %v", p, err)
	}

	wantErr(t, "a name that is taken", s.SetUp(ctx, "set-up-2", personOf("eve", Instructor, "BEN moss"), noon), ErrExists)
	is("set-up-2", "", noon, nil)
	give("for-ben-3", "ben", noon)
	wantErr(t, "making an instructor with a code for a password", s.SetUp(ctx, "for-ben-3", personOf("eve", Instructor, "Eve Stone"), noon), ErrNotFound)
	if err := s.SetUp(ctx, "set-up-2", personOf("eve", Instructor, "Eve Stone"), noon); err != nil {
		t.Fatal(err)
	}
	wantErr(t, "the link again", s.SetUp(ctx, "set-up-2", personOf("finn", Instructor, "Finn Hill"), noon), ErrNotFound)

	// Who is deleted leaves no code behind.
	if err := s.Forget(ctx, "ben"); err != nil {
		t.Fatal(err)
	}
	is("for-ben-3", "", noon, ErrNotFound)
}

// TestOnlyOneWins: of many that do the same at once, exactly one does.
func TestOnlyOneWins(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	s := openStore(t, newPath(t))
	const times = 8
	if err := s.GiveCode(ctx, "set-up", "", noon, noon.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	if won := atOnce(t, times, ErrNotFound, func(i int) error {
		return s.SetUp(ctx, "set-up", personOf(fmt.Sprint("i", i), Instructor, fmt.Sprint("Instructor ", i)), noon)
	}); won != 1 {
		t.Errorf("one link made %d instructors", won)
	}
	if all, err := s.Instructors(ctx); err != nil || len(all) != 1 {
		t.Fatalf("%d instructors, %v", len(all), err)
	}
	all, err := s.Instructors(ctx)
	if err != nil {
		t.Fatal(err)
	}
	class := classOf("class", all[0].Visitor)
	if err := s.AddClass(ctx, class); err != nil {
		t.Fatal(err)
	}
	if won := atOnce(t, times, ErrExists, func(i int) error {
		return s.Join(ctx, class.ID, personOf(fmt.Sprint("s", i), Student, []string{"Cora Lake", "CORA LAKE"}[i%2]), false)
	}); won != 1 {
		t.Errorf("%d students joined under one name", won)
	}
	cora, err := s.PersonByName(ctx, "Cora Lake")
	if err != nil {
		t.Fatal(err)
	}
	if err := s.GiveCode(ctx, "reset", cora.Visitor, noon, noon.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	if won := atOnce(t, times, ErrNotFound, func(i int) error {
		return s.UseCode(ctx, "reset", cora.Visitor, fmt.Sprint("password ", i), noon)
	}); won != 1 {
		t.Errorf("one code set %d passwords", won)
	}
	if p, err := s.Person(ctx, cora.Visitor); err != nil || p.Sessions != 2 {
		t.Errorf("sessions of the person begin under %d, %v; want 2", p.Sessions, err)
	}
	// All new passwords at once: each ends what was open.
	if won := atOnce(t, times, nil, func(i int) error {
		_, err := s.SetPassword(ctx, cora.Visitor, fmt.Sprint(i))
		return err
	}); won != times {
		t.Errorf("%d of %d passwords were set", won, times)
	}
	if p, err := s.Person(ctx, cora.Visitor); err != nil || p.Sessions != 2+times {
		t.Errorf("sessions of the person begin under %d, %v; want %d", p.Sessions, err, 2+times)
	}
	// The first address of a calendar is the same for all who ask at once.
	feeds := make([]string, times)
	atOnce(t, times, nil, func(i int) (err error) {
		feeds[i], err = s.FirstFeed(ctx, class.ID, cora.Visitor, fmt.Sprint("secret", i))
		return err
	})
	for _, feed := range feeds {
		if feed != feeds[0] {
			t.Errorf("first addresses of one calendar: %v", feeds)
			break
		}
	}
}

// TestTakeAlong: all work of a guest goes to the person, and nothing of anybody else.
func TestTakeAlong(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := openStore(t, newPath(t))
	for _, v := range []string{"guest", "cora", "dan"} {
		if err := sampleOf(v).save(ctx, s); err != nil {
			t.Fatal(err)
		}
		if err := s.BeginSitting(ctx, Sitting{ID: v + "-sitting", Visitor: v, Title: "Headspace", Questions: []AskedQuestion{{Question: "headspace-1"}}, Begun: noon}); err != nil {
			t.Fatal(err)
		}
	}
	for _, v := range []string{"cora", "dan"} {
		if err := s.AddPerson(ctx, personOf(v, Student, v)); err != nil {
			t.Fatal(err)
		}
	}
	count := func(visitor string) string {
		t.Helper()
		var counts []string
		for _, table := range workTables {
			n, err := queryAll(ctx, s.read, scanText, `select count(*) from `+table+` where visitor = ?`, visitor)
			if err != nil {
				t.Fatal(err)
			}
			counts = append(counts, n[0])
		}
		return strings.Join(counts, " ")
	}
	// Of a sample: answers, plans, attempts; and the sitting.
	const one, two, none = "2 1 2 1 0", "4 2 4 2 0", "0 0 0 0"
	has := func(want bool, visitor string) {
		t.Helper()
		if got, err := s.HasWork(ctx, visitor); got != want || err != nil {
			t.Errorf("HasWork(%s) = %v, %v, want %v", visitor, got, err, want)
		}
	}
	has(true, "guest")
	has(false, "nobody")
	if err := s.TakeAlong(ctx, "guest", "cora"); err != nil {
		t.Fatal(err)
	}
	has(false, "guest")
	if got := count("cora"); got != two {
		t.Errorf("the person has %s, want %s", got, two)
	}
	_, err := s.Visitor(ctx, "guest")
	wantErr(t, "the guest", err, ErrNotFound)
	for _, from := range []string{"dan", "guest", "nobody"} {
		if err := s.TakeAlong(ctx, from, "cora"); err != nil {
			t.Errorf("taking along the work of %s: %v", from, err)
		}
	}
	if cora, dan := count("cora"), count("dan"); cora != two || dan != one {
		t.Errorf("after taking a person's work: %s and %s, want %s and %s", cora, dan, two, one)
	}

	// To nobody: nothing is lost.
	if err := sampleOf("guest2").save(ctx, s); err != nil {
		t.Fatal(err)
	}
	if err := s.TakeAlong(ctx, "guest2", "nobody"); err == nil {
		t.Error("work was given to nobody")
	}
	if got := count("guest2"); got == none {
		t.Error("the work is gone")
	}
	if err := s.Integrity(ctx); err != nil {
		t.Error(err)
	}
}

// TestWorkTablesAreAllThereAre: a new table with a visitor in it is work that is taken
// along, or stands here with the reason why it is not.
func TestWorkTablesAreAllThereAre(t *testing.T) {
	t.Parallel()
	s := openStore(t, newPath(t))
	tables, err := queryAll(t.Context(), s.read, scanText, `
		select t.name from pragma_table_list t, pragma_table_info(t.name) c
		where c.name = 'visitor' and t.name <> 'people' order by t.name`) // people: the name itself
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]bool{}
	for _, table := range workTables {
		want[table] = true
	}
	for _, table := range tables {
		if !want[table] {
			t.Errorf("the table %s is not in workTables", table)
		}
		delete(want, table)
	}
	if len(want) > 0 {
		t.Errorf("workTables names %v, which have no visitor", want)
	}
}
