//go:build !linux

package pages

// reserve does nothing: only Linux has to be asked.
func reserve(int) {}

// fresh does nothing either.
func fresh() {}
