package preprocess

import (
	"strings"

	"narrowgauge/analysis/syntax"
)

// cond is an #if that is open.
type cond struct {
	word        string // as written, with '#'
	start, end  int
	sawElse     bool
	skipElses   bool // a group was taken, or none is to be
	wasSkipping bool
	guards      bool // the #ifndef that may be around the whole file
}

// directive carries out the directive in a logical line, which takes the lines
// [first,next). It is false when the line is none, or is skipped.
func (f *file) directive(toks []*token, first, next int) bool {
	if len(toks) == 1 {
		return !f.skipping // a '#' only
	}
	word := toks[1]
	if word.kind != kName {
		return false
	}
	rest := toks[2:]
	was := f.guard
	if !f.skipping || word.text != "define" {
		f.guard.directive(f, word.text, rest)
	}
	switch word.text {
	case "if", "ifdef", "ifndef":
		f.begin(word, rest, first, next)
		if k := len(f.conds) - 1; was.at == 0 && f.guard.at == 1 {
			f.conds[k].guards = true
		}
		return true
	case "elif", "elifdef", "elifndef", "else":
		f.branch(word, rest, first, next)
		return true
	case "endif":
		n := len(f.conds) - 1
		if n < 0 {
			f.problem(toks[0].off, word.end, BadStructure, "there is no #if for this #endif")
			return true
		}
		c := f.conds[n]
		f.conds = f.conds[:n]
		f.skipping = c.wasSkipping
		if c.guards && f.guard.at == 1 {
			f.guard.at = 2
		}
		if f.skipping {
			f.inactive(first, next)
		}
		return true
	}
	if f.skipping {
		return false
	}
	switch word.text {
	case "define":
		f.define(word, rest)
	case "undef":
		f.undef(word, rest)
	case "include", "include_next", "import":
		f.include(word, rest, first)
	case "error", "warning":
		f.raised(word, rest)
	case "line":
		f.line(word, rest, next)
	case "pragma":
		f.pragma(word, rest)
	case "ident", "sccs":
		if len(rest) != 1 || rest[0].kind != kStr {
			f.problem(toks[0].off, end(toks), BadDirective, "a string is expected after #"+word.text)
		}
	case "assert", "unassert":
		// An extension that nothing else here knows of.
	default:
		f.guard = was
		return false
	}
	return true
}

// isDirective says whether the text after a '#' names a directive.
func isDirective(s string) bool {
	s = s[blanks(s):]
	switch s[:nameEnd(s, 0)] {
	case "if", "ifdef", "ifndef", "elif", "elifdef", "elifndef", "else", "endif", "define", "undef", "include", "include_next", "import",
		"error", "warning", "line", "pragma", "ident", "sccs", "assert", "unassert":
		return true
	}
	return s == ""
}

func end(toks []*token) int { return toks[len(toks)-1].end }

// directive follows what directives say about a guard around the file.
func (g *guard) directive(f *file, word string, rest []*token) {
	switch g.at {
	case 0:
		g.at = 3
		if len(rest) == 0 {
			return
		}
		switch word {
		case "ifndef":
			if len(rest) == 1 && rest[0].kind == kName {
				g.at, g.name = 1, rest[0].text
			}
		case "if":
			if len(rest) > 2 && rest[0].text == "!" && rest[1].text == "defined" {
				if rest = rest[2:]; len(rest) == 3 && rest[0].text == "(" && rest[2].text == ")" {
					rest = rest[1:2]
				}
				if len(rest) == 1 && rest[0].kind == kName {
					g.at, g.name = 1, rest[0].text
				}
			}
		}
	case 1:
		if strings.HasPrefix(word, "el") && len(f.conds) == 1 {
			g.at = 3
		}
	case 2:
		g.at = 3
	}
}

// begin opens an #if.
func (f *file) begin(word *token, rest []*token, first, next int) {
	c := cond{word: "#" + word.text, start: word.off, end: word.end, wasSkipping: f.skipping}
	skip := true
	if f.skipping {
		f.inactive(first, next)
	} else if word.text == "if" {
		skip = !f.condition(word, rest)
	} else if m, ok := f.asked(word, rest); ok {
		skip = (m == nil) == (word.text == "ifdef")
	}
	c.skipElses = f.skipping || !skip
	f.conds = append(f.conds, c)
	f.skipping = f.skipping || skip
}

// branch begins another group of an #if.
func (f *file) branch(word *token, rest []*token, first, next int) {
	n := len(f.conds) - 1
	if n < 0 {
		f.problem(word.off, word.end, BadStructure, "there is no #if for this #"+word.text)
		return
	}
	c := &f.conds[n]
	if c.wasSkipping {
		f.inactive(first, next)
	}
	if c.sawElse {
		f.problem(word.off, word.end, BadStructure, "#"+word.text+" cannot follow #else")
	}
	if word.text == "else" {
		c.sawElse = true
		f.skipping = c.skipElses
		c.skipElses = true
		return
	}
	if c.skipElses {
		f.skipping = true
		return
	}
	f.skipping = false // while the condition is read
	var is bool
	if word.text == "elif" {
		is = f.condition(word, rest)
	} else if m, ok := f.asked(word, rest); ok {
		is = (m != nil) == (word.text == "elifdef")
	}
	f.skipping = !is
	c.skipElses = is
}

// macroName reads the name after a directive.
func (f *file) macroName(word *token, rest []*token, k Kind) *token {
	switch {
	case len(rest) == 0:
		f.problem(word.off, word.end, k, "a macro's name is missing after #"+word.text)
	case rest[0].kind != kName:
		f.problem(rest[0].off, rest[0].end, k, "this cannot be a macro's name")
	default:
		return rest[0]
	}
	return nil
}

// asked is the macro that #ifdef and the like ask for.
func (f *file) asked(word *token, rest []*token) (*Macro, bool) {
	t := f.macroName(word, rest, BadStructure)
	if t == nil {
		return nil, false
	}
	m := f.run.lookup(t.text)
	if m != nil {
		f.run.use(m, t)
	}
	return m, true
}

func (f *file) undef(word *token, rest []*token) {
	t := f.macroName(word, rest, BadDefinition)
	if t == nil || f.reserved(t) {
		return
	}
	if m := f.run.lookup(t.text); m != nil {
		f.run.use(m, t)
		f.run.table.del(t.text)
	}
}

// reserved reports names that no macro can have.
func (f *file) reserved(t *token) bool {
	switch t.text {
	case "defined", "__has_include", "__has_include_next":
		f.problem(t.off, t.end, BadDefinition, "no macro can have the name "+t.text)
		return true
	}
	return false
}

func (f *file) define(word *token, rest []*token) {
	t := f.macroName(word, rest, BadDefinition)
	if t == nil || f.reserved(t) {
		return
	}
	m, bad, why := f.run.macro(rest)
	if bad != nil {
		f.problem(bad.off, bad.end, BadDefinition, why)
		return
	}
	m.Path, m.Start, m.End, m.origin = f.unit.Path, t.off, t.end, f.unit.origin
	// That the table is another one after this says that it was looked at.
	if old := f.run.peek(m.Name); old != nil && !old.same(m) {
		f.report(t.off, t.end, Redefined, "the macro "+m.Name+" already has another definition", true)
	}
	f.run.define(m)
	f.unit.marks = append(f.unit.marks, mark{t.off, t.end, m})
}

// same says whether two definitions may be beside each other (6.10.3).
func (m *Macro) same(o *Macro) bool {
	if m.FuncLike != o.FuncLike || m.Variadic != o.Variadic || m.Text != o.Text || len(m.Params) != len(o.Params) || m.special != o.special {
		return false
	}
	for k := range m.Params {
		if m.Params[k] != o.Params[k] {
			return false
		}
	}
	return true
}

// macro reads a definition: the name and everything after it. bad is the
// token that cannot be where it is.
func (r *run) macro(toks []*token) (m *Macro, bad *token, why string) {
	m = &Macro{Name: toks[0].text}
	body := toks[1:]
	if len(body) > 0 && body[0].text == "(" && !body[0].white {
		m.FuncLike = true
		if body, bad, why = m.parameters(body); bad != nil {
			return nil, bad, why
		}
	}
	m.body = make([]*token, 0, len(body))
	var b strings.Builder
	pasted := false // the last token was ##
	for k, t := range body {
		if t.white && k > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(t.text)
		c := r.perm.new()
		*c = *t
		c.bol, c.owner = false, m
		if k == 0 {
			c.white = false
		}
		if m.FuncLike && c.kind == kName {
			for i, p := range m.Params {
				if p == c.text {
					c.kind, c.arg = kParam, int32(i)
				}
			}
		}
		n := len(m.body)
		if (c.kind == kParam || m.Variadic && c.kind == kName && c.text == vaOpt) && n > 0 && m.body[n-1].text == "#" && m.body[n-1].kind == kPunct && m.FuncLike {
			c.str, c.white = true, m.body[n-1].white
			m.body[n-1] = c
			continue
		}
		if c.kind == kPunct && c.text == "##" {
			if n == 0 || k == len(body)-1 {
				return nil, t, "## needs something to paste on both sides"
			}
			if !pasted {
				m.body[n-1].paste = true
				pasted = true
				continue
			}
			// A second one in a row is text.
			pasted = true
			continue
		}
		pasted = false
		m.body = append(m.body, c)
	}
	m.Text = b.String()
	return m, nil, ""
}

// parameters reads a parameter list, which begins with the bracket.
func (m *Macro) parameters(toks []*token) (rest []*token, bad *token, why string) {
	const form = "this does not belong in a list of parameters"
	want := true // a parameter
	for k := 1; k < len(toks); k++ {
		t := toks[k]
		switch {
		case t.text == ")":
			if want && len(m.Params) > 0 {
				return nil, t, "a parameter is missing after the comma"
			}
			return toks[k+1:], nil, ""
		case t.text == "," && !want && !m.Variadic:
			want = true
		case t.kind == kName && want:
			for _, p := range m.Params {
				if p == t.text {
					return nil, t, "there are two parameters with the name " + p
				}
			}
			m.Params = append(m.Params, t.text)
			want = false
		case t.text == "..." && !m.Variadic:
			m.Variadic = true
			if want {
				m.Params = append(m.Params, "__VA_ARGS__")
			}
			want = false
		default:
			return nil, t, form
		}
		if m.Variadic && k+1 < len(toks) && toks[k+1].text != ")" {
			return nil, toks[k+1], form
		}
	}
	return nil, toks[0], "the list of parameters has no closing bracket"
}

// setting defines a macro as NAME, NAME=text or NAME(a,b)=text say. What
// cannot be read is passed over.
func (r *run) setting(d string) {
	name, text, ok := strings.Cut(d, "=")
	if !ok {
		text = "1"
	}
	toks := textTokens(&r.perm, name)
	if len(toks) == 0 || toks[0].kind != kName {
		return
	}
	body := textTokens(&r.perm, text)
	if len(body) > 0 {
		body[0].white = true
	}
	m, bad, _ := r.macro(append(toks, body...))
	if bad != nil {
		return
	}
	m.FromSettings = true
	r.define(m)
}

// textTokens cuts text of the settings.
func textTokens(a *arena, s string) (toks []*token) {
	white := false
	for p := 0; p < len(s); {
		if class[s[p]] == cBlank || s[p] == '\n' {
			white = true
			p++
			continue
		}
		k, end := lexToken(s, p, false)
		t := a.new()
		t.kind, t.text, t.white = k, s[p:end], white
		white = false
		toks = append(toks, t)
		p = end
	}
	return toks
}

func (f *file) raised(word *token, rest []*token) {
	msg := ""
	stop := word.end
	if len(rest) > 0 {
		stop = end(rest)
		msg = strings.ReplaceAll(f.raw.Text()[rest[0].off:stop], "\\\n", "")
	}
	if msg == "" {
		msg = "#" + word.text
	}
	f.report(word.off, stop, Raised, msg, word.text == "warning")
}

// line carries out #line, which changes what __LINE__ and __FILE__ say.
func (f *file) line(word *token, rest []*token, next int) {
	e := f.run.expander(f)
	defer f.run.free(e)
	e.base, e.fixed, e.directive = rest, true, true
	n := e.get()
	num := 0
	ok := n.kind == kNum && len(n.text) < 10
	for k := 0; ok && k < len(n.text); k++ {
		c := n.text[k]
		ok = c >= '0' && c <= '9'
		num = num*10 + int(c-'0')
	}
	if !ok {
		f.problem(word.off, word.end, BadDirective, "a decimal number is expected after #line")
		return
	}
	f.lineDelta = num - 1 - next
	switch t := e.get(); {
	case t.kind == kStr && len(t.text) > 1:
		f.name = t.text[1 : len(t.text)-1]
	case t.kind != kEOF:
		f.problem(word.off, word.end, BadDirective, "a file's name in quotes is expected after the number")
	}
	e.clear()
}

// load finds a file.
func (r *run) load(from, name string, system, next bool) (path string, file *syntax.File, ok bool) {
	if next && r.in.Next != nil {
		path, file, ok = r.in.Next(from, name)
	} else {
		path, file, ok = r.in.Load(from, name, system)
	}
	if r.frame != nil {
		r.frame.asks = append(r.frame.asks, ask{from, name, system, next, path, file, ok})
	}
	return path, file, ok
}

// include carries out #include.
func (f *file) include(word *token, rest []*token, line int) {
	inc := &Include{Start: word.off, End: word.end}
	if len(rest) > 0 {
		inc.Start, inc.End = rest[0].off, end(rest)
	}
	name, system, ok := f.header(rest, inc)
	if !ok || name == "" {
		why := `a file's name in "…" or <…> is expected after #` + word.text
		if ok {
			why = "the file's name is empty"
		}
		n := len(f.unit.Problems)
		f.problem(inc.Start, inc.End, BadInclude, why)
		if len(rest) == 1 && rest[0].kind == kName && f.run.lookup(rest[0].text) == nil && len(f.unit.Problems) > n {
			f.unit.Problems[n].Undefined = rest[0].text
		}
		return
	}
	inc.Name, inc.System = name, system
	if f.unit.Includes == nil {
		f.unit.Includes = map[int]*Include{}
	}
	f.unit.Includes[line] = inc
	r := f.run
	var raw *syntax.File
	// In the source itself nothing is before it in the order of search.
	inc.Next = word.text == "include_next" && f.depth > 0
	if r.in.Load != nil {
		inc.Path, raw, inc.Found = r.load(f.unit.Path, name, system, inc.Next)
	}
	r.touch(inc.Path)
	if inc.Next && inc.Path == f.unit.Path {
		inc.Found = false // the file itself is not the next one
	}
	switch {
	case !inc.Found || raw == nil:
		inc.Found, inc.Path = false, ""
		f.unit.Missing = true
		f.problem(inc.Start, inc.End, MissingInclude, "the file "+name+" was not found")
		return
	case r.files[inc.Path].once:
		return
	case r.files[inc.Path].guard != "" && r.lookup(r.files[inc.Path].guard) != nil:
		return
	}
	if word.text == "import" {
		r.readOnce(inc.Path)
	}
	why := ""
	switch {
	case r.noMore: // as a compiler does at the first of them
		f.unit.Missing = true
		r.spoil()
		return
	case f.depth+1 >= maxDepth:
		why = "files include each other too deeply"
	case len(r.units) >= maxUnits, r.lines+raw.NumLines() > maxLines:
		why = "too much is included: the rest is not read"
	}
	if why != "" {
		f.unit.Missing, r.noMore = true, true
		r.spoil()
		f.problem(inc.Start, inc.End, LimitReached, why)
		return
	}
	inc.Unit = r.included(inc.Path, raw, f.depth+1)
	if inc.Unit.Missing {
		f.unit.Missing = true
	}
}

// header reads the file's name in an #include, maybe from macros.
func (f *file) header(rest []*token, inc *Include) (name string, system, ok bool) {
	if len(rest) > 0 {
		switch t := rest[0]; t.kind {
		case kStr:
			inc.End = t.end
			return t.text[1 : len(t.text)-1], false, t.text[0] == '"'
		case kHeader:
			inc.End = t.end
			return t.text[1 : len(t.text)-1], true, true
		}
	}
	e := f.run.expander(f)
	defer f.run.free(e)
	e.base, e.fixed, e.directive = rest, true, true
	defer e.clear()
	return e.headerName(e.get())
}

// headerName reads a file's name that begins with token t.
func (e *expander) headerName(t *token) (name string, system, ok bool) {
	switch {
	case t.kind == kStr && t.text[0] == '"', t.kind == kHeader:
		return t.text[1 : len(t.text)-1], t.kind == kHeader, true
	case t.text != "<" || t.kind != kPunct:
		return "", false, false
	}
	var b strings.Builder
	for {
		t := e.get()
		switch {
		case t.kind == kEOF:
			return "", true, false
		case t.kind == kPad:
			continue
		case t.text == ">" && t.kind == kPunct:
			return b.String(), true, true
		}
		if t.white {
			b.WriteByte(' ')
		}
		b.WriteString(t.text)
	}
}
