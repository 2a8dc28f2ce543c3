package preprocess

import (
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
)

// TestPrelude holds that a file in front of the first line is read as if the
// first line included it.
func TestPrelude(t *testing.T) {
	files := map[string]string{
		"conf.h": "#define LAMPS 3\n#include \"more.h\"\n\t.equ BELL, 1\n", "more.h": "#ifdef LAMPS\n#define MORE LAMPS+1\n#endif\n",
		"last.h": "#undef LAMPS\n#define LAMPS 9\n",
	}
	load := func(_, name string, _ bool) (string, *syntax.File, bool) {
		text, ok := files[name]
		return "inc/" + name, syntax.Parse(text), ok
	}
	run := func(prelude ...string) (*Unit, string) {
		u := Process(&Input{Path: "a.S", File: syntax.Parse("\t.word LAMPS, MORE\n"), Prelude: prelude, Load: load})
		return u, strings.TrimSpace(u.File.Line(0).Text)
	}
	if _, got := run(); got != ".word LAMPS, MORE" {
		t.Errorf("without one: %q", got)
	}
	u, got := run("conf.h")
	if strings.ReplaceAll(got, " ", "") != ".word3,3+1" || len(u.Prelude) != 1 || u.Prelude[0].Path != "inc/conf.h" || !strings.Contains(u.Prelude[0].Unit.File.Line(2).Text, "BELL") || u.Missing {
		t.Errorf("%q %+v", got, u.Prelude)
	}
	if _, got := run("conf.h", "last.h"); strings.ReplaceAll(got, " ", "") != ".word9,9+1" {
		t.Errorf("two: %q", got)
	}
	u, _ = run("none.h")
	if len(u.Prelude) != 1 || u.Prelude[0].Found || !u.Missing {
		t.Errorf("missing: %+v", u.Prelude)
	}
	if u := Process(&Input{Path: "a.S", File: syntax.Parse("nop"), Prelude: []string{"conf.h"}}); !u.Missing {
		t.Error("without a loader")
	}
}
