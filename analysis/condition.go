package analysis

import (
	"strings"

	"narrowgauge/analysis/syntax"
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
	it := &item{stmt: s, line: line, file: file, sec: p.sec, env: p.envID, off: p.secs[p.sec].size, id: int32(len(p.items))}
	bad := func(what string) bool {
		p.report(p.stmtLoc(it), codeDirective, s.Name+" "+what+".")
		return false
	}
	if s.Dir.Name[0] != '.' {
		return p.columnCondition(it, l, s)
	}
	switch s.Dir.Name {
	case ".ifdef", ".ifndef", ".ifnotdef":
		name := strings.Trim(s.Reduced(l), `"`)
		for i := 0; i < len(name); i++ {
			if !identByte(name[i]) {
				return bad("takes one name")
			}
		}
		if name == "" || name[0] >= '0' && name[0] <= '9' {
			return bad("needs a name")
		}
		y := p.find(name)
		defined := y != nil && (y.defined || y.extern && y.kind == SymData) // .comm
		return defined == (s.Dir.Name == ".ifdef")
	case ".ifb":
		return s.Reduced(l) == ""
	case ".ifnb":
		return s.Reduced(l) != ""
	case ".ifc", ".ifnc":
		// The texts are as macros see them, quotes included.
		a, b, ok := strings.Cut(s.Reduced(l), ",")
		if !ok {
			return bad("needs two texts with a comma between them")
		}
		return (strings.TrimSpace(a) == strings.TrimSpace(b)) == (s.Dir.Name == ".ifc")
	case ".ifeqs", ".ifnes":
		text := s.Reduced(l)
		st := syntax.ParseAs(".ascii "+text, syntax.Dots).Line(0).Stmts
		if len(st) != 1 || st[0].Err != nil || len(st[0].Ops) != 2 || !st[0].Ops[0].IsStr || !st[0].Ops[1].IsStr ||
			!strings.Contains((".ascii " + text)[st[0].Ops[0].End:st[0].Ops[1].Start], ",") {
			return bad("needs two strings in double quotes with a comma between them")
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
		return bad("needs one value")
	}
	v := p.eval(&x.Ops[0], it)
	if v.kind != vAbs {
		switch {
		case v.apart:
			p.report(p.stmtLoc(it), codeUndefined, s.Dir.Name+" needs a distance that is known here; what stands between may still grow, pad, or be in another section.")
		case v.kind == vUndef && v.sym != nil:
			p.report(p.stmtLoc(it), codeUndefined, s.Dir.Name+" needs the value of "+v.sym.name+" here, and no line above defines it.")
		case v.kind == vUndef || v.kind == vRel && p.secs[v.sec].exact:
			p.report(p.stmtLoc(it), codeUndefined, s.Dir.Name+" needs a number that is known here.")
		case v.kind == vBad && !v.mild:
			p.report(p.stmtLoc(it), codeSyntax, v.why)
		}
		return false
	}
	switch s.Dir.Name {
	case ".ifeq":
		return v.n == 0
	case ".ifge":
		return v.n >= 0
	case ".ifgt":
		return v.n > 0
	case ".ifle":
		return v.n <= 0
	case ".iflt":
		return v.n < 0
	}
	return v.n != 0
}
