package preprocess

import (
	"narrowgauge/analysis/syntax"
)

// Limits, so that every input ends. The depth is what compilers have; the
// others are our own.
const (
	maxDepth    = 200       // of nested includes
	maxUnits    = 20_000    // files, each counted as often as it is included
	maxLines    = 1_000_000 // of all files together
	maxTokens   = 1 << 18   // of one line, before macros are replaced
	maxLineWork = 1 << 20   // tokens and bytes that the macros of one line may take
	maxWork     = 16 << 20  // and of all lines together
	maxNesting  = 500       // calls inside the arguments of calls; brackets in #if
	maxProblems = 1000      // in one file
	lookAhead   = 100       // lines of arguments, once a call was not closed
)

// Input is what Process works on.
type Input struct {
	Path string
	File *syntax.File
	// Defines lists macros that are defined in front of the file: NAME,
	// NAME=text or NAME(a,b)=text. A later one replaces an earlier one.
	Defines []string
	// Prelude lists files that are read in front of the file, each as if its
	// first line included it by #include "name".
	Prelude []string
	// Load finds the file that an #include in the file from names; system is
	// set for <name>. Without Load every include is missing.
	Load func(from, name string, system bool) (path string, file *syntax.File, ok bool)
	// Next finds the file that an #include_next in the file from names: the one
	// behind from in the order of search. Without it, Load does.
	Next func(from, name string) (path string, file *syntax.File, ok bool)
	// Cache keeps lines parsed anew from one run to the next; nil keeps none.
	Cache *Cache
	// Stop is asked now and then, if it is not nil; true ends the run early.
	Stop func() bool
}

// Span is a range of bytes in a raw file.
type Span struct{ Start, End int }

// Unit is one file after the preprocessor. It has as many lines as the raw
// file, and line i of it stands for line i there. It is not changed any more
// once Process has returned.
type Unit struct {
	Path string
	Raw  *syntax.File
	// File has the processed lines: those that nothing changed are the lines
	// of Raw, directives and inactive lines are empty. What several raw lines
	// make together stands in the first of them; the others are empty. Without
	// any change it is Raw itself.
	File *syntax.File
	// Includes has every active #include, by its line.
	Includes map[int]*Include
	// Prelude has the files in front of the first line, in order; of the root
	// alone.
	Prelude []*Include
	// Inactive are the whole lines that conditions leave out.
	Inactive []Span
	// Problems are those of this file, without those of files it includes.
	Problems []Problem
	// Missing says that this file, or one that it includes, includes a file
	// that was not found, or that a limit kept from being read: names may be
	// defined that nobody saw.
	Missing bool
	// Stopped says that Stop ended the run early: the unit is not complete.
	Stopped bool

	macros  []*Macro    // of the whole run, in order of definition
	changed []lineMap   // sorted by line
	joined  map[int]int // a line whose text stands in an earlier line: that line
	marks   []mark      // sorted by Start
}

// Include is an #include directive.
type Include struct {
	Start, End int    // the name, with its quotes or brackets
	Name       string // without them
	System     bool   // <name>
	Next       bool   // #include_next
	Found      bool
	Path       string // where it was found
	// Unit is the file as it came out at this place. It is nil when there is
	// no file, when it is not read a second time (#pragma once, or a guard
	// around all of it), or when a limit was reached.
	Unit *Unit
}

// Kind tells problems apart.
type Kind uint8

// The kinds of problems.
const (
	MissingInclude Kind = iota + 1 // the file was not found
	BadInclude                     // the directive cannot be read
	Raised                         // by #error and #warning
	BadStructure                   // #else without #if and the like
	BadCondition                   // the expression behind #if
	BadDefinition                  // #define, #undef
	Redefined                      // a macro gets another text
	BadCall                        // the arguments of a macro
	OpenComment                    // a comment is not closed
	BadDirective                   // any other directive
	LimitReached                   // too deep, too many, too large
)

// Problem is something wrong in a file.
type Problem struct {
	Start, End int // bytes of the raw file
	Kind       Kind
	Message    string
	Mild       bool // compilers go on, with a warning at most
}

// Macro is a macro's definition.
type Macro struct {
	Name string
	// FuncLike macros have a parameter list, maybe an empty one.
	FuncLike bool
	// Params are the names of the parameters. The last one of a variadic macro
	// is __VA_ARGS__, or has a name of its own.
	Params   []string
	Variadic bool
	// Text is what stands for the macro, with one blank for any.
	Text string
	// Path, Start and End say where the name stands in the definition. A
	// macro that is built in, or comes from the settings, has no place.
	Path                  string
	Start, End            int
	Builtin, FromSettings bool
	// Uses are the places where the macro is expanded, called or asked for,
	// in other macros' texts too. Inside '@' comments nothing counts.
	Uses []Use

	unit     *Unit
	body     []*tok
	special  special
	disabled bool
}

// Use is a place where a macro is used.
type Use struct {
	Path       string
	Start, End int
}

// Process runs the preprocessor over a parsed file and everything it includes.
func Process(in *Input) *Unit {
	r := &run{in: in, macros: make(map[string]*Macro, 16+len(in.Defines)), work: maxWork}
	r.builtins()
	for _, d := range in.Defines {
		r.setting(d)
	}
	prelude, missing := r.prelude()
	u := r.file(in.Path, in.File, 0)
	u.Prelude, u.Missing = prelude, u.Missing || missing
	r.finish()
	u.macros = r.all
	return u
}

// prelude reads the files in front of the first one.
func (r *run) prelude() (out []*Include, missing bool) {
	for _, name := range r.in.Prelude {
		inc := &Include{Name: name}
		if r.in.Load != nil {
			var raw *syntax.File
			if inc.Path, raw, inc.Found = r.in.Load(r.in.Path, name, false); inc.Found && !r.stopped {
				inc.Unit = r.file(inc.Path, raw, 1)
				missing = missing || inc.Unit.Missing
			}
		}
		missing = missing || !inc.Found
		out = append(out, inc)
	}
	return out, missing
}

// Macros lists all macros that the run has seen defined, in this order; only
// the unit that Process returned has them.
func (u *Unit) Macros() []*Macro { return u.macros }

// run is the state of one Process.
type run struct {
	in     *Input
	macros map[string]*Macro
	filter [1 << 12]bool // by hash: whether a macro may have the name
	all    []*Macro
	units  []*Unit
	once   map[string]bool   // files that are read once
	guards map[string]string // the macro that guards the whole of a file

	lines, work int
	pushed      map[string][]*Macro // by #pragma push_macro
	poison      bool                // some name is poisoned
	workTold    bool
	counter     int
	stopped     bool
	exps        []*expander // one for every level of nesting
	level       int
	segs        []seg // memory for the segs of lines
	perm        arena // tokens of macros
}

// expander gives a fresh expander; free gives it back.
func (r *run) expander(f *file) *expander {
	if r.level == len(r.exps) {
		r.exps = append(r.exps, &expander{r: r})
	}
	e := r.exps[r.level]
	r.level++
	e.reset(f)
	return e
}

func (r *run) free(e *expander) { r.level-- }

func (r *run) define(m *Macro) {
	r.macros[m.Name] = m
	r.filter[hash(m.Name)] = true
	r.all = append(r.all, m)
}

func hash(s string) uint {
	return (uint(s[0])*33 + uint(s[len(s)>>1])*131 + uint(s[len(s)-1])*17 + uint(len(s))*257) & (1<<12 - 1)
}

func (r *run) lookup(name string) *Macro {
	if !r.filter[hash(name)] {
		return nil
	}
	return r.macros[name]
}

// use notes that token t uses macro m.
func (r *run) use(m *Macro, t *tok) {
	if t.unit == nil || t.quiet || t.used == m {
		return
	}
	t.used = m
	t.unit.marks = append(t.unit.marks, mark{t.off, t.end, m})
}
