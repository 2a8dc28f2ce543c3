package analysis

import (
	"fmt"
	"math/rand"
	"os"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/isa/reftest"
)

// t32Arches are the architectures whose Thumb state has encodings of both
// widths.
var t32Arches = []string{"armv7-m", "armv7-a", "armv6t2", "armv8-m.base", "armv8-m.main"}

// generatorT writes random programs of T32 code: branches, literals, ADR,
// alignment, data and IT blocks, most of it right, at distances around what a
// halfword reaches.
type generatorT struct {
	*rand.Rand
	b      strings.Builder
	labels int
	full   bool // all of T32, not ARMv8-M Baseline only
	a32    bool
	// implicit: the assembler inserts IT.
	implicit bool
	lines    int
}

func (g *generatorT) line(format string, args ...any) {
	g.lines++
	fmt.Fprintf(&g.b, "\t"+format+"\n", args...)
}

func (g *generatorT) low() int { return g.Intn(8) }

func (g *generatorT) reg() int { return []int{g.Intn(8), g.Intn(8), g.Intn(13)}[g.Intn(3)] }

// near is a label that is some way after or ahead.
func (g *generatorT) near(reach int) string {
	return fmt.Sprintf("l%d", max(0, g.labels-reach/2+g.Intn(reach)))
}

// ahead is a label that is some way ahead.
func (g *generatorT) ahead(reach int) string { return fmt.Sprintf("l%d", g.labels+g.Intn(reach)) }

func (g *generatorT) constant() int64 {
	return []int64{int64(g.Intn(8)), int64(g.Intn(256)), int64(g.Intn(1200)), int64(g.Intn(70000)), int64(g.Intn(256)) << g.Intn(24), 0xff00ff00, -int64(g.Intn(300)), int64(g.Uint32())}[g.Intn(8)]
}

var condsT = []string{"eq", "ne", "hs", "lo", "mi", "pl", "hi", "ls", "ge", "lt", "gt", "le"}

// op is one instruction with cond in its name, "" outside of IT blocks.
func (g *generatorT) op(cond string) {
	s := "s"
	if cond != "" {
		s = ""
	}
	switch g.Intn(20) {
	case 0:
		g.line("mov%s%s r%d, #%d", s, cond, g.low(), g.Intn(256))
	case 1:
		if g.full {
			g.line("mov%s r%d, #%d", cond, g.reg(), g.Intn(256))
		}
	case 2:
		g.line("ldr%s r%d, [r%d, #%d]", cond, g.low(), g.low(), g.Intn(32)*4)
	case 3:
		if g.full {
			g.line("ldr%s r%d, [r%d, #%d]", cond, g.low(), g.low(), g.Intn(300))
		}
	case 4:
		g.line("str%s r%d, [sp, #%d]", cond, g.low(), g.Intn(256)*4)
	case 5:
		g.line("add%s%s r%d, r%d, #%d", s, cond, g.low(), g.low(), g.Intn(8))
	case 6:
		if g.full {
			g.line("add%s%s r%d, r%d, #%d", s, cond, g.low(), g.low(), g.Intn(300))
		}
	case 7:
		if g.full {
			g.line("add%s r%d, r%d, r%d", cond, g.reg(), g.reg(), g.reg())
		}
	case 8:
		g.line("cmp%s r%d, #%d", cond, g.low(), g.Intn(256))
	case 9:
		if g.full {
			g.line("cmp%s r%d, #%d", cond, g.low(), 256+4*g.Intn(100))
		}
	case 10:
		g.line("lsl%s%s r%d, r%d, #%d", s, cond, g.low(), g.low(), g.Intn(32))
	case 11:
		g.line("ldrb%s r%d, [r%d, #%d]", cond, g.low(), g.low(), g.Intn(32))
	case 12:
		if g.full {
			g.line("ldrh%s r%d, [r%d, #k%d]", cond, g.low(), g.low(), g.Intn(6))
		}
	case 13:
		if g.full {
			g.line("add%s%s r%d, #k%d", s, cond, g.low(), g.Intn(6))
		}
	case 14:
		if g.full {
			g.line("mov%s%s r%d, #k%d", s, cond, g.low(), g.Intn(6))
		}
	case 15:
		g.line("sub%s sp, #%d", cond, 4*g.Intn(128))
	case 16:
		g.line("and%s%s r%d, r%d", s, cond, g.low(), g.low())
	case 17:
		g.line("ldr%s r%d, =0x%x", cond, g.low(), uint32(g.constant()))
	case 18:
		g.line("nop")
	default:
		g.line("mov%s r%d, r%d", cond, g.reg(), g.reg())
	}
}

func (g *generatorT) label() {
	if g.Intn(12) == 0 {
		g.line(".%s l%d", []string{"global", "weak"}[g.Intn(2)], g.labels)
	} else if g.Intn(12) == 0 {
		g.line(".thumb_func")
	}
	fmt.Fprintf(&g.b, "l%d:\n", g.labels)
	g.labels++
	g.lines++
}

func (g *generatorT) block() {
	first := g.Intn(len(condsT))
	n := 1 + g.Intn(4)
	name := "it"
	conds := []string{condsT[first]}
	for len(conds) < n {
		if g.Intn(2) == 0 {
			name += "t"
			conds = append(conds, condsT[first])
		} else {
			name += "e"
			conds = append(conds, condsT[first^1])
		}
	}
	g.line("%s %s", name, condsT[first])
	for i, c := range conds {
		if g.Intn(60) == 0 { // wrong, perhaps
			c = condsT[g.Intn(len(condsT))]
		}
		switch {
		case i == n-1 && g.Intn(3) == 0:
			g.line("b%s %s", c, g.near(60))
		case i == n-1 && g.Intn(6) == 0:
			g.line("bx%s lr", c)
		case g.Intn(8) == 0:
			g.line("ldr%s r%d, %s", c, g.low(), g.ahead(20))
		default:
			before := g.lines
			for g.lines == before {
				g.op(c)
			}
		}
		if g.Intn(8) == 0 && i < n-1 {
			g.label()
		}
	}
}

// programT32 writes a program of about the given number of lines.
func programT32(r *rand.Rand, arch string, lines int) string {
	g := &generatorT{Rand: r, full: arch != "armv8-m.base", a32: arch == "armv7-a" || arch == "armv6t2"}
	return g.program(lines)
}

func (g *generatorT) program(lines int) string {
	g.line(".syntax unified")
	g.line(".thumb")
	for i := range 3 {
		g.line(".equ k%d, %d", i, []int{4, 40, 400}[i])
	}
	code := func() { g.line(".balign 2") }
	for g.lines < lines {
		if g.implicit && g.Intn(3) == 0 {
			g.conditional()
			continue
		}
		switch k := g.Intn(40); {
		case k < 5:
			g.label()
		case k < 7:
			if g.full {
				g.line("b%s %s", condsT[g.Intn(len(condsT))], g.near(60))
			} else {
				g.line("b%s %s", condsT[g.Intn(len(condsT))], g.near(4))
			}
		case k < 9:
			g.line("b %s", g.near(400))
		case k < 10:
			g.line("bl %s", g.near(1000))
		case k < 11:
			if g.full {
				g.line("ldr r%d, %s", g.reg(), g.near(60))
			} else {
				g.line("ldr r%d, %s", g.low(), g.ahead(20))
			}
		case k < 12:
			if g.full {
				g.line("adr r%d, %s", g.reg(), g.near(60))
			} else {
				g.line("adr r%d, %s", g.low(), g.ahead(20))
			}
		case k < 13:
			g.line("ldr r%d, =%s", g.low(), g.near(100))
		case k < 14:
			g.line("ldr r%d, =%s+%d", g.low(), g.near(10), g.Intn(3))
		case k < 15:
			if g.Intn(3) == 0 {
				g.line("b 1f")
				g.line(".ltorg")
				g.b.WriteString("1:\n")
			}
		case k < 16:
			g.line(".%s %d", []string{"align", "p2align", "balign"}[g.Intn(3)], []int{1, 2, 2, 4}[g.Intn(4)])
			code()
		case k < 17:
			g.line(".p2align %d,,%d", 2+g.Intn(3), 1+g.Intn(12))
			code()
		case k < 18:
			g.line(".word %s, 0x%x", g.near(100), g.Uint32())
		case k < 19:
			g.line(".byte %d", g.Intn(256))
			code()
		case k < 20:
			g.line(".space %d", 2*g.Intn(40))
		case k < 21:
			if g.full {
				g.line("cbz r%d, %s", g.low(), g.ahead(2))
			}
		case k < 22:
			g.line("bne 1f")
			g.op("")
			g.b.WriteString("1:\n")
			g.line("b 1b")
		case k < 23 && g.Intn(8) == 0:
			g.line(".section .%s", []string{"rodata", "text", "mine, \"ax\""}[g.Intn(3)])
		case k < 23:
			g.line(".hword l%d-l%d", g.Intn(g.labels+1), g.Intn(g.labels+1))
		case k < 24 && g.labels > 3 && g.Intn(4) == 0:
			a := g.Intn(g.labels - 2)
			g.line(".if l%d-l%d > 8", a+1, a)
			g.line(".hword 1")
			g.line(".endif")
		case k < 24 && g.labels > 3 && g.Intn(3) == 0:
			a := g.Intn(g.labels - 2)
			g.line(".space l%d-l%d", a+1, a)
		case k < 24 && g.labels > 1 && g.Intn(3) == 0:
			g.line(".org l%d+%d", g.labels-1, 100+2*g.Intn(40))
		case k < 24 && g.a32:
			g.line(".arm")
			g.line("ldr r1, =0x%x", g.Uint32())
			g.line("beq %s", g.near(20))
			g.line(".thumb")
		case k < 29:
			if g.full {
				g.block()
			}
		default:
			g.op("")
		}
	}
	for i := 3; i < 6; i++ {
		g.line(".equ k%d, %d", i, []int{4, 40, 400}[i-3])
	}
	g.line(".text")
	g.b.WriteString("1:\n")
	return g.b.String()
}

// TestLayoutT32 compares the layout of random T32 programs with the reference
// assembler's: the lines refused, and where all labels are.
func TestLayoutT32(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	programs, first, lines := reftest.Count(1, 12, 1000), reftest.Seed(0), reftest.Size(500, 1000, 1000)
	taken, refused, labels, items := 0, 0, 0, 0
	seeds := []int{899} // distances to functions, which wait for the end
	for seed := first; seed < first+programs; seed++ {
		if !slices.Contains(seeds, seed) {
			seeds = append(seeds, seed)
		}
	}
	for _, seed := range seeds {
		arch := t32Arches[seed%len(t32Arches)]
		text := programT32(rand.New(rand.NewSource(int64(seed))), arch, lines)
		c := compareLayout(t, arch, text)
		if t.Failed() {
			if name := reftest.Text(reftest.Disagreements); name != "" {
				os.WriteFile(name, []byte(text), 0o644)
			}
			t.Logf("seed %d, %s", seed, arch)
			return
		}
		taken, refused, labels, items = taken+1, refused+c.refused, labels+c.labels, items+c.lines
	}
	proof.Counted("layout of T32: %d programs, %d lines, %d of them refused by both, %d labels compared", taken, items, refused, labels)
	if labels < taken*lines/20 || refused < taken {
		t.Errorf("the generator is lopsided")
	}
}

// compared counts what compareLayout has compared.
type compared struct{ lines, refused, labels, inserted int }

// compareLayout assembles a program, takes out the lines that both refuse until
// none is left, and compares the places of all labels.
func compareLayout(t *testing.T, arch, text string) (c compared) {
	return compareLayoutIn(t, &Settings{Arch: arch, StartMode: "thumb"}, nil, text)
}

// compareLayoutIn does so with the settings, and flags of the assembler that mean
// the same.
func compareLayoutIn(t *testing.T, set *Settings, flags []string, text string) (c compared) {
	lines := strings.Split(text, "\n")
	c.lines = len(lines)
	for {
		text = strings.Join(lines, "\n")
		ref := reftest.AssembleFile(t, reftest.Options{Arch: set.Arch, Unified: true, Thumb: true, Flags: flags}, text)
		res := analyze(t, set, text)
		bad := map[int]string{}
		for _, d := range res.Each() {
			if d.Severity == finding.Error {
				bad[res.in.File.LineAt(d.Span.Start)+1] = d.Message
			}
		}
		agreed := 0
		refBad := map[int]bool{}
		for _, l := range ref.ErrorLines {
			refBad[l] = true
			if bad[l] != "" {
				agreed++
			}
		}
		// The reference tells some errors only when there are no others, and an
		// error moves what is after: only what is left in the end counts.
		if agreed == 0 {
			for l := range refBad {
				t.Errorf("line %d: silence: %q", l, lines[l-1])
			}
			for l, m := range bad {
				t.Errorf("line %d: false alarm: %q: %s", l, lines[l-1], m)
			}
		}
		if t.Failed() {
			return c
		}
		if agreed > 0 {
			c.refused += agreed
			for _, l := range ref.ErrorLines {
				if bad[l] == "" {
					continue
				}
				if i := strings.Index(lines[l-1], ":"); i > 0 {
					lines[l-1] = lines[l-1][:i+1]
				} else if strings.HasPrefix(strings.TrimSpace(lines[l-1]), ".if") {
					lines[l-1] = "\t.if 1"
				} else {
					lines[l-1] = ""
				}
			}
			continue
		}
		for name, sym := range ref.Symbols {
			s := res.prog.SymbolOf(name)
			if s == nil || !s.Defined || s.Value.Kind != program.Address {
				continue
			}
			c.labels++
			if got := res.prog.Sections[s.Value.Section].Name; got != sym.Section || s.Value.N != int64(sym.Value) {
				t.Errorf("%s at %s+0x%x, reference %s+0x%x", name, got, s.Value.N, sym.Section, sym.Value)
			}
		}
		sameSizes(t, res, &ref)
		if set.ImplicitIT != "" {
			c.inserted += compareInserted(t, res, &ref)
		}
		return c
	}
}

// sameSizes compares the sizes of sections with the reference's.
func sameSizes(t *testing.T, res *Result, ref *reftest.File) {
	t.Helper()
	for i := range res.prog.Sections {
		s := &res.prog.Sections[i]
		n, ok := ref.Sizes[s.Name]
		if ok && n != s.Size && n != (s.Size+1)&^1 && n != (s.Size+3)&^3 { // the assembler pads
			t.Errorf("section %s has %d bytes, reference %d", s.Name, s.Size, n)
		}
	}
}
