package server

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"
	"pgregory.net/rapid"

	"rollingboil/lessons"
	"rollingboil/server/store"
)

// draftDay is an evening of 19 November in the zone of the class, and the 20th in UTC.
var draftDay = time.Date(2026, 11, 20, 5, 0, 0, 0, time.UTC)

// draftOf drafts the lesson of a trial.
func draftOf(t testing.TB, w *trialWork) []byte {
	t.Helper()
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	draft, err := (&Server{course: course}).trialLesson(w, draftDay)
	if err != nil {
		t.Fatal(err)
	}
	return draft
}

// loadDrafts puts drafts into the course, as it is done for a class. They are named a, b
// and so on.
func loadDrafts(drafts ...[]byte) (*lessons.Library, error) {
	course, err := shippedCourse()
	if err != nil {
		return nil, err
	}
	var files []lessons.File
	for i, draft := range drafts {
		slug := string(rune('a' + i))
		files = append(files, lessons.File{Name: slug + ".md", Slug: slug, Source: draft})
	}
	return course.Lessons.With(files...)
}

// loaded is a draft as a lesson, and all that a reader reads of it.
func loaded(t testing.TB, draft []byte) (*lessons.Lesson, string) {
	t.Helper()
	library, err := loadDrafts(draft)
	if err != nil {
		t.Fatalf("%v\n%s", err, draft)
	}
	lesson, _ := library.Lesson("a")
	return lesson, lessonText(t, lesson)
}

// lessonText is the text of a lesson, its front matter included.
func lessonText(t testing.TB, lesson *lessons.Lesson) string {
	t.Helper()
	said := frontTexts(lesson)
	for _, doc := range lessonHTML(t, lesson) {
		said = append(said, text(doc))
	}
	return strings.Join(strings.Fields(strings.Join(said, " ")), " ")
}

func frontTexts(lesson *lessons.Lesson) []string {
	return slices.Concat([]string{lesson.Title, lesson.Question, lesson.Lead}, lesson.Able, lesson.Cautions)
}

// lessonHTML is the body of a lesson, part by part.
func lessonHTML(t testing.TB, lesson *lessons.Lesson) []*html.Node {
	t.Helper()
	var docs []*html.Node
	for _, part := range lesson.Parts {
		src := string(part.HTML)
		if part.Block != nil {
			src = string(part.Block.BodyHTML)
		}
		docs = append(docs, parse(t, src))
	}
	return docs
}

// trialOf is a trial that is kept nowhere, of ways by name and plan.
func trialOf(question string, ways ...string) *trialWork {
	w := &trialWork{Trial: store.Trial{Question: question}, Class: store.Class{Zone: "America/Denver"}, Records: map[string]store.ClassRecord{}}
	for i := 0; i < len(ways); i += 2 {
		w.Variants = append(w.Variants, store.TrialVariant{N: i/2 + 1, Name: ways[i], Plan: []byte(ways[i+1]), Verdict: "as-tested"})
	}
	return w
}

// enter adds a load of so many jars, of which some did not seal.
func (w *trialWork) enter(t testing.TB, variant, unsealed, jars int, more trialLoad) {
	t.Helper()
	for i := range jars {
		more.Jars = append(more.Jars, trialJar{Sealed: fmt.Sprint(i >= unsealed), Liquid: "none"})
	}
	load, err := json.Marshal(more)
	if err != nil {
		t.Fatal(err)
	}
	w.Entries = append(w.Entries, store.TrialEntry{N: len(w.Entries) + 1, Variant: variant, Kind: store.TypedEntry, Load: load})
}

// TestTrialDraftOfTheDemo: both trials of the invented class make lessons that pass every
// check of the course, that the server shows, and whose links lead somewhere.
func TestTrialDraftOfTheDemo(t *testing.T) {
	t.Parallel()
	s, server, login := newDemo(t)
	works := worksOf(t, s.store, login)
	if len(works.Trials) != 2 {
		t.Fatalf("%d trials, want 2", len(works.Trials))
	}
	folder := t.TempDir()
	if err := os.Mkdir(filepath.Join(folder, "lessons"), 0o750); err != nil {
		t.Fatal(err)
	}
	var drafts [][]byte
	for i, one := range works.Trials {
		draft, err := server.trialLesson(&trialWork{Trial: one.Trial, Class: works.Class, Variants: one.Variants, Entries: one.Entries, Events: one.Events}, draftDay)
		if err != nil {
			t.Fatal(err)
		}
		drafts = append(drafts, draft)
		if err := os.WriteFile(filepath.Join(folder, "lessons", fmt.Sprintf("90-%c.md", 'a'+i)), draft, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	library, err := loadDrafts(drafts...)
	if err != nil {
		t.Fatal(err)
	}
	for _, slug := range []string{"a", "b"} {
		lesson, _ := library.Lesson(slug)
		if block := lesson.Parts[1].Block; block == nil || block.Kind != "caution" {
			t.Errorf("%s does not begin with a caution", lesson.Title)
		}
		if lesson.Reviewed != "2026-11-19" || len(lesson.Questions) != 2 {
			t.Errorf("%s: reviewed %s, questions %q", lesson.Title, lesson.Reviewed, lesson.Questions)
		}
		said := lessonText(t, lesson)
		for _, p := range works.People {
			if strings.Contains(said, p.Name) {
				t.Errorf("%s names %s", lesson.Title, p.Name)
			}
		}
	}
	peaches, _ := library.Lesson("a")
	lemon, _ := library.Lesson("b")
	if !strings.HasPrefix(lemon.Question, "The strip says 4.2.") {
		peaches, lemon = lemon, peaches
	}
	if got, want := lemon.Title+"\n"+lemon.Question+"\n"+lemon.Lead, "A trial: The strip says 4.2. May the lemon juice stay out\nThe strip says 4.2. May the lemon juice stay out?\n“Without lemon juice” is not safe as written. A shortcut that seals is not thereby tested."; got != want {
		t.Errorf("the front matter says\n%s\nwant\n%s", got, want)
	}
	first := text(parse(t, string(lemon.Parts[1].Block.BodyHTML)))
	for _, want := range []string{"“Without lemon juice”: Not safe as written.", "not for eating and not for the shelf", "acid-left-out", "needs acid in every jar, and this plan adds none", "A pH reading does not replace the acid."} {
		if !strings.Contains(first, want) {
			t.Errorf("the caution lacks %q:\n%s", want, first)
		}
	}
	// Crushed tomatoes, hot, quarts, above 6,000 ft: 60 minutes (USDA Guide 3, p. 3-8). The
	// same minutes without the acid are no tested time.
	said := strings.ReplaceAll(lessonText(t, lemon), "\u00a0", " ")
	for _, want := range []string{"6 240 ft (1 902 m), 60 minutes.", "60 min (measured, not tested). The answer of the rules: not safe as written", "0 of 28 (likely 0 to 12 %)", "4.2 by strip, 4.2 by strip, 4.4 by strip, 4.5 by meter", "jars of each to tell", "No number of jars makes a way tested.", "Leave “Without lemon juice” alone."} {
		if !strings.Contains(said, want) {
			t.Errorf("the draft lacks %q:\n%s", want, said)
		}
	}
	if got := text(parse(t, string(peaches.Parts[1].Block.BodyHTML))); !strings.Contains(got, "As planned, every way here is as tested.") || strings.Contains(lessonText(t, peaches), "No number of jars") {
		t.Errorf("ways that are as tested are warned of: %s", got)
	}

	course, err := LoadCourse(folder)
	if err != nil {
		t.Fatal(err)
	}
	own, err := New(Config{Course: course, Store: s.store, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	web := httptest.NewServer(own.Handler())
	t.Cleanup(web.Close)
	s.URL = web.URL
	for _, slug := range []string{"a", "b"} {
		page := s.get("/lessons/" + slug)
		if page.StatusCode != http.StatusOK {
			t.Fatalf("the lesson is shown with %d", page.StatusCode)
		}
		checkPage(t, "/lessons/"+slug, parse(t, page.body))
		lesson, _ := course.Lessons.Lesson(slug)
		for _, link := range lesson.Links {
			if got := s.get(link.Target); got.StatusCode != http.StatusOK {
				t.Errorf("line %d leads to %s: %d", link.Line, link.Target, got.StatusCode)
			}
		}
	}
}

// TestTrialDraftSaysWhatThePageSays: the sentences that both have are the same.
func TestTrialDraftSaysWhatThePageSays(t *testing.T) {
	t.Parallel()
	page, err := os.ReadFile("../assets/templates/pages/trial.html")
	if err != nil {
		t.Fatal(err)
	}
	for _, says := range []string{shortcutSays, sealSays, reckonedSays, tellSays, severalSays, amissFate, fewSays, tensSays} {
		if !strings.Contains(string(page), says) {
			t.Errorf("the page does not say %q", says)
		}
	}
}

// TestTrialDraftCases: what there is to say when a trial is not whole.
func TestTrialDraftCases(t *testing.T) {
	t.Parallel()
	short := strings.Replace(testedPlan, "60 min", "45 min", 1)
	linked := func(w *trialWork) {
		w.Entries = append(w.Entries, store.TrialEntry{N: len(w.Entries) + 1, Variant: 1, Kind: store.LinkedEntry, Batch: "gone"})
	}
	for name, tc := range map[string]struct {
		work        *trialWork
		then        func(*trialWork)
		says, never []string
	}{
		"no entry": {
			trialOf("Is the oven as good", "Canner", testedPlan, "Oven", ovenPlan), nil,
			[]string{"Is the oven as good?", "“Oven” is not safe as written", "No load has been entered yet. Nothing was seen", "Two ways can be compared when each has a load", "Enter loads in the workbook"},
			[]string{"Counted", "likely"},
		},
		"one way": {
			trialOf("How do they seal?", "Canner", testedPlan), func(w *trialWork) { w.enter(t, 1, 1, 7, trialLoad{}) },
			[]string{"One way is tried, so there is nothing to hold it against", "1 of 7 (likely", "A single way has nothing to be compared with", "every way here is as tested"},
			[]string{"Fisher", "No number of jars"},
		},
		"set aside": {
			trialOf("Which?", "Canner", testedPlan, "Oven", ovenPlan), func(w *trialWork) {
				w.enter(t, 2, 0, 7, trialLoad{})
				w.Events = append(w.Events, store.TrialEvent{What: store.SetAside, Variant: 2, Says: "Ann’s oven was cold"})
			},
			[]string{"Set aside, and not counted: “Oven”. The answer of the rules: not safe as written. Its jars are not for eating", "Leave “Oven” alone too", "No load is counted any more"},
			[]string{"Ann", "0 of 7"},
		},
		"all set aside": {
			trialOf("Which?", "Oven", ovenPlan), func(w *trialWork) {
				w.Events = append(w.Events, store.TrialEvent{What: store.SetAside, Variant: 1})
			},
			[]string{"No way is compared any more", "Set aside, and not counted: “Oven”", "shortcut that seals"},
			[]string{"as tested. That comes"},
		},
		"replaced and void": {
			trialOf("Which?", "Canner", testedPlan), func(w *trialWork) {
				w.enter(t, 1, 7, 7, trialLoad{Note: "Ann helped"})
				w.enter(t, 1, 3, 7, trialLoad{})
				w.Entries[1].Replaces, w.Entries[1].Why = 1, "Ann miscounted"
				w.enter(t, 1, 5, 5, trialLoad{})
				w.Entries = append(w.Entries, store.TrialEntry{N: 4, Variant: 1, Kind: store.VoidEntry, Replaces: 3})
			},
			[]string{"3 of 7 (likely", "Not counted: 2 entries of the workbook"},
			[]string{"7 of 7", "5 of 5", "Ann"},
		},
		"short of the time": { // 60 minutes, USDA Guide 3, p. 3-8
			trialOf("Will 45 min do, or an hour?", "Whole", testedPlan, "Only 45 min", short), func(w *trialWork) {
				minutes := 80
				w.enter(t, 2, 0, 7, trialLoad{Minutes: &minutes})
			},
			[]string{
				"Will 45 min (measured, not tested) do, or an hour?", "“Only 45 min (measured, not tested)” is not safe as written",
				"45 min (measured, not tested) is shorter than the tested 60 minutes for crushed tomatoes", "Work, each load", "not said 80 min (measured, not tested)",
			},
			nil,
		},
		"too much headspace": { // 1/2 in, USDA Guide 3, p. 3-8
			trialOf("How full?", "Low", strings.Replace(testedPlan, "1/2 in", "1 in", 1)), nil,
			[]string{"How full?"},
			nil,
		},
		"not stated": {
			trialOf("Which?", "Bare", "food: tomatoes-crushed\n"), nil,
			[]string{"Not as tested: “Bare”", "A verdict needs these, and its plan does not say them: ", "altitude", "not for the shelf, whatever the seals say"},
			[]string{"as tested. That comes"},
		},
		"judged otherwise then": {
			trialOf("Which?", "Oven", ovenPlan), nil,
			[]string{"On the day it was entered the answer was: as tested."},
			nil,
		},
		"a student's batch that was deleted": {
			trialOf("Which?", "Canner", testedPlan), linked,
			[]string{"every way here is as tested", fewSays, amissFate},
			[]string{"deleted", "No load has been entered"},
		},
		"no question": {trialOf(" ?! ", "Canner", testedPlan), nil, []string{"A trial: What did this trial show", "What did this trial show?"}, nil},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			if tc.then != nil {
				tc.then(tc.work)
			}
			draft := draftOf(t, tc.work)
			_, said := loaded(t, draft)
			said = strings.ReplaceAll(said, "\u00a0", " ")
			for _, want := range tc.says {
				if !strings.Contains(said, want) {
					t.Errorf("the draft lacks %q:\n%s", want, said)
				}
			}
			for _, never := range tc.never {
				if strings.Contains(said, never) {
					t.Errorf("the draft says %q:\n%s", never, said)
				}
			}
		})
	}
}

// TestTrialDraftHoldsNoStudent: nothing of the batch of a single student is in the draft:
// not its jars, its pH, how many jars it filled or the verdict on it.
func TestTrialDraftHoldsNoStudent(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	assigned := r.assign(false)
	// 55 minutes where USDA Guide 3, p. 3-8, has 60.
	batch := strings.TrimPrefix(r.accepted(r.ann, assigned, "green box", "finished", "2026-08-20T15:25"), "/batches/")
	at := r.trial("plan-2", testedPlan)
	r.wants(r.post(at+"/workbook", url.Values{"do": {"link"}, "batch": {batch}, "n": {"1"}, "form": {strings.Repeat("a", 26)}}), http.StatusOK)
	r.wants(r.post(at+"/entry", loadForm(1, 0, 7, "yield", "6.5", "ph", "4.1", "ph-by", "meter", "note", "Ann Orchard watched")), http.StatusOK)
	ctx, id := context.Background(), at[strings.LastIndex(at, "/")+1:]
	var w trialWork
	var err error
	if w.Trial, err = r.store.Trial(ctx, r.class, id); err == nil {
		w.Variants, err = r.store.TrialVariants(ctx, id)
	}
	if err == nil {
		w.Entries, err = r.store.TrialEntries(ctx, id)
	}
	if err == nil {
		w.Records, err = r.server.acceptedRecords(ctx, r.class)
	}
	if err != nil {
		t.Fatal(err)
	}
	_, said := loaded(t, draftOf(t, &w))
	for _, want := range []string{"every way here is as tested", amissFate, "0 of 7 (likely", "6.5", "4.1 by meter", fewSays} {
		if !strings.Contains(said, want) {
			t.Errorf("the draft lacks %q:\n%s", want, said)
		}
	}
	if never := regexp.MustCompile(`Ann|Orchard|watched|green box|1 of|of 9|2, 6\.5|6\.5, 2|not every load|Held|unbroken|deleted`).FindString(said); never != "" {
		t.Errorf("the draft says %q:\n%s", never, said)
	}
}

// TestTrialDraftOfHostileTexts: whatever is typed, the draft loads, and where no figure is
// in it, a reader reads what was typed.
func TestTrialDraftOfHostileTexts(t *testing.T) {
	t.Parallel()
	pieces := rapid.OneOf(
		rapid.SampledFrom([]string{
			"Oven", "\"", "'", "\\", ":", ": ", " #", "#", "- ", "---", "\n---\n", "\n", "\r\n", "\t", "`", "```", "```caution", "*", "**", "_", "~~~", "[", "]", "[[", "]]", "[[fact rest]]", "[[measured ", "[x](/y)", "![x](y)", "{{", "}}", "{{.}}",
			"<script>alert(1)</script>", "<!--", "-->", "&lt;", "&#49;", "&", "|", "\\|", "| --- |", "1. ", "> ", "=", "+", "!", "?", "%", "@", "${x}", "https://example.org", "\u202e", "\u200b", "\ufeff", "\u2028", "\x00", "\xff", "é", "梅",
			" ", "60", "45 min", "one hour", "1/2 in", "10 lb", "6 240 ft", " min", " in", "5 to ", "-", "°", "F", "(", ")", "minutes: 9", "headspace=1/2 in", "title: x", "null", "~", "yes",
		}),
		rapid.StringN(1, 4, -1),
	)
	typed := rapid.Map(rapid.SliceOfN(pieces, 0, 7), func(p []string) string { return strings.Join(p, "") })
	plans := []string{testedPlan, ovenPlan, strings.Replace(testedPlan, "60 min", "45 min", 1), "food: tomatoes-crushed\n", testedPlan + "lids: {kind: two-piece, state: used}\n"}
	rapid.Check(t, func(r *rapid.T) {
		w := trialOf(typed.Draw(r, "question"))
		for n := range rapid.IntRange(1, 4).Draw(r, "ways") {
			w.Variants = append(w.Variants, store.TrialVariant{
				N: n + 1, Name: typed.Draw(r, "name"), Lids: typed.Draw(r, "lids"), Plan: []byte(rapid.SampledFrom(plans).Draw(r, "plan")), Verdict: "as-tested",
			})
			for range rapid.IntRange(0, 2).Draw(r, "loads") {
				ph, minutes := 4.2, 95
				w.enter(t, n+1, rapid.IntRange(0, 3).Draw(r, "unsealed"), 3, trialLoad{PH: &ph, PHBy: "strip", Minutes: &minutes, Note: typed.Draw(r, "note")})
			}
		}
		if rapid.Bool().Draw(r, "aside") {
			w.Events = append(w.Events, store.TrialEvent{What: store.SetAside, Variant: 1, Says: typed.Draw(r, "why")})
		}
		draft := draftOf(t, w)
		library, err := loadDrafts(draft)
		if err != nil {
			r.Fatalf("%v\n%s", err, draft)
		}
		lesson, _ := library.Lesson("a")
		said := lessonText(t, lesson)
		var headings, cells []string
		for _, h := range lesson.Headings {
			headings = append(headings, h.Text)
		}
		stretches := frontTexts(lesson)
		for _, doc := range lessonHTML(t, lesson) {
			walk(doc, func(n *html.Node) {
				switch {
				case n.Type == html.TextNode:
					stretches = append(stretches, n.Data)
				case n.Data == "th":
					cells = append(cells, text(n))
				case n.Data == "script":
					r.Errorf("a script stands in the lesson")
				}
			})
		}
		// The only figures without the words are the tested time, and heights.
		for _, stretch := range stretches {
			for _, figure := range regexp.MustCompile(`[0-9] ?(?:min|in|h|psi|tbsp)\b.{0,40}`).FindAllString(strings.ReplaceAll(stretch, "\u00a0", " "), -1) {
				if !strings.Contains(figure, "measured, not tested)") {
					r.Errorf("%q is not told as measured", figure)
				}
			}
		}
		for _, want := range []string{"What the tested process says", "What was asked", "What was seen", "What the figures can and cannot tell", "What to do next", "From memory"} {
			if !slices.Contains(headings, want) {
				r.Errorf("no heading %q in %q", want, headings)
			}
		}
		if asked := oneLine(w.Question); asked != "" && plainWords(asked) && !strings.Contains(said, "“"+asked+"”") {
			r.Errorf("the question %q is not read as typed:\n%s", asked, said)
		}
		if title := strings.TrimRight(oneLine(w.Question), "?!.,:; "); title != "" && plainWords(title) && (lesson.Title != "A trial: "+title || lesson.Question != title+"?") {
			r.Errorf("%q makes the title %q and the question %q", title, lesson.Title, lesson.Question)
		}
		for _, v := range w.compared() {
			if name := oneLine(v.Name); name != "" && plainWords(name) && !lessons.NamesUnit(name) && len(cells) > 0 && !slices.Contains(cells, name) {
				r.Errorf("the name %q is not among the columns %q", name, cells)
			}
		}
	})
}

// plainWords says whether there is no figure in a text.
func plainWords(text string) bool {
	return !slices.ContainsFunc(lessons.SplitFigures(text), func(s lessons.Stretch) bool { return s.Figure })
}
