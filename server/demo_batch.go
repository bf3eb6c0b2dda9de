package server

import (
	"context"
	"encoding/json"
	"fmt"
	"net/url"
	"slices"
	"strings"
	"time"

	"rollingboil/scenarios"
	"rollingboil/server/store"
)

// demoStops is how far the class gets with each batch, the steadiest student first. Who
// is not named has not begun.
var demoStops = map[string][]struct {
	state    string
	students int
}{
	"tomatoes-crushed": {{store.Accepted, 19}, {store.RecordBack, 1}, {store.RecordSent, 1}, {store.PlanBack, 1}, {"", 1}},
	"peaches":          {{store.Accepted, 9}, {store.RecordSent, 4}, {store.RecordBack, 2}, {store.PlanFine, 3}, {store.PlanSent, 2}, {store.PlanBack, 1}, {"", 1}},
	"applesauce":       {{store.RecordSent, 1}, {store.PlanFine, 2}, {store.PlanSent, 2}, {"", 1}},
}

// demoLoad is how many jars go into the canner at once.
var demoLoad = map[string]int{"quart": 7, "pint": 8}

// cook works on the practice batches.
func (d *demo) cook(ctx context.Context) error {
	for _, a := range d.assignments {
		if a.Kind != batchKind {
			continue
		}
		next := 0
		for _, stop := range demoStops[a.About] {
			for range stop.students {
				b := &demoBatch{demo: d, student: d.students[next], nth: next, stop: stop.state, clock: d.awake(a.Opens.Add(time.Duration(24*60+d.random.IntN(48*60)) * time.Minute))}
				next++
				if err := b.work(ctx, a); err != nil {
					return fmt.Errorf("%s, batch of %s: %w", b.student.name, a.About, err)
				}
			}
		}
	}
	return nil
}

// demoBatch is one batch while it is worked on.
type demoBatch struct {
	*demo
	student *demoStudent
	nth     int    // place of the student in the class
	stop    string // the state it stays in
	clock   time.Time
	id      string
	n       int // versions so far
	plan    scenarios.Plan
}

// later lets some hours pass, of up to so many.
func (b *demoBatch) later(hours int) time.Time {
	b.clock = b.awake(b.clock.Add(time.Duration(1+b.random.IntN(60*hours)) * time.Minute))
	return b.clock
}

// does takes a step, and reports whether the batch stays there.
func (b *demoBatch) does(ctx context.Context, what, says string) (stays bool, err error) {
	step := steps[what]
	err = b.store.AddBatchEvent(ctx, b.id, store.BatchEvent{What: what, N: b.n, ByInstructor: step.instructor, Says: says, At: b.clock}, step.after...)
	return what == b.stop, err
}

func (b *demoBatch) says(ctx context.Context, byInstructor bool, text string) error {
	return b.store.AddBatchEvent(ctx, b.id, store.BatchEvent{What: store.Comment, N: b.n, ByInstructor: byInstructor, Says: text, At: b.later(3)})
}

// version keeps a further version with its report.
func (b *demoBatch) version(ctx context.Context, kind string, file []byte, report any, verdict scenarios.Verdict, lot string) (store.BatchVersion, error) {
	raw, err := json.Marshal(report)
	if err != nil {
		return store.BatchVersion{}, err
	}
	b.n++
	v := store.BatchVersion{Batch: b.id, N: b.n, Kind: kind, File: file, Report: raw, Verdict: string(verdict), Lot: lot, Version: b.course.Grader.Version(), At: b.clock}
	return v, b.store.AddBatchVersion(ctx, v, map[string][]string{store.PlanVersion: planning, store.RecordVersion: cooking}[kind]...)
}

// work goes the way of a batch until it stays where it is to stay.
func (b *demoBatch) work(ctx context.Context, a store.Assignment) error {
	begun, err := b.store.BeginBatch(ctx, store.Batch{ID: b.demo.id(), Visitor: b.student.id, Assignment: a.ID, Made: b.clock})
	if err != nil {
		return err
	}
	b.id = begun.ID
	if stays, err := b.planned(ctx, a); err != nil || stays {
		return err
	}
	return b.recorded(ctx)
}

// planned writes the plan until it may be sent in, and sends it.
func (b *demoBatch) planned(ctx context.Context, a store.Assignment) (stays bool, err error) {
	right, err := b.rightPlan(b.student, a.About)
	if err != nil {
		return false, err
	}
	var limits batchSettings
	if err := json.Unmarshal(a.Settings, &limits); err != nil {
		return false, err
	}
	week := int(a.Opens.Sub(b.at(0, 0, 20, 0)).Hours()) / (7 * 24)
	terse := b.stop == store.PlanBack || b.nth%5 == 3 // leaves the morning after unsaid
	for {
		form := b.mistaken(b.student, week, right)
		if terse {
			form.Del("cooling.undisturbed")
			form.Del("seal_checks")
		}
		v, err := b.addPlan(ctx, form)
		if err != nil || b.stop == "" {
			return true, err
		}
		if cannotSend(v, limits) == "" {
			break
		}
		week += 2 // what the report says is learned from
		b.later(2)
	}
	if stays, err := b.does(ctx, store.PlanSent, ""); err != nil || stays {
		return true, err
	}
	if terse {
		b.later(30)
		if stays, err := b.does(ctx, store.PlanBack, "The time is right. But how do the jars cool, and how will you know which of them sealed? Put it into the plan."); err != nil || stays {
			return true, err
		}
		b.later(20)
		if _, err := b.addPlan(ctx, noneMeansNothing(formOf(right))); err != nil {
			return false, err
		}
		if stays, err := b.does(ctx, store.PlanSent, "Now with what was missing."); err != nil || stays {
			return true, err
		}
	}
	b.later(30)
	return b.does(ctx, store.PlanFine, [...]string{"", "Nothing against it. Write the clock times down as they happen.", "Good. Have the lids at hand before the jars are filled."}[b.nth%3])
}

func (b *demoBatch) addPlan(ctx context.Context, form url.Values) (store.BatchVersion, error) {
	plan, err := b.course.Grader.PlanFromForm(form)
	if err != nil {
		return store.BatchVersion{}, err
	}
	b.plan = plan
	report := b.course.Grader.Grade(plan)
	return b.version(ctx, store.PlanVersion, plan.YAML(), report, report.Verdict, "")
}

// recorded cooks, records, and goes on until the record is accepted.
func (b *demoBatch) recorded(ctx context.Context) error {
	day := b.cookDay()
	if err := b.keepTimes(ctx, day); err != nil {
		return err
	}
	b.clock = day.read.Add(time.Duration(5+b.random.IntN(100)) * time.Minute)
	if b.random.IntN(2) == 0 {
		if err := b.photograph(ctx, day); err != nil {
			return err
		}
	}
	// What is missing in a first record, or done wrong with a jar, comes back.
	vague := b.stop == store.RecordBack || b.nth%6 == 4
	lot := b.student.lot
	if vague {
		lot = ""
	}
	for {
		found, err := b.addRecord(ctx, day, lot)
		if err != nil {
			return err
		}
		if stays, err := b.does(ctx, store.RecordSent, ""); err != nil || stays {
			return err
		}
		why := ""
		switch {
		case lot == "":
			why = "Which box of lids was it? Without the lot nobody can tell whether the lids fail or the method."
		case len(found) > 0 && day.carelessly:
			why = found[0].Says + " Look at what the report says of each jar, and write what became of them."
		}
		if why == "" {
			break
		}
		b.later(30)
		if stays, err := b.does(ctx, store.RecordBack, why); err != nil || stays {
			return err
		}
		b.later(20)
		lot, day.carelessly = b.student.lot, false
	}
	b.later(40)
	if b.nth%4 == 1 {
		if err := b.says(ctx, false, "The jars in the back row lost the most. Was the flame too high there?"); err != nil {
			return err
		}
		if err := b.says(ctx, true, "Perhaps. A steady boil is enough, and five minutes of rest with the heat off before they are lifted."); err != nil {
			return err
		}
	}
	_, err := b.does(ctx, store.Accepted, [...]string{"Well kept.", "", "The record says what I would have asked.", "Accepted. Eat the low jars first."}[b.nth%4])
	return err
}

// demoDay is what happened at the stove and on the counter.
type demoDay struct {
	boil, lost, again, off time.Time // lost and again are zero where the boil held
	read                   time.Time // when the seals were read
	jars                   []demoJar
	carelessly             bool // jars stand where they should not, until it is pointed out
}

type demoJar struct {
	sealed, separated bool
	liquid            string
}

// cookDay cooks on the Saturday after the plan was looked at.
func (b *demoBatch) cookDay() *demoDay {
	day := b.clock.In(b.zone)
	day = time.Date(day.Year(), day.Month(), day.Day()+1+(int(time.Saturday)-int(day.Weekday())+6)%7, 9+b.random.IntN(6), b.random.IntN(60), 0, 0, b.zone)
	minutes := time.Duration(b.plan.Time.Value) * time.Minute
	over := time.Duration(b.random.IntN(4)) * time.Minute
	d := &demoDay{boil: day, off: day.Add(minutes + over)}
	if b.chance(130) { // the boil is lost, and the time begins again
		d.lost = day.Add(time.Duration(4+b.random.IntN(8)) * time.Minute)
		d.again = d.lost.Add(time.Duration(2+b.random.IntN(6)) * time.Minute)
		d.off = d.again.Add(minutes + over)
	}
	d.read = b.awake(d.off.Add(time.Duration(13*60+b.random.IntN(4*60)) * time.Minute))
	for range demoLoad[b.student.jar] {
		d.jars = append(d.jars, b.oneJar())
	}
	d.carelessly = b.student.believes("unsealed-can-wait")
	return d
}

// oneJar is what is seen of one jar the next day.
func (b *demoBatch) oneJar() demoJar {
	j := demoJar{sealed: !b.chance(b.student.fails()), liquid: "none", separated: b.plan.Food.Value == "tomatoes-crushed" && b.chance(180)}
	some, half := 150, 20
	if !j.sealed {
		some, half = 450, 150
	}
	switch roll := b.random.IntN(1000); {
	case roll < half:
		j.liquid = "half-or-more"
	case roll < half+some:
		j.liquid = "some"
	}
	return j
}

// keepTimes keeps the clock times of whoever had the telephone in the kitchen.
func (b *demoBatch) keepTimes(ctx context.Context, day *demoDay) error {
	if b.nth%3 == 2 {
		return nil
	}
	var times []store.BatchTime
	add := func(what string, at time.Time) {
		if !at.IsZero() {
			times = append(times, store.BatchTime{ID: b.demo.id(), What: what, At: at})
		}
	}
	add(boilReachedTime, day.boil)
	add(lostTime, day.lost)
	add(againTime, day.again)
	add(heatOffTime, day.off)
	add(jarsOutTime, day.off.Add(5*time.Minute))
	return b.store.AddBatchTimes(ctx, b.id, times, day.off.Add(6*time.Minute))
}

// addRecord records the day as the form does, and returns what is unsafe about it.
func (b *demoBatch) addRecord(ctx context.Context, day *demoDay, lot string) ([]scenarios.Finding, error) {
	typed := url.Values{"zone": {b.zone.String()}, "count": {fmt.Sprint(len(day.jars))}, "checked": {fmt.Sprintf("%d h", int(day.read.Sub(day.off).Hours()))}}
	setTimes(typed, scenarios.Record{Start: day.boil, Finished: day.off}, b.zone)
	if !day.lost.IsZero() {
		setTimes(typed, scenarios.Record{Interruptions: []scenarios.Interruption{{From: day.lost, To: day.again}}}, b.zone)
	}
	for i, j := range day.jars {
		placed := "shelf"
		switch {
		case day.carelessly:
		case !j.sealed && b.nth%7 == 3:
			placed = "freezer"
		case !j.sealed:
			placed = "fridge"
		case j.liquid == "half-or-more":
			placed = "fridge"
		}
		for key, word := range map[string]string{"sealed": fmt.Sprint(j.sealed), "liquid": j.liquid, "separated": fmt.Sprint(j.separated), "looks": "clear", "placed": placed} {
			typed.Set(fmt.Sprintf("%s-%d", key, i+1), word)
		}
	}
	text, wrong := recordText(typed, b.plan.Method.Value)
	if len(wrong) > 0 {
		return nil, fmt.Errorf("the record cannot be read: %v", wrong)
	}
	file := []byte("plan:\n" + indented(string(b.plan.YAML())) + text)
	batch, _, err := b.course.Grader.ParseFile("", file)
	if err != nil {
		return nil, err
	}
	report := b.course.Grader.GradeBatch(batch)
	_, err = b.version(ctx, store.RecordVersion, file, report, report.Verdict, lot)
	return slices.DeleteFunc(report.Findings, func(f scenarios.Finding) bool {
		return f.Severity != "safety" || !strings.HasPrefix(f.Field, "record.")
	}), err
}

// photograph keeps a picture of the row of jars, and one of each that did not turn out.
func (b *demoBatch) photograph(ctx context.Context, day *demoDay) error {
	look := jarPhoto{food: b.plan.Food.Value, jar: b.student.jar, jars: len(day.jars)}
	shots := map[int]jarPhoto{0: look}
	for i, j := range day.jars {
		if !j.sealed || j.liquid == "half-or-more" {
			shots[i+1] = jarPhoto{food: look.food, jar: look.jar, jars: 1, liquid: j.liquid, domed: !j.sealed, separated: j.separated}
		}
	}
	for n := range len(day.jars) + 1 {
		look, taken := shots[n]
		if !taken {
			continue
		}
		picture, err := b.picture(ctx, look)
		if err != nil {
			return err
		}
		kept := store.BatchPhoto{ID: b.demo.id(), Batch: b.id, Jar: n, Sum: picture.Sum, Width: picture.Width, Height: picture.Height, At: b.clock}
		if err := b.store.AddBatchPhoto(ctx, kept, picture.Small, picture.Full, mostPhotos); err != nil {
			return err
		}
	}
	return nil
}
