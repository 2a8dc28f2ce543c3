package preprocess

import (
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// TestEnds checks that a run ends, and soon, whatever is after what: every
// pair of tokens, eight times over, after every kind of directive, in one line
// and in many. The file includes itself, up to 20 deep. The watchdog names the text
// that does not come to its end.
func TestEnds(t *testing.T) {
	t.Parallel()
	tokens := []string{"F(", "F", "(", ")", ",", "G", "V(", "V", "#", "##", "# ", "/*", "*/", "//", "\"", "'", "\\\n", "\n", "\\", "@", "1", "x",
		"#if 1\n", "#if 0\n", "#else\n", "#elif F(\n", "#endif\n", "#define F(x) x F(x\n", "#define G F(G\n", "#define G G x##G(\n", "#undef F\n", "#include \"main.S\"\n", "#include G\n",
		"#ifdef F\n", "__VA_ARGS__", "__VA_OPT__(", "defined", "defined(", "__has_include(", "__LINE__", "#line 1\n", "#pragma once\n", "#error F(\n", "? ", ": ", "|| ", "- ", "!", "é", "\x00"}
	heads := []string{"", "#if ", "#define F(x) ", "#define F(x, ...) x##x #x __VA_ARGS__ ", "#define G ", "#include ", "#line ", "#ifdef ", "#undef ", "#elif ", "#pragma ", " .word ", "/* ", "#if 0\n", "#define F(", "F(", "#if F("}
	const prelude = "#define F(x) x\n#define G F\n#define V(x, ...) x##__VA_ARGS__ #x __VA_OPT__(F(x))\n"
	every := reftest.Size(5, 2, 1)
	var now atomic.Pointer[string]
	dog := time.AfterFunc(4*time.Minute, func() { panic("no end: " + *now.Load()) })
	defer dog.Stop()
	proof := reftest.Begin(t)
	n := 0
	for k, head := range heads {
		for i, a := range tokens {
			for j, b := range tokens {
				if (i+j+k)%every != 0 {
					continue
				}
				text := prelude + head + strings.Repeat(a+b, 8) + "\n nop\n"
				now.Store(&text)
				raw := syntax.ParseAs(text, syntax.Dots)
				depth := 0
				in := &Input{Path: "main.S", File: raw}
				in.Load = func(from, name string, system bool) (string, *syntax.File, bool) {
					depth++
					return "main.S", raw, depth < 20
				}
				u := Process(in)
				checkUnit(t, u)
				n++
			}
		}
	}
	proof.Counted("ends: %d texts came to theirs", n)
}
