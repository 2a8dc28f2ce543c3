package analysis

import (
	"fmt"
	"regexp"
	"strings"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// most is the largest amount that one directive may add; larger ones are
// reported and count as nothing, so that sums stay far from overflow.
const most = 1 << 32

// nameFirst looks at a directive behind the name that it is about, and says
// whether something is wrong with it.
func (p *pass) nameFirst(it *item, l *syntax.Line) bool {
	s, d := it.stmt, it.stmt.Dir
	if n := s.Start + int32(len(s.Name)); n < s.NameEnd && p.dialectOf(it) != syntax.Columns {
		p.warn(p.loc(it, n, s.NameEnd), codeSyntax, "This stands behind the name without a blank; assemblers read over it.")
	}
	rest := s.Rest(l)
	if strings.HasPrefix(rest, ".") && !strings.HasPrefix(rest, d.Name) {
		p.report(p.stmtLoc(it), codeDirective, d.Name+" is written in lower case alone.")
		return true
	}
	if d.Effect != syntax.EffReq {
		return false
	}
	if len(rest) > len(d.Name) {
		if c := strings.TrimSpace(rest[len(d.Name):])[0]; c < 0x80 && !isName(c) && !strings.ContainsRune(`'[]{}\`, rune(c)) {
			p.report(p.stmtLoc(it), codeDirective, ".req takes a register's name with nothing in front of it.")
			return true
		}
	}
	if s.Err != nil && !strings.HasPrefix(s.Name, ".") && len(s.Ops) > 0 {
		p.warn(p.stmtLoc(it), codeDirective, "No register is called so, and assemblers read over this .req.")
		return true
	}
	return false
}

// directive handles one directive in the first pass.
func (p *pass) directive(it *item, l *syntax.Line) {
	s, d := it.stmt, it.stmt.Dir
	if d.NameFirst && p.nameFirst(it, l) {
		return
	}
	if d.Args != syntax.ArgsText && d.Args != syntax.ArgsRaw && p.syntaxError(it) {
		return
	}
	if len(s.Ops) > 0 && d.Args == syntax.ArgsNone || len(s.Ops) > 1 && d.Effect == syntax.EffCode {
		p.report(p.stmtLoc(it), codeDirective, "More stands here than "+d.Usage+" takes.")
		if d.Effect != syntax.EffPop && d.Effect != syntax.EffPrevious { // which assemblers do all the same
			return
		}
	}
	if d.Effect >= syntax.EffArea {
		p.columnDirective(it, l)
		return
	}
	sec := &p.secs[p.sec]
	grow := func(n int64) {
		if n < 0 || n > most {
			p.report(p.stmtLoc(it), codeDirective, fmt.Sprintf("This adds %d bytes, which no 32-bit section holds.", n))
			return
		}
		it.size = n
		sec.size += n
	}
	switch d.Effect {
	case syntax.EffData:
		if !p.holdsNothing() || p.zeros(it) {
			p.data(it)
		}
		n := int64(len(s.Ops))
		if d.Args == syntax.ArgsText {
			n = 0
			if r := s.Rest(l); r != "" {
				n = int64(strings.Count(r, ",") + 1)
			}
		}
		n *= int64(p.unit(it))
		if d.Unit == 1 && d.Name[0] != '.' { // DCB takes strings as well
			for i := range s.Ops {
				if s.Ops[i].IsStr {
					n += int64(len(s.Ops[i].Names.Str)) - 1
				}
			}
		}
		grow(n)
	case syntax.EffFloat:
		grow(p.floats(it, l))
	case syntax.EffFillOf:
		grow(p.fillOf(it, l))
	case syntax.EffWide:
		grow(p.wideStrings(it))
	case syntax.EffString:
		n := int64(0)
		if len(s.Ops) == 0 {
			p.report(p.stmtLoc(it), codeDirective, d.Name+" needs a string in double quotes.")
		}
		if p.holdsNothing() && len(s.Ops) > 0 && (p.secs[p.sec].record || len(s.Ops) > 1 || s.Ops[0].IsStr && s.Ops[0].Names.Str != "") {
			p.stored(it, "text")
		}
		for i := range s.Ops {
			o := &s.Ops[i]
			if o.Kind == isa.OpNone && i == 0 {
				continue
			}
			if !o.IsStr {
				p.report(p.loc(it, o.Start, o.End), codeDirective, "A string in double quotes is expected here.")
				continue
			}
			n += int64(len(o.Names.Str))
			if o.Bare { // a character by its number
				continue
			}
			if i+1 == len(s.Ops) || p.commaAfter(l, o) {
				n += int64(d.Unit)
			}
		}
		grow(n)
	case syntax.EffSpace:
		if len(s.Ops) > 2 && d.Name[0] == '.' {
			p.report(p.loc(it, s.Ops[2].Start, s.Ops[2].End), codeDirective, d.Name+" takes a size and a fill value, and this is a third argument.")
		}
		if n, ok := p.count(it, 0, true, 0); ok {
			if n > 0 {
				grow(min(n, most+1) * int64(max(d.Unit, 1)))
			}
		} else {
			p.waitSpace(it, 1)
		}
		if len(s.Ops) > 1 {
			p.lookBack(it, &s.Ops[1])
		}
	case syntax.EffFill:
		p.fill(it, grow)
	case syntax.EffLEB:
		p.leb(it, grow)
	case syntax.EffInst:
		p.inst(it, grow)
	case syntax.EffNop:
		it.flags |= fCode
		sec.code = true
		if p.secs[p.sec].record {
			break
		}
		if p.cur.mode == isa.T {
			grow(2)
		} else {
			grow(4)
		}
	case syntax.EffCheck:
		p.checkArguments(it, l)
	case syntax.EffAlignPow, syntax.EffAlignByte, syntax.EffEven:
		if d.Name[0] != '.' {
			p.columnAlign(it, grow)
			return
		}
		p.align(it, grow)
	case syntax.EffOrg:
		if len(s.Ops) > 2 {
			p.more(it, 2)
		} else if len(s.Ops) > 0 && s.Ops[0].Kind != isa.OpNone {
			p.org(it, &s.Ops[0])
			p.count(it, 1, true, 0)
		} else {
			p.report(p.stmtLoc(it), codeDirective, ".org needs an offset.")
		}
	case syntax.EffPool:
		p.flush(p.sec, it.id)
	case syntax.EffSection, syntax.EffPush, syntax.EffPop, syntax.EffPrevious, syntax.EffSubsection, syntax.EffStruct:
		p.sectionDirective(it, l)
	case syntax.EffSet, syntax.EffThumbSet:
		if len(s.Ops) < 2 || s.Ops[0].Word == "" && (s.Ops[0].Expr == nil || s.Ops[0].Expr.Op != syntax.ExprDot) {
			p.report(p.stmtLoc(it), codeDirective, d.Name+" needs a name and a value.")
			return
		}
		o := &s.Ops[0]
		name := o.Word
		if name == "" {
			name = "."
		}
		if y := p.thumbName(d, name); y != nil && y.label {
			// Assemblers move the label.
			p.warn(p.loc(it, o.Start, o.End), codeDuplicate, "The symbol "+name+" is a label already, "+p.where(y.at.Location, it)+"; it goes on with this value.")
			y.label = false
		}
		p.assign(it, name, o.Start-s.Start, o.End-s.Start, s.Ops[1:], d.Unit == 0)
		if name == "." {
			return
		}
		if d.Effect == syntax.EffThumbSet {
			y := p.symbol(o.Word)
			y.fn, y.thumbFn, y.mode = true, true, isa.T
		}
	case syntax.EffGlobal, syntax.EffExtern:
		if len(s.Ops) == 0 && d.Effect == syntax.EffGlobal {
			p.report(p.stmtLoc(it), codeDirective, d.Name+" needs a symbol's name.")
		}
		if d.Effect == syntax.EffExtern && d.Name[0] == '.' {
			// Assemblers read over it; so do we, but for the names.
			for _, w := range strings.FieldsFunc(s.Rest(l), func(r rune) bool { return r < 0x80 && !isName(byte(r)) }) {
				if w[0] < '0' || w[0] > '9' {
					p.symbol(w).extern = true
				}
			}
			return
		}
		for i := range s.Ops {
			o := &s.Ops[i]
			switch {
			case o.Word == "" && d.Name[0] != '.':
				p.attributes(it, o, symbolAttributes)
				continue
			case o.Word == "":
				p.report(p.loc(it, o.Start, o.End), codeDirective, d.Name+" takes the names of symbols.")
				return
			}
			y := p.symbol(o.Word)
			if d.Effect == syntax.EffExtern {
				y.extern = true
				continue
			}
			y.global = true
			y.weak = y.weak || d.Name == ".weak" || d.Name[0] != '.' && d.Unit == 1
		}
	case syntax.EffComm:
		if d.Name[0] == '.' {
			p.common(it, l)
		} else if len(s.Ops) > 0 && s.Ops[0].Word != "" {
			y := p.symbol(s.Ops[0].Word)
			y.extern, y.kind = true, SymData
		}
	case syntax.EffType:
		p.symType(it, l)
	case syntax.EffSize:
		if len(s.Ops) != 2 || s.Ops[0].Word == "" || s.Ops[1].Kind == isa.OpNone {
			if len(s.Ops) != 2 || s.Ops[0].Expr == nil || s.Ops[0].Expr.Op != syntax.ExprDot {
				p.report(p.stmtLoc(it), codeDirective, ".size needs a symbol's name and a size.")
			}
			return
		}
		p.sizeLater = append(p.sizeLater, it.id)
		if !s.Ops[1].Known {
			p.lookBack(it, &s.Ops[1])
		}
	case syntax.EffThumbFunc:
		p.funcTag = true
		if e := p.cur; e.mode == isa.A {
			e.mode = isa.T // so assemblers have it, whatever the target is
			p.setEnv(e)
		}
	case syntax.EffThumb, syntax.EffArm, syntax.EffCode:
		p.modeSwitch(it, grow)
	case syntax.EffSyntax:
		e := p.cur
		switch {
		case len(s.Ops) == 1 && strings.EqualFold(s.Ops[0].Word, "unified"):
			e.unified = true
		case len(s.Ops) == 1 && strings.EqualFold(s.Ops[0].Word, "divided"):
			e.unified = false
		default:
			p.report(p.stmtLoc(it), codeDirective, ".syntax takes unified or divided.")
		}
		p.setEnv(e)
	case syntax.EffCPU, syntax.EffArch, syntax.EffFPU, syntax.EffArchExt:
		p.targetDirective(it, l)
	case syntax.EffReq:
		p.req(it)
	case syntax.EffTyped:
		if strings.HasPrefix(s.Name, ".") || !strings.ContainsAny(strings.TrimSpace(s.Rest(l)), " \t") {
			p.report(p.stmtLoc(it), codeDirective, d.Usage+" is written with a name in front and a register behind it.")
			return
		}
		p.typedAlias(it, l)
	case syntax.EffUnreq:
		w := ""
		if len(s.Ops) == 1 {
			w = s.Ops[0].Word
		}
		if _, ok := p.aliases[w]; !ok && p.vectors[w] == "" && p.words[w] == "" && (len(s.Ops) != 1 || s.Ops[0].Kind != isa.OpReg) {
			p.report(p.stmtLoc(it), codeDirective, "No .req gave this name to a register.")
			return
		}
		p.unreq(it, w)
	case syntax.EffInclude:
		p.include(it)
	case syntax.EffIncbin:
		p.incbin(it, l, grow)
	case syntax.EffEndm, syntax.EffEndr:
		if s.Rest(l) != "" {
			p.report(p.stmtLoc(it), codeDirective, d.Name+" takes nothing behind it, and ends nothing that was begun.")
			return
		}
		p.warn(p.stmtLoc(it), codeDirective, d.Name+" ends nothing that was begun.")
	case syntax.EffEnd:
		p.ended = true
	case syntax.EffError:
		p.stopped(it, l)
	}
}

// moved notes that the item stands in another section than it was put in.
func (p *pass) moved(it *item) {
	if it.sec == p.sec {
		return
	}
	o := p.order[it.sec]
	p.order[it.sec] = o[:len(o)-1]
	it.sec, it.off = p.sec, p.secs[p.sec].size
	p.order[p.sec] = append(p.order[p.sec], it.id)
}

// codeSection says whether a section is one for code by its name alone (System V
// ABI, "Special Sections").
func codeSection(name string) bool {
	return name == ".text" || strings.HasPrefix(name, ".text.") || name == ".init" || name == ".fini"
}

func (p *pass) commaAfter(l *syntax.Line, o *syntax.Operand) bool {
	return strings.HasPrefix(strings.TrimLeft(l.Text[o.End:], " \t"), ",")
}

// count evaluates argument i, which has to be a number now.
func (p *pass) count(it *item, i int, optional bool, def int64) (int64, bool) {
	if i >= len(it.stmt.Ops) || it.stmt.Ops[i].Kind == isa.OpNone {
		if !optional {
			p.report(p.stmtLoc(it), codeDirective, it.stmt.Dir.Name+" needs a number.")
		}
		return def, optional
	}
	o := &it.stmt.Ops[i]
	v := p.eval(o, it)
	space := i == 0 && (it.stmt.Dir.Effect == syntax.EffSpace || it.stmt.Dir.Effect == syntax.EffFill)
	if v.late && space && !p.settled() {
		p.countLater = append(p.countLater, it.id)
		return def, false
	}
	if v.kind == vAbs {
		return v.n, true
	}
	if v.kind == vUnknown {
		p.secs[p.sec].exact = false
		if v.apart {
			p.report(p.loc(it, o.Start, o.End), codeUndefined, "The distance between two sections is known only to the linker, and "+it.stmt.Dir.Name+" cannot wait for it.")
		}
		return def, false
	}
	if v.kind == vUndef && !p.settled() && space {
		// Assemblers wait for a distance between labels below; so do we.
		p.countLater = append(p.countLater, it.id)
		return def, false
	}
	p.secs[p.sec].exact = false
	if v.kind == vUndef && v.sym != nil {
		p.report(p.loc(it, o.Start, o.End), codeUndefined, it.stmt.Dir.Name+" needs the value of "+v.sym.name+" here, and no line above defines it.")
	} else {
		p.badValue(it, o, v)
	}
	return def, false
}

// waitSpace notes a space whose size, in units, waits for the layout.
func (p *pass) waitSpace(it *item, unit int64) {
	if n := len(p.countLater); n > 0 && p.countLater[n-1] == it.id {
		s := &p.secs[p.sec]
		s.breakAt(it.id)
		s.addPoint(it, pointSpace, 0).behind = unit
	}
}

func (p *pass) align(it *item, grow func(int64)) {
	s, d := it.stmt, it.stmt.Dir
	n := int64(2)
	effect := d.Effect
	if effect == syntax.EffAlignPow && p.cur.alignBytes && d.Name == ".align" {
		effect = syntax.EffAlignByte
	}
	switch effect {
	case syntax.EffEven:
	case syntax.EffAlignByte:
		if len(s.Ops) == 0 {
			return
		}
		v, ok := p.count(it, 0, true, 0)
		if !ok {
			return
		}
		if v < 0 || v&(v-1) != 0 || v > 1<<31 {
			p.report(p.loc(it, s.Ops[0].Start, s.Ops[0].End), codeDirective, fmt.Sprintf("%s takes a power of two, and %d is none.", d.Name, v))
			return
		}
		n = max(v, 1)
	default:
		v := int64(2)
		if len(s.Ops) > 0 && s.Ops[0].Kind != isa.OpNone {
			w, ok := p.count(it, 0, true, 0)
			if !ok {
				return
			}
			v = w
			if v == 0 && d.Name == ".align" {
				v = 2 // .align 0 means a word, as assemblers for this core have it
			}
		} else if d.Name != ".align" {
			v = 0
		}
		if v < 0 || v > 31 {
			p.warn(p.loc(it, s.Ops[0].Start, s.Ops[0].End), codeDirective, fmt.Sprintf("%s takes a power of 0–31, which means 2 to that power; assemblers read %d as 31.", d.Name, v))
			v = 31
		}
		n = 1 << v
	}
	sec := &p.secs[p.sec]
	if len(s.Ops) > 3 {
		p.more(it, 3)
		return
	}
	if len(s.Ops) > 1 && s.Ops[1].Kind != isa.OpNone {
		if _, ok := p.count(it, 1, true, 0); ok && fillUnit(d.Name) > 1 {
			p.fillLater = append(p.fillLater, it.id)
		}
	}
	pad, limit := -sec.size&(n-1), int64(0)
	if len(s.Ops) > 2 {
		if lim, ok := p.count(it, 2, true, 0); ok && lim > 0 {
			limit = lim
		}
	}
	if limit > 0 && pad > limit {
		pad = 0
	}
	sec.align = max(sec.align, n)
	sec.alignAt(it.id, sec.size, pad, n, limit, 0)
	grow(pad)
}

// org moves the location counter.
func (p *pass) org(it *item, o *syntax.Operand) {
	v := p.eval(o, it)
	sec := &p.secs[p.sec]
	if sec.record {
		if v.kind != vAbs {
			p.badValue(it, o, v)
			return
		}
		sec.size = v.n
		return
	}
	if v.kind == vUndef {
		p.lookBack(it, o)
		// Assemblers wait for what stands below.
		sec.breakAt(it.id)
		sec.addPoint(it, pointOrg, opIndex(it, o))
		return
	}
	switch {
	case v.kind == vAbs, v.kind == vRel && p.secs[v.sec].main == sec.main:
		if sec.sub != 0 || len(sec.points) > 0 || p.cur.have&(isa.FeatT32|isa.FeatMovW) != 0 {
			sec.breakAt(it.id)
			sec.addPoint(it, pointOrg, opIndex(it, o)) // takes no room at first
			return
		} else if v.n < sec.size && sec.exact {
			p.orgBack(it, o, sec.size, v.n)
			return
		}
		it.size = max(v.n-sec.size, 0)
		sec.size += it.size
		sec.breakAt(it.id)
	case v.kind == vUnknown:
		sec.exact = false
	default:
		sec.exact = false
		p.badValue(it, o, v)
	}
}

// opIndex is the index of an operand of an item.
func opIndex(it *item, o *syntax.Operand) int {
	for i := range it.stmt.Ops {
		if o == &it.stmt.Ops[i] {
			return i
		}
	}
	return 0
}

func (p *layouter) orgBack(it *item, o *syntax.Operand, at, to int64) {
	p.report(p.loc(it, o.Start, o.End), codeDirective, fmt.Sprintf(".org moves forward only: the section is at offset %d already, and this says %d.", at, to))
}

func (p *pass) modeSwitch(it *item, grow func(int64)) {
	s := it.stmt
	to := isa.T
	switch s.Dir.Effect {
	case syntax.EffArm:
		to = isa.A
	case syntax.EffCode:
		v, ok := p.count(it, 0, false, 0)
		if !ok {
			return
		}
		if v != 16 && v != 32 {
			p.report(p.loc(it, s.Ops[0].Start, s.Ops[0].End), codeDirective, fmt.Sprintf(".code takes 16 (T16) or 32 (A32); %d is neither.", v))
			return
		}
		if v == 32 {
			to = isa.A
		}
	}
	e := p.cur
	switch { // what is in force already may be named again
	case to == e.mode:
	case to == isa.A && !e.have.Has(isa.FeatA32):
		p.report(p.stmtLoc(it), codeNotOnArch, "A32 code does not exist on "+e.target+", which has the compact state alone.")
	case to == isa.T && !e.have.Has(isa.FeatT16):
		p.report(p.stmtLoc(it), codeNotOnArch, noCompact(e.target))
	}
	if e.mode == isa.T && to == isa.A {
		// The assembler aligns to a word here by itself.
		s := &p.secs[p.sec]
		pad := -s.size & 3
		s.alignAt(it.id, s.size, pad, 4, 0, 0)
		grow(pad)
		p.secs[p.sec].align = max(p.secs[p.sec].align, 4)
	}
	e.mode = to
	if n := s.Dir.Name; n[0] != '.' {
		e.unified = n != "CODE16"
	}
	p.setEnv(e)
}

// targetDirective reads .arch, .cpu, .fpu and .arch_extension. Their names are
// in lower case, and none has an extension behind '+', which the command line
// takes alone.
func (p *pass) targetDirective(it *item, l *syntax.Line) {
	s := it.stmt
	name := s.Rest(l)
	e := p.cur
	choose, all, what := e.sel.SelectArch, isa.ArchNames, "architecture"
	switch s.Dir.Effect {
	case syntax.EffCPU:
		choose, all, what = e.sel.SelectCPU, isa.CPUNames, "core"
	case syntax.EffFPU:
		choose, all, what = e.sel.SelectFPU, isa.FPUNames, "floating-point unit"
	case syntax.EffArchExt:
		choose, all, what = e.sel.Extend, e.sel.Extensions, "extension"
	}
	m := ""
	base, _, plus := strings.Cut(name, "+")
	switch {
	case name == "":
		m = s.Name + " needs a name behind it"
	case name == "all" || !choose(name):
		m = "No " + what + " is called " + name
		if s.Dir.Effect == syntax.EffArchExt && isa.KnowsExtension(name) {
			m = e.target + " has no extension " + name
			if !e.chosen {
				m = p.targetName(it) + ", has no extension " + name
			}
		} else if plus && (s.Dir.Effect == syntax.EffArch || s.Dir.Effect == syntax.EffCPU) && choose(base) {
			m = s.Name + " takes a name alone; extensions stand behind .arch_extension, one to a line"
		} else if n := near(name, all()); len(n) > 0 {
			m += "; near names: " + strings.Join(n, ", ")
		}
	}
	if m != "" {
		p.report(p.stmtLoc(it), codeDirective, m+".")
		return
	}
	switch s.Dir.Effect {
	case syntax.EffArch, syntax.EffCPU:
		e.target, e.chosen = name, true
	}
	e.have = e.sel.Have()
	p.setEnv(e)
}

// coprocessorWord are the registers beside those of the core and of vectors that
// .req gives other names to.
var coprocessorWord = regexp.MustCompile(`(?i)^(p|c|cr|wr)(\d|1[0-5])$|^(f[0-7]|acc0|fpsid|fpscr|fpexc|fpinst2?|mvfr[0-2])$`)

func (p *pass) req(it *item) {
	s := it.stmt
	if len(s.Ops) == 0 {
		p.report(p.stmtLoc(it), codeDirective, ".req needs a register.")
		return
	}
	if len(s.Ops) > 1 {
		p.warn(p.stmtLoc(it), codeDirective, "No register is called so, and assemblers read over this .req.")
		return
	}
	if m, _ := isa.Find(lower(s.Name)); m != nil {
		p.report(p.nameLoc(it), codeDirective, s.Name+" is an instruction, and no name for a register.")
		return
	}
	o := &s.Ops[0]
	r := o.Reg
	if o.Kind != isa.OpReg {
		var ok bool
		if r, ok = p.alias(o.Word); !ok {
			// A register of floating point, or of a coprocessor.
			if !p.vectorAlias(it, o.Word) && coprocessorWord.MatchString(o.Word) {
				if p.words == nil {
					p.words = map[string]string{}
				}
				for _, n := range spellings(s.Name) {
					p.words[n] = lower(o.Word)
				}
			}
			return
		}
	}
	if p.aliases == nil {
		p.aliases = map[string]isa.Reg{}
	}
	if before, ok := p.aliases[s.Name]; ok {
		if before != r {
			p.warn(p.nameLoc(it), codeDuplicate, fmt.Sprintf("%s is %s already, and stays so: assemblers read over a second .req without an .unreq between.", s.Name, before))
		}
		return
	}
	// All-lower and all-upper spellings of the name work too.
	for _, n := range spellings(s.Name) {
		if _, ok := p.aliases[n]; !ok {
			p.aliases[n] = r
		}
	}
	y := p.symbol(s.Name)
	if !y.defined {
		y.kind, y.item, y.at = SymRegister, it.id, p.nameLoc(it)
	}
}

func (p *pass) include(it *item) {
	s := it.stmt
	if len(s.Ops) != 1 || !s.Ops[0].IsStr {
		p.report(p.stmtLoc(it), codeDirective, ".include needs one file name in double quotes.")
		return
	}
	name := s.Ops[0].Names.Str
	at := p.loc(it, s.Ops[0].Start, s.Ops[0].End)
	it.flags |= fOpaque // until it is read
	if p.depth > 50 {
		p.report(at, codeInclude, "The includes are nested more than 50 deep.")
		return
	}
	from := p.sources[it.file].path
	var f *syntax.File
	var path string
	ok := false
	if p.in.Load != nil {
		path, f, ok = p.in.Load(Wanted{From: from, Name: name})
	}
	if !ok {
		p.missing(at, Wanted{From: from, Name: name})
		p.lacking = true
		return
	}
	for up := it.file; ; {
		if p.sources[up].path == path {
			p.report(at, codeInclude, "The file "+name+" includes itself.")
			return
		}
		if p.sources[up].from < 0 {
			break
		}
		up = p.items[p.sources[up].from].file
	}
	if !p.affords(path, f, at) {
		return
	}
	it.flags &^= fOpaque
	p.constantsFile(path, f.As(p.dialectOf(it)), nil, it.id)
}

// data notes data whose values wait for symbols; they are looked at when all
// symbols are known.
func (p *pass) data(it *item) {
	if d := it.stmt.Dir; d.Unit == 8 && d.Name[0] == '.' {
		p.doublewords(it)
		return
	}
	for i := range it.stmt.Ops {
		o := &it.stmt.Ops[i]
		if o.Known {
			p.dataRange(it, o, o.Imm)
		} else if o.Kind != isa.OpNone && !p.constant(it, o) {
			p.dataLater = append(p.dataLater, argument{it.id, int32(i)})
		}
	}
}

// constant says whether an argument has its value now, and checks it: a loop
// may give the names in it others later, and what waits has to fit.
func (p *pass) constant(it *item, o *syntax.Operand) bool {
	v := p.eval(o, it)
	if v.kind == vBig {
		if unit := p.unit(it); v.n > int64(unit)*8 {
			p.warn(p.loc(it, o.Start, o.End), codeDataRange, fmt.Sprintf("This number has %d bits, and %s keeps the low %d.", v.n, it.stmt.Dir.Name, unit*8))
		}
		return true
	}
	if v.firm {
		p.badValue(it, o, v)
		return true
	}
	if v.kind != vAbs || v.late {
		return false
	}
	p.dataRange(it, o, v.n)
	return true
}

func (p *pass) dataRange(it *item, o *syntax.Operand, v int64) {
	unit := p.unit(it)
	if unit >= 8 {
		return
	}
	lo, hi := -(int64(1) << (unit*8 - 1)), int64(1)<<(unit*8)-1
	if v < -hi || v > hi {
		p.warn(p.loc(it, o.Start, o.End), codeDataRange, fmt.Sprintf("%s holds %d–%d; of %s only the low %d bits are kept.", it.stmt.Dir.Name, lo, hi, num(v), unit*8))
	}
}

// notNumber says what a value is that is no number.
func notNumber(v value) string {
	switch {
	case v.apart, v.why == linkersDistance:
		return "the distance between two sections"
	case v.kind == vRel:
		return "an address"
	case v.kind == vUndef && v.sym != nil:
		return "not known: " + v.sym.name + " is not defined in this file"
	}
	return "none"
}

// resolveData looks at the data and sizes that waited.
func (p *pass) resolveData() {
	for _, i := range p.countLater {
		it := &p.items[i]
		p.sec = it.sec
		switch v := p.eval(&it.stmt.Ops[0], it); {
		case v.kind != vUnknown:
			p.count(it, 0, true, 0)
		case v.apart:
			p.report(p.loc(it, it.stmt.Ops[0].Start, it.stmt.Ops[0].End), codeUndefined, "The distance between two sections is known only to the linker, and "+it.stmt.Dir.Name+" cannot wait for it.")
		}
	}
	var last map[string]int32 // .size of a symbol: what a later one says holds
	for _, i := range p.sizeLater {
		it := &p.items[i]
		p.sec = it.sec
		o := &it.stmt.Ops[1]
		if v := p.eval(o, it); v.kind == vRel || v.kind == vUndef && !(v.num != 0 && v.back) || v.kind == vUnknown && v.apart || v.kind == vBad && !v.mild {
			if last == nil {
				last = map[string]int32{}
				for _, k := range p.sizeLater {
					last[p.items[k].stmt.Ops[0].Word] = k
				}
			}
			if last[it.stmt.Ops[0].Word] != i {
				continue
			}
			p.report(p.loc(it, o.Start, o.End), codeUndefined, "The size of a symbol is a number in the end, and this is "+notNumber(v)+".")
		}
	}
	for _, i := range p.lebLater {
		it := &p.items[i]
		p.sec = it.sec
		for k := range it.stmt.Ops {
			o := &it.stmt.Ops[k]
			if v := p.eval(o, it); o.Kind != isa.OpNone && (v.kind == vUndef || v.kind == vRel) {
				p.report(p.loc(it, o.Start, o.End), codeUndefined, it.stmt.Dir.Name+" needs a number, and this is none in the end.")
			}
		}
	}
	for _, i := range p.fillLater {
		it := &p.items[i]
		if u := int64(fillUnit(it.stmt.Dir.Name)); it.size%u != 0 && p.secs[it.sec].exact {
			p.report(p.stmtLoc(it), codeDirective, fmt.Sprintf("%s fills in units of %d bytes, and the gap here has %d.", it.stmt.Dir.Name, u, it.size))
		}
	}
	p.resolvePlaced()
	for _, w := range p.dataLater {
		it := &p.items[w.item]
		o := &it.stmt.Ops[w.op]
		if o.IsStr || !p.dataReloc(it, o) {
			continue
		}
		v := p.eval(o, it)
		switch v.kind {
		case vAbs:
			if unit := p.unit(it); unit < 4 && (v.n <= -(1<<(unit*8)) || v.n >= 1<<(unit*8)) {
				p.report(p.loc(it, o.Start, o.End), codeDataRange, fmt.Sprintf("%s holds %d–%d, and %s, which is known in the end only, does not fit.", it.stmt.Dir.Name, -(int64(1)<<(unit*8-1)), int64(1)<<(unit*8)-1, num(v.n)))
			}
			continue
		}
		if it.stmt.Dir.Unit == 8 && v.kind != vBad {
			p.report(p.loc(it, o.Start, o.End), codeUndefined, "A doubleword holds no address: there is no 64-bit relocation.")
			continue
		}
		if unit := p.unit(it); unit < 4 && (v.kind == vRel || v.kind == vUndef && !v.mixed && v.num == 0) {
			// The object file keeps what is added in the place itself.
			n := v.n
			if v.kind == vRel && v.sym != nil && v.sym.global {
				n -= v.sym.val.n
			}
			n = int64(int32(n))
			if n <= -(1<<(unit*8)) || n >= 1<<(unit*8) {
				p.report(p.loc(it, o.Start, o.End), codeDataRange, fmt.Sprintf("%s has no room for %s, which the linker is to add an address to.", it.stmt.Dir.Name, num(n)))
				continue
			}
		}
		switch v.kind {
		case vUndef:
			p.external(it, o, v)
		case vBad:
			p.badValue(it, o, v)
		}
	}
}

// conditional handles .if and its kin. A condition that cannot be computed
// counts as true, and its else part as true as well: nothing is hidden.
func (p *pass) conditional(file int32, line int32, l *syntax.Line, s *syntax.Stmt) {
	src := &p.sources[file]
	start := src.file.LineStart(int(line))
	behind := start + len(l.Text) // the end of the line
	if src.unit != nil {
		behind = src.unit.LineEnd(int(line))
	}
	at := p.stmtLoc(&item{stmt: s, line: line, file: file})
	end := start
	close := func(c *cond) {
		if c.from >= 0 && end > c.from && src.exp == nil {
			p.inactive = append(p.inactive, inactive{file, Span{c.from, end}})
		}
		c.from = -1
	}
	n := len(p.conds)
	switch s.Dir.Effect {
	case syntax.EffIf:
		c := cond{outer: p.active(), item: at, from: -1, nest: p.nest}
		if c.outer || ofText(s.Dir.Name) { // whose form counts where they are left out, too
			c.active = p.condition(file, line, l, s) && c.outer
			c.done = c.active
		}
		if c.outer && !c.active {
			p.turns++
			c.from, c.turn = behind, p.turns
		}
		p.conds = append(p.conds, c)
		return
	case syntax.EffEndif:
		if n == 0 {
			p.report(at, codeDirective, "No .if stands before this .endif.")
			return
		}
		if s.Reduced(l) != "" {
			p.report(at, codeDirective, ".endif takes nothing behind it.")
		}
		close(&p.conds[n-1])
		p.conds = p.conds[:n-1]
		return
	case syntax.EffElse:
		if s.Reduced(l) != "" {
			p.report(at, codeDirective, ".else takes nothing behind it; .elseif takes a condition.")
		}
	}
	if n == 0 {
		p.report(at, codeDirective, "No .if stands before this "+s.Dir.Name+".")
		return
	}
	c := &p.conds[n-1]
	if c.last {
		p.report(at, codeDirective, "The .else of this .if stands above already.")
	}
	c.last = s.Dir.Effect == syntax.EffElse
	close(c)
	c.active = false
	if c.outer && !c.done {
		c.active = s.Dir.Effect == syntax.EffElse || p.condition(file, line, l, s)
		c.done = c.active
	}
	if c.outer && !c.active {
		p.turns++
		c.from, c.turn = behind, p.turns
	}
}
