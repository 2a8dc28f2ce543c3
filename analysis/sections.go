package analysis

import (
	"fmt"
	"sort"
	"strings"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// A section may have subsections: parts with a number, laid out in order of the
// number at the end of the source. Each is laid out like a section of its own. One
// with a number begins with a point (see relax.go) that keeps the room of those in
// front of it, so that its offsets are those in the section as soon as the layout
// is done; then all become one.

// pushed is what .popsection comes back to.
type pushed struct{ sec, prev int16 }

// sectionDecl is what the first .section that gave flags said.
type sectionDecl struct {
	flags   string // sorted
	typ     string
	entsize int64
	given   bool
	nobits  bool // holds no bytes in the file
}

// subKey names a subsection.
type subKey struct {
	main int16
	n    int64
}

// subsection is the record of a section's subsection, made at an item.
func (p *pass) subsection(main int16, n int64, at *item) int16 {
	main = p.secs[main].main
	if n == 0 || p.secs[main].record {
		return main
	}
	if s, ok := p.subBy[subKey{main, n}]; ok {
		return s
	}
	if len(p.secs) > 30000 {
		return main
	}
	i := int16(len(p.secs))
	if p.subBy == nil {
		p.subBy = map[subKey]int16{}
	}
	p.subBy[subKey{main, n}] = i
	m := &p.secs[main]
	m.subs = append(m.subs, i)
	s := section{name: m.name, exact: true, align: 1, endPool: -1, exec: m.exec, main: main, sub: n, decl: m.decl}
	// The point stands in front of the item that switches to the subsection.
	s.points = append(s.points, point{item: at.id - 1, kind: pointBase, after: -1})
	p.secs = append(p.secs, s)
	p.order = append(p.order, nil)
	return i
}

// layoutOrder lists the sections, the subsections of each in their order.
func (p *layouter) layoutOrder() []int16 {
	order := make([]int16, 0, len(p.secs))
	for s := range p.secs {
		if m := &p.secs[s]; int(m.main) == s {
			order = append(order, int16(s))
			sort.Slice(m.subs, func(i, j int) bool { return p.secs[m.subs[i]].sub < p.secs[m.subs[j]].sub })
			before := int16(s)
			for _, i := range m.subs {
				p.secs[i].before = before
				before = i
			}
			order = append(order, m.subs...)
		}
	}
	return order
}

// base is where a subsection begins: at the end of the one before it.
func (p *layouter) base(sec int16) int64 {
	b := &p.secs[p.secs[sec].before]
	if n := len(b.points); n > 0 {
		return b.size + b.points[n-1].moved()
	}
	return b.size
}

// joinSubsections makes one section of each with subsections. All places are
// known.
func (p *layouter) joinSubsections() {
	any := false
	for s := range p.secs {
		m := &p.secs[s]
		if len(m.subs) == 0 {
			continue
		}
		any = true
		for _, i := range m.subs {
			sub := &p.secs[i]
			for _, id := range p.order[i] {
				p.items[id].sec = int16(s)
			}
			p.order[s] = append(p.order[s], p.order[i]...)
			p.order[i] = nil
			m.size = sub.size
			m.align = max(m.align, sub.align)
			m.exact = m.exact && sub.exact
			m.code = m.code || sub.code
			m.endPool = sub.endPool
			sub.size, sub.endPool = 0, -1
		}
		m.place = make(map[int32]int, len(p.order[s]))
		for k, id := range p.order[s] {
			m.place[id] = k
		}
	}
	if !any {
		return
	}
	to := func(v *value) {
		if v.kind == vRel {
			v.sec = p.secs[v.sec].main
		}
	}
	p.eachSymbol(func(y *symbol) { to(&y.val) })
	for _, l := range p.locals {
		for _, y := range l {
			to(&y.val)
		}
	}
	for i := range p.lits {
		to(&p.lits[i].val)
		p.lits[i].sec = p.secs[p.lits[i].sec].main
	}
	p.gen++
}

// sectionDirective handles the directives that go on in another place.
func (p *pass) sectionDirective(it *item, l *syntax.Line) {
	s, d := it.stmt, it.stmt.Dir
	here := pushed{p.sec, p.prev}
	var to int16
	switch d.Effect {
	case syntax.EffPop:
		n := len(p.stack)
		if n == 0 {
			p.warn(p.stmtLoc(it), codeDirective, "No .pushsection stands before this .popsection.")
			return
		}
		p.sec, p.prev, p.stack = p.stack[n-1].sec, p.stack[n-1].prev, p.stack[:n-1]
		p.moved(it)
		return
	case syntax.EffPrevious:
		if p.prev < 0 {
			p.warn(p.stmtLoc(it), codeDirective, "No section stands before this one, and .previous does nothing.")
			return
		}
		p.sec, p.prev = p.prev, p.sec
		p.moved(it)
		return
	case syntax.EffStruct:
		n, _ := p.count(it, 0, true, 0)
		if len(s.Ops) > 1 {
			p.more(it, 1)
		}
		to = p.section("*record*")
		p.secs[to].record = true
		p.secs[to].size, p.secs[to].points, p.secs[to].exact = n, nil, true
	case syntax.EffSubsection:
		n, _ := p.count(it, 0, true, 0)
		if len(s.Ops) > 1 {
			p.more(it, 1)
		}
		to = p.subsection(p.sec, n, it)
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
		p.secs[to].decl.nobits = d.Name == ".bss"
		to = p.subsection(to, n, it)
	}
	if d.Effect == syntax.EffPush {
		p.stack = append(p.stack, here)
	}
	if d.Name != ".bss" {
		p.prev = p.sec
	}
	p.sec = to
	p.moved(it)
}

// more reports arguments behind the n that a directive takes.
func (p *pass) more(it *item, n int) {
	o := &it.stmt.Ops[n]
	p.report(p.loc(it, o.Start, it.stmt.End), codeDirective, "More stands here than "+it.stmt.Dir.Usage+" takes.")
}

// flagWords are the letters of the flags that stand as words behind a '#'.
var flagWords = map[string]string{"alloc": "a", "write": "w", "execinstr": "x", "exclude": "e", "tls": "T"}

// namedSection reads the arguments of .section and .pushsection, and gives the
// section.
func (p *pass) namedSection(it *item, l *syntax.Line) (int16, bool) {
	a := p.arguments(it, l)
	push := it.stmt.Dir.Effect == syntax.EffPush
	name := a.sectionName()
	if a.failed {
		return 0, false
	}
	decl := sectionDecl{}
	group, unique := "", ""
	sub, clone := int64(0), false
	if a.eat(',') {
		if push && a.digit() {
			sub, _ = a.number()
			if !a.eat(',') {
				goto done
			}
		}
		if a.peek() == '"' {
			letters, _ := a.text()
			if a.open {
				a.shape()
				return 0, false
			}
			decl.given = true
			attr, ok := sectionLetters(letters, &clone)
			if !ok {
				a.fail("The flags of a section are letters out of a, w, x, M, S, G, T, e, o, R and ?, or a number")
				return 0, false
			}
			if strings.Contains(attr, "d") && !strings.Contains(attr, "a") {
				a.fail("A section with the flag d needs the flag a as well")
			}
			save := a.i
			if a.eat(',') {
				switch c := a.peek(); {
				case c == '"':
					decl.typ, _ = a.text()
				case c == '%' || c == '@':
					a.i++
					if a.digit() {
						b := a.i
						for a.i < len(a.src) && isName(a.src[a.i]) {
							a.i++
						}
						decl.typ = a.src[b:a.i]
					} else {
						decl.typ = a.name()
					}
					if decl.typ == "" || !sectionType(decl.typ) {
						p.warn(p.stmtLoc(it), codeDirective, "A section's type is progbits, nobits, note, init_array, fini_array, preinit_array or a number; "+decl.typ+" is none.")
						decl.typ = ""
					}
				default:
					a.i = save
				}
			}
			if strings.Contains(attr, "M") {
				if a.eat(',') {
					decl.entsize, _ = a.number()
				} else {
					attr = strings.ReplaceAll(attr, "M", "")
				}
			}
			if strings.Contains(attr, "o") && a.eat(',') {
				if a.digit() {
					a.number()
				} else {
					a.sectionName()
				}
			}
			if strings.Contains(attr, "G") && a.eat(',') {
				group = a.sectionName()
				if a.eat(',') {
					if strings.HasPrefix(a.src[a.i:], "comdat") {
						a.i += len("comdat")
					} else {
						a.i--
					}
				}
			}
			save = a.i
			if a.eat(',') {
				if strings.HasPrefix(a.src[a.i:], "unique") {
					if a.i += len("unique"); a.eat(',') && a.digit() {
						n, _ := a.number()
						unique = fmt.Sprint(n)
					} else {
						a.fail("A number is missing behind unique")
					}
				} else {
					a.i = save
				}
			}
			decl.flags = attr
			decl.nobits = decl.typ == "nobits"
		} else {
			for {
				if !a.eat('#') {
					a.fail("Behind a section's name stand flags in double quotes")
					return 0, false
				}
				word := a.name()
				switch flag := flagWords[word]; word {
				case "alloc", "write", "execinstr", "exclude", "tls":
					if !strings.Contains(decl.flags, flag) {
						decl.flags += flag
					}
				case "progbits", "nobits":
					decl.typ = word
				}
				if !a.eat(',') {
					break
				}
			}
			decl.given = decl.flags != ""
		}
	}
done:
	if !a.end() {
		return 0, false
	}
	key := name
	if group != "" || unique != "" {
		key += "\x00" + group + "\x00" + unique
	}
	if len(p.secBy) > 30000 {
		return 0, false
	}
	_, old := p.secBy[key]
	if y := p.find(name); !old && y != nil && (y.label || y.common) {
		a.fail("The symbol " + name + " is defined already, and a section of that name is a symbol too")
		return 0, false
	}
	to := p.section(key)
	s := &p.secs[to]
	if !old {
		s.name = name
		s.exec = codeSection(name)
		s.decl.nobits = name == ".bss" || strings.HasPrefix(name, ".bss.") || name == ".sbss" || strings.HasPrefix(name, ".sbss.") || name == ".tbss" || strings.HasPrefix(name, ".tbss.")
	}
	if strings.Contains(decl.flags, "x") {
		s.exec = true
	}
	standard := standardSection(name)
	switch {
	case !decl.given && decl.typ == "":
	case !old || !s.decl.given && !standard && s.decl.flags == "":
		nobits := s.decl.nobits
		if old {
			p.sectionChange(it, s, &decl)
			break
		}
		s.decl = decl
		if decl.typ == "" || decl.typ == "progbits" && standard {
			s.decl.nobits = nobits
		}
	case !standard:
		p.sectionChange(it, s, &decl)
	}
	if sub != 0 {
		to = p.subsection(to, sub, it)
	}
	return to, true
}

// sectionChange reports flags that differ from those of the section.
func (p *pass) sectionChange(it *item, s *section, d *sectionDecl) {
	what := ""
	old, flags := s.decl.flags, d.flags
	typ := func(d *sectionDecl) string {
		if d.typ == "" {
			return "progbits"
		}
		return d.typ
	}
	switch {
	case d.typ != "" && typ(d) != typ(&s.decl):
		what = "type " + typ(&s.decl) + " already, not " + typ(d)
	case flags != "" && old != flags:
		what = "flags \"" + old + "\" already, not \"" + flags + "\""
	case strings.Contains(flags, "M") && s.decl.entsize != d.entsize:
		what = fmt.Sprintf("elements of %d bytes already, not of %d", s.decl.entsize, d.entsize)
	default:
		return
	}
	p.report(p.stmtLoc(it), codeDirective, "The section "+s.name+" has the "+what+".")
}

// sectionLetters sorts the letters of a section's flags; ok is false for a letter
// that is none.
func sectionLetters(letters string, clone *bool) (flags string, ok bool) {
	n := 0
	for i := 0; i < len(letters); i++ {
		c := letters[i]
		switch {
		case c == '?':
			*clone = true
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
		a.fail(a.d.Name + " needs a section's name")
	}
	return a.src[b:a.i]
}

// stored looks at what data put into places that hold none: a section without
// bytes in the file, and the record of .struct. what is "" for zeros.
func (p *pass) stored(it *item, what string) bool {
	s := &p.secs[p.secs[p.sec].main]
	switch {
	case what == "":
		return true
	case s.record:
		p.report(p.stmtLoc(it), codeDirective, it.stmt.Name+" gives "+what+" here, and the lines behind .struct take no memory: they count zeros only.")
		return false
	case s.decl.nobits:
		p.report(p.stmtLoc(it), codeDirective, fmt.Sprintf("%s gives %s here, and the section %s holds no bytes in the file.", it.stmt.Name, what, s.name))
		return false
	}
	return true
}

// holdsNothing says whether the present place takes zeros only.
func (p *pass) holdsNothing() bool {
	s := &p.secs[p.secs[p.sec].main]
	return s.record || s.decl.nobits
}

// zeros looks at the values of data where only zeros can stand.
func (p *pass) zeros(it *item) bool {
	for i := range it.stmt.Ops {
		o := &it.stmt.Ops[i]
		if o.Kind == isa.OpNone {
			continue
		}
		if v := p.eval(o, it); v.kind != vAbs || v.n != 0 {
			return p.stored(it, "a value")
		}
	}
	return true
}
