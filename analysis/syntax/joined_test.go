package syntax

import (
	"reflect"
	"strings"
	"testing"
)

// checkJoints holds that two files of one text have the same lines with whole statements, which
// follow each other and go on nowhere.
func checkJoints(t *testing.T, g, h *File) {
	t.Helper()
	if !h.Crosses() {
		return
	}
	lines, joints := h.Joints()
	again, same := g.Joints()
	if !reflect.DeepEqual(lines, again) || !reflect.DeepEqual(joints, same) {
		t.Fatalf("%q: whole lines differ", h.Text())
	}
	st, inside := inCode, map[int]bool{}
	for _, j := range joints {
		for k := j.First + 1; k <= j.Last; k++ {
			inside[k] = true
		}
	}
	for i, l := range lines {
		if inside[i] {
			continue
		}
		if l.in != st || l.across&joined != 0 {
			t.Fatalf("%q: line %d %q begins with state %d after %d", h.Text(), i, l.Text, l.in, st)
		}
		st = l.out
	}
	last := -1
	for _, j := range joints {
		if j.First <= last || j.Last <= j.First || len(h.Line(j.First).Text) > len(lines[j.First].Text) {
			t.Fatalf("%q: %+v after %d", h.Text(), j, last)
		}
		last = j.Last
	}
}

// TestJoints holds which lines are one to assemblers, and what it says. In the text | is a line end;
// a line that is part of another one is left out of what is wanted.
func TestJoints(t *testing.T) {
	for _, x := range []struct{ text, want string }{
		{"nop /* red|lamp */|nop", ""},
		{"nop /* red|lamp */ ; nop", ""},
		{"nop /* red|lamp */ @ nop", ""},
		{"nop /* red|lamp */ // nop", ""},
		{"/* red|lamp */ nop", ""},
		{"lamp: /* red|lamp */ nop", ""},
		{"nop ; /* red|lamp */ nop", ""},
		{"nop /* red|lamp */ /* on|*/ ; nop", ""},
		{"nop @ /* red|lamp */ nop", ""},
		{".byte 1, /* red|lamp */ 2|nop", ".byte 1, /* red lamp */ 2|nop"},
		{".byte 1 /* red|green||lamp */, 2", ".byte 1 /* red green  lamp */, 2"},
		{"nop /* red|lamp */ /* on|*/ nop", "nop /* red lamp */ /* on */ nop"},
		{"nop /* red|*/ nop /* on|*/ nop", "nop /* red */ nop /* on */ nop"},
		{"nop /* red|*/ ; nop /* on|*/ nop|nop", "nop /* red|*/ ; nop /* on */ nop|nop"},
		{"x: /* red|*/ .byte 1 /* on|*/ , 2", "x: /* red|*/ .byte 1 /* on */ , 2"},
		{"movs r0, /* red|*/ #1", "movs r0, /* red */ #1"},
		{".ascii \"red|lamp\"|nop", ".ascii \"red\\nlamp\"|nop"},
		{".ascii \"red|green|lamp\" ; nop", ".ascii \"red\\ngreen\\nlamp\" ; nop"},
		{".ascii \"red\\|lamp\"", ".ascii \"red\\\\nlamp\""},
		{".ascii \"red|lamp\", \"on|off\"", ".ascii \"red\\nlamp\", \"on\\noff\""},
		{".ascii \"red|/* lamp\"|nop", ".ascii \"red\\n/* lamp\"|nop"},
		{".ascii \"red|lamp|nop", ""},
		{".ascii \"red|.ascii \"lamp\"|nop", ""},
		{"nop \"red|lamp\"", ""},
		{".ifc \"red|lamp\", \"red\"", ""},
	} {
		text := strings.ReplaceAll(x.text, "|", "\n")
		f := ParseAs(text, Dots)
		lines, joints := f.Joints()
		if lines == nil {
			lines = f.lines
		}
		got, in := "", map[int]bool{}
		for _, j := range joints {
			for k := j.First + 1; k <= j.Last; k++ {
				in[k] = true
			}
		}
		for i, l := range lines {
			if !in[i] {
				got += l.Text + "|"
			} else if l.Text != "" {
				t.Errorf("%s: line %d is not empty", x.text, i)
			}
		}
		want := x.want
		if want == "" {
			want = x.text
		}
		if got != want+"|" {
			t.Errorf("%s:\n%s\nwant\n%s", x.text, got, want)
		}
		if len(joints) > 0 && !f.Crosses() {
			t.Errorf("%s crosses no line", x.text)
		}
		checkJoints(t, f, f)
	}
	// Only the dialect with dots has such lines.
	if ParseAs("nop /* red\nlamp */ nop\n", Columns).Crosses() || ParseAs("nop /* red\nlamp */ nop\n", Semicolon).Crosses() {
		t.Error("another dialect")
	}
}

// TestCrossesAhead holds that a long file, whose lines are read beside what uses them, says the same
// as a short one; and that a look at its text does where nothing is in several lines.
func TestCrossesAhead(t *testing.T) {
	many := strings.Repeat("\tadds r0, #1 /* a lamp */\n\t.ascii \"a\", \"b\\\"\" @ c\n/* a\n * lamp */\n", aSlab)
	if mayCross(many) || Parse(many).Crosses() {
		t.Error("no statement is in several lines")
	}
	for _, odd := range []string{"nop /* a\n*/ nop\n", ".ascii \"a\nb\"\n"} {
		if f := Parse(many + odd + many); !f.Crosses() {
			t.Errorf("%q is in several lines", odd)
		} else if g := f.Edit(len(many), len(many)+len(odd), ""); g.Crosses() || !g.Edit(0, 0, odd).Crosses() {
			t.Errorf("%q: after an edit", odd)
		}
	}
}
