package server

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"rollingboil/server/store"
)

// cooks are students of a class whose batches of one assignment are accepted.
type cooks struct {
	*classroom
	assigned string
	n        int
}

func newCooks(t testing.TB) *cooks {
	t.Helper()
	r := newClassroom(t)
	load := store.Assignment{ID: store.NewID(), Class: r.class, Kind: "batch", About: "tomatoes-crushed", Title: "Crushed tomatoes", Settings: []byte("{}"), Opens: time.Now(), Due: time.Now(), Made: time.Now()}
	if err := r.store.Assign(context.Background(), load); err != nil {
		t.Fatal(err)
	}
	return &cooks{classroom: r, assigned: load.ID}
}

// A load that was cooked for 60 minutes, which USDA Guide 3, p. 3-8, has for quarts above
// 6,000 ft, and one that was cooked for 55.
const (
	wholeTime = "record:\n  boil_reached: 2026-08-20T14:30:00-06:00\n  finished: 2026-08-20T15:30:00-06:00\n"
	cutShort  = "record:\n  boil_reached: 2026-08-20T14:30:00-06:00\n  finished: 2026-08-20T15:25:00-06:00\n"
)

// accepts adds a student with an accepted batch of two jars, the second unsealed or not,
// and gives the batch. The pH is read by a meter.
func (r *cooks) accepts(unsealed bool, record string) string {
	r.t.Helper()
	r.n++
	ctx, now := context.Background(), time.Now()
	keep := func(err error) {
		r.t.Helper()
		if err != nil {
			r.t.Fatal(err)
		}
	}
	visitor := r.student(fmt.Sprintf("Cook Number %02d", r.n))
	batch, err := r.store.BeginBatch(ctx, store.Batch{ID: store.NewID(), Visitor: visitor, Assignment: r.assigned, Made: now})
	keep(err)
	plan := "plan:\n  " + strings.ReplaceAll(strings.TrimSpace(testedPlan)+"\nph: {reading: 4.1, by: meter}", "\n", "\n  ") + "\n"
	file := []byte(plan + record + fmt.Sprintf("  jars: [{n: 1, sealed: true, liquid_lost: none}, {n: 2, sealed: %t, liquid_lost: some}]\n", !unsealed))
	cooked, _, err := r.server.course.Grader.ParseFile("", file)
	keep(err)
	report, err := json.Marshal(r.server.course.Grader.GradeBatch(cooked))
	keep(err)
	keep(r.store.AddBatchVersion(ctx, store.BatchVersion{Batch: batch.ID, N: 1, Kind: store.RecordVersion, File: file, Report: report, At: now}, ""))
	keep(r.store.AddBatchEvent(ctx, batch.ID, store.BatchEvent{What: store.RecordSent, N: 1, At: now}, ""))
	keep(r.store.AddBatchEvent(ctx, batch.ID, store.BatchEvent{What: store.Accepted, N: 1, ByInstructor: true, At: now}, store.RecordSent))
	return batch.ID
}

// link links a batch to a way, as the instructor.
func (r *cooks) link(at, batch string, way int) {
	r.t.Helper()
	r.as(r.instructor)
	r.wants(r.post(at+"/workbook", url.Values{"do": {"link"}, "batch": {batch}, "n": {fmt.Sprint(way)}, "form": {store.NewID()}}), http.StatusOK)
}

// links links accepted batches of so many students to a way, with an unsealed jar in some
// of them: past the workbook, whose page takes its time.
func (r *cooks) links(at string, way, students, unsealed int) {
	r.t.Helper()
	for i := range students {
		e := store.TrialEntry{Form: store.NewID(), Variant: way, Kind: store.LinkedEntry, Batch: r.accepts(i < unsealed, wholeTime), Load: []byte("{}"), At: time.Now()}
		if err := r.store.AddTrialEntry(context.Background(), at[strings.LastIndex(at, "/")+1:], e); err != nil {
			r.t.Fatal(err)
		}
	}
}

// takesOut takes an entry out of the count, as the instructor.
func (r *cooks) takesOut(at string, entry int) {
	r.t.Helper()
	r.as(r.instructor)
	r.wants(r.post(at+"/workbook", url.Values{"do": {"void"}, "n": {fmt.Sprint(entry)}, "form": {store.NewID()}, "says": {"it was another food"}}), http.StatusOK)
}

// shownTrial is a trial of two tested ways that the class sees, with a load of the
// instructor's own in the first.
func (r *cooks) shownTrial(question string) string {
	r.t.Helper()
	at := r.trial("question", question, "plan-2", testedPlan)
	r.wants(r.post(at+"/entry", loadForm(1, 2, 7, "minutes", "95", "yield", "6.5", "ph", "4.3", "ph-by", "strip")), http.StatusOK)
	r.wants(r.post(at+"/workbook", url.Values{"do": {"shown"}}), http.StatusOK)
	return at
}

// member is the page of a trial as a member reads it.
func (r *cooks) member(at string) string {
	r.t.Helper()
	r.as(r.ben)
	page := r.get(at)
	r.wants(page, http.StatusOK)
	return mainText(r.t, page)
}

const leftOutSays = "Loads of students are not in the counts: they are of too few students."

// tellsNothing checks that a member reads of students what there was to read before any
// load of theirs was linked, and that they are left out.
func (r *cooks) tellsNothing(when, before, now string) {
	r.t.Helper()
	if !strings.Contains(now, leftOutSays) {
		r.t.Errorf("%s: the page does not say that loads are left out: %s", when, now)
	}
	for _, always := range []string{leftOutSays, amissFate} {
		now = strings.Replace(now, always+" ", "", 1)
	}
	if now != before {
		r.t.Errorf("%s: a member reads\n%s\nwhere before it was\n%s", when, now, before)
	}
}

// TestTrialHidesSingleStudents: loads of ten students in all, one of them alone in its way
// or alone beside a way that was set aside, are told of to nobody but the instructor.
func TestTrialHidesSingleStudents(t *testing.T) {
	t.Parallel()
	r := newCooks(t)
	at := r.shownTrial("Do new lids do as well?")
	before := r.member(at)
	r.links(at, 1, 9, 9)
	r.link(at, r.accepts(true, cutShort), 2)
	r.tellsNothing("nine in one way and one in the other", before, r.member(at))
	r.as(r.instructor)
	for _, want := range []string{"11 of 25", "1 of 2", "One of its loads was not cooked as tested", "not every load was cooked so", "Loads of 10 students are in the counts"} {
		if own := mainText(t, r.get(at)); !strings.Contains(own, want) {
			t.Errorf("the instructor's page lacks %q: %s", want, own)
		}
	}
	// The tenth load of the first way does not bring out the one of the second.
	r.links(at, 1, 1, 0)
	r.tellsNothing("ten in one way and one in the other", before, r.member(at))

	// Nine in a way that is set aside do not make up the ten for the one that is left.
	at = r.shownTrial("Do other lids do as well?")
	r.links(at, 2, 9, 9)
	r.wants(r.post(at+"/workbook", url.Values{"do": {"set-aside"}, "n": {"2"}, "says": {"the plan was mistyped"}}), http.StatusOK)
	before = r.member(at)
	r.link(at, r.accepts(true, cutShort), 1)
	r.tellsNothing("nine set aside and one left", before, r.member(at))
	r.as(r.instructor)
	if own := mainText(t, r.get(at)); !strings.Contains(own, "Loads of 1 student are in the counts") {
		t.Errorf("students of a way that was set aside are counted: %s", own)
	}
}

// TestTrialTellsOfTens: of ten students in each way members read how many had such a jar,
// unless one or two had, and nothing of a single load. What is linked, taken out or deleted
// later changes the page by no single load.
func TestTrialTellsOfTens(t *testing.T) {
	t.Parallel()
	r := newCooks(t)
	at := r.shownTrial("Do new lids do as well?") // entry 1
	r.links(at, 1, 10, 4)
	r.links(at, 2, 9, 2)
	r.link(at, r.accepts(false, cutShort), 2)
	tens := r.member(at)
	for _, want := range []string{
		"As planned, every way here is as tested", amissFate, tensSays,
		"Students, in tens 10 10",
		"Load not cooked as tested 2 at most of 10 2 at most of 10",
		"Had a jar that did not seal 4 of 10 likely 17 to 69 % 2 at most of 10, not said of 2 at most", // Wilson's 0.16818 to 0.68733
		"Had a jar that lost liquid all but 2 at most of 10",
		"2 of 7", "Jars filled, each load 6.5 not said", "pH read 4.3 by strip not said", // the instructor's own
	} {
		if !strings.Contains(tens, want) {
			t.Errorf("a member does not read %q: %s", want, tens)
		}
	}
	if never := regexp.MustCompile(`One of its loads|not every load|of 27|of 20|by meter|6\.5, 2|too few`).FindString(tens); never != "" {
		t.Errorf("a member reads %q: %s", never, tens)
	}
	r.as(r.instructor)
	own := r.get(at)
	if all := mainText(t, own); !strings.Contains(all, "6 of 27") || !strings.Contains(all, "One of its loads was not cooked as tested") {
		t.Errorf("the instructor does not see each load: %s", all)
	}
	if strings.Contains(own.body, "data-print") || !strings.Contains(own.body, `href="`+at+`?as=class"`) {
		t.Error("the sheet to print is not that of the class")
	}
	asClass := r.get(at + "?as=class")
	checkPage(t, "trial", parse(t, asClass.body))
	if !strings.Contains(asClass.body, "data-print") {
		t.Error("what the class sees cannot be printed")
	}
	table := func(page string) string { return page[strings.Index(page, "Counted"):strings.Index(page, tensSays)] }
	if got := table(mainText(t, asClass)); got != table(tens) {
		t.Errorf("as the class sees it, the instructor reads\n%s\nand a member\n%s", got, table(tens))
	}
	lesson, _ := writtenIn(t, r.get(r.begins("lesson", "trial "+at[strings.LastIndex(at, "/")+1:], "a-trial")))
	loaded(t, []byte(lesson)) // as the course checks it
	if !strings.Contains(lesson, "4 of 10") || !strings.Contains(lesson, "2 at most of 10") || regexp.MustCompile(`[Nn]ot cooked as tested: |not every load|of 27|of 20|by meter`).MatchString(lesson) {
		t.Errorf("the lesson for the class does not keep to what members read: %s", lesson)
	}

	same := func(when string) {
		t.Helper()
		if now := r.member(at); now != tens {
			t.Errorf("%s: a member reads\n%s\nwhere before it was\n%s", when, now, tens)
		}
	}
	r.link(at, r.accepts(true, cutShort), 1) // entry 22
	same("an eleventh load")
	r.takesOut(at, 22)
	same("the eleventh load is taken out")
	r.links(at, 1, 9, 9) // entries 24 to 32
	same("nineteen loads")
	r.links(at, 1, 1, 0)
	for _, want := range []string{"Students, in tens 10; 10 10", "4 of 10; all but 2 at most of 10, not said of 2 at most 2 at most of 10"} {
		if now := r.member(at); !strings.Contains(now, want) {
			t.Errorf("twenty students: a member does not read %q: %s", want, now)
		}
	}
	r.takesOut(at, 25) // of the second ten
	same("a load of the second ten is taken out")
	r.links(at, 1, 1, 1)
	same("another load in its place")
	// Who deletes the account: the ten goes, and nobody is told why.
	if err := r.store.Forget(context.Background(), r.cook("Cook Number 14")); err != nil { // of the second way
		t.Fatal(err)
	}
	now := r.member(at)
	if !strings.Contains(now, leftOutSays) || strings.Contains(now, "deleted") || strings.Contains(now, "of 10") {
		t.Errorf("after a student deleted a load of the ten, a member reads: %s", now)
	}
	r.as(r.instructor)
	if own := mainText(t, r.get(at)); !strings.Contains(own, "1 more deleted by the student") {
		t.Errorf("the instructor is not told of what was deleted: %s", own)
	}
}
