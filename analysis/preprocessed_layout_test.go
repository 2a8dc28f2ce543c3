package analysis

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"maps"
	"math/rand"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// preprocessedWriter makes a random program for the preprocessor and the
// assembler: what writer makes, with macros, conditions and includes of the
// preprocessor in between, and comments and continued lines.
type preprocessedWriter struct {
	*writer
	calls   []func() string // uses of macros of the preprocessor that make statements
	headers []string        // those that may be included
	level   int             // of conditions and headers
	forced  bool            // one instruction set is all there is
}

// inside runs f on an empty text, and returns what f wrote.
func (w *preprocessedWriter) inside(f func()) string {
	save := w.b
	w.b = strings.Builder{}
	f()
	text := w.b.String()
	w.b = save
	return text
}

// scoped runs f and forgets what it defined: it may not be assembled.
func (w *preprocessedWriter) scoped(f func()) {
	macros, names, calls, headers := slices.Clone(w.macros), slices.Clone(w.names), slices.Clone(w.calls), slices.Clone(w.headers)
	w.level++
	f()
	w.level--
	w.macros, w.names, w.calls, w.headers = macros, names, calls, headers
}

// decorated writes what f writes, with comments, continued lines and lines of
// the preprocessor put in.
func (w *preprocessedWriter) decorated(f func()) {
	for line := range strings.Lines(w.inside(f)) {
		line = strings.TrimSuffix(line, "\n")
		if strings.ContainsAny(line, "\"'") || strings.HasPrefix(line, "#") || strings.HasSuffix(line, "\\") || strings.Contains(line, "*/") {
			w.f("%s\n", line)
			continue
		}
		name := w.pick("K1", "stop", "__LINE__", "LOAD1(")
		switch w.Intn(30) {
		case 0:
			line += " @ don't " + w.pick(name, "/* no */", "// no")
		case 1:
			line += " // it's " + name
		case 2:
			line += " /* " + name + " */"
		case 3:
			line += " /* over\n\t" + name + " lines */"
		case 4:
			line = strings.Replace(line, ", ", ", \\\n\t\t", 1)
		case 5:
			line = strings.Replace(line, ", ", w.pick(", /* "+name+" */ ", "/**/, "), 1)
		case 6:
			line += "\n#if 0\n\tno \"line's " + name + "\n#endif"
		case 7:
			line += "\n# ifdef __arm__ /* " + name + " */\n# comment\n#endif"
		case 8:
			line += "\n# a comment's " + name
		case 9:
			line = "/* " + name + " */ " + line
		case 10:
			line = strings.Replace(line, "\t", "\t\\\n ", 1)
		}
		w.f("%s\n", line)
	}
}

// condition is an expression after #if.
func (w *preprocessedWriter) condition(depth int) string {
	if depth == 0 {
		known := "K0"
		if len(w.names) > 0 {
			known = w.pick(w.names...)
		}
		return w.pick(known, known, "NOWHERE", "0", "1", "3", "0x10", "defined("+known+")", "defined LAMPS", "defined __thumb__", "__ARM_ARCH",
			"defined __thumb2__", "__ARM_ARCH_ISA_THUMB", "__ASSEMBLER__", "defined __ARM_ARCH_7M__", "defined __ARM_ARCH_6M__", "__ARM_ARCH_PROFILE == 'M'",
			"(__ARM_ARCH >= 7)", "defined(__ARM_32BIT_STATE)", "__ARM_FEATURE_CLZ")
	}
	switch w.Intn(6) {
	case 0:
		return "!" + "(" + w.condition(depth-1) + ")"
	case 1:
		return "(" + w.condition(depth-1) + ")"
	}
	return w.condition(depth-1) + w.pick(" + ", " - ", "*", " << ", " == ", " != ", " > ", " <= ", " & ", " | ", " && ", " || ", " ^ ") + w.condition(depth-1)
}

// constant defines a macro that means a number.
func (w *preprocessedWriter) constant() {
	old := "2"
	if len(w.names) > 0 {
		old = w.pick(w.names...)
	}
	w.serial++
	name := fmt.Sprintf("%s%d", w.pick("K", "LAMP", "track_"), w.serial)
	value := w.pick(fmt.Sprint(w.Intn(9)), fmt.Sprint(w.Intn(260)), fmt.Sprintf("0x%x", w.Intn(40)), old, "("+old+" + 1)", "("+old+"&7)", "(1 << 2)", "(3*\\\n\t1)", "4 /* of them */", "2 // two", "(v0 & 3)")
	w.f("#define %s %s\n", name, value)
	if !strings.Contains(value, "v0") {
		w.names = append(w.names, name)
	}
}

// number of a use: sometimes with blanks around.
func (w *preprocessedWriter) arg() string {
	n := w.number()
	return w.pick(n, n, n, " "+n+" ", "("+n+"+1)", n+"/**/")
}

// function defines a macro with parameters, and says how it is used.
func (w *preprocessedWriter) function() {
	w.serial++
	n := w.serial
	s := ""
	if w.unified && !w.a32 {
		s = "s"
	}
	reg := func() string { return fmt.Sprintf("r%d", w.Intn(8)) }
	hash := func() string { return w.pick("#", "#", "HASH ") }
	aligned := func(f func() string) func() string {
		return func() string {
			return w.inside(func() { w.align() }) + f()
		}
	}
	switch w.Intn(11) {
	case 0:
		w.f("#define SET%d(r, v) mov%s r, v\n", n, s)
		w.calls = append(w.calls, aligned(func() string { return fmt.Sprintf("\tSET%d(%s, %s%s)\n", n, reg(), hash(), w.arg()) }))
	case 1:
		w.f("#define PAIR%d(r, v) mov%s r, v ; \\\n\tadd%s r, v\n", n, s, s)
		w.calls = append(w.calls, aligned(func() string { return fmt.Sprintf("\tPAIR%d(%s, \\\n\t%s%s)\n", n, reg(), hash(), w.arg()) }))
	case 2:
		w.f("#define ENTRY%d(a, b) .byte a, b\n", n)
		w.calls = append(w.calls, func() string { return fmt.Sprintf("\tENTRY%d (%s,%s)\n", n, w.arg(), w.arg()) })
	case 3:
		w.f("#define WORDS%d(%s) .word %s\n", n, w.pick("x...", "x ..."), w.pick("x", "2, ##x"))
		w.calls = append(w.calls, func() string { return fmt.Sprintf("\tWORDS%d(%s, %s\n\t)\n", n, w.arg(), w.arg()) })
	case 4:
		w.f("#define CAT%d(a, b) a##b\n#define LABEL%d(x) CAT%d(place_, x): .word CAT%d(place_, x)\n", n, n, n, n)
		w.calls = append(w.calls, func() string { w.serial++; return fmt.Sprintf("LABEL%d(%d)\n", n, w.serial) })
	case 5:
		w.f("#define STR%d_(x) #x\n#define STR%d(x) STR%d_(x)\n", n, n, n)
		w.calls = append(w.calls, func() string { return fmt.Sprintf("\t.asciz STR%d%s(gate %s)\n", n, w.pick("", "_"), w.number()) })
	case 6:
		if len(w.macros) > 0 {
			m := w.macros[w.Intn(len(w.macros))]
			w.f("#define CALL%d(v) %s v\n", n, m.name)
			w.calls = append(w.calls, func() string { return fmt.Sprintf("\tCALL%d(%s)\n", n, w.arg()) })
		}
	case 7:
		w.f("#define LOAD%d(r, v) ldr r, =v\n", n)
		w.calls = append(w.calls, aligned(func() string { return fmt.Sprintf("\tLOAD%d(%s, %s)\n", n, reg(), w.pick(w.arg(), "lab0", "0x12345")) }))
	case 8:
		func_ := ".type x, %function ; x:"
		if !w.a32 {
			func_ = ".thumb_func ; x:"
		}
		w.f("#define FUNC%d(x) .global x ; %s\n", n, func_)
		w.calls = append(w.calls, aligned(func() string {
			w.serial++
			return fmt.Sprintf("FUNC%d(turn_%d)%s\n", n, w.serial, w.pick("", " bx lr", "\n\tbx lr"))
		}))
	case 9:
		if len(w.calls) > 0 {
			w.f("#define TWICE%d(x) x ; x\n", n)
			w.calls = append(w.calls, aligned(func() string {
				return fmt.Sprintf("\tTWICE%d(%s)\n", n, w.pick("nop", "add"+s+" r1, #"+w.arg(), ".word "+w.number()))
			}))
		}
	default:
		w.f("#define PIN%d(n) ((n) + %s)\n", n, w.number())
		w.names = append(w.names, fmt.Sprintf("PIN%d(%d)", n, w.Intn(5)))
	}
}

// use writes a statement by a macro of the preprocessor.
func (w *preprocessedWriter) use() {
	if len(w.calls) == 0 {
		w.line(w.number(), false)
		return
	}
	w.b.WriteString(w.calls[w.Intn(len(w.calls))]())
}

// wide writes an instruction with an operand that has a field of its own.
func (w *preprocessedWriter) wide() {
	w.align()
	k := w.number()
	s := ""
	if w.unified && !w.a32 {
		s = "s"
	}
	w.f("\t%s\n", w.pick(
		"ldr r0, [r1, #"+k+"*4]", "strb r2, [r3, #"+k+"]", "ldrh r4, [r5, #"+k+"]", "lsl"+s+" r0, r1, #"+k, "add sp, #"+k+"*4", "add"+s+" r0, r1, #"+k,
		"sub"+s+" r0, #"+k, "str r1, [sp, #"+k+"*4]", "ldr r0, lab0", "svc #"+k, "push {r4, lr}", "and"+s+" r0, r0, #"+k, "movw r0, #"+k, "mov r8, #"+k, "clz r0, r1", "blx r3",
		"it eq ; moveq r0, #"+k, "cmp r0, #"+k+" ; beq lab0", "adr r0, lab0", "bl lab1", "ldr r1, =lab0+"+k))
}

// header makes a file to be included.
func (w *preprocessedWriter) header() {
	w.serial++
	name := fmt.Sprintf("%s%d.h", w.pick("points", "signals", "lib/track"), w.serial)
	guard := w.Intn(4)
	text := w.inside(func() {
		switch guard {
		case 0:
			w.f("#pragma once\n")
		case 1, 2:
			w.f("/* made up */\n#ifndef H%d\n#define H%d\n", w.serial, w.serial)
		}
		id := w.serial
		if guard == 3 { // may be read again and again
			w.f("#undef AGAIN%d\n#define AGAIN%d %s\n", id, id, w.number())
			w.decorated(func() {
				for range 1 + w.Intn(3) {
					w.line(w.pick(w.number(), fmt.Sprintf("AGAIN%d", id)), false)
				}
			})
			return
		}
		w.level++
		for range 2 + w.Intn(5) {
			w.piece()
		}
		w.level--
		if guard != 0 {
			w.f("#endif // H%d\n", id)
		}
	})
	if w.Intn(8) == 0 {
		text = strings.TrimSuffix(text, "\n")
	}
	if w.Intn(8) == 0 {
		text = strings.ReplaceAll(text, "\n", "\r\n")
	}
	w.files[name] = text
	w.headers = append(w.headers, name)
	w.include(name)
}

func (w *preprocessedWriter) include(name string) {
	base := strings.TrimPrefix(name, "lib/")
	w.serial++
	switch {
	case base != name && w.Intn(2) == 0:
		w.f("#include <%s>\n", base)
	case w.Intn(6) == 0:
		w.f("#define WHERE%d \"%s\"\n#include WHERE%d\n", w.serial, base, w.serial)
	default:
		w.f("# include \"%s\" // it's\n", base)
	}
}

// piece writes some lines.
func (w *preprocessedWriter) piece() {
	switch k := w.Intn(24); {
	case k < 2:
		w.constant()
	case k < 4:
		w.function()
	case k < 7:
		w.decorated(w.use)
	case k == 7 && w.level < 3 && len(w.headers) < 5:
		w.header()
	case k == 8 && len(w.headers) > 0:
		w.include(w.headers[w.Intn(len(w.headers))])
	case k < 12 && w.level < 4:
		w.f("%s\n", w.pick("#if "+w.condition(2), "#if "+w.condition(2), "#if "+w.condition(1), "#ifdef "+w.pick("K1", "__thumb__", "LAMPS"), "#ifndef __thumb2__"))
		some := func() {
			w.scoped(func() {
				for range 1 + w.Intn(2) {
					w.piece()
				}
				if w.Intn(6) == 0 {
					w.f("#error no such lamp's here\n")
				}
			})
		}
		some()
		if w.Intn(3) == 0 {
			w.f("#elif %s\n", w.condition(2))
			some()
		}
		if w.Intn(2) == 0 {
			w.f("#else /* not */\n")
			some()
		}
		w.f("#endif\n")
	case k == 12:
		// Never assembled: nobody looks at it.
		w.f("#if 0\n#include \"nowhere.h\"\n\tit's nothing \"at all\n#error\n#if (\n#endif\n#endif\n")
	case k == 13:
		// A body that the preprocessor chooses.
		w.serial++
		name := fmt.Sprintf("blink%d", w.serial)
		w.f("\t.macro %s n, m=1\n#if %s\n", name, w.condition(2))
		w.decorated(func() { w.line("\\n", false); w.use2() })
		w.f("#else\n")
		w.decorated(func() { w.line("\\m", false) })
		w.f("#endif\n\t.endm\n")
		w.macros = append(w.macros, written{name: name, params: []string{"n", "m"}, need: 1, anywhere: true})
	case k == 14:
		// A condition of the assembler about a constant of the preprocessor.
		w.f("\t.if %s > %d\n", w.number(), w.Intn(5))
		w.scoped(w.piece)
		if w.Intn(2) == 0 {
			w.f("\t.else\n")
			w.scoped(w.piece)
		}
		w.f("\t.endif\n")
	case k == 15:
		w.f("\t.irp q, %s, %s\n", w.number(), w.number())
		w.decorated(func() { w.line("\\q", false); w.use2() })
		w.f("\t.endr\n")
	case k == 16:
		w.decorated(w.wide)
	case k == 17:
		w.decorated(func() { w.wide(); w.wide() })
	case k == 18 && w.level == 0:
		// The list is the file, its meaning the includer's.
		w.serial++
		name := fmt.Sprintf("list%d.h", w.serial)
		w.files[name] = fmt.Sprintf("ITEM(1, %s)\nITEM(2, (1, 2)) ITEM(3, x)\n", w.number())
		for range 1 + w.Intn(2) {
			w.f("#define ITEM(a, b) %s\n#include \"%s\"\n#undef ITEM\n", w.pick(".byte a;", ".hword a, a ;", "item_##a: .word item_##a;", ".asciz #b ;"), name)
		}
	case k == 19 && w.Intn(4) == 0 && len(w.headers) > 0:
		// Includes where a body or a condition of the assembler is open.
		w.serial++
		name := w.headers[w.Intn(len(w.headers))]
		switch w.Intn(4) {
		case 0:
			w.f("\t.if 0\n")
			w.include(name)
			w.f("\t.endif\n")
		case 1:
			w.f("\t.if %s\n", w.number())
			w.files[fmt.Sprintf("end%d.h", w.serial)] = "\t.byte " + w.number() + "\n\t.endif\n\t.byte 1\n"
			w.f("\t.byte 2\n#include \"end%d.h\"\n", w.serial)
		case 2:
			w.f("\t.macro whole%d\n\t.byte 2\n#include \"lines%d.h\"\n\t.byte 3\n\t.endm\n\twhole%d\n", w.serial, w.serial, w.serial)
			w.files[fmt.Sprintf("lines%d.h", w.serial)] = "\t.byte " + w.number() + "\n\t.hword 1 ; .word __LINE__\n"
		default:
			w.f("\t.rept 2\n\t.byte 2\n#include \"lines%d.h\"\n\t.byte 3\n\t.endr\n", w.serial)
			w.files[fmt.Sprintf("lines%d.h", w.serial)] = "\t.byte " + w.number() + "\n\t.hword 1 ; .word __LINE__\n"
		}
	case k == 20 && w.Intn(4) == 0:
		// What the preprocessor refuses.
		w.serial++
		w.f("#define TWO%d(a, b) .byte a, b\n\t%s\n", w.serial, strings.ReplaceAll(w.pick("TWO(1)", "TWO(1, 2, 3)", "TWO()", "TWO(1,\n\t2\n\t, 3)", "#if (1 + \n#endif", "#include \"gone.h\"", "#include", "#define 3 4", "#if K0 / 0\n#endif", "TWO + 1"), "TWO", fmt.Sprintf("TWO%d", w.serial)))
	case k == 21 && w.Intn(3) == 0:
		w.f("\t.word %s\n", w.pick("__LINE__", "__LINE__ + \\\n\t__LINE__", "__INCLUDE_LEVEL__, \\\n __LINE__", "__COUNTER__"))
	case k == 22 && w.Intn(4) == 0 && !w.forced:
		w.a32 = !w.a32
		w.f("\t%s\n", map[bool]string{true: w.pick(".arm", ".code 32"), false: ".thumb"}[w.a32])
		w.align()
	case k == 19 && w.Intn(4) == 0:
		w.f("%s\n", w.pick("#define LAMPS", "#undef LAMPS", "#define HASH #", "#warning lamps", "#ident \"lamps\"", "#pragma lamps"))
	default:
		w.decorated(func() { w.body(1 + w.Intn(2)) })
	}
}

// use2 writes a use of a macro that defines no label.
func (w *preprocessedWriter) use2() {
	w.f("\t.byte %s\n", w.arg())
}

// preprocessedProgram makes the files of a program: main.S and what it
// includes.
func preprocessedProgram(r *rand.Rand, unified, a32, forced bool) map[string]string {
	w := &preprocessedWriter{forced: forced, writer: &writer{Rand: r, unified: unified, a32: a32, files: map[string]string{}}}
	if r.Intn(4) > 0 {
		w.f("/* a program,\n   it's made up */\n")
	}
	w.f("#define HASH #\n#define K0 3\n#define K1 (K0 + 1)\n")
	w.names = []string{"K0", "K1"}
	w.f("\t.set v0, 7\n\t.set v1, 40\n\t.set v2, 3\n")
	w.labels = 1
	w.f("lab0:\n")
	w.define()
	w.header()
	w.function()
	for range 12 + r.Intn(16) {
		w.piece()
	}
	w.f("\t.text\n1:\n")
	text := w.b.String()
	if r.Intn(10) == 0 {
		text = strings.ReplaceAll(text, "\n", "\r\n")
	}
	w.files["main.S"] = text
	return w.files
}

// preprocessorError takes the place out of a line of the compiler's error
// output. The wording is left unread.
var preprocessorError = regexp.MustCompile(`^([^: ]+):(\d+):(?:\d+:)? (?:fatal )?error:`)

// lineMarker is what the preprocessor writes where another line follows.
var lineMarker = regexp.MustCompile(`^# (\d+) "([^"]*)"`)

// preprocessReference runs the reference preprocessor over main.S in a folder.
// places has the origin of every line of text; errors are those that it has
// found.
func preprocessReference(t *testing.T, dir, arch, mode, prelude string) (text string, places, bad []reftest.Place) {
	t.Helper()
	args := []string{"-E", "-w", "-x", "assembler-with-cpp", "-march=" + arch, "-m" + mode, "-mfloat-abi=soft", "-Ilib", "-I."}
	if prelude != "" {
		args = append(args, "-include", prelude)
	}
	cmd := exec.Command("arm-none-eabi-gcc", append(args, "main.S")...)
	cmd.Dir, cmd.Env = dir, append(os.Environ(), "LC_ALL=C")
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	for line := range strings.Lines(stderr.String()) {
		if m := preprocessorError.FindStringSubmatch(line); m != nil {
			n, _ := strconv.Atoi(m[2])
			bad = append(bad, reftest.Place{File: path.Clean(m[1]), Line: n})
		}
	}
	if err != nil && len(bad) == 0 {
		t.Fatalf("refused without a line: %s", &stderr)
	}
	var b strings.Builder
	at := reftest.Place{}
	for line := range strings.Lines(string(out)) {
		places = append(places, at)
		if m := lineMarker.FindStringSubmatch(line); m != nil {
			n, _ := strconv.Atoi(m[1])
			at = reftest.Place{File: path.Clean(m[2]), Line: n}
			b.WriteString("\n")
			continue
		}
		at.Line++
		b.WriteString(line)
	}
	return b.String(), places, bad
}

// TestPreprocessedLayout compares random programs of several files, through
// both preprocessors, with the reference assembler: the verdict on each line
// of each file, the place of every label, the sizes of sections. With
// NARROWGAUGE_THOROUGH=1 there are 5,000; NARROWGAUGE_SEED sets the first.
func TestPreprocessedLayout(t *testing.T) {
	t.Parallel()
	reftest.Require(t, "arm-none-eabi-as", "arm-none-eabi-gcc")
	proof := reftest.Begin(t)
	n, first := reftest.Count(12, 220, 5000), reftest.Seed(0)
	var c preprocessedCount
	failed := 0
	for seed := first; seed < first+n && failed < 5; seed++ {
		if !t.Run(fmt.Sprint(seed), func(t *testing.T) { c.compare(t, seed) }) {
			failed++
		}
	}
	proof.Counted("programs of several files: %d, %+v", n, c)
	if n >= 50 && failed == 0 && (c.labels < 2*n || c.refused < n/10 || c.inHeaders < n/10 || c.made < 10*n || c.changed < 10*n) {
		t.Error("the generator is lopsided")
	}
}

// preprocessedCount is what was compared.
type preprocessedCount struct {
	programs, lines, files int
	refused, inHeaders     int // lines, by both
	unplaced               int // times that the reference named no line
	labels                 int
	changed                int // lines with macros of the preprocessor
	made                   int // statements of expansions
	runs                   int
}

// compare compares one program.
func (c *preprocessedCount) compare(t *testing.T, seed int) {
	target := []struct {
		arch, mode string
		divided    bool
	}{
		{"armv4t", "thumb", true}, {"armv4t", "arm", true}, {"armv6-m", "thumb", false}, {"armv7-m", "thumb", false}, {"armv7-a", "arm", false}, {"armv7-a", "thumb", false},
		{"armv4t", "thumb", false}, {"armv4t", "arm", false},
	}[seed%8]
	a32 := target.mode == "arm"
	r := rand.New(rand.NewSource(int64(seed)))
	files := preprocessedProgram(r, !target.divided, a32, strings.HasSuffix(target.arch, "-m"))
	set := &Settings{Arch: target.arch, StartMode: target.mode, Syntax: "unified"}
	if target.divided {
		set.Syntax = "divided"
	}
	prelude := ""
	if seed%5 == 0 {
		prelude = "pre.h"
		set.Prelude = []string{prelude}
		files[prelude] = "#define PRE 3\n\t.macro before n\n\t.byte \\n, PRE\n\t.endm\n\t.hword 1\n"
		files["main.S"] += "\tbefore PRE + K0\n"
	}
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "lib"), 0o755); err != nil {
		t.Fatal(err)
	}
	// All lines of all files have numbers, from 1.
	names := slices.Sorted(maps.Keys(files))
	base := map[string]int{}
	var lines []string
	for _, name := range names {
		base[name] = len(lines)
		lines = append(lines, strings.SplitAfter(files[name], "\n")...)
	}
	load := func(w assemble.Wanted) (string, *syntax.File, bool) {
		for _, d := range []string{path.Dir(w.From), "lib", "."} {
			name := path.Join(d, w.Name)
			if text, ok := files[name]; ok {
				return name, syntax.Parse(text), true
			}
		}
		return "", nil, false
	}
	for round := 0; round < 60; round++ {
		for i, name := range names {
			end := len(lines)
			if i+1 < len(names) {
				end = base[names[i+1]]
			}
			files[name] = strings.Join(lines[base[name]:end], "")
			if err := os.WriteFile(filepath.Join(dir, name), []byte(files[name]), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		res, err := Analyze(context.Background(), &Input{Path: "main.S", File: syntax.Parse(files["main.S"]), Set: set, Load: load})
		if err != nil {
			t.Fatal(err)
		}
		// What several lines make together is in the first of them.
		firstOf, others := map[int]int{}, map[int][]int{}
		for i := range res.prog.Sources {
			if s := &res.prog.Sources[i]; s.Unit != nil {
				for k, line := range joinedLines(s) {
					a, b := base[s.Path]+line+1, base[s.Path]+k+1
					firstOf[b] = a
					if !slices.Contains(others[a], b) {
						others[a] = append(others[a], b)
					}
				}
			}
		}
		number := func(file string, line int) int {
			n := base[file] + line
			if a := firstOf[n]; a != 0 {
				n = a
			}
			return n
		}
		bad := map[int]string{}
		for _, d := range res.Each() {
			if d.Severity == finding.Error {
				bad[number(d.Path, syntax.Parse(files[d.Path]).LineAt(d.Span.Start)+1)] = d.Code + ": " + d.Message
			}
		}
		var refused []int
		text, places, wrong := preprocessReference(t, dir, target.arch, target.mode, prelude)
		for _, p := range wrong {
			refused = append(refused, number(p.File, p.Line))
		}
		var ref reftest.File
		if len(wrong) == 0 {
			ref = reftest.AssembleFile(t, reftest.Options{Arch: target.arch, Unified: !target.divided, Thumb: !a32, Flags: []string{"-I", dir}}, text)
			for _, l := range ref.ErrorLines {
				p := places[l-1]
				refused = append(refused, number(p.File, p.Line))
			}
			for _, p := range ref.Others {
				refused = append(refused, number(filepath.Base(p.File), p.Line))
			}
			if !ref.OK && len(refused) == 0 {
				// About the values of symbols in the end it names no line.
				c.unplaced++
				for l, m := range bad {
					if strings.HasPrefix(m, finding.CodeUndefined) || strings.HasPrefix(m, finding.CodeSyntax) {
						refused = append(refused, l)
					}
				}
				if len(refused) == 0 {
					t.Errorf("seed %d: refused without a line", seed)
				}
			}
		}
		c.runs++
		// What is wrong moves what is after, and hides things: what the
		// reference only refuses counts in the round without other errors.
		if agreed := slices.DeleteFunc(slices.Clone(refused), func(l int) bool { return bad[l] == "" }); len(agreed) > 0 {
			refused = agreed
		}
		both := sameVerdicts(t, seed, lines, bad, refused)
		if t.Failed() {
			dump(t, files, text)
			return
		}
		if len(both) == 0 {
			c.programs++
			c.made += res.expanded()
			c.labels += sameSymbols(t, seed, res, &ref)
			sameSizes(t, res, &ref)
			c.files += len(names)
			c.lines += len(lines)
			for i := range res.prog.Items {
				if res.prog.Changed(&res.prog.Items[i]) {
					c.changed++
				}
			}
			if t.Failed() {
				dump(t, files, text)
			}
			return
		}
		for _, l := range both {
			c.refused++
			if n := l - base["main.S"]; n <= 0 || n > strings.Count(files["main.S"], "\n")+1 {
				c.inHeaders++
			}
			for _, l := range append([]int{l}, others[l]...) {
				lines[l-1] = strings.TrimLeft(lines[l-1], strings.TrimRight(lines[l-1], "\r\n"))
				if !strings.HasSuffix(lines[l-1], "\n") {
					lines[l-1] += "\n"
				}
			}
		}
	}
	t.Errorf("seed %d: no end", seed)
	dump(t, files, "")
}

// joinedLines has the lines of a source whose text is in an earlier line,
// with that line.
func joinedLines(s *program.Source) map[int]int {
	out := map[int]int{}
	for i := 0; i < s.File.NumLines(); i++ {
		if first := s.Unit.FirstLine(i); first != i {
			out[i] = first
		}
	}
	return out
}

// dump logs the files of a program, or leaves them in the folder that
// NARROWGAUGE_SHOW names.
func dump(t *testing.T, files map[string]string, text string) {
	dir := reftest.Text(reftest.Show)
	for _, name := range slices.Sorted(maps.Keys(files)) {
		if dir == "" {
			t.Logf("--- %s\n%s", name, files[name])
			continue
		}
		_ = os.MkdirAll(filepath.Join(dir, t.Name(), "lib"), 0o755)
		_ = os.WriteFile(filepath.Join(dir, t.Name(), name), []byte(files[name]), 0o644)
		_ = os.WriteFile(filepath.Join(dir, t.Name(), "in.s"), []byte(text), 0o644)
	}
}
