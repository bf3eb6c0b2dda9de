package server

import (
	"context"
	"encoding/json"
	"net/url"
	"slices"
	"time"

	"rollingboil/quiz"
	"rollingboil/scenarios"
	"rollingboil/server/store"
)

// demoLessons is how many lessons have been read at the end of each week.
var demoLessons = [demoWeeks]int{3, 6, 9, 12, 16, 19}

// study is one week of one student: lessons with their questions, practice, what was
// assigned, and a plan of one's own.
func (d *demo) study(ctx context.Context, st *demoStudent, week int) error {
	from := 0
	if week > 0 {
		from = demoLessons[week-1]
	}
	lessons := d.course.Lessons.Lessons()
	for _, l := range lessons[min(from, len(lessons)):min(demoLessons[week], len(lessons))] {
		if !d.chance(st.steady) {
			continue
		}
		clock := d.evening(week)
		for _, id := range l.Questions {
			if err := d.answerInLesson(ctx, st, week, id, &clock); err != nil {
				return err
			}
		}
		if err := d.practice(ctx, st, week, l.Slug, &clock); err != nil {
			return err
		}
	}
	for _, to := range d.assignments {
		if !to.Opens.Equal(d.at(week, 0, 20, 0)) || !d.chance(st.steady) {
			continue
		}
		clock := d.evening(week)
		var err error
		switch to.Kind {
		case questionsKind:
			err = d.sit(ctx, st, week, to.About, clock)
		case scenarioKind:
			err = d.try(ctx, st, week, to.About, clock)
		}
		if err != nil {
			return err
		}
	}
	if d.chance(st.steady / 2) { // another one, of one's own choice
		sc := d.course.Scenarios[d.random.IntN(len(d.course.Scenarios))]
		if err := d.try(ctx, st, week, sc.Slug, d.evening(week)); err != nil {
			return err
		}
	}
	if d.chance(st.steady / 2) {
		return d.plan(ctx, st, week)
	}
	return nil
}

// answerInLesson answers a question of a lesson, and mostly again when it was wrong.
func (d *demo) answerInLesson(ctx context.Context, st *demoStudent, week int, id string, clock *time.Time) error {
	q, ok := d.course.Bank.Question(id)
	if !ok {
		return nil
	}
	asked, err := q.Ask(0)
	if err != nil {
		return err
	}
	for try := range 2 {
		*clock = clock.Add(time.Duration(40+d.random.IntN(80)) * time.Second)
		right, err := d.answer(ctx, st, week+2*try, asked, *clock)
		if err != nil || right || !d.chance(750) {
			return err
		}
	}
	return nil
}

// practice answers a few questions on a lesson, each drawn anew.
func (d *demo) practice(ctx context.Context, st *demoStudent, week int, lesson string, clock *time.Time) error {
	for _, a := range d.shipped.drawSet(d.random, scope{lesson: lesson}, 1+d.random.IntN(3)) {
		asked, err := d.shipped.ask(a)
		if err != nil {
			return err
		}
		*clock = clock.Add(time.Duration(30+d.random.IntN(90)) * time.Second)
		if _, err := d.answer(ctx, st, week, asked, *clock); err != nil {
			return err
		}
	}
	return nil
}

// answer gives an answer and keeps it, marked.
func (d *demo) answer(ctx context.Context, st *demoStudent, week int, asked *quiz.Asked, at time.Time) (right bool, err error) {
	given := d.given(st, week, asked)
	marked, err := asked.Mark(given)
	if err != nil {
		return false, err
	}
	a := d.shipped.markedAnswer(asked, given, marked)
	a.Visitor, a.At = st.id, at
	return marked.Right, d.store.SaveAnswer(ctx, a)
}

// given is what a student answers: what a belief says that is still held, sometimes
// something wrong, else what is right.
func (d *demo) given(st *demoStudent, week int, asked *quiz.Asked) []string {
	named := asked.Believed()
	for _, b := range named {
		if st.believes(b.Misconception) && d.holds(week) {
			return b.Given
		}
	}
	if !d.chance(st.slipsIn(week)) {
		return asked.Key()
	}
	var wrong [][]string
	for _, b := range named {
		wrong = append(wrong, b.Given)
	}
	if asked.Question.Kind == quiz.Order { // the first two changed about
		key := asked.Key()
		key[0], key[1] = key[1], key[0]
		wrong = append(wrong, key)
	}
	if len(wrong) == 0 {
		return asked.Key()
	}
	return wrong[d.random.IntN(len(wrong))]
}

// sit answers a set of ten questions and hands it in, unless something comes between.
func (d *demo) sit(ctx context.Context, st *demoStudent, week int, lesson string, at time.Time) error {
	of := scope{lesson: lesson}
	v := store.Sitting{ID: d.id(), Visitor: st.id, Title: d.shipped.scopeName(of), Questions: d.shipped.drawSet(d.random, of, setSizes[1]), Begun: at, Answers: map[int]store.SittingAnswer{}}
	if err := d.store.BeginSitting(ctx, v); err != nil {
		return err
	}
	answered := len(v.Questions)
	handsIn := d.chance(st.steady)
	if !handsIn {
		answered = d.random.IntN(answered)
	}
	for i, a := range v.Questions[:answered] {
		asked, err := d.shipped.ask(a)
		if err != nil {
			return err
		}
		at = at.Add(time.Duration(30+d.random.IntN(100)) * time.Second)
		v.Answers[i] = store.SittingAnswer{Given: d.given(st, week, asked), At: at}
		if err := d.store.SaveSittingAnswer(ctx, st.id, v.ID, i, v.Answers[i]); err != nil {
			return err
		}
	}
	if !handsIn {
		return nil
	}
	answers, err := d.shipped.markSet(v)
	if err != nil {
		return err
	}
	return d.store.SubmitSitting(ctx, v, answers, at.Add(time.Minute))
}

// try works on a scenario until it is passed, three times at the most. Whoever has seen
// what was wrong makes fewer mistakes.
func (d *demo) try(ctx context.Context, st *demoStudent, week int, slug string, at time.Time) error {
	sc := d.shipped.scenario(slug)
	seed := uint64(0)
	if sc.Variants() {
		seed = uint64(d.random.Uint32())
	}
	kase, err := d.course.Grader.Case(sc, seed)
	if err != nil {
		return err
	}
	for part := range d.partsOf(kase) {
		for again := range 3 {
			at = at.Add(time.Duration(3+d.random.IntN(9)) * time.Minute)
			answer, err := d.tryPart(st, week+2*again, kase, part)
			if err != nil {
				return err
			}
			if !answer.result.Passed || answer.counts { // as the page keeps them
				attempt, err := d.attemptOf(kase, answer)
				if err != nil {
					return err
				}
				attempt.ID, attempt.Visitor, attempt.At = d.id(), st.id, at
				if err := d.store.SaveAttempt(ctx, attempt); err != nil {
					return err
				}
			}
			if answer.result.Passed {
				break
			}
		}
	}
	return nil
}

// partsOf is in how many parts a scenario is answered.
func (d *demo) partsOf(kase *scenarios.Case) int {
	switch kase.Kind {
	case scenarios.Worked:
		return len(kase.Then)
	case scenarios.WhatNow:
		return len(kase.Looked())
	}
	return 1
}

func (d *demo) tryPart(st *demoStudent, week int, kase *scenarios.Case, part int) (judged, error) {
	grader := d.course.Grader
	switch kase.Kind {
	case scenarios.Worked:
		typed, blank := d.mistaken(st, week, kase.Then[part].Solution.Plan), url.Values{}
		for _, key := range kase.Then[part].Blank {
			blank[key] = typed[key]
		}
		given, err := grader.PlanFromForm(blank)
		if err != nil {
			return judged{}, err
		}
		return d.judgeWorked(kase, part+1, given), nil
	case scenarios.Faults:
		return d.judgeFaults(kase, d.search(st, week, kase))
	case scenarios.WhatNow:
		return d.judgeWhatNow(kase, part, d.becomes(st, week, kase, part))
	}
	typed := d.mistaken(st, week, kase.Solution.Plan)
	for key, values := range noneMeansNothing(formOf(kase.Kitchen)) { // what is settled
		typed[key] = values
	}
	plan, err := grader.PlanFromForm(typed)
	if err != nil {
		return judged{}, err
	}
	return d.judgePlan(kase, plan, grader.Grade(plan)), nil
}

// search is a search for faults: what a student believes in is overlooked.
func (d *demo) search(st *demoStudent, week int, kase *scenarios.Case) map[string]scenarios.FaultAnswer {
	said := d.course.Grader.BestFaults(kase)
	for _, key := range kase.Fields() {
		answer := said[key]
		believed := slices.ContainsFunc(st.beliefs, func(id string) bool { return demoBeliefs[id].key == key }) && d.holds(week)
		slip := d.chance(st.slipsIn(week))
		switch {
		case answer.Wrong && (believed || slip):
			answer.Wrong = false
		case !answer.Wrong && slip:
			answer.Wrong = true
		}
		if !answer.Wrong || slip {
			answer.Value = ""
		}
		said[key] = answer
	}
	return said
}

// demoJarBeliefs is what beliefs make of a jar on the counter.
var demoJarBeliefs = []struct {
	id       string
	of, said string
}{
	{"unsealed-can-wait", "refrigerate", "shelf"},
	{"unsealed-can-wait", "reprocess", "shelf"},
	{"sealed-means-safe", "discard", "shelf"},
	{"look-and-smell-tell", "detoxify-and-discard", "discard"},
	{"it-never-hurt-us", "reprocess", "shelf"},
	{"lost-liquid-means-spoiled", "use-first", "discard"},
	{"watery-layer-is-spoiled", "shelf", "use-first"},
	{"unsealed-means-bad-lids", "refrigerate", "reprocess"},
}

// becomes is what a student says of each jar on the counter.
func (d *demo) becomes(st *demoStudent, week int, kase *scenarios.Case, part int) []string {
	var said []string
	for _, answer := range d.course.Grader.Answers(kase, kase.Looked()[part]) {
		says := answer.Answer
		for _, b := range demoJarBeliefs {
			if b.of == answer.Answer && st.believes(b.id) && d.holds(week) {
				says = b.said
			}
		}
		if d.chance(st.slipsIn(week)) {
			all := scenarios.JarAnswers()
			says = all[d.random.IntN(len(all))]
		}
		said = append(said, says)
	}
	return said
}

// demoFoods are what students plan for themselves.
var demoFoods = []string{"tomatoes-crushed", "peaches", "applesauce", "pears", "tomato-sauce", "apricots"}

// plan checks a plan of one's own, and again with what the report said.
func (d *demo) plan(ctx context.Context, st *demoStudent, week int) error {
	right, err := d.rightPlan(st, demoFoods[d.random.IntN(len(demoFoods))])
	if err != nil {
		return err
	}
	at := d.evening(week)
	for again := range 2 {
		plan, err := d.course.Grader.PlanFromForm(d.mistaken(st, week+3*again, right))
		if err != nil {
			return err
		}
		report := d.course.Grader.Grade(plan)
		raw, err := json.Marshal(report)
		if err != nil {
			return err
		}
		if err := d.store.SavePlan(ctx, store.SavedPlan{
			ID: d.id(), Visitor: st.id, Title: summary(d.Server, plan), Plan: plan.YAML(), Report: raw, Verdict: string(report.Verdict), At: at,
		}); err != nil {
			return err
		}
		if report.Verdict == scenarios.AsTested {
			return nil
		}
		at = at.Add(time.Duration(4+d.random.IntN(10)) * time.Minute)
	}
	return nil
}

// rightPlan is the worked plan for a student's own kitchen.
func (d *demo) rightPlan(st *demoStudent, food string) (scenarios.Plan, error) {
	kitchen, err := d.course.Grader.PlanFromForm(url.Values{
		"food": {food}, "pack": {"hot"}, "method": {"boiling-water"}, "jar": {st.jar}, "altitude": {altitudeOf(st)}, "lids.kind": {st.lids},
	})
	if err != nil {
		return kitchen, err
	}
	solution, err := d.course.Grader.Solve(kitchen, nil)
	return solution.Plan, err
}
