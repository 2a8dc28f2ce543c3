package isa_test

import (
	"encoding/binary"
	"fmt"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// archesA are the architectures that the A32 rows are proved for.
var archesA = []string{"armv4", "armv4t", "armv5te", "armv6", "armv6t2", "armv6kz", "armv7-a", "armv7ve", "armv8-a", "armv8-a+crc", "armv8.5-a"}

// askA is ask for A32 code. checked is false where the table does not describe
// the name, so that it has no say.
func askA(l *syntax.Line, have isa.Features, unified bool, pc int64) (a answer, checked bool) {
	if len(l.Stmts) != 1 {
		return answer{}, true
	}
	s := &l.Stmts[0]
	if s.Kind != syntax.Instruction {
		return answer{}, true
	}
	q := isa.Query{Have: have, Unified: unified, Width: s.Width, PC: pc, A32: true}
	if !s.Mnemonic.Checked(&q) {
		m, ok := s.Mnemonic.Match(&q, operandsA(s, pc))
		if !ok || s.Err != nil {
			return answer{}, false
		}
		return answer{ok: true, form: m.Form, deferred: m.Deferred(), code: matchBytes(&m)}, true
	}
	if s.Err != nil {
		return answer{}, true
	}
	m, ok := s.Mnemonic.Match(&q, operandsA(s, pc))
	if !ok || m.Refused(have) || m.Deferred() && !m.Form.Row.Linked() {
		return answer{}, true
	}
	return answer{ok: true, deferred: m.Deferred(), form: m.Form, code: matchBytes(&m)}, true
}

func wordBytes(w uint32) []byte { return binary.LittleEndian.AppendUint32(nil, w) }

// matchBytes lays out what an A32 statement assembles to.
func matchBytes(m *isa.Match) []byte {
	b := wordBytes(m.Encode())
	if w, ok := m.Second(); ok {
		b = binary.LittleEndian.AppendUint32(b, w)
	}
	return b
}

// operandsA resolves the operands of an A32 statement; a literal that MOV and
// MVN do not hold is after it.
func operandsA(s *syntax.Stmt, pc int64) []isa.Operand {
	ops := operandsAt(s, pc)
	for i := range ops {
		if ops[i].Kind == isa.OpLit {
			if o := s.Ops[i].Operand; o.Known && isa.A32Constant(uint32(o.Imm)) {
				ops[i] = o
				ops[i].Bare = true
			} else {
				ops[i].Imm = pc + 4
			}
		}
	}
	return ops
}

// shapesA are operand texts for A32 names, written without looking at the table.
var shapesA = func() (out []string) {
	add := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	add("")
	regs := []string{"r0", "r1", "r8", "sp", "lr", "pc"}
	for _, a := range regs {
		add("%s", a)
		add("%s!", a)
		for _, b := range regs {
			add("%s, %s", a, b)
		}
	}
	three := []string{"r0", "r1", "sp", "pc"}
	for _, a := range three {
		for _, b := range three {
			for _, c := range three {
				add("%s, %s, %s", a, b, c)
				for _, d := range []string{"r0", "r3", "pc"} {
					add("%s, %s, %s, %s", a, b, c, d)
				}
			}
		}
	}
	shifts := strings.Split("lsl #0|lsl #1|lsl #31|lsl #32|lsr #0|lsr #1|lsr #32|lsr #33|asr #0|asr #32|asr #33|asr #-1|ror #0|ror #1|ror #31|ror #32|rrx|rrx #1|lsl r3|asr pc|ror sp|lsl 3|LSL #2|asl #2|lsr R3|lsl|lsl #x|lsl #256", "|")
	for _, s := range shifts {
		add("r0, r1, r2, %s", s)
		add("r0, r1, %s", s)
		add("r0, %s", s)
		add("pc, r1, r2, %s", s)
		add("r0, [r1, r2, %s]", s)
		add("r0, [r1, -r2, %s]!", s)
		add("r0, [r1], r2, %s", s)
		add("r0, [r1], -r2, %s", s)
		add("[r1, r2, %s]", s)
	}
	consts := []string{}
	for _, c := range []int64{0, 1, 2, 3, 4, 7, 8, 15, 16, 31, 32, 33, 127, 252, 254, 255, 256, 257, 258, 510, 1020, 1024, 1028, 4092, 4095, 4096, 4097, 65280, 65535, 65536, 0xff00000, 0xff000000, 0xf000000f, 0xc000003f, 0x3fc00, 0x1fe, 0x3fc0, 1<<24 - 1, 1 << 24, 0x7fffffff,
		0x80000000, 0xffffffff, 0xffffff00, 0xfffffe00, 0xffffff01, 0x00ffffff, 0xffff00ff, 0x12345678, 1 << 32, 1<<32 + 1, -1, -2, -4, -128, -255, -256, -257, -1020, -1024, -4095, -4096, -65536, -1 << 31, -1<<31 - 1} {
		consts = append(consts, fmt.Sprint(c))
	}
	for _, c := range consts {
		add("#%s", c)
		add("%s", c)
		for _, x := range []string{"r0, #%s", "r0, %s", "r0, r1, #%s", "r0, r1, %s", "r0, r0, #%s", "pc, r1, #%s", "r0, =%s", "r0, pc, #%s", "sp, #%s",
			"r0, [r1, #%s]", "r0, [r1, %s]", "r0, [r1, #%s]!", "r0, [r1], #%s", "r0, [r1], %s", "r0, [pc, #%s]", "r2, r3, [r1, #%s]", "[r1, #%s]", "p5, c3, [r1, #%s]", "p5, c3, [r1, #%s]!", "p5, c3, [r1], #%s", "cpsr_f, #%s", "CPSR_fc, %s",
			"p5, #%s, c1, c2, c3", "p5, #1, r0, c2, c3, #%s", "p5, #%s, r0, r1, c3", "r0, #3, #%s", "r0, #%s, #2", "r0, r1, #255, #%s"} {
			add(x, c)
		}
	}
	for _, a := range []string{"r0", "r1", "r2", "r12", "lr", "pc"} {
		for _, m := range strings.Split("[r1]|[pc]|[r0]|[r1]!|[r1], #4|[r1, #4]!|[r0, #4]!|[r1, r2]|[r1, -r2]|[r1, +r2]|[r1, r2]!|[r1], r2|[r1], -r2|[r1], +r2|[r1, pc]|[pc, r2]|[pc], #4|[pc, #4]!|[r1, r1]|[r1, r0]!|[sp, #-8]!|[sp], #8|[r1, #0]|[r1, lr, lsl #2]|[r1", "|") {
			add("%s, %s", a, m)
			add("%s, r1, %s", a, m)
			add("%s, r3, %s", a, m)
		}
		add("%s, [r2], #4, #4", a)
	}
	for _, k := range []string{"{0}", "{5}", "{#5}", "{ 255 }", "{256}", "{-1}", "{(3)}", "{5, 6}", "{5}!", "{r0}", "{5+1}"} {
		add("%s", k)
		add("p5, c3, [r1], %s", k)
		add("p5, c3, [r1, #4], %s", k)
		add("p14, c5, [pc], %s", k)
		add("r0, %s", k)
	}
	for _, k := range []string{"0", "19", "31", "32", "-1"} {
		add("#%s!", k)
		for _, b := range []string{"sp", "sp!", "SP!", "r13", "r0!", "pc"} {
			add("%s, #%s", b, k)
			add("%s, %s", b, k)
		}
		add("sp!, #%s!", k)
	}
	for _, d := range []int{5000, -5000, 0x12344, -0x12344, 0x112344, 0x10008, 0xff08, 0x1fe08, -0x3fc00, 0x12008 + 3, 0x3fc0408, 255*256 + 255 + 8, 9, -261, 0x1000008, 0xf000100} {
		add("r0, .%+d", d)
		add("pc, .%+d", d)
	}
	for _, d := range []int{-1 << 25, -1<<25 + 8, -1<<25 + 4, 1<<25 + 4, 1<<25 + 8, 1<<25 + 6, -4088, -4087, -4086, 4103, 4104, -255 + 8, -247 - 1, 263, 264, 0, 1, 2, 4, 6, 8, 12, 1028, 1032, 1036, 264 + 1, -1012, -248, 1<<20 + 8} {
		add(".%+d", d)
		add("r0, .%+d", d)
		add("r2, r3, .%+d", d)
		add("pc, .%+d", d)
		add("p5, c3, .%+d", d)
	}
	add("foo")
	add("r0, foo")
	add("r0, =foo")
	add("r2, r3, =5")
	add("r0, =-256")
	add("r0, =256+1")
	for _, l := range lists {
		add("%s", l)
		for _, b := range []string{"r0!", "r0", "r9!", "sp!", "sp", "pc!", "pc"} {
			add("%s, %s", b, l)
		}
	}
	for _, l := range []string{"{r0-r3}^", "{r0, pc}^", "{lr}^", "{pc}", "{sp}"} {
		add("r0, %s", l)
		add("r9!, %s", l)
		add("%s", l)
	}
	for _, w := range append(words, strings.Fields("cpsr_fc cpsr_cf cpsr_fsxc cpsr_x cpsr_ff cpsr_ spsr_fc spsr_all SPSR_c CPSR_ALL cpsr_flg cpsr_ctl Cpsr cpsr_F CPSR_F spsr_cxsf apsr_g apsr_nzcvqg APSR_nzcvq r8_usr R8_usr R8_USR r13_usr sp_irq SP_svc Sp_abt lr_und LR_MON spsr_fiq SPSR_irq SPSR_ABT spsr_HYP elr_hyp ELR_hyp sp_hyp lr_hyp spsr_usr ishld LD Ld nshld OSHLD p5 c3")...) {
		add("%s, r0", w)
		add("r0, %s", w)
		add("%s, pc", w)
		add("%s, #1", w)
		add("%s, #1, 2", w)
		add("%s, #1, #2", w)
		add("%s", w)
	}
	for _, p := range []string{"p5", "p0", "p15", "p16", "P7", "r5", "c5", "p10", "p11", "p14"} {
		add("%s, #1, c1, c2, c3, #4", p)
		add("%s, 1, c1, c2, c3", p)
		add("%s, #1, r1, c2, c3, #4", p)
		add("%s, #1, r1, cr2, CR3, 4", p)
		add("%s, #1, r1, r2, c3", p)
		add("%s, #1, r1, c2, c3", p)
		add("%s, #1, apsr_nzcv, c2, c3", p)
		add("%s, #1, APSR_nzcv, c2, c3, #4", p)
		add("%s, #1, pc, c2, c3, #4", p)
		add("%s, #1, pc, r2, c3", p)
		add("%s, #1, r2, r2, c3", p)
		add("%s, c3, [r1]", p)
		add("%s, c3, [r1], #8", p)
		add("%s, c3, [r1, #8]!", p)
		add("%s, c3, [pc, #8]", p)
		add("%s, c3, [r1, r2]", p)
		add("%s, c3, [r1], {5}", p)
		add("%s, c3, [r1]!", p)
		add("%s, c16, [r1]", p)
	}
	for _, k := range []string{"#0", "#1", "#8", "#15", "#16", "#17", "#31", "#32", "#33", "5", "#-1"} {
		add("r0, %s, r1", k)
		add("r0, %s, pc", k)
		for _, sh := range []string{"lsl #0", "lsl #3", "asr #0", "asr #32", "lsr #1", "asr 4", "ror #8"} {
			add("r0, %s, r1, %s", k, sh)
		}
		add("i, %s", k)
		add("aif, %s", k)
	}
	for _, k := range []string{"ror #0", "ror #8", "ror #16", "ror #24", "ror #32", "ror #7", "ror 8", "lsl #8", "ror r2"} {
		add("r0, r1, %s", k)
		add("r0, r1, r2, %s", k)
	}
	for _, k := range []string{"r0, [r1]", "r1, [r2]", "r0, [pc]", "r0, [r1, #0]", "r0, r1, [r2]", "r0, r0, [r2]", "r0, r1, [r0]", "r0, r2, r3, [r4]", "r0, r2, [r4]", "r0, r2, r4, [r4]", "r0, r3, r4, [r5]", "pc, r1, [r2]", "r0, lr, pc, [r5]"} {
		add("%s", k)
	}
	for _, b := range []string{"#0, #1", "#0, #32", "#0, #33", "#1, #31", "#1, #32", "#31, #1", "#31, #2", "#32, #1", "#5, #0", "#-1, #4", "3, 4", "#3, #4294967297"} {
		add("r0, %s", b)
		add("r0, r1, %s", b)
		add("pc, r1, %s", b)
		add("r0, pc, %s", b)
		add("r0, #0, %s", b)
	}
	add("r0 r1")
	add("r0,")
	add("R0, R1")
	add("r0, r1, r2, r3, r4")
	return append(out, generic...)
}()

// alwaysA are statements that are known to be judged otherwise; they are tried
// on every run.
var alwaysA = strings.Split("nop {r0-r0}|movw r0, $5|mrc2 p0, #1, apsr_nzcv, c2, c3|msr cpsr_f, #1, #2|bxj r0|ldrt r0, [r1, r2, ror #0]|add r0, pc, #4278190080|"+
	"msr apsr_g, r0|swp r1, r2, [r1]|mrrc p1, #1, r2, r2, c3|ldr pc, .+2|nopeq|mov r0, .+8|lsl r0, #3, #2|b r0|bl r0|push 5|setend r0|ldrex r0, [r1, #4294967296]|pkhtb r0, r1, r2, asr #0|strex r0, r1, [r0]|mov r0, #5!|dbg #4294967296|hlt #1|ssbb|crc32b r0, r1|msr sp_irq, #1|setpan #2|setpan #4294967296|setpan 4294967297|mrs r0, r8_USR|ldc p5, c3, [r1, r2]", "|")

// statementsA builds the statements for A32 code: the table's names without
// conditions with every shape, of which each sample-th is taken, and names with
// conditions in all orders with some, of which each sparse-th is.
func statementsA(sample, sparse, phase int) (out []string) {
	stems := isa.StemsA32()
	slices.Sort(stems)
	out = append(out, alwaysA...)
	stems = append(stems, strings.Fields("asl addw movw orn smi hint dfb tsb bti dcps1 sg")...)
	seen := map[string]bool{}
	add := func(s string) {
		if !seen[s] {
			seen[s] = true
			out = append(out, s)
		}
	}
	for i, n := range stems {
		for k, s := range shapesA {
			if (k+7*i+phase)%sample == 0 {
				add(n + " " + s)
			}
			if (k+3*i+phase)%(97*sample) == 0 {
				add(strings.ToUpper(n) + " " + s)
				add(n + ".w " + s)
				add(n + ".n " + s)
			}
		}
		for c, cond := range []string{"eq", "ne", "cs", "hs", "cc", "lo", "ul", "mi", "pl", "vs", "vc", "hi", "ls", "ge", "lt", "gt", "le", "al", "nv", "s", "seq", "eqs"} {
			for at := 1; at <= len(n); at++ {
				if at < len(n) && (c+i+phase)%12 != 0 {
					continue
				}
				for k, s := range condShapes {
					if (k+c+i+at+phase)%(28*sparse) == 0 {
						add(n[:at] + cond + n[at:] + " " + s)
					}
				}
			}
		}
	}
	return out
}

var condShapes = strings.Split("|r0|r0, r1|r0, #1|r0, r1, r2|r0, r1, r2, r3|r0, [r1]|r0, [r1], #4|r2, r3, [r1]|r0!, {r1, r2}|{r0, r1}|#3|foo|.+8|r0, r1, [r2]|r0, cpsr|cpsr_f, r0|[r1]|p5, c3, [r1]|p5, #1, r0, c2, c3, #4|p5, #1, c0, c2, c3, #4|p5, #1, r0, r1, c3|r0, =5|r0, =0x12345|r0, .+8|r0, r1, #4", "|")

// acceptDisagreementsA is acceptDisagreements for A32 code.
var acceptDisagreementsA = []disagreement{
	{` refuse: (?i)(ldm|stm|push|pop)\w* ((r\d+|sp|pc)!?, )?[#$]? ?-?[0-9(']`,
		`a register list is written in braces (DDI 0406, "LDM" and "PUSH"); the assembler takes a number for the mask`},
	{` refuse: (?i)blx?\w* (r\d+|sp|lr|pc|wr|[a-z]{2}|\[.*)!?$`,
		`BL and BLX (immediate) take a label (DDI 0406, "BL, BLX (immediate)"); the assembler takes the register's name for an undefined symbol`},
	{` refuse: (?i)b\w* (r\d+|sp|lr|pc|wr|\[.*)!?$`,
		`B takes a label (DDI 0406, "B"); the assembler takes the register's name for an undefined symbol`},
	{` refuse: (?i)(lsl|lsr|asr|ror)\w* \w+, (\w+, )?#?-?\d+, #?-?\d+$`, `a shift is one of a register (DDI 0406, "LSL (immediate)"); the assembler drops the shift of a constant`},
	{`^armv6t2 \w+ code 00f020\w\w for 0000a0\w\w: (?i)nop`, `NOP has its own encoding from ARMv6K and ARMv6T2 on (DDI 0406, "NOP")`},
	{` accept: (?i)msr\w* apsr_(g|nzcvqg), `, `the part s of CPSR can be written everywhere (DDI 0100, "MSR"); the assembler wants a core with its bits for the newer name`},
	{` refuse: (?i)(ldr|str)b?t\w* \w+, \[\w+, -?\w+, (lsl|lsr|asr|ror) #0\]!?$`, `LDRT and STRT are post-indexed (DDI 0406, "LDRT"); the assembler takes a shift by 0 for an offset of 0`},
	{` (code \w+ for \w+|accept): (?i)(add|sub)s?\w* (\w+, )?pc, #-?\d+$`, `a constant is a word of 32 bits, whatever the base; the assembler takes it for a distance from pc, with its sign`},
	{` refuse: (?i)nop\w* \{`, `the operand of a hint is no list`},
	{` accept: mov[wt] r0, \$5$`, `'$' may stand for '#'; the assembler does not take it here`},
	{` accept: (?i)msr\w* \w+, #\d+, #?\d+$`, `the rotation may be written out in MSR as in MOV, so that every code has a text; the assembler has it in data processing alone`},
	{` accept: (?i)mrc2 p\d+, \S+ apsr_nzcv, `, `MRC2 takes APSR_nzcv as MRC does (DDI 0406, "MRC, MRC2")`},
	{` refuse: (?i)setend `, `SETEND takes BE or LE (DDI 0406, "SETEND")`},
	{` refuse: (?i)pkhtb\w* \w+, \w+, \w+, asr #0$`, `PKHTB shifts by 1 to 32 (DDI 0406, "PKH"); the assembler makes PKHBT of it, with the registers as they stand`},
	{` accept: (?i)((ldrex|strex \w+,) \w+, \[\w+, #?4294967296\]|(dbg|setpan|bfc r0,) #?429496729[67](, #2)?)$`, `a constant is a word of 32 bits, as elsewhere`},
	{`^armv5te \w+ accept: bxj`, `BXJ is of ARMv5TEJ, which is not told from ARMv5TE`},
	{`^armv[4567]\S* \w+ refuse: (?i)hlt( |$)`, `HLT is of ARMv8 (DDI 0487, "HLT")`},
	{`^armv[456]\S* \w+ refuse: (?i)(p?ssbb|csdb)( |$)`, `SSBB and PSSBB are codes of DSB, of ARMv7, and CSDB is a hint, of ARMv6K (DDI 0487, "CSDB", "SSBB")`},
	{` refuse: (?i)(ldc|stc)2?l?\w* \w+, \w+, \[\w+(\], |, )-?\w+\]?!?$`, `LDC and STC have no offset in a register (DDI 0406, "LDC"); the assembler drops it`},
	{` refuse: (?i)\w+ .*#-?\d+!$`, `a '!' stands behind a constant in SRS alone; the assembler takes it for an operator, and 0 behind it`},
	{` accept: (?i)(msr|mrs)\w* .*_(USR|FIQ|HYP)`, `the assembler has some banks in capitals and others not`},
	{` refuse: (?i)setpan #?\d+$`, `SETPAN takes 0 or 1 (DDI 0487, "SETPAN"); the assembler keeps bit 0`},
	{` refuse: (?i)crc32c?[bhw] \w+ ?, \w+$`, `CRC32 takes three registers (DDI 0487, "CRC32"); the assembler has the last one twice`},
	{` refuse: (?i)msr\w* \w+, #\d+$`, `a banked register is written from a register (DDI 0406, "MSR (Banked register)"); the assembler puts its number into the code for a constant`},
	{` unified refuse: (?i)\w+ (\w+, )+\.[+-]\d+$`, `an address is no constant; the assembler takes its place in the section for one`},
}

// oursAlone says whether a form is one that the assembler does not have; see
// acceptDisagreementsA on MSR and MRC2.
func oursAlone(f *isa.Form) bool {
	return f.Row.ID == "a-msr-imm" && f.Operands() == 3 || f.Row.ID == "a-mrc2" && strings.Contains(f.String(), "apsr")
}

// TestAcceptA compares the A32 rows with the assembler, as TestAccept does.
func TestAcceptA(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	sample, sparse := reftest.Size(160*64, 1280, 1), reftest.Size(32, 2, 1)
	c := compareAccept(t, archesA, reftest.Options{}, func(seed int, unified bool) []string { return statementsA(sample, sparse, seed) },
		func(_ string, l *syntax.Line, have isa.Features, unified bool) (answer, bool) {
			return askA(l, have, unified, 0)
		})
	judge(t, acceptDisagreementsA, c.cases)
	for _, r := range isa.RowsA32() {
		for _, f := range r.AllForms() {
			if reftest.Thorough() && !c.forms[f] && !oursAlone(f) {
				t.Errorf("row %s: no statement is taken by %s", r.ID, f)
			}
		}
	}
	proof.Counted("accept/refuse A32: %d statements, %d accepted by both with the same code, %d of names that are not described, %d known disagreements", c.total, c.taken, c.open, len(c.cases))
}
