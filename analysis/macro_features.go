package analysis

import (
	"fmt"
	"strings"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// maxShown bounds the lines of an expansion in a hover.
const maxShown = 30

// macroAt is the macro that a token names: at its definition, at a call or
// behind .purgem.
func (r *view) macroAt(t token) *macro {
	s := t.it.stmt
	if m := r.callee(t.it); m != nil {
		if t.name {
			return m
		}
		return nil
	}
	if s.Kind != syntax.Directive || t.text == s.Name || s.Dir.Effect != syntax.EffMacro && s.Dir.Effect != syntax.EffPurgem {
		return nil
	}
	var found *macro
	for _, m := range r.macros {
		if strings.EqualFold(m.name, t.text) && (s.Dir.Effect == syntax.EffMacro && m.item == t.it.id || s.Dir.Effect == syntax.EffPurgem && m.item < t.it.id) {
			found = m
		}
	}
	return found
}

// header is the macro's name with its parameters as .macro has them.
func header(m *macro) string {
	var list []string
	for i := range m.params {
		p := &m.params[i]
		s := p.Name
		switch {
		case p.Need:
			s += ":req"
		case p.Rest:
			s += ":vararg"
		}
		if p.Default != "" {
			s += "=" + p.Default
		}
		list = append(list, s)
	}
	return strings.TrimSpace(m.name + " " + strings.Join(list, ", "))
}

// head is the definition's first line, or lines.
func head(m *macro) string {
	if !m.columns {
		return ".macro " + header(m)
	}
	label, params := "", m.params
	if m.label {
		label, params = "$"+params[0].Name, params[1:]
	}
	var list []string
	for i := range params {
		s := "$" + params[i].Name
		if d := params[i].Default; d != "" {
			s += "=\"" + d + "\""
		}
		list = append(list, s)
	}
	return "MACRO\n" + strings.TrimRight(label+"\t"+m.name+" "+strings.Join(list, ", "), " ")
}

// hoverMacro describes a macro; of one of its calls it shows what it makes.
func (r *view) hoverMacro(m *macro, it *item) string {
	md := fmt.Sprintf("```\n%s\n```\n\nMacro, defined %s, called %s.", head(m), r.where(m.at.Location, nil), plural(len(m.calls), "time", "times"))
	if it.flags&fCall == 0 {
		return md
	}
	if it.flags&fOpaque != 0 {
		return md + "\n\nThis call is not expanded, or not wholly."
	}
	var lines []string
	total, left := int64(0), 0
	sec := it.sec
	for k := int(it.id) + 1; k < len(r.items) && r.comesFrom(&r.items[k], it.id); k++ {
		x := &r.items[k]
		if x.sec == sec {
			total += x.size
		}
		if x.size == 0 && x.stmt.Kind == syntax.Directive || x.flags&fCall != 0 {
			continue
		}
		if len(lines) == maxShown {
			left++
			continue
		}
		text := strings.TrimSpace(r.lineText(x)[x.stmt.Start:x.stmt.End])
		lines = append(lines, strings.TrimRight(fmt.Sprintf("%-8s  %-8s  %s", r.offText(x), r.bytesText(x), clipText(text, 60)), " "))
	}
	if len(lines) == 0 {
		return md + "\n\nIt makes nothing here."
	}
	if left > 0 {
		lines = append(lines, fmt.Sprintf("… and %s more", plural(left, "line", "lines")))
	}
	return md + fmt.Sprintf("\n\nHere it makes %d bytes of %s:\n\n```\n%s\n```", total, r.secs[sec].name, strings.Join(lines, "\n"))
}

func (r *view) offText(it *item) string {
	if !r.secs[it.sec].exact {
		return ""
	}
	return fmt.Sprintf("0x%x", it.off)
}

// bytesText is the code of an instruction as the manuals write it, or the size.
func (r *view) bytesText(it *item) string {
	if it.match.Form == nil || it.flags&fRefused != 0 {
		if it.size == 0 {
			return ""
		}
		return plural(int(it.size), "byte", "bytes")
	}
	if it.match.Form.Row.Size() == 4 {
		return fmt.Sprintf("%08x", it.match.Encode())
	}
	return fmt.Sprintf("%04x", it.match.Encode())
}

// comesFrom says whether an item is made by the expansion that another one
// asks for.
func (r *Program) comesFrom(it *item, call int32) bool {
	for it.file != 0 {
		from := r.sources[it.file].from
		if from == call {
			return true
		}
		it = &r.items[from]
	}
	return false
}

// repeatedAt finds the statement at a byte offset of a file that stands
// in the body of a repetition: as it is the first time.
func (r *view) repeatedAt(in int32, off int) *item {
	at, col := r.place(in, off)
	line := int32(at)
	for i := range r.sources {
		x := r.sources[i].exp
		if x == nil || !x.exact || x.macro != nil || line < x.line || line >= x.line+x.n {
			continue
		}
		id := int32(i)
		var best *item
		for k := int(r.sources[i].from) + 1; k < len(r.items) && r.comesFrom(&r.items[k], r.sources[i].from); k++ {
			it := &r.items[k]
			if it.file != id {
				continue
			}
			file, l, _ := r.shown(it)
			if file != in {
				break
			}
			if l == line && it.stmt.Start <= col && col <= it.stmt.End && (best == nil || best.stmt.Kind == syntax.Label) {
				best = it
			} else if best != nil {
				break
			}
		}
		if best != nil {
			return best
		}
	}
	return nil
}

// joinedAt finds the statement at a byte offset of a file that goes on over
// several lines, and the first of these.
func (r *view) joinedAt(in int32, off int) (best *item, line int) {
	f := r.sources[in].file
	at := int32(f.LineAt(off))
	for i := range r.sources {
		x := r.sources[i].exp
		if x == nil || !x.joined || x.file != in || at < x.line || at >= x.line+x.n {
			continue
		}
		col := int32(off - f.LineStart(int(x.line)))
		for k := int(r.sources[i].from) + 1; k < len(r.items) && r.comesFrom(&r.items[k], r.sources[i].from); k++ {
			if it := &r.items[k]; int(it.file) == i && it.stmt.Start <= col && col <= it.stmt.End && it.stmt.Dir != syntax.AutoAlign && (best == nil || best.stmt.Kind == syntax.Label) {
				best, line = it, int(x.line)
			}
		}
		break
	}
	return best, line
}

// ReferencesIn is References in a file of the program.
func (r *view) ReferencesIn(path string, off int) []Location {
	if m := r.useAt(path, off); m != nil {
		return r.usesOf(m)
	}
	t, ok := r.tokenAt(path, off)
	if !ok {
		return nil
	}
	var out []Location
	seen := map[Location]bool{}
	add := func(l Location) {
		if l.Path != "" && !seen[l] {
			seen[l] = true
			out = append(out, l)
		}
	}
	if m := r.macroAt(t); m != nil {
		add(m.at.Location)
		for _, id := range m.calls {
			add(r.nameLoc(&r.items[id]).Location)
		}
		return out
	}
	if t.it.stmt.Kind == syntax.Instruction {
		if _, isReg := isa.RegByName(strings.ToLower(t.text)); isReg || t.op < 0 {
			return nil
		}
	}
	s, ok := r.lookup(t)
	if !ok {
		return nil
	}
	name := s.name
	numeric := name != "" && name[0] >= '0' && name[0] <= '9'
	for i := range r.items {
		it := &r.items[i]
		st := r.parsed(it)
		if (st.Kind == syntax.Label || st.Kind == syntax.Assign || st.Kind == syntax.Directive && st.Dir.NameFirst) && st.Name == name && (!numeric || s.item == it.id) {
			add(r.nameLoc(it).Location)
		}
		for k := range st.Ops {
			o := &st.Ops[k]
			if o.Word == name {
				add(r.named(r.loc(it, o.Start, o.End), it.file, name).Location)
			}
			o.Expr.Walk(func(e *syntax.Expr) {
				switch {
				case e.Op == syntax.ExprSym && e.Name == name,
					numeric && e.Op == syntax.ExprLocal && r.localOf(e, it) == s:
					add(r.named(r.loc(it, e.Start, e.End), it.file, e.Name).Location)
				}
			})
		}
	}
	return out
}

// parsed is the statement of an item as the parser has it, where values stand for
// names in that of the item.
func (r *view) parsed(it *item) *syntax.Stmt {
	f := r.sources[it.file].file
	if f.Dialect() == syntax.Columns {
		l := f.Line(int(it.line))
		for i := range l.Stmts {
			if s := &l.Stmts[i]; s.Start == it.stmt.Start && s.NameEnd == it.stmt.NameEnd {
				return s
			}
		}
	}
	return it.stmt
}

// localOf is the numeric local label that an expression at an item means.
func (r *view) localOf(e *syntax.Expr, it *item) *symbol {
	if e.Name != "" {
		return r.columnLocal(e, it).sym
	}
	return r.local(int32(e.Val), e.Back, it.id).sym
}
