package describe

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// Names in hovers: registers, conditions, labels and constants.

// hoverWord describes a word among the operands or arguments of a statement, or the name
// that a statement gives.
func (r *View) hoverWord(t *token) string {
	s := t.it.Stmt
	low := strings.ToLower(t.text)
	if s.Kind == syntax.Instruction && s.Mnemonic.OpensBlock() {
		if c, ok := isa.CondByName(low); ok && t.op == 0 {
			return "Condition " + conditionText(c) + "."
		}
	}
	if reg, ok := isa.RegByName(low); ok && (s.Kind == syntax.Instruction || r.LastRegister(t.text).Core == reg || namesRegister(s)) {
		return r.hoverReg(t, reg)
	}
	if reg := r.LastRegister(t.text); reg.Core != isa.NoReg {
		return r.hoverReg(t, reg.Core)
	} else if reg.Vector != "" {
		return hoverVector(t.text, reg.Vector)
	}
	if _, ok := r.lookup(t); !ok && s.Kind == syntax.Instruction && s.Mnemonic.Vector() {
		if _, _, ok := isa.VectorReg(low); ok {
			return hoverVector(t.text, low)
		}
	}
	if t.own() {
		if text := specialText(low); text != "" {
			return text
		}
		return ownWordText(t.text, t.it.Stmt)
	}
	if s, ok := r.lookup(t); ok {
		return r.hoverSymbol(t, s)
	}
	if c := t.text[0]; c >= '0' && c <= '9' || c == '\'' {
		return r.hoverNumber(t)
	}
	if t.text == "." && t.op >= 0 && t.op < len(s.Ops) {
		md := "**.** — this place, " + r.PlaceText(t.it.Section, t.it.Offset) + "."
		if whole := r.wholeText(t.it, t.op, t.span); whole != "" {
			md += "\n\n" + whole
		}
		return md
	}
	if s.Kind == syntax.Directive {
		if text := r.argumentText(t, low); text != "" || t.op >= 0 {
			return text
		}
		return r.hoverDirective(t.it, s.Directive)
	}
	return ""
}

// namesRegister says whether a directive's argument is a register, as that of .req.
func namesRegister(s *syntax.Stmt) bool {
	return s.Kind == syntax.Directive && (s.Directive.Effect == syntax.EffReq || s.Directive.Effect == syntax.EffUnreq || s.Directive.Name == ".save" || s.Directive.Name == ".setfp")
}

// hoverReg describes a core register: what T16 can do with it, its part in a call, and the
// names that it has.
func (r *View) hoverReg(t *token, reg isa.Reg) string {
	lines := []string{regText(t.text, reg, &r.Environments[t.it.Environment])}
	if names := r.namesOf(reg, t.text); len(names) > 0 {
		lines = append(lines, "Also named here: `"+strings.Join(names, "`, `")+"`.")
	}
	if s := r.definedText(t.text); s != "" {
		lines = append(lines, s)
	}
	if s := r.registerValue(t.it, reg); s != "" {
		lines = slices.Insert(lines, 1, s)
	}
	return strings.Join(lines, "\n\n")
}

// regText describes a core register, in the code of an environment; nil: in that of T16.
func regText(name string, reg isa.Reg, e *program.Environment) string {
	title := "**" + name + "**"
	if !strings.EqualFold(name, reg.String()) {
		title += " = " + reg.String()
	}
	role := isa.RegRole(reg)
	if reg == isa.PC && e != nil {
		role = fmt.Sprintf("the program counter: in %s code it reads as this instruction's address + %d", e.Mode, e.Mode.Ahead())
		if e.Mode == isa.T {
			role += ", and its two lowest bits as 0 where a load or ADR counts from it"
		}
	}
	text := title + " — " + role + " (AAPCS32, 6.1.1)."
	if kind := kindOf(reg, e); kind != "" {
		text += "\n\n" + strings.ToUpper(kind[:1]) + kind[1:] + "."
	}
	return text
}

// definedText is where a name was given to a register, and what its comment says.
func (r *View) definedText(name string) string {
	for i := range r.Items {
		it := &r.Items[i]
		if s := it.Stmt; s.Kind == syntax.Directive && s.Directive.Effect == syntax.EffReq && strings.EqualFold(s.Name, name) {
			return strings.TrimLeft(r.aboutItem(it), "\n")
		}
	}
	return ""
}

// kindOf says which instructions can use a register, in the code of an environment; empty for
// A32, where nearly all can use each.
func kindOf(reg isa.Reg, e *program.Environment) string {
	t32 := e != nil && e.Have.Has(isa.FeatT32)
	switch {
	case e != nil && e.Mode == isa.A:
		return ""
	case reg == isa.PC:
		return "in T16 read by LDR, ADR, ADD and MOV; written by POP, MOV and ADD"
	case reg == isa.SP:
		return "in T16 used by PUSH, POP, ADD, SUB, MOV, CMP and word accesses with a constant offset"
	case reg.Low() && t32:
		return "a low register: 16-bit encodings can use it"
	case reg.Low():
		return "a low register: every T16 instruction can use it"
	case t32 && reg == isa.LR:
		return "a high register: 16 bits are enough in MOV, ADD, CMP, BX, BLX and PUSH; else an encoding has 32"
	case t32:
		return "a high register: 16 bits are enough in MOV, ADD, CMP, BX and BLX; else an encoding has 32"
	case reg == isa.LR:
		return "a high register: in T16 only MOV, ADD, CMP, BX, BLX and PUSH can use it"
	}
	return "a high register: in T16 only MOV, ADD, CMP, BX and BLX can use it"
}

// namesOf lists the names that .req and its like have given to a register, but for one.
func (r *View) namesOf(reg isa.Reg, but string) []string {
	var out []string
	for name, x := range r.Registers {
		if x.Core == reg && !strings.EqualFold(name, but) && !slices.ContainsFunc(out, func(o string) bool { return strings.EqualFold(o, name) }) {
			out = append(out, strings.ToLower(name))
		}
	}
	sort.Strings(out)
	return out[:min(len(out), 6)]
}

// hoverVector describes a register of floating point and vectors: what it overlaps, and its
// part in a call (AAPCS32, 6.1.2).
func hoverVector(name, reg string) string {
	letter, n, ok := isa.VectorReg(reg)
	if !ok {
		return ""
	}
	low, _, _ := strings.Cut(reg, ".")
	low, _, _ = strings.Cut(low, "[")
	title := "**" + name + "**"
	if !strings.EqualFold(name, low) {
		title += " = " + low
	}
	first, what := int(n), "" // in words, as single registers count
	switch letter {
	case 's':
		what = fmt.Sprintf("single precision, 32 bits: the %s half of d%d", [...]string{"lower", "upper"}[n&1], n/2)
	case 'd':
		first *= 2
		what = fmt.Sprintf("64 bits: the %s half of q%d", [...]string{"lower", "upper"}[n&1], n/2)
		if n < 16 {
			what += fmt.Sprintf(", and s%d with s%d", 2*n, 2*n+1)
		}
	default:
		first *= 4
		what = fmt.Sprintf("128 bits: d%d and d%d", 2*n, 2*n+1)
	}
	role := "Scratch register: a call may change it"
	switch {
	case first < 16:
		role = "Argument, result and scratch register: a call may change it"
	case first < 32:
		role = "A called routine hands it back unchanged"
	}
	return title + " — " + what + ".\n\n" + role + " (AAPCS32, 6.1.2)."
}

// conditions says what each condition means (DDI 0406C, A8.3, table A8-1).
var conditions = [...]string{
	"equal: Z = 1", "not equal: Z = 0",
	"unsigned higher or same, or a carry: C = 1", "unsigned lower, or no carry: C = 0",
	"negative: N = 1", "positive or zero: N = 0", "overflow: V = 1", "no overflow: V = 0",
	"unsigned higher: C = 1 and Z = 0", "unsigned lower or same: C = 0 or Z = 1",
	"signed greater or equal: N = V", "signed less: N ≠ V", "signed greater: Z = 0 and N = V", "signed less or equal: Z = 1 or N ≠ V",
	"always",
}

// conditionText says what a condition means and which one is its opposite.
func conditionText(c isa.Cond) string {
	return strings.ToUpper(c.String()) + " — " + conditionMeaning(c)
}

func conditionMeaning(c isa.Cond) string {
	s := conditions[min(c, isa.AL)]
	if c < isa.AL {
		s += " (the opposite is " + strings.ToUpper(c.Invert().String()) + ")"
	}
	return s
}

// specialText says what a special register is; empty for other names.
func specialText(name string) string {
	_, text, _ := strings.Cut(registerText(name), "\n\n")
	return strings.TrimSpace(text)
}

// hoverArgument describes what is in the text of a directive that the parser does not read: a
// word of its own, a name, or else the directive.
func (r *View) hoverArgument(t *token) string {
	if md := r.argumentText(t, strings.ToLower(t.text)); md != "" {
		return md
	}
	if s, ok := r.lookup(t); ok && !t.name && s.Defined {
		switch t.it.Stmt.Directive.Effect {
		case syntax.EffType, syntax.EffSize, syntax.EffGlobal, syntax.EffExport:
			return r.hoverSymbol(t, s)
		case syntax.EffMacro: // in the default of a parameter
			before := r.LineText(t.it)[:t.a]
			if strings.Contains(before[strings.LastIndexAny(before, " \t,")+1:], "=") {
				return r.hoverSymbol(t, s)
			}
		}
	}
	return r.hoverDirective(t.it, t.it.Stmt.Directive)
}

// The words of directives that say what sections and symbols are (AAELF32, and the generic
// ELF specification, "Sections" and "Symbol Table").
var (
	sectionWords = map[string]string{
		"progbits": "the section has bytes in the file", "nobits": "the section takes room in memory and none in the file: it is filled with 0 at the start",
		"note": "the section has notes for tools", "init_array": "the section has addresses of functions to call at the start", "fini_array": "the section has addresses of functions to call at the end",
	}
	typeWords = map[string]string{
		"function": "a function: bit 0 is set in its address where it is T16 code", "object": "data",
		"tls_object": "data that each thread has for itself", "notype": "nothing is said of it", "common": "data without a place yet",
	}
	flagWords = map[rune]string{
		'a': "takes room in memory", 'w': "may be written", 'x': "has code", 'M': "equal parts may become one", 'S': "has strings that end with a zero byte",
		'G': "is of a group", 'T': "has data of each thread", 'e': "is left out of programs", 'o': "is ordered as another section", 'y': "has code without data in it", 'R': "is kept, whoever names it",
	}
)

// flagsText says what the letters of a section mean.
func flagsText(letters string) string {
	var list []string
	for _, c := range letters {
		text := flagWords[c]
		if text == "" {
			return ""
		}
		list = append(list, fmt.Sprintf("`%c` %s", c, text))
	}
	if len(list) == 0 {
		return ""
	}
	return "The section: " + joined(list) + "."
}

// argumentText describes an argument of a directive that is a word of its own.
func (r *View) argumentText(t *token, low string) string {
	d := t.it.Stmt.Directive
	if t.name {
		return ""
	}
	var target isa.Target
	name, ok := t.text, false
	switch d.Effect {
	case syntax.EffArch:
		name = r.restText(t.it)
		target, ok = isa.Arch(strings.ToLower(name))
	case syntax.EffCPU:
		name = r.restText(t.it)
		target, ok = isa.CPU(strings.ToLower(name))
	case syntax.EffSection, syntax.EffPush:
		if text := sectionWords[low]; text != "" {
			return "**" + t.text + "** — " + text + "."
		}
		if rest := r.restText(t.it); strings.Contains(rest, `"`+t.text+`"`) && !strings.HasPrefix(rest, `"`+t.text+`"`) {
			return flagsText(t.text)
		}
		return ""
	case syntax.EffType:
		if text := typeWords[low]; text != "" && !strings.HasPrefix(r.restText(t.it), t.text) {
			return "**" + t.text + "** — " + text + "."
		}
		return ""
	case syntax.EffSyntax:
		return map[string]string{
			"unified": "**unified** — one spelling for A32 and Thumb code: an S in the name says that flags are set.",
			"divided": "**divided** — the older spelling, one for each instruction set: in Thumb code flags are set without an S.",
		}[low]
	}
	if !ok {
		return ""
	}
	return "**" + name + "** — " + targetText(target.Have) + "."
}

// restText is what is written behind the name of a statement.
func (r *View) restText(it *program.Item) string {
	return syntax.WithoutComments(r.LineText(it)[it.Stmt.NameEnd:it.Stmt.End])
}

// targetText says which instruction sets a target has.
func targetText(have isa.Features) string {
	var sets []string
	if have.Has(isa.FeatA32) {
		sets = append(sets, "A32")
	}
	switch {
	case have.Has(isa.FeatT32):
		sets = append(sets, "T16", "T32")
	case have.Has(isa.FeatMovW):
		sets = append(sets, "T16", "a part of T32")
	case have.Has(isa.FeatT16):
		sets = append(sets, "T16")
	}
	s := strings.Join(sets, ", ")
	switch {
	case have.Has(isa.FeatM):
		s = "M profile: " + s
	case have.Has(isa.FeatVirt):
		s += ", virtualisation"
	}
	if have.Has(isa.FeatDSP) && have.Has(isa.FeatM) {
		s += ", DSP extension"
	}
	if have.Has(isa.FeatDivThumb) {
		s += ", division"
	}
	return s
}

// hoverSymbol describes a label or a constant, seen from where it is named.
func (r *View) hoverSymbol(t *token, s *program.Symbol) string {
	about := r.aboutSymbol(s)
	whole, pool := "", ""
	if it := t.it; t.op >= 0 && t.op < len(it.Stmt.Ops) {
		if whole = r.wholeText(it, t.op, t.span); whole != "" {
			whole = "\n\n" + whole
		}
		if it.Stmt.Ops[t.op].Kind == isa.OpLit && it.Literal >= 0 && r.Literals[it.Literal].Offset >= 0 {
			pool = "\n\n" + r.poolText(it)
		}
	}
	switch {
	case r.stands(s.Name) != "":
		return fmt.Sprintf("**%s** = %s%s\n\nSet %s.", s.Name, r.stands(s.Name), about, wording.Where(r.Program, r.DefinedAt(s).Location, nil)) + whole
	case !s.Defined:
		return fmt.Sprintf("**%s** — not defined in this file; the linker must supply it.", s.Name) + pool
	case s.Value.Kind == program.Number:
		kind := "Constant"
		if s.Label {
			kind = "Offset in a record"
		}
		use := ""
		if t.op >= 0 && t.op < len(t.it.Stmt.Ops) && whole == "" && t.it.Stmt.Kind == syntax.Instruction {
			use = r.useText(t.it, t.op, s.Value.N)
		}
		return fmt.Sprintf("**%s** = %s%s\n\n%s, set %s.", s.Name, numberText(s.Value.N), about, kind, wording.Where(r.Program, r.DefinedAt(s).Location, nil)) + use + whole
	case s.Value.Kind == program.Address:
		return r.hoverPlace(t, s, about) + whole + pool + r.routineText(s)
	}
	return fmt.Sprintf("**%s** — set %s; only the linker knows its value.%s", s.Name, wording.Where(r.Program, r.DefinedAt(s).Location, nil), about)
}

// hoverPlace describes a name of a place: where it is, what is there, how far it is.
func (r *View) hoverPlace(t *token, s *program.Symbol, about string) string {
	kind := "Data"
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
	if al := r.alignment(v); al > 0 {
		kind += fmt.Sprintf(", aligned to %s", wording.Plural(int(al), "byte", "bytes"))
	}
	md := fmt.Sprintf("**%s** — %s", s.Name, r.PlaceText(v.Section, v.N))
	if t.it.Index != s.Item {
		md += r.awayText(t.it, v)
	}
	md += fmt.Sprintf("%s\n\n%s, defined %s.", about, kind, wording.Where(r.Program, r.DefinedAt(s).Location, nil))
	if s.Weak {
		md += " Weak: another definition takes its place."
	} else if s.Global {
		md += " Global."
	}
	return md
}

// alignment is what an address is surely a multiple of: the offset's, but no more than that of
// its section, as a linker places it. 0 where the offset is not known.
func (r *View) alignment(v program.Value) int64 {
	s := &r.Sections[v.Section]
	if !s.Exact {
		return 0
	}
	al := max(s.Align, 1)
	if s.Code { // as instructions ask for (AAELF32, "Section alignment", from memory)
		al = max(al, 2)
		for _, i := range r.Order[v.Section] {
			if it := &r.Items[i]; it.Flags&program.IsCode != 0 && r.Environments[it.Environment].Mode == isa.A {
				al = max(al, 4)
				break
			}
		}
	}
	for al > 1 && v.N%al != 0 {
		al /= 2
	}
	return al
}

// maxAbout bounds the lines of a comment that a hover shows.
const maxAbout = 12

// aboutSymbol is what the comments at a symbol's definition say, as Markdown.
func (r *View) aboutSymbol(s *program.Symbol) string {
	return r.aboutPlace(r.DefinedAt(s))
}

// aboutItem is what the comments at a statement say, as Markdown.
func (r *View) aboutItem(it *program.Item) string { return r.aboutPlace(r.StmtLoc(it)) }

// aboutPlace is what the comments at the line of a place say, as Markdown.
func (r *View) aboutPlace(at program.Place) string {
	if file := r.FileOf(at.Path); at.Path != "" && file >= 0 {
		return r.aboutLine(file, at.Span.Start)
	}
	return ""
}

// aboutLine is what the comments at the line with a byte of a file say, as Markdown: a block
// of text as it stands, as columns in it may mean something.
func (r *View) aboutLine(file int32, off int) string {
	f := r.Sources[file].AsWritten()
	if off > len(f.Text()) {
		return ""
	}
	lines := f.About(f.LineAt(off), saysOfNames)
	if len(lines) == 0 {
		return ""
	}
	if len(lines) > maxAbout {
		lines = append(lines[:maxAbout-1:maxAbout-1], "…")
	}
	text := strings.ReplaceAll(strings.Join(lines, "\n"), "```", "'''")
	return "\n\n```text\n" + text + "\n```"
}

// saysOfNames says whether a statement may be between a label and the comment about it: it
// says something of names, or of the place where the label is, and makes no code and no data.
func saysOfNames(s *syntax.Stmt) bool {
	if s.Kind != syntax.Directive {
		return s.Kind == syntax.Label && s.Number < 0
	}
	switch s.Directive.Effect {
	case syntax.EffGlobal, syntax.EffExport, syntax.EffThumbFunc, syntax.EffThumb, syntax.EffArm, syntax.EffCode, syntax.EffType, syntax.EffSection, syntax.EffArea,
		syntax.EffAlignPow, syntax.EffAlignByte, syntax.EffAlignFrom, syntax.EffEven, syntax.EffSize, syntax.EffNone, syntax.EffCheck:
		return true
	}
	return false
}
