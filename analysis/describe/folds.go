package describe

import (
	"slices"
	"sort"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
)

// Fold is a stretch of lines that belong together, counted from 0; editors show the
// first one when it is closed.
type Fold struct {
	First, Last int
	Comment     bool
}

// folds collects those of a file.
type folds struct {
	file *syntax.File
	open []opened
	out  []Fold
}

// opened is a line that opens something, and by what it is closed.
type opened struct {
	line int
	by   syntax.Effect
	hash bool // of the preprocessor
}

// FoldsIn lists what can be folded in a file of the program, by their first lines:
// routines and other labels with what they own, macros, repetitions, parts of
// conditions, comments of several lines.
func (r *View) FoldsIn(path string) []Fold {
	id := r.FileOf(path)
	if id < 0 {
		return nil
	}
	f := &folds{file: r.Sources[id].AsWritten()}
	f.blocks()
	f.comments()
	f.labels(r.SymbolsIn(path))
	slices.SortStableFunc(f.out, func(a, b Fold) int {
		if a.First != b.First {
			return a.First - b.First
		}
		return b.Last - a.Last // the larger one is around the other
	})
	return slices.Compact(f.out)
}

// labels folds what labels own.
func (f *folds) labels(list []DocSymbol) {
	for _, s := range list {
		if s.Kind == program.SymFunction || s.Kind == program.SymCode || s.Kind == program.SymData {
			f.add(f.file.LineAt(s.NameSpan.Start), f.file.LineAt(s.Full.End), false)
		}
		f.labels(s.Children)
	}
}

func (f *folds) add(first, last int, comment bool) {
	if last > first {
		f.out = append(f.out, Fold{first, last, comment})
	}
}

// closers are the effects that end what others begin.
var closers = map[syntax.Effect]syntax.Effect{
	syntax.EffIf: syntax.EffEndif, syntax.EffMacro: syntax.EffEndm, syntax.EffMacroBelow: syntax.EffEndm, syntax.EffRept: syntax.EffEndr,
}

// blocks finds what has a line that opens it and one that closes it.
func (f *folds) blocks() {
	for n := range f.file.NumLines() {
		l := f.file.Line(n)
		if word, ok := hashWord(l.Text); ok {
			switch word {
			case "if", "ifdef", "ifndef":
				f.open = append(f.open, opened{n, syntax.EffEndif, true})
			case "else", "elif", "elifdef", "elifndef":
				f.turn(n, true)
			case "endif":
				f.close(n, syntax.EffEndif, true)
			}
			continue
		}
		for i := range l.Stmts {
			d := l.Stmts[i].Directive
			if l.Stmts[i].Kind != syntax.Directive || d == nil {
				continue
			}
			switch by := closers[d.Effect]; {
			case by != 0:
				f.open = append(f.open, opened{n, by, false})
			case d.Effect == syntax.EffElse, d.Effect == syntax.EffElseif:
				f.turn(n, false)
			case d.Effect == syntax.EffEndif, d.Effect == syntax.EffEndm, d.Effect == syntax.EffEndr:
				f.close(n, d.Effect, false)
			}
		}
	}
}

// hashWord is the word of a line of the preprocessor.
func hashWord(text string) (word string, ok bool) {
	rest, ok := strings.CutPrefix(strings.TrimLeft(text, " \t"), "#")
	if !ok {
		return "", false
	}
	rest = strings.TrimLeft(rest, " \t")
	n := 0
	for n < len(rest) && rest[n] >= 'a' && rest[n] <= 'z' {
		n++
	}
	return rest[:n], n > 0
}

// turn ends the part of the condition that is open in front of a line with another part.
func (f *folds) turn(line int, hash bool) {
	if n := len(f.open); n > 0 && f.open[n-1].by == syntax.EffEndif && f.open[n-1].hash == hash {
		f.add(f.open[n-1].line, line-1, false)
		f.open[n-1].line = line
	}
}

// close ends the last that a line closes; what is open in it has no end.
func (f *folds) close(line int, by syntax.Effect, hash bool) {
	for n := len(f.open) - 1; n >= 0; n-- {
		if f.open[n].by == by && f.open[n].hash == hash {
			f.add(f.open[n].line, line, false)
			f.open = f.open[:n]
			return
		}
	}
}

// comments finds comments of several lines.
func (f *folds) comments() {
	first := -1
	for n := range f.file.NumLines() {
		l := f.file.Line(n)
		only := len(l.Stmts) == 0 && strings.TrimSpace(l.Text) != ""
		if _, hash := hashWord(l.Text); hash {
			only = false
		}
		switch {
		case only && first < 0:
			first = n
		case !only && first >= 0:
			f.add(first, n-1, true)
			first = -1
		}
	}
	if first >= 0 {
		f.add(first, f.file.NumLines()-1, true)
	}
}

// Around gives what lists the stretches of text around a byte offset of a file of the program,
// the smallest first: the word, the operand, the statement, the line without blanks, what a
// label owns, the file. What all offsets need is looked for once: an editor asks for each of
// its cursors.
func (r *View) Around(path string) func(off int) []finding.Span {
	id := r.FileOf(path)
	if id < 0 {
		return func(int) []finding.Span { return nil }
	}
	f := r.Sources[id].AsWritten()
	owners := ownersIn(f, r.SymbolsIn(path))
	return func(off int) (out []finding.Span) {
		off = max(0, min(off, len(f.Text())))
		add := func(a, b int) {
			if s := (finding.Span{Start: a, End: b}); b > a && s.Start <= off && off <= s.End {
				if k := len(out); k == 0 || s.Start <= out[k-1].Start && s.End >= out[k-1].End && s != out[k-1] {
					out = append(out, s)
				}
			}
		}
		aroundInLine(f, off, add)
		for _, s := range owners.at(off) {
			add(s.Start, s.End)
		}
		add(0, len(f.Text()))
		return out
	}
}

// aroundInLine adds what is around an offset in its line.
func aroundInLine(f *syntax.File, off int, add func(a, b int)) {
	n := f.LineAt(off)
	start, l := f.LineStart(n), f.Line(n)
	col := min(off-start, len(l.Text))
	a, b := col, col
	for a > 0 && program.IdentByte(l.Text[a-1]) {
		a--
	}
	for b < len(l.Text) && program.IdentByte(l.Text[b]) {
		b++
	}
	add(start+a, start+b)
	// The statements of a line, and their operands, are in order: a line may have a million.
	first := sort.Search(len(l.Stmts), func(i int) bool { return int(l.Stmts[i].End) >= col })
	last := first
	for ; last < len(l.Stmts) && int(l.Stmts[last].Start) <= col; last++ {
		ops := l.Stmts[last].Ops
		k := sort.Search(len(ops), func(k int) bool { return int(ops[k].End) >= col })
		for ; k < len(ops) && int(ops[k].Start) <= col; k++ {
			add(start+int(ops[k].Start), start+int(ops[k].End))
		}
	}
	for i := first; i < last; i++ {
		add(start+int(l.Stmts[i].Start), start+int(l.Stmts[i].End))
	}
	trimmed := strings.TrimLeft(l.Text, " \t")
	add(start+len(l.Text)-len(trimmed), start+len(strings.TrimRight(l.Text, " \t\r")))
}

// owners are what labels own, by where that begins.
type owners struct {
	spans []finding.Span
	ends  []int // the last end of those up to each
	order []int // in which they were listed
}

func ownersIn(f *syntax.File, all []DocSymbol) (o owners) {
	at := make([]finding.Span, len(all))
	o.order = make([]int, len(all))
	for i := range all {
		at[i] = finding.Span{Start: f.LineStart(f.LineAt(all[i].NameSpan.Start)), End: all[i].Full.End}
		o.order[i] = i
	}
	slices.SortStableFunc(o.order, func(a, b int) int { return at[a].Start - at[b].Start })
	end := 0
	for _, i := range o.order {
		end = max(end, at[i].End)
		o.spans, o.ends = append(o.spans, at[i]), append(o.ends, end)
	}
	return o
}

// at are those that an offset is in, in the order in which they were listed.
func (o *owners) at(off int) (out []finding.Span) {
	var found []int
	for k := sort.Search(len(o.spans), func(k int) bool { return o.spans[k].Start > off }) - 1; k >= 0 && o.ends[k] >= off; k-- {
		if o.spans[k].End >= off {
			found = append(found, k)
		}
	}
	slices.SortFunc(found, func(a, b int) int { return o.order[a] - o.order[b] })
	for _, k := range found {
		out = append(out, o.spans[k])
	}
	return out
}
