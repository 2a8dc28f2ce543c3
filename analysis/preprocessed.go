package analysis

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"narrowgauge/analysis/preprocess"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Sources that go through the C preprocessor. A file then has two texts: the
// one that was written, and the one that the assembler sees. Both have the
// same lines, and positions are those of the written one; a line that a macro
// changed has a map of its columns.

// includeLine is what an #include stands for among the items.
var includeLine = func() *syntax.DirectiveInfo {
	d, _ := preprocess.FindDirective("#include")
	return &syntax.DirectiveInfo{Name: d.Name, Effect: syntax.EffInclude, Usage: d.Usage, Doc: d.Doc}
}()

// preludeLine is what a file of the setting prelude stands for.
var preludeLine = &syntax.DirectiveInfo{Name: "#include", Effect: syntax.EffInclude}

// preprocesses says whether the root file goes through the preprocessor.
func (e *env) preprocesses(path string) bool {
	switch e.preprocess {
	case "always":
		return true
	case "never":
		return false
	}
	return strings.HasSuffix(path, ".S") || strings.HasSuffix(path, ".sx")
}

// preprocessed runs the preprocessor over the root file.
func (p *pass) preprocessed() *preprocess.Unit {
	// A compiler may make T16 code and leave its assembler in A32: what it
	// defines hangs on the first.
	target := p.cur
	if slices.ContainsFunc(p.in.Defines, func(d string) bool { return d == "__thumb__" || strings.HasPrefix(d, "__thumb__=") }) {
		target.mode = isa.T
	}
	in := &preprocess.Input{
		Path:    p.in.Path,
		File:    p.in.File,
		Defines: target.predefined(),
		Cache:   &p.store.lines,
		// What is made for this run alone need not be kept.
		Remember: p.in.Made != nil,
		Stop:     func() bool { return p.ctx.Err() != nil },
	}
	in.Defines = append(in.Defines, p.in.Defines...)
	in.Prelude = p.in.Prelude
	if p.in.Load != nil {
		load := func(w Wanted) (string, *syntax.File, bool) {
			path, f, ok := p.in.Load(w)
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

// processedRoot walks the root file, behind the files of its prelude.
func (p *pass) processedRoot(u *preprocess.Unit) {
	id := p.unitSource(u, -1)
	line, stmt := 0, 0
	for _, inc := range u.Prelude {
		if inc.Unit == nil || p.err != nil || p.ended {
			continue
		}
		// Nobody wrote it: it stands in no column.
		it := p.push(id, 0, &syntax.Stmt{Kind: syntax.Directive, Start: -1, NameEnd: -1, End: -1, Num: -1, Name: "#include", Dir: preludeLine}, 0)
		p.processed(inc.Unit, it.id)
		if p.resume.on { // a body of the assembler goes on in the root
			p.resumeIn(id)
			p.jump, line, stmt = false, p.toLine, p.toStmt
		}
	}
	if p.err == nil && !p.ended {
		p.walkFrom(id, u.File, line, stmt)
	}
}

// behind is the line where a source goes on behind what one of its items
// includes.
func behind(from *item) int {
	if from.stmt.Dir == preludeLine {
		return 0
	}
	return int(from.line) + 1
}

// processed walks a file as the preprocessor leaves it. Unlike the text of
// .include it is no file of its own to the assembler: conditions and macros
// may begin in one and end in another.
func (p *pass) processed(u *preprocess.Unit, from int32) {
	p.constantsFile(u.Path, u.File, u, from)
}

// unitSource makes a file that went through the preprocessor a source.
func (p *pass) unitSource(u *preprocess.Unit, from int32) int32 {
	id := int32(len(p.sources))
	p.sources = append(p.sources, source{path: u.Path, file: u.File, from: from, unit: u})
	p.columns = p.columns || u.File.Dialect() == syntax.Columns
	p.lacking = p.lacking || u.Missing
	for _, inc := range u.Prelude {
		if !inc.Found {
			p.missing(placeAt(u.Path, Span{0, u.Raw.LineStart(0) + len(u.Raw.Line(0).Text)}), Wanted{From: u.Path, Name: inc.Name})
		}
	}
	for i := range u.Problems {
		p.problem(u, &u.Problems[i])
	}
	for _, s := range u.Inactive {
		p.inactive = append(p.inactive, inactive{id, Span(s)})
	}
	return id
}

func (p *pass) problem(u *preprocess.Unit, x *preprocess.Problem) {
	at := placeAt(u.Path, Span{x.Start, x.End})
	if inc := u.Includes[u.Raw.LineAt(x.Start)]; inc != nil && x.Kind == preprocess.MissingInclude {
		p.missing(at, Wanted{From: u.Path, Name: inc.Name, System: inc.System || inc.Next, Next: inc.Next})
	} else if x.Mild {
		p.warn(at, codePreprocessor, x.Message)
	} else {
		p.report(at, codePreprocessor, x.Message)
	}
}

// includes puts in what the #include of a line names, if it has one.
func (p *pass) includes(id, line int32) {
	u := p.sources[id].unit
	inc := u.Includes[int(line)]
	if inc == nil {
		return
	}
	it := p.includeItem(id, line, inc)
	if inc.Unit == nil {
		it.flags |= fOpaque
		return
	}
	// A stretch that a condition of the assembler leaves out goes on in the
	// included file, and may end there.
	out, from := p.leftOut(), 0
	turn := 0
	if out != nil {
		from, turn = out.from, out.turn
		out.from = 0
	}
	inside := int32(len(p.sources))
	p.processed(inc.Unit, it.id)
	now := p.leftOut()
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

// leftOut is the condition that leaves out what stands here, nil without.
func (p *pass) leftOut() *cond {
	for i := len(p.conds) - 1; i >= 0; i-- {
		if p.conds[i].from >= 0 {
			return &p.conds[i]
		}
	}
	return nil
}

func (p *pass) leaveOut(file int32, from, end int) {
	if from < end {
		p.inactive = append(p.inactive, inactive{file, Span{from, end}})
	}
}

// includeItem is the #include of a line.
func (p *pass) includeItem(id, line int32, inc *preprocess.Include) *item {
	u := p.sources[id].unit
	start := u.Raw.LineStart(int(line))
	text := u.Raw.Line(int(line)).Text
	a, b := trimmed(text, 0, int32(len(text)))
	s := &syntax.Stmt{Kind: syntax.Directive, Start: a, NameEnd: int32(inc.Start - start), End: b, Num: -1, Name: "#include", Dir: includeLine}
	s.NameEnd = min(max(s.NameEnd, a), b)
	return p.push(id, line, s, 0)
}

// across is a body of the assembler with files of the preprocessor's in it:
// the text of the program is one to the assembler, and neither macros nor
// repetitions care where a file ends.
type across struct {
	lines []bodyLine // where the body's lines stand
	end   int32      // the last line in the file where it begins
	// file, line and stmt are where the program goes on.
	file       int32
	line, stmt int
	// opened are the files that the body includes. Their #include items come
	// behind what the body makes at once: items keep the order of lines.
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
	it := p.items[id]
	u := p.sources[it.file].unit
	if u == nil || len(u.Includes) == 0 && p.sources[it.file].from < 0 {
		b, ok := p.body(id, l, repetition)
		return b, ok, nil
	}
	x := &across{file: it.file}
	home := it.file // the outermost file that is read
	col := it.stmt.CallEnd(l)
	b := u.File.BodyUntil(int(it.line), col, p.nextInclude(u, int(it.line)+1), repetition)
	if b.Closed {
		return b, true, nil
	}
	for k := range b.Lines {
		x.lines = append(x.lines, bodyLine{it.file, it.line + int32(k)})
	}
	b = p.readOn(b, x, it.file, b.NextLine, repetition)
	// What begins in an included file may end in the one that includes it.
	for !b.Closed && p.sources[home].from >= 0 {
		from := &p.items[p.sources[home].from]
		home = from.file
		b = p.readOn(b, x, from.file, behind(from), repetition)
	}
	if !b.Closed {
		x.file, x.line = home, p.sources[home].file.NumLines()
	}
	x.end = int32(u.File.NumLines() - 1)
	for f, line := x.file, int32(x.line); f >= 0; f, line = p.parentOf(x, f) {
		if f == it.file {
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
	u := p.sources[file].unit
	for {
		end := p.nextInclude(u, line)
		n := len(b.Lines)
		b = b.More(u.File, line, end, repetition)
		for k := n; k < len(b.Lines); k++ {
			x.lines = append(x.lines, bodyLine{file, int32(line + k - n)})
		}
		if b.Closed {
			x.file, x.line, x.stmt = file, b.NextLine, b.NextStmt
			return b
		}
		if end == u.File.NumLines() || p.ctx.Err() != nil {
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
	if from := p.sources[file].from; from >= 0 {
		return p.items[from].file, p.items[from].line
	}
	return -1, 0
}

// goOn lets the program go on behind a body that began in a source.
func (p *pass) goOn(here int32, x *across, line, stmt int) {
	if x == nil {
		p.goTo(line, stmt)
		return
	}
	for _, o := range x.opened {
		p.sources[o.id].from = p.includeItem(o.parent, o.line, o.inc).id
	}
	p.resume = resumeAt{true, x.file, x.line, x.stmt}
	p.resumeIn(here)
}

// resumeIn lets the program go on where a body ended: in the present source,
// or in one that it includes, which it then walks to its end; or further up,
// and then the present source is done.
func (p *pass) resumeIn(id int32) {
	for p.resume.on && p.err == nil && !p.ended {
		at := p.resume
		if at.file != id && !p.within(at.file, id) {
			p.goTo(p.sources[id].file.NumLines(), 0)
			return
		}
		p.resume.on = false
		if at.file == id {
			p.goTo(at.line, at.stmt)
			return
		}
		p.walkFrom(at.file, p.sources[at.file].file, at.line, at.stmt)
		if !p.resume.on {
			from := &p.items[p.sources[at.file].from]
			p.resume = resumeAt{true, from.file, behind(from), 0}
		}
	}
}

// within says whether a file is another one, or included from it.
func (p *pass) within(file, outer int32) bool {
	for file != outer && p.sources[file].from >= 0 {
		file = p.items[p.sources[file].from].file
	}
	return file == outer
}

// unitLoc is the place of columns [a,b) of a line that the preprocessor may
// have changed.
func (s *source) unitLoc(line int, a, b int32) place {
	span, m := s.unit.Columns(line, a, b)
	return place{Location: Location{Path: s.path, Span: Span(span)}, use: m}
}

// fromUse completes a finding that is about what a macro of the preprocessor
// made: its definition is related to it, with what it makes here.
func (p *reporter) fromUse(m *preprocess.Macro, d *Diagnostic) {
	if m.Path == "" {
		return
	}
	text := m.Text
	if file := p.fileOf(d.Path); file >= 0 && p.sources[file].unit != nil {
		if _, whole, made := p.sources[file].unit.UseAt(d.Span.Start); whole != nil {
			m, text = whole, made
		}
	}
	d.Related = append(d.Related, Related{Location{Path: m.Path, Span: Span{m.Start, m.End}}, "the macro " + m.Name + " makes: " + clipText(strings.TrimSpace(text), 80)})
}

// named narrows a place that a macro of the preprocessor made down to a word
// among its arguments, if the word stands there.
func (r *Program) named(l place, file int32, word string) place {
	if l.use == nil || !l.use.FuncLike || l.made != nil || word == "" {
		return l
	}
	text := r.sources[file].unit.Raw.Text()[l.Span.Start:l.Span.End]
	if i := wordIn(text, word, len(l.use.Name)); i >= 0 {
		l.Span = Span{l.Span.Start + i, l.Span.Start + i + len(word)}
	}
	return l
}

// wordIn is the index of a whole word in a text, from byte from on; -1 without.
func wordIn(text, word string, from int) int {
	for from < len(text) {
		i := strings.Index(text[from:], word)
		if i < 0 {
			return -1
		}
		i += from
		end := i + len(word)
		if (i == 0 || !identByte(text[i-1])) && (end == len(text) || !identByte(text[end])) {
			return i
		}
		from = end
	}
	return -1
}

// argumentAt is the word at a byte offset among the arguments of a macro of the
// preprocessor, with its place, and where the word stands in the text that the
// assembler sees.
func (r *view) argumentAt(file int32, off int) (word string, span Span, line int, col int32, ok bool) {
	u := r.sources[file].unit
	if u == nil {
		return
	}
	use, m, text := u.UseAt(off)
	raw := u.Raw.Text()
	if m == nil || !m.FuncLike || off < use.Start+len(m.Name) {
		return
	}
	a, b := off, off
	for a > use.Start+len(m.Name) && identByte(raw[a-1]) {
		a--
	}
	for b < use.End && identByte(raw[b]) {
		b++
	}
	line, col, ok = u.At(off)
	i := -1
	if a < b {
		i = wordIn(text, raw[a:b], 0)
	}
	return raw[a:b], Span{a, b}, line, col + int32(i), ok && i >= 0
}

// place is the line and column that byte offset off of a file has in the text
// that the assembler sees.
func (r *Program) place(file int32, off int) (line int, col int32) {
	s := &r.sources[file]
	line = s.file.LineAt(off)
	col = int32(off - s.file.LineStart(line))
	if s.unit != nil {
		if l, c, ok := s.unit.At(off); ok {
			line, col = l, c
		}
	}
	return line, col
}

// span is where columns [a,b) of a line of a file stand in its text.
func (r *Program) span(file int32, line int, a, b int32) Span {
	s := &r.sources[file]
	if s.unit != nil && s.unit.Changed(line) {
		span, _ := s.unit.Columns(line, a, b)
		return Span(span)
	}
	start := s.file.LineStart(line)
	return Span{start + int(a), start + int(b)}
}

// lineIs is the text that the columns of a line's statements count in.
func (r *Program) lineIs(file int32, line int) string {
	s := &r.sources[file]
	if s.unit != nil && s.unit.Changed(line) {
		return s.file.Line(line).Text
	}
	return s.written(line)
}

// hoverHash describes the directive of the preprocessor at a byte offset.
func (r *view) hoverHash(path string, off int) (Hover, bool) {
	file := r.fileOf(path)
	if file < 0 || r.sources[file].unit == nil {
		return Hover{}, false
	}
	f := r.sources[file].unit.Raw
	if off < 0 || off > len(f.Text()) {
		return Hover{}, false
	}
	n := f.LineAt(off)
	text := f.Line(n).Text
	a, _ := trimmed(text, 0, int32(len(text)))
	if int(a) >= len(text) || text[a] != '#' {
		return Hover{}, false
	}
	b, _ := trimmed(text, a+1, int32(len(text)))
	e := b
	for int(e) < len(text) && identByte(text[e]) {
		e++
	}
	d, ok := preprocess.FindDirective("#" + text[b:e])
	start := f.LineStart(n)
	if !ok || off > start+int(e) {
		return Hover{}, false
	}
	return Hover{Span{start + int(a), start + int(e)}, fmt.Sprintf("`%s`\n\n%s\n", d.Usage, d.Doc)}, true
}

// asWritten is an item with its statement as it is written, where the
// preprocessor changed nothing but what stands in its operands: what a rewrite
// takes from it has the names that the author wrote.
func (r *Program) asWritten(it *item) (*item, bool) {
	if !r.changed(it) {
		return it, true
	}
	u := r.sources[it.file].unit
	raw, now := u.Raw.Line(int(it.line)), u.File.Line(int(it.line))
	if len(raw.Stmts) != len(now.Stmts) {
		return nil, false
	}
	for k := range now.Stmts {
		if &now.Stmts[k] != it.stmt {
			continue
		}
		s := &raw.Stmts[k]
		if s.Kind != syntax.Instruction || s.Name != it.stmt.Name || s.Err != nil || len(s.Ops) != len(it.stmt.Ops) {
			return nil, false
		}
		w := *it
		w.stmt = s
		w.flags |= fWritten
		return &w, true
	}
	return nil, false
}

// changed says whether the preprocessor changed the line of an item.
func (r *Program) changed(it *item) bool {
	u := r.sources[it.file].unit
	return u != nil && u.Changed(int(it.line))
}

// mayBeMissing says whether a finding is about a name that a file which was
// not found may define.
func mayBeMissing(code string) bool {
	switch code {
	case codeMnemonic, codeUnknownDir, codeUndefined, codeExternal:
		return true
	}
	return false
}

// useAt is the macro of the preprocessor that is named at byte offset off of a
// file, nil without one.
func (r *view) useAt(path string, off int) *preprocess.Macro {
	file := r.fileOf(path)
	if file < 0 {
		return nil
	}
	u := r.sources[file].unit
	if u == nil || off < 0 || off > len(u.Raw.Text()) {
		return nil
	}
	return u.MacroAt(off)
}

// hoverUse describes the macro of the preprocessor at a byte offset, and what
// the assembler sees of the line.
func (r *view) hoverUse(path string, off int) (Hover, bool) {
	m := r.useAt(path, off)
	if m == nil {
		return Hover{}, false
	}
	file := r.fileOf(path)
	f := r.sources[file].file
	text := f.Text()
	a, b := off, off
	for a > 0 && identByte(text[a-1]) {
		a--
	}
	for b < len(text) && identByte(text[b]) {
		b++
	}
	header := m.Name
	if m.FuncLike {
		params := m.Params
		if m.Variadic {
			params = append(params[:len(params)-1:len(params)-1], "...")
		}
		header += "(" + strings.Join(params, ", ") + ")"
	}
	md := fmt.Sprintf("```c\n%s\n```\n\nMacro of the preprocessor, ", clipText(strings.TrimSpace("#define "+header+" "+m.Text), 400))
	switch {
	case m.Path != "":
		md += "defined " + r.where(Location{Path: m.Path, Span: Span{m.Start, m.End}}, nil)
	case m.Builtin:
		md += "built in"
	case r.given(m.Name):
		md += "defined by the settings"
	default:
		md += "predefined for " + r.envs[0].target
	}
	md += fmt.Sprintf("; used %s.", plural(len(r.sources[file].unit.Uses(m)), "time", "times"))
	if _, whole, made := r.sources[file].unit.UseAt(off); whole != nil && strings.TrimSpace(made) != strings.TrimSpace(m.Text) {
		md += "\n\nHere it makes:\n\n```\n" + clipText(strings.TrimSpace(made), 400) + "\n```"
	}
	return Hover{Span{a, b}, md}, true
}

// given says whether the settings define a macro of the preprocessor.
func (r *view) given(name string) bool {
	if len(r.defines) == 0 {
		return false
	}
	for _, d := range r.defines {
		if rest, ok := strings.CutPrefix(d, name); ok && (rest == "" || rest[0] == '=' || rest[0] == '(') {
			return true
		}
	}
	return false
}

// usesOf lists where a macro of the preprocessor is defined and used.
func (r *view) usesOf(m *preprocess.Macro) []Location {
	var out []Location
	if m.Path != "" {
		out = append(out, Location{Path: m.Path, Span: Span{m.Start, m.End}})
	}
	for _, u := range r.sources[0].unit.Uses(m) {
		out = append(out, Location{Path: u.Path, Span: Span{u.Start, u.End}})
	}
	return out
}

// written is the text of a line as it stands in the file.
func (s *source) written(line int) string {
	if s.unit != nil {
		return s.unit.Raw.Line(line).Text
	}
	return s.file.Line(line).Text
}
