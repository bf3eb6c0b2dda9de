package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// The tools are not in go.mod, which lists what the program is made of. Their
// versions are here and nowhere else.
const (
	gofumptTool     = "mvdan.cc/gofumpt@v0.12.0"
	staticcheckTool = "honnef.co/go/tools/cmd/staticcheck@v0.8.2"
)

// patience is for a machine of two slow processors: by itself go test gives a package
// ten minutes, which the race detector and a browser can take there.
const patience = "-timeout=40m"

// browserTests is the package of the tests that drive a browser. They need
// Chromium and axe-core, named by environment variables, and fail without them.
const browserTests = "rollingboil/server/browser"

// Go decides about cgo by looking for a compiler, so both cases are asked for
// in so many words.
var (
	withCgo    = []string{"CGO_ENABLED=1"}
	withoutCgo = []string{"CGO_ENABLED=0"}
)

// checkFormat fails if gofumpt names a file.
func checkFormat(ctx context.Context, out io.Writer) error {
	cmd := exec.CommandContext(ctx, "go", "run", gofumptTool, "-l", ".")
	var unformatted bytes.Buffer
	cmd.Stdout, cmd.Stderr = &unformatted, out
	if err := cmd.Run(); err != nil {
		return fmt.Errorf("gofumpt: %w", err)
	}
	if unformatted.Len() > 0 {
		out.Write(unformatted.Bytes())
		return fmt.Errorf("format the files named above with: go run %s -w FILE", gofumptTool)
	}
	return nil
}

// vet looks at the files of both database drivers.
func vet(ctx context.Context, out io.Writer) error {
	return errors.Join(
		command(ctx, out, withCgo, "go", "vet", "./..."),
		command(ctx, out, withoutCgo, "go", "vet", "./server/store"))
}

func staticcheck(ctx context.Context, out io.Writer) error {
	return command(ctx, out, withCgo, "go", "run", staticcheckTool, "-checks", "inherit,ST1000,ST1016", "./...")
}

func checkTidy(ctx context.Context, out io.Writer) error {
	return command(ctx, out, nil, "go", "mod", "tidy", "-diff")
}

func lintContent(ctx context.Context, out io.Writer) error {
	return command(ctx, out, withCgo, "go", "run", "./cmd/rollingboil", "lint")
}

func testWithRaceDetector(ctx context.Context, out io.Writer) error {
	list, err := exec.CommandContext(ctx, "go", "list", "./...").Output()
	if err != nil {
		return fmt.Errorf("go list: %w", err)
	}
	args := append([]string{"test", "-race", patience}, withoutBrowserTests(string(list))...)
	return command(ctx, out, withCgo, "go", args...)
}

// withoutBrowserTests splits the output of go list and leaves the browser tests
// out.
func withoutBrowserTests(list string) []string {
	var packages []string
	for p := range strings.FieldsSeq(list) {
		if p != browserTests {
			packages = append(packages, p)
		}
	}
	return packages
}

// testInBrowser never takes a remembered result, because Go does not see when
// the browser has changed.
func testInBrowser(ctx context.Context, out io.Writer) error {
	return command(ctx, out, withCgo, "go", "test", "-count=1", patience, browserTests)
}

func testWithoutCgo(ctx context.Context, out io.Writer) error {
	return command(ctx, out, withoutCgo, "go", "test", "./server/store/...")
}

// buildForOtherSystems builds what cannot be run here. That needs the driver
// without cgo, since there is no C compiler for those systems.
func buildForOtherSystems(ctx context.Context, out io.Writer) error {
	dir, err := os.MkdirTemp("", "rollingboil-cross-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	var errs []error
	for _, target := range []struct{ system, processor string }{
		{"windows", "amd64"},
		{"darwin", "arm64"},
		{"darwin", "amd64"},
	} {
		env := append([]string{"GOOS=" + target.system, "GOARCH=" + target.processor}, withoutCgo...)
		file := filepath.Join(dir, target.system+"-"+target.processor)
		errs = append(errs, command(ctx, out, env, "go", "build", "-buildvcs=false", "-o", file, "./cmd/rollingboil"))
	}
	return errors.Join(errs...)
}
