package quiz

import "slices"

// Believed is an answer that shows a wrong belief.
type Believed struct {
	Misconception string   // id
	Given         []string // as [Asked.Mark] takes it
}

// Believed gives, for each wrong belief that the question as it was asked has a name
// for, an answer of somebody who holds it and knows the rest.
func (a *Asked) Believed() []Believed {
	var list []Believed
	add := func(belief string, given []string) {
		if belief != "" && given != nil {
			list = append(list, Believed{belief, given})
		}
	}
	for _, o := range a.Options {
		switch {
		case o.Right:
		case a.Question.Kind == Choice:
			add(o.Misconception, []string{o.Text})
		default:
			add(o.Misconception, append(a.Key(), o.Text))
		}
	}
	for _, w := range a.wrong {
		f := a.Question.form
		add(w.misconception, []string{f.quantity.typed(w.amount, f.size, a.Question.Unit)})
	}
	for _, m := range a.mistakes {
		if a.Question.Kind == Order {
			add(m.misconception, a.putEarly(m.early, m.late))
		} else {
			add(m.misconception, a.giveWith(m.item, m.with))
		}
	}
	return list
}

// putEarly is the right order with one item moved before another that it follows.
func (a *Asked) putEarly(early, late string) []string {
	from, to := slices.Index(a.order, early), slices.Index(a.order, late)
	if from < to {
		return nil
	}
	order := slices.Insert(slices.Delete(slices.Clone(a.order), from, from+1), to, early)
	given := make([]string, len(order))
	for i, key := range order {
		given[i] = a.item(key).Text
	}
	return given
}

// giveWith is the right pairs but one.
func (a *Asked) giveWith(item, with string) []string {
	given := a.Key()
	for i, it := range a.Items {
		if it.Key == item {
			given[i] = it.Text + Arrow + with
		}
	}
	return given
}
