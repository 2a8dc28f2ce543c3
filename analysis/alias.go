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
}

// alias is the register that a name stands for. In the first pass that is what the
// last .req says; in the second, what it said where the present item stands.
func (p *pass) alias(name string) (isa.Reg, bool) {
	if p.final && len(p.unreqs) > 0 {
		for _, s := range p.unreqs[name] {
			if s.from <= p.at && p.at < s.to {
				return s.reg, true
			}
		}
		if n := len(p.unreqs[name]); n > 0 && p.at < p.unreqs[name][n-1].to {
			return isa.NoReg, false
		}
	}
	r, ok := p.aliases[name]
	return r, ok
}

// spellings are the ways in which a register's name can be written.
func spellings(name string) [3]string {
	return [3]string{name, strings.ToLower(name), strings.ToUpper(name)}
}

// unreq takes a name back.
func (p *pass) unreq(it *item, name string) {
	for _, n := range spellings(name) {
		r, ok := p.aliases[n]
		if !ok {
			continue
		}
		if p.unreqs == nil {
			p.unreqs = map[string][]aliasSpan{}
		}
		from := int32(0)
		if l := p.unreqs[n]; len(l) > 0 {
			from = l[len(l)-1].to
		}
		p.unreqs[n] = append(p.unreqs[n], aliasSpan{from, it.id, r})
		delete(p.aliases, n)
	}
}
