package lessons

import (
	"bytes"
	"errors"
	"regexp"
	"slices"
	"strings"
	"time"

	"github.com/goccy/go-yaml"

	"rollingboil/lessons/markdown"
	"rollingboil/scenarios/rules"
)

// competencies are the things a canner must be able to do. A lesson names the
// ones it teaches.
var competencies = rules.Competencies()

type frontMatter struct {
	Title        string   `yaml:"title"`
	Question     string   `yaml:"question"`
	Lead         string   `yaml:"lead"`
	Minutes      int      `yaml:"minutes"`
	Able         []string `yaml:"able"`
	Competencies []string `yaml:"competencies"`
	Sources      []struct {
		ID string `yaml:"id"`
		At string `yaml:"at"`
	} `yaml:"sources"`
	Cautions []string `yaml:"cautions"`
	Reviewed string   `yaml:"reviewed"`
}

var frontMatterKeys = []string{"title", "question", "lead", "minutes", "able", "competencies", "sources", "cautions", "reviewed"}

// splitFrontMatter cuts a file at its two lines of ---. The front matter is
// nil when they are not there; bodyLine is the number of the body's first line.
func splitFrontMatter(src []byte) (front, body []byte, bodyLine int) {
	rest, found := bytes.CutPrefix(src, []byte("---\n"))
	if !found {
		return nil, nil, 0
	}
	front, body, found = bytes.Cut(rest, []byte("\n---\n"))
	if !found {
		return nil, nil, 0
	}
	return front, body, 4 + bytes.Count(front, []byte("\n"))
}

// frontMatter reads the front matter into the lesson.
func (l *loader) frontMatter(lesson *Lesson, src []byte) {
	complain := func(line int, format string, args ...any) {
		l.problems.Add(lesson.File, line, format, args...)
	}
	var front frontMatter
	if err := yaml.UnmarshalWithOptions(src, &front, yaml.Strict()); err != nil {
		line, message := 1, err.Error()
		var unknown *yaml.UnknownFieldError
		var positioned yaml.Error
		if errors.As(err, &positioned) {
			message = positioned.GetMessage()
			if token := positioned.GetToken(); token != nil {
				line = token.Position.Line + 1
				if errors.As(err, &unknown) {
					message += "; " + markdown.DidYouMean(token.Value, frontMatterKeys)
				}
			}
		}
		complain(line, "front matter: %s", message)
		return
	}

	lineOf := func(key string) int { return keyLine(src, key) }
	required := func(key string, given bool) {
		if !given {
			complain(lineOf(key), "front matter: %s is missing", key)
		}
	}
	required("title", front.Title != "")
	required("question", front.Question != "")
	required("lead", front.Lead != "")
	required("able", len(front.Able) > 0)
	required("competencies", len(front.Competencies) > 0)
	required("sources", len(front.Sources) > 0)
	required("cautions", len(front.Cautions) > 0)
	required("reviewed", front.Reviewed != "")
	if front.Question != "" && !strings.HasSuffix(front.Question, "?") {
		complain(lineOf("question"), "front matter: question ends with a question mark")
	}
	if front.Minutes < 1 || front.Minutes > 60 {
		complain(lineOf("minutes"), "front matter: minutes is %d; give the reading time, 1 to 60", front.Minutes)
	}
	for _, texts := range []struct {
		key  string
		list []string
	}{{"able", front.Able}, {"cautions", front.Cautions}} {
		if slices.Contains(texts.list, "") {
			complain(lineOf(texts.key), "front matter: %s has an empty line", texts.key)
		}
	}
	for i, c := range front.Competencies {
		if !slices.Contains(competencies, c) {
			complain(lineOf("competencies"), "front matter: unknown competency %q; %s", c, markdown.DidYouMean(c, competencies))
		}
		if slices.Contains(front.Competencies[:i], c) {
			complain(lineOf("competencies"), "front matter: competency %q stands twice", c)
		}
	}
	if _, err := time.Parse(time.DateOnly, front.Reviewed); front.Reviewed != "" && err != nil {
		complain(lineOf("reviewed"), "front matter: reviewed is %q; write the date as 2026-08-20", front.Reviewed)
	}

	lesson.Pages = map[string]string{}
	for _, s := range front.Sources {
		if s.ID == "" || s.At == "" {
			complain(lineOf("sources"), "front matter: a source needs its id and at, the part and page used")
			continue
		}
		if _, twice := lesson.Pages[s.ID]; twice {
			complain(lineOf("sources"), "front matter: source %q stands twice", s.ID)
		}
		lesson.Sources = append(lesson.Sources, s.ID)
		lesson.Pages[s.ID] = s.At
	}
	lesson.Title, lesson.Question, lesson.Lead = front.Title, front.Question, front.Lead
	lesson.Minutes, lesson.Able, lesson.Competencies = front.Minutes, front.Able, front.Competencies
	lesson.Cautions, lesson.Reviewed = front.Cautions, front.Reviewed
}

// keyLine is the line of the file a top-level key of the front matter stands
// on, or the first line when it is not there.
func keyLine(front []byte, key string) int {
	for i, line := range strings.Split(string(front), "\n") {
		if strings.HasPrefix(line, key+":") {
			return i + 2 // the file's first line is ---
		}
	}
	return 1
}

var minutesLine = regexp.MustCompile(`(?m)^minutes:.*$`)

// frontMatterWords gives the words of a front matter that are read, decoded.
func frontMatterWords(src []byte) []markdown.Words {
	var front frontMatter
	if err := yaml.UnmarshalWithOptions(src, &front, yaml.Strict()); err != nil {
		return []markdown.Words{{Text: minutesLine.ReplaceAllString(string(src), ""), Line: 2}} // as it is written, then
	}
	var words []markdown.Words
	add := func(key string, item int, text string) {
		line := keyLine(src, key)
		if item > 0 {
			line = itemLine(src, line, item)
		}
		words = append(words, markdown.Words{Text: strings.ReplaceAll(text, "\n", " "), Line: line})
	}
	add("title", 0, front.Title)
	add("question", 0, front.Question)
	add("lead", 0, front.Lead)
	for i, text := range front.Able {
		add("able", i+1, text)
	}
	for i, s := range front.Sources {
		add("sources", i+1, s.At)
	}
	for i, text := range front.Cautions {
		add("cautions", i+1, text)
	}
	return words
}

// itemLine is the line of an item, counted from 1, of a list that is written one item to
// a line below its key; the line of the key if it is written in another way.
func itemLine(front []byte, key, item int) int {
	lines := strings.Split(string(front), "\n")
	for i := key - 1; i < len(lines); i++ { // lines[key-2] is that of the key
		indented := strings.TrimLeft(lines[i], " ")
		if strings.HasPrefix(indented, "- ") {
			item--
		} else if indented == lines[i] {
			break
		}
		if item == 0 {
			return i + 2
		}
	}
	return key
}
