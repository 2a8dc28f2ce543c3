package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

// TestCommandFor holds that a command that is made without the others says of itself what it
// says among them, and that what no command begins has them all.
func TestCommandFor(t *testing.T) {
	for _, c := range commands {
		var said [2]bytes.Buffer
		args := []string{c.name, "--help"}
		alone, _ := commandFor(args)
		for i, root := range []*cobra.Command{alone, rootCommand()} {
			root.SetArgs(args)
			root.SetOut(&said[i])
			if err := root.Execute(); err != nil {
				t.Errorf("%s: %v", c.name, err)
			}
		}
		if said[0].String() != said[1].String() {
			t.Errorf("%s: %s\nand among the others: %s", c.name, &said[0], &said[1])
		}
	}
	for _, args := range [][]string{nil, {"--debug", "check"}, {"chekc"}, {"help"}, {"__complete", ""}} {
		if root, reads := commandFor(args); len(root.Commands()) < len(commands) || reads {
			t.Errorf("%q has %d commands", args, len(root.Commands()))
		}
	}
}

// TestRewritesOfHints holds that a hint has its rewrite where hints are printed.
func TestRewritesOfHints(t *testing.T) {
	dir := t.TempDir()
	source := "\t.syntax unified\n\t.thumb\n\t.global signal_lamps\nsignal_lamps:\n\tbx lr\n\t.global main\nmain:\n\tpush {lr}\n\tbl signal_lamp\n\tpop {pc}\n"
	if err := os.WriteFile(filepath.Join(dir, "lamps.s"), []byte(source), 0o644); err != nil {
		t.Fatal(err)
	}
	if out := output(t, dir, "check", "--hints", "lamps.s"); !strings.Contains(out, "signal_lamps (same size)") {
		t.Error(out)
	}
	if out := output(t, dir, "check", "lamps.s"); strings.Contains(out, "signal_lamps (same size)") {
		t.Error(out)
	}
}
