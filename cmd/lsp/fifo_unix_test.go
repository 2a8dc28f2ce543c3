//go:build unix

package main

import (
	"syscall"

	"github.com/rogpeppe/go-internal/testscript"
)

// fifo is the script command "fifo FILE", which makes a pipe.
func fifo(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: fifo FILE")
	}
	ts.Check(syscall.Mkfifo(ts.MkAbs(args[0]), 0o644))
}
