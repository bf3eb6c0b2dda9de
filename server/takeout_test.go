package server

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"path"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"rollingboil/quiz"
	"rollingboil/scenarios"
	"rollingboil/server/store"
	"rollingboil/server/storetest"
)

// Why a column is in nobody's zip.
const (
	byPlace  = "the place in the zip says whose it is and what it belongs to"
	aNumber  = "the program's own number of a row, which says nothing of anybody"
	opens    = "opens something to whoever has it"
	derived  = "made of something else that is in the zip"
	ofOthers = "belongs to a student, and this would be in the zip of the instructor"
	together = "counts of a whole class, in which nobody is to be seen"
)

// takenColumns says of each column that hangs on a visitor where in the zip it is: in
// which file, and there under which key or heading. "@" is a key itself, "@path" the name
// of the file, "@file" all that is in it.
var takenColumns = map[string]string{
	"visitors.id": "profile.json visitor", "visitors.altitude_ft": "profile.json altitude_ft", "visitors.canning_day": "profile.json canning_day", "visitors.time_zone": "profile.json time_zone",

	"answers.visitor": "answers.csv learner", "answers.question": "answers.csv question", "answers.lesson": "answers.csv lesson", "answers.given": "answers.csv given",
	"answers.correct": "answers.csv right", "answers.at": "answers.csv at", "answers.seed": "answers.csv seed", "answers.sitting": "answers.csv sitting", "answers.beliefs": "answers.csv misconceptions", "answers.wording": "wordings.json wording",

	"plans.id": "plans/* @path", "plans.plan": "plans/*.yaml @file", "plans.report": "plans/*.report.json @file",
	"plans.title": "plans/*.about.json title", "plans.verdict": "plans/*.about.json verdict", "plans.at": "plans/*.about.json at",

	"attempts.id": "attempts/* @path", "attempts.plan": "attempts/* @file", "attempts.report": "attempts/*.report.json @file", "attempts.result": "attempts/*.result.json @file",
	"attempts.scenario": "attempts/*.about.json scenario", "attempts.kind": "attempts/*.about.json kind", "attempts.seed": "attempts/*.about.json case", "attempts.version": "attempts/*.about.json judged_by",
	"attempts.verdict": "attempts/*.about.json verdict", "attempts.passed": "attempts/*.about.json passed", "attempts.at": "attempts/*.about.json at", "attempts.wording": "attempts/*.about.json wording",

	"sittings.id": "sittings.json id", "sittings.title": "sittings.json title", "sittings.questions": "sittings.json questions", "sittings.begun": "sittings.json begun", "sittings.submitted": "sittings.json handed_in",
	"sitting_answers.place": "sittings.json answers/@", "sitting_answers.given": "sittings.json answers/*/given", "sitting_answers.at": "sittings.json answers/*/at",

	"people.role": "profile.json role", "people.name": "profile.json name", "people.joined": "profile.json joined",
	"members.class": "profile.json classes/id", "members.joined": "profile.json classes/joined",

	"batches.id": "batches/*/about.json @path", "batches.made": "batches/*/about.json begun",
	"batch_versions.file": "batches/*/*.yaml @file", "batch_versions.report": "batches/*/*.report.json @file",
	"batch_versions.n": "batches/*/about.json versions/n", "batch_versions.kind": "batches/*/about.json versions/kind", "batch_versions.verdict": "batches/*/about.json versions/verdict",
	"batch_versions.lot": "batches/*/about.json versions/lot", "batch_versions.version": "batches/*/about.json versions/judged_by", "batch_versions.at": "batches/*/about.json versions/at",
	"batch_events.what": "batches/*/about.json events/what", "batch_events.n": "batches/*/about.json events/version", "batch_events.by_instructor": "batches/*/about.json events/by_instructor",
	"batch_events.says": "batches/*/about.json events/says", "batch_events.at": "batches/*/about.json events/at",
	"batch_times.id": "batches/*/about.json times/id", "batch_times.what": "batches/*/about.json times/what", "batch_times.at": "batches/*/about.json times/at", "batch_times.received": "batches/*/about.json times/received",
	"batch_photos.id": "batches/*/photos/*.jpg @path", "batch_photos.jar": "batches/*/about.json photos/jar", "batch_photos.big": "batches/*/photos/*.jpg @file", "batch_photos.at": "batches/*/about.json photos/at",

	"asked.id": "asked.json id", "asked.kind": "asked.json kind", "asked.about": "asked.json about", "asked.seed": "asked.json case", "asked.text": "asked.json text", "asked.at": "asked.json at", "asked.seen": "asked.json seen",
	"asked_answers.version": "asked.json answers/version", "asked_answers.text": "asked.json answers/text", "asked_answers.at": "asked.json answers/at",
	"asked_shared.kind": "classes/*/about.json shared/kind", "asked_shared.about": "classes/*/about.json shared/about", "asked_shared.text": "classes/*/about.json shared/text",
	"asked_shared.answer": "classes/*/about.json shared/answer", "asked_shared.at": "classes/*/about.json shared/at",

	"classes.id": "classes/*/about.json @path", "classes.name": "classes/*/about.json name", "classes.starts": "classes/*/about.json starts", "classes.zone": "classes/*/about.json time_zone",
	"classes.altitude_ft": "classes/*/about.json altitude_ft", "classes.canning_day": "classes/*/about.json canning_day", "classes.weeks": "classes/*/about.json weeks",
	"classes.code_expires": "classes/*/about.json joining_until", "classes.code_open": "classes/*/about.json joining_open", "classes.made": "classes/*/about.json made",
	"together.shown":   "classes/*/about.json shown_together",
	"assignments.kind": "classes/*/about.json assignments/kind", "assignments.about": "classes/*/about.json assignments/about", "assignments.title": "classes/*/about.json assignments/title",
	"assignments.note": "classes/*/about.json assignments/note", "assignments.settings": "classes/*/about.json assignments/settings", "assignments.opens": "classes/*/about.json assignments/opens",
	"assignments.due": "classes/*/about.json assignments/due", "assignments.everyone": "classes/*/about.json assignments/for_everyone", "assignments.made": "classes/*/about.json assignments/made",

	"trials.id": "classes/*/trials/*/about.json @path", "trials.question": "classes/*/trials/*/about.json question", "trials.made": "classes/*/trials/*/about.json made",
	"trial_variants.n": "classes/*/trials/*/about.json ways/n", "trial_variants.name": "classes/*/trials/*/about.json ways/name", "trial_variants.plan": "classes/*/trials/*/*.yaml @file",
	"trial_variants.lids": "classes/*/trials/*/about.json ways/lids", "trial_variants.verdict": "classes/*/trials/*/about.json ways/verdict", "trial_variants.version": "classes/*/trials/*/about.json ways/judged_by",
	"trial_variants.made": "classes/*/trials/*/about.json ways/made",
	"trial_entries.n":     "classes/*/trials/*/about.json entries/n", "trial_entries.variant": "classes/*/trials/*/about.json entries/way", "trial_entries.kind": "classes/*/trials/*/about.json entries/kind",
	"trial_entries.replaces": "classes/*/trials/*/about.json entries/replaces", "trial_entries.load": "classes/*/trials/*/about.json entries/load", "trial_entries.why": "classes/*/trials/*/about.json entries/why",
	"trial_entries.at":  "classes/*/trials/*/about.json entries/at",
	"trial_events.what": "classes/*/trials/*/about.json decided/what", "trial_events.variant": "classes/*/trials/*/about.json decided/way", "trial_events.says": "classes/*/trials/*/about.json decided/says",
	"trial_events.at": "classes/*/trials/*/about.json decided/at",

	"materials.id": "classes/*/materials/*/about.json id", "materials.kind": "classes/*/materials/*/about.json kind", "materials.name": "classes/*/materials/*/about.json name", "materials.made": "classes/*/materials/*/about.json made",
	"material_versions.n": "classes/*/materials/*/about.json versions/n", "material_versions.title": "classes/*/materials/*/about.json versions/title", "material_versions.source": "classes/*/materials/*/[0-9]* @file",
	"material_versions.made": "classes/*/materials/*/about.json versions/made",
	"material_events.n":      "classes/*/materials/*/about.json published/n", "material_events.at": "classes/*/materials/*/about.json published/at",
}

// leftColumns says of each other column that hangs on a visitor why it is in no zip.
var leftColumns = map[string]string{
	"answers.id": aNumber, "batch_events.id": aNumber, "assignments.id": aNumber, "trial_events.id": aNumber, "material_events.id": aNumber,
	"trial_entries.form": aNumber,

	"plans.visitor": byPlace, "attempts.visitor": byPlace, "sittings.visitor": byPlace, "sitting_answers.sitting": byPlace, "people.visitor": byPlace, "members.person": byPlace,
	"batches.visitor": byPlace, "batches.assignment": byPlace, "batch_versions.batch": byPlace, "batch_events.batch": byPlace, "batch_times.batch": byPlace, "batch_photos.batch": byPlace,
	"asked.class": byPlace, "asked.person": byPlace, "asked_answers.asked": byPlace, "asked_shared.class": byPlace,
	"classes.instructor": byPlace, "assignments.class": byPlace, "together.class": byPlace, "trials.class": byPlace, "trial_variants.trial": byPlace, "trial_entries.trial": byPlace,
	"trial_events.trial": byPlace, "materials.class": byPlace, "material_versions.material": byPlace, "material_events.material": byPlace,
	"assigned.assignment": byPlace, "assigned.person": byPlace, "feeds.class": byPlace, "feeds.person": byPlace, "once_codes.person": byPlace,

	"people.password": opens, "once_codes.hash": opens, "feeds.secret": opens, "classes.code": opens,
	"people.sessions": "counts up to end sessions", "once_codes.expires": "of a code that is left out",

	"people.known_as": derived, "batch_photos.sum": derived, "batch_photos.width": derived, "batch_photos.height": derived, "batch_photos.small": derived,

	"asked_shared.id": ofOthers, "trial_entries.batch": ofOthers,
	"together.page": together, "together.made": together,
}

// leftTables are those that hang on nobody.
var leftTables = map[string]string{
	"sessions":         "what a browser is known by, and it opens an account",
	"unwiped":          "when something was deleted, until the file is rebuilt",
	"goose_db_version": "how far the database is migrated",
}

// TestTheZipHoldsTheDatabase: each column of each table that hangs on a visitor is in
// somebody's zip with every value, or is left out for a reason; what was typed into each
// form is in the zip of who typed it; and an instructor's has nothing of a student.
func TestTheZipHoldsTheDatabase(t *testing.T) {
	t.Parallel()
	r, ann, ida := filledClass(t)
	zips := map[string]map[string][]byte{}
	for name, who := range map[string]*http.Client{"Ann": r.ann, "Ben": r.ben, "Ida": r.instructor} {
		r.as(who)
		got := r.get("/my-work/all.zip")
		r.wants(got, http.StatusOK)
		zips[name] = unzip(t, got.body)
	}

	db := storetest.Open(t, r.file)
	columns := db.Columns()
	hangs := hanging(columns)
	seen := map[string]bool{}
	for _, c := range columns {
		name := c.Table + "." + c.Name
		if seen[name] {
			continue
		}
		seen[name] = true
		at, taken := takenColumns[name]
		_, left := leftColumns[name]
		switch _, others := leftTables[c.Table]; {
		case others && hangs[c.Table]:
			t.Errorf("%s hangs on a visitor, and the test says that it does not", c.Table)
		case others:
		case !hangs[c.Table]:
			t.Errorf("%s hangs on no visitor: say in leftTables what it is for", c.Table)
		case taken && left:
			t.Errorf("%s is said to be in the zip and to be left out of it", name)
		case !taken && !left:
			t.Errorf("%s is of somebody: put it into the zip of page_takeout.go and into takenColumns, or say in leftColumns why not", name)
		case taken:
			values := slices.DeleteFunc(db.Values(c.Table, c.Name), func(v string) bool { return v == "" })
			if len(values) == 0 {
				t.Errorf("%s is empty, so that nothing is shown of it", name)
			}
			found := map[string]bool{}
			for _, files := range zips {
				for _, v := range valuesIn(t, files, at) {
					found[v] = true
				}
			}
			for _, v := range values {
				if !inZip(found, v, at) {
					t.Errorf("%s: %.80q is in nobody's zip at %s", name, v, at)
				}
			}
		}
	}
	for name := range maps.Keys(takenColumns) {
		if !seen[name] {
			t.Errorf("there is no column %s any more", name)
		}
	}
	for name := range maps.Keys(leftColumns) {
		if !seen[name] {
			t.Errorf("there is no column %s any more", name)
		}
	}

	for _, marks := range []struct {
		of   string
		want []string
	}{{"Ann", ann}, {"Ida", ida}} {
		all := everything(zips[marks.of])
		for _, mark := range marks.want {
			if !strings.Contains(all, mark) {
				t.Errorf("%s’s zip lacks %q", marks.of, mark)
			}
		}
	}
	others := []string{"Orchard", r.known("Ann Orchard"), r.known("Ben Orchard")}
	others = append(others, db.Values("batches", "id")...)
	for _, mark := range ann {
		if !slices.Contains(ida, mark) {
			others = append(others, mark)
		}
	}
	all := everything(zips["Ida"])
	for _, mark := range others {
		if strings.Contains(all, mark) {
			t.Errorf("the instructor’s zip has %q of a student", mark)
		}
	}
	for name := range zips["Ben"] {
		if strings.HasPrefix(name, "classes/") {
			t.Errorf("a student’s zip has %s", name)
		}
	}
	if all := everything(zips["Ben"]); strings.Contains(all, "for one of you alone") || !strings.Contains(everything(zips["Ann"]), "for one of you alone") {
		t.Error("what is assigned to one student is not in that student’s zip, or is in another’s")
	}
	for _, secret := range slices.Concat(db.Values("people", "password"), db.Values("feeds", "secret"), db.Values("classes", "code"), db.Values("once_codes", "hash")) {
		for of, files := range zips {
			if strings.Contains(everything(files), secret) {
				t.Errorf("%s’s zip has %q, which opens something", of, secret)
			}
		}
	}
}

// hanging are the tables that hang on a visitor: by their foreign keys, over any number of
// others, or by the name of a column.
func hanging(columns []storetest.Column) map[string]bool {
	hangs := map[string]bool{"visitors": true}
	for before := 0; before < len(hangs); {
		before = len(hangs)
		for _, c := range columns {
			if hangs[c.RefersTo] || slices.Contains([]string{"visitor", "person", "instructor", "student"}, c.Name) {
				hangs[c.Table] = true
			}
		}
	}
	return hangs
}

// valuesIn lists what stands in the files of a zip at a place of takenColumns, each as
// uniform would have it.
func valuesIn(t *testing.T, files map[string][]byte, at string) (list []string) {
	t.Helper()
	pattern, key, _ := strings.Cut(at, " ")
	for name, content := range files {
		if fits, err := path.Match(pattern, name); err != nil || !fits {
			continue
		}
		switch {
		case key == "@path":
			list = append(list, name)
		case key == "@file":
			list = append(list, string(content))
		case strings.HasSuffix(name, ".csv"):
			rows, err := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(content, []byte("\ufeff")))).ReadAll()
			if err != nil {
				t.Fatal(name, err)
			}
			for _, row := range rows[1:] {
				list = append(list, uniform(row[slices.Index(rows[0], key)]))
			}
		default:
			var v any
			read := json.NewDecoder(bytes.NewReader(content))
			read.UseNumber()
			if err := read.Decode(&v); err != nil {
				t.Fatal(name, err)
			}
			list = append(list, under(v, strings.Split(key, "/"))...)
		}
	}
	return list
}

// under lists what stands in JSON at a key of keys; lists are gone through.
func under(v any, keys []string) (list []string) {
	if v == nil {
		return nil
	}
	if each, ok := v.([]any); ok && (len(keys) > 0 || !texts(each)) {
		if len(keys) == 0 {
			list = append(list, uniformJSON(v))
		}
		for _, one := range each {
			list = append(list, under(one, keys)...)
		}
		return list
	}
	if len(keys) == 0 {
		return []string{uniformJSON(v)}
	}
	of, _ := v.(map[string]any)
	for key, v := range of {
		switch {
		case keys[0] == "@":
			list = append(list, key)
		case keys[0] == "*" || keys[0] == key:
			list = append(list, under(v, keys[1:])...)
		}
	}
	return list
}

func texts(list []any) bool {
	return !slices.ContainsFunc(list, func(v any) bool { _, is := v.(string); return !is })
}

func uniformJSON(v any) string {
	switch v := v.(type) {
	case string:
		return uniform(v)
	case bool:
		return strconv.Itoa(truth(v))
	case json.Number:
		return uniform(v.String())
	case []any:
		if texts(v) {
			var all []string
			for _, one := range v {
				all = append(all, one.(string))
			}
			return uniform(strings.Join(all, " "))
		}
	}
	raw, _ := json.Marshal(v)
	return string(raw)
}

// uniform writes a value of the database or of a file in one way: times in UTC to the
// thousandth, numbers without trailing zeros, lists of texts as words.
func uniform(v string) string {
	if at, err := time.Parse(time.RFC3339Nano, v); err == nil {
		return at.UTC().Truncate(time.Millisecond).Format(time.RFC3339Nano)
	}
	if n, err := strconv.ParseFloat(v, 64); err == nil && strings.Contains(v, ".") {
		return strconv.FormatFloat(n, 'f', -1, 64)
	}
	var structured any
	read := json.NewDecoder(strings.NewReader(v))
	read.UseNumber()
	if strings.HasPrefix(v, "[") || strings.HasPrefix(v, "{") {
		if err := read.Decode(&structured); err == nil {
			return uniformJSON(structured)
		}
	}
	return strings.Join(strings.Fields(v), " ")
}

func inZip(found map[string]bool, v, at string) bool {
	switch {
	case strings.HasSuffix(at, "@path"):
		for name := range found {
			if strings.Contains(name, v) {
				return true
			}
		}
		return false
	case strings.HasSuffix(at, "@file"):
		return found[v]
	}
	return found[uniform(v)]
}

// everything is all names and files of a zip in one text.
func everything(files map[string][]byte) string {
	var all strings.Builder
	for name, content := range files {
		all.WriteString(name + "\n" + string(content) + "\n")
	}
	return all.String()
}

// filledClass is a class in which something was typed into every form. It gives the texts
// that must be in Ann's zip and in the instructor's.
func filledClass(t *testing.T) (r *classroom, ann, ida []string) {
	t.Helper()
	r = newClassroom(t)
	ctx := t.Context()
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	ok := func(got response) { t.Helper(); r.wants(got, http.StatusOK) }
	hers := func(mark string) string { ann = append(ann, mark); return mark }
	held := func(mark string) string { ida = append(ida, mark); return mark }
	at := "/class/" + r.class

	r.as(r.instructor)
	ok(r.post(at+"/change", url.Values{"name": {held("Evening of the kettles")}, "starts": {"2026-08-20"}, "weeks": {"7"}, "zone": {"America/Chicago"}, "altitude": {"5432 ft"}, "canning-day": {held("2026-10-03")}}))
	ok(r.post(at+"/together", url.Values{"do": {"on"}}))
	ok(r.post(at+"/assign", url.Values{"what": {"lesson headspace"}, "opens": {"2026-01-01T08:00"}, "due": {"2099-01-01T08:00"}, "to": {"some"}, "student": {r.known("Ann Orchard")}, "note": {hers("for one of you alone")}}))
	ok(r.post(at+"/assign", url.Values{"what": {"batch tomatoes-crushed"}, "opens": {"2026-01-01T08:00"}, "due": {"2098-01-01T08:00"}, "to": {"everyone"}, "as-tested": {"yes"}, "note": {hers(held("bring towels and tongs"))}}))
	ida = append(ida, "for one of you alone") // as she wrote it

	// What anybody does, with or without an account.
	r.as(r.ann)
	ann = append(ann, "Ann Orchard", "Evening of the kettles")
	ok(r.post("/altitude", url.Values{"back": {"headspace"}, "altitude": {"6543 ft"}}))
	ann = append(ann, `"altitude_ft": 6543`)
	ok(r.post("/review/day", url.Values{"day": {hers("2026-09-26")}, "zone": {hers("America/Boise")}}))
	for _, q := range course.Bank.Questions() {
		if q.Kind == quiz.Number {
			ok(r.post("/practice/"+q.ID+"?seed=1", url.Values{"answer": {hers("987.654 " + q.Unit)}}))
			break
		}
	}
	wrong := aboutResults(t, "altitude", 1)[0]
	asked, err := wrong.Ask(1)
	if err != nil {
		t.Fatal(err)
	}
	ok(r.post("/practice/"+wrong.ID+"?seed=1", fields(t, asked, false)))
	for _, handIn := range []bool{true, false} {
		set := r.post("/check", url.Values{"lesson": {"altitude"}, "size": {"5"}})
		ok(set)
		sittings, err := r.store.ListSittings(ctx, r.known("Ann Orchard"))
		if err != nil {
			t.Fatal(err)
		}
		for i, one := range sittings[0].Questions[:2] {
			q, _ := course.Bank.Question(one.Question)
			if asked, err = q.Ask(one.Seed); err != nil {
				t.Fatal(err)
			}
			ok(r.post(fmt.Sprintf("/check/%s/%d", sittings[0].ID, i+1), fields(t, asked, i == 0)))
		}
		if handIn {
			ok(r.post("/check/"+sittings[0].ID+"/hand-in", nil))
		}
	}
	plan := goodPlan()
	plan.Set("altitude", hers("6541 ft"))
	ok(r.post("/plan", plan))
	for _, kind := range []string{scenarios.PlanIt, scenarios.Worked, scenarios.Faults, scenarios.WhatNow} {
		for _, sc := range course.Scenarios {
			if sc.Kind == kind {
				one := caseNamed(t, sc.Slug, 3)
				ok(r.post(answerAt(one), bestAnswer(one)))
				break
			}
		}
	}

	// A batch, from plan to accepted.
	batches, err := r.store.AssignedTo(ctx, r.class, r.known("Ann Orchard"))
	if err != nil {
		t.Fatal(err)
	}
	batch := r.begin("/batches?assignment=" + batches[0].ID)
	ok(r.post(batch+"/plan", planForm(0, "altitude", hers("6542 ft"))))
	ok(r.post(batch, url.Values{"do": {"plan-sent"}}))
	r.as(r.instructor)
	ok(r.judge(batch, "plan-fine", hers("the lids look sound")))
	r.as(r.ann)
	now := time.Now().UTC()
	if got, _ := r.sendTimes(batch, timesBody(t, kitchenTime{hers(store.NewID()), lostTime, now.Format(time.RFC3339)})); got.StatusCode != http.StatusOK {
		t.Fatal(got.StatusCode, got.body)
	}
	ok(r.post(batch+"/record", record(1, "lot", hers("green box from the shed"))))
	ok(r.photo(batch, "1", noise(t)))
	ok(r.post(batch, url.Values{"do": {"record-sent"}, "says": {hers("the second ring was loose")}}))
	r.as(r.instructor)
	ok(r.judge(batch, "accepted", ""))

	// Questions, with answers that are changed, shared or not there.
	r.as(r.ann)
	scenario := course.Scenarios[0].Slug
	for _, q := range []url.Values{
		{"kind": {"lesson"}, "about": {"headspace"}, "ask-text": {hers("why not fill it up")}},
		{"kind": {"scenario"}, "about": {scenario}, "case": {"8"}, "ask-text": {hers("why is the rim wiped")}},
		{"kind": {"batch"}, "about": {strings.TrimPrefix(batch, "/batches/")}, "ask-text": {hers("may I eat from the second jar")}},
	} {
		ok(r.post(at+"/questions", q))
	}
	all, err := r.store.AskedBy(ctx, r.class, r.known("Ann Orchard"))
	if err != nil || len(all) != 3 {
		t.Fatal(len(all), err)
	}
	r.as(r.instructor)
	for _, q := range all {
		switch q.Kind {
		case "lesson":
			ok(r.post(at+"/questions/"+q.ID+"/answer", url.Values{"answer": {hers("it needs room to swell, at first")}}))
			ok(r.post(at+"/questions/"+q.ID+"/answer", url.Values{"answer": {hers(held("it needs room to swell"))}}))
			ok(r.post(at+"/questions/"+q.ID+"/share", url.Values{"shared": {hers(held("how full is a jar filled"))}}))
		case "batch":
			ok(r.post(at+"/questions/"+q.ID+"/answer", url.Values{"answer": {hers("from the fridge, this week")}}))
		}
	}
	r.as(r.ann)
	ok(r.get(at + "/questions")) // and so the answers are seen
	ok(r.get(at))                // a calendar has an address from then on

	// What the instructor makes: a trial, and a question.
	r.as(r.instructor)
	trial := r.trial("question", held("Is the oven as good"), "name-1", held("Kettle way"), "lids-1", held("gold lids"), "plan-2", strings.Replace(ovenPlan, "6240", "6210", 1))
	ida = append(ida, "6210 ft")
	ok(r.post(trial+"/entry", loadForm(1, 2, 3, "minutes", "41", "note", held("a jar fell over"))))
	ok(r.post(trial+"/entry", loadForm(1, 1, 3, "replaces", "1", "why", held("miscounted by one"), "note", held("a jar was set down hard"))))
	ok(r.post(trial+"/workbook", url.Values{"do": {"link"}, "batch": {strings.TrimPrefix(batch, "/batches/")}, "n": {"1"}, "form": {store.NewID()}}))
	ok(r.post(trial+"/entry", loadForm(2, 0, 3)))
	ok(r.post(trial+"/workbook", url.Values{"do": {"void"}, "n": {"4"}, "says": {held("the oven was off")}, "form": {store.NewID()}}))
	ok(r.post(trial+"/workbook", url.Values{"do": {"shown"}}))
	ok(r.post(trial+"/variant", url.Values{"name-1": {held("Steam way")}, "plan-1": {testedPlan}}))
	ok(r.post(trial+"/workbook", url.Values{"do": {"set-aside"}, "n": {"3"}, "says": {held("no rack for it")}}))
	material := r.begins("question", "start question-choice.yaml", "grange-rims")
	ok(r.changes(material, "publish", func(string) string {
		return strings.Replace(ownQuestion, "to the rim", held("to the very brim"), 1)
	}))
	ok(r.changes(material, "keep", func(string) string {
		return strings.Replace(ownQuestion, "to the rim", held("above the shoulder"), 1)
	}))
	own := r.begins("scenario", "course "+scenario, "")
	ok(r.changes(own, "publish", same))
	r.as(r.ann) // in the instructor's wording
	ok(r.post("/practice/grange-rims", url.Values{"answer": {"Nothing, because a fuller jar keeps better"}}))
	one := caseNamed(t, scenario, 3)
	ok(r.post(answerAt(one), bestAnswer(one)))
	r.as(r.instructor)
	ok(r.post(material+"/take-back", nil))
	ok(r.post(at+"/students/"+r.known("Ann Orchard")+"/password", nil))
	ida = append(ida, "Ida Field", "grange-rims")
	return r, ann, ida
}
