package rewrite

import (
	"strconv"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// ---- text as the author writes it

func (c *rewriting) upper() bool {
	n := c.name
	return n != "" && strings.ToUpper(n) == n && strings.ToLower(n) != n
}

// inCase puts generated text into the author's case.
func (c *rewriting) inCase(s string) string {
	if c.upper() {
		return strings.ToUpper(s)
	}
	return s
}

// flagSetting spells a flag-setting mnemonic in the syntax in force.
func (c *rewriting) flagSetting(base string) string {
	if c.environment.Unified {
		base += "s"
	}
	return base
}

// opText is operand i as written.
func (c *rewriting) opText(i int) string {
	o := &c.item.Stmt.Ops[i]
	return syntax.WithoutComments(c.line[o.Start:o.End])
}

// statement writes one statement with the author's blank after the mnemonic and
// after commas.
func (c *rewriting) statement(mnemonic string, ops ...string) string {
	s := c.item.Stmt
	gap := " "
	if len(s.Ops) > 0 {
		if g := c.line[s.NameEnd:s.Ops[0].Start]; g != "" && strings.TrimSpace(g) == "" {
			gap = g
		}
	}
	if len(ops) == 0 {
		return c.inCase(mnemonic)
	}
	// Operands stay in the author's column where blanks make one.
	if len(gap) > 1 && strings.Trim(gap, " ") == "" {
		gap = strings.Repeat(" ", max(len(gap)+len(s.Name)-len(mnemonic), 1))
	}
	return c.inCase(mnemonic) + gap + strings.Join(ops, c.comma())
}

// rename is the edit that gives the line another name; operands stay in their column.
func (c *rewriting) rename(name string) finding.Edit { return c.subject.rename(c.item, c.line, name) }

// rename is the edit that gives a statement in a line of the root file another name.
func (r *Subject) rename(it *program.Item, line, name string) finding.Edit {
	s := it.Stmt
	start := r.File.LineStart(int(it.Line))
	e := finding.Edit{Span: finding.Span{Start: start + int(s.Start), End: start + int(s.NameEnd)}, New: name}
	rest := line[s.NameEnd:]
	if gap := len(rest) - len(strings.TrimLeft(rest, " ")); gap > 1 && gap < len(rest) {
		e.Span.End += gap
		e.New += strings.Repeat(" ", max(gap+int(s.NameEnd-s.Start)-len(name), 1))
	}
	return e
}

// comma is the author's comma, with the blanks beside it.
func (c *rewriting) comma() string {
	if s := c.item.Stmt; len(s.Ops) > 1 {
		if g := c.line[s.Ops[0].End:s.Ops[1].Start]; strings.TrimSpace(g) == "," {
			return g
		}
	}
	return ", "
}

// memory writes a memory operand; off is empty, a register, or a constant with
// its '#'.
func (c *rewriting) memory(base, off string) string {
	if off == "" {
		return "[" + base + "]"
	}
	return "[" + base + c.comma() + off + "]"
}

// number writes a constant in the author's base.
func (c *rewriting) number(v int64) string {
	if c.hexStyle() && (v > 9 || v < -9) {
		if v < 0 {
			return "-0x" + strconv.FormatInt(-v, 16)
		}
		return "0x" + strconv.FormatInt(v, 16)
	}
	return strconv.FormatInt(v, 10)
}

func (c *rewriting) hexStyle() bool {
	return strings.Contains(strings.ToLower(c.line[c.item.Stmt.Start:c.item.Stmt.End]), "0x")
}

// indent is the white space in front of further lines: that of the statement.
func (c *rewriting) indent() string {
	pre := c.line[:c.item.Stmt.Start]
	if strings.TrimSpace(pre) == "" {
		return pre
	}
	// A label is before it: be below the statement, or as the next
	// indented line does.
	f := c.subject.File
	for i := int(c.item.Line) + 1; i < f.NumLines() && i < int(c.item.Line)+8; i++ {
		l := f.Line(i)
		if len(l.Stmts) > 0 && l.Stmts[0].Kind == syntax.Instruction && l.Stmts[0].Start > 0 && strings.TrimSpace(l.Text[:l.Stmts[0].Start]) == "" {
			return l.Text[:l.Stmts[0].Start]
		}
	}
	out := []byte(pre)
	for i, b := range out {
		if b != '\t' {
			out[i] = ' '
		}
	}
	return string(out)
}

// replace makes the edits that put statements in the place of this one: the
// first where it was, with the line's comment, the others in lines below.
// Where further statements or an open comment follow in the line, all are in
// it. A statement that ends in ':' is a label. An IT block grows with them.
func (c *rewriting) replace(stmts ...string) []finding.Edit {
	if more := codeCount(stmts) - 1; more > 0 && c.inBlock() {
		if wider, ok := c.widen(more); ok {
			return append(c.replaceHere(stmts), wider)
		}
		return c.divide(stmts)
	}
	return c.replaceHere(stmts)
}

// replaceHere is replace without regard for IT blocks.
func (c *rewriting) replaceHere(stmts []string) []finding.Edit {
	f := c.subject.File
	start := f.LineStart(int(c.item.Line))
	s := c.item.Stmt
	stmts = withComments(stmts, c.line[s.Start:s.End])
	here := finding.Edit{Span: finding.Span{Start: start + int(s.Start), End: start + int(s.End)}, New: stmts[0]}
	if !c.lastInLine(c.item) {
		if len(stmts) > 1 && f.Dialect() != syntax.Dots {
			return nil // a ';' separates nothing
		}
		here.New = strings.Join(stmts, "; ")
		return []finding.Edit{here}
	}
	// So does the comment after.
	rest := c.line[s.End:]
	if blanks := len(rest) - len(strings.TrimLeft(rest, " ")); blanks > 1 && blanks < len(rest) && rest[blanks] != '\t' {
		here.Span.End += blanks
		here.New += strings.Repeat(" ", max(blanks+int(s.End-s.Start)-len(stmts[0]), 1))
	}
	if len(stmts) == 1 {
		return []finding.Edit{here}
	}
	below := ""
	for _, x := range stmts[1:] {
		if below += c.lineEnd(); !strings.HasSuffix(x, ":") && strings.Trim(x, "0123456789") != "" {
			below += c.indent()
		}
		below += x
	}
	at := start + len(c.line)
	return []finding.Edit{here, {Span: finding.Span{Start: at, End: at}, New: below}}
}

// withComments takes out of the statements what they have of the comments inside of the
// line's own one, and puts each comment after the first, once.
func withComments(stmts []string, line string) []string {
	comments := commentsIn(line)
	if comments == "" || strings.Contains(line, `"`) {
		return stmts
	}
	out := make([]string, len(stmts))
	for i := range stmts {
		out[i] = syntax.WithoutComments(stmts[i])
	}
	out[0] += comments
	return out
}

// commentsIn are the comments inside of a piece of a line, each with the blanks in
// front of it, one at least.
func commentsIn(text string) (comments string) {
	for {
		before, behind, ok := strings.Cut(text, "/*")
		inside, after, closed := strings.Cut(behind, "*/")
		if !ok || !closed {
			return comments
		}
		blanks := before[len(strings.TrimRight(before, " \t")):]
		if blanks == "" {
			blanks = " "
		}
		comments += blanks + "/*" + inside + "*/"
		text = after
	}
}

// lineEnd is the file's line end.
func (c *rewriting) lineEnd() string {
	t := c.subject.File.Text()
	if i := strings.IndexByte(t, '\n'); i > 0 && t[i-1] == '\r' {
		return "\r\n"
	}
	return "\n"
}

// insertBefore puts a line above line n of the root file.
func (c *rewriting) insertBefore(line int, text string) finding.Edit {
	at := c.subject.File.LineStart(line)
	return finding.Edit{Span: finding.Span{Start: at, End: at}, New: text + c.lineEnd()}
}

func (c *rewriting) insertAfter(line int, text string) finding.Edit {
	f := c.subject.File
	at := f.LineStart(line) + len(f.Line(line).Text)
	return finding.Edit{Span: finding.Span{Start: at, End: at}, New: c.lineEnd() + text}
}

func (c *rewriting) add(k candidate) {
	if len(k.edits) > 0 {
		if c.divided {
			k.late++
		}
		c.out = append(c.out, k)
	}
	c.divided = false
}

// freeLocal is a number that no numeric local label of the program has, nor
// any text of it that is not read, such as a macro.
func (c *rewriting) freeLocal() string {
	for n := int32(1); ; n++ {
		if len(c.subject.Locals[n]) > 0 {
			continue
		}
		d := strconv.Itoa(int(n))
		free := true
		if c.modules() {
			if !strings.Contains(c.subject.File.Text(), "local"+d) {
				return d
			}
			continue
		}
		if c.columns() { // its marks are in front, and labels have none
			if !hasNumber(c.subject.File.Text(), d) {
				return d
			}
			continue
		}
		for i := range c.subject.Sources {
			if x := c.subject.Sources[i].Expansion; x != nil && x.Macro == nil {
				continue // a part of the file
			}
			for _, mark := range []string{":", "b", "f"} {
				free = free && !flow.HasWord(c.subject.Sources[i].File.Text(), d+mark)
			}
		}
		if free {
			return d
		}
	}
}

// exprText is the constant as written, without '#'.
func (c *rewriting) exprText(i int) string {
	return strings.TrimSpace(strings.TrimLeft(c.opText(i), "#$ "))
}

// constText keeps the author's expression where it has the value n.
func (c *rewriting) constText(n int64) string {
	if i, v, ok := c.constOp(); ok && v == n {
		return c.exprText(i)
	}
	return c.number(n)
}

// lessText writes n-k, by the author's name for n where there is one.
func (c *rewriting) lessText(n, k int64) string {
	if i, v, ok := c.constOp(); ok && v == n {
		switch o := &c.item.Stmt.Ops[i]; {
		case o.Word != "" || o.Expr != nil && o.Expr.Op == syntax.ExprSym:
			return c.exprText(i) + "-" + c.number(k)
		case o.Expr != nil:
			return "(" + c.exprText(i) + ")-" + c.number(k)
		}
	}
	return c.number(n - k)
}

// regText names a register as the statement does.
func (c *rewriting) regText(r isa.Reg) string {
	for i := range c.ops {
		if c.ops[i].Kind == isa.OpReg && c.ops[i].Reg == r {
			return strings.TrimSuffix(c.opText(i), "!")
		}
		if c.ops[i].Kind == isa.OpMem && c.ops[i].Reg == r {
			return c.baseText()
		}
	}
	return c.inCase(r.String())
}

// lastInLine says whether a new line can follow the item's statement at once:
// it is the last of its line in the root file, and no comment goes on.
func (c *rewriting) lastInLine(it *program.Item) bool {
	if it = c.subject.written(it); it == nil {
		return false
	}
	l := c.subject.File.Line(int(it.Line))
	for i := range l.Stmts {
		if l.Stmts[i].Start > it.Stmt.Start {
			return false
		}
	}
	rest := l.Text[it.Stmt.End:]
	i := strings.LastIndex(rest, "/*")
	return i < 0 || strings.Contains(rest[i:], "*/")
}

// lineIndent is the white space that a further line next to line n gets.
func (c *rewriting) lineIndent(n int) string {
	l := c.subject.File.Line(n)
	t := l.Text
	k := len(t) - len(strings.TrimLeft(t, " \t"))
	if k == 0 && (len(l.Stmts) > 1 || c.columns()) {
		return c.indent()
	}
	return t[:k]
}

// directiveIndent is the white space in front of statements near a line.
func (r *Subject) directiveIndent(line int) string {
	f := r.File
	for d := 0; d < 40; d++ {
		for _, i := range []int{line + d, line - d} {
			if i < 0 || i >= f.NumLines() {
				continue
			}
			l := f.Line(i)
			if len(l.Stmts) > 0 && l.Stmts[0].Kind != syntax.Label && strings.TrimSpace(l.Text[:l.Stmts[0].Start]) == "" {
				return l.Text[:l.Stmts[0].Start]
			}
		}
	}
	return "\t"
}

// namedElsewhere says whether anything but the item and branches counts on the address
// of the label in a line of the root file: a mark changes it for all of them.
func (r *Subject) namedElsewhere(line int, but *program.Item) bool {
	name := ""
	for _, s := range r.File.Line(line).Stmts {
		if s.Kind == syntax.Label && name == "" {
			name = s.Name
		}
	}
	y := r.SymbolOf(name)
	if y == nil || y.Global {
		return true
	}
	for i := range r.Items {
		it := &r.Items[i]
		if it.Index == but.Index || it.Stmt.Kind == syntax.Label || it.Stmt.Mnemonic != nil && flow.NextOf(r.Program, it) != flow.GoesOn && len(it.Stmt.Ops) == 1 {
			continue
		}
		if text := r.LineText(it); int(it.Stmt.End) <= len(text) && flow.HasWord(text[it.Stmt.NameEnd:it.Stmt.End], name) {
			return true
		}
	}
	return false
}

// memText writes what memOp is.
func (c *rewriting) memText(base string, off int64) string {
	if off == 0 {
		return c.memory(base, "")
	}
	return c.memory(base, "#"+c.number(off))
}

// hash writes a constant as an operand.
func (c *rewriting) hash(v uint32) string { return "#" + c.number(int64(v)) }

// scratchName names a register that is not in the line.
func (c *rewriting) scratchName(r isa.Reg) string {
	if t := c.subject.File.Text(); r == 12 && !flow.HasWord(t, "r12") && !flow.HasWord(t, "R12") {
		return c.inCase("ip")
	}
	return c.inCase(r.String())
}

// bits writes a constant whose bits matter.
func (c *rewriting) bits(v uint32) string { return "#0x" + strconv.FormatUint(uint64(v), 16) }
