package analysis

import (
	"fmt"
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
	mode    isa.State
	val     value
	expr    *syntax.Operand // .equ with a value that is not known yet
	item    int32           // the defining item, -1
	at      place           // the name at its definition
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
	// memo is the value of expr while memoGen is the program's.
	memo    value
	memoGen int32
}

// maxPast bounds the values kept of one symbol: a loop may set it often.
const maxPast = 10000

// valueAt is the symbol's value where an item stands that is above its last
// definition.
func (p *evaluator) valueAt(s *symbol, id int32, depth int) value {
	k := sort.Search(len(s.past), func(k int) bool { return s.past[k].item > id })
	if k > 0 {
		k--
	}
	x := &s.past[k]
	if x.expr == nil {
		return p.placed(x.val)
	}
	if x.memoGen == p.gen || p.phase == done {
		return x.memo
	}
	if depth > maxDepth || s.busy {
		return value{kind: vBad, sym: s, why: "The value of " + s.name + " depends on itself."}
	}
	s.busy = true
	v := p.evalAt(x.expr, &p.items[x.item], depth+1)
	s.busy = false
	x.memo, x.memoGen = v, p.gen
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
	// reloc is the relocation operator that a vUnknown comes from, in lower case,
	// or what stands in parentheses behind the symbol.
	reloc string
	at    int32 // vRel: the item that it moves with
	// apart: vUndef by a distance across something that may still grow.
	apart bool
	// late: vAbs, and the assembler computes it at the end only.
	late bool
	// dist: vUnknown, a distance that the linker computes.
	dist bool
	// firm: vBad, and no later definition changes that.
	firm bool
}

// waits says whether the value stays unknown whatever is defined, but for the symbol
// that it hangs on: without an end of the program a distance across what may grow is
// not known either.
func (v *value) waits() bool {
	return v.kind == vUndef && (v.apart || v.sym != nil && !v.sym.defined)
}

func (p *pass) symbol(name string) *symbol {
	s, _ := p.defining(name)
	return s
}

// aSlab is how many symbols are made at once.
const aSlab = 256

// newSymbol makes the symbol of a name that has none. All of them are walked in the
// end, which takes far less time in slabs than in the map.
func (p *pass) newSymbol(name string) *symbol {
	n := len(p.slabs) - 1
	if n < 0 || len(p.slabs[n]) == cap(p.slabs[n]) {
		size := aSlab
		if n < 0 {
			size = 16
		}
		p.slabs = append(p.slabs, make([]symbol, 0, size))
		n++
	}
	p.slabs[n] = append(p.slabs[n], symbol{name: name, item: -1})
	s := &p.slabs[n][len(p.slabs[n])-1]
	p.syms[name] = s
	return s
}

// eachSymbol calls f for every symbol that has a name.
func (p *Program) eachSymbol(f func(s *symbol)) {
	for _, slab := range p.slabs {
		for k := range slab {
			f(&slab[k])
		}
	}
}

// defining is the symbol of a name that gets a value now. fresh says that nothing has
// asked for it yet, so that no value that waits hangs on it.
func (p *pass) defining(name string) (s *symbol, fresh bool) {
	if s = p.find(name); s != nil {
		return s, false
	}
	return p.newSymbol(name), true
}

// thumbName is the symbol that .thumb_set gives a value, nil for other directives.
func (p *pass) thumbName(d *syntax.DirectiveInfo, name string) *symbol {
	if d.Effect != syntax.EffThumbSet {
		return nil
	}
	return p.find(name)
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
		if p.columns {
			if p.scoped == nil {
				p.scoped = map[localScope][]*symbol{}
			}
			k := localScope{st.Num, p.level(it.file), it.sec, p.scopeAt(it.id, it.sec)}
			p.scoped[k] = append(p.scoped[k], s)
		}
		if int(st.NameEnd-st.Start) > len(st.Name) {
			p.routineOf(it)
		}
		return
	}
	s, fresh := p.defining(st.Name)
	if s.common || s.refers != "" {
		p.report(p.nameLoc(it), codeDuplicate, "The symbol "+s.name+" stands for something else already, and cannot be a label.")
		return
	}
	if p.namesSection(st.Name) {
		p.report(p.nameLoc(it), codeDuplicate, st.Name+" is the name of a section, which is a symbol too.")
		return
	}
	if s.defined {
		if s.label && p.samePlace(s, v) {
			s.val.at = i
			return
		}
		p.duplicate(it, s, st.Start, st.NameEnd)
		if s.label {
			return
		}
		s.expr = nil
	}
	if !fresh {
		p.gen++
	}
	s.defined, s.label, s.mode, s.val, s.item, s.at = true, true, p.cur.mode, v, i, p.nameLoc(it)
	s.val.sym = s
	s.auto = p.columns && p.cur.mode == isa.T && p.secs[it.sec].exec && p.dialectOf(it) == syntax.Columns
	// The mark waits for a label of code that other files may see.
	if p.funcTag && p.secs[it.sec].exec && !strings.HasPrefix(st.Name, ".L") {
		s.fn, s.thumbFn, p.funcTag = true, true, false
	}
}

// namesSection says whether a section has the name: there is a symbol of that name
// for its start. The column dialect keeps them apart.
func (p *pass) namesSection(name string) bool {
	if p.columns {
		return false
	}
	_, ok := p.secBy[name]
	return ok || name == ".text" || name == ".data" || name == ".bss"
}

// samePlace says whether a label that is defined marks the place v as well, with
// nothing between that may ever take room: there assemblers take it again.
func (p *pass) samePlace(s *symbol, v value) bool {
	if s.val.kind != vRel || v.kind != vRel || s.val.sec != v.sec || s.val.n != v.n {
		return false
	}
	const far = 1000 // nobody writes so many labels of one place, and looking for more takes long
	if v.at-s.val.at > far {
		return false
	}
	for k := v.at - 1; k > s.val.at; k-- {
		x := &p.items[k]
		if x.sec != v.sec || x.stmt == nil || x.stmt.Kind != syntax.Directive {
			continue // what has room would have moved the place
		}
		switch e := x.stmt.Dir.Effect; e {
		case syntax.EffOrg, syntax.EffEven, syntax.EffLEB:
			return false
		case syntax.EffSpace:
			if len(x.stmt.Ops) == 0 || !x.stmt.Ops[0].Known {
				return false
			}
		default:
			if aligns(e) {
				return false
			}
		}
	}
	return true
}

func (p *reporter) duplicate(it *item, s *symbol, a, b int32) {
	d := Diagnostic{Code: codeDuplicate, Message: "The symbol " + s.name + " is defined already, " + p.where(s.at.Location, it) + "."}
	if !s.label && it.stmt.Kind == syntax.Label && !(s.once || s.thumbFn && s.kind == SymConstant) {
		d.Severity = Warning // assemblers go on with the label
	}
	if s.at.Path != "" {
		d.Related = []Related{{s.at.Location, "the first definition of " + s.name}}
	}
	p.emit(p.loc(it, a, b), d)
}

// where names a place in words: "in line 12", "in layout.inc, line 3".
func (r *Program) where(l Location, from *item) string {
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
	s, fresh := p.defining(name)
	if s.defined && (s.label || s.once || !again) {
		p.duplicate(it, s, base+a, base+b)
		return
	}
	if s.refers != "" {
		p.report(p.loc(it, base+a, base+b), codeDuplicate, "The symbol "+name+" stands for "+s.refers+" already.")
		return
	}
	if p.namesSection(name) {
		p.report(p.loc(it, base+a, base+b), codeDuplicate, name+" is the name of a section, which is a symbol too.")
		return
	}
	if len(args) != 1 || args[0].Kind == isa.OpNone || args[0].IsStr {
		p.report(p.nameLoc(it), codeDirective, "The symbol "+name+" needs one value.")
		return
	}
	if s.defined {
		if len(s.past) < maxPast {
			s.past = append(s.past, pastValue{item: s.item, val: s.val, expr: s.expr})
		}
	}
	o := &args[0]
	v := p.eval(o, it)
	if !fresh {
		p.gen++
	}
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
		if v.firm {
			p.badValue(it, o, v)
			s.val = value{kind: vUnknown}
			break
		}
		s.expr, s.val = o, v
	}
	s.defined = true
}

// pastOf is a value that a symbol had from an item on.
type pastOf struct {
	sym  *symbol
	item int32
}

// resolveSymbols computes the values that had to wait for later definitions.
func (p *pass) resolveSymbols() {
	var wait []*symbol
	var past []pastOf
	p.eachSymbol(func(s *symbol) {
		if s.expr != nil {
			wait = append(wait, s)
		}
		for k := range s.past {
			if s.past[k].expr != nil {
				past = append(past, pastOf{s, s.past[k].item})
			}
		}
	})
	sort.Slice(wait, func(i, j int) bool { return wait[i].item < wait[j].item })
	sort.Slice(past, func(i, j int) bool { return past[i].item < past[j].item })
	for _, x := range past { // hover and its kin find them computed
		p.valueAt(x.sym, x.item, 0)
	}
	for _, s := range wait {
		v := p.symValue(s, 0)
		it := &p.items[s.item]
		switch {
		case v.kind == vBad, v.kind == vUndef && v.num != 0:
			p.badValue(it, s.expr, v)
		case v.kind == vUndef && v.mixed:
			p.report(p.loc(it, s.expr.Start, s.expr.End), codeUndefined, "The value of "+s.name+" hangs on what is not defined in this file, and is no symbol with a number added.")
		}
	}
}

// maxDepth bounds the recursion over expressions and over symbols that are
// defined by symbols. It is far above what people write.
const maxDepth = 50000

// symValue is the symbol's value, computed now if it had to wait.
func (p *evaluator) symValue(s *symbol, depth int) value {
	if s.expr == nil {
		if !s.defined {
			return value{kind: vUndef, sym: s}
		}
		return p.placed(s.val)
	}
	if s.busy || depth > maxDepth {
		return value{kind: vBad, sym: s, why: "The value of " + s.name + " depends on itself."}
	}
	if p.phase == done {
		// Only what could not be computed is still waiting.
		return value{kind: vUnknown}
	}
	// A value that is still not known is the same until another symbol gets
	// one: without this, a chain of sums doubles the work with every link.
	if s.memoGen == p.gen || !p.settled() && s.memoGen != 0 && s.memo.waits() {
		return s.memo
	}
	s.busy = true
	v := p.evalAt(s.expr, &p.items[s.item], depth+1)
	s.busy = false
	s.memo, s.memoGen = v, p.gen
	if p.phase == moving {
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
func (p *evaluator) eval(o *syntax.Operand, it *item) value { return p.evalAt(o, it, 0) }

func (p *evaluator) evalAt(o *syntax.Operand, it *item, depth int) value {
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
func (p *evaluator) use(name string, it *item, a, b int32, depth int) value {
	p.steps++
	s := p.table.symbol(name)
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
func (p *evaluator) placed(v value) value {
	if p.phase == moving && v.kind == vRel {
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
func (p *evaluator) grows(x, y value) bool {
	s := &p.secs[x.sec]
	if p.phase == moving {
		p.shifting = true
	}
	return !p.settled() && s.apart(x.at, y.at)
}

func (p *evaluator) expr(e *syntax.Expr, it *item, depth int) value {
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
			return p.columnLocal(e, it)
		}
		return p.local(int32(e.Val), e.Back, it.id)
	case syntax.ExprReloc:
		return p.relocated(e, it, depth)
	case syntax.ExprNeg, syntax.ExprNot, syntax.ExprLNot:
		x := p.expr(e.X, it, depth+1)
		if x.kind == vBig && e.Op != syntax.ExprLNot {
			return x
		}
		switch {
		case e.Op == syntax.ExprLNot && (x.kind == vRel || x.kind == vUndef && x.num == 0 && !x.mixed):
			// That an address is not zero is computed in the end, whatever it
			// counts from.
			if !p.settled() {
				return value{kind: vUndef, mixed: true}
			}
			n := int64(0)
			if x.n == 0 {
				n = 1
			}
			return value{kind: vAbs, n: n, late: true}
		case e.Op == syntax.ExprNeg && (x.kind == vRel || x.kind == vUndef) && !x.mixed && p.distances(it):
			return p.distance(value{kind: vAbs}, x, it, nil, e.X)
		case x.kind == vUnknown && x.dist:
			return value{kind: vBad, why: "The linker knows this distance, and computes nothing with it but a sum."}
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
	return p.binary(e, p.expr(e.X, it, depth+1), p.expr(e.Y, it, depth+1), it)
}

// binary is the value of an operator with two sides that have the values x and y.
func (p *evaluator) binary(e *syntax.Expr, x, y value, it *item) value {
	if d := x.kind == vUnknown && x.dist; (d || y.kind == vUnknown && y.dist) && x.kind != vBad && y.kind != vBad {
		if d && y.kind == vAbs && !y.late && !p.below(e.Y, it) && (e.Op == syntax.ExprAdd || e.Op == syntax.ExprSub) || !d && x.kind == vAbs && !x.late && !p.below(e.X, it) && e.Op == syntax.ExprAdd {
			return value{kind: vUnknown, sym: x.sym, dist: true}
		}
		return value{kind: vBad, why: "The linker knows this distance, and computes nothing with it but a sum with a number."}
	}
	switch {
	case x.kind == vBad:
		return x
	case y.kind == vBad:
		return y
	case x.kind == vUnknown && y.kind == vUndef && (y.mixed || y.num != 0): // a relocation, and what is nowhere
		return y
	case y.kind == vUnknown && x.kind == vUndef && (x.mixed || x.num != 0):
		return x
	}
	for _, v := range []*value{&x, &y} {
		if v.kind == vUnknown {
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
		case x.kind == vUndef && y.kind == vUndef && x.num == 0 && y.num == 0 && !x.mixed && !y.mixed && x.sym == y.sym:
			return value{kind: vAbs, n: x.n - y.n, late: true}
		case x.kind == vUndef && y.kind == vUndef && x.num != 0 && x.num == y.num && x.back == y.back && it.stmt.Dir != nil && it.stmt.Dir.Effect == syntax.EffIf:
			return value{kind: vAbs, late: true} // the same one, wherever it stands
		case (x.kind == vUndef && x.num == 0 && !x.mixed || x.kind == vAbs) && y.kind == vRel && p.settled() && p.distances(it):
			return p.distance(x, y, it, e.X, e.Y)
		case x.kind == vRel && y.kind == vRel && x.sec == y.sec:
			if !p.secs[x.sec].exact {
				return value{kind: vUnknown}
			}
			if p.grows(x, y) {
				return value{kind: vUndef, mixed: true, apart: true}
			}
			// A distance from something to a function waits: the function's
			// address may get bit 0 set.
			return value{kind: vAbs, n: x.n - y.n, late: p.settled() || x.sym != nil && x.sym.fn}
		case x.kind == vRel && y.kind == vRel && p.secs[x.sec].main == p.secs[y.sec].main:
			// In two subsections, which are laid out in the end.
			switch {
			case !p.secs[x.sec].exact || !p.secs[y.sec].exact:
				return value{kind: vUnknown}
			case !p.settled():
				return value{kind: vUndef, mixed: true, apart: true}
			}
			return value{kind: vAbs, n: x.n - y.n, late: true}
		case x.kind == vRel && y.kind == vRel && !p.settled() && p.distances(it):
			return value{kind: vUndef, mixed: true, apart: true}
		case x.kind == vRel && y.kind == vRel && p.settled() && p.distances(it):
			return p.distance(x, y, it, e.X, e.Y)
		case x.kind == vRel && y.kind == vRel && p.settled() && (y.sec != it.sec || p.narrowData(it)):
			return value{kind: vBad, why: linkersDistance}
		case x.kind == vRel && y.kind == vRel:
			return value{kind: vUnknown, apart: true}
		}
	case syntax.ExprEq, syntax.ExprNe, syntax.ExprLt, syntax.ExprLe, syntax.ExprGt, syntax.ExprGe:
		if x.kind == vRel && y.kind == vRel && x.sec == y.sec {
			if !p.secs[x.sec].exact {
				return value{kind: vUnknown}
			}
			if p.grows(x, y) {
				return value{kind: vUndef, mixed: true, apart: true}
			}
			n, _ := syntax.Fold(e.Op, x.n, y.n)
			return value{kind: vAbs, n: n, late: p.settled()}
		}
		if v, ok := p.compare(e.Op, x, y, it); ok {
			return v
		}
	}
	if x.kind == vRel && y.kind == vRel && !p.settled() && p.secs[x.sec].main != p.secs[y.sec].main && p.dialectOf(it) != syntax.Columns {
		return value{kind: vBad, firm: true, why: "Addresses in two sections take part in one operation, and only distances are such."}
	}
	if !p.settled() && y.kind == vUndef { // who knows
		return notAbs(y)
	}
	if x.kind != vAbs {
		return notAbs(x)
	}
	if y.kind != vAbs {
		return notAbs(y)
	}
	n, ok := syntax.Fold(e.Op, x.n, y.n)
	late := x.late || y.late
	switch {
	case !ok && late && p.settled():
		return value{kind: vBad, why: "This divides by zero."}
	case !ok && late:
		return value{kind: vUndef, mixed: true}
	case !ok:
		if p.dialectOf(it) == syntax.Columns {
			return value{kind: vBad, why: "This divides by zero.", mild: true}
		}
		n = 0
		if e.Op == syntax.ExprDiv && y.n == 0 {
			n = x.n
		}
		p.doubtful(it, e, "This divides by zero; assemblers divide by 1 instead.")
	case (e.Op == syntax.ExprShl || e.Op == syntax.ExprShr) && (y.n < 0 || y.n > 63):
		p.doubtful(it, e, fmt.Sprintf("A shift is by 0–63 bits, and this is by %d; assemblers take 0 for the result.", y.n))
	}
	return value{kind: vAbs, n: n, late: late}
}

// relocated is the value of a relocation operator: an address that the linker puts
// in, in part or by way of one of its tables, with the number n added.
func (p *evaluator) relocated(e *syntax.Expr, it *item, depth int) value {
	name := strings.ToLower(e.Name)
	if e.Back {
		name = "(" + e.Name + ")"
	}
	if e.Hash && !p.envs[it.env].unified {
		return value{kind: vBad, firm: true, why: "A '#' behind a relocation operator is of the unified syntax."}
	}
	x := p.expr(e.X, it, depth+1)
	if !e.Back && p.settled() && (x.kind == vUndef && x.mixed || x.kind == vUnknown && x.apart) {
		if y, ok := p.fromHere(e.X, it, depth+1); ok {
			x = y
		} else if x.kind == vUnknown {
			return value{kind: vBad, why: linkersDistance}
		}
	}
	switch {
	case x.kind == vUndef && (x.num != 0 || x.mixed) || x.kind == vBad:
		return x
	case x.kind == vAbs && name == "lower16":
		// Of a number the assembler takes the half by itself.
		return value{kind: vAbs, n: x.n & 0xffff, reloc: name}
	case x.kind == vAbs && name == "upper16":
		return value{kind: vAbs, n: x.n >> 16 & 0xffff, reloc: name}
	case x.kind == vAbs && p.settled():
		return value{kind: vBad, why: "A relocation is of an address, and this is a number."}
	case x.kind == vRel && x.sym != nil:
		x.n -= x.sym.val.n
	case x.kind == vRel:
		from := it.off - it.slot.itSize() // from the line itself
		e.X.Walk(func(e *syntax.Expr) {
			if e.Op == syntax.ExprSym { // or from a name that .set gave to a place
				if y := p.expr(e, it, depth+1); y.kind == vRel {
					from = y.n
				}
			}
		})
		x.n -= from
	}
	return value{kind: vUnknown, n: x.n, sym: x.sym, reloc: name}
}

// fromHere is a distance from a place of the item's section to what is in another,
// or in another file: the linker knows it.
func (p *evaluator) fromHere(e *syntax.Expr, it *item, depth int) (value, bool) {
	n := int64(0)
	for e.Op == syntax.ExprAdd || e.Op == syntax.ExprSub {
		y := p.expr(e.Y, it, depth+1)
		switch {
		case e.Op == syntax.ExprSub && y.kind == vRel && y.sec == it.sec:
			x := p.expr(e.X, it, depth+1)
			x.n += n + it.off - y.n
			return x, x.kind == vUndef && !x.mixed && x.num == 0 || x.kind == vRel && x.sym != nil
		case y.kind != vAbs:
			return value{}, false
		case e.Op == syntax.ExprSub:
			n -= y.n
		default:
			n += y.n
		}
		e = e.X
	}
	return value{}, false
}

// below says whether a symbol in an expression gets its value behind the item.
func (p *evaluator) below(e *syntax.Expr, it *item) bool {
	found := false
	e.Walk(func(e *syntax.Expr) {
		if e.Op == syntax.ExprSym {
			y := p.table.find(e.Name)
			found = found || y != nil && y.item > it.id
		}
	})
	return found
}

// doubtful notes a doubt about a part of an expression, once.
func (p *evaluator) doubtful(it *item, e *syntax.Expr, m string) {
	if p.phase == done || p.phase == moving {
		return
	}
	k := [2]int32{it.id, e.Start}
	if p.doubted[k] {
		return
	}
	if p.doubted == nil {
		p.doubted = map[[2]int32]bool{}
	}
	p.doubted[k] = true
	p.doubts = append(p.doubts, doubt{p.loc(it, e.Start, e.End), m})
}

const linkersDistance = "The distance between two sections is known only to the linker, and it knows the distance from this place alone."

// distances says whether the assembler is strict about distances that only the
// linker knows: in data and in what gives a symbol its value.
func (p *evaluator) distances(it *item) bool {
	if it.stmt.Kind == syntax.Assign {
		return true
	}
	if it.stmt.Kind != syntax.Directive {
		return false
	}
	switch it.stmt.Dir.Effect {
	case syntax.EffData, syntax.EffSet, syntax.EffThumbSet:
		return true
	}
	return false
}

// distance is x - y where y is an address or not known, and x is neither in its
// section nor the same symbol. In the end the linker can compute it in a word of
// y's section.
func (p *evaluator) distance(x, y value, it *item, to, from *syntax.Expr) value {
	named := x.kind != vAbs // by symbols, which may get their values below
	to.Walk(func(e *syntax.Expr) { named = named || e.Op == syntax.ExprSym })
	plain := named || from.Op == syntax.ExprSym || from.Op == syntax.ExprLocal || from.Op == syntax.ExprDot
	switch {
	case !p.settled():
		y.mixed = true
		if y.kind == vRel {
			y = value{kind: vUndef, mixed: true, apart: x.kind == vRel}
		}
		return y
	case y.kind != vRel:
		return notAbs(y)
	case plain && it.stmt.Kind == syntax.Directive && it.stmt.Dir.Effect == syntax.EffData && y.sec == it.sec && !p.narrowData(it):
		return value{kind: vUnknown, sym: x.sym, dist: true}
	case !plain:
		return value{kind: vBad, why: "The linker takes the address of one symbol away from something, and nothing more."}
	}
	return value{kind: vBad, why: linkersDistance}
}

// compare compares what are not both numbers or addresses of one section. In the
// end assemblers say of anything whether it is equal.
func (p *evaluator) compare(op syntax.ExprOp, x, y value, it *item) (value, bool) {
	same := x.kind == vUndef && y.kind == vUndef && x.sym == y.sym && x.num == y.num && (x.sym != nil || x.num != 0)
	now := it.stmt.Dir != nil && it.stmt.Dir.Effect == syntax.EffIf // which does not wait
	switch {
	case x.kind == vAbs && y.kind == vAbs, x.mixed, y.mixed, (x.num != 0 || y.num != 0) && !now:
		return value{}, false
	case x.kind == vRel && y.kind == vRel && !p.settled() && p.secs[x.sec].main != p.secs[y.sec].main:
		return value{}, false
	case (x.kind == vUndef || y.kind == vUndef) && !p.settled() && !now:
		return value{kind: vUndef, mixed: true, sym: x.sym}, true
	case same:
		n, _ := syntax.Fold(op, x.n, y.n)
		return value{kind: vAbs, n: n, late: true}, true
	case op == syntax.ExprEq:
		return value{kind: vAbs, late: true}, true
	case op == syntax.ExprNe:
		return value{kind: vAbs, n: -1, late: true}, true
	}
	return value{}, false
}

// narrowData says whether the item is data of less than a word, for which there is
// no relocation by a distance.
func (r *Program) narrowData(it *item) bool {
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
func (p *evaluator) local(n int32, back bool, i int32) value {
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
