package isa_test

import (
	"encoding/binary"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/capstone"
)

// codesPerArch is how many words, or codes of 32 bits, a decoder is compared on
// on each architecture; a part of them comes from the rows' fields.
func codesPerArch() int { return reftest.Count(1_000, 60_000, 2_000_000) }

var decodeArchesA = []string{"armv4t", "armv5te", "armv6", "armv6t2", "armv7-a", "armv7ve", "armv8.5-a"}

// wordsA makes n words: for each row each field at its limits with the other
// fields random, every combination of limits of two fields now and then, one
// bit of the fixed ones turned over, and random words.
func wordsA(rnd *rand.Rand, n int) []uint32 {
	out := append(make([]uint32, 0, n), 0xe1a00000, 0xe320f000, 0xe320f012, 0xe320f010, 0x0320f005, 0xf57ff070, 0xf1100200)
	out = wordsOf(rnd, slices.DeleteFunc(slices.Clone(isa.RowsA32()), (*isa.Row).Vector), out, n/2)
	for len(out) < n {
		out = append(out, rnd.Uint32())
	}
	return out[:n]
}

// wordsOf appends words of the rows until there are n.
func wordsOf(rnd *rand.Rand, rows []*isa.Row, out []uint32, n int) []uint32 {
	for len(out) < n {
		for _, r := range rows {
			value, mask := r.Pattern()
			w := value | rnd.Uint32()&^mask
			for range 1 + rnd.IntN(3) {
				// A run of bits at a limit, where a field is likely to be.
				at, width := rnd.IntN(32), 1+rnd.IntN(8)
				run := uint32(1<<width-1) << at &^ mask
				switch rnd.IntN(4) {
				case 0:
					w &^= run
				case 1:
					w |= run
				case 2:
					w = w&^run | 1<<at&run
				default:
					w = w&^run | run - 1<<at&run&run
				}
			}
			if mask>>28 == 0 && rnd.IntN(4) != 0 { // a condition
				w = w&^(0xf<<28) | 0xe<<28
			}
			if rnd.IntN(8) == 0 {
				w ^= 1 << rnd.IntN(32)
			}
			out = append(out, w)
		}
	}
	return out
}

// readA gives the code that a disassembler's text means in our table.
func readA(text string, have isa.Features) (code uint32, ok bool) {
	l := syntax.Parse(text).Line(0)
	for _, unified := range []bool{true, false} {
		if a, _ := askA(l, have, unified, 0); a.ok && len(a.code) == 4 && !a.deferred {
			return binary.LittleEndian.Uint32(a.code), true
		}
	}
	return 0, false
}

var (
	copName   = regexp.MustCompile(`^((?:cdp|mcrr?|mrc|mrrc|ldc|stc)\w*) #(\d+), `)
	hintText  = regexp.MustCompile(`^hint(\S*) #(\d+)$`)
	copOption = regexp.MustCompile(`^((?:cdp|mcr|mrc)\w* .*)\{(\d+)\}$`)
)

// theirsA brings a disassembler's text about a coprocessor or a hint into the
// manual's shape.
func theirsA(text string) string {
	if strings.HasPrefix(text, "hint") {
		return hintText.ReplaceAllString(text, "nop$1 {$2}")
	}
	if !strings.Contains(text, "p") && !strings.Contains(text, "m") && !strings.Contains(text, "c") {
		return text
	}
	text = copName.ReplaceAllString(text, "$1 p$2, ")
	return copOption.ReplaceAllString(text, "$1#$2")
}

// TestDecodeA compares the decoder of A32 words with three disassemblers.
// objdump and LLVM keep to an architecture. Two texts agree when ours, or the
// table's reading of theirs, says so: names and orders differ between tools.
func TestDecodeA(t *testing.T) {
	reftest.Require(t, "llvm-objdump-19", "arm-none-eabi-objdump")
	reftest.InCI(t, capstone.Built, "Capstone (build tag reftools)")
	t.Parallel()
	proof := reftest.Begin(t)
	const chunk = 500_000
	d := newDecoding(t, 50)
	newest := features(t, "armv8.5-a")
	arches := reftest.Sample(decodeArchesA, 2)
	for a, arch := range arches {
		have := features(t, arch)
		r := reading{config: arch,
			decode: func(w uint32) (isa.Inst, bool) { return isa.DecodeA32(have, w) },
			read:   func(text string) (uint32, bool) { return readA(text, have) },
			later: func(w uint32, theirs string) bool {
				// The tools' decoders for early architectures have much of the later
				// ones.
				late, also := isa.DecodeA32(newest, w)
				if !also {
					return false
				}
				back, ok := readA(theirs, newest)
				return late.Unpredictable || ok && back == w
			},
			foreign: foreign}
		rnd := reftest.Rand(uint64(a), 7)
		for left := codesPerArch(); left > 0; left -= chunk {
			words := wordsA(rnd, min(left, chunk))
			code, step := stream(words, false)
			r.step = step
			tools := map[string]func() []reftest.Inst{
				"objdump": func() []reftest.Inst { return reftest.Objdump(t, arch, false, code) },
				"llvm": func() []reftest.Inst {
					return reftest.LLVM(t, llvmArch(arch), false, code, "+hwdiv-arm", "+virtualization", "+trustzone", "+mp")
				},
			}
			if v8 := arch == "armv8.5-a"; capstone.Built && (v8 || arch == "armv7ve") {
				tools["capstone"] = func() []reftest.Inst { return capstone.Disassemble(t, capstone.Mode{V8: v8}, code) }
			}
			d.compare(&r, words, listings(len(words), step, tools))
		}
	}
	for _, r := range isa.RowsA32() {
		if !d.hit[r] && r.Second == nil && !r.Vector() && !reftest.Part() { // TestDecodeV has those
			t.Errorf("row %s: no word decodes to it", r.ID)
		}
	}
	judge(t, decodeDisagreementsA, d.cases)
	proof.Counted("decode A32: %d words on %d architectures, %d defined; comparisons: %d agree, %d are of instructions that are not described, %d of later architectures; %d rows of %d hit",
		d.total, len(arches), d.defined, d.agree, d.silent, d.early, len(d.hit), len(isa.RowsA32()))
}

// llvmArch is the name that LLVM has for an architecture.
func llvmArch(arch string) string {
	if arch == "armv7ve" {
		return "armv7-a"
	}
	return arch
}

// foreign says whether a disassembler's text is of what the table leaves out:
// floating point, vectors, coprocessors by name.
func foreign(text string) bool {
	name, _, _ := strings.Cut(text, " ")
	return text != "undefined" && (!isDescribed(name) || name[0] == 'v' || name[0] == 'f')
}

func isDescribed(name string) bool {
	m, _ := isa.Find(name)
	return m != nil && m.Checked(&isa.Query{A32: true, Have: ^isa.Features(0)})
}

// decodeDisagreementsA is decodeDisagreements for A32 words.
var decodeDisagreementsA = []disagreement{
	{`^\S+ \S+ unpredictable `, `where the manual calls a code unpredictable, a tool may read it or not; and it has no spelling to agree on`},
	{`^\S+ \S+ \w+: (ldc|stc|cdp|mcr|mrc|mcrr|mrrc)\w* p([89]|1[013]), `, `coprocessors 8 to 11 and 13 are floating point and vectors, whose names are not in the table`},
	{`^\S+ objdump \w+: (ldc|stc|cdp|mcr|mrc|mcrr|mrrc)\w* p\d+, .*; ([^lscm]|l[^d]|ld[^c]|s[^t]|st[^c]|c[^d]|m[^cr]|m[cr][^r])`, `names that old coprocessors gave these codes`},
	{`^armv(4t|5te) llvm \w+: (mul|mla|umull|umlal|smull|smlal)s?(..)? .*; undefined$`, `LLVM has the multiplications from ARMv6 on; they are of ARMv3M (DDI 0100, "MUL")`},
	{`^armv5te objdump \w+: bxj`, `BXJ is of ARMv5TEJ, which is not told from ARMv5TE`},
	{`^armv(4t|5te|6) \S+ \w+: undefined; (ldr|str)(h|sh|sb)t?(..)? `, `LDRHT and its kin are of ARMv6T2; before, post-indexed with W=1 is unpredictable (DDI 0100, "Addressing mode 3")`},
	{`^\S+ \S+ \w+: undefined; (ldr|str)d(..)? `, `LDRD and STRD post-indexed with W=1 are unpredictable, and are of ARMv5TE (DDI 0406, "LDRD (immediate)")`},
	{`^\S+ objdump \w+: (ldc|stc)\w* p\d+, c\d+, \[\w+(, #-0)?(\]!|\], #0); (ldc|stc)\w* p\d+, cr\d+, \[\w+(, #-0)?\]$`, `objdump leaves a writeback of nothing out`},
	{`^\S+ objdump \w+: [su]sat(..)? .*, asr #32; [su]sat(..)? .*, asr #0$`, `a shift of 32 is held as 0 (DDI 0406, "DecodeImmShift")`},
	{`^\S+ \S+ \w+: undefined; (cps #|setend )`, `CPS that changes nothing, and fixed bits otherwise, are unpredictable (DDI 0406, "CPS")`},
	{`^\S+ \S+ \w+: d[sm]b #\d+; d[sm]b \w+$`, `barrier options of ARMv8, and older names`},
	{`^\S+ \S+ \w+: undefined; pl(d|dw|i) `, `PLD has no writeback and no index behind (DDI 0406, "PLD (immediate)")`},
	{`^\S+ objdump \w+: undefined; (lsl|lsr|asr|ror)`, `with bits 4 and 7 set these are no shifts (DDI 0406, "Data-processing and miscellaneous instructions")`},
	{`^armv[456]\S* \S+ \w+: nop(..)? \{\d+\}; (undefined|csdb|msr(..)? cpsr_, #\d+)$`, `hints are MSR without a part, and MOV for NOP, where the names came later`},
	{`^\S+ objdump \w+: undefined; (ldc|stc)\w* p\d+, cr?\d+, \[\w+\], \{-?\d+\}$`, `with P, U, D and W all 0 the code is undefined (DDI 0406, "LDC", "STC")`},
	{`^armv8\S+ objdump \w+: sevl..; sevl$`, `objdump leaves the condition of SEVL out`},
	{`^\S+ llvm \w+: nop(..)? \{(16|20)\}; (esb|csdb)..$`, `ESB and CSDB with a condition are unpredictable (DDI 0487, "ESB")`},
	{`^armv8\S+ (llvm|capstone) \w+: (ldc|stc|cdp|mcr|mrc|mcrr|mrrc)\w* p\d+, .*; undefined$`, `ARMv8 has the coprocessors 14 and 15 alone (DDI 0487, "Coprocessors"); the assembler takes them all`},
	{`^armv8\S+ (llvm|capstone) \w+: (nop(..)? \{18\}; tsb(..)? csync|(sb|setpan #[01]); undefined)$`, `the assembler does not have TSB, Capstone neither SB nor SETPAN`},
	{`^armv8\S+ objdump \w+: undefined; swpb?`, `no SWP in ARMv8 (DDI 0487, "Removed instructions")`},
	{`^\S+ objdump e1a00000: mov r0, r0; nop$`, `NOP is the name of its own encoding (DDI 0406, "NOP")`},
	{`^\S+ objdump \w+: undefined; (tst|teq|cmp|cmn|msr)`, `comparisons without S are other instructions, of later architectures (DDI 0100, "Control instruction extension space")`},
}

// TestDisjointA shows that no word belongs to two rows that one architecture
// has.
func TestDisjointA(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	words := wordsA(reftest.Rand(3, 4), 4*codesPerArch())
	for _, arch := range decodeArchesA {
		have := features(t, arch)
		rows := rowsWith(isa.RowsA32(), have)
		bad := 0
		for _, w := range words {
			in, ok := isa.DecodeA32(have, w)
			n := 0
			for _, r := range rows {
				if !r.Rest && r.TakesA32(have, w) {
					if n++; n > 1 || !ok || in.Row != r {
						if bad++; bad < 10 {
							t.Errorf("%s: %08x belongs to %s and to %s", arch, w, r.ID, in.Row.ID)
						}
					}
				}
			}
		}
	}
	proof.Counted("disjoint A32: %d words on %d architectures", len(words), len(decodeArchesA))
}
