package main

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"narrowgauge/analysis"
)

// checkCount is how many findings of a check there are, and where the first is.
type checkCount struct {
	severity analysis.Severity
	count    int
	first    linePlace
	file     string
}

// sum counts a finding for a summary.
func (r *textReport) sum(f *found) {
	if !r.how.hints && f.diag.Severity == analysis.Hint {
		return
	}
	c := r.checks[f.diag.Code]
	if c == nil {
		c = &checkCount{severity: f.diag.Severity, first: linePlace{f.json.Line, f.json.Column}, file: f.json.File}
		r.checks[f.diag.Code] = c
		r.codes = append(r.codes, f.diag.Code)
	}
	c.count++
	c.severity = min(c.severity, f.diag.Severity)
}

// summary prints how many findings of each check there are.
func (r *textReport) summary() {
	slices.SortStableFunc(r.codes, func(a, b string) int {
		x, y := r.checks[a], r.checks[b]
		return cmp.Or(cmp.Compare(x.severity, y.severity), cmp.Compare(y.count, x.count))
	})
	titles := map[string]string{}
	for _, c := range analysis.Checks() {
		titles[c.Code] = c.Title
	}
	for _, code := range r.codes {
		c := r.checks[code]
		fmt.Fprintf(r.out, "%s %s %-22s %s %s\n", r.style.bold(fmt.Sprintf("%7d", c.count)), r.style.severity(c.severity, fmt.Sprintf("%-8s", c.severity)),
			code, titles[code], r.style.dim(fmt.Sprintf("(first in %s:%d:%d)", clean(c.file), c.first.line, c.first.column)))
	}
}

// advice is what may be done next, as one line; empty: there is nothing to say.
func (r *textReport) advice(guessed bool) string {
	var list []string
	if r.printed > aScreen {
		list = append(list, "the option --summary counts the findings by check")
	}
	if r.safe && !slices.Contains(r.args, "-") {
		list = append(list, fmt.Sprintf("\"narrowgauge fix --diff %s\" shows what the safe rewrites change", paths(r.args)))
	}
	if r.code != "" {
		list = append(list, fmt.Sprintf("\"narrowgauge explain %s\" says why", r.code))
	}
	if guessed {
		list = append(list, "\"narrowgauge init\" keeps the target that was found")
	}
	if len(list) == 0 {
		return ""
	}
	return "Next: " + strings.Join(list, "; ") + "."
}

// aScreen is how many findings are more than anybody reads at once.
const aScreen = 50

// maxPaths is how many bytes of paths are repeated.
const maxPaths = 60

// paths writes paths as they may be typed again.
func paths(args []string) string {
	text := strings.Join(args, " ")
	plain := func(c rune) bool {
		return c < 0x80 && !strings.ContainsRune(" \t\n\"'\\$`&|;<>()*?[]#~!{}", c) && c > ' ' || c > 0xa0
	}
	for _, arg := range args {
		if arg == "" || strings.ContainsFunc(arg, func(c rune) bool { return !plain(c) }) {
			return "PATH..."
		}
	}
	if len(text) > maxPaths {
		return "PATH..."
	}
	return clean(text)
}
