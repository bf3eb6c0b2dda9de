package quiz

import (
	"fmt"
	"strings"

	"rollingboil/scenarios/rules"
)

// text is a text of a question, with expressions between double braces.
type text struct {
	source string
	parts  []textPart // nil for a text without expressions
}

type textPart struct {
	literal string
	is      *rules.Expression // nil for a literal
}

// parseText reads a text. The error tells which expression cannot be used.
func parseText(source string, language *rules.Language) (text, error) {
	t := text{source: source}
	if !strings.Contains(source, "{{") {
		return t, nil
	}
	rest := source
	for {
		before, after, found := strings.Cut(rest, "{{")
		t.parts = append(t.parts, textPart{literal: before})
		if !found {
			return t, nil
		}
		inside, behind, closed := strings.Cut(after, "}}")
		if !closed {
			return t, fmt.Errorf("%q: the closing }} is missing", after)
		}
		e, err := language.Compile(strings.TrimSpace(inside))
		if err != nil {
			return t, fmt.Errorf("{{%s}}: %w", strings.TrimSpace(inside), err)
		}
		if _, yesNo := e.Sample().(bool); yesNo {
			return t, fmt.Errorf("{{%s}}: it gives yes or no, which is no text", strings.TrimSpace(inside))
		}
		t.parts = append(t.parts, textPart{is: e})
		rest = behind
	}
}

// with writes the text for the values of a draw.
func (t text) with(v values) (string, error) {
	if t.parts == nil {
		return t.source, nil
	}
	var b strings.Builder
	for _, p := range t.parts {
		if p.is == nil {
			b.WriteString(p.literal)
			continue
		}
		got, err := p.is.Run(v)
		if err != nil {
			return "", err
		}
		if n, ok := got.(float64); ok {
			got = plain(n)
		}
		fmt.Fprint(&b, got)
	}
	return b.String(), nil
}
