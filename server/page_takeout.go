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

profile.json      your name and role, if you have an account, and your settings; as a
                  student the classes you belong to, with what is assigned to you there
answers.csv       every answer you gave
wordings.json     which of your answers were to a question as an instructor of yours worded
                  it: the material and its version
statements.jsonl  answers, sets and scenarios as xAPI statements
questions.json    the questions you answered, as they were put to you, with their keys;
                  not those that were changed since
sittings.json     the sets you began
plans/            each plan you kept, as YAML, with the report it got, and when
attempts/         each try at a scenario: what you wrote, the report, what was said to it
batches/          each practice batch: every version of plan and record with its report,
                  when and by which rules it was judged and the lot of lids you named;
                  what was said about it, clock times from the kitchen, photos
asked.json        what you asked your instructors, with every version of the answers, and
                  how the class was shown it
classes/          as an instructor the classes you hold: what you assigned, and the
                  questions as you shared them; each trial with its ways, entries and
                  decisions; each material, every version as you wrote it

Left out is what opens something: your password, which is kept only as a hash, your
sessions, class codes, codes for a new password and the addresses of calendars.

An instructor's zip has no names and no work of students. Those are on the results page
of the class, as tables. What an instructor wrote to one student, about a batch or a
question, is in the zip of that student. What was copied from a student's batch into a
trial or a scenario for the class has no name, and is in the zip of the instructor.

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
	takeWordings(t, done.answers)
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
	for _, kept := range plans {
		t.file("plans/"+kept.ID+".yaml", kept.Plan)
		t.file("plans/"+kept.ID+".report.json", kept.Report)
		t.json("plans/"+kept.ID+".about.json", map[string]any{"title": kept.Title, "verdict": kept.Verdict, "at": kept.At})
	}
	if err := s.takeBatches(ctx, t, visitor); err != nil {
		return err
	}
	if err := s.takeAsked(ctx, t, visitor); err != nil {
		return err
	}
	if p.Role == store.Instructor {
		if err := s.takeHeld(ctx, t, visitor); err != nil {
			return err
		}
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
	}
	if p.Role == store.Student {
		if profile["classes"], err = s.takenJoined(ctx, visitor); err != nil {
			return err
		}
	}
	t.json("profile.json", profile)
	return nil
}

// takenJoined is each class a student belongs to, with what is assigned there.
func (s *Server) takenJoined(ctx context.Context, visitor string) ([]takenClass, error) {
	joined, err := s.store.Joined(ctx, visitor)
	if err != nil {
		return nil, err
	}
	list := []takenClass{}
	for _, class := range joined {
		members, err := s.store.Members(ctx, class.ID)
		if err != nil {
			return nil, err
		}
		assigned, err := s.store.AssignedTo(ctx, class.ID, visitor)
		if err != nil {
			return nil, err
		}
		taken := takenClass{ID: class.ID, Name: class.Name, Assigned: takenAssignments(assigned)}
		for _, m := range members {
			if m.Visitor == visitor {
				taken.Joined = m.Joined
			}
		}
		list = append(list, taken)
	}
	return list, nil
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
	takenClass struct {
		ID       string            `json:"id"`
		Name     string            `json:"name"`
		Joined   time.Time         `json:"joined"`
		Assigned []takenAssignment `json:"assigned"`
	}
	takenAssignment struct {
		Kind     string          `json:"kind"`
		About    string          `json:"about"`
		Title    string          `json:"title"`
		Note     string          `json:"note"`
		Settings json.RawMessage `json:"settings"`
		Opens    time.Time       `json:"opens"`
		Due      time.Time       `json:"due"`
		Everyone bool            `json:"for_everyone"` // or for some, of whom the student is one
		Made     time.Time       `json:"made"`
	}
	takenWording struct {
		Question string    `json:"question"`
		At       time.Time `json:"at"` // when it was answered
		Wording  string    `json:"wording"`
	}
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
	takenVersion struct {
		N        int       `json:"n"`
		Kind     string    `json:"kind"`
		At       time.Time `json:"at"`
		Lot      string    `json:"lot"` // of the lids
		Verdict  string    `json:"verdict"`
		JudgedBy string    `json:"judged_by"` // version of the rules and the table
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

		Received time.Time `json:"received"`
	}
	takenPhoto struct {
		File string    `json:"file"`
		Jar  int       `json:"jar"` // 0: the whole batch
		At   time.Time `json:"at"`
	}
	takenAsked struct {
		ID      string       `json:"id"`
		Class   string       `json:"class"`
		Kind    string       `json:"kind"`
		About   string       `json:"about"` // of a batch, its folder
		Case    uint64       `json:"case"`  // of a scenario
		Text    string       `json:"text"`
		At      time.Time    `json:"at"`
		Answers []takenReply `json:"answers"`
		Seen    int          `json:"seen"`   // the last version of the answer you were shown
		Shared  string       `json:"shared"` // as the class was shown it; empty if it was not
	}
	takenReply struct {
		Version int       `json:"version"`
		Text    string    `json:"text"`
		At      time.Time `json:"at"`
	}
)

func takenAssignments(list []store.Assignment) []takenAssignment {
	taken := []takenAssignment{}
	for _, a := range list {
		taken = append(taken, takenAssignment{a.Kind, a.About, a.Title, a.Note, a.Settings, a.Opens, a.Due, a.Everyone, a.Made})
	}
	return taken
}

// takeWordings writes what answers.csv, a table of a fixed form, has no column for.
func takeWordings(t *takeout, answers []store.Answer) {
	list := []takenWording{}
	for _, a := range answers {
		if a.Wording != "" {
			list = append(list, takenWording{a.Question, a.At, a.Wording})
		}
	}
	t.json("wordings.json", list)
}

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
	t.json(name+".about.json", map[string]any{"scenario": a.Scenario, "kind": a.Kind, "case": a.Seed, "wording": a.Wording, "judged_by": a.Version, "verdict": a.Verdict, "passed": a.Passed, "at": a.At})
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
		judged := []takenVersion{}
		for _, v := range versions {
			judged = append(judged, takenVersion{v.N, v.Kind, v.At, v.Lot, v.Verdict, v.Version})
			name := fmt.Sprintf("%s%d-%s", folder, v.N, v.Kind)
			t.file(name+".yaml", v.File)
			t.file(name+".report.json", v.Report)
		}
		a, err := s.store.Assignment(ctx, b.Assignment)
		if err != nil {
			return err
		}
		class, err := s.store.Class(ctx, a.Class)
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
		t.json(folder+"about.json", map[string]any{"class": class.Name, "assignment": a.Title, "begun": b.Made, "versions": judged, "events": said, "times": clock, "photos": pictures})
	}
	return nil
}

// takeAsked writes what was asked of instructors, in classes that were left, too.
func (s *Server) takeAsked(ctx context.Context, t *takeout, person string) error {
	all, err := s.store.AskedOf(ctx, person)
	if err != nil {
		return err
	}
	list := []takenAsked{}
	for _, q := range all {
		class, err := s.store.Class(ctx, q.Class)
		if err != nil {
			return err
		}
		versions, err := s.store.AnswerVersions(ctx, q.ID)
		if err != nil {
			return err
		}
		taken := takenAsked{ID: q.ID, Class: class.Name, Kind: q.Kind, About: q.About, Case: q.Seed, Text: q.Text, At: q.At, Answers: []takenReply{}, Seen: q.Seen, Shared: q.Shared}
		for _, v := range versions {
			taken.Answers = append(taken.Answers, takenReply(v))
		}
		list = append(list, taken)
	}
	t.json("asked.json", list)
	return nil
}
