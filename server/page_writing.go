package server

import (
	"fmt"
	"go/doc/comment"
	"go/parser"
	"go/token"
	"net/http"
	"regexp"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"rollingboil/lessons"
	"rollingboil/quiz"
	"rollingboil/scenarios"
	"rollingboil/scenarios/rules"
)

// The pages about writing show what the packages say of their files, so that there is
// one description of each format, and beside it the words a file may use.

type writingPage struct {
	page
	Formats []formatPage
}

// formatPage is how one kind of file is written.
type formatPage struct {
	page
	Kind, Heading string // lesson, question or scenario; and the heading
	Means         string
	Folder, Name  string // where such a file lies in a course folder, and how it is called
	Sections      []formatSection
	Starts        []start
	Words         []wordTable
}

// formatSection is one section of a package comment.
type formatSection struct {
	Heading, ID string
	Blocks      []formatBlock
}

// formatBlock is a paragraph, a list, an explanation of keys, or a piece of a file:
// one of the four.
type formatBlock struct {
	Text  string
	Items []string
	Keys  []keyLine
	Code  string
}

// keyLine is one key, piece or function, and what it means.
type keyLine struct{ Key, Means string }

// longTable is how many words a table shows; one of more is folded up.
const longTable = 30

// wordTable lists words that a file may use. A group with a name is folded up.
type wordTable struct {
	ID, Heading, Means string
	Columns            [2]string
	Groups             []wordGroup
}

type wordGroup struct {
	Name  string // "" where the whole table is shown
	Words []wordLine
}

// add puts words into a group, which it makes when it is the first time.
func (t *wordTable) add(group string, words ...wordLine) {
	if n := len(t.Groups); n == 0 || t.Groups[n-1].Name != group {
		t.Groups = append(t.Groups, wordGroup{Name: group})
	}
	last := &t.Groups[len(t.Groups)-1]
	last.Words = append(last.Words, words...)
}

// wordLine is one word, where more is said of it, and what it means.
type wordLine struct{ ID, Path, Means string }

func (s *Server) writingPage(c *gin.Context) error {
	return s.write(c.Writer, c.Request, http.StatusOK, "writing", writingPage{newPage("How course files are written", "/writing"), s.formats})
}

func (s *Server) formatPage(c *gin.Context) error {
	i := slices.IndexFunc(s.formats, func(f formatPage) bool { return f.Kind == c.Param("kind") })
	if i < 0 {
		return errNoPage
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "format", s.formats[i])
}

// prepareFormats makes the page of each kind of file.
func (s *Server) prepareFormats() error {
	tables, err := s.wordTables()
	if err != nil {
		return err
	}
	for _, kind := range []struct {
		formatPage
		doc             string
		sections, words []string
	}{
		{
			formatPage{Kind: "lesson", Heading: "How a lesson is written", Means: "One question, why it matters, and what to do: Markdown, with figures from the tested tables.", Folder: "lessons", Name: "NN-slug.md, such as 90-my-lesson.md"},
			lessons.Format(),
			[]string{"The file", "Pieces", "Figures", "Example"},
			[]string{"competencies", "sources", "facts", "foods", "plan-words", "demonstrations", "misconceptions", "questions", "scenarios", "lessons"},
		},
		{
			formatPage{Kind: "question", Heading: "How a question is written", Means: "What is asked, what can be answered, and the reason with each answer: YAML, drawn anew for each learner if you like.", Folder: "quiz", Name: "LESSON-WORD.yaml, such as headspace-mine.yaml"},
			quiz.Format(),
			[]string{"The question file", "Drawing", "Expressions", "Figures"},
			[]string{"competencies", "lessons", "sources", "misconceptions", "foods", "plan-words", "rules", "demonstrations", "questions"},
		},
		{
			formatPage{Kind: "scenario", Heading: "How a scenario is written", Means: "A kitchen on a day, and what the learner decides there: Markdown. The program works out the answer.", Folder: "scenarios", Name: "NN-slug.md, such as 90-my-kitchen.md"},
			scenarios.Format(),
			[]string{"The scenario file", "The plan file", "The batch file"},
			[]string{"competencies", "foods", "plan-words", "jar-answers", "rules", "sources"},
		},
	} {
		p := kind.formatPage
		p.page = newPage(p.Heading, "/writing/"+p.Kind)
		if p.Sections, err = formatSections(kind.doc, kind.sections); err != nil {
			return fmt.Errorf("%s: %w", p.Kind, err)
		}
		p.Starts = startsOf(p.Kind)
		for _, id := range kind.words {
			i := slices.IndexFunc(tables, func(t wordTable) bool { return t.ID == id })
			p.Words = append(p.Words, tables[i])
		}
		s.formats = append(s.formats, p)
	}
	return nil
}

// formatSections takes the sections with these headings, in this order, out of a
// package comment.
func formatSections(doc string, headings []string) ([]formatSection, error) {
	file, err := parser.ParseFile(token.NewFileSet(), "doc.go", doc, parser.ParseComments|parser.PackageClauseOnly)
	if err != nil {
		return nil, err
	}
	var sections []formatSection
	wanted := false
	for _, block := range new(comment.Parser).Parse(file.Doc.Text()).Content {
		if h, ok := block.(*comment.Heading); ok {
			heading := wordsOf(h.Text)
			if wanted = slices.Contains(headings, heading); wanted {
				sections = append(sections, formatSection{Heading: heading, ID: strings.ReplaceAll(strings.ToLower(heading), " ", "-")})
			}
			continue
		}
		if wanted {
			last := &sections[len(sections)-1]
			last.Blocks = append(last.Blocks, formatBlockOf(block))
		}
	}
	if len(sections) != len(headings) {
		return nil, fmt.Errorf("of the sections %q the package comment has %d", headings, len(sections))
	}
	slices.SortFunc(sections, func(a, b formatSection) int {
		return slices.Index(headings, a.Heading) - slices.Index(headings, b.Heading)
	})
	return sections, nil
}

func formatBlockOf(block comment.Block) formatBlock {
	switch b := block.(type) {
	case *comment.Code:
		if keys := keyLines(b.Text); keys != nil {
			return formatBlock{Keys: keys}
		}
		return formatBlock{Code: b.Text}
	case *comment.List:
		var items []string
		for _, item := range b.Items {
			for _, p := range item.Content {
				items = append(items, formatBlockOf(p).Text)
			}
		}
		return formatBlock{Items: items}
	case *comment.Paragraph:
		return formatBlock{Text: wordsOf(b.Text)}
	}
	return formatBlock{}
}

// wordsOf is a text without its markup: a link is what it says.
func wordsOf(texts []comment.Text) string {
	var b strings.Builder
	for _, t := range texts {
		switch t := t.(type) {
		case comment.Plain:
			b.WriteString(string(t))
		case comment.Italic:
			b.WriteString(string(t))
		case *comment.Link:
			b.WriteString(wordsOf(t.Text))
		case *comment.DocLink:
			b.WriteString(wordsOf(t.Text))
		}
	}
	return strings.ReplaceAll(b.String(), "\n", " ")
}

var keyAndMeaning = regexp.MustCompile(`^(\S.*?)(?: {2,}(\S.*))?$`)

// keyLines reads a block in which each line is a key and, two spaces or more after
// it, what it means; a line that is indented goes on with the meaning. It gives nil
// for any other block. The files in the examples are indented by two at some place,
// which no such block is.
func keyLines(code string) []keyLine {
	var keys []keyLine
	for line := range strings.Lines(code) {
		line = strings.TrimRight(line, "\n")
		if more := strings.TrimLeft(line, " "); len(line)-len(more) >= 4 && len(keys) > 0 {
			last := &keys[len(keys)-1]
			last.Means = strings.TrimSpace(last.Means + " " + more)
			continue
		}
		m := keyAndMeaning.FindStringSubmatch(line)
		if m == nil {
			return nil
		}
		keys = append(keys, keyLine{m[1], m[2]})
	}
	if slices.ContainsFunc(keys, func(k keyLine) bool { return k.Means == "" }) {
		return nil
	}
	return keys
}

// wordTables lists the words of the course, as its files are checked against them.
func (s *Server) wordTables() ([]wordTable, error) {
	set, table := s.course.Grader.Rules(), s.course.Grader.Table()
	facts, err := lessons.Facts()
	if err != nil {
		return nil, err
	}
	competencies := wordTable{ID: "competencies", Heading: "Competencies", Means: "What a lesson teaches, a question shows and a scenario is about.", Columns: [2]string{"Word", "Lessons that teach it"}}
	for _, name := range rules.Competencies() {
		var taught []string
		for _, l := range s.course.Lessons.Lessons() {
			if slices.Contains(l.Competencies, name) {
				taught = append(taught, l.Title)
			}
		}
		competencies.add("", wordLine{ID: name, Means: strings.Join(taught, " · ")})
	}
	sources := wordTable{ID: "sources", Heading: "Sources", Means: "The publications that a claim or a figure may rest on.", Columns: [2]string{"Id", "Title"}}
	for _, source := range set.Sources() {
		sources.add("", wordLine{source.ID, "/sources#" + source.ID, source.Publisher + ", " + source.Title})
	}
	beliefs := wordTable{ID: "misconceptions", Heading: "Misconceptions", Means: "Wrong beliefs that have a name. A wrong answer names the one that leads there; a refute block shows one.", Columns: [2]string{"Id", "Belief"}}
	for _, m := range set.Misconceptions() {
		beliefs.add("", wordLine{ID: m.ID, Means: m.Belief})
	}
	ruled := wordTable{ID: "rules", Heading: "Rules", Means: "What a plan or a batch is checked against: for exercises, rules and in_record of a scenario, and for finds in a question. (…) stands for a value of the plan.", Columns: [2]string{"Id", "Says"}}
	for _, r := range set.Rules() {
		ruled.add("", wordLine{r.ID, "/rules/" + r.ID, placeholders.ReplaceAllString(r.Says, "(…)")})
	}
	foods := wordTable{ID: "foods", Heading: "Foods", Means: "Foods with a tested process in the table.", Columns: [2]string{"Id", "Name"}}
	for _, card := range table.Foods() {
		foods.add("", wordLine{card.Food, "/times/" + card.Food, card.Name})
	}
	planned := wordTable{ID: "plan-words", Heading: "Words of a plan", Means: "For each key of a plan, the words it may be. Jars, packs, methods and kinds of acid are called the same everywhere.", Columns: [2]string{"Key", "Words"}}
	for _, k := range scenarios.Keys() {
		if len(k.Words) > 0 {
			planned.add("", wordLine{ID: k.Name, Means: strings.Join(k.Words, ", ")})
		}
	}
	answers := wordTable{ID: "jar-answers", Heading: "What becomes of a jar", Means: "For answer of a jar on the counter.", Columns: [2]string{"Word", "Means"}}
	for _, word := range scenarios.JarAnswers() {
		answers.add("", wordLine{ID: word, Means: answerNames[word]})
	}
	shown := wordTable{ID: "demonstrations", Heading: "Demonstrations", Means: "For a bench block, and for model in a question. What each can be set to stands on its page.", Columns: [2]string{"Name", "Question it answers"}}
	for _, d := range s.bench.Demos() {
		shown.add("", wordLine{d.Name, "/bench/" + d.Name, d.Question})
	}
	taught := wordTable{ID: "lessons", Heading: "Lessons", Means: "The slug is the lesson’s name in links and in questions.", Columns: [2]string{"Slug", "Title"}}
	asked := wordTable{ID: "questions", Heading: "Questions", Means: "The questions that are there, lesson by lesson. An id is used once. What is drawn stands in double braces.", Columns: [2]string{"Id", "Asks"}}
	for _, l := range s.course.Lessons.Lessons() {
		taught.add("", wordLine{l.Slug, "/lessons/" + l.Slug, l.Title})
		for _, q := range s.course.Bank.Lesson(l.Slug) {
			asked.add(l.Title, wordLine{q.ID, "/practice/" + q.ID, q.Stem})
		}
	}
	known := wordTable{ID: "facts", Heading: "Facts", Means: "Figures that are no tested process, for [[fact …]] in a lesson and fact(…) in a question.", Columns: [2]string{"Id", "Figure"}}
	for _, f := range facts {
		known.add("", wordLine{ID: f.ID, Means: f.Text()})
	}
	kitchens := wordTable{ID: "scenarios", Heading: "Worked scenarios", Means: "For a worked block.", Columns: [2]string{"Slug", "Title"}}
	for _, scenario := range s.course.Scenarios {
		if scenario.Kind == scenarios.Worked {
			kitchens.add("", wordLine{scenario.Slug, "/scenarios/" + scenario.Slug, scenario.Title})
		}
	}
	tables := []wordTable{competencies, sources, beliefs, ruled, foods, planned, answers, shown, taught, asked, known, kitchens}
	for _, t := range tables {
		if n := len(t.Groups[0].Words); len(t.Groups) == 1 && n > longTable {
			t.Groups[0].Name = fmt.Sprintf("All %d", n)
		}
	}
	return tables, nil
}
