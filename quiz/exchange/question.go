package exchange

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"rollingboil/quiz"
)

// Caution goes with every sheet of questions that leaves the course.
const Caution = "This course teaches. It does not approve your jars. Follow a tested recipe and the directions of the people who made your jars, lids and canner. Ask your county or state extension service about your food, your canner and your altitude. When in doubt, throw it out."

// DefaultVariants is how many variants of a template are written unless somebody
// says otherwise.
const DefaultVariants = 3

// MaxVariants is the most variants of one template that are written.
const MaxVariants = 20

// Set is a list of questions, each drawn, computed and written out.
type Set struct {
	Title     string
	Questions []Question
}

// Question is one question as a learner gets it for a seed, with its key and all that
// is said of an answer. Which of the parts a kind has is told in the package comment.
type Question struct {
	ID           string   `json:"id"`
	Seed         uint64   `json:"seed,string"`     // a string, since many readers keep 53 bits of a number (RFC 7493, section 2.2)
	Drawn        string   `json:"drawn,omitempty"` // the draw in words
	Lesson       string   `json:"lesson"`          // slug
	Competencies []string `json:"competencies"`
	Kind         string   `json:"kind"`
	Stem         string   `json:"stem"`
	Picture      *Picture `json:"picture,omitempty"`

	Options  []Option  `json:"options,omitempty"`
	Number   *Number   `json:"number,omitempty"`
	Items    []Item    `json:"items,omitempty"`
	Order    []string  `json:"order,omitempty"`
	Withs    []string  `json:"withs,omitempty"`
	Mistakes []Mistake `json:"mistakes,omitempty"`

	Why     string   `json:"why"`
	Sources []string `json:"sources"` // ids of publications
	Page    string   `json:"page"`
}

// Picture is a drawn jar, and what can be seen in it, in words.
type Picture struct {
	Jar         string  `json:"jar"`
	HeadspaceIn float64 `json:"headspace_in"` // in inches
	Liquid      string  `json:"liquid"`       // full, third-down or half-down: how far it has sunk
	Lid         string  `json:"lid"`          // flat, down or domed
	Layers      bool    `json:"layers"`
	Bubbles     bool    `json:"bubbles"`
	Says        string  `json:"says"`
}

// Option is one answer that is offered.
type Option struct {
	Text          string `json:"text"`
	Right         bool   `json:"right"`
	Feedback      string `json:"feedback"`
	Misconception string `json:"misconception,omitempty"` // id; wrong options only
}

// Number is what is asked for by a number question.
type Number struct {
	Unit      string   `json:"unit"`      // of all amounts, and of a bare number that is typed
	Tolerance float64  `json:"tolerance"` // how far off is still right
	Answer    Figure   `json:"answer"`
	Wrong     []Figure `json:"wrong,omitempty"` // mistakes that have a name
}

// Figure is the right number, or a wrong one that has a name.
type Figure struct {
	Amount        float64 `json:"amount"`
	Text          string  `json:"text"` // in both unit systems
	Feedback      string  `json:"feedback"`
	Misconception string  `json:"misconception,omitempty"`
}

// Item is one thing to be put in order, or to be given another.
type Item struct {
	Key      string `json:"key"`
	Text     string `json:"text"`
	With     string `json:"with,omitempty"` // match: what belongs to it
	Feedback string `json:"feedback"`
}

// Mistake is a wrong order, or a wrong pair, that has a name.
type Mistake struct {
	Early         string `json:"early,omitempty"` // order: key of the item put before Late
	Late          string `json:"late,omitempty"`
	Item          string `json:"item,omitempty"` // match: key of the item given With
	With          string `json:"with,omitempty"`
	Feedback      string `json:"feedback"`
	Misconception string `json:"misconception"`
}

// Ref names a question as it is put for a seed.
type Ref struct {
	ID   string
	Seed uint64
}

// Pick takes the questions that are named, in that order. The error names every one
// that is not in the bank or cannot be asked.
func Pick(bank *quiz.Bank, refs []Ref) (Set, error) {
	var set Set
	var problems []error
	for _, ref := range refs {
		q, ok := bank.Question(ref.ID)
		if !ok {
			problems = append(problems, fmt.Errorf("there is no question %q", ref.ID))
			continue
		}
		asked, err := q.Ask(ref.Seed)
		if err != nil {
			problems = append(problems, err)
			continue
		}
		set.Questions = append(set.Questions, Freeze(asked))
	}
	return set, errors.Join(problems...)
}

// Variants takes each question as many times as it has different draws, k times at
// most, and one that draws nothing once. Seeds count from 1, so that nothing stands
// in the order in which it was written; one that leads to a draw that was taken is
// passed over.
func Variants(questions []*quiz.Question, k int) (Set, error) {
	if k < 1 || k > MaxVariants {
		return Set{}, fmt.Errorf("%d variants of a question; write 1 to %d", k, MaxVariants)
	}
	var set Set
	for _, q := range questions {
		var draws []int
		for seed := uint64(1); len(draws) < min(k, q.Space()) && seed <= uint64(20*k); seed++ {
			asked, err := q.Ask(seed)
			if err != nil {
				return Set{}, err
			}
			if slices.Contains(draws, asked.Draw) {
				continue
			}
			draws = append(draws, asked.Draw)
			set.Questions = append(set.Questions, Freeze(asked))
		}
	}
	return set, nil
}

// Freeze writes out a question as it was asked.
func Freeze(a *quiz.Asked) Question {
	q := a.Question
	out := Question{
		ID: q.ID, Seed: a.Seed, Drawn: a.Drawn, Lesson: q.Lesson, Competencies: slices.Clone(q.Competencies), Kind: q.Kind,
		Stem: a.Stem, Why: a.Why, Sources: slices.Clone(q.Sources), Page: a.Page,
	}
	if p := a.Picture; p != nil {
		out.Picture = &Picture{p.Jar, float64(p.Headspace), p.Liquid, p.Lid, p.Layers, p.Bubbles, pictureSays(p)}
	}
	for _, o := range a.Options {
		out.Options = append(out.Options, Option(o))
	}
	if q.Kind == quiz.Number {
		n := &Number{Unit: q.Unit, Tolerance: rounded(a.Within()), Answer: Figure(a.Answer())}
		for _, w := range a.NamedWrong() {
			n.Wrong = append(n.Wrong, Figure(w))
		}
		out.Number = n
	}
	for _, item := range a.Items {
		out.Items = append(out.Items, Item(item))
	}
	if q.Kind == quiz.Order {
		out.Order = a.OrderKeys()
	}
	out.Withs = slices.Clone(a.Withs)
	for _, m := range a.Mistakes() {
		out.Mistakes = append(out.Mistakes, Mistake(m))
	}
	return out
}

// pictureSays tells what can be seen in the jar, for those who get no picture.
func pictureSays(p *quiz.Picture) string {
	says := fmt.Sprintf("A %s jar with %s of headspace", strings.ReplaceAll(p.Jar, "-", " "), p.Headspace.Both())
	switch p.Liquid {
	case "third-down":
		says += ", a third of its liquid lost: the food at the top stands dry"
	case "half-down":
		says += ", half of its liquid lost: the food in the upper half stands dry"
	}
	if p.Layers {
		says += ", a watery layer at the bottom"
	}
	if p.Bubbles {
		says += ", bubbles between the pieces"
	}
	switch p.Lid {
	case "down":
		says += ". The lid is drawn down in the middle."
	case "domed":
		says += ". The lid is pushed up in the middle."
	default:
		says += ". The lid lies flat under its band."
	}
	return says
}

// key is the right answer in words.
func (q Question) key() string {
	var parts []string
	switch q.Kind {
	case quiz.Number:
		return q.Number.Answer.Text
	case quiz.Order:
		for i, key := range q.Order {
			parts = append(parts, fmt.Sprintf("%d. %s", i+1, line(q.item(key).Text)))
		}
	case quiz.Match:
		for _, item := range q.Items {
			parts = append(parts, line(item.Text)+quiz.Arrow+line(item.With))
		}
	default:
		for _, o := range q.Options {
			if o.Right {
				parts = append(parts, line(o.Text))
			}
		}
	}
	return strings.Join(parts, "; ")
}

// wrongAnswers are the wrong answers that have a name, in words.
func (q Question) wrongAnswers() []Option {
	var list []Option
	for _, o := range q.Options {
		if !o.Right {
			list = append(list, o)
		}
	}
	if q.Number != nil {
		for _, w := range q.Number.Wrong {
			list = append(list, Option{Text: w.Text, Feedback: w.Feedback, Misconception: w.Misconception})
		}
	}
	for _, m := range q.Mistakes {
		list = append(list, Option{Text: q.mistakeText(m), Feedback: m.Feedback, Misconception: m.Misconception})
	}
	return list
}

func (q Question) mistakeText(m Mistake) string {
	if q.Kind == quiz.Order {
		return line(q.item(m.Early).Text) + ", before " + line(q.item(m.Late).Text)
	}
	return line(q.item(m.Item).Text) + quiz.Arrow + line(m.With)
}

func (q Question) item(key string) Item {
	if i := q.itemIndex(key); i >= 0 {
		return q.Items[i]
	}
	return Item{}
}

func (q Question) itemIndex(key string) int {
	return slices.IndexFunc(q.Items, func(item Item) bool { return item.Key == key })
}

// source is where the answer can be looked up.
func (q Question) source() string { return strings.Join(q.Sources, ", ") + "; " + line(q.Page) }

// line makes one line of a text.
func line(s string) string { return strings.Join(strings.Fields(s), " ") }

// slack is more than the tolerance of a number that must be met exactly: it is there
// for numbers that were converted, and nobody needs to be told of it.
const slack = 1e-5

// rounded keeps nine decimals, a thousandth of the least tolerance there is.
func rounded(v float64) float64 { return math.Round(v*1e9) / 1e9 }

// decimal writes a number without an exponent.
func decimal(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

var (
	idForm  = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)
	keyForm = regexp.MustCompile(`^[a-zA-Z]+$`)
)

// Check looks for what would make a question unfit to be asked or scored. The error
// holds every problem.
func (s Set) Check() error {
	var problems []error
	seen := map[Ref]bool{}
	for i, q := range s.Questions {
		ref := Ref{q.ID, q.Seed}
		if seen[ref] {
			problems = append(problems, fmt.Errorf("question %d (%s, seed %d): stands twice", i+1, q.ID, q.Seed))
		}
		seen[ref] = true
		for _, fault := range q.faults() {
			problems = append(problems, fmt.Errorf("question %d (%s, seed %d): %s", i+1, q.ID, q.Seed, fault))
		}
	}
	return errors.Join(problems...)
}

func (q Question) faults() []string {
	var list []string
	need := func(ok bool, format string, args ...any) {
		if !ok {
			list = append(list, fmt.Sprintf(format, args...))
		}
	}
	need(idForm.MatchString(q.ID), "id %q; use lower-case words with hyphens", q.ID)
	need(idForm.MatchString(q.Lesson), "lesson %q; use the slug of a lesson", q.Lesson)
	need(line(q.Stem) != "", "stem is missing")
	need(line(q.Why) != "", "why is missing")
	need(len(q.Sources) > 0 && line(q.Page) != "", "sources or page are missing")
	options, number, items := q.Kind == quiz.Choice || q.Kind == quiz.Choices, q.Kind == quiz.Number, q.Kind == quiz.Order || q.Kind == quiz.Match
	need(options || number || items, "kind %q; use choice, choices, number, order or match", q.Kind)
	need(options || len(q.Options) == 0, "options belong to kinds choice and choices")
	need(number == (q.Number != nil), "number belongs to kind number, which needs it")
	need(items || len(q.Items)+len(q.Mistakes) == 0, "items and mistakes belong to kinds order and match")
	need(q.Kind == quiz.Order || len(q.Order) == 0, "order belongs to kind order")
	need(q.Kind == quiz.Match || len(q.Withs) == 0, "withs belong to kind match")
	switch {
	case len(list) > 0:
	case options:
		q.optionFaults(need)
	case number:
		n := q.Number
		need(n.Unit != "", "unit is missing")
		need(n.Tolerance >= 0, "tolerance is %v; it says how far off is still right", n.Tolerance)
	default:
		q.itemFaults(need)
	}
	return list
}

func (q Question) optionFaults(need func(bool, string, ...any)) {
	right := 0
	for i, o := range q.Options {
		if o.Right {
			right++
		}
		need(line(o.Text) != "", "option %d has no text", i+1)
		need(!slices.ContainsFunc(q.Options[:i], func(before Option) bool { return line(before.Text) == line(o.Text) }), "option %q stands twice", o.Text)
		need(o.Right == (o.Misconception == ""), "option %q: a wrong one names a misconception, a right one none", o.Text)
	}
	need(right > 0 && right < len(q.Options), "%d of %d options are right; there must be right and wrong ones", right, len(q.Options))
	need(q.Kind != quiz.Choice || right == 1, "%d right options; a choice has exactly one", right)
}

func (q Question) itemFaults(need func(bool, string, ...any)) {
	need(len(q.Items) >= 2, "has %d items; there must be two at least", len(q.Items))
	for i, item := range q.Items {
		need(keyForm.MatchString(item.Key) && q.itemIndex(item.Key) == i, "key %q; use letters only, and each key once", item.Key)
		need(line(item.Text) != "", "item %q has no text", item.Key)
		need(!slices.ContainsFunc(q.Items[:i], func(before Item) bool { return line(before.Text) == line(item.Text) }), "item %q stands twice", item.Text)
		if q.Kind == quiz.Match {
			need(q.withIndex(item.With) >= 0, "item %q belongs with %q, which is not among withs", item.Key, item.With)
		} else {
			need(item.With == "", "item %q: with belongs to kind match", item.Key)
			need(slices.Contains(q.Order, item.Key), "item %q is not in order", item.Key)
		}
	}
	need(q.Kind == quiz.Match || len(q.Order) == len(q.Items), "order has %d keys for %d items", len(q.Order), len(q.Items))
	for i, with := range q.Withs {
		need(line(with) != "" && q.withIndex(with) == i, "with %q is empty or stands twice", with)
	}
	for _, m := range q.Mistakes {
		if q.Kind == quiz.Match {
			need(q.itemIndex(m.Item) >= 0 && q.withIndex(m.With) >= 0, "a mistake gives %q to %q, which are not both offered", m.With, m.Item)
		} else {
			need(q.itemIndex(m.Early) >= 0 && q.itemIndex(m.Late) >= 0, "a mistake puts %q before %q, which are not both offered", m.Early, m.Late)
		}
	}
}

func (q Question) withIndex(with string) int {
	return slices.IndexFunc(q.Withs, func(w string) bool { return line(w) == line(with) })
}
