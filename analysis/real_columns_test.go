package analysis

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/sources"
)

// TestRealColumns reads sources of the column dialect that nobody here wrote. The
// package brings a converter to the dialect with dots: what it makes of them goes
// to the assembler, which has to have no error, as we have none, and the same
// place of every label.
func TestRealColumns(t *testing.T) {
	proof := reftest.Begin(t)
	for _, p := range sources.Chosen(t) {
		if !p.Columns {
			continue
		}
		reftest.Require(t, "arm-none-eabi-as", "perl")
		dir := p.Unpack(t)
		text := func(name string) string {
			if strings.HasSuffix(name, "vpx_config.asm") { // which the build makes
				return "CONFIG_VP9_HIGHBITDEPTH EQU 0\n    END\n"
			}
			b, err := os.ReadFile(filepath.Join(dir, strings.TrimSuffix(name, ".S")))
			if err != nil {
				t.Fatal(err)
			}
			// The converter takes every area of code for .text.
			return strings.Replace(string(b), "AREA     Block,", "AREA ||.text||,", 1)
		}
		var converted func(source string) string
		converted = func(source string) string {
			cmd := exec.Command("perl", "-I", filepath.Join(dir, "build/make"), filepath.Join(dir, "build/make/ads2gas.pl"))
			cmd.Stdin = strings.NewReader(source)
			var out, complaints bytes.Buffer
			cmd.Stdout, cmd.Stderr = &out, &complaints
			if err := cmd.Run(); err != nil {
				t.Fatalf("the converter: %v\n%s", err, complaints.Bytes())
			}
			var b strings.Builder
			for line := range strings.Lines(out.String()) {
				if name, ok := strings.CutPrefix(strings.TrimSpace(line), ".include "); ok {
					line = converted(text(strings.Trim(name, `"`)))
				}
				b.WriteString(line)
			}
			return b.String()
		}
		lines, labels := 0, 0
		files := p.Files(t, dir)
		for i, f := range files {
			source := text(f)
			file := syntax.Parse(source)
			if file.Dialect() != syntax.Columns {
				t.Errorf("%s is taken for the dialect %v", f, file.Dialect())
				continue
			}
			r, err := Analyze(context.Background(), &Input{Path: f, File: file, Set: &Settings{Arch: "armv7-a", FPU: "neon"},
				Load: func(w assemble.Wanted) (string, *syntax.File, bool) {
					return w.Name, syntax.ParseAs(text(w.Name), syntax.Columns), true
				}})
			if err != nil {
				t.Fatal(err)
			}
			for _, d := range r.Each() {
				if d.Severity < finding.Hint {
					t.Errorf("%s, line %d: %s", f, file.LineAt(d.Span.Start)+1, d.Message)
				}
			}
			ref := reftest.AssembleFile(t, reftest.Options{Flags: []string{"-march=armv7-a", "-mfpu=neon"}, Unified: true}, converted(source))
			if !ref.OK {
				t.Errorf("%s: the assembler refuses lines %v of what the converter makes", f, ref.ErrorLines)
				continue
			}
			lines += file.NumLines()
			labels += sameSymbols(t, i, r, &ref)
		}
		if labels < len(files) {
			t.Errorf("%d labels in %d files", labels, len(files))
		}
		proof.Counted("real sources of the column dialect, %s: %d files with %d lines, no finding, %d labels where the assembler has them", p.Name, len(files), lines, labels)
	}
}
