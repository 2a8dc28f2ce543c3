package analysis

import (
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
)

// TestPreludeSetting holds that macros of a file in front count, that a missing
// one is said, and that a compiler's __thumb__ brings what belongs to it.
func TestPreludeSetting(t *testing.T) {
	const text = "\t.syntax unified\n\t.thumb\n\tmovs r0, #LAMPS\n"
	files := map[string]string{"conf.h": "#define LAMPS 300\n"}
	codes := func(set *Settings, text string) string {
		var out []string
		for _, d := range preprocessedResult(t, set, text, files).Each() {
			if d.Severity == finding.Error {
				out = append(out, d.Code)
			}
		}
		return strings.Join(out, " ")
	}
	if got := codes(&Settings{Prelude: []string{"conf.h"}}, text); got != "constant-range" {
		t.Errorf("with one: %q", got)
	}
	if got := codes(&Settings{Prelude: []string{"none.h"}}, text); !strings.Contains(got, finding.CodeInclude) {
		t.Errorf("missing: %q", got)
	}
	// GCC's driver leaves the assembler in A32 with -mthumb.
	const state = "#if defined __thumb__ && defined __thumb2__\n\tmov r0, #1\n#else\n\tfoo\n#endif\n"
	if got := codes(&Settings{Arch: "armv7-a", Defines: []string{"__thumb__=1"}}, state); got != "" {
		t.Errorf("__thumb__: %q", got)
	}
	if got := codes(&Settings{Arch: "armv7-a"}, state); got != finding.CodeMnemonic {
		t.Errorf("without __thumb__: %q", got)
	}
}
