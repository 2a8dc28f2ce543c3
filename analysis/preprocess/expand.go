package preprocess

import (
	"strconv"
	"strings"
)

// The expander replaces macros as the standard describes it (6.10.3): a stack
// of texts that are being read, the file's line at its bottom. A macro whose
// text is on the stack is not expanded again, and its name in there never more.

// context is a text that is being read.
type context struct {
	toks []*token
	i    int
	m    *Macro // to be enabled again when the text is done
	at   *token // the token of the file that it comes from, for __LINE__
	own  bool   // tokens of the file in it come from themselves
}

type expander struct {
	run  *run
	file *file

	// The tokens of the line, and where the next one is.
	base []*token
	bi   int
	// The line after them, and whether a comment is open there. fixed: there
	// is nothing after them.
	next  int
	open  bool
	fixed bool
	bare  bool // what is in front of the first token is left out

	ctx       []context
	args      int  // 1: looking for '(', 2: reading arguments
	prevent   int  // no expansion while > 0
	directive bool // in a directive: blanks do not matter
	nesting   int  // of arguments that are being expanded
	work      int  // what is left for this line
	dead      bool // nothing is left
	// cut: a file that is included among the arguments ends them.
	cut bool
	// split: compilers begin a line of their own where a #pragma is among
	// the arguments.
	split bool

	// The name of the macro that the line uses at the moment, and whether it
	// has just begun.
	useName *token
	useOf   *Macro
	began   bool

	arena arena
	// Memory that is used again for every line.
	buf   []byte
	toks  []*token // for base
	slab  []*token // lists that last as long as the line
	stack []*token // lists that are being made
	out   []*token // the text that replace is making
	segs  []seg
}

func (e *expander) reset(f *file) {
	e.arena.reset()
	*e = expander{run: e.run, file: f, arena: e.arena, buf: e.buf[:0], toks: e.toks[:0], ctx: e.ctx[:0], slab: e.slab[:0], stack: e.stack[:0], out: e.out[:0], segs: e.segs[:0], work: maxLineWork}
}

var (
	eof       = &token{kind: kEOF}
	noPaste   = &token{kind: kPad}
	emptyText = []*token{}
)

func (e *expander) pad(src *token) *token {
	t := e.arena.new()
	t.kind, t.src = kPad, src
	return t
}

// list copies tokens into a list that lasts as long as the line.
func (e *expander) list(toks ...*token) []*token {
	if cap(e.slab)-len(e.slab) < len(toks) {
		e.slab = make([]*token, 0, max(1024, len(toks)))
	}
	n := len(e.slab)
	e.slab = append(e.slab, toks...)
	return e.slab[n:len(e.slab):len(e.slab)]
}

// spend takes n from what the line may cost.
func (e *expander) spend(n int) bool {
	e.work -= n
	e.run.work -= n
	if e.run.look(n); e.run.stopped {
		e.dead = true
	}
	if e.work < 0 || e.run.work < 0 {
		e.dead = true
	}
	return !e.dead
}

// get is the next token of the expanded text. At the end it is kEOF, again and
// again.
func (e *expander) get() *token {
	for {
		if !e.spend(1) {
			return eof
		}
		var t *token
		atBase := len(e.ctx) == 0
		if atBase {
			if t = e.lex(); t == eof {
				return t
			}
		} else {
			c := &e.ctx[len(e.ctx)-1]
			if c.i == len(c.toks) {
				e.pop()
				if e.directive {
					continue
				}
				return noPaste
			}
			t = c.toks[c.i]
			c.i++
			if t.paste {
				e.pasteAll(t)
				if e.directive {
					continue
				}
				return e.pad(t)
			}
		}
		if t.kind != kName || t.blue {
			return t
		}
		m := e.run.lookup(t.text)
		if m == nil {
			return t
		}
		if e.run.disabled.has(m) {
			c := e.arena.new()
			*c = *t
			c.blue = true
			return c
		}
		if e.prevent > 0 || !e.enter(m, t, atBase) {
			return t
		}
		if e.directive {
			continue
		}
		return e.pad(t)
	}
}

// macroSet is a set that has few members, most of the time.
type macroSet struct {
	few  []*Macro
	many map[*Macro]bool
}

func (s *macroSet) empty() bool { return len(s.few) == 0 && len(s.many) == 0 }

func (s *macroSet) has(m *Macro) bool {
	for _, x := range s.few {
		if x == m {
			return true
		}
	}
	return len(s.many) > 0 && s.many[m]
}

func (s *macroSet) add(m *Macro) {
	switch {
	case s.has(m):
	case len(s.few) < 16:
		s.few = append(s.few, m)
	default:
		if s.many == nil {
			s.many = map[*Macro]bool{}
		}
		s.many[m] = true
	}
}

func (s *macroSet) remove(m *Macro) {
	for k := len(s.few) - 1; k >= 0; k-- {
		if s.few[k] == m {
			s.few = append(s.few[:k], s.few[k+1:]...)
			return
		}
	}
	delete(s.many, m)
}

func (e *expander) push(toks []*token, m *Macro, at *token) {
	e.ctx = append(e.ctx, context{toks: toks, m: m, at: at})
}

// at is the token of the file that the text being read comes from; t itself,
// if it is one.
func (e *expander) at(t *token) *token {
	if n := len(e.ctx); n > 0 && !(e.ctx[n-1].own && t.unit == e.file.unit.origin && t.owner == nil) {
		return e.ctx[n-1].at
	}
	return t
}

func (e *expander) pop() {
	n := len(e.ctx) - 1
	if m := e.ctx[n].m; m != nil {
		e.run.disabled.remove(m)
	}
	e.ctx = e.ctx[:n]
}

// clear ends all texts.
func (e *expander) clear() {
	for len(e.ctx) > 0 {
		e.pop()
	}
}

// backup makes the last token the next one again.
func (e *expander) backup() {
	if n := len(e.ctx); n > 0 {
		e.ctx[n-1].i--
	} else {
		e.bi--
	}
}

// lex is the next token of the file: of the line, or of the lines after it
// while a macro's arguments are being looked for.
func (e *expander) lex() *token {
	for e.bi == len(e.base) {
		if e.fixed || e.cut || e.args == 0 || e.args == 1 && !e.file.opensCall(e.next, e.open) || !e.more() {
			return eof
		}
	}
	t := e.base[e.bi]
	e.bi++
	if t.bol && e.args == 2 {
		t.white = true
	}
	return t
}

// more adds the next logical line to the tokens.
func (e *expander) more() bool {
	f := e.file
	if e.next >= f.n {
		return false
	}
	n := len(e.base)
	first := e.next
	e.base, e.next, e.open = f.tokens(&e.arena, e.base, first, e.open)
	if f.tooLong {
		f.tooLong = false
		e.dead = true
	}
	line := e.base[n:]
	f.poisoned(line)
	f.run.calling++
	done := len(line) > 0 && line[0].text == "#" && e.args == 2 && f.directive(line, first, e.next)
	f.run.calling--
	if done || f.skipping {
		if f.skipping {
			f.inactive(first, e.next)
		} else if len(line) > 1 && line[1].text == "pragma" {
			e.split = true
		}
		e.base = e.base[:n]
		if inc := f.unit.Includes[first]; inc != nil && inc.Unit != nil && !(&file{raw: inc.Unit.Raw, n: inc.Unit.Raw.NumLines(), ahead: maxLines}).closes(0, false, 0) {
			e.cut = true
			return false
		}
	}
	return true
}

// enter begins the text of macro m, named by t. It is false when m is not
// used here.
func (e *expander) enter(m *Macro, t *token, atBase bool) bool {
	if m.special == isHas {
		if !e.directive {
			e.callProblem(t, t.text+" belongs in the expression of an #if")
		}
		return false
	}
	if m.special == isPoison || m.special == isPragma && e.directive {
		return false
	}
	if len(e.run.disabled.many) > 0 && !e.spend(deepWork) {
		return false
	}
	at := e.at(t)
	text := m.body
	atBase = atBase && e.nesting == 0
	if atBase && !m.FuncLike {
		e.useName, e.useOf, e.began = t, m, true
	}
	if m.special == isPragma {
		toks := e.pragmaText(t, at)
		if atBase {
			e.useName, e.useOf, e.began = t, m, true
		}
		if toks == nil {
			// What was read in its search is lost; the name stays.
			c := e.arena.new()
			*c = *t
			c.blue = true
			e.push(e.list(c), nil, at)
			return true
		}
		e.run.use(m, t)
		e.file.pragma(at, toks)
		p := e.pad(t)
		p.split = true
		e.push(e.list(p), nil, at)
		return true
	}
	switch {
	case m.special != ordinary:
		text = e.builtin(m, at)
	case isLink(m):
		if end, closed := e.chainEnd(m); closed {
			text = end
		}
		if e.dead {
			return false
		}
	}
	if m.FuncLike {
		e.prevent++
		e.args = 1
		args, ok, pad := e.callOf(m, t)
		e.args = 0
		e.prevent--
		if !ok {
			if pad != nil {
				e.push(e.list(pad), nil, at)
			}
			return false
		}
		if atBase {
			e.useName, e.useOf, e.began = t, m, true
		}
		switch {
		case args == nil:
			// The call is wrong, and is taken out of the line.
			text = emptyText
		case len(m.Params) > 0:
			text = e.replace(&call{m, args, at, at == t})
		}
	}
	e.run.use(m, t)
	if x := e.run.lookup(m.Name); x != nil {
		m = x // defined anew between the arguments
	}
	e.run.disabled.add(m)
	e.push(text, m, at)
	return true
}

// arg is an argument of a call.
type arg struct {
	toks     []*token // as written
	given    bool     // at all
	expanded []*token
	done     bool // expanded is valid
	str      *token
}

// call is a macro with its arguments.
type call struct {
	m    *Macro
	args []arg
	at   *token // the token of the file that it comes from
	own  bool   // it is the macro's name
}

// callOf looks for '(' and reads the arguments of macro m. ok is false when m is
// not called here; pad is then a blank that must not get lost. args is nil
// when the arguments are wrong.
func (e *expander) callOf(m *Macro, name *token) (args []arg, ok bool, pad *token) {
	var t *token
	for {
		if t = e.get(); t.kind != kPad {
			break
		}
		if pad == nil || pad.src == nil || !pad.src.white && t.src == nil {
			pad = t
		}
	}
	if t.text != "(" || t.kind != kPunct {
		if t != eof {
			e.backup()
		} else if len(e.ctx) > 0 && !e.dead {
			e.backup()
		}
		return nil, false, pad
	}
	e.args = 2
	return e.arguments(m, name), true, nil
}

func (e *expander) arguments(m *Macro, name *token) []arg {
	args := make([]arg, 1, len(m.Params)+1)
	depth := 0
	ahead := false // whether the rest of the file was looked at
	base := len(e.stack)
	defer func() { e.stack = e.stack[:base] }()
	done := func(a *arg) {
		toks := trimPads(e.stack[base:])
		if len(toks) > 0 {
			a.toks = e.list(toks...)
		}
		a.given = true
		e.stack = e.stack[:base]
	}
	for {
		if len(e.ctx) == 0 && e.bi == len(e.base) && !e.fixed && !ahead {
			ahead = true
			if !e.file.closes(e.next, e.open, depth) {
				e.callProblem(name, "the arguments of macro "+m.Name+" have no closing bracket")
				return nil
			}
		}
		t := e.get()
		if t == eof {
			if len(e.ctx) > 0 && !e.dead {
				e.backup()
			}
			if !e.dead {
				e.callProblem(name, "the arguments of macro "+m.Name+" have no closing bracket")
			}
			return nil
		}
		last := &args[len(args)-1]
		switch {
		case t.bol && t.text == "#":
			// No directive. Compilers let it begin another argument.
			done(last)
			depth = 0
			args = append(args, arg{})
			continue
		case t.kind == kPad:
			if len(e.stack) == base {
				continue
			}
		case t.kind != kPunct:
		case t.text == "(":
			depth++
		case t.text == ")":
			if depth == 0 {
				done(last)
				return e.checked(m, name, args)
			}
			depth--
		case t.text == ",":
			if depth == 0 && !(m.Variadic && len(args) == len(m.Params)) {
				done(last)
				args = append(args, arg{})
				continue
			}
		}
		e.stack = append(e.stack, t)
	}
}

func trimPads(toks []*token) []*token {
	for len(toks) > 0 && toks[len(toks)-1].kind == kPad {
		toks = toks[:len(toks)-1]
	}
	return toks
}

func (e *expander) callProblem(name *token, msg string) {
	switch {
	case name.unit == e.file.unit.origin:
		e.file.problem(name.off, name.end, BadCall, msg)
	case e.useName != nil:
		e.file.problem(e.useName.off, e.useName.end, BadCall, msg)
	case len(e.base) > 0:
		e.file.problem(e.base[0].off, e.base[len(e.base)-1].end, BadCall, msg)
	}
}

// checked says whether the number of arguments is right, and fills up those
// that may be left out.
func (e *expander) checked(m *Macro, name *token, args []arg) []arg {
	want, got := len(m.Params), len(args)
	if want == 0 && got == 1 && len(args[0].toks) == 0 {
		return args
	}
	switch {
	case got == want:
	case got+1 == want && m.Variadic:
		args = append(args, arg{})
	default:
		msg := "macro " + m.Name + " takes "
		if m.Variadic {
			msg += "at least " + count(want-1)
		} else {
			msg += count(want)
		}
		e.callProblem(name, msg+", not "+strconv.Itoa(got))
		return nil
	}
	if last := &args[want-1]; m.Variadic && (got < want || want == 1 && len(last.toks) == 0) {
		last.given = false
	}
	return args
}

func count(n int) string {
	switch n {
	case 0:
		return "no arguments"
	case 1:
		return "1 argument"
	}
	return strconv.Itoa(n) + " arguments"
}

// expand is the argument with its macros replaced. The call comes from the token
// at of the file; own says that it is there itself.
func (e *expander) expand(a *arg, at *token, own bool) []*token {
	if a.done {
		return a.expanded
	}
	a.done = true
	if len(a.toks) == 0 {
		return nil
	}
	if e.nesting >= maxNesting {
		e.dead = true
		return nil
	}
	e.nesting++
	depth, base := len(e.ctx), len(e.stack)
	e.stack = append(append(e.stack, a.toks...), eof)
	toks := e.list(e.stack[base:]...)
	e.stack = e.stack[:base]
	e.push(toks, nil, at)
	e.ctx[depth].own = own
	for {
		t := e.get()
		if t.kind == kEOF {
			break
		}
		e.stack = append(e.stack, t)
	}
	a.expanded = e.list(e.stack[base:]...)
	e.stack = e.stack[:base]
	for len(e.ctx) > depth {
		e.pop()
	}
	e.nesting--
	return a.expanded
}

// replace puts the arguments into the macro's text.
func (e *expander) replace(c *call) []*token {
	// The arguments are expanded first: this replaces other macros.
	for i, t := range c.m.body {
		switch {
		case t.kind == kParam && !t.str && !t.paste && !(i > 0 && c.m.body[i-1].paste):
			e.expand(&c.args[t.arg], c.at, c.own)
		case t.kind == kName && c.m.Variadic && t.text == vaOpt:
			e.expand(&c.args[len(c.args)-1], c.at, c.own)
		}
	}
	e.out = e.fill(e.out[:0], c, c.m.body)
	if e.dead {
		return emptyText
	}
	return e.list(e.out...)
}

// setPaste changes the last token of toks to a copy that is pasted, or is not.
func (e *expander) setPaste(toks []*token, paste bool) {
	c := e.arena.new()
	*c = *toks[len(toks)-1]
	c.paste = paste
	toks[len(toks)-1] = c
}

func (e *expander) fill(out []*token, c *call, body []*token) []*token {
	m := c.m
	var str [1]*token
	for i := 0; i < len(body) && !e.dead; i++ {
		src := body[i]
		after := i > 0 && body[i-1].paste // ## is in front
		if src.kind != kParam {
			if m.Variadic && src.kind == kName && src.text == vaOpt {
				if end := optEnd(body, i); end > 0 {
					out = e.optional(out, c, body, i, end, after)
					i = end
					continue
				}
			}
			out = append(out, src)
			continue
		}
		a := &c.args[src.arg]
		var toks []*token
		// change: the last token of out is to be pasted (1) or not (-1).
		change := 0
		switch {
		case src.str:
			if a.str == nil {
				a.str = e.stringify(a.toks)
			}
			str[0] = a.str
			toks = str[:]
		case src.paste && !after:
			toks = a.toks
		case after:
			toks = a.toks
			if n := len(out); n > 0 && out[n-1].paste {
				if out[n-1].text == "," && out[n-1].kind == kPunct && m.Variadic && int(src.arg) == len(m.Params)-1 {
					// The comma goes with the arguments that are not there.
					if !a.given {
						out = out[:n-1]
					} else {
						e.setPaste(out, false)
					}
				} else if len(toks) == 0 {
					change = -1
				}
			}
		default:
			toks = a.expanded
		}
		if i > 0 && !after {
			out = append(out, e.pad(src))
		}
		if len(toks) > 0 {
			if !e.spend(len(toks)) {
				return nil
			}
			out = append(out, toks...)
			if src.paste {
				change = 1
			}
		} else if after && src.paste {
			// Both sides are pasted through the empty argument.
			change = 0
		}
		if !src.paste {
			out = append(out, noPaste)
		}
		switch change {
		case 1:
			e.setPaste(out, true)
		case -1:
			if k := len(out) - 1; out[k] == noPaste {
				e.setPaste(out[:k], false)
			} else {
				e.setPaste(out, false)
			}
		}
	}
	return out
}

const vaOpt = "__VA_OPT__"

// optEnd is the index of the bracket that closes __VA_OPT__( at i, 0 without.
func optEnd(body []*token, i int) int {
	if i+1 >= len(body) || body[i+1].text != "(" {
		return 0
	}
	depth := 0
	for k := i + 1; k < len(body); k++ {
		if body[k].kind != kPunct {
			continue
		}
		switch body[k].text {
		case "(":
			depth++
		case ")":
			if depth--; depth == 0 {
				return k
			}
		}
	}
	return 0
}

// optional puts the text of __VA_OPT__( … ) in, if there are variable
// arguments.
func (e *expander) optional(out []*token, c *call, body []*token, i, end int, after bool) []*token {
	any := false
	for _, t := range c.args[len(c.args)-1].expanded {
		if t.kind != kPad {
			any = true
			break
		}
	}
	if !after && i > 0 {
		out = append(out, e.pad(body[i]))
	}
	n := len(out)
	if any {
		out = e.fill(out, c, body[i+2:end])
	}
	if body[i].str { // #__VA_OPT__( … )
		out = append(out[:n], e.stringify(out[n:]))
	}
	switch {
	case !body[end].paste:
		if len(out) == n && after && n > 0 && out[n-1].paste {
			e.setPaste(out, false)
		}
		out = append(out, noPaste)
	case len(out) > n:
		e.setPaste(out, true)
	}
	return out
}

// stringify makes the string of an argument (6.10.3.2).
func (e *expander) stringify(toks []*token) *token {
	b := []byte{'"'}
	var src *token
	slashes := 0
	for _, t := range toks {
		if t.kind == kPad {
			if src == nil || !src.white && t.src == nil {
				src = t.src
			}
			continue
		}
		if len(b) > 1 {
			if src == nil {
				src = t
			}
			if src.white {
				b = append(b, ' ')
			}
		}
		src = nil
		if !e.spend(len(t.text)) {
			break
		}
		if t.kind == kStr || t.kind == kChar {
			for k := 0; k < len(t.text); k++ {
				if c := t.text[k]; c == '"' || c == '\\' {
					b = append(b, '\\')
				}
				b = append(b, t.text[k])
			}
		} else {
			b = append(b, t.text...)
		}
		if t.kind == kOther && t.text == `\` {
			slashes++
		} else {
			slashes = 0
		}
	}
	if slashes&1 != 0 {
		b = b[:len(b)-1]
	}
	t := e.arena.new()
	t.kind, t.text = kStr, string(append(b, '"'))
	return t
}

// pasteAll pastes t and what follows it, as far as ## goes.
func (e *expander) pasteAll(t *token) {
	c := &e.ctx[len(e.ctx)-1]
	lhs := e.arena.new()
	*lhs = *t
	lhs.paste, lhs.unit = false, nil
	for c.i < len(c.toks) {
		rhs := c.toks[c.i]
		c.i++
		if rhs.kind == kPad {
			if rhs.paste {
				continue
			}
			break
		}
		if !e.pasteTo(lhs, rhs) {
			// Two tokens stay two, in assembly without a word.
			c.i--
			break
		}
		if !rhs.paste {
			break
		}
	}
	e.push(e.list(lhs), nil, c.at)
}

func (e *expander) pasteTo(lhs, rhs *token) bool {
	if lhs.kind == kPad {
		white := lhs.white
		*lhs = *rhs
		lhs.paste, lhs.white, lhs.unit = false, white, nil
		return true
	}
	if lhs.text == "/" && rhs.text != "=" {
		return false // no comment
	}
	if !e.spend(len(lhs.text) + len(rhs.text)) {
		return false
	}
	s := lhs.text + rhs.text
	k, end := lexToken(s, 0, false)
	if end != len(s) {
		return false
	}
	lhs.kind, lhs.text, lhs.blue = k, s, false
	return true
}

// special macros have no fixed text.
type special uint8

const (
	ordinary special = iota
	isLine
	isFile
	isBase
	isCounter
	isLevel
	isHas    // __has_include: an operator, not to be expanded
	isPragma // _Pragma
	isPoison // a name that is not to be used any more
)

func (r *run) builtins() {
	for _, b := range [...]struct {
		name string
		s    special
		text string
	}{
		{"__LINE__", isLine, ""}, {"__FILE__", isFile, ""}, {"__BASE_FILE__", isBase, ""},
		{"__COUNTER__", isCounter, ""}, {"__INCLUDE_LEVEL__", isLevel, ""},
		{"__has_include", isHas, ""}, {"__has_include_next", isHas, ""}, {"_Pragma", isPragma, ""},
		// Fixed, so that the same source always has the same meaning.
		{"__DATE__", ordinary, `"Jan  1 1970"`}, {"__TIME__", ordinary, `"00:00:00"`},
		{"__TIMESTAMP__", ordinary, `"Thu Jan  1 00:00:00 1970"`},
		{"__ASSEMBLER__", ordinary, "1"}, {"__STDC__", ordinary, "1"},
	} {
		m := &Macro{Name: b.name, Text: b.text, Builtin: true, special: b.s, FuncLike: b.s == isPragma}
		if b.s == ordinary {
			k, _ := lexToken(b.text, 0, false)
			t := r.perm.new()
			t.kind, t.text = k, b.text
			m.body = []*token{t}
		}
		r.define(m)
	}
}

// builtin is the text of a macro that has no fixed one, used at a token of the
// file.
func (e *expander) builtin(m *Macro, at *token) []*token {
	t := e.arena.new()
	t.kind = kNum
	f := e.file
	switch m.special {
	case isLine:
		line := 0
		if at != nil && at.unit == f.unit.origin {
			line = f.raw.LineAt(at.off)
		}
		t.text = strconv.Itoa(line + 1 + f.lineDelta)
	case isFile:
		t.kind, t.text = kStr, quote(f.name)
	case isBase:
		t.kind, t.text = kStr, quote(e.run.in.Path)
		if e.run.frame != nil {
			e.run.frame.base = true
		}
	case isCounter:
		if fr := e.run.frame; fr != nil && !fr.counts {
			fr.counts, fr.counter = true, e.run.counter
		}
		t.text = strconv.Itoa(e.run.counter)
		e.run.counter++
	case isLevel:
		t.text = strconv.Itoa(f.depth)
	}
	return e.list(t)
}

func quote(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(s) + `"`
}
