package analysis_test

import (
	"context"
	"debug/elf"
	"encoding/binary"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// arrival is where the first instruction of a linked program leads and in which state, as its
// encoding says (DDI 0406C, A8.8.18 and A8.8.25); ok is false for what is no branch.
func arrival(code []byte, thumb bool) (to uint32, thumbThen, ok bool) {
	if !thumb {
		w := binary.LittleEndian.Uint32(code)
		to = uint32(8 + int32(w<<8)>>6)
		switch {
		case w>>25 == 0b1111101:
			return to + w>>24&1*2, true, true
		case w>>25&7 == 0b101:
			return to, false, true
		}
		return 0, false, false
	}
	a, b := uint32(binary.LittleEndian.Uint16(code)), uint32(binary.LittleEndian.Uint16(code[2:]))
	switch {
	case a>>11 == 0b11100:
		return uint32(4 + int32(a<<21)>>20), true, true
	case a>>12 == 0b1101:
		return uint32(4 + int32(a<<24)>>23), true, true
	case a>>11 == 0b11110 && b>>14 == 0b11:
		to = uint32(4 + int32((a&0x7ff)<<21)>>9 + int32(b&0x7ff)<<1)
		return to, b>>12&1 == 1, true
	case a>>11 == 0b11110 && b>>14 == 0b10: // near here, whatever its form
		return uint32(4 + int32(b&0x7ff)<<1), true, true
	}
	return 0, false, false
}

// TestAcrossLinked compares what is said of branches between files with what the reference
// linker makes of them: where nothing is said, they arrive in the state of the code, or at
// something that the linker has put between; where it is, they do not.
func TestAcrossLinked(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	reftest.Require(t, "arm-none-eabi-as", "arm-none-eabi-ld")
	n, said := 0, 0
	var cases [][6]string
	for _, arch := range []string{"armv4t", "armv5te", "armv7-a"} {
		for _, from := range []string{".arm", ".thumb"} {
			for _, branch := range []string{"bl", "b", "blx", "beq", "bleq", "b.w", "bne.w"} {
				for _, to := range []string{".arm", ".thumb"} {
					for _, mark := range []string{"", ".type f, %function\n"} {
						cases = append(cases, [6]string{arch, from, branch, to, mark})
					}
				}
			}
		}
	}
	for _, c := range reftest.Sample(cases, 9) {
		arch, from, branch, to, mark := c[0], c[1], c[2], c[3], c[4]
		head := ".arch " + arch + "\n.syntax unified\n"
		texts := []string{head + from + "\n.global c\n.type c, %function\nc: " + branch + " f\nbx lr\n", head + to + "\n.global f\n" + mark + ".balign 4\nf: bx lr\n"}
		dir := t.TempDir()
		var objects []string
		w := &analysis.Workspace{}
		for i, text := range texts {
			source := filepath.Join(dir, fmt.Sprintf("%d.s", i))
			object := source + ".o"
			if err := os.WriteFile(source, []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
			if exec.Command("arm-none-eabi-as", "-o", object, source).Run() == nil {
				objects = append(objects, object)
			}
			r, err := analysis.Analyze(context.Background(), &analysis.Input{Path: source, File: syntax.Parse(text)})
			if err != nil {
				t.Fatal(err)
			}
			w.Units = append(w.Units, &analysis.LinkUnit{File: r.Links()})
		}
		image := filepath.Join(dir, "image")
		if len(objects) < 2 || exec.Command("arm-none-eabi-ld", append(objects, "-e", "c", "-Ttext=0x8000", "-o", image)...).Run() != nil {
			continue // no such branch
		}
		f, err := elf.Open(image)
		if err != nil {
			t.Fatal(err)
		}
		code, err := f.Section(".text").Data()
		if err != nil {
			t.Fatal(err)
		}
		at, state, ok := arrival(code, from == ".thumb")
		direct := at < 12 // f is right behind c, what the linker makes is behind both
		wrong := direct && state != (to == ".thumb")
		found := w.Check(0)
		if n++; len(found) > 0 {
			said++
		}
		name := fmt.Sprintf("%s, %s %s to %s %q", arch, from, branch, to, mark)
		switch {
		case !ok:
			t.Errorf("%s: no branch at the start: % x", name, code)
		case wrong != (len(found) > 0) && !(wrong && branch == "blx" && mark != ""):
			// What BLX to a function in the same state comes to, linkers do not agree about.
			t.Errorf("%s: it arrives at %#x, in the wrong state: %v, said: %v", name, at, wrong, found)
		}
		f.Close()
	}
	if proof.Counted("branches between files: %d linked, %d in the wrong state", n, said); n < reftest.Least(60) || said == 0 {
		t.Errorf("only %d were linked, %d in the wrong state", n, said)
	}
}
