package isa_test

import (
	"fmt"
	"slices"
	"strings"

	"narrowgauge/isa"
)

// The statements that go to the assembler and to the table: every mnemonic
// with every shape of operands, registers of each sort and constants around
// every limit. They come from a list of names and shapes, not from the table,
// so that what the table lacks is tried too.

// outsideNames are names of the A32, T16 and T32 instruction sets, of both
// syntaxes, without suffixes.
var outsideNames = strings.Fields(`
	adc add adr and asr b bal bcc bcs beq bfc bfi bge bgt bhi bhs bic bkpt bl ble blo bls blt blx bmi bne bpl bul bvc bvs
	bx bxj bxns blxns cbnz cbz cdp clrex clz cmn cmp cps cpsid cpsie cpy csdb dbg dmb dsb eor eret hint hlt hvc isb
	it itt ite ittt itte itet itee itttt iteee
	lda ldaex ldc ldm ldmda ldmdb ldmea ldmed ldmfa ldmfd ldmia ldmib ldr ldrb ldrbt ldrd ldrex ldrexb ldrh ldrht ldrsb ldrsbt
	ldrsh ldrt ldsb ldsh lsl lsr asl mcr mcrr mla mls mov movs movt movw mrc mrs msr mul muls mvn neg negs nop orn orr pkhbt pld pli
	pop push qadd qsub rbit rev rev16 revsh rfeia ror rrx rsb rsc sbc sbfx sdiv sel setend sev sevl smc smlal smulbb smull
	srsia ssat stc stl stm stmda stmdb stmea stmed stmfa stmfd stmia stmib str strb strbt strd strex strh strht strt sub
	subw addw svc swi swp swpb sxtab sxtb sxtb16 sxth tbb teq tst udf udiv umull usat uxtab uxtb uxth
	wfe wfi yield vadd.f32 vldr vmov ldrsb.w adds subs ands eors lsls lsrs asrs adcs sbcs rors rsbs orrs bics mvns
	cmps cmns tsts cmpp tstp teqp moval addal addeq addseq addeqs moveq movseq moveqs subne ldreq ldrbeq ldreqb streq pusheq popeq
	ldmeqia ldmiaeq stmneia bxeq blxeq bleq nopeq svceq swieq muleq mulseq mvnne negne cmpeq tstne
	revs uxtbs pushs pops bxs ldrs strs nops bls.n ble.n blt.n bl.n bl.w b.n b.w beq.n beq.w add.n add.w adds.n adds.w sub.n sub.w subs.n subs.w
	mov.n mov.w movs.n movs.w cmp.n cmp.w ldr.n ldr.w str.n str.w ldrb.n ldrh.w ldrsb.n push.n push.w pop.n pop.w ldm.n ldmia.n ldmia.w stm.n stmia.w
	nop.n nop.w lsl.n lsls.n lsls.w lsr.n and.n ands.n ands.w eor.n mul.n muls.n mvn.n mvns.n mvns.w neg.n rsb.n rsbs.n rsbs.w tst.n bx.n bx.w blx.n blx.w
	svc.n swi.n bkpt.n udf.n udf.w rev.n rev.w sxth.n sxth.w adr.n adr.w cbz.n it.n cpsid.n cpsie.w dmb.n dmb.w msr.w mrs.n setend.n sev.w wfi.n hint.n hint.w yield.n hlt.n cpy.n
	addals addsal movals movsal ldralb ldrbal ldmal ldmalia ldmiaal stmeaal stmal pushal popal bxal blxal blal svcal bkptal nopal cpyal negal negsal mulsal mulal cmpal tstal reval
	seval setendal cpsidal udfal hltal dmbal mrsal msral adral cmpsal balal ldsbal ldalsb lslals lslsal hintal isbal yieldal swial ldrshal ldralsh strhal stralh cbzal ldral stral beqal
	`)

// registers has one of each sort.
var registers = []string{"r0", "r1", "r7", "r8", "r12", "sp", "lr", "pc"}

// limits are the largest values of the table's constants and offsets.
var limits = []int{0, 3, 7, 8, 15, 31, 32, 62, 63, 124, 126, 127, 255, 256, 508, 510, 1020, 1024, 65535}

// constants are the limits with their neighbours, negative ones, and large
// ones. few is a handful of them.
var constants, few = func() (all, few []string) {
	m := map[int]bool{}
	for _, l := range limits {
		for d := -4; d <= 4; d++ {
			m[l+d] = true
		}
		for d := -1; d <= 1; d++ {
			m[-l+d] = true
		}
	}
	for _, v := range []int{-1 << 31, -4096, 4096, 65536, 1<<31 - 1, 1 << 31, 1<<32 - 1, 1<<32 - 4, 1<<32 - 256, 1 << 32, -1<<32 + 4} {
		m[v] = true
	}
	for v := range m {
		all = append(all, fmt.Sprint(v))
	}
	slices.Sort(all)
	return all, strings.Fields("-256 -8 -4 -1 0 1 2 4 7 8 31 32 124 255 256 508 1020 4294967295")
}()

// distances are offsets of branch and literal targets around their limits.
var distances = func() (out []string) {
	m := map[int]bool{}
	for _, l := range []int{0, 4, -252, 258, -2044, 2050, -1<<22 + 4, 1<<22 + 2, -1<<24 + 4, 1<<24 + 2, 130, 1024, -1020} {
		for d := -8; d <= 8; d++ {
			m[l+d] = true
		}
	}
	for v := range m {
		out = append(out, fmt.Sprintf(".%+d", v))
	}
	slices.Sort(out)
	return out
}()

// lists are register lists: of low and high registers, in and out of order.
var lists = []string{"{r0}", "{r1}", "{r7}", "{r8}", "{lr}", "{pc}", "{sp}", "{r0, r1}", "{r0-r7}", "{r1-r3}", "{r0-r7, lr}", "{r0-r7, pc}",
	"{r0, r8}", "{r4-r11}", "{r0-r15}", "{lr, pc}", "{r0, lr, pc}", "{r3, sp}", "{r1, r0}", "{r0, r0}", "{}", "{r7-r0}", "{r0-r0}", "{R0-R3, LR}",
	"{r0 - r3}", "{r0,r2-r4,r6}", "{ r5 }", "{r0, r12}", "{r2-r7}", "{r4, r5, r6, r7, lr}", "r0", "r0-r3", "{r0}^", "{r0,}", "{r0 r1}", "{#1}", "{r0|r1}", "{r13-r15}", "{r1, r2, r3, pc}"}

var (
	words = strings.Fields(`sy st ish ishst nsh nshst osh oshst un unst sh shst ld ishld SY Sy i f a if ai aif fi I AIF eq ne cs hs cc lo ul mi al le be LE BE EQ nv
		apsr APSR iapsr eapsr xpsr ipsr epsr iepsr msp psp MSP PRIMASK primask control CONTROL basepri basepri_max faultmask cpsr spsr cpsr_f cpsr_c cpsr_all apsr_nzcvq apsr_g apsr_nzcvqg
		apsr_NZCVQ xPSR xPSR_nzcvq Xpsr IAPSR_nzcvq XPSR_nzcvq EAPSR_nzcvq iapsr_nzcvq xpsr_nzcvq APSR_nzcvq xpsr_all eapsr_nzcvq ipsr_nzcvq msplim msp_ns foo`)
	// generic are shapes for every name.
	generic = strings.Split(strings.TrimSpace(`
r0
r8
pc
lr
R1
r0!
#0
#1
#255
#256
5
foo
.
.+8
{r0}
{r0, lr}
{pc}
[r0]
sy
i
le
eq
r0, r1
r0, r0
r8, r0
r0, r8
r8, r9
sp, r0
r0, sp
pc, lr
R3, R4
r0, #0
r0, #1
r0, #255
r0, #256
r0, #-1
r8, #1
sp, #4
sp, #508
sp, #5
pc, #4
r0, 4
r0, foo
r0, .+8
r0, .+7
r0, .-4
#1, r0
r0!, r1
r0, r1!
r0, r1, r2
r0, r0, r1
r0, r1, r0
r8, r8, r0
r0, r0, r8
r8, r9, r10
r0, r1, #0
r0, r1, #1
r0, r1, #7
r0, r1, #8
r0, r0, #8
r0, r0, #255
r0, r1, #31
r0, r1, #32
r0, r1, 3
sp, sp, #8
r0, sp, #8
r0, pc, #8
r0, sp, r0
sp, sp, r0
r0, r1, lsl #2
r0, r1, r2, lsl #2
r0, r1, lsl r2
r0, r1, r2, r3
r0, r1, r2, #3
r0, r1, #2, #3
r0, r0, r0, r0
r0, lsl #2
r0, [r1]
r0, [r1, #0]
r0, [r1, #4]
r0, [r1, #2]
r0, [r1, #1]
r0, [r1, #-4]
r0, [r1, #124]
r0, [r1, #128]
r0, [r1, r2]
r0, [r1, -r2]
r0, [r1, +r2]
r0, [r1, r2, lsl #2]
r0, [r1, r2]!
r0, [r1, #4]!
r0, [r1], #4
r0, [r1], r2
r0, [r1]!
r8, [r1]
r0, [r8]
r0, [sp]
r0, [sp, #4]
r0, [sp, r1]
r0, [r1, sp]
r0, [r1, r8]
r0, [pc]
r0, [pc, #8]
r0, [pc, r1]
r0, [r1, 4]
r0, [r1, foo]
r0, [#4]
r0, [r1
[r1], r0
r0, r1, [r2]
r0, [r1], [r2]
r0, {r1}
r0!, {r1}
r0!, {r0}
r0!, {r0, r1}
r0!, {r1, r2}
r8!, {r1}
sp!, {r1}
sp!, {r1, lr}
sp!, {r1, pc}
sp, {r1}
sp!, {r8}
r0, {r0, r1}
r0!, {r8}
r0!, {}
{}
{r0-r7}
{r8}
{r0}, r1
r0, apsr
r0, primask
r0, basepri
faultmask, r0
r8, primask
sp, primask
r0, cpsr
primask, r0
apsr, r0
apsr_nzcvq, r0
cpsr_f, r0
cpsr_f, #1
#1, #2
i, #16
#0, #1
#16
#15
-1
#
r0,
, r0
r0 r1
r16
r0, r16
r0, #x
r0, #foo
r0, r1, foo
r0, =5
r0, r1, =5
r0, #1+2
r0, #(3)
r0, #0x10
r0, #0b11
r0, #'a'
r0, $5
r0, # 5
r0 , r1
a1, v1
ip, fp
r0, wr
sb, sl
`), "\n")
)

// shapes are operand texts for names that Thumb state may have.
func shapes(thorough bool) (out []string) {
	add := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	for _, a := range registers {
		add("%s", a)
		add("%s!", a)
		for _, b := range registers {
			add("%s, %s", a, b)
		}
	}
	three := []string{"r0", "r1", "r7", "r8", "sp", "pc"}
	for _, a := range three {
		for _, b := range three {
			for _, c := range three {
				add("%s, %s, %s", a, b, c)
			}
		}
	}
	for _, c := range constants {
		add("#%s", c)
		add("%s", c)
		add("r0, #%s", c)
		add("sp, #%s", c)
		add("r7, %s", c)
		for _, ab := range []string{"r0, r0", "r0, r1", "sp, sp", "r0, sp", "r0, pc"} {
			add("%s, #%s", ab, c)
		}
		for _, m := range []string{"r0, [r1, #%s]", "r0, [sp, #%s]", "r0, [pc, #%s]", "r7, [r7, #%s]"} {
			add(m, c)
		}
	}
	for _, c := range few {
		for _, a := range registers {
			add("%s, #%s", a, c)
			for _, b := range registers {
				add("%s, %s, #%s", a, b, c)
			}
		}
		add("r0, r1, %s", c)
		add("r0, r0, %s", c)
		add("sp, sp, %s", c)
		add("r0, sp, %s", c)
		add("r0, pc, %s", c)
		add("sp, %s", c)
		add("r8, %s", c)
		for _, m := range []string{"r8, [r1, #%s]", "r0, [r8, #%s]", "r8, [sp, #%s]", "r0, [lr, #%s]", "sp, [sp, #%s]", "pc, [sp, #%s]", "r0, [r1, #%s]!", "r0, [r1], #%s", "r0, [sp], #%s", "r0, [r1, %s]", "r0, [sp, %s]"} {
			add(m, c)
		}
	}
	for _, a := range three {
		add("%s, [r1]", a)
		add("r0, [%s]", a)
		for _, b := range three {
			for _, c := range three {
				add("%s, [%s, %s]", a, b, c)
			}
		}
	}
	for _, d := range distances {
		add("%s", d)
		add("r0, %s", d)
	}
	add("r7, .+8")
	add("r8, .+8")
	add("sp, .+8")
	for _, l := range lists {
		add("%s", l)
		for _, b := range []string{"r0!", "r0", "r1!", "r1", "r2!", "r7!", "r7", "r8!", "sp!", "sp", "lr!", "pc!", "R3!"} {
			add("%s, %s", b, l)
		}
	}
	for _, w := range words {
		add("%s", w)
		add("r0, %s", w)
		add("%s, r0", w)
	}
	for _, r := range registers {
		for _, w := range []string{"primask", "control", "msp"} {
			add("%s, %s", r, w)
			add("%s, %s", w, r)
		}
	}
	return out
}

// upper writes a statement in capitals, as many authors do.
func upper(s string) string { return strings.ToUpper(s) }

// always are statements that are known to be judged otherwise; they are tried on
// every run.
var always = strings.Split("nop {1}|bl .+16777214|bl .-16777212|nopeq|nop {r0}|blx .+2|stm sp!, {r0, r1}|ldsb r0, [r1, r2]!|add r0, sp, r1|hlt|setend r0|udf.w #1", "|")

// statements builds all of them for one architecture and syntax. With sample
// above 1 every so many-th of the thorough part is kept, with sparse above 1
// every so many-th of the shapes for every name.
func statements(sample, sparse, phase int) (out []string) {
	seen := map[string]bool{}
	add := func(s string) {
		if !seen[s] {
			seen[s] = true
			out = append(out, s)
		}
	}
	for _, s := range always {
		add(s)
	}
	names := map[string]bool{}
	for _, n := range outsideNames {
		names[n] = true
	}
	full := map[string]bool{}
	for _, m := range isa.Mnemonics() {
		if m.Forms[0].Row.Vector() {
			continue // TestAcceptV
		}
		names[m.Name] = true
		// Branches on a condition and IT patterns are alike: the short list
		// and the distances do for most.
		full[m.Name] = !strings.HasPrefix(m.Name, "it") || m.Name == "it" || m.Name == "ite"
	}
	sorted := make([]string, 0, len(names))
	for n := range names {
		sorted = append(sorted, n)
	}
	slices.Sort(sorted)
	thorough := shapes(true)
	for i, n := range sorted {
		add(n)
		add(upper(n))
		for k, g := range generic {
			if (k+i+phase)%sparse == 0 {
				add(n + " " + g)
			}
		}
		add(upper(n + " r0, r1"))
		add(upper(n + " r0, #1"))
		add(upper(n + " r0, [r1]"))
		if !full[n] {
			continue
		}
		for k, s := range thorough {
			if sample <= 1 || (k+i+phase)%sample == 0 {
				add(n + " " + s)
			}
		}
	}
	return out
}
