package isa

import (
	"fmt"
	"math/bits"
	"slices"
	"strings"
	"sync/atomic"
)

// What A32 encodings have beyond those of the compact state, in the notation of
// compile.go. Forms carry no condition: a name is a stem with a condition, and
// the place of it depends on the syntax. In the mnemonic of a form:
//
//	ldr|b     the unified syntax puts the condition behind, ldrbeq; the older
//	          order puts it at the '|', ldreqb
//	ldm/ia    both orders in both syntaxes
//	cmp!s     at the '!' alone
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
//	<Rn, imm12>+       post-indexed alone; [Rn, ±imm12]  not indexed at all; the base
//	                   may be pc, fixed
//	<Rn, imm12>-       not indexed only with a negative offset
//	@rot @-rot         an address, its distance as a rotated constant
//	@two               an address, its distance as the sum of two of them
//	@imm12             an address, its distance in U and imm12
//	psr.psr            a status register with its parts, for writing
//	{list-sp}          a register list without sp; {list-both}: without lr or pc
//	p<coproc> c<CRn>   a numbered name
//	next(Rt)           the register behind the one of Rt
//	#width.msb         the width of a field of bits from lsb on, held as its last
//	                   bit, or less one in widthm1

// order says where an A32 name takes its condition.
type order uint8

const (
	orderEnd    order = iota // behind the name
	orderCut                 // behind in unified syntax; else, or also, inside
	orderBoth                // behind or inside in both syntaxes
	orderInside              // inside alone
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
	slots bool      // the same in IT blocks of the compact state
	short *Mnemonic // of the compact state, nil when it has none
	// open are features that bring forms that are not in the table: with any of
	// them, what no form takes is not refused.
	open Features
	// vector: of floating point or vectors. untyped: every form wants a type.
	// anyType: forms of it take any type behind the name.
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
	sizes  sizes // the sizes of the types behind a name that takes any
	wrong  bool  // there are types behind it that it does not have
}

// condWords are the condition suffixes as written, the first fifteen as encoded.
var condWords = [...]string{"eq", "ne", "cs", "cc", "mi", "pl", "vs", "vc", "hi", "ls", "ge", "lt", "gt", "le", "al", "hs", "lo", "ul"}

// condWord finds a suffix in condWords, -1 when it is none.
func condWord(a, b byte) int {
	switch uint16(a)<<8 | uint16(b) {
	case 'e'<<8 | 'q':
		return 0
	case 'n'<<8 | 'e':
		return 1
	case 'c'<<8 | 's':
		return 2
	case 'c'<<8 | 'c':
		return 3
	case 'm'<<8 | 'i':
		return 4
	case 'p'<<8 | 'l':
		return 5
	case 'v'<<8 | 's':
		return 6
	case 'v'<<8 | 'c':
		return 7
	case 'h'<<8 | 'i':
		return 8
	case 'l'<<8 | 's':
		return 9
	case 'g'<<8 | 'e':
		return 10
	case 'l'<<8 | 't':
		return 11
	case 'g'<<8 | 't':
		return 12
	case 'l'<<8 | 'e':
		return 13
	case 'a'<<8 | 'l':
		return 14
	case 'h'<<8 | 's':
		return 15
	case 'l'<<8 | 'o':
		return 16
	case 'u'<<8 | 'l':
		return 17
	}
	return -1
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

// buildA compiles the A32 rows and their stems.
func (t *table) buildA() {
	for _, r := range t.rowsA {
		for _, f := range r.forms {
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
	t.buildV()
	for _, s := range t.stems {
		s.forms = exchangedLast(s.forms)
	}
	t.buildT()
}

// restLast puts the rows behind the others that take what those leave: among
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

// exchangedLast puts what assemblers exchange behind the rest: ADD with a
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
	for i := range f.ops {
		switch s := &f.ops[i]; {
		case (s.kind == sConst || s.kind == sVConst) && (s.neg || s.inv), s.kind == sTarget && s.rot && s.neg,
			s.kind == sImm && s.neg && f.Row.State == T && f.Row.size == 4:
			return true
		}
	}
	return false
}

// SetsFlags gives the flags that the form sets: those of its row, but where its
// name says that they are kept.
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
	return f.Row.FW
}

// FirstA is First for A32 encodings: "ARMv6T2".
func (need Features) FirstA() string {
	if need&firstExtensionBits&^FeatSVC != 0 {
		return need.First()
	}
	for _, f := range []struct {
		has  Features
		name string
	}{{FeatSB, "ARMv8.5-A"}, {FeatRAS, "ARMv8 with the RAS Extension"}, {FeatPAN, "ARMv8.1-A"}, {FeatCRC, "ARMv8 with the CRC32 instructions"},
		{FeatV8 | FeatLDA | FeatHlt, "ARMv8"}, {FeatVirt, "ARMv7 with the Virtualization Extensions"}, {FeatDivA, "ARMv7 with the divide instructions"}, {FeatMP, "ARMv7 with the Multiprocessing Extensions"},
		{FeatBar, "ARMv7"}, {FeatSMC, "ARMv6K with the Security Extensions"}, {FeatT32, "ARMv6T2"}, {FeatV6K, "ARMv6K"}, {FeatV6, "ARMv6"}, {FeatV5TE, "ARMv5TE"}, {FeatV5T, "ARMv5T"}, {FeatV5, "ARMv5"}, {FeatT16, "ARMv4T"}} {
		if need&f.has != 0 {
			return f.name
		}
	}
	return need.First()
}

// conditional says whether an A32 form takes a condition: it has the field.
func (f *Form) conditional() bool { return f.Row.State == A && f.Row.at.cond == 0 }

// read takes an A32 name apart: the stem as it is, with a condition behind, or
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

// findA gives the mnemonic of an A32 name that the compact state does not have.
func (t *table) findA(name string) *Mnemonic {
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
func (mn *Mnemonic) Checked(q *Query) bool {
	s := mn.arm.stem
	if !q.A32 {
		if len(mn.Forms) == 0 && s != nil && len(s.forms) > 0 && s.open == 0 {
			return true // of A32 alone
		}
		return len(mn.Forms) > 0 && (s == nil || !s.vector || s.open&q.Have == 0) || mn.open != 0 && !q.Have.Has(mn.open)
	}
	return len(mn.FormsOf(A)) > 0 && s.open&q.Have == 0
}

// FormsOf lists the forms in a state, in order of preference. In A32 code they
// have the name without its condition.
func (mn *Mnemonic) FormsOf(s State) []*Form {
	if s == T {
		return mn.Forms
	}
	if mn.arm.stem == nil {
		return nil
	}
	return mn.arm.stem.forms
}

func (mn *Mnemonic) forms(q *Query) []*Form {
	if q.A32 {
		return mn.FormsOf(A)
	}
	return mn.Forms
}

// CondA is the condition in the name, as A32 code has it.
func (mn *Mnemonic) CondA() Cond {
	if mn.arm.stem == nil {
		return AL
	}
	return mn.arm.cond
}

// written says whether the name may be written so in a syntax.
func (r *reading) written(unified bool) bool {
	return !r.spelt || r.inside || unified || r.stem.order != orderCut
}

// takes says whether a form goes with the condition as written.
func (r *reading) takes(f *Form) bool {
	return f.conditional() || r.cond == AL && (!r.spelt || r.stem.conds)
}

func (mn *Mnemonic) matchA(q *Query, ops []Operand) (m Match, ok bool) {
	r := &mn.arm
	if r.stem == nil || !r.written(q.Unified) {
		return Match{}, false
	}
	if r.stem.vector {
		return mn.matchV(q, ops)
	}
	for _, f := range r.stem.forms {
		if len(f.ops) != len(ops) || !f.exists(q) || !r.takes(f) {
			continue
		}
		if f.fit(q, ops, &m) {
			m.Form = f
			if f.conditional() {
				m.vals[0] = uint32(r.cond)
			}
			return m, true
		}
	}
	return Match{}, false
}

func (f *Form) refuseCond(mn *Mnemonic, q *Query, blame func(Reason)) {
	if !mn.arm.written(q.Unified) {
		blame(OtherSyntax)
	}
	if !mn.arm.takes(f) {
		blame(NoCond)
	}
}

// OtherOrder is the A32 name with the condition where the syntax wants it.
func (mn *Mnemonic) OtherOrder(unified bool) string {
	if s := mn.arm.stem; s != nil {
		return s.with(mn.arm.cond, unified)
	}
	return mn.Name
}

// Operation takes the name apart: what is done, without flag letter and condition;
// whether the flag letter is there; and the condition, AL without one.
func (mn *Mnemonic) Operation() (op string, sets bool, cond Cond) {
	s := mn.arm.stem
	if s == nil {
		return mn.Name, false, mn.cond
	}
	if base, letter := strings.CutSuffix(s.name, "s"); letter && tableOf(base).stems[base] != nil {
		return base, true, mn.arm.cond
	}
	return s.name, false, mn.arm.cond
}

// With is the name with a condition as a syntax has it. The name has none.
func (mn *Mnemonic) With(c Cond, unified bool) string {
	if s := mn.arm.stem; s != nil {
		return s.with(c, unified)
	}
	return mn.Name
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
	for i := range uint32(1 << 12) {
		a = s.expand(i)
		if _, ok := s.Constant(a - v); ok && a > v {
			return a, a - v, true
		}
	}
	return 0, 0, false
}

// ahead is how far PC reads ahead of the instruction (Arm ARM, "Use of labels
// in UAL instruction syntax").
func (s State) ahead() int64 {
	if s == A {
		return 8
	}
	return 4
}

// DecodeA reads one A32 instruction. ok is false for undefined encodings, for
// those that the table does not have, and where have lacks what it needs.
func DecodeA(have Features, word uint32) (in Inst, ok bool) {
	for _, r := range allCodes().byMidA[word>>20&0xff] {
		if r.takes(have, word) {
			return r.decode(have, word), true
		}
	}
	return Inst{}, false
}

// RowsA lists the rows of A32. They must not be changed.
func RowsA() []*Row { return allCodes().rowsA }

// TakesA says whether a word belongs to the row on an architecture.
func (r *Row) TakesA(have Features, word uint32) bool { return r.takes(have, word) }

// StemsA lists the A32 names of the table without conditions, unsorted, but for
// those of floating point and vectors.
func StemsA() []string {
	var out []string
	for n, s := range integers().stems {
		if len(s.forms) > 0 && !s.vector {
			out = append(out, n)
		}
	}
	return out
}

// nameA is the form's name with a condition.
func (f *Form) nameA(unified bool, c Cond) string {
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
		return m.Form.nameA(unified, Cond(m.Values().Get("cond")))
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

// Unrotate is the constant that twelve bits stand for.
func Unrotate(imm12 uint32) uint32 {
	return bits.RotateLeft32(imm12&0xff, -int(imm12>>8&15*2))
}

// NearConstants gives the constants of data processing next to v: the largest
// that is not above it, and the smallest that is not below, 0 where there is none.
func (s State) NearConstants(v uint32) (below, above uint32) {
	if _, ok := s.Constant(v); ok {
		return v, v
	}
	// Some wrap round from the lowest bits to the highest: try all.
	for i := range uint32(1 << 12) {
		c := s.expand(i)
		if c <= v && c > below {
			below = c
		}
		if c >= v && (above == 0 || c < above) {
			above = c
		}
	}
	return below, above
}

// plainAddress makes an address that is not indexed look like others.
var plainAddress = strings.NewReplacer("[", "<", "]", ">", "±", "")

func (r *Row) compileOpA(s *opSpec, tok string, seen *[maxFields]bool) (done bool, err error) {
	field := func(name string) int8 {
		i := r.fieldIndex(name)
		if i < 0 {
			err = fmt.Errorf("no field %s in %s", name, tok)
		}
		return i
	}
	switch tok {
	case "#rot", "###rot", "#-rot", "#~rot", "=rot", "=~rot":
		s.kind, s.hash, s.field = sConst, hashDivided, field("imm12")
		if tok == "###rot" {
			s.hash = hashNever
		}
		s.neg, s.inv, s.lit = tok[1] == '-', tok[1] == '~', tok[0] == '='
		return true, err
	case "#k8", "###k8", "#kr":
		s.kind, s.hash, s.field, s.max = sByte, hashDivided, field("imm12"), 255
		if tok == "###k8" {
			s.hash = hashNever
		}
		if tok == "#kr" {
			s.kind, s.max, s.step = sRot, 30, 2
		}
		return true, err
	case "shift":
		s.kind, s.field, s.also = sAnyShift, field("imm5"), field("type")
		return true, err
	case "@two":
		s.kind, s.alignPC, s.field = sTwice, true, field("imm12")
		return true, err
	case "@rot", "@-rot":
		s.kind, s.alignPC, s.rot, s.neg, s.field = sTarget, true, true, tok[1] == '-', field("imm12")
		return true, err
	}
	switch {
	case tok[0] == '=':
		s.kind, s.lit = sImm, true
		err = r.compileNumber(s, tok[1:])
	case tok == "psr.psr":
		s.kind, s.field = sPSR, field("psr")
	case strings.HasPrefix(tok, "shift."):
		s.kind, s.field, s.also = sAnyShiftBy, field(tok[6:]), field("type")
	case strings.HasPrefix(tok, "#width."):
		s.kind, s.hash, s.field, s.also, s.min, s.max = sWidth, hashDivided, field(tok[7:]), field("lsb"), 1, 32
	case strings.HasPrefix(tok, "next("):
		s.kind, s.field = sNext, field(strings.Trim(tok[5:], ")"))
	case tok[0] == '@' && r.fieldIndex("U") >= 0:
		s.kind, s.alignPC = sTarget, true
		if err = r.compileNumber(s, tok[1:]); err == nil {
			s.extraBit = field("U")
			s.min = -s.max
		}
	case tok[0] == '{' && r.fieldIndex("list") >= 0 && tok[1] != '=':
		s.kind, s.listField, s.wide = sList, field("list"), true
		_, ban, _ := strings.Cut(strings.Trim(tok, "{}^"), "-")
		s.ban = regNamesIn(ban)
		s.one = strings.HasSuffix(ban, "both")
		if strings.HasSuffix(tok, "^") {
			s.userField = field("S")
		}
	case len(tok) > 3 && tok[1] == '<' && (tok[0] == 'p' || tok[0] == 'c'):
		s.kind, s.letter, s.field = sNumbered, tok[0], field(strings.Trim(tok[2:], ">"))
	case tok[0] == '<' || strings.Contains(tok, "±"):
		if tok[0] == '[' {
			s.plain = true
			tok = plainAddress.Replace(tok)
		}
		s.kind = sAddr
		base, off, _ := strings.Cut(tok[1:], ",")
		off, s.post = strings.CutSuffix(off, "+")
		off, s.below = strings.CutSuffix(off, "-")
		base, s.baseNotPC = strings.CutSuffix(base, "^")
		if base == "pc" {
			s.reg = PC
		} else {
			s.base = field(base)
		}
		off = strings.TrimSpace(strings.TrimSuffix(off, ">"))
		switch reg, _, shifted := strings.Cut(off, ","); {
		case strings.HasPrefix(off, "imm"):
			s.off = OffImm
			if e := r.compileNumber(s, off); e != nil {
				return true, e
			}
			s.min = -s.max
		case shifted:
			reg, s.notPC = strings.CutSuffix(reg, "^")
			s.off, s.field, s.also = OffShift, field(reg), field("imm5")
		default:
			off, s.notPC = strings.CutSuffix(off, "^")
			s.off, s.field = OffReg, field(off)
		}
	default:
		return false, nil
	}
	return true, err
}

// addFormsA adds a form, or two for <s>.
func (r *Row) addFormsA(f Form, name string) {
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
	base, late := strings.CutSuffix(base, "|") // where even the name alone takes it as at a '|'
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

// distance checks an address relative to PC in A32 code.
func (s *opSpec) distance(op *Operand, v int64, m *Match) miss {
	if op.Kind == OpLit && op.Bare {
		return miss{Reason: OtherKind} // a constant, not a word in a pool
	}
	if !op.Known {
		m.Deferred = true
		return miss{}
	}
	switch {
	case s.rot:
		w := v
		if s.neg {
			w = -v
		}
		x, ok := Rotated(uint32(w))
		if w < 0 || !ok {
			return miss{Reason: NoRotation, Value: v}
		}
		m.vals[s.field] = x
		return miss{}
	case v < s.min || v > s.max:
		return miss{Reason: TooFar, Value: v}
	case v%s.step != 0:
		return miss{Reason: OddTarget, Value: v}
	case s.extraBit >= 0:
		m.vals[s.extraBit] = 0
		if v >= 0 {
			m.vals[s.extraBit] = 1
		}
		m.vals[s.field] = uint32(max(v, -v) / s.step)
		return miss{}
	}
	w := m.Form.Row.fields[s.field].width
	m.vals[s.field] = uint32(v/s.step) & (1<<w - 1)
	return miss{}
}

// valueA is the distance that an A32 operand stands for.
func (s *opSpec) valueA(f *Form, vals *[maxFields]uint32) int64 {
	v := int64(vals[s.field])
	switch {
	case s.rot:
		v = int64(Unrotate(vals[s.field]))
		if s.neg {
			v = -v
		}
	case s.extraBit >= 0:
		if v *= s.step; vals[s.extraBit] == 0 {
			v = -v
		}
	default:
		w := f.Row.fields[s.field].width
		v = int64(int32(vals[s.field]<<(32-w))>>(32-w)) * s.step
	}
	return v
}

// shifted stores a shift by a constant in imm5 and type.
func (s *opSpec) shifted(kind Shift, by *Operand, imm5, typ int8, m *Match) miss {
	if kind == RRX {
		m.vals[imm5], m.vals[typ] = 0, 3
		return miss{}
	}
	m.vals[typ] = uint32(kind - LSL)
	if !by.Known {
		m.Deferred = true
		return miss{}
	}
	v := by.Imm
	top := int64(31)
	if kind == LSR || kind == ASR {
		top = 32
	}
	switch {
	case v < 0:
		return miss{Reason: Negative, Part: PartShift, Value: v, Max: top}
	case v > top:
		return miss{Reason: TooLarge, Part: PartShift, Value: v, Max: top}
	case v == 0:
		m.vals[typ] = 0 // no shift
	}
	m.vals[imm5] = uint32(v) & 31
	return miss{}
}

// checkA is check for the operands that only A32 encodings have.
func (s *opSpec) checkA(q *Query, op *Operand, m *Match) miss {
	immediate := func() (why Reason) {
		if op.WB || op.Kind != OpImm && (op.Kind != OpExpr || op.Known && !op.Bare) {
			return OtherKind
		}
		if op.Kind == OpExpr && !s.hash.mayLack(q) {
			return NoHash
		}
		return OK
	}
	switch s.kind {
	case sConst:
		if s.lit {
			if op.Kind != OpLit || !op.Bare {
				return miss{Reason: OtherKind}
			}
		} else if why := immediate(); why != OK {
			return miss{Reason: why}
		}
		if !op.Known {
			m.Deferred = true
			return miss{}
		}
		v := uint32(op.Imm)
		switch {
		case s.neg:
			v = -v
		case s.inv:
			v = ^v
		}
		x, ok := m.Form.Row.State.Constant(v)
		if !ok {
			return miss{Reason: NoRotation, Value: op.Imm}
		}
		m.vals[s.field] = x
	case sByte, sRot:
		if s.kind == sRot && op.Kind == OpImm && !q.Unified {
			return miss{Reason: OtherKind} // without a '#' in divided syntax
		}
		if s.kind == sRot && op.Kind == OpExpr && op.Bare {
			op.Kind = OpImm
		}
		if why := immediate(); why != OK {
			return miss{Reason: why}
		}
		if !op.Known {
			m.Deferred = true
			return miss{}
		}
		v := op.Imm
		if s.kind == sRot {
			v = int64(int32(v))
		}
		switch {
		case v < 0:
			return miss{Reason: Negative, Value: v}
		case v > s.max:
			return miss{Reason: TooLarge, Value: v}
		case v%s.step != 0:
			return miss{Reason: Misaligned, Value: v}
		case s.kind == sByte:
			m.vals[s.field] |= uint32(v)
		default:
			m.vals[s.field] |= uint32(v/2) << 8
		}
	case sWidth:
		if why := immediate(); why != OK {
			return miss{Reason: why}
		}
		if !op.Known {
			m.Deferred = true
			return miss{}
		}
		lsb := int64(m.vals[s.also])
		switch {
		case op.Imm < 1 || op.Imm > 32-lsb:
			return miss{Reason: TooLarge, Value: op.Imm}
		case m.Form.Row.fields[s.field].name == "msb":
			m.vals[s.field] = uint32(lsb + op.Imm - 1)
		default:
			m.vals[s.field] = uint32(op.Imm - 1)
		}
	case sAnyShift:
		if op.Kind != OpShift || op.Reg < 16 {
			return miss{Reason: OtherKind}
		}
		if op.Bare && !q.Unified {
			return miss{Reason: NoHash}
		}
		return s.shifted(op.Shift, op, s.field, s.also, m)
	case sAnyShiftBy:
		if op.Kind != OpShift || op.Reg > 15 || op.Shift == RRX {
			return miss{Reason: OtherKind}
		}
		m.vals[s.field], m.vals[s.also] = uint32(op.Reg), uint32(op.Shift-LSL)
	case sAddr:
		return s.address(q, op, m)
	case sOption:
		if op.Kind != OpOption {
			return miss{Reason: OtherKind}
		}
		return s.number(op, op.Imm, PartAll, m)
	case sTwice:
		if op.Kind != OpExpr || op.Bare || op.WB {
			return miss{Reason: OtherKind}
		}
		if !op.Known {
			m.Deferred = true
			return miss{}
		}
		v := op.Imm - q.PC - A.ahead()
		if v != int64(int32(v)) || !twoParts(m, int32(v)) {
			return miss{Reason: TooFar, Value: v}
		}
	case sPSR:
		if op.Kind != OpExpr || op.Word == "" || op.WB {
			return miss{Reason: OtherKind}
		}
		v, ok := psrFields(op.Word)
		if !ok {
			return miss{Reason: BadWord}
		}
		m.vals[s.field] = v
	case sNumbered:
		if op.Kind != OpExpr || op.WB {
			return miss{Reason: OtherKind}
		}
		v, ok := numbered(op.Word, s.letter)
		if !ok && s.letter == 'p' && op.Digits && 0 <= op.Imm && op.Imm <= 15 {
			v, ok = uint32(op.Imm), true // a coprocessor may go without its letter
		}
		if !ok {
			return miss{Reason: OtherKind}
		}
		m.vals[s.field] = v
	case sNext:
		if op.Kind != OpReg || op.WB {
			return miss{Reason: OtherKind}
		}
		if uint32(op.Reg) != m.vals[s.field]+1 {
			return miss{Reason: OtherReg, Reg: op.Reg}
		}
	default:
		return s.checkV(q, op, m)
	}
	return miss{}
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

// address checks a memory operand and its way to index.
func (s *opSpec) address(q *Query, op *Operand, m *Match) miss {
	if op.Kind != OpMem {
		return miss{Reason: OtherKind}
	}
	row := m.Form.Row
	up := func(yes bool) {
		if i := row.at.u; i >= 0 && yes {
			m.vals[i] = 1
		} else if i >= 0 {
			m.vals[i] = 0
		}
	}
	none := op.Off == OffNone
	switch {
	case s.off == OffImm && !none && op.Off != OffImm,
		s.off == OffReg && op.Off != OffReg,
		s.off == OffShift && op.Off != OffReg && op.Off != OffShift,
		op.Off == OffShift && op.Shift == NoShift,
		op.Post && op.WB:
		return miss{Reason: OtherKind, Part: PartOffset}
	case s.post && !op.Post && !none && (op.Off != OffImm || !op.Known || op.Imm != 0):
		// An offset of 0 may stand inside.
		return miss{Reason: OtherKind, Part: PartOffset}
	case (op.Post || op.WB || s.post) && op.Reg == PC:
		return miss{Reason: OtherReg, Part: PartBase, Reg: PC}
	case s.plain && (op.WB || op.Post):
		return miss{Reason: NoWB, Part: PartOffset}
	case op.Bare && !q.Unified:
		return miss{Reason: NoHash, Part: PartOffset}
	}
	if s.base >= 0 {
		if !s.takesBase(op.Reg, q.Have) {
			return miss{Reason: OtherReg, Part: PartBase, Reg: op.Reg}
		}
		m.vals[s.base] = uint32(op.Reg)
	} else if op.Reg != s.reg {
		return miss{Reason: OtherReg, Part: PartBase, Reg: op.Reg}
	}
	if p, w := row.at.p, row.at.w; p >= 0 {
		m.vals[p], m.vals[w] = 1, 0
		if op.WB {
			m.vals[w] = 1
		}
		if op.Post {
			m.vals[p] = 0
			if row.at.coproc >= 0 || row.State == T {
				m.vals[w] = 1
			}
		}
	}
	switch s.off {
	case OffImm:
		up(true)
		offset := s.below && !op.WB && !op.Post
		if none {
			if offset {
				return miss{Reason: OtherKind, Part: PartOffset}
			}
			return miss{}
		}
		if !op.Known {
			m.Deferred = true
			return miss{}
		}
		v := int64(int32(op.Imm))
		if v < s.min || v > s.max {
			return miss{Reason: TooLarge, Part: PartOffset, Value: op.Imm}
		}
		if v%s.step != 0 {
			return miss{Reason: Misaligned, Part: PartOffset, Value: op.Imm}
		}
		if offset && (v > 0 || v == 0 && !op.Minus) {
			return miss{Reason: TooLarge, Part: PartOffset, Value: op.Imm}
		}
		up(v > 0 || v == 0 && !op.Minus)
		m.vals[s.field] = uint32(max(v, -v) / s.step)
		return miss{}
	case OffShift:
		typ := row.at.typ
		m.vals[s.also], m.vals[typ] = 0, 0
		if op.Off == OffShift {
			if w := s.shifted(op.Shift, op, s.also, typ, m); w.Reason != OK {
				return w
			}
		}
	}
	if s.notPC && op.Index == PC {
		return miss{Reason: OtherReg, Part: PartOffset, Reg: PC}
	}
	up(!op.Minus)
	m.vals[s.field] = uint32(op.Index)
	return miss{}
}

// describeA is describe for the operands of A32 encodings.
func (s *opSpec) describeA() string {
	switch s.kind {
	case sConst:
		if s.lit {
			return "=constant"
		}
		return "#constant"
	case sWidth:
		return "#1–32"
	case sByte:
		return "#0–255"
	case sRot:
		return "#rotation"
	case sAnyShift:
		return "shift #0–32"
	case sAnyShiftBy:
		return "shift Rs"
	case sAddr:
		reg := map[OffKind]string{OffImm: fmt.Sprintf("#±%d", s.max), OffReg: "±Rm", OffShift: "±Rm, shift"}[s.off]
		if s.step > 1 {
			reg += fmt.Sprintf(" by %d", s.step)
		}
		if s.post {
			return "[Rn], " + reg
		}
		if s.base < 0 {
			return "[" + s.reg.String() + ", " + reg + "]"
		}
		return "[Rn, " + reg + "]"
	case sPSR:
		return "cpsr_fsxc|spsr_fsxc|apsr_nzcvq"
	case sOption:
		return fmt.Sprintf("{%d–%d}", s.min, s.max)
	case sTwice:
		return "label"
	case sNumbered:
		return string(s.letter) + "0–15"
	case sNext:
		return "the next register"
	}
	return s.describeV()
}

// writeA is write for the operands of A32 encodings.
func (s *opSpec) writeA(f *Form, vals *[maxFields]uint32) string {
	get := func(name string) uint32 { return Values{row: f.Row, vals: *vals}.Get(name) }
	switch s.kind {
	case sConst, sWidth:
		return "#" + itoa(s.value(f, vals))
	case sByte:
		return "#" + itoa(int64(vals[s.field]&0xff))
	case sRot:
		return itoa(int64(vals[s.field] >> 8 * 2)) // without '#': the divided syntax has none here
	case sAnyShift:
		return shiftText(vals[s.also], vals[s.field])
	case sAnyShiftBy:
		return Shift(vals[s.also]+uint32(LSL)).String() + " " + Reg(vals[s.field]).String()
	case sAddr:
		sign := ""
		if f.Row.fieldIndex("U") >= 0 && get("U") == 0 {
			sign = "-"
		}
		base := "[" + s.reg.String()
		if s.base >= 0 {
			base = "[" + Reg(vals[s.base]).String()
		}
		off := ""
		switch s.off {
		case OffImm:
			off = "#" + sign + itoa(int64(vals[s.field])*s.step)
		default:
			off = sign + Reg(vals[s.field]).String()
			if s.off == OffShift && (vals[s.also] != 0 || get("type") != 0) {
				off += ", " + shiftText(get("type"), vals[s.also])
			}
		}
		switch {
		case s.post || f.Row.fieldIndex("P") >= 0 && get("P") == 0:
			return base + "], " + off
		case get("W") != 0:
			return base + ", " + off + "]!"
		}
		return base + ", " + off + "]"
	case sPSR:
		name := "cpsr_"
		if vals[s.field]&16 != 0 {
			name = "spsr_"
		}
		for i, c := range "cxsf" {
			if vals[s.field]>>i&1 != 0 {
				name += string(c)
			}
		}
		return name
	case sOption:
		return "{" + itoa(s.value(f, vals)) + "}"
	case sNumbered:
		return string(s.letter) + itoa(int64(vals[s.field]))
	case sNext:
		return Reg((vals[s.field] + 1) & 15).String()
	}
	return s.writeV(vals)
}

func shiftText(typ, imm5 uint32) string {
	switch {
	case typ == 3 && imm5 == 0:
		return "rrx"
	case imm5 == 0 && typ != 0:
		imm5 = 32
	}
	return Shift(typ+uint32(LSL)).String() + " #" + itoa(int64(imm5))
}

// mayA is may for the operands of A32 encodings: a constant that has another
// rotation is not written as a plain number.
func (s *opSpec) mayA(f *Form, vals *[maxFields]uint32) bool {
	switch s.kind {
	case sConst:
		x, _ := f.Row.State.Constant(f.Row.State.expand(vals[s.field]))
		return x == vals[s.field]
	case sPSR:
		return vals[s.field]&15 != 0
	case sAddr:
		return !s.notPC || vals[s.field] != uint32(PC)
	case sNext:
		return vals[s.field]&1 == 0 && vals[s.field] != 14
	case sVConst:
		return s.mayConstant(f.Row, vals)
	}
	return s.mayV(vals)
}

// placesA are the indices of fields, -1 without them: looking them up by name
// for each line of a large file would show.
type placesA struct{ cond, s, p, u, w, rn, list, typ, coproc int8 }

// effectsA completes the effects with what A32 encodings have in common.
func (r *Row) effectsA(v Values, e Effects) Effects {
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
	if r.State == T {
		return e
	}
	if at.cond == 0 && Cond(v.vals[0]) < AL {
		e.Conditional = true
		e.FlagsRead |= Cond(v.vals[0]).Reads()
	} else if e.Flow == FlowBranch {
		e.Flow = FlowJump
	}
	return e
}
