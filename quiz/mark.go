package quiz

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Result is a marked answer. Chosen and Missed together tell the learner about
// everything that was given and everything that would have been right.
type Result struct {
	Right   bool
	Chosen  []Option // what was given, in the order of the question; a number as it was read
	Missed  []Option // right, but not given
	Key     string   // the right answer in words
	Why     string
	Sources []string
	Page    string
}

// Misconceptions lists the ids of the beliefs behind the wrong answers given.
func (r Result) Misconceptions() []string {
	var ids []string
	for _, o := range r.Chosen {
		if o.Misconception != "" && !slices.Contains(ids, o.Misconception) {
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

// Mark judges an answer:
//
//	choice, choices  the texts of the options chosen
//	number           the number as it was typed
//	order            the texts of the items, first to last
//	match            for each item its text, [Arrow], and what it was given
//
// Everything is named by its text, so the order in which a page shows it does not
// matter. The error is always an *AnswerError: nothing given, more than one answer
// where one is asked for, something that is not in the question, or a number that
// cannot be read.
func (a *Asked) Mark(given []string) (Result, error) {
	given = slices.DeleteFunc(slices.Clone(given), func(s string) bool { return oneLine(s) == "" })
	switch a.Question.Kind {
	case Number:
		return a.markNumber(given)
	case Order:
		return a.markOrder(given)
	case Match:
		return a.markMatch(given)
	}
	return a.markOptions(given)
}

// Arrow stands between an item and what it was given, in an answer to a match.
const Arrow = " → "

func (a *Asked) markOptions(given []string) (Result, error) {
	chosen := make([]bool, len(a.Options))
	count := 0
	for _, text := range given {
		i := a.option(text)
		if i < 0 {
			return Result{}, a.refuse(given, nil, "this answer is not one of those offered; choose again")
		}
		if !chosen[i] {
			chosen[i] = true
			count++
		}
	}
	switch {
	case count == 0:
		return Result{}, a.refuse(given, nil, "choose an answer first")
	case count > 1 && a.Question.Kind == Choice:
		return Result{}, a.refuse(given, nil, "choose one answer only")
	}
	result := a.result()
	result.Right = true
	var key []string
	for i, o := range a.Options {
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

func (a *Asked) markNumber(given []string) (Result, error) {
	switch {
	case len(given) == 0:
		return Result{}, a.refuse(given, nil, "write a number first")
	case len(given) > 1:
		return Result{}, a.refuse(given, nil, "write one number only")
	}
	q := a.Question
	typed := oneLine(given[0])
	amount, err := q.form.quantity.read(typed, q.Unit)
	if err != nil {
		return Result{}, a.refuse(given, err, fmt.Sprintf("%q cannot be read as %s; write it like %s", typed, q.form.quantity.name, q.form.quantity.example))
	}
	result := a.result()
	result.Key = q.form.quantity.text(a.answer.amount)
	answer := Option{Text: result.Key, Right: true, Feedback: a.answer.feedback}
	chosen := Option{Text: q.form.quantity.text(amount)}
	// The last term is for numbers that were converted, such as 0.1 h.
	is := func(f figure) bool { return math.Abs(amount-f.amount) <= q.form.tolerance+1e-6 }
	if is(a.answer) {
		result.Right = true
		chosen.Right, chosen.Feedback = true, a.answer.feedback
		result.Chosen = []Option{chosen}
		return result, nil
	}
	chosen.Feedback = fmt.Sprintf("The answer is %s, not %s.", answer.Text, chosen.Text)
	for _, w := range a.wrong {
		if is(w) {
			chosen.Feedback, chosen.Misconception = w.feedback, w.misconception
		}
	}
	result.Chosen, result.Missed = []Option{chosen}, []Option{answer}
	return result, nil
}

func (a *Asked) markOrder(given []string) (Result, error) {
	var keys []string
	for _, text := range given {
		i := slices.IndexFunc(a.Items, func(item Item) bool { return oneLine(item.Text) == oneLine(text) })
		if i < 0 {
			return Result{}, a.refuse(given, nil, "this is not one of the things to put in order; choose again")
		}
		if slices.Contains(keys, a.Items[i].Key) {
			return Result{}, a.refuse(given, nil, fmt.Sprintf("%q stands twice", a.Items[i].Text))
		}
		keys = append(keys, a.Items[i].Key)
	}
	if len(keys) < len(a.order) {
		return Result{}, a.refuse(given, nil, "give each of them a place")
	}
	result := a.result()
	var key []string
	for i, k := range a.order {
		key = append(key, fmt.Sprintf("%d. %s", i+1, a.item(k).Text))
	}
	result.Key = strings.Join(key, "; ")
	result.Right = slices.Equal(keys, a.order)
	place := func(key string) int { return slices.Index(keys, key) }
	for _, m := range a.mistakes {
		if place(m.early) < place(m.late) {
			result.Chosen = append(result.Chosen, Option{Text: a.item(m.early).Text + ", before " + a.item(m.late).Text, Feedback: m.feedback, Misconception: m.misconception})
		}
	}
	named := len(result.Chosen) > 0
	for i, k := range keys {
		item := a.item(k)
		if right := a.order[i] == k; right == result.Right && !named {
			result.Chosen = append(result.Chosen, Option{Text: fmt.Sprintf("%d. %s", i+1, item.Text), Right: right, Feedback: item.Feedback})
		}
	}
	return result, nil
}

func (a *Asked) markMatch(given []string) (Result, error) {
	with := map[string]string{}
	for _, pair := range given {
		left, right, found := strings.Cut(pair, Arrow)
		i := slices.IndexFunc(a.Items, func(item Item) bool { return oneLine(item.Text) == oneLine(left) })
		if !found || i < 0 || !slices.ContainsFunc(a.Withs, func(w string) bool { return oneLine(w) == oneLine(right) }) {
			return Result{}, a.refuse(given, nil, "this is not one of those offered; choose again")
		}
		if _, twice := with[a.Items[i].Key]; twice {
			return Result{}, a.refuse(given, nil, fmt.Sprintf("%q stands twice", a.Items[i].Text))
		}
		with[a.Items[i].Key] = oneLine(right)
	}
	if len(with) < len(a.Items) {
		return Result{}, a.refuse(given, nil, "choose one for each of them")
	}
	result := a.result()
	result.Right = true
	var key []string
	for _, item := range a.Items {
		key = append(key, item.Text+Arrow+item.With)
		o := Option{Text: item.Text + Arrow + with[item.Key], Right: with[item.Key] == oneLine(item.With), Feedback: item.Feedback}
		for _, m := range a.mistakes {
			if !o.Right && m.item == item.Key && oneLine(m.with) == with[item.Key] {
				o.Feedback, o.Misconception = m.feedback, m.misconception
			}
		}
		result.Right = result.Right && o.Right
		result.Chosen = append(result.Chosen, o)
	}
	result.Key = strings.Join(key, "; ")
	return result, nil
}

// Form reads an answer from the fields of a page's form: answer for options and
// numbers; place-KEY with a number for each item to be put in order; with-KEY for
// each item that is given another. The error is an *AnswerError.
func (a *Asked) Form(fields map[string][]string) ([]string, error) {
	field := func(name string) string { return oneLine(strings.Join(fields[name], " ")) }
	switch a.Question.Kind {
	case Order:
		at := make([]string, len(a.Items))
		for _, item := range a.Items {
			n, err := strconv.Atoi(field("place-" + item.Key))
			if err != nil || n < 1 || n > len(a.Items) {
				return nil, a.refuse(nil, err, "give each of them a place")
			}
			if at[n-1] != "" {
				return nil, a.refuse(nil, nil, fmt.Sprintf("two of them have the place %d; each place is for one", n))
			}
			at[n-1] = item.Text
		}
		return at, nil
	case Match:
		var pairs []string
		for _, item := range a.Items {
			with := field("with-" + item.Key)
			if with == "" {
				return nil, a.refuse(nil, nil, "choose one for each of them")
			}
			pairs = append(pairs, item.Text+Arrow+with)
		}
		return pairs, nil
	}
	return fields["answer"], nil
}

// Fields gives the fields of a form that holds an answer: what [Asked.Form] reads.
func (a *Asked) Fields(given []string) map[string][]string {
	fields := map[string][]string{}
	switch a.Question.Kind {
	case Order:
		for i, text := range given {
			for _, item := range a.Items {
				if oneLine(item.Text) == oneLine(text) {
					fields["place-"+item.Key] = []string{strconv.Itoa(i + 1)}
				}
			}
		}
	case Match:
		for _, pair := range given {
			left, right, _ := strings.Cut(pair, Arrow)
			i := slices.IndexFunc(a.Withs, func(w string) bool { return oneLine(w) == oneLine(right) })
			for _, item := range a.Items {
				if i >= 0 && oneLine(item.Text) == oneLine(left) {
					fields["with-"+item.Key] = []string{a.Withs[i]} // as it is offered
				}
			}
		}
	default:
		fields["answer"] = given
	}
	return fields
}

func (a *Asked) result() Result {
	return Result{Why: a.Why, Sources: a.Question.Sources, Page: a.Page}
}

// Key gives an answer that is right, as [Asked.Mark] takes it.
func (a *Asked) Key() []string {
	var key []string
	switch a.Question.Kind {
	case Number:
		return []string{a.Question.form.quantity.typed(a.answer.amount, a.Question.form.size, a.Question.Unit)}
	case Order:
		for _, k := range a.order {
			key = append(key, a.item(k).Text)
		}
	case Match:
		for _, item := range a.Items {
			key = append(key, item.Text+Arrow+item.With)
		}
	default:
		for _, o := range a.Options {
			if o.Right {
				key = append(key, o.Text)
			}
		}
	}
	return key
}

func (a *Asked) item(key string) Item {
	for _, item := range a.Items {
		if item.Key == key {
			return item
		}
	}
	return Item{}
}

// option finds the option with this text, -1 for none.
func (a *Asked) option(text string) int {
	text = oneLine(text)
	return slices.IndexFunc(a.Options, func(o Option) bool { return oneLine(o.Text) == text })
}

func (a *Asked) refuse(given []string, err error, reason string) *AnswerError {
	return &AnswerError{Question: a.Question.ID, Given: given, Reason: reason, Err: err}
}

// oneLine trims a text and makes one plain space of any run of spaces and line
// ends, which browsers are free to change.
func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }
