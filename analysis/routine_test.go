package analysis

import (
	"fmt"
	"strings"
	"testing"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/flow"
)

// TestRoutines sums up routines; what they come to was found by hand, cycles by the published
// figures (see TestCycles).
func TestRoutines(t *testing.T) {
	t.Parallel()
	const thumb = "\t.syntax unified\n\t.cpu cortex-m0\n\t.thumb\n"
	const mainline = "\t.syntax unified\n\t.cpu cortex-m4\n\t.thumb\n"
	const a32 = "\t.syntax unified\n\t.cpu arm7tdmi\n\t.arm\n"
	for _, c := range []struct{ name, head, text, want string }{
		{"a leaf", thumb, "f: adds r0, r0, r1|bx lr", "reads r0,r1 changes r0 NZCV keeps - stack 0, 4 bytes, 4–4"},
		{"saved and restored", thumb, "f: push {r4, lr}|movs r4, r0|adds r0, r4|pop {r4, pc}", "reads r0 changes r0 NZCV keeps r4 stack 8, 8 bytes, 11–11"},
		{"not restored", thumb, "f: push {r4, lr}|movs r4, r0|pop {r3}|pop {r2, pc}", "reads r0 changes r2,r3,r4 NZ keeps - stack 8, 8 bytes, 12–12"},
		{"restored crosswise", thumb, "f: push {r4, r5}|movs r4, r0|movs r5, r1|pop {r4}|pop {r5}|bx lr", "reads r0,r1 changes - NZ keeps r4,r5 stack 8, 12 bytes, 12–12"},
		{"restored from the other's place", thumb, "f: push {r4, r5}|movs r4, r0|movs r5, r1|pop {r5}|pop {r4}|bx lr", "reads r0,r1 changes r4,r5 NZ keeps - stack 8, 12 bytes, 12–12"},
		{"kept in a register", thumb, "f: mov r12, r4|movs r4, r0|mov r0, r4|mov r4, r12|bx lr", "reads r0,r4 changes r12 NZ keeps r0,r4 stack 0, 10 bytes, 7–7"},
		{"below sp arithmetic", thumb, "f: push {r4}|sub sp, #16|movs r4, #1|str r4, [sp, #4]|add sp, #16|pop {r4}|bx lr", "reads - changes - NZ keeps r4 stack 20, 14 bytes, 12–12"},
		{"saved word overwritten", thumb, "f: push {r4}|movs r4, #1|str r4, [sp]|pop {r4}|bx lr", "reads - changes r4 NZ keeps - stack 4, 10 bytes, 10–10"},
		{"on one way only", thumb, "f: cmp r0, #0|beq 1f|movs r3, r2|1: bx lr", "reads r0,r2 changes r3 NZCV keeps - stack 0, 8 bytes, 6–7"},
		{"a loop", thumb, "f: movs r2, #0|1: adds r2, r0|subs r1, #1|bne 1b|movs r0, r2|bx lr", "reads r0,r1 changes r0,r1,r2 NZCV keeps - stack 0, 12 bytes, 8–*"},
		{"calls another", thumb, "f: push {lr}|bl g|pop {pc}|g: adds r2, r1, r7|bx lr", "reads r1,r7 changes r2 NZCV keeps - stack 4, 8 bytes, 11–11 calls g"},
		{"calls what is not seen", thumb, "f: push {lr}|movs r0, #1|bl out|pop {pc}", "reads - changes r0,r1,r2,r3,r12 NZCV keeps - stack 4, 10 bytes, 12–12 calls out, assumed"},
		{"calls itself", thumb, "f: push {r4, lr}|movs r4, r0|subs r0, #1|beq 1f|bl f|1: adds r0, r4|pop {r4, pc}", "reads r0 changes r0,r1,r2,r3,r12 NZCV keeps r4 stack 8, 16 bytes, 15–17 calls f, assumed, called 1"},
		{"jumps on", thumb, "f: movs r0, #1|b g|g: push {r4}|movs r4, r2|pop {r4}|bx lr|h: bl g|bl f", "reads r2 changes r0 NZ keeps r4 stack 4, 4 bytes, 4–4, called 1"},
		{"through a register", thumb, "f: push {r4, lr}|blx r2|pop {r4, pc}", "reads r2 changes r0,r1,r2,r3,r12 NZCV keeps r4 stack 8, 6 bytes, 12–12 calls r2, assumed"},
		{"to where nobody knows", thumb, "f: adds r0, #1|mov pc, r3", "reads r0,r3 changes r0 NZCV keeps - stack 0, 4 bytes, 4–4, not all seen"},
		{"carries a flag in", thumb, "f: adcs r0, r1|bx lr", "reads r0,r1,C changes r0 NZCV keeps - stack 0, 4 bytes, 4–4"},
		{"in an IT block", mainline, "f: cmp r0, r1|it hi|movhi r0, r2|bx lr", "reads r0,r1,r2 changes r0 NZCV keeps - stack 0, 8 bytes, 5–7"},
		{"many ways out", mainline, "f: cbz r0, 1f|bx lr|1: movs r0, #1|bx lr", "reads r0 changes r0 NZ keeps - stack 0, 8 bytes, 3–9"},
		{"A32", a32, "f: stmfd sp!, {r4-r6, lr}|mov r4, r0|mla r0, r4, r5, r1|ldmfd sp!, {r4-r6, pc}", "reads r0,r1,r5 changes r0 - keeps r4,r5,r6 stack 16, 16 bytes, 17–20"},
		{"A32 on a condition", a32, "f: cmp r0, #0|ldrne r1, [r0]|movne r0, r1|bx lr", "reads r0,r1 changes r0,r1 NZCV keeps - stack 0, 16 bytes, 6–8"},
		{"A32, returns early", a32, "f: cmp r0, #0|moveq pc, lr|mov r0, #2|bx lr", "reads r0 changes r0 NZCV keeps - stack 0, 16 bytes, 4–6"},
	} {
		text := c.head + "\t.thumb_func\n" + strings.ReplaceAll(strings.Replace(c.text, "f:", "f:", 1), "|", "\n") + "\n\tbl f\n"
		if c.head == a32 {
			text = c.head + strings.ReplaceAll(c.text, "|", "\n") + "\n\tbl f\n"
		}
		r := analyze(t, nil, text)
		y := r.prog.SymbolOf("f")
		sum, ok := (&flow.Paths{Evaluator: eval.New(r.prog)}).RoutineAt(&r.prog.Items[y.Item], true)
		if !ok {
			t.Errorf("%s: no routine", c.name)
			continue
		}
		if got := routineWords(r, sum); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.want)
		}
	}
}

// routineWords writes a summary on one line.
func routineWords(r *Result, sum *flow.Routine) string {
	list := func(s string, flags string) string {
		var out []string
		for _, x := range []string{strings.Trim(s, "{}"), flags} {
			if x != "" && x != "none" {
				out = append(out, strings.ReplaceAll(x, ", ", ","))
			}
		}
		if out == nil {
			return "-"
		}
		return strings.Join(out, ",")
	}
	plain := func(l fmt.Stringer) string {
		s := l.String()
		for a := range 13 { // runs are written out
			for b := a + 2; b < 13; b++ {
				run := fmt.Sprintf("r%d-r%d", a, b)
				if strings.Contains(s, run) {
					var all []string
					for n := a; n <= b; n++ {
						all = append(all, fmt.Sprintf("r%d", n))
					}
					s = strings.Replace(s, run, strings.Join(all, ", "), 1)
				}
			}
		}
		return s
	}
	flags := sum.Flags.String()
	if flags == "none" {
		flags = "-"
	}
	out := fmt.Sprintf("reads %s changes %s %s keeps %s stack %d, %d bytes", list(plain(sum.Reads), sum.FlagsRead.String()), list(plain(sum.Changes), ""), flags, list(plain(sum.Keeps), ""), sum.Stack, sum.Bytes)
	for _, c := range sum.Cycles {
		most := fmt.Sprint(c.Most)
		if c.Most < 0 {
			most = "*"
		}
		out += fmt.Sprintf(", %d–%s", c.Least, most)
	}
	for _, it := range sum.Calls {
		out += " calls " + r.prog.LineText(it)[it.Stmt.Ops[0].Start:it.Stmt.Ops[0].End]
	}
	if sum.Assumes {
		out += ", assumed"
	}
	if !sum.Known {
		out += ", not all seen"
	}
	if n := len(sum.Callers); n > 1 {
		out += fmt.Sprintf(", called %d", n-1) // one is in every text
	}
	return out
}
