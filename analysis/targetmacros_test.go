package analysis

import (
	_ "embed"
	"slices"
	"strings"
	"testing"
)

//go:embed testdata/targetmacros.txt
var gccMacros string

// TestTargetMacros compares with what GCC's preprocessor prints.
func TestTargetMacros(t *testing.T) {
	rows := 0
	for line := range strings.Lines(gccMacros) {
		if line[0] == '#' {
			continue
		}
		f := strings.Fields(line)
		set := &Settings{}
		if f[0] == "march" {
			set.Arch = f[1]
		} else {
			set.CPU = f[1]
		}
		if f[2] != "-" {
			set.FPU = f[2]
		}
		if f[3] == "thumb" {
			set.Defines = []string{"__thumb__=1"}
		}
		if err := set.Resolve(); err != nil {
			t.Errorf("%s: %v", strings.Join(f[:4], " "), err)
			continue
		}
		rows++
		got := TargetMacros(set)
		for _, want := range f[4:] {
			if !slices.Contains(got, want) {
				t.Errorf("%s: no %s", strings.Join(f[:4], " "), want)
			}
		}
		for _, g := range got {
			if !slices.Contains(f[4:], g) {
				t.Errorf("%s: %s is too many", strings.Join(f[:4], " "), g)
			}
		}
	}
	if rows < 50 {
		t.Errorf("only %d targets", rows)
	}
	if got := TargetMacros(&Settings{CPU: "no-such"}); got != nil {
		t.Errorf("of an unknown core: %q", got)
	}
	if !slices.Contains(TargetMacros(nil), "__ARM_ARCH_4T__=1") {
		t.Error("the default is ARMv4T")
	}
	if got := TargetMacros(&Settings{Arch: "armv7-a", StartMode: "thumb"}); !slices.Contains(got, "__thumb2__=1") {
		t.Errorf("start in thumb: %q", got)
	}
}
