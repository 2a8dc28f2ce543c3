package isa_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// fpusV are the floating-point units that the rows are proved for, with what
// they have (the assembler's manual, "ARM Options"; DDI 0406, A2.6).
var fpusV = []struct {
	name, arch string
	have       isa.Features
}{
	{"vfpv2", "armv6", isa.FeatVFP | isa.FeatVFPD | isa.FeatVFP2},
	{"vfpv3-d16", "armv7-a", isa.FeatVFP | isa.FeatVFPD | isa.FeatVFP2 | isa.FeatVFP3},
	{"vfpv3", "armv7-a", isa.FeatVFP | isa.FeatVFPD | isa.FeatVFP2 | isa.FeatVFP3 | isa.FeatD32},
	{"vfpv4", "armv7-a", isa.FeatVFP | isa.FeatVFPD | isa.FeatVFP2 | isa.FeatVFP3 | isa.FeatD32 | isa.FeatHalf | isa.FeatFMA},
	{"fpv4-sp-d16", "armv7-a", isa.FeatVFP | isa.FeatVFP2 | isa.FeatVFP3 | isa.FeatHalf | isa.FeatFMA},
	{"fpv5-d16", "armv7-a", isa.FeatVFP | isa.FeatVFPD | isa.FeatVFP2 | isa.FeatVFP3 | isa.FeatHalf | isa.FeatFMA | isa.FeatFPv8},
	{"fpv5-sp-d16", "armv7-a", isa.FeatVFP | isa.FeatVFP2 | isa.FeatVFP3 | isa.FeatHalf | isa.FeatFMA | isa.FeatFPv8},
	{"neon", "armv7-a", isa.FeatVFP | isa.FeatVFPD | isa.FeatVFP2 | isa.FeatVFP3 | isa.FeatD32 | isa.FeatNEON},
	{"neon-fp-armv8", "armv7-a", isa.FeatVFP | isa.FeatVFPD | isa.FeatVFP2 | isa.FeatVFP3 | isa.FeatD32 | isa.FeatHalf | isa.FeatFMA | isa.FeatFPv8 | isa.FeatNEON | isa.FeatNEONFMA | isa.FeatNEONv8},
	{"crypto-neon-fp-armv8.1", "armv8.6-a+fp16+i8mm", 0},
}

// shapesV are operand texts for names of floating point, written without
// looking at the table.
var shapesV = func() (out []string) {
	add := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	add("")
	regs := []string{"s0", "s1", "s31", "d0", "d7", "d15", "d16", "d31", "q0", "q1", "r0", "r3", "sp", "pc", "d0[0]", "d1[1]", "d1[2]", "S5", "D3", "Q2", "s32", "d32", "s01", "x"}
	for _, a := range regs {
		add("%s", a)
		for _, b := range regs {
			add("%s, %s", a, b)
		}
	}
	three := []string{"s0", "s31", "d0", "d7", "d31", "q1", "r0", "r3", "pc", "d1[0]"}
	for _, a := range three {
		for _, b := range three {
			for _, c := range three {
				add("%s, %s, %s", a, b, c)
			}
		}
	}
	for _, x := range []string{"s0, s1, r0, r1", "s1, s2, r0, r1", "s31, s0, r0, r1", "s0, s2, r0, r1", "s1, s0, r0, r1", "r0, r1, s0, s1", "r0, r0, s30, s31", "r0, pc, s2, s3", "pc, r0, s2, s3", "r2, r3, d0, d1", "s0, s1, s2, s3", "r0, r1, r2, r3",
		"s0, s1, r0, pc", "r0, r1, d5", "r0, r0, d5", "d5, r0, r0", "d5, r0, pc", "d5, sp, r0", "r0, r1, {s0, s1}", "r0, r1, {s0-s1}", "{s4, s5}, r0, r1", "{s4}, r0, r1", "{s4-s6}, r0, r1", "r0, r1, {d0}", "{s31}, r0, r1", "r0, r1, {s1, s0}"} {
		add("%s", x)
	}
	for _, t := range []string{"f32", "f64", "s32", "u32", "i32", "f16", "32", "f"} {
		add("s0.%s, s1.%s, s2.%s", t, t, t)
		add("d0.%s, d1.%s, d2.%s", t, t, t)
		add("s0.%s, s1.%s", t, t)
		add("d0.%s, d1.%s", t, t)
		add("s0.%s, s1", t)
		add("s0.%s, #1.0", t)
		add("s0.%s, #0", t)
		for _, u := range []string{"f32", "f64", "s32", "u16", "f16"} {
			add("s0.%s, s1.%s", t, u)
			add("d0.%s, s1.%s", t, u)
			add("s0.%s, d1.%s", t, u)
			add("s0.%s, s0.%s, #3", t, u)
		}
	}
	for _, c := range strings.Split("0 1 2 3 7 8 15 16 17 31 32 33 64 100 112 240 255 256 -1 -2 -16 -17 0x3f800000 0xbf000000 0x40000000 0x41f80000 0x3ff80000 0x3f800001 0.0 -0.0 1.0 -1.0 0.5 .5 2. 1e0 1E1 5e-1 31.0 32.0 0.125 -0.125 0.1 0.13 1.03125 1.00000001 +1.5 4294967295 4294967296", " ") {
		for _, r := range []string{"s0", "s3", "d0", "d31", "q0", "r0"} {
			add("%s, #%s", r, c)
			add("%s, %s", r, c)
			add("%s, %s, #%s", r, r, c)
			add("%s, %s, %s", r, r, c)
			add("%s, =%s", r, c)
		}
		add("s0, s1, #%s", c)
		add("s0, [r1, #%s]", c)
		add("d0, [r1, #%s]", c)
		add("d0, [r1, %s]", c)
	}
	for _, r := range []string{"s0", "s31", "d0", "d16", "q0", "r0"} {
		for _, m := range strings.Split("[r1]|[pc]|[sp, #8]|[r1, #4]|[r1, #-4]|[r1, #-0]|[r1, #1020]|[r1, #-1020]|[r1, #1024]|[r1, #2]|[r1, #1022]|[r1, #4]!|[r1]!|[r1], #4|[r1], r2|[r1, r2]|[r1, -r2]|[r1, r2, lsl #2]|[pc, #8]|[pc, #-8]|[r1:64]|[r1, :64]|[r1|r1|.+8|.-8|.+1028|.+1032|.-1012|.-1016|.+6|foo|=foo|[s0]|[d1]|[r1, s2]|[r1], {5}", "|") {
			add("%s, %s", r, m)
		}
	}
	for _, l := range strings.Split("{s0}|{s31}|{s0-s3}|{s0, s1}|{s0, s2}|{s1, s0}|{s30-s31}|{s30-s32}|{s0-s31}|{s3-s0}|{d0}|{d0-d15}|{d0-d16}|{d16}|{d1-d16}|{d16-d31}|{d20-d31}|{d0, d1, d2}|{d0, d2}|{d0-d1, d2}|{q0}|{q0-q1}|{q0-q7}|{q0-q8}|{q8, q9}|{s0-d1}|{s0, d1}|{d0[0]}|{d0[]}|{r0}|{r0, s0}|{}|{s0|{S0-S3}|{D1}|{s0, s0}|{s0,}|s0|d0|{s0-}|{x}|{d0}^", "|") {
		add("%s", l)
		for _, b := range []string{"r0", "r0!", "sp", "sp!", "pc", "pc!", "r9!"} {
			add("%s, %s", b, l)
		}
	}
	for _, w := range strings.Fields("fpscr FPSCR Fpscr fpsid fpexc mvfr0 mvfr1 mvfr2 MVFR0 fpinst fpinst2 apsr_nzcv APSR_nzcv APSR_NZCV apsr cpsr c0 c1 c5 C8 c15 c16 cr1 p1 vpr fpcxt_s") {
		for _, r := range []string{"r0", "r14", "sp", "pc", "apsr_nzcv", "APSR_nzcv", "s0"} {
			add("%s, %s", r, w)
			add("%s, %s", w, r)
		}
		add("%s", w)
	}
	add("s0 s1")
	add("s0,")
	add("s0, s1, s2, s3")
	add("s0!, s1")
	return out
}()

// elementShapes are operand texts for loads and stores of elements.
var elementShapes = func() (out []string) {
	lists := strings.Split("{d0}|d0|{d0, d1}|{d0-d1}|{d0, d2}|{d0, d3}|{d1, d0}|{d0-d2}|{d0-d3}|{d0, d2, d4}|{d0, d1, d2}|{d0, d1, d3}|{d0, d2, d4, d6}|{d0-d4}|{d0-d7}|{d28-d31}|{d31}|{d30, d31}|{d29, d31}|{d31, d0}|{d25, d27, d29, d31}|{d0, d1, d2, d3, d4}|{d3-d0}|{d0, d0}|"+
		"{q0}|q0|{q0-q1}|{q0, q1}|{q0, q2}|{q15}|{q0-q2}|{q0, d2}|{d0, q1}|{s0}|s0|{s0-s1}|{r0}|r0|{}|{d32}|{D0}|D4|{d0,d1,d2,d3}|{ d0 , d1 }|{d0 - d1}|{d0-d1, d2}|{d0, d1-d2}|{d0-d1, d2-d3}|{d0, d2-d3}|{d0.8}|{d0.8, d1.8}|"+
		"{d0[0]}|d0[0]|{d0[1]}|d7[7]|{d0[2]}|{d0[3]}|{d0[4]}|{d0[7]}|{d0[8]}|{d31[0]}|{d0[0], d1[0]}|{d0[0], d1[1]}|{d0[1], d2[1]}|{d0[0], d3[0]}|{d0[7], d1[7]}|{d0[7], d2[7]}|{d0[3], d2[3]}|{d0[4], d2[4]}|{d0[1], d2[1], d4[1]}|{d0[1], d1[1], d2[1]}|{d0[0], d1[0], d2[0], d3[0]}|"+
		"{d0[1], d2[1], d4[1], d6[1]}|{d0[0]-d3[0]}|{d0[0], d1}|{d0, d1[0]}|{q0[0]}|{s0[0]}|{r0[0]}|{d0[-1]}|{d0[x]}|{d0[1]-d1[1]}|"+
		"{d0[]}|d0[]|{d0[], d1[]}|{d0[], d2[], d4[]}|{d0[], d1[], d2[]}|{d0[], d1[], d2[], d3[]}|{d0[], d2[], d4[], d6[]}|{d0[]-d1[]}|{q0[]}|{d0[], d1[0]}|{d0[], d1}|{d31[]}|{d30[], d31[]}|{d29[], d31[]}|{d0[", "|")
	addresses := strings.Split("[r0]|[r0]!|[r0], r1|[r0:16]|[r0:32]|[r0:64]|[r0:128]|[r0:256]|[r0:8]|[r0:512]|[r0:0]|[r0:48]|[r0:64]!|[r0:32]!|[r0:128], r2|[r0:16], r2|[r0 :64]|[r0, :64]|[r0: 64]|[r0:(32+32)]|[r1:x]|[sp]|[sp]!|[pc]|[pc]!|[r1], sp|[r1], pc|[r1], r15|[r1], lr|[r0], r0|"+
		"[r0, #0]|[r0, #0]!|[r0, #4]|[r0], #8|[r0], #0|[r0, 0]|[r0, r1]|[r0, r1]!|[r0], -r1|[r0], +r1|[r0]!, r1|[r0], r1, lsl #1|[r0], x|[r0|r0|[d0]|[R0:64]!|[R4], R5|.+8|=4|[r0], {4}|[r16]|[r0:64|[r0:64!]|[r0], d1", "|")
	for _, l := range lists {
		out = append(out, l)
		for _, a := range addresses {
			out = append(out, l+", "+a)
		}
	}
	return append(out, "", "[r0]", "[r0], {d0}", "{d0}, r1, [r0]", "{d0}, {d1}, [r0]", "{d0}, [r0], [r1]", "d0, d1, [r0]", "r0, {d0}", "r0!, {d0}")
}()

// tableShapes are operand texts for table look-ups.
var tableShapes = func() (out []string) {
	regs := strings.Split("d0|d31|q0|s0|r0|d1[0]|D2", "|")
	for _, a := range regs {
		for _, b := range regs {
			for _, l := range strings.Split("{d0}|d0|{d0, d1}|{d0-d1}|{d0-d2}|{d0-d3}|{d0-d4}|{d0, d2}|{d1, d0}|{d28-d31}|{d31}|{d30-d32}|{q0}|{q0, q1}|{q0-q1}|{q0-q2}|q0|{q1, q0}|{s0}|{s0-s3}|{r0}|{}|{d0[0]}|{d0[]}|{d0, d1, d2, d3}|{d0, d0}|{d3-d0}|{D0}|{d0-d1, d2}", "|") {
				out = append(out, a+", "+l+", "+b)
			}
		}
	}
	return append(out, "", "d0", "d0, {d1}", "{d1}, d0", "d0, d1, d2, d3", "d0, {d1}, d2, d3", "d0, {d1}, #1", "d0, {d1}, [r0]")
}()

// constantShapes are operand texts for constants in all elements.
var constantShapes = func() (out []string) {
	values := strings.Split("0 1 255 256 0xff00 0xff0000 0xff000000 0x1200 0x120000 0x12000000 0x12ff 0x12ffff 0x12ffffff 0xff00ff 0xff00ff00 0x12001200 0x1212 0x12121212 0xffff 0x10000 0xffff00ff 0xffffff00 0xffffffff 0x101 0x1234 0xffffed00 0xedff -1 -2 -256 -255 -0x100 -65536 0x7fffffff 0x80000000 "+
		"0x100000000 0x1ffffffff 0xff000000ff 0x1200000012 0xff00ff00ff00ff00 0x1212121212121212 0xffffffffffffffff 0xffffffffffffff00 0xffffff00ffffff00 0x00ff00000000ff00 0xff00000000000000 0x8000000000000000 0x1234567812345678 0xffffffff00000000 "+
		"0.0 -0.0 1.0 -1.0 2.0 0.125 31.0 0.1 32.0 1e0 0x3f800000 0x3ff0000000000000 x (1+1)", " ")
	for _, r := range strings.Split("d0|q1|d31|d0, d0|q1, q1|d0, d1|d0, q0|s0|r0|D3|d0.i32|d0[1]|q15", "|") {
		for _, v := range values {
			out = append(out, r+", #"+v, r+", "+v)
			if !strings.Contains(r, ", ") {
				out = append(out, r+", ="+v)
			}
		}
	}
	return append(out, "d0, #1, #2", "#1", "#1, d0", "d0, d1, d2, #1", "q0, q0, q0, #1")
}()

// shapesFor are the operand texts for a name, and how many times as often as
// others they are tried.
func shapesFor(name string) (shapes []string, often int) {
	base, _, _ := strings.Cut(name, ".")
	switch {
	case len(base) == 4 && (base[:3] == "vld" || base[:3] == "vst") && base[3] < '5':
		return elementShapes, 4
	case base == "vtbl" || base == "vtbx":
		return tableShapes, 4
	case slices.Contains(strings.Fields("vmov vmvn vorr vbic vand vorn vldr fldd"), base):
		return slices.Concat(shapesV, constantShapes), 4
	}
	return shapesV, 1
}

// namesV are the names of floating point in the table, and others near to them.
func namesV(want func(r *isa.Row) bool) []string {
	seen := map[string]bool{}
	var out []string
	add := func(n string) {
		if n = strings.TrimSuffix(n, ".*"); !seen[n] {
			seen[n] = true
			out = append(out, n)
		}
	}
	for _, r := range isa.RowsA32() {
		if !want(r) {
			continue
		}
		for _, f := range r.AllForms() {
			n := f.Mnemonic
			add(n)
			base, types, typed := strings.Cut(n, ".")
			if base[0] != 'v' {
				continue
			}
			add(base)
			if !typed {
				add(base + ".32")
				add(base + ".f64")
				add(base + ".s8")
				add(base + ".i16")
				continue
			}
			first, _, _ := strings.Cut(types, ".")
			add(base + "." + first)
			add(n + "." + first)
			add(n + "." + first + "." + first)
			add(strings.ReplaceAll(strings.ReplaceAll(n, "f32", "f"), "f64", "d"))
			add(strings.ReplaceAll(n, "f32", "32"))
			add(strings.ReplaceAll(n, "f64", "64"))
			add(strings.ReplaceAll(n, "f", "i"))
			add(strings.ReplaceAll(n, "s32", "i32"))
			add(strings.ReplaceAll(n, "u32", "32"))
			add(n + ".x")
			add(base + ".f33")
		}
	}
	for _, n := range strings.Fields("vsel vselne vselle fcpy fadd faddq vldmfd vstmea vcvtx vrint fldm") {
		add(n)
	}
	return out
}

// condsV are ways to write a condition into a name.
func withCond(n, c string, way int) string {
	base, types, typed := strings.Cut(n, ".")
	switch {
	case way == 0 && typed:
		return base + c + "." + types
	case way == 0:
		return n + c
	case way == 1 && typed:
		return n + c
	}
	return n[:3] + c + n[3:]
}

// examplesV writes statements in each form of the rows, n of each; with sparse
// above 1 in every so many-th form.
func examplesV(want func(r *isa.Row) bool, n, sparse int, seed uint64, unified bool) (out []string) {
	rnd, at := rand.New(rand.NewPCG(seed, 11)), seed
	for _, r := range isa.RowsA32() {
		if !want(r) {
			continue
		}
		for _, f := range r.AllForms() {
			if at++; at%uint64(sparse) != 0 {
				continue
			}
			for range n {
				t := f.Example(rnd, unified)
				if name, ops, ok := strings.Cut(t, " "); ok && f.AnyType() && rnd.IntN(2) == 0 {
					t = name + []string{".32", ".f32", ".u32", ".8", ".64", ".f16", ".f"}[rnd.IntN(7)] + " " + ops
				}
				if rnd.IntN(8) == 0 {
					t = strings.ToUpper(t)
				}
				if t != "" {
					out = append(out, t)
				}
			}
		}
	}
	return out
}

// alwaysV are statements that are known to be judged otherwise; they are tried
// on every run.
var alwaysV = strings.Split("fconsts s0, #4294967296|vmov.f32.f32 r0, s1|vmov.f32 s0.f32, s1.f32|vmov s0.s32, s1.f32|vldr s0, [r1, r2]|vldr s0, [r1], {5}|vcvt.f32.s32 q0, s1|vcvta.s32.f32 s0, #1|vcvta.s32.f32 s0|vnmul.f64 d0, d1, d2|vfma d0.f64, d1.f64, d2.f64|"+
	"fldmfdx r0, {d0-d16}|fstmiax r0, {d0-d16}|vmrs apsr_nzcv, fpexc|fmxr vpr, r0|vmov d31, r0, r1|vcvtr d0.f32, s1.f16|vldr d0, =-1|vcmpe.f32 s0,|VMRS APSR_NZCV, FPSCR|vcnt.8.8 d0, d1|vadd.i32 q0, sp|vcvt.f32.f16 d0, d0, #3|vshr.s8 d0, #0|vmaxnm.f32 s0, s1, s2|vmov.f32.f32 r0, r1, s2, s3|vmov.32.32.32 s0.s32, s1.f16|"+
	"vld4.16 {d0[-1]}, [r0]|vld1.8 {d0}, [r0], -r1|vst1.8 {d0[]-d1[]}, [r0]|vldr.16.16.16 s0, =240|vldreq d0, =255|vmrs sp, fpexc|vcvtz.s32.f16 s0, s1", "|")

// statementsV builds the statements of floating point.
func statementsV(names []string, sample, phase int) (out []string) {
	out = append(out, alwaysV...)
	for i, n := range names {
		shapes, often := shapesFor(n)
		sample := max(sample/often, 1)
		for k, s := range shapes {
			if (k+7*i+phase)%sample == 0 {
				out = append(out, n+" "+s)
			}
			if (k+5*i+phase)%(41*sample) == 0 {
				out = append(out, strings.ToUpper(n)+" "+strings.ToUpper(s), n+".w "+s, withCond(n, "eq", k%3)+" "+s, withCond(n, "al", 0)+" "+s, withCond(n, "hs", 0)+" "+s)
			}
		}
	}
	return out
}

// askV is askA with the literals of these loads, which are after the
// statement: words, or pairs of them at a multiple of 8.
func askV(l *syntax.Line, have isa.Features, unified, thumb bool) (a answer, checked bool) {
	if len(l.Stmts) != 1 {
		return answer{}, true
	}
	s := &l.Stmts[0]
	if s.Kind != syntax.Instruction {
		return answer{}, true
	}
	q := isa.Query{Have: have, Unified: unified, Width: s.Width, A32: !thumb}
	if checked = s.Mnemonic.Checked(&q); s.Err != nil {
		return answer{}, checked
	}
	ops := operandsAt(s, 0)
	for i := range ops {
		if ops[i].Kind == isa.OpLit {
			double := s.Ops[0].Word != "" && s.Ops[0].Word[0]|0x20 == 'd'
			if o := s.Ops[i].Operand; o.Known && isa.InlineVector(have, o.Imm, double) {
				ops[i] = o
				ops[i].Bare = true
				continue
			}
			if double && !s.Ops[i].Known {
				ops[i].Kind = isa.OpOther // no address has eight bytes
				continue
			}
			ops[i].Imm = 4
			if double {
				ops[i].Imm = 8
			}
		}
	}
	m, ok := s.Mnemonic.Match(&q, ops)
	if !ok || m.Deferred() {
		return answer{}, checked
	}
	if thumb {
		return answer{ok: true, form: m.Form, code: codeBytes(m.Encode(), m.Form.Row.Size())}, checked
	}
	return answer{ok: true, form: m.Form, code: wordBytes(m.Encode())}, checked
}

// acceptDisagreementsV is acceptDisagreements for floating point.
var acceptDisagreementsV = []disagreement{
	{` accept: (?i)vcvt\w*\.(f16\.[su]16|[su]16\.f16) s\d+, s\d+, #?\d+$`, `half precision has fixed point of 16 bits (DDI 0487, "VCVT (between floating-point and fixed-point, floating-point)"); the assembler has it of 32 alone`},
	{` accept: (?i)\w+(\.\w+)* [^\[]*, #?4294967296$`, `a constant is a word of 32 bits, as elsewhere`},
	{` (accept|refuse): (?i)vmov\w*\.\w+\.\w+(\.\w+)? `, `a type is written once, or once for each operand; VMOV to and from core registers has one at most (DDI 0406, "VMOV")`},
	{` (accept|refuse): (?i)v(mov|mvn|orr|orn|and|bic)\w*(\.\w+)+ [sdq]\d+\.`, `a type stands on the name or on the operands; the assembler takes both`},
	{` refuse: (?i)f?v?(ld|st)r?[sd]?\w*(\.\w+)? \w+, \[r1, -?r2\]$`, `VLDR and VSTR have no index register (DDI 0406, "VLDR"); the assembler drops it`},
	{` refuse: (?i)f?v?(ld|st)r?[sd]?\w*(\.\w+)? \w+, \[r1\], \{5\}$`, `VLDR and VSTR have no unindexed form (DDI 0406, "VLDR"); the assembler writes the code of another instruction`},
	{` refuse: (?i)vcvt\w*\.[\w.]+ (?:.*\bq\d|[sd]\d+, d\d+$|d\d+, s\d+$)`, `a register of another size than the type's (DDI 0406, "VCVT"); the assembler takes its number for one of the right size`},
	{` refuse: (?i)vcvt[anpm]\w*\.[\w.]+ ([sdq]\d+, )?[sdq]\d+(, #?\w+)?$`, `VCVTA and its kin have two registers and no constant (DDI 0487, "VCVTA"); the assembler drops it`},
	{`^fpv\d-sp-d16 \w+ refuse: (?i)(v\w+\.(f64|d|64)|vn\w+ d0\.f64)`, `the unit has single precision alone (DDI 0403, "The FP extension"); the assembler does not look at it everywhere`},
	{` refuse: (?i)fldm\w* \S+, \{d0-d16\}$`, `a list has 16 double registers at most (DDI 0406, "VLDM")`},
	{` refuse: (?i)fstm\w* \S+, \{d0-d16\}$`, `a list has 16 double registers at most (DDI 0406, "VSTM")`},
	{` refuse: (?i)vmrs\w* apsr_nzcv, (fpsid|fpinst2?|mvfr\d|fpexc|cr?\d+)$`, `the flags come from FPSCR alone (DDI 0406, "VMRS")`},
	{` refuse: (?i)(fmxr|fmrx) .*(vpr|fpcxt_s|c15)`, `registers of ARMv8.1-M`},
	{`^(vfpv2|\S+-d16) \w+ refuse: (?i)vmov\w*(\.\w+)? .*d(1[6-9]|[23]\d)`, `d16 to d31 are not there (DDI 0406, A2.6.2); the assembler does not look at it in moves of two words`},
	{` refuse: (?i)vcvt\w* [sd]\d+\.\w+, [sd]\d+\.`, `no such conversion; the assembler takes one for some types that it does not know`},
	{`^fpv\d-sp-d16 \w+ refuse: (?i)v\w+ d0\.f64`, `the unit has single precision alone (DDI 0403, "The FP extension"); the assembler does not look at it everywhere`},
	{` accept: VMRS\w* APSR_NZCV`, `the name may be in capitals, as in MRC`},
	{`^\S*neon\S* \w+ accept: (?i)v\w+\.[a-z]?\d+\.[a-z]?\d+(\.\w+)? `, `a type is written once, or once for each operand: then the operand's own`},
	{`^\S*neon\S* \w+ refuse: (?i)v(add|sub)\w*\.\S+ q\d+, (q\d+, )?(r\d+|sp|lr|pc)$`, `a core register is no operand of vectors outside of ARMv8.1-M (DDI 0406, "VADD (integer)")`},
	{`^\S*neon\S* \w+ refuse: (?i)vcvt\w*\.(f(32)?\.f16|f16\.f(32)?) [dq]\d+, ([dq]\d+, )?#?\w+$`, `a conversion to half precision has no constant (DDI 0406, "VCVT")`},
	{`^\S*neon\S* \w+ refuse: (?i)vr?shr\w*\.\S+ ([dq]\d+, )?[dq]\d+, #?0$`, `a shift right goes by 1 up; the assembler takes 0 for a copy in more spellings than the manual (DDI 0406, "VSHR")`},
	{` refuse: (?i)v(ld|st)[1-4]\S* .*, \[\w+\], (-\w+|\w+, lsl #1)$`, `a register behind the address is added as it is (DDI 0406, A7.7.1); the assembler drops what stands around it`},
	{` (refuse|code \S+ for \S+): (?i)v(ld|st)[1-4]\S* \{d\d\[\d?\]-d\d\[\d?\]\}`, `a range of registers has no elements (DDI 0406, A7.7); the assembler drops them`},
	{` refuse: (?i)v(ld|st)[1-4]\S* \{d0\[-1\]\}`, `elements are counted from 0; the assembler takes bits of the number`},
	{` refuse: vcvtz\.s32\.f16`, `the assembler writes the code for single precision; VCVT without the letter rounds towards zero`},
	{` refuse: (?i)vldr\.16\.16`, `a type is written once, or once for each operand`},
	{` refuse: (?i)vcmpe?\w*\.\w+ s0,$`, `an operand is missing; the assembler reads it as zero`},
}

// TestAcceptV compares the rows of floating point with the assembler, as
// TestAccept does.
func TestAcceptV(t *testing.T) { acceptV(t, false) }

// TestAcceptVT does the same in T32 code.
func TestAcceptVT(t *testing.T) { acceptV(t, true) }

func acceptV(t *testing.T, thumb bool) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	names := namesV((*isa.Row).Vector)
	slices.Sort(names)
	parts := make([]comparison, 2*len(fpusV))
	t.Run("on", func(t *testing.T) { // ends when all that run side by side have
		step := reftest.Size(5, 1, 1)
		for i := reftest.Seed(0) % step; i < len(parts); i += step {
			t.Run(fpusV[i/2].name, func(t *testing.T) {
				t.Parallel()
				parts[i].compareV(t, names, i, thumb)
			})
		}
	})
	c := comparison{}
	for _, p := range parts {
		c.total, c.taken, c.open, c.cases = c.total+p.total, c.taken+p.taken, c.open+p.open, append(c.cases, p.cases...)
	}
	known := acceptDisagreementsV
	if !thumb {
		known = append(known[:len(known):len(known)], disagreement{`^\S*neon\S* \w+ accept: (?i)vmov(eq|ne|cs|cc|hs|lo|mi|pl|vs|vc|hi|ls|ge|lt|gt|le)\.[su](8|16) \w+, d\d+\[`,
			`VMOV from an element takes a condition (DDI 0406, "VMOV (scalar to ARM core register)"); the assembler has it for words alone`},
			disagreement{`^\S*neon\S* \w+ refuse: (?i)(vldr|fldd)(eq|ne|cs|cc|hs|lo|mi|pl|vs|vc|hi|ls|ge|lt|gt|le)\S* d\d+, =`,
				`a vector constant has no condition in A32 code (DDI 0406, "VMOV (immediate)"); the assembler makes one all the same, and loses the condition`})
	} else {
		known = append(known[:len(known):len(known)], disagreement{`^(vfpv2|vfpv3-d16|vfpv3|vfpv4|fpv4-sp-d16|neon) \w+ refuse: (?i)v(max|min)nm\w*\.f\S* `,
			`VMAXNM and VMINNM are of FPv5 and ARMv8; the assembler does not look at it in T32 code`},
			disagreement{`^crypto\S* \w+ accept: (?i)vmrs\w* sp, `, `sp may be the register since ARMv8 (DDI 0487, "VMRS"); the assembler refuses it`})
	}
	judge(t, known, c.cases)
	proof.Counted("accept/refuse floating point (T32: %v): %d statements, %d accepted by both with the same code, %d of names that are not described, %d known disagreements", thumb, c.total, c.taken, c.open, len(c.cases))
}

// compareV puts statements with these names to the table and to the assembler,
// for a unit (i/2, in fpusV) in the divided or (i odd) the unified syntax.
func (c *comparison) compareV(t *testing.T, names []string, i int, thumb bool) {
	fpu, unified := fpusV[i/2], i%2 == 1
	arch := fpu.arch
	if thumb && arch == "armv6" {
		arch = "armv6t2"
	}
	arch, ext, _ := strings.Cut(arch, "+")
	var s isa.Selection
	s.SelectArch(arch)
	for _, x := range strings.Split(ext, "+") {
		s.Extend(x)
	}
	if ext != "" {
		s.AddFPU(fpu.name)
		arch += "+" + ext
	}
	have := s.Have() | fpu.have
	seed := i + reftest.Seed(0)
	sample, examples, sparse := reftest.Size(3600*48, 16000, 80), reftest.Size(1, 2, 50), reftest.Size(24, 2, 1)
	lines := append(statementsV(names, sample, seed), examplesV((*isa.Row).Vector, examples, sparse, uint64(seed), unified)...)
	f := syntax.Parse(strings.Join(lines, "\n"))
	config := fpu.name + map[bool]string{false: " divided ", true: " unified "}[unified]
	for i, v := range reftest.Assemble(t, reftest.Options{Arch: arch, Unified: unified, Thumb: thumb, Flags: []string{"-mfpu=" + fpu.name}}, lines) {
		c.total++
		ours, checked := askV(f.Line(i), have, unified, thumb)
		if !checked && !ours.ok {
			c.open++
			continue
		}
		if v.OK && ours.ok {
			c.taken++
		}
		switch {
		case ours.ok && !v.OK:
			c.cases = append(c.cases, config+"accept: "+lines[i])
		case !ours.ok && v.OK:
			c.cases = append(c.cases, config+"refuse: "+lines[i])
		case ours.ok && !bytes.Equal(ours.code, v.Bytes[:4]):
			c.cases = append(c.cases, fmt.Sprintf("%scode %x for %x: %s", config, ours.code, v.Bytes, lines[i]))
		}
	}
}
