package analysis

import (
	"sort"
	"strconv"
	"strings"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// symbol is a name of the program.
type symbol struct {
	name    string
	kind    SymbolKind
	defined bool
	label   bool // marks a place
	fn      bool // marked as a function: bit 0 is set for T16 code
	auto    bool // bit 0 is set by itself where it names T16 code
	thumbFn bool // .thumb_func
	object  bool // .type %object
	global  bool // or weak
	weak    bool
	extern  bool
	reset   bool // defined more than once by .set
	mode    isa.State
	val     value
	expr    *syntax.Operand // .equ with a value that is not known yet
	item    int32           // the defining item, -1
	at      Location        // the name at its definition
	busy    bool            // being resolved
	memo    value           // the value of expr while memoGen is the program's
	memoGen int32
	told    bool   // reported as external
	once    bool   // .equiv and its kin: the value stays
	local   bool   // .local
	common  bool   // .comm
	refers  string // .weakref: what it stands for
	past    []pastValue
}

// pastValue is a value that .set has given and then replaced. What uses the symbol
// has the value of its own place; what stands before all of them has the first.
type pastValue struct {
	item int32
	val  value
	expr *syntax.Operand
}

// maxPast bounds the values kept of one symbol: a loop may set it often.
const maxPast = 10000

// valueAt is the symbol's value where an item stands that is above its last
// definition.
func (p *pass) valueAt(s *symbol, id int32, depth int) value {
	k := sort.Search(len(s.past), func(k int) bool { return s.past[k].item > id })
	if k > 0 {
		k--
	}
	x := &s.past[k]
	if x.expr == nil {
		return p.placed(x.val)
	}
	if depth > maxDepth || s.busy {
		return value{kind: vBad, sym: s, why: "The value of " + s.name + " depends on itself."}
	}
	s.busy = true
	v := p.evalAt(x.expr, &p.items[x.item], depth+1)
	s.busy = false
	return v
}

type valKind uint8

const (
	vUndef   valKind = iota // hangs on a symbol that is not defined (sym)
	vAbs                    // a number
	vRel                    // an offset in a section
	vUnknown                // only the linker, or nobody, knows
	vBad                    // cannot be computed; sym or reason says why
	vBig                    // a number of more than 64 bits; n is how many
)

// value is what an expression comes to.
type value struct {
	kind valKind
	sec  int16
	n    int64
	sym  *symbol // the symbol it hangs on
	why  string  // vBad: a sentence
	mild bool    // vBad: assemblers go on with 0
	num  int32   // vUndef by a numeric local label: its number + 1
	back bool
	// mixed: vUndef by more than a symbol and a number added to it, which no
	// linker can supply.
	mixed bool
	reloc string // vUnknown by a relocation operator: its name
	at    int32  // vRel: the item that it moves with
	// apart: vUndef by a distance across something that may still grow.
	apart bool
	// late: vAbs, and the assembler computes it at the end only.
	late bool
}

func (p *pass) symbol(name string) *symbol {
	s := p.syms[name]
	if s == nil {
		s = &symbol{name: name, item: -1}
		p.syms[name] = s
	}
	return s
}

// label defines the label of it.
func (p *pass) label(it *item) {
	st := it.stmt
	i := int32(len(p.items) - 1)
	p.secs[it.sec].inserted.close()
	v := value{kind: vRel, sec: it.sec, n: it.off, at: i}
	if p.secs[it.sec].record {
		v = value{kind: vAbs, n: it.off}
	}
	if st.Num >= 0 {
		s := &symbol{name: st.Name, defined: true, label: true, mode: p.cur.mode, val: v, item: i, at: p.nameLoc(it)}
		p.locals[st.Num] = append(p.locals[st.Num], s)
		return
	}
	s := p.symbol(st.Name)
	if s.common || s.refers != "" {
		p.report(p.nameLoc(it), codeDuplicate, "The symbol "+s.name+" stands for something else already, and cannot be a label.")
		return
	}
	if s.defined {
		p.duplicate(it, s, st.Start, st.NameEnd)
		if s.label {
			return
		}
		s.expr = nil
	}
	p.gen++
	s.defined, s.label, s.mode, s.val, s.item, s.at = true, true, p.cur.mode, v, i, p.nameLoc(it)
	s.val.sym = s
	s.auto = p.columns && p.cur.mode == isa.T && p.secs[it.sec].exec && p.dialectOf(it) == syntax.Columns
	// The mark waits for a label of code that other files may see.
	if p.funcTag && p.secs[it.sec].exec && !strings.HasPrefix(st.Name, ".L") {
		s.fn, s.thumbFn, p.funcTag = true, true, false
	}
}

func (p *pass) duplicate(it *item, s *symbol, a, b int32) {
	d := Diagnostic{Location: p.loc(it, a, b), Code: codeDuplicate, Message: "The symbol " + s.name + " is defined already, " + p.where(s.at, it) + "."}
	if !s.label && it.stmt.Kind == syntax.Label && !(s.once || s.thumbFn && s.kind == SymConstant) {
		d.Severity = Warning // assemblers go on with the label
	}
	if s.at.Path != "" {
		d.Related = []Related{{s.at, "the first definition of " + s.name}}
	}
	p.emit(d)
}

// where names a place in words: "in line 12", "in layout.inc, line 3".
func (r *Result) where(l Location, from *item) string {
	if l.Path == "" {
		return "by the settings"
	}
	for i := range r.sources {
		if s := &r.sources[i]; s.path == l.Path {
			w := "in line " + strconv.Itoa(s.file.LineAt(l.Span.Start)+1)
			if from == nil || int(from.file) != i {
				name := l.Path
				if k := strings.LastIndexAny(name, `/\`); k >= 0 {
					name = name[k+1:]
				}
				w = "in " + name + ", " + w[3:]
			}
			return w
		}
	}
	return "before"
}

// assign handles .equ, .set and =.
func (p *pass) assign(it *item, name string, a, b int32, args []syntax.Operand, again bool) {
	base := it.stmt.Start
	if name == "." {
		if len(args) == 1 {
			p.org(it, &args[0])
		}
		return
	}
	s := p.symbol(name)
	if s.defined && (s.label || s.once || !again) {
		p.duplicate(it, s, base+a, base+b)
		return
	}
	if len(args) != 1 || args[0].Kind == isa.OpNone || args[0].IsStr {
		p.report(p.nameLoc(it), codeDirective, "The symbol "+name+" needs one value.")
		return
	}
	if s.defined {
		s.reset = true
		if len(s.past) < maxPast {
			s.past = append(s.past, pastValue{s.item, s.val, s.expr})
		}
	}
	o := &args[0]
	v := p.eval(o, it)
	p.gen++
	s.kind = SymConstant
	s.once = s.once || !again
	s.item, s.at = int32(len(p.items)-1), p.loc(it, base+a, base+b)
	s.mode = p.cur.mode
	s.expr = nil
	switch v.kind {
	case vAbs, vRel, vUnknown:
		s.val = v
		if v.kind == vRel && v.sym != nil {
			s.fn, s.mode = s.fn || v.sym.fn, v.sym.mode
		}
	default:
		if v.sym == s {
			p.report(p.loc(it, o.Start, o.End), codeUndefined, "The symbol "+name+" is defined by itself.")
			v = value{kind: vUnknown}
			s.val = v
			break
		}
		s.expr, s.val = o, v
	}
	s.defined = true
}

// resolveSymbols computes the values that had to wait for later definitions.
func (p *pass) resolveSymbols() {
	var wait []*symbol
	for _, s := range p.syms {
		if s.expr != nil {
			wait = append(wait, s)
		}
	}
	sort.Slice(wait, func(i, j int) bool { return wait[i].item < wait[j].item })
	for _, s := range wait {
		v := p.symValue(s, 0)
		it := &p.items[s.item]
		switch v.kind {
		case vBad:
			p.badValue(it, s.expr, v)
		}
	}
}

// maxDepth bounds the recursion over expressions and over symbols that are
// defined by symbols. It is far above what people write.
const maxDepth = 50000

// symValue is the symbol's value, computed now if it had to wait.
func (p *pass) symValue(s *symbol, depth int) value {
	if s.expr == nil {
		if !s.defined {
			return value{kind: vUndef, sym: s}
		}
		return p.placed(s.val)
	}
	if s.busy || depth > maxDepth {
		return value{kind: vBad, sym: s, why: "The value of " + s.name + " depends on itself."}
	}
	if p.quiet {
		// Only what could not be computed is still waiting.
		return value{kind: vUnknown}
	}
	// A value that is still not known is the same until another symbol gets
	// one: without this, a chain of sums doubles the work with every link.
	if s.memoGen == p.gen && p.gen != 0 {
		return s.memo
	}
	s.busy = true
	v := p.evalAt(s.expr, &p.items[s.item], depth+1)
	s.busy = false
	s.memo, s.memoGen = v, p.gen
	if p.moving {
		return v
	}
	if v.kind == vAbs || v.kind == vRel || v.kind == vUnknown {
		s.val, s.expr = v, nil
		if v.kind == vRel && v.sym != nil {
			s.fn, s.mode = s.fn || v.sym.fn, v.sym.mode
		}
	}
	return v
}

// eval computes an operand's value at an item.
func (p *pass) eval(o *syntax.Operand, it *item) value { return p.evalAt(o, it, 0) }

func (p *pass) evalAt(o *syntax.Operand, it *item, depth int) value {
	switch {
	case o.Word != "":
		return p.use(o.Word, it, o.Start, o.End, depth)
	case o.Expr != nil:
		return p.expr(o.Expr, it, depth)
	case o.Known:
		return value{kind: vAbs, n: o.Imm}
	}
	return value{kind: vUnknown}
}

// use looks a symbol up and notes the reference.
func (p *pass) use(name string, it *item, a, b int32, depth int) value {
	s := p.syms[name]
	if s == nil {
		if p.quiet {
			return value{kind: vUndef, sym: &symbol{name: name, item: -1}}
		}
		s = p.symbol(name)
	}
	var v value
	if len(s.past) > 0 && it.id < s.item {
		v = p.valueAt(s, it.id, depth)
	} else {
		v = p.symValue(s, depth)
	}
	if v.kind == vRel && s.label || v.apart {
		v.sym = s
	}
	return v
}

// placed is an address at its present place while the layout moves.
func (p *pass) placed(v value) value {
	if p.moving && v.kind == vRel {
		if !p.secs[v.sec].laid {
			v.n -= p.pieceStart(v.sec, v.at)
			return v
		}
		v.n += p.shift(v.sec, v.at)
	}
	return v
}

// grows says whether the distance between two addresses of one section may still
// change.
func (p *pass) grows(x, y value) bool {
	s := &p.secs[x.sec]
	if p.moving {
		p.shifting = true
	}
	return !p.final && s.apart(x.at, y.at)
}

func (p *pass) expr(e *syntax.Expr, it *item, depth int) value {
	if depth > maxDepth {
		return value{kind: vBad, why: "The expression is nested too deep."}
	}
	switch e.Op {
	case syntax.ExprNum:
		return value{kind: vAbs, n: e.Val}
	case syntax.ExprBig:
		return value{kind: vBig, n: e.Val}
	case syntax.ExprSym:
		return p.use(e.Name, it, e.Start, e.End, depth)
	case syntax.ExprDot:
		if p.secs[it.sec].record {
			return value{kind: vAbs, n: it.off}
		}
		return p.placed(value{kind: vRel, sec: it.sec, n: it.off - it.slot.itSize(), at: it.id})
	case syntax.ExprColumns:
		return p.columnExpr(e, it, depth)
	case syntax.ExprLocal:
		if e.Name != "" {
			return p.columnLocal(e, it.id)
		}
		return p.local(int32(e.Val), e.Back, it.id)
	case syntax.ExprReloc:
		x := p.expr(e.X, it, depth+1)
		if x.kind == vUndef && x.num != 0 || x.kind == vBad {
			return x
		}
		if x.kind == vAbs {
			// Of a number the assembler takes the half by itself.
			switch strings.ToLower(e.Name) {
			case "lower16":
				return value{kind: vAbs, n: x.n & 0xffff, reloc: e.Name}
			case "upper16":
				return value{kind: vAbs, n: x.n >> 16 & 0xffff, reloc: e.Name}
			}
		}
		return value{kind: vUnknown, sym: x.sym, reloc: e.Name}
	case syntax.ExprNeg, syntax.ExprNot, syntax.ExprLNot:
		x := p.expr(e.X, it, depth+1)
		if x.kind == vBig && e.Op != syntax.ExprLNot {
			return x
		}
		if x.kind != vAbs {
			return notAbs(x)
		}
		switch e.Op {
		case syntax.ExprNeg:
			x.n = -x.n
		case syntax.ExprNot:
			x.n = ^x.n
		default:
			if x.n == 0 {
				x.n = 1
			} else {
				x.n = 0
			}
		}
		x.sym = nil
		return x
	}
	x, y := p.expr(e.X, it, depth+1), p.expr(e.Y, it, depth+1)
	for _, v := range []*value{&x, &y} {
		if v.kind == vBad || v.kind == vUnknown {
			return *v
		}
		if v.kind == vBig { // assemblers take 0 for it, with a warning
			*v = value{kind: vAbs}
		}
	}
	switch e.Op {
	case syntax.ExprAdd:
		switch {
		case x.kind == vRel && y.kind == vAbs:
			x.n += y.n
			return x
		case x.kind == vAbs && y.kind == vRel:
			y.n += x.n
			return y
		case x.kind == vUndef && y.kind == vAbs && x.num == 0:
			x.n += y.n
			return x
		case y.kind == vUndef && x.kind == vAbs && y.num == 0:
			y.n += x.n
			return y
		}
	case syntax.ExprSub:
		switch {
		case x.kind == vRel && y.kind == vAbs:
			x.n -= y.n
			return x
		case x.kind == vUndef && y.kind == vAbs && x.num == 0:
			x.n -= y.n
			return x
		case x.kind == vUndef && x.num == 0 && !x.mixed && y.kind == vRel && y.sec == it.sec && p.final && !p.narrowData(it):
			// A distance from here to elsewhere: the linker computes it.
			return value{kind: vUnknown, sym: x.sym}
		case x.kind == vRel && y.kind == vRel && x.sec == y.sec:
			if !p.secs[x.sec].exact {
				return value{kind: vUnknown}
			}
			if p.grows(x, y) {
				return value{kind: vUndef, mixed: true, apart: true}
			}
			// A distance from something to a function waits: the function's
			// address may get bit 0 set.
			return value{kind: vAbs, n: x.n - y.n, late: !p.final && x.sym != nil && x.sym.fn}
		case x.kind == vRel && y.kind == vRel && p.final && (y.sec != it.sec || p.narrowData(it)):
			return value{kind: vBad, why: "The distance between two sections is known only to the linker, and it knows the distance from this place alone."}
		case x.kind == vRel && y.kind == vRel:
			return value{kind: vUnknown, apart: true}
		}
	case syntax.ExprEq, syntax.ExprNe, syntax.ExprLt, syntax.ExprLe, syntax.ExprGt, syntax.ExprGe:
		if x.kind == vRel && y.kind == vRel && x.sec == y.sec && p.secs[x.sec].exact {
			if p.grows(x, y) {
				return value{kind: vUndef, mixed: true, apart: true}
			}
			n, _ := syntax.Fold(e.Op, x.n, y.n)
			return value{kind: vAbs, n: n}
		}
	}
	if x.kind != vAbs {
		return notAbs(x)
	}
	if y.kind != vAbs {
		return notAbs(y)
	}
	n, ok := syntax.Fold(e.Op, x.n, y.n)
	if !ok {
		return value{kind: vBad, why: "This divides by zero.", mild: true}
	}
	return value{kind: vAbs, n: n, late: x.late || y.late}
}

// narrowData says whether the item is data of less than a word, for which there is
// no relocation by a distance.
func (r *Result) narrowData(it *item) bool {
	return it.stmt.Kind == syntax.Directive && it.stmt.Dir.Effect == syntax.EffData && r.unit(it) < 4
}

// notAbs is the result of an operator that needs numbers and got v.
func notAbs(v value) value {
	if v.kind == vRel {
		return value{kind: vBad, why: "An address takes part in an operation that only numbers have."}
	}
	v.mixed = true
	return v
}

// local finds a numeric local label from item i: the next one with 1f, the
// last one with 1b.
func (p *pass) local(n int32, back bool, i int32) value {
	list := p.locals[n]
	k := sort.Search(len(list), func(k int) bool { return list[k].item > i })
	if back {
		k--
	}
	if k < 0 || k >= len(list) {
		return value{kind: vUndef, num: n + 1, back: back}
	}
	v := p.placed(list[k].val)
	v.sym = list[k]
	return v
}
