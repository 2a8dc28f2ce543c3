package rewrite

import (
	"regexp"
	"slices"
	"strings"
	"sync"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Slips of typing: a mark between or around operands that is missing or another one, and a register
// that has to be written twice. What is meant is in the line; the proof says whether it is right.

func slipRewrites() []Entry {
	return []Entry{
		{
			Name: "missing-mark", Title: "Write the mark that is missing",
			Before: UnifiedThumb + "\tldrb r0, [r1 #4]\n\tbx lr\n",
			After:  UnifiedThumb + "\tldrb r0, [r1, #4]\n\tbx lr\n",
			apply:  missingMark,
		},
		{
			Name: "operand-again", Title: "Write the register twice",
			Before: ".cpu cortex-m0\n" + UnifiedThumb + "\tuxtb r0\n\tbx lr\n",
			After:  ".cpu cortex-m0\n" + UnifiedThumb + "\tuxtb r0, r0\n\tbx lr\n",
			apply:  operandAgain,
		},
	}
}

// missingMark writes commas between operands, braces around a list, brackets around an address, and
// '=' or '#' in front of a value.
func missingMark(c *rewriting) {
	if c.onlySafe || c.subject.File.Dialect() == syntax.Columns || c.diagnostic.Cause == finding.CauseSemicolon {
		return
	}
	s := c.item.Stmt
	if c.diagnostic.Code == finding.CodeSyntax {
		c.missingCommas()
		c.missingEnd()
		return
	}
	if s.Kind != syntax.Instruction || s.Err != nil || len(s.Ops) == 0 {
		return
	}
	first, last := &s.Ops[0], &s.Ops[len(s.Ops)-1]
	put := func(title string, from, to int32, text string) {
		start := c.subject.File.LineStart(int(c.item.Line))
		c.add(candidate{title: title, named: true, edits: []finding.Edit{{Span: finding.Span{Start: start + int(from), End: start + int(to)}, New: text}}})
	}
	name, _, _ := s.Mnemonic.Operation()
	registers := true
	for i := range s.Ops {
		registers = registers && s.Ops[i].Kind == isa.OpReg
	}
	switch written := c.line[last.Start:last.End]; {
	case registers && (strings.HasPrefix(name, "push") || strings.HasPrefix(name, "pop")):
		put("put braces around the registers", first.Start, last.End, "{"+c.line[first.Start:last.End]+"}")
	case len(s.Ops) == 1 || !strings.HasPrefix(name, "ldr") && !strings.HasPrefix(name, "str"):
		if last.Kind == isa.OpLit && len(s.Ops) > 1 && c.environment.Unified {
			put("write # for =", last.Start, last.End, "#"+strings.TrimSpace(strings.TrimPrefix(written, "=")))
		}
	case s.Ops[1].Kind == isa.OpReg:
		for i := 1; i < len(s.Ops) && s.Ops[i].Kind == isa.OpReg; i++ { // of two registers, and of a result, behind those
			put("put brackets around the address", s.Ops[i].Start, last.End, "["+c.line[s.Ops[i].Start:last.End]+"]")
		}
	case len(s.Ops) == 2 && (last.Kind == isa.OpImm || last.Kind == isa.OpExpr) && strings.HasPrefix(name, "ldr"):
		if strings.HasPrefix(written, "(") && strings.HasSuffix(written, ")") {
			put("write brackets around the address", last.Start, last.End, "["+written[1:len(written)-1]+"]")
			return
		}
		put("load the value, with =", last.Start, last.End, "="+strings.TrimSpace(strings.TrimPrefix(written, "#")))
	}
}

// maxCommas is how many commas may be missing in a line.
const maxCommas = 4

// missingCommas writes commas where the line cannot be read, until it can.
func (c *rewriting) missingCommas() {
	start := c.subject.File.LineStart(int(c.item.Line))
	line, at := c.line, c.diagnostic.Span.Start-start
	var edits []finding.Edit
	for n := 0; n < maxCommas; n++ {
		if at <= 0 || at >= len(line) {
			return
		}
		end := len(strings.TrimRight(line[:at], " \t"))
		if end == 0 || end == at || strings.IndexByte(",[{(#=+-*/", line[end-1]) >= 0 {
			return
		}
		line = line[:end] + "," + line[end:]
		edits = append(edits, finding.Edit{Span: finding.Span{Start: start + end - len(edits), End: start + end - len(edits)}, New: ","})
		next := syntax.ParseAs(line, c.subject.File.Dialect()).Line(0)
		if len(next.Stmts) == 0 {
			return
		}
		s := &next.Stmts[len(next.Stmts)-1]
		if s.Err == nil {
			c.add(candidate{title: "write a comma", named: true, edits: edits})
			return
		}
		at = int(s.Err.Start)
	}
}

// missingEnd writes the bracket or quote that what is open ends with, or the mark of a comment in front
// of words that are none of the statement.
func (c *rewriting) missingEnd() {
	start := c.subject.File.LineStart(int(c.item.Line))
	text := c.line
	if n := c.subject.File.Line(int(c.item.Line)).Comment; n >= 0 && int(n) <= len(text) {
		text = text[:n]
	}
	text = strings.TrimRight(text, " \t")
	if closing := unclosed(text); closing != "" {
		end := start + len(text)
		c.add(candidate{title: "write the " + closing + " at the end", named: true, edits: []finding.Edit{{Span: finding.Span{Start: end, End: end}, New: closing}}})
	} else if at := c.diagnostic.Span.Start - start; c.subject.File.Dialect() == syntax.Dots && at > 0 && at < len(text) && prose().MatchString(text[at:]) {
		at += start
		c.add(candidate{title: "make a comment of the rest", named: true, edits: []finding.Edit{{Span: finding.Span{Start: at, End: at}, New: "@ "}}})
	}
}

// prose are words, and nothing that has a meaning for an assembler.
var prose = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[A-Za-z]+(?:[',.:]?[ \t]+[A-Za-z0-9]+)*[.!?]?$`) })

// unclosed is what closes the last bracket or string that is open at the end of a text.
func unclosed(text string) string {
	var open []string
	for i := 0; i < len(text); i++ {
		quoted := len(open) > 0 && open[len(open)-1] == "\""
		switch b := text[i]; {
		case quoted && b == '\\':
			i++
		case b == '"' && quoted, !quoted && (b == ']' || b == '}') && len(open) > 0:
			open = open[:len(open)-1]
		case b == '"':
			open = append(open, "\"")
		case !quoted && b == '[':
			open = append(open, "]")
		case !quoted && b == '{':
			open = append(open, "}")
		}
	}
	if len(open) != 1 {
		return ""
	}
	return open[0]
}

// ofOne are the operations on one register: what others do with the same one twice is hardly meant.
var ofOne = []string{"mvn", "neg", "uxt", "sxt", "rev", "clz", "rbit"}

// operandAgain writes the only register twice: once as what is changed, and once as what is read.
func operandAgain(c *rewriting) {
	s := c.item.Stmt
	if c.onlySafe || s.Kind != syntax.Instruction || s.Err != nil || len(s.Ops) != 1 || len(c.ops) != 1 || s.Ops[0].Kind != isa.OpReg || s.Ops[0].Writeback {
		return
	}
	op, _, _ := s.Mnemonic.Operation()
	if _, ok := c.matches(c.name, c.ops[0], c.ops[0]); !ok || !slices.ContainsFunc(ofOne, func(x string) bool { return strings.HasPrefix(op, x) }) {
		return
	}
	at := c.subject.File.LineStart(int(c.item.Line)) + int(s.Ops[0].End)
	c.add(candidate{title: "write " + c.line[s.Ops[0].Start:s.Ops[0].End] + " twice", named: true,
		edits: []finding.Edit{{Span: finding.Span{Start: at, End: at}, New: ", " + c.line[s.Ops[0].Start:s.Ops[0].End]}}})
}
