package check

import (
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// vectors looks at tables of vectors of the M profile, whose words the core takes for
// addresses with bit 0 as the state; it has no A32 state (DDI 0403E, B1.5.3, "The vector
// table", from memory; DDI 0419, A3.2.1). A table is what is in a section that is named after
// it, or after a label that is (common practice).
func vectors(p *job) {
	for sec, order := range p.Order {
		named := namesVectors(p.Sections[sec].Name)
		table := named
		for _, i := range order {
			it := &p.Items[i]
			switch s := it.Stmt; {
			case s.Kind == syntax.Label:
				table = named || namesVectors(s.Name)
			case s.Kind == syntax.Instruction:
				table = named
			case table && s.Kind == syntax.Directive && s.Directive.Effect == syntax.EffData && p.Unit(it) == 4:
				if have := p.have(it); have.Has(isa.FeatM) && !have.Has(isa.FeatA32) && !p.DialectOf(it).Words() {
					p.vectorWords(it)
				}
			}
		}
	}
}

// namesVectors says whether a section or a label is called after a table of vectors.
func namesVectors(name string) bool {
	name = strings.ToLower(name)
	for _, part := range []string{"vector", "isr_table", "isr_vec", "intvec"} {
		if strings.Contains(name, part) {
			return true
		}
	}
	return false
}

// vectorWords reports the addresses of T16 and T32 code without bit 0 in a line of a table. The
// assemblers of the other dialects set it for each label of Thumb code; another definition
// may take the place of a weak one.
func (p *job) vectorWords(it *program.Item) {
	for i := range it.Stmt.Ops {
		o := &it.Stmt.Ops[i]
		s, mode, set, ok := p.wordBit(it, o)
		if !ok || mode != isa.T || set || p.words[[2]int32{it.Index, int32(i)}] {
			continue
		}
		p.Emit(p.Loc(it, o.Start, o.End), finding.Diagnostic{Code: finding.CodeStateBit, Message: wording.VectorWithoutBit(s.Name), Bit: finding.WantsSet, Shared: true,
			Related: []finding.Related{{Location: p.DefinedAt(s).Location, Message: wording.DefinedHere(s.Name)}}})
	}
}

// wordBit is the label of code whose address a word of data has, the state of the code there,
// and bit 0 as it is in memory. ok is false where it is none, or where a linker may decide.
func (p *job) wordBit(it *program.Item, o *syntax.Operand) (s *program.Symbol, mode isa.State, set, ok bool) {
	v := p.Value(o, it)
	if v.Kind == program.Undefined && v.Symbol != nil && v.Symbol.Defined && v.Symbol.Label && !v.Mixed {
		at := v.Symbol.Value
		at.Symbol, at.N = v.Symbol, at.N+v.N
		v = at
	}
	s, mode, ok = p.CodeLabel(v)
	if !ok || s.Weak {
		return nil, 0, false, false
	}
	y := p.Direct(o)
	marked := s.Function || s.Auto || v.Symbol != nil && v.Symbol.Function || y != nil && y.ThumbFn
	return s, mode, v.N&1 != 0 || marked && mode == isa.T, true
}
