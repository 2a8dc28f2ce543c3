package analysis

import (
	"fmt"
	"math/rand"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/isa/reftest"
)

// programT16 writes a random source of data, code, labels, alignment, sections,
// literal pools and conditionals, and mostly right.
func programT16(r *rand.Rand, unified bool) string {
	var b strings.Builder
	if unified {
		b.WriteString("\t.syntax unified\n")
	}
	b.WriteString("\t.thumb\n1:\n")
	labels := 0
	s := ""
	if unified {
		s = "s"
	}
	anyLabel := func() string { return fmt.Sprintf("l%d", r.Intn(labels+4)) }
	for i, n := 0, 30+r.Intn(120); i < n; i++ {
		k := r.Intn(32)
		if k >= 10 && k <= 14 || k >= 18 && k <= 25 || k >= 27 {
			// Misaligned code has a check of its own; what is relative to
			// PC in it is anybody's guess.
			b.WriteString("\t.balign 2\n")
		}
		switch k {
		case 0, 1, 2:
			fmt.Fprintf(&b, "l%d:", labels)
			labels++
			if r.Intn(2) == 0 {
				b.WriteString("\n")
			}
		case 3:
			fmt.Fprintf(&b, "\t.byte %d\n", r.Intn(300)-20)
		case 4:
			fmt.Fprintf(&b, "\t.word %s, 0x%x, %s+4\n", anyLabel(), r.Uint32(), anyLabel())
		case 5:
			fmt.Fprintf(&b, "\t.hword %d, 'a', '\\n'\n", r.Intn(70000))
		case 6:
			fmt.Fprintf(&b, "\t.%s %d\n", []string{"align", "p2align", "balign"}[r.Intn(3)], []int{0, 1, 2, 3, 4}[r.Intn(5)])
		case 7:
			fmt.Fprintf(&b, "\t.space %d\n", r.Intn(200))
		case 8:
			fmt.Fprintf(&b, "\t.asciz \"bell\\t%d\", \"b\"\n", r.Intn(100))
		case 9:
			fmt.Fprintf(&b, "\t.ascii \"xy\" \"z\"\n")
		case 10, 11, 12:
			fmt.Fprintf(&b, "\tldr r%d, =0x%x\n", r.Intn(8), []uint32{5, 300, 0xffffffff, r.Uint32(), 0x1234}[r.Intn(5)])
		case 13:
			fmt.Fprintf(&b, "\tldr r%d, =%s\n", r.Intn(8), anyLabel())
		case 14:
			fmt.Fprintf(&b, "\tldr r%d, =%s+%d\n", r.Intn(8), anyLabel(), r.Intn(3))
		case 15:
			b.WriteString("\t.ltorg\n")
		case 16:
			fmt.Fprintf(&b, "\t.section .%s\n", []string{"rodata", "text", "mine", "data"}[r.Intn(4)])
		case 17:
			b.WriteString("\t.text\n")
		case 18:
			fmt.Fprintf(&b, "\tb l%d\n", r.Intn(labels+2))
		case 19:
			fmt.Fprintf(&b, "\tbl l%d\n", r.Intn(labels+2))
		case 20:
			b.WriteString("1:\n")
		case 21:
			fmt.Fprintf(&b, "\tb%s 1%c\n", []string{"eq", "ne", "hs", "", "lt"}[r.Intn(5)], "fb"[r.Intn(2)])
		case 22:
			fmt.Fprintf(&b, "\t.arm\n\tmov r0, r1\n\tldr r2, =0x%x\n\tldr r3, =%d\n\tbx lr\n\t.thumb\n", r.Uint32(), r.Intn(600))
		case 23:
			fmt.Fprintf(&b, "\tadd%s r%d, #%d\n", s, r.Intn(8), r.Intn(270))
		case 24:
			fmt.Fprintf(&b, "\tldr r%d, l%d\n", r.Intn(8), r.Intn(labels+3))
		case 25:
			fmt.Fprintf(&b, "\tadr r%d, l%d\n", r.Intn(8), r.Intn(labels+3))
		case 26:
			fmt.Fprintf(&b, "\t.set v%d, %d+%d*2\n", r.Intn(4), r.Intn(100), r.Intn(60))
		case 27:
			fmt.Fprintf(&b, "\tmov%s r%d, #v%d\n", s, r.Intn(8), r.Intn(4))
		case 28:
			fmt.Fprintf(&b, "\t.if v%d > 60\n\tadd%s r0, #1\n\t.else\n\t.word 1\n\t.endif\n", r.Intn(4), s)
		case 29:
			fmt.Fprintf(&b, "\t.fill %d, %d, 3\n", r.Intn(5), 1+r.Intn(4))
		case 30:
			fmt.Fprintf(&b, "\tldr r%d, [r%d, #v%d]\n", r.Intn(8), r.Intn(8), r.Intn(4))
		default:
			// Nothing that is refused at once: it would take no room in the
			// reference, and shift what is after.
			fmt.Fprintf(&b, "\tlsl%s r%d, r%d, #%d\n", s, r.Intn(8), r.Intn(8), r.Intn(32))
		}
	}
	b.WriteString("\t.text\n1:\n")
	return b.String()
}

// programA is program in A32 code.
func programA(r *rand.Rand, unified bool) string {
	var b strings.Builder
	if unified {
		b.WriteString("\t.syntax unified\n")
	}
	b.WriteString("\t.arm\n1:\n")
	labels := 0
	anyLabel := func() string { return fmt.Sprintf("l%d", r.Intn(labels+3)) }
	reg := func() int { return r.Intn(13) }
	cond := func() string { return []string{"", "", "eq", "ne", "lo"}[r.Intn(5)] }
	constant := func() string {
		return fmt.Sprint([]int64{0, 1, 255, 256, 257, 1020, 0xff000000, 0xf000000f, -1, -256, -257, int64(r.Uint32()), 0x3fc00}[r.Intn(13)])
	}
	for i, n := 0, 40+r.Intn(120); i < n; i++ {
		switch r.Intn(22) {
		case 0, 1, 2:
			fmt.Fprintf(&b, "l%d:\n", labels)
			labels++
		case 3:
			fmt.Fprintf(&b, "\t.word %s, 0x%x\n", anyLabel(), r.Uint32())
		case 4:
			fmt.Fprintf(&b, "\t.space %d\n", 4*r.Intn(400))
		case 5:
			fmt.Fprintf(&b, "\t.byte %d\n\t.balign 4\n", r.Intn(256))
		case 6:
			fmt.Fprintf(&b, "\tldr%s r%d, =%s\n", cond(), reg(), constant())
		case 7:
			fmt.Fprintf(&b, "\tldr r%d, =%s\n", reg(), anyLabel())
		case 8:
			b.WriteString("\t.ltorg\n")
		case 9:
			fmt.Fprintf(&b, "\t.section .%s\n", []string{"rodata", "text", "mine"}[r.Intn(3)])
		case 10:
			fmt.Fprintf(&b, "\tb%s l%d\n", cond(), r.Intn(labels+2))
		case 11:
			fmt.Fprintf(&b, "\tbl%s l%d\n1:\n\tbne 1b\n", cond(), r.Intn(labels+2))
		case 12:
			fmt.Fprintf(&b, "\t%s%s r%d, r%d, #%s\n", []string{"add", "sub", "and", "bic", "orr", "rsb"}[r.Intn(6)], cond(), reg(), reg(), constant())
		case 13:
			fmt.Fprintf(&b, "\tldr%s r%d, l%d\n", cond(), reg(), r.Intn(labels+1))
		case 14:
			fmt.Fprintf(&b, "\tadr r%d, l%d\n", reg(), r.Intn(labels+1))
		case 15:
			fmt.Fprintf(&b, "\tstrb r%d, [r%d, #%d]%s\n", reg(), reg(), r.Intn(10000)-5000, []string{"", "!"}[r.Intn(2)])
		case 16:
			fmt.Fprintf(&b, "\tldrh r%d, [r%d], #-%d\n", reg(), reg(), r.Intn(300))
		case 17:
			fmt.Fprintf(&b, "\tmov%s r%d, #v%d\n", cond(), reg(), r.Intn(4))
		case 18:
			fmt.Fprintf(&b, "\teor r%d, r%d, r%d, %s #%d\n", reg(), reg(), reg(), []string{"lsl", "lsr", "asr", "ror"}[r.Intn(4)], 1+r.Intn(31))
		case 19:
			fmt.Fprintf(&b, "\tldmia r%d!, {r%d, lr}\n", reg(), reg())
		case 20:
			// An odd register would be refused at once, and take no room.
			fmt.Fprintf(&b, "\tldrd r%d, [r%d]\n", 2*r.Intn(6), reg())
		default:
			if unified {
				fmt.Fprintf(&b, "\tldrb%s r%d, [r%d]\n", cond(), reg(), reg())
			} else {
				fmt.Fprintf(&b, "\tldr%sb r%d, [r%d]\n", cond(), reg(), reg())
			}
		}
	}
	b.WriteString("\t.text\n1:\n")
	return b.String()
}

// TestLayout compares random programs with the reference assembler: where it
// takes the program, every label's section and offset; where it is not, the
// lines with errors.
func TestLayout(t *testing.T) { compareProgram(t, "armv4t", programT16) }

// TestLayoutA32 does the same with A32 code.
func TestLayoutA32(t *testing.T) { compareProgram(t, "armv5te", programA) }

// sameVerdicts compares the lines that an analysis calls wrong, with its messages,
// with those that the assembler refuses, and gives those that are both. The
// reference tells some errors only when there are no others: an alarm is false
// when it is the last one being.
func sameVerdicts(t *testing.T, seed int, lines []string, bad map[int]string, refused []int) (both []int) {
	t.Helper()
	for _, l := range slices.Compact(slices.Sorted(slices.Values(refused))) {
		if bad[l] == "" {
			t.Errorf("seed %d line %d: silence: %q", seed, l, lines[l-1])
		} else {
			both = append(both, l)
		}
	}
	if len(both) == 0 {
		for l, m := range bad {
			t.Errorf("seed %d line %d: false alarm: %q: %s", seed, l, lines[l-1], m)
		}
	}
	return both
}

func compareProgram(t *testing.T, arch string, random func(r *rand.Rand, unified bool) string) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	n, first := reftest.Count(20, 250, 6000), reftest.Seed(0)
	taken, refused, labels := 0, 0, 0
	for seed := first; seed < first+n; seed++ {
		r := rand.New(rand.NewSource(int64(seed)))
		unified := seed%2 == 0
		text := "\t.equ v0, 7\n\t.equ v1, 70\n\t.equ v2, 130\n\t.equ v3, 400\n" + random(r, unified)
	again:
		ref := reftest.AssembleFile(t, reftest.Options{Arch: arch}, text)
		res := analyze(t, nil, "\t.arch "+arch+"\n"+text)
		bad := map[int]string{}
		for _, d := range res.Each() {
			if d.Severity == finding.Error {
				bad[res.in.File.LineAt(d.Span.Start)] = d.Message
			}
		}
		lines := strings.Split(text, "\n")
		both := sameVerdicts(t, seed, lines, bad, ref.ErrorLines)
		if t.Failed() {
			t.Log("\n" + text)
			return
		}
		if len(both) > 0 {
			// Take the refused lines out and try again: the labels of what is
			// left are to be compared.
			refused += len(both)
			for _, l := range both {
				if i := strings.Index(lines[l-1], ":"); i > 0 {
					lines[l-1] = lines[l-1][:i+1]
				} else {
					lines[l-1] = ""
				}
			}
			text = strings.Join(lines, "\n")
			goto again
		}
		taken++
		for name, sym := range ref.Symbols {
			s := res.prog.SymbolOf(name)
			if s == nil || !s.Defined || s.Value.Kind != program.Address {
				continue
			}
			labels++
			if got := res.prog.Sections[s.Value.Section].Name; got != sym.Section || s.Value.N != int64(sym.Value) {
				t.Errorf("seed %d: %s at %s+0x%x, reference %s+0x%x", seed, name, got, s.Value.N, sym.Section, sym.Value)
			}
		}
		if t.Failed() {
			t.Log("\n" + text)
			return
		}
	}
	proof.Counted("layout: programs %d, lines refused by both %d, labels compared %d", taken, refused, labels)
	if labels < n || refused < n {
		t.Errorf("the generator is lopsided: %d labels, %d refused", labels, refused)
	}
}
