package assemble

import (
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
)

// ofText says whether a condition is about the text behind it, and no value.
func ofText(name string) bool {
	switch name {
	case ".ifdef", ".ifndef", ".ifnotdef", ".ifc", ".ifnc", ".ifeqs", ".ifnes":
		return true
	}
	return false
}

// condition evaluates one conditional directive. One that cannot be computed
// is reported, if that is sure, and counts as false.
func (p *pass) condition(file, line int32, l *syntax.Line, s *syntax.Stmt) bool {
	it := &program.Item{Stmt: s, Line: line, File: file, Sec: p.sec, Env: p.envID, Off: p.Secs[p.sec].Size, Id: int32(len(p.Items))}
	bad := func(message string) bool {
		p.Report(p.StmtLoc(it), finding.CodeDirective, message)
		return false
	}
	if s.Dir.Logical {
		return p.columnCondition(it, l, s)
	}
	switch s.Dir.Name {
	case ".ifdef", ".ifndef", ".ifnotdef":
		name := strings.Trim(s.Reduced(l), `"`)
		for i := 0; i < len(name); i++ {
			if !program.IdentByte(name[i]) {
				return bad(wording.TakesOneName(s.Name))
			}
		}
		if name == "" || name[0] >= '0' && name[0] <= '9' {
			return bad(wording.NeedsName(s.Name))
		}
		y := p.Find(name)
		defined := y != nil && (y.Defined || y.Extern && y.Kind == program.SymData) // .comm
		return defined == (s.Dir.Name == ".ifdef")
	case ".ifb":
		return s.Reduced(l) == ""
	case ".ifnb":
		return s.Reduced(l) != ""
	case ".ifc", ".ifnc":
		// The texts are as macros see them, quotes included.
		a, b, ok := strings.Cut(s.Reduced(l), ",")
		if !ok {
			return bad(wording.NeedsTwoTexts(s.Name))
		}
		return (strings.TrimSpace(a) == strings.TrimSpace(b)) == (s.Dir.Name == ".ifc")
	case ".ifeqs", ".ifnes":
		text := s.Reduced(l)
		st := syntax.ParseAs(".ascii "+text, syntax.Dots).Line(0).Stmts
		if len(st) != 1 || st[0].Err != nil || len(st[0].Ops) != 2 || !st[0].Ops[0].IsStr || !st[0].Ops[1].IsStr ||
			!strings.Contains((".ascii " + text)[st[0].Ops[0].End:st[0].Ops[1].Start], ",") {
			return bad(wording.NeedsTwoStrings(s.Name))
		}
		return (st[0].Ops[0].Names.Str == st[0].Ops[1].Names.Str) == (s.Dir.Name == ".ifeqs")
	}
	x := s
	if s.Dir.Args == syntax.ArgsRaw {
		// The kin of .if: their text is read here.
		f := syntax.ParseAs(".if "+s.Reduced(l), syntax.Dots)
		if x = nil; len(f.Line(0).Stmts) == 1 {
			x = &f.Line(0).Stmts[0]
		}
	} else if p.syntaxError(it) {
		return false
	}
	if x == nil || len(x.Ops) != 1 || x.Err != nil && !x.Err.Mild || x.Ops[0].IsStr {
		return bad(wording.NeedsOneValue(s.Name))
	}
	v := p.Value(&x.Ops[0], it)
	if v.Kind != program.Number {
		switch {
		case v.Apart:
			p.Report(p.StmtLoc(it), finding.CodeUndefined, wording.NeedsKnownDistance(s.Dir.Name))
		case v.Kind == program.Undefined && v.Sym != nil:
			p.Report(p.StmtLoc(it), finding.CodeUndefined, wording.NeedsValueOf(s.Dir.Name, v.Sym.Name))
		case v.Kind == program.Undefined || v.Kind == program.Address && p.Secs[v.Sec].Exact:
			p.Report(p.StmtLoc(it), finding.CodeUndefined, wording.NeedsKnownNumber(s.Dir.Name))
		case v.Kind == program.Bad && !v.Mild:
			p.Report(p.StmtLoc(it), finding.CodeSyntax, p.Trouble(v, it))
		}
		return false
	}
	switch s.Dir.Name {
	case ".ifeq":
		return v.N == 0
	case ".ifge":
		return v.N >= 0
	case ".ifgt":
		return v.N > 0
	case ".ifle":
		return v.N <= 0
	case ".iflt":
		return v.N < 0
	}
	return v.N != 0
}
