package analysis

import (
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/image"
	"narrowgauge/isa"
	"narrowgauge/isa/exec"
	"narrowgauge/isa/reftest"
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
		{"not restored", thumb, "f: push {r4, lr}|movs r4, r0|pop {r3}|pop {r2, pc}", "reads r0,r4 changes r2,r3,r4 NZ keeps - stack 8, 8 bytes, 12–12"},
		{"restored crosswise", thumb, "f: push {r4, r5}|movs r4, r0|movs r5, r1|pop {r4}|pop {r5}|bx lr", "reads r0,r1 changes - NZ keeps r4,r5 stack 8, 12 bytes, 12–12"},
		{"restored from the other's place", thumb, "f: push {r4, r5}|movs r4, r0|movs r5, r1|pop {r5}|pop {r4}|bx lr", "reads r0,r1,r4,r5 changes r4,r5 NZ keeps - stack 8, 12 bytes, 12–12"},
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
	for _, c := range sum.Cycles() {
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

// TestRoutinesCarriedOut carries out random routines from random states: what a summary says
// is kept is kept, what it does not name as read changes nothing, the stack becomes no deeper,
// and the cycles of the way, by the figures of its lines, are within what it says.
func TestRoutinesCarriedOut(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	rnd := reftest.Rand(77, 5)
	ran, read, most := 0, 0, 0
	for n := 0; n < reftest.Size(150, 3000, 40000); n++ {
		text := "\t.syntax unified\n\t.cpu cortex-m0\n\t.thumb\n" + randomRoutine(rnd, "f", "g") + randomRoutine(rnd, "g", "") + "main:\n\tbl f\n"
		r := analyze(t, nil, text)
		paths := &flow.Paths{Evaluator: eval.New(r.prog)}
		sum, ok := paths.RoutineAt(&r.prog.Items[r.prog.SymbolOf("f").Item], true)
		if !ok || !sum.Known {
			t.Fatalf("no summary of\n%s", text)
		}
		read += sum.Reads.Count()
		img := image.New(eval.New(r.prog))
		for range 4 {
			a := randomState(rnd)
			b := a
			for reg := range isa.Reg(13) { // what it does not read may be anything
				if !sum.Reads.Has(reg) {
					b.Regs[reg] ^= rnd.Uint32()
				}
			}
			b.Flags ^= isa.Flags(rnd.IntN(16)) &^ sum.FlagsRead
			x, deepX, cycles := runRoutine(t, img, r, a)
			y, deepY, _ := runRoutine(t, img, r, b)
			ran += 2
			for reg := range isa.Reg(13) {
				switch {
				case !sum.Changes.Has(reg) && (x.Regs[reg] != a.Regs[reg] || y.Regs[reg] != b.Regs[reg]):
					t.Errorf("%v is changed:\n%s", reg, text)
				case x.Regs[reg] != y.Regs[reg] && (x.Regs[reg] != a.Regs[reg] || y.Regs[reg] != b.Regs[reg]):
					t.Errorf("%v depends on what is not read:\n%s", reg, text)
				}
			}
			if (x.Flags^a.Flags)&^sum.Flags != 0 {
				t.Errorf("flags are changed:\n%s", text)
			}
			// What the flags are on different ways may be the caller's on one of them only.
			if d := x.Flags ^ y.Flags; d&^((x.Flags^^a.Flags)&(y.Flags^^b.Flags)) != 0 {
				t.Errorf("flags %v depend on what is not read:\n%s", d, text)
			}
			if max(deepX, deepY) > sum.Stack {
				t.Errorf("%d bytes of the stack, %d are said:\n%s", max(deepX, deepY), sum.Stack, text)
			}
			if c := sum.Cycles()[0]; cycles < c.Least || c.Most >= 0 && cycles > c.Most {
				t.Errorf("%d cycles, %d to %d are said:\n%s", cycles, c.Least, c.Most, text)
			}
			if sum.Cycles()[0].Most == cycles {
				most++
			}
		}
		if t.Failed() {
			return
		}
	}
	proof.Counted("routines: %d runs, %d registers read, %d ways were the longest", ran, read, most)
	if read == 0 || most == 0 {
		t.Error("the routines are too simple")
	}
}

// randomRoutine writes one that saves some registers, mostly gives them back, branches ahead,
// and calls another one.
func randomRoutine(rnd *rand.Rand, name, call string) string {
	var b strings.Builder
	saved := isa.RegList(rnd.IntN(16)) << 4
	reg := func() isa.Reg { return isa.Reg(rnd.IntN(8)) }
	fmt.Fprintf(&b, "%s:\n\tpush {%s}\n", name, strings.Trim((saved|1<<isa.LR).String(), "{}"))
	body := 3 + rnd.IntN(8)
	for i := range body {
		switch rnd.IntN(9) {
		case 0:
			fmt.Fprintf(&b, "\tmovs %v, #%d\n", reg(), rnd.IntN(4))
		case 1:
			fmt.Fprintf(&b, "\tadds %v, %v, %v\n", reg(), reg(), reg())
		case 2:
			fmt.Fprintf(&b, "\tmov %v, %v\n", isa.Reg(rnd.IntN(13)), isa.Reg(rnd.IntN(13)))
		case 3:
			fmt.Fprintf(&b, "\tcmp %v, #%d\n", reg(), rnd.IntN(3))
		case 4:
			fmt.Fprintf(&b, "\tb%v %s%d\n", isa.Cond(rnd.IntN(14)), name, i+1+rnd.IntN(body-i))
		case 5:
			if call != "" {
				fmt.Fprintf(&b, "\tbl %s\n", call)
			}
		case 6:
			fmt.Fprintf(&b, "\tadcs %v, %v\n", reg(), reg())
		case 7:
			r := reg()
			fmt.Fprintf(&b, "\tpush {%v}\n\tlsls %v, %v, #1\n\tpop {%v}\n", r, r, reg(), []isa.Reg{r, reg()}[rnd.IntN(2)])
		case 8:
			at := 4 * rnd.IntN(2+min(saved.Count(), 1)) // not where LR is
			from := []int{at, 4 * rnd.IntN(2+min(saved.Count(), 1))}[rnd.IntN(2)]
			if from != 8 {
				from = at // nobody knows what is in the other word
			}
			fmt.Fprintf(&b, "\tsub sp, #8\n\tstr %v, [sp, #%d]\n\tldr %v, [sp, #%d]\n\tadd sp, #8\n", reg(), at, reg(), from)
		}
		fmt.Fprintf(&b, "%s%d:\n", name, i+1)
	}
	fmt.Fprintf(&b, "\tpop {%s}\n", strings.Trim((saved|1<<isa.PC).String(), "{}"))
	return b.String()
}

const returnTo = 0xfffffff0 // where nothing is

func randomState(rnd *rand.Rand) (s exec.State) {
	for r := range isa.Reg(13) {
		s.Regs[r] = uint32(rnd.IntN(4))
		if rnd.IntN(3) == 0 {
			s.Regs[r] = rnd.Uint32()
		}
	}
	s.Regs[isa.SP], s.Regs[isa.LR], s.Flags = 0x30000000, returnTo|1, isa.Flags(rnd.IntN(16))
	return s
}

// runRoutine carries out f until it comes back. It counts how deep the stack becomes, and the
// cycles of the lines of f itself.
func runRoutine(t *testing.T, img *image.Image, r *Result, s exec.State) (end exec.State, deep int64, cycles int) {
	t.Helper()
	s.Mem = exec.NewSparse(func(addr uint32) byte { return byte(addr) })
	f := &r.prog.Items[r.prog.SymbolOf("f").Item]
	g := r.prog.SymbolOf("g").Value.N
	s.Regs[isa.PC], _ = image.Address(f.Section, f.Offset)
	for range 10000 {
		if s.Regs[isa.PC] == returnTo {
			return s, deep, cycles
		}
		it := img.At(s.Regs[isa.PC])
		if it == nil {
			t.Fatalf("at %#x", s.Regs[isa.PC])
		}
		taken := true
		if row := it.Match.Form.Row; row.Flow == isa.FlowBranch {
			taken = exec.Holds(isa.Cond(it.Match.Values().Get("c")), &s)
		}
		res, ok := img.Step(it, &s, true)
		if !ok || res.End != exec.Done {
			t.Fatalf("%s: %v", r.prog.LineText(it), res.End)
		}
		if it.Offset < g {
			deep = max(deep, int64(0x30000000)-int64(s.Regs[isa.SP]))
			e := &r.prog.Environments[it.Environment]
			count, fails, _ := strings.Cut(it.Match.Cycles(e.Target, e.Have)[0].Count, ", ")
			if fails != "" && !taken {
				count = "1"
			}
			n, err := strconv.Atoi(count)
			if err != nil {
				t.Fatal(err)
			}
			cycles += n
		}
	}
	t.Fatal("it does not come back")
	return s, 0, 0
}
