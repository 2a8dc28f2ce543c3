package isa_test

import (
	"fmt"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"narrowgauge/isa/reftest"
)

// disagreement is an entry of a table of known disagreements. The manuals'
// titles in the reasons are cited from memory.
type disagreement struct{ pattern, reason string }

// judge sorts the cases into the disagreements, and fails on those that none
// explains and, in a whole run, on explanations without a case. It hands back how many cases
// each entry explains. Those of shared are explained too, and need no case.
func judge(t *testing.T, table []disagreement, cases []string, shared ...disagreement) []int {
	t.Helper()
	own := len(table)
	table = append(table[:own:own], shared...)
	res := make([]*regexp.Regexp, len(table))
	hits := make([]int, len(table))
	for i, d := range table {
		res[i] = regexp.MustCompile(d.pattern)
	}
	unknown := 0
	file := reftest.Text(reftest.Disagreements) // where to write those that are new
	var all strings.Builder
	for _, c := range cases {
		i := slices.IndexFunc(res, func(r *regexp.Regexp) bool { return r.MatchString(c) })
		if i >= 0 {
			hits[i]++
			continue
		}
		if unknown++; unknown <= 40 {
			t.Errorf("unexplained: %s", c)
		}
		fmt.Fprintln(&all, c)
	}
	if unknown > 40 {
		t.Errorf("%d are unexplained", unknown)
	}
	if file != "" {
		if err := os.WriteFile(file, []byte(all.String()), 0o644); err != nil {
			t.Error(err)
		}
	}
	for i, d := range table {
		t.Logf("known: %5d × %s: %s", hits[i], d.pattern, d.reason)
		if hits[i] == 0 && i < own && !reftest.Part() {
			t.Errorf("no case is hit by %s", d.pattern)
		}
	}
	return hits
}
