package isa_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// TestRotated compares the rotated constants with a list of all of them (Arm
// ARM, "Modified immediate constants in ARM instructions").
func TestRotated(t *testing.T) {
	proof := reftest.Begin(t)
	all := map[uint32]bool{}
	for i := range uint32(1 << 12) {
		v := isa.Unrotate(i)
		all[v] = true
		x, ok := isa.Rotated(v)
		if !ok || isa.Unrotate(x) != v || x>>8 > i>>8 {
			t.Errorf("%03x: %08x becomes %03x, %v", i, v, x, ok)
		}
	}
	var sorted []uint32
	for v := range all {
		sorted = append(sorted, v)
	}
	slices.Sort(sorted)
	rnd := reftest.Rand(1, 1)
	n := 0
	check := func(v uint32) {
		n++
		i, found := slices.BinarySearch(sorted, v)
		if _, ok := isa.Rotated(v); ok != found {
			t.Fatalf("%08x: %v", v, ok)
		}
		below, above := isa.A.NearConstants(v)
		if found {
			if below != v || above != v {
				t.Fatalf("%08x: %08x and %08x", v, below, above)
			}
			return
		}
		want := uint32(0) // none
		if i < len(sorted) {
			want = sorted[i]
		}
		if below != sorted[i-1] || above != want {
			t.Fatalf("%08x lies between %08x and %08x, not %08x and %08x", v, sorted[i-1], want, below, above)
		}
	}
	for _, v := range sorted {
		for d := range uint32(3) {
			check(v + d - 1)
		}
	}
	for range 3000 {
		check(rnd.Uint32() >> rnd.IntN(32))
	}
	proof.Counted("rotated constants: %d of %d, %d words judged", len(sorted), 1<<12, n)
}

// TestRoundTripA writes decoded A32 words in both syntaxes and reads them again.
func TestRoundTripA(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	words := wordsA(reftest.Rand(5, 6), reftest.Count(10_000, 200_000, 2_000_000))
	var cases []string
	total := 0
	for _, arch := range decodeArchesA {
		have := features(t, arch)
		for i, w := range words {
			if i%len(decodeArchesA) != 0 {
				continue
			}
			in, ok := isa.DecodeA32(have, w)
			if !ok || in.Unpredictable {
				continue
			}
			for _, unified := range []bool{true, false} {
				text := in.Text(unified, 0)
				total++
				s := syntax.Parse(text).Line(0).Stmts
				if len(s) != 1 || s[0].Kind != syntax.Instruction || s[0].Err != nil {
					cases = append(cases, fmt.Sprintf("%s %v %s no statement: %08x %s", arch, unified, in.Row.ID, w, text))
					continue
				}
				ops := operandsA(&s[0], 0)
				for k := range ops {
					if ops[k].Kind == isa.OpExpr && ops[k].Bare && reaches(in.Row.Flow) { // an address
						ops[k].Bare, ops[k].Imm = false, int64(int32(uint32(ops[k].Imm)))
					}
				}
				q := isa.Query{Have: have, Unified: unified, A32: true}
				m, ok := s[0].Mnemonic.Match(&q, ops)
				if !ok {
					cases = append(cases, fmt.Sprintf("%s %v %s as nothing: %08x %s", arch, unified, in.Row.ID, w, text))
				} else if m.Encode() != w {
					cases = append(cases, fmt.Sprintf("%s %v %s as %s: %08x for %08x %s", arch, unified, in.Row.ID, m.Form.Row.ID, m.Encode(), w, text))
				} else if m.Effects() != in.Effects() {
					t.Errorf("%08x %s: the effects of statement and code differ", w, text)
				} else if name := m.Name(unified); s[0].Mnemonic.Name != name {
					t.Errorf("%08x %s: its name is %s", w, text, name)
				}
			}
		}
	}
	judge(t, nil, cases)
	proof.Counted("round trip A32: %d texts", total)
}

// TestStoreStateA reads the spellings of SRS, which take the '!' after sp and
// after the mode, and writes each with one '!' after sp (DDI 0406, "SRS"; codes
// from memory of it).
func TestStoreStateA(t *testing.T) {
	have := features(t, "armv7-a")
	for _, c := range []struct {
		text, want string
		code       uint32
	}{
		{"srsia sp, #19", "srsia sp, #19", 0xf8cd0513},
		{"srsia #19", "srsia sp, #19", 0xf8cd0513},
		{"srsia sp!, #19", "srsia sp!, #19", 0xf8ed0513},
		{"srsia sp, #19!", "srsia sp!, #19", 0xf8ed0513},
		{"srsia sp!, #19!", "srsia sp!, #19", 0xf8ed0513},
		{"srsea #19!", "srsia sp!, #19", 0xf8ed0513},
		{"srs #19!", "srsia sp!, #19", 0xf8ed0513},
		{"srsdb sp!, #31", "srsdb sp!, #31", 0xf96d051f},
		{"srsfd sp, #31!", "srsdb sp!, #31", 0xf96d051f},
		{"srsfa sp!, #31", "srsib sp!, #31", 0xf9ed051f},
		{"srsdb sp, #31", "srsdb sp, #31", 0xf94d051f},
	} {
		for text := range map[string]bool{c.text: true, c.want: true} {
			s := &syntax.Parse(text).Line(0).Stmts[0]
			if s.Kind != syntax.Instruction || s.Err != nil {
				t.Errorf("%s is no statement", text)
				continue
			}
			m, ok := s.Mnemonic.Match(&isa.Query{Have: have, Unified: true, A32: true}, operandsA(s, 0))
			if !ok || m.Encode() != c.code {
				t.Errorf("%s: %v, code %08x, want %08x", text, ok, m.Encode(), c.code)
			}
		}
		in, ok := isa.DecodeA32(have, c.code)
		if got := in.Text(true, 0); !ok || got != c.want {
			t.Errorf("%08x: %s, want %s", c.code, got, c.want)
		}
		if fx := in.Effects(); fx.Writes.Has(isa.SP) != strings.Contains(c.want, "!") || fx.Reads != 1<<isa.SP|1<<isa.LR {
			t.Errorf("%s: effects %+v", c.want, fx)
		}
	}
}

// refusalsA are A32 statements with what is wrong, in unified syntax.
var refusalsA = []struct {
	arch, text string
	reason     isa.Reason
	op         int
}{
	{"armv4t", "mov r0, #0x101", isa.NoRotation, 1},
	{"armv4t", "add r0, r1, #0x101", isa.NoRotation, 2},
	{"armv4t", "ldr r0, [r1, #4096]", isa.TooLarge, 1},
	{"armv4t", "ldr r0, [r1, #-4096]", isa.TooLarge, 1},
	{"armv4t", "ldrsb r0, [r1, #256]", isa.TooLarge, 1},
	{"armv4t", "mov r0, r1, lsr #33", isa.TooLarge, 2},
	{"armv4t", "mov r0, r1, lsl #-1", isa.Negative, 2},
	{"armv4t", "b .+6", isa.OddTarget, 0},
	{"armv4t", "beq .+0x4000000", isa.TooFar, 0},
	{"armv4t", "ldr r0, .+5000", isa.TooFar, 1},
	{"armv4t", "push {}", isa.EmptyList, 0},
	{"armv4t", "clz r0, r1", isa.NoFeature, -1},
	{"armv4", "bx lr", isa.NoFeature, -1},
	{"armv5te", "ldrd r1, [r2]", isa.OddReg, 0},
	{"armv5te", "ldc2 p1, c2, [r3, #2]", isa.Misaligned, 2},
	{"armv5te", "pldne [r1]", isa.NoCond, -1},
	{"armv5te", "pldb [r1]", isa.OK, 0},
	{"armv4t", "mul pc, r0, r1", isa.OtherReg, 0},
	{"armv4t", "mov.w r0, r1", isa.OtherWidth, -1},
	{"armv4t", "add r0", isa.OtherCount, -1},
	{"armv4t", "svc #0x1000000", isa.TooLarge, 0},
}

// TestRefuseA checks that the first refusal is what a person would name.
func TestRefuseA(t *testing.T) {
	for _, c := range refusalsA {
		target, _ := isa.Arch(c.arch)
		s := &syntax.Parse(c.text).Line(0).Stmts[0]
		if c.reason == isa.OK { // no name at all
			if s.Kind == syntax.Instruction {
				t.Errorf("%s: there is such a name", c.text)
			}
			continue
		}
		q := isa.Query{Have: target.Have, Unified: true, Width: s.Width, A32: true}
		ops := operandsA(s, 0)
		if _, ok := s.Mnemonic.Match(&q, ops); ok {
			t.Errorf("%s: it is taken", c.text)
			continue
		}
		if r := s.Mnemonic.Refuse(&q, ops, nil)[0]; r.Reason != c.reason || r.Op != c.op {
			t.Errorf("%s: %v at operand %d (%v), want %v at %d", c.text, r.Reason, r.Op, r.Form, c.reason, c.op)
		}
	}
}

// TestNamesA holds the paths that a large file takes to what they should cost.
func TestNamesA(t *testing.T) {
	target, _ := isa.Arch("armv4t")
	q := isa.Query{Have: target.Have, Unified: true, A32: true}
	s := &syntax.Parse("ldrbne r0, [r1, -r2, lsl #3]!").Line(0).Stmts[0]
	ops := operandsA(s, 0)
	for name, f := range map[string]func(){
		"Find ldrbne":   func() { isa.Find("ldrbne") },
		"Find umullges": func() { isa.Find("umullges") },
		"Find teq":      func() { isa.Find("teq") },
		"Match":         func() { m, _ := s.Mnemonic.Match(&q, ops); _ = m.Encode(); _ = m.Effects() },
		"Decode":        func() { in, _ := isa.DecodeA32(target.Have, 0xe0800001); _ = in.Encode() },
	} {
		f()
		if n := testing.AllocsPerRun(100, f); n != 0 {
			t.Errorf("%s makes %v allocations", name, n)
		}
	}
	for _, n := range []string{"ldreqb", "ldrbeq", "addeqs", "addseq", "bleq", "bls", "ldmeqia", "ldmiaeq", "swpneb", "umulleqs"} {
		if m, _ := isa.Find(n); m == nil || len(m.FormsOf(isa.A)) == 0 {
			t.Errorf("%s is no A32 name", n)
		} else if again, _ := isa.Find(n); again != m {
			t.Errorf("%s is found twice", n)
		}
	}
}
