package assemble

import (
	"strings"
	"sync"

	"narrowgauge/analysis/preprocess"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
)

// maxStored bounds the text that an Expansions keeps, in bytes.
const maxStored = 32 << 20

// Expansions keeps the parsed text of macro calls from one analysis to the
// next: parsed text never changes, so that analyses share it. The zero value
// is ready for use, by several goroutines at once. It changes no result.
type Expansions struct {
	mu    sync.Mutex
	byDef map[string]*template
	reps  map[repetitionAt]*repetition
	size  int
	lines preprocess.Cache
	// last has what the last analysis of a root came to: the next one needs as
	// much room.
	last map[string]sizes
	// consts has what files of constants came to, by path; see constants.go.
	consts map[string]*program.Constants
}

// sizes is how many items and symbols a program has.
type sizes struct{ items, symbols int }

func (e *Expansions) likely(path string) sizes {
	e.mu.Lock()
	defer e.mu.Unlock()
	s := e.last[path]
	return sizes{s.items + s.items/32, s.symbols} // some more are typed
}

func (e *Expansions) told(path string, s sizes) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.last == nil || len(e.last) >= 1000 {
		e.last = map[string]sizes{}
	}
	e.last[path] = s
}

// constants is what a file came to before, nil where it was not looked at.
func (e *Expansions) constants(path string, f *syntax.File) *program.Constants {
	e.mu.Lock()
	defer e.mu.Unlock()
	if c := e.consts[path]; c != nil && c.File == f {
		return c
	}
	return nil
}

func (e *Expansions) keepConstants(path string, c *program.Constants) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if old := e.consts[path]; old != nil {
		e.size -= old.Bytes()
	}
	e.room(c.Bytes())
	if e.consts == nil {
		e.consts = map[string]*program.Constants{}
	}
	e.consts[path] = c
}

// repetitionAt is where .irp or one like it is: in a text that is kept.
type repetitionAt struct {
	file      *syntax.File
	line, col int32
}

// repetition is what it comes to.
type repetition struct {
	file           *syntax.File
	name           string
	lines          int32 // of the body
	toLine, toStmt int   // where the text goes on
}

func (e *Expansions) repetition(at repetitionAt) *repetition {
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.reps[at]
}

func (e *Expansions) keepRepetition(at repetitionAt, r *repetition) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.room(len(r.file.Text()))
	if e.reps == nil {
		e.reps = map[repetitionAt]*repetition{}
	}
	e.reps[at] = r
}

// template is a body of a macro with what calls of it came to.
type template struct {
	*syntax.Template
	calls map[callKey]called
}

// callKey is all that the expansion of a template depends on.
type callKey struct {
	args   string
	alt    bool
	chars  bool   // .irpc
	number uint32 // of the call, where the body asks for it
	local  int    // names made by LOCAL before
}

type called struct {
	file   *syntax.File
	locals int // names that LOCAL makes
}

// template finds or makes the template of a body.
func (e *Expansions) template(params []syntax.Param, lines []string) *template {
	var b strings.Builder
	for i := range params {
		p := &params[i]
		b.WriteString(p.Name + "\x00" + p.Default + "\x00")
		if p.Need {
			b.WriteString("!")
		}
		if p.Rest {
			b.WriteString("*")
		}
	}
	b.WriteString("\n")
	for _, l := range lines {
		b.WriteString(l)
		b.WriteByte('\n')
	}
	key := b.String()
	e.mu.Lock()
	defer e.mu.Unlock()
	t := e.byDef[key]
	if t == nil {
		t = &template{Template: syntax.NewTemplate(params, lines), calls: map[callKey]called{}}
		e.room(len(key))
		if e.byDef == nil {
			e.byDef = map[string]*template{}
		}
		e.byDef[key] = t
	}
	return t
}

// get finds what a call came to before; nil when it is new.
func (e *Expansions) get(t *template, k callKey) (f *syntax.File, locals int) {
	e.mu.Lock()
	c := t.calls[k]
	e.mu.Unlock()
	return c.file, c.locals
}

// put keeps what a call came to.
func (e *Expansions) put(t *template, k callKey, f *syntax.File, locals int) {
	k.args = strings.Clone(k.args) // not the whole text with it
	e.mu.Lock()
	e.room(len(f.Text()) + len(k.args))
	t.calls[k] = called{f, locals}
	e.mu.Unlock()
}

// room makes room by forgetting everything.
func (e *Expansions) room(n int) {
	if e.size += n; e.size <= maxStored {
		return
	}
	for _, t := range e.byDef {
		clear(t.calls)
	}
	clear(e.byDef)
	clear(e.reps)
	clear(e.consts)
	e.size = n
}
