// Package neovim_test runs the server inside a real Neovim, with the set-up
// file that users copy.
package neovim_test

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

// TestNeovim builds the server and lets test.lua drive a headless Neovim
// with an empty configuration: finding, rewrite, undo, hover, end. Then it lets
// missing.lua see what is said without a server, and that it is found where it is
// installed.
func TestNeovim(t *testing.T) {
	nvim, err := exec.LookPath("nvim")
	reftest.Need(t, err == nil, "nvim")
	server := filepath.Join(t.TempDir(), "narrowgauge")
	reftest.Build(t, "../..", server)
	drive := func(t *testing.T, script, home string, more ...string) {
		// Not a limit for speed: only so that a Neovim that hangs ends at all.
		ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
		defer cancel()
		run := exec.CommandContext(ctx, nvim, "--clean", "--headless", "-i", "NONE", "-n", "-c", "luafile "+script)
		run.Env = append(os.Environ(), reftest.Server+"="+server, "HOME="+home,
			"XDG_CONFIG_HOME="+home, "XDG_DATA_HOME="+home, "XDG_STATE_HOME="+home, "XDG_CACHE_HOME="+home)
		run.Env = append(run.Env, more...)
		out, err := run.CombinedOutput()
		if err != nil || !strings.Contains(string(out), script+": passed") {
			t.Errorf("nvim: %v\n%s", err, out)
		}
	}
	drive(t, "test.lua", t.TempDir())
	places := []string{".local/bin", "go/bin", "tools/bin", "go bin"}
	if testing.Short() {
		places = places[:1]
	}
	for _, place := range places {
		t.Run(place, func(t *testing.T) {
			home := t.TempDir()
			more := []string{"PATH=/usr/bin:/bin", "PLACE=" + place, "GOBIN=", "GOPATH="}
			switch place {
			case "tools/bin":
				more[3] = "GOPATH=/nowhere:" + home + "/tools"
			case "go bin":
				more[2] = "GOBIN=" + home + "/go bin"
			}
			drive(t, "missing.lua", home, more...)
		})
	}
}
