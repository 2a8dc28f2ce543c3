package reftest

import (
	"os"
	"os/exec"
	"testing"
)

// Require skips the test when one of the programs in tools is not on the
// path; with CI=true in the environment it fails the test instead.
func Require(t testing.TB, tools ...string) {
	t.Helper()
	for _, tool := range tools {
		_, err := exec.LookPath(tool)
		Need(t, err == nil, tool)
	}
}

// InCI fails the test with CI=true in the environment where have is false. Else
// it lets the test go on, with the other tools.
func InCI(t testing.TB, have bool, what string) {
	t.Helper()
	if !have && os.Getenv("CI") == "true" {
		t.Fatalf("reference tool missing in CI: %s", what)
	}
}

// Need is Require for anything else that may be missing: where have is false
// it skips the test, or fails it with CI=true in the environment. what names
// the thing.
func Need(t testing.TB, have bool, what string) {
	t.Helper()
	switch {
	case have:
	case os.Getenv("CI") == "true":
		InCI(t, have, what)
	default:
		t.Skipf("reference tool missing: %s", what)
	}
}
