package assemble

import (
	"slices"
	"strings"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// bindAgain binds what reaches from one stretch to another, or is at another place in a word. It
// is false where something is found then.
func (m *mover) bindAgain(x *pass) bool {
	if len(m.moves) == 0 && !m.pool.changed && !m.grows {
		return true
	}
	for k := range m.was.refs {
		named := &m.was.refs[k]
		i := named.item
		if i >= m.a && i < m.b {
			continue
		}
		was, it := &m.old.Items[i], &m.now.Items[m.index(i)]
		if m.stays(named, was, it) {
			continue
		}
		switch {
		case it.File != 0:
			return false
		case it.Stmt.Kind == syntax.Directive:
			if len(m.said[int(was.Line)]) > 0 || !x.sameData(it) {
				return false
			}
		case it.Flags&program.Waits != 0:
			if !m.resolveAgain(x, was, it) {
				return false
			}
			if it.Flags != was.Flags || (it.Match.Form == nil) != (was.Match.Form == nil) {
				if named.at != aWord && named.at < i {
					return false // it has waited, or does now, only because it does not fit
				}
				m.r.Turned = true
			}
		case it.Flags&(program.Refused|program.Unchecked) == 0:
			if n := len(x.Diags); len(m.said[int(was.Line)]) > 0 || !x.bound(it) || len(x.Diags) > n || len(x.Doubts) > 0 {
				return false
			}
		}
	}
	return true
}

// stays says whether what an item names is as far from it as before.
func (m *mover) stays(x *ref, was, it *program.Item) bool {
	own, by := m.at(was.Section, it.Index)
	if it.Size != was.Size || by&3 != 0 && !inWord(m.old, was) {
		return false
	}
	switch x.at {
	case noPlace:
		return true
	case somePlaces:
		return m.together(was, own, was.Section) && (by == 0 || !bare(m.old, was))
	case aWord:
		return m.wordStays(was, own)
	}
	if by != 0 && was.Stmt.Kind == syntax.Directive && len(m.said[int(was.Line)]) > 0 && bare(m.old, was) {
		return false // what is said of it may have the address
	}
	to, _ := m.at(x.sec, m.index(x.at))
	return to == own && (to < 0 || x.sec == was.Section)
}

// resolveAgain binds an instruction that waited. What was found of it before has to be all that
// was found in its line.
func (m *mover) resolveAgain(x *pass, was, it *program.Item) bool {
	n := len(x.Diags)
	x.Steps = 0
	it.Flags &^= program.Refused | program.Unchecked
	x.resolveItem(it)
	x.caution(it)
	x.TellDoubts()
	if was.Match.Odd() || it.Match.Odd() {
		return false // it may have waited for nothing else
	}
	told := m.said[int(was.Line)]
	if len(x.Diags) == n && len(told) == 0 {
		return it.Flags&(program.Refused|program.Unchecked) == 0 && was.Flags&(program.Refused|program.Unchecked) == 0
	}
	old := *m.old
	y := scratch(m.ctx, m.in, &old)
	y.Phase = eval.Resolving
	w := *was
	w.Flags &^= program.Refused | program.Unchecked
	y.resolveItem(&w)
	y.caution(&w)
	y.TellDoubts()
	if external := func(d finding.Diagnostic) bool { return d.Code == finding.CodeExternal }; slices.ContainsFunc(told, external) || slices.ContainsFunc(x.Diags[n:], external) {
		return false // which is said in the first line that is bound
	}
	m.looked += x.Steps - y.Steps
	m.dropped[int(was.Line)] = true
	m.r.Old, m.r.New = append(m.r.Old, *was), append(m.r.New, *it)
	return sameFindings(told, y.Diags) && w.Flags == was.Flags
}

// inWord says whether it does not matter to an instruction or to data that names places where in
// a word it is, as long as they move with it.
func inWord(r *program.Program, it *program.Item) bool {
	if it.Stmt.Kind != syntax.Instruction {
		return true
	}
	mode := r.Environments[it.Environment].Mode
	f := it.Stmt.Mnemonic.FormsOf(mode)
	return len(f) > 0 && (f[0].Row.Flow == isa.FlowBranch || f[0].Row.Flow == isa.FlowJump || f[0].Row.Flow == isa.FlowCall) && !it.Stmt.Mnemonic.CallsOtherState(mode)
}

// bound binds an instruction that was bound already, and says whether there is nothing to say of it.
func (p *pass) bound(it *program.Item) bool {
	e := &p.Environments[it.Environment]
	p.query = p.Query(it, e)
	p.Operands(it, true)
	m, ok := it.Stmt.Mnemonic.Match(&p.query, p.Ops)
	if !ok || m.Deferred() || m.Odd() {
		return false
	}
	it.Match = m
	p.caution(it)
	return true
}

// bare says whether an instruction has a number for a target, which is as far away as the line
// is from the start of the section.
func bare(r *program.Program, it *program.Item) bool {
	number := func(name string) bool {
		y := r.SymbolOf(name)
		return y != nil && y.Defined && (y.Expr != nil || y.Value.Kind != program.Address)
	}
	for k := range it.Stmt.Ops {
		o := &it.Stmt.Ops[k]
		if o.Kind != isa.OpExpr {
			continue
		}
		found := o.Known || o.Word != "" && number(o.Word) || o.Expr != nil && o.Expr.Op != syntax.ExprSym
		if o.Expr != nil && o.Expr.Op == syntax.ExprSym {
			found = number(o.Expr.Name)
		}
		if found {
			return true
		}
	}
	return false
}

// sameData says whether there is nothing to say of the values of data wherever its places are.
func (p *pass) sameData(it *program.Item) bool {
	for k := range it.Stmt.Ops {
		o := &it.Stmt.Ops[k]
		if o.Known || o.Kind == isa.OpNone || o.IsStr {
			continue
		}
		v, unit := p.Value(o, it), p.Unit(it)
		switch {
		case v.Kind == program.Number:
			if lo, hi := program.DataRange(unit); unit < 8 && (v.N < lo || v.N > hi) {
				return false
			}
		case v.Kind == program.Address && unit == 4:
		default:
			return false
		}
	}
	return true
}

// findings are those of the program now: those of the new statements, and the others where they
// are. It is nil where one of these names a line that has another number.
func (m *mover) findings(added []finding.Diagnostic) []finding.Diagnostic {
	said := map[int]bool{}
	for k := range added {
		if at, ok := m.taken[strings.TrimPrefix(added[k].Cause, finding.CauseName)]; ok && added[k].Code == finding.CodeExternal {
			said[at] = true
		}
	}
	out := make([]finding.Diagnostic, 0, len(m.before.Found)+len(added))
	for k, d := range m.before.Found {
		if said[k] || m.r.Differs(d.Location, m.old.Path) || d.Path == m.old.Path && m.dropped[m.r.old.LineAt(d.Span.Start)] {
			continue
		}
		d, ok := m.r.Follows(d, m.old.Path)
		if !ok {
			return nil
		}
		out = append(out, d)
	}
	if len(out)+len(added) > maxKept {
		return nil
	}
	for name := range m.must {
		if !slices.ContainsFunc(added, func(d finding.Diagnostic) bool {
			return d.Code == finding.CodeExternal && d.Cause == finding.CauseName+name
		}) {
			return nil
		}
	}
	return append(out, added...)
}

// follow gives items of the earlier program where they are now, without those that are gone.
func (m *mover) follow(list []int32) []int32 {
	out := make([]int32, 0, len(list)+4)
	for _, i := range list {
		if i < m.a || i >= m.b {
			out = append(out, m.index(i))
		}
	}
	return out
}
