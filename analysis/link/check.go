package link

import (
	"cmp"
	"slices"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// Unit is a source among others.
type Unit struct {
	*File
	// Groups name what a build makes of it, with what other sources; empty: nobody says.
	Groups []string
}

// Workspace are sources that may become one program, or several.
type Workspace struct {
	Units []*Unit
	// Closed: nothing else can define a name. There are no sources of other languages, no
	// libraries and no scripts of the linker, and all sources are among the units.
	Closed bool

	wants map[string][]int32 // by name, the units that want it
	gives map[string][]int32 // by name, the units that define it
	parts map[part]*sum
}

// part is a section of the program that a group of units becomes.
type part struct{ group, section string }

// sum is what a part takes at least, as padding between sources may be added, and the unit that
// has most of it.
type sum struct {
	bytes int64
	most  int64
	unit  int32
	units int
}

// index finds who gives and who wants each name.
func (w *Workspace) index() {
	if w.gives != nil {
		return
	}
	w.gives, w.wants, w.parts = map[string][]int32{}, map[string][]int32{}, map[part]*sum{}
	for i, u := range w.Units {
		for _, group := range u.Groups {
			for _, s := range u.Sizes {
				p := w.parts[part{group, s.Section}]
				if p == nil {
					p = &sum{}
					w.parts[part{group, s.Section}] = p
				}
				if p.bytes += s.Bytes; s.Bytes > p.most {
					p.most, p.unit = s.Bytes, int32(i)
				}
				p.units++
			}
		}
		for k := range u.Symbols {
			switch y := &u.Symbols[k]; {
			case y.Defines():
				w.gives[y.Name] = append(w.gives[y.Name], int32(i))
			case y.Binding == External:
				w.wants[y.Name] = append(w.wants[y.Name], int32(i))
			}
		}
	}
}

// Check finds what does not fit between unit n and the others, in the order of its text. It
// must not be called by two at once.
func (w *Workspace) Check(n int) []finding.Diagnostic {
	w.index()
	var out []finding.Diagnostic
	u := w.Units[n]
	for k := range u.Symbols {
		y := &u.Symbols[k]
		if d, ok := w.twice(n, y); ok {
			out = append(out, d)
		}
		if d, ok := w.nowhere(u, int32(k), y); ok {
			out = append(out, d)
		}
	}
	for i := range u.Uses {
		if d, ok := w.state(u, &u.Uses[i]); ok {
			out = append(out, d)
		}
	}
	out = u.wanted(append(out, w.overBudget(n)...))
	slices.SortStableFunc(out, func(a, b finding.Diagnostic) int {
		if a.Path != b.Path {
			return slices.Index(u.Files, a.Path) - slices.Index(u.Files, b.Path)
		}
		return a.Span.Start - b.Span.Start
	})
	return out
}

// overBudget reports sections of the programs that unit n is a part of, where it has most of
// them: all sources together take more than their budget, and this one alone does not.
func (w *Workspace) overBudget(n int) (out []finding.Diagnostic) {
	u := w.Units[n]
	for _, s := range u.Sizes {
		most, ok := u.Budget[s.Section]
		if !ok || s.Bytes > most {
			continue
		}
		for _, group := range u.Groups {
			if p := w.parts[part{group, s.Section}]; p.unit == int32(n) && p.bytes > most {
				out = append(out, finding.Diagnostic{Location: s.At, Code: finding.CodeBudget, Severity: finding.Warning, Message: wording.OverBudgetTogether(s.Section, p.units, p.bytes, most)})
				break
			}
		}
	}
	return out
}

// wanted are the findings that neither comments allow nor settings leave out.
func (u *Unit) wanted(list []finding.Diagnostic) (out []finding.Diagnostic) {
	for _, d := range list {
		if severity, ok := u.Severity[d.Code]; ok {
			d.Severity = severity
		}
		if d.Severity <= finding.Hint && !allows(u.Allowed, d) {
			out = append(out, d)
		}
	}
	return out
}

// Merged puts stretches in order, those of a check and a file that touch each other as one.
func Merged(list []Allowance) (out []Allowance) {
	slices.SortFunc(list, func(a, b Allowance) int {
		return cmp.Or(cmp.Compare(a.Path, b.Path), cmp.Compare(a.Code, b.Code), cmp.Compare(a.Span.Start, b.Span.Start))
	})
	for _, a := range list {
		if n := len(out) - 1; n >= 0 && out[n].Path == a.Path && out[n].Code == a.Code && a.Span.Start <= out[n].Span.End {
			out[n].Span.End = max(out[n].Span.End, a.Span.End)
			continue
		}
		out = append(out, a)
	}
	return out
}

// allows says whether stretches, as Merged gives them, have a finding.
func allows(list []Allowance, d finding.Diagnostic) bool {
	i, _ := slices.BinarySearchFunc(list, d, func(a Allowance, d finding.Diagnostic) int {
		return cmp.Or(cmp.Compare(a.Path, d.Path), cmp.Compare(a.Code, d.Code), cmp.Compare(a.Span.End, d.Span.Start+1))
	})
	return i < len(list) && list[i].Path == d.Path && list[i].Code == d.Code && list[i].Span.Start <= d.Span.Start
}

// Supplied are the places of unit n with names that it does not define, and another one that may
// be of its program does.
func (w *Workspace) Supplied(n int) (out []finding.Location) {
	w.index()
	u := w.Units[n]
	given := make([]bool, len(u.Symbols))
	for k := range u.Symbols {
		y := &u.Symbols[k]
		given[k] = y.Binding == External && slices.ContainsFunc(w.gives[y.Name], func(i int32) bool { return u.MayMeet(w.Units[i]) })
	}
	for i := range u.Uses {
		if given[u.Uses[i].Symbol] {
			out = append(out, u.Uses[i].At)
		}
	}
	return out
}

// twice reports a global name that another source of the same program defines as well.
func (w *Workspace) twice(n int, y *Symbol) (d finding.Diagnostic, ok bool) {
	if y.Binding != Global || y.Once || y.Kind == program.SymConstant || len(w.gives[y.Name]) < 2 {
		return d, false
	}
	for _, i := range w.gives[y.Name] {
		other := w.Units[i]
		z := other.Public(y.Name)
		if int(i) == n || z.Binding != Global || z.Once || z.Kind == program.SymConstant || z.At.Path == y.At.Path || !w.together(n, int(i)) {
			continue
		}
		d.Location, d.Code, d.Severity = y.At, finding.CodeTwice, finding.Warning
		d.Message = wording.GlobalTwice(y.Name, z.At.Path)
		d.Related = []finding.Related{{Location: z.At, Message: wording.DefinedHere(y.Name)}}
		return d, true
	}
	return d, false
}

// instead says whether two sources are likely to stand for each other in different programs, as
// those for two boards do: half of the names that one of them gives are the other's as well, and
// more than one.
func instead(a, b *File) bool {
	both, of := 0, [2]int{}
	for i, f := range []*File{a, b} {
		for k := range f.Symbols {
			if f.Symbols[k].Binding == Global {
				of[i]++
				if z := b.Public(f.Symbols[k].Name); i == 0 && z != nil && z.Binding == Global {
					both++
				}
			}
		}
	}
	return both > 1 && 2*both >= min(of[0], of[1])
}

func share(a, b []string) bool {
	return slices.ContainsFunc(a, func(g string) bool { return slices.Contains(b, g) })
}

// MayMeet says whether two units may be parts of one program.
func (u *Unit) MayMeet(v *Unit) bool {
	return len(u.Groups) == 0 || len(v.Groups) == 0 || share(u.Groups, v.Groups)
}

// maxTogether bounds the units that are looked at to see whether two are of one program.
const maxTogether = 10_000

// together says whether two units are surely parts of one program: a build says so, or some
// unit wants names that lead to both and that nobody else has. Linkers take whole objects, so
// that what is wanted brings all else that is in it.
func (w *Workspace) together(a, b int) bool {
	if x, y := w.Units[a].Groups, w.Units[b].Groups; len(x)+len(y) > 0 {
		return share(x, y)
	}
	if !w.Closed || instead(w.Units[a].File, w.Units[b].File) {
		return false // a source in another language may have what leads to one of them
	}
	above := w.above(a)
	for n := range w.above(b) {
		if above[n] {
			return true
		}
	}
	return false
}

// above are the units that cannot be linked without unit n, and it.
func (w *Workspace) above(n int) map[int32]bool {
	out := map[int32]bool{int32(n): true}
	todo := []int32{int32(n)}
	for len(todo) > 0 && len(out) < maxTogether {
		u := w.Units[todo[0]]
		todo = todo[1:]
		for k := range u.Symbols {
			y := &u.Symbols[k]
			if !y.Defines() || len(w.gives[y.Name]) != 1 {
				continue
			}
			for _, i := range w.wants[y.Name] {
				if !out[i] {
					out[i] = true
					todo = append(todo, i)
				}
			}
		}
	}
	return out
}

// standard are functions of the C library that assembly calls (ISO C11, 7.21 to 7.24): some
// library has them, though no source.
var standard = []string{"abort", "exit", "free", "malloc", "calloc", "realloc", "memcpy", "memmove", "memset", "memcmp", "memchr", "strlen", "strcmp", "strncmp", "strcpy", "strncpy", "strcat", "strchr", "printf", "fprintf", "sprintf", "snprintf", "vprintf", "puts", "putchar", "getchar", "fputs", "fwrite", "fread", "fopen", "fclose", "main"}

// nowhere reports a name that no source defines, where nothing else can.
func (w *Workspace) nowhere(u *Unit, k int32, y *Symbol) (d finding.Diagnostic, ok bool) {
	if !w.Closed || y.Binding != External || len(w.gives[y.Name]) > 0 || !w.partOf(u) {
		return d, false
	}
	// Names with an underscore first are those of tools and libraries (ISO C11, 7.1.3), and
	// of scripts; those with a dollar are made by linkers.
	if y.Name[0] == '_' || strings.Contains(y.Name, "$") || slices.Contains(standard, y.Name) {
		return d, false
	}
	for i := range u.Uses {
		if x := &u.Uses[i]; x.Symbol == k && x.How != Declares {
			d.Location, d.Code, d.Severity = x.At, finding.CodeNowhere, finding.Hint
			near := finding.Near(y.Name, w.given())
			if len(near) > 0 {
				at := w.Units[w.gives[near[0]][0]].Public(near[0]).At
				d.Related = []finding.Related{{Location: at, Message: wording.DefinedHere(near[0])}}
			}
			d.Message = wording.DefinedNowhere(y.Name, near)
			return d, true
		}
	}
	return d, false
}

// partOf says whether a unit evidently is of a program of the workspace: it wants a name that
// another one has, or the other way round. The rest of what is alone is somewhere else.
func (w *Workspace) partOf(u *Unit) bool {
	for k := range u.Symbols {
		y := &u.Symbols[k]
		if y.Binding == External && len(w.gives[y.Name]) > 0 || y.Binding == Global && len(w.wants[y.Name]) > 0 {
			return true
		}
	}
	return false
}

// given lists the names that some unit defines.
func (w *Workspace) given() (out []string) {
	for name := range w.gives {
		out = append(out, name)
	}
	slices.Sort(out)
	return out
}

// state reports a branch to code of another source that stays in, or changes to, the other
// instruction set, and that a linker leaves as it is. For a symbol of type STT_FUNC it makes BL
// of BLX, or a veneer (AAELF32, 5.6.1.1 to 5.6.1.3, "Relocation codes" for calls and branches):
// not for a 16-bit branch, and not for a plain label, of which nothing says what is there.
func (w *Workspace) state(u *Unit, x *Use) (d finding.Diagnostic, ok bool) {
	if x.How != Calls && x.How != Jumps {
		return d, false
	}
	name := u.Symbols[x.Symbol].Name
	if b := u.Symbols[x.Symbol].Binding; b != External && b != Absent || len(w.gives[name]) == 0 {
		return d, false
	}
	var to *Symbol
	for _, i := range w.gives[name] {
		if !u.MayMeet(w.Units[i]) {
			continue
		}
		to = w.Units[i].Public(name)
		if to.Binding != Global || !to.Code || Fits(x, to) {
			return d, false // one that fits, or may be another one, is enough
		}
	}
	if to == nil {
		return d, false
	}
	d.Location, d.Code, d.Severity = x.At, finding.CodeAcross, finding.Warning
	d.Message = wording.AcrossFiles(x.Name, x.State, x.Exchange, name, to.State, to.Function)
	d.Related = []finding.Related{{Location: to.At, Message: wording.DefinedHere(name)}}
	return d, true
}

// Fits says whether a branch gets to a symbol of another source in the right state, when a
// linker has done what it may.
func Fits(x *Use, to *Symbol) bool {
	arrives := x.State
	if x.Exchange {
		arrives = isa.T
		if x.State == isa.T {
			arrives = isa.A
		}
	}
	if arrives == to.State {
		return true
	}
	return to.Function && !x.Short
}
