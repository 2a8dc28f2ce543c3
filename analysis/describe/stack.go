package describe

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/isa"
)

// stackText says what becomes of the words that a line stores on the stack: where they are
// loaded again, or that they are not. It is empty where it stores none there, or where that
// is not known of any.
func (r *View) stackText(it *program.Item) string {
	e := it.Match.Effects()
	if !e.WritesMem || !e.Reads.Has(isa.SP) || len(r.Items) > maxGraph {
		return ""
	}
	var dead isa.RegList
	floats := false
	var order []string // places where words are loaded, in order
	loaded := map[string]isa.RegList{}
	var all []flow.StackWord
	r.graph(func(paths *flow.Paths) { all = paths.StoredWords(it) })
	for i := range all {
		w := &all[i]
		bit := isa.RegList(0)
		if floats = floats || w.Reg > isa.PC; w.Reg <= isa.PC {
			bit = 1 << w.Reg
		}
		switch {
		case !w.Known:
		case w.Dead():
			dead |= bit
		default:
			where := r.linesText(w.Readers)
			if !slices.Contains(order, where) {
				order = append(order, where)
			}
			loaded[where] |= bit
		}
	}
	unknown := slices.ContainsFunc(all, func(w flow.StackWord) bool { return !w.Known })
	nothing := !slices.ContainsFunc(all, func(w flow.StackWord) bool { return !w.Dead() })
	switch {
	case len(all) == 0 || floats && (unknown || !nothing && len(order) != 1 || !nothing && slices.ContainsFunc(all, func(w flow.StackWord) bool { return w.Dead() })):
		return ""
	case nothing:
		return "Nothing loads what it stores on the stack before the frame is left."
	case !unknown && len(order) == 1 && dead == 0:
		return "What it stores on the stack is loaded in " + order[0] + "."
	}
	var parts []string
	for _, where := range order[:min(len(order), maxNamed)] {
		parts = append(parts, fmt.Sprintf("%s in %s", registersText(loaded[where])[0], where))
	}
	s := ""
	if len(parts) > 0 {
		s = "Of what it stores on the stack, these are loaded: " + strings.Join(parts, "; ") + "."
	}
	if dead != 0 {
		s = strings.TrimSpace(s + " Nothing loads " + registersText(dead)[0] + " from the stack before the frame is left.")
	}
	return s
}

// linesText names the lines of items.
func (r *View) linesText(items []*program.Item) string {
	var names, others []string
	for _, it := range items {
		name := strconv.Itoa(int(it.Line) + 1)
		switch src := &r.Sources[it.File]; {
		case src.Expansion != nil:
			if name = "a line that a macro makes"; !slices.Contains(others, name) {
				others = append(others, name)
			}
			continue
		case it.File != 0:
			name += " of " + src.Path
		}
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	switch {
	case len(names) == 1:
		others = append([]string{"line " + names[0]}, others...)
	case len(names) > 1:
		others = append([]string{"lines " + listed(names)}, others...)
	}
	return joined(others)
}
