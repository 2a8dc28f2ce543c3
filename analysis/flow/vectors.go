package flow

import (
	"slices"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// vectors looks at tables of vectors of the M profile, whose words the core takes for
// addresses with bit 0 as the state (DDI 0403E, B1.5.3, "The vector table", from memory):
// a table is what is in a section that is named after it, or behind a label that is (common
// practice).
func (p *checker) vectors(sec int16) {
	if !slices.ContainsFunc(p.Environments, onlyM) {
		return
	}
	named := namesVectors(p.Sections[sec].Name)
	table := named
	for n, i := range p.Order[sec] {
		if n%lookEvery == lookEvery-1 && p.ctx.Err() != nil {
			return
		}
		it := &p.Items[i]
		switch {
		case it.Stmt.Kind == syntax.Label:
			table = named || namesVectors(it.Stmt.Name)
		case it.Stmt.Kind == syntax.Instruction:
			table = named
		case table && it.Stmt.Kind == syntax.Directive && it.Stmt.Directive.Effect == syntax.EffData && p.Unit(it) == 4:
			if onlyM(p.Environments[it.Environment]) {
				p.vectorWords(it)
			}
		}
	}
}

// onlyM says whether an environment is for cores of the M profile.
func onlyM(e program.Environment) bool { return e.Have&isa.FeatM != 0 && e.Have&isa.FeatA32 == 0 }

// namesVectors says whether a section or a label is called after a table of vectors.
func namesVectors(name string) bool {
	name = strings.ToLower(name)
	return strings.Contains(name, "vectors") || strings.Contains(name, "isr_vector") || strings.Contains(name, "vector_table") || strings.Contains(name, "vectortable") || strings.Contains(name, "intvec")
}

// vectorWords reports the addresses of T16 and T32 code without bit 0 in a line of a table.
func (p *checker) vectorWords(it *program.Item) {
	for i := range it.Stmt.Ops {
		o := &it.Stmt.Ops[i]
		v := p.Value(o, it)
		s, mode, ok := p.CodeLabel(v)
		if !ok || !s.Label || mode != isa.T || s.Function || s.Auto || (v.N-s.Value.N)&1 != 0 || s.Weak {
			continue
		}
		if y := p.Direct(o); y != nil && y.ThumbFn {
			continue
		}
		at := p.Loc(it, o.Start, o.End)
		p.Emit(at, finding.Diagnostic{Code: finding.CodeStateBit, Message: wording.VectorBitClear(s.Name), Bit: finding.WantsSet, Shared: true, Related: []finding.Related{
			{Location: p.StmtLoc(it).Location, Message: wording.TheVector()}, {Location: s.At.Location, Message: wording.DefinedHere(s.Name)}}})
	}
}
