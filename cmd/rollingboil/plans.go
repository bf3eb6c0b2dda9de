package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"rollingboil/scenarios"
)

// maxPlan is more than a plan may have, in bytes: the grader refuses what is
// longer, and no more than this is read.
const maxPlan = 1<<20 + 1

// A source is one plan or batch as it was read, or why it could not be.
type source struct {
	file string // the file it stands in, or - for standard input
	line int    // its line in a file of many plans; 0 when it is the whole file
	text []byte
	err  error
}

// name is what reports call it.
func (s source) name() string {
	if s.line == 0 {
		return s.file
	}
	return fmt.Sprintf("%s:%d", s.file, s.line)
}

// sources gives what the arguments stand for, one after the other and in order:
// files, every plan file below a folder, every line of a file of many plans.
// Only one is held at a time.
func sources(args []string) iter.Seq[source] {
	return func(yield func(source) bool) {
		for _, arg := range args {
			next := oneFile
			if info, err := os.Stat(arg); err == nil && info.IsDir() {
				next = folder
			} else if hasEnding(arg, ".jsonl", ".ndjson") {
				next = lines
			}
			if !next(arg, yield) {
				return
			}
		}
	}
}

// single reports whether the arguments are one file with one plan.
func single(args []string) bool {
	if len(args) != 1 || hasEnding(args[0], ".jsonl", ".ndjson") {
		return false
	}
	info, err := os.Stat(args[0])
	return err != nil || !info.IsDir()
}

func hasEnding(name string, endings ...string) bool {
	return slices.Contains(endings, strings.ToLower(filepath.Ext(name)))
}

func oneFile(name string, yield func(source) bool) bool {
	text, err := readFile(name)
	return yield(source{file: name, text: text, err: err})
}

func readFile(name string) ([]byte, error) {
	if name == "-" {
		return io.ReadAll(io.LimitReader(os.Stdin, maxPlan))
	}
	file, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	text, err := io.ReadAll(io.LimitReader(file, maxPlan))
	return text, errors.Join(err, file.Close())
}

// folder gives every plan file below a folder, in the order of their names. A
// folder without one is an error: nobody means to grade nothing.
func folder(name string, yield func(source) bool) bool {
	found, goOn := false, true
	err := filepath.WalkDir(name, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			found = true
			goOn = yield(source{file: path, err: err})
		case !d.IsDir() && hasEnding(path, ".yaml", ".yml", ".json"):
			found = true
			goOn = oneFile(path, yield)
		}
		if !goOn {
			return filepath.SkipAll
		}
		return nil
	})
	if err == nil && !found {
		err = fmt.Errorf("%s: there is no .yaml, .yml or .json file in this folder", name)
	}
	if err != nil {
		goOn = yield(source{file: name, err: err})
	}
	return goOn
}

// lines gives the plans of a file with one JSON plan to a line. Empty lines are
// passed over.
func lines(name string, yield func(source) bool) bool {
	file, err := os.Open(name)
	if err != nil {
		return yield(source{file: name, err: err})
	}
	defer file.Close()
	scanner := bufio.NewScanner(file)
	scanner.Buffer(nil, maxPlan)
	n := 0
	for scanner.Scan() {
		n++
		text := strings.TrimSpace(scanner.Text())
		if text == "" {
			continue
		}
		s := source{file: name, line: n, text: []byte(text)}
		if !json.Valid(s.text) {
			s.err = fmt.Errorf("%s: not JSON; write one JSON plan to a line", s.name())
		}
		if !yield(s) {
			return false
		}
	}
	if err := scanner.Err(); err != nil {
		s := source{file: name, line: n + 1}
		s.err = fmt.Errorf("%s: %w; what follows was not read", s.name(), err)
		return yield(s)
	}
	return true
}

// parse reads the plan or batch. A fault in a file of many plans is placed on
// its line there.
func (s source) parse(grader *scenarios.Grader) (b scenarios.Batch, batch bool, err error) {
	if s.err != nil {
		return b, false, s.err
	}
	b, batch, err = grader.ParseFile(s.file, s.text)
	b.Plan.File = s.name()
	if s.line > 0 {
		for _, p := range scenarios.Problems(err) {
			p.Line += s.line - 1
		}
	}
	return b, batch, err
}
