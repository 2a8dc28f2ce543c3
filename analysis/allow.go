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
	file, part      bool   // it is for the whole file, or for a stretch of it
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

// maxAllowances is how many checks the comments of one file may name.
const maxAllowances = 10_000

// allowances reads the comments of a file; problems are what is wrong with them.
func allowances(path string, f *syntax.File) (out []*allowance, problems []Diagnostic) {
	text := f.Text()
	var read *syntax.LineParser
	c := allowComment{f: f, path: path, open: map[string]*allowance{}}
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
			c.line, c.alone, c.at, c.end = line, len(l.Stmts) == 0, at+len(allowMark), start+len(l.Text)
			c.read()
			if c.named > maxAllowances {
				c.problems = append(c.problems, Diagnostic{Location: Location{Path: path, Span: Span{Start: at, End: c.at}}, Severity: Information, Code: finding.CodeAllow, Message: wording.AllowsMany(maxAllowances)})
				break
			}
		}
		next := strings.Index(text[end:], allowMark)
		if next < 0 {
			break
		}
		at = end + next
	}
	for _, a := range c.open {
		c.problems = append(c.problems, a.problem(wording.AllowsOpen(a.code, false)))
		a.used = true // one finding about it is enough
	}
	return c.out, c.problems
}

func (a *allowance) problem(message string) Diagnostic {
	return Diagnostic{Location: Location{Path: a.path, Span: a.at}, Severity: Information, Code: finding.CodeAllow, Message: message}
}

// allowComment reads the comments of a file, one after the other.
type allowComment struct {
	f        *syntax.File
	path     string
	line     int
	alone    bool // the line has nothing but the comment
	at, end  int  // what is behind the mark, in bytes of the file
	open     map[string]*allowance
	named    int // how many checks have been named
	code     int // the next line with code for those below the last one that was asked for
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
		if c.named++; c.named > maxAllowances {
			return
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
		c.named++
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
		a.first, a.last, a.where, a.file = 0, last, "in this file", true
	case "from here":
		if c.open[a.code] != nil {
			c.problems = append(c.problems, a.problem(wording.AllowsOpen(a.code, false)))
			return
		}
		a.first, a.last, a.where, a.part = c.line, last, "from here on", true
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

// next is the next line with code. Comments are read from the top down, so that no line is
// looked at twice.
func (c *allowComment) next() int {
	c.code = max(c.code, c.line+1)
	for c.code < c.f.NumLines() && len(c.f.Line(c.code).Stmts) == 0 {
		c.code++
	}
	if c.code < c.f.NumLines() {
		return c.code
	}
	return c.line
}

// allowed has what the comments of a file allow, to be found by check and line.
type allowed struct {
	list  []*allowance
	lines map[allowedLine]*allowGroup // for a line, or for the whole file: every
	parts map[string][]*allowGroup    // for stretches of it, which overlap in a line at most, by check
}

// allowedLine is a line in which findings of a check are allowed.
type allowedLine struct {
	code string
	line int
}

// every stands for all lines.
const every = -1

// An allowGroup has the allowances of a check for the same lines, in the order of the text.
type allowGroup struct {
	list          []*allowance
	used, refused bool
}

// allowedBy orders what the comments of a file allow.
func allowedBy(list []*allowance) *allowed {
	out := &allowed{list: list, lines: map[allowedLine]*allowGroup{}, parts: map[string][]*allowGroup{}}
	for _, a := range list {
		key := allowedLine{a.code, a.first}
		switch {
		case a.file:
			key.line = every
		case a.part:
			out.parts[a.code] = append(out.parts[a.code], &allowGroup{list: []*allowance{a}})
			continue
		}
		if out.lines[key] == nil {
			out.lines[key] = &allowGroup{}
		}
		out.lines[key].list = append(out.lines[key].list, a)
	}
	return out
}

// at lists what allows findings of a check in a line.
func (b *allowed) at(code string, line int) (out []*allowGroup) {
	for _, key := range []allowedLine{{code, every}, {code, line}} {
		if g := b.lines[key]; g != nil {
			out = append(out, g)
		}
	}
	parts := b.parts[code]
	i, _ := slices.BinarySearchFunc(parts, line, func(g *allowGroup, line int) int { return cmp.Compare(g.list[0].last, line) })
	for ; i < len(parts) && parts[i].list[0].first <= line; i++ {
		out = append(out, parts[i])
	}
	return out
}

// settle tells each allowance what has become of it.
func (b *allowed) settle() {
	tell := func(g *allowGroup) {
		for _, a := range g.list {
			a.used, a.refused = a.used || g.used, a.refused || g.refused
		}
	}
	for _, g := range b.lines {
		tell(g)
	}
	for _, list := range b.parts {
		for _, g := range list {
			tell(g)
		}
	}
}

// allow takes the findings that comments allow out of a list, and adds what is wrong with the
// comments. The list is in the order of the files; that of its result is the same.
func (r *Result) allow(diags []Diagnostic) []Diagnostic {
	by := map[string]*allowed{}
	files := map[string]*syntax.File{}
	var problems []Diagnostic
	order := map[string]int{}
	for i := range r.prog.Sources {
		s := &r.prog.Sources[i]
		if s.File == nil || files[s.Path] != nil || s.Expansion != nil {
			continue
		}
		files[s.Path] = s.File
		order[s.Path] = i
		if strings.Contains(s.File.Text(), allowMark) {
			list, bad := allowances(s.Path, s.File)
			by[s.Path], problems = allowedBy(list), append(problems, bad...)
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
	if own := by[r.in.Path]; own != nil {
		own.settle()
		problems = append(problems, r.idle(own.list)...)
	}
	if len(problems) == 0 {
		return out
	}
	out = append(out, problems...)
	slices.SortStableFunc(out, func(a, b Diagnostic) int {
		return cmp.Or(cmp.Compare(order[a.Path], order[b.Path]), cmp.Compare(a.Span.Start, b.Span.Start))
	})
	return out
}

// allowing is what allows a finding; nil: nothing does.
func allowing(b *allowed, f *syntax.File, d *Diagnostic) (by *allowance) {
	if b == nil || len(b.list) == 0 {
		return nil
	}
	for _, g := range b.at(d.Code, f.LineAt(max(0, min(d.Span.Start, len(f.Text()))))) {
		if d.Severity == Error {
			g.refused = true
			continue
		}
		g.used = true
		if by == nil || g.list[0].at.Start < by.at.Start {
			by = g.list[0]
		}
	}
	return by
}

// idle are the findings about comments of the root file that allow nothing. Those of files
// that it includes may allow something in other programs.
func (r *Result) idle(list []*allowance) (out []Diagnostic) {
	var inactive []Span // of the root file, in its order
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
			asked = true
			for _, l := range r.Inactive() {
				if l.Path == a.path {
					inactive = append(inactive, l.Span)
				}
			}
			slices.SortFunc(inactive, func(a, b Span) int { return cmp.Or(cmp.Compare(a.Start, b.Start), cmp.Compare(a.End, b.End)) })
		}
		i, _ := slices.BinarySearchFunc(inactive, a.at.Start+1, func(s Span, at int) int { return cmp.Compare(s.Start, at) })
		if i == 0 || inactive[i-1].End < a.at.End {
			out = append(out, a.problem(wording.AllowsNothing(a.code, a.where)))
		}
	}
	return out
}

// aboutSeveral are the checks whose findings need more than one program.
var aboutSeveral = []string{finding.CodeTwice, finding.CodeNowhere, finding.CodeAcross}

// Tells tells findings about several files as comments and settings have them. It is for one
// state of the files, and not safe for concurrent use.
type Tells struct{ by map[*syntax.File]*allowed }

// Told is a finding about several files, as comments in its own and the settings have it; ok is
// false where they leave it out.
func (t *Tells) Told(d Diagnostic, f *syntax.File, set *Settings) (out Diagnostic, ok bool) {
	b, read := t.by[f]
	if !read {
		if strings.Contains(f.Text(), allowMark) {
			list, _ := allowances(d.Path, f)
			b = allowedBy(list)
		}
		if t.by == nil {
			t.by = map[*syntax.File]*allowed{}
		}
		t.by[f] = b
	}
	if allowing(b, f, &d) != nil {
		return d, false
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
