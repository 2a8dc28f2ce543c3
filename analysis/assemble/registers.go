package assemble

import (
	"regexp"
	"strings"
	"sync"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// typedName matches what may be behind the first dot of a name that .req or one of its like gives:
// the assembler reads it as it does the name of an instruction, with a width and types.
var typedName = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^(\.[wn])?(\.([iusp]?(8|16|32|64)|f(8|16|32|64)?|d|bf16))*$`)
})

// namesRegister looks at the name that .req or one of its like gives. It says false for one that no
// operand can mean: .unreq knows it, and that is all.
func (p *pass) namesRegister(it *program.Item) bool {
	name := it.Stmt.Name
	if p.DialectOf(it) != syntax.Dots || program.NamesRegister(name) {
		return true
	}
	if i := strings.IndexByte(name, '.'); i == 0 || i > 0 && !typedName().MatchString(lower(name[i:])) {
		p.Report(p.NameLoc(it), finding.CodeDirective, wording.NoNameOfRegister(name))
		return false
	}
	p.named(name, func(*program.Register) {})
	return false
}

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
