package eval

import (
	"narrowgauge/analysis/program"
	"narrowgauge/isa"
)

// Register is what a name means. In the first pass that is what the last .req
// says; in the second, what it said where the present item is.
func (p *Evaluator) Register(name string) program.Register {
	if r, ok := p.before(name); ok {
		return r
	}
	return p.RegisterOf(name)
}

// Alias is the core register that a name means.
func (p *Evaluator) Alias(name string) (isa.Reg, bool) {
	r := p.Register(name).Core
	return r, r != isa.NoReg
}

// VectorNamed is Alias for the registers of floating point and vectors.
func (p *Evaluator) VectorNamed(name string) (string, bool) {
	v := p.Register(name).Vector
	return v, v != ""
}

// before is what a name was for where the present item is, if an .unreq below took
// it back.
func (p *Evaluator) before(name string) (program.Register, bool) {
	if !p.Settled() || len(p.Unreqs) == 0 {
		return program.NoRegister, false
	}
	l := p.Unreqs[name]
	for _, s := range l {
		if s.From <= p.At && p.At < s.To {
			return s.Register, true
		}
	}
	return program.NoRegister, len(l) > 0 && p.At < l[len(l)-1].To
}
