package assemble

import (
	"regexp"
	"strings"
	"sync"

	"narrowgauge/analysis/assemble/layout"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/preprocess"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
)

// reader is where in the sources the first pass is.
type reader struct {
	err        error           // the context's, once it is cancelled
	depth      int             // files that include each other now
	again      map[string]bool // the files that have been included
	spentAgain int             // statements and lines of files included again
	loaded     map[string]bool // the files that count in parts
	builds     map[string]bool // files that are not there yet, as the build makes them
	parts      int             // what the sources have, as syntax.File.Parts counts it
	whole      bool            // there is no room for more of the program
	// includeLines are the lines of units that include a file; see nextInclude.
	includeLines map[*preprocess.Unit][]int
	// jump: the file goes on at statement toStmt of line toLine.
	jump           bool
	toLine, toStmt int
	resume         resumeAt
}

// goTo lets the present source go on at another statement.
func (r *reader) goTo(line, stmt int) { r.jump, r.toLine, r.toStmt = true, line, stmt }

// file walks one file's statements.
func (p *pass) file(path string, f *syntax.File, from int32) {
	id := int32(len(p.Sources))
	var joined *preprocess.Unit
	written := f
	if f.Crosses() {
		if joined = preprocess.Joined(path, f); joined != nil {
			f = joined.File
		}
	}
	p.Sources = append(p.Sources, program.Source{Path: path, File: f, From: from, Unit: joined})
	p.Columns = p.Columns || f.Dialect() == syntax.Columns
	p.partly(path, f)
	p.depth++
	nconds := len(p.conds.open)
	p.walk(id, f)
	if p.err != nil {
		return
	}
	p.openComment(path, written)
	if p.left {
		p.left = false // .exitm leaves an included file alone
		p.conds.closeDown(p.nest)
	}
	p.depth--
	if p.depth > 0 {
		p.Ended = false // .end of an included file ends only that file
	}
	if len(p.conds.open) > nconds && p.depth > 0 {
		for _, c := range p.conds.open[nconds:] {
			p.Report(c.item, finding.CodeDirective, wording.UnclosedInFile(syntax.Spelled(c.dialect, syntax.EffEndif)))
		}
		p.conds.open = p.conds.open[:nconds]
	}
}

// openComment warns of a comment that has no end: what is below is part of it.
func (p *pass) openComment(path string, f *syntax.File) {
	i := f.NumLines() - 1
	if p.Ended || i < 0 || !f.Line(i).EndsInComment() {
		return
	}
	for i > 0 && f.Line(i).StartsInComment() {
		i--
	}
	if at := strings.LastIndex(f.Line(i).Text, "/*"); at >= 0 {
		from := f.LineStart(i) + at
		p.Warn(program.PlaceAt(path, finding.Span{Start: from, End: from + 2}), finding.CodeSyntax, wording.OpenComment())
	}
}

// walk goes through the statements of a source.
func (p *pass) walk(id int32, f *syntax.File) { p.walkFrom(id, f, 0, 0) }

// walkFrom goes through them from a statement of a line on.
func (p *pass) walkFrom(id int32, f *syntax.File, i, k int) {
	units := p.Sources[id].Unit != nil && len(p.Sources[id].Unit.Includes) > 0
	for ; i < f.NumLines() && !p.Ended; i++ {
		if p.tooLarge(id, i) {
			return
		}
		if p.Cancelled(1) {
			p.err = p.Ctx.Err()
			return
		}
		l := f.Line(i)
		if units {
			p.includes(id, int32(i))
			if p.err != nil || p.Ended {
				return
			}
			if p.jump { // a body that begins in the included file ends here
				p.jump = false
				if i, k = p.toLine, p.toStmt; i >= f.NumLines() {
					return
				}
				l = f.Line(i)
			}
		}
		for ; k < len(l.Stmts); k++ {
			// A line may be the whole file.
			if k > 0 && p.tooLarge(id, i) {
				return
			}
			if k > 0 && p.Cancelled(1) {
				p.err = p.Ctx.Err()
				return
			}
			p.statement(id, int32(i), l, &l.Stmts[k])
			if p.err != nil || p.Ended || p.left {
				return
			}
			if p.jump { // over the body of a macro, for one
				p.jump = false
				if p.nest > 0 {
					p.spent += max(p.toLine-i, 0) / aPass
				}
				if i, k = p.toLine, p.toStmt-1; i >= f.NumLines() {
					return
				}
				l = f.Line(i)
			}
		}
		k = 0
		if p.nest > 0 && p.spend(id, l) {
			return
		}
	}
}

// push adds an item of the given size at the present place.
func (p *pass) push(file int32, line int32, s *syntax.Stmt, size int64) *program.Item {
	sec := &p.Sections[p.currentSection]
	p.Items = append(layout.Room(p.Items), program.Item{Stmt: s, Offset: sec.Size, Size: size, Line: line, File: file, Section: p.currentSection, Environment: p.envID, Literal: -1, Index: int32(len(p.Items))})
	p.Order[p.currentSection] = append(p.Order[p.currentSection], int32(len(p.Items)-1))
	sec.Size += size
	return &p.Items[len(p.Items)-1]
}

// statement handles one statement in the first pass: it gives it a place and
// a size, and defines symbols.
func (p *pass) statement(file int32, line int32, l *syntax.Line, s *syntax.Stmt) {
	if s.Kind == syntax.Directive {
		switch s.Directive.Effect {
		case syntax.EffIf, syntax.EffElseif, syntax.EffElse, syntax.EffEndif:
			p.conditional(file, line, l, s)
			return
		}
	}
	if !p.conds.active() {
		return
	}
	if p.inColumns(file) {
		if s = p.columnStatement(file, line, l, s); s == nil {
			return
		}
	} else if len(p.macroBy) > 0 && p.call(file, line, l, s) {
		return
	}
	switch s.Kind {
	case syntax.Instruction:
		p.instruction(p.push(file, line, s, 0))
	case syntax.Label:
		it := p.push(file, line, s, 0)
		if s.NoColon && p.DialectOf(it) == syntax.Dots {
			p.Report(p.NameLoc(it), finding.CodeSyntax, wording.NeedsColon(s.Name))
		}
		if s.Err != nil {
			p.syntaxError(it)
		}
		p.label(it)
	case syntax.Directive:
		it := p.push(file, line, s, 0)
		switch s.Directive.Effect {
		case syntax.EffWhile:
			p.while(it.Index, l)
		case syntax.EffMacro, syntax.EffMacroBelow, syntax.EffRept, syntax.EffExitm, syntax.EffPurgem, syntax.EffAltmacro:
			p.macroDirective(it.Index, l)
		default:
			p.directive(it, l)
		}
	case syntax.Assign:
		it := p.push(file, line, s, 0)
		if !p.syntaxError(it) {
			p.assign(it, s.Name, 0, s.NameEnd-s.Start, s.Ops, !s.Once && p.DialectOf(it) != syntax.Columns)
		}
	case syntax.Unknown:
		p.unknown(p.push(file, line, s, 0))
		if p.Lacking {
			p.inexact() // it may be a macro of the file that was not found
		}
	case syntax.Bad:
		p.syntaxError(p.push(file, line, s, 0))
	}
}

// unknown reports a word that is no name of anything.
func (p *pass) unknown(it *program.Item) {
	if it.Stmt.Name[0] == '.' {
		p.UnknownDirective(it)
		return
	}
	p.UnknownMnemonic(it)
}

// callLike matches what looks like a macro of the preprocessor with arguments.
var callLike = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`[A-Za-z_]\w*\(`) })

// syntaxError reports what the parser could not read.
func (p *pass) syntaxError(it *program.Item) bool {
	e := it.Stmt.Err
	if e == nil {
		return false
	}
	if p.Lacking && p.Sources[0].Preprocessed() && callLike().MatchString(p.LineText(it)) {
		p.inexact() // perhaps a macro with arguments, of the file that was not found
		return true
	}
	m := e.Message
	if m != "" {
		m = string(m[0]&^0x20) + m[1:] + "."
	}
	if e.Mild {
		p.Warn(p.Loc(it, e.Start, e.End), finding.CodeSyntax, m)
		return false
	}
	p.Report(p.Loc(it, e.Start, e.End), finding.CodeSyntax, m)
	return true
}
