package eval

import (
	"narrowgauge/analysis/program"
	"narrowgauge/isa"
)

// Alias is the register that a name stands for. In the first pass that is what the
// last .req says; in the second, what it said where the present item stands.
func (p *Evaluator) Alias(name string) (isa.Reg, bool) {
	if s, ok := p.before(name); ok {
		if s.To == 0 || s.Vector+s.Word != "" {
			return isa.NoReg, false
		}
		return s.Reg, true
	}
	r, ok := p.Aliases[name]
	return r, ok
}

// VectorNamed is alias for the registers of floating point and vectors.
func (p *Evaluator) VectorNamed(name string) (string, bool) {
	if s, ok := p.before(name); ok {
		return s.Vector, s.Vector != ""
	}
	to, ok := p.Vectors[name]
	return to, ok
}

// wordNamed is alias for coprocessors and their registers.
func (p *Evaluator) wordNamed(name string) string {
	if s, ok := p.before(name); ok {
		return s.Word
	}
	return p.Words[name]
}

// before is where the present item stands in what a name stood for until an .unreq
// below; an empty span if it stood for nothing there.
func (p *Evaluator) before(name string) (s program.AliasSpan, ok bool) {
	if !p.Settled() || len(p.Unreqs) == 0 {
		return s, false
	}
	l := p.Unreqs[name]
	for _, s := range l {
		if s.From <= p.At && p.At < s.To {
			return s, true
		}
	}
	return s, len(l) > 0 && p.At < l[len(l)-1].To
}
