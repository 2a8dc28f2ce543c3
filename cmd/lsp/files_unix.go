//go:build unix

package main

import (
	"fmt"
	"os"
	"os/signal"
	"syscall"
)

// endings are the signals that end a program if it does not look out for them: that of kill,
// that of a terminal which is closed, and that of an output which nobody reads any more.
var endings = []os.Signal{syscall.SIGTERM, syscall.SIGHUP, syscall.SIGPIPE}

// ignorePipes makes a client that closes its end an error of writing, no signal that ends us.
func ignorePipes() { signal.Ignore(syscall.SIGPIPE) }

// needFiles is how many files the program has open at the same time at most when it
// works on one source: the source, what it includes, folders, and what Go's runtime
// takes to wait for files, without which it ends with a trace.
const needFiles = 10

// enoughFiles says whether the system lets the program open as many files as it needs
// (RLIMIT_NOFILE of POSIX).
func enoughFiles() error {
	var open []int
	defer func() {
		for _, fd := range open {
			_ = syscall.Close(fd)
		}
	}()
	for range needFiles {
		fd, err := syscall.Open(os.DevNull, syscall.O_RDONLY|syscall.O_CLOEXEC, 0)
		if err == syscall.EMFILE || err == syscall.ENFILE {
			return fmt.Errorf("only %d more files can be opened, and %d are needed (%w); see ulimit -n", len(open), needFiles, err)
		}
		if err != nil {
			return nil // there is no such device here: no way to ask
		}
		open = append(open, fd)
	}
	return nil
}
