package describe

import (
	"fmt"
	"slices"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// A hover fits into the small window of an editor: the name and the meaning first, then what
// this line comes to, then what else there is, and sources of figures last.

// HoverIn describes what is at byte offset off of a file of the program,
// named by its path. A file that is included more than once is described as
// it is the first time; so it is for the other methods with a path.
func (r *View) HoverIn(path string, off int) (Hover, bool) {
	if h, ok := r.hoverUse(path, off); ok {
		return h, true
	}
	t, ok := r.tokenAt(path, off)
	if !ok {
		if h, ok := r.hoverOperand(path, off); ok {
			return h, true
		}
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
		md = r.hoverArgument(&t)
	case t.op < 0 && s.Kind == syntax.Label && s.Number >= 0:
		md = fmt.Sprintf("**%s:** numeric local label — %s", s.Name, r.PlaceText(t.it.Section, t.it.Offset)) + r.aboutItem(t.it) + r.partText(t.it, false)
	default:
		md = r.hoverWord(&t)
	}
	if md == "" {
		return Hover{}, false
	}
	return Hover{t.span, md}, true
}

// hoverInstruction describes the instruction of a line and what it comes to.
func (r *View) hoverInstruction(it *program.Item) string {
	e := &r.Environments[it.Environment]
	s := it.Stmt
	name := strings.ToUpper(s.Name)
	refused := it.Flags&program.Refused != 0 || r.hasErrors(it)
	if e.Mode == isa.A && len(s.Mnemonic.FormsOf(isa.A)) == 0 {
		switch {
		case it.Size == 0:
			return "**" + name + "** — in A32 code it only states the conditions of the next lines, and generates nothing."
		case refused:
			return "**" + name + "** — A32 has no such instruction."
		}
		return fmt.Sprintf("**%s** — A32 instruction, %d bytes, %s.\n\nIts operands are not checked.", name, it.Size, r.atText(it.Section, it.Offset))
	}
	var out []string // paragraphs
	row := (*isa.Row)(nil)
	if f := it.Match.Form; f != nil {
		row = f.Row
	} else if refused {
		if f := r.likelyForm(it, e); f != nil {
			row = f.Row
		}
	}
	switch {
	case row != nil:
		out = append(out, fmt.Sprintf("**%s** — %s  \n%s", row.Name, row.Title, row.Text()))
	case it.Flags&program.Unchecked != 0:
		out = append(out, fmt.Sprintf("**%s** — no 16-bit encoding with these operands; a 32-bit one of T32 is assumed and not checked.", name))
	case e.Mode == isa.A && !refused:
		out = append(out, fmt.Sprintf("**%s** — A32 instruction, 4 bytes, %s. Its operands are not checked.", name, r.atText(it.Section, it.Offset)))
	default:
		out = append(out, "**"+name+"**")
	}
	var sources string
	if refused {
		out = append(out, "This line has no encoding here.") // the finding says why, beside the hover
	} else if it.Match.Form != nil {
		out = append(out, r.encodingText(it, e))
		_, sources = cyclesText(it.Match.Cycles(e.Target, e.Have))
	}
	if forms := formsText(s.Mnemonic, e, it.Match.Form, len(s.Ops)); forms != "" {
		out = append(out, forms)
	}
	if sources != "" {
		out = append(out, sources)
	}
	return strings.Join(out, "\n\n")
}

// likelyForm is the form that a refused line is nearest to; nil where nothing is.
func (r *View) likelyForm(it *program.Item, e *program.Environment) *isa.Form {
	r.Operands(it, true)
	q := r.Query(it, e)
	near, _ := it.Stmt.Mnemonic.Nearest(&q, r.Ops)
	return near.Form
}

// encodingText says what a line comes to: its code and bytes, its effects, how long it takes.
func (r *View) encodingText(it *program.Item, e *program.Environment) string {
	row := it.Match.Form.Row
	w := it.Match.Encode()
	var lines []string
	line := func(format string, args ...any) { lines = append(lines, fmt.Sprintf(format, args...)) }
	digits := 4
	if row.Size() > 2 {
		digits = 8
	}
	line("`0x%0*x`, %d bytes `%s`, %s encoding %s, %s", digits, w, row.Size(), bytesText(row, w), row.Set(), row.Enc, r.atText(it.Section, it.Offset))
	line("`%s`", row.Layout(w))
	if second, ok := it.Match.Second(); ok {
		line("Then `0x%08x`: it is two instructions.", second)
	}
	if it.Match.Deferred() {
		line("The linker fills in what depends on symbols of other files or sections.")
	}
	if s := r.insertedText(it); s != "" {
		lines = append(lines, s)
	}
	if c, ok := conditionOf(&it.Match); ok {
		line("On condition %s.", conditionText(c))
	}
	if s := r.effectsText(it); s != "" {
		lines = append(lines, s)
	}
	if s := r.stackText(it); s != "" {
		lines = append(lines, s)
	}
	if l := it.Literal; l >= 0 && r.Literals[l].Offset >= 0 {
		lines = append(lines, r.poolText(it))
	}
	if s, _ := cyclesText(it.Match.Cycles(e.Target, e.Have)); s != "" {
		lines = append(lines, s)
	}
	if s := r.otherText(it, e); s != "" {
		lines = append(lines, s)
	}
	return strings.Join(lines, "  \n")
}

// conditionOf is the condition that a bound statement depends on: in its name, in its IT
// block, or in a branch of Thumb state.
func conditionOf(m *isa.Match) (isa.Cond, bool) {
	if c := m.Condition(); c < isa.AL {
		return c, true
	}
	if row := m.Form.Row; row.State == isa.T && row.Flow == isa.FlowBranch && row.Has("c") {
		return isa.Cond(m.Values().Get("c")), true
	}
	return isa.AL, false
}

// effectsText says what a line reads and changes; empty where that is nothing but PC.
func (r *View) effectsText(it *program.Item) string {
	m := &it.Match
	ef := m.Effects()
	reads, writes := registersText(ef.Reads), registersText(ef.Writes)
	floats := m.Floats()
	switch {
	case m.Form.Row.Scalar():
		reads, writes = append(quoted(floats.ReadNames), reads...), append(quoted(floats.WriteNames), writes...)
	case m.Form.Row.Vector():
		in, out := r.vectorEffects(it)
		reads, writes = append(in, reads...), append(out, writes...)
	}
	if ef.ReadsMem {
		reads = append(reads, "memory")
	}
	if ef.WritesMem {
		writes = append(writes, "memory")
	}
	reads, writes = withParts(reads, floats.PartsRead), withParts(writes, writtenParts(&floats))
	if ef.FlagsRead != 0 {
		reads = append(reads, "flags "+ef.FlagsRead.String())
	}
	var parts []string
	if len(reads) > 0 {
		parts = append(parts, "reads "+joined(reads))
	}
	if len(writes) > 0 {
		parts = append(parts, "writes "+joined(writes))
	}
	switch {
	case ef.FlagsWritten != 0 && m.RestoresStatus():
		parts = append(parts, "takes the whole CPSR from SPSR: flags, mode and instruction set")
	case ef.FlagsWritten != 0:
		parts = append(parts, "sets flags "+ef.FlagsWritten.String())
	}
	if writtenParts(&floats) != floats.PartsWritten {
		parts = append(parts, "may set "+isa.FloatExceptions.String())
	}
	if len(parts) == 0 {
		return ""
	}
	s := strings.Join(parts, "; ") + "."
	return strings.ToUpper(s[:1]) + s[1:]
}

// quoted has the names as code.
func quoted(names []string) (out []string) {
	for _, n := range names {
		out = append(out, "`"+n+"`")
	}
	return out
}

// writtenParts are the parts of FPSCR that an instruction gives another value; exceptions
// that it may add to those that are there are not among them.
func writtenParts(e *isa.FloatEffects) isa.FloatParts {
	if e.PartsWritten&isa.FloatModes != 0 { // all of it
		return e.PartsWritten
	}
	return e.PartsWritten &^ isa.FloatExceptions
}

func withParts(list []string, p isa.FloatParts) []string {
	if s := p.String(); s != "" {
		list = append(list, s)
	}
	return list
}

func registersText(l isa.RegList) []string {
	if l == 0 {
		return nil
	}
	return []string{strings.Trim(l.String(), "{}")}
}

func joined(list []string) string {
	if n := len(list); n > 1 {
		return strings.Join(list[:n-1], ", ") + " and " + list[n-1]
	}
	return list[0]
}

// poolText says where the word of a literal load is.
func (r *View) poolText(it *program.Item) string {
	l := &r.Literals[it.Literal]
	s := "Its word is in the literal pool " + r.atText(l.Section, l.Offset)
	if r.Sections[l.Section].Exact {
		ahead := r.Environments[it.Environment].Mode.Ahead()
		s += fmt.Sprintf(", %s from PC", bytesAway(l.Offset-(it.Offset+ahead)&^3))
	}
	if l.Users > 1 {
		s += fmt.Sprintf("; %d loads share it", l.Users)
	}
	return s + "."
}

// bytesAway is a distance with its direction.
func bytesAway(n int64) string {
	switch {
	case n == 1 || n == -1:
		return fmt.Sprintf("%+d byte", n)
	case n == 0:
		return "0 bytes"
	}
	return fmt.Sprintf("%+d bytes", n)
}

// hasErrors says whether the assembler refuses a statement.
func (r *View) hasErrors(it *program.Item) bool {
	at := r.StmtLoc(it)
	for i := range r.Diags {
		if d := &r.Diags[i]; d.Path == at.Path && d.Severity == finding.Error && d.Span.Start >= at.Span.Start && d.Span.End <= at.Span.End {
			return true
		}
	}
	return false
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
		if !e.Have.Has(isa.FeatA32) || !e.Have.Has(isa.FeatT16) || m.Form.Row.Vector() {
			return "" // there is one state only; or a row that is not compared with the other
		}
		return fmt.Sprintf("In %s: nothing does the same; %s.", set, o.Why)
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
	return s + "."
}

// cyclesText says how long a line takes, and as the last words of a hover under which
// conditions and where that is from. What several families have in common is said once.
func cyclesText(list []isa.Cycles) (figures, sources string) {
	if len(list) == 0 {
		return "", ""
	}
	var counts, notes []string
	for i, c := range list {
		counts = append(counts, c.Core.Name+" "+c.Count)
		var names, from []string
		for k, o := range list {
			if o.Note == c.Note && k < i {
				names = nil // said already
				break
			}
			if o.Note == c.Note {
				names, from = append(names, o.Core.Name), append(from, o.Source)
			}
		}
		if len(names) > 0 {
			notes = append(notes, fmt.Sprintf("%s: %s (%s)", strings.Join(names, ", "), c.Note, strings.Join(slices.Compact(from), "; ")))
		}
	}
	return "Cycles: " + strings.Join(counts, "; ") + ".", "*Cycles — " + strings.Join(notes, ". ") + ".*"
}

// maxForms bounds the lines about forms in a hover; explain lists all.
const maxForms = 4

// formsText lists the forms of a mnemonic that exist in e, as Markdown: that of the line
// first, then those with as many operands. Other spellings of the same are there only where
// there is no plain one.
func formsText(m *isa.Mnemonic, e *program.Environment, used *isa.Form, operands int) string {
	list := formLines(m, e, used, operands, false)
	if len(list) == 0 {
		list = formLines(m, e, used, operands, true)
	}
	if len(list) == 0 {
		return ""
	}
	more := ""
	if n := len(list) - (maxForms - 1); n > 1 {
		list = list[:maxForms-1]
		more = fmt.Sprintf("\n- and %d more: `narrowgauge explain %s`", n, m.Name)
	}
	return "Forms here:\n" + strings.Join(list, "\n") + more
}

// exists says whether a form can be written in an environment.
func exists(f *isa.Form, e *program.Environment) bool {
	if e.Unified && !f.Unified || !e.Unified && !f.Divided {
		return false
	}
	return e.Have.Has(f.Row.Need|f.Need) && e.Have&(f.Row.Lack|f.Lack) == 0
}

func formLines(m *isa.Mnemonic, e *program.Environment, used *isa.Form, operands int, aliases bool) []string {
	var lines [3][]string            // that of the line, alike, others
	widest := map[string]*isa.Form{} // of several encodings with one spelling
	for _, f := range m.FormsOf(e.Mode) {
		if f.Alias && !aliases && f != used && (f.Rare || !f.TakesList()) || !exists(f, e) {
			continue
		}
		s := f.String()
		if w := widest[s]; w == nil || farther(f, w) {
			widest[s] = f
		}
	}
	for _, f := range m.FormsOf(e.Mode) {
		s := f.String()
		if widest[s] != f {
			continue
		}
		note := ""
		if f.InIT() {
			note = " in IT blocks"
		}
		if fw := f.SetsFlags(); fw != 0 {
			note = ", sets " + fw.String()
		}
		if lo, hi, step, ok := targetLimits(f); ok {
			note += ", label " + reach(lo, hi) + " from PC"
			if step == 4 {
				note += ", word-aligned"
			}
		}
		rank := 2
		switch {
		case used != nil && s == used.String():
			rank = 0
		case f.Operands() == operands:
			rank = 1
		}
		lines[rank] = append(lines[rank], fmt.Sprintf("- `%s` — %d bytes%s", s, f.Row.Size(), note))
	}
	return append(append(lines[0], lines[1]...), lines[2]...)
}

// farther says whether a form reaches a label farther away than another one.
func farther(f, than *isa.Form) bool {
	lo, _, _, ok := targetLimits(f)
	low, _, _, _ := targetLimits(than)
	return ok && lo < low
}

// reach is how far a label may be, in bytes, or in megabytes where that is exact but for a step.
func reach(lo, hi int64) string {
	const mega = 1 << 20
	if lo%mega == 0 && lo <= -mega && hi > 0 && (hi+mega/2)/mega == -lo/mega {
		return fmt.Sprintf("−%d MB to +%d MB", -lo/mega, -lo/mega)
	}
	return fmt.Sprintf("%d to %d bytes", lo, hi)
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
