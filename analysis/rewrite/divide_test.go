package rewrite

import "testing"

// TestCodeCount holds that labels, numeric ones with and without their colon, are no
// instructions.
func TestCodeCount(t *testing.T) {
	for _, x := range []struct {
		stmts []string
		want  int
	}{
		{nil, 0},
		{[]string{"movs r0, #1"}, 1},
		{[]string{"bne 1f", "b lamp", "1:"}, 2},
		{[]string{"lamp:", "nop"}, 1},
		{[]string{"1", "nop", "2"}, 1},
		{[]string{"nop", "bx lr"}, 2},
	} {
		if n := codeCount(x.stmts); n != x.want {
			t.Errorf("%q are %d instructions, want %d", x.stmts, n, x.want)
		}
	}
}
