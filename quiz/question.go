package quiz

import (
	"fmt"
	"strings"
)

// The kinds of question.
const (
	Choice  = "choice"  // one option is right
	Choices = "choices" // one or more options are right; all of them are to be chosen
	Number  = "number"  // a quantity is typed in
)

var kinds = []string{Choice, Choices, Number}

// Question is one question as written in a file of the bank. See the package
// comment for the format.
type Question struct {
	ID           string   `yaml:"id"`
	Lesson       string   `yaml:"lesson"` // slug
	Competencies []string `yaml:"competencies"`
	Kind         string   `yaml:"kind"`
	Stem         string   `yaml:"stem"`

	Options []Option `yaml:"options"` // choice and choices

	Unit      string   `yaml:"unit"`      // number: what a bare number is read in
	Tolerance float64  `yaml:"tolerance"` // number: how far off is still right, in Unit
	Answer    Figure   `yaml:"answer"`    // number
	Wrong     []Figure `yaml:"wrong"`     // number: mistakes that have a name

	Why     string   `yaml:"why"`    // the reason, shown with any answer
	Sources []string `yaml:"source"` // ids of publications
	Page    string   `yaml:"page"`   // where in them

	File string `yaml:"-"`
	Line int    `yaml:"-"`

	quantity  quantity // number: what Unit measures
	tolerance float64  // number: Tolerance in the base unit of quantity
}

// Option is one answer that is offered.
type Option struct {
	Text          string `yaml:"text"`
	Right         bool   `yaml:"right"`
	Feedback      string `yaml:"feedback"`
	Misconception string `yaml:"misconception"` // id; wrong options only
}

// Result is a marked answer. Chosen and Missed together tell the learner about
// every option chosen and every right one.
type Result struct {
	Right   bool
	Chosen  []Option // in the order of the question; for a number, what was typed, as it was read
	Missed  []Option // right, but not chosen
	Key     string   // the right answer in words
	Why     string
	Sources []string
	Page    string
}

// Misconceptions lists the ids of the beliefs behind the wrong options chosen.
func (r Result) Misconceptions() []string {
	var ids []string
	for _, o := range r.Chosen {
		if o.Misconception != "" {
			ids = append(ids, o.Misconception)
		}
	}
	return ids
}

// AnswerError says why an answer could not be marked. It keeps what was given,
// so that a page can show it again.
type AnswerError struct {
	Question string // id
	Given    []string
	Reason   string // for the learner: what to do
	Err      error  // the reader's own error, nil if there is none
}

func (e *AnswerError) Error() string {
	return fmt.Sprintf("mark %s: answer %q: %s", e.Question, e.Given, e.Reason)
}

func (e *AnswerError) Unwrap() error { return e.Err }

// Mark judges an answer: the texts of the options chosen, or the number as it
// was typed. An option is named by its text, so the order in which a page shows
// the options does not matter. The error is always an *AnswerError: nothing
// chosen, more than one answer where one is asked for, an option that is not in
// the question, or a number that cannot be read.
func (q *Question) Mark(given []string) (Result, error) {
	if q.Kind == Number {
		return q.markNumber(given)
	}
	return q.markOptions(given)
}

func (q *Question) markOptions(given []string) (Result, error) {
	chosen := make([]bool, len(q.Options))
	count := 0
	for _, text := range given {
		if oneLine(text) == "" {
			continue
		}
		i := q.option(text)
		if i < 0 {
			return Result{}, q.refuse(given, nil, "this answer is not one of those offered; choose again")
		}
		if !chosen[i] {
			chosen[i] = true
			count++
		}
	}
	switch {
	case count == 0:
		return Result{}, q.refuse(given, nil, "choose an answer first")
	case count > 1 && q.Kind == Choice:
		return Result{}, q.refuse(given, nil, "choose one answer only")
	}

	result := q.result()
	result.Right = true
	var key []string
	for i, o := range q.Options {
		if chosen[i] {
			result.Chosen = append(result.Chosen, o)
		} else if o.Right {
			result.Missed = append(result.Missed, o)
		}
		if o.Right {
			key = append(key, o.Text)
		}
		result.Right = result.Right && chosen[i] == o.Right
	}
	result.Key = strings.Join(key, "; ")
	return result, nil
}

func (q *Question) markNumber(given []string) (Result, error) {
	var typed []string
	for _, text := range given {
		if text = oneLine(text); text != "" {
			typed = append(typed, text)
		}
	}
	switch {
	case len(typed) == 0:
		return Result{}, q.refuse(given, nil, "write a number first")
	case len(typed) > 1:
		return Result{}, q.refuse(given, nil, "write one number only")
	}
	amount, err := q.quantity.read(typed[0], q.Unit)
	if err != nil {
		return Result{}, q.refuse(given, err, fmt.Sprintf("%q cannot be read as %s; write it like %s", typed[0], q.quantity.name, q.quantity.example))
	}

	result := q.result()
	result.Key = q.quantity.text(q.Answer.amount)
	answer := Option{Text: result.Key, Right: true, Feedback: q.Answer.Feedback}
	chosen := Option{Text: q.quantity.text(amount)}
	if q.is(amount, q.Answer) {
		result.Right = true
		chosen.Right, chosen.Feedback = true, q.Answer.Feedback
		result.Chosen = []Option{chosen}
		return result, nil
	}
	chosen.Feedback = fmt.Sprintf("The answer is %s, not %s.", answer.Text, chosen.Text)
	for _, w := range q.Wrong {
		if q.is(amount, w) {
			chosen.Feedback, chosen.Misconception = w.Feedback, w.Misconception
		}
	}
	result.Chosen, result.Missed = []Option{chosen}, []Option{answer}
	return result, nil
}

func (q *Question) result() Result { return Result{Why: q.Why, Sources: q.Sources, Page: q.Page} }

// option finds the option with this text, -1 for none.
func (q *Question) option(text string) int {
	text = oneLine(text)
	for i, o := range q.Options {
		if oneLine(o.Text) == text {
			return i
		}
	}
	return -1
}

func (q *Question) refuse(given []string, err error, reason string) *AnswerError {
	return &AnswerError{Question: q.ID, Given: given, Reason: reason, Err: err}
}

// oneLine trims a text and makes one plain space of any run of spaces and line
// ends, which browsers are free to change.
func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }
