package assemble

import (
	"iter"
	"maps"
	"strings"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// places is what of a program depends on the places of others, so that an edit which moves some
// of it may concern them. It is made for the first such edit, and goes on with the next ones.
type places struct {
	ok bool // nothing is in the program that is too much for move
	// early are the items whose meaning was computed from places when they were read: it is the
	// same as long as these places move together.
	early []int32
	// refs are the instructions and data that name places, or what is not defined.
	refs []ref
	// registers are those that give registers names.
	registers []int32
	// absent counts by name how often operands name symbols that are not defined, and unread the
	// same for statements with something that cannot be read, where it may not have been looked at.
	absent, unread map[string]int32
}

// ref is an instruction or data that names places.
type ref struct {
	item int32
	at   int32 // the item that the one place moves with which it names; or below
	sec  int16 // and its section
}

// What an item names where it is not one place.
const (
	noPlace    = -1 // nothing that is defined
	somePlaces = -2 // several, or a number
	aWord      = -3 // a word in a pool
)

// refOf is what an item names.
func refOf(r *program.Program, it *program.Item) ref {
	out := ref{it.Index, noPlace, 0}
	place := func(v program.Value, ok bool) {
		switch {
		case out.at != noPlace || ok && v.Kind != program.Address:
			out.at = somePlaces
		case ok:
			out.at, out.sec = v.At, v.Section
		}
	}
	named := func(name string) {
		if y := r.SymbolOf(name); y != nil {
			if len(y.Past) > 0 || y.Expr != nil {
				out.at = somePlaces
			}
			place(y.Value, y.Defined)
		}
	}
	e := eval.New(r)
	for k := range it.Stmt.Ops {
		o := &it.Stmt.Ops[k]
		if o.Kind == isa.OpLit && it.Literal >= 0 {
			if out.at != noPlace {
				out.at = somePlaces
				return out
			}
			out.at = aWord
			continue
		}
		if out.at == aWord && (o.Word != "" || o.Expr != nil) {
			out.at = somePlaces
			return out
		}
		if o.Kind == isa.OpExpr && o.Known {
			out.at = somePlaces
		}
		namesIn(o, named, func(x *syntax.Expr) {
			switch x.Op {
			case syntax.ExprLocal:
				v := e.Local(int32(x.Val), x.Back, it.Index)
				place(v, v.Kind == program.Address)
			case syntax.ExprNum:
			default:
				if x.X != nil && x.Y != nil && (x.Op == syntax.ExprAdd || x.Op == syntax.ExprSub) {
					return
				}
				out.at = somePlaces
			}
		})
	}
	return out
}

// maxPast bounds the values that a symbol has had one after the other, all of which each line that
// names it is asked for.
const maxPast = 100

// placesOf looks at all statements of a program.
func placesOf(e *Earlier) *places {
	p := &places{absent: map[string]int32{}, unread: map[string]int32{}}
	r := e.Program
	if e.Lacking || e.Missed || e.Ended || r.Columns || len(r.Scoped) > 0 || len(r.Unreqs) > 0 {
		return p
	}
	looked := map[*syntax.File]bool{}
	for k := range r.Sources {
		s := &r.Sources[k]
		if s.Unit != nil || s.Expansion != nil && (s.Expansion.More != nil || s.Expansion.Joined) || !looked[s.File] && !p.conditions(r, s.File) {
			return p
		}
		looked[s.File] = true
	}
	for s := range r.Sections {
		if x := &r.Sections[s]; !x.Exact || x.Record || len(x.Subsections) > 0 || x.Place != nil || !e.laid[s].Again {
			return p
		}
	}
	many := false
	r.EachSymbol(func(y *program.Symbol) { many = many || len(y.Past) > maxPast })
	if many {
		return p
	}
	for k := range r.Environments {
		if r.Environments[k].Assumed {
			return p
		}
	}
	for k := range r.Literals {
		if r.Literals[k].Padding {
			return p
		}
	}
	for k := range r.Items {
		it := &r.Items[k]
		if it.Flags&program.Opaque != 0 || !p.stands(r, it) {
			return p
		}
		p.count(r, it.Stmt, 1)
	}
	p.ok = true
	return p
}

// conditions says whether no condition of a file depends on places, and all have an end.
func (p *places) conditions(r *program.Program, f *syntax.File) bool {
	open := 0
	for i := range f.NumLines() {
		l := f.Line(i)
		for k := range l.Stmts {
			s := &l.Stmts[k]
			if s.Kind != syntax.Directive {
				continue
			}
			switch s.Directive.Effect {
			case syntax.EffEndif:
				if open--; open < 0 {
					return false
				}
			case syntax.EffIf, syntax.EffElseif:
				if s.Directive.Effect == syntax.EffIf {
					open++
				}
				if !ofText(s.Directive.Name) && s.Directive.Name != ".ifb" && s.Directive.Name != ".ifnb" && (s.Directive.Args == syntax.ArgsRaw || placesIn(r, s)) {
					return false
				}
			}
		}
	}
	return open == 0
}

// stands says whether a statement can be moved, and notes the early ones.
func (p *places) stands(r *program.Program, it *program.Item) bool {
	s := it.Stmt
	switch s.Kind {
	case syntax.Instruction:
		target, number := targetsOf(r, it)
		if target {
			p.refs = append(p.refs, refOf(r, it))
		}
		if number {
			p.early = append(p.early, it.Index)
		}
		return true
	case syntax.Label:
		// Where two of one name are one place, they are one label.
		y := r.SymbolOf(s.Name)
		return s.Number >= 0 || y != nil && y.Item == it.Index
	case syntax.Assign:
		if s.Name == "." {
			return false
		}
		if placesIn(r, s) {
			p.early = append(p.early, it.Index)
		}
		return true
	case syntax.Directive:
		return p.directiveStands(r, it)
	}
	return true
}

func (p *places) directiveStands(r *program.Program, it *program.Item) bool {
	s := it.Stmt
	switch s.Directive.Effect {
	case syntax.EffData:
		if placesIn(r, s) {
			p.refs = append(p.refs, refOf(r, it))
		}
		return true
	case syntax.EffNone, syntax.EffString, syntax.EffFloat, syntax.EffWide, syntax.EffPool, syntax.EffGlobal, syntax.EffExtern, syntax.EffThumb, syntax.EffArm,
		syntax.EffThumbFunc, syntax.EffCPU, syntax.EffArch, syntax.EffArchExt, syntax.EffFPU, syntax.EffSyntax, syntax.EffInclude, syntax.EffType, syntax.EffSize,
		syntax.EffSection, syntax.EffPush, syntax.EffPop, syntax.EffPrevious, syntax.EffError, syntax.EffNop:
		return true
	case syntax.EffReq:
		p.registers = append(p.registers, it.Index)
		return true
	case syntax.EffMacro, syntax.EffPurgem, syntax.EffExitm, syntax.EffEndm, syntax.EffEndr:
		return true
	case syntax.EffSet, syntax.EffEqv, syntax.EffThumbSet, syntax.EffSpace, syntax.EffFill, syntax.EffAlignPow, syntax.EffAlignByte, syntax.EffEven, syntax.EffCode, syntax.EffInst, syntax.EffRept:
		if len(s.Ops) > 0 && s.Ops[0].Expr != nil && s.Ops[0].Expr.Op == syntax.ExprDot && s.Directive.Effect == syntax.EffSet {
			return false
		}
		if len(s.Ops) > 1 && fillUnit(s.Directive.Name) > 1 && program.Aligns(s.Directive.Effect) {
			return false // whose gap has to be so many units
		}
		if placesIn(r, s) {
			p.early = append(p.early, it.Index)
		}
		return true
	case syntax.EffComm:
		return !strings.ContainsAny(r.LineText(it)[s.NameEnd:s.End], ".+-*/(")
	case syntax.EffCheck:
		return s.Directive.Name != ".reloc" && !strings.HasPrefix(s.Directive.Name, ".bundle")
	}
	return false
}

// targetsOf says whether operands of an instruction are targets, or literals in a pool, and
// whether others are numbers that depend on places.
func targetsOf(r *program.Program, it *program.Item) (target, number bool) {
	for k := range it.Stmt.Ops {
		switch o := &it.Stmt.Ops[k]; o.Kind {
		case isa.OpExpr:
			if m := it.Stmt.Mnemonic; m != nil && m.Constant(r.Environments[it.Environment].Mode, k) {
				number = number || (o.Expr != nil || o.Word != "") && placesIn(r, it.Stmt)
			}
			target = target || o.Known || o.Expr != nil || o.Word != "" && r.SymbolOf(o.Word) != nil
		case isa.OpLit:
			target = target || it.Literal >= 0
		default:
			number = number || o.Expr != nil && placesIn(r, it.Stmt)
		}
	}
	return target, number
}

// placesIn says whether an operand of a statement names a place, or what is not known.
func placesIn(r *program.Program, s *syntax.Stmt) (found bool) {
	named := func(name string) {
		y := r.SymbolOf(name)
		found = found || y == nil || !y.Defined || y.Label || y.Expr != nil || y.Value.Kind != program.Number
		for k := 0; y != nil && k < len(y.Past); k++ {
			found = found || y.Past[k].Expr != nil || y.Past[k].Value.Kind != program.Number
		}
	}
	first := 0
	if s.Kind == syntax.Directive && (s.Directive.Effect == syntax.EffSet || s.Directive.Effect == syntax.EffEqv || s.Directive.Effect == syntax.EffThumbSet) {
		first = 1 // the name that gets the value
	}
	for k := first; k < len(s.Ops); k++ {
		o := &s.Ops[k]
		namesIn(o, named, func(e *syntax.Expr) { found = found || ofPlace(e) })
	}
	return found
}

// ofPlace says whether a part of an expression, which is no name, depends on places.
func ofPlace(e *syntax.Expr) bool {
	switch e.Op {
	case syntax.ExprDot, syntax.ExprLocal, syntax.ExprReloc, syntax.ExprColumns:
		return true
	}
	return false
}

// count counts the symbols that a statement names and that are not defined, n times each.
func (p *places) count(r *program.Program, s *syntax.Stmt, n int32) {
	of := p.absent
	if unread(s) {
		of = p.unread
	}
	eachName(s, func(name string) {
		if y := r.SymbolOf(name); y != nil && y.Defined {
			return
		}
		if of[name] += n; of[name] == 0 {
			delete(of, name)
		}
	})
}

// recounted is absent and unread after an edit, of what was and is the same program where it
// defines no other names.
func (p *places) recounted(was, is *program.Program, r *Replaced) (absent, unread map[string]int32) {
	gone, come := statementsIn(r.old, r.From, r.To), statementsIn(r.file, r.From, r.Now)
	names := false
	for _, list := range []iter.Seq[*syntax.Stmt]{gone, come} {
		for s := range list {
			eachName(s, func(string) { names = true })
		}
	}
	if !names {
		return p.absent, p.unread
	}
	out := places{absent: maps.Clone(p.absent), unread: maps.Clone(p.unread)}
	for s := range gone {
		out.count(was, s, -1)
	}
	for s := range come {
		out.count(is, s, 1)
	}
	return out.absent, out.unread
}

// replaced is what there is to know of a program in which statements of some lines are others,
// none of which names a place.
func (p *places) replaced(r *program.Program, x *Replaced) *places {
	out := *p
	out.absent, out.unread = p.recounted(r, r, x)
	return &out
}

// unread says whether the operands of a statement may not be looked at.
func unread(s *syntax.Stmt) bool {
	if s.Kind == syntax.Directive && s.Directive.Effect != syntax.EffData {
		return true // with the wrong number of arguments, for one
	}
	if s.Kind == syntax.Instruction && (s.Mnemonic.Vector() || len(s.Mnemonic.FormsOf(isa.T)) == 0 || len(s.Mnemonic.FormsOf(isa.A)) == 0) {
		return true // in the other state, for one
	}
	return s.Err != nil || s.Kind == syntax.Unknown || s.Kind == syntax.Bad || s.Kind == syntax.Assign // of more than one value, for one
}

// eachName calls f for each name in the operands of a statement that may be that of a symbol.
func eachName(s *syntax.Stmt, f func(name string)) {
	for k := range s.Ops {
		namesIn(&s.Ops[k], f, func(*syntax.Expr) {})
	}
}

// namesIn calls named for each name in an operand that may be that of a symbol, and other for the
// other parts of its expression.
func namesIn(o *syntax.Operand, named func(name string), other func(e *syntax.Expr)) {
	if o.Word != "" {
		named(o.Word)
	}
	o.Expr.Walk(func(e *syntax.Expr) {
		if e.Op == syntax.ExprSym {
			named(e.Name)
		} else {
			other(e)
		}
	})
}

// statementsIn are the statements of lines from line a to line b, b excluded.
func statementsIn(f *syntax.File, a, b int) iter.Seq[*syntax.Stmt] {
	return func(yield func(*syntax.Stmt) bool) {
		for i := a; i < b; i++ {
			l := f.Line(i)
			for k := range l.Stmts {
				if !yield(&l.Stmts[k]) {
					return
				}
			}
		}
	}
}

// firm says whether a symbol is a number that was known when the line was read which defines it,
// above an item.
func firm(r *program.Program, y *program.Symbol, above int32, depth int) bool {
	if y.Label || !y.Defined || len(y.Past) > 0 || y.Value.Kind != program.Number || y.Value.Late || y.Item >= above || depth > 20 {
		return false
	}
	if y.Item < 0 {
		return true // the settings say it
	}
	ops := r.Items[y.Item].Stmt.Ops
	if len(ops) == 0 {
		return false
	}
	o := &ops[len(ops)-1]
	return o.Known || (o.Word != "" || o.Expr != nil) && firmIn(r, o, y.Item, depth+1)
}

// firmIn says whether an operand is made of numbers and of such symbols.
func firmIn(r *program.Program, o *syntax.Operand, above int32, depth int) bool {
	ok := true
	namesIn(o, func(name string) {
		y := r.SymbolOf(name)
		ok = ok && y != nil && firm(r, y, above, depth)
	}, func(e *syntax.Expr) { ok = ok && !ofPlace(e) && e.Op != syntax.ExprBig })
	return ok
}
