package program

import (
	"narrowgauge/analysis/syntax"
)

// Spot is a part of a line of a source, in columns: where it is in the text changes with what
// is above.
type Spot struct{ Line, From, To int32 }

// Macro is one definition of a macro.
type Macro struct {
	Name       string // as written
	Parameters []syntax.Param
	File       int32      // the source with its body
	Line       int32      // of the .macro there
	End        int32      // line of the .endm
	Lines      []BodyLine // of the body, where included files are in it
	Item       int32      // the .macro
	Spot       Spot       // of the name; see Program.MacroAt
	Calls      []int32    // items that call it, in order
	// Columns: of the column dialect; label: its first parameter is the label;
	// cond: the next one is what goes on after its name.
	Columns, Label, Cond bool
}

// Expansion says where the lines of a source come from.
type Expansion struct {
	Macro *Macro      // nil for a repetition
	By    string      // a repetition's directive
	File  int32       // source with the body's text
	Line  int32       // line there of the first line
	N     int32       // lines of the body: they come again and again
	Lines []BodyLine  // where the body's lines are, if not one after the other
	Exact bool        // columns are those of the body
	Name  string      // of .irp and the like
	More  func() bool // WHILE: whether it goes on
	// Joined: one line made of several; columns are bytes from the first one.
	Joined bool
}

// BodyLine is a line of a source.
type BodyLine struct{ File, Line int32 }

// body is the line of the body that a line of the expansion is made of.
func (x *Expansion) body(line int32) (int32, int32) {
	if n := int32(len(x.Lines)); n > 0 {
		w := x.Lines[min(line%x.N, n-1)]
		return w.File, w.Line
	}
	return x.File, x.Line + line%x.N
}

// Transparent says whether the item asks for an expansion that is after
// it, so that it means nothing by itself.
func (it *Item) Transparent() bool { return it.Flags&(Calls|Opaque) == Calls }
