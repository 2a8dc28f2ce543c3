package isa_test

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// archesT are the architectures that the T32 rows are proved for.
var archesT = []string{"armv6t2", "armv7-m", "armv7e-m", "armv7-r", "armv7-a", "armv7ve", "armv8-m.base", "armv8-m.main", "armv8-m.main+dsp", "armv8-a+crc"}

// slotsT are the places in IT blocks where statements are tried, as macros of
// the assembler's source: what is before and after is taken off its code.
var slotsT = []struct {
	name, before, after string
	slot                isa.Slot
}{
	{"_last", "it eq", "", isa.Slot{In: true, Last: true, Cond: 0}},
	{"_first", "itt eq", "nopeq.n", isa.Slot{In: true, Cond: 0}},
	{"_else", "ite eq\\nnopeq.n", "", isa.Slot{In: true, Last: true, Cond: 1}},
	{"_always", "it al", "", isa.Slot{In: true, Last: true, Cond: isa.AL}},
}

func prologueT() string {
	var b strings.Builder
	for _, s := range slotsT {
		fmt.Fprintf(&b, ".macro %s s:vararg\n%s\n\\s\n%s\n.endm\n", s.name, strings.ReplaceAll(s.before, `\n`, "\n"), s.after)
	}
	return b.String()
}

// askT is askAt for T32 code, in an IT block where line says so.
func askT(line string, l *syntax.Line, have isa.Features, unified bool) (a answer, checked bool) {
	if len(l.Stmts) != 1 || l.Stmts[0].Kind != syntax.Instruction {
		return answer{}, true
	}
	s := &l.Stmts[0]
	q := isa.Query{Have: have, Unified: unified, Width: s.Width}
	var before, after []byte
	for _, k := range slotsT {
		if macro, _, _ := strings.Cut(line, " "); macro == k.name {
			q.IT = k.slot
			code := map[string]uint32{"it eq": 0xbf08, "itt eq": 0xbf04, `ite eq\nnopeq.n`: 0xbf0c, "it al": 0xbfe8}[k.before]
			before = codeBytes(code, 2)
			if strings.Contains(k.before, "nop") {
				before = append(before, 0, 0xbf)
			}
			if k.after != "" {
				after = []byte{0, 0xbf}
			}
		}
	}
	if q.IT.In && !have.Has(isa.FeatT32) {
		return answer{}, true // no IT block at all
	}
	q.PC = int64(len(before))
	if !s.Mnemonic.Checked(&q) {
		return answer{}, false
	}
	if s.Err != nil {
		return answer{}, true
	}
	ops := operandsAt(s, q.PC)
	moved := false
	for i := range ops {
		if o := s.Ops[i].Operand; ops[i].Kind == isa.OpLit && o.Known && q.MovesLiteral(ops[0].Reg, uint32(o.Imm)) {
			moved = true
			ops[i] = o // a constant that an instruction may hold
			ops[i].Bare = true
		}
	}
	m, ok := s.Mnemonic.Match(&q, ops)
	if slices.ContainsFunc(ops, func(o isa.Operand) bool { return o.Kind == isa.OpLit }) && !moved {
		// It goes to the pool after.
		for i := range ops {
			if ops[i].Kind == isa.OpLit {
				ops[i].Imm = (q.PC + 2 + int64(len(after)) + 3) &^ 3
			}
		}
		if m, ok = s.Mnemonic.Match(&q, ops); ok && m.Form.Row.Size() == 4 {
			for i := range ops {
				if ops[i].Kind == isa.OpLit {
					ops[i].Imm = (q.PC + 4 + int64(len(after)) + 3) &^ 3
				}
			}
			m, ok = s.Mnemonic.Match(&q, ops)
		}
	}
	if !ok || m.Refused(have) || m.Deferred() && !m.Form.Row.Linked() {
		return answer{}, true
	}
	if m.Deferred() && q.Width == 0 && m.Form.Row.Size() == 2 {
		// What the linker finds may be far.
		wide := q
		wide.Width = 'w'
		if w, ok := s.Mnemonic.Match(&wide, ops); ok {
			m = w
		}
	}
	code := append(before, codeBytes(m.Encode(), m.Form.Row.Size())...)
	return answer{ok: true, deferred: m.Deferred(), form: m.Form, code: append(code, after...)}, true
}

// shapesT are operand texts for T32 names beside those of A32.
var shapesT = func() (out []string) {
	add := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	for _, c := range []string{"0", "1", "7", "8", "255", "256", "257", "508", "512", "1020", "1021", "1024", "4095", "4096", "65535", "65536", "0x00ff00ff", "0xff00ff00", "0xabababab", "0x10001", "0xff000000", "0x1fe", "0x1ff", "0x80000000", "0xfffffff8", "-1", "-7", "-8", "-255", "-256", "-4095", "-4096", "0xffff00ff", "0xfe01fe01"} {
		for _, x := range []string{"r0, #%s", "r0, %s", "r8, #%s", "sp, #%s", "pc, #%s", "r0, r0, #%s", "r0, r1, #%s", "r8, r0, #%s", "r0, sp, #%s", "sp, sp, #%s", "sp, r0, #%s", "r0, pc, #%s", "pc, r0, #%s", "r0, =%s", "r8, =%s", "pc, =%s",
			"r0, [r1, #%s]", "r8, [r1, #%s]", "r0, [r8, #%s]", "r0, [sp, #%s]", "pc, [r1, #%s]", "sp, [r1, #%s]", "r0, [pc, #%s]", "r0, [r1, #%s]!", "r0, [r1], #%s", "r0, [r0], #%s", "r0, [pc], #%s", "r0, r1, [r2, #%s]", "r0, r1, [r2, #%s]!", "r0, r1, [r2], #%s", "r0, r1, [pc, #%s]", "[r1, #%s]", "[pc, #%s]", "r0, r1, r2, [r3, #%s]"} {
			add(x, c)
		}
	}
	for _, s := range []string{"lsl #0", "lsl #1", "lsl #2", "lsl #3", "lsl #4", "lsl #31", "lsr #1", "lsr #32", "asr #32", "ror #1", "rrx", "lsl r2", "ror r9", "lsl 1"} {
		for _, x := range []string{"r0, r1, %s", "r0, r1, r2, %s", "r8, r1, r2, %s", "sp, sp, r2, %s", "r0, sp, r2, %s", "r0, r1, sp, %s", "sp, r1, %s", "r0, [r1, r2, %s]", "r0, [r1, r8, %s]", "r0, [r1, sp, %s]", "pc, [r1, r2, %s]", "[r1, r2, %s]", "r0, [pc, r2, %s]", "[pc, r2, %s]"} {
			add(x, s)
		}
	}
	for _, d := range []int{-1 << 24, -1<<20 - 2, -1 << 20, -4092, -4091, -4090, -1020, -256, -254, -2048, 0, 2, 4, 5, 6, 130, 132, 256, 258, 1024, 1028, 2050, 2052, 4098, 4099, 4100, 1<<20 + 2, 1<<20 + 4, 1<<24 + 2, 1<<24 + 4} {
		for _, x := range []string{".%+d", "r0, .%+d", "r8, .%+d", "pc, .%+d", "sp, .%+d", "r0, r1, .%+d", "[.%+d]"} {
			add(x, d)
		}
	}
	for _, l := range []string{"{r0}", "{r8}", "{lr}", "{pc}", "{sp}", "{r0, r1}", "{r0, r8}", "{r0, lr}", "{r0, pc}", "{r0, sp}", "{lr, pc}", "{r0, lr, pc}", "{r8-r12}", "{r0-r7, lr}", "{r4-r11, lr}", "{r4-r11, pc}", "{r1, r2}", "{r0-r15}"} {
		for _, x := range []string{"%s", "r0, %s", "r0!, %s", "r8, %s", "r8!, %s", "sp, %s", "sp!, %s", "pc, %s", "lr!, %s"} {
			add(x, l)
		}
	}
	for _, w := range strings.Fields("apsr apsr_nzcvq APSR_nzcvq apsr_g apsr_nzcvqg psr xpsr ipsr epsr iepsr iapsr eapsr msp psp primask basepri basepri_max faultmask control msplim psplim msp_ns psp_ns msplim_ns psplim_ns primask_ns basepri_ns faultmask_ns control_ns sp_ns cpsr cpsr_f cpsr_fsxc spsr spsr_fc r8_usr r13_usr sp_irq lr_mon elr_hyp spsr_irq") {
		add("r0, %s", w)
		add("%s, r0", w)
		add("sp, %s", w)
		add("%s, #1", w)
	}
	for _, x := range strings.Split("[r0, r1]|[pc, r1]|[r0, r1, lsl #1]|[pc, r1, lsl #1]|[r0, sp]|[r0, pc]|r0, r8, .+8|r8, .+8|r0, r1, #1, #31|r0, r1, #0, #32|r0, #0, #32|r0, #31, #1|sp, r1, #1, #2|r0, pc, #1, #2|#16, r0, lsl #31|r0, #16, r1|r0, #16, r1, asr #31|"+
		"r0, r1, ror #8|r0, r1, ror #24|r0, r1, ror #32|r0, r1, r2, ror #8|sp, r1, r2|r0, sp, r2|r0, r1, sp|pc, r1, r2|r0, pc, r2|r0, r1, pc|r0, r1, r2, sp|r0, r1, r2, pc|r0, r0, r1, r2|r0, r1, r0, r2|i|f|a|if|aif|i, #16|f, #31|#16|#31|sy|st|ld|ish|ishld|#15|15|"+
		"r0, r0, [r1]|r0, r1, [r0]|r0, r1, [r1]|r0, [r0]|r0, [sp]|r0, [pc]|sp, [r1]|r0, r1, r2, [r3]|r0, r0, r2, [r3]|r0, r1, r1, [r3]|r8, r9, r10, [r11]|r0, r1, [r2, #4]|r0, r1, [r2, #1020]|r0, r1, [r2, #1024]|r0, r1, [r2, #2]|sp!, #19|sp, #19|#19|r0!|r0|sp!|sp|pc|lr|r8|"+
		"pc, lr, #4|pc, lr, #0|pc, lr|r0, r1, lsl r2|r0, r1, lsl r1|r0, r0, lsl r1|r0, r0, asr r8|#:lower16:foo|r0, #:lower16:foo|r0, #:upper16:foo", "|") {
		add("%s", x)
	}
	return out
}()

// alwaysT are statements that are tried on every run.
var alwaysT = strings.Split("adds r0, r0, #1|add r0, r0, #1|mov r0, #0xff00|movw r0, #65535|sub sp, sp, #516|cmp r0, #1000|_last addeq r0, r0, #1|_last addseq r0, r0, #1|_last beq .+8|_first beq .+8|_last bxeq lr|_last addne r0, r0, r1|_last add r0, r0, r1|_always add r0, r0, r1|_else movne r0, #1|"+
	"ldr.w r0, [r1, #-0]|pld [r0, #4]!|pli [r0], #4|beq .+2052|bne .-4096|_last srsiaeq #19|_first srsdbeq #19|srsia sp, #19!|srsia #19!|neg.w r0, r1|neg r8, r9|negs r8, r9|neg r8|negs r0, sp|negs sp, sp|neg sp, sp|neg pc, r1|neg.w r8, pc|_last negeq r0, sp|mrrc p5, #1, r1, r1, c3|mrc2 p5, #1, apsr_nzcv, c2, c3|"+
	"_always smcal #1|_always addal pc, pc, #4|_always movalpc, r1|_always moval pc, r1|cpsieeq i|cpsideq f|cpsal #19|_last nopeq {1}|dcps1|dcps2|dcps3|ldrd r12, [r0]", "|")

// namesT are the names of Thumb state's table without conditions, and
// others.
func namesT() []string {
	var names []string
	for _, m := range isa.Mnemonics() {
		if _, spelt := m.Cond(); !spelt && !m.Vector() && !strings.HasSuffix(m.Name, "al") {
			names = append(names, m.Name)
		}
	}
	names = append(names, isa.StemsA32()...)
	names = append(names, strings.Fields("asl orn orns addw subw tbb tbh rscs rsc swp ldmib stmib ldmda adrl cbz cbnz")...)
	slices.Sort(names)
	return slices.Compact(names)
}

// statementsT builds the statements for T32 code, each sample-th of them.
func statementsT(sample, phase int, unified bool) (out []string) {
	seen := map[string]bool{}
	add := func(s string) {
		if w := strings.Fields(s); s[0] == '_' && (!unified || len(w) > 2 && w[2][0] == '#') {
			return // an argument of a macro loses the space in front of a '#'
		}
		if !seen[s] {
			seen[s] = true
			out = append(out, s)
		}
	}
	for _, s := range alwaysT {
		add(s)
	}
	shapes, _ := allShapesT()
	sparse := sample
	conds := []string{"eq", "ne", "al", "cs", "lt"}
	for i, n := range namesT() {
		if only := reftest.List(reftest.Names); only != nil && !slices.Contains(only, n) {
			continue // while working on some names
		}
		takes := kindsT(n)
		for k, shape := range shapes {
			// Where the name takes operands of this kind a smaller part is left out.
			s, sample, at := shape.text, sparse, k+7*i+phase
			switch {
			case takes[shape.kind] && shape.word:
				sample = max(1, sparse/480) // one word says nothing of another
			case takes[shape.kind]:
				sample = max(1, sparse/24)
			}
			if at%sample == 0 {
				add(n + " " + s)
			}
			if at%(3*sample) == 0 {
				add(n + ".w " + s)
				add(n + ".n " + s)
			}
			if at%(2*sample) == 1 {
				m := slotsT[at/(2*sample)%len(slotsT)].name
				c := conds[at/sample%len(conds)]
				if at%(8*sample) == 1 {
					c = ""
				}
				if at%(6*sample) == 1 {
					c += ".w"
				}
				add(m + " " + n + c + " " + s)
			}
			if at%(2*sample) == 3%sample {
				for j, x := range slotsT {
					if j < 3 {
						add(x.name + " " + n + []string{"eq", "eq", "ne"}[j] + " " + s)
					}
				}
			}
			if at%(40*sample) == 5 {
				add(n + conds[at/sample%len(conds)] + " " + s)
			}
		}
	}
	return out
}

var (
	sigRegs  = regexp.MustCompile(`(?i)\b(r\d+|sp|lr|pc|wr)\b`)
	sigNums  = regexp.MustCompile(`-?\b(0x[0-9a-f]+|\d+)\b`)
	sigLists = regexp.MustCompile(`\{[^}]*\}`)
	sigWords = regexp.MustCompile(`(?i)^(r, )?[a-z_][a-z_0-9]+(, r)?$`)
)

// signature is the kind of operands of a shape: which registers and numbers they
// are left out.
func signature(shape string) string {
	s := sigLists.ReplaceAllString(shape, "{}")
	s = sigRegs.ReplaceAllString(s, "r")
	s = sigWords.ReplaceAllString(s, "${1}word$2")
	return strings.ReplaceAll(sigNums.ReplaceAllString(s, "n"), "+", "-")
}

// shapeT is an operand text with the number of its signature.
type shapeT struct {
	text string
	kind int
	word bool // there is a word among the operands
}

// allShapesT are the operand texts of T32 and those of A32 after them, and how
// many signatures there are.
var allShapesT = sync.OnceValues(func() (shapes []shapeT, kinds int) {
	number := map[string]int{}
	for _, s := range slices.Concat(shapesT, shapesA) {
		sig := signature(s)
		kind, known := number[sig]
		if !known {
			kind = len(number)
			number[sig] = kind
		}
		shapes = append(shapes, shapeT{s, kind, strings.Contains(sig, "word")})
	}
	return shapes, len(number)
})

var kindsOf sync.Map // of names: func() []bool

// kindsT says for each signature whether a name takes such operands in some
// place on some architecture.
func kindsT(name string) []bool {
	f, _ := kindsOf.LoadOrStore(name, sync.OnceValue(func() []bool {
		shapes, kinds := allShapesT()
		out := make([]bool, kinds)
		for _, s := range shapes[:len(shapesT)] {
			if out[s.kind] {
				continue
			}
			l := syntax.Parse(name + " " + s.text).Line(0)
			for _, slot := range []string{"_plain", "_always"} {
				if a, _ := askT(slot, l, ^isa.Features(0), true); a.ok {
					out[s.kind] = true
					break
				}
			}
		}
		return out
	}))
	return f.(func() []bool)()
}

// acceptDisagreementsT is acceptDisagreements for T32 code.
var acceptDisagreementsT = []disagreement{
	// Loads, stores and branches.
	{` refuse: (?i)(_\w+ )?ldr(s?[bh])?t\w*(\.w)? \w+, (\[pc\b|\.[+-])`, `LDRT has no literal form (DDI 0406, "LDRT"); the assembler makes LDR of it`},
	{` (code \w+ for \w+|refuse): .*#-0\b`, `an offset of -0 is another code than one of 0 where there is a bit for the sign (DDI 0406, "LDR (immediate, Thumb)"), and does not exist elsewhere`},
	{` refuse: (?i)(_\w+ )?pl(dw?|i)\w*(\.w)? \[\w+(, #?-?\w+\]!|\]!|\], )`, `PLD and PLI do not write back (DDI 0406, "PLD (immediate)"); the assembler makes a load into pc of it`},
	{` refuse: (?i)(_\w+ )?pldw\w*(\.w)? (\[pc|\.[+-])`, `PLDW has no literal form (DDI 0406, "PLD (literal)")`},
	{` (code \w+ for \w+|refuse): (?i)(_\w+ )?stm(ia|ea)?\w*(\.n)? sp!, \{`, `STMIA stores upwards (DDI 0406, "STM"); the assembler makes PUSH of it, which stores downwards`},
	{` refuse: (?i)(_\w+ )?(ldrexd|strexd r\d+,) ?\w* (r12|ip), \[`, `the register behind r12 is sp, which is unpredictable here (DDI 0406, "LDREXD")`},
	{`^armv8-a\+crc \w+ accept: (?i)(_\w+ )?(ldrd|strd)\w*(\.w)? (r12|ip), [.[]`, `the register behind r12 is sp, which ARMv8 has in LDRD`},
	{`^armv(7e?-m|8-m.main)\S* \w+ refuse: (?i)(_\w+ )?bxj`, `no Jazelle on M profile (DDI 0403 does not have BXJ)`},
	{`^armv8-m.base \w+ (refuse|size|accept): (?i)b(eq|ne|cs|hs|cc|lo|ul|mi|pl|vs|vc|hi|ls|ge|lt|gt|le) `, `the baseline of ARMv8-M has no wide branch with a condition (DDI 0553, "B"); the assembler relaxes to it`},
	{` refuse: (?i)(_\w+ )?((ldm|stm)\w*(\.[nw])? \w+!?, |(push|pop)\w*(\.[nw])? )[#$]? ?-?[0-9(']`, `a register list is written in braces (DDI 0406, "LDM" and "PUSH"); the assembler takes a number for the mask`},
	{` refuse: (?i)_always \w+al\w*(\.w)? .*\bpc\b`, `AL written out within a block of AL; the assembler takes it only of what writes pc`},
	{` refuse: (?i)(_\w+ )?srs\w*(\.w)? .*\d!$`, `the '!' of SRS stands behind sp (DDI 0406, "SRS")`},
	{` divided refuse: (?i)(ldr|str)\w*[bh] r\d+, =`, `byte and halfword accesses relative to PC do not exist in T16 (DDI 0419, "LDRB (immediate)"); the assembler makes word accesses of them`},
	{` accept: (?i)_\w+ b\w*(\.w)? (#|-?\d+$|[a-z]+$)`, `what a branch goes to has no bearing on IT blocks; the assembler takes no number there`},
	{` accept: (?i)b\w*(\.[nw])? #:(lower|upper)16:`, `the assembler takes halves of addresses for MOVW and MOVT alone`},
	{`^armv(7e?-m|8-m)\S* \w+ refuse: (?i)(_\w+ )?blx\w*(\.w)? `, `BLX (immediate) does not exist where there is no A32 state (DDI 0403 has only "BLX (register)")`},
	{`^armv([67]\S*|8-a\S*) \w+ refuse: (?i)(_\w+ )?blx\w*(\.w)? \.[+-]\d+$`, `the target of BLX (immediate) is a word (DDI 0406, "BL, BLX (immediate)"); the assembler branches to the word around it`},
	{` accept: (_\w+ )?(mrs|msr)\w*(\.w)? (r0, )?(R8_USR|spsr_HYP)\b`, `capitals as elsewhere, and as LLVM takes them; the assembler's list of these names has gaps`},
	{` refuse: (?i)setend(\.n)? `, `SETEND takes BE or LE (DDI 0406, "SETEND")`},
	{` refuse: (?i)(_\w+ )?neg\w*(\.w)? (sp|pc|(\w+, )+(sp|pc)$)`, `NEG is RSB from 0, which has neither SP nor PC (DDI 0406, "RSB (immediate)"); the assembler looks at the registers of RSB alone`},
	{` unified refuse: (?i)(add|sub|mov)als(\.w)? (\w+, )?pc, `, `a condition inside the name is of the divided syntax (DDI 0406, "Assembler syntax")`},
	{`^armv8-m.base \w+ code \w+ for \w+: ldr\w* \w+, =429496729\d$`, `a literal is a word of 32 bits, as elsewhere`},
	{`^armv8-m.base unified accept: (?i)ld\w*(\.w)? \w+, =`, `MOVW holds the constant (DDI 0553, "MOV (immediate)"); the assembler makes it of LDR without a suffix alone`},
	{` divided refuse: (?i)it[te]* `, `IT is of the unified syntax (DDI 0406, "Assembler syntax"); the assembler takes it in the divided one too`},
	{` accept: (?i)(_\w+ )?strex[bh]\w*(\.w)? \w+, \w+, \[\w+, #?4294967296\]$`, `a constant is a word of 32 bits, as elsewhere`},
	{` accept: (?i)_\w+ ldr\w*(\.w)? pc, \.[+-]\d+$`, `within a block the assembler measures from another place, where the word is not aligned`},
	{` refuse: (?i)(_\w+ )?ld\w*\.n \w+, =`, `.n asks for a halfword (DDI 0406, "Instruction width selection"); the assembler writes MOVW`},
}

// TestAcceptT compares Thumb state with T32 with the assembler, as
// TestAccept does without. By default it takes a part of the statements; with
// NARROWGAUGE_THOROUGH=1 all of them.
func TestAcceptT(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	sample := reftest.Size(800*64, 480, 24)
	if reftest.List(reftest.Names) != nil {
		sample = 40
	}
	arches := archesT
	if only := reftest.List(reftest.Archs); only != nil {
		arches = only
	}
	c := compareAccept(t, arches, reftest.Options{Thumb: true, Prologue: prologueT()}, func(seed int, unified bool) []string { return statementsT(sample, seed, unified) }, askT)
	judge(t, append(acceptDisagreementsT, acceptDisagreementsTData...), c.cases, acceptDisagreements...)
	proof.Counted("accept/refuse T32: %d statements on %d architectures, %d accepted by both with the same code, %d of names that are not described, %d known disagreements", c.total, len(arches), c.taken, c.open, len(c.cases))
}
