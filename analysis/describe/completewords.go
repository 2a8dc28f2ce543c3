package describe

import (
	"slices"
	"strconv"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/preprocess"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Completions of directives, of the preprocessor, and in the bodies of macros.

// hash says whether the word is the name of a directive of the preprocessor, or what is after
// one; from is the column where the word begins.
func (c *completing) hash(from int) bool {
	text := strings.TrimLeft(c.text, " \t")
	if !c.Sources[c.file].Preprocessed() || !strings.HasPrefix(text, "#") {
		return false
	}
	name := strings.TrimLeft(text[1:], " \t")
	switch {
	case strings.TrimLeft(c.text[:from], " \t#") == "":
		c.list = c.hashNames
	case strings.HasPrefix(name, "if"), strings.HasPrefix(name, "elif"), strings.HasPrefix(name, "undef"):
		c.list = c.defines
	case strings.HasPrefix(name, "define") && strings.TrimSpace(c.text[strings.Index(c.text, "define")+len("define"):from]) != "":
		c.list = c.anySymbol
	default:
		c.list = func() {}
	}
	return true
}

func (c *completing) hashNames() {
	for _, d := range preprocess.Directives() {
		c.offer(strings.TrimPrefix(d.Name, "#"), CompleteDirective, d.Usage, rankLegal)
	}
}

// defines lists the macros of the preprocessor that there are, with their texts. Those that
// begin with two underscores are the compiler's, and come last.
func (c *completing) defines() {
	u := c.Sources[c.file].Unit
	if u == nil {
		return
	}
	for _, m := range u.Macros() {
		text, rank := m.Text, rankLegal
		if strings.HasPrefix(m.Name, "__") {
			rank = rankFar
		}
		if m.FuncLike {
			text = "(" + strings.Join(m.Params, ", ") + ")"
		}
		c.offer(m.Name, CompleteMacro, strings.TrimSpace("#define "+m.Name+" "+shortened(text)), rank)
	}
}

// maxDetail bounds what is shown beside a completion, in bytes.
const maxDetail = 60

// shortened is a text that fits beside a completion.
func shortened(text string) string {
	if len(text) <= maxDetail {
		return text
	}
	return strings.ToValidUTF8(text[:maxDetail], "") + "…"
}

// parameter says whether the word is one of a macro's parameters, after a backslash in its
// body; from is the column where the word begins.
func (c *completing) parameter(from int) bool {
	if from == 0 || c.text[from-1] != '\\' {
		return false
	}
	c.list = func() {
		for _, m := range c.Macros {
			if m.File != c.file || c.line <= int(m.Line) || c.line >= int(m.End) {
				continue
			}
			for _, p := range m.Parameters {
				c.offer(p.Name, CompleteConstant, "parameter of "+m.Name, rankLegal)
			}
		}
		c.repeatedNames()
		c.offer("@", CompleteConstant, "how many macros have been expanded before", rankFar)
	}
	return true
}

// repeatedNames lists the names that .irp and .irpc around the line give to their values.
func (c *completing) repeatedNames() {
	f := c.Sources[c.file].AsWritten()
	inside := 0 // how many repetitions have ended in between
	for n := c.line - 1; n >= max(0, c.line-maxBody); n-- {
		l := f.Line(n)
		for i := len(l.Stmts) - 1; i >= 0; i-- {
			s := &l.Stmts[i]
			if s.Kind != syntax.Directive {
				continue
			}
			switch s.Directive.Effect {
			case syntax.EffEndr:
				inside++
			case syntax.EffRept:
				if inside > 0 {
					inside--
					continue
				}
				if words := strings.FieldsFunc(l.Text[s.NameEnd:s.End], func(r rune) bool { return r == ',' || r == ' ' || r == '\t' }); s.Directive.Args == syntax.ArgsRaw && len(words) > 0 {
					c.offer(words[0], CompleteConstant, "each value of "+s.Directive.Name, rankLegal)
				}
			}
		}
	}
}

// arguments lists what an argument of a directive may be.
func (c *completing) arguments() {
	list := func(names []string, detail string) {
		for _, n := range names {
			c.offerIn(usualWord(n), n, CompleteWord, detail, rankLegal)
		}
	}
	argument := strings.Count(c.operand, ",") // which one it is, from 0
	d := c.statement.Directive
	c.labelled = d.Effect == syntax.EffGlobal || (d.Effect == syntax.EffSize || d.Effect == syntax.EffType) && argument == 0
	switch d.Effect { // only these can name what another source defines
	case syntax.EffGlobal, syntax.EffExtern, syntax.EffExport, syntax.EffImport, syntax.EffSet:
	case syntax.EffData:
		if d.Unit < 4 {
			c.elsewhere = nil
		}
	default:
		c.elsewhere = nil
	}
	switch d.Effect {
	case syntax.EffSyntax:
		c.offer("unified", CompleteWord, "one spelling for A32 and Thumb code", rankLegal)
		c.offer("divided", CompleteWord, "the older spelling", rankLegal)
	case syntax.EffCPU:
		list(isa.CPUNames(), "")
	case syntax.EffArch:
		list(isa.ArchNames(), "")
	case syntax.EffFPU:
		list(isa.FPUNames(), "")
	case syntax.EffArchExt:
		list(isa.ExtensionNames(c.environment.Have), "")
	case syntax.EffCode:
		c.offer("16", CompleteWord, "Thumb code", rankLegal)
		c.offer("32", CompleteWord, "A32 code", rankLegal)
	case syntax.EffReq:
		c.registers(func(isa.Reg) bool { return true })
	case syntax.EffUnreq:
		c.aliases()
	case syntax.EffPurgem:
		for _, m := range c.Macros {
			c.offer(m.Name, CompleteMacro, strings.TrimSpace("macro "+header(m)), rankLegal)
		}
	case syntax.EffSection, syntax.EffPush:
		if d.Name == ".section" || d.Effect == syntax.EffPush {
			c.sectionArgument(argument)
		}
	case syntax.EffType:
		if argument == 0 {
			c.anySymbol()
			return
		}
		c.marked([]string{"function", "object"})
	case syntax.EffMacro, syntax.EffEnd, syntax.EffEndif, syntax.EffEndm, syntax.EffPool, syntax.EffThumb, syntax.EffArm, syntax.EffThumbFunc: // new names, or nothing
	default:
		c.anySymbol()
	}
}

// sectionArgument lists the names of sections, and their types.
func (c *completing) sectionArgument(argument int) {
	switch argument {
	case 0:
		for _, n := range []string{".text", ".rodata", ".data", ".bss"} {
			c.offer(n, CompleteWord, "section", rankLegal)
		}
		for i := range c.Sections {
			if s := &c.Sections[i]; s.Name != "" && s.Name[0] != '*' && !s.Record && (s.Name != c.word || c.sectionElsewhere(s.Name)) { // else it is being typed
				c.offer(s.Name, CompleteWord, "section, "+strconv.FormatInt(s.Size, 10)+" bytes", rankLegal)
			}
		}
	case 2:
		c.marked([]string{"progbits", "nobits", "note", "init_array", "fini_array", "preinit_array"})
	}
}

// sectionElsewhere says whether another line than that of the place goes to a section.
func (c *completing) sectionElsewhere(name string) bool {
	for i := range c.Items {
		it := &c.Items[i]
		if d := it.Stmt.Directive; d != nil && (d.Effect == syntax.EffSection || d.Effect == syntax.EffPush) && (it.File != c.file || c.LineIn(c.file, it) != c.line) {
			if of, _, _ := strings.Cut(strings.TrimSpace(c.restText(it)), ","); d.Name == name || strings.TrimSpace(of) == name {
				return true
			}
		}
	}
	return false
}

// marked lists words that have a mark before them, which may be written already.
func (c *completing) marked(words []string) {
	for _, w := range words {
		if !strings.HasSuffix(c.operand, "%") && !strings.HasSuffix(c.operand, "#") {
			w = "%" + w
		}
		c.offer(w, CompleteWord, "", rankLegal)
	}
}

// aliases lists the names that the program has given to registers.
func (c *completing) aliases() {
	names := make([]string, 0, len(c.Registers))
	for n := range c.Registers {
		names = append(names, n)
	}
	slices.Sort(names)
	for _, n := range names {
		x := c.Registers[n]
		detail := x.Vector
		if x.Core <= isa.PC {
			detail = x.Core.String()
		}
		c.offer(n, CompleteRegister, detail, rankLegal)
	}
}

// Included is the name of a file that is being written.
type Included struct {
	Folder string       // what is written of it, up to the last slash
	Name   finding.Span // the part after that, in bytes of the file
	System bool         // in angle brackets
	Raw    bool         // bytes are included, not source
}

// IncludedIn finds the name of a file around byte offset off of a file of the program.
func (r *View) IncludedIn(path string, off int) (in Included, ok bool) {
	file := r.FileOf(path)
	if file < 0 || off < 0 {
		return in, false
	}
	f := r.Sources[file].AsWritten()
	if off > len(f.Text()) {
		return in, false
	}
	n := f.LineAt(off)
	line, start := f.Line(n).Text, f.LineStart(n)
	col := min(off-start, len(line))
	from, found := in.begins(line[:col], r.Sources[file].Preprocessed(), f.Dialect())
	if !found {
		return in, false
	}
	if i := strings.LastIndexByte(line[from:col], '/'); i >= 0 {
		in.Folder = line[from : from+i+1]
		from += i + 1
	}
	to := col
	for to < len(line) && strings.IndexByte(`"/> `+"\t", line[to]) < 0 {
		to++
	}
	in.Name = finding.Span{Start: start + from, End: start + to}
	return in, true
}

// begins finds where the name of a file begins that a line up to a place is writing.
func (in *Included) begins(text string, preprocessed bool, dialect syntax.Dialect) (from int, ok bool) {
	if rest := strings.TrimLeft(text, " \t"); preprocessed && strings.HasPrefix(rest, "#") {
		if rest = strings.TrimLeft(rest[1:], " \t"); !strings.HasPrefix(rest, "include") {
			return 0, false
		}
		i := strings.IndexAny(rest, `"<`)
		if i < 0 || strings.ContainsAny(rest[i+1:], `">`) {
			return 0, false
		}
		in.System = rest[i] == '<'
		return len(text) - len(rest) + i + 1, true
	}
	head := syntax.ParseAs(text, dialect).Line(0)
	if len(head.Stmts) == 0 || head.Comment >= 0 {
		return 0, false
	}
	s := &head.Stmts[len(head.Stmts)-1]
	if s.Kind != syntax.Directive || s.Directive.Effect != syntax.EffInclude && s.Directive.Effect != syntax.EffIncbin {
		return 0, false
	}
	in.Raw = s.Directive.Effect == syntax.EffIncbin
	rest := text[s.NameEnd:]
	if dialect == syntax.Columns && !strings.Contains(rest, `"`) {
		name := strings.TrimLeft(rest, " \t")
		return len(text) - len(name), name != rest
	}
	if strings.Count(rest, `"`) != 1 {
		return 0, false
	}
	return int(s.NameEnd) + strings.IndexByte(rest, '"') + 1, true
}

// Documentation is what is known of a name that a completion offers, a macro's or a symbol's, as
// Markdown; empty for others.
func (r *View) Documentation(name string) string {
	for _, m := range r.Macros {
		if m.Name == name {
			return r.hoverMacro(m, &program.Item{})
		}
	}
	s := r.SymbolOf(name)
	if s == nil || !s.Defined {
		return ""
	}
	return r.hoverSymbol(&token{it: &program.Item{Index: s.Item, Stmt: &syntax.Stmt{}}, op: -1, text: name}, s)
}
