package analysis

import (
	"fmt"
	"sort"
	"strings"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Includes lists the paths of the files that were read, without the root.
func (r *view) Includes() []string {
	var out []string
	seen := map[string]bool{}
	for _, s := range r.sources[1:] {
		if s.exp == nil && !seen[s.path] {
			seen[s.path] = true
			out = append(out, s.path)
		}
	}
	return out
}

// view describes an assembled program to people.
type view struct {
	*evaluator
	diags []Diagnostic
}

// Region is a stretch of a file in one instruction set.
type Region struct {
	Span    Span
	State   isa.State // what the assembler emits
	Unified bool      // the syntax in force
	Target  string    // architecture or core
}

// Regions divides the root file by mode, syntax and target.
func (r *view) Regions() []Region {
	f := r.file
	e := r.envs[0]
	out := []Region{{Span{0, len(f.Text())}, e.mode, e.unified, e.target}}
	last := int16(0)
	for i := range r.items {
		it := &r.items[i]
		if it.file != 0 || it.env == last {
			continue
		}
		last = it.env
		at := r.span(0, int(it.line), it.stmt.Start, it.stmt.NameEnd).Start
		e := r.envs[it.env]
		out[len(out)-1].Span.End = at
		out = append(out, Region{Span{at, len(f.Text())}, e.mode, e.unified, e.target})
	}
	return out
}

// Inactive lists the stretches that conditional directives, or those of the
// preprocessor, leave out; of a file that is included several times what is
// left out each time.
func (r *view) Inactive() []Location {
	spans := make([][]Span, len(r.sources)) // by source
	for _, x := range r.inactive {
		spans[x.file] = append(spans[x.file], x.span)
	}
	byPath := map[string][]Span{}
	var paths []string
	for i := range r.sources {
		s := &r.sources[i]
		if s.exp != nil {
			continue
		}
		sort.Slice(spans[i], func(a, b int) bool { return spans[i][a].Start < spans[i][b].Start })
		before, again := byPath[s.path]
		if !again {
			paths = append(paths, s.path)
			byPath[s.path] = spans[i]
			continue
		}
		byPath[s.path] = intersect(before, spans[i])
	}
	var out []Location
	for _, path := range paths {
		for _, s := range byPath[path] {
			out = append(out, Location{Path: path, Span: s})
		}
	}
	return out
}

// intersect lists what stands in a span of both lists, which are sorted.
func intersect(a, b []Span) (out []Span) {
	for len(a) > 0 && len(b) > 0 {
		s := Span{max(a[0].Start, b[0].Start), min(a[0].End, b[0].End)}
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
	it   *item
	op   int // operand, -1 in the name
	text string
	span Span
	// name: what stands there is the statement's name, and no argument.
	name bool
}

func identByte(c byte) bool {
	return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '_' || c == '.' || c == '$' || c >= 0x80
}

// fileOf is the first source with a file's text, -1 if the program does not
// have it.
func (r *Program) fileOf(path string) int32 {
	for i := range r.sources {
		if s := &r.sources[i]; s.exp == nil && s.path == path {
			return int32(i)
		}
	}
	return -1
}

// tokenAt finds the word at byte offset off of the file at path, where it is
// included first.
func (r *view) tokenAt(path string, off int) (token, bool) {
	file := r.fileOf(path)
	if file < 0 {
		return token{}, false
	}
	f := r.sources[file].file
	if off < 0 || off > len(f.Text()) {
		return token{}, false
	}
	n, at := r.place(file, off)
	word, span, wordLine, wordAt, argument := r.argumentAt(file, off)
	if argument {
		n, at = wordLine, wordAt
	}
	text := r.lineIs(file, n)
	col := int(at)
	it := r.itemAtColumn(file, n, at)
	if it == nil {
		it = r.repeatedAt(file, off)
	}
	if it == nil || it.stmt.Dir != nil && it.stmt.Dir.Effect == syntax.EffJoin {
		if j, line := r.joinedAt(file, off); j != nil {
			it, n, col, text = j, line, off-f.LineStart(line), r.lineText(j)
		}
	}
	if it == nil || col > len(text) {
		return token{}, false
	}
	s := it.stmt
	t := token{file: file, it: it, op: -1}
	if int(s.Start) <= col && col <= int(s.NameEnd) && s.NameEnd > s.Start {
		t.text = s.Name
		t.span = r.span(file, n, s.Start, s.NameEnd)
		if t.name = !argument || word != s.Name; !t.name {
			t.span = span
		}
		return t, true
	}
	a, b := col, col
	for a > int(s.NameEnd) && identByte(text[a-1]) {
		a--
	}
	for b < len(text) && identByte(text[b]) {
		b++
	}
	if a > 0 && text[a-1] == '\'' && b < len(text) && text[b] == '\'' {
		a, b = a-1, b+1
	}
	if a == b {
		return token{}, false
	}
	t.text, t.span = text[a:b], r.span(file, n, int32(a), int32(b))
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

// HoverIn describes what stands at byte offset off of a file of the program,
// named by its path. A file that is included more than once is described as
// it is the first time; so it is for the other methods with a path.
func (r *view) HoverIn(path string, off int) (Hover, bool) {
	if h, ok := r.hoverUse(path, off); ok {
		return h, true
	}
	t, ok := r.tokenAt(path, off)
	if !ok {
		return r.hoverHash(path, off)
	}
	s := t.it.stmt
	md := ""
	m := r.macroAt(t)
	switch {
	case m != nil:
		md = r.hoverMacro(m, t.it)
	case t.op < 0 && s.Kind == syntax.Instruction:
		md = r.hoverInstruction(t.it)
	case (t.op < 0 || t.text == ".req") && s.Kind == syntax.Directive && (t.text[0] == '.' || !s.Dir.NameFirst):
		md = r.hoverDirective(t.it, s.Dir)
	case t.op < 0 && s.Kind == syntax.Label && s.Num >= 0:
		md = fmt.Sprintf("**%s:** numeric local label — %s", s.Name, r.placeText(t.it.sec, t.it.off))
	default:
		md = r.hoverWord(t)
	}
	if md == "" {
		return Hover{}, false
	}
	return Hover{t.span, md}, true
}

func (r *view) placeText(sec int16, off int64) string {
	s := &r.secs[sec]
	if !s.exact {
		return fmt.Sprintf("in %s, at an offset that hangs on code of unknown size", s.name)
	}
	return fmt.Sprintf("%s + 0x%x", s.name, off)
}

func (r *view) hoverInstruction(it *item) string {
	e := &r.envs[it.env]
	s := it.stmt
	var b strings.Builder
	if e.mode == isa.A && len(s.Mnem.FormsOf(isa.A)) == 0 {
		switch {
		case it.size == 0:
			fmt.Fprintf(&b, "**%s** — in A32 code it says which conditions the next lines have, and assembles to nothing.", strings.ToUpper(s.Name))
		case it.flags&fRefused != 0:
			fmt.Fprintf(&b, "**%s** — A32 has no such instruction.", strings.ToUpper(s.Name))
		default:
			fmt.Fprintf(&b, "**%s** — A32 instruction, %d bytes, at %s.\n\nThe operands of this one are not checked.", strings.ToUpper(s.Name), it.size, r.placeText(it.sec, it.off))
		}
		return b.String()
	}
	if f := it.match.Form; f != nil {
		row := f.Row
		fmt.Fprintf(&b, "**%s** — %s\n\n%s\n\n", row.Name, row.Title, row.Doc)
		w := it.match.Encode()
		enc := row.Set() + " " + row.Enc
		digits := 4
		if row.Size() > 2 {
			digits = 8
		}
		fmt.Fprintf(&b, "This line: `0x%0*x`, %d bytes, at %s, encoding %s\n\n```\n%s\n```\n", digits, w, row.Size(), r.placeText(it.sec, it.off), enc, row.Layout(w))
		b.WriteString(r.insertedText(it))
		if it.match.Deferred {
			b.WriteString("The linker fills in what hangs on symbols of other files or sections.\n\n")
		}
		ef := it.match.Effects()
		if ef.Conditional {
			fmt.Fprintf(&b, "On condition %s. ", strings.ToUpper(it.match.Condition().String()))
		}
		fmt.Fprintf(&b, "Reads %s; writes %s; flags read: %s, set: %s.\n\n", listOrNone(ef.Reads, ef.ReadsMem), listOrNone(ef.Writes, ef.WritesMem), ef.FlagsRead, ef.FlagsWritten)
		b.WriteString(cyclesText(it.match.Cycles(e.target, e.have)))
		b.WriteString(r.otherText(it, e))
		ahead := int64(4)
		if row.State == isa.A {
			ahead = 8
		}
		if it.lit >= 0 && r.lits[it.lit].off >= 0 {
			l := &r.lits[it.lit]
			fmt.Fprintf(&b, "The literal stands in the pool at %s, %d bytes ahead of PC; %s.\n\n", r.placeText(l.sec, l.off), l.off-((it.off+ahead)&^3), plural(l.users, "load uses it", "loads share it"))
		}
	} else if it.flags&fRefused != 0 {
		fmt.Fprintf(&b, "**%s** — this line has no encoding here.\n\n", strings.ToUpper(s.Name))
		at := r.stmtLoc(it)
		for i := range r.diags {
			if d := &r.diags[i]; d.Path == at.Path && d.Severity == Error && d.Span.Start >= at.Span.Start && d.Span.End <= at.Span.End {
				fmt.Fprintf(&b, "%s See `%s`.\n\n", d.Message, d.Code)
			}
		}
	} else if it.flags&fUnchecked != 0 {
		fmt.Fprintf(&b, "**%s** — no 16-bit encoding with these operands; a 32-bit one of T32 is assumed and not checked.\n\n", strings.ToUpper(s.Name))
	}
	if e.mode == isa.A && it.match.Form == nil && it.flags&fRefused == 0 {
		fmt.Fprintf(&b, "**%s** — A32 instruction, 4 bytes, at %s. The operands of this one are not checked.\n\n", strings.ToUpper(s.Name), r.placeText(it.sec, it.off))
	}
	if forms := formsText(s.Mnem, e); forms != "" {
		b.WriteString("Forms here:\n" + forms)
	}
	return strings.TrimSpace(b.String())
}

// otherText says what the line would be in the other instruction set.
func (r *view) otherText(it *item, e *env) string {
	m := &it.match
	o := m.Other(e.have, it.off)
	set := "A32"
	if m.Form.Row.State == isa.A {
		set = "the compact state"
	}
	if o.Inst.Row == nil {
		if !e.have.Has(isa.FeatA32) || !e.have.Has(isa.FeatT16) {
			return "" // there is one state alone
		}
		return fmt.Sprintf("In %s: nothing that does the same; %s.\n\n", set, o.Why)
	}
	if m.Form.Row.State == isa.A {
		set = o.Inst.Row.Set()
	}
	target := ""
	if n := len(it.stmt.Ops); n > 0 {
		op := it.stmt.Ops[n-1]
		target = r.lineText(it)[op.Start:op.End]
	}
	s := fmt.Sprintf("In %s: `%s`, %d bytes", set, o.Text(it.off, target), o.Size)
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

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
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
func formsText(m *isa.Mnemonic, e *env) string {
	if s := formList(m, e, false); s != "" {
		return s
	}
	return formList(m, e, true)
}

func formList(m *isa.Mnemonic, e *env, aliases bool) string {
	var b strings.Builder
	seen := map[string]bool{}
	state := isa.T
	if e != nil {
		state = e.mode
	}
	for _, f := range m.FormsOf(state) {
		if f.Alias && !aliases || e != nil && (e.unified && !f.Unified || !e.unified && !f.Divided || !e.have.Has(f.Row.Need|f.Need)) {
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

func (r *view) hoverDirective(it *item, d *syntax.DirectiveInfo) string {
	md := fmt.Sprintf("`%s`\n\n%s\n", d.Usage, d.Doc)
	if it.size > 0 {
		what := "takes"
		if d.Effect == syntax.EffAlignByte || d.Effect == syntax.EffAlignPow {
			what = "pads"
		}
		md += fmt.Sprintf("\nHere it %s %d bytes at %s.\n", what, it.size, r.placeText(it.sec, it.off))
	}
	if it.flags&fPool != 0 {
		n := 0
		md += "\n| address | word | loads |\n|---|---|---|\n"
		for i := range r.lits {
			l := &r.lits[i]
			if l.item == it.id && n < 30 {
				n++
				md += fmt.Sprintf("| %s | `%s` | %d |\n", r.placeText(l.sec, l.off), r.literalText(l), l.users)
			}
		}
	}
	return strings.TrimSpace(md)
}

func (r *view) literalText(l *literal) string {
	it := &r.items[l.by]
	o := it.stmt.Ops[1]
	return strings.TrimSpace(strings.TrimPrefix(r.lineText(it)[o.Start:o.End], "="))
}

func (r *view) hoverWord(t token) string {
	if reg, ok := isa.RegByName(strings.ToLower(t.text)); ok && t.it.stmt.Kind == syntax.Instruction {
		return hoverReg(t.text, reg)
	}
	if reg, ok := r.lastAlias(t.text); ok {
		return hoverReg(t.text, reg)
	}
	if s, ok := r.lookup(t); ok {
		return r.hoverSymbol(s)
	}
	if c := t.text[0]; c >= '0' && c <= '9' || c == '\'' {
		return r.hoverNumber(t)
	}
	if s := t.it.stmt; s.Kind == syntax.Directive && t.op < 0 {
		return r.hoverDirective(t.it, s.Dir)
	}
	return ""
}

func hoverReg(name string, reg isa.Reg) string {
	kind := "a low register: every T16 instruction reaches it"
	if reg > 7 {
		kind = "a high register: in T16 only MOV, ADD, CMP and BX, BLX reach it"
		if reg == isa.SP {
			kind = "in T16 reached by PUSH, POP, ADD, SUB, MOV, CMP and word accesses with a constant offset"
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
func (r *view) lookup(t token) (*symbol, bool) {
	if s := r.columnLocalAt(t); s != nil {
		return s, true
	}
	if n := len(t.text); n > 1 && (t.text[n-1] == 'f' || t.text[n-1] == 'b') && strings.Trim(t.text[:n-1], "0123456789") == "" {
		num := int32(0)
		fmt.Sscanf(t.text[:n-1], "%d", &num)
		list := r.locals[num]
		k := sort.Search(len(list), func(k int) bool { return list[k].item > t.it.id })
		if t.text[n-1] == 'b' {
			k--
		}
		if k >= 0 && k < len(list) {
			return list[k], true
		}
		return nil, false
	}
	s := r.symbolOf(t.text)
	return s, s != nil
}

func (r *view) hoverSymbol(s *symbol) string {
	switch {
	case r.stands(s.name) != "":
		return fmt.Sprintf("**%s** = %s\n\nSet %s.", s.name, r.stands(s.name), r.where(s.at.Location, nil))
	case !s.defined:
		return fmt.Sprintf("**%s** — not defined in this file; the linker has to supply it.", s.name)
	case s.val.kind == vAbs:
		kind := "Constant"
		if s.label {
			kind = "Offset in a record"
		}
		return fmt.Sprintf("**%s** = %s\n\n%s, set %s.", s.name, numberText(s.val.n), kind, r.where(s.at.Location, nil))
	case s.val.kind == vRel:
		al := int64(1)
		for al < 8 && s.val.n%(al*2) == 0 {
			al *= 2
		}
		kind := "data"
		v := s.val
		v.sym = s
		if _, mode, ok := r.codeLabel(v); ok {
			kind = mode.String() + " code"
			if (s.fn || s.auto) && mode == isa.T {
				kind += ", marked as a function: bit 0 is set in its address"
			} else if mode == isa.T {
				kind += ", not marked as a function: bit 0 is clear in its address"
			}
		}
		md := fmt.Sprintf("**%s** — %s\n\n%s, aligned to %d bytes, defined %s.", s.name, r.placeText(s.val.sec, s.val.n), kind, al, r.where(s.at.Location, nil))
		if s.global {
			md += " Global."
		}
		return md
	}
	return fmt.Sprintf("**%s** — set %s; its value is known to the linker alone.", s.name, r.where(s.at.Location, nil))
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

func (r *view) hoverNumber(t token) string {
	f := syntax.ParseAs(".word "+t.text, syntax.Dots)
	st := f.Line(0).Stmts
	if len(st) != 1 || len(st[0].Ops) != 1 || !st[0].Ops[0].Known {
		return ""
	}
	v := st[0].Ops[0].Imm
	md := numberText(v)
	if fm := t.it.match.Form; fm != nil && t.op >= 0 && t.it.lit < 0 { // else its address fits
		if lo, hi, step, ok := fm.Limits(t.op); ok {
			md += fmt.Sprintf("\n\nIt fits: `%s` takes %s here.", fm.String(), isa.Limits(lo, hi, step))
		}
	} else if t.it.flags&fRefused != 0 {
		for i := range r.diags {
			d := &r.diags[i]
			if d.Path == r.sources[t.file].path && d.Span.Start <= t.span.Start && t.span.End <= d.Span.End {
				md += "\n\nIt does not fit: " + d.Message
				break
			}
		}
	}
	if it := t.it; it.lit >= 0 && r.lits[it.lit].off >= 0 {
		md += fmt.Sprintf("\n\nIts word stands in the literal pool at %s.", r.placeText(it.sec, r.lits[it.lit].off))
	}
	return md
}

// Definition of the symbol at byte offset off of the root file; for an
// .include, the file.
func (r *view) Definition(off int) []Location { return r.DefinitionIn(r.path, off) }

// DefinitionIn is Definition in a file of the program.
func (r *view) DefinitionIn(path string, off int) []Location {
	if m := r.useAt(path, off); m != nil {
		if m.Path == "" {
			return nil
		}
		return []Location{{Path: m.Path, Span: Span{m.Start, m.End}}}
	}
	t, ok := r.tokenAt(path, off)
	if ok && t.it.stmt.Kind == syntax.Directive && t.it.stmt.Dir.Effect == syntax.EffInclude {
		if u := r.sources[t.it.file].unit; u != nil {
			// Found, though a guard may keep it from being read again.
			if inc := u.Includes[int(t.it.line)]; inc != nil && inc.Found {
				return []Location{{Path: inc.Path}}
			}
		}
		for i := range r.sources {
			if r.sources[i].from == t.it.id {
				return []Location{{Path: r.sources[i].path}}
			}
		}
		return nil
	}
	if !ok {
		return nil
	}
	if m := r.macroAt(t); m != nil {
		return []Location{m.at.Location}
	}
	if t.it.stmt.Kind == syntax.Instruction {
		if t.op < 0 {
			return nil
		}
		if _, isReg := isa.RegByName(strings.ToLower(t.text)); isReg {
			return nil
		}
	}
	s, ok := r.lookup(t)
	if !ok || s.at.Path == "" {
		return nil
	}
	return []Location{s.at.Location}
}

// SymbolsIn is the outline of a file of the program.
func (r *view) SymbolsIn(path string) []DocSymbol {
	file := r.fileOf(path)
	if file < 0 {
		return nil
	}
	f := r.sources[file].file
	var out []DocSymbol
	if u := r.sources[file].unit; u != nil {
		f = u.Raw
	}
	lineEnd := func(n int) int { return f.LineStart(n) + len(f.Line(n).Text) }
	open := -1 // index in out of the label that owns what follows
	closeAt := func(end int) {
		if open >= 0 {
			out[open].Full.End = max(end, out[open].NameSpan.End)
			open = -1
		}
	}
	prevEnd, nmacro := 0, 0
	for i := range r.items {
		it := &r.items[i]
		if it.file != file {
			// A label that a macro makes, or that is repeated.
			s := it.stmt
			if s.Kind != syntax.Label || s.Num >= 0 || strings.HasPrefix(s.Name, ".L") || r.sources[it.file].exp == nil {
				continue
			}
			if y := r.symbolOf(s.Name); y != nil && y.item == it.id && y.at.Path == path {
				closeAt(prevEnd)
				kind, detail := r.labelKind(it, y)
				out = append(out, DocSymbol{Name: s.Name, Detail: detail, Kind: kind, Full: y.at.Span, NameSpan: y.at.Span})
				open = len(out) - 1
			}
			continue
		}
		s := it.stmt
		name := r.span(file, int(it.line), s.Start, s.NameEnd)
		full := Span{name.Start, r.span(file, int(it.line), s.Start, s.End).End}
		add := func(n string, kind SymbolKind, detail string) {
			out = append(out, DocSymbol{Name: n, Detail: detail, Kind: kind, Full: full, NameSpan: name})
		}
		switch {
		case s.Kind == syntax.Label && s.Num < 0:
			closeAt(prevEnd)
			y := r.symbolOf(s.Name)
			if y == nil || y.item != it.id {
				break
			}
			kind, detail := r.labelKind(it, y)
			add(s.Name, kind, detail)
			if r.changed(it) {
				out[len(out)-1].NameSpan = y.at.Span
			}
			open = len(out) - 1
		case s.Kind == syntax.Assign:
			add(s.Name, SymConstant, r.valueText(s.Name))
		case s.Kind == syntax.Directive:
			arg := func() (string, bool) {
				if len(s.Ops) == 0 || s.Ops[0].Word == "" {
					return "", false
				}
				name = r.span(file, int(it.line), s.Ops[0].Start, s.Ops[0].End)
				return s.Ops[0].Word, true
			}
			switch s.Dir.Effect {
			case syntax.EffSet, syntax.EffThumbSet:
				if n, ok := arg(); ok {
					add(n, SymConstant, r.valueText(n))
				}
			case syntax.EffComm:
				text := r.lineText(it)[:s.End]
				n, _, _ := strings.Cut(strings.TrimLeft(text[s.NameEnd:], " \t"), ",")
				n = strings.TrimSpace(n)
				if y := r.symbolOf(n); y != nil {
					at := s.NameEnd + int32(strings.Index(text[s.NameEnd:], n))
					name = r.span(file, int(it.line), at, at+int32(len(n)))
					detail := "common"
					if y.val.kind == vRel {
						detail = r.placeText(y.val.sec, y.val.n)
					}
					add(n, SymData, detail)
				}
			case syntax.EffReq, syntax.EffWord, syntax.EffVec, syntax.EffList:
				add(s.Name, SymRegister, r.stands(s.Name))
			case syntax.EffMacro:
				for len(r.macros) > nmacro && r.macros[nmacro].item < it.id {
					nmacro++
				}
				if len(r.macros) > nmacro && r.macros[nmacro].item == it.id {
					m := r.macros[nmacro]
					name = m.at.Span
					full.End = lineEnd(int(m.end))
					add(m.name, SymMacro, "macro, called "+plural(len(m.calls), "time", "times"))
				}
			case syntax.EffField:
				if y := r.symbolOf(s.Name); y != nil && y.item == it.id {
					add(s.Name, SymConstant, r.valueText(s.Name))
				}
			case syntax.EffSection, syntax.EffPush, syntax.EffArea:
				closeAt(prevEnd)
				add(r.secs[it.sec].name, SymSection, "section")
			}
		}
		prevEnd = lineEnd(int(it.line))
	}
	closeAt(prevEnd)
	return out
}

// labelKind says what a label stands in front of.
func (r *view) labelKind(it *item, y *symbol) (SymbolKind, string) {
	if y.val.kind == vAbs { // of a record
		return SymConstant, "= " + num(y.val.n)
	}
	kind, detail := SymData, r.placeText(it.sec, it.off)
	if _, mode, ok := r.codeLabel(y.val); ok {
		kind = SymCode
		if y.fn {
			kind = SymFunction
		}
		detail = mode.String() + " " + detail
	}
	return kind, detail
}

func (r *view) valueText(name string) string {
	s := r.symbolOf(name)
	if s == nil {
		return ""
	}
	switch s.val.kind {
	case vAbs:
		return "= " + num(s.val.n)
	case vRel:
		return "= " + r.placeText(s.val.sec, s.val.n)
	}
	return ""
}
