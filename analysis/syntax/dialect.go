package syntax

import (
	"strings"
	"sync"
)

// Dialect is a way to write sources. The instructions are the same in all of
// them; comments, labels and directives are not.
type Dialect uint8

// The dialects.
const (
	// Dots: directives start with a dot, comments with '@', and ';' separates
	// statements.
	Dots Dialect = iota
	// Semicolon: as Dots, but ';' starts a comment, and a word at column one is
	// a label, with or without colon.
	Semicolon
	// Columns: the dialect of vendor toolchains. Labels are at column one,
	// everything else after blanks; directives are words (AREA, DCD, EQU).
	Columns
	// Modules: as Semicolon, but directives are words (MODULE, SECTION, DC32), and '@'
	// starts no comment.
	Modules
)

var dialectNames = [...]string{"dots", "semicolon", "columns", "modules"}

// String gives the name that the setting has: dots, semicolon, columns or modules.
func (d Dialect) String() string { return dialectNames[d] }

// DialectNamed finds a dialect by the name that String gives.
func DialectNamed(name string) (Dialect, bool) {
	for i, n := range dialectNames {
		if n == name {
			return Dialect(i), true
		}
	}
	return Dots, false
}

// Spelled is the name of the directive that has an effect in a dialect, where several
// have it the usual one. An effect that only the dialect with dots has is called by its
// name there.
func Spelled(d Dialect, e Effect) string {
	dots, columns := spellings()
	if name := columns[e]; d == Columns && name != "" {
		return name
	}
	if d == Modules && moduleSpelling()[e] != "" {
		return moduleSpelling()[e]
	}
	return dots[e]
}

// spellings are the usual names of what the dialect with dots, and that of columns, have.
var spellings = sync.OnceValues(func() (dots, columns map[Effect]string) {
	dots, columns = map[Effect]string{}, map[Effect]string{}
	for i := range directiveList {
		if d := &directiveList[i]; dots[d.Effect] == "" {
			dots[d.Effect] = d.Name
		}
	}
	for i := range columnList {
		if c := &columnList[i]; columns[c.effect] == "" {
			columns[c.effect], _, _ = strings.Cut(c.names, " ")
		}
	}
	for dot, column := range map[Effect]Effect{EffGlobal: EffExport, EffExtern: EffImport, EffMacro: EffMacroBelow, EffComm: EffCommon, EffAlignByte: EffAlignFrom} {
		columns[dot] = columns[column]
	}
	return dots, columns
})

var moduleSpelling = sync.OnceValue(func() map[Effect]string {
	out := map[Effect]string{}
	for i := range moduleList {
		if m := &moduleList[i]; out[m.info.Effect] == "" && m.info.Effect != EffNone {
			out[m.info.Effect], _, _ = strings.Cut(m.names, " ")
		}
	}
	return out
})

// Dialect is the dialect in which the file was read.
func (f *File) Dialect() Dialect { return f.dialect }

// As is the file's text read in a dialect: the file itself if it was read so.
// The other readings are kept in the file, and follow its edits. Several
// goroutines may call it at once.
func (f *File) As(d Dialect) *File {
	if f.dialect == d || int(d) >= len(f.other) {
		return f
	}
	if g := f.other[d].Load(); g != nil {
		return g
	}
	g := ParseAs(f.text, d)
	g.other[f.dialect].Store(f)
	if !f.other[d].CompareAndSwap(nil, g) {
		return f.other[d].Load()
	}
	return g
}

// Edit returns the file with the bytes [start,end) replaced by text. Lines
// that the edit does not touch keep their parsed form: the new file shares
// them. It keeps the dialect; a file that had nothing to tell dialects apart,
// and one that is replaced as a whole, is looked at anew. It panics when the
// range is not inside the file, as a slice does.
func (f *File) Edit(start, end int, text string) *File {
	return f.EditAt([]Change{{start, end, text}})
}

// EditAt is Edit at several places at once. The changes are sorted, and none overlaps another.
func (f *File) EditAt(changes []Change) *File {
	if len(changes) == 0 {
		return f
	}
	d, sure := f.dialect, f.sure
	all := len(changes) == 1 && changes[0].Start == 0 && changes[0].End == len(f.text)
	if !f.forced && (!sure || all) {
		whole, _ := changed(f.text, changes)
		d, sure = Detect(whole)
	}
	var g *File
	if d == f.dialect {
		g = f.edit(changes)
	} else {
		whole, _ := changed(f.text, changes)
		g = parse(whole, d)
	}
	g.sure, g.forced = sure, f.forced
	for k := range f.other {
		// Readings that were asked for once are asked for again.
		if o := f.other[k].Load(); o != nil && o.forced && Dialect(k) != d {
			e := o.edit(changes)
			e.forced = true
			e.other[d].Store(g)
			g.other[k].Store(e)
		}
	}
	return g
}
