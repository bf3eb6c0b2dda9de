package main

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"rollingboil/scenarios"
)

type gradeCommand struct {
	JSON  bool     `xor:"form" help:"Print the report as JSON: one object for one file, a list for several."`
	JSONL bool     `name:"jsonl" xor:"form" help:"Print one report per line as each plan is read, without the changes that would make it as tested: for many plans."`
	Files []string `arg:"" name:"file" help:"Plan or batch files, YAML or JSON; - is standard input. A folder stands for every .yaml, .yml and .json file below it. A .jsonl or .ndjson file holds one JSON plan per line."`
}

func (gradeCommand) Help() string {
	return "Example: rollingboil grade plan.yaml\nExample: rollingboil grade --jsonl plans/ more.jsonl\n\nExit status: 0 all plans as tested, 1 some not, 2 a file could not be read."
}

// Run grades each plan and prints its report as soon as it and those before it
// are graded. One that cannot be read is reported and does not keep the others
// from being graded.
func (cmd gradeCommand) Run(c console, code *int) error {
	grader, err := scenarios.Shipped()
	if err != nil {
		return err
	}
	before, between, after := cmd.around()
	printed := 0
	for g := range inOrder(sources(cmd.Files), func(s source) graded { return cmd.grade(grader, s) }) {
		if g.err != nil {
			fmt.Fprintln(c.err, g.err)
			*code = exitTrouble
			continue
		}
		if g.verdict != scenarios.AsTested && *code == exitOK {
			*code = exitNot
		}
		lead := between
		if printed == 0 {
			lead = before
		}
		if _, err := fmt.Fprint(c.out, lead, g.text); err != nil {
			return fmt.Errorf("write a report: %w", err)
		}
		printed++
	}
	if printed == 0 && cmd.list() {
		after = "[]\n"
	}
	if printed > 0 || cmd.list() {
		_, err = fmt.Fprint(c.out, after)
	}
	return err
}

// list reports whether the reports are printed as a JSON list.
func (cmd gradeCommand) list() bool { return cmd.JSON && !single(cmd.Files) }

// around gives what is printed before the first report, between two and after
// the last.
func (cmd gradeCommand) around() (before, between, after string) {
	switch {
	case cmd.list():
		return "[\n  ", ",\n  ", "\n]\n"
	case cmd.JSON, cmd.JSONL:
		return "", "", ""
	}
	return "", "\n", ""
}

// graded is one report as it is printed, or why there is none.
type graded struct {
	verdict scenarios.Verdict
	text    string
	err     error
}

// grade reads, grades and writes one plan or batch. Remedies are searched by
// grading many plans, so a line of many goes without.
func (cmd gradeCommand) grade(grader *scenarios.Grader, s source) graded {
	b, batch, err := s.parse(grader)
	if err != nil {
		return graded{err: err}
	}
	var r report
	switch {
	case batch:
		report := grader.GradeBatch(b)
		r.Report, r.whole, r.jars = report.Report, report, report.Jars
	case cmd.JSONL:
		r.Report = grader.Grade(b.Plan)
		r.whole = r.Report
	default:
		advice := grader.Advise(b.Plan)
		r.Report, r.whole, r.remedies = advice.Report, advice, advice.Remedies
	}
	var out strings.Builder
	if !cmd.JSON && !cmd.JSONL {
		printReport(&out, r)
		return graded{verdict: r.Verdict, text: out.String()}
	}
	enc := json.NewEncoder(&out)
	enc.SetEscapeHTML(false)
	if cmd.list() {
		enc.SetIndent("  ", "  ")
	} else if cmd.JSON {
		enc.SetIndent("", "  ")
	}
	err = enc.Encode(r.whole)
	text := out.String()
	if cmd.list() {
		text = strings.TrimSuffix(text, "\n") // a comma may follow
	}
	return graded{verdict: r.Verdict, text: text, err: err}
}

// report is a report on a plan or on a batch.
type report struct {
	scenarios.Report
	whole    any // the report with all its JSON keys
	remedies []scenarios.Remedy
	jars     []scenarios.JarAnswer
}

// printReport writes a report for a terminal.
func printReport(w io.Writer, r report) {
	fmt.Fprintf(w, "%s: %s\n", r.File, verdictText(r.Report))
	for _, t := range r.Tested {
		fmt.Fprintf(w, "  tested: %s\n", testedText(t))
	}
	for _, f := range r.Findings {
		fmt.Fprintf(w, "\n  %s: %s\n", severityText(f), f.Says)
		if f.Given != "" {
			fmt.Fprintf(w, "    you planned: %s\n", f.Given)
		}
		if f.Required != "" {
			fmt.Fprintf(w, "    tested:      %s\n", f.Required)
		}
		fmt.Fprintf(w, "    why: %s\n    from: %s (rule %s, lesson %s)\n", f.Why, f.Source, f.Rule, f.Lesson)
	}
	if len(r.Missing) > 0 {
		fmt.Fprintf(w, "\n  still needed: %s\n", strings.Join(r.Missing, ", "))
	}
	if len(r.NotStated) > 0 {
		fmt.Fprintf(w, "\n  not stated: %s\n", strings.Join(r.NotStated, ", "))
	}
	for i, remedy := range r.remedies {
		lead := "or"
		if i == 0 {
			lead = "the least that would make it as tested:"
		}
		var changes []string
		for _, c := range remedy.Changes {
			changes = append(changes, c.Field+" "+c.String())
		}
		fmt.Fprintf(w, "\n  %s %s\n", lead, strings.Join(changes, ", "))
	}
	if r.Verdict != scenarios.AsTested && len(r.remedies) == 0 && r.jars == nil {
		fmt.Fprintln(w, "\n  nothing printed for this food at this altitude would make it as tested, as far as it is stated:\n  ask your extension service")
	}
	for _, jar := range r.jars {
		fmt.Fprintf(w, "\n  jar %d: %s", jar.N, jar.Answer)
		if jar.Until != nil {
			fmt.Fprintf(w, ", by %s", jar.Until.Format("2 Jan 15:04 -07:00"))
		}
		fmt.Fprintf(w, "\n    %s\n", jar.Why)
	}
	fmt.Fprintln(w, "\n  This teaches; it does not approve your jars. Follow a tested recipe and the maker's\n  directions, and ask your extension service. When in doubt, throw it out.")
}

func verdictText(r scenarios.Report) string {
	switch r.Verdict {
	case scenarios.AsTested:
		if len(r.NotStated) > 0 {
			return "as tested, as far as you told us"
		}
		return "as tested"
	case scenarios.FixFirst:
		return "fix first: something must change before the stove is lit"
	case scenarios.Incomplete:
		return "incomplete: it cannot be judged yet"
	case scenarios.NoTestedProcess:
		return "no tested process: nothing published covers this; ask your extension service"
	}
	return "unsafe as written"
}

func severityText(f scenarios.Finding) string {
	switch f.Severity {
	case "safety":
		return "SAFETY"
	case "not-checked":
		return "NOT CHECKED"
	}
	return f.Severity
}

func testedText(t scenarios.Tested) string {
	text := fmt.Sprintf("%s, %s pack, %s, ", t.Food, t.Pack, scenarios.Label(t.Method))
	if t.Gauge != "" {
		text += t.Gauge + " gauge, "
	}
	text += fmt.Sprintf("%s, %s: %d min", t.Jar, t.Altitudes(), t.Minutes)
	if t.PSI > 0 {
		text += fmt.Sprintf(" at %d psi", t.PSI)
	}
	if t.HeadspaceIn != nil {
		text += fmt.Sprintf(", headspace %s", inches(*t.HeadspaceIn))
	}
	read := t.Confidence
	if read == "from-memory" {
		read = "from memory, unconfirmed"
	}
	return text + fmt.Sprintf(" [%s; %s]", read, t.Source)
}
