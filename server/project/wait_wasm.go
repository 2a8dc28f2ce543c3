//go:build js || wasip1

package project

// noWait is nothing in WebAssembly, where there are no pipes.
const noWait = 0
