package describe

import (
	"fmt"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// maxShown bounds the lines of an expansion in a hover.
const maxShown = 30

// macroAt is the macro that a token names: at its definition, at a call or
// after .purgem.
func (r *View) macroAt(t token) *program.Macro {
	s := t.it.Stmt
	if m := r.callee(t.it); m != nil {
		if t.name {
			return m
		}
		return nil
	}
	if s.Kind != syntax.Directive || t.text == s.Name || s.Directive.Effect != syntax.EffMacro && s.Directive.Effect != syntax.EffMacroBelow && s.Directive.Effect != syntax.EffPurgem {
		return nil
	}
	var found *program.Macro
	for _, m := range r.Macros {
		if strings.EqualFold(m.Name, t.text) && ((s.Directive.Effect == syntax.EffMacro || s.Directive.Effect == syntax.EffMacroBelow) && m.Item == t.it.Index || s.Directive.Effect == syntax.EffPurgem && m.Item < t.it.Index) {
			found = m
		}
	}
	return found
}

// header is the macro's name with its parameters as .macro has them.
func header(m *program.Macro) string {
	var list []string
	for i := range m.Parameters {
		p := &m.Parameters[i]
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
	return strings.TrimSpace(m.Name + " " + strings.Join(list, ", "))
}

// head is the definition's first line, or lines.
func head(m *program.Macro) string {
	if !m.Columns {
		return ".macro " + header(m)
	}
	label, params := "", m.Parameters
	if m.Label {
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
	return "MACRO\n" + strings.TrimRight(label+"\t"+m.Name+" "+strings.Join(list, ", "), " ")
}

// hoverMacro describes a macro; of one of its calls it shows what it makes.
func (r *View) hoverMacro(m *program.Macro, it *program.Item) string {
	md := fmt.Sprintf("```\n%s\n```%s\n\nMacro, defined %s, called %s.", head(m), r.aboutPlace(r.MacroAt(m)), wording.Where(r.Program, r.MacroAt(m).Location, nil), wording.Plural(len(m.Calls), "time", "times"))
	if it.Flags&program.Calls == 0 {
		return md
	}
	if it.Flags&program.Opaque != 0 {
		return md + "\n\nThis call is not expanded, or only in part."
	}
	var lines []string
	total, left := int64(0), 0
	sec := it.Section
	for k := int(it.Index) + 1; k < len(r.Items) && r.ComesFrom(&r.Items[k], it.Index); k++ {
		x := &r.Items[k]
		if x.Section == sec {
			total += x.Size
		}
		if x.Size == 0 && x.Stmt.Kind == syntax.Directive || x.Flags&program.Calls != 0 {
			continue
		}
		if len(lines) == maxShown {
			left++
			continue
		}
		text := strings.TrimSpace(r.LineText(x)[x.Stmt.Start:x.Stmt.End])
		lines = append(lines, strings.TrimRight(fmt.Sprintf("%-8s  %-8s  %s", r.offText(x), r.bytesText(x), wording.ClipText(text, 60)), " "))
	}
	if len(lines) == 0 {
		return md + "\n\nIt makes nothing here."
	}
	if left > 0 {
		lines = append(lines, fmt.Sprintf("… and %s more", wording.Plural(left, "line", "lines")))
	}
	return md + fmt.Sprintf("\n\nHere it makes %d bytes of %s:\n\n```\n%s\n```", total, r.Sections[sec].Name, strings.Join(lines, "\n"))
}

func (r *View) offText(it *program.Item) string {
	if !r.Sections[it.Section].Exact {
		return ""
	}
	return fmt.Sprintf("0x%x", it.Offset)
}

// bytesText is the code of an instruction as the manuals write it, or the size.
func (r *View) bytesText(it *program.Item) string {
	if it.Match.Form == nil || it.Flags&program.Refused != 0 {
		if it.Size == 0 {
			return ""
		}
		return wording.Plural(int(it.Size), "byte", "bytes")
	}
	if it.Match.Form.Row.Size() == 4 {
		return fmt.Sprintf("%08x", it.Match.Encode())
	}
	return fmt.Sprintf("%04x", it.Match.Encode())
}

// repeatedAt finds the statement at a byte offset of a file that is
// in the body of a repetition: as it is the first time.
func (r *View) repeatedAt(in int32, off int) *program.Item {
	at, col := r.Place(in, off)
	line := int32(at)
	for i := range r.Sources {
		x := r.Sources[i].Expansion
		if x == nil || !x.Exact || x.Macro != nil || line < x.Line || line >= x.Line+x.N {
			continue
		}
		id := int32(i)
		var best *program.Item
		for k := int(r.Sources[i].From) + 1; k < len(r.Items) && r.ComesFrom(&r.Items[k], r.Sources[i].From); k++ {
			it := &r.Items[k]
			if it.File != id {
				continue
			}
			file, l, _ := r.Shown(it)
			if file != in {
				break
			}
			if l == line && it.Stmt.Start <= col && col <= it.Stmt.End && (best == nil || best.Stmt.Kind == syntax.Label) {
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
func (r *View) joinedAt(in int32, off int) (best *program.Item, line int) {
	f := r.Sources[in].File
	at := int32(f.LineAt(off))
	for i := range r.Sources {
		x := r.Sources[i].Expansion
		if x == nil || !x.Joined || x.File != in || at < x.Line || at >= x.Line+x.N {
			continue
		}
		col := int32(off - f.LineStart(int(x.Line)))
		for k := int(r.Sources[i].From) + 1; k < len(r.Items) && r.ComesFrom(&r.Items[k], r.Sources[i].From); k++ {
			if it := &r.Items[k]; int(it.File) == i && it.Stmt.Start <= col && col <= it.Stmt.End && it.Stmt.Directive != syntax.AutoAlign && (best == nil || best.Stmt.Kind == syntax.Label) {
				best, line = it, int(x.Line)
			}
		}
		break
	}
	return best, line
}

// ReferencesIn is References in a file of the program.
func (r *View) ReferencesIn(path string, off int) []finding.Location {
	if m := r.useAt(path, off); m != nil {
		return r.usesOf(m)
	}
	t, ok := r.tokenAt(path, off)
	if !ok {
		return nil
	}
	if m := r.macroAt(t); m != nil {
		return r.CallsOf(m)
	}
	if t.it.Stmt.Kind == syntax.Instruction {
		if _, isReg := isa.RegByName(strings.ToLower(t.text)); isReg || t.op < 0 {
			return nil
		}
	}
	s, ok := r.lookup(&t)
	if !ok {
		return nil
	}
	return r.ReferencesOf(s)
}

// known says whether an item is made of a line of which the places are known.
func (r *View) known(it *program.Item) bool {
	if len(r.Written) == 0 {
		return false
	}
	l, ok := r.BodyLine(it)
	return ok && r.Written[l]
}

// eachOnce gives a function that adds places to a list, those of a file that are not in it yet.
func eachOnce(out *[]finding.Location) (add func(finding.Location)) {
	seen := map[finding.Location]bool{}
	return func(l finding.Location) {
		if l.Path != "" && !seen[l] {
			seen[l] = true
			*out = append(*out, l)
		}
	}
}

// CallsOf lists where a macro is defined and called.
func (r *View) CallsOf(m *program.Macro) (out []finding.Location) {
	add := eachOnce(&out)
	add(r.MacroAt(m).Location)
	for _, id := range m.Calls {
		if it := &r.Items[id]; !r.known(it) {
			add(r.NameLoc(it).Location)
		}
	}
	return out
}

// ReferencesOf lists the places of assembled lines that name a symbol.
func (r *View) ReferencesOf(s *program.Symbol) []finding.Location {
	var out []finding.Location
	add := eachOnce(&out)
	name := s.Name
	numeric := name != "" && name[0] >= '0' && name[0] <= '9'
	for i := range r.Items {
		it := &r.Items[i]
		if !numeric && r.known(it) {
			continue
		}
		st := r.Parsed(it)
		if (st.Kind == syntax.Label || st.Kind == syntax.Assign || st.Kind == syntax.Directive && st.Directive.NameFirst) && st.Name == name && (!numeric || s.Item == it.Index) {
			add(r.NameLoc(it).Location)
		}
		if r.Unread(it, func(word string, a, b int32) {
			if word == name {
				add(r.Named(r.Loc(it, a, b), it.File, name).Location)
			}
		}) {
			continue
		}
		for k := range st.Ops {
			o := &st.Ops[k]
			if o.Word == name && !st.OwnOperand(k) {
				add(r.Named(r.Loc(it, o.Start, o.End), it.File, name).Location)
			}
			o.Expr.Walk(func(e *syntax.Expr) {
				switch {
				case e.Op == syntax.ExprSym && e.Name == name,
					numeric && e.Op == syntax.ExprLocal && r.localOf(e, it) == s:
					add(r.Named(r.Loc(it, e.Start, e.End), it.File, e.Name).Location)
				}
			})
		}
	}
	return out
}

// Unread calls visit for the symbols in a directive whose text the parser does not read, with
// their columns; false where it is none of these.
func (r *View) Unread(it *program.Item, visit func(name string, a, b int32)) bool {
	st := r.Parsed(it)
	if st.Kind != syntax.Directive {
		return false
	}
	switch st.Directive.Effect {
	case syntax.EffExtern, syntax.EffType, syntax.EffComm:
	default:
		return false
	}
	text := r.LineText(it)
	f := syntax.ParseAs(strings.Repeat(" ", int(st.NameEnd))+text[st.NameEnd:st.End], r.Sources[it.File].File.Dialect())
	first := true
	f.Words(0, func(w syntax.Word) {
		if first || st.Directive.Effect == syntax.EffExtern {
			visit(w.Text, w.Start, w.End)
		}
		first = false
	})
	return true
}

// Parsed is the statement of an item as the parser has it, where values mean
// names in that of the item.
func (r *View) Parsed(it *program.Item) *syntax.Stmt {
	f := r.Sources[it.File].File
	if f.Dialect() == syntax.Columns {
		l := f.Line(int(it.Line))
		for i := range l.Stmts {
			if s := &l.Stmts[i]; s.Start == it.Stmt.Start && s.NameEnd == it.Stmt.NameEnd {
				return s
			}
		}
	}
	return it.Stmt
}

// localOf is the numeric local label that an expression at an item means.
func (r *View) localOf(e *syntax.Expr, it *program.Item) *program.Symbol {
	if e.Name != "" {
		return r.ColumnLocal(e, it).Symbol
	}
	return r.Local(int32(e.Val), e.Back, it.Index).Symbol
}
