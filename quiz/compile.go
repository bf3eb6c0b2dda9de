package quiz

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"

	"rollingboil/scenarios/rules"
)

// belongs refuses keys that another kind of question has.
func (c *checker) belongs() {
	options, number, items := len(c.Options) > 0 || c.Show != 0, c.Unit != "" || c.Tolerance != 0 || c.Answer != (figureLine{}) || len(c.Wrong) > 0, len(c.Items) > 0 || len(c.Spare) > 0 || len(c.Mistakes) > 0
	if options && c.Kind != Choice && c.Kind != Choices {
		c.bad("kind", "options and show belong to kinds choice and choices")
	}
	if number && c.Kind != Number {
		c.bad("kind", "unit, tolerance, answer and wrong belong to kind number")
	}
	if items && c.Kind != Order && c.Kind != Match {
		c.bad("kind", "items, spare and mistakes belong to kinds order and match")
	}
	if len(c.Spare) > 0 && c.Kind == Order {
		c.bad("spare", "spare belongs to kind match")
	}
}

// compile reads every text and expression of the question.
func (c *checker) compile() {
	c.known = c.compileDraws(c.language)
	f := &c.form
	f.stem, f.why, f.page = c.text("stem", c.Stem), c.text("why", c.Why), c.text("page", c.Page)
	if p := c.Picture; p != nil {
		liquid := p.Liquid
		if liquid == "" {
			liquid = "full"
		}
		f.picture = &pictureForm{c.text("picture.jar", p.Jar), c.text("picture.headspace", p.Headspace), c.text("picture.liquid", liquid), c.text("picture.lid", p.Lid), p.Layers, p.Bubbles}
	}
	switch c.Kind {
	case Choice, Choices:
		c.compileOptions()
	case Number:
		c.compileNumber()
	default:
		c.compileItems()
	}
}

func (c *checker) text(path, source string) text {
	t, err := parseText(source, c.known)
	if err != nil {
		c.bad(path, "%s: %w", path, err)
	}
	return t
}

func (c *checker) expression(path, source string) *rules.Expression {
	e, err := c.known.Compile(source)
	if err != nil {
		c.bad(path, "%s: %s: %w", path, source, err)
	}
	return e
}

// compileDraws reads draw, let and where, and gives the language with their names.
func (c *checker) compileDraws(language *rules.Language) *rules.Language {
	f := &c.form
	f.language = language
	f.space = 1
	taken := map[string]bool{}
	name := func(path string, key any) string {
		n, ok := key.(string)
		if !ok || !nameForm.MatchString(n) {
			c.bad(path, "%v is no name; use letters only, such as feet", key)
		} else if taken[n] {
			c.bad(path, "%s stands twice", n)
		}
		taken[n] = true
		return n
	}
	for _, item := range c.Draw {
		path := fmt.Sprintf("draw.%v", item.Key)
		d := draw{name: name(path, item.Key)}
		var err error
		if d.values, err = drawValues(item.Value); err != nil {
			c.bad(path, "%s: %w", path, err)
			continue
		}
		if f.space *= len(d.values); f.space > mostDraws {
			c.bad("draw", "there are more than %d draws; take larger steps", mostDraws)
			f.space = 1
		}
		f.draws = append(f.draws, d)
		language = language.With(map[string]any{d.name: d.values[0]})
	}
	for _, item := range c.Let {
		path := fmt.Sprintf("let.%v", item.Key)
		n, source := name(path, item.Key), fmt.Sprint(item.Value)
		e, err := language.Compile(source)
		if err != nil {
			c.bad(path, "%s: %s: %w", path, source, err)
			continue
		}
		f.lets = append(f.lets, let{n, e})
		language = language.With(map[string]any{n: e.Sample()})
	}
	for i, source := range c.Where {
		path := fmt.Sprintf("where.%d", i)
		e, err := language.Compile(source)
		if err != nil {
			c.bad(path, "%s: %s: %w", path, source, err)
			continue
		}
		if _, yesNo := e.Sample().(bool); !yesNo {
			c.bad(path, "%s: it must say yes or no", source)
			continue
		}
		f.where = append(f.where, e)
	}
	if len(c.Where) > 0 && len(c.Draw) == 0 {
		c.bad("where", "where chooses among draws, and nothing is drawn")
	}
	return language
}

// drawValues reads a list of words, a list of numbers, or a range.
func drawValues(value any) ([]any, error) {
	bad := fmt.Errorf("draw from a list of words, a list of numbers, or {from, to, step}")
	switch v := value.(type) {
	case []any:
		list := make([]any, 0, len(v))
		words := 0
		for _, one := range v {
			if n, ok := asNumber(one); ok {
				one = n
			} else if _, ok := one.(string); ok {
				words++
			} else {
				return nil, bad
			}
			if slices.Contains(list, one) {
				return nil, fmt.Errorf("%v stands twice", one)
			}
			list = append(list, one)
		}
		if len(list) < 2 || words != 0 && words != len(list) {
			return nil, bad
		}
		return list, nil
	case map[string]any:
		limits := map[string]float64{}
		for key, one := range v {
			n, ok := asNumber(one)
			if !ok || !slices.Contains([]string{"from", "to", "step"}, key) {
				return nil, bad
			}
			limits[key] = n
		}
		if len(limits) != 3 {
			return nil, bad
		}
		return rangeOf(limits["from"], limits["to"], limits["step"])
	case yaml.MapSlice:
		return drawValues(v.ToMap())
	}
	return nil, bad
}

func asNumber(v any) (float64, bool) {
	switch n := v.(type) {
	case uint64:
		return float64(n), true
	case int64:
		return float64(n), true
	case int:
		return float64(n), true
	case float64:
		return n, !math.IsNaN(n) && !math.IsInf(n, 0)
	}
	return 0, false
}

func (c *checker) compileOptions() {
	rights := 0
	for i, o := range c.Options {
		path := fmt.Sprintf("options.%d", i)
		if oneLine(o.Text) == "" || strings.ContainsAny(o.Text, "\r\n") {
			c.bad(path, "an option needs a text of one line")
		}
		c.checkFeedback(path, o.Right, o.Feedback, o.Misconception)
		f := optionForm{text: c.text(path+".text", o.Text), feedback: c.text(path+".feedback", o.Feedback), right: o.Right, misconception: o.Misconception}
		if o.When != "" {
			if len(c.Draw) == 0 {
				c.bad(path+".when", "when chooses by the draw, and nothing is drawn")
			}
			f.when = c.expression(path+".when", o.When)
			if f.when != nil {
				if _, yesNo := f.when.Sample().(bool); !yesNo {
					c.bad(path+".when", "%s: it must say yes or no", o.When)
				}
			}
		}
		if o.Right {
			rights++
		}
		c.form.options = append(c.form.options, f)
	}
	if rights == 0 {
		c.bad("options", "has no right option")
	}
	if c.Show < 0 || c.Show == 1 || c.Show > len(c.Options) {
		c.bad("show", "show is %d; it says how many of the %d options are offered", c.Show, len(c.Options))
	}
}

func (c *checker) compileNumber() {
	i := slices.Index(unitNames(), c.Unit)
	if i < 0 {
		c.bad("unit", "%w", unlisted("unit", c.Unit, unitNames()))
		return
	}
	f := &c.form
	f.quantity, f.size, f.tolerance = units[i].of, units[i].size, c.Tolerance*units[i].size
	if !(c.Tolerance >= 0) || math.IsInf(c.Tolerance, 0) {
		c.bad("tolerance", "tolerance is %v; it says how far off is still right", c.Tolerance)
	}
	c.checkFeedback("answer", true, c.Answer.Feedback, c.Answer.Misconception)
	f.answer = c.figure("answer", c.Answer)
	for i, w := range c.Wrong {
		path := fmt.Sprintf("wrong.%d", i)
		c.checkFeedback(path, false, w.Feedback, w.Misconception)
		f.wrong = append(f.wrong, c.figure(path, w))
	}
}

func (c *checker) figure(path string, line figureLine) figureForm {
	if line.Is == "" {
		c.bad(path, "%s: is is missing: the number, or how it is computed", path)
	}
	f := figureForm{is: c.expression(path+".is", line.Is), feedback: c.text(path+".feedback", line.Feedback), misconception: line.Misconception}
	if f.is != nil {
		if _, number := f.is.Sample().(float64); !number {
			c.bad(path+".is", "%s: it must give a number", line.Is)
		}
	}
	return f
}

func (c *checker) compileItems() {
	var known []string
	for i, line := range c.Items {
		path := fmt.Sprintf("items.%d", i)
		switch {
		case !nameForm.MatchString(line.Key):
			c.bad(path, "key %q is no name; use letters only", line.Key)
		case slices.Contains(known, line.Key):
			c.bad(path, "key %q stands twice", line.Key)
		}
		known = append(known, line.Key)
		if oneLine(line.Text) == "" || line.Feedback == "" {
			c.bad(path, "an item needs text and feedback; say why it belongs there")
		}
		if (line.With == "") == (c.Kind == Match) {
			c.bad(path, "with belongs to kind match, and each of its items has one")
		}
		c.form.items = append(c.form.items, itemForm{line.Key, c.text(path+".text", line.Text), c.text(path+".with", line.With), c.text(path+".feedback", line.Feedback)})
	}
	if len(c.Items) < 3 {
		c.bad("items", "has %d items; give at least three", len(c.Items))
	}
	for i, s := range c.Spare {
		c.form.spare = append(c.form.spare, c.text(fmt.Sprintf("spare.%d", i), s))
	}
	if len(c.Mistakes) == 0 {
		c.bad("mistakes", "names no mistake; say which belief leads to a wrong answer")
	}
	for i, m := range c.Mistakes {
		path := fmt.Sprintf("mistakes.%d", i)
		c.checkFeedback(path, false, m.Feedback, m.Misconception)
		if c.Kind == Order {
			if m.Item != "" || m.With != "" || slices.Index(known, m.Early) <= slices.Index(known, m.Late) {
				c.bad(path, "a mistake in an order has early and late: the key of an item that is put before one it belongs behind")
			}
			c.listed(path+".late", "item", m.Late, known)
		} else {
			if m.Early != "" || m.Late != "" || m.With == "" {
				c.bad(path, "a mistake in a match has item, the key of an item, and with, what it is given")
			}
			c.listed(path+".item", "item", m.Item, known)
		}
		c.form.mistakes = append(c.form.mistakes, mistakeForm{m.Early, m.Late, m.Item, c.text(path+".with", m.With), c.text(path+".feedback", m.Feedback), m.Misconception})
	}
}
