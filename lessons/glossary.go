package lessons

import (
	_ "embed"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"

	"rollingboil/lessons/markdown"
)

//go:embed glossary.yaml
var glossaryFile []byte

// Term is a word of the trade, told in a sentence or two.
type Term struct {
	Term   string   `yaml:"term"`
	Forms  []string `yaml:"forms"`  // how else it stands in a text: plurals, short forms
	Means  string   `yaml:"means"`  // with its figures drawn
	Lesson string   `yaml:"lesson"` // slug of the lesson that teaches it
}

// ID names the term in an address.
func (t Term) ID() string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(t.Term), func(r rune) bool {
		return (r < 'a' || r > 'z') && (r < '0' || r > '9')
	}), "-")
}

// Heading is the term as it stands over its meaning: with a capital first, unless
// it has one already, as pH has.
func (t Term) Heading() string {
	if strings.ToLower(t.Term) != t.Term {
		return t.Term
	}
	return strings.ToUpper(t.Term[:1]) + t.Term[1:]
}

// Glossary returns the terms that come with the program, in the order of the
// alphabet. The error holds every problem of the file.
func Glossary() ([]Term, error) {
	l, err := newLoader()
	if err != nil {
		return nil, err
	}
	return l.glossary(glossaryFile)
}

func (l *loader) glossary(src []byte) ([]Term, error) {
	const file = "glossary.yaml"
	var parsed struct {
		Terms []Term `yaml:"terms"`
	}
	l.checkWords(file, markdown.Words{Text: string(withoutDrawn(src)), Line: 1})
	expanded, _ := l.expand(file, src)
	if err := l.problems.Err(); err != nil {
		return nil, err
	}
	if err := yaml.UnmarshalWithOptions(expanded, &parsed, yaml.Strict()); err != nil {
		return nil, fmt.Errorf("load %s: %w", file, err)
	}
	var problems []error
	seen := map[string]string{}
	for _, t := range parsed.Terms {
		if t.Term == "" || t.Means == "" || t.Lesson == "" {
			problems = append(problems, fmt.Errorf("%s: %q needs term, means and lesson", file, t.Term))
		}
		for _, form := range append([]string{t.Term}, t.Forms...) {
			form = strings.ToLower(form)
			if other, taken := seen[form]; taken {
				problems = append(problems, fmt.Errorf("%s: %q belongs to %s and to %s", file, form, other, t.Term))
			}
			seen[form] = t.Term
		}
	}
	slices.SortFunc(parsed.Terms, func(a, b Term) int { return strings.Compare(strings.ToLower(a.Term), strings.ToLower(b.Term)) })
	return parsed.Terms, errors.Join(problems...)
}
