package link

import (
	"slices"
	"strings"

	"narrowgauge/analysis/describe"
	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Binding is who may see a name (ELF, "Symbol Binding").
type Binding uint8

// The bindings. External and Absent are names that a source does not define; nothing is wrong
// where no source defines one that is Absent.
const (
	Local Binding = iota
	Global
	Weak
	Common
	External
	Absent
)

// Symbol is a name of a source.
type Symbol struct {
	Name string
	Binding
	Kind     program.SymbolKind
	At       finding.Location   // its definition; without a path for External and Absent
	Full     finding.Span       // what a routine owns in that file, with its name
	Declared []finding.Location // where .global, .extern and their like name it
	Section  string
	Offset   int64 // in the section, in bytes
	Exact    bool  // the offset is known
	Code     bool  // instructions are there,
	State    isa.State
	Function bool // and the linker knows that: a symbol of type STT_FUNC
	Object   bool
	Routine  bool // code that is called or that others may enter
	Once     bool // several sources may have it: in a group of sections, or .gnu.linkonce
	Said     bool // External: the source declares it
}

// How is in which way a name is used.
type How uint8

const (
	Declares How = iota // .global, .extern, .type
	Calls               // BL, BLX
	Jumps               // B and what branches on a condition
	Data                // .word and other data
	Takes               // the address, as LDR = or ADR
)

// Use is a place that uses a name.
type Use struct {
	Symbol int32 // in File.Symbols
	By     int32 // the routine that does, in File.Symbols; -1 for none
	How    How
	At     finding.Location
	Named  bool      // the place is the name itself, not a line that a macro makes it in
	State  isa.State // of the instruction
	Short  bool      // an instruction of 16 bits
	// Exchange: BLX.
	Exchange bool
	// Goes: execution goes there, by a call, a jump, or a load of the address into PC.
	Goes bool
	Name string // of the instruction, as written
}

// File are the facts of one source with what it includes.
type File struct {
	Path    string   // of the source
	Files   []string // all that it is read from, itself first
	Symbols []Symbol
	Uses    []Use
	Macros  []Symbol // with names and places only
	Sizes   []Size
	// Budget has the bytes that sections may take, by their names.
	Budget map[string]int64
	// Allowed are stretches in which comments allow findings of a check, and Severity what the
	// settings say of checks; more than finding.Hint leaves one out.
	Allowed  []Allowance
	Severity map[string]finding.Severity
	byName   map[string]int32
}

// Size is what a section of a source takes.
type Size struct {
	Section string
	Bytes   int64
	At      finding.Location // its first line with something in it
}

// Allowance is a stretch of a file in which findings of a check are allowed.
type Allowance struct {
	finding.Location
	Code string
}

// Find is the index of a name's symbol, -1 without one.
func (f *File) Find(name string) int32 {
	if i, ok := f.byName[name]; ok {
		return i
	}
	return -1
}

// Public is the symbol of a name that others may see or that is wanted of them; nil: there is
// none, or it is the source's own.
func (f *File) Public(name string) *Symbol {
	if i := f.Find(name); i >= 0 && f.Symbols[i].Binding != Local {
		return &f.Symbols[i]
	}
	return nil
}

// Defines says whether the source gives the name to others.
func (y *Symbol) Defines() bool {
	return y.Binding == Global || y.Binding == Weak || y.Binding == Common
}

// Outside is what other sources are concerned with: the names that leave the source, and the
// places that use those of others. What is left shares no text with the source, which may go.
func (f *File) Outside() *File {
	out := &File{Path: f.Path, Files: f.Files, Allowed: f.Allowed, Severity: f.Severity, byName: map[string]int32{}}
	of := map[int32]int32{}
	for i := range f.Symbols {
		y := f.Symbols[i]
		if y.Binding == Local {
			continue
		}
		y.Name, y.Section, y.Declared = strings.Clone(y.Name), strings.Clone(y.Section), nil
		of[int32(i)] = int32(len(out.Symbols))
		out.byName[y.Name] = int32(len(out.Symbols))
		out.Symbols = append(out.Symbols, y)
	}
	named := map[int32]bool{}
	for _, x := range f.Uses {
		k, ok := of[x.Symbol]
		if b := f.Symbols[x.Symbol].Binding; !ok || b != External && b != Absent {
			continue
		}
		if x.How != Calls && x.How != Jumps && (x.How == Declares || named[k]) {
			continue
		}
		named[k] = true // one place is enough to say that a name is nowhere
		x.Symbol, x.By, x.Name = k, -1, strings.Clone(x.Name)
		out.Uses = append(out.Uses, x)
	}
	out.Symbols, out.Uses = slices.Clip(out.Symbols), slices.Clip(out.Uses)
	return out
}

// Of gathers the facts of a program.
func Of(e *eval.Evaluator) *File {
	g := &gatherer{Evaluator: e, view: &describe.View{Evaluator: e}, f: &File{Path: e.Path, byName: map[string]int32{}}}
	seen := map[string]bool{}
	for i := range e.Sources {
		if s := &e.Sources[i]; s.Expansion == nil && !seen[s.Path] {
			seen[s.Path] = true
			g.f.Files = append(g.f.Files, s.Path)
		}
	}
	for _, m := range e.Macros {
		if at := g.MacroAt(m).Location; at.Path != "" {
			g.f.Macros = append(g.f.Macros, Symbol{Name: m.Name, Kind: program.SymMacro, At: at, Full: at.Span})
		}
	}
	g.sizes()
	g.symbols()
	g.called()
	g.routines()
	g.uses()
	g.unwanted()
	return g.f
}

type gatherer struct {
	*eval.Evaluator
	view  *describe.View
	f     *File
	owner []int32 // by item: the routine that it is in, as a symbol's index
}

// sizes lists the sections with something in them, where it is known how much; not those that
// several sources may have, of which a linker takes one.
func (g *gatherer) sizes() {
	for i := range g.Sections {
		s := &g.Sections[i]
		if int(s.Main) != i || s.Record || !s.Exact || g.once(s) {
			continue
		}
		for _, id := range g.Order[i] {
			if it := &g.Items[id]; it.Size > 0 {
				g.f.Sizes = append(g.f.Sizes, Size{s.Name, s.Size, g.StmtLoc(it).Location})
				break
			}
		}
	}
}

// once says whether several sources may have a section: of a group, or .gnu.linkonce.
func (g *gatherer) once(s *program.Section) bool {
	return strings.HasPrefix(s.Name, ".gnu.linkonce") || strings.ContainsRune(s.Declaration.Flags, 'G')
}

// symbols lists the names that are not local numbers.
func (g *gatherer) symbols() {
	var list []*program.Symbol
	for _, y := range g.Symbols {
		if y.Name != "" && (y.Name[0] < '0' || y.Name[0] > '9') && (y.Defined || y.Common || y.Global || y.Extern || y.Weak || !ownWord(y.Name)) {
			list = append(list, y)
		}
	}
	slices.SortFunc(list, func(a, b *program.Symbol) int { return strings.Compare(a.Name, b.Name) })
	for _, y := range list {
		g.f.byName[y.Name] = int32(len(g.f.Symbols))
		g.f.Symbols = append(g.f.Symbols, g.symbol(y))
	}
}

// ownWord says whether a word has a meaning of its own, so that it is looked up as a name
// though it is none.
func ownWord(word string) bool {
	low := strings.ToLower(word)
	if _, ok := isa.RegByName(low); ok {
		return true
	}
	_, cond := isa.CondByName(low)
	return cond || describe.Special(word)
}

func (g *gatherer) symbol(y *program.Symbol) Symbol {
	s := Symbol{Name: y.Name, At: g.DefinedAt(y).Location, Kind: y.Kind, Function: y.Function || y.Auto, Object: y.Object}
	switch {
	case y.Common && !y.Defined:
		s.Binding, s.Kind = Common, program.SymData
	case !y.Defined && y.Weak:
		s.Binding = Absent
	case !y.Defined:
		s.Binding, s.Said = External, y.Global || y.Extern
	case y.Weak:
		s.Binding = Weak
	case y.Common:
		s.Binding = Common
	case y.Global:
		s.Binding = Global
	}
	if !y.Defined {
		s.At = finding.Location{}
		return s
	}
	s.Full = s.At.Span
	if v := y.Value; v.Kind == program.Address {
		in := &g.Sections[v.Section]
		s.Section, s.Offset, s.Exact = in.Name, v.N, in.Exact
		s.Once = g.once(in)
		if v.Symbol == nil || y.Label {
			v.Symbol = y
		}
		if _, mode, ok := g.CodeLabel(v); ok && y.Label {
			s.Code, s.State, s.Kind = true, mode, program.SymCode
			if y.Function {
				s.Kind = program.SymFunction
			}
		} else if y.Label {
			s.Kind = program.SymData
		}
	} else {
		s.Kind = program.SymConstant
	}
	return s
}

// called marks as routines what is said to be a function, what may be entered from outside, and what
// BL enters. Each label of T16 code in columns has bit 0 in its address, and is none by that.
func (g *gatherer) called() {
	for i := range g.f.Symbols {
		y := &g.f.Symbols[i]
		x := g.SymbolOf(y.Name)
		y.Routine = y.Code && (x != nil && x.Function || y.Binding != Local)
	}
	for i := range g.Items {
		it := &g.Items[i]
		if x := g.Begun(it); x != nil {
			if k := g.f.Find(x.Name); k >= 0 && g.f.Symbols[k].Code {
				g.f.Symbols[k].Routine = true
			}
		}
		if it.Stmt.Kind != syntax.Instruction || g.how(it) != Calls {
			continue
		}
		g.names(it, func(name string, _, _ int32) {
			if k := g.f.Find(name); k >= 0 && g.f.Symbols[k].Code {
				g.f.Symbols[k].Routine = true
			}
		})
	}
}

// routines finds what each routine owns: what comes after it in its section, up to the next one.
func (g *gatherer) routines() {
	g.owner = make([]int32, len(g.Items))
	for i := range g.owner {
		g.owner[i] = -1
	}
	at := map[int32][]int32{} // routines by defining item
	for i := range g.f.Symbols {
		if y := g.SymbolOf(g.f.Symbols[i].Name); g.f.Symbols[i].Routine && y.Item >= 0 {
			at[y.Item] = append(at[y.Item], int32(i))
		}
	}
	for s := range g.Order {
		now := int32(-1)
		for _, id := range g.Order[s] {
			it := &g.Items[id]
			if list := at[id]; list != nil {
				now = list[0]
			}
			g.owner[id] = now
			if now < 0 || it.Stmt.Kind == syntax.Directive && it.Stmt.Directive.Leads() {
				continue
			}
			y := &g.f.Symbols[now]
			if l := g.StmtLoc(it); l.Path == y.At.Path && l.Span.End > y.Full.End && l.Span.Start >= y.Full.Start {
				y.Full.End = l.Span.End
			}
		}
	}
}

// how is in which way a statement uses the names in it.
func (g *gatherer) how(it *program.Item) How {
	s := it.Stmt
	if s.Kind == syntax.Instruction {
		mode := g.Environments[it.Environment].Mode
		switch {
		case it.Match.Form != nil && it.Match.Form.Row.Flow == isa.FlowCall, it.Match.Form == nil && it.Calls(mode):
			return Calls
		case it.Match.Form != nil && (it.Match.Form.Row.Flow == isa.FlowBranch || it.Match.Form.Row.Flow == isa.FlowJump),
			it.Match.Form == nil && mode == isa.A && it.Branches():
			return Jumps
		}
		return Takes
	}
	if s.Kind == syntax.Directive {
		switch s.Directive.Effect {
		case syntax.EffGlobal, syntax.EffExport, syntax.EffImport, syntax.EffExtern, syntax.EffType, syntax.EffSize, syntax.EffComm, syntax.EffCommon:
			return Declares
		}
	}
	return Data
}

// loadsPC says whether an instruction takes the address where execution goes on from a pool.
func (g *gatherer) loadsPC(it *program.Item) bool {
	return it.Literal >= 0 && it.Match.Form != nil && it.Match.Effects().Writes.Has(isa.PC)
}

// names calls visit for the names in a statement, with their columns.
func (g *gatherer) names(it *program.Item, visit func(name string, a, b int32)) {
	st := g.view.Parsed(it)
	if g.view.Unread(it, visit) {
		return
	}
	for k := range st.Ops {
		o := &st.Ops[k]
		if o.Word != "" && !st.OwnOperand(k) {
			visit(o.Word, o.Start, o.End)
		}
		o.Expr.Walk(func(e *syntax.Expr) {
			if e.Op == syntax.ExprSym {
				visit(e.Name, e.Start, e.End)
			}
		})
	}
}

// uses lists the places that use names.
func (g *gatherer) uses() {
	for i := range g.Items {
		it := &g.Items[i]
		if it.Stmt.Kind == syntax.Label || it.Transparent() {
			continue
		}
		how := g.how(it)
		g.names(it, func(name string, a, b int32) {
			k := g.f.Find(name)
			if k < 0 {
				return
			}
			y := &g.f.Symbols[k]
			if y.Binding == External && !y.Said && !g.wants(it, how, name) {
				return
			}
			if y.Binding == Local && how != Calls && !y.Routine {
				return // of nobody else's business
			}
			l := g.Named(g.Loc(it, a, b), it.File, name)
			u := Use{Symbol: k, By: g.owner[i], How: how, Goes: how == Calls || how == Jumps || g.loadsPC(it), At: l.Location, Named: l.Span.End-l.Span.Start == len(name)}
			if it.Stmt.Kind == syntax.Instruction {
				u.State, u.Name = g.Environments[it.Environment].Mode, it.Stmt.Name
				if f := it.Match.Form; f != nil {
					u.Short, u.Exchange = f.Row.Size() == 2, f.Row.Exchange
				}
			}
			if how == Declares {
				y.Declared = append(y.Declared, u.At)
			}
			if n := len(g.f.Uses); n > 0 && g.f.Uses[n-1] == u {
				return
			}
			g.f.Uses = append(g.f.Uses, u)
		})
	}
}

// wants says whether a statement leaves a name that nothing declares to the linker: not what is
// a register's name, a word of the instruction or of a directive.
func (g *gatherer) wants(it *program.Item, how How, name string) bool {
	if g.LastRegister(name) != program.NoRegister || strings.ContainsAny(name, "()") {
		return false
	}
	switch how {
	case Declares:
		return true
	case Data:
		return it.Stmt.Kind == syntax.Directive && (it.Stmt.Directive.Effect == syntax.EffData || it.Stmt.Directive.Effect == syntax.EffFill)
	case Takes:
		return it.Literal >= 0 || it.Match.Form != nil && it.Match.Deferred()
	}
	return it.Match.Form != nil || it.Flags&program.Refused == 0
}

// unwanted makes names that only look like ones that the linker has to supply nobody's business.
func (g *gatherer) unwanted() {
	used := make([]bool, len(g.f.Symbols))
	for i := range g.f.Uses {
		used[g.f.Uses[i].Symbol] = true
	}
	for k := range g.f.Symbols {
		if y := &g.f.Symbols[k]; y.Binding == External && !y.Said && !used[k] {
			y.Binding = Local
		}
	}
}
