package assemble

import (
	"narrowgauge/analysis/program"
	"narrowgauge/isa"
)

// named gives a register a name, in its all-lower and all-upper spellings, too. What
// a spelling means already is changed in place.
func (p *pass) named(name string, change func(r *program.Register)) {
	for _, n := range program.Spellings(name) {
		p.namedAs(n, change)
	}
}

// namedAs is named for one spelling.
func (p *pass) namedAs(name string, change func(r *program.Register)) {
	if p.Registers == nil {
		p.Registers = map[string]program.Register{}
	}
	r := p.RegisterOf(name)
	change(&r)
	p.Registers[name] = r
}

// reqAgain says whether a name means a core register already, and which.
func (p *pass) reqAgain(name string) (isa.Reg, bool) {
	r := p.RegisterOf(name).Core
	return r, r != isa.NoReg
}

// unreq takes a name back.
func (p *pass) unreq(it *program.Item, name string) {
	for _, n := range program.Spellings(name) {
		r, ok := p.Registers[n]
		if !ok {
			continue
		}
		if p.Unreqs == nil {
			p.Unreqs = map[string][]program.RegisterSpan{}
		}
		from := int32(0)
		if l := p.Unreqs[n]; len(l) > 0 {
			from = l[len(l)-1].To
		}
		p.Unreqs[n] = append(p.Unreqs[n], program.RegisterSpan{From: from, To: it.Index, Register: r})
		delete(p.Registers, n)
	}
}
