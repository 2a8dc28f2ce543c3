package analysis

import (
	"context"
	"fmt"
	"runtime"
	"strings"
	"testing"
	"time"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa/reftest"
)

// hostile are sources that ask for more than there is. The line
// "movs r0, #300" is put after each: what went before must not hide it.
var hostile = []struct {
	name  string
	text  string
	files map[string]string
	code  string // of a finding that says what is too much; empty: nothing is
	// last: the rest of the file is not looked at, which the finding says.
	last bool
	// columns: the text is in the column dialect.
	columns bool
	// raw: the text goes through the C preprocessor.
	raw bool
	// most is how many megabytes it may take; 0: as many as for any.
	most uint64
}{
	{name: "a million million repetitions", text: ".rept 1000000000000\nnop\n.endr\n", code: finding.CodeMacroSize},
	{name: "empty repetitions", text: ".rept 1000000000\n.endr\n"},
	{name: "repetitions in repetitions", text: strings.Repeat(".rept 1000\n", 12) + "nop\n" + strings.Repeat(".endr\n", 12), code: finding.CodeMacroSize},
	{name: "repetitions of a comment", text: ".rept 1000000000\n@ x\n.endr\n"},
	{name: "a negative count", text: ".rept -1\nnop\n.endr\n", code: finding.CodeDirective},
	{name: "a macro that calls itself", text: ".macro m\nm\n.endm\nm\n", code: finding.CodeMacroDepth},
	{name: "a macro that calls itself twice", text: ".macro m\nm\nm\n.endm\nm\n", code: finding.CodeMacroDepth},
	{name: "two macros that call each other", text: ".macro a\nb\nb\n.endm\n.macro b\na\na\n.endm\na\n", code: finding.CodeMacroDepth},
	{name: "a macro that doubles its argument", text: ".macro m a:vararg\nm \\a \\a\n.endm\nm 1\n", code: finding.CodeMacroSize},
	{name: "doubling macros", text: doubling(64), code: finding.CodeMacroSize},
	{name: "a macro that defines itself anew", text: ".macro m\n.purgem m\n.macro m\nm\n.endm\nm\n.endm\nm\n", code: finding.CodeMacroDepth},
	{name: "many values", text: ".irp x, " + strings.Repeat("1,", 100_000) + "1\n.irp y, " + strings.Repeat("2,", 100) + "2\nnop\n.endr\n.endr\n", code: finding.CodeMacroSize},
	{name: "many characters", text: ".irpc x, " + strings.Repeat("1", 1<<20) + "\n.byte \\x\n.endr\n", code: finding.CodeMacroSize},
	{name: "many macros", text: manyLines(20_000, ".macro m%d\nm%[1]d\n.endm\n")},
	{name: "an open macro", text: ".macro m\n.word 1\n", code: finding.CodeMacroDef, last: true},
	{name: "two gigabytes of space", text: ".space 0x7fffffff\n"},
	{name: "more space than there is", text: ".space 0x7fffffffffffffff\n", code: finding.CodeDirective},
	{name: "much space, often", text: strings.Repeat(".space 0x7fffffff\n", 1000)},
	{name: "a negative space", text: ".space -0x7fffffff\n"},
	{name: "filling", text: ".fill 0x7fffffff, 8, 1\n", code: finding.CodeDirective},
	{name: "filling without end", text: ".fill 0x7fffffffffffffff, 8, 1\n", code: finding.CodeDirective},
	{name: "a large alignment", text: ".align 31\nnop\n"},
	{name: "too large an alignment", text: ".align 64\n", code: finding.CodeDirective},
	{name: "alignment by bytes", text: ".balign 0x80000000\nnop\n"},
	{name: "far away", text: ".org 0x7fffffff\n"},
	{name: "farther away", text: ".org 0x7fffffffffffffff\n"},
	{name: "a record that is far away", text: ".struct 0x7fffffffffffffff\na: .space 0x7fffffff\n.text\n"},
	{name: "deep parentheses", text: ".word " + strings.Repeat("(", 1<<20) + "1\n", code: finding.CodeSyntax},
	{name: "closed parentheses", text: ".word " + strings.Repeat("(", 1<<19) + "1" + strings.Repeat(")", 1<<19) + "\n", code: finding.CodeSyntax},
	{name: "many signs", text: ".word " + strings.Repeat("-~", 1<<19) + "1\n", code: finding.CodeSyntax},
	{name: "a long sum", text: ".word " + strings.Repeat("1+", 1<<19) + "1\n"},
	{name: "a long sum of a name", text: "x = 1\n.word " + strings.Repeat("x+", 1<<17) + "1\n"},
	{name: "names by names", text: "x0 = 1\n" + manyLines(20_000, "y%d = y%[1]d0 + y%[1]d0\n") + "y20000 = 1\n"},
	{name: "a chain of sums", text: chain(20_000)},
	{name: "a chain of sums that are replaced", text: ".word c0\n" + manyLines(1000, "c%d = c%[2]d + c%[2]d\n") + "c1000 = 1\n" + manyLines(1000, "c%d = 0\n")},
	{name: "a chain of products that waits", text: manyLines(20_000, "c%[2]d = c%[1]d * 2\n.word d%[1]d\nd%[1]d = 1\n")},
	{name: "deep sums in a variable", text: "\tGBLA x\nx\tSETA " + strings.Repeat("(", 90) + "u" + strings.Repeat("+1):SHL:1", 90) + "\n", code: finding.CodeUndefined, columns: true},
	{name: "deep truths in a word", text: "\tDCD " + strings.Repeat("(1+(", 90) + "u" + strings.Repeat("=1))", 90) + "\n", columns: true},
	{name: "a size that hangs on itself", text: "a: .space b-a+1\nb:\n", code: finding.CodeDirective},
	{name: "sizes that hang on themselves", text: manyLines(5000, "a%d: .space b%[1]d-a%[1]d+1\nb%[1]d:\n")},
	{name: "sizes that swing", text: ".text\n" + manyLines(500, "a%d: .space 2-(b%[1]d-a%[1]d)\nb%[1]d:\n"), code: finding.CodeDirective},
	{name: "a body passed over, often", text: ".rept 300000\n.rept 0\n" + strings.Repeat("nop\n", 30_000) + ".endr\n.endr\n", code: finding.CodeMacroSize},
	{name: "open repetitions in macros", text: manyLines(10_000, ".macro m%d\n.rept 1\n.endm\nm%[1]d\n"), code: finding.CodeMacroSize},
	{name: "a definition, often", text: ".rept 300000\n.macro m\n" + strings.Repeat("nop\n", 30_000) + ".endm\n.purgem m\n.endr\n", code: finding.CodeMacroSize},
	{name: "a long line, often", text: ".rept 300000\n.byte " + strings.Repeat("1,", 100_000) + "1\n.endr\n", code: finding.CodeMacroSize},
	{name: "a long expansion that is left, often", text: ".macro m\n.exitm\n.word \\@\n" + strings.Repeat("nop\n", 30_000) + ".endm\n.rept 300000\nm\n.endr\n", code: finding.CodeMacroSize},
	{name: "a file of a long line, often", text: strings.Repeat(".include \"0\"\n", 50_000), files: map[string]string{"0": "\t.byte " + strings.Repeat("1,", 100_000) + "1\n"}, code: finding.CodeInclude},
	{name: "WHILE around what is passed over", text: "\tWHILE {TRUE}\n\tWHILE {FALSE}\n" + strings.Repeat("\tDCD 1\n", 30_000) + "\tWEND\n\tWEND\n", code: finding.CodeMacroSize, columns: true},
	{name: "long variables in lines", text: "\tGBLS s\ns\tSETS \"" + strings.Repeat("x", 5000) + "\"\n" + strings.Repeat("\tDCB \""+strings.Repeat("$s", 3000)+"\"\n", 200), code: finding.CodeMacroSize, columns: true},
	{name: "many comments that allow something below", text: strings.Repeat("@ narrowgauge: allow never-reached\n", 400_000), code: finding.CodeAllow},
	{name: "a comment that allows much", text: "@ narrowgauge: allow " + strings.Repeat("never-reached, ", 500_000) + "\n", code: finding.CodeAllow},
	{name: "a comment that allows what is not known", text: "@ narrowgauge: allow " + strings.Repeat("never-reachd, ", 9000) + strings.Repeat("a", 1<<20) + "\n", code: finding.CodeAllow},
	{name: "comments that allow something in a file of findings", text: manyLines(20_000, "\t.byte 1\nw%d:\t.word 2 @ narrowgauge: allow data-alignment in this file\n"), code: finding.CodeAllow},
	{name: "comments that allow something between conditions", text: strings.Repeat("@ narrowgauge: allow never-reached in this file\n.if 0\n.endif\n", 60_000), code: finding.CodeAllow},
	{name: "deep conditions", text: strings.Repeat(".if 1\n", 100_000) + strings.Repeat(".endif\n", 100_000)},
	{name: "deep conditions that fail", text: strings.Repeat(".if 0\n", 100_000) + strings.Repeat(".endif\n", 100_000)},
	{name: "open conditions", text: strings.Repeat(".if 1\n", 100_000), code: finding.CodeDirective},
	{name: "deep definitions", text: strings.Repeat(".macro m\n", 100_000) + strings.Repeat(".endm\n", 100_000)},
	{name: "many sections", text: manyLines(100_000, ".section s%d\n.word 1\n") + ".text\n"},
	{name: "many subsections", text: manyLines(25_000, ".subsection %d\nb l%[1]d\n") + manyLines(25_000, "l%d:\n") + ".text\n"},
	{name: "pushed sections", text: strings.Repeat(".pushsection .data\n", 100_000) + ".text\n"},
	{name: "many labels in one line", text: strings.Repeat("1:", 1<<19) + "\n"},
	{name: "many unknown targets", text: manyLines(15_000, ".cpu lamp%d\n"), code: finding.CodeDirective, most: 60},
	{name: "many lines that no form takes", text: strings.Repeat("movs r0, #300\n", 100_000), code: finding.CodeConstRange, last: true, most: 300},
	{name: "many statements in one line", text: strings.Repeat("nop;", 1<<18) + "\n"},
	{name: "many unknown names in one line", text: strings.Repeat("a;", 1<<18) + "\n", code: finding.CodeMnemonic, last: true},
	{name: "many literals", text: manyLines(10_000, "ldr r0, =%d+0x12340000\n"), code: finding.CodeLitReach},
	{name: "many branches", text: manyLines(10_000, "beq l%d\nl%[1]d:\n")},
	{name: "a line of ten megabytes", text: "@" + strings.Repeat("x", 10<<20) + "\n"},
	{name: "a word of ten megabytes", text: strings.Repeat("x", 10<<20) + "\n", code: finding.CodeMnemonic},
	{name: "a string of ten megabytes", text: ".ascii \"" + strings.Repeat("x", 10<<20) + "\"\n"},
	{name: "an open string of ten megabytes", text: ".ascii \"" + strings.Repeat("x", 10<<20) + "\n", code: finding.CodeSyntax},
	{name: "a number of ten megabytes", text: ".word " + strings.Repeat("9", 10<<20) + "\n", code: finding.CodeSyntax},
	{name: "ten megabytes of zero bytes", text: strings.Repeat("\x00", 10<<20) + "\n", code: finding.CodeSyntax},
	{name: "zero bytes in lines", text: strings.Repeat("\x00\n", 1<<16), code: finding.CodeSyntax, last: true},
	{name: "invalid UTF-8", text: strings.Repeat("\xff\xfe\x80\xc0\n", 1000), code: finding.CodeMnemonic},
	{name: "an open comment of ten megabytes", text: "/*" + strings.Repeat("*", 10<<20) + "\n", last: true},
	{name: "a million empty lines", text: strings.Repeat("\n", 1<<20)},
	{name: "many arguments", text: ".macro m a:vararg\n.endm\nm " + strings.Repeat("1,", 1<<19) + "\n"},
	{name: "many parameters", text: ".macro m " + manyLines(50_000, "p%d,") + "\n.endm\nm 1\n"},
	{name: "a register list without end", text: "push {" + strings.Repeat("r0,", 1<<18) + "r0}\n"},
	{name: "open brackets", text: "ldr r0, " + strings.Repeat("[", 1<<20) + "\n", code: finding.CodeSyntax},

	{name: "macros that double", text: doubled(64) + "A64\n", raw: true, code: finding.CodePreprocessor},
	{name: "macros that double, often", text: doubled(20) + strings.Repeat("A20\n", 64), raw: true, code: finding.CodePreprocessor},
	{name: "macros that double in operands", text: doubled(64) + manyLines(64, "\tmovs r0, #%d A64\n"), raw: true, code: finding.CodePreprocessor},
	{name: "a chain of macros", text: manyLines(20_000, "#define C%d C%[2]d\n") + "#define C20000 1\n" + strings.Repeat("\tmovs r0, #C0\n", 100), raw: true},
	{name: "a chain of macros with arguments", text: manyLines(2000, "#define C%d(x) C%[2]d(x)\n") + "#define C2000(x) x\n" + strings.Repeat("\tmovs r0, #C0(1)\n", 20), raw: true},
	{name: "a macro of itself", text: "#define A A A\n" + strings.Repeat("\t.word A\n", 10_000), raw: true},
	{name: "arguments in arguments", text: "#define F(x) x x\n.byte " + strings.Repeat("F(", 400) + "1" + strings.Repeat(")", 400) + "\n", raw: true, code: finding.CodePreprocessor},
	{name: "open arguments", text: "#define F(x) x\n" + strings.Repeat("F(\n", 20_000), raw: true, code: finding.CodePreprocessor, last: true},
	{name: "deep conditions of the preprocessor", text: strings.Repeat("#if 1\n", 100_000) + strings.Repeat("#endif\n", 100_000), raw: true},
	{name: "a long condition", text: "#if " + strings.Repeat("1+", 100_000) + "1\n#endif\n", raw: true},
	{name: "many macros of the preprocessor", text: manyLines(200_000, "#define A%d %[1]d\n"), raw: true},
	{name: "many lines that go on", text: "\t.word 1 " + strings.Repeat("\\\n", 500_000) + "\n", raw: true},
	{name: "pasting", text: "#define P(a, b) a##b\n" + strings.Repeat("\t.word P(P(1, 2), P(3, 4))\n", 10_000), raw: true, last: true},
	{name: "more lines than are read", text: strings.Repeat("1:\n", syntax.MaxParts/8), code: finding.CodeMacroSize, last: true},
	{name: "more symbols than there is room for", text: manyLines(assemble.MaxSize/4, "l%d=0\n"), code: finding.CodeMacroSize, last: true},
	{name: "more findings than are listed", text: strings.Repeat("\tmovs r0, #300\n", 30_000), code: finding.CodeMacroSize, last: true},
	{name: "an include of itself", text: ".include \"root.s\"\n", code: finding.CodeInclude},
	{name: "a circle of includes", text: ".include \"a\"\n", files: map[string]string{"a": ".include \"b\"\n", "b": ".include \"a\"\n"}, code: finding.CodeInclude},
	{name: "a chain of includes", text: ".include \"0\"\n", files: levels(100, 1), code: finding.CodeInclude},
	{name: "includes that double", text: ".include \"0\"\n", files: levels(40, 2), code: finding.CodeInclude},
	{name: "includes that grow tenfold", text: ".include \"0\"\n", files: levels(40, 10), code: finding.CodeInclude},
	{name: "one file, often", text: strings.Repeat(".include \"0\"\n", 100_000), files: map[string]string{"0": "\t.equ LAMPS, 1\n"}},
	{name: "one large file, often", text: strings.Repeat(".include \"0\"\n", 1000), files: map[string]string{"0": strings.Repeat("\tnop\n", 10_000)}, code: finding.CodeInclude},
	{name: "a header that includes itself twice", raw: true, text: "#include \"0\"\n", files: map[string]string{"0": strings.Repeat("#include \"0\"\n", 2) + strings.Repeat("\tnop\n", 100)}, code: finding.CodePreprocessor, most: 100},
	{name: "headers with macros that have no end", raw: true, text: strings.Repeat("#include \"0\"\n", 300), files: map[string]string{"0": strings.Repeat("\t.macro m\n\t.byte "+strings.Repeat("1,", 500)+"1\n", 20)}, last: true},
	{name: "an include, repeated", text: ".rept 100000\n.include \"0\"\n.endr\n", files: map[string]string{"0": strings.Repeat("\t.equ LAMPS, 1\n", 100)}, code: finding.CodeMacroSize},
	{name: "an include in a macro that calls itself", text: ".macro m\n.include \"0\"\n.endm\nm\n", files: map[string]string{"0": "m\nm\n"}, code: finding.CodeInclude},
	{name: "many files that are missing", text: manyLines(30_000, ".include \"no%d\"\n"), code: finding.CodeInclude, last: true},
	{name: "a name of a megabyte", text: ".include \"" + strings.Repeat("x", 1<<20) + "\"\n", code: finding.CodeInclude},
	{name: "a name with a zero byte", text: ".include \"a\\000b\"\n", code: finding.CodeInclude},
	{name: "bytes without end", text: ".incbin \"huge\"\n", code: finding.CodeDirective},
	{name: "many bytes, often", text: strings.Repeat(".incbin \"large\"\n", 10_000)},
}

// doubling are macros of which each calls the one before twice.
func doubling(n int) string {
	var b strings.Builder
	b.WriteString(".macro m0\nnop\n.endm\n")
	for i := 1; i < n; i++ {
		fmt.Fprintf(&b, ".macro m%d\nm%d\nm%d\n.endm\n", i, i-1, i-1)
	}
	fmt.Fprintf(&b, "m%d\n", n-1)
	return b.String()
}

// doubled are macros of the preprocessor of which each has the one before twice.
func doubled(n int) string {
	var b strings.Builder
	b.WriteString("#define A0 x\n")
	for i := 1; i <= n; i++ {
		fmt.Fprintf(&b, "#define A%d A%d A%[2]d\n", i, i-1)
	}
	return b.String()
}

func manyLines(n int, format string) string {
	var b strings.Builder
	for i := range n {
		args := []any{i}
		if strings.Contains(format, "%[2]") {
			args = append(args, i+1)
		}
		fmt.Fprintf(&b, format, args...)
	}
	return b.String()
}

// chain defines each name by the sum of the next one with itself.
func chain(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "c%d = c%d + c%d\n", i, i+1, i+1)
	}
	fmt.Fprintf(&b, "c%d = 0\n.word c0\n", n)
	return b.String()
}

// levels are files of which each includes the next one so many times.
func levels(n, times int) map[string]string {
	out := map[string]string{}
	for i := range n {
		out[fmt.Sprint(i)] = strings.Repeat(fmt.Sprintf(".include \"%d\"\n", i+1), times)
	}
	out[fmt.Sprint(n)] = "\tnop\n"
	return out
}

// TestHostile holds what an analysis may allocate: so much for every byte of
// the sources, and a fixed amount for what macros, repetitions and includes
// may come to. Time is bounded by a minute, as a net below.
func TestHostile(t *testing.T) {
	const (
		fixed   = 800 << 20 // what 400,000 statements of expansions take, and their findings
		perByte = 700
	)
	proof := reftest.Begin(t)
	cases := reftest.Sample(hostile, 37)
	for _, tt := range cases {
		t.Run(tt.name, func(t *testing.T) {
			const probe = "\tmovs r0, #300\n"
			dog := time.AfterFunc(5*time.Minute, func() { panic("no end: " + tt.name) })
			defer dog.Stop()
			text, set := "\t.syntax unified\n\t.thumb\n"+tt.text+probe, &Settings{}
			if tt.columns {
				text, set = "\tAREA x, CODE\n\tTHUMB\n"+tt.text+probe, &Settings{Dialect: "columns", CPU: "cortex-m0"}
			}
			path := "root.s"
			if tt.raw {
				path = "root.S"
			}
			size := len(text)
			for _, f := range tt.files {
				size += len(f)
			}
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			files := map[string]*syntax.File{}
			for name, f := range tt.files {
				files[name] = syntax.Parse(f)
			}
			root := syntax.Parse(text)
			files[path] = root
			ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
			defer cancel()
			r, err := Analyze(ctx, &Input{Path: path, File: root, Set: set,
				Load: func(w assemble.Wanted) (string, *syntax.File, bool) {
					f, ok := files[w.Name]
					return w.Name, f, ok
				},
				Size: func(w assemble.Wanted) (int64, bool) {
					n, ok := map[string]int64{"huge": 1 << 62, "large": 1 << 31}[w.Name]
					return n, ok
				}})
			if err != nil {
				t.Fatal(err)
			}
			runtime.ReadMemStats(&after)
			got, most := after.TotalAlloc-before.TotalAlloc, fixed+perByte*uint64(size)
			if tt.most > 0 {
				most = tt.most << 20
			}
			if got > most {
				t.Errorf("%d bytes of source take %d MB", size, got>>20)
			}
			said, rest := tt.code == "", false
			at := finding.Span{Start: len(text) - len(probe), End: len(text)}
			for _, d := range r.Each() {
				said = said || d.Code == tt.code
				rest = rest || d.Path == path && d.Code == finding.CodeConstRange && d.Span.Start >= at.Start
				if len(d.Message) > wording.MaxMessage+10 {
					t.Errorf("a message of %d bytes", len(d.Message))
				}
			}
			if !said {
				t.Errorf("no finding %s", tt.code)
			}
			if !rest && !tt.last {
				t.Error("the rest of the file is not looked at")
			}
		})
	}
	proof.Counted("hostile sources: %d of %d", len(cases), len(hostile))
}
