package lessons

import (
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"rollingboil/lessons/markdown"
)

func shipped(t *testing.T) *Library {
	t.Helper()
	library, err := Load(Shipped())
	if err != nil {
		t.Fatalf("the shipped lessons have problems:\n%v", err)
	}
	return library
}

func TestShippedLessonsInOrder(t *testing.T) {
	t.Parallel()
	var got []string
	for i, l := range shipped(t).Lessons() {
		if l.Number != i+1 {
			t.Errorf("lesson %s has number %d, want %d", l.Slug, l.Number, i+1)
		}
		got = append(got, l.Slug)
	}
	want := []string{
		"what-canning-does", "where-guidance-comes-from", "altitude", "acid", "jars-and-lids", "headspace",
		"the-canner", "process-time", "liquid-loss", "cooling", "testing-seals", "unsealed-jars",
		"separation", "storage", "sauces", "recipe-changes", "fruit-jam-pickles", "low-acid", "first-batch",
	}
	if !slices.Equal(got, want) {
		t.Errorf("lessons %v, want %v", got, want)
	}
}

// What every lesson must hold, whatever it teaches.
func TestShippedLessonsAreComplete(t *testing.T) {
	t.Parallel()
	for _, l := range shipped(t).Lessons() {
		t.Run(l.Slug, func(t *testing.T) {
			t.Parallel()
			kinds := map[string]int{}
			for _, p := range l.Parts {
				if p.Block != nil {
					kinds[p.Block.Kind]++
				}
			}
			if kinds["times"] == 0 {
				t.Error("no live table of tested times")
			}
			if kinds["caution"] == 0 || len(l.Cautions) < 2 {
				t.Error("a caution in the text and two in the front matter are wanted")
			}
			if n := len(l.Refutations); n < 2 || n > 3 {
				t.Errorf("%d beliefs are refuted, want 2 or 3", n)
			}
			if len(l.Sources) < 2 || !slices.ContainsFunc(l.Sources, func(s string) bool { return strings.HasPrefix(s, "usda-guide-") }) {
				t.Errorf("sources %v; the USDA guide and one more are wanted", l.Sources)
			}
			if n := len(l.Able); n < 3 || n > 5 {
				t.Errorf("%d things to be able to do, want 3 to 5", n)
			}
			for _, heading := range []string{"A worked example", "Ask your extension service", "From memory"} {
				if !slices.ContainsFunc(l.Headings, func(h markdown.Heading) bool { return h.Text == heading }) {
					t.Errorf("no heading %q", heading)
				}
			}
			if last := l.Headings[len(l.Headings)-1]; last.Text != "From memory" {
				t.Errorf("the lesson ends with %q, want the questions", last.Text)
			}
			if !strings.Contains(strings.ToLower(strings.Join(l.Cautions, " ")), "extension service") {
				t.Error("no caution sends the reader to the extension service")
			}
			if strings.Contains(prose(l), "!") || strings.Contains(strings.ToLower(prose(l)), "guarantee") {
				t.Error("exclamation marks and guarantees do not belong in a lesson")
			}
		})
	}
}

// Jars are drawn wherever they are talked of, and a right one comes before any
// wrong one.
func TestShippedJarsShowTheRightOneFirst(t *testing.T) {
	t.Parallel()
	for _, slug := range []string{"headspace", "liquid-loss", "testing-seals"} {
		l, ok := shipped(t).Lesson(slug)
		if !ok {
			t.Fatalf("no lesson %s", slug)
		}
		var captions []string
		for _, p := range l.Parts {
			if p.Block != nil && p.Block.Kind == "jar" {
				captions = append(captions, p.Block.Settings["caption"])
			}
		}
		if len(captions) < 2 {
			t.Errorf("%s draws %d jars, want a right one and a wrong one", slug, len(captions))
			continue
		}
		right := regexp.MustCompile(`^(Filled as tested|A sealed quart that kept|Sealed):?`)
		if !right.MatchString(captions[0]) {
			t.Errorf("%s begins with the jar %q, want the right one first", slug, captions[0])
		}
	}
}

// Each lesson asks 3 to 5 questions of its own, and from the second one on two
// of the lesson before come back first.
func TestShippedQuestions(t *testing.T) {
	t.Parallel()
	var before *Lesson
	for _, l := range shipped(t).Lessons() {
		var own, old []string
		for _, q := range l.Questions {
			switch {
			case strings.HasPrefix(q, l.Slug+"-"):
				own = append(own, q)
			case before != nil && slices.Contains(before.Questions, q) && strings.HasPrefix(q, before.Slug+"-"):
				if len(own) > 0 {
					t.Errorf("%s: %s from the lesson before stands behind the lesson's own", l.Slug, q)
				}
				old = append(old, q)
			default:
				t.Errorf("%s: question %q is neither its own nor from the lesson before", l.Slug, q)
			}
		}
		if len(own) < 3 || len(own) > 5 {
			t.Errorf("%s has %d questions of its own, want 3 to 5", l.Slug, len(own))
		}
		if want := min(l.Number-1, 1) * 2; len(old) != want {
			t.Errorf("%s brings back %d questions, want %d", l.Slug, len(old), want)
		}
		before = l
	}
}

// Links lead to places of this site or to https addresses. Lessons are followed
// when they are loaded; here only the shape is looked at.
func TestShippedLinks(t *testing.T) {
	t.Parallel()
	shape := regexp.MustCompile(`^(/plan|/(lessons|scenarios|rules|times|bench)/[a-z0-9-]+(#[a-z0-9-]+)?|#[a-z0-9-]+|https://[a-z0-9.-]+/\S*)$`)
	for _, l := range shipped(t).Lessons() {
		for _, link := range l.Links {
			if !shape.MatchString(link.Target) {
				t.Errorf("%s:%d: link to %q", l.File, link.Line, link.Target)
			}
		}
	}
}

// A lesson is short enough to read before a canning day and plain enough to
// read while the pot heats.
func TestShippedLengthAndReadingGrade(t *testing.T) {
	t.Parallel()
	for _, l := range shipped(t).Lessons() {
		text := prose(l)
		words := len(strings.Fields(text))
		if words < 700 || words > 1200 {
			t.Errorf("%s has %d words, want 700 to 1200", l.Slug, words)
		}
		grade := readingGrade(text)
		if grade > 8.5 {
			t.Errorf("%s has reading grade %.1f, want at most 8.5", l.Slug, grade)
		}
		t.Logf("%s: %d words, grade %.1f", l.Slug, words, grade)
	}
}

func TestFactsAreSourcedAndShownInBothUnits(t *testing.T) {
	t.Parallel()
	facts, err := Facts()
	if err != nil {
		t.Fatal(err)
	}
	used := strings.Builder{}
	for _, l := range shipped(t).Lessons() {
		for _, p := range l.Parts {
			used.WriteString(string(p.HTML))
		}
	}
	imperial := regexp.MustCompile(` in$| inch(es)?$|°F$| ft$`)
	for _, f := range facts {
		if imperial.MatchString(f.US) != (f.Metric != "") {
			t.Errorf("fact %s: us %q, metric %q; lengths and temperatures are shown in both", f.ID, f.US, f.Metric)
		}
		if text := joinUnit.ReplaceAllString(f.Text(), "$1\u00a0$2"); !strings.Contains(used.String(), text) {
			t.Errorf("fact %s (%s) stands in no lesson", f.ID, text)
		}
	}
}

// prose is the running text of a lesson: lead, paragraphs, list items and
// cautions. Tables, headings and questions are not part of it.
func prose(l *Lesson) string {
	var b strings.Builder
	b.WriteString(l.Lead + "\n")
	for _, p := range l.Parts {
		src := string(p.HTML)
		if p.Block != nil {
			src = string(p.Block.BodyHTML)
		}
		skip := false
		z := html.NewTokenizer(strings.NewReader(src))
		for tt := z.Next(); tt != html.ErrorToken; tt = z.Next() {
			token := z.Token()
			left := regexp.MustCompile(`^(h[2-4]|table|pre)$`).MatchString(token.Data)
			switch {
			case tt == html.StartTagToken && left:
				skip = true
			case tt == html.EndTagToken && left:
				skip = false
			case tt == html.EndTagToken && (token.Data == "p" || token.Data == "li"):
				b.WriteString("\n")
			case tt == html.TextToken && !skip:
				b.WriteString(token.Data)
			}
		}
	}
	return b.String()
}

// gradeLevel is the Flesch-Kincaid grade level: J. P. Kincaid and others,
// "Derivation of New Readability Formulas", US Naval Technical Training
// Command, Research Branch Report 8-75, 1975.
func gradeLevel(words, sentences, syllables int) float64 {
	return 0.39*float64(words)/float64(sentences) + 11.8*float64(syllables)/float64(words) - 15.59
}

// Sums worked out by hand from the formula.
func TestGradeLevel(t *testing.T) {
	t.Parallel()
	tests := []struct {
		words, sentences, syllables int
		want                        float64
	}{
		{13, 1, 24, 11.2646},
		{1, 1, 1, -3.40},
		{100, 5, 150, 9.91},
		{120, 10, 156, 4.43},
	}
	for _, tt := range tests {
		if got := gradeLevel(tt.words, tt.sentences, tt.syllables); math.Abs(got-tt.want) > 0.0001 {
			t.Errorf("gradeLevel(%d, %d, %d) = %.4f, want %.4f", tt.words, tt.sentences, tt.syllables, got, tt.want)
		}
	}
}

var (
	sentenceEnd = regexp.MustCompile(`[.?]+(\s|$)|\n`)
	vowels      = regexp.MustCompile(`[aeiouy]+`)
)

// readingGrade counts a text. A list item without a full stop is a sentence, as
// it is to a reader.
func readingGrade(text string) float64 {
	var words, sentences, sounds int
	for _, sentence := range sentenceEnd.Split(text, -1) {
		fields := strings.Fields(sentence)
		if len(fields) == 0 {
			continue
		}
		sentences++
		words += len(fields)
		for _, word := range fields {
			sounds += syllables(word)
		}
	}
	return gradeLevel(words, sentences, sounds)
}

// syllables counts groups of vowels, less a silent e or ed at the end. It is
// within one of a dictionary for common words. A number counts as one.
func syllables(word string) int {
	word = strings.ToLower(strings.Trim(word, `.,;:?()"'`+"\u2019"))
	n := len(vowels.FindAllString(word, -1))
	silent := regexp.MustCompile(`([^aeiouylr]|[^l]l|[aeiouy]r|[aeiouy]l)es?$|[^td]ed$`)
	if n > 1 && silent.MatchString(word) && !regexp.MustCompile(`(ss|sh|ch|x|z|c|g|s)es$|[^aeiou]le[sd]?$`).MatchString(word) {
		n--
	}
	return max(n, 1)
}

// Counts as a dictionary divides the words.
func TestSyllables(t *testing.T) {
	t.Parallel()
	tests := map[string]int{
		"jar": 1, "lid": 1, "sealed": 1, "pressure": 2, "headspace": 2, "altitude": 3, "process": 2, "boil": 1,
		"table": 2, "bubbles": 2, "tomatoes": 3, "tested": 2, "minutes": 2, "space": 1, "canner": 2, "kitchen": 2,
		"extension": 3, "refrigerator": 5, "lines": 1, "changes": 2, "the": 1, "you": 1, "six": 1, "fingertip-tight": 4,
	}
	for word, want := range tests {
		if got := syllables(word); got != want {
			t.Errorf("syllables(%q) = %d, want %d", word, got, want)
		}
	}
}

// The worked examples end in the published times: crushed tomatoes, Guide 3,
// p. 3-8; tomatoes in water, Guide 3, p. 3-10.
func TestShippedWorkedExamples(t *testing.T) {
	t.Parallel()
	tests := []struct{ slug, want string }{
		{"altitude", "it is the last band.\nTime: 50 minutes at a full boil. At the sea, the same pints need 35 minutes."},
		{"altitude", "At the Grange the quarts need 60 minutes."},
		{"altitude", "there the table says 55 minutes for the very same quarts."},
		{"headspace", "Crushed tomatoes get 1/2 in (13 mm), but plain tomato sauce gets 1/4 in (6 mm)."},
		{"liquid-loss", "quarts of tomatoes in water had the full tested 60 minutes."},
		{"testing-seals", "eight pints of crushed tomatoes had their 50 minutes and stood untouched"},
	}
	for _, tt := range tests {
		l, ok := shipped(t).Lesson(tt.slug)
		if !ok {
			t.Fatalf("no lesson %s", tt.slug)
		}
		text := strings.ReplaceAll(prose(l), "\u00a0", " ")
		for strings.Contains(text, "\n\n") {
			text = strings.ReplaceAll(text, "\n\n", "\n")
		}
		if !strings.Contains(text, tt.want) {
			t.Errorf("lesson %s does not say %q", tt.slug, tt.want)
		}
	}
}
