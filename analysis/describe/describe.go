package describe

import (
	"fmt"
	"sort"
	"strconv"
	"strings"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// Includes lists the paths of the files that were read, without the root.
func (r *View) Includes() []string {
	var out []string
	seen := map[string]bool{}
	for _, s := range r.Sources[1:] {
		if s.Expansion == nil && !seen[s.Path] {
			seen[s.Path] = true
			out = append(out, s.Path)
		}
	}
	return out
}

// View describes an assembled program to people.
type View struct {
	*eval.Evaluator
	Diags []finding.Diagnostic
	// Known is what is known of registers; nil: nothing is asked of it.
	Known *Values
	// Written are lines of bodies of which the places that name something are known, so that the line
	// which asks for the expansion is none.
	Written map[program.BodyLine]bool
	// Waits are the wait states of memory, by region.
	Waits flow.Waits
	calls map[*program.Symbol]bool // see called
	paths *flow.Paths              // while a question is put to the graph
}

// called are the symbols that some line calls, or that PROC makes a function.
func (r *View) called() map[*program.Symbol]bool {
	if r.calls != nil {
		return r.calls
	}
	r.calls = map[*program.Symbol]bool{}
	for i := range r.Items {
		it := &r.Items[i]
		if y := r.Begun(it); y != nil {
			r.calls[y] = true
		}
		if it.Match.Form != nil && it.Match.Form.Row.Flow == isa.FlowCall && len(it.Stmt.Ops) > 0 && it.Stmt.Ops[0].Word != "" {
			if y := r.SymbolOf(it.Stmt.Ops[0].Word); y != nil {
				r.calls[y] = true
			}
		}
	}
	return r.calls
}

// Region is a stretch of a file in one instruction set.
type Region struct {
	Span    finding.Span
	State   isa.State // what the assembler emits
	Unified bool      // the syntax in force
	Target  string    // architecture or core
}

// Regions divides the root file by mode, syntax and target.
func (r *View) Regions() []Region { return r.RegionsIn(r.Path) }

// RegionsIn is Regions for a file of the program.
func (r *View) RegionsIn(path string) []Region {
	id := r.FileOf(path)
	if id < 0 {
		return nil
	}
	size := len(r.Sources[id].File.Text())
	if u := r.Sources[id].Unit; u != nil {
		size = len(u.Raw.Text())
	}
	last := int16(0)
	if from := r.Sources[id].From; from >= 0 {
		last = r.Items[from].Environment
	}
	region := func(at int, environment int16) Region {
		e := &r.Environments[environment]
		return Region{finding.Span{Start: at, End: size}, e.Mode, e.Unified, e.Target}
	}
	out := []Region{region(0, last)}
	for i := range r.Items {
		it := &r.Items[i]
		if it.File != id || it.Environment == last {
			continue
		}
		last = it.Environment
		at := r.Span(id, int(it.Line), it.Stmt.Start, it.Stmt.NameEnd).Start
		next := region(at, last)
		if k := len(out) - 1; at > out[k].Span.Start {
			out[k].Span.End = at
			out = append(out, next)
		} else {
			next.Span.Start = out[k].Span.Start
			out[k] = next
		}
	}
	return out
}

// Inactive lists the stretches that conditional directives, or those of the
// preprocessor, leave out; of a file that is included several times what is
// left out each time.
func (r *View) Inactive() []finding.Location {
	spans := make([][]finding.Span, len(r.Sources)) // by source
	for _, x := range r.Excluded {
		spans[x.File] = append(spans[x.File], x.Span)
	}
	byPath := map[string][]finding.Span{}
	var paths []string
	for i := range r.Sources {
		s := &r.Sources[i]
		if s.Expansion != nil {
			continue
		}
		sort.Slice(spans[i], func(a, b int) bool { return spans[i][a].Start < spans[i][b].Start })
		before, again := byPath[s.Path]
		if !again {
			paths = append(paths, s.Path)
			byPath[s.Path] = spans[i]
			continue
		}
		byPath[s.Path] = intersect(before, spans[i])
	}
	var out []finding.Location
	for _, path := range paths {
		for _, s := range byPath[path] {
			out = append(out, finding.Location{Path: path, Span: s})
		}
	}
	return out
}

// intersect lists what is in a span of both lists, which are sorted.
func intersect(a, b []finding.Span) (out []finding.Span) {
	for len(a) > 0 && len(b) > 0 {
		s := finding.Span{Start: max(a[0].Start, b[0].Start), End: min(a[0].End, b[0].End)}
		if s.Start < s.End {
			out = append(out, s)
		}
		if a[0].End < b[0].End {
			a = a[1:]
		} else {
			b = b[1:]
		}
	}
	return out
}

// token is the word at a byte offset of a file.
type token struct {
	file int32
	it   *program.Item
	op   int // operand, -1 in the name
	text string
	span finding.Span
	a, b int32 // the columns of an operand's word in its line
	// name: what is there is the statement's name, and no argument.
	name bool
}

// tokenAt finds the word at byte offset off of the file at path, where it is
// included first.
func (r *View) tokenAt(path string, off int) (token, bool) {
	file := r.FileOf(path)
	if file < 0 {
		return token{}, false
	}
	f := r.Sources[file].File
	if off < 0 || off > len(f.Text()) {
		return token{}, false
	}
	n, at := r.Place(file, off)
	word, span, wordLine, wordAt, argument := r.argumentAt(file, off)
	if argument {
		n, at = wordLine, wordAt
	}
	text := r.LineIs(file, n)
	col := int(at)
	it := r.ItemAtColumn(file, n, at)
	if it == nil {
		it = r.repeatedAt(file, off)
	}
	if it == nil || it.Stmt.Directive != nil && it.Stmt.Directive.Effect == syntax.EffJoin {
		if j, line := r.joinedAt(file, off); j != nil {
			it, n, col, text = j, line, off-f.LineStart(line), r.LineText(j)
		}
	}
	if it == nil || col > len(text) {
		return token{}, false
	}
	s := it.Stmt
	t := token{file: file, it: it, op: -1}
	if int(s.Start) <= col && col <= int(s.NameEnd) && s.NameEnd > s.Start {
		t.text = s.Name
		t.span = r.Span(file, n, s.Start, s.NameEnd)
		if t.name = !argument || word != s.Name; !t.name {
			t.span = span
		}
		return t, true
	}
	a, b := col, col
	for a > int(s.NameEnd) && program.IdentByte(text[a-1]) {
		a--
	}
	for b < len(text) && program.IdentByte(text[b]) {
		b++
	}
	if a > 0 && text[a-1] == '\'' && b < len(text) && text[b] == '\'' {
		a, b = a-1, b+1
	}
	if a == b {
		return token{}, false
	}
	t.text, t.span, t.a, t.b = text[a:b], r.Span(file, n, int32(a), int32(b)), int32(a), int32(b)
	if argument && word == t.text {
		t.span = span
	}
	for i := range s.Ops {
		if int(s.Ops[i].Start) <= col && col <= int(s.Ops[i].End) {
			t.op = i
		}
	}
	return t, true
}

// PlaceText is where something is: a section and an offset in it.
func (r *View) PlaceText(sec int16, off int64) string {
	s := &r.Sections[sec]
	if !s.Exact {
		return fmt.Sprintf("in %s, at an offset that depends on code of unknown size", s.Name)
	}
	return fmt.Sprintf("%s + 0x%x", s.Name, off)
}

// atText says where something is, in a sentence.
func (r *View) atText(sec int16, off int64) string {
	if s := &r.Sections[sec]; !s.Exact {
		return fmt.Sprintf("at an offset in %s that depends on code of unknown size", s.Name)
	}
	return "at " + r.PlaceText(sec, off)
}

// targetLimits is the reach of a form with a label.
func targetLimits(f *isa.Form) (lo, hi, step int64, ok bool) {
	if !strings.HasSuffix(f.String(), "label") {
		return
	}
	lo, hi, step, ok = f.Limits(f.Operands() - 1)
	return lo, hi, step, ok && lo < hi
}

func (r *View) literalText(l *program.Literal) string {
	it := &r.Items[l.By]
	o := it.Stmt.Ops[1]
	return strings.TrimSpace(strings.TrimPrefix(syntax.WithoutComments(r.LineText(it)[o.Start:o.End]), "="))
}

// lookup finds the symbol that a token names.
func (r *View) lookup(t *token) (*program.Symbol, bool) {
	if s := r.columnLocalAt(t); s != nil {
		return s, true
	}
	if n := len(t.text); n > 1 && (t.text[n-1] == 'f' || t.text[n-1] == 'b') && strings.Trim(t.text[:n-1], "0123456789") == "" {
		num := int32(0)
		fmt.Sscanf(t.text[:n-1], "%d", &num)
		list := r.Locals[num]
		k := sort.Search(len(list), func(k int) bool { return list[k].Item > t.it.Index })
		if t.text[n-1] == 'b' {
			k--
		}
		if k >= 0 && k < len(list) {
			return list[k], true
		}
		return nil, false
	}
	if s := t.it.Stmt; t.name && s.Kind == syntax.Label && s.Number >= 0 {
		for _, y := range r.Locals[s.Number] {
			if y.Item == t.it.Index {
				return y, true
			}
		}
		return nil, false
	}
	if num, ok := strings.CutSuffix(t.text, "$"); ok && num != "" && strings.Trim(num, "0123456789") == "" {
		n, err := strconv.ParseInt(num, 10, 32)
		if s := r.Local(int32(n)|syntax.DollarLabel, false, t.it.Index).Symbol; s != nil && err == nil {
			return s, true
		}
		return nil, false
	}
	if t.own() {
		return nil, false
	}
	s := r.SymbolOf(t.text)
	return s, s != nil
}

// own says whether a token is a word to which its instruction gives a meaning: no symbol.
func (t *token) own() bool { return !t.name && t.op >= 0 && t.it.Stmt.OwnWord(t.a, t.b, t.text) }

// Definition of the symbol at byte offset off of the root file; for an
// .include, the file.
func (r *View) Definition(off int) []finding.Location { return r.DefinitionIn(r.Path, off) }

// DefinitionIn is Definition in a file of the program.
func (r *View) DefinitionIn(path string, off int) []finding.Location {
	if m := r.useAt(path, off); m != nil {
		if m.Path == "" {
			return nil
		}
		return []finding.Location{{Path: m.Path, Span: finding.Span{Start: m.Start, End: m.End}}}
	}
	t, ok := r.tokenAt(path, off)
	if ok && t.it.Stmt.Kind == syntax.Directive && t.it.Stmt.Directive.Effect == syntax.EffInclude {
		if u := r.Sources[t.it.File].Unit; u != nil {
			// Found, though a guard may keep it from being read again.
			if inc := u.Includes[int(t.it.Line)]; inc != nil && inc.Found {
				return []finding.Location{{Path: inc.Path}}
			}
		}
		for i := range r.Sources {
			if r.Sources[i].From == t.it.Index {
				return []finding.Location{{Path: r.Sources[i].Path}}
			}
		}
		return nil
	}
	if !ok {
		return nil
	}
	if m := r.macroAt(t); m != nil {
		return []finding.Location{r.MacroAt(m).Location}
	}
	if t.it.Stmt.Kind == syntax.Instruction {
		if t.op < 0 {
			return nil
		}
		if _, isReg := isa.RegByName(strings.ToLower(t.text)); isReg {
			return nil
		}
	}
	s, ok := r.lookup(&t)
	if !ok {
		return nil
	}
	at := r.DefinedAt(s).Location
	if at.Path == "" {
		return nil
	}
	return []finding.Location{at}
}

// labelKind says what a label is in front of.
func (r *View) labelKind(it *program.Item, y *program.Symbol) (program.SymbolKind, string) {
	if y.Value.Kind == program.Number { // of a record
		return program.SymConstant, "= " + wording.Num(y.Value.N)
	}
	kind, detail := program.SymData, r.PlaceText(it.Section, it.Offset)
	if _, mode, ok := r.CodeLabel(y.Value); ok {
		kind = program.SymCode
		if y.Function || r.called()[y] {
			kind = program.SymFunction
		}
		detail = mode.String() + " " + detail
	}
	return kind, detail
}

func (r *View) valueText(name string) string {
	s := r.SymbolOf(name)
	if s == nil {
		return ""
	}
	switch s.Value.Kind {
	case program.Number:
		return "= " + wording.Num(s.Value.N)
	case program.Address:
		return "= " + r.PlaceText(s.Value.Section, s.Value.N)
	}
	return ""
}
