package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"text/tabwriter"

	"rollingboil/scenarios/bench"
	"rollingboil/scenarios/process"
)

type benchCommand struct {
	JSON   bool     `help:"Print the numbers as JSON."`
	Name   string   `arg:"" optional:"" help:"Name of a demonstration; without one they are listed."`
	Values []string `arg:"" optional:"" name:"key=value" help:"Values, each with its unit. Keys that are left out have a default, which is shown."`
}

func (benchCommand) Help() string {
	return "Example: rollingboil bench boiling-point altitude=6240ft\nExample: rollingboil bench seals a=2/14 b=0/14 --json\nExample: rollingboil bench heating (shows its keys, too)\n\n" + bench.Explains + "\n\nExit status: 0 printed, 2 a name or a value could not be read."
}

// Run prints the numbers of one demonstration.
func (cmd benchCommand) Run(c console) error {
	table, err := process.Shipped()
	if err != nil {
		return err
	}
	b := bench.New(table)
	if cmd.Name == "" {
		w := tabwriter.NewWriter(c.out, 0, 0, 2, ' ', 0)
		for _, d := range b.Demos() {
			fmt.Fprintf(w, "%s\t%s\n", d.Name, d.Question)
		}
		return w.Flush()
	}
	demo, err := b.Demo(cmd.Name)
	if err != nil {
		return err
	}
	given, err := keyValues(cmd.Values)
	if err != nil {
		return err
	}
	result, err := b.Run(demo, given)
	if err != nil {
		return errors.Join(err, fmt.Errorf("rollingboil bench %s shows the keys and what they mean", demo.Name))
	}
	if cmd.JSON {
		return json.NewEncoder(c.out).Encode(result)
	}
	return cmd.print(c, demo, given, result)
}

// keyValues parts key=value arguments.
func keyValues(args []string) (map[string]string, error) {
	given := map[string]string{}
	for _, arg := range args {
		key, value, found := strings.Cut(arg, "=")
		if !found || key == "" {
			return nil, fmt.Errorf("%q is not key=value, such as altitude=6240ft; put quotes around a value with spaces", arg)
		}
		if strings.TrimSpace(value) == "" {
			return nil, fmt.Errorf("%s= has no value", key)
		}
		if _, twice := given[key]; twice {
			return nil, fmt.Errorf("%s stands twice", key)
		}
		given[key] = value
	}
	return given, nil
}

func (benchCommand) print(c console, demo *bench.Demo, given map[string]string, result bench.Result) error {
	fmt.Fprintf(c.out, "%s\n%s\n\n", demo.Title, bench.Explains)
	for _, s := range result.Says {
		fmt.Fprintln(c.out, s)
	}
	fmt.Fprintln(c.out)
	w := tabwriter.NewWriter(c.out, 0, 0, 2, ' ', 0)
	for _, n := range result.Numbers {
		if n.Text != "" {
			fmt.Fprintf(w, "%s\t%s\t%s\n", n.Key, n.Text, n.Label)
		}
	}
	fmt.Fprintln(w, "\t\t")
	for _, k := range demo.Keys {
		value, from := k.Shown(given), ""
		if value != "" && given[k.Name] == "" {
			from = " (unless given)"
		}
		fmt.Fprintf(w, "%s=\t%s%s\t%s. %s\n", k.Name, value, from, k.Label, k.Means)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	_, err := fmt.Fprintf(c.out, "\nLeft out: %s\nFrom: %s\n", demo.Leaves, strings.Join(demo.Sources, "; "))
	return err
}
