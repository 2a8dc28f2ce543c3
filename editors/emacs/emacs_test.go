// Package emacs_test runs the server inside a real Emacs, with Eglot and what users copy into
// their init file.
package emacs_test

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"narrowgauge/isa/reftest"
)

// TestEmacs builds the server and lets test.el drive an Emacs without a window, with the lines
// of SETUP.md and no other configuration.
func TestEmacs(t *testing.T) {
	emacs, err := exec.LookPath("emacs")
	reftest.Need(t, err == nil && exec.Command(emacs, "--batch", "-l", "eglot").Run() == nil, "emacs with eglot")
	home, project := t.TempDir(), t.TempDir()
	folder := filepath.Join(home, "bin")
	reftest.Build(t, "../..", filepath.Join(folder, "narrowgauge"))
	page, err := os.ReadFile("../SETUP.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, found := strings.Cut(string(page), "Emacs with Eglot")
	_, rest, _ = strings.Cut(rest, "```elisp\n")
	lines, _, ends := strings.Cut(rest, "```")
	if !found || !ends {
		t.Fatal("SETUP.md says nothing of Emacs")
	}
	script, err := filepath.Abs("test.el")
	if err != nil {
		t.Fatal(err)
	}
	setup := filepath.Join(home, "init.el")
	if err := os.WriteFile(setup, []byte(lines), 0o600); err != nil {
		t.Fatal(err)
	}
	// Not a limit for speed: only so that an Emacs that hangs ends at all.
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	defer cancel()
	run := exec.CommandContext(ctx, emacs, "--batch", "-l", setup, "-l", script)
	run.Dir = project
	run.Env = append(os.Environ(), "HOME="+home, "XDG_CACHE_HOME="+home, "PATH="+folder+":/usr/bin:/bin")
	if out, err := run.CombinedOutput(); err != nil || !strings.Contains(string(out), "test.el: passed") {
		t.Errorf("emacs: %v\n%s", err, out)
	}
}
