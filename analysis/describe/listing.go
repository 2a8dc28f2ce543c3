package describe

import (
	"strings"

	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// Placed is a statement that takes room, or a label, where the layout has put it.
type Placed struct {
	Path    string // of the file
	Line    int    // from 0: of the call, for what a macro makes
	Section string
	Offset  int64 // in the section, in bytes; -1: what is in front of it has no known size
	Size    int64 // in bytes, without the pool that may follow
	Code    string
	State   string // T16, T32 or A32, of instructions
	Cycles  string // as the tables of cores have them; empty: none is known
	Text    string // of the statement; of a pool what is in it
	Made    bool   // by a macro or a repetition
	Pool    bool   // words of a literal pool
}

// Listing lists the statements of the program in the order of the sources, with the pools
// where they are placed.
func (r *View) Listing() (out []Placed) {
	pools := map[int32][]*program.Literal{}
	for i := range r.Literals {
		if l := &r.Literals[i]; l.Offset >= 0 {
			pools[l.Item] = append(pools[l.Item], l)
		}
	}
	for i := range r.Items {
		it := &r.Items[i]
		if it.Size > 0 || it.Stmt.Kind == syntax.Label {
			p := r.placed(it)
			if n := int64(4 * len(pools[it.Index])); it.Flags&program.HasPool != 0 && p.Size >= n {
				p.Size -= n // what is left is padding in front of it
			}
			out = append(out, p)
		}
		for _, l := range pools[it.Index] {
			file, line, _ := r.Shown(it)
			out = append(out, r.placedLiteral(l, r.Sources[file].Path, int(line)))
		}
	}
	for _, l := range pools[-1] {
		out = append(out, r.placedLiteral(l, r.Path, r.File.NumLines()-1))
	}
	return out
}

// placed is one statement.
func (r *View) placed(it *program.Item) Placed {
	file, line, _ := r.Shown(it)
	p := Placed{Path: r.Sources[file].Path, Line: int(line), Section: r.Sections[it.Section].Name, Offset: it.Offset, Size: it.Size + it.Slot.ItSize(), Made: file != it.File}
	if !r.Sections[it.Section].Exact {
		p.Offset = -1
	}
	text := r.LineText(it)
	if a, b := int(it.Stmt.Start), int(it.Stmt.End); a <= b && b <= len(text) {
		p.Text = strings.Join(strings.Fields(text[a:b]), " ")
	}
	if it.Flags&program.IsCode == 0 {
		return p
	}
	e := &r.Environments[it.Environment]
	switch {
	case e.Mode == isa.A:
		p.State = "A32"
	case it.Size > 2:
		p.State = "T32"
	default:
		p.State = "T16"
	}
	if it.Match.Form == nil || it.Flags&program.Refused != 0 {
		return p
	}
	p.Code = r.bytesText(it)
	var counts []string
	for _, c := range it.Match.Cycles(e.Target, e.Have) {
		counts = append(counts, c.Core.Name+" "+c.Count)
	}
	p.Cycles = strings.Join(counts, "; ")
	return p
}

// placedLiteral is a word of a pool.
func (r *View) placedLiteral(l *program.Literal, path string, line int) Placed {
	p := Placed{Path: path, Line: line, Section: r.Sections[l.Section].Name, Offset: l.Offset, Size: 4, Text: "=" + r.literalText(l), Pool: true}
	if l.Padding {
		p.Text = "padding"
	}
	if !r.Sections[l.Section].Exact {
		p.Offset = -1
	}
	return p
}

// Share is a part of the program: a section, or a routine or the pools in one.
type Share struct {
	Kind   string // section, routine, pools
	Name   string
	In     string // the section
	Bytes  int64
	Exact  bool   // the size is right
	Stack  int64  // of a routine, in bytes; -1: it is not known, or it is none
	Cycles string // of a routine
}

// routineShares are the routines of each section.
func (r *View) routineShares(paths *flow.Paths) map[string][]Share {
	in := map[string][]Share{}
	for id := range r.Sources {
		r.eachRoutine(int32(id), func(it *program.Item, y *program.Symbol) bool {
			sum, ok := paths.RoutineAt(it, y.Function)
			if !ok {
				return true
			}
			name := r.Sections[it.Section].Name
			in[name] = append(in[name], Share{Kind: "routine", Name: y.Name, In: name, Bytes: sum.Bytes, Exact: true, Stack: sum.Stack, Cycles: r.CyclesText(y.Name)})
			return true
		})
	}
	return in
}

// Map lists the sections that take room in their order, and in each its routines and
// pools.
func (r *View) Map() (out []Share) {
	var in map[string][]Share
	if len(r.Items) <= maxGraph {
		r.graph(func(paths *flow.Paths) { in = r.routineShares(paths) })
	}
	words := map[string]int64{}
	for i := range r.Literals {
		if l := &r.Literals[i]; l.Offset >= 0 {
			words[r.Sections[l.Section].Name]++
		}
	}
	for i := range r.Sections {
		s := &r.Sections[i]
		if s.Record || int(s.Main) != i {
			continue
		}
		size, exact := r.sectionSize(int16(i))
		if size == 0 {
			continue
		}
		out = append(out, Share{Kind: "section", Name: s.Name, In: s.Name, Bytes: size, Exact: exact, Stack: -1})
		out = append(out, in[s.Name]...)
		if n := words[s.Name]; n > 0 {
			out = append(out, Share{Kind: "pools", Name: wording.Plural(int(n), "literal", "literals"), In: s.Name, Bytes: 4 * n, Exact: true, Stack: -1})
		}
	}
	return out
}
