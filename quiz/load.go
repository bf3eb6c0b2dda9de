package quiz

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"

	"rollingboil/scenarios/bench"
	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
	"rollingboil/scenarios/rules"
)

// Options are what questions are checked against and computed with. A list that
// is empty is not checked.
type Options struct {
	Table          *process.Table    // for figures that are looked up; nil if there are none
	Bench          *bench.Bench      // for figures of the models; nil if there are none
	Grade          Grade             // for verdicts on plans; nil if there are none
	Facts          map[string]string // figures that are no tested processes, as they are read, by id
	Misconceptions []string          // ids
	Sources        []string          // ids
	Lessons        []string          // slugs
}

// competencies are the things a canner must be able to do.
var competencies = rules.Competencies()

// Load reads all *.yaml files at the root of fsys. The error holds every
// problem found, each as file:line:column: message.
func Load(fsys fs.FS, o Options) (*Bank, error) {
	names, err := fs.Glob(fsys, "*.yaml")
	if err != nil {
		return nil, fmt.Errorf("load questions: %w", err)
	}
	if len(names) == 0 {
		return nil, errors.New("load questions: no *.yaml file")
	}
	loaders := make([]*loader, len(names))
	var together sync.WaitGroup
	for i, name := range names {
		src, err := fs.ReadFile(fsys, name)
		if err != nil {
			return nil, fmt.Errorf("load questions: %w", err)
		}
		loaders[i] = newLoader(o)
		loaders[i].named = true
		together.Go(func() { loaders[i].file(name, src) })
	}
	together.Wait()
	bank := &Bank{options: o, byID: map[string]*Question{}, byLesson: map[string][]*Question{}}
	var problems []error
	for _, l := range loaders {
		for _, c := range l.checked {
			q := c.Question
			if first := bank.byID[q.ID]; first != nil {
				c.bad("id", "id %q stands twice, first at %s:%d", q.ID, first.File, first.Line)
				continue
			}
			bank.byID[q.ID] = q
			bank.byLesson[q.Lesson] = append(bank.byLesson[q.Lesson], q)
			bank.questions = append(bank.questions, q)
		}
		problems = append(problems, l.problems...)
	}
	if len(problems) > 0 {
		return nil, errors.Join(problems...)
	}
	return bank, nil
}

// With gives a bank with one question more, or with this one in place of that of the
// same id; the bank it is asked of does not change. src is a file of the bank that holds
// this one question; file names it in messages and may be any name. The question may
// belong to one of these lessons, to any if there are none. [Bank.CheckQuestion] looks
// over its draws.
func (b *Bank) With(file string, src []byte, lessons []string) (*Bank, *Question, error) {
	o := b.options
	o.Lessons = lessons
	l := newLoader(o)
	l.file(file, src)
	if len(l.problems) == 0 && len(l.checked) != 1 {
		l.problem(file, nil, "there are %d questions; write one", len(l.checked))
	}
	if len(l.problems) > 0 {
		return nil, nil, errors.Join(l.problems...)
	}
	q := l.checked[0].Question
	with := &Bank{options: b.options, byID: maps.Clone(b.byID), byLesson: map[string][]*Question{}}
	with.byID[q.ID] = q
	for _, other := range b.questions {
		if other.ID == q.ID {
			other = q
		}
		with.questions = append(with.questions, other)
	}
	if b.byID[q.ID] == nil {
		with.questions = append(with.questions, q)
	}
	for _, each := range with.questions {
		with.byLesson[each.Lesson] = append(with.byLesson[each.Lesson], each)
	}
	return with, q, nil
}

func newLoader(o Options) *loader {
	noted := &pages{on: true}
	return &loader{options: o, pages: noted, language: newLanguage(words{o.Table, o.Bench, o.Grade, o.Facts, noted})}
}

// loader reads one file.
type loader struct {
	options  Options
	named    bool // whether the file is named after its lesson
	language *rules.Language
	pages    *pages
	checked  []*checker // of each question
	problems []error
}

func (l *loader) problem(file string, at *token.Token, format string, args ...any) {
	line, column := 1, 1
	if at != nil {
		line, column = at.Position.Line, at.Position.Column
	}
	l.problems = append(l.problems, fmt.Errorf("%s:%d:%d: %w", file, line, column, fmt.Errorf(format, args...)))
}

// file reads one file, question by question, so that a mistake in one does not
// hide those in the next.
func (l *loader) file(name string, src []byte) {
	defer func() { l.pages.on = false }() // from here on many goroutines may look up
	parsed, err := parser.ParseBytes(src, 0)
	if err != nil {
		l.yamlProblem(name, nil, err)
		return
	}
	list, err := questionNodes(parsed)
	if err != nil {
		l.problem(name, nil, "%w", err)
		return
	}
	for _, node := range list {
		q := &Question{File: name, Line: node.GetToken().Position.Line}
		if err := decode(node, q); err != nil {
			l.yamlProblem(name, node.GetToken(), err)
			continue
		}
		c := &checker{loader: l, node: node, Question: q}
		c.check()
		l.checked = append(l.checked, c)
	}
}

// decode reads a question. The library panics on some files that are not well formed,
// such as a tag without a value.
func decode(node ast.Node, q *Question) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = errors.New("this cannot be read as a question")
		}
	}()
	return yaml.NodeToValue(node, q, yaml.Strict())
}

// questionNodes finds the list under questions:, the one key of a file.
func questionNodes(file *ast.File) ([]ast.Node, error) {
	format := errors.New("a file has one key, questions, with a list under it")
	var body ast.Node
	for _, doc := range file.Docs {
		if doc.Body == nil {
			continue
		}
		if body != nil {
			return nil, format
		}
		body = doc.Body
	}
	entries := mapping(body)
	if len(entries) != 1 || entries[0].Key.GetToken().Value != "questions" {
		return nil, format
	}
	list, ok := entries[0].Value.(*ast.SequenceNode)
	if !ok || len(list.Values) == 0 {
		return nil, format
	}
	return list.Values, nil
}

// yamlProblem notes an error of the YAML reader at the place it names, or at
// the given place if it names none.
func (l *loader) yamlProblem(file string, at *token.Token, err error) {
	message := err.Error()
	var placed yaml.Error
	if errors.As(err, &placed) {
		message = placed.GetMessage()
		if placed.GetToken() != nil {
			at = placed.GetToken()
		}
	}
	var unknown *yaml.UnknownFieldError
	if errors.As(err, &unknown) {
		if nearest := measure.Nearest(at.Value, keys); nearest != "" {
			message += fmt.Sprintf("; did you mean %q?", nearest)
		}
	}
	var wrongType *yaml.TypeError
	if errors.As(err, &wrongType) {
		message = fmt.Sprintf("found %s where %s belongs", wrongType.SrcType, wrongType.DstType)
	}
	l.problem(file, at, "%s", message)
}

// keys are all keys of a question and its parts.
var keys = []string{
	"id", "lesson", "competencies", "kind", "draw", "let", "where", "stem", "picture", "options", "show", "items", "spare", "mistakes",
	"unit", "tolerance", "answer", "wrong", "why", "source", "page",
	"text", "right", "when", "feedback", "misconception", "is", "key", "with", "early", "late", "item",
	"jar", "headspace", "liquid", "lid", "layers", "bubbles", "from", "to", "step",
}

// checker looks one question over.
type checker struct {
	*loader
	*Question
	node  ast.Node
	known *rules.Language // with what this question draws and computes

	drawnSayings []saying // texts whose figures differ from draw to draw
	asks         bool     // whether the stem asks for a number in a unit
}

// bad notes a problem at the value with this path, such as "options.2.text".
func (c *checker) bad(path, format string, args ...any) {
	c.problem(c.File, find(c.node, path), "question %s: "+format, append([]any{c.ID}, args...)...)
}

var nameForm = regexp.MustCompile(`^[a-zA-Z]+$`)

// reservedID names no question: pages lead there to the next one that is due.
const reservedID = "next"

var idForm = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

func (c *checker) check() {
	if !idForm.MatchString(c.ID) {
		c.bad("id", "id %q; use lower-case words with hyphens", c.ID)
	}
	if c.ID == reservedID {
		c.bad("id", "id %q is the address under which the next question is found; take another", c.ID)
	}
	c.listed("lesson", "lesson", c.Lesson, c.options.Lessons)
	if stem, _ := strings.CutSuffix(c.File, ".yaml"); c.named && c.Lesson != stem && !strings.HasPrefix(stem, c.Lesson+"-") {
		c.bad("lesson", "lesson is %q, but the file is %s", c.Lesson, c.File)
	}
	if len(c.Competencies) == 0 {
		c.bad("competencies", "names no competency")
	}
	for i, name := range c.Competencies {
		c.listed(fmt.Sprintf("competencies.%d", i), "competency", name, competencies)
	}
	if len(c.Sources) == 0 {
		c.bad("source", "names no source")
	}
	for i, id := range c.Sources {
		c.listed(fmt.Sprintf("source.%d", i), "source", id, c.options.Sources)
	}
	for _, text := range []struct{ key, value string }{{"stem", c.Stem}, {"why", c.Why}, {"page", c.Page}} {
		if text.value == "" {
			c.bad(text.key, "%s is missing", text.key)
		}
	}
	if !slices.Contains(kinds, c.Kind) {
		c.listed("kind", "kind", c.Kind, kinds)
		return
	}
	c.belongs()
	before := len(c.problems)
	c.compile()
	if len(c.problems) == before {
		c.checkFigures()
		c.try()
	}
}

// listed checks a word against a list, if there is one.
func (c *checker) listed(path, what, word string, list []string) {
	if len(list) > 0 && !slices.Contains(list, word) {
		c.bad(path, "%w", unlisted(what, word, list))
	}
}

func (c *checker) checkFeedback(path string, right bool, feedback, misconception string) {
	if feedback == "" {
		c.bad(path, "feedback is missing; say why")
	}
	switch {
	case right && misconception != "":
		c.bad(path+".misconception", "a right answer comes from no misconception")
	case right:
	case misconception == "":
		c.bad(path, "misconception is missing; name the belief that leads here")
	default:
		c.listed(path+".misconception", "misconception", misconception, c.options.Misconceptions)
	}
}

// find gives the first token of the value that path leads to, or of the nearest
// part above it that is there.
func find(node ast.Node, path string) *token.Token {
	at := node.GetToken()
	if entries := mapping(node); len(entries) > 0 {
		at = entries[0].Key.GetToken()
	}
	for key := range strings.SplitSeq(path, ".") {
		var next ast.Node
		for _, entry := range mapping(node) {
			if entry.Key.GetToken().Value == key {
				at, next = entry.Key.GetToken(), entry.Value
			}
		}
		if list, ok := node.(*ast.SequenceNode); ok {
			if i, err := strconv.Atoi(key); err == nil && i < len(list.Values) {
				next = list.Values[i]
				at = next.GetToken()
				if entries := mapping(next); len(entries) > 0 {
					at = entries[0].Key.GetToken()
				}
			}
		}
		if next == nil {
			break
		}
		node = next
	}
	return at
}

// mapping gives the entries of a mapping, none for another node.
func mapping(node ast.Node) []*ast.MappingValueNode {
	switch n := node.(type) {
	case *ast.MappingNode:
		return n.Values
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{n}
	}
	return nil
}
