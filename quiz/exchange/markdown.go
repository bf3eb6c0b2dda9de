package exchange

import (
	"bufio"
	"fmt"
	"io"
	"regexp"
	"strings"

	"rollingboil/quiz"
)

// WriteMarkdown writes a sheet of questions to print or to read, and with keys a
// second sheet after it: for each question the answer, what is said of each wrong
// one, the reason and the source.
func WriteMarkdown(w io.Writer, set Set, keys bool) error {
	out := bufio.NewWriter(w)
	title := line(set.Title)
	if title == "" {
		title = "Questions"
	}
	fmt.Fprintf(out, "# %s\n\n%s\n", plainText(title), plainText(Caution))
	for i, q := range set.Questions {
		fmt.Fprintf(out, "\n## %d. %s\n\n%s\n", i+1, plainText(q.name()), plainText(q.Stem))
		if q.Picture != nil {
			fmt.Fprintf(out, "\n*Picture:* %s\n", plainText(q.Picture.Says))
		}
		fmt.Fprintln(out)
		q.writeAnswers(out)
	}
	if keys {
		fmt.Fprintf(out, "\n# Key\n")
		for i, q := range set.Questions {
			fmt.Fprintf(out, "\n## %d. %s, key\n\n", i+1, plainText(q.name()))
			q.writeKey(out)
		}
	}
	return out.Flush()
}

// name tells a question from its other variants.
func (q Question) name() string {
	if q.Drawn == "" {
		return q.ID
	}
	return fmt.Sprintf("%s, variant %d", q.ID, q.Seed)
}

// writeAnswers writes what there is to choose from, or room for an answer.
func (q Question) writeAnswers(out io.Writer) {
	switch q.Kind {
	case quiz.Choice, quiz.Choices:
		if q.Kind == quiz.Choices {
			fmt.Fprint(out, "Choose all that are right.\n\n")
		}
		for i, o := range q.Options {
			fmt.Fprintf(out, "- **%s** %s\n", letter(i), plainText(o.Text))
		}
	case quiz.Number:
		fmt.Fprintf(out, "Answer: \\_\\_\\_\\_\\_\\_ %s\n", plainText(q.Number.Unit))
	case quiz.Order:
		fmt.Fprint(out, "Number these from first to last.\n\n")
		for _, item := range q.Items {
			fmt.Fprintf(out, "- \\_\\_\\_ %s\n", plainText(item.Text))
		}
	case quiz.Match:
		fmt.Fprint(out, "Give each of these a letter.\n\n")
		for _, item := range q.Items {
			fmt.Fprintf(out, "- \\_\\_\\_ %s\n", plainText(item.Text))
		}
		fmt.Fprint(out, "\nThe letters stand for:\n\n")
		for i, with := range q.Withs {
			fmt.Fprintf(out, "- **%s** %s\n", letter(i), plainText(with))
		}
	}
}

// writeKey writes what is said of an answer.
func (q Question) writeKey(out io.Writer) {
	say := func(label, text, feedback, misconception string) {
		fmt.Fprintf(out, "- *%s:* %s", label, plainText(text))
		if misconception != "" {
			fmt.Fprintf(out, " (%s)", plainText(misconception))
		}
		if line(feedback) != "" {
			fmt.Fprintf(out, ". %s", plainText(feedback))
		}
		fmt.Fprintln(out)
	}
	switch q.Kind {
	case quiz.Number:
		text := q.Number.Answer.Text
		if q.Number.Tolerance > slack {
			text += fmt.Sprintf(", within %.4g %s", q.Number.Tolerance, q.Number.Unit)
		}
		say("Right", text, q.Number.Answer.Feedback, "")
	case quiz.Order:
		for i, key := range q.Order {
			item := q.item(key)
			say(fmt.Sprintf("Place %d", i+1), item.Text, item.Feedback, "")
		}
	case quiz.Match:
		for _, item := range q.Items {
			say("Right", item.Text+quiz.Arrow+item.With, item.Feedback, "")
		}
	default:
		for i, o := range q.Options {
			if o.Right {
				say("Right, "+letter(i), o.Text, o.Feedback, "")
			}
		}
	}
	for _, o := range q.wrongAnswers() {
		say("Wrong", o.Text, o.Feedback, o.Misconception)
	}
	fmt.Fprintf(out, "\nWhy: %s\n\nSource: %s\n", plainText(q.Why), plainText(q.source()))
}

// letter names the options of a printed question: A to Z, then AA and so on.
func letter(i int) string {
	name := string(rune('A' + i%26))
	if i >= 26 {
		return letter(i/26-1) + name
	}
	return name
}

var (
	// marks are the signs that are markup anywhere in a line: code, emphasis, links,
	// pictures, HTML, entities, tables, struck text, and the @ of a mail address that
	// some readers make a link of.
	marks = strings.NewReplacer(
		`\`, `\\`, "`", "\\`", `*`, `\*`, `_`, `\_`, `[`, `\[`, `]`, `\]`, `<`, `\<`, `>`, `\>`, `&`, `\&`, `|`, `\|`, `~`, `\~`, `@`, `\@`, `#`, `\#`,
		`://`, `\://`,
	)
	bareAddress = regexp.MustCompile(`(?i)\bwww\.`)
	// beginnings are signs that are markup where a line begins: lists and rules.
	beginnings = regexp.MustCompile(`^(\d*)([-+=.):])`)
)

// plainText writes a text on one line so that a Markdown reader shows it just as it
// is (CommonMark 0.31.2, sections 2.4, 4.1 to 5.3 and 6; the addresses that become
// links are from the extension for autolinks that many readers have).
func plainText(s string) string {
	s = marks.Replace(line(s))
	s = bareAddress.ReplaceAllStringFunc(s, func(www string) string { return www[:3] + `\.` })
	return beginnings.ReplaceAllString(s, `$1\$2`)
}
