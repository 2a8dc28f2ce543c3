package analysis

import (
	"strings"

	"narrowgauge/isa"
)

// aliasSpan is where a name stood for a register: from an item to another, where
// .unreq took it back.
type aliasSpan struct {
	from, to int32
	reg      isa.Reg
	vector   string // or what a name of floating point and vectors stood for
	word     string // or of a coprocessor
}

// registerNames are the names that .req and its like give to registers.
type registerNames struct {
	aliases map[string]isa.Reg // in force where the program is read now, or at its end
	vectors map[string]string  // of floating point and vectors
	words   map[string]string  // of coprocessors, and coprocessors
	unreqs  map[string][]aliasSpan
}

// lastAlias is the register that a name stood for last, even if .unreq took it back:
// editors show it still.
func (n *registerNames) lastAlias(name string) (isa.Reg, bool) {
	if r, ok := n.aliases[name]; ok {
		return r, true
	}
	if l := n.unreqs[name]; len(l) > 0 && l[len(l)-1].vector+l[len(l)-1].word == "" {
		return l[len(l)-1].reg, true
	}
	return isa.NoReg, false
}

// lastVector is the same for registers of floating point and vectors, empty for none.
func (n *registerNames) lastVector(name string) string {
	if v, ok := n.vectors[name]; ok {
		return v
	}
	if l := n.unreqs[name]; len(l) > 0 {
		return l[len(l)-1].vector
	}
	return ""
}

// alias is the register that a name stands for. In the first pass that is what the
// last .req says; in the second, what it said where the present item stands.
func (p *evaluator) alias(name string) (isa.Reg, bool) {
	if s, ok := p.before(name); ok {
		if s.to == 0 || s.vector+s.word != "" {
			return isa.NoReg, false
		}
		return s.reg, true
	}
	r, ok := p.aliases[name]
	return r, ok
}

// vectorNamed is alias for the registers of floating point and vectors.
func (p *evaluator) vectorNamed(name string) (string, bool) {
	if s, ok := p.before(name); ok {
		return s.vector, s.vector != ""
	}
	to, ok := p.vectors[name]
	return to, ok
}

// wordNamed is alias for coprocessors and their registers.
func (p *evaluator) wordNamed(name string) string {
	if s, ok := p.before(name); ok {
		return s.word
	}
	return p.words[name]
}

// before is where the present item stands in what a name stood for until an .unreq
// below; an empty span if it stood for nothing there.
func (p *evaluator) before(name string) (s aliasSpan, ok bool) {
	if !p.settled() || len(p.unreqs) == 0 {
		return s, false
	}
	l := p.unreqs[name]
	for _, s := range l {
		if s.from <= p.at && p.at < s.to {
			return s, true
		}
	}
	return s, len(l) > 0 && p.at < l[len(l)-1].to
}

// spellings are the ways in which a register's name can be written.
func spellings(name string) [3]string {
	return [3]string{name, strings.ToLower(name), strings.ToUpper(name)}
}

// unreq takes a name back.
func (p *pass) unreq(it *item, name string) {
	for _, n := range spellings(name) {
		r, ok := p.aliases[n]
		v, w := p.vectors[n], p.words[n]
		if !ok && v+w == "" {
			continue
		}
		if p.unreqs == nil {
			p.unreqs = map[string][]aliasSpan{}
		}
		from := int32(0)
		if l := p.unreqs[n]; len(l) > 0 {
			from = l[len(l)-1].to
		}
		p.unreqs[n] = append(p.unreqs[n], aliasSpan{from, it.id, r, v, w})
		delete(p.aliases, n)
		delete(p.vectors, n)
		delete(p.words, n)
	}
}
