package server

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"net/http"
	"slices"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"rollingboil/quiz"
	"rollingboil/scenarios"
	"rollingboil/scenarios/rules"
	"rollingboil/server/store"
)

// A set check has a fixed number of questions. Each answer is kept as it is given,
// so that a phone may die in between; it is handed in once, and only then is
// anything said to the answers.

// setSizes are how many questions a set may have.
var setSizes = []int{5, 10, 20}

type checksPage struct {
	page
	Sets    []checkLine
	Lessons []optionLine
	Sizes   []int
}

type checkLine struct{ ID, Title, When, State string }

type optionLine struct{ Value, Name string }

func (s *Server) checksPage(c *gin.Context) error {
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	data := checksPage{page: newPage("Check yourself", "/practice/check"), Sizes: setSizes, Lessons: []optionLine{{"", "The whole course"}}}
	for _, l := range t.Lessons.Lessons() {
		data.Lessons = append(data.Lessons, optionLine{l.Slug, l.Title})
	}
	if data.Sets, err = s.setLines(c, s.visitor(c)); err != nil {
		return err
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "checks", data)
}

// setLines are the sets a visitor began, the latest first.
func (s *Server) setLines(c *gin.Context, visitor string) ([]checkLine, error) {
	sittings, err := s.store.ListSittings(c.Request.Context(), visitor)
	if err != nil {
		return nil, err
	}
	var lines []checkLine
	for _, v := range sittings {
		line := checkLine{ID: v.ID, Title: v.Title, When: whenText(v.Begun), State: fmt.Sprintf("%d of %d answered", len(v.Answers), len(v.Questions))}
		if !v.Submitted.IsZero() {
			line.State = "handed in"
		}
		lines = append(lines, line)
	}
	return lines, nil
}

// beginCheck draws a set and leads to its first question.
func (s *Server) beginCheck(c *gin.Context) error {
	if err := c.Request.ParseForm(); err != nil {
		return formError(err)
	}
	size, err := strconv.Atoi(c.Request.PostForm.Get("size"))
	if err != nil || !slices.Contains(setSizes, size) {
		size = setSizes[1]
	}
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	of := t.scopeOf(c.Request.PostForm)
	sitting := store.Sitting{ID: store.NewID(), Visitor: s.newVisitor(c), Title: t.scopeName(of), Questions: t.drawSet(freshRandom(), of, size), Begun: s.now()}
	if err := s.store.BeginSitting(c.Request.Context(), sitting); err != nil {
		return err
	}
	c.Redirect(http.StatusSeeOther, "/check/"+sitting.ID+"/1")
	return nil
}

// freshRandom draws anew for whoever asks.
func freshRandom() *rand.Rand { return rand.New(rand.NewPCG(rand.Uint64(), rand.Uint64())) }

// drawSet draws so many questions, none twice. Where there are not so many, a
// template comes again with another draw.
func (t *taught) drawSet(random *rand.Rand, of scope, size int) []store.AskedQuestion {
	var wanted []*quiz.Question
	for _, q := range t.Bank.Questions() {
		if of.wants(q) {
			wanted = append(wanted, q)
		}
	}
	random.Shuffle(len(wanted), func(i, j int) { wanted[i], wanted[j] = wanted[j], wanted[i] })
	// At least half of a set is about what keeps people from harm.
	slices.SortStableFunc(wanted[:min(len(wanted), 2*size)], func(a, b *quiz.Question) int {
		if a.Critical() == b.Critical() {
			return 0
		}
		if a.Critical() {
			return -1
		}
		return 1
	})
	var set []store.AskedQuestion
	for _, q := range wanted[:min(len(wanted), size)] {
		set = append(set, store.AskedQuestion{Question: q.ID, Seed: seedFrom(random)})
	}
	for range size { // rounds; each adds to a set that is still too small
		for _, q := range wanted {
			if len(set) == size {
				break
			}
			if again, ok := anotherDraw(random, q, set); ok {
				set = append(set, again)
			}
		}
	}
	random.Shuffle(len(set), func(i, j int) { set[i], set[j] = set[j], set[i] })
	return set
}

// anotherDraw draws a template once more, not as it stands in the set already.
func anotherDraw(random *rand.Rand, q *quiz.Question, set []store.AskedQuestion) (store.AskedQuestion, bool) {
	taken := map[int]bool{}
	for _, a := range set {
		if a.Question == q.ID {
			if asked, err := q.Ask(a.Seed); err == nil {
				taken[asked.Draw] = true
			}
		}
	}
	for range 20 {
		seed := seedFrom(random)
		if asked, err := q.Ask(seed); err == nil && q.Variants() && !taken[asked.Draw] {
			return store.AskedQuestion{Question: q.ID, Seed: seed}, true
		}
	}
	return store.AskedQuestion{}, false
}

type sittingPage struct {
	page
	ID        string
	Title     string
	Questions []placeLine
	Answered  int
	Open      int
	Begun     string
	Taken     string
	Submitted bool
	Right     int
	Results   []checkResult
	By        []competencyLine
}

// placeLine is one question of a set.
type placeLine struct {
	N        int
	Stem     string
	Answered bool
}

type checkResult struct {
	N        int
	Question questionView
	Given    []string
	Answer   *answeredView
	Changed  bool // by the instructor since it was handed in
	Right    bool
}

// competencyLine is how many questions on a competency were right.
type competencyLine struct {
	Name         string
	Right, Asked int
	Practice     string
}

func (s *Server) sitting(c *gin.Context) (store.Sitting, error) {
	return s.store.Sitting(c.Request.Context(), s.visitor(c), c.Param("check"))
}

// ask puts the question at a place of a set. One that has left the bank since is
// passed over: nil.
func (t *taught) ask(a store.AskedQuestion) (*quiz.Asked, error) {
	q, ok := t.Bank.Question(a.Question)
	if !ok {
		return nil, nil
	}
	return q.Ask(a.Seed)
}

// checkPage lists the questions of a set that is open, and the answers of one that
// is handed in.
func (s *Server) checkPage(c *gin.Context) error {
	v, err := s.sitting(c)
	if err != nil {
		return err
	}
	data := sittingPage{page: newPage(v.Title, "/practice/check"), ID: v.ID, Title: v.Title, Answered: len(v.Answers), Begun: whenText(v.Begun), Taken: takenText(s.now().Sub(v.Begun)), Submitted: !v.Submitted.IsZero()}
	data.Open = len(v.Questions) - len(v.Answers)
	if data.Submitted {
		data.Taken = takenText(v.Submitted.Sub(v.Begun))
		return s.showResults(c, v, data)
	}
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	for i, a := range v.Questions {
		asked, err := t.ask(a)
		if err != nil {
			return err
		}
		line := placeLine{N: i + 1, Stem: "This question is no longer in the course."}
		if asked != nil {
			line.Stem = asked.Stem
		}
		_, line.Answered = v.Answers[i]
		data.Questions = append(data.Questions, line)
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "check", data)
}

// takenText says how long a set took, without hurry.
func takenText(d time.Duration) string {
	switch minutes := int(d.Minutes()); {
	case minutes < 1:
		return "less than a minute"
	case minutes < 120:
		return fmt.Sprintf("%d minutes", minutes)
	case minutes < 48*60:
		return fmt.Sprintf("%d hours", minutes/60)
	default:
		return fmt.Sprintf("%d days", minutes/60/24)
	}
}

func (s *Server) showResults(c *gin.Context, v store.Sitting, data sittingPage) error {
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	answers, err := s.store.ListAnswers(c.Request.Context(), v.Visitor)
	if err != nil {
		return err
	}
	then := map[store.AskedQuestion]store.Answer{} // as it was marked when it was handed in
	for _, a := range answers {
		if a.Sitting == v.ID {
			then[store.AskedQuestion{Question: a.Question, Seed: a.Seed}] = a
		}
	}
	by := map[string]*competencyLine{}
	for i, a := range v.Questions {
		asked, err := t.ask(a)
		if err != nil {
			return err
		}
		if asked == nil {
			continue
		}
		view, err := s.viewQuestion(t, asked, "")
		if err != nil {
			return err
		}
		result := checkResult{N: i + 1, Question: view}
		if kept, ok := v.Answers[i]; ok {
			marked, err := asked.Mark(kept.Given)
			was, known := then[a]
			switch {
			case known && t.readsOtherwise(was):
				result.Given, result.Changed, result.Right = kept.Given, true, was.Right
			case err == nil: // one that the bank has changed since is shown as not answered
				result.Given, result.Answer, result.Right = kept.Given, s.viewResult(asked, marked), marked.Right
			}
		}
		if result.Right {
			data.Right++
		}
		for _, name := range asked.Question.Competencies {
			if by[name] == nil {
				by[name] = &competencyLine{Name: scenarios.Label(name), Practice: "/practice/next?" + scope{competency: name}.query().Encode()}
			}
			by[name].Asked++
			if result.Right {
				by[name].Right++
			}
		}
		data.Results = append(data.Results, result)
	}
	for _, name := range rules.Competencies() {
		if by[name] != nil {
			data.By = append(data.By, *by[name])
		}
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "check", data)
}

type placePage struct {
	page
	ID, Title  string
	N, Of      int
	Question   questionView
	Answered   bool
	Prev, Next int
	Taken      string
}

// placeOf reads the number of a question in a set.
func placeOf(c *gin.Context, v store.Sitting) (int, error) {
	n, err := strconv.Atoi(c.Param("n"))
	if err != nil || n < 1 || n > len(v.Questions) {
		return 0, errNoPage
	}
	return n - 1, nil
}

func (s *Server) placePage(c *gin.Context) error {
	v, err := s.sitting(c)
	if err != nil {
		return err
	}
	i, err := placeOf(c, v)
	if err != nil {
		return err
	}
	if !v.Submitted.IsZero() {
		c.Redirect(http.StatusSeeOther, "/check/"+v.ID)
		return nil
	}
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	asked, err := t.ask(v.Questions[i])
	if err != nil {
		return err
	}
	if asked == nil {
		return errNoPage
	}
	view, err := s.filledQuestion(t, asked, fmt.Sprintf("/check/%s/%d", v.ID, i+1), asked.Fields(v.Answers[i].Given))
	if err != nil {
		return err
	}
	return s.showPlace(c, http.StatusOK, v, i, view)
}

func (s *Server) showPlace(c *gin.Context, status int, v store.Sitting, i int, view questionView) error {
	view.Button = "Keep this answer"
	data := placePage{page: newPage(v.Title, "/practice/check"), ID: v.ID, Title: v.Title, N: i + 1, Of: len(v.Questions), Question: view, Prev: i, Next: i + 2, Taken: takenText(s.now().Sub(v.Begun))}
	_, data.Answered = v.Answers[i]
	if data.Next > data.Of {
		data.Next = 0
	}
	return s.write(c.Writer, c.Request, status, "place", data)
}

// answerPlace keeps one answer of a set and leads to the next that is open.
func (s *Server) answerPlace(c *gin.Context) error {
	if err := c.Request.ParseForm(); err != nil {
		return formError(err)
	}
	v, err := s.sitting(c)
	if err != nil {
		return err
	}
	i, err := placeOf(c, v)
	if err != nil {
		return err
	}
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	asked, err := t.ask(v.Questions[i])
	if err != nil {
		return err
	}
	if asked == nil {
		return errNoPage
	}
	action := fmt.Sprintf("/check/%s/%d", v.ID, i+1)
	view, given, result, err := s.answered(t, asked, action, c.Request.PostForm)
	if err != nil {
		return err
	}
	if result == nil {
		return s.showPlace(c, view.unmarked(), v, i, view)
	}
	err = s.store.SaveSittingAnswer(c.Request.Context(), v.Visitor, v.ID, i, store.SittingAnswer{Given: given, At: s.now()})
	if errors.Is(err, store.ErrNotFound) { // handed in meanwhile, in another tab
		c.Redirect(http.StatusSeeOther, "/check/"+v.ID)
		return nil
	}
	if err != nil {
		return err
	}
	for step := 1; step < len(v.Questions); step++ {
		next := (i + step) % len(v.Questions)
		if _, answered := v.Answers[next]; !answered {
			c.Redirect(http.StatusSeeOther, fmt.Sprintf("/check/%s/%d", v.ID, next+1))
			return nil
		}
	}
	c.Redirect(http.StatusSeeOther, "/check/"+v.ID)
	return nil
}

// handIn marks the answers of a set and keeps them among all others, once.
func (s *Server) handIn(c *gin.Context) error {
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	for {
		v, err := s.sitting(c)
		if err != nil {
			return err
		}
		answers, err := t.markSet(v)
		if err != nil {
			return err
		}
		err = s.store.SubmitSitting(c.Request.Context(), v, answers, s.now())
		if errors.Is(err, store.ErrChanged) {
			continue // another answer came in meanwhile, from another tab
		}
		if err != nil && !errors.Is(err, store.ErrNotFound) { // handed in already: its results are what was asked for
			return err
		}
		c.Redirect(http.StatusSeeOther, "/check/"+v.ID)
		return nil
	}
}

// markSet marks the answers of a set, to be kept among all others.
func (t *taught) markSet(v store.Sitting) ([]store.Answer, error) {
	var answers []store.Answer
	for i, a := range v.Questions {
		kept, ok := v.Answers[i]
		if !ok {
			continue
		}
		asked, err := t.ask(a)
		if err != nil {
			return nil, err
		}
		if asked == nil {
			continue
		}
		marked, err := asked.Mark(kept.Given)
		if err != nil {
			continue // the bank has changed since; nothing can be said of it
		}
		answer := t.markedAnswer(asked, kept.Given, marked)
		answer.Visitor, answer.At = v.Visitor, kept.At
		answers = append(answers, answer)
	}
	return answers, nil
}
