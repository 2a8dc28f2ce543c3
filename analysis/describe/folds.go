package describe

import (
	"slices"
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

// Around lists the stretches of text around byte offset off of a file of the program, the
// smallest first: the word, the operand, the statement, the line without blanks, what a
// label owns, the file.
func (r *View) Around(path string, off int) (out []finding.Span) {
	id := r.FileOf(path)
	if id < 0 {
		return nil
	}
	f := r.Sources[id].AsWritten()
	off = max(0, min(off, len(f.Text())))
	n := f.LineAt(off)
	start, l := f.LineStart(n), f.Line(n)
	col := min(off-start, len(l.Text))
	add := func(a, b int) {
		if s := (finding.Span{Start: a, End: b}); b > a && s.Start <= off && off <= s.End {
			if k := len(out); k == 0 || s.Start <= out[k-1].Start && s.End >= out[k-1].End && s != out[k-1] {
				out = append(out, s)
			}
		}
	}
	a, b := col, col
	for a > 0 && program.IdentByte(l.Text[a-1]) {
		a--
	}
	for b < len(l.Text) && program.IdentByte(l.Text[b]) {
		b++
	}
	add(start+a, start+b)
	for i := range l.Stmts {
		s := &l.Stmts[i]
		for k := range s.Ops {
			add(start+int(s.Ops[k].Start), start+int(s.Ops[k].End))
		}
	}
	for i := range l.Stmts {
		add(start+int(l.Stmts[i].Start), start+int(l.Stmts[i].End))
	}
	trimmed := strings.TrimLeft(l.Text, " \t")
	add(start+len(l.Text)-len(trimmed), start+len(strings.TrimRight(l.Text, " \t\r")))
	for _, s := range r.SymbolsIn(path) {
		add(f.LineStart(f.LineAt(s.NameSpan.Start)), s.Full.End)
	}
	add(0, len(f.Text()))
	return out
}
