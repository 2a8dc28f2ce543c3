package isa

import (
	"fmt"
	"slices"
	"strings"
)

// vocabulary are words that an operand may be, with their field values.
type vocabulary struct {
	words []string
	vals  []uint32
	// numbers: of barriers, which take their number too. The numbers are all
	// defined: what has no name means SY (Arm ARM, "DMB").
	numbers bool
	// parts: of status registers, with their parts or without, which read alike.
	parts bool
	// mixed: assemblers take small letters and capitals mixed.
	mixed bool
}

// find looks a word up, written in lower or in upper case, or mixed where assemblers
// take that.
func (v *vocabulary) find(w string, mixed bool) (val uint32, ok bool) {
	for i, x := range v.words {
		if x == w || len(x) == len(w) && strings.EqualFold(x, w) && (mixed || evenCase(w)) {
			return v.vals[i], true
		}
	}
	return 0, false
}

// evenCase says whether a name is in lower case or in upper case as a whole,
// but for the fields after a '_', for xPSR, and for APSR in any case.
func evenCase(w string) bool {
	base, _, _ := strings.Cut(w, "_")
	return base == "xPSR" || strings.EqualFold(base, "apsr") || strings.ToUpper(base) == base || strings.ToLower(base) == base
}

// name writes a field value as a word, or as a number.
func (v *vocabulary) name(val uint32) string {
	if i := slices.Index(v.vals, val); i >= 0 {
		return v.words[i]
	}
	return "#" + itoa(int64(val))
}

// isWord says whether an operand is a name.
func isWord(op *Operand) bool { return op.Kind == OpExpr && op.Word != "" && !op.Writeback }

// wordOperand is the operand that a text means.
func wordOperand(w string) Operand { return Operand{Kind: OpExpr, Word: w} }

// wordSpec is a name out of a vocabulary.
type wordSpec struct {
	specFacts
	*vocabulary
}

// lettersSpec are letters, each with a bit.
type lettersSpec struct {
	specFacts
	*vocabulary
}

// word reads %vocab.F and %%vocab.F.
func (c *specReader) word(tok string) spec {
	name, field, _ := strings.Cut(strings.TrimLeft(tok, "%"), ".")
	v := vocabularies()[name]
	if v == nil && c.err == nil {
		c.err = fmt.Errorf("no vocabulary %s", name)
	}
	facts := newFacts(tok)
	facts.field, facts.named = c.field(field), true
	if strings.HasPrefix(tok, "%%") {
		return &lettersSpec{facts, v}
	}
	facts.shape = OpExpr
	return &wordSpec{facts, v}
}

func (s *wordSpec) check(_ *Form, _ *Query, op *Operand, m *binding) miss {
	if s.numbers && (op.Kind == OpImm || op.Kind == OpExpr && op.Bare) && !op.Writeback {
		if op.Known && op.Imm>>4 != 0 {
			return miss{Reason: BadWord}
		}
		m.vals[s.field] = uint32(op.Imm)
		m.Deferred = m.Deferred || !op.Known
		return miss{}
	}
	if !isWord(op) {
		return miss{Reason: OtherKind}
	}
	if s.parts {
		v, ok := psrFields(op.Word)
		m.vals[s.field] = v >> 4
		if !ok || v&15 != 9 && !strings.EqualFold(op.Word, "apsr") {
			return miss{Reason: BadWord}
		}
		return miss{}
	}
	v, ok := s.find(op.Word, s.mixed)
	if !ok {
		return miss{Reason: BadWord}
	}
	m.vals[s.field] = v
	return miss{}
}

func (s *wordSpec) may(_ *Form, _ Features, vals *[maxFields]uint32) bool {
	return s.numbers || slices.Contains(s.vals, vals[s.field])
}

func (s *wordSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	return s.name(vals[s.field])
}

func (s *wordSpec) describe(*Form) string { return strings.Join(s.words, "|") }

func (s *wordSpec) operand(_ *Form, vals *[maxFields]uint32, _ int64) (Operand, bool) {
	if v := vals[s.field]; !slices.Contains(s.vals, v) {
		return constantOperand(int64(v)), true
	}
	return wordOperand(s.name(vals[s.field])), true
}

func (s *wordSpec) strict() bool { return !s.numbers }

func (s *lettersSpec) check(_ *Form, _ *Query, op *Operand, m *binding) miss {
	if !isWord(op) {
		return miss{Reason: OtherKind}
	}
	for i := range len(op.Word) {
		v, ok := s.find(op.Word[i:i+1], true)
		if !ok {
			return miss{Reason: BadWord}
		}
		m.vals[s.field] |= v
	}
	return miss{}
}

func (s *lettersSpec) may(_ *Form, _ Features, vals *[maxFields]uint32) bool {
	return slices.Contains(s.vals, vals[s.field])
}

func (s *lettersSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	return s.name(vals[s.field])
}

// describe names the letters, without those that are put together.
func (s *lettersSpec) describe(*Form) string {
	var letters []string
	for _, w := range s.words {
		if len(w) == 1 {
			letters = append(letters, w)
		}
	}
	return strings.Join(letters, "|")
}

func (s *lettersSpec) operand(_ *Form, vals *[maxFields]uint32, _ int64) (Operand, bool) {
	v := vals[s.field]
	return wordOperand(s.name(v)), slices.Contains(s.vals, v)
}

func (s *lettersSpec) strict() bool { return true }

// statusSpec is a status register with its parts, for writing.
type statusSpec struct{ specFacts }

// status reads psr.psr.
func (c *specReader) status(tok string) spec {
	s := &statusSpec{newFacts(tok)}
	s.field, s.named = c.field("psr"), true
	return s
}

func (s *statusSpec) check(_ *Form, _ *Query, op *Operand, m *binding) miss {
	if !isWord(op) {
		return miss{Reason: OtherKind}
	}
	v, ok := psrFields(op.Word)
	if !ok {
		return miss{Reason: BadWord}
	}
	m.vals[s.field] = v
	return miss{}
}

func (s *statusSpec) may(_ *Form, _ Features, vals *[maxFields]uint32) bool {
	return vals[s.field]&15 != 0
}

func (s *statusSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
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
}

func (s *statusSpec) describe(*Form) string { return "cpsr_fsxc|spsr_fsxc|apsr_nzcvq" }

func (s *statusSpec) operand(f *Form, vals *[maxFields]uint32, pc int64) (Operand, bool) {
	return wordOperand(s.write(f, vals, pc)), true
}

// numberedSpec is a letter and a number: p7, c3.
type numberedSpec struct {
	specFacts
	letter byte
}

// numbered reads p<coproc> and c<CRn>.
func (c *specReader) numbered(tok string) spec {
	s := &numberedSpec{newFacts(tok), tok[0]}
	s.field, s.named = c.field(strings.Trim(tok[2:], ">")), true
	return s
}

func (s *numberedSpec) check(_ *Form, _ *Query, op *Operand, m *binding) miss {
	if op.Kind != OpExpr || op.Writeback {
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
	return miss{}
}

func (s *numberedSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	return string(s.letter) + itoa(int64(vals[s.field]))
}

func (s *numberedSpec) describe(*Form) string { return string(s.letter) + "0–15" }

func (s *numberedSpec) operand(f *Form, vals *[maxFields]uint32, pc int64) (Operand, bool) {
	return wordOperand(s.write(f, vals, pc)), true
}
