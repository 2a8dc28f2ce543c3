package assemble

import (
	"strconv"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
)

// SymbolSetting reads NAME=number, the number as C writes it.
func SymbolSetting(def string) (name string, v int64, ok bool) {
	name, text, ok := strings.Cut(def, "=")
	name, text = strings.TrimSpace(name), strings.TrimSpace(text)
	if !ok || name == "" || name[0] >= '0' && name[0] <= '9' {
		return "", 0, false
	}
	for i := 0; i < len(name); i++ {
		if !program.IdentByte(name[i]) {
			return "", 0, false
		}
	}
	v, err := strconv.ParseInt(text, 0, 64)
	if err != nil {
		u, err := strconv.ParseUint(text, 0, 64)
		return name, int64(u), err == nil
	}
	return name, v, true
}

// settingSymbols defines the symbols that the settings name. Of several with
// one name the first counts, as with the assembler's option.
func (p *pass) settingSymbols() {
	for _, def := range p.in.Symbols {
		name, v, _ := SymbolSetting(def)
		if y := p.Symbol(name); !y.Defined {
			y.Defined, y.Kind, y.Value = true, program.SymConstant, program.Value{Kind: program.Number, N: v}
		}
	}
}

// MaxSize bounds a program, in items; what else it consists of takes as much memory as
// some of them.
const (
	MaxSize = 2_500_000
	aSymbol = 3
	another = 2 // an expansion, a literal, a section, a macro
)

// extent is how large the program is so far.
func (p *pass) extent() int {
	return len(p.Items) + aSymbol*(len(p.Symbols)+p.numbered) + another*(len(p.Sources)+len(p.Literals)+len(p.Sections)+len(p.Macros))
}

// tooLarge says whether there is no room for more of the program, and reports it at the
// line from which on nothing is looked at.
func (p *pass) tooLarge(id int32, line int) bool {
	if p.extent() <= MaxSize {
		return false
	}
	if !p.whole {
		p.whole = true
		at := &p.Sources[id]
		for at.Expansion != nil { // the line that asks for it
			it := &p.Items[at.From]
			line, at = int(it.Line), &p.Sources[it.File]
		}
		f := at.File
		p.leftOut(program.PlaceAt(at.Path, finding.Span{Start: f.LineStart(line), End: f.LineStart(line) + 1}), wording.ProgramTooLarge(MaxSize))
	}
	return true
}

// partly reports where a file is not read to its end as it is too large.
func (p *pass) partly(path string, f *syntax.File) {
	if cut := f.Cut(); cut >= 0 {
		p.leftOut(program.PlaceAt(path, finding.Span{Start: f.LineStart(cut), End: f.LineStart(cut) + 1}), wording.FileTooLarge(syntax.MaxParts))
	}
}

// leftOut reports that some of the program is not looked at: nothing is said that
// hangs on what is in there.
func (p *pass) leftOut(at program.Place, message string) {
	p.Warn(at, finding.CodeMacroSize, message)
	p.Lacking, p.Missed = true, true
	for s := range p.Sections {
		p.Sections[s].Exact = false
	}
}

// load is the loader, as long as there is room for more files.
func (p *pass) load(w Wanted) (path string, f *syntax.File, ok bool) {
	if p.in.Load == nil || p.parts > syntax.MaxParts {
		return "", nil, false
	}
	if path, f, ok = p.in.Load(w); ok && !p.loaded[path] {
		if p.loaded == nil {
			p.loaded = map[string]bool{}
		}
		p.loaded[path] = true
		p.parts += f.Parts()
	}
	return path, f, ok
}

// several says of a file that the loader does not give that it may be one of some: with any
// of them the source may be right, and only its command line says which it is.
func (p *pass) several(at program.Place, w Wanted) bool {
	if p.in.Several == nil {
		return false
	}
	which := p.in.Several(w)
	if which != "" {
		p.Emit(at, finding.Diagnostic{Code: finding.CodeInclude, Severity: finding.Hint, Message: wording.NotClear(wording.ClipText(w.Name, 200), which)})
	}
	return which != ""
}

// missing reports a file that the loader does not give.
func (p *pass) missing(at program.Place, w Wanted) {
	p.inexact()
	p.Missed = true
	if p.parts <= syntax.MaxParts && p.in.Generated != nil && (p.builds[w.Name] || p.in.Generated(w)) {
		if !p.builds[w.Name] { // one hint for all lines that name it
			if p.builds == nil {
				p.builds = map[string]bool{}
			}
			p.builds[w.Name] = true
			p.Emit(at, finding.Diagnostic{Code: finding.CodeInclude, Severity: finding.Hint, Message: wording.MadeByBuild(wording.ClipText(w.Name, 200))})
		}
		return
	}
	if p.parts <= syntax.MaxParts && p.several(at, w) {
		return
	}
	why := ""
	switch {
	case p.parts > syntax.MaxParts:
		why = wording.SourcesTooLarge(syntax.MaxParts)
	case p.in.Why != nil:
		why = p.in.Why(w)
	}
	if why == "" {
		d := finding.Diagnostic{Code: finding.CodeInclude, Message: wording.NotInFolders(wording.ClipText(w.Name, 200))}
		if i := strings.LastIndexByte(w.Name, '/'); i > 0 { // all files of that folder are missing
			d.Cause = finding.CauseFolder + w.Name[:i]
		}
		p.Emit(at, d)
		return
	}
	p.Report(at, finding.CodeInclude, wording.CannotRead(wording.ClipText(w.Name, 200), why))
}

// maxAgain bounds the lines and statements of files that are included more
// than once: files that include each other twice double with every level.
const maxAgain = 1_000_000

// affords says whether a file may be included: the first time always, then as
// long as all that is repeated stays in its bound.
func (p *pass) affords(path string, f *syntax.File, at program.Place) bool {
	if !p.again[path] {
		if p.again == nil {
			p.again = map[string]bool{}
		}
		p.again[path] = true
		return true
	}
	before := p.spentAgain
	for i := 0; i < f.NumLines() && p.spentAgain <= maxAgain; i++ {
		p.spentAgain += cost(f.Line(i))
	}
	if p.spentAgain <= maxAgain {
		return true
	}
	if before <= maxAgain {
		p.Report(at, finding.CodeInclude, wording.IncludesTooLarge(maxAgain))
	}
	p.inexact()
	return false
}

// incbin handles .incbin: the bytes of a file, without the first skip ones,
// and no more than count.
func (p *pass) incbin(it *program.Item, l *syntax.Line) {
	s := it.Stmt
	if len(s.Ops) == 0 || !s.Ops[0].IsStr || len(s.Ops) > 1 && !p.commaAfter(l, &s.Ops[0]) {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.NeedsFileAndCommas(it.Stmt.Directive.Name))
		p.inexact()
		return
	}
	if len(s.Ops) > 3 {
		p.Report(p.Loc(it, s.Ops[3].Start, s.Ops[3].End), finding.CodeDirective, wording.FileSkipCount(it.Stmt.Directive.Name))
		return
	}
	skip, ok := p.count(it, 1, true, 0)
	count, ok2 := p.count(it, 2, true, 0)
	if !ok || !ok2 {
		return
	}
	p.stored(it, wording.FileBytes)
	limited := len(s.Ops) > 2 || len(s.Ops) > 1 && p.commaAfter(l, &s.Ops[1])
	if p.in.Size == nil {
		p.inexact()
		return
	}
	w := Wanted{From: p.Sources[it.File].Path, Name: s.Ops[0].Names.Str}
	have, ok := p.in.Size(w)
	if !ok {
		p.missing(p.Loc(it, s.Ops[0].Start, s.Ops[0].End), w)
		return
	}
	if limited && count == 0 {
		p.Warn(p.StmtLoc(it), finding.CodeDirective, wording.CountOfZero(it.Stmt.Directive.Name))
		limited = false
	}
	if !limited {
		count = have - skip
	}
	if skip < 0 || count < 0 || count > have || skip > have-count {
		if !limited {
			count = -1
		}
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.FileTooShort(it.Stmt.Directive.Name, have, skip, count))
		return
	}
	p.grow(it, count)
}
