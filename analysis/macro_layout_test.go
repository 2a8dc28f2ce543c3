package analysis

import (
	"context"
	"debug/elf"
	"fmt"
	"math/rand"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// writer makes a random program of macros, repetitions, conditionals, includes,
// data, expressions and code.
type writer struct {
	*rand.Rand
	b        strings.Builder
	unified  bool
	a32      bool
	labels   int
	macros   []written // those that can be called
	serial   int
	files    map[string]string
	included int
	depth    int
	names    []string // what is for numbers besides: macros of the preprocessor
}

// written is a macro of the program.
type written struct {
	name     string
	params   []string
	need     int // so many have to be given
	rest     bool
	anywhere bool // may be in a repetition: defines no labels
}

func (w *writer) f(format string, args ...any) { fmt.Fprintf(&w.b, format, args...) }

func (w *writer) pick(list ...string) string { return list[w.Intn(len(list))] }

// number is a number or symbol of the program.
func (w *writer) number() string {
	if len(w.names) > 0 && w.Intn(2) == 0 {
		return w.pick(w.names...)
	}
	return w.pick("0", "1", "2", "3", "5", "v0", "v1", "7")
}

func (w *writer) align() {
	if w.a32 {
		w.f("\t.balign 4\n")
	} else {
		w.f("\t.balign 2\n")
	}
}

// code writes an instruction with a register and a constant.
func (w *writer) code(reg, constant string) {
	s := ""
	if w.unified && !w.a32 {
		s = "s"
	}
	switch w.Intn(5) {
	case 0:
		w.f("\tmov%s %s, #%s\n", s, reg, constant)
	case 1:
		w.f("\tadd%s %s, #%s\n", s, reg, constant)
	case 2:
		w.f("\tldr %s, =%s\n", reg, constant)
	case 3:
		w.f("\tcmp %s, #%s\n", reg, constant)
	default:
		w.f("\tldr %s, =lab%d\n", reg, w.Intn(w.labels+2))
	}
}

// value writes an expression over a parameter or number.
func (w *writer) value(x string) string {
	return w.pick(x, x+"+1", "("+x+")*2", x+"<<1", "1+"+x, "v0+"+x, x+"&15", "-"+x+"+"+x, x+"==3", x+" + v1")
}

// line writes a statement about x, which is a number or a parameter.
func (w *writer) line(x string, labels bool) {
	switch w.Intn(13) {
	case 0:
		w.f("\t.byte %s, %s\n", w.value(x), w.value(x))
	case 1:
		w.f("\t.hword %s\n", w.value(x))
	case 2:
		w.f("\t.word %s, 0x%x\n", w.value(x), w.Uint32())
	case 3:
		w.f("\t.space %s\n", w.pick(x, x+"&7", "3", "("+x+"&3)*2"))
	case 4:
		w.f("\t.if %s\n\t.byte 1\n\t.else\n\t.hword 2\n\t.endif\n", w.pick(x+">2", x+"==1", x+"&1", x+"-3", "v0>"+x))
	case 5:
		w.f("\t.asciz \"%s\"\n", w.pick(x, "gate "+x, x+"-"+x))
	case 6:
		w.align()
		w.f("1:\n")
		w.code(fmt.Sprintf("r%d", w.Intn(8)), x)
		w.f("\tb%s 1%s\n", w.pick("eq", "ne", ""), w.pick("b", "b", "f"))
	case 7:
		w.f("\t.set v%d, v%d+%s\n", w.Intn(3), w.Intn(3), w.pick("1", x+"&7", "2"))
	case 8:
		if labels {
			w.f("here\\@:\t.word here\\@\n")
		} else {
			w.f("\t.fill %s&3, %d, 7\n", x, 1+w.Intn(4))
		}
	case 9:
		w.f("\t.ifc %s,%s\n\t.byte 9\n\t.endif\n", x, w.pick("1", "2", x, "a b"))
	default:
		w.align()
		w.code(fmt.Sprintf("r%d", w.Intn(8)), w.pick(x, x+"*16", x+"+250", "17"))
	}
}

// define writes the definition of a macro.
func (w *writer) define() {
	w.serial++
	m := written{name: fmt.Sprintf("%s%d", w.pick("point", "Signal", "_track", "gate.", ".lamp"), w.serial)}
	var head []string
	for i, n := 0, w.Intn(4); i < n; i++ {
		p := w.pick("a", "B", "num", "reg") + fmt.Sprint(i)
		m.params = append(m.params, p)
		switch {
		case m.need == i && w.Intn(3) == 0:
			m.need++
			p += ":req"
		case w.Intn(3) == 0:
			p += "=" + fmt.Sprint(w.Intn(9))
		default:
			p += "=1"
		}
		head = append(head, p)
	}
	if w.Intn(4) == 0 {
		m.rest = true
		head = append(head, "rest:vararg")
	}
	w.f("\t.%s %s %s\n", w.pick("macro", "macro", "MACRO"), m.name, strings.Join(head, w.pick(", ", " ", " ,")))
	x := func() string {
		if len(m.params) == 0 || w.Intn(6) == 0 {
			if len(w.names) > 0 && w.Intn(3) > 0 {
				return w.pick(w.names...)
			}
			return fmt.Sprint(w.Intn(9))
		}
		return "\\" + m.params[w.Intn(len(m.params))]
	}
	m.anywhere = w.Intn(2) == 0
	for i, n := 0, 1+w.Intn(4); i < n; i++ {
		switch k := w.Intn(12); {
		case k < 6:
			w.line(x(), !m.anywhere)
		case k == 6 && len(w.macros) > 0:
			in := w.macros[w.Intn(len(w.macros))]
			if in.anywhere || !m.anywhere {
				w.call(in, x)
			}
		case k == 7:
			w.f("\t.rept %s&3\n", x())
			w.line(x(), false)
			w.f("\t.endr\n")
		case k == 8:
			w.f("\t.irp q, %s, 4, %s\n", x(), x())
			w.line("\\q", false)
			w.f("\t.endr\n")
		case k == 9 && m.rest:
			w.f("\t.irp q, \\rest\n\t.ifnb \\q\n")
			w.f("\t.byte \\q\n")
			w.f("\t.endif\n\t.endr\n")
		case k == 10:
			w.f("\t.if %s > 4\n\t.exitm\n\t.endif\n", x())
		case k == 11 && !m.anywhere && len(m.params) > 0:
			p := "\\" + m.params[0]
			w.f("\t.ifb %s\n\t.byte 1\n\t.else\ntag\\@_%s:\n\t.byte %s\n\t.word tag\\@_%s\n\t.endif\n", p, "\\()x", p, "\\()x")
		default:
			w.f("\t.ifndef seen%d\n\t.set seen%d, 1\n\t.byte %s\n\t.endif\n", w.serial, w.serial, x())
		}
	}
	w.f("\t.endm\n")
	w.macros = append(w.macros, m)
}

// call writes a call, mostly a right one.
func (w *writer) call(m written, x func() string) {
	var args []string
	n := m.need
	if len(m.params) > n {
		n += w.Intn(len(m.params) - n + 1)
	}
	for i := 0; i < n; i++ {
		a := x()
		switch w.Intn(10) {
		case 0:
			a = `"` + a + `"`
		case 1:
			a = "(" + a + " + 1)"
		case 2:
			a += " + 1"
		case 3:
			if i >= m.need {
				a = ""
			}
		}
		args = append(args, a)
	}
	if w.Intn(5) == 0 {
		// By name from some argument on.
		for i := w.Intn(n + 1); i < n; i++ {
			if args[i] == "" {
				args[i] = "2"
			}
			args[i] = m.params[i] + "=" + strings.ReplaceAll(args[i], " ", "")
		}
	} else if m.rest && n == len(m.params) {
		for i := w.Intn(4); i > 0; i-- {
			args = append(args, fmt.Sprint(w.Intn(20)))
		}
	}
	if w.Intn(60) == 0 && !m.rest {
		args = append(args, "1", "2", "3")
	}
	name := m.name
	if w.Intn(6) == 0 {
		name = strings.ToUpper(name)
	}
	w.f("\t%s %s\n", name, strings.Join(args, w.pick(", ", ",", " , ")))
}

// body writes n statements of the program.
func (w *writer) body(n int) {
	number := w.number
	w.depth++
	for i := 0; i < n; i++ {
		switch k := w.Intn(26); {
		case k < 2 && w.depth < 3:
			w.define()
		case k < 11 && len(w.macros) > 0:
			w.call(w.macros[w.Intn(len(w.macros))], number)
		case k == 11:
			w.f("lab%d:\n", w.labels)
			w.labels++
		case k == 12 && w.depth < 3:
			w.f("\t.if v%d > %d\n", w.Intn(3), w.Intn(60))
			w.body(1 + w.Intn(3))
			if w.Intn(2) == 0 {
				w.f("\t.else\n")
				w.body(1 + w.Intn(3))
			}
			w.f("\t.endif\n")
		case k == 13:
			w.f("\t.rept %s\n", w.pick("2", "3", "v0&3", "0"))
			w.line(number(), false)
			for _, m := range w.macros {
				if m.anywhere && w.Intn(3) == 0 {
					w.call(m, number)
				}
			}
			w.f("\t.endr\n")
		case k == 14:
			w.f("\t.irp q, %s, %s\n", number(), w.pick("3", "4, 5", "(1 + 1)", `"6"`))
			w.line("\\q", false)
			w.f("\t.endr\n")
		case k == 15:
			w.f("\t.irpc c, %s\n", w.pick("123", "0 4", `"75"`))
			w.line("\\c", false)
			w.f("\t.endr\n")
		case k == 16 && w.depth < 2:
			name := fmt.Sprintf("part%d.inc", w.included)
			w.included++
			save, names := w.b, w.names
			w.b, w.names = strings.Builder{}, nil // no preprocessor reads it
			w.f("\t.word lab0\n")
			w.f("inc%d:\n", w.included)
			w.define()
			w.f("\t.irp q, 1, 2\n\t.byte \\q\n\t.endr\n\t.balign 4\n")
			w.files[name] = w.b.String()
			w.b, w.names = save, names
			w.f("\t.include \"%s\"\n", name)
		case k == 17 && len(w.macros) > 1:
			i := w.Intn(len(w.macros))
			w.f("\t.purgem %s\n", w.macros[i].name)
			if w.Intn(2) == 0 {
				w.macros = append(w.macros[:i:i], w.macros[i+1:]...)
			} else {
				w.f("\t.macro %s x:vararg\n\t.hword 5\n\t.endm\n", w.macros[i].name)
				w.macros[i] = written{name: w.macros[i].name, rest: true, anywhere: true}
			}
		case k == 18:
			w.f("\t.section .%s\n", w.pick("rodata", "mine", "text"))
		case k == 19:
			w.align()
			w.f("\t.ltorg\n")
		case k == 20:
			// The other dialect.
			w.serial++
			w.f("\t.altmacro\n\t.macro alt%d x, y\n\tLOCAL l\n\t.byte x, y\n\t.balign 4\nl:\t.word l+y\n\t.endm\n", w.serial)
			w.f("\talt%d %%v0&7, %s\n\talt%d <3>,%%(1+2)*%d\n\t.noaltmacro\n", w.serial, number(), w.serial, w.Intn(5))
		case k == 21:
			w.serial++
			w.f("\t.macro down%d n\n\t.if \\n\n\t.byte \\n\n\tdown%d \"(\\n-1)\"\n\t.endif\n\t.endm\n\tdown%d %d\n", w.serial, w.serial, w.serial, w.Intn(12))
		case k == 22:
			w.align()
			w.f("\tb lab%d\n", w.Intn(w.labels+2))
		default:
			w.line(number(), false)
		}
	}
	w.depth--
}

// macroProgram is a program with the files that it includes.
func macroProgram(r *rand.Rand, unified, a32 bool) (string, map[string]string) {
	w := &writer{Rand: r, unified: unified, a32: a32, files: map[string]string{}}
	if unified {
		w.f("\t.syntax unified\n")
	}
	if !a32 {
		w.f("\t.thumb\n")
	}
	w.f("\t.set v0, 7\n\t.set v1, 40\n\t.set v2, 3\n")
	w.labels = 1
	w.f("lab0:\n")
	w.define()
	w.define()
	w.body(15 + r.Intn(30))
	w.f("\t.text\n1:\n")
	return w.b.String(), w.files
}

// TestMacroLayout compares random programs with the reference assembler: the
// place of every label where it takes the program, the lines with errors
// where not. With NARROWGAUGE_THOROUGH=1 there are 6,000.
func TestMacroLayout(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	n, first := reftest.Count(20, 300, 6000), reftest.Seed(0)
	taken, refused, labels, made := 0, 0, 0, 0
	for seed := first; seed < first+n; seed++ {
		r := rand.New(rand.NewSource(int64(seed)))
		text, files := macroProgram(r, seed%2 == 0, seed%3 == 0)
		dir := t.TempDir()
		for name, text := range files {
			if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		load := func(w assemble.Wanted) (string, *syntax.File, bool) {
			text, ok := files[w.Name]
			return w.Name, syntax.Parse(text), ok
		}
		lines := strings.Split(text, "\n")
		for {
			text = strings.Join(lines, "\n")
			ref := reftest.AssembleFile(t, reftest.Options{Arch: "armv4t", Flags: []string{"-I", dir}}, text)
			res, err := Analyze(context.Background(), &Input{Path: "test.s", File: syntax.Parse("\t.arch armv4t\n" + text), Load: load})
			if err != nil {
				t.Fatal(err)
			}
			bad := map[int]string{}
			for _, d := range res.Each() {
				if d.Severity == finding.Error && d.Path == "test.s" {
					bad[res.in.File.LineAt(d.Span.Start)] = d.Code + ": " + d.Message
				}
			}
			both := sameVerdicts(t, seed, lines, bad, ref.ErrorLines)
			if !ref.OK && len(bad) == 0 {
				t.Errorf("seed %d: refused without a line", seed)
			}
			if len(both) > 0 && !t.Failed() {
				refused += len(both)
				for _, l := range both {
					lines[l-1] = ""
				}
				continue
			}
			taken++
			made += res.expanded()
			labels += sameSymbols(t, seed, res, &ref)
			break
		}
		if t.Failed() {
			t.Log("\n"+text, files)
			return
		}
	}
	proof.Counted("macros: programs %d, statements of expansions %d, lines refused by both %d, labels compared %d", taken, made, refused, labels)
	if labels < 2*n || refused < n/10 || made < 20*n {
		t.Errorf("the generator is lopsided: %d labels, %d refused, %d statements", labels, refused, made)
	}
}

// sameSymbols compares the values of the program's symbols with the
// reference's, and counts those that are places.
func sameSymbols(t *testing.T, seed int, res *Result, ref *reftest.File) (labels int) {
	t.Helper()
	for name, sym := range ref.Symbols {
		s := res.prog.SymbolOf(name)
		if s == nil || !s.Defined {
			if sym.Section != "" && sym.Section != "*ABS*" {
				t.Errorf("seed %d: %s is not known", seed, name)
			}
			continue
		}
		if s.Value.Kind == program.Number && sym.Section == "*ABS*" && uint32(s.Value.N) != sym.Value {
			t.Errorf("seed %d: %s = %d, reference %d", seed, name, s.Value.N, sym.Value)
		}
		if s.Value.Kind != program.Address {
			continue
		}
		labels++
		n := s.Value.N
		if sym.Type == elf.STT_FUNC && sym.Thumb {
			n &^= 1 // the bit that says so hides an odd address
		}
		if got := res.prog.Sections[s.Value.Section].Name; got != sym.Section || n != int64(sym.Value) {
			t.Errorf("seed %d: %s at %s+0x%x, reference %s+0x%x", seed, name, got, s.Value.N, sym.Section, sym.Value)
		}
	}
	return labels
}

// expanded counts the statements that expansions made.
func (r *Result) expanded() (n int) {
	for i := range r.prog.Items {
		if r.prog.Sources[r.prog.Items[i].File].Expansion != nil {
			n++
		}
	}
	return n
}

// TestExpressions compares the values of random expressions over numbers and
// symbols with the reference's.
func TestExpressions(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	r := rand.New(rand.NewSource(4))
	var b strings.Builder
	b.WriteString("\t.set a, 7\n\t.set b, -3\n")
	n := 1500
	for i := range n {
		fmt.Fprintf(&b, "\t.set e%d, ", i)
		for k, m := 0, 2+r.Intn(4); k < m; k++ {
			if k > 0 {
				b.WriteString([]string{"+", " - ", "*", "<<", ">>", "&", "|", "^", "==", "<>", "<", ">", ">=", "<=", "&&", "||", "!=", "!"}[r.Intn(18)])
			}
			b.WriteString([]string{"", "", "", "-", "~", "!"}[r.Intn(6)] + []string{"a", "b", "0", "1", "2", "5", "(a-2)", "0x10"}[r.Intn(8)])
		}
		b.WriteString("\n")
	}
	text := b.String()
	ref := reftest.AssembleFile(t, reftest.Options{Arch: "armv4t"}, text)
	if !ref.OK {
		t.Fatal("refused lines", ref.ErrorLines)
	}
	res := analyze(t, nil, text)
	lines := strings.Split(text, "\n")
	for i := range n {
		name := fmt.Sprintf("e%d", i)
		if s := res.prog.SymbolOf(name); s == nil || s.Value.Kind != program.Number || uint32(s.Value.N) != ref.Symbols[name].Value {
			t.Errorf("%s: reference %d, here %+v", lines[i+2], int32(ref.Symbols[name].Value), s.Value.N)
		}
	}
}
