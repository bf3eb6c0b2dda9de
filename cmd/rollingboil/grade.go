package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"

	"rollingboil/scenarios"
)

type gradeCommand struct {
	JSON  bool     `help:"Print the report as JSON: one object for one file, a list for several."`
	Files []string `arg:"" name:"file" help:"Plan or batch files, YAML or JSON; - is standard input."`
}

func (gradeCommand) Help() string {
	return "Example: rollingboil grade plan.yaml\n\nExit status: 0 all plans as tested, 1 some not, 2 a file could not be read."
}

// Run grades each file. A file that cannot be read is reported and does not
// keep the others from being graded.
func (cmd gradeCommand) Run(c console, code *int) error {
	grader, err := scenarios.Shipped()
	if err != nil {
		return err
	}
	reports := []any{}
	for _, file := range cmd.Files {
		report, err := gradeFile(grader, file)
		if err != nil {
			fmt.Fprintln(c.err, err)
			*code = exitTrouble
			continue
		}
		if report.Verdict != scenarios.AsTested && *code == exitOK {
			*code = exitNot
		}
		if cmd.JSON {
			reports = append(reports, report.whole)
			continue
		}
		if len(reports) > 0 {
			fmt.Fprintln(c.out)
		}
		reports = append(reports, nil)
		printReport(c.out, report)
	}
	if !cmd.JSON || len(cmd.Files) == 1 && len(reports) == 0 {
		return nil
	}
	enc := json.NewEncoder(c.out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if len(cmd.Files) == 1 {
		return enc.Encode(reports[0])
	}
	return enc.Encode(reports)
}

// graded is a report on a plan or on a batch.
type graded struct {
	scenarios.Report
	whole    any // the report with all its JSON keys
	remedies []scenarios.Remedy
	jars     []scenarios.JarAnswer
}

func gradeFile(grader *scenarios.Grader, file string) (graded, error) {
	src, err := readFile(file)
	if err != nil {
		return graded{}, err
	}
	b, batch, err := grader.ParseFile(file, src)
	if err != nil {
		return graded{}, err
	}
	if batch {
		report := grader.GradeBatch(b)
		return graded{Report: report.Report, whole: report, jars: report.Jars}, nil
	}
	advice := grader.Advise(b.Plan)
	return graded{Report: advice.Report, whole: advice, remedies: advice.Remedies}, nil
}

func readFile(name string) ([]byte, error) {
	if name == "-" {
		return io.ReadAll(io.LimitReader(os.Stdin, 1<<20+1))
	}
	return os.ReadFile(name)
}

// printReport writes a report for a terminal.
func printReport(w io.Writer, r graded) {
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
	to := 0
	if t.ToFt != nil {
		to = *t.ToFt
	}
	text += fmt.Sprintf("%s, %s: %d min", t.Jar, scenarios.BandText(t.FromFt, to), t.Minutes)
	if t.PSI > 0 {
		text += fmt.Sprintf(" at %d psi", t.PSI)
	}
	if t.HeadspaceIn != nil {
		text += fmt.Sprintf(", headspace %s", inches(*t.HeadspaceIn))
	}
	return text + fmt.Sprintf(" [%s; %s]", t.Confidence, t.Source)
}
