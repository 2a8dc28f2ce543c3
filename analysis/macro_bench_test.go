package analysis_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
)

// calls is a program of n lines that call macros, some with further macros,
// repetitions and labels in them.
func calls(n int) string {
	var b strings.Builder
	b.WriteString(`	.syntax unified
	.thumb
	.macro port number, value=0
	movs r0, #\number
	movs r1, #\value
	bl store_port
	.endm
	.macro signal number, aspect:req, lamps:vararg
	.if \aspect > 2
	port \number, 3
	.else
	port \number, \aspect
	.endif
	.irp l, \lamps
	port \l, value=1
	.endr
	.endm
	.macro wait ticks
	ldr r0, =\ticks
.Lwait\@:
	subs r0, #1
	bne .Lwait\@
	.endm
store_port:
	bx lr
`)
	for i := 0; i < n; i++ {
		if i%20 == 0 {
			fmt.Fprintf(&b, "route%d:\n\tpush {lr}\n", i/20)
		}
		switch i % 5 {
		case 0, 1:
			fmt.Fprintf(&b, "\tport %d, %d\n", i%200, i%7)
		case 2, 3:
			fmt.Fprintf(&b, "\tsignal %d, %d, %d, %d\n", i%200, i%5, i%90, i%30)
		default:
			fmt.Fprintf(&b, "\twait %d\n", 1000+i%50*1000)
		}
		if i%20 == 19 {
			b.WriteString("\tpop {pc}\n\t.ltorg\n")
		}
	}
	return b.String()
}

func analyzeMade(tb testing.TB, f *syntax.File, made *analysis.Expansions) *analysis.Result {
	r, err := analysis.Analyze(context.Background(), &analysis.Input{Path: "routes.s", File: f, Made: made})
	if err != nil {
		tb.Fatal(err)
	}
	return r
}

// BenchmarkMacroKeystroke types letters in a file of 5,000 lines that call
// macros. The ratio is that of reading and analysing the file as a whole, with
// nothing kept, to one keystroke.
func BenchmarkMacroKeystroke(b *testing.B) {
	text := calls(5000)
	for _, d := range analyzeMade(b, syntax.Parse(text), nil).Each() {
		b.Fatal(d.Message)
	}
	full := time.Duration(1 << 62)
	for range 5 {
		at := time.Now()
		analyzeMade(b, syntax.Parse(text), nil)
		full = min(full, time.Since(at))
	}
	var made analysis.Expansions
	file := syntax.Parse(text)
	analyzeMade(b, file, &made)
	at := strings.Index(text[len(text)/2:], "port") + len(text)/2 + len("port 1")
	typed := false
	b.ReportAllocs()
	for b.Loop() {
		if typed {
			file = file.Edit(at, at+1, "")
		} else {
			file = file.Edit(at, at, "1")
		}
		typed = !typed
		analyzeMade(b, file, &made)
	}
	b.ReportMetric(float64(full)/float64(b.Elapsed())*float64(b.N), "full/keystroke")
}

// BenchmarkRepetition goes through a large .rept.
func BenchmarkRepetition(b *testing.B) {
	file := syntax.Parse("\t.thumb\n\t.rept 50000\n\tmov r0, #1\n\t.word 1\n\t.endr\n")
	b.ReportAllocs()
	for b.Loop() {
		analyzeText(b, file)
	}
}
