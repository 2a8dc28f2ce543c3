package analysis_test

import (
	"fmt"
	"regexp"
	"strings"
	"testing"
)

// TestAddressForNumber holds that an address in the place of a number, and a name that
// nothing defines, are told at the number, with its text.
func TestAddressForNumber(t *testing.T) {
	for _, c := range []struct{ head, line, want string }{
		{t16, "ldr r0,[r1,#w]", "w"}, {t16, "ldr r0,[r1,#w+4]", "w+4"}, {t16, "strb r0,[r1,#w]", "w"},
		{t16, "ldr r0,[sp,# w + 4 ]", "w + 4"}, {t16, "ldr r0,[r1,#/* x */w]", "w"},
		{t32, "ldr r0,[r1,#w]", "w"}, {t32, "ldrd r0,r1,[r2,#w+8]", "w+8"}, {t32, "ldr r0,[r1],#w", "w"},
		{t32, "and r0,r1,r2,lsl #w", "w"},
		{a32, "ldr r0,[r1,#w]", "w"}, {a32, "ldrh r0,[r1,#w+2]!", "w+2"}, {a32, "ldr r0,[r1],#w", "w"},
		{a32, "ldr r0,[r1,r2,lsl #w]", "w"}, {a32, "add r0,r1,r2,lsl #w", "w"}, {a32, "add r0,r1,r2,lsl #w+1", "w+1"},
	} {
		for _, def := range []struct{ where, says string }{{"|.data|w: .word 1|.text", "is an address"}, {"", "w is not defined"}} {
			text := lines(c.head + c.line + def.where)
			var got []string
			for _, d := range (program{text: text}).analyze(t).Each() {
				got = append(got, text[d.Span.Start:d.Span.End])
				if !strings.Contains(d.Message, def.says) || def.where != "" && !strings.HasPrefix(d.Message, c.want+" is") {
					t.Errorf("%s: %s", c.line, d.Message)
				}
			}
			if want := c.want; len(got) != 1 || def.where != "" && got[0] != want || def.where == "" && got[0] != "w" {
				t.Errorf("%s: told at %q, want %q", c.line, got, c.want)
			}
		}
	}
}

// TestUndefinedFirst holds that a constant without its mark is told to be undefined
// where it is, and not that the line lacks a letter.
func TestUndefinedFirst(t *testing.T) {
	for _, line := range []string{"add r0,r0,%s", "add r0,%s", "adds r0,r1,%s", "sub r0,r1,%s", "sub sp,%s", "add r0,sp,%s", "mov r0,%s", "movs r0,%s",
		"cmp r0,%s", "lsl r0,r1,%s", "lsrs r0,r1,%s", "asr r0,%s"} {
		for _, head := range []string{t16, t32, a32} {
			text := lines(head + fmt.Sprintf(line, "lmap"))
			got := found(program{text: text}.analyze(t), "box.s", text, 3)
			if len(got) != 1 || got[0] != "4 undefined-symbol" {
				t.Errorf("%s: found %q", text, got)
			}
		}
		// What the author gives a meaning to has none of that.
		for _, head := range []string{".equ lmap,4|", "lmap .req r1|"} {
			text := lines(t16 + head + fmt.Sprintf(line, "lmap"))
			for _, f := range found(program{text: text}.analyze(t), "box.s", text, 3) {
				if strings.Contains(f, "undefined") {
					t.Errorf("%s: found %q", text, f)
				}
			}
		}
	}
}

// TestToldOnce holds that a repetition tells the same once, and keeps the room that
// there is for what else it has to tell.
func TestToldOnce(t *testing.T) {
	for _, c := range []struct {
		values string
		want   int
	}{
		{"300", 1}, {"300,300", 1}, {"300,301", 2}, {"300,5,300", 1},
		{strings.Repeat("300,", 30) + "301", 2},
		{strings.Repeat("300,301,", 30) + "302", 3},
		{"300,301,302,303,304,305,306,307,308,309,310,311,312", 10},
	} {
		text := lines(t16 + ".irp n," + c.values + "|movs r0,#\\n|.endr")
		if got := (program{text: text}).analyze(t).Each(); len(got) != c.want {
			t.Errorf("%s: %d findings, want %d: %v", c.values, len(got), c.want, got)
		}
	}
}

// TestRefusedSizes holds that what the target only lacks takes the room that it has on a
// target with it, so that what comes after it is where it will be.
func TestRefusedSizes(t *testing.T) {
	for _, c := range []struct{ line, has string }{
		{"blx f", "armv5t"}, {"blx f+4", "armv5t"}, {"blx r3", "armv5t"}, {"bkpt #1", "armv5t"}, {"rev r0,r1", "armv6"}, {"sxtb r0,r1", "armv6"},
		{"cpsid i", "armv6"}, {"setend be", "armv6"}, {"dmb", "armv6-m"}, {"isb", "armv6-m"}, {"mrs r0,primask", "armv6-m"}, {"cpy r0,r1", "armv6"}, {"sev", "armv6-m"},
	} {
		for _, around := range []string{"f: nop|%s|w: nop", "%s|w: nop|f: bx lr"} {
			var at [2]int64
			for i, arch := range []string{"armv4t", c.has} {
				text := lines(".arch " + arch + "|.syntax unified|.thumb|" + fmt.Sprintf(around, c.line))
				_, at[i] = place(t, program{text: text}.analyze(t), strings.Index(text, "w:"))
			}
			if at[0] != at[1] || at[0] < 0 {
				t.Errorf("%s: what comes after it is at %d, on %s at %d", c.line, at[0], c.has, at[1])
			}
		}
	}
}

// TestTooManyBytes holds that the size that is told is the one that is asked for.
func TestTooManyBytes(t *testing.T) {
	for _, c := range []struct{ line, want string }{
		{".skip 0x10000000000", "1099511627776"}, {".space 0x10000000000, 1", "1099511627776"}, {".zero 0x200000000", "8589934592"},
		{".skip 0x7fffffffffffffff", "9223372036854775807"}, {".ds.w 0x7fffffffffffffff", "18446744073709551614"}, {".ds.l 0x4000000000", "1099511627776"},
		{".fill 0x10000000000, 1, 0", "1099511627776"},
	} {
		all := (program{text: c.line + "\n"}).analyze(t).Each()
		if len(all) != 1 || !strings.Contains(all[0].Message, " "+c.want+" ") {
			t.Errorf("%s: %v", c.line, all)
		}
	}
}

// TestNearTargets holds that a directive takes each name that is near to a wrong one.
func TestNearTargets(t *testing.T) {
	names := regexp.MustCompile(`similar names: (.*)\.`)
	near := 0
	for _, d := range []string{".arch", ".cpu", ".fpu", ".object_arch"} {
		for _, wrong := range []string{"all", "al", "alll", "ali", "armv4x", "armv7x", "cortex-m33x", "arm7tdmx", "vfpv", "neonn", "armv8.x-a"} {
			for _, f := range (program{text: d + " " + wrong + "\n"}).analyze(t).Each() {
				m := names.FindStringSubmatch(f.Message)
				if m == nil {
					continue
				}
				for _, n := range strings.Split(m[1], ", ") {
					near++
					if all := (program{text: d + " " + n + "\n"}).analyze(t).Each(); len(all) != 0 {
						t.Errorf("%s %s: %s is said to be near, and %s", d, wrong, n, all[0].Message)
					}
				}
			}
		}
	}
	if near < 30 {
		t.Errorf("only %d names", near)
	}
}
