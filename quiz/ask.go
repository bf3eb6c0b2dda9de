package quiz

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"rollingboil/scenarios/measure"
)

// Asked is a question as it is put to a learner: drawn, computed and written out.
// It does not change.
type Asked struct {
	Question *Question
	Seed     uint64
	Draw     int    // number of the draw; two that are equal ask the same
	Drawn    string // the draw in words, "food=peaches, ft=4200"

	Stem    string
	Picture *Picture
	Options []Option // choice and choices, in the order shown
	Items   []Item   // order and match, in the order shown
	Withs   []string // match: what can be given to an item, in the order shown
	Why     string
	Page    string

	answer   figure // number
	wrong    []figure
	order    []string // order: the keys of the items in the right order
	mistakes []mistake
}

// figure is the right answer to a number question, or a wrong one that has a name.
type figure struct {
	amount                  float64 // in the base unit of the question's quantity
	feedback, misconception string
}

type mistake struct {
	early, late, item, with, feedback, misconception string
}

// Ask puts the question: draws by the seed, computes what is to be computed, and
// shuffles. The same seed gives the same on every machine. Seed 0 takes the first
// draw and the order that is written. The error says which draw cannot be asked,
// and why; a bank that was checked whole has none.
func (q *Question) Ask(seed uint64) (*Asked, error) {
	a, err := q.ask(seed)
	if err != nil {
		return nil, fmt.Errorf("%s:%d: question %s: %w", q.File, q.Line, q.ID, err)
	}
	return a, nil
}

// ask is Ask with an error that does not name the question.
func (q *Question) ask(seed uint64) (*Asked, error) {
	index, v, err := q.form.pick(q.ID, seed)
	if err != nil {
		return nil, err
	}
	a, err := q.write(index, v)
	if err != nil && q.Variants() {
		return nil, fmt.Errorf("%s: %w", q.form.describe(index), err)
	}
	if err != nil {
		return nil, err
	}
	a.Seed = seed
	if seed != 0 {
		a.shuffle()
	}
	return a, nil
}

// AskDraw puts the question for the draw with this number, from 0 to below
// [Question.Space], in the order that is written; nil for a draw that where refuses.
// The error names a number beyond, or says why the draw cannot be asked.
func (q *Question) AskDraw(index int) (*Asked, error) {
	if index < 0 || index >= q.form.space {
		return nil, fmt.Errorf("%s:%d: question %s: draw %d; there are draws 0 to %d", q.File, q.Line, q.ID, index, q.form.space-1)
	}
	v := q.form.at(index)
	ok, err := q.form.allows(v)
	if err == nil && ok {
		for _, l := range q.form.lets {
			err = errors.Join(err, q.form.compute(l.name, v))
		}
	}
	var a *Asked
	if err == nil && ok {
		a, err = q.write(index, v)
	}
	if err != nil {
		return nil, fmt.Errorf("%s:%d: question %s: %s: %w", q.File, q.Line, q.ID, q.form.describe(index), err)
	}
	return a, nil
}

// writer writes texts for one draw and keeps the first error.
type writer struct {
	values values
	err    error
}

func (w *writer) text(t text) string {
	s, err := t.with(w.values)
	if err != nil && w.err == nil {
		w.err = err
	}
	return s
}

func (q *Question) write(index int, v values) (*Asked, error) {
	f, w := &q.form, &writer{values: v}
	a := &Asked{Question: q, Draw: index, Stem: w.text(f.stem), Why: w.text(f.why), Page: w.text(f.page)}
	if len(f.draws) > 0 {
		a.Drawn = f.describe(index)
	}
	if f.picture != nil {
		a.Picture = w.picture(f.picture)
	}
	switch q.Kind {
	case Choice, Choices:
		a.writeOptions(w)
	case Number:
		a.writeNumber(w)
	default:
		a.writeItems(w)
	}
	return a, w.err
}

func (w *writer) picture(f *pictureForm) *Picture {
	headspace, err := measure.ParseLength(w.text(f.headspace))
	if err != nil && w.err == nil {
		w.err = fmt.Errorf("picture: headspace: %w", err)
	}
	p := &Picture{Jar: w.text(f.jar), Headspace: headspace, Liquid: w.text(f.liquid), Lid: w.text(f.lid), Layers: f.layers, Bubbles: f.bubbles}
	for _, known := range []struct {
		word string
		list []string
	}{{p.Jar, pictureJars}, {p.Liquid, []string{"full", "third-down", "half-down"}}, {p.Lid, []string{"flat", "down", "domed"}}} {
		if !slices.Contains(known.list, known.word) && w.err == nil {
			w.err = fmt.Errorf("picture: %w", unlisted("word", known.word, known.list))
		}
	}
	return p
}

var pictureJars = []string{"quarter-pint", "half-pint", "12-oz", "pint", "24-oz", "28-oz", "quart", "half-gallon"}

// writeOptions takes the right options, and of the wrong ones as many as are
// shown: one that reads like another is passed over for the next.
func (a *Asked) writeOptions(w *writer) {
	q := a.Question
	kept := make([]Option, 0, len(q.form.options))
	rights := 0
	for _, o := range q.form.options {
		if o.right {
			rights++
		}
	}
	for _, o := range q.form.options {
		if o.when != nil {
			holds, err := o.when.Run(w.values)
			if err != nil && w.err == nil {
				w.err = err
			}
			if holds != true {
				if o.right {
					rights--
				}
				continue
			}
		}
		shown := Option{Text: w.text(o.text), Right: o.right, Feedback: w.text(o.feedback), Misconception: o.misconception}
		if i := slices.IndexFunc(kept, func(k Option) bool { return oneLine(k.Text) == oneLine(shown.Text) }); i >= 0 && q.Variants() {
			if shown.Right && !kept[i].Right {
				kept[i] = shown // the key, not the mistake that came to the same
			}
			continue
		}
		kept = append(kept, shown)
	}
	if q.Show > 0 {
		wrong := 0
		kept = slices.DeleteFunc(kept, func(o Option) bool {
			if !o.Right {
				wrong++
			}
			return !o.Right && wrong > q.Show-rights
		})
	}
	a.Options = kept
}

func (a *Asked) writeNumber(w *writer) {
	q := a.Question
	a.answer = w.figure(q.form.answer, q.form.size)
	for _, f := range q.form.wrong {
		wrong := w.figure(f, q.form.size)
		// One that comes to the same as the key, or as another, is passed over: an
		// answer between the two could be both.
		near := func(f figure) bool { return math.Abs(f.amount-wrong.amount) <= 2*q.form.tolerance+1e-6 }
		if q.Variants() && (near(a.answer) || slices.ContainsFunc(a.wrong, near)) {
			continue
		}
		a.wrong = append(a.wrong, wrong)
	}
}

func (w *writer) figure(f figureForm, size float64) figure {
	out := figure{feedback: w.text(f.feedback), misconception: f.misconception}
	got, err := f.is.Run(w.values)
	if n, ok := got.(float64); ok {
		out.amount = n * size
	}
	if err != nil && w.err == nil {
		w.err = err
	}
	return out
}

func (a *Asked) writeItems(w *writer) {
	q := a.Question
	for _, i := range q.form.items {
		item := Item{Key: i.key, Text: w.text(i.text), With: w.text(i.with), Feedback: w.text(i.feedback)}
		a.Items = append(a.Items, item)
		a.order = append(a.order, item.Key)
		if q.Kind == Match && !slices.Contains(a.Withs, item.With) {
			a.Withs = append(a.Withs, item.With)
		}
	}
	for _, s := range q.form.spare {
		if with := w.text(s); !slices.Contains(a.Withs, with) {
			a.Withs = append(a.Withs, with)
		}
	}
	for _, m := range q.form.mistakes {
		a.mistakes = append(a.mistakes, mistake{m.early, m.late, m.item, w.text(m.with), w.text(m.feedback), m.misconception})
	}
	// Written in the right order, or beside its partner; shown in another order even
	// where nothing is drawn.
	if q.Kind == Order && len(a.Items) > 1 {
		a.shuffleItems(0)
	}
	if q.Kind == Match {
		a.shuffleWiths(0)
	}
}

func (a *Asked) shuffle() {
	random := rand.New(rand.NewPCG(hash(a.Question.ID, a.Seed), a.Seed))
	random.Shuffle(len(a.Options), func(i, j int) { a.Options[i], a.Options[j] = a.Options[j], a.Options[i] })
	switch a.Question.Kind {
	case Order:
		a.shuffleItems(a.Seed)
	case Match:
		a.shuffleWiths(a.Seed)
	}
}

func (a *Asked) shuffleWiths(seed uint64) {
	random := rand.New(rand.NewPCG(hash(a.Question.ID, seed), seed))
	random.Shuffle(len(a.Withs), func(i, j int) { a.Withs[i], a.Withs[j] = a.Withs[j], a.Withs[i] })
}

// shuffleItems mixes the items, never into the right order.
func (a *Asked) shuffleItems(seed uint64) {
	random := rand.New(rand.NewPCG(hash(a.Question.ID, seed), seed))
	for {
		random.Shuffle(len(a.Items), func(i, j int) { a.Items[i], a.Items[j] = a.Items[j], a.Items[i] })
		if !slices.EqualFunc(a.Items, a.order, func(i Item, key string) bool { return i.Key == key }) {
			return
		}
	}
}
