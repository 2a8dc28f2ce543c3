package describe

import (
	"strings"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Part is a piece of a [Completion.Template]: text, or a place to be filled in, with what is
// there until then. Places with the same number are filled in together; the last one is 0.
type Part struct {
	Text string
	Hole bool
	N    int
}

// templates lists the pieces of code that one writes again and again, in the style of the
// file, for a line that has nothing else yet.
func (c *completing) templates() {
	if c.dialect != syntax.Dots || strings.TrimSpace(c.text[:len(c.text)-len(c.word)]) != "" {
		return
	}
	st := c.styleHere()
	for _, t := range []struct{ name, detail, text string }{
		{"routine", "a routine that calls others: its label, lr saved, and the return", c.routineTemplate()},
		{"leaf", "a routine that calls no other one", c.leafTemplate()},
		{"loop", "a loop that counts down to 0", c.loopTemplate()},
		{"constant", "a register gets a constant from the literal pool", "\tldr {1:r0}, ={2:0x20000000}\n{0}"},
		{"wordtable", "a table of words", "\t.balign 4\n{1:table}:\n\t.word {2:0}\n{0}"},
	} {
		if t.text == "" || c.word != "" && !strings.HasPrefix(t.name, strings.ToLower(c.word)) {
			continue
		}
		c.out = append(c.out, Completion{Text: t.name, Kind: CompleteTemplate, Detail: t.detail, Template: st.parts(t.text), Rank: rankFar})
	}
}

// label declares a routine of the state in force.
func (c *completing) label() string {
	s := "\t.global {1:name}\n\t.type {1:name}, %function\n"
	if c.environment.Mode == isa.T {
		s += "\t.thumb_func\n"
	}
	return s + "{1:name}:\n"
}

// routineTemplate saves r4 too, so that the stack stays aligned to 8 bytes at calls (AAPCS32,
// "Stack constraints at a public interface"). Before ARMv5T a load of pc does not change the
// instruction set (DDI 0100I, A7.1.50 "POP"): there BX returns.
func (c *completing) routineTemplate() string {
	end := "\tpop {{r4, pc}}\n"
	switch {
	case c.environment.Have.Has(isa.FeatV5T), !c.environment.Have.Has(isa.FeatT16): // or there is no other one
	case c.environment.Mode == isa.T:
		end = "\tpop {{r4}}\n\tpop {{r1}}\n\tbx r1\n"
	default:
		end = "\tpop {{r4, lr}}\n\tbx lr\n"
	}
	return c.label() + "\tpush {{r4, lr}}\n\t{0}\n" + end + "\t.size {1:name}, . - {1:name}\n"
}

func (c *completing) leafTemplate() string {
	back := "\tbx lr\n"
	if !c.environment.Have.Has(isa.FeatT16) && !c.environment.Have.Has(isa.FeatV5T) {
		back = "\tmov pc, lr\n"
	}
	return c.label() + "\t{0}\n" + back + "\t.size {1:name}, . - {1:name}\n"
}

// loopTemplate is in the syntax in force: the divided one of Thumb code has no 's'.
func (c *completing) loopTemplate() string {
	move, sub := "movs", "subs"
	if c.environment.Mode == isa.T && !c.environment.Unified {
		move, sub = "mov", "sub"
	}
	return "\t" + move + " {1:r2}, #{2:10}\n{3:1}:\n\t{0}\n\t" + sub + " {1:r2}, {1:r2}, #1\n\tbne {3:1}b\n"
}

// style is how lines are written.
type style struct {
	indent      string // in front of a mnemonic
	code, other gap    // after a mnemonic, and after the name of a directive
	start       string // in front of a directive
	upper       bool
	begun       bool // the line of the place has its indentation already
}

// gap is what is between a name and what is behind it.
type gap struct {
	text   string
	column int  // how far after the beginning of the name blanks put it; 0: text says it
	known  bool // a line has it
}

// after is the gap after a name.
func (g *gap) after(name string) string {
	if n := g.column - len(name); n > 1 {
		return strings.Repeat(" ", n)
	}
	return g.text
}

// styleHere is that of the instruction and of the directive that are nearest to the place; a tab
// and a blank where there is none.
func (c *completing) styleHere() style {
	st := style{indent: "\t", start: "\t", code: gap{text: " "}, other: gap{text: " "}, begun: len(c.text) > len(c.word)}
	f := c.Sources[c.file].AsWritten()
	for by := 1; by <= maxStyleLines && !(st.code.known && st.other.known); by++ {
		for _, i := range []int{c.line - by, c.line + by} {
			if i >= 0 && i < f.NumLines() {
				st.read(f.Line(i))
			}
		}
	}
	if st.code.known && !st.other.known {
		st.start = st.indent
	}
	return st
}

// maxStyleLines bounds how far away a line is looked for whose style counts.
const maxStyleLines = 200

// read takes the style of a line that is an instruction or a directive with something behind its
// name and nothing before it, the first of each.
func (st *style) read(l *syntax.Line) {
	if len(l.Stmts) == 0 || l.Stmts[0].Start == 0 || strings.TrimSpace(l.Text[:l.Stmts[0].Start]) != "" {
		return
	}
	s := &l.Stmts[0]
	end := int(s.NameEnd)
	for end < len(l.Text) && (l.Text[end] == ' ' || l.Text[end] == '\t') {
		end++
	}
	switch between := l.Text[s.NameEnd:end]; {
	case s.Kind == syntax.Instruction && len(s.Ops) > 0 && !st.code.known:
		st.indent, st.upper, st.code = l.Text[:s.Start], s.Name == strings.ToUpper(s.Name), gapOf(between, end-int(s.Start))
	case s.Kind == syntax.Directive && int(s.End) > end && s.Name != "" && s.Name[0] == '.' && between != "" && !st.other.known:
		st.start, st.other = l.Text[:s.Start], gapOf(between, end-int(s.Start))
	}
}

// gapOf is the gap of a line: several blanks are there for a column.
func gapOf(text string, column int) gap {
	switch {
	case text == "":
		return gap{text: " ", known: true}
	case len(text) > 1 && strings.Trim(text, " ") == "":
		return gap{text: " ", column: column, known: true}
	}
	return gap{text: text, known: true}
}

// parts writes a text in the style. A line that begins with a tab is indented; '{n:text}' is a
// place to be filled in, and two braces are one.
func (st *style) parts(text string) []Part {
	var out strings.Builder
	for i, line := range strings.SplitAfter(strings.TrimSuffix(text, "\n"), "\n") {
		body, in := strings.CutPrefix(line, "\t")
		directive := in && body != "" && body[0] == '.'
		switch {
		case !in || i == 0 && st.begun:
		case directive:
			out.WriteString(st.start)
		default:
			out.WriteString(st.indent)
		}
		name, rest, ok := strings.Cut(body, " ")
		switch {
		case !in || !ok || name[0] == '{':
			out.WriteString(body)
			continue
		case directive:
			out.WriteString(name + st.other.after(name) + rest)
			continue
		case st.upper:
			name, rest = strings.ToUpper(name), upperRegisters.Replace(rest)
		}
		out.WriteString(name + st.code.after(name) + rest)
	}
	return holes(out.String())
}

// upperRegisters writes the registers of templates in large letters.
var upperRegisters = strings.NewReplacer("r0", "R0", "r1", "R1", "r2", "R2", "r4", "R4", "lr", "LR", "pc", "PC")

// holes are the parts of a text with places to be filled in.
func holes(text string) (out []Part) {
	add := func(t string) {
		if n := len(out); n > 0 && !out[n-1].Hole {
			out[n-1].Text += t
		} else if t != "" {
			out = append(out, Part{Text: t})
		}
	}
	for text != "" {
		i := strings.IndexAny(text, "{}")
		if i < 0 {
			add(text)
			break
		}
		add(text[:i])
		if i+1 < len(text) && text[i+1] == text[i] {
			add(text[i : i+1])
			text = text[i+2:]
			continue
		}
		inside, rest, _ := strings.Cut(text[i+1:], "}")
		n, fill, _ := strings.Cut(inside, ":")
		out = append(out, Part{Text: fill, Hole: true, N: int(n[0] - '0')})
		text = rest
	}
	return out
}
