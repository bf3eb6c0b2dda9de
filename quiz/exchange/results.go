package exchange

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"rollingboil/quiz"
)

// Answer is one answer of a learner, as it was marked then.
type Answer struct {
	Learner        string // an opaque id: letters, digits, _ and -, 64 at most
	Question       string // id
	Seed           uint64
	Lesson         string      // slug, empty if it was asked in none
	Sitting        string      // id of the quiz it belongs to, empty if to none
	Asked          *quiz.Asked // the question as it was put; nil if the bank has it no more
	Given          []string    // as quiz.Asked.Mark takes it
	Right          bool
	Misconceptions []string // ids
	At             time.Time
	Took           time.Duration // 0 if nobody measured
}

// Opening is a lesson that a learner opened.
type Opening struct {
	Learner, Lesson, Title string
	At                     time.Time
}

// The kinds of attempt.
const (
	QuizAttempt     = "quiz"
	ScenarioAttempt = "scenario"
)

// Attempt is a quiz or a scenario that a learner began.
type Attempt struct {
	Learner   string
	Kind      string // QuizAttempt or ScenarioAttempt
	Name      string // id of the quiz or slug of the scenario
	Title     string
	Begun     time.Time
	Ended     time.Time // zero until it is handed in
	Right, Of int       // questions answered right, of how many; Of is 0 where nothing is counted
	Passed    *bool     // nil where there is nothing to pass
	Rules     []string  // ids of the rules that found something in the plan of a scenario
}

// WriteAnswers writes a row for each answer, after a header; the package comment has
// the columns.
func WriteAnswers(w io.Writer, answers []Answer) error { return WriteRows(w, AnswerRows(answers)) }

// AnswerRows gives the cells that [WriteAnswers] writes, before any is made safe.
func AnswerRows(answers []Answer) [][]string {
	rows := [][]string{{"learner", "question", "seed", "lesson", "sitting", "given", "right", "misconceptions", "at", "seconds"}}
	for _, a := range answers {
		given := make([]string, len(a.Given))
		for i, g := range a.Given {
			given[i] = line(g)
		}
		right, seconds := "0", ""
		if a.Right {
			right = "1"
		}
		if a.Took > 0 {
			seconds = decimal(a.Took.Seconds())
		}
		rows = append(rows, []string{
			a.Learner, a.Question, strconv.FormatUint(a.Seed, 10), a.Lesson, a.Sitting, strings.Join(given, "\n"), right,
			strings.Join(a.Misconceptions, " "), timestamp(a.At), seconds,
		})
	}
	return rows
}

// Publisher makes xAPI statements. The same event always makes the same statement with
// the same id, so a record store that gets one twice keeps it once.
type Publisher struct {
	homePage  string
	namespace string
}

// NewPublisher begins the addresses of learners, lessons and questions with homePage:
// an http or https address that will stay what it is.
func NewPublisher(homePage string) (*Publisher, error) {
	u, err := url.Parse(homePage)
	if err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Host == "" || u.User != nil || u.RawQuery != "" || u.Fragment != "" {
		return nil, fmt.Errorf("home page %q; write an address such as https://class.example", homePage)
	}
	homePage = strings.TrimSuffix(homePage, "/")
	return &Publisher{homePage, nameUUID(namespaceURL, homePage)}, nil
}

// The types of activity (ADL vocabulary, from memory but for the first).
const (
	typeInteraction = "http://adlnet.gov/expapi/activities/cmi.interaction"
	typeLesson      = "http://adlnet.gov/expapi/activities/lesson"
	typeAssessment  = "http://adlnet.gov/expapi/activities/assessment"
	typeSimulation  = "http://adlnet.gov/expapi/activities/simulation"
)

// learnerForm keeps out names and mail addresses.
var learnerForm = regexp.MustCompile(`^[A-Za-z0-9_-]{1,64}$`)

// Opened is the statement that a lesson was experienced.
func (p *Publisher) Opened(o Opening) (Statement, error) {
	return p.statement(o.Learner, Experienced, p.activity("lessons", o.Lesson, o.Title, typeLesson), nil, nil, o.At)
}

// Attempted gives the statements of an attempt: attempted, and once it has ended,
// completed and passed or failed.
func (p *Publisher) Attempted(a Attempt) ([]Statement, error) {
	about := p.activity("quizzes", a.Name, a.Title, typeAssessment)
	switch a.Kind {
	case QuizAttempt:
	case ScenarioAttempt:
		about = p.activity("scenarios", a.Name, a.Title, typeSimulation)
	default:
		return nil, fmt.Errorf("attempt at %q: kind is %q; write %s or %s", a.Name, a.Kind, QuizAttempt, ScenarioAttempt)
	}
	var list []Statement
	var problems []error
	add := func(v Verb, r *Result, at time.Time) {
		s, err := p.statement(a.Learner, v, about, r, nil, at)
		list, problems = append(list, s), append(problems, err)
	}
	add(Attempted, nil, a.Begun)
	if !a.Ended.IsZero() {
		result := Result{}
		if a.Of > 0 {
			result.Score = &Score{Scaled: float64(a.Right) / float64(a.Of), Raw: float64(a.Right), Max: float64(a.Of)}
		}
		done, whole := true, result
		whole.Completion, whole.Duration = &done, isoDuration(a.Ended.Sub(a.Begun))
		if len(a.Rules) > 0 {
			whole.Extensions = map[string]any{p.homePage + "/xapi/rules": a.Rules}
		}
		add(Completed, &whole, a.Ended)
		if a.Passed != nil {
			result.Success = a.Passed
			verb := Failed
			if *a.Passed {
				verb = Passed
			}
			add(verb, &result, a.Ended)
		}
	}
	return list, errors.Join(problems...)
}

// Answered is the statement that a question was answered.
func (p *Publisher) Answered(a Answer) (Statement, error) {
	about, response := p.question(a)
	result := &Result{Success: &a.Right, Response: response}
	if a.Took > 0 {
		result.Duration = isoDuration(a.Took)
	}
	if len(a.Misconceptions) > 0 {
		result.Extensions = map[string]any{p.homePage + "/xapi/misconceptions": a.Misconceptions}
	}
	var context *Context
	if a.Sitting != "" || a.Lesson != "" {
		context = &Context{Language: "en-US"}
		if a.Sitting != "" {
			context.ContextActivities.Parent = []Activity{p.activity("quizzes", a.Sitting, "", typeAssessment)}
		}
		if a.Lesson != "" {
			context.ContextActivities.Grouping = []Activity{p.activity("lessons", a.Lesson, "", typeLesson)}
		}
	}
	return p.statement(a.Learner, Answered, about, result, context, a.At)
}

// statement makes a statement, or says why it would not be a valid one.
func (p *Publisher) statement(learner string, v Verb, about Activity, r *Result, c *Context, at time.Time) (Statement, error) {
	switch {
	case !learnerForm.MatchString(learner):
		return Statement{}, fmt.Errorf("learner %q; give an opaque id of letters, digits, _ and -, 64 at most, never a name or a mail address", learner)
	case strings.HasSuffix(about.ID, "/"):
		return Statement{}, fmt.Errorf("%s %s: the name of it is missing", v.Display["en-US"], about.ID)
	case at.IsZero():
		return Statement{}, fmt.Errorf("%s %s: the time is missing", v.Display["en-US"], about.ID)
	}
	s := Statement{Actor: Actor{"Agent", Account{p.homePage, learner}}, Verb: v, Object: about, Result: r, Context: c, Timestamp: timestamp(at)}
	content, err := json.Marshal(s)
	if err != nil {
		return Statement{}, fmt.Errorf("%s %s: %w", v.Display["en-US"], about.ID, err)
	}
	s.ID = nameUUID(p.namespace, string(content))
	if err := s.Validate(); err != nil {
		return Statement{}, fmt.Errorf("%s %s: %w", v.Display["en-US"], about.ID, err)
	}
	return s, nil
}

func (p *Publisher) activity(folder, name, title, kind string) Activity {
	d := &Definition{Type: kind}
	if title != "" {
		d.Name = english(line(title))
	}
	return Activity{"Activity", p.homePage + "/" + folder + "/" + url.PathEscape(name), d}
}

// question describes the question and writes the answer as xAPI wants it for its kind.
// An answer that no longer fits the question, because the bank has changed since, is
// told as it was given.
func (p *Publisher) question(a Answer) (Activity, string) {
	about := p.activity("questions", a.Question, "", typeInteraction)
	about.ID += "/s" + strconv.FormatUint(a.Seed, 10)
	if a.Asked != nil {
		q := Freeze(a.Asked)
		if response, ok := responseOf(q, a.Asked, a.Given); ok {
			describe(q, about.Definition)
			return about, response
		}
	}
	about.Definition.InteractionType = "other"
	return about, strings.Join(a.Given, "; ")
}

// describe fills in what is asked, what is offered and what is right.
func describe(q Question, d *Definition) {
	d.Description = english(line(q.Stem))
	component := func(id, text string) Component { return Component{id, english(line(text))} }
	key := q.keyValues()
	switch q.Kind {
	case quiz.Number:
		d.InteractionType = "numeric"
		if n := q.Number; n.Tolerance > slack {
			key = []string{decimal(rounded(n.Answer.Amount-n.Tolerance)) + "[:]" + decimal(rounded(n.Answer.Amount+n.Tolerance))}
		}
	case quiz.Match:
		d.InteractionType = "matching"
		for i, item := range q.Items {
			d.Source = append(d.Source, component(choiceID(i), item.Text))
			key[i] = strings.Replace(key[i], " ", "[.]", 1)
		}
		for i, with := range q.Withs {
			d.Target = append(d.Target, component(withID(i), with))
		}
	case quiz.Order:
		d.InteractionType = "sequencing"
		for i, item := range q.Items {
			d.Choices = append(d.Choices, component(choiceID(i), item.Text))
		}
	default:
		d.InteractionType = "choice"
		for i, o := range q.Options {
			d.Choices = append(d.Choices, component(choiceID(i), o.Text))
		}
	}
	d.CorrectResponsesPattern = []string{strings.Join(key, "[,]")}
}

// responseOf writes an answer with the ids of what was offered. ok is false for one
// that the question does not take.
func responseOf(q Question, asked *quiz.Asked, given []string) (response string, ok bool) {
	if _, err := asked.Mark(given); err != nil {
		return "", false
	}
	var parts []string
	for _, g := range given {
		switch q.Kind {
		case quiz.Number:
			amount, err := asked.Amount(g)
			if err != nil {
				continue // an empty line beside the number, which Mark passes over
			}
			parts = append(parts, decimal(rounded(amount)))
		case quiz.Match:
			left, with, _ := strings.Cut(g, quiz.Arrow)
			if line(g) != "" {
				parts = append(parts, choiceID(textIndex(q.Items, left))+"[.]"+withID(q.withIndex(with)))
			}
		case quiz.Order:
			if line(g) != "" {
				parts = append(parts, choiceID(textIndex(q.Items, g)))
			}
		default:
			if i := slices.IndexFunc(q.Options, func(o Option) bool { return line(o.Text) == line(g) }); i >= 0 && !slices.Contains(parts, choiceID(i)) {
				parts = append(parts, choiceID(i))
			}
		}
	}
	return strings.Join(parts, "[,]"), len(parts) > 0
}

func textIndex(items []Item, text string) int {
	return slices.IndexFunc(items, func(item Item) bool { return line(item.Text) == line(text) })
}
