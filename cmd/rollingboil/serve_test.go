package main

import (
	"bufio"
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
)

// BenchmarkServeStart starts the built program with a new database and waits for
// the line that tells it is listening. It also tells what memory the program
// holds then, where the system says so.
func BenchmarkServeStart(b *testing.B) {
	program := filepath.Join(b.TempDir(), "rollingboil")
	if out, err := exec.CommandContext(b.Context(), "go", "build", "-o", program, ".").CombinedOutput(); err != nil {
		b.Fatalf("%v\n%s", err, out)
	}
	held := 0.0
	for b.Loop() {
		cmd := exec.CommandContext(b.Context(), program, "--addr", "127.0.0.1:0", "--db", filepath.Join(b.TempDir(), "x.db"))
		out, err := cmd.StdoutPipe()
		if err != nil {
			b.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			b.Fatal(err)
		}
		if line := bufio.NewScanner(out); !line.Scan() {
			b.Fatal("it ended before it listened")
		}
		held = max(held, residentMiB(b, cmd.Process.Pid))
		if err := cmd.Process.Kill(); err != nil {
			b.Fatal(err)
		}
		_ = cmd.Wait() // it was killed, which is no news
	}
	if held > 0 {
		b.ReportMetric(held, "MiB-held")
	}
}

// residentMiB is the memory a process holds; 0 where only other means would tell.
func residentMiB(b *testing.B, pid int) float64 {
	b.Helper()
	if runtime.GOOS != "linux" {
		return 0
	}
	status, err := os.ReadFile(filepath.Join("/proc", strconv.Itoa(pid), "status"))
	if err != nil {
		b.Fatal(err)
	}
	_, rest, _ := bytes.Cut(status, []byte("VmRSS:"))
	kib, err := strconv.ParseFloat(strings.Fields(string(rest))[0], 64)
	if err != nil {
		b.Fatal(err)
	}
	return kib / 1024
}
