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
	"regexp"
	"slices"
	"strings"
	"testing"
)

// fakeStep writes its name and returns the error.
func fakeStep(name string, err error, needs ...string) step {
	return step{name: name, does: "do " + name, needs: needs, run: func(_ context.Context, out io.Writer) error {
		fmt.Fprintf(out, "output of %s\n", name)
		return err
	}}
}

// durations stands between the verdict and what the step does.
var durations = regexp.MustCompile(` +[0-9]+\.[0-9]s  `)

func TestRunAll(t *testing.T) {
	t.Parallel()
	live := fakeStep("live", nil)
	live.live = true
	liveBad := fakeStep("liveBad", errors.New("went wrong"))
	liveBad.live = true

	for _, test := range []struct {
		name   string
		steps  []step
		passed bool
		want   string
	}{
		{
			"all pass, and only the live one is heard",
			[]step{fakeStep("a", nil), live},
			true,
			`a            passed do a
live         do live
output of live
live         passed do live
verify: all 2 steps passed
`,
		},
		{
			"one fails and the others go on",
			[]step{fakeStep("a", nil), fakeStep("b", errors.New("went wrong")), fakeStep("c", nil, "a")},
			false,
			`a            passed do a
b            FAILED do b
output of b
b: went wrong

c            passed do c
verify: 1 of 3 steps failed: b
`,
		},
		{
			"what needs a failed step is not run, and so on down the line",
			[]step{fakeStep("a", errors.New("went wrong")), fakeStep("b", nil, "x", "a"), fakeStep("c", nil, "b")},
			false,
			`a            FAILED do a
output of a
a: went wrong

b            FAILED         not run, it needs a
c            FAILED         not run, it needs b
verify: 3 of 3 steps failed: a, b, c
`,
		},
		{
			"a live step that fails is heard once",
			[]step{liveBad},
			false,
			`liveBad      do liveBad
output of liveBad
liveBad      FAILED do liveBad
liveBad: went wrong

verify: 1 of 1 steps failed: liveBad
`,
		},
	} {
		var out bytes.Buffer
		passed := runAll(t.Context(), test.steps, &out)
		got := durations.ReplaceAllString(out.String(), " ")
		if passed != test.passed || got != test.want {
			t.Errorf("%s: got %v and\n%s\nwant %v and\n%s", test.name, passed, got, test.passed, test.want)
		}
	}
}

func TestChoose(t *testing.T) {
	t.Parallel()
	all := []step{fakeStep("a", nil), fakeStep("b", nil), fakeStep("c", nil), fakeStep("d", nil, "c", "a")}
	for name, want := range map[string]string{"a": "a", "b": "b", "d": "a c d"} {
		chosen, err := choose(all, name)
		if err != nil {
			t.Errorf("choose(%q): %v", name, err)
		}
		var names []string
		for _, s := range chosen {
			names = append(names, s.name)
		}
		if got := strings.Join(names, " "); got != want {
			t.Errorf("choose(%q) = %s, want %s", name, got, want)
		}
	}
	_, err := choose(all, "e")
	if err == nil || !strings.Contains(err.Error(), "a, b, c, d") {
		t.Errorf("choose of an unknown step = %v, want all names", err)
	}
}

// A step may only need steps that run before it and need nothing themselves,
// which is all that choose looks for.
func TestStepsAreInOrder(t *testing.T) {
	t.Parallel()
	needs := map[string]int{}
	for _, s := range steps {
		if _, twice := needs[s.name]; twice || s.does == "" || s.run == nil {
			t.Errorf("step %q is there twice or incomplete", s.name)
		}
		for _, n := range s.needs {
			if count, before := needs[n]; !before || count > 0 {
				t.Errorf("step %s needs %s, which does not run before it or has needs of its own", s.name, n)
			}
		}
		needs[s.name] = len(s.needs)
	}
}

func TestCommand(t *testing.T) {
	t.Parallel()
	var out bytes.Buffer
	if err := command(t.Context(), &out, []string{"GOOS=plan9", "GOARCH=386"}, "go", "env", "GOOS"); err != nil {
		t.Error(err)
	}
	if got, want := out.String(), "$ GOOS=plan9 GOARCH=386 go env GOOS\nplan9\n"; got != want {
		t.Errorf("command wrote %q, want %q", got, want)
	}

	out.Reset()
	err := command(t.Context(), &out, nil, "go", "no-such-command")
	if err == nil || !strings.HasPrefix(err.Error(), "go: exit status") || !strings.Contains(out.String(), "unknown command") {
		t.Errorf("command = %v and wrote %q, want the exit status and what go said", err, out.String())
	}

	err = command(t.Context(), &out, nil, "no-such-program")
	if !errors.Is(err, exec.ErrNotFound) || !strings.Contains(err.Error(), "no-such-program") {
		t.Errorf("command = %v, want that the program was not found", err)
	}
}

func TestInstallLines(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		manager string
		tool    tool
		want    string
	}{
		{"apt-get", compilerTool, "apt-get update; apt-get install -y --no-install-recommends gcc libc6-dev"},
		{"apt-get", chromiumTool, "apt-get update; apt-get install -y --no-install-recommends chromium fonts-liberation"},
		{"dnf", npmTool, "dnf install -y npm"},
		{"apk", compilerTool, "apk add --no-cache gcc musl-dev"},
		{"pacman", chromiumTool, "pacman -Sy --noconfirm --needed chromium ttf-liberation"},
		{"zypper", npmTool, "zypper --non-interactive install npm"},
		{"unheard-of", npmTool, ""},
	} {
		var lines []string
		for _, line := range installLines(test.manager, test.tool) {
			lines = append(lines, strings.Join(line, " "))
		}
		if got := strings.Join(lines, "; "); got != test.want {
			t.Errorf("installLines(%s, %s) = %q, want %q", test.manager, test.tool.name, got, test.want)
		}
	}
}

func TestEveryToolIsKnownEverywhere(t *testing.T) {
	t.Parallel()
	for _, tool := range []tool{compilerTool, chromiumTool, npmTool} {
		for _, m := range managers {
			if tool.packages[m.program] == "" {
				t.Errorf("no package of %s for %s", tool.name, m.program)
			}
		}
		if len(tool.packages) != len(managers) || tool.macOS == "" || tool.windows == "" {
			t.Errorf("%s: a system is missing, or there is one too many", tool.name)
		}
	}
}

func TestChromiumPlaces(t *testing.T) {
	t.Parallel()
	env := map[string]string{"HOME": "/home/cook", "ProgramFiles": "/programs"}
	places := chromiumPlaces(func(name string) string { return env[name] })
	for _, want := range []string{
		"chromium",
		filepath.Join("/home/cook", "Applications", "Chromium.app", "Contents", "MacOS", "Chromium"),
		filepath.Join("/programs", "Chromium", "Application", "chrome.exe"),
	} {
		if !slices.Contains(places, want) {
			t.Errorf("places = %q, want %q among them", places, want)
		}
	}
	// A variable that is not set must not lead into the current folder.
	for _, place := range places {
		if strings.HasPrefix(place, "Chromium") || strings.HasPrefix(place, "Google") {
			t.Errorf("place %q is in the current folder", place)
		}
	}
}

func TestWithoutBrowserTests(t *testing.T) {
	t.Parallel()
	got := withoutBrowserTests("rollingboil/server\nrollingboil/server/browser\nrollingboil/server/store\n")
	if want := []string{"rollingboil/server", "rollingboil/server/store"}; !slices.Equal(got, want) {
		t.Errorf("packages = %q, want %q", got, want)
	}
}

func TestSystemCertificates(t *testing.T) {
	t.Parallel()
	bundle := filepath.Join(t.TempDir(), "certificates")
	unset := func(string) string { return "" }
	if got := systemCertificates(unset, bundle); got != nil {
		t.Errorf("without a file: %q, want nothing", got)
	}
	if err := os.WriteFile(bundle, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if got, want := systemCertificates(unset, bundle), []string{"NODE_EXTRA_CA_CERTS=" + bundle}; !slices.Equal(got, want) {
		t.Errorf("with a file: %q, want %q", got, want)
	}
	if got := systemCertificates(func(string) string { return "mine" }, bundle); got != nil {
		t.Errorf("with a setting of the user's own: %q, want nothing", got)
	}
}

func TestCheckSum(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "abc.js")
	if err := checkSum(file, ""); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("checkSum of no file = %v, want that it does not exist", err)
	}
	if err := os.WriteFile(file, []byte("abc"), 0o600); err != nil {
		t.Fatal(err)
	}
	// The sum of "abc" is the first example of FIPS 180-2, appendix B.
	const sum = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
	if err := checkSum(file, sum); err != nil {
		t.Errorf("checkSum = %v", err)
	}
	if err := checkSum(file, axeSum); err == nil || !strings.Contains(err.Error(), sum) {
		t.Errorf("checkSum of another file = %v, want the sum it has", err)
	}
}

// The program must build before there is a C compiler, with Go alone.
func TestVerifyNeedsGoOnly(t *testing.T) {
	t.Parallel()
	cmd := exec.CommandContext(t.Context(), "go", "list", "-deps", "-f", "{{.ImportPath}} {{.Standard}} {{len .CgoFiles}}", ".")
	cmd.Env = append(os.Environ(), withCgo...)
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(out)) {
		var path string
		var standard bool
		var cgoFiles int
		if _, err := fmt.Sscan(line, &path, &standard, &cgoFiles); err != nil {
			t.Fatal(err)
		}
		if cgoFiles > 0 || !standard && path != "rollingboil/cmd/verify" {
			t.Errorf("verify imports %s, which needs cgo or a module", path)
		}
	}
}
