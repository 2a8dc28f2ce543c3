package describe

import (
	"fmt"
	"strings"

	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/wording"
)

// maxGraph bounds the program in which a hover looks for routines: it makes the graph of the
// whole of it.
const maxGraph = 50_000

// maxNamed bounds the callers, and what is called, that a hover names.
const maxNamed = 4

// routineText sums up the routine that begins at a label, as Markdown; empty where none does.
func (r *View) routineText(s *program.Symbol) (text string) {
	if s.Label && s.Item >= 0 && len(r.Items) <= maxGraph {
		r.graph(func(paths *flow.Paths) {
			if sum, ok := paths.RoutineAt(&r.Items[s.Item], s.Function); ok {
				text = r.summaryText(sum)
			}
		})
		text += r.partText(&r.Items[s.Item], text != "")
	}
	return text
}

// partText sums up the loop that begins at a label, as Markdown, or else the block, unless
// it is a routine, of which all has been said; empty where none does.
func (r *View) partText(label *program.Item, routine bool) (text string) {
	if label.Index < 0 || len(r.Items) > maxGraph {
		return ""
	}
	r.graph(func(paths *flow.Paths) {
		what, cycles := "Loop", "One time around takes"
		p, ok := paths.LoopAt(label)
		if !ok {
			what, cycles = "Block", "It takes"
			if p, ok = paths.BlockAt(label); !ok || routine {
				return
			}
		}
		lines := []string{fmt.Sprintf("%s of %s, %s.", what, wording.Plural(p.Lines, "instruction", "instructions"), wording.Plural(int(p.Bytes), "byte", "bytes"))}
		for _, c := range p.Cycles {
			lines = append(lines, takesText(cycles, c)...)
		}
		if p.Rounds[1] > 0 {
			lines = append(lines, fmt.Sprintf("It goes around %s.", roundsText(p.Rounds)))
		}
		for _, c := range p.Total {
			lines = append(lines, takesText("All of that takes", c)...)
		}
		text = "\n\n" + strings.Join(lines, "  \n")
	})
	return text
}

// takesText is a line that says how long something takes; none where it does not go on.
func takesText(what string, c flow.Cost) []string {
	switch {
	case c.Least < 0:
		return nil
	case c.Most < 0:
		return []string{fmt.Sprintf("%s %d cycles or more on %s, as there is a loop inside.", what, c.Least, c.Core)}
	case c.Most == c.Least:
		return []string{fmt.Sprintf("%s %s on %s.", what, wording.Plural(c.Least, "cycle", "cycles"), c.Core)}
	}
	return []string{fmt.Sprintf("%s %d to %d cycles on %s.", what, c.Least, c.Most, c.Core)}
}

// roundsText says how often a loop goes around.
func roundsText(n [2]int) string {
	switch n[0] {
	case 0:
		return wording.Plural(n[1], "time", "times") + " at most"
	case n[1]:
		return wording.Plural(n[0], "time", "times")
	}
	return fmt.Sprintf("%d to %d times", n[0], n[1])
}

// summaryText is what is said of a routine, as Markdown.
func (r *View) summaryText(sum *flow.Routine) string {
	lines := []string{fmt.Sprintf("Routine of %s, %s.", wording.Plural(sum.Lines, "instruction", "instructions"), wording.Plural(int(sum.Bytes), "byte", "bytes"))}
	read, changed := registersText(sum.Reads), registersText(sum.Changes)
	if sum.FlagsRead != 0 {
		read = append(read, "flags "+sum.FlagsRead.String())
	}
	if sum.Flags != 0 {
		changed = append(changed, "flags "+sum.Flags.String())
	}
	effects := "Reads " + listed(read) + "; changes " + listed(changed)
	if sum.Keeps != 0 {
		effects += "; keeps " + registersText(sum.Keeps)[0]
	}
	if sum.Results != 0 {
		effects += "; callers here read " + registersText(sum.Results)[0] + " after it"
	}
	switch {
	case !sum.Known:
		effects += "; and what code does that is not seen from here"
	case sum.Assumes:
		effects += "; what is called and not seen counts as AAPCS32 has it"
	}
	lines = append(lines, effects+".")
	if sum.Stack > 0 {
		lines = append(lines, fmt.Sprintf("Takes %d bytes of the stack%s.", sum.Stack, unlessCalls(sum)))
	}
	for _, c := range sum.Cycles() {
		lines = append(lines, costText(&c)+unlessCalls(sum)+".")
	}
	if names := r.calledNames(sum); len(names) > 0 {
		lines = append(lines, "Calls "+listed(names)+".")
	}
	if n := len(sum.Callers); n > 0 {
		lines = append(lines, fmt.Sprintf("Called %s, from %s.", wording.Plural(n, "time", "times"), listed(r.callerNames(sum))))
	}
	return "\n\n" + strings.Join(lines, "  \n")
}

// unlessCalls says that what is called does not count.
func unlessCalls(sum *flow.Routine) string {
	if len(sum.Calls) > 0 {
		return ", without what it calls"
	}
	return ""
}

func costText(c *flow.Cost) string {
	switch {
	case c.Least < 0:
		return "Does not come back, on " + c.Core
	case c.Most < 0:
		return fmt.Sprintf("Cycles on %s: %d or more, as there is a loop", c.Core, c.Least)
	case c.Most == c.Least:
		return fmt.Sprintf("Cycles on %s: %d", c.Core, c.Least)
	}
	return fmt.Sprintf("Cycles on %s: %d to %d", c.Core, c.Least, c.Most)
}

// listed are names in a row, the first ones of many.
func listed(names []string) string {
	if len(names) == 0 {
		return "nothing"
	}
	if n := len(names) - maxNamed; n > 1 {
		names = append(names[:maxNamed:maxNamed], fmt.Sprintf("%d more", n))
	}
	return joined(names)
}

// calledNames are what the routine calls, each once, as it is written.
func (r *View) calledNames(sum *flow.Routine) (names []string) {
	seen := map[string]bool{}
	for _, it := range sum.Calls {
		name := "`" + r.restText(it) + "`"
		if !seen[name] {
			seen[name] = true
			names = append(names, name)
		}
	}
	return names
}

// callerNames are the routines that calls are in: the last label above each that is more
// than a number.
func (r *View) callerNames(sum *flow.Routine) (names []string) {
	seen := map[string]bool{}
	for _, call := range sum.Callers[:min(len(sum.Callers), 100)] {
		name := "line " + fmt.Sprint(call.Line+1)
		order := r.Order[call.Section]
		for k := r.Position(call); k >= 0; k-- {
			it := &r.Items[order[k]]
			if y := r.labelOf(it); y != nil && (y.Function || y.Global || r.called()[y]) {
				name = "`" + y.Name + "`"
				break
			}
		}
		if !seen[name] {
			seen[name] = true
			names = append(names, name)
		}
	}
	return names
}

// labelOf is the symbol of a label's statement, nil for another one.
func (r *View) labelOf(it *program.Item) *program.Symbol {
	if it.Stmt.Number >= 0 {
		return nil
	}
	if y := r.SymbolOf(it.Stmt.Name); y != nil && y.Label && y.Item == it.Index {
		return y
	}
	return nil
}
