package quiz

import "slices"

// Figure is the right answer to a number question, or a wrong one that has a name.
type Figure struct {
	Amount        float64 // in the question's Unit
	Text          string  // with its unit, in both unit systems
	Feedback      string
	Misconception string // id; wrong ones only
}

// Mistake is a wrong answer that has a name: in an order question Early was put
// before Late, in a match question Item was given With. Early, Late and Item are keys
// of items.
type Mistake struct {
	Early, Late, Item, With, Feedback, Misconception string
}

// Answer is the right answer to a number question.
func (a *Asked) Answer() Figure { return a.figure(a.answer) }

// NamedWrong lists the wrong answers to a number question that have a name. No two
// are so near to each other, or to the right one, that an answer could be both.
func (a *Asked) NamedWrong() []Figure {
	var list []Figure
	for _, w := range a.wrong {
		list = append(list, a.figure(w))
	}
	return list
}

func (a *Asked) figure(f figure) Figure {
	form := &a.Question.form
	return Figure{f.amount / form.size, form.quantity.text(f.amount), f.feedback, f.misconception}
}

// Within is how far off a number may be and still be marked right, in the question's
// Unit: its tolerance, and the millionth of a base unit that [Asked.Mark] allows for
// numbers that were converted.
func (a *Asked) Within() float64 {
	return (a.Question.form.tolerance + 1e-6) / a.Question.form.size
}

// Amount reads a number as [Asked.Mark] does and gives it in the question's Unit.
// The error is an *AnswerError.
func (a *Asked) Amount(typed string) (float64, error) {
	form := &a.Question.form
	amount, err := form.quantity.read(oneLine(typed), a.Question.Unit)
	if err != nil {
		return 0, a.refuse([]string{typed}, err, "this cannot be read as "+form.quantity.name+"; write it like "+form.quantity.example)
	}
	return amount / form.size, nil
}

// OrderKeys lists the keys of the items of an order question in the right order.
func (a *Asked) OrderKeys() []string { return slices.Clone(a.order) }

// Mistakes lists the wrong answers to an order or match question that have a name.
func (a *Asked) Mistakes() []Mistake {
	var list []Mistake
	for _, m := range a.mistakes {
		list = append(list, Mistake{m.early, m.late, m.item, m.with, m.feedback, m.misconception})
	}
	return list
}
