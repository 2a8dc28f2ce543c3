package isa_test

import (
	"encoding/binary"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/capstone"
)

// codeOf lays an encoding of four bytes out in A32 or in T32 code.
func codeOf(w uint32, thumb bool) []byte {
	if thumb {
		return codeBytes(w, 4)
	}
	return wordBytes(w)
}

// readV gives the code that a disassembler's text means in the table.
func readV(text string, have isa.Features, thumb bool) (code uint32, ok bool) {
	if m := eightBits.FindStringSubmatch(text); m != nil { // the eight bits of a constant themselves
		n, _ := strconv.Atoi(m[2])
		text = m[1] + "#" + isa.FloatText(isa.VFPValue(uint32(n)))
	}
	if wholeBits.MatchString(text) {
		text += ".0"
	}
	text = laneRange.ReplaceAllStringFunc(text, func(r string) string {
		m := laneRange.FindStringSubmatch(r)
		first, _ := strconv.Atoi(m[1])
		last, _ := strconv.Atoi(m[2])
		for r = m[0][:strings.IndexByte(r, '-')]; first < last; {
			first++
			r += fmt.Sprintf(", d%d[]", first)
		}
		return r
	})
	a, _ := askV(syntax.Parse(text).Line(0), have, true, thumb)
	if !a.ok || len(a.code) != 4 {
		return 0, false
	}
	if thumb {
		return uint32(binary.LittleEndian.Uint16(a.code))<<16 | uint32(binary.LittleEndian.Uint16(a.code[2:])), true
	}
	return binary.LittleEndian.Uint32(a.code), true
}

// laneRange is how one of the tools writes lists of registers with all elements.
var laneRange = regexp.MustCompile(`d(\d+)\[\]-d(\d+)\[\]`)

var (
	eightBits = regexp.MustCompile(`^(vmov\w*\.(?:f16 s|f32 s|f64 d)\d+, )#(\d+)$`)
	wholeBits = regexp.MustCompile(`^vmov\.f32 [dq]\d+, #-?\d+$`) // a constant written without its point
)

// decodeDisagreementsV is decodeDisagreements for floating point.
var decodeDisagreementsV = []disagreement{
	{`^\S+ objdump \w+: undefined; (v|aes|sha)\S+ (.*, ?)?,?(,.*)?$`, `an odd number for a quadword register is undefined (DDI 0406, A7.3); objdump leaves the register out`},
	{`^\S+ \S+ \w+: undefined; v(ldr|str) (vpr|fpscr|fpcxt|p0)`, `system registers in memory are of ARMv8.1-M`},
	{`^\S+ objdump \w+: undefined; v\w+\.(f8|[fsuip]) `, `a size of elements that the instruction does not have is undefined (DDI 0406, A7.4)`},
	{`^\S+ objdump \w+: undefined; vp(add|max|min)\S* q`, `operations on neighbours have double registers alone (DDI 0406, "VPADD (integer)")`},
	{`^\S+ objdump \w+: undefined; v(uzp|zip)\.32 d`, `with words in double registers these are VTRN, and the code is undefined (DDI 0406, "VUZP")`},
	{`^\S+ objdump \w+: undefined; v(ld|st)[123]\.\d+ .*:(128|256)?\]`, `an alignment that the list does not have is undefined (DDI 0406, "VLD1 (multiple single elements)" and those behind it)`},
	{`^\S+ objdump \w+: undefined; vld4\.32 \{d\d+\[\]`, `the size of all ones goes with the largest alignment alone (DDI 0406, "VLD4 (single 4-element structure to all lanes)")`},
	{`^T32 objdump \w+: undefined; v[su]dot\.\S+ .*\[`, `objdump reads over some of the bits`},
	{`^\S+ objdump \w+: undefined; vmov\.32 \w+, d\d+\[`, `a word is not extended: the bit U is 0 (DDI 0406, "VMOV (scalar to ARM core register)")`},
	{`^\S+ objdump \w+: undefined; (vmull?\.p\d|v(recpe|rsqrte)\.u16|vrev(16|32)\.\d)`, `a size or a sign of elements that the instruction does not have is undefined (DDI 0406, "VMUL, VMULL (integer and polynomial)", "VRECPE", "VREV16, VREV32, VREV64")`},
	{`^\S+ (objdump|llvm) \w+: undefined; vcvt\.(f16\.[su]16|[su]16\.f16) [dq]\d+, [dq]\d+, #(1[7-9]|2\d|3[0-2])$`, `a halfword has 16 places at most (DDI 0487, "VCVT (between floating-point and fixed-point, Advanced SIMD)")`},
	{`^\S+ \S+ \w+: vmsr\w* mvfr\d, \w+; undefined$`, `MVFR0 to MVFR2 are for reading (DDI 0406, "VMSR"); the assembler writes the code all the same`},
	{`^\S+ objdump \w+: vcvt\w*\.(s16\.f16|u16\.f16|f16\.s16|f16\.u16) s.*; undefined$`, `half precision has fixed point of 16 bits (DDI 0487, "VCVT (between floating-point and fixed-point, floating-point)")`},
	{`^\S+ \S+ unpredictable `, `where the manual calls a code unpredictable, a tool may read it or not; and it has no spelling to agree on`},
}

// TestDecodeV compares the decoder on floating point and vectors with three disassemblers,
// in A32 and in T32 code.
func TestDecodeV(t *testing.T) {
	reftest.Require(t, "llvm-objdump-19", "arm-none-eabi-objdump")
	reftest.InCI(t, capstone.Built, "Capstone (build tag reftools)")
	t.Parallel()
	proof := reftest.Begin(t)
	var target isa.Selection
	target.SelectArch("armv8.6-a")
	for _, x := range []string{"crypto", "fp16", "fp16fml", "i8mm"} {
		target.Extend(x)
	}
	have := target.Have()
	n := codesPerArch()
	d := newDecoding(t, 30)
	for _, thumb := range []bool{false, true} {
		all, state := isa.RowsA32(), "A32"
		if thumb {
			all, state = isa.Rows(), "T32"
		}
		rows := slices.DeleteFunc(slices.Clone(all), func(r *isa.Row) bool { return !r.Vector() })
		rnd := reftest.Rand(5, uint64(len(state)))
		words := wordsOf(rnd, rows, make([]uint32, 0, n), n/2)
		for len(words) < n { // the spaces of the two coprocessors
			w := rnd.Uint32()&0x1ffff1ff | 0xec000a00 | rnd.Uint32()&0x100
			if rnd.IntN(4) != 0 {
				w &^= 1 << 28
			}
			words = append(words, w)
		}
		words = append(words, 0xed802f80) // of a system register
		words = slices.DeleteFunc(words, func(w uint32) bool { return thumb && w>>27 < 0x1d })
		code, step := stream(words, thumb)
		tools := map[string]func() []reftest.Inst{
			"objdump": func() []reftest.Inst { return reftest.Objdump(t, "armv8-a", thumb, code) },
			"llvm": func() []reftest.Inst {
				return reftest.LLVM(t, "armv8.6-a", thumb, code, "+fp-armv8", "+neon", "+aes", "+sha2", "+fullfp16", "+fp16fml", "+i8mm", "+bf16", "+dotprod")
			},
		}
		if capstone.Built {
			tools["capstone"] = func() []reftest.Inst { return capstone.Disassemble(t, capstone.Mode{Thumb: thumb, V8: true}, code) }
		}
		d.compare(&reading{config: state, step: step, self: true,
			decode: func(w uint32) (in isa.Inst, ok bool) {
				if thumb {
					in, ok = isa.Decode(have, uint16(w>>16), uint16(w))
				} else {
					in, ok = isa.DecodeA32(have, w)
				}
				return in, ok && in.Row.Vector()
			},
			read: func(text string) (uint32, bool) { return readV(text, have, thumb) },
			foreign: func(theirs string) bool { // of an extension that the table does not have
				name, _, _ := strings.Cut(theirs, " ")
				m, _ := isa.Find(name)
				return m == nil || !m.Vector() || !m.Checked(&isa.Query{A32: !thumb, Have: have})
			}}, words, listings(len(words), step, tools))
		for _, r := range rows {
			if !d.hit[r] && have.Has(r.Need) && !reftest.Part() {
				t.Errorf("row %s: no code decodes to it", r.ID)
			}
		}
	}
	known := decodeDisagreementsV
	if capstone.Built {
		known = append(known[:len(known):len(known)],
			disagreement{`^\S+ capstone \w+: v(\S*\bf16\b|(ldr|str)\S*\.16|movx|ins|us?dot|s[ud]*dot|qrdml|cmla|cadd|jcvt|[us]*mmla|dot|fmab|fmat|\S*bf16)\S* .*; undefined$`, `Capstone does not have what came behind ARMv8.0`},
			disagreement{`^T32 capstone \w+: .*; (aes|sha)`, `Capstone reads cryptography in other codes too`})
	}
	judge(t, known, d.cases)
	proof.Counted("decode floating point: %d codes in A32 and T32; comparisons: %d agree, %d are of instructions that are not described; %d rows hit", d.total, d.agree, d.silent, len(d.hit))
}
