package rules

import (
	"strings"
	"text/template"
)

// text is a text over the facts. Most have nothing to fill in and are kept as
// they are.
type text struct {
	plain  string
	filled *template.Template
}

func parseText(s string) (text, error) {
	if !strings.Contains(s, "{{") {
		return text{plain: s}, nil
	}
	t, err := template.New("text").Option("missingkey=error").Parse(s)
	return text{filled: t}, err
}

func (t *text) write(facts any) (string, error) {
	if t.filled == nil {
		return t.plain, nil
	}
	var b strings.Builder
	err := t.filled.Execute(&b, facts)
	return b.String(), err
}
