package analysis_test

import (
	"fmt"
	"slices"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/isa/reftest"
)

// TestLeftToLinker holds which branches are out of reach and which assemblers leave to the
// linker, which may put a veneer between: for each way to branch, each kind of symbol, and
// distances on both sides of what encodings hold.
func TestLeftToLinker(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	reftest.Require(t, "arm-none-eabi-as")
	var texts []string
	for _, arch := range []string{"armv7-a", "armv4t", "armv7-m", "armv6"} {
		for _, states := range [][2]string{{".thumb", ".thumb"}, {".thumb", ".arm"}, {".arm", ".thumb"}, {".arm", ".arm"}} {
			for _, kind := range []string{"", ".global l|", ".weak l|", ".type l,%function|", ".type l,%function|.global l|"} {
				for _, line := range []string{"b l", "b.w l", "b.n l", "beq l", "beq.w l", "beq.n l", "bl l", "blx l", "bleq l", "cbz r0,l"} {
					if arch == "armv7-m" && (slices.Contains(states[:], ".arm") || line == "blx l") {
						continue // it has no A32 code, and so no BLX (immediate); see mutantOtherwise
					}
					for _, away := range []string{"0x10", "0x1000", "0x200000", "0x1000002", "0x2100000"} {
						texts = append(texts,
							fmt.Sprintf(".arch %s|.syntax unified|%s|%s|.space %s|.align 2|%s|%sl: nop", arch, states[0], line, away, states[1], kind),
							fmt.Sprintf(".arch %s|.syntax unified|%s|%sl: nop|.space %s|.align 2|%s|%s", arch, states[1], kind, away, states[0], line))
					}
				}
			}
		}
	}
	texts = reftest.Share(texts, 331, 3) // megabytes each
	programs := make([]reftest.Program, len(texts))
	for i := range texts {
		programs[i] = reftest.Program{Text: lines(texts[i])}
	}
	refused := 0
	for i, v := range reftest.AssemblePrograms(t, programs) {
		var ours []string
		for _, d := range (program{text: programs[i].Text}).analyze(t).Each() {
			if d.Severity == analysis.Error {
				ours = append(ours, d.Message)
			}
		}
		if !v.OK {
			refused++
		}
		if v.OK != (len(ours) == 0) {
			t.Errorf("%s: the assembler takes it: %v; we say %q", texts[i], v.OK, ours)
		}
	}
	proof.Counted("branches left to the linker: %d programs, %d refused", len(texts), refused)
}
