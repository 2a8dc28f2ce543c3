package isa

// spec is what one operand of a form may be. There is a type for each kind of
// operand, in the files spec….go: it reads its notation, checks an operand, says
// which values of the fields it can write, writes them, and describes itself.
type spec interface {
	// check compares an operand with what the form takes there and stores the
	// values of its fields into m.
	check(f *Form, q *Query, op *Operand, m *binding) miss
	// may says whether the fields hold what may be written: no register that is
	// left out, a word that has a name.
	may(f *Form, have Features, vals *[maxFields]uint32) bool
	// write writes the operand; pc is the address of the instruction.
	write(f *Form, vals *[maxFields]uint32, pc int64) string
	// describe is the operand in a spelling with limits.
	describe(f *Form) string
	// operand is what check takes, made of the fields: the operand as somebody
	// would write it. ok is false for those that no two instruction sets share.
	operand(f *Form, vals *[maxFields]uint32, pc int64) (o Operand, ok bool)

	// waits says whether assemblers take it with a constant that only a line
	// below gives a value.
	waits(r *Row) bool
	// exchanges says whether assemblers make another instruction of the name of it,
	// with the constant negated or inverted.
	exchanges(r *Row) bool
	// gets says whether it is where the result w of the instruction goes.
	gets(w regRef) bool
	// strict says whether the field can hold what the operand may not be.
	strict() bool

	facts() *specFacts
}

// specFacts are what is asked of operands of all kinds. Those that embed it have
// its answers where they give none of their own.
type specFacts struct {
	text  string // as in the table, without marks
	field int8   // the operand's field, -1 when none
	// shape is the written shape, as far as it is sure; else OpOther.
	shape OpKind
	// Legal values of constants, offsets and distances are min, min+step, … max.
	min, max, step int64
	limited        bool // these are to be shown
	number         bool // a constant whose value an assembler has to know
	address        bool // an address relative to PC
	named          bool // a word other than the name of a core register
	growth         growthBy
	typed          typedBy
}

// growthBy says on what of a form its growth depends.
type growthBy uint8

const (
	growsNever growthBy = iota
	growsByTarget
	growsByNumber
)

// typedBy says how many types, as of registers, an operand of floating point or
// vectors has in a name that writes one for each operand.
type typedBy uint8

const (
	typedNot       typedBy = 0
	typedOnce      typedBy = 1
	typedTwice     typedBy = 2 // the second may be left out
	typedBehindOne typedBy = 3 // only with one other operand that has a type
)

func newFacts(text string) specFacts {
	return specFacts{text: text, field: -1, shape: OpOther, step: 1}
}

func (s *specFacts) facts() *specFacts { return s }

func (s *specFacts) may(*Form, Features, *[maxFields]uint32) bool { return true }

func (s *specFacts) describe(*Form) string { return s.text }

func (s *specFacts) operand(*Form, *[maxFields]uint32, int64) (o Operand, ok bool) {
	return Operand{}, false
}

func (s *specFacts) waits(*Row) bool     { return false }
func (s *specFacts) exchanges(*Row) bool { return false }
func (s *specFacts) gets(regRef) bool    { return false }
func (s *specFacts) strict() bool        { return false }

// limits writes the legal values.
func (s *specFacts) limits() string {
	switch {
	case s.min == s.max:
		return itoa(s.min)
	case s.step > 1:
		return itoa(s.min) + "–" + itoa(s.max) + " by " + itoa(s.step)
	}
	return itoa(s.min) + "–" + itoa(s.max)
}

// regNot are registers that an operand cannot be, although its field holds them.
type regNot struct {
	pc bool
	sp bool // before ARMv8-A and R
}

func (n regNot) has(r Reg, have Features) bool {
	return n.pc && r == PC || n.sp && r == SP && !have.Has(FeatV8)
}

// hash says where the '#' of a constant may be missing.
type hash uint8

const (
	hashAlways  hash = iota // nowhere
	hashDivided             // in unified syntax
	hashNever               // in both
	hashPlain               // in both; and the constant is taken as it is, not modulo 32 bits
)

// mayLack says whether the '#' of a constant may be missing.
func (h hash) mayLack(q *Query) bool { return h >= hashNever || h == hashDivided && q.Unified }

// constant says how an operand misses being a constant. A bare expression may be a
// number; an address is none.
func (h hash) constant(q *Query, op *Operand) Reason {
	if op.Writeback || op.Kind != OpImm && (op.Kind != OpExpr || op.Known && !op.Bare) {
		return OtherKind
	}
	if op.Kind == OpExpr && !h.mayLack(q) {
		return NoHash
	}
	return OK
}

// specReader reads the notation of the operands of one form.
type specReader struct {
	row  *Row
	seen [maxFields]bool // fields that an earlier operand has set
	err  error           // the first mistake
}

// read reads one operand; see compile.go for the notation.
func (c *specReader) read(tok string) (spec, error) {
	var s spec
	if c.row.vector {
		s = c.vector(tok)
	}
	if s == nil && c.err == nil && c.row.full() {
		s = c.full(tok)
	}
	if s == nil && c.err == nil {
		s = c.plain(tok)
	}
	return s, c.err
}

// plain reads the operands that the encodings of T16 have.
func (c *specReader) plain(tok string) spec {
	shift := len(tok) > 4 && ShiftByName(tok[:3]) != NoShift
	switch {
	case tok[0] == '#':
		return c.constant(tok)
	case shift && tok[3] == '#':
		return c.shift(tok)
	case shift && tok[3] == '-':
		return c.shiftByReg(tok)
	case tok[0] == '%':
		return c.word(tok)
	case len(tok) > 1 && tok[:2] == "{#":
		return c.option(tok)
	case len(tok) > 1 && tok[:2] == "{=":
		return c.oneInList(tok)
	case tok[0] == '@', tok[0] == '~':
		return c.target(tok)
	case tok[0] == '{':
		return c.lowList(tok)
	case tok[0] == '[':
		return c.memory(tok)
	}
	return c.register(tok)
}
