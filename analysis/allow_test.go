package analysis

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
)

// listed lists the findings of a source as "line code severity".
func listed(r *Result) (out []string) {
	for _, d := range r.Diagnostics() {
		out = append(out, fmt.Sprintf("%d %s %s", r.in.File.LineAt(d.Span.Start)+1, d.Code, d.Severity))
	}
	return out
}

// misplaced is a word at an odd place, which is a warning; refused is an error.
const (
	misplaced = "\t.byte 1\nw%d:\t.word 2"
	refused   = "\tmovs r0, #300"
)

// TestAllow is a table of sources with comments that allow findings, and what is told of them.
func TestAllow(t *testing.T) {
	word := func(n int) string { return fmt.Sprintf(misplaced, n) }
	for _, c := range []struct {
		name, text string
		want       []string
		suppressed int
	}{
		{"nothing", word(1), []string{"2 data-alignment warning"}, 0},
		{"in the line", word(1) + " @ narrowgauge: allow data-alignment", nil, 1},
		{"with a reason", word(1) + " // narrowgauge: allow data-alignment -- a buffer", nil, 1},
		{"in a block comment", word(1) + " /* narrowgauge: allow data-alignment */", nil, 1},
		{"above the line", "\t.byte 1\n@ narrowgauge: allow data-alignment\n@ more\n\nw:\t.word 2", nil, 1},
		{"several checks", word(1) + " @ narrowgauge: allow data-alignment, data-range", []string{"2 allow-comment information"}, 1},
		{"another line", word(1) + "\n.byte 1 @ narrowgauge: allow data-alignment", []string{"2 data-alignment warning", "3 allow-comment information"}, 0},
		{"a stretch", "@ narrowgauge: allow data-alignment from here\n" + word(1) + "\n" + word(2) + "\n@ narrowgauge: allow data-alignment until here\n" + word(3), []string{"8 data-alignment warning"}, 2},
		{"a file", word(1) + "\n" + word(2) + "\n@ narrowgauge: allow data-alignment in this file", nil, 2},
		{"a stretch without end", "@ narrowgauge: allow data-alignment from here\n" + word(1), []string{"1 allow-comment information"}, 1},
		{"an end without stretch", "@ narrowgauge: allow data-alignment until here\n" + word(1), []string{"1 allow-comment information", "3 data-alignment warning"}, 0},
		{"no such check", word(1) + " @ narrowgauge: allow data-aligment", []string{"2 data-alignment warning", "2 allow-comment information"}, 0},
		{"no check", word(1) + " @ narrowgauge: allow", []string{"2 data-alignment warning", "2 allow-comment information"}, 0},
		{"other words", word(1) + " @ narrowgauge: allow data-alignment for ever", []string{"2 data-alignment warning", "2 allow-comment information"}, 0},
		{"an error stays", finding.UnifiedThumb + refused + " @ narrowgauge: allow constant-range", []string{"3 constant-range error", "3 allow-comment information"}, 0},
		{"no comment", "\t.ascii \"narrowgauge: allow data-alignment\"\n\t.balign 4\n" + word(1), []string{"4 data-alignment warning"}, 0},
		{"not assembled", ".if 0\n.byte 1 @ narrowgauge: allow data-alignment\n.endif", nil, 0},
		{"CR and LF", strings.ReplaceAll(word(1), "\n", "\r\n") + " @ narrowgauge: allow data-alignment\r\n", nil, 1},
	} {
		r := analyze(t, nil, c.text)
		if got := listed(r); !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
		if n := len(r.Suppressed()); n != c.suppressed {
			t.Errorf("%s: %d suppressed, want %d", c.name, n, c.suppressed)
		}
	}
}

// TestAllowedAndFixed holds that no rewrite is offered, or made, for what a comment allows or
// the settings leave out, and that both are if they do not.
func TestAllowedAndFixed(t *testing.T) {
	for _, c := range []struct {
		comment string
		set     *Settings
		offered bool
	}{{"", nil, true}, {" @ narrowgauge: allow data-alignment", nil, false}, {"", &Settings{Severity: []string{"data-alignment=off"}}, false}, {"", &Settings{Severity: []string{"data-alignment=hint"}}, true}} {
		text := fmt.Sprintf(misplaced, 1) + c.comment + "\n"
		r := analyze(t, c.set, text)
		at := strings.Index(text, ".word")
		if got := len(r.Actions(t.Context(), Span{Start: at, End: at})) > 0; got != c.offered {
			t.Errorf("%q %v: offered %v", c.comment, c.set, got)
		}
		if got := len(r.SafeFixes(t.Context(), "")) > 0; got && !c.offered {
			t.Errorf("%q %v: made %v", c.comment, c.set, got)
		}
	}
}

// TestSeverity holds that settings change how severe findings are, that an error stays one,
// and that what is wrong with a setting is said.
func TestSeverity(t *testing.T) {
	text := fmt.Sprintf(misplaced, 1) + "\n\t.balign 4\n" + finding.UnifiedThumb + refused + "\n"
	for _, c := range []struct {
		set  []string
		want []string
	}{
		{nil, []string{"2 data-alignment warning", "6 constant-range error"}},
		{[]string{"data-alignment=error"}, []string{"2 data-alignment error", "6 constant-range error"}},
		{[]string{"data-alignment=off"}, []string{"6 constant-range error"}},
		{[]string{"constant-range=off", "data-alignment=hint"}, []string{"2 data-alignment hint", "6 constant-range error"}},
	} {
		if got := listed(analyze(t, &Settings{Severity: c.set}, text)); !slices.Equal(got, c.want) {
			t.Errorf("%q: %q, want %q", c.set, got, c.want)
		}
	}
	for _, bad := range []string{"data-aligment=off", "data-alignment=loud", "data-alignment", "=off", ""} {
		set := Settings{Severity: []string{bad}}
		if err := set.Resolve(); err == nil || !strings.Contains(err.Error(), "check") {
			t.Errorf("%q: %v", bad, err)
		}
	}
	for _, bad := range []string{"comments=far", "case=small", "colour=red", "comments", "labels=999", "blanks=1"} {
		set := Settings{Format: []string{bad}}
		if err := set.Resolve(); err == nil {
			t.Errorf("%q is taken", bad)
		}
	}
}

// TestAllowAcross holds that comments and settings count for findings about several files, and
// that such a comment is not said to allow nothing where only one file is known.
func TestAllowAcross(t *testing.T) {
	text := "\t.global box @ narrowgauge: allow global-twice\nbox:\tnop\n"
	r := analyze(t, nil, text)
	if got := listed(r); len(got) > 0 {
		t.Errorf("%q", got)
	}
	at := func(line int, code string) Diagnostic {
		return Diagnostic{Location: Location{Path: "test.s", Span: Span{Start: r.in.File.LineStart(line), End: r.in.File.LineStart(line) + 1}}, Severity: Warning, Code: code}
	}
	for _, c := range []struct {
		d    Diagnostic
		want bool
	}{{at(0, finding.CodeTwice), false}, {at(1, finding.CodeTwice), true}, {at(0, finding.CodeAcross), true}} {
		if _, ok := new(Tells).Told(c.d, r.in.File, nil); ok != c.want {
			t.Errorf("line %d %s: told %v", r.in.File.LineAt(c.d.Span.Start)+1, c.d.Code, ok)
		}
	}
	r = analyze(t, &Settings{Severity: []string{"global-twice=off", "state-across-files=hint"}}, "box:\tnop\n")
	if _, ok := new(Tells).Told(at(0, finding.CodeTwice), r.in.File, r.in.Set); ok {
		t.Error("what the settings leave out is told")
	}
	if d, ok := new(Tells).Told(at(0, finding.CodeAcross), r.in.File, r.in.Set); !ok || d.Severity != Hint {
		t.Errorf("%v %v", d.Severity, ok)
	}
}

// TestAllowMany holds that so many checks are allowed and no more, and that each comment is told what
// becomes of it, however many are for the same lines.
func TestAllowMany(t *testing.T) {
	finds := manyLines(50, ".byte 1\nw%d: .word 2\n.byte 1, 2, 3\n")
	for _, c := range []struct {
		comment  string
		allowed  int // findings
		comments int // findings about comments
	}{
		{strings.Repeat("@ narrowgauge: allow data-alignment in this file\n", maxAllowances), 50, 0},
		{strings.Repeat("@ narrowgauge: allow data-alignment in this file\n", maxAllowances+5), 50, 1},
		{strings.Repeat("@ narrowgauge: allow data-alignment\n", maxAllowances+5), 0, maxAllowances + 1},
		{strings.Repeat("@ narrowgauge: allow data-alignment from here\n@ narrowgauge: allow data-alignment until here\n", maxAllowances/2-1) + "@ narrowgauge: allow data-alignment from here\n", 50, maxAllowances/2 - 1 + 1},
		{"@ narrowgauge: allow " + strings.Repeat("data-alignment, ", maxAllowances+1) + "data-range in this file\n", 0, 1},
	} {
		r := analyze(t, nil, c.comment+finds)
		told := 0
		for _, d := range r.Diagnostics() {
			if d.Code == finding.CodeAllow {
				told++
			}
		}
		if n := len(r.Suppressed()); n != c.allowed || told != c.comments {
			t.Errorf("%.60q: %d findings allowed, want %d; %d about comments, want %d", c.comment, n, c.allowed, told, c.comments)
		}
	}
}

// FuzzAllow reads comments of any text, and compares what they allow with what is found by
// looking at all of them.
func FuzzAllow(f *testing.F) {
	for _, c := range []string{"", " from here", " until here", " in this file", ", data-range -- because", ",", " for ever", " -- ", "\r", " */"} {
		f.Add("@ narrowgauge: allow data-alignment"+c+"\n.byte 1\n.word 1 // narrowgauge: allow data-alignment"+c+"\n", uint16(3))
		f.Add("/* narrowgauge: allow data-alignment"+c+" */ .byte 1\n/* narrowgauge: allow\n*/ # narrowgauge: allow syntax"+c+"\n.word 1\n", uint16(2))
	}
	f.Fuzz(func(t *testing.T, text string, at uint16) {
		if len(text) > 2000 {
			return
		}
		file := syntax.Parse(text)
		list, problems := allowances("box.s", file)
		for _, d := range problems {
			if d.Span.Start < 0 || d.Span.End < d.Span.Start || d.Span.End > len(text) {
				t.Fatalf("a problem at %v in %d bytes", d.Span, len(text))
			}
		}
		by := allowedBy(list)
		line := int(at) % file.NumLines()
		for _, check := range finding.Registry {
			d := Diagnostic{Code: check.Code, Severity: Warning, Location: Location{Path: "box.s", Span: Span{Start: file.LineStart(line)}}}
			var want *allowance
			for _, a := range list {
				if a.at.Start < 0 || a.at.End > len(text) || text[a.at.Start:a.at.End] != a.code || a.first > a.last || a.last >= file.NumLines() {
					t.Fatalf("%+v of %q", a, text)
				}
				if a.code == check.Code && a.first <= line && line <= a.last && (want == nil || a.at.Start < want.at.Start) {
					want = a
				}
			}
			if got := allowing(by, file, &d); got != want {
				t.Fatalf("%s in line %d: allowed by %+v, want %+v", check.Code, line+1, got, want)
			}
		}
	})
}
