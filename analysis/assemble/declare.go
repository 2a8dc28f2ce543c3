package assemble

import (
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// Directives that say something of symbols: .set, .global, .extern, .size and their
// counterparts in the column dialect.

// set handles .set, .equ and the like.
func (p *pass) set(it *program.Item) {
	s, d := it.Stmt, it.Stmt.Directive
	if len(s.Ops) < 2 || s.Ops[0].Word == "" && (s.Ops[0].Expr == nil || s.Ops[0].Expr.Op != syntax.ExprDot) {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.NeedsNameAndValue(d.Name))
		return
	}
	o := &s.Ops[0]
	name := o.Word
	if name == "" {
		name = "."
	}
	if y := p.thumbName(d, name); y != nil && y.Label {
		// Assemblers move the label.
		p.Warn(p.Loc(it, o.Start, o.End), finding.CodeDuplicate, wording.LabelGoesOn(name, wording.Where(p.Program, p.DefinedAt(y).Location, it)))
		y.Label = false
	}
	p.assign(it, name, o.Start-s.Start, o.End-s.Start, s.Ops[1:], d.Unit == 0)
	if name == "." {
		return
	}
	if d.Effect == syntax.EffThumbSet {
		y := p.Symbol(o.Word)
		y.Function, y.ThumbFn, y.Mode = true, true, isa.T
	}
}

// extern handles .extern.
func (p *pass) extern(it *program.Item, l *syntax.Line) {
	s := it.Stmt
	// Assemblers ignore it; so do we, except for the names.
	for _, w := range strings.FieldsFunc(s.Rest(l), func(r rune) bool { return r < 0x80 && !isName(byte(r)) }) {
		if w[0] < '0' || w[0] > '9' {
			p.Symbol(w).Extern = true
		}
	}
}

// global handles .global and .weak, and EXPORT and IMPORT of the column dialect.
func (p *pass) global(it *program.Item) {
	s, d := it.Stmt, it.Stmt.Directive
	if len(s.Ops) == 0 && d.Effect != syntax.EffImport {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.NeedsSymbol(d.Name))
	}
	for i := range s.Ops {
		o := &s.Ops[i]
		switch {
		case o.Word == "" && d.Effect != syntax.EffGlobal:
			p.attributes(it, o, symbolAttributes)
			continue
		case o.Word == "":
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeDirective, wording.TakesSymbols(d.Name))
			return
		}
		y := p.Symbol(o.Word)
		if d.Effect == syntax.EffImport {
			y.Extern = true
			continue
		}
		y.Global = true
		y.Weak = y.Weak || d.Weak
	}
}

// columnCommon handles COMMON.
func (p *pass) columnCommon(it *program.Item) {
	s := it.Stmt
	if len(s.Ops) > 0 && s.Ops[0].Word != "" {
		y := p.Symbol(s.Ops[0].Word)
		y.Extern, y.Kind = true, program.SymData
	}
}

// size handles .size.
func (p *pass) size(it *program.Item) {
	s := it.Stmt
	if len(s.Ops) != 2 || s.Ops[0].Word == "" || s.Ops[1].Kind == isa.OpNone {
		if len(s.Ops) != 2 || s.Ops[0].Expr == nil || s.Ops[0].Expr.Op != syntax.ExprDot {
			p.Report(p.StmtLoc(it), finding.CodeDirective, wording.NeedsSymbolAndSize())
		}
		return
	}
	p.sizeLater = append(p.sizeLater, it.Index)
	if !s.Ops[1].Known {
		p.LookBack(it, &s.Ops[1])
	}
}
