//go:build !linux

package pages

// Reserve does nothing: only Linux has to be asked.
func Reserve(int) {}
