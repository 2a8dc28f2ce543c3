package early

import (
	"strings"
	"testing"
)

// TestProgram holds that the list of mappings begins as it is read: with lines of the program.
func TestProgram(t *testing.T) {
	var buf [2 << 10]byte
	n := read("/proc/self/maps", buf[:])
	first, _, _ := strings.Cut(string(buf[:n]), "\n")
	from, rest, _ := strings.Cut(first, "-")
	to, _, _ := strings.Cut(rest, " ")
	if a, b := address(from), address(to); a == 0 || b <= a || b-a > 1<<30 || !strings.HasSuffix(first, "early.test") {
		t.Errorf("%q is from %#x to %#x", first, a, b)
	}
	program() // nothing that a process sees changes
	for text, want := range map[string]uintptr{"0": 0, "00400000": 0x400000, "7fbc2a": 0x7fbc2a, "ABCDEF": 0xabcdef} {
		if got := address(text); got != want {
			t.Errorf("%s: %#x", text, got)
		}
	}
}
