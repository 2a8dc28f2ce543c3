package main

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"narrowgauge/analysis"
)

// printSummary prints how many findings of each check there are, and where the first is.
func printSummary(out io.Writer, style style, all []found, how listing) {
	type line struct {
		severity analysis.Severity
		code     string
		count    int
		first    jsonFinding
	}
	at := map[string]int{}
	var lines []line
	for _, f := range all {
		if !how.hints && f.diag.Severity == analysis.Hint {
			continue
		}
		i, ok := at[f.diag.Code]
		if !ok {
			i = len(lines)
			at[f.diag.Code] = i
			lines = append(lines, line{f.diag.Severity, f.diag.Code, 0, f.json})
		}
		lines[i].count++
		lines[i].severity = min(lines[i].severity, f.diag.Severity)
	}
	slices.SortStableFunc(lines, func(a, b line) int {
		return cmp.Or(cmp.Compare(a.severity, b.severity), cmp.Compare(b.count, a.count))
	})
	titles := map[string]string{}
	for _, c := range analysis.Checks() {
		titles[c.Code] = c.Title
	}
	for _, l := range lines {
		fmt.Fprintf(out, "%s %s %-22s %s %s\n", style.bold(fmt.Sprintf("%7d", l.count)), style.severity(l.severity, fmt.Sprintf("%-8s", l.severity)),
			l.code, titles[l.code], style.dim(fmt.Sprintf("(first in %s:%d:%d)", clean(l.first.File), l.first.Line, l.first.Column)))
	}
}

// advice is what may be done next, as one line; empty: there is nothing to say. args are
// the paths of the command line.
func advice(all []found, args []string, guessed bool) string {
	var list []string
	safe, code := 0, ""
	printed := 0
	for _, f := range all {
		if f.text != "" {
			printed++
		}
		if f.safe {
			safe++
		}
		if code == "" && f.diag.Severity == analysis.Error {
			code = f.diag.Code
		}
	}
	if printed > aScreen {
		list = append(list, "the option --summary counts the findings by check")
	}
	if safe > 0 && !slices.Contains(args, "-") {
		list = append(list, fmt.Sprintf("\"narrowgauge fix --diff %s\" shows what the safe rewrites change", paths(args)))
	}
	if code != "" {
		list = append(list, fmt.Sprintf("\"narrowgauge explain %s\" says why", code))
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
