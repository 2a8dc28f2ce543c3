package analysis_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/firmware"
)

// benchSeed makes the benchmarks' programs the same in every run.
const benchSeed = 20

func analyzeText(tb testing.TB, file *syntax.File) *analysis.Result {
	tb.Helper()
	r, err := analysis.Analyze(context.Background(), &analysis.Input{Path: "firmware.s", File: file})
	if err != nil {
		tb.Fatal(err)
	}
	return r
}

// TestFirmware holds that what the benchmarks measure is a program: the
// assembler takes it, and it has no findings.
func TestFirmware(t *testing.T) {
	text := firmware.Text(benchSeed, 10_000)
	if n := strings.Count(text, "\n"); n < 10_000 || n > 10_200 {
		t.Errorf("%d lines", n)
	}
	if firmware.Text(benchSeed, 10_000) != text {
		t.Error("the same seed makes another program")
	}
	file := syntax.Parse(text)
	for i, d := range analyzeText(t, file).Early() {
		line := file.LineAt(d.Span.Start)
		t.Errorf("line %d: %s: %s: %s", line+1, d.Code, d.Message, file.Line(line).Text)
		if i > 10 {
			break
		}
	}
	f := reftest.AssembleFile(t, reftest.Options{Arch: "armv4t"}, text)
	if !f.OK || len(f.WarnLines) > 0 {
		t.Errorf("the assembler refuses lines %v, warns of lines %v", f.ErrorLines, f.WarnLines)
	}
}

// BenchmarkParse reads 100,000 lines.
func BenchmarkParse(b *testing.B) {
	text := firmware.Text(benchSeed, 100_000)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		syntax.Parse(text)
	}
}

// BenchmarkAnalyze analyses 100,000 lines that are read already.
func BenchmarkAnalyze(b *testing.B) {
	file := syntax.Parse(firmware.Text(benchSeed, 100_000))
	b.SetBytes(int64(len(file.Text())))
	b.ReportAllocs()
	for b.Loop() {
		analyzeText(b, file)
	}
}

// BenchmarkKeystroke is what the server does for one letter typed in the
// middle of a file of 10,000 lines: the edit and the analysis. Every second
// keystroke takes back the one before.
func BenchmarkKeystroke(b *testing.B) {
	keystrokes(b, syntax.Parse(firmware.Text(benchSeed, 10_000)), func(file *syntax.File) { analyzeText(b, file) })
}

// keystrokes types a letter in the middle of a file and takes it back, and so on;
// analyze gets what comes of each.
func keystrokes(b *testing.B, file *syntax.File, analyze func(file *syntax.File)) {
	at := strings.Index(file.Text()[len(file.Text())/2:], "movs") + len(file.Text())/2
	b.ReportAllocs()
	typed := false
	for b.Loop() {
		if typed {
			file = file.Edit(at, at+1, "")
		} else {
			file = file.Edit(at, at, "x")
		}
		typed = !typed
		analyze(file)
	}
}

// BenchmarkActions looks for the rewrites of one finding in a file of 10,000
// lines: each is proven by an analysis.
func BenchmarkActions(b *testing.B) {
	text := firmware.Text(benchSeed, 10_000)
	at := strings.Index(text[len(text)/2:], "movs    r0, r5") + len(text)/2
	bad := "movs    r0, #0x1234"
	text = text[:at] + bad + text[at+len("movs    r0, r5"):]
	r := analyzeText(b, syntax.Parse(text))
	for b.Loop() {
		if len(r.Actions(context.Background(), analysis.Span{Start: at, End: at + len(bad)})) == 0 {
			b.Fatal("no rewrite")
		}
	}
}

// BenchmarkKeystrokeAfter is BenchmarkKeystroke with the analysis before, as the server has it:
// for a digit in a constant, which concerns no other line; a letter in front of a mnemonic, which
// moves all below; and a line end.
func BenchmarkKeystrokeAfter(b *testing.B) {
	for _, lines := range []int{10_000, 100_000} {
		for _, x := range []struct{ name, at, one, other string }{{"digit", "#", "1", "2"}, {"letter", "", "", "x"}, {"line", "", "", "\n"}} {
			b.Run(fmt.Sprintf("%s/%d", x.name, lines), func(b *testing.B) {
				file := syntax.Parse(firmware.Text(benchSeed, lines))
				text := file.Text()
				at := strings.Index(text[len(text)/2:], "movs    r0, #") + len(text)/2
				if x.at != "" {
					at += len("movs    r0, #")
				}
				size := len(x.one)
				var before *analysis.Result
				b.ReportAllocs()
				for n := 0; b.Loop(); n++ {
					word := x.one
					if n%2 == 0 {
						word = x.other
					}
					file = file.Edit(at, at+size, word)
					size = len(word)
					r, err := analysis.Analyze(context.Background(), &analysis.Input{Path: "firmware.s", File: file, Before: before})
					if err != nil {
						b.Fatal(err)
					}
					before = r
				}
			})
		}
	}
}

// BenchmarkKeystrokeChecked compares, in one run, keystrokes in a file of 10,000 lines with what
// goes wrong when the program runs looked for, and without. It reports the ratio of the best
// times. A server shows what comes without it first (Result.Late).
func BenchmarkKeystrokeChecked(b *testing.B) {
	for _, x := range []struct{ name, at, one, other string }{{"digit", "#", "1", "2"}, {"letter", "", "", "x"}} {
		b.Run(x.name, func(b *testing.B) {
			file := syntax.Parse(firmware.Text(benchSeed, 10_000))
			text := file.Text()
			at := strings.Index(text[len(text)/2:], "movs    r0, #") + len(text)/2
			if x.at != "" {
				at += len("movs    r0, #")
			}
			size := len(x.one)
			var before *analysis.Result
			without, with := time.Hour, time.Hour
			for n := 0; b.Loop(); n++ {
				word := x.one
				if n%2 == 0 {
					word = x.other
				}
				start := time.Now()
				file = file.Edit(at, at+size, word)
				size = len(word)
				r, err := analysis.Analyze(context.Background(), &analysis.Input{Path: "firmware.s", File: file, Before: before})
				if err != nil {
					b.Fatal(err)
				}
				r.Early()
				without = min(without, time.Since(start))
				r.Diagnostics()
				with = min(with, time.Since(start))
				before = r
			}
			b.ReportMetric(float64(with)/float64(without), "ratio")
			b.ReportMetric(float64(without.Microseconds()), "µs-without")
			b.ReportMetric(float64(with.Microseconds()), "µs-with")
		})
	}
}
