package analysis

import (
	"encoding/binary"
	"fmt"
	"math/rand"
	"os"
	"strings"
	"testing"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/isa/reftest"
)

// conditional writes a few conditional instructions outside of IT blocks, with
// what may be between them.
func (g *generatorT) conditional() {
	first := g.Intn(len(condsT))
	for range 1 + g.Intn(7) {
		c := condsT[first]
		switch g.Intn(8) {
		case 0:
			c = condsT[g.Intn(len(condsT))]
		case 1, 2, 3:
			c = condsT[first^1]
		}
		switch g.Intn(40) {
		case 0:
			g.label()
		case 1:
			g.line("b%s %s", c, g.near(60))
		case 2:
			g.line("bx%s lr", c)
		case 3:
			g.line("bl%s %s", c, g.near(100))
		case 4:
			g.line("pop%s {r4, pc}", c)
		case 5:
			g.line("pop%s {r4, r9, pc}", c)
		case 6:
			g.line("bkpt%s", []string{"", "", c}[g.Intn(3)])
		case 7:
			g.line("nop%s", []string{"", c}[g.Intn(2)])
		case 8:
			g.line("yield%s", []string{"", c}[g.Intn(2)])
		case 9:
			g.line("udf%s #1", []string{"", c}[g.Intn(2)])
		case 10:
			g.line(".balign %d", 2<<g.Intn(2))
		case 11:
			g.line(".hword %d", g.Intn(100))
		case 12:
			g.line(".equ e%d, .", g.lines)
		case 13:
			g.line("cmp r0, #1")
		case 14:
			g.line("ldr%s r%d, l%d", c, g.low(), g.labels+g.Intn(3))
		case 15:
			g.line("b%s .+%d", c, 4+2*g.Intn(8))
		case 16:
			g.line("it %s", c)
			g.line("mov%s r%d, #%d", c, g.reg(), g.Intn(256))
		case 17:
			g.line(".ltorg")
		case 18:
			g.line("ldr%s pc, [r1]", c)
		case 19:
			g.line("mov%s pc, lr", c)
		case 20:
			g.line("%s%s r%d, r%d", []string{"mvns", "adds", "tst", "cmp", "rev", "uxtb", "clz", "sxth"}[g.Intn(8)], c, g.low(), g.low())
		case 21:
			g.line("%s%s r%d, r%d, r%d", []string{"mul", "add", "sub", "adc", "sdiv", "bic", "ror", "lsl"}[g.Intn(8)], c, g.low(), g.low(), g.low())
		case 22:
			g.line("%s%s r%d!, {r1, r%d}", []string{"ldm", "stm", "ldmdb"}[g.Intn(3)], c, g.low(), 2+g.Intn(6))
		case 23:
			g.line("cbz r0, 1f")
			g.b.WriteString("1:\n")
		case 24:
			g.line("add%s r%d, r%d, #%d", c, g.low(), g.low(), g.Intn(5000))
		case 25:
			g.line("adr%s r%d, l%d", c, g.low(), g.labels)
		case 26:
			g.line("mov%s.w r%d, #%d", c, g.low(), g.Intn(256))
		case 27:
			g.line("push%s {r0, r%d}", c, 1+g.Intn(10))
		case 28:
			g.line("svc%s #%d", c, g.Intn(256))
		case 29:
			g.line("tbb%s [r0, r1]", c)
		default:
			g.op(c)
		}
	}
}

// compareInserted compares the instructions in inserted blocks, and the ITs, with
// the reference's code, and counts the blocks. What waits for the linker is left
// out.
func compareInserted(t *testing.T, res *Result, ref *reftest.File) (blocks int) {
	for i := range res.prog.Items {
		it := &res.prog.Items[i]
		if it.Slot&program.SlotInserted == 0 {
			continue
		}
		data := ref.Sections[res.prog.Sections[it.Section].Name]
		half := func(off int64) uint32 {
			if off < 0 || off+2 > int64(len(data)) {
				return 1 << 20
			}
			return uint32(binary.LittleEndian.Uint16(data[off:]))
		}
		if it.Slot&program.SlotFirst != 0 {
			blocks++
			text, _ := res.prog.InsertedBlock(it)
			pattern, _, _ := strings.Cut(text, " ")
			// "IT" in the manual: the low bit of each condition after the
			// first, then a one.
			c := uint32(it.Slot.Unpack().Cond)
			mask := uint32(0)
			for k, then := range pattern[2:] {
				bit := c & 1
				if then == 'e' {
					bit ^= 1
				}
				mask |= bit << (3 - k)
			}
			mask |= 1 << (3 - len(pattern[2:]))
			if want, got := 0xbf00|c<<4|mask, half(it.Offset-2); want != got {
				t.Errorf("line %d: %s is %04x, reference %04x", it.Line+1, text, want, got)
			}
		}
		linker := false
		for _, r := range ref.Relocs[res.prog.Sections[it.Section].Name] {
			linker = linker || int64(r.Offset) == it.Offset
		}
		// ADR: the reference forgets a weak label, and sets bit 0 of a function, in
		// blocks or not.
		if n := len(it.Stmt.Ops); n > 0 && strings.HasPrefix(it.Stmt.Name, "adr") {
			if y := eval.New(res.prog).Direct(&it.Stmt.Ops[n-1]); y != nil && (y.Weak || y.Function) {
				linker = true
			}
		}
		if it.Match.Form == nil || it.Match.Deferred() || linker || it.Slot&program.SlotIn == 0 { // A32 without slotIn
			continue
		}
		want := it.Match.Encode()
		got := half(it.Offset)
		if it.Match.Form.Row.Size() == 4 {
			got = got<<16 | half(it.Offset+2)
		}
		if want != got {
			t.Errorf("line %d: %s: %08x, reference %08x", it.Line+1, res.prog.LineText(it), want, got)
		}
	}
	return blocks
}

// TestLayoutImplicit compares the layout, the verdicts and the code of random
// programs whose IT lines the assembler inserts.
func TestLayoutImplicit(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	programs, first := reftest.Count(2, 16, 1000), reftest.Seed(0)
	var all compared
	for seed := first; seed < first+programs; seed++ {
		arch := []string{"armv7-m", "armv7-a", "armv6t2", "armv8-m.main"}[seed%4]
		g := &generatorT{Rand: rand.New(rand.NewSource(int64(seed))), full: true, a32: arch == "armv7-a" || arch == "armv6t2", implicit: true}
		text := g.program(600)
		c := compareLayoutIn(t, &Settings{Arch: arch, StartMode: "thumb", ImplicitIT: "thumb"}, []string{"-mimplicit-it=thumb"}, text)
		if t.Failed() {
			if name := reftest.Text(reftest.Disagreements); name != "" {
				os.WriteFile(name, []byte(text), 0o644)
			}
			t.Logf("seed %d, %s", seed, arch)
			return
		}
		all.refused, all.labels, all.inserted = all.refused+c.refused, all.labels+c.labels, all.inserted+c.inserted
	}
	proof.Counted("layout with inserted ITs: %d programs, %d lines refused by both, %d labels and %d inserted ITs compared", programs, all.refused, all.labels, all.inserted)
	if all.inserted < 50*programs || all.labels < 20*programs {
		t.Errorf("the generator is lopsided")
	}
}

// TestImplicitCases compares programs for each thing that ends a block, or does
// not.
func TestImplicitCases(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	for _, k := range []struct {
		between string
		blocks  int
	}{
		{"", 1},
		{"l: ", 2},
		{"1:\n", 2},
		{".balign 4\n", 1},
		{".word 5\n.hword 6\n", 1},
		{".equ e, 4\n", 1},
		{"x = .\n", 1},
		{".global out\n", 1},
		{".ltorg\n", 1},
		{".section .data\n.word 1\n.text\n", 1},
		{".section .more, \"ax\"\naddeq r0, r1\n.text\n", 2},
		{".arm\n.thumb\n", 1},
		{".arm\nadd r0, r1\n.thumb\n", 2},
		{".arm\naddeq r0, r1\n.thumb\n", 1},
		{".arm\naddne r0, r1\nbne out\n.thumb\n", 1},
		{".arm\naddgt r0, r1\n.thumb\naddle r0, r1\n", 3},
		{"add r0, r1\n.arm\naddgt r0, r1\n.thumb\n", 2},
		{"add r0, r1\n", 2},
		{"addal r0, r1\n", 2},
		{"addgt r0, r1\n", 3},
		{"addne r0, r1\n", 1},
		{"addne r0, r1\naddne r0, r1\naddne r0, r1\n", 2},
		{"nop\n", 1},
		{"nopgt\n", 1},
		{"add r0, r1\nnopgt\n", 2},
		{"add r0, r1\nudfgt #1\n", 2},
		{"udf #1\n", 1},
		{"bkpt 1\n", 1},
		{"yield\n", 2},
		{"b out\n", 2},
		{"beq out\n", 2},
		{"bne out\n", 2},
		{"bgt out\n", 2},
		{"bleq out\n", 2},
		{"bxeq lr\n", 2},
		{"popeq {pc}\n", 1},
		{"popeq {r8, pc}\n", 2},
		{"it eq\naddeq r0, r1\n", 2},
		{".syntax divided\n.syntax unified\n", 1},
		{".syntax divided\nbkpt 1\n.syntax unified\n", 1},
		{"vaddeq.f32 s0, s1, s2\n", 1},
		{"vadd.f32 s0, s1, s2\n", 2},
		{"vseleq.f32 s0, s1, s2\n", 2},
		{"vadd.i32 q0, q1, q2\n", 2},
		{".macro m c\nadd\\c r0, r1\n.endm\nm eq\nm ne\n", 1},
		{".rept 2\nmoveq r1, #1\n.endr\n", 1},
	} {
		text := "addeq r0, r1\n" + k.between + "addeq r0, r1\nadd r0, r1\nend: b end\n"
		c := compareLayoutIn(t, &Settings{Arch: "armv8-a+simd", StartMode: "thumb", Syntax: "unified", ImplicitIT: "always"}, []string{"-mimplicit-it=always", "-mno-warn-deprecated"}, text)
		if c.inserted != k.blocks || c.refused > 0 {
			t.Errorf("%q between: %d blocks and %d refused, want %d blocks", k.between, c.inserted, c.refused, k.blocks)
		}
		if t.Failed() {
			t.Fatalf("%q", k.between)
		}
	}
}

// TestImplicitSetting tests the setting itself and what hover says.
func TestImplicitSetting(t *testing.T) {
	text := ".syntax unified\n.thumb\ncmp r0, #0\nmoveq r0, r1\nmovne r0, r2\nbx lr\n"
	for value, errors := range map[string]int{"": 2, "never": 2, "arm": 2, "thumb": 0, "always": 0} {
		res := analyze(t, &Settings{Arch: "armv7-a", ImplicitIT: value}, text)
		n := 0
		for _, d := range res.Each() {
			if d.Severity == finding.Error {
				n++
			}
		}
		if n != errors {
			t.Errorf("%q: %d errors, want %d: %v", value, n, errors, res.Each())
		}
	}
	old := analyze(t, &Settings{Arch: "armv6-m", ImplicitIT: "thumb"}, ".syntax unified\nmoveq r0, r1\n")
	if d := old.Each(); len(d) == 0 || d[0].Severity != finding.Error {
		t.Errorf("ARMv6-M has no IT: %v", d)
	}
	if err := (&Settings{ImplicitIT: "sometimes"}).Resolve(); err == nil {
		t.Error("any value goes")
	}
	res := analyze(t, &Settings{Arch: "armv7-a", ImplicitIT: "thumb"}, text)
	for name, want := range map[string]string{
		"moveq": "inserts `ite eq` before it, 2 bytes at .text + 0x2",
		"movne": "block of `ite eq` that the assembler inserts before moveq, at .text + 0x2",
	} {
		h, ok := res.Hover(strings.Index(text, name))
		if !ok || !strings.Contains(h.Markdown, want) {
			t.Errorf("%s: %v %q", name, ok, h.Markdown)
		}
	}
	if h, _ := res.Hover(strings.Index(text, "bx lr")); strings.Contains(h.Markdown, "inserts") {
		t.Error(fmt.Sprint("bx: ", h.Markdown))
	}
}
