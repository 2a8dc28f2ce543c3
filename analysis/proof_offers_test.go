package analysis

import (
	"context"
	"fmt"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/rewrite"
	"narrowgauge/isa/reftest"
)

// badLines lists lines that T16 cannot hold, systematically: every class of
// constant, offsets on both sides of every limit, high registers in every
// place of every operation.
func badLines() []string {
	var out []string
	add := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	consts := []int64{-1, -2, -5, -128, -255, -256, -257, -1000, -65536, 256, 257, 300, 384, 510, 511, 512, 513, 1000, 1020, 1024, 4095, 4096,
		0x1234, 0xff00, 0xab00, 0x10000, 0xff0000, 0x12345678, 0x7fffffff, 0x80000000, 0xffffff00, 0xffffff01, 0xfffffffe}
	for _, v := range consts {
		for _, op := range []string{"movs", "mov", "mvns", "mvn"} {
			add("%s r0, #%d", op, v)
		}
		add("mov r8, #%d", v)
		for _, op := range []string{"adds", "subs", "add", "sub"} {
			for _, r := range []string{"r0", "r0, r0", "r0, r1", "r0, sp", "r8", "r8, r8", "r0, r8", "r8, r0", "sp", "sp, sp"} {
				if op[len(op)-1] == 's' && strings.Contains(r, "sp") {
					continue
				}
				add("%s %s, #%d", op, r, v)
			}
		}
		for _, op := range []string{"cmp", "cmn", "tst"} {
			add("%s r0, #%d", op, v)
			add("%s r8, #%d", op, v)
		}
		for _, op := range []string{"ands", "orrs", "eors", "bics", "adcs", "sbcs", "rsbs"} {
			add("%s r0, r0, #%d", op, v)
			add("%s r0, r1, #%d", op, v)
			add("%s r0, r8, #%d", op, v)
		}
	}
	for _, v := range []int64{0, 1, 5, 8, 20, 255} {
		for _, op := range []string{"ands", "orrs", "eors", "bics", "adcs", "sbcs", "rsbs", "add", "sub"} {
			for _, r := range []string{"r0, r0", "r0, r1", "r0, r8", "r8, r8", "r8, r0"} {
				add("%s %s, #%d", op, r, v)
			}
		}
		add("mov r8, #%d", v)
		add("mvn r8, #%d", v)
		add("mvns r0, #%d", v)
		add("add r0, sp, #%d", v)
		add("sub r0, sp, #%d", v)
		add("cmp r8, #%d", v)
		add("cmn r8, #%d", v)
		add("cmn r0, #%d", v)
		add("tst r0, #%d", v)
	}
	for _, op := range []string{"ldr", "ldrb", "ldrh", "ldrsb", "ldrsh", "str", "strb", "strh"} {
		for _, off := range []int64{-300, -256, -255, -128, -9, -8, -7, -4, -3, -2, -1, 0, 1, 2, 3, 4, 6, 8, 31, 32, 33, 40, 62, 63, 64, 66, 100, 124, 126, 128, 200, 255, 256, 300, 380, 508, 1000, 1020, 1022, 1024, 1100, 1144, 1148, 4095, 4096, 5000} {
			for _, base := range []string{"r1", "r0", "r8", "sp"} {
				add("%s r0, [%s, #%d]", op, base, off)
			}
			add("%s r8, [r1, #%d]", op, off)
		}
		for _, regs := range []string{"r0, [r1, r8]", "r0, [r8, r1]", "r0, [r8, r9]", "r8, [r0, r1]", "r8, [r9, r1]", "r0, [sp, r1]", "r8, [r8, r1]", "r0, [r1, sp]"} {
			add("%s %s", op, regs)
		}
		for _, off := range []int64{-8, -4, -1, 1, 2, 4, 60, 255} {
			add("%s r0, [r1], #%d", op, off)
			add("%s r0, [r1, #%d]!", op, off)
		}
		add("%s r0, [r1], r2", op)
	}
	add("ldr r8, =0x12345678")
	for _, op := range []string{"adds", "subs", "ands", "orrs", "eors", "bics", "adcs", "sbcs", "lsls", "lsrs", "asrs", "rors", "muls"} {
		for _, d := range []string{"r0", "r8"} {
			for _, n := range []string{"r0", "r1", "r8", "r9"} {
				for _, m := range []string{"r0", "r1", "r2", "r8", "r10"} {
					add("%s %s, %s, %s", op, d, n, m)
				}
				add("%s %s, %s", op, d, n)
			}
		}
	}
	for _, op := range []string{"mvns", "negs", "tst", "cmn", "mov", "movs"} {
		for _, regs := range []string{"r0, r8", "r8, r0", "r8, r9", "r0, r1"} {
			add("%s %s", op, regs)
		}
	}
	for _, op := range []string{"lsls", "lsrs", "asrs"} {
		for _, n := range []int{0, 1, 31, 32, 33, 40, 63, 64} {
			for _, r := range []string{"r0, r1", "r0, r0", "r8, r1", "r0, r8", "r8, r8"} {
				add("%s %s, #%d", op, r, n)
			}
		}
	}
	for _, n := range []int{1, 8, 31} {
		add("rors r0, r1, #%d", n)
		add("rors r0, r0, #%d", n)
	}
	for _, l := range []string{"{r8}", "{r4, r8}", "{r4-r7, r8-r11}", "{r8-r12}", "{r0, r12}"} {
		add("push %s", l)
		add("pop %s", l)
	}
	add("push {r4-r11, lr}")
	add("pop {r4-r11, pc}")
	for _, c := range []string{"eq", "ne", "lt", "hi"} {
		for _, l := range []string{"mov%s r0, #1", "mov%s r0, r1", "adds%s r0, r0, #1", "add%s r0, r0, #1", "ldr%s r0, [r1]", "str%s r0, [r1, #4]", "bx%s lr", "bl%s f", "cmp%s r0, #1"} {
			add(l, c)
		}
	}
	for _, op := range []string{"uxtb", "uxth", "sxtb", "sxth"} {
		add("%s r0, r1", op)
		add("%s r0, r0", op)
	}
	add("rsb r0, r1, #5")
	add("rsb r0, r1, #0")
	add("neg r0, r1")
	return out
}

// TestOffers holds that a rewrite is offered wherever one exists: right after
// each line either everything is alive, or every low register is dead. What is
// left without an offer must be listed here with its reason. How many lines there
// are of each check, and how many have a safe offer first, is in testdata/offers.txt.
func TestOffers(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	ctx := context.Background()
	type count struct{ lines, offered, safe int }
	counts := map[string]*count{}
	safe, carried := 0, 0 // those of the safe offers that were carried out
	for mode := range 4 {
		dead, unified := mode&1 != 0, mode&2 != 0
		tail, syn := "\tsvc #0\n", "unified"
		if !unified {
			tail, syn = "\tswi #0\n", "divided"
		}
		if dead {
			tail = "\tldr r0, [r0]\n\tmovs r1, #0\n\tmovs r2, #0\n\tmovs r3, #0\n\tmovs r4, #0\n\tmovs r5, #0\n\tmovs r6, #0\n\tmovs r7, #0\n\tbx lr\n"
			if !unified {
				tail = strings.ReplaceAll(tail, "movs", "mov")
			}
		}
		missing := 0
		for _, l := range reftest.Sample(badLines(), 9) {
			if !unified {
				l = inDivided(l)
			}
			head := "\t.syntax " + syn + "\n\t.thumb\nf:\n"
			text := head + "\t" + l + "\n" + tail
			r := analyze(t, nil, text)
			code := ""
			for _, d := range r.Each() {
				if d.Severity == finding.Error {
					code = d.Code
				}
			}
			if code == "" {
				continue
			}
			k := counts[code]
			if k == nil {
				k = &count{}
				counts[code] = k
			}
			k.lines++
			acts := r.Actions(ctx, finding.Span{Start: len(head), End: len(head) + len(l) + 1})
			for i := range acts {
				switch a := &acts[i]; {
				case a.Proof == rewrite.Differs:
					t.Errorf("%s, dead registers %v, %s: carried out, %q does something else", l, dead, syn, a.Title)
				case a.Safe:
					if safe++; a.Proof == rewrite.Same {
						carried++
					}
				}
			}
			if len(acts) > 0 {
				k.offered++
				if acts[0].Safe {
					k.safe++
				}
				continue
			}
			if why := noWayOut(l, dead); why == "" {
				missing++
				if missing < 4000 {
					t.Errorf("nothing offered, dead registers %v, %s: %s (%s)", dead, syn, l, code)
				}
			}
		}
	}
	proof.Counted("%d of %d safe offers were carried out and do the same", carried, safe)
	if carried < safe*98/100 {
		t.Errorf("%d of %d safe offers only were carried out", carried, safe)
	}
	var b strings.Builder
	for _, code := range slices.Sorted(maps.Keys(counts)) {
		k := counts[code]
		fmt.Fprintf(&b, "%-20s %5d lines, %5d with an offer, %5d with a safe one first\n", code, k.lines, k.offered, k.safe)
	}
	if reftest.Part() {
		proof.Counted("offers\n%s", b.String())
		return // the file is about all of them
	}
	const path = "testdata/offers.txt"
	if *Update {
		if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if b.String() != string(want) {
		t.Errorf("offered (-update writes it to %s):\n%s\nwant:\n%s", path, b.String(), want)
	}
}

// inDivided writes a line in the divided syntax: no letter says that the flags
// are set, and the condition is where it was.
func inDivided(line string) string {
	op, rest, _ := strings.Cut(line, " ")
	for _, base := range []string{"mov", "mvn", "add", "sub", "and", "orr", "eor", "bic", "adc", "sbc", "rsb", "lsl", "lsr", "asr", "ror", "mul", "neg"} {
		if tail, ok := strings.CutPrefix(op, base+"s"); ok {
			return base + tail + " " + rest
		}
	}
	return line
}

// noWayOut gives the reason why a line has no rewrite.
func noWayOut(line string, dead bool) string {
	op, _, _ := strings.Cut(line, " ")
	var n int64
	if i := strings.IndexByte(line, '#'); i >= 0 {
		fmt.Sscanf(line[i+1:], "%d", &n)
	}
	sp := strings.Contains(line, "sp")
	switch {
	case sp && n%4 != 0 && strings.HasPrefix(line[3:], " sp"):
		return "the stack pointer is a multiple of 4 at all times (AAPCS32, 6.2.1.1)"
	case sp && !dead && strings.HasPrefix(line[3:], " sp"):
		return "a scratch register cannot be saved where the stack pointer moves"
	case sp && !dead && strings.HasPrefix(op, "str") && !strings.Contains(line, "#"):
		return "the offset in the register would have to be another one behind a push"
	case sp && !dead && strings.HasPrefix(op, "str") && (n < 0 || n%map[string]int64{"str": 4, "strh": 2, "strb": 1}[op] != 0):
		return "below the stack pointer, where a register would be saved, or misaligned"
	}
	return ""
}

// TestAlone holds that lines get their offers, or none, where nothing is in front of them
// or after them, and that what is offered is within the text.
func TestAlone(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	list := []string{"movw r0, #1", "movt r0, #1", "ldrd r0, r1, [r2]", "strd r0, r1, [r2]", "it eq", "moveq r0, #1", "cbz r0, .", "b .+5000000", "tbb [pc, r0]",
		"ldr r0, =1", "ldr r0, [pc, #2]", "bx r0", "blx r0", "bl .", "pop {r8, pc}", "push {r8}", "rev r0, r0", "udiv r0, r1, r2", "adr r0, .+3", "mls r0, r1, r2, r3",
		"ubfx r0, r1, #3, #4", "bfi r0, r1, #3, #4", "uxtb r0, r1", "stmdb r0!, {r1}", "ldmia sp!, {r8, pc}", "call x", "jmp x", "ret"}
	bad := badLines()
	for k := 0; k < len(bad); k += reftest.Size(797, 23, 1) {
		list = append(list, bad[k])
	}
	for _, head := range []string{".thumb", ".arm", ".syntax unified\n.thumb", ".syntax unified\n.arm", ".cpu cortex-m0\n.syntax unified\n.thumb", ".thumb\n.data", ".syntax unified\n.thumb\nf:"} {
		for _, l := range list {
			for _, text := range []string{head + "\n\t" + l, head + "; " + l, head + "\n" + l + "\n.data", head + "\n" + l + "; " + l} {
				r := analyze(t, nil, text)
				for _, a := range r.Actions(ctx, finding.Span{End: len(text)}) {
					for _, e := range a.Edits {
						if e.Span.Start < 0 || e.Span.End > len(text) || e.Span.Start > e.Span.End {
							t.Fatalf("%q: %s: an edit at %v", text, a.Title, e.Span)
						}
					}
				}
				r.SafeFixes(ctx, "")
			}
		}
	}
}
