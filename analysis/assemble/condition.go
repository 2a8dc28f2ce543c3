package assemble

import (
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
)

// conditions are the conditional directives that are open, the innermost last.
type conditions struct {
	open  []cond
	turns int // counts stretches that are left out
}

type cond struct {
	active bool // this branch is assembled
	done   bool // an earlier branch was
	last   bool // .else was seen
	outer  bool // the part around it is active
	nest   int  // depth of expansions
	item   program.Place
	from   int // offset where the present inactive stretch starts, -1
	turn   int // numbers the stretches
	// dialect is that of the line, in which messages name what closes it.
	dialect syntax.Dialect
}

// active says whether the present branch is assembled.
func (c *conditions) active() bool { return len(c.open) == 0 || c.open[len(c.open)-1].active }

// leaveOut begins a stretch that a condition leaves out, at an offset.
func (c *conditions) leaveOut(x *cond, from int) {
	c.turns++
	x.from, x.turn = from, c.turns
}

// closeDown ends the conditions that expansions of a depth, or deeper ones, opened.
func (c *conditions) closeDown(nest int) {
	for n := len(c.open); n > 0 && c.open[n-1].nest >= nest; n-- {
		c.open = c.open[:n-1]
	}
}

// leftOut is the condition that leaves out what is here, nil without.
func (c *conditions) leftOut() *cond {
	for i := len(c.open) - 1; i >= 0; i-- {
		if c.open[i].from >= 0 {
			return &c.open[i]
		}
	}
	return nil
}

// conditional handles .if and the like. A condition that cannot be computed
// counts as true, and its else part as true as well: nothing is hidden.
func (p *pass) conditional(file int32, line int32, l *syntax.Line, s *syntax.Stmt) {
	src := &p.Sources[file]
	start := src.File.LineStart(int(line))
	behind := start + len(l.Text) // the end of the line
	if src.Unit != nil {
		behind = src.Unit.LineEnd(int(line))
	}
	at := p.StmtLoc(&program.Item{Stmt: s, Line: line, File: file})
	dialect := src.File.Dialect()
	end := start
	close := func(c *cond) {
		if c.from >= 0 && end > c.from && src.Expansion == nil {
			p.Excluded = append(p.Excluded, program.Inactive{File: file, Span: finding.Span{Start: c.from, End: end}})
		}
		c.from = -1
	}
	n := len(p.conds.open)
	switch s.Directive.Effect {
	case syntax.EffIf:
		c := cond{outer: p.conds.active(), item: at, from: -1, nest: p.nest, dialect: dialect}
		if c.outer || ofText(s.Directive.Name) { // whose form counts where they are left out, too
			c.active = p.condition(file, line, l, s) && c.outer
			c.done = c.active
		}
		if c.outer && !c.active {
			p.conds.leaveOut(&c, behind)
		}
		p.conds.open = append(p.conds.open, c)
		return
	case syntax.EffEndif:
		if n == 0 {
			p.Report(at, finding.CodeDirective, wording.HasNone(s.Directive.Name, syntax.Spelled(dialect, syntax.EffIf)))
			return
		}
		if s.Reduced(l) != "" {
			p.Report(at, finding.CodeDirective, wording.TakesNothing(s.Directive.Name))
		}
		close(&p.conds.open[n-1])
		p.conds.open = p.conds.open[:n-1]
		return
	case syntax.EffElse:
		if s.Reduced(l) != "" {
			p.Report(at, finding.CodeDirective, wording.ElseTakesNothing(s.Directive.Name, syntax.Spelled(dialect, syntax.EffElseif)))
		}
	}
	if n == 0 {
		p.Report(at, finding.CodeDirective, wording.HasNone(s.Directive.Name, syntax.Spelled(dialect, syntax.EffIf)))
		return
	}
	c := &p.conds.open[n-1]
	if c.last {
		p.Report(at, finding.CodeDirective, wording.SecondElse(syntax.Spelled(dialect, syntax.EffIf), syntax.Spelled(dialect, syntax.EffElse)))
	}
	c.last = s.Directive.Effect == syntax.EffElse
	close(c)
	c.active = false
	if c.outer && !c.done {
		c.active = s.Directive.Effect == syntax.EffElse || p.condition(file, line, l, s)
		c.done = c.active
	}
	if c.outer && !c.active {
		p.conds.leaveOut(c, behind)
	}
}

// ofText says whether a condition is about the text after it, and no value.
func ofText(name string) bool {
	switch name {
	case ".ifdef", ".ifndef", ".ifnotdef", ".ifc", ".ifnc", ".ifeqs", ".ifnes":
		return true
	}
	return false
}

// condition evaluates one conditional directive. One that cannot be computed
// is reported, if that is sure, and counts as false.
func (p *pass) condition(file, line int32, l *syntax.Line, s *syntax.Stmt) bool {
	it := &program.Item{Stmt: s, Line: line, File: file, Section: p.currentSection, Environment: p.envID, Offset: p.Sections[p.currentSection].Size, Index: int32(len(p.Items))}
	bad := func(message string) bool {
		p.Report(p.StmtLoc(it), finding.CodeDirective, message)
		return false
	}
	if s.Directive.Logical {
		return p.columnCondition(it, l, s)
	}
	switch s.Directive.Name {
	case ".ifdef", ".ifndef", ".ifnotdef":
		name := strings.Trim(s.Reduced(l), `"`)
		for i := 0; i < len(name); i++ {
			if !program.IdentByte(name[i]) {
				return bad(wording.TakesOneName(s.Name))
			}
		}
		if name == "" || name[0] >= '0' && name[0] <= '9' {
			return bad(wording.NeedsName(s.Name))
		}
		y := p.Find(name)
		defined := y != nil && (y.Defined || y.Extern && y.Kind == program.SymData) // .comm
		return defined == (s.Directive.Name == ".ifdef")
	case ".ifb":
		return s.Reduced(l) == ""
	case ".ifnb":
		return s.Reduced(l) != ""
	case ".ifc", ".ifnc":
		// The texts are as macros see them, quotes included.
		a, b, ok := strings.Cut(s.Reduced(l), ",")
		if !ok {
			return bad(wording.NeedsTwoTexts(s.Name))
		}
		return (strings.TrimSpace(a) == strings.TrimSpace(b)) == (s.Directive.Name == ".ifc")
	case ".ifeqs", ".ifnes":
		text := s.Reduced(l)
		st := syntax.ParseAs(".ascii "+text, syntax.Dots).Line(0).Stmts
		if len(st) != 1 || st[0].Err != nil || len(st[0].Ops) != 2 || !st[0].Ops[0].IsStr || !st[0].Ops[1].IsStr ||
			!strings.Contains((".ascii " + text)[st[0].Ops[0].End:st[0].Ops[1].Start], ",") {
			return bad(wording.NeedsTwoStrings(s.Name))
		}
		return (st[0].Ops[0].Names.Str == st[0].Ops[1].Names.Str) == (s.Directive.Name == ".ifeqs")
	}
	x := s
	if s.Directive.Args == syntax.ArgsRaw {
		// Others like .if: their text is read here.
		f := syntax.ParseAs(".if "+s.Reduced(l), syntax.Dots)
		if x = nil; len(f.Line(0).Stmts) == 1 {
			x = &f.Line(0).Stmts[0]
		}
	} else if p.syntaxError(it) {
		return false
	}
	if x == nil || len(x.Ops) != 1 || x.Err != nil && !x.Err.Mild || x.Ops[0].IsStr {
		return bad(wording.NeedsOneValue(s.Name))
	}
	v := p.Value(&x.Ops[0], it)
	if v.Kind != program.Number {
		switch {
		case v.Apart:
			p.Report(p.StmtLoc(it), finding.CodeUndefined, wording.NeedsKnownDistance(s.Directive.Name))
		case v.Kind == program.Undefined && v.Symbol != nil:
			p.Report(p.StmtLoc(it), finding.CodeUndefined, wording.NeedsValueOf(s.Directive.Name, v.Symbol.Name))
		case v.Kind == program.Undefined || v.Kind == program.Address && p.Sections[v.Section].Exact:
			p.Report(p.StmtLoc(it), finding.CodeUndefined, wording.NeedsKnownNumber(s.Directive.Name))
		case v.Kind == program.Bad && !v.Mild:
			p.Report(p.StmtLoc(it), finding.CodeSyntax, p.Trouble(v, it))
		}
		return false
	}
	switch s.Directive.Name {
	case ".ifeq":
		return v.N == 0
	case ".ifge":
		return v.N >= 0
	case ".ifgt":
		return v.N > 0
	case ".ifle":
		return v.N <= 0
	case ".iflt":
		return v.N < 0
	}
	return v.N != 0
}
