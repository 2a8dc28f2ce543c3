package isa

import "math/bits"

// Domain is a kind of values that an instruction can be carried out with: words,
// as in package exec, or what is known about words. Evaluate asks it for what
// is there before the instruction and for operations; what depends on the fields
// of the instruction only, Evaluate computes by itself.
type Domain[W any] interface {
	// Number is the value of a number that the instruction holds.
	Number(n uint32) W
	// Do carries out an operation, one of those that are exported, on as many of the
	// three values as it has.
	Do(op Operation, x, y, z W) W
	// Reg is the register; PC is the instruction's address + 4 in T16 and T32,
	// + 8 in A32.
	Reg(r Reg) W
	// Flag is 0 or 1, for one of N, Z, C, V.
	Flag(f Flags) W
	// GE are the four flags GE as a number.
	GE() W
	// Link is the address of the next instruction as LR gets it: in T16 and T32 bit 0 is set.
	Link() W
	// Load reads 1, 2 or 4 bytes of memory, zero-extended.
	Load(addr W, size int, how Alignment) W
	// Special is a special register of the M profile, by its number SYSm.
	Special(n uint32) W
	// Status is CPSR, or SPSR.
	Status(saved bool) W
	// Exclusive is 1 where an exclusive store of so many bytes at addr succeeds, else 0.
	Exclusive(addr W, size int) W
}

// Action is what an instruction does with a value. All values are those from
// before any action.
type Action[W any] struct {
	Kind   ActKind
	Loaded bool      // ActReg: the value comes from memory, which counts for pc
	How    Alignment // ActStore
	IfSets bool      // ActFlag: in T16 only outside of an IT block
	Kept   bool      // ActFlag: before ARMv5 the value is unknown
	Guard  bool      // it is done only where If is not 0
	Reg    Reg       // ActReg
	Flag   Flags     // ActFlag
	Size   uint8     // ActStore: in bytes; ActSpecial: the parts
	Trap   Trap      // ActTrap
	Number uint32
	If     W
	Addr   W // ActStore and what goes on somewhere
	Value  W
}

// maxNodes is the largest number of operations of a program.
const maxNodes = 112

// Described says whether Evaluate knows what the row does.
func (r *Row) Described() bool { return r.does != nil }

// Row is the row whose fields these are.
func (v Values) Row() *Row { return v.row }

// Condition is the condition that the encoding holds for all that it does, AL
// where it holds none.
func (v Values) Condition() Cond {
	if v.row.State == A && v.row.at.cond == 0 && v.vals[0] < uint32(AL) {
		return Cond(v.vals[0])
	}
	return AL
}

// Evaluate carries out an instruction whose condition holds, in the domain, and
// appends what it does to out. The row has to be described.
func Evaluate[W any](v Values, d Domain[W], out []Action[W]) []Action[W] {
	return new(Evaluator[W]).Evaluate(v, d, out)
}

// Evaluator evaluates one instruction after the other, as Evaluate does, in the same room: there
// may be very many. The zero Evaluator is ready.
type Evaluator[W any] struct{ evaluation[W] }

// Evaluate is [Evaluate]. The domain must not evaluate with it meanwhile.
func (e *Evaluator[W]) Evaluate(v Values, d Domain[W], out []Action[W]) []Action[W] {
	e.begin(&v, d)
	return e.all(out)
}

// begin forgets what was known of another instruction.
func (e *evaluation[W]) begin(v *Values, d Domain[W]) {
	e.v, e.d, e.p = *v, d, v.row.does
	clear(e.state[:len(e.p.nodes)])
}

// all appends all that the instruction does to out.
func (e *evaluation[W]) all(out []Action[W]) []Action[W] {
	for i := range e.p.acts {
		out = e.act(&e.p.acts[i], out)
	}
	return out
}

// evaluation has the values of nodes as far as they have been needed.
type evaluation[W any] struct {
	v     Values
	d     Domain[W]
	p     *program
	state [maxNodes]uint8
	num   [maxNodes]uint32
	val   [maxNodes]W
}

// What is known of a node.
const (
	unseen uint8 = iota
	isNumber
	isValue
)

func (e *evaluation[W]) act(a *act, out []Action[W]) []Action[W] {
	x := Action[W]{Kind: a.kind, Loaded: a.load, Reg: a.reg, Flag: a.flag, Size: a.size, Trap: a.trap}
	if a.must {
		x.How = Strict
	}
	if a.asS {
		if s := e.v.row.at.s; !e.v.row.full() || s < 0 {
			x.IfSets = true
		} else if e.v.vals[s] == 0 {
			return out
		} else if d := e.p.dest; e.v.row.State == A && d >= 0 && Reg(e.v.vals[d]) == PC {
			if a.flag != N { // the first of them
				return out
			}
			return append(out, Action[W]{Kind: ActRestore})
		}
	}
	if a.guard >= 0 {
		if n, ok := e.number(a.guard); !ok {
			x.Guard, x.If = true, e.value(a.guard)
		} else if n == 0 {
			return out
		}
	}
	if a.field >= 0 {
		x.Reg = Reg(e.v.vals[a.field])
		if a.next {
			x.Reg = (x.Reg + 1) & 15
		}
	}
	if a.list {
		return e.words(a, x, out)
	}
	switch a.kind {
	case ActFlag:
		if e.same(a.value, a.flag) {
			return out
		}
		x.Kept = e.p.nodes[a.value].op == DoKept
	case ActStatus:
		x.Number, _ = e.number(a.addr)
		x.Value = e.value(a.value)
		return append(out, x)
	case ActSpecial:
		x.Number, _ = e.number(a.addr)
		x.Number, x.Size = x.Number&0xff, uint8(x.Number>>8)
		x.Value = e.value(a.value)
		return append(out, x)
	}
	if a.addr >= 0 {
		x.Addr = e.value(a.addr)
	}
	if a.value >= 0 {
		x.Value = e.value(a.value)
	}
	return append(out, x)
}

// words are the loads or stores of the registers of a list.
func (e *evaluation[W]) words(a *act, x Action[W], out []Action[W]) []Action[W] {
	list, at, numbered := e.v.row.listed(&e.v.vals), uint32(0), false
	if n, ok := e.number(a.addr); ok {
		at, numbered = n, true
	}
	for r := Reg(0); r < 16; r++ {
		if !list.Has(r) {
			continue
		}
		addr := e.d.Number(at)
		if !numbered {
			addr = e.value(a.addr)
			if at != 0 {
				addr = e.d.Do(DoAdd, addr, e.d.Number(at), addr)
			}
		}
		if x.Kind == ActReg {
			x.Reg, x.Value = r, e.d.Load(addr, 4, Multiple)
		} else {
			x.Addr, x.Size, x.How, x.Value = addr, 4, Multiple, e.d.Reg(r)
		}
		out = append(out, x)
		at += 4
	}
	return out
}

// listed is the register list, with the register that has a bit of its own.
func (r *Row) listed(vals *[maxFields]uint32) RegList {
	l := RegList(vals[r.fieldIndex("list")])
	if i := r.fieldIndex("M"); i >= 0 && vals[i] != 0 {
		l |= r.more
	}
	return l
}

// same says whether a node is the flag as it was, so that nothing changes.
func (e *evaluation[W]) same(i int16, f Flags) bool {
	n := &e.p.nodes[i]
	switch n.op {
	case opFlag:
		return Flags(n.n) == f
	case DoLSLC, DoLSRC, DoASRC, DoRORC:
		y, ok := e.number(n.y)
		return ok && y == 0 && e.same(n.z, f)
	case opShiftC, opImmShiftC:
		typ, amount, known := e.shift(n)
		return f == C && known && typ < RRX && amount == 0
	case opRotC:
		x, _ := e.number(n.x)
		_, _, moved := e.v.row.rotated(x)
		return f == C && !moved
	}
	return false
}

// rotated is the constant that a field holds, its highest bit and whether that is
// the new C (DDI 0406C, ARMExpandImm_C and ThumbExpandImm_C).
func (r *Row) rotated(field uint32) (n, carry uint32, moved bool) {
	n = r.State.expand(field)
	if r.State == A {
		return n, n >> 31, field>>8 != 0
	}
	return n, n >> 31, field>>10 != 0
}

// shift is the kind and the amount of a shift; the amount is known where it is in
// the encoding.
func (e *evaluation[W]) shift(n *node) (kind Shift, amount uint32, known bool) {
	typ, _ := e.number(n.y)
	kind = Shift(typ&3) + LSL
	amount, known = e.number(n.z)
	if (n.op == opImmShift || n.op == opImmShiftC) && amount == 0 {
		switch kind {
		case LSR, ASR:
			amount = 32
		case ROR:
			kind = RRX
		}
	}
	return kind, amount, known
}

// number is the value of a node if it depends on the fields only.
func (e *evaluation[W]) number(i int16) (uint32, bool) {
	e.need(i)
	return e.num[i], e.state[i] == isNumber
}

// value is the value of a node in the domain.
func (e *evaluation[W]) value(i int16) W {
	if e.need(i); e.state[i] == isNumber {
		return e.d.Number(e.num[i])
	}
	return e.val[i]
}

func (e *evaluation[W]) put(i int16, v W) { e.state[i], e.val[i] = isValue, v }

func (e *evaluation[W]) putNumber(i int16, n uint32) { e.state[i], e.num[i] = isNumber, n }

// copy makes a node the same as another.
func (e *evaluation[W]) copy(i, from int16) {
	e.need(from)
	e.state[i], e.num[i], e.val[i] = e.state[from], e.num[from], e.val[from]
}

// need computes a node, and those that it is made of, once.
func (e *evaluation[W]) need(i int16) {
	if e.state[i] != unseen {
		return
	}
	n := &e.p.nodes[i]
	switch n.op {
	case opConst:
		e.putNumber(i, n.n)
	case opField:
		e.putNumber(i, e.v.vals[n.n])
	case opSField:
		f := &e.v.row.fields[n.n]
		x := e.v.vals[n.n]
		if f.name == "bl" {
			x = scrambleBL(x)
		}
		e.putNumber(i, uint32(int32(x<<(32-f.width))>>(32-f.width)))
	case opReg:
		e.put(i, e.d.Reg(Reg(e.v.vals[n.n])))
	case opFixed:
		e.put(i, e.d.Reg(Reg(n.n)))
	case opFlag:
		e.put(i, e.d.Flag(Flags(n.n)))
	case opGE:
		e.put(i, e.d.GE())
	case opList:
		e.putNumber(i, uint32(e.v.row.listed(&e.v.vals)))
	case opLink:
		e.put(i, e.d.Link())
	case opLoad:
		how := Loose
		if n.n&mustAlign != 0 {
			how = Strict
		}
		e.put(i, e.d.Load(e.value(n.x), int(n.n&0xff), how))
	case opNext:
		e.put(i, e.d.Reg(Reg(e.v.vals[n.n]+1)&15))
	case opAddSub:
		op := DoSub
		if up, _ := e.number(n.y); up != 0 {
			op = DoAdd
		}
		e.do(i, op, n.x, n.z, -1)
	case opPick:
		from := n.z
		if first, _ := e.number(n.x); first != 0 {
			from = n.y
		}
		e.copy(i, from)
	case opExclusive:
		e.put(i, e.d.Exclusive(e.value(n.x), int(n.n)))
	case opStatus:
		saved, _ := e.number(n.x)
		e.put(i, e.d.Status(saved != 0))
	case opHolds:
		c, _ := e.number(n.x)
		e.put(i, Holds(Cond(c), e.d))
	case opSpecial:
		x, _ := e.number(n.x)
		e.put(i, e.d.Special(x))
	case opRot, opRotC:
		x, _ := e.number(n.x)
		x, c, moved := e.v.row.rotated(x)
		switch {
		case n.op == opRot:
			e.putNumber(i, x)
		case moved:
			e.putNumber(i, c)
		default:
			e.put(i, e.d.Flag(C))
		}
	case opShift, opImmShift, opShiftC, opImmShiftC:
		e.shifted(i, n)
	default:
		e.do(i, n.op, n.x, n.y, n.z)
	}
}

// shifted computes a shift whose kind is in the encoding.
func (e *evaluation[W]) shifted(i int16, n *node) {
	kind, amount, known := e.shift(n)
	carry := n.op == opShiftC || n.op == opImmShiftC
	switch {
	case kind == RRX && carry:
		x := e.value(n.x)
		e.put(i, e.d.Do(DoAnd, x, e.d.Number(1), x))
		return
	case kind == RRX:
		c := e.d.Flag(C)
		e.put(i, e.d.Do(DoRRX, e.value(n.x), c, c))
		return
	case known && amount == 0 && !carry:
		e.copy(i, n.x)
		return
	case known && amount == 0:
		e.put(i, e.d.Flag(C))
		return
	}
	x, y := e.value(n.x), e.d.Number(amount)
	if !known {
		y = e.value(n.z)
	}
	op := DoLSL + Operation(kind-LSL)
	switch {
	case !carry:
		e.put(i, e.d.Do(op, x, y, y))
	case known: // no C comes out of it but the last bit
		e.put(i, e.d.Do(op-DoLSL+DoLSLC, x, y, y))
	default:
		e.put(i, e.d.Do(op-DoLSL+DoLSLC, x, y, e.d.Flag(C)))
	}
}

// do carries an operation out, on numbers at once.
func (e *evaluation[W]) do(i int16, op Operation, operands ...int16) {
	var nums [3]uint32
	known := true
	for k, o := range operands {
		if o >= 0 {
			n, ok := e.number(o)
			nums[k], known = n, known && ok
		}
	}
	if op >= DoLSLC && op <= DoRORC {
		if n, ok := e.number(operands[1]); ok && n == 0 {
			e.copy(i, operands[2])
			return
		} else if ok { // the C from before is not looked at
			x, y := e.value(operands[0]), e.d.Number(n)
			e.put(i, e.d.Do(op, x, y, y))
			return
		}
	}
	if known {
		e.putNumber(i, op.Word(nums[0], nums[1], nums[2]))
		return
	}
	x := e.value(operands[0])
	y, z := x, x
	if operands[1] >= 0 {
		y = e.value(operands[1])
		z = y
	}
	if operands[2] >= 0 {
		z = e.value(operands[2])
	}
	e.put(i, e.d.Do(op, x, y, z))
}

// Holds is 1 where the condition holds, else 0 (DDI 0406C, ConditionHolds).
func Holds[W any](c Cond, d Domain[W]) W {
	not := func(x W) W { return d.Do(DoZero, x, x, x) }
	two := func(op Operation, x, y W) W { return d.Do(op, x, y, y) }
	var x W
	switch c >> 1 {
	case 0:
		x = d.Flag(Z)
	case 1:
		x = d.Flag(C)
	case 2:
		x = d.Flag(N)
	case 3:
		x = d.Flag(V)
	case 4:
		x = two(DoAnd, d.Flag(C), not(d.Flag(Z)))
	case 5:
		x = not(two(DoXor, d.Flag(N), d.Flag(V)))
	case 6:
		x = two(DoAnd, not(d.Flag(Z)), not(two(DoXor, d.Flag(N), d.Flag(V))))
	default:
		return d.Number(1)
	}
	if c&1 != 0 {
		return not(x)
	}
	return x
}

// Word is the result of an operation on words.
func (op Operation) Word(x, y, z uint32) uint32 {
	switch {
	case op < DoLSL:
		return op.arithmetic(x, y, z)
	case op < DoSXB:
		return op.shift(x, y, z)
	}
	switch op {
	case DoSXB:
		return uint32(int8(x))
	case DoSXH:
		return uint32(int16(x))
	case DoRev:
		return bits.ReverseBytes32(x)
	case DoRev16:
		return x>>8&0x00ff00ff | x&0x00ff00ff<<8
	case DoRBit:
		return bits.Reverse32(x)
	case DoCLZ:
		return uint32(bits.LeadingZeros32(x))
	case DoCount:
		return uint32(bits.OnesCount32(x))
	case DoKept:
		return x
	}
	return op.longer(x, y, z)
}

func truth(b bool) uint32 {
	if b {
		return 1
	}
	return 0
}

// arithmetic is Word for sums, products and what works bit by bit.
func (op Operation) arithmetic(x, y, z uint32) uint32 {
	switch op {
	case DoAdd:
		return x + y
	case DoSub:
		return x - y
	case DoCarry:
		return uint32((uint64(x) + uint64(y) + uint64(z)) >> 32)
	case DoOverflow:
		s := x + y + z
		return (x ^ s) & (y ^ s) >> 31
	case DoMul:
		return x * y
	case DoMulHi:
		return uint32(uint64(x) * uint64(y) >> 32)
	case DoSMulHi:
		return uint32(int64(int32(x)) * int64(int32(y)) >> 32)
	case DoAnd:
		return x & y
	case DoOr:
		return x | y
	case DoXor:
		return x ^ y
	case DoNot:
		return ^x
	case DoZero:
		return truth(x == 0)
	}
	panic("isa: no operation")
}

// shift is Word for shifts, and for the bits that they put into the carry.
func (op Operation) shift(x, y, z uint32) uint32 {
	switch op {
	case DoLSL:
		return x << y
	case DoLSR:
		return x >> y
	case DoASR:
		return uint32(int32(x) >> y)
	case DoROR:
		return bits.RotateLeft32(x, -int(y&31))
	case DoRRX:
		return x>>1 | y<<31
	case DoLSLC, DoLSRC, DoASRC, DoRORC:
		if y == 0 {
			return z & 1
		}
		switch op {
		case DoLSLC:
			return uint32(uint64(x) << y >> 32 & 1)
		case DoLSRC:
			return x >> (y - 1) & 1
		case DoASRC:
			return uint32(int32(x) >> (y - 1) & 1)
		}
		return x >> ((y - 1) & 31) & 1
	}
	panic("isa: no operation")
}

// longer is Word for divisions, sums with limits, and checksums.
func (op Operation) longer(x, y, z uint32) uint32 {
	switch op {
	case DoSDiv:
		if y == 0 {
			return 0
		}
		return uint32(int64(int32(x)) / int64(int32(y)))
	case DoUDiv:
		if y == 0 {
			return 0
		}
		return x / y
	case DoQAdd:
		return limit(int64(int32(x))+int64(int32(y)), -1<<31, 1<<31-1)
	case DoQSub:
		return limit(int64(int32(x))-int64(int32(y)), -1<<31, 1<<31-1)
	case DoSSat:
		return limit(int64(int32(x)), -1<<(y-1), 1<<(y-1)-1)
	case DoUSat:
		return limit(int64(int32(x)), 0, 1<<y-1)
	case DoCRC32, DoCRC32C:
		poly := uint32(0xedb88320) // 0x04C11DB7 with its bits reversed
		if op == DoCRC32C {
			poly = 0x82f63b78 // 0x1EDC6F41
		}
		for x ^= y & uint32(uint64(1)<<z-1); z > 0; z-- {
			x = x>>1 ^ poly&-(x&1)
		}
		return x
	}
	panic("isa: no operation")
}

// Unpredictable says whether the architecture with these features leaves open what
// the instruction does; inBlock is whether it is in an IT block.
func (v Values) Unpredictable(have Features, inBlock bool) bool {
	if inBlock && (v.row.IT == ITNever || v.row.Flow == FlowBranch && v.row.fieldIndex("c") >= 0) {
		return true // DDI 0406C, A8, "B", encodings T1 and T3
	}
	v.inBlock = inBlock
	for i := range v.row.Cautions {
		if c := &v.row.Cautions[i]; !c.Deprecated && c.applies(v, have) {
			return true
		}
	}
	return false
}

// limit is x, or the end of the range that is nearer.
func limit(x, low, high int64) uint32 { return uint32(min(max(x, low), high)) }
