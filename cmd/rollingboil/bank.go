package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"unicode"

	"rollingboil/quiz/exchange"
	"rollingboil/scenarios/measure"
	"rollingboil/server"
)

type bankCommand struct {
	Export bankExportCommand `cmd:"" help:"Write questions with their keys as JSON, CSV, Markdown or a QTI package."`
	Import bankImportCommand `cmd:"" help:"Read a QTI package, a QTI item or exported JSON, and say what was understood."`
}

type bankExportCommand struct {
	Format   string `required:"" enum:"json,csv,markdown,qti" placeholder:"FORMAT" help:"json, csv, markdown or qti."`
	QTI      string `name:"qti" placeholder:"VERSION" help:"With --format qti: 3.0 (what is written without this) or 2.2."`
	Lesson   string `placeholder:"SLUG" help:"Only the questions of this lesson."`
	Variants int    `default:"3" help:"How many variants of a question that is drawn anew, 1 to 20."`
	Keys     bool   `help:"With --format markdown: write the keys on a second sheet. The other formats always have them."`
	File     string `arg:"" name:"file" help:"Where to write; - for standard output."`
}

func (bankExportCommand) Help() string {
	return "Example: rollingboil bank export --format qti questions.zip\nExample: rollingboil bank export --format markdown --lesson altitude --keys -\n\nFormats: go doc rollingboil/quiz/exchange\n\nExit status: 0 written, 2 not."
}

// Run writes the questions. Nothing is written when something is wrong with them.
func (cmd bankExportCommand) Run(c console) error {
	switch {
	case cmd.QTI != "" && cmd.Format != "qti":
		return errors.New("--qti belongs to --format qti")
	case cmd.Keys && cmd.Format != "markdown":
		return fmt.Errorf("--keys belongs to --format markdown; %s always has the keys", cmd.Format)
	}
	set, err := cmd.questions()
	if err != nil {
		return err
	}
	var out bytes.Buffer
	switch cmd.Format {
	case "json":
		err = exchange.WriteJSON(&out, set)
	case "csv":
		err = exchange.WriteCSV(&out, set)
	case "markdown":
		err = exchange.WriteMarkdown(&out, set, cmd.Keys)
	default:
		err = exchange.WriteQTI(&out, set, exchange.QTIOptions{Version: cmd.QTI})
	}
	if err != nil {
		return err
	}
	if cmd.File == "-" {
		_, err := c.out.Write(out.Bytes())
		return err
	}
	file, err := os.OpenFile(cmd.File, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		return notOver(err)
	}
	_, err = file.Write(out.Bytes())
	return errors.Join(err, file.Close())
}

// questions takes the variants of the whole bank, or of one lesson.
func (cmd bankExportCommand) questions() (exchange.Set, error) {
	course, err := server.LoadCourse("")
	if err != nil {
		return exchange.Set{}, err
	}
	list, title := course.Bank.Questions(), "Questions of the course"
	if cmd.Lesson != "" {
		lesson, ok := course.Lessons.Lesson(cmd.Lesson)
		if !ok {
			var slugs []string
			for _, l := range course.Lessons.Lessons() {
				slugs = append(slugs, l.Slug)
			}
			return exchange.Set{}, fmt.Errorf("there is no lesson %q; the nearest is %q", cmd.Lesson, measure.Nearest(cmd.Lesson, slugs))
		}
		list, title = course.Bank.Lesson(cmd.Lesson), "Questions: "+lesson.Title
	}
	set, err := exchange.Variants(list, cmd.Variants)
	set.Title = title
	return set, err
}

type bankImportCommand struct {
	JSON bool   `help:"Print all that was read, and the report, as JSON."`
	File string `arg:"" name:"file" help:"A package (zip), an item (XML), or questions as bank export writes them (JSON)."`
}

func (bankImportCommand) Help() string {
	return "Prints what was understood, and then, as file:line: message, what was not. An item in which that might change the score is left out and named. Nothing is added to the course.\n\nExit status: 0 all was understood, 1 something was not, 2 the file could not be read."
}

// Run reads a file and tells what was understood.
func (cmd bankImportCommand) Run(c console, code *int) error {
	file, err := os.Open(cmd.File)
	if err != nil {
		return err
	}
	data, err := io.ReadAll(io.LimitReader(file, exchange.MaxPackage+1))
	if err := errors.Join(err, file.Close()); err != nil {
		return err
	}
	if bytes.HasPrefix(bytes.TrimSpace(data), []byte("{")) {
		return cmd.ownQuestions(c, data)
	}
	imported, err := exchange.Import(cmd.File, data)
	if err != nil {
		return err
	}
	if len(imported.Report)+len(imported.Left) > 0 {
		*code = exitNot
	}
	if cmd.JSON {
		enc := json.NewEncoder(c.out)
		enc.SetEscapeHTML(false)
		return enc.Encode(imported)
	}
	for _, item := range imported.Items {
		fmt.Fprintf(c.out, "%s: %s, scored by %s: %s\n", item.Identifier, item.Kind, item.Scoring, shown(item.Stem))
	}
	for _, left := range imported.Left {
		fmt.Fprintf(c.out, "left out: %s in %s\n", shown(left.Identifier), left.File)
	}
	for _, note := range imported.Report {
		fmt.Fprintln(c.out, note)
	}
	_, err = fmt.Fprintf(c.out, "%d items understood, %d left out, %d things not understood\n", len(imported.Items), len(imported.Left), len(imported.Report))
	return err
}

// ownQuestions reads questions in our own format, which are understood whole or not
// at all.
func (cmd bankImportCommand) ownQuestions(c console, data []byte) error {
	set, err := exchange.ReadJSON(bytes.NewReader(data))
	if err != nil {
		return fmt.Errorf("%s: %w", cmd.File, err)
	}
	if cmd.JSON {
		return exchange.WriteJSON(c.out, set)
	}
	for _, q := range set.Questions {
		fmt.Fprintf(c.out, "%s, seed %d: %s: %s\n", q.ID, q.Seed, q.Kind, shown(q.Stem))
	}
	_, err = fmt.Fprintf(c.out, "%d questions understood\n", len(set.Questions))
	return err
}

// shown makes one line of a text that comes from elsewhere, without signs that a
// terminal would obey.
func shown(text string) string {
	return strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return -1
		}
		return r
	}, strings.Join(strings.Fields(text), " "))
}
