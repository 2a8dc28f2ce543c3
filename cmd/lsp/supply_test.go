package main

import (
	"os"
	"regexp"
	"strings"
	"testing"
	"time"
)

// TestDependencies holds that DEVELOPERS.md lists the modules of go.mod as they are, with
// their age and licence, and a reason for those that are older than three years.
func TestDependencies(t *testing.T) {
	mod, err := os.ReadFile("../../go.mod")
	if err != nil {
		t.Fatal(err)
	}
	doc, err := os.ReadFile("../../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	type row struct{ released, licence, reason string }
	listed := map[string]row{}
	for _, m := range regexp.MustCompile(`(?m)^\| (\S+\.\S+/\S+ v\S+) \| (\d{4}-\d\d) \| (\S+) \| (.*) \|$`).FindAllStringSubmatch(string(doc), -1) {
		listed[m[1]] = row{m[2], m[3], m[4]}
	}
	// The newest one says when the table was made: it does not go stale by itself.
	now := time.Time{}
	for _, r := range listed {
		if at, err := time.Parse("2006-01", r.released); err == nil && at.After(now) {
			now = at
		}
	}
	n := 0
	for _, m := range regexp.MustCompile(`(?m)^\s+(\S+ v\S+)`).FindAllStringSubmatch(string(mod), -1) {
		n++
		r, ok := listed[m[1]]
		if !ok {
			t.Errorf("%s is not in DEVELOPERS.md", m[1])
			continue
		}
		delete(listed, m[1])
		released, err := time.Parse("2006-01", r.released)
		if err != nil {
			t.Errorf("%s: %v", m[1], err)
		}
		if old := now.Sub(released) > 3*365*24*time.Hour; old && !strings.Contains(r.reason, "old") {
			t.Errorf("%s is older than three years, and DEVELOPERS.md does not say why", m[1])
		}
	}
	for m := range listed {
		t.Errorf("%s is in DEVELOPERS.md, not in go.mod", m)
	}
	if n < 5 {
		t.Errorf("only %d modules are found in go.mod", n)
	}
}
