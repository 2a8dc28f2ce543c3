package analysis

import (
	"context"
	"testing"

	"narrowgauge/analysis/syntax"
)

// TestPreprocessorByLooks holds which sources go through the preprocessor that have no name
// of one.
func TestPreprocessorByLooks(t *testing.T) {
	const head, load = ".syntax unified\n.thumb\n", "\tmovs r0, #LAMPS\n"
	for _, c := range []struct {
		name, path, text, setting string
		errors                    int
	}{
		{"a definition that is used", "box.s", "#define LAMPS 7\n" + head + load, "", 0},
		{"with parameters", "box.s", "#define TWICE(n) (2*(n))\n" + head + "\tmovs r0, #TWICE(4)\n", "", 0},
		{"an included file", "box.s", "#include \"lamps.h\"\n" + head + load, "", 0},
		{"in angle brackets, and a comment", "box.asm", "#include <lamps.h> // invented\n" + head + load, "", 0},
		{"a setting says no", "box.s", "#define LAMPS 7\n" + head + load, "never", 1},
		{"a definition that nobody uses", "box.s", "#define the lamps\n" + head + ".equ LAMPS, 7\n" + load + "# it's all prose\n", "", 0},
		{"only in a comment", "box.s", "#define LAMPS 7\n" + head + "\tnop @ LAMPS\n# it's LAMPS\n", "", 0},
		{"not at the first column", "box.s", head + " #define LAMPS 7\n" + load, "", 1},
		{"conditions in columns", "box.s", "#if 0\nint lamps(void) { return 1; }\n#else\n\tAREA a, CODE\n\tTHUMB\n\tMOVS r0, #7\n\tEND\n#endif\n", "", 0},
		{"conditions in columns, but a setting says no", "box.s", "#if 0\nint lamps(void);\n#endif\n\tAREA a, CODE\n\tTHUMB\n\tMOVS r0, #7\n\tEND\n", "never", 1},
		{"a definition in columns", "box.s", "/* C and assembly */\n#ifndef BOX\n#define LAMPS 7\n\tAREA a, CODE\n\tTHUMB\n\tMOVS r0, #LAMPS\n\tEND\n#endif\n", "", 0},
		{"columns as ever", "box.s", "\tAREA a, CODE\n\tTHUMB\n\tMOVS r0, #LAMPS\n\tEND\n", "", 1},
		{"prose about including", "box.s", "#include all the lamps\n" + head + ".equ LAMPS, 7\n" + load, "", 0},
	} {
		in := &Input{Path: c.path, File: syntax.Parse(c.text), Set: &Settings{Preprocess: c.setting}, Load: func(w Wanted) (string, *syntax.File, bool) {
			return w.Name, syntax.Parse("#define LAMPS 7\n"), w.Name == "lamps.h"
		}}
		r, err := Analyze(context.Background(), in)
		if err != nil {
			t.Fatal(err)
		}
		if got := errorsByLine(r); len(got) != c.errors {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}
