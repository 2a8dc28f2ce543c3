package analysis

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"narrowgauge/isa/reftest"
)

// apart puts each line into a section of its own. lines are those that are left,
// by number; the text has them at 2k+1, from 0.
func apart(lines []string, left []int) string {
	var b strings.Builder
	for _, i := range left {
		fmt.Fprintf(&b, ".section s%d,\"ax\",%%progbits\n%s\n", i, lines[i])
	}
	return b.String()
}

// sameLines compares the verdict on each line with the reference's. Each is a
// program of its own, but for the symbols; known says why we judge otherwise.
func sameLines(t *testing.T, opt reftest.Options, lines []string, known func(line string) string) (taken, refused int) {
	t.Helper()
	var left []int
	for i := range lines {
		left = append(left, i)
	}
	judge := func(i int, ref bool, message string) {
		switch {
		case ref == (message == "") || known(lines[i]) != "":
		case ref:
			t.Errorf("%s %v: false alarm: %s: %s", opt.Arch, opt.Thumb, lines[i], message)
		default:
			t.Errorf("%s %v: silence: %s", opt.Arch, opt.Thumb, lines[i])
		}
	}
	set := &Settings{Dialect: "dots", Arch: opt.Arch, StartMode: map[bool]string{true: "thumb", false: "arm"}[opt.Thumb], Syntax: map[bool]string{true: "unified", false: "divided"}[opt.Unified]}
	ours := map[int]string{}
	for l, m := range errorsByLine(analyze(t, set, apart(lines, left))) {
		ours[left[(l-1)/2]] = m
	}
	var run func(left []int)
	run = func(left []int) {
		for len(left) > 0 {
			ref := reftest.AssembleFile(t, opt, apart(lines, left))
			if ref.OK {
				break
			}
			if len(ref.ErrorLines) == 0 { // it broke down, or does not say where
				if len(left) > 1 {
					run(left[:len(left)/2])
					run(left[len(left)/2:])
				} else {
					judge(left[0], false, ours[left[0]])
					refused++
				}
				return
			}
			bad := map[int]bool{}
			for _, l := range ref.ErrorLines {
				i := left[(l-1)/2]
				bad[i] = true
				judge(i, false, ours[i])
			}
			refused += len(bad)
			left = slices.DeleteFunc(slices.Clone(left), func(i int) bool { return bad[i] })
		}
		taken += len(left)
		for _, i := range left {
			judge(i, true, ours[i])
		}
	}
	run(left)
	return taken, refused
}

// TestRelocationOperators puts every relocation operator into every kind of
// instruction that may have one, with symbols and numbers added, and labels where
// numbers belong, and compares the verdicts.
func TestRelocationOperators(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	var lines []string
	for _, name := range strings.Fields("pc_g0_nc pc_g0 pc_g1_nc pc_g1 pc_g2 pc_g2_nc sb_g0_nc sb_g0 sb_g1_nc sb_g1 sb_g2 lower0_7 lower8_15 upper0_7 upper8_15 lower16 upper16 PC_G0 Lower16 nosuch") {
		for _, form := range strings.Split("mov r0,%|movs r0,%|mvn r0,%|add r0,r1,%|adds r0,r1,%|addeqs r0,r1,%|add r0,%|adds r0,%|sub r0,r1,%|subs r0,%|and r0,r1,%|cmp r0,%|ldr r0,[r1,%]|ldr r0,[r1,%]!|ldr r0,[r1],%|str r0,[r1,%]|ldrb r0,[r1,%]|ldrh r0,[r1,%]|ldrsb r0,[r1,%]|ldrd r0,r1,[r2,%]|strd r0,r1,[r2,%]|ldc p1,c2,[r2,%]|stc2l p1,c2,[r2,%]|movw r0,%|movt r0,%|msr cpsr_f,%|ldrt r0,[r1],%|pld [r1,%]|add r0,r0,%|adr r0,%|ldr r0,=%|b %|svc %", "|") {
			lines = append(lines, strings.ReplaceAll(form, "%", "#:"+name+":ext"))
		}
	}
	for _, value := range strings.Fields("ext ext+4 ext+255 ext+256 ext+257 ext-1 ext-256 ext-257 ext+4095 ext+4096 ext+1020 ext+1024 ext+1 ext+0x7fff ext+0x8000 ext-0x8000 ext-0x8001 (ext) ext-. ext-ext2 ext*2 -ext ext-.+4 (ext-.) . .-4 ext>>1 there there+4 there-. 1+") {
		for _, form := range strings.Split("movw r0,#:lower16:%|movt r0,#:upper16:%|movw r0,:lower16:%|movs r0,#:lower0_7:%|adds r0,#:upper8_15:%|add r0,r0,#:pc_g0:%|ldr r0,[r1,#:pc_g1:%]|ldrh r0,[r1,#:sb_g0:%]|ldc p1,c1,[r0,#:pc_g0:%]|movw r0,#: lower16 : %|movw r0,#4+:lower16:%|movw r0,#(:lower16:%)", "|") {
			lines = append(lines, strings.ReplaceAll(form, "%", value))
		}
	}
	for _, name := range strings.Fields("PLT plt Plt GOT GOTOFF TLSCALL tlscall nosuch") {
		for _, form := range strings.Split("b x+4(%)|bl x(%)|bl (x)(%)|bl x (%)|beq x(%)|bl x(%)+4|adr r0,x(%)|ldr r0,x(%)|ldr r0,=x(%)|mov r0,#x(%)|ldr r0,[r1,#x(%)]|ldr r0,[r1,x(%)]|movw r0,#:lower16:x(%)|.word x(%)|.word x(%)+4|.word 4+x(%)|.word (x(%))|.word x-y(%)|.hword x(%)|.set s,x(%)|.space x(%)|.org x(%)|.size x,x(%)|.align x(%)|.uleb128 x(%)|.if x(%);.endif|.rept x(%);.endr|.cfi_sections x(%)", "|") {
			lines = append(lines, strings.ReplaceAll(form, "%", name))
		}
	}
	for _, label := range strings.Fields("here here+1 . there there-here weakly 1f") {
		for _, form := range strings.Split("mov r0,#%|movs r0,#%|mov r0,%|mvn r0,#%|add r0,r1,#%|add r0,r1,%|add r0,#%|adds r0,#%|sub r0,r1,#%|cmp r0,#%|tst r0,%|add r0,pc,#%|add r0,sp,#%|add sp,#%|msr cpsr_f,#%|movw r0,#%|movt r0,#%|ldr r0,[r1,#%]|ldr r0,[r1],#%|strb r0,[r1,#%]|lsl r0,r1,#%|svc #%|svc %|ssat r0,#%,r1|mov r0,r1,lsl #%|bkpt %", "|") {
			lines = append(lines, strings.ReplaceAll(form, "%", label)+"; here%[1]d: 1: nop")
		}
	}
	t.Parallel()
	proof := reftest.Begin(t)
	lines = reftest.Sample(lines, 11)
	taken, refused := 0, 0
	for _, x := range []struct {
		arch           string
		thumb, unified bool
	}{
		{"armv4t", false, false}, {"armv4t", true, false}, {"armv5te", true, true}, {"armv6-m", true, true}, {"armv7-a", false, true}, {"armv7-a", true, true},
		{"armv7-m", true, true}, {"armv7-m", true, false}, {"armv8-m.base", true, true},
	} {
		here := make([]string, len(lines))
		for i, l := range lines {
			l = strings.ReplaceAll(l, "here%[1]d", fmt.Sprintf("here%d", i))
			here[i] = regexp.MustCompile(`([ #,=[-])here\b`).ReplaceAllString(l, fmt.Sprintf("${1}here%d", i))
		}
		opt := reftest.Options{Arch: x.arch, Thumb: x.thumb, Unified: x.unified}
		all := append(here, "there: nop", ".weak weakly; weakly: nop")
		a, b := sameLines(t, opt, all, func(line string) string {
			for _, k := range knownOperators {
				if regexp.MustCompile(k[0]).MatchString(line) {
					return k[1]
				}
			}
			return ""
		})
		taken, refused = taken+a, refused+b
	}
	proof.Counted("relocation operators: %d lines taken, %d refused", taken, refused)
}

// knownOperators are the lines where we judge otherwise, with the reason.
var knownOperators = [][2]string{
	{`(?i)^movs r0,#:(pc|sb)_g`, `the group relocations are of ADD and SUB (AAELF32, "Static ARM relocations"); the reference takes MOVS as well, and not MOV`},
	{`^(b|beq) x(\+4)?\((GOT|GOTOFF|got|gotoff)\)`, `there is no such relocation for a branch (AAELF32); the reference drops the operator`},
	{`^beq x\((TLSCALL|tlscall)\)`, `the reference has another form for it on ARMv8-M Baseline than on all others`},
	{`:(lower0_7|pc_g0|pc_g1|upper8_15):1\+`, `an operator takes a part of an address, and this is a number; the reference drops the operator in the compact state`},
	{`^add r0,r0,#:pc_g0:\.`, `the group relocations are of A32 (AAELF32, "Static ARM relocations"); the reference drops the operator in T32`},
	{`there-here\d+;`, `the distance between two sections is the linker's; the reference takes that of the offsets in them for some constants of T32`},
}
