package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"time"
)

// The browser tests learn from these variables where their tools are.
const (
	chromiumVariable = "ROLLINGBOIL_CHROMIUM" // path of the Chromium program
	axeVariable      = "ROLLINGBOIL_AXE"      // path of axe.min.js
)

// The version of axe-core the browser tests use, and the SHA-256 sum of its
// axe.min.js, so that what is in the cache is known to be whole and the same
// everywhere.
const (
	axeVersion = "4.14.1"
	axeSum     = "29348999450cdf2849a8e70b7912fc2da85a849da39c0d0d5394f51d4a9ed95c"
)

// certificates is where most Linux systems keep what they trust.
const certificates = "/etc/ssl/certs/ca-certificates.crt"

// tool is something to install: the packages that hold it for each package
// manager, and what to do by hand on systems where this program installs
// nothing.
type tool struct {
	name     string
	packages map[string]string // names separated by spaces, by package manager
	macOS    string
	windows  string
}

var (
	compilerTool = tool{
		name: "a C compiler",
		packages: map[string]string{
			"apt-get": "gcc libc6-dev",
			"dnf":     "gcc glibc-devel",
			"apk":     "gcc musl-dev",
			"pacman":  "gcc",
			"zypper":  "gcc glibc-devel",
		},
		macOS:   "xcode-select --install",
		windows: "winget install --id BrechtSanders.WinLibs.POSIX.UCRT   (or: choco install mingw)",
	}
	chromiumTool = tool{
		name: "Chromium",
		packages: map[string]string{
			"apt-get": "chromium fonts-liberation", // without a font all text is empty boxes
			"dnf":     "chromium liberation-fonts",
			"apk":     "chromium font-liberation",
			"pacman":  "chromium ttf-liberation",
			"zypper":  "chromium liberation-fonts",
		},
		macOS:   "brew install --cask chromium",
		windows: "winget install --id Hibbiki.Chromium   (or: choco install chromium)",
	}
	npmTool = tool{
		name: "npm",
		packages: map[string]string{
			"apt-get": "npm",
			"dnf":     "npm",
			"apk":     "npm",
			"pacman":  "npm",
			"zypper":  "npm",
		},
		macOS:   "brew install node",
		windows: "winget install --id OpenJS.NodeJS.LTS   (or: choco install nodejs-lts)",
	}
)

// managers are the package managers of Linux this program can use, with the
// arguments that install without asking.
var managers = []struct {
	program string
	refresh []string // fetches the list of packages first, where install does not
	install []string
}{
	{"apt-get", []string{"update"}, []string{"install", "-y", "--no-install-recommends"}},
	{"dnf", nil, []string{"install", "-y"}},
	{"apk", nil, []string{"add", "--no-cache"}},
	{"pacman", nil, []string{"-Sy", "--noconfirm", "--needed"}},
	{"zypper", nil, []string{"--non-interactive", "install"}},
}

// installLines returns the command lines that install the tool on Linux with
// the given package manager, or nil if that is none we know.
func installLines(manager string, t tool) [][]string {
	for _, m := range managers {
		if m.program != manager {
			continue
		}
		var lines [][]string
		if m.refresh != nil {
			lines = append(lines, append([]string{m.program}, m.refresh...))
		}
		line := append([]string{m.program}, m.install...)
		return append(lines, append(line, strings.Fields(t.packages[manager])...))
	}
	return nil
}

// install installs the tool, or returns an error with the line that does.
func install(ctx context.Context, out io.Writer, t tool) error {
	switch runtime.GOOS {
	case "darwin":
		return fmt.Errorf("%s is missing, install it and start again: %s", t.name, t.macOS)
	case "windows":
		return fmt.Errorf("%s is missing, install it and start again: %s", t.name, t.windows)
	}
	var lines [][]string
	for _, m := range managers {
		if _, err := exec.LookPath(m.program); err == nil {
			lines = installLines(m.program, t)
			break
		}
	}
	if lines == nil {
		return fmt.Errorf("%s is missing, and there is no package manager this program knows; install it and start again", t.name)
	}
	// Debian's tools ask questions unless told otherwise; the others do not
	// look at the variable.
	prefix := []string{"env", "DEBIAN_FRONTEND=noninteractive"}
	if os.Geteuid() != 0 {
		if exec.CommandContext(ctx, "sudo", "-n", "true").Run() != nil {
			return fmt.Errorf("%s is missing, install it and start again: sudo %s", t.name, strings.Join(lines[len(lines)-1], " "))
		}
		prefix = append([]string{"sudo", "-n"}, prefix...)
	}
	var err error
	for _, line := range lines {
		line = append(prefix[:len(prefix):len(prefix)], line...)
		// An old list of packages may do, so only the last line counts.
		err = command(ctx, out, nil, line[0], line[1:]...)
	}
	if err != nil {
		return fmt.Errorf("install %s: %w", t.name, err)
	}
	return nil
}

// findCompiler makes sure that cgo works, which takes a compiler and the
// headers of the C library. Go keeps what it built for as long as the compiler
// is the same, so this is quick.
func findCompiler(ctx context.Context, out io.Writer) error {
	build := func() error { return command(ctx, out, withCgo, "go", "build", "runtime/cgo") }
	if build() == nil {
		return nil
	}
	if err := install(ctx, out, compilerTool); err != nil {
		return err
	}
	return build()
}

// findChromium finds a Chromium that starts, and tells the browser tests. A
// path in the variable is taken instead of looking for one.
func findChromium(ctx context.Context, out io.Writer) error {
	if path := os.Getenv(chromiumVariable); path != "" {
		if err := startChromium(ctx, out, path); err != nil {
			return fmt.Errorf("%s does not name a Chromium that starts: %w", chromiumVariable, err)
		}
		return nil
	}
	path := firstChromium(ctx, out)
	if path == "" {
		if err := install(ctx, out, chromiumTool); err != nil {
			return err
		}
		path = firstChromium(ctx, out)
	}
	if path == "" {
		return errors.New("no Chromium that starts was found after installing one")
	}
	return os.Setenv(chromiumVariable, path)
}

// firstChromium returns the path of the first Chromium that starts, or "".
func firstChromium(ctx context.Context, out io.Writer) string {
	for _, name := range chromiumPlaces(os.Getenv) {
		path, err := exec.LookPath(name)
		if err != nil {
			continue
		}
		if err := startChromium(ctx, out, path); err == nil {
			return path
		}
	}
	return ""
}

// chromiumPlaces returns the names Chromium and its next of kin go by, and the
// places where they are when they are not on the path.
func chromiumPlaces(getenv func(string) string) []string {
	places := []string{
		"chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome",
		"/usr/lib/chromium/chromium",
		"/usr/lib64/chromium-browser/chromium-browser",
		"/snap/bin/chromium",
	}
	for _, folder := range []string{"/Applications", filepath.Join(getenv("HOME"), "Applications")} {
		for _, name := range []string{"Chromium", "Google Chrome"} {
			places = append(places, filepath.Join(folder, name+".app", "Contents", "MacOS", name))
		}
	}
	for _, variable := range []string{"LOCALAPPDATA", "ProgramFiles", "ProgramFiles(x86)"} {
		if folder := getenv(variable); folder != "" {
			places = append(places,
				filepath.Join(folder, "Chromium", "Application", "chrome.exe"),
				filepath.Join(folder, "Google", "Chrome", "Application", "chrome.exe"))
		}
	}
	return places
}

// startChromium shows an empty page without a window. Being there is not
// enough: some systems have a program of that name that only says how to get
// the real one.
func startChromium(ctx context.Context, out io.Writer, path string) error {
	profile, err := os.MkdirTemp("", "rollingboil-chromium-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(profile)
	ctx, cancel := context.WithTimeout(ctx, time.Minute)
	defer cancel()
	// The sandbox needs rights that root in a container does not have, and an
	// empty page needs no sandbox.
	var page bytes.Buffer
	err = command(ctx, io.MultiWriter(out, &page), nil, path, "--headless", "--no-sandbox", "--disable-gpu",
		"--no-first-run", "--user-data-dir="+profile, "--dump-dom", "about:blank")
	if err != nil {
		return err
	}
	if !strings.Contains(page.String(), "<body>") {
		return fmt.Errorf("%s did not show an empty page", path)
	}
	return nil
}

// fetchAxe puts axe-core into the user's cache folder, if it is not there yet,
// and tells the browser tests.
func fetchAxe(ctx context.Context, out io.Writer) error {
	cache, err := os.UserCacheDir()
	if err != nil {
		return err
	}
	folder := filepath.Join(cache, "rollingboil", "axe-core-"+axeVersion)
	script := filepath.Join(folder, "node_modules", "axe-core", "axe.min.js")
	if checkSum(script, axeSum) != nil {
		if _, err := exec.LookPath("npm"); err != nil {
			if err := install(ctx, out, npmTool); err != nil {
				return err
			}
		}
		if err := os.MkdirAll(folder, 0o755); err != nil {
			return err
		}
		// An earlier try may have left half of it.
		if err := os.RemoveAll(filepath.Join(folder, "node_modules")); err != nil {
			return err
		}
		err := command(ctx, out, systemCertificates(os.Getenv, certificates), "npm", "install", "--prefix", folder,
			"--no-save", "--ignore-scripts", "--no-audit", "--no-fund", "--no-update-notifier", "axe-core@"+axeVersion)
		if err != nil {
			return err
		}
		if err := checkSum(script, axeSum); err != nil {
			return err
		}
	}
	return os.Setenv(axeVariable, script)
}

// systemCertificates makes npm trust what the system trusts, as Go does. Npm
// has a list of its own otherwise, which knows nothing of the certificate of a
// school's or a company's network.
func systemCertificates(getenv func(string) string, bundle string) []string {
	const variable = "NODE_EXTRA_CA_CERTS"
	if getenv(variable) != "" {
		return nil
	}
	if _, err := os.Stat(bundle); err != nil {
		return nil
	}
	return []string{variable + "=" + bundle}
}

// checkSum returns an error unless the file has the SHA-256 sum.
func checkSum(file, want string) error {
	content, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	if got := fmt.Sprintf("%x", sha256.Sum256(content)); got != want {
		return fmt.Errorf("%s has the SHA-256 sum %s, want %s", file, got, want)
	}
	return nil
}
