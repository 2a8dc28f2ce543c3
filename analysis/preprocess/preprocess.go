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
	deepWork    = 8         // of a macro inside of many others, beside its tokens
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
	// after from in the order of search. Without it, Load does.
	Next func(from, name string) (path string, file *syntax.File, ok bool)
	// Cache keeps lines parsed anew from one run to the next; nil keeps none.
	Cache *Cache
	// Remember says that the next run has the same Cache: included files are
	// kept in it as they came out, and need not be read again as long as
	// nothing changes that they depend on.
	Remember bool
	// Stop is asked now and then, if it is not nil; true ends the run early.
	Stop func() bool
}

// Span is a range of bytes in a raw file.
type Span struct{ Start, End int }

// Unit is one file after the preprocessor. It has as many lines as the raw
// file, and line i of it means line i there. It is not changed any more
// once Process has returned.
type Unit struct {
	Path string
	Raw  *syntax.File
	// File has the processed lines: those that nothing changed are the lines
	// of Raw, directives and inactive lines are empty. What several raw lines
	// make together is in the first of them; the others are empty. Without
	// any change it is Raw itself.
	File *syntax.File
	// Includes has every active #include, by its line.
	Includes map[int]*Include
	// Prelude has the files in front of the first line, in order; of the root
	// only.
	Prelude []*Include
	// Inactive are the whole lines that conditions leave out.
	Inactive []Span
	// Problems are those of this file, without those of files it includes.
	Problems []Problem
	// Missing says that this file, or one that it includes, includes a file
	// that was not found, or that a limit kept from being read: names may be
	// defined that nobody saw.
	Missing bool
	// Whole says that nothing but Joined has made it.
	Whole bool
	// Stopped says that Stop ended the run early: the unit is not complete.
	Stopped bool
	// Work is how many tokens, and bytes of them, macros took: of the root only.
	Work int

	changed []lineMap   // sorted by line
	joined  map[int]int // a line whose text is in an earlier line: that line
	marks   []mark      // sorted by Start; without those in macros' texts
	origin  *origin
	facts   *facts // of the run
	// now has the macros of this run that mean those of the run in which
	// the file was read.
	now renamed
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
	BadCondition                   // the expression after #if
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
	// Undefined is the name that would have to be a macro, if that is all that is wrong.
	Undefined string
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
	// Text is what is for the macro, with one blank for any.
	Text string
	// Path, Start and End say where the name is in the definition. A
	// macro that is built in, or comes from the settings, has no place.
	Path                  string
	Start, End            int
	Builtin, FromSettings bool

	// A macro does not change once it is defined: several runs may have it.
	origin  *origin // the file; nil without
	body    []*token
	special special
}

// origin is the file that tokens come from. It leads to nothing once the file is
// read: macros outlive their run.
type origin struct{ unit *Unit }

// Process runs the preprocessor over a parsed file and everything it includes.
func Process(in *Input) *Unit {
	r := &run{in: in, work: maxWork, parts: []part{{}}}
	r.start()
	prelude, missing := r.prelude()
	u := r.file(in.Path, in.File, 0)
	u.Prelude, u.Missing, u.Work = prelude, u.Missing || missing, maxWork-r.work
	f := &facts{units: r.units, parts: closed(r.parts), table: r.table.root}
	for _, u := range r.units {
		u.facts = f
	}
	return u
}

// prelude reads the files in front of the first one.
func (r *run) prelude() (out []*Include, missing bool) {
	for _, name := range r.in.Prelude {
		inc := &Include{Name: name}
		if r.in.Load != nil {
			var raw *syntax.File
			if inc.Path, raw, inc.Found = r.load(r.in.Path, name, false, false); inc.Found && !r.stopped {
				inc.Unit = r.included(inc.Path, raw, 1)
				missing = missing || inc.Unit.Missing
			}
		}
		missing = missing || !inc.Found
		out = append(out, inc)
	}
	return out, missing
}

// run is the state of one Process.
type run struct {
	in     *Input
	table  table
	filter filter
	parts  []part // what it has made, in order
	units  []*Unit
	// noMore: there was a bound that files including each other have met; no file is included
	// any more.
	noMore bool
	files  map[string]fileState // by path

	lines, work int
	since       int      // tokens since somebody was asked whether to stop
	weight      int      // bytes that units and macros take, about
	disabled    macroSet // those whose text is being read
	chains      chains
	pushed      map[string][]*Macro // by #pragma push_macro
	poison      bool                // some name is poisoned
	workTold    bool
	counter     int
	stopped     bool
	exps        []*expander // one for every level of nesting
	level       int
	segs        []seg // memory for the segs of lines
	perm        arena // tokens of macros

	frame   *frame           // of the innermost file that is to be remembered
	taken   map[*origin]bool // files of records that were used
	turn    map[place]int
	calling int // how many calls are open whose arguments go on in lines below
}

// fileState is what is known of a file that was included.
type fileState struct {
	once  bool   // it is read once
	guard string // the macro that guards the whole of it
}

// filter says by hash whether a macro may have a name.
type filter [1 << 12]bool

// expander gives a fresh expander; free gives it back.
func (r *run) expander(f *file) *expander {
	if r.level == len(r.exps) {
		r.exps = append(r.exps, &expander{run: r})
	}
	e := r.exps[r.level]
	r.level++
	e.reset(f)
	return e
}

func (r *run) free(e *expander) { r.level-- }

func (r *run) define(m *Macro) {
	r.table.set(m)
	r.filter[hash(m.Name)] = true
	p := &r.parts[len(r.parts)-1]
	p.macros = append(p.macros, m)
	r.weight += 300 + len(m.Text) + 80*len(m.body)
}

func hash(s string) uint {
	return (uint(s[0])*33 + uint(s[len(s)>>1])*131 + uint(s[len(s)-1])*17 + uint(len(s))*257) & (1<<12 - 1)
}

func (r *run) lookup(name string) *Macro {
	if r.frame != nil {
		r.frame.reads.add(name)
	}
	return r.peek(name)
}

// peek is lookup where the answer is nothing that the file depends on.
func (r *run) peek(name string) *Macro {
	if !r.filter[hash(name)] {
		return nil
	}
	return r.table.root.get(name)
}

// lookEvery is how many tokens there are between two questions whether to stop; a line
// counts as some.
const (
	lookEvery = 16 << 10
	aLine     = 16
)

// look counts work, and asks now and then whether to stop.
func (r *run) look(n int) {
	if r.since += n; r.since >= lookEvery {
		r.since = 0
		r.stopped = r.stopped || r.in.Stop != nil && r.in.Stop()
	}
}

// use notes that token t uses macro m.
func (r *run) use(m *Macro, t *token) {
	switch {
	case t.unit == nil || t.quiet || t.used == m && t.owner == nil:
	case t.owner != nil:
		r.parts[len(r.parts)-1].add(inText{t.owner, t.off, t.end, m})
	default:
		t.used = m
		u := t.unit.unit
		u.marks = append(u.marks, mark{t.off, t.end, m})
	}
}
