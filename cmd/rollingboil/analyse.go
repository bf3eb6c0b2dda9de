package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"
	"text/tabwriter"

	"rollingboil/quiz/analysis"
)

type analyseCommand struct {
	Key  string `placeholder:"B,A,D" help:"The right answer of each item, parted by commas, where the cells are the options chosen: letters or whole numbers. Without it they are marks, 0 wrong and 1 right."`
	JSON bool   `help:"Print the numbers as JSON, with a label where the class is too small to trust them."`
	File string `arg:"" name:"file.csv" help:"Comma-separated values: a row for each learner, a column for each item."`
}

func (analyseCommand) Help() string {
	return "Example: rollingboil analyse class.csv --key B,A,D,C\n\nA first row in which no cell is a valid answer is a header and names the items. A first column that is not a valid answer in any row holds the learners' ids. A learner with an empty cell is left out and counted. At most 100 000 learners and 1 000 items.\n\nWith fewer than 30 learners the numbers are labeled; with fewer than 20 those that are mostly chance are given with --json only.\n\nExit status: 0 printed, 2 the file or the key could not be read."
}

// Run prints the item analysis of one class.
func (cmd analyseCommand) Run(c console) error {
	var key []analysis.Answer
	if cmd.Key != "" {
		var err error
		if key, err = analysis.ParseKey(cmd.Key); err != nil {
			return fmt.Errorf("--key: %w", err)
		}
	}
	file, err := os.Open(cmd.File)
	if err != nil {
		return err
	}
	defer file.Close()
	table, err := analysis.ReadCSV(file, cmd.File, key)
	if err != nil {
		return err
	}
	a, err := analysis.Of(table)
	if err != nil {
		return fmt.Errorf("%s: %w", cmd.File, err)
	}
	if cmd.JSON {
		enc := json.NewEncoder(c.out)
		enc.SetEscapeHTML(false)
		return enc.Encode(a)
	}
	return printAnalysis(c.out, a.ForDisplay(), key != nil)
}

// printAnalysis writes an analysis for a terminal.
func printAnalysis(out io.Writer, a analysis.Analysis, chosen bool) error {
	fmt.Fprintf(out, "Learners: %d", a.N)
	if a.LeftOut > 0 {
		fmt.Fprintf(out, ", and %d left out, with an answer missing", a.LeftOut)
	}
	fmt.Fprintf(out, "\nItems: %d\n", len(a.Items))
	if a.Label != "" {
		fmt.Fprintf(out, "Mind: %s\n", a.Label)
	}
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w)
	for _, line := range []struct {
		value *float64
		means string
	}{
		{a.Mean, "mean of the totals, in items"},
		{a.VarN, "variance of the totals, divided by the learners"},
		{a.Alpha, "alpha, here the same as KR-20: how far the items agree, 1 at most"},
		{a.SEM, "standard error of measurement of a total, in items"},
		{a.GroupN, "learners in the upper group, and in the lower; learners with equal totals are shared"},
	} {
		fmt.Fprintf(w, "%s\t%s\n", decimals(line.value), line.means)
	}
	fmt.Fprintln(w, "\nITEM\tRIGHT\t95 % INTERVAL\tR WITH ALL\tR WITH REST\tALPHA WITHOUT IT\tUPPER - LOWER")
	for _, item := range a.Items {
		fmt.Fprintf(w, "%s\t%s\t%s to %s\t%s\t%s\t%s\t%s\n", item.Name, decimals(item.P), decimals(item.PLow), decimals(item.PHigh),
			decimals(item.RIncl), decimals(item.RExcl), decimals(item.AlphaDeleted), decimals(item.Discrimination))
	}
	if chosen {
		printOptions(w, a)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	printFlags(out, a)
	_, err := fmt.Fprintln(out, "\n- stands for a value that is not defined, or hidden because the class is too small.\nNumbers say where to look. Read the question before you change it.")
	return err
}

// printOptions writes who chose what. The right answer has a star.
func printOptions(w io.Writer, a analysis.Analysis) {
	fmt.Fprintln(w, "\nITEM\tOPTION\tCHOSEN BY\tSHARE\tR WITH REST\tUPPER\tLOWER")
	for _, item := range a.Items {
		for _, o := range item.Options {
			name := o.Option
			if o.Key {
				name += " *"
			}
			fmt.Fprintf(w, "%s\t%s\t%d\t%s\t%s\t%s\t%s\n", item.Name, name, o.N, decimals(o.Share), decimals(o.RRest), decimals(o.Upper), decimals(o.Lower))
		}
	}
}

// printFlags writes the flags in words, options that share one on one line.
func printFlags(out io.Writer, a analysis.Analysis) {
	fmt.Fprintln(out)
	none := true
	for _, item := range a.Items {
		for _, f := range item.Flags {
			fmt.Fprintf(out, "%s: %s (%s)\n", item.Name, f.Says(), f)
			none = false
		}
		var raised []analysis.Flag
		options := map[analysis.Flag][]string{}
		for _, o := range item.Options {
			for _, f := range o.Flags {
				if options[f] == nil {
					raised = append(raised, f)
				}
				options[f] = append(options[f], o.Option)
			}
		}
		for _, f := range raised {
			word := "option"
			if len(options[f]) > 1 {
				word = "options"
			}
			fmt.Fprintf(out, "%s, %s %s: %s (%s)\n", item.Name, word, strings.Join(options[f], ", "), f.Says(), f)
			none = false
		}
	}
	switch {
	case a.Hidden():
		fmt.Fprintln(out, "No question is flagged in so small a class.")
	case none:
		fmt.Fprintln(out, "No question is flagged.")
	}
}

// decimals writes a value to two places.
func decimals(v *float64) string {
	if v == nil {
		return "-"
	}
	return fmt.Sprintf("%.2f", *v)
}
