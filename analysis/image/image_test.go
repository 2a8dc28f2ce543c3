package image

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/exec"
	"narrowgauge/isa/reftest"
)

// imageOf is the image of a text.
func imageOf(t *testing.T, arch string, mode isa.State, text string) *Image {
	t.Helper()
	e := program.Environment{Mode: mode, Target: arch, Chosen: true, Unified: true}
	if !e.Selection.SelectArch(arch) {
		t.Fatalf("no architecture %s", arch)
	}
	e.Have = e.Selection.Have()
	found, err := assemble.Run(context.Background(), &assemble.Input{Path: "a.s", File: syntax.Parse(text), Env: e})
	if err != nil {
		t.Fatal(err)
	}
	return New(eval.New(found.Program))
}

// TestMeant carries out each line by its encoding, and by what its words mean, as is
// done with lines that have none: both have to do the same.
func TestMeant(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	rnd := reftest.Rand(11, 12)
	for _, c := range []struct {
		arch string
		mode isa.State
	}{{"armv4t", isa.T}, {"armv6", isa.T}, {"armv7-a", isa.T}, {"armv7e-m", isa.T}, {"armv5te", isa.A}, {"armv7-a", isa.A}} {
		have, _ := isa.Arch(c.arch)
		var lines []string
		for n := reftest.Size(1000, 10_000, 60_000); len(lines) < n; {
			var in isa.Inst
			ok := false
			switch w := rnd.Uint32(); {
			case c.mode == isa.A:
				in, ok = isa.DecodeA32(have.Have, w&0x0fff_ffff|0xe000_0000)
			case rnd.IntN(2) == 0:
				in, ok = isa.Decode(have.Have, uint16(w|0xe800_0000>>16), uint16(w))
			default:
				in, ok = isa.Decode(have.Have, uint16(w), 0)
			}
			if ok && in.Row.Described() {
				lines = append(lines, in.Text(true, int64(4*len(lines))))
			}
		}
		img := imageOf(t, c.arch, c.mode, strings.Join(lines, "\n")+"\n")
		meant, bound := 0, 0
		for i := range img.Items {
			it := &img.Items[i]
			if it.Stmt.Kind != syntax.Instruction || it.Match.Form == nil || it.Flags&program.Refused != 0 {
				continue
			}
			did, words := alike(t, img, it, rnd, c.arch)
			if did {
				bound++
			}
			if words {
				meant++
			}
		}
		proof.Counted("%s %v: %d of %d lines by their words", c.arch, c.mode, meant, bound)
		if bound < len(lines)/2 || meant < bound*98/100 {
			t.Errorf("%s %v: %d of %d lines by their words only", c.arch, c.mode, meant, bound)
		}
	}
}

// alike compares both ways on some states. It says whether the encoding does something
// on one of them, and whether the words say anything.
func alike(t *testing.T, img *Image, it *program.Item, rnd *rand.Rand, arch string) (did, words bool) {
	t.Helper()
	for range 8 {
		var s exec.State
		for r := range s.Regs {
			s.Regs[r] = rnd.Uint32() &^ 3 >> rnd.IntN(4)
		}
		s.Regs[isa.PC], _ = Address(it.Section, it.Offset)
		s.Regs[isa.SP] &^= 7
		s.Flags = isa.Flags(rnd.IntN(16))
		env := &img.Environments[it.Environment]
		s.Have, s.Set = env.Have, env.Mode
		s.Mem = exec.NewSparse(func(addr uint32) byte { return byte(addr*2654435761>>24) &^ 2 })
		x := s
		r, ok := img.stepBound(it, &x)
		if !ok || r.End != exec.Done {
			continue
		}
		did = true
		y := s
		y.Mem = exec.NewSparse(s.Mem.(*exec.Sparse).Load)
		x.Mem = nil
		way := img.stepMeant
		if leaves(it, env.Mode) {
			way = func(it *program.Item, s *exec.State, _ bool) (exec.Result, bool) { return img.stepBranch(it, s) }
		}
		sets := it.Match.Effects().FlagsWritten != 0
		q, ok := way(it, &y, sets)
		if !ok || q.End != exec.Done {
			continue
		}
		words = true
		if wideConstant(it) {
			x.Flags, y.Flags = x.Flags&^isa.C, y.Flags&^isa.C
		}
		for _, f := range []isa.Flags{isa.N, isa.Z, isa.C, isa.V} {
			if (r.Unknown|q.Unknown)&f != 0 {
				x.Flags, y.Flags = x.Flags&^f, y.Flags&^f
			}
		}
		if x.Regs != y.Regs || x.Flags != y.Flags || x.Set != y.Set || x.Q != y.Q || x.GE != y.GE || !slices.Equal(x.Log, y.Log) {
			t.Errorf("%s: %s\nencoding: %s\nwords:    %s", arch, img.LineText(it), show(&x), show(&y))
			break
		}
	}
	return did, words
}

// wideConstant says whether a line has a constant that encodings rotate, which gives
// logical operations a C that their words do not.
func wideConstant(it *program.Item) bool {
	return slices.ContainsFunc(it.Stmt.Ops, func(o syntax.Operand) bool {
		return o.Kind == isa.OpImm && uint64(o.Imm) > 0xff && it.Match.Effects().FlagsWritten&isa.V == 0
	})
}

func show(s *exec.State) string { return fmt.Sprintf("%x %v %v %+v", s.Regs, s.Flags, s.Set, s.Log) }
