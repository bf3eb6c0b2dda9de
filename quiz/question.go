package quiz

import (
	"github.com/goccy/go-yaml"

	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/rules"
)

// The kinds of question.
const (
	Choice  = "choice"  // one option is right
	Choices = "choices" // one or more options are right; all of them are to be chosen
	Number  = "number"  // a quantity is typed in
	Order   = "order"   // things are put in order
	Match   = "match"   // each thing is given one of several others
)

var kinds = []string{Choice, Choices, Number, Order, Match}

// Question is one question as written in a file of the bank. See the package
// comment for the format. [Question.Ask] makes of it what is put to a learner.
type Question struct {
	ID           string        `yaml:"id"`
	Lesson       string        `yaml:"lesson"` // slug
	Competencies []string      `yaml:"competencies"`
	Kind         string        `yaml:"kind"`
	Draw         yaml.MapSlice `yaml:"draw"`  // what is drawn, by name
	Let          yaml.MapSlice `yaml:"let"`   // what is computed, by name
	Where        []string      `yaml:"where"` // what must hold of a draw
	Stem         string        `yaml:"stem"`
	Picture      *jarPicture   `yaml:"picture"`

	Options []optionLine `yaml:"options"` // choice and choices
	Show    int          `yaml:"show"`    // choice and choices: how many options are offered; 0 for all

	Items    []itemLine    `yaml:"items"`    // order and match
	Spare    []string      `yaml:"spare"`    // match: what belongs to no item
	Mistakes []mistakeLine `yaml:"mistakes"` // order and match: mistakes that have a name

	Unit      string       `yaml:"unit"`      // number: what a bare number is read in
	Tolerance float64      `yaml:"tolerance"` // number: how far off is still right, in Unit
	Answer    figureLine   `yaml:"answer"`    // number
	Wrong     []figureLine `yaml:"wrong"`     // number: mistakes that have a name

	Why     string   `yaml:"why"`    // the reason, shown with any answer
	Sources []string `yaml:"source"` // ids of publications
	Page    string   `yaml:"page"`   // where in them

	File string `yaml:"-"`
	Line int    `yaml:"-"`

	form form
}

// Variants reports whether a question is a template whose numbers or words are
// drawn anew.
func (q *Question) Variants() bool { return len(q.form.draws) > 0 }

// Space is how many draws a question has, with those that where refuses; 1 for one
// that draws nothing.
func (q *Question) Space() int { return q.form.space }

type jarPicture struct {
	Jar       string `yaml:"jar"`
	Headspace string `yaml:"headspace"`
	Liquid    string `yaml:"liquid"`
	Lid       string `yaml:"lid"`
	Layers    bool   `yaml:"layers"`
	Bubbles   bool   `yaml:"bubbles"`
}

type optionLine struct {
	Text          string `yaml:"text"`
	Right         bool   `yaml:"right"`
	When          string `yaml:"when"`
	Feedback      string `yaml:"feedback"`
	Misconception string `yaml:"misconception"`
}

type itemLine struct {
	Key      string `yaml:"key"`
	Text     string `yaml:"text"`
	With     string `yaml:"with"`
	Feedback string `yaml:"feedback"`
}

type mistakeLine struct {
	Early         string `yaml:"early"` // order: key of the item put too early
	Late          string `yaml:"late"`  // order: key of the one it was put before
	Item          string `yaml:"item"`  // match: key of the item
	With          string `yaml:"with"`  // match: what it was given
	Misconception string `yaml:"misconception"`
	Feedback      string `yaml:"feedback"`
}

type figureLine struct {
	Is            string `yaml:"is"`
	Feedback      string `yaml:"feedback"`
	Misconception string `yaml:"misconception"`
}

// form is a question with its texts and expressions compiled.
type form struct {
	template
	stem, why, page text
	options         []optionForm
	items           []itemForm
	spare           []text
	mistakes        []mistakeForm
	answer          figureForm
	wrong           []figureForm
	picture         *pictureForm
	quantity        quantity // number: what Unit measures
	size            float64  // number: of Unit in the base unit of quantity
	tolerance       float64  // number: in the base unit of quantity
}

type optionForm struct {
	text, feedback text
	right          bool
	misconception  string
	when           *rules.Expression // nil: always
}

type itemForm struct {
	key                  string
	text, with, feedback text
}

type mistakeForm struct {
	early, late, item string
	with, feedback    text
	misconception     string
}

type figureForm struct {
	is            *rules.Expression
	feedback      text
	misconception string
}

type pictureForm struct {
	jar, headspace, liquid, lid text
	layers, bubbles             bool
}

// Option is one answer that is offered, or what is said of one that was given.
type Option struct {
	Text          string
	Right         bool
	Feedback      string
	Misconception string // id; wrong options only
}

// Item is one thing to be put in order, or to be given another.
type Item struct {
	Key, Text, With, Feedback string
}

// Picture is a jar to look at.
type Picture struct {
	Jar             string
	Headspace       measure.Length
	Liquid, Lid     string
	Layers, Bubbles bool
}
