//go:build !linux

package main

// reserve makes memory come in large pages, where the system has to be asked for them.
func reserve(int) {}
