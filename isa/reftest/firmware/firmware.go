// Package firmware makes programs of any length for benchmarks: T16 code that
// assembles, has no findings, and is mixed as firmware is. Only _test.go files
// import it.
//
// The mix is common practice, not a statistic: nearly half loads, stores and
// moves, then branches and calls, arithmetic, comparisons and shifts; a literal
// pool after each function, a comment in every third line, a table in
// between. The names belong to the signal box of the demo and are invented.
package firmware

import (
	"fmt"
	"math/rand/v2"
	"strings"
)

// header is what every program starts with.
const header = `@ firmware.s - a generated signal box, for benchmarks.

        .syntax unified
        .arch   armv4t
        .text
        .thumb

`

// devices are the bases of the I/O registers, as in the demo.
var devices = []string{"POINTS", "SIGNALS", "SENSORS", "SERIAL", "TIMER", "PANEL"}

var (
	subjects = []string{"point", "signal", "section", "route", "lamp", "button", "relay", "timer"}
	verbs    = []string{"poll", "set", "clear", "lock", "release", "check", "count", "prove", "report", "step"}
	comments = []string{"danger first", "the point's record", "still moving", "next one", "its timer ran out",
		"bits that changed", "not ours", "kept for the caller", "the lamp draws current", "occupied"}
)

// Text returns a program of at least the given number of lines. The same seed
// gives the same program.
func Text(seed uint64, lines int) string {
	g := &generator{rand: rand.New(rand.NewPCG(seed, 1))}
	g.out.Grow(lines * 32)
	g.text(header)
	for i, d := range devices {
		g.line(".equ", fmt.Sprintf("%s_BASE, 0x%x", d, 0x40010000+i<<16))
	}
	for i, s := range subjects {
		g.line(".equ", fmt.Sprintf("%s_SIZE, %d", strings.ToUpper(s), 4<<(i%4)))
		g.line(".equ", fmt.Sprintf("%s_COUNT, %d", strings.ToUpper(s), 3+i*5))
		g.line(".equ", fmt.Sprintf("%s_TICKS, %d", strings.ToUpper(s), 50+i*75))
	}
	for g.lines < lines {
		g.function()
		if g.n%8 == 0 {
			g.table()
		}
	}
	return g.out.String()
}

// generator writes a program.
type generator struct {
	rand  *rand.Rand
	out   strings.Builder
	lines int
	n     int      // functions so far
	names []string // of functions that may be called
	block int      // blocks of this function so far
}

func (g *generator) text(s string) {
	g.out.WriteString(s)
	g.lines += strings.Count(s, "\n")
}

// line writes an indented statement, and sometimes a comment.
func (g *generator) line(name, operands string) {
	s := fmt.Sprintf("        %-7s %s", name, operands)
	s = strings.TrimRight(s, " ")
	if g.rand.IntN(3) == 0 {
		s = fmt.Sprintf("%-39s @ %s", s, pick(g, comments))
	}
	g.text(s + "\n")
}

// op writes an instruction with its operands formatted.
func (g *generator) op(name, format string, args ...any) {
	g.line(name, fmt.Sprintf(format, args...))
}

func pick[T any](g *generator, list []T) T { return list[g.rand.IntN(len(list))] }

// low names a register among r0 to r3.
func (g *generator) low() string { return fmt.Sprintf("r%d", g.rand.IntN(4)) }

// kept names a register that the function has saved, r4 to r6.
func (g *generator) kept() string { return fmt.Sprintf("r%d", 4+g.rand.IntN(3)) }

func (g *generator) function() {
	g.n++
	g.block = 0
	name := fmt.Sprintf("%s_%s_%d", pick(g, subjects), pick(g, verbs), g.n)
	g.names = append(g.names, name)
	g.text(fmt.Sprintf("@ %s: r0 = number, r1 = what to do. Out: r0 = 1, or 0 when refused.\n", name))
	if g.rand.IntN(3) == 0 {
		g.line(".global", name)
	}
	g.line(".type", name+", %function")
	g.text("        .thumb_func\n" + name + ":\n")
	g.op("push", "{r4-r6, lr}")
	g.op("movs", "r4, r0")
	g.op("movs", "r5, r1")
	g.op("movs", "r6, #%d", g.rand.IntN(256))
	for range 3 + g.rand.IntN(6) {
		g.block++
		pick(g, blocks)(g, fmt.Sprintf("%s_%d", name, g.block))
	}
	g.op("movs", "r0, #%d", g.rand.IntN(2))
	g.op("pop", "{r4-r6, pc}")
	g.text("        .ltorg\n")
	g.line(".size", fmt.Sprintf("%s, . - %s", name, name))
	g.text("\n")
}

// blocks are the parts of a function. Each gets a label of its own to use; the
// branches in it stay in it, and so within reach.
var blocks = []func(g *generator, label string){
	// A device is read and tested.
	func(g *generator, label string) {
		g.op("ldr", "r0, =%s_BASE", pick(g, devices))
		g.op("ldr", "r1, [r0, #%d]", 4*g.rand.IntN(32))
		g.op("lsls", "r1, r1, #%d", 1+g.rand.IntN(31))
		g.op(pick(g, []string{"bmi", "bpl", "bcc", "bcs"}), "%s", label)
		g.op("movs", "r2, #%d", g.rand.IntN(256))
		g.op("str", "r2, [r0, #%d]", 4*g.rand.IntN(32))
		g.text(label + ":\n")
	},
	// A record is changed.
	func(g *generator, label string) {
		s := strings.ToUpper(pick(g, subjects))
		g.op("ldrb", "%s, [r4, #%d]", g.low(), g.rand.IntN(32))
		g.op("ldrh", "r1, [r4, #%d]", 2*g.rand.IntN(32))
		g.op("subs", "r1, r1, #%d", 1+g.rand.IntN(7))
		g.op("strh", "r1, [r4, #%d]", 2*g.rand.IntN(32))
		g.op("bne", "%s", label)
		g.op("strb", "r5, [r4, #%d]", g.rand.IntN(32))
		g.op("adds", "r4, r4, #%s_SIZE & 7", s)
		g.text(label + ":\n")
	},
	// A loop over all of something.
	func(g *generator, label string) {
		s := strings.ToUpper(pick(g, subjects))
		g.op("movs", "r5, #0")
		g.text(label + ":\n")
		g.op("movs", "r0, r5")
		g.op("movs", "r1, %s", g.kept())
		g.op("bl", "%s", pick(g, g.names))
		g.op("orrs", "r6, r6, r0")
		g.op("adds", "r5, r5, #1")
		g.op("cmp", "r5, #%s_COUNT", s)
		g.op("blo", "%s", label)
	},
	// A call with a refusal.
	func(g *generator, label string) {
		g.op("ldr", "r0, =%s", pick(g, g.names))
		g.op("mov", "r8, r0")
		g.op("movs", "r0, %s", g.kept())
		g.op("bl", "%s", pick(g, g.names))
		g.op("cmp", "r0, #%d", g.rand.IntN(4))
		g.op(pick(g, []string{"beq", "bne", "bhi", "bls"}), "%s", label)
		g.op("ldr", "r1, =0x%x", g.rand.Uint32())
		g.op("ands", "r0, r0, r1")
		g.op("str", "r0, [sp, #%d]", 4*g.rand.IntN(4))
		g.text(label + ":\n")
	},
	// Bits are put together.
	func(g *generator, label string) {
		g.op("lsrs", "r2, %s, #%d", g.kept(), 1+g.rand.IntN(31))
		g.op("movs", "r3, #1")
		g.op("lsls", "r3, r3, r2")
		g.op(pick(g, []string{"bics", "orrs", "eors", "ands"}), "r6, r6, r3")
		g.op("mvns", "r3, r6")
		g.op("adds", "r3, %s, r6", g.low())
		g.op("tst", "r3, r6")
		g.op("beq", "%s", label)
		g.op("rsbs", "r3, r3, #0")
		g.text(label + ":\n")
	},
	// A timer runs.
	func(g *generator, label string) {
		s := strings.ToUpper(pick(g, subjects))
		g.op("ldr", "r0, =%s_TICKS", s)
		g.op("ldr", "r1, [r4, %s]", g.kept())
		g.op("subs", "r1, r1, r0")
		g.op("bge", "%s", label)
		g.op("negs", "r1, r1")
		g.op("b", "%s_far", label)
		g.text(label + ":\n")
		g.op("ldmia", "r4!, {r0, r1}")
		g.op("stmia", "r4!, {r1-r3}")
		g.text(label + "_far:\n")
	},
}

// table writes constant data between functions.
func (g *generator) table() {
	g.text(fmt.Sprintf("        .balign 4\ntable_%d:\n", g.n))
	for range 4 + g.rand.IntN(8) {
		switch g.rand.IntN(3) {
		case 0:
			g.op(".word", "0x%x, %s", g.rand.Uint32(), pick(g, g.names))
		case 1:
			g.op(".hword", "%d, %d", g.rand.IntN(1<<16), g.rand.IntN(1<<15))
		default:
			g.op(".byte", "%d, %d, 1 << %d, 0", g.rand.IntN(256), g.rand.IntN(256), g.rand.IntN(8))
		}
	}
	g.text("        .balign 2\n\n")
}
