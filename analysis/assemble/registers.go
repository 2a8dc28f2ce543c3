package assemble

import (
	"narrowgauge/analysis/program"
)

// unreq takes a name back.
func (p *pass) unreq(it *program.Item, name string) {
	for _, n := range program.Spellings(name) {
		r, ok := p.Aliases[n]
		v, w := p.Vectors[n], p.Words[n]
		if !ok && v+w == "" {
			continue
		}
		if p.Unreqs == nil {
			p.Unreqs = map[string][]program.AliasSpan{}
		}
		from := int32(0)
		if l := p.Unreqs[n]; len(l) > 0 {
			from = l[len(l)-1].To
		}
		p.Unreqs[n] = append(p.Unreqs[n], program.AliasSpan{From: from, To: it.Id, Reg: r, Vector: v, Word: w})
		delete(p.Aliases, n)
		delete(p.Vectors, n)
		delete(p.Words, n)
	}
}
