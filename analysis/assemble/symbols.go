package assemble

import (
	"sort"
	"strings"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// thumbName is the symbol that .thumb_set gives a value, nil for other directives.
func (p *pass) thumbName(d *syntax.DirectiveInfo, name string) *program.Symbol {
	if d.Effect != syntax.EffThumbSet {
		return nil
	}
	return p.Find(name)
}

// nameColumns are those of a statement's name.
func nameColumns(it *program.Item) [2]int32 { return [2]int32{it.Stmt.Start, it.Stmt.NameEnd} }

// stmtColumns are those of a statement.
func stmtColumns(it *program.Item) [2]int32 { return [2]int32{it.Stmt.Start, it.Stmt.End} }

// label defines the label of it.
func (p *pass) label(it *program.Item) {
	st := it.Stmt
	i := int32(len(p.Items) - 1)
	p.blockOf(it.Section).inserted.close()
	v := program.Value{Kind: program.Address, Section: it.Section, N: it.Offset, At: i}
	if p.Sections[it.Section].Record {
		v = program.Value{Kind: program.Number, N: it.Offset}
	}
	if st.Number >= 0 {
		if st.Number&syntax.DollarLabel != 0 {
			p.dollars = true
			if was := p.Local(st.Number, false, i).Symbol; was != nil {
				p.Duplicate(it, was, st.Start, st.NameEnd)
				return
			}
		}
		s := &program.Symbol{Name: st.Name, Defined: true, Label: true, Mode: p.current.Mode, Value: v, Item: i, Columns: nameColumns(it)}
		p.Locals[st.Number] = append(p.Locals[st.Number], s)
		p.numbered++
		if p.Columns {
			if p.Scoped == nil {
				p.Scoped = map[program.LocalScope][]*program.Symbol{}
			}
			k := program.LocalScope{Number: st.Number, Level: p.Level(it.File), Section: it.Section, Routine: p.ScopeAt(it.Index, it.Section)}
			p.Scoped[k] = append(p.Scoped[k], s)
		}
		if int(st.NameEnd-st.Start) > len(st.Name) {
			p.routineOf(it)
		}
		return
	}
	if p.dollars && !strings.HasPrefix(st.Name, ".L") && !strings.HasPrefix(st.Name, "..") && !strings.HasPrefix(st.Name, "_.L_") {
		p.dollars = false
		p.Dollars = append(p.Dollars, i)
	}
	s, fresh := p.defining(st.Name)
	if s.Common || s.Refers != "" {
		p.Report(p.NameLoc(it), finding.CodeDuplicate, wording.AliasNoLabel(s.Name))
		return
	}
	if p.namesSection(st.Name) {
		p.Report(p.NameLoc(it), finding.CodeDuplicate, wording.SectionName(st.Name))
		return
	}
	if s.Defined {
		if s.Label && p.samePlace(s, v) {
			s.Value.At = i
			return
		}
		p.Duplicate(it, s, st.Start, st.NameEnd)
		if s.Label {
			return
		}
		s.Expr = nil
	}
	if !fresh {
		p.Gen++
	}
	s.Defined, s.Label, s.Mode, s.Value, s.Item, s.Columns = true, true, p.current.Mode, v, i, nameColumns(it)
	s.Value.Symbol = s
	s.Auto = p.Columns && p.current.Mode == isa.T && p.Sections[it.Section].Exec && p.DialectOf(it) == syntax.Columns
	// The mark waits for a label of code that other files may see.
	if p.funcTag && p.Sections[it.Section].Exec && !strings.HasPrefix(st.Name, ".L") {
		s.Function, s.ThumbFn, p.funcTag = true, true, false
	}
}

// namesSection says whether a section has the name: there is a symbol of that name
// for its start. The column dialect keeps them apart.
func (p *pass) namesSection(name string) bool {
	if p.Columns {
		return false
	}
	_, ok := p.secBy[name]
	return ok || name == ".text" || name == ".data" || name == ".bss"
}

// samePlace says whether a label that is defined marks the place v as well, with
// nothing between that may ever take room: there assemblers take it again.
func (p *pass) samePlace(s *program.Symbol, v program.Value) bool {
	if s.Value.Kind != program.Address || v.Kind != program.Address || s.Value.Section != v.Section || s.Value.N != v.N {
		return false
	}
	const far = 1000 // nobody writes so many labels of one place, and looking for more takes long
	if v.At-s.Value.At > far {
		return false
	}
	for k := v.At - 1; k > s.Value.At; k-- {
		x := &p.Items[k]
		if x.Section != v.Section || x.Stmt == nil || x.Stmt.Kind != syntax.Directive {
			continue // what has room would have moved the place
		}
		switch e := x.Stmt.Directive.Effect; e {
		case syntax.EffOrg, syntax.EffEven:
			return false
		case syntax.EffSpace:
			if len(x.Stmt.Ops) == 0 || !x.Stmt.Ops[0].Known {
				return false
			}
		default:
			if program.Aligns(e) {
				return false
			}
		}
	}
	return true
}

// assign handles .equ, .set and =.
func (p *pass) assign(it *program.Item, name string, a, b int32, args []syntax.Operand, again bool) {
	base := it.Stmt.Start
	if name == "." {
		if len(args) == 1 {
			p.org(it, &args[0])
		}
		return
	}
	s, fresh := p.defining(name)
	if s.Defined && (s.Label || s.Once || !again) {
		p.Duplicate(it, s, base+a, base+b)
		return
	}
	if s.Refers != "" {
		p.Report(p.Loc(it, base+a, base+b), finding.CodeDuplicate, wording.AlreadyAlias(name, s.Refers))
		return
	}
	if p.namesSection(name) {
		p.Report(p.Loc(it, base+a, base+b), finding.CodeDuplicate, wording.SectionName(name))
		return
	}
	if len(args) != 1 || args[0].Kind == isa.OpNone || args[0].IsStr {
		p.Report(p.NameLoc(it), finding.CodeDirective, wording.NeedsOneValue(name))
		return
	}
	if s.Defined {
		if len(s.Past) < eval.MaxPast {
			s.Past = append(s.Past, program.PastValue{Item: s.Item, Value: s.Value, Expr: s.Expr})
		}
	}
	o := &args[0]
	v := p.Value(o, it)
	if !fresh {
		p.Gen++
	}
	s.Kind = program.SymConstant
	s.Once = s.Once || !again
	s.Item, s.Columns = int32(len(p.Items)-1), [2]int32{base + a, base + b}
	s.Mode = p.current.Mode
	s.Expr = nil
	switch v.Kind {
	case program.Number, program.Address, program.Unknown:
		s.Value = v
		if v.Kind == program.Address && v.Symbol != nil {
			s.Function, s.Mode = s.Function || v.Symbol.Function, v.Symbol.Mode
		}
	default:
		if v.Symbol == s {
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeUndefined, wording.DefinedByItself(name))
			v = program.Value{Kind: program.Unknown}
			s.Value = v
			break
		}
		if v.Firm {
			p.BadValue(it, o, v)
			s.Value = program.Value{Kind: program.Unknown}
			break
		}
		s.Expr, s.Value = o, v
	}
	s.Defined = true
}

// resolveSymbols computes the values that had to wait for later definitions.
func (p *pass) resolveSymbols() {
	var wait []*program.Symbol
	var past []eval.PastOf
	p.EachSymbol(func(s *program.Symbol) {
		if s.Expr != nil {
			wait = append(wait, s)
		}
		for k := range s.Past {
			if s.Past[k].Expr != nil {
				past = append(past, eval.PastOf{Symbol: s, Item: s.Past[k].Item})
			}
		}
	})
	sort.Slice(wait, func(i, j int) bool { return wait[i].Item < wait[j].Item })
	sort.Slice(past, func(i, j int) bool { return past[i].Item < past[j].Item })
	for _, x := range past { // hover and the like find them computed
		if p.Cancelled(1) {
			return
		}
		v := p.ValueAt(x.Symbol, x.Item, 0)
		k := sort.Search(len(x.Symbol.Past), func(k int) bool { return x.Symbol.Past[k].Item >= x.Item })
		x.Symbol.Past[k].Value = v
	}
	for _, s := range wait {
		if p.Cancelled(1) {
			return
		}
		v := p.SymValue(s, 0)
		it := &p.Items[s.Item]
		switch {
		case v.Kind == program.Bad, v.Kind == program.Undefined && v.Num != 0:
			p.BadValue(it, s.Expr, v)
		case v.Kind == program.Undefined && v.Mixed:
			p.Report(p.Loc(it, s.Expr.Start, s.Expr.End), finding.CodeUndefined, wording.UnknownSum(s.Name))
		}
	}
}
