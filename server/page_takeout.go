package server

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"github.com/gin-gonic/gin"

	"rollingboil/quiz/exchange"
	"rollingboil/scenarios"
	"rollingboil/server/store"
)

// Everything that is kept of whoever asks, as one zip: what a person may take along
// under the GDPR (Art. 15 and 20), in forms that other programs read.

// takeout is the zip while it is filled. The first error stays in it.
type takeout struct {
	zip *zip.Writer
	at  time.Time
	err error
}

func (t *takeout) file(name string, content []byte) {
	if t.err != nil {
		return
	}
	var w io.Writer
	if w, t.err = t.zip.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: t.at}); t.err == nil {
		_, t.err = w.Write(content)
	}
}

func (t *takeout) json(name string, content any) {
	text, err := json.MarshalIndent(content, "", "  ")
	if err != nil && t.err == nil {
		t.err = err
	}
	t.file(name, append(text, '\n'))
}

const takeoutReadMe = `This is all that Rolling Boil keeps of you.

profile.json      your name and classes, if you have an account, and your settings
answers.csv       every answer you gave
statements.jsonl  answers, sets and scenarios as xAPI statements
questions.json    the questions you answered, as they were put to you, with their keys;
                  not those that were changed since
sittings.json     the sets you began
plans/            each plan you kept, as YAML, with the report it got
attempts/         each try at a scenario: what you wrote, the report, what was said to it
batches/          each practice batch: every version of plan and record with its report,
                  what was said about it, clock times from the kitchen, photos

` + exchange.Caution + "\n"

// takeAll gives whoever asks everything that is kept of them.
func (s *Server) takeAll(c *gin.Context) error {
	ctx, visitor := c.Request.Context(), s.visitor(c)
	var out bytes.Buffer
	t := &takeout{zip: zip.NewWriter(&out), at: s.now()}
	t.file("README.txt", []byte(takeoutReadMe))
	p, _ := person(c)
	if err := s.takeProfile(ctx, t, p, visitor); err != nil {
		return err
	}
	done, err := s.workOf(c)
	if err != nil {
		return err
	}
	var answers bytes.Buffer
	if err := exchange.WriteAnswers(&answers, done.course.answersOut(done.answers)); err != nil {
		return fmt.Errorf("write answers: %w", err)
	}
	t.file("answers.csv", answers.Bytes())
	statements, err := s.statements(c.Request, done)
	if err != nil {
		return err
	}
	t.file("statements.jsonl", statements)
	if err := done.takeQuestions(t); err != nil {
		return err
	}
	takeSittings(t, done.sittings)
	for _, a := range done.attempts {
		takeAttempt(t, a)
	}
	plans, err := s.store.ListPlans(ctx, visitor)
	if err != nil {
		return err
	}
	for _, p := range plans {
		t.file("plans/"+p.ID+".yaml", p.Plan)
		t.file("plans/"+p.ID+".report.json", p.Report)
	}
	if err := s.takeBatches(ctx, t, visitor); err != nil {
		return err
	}
	if t.err == nil {
		t.err = t.zip.Close()
	}
	if t.err != nil {
		return fmt.Errorf("fill the zip: %w", t.err)
	}
	return s.download(c, "all.zip", "application/zip", out.Bytes())
}

func (s *Server) takeProfile(ctx context.Context, t *takeout, p store.Person, visitor string) error {
	v, err := s.visitorSettings(ctx, visitor)
	if err != nil {
		return err
	}
	profile := map[string]any{"visitor": v.ID, "canning_day": v.CanningDay, "time_zone": v.TimeZone}
	if v.AltitudeKnown {
		profile["altitude_ft"] = v.AltitudeFt
	}
	if p.Name != "" {
		profile["name"], profile["role"], profile["joined"] = p.Name, p.Role, p.Joined
		joined, err := s.store.Joined(ctx, visitor)
		if err != nil {
			return err
		}
		classes := []string{}
		for _, class := range joined {
			classes = append(classes, class.Name)
		}
		profile["classes"] = classes
	}
	t.json("profile.json", profile)
	return nil
}

// takeQuestions writes each question that was answered as it was put then.
func (w workDone) takeQuestions(t *takeout) error {
	set := exchange.Set{Title: "Questions you answered", Questions: []exchange.Question{}}
	seen := map[store.AskedQuestion]bool{}
	for _, a := range w.answers {
		this := store.AskedQuestion{Question: a.Question, Seed: a.Seed}
		if asked, _, ok := w.course.markedAgain(a); ok && !seen[this] {
			seen[this] = true
			set.Questions = append(set.Questions, exchange.Freeze(asked))
		}
	}
	var out bytes.Buffer
	if err := exchange.WriteJSON(&out, set); err != nil {
		return fmt.Errorf("write questions: %w", err)
	}
	t.file("questions.json", out.Bytes())
	return nil
}

// taken* are rows of the database with names for the file.
type (
	takenSitting struct {
		ID        string                `json:"id"`
		Title     string                `json:"title"`
		Begun     time.Time             `json:"begun"`
		HandedIn  *time.Time            `json:"handed_in"`
		Questions []store.AskedQuestion `json:"questions"`
		Answers   map[int]takenAnswer   `json:"answers"` // by place, from 0
	}
	takenAnswer struct {
		Given []string  `json:"given"`
		At    time.Time `json:"at"`
	}
	takenEvent struct {
		What         string    `json:"what"`
		N            int       `json:"version"`
		ByInstructor bool      `json:"by_instructor"`
		Says         string    `json:"says"`
		At           time.Time `json:"at"`
	}
	takenTime struct {
		ID   string    `json:"id"`
		What string    `json:"what"`
		At   time.Time `json:"at"`
	}
	takenPhoto struct {
		File string    `json:"file"`
		Jar  int       `json:"jar"` // 0: the whole batch
		At   time.Time `json:"at"`
	}
)

func takeSittings(t *takeout, sittings []store.Sitting) {
	list := make([]takenSitting, len(sittings))
	for i, v := range sittings {
		list[i] = takenSitting{ID: v.ID, Title: v.Title, Begun: v.Begun, Questions: v.Questions, Answers: map[int]takenAnswer{}}
		if !v.Submitted.IsZero() {
			list[i].HandedIn = &v.Submitted
		}
		for place, a := range v.Answers {
			list[i].Answers[place] = takenAnswer(a)
		}
	}
	t.json("sittings.json", list)
}

// takeAttempt writes one try at a scenario. What is written for it is a plan, or JSON
// where faults were marked or jars were placed.
func takeAttempt(t *takeout, a store.Attempt) {
	name, kind := "attempts/"+a.ID, "yaml"
	if a.Kind == scenarios.Faults || a.Kind == scenarios.WhatNow {
		kind = "json"
	}
	t.file(name+"."+kind, a.Plan)
	t.file(name+".report.json", a.Report)
	if len(a.Result) > 0 { // before there were kinds nothing else was said
		t.file(name+".result.json", a.Result)
	}
	t.json(name+".about.json", map[string]any{"scenario": a.Scenario, "kind": a.Kind, "case": a.Seed, "judged_by": a.Version, "verdict": a.Verdict, "passed": a.Passed, "at": a.At})
}

func (s *Server) takeBatches(ctx context.Context, t *takeout, visitor string) error {
	batches, err := s.store.ListBatches(ctx, visitor)
	if err != nil {
		return err
	}
	for _, b := range batches {
		folder := "batches/" + b.ID + "/"
		versions, err := s.store.BatchVersions(ctx, b.ID)
		if err != nil {
			return err
		}
		for _, v := range versions {
			name := fmt.Sprintf("%s%d-%s", folder, v.N, v.Kind)
			t.file(name+".yaml", v.File)
			t.file(name+".report.json", v.Report)
		}
		a, err := s.store.Assignment(ctx, b.Assignment)
		if err != nil {
			return err
		}
		events, err := s.store.BatchEvents(ctx, b.ID)
		if err != nil {
			return err
		}
		times, err := s.store.BatchTimes(ctx, b.ID)
		if err != nil {
			return err
		}
		photos, err := s.store.BatchPhotos(ctx, b.ID)
		if err != nil {
			return err
		}
		said, clock, pictures := []takenEvent{}, []takenTime{}, []takenPhoto{}
		for _, e := range events {
			said = append(said, takenEvent(e))
		}
		for _, at := range times {
			clock = append(clock, takenTime(at))
		}
		for _, p := range photos {
			picture, err := s.store.Photo(ctx, b.ID, p.ID, false)
			if err != nil {
				return err
			}
			name := "photos/" + p.ID + ".jpg"
			t.file(folder+name, picture)
			pictures = append(pictures, takenPhoto{name, p.Jar, p.At})
		}
		t.json(folder+"about.json", map[string]any{"assignment": a.Title, "begun": b.Made, "events": said, "times": clock, "photos": pictures})
	}
	return nil
}
