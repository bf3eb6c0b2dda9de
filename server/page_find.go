package server

import (
	"cmp"
	"context"
	"fmt"
	"html"
	"html/template"
	"maps"
	"net/http"
	"regexp"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"rollingboil/lessons"
	"rollingboil/scenarios"
	"rollingboil/scenarios/measure"
	"rollingboil/server/store"
)

// search finds things in the course by words: those of the course, those that people
// use every day, and those that are misspelled.
type search struct {
	index    *store.Index
	words    []string            // every word of the course, for what is misspelled
	known    map[string]bool     // the same
	everyday map[string][]string // what people say: what the course says
}

var wordForm = regexp.MustCompile(`[\pL\pN]+`)

// common are words that every text has; looking for them finds everything.
var common = map[string]bool{}

func init() {
	for _, w := range strings.Fields("a an and are as at be by can did do does for from had has have how i if in is it its me my no not of on or should so some than that the their them there these they this to too up was we were what when where which who why will with you your") {
		common[w] = true
	}
}

// makeSearch indexes a course as it is taught. The program listens before it is done; who
// searches sooner waits.
func (s *Server) makeSearch(t *taught) (*search, error) {
	documents, err := s.documents(t)
	if err != nil {
		return nil, err
	}
	sr := &search{known: map[string]bool{}, everyday: map[string][]string{}}
	for _, d := range documents {
		for _, w := range wordForm.FindAllString(strings.ToLower(d.Title+" "+d.Text), -1) {
			if !sr.known[w] {
				sr.known[strings.Clone(w)] = true // a word must not keep its whole text
			}
		}
	}
	for _, e := range s.course.Finder.Everyday {
		sr.everyday[e.Say] = e.Mean
		sr.known[e.Say] = true
	}
	for _, w := range slices.Sorted(maps.Keys(sr.known)) {
		if len(w) > 3 {
			sr.words = append(sr.words, w)
		}
	}
	sr.index, err = store.NewIndex(context.Background(), documents)
	return sr, err
}

// documents is everything that can be found.
func (s *Server) documents(t *taught) ([]store.Document, error) {
	var list []store.Document
	add := func(kind, title, path string, text ...string) {
		list = append(list, store.Document{Kind: kind, Title: title, Path: path, Text: plain(strings.Join(text, " "))})
	}
	for _, q := range t.Finder.Questions {
		lesson, _ := t.Lessons.Lesson(q.Lesson)
		add("Asked", q.Ask, askedPath(q), lesson.Title, lesson.Lead)
	}
	for _, l := range t.Lessons.Lessons() {
		var text []string
		for _, p := range l.Parts {
			text = append(text, string(p.HTML))
		}
		add("Lesson", l.Title, "/lessons/"+l.Slug, append([]string{l.Question, l.Lead}, text...)...)
	}
	for _, term := range t.Glossary {
		add("Glossary", term.Heading(), "/glossary#"+term.ID(), strings.Join(term.Forms, " "), term.Means)
	}
	table := s.course.Grader.Table()
	for _, c := range table.Foods() {
		add("Tested times", scenarios.Sentence(c.Name), "/times/"+c.Food, strings.ReplaceAll(c.Food, "-", " "), c.Directions, c.Note)
	}
	for _, u := range table.UntestedFoods() {
		add("No tested process", scenarios.Sentence(u.Name), "/times/"+u.ID, strings.ReplaceAll(u.ID, "-", " "), u.Why)
	}
	for _, sc := range t.Scenarios {
		kase, err := s.course.Grader.Case(sc, 0)
		if err != nil {
			return nil, err
		}
		add("Scenario", sc.Title, "/scenarios/"+sc.Slug, string(kase.Body))
	}
	for _, d := range s.bench.Demos() {
		add("Demonstration", d.Question, "/bench/"+d.Name, d.Title, d.About)
	}
	for _, r := range s.course.Grader.Rules().Rules() {
		add("Rule", strings.ReplaceAll(scenarios.Sentence(r.ID), "-", " "), "/rules/"+r.ID, templateWords.ReplaceAllString(r.Says, "the food"), r.Why)
	}
	return list, nil
}

// templateWords are the places in a rule's sentence that are filled in for a plan.
var templateWords = regexp.MustCompile(`\{\{[^}]*\}\}`)

var tags = regexp.MustCompile(`<[^>]*>`)

// plain takes the tags off a text.
func plain(text string) string {
	return strings.Join(strings.Fields(html.UnescapeString(tags.ReplaceAllString(text, " "))), " ")
}

func askedPath(q lessons.Asked) string {
	path := "/lessons/" + q.Lesson
	if q.At != "" {
		path += "#" + q.At
	}
	return path
}

const (
	most = 20 // things are shown for one search
	few  = 6  // are too little to stop at
)

// find looks for what was typed. corrected is what was looked for instead of words that
// the course does not have, "" when there were none.
func (sr *search) find(ctx context.Context, typed string) (found []store.Found, corrected string, err error) {
	var words [][]string
	var said []string
	changed := false
	for _, w := range wordForm.FindAllString(strings.ToLower(typed), 12) {
		if common[w] {
			continue
		}
		if !sr.holds(w) {
			if near := measure.Nearest(w, sr.words); near != "" {
				w, changed = near, true
			}
		}
		said = append(said, w)
		words = append(words, append([]string{w}, sr.everyday[w]...))
	}
	if changed {
		corrected = strings.Join(said, " ")
	}
	found, err = sr.index.Find(ctx, words, 3*most)
	if err == nil && len(found) < few && len(words) > 1 {
		// Little has all of it: then also what has most of it.
		var more []store.Found
		more, err = sr.index.Find(ctx, [][]string{slices.Concat(words...)}, most)
		byKind(more)
		more = slices.DeleteFunc(more, func(f store.Found) bool {
			return slices.ContainsFunc(found, func(g store.Found) bool { return g.Path == f.Path })
		})
		byKind(found)
		return append(found, more[:min(len(more), 2*few)]...), corrected, err
	}
	byKind(found)
	return found[:min(len(found), most)], corrected, err
}

// kindWeight puts what answers a question above what only mentions its words.
var kindWeight = map[string]float64{"Asked": 1.6, "Lesson": 1.6, "Glossary": 1.3, "Tested times": 1.2, "No tested process": 1.2, "Demonstration": 0.9, "Scenario": 0.8, "Rule": 0.5}

func byKind(found []store.Found) {
	slices.SortStableFunc(found, func(a, b store.Found) int {
		return cmp.Compare(b.Score*kindWeight[b.Kind], a.Score*kindWeight[a.Kind])
	})
}

// holds reports whether some word of the course begins with this one.
func (sr *search) holds(word string) bool {
	if sr.known[word] {
		return true
	}
	i, _ := slices.BinarySearch(sr.words, word)
	return len(word) > 2 && i < len(sr.words) && strings.HasPrefix(sr.words[i], word)
}

type findPage struct {
	page
	Typed, Corrected string
	Found            []foundLine
	Questions        []askedLine
}

type foundLine struct {
	Kind, Title, Path string
	Own               bool
	Around            template.HTML
}

type askedLine struct {
	lessons.Asked
	Path                       string
	LessonTitle, ScenarioTitle string
}

func (s *Server) findPage(c *gin.Context) error {
	data := findPage{page: newPage("Find an answer", "/find"), Typed: strings.TrimSpace(c.Query("q"))}
	if len(data.Typed) > 200 {
		data.Typed = data.Typed[:200]
	}
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	if data.Typed != "" {
		search, err := t.search()
		if err != nil {
			return err
		}
		found, corrected, err := search.find(c.Request.Context(), data.Typed)
		if err != nil {
			return err
		}
		data.Corrected = corrected
		for _, f := range found {
			data.Found = append(data.Found, foundLine{f.Kind, f.Title, f.Path, t.ownAt(f.Path), marked(f.Around)})
		}
	}
	data.Questions = t.asked
	return s.write(c.Writer, c.Request, http.StatusOK, "find", data)
}

// marked makes HTML of the words around what was found.
func marked(around string) template.HTML {
	return template.HTML(strings.NewReplacer(store.MarkOpen, "<mark>", store.MarkClose, "</mark>").Replace(html.EscapeString(around)))
}

// ownAt reports whether a page shows a lesson or a scenario that is not the course's own.
func (t *taught) ownAt(path string) bool {
	if slug, ok := strings.CutPrefix(path, "/lessons/"); ok {
		return t.has(store.LessonMaterial, slug)
	}
	slug, ok := strings.CutPrefix(path, "/scenarios/")
	return ok && t.has(store.ScenarioMaterial, slug)
}

// fillAsked joins the index by question with what it leads to.
func (t *taught) fillAsked() error {
	for _, q := range t.Finder.Questions {
		lesson, ok := t.Lessons.Lesson(q.Lesson)
		if !ok {
			return fmt.Errorf("find.yaml: there is no lesson %q", q.Lesson)
		}
		line := askedLine{Asked: q, Path: askedPath(q), LessonTitle: lesson.Title}
		if q.Scenario != "" {
			sc := t.scenario(q.Scenario)
			if sc == nil {
				return fmt.Errorf("find.yaml: there is no scenario %q", q.Scenario)
			}
			line.ScenarioTitle = sc.Title
		}
		if _, ok := t.Bank.Question(q.Question); q.Question != "" && !ok {
			return fmt.Errorf("find.yaml: there is no question %q", q.Question)
		}
		t.asked = append(t.asked, line)
	}
	return nil
}
