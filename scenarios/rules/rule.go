package rules

// A Rule is one judgement on a plan or a batch, as its file states it.
type Rule struct {
	ID             string    // kebab-case, unique in the set
	Stage          string    // one of Options.Stages
	Severity       string    // safety, quality or note
	Verdict        string    // safety only: unsafe, no-tested-process or fix-first
	Field          string    // the plan's key that a finding points at, one of Options.Fields
	When           string    // the condition; true means that the rule is broken
	Says           string    // template: what is the matter with this plan
	Why            string    // template: the reason, in plain words
	Given          string    // template, may be empty: the value the plan states
	Required       string    // template, may be empty: the value that was tested
	Lesson         string    // slug of the lesson that teaches it
	Misconceptions []string  // ids of the beliefs that lead here, may be empty
	Source         string    // source ids, joined by ", " when there are several
	Breaks         []Example // plans that break the rule, at least one
	Keeps          []Example // plans that keep the rule, at least one
	File           string    // the file the rule stands in
	Line           int       // and the line it starts on, from 1
}

// An Example is one plan in a rule file, kept as it was written for the caller
// to parse and grade. Its first line is line Line of the rule file, and every
// line keeps its indentation, so a place in YAML is a place in the file once
// Line-1 is added.
type Example struct {
	YAML []byte
	Line int
}

// A Misconception is a named wrong belief with its refutation in three parts.
type Misconception struct {
	ID     string // kebab-case
	Belief string // the belief, in the learner's words
	Not    string // that it is not so
	Truth  string // what is true, and why
	Lesson string // slug of the lesson that teaches it
	Source string // source ids, joined by ", " when there are several
}

// A Source is a publication that rules and misconceptions rest on.
type Source struct {
	ID        string
	Title     string
	Publisher string
	Edition   string
	Part      string // the pages or sections meant
	Read      string // how it was read: one-copy, two-copies or from-memory
	URL       string // may be empty
}

// A Disagreement is a matter on which sources differ, with the reading taken.
type Disagreement struct {
	ID       string // kebab-case
	About    string
	Readings []Reading // two or more
	Taken    string    // the reading that is taken, or what is done instead
	Why      string    // what decided
}

// A Reading is one side of a disagreement.
type Reading struct {
	Says   string // in our own words
	Source string // source ids, joined by ", " when there are several
}

// The severities of a rule, and the one of a finding whose rule could not run.
const (
	safety     = "safety"
	quality    = "quality"
	note       = "note"
	notChecked = "not-checked"
)

// severities stands in the order in which findings are given.
var severities = []string{safety, quality, note}

var (
	verdicts = []string{"unsafe", "no-tested-process", "fix-first"}
	readings = []string{"one-copy", "two-copies", "from-memory"}
)

// A Finding is what one rule says of one plan. Its Severity is that of the rule,
// or "not-checked" when the rule could not run: then Verdict, Given and Required
// are empty and nothing is known about what the rule asks.
type Finding struct {
	Rule           string
	Severity       string
	Verdict        string
	Field          string
	Given          string
	Required       string
	Says           string
	Why            string
	Lesson         string
	Source         string
	Misconceptions []string // shared with the rule: not to be changed
}

// Options tells the engine, which knows nothing of plans, what rules may speak
// of.
type Options struct {
	// Facts is a value of the caller's facts struct, usually the zero value; the
	// package comment says what such a struct may hold. Every text is written
	// once with it when the rules are loaded.
	Facts any
	// Words lists, by fact name, the words that an enumerated fact may hold. The
	// empty word, for "not stated", is always allowed and is not listed.
	Words map[string][]string
	// Stages lists the stages in order. Evaluating one runs its own rules and
	// those of the stages before it.
	Stages []string
	// Fields lists what a rule's field may be.
	Fields []string
}

// A FactDoc describes one fact to those who write rules.
type FactDoc struct {
	Name  string   // the name in a condition
	Type  string   // bool, int, float64, string or []string
	Words []string // the words it may hold, nil when it is not enumerated
	Doc   string   // the field's doc tag
}
