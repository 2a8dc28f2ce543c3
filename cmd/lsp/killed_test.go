//go:build unix

package main

import (
	"errors"
	"fmt"
	"io/fs"
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

// shownOnTerminal runs the program with its output on a terminal; nil where the tests have none.
var shownOnTerminal func(t *testing.T, dir string, env []string, args ...string) string

// TestKilled ends fix at moments that chance chooses, by signals that it can and
// cannot see: each file is the old text or the new one, whole, and where it can see
// the signal, no other file is left. A file with two names, which is written in
// place, may be damaged if a copy of its old text is beside it.
func TestKilled(t *testing.T) {
	const files = 12
	old := "\t.syntax unified\n\t.cpu cortex-m0\n\t.thumb\n" + strings.Repeat("\tadd r0, r1, r2\t@ the points are set\n\tcmp r0, #1\n", 3) + "\tbx lr\n"
	now := strings.ReplaceAll(old, "\tadd ", "\tadds ")
	r := reftest.Rand(12, 5)
	times := reftest.Count(5, 200, 1000)
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
		signal := []syscall.Signal{syscall.SIGKILL, syscall.SIGTERM, syscall.SIGINT, syscall.SIGHUP, syscall.SIGPIPE}[k%5]
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

// TestInterruptedBaseline ends check while it writes a baseline: the one that was there stays.
func TestInterruptedBaseline(t *testing.T) {
	dir := t.TempDir()
	text := "\t.syntax unified\n\t.cpu cortex-m0\n\t.thumb\n" + strings.Repeat("\tadd r0, r1, r2\n", 50)
	for i := range 300 {
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("box%03d.s", i)), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	output(t, dir, "check", "--write-baseline", "known.json", "box000.s")
	was, err := os.ReadFile(filepath.Join(dir, "known.json"))
	if err != nil || !strings.Contains(string(was), "box000.s") {
		t.Fatalf("%s, %v", was, err)
	}
	refused := 0
	for k := range 12 {
		cmd := process("check", "--write-baseline", "known.json", ".")
		cmd.Dir = dir
		var out strings.Builder
		cmd.Stdout, cmd.Stderr = &out, &out
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(k) * 20 * time.Millisecond)
		_ = cmd.Process.Signal([]syscall.Signal{syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP}[k%3])
		err := cmd.Wait()
		now, failed := os.ReadFile(filepath.Join(dir, "known.json"))
		switch {
		case failed != nil:
			t.Fatal(failed)
		case err == nil: // it was too quick
			if string(now) == string(was) || !strings.Contains(out.String(), "15000 known findings") {
				t.Errorf("run %d: %s", k, out.String())
			}
			if err := os.WriteFile(filepath.Join(dir, "known.json"), was, 0o644); err != nil {
				t.Fatal(err)
			}
		default:
			refused++
			if string(now) != string(was) {
				t.Errorf("run %d: the baseline has %d bytes, it had %d; %s", k, len(now), len(was), out.String())
			}
		}
	}
	if left, _ := filepath.Glob(filepath.Join(dir, save.Prefix+"*")); len(left) > 0 || refused == 0 {
		t.Errorf("%d refused, left %q", refused, left)
	}
}

// TestFullOutput holds that each command says so where its output cannot be written.
func TestFullOutput(t *testing.T) {
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if err != nil {
		t.Skip(err)
	}
	defer full.Close()
	dir := t.TempDir()
	for name, text := range map[string]string{"points.s": "\t.syntax unified\n\t.cpu cortex-m0\n\t.thumb\n\tadd r0, r1, r2\n\tcmp r0,#1\n\tbx lr\n", "signal.s": "\t.thumb\n\tbx lr\n"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, args := range []string{"check points.s", "check signal.s", "check --summary points.s", "check --format json points.s", "check --format sarif signal.s", "fix --diff points.s", "format --diff points.s", "format --check points.s", "fix points.s", "fix -", "fix --diff -",
		"format signal.s", "format -", "layout signal.s", "layout --map signal.s", "explain", "explain constant-range", "doctor", "init --print .", "schema settings", "manual", "version", "--version", "--help"} {
		cmd := process(strings.Fields(args)...)
		cmd.Dir, cmd.Env = dir, append(os.Environ(), "XDG_STATE_HOME="+dir)
		cmd.Stdin = strings.NewReader("\t.syntax unified\n\t.cpu cortex-m0\n\t.thumb\n\tadd r0, r1, r2\n\tbx lr\n")
		cmd.Stdout = full
		var said strings.Builder
		cmd.Stderr = &said
		err := cmd.Run()
		if exit := new(exec.ExitError); !errors.As(err, &exit) || exit.ExitCode() != 2 || !strings.Contains(said.String(), "standard output: no space left") {
			t.Errorf("%s: %v, %q", args, err, said.String())
		}
	}
}

// TestOddNames changes files with names of any bytes, and takes that back.
func TestOddNames(t *testing.T) {
	dir := t.TempDir()
	const old = "\t.syntax unified\n\t.cpu cortex-m0\n\t.thumb\n\tadd r0, r1, r2 @ \x1b[31m\n\tbx lr\n"
	names := []string{"points\xff\xfe.s", "a\nb.s", "\x1b[31m.s", "q\"uo\\te.s", "-rf.s", " .s", "x\n--- a.s", strings.Repeat("a", 253) + ".s"}
	var made []string
	for _, name := range names {
		if os.WriteFile(filepath.Join(dir, name), []byte(old), 0o644) == nil {
			made = append(made, name)
		}
	}
	state := t.TempDir()
	run := func(args ...string) string {
		cmd := process(args...)
		cmd.Dir, cmd.Env = dir, append(os.Environ(), "XDG_STATE_HOME="+state)
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Errorf("%q: %v %s", args, err, out)
		}
		return string(out)
	}
	diff := run("fix", "--diff", ".")
	if n := strings.Count(diff, "\n--- ") + 1; n != len(made) || strings.Count(diff, "\x1b") != 2*len(made) {
		t.Errorf("%d differences, want %d, in\n%q", n, len(made), diff)
	}
	if said := run("fix", "."); !strings.Contains(said, fmt.Sprintf("%d files changed of %[1]d", len(made))) || strings.Contains(said, "\x1b") {
		t.Errorf("%q", said)
	}
	if said := run("fix", "--undo"); !strings.Contains(said, fmt.Sprintf("%d files changed of %[1]d", len(made))) {
		t.Errorf("%q", said)
	}
	for _, name := range made {
		if text, err := os.ReadFile(filepath.Join(dir, name)); err != nil || string(text) != old {
			t.Errorf("%q: %q, %v", name, text, err)
		}
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(self, filepath.Join(dir, "narrowgauge")); err != nil && !errors.Is(err, fs.ErrExist) {
		t.Skip(err)
	}
	if shownOnTerminal == nil {
		return
	}
	if shown := shownOnTerminal(t, dir, []string{"TERM=xterm"}, "fix", "--diff", "--", made[0], "-rf.s"); strings.Contains(shown, "\x1b") {
		t.Errorf("on a terminal: %q", shown)
	}
}
