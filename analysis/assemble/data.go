package assemble

import (
	"strconv"
	"strings"
	"sync"

	"narrowgauge/analysis/assemble/layout"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// floats checks floating-point numbers and gives their size.
func (p *pass) floats(it *program.Item, l *syntax.Line) int64 {
	a := p.arguments(it, l)
	if a.peek() == 0 {
		return 0
	}
	n := int64(0)
	p.stored(it, wording.Floats)
	for {
		if a.peek() != ',' && a.peek() != 0 {
			a.float()
		}
		n += int64(a.directive.Unit)
		if a.failed || !a.eat(',') {
			break
		}
	}
	a.end()
	return n
}

// float reads a floating-point number: perhaps with 0f or the like in front, or inf
// and nan.
func (a *args) float() {
	b := a.i
	if a.directive.Name == ".packed" {
		a.fail(wording.NoPacked())
		return
	}
	s := a.src[a.i:]
	if len(s) > 1 && s[0] == '0' && (s[1]|0x20 >= 'a' && s[1]|0x20 <= 'z') {
		a.i += 2
		if b := a.i; !strings.ContainsRune(":+-", rune(a.peek())) && a.i > b {
			return // 0, and what follows the blank is too much
		}
		if a.peek() == ':' { // the bits as they are
			for a.i++; a.i < len(a.src) && (isName(a.src[a.i]) || a.src[a.i] == '_'); a.i++ {
			}
			return
		}
	}
	if a.i < len(a.src) && (a.src[a.i] == '+' || a.src[a.i] == '-') {
		a.i++
	}
	rest := strings.ToLower(a.src[a.i:min(a.i+8, len(a.src))])
	for _, w := range []string{"infinity", "inf", "nan"} {
		if strings.HasPrefix(rest, w) {
			a.i += len(w)
			return
		}
	}
	d := a.i
	digits := func() {
		for a.i < len(a.src) && a.src[a.i] >= '0' && a.src[a.i] <= '9' {
			a.i++
		}
	}
	digits()
	if a.i < len(a.src) && a.src[a.i] == '.' {
		a.i++
		digits()
	}
	mantissa := a.src[d:a.i]
	exp := ""
	if a.i < len(a.src) && a.src[a.i]|0x20 == 'e' {
		e := a.i
		a.i++
		if a.i < len(a.src) && (a.src[a.i] == '+' || a.src[a.i] == '-') {
			a.i++
		}
		digits()
		if exp = a.src[e:a.i]; len(strings.TrimLeft(exp, "eE+-")) == 0 {
			exp = ""
		}
	}
	if mantissa == "" || mantissa == "." {
		if a.i == b {
			a.fail(wording.NeedsFloat())
		}
		return
	}
	size := 64
	if a.directive.Unit <= 4 {
		size = 32
	}
	f, err := strconv.ParseFloat(mantissa+exp, size)
	if err == nil && a.directive.Name == ".float16" && (f > 65519) {
		err = strconv.ErrRange
	}
	if err != nil && a.directive.Unit <= 8 {
		a.fail(wording.FloatTooLarge(mantissa+exp, a.directive.Unit))
	}
}

// fillOf reads .dcb count, value and the like, and gives the size.
func (p *pass) fillOf(it *program.Item, l *syntax.Line) int64 {
	a := p.arguments(it, l)
	n, _ := a.number()
	if a.failed {
		return 0
	}
	if n < 0 {
		p.Warn(p.StmtLoc(it), finding.CodeDirective, wording.CannotRepeat(a.directive.Name, n))
		return 0
	}
	if !a.eat(',') {
		if a.peek() != 0 {
			a.shape()
			return 0
		}
		return n * int64(a.directive.Unit)
	}
	if a.directive.Float {
		p.stored(it, wording.Floats)
		a.float()
	} else {
		v, _ := a.value()
		if v.Kind == program.Undefined && v.Num != 0 && v.Back {
			a.fail(wording.NoLocal(v))
		}
		if p.holdsNothing() && (v.Kind != program.Number || v.N != 0) && n > 0 {
			p.stored(it, wording.AValue)
		}
	}
	a.end()
	return n * int64(a.directive.Unit)
}

// wideStrings gives the size of strings with characters of several bytes.
func (p *pass) wideStrings(it *program.Item) int64 {
	n, unit := int64(0), int64(it.Stmt.Directive.Unit)
	if len(it.Stmt.Ops) == 0 {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.NeedsString(it.Stmt.Directive.Name))
	} else {
		p.stored(it, wording.Text)
	}
	for i := range it.Stmt.Ops {
		o := &it.Stmt.Ops[i]
		if !o.IsStr {
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeDirective, wording.StringHere())
			continue
		}
		n += int64(len(o.Names.Str)) * unit
		if o.Bare { // a character by its number
			continue
		}
		if i+1 == len(it.Stmt.Ops) || p.commaAfter(p.Sources[it.File].File.Line(int(it.Line)), o) {
			n += unit
		}
	}
	return n
}

// fill handles .fill repeat, size, value.
func (p *pass) fill(it *program.Item) {
	ops := it.Stmt.Ops
	if len(ops) > 3 {
		p.more(it, 3)
		return
	}
	unit := int64(1)
	if len(ops) > 1 {
		unit = 0
		if ops[1].Kind != isa.OpNone {
			u, ok := p.count(it, 1, true, 0)
			if !ok {
				return
			}
			unit = min(max(u, 0), 8)
		}
	} else if n := len(ops); n == 1 && p.commaAfter(p.Sources[it.File].File.Line(int(it.Line)), &ops[0]) {
		unit = 0
	}
	if len(ops) > 2 && ops[2].Kind != isa.OpNone {
		v, ok := p.count(it, 2, true, 0)
		if !ok {
			return
		}
		if v != 0 && p.holdsNothing() {
			p.stored(it, wording.AValue)
		}
	}
	if len(ops) > 0 && ops[0].Kind == isa.OpNone {
		return
	}
	if n, ok := p.count(it, 0, true, 0); ok {
		p.grow(it, max(n, 0)*unit)
	} else {
		p.waitSpace(it, unit)
	}
}

// leb handles .uleb128 and .sleb128. A value that is not known yet has its size in
// the end: the size may depend on what is after.
func (p *pass) leb(it *program.Item) {
	n, wait := int64(0), false
	if len(it.Stmt.Ops) == 0 {
		p.stored(it, wording.Zeros)
		n = 1
	}
	for i := range it.Stmt.Ops {
		k, known := p.LebValue(it, &it.Stmt.Ops[i])
		n += k
		wait = wait || !known
	}
	if p.holdsNothing() && (p.Sections[p.currentSection].Record || !p.allZero(it)) {
		p.stored(it, wording.AValue)
	}
	p.grow(it, n)
	if wait {
		p.BreakAt(it)
		p.AddPoint(it, layout.PointLEB, 0)
		p.lebLater = append(p.lebLater, it.Index)
	}
}

// allZero says whether all values of data are known and zero.
func (p *pass) allZero(it *program.Item) bool {
	for i := range it.Stmt.Ops {
		if v := p.Value(&it.Stmt.Ops[i], it); it.Stmt.Ops[i].Kind != isa.OpNone && (v.Kind != program.Number || v.N != 0) {
			return false
		}
	}
	return true
}

// inst handles .inst, .inst.n and .inst.w: numbers that are machine code.
func (p *pass) inst(it *program.Item) {
	n := int64(0)
	d := it.Stmt.Directive
	if p.Sections[p.currentSection].Record {
		p.stored(it, wording.Code)
		return
	}
	if p.current.Mode == isa.A && d.Unit != 0 && !d.Lenient && len(it.Stmt.Ops) > 0 {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.InstThumbOnly(d.Name))
		return
	}
	if k := len(it.Stmt.Ops); !d.Lenient && k > 0 && p.commaAfter(p.Sources[it.File].File.Line(int(it.Line)), &it.Stmt.Ops[k-1]) {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.ValueAfterComma())
	}
	for i := range it.Stmt.Ops {
		o := &it.Stmt.Ops[i]
		v := p.Value(o, it)
		u := int64(d.Unit)
		bad := ""
		switch {
		case d.Lenient:
			if u == 0 {
				u = 4
				if p.current.Mode == isa.T && v.Kind == program.Number && v.N>>16 == 0 {
					u = 2
				}
			}
		case v.Kind != program.Number:
			bad = wording.NeedsKnownNumbers(d.Name)
		case p.current.Mode == isa.A:
			u = 4
		default:
			c := uint64(v.N)
			switch {
			case v.N < 0:
				c = uint64(uint32(v.N))
			}
			wide := c>>16 != 0
			switch {
			case u == 0 && !wide && c < 0xe800:
				u = 2
			case u == 0 && wide && c >= 0xe8000000 && c < 1<<32:
				u = 4
			case u == 0:
				bad = wording.SizeUnclear(uint64(v.N))
			case u == 2 && wide:
				bad = wording.HalfwordOnly(uint64(v.N))
			}
		}
		if bad != "" {
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeDirective, bad)
			if n > 0 {
				break
			}
			return
		}
		p.codeByNumber()
		n += u
	}
	it.Flags |= program.IsCode
	p.Sections[p.currentSection].Code = true
	p.grow(it, n)
}

// stopped handles what stops the assembly.
func (p *pass) stopped(it *program.Item, l *syntax.Line) {
	s, d := it.Stmt, it.Stmt.Directive
	switch d.Name {
	case ".fail":
		n, ok := p.count(it, 0, true, 0)
		switch {
		case !ok:
		case n >= 500:
			p.Warn(p.StmtLoc(it), finding.CodeDirective, wording.SourceWarns(n))
		default:
			p.Report(p.StmtLoc(it), finding.CodeDirective, wording.SourceStopsBy(n))
		}
		return
	case ".abort":
		p.Ended = true
	}
	m := wording.SourceStops("")
	if len(s.Ops) == 1 && s.Ops[0].IsStr {
		m = wording.SourceStops(s.Ops[0].Names.Str)
	}
	p.Report(p.StmtLoc(it), finding.CodeDirective, m)
}

// common handles .comm, .lcomm and the like.
func (p *pass) common(it *program.Item, l *syntax.Line) {
	a := p.arguments(it, l)
	name := a.symbol()
	if a.failed {
		return
	}
	a.eat(',') // which may be missing
	local := a.directive.Unit == 1
	size, ok := a.number()
	switch {
	case a.failed:
		return
	case !ok:
		a.fail(wording.NeedsSize(a.directive.Name))
		return
	case size < 0:
		p.Warn(p.StmtLoc(it), finding.CodeDirective, wording.NegativeSize(size))
		return
	}
	y := p.Symbol(name)
	align := int64(1)
	for align < 8 && align*2 <= size {
		align *= 2
	}
	if !local && a.eat(',') {
		if a.peek() == '"' {
			if s, _ := a.text(); s != ".bss" && s != "bss" && s != ".data" && s != "data" {
				a.shape()
				return
			}
		} else {
			n, ok := a.number()
			if !ok {
				a.shape()
				return
			}
			if n < 0 {
				p.Warn(p.StmtLoc(it), finding.CodeDirective, wording.AlignmentPower())
			} else if n&(n-1) != 0 {
				p.Warn(p.StmtLoc(it), finding.CodeDirective, wording.AlignmentNotPower(n))
				n = 1
			}
			align = max(n, 1)
		}
	}
	if !a.end() {
		return
	}
	switch {
	case y.Refers != "":
		a.fail(wording.AlreadyAlias(name, y.Refers))
		return
	case y.Defined:
		p.Duplicate(it, y, it.Stmt.Start, it.Stmt.End)
		return
	case local || y.Local && !strings.HasPrefix(a.directive.Name, ".tls"):
		p.allocate(it, y, size, align)
	default:
		y.Extern, y.Kind, y.Common = true, program.SymData, true
	}
}

// allocate gives a symbol room in the second part of .bss.
func (p *pass) allocate(it *program.Item, y *program.Symbol, size, align int64) {
	from, off := p.currentSection, it.Offset
	p.currentSection = p.subsection(p.section(".bss"), 1, it)
	p.Sections[p.Sections[p.currentSection].Main].Declaration.Nobits = true
	s := &p.Sections[p.currentSection]
	s.Declaration.Nobits = true
	p.moved(it)
	pad := -s.Size & (align - 1)
	p.AlignAt(p.currentSection, it.Index, s.Size, pad, align, 0, 0)
	it.Offset = s.Size
	s.Size += pad
	s.Align = max(s.Align, align)
	y.Defined, y.Label, y.Kind = true, true, program.SymData
	y.Value = program.Value{Kind: program.Address, Section: p.currentSection, N: s.Size, At: it.Index + 1, Symbol: y}
	y.Item, y.Columns = it.Index, stmtColumns(it)
	p.Gen++
	it.Size = pad + size
	s.Size += size
	p.currentSection = from
	_ = off
}

// symType handles .type name, kind.
func (p *pass) symType(it *program.Item, l *syntax.Line) {
	a := p.arguments(it, l)
	name := a.symbol()
	if a.failed {
		return
	}
	a.eat(',')
	typ := ""
	switch c := a.peek(); c {
	case '%', '#', '@':
		a.i++
		typ = a.typeWord()
	case '"':
		typ, _ = a.text()
	case 0:
		a.fail(wording.NeedsSymbolKind())
		return
	default:
		typ = a.typeWord()
	}
	y := p.Symbol(name)
	switch typ {
	case "function", "STT_FUNC", "2", "gnu_indirect_function", "STT_GNU_IFUNC", "10":
		y.Function = true
	case "object", "STT_OBJECT", "1":
		y.Object = true
	case "notype", "STT_NOTYPE", "0", "common", "STT_COMMON", "5", "tls_object", "STT_TLS", "6", "gnu_unique_object":
	default:
		a.fail(wording.NoSymbolKind(typ))
		return
	}
	a.end()
}

// typeWord reads a kind of symbol, which may be a number.
func (a *args) typeWord() string {
	a.skip()
	b := a.i
	for a.i < len(a.src) && isName(a.src[a.i]) {
		a.i++
	}
	return a.src[b:a.i]
}

// fillUnit is the unit in bytes that an alignment fills with.
func fillUnit(name string) int {
	switch name[len(name)-1] {
	case 'w':
		return 2
	case 'l':
		return 4
	}
	return 1
}

// dataRelocs are the relocations that .word takes after a value (AAELF32, and the
// ABI's notation for assemblers).
var dataRelocs = sync.OnceValue(func() map[string]bool {
	m := map[string]bool{}
	for _, n := range strings.Fields("got gotoff plt target1 target2 sbrel tlsgd tlsldm tlsldo gottpoff tpoff got_prel tlsdesc tlscall gotfuncdesc gotofffuncdesc funcdesc tlsgd_fdpic tlsldm_fdpic gottpoff_fdpic") {
		m[n] = true
		m[strings.ToUpper(n)] = true
	}
	return m
})

// dataReloc checks a relocation after a value of data.
func (p *pass) dataReloc(it *program.Item, o *syntax.Operand) bool {
	ok := true
	o.Expr.Walk(func(e *syntax.Expr) {
		if e.Op == syntax.ExprSub && e.Y.Op == syntax.ExprReloc && ok {
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeDirective, wording.RelocationOfOne())
			ok = false
		}
		if e.Y != nil && e.X.Op == syntax.ExprReloc && strings.EqualFold(e.X.Name, "plt") && ok {
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeDirective, wording.AddBefore(e.X.Name))
			ok = false
		}
		if e.Op != syntax.ExprReloc || !ok {
			return
		}
		switch name := it.Stmt.Directive.Name; {
		case name != ".word" && name != ".long":
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeDirective, wording.TakesNoRelocation(name))
			ok = false
		case !dataRelocs()[e.Name]:
			if p.Lacking && p.Sources[0].Preprocessed() {
				p.inexact() // perhaps a macro with arguments, of a file that was not found
				return
			}
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeDirective, wording.NoRelocation(e.Name))
			ok = false
		}
	})
	return ok
}

// doublewords looks at data of eight bytes. There is no relocation of that size, and
// the assembler takes what it does not know yet for one.
func (p *pass) doublewords(it *program.Item) {
	for i := range it.Stmt.Ops {
		o := &it.Stmt.Ops[i]
		if o.Known || o.Kind == isa.OpNone || o.IsStr {
			continue
		}
		switch v := p.Value(o, it); {
		case v.Kind == program.Undefined && v.Num != 0 && !v.Back:
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeUndefined, wording.NoAddress64())
		case v.Kind == program.Bad || v.Kind == program.Undefined && v.Num != 0:
			p.BadValue(it, o, v)
		case v.Kind == program.Big:
			if v.N > 64 {
				p.Warn(p.Loc(it, o.Start, o.End), finding.CodeDataRange, wording.KeepsLow(v.N, it.Stmt.Directive.Name, 64))
			}
		case v.Kind == program.Unknown && !v.Apart && v.Symbol == nil && v.Reloc == "":
		case v.Kind == program.Undefined && v.Symbol != nil && p.Find(v.Symbol.Name) != nil:
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeUndefined, wording.NeedsAbove64(v.Symbol.Name))
		case v.Kind != program.Number || v.Late:
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeUndefined, wording.NoAddress64())
		}
	}
}

// dataDirective handles .word and the like: its values, and its size.
func (p *pass) dataDirective(it *program.Item, l *syntax.Line) {
	s, d := it.Stmt, it.Stmt.Directive
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
	n *= int64(p.Unit(it))
	if d.Strings {
		for i := range s.Ops {
			if s.Ops[i].IsStr {
				n += int64(len(s.Ops[i].Names.Str)) - 1
			}
		}
	}
	p.grow(it, n)
}

// strings handles .ascii and the like.
func (p *pass) strings(it *program.Item, l *syntax.Line) {
	s, d := it.Stmt, it.Stmt.Directive
	n := int64(0)
	if len(s.Ops) == 0 {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.NeedsString(d.Name))
	}
	if p.holdsNothing() && len(s.Ops) > 0 && (p.Sections[p.currentSection].Record || len(s.Ops) > 1 || s.Ops[0].IsStr && s.Ops[0].Names.Str != "") {
		p.stored(it, wording.Text)
	}
	for i := range s.Ops {
		o := &s.Ops[i]
		if o.Kind == isa.OpNone && i == 0 {
			continue
		}
		if !o.IsStr {
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeDirective, wording.StringHere())
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
	p.grow(it, n)
}

// space handles .space and the like.
func (p *pass) space(it *program.Item) {
	s, d := it.Stmt, it.Stmt.Directive
	if len(s.Ops) > 2 && !d.Lenient {
		p.Report(p.Loc(it, s.Ops[2].Start, s.Ops[2].End), finding.CodeDirective, wording.SizeAndFill(d.Name))
	}
	if n, ok := p.count(it, 0, true, 0); ok {
		unit := int64(max(d.Unit, 1))
		switch {
		case n > layout.Most: // the product may not fit, either
			p.Report(p.StmtLoc(it), finding.CodeDirective, wording.TooManyBytes(n, unit))
		case n > 0:
			p.grow(it, n*unit)
		}
	} else {
		p.waitSpace(it, 1)
	}
	if len(s.Ops) > 1 {
		p.LookBack(it, &s.Ops[1])
	}
}
