//go:build unix

package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"narrowgauge/cmd/lsp/save"
	"narrowgauge/isa/reftest"
)

// TestKilled ends fix at moments that chance chooses, by signals that it can and
// cannot see: each file is the old text or the new one, whole, and where it can see
// the signal, no other file is left. A file with two names, which is written in
// place, may be damaged if a copy of its old text is beside it.
func TestKilled(t *testing.T) {
	const files = 12
	old := "\t.syntax unified\n\t.cpu cortex-m0\n\t.thumb\n" + strings.Repeat("\tadd r0, r1, r2\t@ the points are set\n\tcmp r0, #1\n", 3) + "\tbx lr\n"
	now := strings.ReplaceAll(old, "\tadd ", "\tadds ")
	r := reftest.Rand(12, 5)
	times := reftest.Count(4, 200, 1000)
	whole := time.Duration(0) // what a run takes that nothing ends
	amid, copies := 0, 0
	for k := range times + 1 {
		dir := t.TempDir()
		for i := range files {
			name := filepath.Join(dir, fmt.Sprintf("box%02d.s", i))
			if err := os.WriteFile(name, []byte(old), 0o644); err != nil {
				t.Fatal(err)
			}
			if i%2 == 1 {
				if err := os.Link(name, name+".linked"); err != nil {
					t.Skip("no hard links here:", err)
				}
			}
		}
		signal := []syscall.Signal{syscall.SIGKILL, syscall.SIGTERM, syscall.SIGINT}[k%3]
		cmd := process("fix", "--journal", filepath.Join(dir, "journal.jsonl"), ".")
		cmd.Dir = dir
		var out strings.Builder
		cmd.Stdout, cmd.Stderr = &out, &out
		start := time.Now()
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		if k > 0 {
			time.Sleep(time.Duration(r.Float64() * float64(whole)))
			_ = cmd.Process.Signal(signal)
		}
		err := cmd.Wait()
		if exit := new(exec.ExitError); err != nil && !errors.As(err, &exit) {
			t.Fatal(err)
		}
		if k == 0 {
			whole = time.Since(start)
			if err != nil {
				t.Fatalf("%v: %s", err, out.String())
			}
		}
		changed := 0
		left, _ := filepath.Glob(filepath.Join(dir, save.Prefix+"*"))
		for i := range files {
			name := filepath.Join(dir, fmt.Sprintf("box%02d.s", i))
			text, err := os.ReadFile(name)
			switch {
			case err != nil:
				t.Error(err)
			case string(text) == now:
				changed++
			case string(text) != old:
				if signal != syscall.SIGKILL || i%2 == 0 || !hasText(left, old) {
					t.Errorf("run %d, %v: %s has neither text but %d bytes; left %q", k, signal, name, len(text), left)
				}
				copies++
			}
		}
		if k > 0 && changed > 0 && changed < files {
			amid++
		}
		// A signal may come before the program has begun to look out for it, but then
		// nothing has been written yet.
		if signal != syscall.SIGKILL && len(left) > 0 {
			t.Errorf("run %d, %v: left %q", k, signal, left)
		}
		if k == 0 && changed != files {
			t.Fatalf("%d files changed: %s", changed, out.String())
		}
		if said := fmt.Sprintf("%d files changed of", changed); changed > 1 && err == nil && !strings.Contains(out.String(), said) {
			t.Errorf("run %d, %v: %d files are changed, and it says\n%s", k, signal, changed, out.String())
		}
	}
	t.Logf("counted %d runs, %d ended between the first file and the last; %d damaged files with a copy", times, amid, copies)
	if amid < reftest.Least(1) {
		t.Error("none was ended amid its work")
	}
}

func hasText(paths []string, text string) bool {
	for _, p := range paths {
		if data, err := os.ReadFile(p); err == nil && string(data) == text {
			return true
		}
	}
	return false
}
