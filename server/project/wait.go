//go:build !js && !wasip1

package project

import "syscall"

// noWait lets opening a pipe not wait for a writer.
const noWait = syscall.O_NONBLOCK
