//go:build linux

package main

import (
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/sys/unix"
)

// terminal opens a pseudo-terminal: what is written to the second file can be
// read from the first.
func terminal(t *testing.T) (reader, writer *os.File) {
	t.Helper()
	reader, err := os.OpenFile("/dev/ptmx", os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Skip("no pseudo-terminals: ", err)
	}
	if err := unix.IoctlSetPointerInt(int(reader.Fd()), unix.TIOCSPTLCK, 0); err != nil {
		t.Fatal(err)
	}
	n, err := unix.IoctlGetInt(int(reader.Fd()), unix.TIOCGPTN)
	if err != nil {
		t.Fatal(err)
	}
	writer, err = os.OpenFile("/dev/pts/"+strconv.Itoa(n), os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	return reader, writer
}

func init() { shownOnTerminal = onTerminal }

// onTerminal runs the program with its output on a terminal, and with some
// variables of the environment set.
func onTerminal(t *testing.T, dir string, env []string, args ...string) string {
	t.Helper()
	reader, writer := terminal(t)
	defer reader.Close()
	cmd := exec.Command(filepath.Join(dir, "narrowgauge"), args...)
	cmd.Dir, cmd.Stdout = dir, writer
	for _, v := range os.Environ() {
		if !strings.HasPrefix(v, "NO_COLOR=") && !strings.HasPrefix(v, "TERM=") {
			cmd.Env = append(cmd.Env, v)
		}
	}
	cmd.Env = append(cmd.Env, env...)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	_ = writer.Close()
	out, _ := io.ReadAll(reader) // ends with EIO when nobody writes any more
	_ = cmd.Wait()
	return strings.ReplaceAll(string(out), "\r\n", "\n")
}

// On a terminal, and nowhere else, findings have colours, unless the user does
// not want them (https://no-color.org: "when present and not an empty string").
func TestTerminal(t *testing.T) {
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := os.Symlink(self, filepath.Join(dir, "narrowgauge")); err != nil {
		t.Skip(err)
	}
	for name, text := range map[string]string{
		"red.s":    "\t.syntax unified\n\t.cpu cortex-m0\n\t.thumb\n\tadd r0, r1, r2\n\tcmp r0, #1\n\tbx lr\n",
		"yellow.s": "\t.syntax unified\n\t.thumb\n\tldr r0, =0x12345678\n\t.ltorg\n\tbx lr\n",
		"blue.s":   "\t.syntax unified\n\t.thumb\n\tpush {lr}\n\tbl signal_box\n\tpop {pc}\n",
		"part.inc": "\tnop\n",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	plain := func(s string) string {
		for _, code := range []string{"0", "1", "2", "31", "32", "1;31", "1;33", "1;34"} {
			s = strings.ReplaceAll(s, "\x1b["+code+"m", "")
		}
		return s
	}
	all := []string{"check", "--hints", "red.s", "yellow.s", "blue.s"}
	coloured := onTerminal(t, dir, []string{"TERM=xterm"}, all...)
	want := plain(coloured)
	if strings.ContainsRune(want, '\x1b') {
		t.Errorf("other colours: %q", want)
	}
	for _, part := range []string{
		"\x1b[1mred.s:4:2\x1b[0m: \x1b[1;31merror:\x1b[0m \x1b[1m", "\x1b[2m[flags-form]\x1b[0m\n",
		"\x1b[2m    4 |\x1b[0m         add r0, r1, r2\n\x1b[2m      |\x1b[0m         \x1b[1;31m^~~\x1b[0m\n",
		"    \x1b[31m-         add r0, r1, r2\x1b[0m\n    \x1b[32m+         adds r0, r1, r2\x1b[0m\n",
		": \x1b[1;33mwarning:\x1b[0m ", ": \x1b[1;34mhint:\x1b[0m ",
		"\n\x1b[1;31m1 error\x1b[0m, \x1b[1;33m1 warning\x1b[0m, \x1b[1;34m1 hint\x1b[0m in 3 files\n",
	} {
		if !strings.Contains(coloured, part) {
			t.Errorf("%q is not in\n%q", part, coloured)
		}
	}
	for _, tt := range []struct {
		env  []string
		want string
	}{
		{[]string{"TERM=xterm", "NO_COLOR=1"}, want},
		{[]string{"TERM=xterm", "NO_COLOR=0"}, want},
		{[]string{"TERM=xterm", "NO_COLOR="}, coloured},
		{[]string{"TERM=dumb"}, want},
		{[]string{"TERM=dumb", "NO_COLOR="}, want},
		{nil, coloured},
	} {
		if got := onTerminal(t, dir, tt.env, all...); got != tt.want {
			t.Errorf("%v: %q", tt.env, got)
		}
	}
	// No terminal: no colours, whatever TERM says. What is for machines has
	// none on a terminal either.
	cmd := exec.Command(filepath.Join(dir, "narrowgauge"), all...)
	cmd.Dir, cmd.Env = dir, append(os.Environ(), "TERM=xterm", "NO_COLOR=")
	if out, _ := cmd.Output(); string(out) != want {
		t.Errorf("through a pipe: %q", out)
	}
	for _, args := range [][]string{{"check", "--format", "json", "red.s"}, {"fix", "--diff", "red.s"}} {
		if got := onTerminal(t, dir, []string{"TERM=xterm"}, args...); strings.ContainsRune(got, '\x1b') || !strings.Contains(got, "red.s") {
			t.Errorf("%v: %q", args, got)
		}
	}
	if hints := fmt.Sprint(onTerminal(t, dir, []string{"TERM=xterm"}, "check", "blue.s")); !strings.Contains(hints, "\x1b[2mThe option --hints prints the hints.\x1b[0m\n") {
		t.Errorf("%q", hints)
	}
}
