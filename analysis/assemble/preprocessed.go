package assemble

import (
	"slices"
	"sort"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/preprocess"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// Sources that go through the C preprocessor. A file then has two texts: the
// one that was written, and the one that the assembler sees. Both have the
// same lines, and positions are those of the written one; a line that a macro
// changed has a map of its columns.

// includeLine is what an #include means among the items.
var includeLine = func() *syntax.DirectiveInfo {
	d, _ := preprocess.FindDirective("#include")
	return &syntax.DirectiveInfo{Name: d.Name, Effect: syntax.EffInclude, Usage: d.Usage, Doc: d.Doc}
}()

// preludeLine is what a file of the setting prelude means.
var preludeLine = &syntax.DirectiveInfo{Name: "#include", Effect: syntax.EffInclude}

// preprocessed runs the preprocessor over the root file.
func (p *pass) preprocessed() *preprocess.Unit {
	// A compiler may make T16 code and leave its assembler in A32: what it
	// defines depends on the first.
	target := p.current
	if slices.ContainsFunc(p.in.Defines, func(d string) bool { return d == "__thumb__" || strings.HasPrefix(d, "__thumb__=") }) {
		target.Mode = isa.T
	}
	in := &preprocess.Input{
		Path:    p.in.Path,
		File:    p.in.File,
		Defines: target.Predefined(),
		Cache:   &p.store.lines,
		// What is made for only this run need not be kept.
		Remember: p.in.Made != nil,
		Stop:     func() bool { return p.Ctx.Err() != nil },
	}
	if p.in.Unsaid && !strings.Contains(p.in.File.Text(), "define __ASSEMBLY__") {
		// Headers of kernels and boot loaders ask for it where they are for the assembler as
		// well: compilers do not have it by themselves (common practice).
		in.Defines = append(in.Defines, "__ASSEMBLY__=1")
	}
	in.Defines = append(in.Defines, p.in.Defines...)
	in.Prelude = p.in.Prelude
	if p.in.Load != nil {
		load := func(w Wanted) (string, *syntax.File, bool) {
			path, f, ok := p.load(w)
			if ok {
				f = f.As(p.in.File.Dialect())
			}
			return path, f, ok
		}
		in.Load = func(from, name string, system bool) (string, *syntax.File, bool) {
			return load(Wanted{From: from, Name: name, System: system})
		}
		in.Next = func(from, name string) (string, *syntax.File, bool) {
			return load(Wanted{From: from, Name: name, System: true, Next: true})
		}
	}
	return preprocess.Process(in)
}

// processedRoot walks the root file, after the files of its prelude.
func (p *pass) processedRoot(u *preprocess.Unit) {
	id := p.unitSource(u, -1)
	line, stmt := 0, 0
	for _, inc := range u.Prelude {
		if inc.Unit == nil || p.err != nil || p.Ended {
			continue
		}
		// Nobody wrote it: it is in no column.
		it := p.push(id, 0, &syntax.Stmt{Kind: syntax.Directive, Start: -1, NameEnd: -1, End: -1, Number: -1, Name: "#include", Directive: preludeLine}, 0)
		p.processed(inc.Unit, it.Index)
		if p.resume.on { // a body of the assembler goes on in the root
			p.resumeIn(id)
			p.jump, line, stmt = false, p.toLine, p.toStmt
		}
	}
	if p.err == nil && !p.Ended {
		p.walkFrom(id, u.File, line, stmt)
	}
}

// behind is the line where a source goes on after what one of its items
// includes.
func behind(from *program.Item) int {
	if from.Stmt.Directive == preludeLine {
		return 0
	}
	return int(from.Line) + 1
}

// processed walks a file as the preprocessor leaves it. Unlike the text of
// .include it is no file of its own to the assembler: conditions and macros
// may begin in one and end in another.
func (p *pass) processed(u *preprocess.Unit, from int32) {
	p.constantsFile(u.Path, u.File, u, from)
}

// unitSource makes a file that went through the preprocessor a source.
func (p *pass) unitSource(u *preprocess.Unit, from int32) int32 {
	id := int32(len(p.Sources))
	p.Sources = append(p.Sources, program.Source{Path: u.Path, File: u.File, From: from, Unit: u})
	p.Columns = p.Columns || u.File.Dialect() == syntax.Columns
	p.Lacking = p.Lacking || u.Missing
	p.partly(u.Path, u.Raw)
	for _, inc := range u.Prelude {
		if !inc.Found {
			p.missing(program.PlaceAt(u.Path, finding.Span{Start: 0, End: u.Raw.LineStart(0) + len(u.Raw.Line(0).Text)}), Wanted{From: u.Path, Name: inc.Name})
		}
	}
	for i := range u.Problems {
		p.problem(u, &u.Problems[i])
	}
	for _, s := range u.Inactive {
		p.Excluded = append(p.Excluded, program.Inactive{File: id, Span: finding.Span(s)})
	}
	return id
}

func (p *pass) problem(u *preprocess.Unit, x *preprocess.Problem) {
	at := program.PlaceAt(u.Path, finding.Span{Start: x.Start, End: x.End})
	if inc := u.Includes[u.Raw.LineAt(x.Start)]; inc != nil && x.Kind == preprocess.MissingInclude {
		p.missing(at, Wanted{From: u.Path, Name: inc.Name, System: inc.System || inc.Next, Next: inc.Next})
		return
	}
	if p.in.Unsaid && x.Undefined != "" {
		p.Lacking = true // the command line may define it, and so bring in more
		if x.Kind == preprocess.BadInclude {
			p.inexact()
			p.Missed = true
		}
		p.Emit(at, finding.Diagnostic{Code: finding.CodePreprocessor, Severity: finding.Hint, Message: wording.DefinedElsewhere(x.Undefined, x.Kind == preprocess.BadInclude)})
		return
	}
	m := x.Message
	if x.Kind != preprocess.Raised { // whose words are the source's
		m = wording.Sentence(m)
	}
	if x.Mild {
		p.Warn(at, finding.CodePreprocessor, m)
	} else {
		p.Report(at, finding.CodePreprocessor, m)
	}
}

// includes puts in what the #include of a line names, if it has one.
func (p *pass) includes(id, line int32) {
	u := p.Sources[id].Unit
	inc := u.Includes[int(line)]
	if inc == nil {
		return
	}
	it := p.includeItem(id, line, inc)
	if inc.Unit == nil {
		it.Flags |= program.Opaque
		return
	}
	// A stretch that a condition of the assembler leaves out goes on in the
	// included file, and may end there.
	out, from := p.conds.leftOut(), 0
	turn := 0
	if out != nil {
		from, turn = out.from, out.turn
		out.from = 0
	}
	inside := int32(len(p.Sources))
	p.processed(inc.Unit, it.Index)
	now := p.conds.leftOut()
	if now != nil {
		p.leaveOut(inside, now.from, len(inc.Unit.Raw.Text()))
		now.from = u.LineEnd(int(line))
	}
	switch {
	case turn == 0:
	case now != nil && now.turn == turn:
		now.from = from
	default:
		p.leaveOut(id, from, u.Raw.LineStart(int(line)))
	}
	if p.resume.on {
		p.resumeIn(id)
	}
}

func (p *pass) leaveOut(file int32, from, end int) {
	if from < end {
		p.Excluded = append(p.Excluded, program.Inactive{File: file, Span: finding.Span{Start: from, End: end}})
	}
}

// includeItem is the #include of a line.
func (p *pass) includeItem(id, line int32, inc *preprocess.Include) *program.Item {
	u := p.Sources[id].Unit
	start := u.Raw.LineStart(int(line))
	text := u.Raw.Line(int(line)).Text
	a, b := program.Trimmed(text, 0, int32(len(text)))
	s := &syntax.Stmt{Kind: syntax.Directive, Start: a, NameEnd: int32(inc.Start - start), End: b, Number: -1, Name: "#include", Directive: includeLine}
	s.NameEnd = min(max(s.NameEnd, a), b)
	return p.push(id, line, s, 0)
}

// across is a body of the assembler with files of the preprocessor's in it:
// the text of the program is one to the assembler, and neither macros nor
// repetitions care where a file ends.
type across struct {
	lines []program.BodyLine // where the body's lines are
	end   int32              // the last line in the file where it begins
	// file, line and stmt are where the program goes on.
	file       int32
	line, stmt int
	// opened are the files that the body includes. Their #include items come
	// after what the body makes at once: items keep the order of lines.
	opened []opened
}

// opened is a source with the line that includes it.
type opened struct {
	id, parent, line int32
	inc              *preprocess.Include
}

// bodyAcross is body, for sources of the preprocessor too. The last result is
// nil where the body lies in one file.
func (p *pass) bodyAcross(id int32, l *syntax.Line, repetition bool) (syntax.Body, bool, *across) {
	it := p.Items[id]
	u := p.Sources[it.File].Unit
	if u == nil || len(u.Includes) == 0 && p.Sources[it.File].From < 0 {
		b, ok := p.body(id, l, repetition)
		return b, ok, nil
	}
	if p.across > MaxExpanded { // many bodies without an end, in files that come again and again
		p.overflow(id, wording.ManyBodies)
		return syntax.Body{NextLine: int(it.Line), NextStmt: len(l.Stmts)}, false, nil
	}
	x := &across{file: it.File}
	home := it.File // the outermost file that is read
	col := it.Stmt.CallEnd(l)
	b := p.bodiesAgain().BodyUntil(u.File, int(it.Line), col, p.nextInclude(u, int(it.Line)+1), repetition)
	if b.Closed {
		return b, true, nil
	}
	defer func() { p.across += reading(b) }()
	for k := range b.Lines {
		x.lines = append(x.lines, program.BodyLine{File: it.File, Line: it.Line + int32(k)})
	}
	b = p.readOn(b, x, it.File, b.NextLine, repetition)
	// What begins in an included file may end in the one that includes it.
	for !b.Closed && p.Sources[home].From >= 0 {
		from := &p.Items[p.Sources[home].From]
		home = from.File
		b = p.readOn(b, x, from.File, behind(from), repetition)
	}
	if !b.Closed {
		x.file, x.line = home, p.Sources[home].File.NumLines()
	}
	x.end = int32(u.File.NumLines() - 1)
	for f, line := x.file, int32(x.line); f >= 0; f, line = p.parentOf(x, f) {
		if f == it.File {
			x.end = line
		}
	}
	p.tellOpen(&it, b.Closed, repetition)
	return b, b.Closed, x
}

// nextInclude is the first line from line on that includes a file, or the
// number of lines.
func (p *pass) nextInclude(u *preprocess.Unit, line int) int {
	list, ok := p.includeLines[u]
	if !ok {
		for k, inc := range u.Includes {
			if inc.Unit != nil && k < u.File.NumLines() {
				list = append(list, k)
			}
		}
		sort.Ints(list)
		if p.includeLines == nil {
			p.includeLines = map[*preprocess.Unit][]int{}
		}
		p.includeLines[u] = list
	}
	if k := sort.SearchInts(list, line); k < len(list) {
		return list[k]
	}
	return u.File.NumLines()
}

// readOn reads a source on to a body, with the files that it includes.
func (p *pass) readOn(b syntax.Body, x *across, file int32, line int, repetition bool) syntax.Body {
	u := p.Sources[file].Unit
	for {
		end := p.nextInclude(u, line)
		n := len(b.Lines)
		b = p.bodies.More(b, u.File, line, end, repetition)
		for k := n; k < len(b.Lines); k++ {
			x.lines = append(x.lines, program.BodyLine{File: file, Line: int32(line + k - n)})
		}
		if b.Closed {
			x.file, x.line, x.stmt = file, b.NextLine, b.NextStmt
			return b
		}
		if end == u.File.NumLines() || p.Ctx.Err() != nil {
			return b
		}
		inc := u.Includes[end]
		id := p.unitSource(inc.Unit, -1)
		x.opened = append(x.opened, opened{id, file, int32(end), inc})
		if b = p.readOn(b, x, id, 0, repetition); b.Closed {
			return b
		}
		line = end + 1
	}
}

// parentOf is the source that includes another one, and the line that does; -1
// for the root.
func (p *pass) parentOf(x *across, file int32) (parent, line int32) {
	for _, o := range x.opened {
		if o.id == file {
			return o.parent, o.line
		}
	}
	if from := p.Sources[file].From; from >= 0 {
		return p.Items[from].File, p.Items[from].Line
	}
	return -1, 0
}

// goOn lets the program go on after a body that began in a source.
func (p *pass) goOn(here int32, x *across, line, stmt int) {
	if x == nil {
		p.goTo(line, stmt)
		return
	}
	for _, o := range x.opened {
		p.Sources[o.id].From = p.includeItem(o.parent, o.line, o.inc).Index
	}
	p.resume = resumeAt{true, x.file, x.line, x.stmt}
	p.resumeIn(here)
}

// resumeIn lets the program go on where a body ended: in the present source,
// or in one that it includes, which it then walks to its end; or further up,
// and then the present source is done.
func (p *pass) resumeIn(id int32) {
	for p.resume.on && p.err == nil && !p.Ended {
		at := p.resume
		if at.file != id && !p.within(at.file, id) {
			p.goTo(p.Sources[id].File.NumLines(), 0)
			return
		}
		p.resume.on = false
		if at.file == id {
			p.goTo(at.line, at.stmt)
			return
		}
		p.walkFrom(at.file, p.Sources[at.file].File, at.line, at.stmt)
		if !p.resume.on {
			from := &p.Items[p.Sources[at.file].From]
			p.resume = resumeAt{true, from.File, behind(from), 0}
		}
	}
}

// within says whether a file is another one, or included from it.
func (p *pass) within(file, outer int32) bool {
	for file != outer && p.Sources[file].From >= 0 {
		file = p.Items[p.Sources[file].From].File
	}
	return file == outer
}
