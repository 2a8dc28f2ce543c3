package analysis

import (
	"cmp"
	"slices"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
)

// A comment allows findings of checks, in our own words:
//
//	@ narrowgauge: allow CHECK, CHECK              on a line: in it; on one of its own: in the next line of code
//	@ narrowgauge: allow CHECK from here           up to "allow CHECK until here"
//	@ narrowgauge: allow CHECK in this file
//
// A reason may follow after " -- ". What the assembler refuses is not allowed by
// this: the line has no bytes, and hiding the finding would not give it any.

// allowance is what one comment allows of one check, in the lines first to last of a file.
type allowance struct {
	path, code, why string
	at              Span // of the code in the comment
	first, last     int
	where           string // in words
	used, refused   bool   // it has allowed a finding; there was an error
}

// Suppressed is a finding that a comment allows.
type Suppressed struct {
	Diagnostic
	Comment Location // the check's name in the comment
	Why     string   // the reason that the comment gives; empty: it gives none
}

// allowMark is what a comment that allows something begins with.
const allowMark = "narrowgauge: allow"

// allowances reads the comments of a file; problems are what is wrong with them.
func allowances(path string, f *syntax.File) (out []*allowance, problems []Diagnostic) {
	text := f.Text()
	var read *syntax.LineParser
	open := map[string]*allowance{}
	for at := strings.Index(text, allowMark); at >= 0; {
		line := f.LineAt(at)
		start, end := f.LineStart(line), len(text)
		if n := strings.IndexByte(text[at:], '\n'); n >= 0 {
			end = at + n
		}
		if read == nil {
			read = f.LineParser()
		}
		// Of what the preprocessor has changed, the line is read as it is written.
		l := read.Parse(strings.TrimSuffix(text[start:end], "\r"), false)
		if l.Comment >= 0 && int(l.Comment) < at-start {
			c := allowComment{f: f, path: path, line: line, alone: len(l.Stmts) == 0, at: at + len(allowMark), end: start + len(l.Text), open: open}
			c.read()
			out, problems = append(out, c.out...), append(problems, c.problems...)
		}
		next := strings.Index(text[end:], allowMark)
		if next < 0 {
			break
		}
		at = end + next
	}
	for _, a := range open {
		problems = append(problems, a.problem(wording.AllowsOpen(a.code, false)))
		a.used = true // one finding about it is enough
	}
	return out, problems
}

func (a *allowance) problem(message string) Diagnostic {
	return Diagnostic{Location: Location{Path: a.path, Span: a.at}, Severity: Information, Code: finding.CodeAllow, Message: message}
}

// allowComment reads one comment.
type allowComment struct {
	f        *syntax.File
	path     string
	line     int
	alone    bool // the line has nothing but the comment
	at, end  int  // what is behind the mark, in bytes of the file
	open     map[string]*allowance
	out      []*allowance
	problems []Diagnostic
}

// read takes the comment apart: checks with commas, then where they are allowed, then why.
func (c *allowComment) read() {
	rest := strings.TrimRight(strings.TrimSuffix(strings.TrimRight(c.f.Text()[c.at:c.end], " \t"), "*/"), " \t")
	rest, why, _ := strings.Cut(rest, " -- ")
	var scope string
	codes := []*allowance{}
	off := 0
	for off < len(rest) {
		n := len(rest[off:]) - len(strings.TrimLeft(rest[off:], " \t"))
		off += n
		size := strings.IndexAny(rest[off:], " \t,")
		if size < 0 {
			size = len(rest) - off
		}
		if size == 0 {
			break
		}
		codes = append(codes, &allowance{path: c.path, code: rest[off : off+size], why: strings.TrimSpace(why), at: Span{Start: c.at + off, End: c.at + off + size}})
		off += size
		after := strings.TrimLeft(rest[off:], " \t")
		if !strings.HasPrefix(after, ",") {
			scope = strings.Join(strings.Fields(after), " ")
			break
		}
		off = len(rest) - len(after) + 1
	}
	if len(codes) == 0 {
		a := &allowance{path: c.path, at: Span{Start: c.at - len(allowMark), End: c.at}}
		c.problems = append(c.problems, a.problem(wording.AllowsUnread("CHECK")))
		return
	}
	for _, a := range codes {
		c.scope(a, scope)
	}
}

// scope says for which lines a check is allowed.
func (c *allowComment) scope(a *allowance, scope string) {
	if finding.ByCode(a.code) == nil {
		var known []string
		for _, k := range finding.Registry {
			known = append(known, k.Code)
		}
		c.problems = append(c.problems, a.problem(wording.AllowsUnknown(a.code, finding.Near(a.code, known))))
		return
	}
	last := c.f.NumLines() - 1
	switch scope {
	case "":
		a.first, a.last, a.where = c.line, c.line, "in this line"
		if c.alone {
			a.first = c.next()
			a.last, a.where = a.first, "in the next line of code"
		}
	case "in this file":
		a.first, a.last, a.where = 0, last, "in this file"
	case "from here":
		if c.open[a.code] != nil {
			c.problems = append(c.problems, a.problem(wording.AllowsOpen(a.code, false)))
			return
		}
		a.first, a.last, a.where = c.line, last, "from here on"
		c.open[a.code] = a
	case "until here":
		from := c.open[a.code]
		if from == nil {
			c.problems = append(c.problems, a.problem(wording.AllowsOpen(a.code, true)))
			return
		}
		from.last, from.where = c.line, "between this and its end"
		delete(c.open, a.code)
		return
	default:
		c.problems = append(c.problems, a.problem(wording.AllowsUnread(a.code)))
		return
	}
	c.out = append(c.out, a)
}

// next is the next line with code.
func (c *allowComment) next() int {
	for i := c.line + 1; i < c.f.NumLines(); i++ {
		if len(c.f.Line(i).Stmts) > 0 {
			return i
		}
	}
	return c.line
}

// allow takes the findings that comments allow out of a list, and adds what is wrong with the
// comments. The list is in the order of the files; that of its result is the same.
func (r *Result) allow(diags []Diagnostic) []Diagnostic {
	by := map[string][]*allowance{}
	files := map[string]*syntax.File{}
	var problems []Diagnostic
	var order []string
	for i := range r.prog.Sources {
		s := &r.prog.Sources[i]
		if s.File == nil || files[s.Path] != nil || s.Expansion != nil {
			continue
		}
		files[s.Path] = s.File
		order = append(order, s.Path)
		if strings.Contains(s.File.Text(), allowMark) {
			list, bad := allowances(s.Path, s.File)
			by[s.Path], problems = list, append(problems, bad...)
		}
	}
	if len(by) == 0 {
		return diags
	}
	var out []Diagnostic
	for i := range diags {
		d := diags[i]
		if a := allowing(by[d.Path], files[d.Path], &d); a != nil {
			diags[i].Left = true
			r.suppressed = append(r.suppressed, Suppressed{Diagnostic: d, Comment: Location{Path: a.path, Span: a.at}, Why: a.why})
			continue
		}
		out = append(out, d)
	}
	problems = append(problems, r.idle(by[r.in.Path])...)
	if len(problems) == 0 {
		return out
	}
	out = append(out, problems...)
	slices.SortStableFunc(out, func(a, b Diagnostic) int {
		return cmp.Or(cmp.Compare(slices.Index(order, a.Path), slices.Index(order, b.Path)), cmp.Compare(a.Span.Start, b.Span.Start))
	})
	return out
}

// allowing is what allows a finding; nil: nothing does.
func allowing(list []*allowance, f *syntax.File, d *Diagnostic) (by *allowance) {
	if len(list) == 0 {
		return nil
	}
	line := f.LineAt(max(0, min(d.Span.Start, len(f.Text()))))
	for _, a := range list {
		if a.code != d.Code || line < a.first || line > a.last {
			continue
		}
		if d.Severity == Error {
			a.refused = true
			continue
		}
		a.used = true
		if by == nil {
			by = a
		}
	}
	return by
}

// idle are the findings about comments of the root file that allow nothing. Those of files
// that it includes may allow something in other programs.
func (r *Result) idle(list []*allowance) (out []Diagnostic) {
	var inactive []Location
	asked := false
	for _, a := range list {
		switch {
		case a.used, finding.ByCode(a.code).Several(): // what other files have is not known here
			continue
		case slices.Contains(aboutSeveral, a.code):
			continue // not all is known here
		case a.refused:
			out = append(out, a.problem(wording.AllowsError(a.code)))
			continue
		}
		if !asked {
			asked, inactive = true, r.Inactive()
		}
		if !slices.ContainsFunc(inactive, func(l Location) bool { return l.Path == a.path && l.Span.Start <= a.at.Start && a.at.End <= l.Span.End }) {
			out = append(out, a.problem(wording.AllowsNothing(a.code, a.where)))
		}
	}
	return out
}

// aboutSeveral are the checks whose findings need more than one program.
var aboutSeveral = []string{finding.CodeTwice, finding.CodeNowhere, finding.CodeAcross}

// Told is a finding about several files, as comments in its own and the settings have it; ok is
// false where they leave it out.
func Told(d Diagnostic, f *syntax.File, set *Settings) (out Diagnostic, ok bool) {
	if strings.Contains(f.Text(), allowMark) {
		if list, _ := allowances(d.Path, f); allowing(list, f, &d) != nil {
			return d, false
		}
	}
	if set == nil {
		return d, true
	}
	severity, _ := severities(set.Severity) // unknown ones are told where the settings are read
	if list := graded([]Diagnostic{d}, severity); len(list) == 1 {
		return list[0], true
	}
	return d, false
}

// Suppressed lists the findings that comments allow, in the order of Diagnostics.
func (r *Result) Suppressed() []Suppressed { r.run(); return r.whole.suppressed }

// leaveOut marks the findings of checks that the settings leave out, for which no rewrite is
// wanted either. Proofs of rewrites look at them all the same.
func leaveOut(diags []Diagnostic, severity map[string]Severity) {
	for i := range diags {
		if d := &diags[i]; d.Severity != Error && severity[d.Code] == off {
			d.Left = true
		}
	}
}

// graded are findings with the severities of the settings, and without those of checks that
// they leave out. What is an error stays one.
func graded(diags []Diagnostic, severity map[string]Severity) []Diagnostic {
	if len(severity) == 0 {
		return diags
	}
	out := make([]Diagnostic, 0, len(diags))
	for _, d := range diags {
		if want, ok := severity[d.Code]; ok && d.Severity != Error {
			if want == off {
				continue
			}
			d.Severity = want
		}
		out = append(out, d)
	}
	return out
}
