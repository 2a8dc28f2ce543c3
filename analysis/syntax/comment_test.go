package syntax

import (
	"strings"
	"testing"
)

// TestAbout: the comment of a label, in all the ways in which people write one.
func TestAbout(t *testing.T) {
	t.Parallel()
	passes := func(s *Stmt) bool { return s.Kind == Label || s.Kind == Directive }
	for _, x := range []struct {
		name    string
		dialect Dialect
		text    string // the label is in the last line
		want    string
	}{
		{"at sign", Dots, "nop\n@ Throws a point.\n@ r0: its number\nthrow:", "Throws a point.\nr0: its number"},
		{"several marks", Dots, "@@@ Throws a point.\nthrow:", "Throws a point."},
		{"slashes", Dots, "// Throws a point.\n/// twice\nthrow: nop", "Throws a point.\ntwice"},
		{"hash at the first column", Dots, "# Throws a point.\nthrow:", "Throws a point."},
		{"block", Dots, "/* Throws a point. */\nthrow:", "Throws a point."},
		{"block of several lines", Dots, "/*\n * Throws a point.\n *\n *   r0  its number\n */\nthrow:", "Throws a point.\n\n  r0  its number"},
		{"block without stars", Dots, "/* Throws a point.\n   r0: its number */\nthrow:", "Throws a point.\nr0: its number"},
		{"box", Dots, "/*****************\n * Throws it.    *\n *****************/\nthrow:", "Throws it."},
		{"box of at signs", Dots, "@@@@@@@@@@@@@@@\n@ Throws it.  @\n@@@@@@@@@@@@@@@\nthrow:", "Throws it."},
		{"rulers", Dots, "@ ---------\n@ Throws it.\n@ ---------\nthrow:", "Throws it."},
		{"columns stay", Dots, "@ in:\n@    r0  number\n@    r1  way\nthrow:", "in:\n   r0  number\n   r1  way"},
		{"documentation marks", Dots, "/**\n * Throws it.\n */\nthrow:", "Throws it."},
		{"directives between", Dots, "@ Throws it.\n.global throw\n.thumb_func\nthrow:", "Throws it."},
		{"an instruction between", Dots, "@ Throws it.\nnop\nthrow:", ""},
		{"an empty line between", Dots, "@ The file.\n\nthrow:", ""},
		{"only the block next to it", Dots, "@ The file.\n\n@ Throws it.\nthrow:", "Throws it."},
		{"not the comment of a line above", Dots, "nop @ nothing\nthrow:", ""},
		{"behind", Dots, "throw: nop @ throws it", "throws it"},
		{"behind a label alone", Dots, "throw: // throws it", "throws it"},
		{"above and behind", Dots, "@ Throws it.\nthrow: @ public", "Throws it.\npublic"},
		{"block behind", Dots, "throw: .word 4 /* four */", "four"},
		{"inner comment", Dots, "throw: .word /* here */ 4", "here"},
		{"code after a block", Dots, "/* The end\n of it */ nop\nthrow:", ""},
		{"semicolon", Semicolon, "; Throws a point.\n;; r0: its number\nthrow", "Throws a point.\nr0: its number"},
		{"semicolon behind", Semicolon, "throw nop ; throws it", "throws it"},
		{"star at the first column", Semicolon, "* Throws it.\nthrow", "Throws it."},
		{"columns", Columns, "; Throws a point.\n;   r0  its number\nthrow PROC ; public", "Throws a point.\n  r0  its number\npublic"},
		{"columns, box", Columns, ";*****************\n;* Throws it.    *\n;*****************\nthrow", "Throws it."},
		{"columns, EXPORT between", Columns, "; Throws it.\n    EXPORT throw\nthrow", "Throws it."},
		{"other letters", Dots, "@ Stellt die Weiche – №1\nthrow:", "Stellt die Weiche – №1"},
		{"the file's own, above a constant", Dots, "@ A signal box.\nlamps = 4", ""},
		{"that of a constant", Dots, "\n@ How many there are.\nlamps = 4 @ at most 8", "How many there are.\nat most 8"},
		{"a line for the preprocessor between", Dots, "// The file.\n#define POINTS 4\nthrow:", ""},
		{"below one", Dots, "#if POINTS > 4\n// Throws it.\nthrow:", "Throws it."},
		{"a sentence after a hash", Dots, "\n# if the point is free\nthrow:", "if the point is free"},
		{"of a definition", Dots, "nop\n\n/* How many there are. */\n#define POINTS 4 /* at most 8 */", "How many there are.\nat most 8"},
		{"behind a definition", Dots, "#define POINTS 4 // all", "all"},
		{"nothing", Dots, "throw:", ""},
		{"empty comments", Dots, "@\n@\nthrow:", ""},
	} {
		f := ParseAs(x.text, x.dialect)
		if got := strings.Join(f.About(f.NumLines()-1, passes), "\n"); got != x.want {
			t.Errorf("%s: %q, want %q", x.name, got, x.want)
		}
	}
	long := strings.Repeat("@ a line\n", 1000) + "throw:"
	if f := ParseAs(long, Dots); len(f.About(1000, passes)) > maxAbout {
		t.Errorf("%d lines of a long comment", len(f.About(1000, passes)))
	}
}
