//go:build !unix

package main

import "github.com/rogpeppe/go-internal/testscript"

// fifo is the script command "fifo FILE": there are none here.
func fifo(ts *testscript.TestScript, _ bool, _ []string) { ts.Fatalf("no pipes here") }
