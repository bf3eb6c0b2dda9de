package store

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// classOf keeps an instructor called June with the class "grange", and the students
// named as its members.
func juneClass(t *testing.T, s *Store, students ...string) {
	t.Helper()
	ctx := t.Context()
	if err := s.AddPerson(ctx, Person{Visitor: "june", Role: Instructor, Name: "June", Password: "x", Joined: noon}); err != nil {
		t.Fatal(err)
	}
	for _, id := range []string{"grange", "other"} {
		if err := s.AddClass(ctx, Class{ID: id, Instructor: "june", Name: id, Starts: "2026-08-20", Zone: "America/Denver", Weeks: 6, Code: id, CodeUntil: noon, Made: noon}); err != nil {
			t.Fatal(err)
		}
	}
	for _, name := range students {
		if err := s.Join(ctx, "grange", Person{Visitor: name, Role: Student, Name: strings.ToUpper(name), Password: "x", Joined: noon}, false); err != nil {
			t.Fatal(err)
		}
	}
}

func ask(t *testing.T, s *Store, id, person, text string, at time.Time) AskedInClass {
	t.Helper()
	q := AskedInClass{ID: id, Class: "grange", Person: person, Kind: "lesson", About: "headspace", Text: text, At: at}
	if err := s.Ask(t.Context(), q, 20); err != nil {
		t.Fatal(err)
	}
	q.Name = strings.ToUpper(person)
	return q
}

func askedIDs(list []AskedInClass) (ids []string) {
	for _, q := range list {
		ids = append(ids, q.ID)
	}
	return ids
}

func TestAskedAndAnswered(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := openStore(t, newPath(t))
	juneClass(t, s, "ada", "ben")
	first := ask(t, s, "q1", "ada", "Why 1/2 in?\n\n<b>Why</b>", noon)
	ask(t, s, "q2", "ben", "May I fill it up?", noon.Add(time.Minute))
	ask(t, s, "q3", "ada", "What of jam?", noon.Add(2*time.Minute))

	got, err := s.Asked(ctx, "grange", "q1")
	if d := cmp.Diff(first, got); d != "" || err != nil {
		t.Errorf("Asked() = %v (-want +got):\n%s", err, d)
	}
	if _, err := s.Asked(ctx, "other", "q1"); !errors.Is(err, ErrNotFound) {
		t.Errorf("Asked() under another class = %v, want ErrNotFound", err)
	}
	if n, err := s.Unanswered(ctx, "grange"); n != 3 || err != nil {
		t.Errorf("Unanswered() = %d, %v, want 3", n, err)
	}

	for i, text := range []string{"Air has to get out.", "Air has to get out, and food swells."} {
		if err := s.AnswerAsked(ctx, "grange", "q1", text, noon.Add(time.Duration(1+i)*time.Hour)); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.AnswerAsked(ctx, "other", "q2", "No.", noon); !errors.Is(err, ErrNotFound) {
		t.Errorf("AnswerAsked() under another class = %v, want ErrNotFound", err)
	}
	got, err = s.Asked(ctx, "grange", "q1")
	if err != nil || got.Answer != "Air has to get out, and food swells." || got.Version != 2 || got.Seen != 0 || !got.Answered.Equal(noon.Add(2*time.Hour)) {
		t.Errorf("Asked() after two answers = %+v, %v", got, err)
	}
	versions, err := s.AnswerVersions(ctx, "q1")
	want := []AnswerVersion{{1, "Air has to get out.", noon.Add(time.Hour)}, {2, "Air has to get out, and food swells.", noon.Add(2 * time.Hour)}}
	if d := cmp.Diff(want, versions); d != "" || err != nil {
		t.Errorf("AnswerVersions() = %v (-want +got):\n%s", err, d)
	}

	list, err := s.AskedIn(ctx, "grange")
	if d := cmp.Diff([]string{"q2", "q3", "q1"}, askedIDs(list)); d != "" || err != nil {
		t.Errorf("AskedIn() = %v, want what has no answer first (-want +got):\n%s", err, d)
	}
	if list, err = s.AskedBy(ctx, "grange", "ada"); err != nil || !cmp.Equal(askedIDs(list), []string{"q3", "q1"}) {
		t.Errorf("AskedBy() = %v, %v", askedIDs(list), err)
	}
	if list, err = s.AskedAbout(ctx, "ada", "lesson", "headspace"); err != nil || !cmp.Equal(askedIDs(list), []string{"q1", "q3"}) {
		t.Errorf("AskedAbout() = %v, %v", askedIDs(list), err)
	}
	if list, err = s.AskedAbout(ctx, "ada", "scenario", "headspace"); err != nil || len(list) != 0 {
		t.Errorf("AskedAbout() a scenario of the lesson's name = %v, %v", askedIDs(list), err)
	}
	if n, err := s.Unanswered(ctx, "grange"); n != 2 || err != nil {
		t.Errorf("Unanswered() = %d, %v, want 2", n, err)
	}

	if err := s.SeeAnswer(ctx, "ben", "q1", 2); !errors.Is(err, ErrNotFound) {
		t.Errorf("SeeAnswer() of somebody else = %v, want ErrNotFound", err)
	}
	for _, version := range []int{2, 1} { // an older page that is loaded late takes nothing back
		if err := s.SeeAnswer(ctx, "ada", "q1", version); err != nil {
			t.Fatal(err)
		}
	}
	if got, err = s.Asked(ctx, "grange", "q1"); err != nil || got.Seen != 2 {
		t.Errorf("Asked() after it was seen = %+v, %v", got, err)
	}

	// Who leaves keeps what was asked, but neither sees it nor is named, and is not
	// waited for.
	if err := s.Leave(ctx, "grange", "ben"); err != nil {
		t.Fatal(err)
	}
	if got, err = s.Asked(ctx, "grange", "q2"); err != nil || got.Name != "" {
		t.Errorf("Asked() by who left = %+v, %v", got, err)
	}
	if n, err := s.Unanswered(ctx, "grange"); n != 1 || err != nil {
		t.Errorf("Unanswered() after one left = %d, %v, want 1", n, err)
	}
	if list, err = s.AskedAbout(ctx, "ben", "lesson", "headspace"); err != nil || len(list) != 0 {
		t.Errorf("AskedAbout() of who left = %v, %v", askedIDs(list), err)
	}
}

func TestAskIsLimited(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := openStore(t, newPath(t))
	juneClass(t, s, "ada", "ben")
	q := AskedInClass{ID: "ten", Class: "other", Person: "ada", Kind: "lesson", About: "headspace", Text: "?", At: noon}
	if err := s.Ask(ctx, q, 20); !errors.Is(err, ErrNotFound) {
		t.Errorf("Ask() in a class of others = %v, want ErrNotFound", err)
	}
	for i := range 3 {
		ask(t, s, fmt.Sprint("q", i), "ada", fmt.Sprint("Question ", i), noon)
	}
	again := AskedInClass{ID: "again", Class: "grange", Person: "ada", Kind: "lesson", About: "headspace", Text: "Question 1", At: noon}
	if err := s.Ask(ctx, again, 3); err != nil {
		t.Errorf("Ask() the same once more = %v", err)
	}
	if list, err := s.AskedIn(ctx, "grange"); len(list) != 3 || err != nil {
		t.Errorf("%d kept, %v, want 3: the same question is kept once", len(list), err)
	}
	more := AskedInClass{ID: "more", Class: "grange", Person: "ada", Kind: "lesson", About: "headspace", Text: "One more", At: noon}
	if err := s.Ask(ctx, more, 3); !errors.Is(err, ErrLimit) {
		t.Errorf("Ask() a fourth of three = %v, want ErrLimit", err)
	}
	ask(t, s, "bens", "ben", "Mine", noon) // another student is not held up
	if err := s.AnswerAsked(ctx, "grange", "q0", "So.", noon); err != nil {
		t.Fatal(err)
	}
	if err := s.Ask(ctx, more, 3); err != nil {
		t.Errorf("Ask() after an answer made room = %v", err)
	}
}

func TestSharedSaysNothingOfWhoAsked(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := openStore(t, newPath(t))
	juneClass(t, s, "ada", "ben")
	ask(t, s, "q1", "ada", "Mine was cloudy. Why?", noon)
	if err := s.Share(ctx, "grange", "q1", "Why is it cloudy?", noon); !errors.Is(err, ErrNotFound) {
		t.Errorf("Share() without an answer = %v, want ErrNotFound", err)
	}
	for _, step := range []error{
		s.AnswerAsked(ctx, "grange", "q1", "Hard water.", noon),
		s.Share(ctx, "grange", "q1", "Why is it cloudy?", noon),
		s.AnswerAsked(ctx, "grange", "q1", "Hard water, or starch.", noon.Add(time.Hour)),
		s.Share(ctx, "grange", "q1", "Why are jars cloudy?", noon.Add(2*time.Hour)),
	} {
		if step != nil {
			t.Fatal(step)
		}
	}
	if err := s.Share(ctx, "other", "q1", "x", noon); !errors.Is(err, ErrNotFound) {
		t.Errorf("Share() under another class = %v, want ErrNotFound", err)
	}
	want := []SharedInClass{{ID: "q1", Class: "grange", Kind: "lesson", About: "headspace", Text: "Why are jars cloudy?", Answer: "Hard water, or starch.", At: noon}}
	got, err := s.SharedIn(ctx, "grange")
	if d := cmp.Diff(want, got); d != "" || err != nil {
		t.Errorf("SharedIn() = %v (-want +got):\n%s", err, d)
	}
	if got, err = s.SharedAbout(ctx, "ben", "lesson", "headspace"); !cmp.Equal(want, got) || err != nil {
		t.Errorf("SharedAbout() for a member = %v, %v", got, err)
	}
	if got, err = s.SharedAbout(ctx, "june", "lesson", "headspace"); len(got) != 0 || err != nil {
		t.Errorf("SharedAbout() for no member = %v, %v", got, err)
	}
	if q, err := s.Asked(ctx, "grange", "q1"); err != nil || q.Shared != "Why are jars cloudy?" || q.Text != "Mine was cloudy. Why?" {
		t.Errorf("Asked() of what is shared = %+v, %v", q, err)
	}

	batch := AskedInClass{ID: "q2", Class: "grange", Person: "ada", Kind: "batch", About: "adas-batch", Text: "Jar 3?", At: noon}
	for _, step := range []error{
		s.Ask(ctx, batch, 20), s.AnswerAsked(ctx, "grange", "q2", "In the refrigerator.", noon), s.Share(ctx, "grange", "q2", "What of a jar that did not seal?", noon),
	} {
		if step != nil {
			t.Fatal(step)
		}
	}
	if q, err := s.Shared(ctx, "grange", "q2"); err != nil || q.About != "" {
		t.Errorf("Shared() of a batch tells which: %+v, %v", q, err)
	}

	if err := s.Unshare(ctx, "other", "q1"); !errors.Is(err, ErrNotFound) {
		t.Errorf("Unshare() under another class = %v, want ErrNotFound", err)
	}
	if err := s.Unshare(ctx, "grange", "q1"); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Shared(ctx, "grange", "q1"); !errors.Is(err, ErrNotFound) {
		t.Errorf("Shared() after Unshare = %v, want ErrNotFound", err)
	}
}

// TestForgetLeavesOnlyTheSharedWording: no byte of what the student wrote, of what was
// answered to the student alone, or of the student's id stays in the file.
func TestForgetLeavesOnlyTheSharedWording(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	path := newPath(t)
	s := openStore(t, path)
	juneClass(t, s, "ada", "ben")
	ask(t, s, "q1", "ada", marked("asked", 900), noon)
	ask(t, s, "q2", "ada", marked("asked", 90), noon)
	for _, step := range []error{
		s.AnswerAsked(ctx, "grange", "q1", marked("first-answer", 900), noon),
		s.AnswerAsked(ctx, "grange", "q1", "Hard water.", noon),
		s.Share(ctx, "grange", "q1", "Why is it cloudy?", noon),
		s.AnswerAsked(ctx, "grange", "q2", marked("other-answer", 90), noon),
		s.Forget(ctx, "ada"),
	} {
		if step != nil {
			t.Fatal(step)
		}
	}
	files := onDisk(t, path)
	for _, gone := range []string{"<asked>", "<first-answer>", "<other-answer>", "ada", "ADA"} {
		if n := bytes.Count(files, []byte(gone)); n > 0 {
			t.Errorf("the files hold %q %d times after the student was forgotten", gone, n)
		}
	}
	if list, err := s.AskedIn(ctx, "grange"); len(list) != 0 || err != nil {
		t.Errorf("AskedIn() = %v, %v", list, err)
	}
	want := []SharedInClass{{ID: "q1", Class: "grange", Kind: "lesson", About: "headspace", Text: "Why is it cloudy?", Answer: "Hard water.", At: noon}}
	got, err := s.SharedAbout(ctx, "ben", "lesson", "headspace")
	if d := cmp.Diff(want, got); d != "" || err != nil {
		t.Errorf("SharedAbout() = %v (-want +got):\n%s", err, d)
	}
	if err := s.Integrity(ctx); err != nil {
		t.Error(err)
	}
}
