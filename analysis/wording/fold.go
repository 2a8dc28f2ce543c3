package wording

import (
	"fmt"
	"sort"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
)

// Folded gives findings with what one mistake brings as one in each file: the first, which
// says where else it is.
func (p *Reporter) Folded(diags []finding.Diagnostic) []finding.Diagnostic {
	type key struct {
		path, cause string
		severity    finding.Severity
	}
	first := map[key]int{}
	var out []finding.Diagnostic
	for i := range diags {
		d := &diags[i]
		k := key{d.Path, d.Cause, d.Severity}
		at, ok := first[k]
		switch {
		case d.Cause == "":
			if out != nil {
				out = append(out, *d)
			}
			continue
		case !ok:
			if out == nil {
				out = append(make([]finding.Diagnostic, 0, len(diags)), diags[:i]...)
			}
			first[k] = len(out)
			out = append(out, *d)
			continue
		}
		f := &out[at]
		f.Same = append(f.Same, d.Location)
	}
	if out == nil {
		return diags
	}
	for _, at := range first {
		if f := &out[at]; len(f.Same) > 0 {
			f.Message = ClipText(strings.TrimSuffix(f.Message, ".")+"; "+p.alsoIn(f)+".", MaxMessage)
		}
	}
	return out
}

// SameHere is said of a further place.
const SameHere = "the same here"

// alsoNamed is how many lines a finding names that have the same cause.
const alsoNamed = 3

// alsoIn says in which other lines of its file the cause of a finding is met.
func (p *Reporter) alsoIn(d *finding.Diagnostic) string {
	id := p.FileOf(d.Path)
	if id < 0 {
		return "and " + Plural(len(d.Same), "more place", "more places")
	}
	f := p.Sources[id].AsWritten()
	own := f.LineAt(d.Span.Start)
	var lines []int
	for _, at := range d.Same {
		if l := f.LineAt(at.Span.Start); l != own && !has(lines, l) {
			lines = append(lines, l)
		}
	}
	sort.Ints(lines)
	var names []string
	for _, l := range lines[:min(len(lines), alsoNamed)] {
		names = append(names, fmt.Sprint(l+1))
	}
	switch n := len(lines) - len(names); {
	case len(names) == 0:
		return "the same again in this line"
	case n > 0:
		return "the same in lines " + strings.Join(names, ", ") + " and " + fmt.Sprint(n) + " more"
	case len(names) == 1:
		return "the same in line " + names[0]
	default:
		return "the same in lines " + strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
	}
}

// has says whether sorted lines have one.
func has(lines []int, l int) bool {
	i := sort.SearchInts(lines, l)
	return i < len(lines) && lines[i] == l
}

// proseBehind turns what is wrong with prose behind ';' into what that is: a comment where
// the mark separates statements. Beside prose, a word by itself is a comment, too.
func (p *Reporter) proseBehind(diags []finding.Diagnostic) {
	found := map[string]bool{} // the files that have such comments
	for _, alone := range []bool{false, true} {
		last, at, ok := (*syntax.Line)(nil), 0, false // findings of one line are beside each other
		for i := range diags {
			d := &diags[i]
			if d.Severity != finding.Error || d.Cause == finding.CauseSemicolon || alone && !found[d.Path] {
				continue
			}
			id := p.FileOf(d.Path)
			if id < 0 || p.Sources[id].AsWritten().Dialect() != syntax.Dots {
				continue
			}
			f := p.Sources[id].AsWritten()
			line := f.LineAt(d.Span.Start)
			if l := f.Line(line); l != last {
				last = l
				at, ok = l.ProseFrom(alone)
			}
			if ok && d.Span.Start > f.LineStart(line)+at {
				d.Code, d.Message, d.Cause, d.Related = finding.CodeSyntax, SemicolonSeparates(), finding.CauseSemicolon, nil
				found[d.Path] = true
			}
		}
	}
}

// OpenComment says that a comment has no end.
func OpenComment() string {
	return "The comment that begins here is not closed; all that follows is part of it."
}

// SemicolonSeparates says what ';' is here.
func SemicolonSeparates() string {
	return "Here ';' separates statements, and what comes after it is read as one; write '@' in front of a comment."
}
