package assemble

import (
	"fmt"
	"sort"
	"strings"

	"narrowgauge/analysis/assemble/layout"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// A section may have subsections: parts with a number, laid out in order of the
// number at the end of the source. Each is laid out like a section of its own. One
// with a number begins with a point (see layout/points.go) that keeps the room of those in
// front of it, so that its offsets are those in the section as soon as the layout
// is done; then all become one.

// pushed is what .popsection comes back to.
type pushed struct{ sec, prev int16 }

// subKey names a subsection.
type subKey struct {
	main int16
	n    int64
}

// sections is where statements go: the present section, and how to find the others.
type sections struct {
	prog           *program.Program
	layout         *layout.Layouter
	currentSection int16
	prev           int16    // section for .previous, -1 for none
	stack          []pushed // for .popsection
	secBy          map[string]int16
	subBy          map[subKey]int16
}

func (p *sections) section(name string) int16 {
	if i, ok := p.secBy[name]; ok {
		return i
	}
	i := int16(len(p.prog.Sections))
	p.secBy[name] = i
	p.addSection(program.Section{Name: name, Exact: true, Align: 1, EndPool: -1, Exec: codeSection(name), Main: i})
	p.layout.Begin()
	return i
}

// addSection puts a section into the program.
func (p *sections) addSection(s program.Section) {
	p.prog.Sections = append(p.prog.Sections, s)
	p.prog.Order = append(p.prog.Order, nil)
}

// subsection is the record of a section's subsection, made at an item.
func (p *sections) subsection(main int16, n int64, at *program.Item) int16 {
	main = p.prog.Sections[main].Main
	if n == 0 || p.prog.Sections[main].Record {
		return main
	}
	if s, ok := p.subBy[subKey{main, n}]; ok {
		return s
	}
	if len(p.prog.Sections) > 30000 {
		return main
	}
	i := int16(len(p.prog.Sections))
	if p.subBy == nil {
		p.subBy = map[subKey]int16{}
	}
	p.subBy[subKey{main, n}] = i
	m := &p.prog.Sections[main]
	m.Subsections = append(m.Subsections, i)
	p.addSection(program.Section{Name: m.Name, Exact: true, Align: 1, EndPool: -1, Exec: m.Exec, Main: main, Subsection: n, Declaration: m.Declaration})
	p.layout.BeginSubsection(at.Index)
	return i
}

// sectionDirective handles the directives that go on in another place.
func (p *pass) sectionDirective(it *program.Item, l *syntax.Line) {
	s, d := it.Stmt, it.Stmt.Directive
	here := pushed{p.currentSection, p.prev}
	var to int16
	switch d.Effect {
	case syntax.EffPop:
		n := len(p.stack)
		if n == 0 {
			p.Warn(p.StmtLoc(it), finding.CodeDirective, wording.HasNone(".popsection", ".pushsection"))
			return
		}
		p.currentSection, p.prev, p.stack = p.stack[n-1].sec, p.stack[n-1].prev, p.stack[:n-1]
		p.moved(it)
		return
	case syntax.EffPrevious:
		if p.prev < 0 {
			p.Warn(p.StmtLoc(it), finding.CodeDirective, wording.NoPrevious())
			return
		}
		p.currentSection, p.prev = p.prev, p.currentSection
		p.moved(it)
		return
	case syntax.EffStruct:
		n, _ := p.count(it, 0, true, 0)
		if len(s.Ops) > 1 {
			p.more(it, 1)
		}
		to = p.section("*record*")
		p.Sections[to].Record = true
		p.Sections[to].Size, p.Sections[to].Exact = n, true
		p.Restart(to)
	case syntax.EffSubsection:
		n, _ := p.count(it, 0, true, 0)
		if len(s.Ops) > 1 {
			p.more(it, 1)
		}
		to = p.subsection(p.currentSection, n, it)
	default:
		if d.Args == syntax.ArgsRaw {
			var ok bool
			if to, ok = p.namedSection(it, l); !ok {
				return
			}
			break
		}
		n := int64(0)
		if d.Name == ".bss" {
			if len(s.Ops) > 0 {
				p.more(it, 0)
			}
		} else {
			n, _ = p.count(it, 0, true, 0)
			if len(s.Ops) > 1 {
				p.more(it, 1)
			}
		}
		to = p.section(d.Name)
		p.Sections[to].Declaration.Nobits = d.Name == ".bss"
		to = p.subsection(to, n, it)
	}
	if d.Effect == syntax.EffPush {
		p.stack = append(p.stack, here)
	}
	if d.Name != ".bss" {
		p.prev = p.currentSection
	}
	p.currentSection = to
	p.moved(it)
}

// more reports arguments after the n that a directive takes.
func (p *pass) more(it *program.Item, n int) {
	o := &it.Stmt.Ops[n]
	p.Report(p.Loc(it, o.Start, it.Stmt.End), finding.CodeDirective, wording.TooMany(it.Stmt.Directive.Usage))
}

// flagWords are the letters of the flags that are written as words after a '#'.
var flagWords = map[string]string{"alloc": "a", "write": "w", "execinstr": "x", "exclude": "e", "tls": "T"}

// sectionArguments is what .section or .pushsection says.
type sectionArguments struct {
	name          string
	declaration   program.SectionDeclaration
	group, unique string // sections of one name that differ in these are several
	subsection    int64
}

// namedSection reads the arguments of .section and .pushsection, and gives the
// section.
func (p *pass) namedSection(it *program.Item, l *syntax.Line) (int16, bool) {
	a := p.arguments(it, l)
	x, ok := a.section()
	if !ok || !a.end() {
		return 0, false
	}
	key := x.name
	if x.group != "" || x.unique != "" {
		key += "\x00" + x.group + "\x00" + x.unique
	}
	if len(p.secBy) > 30000 {
		return 0, false
	}
	_, old := p.secBy[key]
	if y := p.Find(x.name); !old && y != nil && (y.Label || y.Common) {
		a.fail(wording.DefinedNoSection(x.name))
		return 0, false
	}
	to := p.section(key)
	p.declareSection(it, &p.Sections[to], &x, old)
	if x.subsection != 0 {
		to = p.subsection(to, x.subsection, it)
	}
	return to, true
}

// declareSection gives a section what a directive says of it; old says that an earlier one
// has named it.
func (p *pass) declareSection(it *program.Item, s *program.Section, x *sectionArguments, old bool) {
	name, given := x.name, &x.declaration
	if !old {
		s.Name = name
		s.Exec = codeSection(name)
		s.Declaration.Nobits = zeroedSection(name)
	}
	if strings.Contains(given.Flags, "x") {
		s.Exec = true
	}
	standard := standardSection(name)
	switch {
	case !given.Given && given.Type == "":
	case !old:
		nobits := s.Declaration.Nobits
		s.Declaration = *given
		if given.Type == "" || given.Type == "progbits" && standard {
			s.Declaration.Nobits = nobits
		}
	case !standard:
		p.sectionChange(it, s, given)
	}
}

// zeroedSection says whether a section has no bytes in the file, judged only by its name
// (System V ABI, "Special Sections").
func zeroedSection(name string) bool {
	for _, n := range []string{".bss", ".sbss", ".tbss"} {
		if name == n || strings.HasPrefix(name, n+".") {
			return true
		}
	}
	return false
}

// section reads all arguments of .section or .pushsection.
func (a *args) section() (x sectionArguments, ok bool) {
	x.name = a.sectionName()
	if a.failed {
		return x, false
	}
	if !a.eat(',') {
		return x, true
	}
	if a.directive.Effect == syntax.EffPush && a.digit() {
		x.subsection, _ = a.number()
		if !a.eat(',') {
			return x, true
		}
	}
	if a.peek() == '"' {
		ok = a.sectionFlags(&x)
	} else {
		ok = a.sectionWords(&x.declaration)
	}
	return x, ok
}

// sectionFlags reads flags in quotes and what comes after them, which depends on the flags.
func (a *args) sectionFlags(x *sectionArguments) bool {
	letters, _ := a.text()
	if a.open {
		a.shape()
		return false
	}
	x.declaration.Given = true
	flags, ok := sectionLetters(letters)
	if !ok {
		a.fail(wording.SectionFlags())
		return false
	}
	if strings.Contains(flags, "d") && !strings.Contains(flags, "a") {
		a.fail(wording.FlagNeedsA())
	}
	x.declaration.Type = a.sectionType()
	if strings.Contains(flags, "M") {
		if a.eat(',') {
			x.declaration.Entsize, _ = a.number()
		} else {
			flags = strings.ReplaceAll(flags, "M", "")
		}
	}
	if strings.Contains(flags, "o") && a.eat(',') {
		if a.digit() {
			a.number()
		} else {
			a.sectionName()
		}
	}
	if strings.Contains(flags, "G") && a.eat(',') {
		x.group = a.sectionGroup()
	}
	x.unique = a.sectionUnique()
	x.declaration.Flags = flags
	x.declaration.Nobits = x.declaration.Type == "nobits"
	return true
}

// sectionType reads the type of a section, "" without one.
func (a *args) sectionType() string {
	save, typ := a.i, ""
	if !a.eat(',') {
		return ""
	}
	switch c := a.peek(); {
	case c == '"':
		typ, _ = a.text()
	case c == '%' || c == '@':
		a.i++
		if a.digit() {
			b := a.i
			for a.i < len(a.src) && isName(a.src[a.i]) {
				a.i++
			}
			typ = a.src[b:a.i]
		} else {
			typ = a.name()
		}
		if typ == "" || !sectionType(typ) {
			a.pass.Warn(a.pass.StmtLoc(a.item), finding.CodeDirective, wording.NoSectionType(typ))
			typ = ""
		}
	default:
		a.i = save
	}
	return typ
}

// sectionGroup reads the name of a group.
func (a *args) sectionGroup() string {
	group := a.sectionName()
	if a.eat(',') {
		if strings.HasPrefix(a.src[a.i:], "comdat") {
			a.i += len("comdat")
		} else {
			a.i--
		}
	}
	return group
}

// sectionUnique reads the number after "unique", "" without one.
func (a *args) sectionUnique() string {
	save := a.i
	switch {
	case !a.eat(','):
	case !strings.HasPrefix(a.src[a.i:], "unique"):
		a.i = save
	default:
		if a.i += len("unique"); a.eat(',') && a.digit() {
			n, _ := a.number()
			return fmt.Sprint(n)
		}
		a.fail(wording.UniqueNumber())
	}
	return ""
}

// sectionWords reads flags that are words after a '#'.
func (a *args) sectionWords(d *program.SectionDeclaration) bool {
	for {
		if !a.eat('#') {
			a.fail(wording.FlagsInQuotes())
			return false
		}
		word := a.name()
		switch flag := flagWords[word]; word {
		case "alloc", "write", "execinstr", "exclude", "tls":
			if !strings.Contains(d.Flags, flag) {
				d.Flags += flag
			}
		case "progbits", "nobits":
			d.Type = word
		}
		if !a.eat(',') {
			break
		}
	}
	d.Given = d.Flags != ""
	return true
}

// sectionChange reports flags that differ from those of the section.
func (p *pass) sectionChange(it *program.Item, s *program.Section, d *program.SectionDeclaration) {
	m := ""
	old, flags := s.Declaration.Flags, d.Flags
	typ := func(d *program.SectionDeclaration) string {
		if d.Type == "" {
			return "progbits"
		}
		return d.Type
	}
	switch {
	case d.Type != "" && typ(d) != typ(&s.Declaration):
		m = wording.SectionType(s.Name, typ(&s.Declaration), typ(d))
	case flags != "" && old != flags:
		m = wording.SectionFlagsNow(s.Name, old, flags)
	case strings.Contains(flags, "M") && s.Declaration.Entsize != d.Entsize:
		m = wording.SectionElements(s.Name, s.Declaration.Entsize, d.Entsize)
	default:
		return
	}
	p.Report(p.StmtLoc(it), finding.CodeDirective, m)
}

// sectionLetters sorts the letters of a section's flags; ok is false for a letter
// that is none.
func sectionLetters(letters string) (flags string, ok bool) {
	n := 0
	for i := 0; i < len(letters); i++ {
		c := letters[i]
		switch {
		case c == '?':
			// in the group of the section before it
		case strings.IndexByte("aewxMSGToRd", c) >= 0:
			if !strings.Contains(flags, string(c)) {
				flags += string(c)
			}
		case c >= '0' && c <= '9':
			// A number: those of the flags in the object file (System V ABI).
			o, k, err := syntax.Value(letters[i:])
			if err != nil || !o.Known {
				return "", false
			}
			for bit, f := range map[int64]string{1: "w", 2: "a", 4: "x", 0x10: "M", 0x20: "S", 0x200: "G", 0x400: "T"} {
				if o.Imm&bit != 0 && !strings.Contains(flags, f) {
					flags += f
				}
			}
			i += k - 1
			n++
		default:
			return "", false
		}
	}
	b := []byte(flags)
	sort.Slice(b, func(i, j int) bool { return b[i] < b[j] })
	return string(b), true
}

// sectionType says whether a name or number is a section's type.
func sectionType(t string) bool {
	switch t {
	case "progbits", "nobits", "note", "init_array", "fini_array", "preinit_array", "unwind":
		return true
	}
	return t[0] >= '0' && t[0] <= '9'
}

// standardSection says whether the assembler knows the section's flags by its name,
// and takes no others.
func standardSection(name string) bool {
	for _, n := range []string{".text", ".data", ".bss", ".rodata", ".rodata1", ".data1", ".comment", ".init", ".fini", ".tdata", ".tbss", ".init_array", ".fini_array", ".preinit_array", ".line", ".note", ".debug", ".plt", ".got", ".dynamic", ".hash", ".sbss", ".sdata", ".note.GNU-stack"} {
		if rest, ok := strings.CutPrefix(name, n); ok && (rest == "" || rest[0] == '.') {
			return true
		}
	}
	return strings.HasPrefix(name, ".ARM.ex") || strings.HasPrefix(name, ".debug_")
}

// sectionName reads a section's name: up to a comma or blank, or a string.
func (a *args) sectionName() string {
	a.skip()
	if a.peek() == '"' {
		s, _ := a.text()
		return s
	}
	b := a.i
	for a.i < len(a.src) && strings.IndexByte(",; \t", a.src[a.i]) < 0 {
		a.i++
	}
	if a.i == b {
		a.fail(wording.NeedsSection(a.directive.Name))
	}
	return a.src[b:a.i]
}

// stored looks at what data put into places that hold none: a section without
// bytes in the file, and the record of .struct.
func (p *pass) stored(it *program.Item, what wording.Contents) bool {
	s := &p.Sections[p.Sections[p.currentSection].Main]
	switch {
	case what == wording.Zeros:
		return true
	case s.Record:
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.StoredInRecord(it.Stmt.Name, what))
		return false
	case s.Declaration.Nobits:
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.StoredInNobits(it.Stmt.Name, what, s.Name))
		return false
	}
	return true
}

// holdsNothing says whether the present place takes zeros only.
func (p *pass) holdsNothing() bool {
	s := &p.Sections[p.Sections[p.currentSection].Main]
	return s.Record || s.Declaration.Nobits
}

// zeros looks at the values of data where only zeros can be.
func (p *pass) zeros(it *program.Item) bool {
	for i := range it.Stmt.Ops {
		o := &it.Stmt.Ops[i]
		if o.Kind == isa.OpNone {
			continue
		}
		if v := p.Value(o, it); v.Kind != program.Number || v.N != 0 {
			return p.stored(it, wording.AValue)
		}
	}
	return true
}
