package describe

import (
	"fmt"
	"slices"
	"strings"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// Signature is one way to write a statement.
type Signature struct {
	Label      string
	Doc        string // Markdown; may be empty
	Parameters []SignaturePart
}

// SignaturePart is an operand or argument: bytes of the label, and what it may be.
type SignaturePart struct {
	Start, End int
	Doc        string
}

// Signatures are the ways to write the statement at a place.
type Signatures struct {
	List   []Signature
	Active int // the one that fits best
	Part   int // the operand or argument at the place, from 0; of each
}

// maxSignatures bounds how many forms are listed: a name of floating point has very many.
const maxSignatures = 24

// SignaturesIn lists the ways to write the statement whose operands byte offset off of a file
// of the program is in: those that fit what is in front of the place. ok is false elsewhere.
func (r *View) SignaturesIn(path string, off int) (out Signatures, ok bool) {
	c, col := r.completingAt(path, off)
	if c == nil {
		return Signatures{}, false
	}
	if out, ok = c.macroSignature(col); ok {
		return out, true
	}
	if !c.read(col) || c.statement == nil {
		return Signatures{}, false
	}
	switch s := c.statement; {
	case s.Kind == syntax.Instruction:
		return c.forms(c.rest(col))
	case s.Kind == syntax.Directive:
		return c.directiveSignature(c.operand)
	}
	return Signatures{}, false
}

// rest is what the operand at a column is like, all of it: also what is after the column.
func (c *completing) rest(col int) string {
	f := c.Sources[c.file].AsWritten()
	text, depth := f.Line(c.line).Text[col:], 0
	end := len(text)
scan:
	for i, b := range []byte(text) {
		switch b {
		case '[', '{':
			depth++
		case ']', '}':
			depth--
		case ',', ';', '@':
			if depth <= 0 && b == ',' && !strings.ContainsAny(c.operand, "[{") || b != ',' {
				end = i
				break scan
			}
		}
	}
	return strings.TrimSpace(c.operand + text[:end])
}

// forms lists the forms of the mnemonic that take what is in front of the place; operand is what
// is there already. Where no form does, all are listed that the target has, the nearest first.
func (c *completing) forms(operand string) (out Signatures, ok bool) {
	m, q := c.statement.Mnemonic, c.query(c.statement.Width)
	list := m.Beginning(q, c.before)
	list = slices.DeleteFunc(list, func(f *isa.Form) bool { return f.Operands() <= len(c.before) })
	if strings.HasPrefix(operand, "=") {
		if out = c.pooled(q); len(out.List) > 0 {
			return out, true
		}
	}
	if len(list) == 0 {
		seen := map[string]bool{}
		for _, x := range m.Refuse(q, c.before, nil) {
			if exists(x.Form, c.environment) && x.Form.Operands() > len(c.before) && !x.Form.Rare && !seen[x.Form.String()] {
				seen[x.Form.String()] = true
				list = append(list, x.Form)
			}
		}
	}
	if len(list) == 0 {
		return Signatures{}, false
	}
	if c.post { // the other forms have nothing behind the brackets
		if at := c.typed(operand[:strings.IndexByte(operand, ']')+1]); at != nil {
			list = slices.DeleteFunc(list, func(f *isa.Form) bool {
				return !slices.ContainsFunc(postIndexes(*at), func(o isa.Operand) bool {
					return f.Takes(m, q, append(c.before[:len(c.before):len(c.before)], o))
				})
			})
		}
	}
	slices.SortStableFunc(list, func(a, b *isa.Form) int { return wording.Unusual(a) - wording.Unusual(b) })
	out.Part = len(c.before)
	best, typed := 0, c.typed(operand)
	for i, f := range list[:min(len(list), maxSignatures)] {
		if n := c.suits(f, q, operand, typed); n > best {
			best, out.Active = n, i
		}
		out.List = append(out.List, c.formSignature(f, q))
	}
	return out, true
}

// pooled lists the forms that load a value which is written with '=' from a pool, and how far
// away its place there may be.
func (c *completing) pooled(q *isa.Query) (out Signatures) {
	ops := append(c.before[:len(c.before):len(c.before)], isa.Operand{Kind: isa.OpLit})
	out.Part = len(ops) - 1
	seen := map[string]bool{}
	for _, f := range c.statement.Mnemonic.Beginning(q, ops) {
		if f.Operands() != len(ops) {
			continue
		}
		s := c.formSignature(f, q)
		last := &s.Parameters[len(ops)-1]
		s.Label = s.Label[:last.Start] + "=value"
		last.End, last.Doc = len(s.Label), "a value or an address, from a pool"
		if lo, hi, step, ok := f.Limits(len(ops) - 1); ok && lo < hi {
			last.Doc += " " + reach(lo, hi) + " from PC"
			if step > 1 {
				last.Doc += ", in steps of " + fmt.Sprint(step)
			}
		}
		if key := s.Label + s.Doc + last.Doc; !seen[key] && len(out.List) < maxSignatures {
			seen[key] = true
			out.List = append(out.List, s)
		}
	}
	return out
}

// typed is the operand that is there already, if it can be read.
func (c *completing) typed(operand string) *isa.Operand {
	if operand == "" {
		return nil
	}
	// What is open is closed, so that it can be read; an editor may have closed it at once.
	for _, pair := range []string{"[]", "{}"} {
		inside, closed := strings.CutSuffix(operand, pair[1:])
		if operand[0] == pair[0] && (closed || strings.IndexByte(operand, pair[1]) < 0) {
			operand = strings.TrimRight(inside, ", \t#-") + pair[1:]
		}
	}
	f := syntax.ParseAs("\t"+c.statement.Name+" "+operand, c.dialect)
	if st := f.Line(0).Stmts; len(st) == 1 && len(st[0].Ops) > 0 && st[0].Err == nil {
		now := itemOf(&st[0], c.item, c.item.Environment)
		c.Operands(&now, true)
		if len(c.Ops) == 1 {
			o := c.Ops[0]
			return &o
		}
	}
	return nil
}

// suits says how well a form fits the operand that is there: by what it is, or by how it begins.
func (c *completing) suits(f *isa.Form, q *isa.Query, operand string, typed *isa.Operand) int {
	if operand == "" {
		return 0
	}
	shape := f.Shape(len(c.before))
	if typed != nil && typed.Kind == isa.OpExpr && typed.Word != "" && shape == isa.OpReg && beginsRegister(typed.Word) {
		return 6
	}
	if typed != nil && typed.Kind == isa.OpMem && typed.Off == isa.OffImm {
		// A name that may become that of a register is no offset yet.
		if word := strings.Trim(operand[strings.LastIndexByte(operand, ',')+1:], " \t[]"); word != "" && beginsRegister(word) {
			as := *typed
			as.Off, as.Index = isa.OffReg, 0
			typed = &as
		}
	}
	if typed != nil && f.Takes(c.statement.Mnemonic, q, append(c.before[:len(c.before):len(c.before)], *typed)) {
		return 5
	}
	if typed != nil && typed.Kind == isa.OpMem && (typed.Off == isa.OffNone || typed.Off == isa.OffImm) {
		with := *typed // an offset may come, or another one
		with.Off, with.Known, with.Imm = isa.OffImm, true, 0
		if f.Takes(c.statement.Mnemonic, q, append(c.before[:len(c.before):len(c.before)], with)) {
			return 3
		}
	}
	want := map[byte]isa.OpKind{'#': isa.OpImm, '[': isa.OpMem, '{': isa.OpList, '=': isa.OpLit}[operand[0]]
	switch {
	case want != isa.OpNone && shape == want:
		return 2
	case want != isa.OpNone || typed != nil && typed.Kind == isa.OpReg && shape != isa.OpReg:
		return 0
	}
	return 1
}

// beginsRegister says whether a word may become the name of a register.
func beginsRegister(word string) bool {
	for reg := isa.Reg(0); reg <= isa.PC; reg++ {
		if strings.HasPrefix(reg.String(), strings.ToLower(word)) {
			return true
		}
	}
	return false
}

// formSignature describes a form; what its operand at the place may be depends on those in front.
func (c *completing) formSignature(f *isa.Form, q *isa.Query) Signature {
	s := Signature{Label: c.statement.Name + " "}
	for i := range f.Operands() {
		if i > 0 {
			s.Label += ", "
		}
		part := SignaturePart{Start: len(s.Label), Doc: c.limitText(f, q, i)}
		text := f.Part(i)
		if base, added, ok := strings.Cut(strings.TrimSuffix(text, "]"), ", "); ok && c.post && i == len(c.before) {
			text = base + "], " + added
		}
		s.Label += text
		part.End = len(s.Label)
		s.Parameters = append(s.Parameters, part)
	}
	s.Doc = fmt.Sprintf("%s, %s encoding %s, %d bytes", f.Row.Title, f.Row.Set(), f.Row.Enc, f.Row.Size())
	if fw := f.SetsFlags(); fw != 0 {
		s.Doc += ", sets " + fw.String()
	}
	return s
}

// limitText says what an operand of a form may be, in this state and on this target.
func (c *completing) limitText(f *isa.Form, q *isa.Query, i int) string {
	var parts []string
	if f.Address(i) {
		if lo, hi, step, ok := f.Limits(i); ok && lo < hi {
			text := "a label " + reach(lo, hi) + " from PC"
			if step > 1 {
				text += ", in steps of " + fmt.Sprint(step)
			}
			return text
		}
		return "a label"
	}
	if lo, hi, step, ok := f.Limits(i); ok && f.Shape(i) != isa.OpMem {
		parts = append(parts, isa.Limits(lo, hi, step))
	}
	if f.Pattern(i) {
		parts = append(parts, patternLimit(f.Row.State))
	}
	if words := f.Words(i); len(words) > 0 {
		parts = append(parts, strings.Join(words[:min(len(words), 12)], ", "))
	}
	if i != len(c.before) { // those in front of it are not all there
		return strings.Join(parts, "; ")
	}
	m := c.statement.Mnemonic
	if f.Shape(i) == isa.OpMem {
		bases, indexes := f.Bases(m, q, c.before)
		if bases != 0 {
			parts = append(parts, "address in "+rangeText(bases))
		}
		if indexes != 0 {
			parts = append(parts, "index in "+rangeText(indexes))
		}
		if lo, hi, step, ok := f.Limits(i); ok {
			parts = append(parts, "offset "+isa.Limits(lo, hi, step))
		}
	} else if l := f.Registers(m, q, c.before); l != 0 {
		parts = append(parts, rangeText(l))
	}
	return strings.Join(parts, "; ")
}

// rangeText writes a set of registers as limits are written: r0–r7.
func rangeText(l isa.RegList) string {
	return strings.ReplaceAll(registersText(l)[0], "-", "–")
}

// patternLimit says which constants an instruction set has by their bits (DDI 0406C, A5.2.4 and
// A6.3.2, "Modified immediate constants").
func patternLimit(s isa.State) string {
	if s == isa.A {
		return "eight bits rotated right by an even number of places"
	}
	return "eight bits shifted left, or repeated in each byte or each second byte"
}

// directiveSignature is how a directive is written, of which so much of the arguments is there.
func (c *completing) directiveSignature(written string) (out Signatures, ok bool) {
	d := c.statement.Directive
	s := Signature{Label: d.Usage, Doc: d.Doc}
	at := strings.Index(d.Usage, d.Name)
	if at < 0 {
		at = 0
	}
	at += len(d.Name)
	repeats := false
	for at < len(d.Usage) {
		n := strings.IndexByte(d.Usage[at:], ',')
		end := len(d.Usage)
		if n >= 0 {
			end = at + n
		}
		a, b := at, end
		for a < b && strings.IndexByte(" [", d.Usage[a]) >= 0 {
			a++
		}
		for b > a && strings.IndexByte(" []", d.Usage[b-1]) >= 0 {
			b--
		}
		if i := strings.Index(d.Usage[a:b], " ["); i >= 0 && d.Effect == syntax.EffMacro { // nothing but a blank is behind the name
			s.Parameters = append(s.Parameters, SignaturePart{a, a + i, c.argumentLimit(d, 0)})
			a += i + len(" [")
			b = min(a+len("parameter"), end)
		}
		switch text := d.Usage[a:b]; {
		case strings.Trim(text, "…") == "":
			repeats = repeats || text != ""
		default:
			s.Parameters = append(s.Parameters, SignaturePart{a, b, c.argumentLimit(d, len(s.Parameters))})
		}
		at = end + 1
	}
	if len(s.Parameters) == 0 {
		return Signatures{}, false
	}
	out = Signatures{List: []Signature{s}, Part: argumentsIn(written)}
	if d.Effect == syntax.EffMacro && strings.ContainsAny(strings.TrimLeft(written, " \t"), " \t") {
		out.Part = max(out.Part, 1) // behind the macro's name
	}
	if last := len(s.Parameters) - 1; out.Part > last && repeats {
		out.Part = last
	}
	return out, true
}

// argumentLimit says what an argument of a directive may be.
func (c *completing) argumentLimit(d *syntax.DirectiveInfo, i int) string {
	switch d.Effect {
	case syntax.EffData:
		if unit := c.Unit(&program.Item{Stmt: c.statement, Environment: c.item.Environment}); unit > 0 && unit < 8 {
			lo, hi := program.DataRange(unit)
			return isa.Limits(lo, hi, 1)
		}
	case syntax.EffAlignPow:
		switch {
		case i == 0 && d.Name == ".align" && c.environment.AlignBytes:
			return "a power of two, in bytes"
		case i == 0:
			return "a boundary of 2 to this power, in bytes"
		}
	case syntax.EffAlignByte, syntax.EffAlignFrom:
		if i == 0 {
			return "a power of two, in bytes"
		}
	}
	return ""
}

// argumentsIn counts the commas of a text that are outside of brackets and strings.
func argumentsIn(text string) (n int) {
	depth, quoted := 0, false
	for i := 0; i < len(text); i++ {
		switch b := text[i]; {
		case b == '\\' && quoted:
			i++
		case b == '"':
			quoted = !quoted
		case quoted:
		case b == '(' || b == '[' || b == '{':
			depth++
		case b == ')' || b == ']' || b == '}':
			depth--
		case b == ',' && depth <= 0:
			n++
		}
	}
	return n
}

// macroSignature describes the macro whose arguments a column is in.
func (c *completing) macroSignature(col int) (out Signatures, ok bool) {
	head := syntax.ParseAs(withoutWhole(c.text)+"x", c.dialect).Line(0)
	if head.Comment >= 0 || len(head.Stmts) == 0 {
		return Signatures{}, false
	}
	s := &head.Stmts[len(head.Stmts)-1]
	if int(s.NameEnd) >= col || s.Kind == syntax.Label {
		return Signatures{}, false
	}
	c.place()
	var m *program.Macro
	for _, x := range c.Macros {
		if strings.EqualFold(x.Name, s.Name) && (m == nil || x.Item < c.item.Index) {
			m = x
		}
	}
	if m == nil || len(m.Parameters) == 0 {
		return Signatures{}, false
	}
	sig := Signature{Label: m.Name, Doc: strings.TrimSpace(c.aboutPlace(c.MacroAt(m)))}
	params := m.Parameters
	if m.Label {
		params = params[1:]
	}
	for i := range params {
		p := &params[i]
		sep := ", "
		if i == 0 {
			sep = " "
		}
		sig.Label += sep
		part := SignaturePart{Start: len(sig.Label)}
		sig.Label += p.Name
		switch {
		case p.Default != "":
			sig.Label += "=" + p.Default
			part.Doc = "`" + p.Default + "` where nothing is given"
		case p.Need:
			part.Doc = "has to be given"
		case p.Rest:
			sig.Label += " …"
			part.Doc = "all that is left of the line"
		default:
			part.Doc = "empty where nothing is given"
		}
		part.End = len(sig.Label)
		sig.Parameters = append(sig.Parameters, part)
	}
	out = Signatures{List: []Signature{sig}}
	out.Part = argumentOf(c.text[min(int(s.NameEnd), len(c.text)):], params)
	return out, len(params) > 0
}

// argumentOf is the parameter that the last argument of a text is for: by its name, or by how
// many are in front of it. Commas are between arguments, or blanks where there are none.
func argumentOf(text string, params []syntax.Param) int {
	n := argumentsIn(text)
	last := text
	if i := strings.LastIndexByte(text, ','); i >= 0 {
		last = text[i+1:]
	} else if words := strings.Fields(text); len(words) > 0 {
		n = len(words) - 1
		if strings.TrimRight(text, " \t") != text {
			n++
		}
	}
	if name, _, named := strings.Cut(last, "="); named {
		for i := range params {
			if params[i].Name == strings.TrimSpace(name) {
				return i
			}
		}
	}
	if end := len(params) - 1; n > end && params[end].Rest {
		return end
	}
	return n
}
