// Package vscode_test runs the extension with something in place of the editor.
package vscode_test

import (
	"os/exec"
	"strings"
	"testing"

	"narrowgauge/isa/reftest"
)

// TestMissingServer holds what the extension says without a server, and where it looks for
// one.
func TestMissingServer(t *testing.T) {
	reftest.Require(t, "node")
	out, err := exec.Command("node", "missing.js", t.TempDir()).CombinedOutput()
	if err != nil || !strings.Contains(string(out), "missing.js: passed") {
		t.Errorf("%v\n%s", err, out)
	}
}

// TestStatus holds what the status bar shows of the target, and when the server is asked.
func TestStatus(t *testing.T) {
	reftest.Require(t, "node")
	out, err := exec.Command("node", "status.js").CombinedOutput()
	if err != nil || !strings.Contains(string(out), "status.js: passed") {
		t.Errorf("%v\n%s", err, out)
	}
}
