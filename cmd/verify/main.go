// Command verify sets up whatever the tests need and then runs every check and
// every test of Rolling Boil. It needs Go and nothing else: a C compiler, a
// browser and npm are installed with the system's package manager where that
// is possible, and otherwise the line that installs them is printed.
//
//	go run ./cmd/verify              run everything
//	go run ./cmd/verify -list        list the steps
//	go run ./cmd/verify -only vet    run one step, and the steps it needs
//
// A step that fails does not stop the others, except those that need it. The
// exit status is 0 if all steps passed, 1 if one did not, and 2 if the command
// line is wrong.
//
// The program must build where there is no C compiler yet, so it uses nothing
// that needs cgo, and no module outside the standard library.
package main

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// step is one thing to do.
type step struct {
	name  string
	does  string   // what it does, in one line
	needs []string // steps that must have passed before
	live  bool     // its output goes straight through and is not kept for the case of failure
	run   func(ctx context.Context, out io.Writer) error
}

// steps are all steps, in the order they run in.
var steps = []step{
	{name: "compiler", does: "find or install a C compiler", run: findCompiler},
	{name: "chromium", does: "find or install Chromium", run: findChromium},
	{name: "axe", does: "fetch the accessibility checker axe-core with npm", run: fetchAxe},
	{name: "format", does: "every Go file is formatted with gofumpt", run: checkFormat},
	{name: "vet", does: "go vet, with cgo and without", needs: []string{"compiler"}, run: vet},
	{name: "staticcheck", does: "staticcheck", needs: []string{"compiler"}, run: staticcheck},
	{name: "tidy", does: "go.mod and go.sum are tidy", run: checkTidy},
	{name: "content", does: "lessons, questions, scenarios and rules hold together", needs: []string{"compiler"}, run: lintContent},
	{name: "test", does: "all tests but the browser's, with the race detector", needs: []string{"compiler"}, live: true, run: testWithRaceDetector},
	{name: "browser", does: "the tests in a browser", needs: []string{"compiler", "chromium", "axe"}, live: true, run: testInBrowser},
	{name: "purego", does: "the store's tests with the database driver that needs no C compiler", live: true, run: testWithoutCgo},
	{name: "cross", does: "build the program for other systems", run: buildForOtherSystems},
}

func main() {
	list := flag.Bool("list", false, "list the steps and stop")
	only := flag.String("only", "", "run the step of this `name`, and the steps it needs")
	flag.Parse()
	if flag.NArg() > 0 {
		fmt.Fprintf(os.Stderr, "verify: unexpected argument %q\n", flag.Arg(0))
		os.Exit(2)
	}
	if *list {
		for _, s := range steps {
			fmt.Printf("%-12s %s\n", s.name, s.does)
		}
		return
	}
	chosen := steps
	if *only != "" {
		var err error
		if chosen, err = choose(steps, *only); err != nil {
			fmt.Fprintf(os.Stderr, "verify: %v\n", err)
			os.Exit(2)
		}
	}

	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := goToRoot(ctx); err != nil {
		fmt.Fprintf(os.Stderr, "verify: %v\n", err)
		os.Exit(1)
	}
	if !runAll(ctx, chosen, os.Stdout) {
		os.Exit(1)
	}
}

// choose returns the step of the name with all it needs, in their order.
func choose(all []step, name string) ([]step, error) {
	at := slices.IndexFunc(all, func(s step) bool { return s.name == name })
	if at < 0 {
		var names []string
		for _, s := range all {
			names = append(names, s.name)
		}
		return nil, fmt.Errorf("no step %q, the steps are %s", name, strings.Join(names, ", "))
	}
	var chosen []step
	for _, s := range all[:at] {
		if slices.Contains(all[at].needs, s.name) {
			chosen = append(chosen, s)
		}
	}
	return append(chosen, all[at]), nil
}

// goToRoot changes to the folder of go.mod, so that the program can be started
// in any folder of the module.
func goToRoot(ctx context.Context) error {
	out, err := exec.CommandContext(ctx, "go", "env", "GOMOD").Output()
	if err != nil {
		return fmt.Errorf("go env GOMOD: %w", err)
	}
	return os.Chdir(filepath.Dir(strings.TrimSpace(string(out))))
}

// runAll runs the steps, writes one line and a duration for each, and shows the
// whole output of those that fail. It says whether all passed.
func runAll(ctx context.Context, steps []step, out io.Writer) bool {
	var failed []string
	for _, s := range steps {
		if i := slices.IndexFunc(s.needs, func(n string) bool { return slices.Contains(failed, n) }); i >= 0 {
			fmt.Fprintf(out, "%-12s FAILED         not run, it needs %s\n", s.name, s.needs[i])
			failed = append(failed, s.name)
			continue
		}

		// A live step writes as it goes. The output of any other is kept and
		// shown only if it fails.
		var kept bytes.Buffer
		stepOut := io.Writer(&kept)
		if s.live {
			fmt.Fprintf(out, "%-12s %s\n", s.name, s.does)
			stepOut = out
		}
		start := time.Now()
		err := s.run(ctx, stepOut)
		took := time.Since(start).Seconds()
		if err == nil {
			fmt.Fprintf(out, "%-12s passed %6.1fs  %s\n", s.name, took, s.does)
			continue
		}
		failed = append(failed, s.name)
		fmt.Fprintf(out, "%-12s FAILED %6.1fs  %s\n%s", s.name, took, s.does, kept.String())
		fmt.Fprintf(out, "%s: %v\n\n", s.name, err)
	}
	if len(failed) > 0 {
		fmt.Fprintf(out, "verify: %d of %d steps failed: %s\n", len(failed), len(steps), strings.Join(failed, ", "))
		return false
	}
	fmt.Fprintf(out, "verify: all %d steps passed\n", len(steps))
	return true
}

// command runs a program with extra environment variables, and writes the
// command line and its output.
func command(ctx context.Context, out io.Writer, env []string, program string, args ...string) error {
	fmt.Fprintf(out, "$ %s\n", strings.Join(slices.Concat(env, []string{program}, args), " "))
	cmd := exec.CommandContext(ctx, program, args...)
	cmd.Env = append(os.Environ(), env...)
	cmd.Stdout, cmd.Stderr = out, out
	cmd.WaitDelay = 5 * time.Second // for what the program itself has started
	err := cmd.Run()
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		return fmt.Errorf("%s: %w", program, err)
	}
	return err // the program could not be started, and the error names it
}
