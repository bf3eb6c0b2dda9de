package lessons

import (
	_ "embed"
	"errors"
	"fmt"
	"strings"

	"github.com/goccy/go-yaml"
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

// Everyday is a word that people use, and the words of the course for it.
type Everyday struct {
	Say  string   `yaml:"say"`
	Mean []string `yaml:"mean"`
}

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
	for _, e := range f.Everyday {
		if e.Say == "" || len(e.Mean) == 0 {
			problems = append(problems, fmt.Errorf("find.yaml: the everyday word %q needs mean, a list of words", e.Say))
		}
	}
	return f, errors.Join(problems...)
}
