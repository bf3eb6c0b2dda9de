package lessons

import (
	_ "embed"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
)

//go:embed find.yaml
var findFile []byte

// Asked is a question that cooks ask, and where it is answered.
type Asked struct {
	Ask      string `yaml:"ask"`
	Lesson   string `yaml:"lesson"`   // slug
	At       string `yaml:"at"`       // id of a heading in the lesson, or ""
	Scenario string `yaml:"scenario"` // slug of one to practise on, or ""
	Question string `yaml:"question"` // id of one to practise on, or ""
}

// Everyday is a word that people use, and the words of the course for it. The search
// looks for words, so each is a single one, written as it is looked for.
type Everyday struct {
	Say  string   `yaml:"say"`
	Mean []string `yaml:"mean"`
	line int
}

// UnmarshalYAML reads one everyday word and keeps its line for messages.
func (e *Everyday) UnmarshalYAML(node ast.Node) error {
	type plain Everyday // without this method
	if err := yaml.NodeToValue(node, (*plain)(e), yaml.Strict()); err != nil {
		return err
	}
	e.line = node.GetToken().Position.Line
	return nil
}

var singleWord = regexp.MustCompile(`^[\p{Ll}\p{N}]+$`)

// Finder is the index by question and the everyday words that come with the program.
type Finder struct {
	Questions []Asked    `yaml:"questions"`
	Everyday  []Everyday `yaml:"everyday"`
}

// Find returns what helps a cook who has a question. The error holds every problem of
// the file.
func Find() (Finder, error) { return parseFinder(findFile) }

func parseFinder(src []byte) (Finder, error) {
	var f Finder
	if err := yaml.UnmarshalWithOptions(src, &f, yaml.Strict()); err != nil {
		return Finder{}, fmt.Errorf("load find.yaml: %w", err)
	}
	var problems []error
	for _, q := range f.Questions {
		if !strings.HasSuffix(q.Ask, "?") && !strings.HasSuffix(q.Ask, ".") || q.Lesson == "" {
			problems = append(problems, fmt.Errorf("find.yaml: %q needs a sentence to ask and a lesson", q.Ask))
		}
	}
	said := map[string]bool{}
	for _, e := range f.Everyday {
		problem := func(format string, args ...any) {
			problems = append(problems, fmt.Errorf("find.yaml:%d: the everyday word %q "+format, slices.Concat([]any{e.line, e.Say}, args)...))
		}
		if said[e.Say] {
			problem("stands twice")
		}
		said[e.Say] = true
		if len(e.Mean) == 0 {
			problem("needs mean, a list of words")
		}
		for _, word := range slices.Concat([]string{e.Say}, e.Mean) {
			if !singleWord.MatchString(word) {
				problem("is looked for word by word: %q must be one word in small letters", word)
			}
		}
	}
	return f, errors.Join(problems...)
}
