// Package hostiletest holds texts that try to run something in a reader's browser, and drafts
// of materials with places to put them in. Tests use it; the program does not.
//
// In a draft «quoted» stands for a text in the quotes of YAML, and «...» for what stands
// there, with the text in the place of $.
package hostiletest

import (
	"bytes"
	"embed"
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
)

//go:embed texts.yaml *.md question-*.yaml
var files embed.FS

// Harmless is a text that passes in every place.
const Harmless = "plain words"

// Texts lists the hostile texts.
func Texts() ([]string, error) {
	src, err := files.ReadFile("texts.yaml")
	if err != nil {
		return nil, err
	}
	var list []struct {
		Text  string `yaml:"text"`
		Times int    `yaml:"times"`
	}
	if err := yaml.UnmarshalWithOptions(src, &list, yaml.Strict()); err != nil {
		return nil, fmt.Errorf("texts.yaml: %w", err)
	}
	var texts []string
	for _, one := range list {
		texts = append(texts, strings.Repeat(one.Text, max(1, one.Times)))
	}
	return texts, nil
}

// Draft is a material with places for texts.
type Draft struct {
	Kind   string // lesson, question or scenario
	Name   string // the name that it can be kept under
	Places int    // how many texts go into it
	source string
}

// Drafts lists the drafts. With [Harmless] in every place each of them passes the checks.
func Drafts() ([]Draft, error) {
	var drafts []Draft
	for _, file := range []string{"lesson.md", "question-choice.yaml", "question-match.yaml", "scenario.md"} {
		src, err := files.ReadFile(file)
		if err != nil {
			return nil, err
		}
		name, _, _ := strings.Cut(file, ".")
		kind, _, _ := strings.Cut(name, "-")
		drafts = append(drafts, Draft{Kind: kind, Name: "hostile-" + name, Places: len(place.FindAll(src, -1)), source: string(src)})
	}
	return drafts, nil
}

var place = regexp.MustCompile(`«([^»]*)»`)

// With puts a text into each place. places tells for a line of the source, from 1, in which
// places its text stands.
func (d Draft) With(texts []string) (source string, places func(line int) []int) {
	var out strings.Builder
	var lines [][2]int // the first and the last of each place
	at, line := 0, 1
	write := func(s string) {
		out.WriteString(s)
		line += strings.Count(s, "\n")
	}
	for i, m := range place.FindAllStringSubmatchIndex(d.source, -1) {
		write(d.source[at:m[0]])
		begin := line
		switch around := d.source[m[2]:m[3]]; {
		case around == "quoted":
			write(quoted(texts[i]))
		case texts[i] == Harmless:
			write(Harmless)
		default:
			write(strings.ReplaceAll(around, "$", texts[i]))
		}
		lines = append(lines, [2]int{begin, line})
		at = m[1]
	}
	write(d.source[at:])
	return out.String(), func(line int) (found []int) {
		for i, l := range lines {
			if l[0] <= line && line <= l[1] {
				found = append(found, i)
			}
		}
		return found
	}
}

// quoted is a text as a string of JSON, which YAML reads too.
func quoted(text string) string {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(text); err != nil {
		panic(err) // a string is always JSON
	}
	return strings.TrimSuffix(b.String(), "\n")
}

// Mixed spreads the texts over as many drafts as it takes to show each of them in one place.
// With another shift each stands in another place.
func (d Draft) Mixed(texts []string, shift int) [][]string {
	var all [][]string
	for chunk := range slices.Chunk(texts, d.Places) {
		filled := make([]string, d.Places)
		for i := range filled {
			filled[i] = Harmless
		}
		for i, text := range chunk {
			filled[(i+shift)%d.Places] = text
		}
		all = append(all, filled)
	}
	return all
}

// Mended gives the texts with a harmless one in each place that a problem is about. Where
// the problems name no place, the first that is not harmless yet is taken.
func Mended(texts []string, problems []int, places func(line int) []int) []string {
	mended := slices.Clone(texts)
	for _, line := range problems {
		for _, i := range places(line) {
			mended[i] = Harmless
		}
	}
	if slices.Equal(mended, texts) {
		if i := slices.IndexFunc(mended, func(text string) bool { return text != Harmless }); i >= 0 {
			mended[i] = Harmless
		}
	}
	return mended
}
