package describe

import (
	"fmt"
	"sort"
	"strings"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// Includes lists the paths of the files that were read, without the root.
func (r *View) Includes() []string {
	var out []string
	seen := map[string]bool{}
	for _, s := range r.Sources[1:] {
		if s.Expansion == nil && !seen[s.Path] {
			seen[s.Path] = true
			out = append(out, s.Path)
		}
	}
	return out
}

// View describes an assembled program to people.
type View struct {
	*eval.Evaluator
	Diags []finding.Diagnostic
}

// Region is a stretch of a file in one instruction set.
type Region struct {
	Span    finding.Span
	State   isa.State // what the assembler emits
	Unified bool      // the syntax in force
	Target  string    // architecture or core
}

// Regions divides the root file by mode, syntax and target.
func (r *View) Regions() []Region {
	f := r.File
	e := r.Environments[0]
	out := []Region{{finding.Span{Start: 0, End: len(f.Text())}, e.Mode, e.Unified, e.Target}}
	last := int16(0)
	for i := range r.Items {
		it := &r.Items[i]
		if it.File != 0 || it.Environment == last {
			continue
		}
		last = it.Environment
		at := r.Span(0, int(it.Line), it.Stmt.Start, it.Stmt.NameEnd).Start
		e := r.Environments[it.Environment]
		out[len(out)-1].Span.End = at
		out = append(out, Region{finding.Span{Start: at, End: len(f.Text())}, e.Mode, e.Unified, e.Target})
	}
	return out
}

// Inactive lists the stretches that conditional directives, or those of the
// preprocessor, leave out; of a file that is included several times what is
// left out each time.
func (r *View) Inactive() []finding.Location {
	spans := make([][]finding.Span, len(r.Sources)) // by source
	for _, x := range r.Excluded {
		spans[x.File] = append(spans[x.File], x.Span)
	}
	byPath := map[string][]finding.Span{}
	var paths []string
	for i := range r.Sources {
		s := &r.Sources[i]
		if s.Expansion != nil {
			continue
		}
		sort.Slice(spans[i], func(a, b int) bool { return spans[i][a].Start < spans[i][b].Start })
		before, again := byPath[s.Path]
		if !again {
			paths = append(paths, s.Path)
			byPath[s.Path] = spans[i]
			continue
		}
		byPath[s.Path] = intersect(before, spans[i])
	}
	var out []finding.Location
	for _, path := range paths {
		for _, s := range byPath[path] {
			out = append(out, finding.Location{Path: path, Span: s})
		}
	}
	return out
}

// intersect lists what is in a span of both lists, which are sorted.
func intersect(a, b []finding.Span) (out []finding.Span) {
	for len(a) > 0 && len(b) > 0 {
		s := finding.Span{Start: max(a[0].Start, b[0].Start), End: min(a[0].End, b[0].End)}
		if s.Start < s.End {
			out = append(out, s)
		}
		if a[0].End < b[0].End {
			a = a[1:]
		} else {
			b = b[1:]
		}
	}
	return out
}

// token is the word at a byte offset of a file.
type token struct {
	file int32
	it   *program.Item
	op   int // operand, -1 in the name
	text string
	span finding.Span
	// name: what is there is the statement's name, and no argument.
	name bool
}

// tokenAt finds the word at byte offset off of the file at path, where it is
// included first.
func (r *View) tokenAt(path string, off int) (token, bool) {
	file := r.FileOf(path)
	if file < 0 {
		return token{}, false
	}
	f := r.Sources[file].File
	if off < 0 || off > len(f.Text()) {
		return token{}, false
	}
	n, at := r.Place(file, off)
	word, span, wordLine, wordAt, argument := r.argumentAt(file, off)
	if argument {
		n, at = wordLine, wordAt
	}
	text := r.LineIs(file, n)
	col := int(at)
	it := r.ItemAtColumn(file, n, at)
	if it == nil {
		it = r.repeatedAt(file, off)
	}
	if it == nil || it.Stmt.Directive != nil && it.Stmt.Directive.Effect == syntax.EffJoin {
		if j, line := r.joinedAt(file, off); j != nil {
			it, n, col, text = j, line, off-f.LineStart(line), r.LineText(j)
		}
	}
	if it == nil || col > len(text) {
		return token{}, false
	}
	s := it.Stmt
	t := token{file: file, it: it, op: -1}
	if int(s.Start) <= col && col <= int(s.NameEnd) && s.NameEnd > s.Start {
		t.text = s.Name
		t.span = r.Span(file, n, s.Start, s.NameEnd)
		if t.name = !argument || word != s.Name; !t.name {
			t.span = span
		}
		return t, true
	}
	a, b := col, col
	for a > int(s.NameEnd) && program.IdentByte(text[a-1]) {
		a--
	}
	for b < len(text) && program.IdentByte(text[b]) {
		b++
	}
	if a > 0 && text[a-1] == '\'' && b < len(text) && text[b] == '\'' {
		a, b = a-1, b+1
	}
	if a == b {
		return token{}, false
	}
	t.text, t.span = text[a:b], r.Span(file, n, int32(a), int32(b))
	if argument && word == t.text {
		t.span = span
	}
	for i := range s.Ops {
		if int(s.Ops[i].Start) <= col && col <= int(s.Ops[i].End) {
			t.op = i
		}
	}
	return t, true
}

// HoverIn describes what is at byte offset off of a file of the program,
// named by its path. A file that is included more than once is described as
// it is the first time; so it is for the other methods with a path.
func (r *View) HoverIn(path string, off int) (Hover, bool) {
	if h, ok := r.hoverUse(path, off); ok {
		return h, true
	}
	t, ok := r.tokenAt(path, off)
	if !ok {
		return r.hoverHash(path, off)
	}
	s := t.it.Stmt
	md := ""
	m := r.macroAt(t)
	switch {
	case m != nil:
		md = r.hoverMacro(m, t.it)
	case t.op < 0 && s.Kind == syntax.Instruction:
		md = r.hoverInstruction(t.it)
	case (t.op < 0 || t.text == ".req") && s.Kind == syntax.Directive && (t.text[0] == '.' || !s.Directive.NameFirst):
		md = r.hoverDirective(t.it, s.Directive)
	case t.op < 0 && s.Kind == syntax.Label && s.Number >= 0:
		md = fmt.Sprintf("**%s:** numeric local label — %s", s.Name, r.PlaceText(t.it.Section, t.it.Offset))
	default:
		md = r.hoverWord(t)
	}
	if md == "" {
		return Hover{}, false
	}
	return Hover{t.span, md}, true
}

// PlaceText is where something is: a section and an offset in it.
func (r *View) PlaceText(sec int16, off int64) string {
	s := &r.Sections[sec]
	if !s.Exact {
		return fmt.Sprintf("in %s, at an offset that depends on code of unknown size", s.Name)
	}
	return fmt.Sprintf("%s + 0x%x", s.Name, off)
}

// atText says where something is, in a sentence.
func (r *View) atText(sec int16, off int64) string {
	if s := &r.Sections[sec]; !s.Exact {
		return fmt.Sprintf("at an offset in %s that depends on code of unknown size", s.Name)
	}
	return "at " + r.PlaceText(sec, off)
}

func (r *View) hoverInstruction(it *program.Item) string {
	e := &r.Environments[it.Environment]
	s := it.Stmt
	var b strings.Builder
	if e.Mode == isa.A && len(s.Mnemonic.FormsOf(isa.A)) == 0 {
		switch {
		case it.Size == 0:
			fmt.Fprintf(&b, "**%s** — in A32 code it only states the conditions of the next lines, and generates nothing.", strings.ToUpper(s.Name))
		case it.Flags&program.Refused != 0:
			fmt.Fprintf(&b, "**%s** — A32 has no such instruction.", strings.ToUpper(s.Name))
		default:
			fmt.Fprintf(&b, "**%s** — A32 instruction, %d bytes, %s.\n\nIts operands are not checked.", strings.ToUpper(s.Name), it.Size, r.atText(it.Section, it.Offset))
		}
		return b.String()
	}
	errors := r.errorsIn(it)
	if f := it.Match.Form; f != nil {
		fmt.Fprintf(&b, "**%s** — %s\n\n%s\n\n", f.Row.Name, f.Row.Title, f.Row.Text())
		if len(errors) > 0 {
			b.WriteString("This line has no encoding here.\n\n")
		} else {
			b.WriteString(r.encodingText(it, e))
		}
	} else if it.Flags&program.Refused != 0 || len(errors) > 0 {
		fmt.Fprintf(&b, "**%s** — this line has no encoding here.\n\n", strings.ToUpper(s.Name))
	} else if it.Flags&program.Unchecked != 0 {
		fmt.Fprintf(&b, "**%s** — no 16-bit encoding with these operands; a 32-bit one of T32 is assumed and not checked.\n\n", strings.ToUpper(s.Name))
	}
	if e.Mode == isa.A && it.Match.Form == nil && it.Flags&program.Refused == 0 && len(errors) == 0 {
		fmt.Fprintf(&b, "**%s** — A32 instruction, 4 bytes, %s. Its operands are not checked.\n\n", strings.ToUpper(s.Name), r.atText(it.Section, it.Offset))
	}
	for _, d := range errors {
		fmt.Fprintf(&b, "%s See `%s`.\n\n", d.Message, d.Code)
	}
	if forms := formsText(s.Mnemonic, e); forms != "" {
		b.WriteString("Forms here:\n" + forms)
	}
	return strings.TrimSpace(b.String())
}

// encodingText says what a line comes to: its code, its effects, how long it takes.
func (r *View) encodingText(it *program.Item, e *program.Environment) string {
	row := it.Match.Form.Row
	var b strings.Builder
	w := it.Match.Encode()
	enc := row.Set() + " " + row.Enc
	digits := 4
	if row.Size() > 2 {
		digits = 8
	}
	fmt.Fprintf(&b, "This line: `0x%0*x`, %d bytes, %s, encoding %s\n\n```\n%s\n```\n", digits, w, row.Size(), r.atText(it.Section, it.Offset), enc, row.Layout(w))
	b.WriteString(r.insertedText(it))
	if it.Match.Deferred {
		b.WriteString("The linker fills in what depends on symbols of other files or sections.\n\n")
	}
	ef := it.Match.Effects()
	if ef.Conditional {
		fmt.Fprintf(&b, "On condition %s. ", strings.ToUpper(it.Match.Condition().String()))
	}
	fmt.Fprintf(&b, "Reads %s; writes %s; flags read: %s, set: %s.\n\n", listOrNone(ef.Reads, ef.ReadsMem), listOrNone(ef.Writes, ef.WritesMem), ef.FlagsRead, ef.FlagsWritten)
	b.WriteString(cyclesText(it.Match.Cycles(e.Target, e.Have)))
	b.WriteString(r.otherText(it, e))
	if it.Literal >= 0 && r.Literals[it.Literal].Offset >= 0 {
		l := &r.Literals[it.Literal]
		fmt.Fprintf(&b, "The literal is in the pool %s, %d bytes after PC; %s.\n\n", r.atText(l.Section, l.Offset), l.Offset-((it.Offset+row.State.Ahead())&^3), wording.Plural(l.Users, "load uses it", "loads share it"))
	}
	return b.String()
}

// errorsIn are the errors in a statement, for which the assembler refuses it.
func (r *View) errorsIn(it *program.Item) (list []*finding.Diagnostic) {
	at := r.StmtLoc(it)
	for i := range r.Diags {
		if d := &r.Diags[i]; d.Path == at.Path && d.Severity == finding.Error && d.Span.Start >= at.Span.Start && d.Span.End <= at.Span.End {
			list = append(list, d)
		}
	}
	return list
}

// otherText says what the line would be in the other instruction set.
func (r *View) otherText(it *program.Item, e *program.Environment) string {
	m := &it.Match
	o := m.Other(e.Have, it.Offset)
	set := "A32"
	if m.Form.Row.State == isa.A {
		set = "Thumb"
	}
	if o.Inst.Row == nil {
		if !e.Have.Has(isa.FeatA32) || !e.Have.Has(isa.FeatT16) {
			return "" // there is one state only
		}
		return fmt.Sprintf("In %s: nothing does the same; %s.\n\n", set, o.Why)
	}
	if m.Form.Row.State == isa.A {
		set = o.Inst.Row.Set()
	}
	target := ""
	if n := len(it.Stmt.Ops); n > 0 {
		op := it.Stmt.Ops[n-1]
		target = syntax.WithoutComments(r.LineText(it)[op.Start:op.End])
	}
	s := fmt.Sprintf("In %s: `%s`, %d bytes", set, o.Text(it.Offset, target), o.Size)
	if o.Block {
		s += fmt.Sprintf(", in an IT block on condition %s", strings.ToUpper(o.Cond.String()))
	}
	if !o.SameFlags {
		s += fmt.Sprintf("; flags set: %s", o.Flags)
	}
	return s + ".\n\n"
}

// cyclesText says how long a line takes, as Markdown.
func cyclesText(list []isa.Cycles) string {
	if len(list) == 0 {
		return ""
	}
	var s, notes []string
	for i, c := range list {
		s = append(s, c.Core.Name+" "+c.Count)
		note := c.Core.Name + ": " + c.Note + " (" + c.Source + ")"
		if i > 0 && c.Note == list[i-1].Note {
			note = c.Core.Name + ": the same (" + c.Source + ")"
		}
		notes = append(notes, note)
	}
	return fmt.Sprintf("Cycles: %s. %s.\n\n", strings.Join(s, ", "), strings.Join(notes, ". "))
}

func listOrNone(l isa.RegList, mem bool) string {
	s := ""
	if l != 0 {
		s = strings.Trim(l.String(), "{}")
	}
	if mem {
		if s != "" {
			s += " and "
		}
		s += "memory"
	}
	if s == "" {
		return "nothing"
	}
	return s
}

// formsText lists the forms of a mnemonic that exist in e, as Markdown; other
// spellings of the same only where there is no plain one.
func formsText(m *isa.Mnemonic, e *program.Environment) string {
	if s := formList(m, e, false); s != "" {
		return s
	}
	return formList(m, e, true)
}

func formList(m *isa.Mnemonic, e *program.Environment, aliases bool) string {
	var b strings.Builder
	seen := map[string]bool{}
	state := isa.T
	if e != nil {
		state = e.Mode
	}
	for _, f := range m.FormsOf(state) {
		if f.Alias && !aliases || e != nil && (e.Unified && !f.Unified || !e.Unified && !f.Divided || !e.Have.Has(f.Row.Need|f.Need)) {
			continue
		}
		s := f.String()
		if seen[s] {
			continue
		}
		seen[s] = true
		note := ""
		if f.InIT() {
			note = " in IT blocks"
		}
		if fw := f.SetsFlags(); fw != 0 {
			note = ", sets " + fw.String()
		}
		if lo, hi, step, ok := targetLimits(f); ok {
			note += fmt.Sprintf(", label %d to %d bytes from PC", lo, hi)
			if step == 4 {
				note += ", word-aligned"
			}
		}
		fmt.Fprintf(&b, "- `%s` — %d bytes%s\n", s, f.Row.Size(), note)
	}
	return b.String()
}

// targetLimits is the reach of a form with a label.
func targetLimits(f *isa.Form) (lo, hi, step int64, ok bool) {
	if !strings.HasSuffix(f.String(), "label") {
		return
	}
	lo, hi, step, ok = f.Limits(f.Operands() - 1)
	return lo, hi, step, ok && lo < hi
}

func (r *View) hoverDirective(it *program.Item, d *syntax.DirectiveInfo) string {
	md := fmt.Sprintf("`%s`\n\n%s\n", d.Usage, d.Doc)
	if it.Size > 0 {
		what := "takes"
		if d.Effect == syntax.EffAlignByte || d.Effect == syntax.EffAlignPow || d.Effect == syntax.EffAlignFrom {
			what = "pads"
		}
		md += fmt.Sprintf("\nHere it %s %s %s.\n", what, wording.Plural(int(it.Size), "byte", "bytes"), r.atText(it.Section, it.Offset))
	}
	if it.Flags&program.HasPool != 0 {
		n := 0
		md += "\n| address | word | loads |\n|---|---|---|\n"
		for i := range r.Literals {
			l := &r.Literals[i]
			if l.Item == it.Index && n < 30 {
				n++
				md += fmt.Sprintf("| %s | `%s` | %d |\n", r.PlaceText(l.Section, l.Offset), r.literalText(l), l.Users)
			}
		}
	}
	return strings.TrimSpace(md)
}

func (r *View) literalText(l *program.Literal) string {
	it := &r.Items[l.By]
	o := it.Stmt.Ops[1]
	return strings.TrimSpace(strings.TrimPrefix(syntax.WithoutComments(r.LineText(it)[o.Start:o.End]), "="))
}

func (r *View) hoverWord(t token) string {
	if reg, ok := isa.RegByName(strings.ToLower(t.text)); ok && t.it.Stmt.Kind == syntax.Instruction {
		return hoverReg(t.text, reg)
	}
	if reg := r.LastRegister(t.text).Core; reg != isa.NoReg {
		return hoverReg(t.text, reg)
	}
	if s, ok := r.lookup(t); ok {
		return r.hoverSymbol(s)
	}
	if c := t.text[0]; c >= '0' && c <= '9' || c == '\'' {
		return r.hoverNumber(t)
	}
	if s := t.it.Stmt; s.Kind == syntax.Directive && t.op < 0 {
		return r.hoverDirective(t.it, s.Directive)
	}
	return ""
}

func hoverReg(name string, reg isa.Reg) string {
	kind := "a low register: every T16 instruction can use it"
	if reg > 7 {
		kind = "a high register: in T16 only MOV, ADD, CMP, BX and BLX can use it"
		if reg == isa.SP {
			kind = "in T16 used by PUSH, POP, ADD, SUB, MOV, CMP and word accesses with a constant offset"
		}
		if reg == isa.PC {
			kind = "in T16 read by LDR, ADR, ADD and MOV; written by POP, MOV and ADD"
		}
	}
	title := "**" + name + "**"
	if !strings.EqualFold(name, reg.String()) {
		title += " = " + reg.String()
	}
	return fmt.Sprintf("%s — %s.\n\n%s (AAPCS32).", title, kind, strings.ToUpper(isa.RegRole(reg)[:1])+isa.RegRole(reg)[1:])
}

// lookup finds the symbol that a token names.
func (r *View) lookup(t token) (*program.Symbol, bool) {
	if s := r.columnLocalAt(t); s != nil {
		return s, true
	}
	if n := len(t.text); n > 1 && (t.text[n-1] == 'f' || t.text[n-1] == 'b') && strings.Trim(t.text[:n-1], "0123456789") == "" {
		num := int32(0)
		fmt.Sscanf(t.text[:n-1], "%d", &num)
		list := r.Locals[num]
		k := sort.Search(len(list), func(k int) bool { return list[k].Item > t.it.Index })
		if t.text[n-1] == 'b' {
			k--
		}
		if k >= 0 && k < len(list) {
			return list[k], true
		}
		return nil, false
	}
	s := r.SymbolOf(t.text)
	return s, s != nil
}

func (r *View) hoverSymbol(s *program.Symbol) string {
	switch {
	case r.stands(s.Name) != "":
		return fmt.Sprintf("**%s** = %s\n\nSet %s.", s.Name, r.stands(s.Name), wording.Where(r.Program, s.At.Location, nil))
	case !s.Defined:
		return fmt.Sprintf("**%s** — not defined in this file; the linker must supply it.", s.Name)
	case s.Value.Kind == program.Number:
		kind := "Constant"
		if s.Label {
			kind = "Offset in a record"
		}
		return fmt.Sprintf("**%s** = %s\n\n%s, set %s.", s.Name, numberText(s.Value.N), kind, wording.Where(r.Program, s.At.Location, nil))
	case s.Value.Kind == program.Address:
		al := int64(1)
		for al < 8 && s.Value.N%(al*2) == 0 {
			al *= 2
		}
		kind := "data"
		v := s.Value
		if s.Label || v.Symbol == nil {
			v.Symbol = s // else it names another one's place
		}
		if _, mode, ok := r.CodeLabel(v); ok {
			kind = mode.String() + " code"
			if (s.Function || s.Auto) && mode == isa.T {
				kind += ", marked as a function: bit 0 is set in its address"
			} else if mode == isa.T {
				kind += ", not marked as a function: bit 0 is clear in its address"
			}
		}
		md := fmt.Sprintf("**%s** — %s\n\n%s, aligned to %d bytes, defined %s.", s.Name, r.PlaceText(s.Value.Section, s.Value.N), kind, al, wording.Where(r.Program, s.At.Location, nil))
		if s.Global {
			md += " Global."
		}
		return md
	}
	return fmt.Sprintf("**%s** — set %s; only the linker knows its value.", s.Name, wording.Where(r.Program, s.At.Location, nil))
}

// numberText writes a number in all its readings.
func numberText(v int64) string {
	u := uint64(v)
	bits := 32
	if v > 1<<32-1 || v < -1<<31 {
		bits = 64
	} else {
		u &= 1<<32 - 1
	}
	out := fmt.Sprintf("`%d` = `0x%x` = `0b%b`", v, u, u)
	if bits == 32 && int32(u) < 0 && v >= 0 {
		out += fmt.Sprintf(", signed `%d`", int32(u))
	}
	if v >= 0x20 && v < 0x7f {
		out += fmt.Sprintf(", character `'%c'`", rune(v))
	}
	return out
}

func (r *View) hoverNumber(t token) string {
	f := syntax.ParseAs(".word "+t.text, syntax.Dots)
	st := f.Line(0).Stmts
	if len(st) != 1 || len(st[0].Ops) != 1 || !st[0].Ops[0].Known {
		return ""
	}
	v := st[0].Ops[0].Imm
	md := numberText(v)
	if fm := t.it.Match.Form; fm != nil && t.op >= 0 && t.it.Literal < 0 { // else its address fits
		if lo, hi, step, ok := fm.Limits(t.op); ok {
			md += fmt.Sprintf("\n\nIt fits: `%s` takes %s here.", fm.String(), isa.Limits(lo, hi, step))
		}
	} else if t.it.Flags&program.Refused != 0 {
		for i := range r.Diags {
			d := &r.Diags[i]
			if d.Path == r.Sources[t.file].Path && d.Span.Start <= t.span.Start && t.span.End <= d.Span.End {
				md += "\n\nIt does not fit: " + d.Message
				break
			}
		}
	}
	if it := t.it; it.Literal >= 0 && r.Literals[it.Literal].Offset >= 0 {
		md += fmt.Sprintf("\n\nIts word is in the literal pool %s.", r.atText(it.Section, r.Literals[it.Literal].Offset))
	}
	return md
}

// Definition of the symbol at byte offset off of the root file; for an
// .include, the file.
func (r *View) Definition(off int) []finding.Location { return r.DefinitionIn(r.Path, off) }

// DefinitionIn is Definition in a file of the program.
func (r *View) DefinitionIn(path string, off int) []finding.Location {
	if m := r.useAt(path, off); m != nil {
		if m.Path == "" {
			return nil
		}
		return []finding.Location{{Path: m.Path, Span: finding.Span{Start: m.Start, End: m.End}}}
	}
	t, ok := r.tokenAt(path, off)
	if ok && t.it.Stmt.Kind == syntax.Directive && t.it.Stmt.Directive.Effect == syntax.EffInclude {
		if u := r.Sources[t.it.File].Unit; u != nil {
			// Found, though a guard may keep it from being read again.
			if inc := u.Includes[int(t.it.Line)]; inc != nil && inc.Found {
				return []finding.Location{{Path: inc.Path}}
			}
		}
		for i := range r.Sources {
			if r.Sources[i].From == t.it.Index {
				return []finding.Location{{Path: r.Sources[i].Path}}
			}
		}
		return nil
	}
	if !ok {
		return nil
	}
	if m := r.macroAt(t); m != nil {
		return []finding.Location{m.At.Location}
	}
	if t.it.Stmt.Kind == syntax.Instruction {
		if t.op < 0 {
			return nil
		}
		if _, isReg := isa.RegByName(strings.ToLower(t.text)); isReg {
			return nil
		}
	}
	s, ok := r.lookup(t)
	if !ok || s.At.Path == "" {
		return nil
	}
	return []finding.Location{s.At.Location}
}

// labelKind says what a label is in front of.
func (r *View) labelKind(it *program.Item, y *program.Symbol) (program.SymbolKind, string) {
	if y.Value.Kind == program.Number { // of a record
		return program.SymConstant, "= " + wording.Num(y.Value.N)
	}
	kind, detail := program.SymData, r.PlaceText(it.Section, it.Offset)
	if _, mode, ok := r.CodeLabel(y.Value); ok {
		kind = program.SymCode
		if y.Function {
			kind = program.SymFunction
		}
		detail = mode.String() + " " + detail
	}
	return kind, detail
}

func (r *View) valueText(name string) string {
	s := r.SymbolOf(name)
	if s == nil {
		return ""
	}
	switch s.Value.Kind {
	case program.Number:
		return "= " + wording.Num(s.Value.N)
	case program.Address:
		return "= " + r.PlaceText(s.Value.Section, s.Value.N)
	}
	return ""
}
