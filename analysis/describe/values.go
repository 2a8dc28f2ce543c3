package describe

import (
	"fmt"
	"math/bits"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Numbers, literals and expressions in hovers.

// numberText writes a number in all its readings.
func numberText(v int64) string {
	u := uint64(v)
	width := 32
	if v > 1<<32-1 || v < -1<<31 {
		width = 64
	} else {
		u &= 1<<32 - 1
	}
	out := fmt.Sprintf("`%d` = `0x%x` = `0b%s`", v, u, binary(u))
	switch {
	case width == 32 && int32(u) < 0 && v >= 0:
		out += fmt.Sprintf(", signed `%d`", int32(u))
	case width == 32 && v < 0:
		out += fmt.Sprintf(", unsigned `%d`", u)
	}
	if s := characterText(v); s != "" {
		out += ", character " + s
	}
	return out
}

// binary writes a number in digits of two, in groups of four where it is long.
func binary(u uint64) string {
	s := fmt.Sprintf("%b", u)
	if len(s) <= 8 {
		return s
	}
	s = strings.Repeat("0", -len(s)&3) + s
	var parts []string
	for ; s != ""; s = s[4:] {
		parts = append(parts, s[:4])
	}
	return strings.Join(parts, "_")
}

// characterText is a number as a character of ASCII; empty where it is none.
func characterText(v int64) string {
	switch {
	case v == '`':
		return "`` '`' ``"
	case v >= 0x20 && v < 0x7f:
		return fmt.Sprintf("`'%c'`", rune(v))
	}
	return ""
}

// narrowText is what the lower bytes of a datum read as when they are signed; empty where
// that is the number itself, or where it does not fit.
func narrowText(v int64, size int) string {
	top := int64(1) << (8*size - 1)
	if size < 1 || size > 2 || v < top || v >= 2*top {
		return ""
	}
	return fmt.Sprintf(", as a signed %s `%d`", [...]string{"byte", "halfword"}[size-1], v-2*top)
}

// fitsText says whether one instruction can hold a number, by the kinds of constants
// that the target has (DDI 0406C, A5.2.4 and A6.3.2, "Modified immediate constants").
func fitsText(v int64, have isa.Features) string {
	if v < -1<<31 || v > 1<<32-1 {
		return ""
	}
	u := uint32(v)
	var yes, no []string
	add := func(what string, held bool, how string) {
		if held {
			yes = append(yes, strings.TrimSpace(what+" "+how))
		} else {
			no = append(no, what)
		}
	}
	if have.Has(isa.FeatT16) {
		add("T16 (0–255)", u < 256, "")
	}
	if have.Has(isa.FeatMovW) {
		add("MOVW (0–65535)", u < 1<<16, "")
	}
	modified := func(what string, find func(uint32) (uint32, bool), how func(uint32) string) {
		imm12, plain := find(u)
		if plain {
			add(what, true, how(imm12))
			return
		}
		if imm12, ok := find(^u); ok {
			add(what, true, "inverted, by MVN: "+how(imm12))
			return
		}
		add(what, false, "")
	}
	if have.Has(isa.FeatT32) {
		modified("T32", isa.ModifiedT32, patternText)
	}
	if have.Has(isa.FeatA32) {
		modified("A32", isa.Rotated, func(imm12 uint32) string {
			return rotationText(imm12&0xff, imm12>>8*2)
		})
	}
	s := "As one constant: "
	switch {
	case len(yes) == 0:
		return "No constant of one instruction: " + strings.Join(no, ", ") + " cannot hold it."
	case len(no) == 0:
		return s + strings.Join(yes, ", ") + "."
	}
	return s + strings.Join(yes, ", ") + "; not " + strings.Join(no, ", ") + "."
}

// rotationText is a byte rotated right.
func rotationText(b, by uint32) string {
	if by == 0 {
		return ""
	}
	return fmt.Sprintf("`0x%x` rotated right by %d", b, by)
}

// patternText says how twelve bits of T32 make their constant.
func patternText(imm12 uint32) string {
	b := imm12 & 0xff
	switch imm12 >> 8 {
	case 0:
		return ""
	case 1:
		return fmt.Sprintf("`0x%x` in bytes 0 and 2", b)
	case 2:
		return fmt.Sprintf("`0x%x` in bytes 1 and 3", b)
	case 3:
		return fmt.Sprintf("`0x%x` in each byte", b)
	}
	return rotationText(0x80|imm12&0x7f, imm12>>7)
}

// bitsText lists the bits that are set in a long number with few of them.
func bitsText(v int64) string {
	u := uint64(v)
	if v < 0 {
		u &= 1<<32 - 1
	}
	if n := bits.OnesCount64(u); u < 1<<8 || n > 4 {
		return ""
	}
	var list []string
	for b := 63; b >= 0; b-- {
		if u>>b&1 != 0 {
			list = append(list, fmt.Sprint(b))
		}
	}
	if len(list) == 1 {
		return "Bit " + list[0] + "."
	}
	return "Bits " + joined(list) + "."
}

// hoverNumber describes a number, or a character, and what it is for in its line.
func (r *View) hoverNumber(t *token) string {
	f := syntax.ParseAs(".word "+t.text, syntax.Dots)
	st := f.Line(0).Stmts
	if len(st) != 1 || len(st[0].Ops) != 1 || !st[0].Ops[0].Known {
		return ""
	}
	v := st[0].Ops[0].Imm
	if r.negated(t) && v > 0 {
		v = -v
		t.span.Start--
	}
	md := numberText(v)
	if d := t.it.Stmt.Directive; d != nil && d.Effect == syntax.EffData {
		md += narrowText(v, r.Unit(t.it))
	}
	if s := bitsText(v); s != "" {
		md += "  \n" + s
	}
	if t.op < 0 || t.op >= len(t.it.Stmt.Ops) {
		return md
	}
	if whole := r.wholeText(t.it, t.op, t.span); whole != "" {
		return md + "\n\n" + whole
	}
	return md + r.useText(t.it, t.op, v)
}

// negated says whether a sign is right before a number, which belongs to it.
func (r *View) negated(t *token) bool {
	f := r.Sources[t.file].AsWritten()
	text := f.Text()[:t.span.Start]
	if !strings.HasSuffix(text, "-") {
		return false
	}
	if t.op >= 0 && t.op < len(t.it.Stmt.Ops) && t.it.File == t.file {
		o := &t.it.Stmt.Ops[t.op]
		if r.Span(t.file, int(t.it.Line), o.Start, o.End).Start == len(text)-1 {
			return true
		}
	}
	before := strings.TrimRight(text[:len(text)-1], " \t")
	return before != "" && strings.IndexByte("#,[=(", before[len(before)-1]) >= 0
}

// useText says what a number is for in its line: whether it fits, where the word of a literal
// is, what an alignment comes to.
func (r *View) useText(it *program.Item, op int, v int64) string {
	s := it.Stmt
	e := &r.Environments[it.Environment]
	if s.Kind == syntax.Directive {
		switch {
		case s.Directive.Effect == syntax.EffAlignPow && op == 0 && v >= 0 && v < 32 && !e.AlignBytes:
			return fmt.Sprintf("\n\nA boundary of %d bytes.", int64(1)<<v)
		case s.Directive.Effect == syntax.EffSet || s.Directive.Effect == syntax.EffEqv:
			if text := fitsText(v, e.Have); text != "" && (v > 255 || v < 0) {
				return "\n\n" + text
			}
		}
		return ""
	}
	if s.Kind != syntax.Instruction {
		if text := fitsText(v, e.Have); text != "" && (v > 255 || v < 0) {
			return "\n\n" + text
		}
		return ""
	}
	md := ""
	if s.Ops[op].Kind == isa.OpLit {
		return r.literalUse(it, v)
	}
	fm := it.Match.Form
	if s.Ops[op].Kind == isa.OpMem && s.Ops[op].Reg == isa.PC && r.Sections[it.Section].Exact {
		at := (it.Offset+e.Mode.Ahead())&^3 + v
		md = "\n\nThe address is " + r.PlaceText(it.Section, at) + r.awayText(it, program.Value{Kind: program.Address, Section: it.Section, N: at}) + "."
	}
	switch {
	case fm != nil && it.Flags&program.Refused == 0 && !r.hasErrors(it):
		if lo, hi, step, ok := fm.Limits(op); ok && it.Literal < 0 { // else its address fits
			md += fmt.Sprintf("\n\nIt fits: `%s` takes %s here.", fm.String(), isa.Limits(lo, hi, step))
		}
	case it.Flags&program.Refused != 0:
		md += "\n\nIt does not fit here."
	}
	if k := s.Ops[op].Kind; (k == isa.OpImm || k == isa.OpExpr) && (v > 255 || v < 0) {
		if text := fitsText(v, e.Have); text != "" {
			md += "\n\n" + text
		}
	}
	return md
}

// literalUse says what a literal comes to: a word in a pool, or a constant in the instruction.
func (r *View) literalUse(it *program.Item, v int64) string {
	md := ""
	switch {
	case it.Literal >= 0 && r.Literals[it.Literal].Offset >= 0:
		md = "\n\n" + r.poolText(it)
	case it.Literal < 0 && it.Match.Form != nil:
		md = fmt.Sprintf("\n\nNo word in a pool: it is assembled as `%s`.", it.Match.Form.Row.Name)
	}
	if text := fitsText(v, r.Environments[it.Environment].Have); text != "" {
		md += "\n\n" + text
	}
	return md
}

// wholeText says what the expression comes to that something at span is a part of; empty
// where that is all of the operand, or where nothing is known of it.
func (r *View) wholeText(it *program.Item, op int, span finding.Span) string {
	o := &it.Stmt.Ops[op]
	if o.Expr == nil && (!o.Known || o.Kind == isa.OpMem || o.Kind == isa.OpShift) {
		return ""
	}
	text := strings.TrimLeft(syntax.WithoutComments(r.LineText(it)[o.Start:o.End]), "#=$ ")
	if o.Kind == isa.OpMem || o.Kind == isa.OpShift { // the expression is a part of these
		text = r.exprText(it, o.Expr)
	}
	if text == "" || len(text) <= span.End-span.Start {
		return ""
	}
	v := r.ValueOf(o, it)
	switch {
	case v.Kind == program.Number:
		return fmt.Sprintf("`%s` = %s", text, numberText(v.N)) + r.useText(it, op, v.N)
	case v.Kind == program.Address && r.Sections[v.Section].Exact:
		return fmt.Sprintf("`%s` is %s", text, r.PlaceText(v.Section, v.N)) + r.awayText(it, v) + "."
	}
	return ""
}

// exprText is an expression as it is written.
func (r *View) exprText(it *program.Item, e *syntax.Expr) string {
	a, b := e.Start, e.End
	e.Walk(func(x *syntax.Expr) {
		if x.End > x.Start {
			a, b = min(a, x.Start), max(b, x.End)
		}
	})
	line := r.LineText(it)
	if a < 0 || int(b) > len(line) || a >= b {
		return ""
	}
	return syntax.WithoutComments(line[a:b])
}

// ValueOf is what an operand comes to, with all addresses where they are in the end.
func (r *View) ValueOf(o *syntax.Operand, it *program.Item) program.Value {
	r.At = it.Index
	return r.Value(o, it)
}

// awayText is how far an address is from a line of the same section.
func (r *View) awayText(it *program.Item, v program.Value) string {
	if v.Section != it.Section || !r.Sections[v.Section].Exact || it.Size == 0 {
		return ""
	}
	n := v.N - it.Offset
	out := ", " + bytesAway(n) + " from here"
	if it.Stmt.Kind == syntax.Instruction {
		out += fmt.Sprintf(", %+d from PC", n-r.Environments[it.Environment].Mode.Ahead())
	}
	return out
}

// hoverOperand describes an operand of which a sign, a bracket or an operator is at a byte
// offset: what it comes to as a whole.
func (r *View) hoverOperand(path string, off int) (Hover, bool) {
	file := r.FileOf(path)
	if file < 0 {
		return Hover{}, false
	}
	if f := r.Sources[file].File; off < 0 || off > len(f.Text()) || r.Sources[file].Unit != nil && r.Sources[file].Unit.Changed(f.LineAt(off)) {
		return Hover{}, false
	}
	n, at := r.Place(file, off)
	it := r.ItemAtColumn(file, n, at)
	if it == nil || it.File != file || int(at) >= len(r.LineText(it)) {
		return Hover{}, false
	}
	for i := range it.Stmt.Ops {
		o := &it.Stmt.Ops[i]
		if at < o.Start || at >= o.End {
			continue
		}
		span := r.Span(file, n, o.Start, o.End)
		switch c := r.LineText(it)[at]; {
		case o.IsStr && o.Names != nil:
			return Hover{span, fmt.Sprintf("A text of %d bytes%s.", len(o.Names.Str), zeroText(it))}, true
		case strings.IndexByte(" \t,{}[]!^", c) >= 0:
			return Hover{}, false
		}
		v := r.ValueOf(o, it)
		text := syntax.WithoutComments(r.LineText(it)[o.Start:o.End])
		switch {
		case v.Kind == program.Number && o.Expr != nil:
			return Hover{span, fmt.Sprintf("`%s`: %s", text, numberText(v.N)) + r.useText(it, i, v.N)}, true
		case v.Kind == program.Number && o.Known:
			return Hover{span, numberText(v.N) + r.useText(it, i, v.N)}, true
		case v.Kind == program.Address && (o.Expr != nil || o.Kind == isa.OpLit):
			md := fmt.Sprintf("`%s`: %s", text, r.PlaceText(v.Section, v.N)) + r.awayText(it, v) + "."
			if it.Literal >= 0 && r.Literals[it.Literal].Offset >= 0 {
				md += "\n\n" + r.poolText(it)
			}
			return Hover{span, md}, true
		}
	}
	return Hover{}, false
}

// zeroText says that a string of a directive gets a zero byte behind it.
func zeroText(it *program.Item) string {
	if d := it.Stmt.Directive; d != nil && d.Effect == syntax.EffString && d.Unit > 0 {
		return ", and a zero byte after it"
	}
	return ""
}
