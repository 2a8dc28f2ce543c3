package syntax

import "slices"

// Alike says whether two statements say the same, whatever columns their parts are in.
func (s *Stmt) Alike(t *Stmt) bool {
	return s.Kind == t.Kind && s.Width == t.Width && s.NoColon == t.NoColon && s.Once == t.Once && s.Align == t.Align &&
		s.Number == t.Number && s.Name == t.Name && s.Mnemonic == t.Mnemonic && s.Directive == t.Directive && s.Err == nil && t.Err == nil &&
		slices.EqualFunc(s.Ops, t.Ops, func(a, b Operand) bool { return a.alike(&b) })
}

func (o *Operand) alike(t *Operand) bool {
	return o.Operand == t.Operand && o.Expr.alike(t.Expr) && o.Names.alike(t.Names) && o.IsStr == t.IsStr && o.Marked == t.Marked
}

func (n *Names) alike(m *Names) bool {
	if n == nil || m == nil {
		return n == m
	}
	return n.Base == m.Base && n.Index == m.Index && n.Str == m.Str && slices.Equal(n.List, m.List) && slices.EqualFunc(n.Lanes, m.Lanes, (*Expr).alike)
}

func (e *Expr) alike(f *Expr) bool {
	if e == nil || f == nil {
		return e == f
	}
	return e.Op == f.Op && e.Back == f.Back && e.Hash == f.Hash && e.Val == f.Val && e.Name == f.Name && e.X.alike(f.X) && e.Y.alike(f.Y)
}

// Differing gives the first line in which a file differs from another one, and the lines of both
// behind the last one: lines that an edit has not touched are the same for both.
func (f *File) Differing(g *File) (from, to, other int) {
	to, other = len(f.lines), len(g.lines)
	f.await(to)
	g.await(other)
	for from < min(to, other) && f.lines[from] == g.lines[from] {
		from++
	}
	for to > from && other > from && f.lines[to-1] == g.lines[other-1] {
		to--
		other--
	}
	return from, to, other
}
