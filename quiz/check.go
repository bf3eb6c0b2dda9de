package quiz

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"rollingboil/scenarios/rules"
)

// tries is how many draws of a question are looked over when it is loaded; Check
// looks over the rest.
const tries = 3

// checkedDraws is how many draws of a question [Bank.Check] looks over; a space up
// to four times as large is looked over whole.
const checkedDraws = 500

// try asks the question a few times, so that a course that is served can ask it.
func (c *checker) try() {
	said := map[string]bool{}
	for seed := range uint64(tries) {
		c.pages.seen = nil
		a, err := c.ask(seed)
		if err != nil {
			c.bad("id", "%w", err)
			return
		}
		for _, fault := range c.faults(a) {
			if !said[fault] {
				c.bad("id", "%s%s", drawn(a), fault)
			}
			said[fault] = true
		}
		if !c.Variants() {
			return
		}
	}
}

func drawn(a *Asked) string {
	if a.Drawn == "" {
		return ""
	}
	return a.Drawn + ": "
}

// Check looks over every draw of every question, or many of a question that has
// more: one key, nothing twice, words and numbers that can be read. The error
// holds every problem.
func (b *Bank) Check() error {
	problems := make([]error, len(b.questions))
	var together sync.WaitGroup
	for i, q := range b.questions {
		if q.Variants() {
			together.Go(func() { problems[i] = b.CheckQuestion(q) })
		}
	}
	together.Wait()
	return errors.Join(problems...)
}

// CheckQuestion looks over every draw of one question, as [Bank.Check] does of all.
func (b *Bank) CheckQuestion(loaded *Question) error {
	if !loaded.Variants() {
		return nil // looked over when it was loaded
	}
	// What is looked up notes its page, and so this is done with a question of its own.
	l := newLoader(b.options)
	own := *loaded
	own.form = form{}
	q, c := &own, &checker{loader: l, Question: &own}
	c.compile()
	c.checkFigures() // what it finds was told when the question was loaded
	var problems []error
	said := map[string]bool{}
	add := func(message string, problem error) {
		if !said[message] { // the first draw that shows it is enough
			problems = append(problems, problem)
		}
		said[message] = true
	}
	asked := 0
	look := func(a *Asked, err error) {
		if err != nil {
			add(err.Error(), err)
			return
		}
		if a == nil {
			return
		}
		asked++
		for _, fault := range c.faults(a) {
			add(fault, fmt.Errorf("%s:%d: question %s: %s%s", q.File, q.Line, q.ID, drawn(a), fault))
		}
	}
	if q.form.space <= 4*checkedDraws {
		for index := range q.form.space {
			look(q.AskDraw(index))
		}
	} else {
		for seed := range uint64(checkedDraws) {
			look(q.Ask(seed))
		}
	}
	if asked < 3 {
		problems = append(problems, fmt.Errorf("%s:%d: question %s: %d draws are left by where; leave at least three", q.File, q.Line, q.ID, asked))
	}
	return errors.Join(problems...)
}

// faults looks over a question as it is asked.
func (c *checker) faults(a *Asked) []string {
	var list []string
	fault := func(format string, args ...any) { list = append(list, fmt.Sprintf(format, args...)) }
	if g := grade(a.Stem); g > highestGrade {
		fault("stem has reading grade %.1f; use shorter words and sentences, for grade %d at most", g, highestGrade)
	}
	for _, t := range []struct{ what, text string }{{"stem", a.Stem}, {"why", a.Why}, {"page", a.Page}} {
		if strings.Contains(t.text, "{{") || strings.TrimSpace(t.text) == "" {
			fault("%s reads %q", t.what, t.text)
		}
	}
	switch c.Kind {
	case Choice, Choices:
		c.faultsOfOptions(a, fault)
	case Number:
		c.faultsOfNumber(a, fault)
	default:
		c.faultsOfItems(a, fault)
	}
	c.faultsOfFigures(a, fault)
	for _, page := range c.keyPages(a) {
		if !slices.Contains(pageNumbers(a.Page), page) {
			fault("the key stands on p. %s, which page does not name", page)
		}
	}
	return list
}

func (c *checker) faultsOfOptions(a *Asked, fault func(string, ...any)) {
	right := 0
	for i, o := range a.Options {
		if o.Right {
			right++
		}
		if oneLine(o.Text) == "" {
			fault("an option is blank")
		}
		if a.option(o.Text) < i {
			fault("option %q stands twice", o.Text)
		}
	}
	least := 2
	if c.Variants() {
		least = 3
	}
	if c.Show > 0 {
		least = c.Show
	}
	switch {
	case len(a.Options) < least:
		fault("has %d options; offer at least %d", len(a.Options), least)
	case c.Kind == Choice && right != 1:
		fault("has %d right options; a choice has exactly one", right)
	case right == 0:
		fault("has no right option")
	case right == len(a.Options):
		fault("has no wrong option")
	}
}

func (c *checker) faultsOfNumber(a *Asked, fault func(string, ...any)) {
	f := &c.form
	amount := a.answer.amount / f.size
	if math.Abs(amount*1000-math.Round(amount*1000)) > 1e-6 && f.tolerance == 0 {
		fault("the answer is %v; give a tolerance, or draw so that it comes out clean", amount)
	}
	for i, w := range a.wrong {
		near := func(other figure) bool { return math.Abs(other.amount-w.amount) <= 2*f.tolerance+1e-6 }
		if near(a.answer) {
			fault("%s is the right answer, or too near to it", f.quantity.text(w.amount))
		}
		if slices.ContainsFunc(a.wrong[:i], near) {
			fault("%s stands twice", f.quantity.text(w.amount))
		}
	}
	if f.quantity.name == duration.name && f.tolerance != 0 && len(c.keyPages(a)) > 0 {
		fault("a tested time is right to the minute; leave tolerance out")
	}
	if result, err := a.Mark(a.Key()); err != nil || !result.Right {
		fault("the answer %q is not marked right: %v", a.Key(), err)
	}
}

func (c *checker) faultsOfItems(a *Asked, fault func(string, ...any)) {
	for i, item := range a.Items {
		if oneLine(item.Text) == "" || c.Kind == Match && oneLine(item.With) == "" {
			fault("item %s is blank", item.Key)
		}
		if c.Kind == Match && strings.Contains(item.Text, strings.TrimSpace(Arrow)) {
			fault("item %q has an arrow, which parts an item from what it is given", item.Text)
		}
		if slices.ContainsFunc(a.Items[:i], func(o Item) bool { return oneLine(o.Text) == oneLine(item.Text) }) {
			fault("item %q stands twice", item.Text)
		}
	}
	if c.Kind != Match {
		return
	}
	if len(a.Withs) < 2 {
		fault("all items have the same with")
	}
	for _, m := range a.mistakes {
		if !slices.Contains(a.Withs, m.with) {
			fault("the mistake with %q is not among those offered", m.with)
		}
		if oneLine(a.item(m.item).With) == oneLine(m.with) {
			fault("the mistake with %q is the right answer", m.with)
		}
	}
}

// keyPages gives the pages on which the process table has what the key is computed
// from.
func (c *checker) keyPages(a *Asked) []string {
	c.pages.seen = nil
	v := c.form.at(a.Draw)
	key := func(t text) {
		for _, p := range t.parts {
			if p.is != nil && c.form.needs(p.is, v) == nil {
				_, _ = p.is.Run(v) // what fails here has been told
			}
		}
	}
	switch c.Kind {
	case Number:
		if c.form.needs(c.form.answer.is, v) == nil {
			_, _ = c.form.answer.is.Run(v)
		}
	case Choice, Choices:
		for _, o := range c.form.options {
			if o.right && c.offered(o, v) {
				key(o.text)
			}
		}
	}
	return c.pages.seen
}

// offered tells whether an option is offered in a draw.
func (c *checker) offered(o optionForm, v values) bool {
	if o.when == nil {
		return true
	}
	seen := c.pages.seen
	defer func() { c.pages.seen = seen }() // it chooses, and is no part of the key
	return c.holds(o.when, v)
}

// holds tells whether a condition holds in a draw.
func (c *checker) holds(when *rules.Expression, v values) bool {
	if c.form.needs(when, v) != nil {
		return false
	}
	holds, err := when.Run(v)
	return err == nil && holds == true
}

// pageNumbers takes the numbers out of a text such as "Guide 3, pp. 3-5 to 3-8".
func pageNumbers(page string) []string {
	return strings.FieldsFunc(page, func(r rune) bool { return r != '-' && (r < '0' || r > '9') })
}
