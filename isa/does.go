package isa

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// The notation of Row.Does, which says what an instruction does: statements
// separated by semicolons. All that is read has the value it had before the
// instruction, so that the order of the statements means nothing. The words are
// those of the pseudocode in the architecture manuals as far as they have one
// (DDI 0100I, chapters A4 and A7; DDI 0406C, appendix "Pseudocode Definition";
// DDI 0403E, appendix D; DDI 0419, chapters A2 and A6):
//
//	Rd = e            a register, by its field or its name, gets a value
//	x := e            a name for a value, for the statements after it
//	NZ = e            flags of a value: N is its bit 31, Z whether it is 0; C and V
//	                  come from the last operation in it: of + and - the carry and
//	                  the overflow (AddWithCarry), of a shift the last bit out
//	                  (Shift_C), of & | ^ ~ the C of the second operand. Where an
//	                  operation gives no C, it stays
//	N = e             one of N, Z, C and V by itself gets the lowest bit of a number
//	NZ? = e           only where S is 1, and in T16, which has no S, outside of IT blocks
//	                  (setflags = !InITBlock()); in A32 with pc as the register that is
//	                  written, CPSR gets SPSR instead
//	Rd, NZ? = e       several at once
//	Q |= e            the saturation flag is set where e is not 0 (and stays set)
//	GE = e            the four GE flags get the lowest four bits
//	word[e] = v       memory, at e and above in the byte order of data; half[e], byte[e]
//	list = words[e]   each register of the list (with the bit M), lowest first, has a
//	                  word, aligned to 4; the other way round it is stored
//	branch e          goes on there, in the same instruction set (BranchWritePC)
//	exchange e        goes on there; bit 0 says T16 (1) or A32 (0) (BXWritePC)
//	toA32 e, toT16 e  goes on there in that instruction set
//	trap NAME, e      raises an exception, with a number for its handler, and comes back
//	undefined         raises the exception of undefined instructions
//	nothing e         has no effect that is described here, such as a hint, a barrier;
//	                  what e reads is of interest to it
//	it c, mask        makes the next instructions conditional
//	setend e          the byte order of data: 1 is big-endian
//	mask e, unmask e  sets, clears the bits A, I and F of interrupts, bit 2 to 0 of e
//	restore           CPSR gets SPSR
//	userbank          the registers of the list are those of User mode
//	status n = e      CPSR, with bit 4 of n SPSR; bits 3 to 0 say which bytes
//	enter e           goes on in that mode
//	watch e, n        marks n bytes for exclusive access; unwatch drops the mark
//	special n, m = e  the special register n of the M profile, its parts m
//	if c: …           a statement that is done where c is not 0
//
// Values are words of 32 bits. In them:
//
//	Rn sp lr pc       a register; pc reads as the address of the instruction + 4 in
//	                  T16 and T32, + 8 in A32
//	#Rn               the number of a register; its field
//	imm8 simm11 bl    other fields: as they are, sign-extended, as BL scrambles it
//	list              the register list with the bit M; count(list) is how many
//	N Z C V Q GE      flags
//	link              the address of the next instruction; in T16 and T32 with bit 0 set
//	word[e] half[e] byte[e]  memory; word, half and byte with a ! after (word![e]) have
//	                  to be aligned to their size on each architecture (MemA), else
//	                  that depends on the architecture (MemU)
//	+ - * & | ^ ~ ! == !=   as in Go, with Go's precedence; 1 or 0 for what is true or
//	                  not; ! is whether it is 0
//	next(Rt)          the register after the one of Rt
//	addsub(x, U, y)   x + y where the field U is 1, else x - y
//	pick(P, x, y)     x where the field P is 1, else y
//	exclusive(e, n)   whether n bytes at e are marked, and a store there succeeds
//	status(n)         CPSR, or with n = 1 SPSR
//	lsl(x, n) lsr asr ror    shifts by n, which may be more than 31
//	shift(x, type, n) the shift of an encoding with a constant (DecodeImmShift): type is
//	                  0 to 3; n = 0 means 32, or for RRX
//	shiftr(x, type, n) the same by the value n (DecodeRegShift)
//	to32(n)           32 for 0: the amount of LSR and ASR
//	rot(imm12)        the constant of A32 with its C (ARMExpandImm_C), or of T32
//	sxb sxh uxb uxh   the lowest byte or halfword, sign- or zero-extended
//	rev rev16 rbit clz sdiv udiv qadd qsub ssat(x, n) usat(x, n)
//	mulhi(x, y) smulhi carry(x, y, c) overflow(x, y, c)
//	align(e)          rounded down to a multiple of 4
//	holds(c)          whether the condition holds
//	special(n)        the special register n of the M profile
//	kept(C)           C, which stays from ARMv5 on, and is unknown before

// Operation is an operation on words. Those that have a name here reach a
// [Domain]; what Evaluate resolves by itself has none.
type Operation uint8

// The operations, on x, y and z. What is said of them holds for words of 32
// bits, all without a sign if nothing else is said.
const (
	opNone     Operation = iota
	opConst              // n
	opField              // the field n, as it is
	opSField             // the same with its sign
	opReg                // the register in field n
	opFixed              // the register n
	opFlag               // the flag n
	opList               // the list
	opLink               // the address of the next instruction, for LR
	opLoad               // memory of n bytes at x; with mustAlign
	opHolds              // the condition x
	opSpecial            // the special register x
	opShift              // x shifted: y is the type, z the amount
	opShiftC             // its C
	opImmShift           // the same, z as encodings have it
	opImmShiftC
	opRot  // the rotated constant x
	opRotC // its C
	opGE   // the flags GE
	opNext // the register after the one in field n
	opAddSub
	opPick
	opExclusive // n bytes at x are marked
	opStatus    // CPSR or SPSR

	DoAdd      // x + y
	DoSub      // x - y
	DoCarry    // the carry of x + y + z, z being 0 or 1
	DoOverflow // whether x + y + z, all signed, is out of range
	DoMul      // x * y, the lower word
	DoMulHi    // the upper word of x * y
	DoSMulHi   // the same, signed
	DoAnd      // x & y
	DoOr       // x | y
	DoXor      // x ^ y
	DoNot      // ^x
	DoZero     // 1 if x is 0, else 0
	DoLSL      // x << y; 0 for y above 31
	DoLSR      // x >> y; 0 for y above 31
	DoASR      // the same, signed; the sign for y above 31
	DoROR      // x rotated right by y
	DoRRX      // x >> 1, with bit 0 of y as the highest bit
	DoLSLC     // the last bit out of x << y; z for y = 0
	DoLSRC     // of x >> y
	DoASRC     // of the signed shift
	DoRORC     // of the rotation: the highest bit of the result; z for y = 0
	DoSXB      // the lowest byte of x, sign-extended
	DoSXH      // the lowest halfword, sign-extended
	DoRev      // the four bytes the other way round
	DoRev16    // the bytes of each halfword the other way round
	DoRBit     // the bits the other way round
	DoCLZ      // the number of zeros above the highest one
	DoCount    // the number of ones
	DoSDiv     // x / y, signed; 0 for y = 0
	DoUDiv     // x / y; 0 for y = 0
	DoQAdd     // x + y, signed, limited to the range
	DoQSub     // x - y, the same
	DoSSat     // x, signed, limited to y bits with a sign, 1 to 32
	DoUSat     // x, signed, limited to y bits without, 0 to 31
	DoCRC32    // the checksum x brought on by the lowest z bits of y
	DoCRC32C   // the same with the other polynomial
	DoKept     // x on architectures from ARMv5 on; unknown before
	numOperations
)

// node is an operation of a program with its operands, which are nodes before it; -1
// where there is none.
type node struct {
	op      Operation
	x, y, z int16
	n       uint32
}

// mustAlign is what opLoad has in n besides the size.
const mustAlign = 1 << 8

// Alignment is what an address has to be a multiple of.
type Alignment uint8

// Alignments. All but Multiple are about the size of the access.
const (
	Loose    Alignment = iota // as the architecture has it for single accesses (MemU)
	Strict                    // its size, on each architecture (MemA)
	Multiple                  // 4, as for each word of a multiple transfer
)

// ActKind is what is done with a value.
type ActKind uint8

// The kinds of actions.
const (
	ActReg      ActKind = iota // Reg = Value
	ActFlag                    // Flag, one of N, Z, C, V, = the lowest bit of Value
	ActQ                       // Q is set where Value is not 0
	ActGE                      // GE = Value
	ActStore                   // Size bytes at Addr = Value
	ActBranch                  // goes on at Addr in the same instruction set
	ActExchange                // goes on at Addr, and bit 0 says in which
	ActToA32                   // goes on at Addr in A32
	ActToT16                   // goes on at Addr in T16 and T32
	ActTrap                    // raises the exception Trap with the number Value
	ActStop                    // the exception of undefined instructions
	ActNothing                 // nothing
	ActIT                      // Value is ITSTATE from now on
	ActEndian                  // Value is the byte order of data
	ActMask                    // sets the bits Value of A, I and F
	ActUnmask                  // clears them
	ActSpecial                 // the parts Size of the special register Number = Value
	ActRestore                 // CPSR = SPSR
	ActUserBank                // registers that are moved are those of User mode
	ActStatus                  // the parts Number of CPSR or SPSR = Value
	ActEnter                   // goes on in mode Value
	ActWatch                   // marks Size bytes at Addr for exclusive access
	ActUnwatch                 // drops the mark
)

// Trap is an exception that an instruction raises by itself.
type Trap uint8

// The exceptions.
const (
	NoTrap Trap = iota
	TrapSVC
	TrapBKPT
	TrapHLT
	TrapSMC
	TrapHVC
)

var trapNames = map[string]Trap{"svc": TrapSVC, "bkpt": TrapBKPT, "hlt": TrapHLT, "smc": TrapSMC, "hvc": TrapHVC}

// act is an action of a program. Nodes are -1 where there is none.
type act struct {
	kind  ActKind
	asS   bool  // only where flags are to be set: '?'
	list  bool  // ActReg and ActStore: of each register of the list
	load  bool  // ActReg: the value is loaded, which counts for pc
	must  bool  // ActStore: has to be aligned
	next  bool  // ActReg: the register after it
	field int8  // ActReg: the field with the register, -1 where it is reg
	reg   Reg   // ActReg
	flag  Flags // ActFlag
	size  uint8 // ActStore
	trap  Trap
	guard int16
	addr  int16
	value int16
}

// program is what an instruction does, compiled from Row.Does.
type program struct {
	nodes []node
	acts  []act
	dest  int8 // the field with the register that gets what flags are of, -1
}

// doesParser reads the notation.
type doesParser struct {
	row   *Row
	p     *program
	names []doesName
	src   string // what is left of the statement
	err   error
}

type doesName struct {
	name string
	node int16
}

// compileDoes reads the text of Does for a row whose fields are known.
func (r *Row) compileDoes(text string) (*program, error) {
	d := doesParser{row: r, p: &program{dest: -1, nodes: make([]node, 0, 12), acts: make([]act, 0, 6)}}
	for text != "" {
		var stmt string
		stmt, text, _ = strings.Cut(text, ";")
		d.src = strings.TrimSpace(stmt)
		d.statement()
		if d.err == nil && d.src != "" {
			d.fail("%q is left over", d.src)
		}
		if d.err != nil {
			return nil, fmt.Errorf("isa: row %s: %q: %v", r.ID, strings.TrimSpace(stmt), d.err)
		}
	}
	if len(d.p.nodes) > maxNodes {
		return nil, fmt.Errorf("isa: row %s does too much", r.ID)
	}
	return d.p, nil
}

func (d *doesParser) fail(format string, args ...any) {
	if d.err == nil {
		d.err = fmt.Errorf(format, args...)
	}
	d.src = ""
}

func (d *doesParser) add(op Operation, n uint32, operands ...int16) int16 {
	x := node{op: op, x: -1, y: -1, z: -1, n: n}
	for i, o := range operands {
		*[...]*int16{&x.x, &x.y, &x.z}[i] = o
	}
	d.p.nodes = append(d.p.nodes, x)
	return int16(len(d.p.nodes) - 1)
}

func (d *doesParser) number(n uint32) int16 { return d.add(opConst, n) }

// take cuts a token off, if it comes next.
func (d *doesParser) take(tok string) bool {
	rest, ok := strings.CutPrefix(d.src, tok)
	if ok {
		d.src = strings.TrimLeft(rest, " ")
	}
	return ok
}

func (d *doesParser) want(tok string) {
	if !d.take(tok) {
		d.fail("no %q before %q", tok, d.src)
	}
}

func letter(c byte) bool {
	return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '_'
}

// word is the name or number that comes next.
func (d *doesParser) word() string {
	i := 0
	for i < len(d.src) && letter(d.src[i]) {
		i++
	}
	w := d.src[:i]
	d.src = strings.TrimLeft(d.src[i:], " ")
	return w
}

func (d *doesParser) statement() {
	guard := int16(-1)
	if d.take("if ") {
		guard = d.expr()
		d.want(":")
	}
	before := d.src
	w := d.word()
	if d.take(":=") {
		d.names = append(d.names, doesName{w, d.expr()})
		return
	}
	a := act{field: -1, guard: guard, addr: -1, value: -1}
	plain := func(kind ActKind) {
		a.kind, a.value = kind, d.expr()
		d.p.acts = append(d.p.acts, a)
	}
	going := func(kind ActKind) {
		a.kind, a.addr = kind, d.expr()
		d.p.acts = append(d.p.acts, a)
	}
	switch w {
	case "branch":
		going(ActBranch)
	case "exchange":
		going(ActExchange)
	case "toA32":
		going(ActToA32)
	case "toT16":
		going(ActToT16)
	case "trap":
		name := d.word()
		if a.trap = trapNames[name]; a.trap == NoTrap {
			d.fail("no exception %s", name)
		}
		d.want(",")
		plain(ActTrap)
	case "undefined":
		a.kind = ActStop
		d.p.acts = append(d.p.acts, a)
	case "nothing":
		a.kind = ActNothing
		if d.src != "" {
			a.value = d.expr()
		}
		d.p.acts = append(d.p.acts, a)
	case "it":
		c := d.expr()
		d.want(",")
		a.kind, a.value = ActIT, d.add(DoOr, 0, d.add(DoLSL, 0, c, d.number(4)), d.expr())
		d.p.acts = append(d.p.acts, a)
	case "setend":
		plain(ActEndian)
	case "mask":
		plain(ActMask)
	case "unmask":
		plain(ActUnmask)
	case "restore":
		a.kind = ActRestore
		d.p.acts = append(d.p.acts, a)
	case "userbank":
		a.kind = ActUserBank
		d.p.acts = append(d.p.acts, a)
	case "unwatch":
		a.kind = ActUnwatch
		d.p.acts = append(d.p.acts, a)
	case "enter":
		plain(ActEnter)
	case "watch":
		a.kind, a.addr = ActWatch, d.expr()
		d.want(",")
		n, _ := strconv.Atoi(d.word())
		a.size = uint8(n)
		d.p.acts = append(d.p.acts, a)
	case "status":
		a.kind, a.addr = ActStatus, d.expr()
		d.want("=")
		a.value = d.expr()
		d.p.acts = append(d.p.acts, a)
	case "special":
		a.kind, a.addr = ActSpecial, d.expr()
		parts := d.number(2)
		if d.take(",") {
			parts = d.expr()
		}
		d.want("=")
		// The parts come with the address, as nothing of them is computed.
		a.addr, a.value = d.add(DoOr, 0, d.add(DoLSL, 0, parts, d.number(8)), a.addr), d.expr()
		d.p.acts = append(d.p.acts, a)
	default:
		d.src = before
		d.assignment(guard)
	}
}

// assignment reads targets and the value that they get.
func (d *doesParser) assignment(guard int16) {
	first := len(d.p.acts)
	or := false
	for {
		d.target(guard)
		if d.err != nil || !d.take(",") {
			break
		}
	}
	if or = d.take("|="); !or {
		d.want("=")
	}
	value := d.expr()
	if d.err != nil {
		return
	}
	var acts []act
	for _, a := range d.p.acts[first:] {
		switch {
		case a.kind == ActFlag:
			acts = append(acts, d.flags(a, value)...)
			continue
		case (a.kind == ActQ) != or:
			d.fail("only Q is set by |=")
		case a.kind == ActReg && d.p.nodes[value].op == opLoad:
			a.load = true
		case a.kind == ActReg && a.field >= 0 && d.p.dest < 0:
			d.p.dest = a.field
		case a.kind == ActStore && a.list != (d.p.nodes[value].op == opList):
			d.fail("the list and no other takes words")
		}
		a.value = value
		if a.kind == ActReg && a.list {
			// The address of the first word.
			if d.p.nodes[value].op != opLoad || d.p.nodes[value].n&0xff != 0 {
				d.fail("a list is loaded from words")
			}
			a.addr, a.load = d.p.nodes[value].x, true
		}
		acts = append(acts, a)
	}
	d.p.acts = append(d.p.acts[:first], acts...)
}

// flags are the actions that give each flag of a its value.
func (d *doesParser) flags(a act, value int16) (out []act) {
	one := func(f Flags, v int16) {
		b := a
		b.flag, b.value = f, v
		out = append(out, b)
	}
	if a.flag&(a.flag-1) == 0 { // one by itself
		one(a.flag, value)
		return out
	}
	one(N, d.add(DoLSR, 0, value, d.number(31)))
	one(Z, d.add(DoZero, 0, value))
	if a.flag&C != 0 {
		if c := d.carryOf(value); c >= 0 {
			one(C, c)
		} else {
			d.fail("nothing gives C")
		}
	}
	if a.flag&V != 0 {
		x, y, in, ok := d.adder(value)
		if !ok {
			d.fail("nothing gives V")
			return nil
		}
		one(V, d.add(DoOverflow, 0, x, y, in))
	}
	return out
}

// adder takes a sum apart: x + y and a carry.
func (d *doesParser) adder(v int16) (x, y, carry int16, ok bool) {
	n := d.p.nodes[v]
	sub := n.op == DoSub
	if n.op != DoAdd && !sub {
		return
	}
	// a + b + C, a - b - !C
	if l, r := d.p.nodes[n.x], d.p.nodes[n.y]; l.op == n.op {
		switch {
		case !sub && r.op == opFlag:
			return l.x, l.y, n.y, true
		case sub && r.op == DoZero && d.p.nodes[r.x].op == opFlag:
			return l.x, d.add(DoNot, 0, l.y), r.x, true
		}
	}
	if sub {
		return n.x, d.add(DoNot, 0, n.y), d.number(1), true
	}
	return n.x, n.y, d.number(0), true
}

// carryOf is the C that the last operation of a value gives, -1 for none.
func (d *doesParser) carryOf(v int16) int16 {
	n := d.p.nodes[v]
	switch n.op {
	case DoAdd, DoSub:
		x, y, in, _ := d.adder(v)
		return d.add(DoCarry, 0, x, y, in)
	case DoLSL, DoLSR, DoASR, DoROR:
		return d.add(n.op-DoLSL+DoLSLC, 0, n.x, n.y, d.add(opFlag, uint32(C)))
	case opShift, opImmShift:
		d.p.nodes = append(d.p.nodes, node{op: n.op + 1, x: n.x, y: n.y, z: n.z})
		return int16(len(d.p.nodes) - 1)
	case opRot:
		return d.add(opRotC, 0, n.x)
	case DoAnd, DoOr, DoXor:
		if c := d.carryOf(n.y); c >= 0 {
			return c
		}
		return d.carryOf(n.x)
	case DoNot:
		return d.carryOf(n.x)
	}
	return -1
}

var sizeNames = map[string]uint8{"word": 4, "half": 2, "byte": 1, "words": 0}

// target reads what gets a value.
func (d *doesParser) target(guard int16) {
	w := d.word()
	a := act{guard: guard, field: -1, addr: -1, value: -1}
	size, memory := sizeNames[w]
	reg, isReg := RegByName(w)
	flags, isFlags := flagsByName(w)
	switch i := d.row.fieldIndex(w); {
	case memory:
		a.kind, a.size, a.must = ActStore, size, d.take("!") || w == "words"
		a.list = w == "words"
		d.want("[")
		a.addr = d.expr()
		d.want("]")
	case w == "next":
		d.want("(")
		a.kind, a.field, a.next = ActReg, d.row.fieldIndex(d.word()), true
		d.want(")")
	case w == "list":
		a.kind, a.list = ActReg, true
	case isFlags:
		a.kind, a.flag, a.asS = ActFlag, flags, d.take("?")
	case w == "Q":
		a.kind = ActQ
	case w == "GE":
		a.kind = ActGE
	case isReg:
		a.kind, a.reg = ActReg, reg
	case i >= 0 && w[0] == 'R':
		a.kind, a.field = ActReg, i
	default:
		d.fail("%s cannot get a value", w)
		return
	}
	d.p.acts = append(d.p.acts, a)
}

// flagsByName reads NZCV and the like.
func flagsByName(w string) (f Flags, ok bool) {
	for _, c := range []byte(w) {
		i := strings.IndexByte("NZCV", c)
		if i < 0 {
			return 0, false
		}
		f |= 1 << i
	}
	return f, f != 0
}

// expr reads comparisons, which bind least.
func (d *doesParser) expr() int16 {
	x := d.sum()
	for {
		switch {
		case d.take("=="):
			x = d.add(DoZero, 0, d.add(DoXor, 0, x, d.sum()))
		case d.take("!="):
			x = d.add(DoZero, 0, d.add(DoZero, 0, d.add(DoXor, 0, x, d.sum())))
		default:
			return x
		}
	}
}

func (d *doesParser) sum() int16 {
	x := d.product()
	for {
		switch {
		case d.take("+"):
			x = d.add(DoAdd, 0, x, d.product())
		case d.take("-"):
			x = d.add(DoSub, 0, x, d.product())
		case !strings.HasPrefix(d.src, "|=") && d.take("|"):
			x = d.add(DoOr, 0, x, d.product())
		case d.take("^"):
			x = d.add(DoXor, 0, x, d.product())
		default:
			return x
		}
	}
}

func (d *doesParser) product() int16 {
	x := d.unary()
	for {
		switch {
		case d.take("*"):
			x = d.add(DoMul, 0, x, d.unary())
		case d.take("&"):
			x = d.add(DoAnd, 0, x, d.unary())
		default:
			return x
		}
	}
}

func (d *doesParser) unary() int16 {
	switch {
	case d.take("~"):
		return d.add(DoNot, 0, d.unary())
	case d.take("!"):
		return d.add(DoZero, 0, d.unary())
	case d.take("#"):
		w := d.word()
		if i := d.row.fieldIndex(w); i >= 0 {
			return d.add(opField, uint32(i))
		}
		d.fail("no field %s", w)
		return -1
	case d.take("("):
		x := d.expr()
		d.want(")")
		return x
	}
	return d.primary()
}

// functions have one operation for a name, with so many arguments.
var functions = map[string]struct {
	op   Operation
	args int
}{
	"lsl": {DoLSL, 2}, "lsr": {DoLSR, 2}, "asr": {DoASR, 2}, "ror": {DoROR, 2},
	"shift": {opImmShift, 3}, "shiftr": {opShift, 3}, "rot": {opRot, 1},
	"sxb": {DoSXB, 1}, "sxh": {DoSXH, 1}, "rev": {DoRev, 1}, "rev16": {DoRev16, 1}, "rbit": {DoRBit, 1}, "clz": {DoCLZ, 1},
	"count": {DoCount, 1}, "holds": {opHolds, 1}, "special": {opSpecial, 1}, "kept": {DoKept, 1},
	"mulhi": {DoMulHi, 2}, "smulhi": {DoSMulHi, 2}, "carry": {DoCarry, 3}, "overflow": {DoOverflow, 3},
	"sdiv": {DoSDiv, 2}, "udiv": {DoUDiv, 2}, "qadd": {DoQAdd, 2}, "qsub": {DoQSub, 2}, "ssat": {DoSSat, 2}, "usat": {DoUSat, 2},
	"crc32": {DoCRC32, 3}, "crc32c": {DoCRC32C, 3},
	"addsub": {opAddSub, 3}, "pick": {opPick, 3}, "status": {opStatus, 1},
}

func (d *doesParser) primary() int16 {
	w := d.word()
	if w == "" {
		d.fail("no value at %q", d.src)
		return -1
	}
	if w[0] >= '0' && w[0] <= '9' {
		n, err := strconv.ParseUint(w, 0, 32)
		if err != nil {
			d.fail("bad number %s", w)
		}
		return d.number(uint32(n))
	}
	if size, ok := sizeNames[w]; ok {
		n := uint32(size)
		if d.take("!") || w == "words" {
			n |= mustAlign
		}
		d.want("[")
		x := d.add(opLoad, n, d.expr())
		d.want("]")
		return x
	}
	if w == "next" || w == "exclusive" {
		d.want("(")
		if w == "next" {
			i := d.row.fieldIndex(d.word())
			d.want(")")
			return d.add(opNext, uint32(i))
		}
		x := d.expr()
		d.want(",")
		n, _ := strconv.Atoi(d.word())
		d.want(")")
		return d.add(opExclusive, uint32(n), x)
	}
	if d.take("(") {
		var args [3]int16
		n := 0
		for ok := true; ok && n < 3; ok = d.take(",") {
			args[n] = d.expr()
			n++
		}
		d.want(")")
		mask := func(m uint32) int16 { return d.add(DoAnd, 0, args[0], d.number(m)) }
		switch f, ok := functions[w]; {
		case ok && f.args == n:
			return d.add(f.op, 0, args[:n]...)
		case n != 1:
		case w == "uxb":
			return mask(0xff)
		case w == "uxh":
			return mask(0xffff)
		case w == "align":
			return mask(^uint32(3))
		case w == "to32": // n - 1, without the bits above, and one more
			x := d.add(DoAnd, 0, d.add(DoSub, 0, args[0], d.number(1)), d.number(31))
			return d.add(DoAdd, 0, x, d.number(1))
		}
		d.fail("no function %s of %d", w, n)
		return -1
	}
	for _, x := range slices.Backward(d.names) {
		if x.name == w {
			return x.node
		}
	}
	if g, ok := RegByName(w); ok {
		return d.add(opFixed, uint32(g))
	}
	if f, ok := flagsByName(w); ok && f&(f-1) == 0 && d.row.fieldIndex(w) < 0 {
		return d.add(opFlag, uint32(f))
	}
	switch w {
	case "list":
		return d.add(opList, 0)
	case "link":
		return d.add(opLink, 0)
	case "GE":
		return d.add(opGE, 0)
	}
	i := d.row.fieldIndex(w)
	switch {
	case i < 0:
		d.fail("no field %s", w)
		return -1
	case w[0] == 'R' && len(w) > 1:
		return d.add(opReg, uint32(i))
	case strings.HasPrefix(w, "simm"), w == "bl":
		return d.add(opSField, uint32(i))
	}
	return d.add(opField, uint32(i))
}
