package main

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"narrowgauge/analysis"
)

// TestProgress holds that a long run says how far it is, that a short one does not, and that
// nothing of it is left.
func TestProgress(t *testing.T) {
	for _, n := range []int{0, 1, showsAfter, showsAfter + 1, showsAfter + 3} {
		var out bytes.Buffer
		p := startProgress(&out, 40, make(chan time.Time))
		for range n {
			p.add()
			p.tick()
		}
		p.aside(func() { fmt.Fprint(p.out, "points.s: 1 edit\n") })
		p.end()
		p.end()
		got := out.String()
		if shown := strings.Count(got, " of 40 files"); shown != max(0, n-showsAfter) {
			t.Errorf("%d ticks: shown %d times: %q", n, shown, got)
		}
		want := "points.s: 1 edit\n"
		if n > showsAfter {
			want = clearLine + want
		}
		if !strings.HasSuffix(got, want) {
			t.Errorf("%d ticks: %q is left", n, got)
		}
	}
	if p := newProgress(&bytes.Buffer{}, 1000); p != nil {
		t.Error("progress on what is no terminal")
	}
	var none *progress
	none.add()
	none.end()
	wrote := false
	none.aside(func() { wrote = true })
	if !wrote {
		t.Error("without progress nothing is written")
	}
}

// TestAdvice holds what is said at the end of a run.
func TestAdvice(t *testing.T) {
	finding := func(code string, severity analysis.Severity, safe bool) found {
		return found{diag: analysis.Diagnostic{Code: code, Severity: severity}, safe: safe, text: "x"}
	}
	many := make([]found, aScreen+1)
	for i := range many {
		many[i] = finding("data-alignment", analysis.Warning, false)
	}
	for _, tt := range []struct {
		all     []found
		args    []string
		guessed bool
		want    string
	}{
		{nil, []string{"a.s"}, false, ""},
		{[]found{finding("data-alignment", analysis.Warning, false)}, []string{"a.s"}, false, ""},
		{[]found{finding("flags-form", analysis.Error, true)}, []string{"a.s", "b"}, false, `Next: "narrowgauge fix --diff a.s b" shows what the safe rewrites change; "narrowgauge explain flags-form" says why.`},
		{[]found{finding("flags-form", analysis.Error, true)}, []string{"-"}, false, `Next: "narrowgauge explain flags-form" says why.`},
		{[]found{finding("align", analysis.Warning, true)}, []string{"my files"}, false, `Next: "narrowgauge fix --diff PATH..." shows what the safe rewrites change.`},
		{[]found{finding("align", analysis.Warning, true)}, []string{strings.Repeat("x", maxPaths+1)}, false, `Next: "narrowgauge fix --diff PATH..." shows what the safe rewrites change.`},
		{nil, []string{"a.s"}, true, `Next: "narrowgauge init" keeps the target that was found.`},
		{many, []string{"a.s"}, false, `Next: the option --summary counts the findings by check.`},
		{many[1:], []string{"a.s"}, false, ""},
	} {
		r := newReport(io.Discard, style{}, listing{}, tt.args).(*textReport)
		for i := range tt.all {
			if err := r.add(&tt.all[i]); err != nil {
				t.Fatal(err)
			}
		}
		if got := r.advice(tt.guessed); got != tt.want {
			t.Errorf("%v: %q, want %q", tt.args, got, tt.want)
		}
	}
}
