package demo_test

import (
	"context"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// showcase is the file that shows every finding; it is no part of the firmware.
const showcase = "findings.s"

// preprocessed shows those of the preprocessor.
const preprocessed = "preprocessed.S"

// running shows what goes wrong when a program runs.
const running = "running.s"

// untold counts the trains that a track sensor has seen, and does not say for which core.
const untold = `	.syntax unified
	.thumb
	.global count_train
count_train:                    @ r0: address of the counter
	ldrex	r1, [r0]
	adds	r1, r1, #1
	strex	r2, r1, [r0]
	cmp	r2, #0          @ somebody else may have been there
	bne	count_train
	dmb
	mov	r0, r1
	bx	lr
`

// expectation is what is in front of the codes in a line's comment.
const expectation = "@ expect: "

// expected gives the codes that the lines of text ask for, sorted, by line
// from 1.
func expected(t *testing.T, text string) map[int][]string {
	t.Helper()
	want := map[int][]string{}
	for i, line := range strings.Split(text, "\n") {
		_, list, ok := strings.Cut(line, expectation)
		if !ok {
			if strings.Contains(line, "expect:") {
				t.Errorf("line %d: an expectation that nobody reads", i+1)
			}
			continue
		}
		codes := strings.Split(strings.TrimSuffix(list, " */"), ", ")
		slices.Sort(codes)
		want[i+1] = codes
	}
	return want
}

// findings analyses the text of a file with settings.
func findings(t *testing.T, path string, set *analysis.Settings, text string) (all []analysis.Diagnostic, line func(analysis.Diagnostic) int) {
	t.Helper()
	file := syntax.Parse(text)
	r, err := analysis.Analyze(context.Background(), &analysis.Input{Path: path, File: file, Set: set})
	if err != nil {
		t.Fatal(err)
	}
	return r.Diagnostics(), func(d analysis.Diagnostic) int { return file.LineAt(d.Span.Start) + 1 }
}

func readShowcase(t *testing.T, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// TestFindings compares the findings with the expectations one to one, and
// wants every check to appear. The file says by itself what it is assembled
// for, so the settings change nothing.
func TestFindings(t *testing.T) {
	shown := map[string]bool{}
	for _, path := range []string{showcase, preprocessed, running} {
		text := readShowcase(t, path)
		want := expected(t, text)
		for name, set := range map[string]*analysis.Settings{
			"default":   nil,
			"cortex-m0": {CPU: "cortex-m0"},
			"armv7-a":   {Arch: "armv7-a", StartMode: "thumb", Syntax: "unified"},
		} {
			t.Run(path+" "+name, func(t *testing.T) {
				got := map[int][]string{}
				all, line := findings(t, path, set, text)
				for _, d := range all {
					got[line(d)] = append(got[line(d)], d.Code)
					if !slices.Contains(want[line(d)], d.Code) {
						t.Errorf("line %d: not expected: %s: %s", line(d), d.Code, d.Message)
					}
				}
				for n, codes := range want {
					slices.Sort(got[n])
					if !slices.Equal(got[n], codes) {
						t.Errorf("line %d: findings %q, expected %q", n, got[n], codes)
					}
				}
			})
		}
		for _, codes := range want {
			for _, code := range codes {
				shown[code] = true
			}
		}
	}
	// That a target is guessed cannot be shown beside the demo's project file.
	r, err := analysis.AnalyzeGuessing(context.Background(), &analysis.Input{Path: "untold.s", File: syntax.Parse(untold)})
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range r.Diagnostics() {
		if shown[d.Code] = true; d.Severity != analysis.Hint {
			t.Errorf("untold.s: %s", d.Message)
		}
	}
	// Neither can a budget, which a setting gives.
	all, _ := findings(t, "untold.s", &analysis.Settings{Arch: "armv7-m", Budget: map[string]int64{".text": 8}}, untold)
	for _, d := range all {
		shown[d.Code] = true
	}
	for _, c := range analysis.Checks() {
		if !shown[c.Code] && !c.Several() { // one file shows nothing of several
			t.Errorf("nothing shows the check %s", c.Code)
		}
	}
}

// TestFindingsReference holds what an error is: the assembler refuses exactly
// the lines that have one. It looks for some errors only once others are
// gone, so lines that it refuses are taken out until it takes the rest.
func TestFindingsReference(t *testing.T) {
	proof := reftest.Begin(t)
	reftest.Require(t, "arm-none-eabi-as")
	text := readShowcase(t, showcase)
	ours := map[int]bool{}
	all, line := findings(t, showcase, nil, text)
	for _, d := range all {
		if d.Severity == analysis.Error {
			ours[line(d)] = true
		}
	}
	refused := map[int]bool{}
	if reftest.Part() { // the assembler takes all of them, each time
		text = strings.Replace(text, ".rept   600000", ".rept   600", 1)
	}
	lines := strings.Split(text, "\n")
	for {
		f := reftest.AssembleFile(t, reftest.Options{Arch: "armv4t", Unified: true, Thumb: true}, strings.Join(lines, "\n"))
		for _, n := range f.ErrorLines {
			refused[n] = true
			lines[n-1] = ""
		}
		if f.OK {
			break
		}
		if len(f.ErrorLines) == 0 {
			t.Fatal("refused without a line")
		}
	}
	for _, n := range slices.Sorted(maps.Keys(ours)) {
		if !refused[n] {
			t.Errorf("line %d has an error, and the assembler takes it", n)
		}
	}
	for _, n := range slices.Sorted(maps.Keys(refused)) {
		if !ours[n] {
			t.Errorf("line %d has no error, and the assembler refuses it", n)
		}
	}
	proof.Counted("findings: %d lines refused by both", len(refused))
}
