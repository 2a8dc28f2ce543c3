package analysis_test

import (
	"context"
	"debug/elf"
	"encoding/binary"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// linked assembles and links a source and gives what the first instructions after main
// leave in r0, which they make by ADR or a load from the literal pool, and the place of
// the label t, 0 where the linker has no such name; ok is false where the assembler or
// the linker refuses it.
func linked(t *testing.T, arch, text string) (value, place uint32, ok bool) {
	t.Helper()
	dir := t.TempDir()
	source, object, image := filepath.Join(dir, "a.s"), filepath.Join(dir, "a.o"), filepath.Join(dir, "a.elf")
	if err := os.WriteFile(source, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	if exec.Command("arm-none-eabi-as", "-march="+arch, "-o", object, source).Run() != nil ||
		exec.Command("arm-none-eabi-ld", "-Ttext=0x8000", "-e", "main", "-o", image, object).Run() != nil {
		return 0, 0, false
	}
	f, err := elf.Open(image)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	code, err := f.Section(".text").Data()
	if err != nil {
		t.Fatal(err)
	}
	syms, err := f.Symbols()
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range syms {
		if s.Section == elf.SHN_UNDEF {
			continue
		}
		switch s.Name {
		case "main":
			value, ok = firstValue(t, code, uint32(s.Value)-0x8000, strings.Contains(text, ".thumb @ main")), true
		case "t":
			place = uint32(s.Value) &^ 1
		}
	}
	if !ok {
		t.Fatal("no main")
	}
	return value, place, ok
}

// firstValue decodes the few instructions that can make the value.
func firstValue(t *testing.T, code []byte, at uint32, thumb bool) uint32 {
	t.Helper()
	half := func(at uint32) uint32 { return uint32(binary.LittleEndian.Uint16(code[at:])) }
	word := func(at uint32) uint32 { return binary.LittleEndian.Uint32(code[at:]) }
	if !thumb {
		w, pc := word(at), at+8
		rotated := w & 0xff
		if n := w >> 8 & 15 * 2; n != 0 {
			rotated = rotated>>n | rotated<<(32-n)
		}
		switch {
		case w>>16 == 0xe28f:
			return 0x8000 + pc + rotated
		case w>>16 == 0xe24f:
			return 0x8000 + pc - rotated
		case w>>16 == 0xe59f:
			return word(pc + w&0xfff)
		case w>>16 == 0xe51f:
			return word(pc - w&0xfff)
		}
		t.Fatalf("A32 %x", w)
	}
	at &^= 1
	h, pc := half(at), (at+4)&^3
	var v uint32
	switch {
	case h>>8 == 0xa0:
		v, at = 0x8000+pc+h&0xff*4, at+2
	case h>>8 == 0x48:
		return word(pc + h&0xff*4)
	case h&^0x400 == 0xf20f, h&^0x400 == 0xf2af:
		n := half(at + 2)
		imm := h>>10&1<<11 | n>>12&7<<8 | n&0xff
		if h&0xa0 != 0 {
			imm = -imm
		}
		v, at = 0x8000+pc+imm, at+4
	default:
		t.Fatalf("T32 %x", h)
	}
	if half(at) == 0x3001 { // adds r0, #1
		v++
	}
	return v
}

// stateBitPrograms are the ways to name T16 or A32 code for a BX: by which instruction,
// from which state, how the label is marked, and where it is.
func stateBitPrograms() (list []string) {
	mode := map[bool]string{true: ".thumb", false: ".arm"}
	for _, way := range []string{"adr r0, %s", "adr r0, %s+1", "ldr r0, =%s", "ldr r0, =%s+1"} {
		for _, mark := range []string{"", ".thumb_func", ".type %s, %%function", ".global %s|.thumb_func", ".global %s"} {
			for _, label := range []string{"t", ".Lt"} {
				for bits := range 8 {
					from, to, ahead := bits&1 != 0, bits&2 != 0, bits&4 != 0
					if strings.Contains(mark, ".thumb_func") && !to {
						continue // it goes to T16 code itself
					}
					m := mark
					if strings.Contains(m, "%s") {
						m = fmt.Sprintf(m, label)
					}
					main := mode[from] + " @ main|.align 2|main: " + fmt.Sprintf(way, label) + "|bx r0|.ltorg"
					target := mode[to] + "|.align 2|" + m + "|" + label + ": nop|bx lr"
					if ahead {
						list = append(list, main+"|"+target)
					} else {
						list = append(list, target+"|"+main)
					}
				}
			}
		}
	}
	return list
}

// TestStateBitLinked holds what is said of bit 0 against the linked program: a finding
// where it is wrong and none where it is right, and after each rewrite that is offered
// it is right.
func TestStateBitLinked(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as", "arm-none-eabi-ld")
	t.Parallel()
	proof := reftest.Begin(t)
	said, cured := 0, 0
	for k, arch := range []string{"armv4t", "armv7-a"} {
		for i, program := range reftest.Sample(stateBitPrograms(), 13) {
			if (i+i/8+i/16+k)%2 != 0 && !reftest.Thorough() {
				continue // each program for one of them
			}
			text := source(".arch " + arch + "|.syntax unified|" + program)
			value, _, ok := linked(t, arch, text)
			if !ok {
				continue
			}
			r, err := analysis.Analyze(context.Background(), &analysis.Input{Path: "a.s", File: syntax.Parse(text)})
			if err != nil {
				t.Fatal(err)
			}
			found := false
			for _, d := range r.Each() {
				found = found || d.Code == "state-bit"
			}
			thumb := strings.Contains(program, ".thumb|.align")
			if wrong := value&1 != 0 != thumb; found != wrong {
				t.Errorf("%s: %s: 0x%x, and the finding is %v", arch, program, value, found)
				continue
			} else if !wrong {
				continue
			}
			said++
			for _, a := range r.Actions(context.Background(), analysis.Span{Start: 0, End: len(text)}) {
				if a.Code != "state-bit" {
					continue
				}
				after := text
				for i := len(a.Edits) - 1; i >= 0; i-- {
					e := a.Edits[i]
					after = after[:e.Span.Start] + e.New + after[e.Span.End:]
				}
				if v, place, ok := linked(t, arch, after); !ok || v&1 != 0 != thumb || place != 0 && v&^1 != place {
					t.Errorf("%s: %s: %s: 0x%x, linked %v", arch, program, a.Title, v, ok)
				}
				cured++
			}
		}
	}
	if proof.Counted("state bits, linked: %d findings, %d rewrites", said, cured); said < reftest.Least(50) || cured < reftest.Least(50) {
		t.Errorf("too few")
	}
}
