package describe

import (
	"slices"
	"strings"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
)

// vectorEffects names the registers of vectors that a line reads and
// writes, as they are written in it. The row says it, as an assignment: what is on its left
// is written, and read where the assignment adds to it or names only a part; what is on its
// right is read. Registers of the core, memory and flags of the APSR are not among them.
func (r *View) vectorEffects(it *program.Item) (reads, writes []string) {
	f := it.Match.Form
	left, right, ok := strings.Cut(f.Row.Text(), " = ")
	adds := false
	if !ok {
		for _, op := range []string{" += ", " −= "} {
			if left, right, ok = strings.Cut(f.Row.Text(), op); ok {
				adds = true
				break
			}
		}
	}
	if !ok && strings.Contains(f.Row.Text(), "Vd and Vm") { // exchanged, or as pairs of elements
		left, right, ok = "Vd Vm", "Vd Vm", true
	}
	if !ok {
		return nil, nil
	}
	_, operands, _ := strings.Cut(f.String(), " ")
	line := r.LineText(it)
	names := splitOperands(operands)
	for i, name := range names {
		if i >= len(it.Stmt.Ops) || len(names) != len(it.Stmt.Ops) {
			return nil, nil
		}
		o := &it.Stmt.Ops[i]
		text := "`" + syntax.WithoutComments(line[o.Start:o.End]) + "`"
		for role := range strings.SplitSeq(name, "=") { // one operand may be two of the row's
			list := strings.HasPrefix(role, "{")
			switch to, from := mentions(left, role, list), mentions(right, role, list); {
			case to && (adds || from):
				reads, writes = append(reads, text), append(writes, text)
			case to:
				writes = append(writes, text)
			case from:
				reads = append(reads, text)
			}
		}
	}
	return unique(reads), unique(writes)
}

// mentions says whether a side of an assignment names an operand of the form: a register by
// its place, d, n or m, whatever its size is; a list by what it is.
func mentions(side, role string, list bool) bool {
	if list {
		return strings.Contains(side, "registers") || strings.Contains(side, "each register")
	}
	role, _, _ = strings.Cut(role, "[")
	if len(role) != 2 || strings.IndexByte("SDQ", role[0]) < 0 || strings.IndexByte("dnm", role[1]) < 0 {
		return false
	}
	for _, size := range "SDQV" {
		if strings.Contains(side, string(size)+role[1:]) {
			return true
		}
	}
	return false
}

// splitOperands divides the operands of a form at commas that are in no brackets.
func splitOperands(text string) (out []string) {
	depth, from := 0, 0
	for i := range len(text) {
		switch text[i] {
		case '[', '{':
			depth++
		case ']', '}':
			depth--
		case ',':
			if depth == 0 {
				out, from = append(out, strings.TrimSpace(text[from:i])), i+1
			}
		}
	}
	return append(out, strings.TrimSpace(text[from:]))
}

func unique(list []string) []string {
	slices.Sort(list)
	return slices.Compact(list)
}
