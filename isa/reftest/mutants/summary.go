package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
)

// String is one line about a result.
func (r *result) String() string {
	text := r.State + " " + r.name
	if r.State == "killed" {
		text += " by " + strings.TrimSuffix(strings.TrimPrefix(r.Pkg, "./")+" "+r.Test, " ")
	}
	if r.Slow {
		text += ", which takes too long"
	}
	return text
}

// states in the order of the table's columns.
var states = []string{"killed", "survived", "equivalent", "stale", "error"}

// summary prints the table by area, then what is wrong, survivors and
// equivalent mutants. It fails if the list is not in order; survivors are a
// matter of tests, not of the list.
func summary(w io.Writer, results []*result, quick bool) error {
	var areas []string
	count := map[string]map[string]int{}
	total := map[string]int{}
	for _, r := range results {
		if count[r.area] == nil {
			count[r.area] = map[string]int{}
			areas = append(areas, r.area)
		}
		state := r.State
		if state == "" {
			state = "applies"
		}
		count[r.area][state]++
		total[state]++
	}
	if quick {
		fmt.Fprintf(w, "%d mutants in %d areas: %d apply and compile, %d equivalent, %d stale, %d wrong\n",
			len(results), len(areas), total["applies"], total["equivalent"], total["stale"], total["error"])
	} else {
		tab := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
		fmt.Fprintf(tab, "tried\tkilled\tsurvived\tequivalent\tstale\terror\t\t  area\n")
		for _, area := range areas {
			row(tab, count[area], area)
		}
		row(tab, total, "all")
		_ = tab.Flush()
	}
	for _, state := range []string{"survived", "equivalent", "stale", "error"} {
		for _, r := range results {
			if r.State == state {
				detail(w, r)
			}
		}
	}
	if n := total["stale"] + total["error"]; n > 0 {
		return fmt.Errorf("%d mutants of the list do not apply or do not compile", n)
	}
	return nil
}

// row prints the counts of an area; equivalent mutants are not tried.
func row(w io.Writer, n map[string]int, area string) {
	tried := n["killed"] + n["survived"]
	fmt.Fprintf(w, "%d\t", tried)
	for _, state := range states {
		fmt.Fprintf(w, "%d\t", n[state])
	}
	share := ""
	if tried > 0 {
		share = fmt.Sprintf("%d %%", n["killed"]*100/tried)
	}
	fmt.Fprintf(w, "%s\t  %s\n", share, area)
}

// detail prints a mutant that was not killed, with its change or the reason.
func detail(w io.Writer, r *result) {
	fmt.Fprintf(w, "\n%s %s (%s)\n", r.State, r.name, r.at)
	if r.applied != nil {
		fmt.Fprintf(w, "  in %s:%d\n", r.applied.path, r.applied.line)
	}
	if r.State == "equivalent" {
		fmt.Fprintf(w, "  %s\n", r.why)
		return
	}
	for _, line := range strings.Split(strings.TrimRight(r.Output, "\n"), "\n") {
		if line != "" {
			fmt.Fprintf(w, "  %s\n", line)
		}
	}
	for _, part := range []struct{ sign, text string }{{"-", r.old}, {"+", r.new}} {
		for _, line := range strings.Split(strings.TrimRight(part.text, "\n"), "\n") {
			if line != "" {
				fmt.Fprintf(w, "  %s%s\n", part.sign, line)
			}
		}
	}
}
