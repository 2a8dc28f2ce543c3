package isa_test

import (
	"encoding/binary"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/capstone"
)

// decodeArches are the architectures whose halfwords are decoded: those that
// the table is proved for, and the later ones that bring its other rows.
// With NARROWGAUGE_THOROUGH=1 there are two more.
func decodeArches() []string {
	a := []string{"armv4t", "armv5te", "armv6", "armv6-m", "armv7-a", "armv8-m.base", "armv8-a"}
	if reftest.Thorough() {
		a = append(a, "armv6t2", "armv7-m")
	}
	return a
}

// halfwords are all of them, and wideCodes those of code32; with -short a part
// of them, the same on each run.
func halfwords() (out []uint16) {
	rnd, part := reftest.Rand(1, 3), reftest.Size(64, 1, 1)
	for i := range 1 << 16 {
		if part == 1 || rnd.IntN(part) == 0 {
			out = append(out, uint16(i))
		}
	}
	return out
}

func wideCodes() []uint32 {
	rnd, part := reftest.Rand(1, 4), reftest.Size(192, 1, 1)
	return slices.DeleteFunc(code32(), func(uint32) bool { return part > 1 && rnd.IntN(part) > 0 })
}

// code32 are 32-bit codes: BL, BLX, B.W and their neighbours with every first
// halfword and second ones of each kind, the system registers, the barriers
// and UDF with all values of their fields.
func code32() (out []uint32) {
	for first := uint32(0xf000); first < 0xf800; first++ {
		for op := uint32(0x10); op < 0x20; op++ {
			for _, low := range []uint32{0, 1, 0x402, 0x7ff} {
				out = append(out, first<<16|op<<11|low)
			}
		}
		if first%8 == 0 {
			for op := uint32(0); op < 0x10; op++ {
				out = append(out, first<<16|op<<11|first&0xff)
			}
		}
	}
	for first := uint32(0xf380); first < 0xf400; first++ {
		for second := uint32(0x8000); second < 0x9000; second++ {
			switch {
			case second&0xf00 == 0x800, second&0xf00 == 0xf00, second&0xff == 0x10:
				out = append(out, first<<16|second)
			}
		}
	}
	for first := uint32(0xf7f0); first < 0xf800; first++ {
		for second := uint32(0xa000); second < 0xb000; second += 7 {
			out = append(out, first<<16|second)
		}
	}
	return out
}

// word is one halfword, or two.
type word struct {
	first, second uint16
	wide          bool
}

func (w word) String() string {
	if w.wide {
		return fmt.Sprintf("%04x %04x", w.first, w.second)
	}
	return fmt.Sprintf("%04x", w.first)
}

// listing is what a disassembler says of all halfwords and of code32.
type listing struct {
	halves []reftest.Inst
	wides  []reftest.Inst // size 2 where it takes them for two
}

func list(t *testing.T, words []uint16, wides []uint32, dis func([]byte) []reftest.Inst) listing {
	l := listing{halves: reftest.Each16(t, words, dis), wides: make([]reftest.Inst, len(wides))}
	var code []byte
	for _, w := range wides {
		code = binary.LittleEndian.AppendUint16(code, uint16(w>>16))
		code = binary.LittleEndian.AppendUint16(code, uint16(w))
		// A tool that refuses the first halfword may start again at the second.
		code = binary.LittleEndian.AppendUint32(code, reftest.Nop16<<16|reftest.Nop16)
	}
	for _, in := range dis(code) {
		if in.Offset%8 == 0 {
			l.wides[in.Offset/8] = in
		}
	}
	return l
}

var listRange = regexp.MustCompile(`r(\d+)-r(\d+)`)

// plain is our text as the disassemblers would have it: relative targets, no
// ranges in register lists.
func plain(in *isa.Inst) string {
	s := reftest.Normalise(in.Text(true, 0), 0)
	return listRange.ReplaceAllStringFunc(s, func(r string) string {
		var a, b int
		fmt.Sscanf(r, "r%d-r%d", &a, &b)
		out := fmt.Sprintf("r%d", a)
		for a++; a <= b; a++ {
			out += fmt.Sprintf(", r%d", a)
		}
		return out
	})
}

// TestDecode compares the decoder with three disassemblers on all halfwords
// and on the 32-bit codes of Thumb state. LLVM keeps to an architecture
// and has the say on what exists; the others know the latest architecture
// only, and have theirs on what is there.
func TestDecode(t *testing.T) {
	reftest.Require(t, "llvm-objdump-19", "arm-none-eabi-objdump")
	reftest.InCI(t, capstone.Built, "Capstone (build tag reftools)")
	t.Parallel()
	proof := reftest.Begin(t)
	halves, wides, arches := halfwords(), wideCodes(), reftest.Sample(decodeArches(), 2)
	listings := map[string]*listing{}
	var jobs []func()
	add := func(name string, dis func(code []byte) []reftest.Inst) {
		l := &listing{}
		listings[name] = l
		jobs = append(jobs, func() { *l = list(t, halves, wides, dis) })
	}
	for _, arch := range arches {
		add("llvm "+arch, func(code []byte) []reftest.Inst { return reftest.LLVM(t, arch, true, code) })
	}
	for profile, arch := range map[string]string{"A": "armv7-a", "M": "armv6-m"} {
		add("objdump "+profile, func(code []byte) []reftest.Inst { return reftest.Objdump(t, arch, true, code) })
		if capstone.Built {
			add("capstone "+profile, func(code []byte) []reftest.Inst {
				return capstone.Disassemble(t, capstone.Mode{Thumb: true, MClass: profile == "M", V8: profile == "A"}, code)
			})
		}
	}
	var wait sync.WaitGroup
	for _, job := range jobs {
		wait.Go(job)
	}
	wait.Wait()

	hit := map[*isa.Row]bool{}
	var cases []string
	total, defined, agree := 0, 0, 0
	for _, arch := range arches {
		target, _ := isa.Arch(arch)
		have := target.Have
		profile := map[bool]string{true: "M", false: "A"}[have.Has(isa.FeatM)]
		ask := func(w word, i int) {
			total++
			in, ok := isa.Decode(have, w.first, w.second)
			if ok && ofT32(in.Row) {
				return // TestDecodeT compares those
			}
			text, tag := "undefined", ""
			if ok {
				defined++
				hit[in.Row] = true
				text = plain(&in)
				want := uint32(w.first)
				if in.Row.Size() == 4 {
					want = want<<16 | uint32(w.second)
				}
				if got := in.Encode(); got != want && !in.Unpredictable {
					t.Errorf("%s %v: encoded again: %x", arch, w, got)
				}
				if in.Unpredictable {
					tag = " unpredictable"
				}
			}
			for _, tool := range []string{"llvm", "objdump", "capstone"} {
				name := tool + " " + profile
				if tool == "llvm" {
					name = tool + " " + arch
				}
				l := listings[name]
				if l == nil || tool != "llvm" && !ok {
					continue
				}
				var ref reftest.Inst
				if w.wide {
					ref = l.wides[i]
				} else {
					ref = l.halves[i]
				}
				theirs := ref.Text
				if ref.Undefined || ref.Size != 4 && w.wide || theirs == "" {
					theirs = "undefined"
				}
				if theirs == text {
					agree++
					continue
				}
				if !w.wide && ref.Size == 4 {
					theirs += " with the next halfword"
				}
				cases = append(cases, fmt.Sprintf("%s %s%s %v: %s; %s", arch, tool, tag, w, text, theirs))
			}
		}
		for i, h := range halves {
			ask(word{first: h, second: reftest.Nop16}, i)
		}
		for i, w := range wides {
			ask(word{uint16(w >> 16), uint16(w), true}, i)
		}
	}
	for _, r := range isa.Rows() {
		if !hit[r] && !ofT32(r) && !reftest.Part() {
			t.Errorf("row %s: no code decodes to it", r.ID)
		}
	}
	table := decodeDisagreements
	if capstone.Built {
		table = append(slices.Clip(table), decodeDisagreementsCapstone...)
	}
	hits := judge(t, table, cases)
	open, beyond := hits[0], hits[1]
	rows := len(slices.DeleteFunc(slices.Clone(isa.Rows()), ofT32))
	proof.Counted("decode: %d codes on %d architectures, %d defined; comparisons: %d agree, %d of unpredictable codes differ, %d are of T32, %d known disagreements; %d rows of %d hit",
		total, len(arches), defined, agree, open, beyond, len(cases)-open-beyond, len(hit), rows)
}

// TestDisjoint shows that the order of the rows does not matter to the
// decoder: no code belongs to two rows that one architecture has.
func TestDisjoint(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	halves, wides := halfwords(), wideCodes()
	for _, arch := range decodeArches() {
		target, _ := isa.Arch(arch)
		rows := rowsWith(isa.Rows(), target.Have)
		take := func(first, second uint16) {
			var found []string
			for _, r := range rows {
				if !r.Rest && r.Takes(target.Have, first, second) {
					found = append(found, r.ID)
				}
			}
			if len(found) > 1 {
				t.Errorf("%s: %04x %04x belongs to %v", arch, first, second, found)
			}
		}
		for _, h := range halves {
			take(h, reftest.Nop16)
		}
		for _, w := range wides {
			take(uint16(w>>16), uint16(w))
		}
	}
	proof.Counted("disjoint: %d codes on %d architectures", len(halves)+len(wides), len(decodeArches()))
}

// rowsWith are the rows that an architecture with these features has.
func rowsWith(rows []*isa.Row, have isa.Features) []*isa.Row {
	return slices.DeleteFunc(slices.Clone(rows), func(r *isa.Row) bool { return !have.Has(r.Need) || have&r.Lack != 0 })
}

// decodeDisagreements lists where the decoder and a disassembler part, and why
// the decoder stays as it is. A pattern is matched against lines such as
// "armv4t llvm b650: undefined; setend le", ours first. The first two entries
// are what is not compared.
var decodeDisagreements = []disagreement{
	{`^\S+ \S+ unpredictable `, `where the manual calls a code unpredictable, a tool may read it or not; and it has no spelling to agree on`},
	{`^armv(6t2|7-a|7-m|8-a|8-m.base) llvm [ef][0-9a-f]{3}( [0-9a-f]{4})?: undefined; `, `the 32-bit encodings of T32 are not in the table`},
	{`^armv(4t|5te|6) llvm [0-9a-f]{4} [0-9a-f]{4}: undefined; blx? `, `before ARMv6T2 the second half of BL is 11111 and that of BLX 11101 (DDI 0100, "BL, BLX (1)"); LLVM takes bits J1 and J2`},
	{`^armv(6-m|8-m.base) llvm f7f[0-9a-f] a[0-9a-f]{3}: udf #\d+; undefined$`, `UDF has its 32-bit encoding on ARMv6-M (DDI 0419, "UDF")`},
	{`^armv6-m llvm df[0-9a-f]{2}: undefined; svc #\d+$`, `SVC on ARMv6-M is of the OS extension, which the target armv6s-m has`},
	{`^armv4t llvm be[0-9a-f]{2}: undefined; bkpt #\d+$`, `BKPT is of ARMv5T (DDI 0406, "BKPT")`},
	{`^armv(4t|5te) llvm b6[0-9a-f]{2}: undefined; (setend|cps)`, `SETEND and CPS are of ARMv6 (DDI 0406, "SETEND" and "CPS")`},
	{`^\S+ objdump [0-9a-f]{4}: rsbs r\d, r\d, #0; negs r\d, r\d$`, `two names for one code; RSB is the manual's (DDI 0419, "RSB (immediate)")`},
	{`^\S+ \S+ [0-9a-f]{4}: muls r\d, r\d; muls r\d, r\d, r\d$`, `one code with the destination written once or twice`},
	{`^\S+ \S+ [0-9a-f]{4}: add (\w+), sp; add \w+, sp, \w+$`, `one code with the destination written once or twice`},
	{`^\S+ (llvm|objdump) f38\w \w{4}: msr (|i|e|x)(apsr|psr)_nzcvq, \w+; msr ((|i|e|x)a?psr|cpsr_f), \w+$`, `the manual's name of the flags of APSR is APSR_nzcvq (DDI 0419, "MSR")`},
	{`^\S+ objdump f3ef \w{4}: mrs \w+, (apsr|xpsr); mrs \w+, c?psr$`, `older names of APSR and XPSR`},
	{`^\S+ \S+ bf\w0: hint #\d+; (nop \{\d+\}|sevl)$`, `hints that later architectures name, or that have no name`},
	{`^\S+ \S+ f3bf 8f\w{2}: d[sm]b (#\d+|nsh|nshst); (ssbb|pssbb|dfb|d[sm]b \w+)$`, `barrier options of ARMv8, and older names of nsh and nshst`},
	{`^\S+ (llvm|capstone) de(f9|fe): udf #\d+; (trap|__brkdiv0)$`, `names of the tools' own for UDF`},
	{`^\S+ objdump 46c0: mov r8, r8; nop$`, `the name NOP for it is of the divided syntax (DDI 0406, "Pre-UAL pseudo-instruction NOP")`},
}

// decodeDisagreementsCapstone are those that only Capstone gives a case for.
var decodeDisagreementsCapstone = []disagreement{
	{`^armv8-m.base capstone 47\w\w: (bxns \w+; bx \w+|blxns \w+; undefined)$`, `Capstone has no ARMv8-M: its BX takes bit 2 for one that should be 0 (DDI 0553, "BX, BXNS")`},
	{`^armv8-m.base capstone f3(8\w 88|ef 8\w)\w\w: (msr|mrs) .*(_ns|splim).*; undefined$`, `the special registers of ARMv8-M, which Capstone does not have (DDI 0553, "MSR (register)")`},
}

// ofT32 says whether a row is one of T32, of full width.
func ofT32(r *isa.Row) bool { return strings.HasPrefix(r.ID, "t-") }
