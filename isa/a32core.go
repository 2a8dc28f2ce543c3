package isa

import (
	"math/bits"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
)

// What A32 encodings have beyond those of Thumb state, in the notation of
// compile.go. Forms carry no condition: a name is a stem with a condition, and
// the place of it depends on the syntax. In the mnemonic of a form:
//
//	ldr|b     the unified syntax puts the condition after, ldrbeq; the older
//	          order puts it at the '|', ldreqb
//	ldm/ia    both orders in both syntaxes
//	cmp!s     at the '!' only
//	and<s>    "and" with S=0, "and|s" with S=1
//
// Operands:
//
//	#rot #-rot #~rot   a rotated constant in imm12; negated, inverted
//	=rot =~rot         the same, written as a literal; =imm16: a plain constant
//	#k8 #kr            its eight bits and its rotation, written out
//	shift shift.Rs     any shift by a constant, by a register
//	<Rn, imm12>        memory, offset, pre- and post-indexed: U, P, W; imm8*4;
//	                   <Rn, Rm>; <Rn, Rm, shift>; <Rn^, imm8> but pc
//	<Rn, imm12>+       post-indexed only; [Rn, ±imm12]  not indexed at all; the base
//	                   may be pc, fixed
//	<Rn, imm12>-       not indexed only with a negative offset
//	@rot @-rot         an address, its distance as a rotated constant
//	@two               an address, its distance as the sum of two of them
//	@imm12             an address, its distance in U and imm12
//	psr.psr            a status register with its parts, for writing
//	{list-sp}          a register list without sp; {list-both}: without lr or pc
//	p<coproc> c<CRn>   a numbered name
//	next(Rt)           the register after the one of Rt
//	#width.msb         the width of a field of bits from lsb on, held as its last
//	                   bit, or less one in widthm1

// order says where an A32 name takes its condition.
type order uint8

const (
	orderEnd    order = iota // behind the name
	orderCut                 // behind in unified syntax; else, or also, inside
	orderBoth                // behind or inside in both syntaxes
	orderInside              // inside only
	orderType                // in front of the type, in both syntaxes
)

// stem is an A32 mnemonic without its condition.
type stem struct {
	name  string
	cut   int8
	order order
	forms []*Form
	// conds: some form takes a condition.
	conds bool
	slots bool      // the same in IT blocks of Thumb state
	short *Mnemonic // of Thumb state, nil when it has none
	// open are features that bring forms that are not in the table: with any of
	// them, what no form takes is not refused.
	open Features
	// vector: of floating point or vectors. untyped: every form wants a type.
	// anyType: forms of it take any type after the name.
	vector, untyped, anyType bool
	// The names made of it, filled in when first looked for.
	names [2][len(condWords)]atomic.Pointer[Mnemonic]
	plain atomic.Pointer[Mnemonic]
}

// reading is what a name means in A32 code; stem is nil when nothing that the
// table knows.
type reading struct {
	stem   *stem
	cond   Cond
	spelt  bool  // the condition is written
	inside bool  // and not at the end
	each   int   // the type is written so often, once for each operand; else 0
	sizes  sizes // the sizes of the types after a name that takes any
	wrong  bool  // there are types after it that it does not have
}

// condWords are the condition suffixes as written, the first fifteen as encoded.
var condWords = [...]string{"eq", "ne", "cs", "cc", "mi", "pl", "vs", "vc", "hi", "ls", "ge", "lt", "gt", "le", "al", "hs", "lo", "ul"}

// condIndex are the indices of condWords, and one more, by their two letters.
var condIndex = func() (index [26][26]int8) {
	for i, w := range condWords {
		index[w[0]-'a'][w[1]-'a'] = int8(i) + 1
	}
	return index
}()

// condWord finds a suffix in condWords, -1 when it is none.
func condWord(a, b byte) int {
	if a -= 'a'; a >= 26 {
		return -1
	}
	if b -= 'a'; b >= 26 {
		return -1
	}
	return int(condIndex[a][b]) - 1
}

// condOf is the condition of a suffix in condWords.
func condOf(word int) Cond {
	switch word {
	case 15:
		return 2
	case 16, 17:
		return 3
	}
	return Cond(word)
}

// buildA32 makes the stems of the A32 rows.
func (t *table) buildA32(g *group) {
	for _, r := range g.rowsA32 {
		for _, f := range g.forms(r) {
			s := t.stems[f.Mnemonic]
			if s == nil {
				s = &stem{name: f.Mnemonic, cut: f.cut, order: f.order}
				if r.vector {
					s.open = FeatV81M // whose forms of the name are not in the table
				}
				t.stems[f.Mnemonic] = s
			}
			s.conds = s.conds || f.conditional()
			s.anyType = s.anyType || f.anyType != 0
			s.forms = append(s.forms, f)
		}
	}
	t.buildVectors(g)
	for _, s := range t.stems {
		s.forms = exchangedLast(s.forms)
	}
	t.buildThumb()
}

// restLast puts the rows after the others that take what those leave: among
// them are the ones of coprocessors, of which two are floating point.
func restLast(rows []*Row) {
	for _, r := range rows {
		r.Rest = r.Rest || strings.Contains(r.Bits, "coproc:4")
	}
	slices.SortStableFunc(rows, func(a, b *Row) int {
		switch {
		case a.Rest == b.Rest:
			return 0
		case a.Rest:
			return 1
		}
		return -1
	})
}

// exchangedLast puts what assemblers exchange after the rest: ADD with a
// constant stays ADD where it can.
func exchangedLast(forms []*Form) []*Form {
	var plain, exchanged []*Form
	for _, f := range forms {
		if f.exchanges() {
			exchanged = append(exchanged, f)
		} else {
			plain = append(plain, f)
		}
	}
	return append(plain, exchanged...)
}

func (f *Form) exchanges() bool {
	for _, s := range f.ops {
		if s.exchanges(f.Row) {
			return true
		}
	}
	return false
}

// SetsFlags gives the flags that the form sets: those of its row, but where its
// name says that they are kept, and but those that only ARMv4 spoils.
func (f *Form) SetsFlags() Flags {
	if f.it == itIn {
		return 0
	}
	s := f.Row.fieldIndex("S")
	for _, x := range f.fixed {
		if f.Row.full() && x.field == s && x.val == 0 {
			return 0
		}
	}
	return f.Row.FlagsWritten &^ f.Row.kept
}

// FirstA32 is First for A32 encodings: "ARMv6T2".
func (need Features) FirstA32() string {
	if need&firstExtensionBits&^FeatSVC != 0 {
		return need.First()
	}
	for _, f := range []struct {
		has  Features
		name string
	}{{FeatSB, "ARMv8.5-A"}, {FeatRAS, "ARMv8 with the RAS Extension"}, {FeatPAN, "ARMv8.1-A"}, {FeatCRC, "ARMv8 with the CRC32 instructions"},
		{FeatV8 | FeatLDA | FeatHlt, "ARMv8"}, {FeatVirt, "ARMv7 with the Virtualization Extensions"}, {FeatDivA32, "ARMv7 with the divide instructions"}, {FeatMP, "ARMv7 with the Multiprocessing Extensions"},
		{FeatBar, "ARMv7"}, {FeatSMC, "ARMv6K with the Security Extensions"}, {FeatT32, "ARMv6T2"}, {FeatV6K, "ARMv6K"}, {FeatV6, "ARMv6"}, {FeatV5TE, "ARMv5TE"}, {FeatV5T, "ARMv5T"}, {FeatV5, "ARMv5"}, {FeatT16, "ARMv4T"}} {
		if need&f.has != 0 {
			return f.name
		}
	}
	return need.First()
}

// conditional says whether an A32 form takes a condition: it has the field.
func (f *Form) conditional() bool { return f.Row.State == A && f.Row.at.cond == 0 }

// read takes an A32 name apart: the stem as it is, with a condition after, or
// with one inside, as assemblers look for it. word is the suffix's index in
// condWords.
func (t *table) read(name string) (r reading, word int) {
	if s := t.stems[name]; s != nil && s.order != orderInside {
		return reading{stem: s, cond: AL}, int(AL)
	} else if s != nil {
		return reading{stem: s, cond: AL, inside: true}, int(AL)
	}
	n := len(name)
	if n < 3 {
		return
	}
	if typedName(name) {
		if r := t.readTypes(name); r.stem != nil {
			r.cond = AL
			return r, int(AL)
		}
	}
	if w := condWord(name[n-2], name[n-1]); w >= 0 {
		if s := t.stems[name[:n-2]]; s != nil && s.order != orderInside && (s.order != orderType || int(s.cut) == n-2) && (s.conds || s.slots) {
			return reading{stem: s, cond: condOf(w), spelt: true}, w
		}
	}
	var buf [16]byte
	if n > len(buf)+2 {
		return
	}
	for i := 3; i < n-2; i++ {
		w := condWord(name[i], name[i+1])
		if w < 0 {
			continue
		}
		b := append(append(buf[:0], name[:i]...), name[i+2:]...)
		if s := t.stems[string(b)]; s != nil && int(s.cut) == i && (s.conds || s.slots) {
			return reading{stem: s, cond: condOf(w), spelt: true, inside: true}, w
		} else if s == nil && typedName(name) && name[i+2] == '.' {
			if r := t.readTypes(string(b)); r.stem != nil && int(r.stem.cut) == i && r.stem.conds {
				r.cond, r.spelt, r.inside = condOf(w), true, true
				return r, w
			}
		}
	}
	return
}

// findA32 gives the mnemonic of an A32 name that Thumb state does not have.
func (t *table) findA32(name string) *Mnemonic {
	r, word := t.read(name)
	if r.stem == nil {
		return nil
	}
	order := 0
	if r.inside {
		order = 1
	}
	if r.stem.vector && strings.IndexByte(name, '.') >= 0 && (len(name) != len(r.stem.name)+2*int(order) || r.each > 0) {
		return r.mnemonic(name) // another spelling of the types
	}
	if !r.spelt {
		return r.stem.mnemonic(&r.stem.plain, name, r)
	}
	return r.stem.mnemonic(&r.stem.names[order][word], name, r)
}

func (r *reading) mnemonic(name string) *Mnemonic {
	// A copy of the name: the argument may be part of a large text.
	m := &Mnemonic{Name: strings.Clone(name), arm: *r, cond: AL}
	if r.stem.short != nil {
		m.Forms, m.cond, m.spelt = r.stem.short.Forms, r.cond, r.spelt
	}
	return m
}

func (s *stem) mnemonic(at *atomic.Pointer[Mnemonic], name string, r reading) *Mnemonic {
	if m := at.Load(); m != nil {
		return m
	}
	m := r.mnemonic(name)
	if at.CompareAndSwap(nil, m) {
		return m
	}
	return at.Load()
}

// Checked says whether the table describes what the name is under q, so that a
// statement that Match does not take is wrong.
func (mnemonic *Mnemonic) Checked(q *Query) bool {
	s := mnemonic.arm.stem
	if !q.A32 {
		if len(mnemonic.Forms) == 0 && s != nil && len(s.forms) > 0 && s.open == 0 {
			return true // of A32 only
		}
		return len(mnemonic.Forms) > 0 && (s == nil || !s.vector || s.open&q.Have == 0) || mnemonic.open != 0 && !q.Have.Has(mnemonic.open)
	}
	return len(mnemonic.FormsOf(A)) > 0 && s.open&q.Have == 0
}

// FormsOf lists the forms in a state, in order of preference. In A32 code they
// have the name without its condition.
func (mnemonic *Mnemonic) FormsOf(s State) []*Form {
	if s == T {
		return mnemonic.Forms
	}
	if mnemonic.arm.stem == nil {
		return nil
	}
	return mnemonic.arm.stem.forms
}

func (mnemonic *Mnemonic) forms(q *Query) []*Form {
	if q.A32 {
		return mnemonic.FormsOf(A)
	}
	return mnemonic.Forms
}

// CondA32 is the condition in the name, as A32 code has it.
func (mnemonic *Mnemonic) CondA32() Cond {
	if mnemonic.arm.stem == nil {
		return AL
	}
	return mnemonic.arm.cond
}

// written says whether the name may be written so in a syntax.
func (r *reading) written(unified bool) bool {
	return !r.spelt || r.inside || unified || r.stem.order != orderCut
}

// takes says whether a form goes with the condition as written.
func (r *reading) takes(f *Form) bool {
	return f.conditional() || r.cond == AL && (!r.spelt || r.stem.conds)
}

func (mnemonic *Mnemonic) matchA32(q *Query, ops []Operand) (m Match, ok bool) {
	r := &mnemonic.arm
	if r.stem == nil || !r.written(q.Unified) {
		return Match{}, false
	}
	if r.stem.vector {
		return mnemonic.matchVector(q, ops)
	}
	var b binding
	for _, f := range r.stem.forms {
		if len(f.ops) != len(ops) || !f.exists(q) || !r.takes(f) {
			continue
		}
		if f.fit(q, ops, &b) {
			if f.conditional() {
				b.vals[0] = uint32(r.cond)
			}
			return b.match(false, 0, q.Have), true
		}
	}
	return Match{}, false
}

func (f *Form) refuseCond(mnemonic *Mnemonic, q *Query, blame func(Reason)) {
	if !mnemonic.arm.written(q.Unified) {
		blame(OtherSyntax)
	}
	if !mnemonic.arm.takes(f) {
		blame(NoCond)
	}
}

// OtherOrder is the A32 name with the condition where the syntax wants it.
func (mnemonic *Mnemonic) OtherOrder(unified bool) string {
	if s := mnemonic.arm.stem; s != nil {
		return s.with(mnemonic.arm.cond, unified)
	}
	return mnemonic.Name
}

// Operation takes the name apart: what is done, without flag letter and condition;
// whether the flag letter is there; and the condition, AL without one.
func (mnemonic *Mnemonic) Operation() (op string, sets bool, cond Cond) {
	s := mnemonic.arm.stem
	if s == nil {
		return mnemonic.Name, false, mnemonic.cond
	}
	if base, letter := strings.CutSuffix(s.name, "s"); letter && tableOf(base).stems[base] != nil {
		return base, true, mnemonic.arm.cond
	}
	return s.name, false, mnemonic.arm.cond
}

// With is the name with a condition as a syntax has it. The name has none.
func (mnemonic *Mnemonic) With(c Cond, unified bool) string {
	if s := mnemonic.arm.stem; s != nil {
		return s.with(c, unified)
	}
	return mnemonic.Name
}

func (s *stem) with(c Cond, unified bool) string {
	switch {
	case c >= AL:
		return s.name
	case s.cut > 0 && (!unified && s.order != orderEnd || s.order >= orderInside):
		return s.name[:s.cut] + c.String() + s.name[s.cut:]
	}
	return s.name + c.String()
}

// Sum finds two constants of data processing that have no bit in common and make
// v together, as MOV and ORR, or two ADDs, can.
func (s State) Sum(v uint32) (a, b uint32, ok bool) {
	step := 1
	if s == A {
		step = 2
	}
	for r := 0; r < 32; r += step {
		b = v & bits.RotateLeft32(0xff, r)
		a = v &^ b
		_, okA := s.Constant(a)
		if _, okB := s.Constant(b); okA && okB && a != 0 && b != 0 {
			return a, b, true
		}
	}
	return 0, 0, false
}

// Difference finds two constants of data processing of which the first less the
// second is v, as MOV and SUB can make it.
func (s State) Difference(v uint32) (a, b uint32, ok bool) {
	_, a = s.NearConstants(v)
	if _, ok := s.Constant(a - v); ok && a > v {
		return a, a - v, true
	}
	for _, a := range constantsOf(s).all {
		if a <= v {
			continue
		}
		if _, ok := s.Constant(a - v); ok {
			return a, a - v, true
		}
	}
	return 0, 0, false
}

// Ahead is how many bytes PC reads ahead of the instruction (DDI 0406, "Use of labels
// in UAL instruction syntax").
func (s State) Ahead() int64 {
	if s == A {
		return 8
	}
	return 4
}

// DecodeA32 reads one A32 instruction. ok is false for undefined encodings, for
// those that the table does not have, and where have lacks what it needs.
func DecodeA32(have Features, word uint32) (in Inst, ok bool) {
	for _, r := range allCodes().byMiddleA32[word>>20&0xff] {
		if r.takes(have, word) {
			return r.decode(have, word), true
		}
	}
	return Inst{}, false
}

// RowsA32 lists the rows of A32. They must not be changed.
func RowsA32() []*Row { return allCodes().rowsA32 }

// TakesA32 says whether a word belongs to the row on an architecture.
func (r *Row) TakesA32(have Features, word uint32) bool { return r.takes(have, word) }

// StemsA32 lists the A32 names of the table without conditions, unsorted, but for
// those of floating point and vectors.
func StemsA32() []string {
	var out []string
	for _, t := range integers().tables() {
		for n, s := range t.stems {
			if len(s.forms) > 0 && !s.vector {
				out = append(out, n)
			}
		}
	}
	return out
}

// nameA32 is the form's name with a condition.
func (f *Form) nameA32(unified bool, c Cond) string {
	switch {
	case c >= AL || !f.conditional():
		return f.Mnemonic
	case f.cut > 0 && (!unified && f.order != orderEnd || f.order == orderInside || f.order == orderType):
		return f.Mnemonic[:f.cut] + c.String() + f.Mnemonic[f.cut:]
	}
	return f.Mnemonic + c.String()
}

// Name is the mnemonic as written in a syntax, with the condition.
func (m *Match) Name(unified bool) string {
	if m.Form.Row.State == A {
		return m.Form.nameA32(unified, Cond(m.Values().Get("cond")))
	}
	return m.Form.Mnemonic
}

// Rotated finds the twelve bits of a rotated constant: a byte and, in bits 8 to
// 11, half of the amount by which it is rotated right. Of several the one with
// the least rotation is right (Arm ARM, "Modified immediate constants in ARM
// instructions").
func Rotated(v uint32) (imm12 uint32, ok bool) {
	for r := 0; r < 32; r += 2 {
		if x := bits.RotateLeft32(v, r); x < 256 {
			return uint32(r)<<7 | x, true
		}
	}
	return 0, false
}

// Unrotate is the constant that twelve bits mean.
func Unrotate(imm12 uint32) uint32 {
	return bits.RotateLeft32(imm12&0xff, -int(imm12>>8&15*2))
}

// NearConstants gives the constants of data processing next to v: the largest
// that is not above it, and the smallest that is not below, 0 where there is none.
func (s State) NearConstants(v uint32) (below, above uint32) {
	if _, ok := s.Constant(v); ok {
		return v, v
	}
	// Some wrap round from the lowest bits to the highest: look at all.
	sorted := constantsOf(s).sorted
	i, _ := slices.BinarySearch(sorted, v) // 0 is the first
	if i < len(sorted) {
		above = sorted[i]
	}
	return sorted[i-1], above
}

// constants are those of data processing of full width: by their twelve bits, and each once
// in order.
type constants struct{ all, sorted []uint32 }

func newConstants(s State) *constants {
	c := &constants{}
	for i := range uint32(1 << 12) {
		c.all = append(c.all, s.expand(i))
	}
	c.sorted = slices.Compact(slices.Sorted(slices.Values(c.all)))
	return c
}

var (
	constantsA = sync.OnceValue(func() *constants { return newConstants(A) })
	constantsT = sync.OnceValue(func() *constants { return newConstants(T) })
)

func constantsOf(s State) *constants {
	if s == A {
		return constantsA()
	}
	return constantsT()
}

// full reads the operands that only encodings of full width have; nil for others.
func (c *specReader) full(tok string) spec {
	switch tok {
	case "#rot", "###rot", "#-rot", "#~rot", "=rot", "=~rot":
		return c.wideConstant(tok)
	case "#k8", "###k8", "#kr":
		return c.byteOrRotation(tok)
	case "shift":
		return c.anyShift(tok)
	case "@two":
		return c.twoParts(tok)
	case "psr.psr":
		return c.status(tok)
	}
	switch {
	case tok[0] == '=':
		return c.literal(tok)
	case strings.HasPrefix(tok, "shift."):
		return c.anyShiftByReg(tok)
	case strings.HasPrefix(tok, "#width."):
		return c.width(tok)
	case strings.HasPrefix(tok, "next("):
		return c.next(tok)
	case tok[0] == '{' && c.row.fieldIndex("list") >= 0 && tok[1] != '=':
		return c.list(tok)
	case len(tok) > 3 && tok[1] == '<' && (tok[0] == 'p' || tok[0] == 'c'):
		return c.numbered(tok)
	case tok[0] == '<' || strings.Contains(tok, "±"):
		return c.address(tok)
	}
	return nil
}

// addFormsA32 adds a form, or two for <s>.
func (r *Row) addFormsA32(f Form, name string) {
	put := func(f Form, name string) {
		if r.vector && typedName(name) {
			for _, any := range anyTypes {
				if n, ok := strings.CutSuffix(name, any.suffix); ok {
					name, f.anyType = n, any.sizes
				}
			}
			f.cut, f.order = int8(len(name)), orderType
			if i := strings.IndexByte(name, '.'); i > 0 {
				f.cut = int8(i)
			}
		}
		if i := strings.IndexAny(name, "|/!"); i > 0 {
			f.cut = int8(i)
			f.order = map[byte]order{'|': orderCut, '/': orderBoth, '!': orderInside}[name[i]]
			name = name[:i] + name[i+1:]
		}
		f.Mnemonic = name
		r.forms = append(r.forms, &f)
	}
	base, flags := strings.CutSuffix(name, "<s>")
	base, late := strings.CutSuffix(base, "|") // where even the name by itself takes it as at a '|'
	if !flags {
		put(f, name)
		return
	}
	with := f
	f.fixed = append(f.fixed[:len(f.fixed):len(f.fixed)], fixedField{r.fieldIndex("S"), 0})
	if late {
		put(f, base+"|")
	} else {
		put(f, base)
	}
	with.fixed = append(with.fixed[:len(with.fixed):len(with.fixed)], fixedField{r.fieldIndex("S"), 1})
	put(with, base+"|s")
}

// numbered reads p7, c3 or cr3, in lower or upper case.
func numbered(w string, letter byte) (v uint32, ok bool) {
	if len(w) < 2 || w[0]|0x20 != letter {
		return 0, false
	}
	d := w[1:]
	if letter == 'c' && (d[0] == 'r' && w[0] == 'c' || d[0] == 'R' && w[0] == 'C') {
		d = d[1:]
	}
	switch {
	case len(d) == 1 && d[0] >= '0' && d[0] <= '9':
		return uint32(d[0] - '0'), true
	case len(d) == 2 && d[0] == '1' && d[1] >= '0' && d[1] <= '5':
		return 10 + uint32(d[1]-'0'), true
	}
	return 0, false
}

// psrFields reads the name of a status register as MSR writes it: bit 4 for
// SPSR, below it the mask of the parts f, s, x and c (Arm ARM, "MSR
// (register)"). Without a part the whole of APSR is its flags; of CPSR and SPSR
// assemblers take f and c.
func psrFields(w string) (v uint32, ok bool) {
	low := strings.ToLower(w)
	base, parts, has := strings.Cut(low, "_")
	switch base {
	case "apsr":
		switch {
		case !has, parts == "nzcvq":
			return 8, true
		case parts == "g":
			return 4, true
		case parts == "nzcvqg":
			return 12, true
		}
		return 0, false
	case "spsr":
		v = 16
	case "cpsr":
	default:
		return 0, false
	}
	if !has {
		return v | 9, true
	}
	if w[len(base)+1:] != parts {
		return 0, false // in capitals
	}
	switch parts {
	case "all":
		return v | 9, true
	case "flg":
		return v | 8, true
	case "ctl":
		return v | 1, true
	case "":
		return 0, false
	}
	for i := range len(parts) {
		bit := uint32(0)
		switch parts[i] {
		case 'c':
			bit = 1
		case 'x':
			bit = 2
		case 's':
			bit = 4
		case 'f':
			bit = 8
		}
		if bit == 0 || v&bit != 0 {
			return 0, false
		}
		v |= bit
	}
	return v, true
}

// fieldsA32 are the indices of fields, -1 without them: looking them up by name
// for each line of a large file would show.
type fieldsA32 struct{ cond, s, p, u, w, rn, list, typ, coproc int8 }

// effectsA32 completes the effects with what A32 encodings have in common.
func (r *Row) effectsA32(v Values, e Effects) Effects {
	at := &r.at
	if at.s >= 0 && at.list < 0 {
		switch {
		case v.vals[at.s] == 0:
			e.FlagsWritten = 0
		case e.Writes.Has(PC) && r.State == A:
			e.FlagsWritten = NZCV // from SPSR
		}
	}
	if at.p >= 0 && at.rn >= 0 && (v.vals[at.w] != 0 || at.list < 0 && v.vals[at.p] == 0) {
		e.Writes |= 1 << v.vals[at.rn]
	}
	return r.conditioned(&v.vals, e)
}
