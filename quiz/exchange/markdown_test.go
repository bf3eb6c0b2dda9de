package exchange

import (
	"bytes"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// TestPlainText: examples after CommonMark 0.31.2: backslash escapes (2.4), thematic
// breaks (4.1), headings (4.2, 4.3), code (4.4, 4.5), HTML (4.6, 6.6), links (6.3, 6.5),
// pictures (6.4), quotes (5.1), lists (5.2), entities (2.5), emphasis (6.2).
func TestPlainText(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		"# Heading":                `\# Heading`,
		"###### Heading ######":    `\#\#\#\#\#\# Heading \#\#\#\#\#\#`,
		"===":                      `\===`,
		"---":                      `\---`,
		"* * *":                    `\* \* \*`,
		"- item":                   `\- item`,
		"+ item":                   `\+ item`,
		"1. item":                  `1\. item`,
		"12) item":                 `12\) item`,
		"> quote":                  `\> quote`,
		"```":                      "\\`\\`\\`",
		"    code":                 `code`,
		"a\n# b\n===":              `a \# b ===`,
		"[a](https://b)":           `\[a\](https\://b)`,
		"![a](b)":                  `!\[a\](b)`,
		"<https://a>":              `\<https\://a\>`,
		"<b>":                      `\<b\>`,
		"&copy;":                   `\&copy;`,
		"*a* _b_ ~~c~~ | d":        `\*a\* \_b\_ \~\~c\~\~ \| d`,
		`\[`:                       `\\\[`,
		"see www.a.org, b@a.org":   `see www\.a.org, b\@a.org`,
		"ftp://a":                  `ftp\://a`,
		"1/2 in (13 mm), -3 °F":    `1/2 in (13 mm), -3 °F`,
		"-3 °F":                    `\-3 °F`,
		"It is 4.6. So is this: 2": `It is 4.6. So is this: 2`,
	} {
		if got := plainText(text); got != want {
			t.Errorf("%q is written %s, want %s", text, got, want)
		}
	}
}

var (
	// bareMark is a sign of markup that no backslash stands before.
	bareMark = regexp.MustCompile("(^|[^\\\\])(\\\\\\\\)*[][`*_<>&|~#@]")
	bareLink = regexp.MustCompile(`(?i)(https?|ftp)://|www\.`)
	// opens is what begins a block: a heading, list, rule, quote, fence or underline.
	opens = regexp.MustCompile(`^([-+=>#~]|\d+[.)]|\t| )`)
)

// TestAnyTextIsPlain: whatever a question says, no sign of it is markup.
func TestAnyTextIsPlain(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.StringMatching("[-#=+*_<>\\[\\]()!&~|`.:/\\\\0-9a-z \\n\\t@]{0,30}"),
			rapid.Map(rapid.SliceOfN(rapid.SampledFrom(awkward), 1, 4), func(s []string) string { return strings.Join(s, " ") })).Draw(t, "text")
		got := plainText(text)
		if bareMark.MatchString(got) || bareLink.MatchString(got) || opens.MatchString(got) || strings.Contains(got, "\n") {
			t.Fatalf("%q is written %s", text, got)
		}
	})
}

// TestSheets: a heading for each question and no other, keys only where they are asked
// for, and the caution always.
func TestSheets(t *testing.T) {
	t.Parallel()
	set := mutationSet(t)
	set.Title = "# My\nquestions"
	var sheet, both bytes.Buffer
	if err := WriteMarkdown(&sheet, set, false); err != nil {
		t.Fatal(err)
	}
	if err := WriteMarkdown(&both, set, true); err != nil {
		t.Fatal(err)
	}
	headings := func(s string) (list []string) {
		for l := range strings.Lines(s) {
			if strings.HasPrefix(l, "#") {
				list = append(list, strings.TrimSpace(l))
			}
		}
		return list
	}
	if got := headings(sheet.String()); len(got) != 6 || got[0] != `# \# My questions` || got[5] != "## 5. a-5" {
		t.Errorf("headings %q", got)
	}
	if got := headings(both.String()); len(got) != 12 || got[6] != "# Key" {
		t.Errorf("headings %q", got)
	}
	if !strings.HasPrefix(both.String(), sheet.String()) {
		t.Error("the key sheet does not follow the questions")
	}
	if s := sheet.String(); !strings.Contains(s, plainText(Caution)) || strings.Contains(s, "Yes.") || strings.Contains(s, "So it is.") {
		t.Errorf("sheet:\n%s", s)
	}
	for _, want := range []string{
		"*Picture:* A pint jar with 1/2 in (13 mm) of headspace.", "- *Wrong:* Cold (m). No.", "- *Right:* 1/2 in (13 mm), within 0.02 in. Yes.",
		"- *Place 2:* Wipe. So.", "- *Wrong:* Close, before Wipe (m). No.", "- *Right:* Jam → size A. So.", "Why: So it is.", "Source: s; p. 1",
	} {
		if !strings.Contains(line(both.String()), want) {
			t.Errorf("no %q in:\n%s", want, both.String())
		}
	}
}

// TestLetters: A to Z, then AA.
func TestLetters(t *testing.T) {
	t.Parallel()
	for i, want := range map[int]string{0: "A", 25: "Z", 26: "AA", 27: "AB", 52: "BA"} {
		if got := letter(i); got != want {
			t.Errorf("letter %d is %s, want %s", i, got, want)
		}
	}
}
