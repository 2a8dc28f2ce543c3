package exec_test

import (
	"strings"
	"testing"

	"narrowgauge/isa"
	"narrowgauge/isa/exec"
)

func features(t *testing.T, arch string) isa.Features {
	t.Helper()
	target, ok := isa.Arch(arch)
	if !ok {
		t.Fatalf("no architecture %s", arch)
	}
	return target.Have
}

// run carries out halfwords of T16 code from 0x8000 up, as many as there are, and
// stops before one that does not end well.
func run(t *testing.T, s *exec.State, words ...uint16) (r exec.Result) {
	t.Helper()
	for i, w := range words {
		second := uint16(0)
		if i+1 < len(words) {
			second = words[i+1]
		}
		if s.Regs[15] != 0x8000+2*uint32(i) {
			continue // the second half of the one before, or jumped over
		}
		in, ok := isa.Decode(s.Have, w, second)
		if !ok {
			t.Fatalf("%04x is no instruction", w)
		}
		if r = exec.Step(in.Values(), s); r.End != exec.Done {
			return r
		}
	}
	return r
}

func state(t *testing.T, arch string, regs map[isa.Reg]uint32) *exec.State {
	s := &exec.State{Set: isa.T, Have: features(t, arch), Mem: exec.NewSparse(func(addr uint32) byte { return byte(addr) })}
	for r, x := range regs {
		s.Regs[r] = x
	}
	s.Regs[15] = 0x8000
	return s
}

// TestMisaligned holds what cores make of addresses that are no multiples of the size:
// up to ARMv5 the word is rotated (ARM7TDMI data sheet, 4.9.3) and its address loses the
// low bits in a store; ARMv6-M faults (DDI 0419, A3.2); ARMv7 accesses the bytes, but for
// multiple transfers (DDI 0406C, A3.2.1). What is done not at all changes nothing.
func TestMisaligned(t *testing.T) {
	for _, x := range []struct {
		arch string
		code uint16
		end  exec.End
		want uint32
	}{
		{"armv4t", 0x6808, exec.Done, 0x10131211}, // ldr r0, [r1]
		{"armv5te", 0x6808, exec.Done, 0x10131211},
		{"armv7-a", 0x6808, exec.Done, 0x14131211},
		{"armv7-m", 0x6808, exec.Done, 0x14131211},
		{"armv6-m", 0x6808, exec.Misaligned, 7},
		{"armv4t", 0x8808, exec.Unpredictable, 7}, // ldrh r0, [r1]
		{"armv7-a", 0x8808, exec.Done, 0x1211},
		{"armv4t", 0xc904, exec.Done, 7}, // ldmia r1!, {r2}
		{"armv7-a", 0xc904, exec.Misaligned, 7},
		{"armv7-m", 0xc904, exec.Misaligned, 7},
	} {
		s := state(t, x.arch, map[isa.Reg]uint32{0: 7, 1: 0x11})
		before := s.Regs
		r := run(t, s, x.code)
		if r.End != x.end || s.Regs[0] != x.want {
			t.Errorf("%s: %04x: %v, r0 = %#x, want %v, %#x", x.arch, x.code, r.End, s.Regs[0], x.end, x.want)
		}
		if r.End != exec.Done && (s.Regs != before || len(s.Log) != 0) {
			t.Errorf("%s: %04x changes something and does not end", x.arch, x.code)
		}
		if r.End == exec.Misaligned && r.Addr != 0x11 {
			t.Errorf("%s: %04x: fault on %#x", x.arch, x.code, r.Addr)
		}
	}
}

// TestWhere holds where code goes on: POP {pc} takes the instruction set from bit 0 from
// ARMv5T on and stays before (DDI 0100I, A7, "POP"); BX to A32 code leaves M profile
// without one (DDI 0419, A3.2.1); bits 1 and 0 = 10 say nothing (DDI 0406C, BXWritePC).
func TestWhere(t *testing.T) {
	for _, x := range []struct {
		arch string
		code uint16
		to   uint32
		end  exec.End
		pc   uint32
		set  isa.State
	}{
		{"armv4t", 0xbd00, 0x9000, exec.Done, 0x9000, isa.T}, // pop {pc}
		{"armv5te", 0xbd00, 0x9000, exec.Done, 0x9000, isa.A},
		{"armv5te", 0xbd00, 0x9001, exec.Done, 0x9000, isa.T},
		{"armv7-m", 0xbd00, 0x9000, exec.NoSuchState, 0x9000, isa.T},
		{"armv4t", 0x4718, 0x9000, exec.Done, 0x9000, isa.A}, // bx r3
		{"armv4t", 0x4718, 0x9001, exec.Done, 0x9000, isa.T},
		{"armv4t", 0x4718, 0x9002, exec.Unpredictable, 0x8000, isa.T},
		{"armv6-m", 0x4718, 0x9000, exec.NoSuchState, 0x9000, isa.T},
		{"armv4t", 0x469f, 0x9001, exec.Done, 0x9000, isa.T}, // mov pc, r3
		{"armv7-a", 0x469f, 0x9000, exec.Done, 0x9000, isa.T},
	} {
		s := state(t, x.arch, map[isa.Reg]uint32{3: x.to, isa.SP: 0x100})
		for i := range uint32(4) {
			s.Mem.Store(0x100+i, byte(x.to>>(8*i)))
		}
		if r := run(t, s, x.code); r.End != x.end || s.Regs[15] != x.pc || s.Set != x.set {
			t.Errorf("%s: %04x to %#x: %v, pc = %#x, %v", x.arch, x.code, x.to, r.End, s.Regs[15], s.Set)
		}
	}
}

// TestBlock holds that an IT block runs to its end and no further, and that in it flags
// stay (DDI 0406C, A2.5.2): ITTE EQ; then, then, else; then outside.
func TestBlock(t *testing.T) {
	code := []uint16{0xbf06, 0x3001, 0x2800, 0x3102, 0x3204} // itte eq; addeq r0, #1; cmpeq r0, #0; addne r1, #2; adds r2, #4
	for _, x := range []struct {
		r0      uint32
		flags   isa.Flags
		a, b, c uint32
	}{
		{0, isa.Z, 1, 2, 4}, // after the compare Z is clear: the else runs as well
		{0, 0, 0, 2, 4},
		{0xffffffff, isa.Z, 0, 0, 4}, // and here it is set
	} {
		s := state(t, "armv7-m", map[isa.Reg]uint32{0: x.r0})
		s.Flags = x.flags
		if r := run(t, s, code...); r.End != exec.Done || s.Regs[0] != x.a || s.Regs[1] != x.b || s.Regs[2] != x.c || s.IT != 0 || s.Regs[15] != 0x800a {
			t.Errorf("%#x, %v: %v, %v, IT %#x", x.r0, x.flags, r.End, s.Regs, s.IT)
		}
		if s.Flags != 0 { // of the last one, outside of the block
			t.Errorf("%#x, %v: flags %v", x.r0, x.flags, s.Flags)
		}
	}
}

// TestLog holds the log of accesses, the order of a multiple store, and that flags whose
// value is not known are called so: C after MULS up to ARMv4 (DDI 0100I, A7, "MUL").
func TestLog(t *testing.T) {
	s := state(t, "armv4t", map[isa.Reg]uint32{0: 5, 7: 6, isa.LR: 7, isa.SP: 0x100})
	run(t, s, 0xb581, 0x9900) // push {r0, r7, lr}; ldr r1, [sp]
	want := []exec.Access{{0xf4, 4, true, 5}, {0xf8, 4, true, 6}, {0xfc, 4, true, 7}, {0xf4, 4, false, 5}}
	if len(s.Log) != len(want) {
		t.Fatalf("log %v", s.Log)
	}
	for i := range want {
		if s.Log[i] != want[i] {
			t.Errorf("access %d: %v, want %v", i, s.Log[i], want[i])
		}
	}
	for arch, unknown := range map[string]isa.Flags{"armv4t": isa.C, "armv5te": 0, "armv6-m": 0} {
		if r := run(t, state(t, arch, nil), 0x4348); r.Unknown != unknown { // muls r0, r1
			t.Errorf("%s: unknown %v", arch, r.Unknown)
		}
	}
}

// TestText holds that each row that is described says so in words, and in words only.
func TestText(t *testing.T) {
	for _, r := range append(isa.Rows(), isa.RowsA32()...) {
		if text := r.Text(); r.Described() && (text == "" || strings.ContainsAny(text, "?#")) {
			t.Errorf("row %s: %q", r.ID, text)
		}
	}
}
