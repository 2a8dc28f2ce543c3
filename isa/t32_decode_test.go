package isa_test

import (
	"encoding/binary"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/capstone"
)

// decodeArchesT are the architectures for the decoder of T32, with the
// disassemblers' profile.
var decodeArchesT = []string{"armv6t2", "armv7-m", "armv7e-m", "armv7-a", "armv8-m.base", "armv8-m.main", "armv8-a"}

// widesT makes n codes: a third from the rows' fields, a third with every first
// halfword in turn and a second one with fields at their limits, the rest random.
func widesT(rnd *rand.Rand, n int) []uint32 {
	rows := slices.DeleteFunc(slices.Clone(isa.Rows()), func(r *isa.Row) bool { return r.Size() != 4 || r.Vector() })
	out := append(make([]uint32, 0, n), 0xea4f0434, 0xea5f0030, 0xf3848401) // RRX and MSR IAPSR_g are rare
	out = wordsOf(rnd, rows, out, n/3)
	first := uint32(0xe800)
	for len(out) < n {
		w := rnd.Uint32()&0x1fffffff | 0xe0000000
		if len(out) < 2*n/3 {
			w = first<<16 | w&0xffff
			for range rnd.IntN(3) {
				at, width := rnd.IntN(16), 1+rnd.IntN(6)
				run := uint32(1<<width-1) << at & 0xffff
				if rnd.IntN(2) == 0 {
					w |= run
				} else {
					w &^= run
				}
			}
			if first++; first > 0xffff {
				first = 0xe800
			}
		}
		out = append(out, w)
	}
	// What starts with 11100 is a halfword's branch.
	return slices.DeleteFunc(out, func(w uint32) bool { return w>>27 < 0x1d })
}

// readT gives the code that a disassembler's text means in our table.
func readT(text string, have isa.Features) (code uint32, ok bool) {
	a, _ := askT("", syntax.Parse(text).Line(0), have, true)
	if a.ok && len(a.code) == 2 { // the width is left out
		name, rest, _ := strings.Cut(text, " ")
		a, _ = askT("", syntax.Parse(name+".w "+rest).Line(0), have, true)
	}
	if !a.ok || len(a.code) != 4 || a.deferred {
		return 0, false
	}
	return uint32(binary.LittleEndian.Uint16(a.code))<<16 | uint32(binary.LittleEndian.Uint16(a.code[2:])), true
}

// TestDecodeT compares the decoder of 32-bit codes of Thumb state with
// three disassemblers, as TestDecodeA does for A32.
func TestDecodeT(t *testing.T) {
	reftest.Require(t, "llvm-objdump-19", "arm-none-eabi-objdump")
	reftest.InCI(t, capstone.Built, "Capstone (build tag reftools)")
	t.Parallel()
	proof := reftest.Begin(t)
	const chunk = 300_000
	arches := reftest.Sample(decodeArchesT, 2)
	if only := reftest.List(reftest.Archs); only != nil {
		arches = only
	}
	d := newDecoding(t, 50)
	newest := map[bool]isa.Features{true: features(t, "armv8-m.main+dsp"), false: features(t, "armv8-a+crc")}
	for a, arch := range arches {
		have := features(t, arch)
		later := newest[have.Has(isa.FeatM)]
		r := reading{config: arch, self: true,
			decode: func(w uint32) (isa.Inst, bool) { return isa.Decode(have, uint16(w>>16), uint16(w)) },
			read:   func(text string) (uint32, bool) { return readT(text, have) },
			later: func(w uint32, theirs string) bool {
				// Tools read codes of later architectures too.
				late, also := isa.Decode(later, uint16(w>>16), uint16(w))
				if !also {
					return false
				}
				back, ok := readT(theirs, later)
				return late.Unpredictable || ok && back == w
			},
			foreign: func(theirs string) bool { // of an extension that the table does not have
				name, _, _ := strings.Cut(theirs, " ")
				m, _ := isa.Find(name)
				return m == nil || m.Vector() || !m.Checked(&isa.Query{Have: ^isa.Features(0)})
			}}
		rnd := reftest.Rand(uint64(a), 11)
		for left := codesPerArch(); left > 0; left -= chunk {
			words := widesT(rnd, min(left, chunk))
			code, step := stream(words, true)
			r.step = step
			tools := map[string]func() []reftest.Inst{
				"objdump": func() []reftest.Inst { return reftest.Objdump(t, arch, true, code) },
				"llvm":    func() []reftest.Inst { return reftest.LLVM(t, arch, true, code) },
			}
			if capstone.Built && (arch == "armv7-a" || arch == "armv7e-m") {
				tools["capstone"] = func() []reftest.Inst {
					return capstone.Disassemble(t, capstone.Mode{Thumb: true, MClass: have.Has(isa.FeatM)}, code)
				}
			}
			d.compare(&r, words, listings(len(words), step, tools))
		}
	}
	var all isa.Features
	for _, arch := range arches {
		all |= features(t, arch)
	}
	for _, r := range isa.Rows() {
		if !d.hit[r] && all.Has(r.Need) && ofT32(r) && !r.Vector() && !reftest.Part() {
			t.Errorf("row %s: no code decodes to it", r.ID)
		}
	}
	table := decodeDisagreementsT
	if !capstone.Built {
		table = slices.DeleteFunc(slices.Clone(table), func(d disagreement) bool { return strings.Contains(d.pattern, "capstone") })
	}
	judge(t, table, d.cases, decodeDisagreementsA...)
	proof.Counted("decode T32: %d codes on %d architectures, %d defined; comparisons: %d agree, %d are of instructions that are not described, %d of later architectures; %d rows hit",
		d.total, len(arches), d.defined, d.agree, d.silent, d.early, len(d.hit))
}

// decodeDisagreementsT is decodeDisagreements for 32-bit codes of Thumb state.
var decodeDisagreementsT = []disagreement{
	{`^\S+ \S+ unpredictable `, `where the manual calls a code unpredictable, a tool may read it or not; and it has no spelling to agree on`},

	// Loads and stores.
	{`^\S+ objdump f8[0-9a-f]f[0-9a-f]{4}: undefined; str`, `a store relative to pc is undefined (DDI 0406, "Store single data item")`},
	{`^\S+ objdump f[89][135]f[0-9a-f]{4}: (ldr|ldrb|ldrh|ldrsb|ldrsh) (\w+, \[pc, #-\d+\]); ldr\w*t `, `LDRT has no literal form: its code with pc is that of the plain load (DDI 0406, "LDRT")`},
	{`^\S+ objdump f[89][0-9a-f]{6}: undefined; (ldr|str|pld|pli)\w* (\w+, )?\[\w+, \w+(, lsl #\d)?\]$`, `with a register offset bits 11 to 6 are 0 (DDI 0406, "Load word")`},
	{`^\S+ objdump f[89][0-9a-f]{2}f[0-9a-f]{3}: undefined; (ldrs?h|ldrs?ht|ldrs?bt|pldw?|pli) `, `what would load a halfword or an unprivileged byte into pc is a hint without a name, or undefined (DDI 0406, "Load halfword, memory hints")`},
	{`^\S+ \S+ [0-9a-f]{8}: (ldr\w*|str\w*|pldw?|pli) (.*)#-0(\]!?)?; `, `an offset of -0 is another code than one of 0 (DDI 0406, "LDR (immediate, Thumb)"); tools may not tell them apart`},
	{`^\S+ objdump e[89][0-9a-f]{6}: (ldrd|strd) .*\](!|, #-?0); (ldrd|strd) .*\]$`, `an index of 0 is written back all the same`},
	{`^\S+ objdump (e8|e9|f3)[0-9a-f]{6}: undefined; (ldrexd|strexd|ldaexd|stlexd|srsia|srsdb|rfeia|rfedb|bxj) `, `not of M profile (DDI 0403 does not have them), or not of the architecture`},
	{`^armv8-m.base objdump (e9|f[89])[0-9a-f]{6}: undefined; (ldr|str|pld)`, `not of ARMv8-M's baseline (DDI 0553)`},
	{`^armv8-m.main llvm ec[23][0-9a-f]{5}: (vlldm|vlstm) (\w+); \w+ \w+, \{d0 - d15\}$`, `the registers are implied (DDI 0553, "VLLDM")`},
	{`^\S+ objdump [0-9a-f]{8}: undefined; (dcps\d|sb|esb|sevl|crc32c?[bhw]|smc|hvc|blx|subs pc|cps(ie|id)|d[sm]b (ld|ishld|nshld|oshld)|ldc2l?|stc2l?) ?`, `of another profile, or of later architectures (DDI 0403, DDI 0487, DDI 0553); objdump reads them everywhere`},
	{`^armv7e-m capstone [0-9a-f]{8}: undefined; (smc|hvc) `, `not of M profile (DDI 0403 does not have them)`},
	{`^\S+ \S+ f3af80[0-9a-f]{2}: hint #\d+; (esb|sevl|dbg|nop|pac|bti|aut|pacbti|hint)`, `hints that later architectures name, or that have no name`},
	{`^\S+ \S+ f3bf8f4[0-9a-f]: (d[sm]b (#\d+|\w+)|undefined); (ssbb|pssbb|dfb)$`, `barriers of ARMv8, which are options of DSB before, and nothing in front of ARMv7`},
	{`^\S+ objdump f3ef8[0-9a-f]{3}: mrs \w+, apsr; mrs \w+, cpsr$`, `the older name of APSR`},
	{`^\S+ objdump f38[0-9a-f]{5}: msr (apsr_nzcvq|apsr_g|apsr_nzcvqg|xpsr_nzcvqg), \w+; msr (cpsr_\w+|psr), \w+$`, `the older name of APSR`},
	{`^\S+ objdump f38[0-9a-f]84[0-9a-f]{2}: msr i?e?x?apsr_g, (\w+); msr (iapsr|eapsr|xpsr|iepsr), \w+$`, `objdump leaves out that only the GE bits are written (DDI 0403, "MSR")`},
	{`^\S+ capstone f3de8f00: subs pc, lr, #0; eret$`, `ERET is of the Virtualization Extensions, with this code (DDI 0406, "ERET")`},
	{`^armv8-m.base llvm f7f[0-9a-f]a[0-9a-f]{3}: udf #\d+; undefined$`, `UDF has its 32-bit encoding on ARMv8-M (DDI 0553, "UDF")`},
	{`^armv6t2 llvm f3bf8f2f: clrex; undefined$`, `the assembler has CLREX from ARMv6K and ARMv6T2 on`},
}
