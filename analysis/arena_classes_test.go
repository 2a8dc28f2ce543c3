package analysis

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/isa"
	"narrowgauge/isa/exec"
	"narrowgauge/isa/reftest"
)

// pitfall is a source in which a rewrite easily does harm: a line, with '?' in front,
// that has no encoding or goes to the wrong place, and what it means.
type pitfall struct {
	name, src string
	means     func(s *exec.State, b *build) bool // nil: what A32 code means by the words
	fill      string                             // with real: see slip
	real      bool
	always    bool // whatever the IT block says
	// harm is the rewrite that does it. It is offered, not safe, and carried out it
	// differs; empty: nothing of the kind is offered.
	harm string
	// mended: the safe rewrites leave no error.
	mended bool
}

const (
	pitM0 = ".cpu cortex-m0|.syntax unified|.thumb|.global f|.thumb_func|"
	pitM3 = ".cpu cortex-m3|.syntax unified|.thumb|.global f|.thumb_func|"
	pitV4 = ".cpu arm7tdmi|.syntax unified|.thumb|.global f|.thumb_func|"
	pitA  = ".arch armv7-a|.syntax unified|.arm|.global f|.type f, %function|"
)

// onZero goes to where the fill goes if r2 is zero, or is not.
func onZero(zero bool) func(*exec.State, *build) bool {
	return func(s *exec.State, _ *build) bool { return (s.Regs[2] == 0) == zero }
}

// goesTo goes to a label in an instruction set.
func goesTo(label string, set isa.State) func(*exec.State, *build) bool {
	return func(s *exec.State, b *build) bool {
		y, ok := b.symbols[label]
		s.Set, s.Regs[15] = set, uint32(y.Value)&^1
		return ok
	}
}

// pitfalls are the classes of harm that rewrites have done.
func pitfalls() (list []pitfall) {
	add := func(p ...pitfall) { list = append(list, p...) }
	// Into the other instruction set: by which instruction, how the label is marked.
	for _, way := range []string{"adr r0, t|?bx r0", "ldr r0, =t|?bx r0", "adr r0, t|mov r1, r0|?bx r1", "ldr r0, w|?bx r0"} {
		for _, mark := range []string{"", ".thumb_func|", ".type t, %function|", ".global t|", ".global t|.thumb_func|"} {
			for _, arch := range []string{"armv4t", "armv5te", "armv7-a"} {
				src := fmt.Sprintf(".arch %s|.syntax unified|.arm|.global f|.type f, %%function|f: %s|.align 2|w: .word t|.thumb|.align 2|%st: movs r0, #1|movs r1, #2|movs r4, #7|bx lr", arch, way, mark)
				add(pitfall{name: "into Thumb code", src: src, means: goesTo("t", isa.T)})
			}
		}
	}
	for _, way := range []string{"adr r0, t|?bx r0", "ldr r0, =t|?bx r0", "adr r0, t|adds r0, #1|?bx r0", "ldr r0, =t+1|?bx r0"} {
		for _, arch := range []string{"armv4t", "armv5te"} {
			src := fmt.Sprintf(".arch %s|.syntax unified|.thumb|.global f|.thumb_func|f: %s|.arm|.align 2|t: mov r0, #1|mov r4, #7|bx lr", arch, way)
			add(pitfall{name: "into A32 code", src: src, means: goesTo("t", isa.A)})
		}
	}
	words := func(name, head, src, harm string, mended bool) {
		p := pitfall{name: name, src: head + src, harm: harm, mended: mended}
		if strings.Contains(src, "?add r0, r1, #0x12300") {
			p.means = (&stm{op: "add", cond: isa.AL, n: 1, m: -1, imm: 0x12300, three: true}).carry
		}
		add(p)
	}
	// The stack pointer between words is in TestStackSteps.
	add(
		pitfall{name: "a loop that a cbnz closes carries C", src: pitM3 + "f: 1: adcs r0, r1|sub r2, r2, #1|?cbnz r2, 1b|bx lr", means: onZero(false), fill: "b 1b", real: true, harm: "compare-branch"},
		pitfall{name: "the target of a cbnz reads N", src: pitM3 + "f: and r2, r2, #7|sub r2, r2, #7|1: bmi 2f|add r2, r2, #1|mov r3, #1|?cbnz r2, 1b|mov r3, #0|2: str r2, [r4]|bx lr", means: onZero(false), fill: "b 1b", real: true, harm: "compare-branch"},
		pitfall{name: "the target of a cbnz reads a register", src: pitM3 + "f: 1: str r3, [r4]|sub r2, r2, #1|?cbnz r2, 1b|movs r3, #0|bx lr", means: onZero(false), fill: "b 1b", real: true},
		pitfall{name: "the loop sets the flags anew", src: pitM3 + "f: 1: adds r0, r1|subs r2, #1|?cbnz r2, 1b|movs r0, #1|bx lr", means: onZero(false), fill: "b 1b", real: true, mended: true},
	)
	const caller = "|.global m|.thumb_func|m: push {r4, lr}|bl f|beq 1f|movs r4, #1|str r4, [r5]|1: pop {r4, pc}"
	words("a global routine hands a flag to a caller", pitM0, "f: ?ldr r0, [r1, #200]|bx lr"+caller, "offset-register", false)
	words("a weak routine does", ".cpu cortex-m0|.syntax unified|.thumb|.weak f|.thumb_func|", "f: ?ldr r0, [r1, #200]|bx lr"+caller, "offset-register", false)
	words("by a pop", pitM0, "f: push {r4, lr}|?ldr r0, [r1, #200]|pop {r4, pc}"+caller, "offset-register", false)
	words("through a tail call", ".cpu cortex-m0|.syntax unified|.thumb|.global f, g|.thumb_func|g: ?ldr r0, [r1, #200]|bx lr|.thumb_func|", "f: b g"+caller, "offset-register", false)
	words("nobody asks for it", pitM0, "f: ?ldr r0, [r1, #200]|bx lr|.global m|.thumb_func|m: push {r4, lr}|bl f|cmp r0, #1|bne 1f|movs r4, #1|1: pop {r4, pc}", "", true)
	const next = "|.global g|.thumb_func|g: movs r0, #0|movs r1, #0|movs r2, #0|movs r3, #0|movs r5, #0|movs r6, #0|movs r7, #0|bx lr"
	words("a pop of pc does not run on", pitM0, "f: push {r4, r5, lr}|?pop {r4, r10, pc}"+next, "", true)
	words("a pop of many does not", pitV4, "f: ?pop {r4-r7, r9, pc}"+next, "", true)
	words("a store in front of it", pitM0, "f: ?str r0, [r1, #200]|pop {r4, pc}"+next, "", false)
	// Distances.
	words("over it by . backwards", pitV4, "f: movs r7, #2|1: subs r7, #1|?ldr r0, [r1, #200]|bne .-4|bx lr", "offset-register", false)
	words("over it by . ahead", pitV4, "f: cmp r0, #40|bcs .+6|?adds r0, #300|movs r3, #2|movs r4, #3|bx lr", "two-adds", false)
	words("past a label", pitV4, "b f+6|f: movs r3, #1|?adds r0, #300|movs r4, #2|movs r5, #3|bx lr|.global m|.thumb_func|m: b f+4", "two-adds", false)
	words("a load by a distance from pc", pitV4, ".align 2|f: ldr r2, [pc, #4]|?adds r0, #300|bx lr|nop|.word 1, 2, 3", "two-adds", false)
	words("an address by a distance from pc", pitA, "f: add r2, pc, #8|ldr r2, [r2]|?add r0, r1, #0x12300|bx lr|.word 1, 2, 3", "two-adds", false)
	words("a row of steps after add pc", pitV4, "f: movs r1, #1|ands r2, r1|lsls r2, r2, #2|add pc, r2|nop|?adds r0, #300|b 1f|adds r0, #3|b 1f|1: bx lr", "two-adds", false)
	words("a row of steps in A32", pitA, "f: and r2, r2, #1|cmp r2, #1|addls pc, pc, r2, lsl #3|b 1f|?add r0, r1, #0x12300|b 1f|mov r0, #1|b 1f|1: bx lr", "two-adds", false)
	words("a table of bytes by numbers", pitM3, "f: and r2, r2, #1|tbb [pc, r2]|.byte 1, 4|?add r0, r1, #0x12300|bx lr|movs r0, #1|bx lr", "two-adds", false)
	words("a table of bytes by labels", pitM3, "f: and r2, r2, #1|tbb [pc, r2]|t: .byte (a-t)/2, (b-t)/2|a: ?add r0, r1, #0x12300|bx lr|b: movs r0, #1|bx lr", "", true)
	words("lr by hand", pitA, "f: push {r4, lr}|ldr r3, =g|?add r0, r1, #0x12300|mov lr, pc|mov pc, r3|pop {r4, lr}|bx lr|g: mov r2, #1|bx lr", "", true)
	// IT blocks.
	back := func(s *exec.State, b *build) bool {
		lr := s.Regs[14]
		s.Set, s.Regs[15], s.IT = isa.State(isa.T), lr&^1, 0
		return true
	}
	add(
		pitfall{name: "a return in a block", src: pitM3 + "f: cmp r0, r1|itt ge|movge r0, r1|?bx lr|movs r0, #3|bx lr", means: back, always: true, harm: "it-condition", mended: true},
		pitfall{name: "a return in the other branch", src: pitM3 + "f: cmp r0, r1|ite ge|movge r0, r2|?bx lr|mov r0, r1|bx lr", means: back, always: true, harm: "it-condition"},
	)
	// What is behind a call at the end of code, with padding or without: lr says it.
	onLE := func(s *exec.State, _ *build) bool {
		m := cpu{}
		toCPU(s, &m)
		return m.holds(13) // LE
	}
	for _, behind := range []string{".align 0|.word f", ".balign 4|.word 1", ".balign 8|.word 1", ".byte 1", "@ end|.balign 4|w: .word g", ".space 3|.balign 4|.word 1", "2: bl h|.balign 4|.word g"} {
		for _, odd := range []string{"", "|movs r5, #7"} {
			add(pitfall{name: "a call that is the last line", src: pitM0 + "f: push {r4, lr}|cmp r0, r1" + odd + "|?blle e|" + behind, means: onLE, fill: "bl e", real: true})
		}
	}
	// A stack pointer that is none, and a push.
	words("r13 for a number", pitV4, "f: mov r12, sp|mov sp, r0|?str r2, [r1, #200]|mov r3, sp|mov sp, r12|bx lr", "", false)
	return list
}

// runPitfall runs what each rewrite makes of a source against what it means, and says
// which differ.
func runPitfall(t *testing.T, l *linker, p *pitfall, runs *int) (r *Result, acts []Action, differ []string, mended bool) {
	t.Helper()
	text := strings.ReplaceAll(p.src, "|", "\n") + "\n"
	start := strings.IndexByte(text, '?')
	text = text[:start] + text[start+1:]
	end := start + strings.IndexByte(text[start:], '\n')
	r = analyze(t, nil, text)
	ctx := context.Background()
	acts = r.Actions(ctx, finding.Span{Start: 0, End: len(text)})
	if len(acts) == 0 {
		return r, nil, nil, false
	}
	s := slip{text: text[start:end], fill: p.fill, cond: isa.AL}
	means := p.means
	if means == nil {
		if means = sameWords(t, s.text); means == nil {
			t.Fatalf("%s: %s means nothing", p.name, s.text)
		}
	}
	item := -1
	for i := range r.prog.Items {
		if it := &r.prog.Items[i]; r.prog.File.LineStart(int(it.Line))+int(it.Stmt.Start) == start && it.Size > 0 {
			item = i
		}
	}
	it := &r.prog.Items[item]
	env := &r.prog.Environments[it.Environment]
	h := hole{start: start, end: end, fill: s.filled(it, env), size: itemSize(it), means: means, cond: isa.AL, real: p.real, always: p.always}
	safe := r.SafeFixes(ctx, "")
	bad := func(text string) bool {
		return slices.ContainsFunc(analyze(t, nil, text).Early(), func(d finding.Diagnostic) bool { return d.Severity <= finding.Warning })
	}
	mended = len(safe) > 0 && !bad(apply(text, safe))
	try := func(edits []finding.Edit) string {
		fixed := apply(text, edits)
		if len(edits) == 0 || slices.ContainsFunc(analyze(t, nil, fixed).Each(), func(d finding.Diagnostic) bool { return d.Severity == finding.Error }) {
			return ""
		}
		q, err := l.both(r, text, []hole{h}, edits, nil, env.Have)
		if err != nil {
			t.Errorf("%s: %v", p.name, err)
			return ""
		}
		routines, _ := begins(q, r, item, 0)
		counts := newSlipCounts()
		for k := range reftest.Size(1, 12, 60) {
			g := rand.New(rand.NewPCG(uint64(k), 5))
			_, d := q.compare(g, routines, nil, arenaCode, 0, counts, func() *build { return nil })
			if *runs += counts.runs; d != "" {
				return d
			}
			counts.runs = 0
		}
		return ""
	}
	if d := try(safe); d != "" {
		t.Errorf("%s: all that is safe: %s\n%s\n---- became\n%s", p.name, d, text, apply(text, safe))
	}
	for _, a := range acts {
		d := try(a.Edits)
		if d != "" && a.Safe {
			t.Errorf("%s: %s: %s\n%s\n---- became\n%s", p.name, a.Title, d, text, apply(text, a.Edits))
		}
		if d != "" {
			differ = append(differ, a.Rewrite)
		}
	}
	return r, acts, differ, mended
}

// TestPitfalls carries out the classes of sources in which rewrites have done harm:
// what is safe keeps what the program does; what is known to do harm is not safe, and
// does it when it is carried out, so that the arena is known to see it.
func TestPitfalls(t *testing.T) {
	t.Parallel()
	l := newLinker(t)
	proof := reftest.Begin(t)
	runs, safe, all := 0, 0, 0
	for _, p := range reftest.Sample(pitfalls(), 5) {
		_, acts, differ, mended := runPitfall(t, l, &p, &runs)
		for _, a := range acts {
			if all++; a.Safe {
				safe++
			}
		}
		if p.harm != "" && !reftest.Part() && !slices.Contains(differ, p.harm) {
			t.Errorf("%s: %s does no harm: %v", p.name, p.harm, acts)
		}
		if p.mended && !mended {
			t.Errorf("%s: not mended by what is safe: %v", p.name, acts)
		}
	}
	proof.Counted("pitfalls: %d rewrites, %d safe, %d runs", all, safe, runs)
}

// TestStackSteps carries out what is offered for steps of the stack pointer that are no
// multiple of 4: it is one afterwards.
func TestStackSteps(t *testing.T) {
	t.Parallel()
	l := newLinker(t)
	g := reftest.Rand(53, 7)
	for _, head := range []string{pitM0, pitV4, pitM3} {
		for n := 1; n < 600; n += 7 {
			for _, op := range []string{"sub", "add"} {
				text := strings.ReplaceAll(fmt.Sprintf("%sf: %s sp, #%d|bx lr", head, op, n), "|", "\n") + "\n"
				r := analyze(t, nil, text)
				if n%8 != 1 && testing.Short() {
					continue
				}
				for _, a := range r.Actions(context.Background(), finding.Span{Start: 0, End: len(text)}) {
					if n%4 != 0 && a.Safe {
						t.Errorf("%s sp, #%d: %s is safe", op, n, a.Title)
					}
					fixed := apply(text, a.Edits)
					b, err := l.build(fixed, nil, nil, r.prog.Environments[len(r.prog.Environments)-1].Have)
					if err != nil {
						t.Errorf("%s: %v", a.Title, err)
						continue
					}
					x := b.start(g, arenaCode, isa.T, 1)
					from := x.s.Regs[13]
					if x.run(100); x.s.Regs[13]%4 != 0 || x.end != "return" {
						t.Errorf("%s sp, #%d: %s: %s with sp %x from %x", op, n, a.Title, x.end, x.s.Regs[13], from)
					}
				}
			}
		}
	}
}

// TestFixesKeepComments holds that safe rewrites keep each comment once.
func TestFixesKeepComments(t *testing.T) {
	for _, line := range []string{"ldr r0, [r1, #200]", "str r8, [r0]", "movs r0, #300", "push {r4, r8}", "adds r0, r1, #9", "ands r0, r0, #0xff00", "cmp r0, #-5", "b far", "ldrsb r0, [r1, #4]", "moveq r0, r1"} {
		for _, around := range []string{"%s /* tail */", "/* head */ %s", "%s @ end", "%s /* one */ @ two", "/* head */ %s /* tail */", "%s /* a */ /* b */", "%s // end"} {
			text := ".cpu arm7tdmi\n.syntax unified\n.thumb\n\t" + fmt.Sprintf(around, line) + "\n\tsvc #1\n\tbx lr\n\t.space 4000\nfar:\tbx lr\n"
			after := apply(text, analyze(t, nil, text).SafeFixes(context.Background(), ""))
			for _, c := range []string{"tail", "head", "@ end", "one", "two", "/* a */", "/* b */", "// end"} {
				if a, b := strings.Count(text, c), strings.Count(after, c); a != b {
					t.Errorf("%q is there %d times:\n%s", c, b, after)
				}
			}
		}
	}
}
