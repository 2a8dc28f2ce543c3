package analysis

import (
	"context"
	"fmt"
	"maps"
	"math/rand"
	"slices"
	"strconv"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// trio writes one program in the three dialects, line by line: what is one line
// in one of them is one line, perhaps empty, in the others.
type trio struct {
	*rand.Rand
	out     [3][]string // by dialect
	id      string      // in front of every name
	state   trioState
	labels  int
	consts  []string
	macros  []trioMacro
	odd     bool // the place may be misaligned
	depth   int
	inside  bool // of a macro's body
	loops   int
	defined int
	// local is the number that the local label 1 of columns has in the other
	// dialects: one for each section and ROUT.
	local   map[string]int
	section string
	locals  int
	first   int      // which no other program has
	lists   []string // RLIST and what is in it, in turns
	fields  int
}

type trioMacro struct{ name string }

// trioState is the instruction set with its spelling.
type trioState struct {
	arch         string
	a32, divided bool
}

// put writes a line: the dialect of dots, that with ';' comments, and columns. A
// label is in front of it, and sometimes a comment after it.
func (w *trio) put(label, dots, columns string) {
	colon := ":"
	if label == "" {
		colon = ""
	}
	note := ""
	if w.Intn(6) == 0 {
		note = []string{"the lamp of track 3", "mov r0, r1", "it's \"here\"", "x: .word 1", "END"}[w.Intn(5)]
	}
	c := func(mark string) string {
		if note == "" {
			return ""
		}
		return " " + mark + " " + note
	}
	other := label
	if label == "1" {
		other = w.one()
	}
	semi := other
	if label != "" && (w.Intn(3) == 0 || dots == "" || label[0] >= '0' && label[0] <= '9' || strings.ContainsAny(label, `\`)) {
		semi += ":"
	}
	w.out[syntax.Dots] = append(w.out[syntax.Dots], other+colon+"\t"+dots+c("@"))
	w.out[syntax.Semicolon] = append(w.out[syntax.Semicolon], semi+"\t"+dots+c(";"))
	w.out[syntax.Columns] = append(w.out[syntax.Columns], strings.ReplaceAll(label, `\()`, ".")+"\t"+columns+c(";"))
}

// split lets a line of columns go on in the next one, sometimes.
func (w *trio) split() {
	col := w.out[syntax.Columns]
	l := col[len(col)-1]
	i := strings.LastIndexByte(l, ',')
	if w.Intn(6) > 0 || i < 0 || w.inside || strings.ContainsAny(l, ";\"{$") {
		return
	}
	if w.Intn(4) == 0 {
		i-- // in front of the comma
	}
	col[len(col)-1] = l[:i+1] + w.pick(" \\", "\\")
	w.out[syntax.Columns] = append(col, w.pick("", "\t ")+l[i+1:])
	w.out[syntax.Dots] = append(w.out[syntax.Dots], "")
	w.out[syntax.Semicolon] = append(w.out[syntax.Semicolon], "")
}

// one is the local label 1 of columns in the other dialects.
func (w *trio) one() string {
	if w.local[w.section] == 0 {
		w.locals++
		w.local[w.section] = w.first + w.locals
	}
	return strconv.Itoa(w.local[w.section])
}

func (w *trio) pick(list ...string) string { return list[w.Intn(len(list))] }

func (w *trio) label() string {
	if w.inside {
		return ""
	}
	switch w.Intn(5) {
	case 0:
		w.labels++
		return fmt.Sprintf("%sl%d", w.id, w.labels-1)
	case 1:
		return "1"
	}
	return ""
}

func (w *trio) anyLabel() string { return fmt.Sprintf("%sl%d", w.id, w.Intn(w.labels+2)) }

// number writes a number in both ways.
func (w *trio) number(n int) (dots, columns string) {
	d := []string{"%d", "0x%x", "0x%X"}[w.Intn(3)]
	c := []string{"%d", "0x%x", "&%X", "2_%b", "8_%o"}[w.Intn(5)]
	return fmt.Sprintf(d, n), fmt.Sprintf(c, n)
}

// expr writes an expression in both ways.
func (w *trio) expr(depth int) (dots, columns string) {
	switch k := w.Intn(7); {
	case k < 3 || depth > 2:
		return w.number(w.Intn(70))
	case k == 3 && len(w.consts) > 0:
		n := w.consts[w.Intn(len(w.consts))]
		return n, n
	case k == 4:
		c := w.pick("'a'", "'Z'", "' '", "'0'")
		return c, c
	}
	a, b := w.expr(depth + 1)
	x, y := w.expr(depth + 1)
	ops := [][2]string{{"+", "+"}, {"*", "*"}, {"&", ":AND:"}, {"|", ":OR:"}, {"^", ":EOR:"}, {"%", ":MOD:"}}
	if depth > 0 { // no division by nothing
		ops = ops[:5]
	}
	o := ops[w.Intn(len(ops))]
	if o[0] == "%" {
		x, y = w.number(1 + w.Intn(9))
	}
	if w.Intn(6) == 0 {
		o = [2]string{"<<", ":SHL:"}
		x, y = w.number(w.Intn(5))
	}
	return "(" + a + o[0] + x + ")", "(" + b + " " + o[1] + " " + y + ")"
}

// value is a number, an expression or, in a macro, a parameter.
func (w *trio) value() (dots, columns string) {
	if w.inside && w.Intn(3) == 0 {
		return `\b`, "$b"
	}
	if w.Intn(2) == 0 {
		return w.number(w.Intn(w.pickInt(8, 40, 300)))
	}
	return w.expr(0)
}

func (w *trio) pickInt(list ...int) int { return list[w.Intn(len(list))] }

// aligned aligns the place, where columns do so by themselves.
func (w *trio) aligned(n int) {
	w.out[syntax.Dots] = append(w.out[syntax.Dots], fmt.Sprintf("\t.balign %d", n))
	w.out[syntax.Semicolon] = append(w.out[syntax.Semicolon], fmt.Sprintf("\t.balign %d", n))
	w.out[syntax.Columns] = append(w.out[syntax.Columns], "")
	w.odd = false
}

func (w *trio) instruction() {
	if w.odd || w.inside || w.Intn(8) == 0 {
		n := 2
		if w.state.a32 {
			n = 4
		}
		w.aligned(n)
	}
	reg := func() string { return fmt.Sprintf("r%d", w.Intn(w.pickInt(8, 8, 8, 13))) }
	a := reg()
	d := ""
	if w.inside && w.Intn(2) == 0 {
		a, d = `\a`, "$a"
	} else {
		d = a
	}
	b := reg()
	s := "s"
	if w.state.divided || w.state.a32 && w.Intn(2) == 0 {
		s = ""
	}
	x, y := w.value()
	lab := w.anyLabel()
	low, lowC := w.one()+"b", "%B1"
	if w.Intn(2) == 0 {
		low, lowC = w.one()+"f", "%F1"
	}
	if w.inside {
		low, lowC = lab, lab
	}
	up := func(c string) string {
		if w.Intn(2) == 0 {
			m, rest, _ := strings.Cut(c, " ")
			return strings.TrimSpace(strings.ToUpper(m) + " " + rest)
		}
		return c
	}
	p := func(dots, columns string) {
		w.put(w.label(), dots, up(columns))
		w.split()
	}
	switch k := w.Intn(20); {
	case k == 16 && w.state.arch != "armv4t":
		n, r := w.pickInt(0, 5, 0xffff, 0x12345678, 0x7fffffff, 0x80000000), fmt.Sprintf("r%d", w.Intn(13))
		l := w.label()
		w.put(l, fmt.Sprintf("movw %s, #0x%x", r, n&0xffff), fmt.Sprintf("%s %s, #0x%x", w.pick("MOV32", "mov32"), r, n))
		w.put("", fmt.Sprintf("movt %s, #%d", r, n>>16), "")
		return
	case k > 16 && len(w.lists) > 0 && w.Intn(2) == 0:
		i := w.Intn(len(w.lists)/2) * 2
		m := w.pick("stmia ", "ldmia ") + b + "!, "
		p(m+w.lists[i+1], m+w.lists[i])
		return
	case k > 16 && w.fields > 0:
		n := w.Intn(w.fields)
		m := w.pick("ldr", "str", "ldrb", "strh") + " "
		p(fmt.Sprintf("%s%s, [r3, #%d]", m, a, n*4+w.more(n)), fmt.Sprintf("%s%s, %sf%d%s", m, d, w.id, n, strings.Replace(fmt.Sprintf(" + %d", w.more(n)), " + 0", "", 1)))
		return
	}
	switch w.Intn(17) {
	case 16:
		n := w.pickInt(0, 1, 255, 300)
		p(fmt.Sprintf("udf #%d", n), fmt.Sprintf("und #%d", n))
	case 0:
		p("mov"+s+" "+a+", #"+x, "mov"+s+" "+d+", #"+y)
	case 1:
		p("add"+s+" "+a+", "+b+", #"+x, "add"+s+" "+d+", "+b+", #"+y)
	case 2:
		p("ldr "+a+", ["+b+", #"+x+"]", "ldr "+d+", ["+b+", #"+y+"]")
	case 3:
		p("strb "+a+", ["+b+", #"+x+"]", "strb "+d+", ["+b+", #"+y+"]")
	case 4:
		p("b "+lab, "b "+lab)
	case 5:
		c := w.pick("eq", "ne", "hs", "lt")
		p("b"+c+" "+low, "b"+c+" "+lowC)
	case 6:
		p("bl "+lab, "bl "+lab)
	case 7:
		p("ldr "+a+", "+lab, "ldr "+d+", "+lab)
	case 8:
		p("adr "+a+", "+lab, "adr "+d+", "+lab)
	case 9:
		n := w.pickInt(5, 300, 0x12345678, 0xff00, 0x7fffffff)
		p(fmt.Sprintf("ldr %s, =0x%x", a, n), fmt.Sprintf("ldr %s, =&%x", d, n))
	case 10:
		p("ldr "+a+", ="+lab, "ldr "+d+", = "+lab)
	case 11:
		p("ldr "+a+", ="+lab+"+4", "ldr "+d+", =("+lab+" + 4)")
	case 12:
		l := w.pick("{r0-r3}", "{r4, lr}", "{r1}", "{r0, r2-r5}")
		p("push "+l, "push "+l)
	case 13:
		p("cmp "+a+", #"+x, "cmp "+d+", #"+y)
	case 14:
		p("lsl"+s+" "+a+", "+b+", #3", "lsl"+s+" "+d+", "+b+", #3")
	default:
		p("b .", w.pick("b .", "b {PC}"))
	}
}

func (w *trio) data() {
	list := func(f func() (string, string)) (string, string) {
		a, b := f()
		for w.Intn(2) == 0 {
			c, d := f()
			a, b = a+", "+c, b+","+d
		}
		return a, b
	}
	address := func() (string, string) {
		if w.Intn(3) > 0 {
			return w.value()
		}
		l := w.anyLabel()
		return l, l
	}
	switch w.Intn(7) {
	case 0:
		a, b := list(w.value)
		w.put(w.label(), ".byte "+a, w.pick("DCB ", "dcb ", "= ")+b)
		w.odd = true
	case 1:
		a, b := list(w.value)
		w.aligned(2)
		w.put(w.label(), ".hword "+a, w.pick("DCW ", "dcw ")+b)
		w.odd = true
	case 2:
		a, b := list(address)
		w.aligned(4)
		w.put(w.label(), ".word "+a, w.pick("DCD ", "dcd ", "& ")+b)
	case 3:
		t := w.pick(`"green; red"`, `"track 4 @ home"`, `"x"`)
		w.put(w.label(), ".ascii "+t, w.pick("DCB ", "= ")+t)
		w.odd = true
	case 4:
		a, b := w.number(w.Intn(w.pickInt(3, 40, 1100)))
		w.put(w.label(), ".space "+a, w.pick("SPACE ", "% ", "space ")+b)
		w.odd = true
	case 5:
		n := 1 << w.Intn(5)
		c := fmt.Sprintf("ALIGN %d", n)
		if n == 4 && w.Intn(2) == 0 {
			c = "ALIGN"
		}
		w.put(w.label(), fmt.Sprintf(".balign %d", n), c)
		w.odd = w.odd && n < 4
	case 6:
		a, b := list(address)
		w.put(w.label(), ".word "+a, "DCDU "+b)
		w.odd = true
	}
}

// more is what is added to field n.
func (w *trio) more(n int) int { return n % 3 }

// names writes what names a list of registers, a field of a record, or where
// another routine begins.
func (w *trio) names() {
	column := func(s string) { w.out[syntax.Columns][len(w.out[syntax.Columns])-1] = s }
	switch w.Intn(3) {
	case 0:
		n, l := fmt.Sprintf("%sr%d", w.id, len(w.lists)), w.pick("{r0-r2}", "{r4, r6}", "{r1}", "{r3-r5, r8}")
		w.put("", "", "")
		column(n + w.pick(" RLIST ", "\trlist\t") + l)
		w.lists = append(w.lists, n, l)
	case 1:
		if w.fields == 0 {
			w.put("", "", w.pick("MAP 0, r3", "^ 0,R3", "map 0 , r3"))
		}
		w.put("", "", "")
		column(fmt.Sprintf("%sf%d %s 4", w.id, w.fields, w.pick("FIELD", "#", "field")))
		w.fields++
	default:
		// The reference says nothing else where a local label is missing.
		w.put("1", "", "")
		w.put("", "", "ROUT")
		delete(w.local, w.section)
		w.put("1", "", "")
	}
}

// step writes something.
func (w *trio) step() {
	switch k := w.Intn(43); {
	case k < 17:
		w.instruction()
	case k < 26:
		w.data()
	case k > 39:
		if !w.inside && w.depth == 0 {
			w.names()
		}
	case k < 28:
		if w.inside || w.depth > 0 { // it may be left out
			return
		}
		n := fmt.Sprintf("%sc%d", w.id, len(w.consts))
		a, b := w.expr(0)
		w.put("", ".equ "+n+", "+a, "")
		w.out[syntax.Columns][len(w.out[syntax.Columns])-1] = n + w.pick(" EQU ", "\t*\t", "\tequ ") + b
		w.consts = append(w.consts, n)
	case k == 28:
		w.put(w.label(), ".ltorg", "LTORG")
	case k == 29 && w.depth == 0:
		n := w.pick("a", "b")
		w.put("1", "", "")
		// "ax" says that it is for code, as the attribute does.
		w.put("", ".section .text."+w.id+n+",\"ax\"", "AREA |.text."+w.id+n+"|, CODE, READONLY")
		w.section = n
		w.put("1", "", "")
		w.odd = true
	case k < 32 && w.depth < 3:
		a, b := w.number(w.Intn(5))
		c, d := w.expr(1)
		op := w.pick(">", "<")
		w.put("", ".if "+c+" "+op+" "+a, w.pick("IF ", "[ ")+d+" "+op+" "+b)
		w.body(1 + w.Intn(3))
		if w.Intn(2) == 0 {
			w.put("", ".else", w.pick("ELSE", "|"))
			w.odd = true
			w.body(1 + w.Intn(3))
		}
		w.put("", ".endif", w.pick("ENDIF", "]"))
		w.odd = true
	case k == 32 && w.depth == 0 && !w.inside:
		// A repetition that counts.
		v := fmt.Sprintf("%sv%d", w.id, w.loops)
		w.loops++
		n := w.Intn(4)
		w.put("", "", "GBLA "+v)
		w.put("", ".set "+v+", 0", "")
		w.out[syntax.Columns][len(w.out[syntax.Columns])-1] = v + "\tSETA 0"
		w.put("", fmt.Sprintf(".rept %d", n), fmt.Sprintf("WHILE %s < %d", v, n))
		w.consts = append(w.consts, v)
		w.depth += 2
		w.inside = true // no labels
		w.params()
		w.inside = false
		w.depth -= 2
		w.put("", ".set "+v+", "+v+"+1", "")
		w.out[syntax.Columns][len(w.out[syntax.Columns])-1] = v + "\tSETA " + v + "+1"
		w.put("", ".endr", "WEND")
		w.odd = true
	case k < 36 && len(w.macros) > 0:
		m := w.macros[w.Intn(len(w.macros))]
		if m.name == "" {
			return
		}
		a := fmt.Sprintf("r%d", w.Intn(w.pickInt(8, 10)))
		x, y := w.number(w.Intn(w.pickInt(5, 300)))
		w.labels++
		l := fmt.Sprintf("%sl%d", w.id, w.labels-1)
		switch w.Intn(3) {
		case 0:
			w.put("", m.name+" "+l+", "+a, m.name+" "+l+","+a+",|")
		default:
			w.put("", m.name+" "+l+", "+a+", "+x, m.name+" "+l+", "+a+", "+y)
		}
		w.odd = true
	case k == 36 && !w.inside && w.depth == 0:
		w.define()
	case k == 37 && !w.inside && w.depth == 0 && w.state.arch == "armv4t":
		w.mode()
	default:
		w.instruction()
	}
}

// params writes statements that have no parameters to use.
func (w *trio) params() {
	for range 1 + w.Intn(2) {
		a, b := w.number(w.Intn(30))
		if w.Intn(2) == 0 {
			w.aligned(2)
			w.put("", ".hword "+a+"+"+w.consts[len(w.consts)-1], "DCW "+b+"+"+w.consts[len(w.consts)-1])
		} else {
			w.put("", ".byte "+w.consts[len(w.consts)-1], "DCB "+w.consts[len(w.consts)-1])
		}
	}
}

func (w *trio) body(n int) {
	w.depth++
	for range n {
		w.step()
	}
	w.depth--
}

func (w *trio) define() {
	defer func(odd bool) { w.odd = odd }(w.odd)
	n := fmt.Sprintf("%sm%d", w.id, w.defined)
	w.defined++
	w.put("", "", "MACRO")
	w.put("", ".macro "+n+" name, a, b=7", n+" $name, $a, $b=7")
	w.macros = append(w.macros, trioMacro{}) // not callable in itself
	w.inside = true
	w.put(`\name\()`, "", "")
	w.out[syntax.Columns][len(w.out[syntax.Columns])-1] = "$name."
	w.body(1 + w.Intn(4))
	if w.Intn(2) == 0 {
		w.aligned(w.codeUnit())
		w.put("8", "sub"+w.s()+` \a, \a, #1`, "sub"+w.s()+" $a, $a, #1")
		w.put("", "bne 8b", "BNE "+w.pick("%B8", "%BT8", "%8"))
	}
	w.inside = false
	w.put("", ".endm", "MEND")
	w.macros[len(w.macros)-1].name = n
}

func (w *trio) s() string {
	if w.state.divided {
		return ""
	}
	return "s"
}

func (w *trio) codeUnit() int {
	if w.state.a32 {
		return 4
	}
	return 2
}

func (w *trio) mode() {
	w.macros = nil // they align their code as it is now
	switch w.Intn(3) {
	case 0:
		w.put("", ".thumb; .syntax unified", "THUMB")
		w.state.a32, w.state.divided = false, false
	case 1:
		w.put("", ".arm; .syntax unified", w.pick("ARM", "CODE32"))
		w.state.a32, w.state.divided = true, false
	default:
		w.put("", ".thumb; .syntax divided", "CODE16")
		w.state.a32, w.state.divided = false, true
	}
	// In the dialect with ';' comments the two are in two lines.
	semi := &w.out[syntax.Semicolon]
	first, second, _ := strings.Cut((*semi)[len(*semi)-1], ";")
	second, _, _ = strings.Cut(second, ";")
	(*semi)[len(*semi)-1] = first
	*semi = append(*semi, "\t"+strings.TrimSpace(second))
	w.out[syntax.Dots] = append(w.out[syntax.Dots], "")
	w.out[syntax.Columns] = append(w.out[syntax.Columns], "")
	w.odd = true
}

// trioProgram writes a program in the three dialects.
func trioProgram(seed int, arch string) [3][]string {
	w := &trio{Rand: rand.New(rand.NewSource(int64(seed))), id: fmt.Sprintf("p%d", seed), state: trioState{arch: arch}, local: map[string]int{}, first: 1000 * (seed + 1)}
	w.put("", ".section .text."+w.id+",\"ax\"", "AREA |.text."+w.id+"|, CODE, READONLY")
	w.mode()
	for w.state.arch != "armv4t" && (w.state.a32 || w.state.divided) {
		for d := range w.out {
			w.out[d] = w.out[d][:1]
		}
		w.mode()
	}
	w.put("", ".global "+w.id+"l0", w.pick("EXPORT ", "GLOBAL ")+w.id+"l0")
	w.put(w.id+"l0", "", "")
	w.labels = 1
	w.put("1", "", "")
	w.define()
	for range 10 + w.Intn(25) {
		w.step()
	}
	w.put("1", "", "")
	w.put("", ".section .text."+w.id+",\"ax\"", "AREA |.text."+w.id+"|, CODE, READONLY")
	w.section = ""
	w.put("1", "", "")
	return w.out
}

// TestDialectLayout writes random programs in the three dialects. The reference
// assembler judges the one with dots; the others have to come to the same: the
// lines that are refused, with the same findings, and the places of all labels.
// With NARROWGAUGE_THOROUGH=1 there are 20,000 programs.
func TestDialectLayout(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	n, batch, from := reftest.Count(180, 800, 20_000), 60, reftest.Seed(0)
	taken, refused, labels := 0, 0, 0
	for first := from; first < from+n && !t.Failed(); first += batch {
		arch := []string{"armv4t", "armv4t", "armv7-m"}[first/batch%3]
		var programs [][3][]string
		for seed := first; seed < first+batch; seed++ {
			programs = append(programs, trioProgram(seed, arch))
		}
		for !t.Failed() {
			var all []string
			var at []int
			for _, p := range programs {
				at = append(at, len(all))
				all = append(all, p[syntax.Dots]...)
			}
			ref := reftest.AssembleFile(t, reftest.Options{Arch: arch, Thumb: arch != "armv4t"}, strings.Join(all, "\n")+"\n")
			bad := map[int]string{}
			results := make([]*Result, len(programs))
			for i, p := range programs {
				var r [3]*Result
				var found [3]map[int]string
				for d := syntax.Dots; d <= syntax.Columns; d++ {
					text := strings.Join(p[d], "\n") + "\n"
					f := syntax.ParseAs(text, d)
					if got, _ := syntax.Detect(text); got != d && !(d == syntax.Semicolon && got == syntax.Dots) {
						t.Errorf("seed %d: %v is taken for %v\n%s", first+i, d, got, text)
					}
					var err error
					if r[d], err = Analyze(context.Background(), &Input{Path: "box.s", File: f, Set: &Settings{Arch: arch}}); err != nil {
						t.Fatal(err)
					}
					found[d] = map[int]string{}
					for _, x := range r[d].Each() {
						if x.Severity == finding.Error {
							l := f.LineAt(x.Span.Start)
							for d == syntax.Columns && l > 0 && strings.HasSuffix(p[d][l-1], `\`) {
								l-- // the dots have the statement in one line
							}
							found[d][l+1] = x.Code
						}
					}
				}
				results[i] = r[syntax.Dots]
				for l, c := range found[syntax.Dots] {
					bad[at[i]+l] = c
				}
				for d := syntax.Semicolon; d <= syntax.Columns; d++ {
					same := maps.Equal(found[d], found[syntax.Dots])
					if !same {
						for l := range p[d] {
							if found[d][l+1] != found[syntax.Dots][l+1] {
								t.Errorf("seed %d line %d: %q for %q, but %q for %q", first+i, l+1, found[d][l+1], p[d][l], found[syntax.Dots][l+1], p[syntax.Dots][l])
							}
						}
					}
					for name, s := range r[syntax.Dots].prog.Symbols {
						o := r[d].prog.SymbolOf(name)
						if s.Label && (o == nil || o.Value.N != s.Value.N || r[d].prog.Sections[o.Value.Section].Name != r[syntax.Dots].prog.Sections[s.Value.Section].Name) {
							t.Errorf("seed %d: %v puts %s elsewhere: %+v, with dots %+v", first+i, d, name, o, s.Value)
							same = false
						}
					}
					for _, s := range r[syntax.Dots].prog.Sections {
						if k, ok := r[d].section2(s.Name); ok && r[d].prog.Sections[k].Size != s.Size {
							t.Errorf("seed %d: %v gives %s %d bytes, dots %d", first+i, d, s.Name, r[d].prog.Sections[k].Size, s.Size)
							same = false
						}
					}
					if !same {
						t.Log("\n" + strings.Join(p[syntax.Dots], "\n") + "\n\n" + strings.Join(p[d], "\n"))
						return
					}
				}
			}
			// A line that the reference refuses at once takes no room, and moves
			// what is after it: only when no line is refused by both, the
			// rest has to be the same.
			var both []int
			for _, l := range slices.Compact(slices.Sorted(slices.Values(ref.ErrorLines))) {
				if bad[l] != "" {
					both = append(both, l)
				}
			}
			if len(both) == 0 {
				sameVerdicts(t, first, all, bad, ref.ErrorLines)
				if t.Failed() {
					return
				}
			}
			if len(both) > 0 {
				refused += len(both)
				for _, l := range both {
					i, _ := slices.BinarySearch(at, l)
					k := l - 1 - at[i-1]
					p := &programs[i-1]
					if c := p[syntax.Columns]; strings.HasSuffix(c[k], `\`) {
						c[k+1] = ""
					}
					for d := range p {
						p[d][k] = ""
					}
					// What aligned itself is gone: the alignment stays.
					if n, ok := strings.CutPrefix(p[syntax.Dots][k-1], "\t.balign "); ok && p[syntax.Columns][k-1] == "" {
						p[syntax.Columns][k-1] = "\tALIGN " + n
					}
				}
				continue
			}
			for i := range programs {
				taken++
				for _, s := range results[i].prog.Sections[1:] {
					// The reference fills a section with code up to a word, or a
					// halfword: that of the last code in it.
					if n := ref.Sizes[s.Name]; n < s.Size || n > (s.Size+3)&^3 {
						t.Errorf("seed %d: %s has %d bytes, reference %d", first+i, s.Name, s.Size, n)
					}
				}
				for name, s := range results[i].prog.Symbols {
					sym, ok := ref.Symbols[name]
					if !s.Label {
						continue
					}
					labels++
					if !ok || s.Value.N != int64(sym.Value) || results[i].prog.Sections[s.Value.Section].Name != sym.Section {
						t.Errorf("seed %d: %s at 0x%x, reference %s+0x%x", first+i, name, s.Value.N, sym.Section, sym.Value)
					}
				}
			}
			break
		}
	}
	proof.Counted("dialects: %d programs in three, lines refused by all %d, labels compared %d", taken, refused, labels)
	if taken < n || refused < n/2 || labels < 5*n {
		t.Errorf("the generator is lopsided")
	}
}

func (r *Result) section2(name string) (int, bool) {
	for i := range r.prog.Sections {
		if r.prog.Sections[i].Name == name {
			return i, true
		}
	}
	return 0, false
}
