package analysis

import (
	"slices"
	"strconv"
	"strings"
	"testing"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/image"
	"narrowgauge/isa"
	"narrowgauge/isa/exec"
)

// ran is how a routine ended.
type ran struct {
	exec.State
	end      exec.End // of the last line
	returned bool     // it came back to its caller
	rounded  bool     // the low bits of an address have not been looked at
	data     bool     // it came to data, or to where nothing is
	visited  map[int32]bool
	state    bool     // it came to code of the other state
	uneven   bool     // the stack was no multiple of 8 where it called something
	stores   []string // the sections that it stored to
}

// runLamp carries out the routine lamp. What it calls and the text does not have changes all
// that the procedure call standard lets it change.
func runLamp(t *testing.T, text string, s exec.State) (out ran) {
	t.Helper()
	r := analyze(t, nil, text)
	img := image.New(eval.New(r.prog))
	s.Mem = exec.NewSparse(func(addr uint32) byte { return dataByte(r.prog, img, addr, 0) })
	f := &r.prog.Items[r.prog.SymbolOf("lamp").Item]
	s.Regs[isa.PC], _ = image.Address(f.Section, f.Offset)
	out = ran{State: s, visited: map[int32]bool{}}
	defer func() {
		for _, a := range out.Log {
			if sec, _, ok := image.Place(a.Addr); ok && a.Store {
				out.stores = append(out.stores, r.prog.Sections[sec].Name)
			}
		}
	}()
	called := true // a linker sees to the state of what is called by name
	for range 1000 {
		pc := out.Regs[isa.PC]
		if next := img.At(pc); next != nil && next.Match.Form != nil && !called && r.prog.Environments[next.Environment].Mode != out.Set {
			out.state = true
			return out
		}
		called = false
		if pc == returnTo {
			out.returned = true
			return out
		}
		it := img.At(pc)
		if _, _, own := image.Place(pc); it == nil && !own && !image.Invented(pc) {
			for _, g := range []isa.Reg{0, 1, 2, 3, 12} {
				out.Regs[g] = 0xdead0000 + uint32(g)
			}
			out.Flags ^= isa.NZCV
			out.uneven = out.uneven || out.Regs[isa.SP]&7 != 0
			out.Regs[isa.PC] = out.Regs[isa.LR] &^ 1
			if out.Set = isa.A; out.Regs[isa.LR]&1 != 0 {
				out.Set = isa.T
			}
			continue
		}
		if it == nil || it.Match.Form == nil {
			out.data = true
			return out
		}
		out.visited[it.Line] = true
		called = it.Match.Form.Row.Flow == isa.FlowCall
		res, ok := img.Step(it, &out.State, true)
		if out.end, out.rounded = res.End, out.rounded || res.Rounded; !ok || res.End != exec.Done {
			return out
		}
	}
	return out
}

// TestRunExamples carries out the examples of the checks of what goes wrong when a program
// runs: the bad one does so in the way that the check says, the good one does not.
func TestRunExamples(t *testing.T) {
	t.Parallel()
	state := func(change func(s *exec.State)) exec.State {
		s := exec.State{}
		for r := range isa.Reg(13) {
			s.Regs[r] = 0x20000000 + uint32(r)*0x100
		}
		s.Regs[isa.SP], s.Regs[isa.LR] = 0x30000000, returnTo|1
		if change != nil {
			change(&s)
		}
		return s
	}
	plain := state(nil)
	differs := func(text string, a, b exec.State) bool { // by what is handed back or stored
		x, y := runLamp(t, text, a), runLamp(t, text, b)
		return x.Regs[0] != y.Regs[0] || x.Mem.Load(0x20000000) != y.Mem.Load(0x20000000) || len(x.visited) != len(y.visited)
	}
	for code, wrong := range map[string]func(text string) bool{
		finding.CodeMisaligned: func(text string) bool { return runLamp(t, "\t.thumb_func\nlamp:\n"+text, plain).end == exec.Misaligned },
		finding.CodeReturnLost: func(text string) bool { return !runLamp(t, text, plain).returned },
		finding.CodeStackBalance: func(text string) bool {
			x := runLamp(t, text, plain)
			return !x.returned || x.Regs[isa.SP] != plain.Regs[isa.SP]
		},
		// The compare decides nothing: whatever r0 is, the same lines are carried out.
		finding.CodeCompareUnused: func(text string) bool {
			return !differs(text, state(func(s *exec.State) { s.Regs[0] = 1 }), state(func(s *exec.State) { s.Regs[0] = 9 }))
		},
		finding.CodeFlagsOfTwo: func(text string) bool {
			return !differs(text, state(func(s *exec.State) { s.Regs[0] = 1 }), state(func(s *exec.State) { s.Regs[0] = 9 }))
		},
		finding.CodeConditionKnown: func(text string) bool {
			a := runLamp(t, text, state(func(s *exec.State) { s.Regs[0] = 2 }))
			b := runLamp(t, text, state(func(s *exec.State) { s.Regs[0] = 9 }))
			return len(a.visited) == len(b.visited)
		},
		finding.CodeNotRestored: func(text string) bool { return runLamp(t, text, plain).Regs[4] != plain.Regs[4] },
		finding.CodeChangedByCall: func(text string) bool {
			return runLamp(t, text, plain).Mem.Load(plain.Regs[4]) != 1&0xff && strings.Contains(text, "#1") && !storedOne(runLamp(t, text, plain))
		},
		finding.CodeRunsOut: func(text string) bool { return runLamp(t, text, plain).data },
		finding.CodeUnreached: func(text string) bool {
			x := runLamp(t, text, state(func(s *exec.State) { s.Regs[0] = 1 }))
			return len(x.visited) < strings.Count(text, "\n")-5
		},
		finding.CodeValueUnused: func(text string) bool {
			x, y := runLamp(t, text, plain), runLamp(t, text, state(func(s *exec.State) { s.Regs[0] = 7 }))
			return x.Mem.Load(plain.Regs[1]) == y.Mem.Load(plain.Regs[1]) && x.Mem.Load(plain.Regs[1]+1) == y.Mem.Load(plain.Regs[1]+1)
		},
		finding.CodeStateKept:  func(text string) bool { return runLamp(t, text, plain).state },
		finding.CodeReturnMade: func(text string) bool { return runLamp(t, text, plain).state },
		finding.CodeFlagsUnset: func(text string) bool {
			return differs(text, plain, state(func(s *exec.State) { s.Flags = isa.Z }))
		},
		finding.CodeReadUnset:  func(text string) bool { return loadsUnwritten(runLamp(t, text, plain), plain.Regs[isa.SP]) },
		finding.CodeStackAlign: func(text string) bool { return runLamp(t, text, plain).uneven },
		finding.CodeReadOnly:   func(text string) bool { return slices.Contains(runLamp(t, text, plain).stores, ".rodata") },
		finding.CodeConditionIdle: func(text string) bool {
			x, y := runLamp(t, text, plain), runLamp(t, text, state(func(s *exec.State) { s.Regs[0] = 0 }))
			return x.Mem.Load(plain.Regs[1]) == y.Mem.Load(plain.Regs[1])
		},
		finding.CodeEndless: func(text string) bool {
			return !runLamp(t, text, state(func(s *exec.State) { s.Regs[2] = 3 })).returned
		},
	} {
		c := finding.ByCode(code)
		if !wrong(c.Bad) {
			t.Errorf("%s: the bad example does nothing wrong:\n%s", code, c.Bad)
		}
		if wrong(c.Good) {
			t.Errorf("%s: the good example goes wrong:\n%s", code, c.Good)
		}
	}
}

// storedOne says whether the byte 1 has been stored where r4 is.
func storedOne(x ran) bool {
	for _, a := range x.Log {
		if a.Store && a.Size == 1 && a.Value == 1 {
			return true
		}
	}
	return false
}

// loadsUnwritten says whether something below a stack pointer has been loaded that nothing has
// stored.
func loadsUnwritten(x ran, sp uint32) bool {
	stored := map[uint32]bool{}
	for _, a := range x.Log {
		if a.Store {
			stored[a.Addr] = true
		} else if a.Addr < sp && sp-a.Addr < 256 && !stored[a.Addr] {
			return true
		}
	}
	return false
}

// TestRunCases is a table of routines, each with the lines that have findings and their codes.
func TestRunCases(t *testing.T) {
	t.Parallel()
	const m0 = "\t.syntax unified\n\t.cpu cortex-m0\n\t.thumb\n\t.thumb_func\n\t.global f\nf:\n"
	const m4 = "\t.syntax unified\n\t.cpu cortex-m4\n\t.thumb\n\t.thumb_func\n\t.global f\nf:\n"
	const a32 = "\t.syntax unified\n\t.cpu arm7tdmi\n\t.arm\n\t.type f, %function\n\t.global f\nf:\n"
	for _, c := range []struct{ name, head, text, want string }{
		{"vectors that begin with a branch", a32, "b f|ldr pc, und|ldr pc, [pc, #-4]|und: .word 0", ""},
		{"vectors of all kinds", a32, "b f|ldr pc, und|subs pc, lr, #4|b .|nop|movs pc, lr|b f|und: .word 0", ""},
		{"no vectors", a32, "b f|bx lr", "2 never-reached"},
		{"a branch and what no core chooses", a32, "b f|mov r0, #1|bx lr", "2 never-reached"},
		{"word at an odd address", m0, "ldr r0, =0x40020001|ldr r1, [r0, #4]|bx lr", "2 misaligned-access"},
		{"word store", m0, "ldr r0, =0x40020002|str r1, [r0]|bx lr", "2 misaligned-access"},
		{"halfword", m0, "ldr r0, =0x40020001|ldrh r1, [r0]|bx lr", "2 misaligned-access"},
		{"after a mask", m0, "movs r1, #3|orrs r0, r1|ldr r1, [r0]|bx lr", "3 misaligned-access"},
		{"aligned by a mask", m0, "movs r1, #3|bics r0, r1|ldr r1, [r0]|bx lr", ""},
		{"unknown address", m0, "adds r0, #1|ldr r1, [r0]|bx lr", ""},
		{"allowed on ARMv7-M", m4, "ldr r0, =0x40020001|ldr r1, [r0]|bx lr", ""},
		{"LDM and LDRD fault on ARMv7-M", m4, "ldr r0, =0x40020001|ldmia r0!, {r1, r2}|ldr r0, =0x40020002|ldrd r2, r3, [r0]|bx lr", "2 misaligned-access|4 misaligned-access"},
		{"rotated on ARMv4T", a32, "ldr r0, =0x40020001|ldr r1, [r0]|strh r1, [r0, #2]|ldrb r1, [r0]|bx lr", "2 misaligned-access|3 misaligned-access"},
		{"in a loop with a step", m0, "ldr r0, =0x20000001|movs r2, #4|1: str r1, [r0]|adds r0, #4|subs r2, #1|bne 1b|bx lr", "3 misaligned-access"},
		{"LR lost", m0, "bl g|bx lr", "2 return-address-lost"},
		{"LR lost on one way", m0, "cmp r0, #0|beq 1f|bl g|1: bx lr", "4 return-address-lost"},
		{"LR lost through a register", a32, "mov lr, pc|mov r0, #1|bl g|mov pc, lr", "4 return-address-lost"},
		{"LR loaded on the same condition", a32, "push {r4, lr}|cmp r0, #3|blne g|cmp r0, #4|ldmgt sp!, {r4, lr}|addgt r0, r0, #1|bxgt lr|pop {r4, lr}|bx lr", ""},
		{"LR loaded on the condition of the call, which is evaluated again", a32, "teq r8, #0|stmneia sp, {r0-r6, lr}|blne g|teq r8, #0|ldmneia sp, {r0-r6, lr}|add r0, r0, r8|bx lr", "1 read-before-set"},
		{"LR loaded on the condition of the call, of another comparison", a32, "teq r8, #0|stmneia sp, {r0-r6, lr}|blne g|teq r8, #1|ldmneia sp, {r0-r6, lr}|bx lr", "1 read-before-set|6 return-address-lost"},
		{"LR loaded on the condition of the call, of another register", a32, "teq r8, #0|stmneia sp, {r0-r6, lr}|blne g|teq r7, #0|ldmneia sp, {r0-r6, lr}|bx lr", "1 read-before-set|4 read-before-set|6 return-address-lost"},
		{"LR loaded on the condition of the call, of a register that it changes", a32, "teq r3, #0|stmneia sp, {r0-r6, lr}|blne g|teq r3, #0|ldmneia sp, {r0-r6, lr}|bx lr", "4 changed-by-call|6 return-address-lost"},
		{"LR loaded on the other condition than the call", a32, "teq r8, #0|stmneia sp, {r0-r6, lr}|blne g|teq r8, #0|ldmeqia sp, {r0-r6, lr}|bx lr", "1 read-before-set|6 return-address-lost"},
		{"LR loaded on another condition", a32, "push {r4, lr}|bl g|cmp r0, #4|ldmgt sp!, {r4, lr}|bxlt lr|b g", "5 return-address-lost"},
		{"C that a shift by a register keeps", m0, "lsls r0, r1|bx lr", ""},
		{"C that is added", m0, "adcs r0, r1|bx lr", "1 flags-unset"},
		{"C that is shifted in", a32, "movs r0, r0, rrx|bx lr", "1 flags-unset"},
		{"LR popped elsewhere", m0, "push {r4, lr}|bl g|pop {r4}|bx lr", "4 return-address-lost"},
		{"LR restored", m0, "push {r4, lr}|bl g|pop {r4}|pop {r3}|mov lr, r3|bx lr", ""},
		{"LR kept in a register", a32, "mov r12, lr|mov r11, r12|push {r11, r12}|bl g|pop {r11, r12}|bx r12", "6 register-not-restored"},
		{"LR kept, returned by another", m0, "push {r4, lr}|mov r4, lr|bl g|mov r3, r4|pop {r4}|add sp, #4|bx r3", ""},
		{"tail call", m0, "movs r0, #1|b g", ""},
		{"counted for profiling", m4, "push {lr}|bl __gnu_mcount_nc|cmp r0, r1|it eq|bxeq lr|adds r0, r0, r2|bx lr", ""},
		{"counted for profiling, and another call", m4, "push {lr}|bl __gnu_mcount_nc|push {r4, lr}|movs r4, r0|bl lamp|adds r0, r0, r4|pop {r4, pc}", ""},
		{"counted for profiling, LR lost then", m4, "push {lr}|bl __gnu_mcount_nc|bl lamp|bx lr", "4 return-address-lost"},
		{"counted for profiling without a word", m4, "bl __gnu_mcount_nc|adds r0, r0, r2|bx lr", "3 return-address-lost|3 stack-balance"},
		{"not popped", m0, "push {r4}|movs r4, #0|mov r0, r4|bx lr", "4 stack-balance"},
		{"room not given back", m0, "push {r4, lr}|sub sp, #8|bl g|pop {r4, pc}", "4 stack-balance"},
		{"room not given back, returned by another", m0, "sub sp, #12|push {lr}|bl g|pop {r3}|bx r3", "5 stack-balance"},
		{"room given back, returned by another", m0, "sub sp, #12|push {lr}|bl g|pop {r3}|add sp, #12|bx r3", ""},
		{"a place that others know of", m0, "push {r4}|movs r4, #0|svc #0|.global lamp|lamp: pop {r4}|bx lr", ""},
		{"into the next function", m0, "movs r0, #1|.size f, .-f|.balign 4|.thumb_func|.global lamp|lamp: movs r1, #2|bx lr", "6 runs-out-of-code"},
		{"into another name of the same", m0, "movs r0, #1|.thumb_func|.global lamp|lamp: movs r1, #2|bx lr|.size f, .-f", ""},
		{"on to a function after a branch", m0, "bx lr|.size f, .-f|.thumb_func|.global lamp|lamp: movs r1, #2|bx lr", ""},
		{"different on two ways", m0, "cmp r0, #0|beq 1f|push {r0}|1: adds r0, #1|bx lr", "4 stack-balance"},
		{"the same on two ways", m0, "push {r4}|cmp r0, #0|beq 1f|adds r0, #1|1: pop {r4}|bx lr", ""},
		{"frame pointer", m0, "push {r7, lr}|mov r7, sp|sub sp, #16|bl g|mov sp, r7|pop {r7, pc}", ""},
		{"a routine that returns for its caller", m0, "push {r4, lr}|cmp r0, #0|beq 1f|bl help|1: pop {r4, pc}|help: cmp r1, #0|beq 2f|bx lr|2: pop {r4, pc}", ""},
		{"one that takes too much for that", m0, "push {r4, lr}|bl help|pop {r4, pc}|help: cmp r1, #0|beq 2f|bx lr|2: pop {r4, r5, r6, pc}", "7 stack-balance"},
		{"one that another caller has less on the stack for", m0, "push {r4, lr}|bl help|bl other|pop {r4, pc}|other: push {lr}|bl help|pop {pc}|help: cmp r1, #0|beq 2f|bx lr|2: pop {r4, pc}", "11 stack-balance"},
		{"two ends", m0, "push {r4, lr}|cmp r0, #0|beq 1f|bl g|pop {r4, pc}|1: pop {r4, pc}", ""},
		{"compare overwritten", m0, "cmp r0, #4|movs r1, #0|bhi 1f|movs r1, #2|1: bx lr", "3 flags-of-two-lines|3 condition-known"},
		{"compare overwritten, one flag", m0, "cmp r0, #4|movs r1, r2|beq 1f|movs r1, #2|1: bx lr", "1 compare-unused"},
		{"signed compare overwritten", m0, "cmp r0, #4|lsls r1, r2, #1|bgt 1f|movs r1, #2|1: bx lr", "3 flags-of-two-lines"},
		{"test overwritten", m0, "tst r0, r1|lsls r2, r2, #1|bne 1f|movs r1, #2|1: bx lr", "1 compare-unused"},
		{"compare used later", m0, "cmp r0, #4|mov r1, r2|bhi 1f|movs r1, #2|1: bx lr", ""},
		{"one flag of it is used", m0, "cmp r0, #4|adcs r1, r1|bx lr", ""},
		{"lines that keep the flags", a32, "cmp r0, #4|mov r1, #0|bhi 1f|mov r1, #2|1: bx lr", ""},
		{"in an IT block", m4, "cmp r0, #4|it hi|movhi r1, #0|bx lr", ""},
		{"compare in a loop", m0, "1: cmp r0, r1|bne 1b|bx lr", "2 loop-without-end"},
		{"a loaded value with itself", m0, "ldrb r2, [r0]|cmp r2, r2|bhs 1f|movs r0, #9|1: bx lr", "3 condition-known"},
		{"a value with itself and 1", m0, "ldrb r2, [r0]|adds r3, r2, #1|cmp r3, r2|bne 1f|movs r0, #9|1: bx lr", "4 condition-known"},
		{"loaded twice", m0, "ldrb r2, [r0]|ldrb r3, [r0]|cmp r2, r3|bne 1f|movs r0, #9|1: bx lr", ""},
		{"the same of another time around", m0, "movs r3, #0|1: cmp r2, r3|beq 2f|mov r2, r3|ldrb r3, [r0]|adds r0, #1|b 1b|2: bx lr", ""},
		{"known by a mask", m0, "movs r1, #1|ands r0, r1|cmp r0, #2|bhs 1f|movs r0, #9|1: bx lr", "4 condition-known"},
		{"a loop that counts", m0, "movs r2, #0|1: strb r2, [r0, r2]|adds r2, #1|cmp r2, #9|bne 1b|bx lr", ""},
		{"by bx without bit 0", m0, "ldr r0, =0x08000200|bx r0", "2 state-bit"},
		{"a table at an index with bounds", m0, "cmp r0, #1|bhi 1f|lsls r0, #2|ldr r1, =t|ldr r1, [r1, r0]|bx r1|1: bx lr|g: movs r0, #1|bx lr|h: movs r0, #2|bx lr|.ltorg|.section .rodata|.balign 4|t: .word g+1, h", "15 state-bit"},
		{"a table in code", m0, "cmp r0, #1|bhi 1f|lsls r0, #2|ldr r1, =t|ldr r1, [r1, r0]|bx r1|1: bx lr|g: movs r0, #1|bx lr|h: movs r0, #2|bx lr|.ltorg|.balign 4|t: .word g, h+1", "14 state-bit"},
		{"a table that is right", m0, "cmp r0, #1|bhi 1f|lsls r0, #2|ldr r1, =t|ldr r1, [r1, r0]|bx r1|1: bx lr|g: movs r0, #1|bx lr|h: movs r0, #2|bx lr|.ltorg|.section .rodata|.balign 4|t: .word g+1, h+1", ""},
		{"beyond the bounds of the index", m0, "cmp r0, #1|bhi 1f|lsls r0, #2|ldr r1, =t|ldr r1, [r1, r0]|bx r1|1: bx lr|g: movs r0, #1|bx lr|h: movs r0, #2|bx lr|.ltorg|.section .rodata|.balign 4|t: .word g+1, h+1, g", ""},
		{"bit 0 set after the load", m0, "cmp r0, #1|bhi 1f|lsls r0, #2|ldr r1, =t|ldr r1, [r1, r0]|adds r1, #1|bx r1|1: bx lr|g: movs r0, #1|bx lr|h: movs r0, #2|bx lr|.ltorg|.section .rodata|.balign 4|t: .word g, h", ""},
		{"bit 0 set twice", m0, "cmp r0, #1|bhi 1f|lsls r0, #2|ldr r1, =t|ldr r1, [r1, r0]|adds r1, #1|bx r1|1: bx lr|g: movs r0, #1|bx lr|h: movs r0, #2|bx lr|.ltorg|.section .rodata|.balign 4|t: .word g, h+1", "16 state-bit"},
		{"a table that is not gone by", m0, "cmp r0, #1|bhi 1f|lsls r0, #2|ldr r1, =t|ldr r1, [r1, r0]|str r1, [r2]|1: bx lr|g: movs r0, #1|bx lr|h: movs r0, #2|bx lr|.ltorg|.section .rodata|.balign 4|t: .word g, h", ""},
		{"a table that can be written to", m0, "cmp r0, #1|bhi 1f|lsls r0, #2|ldr r1, =t|ldr r1, [r1, r0]|bx r1|1: bx lr|g: movs r0, #1|bx lr|h: movs r0, #2|bx lr|.ltorg|.data|.balign 4|t: .word g, h", ""},
		{"a table of calls, at any index", m4, "push {r4, lr}|ldr r1, =t|ldr r1, [r1, r0, lsl #2]|blx r1|pop {r4, pc}|g: movs r0, #1|bx lr|.ltorg|.section .rodata|.balign 4|t: .word g+1|.word g|u: .word g", "12 state-bit"},
		{"a table of pairs, at any index", m4, "ldr r1, =t|ldr r1, [r1, r0, lsl #3]|bx r1|g: movs r0, #1|bx lr|.ltorg|.section .rodata|.balign 4|t: .word g+1, g|.word g+1, g", ""},
		{"a table of bytes at any index", m4, "ldr r1, =t|ldr r1, [r1, r0]|bx r1|g: movs r0, #1|bx lr|.ltorg|.section .rodata|.balign 4|t: .word g+1, g", ""},
		{"loaded to pc from a table", m4, "and r0, r0, #4|ldr r1, =t|ldr pc, [r1, r0]|g: movs r0, #1|bx lr|.ltorg|.section .rodata|.balign 4|t: .word g+1, g", "9 state-bit"},
		{"a table of A32 code", a32, "and r0, r0, #1|ldr r1, =t|ldr r1, [r1, r0, lsl #2]|bx r1|g: mov r0, #1|bx lr|.ltorg|.section .rodata|.balign 4|t: .word g, g+1", "10 state-bit"},
		{"by blx with bit 0", m0, "push {r4, lr}|ldr r0, =0x08000201|blx r0|pop {r4, pc}", ""},
		{"a result in r0 and r1", m0, "push {r4, lr}|bl g|adds r0, r1|pop {r4, pc}", ""},
		{"r3 after a call", m0, "push {r4, lr}|movs r3, #1|bl g|adds r0, r3|pop {r4, pc}", "4 changed-by-call"},
		{"r3 after a routine of this file", m0, "push {r4, lr}|movs r3, #1|bl g|adds r0, r3|pop {r4, pc}|g: adds r0, #1|bx lr", ""},
		{"into data", m0, "adds r0, #1|table: .byte 1", "2 runs-out-of-code"},
		{"off the end", m0, "adds r0, #1", "1 runs-out-of-code"},
		{"a loop without an end", m0, "1: adds r0, #1|b 1b", ""},
		{"a counter that is not counted", m0, "movs r2, #9|1: strb r1, [r0]|adds r0, #1|cmp r2, #0|bne 1b|bx lr", "5 loop-without-end"},
		{"a counter that passes its end", m0, "movs r2, #0|1: adds r2, #2|cmp r2, #9|bne 1b|bx lr", "4 loop-without-end"},
		{"without sign, never below 0", m0, "1: subs r2, #1|cmp r2, #0|bhs 1b|bx lr", "3 loop-without-end"},
		{"by cbnz", m4, "1: strb r1, [r0], #1|cbz r2, 2f|b 1b|2: bx lr", "2 loop-without-end"},
		{"by a return on a condition", a32, "1: add r0, r0, #1|cmp r1, #4|bxeq lr|b 1b", "3 loop-without-end"},
		{"a loop that waits for memory", m0, "1: ldr r1, [r0]|cmp r1, #0|beq 1b|bx lr", ""},
		{"two conditions, one of them changes", m0, "1: adds r0, #1|cmp r2, #0|beq 2f|cmp r0, #9|bne 1b|2: bx lr", ""},
		{"a condition on another way", m0, "1: subs r1, #1|bne 1b|cmp r2, #0|bne 1b|bx lr", ""},
		{"a loop of one line", m0, "cmp r0, #0|1: bne 1b|bx lr", ""},
		{"a loop that calls", m0, "push {r4, lr}|movs r4, #9|1: bl g|cmp r4, #0|bne 1b|pop {r4, pc}", ""},
		{"a loop that traps", m0, "1: svc #1|cmp r4, #0|bne 1b|bx lr", ""},
		{"a special register", a32, "1: mrc p15, 0, r0, c0, c0, 0|cmp r0, #0|bne 1b|bx lr", ""},
		{"flags that nobody set", m0, "beq 1f|movs r0, #0|1: bx lr", "1 flags-unset"},
		{"a shift by a register, which may keep the carry", m0, "lsls r0, r1|bx lr", ""},
		{"carry that nobody set", a32, "adc r0, r0, r1|bx lr", "1 flags-unset"},
		{"flags on one way only", m0, "movs r2, r0|1: adcs r1, r1|bx lr", "2 flags-unset"},
		{"flags set on one of two ways", a32, "tst r0, #1|addne r1, r1, #1|bxeq lr|bx lr", ""},
		{"flags given to a routine of this file", m0, "cmp r0, #0|b g|.thumb_func|g: bne 1f|movs r0, #1|1: bx lr", ""},
		{"flags kept aside", a32, "mrs r0, cpsr|bx lr", ""},
		{"r5 read first", m0, "adds r0, r5|bx lr", "1 read-before-set"},
		{"r5 saved first", m0, "push {r4, r5}|mov r12, r5|movs r5, #1|adds r0, r5|pop {r4, r5}|bx lr", ""},
		{"address in r6", m0, "str r0, [r6]|bx lr", "1 read-before-set"},
		{"cleared by itself", a32, "push {r4, lr}|eor r4, r4, r4|add r0, r0, r4|pop {r4, lr}|bx lr", ""},
		{"a word that is not stored", m0, "sub sp, #8|str r0, [sp]|ldr r1, [sp, #4]|add sp, #8|mov r0, r1|bx lr", "3 read-before-set"},
		{"a word stored on one way", m0, "sub sp, #8|cmp r0, #0|beq 1f|str r0, [sp]|1: ldr r0, [sp]|add sp, #8|bx lr", ""},
		{"an argument on the stack", m0, "ldr r0, [sp]|bx lr", ""},
		{"a buffer that a call fills", m0, "push {r4, lr}|sub sp, #8|mov r0, sp|bl g|ldr r0, [sp]|add sp, #8|pop {r4, pc}", ""},
		{"a pop for its room", m0, "push {r4, lr}|sub sp, #4|push {r0}|bl g|pop {r1, r2}|pop {r4, pc}", ""},
		{"below what was popped", m0, "push {r0}|pop {r1}|sub sp, #4|ldr r0, [sp]|add sp, #4|bx lr", "4 read-before-set"},
		{"odd number of registers at a call", m0, "push {r4, r5, lr}|bl g|pop {r4, r5, pc}", "2 stack-alignment"},
		{"even number and room for 4 bytes", m0, "push {r4, lr}|sub sp, #4|bl g|add sp, #4|pop {r4, pc}", "3 stack-alignment"},
		{"odd number at a call of this file", m0, "push {lr}|bl g|pop {pc}|g: bx lr", ""},
		{"flags after a call", m0, "push {r4, lr}|cmp r0, #1|bl g|beq 1f|movs r0, #0|1: pop {r4, pc}", "4 changed-by-call"},
		{"flags of a comparison of the run-time ABI", m0, "push {r4, lr}|bl __aeabi_cfcmple|bhi 1f|movs r0, #0|1: pop {r4, pc}", ""},
		{"flags of a routine of this file", m0, "push {r4, lr}|bl g|bhi 1f|movs r0, #0|1: pop {r4, pc}|g: cmp r0, #4|bx lr", ""},
		{"lr without bit 0", m0, "push {r4, lr}|mov lr, pc|bx r1|pop {r4, pc}", "3 return-address-made"},
		{"lr made too early", a32, "push {r4, lr}|mov lr, pc|mov r0, #1|bx r1|pop {r4, lr}|bx lr", "4 return-address-made"},
		{"lr made right", a32, "push {r4, lr}|mov lr, pc|bx r1|pop {r4, lr}|bx lr", ""},
		{"lr with bit 0", m0, "push {r4, lr}|mov r2, pc|adds r2, #5|mov lr, r2|bx r1|pop {r4, pc}", ""},
		{"a store beside the code", m0, "adr r1, t|str r0, [r1]|bx lr|.balign 4|t: .word 0", "2 store-read-only"},
		{"a store to constants", m0, "ldr r1, =t|str r0, [r1]|bx lr|.section .rodata|.balign 4|t: .word 0", "2 store-read-only"},
		{"a store right behind constants", m0, "ldr r1, =t|str r0, [r1, #4]|bx lr|.section .rodata|.balign 4|t: .word 0", ""},
		{"a store to data", m0, "ldr r1, =t|str r0, [r1]|bx lr|.data|.balign 4|t: .word 0", ""},
		{"a store to zeros", m0, "ldr r1, =t|str r0, [r1]|bx lr|.bss|.balign 4|t: .space 4", ""},
		{"a branch to the next line", m0, "cmp r0, #0|beq 1f|1: bx lr", "2 condition-without-effect"},
		{"a value that is there", a32, "ldrb r0, [r0]|cmp r0, #5|moveq r0, #5|bx lr", "3 condition-without-effect"},
		{"another value", a32, "cmp r0, #5|moveq r0, #4|bx lr", ""},
		{"both alike", a32, "cmp r0, #5|addeq r1, r1, #1|addne r1, r1, #1|bx lr", "3 condition-without-effect"},
		{"opposite, not alike", a32, "cmp r0, #5|addeq r1, r1, #1|addne r1, r1, #2|bx lr", ""},
		{"pc loaded in Thumb code of ARMv4T", "\t.syntax unified\n\t.cpu arm7tdmi\n\t.thumb\n\t.thumb_func\n\t.global f\nf:\n", "push {r4, lr}|bl g|pop {r4, pc}", ""},
		{"pc loaded on ARMv4T, with A32 code", "\t.syntax unified\n\t.cpu arm7tdmi\n\t.thumb\n\t.thumb_func\n\t.global f\nf:\n", "push {r4, lr}|bl g|pop {r4, pc}|.arm|h: bx lr", "3 state-not-changed"},
		{"pc loaded on ARMv5T", "\t.syntax unified\n\t.cpu arm946e-s\n\t.thumb\n\t.thumb_func\n\t.global f\nf:\n", "push {r4, lr}|bl g|pop {r4, pc}", ""},
		{"moved to pc", a32, "ldr r1, =g|mov pc, r1|.thumb|.thumb_func|g: bx lr", "2 state-not-changed"},
		{"loaded to pc", a32, "ldr pc, =g|.thumb|.thumb_func|g: bx lr", "1 state-not-changed"},
		{"by bx", a32, "ldr r1, =g|bx r1|.thumb|.thumb_func|g: bx lr", ""},
		{"moved to pc on ARMv7", "\t.syntax unified\n\t.cpu cortex-a8\n\t.arm\n\t.type f, %function\n\t.global f\nf:\n", "ldr r1, =g|mov pc, r1|.thumb|.thumb_func|g: bx lr", ""},
		{"a return to code of the other state", a32, "push {r4, lr}|bl g|pop {r4, lr}|bx lr|.thumb|.thumb_func|g: push {r4, lr}|pop {r4, pc}", "8 state-not-changed"},
	} {
		text := c.head + "\t" + strings.ReplaceAll(c.text, "|", "\n\t") + "\n"
		r := analyze(t, nil, text)
		var got []string
		for _, d := range r.Diagnostics() {
			if d.Code == finding.CodeExternal || d.Code == finding.CodeUnpredictable {
				continue
			}
			got = append(got, strings.TrimSpace(strings.Join([]string{strconv.Itoa(r.in.File.LineAt(d.Span.Start) - 5), d.Code}, " ")))
		}
		if s := strings.Join(got, "|"); s != c.want {
			t.Errorf("%s:\n got %s\nwant %s\n%s", c.name, s, c.want, text)
			for _, d := range r.Diagnostics() {
				t.Log(d.Message)
			}
		}
	}
}

// TestReturnLeft holds that a routine which has saved the return address, but does not load it
// again, is told where that is; one that has popped it elsewhere is not.
func TestReturnLeft(t *testing.T) {
	for src, left := range map[string]bool{
		"push {r4, lr}|bl g|pop {r4}|bx lr":          true,
		"push {lr}|sub sp, #8|bl g|add sp, #8|bx lr": true,
		"push {r4, lr}|bl g|pop {r4, r5}|bx lr":      false,
		"bl g|bx lr":                                 false,
	} {
		text := ".syntax unified\n.cpu cortex-m0\n.thumb\n.global f\n.thumb_func\nf:\n" + strings.ReplaceAll(src, "|", "\n") + "\n"
		told := false
		for _, d := range analyze(t, nil, text).Diagnostics() {
			if d.Code == "return-address-lost" {
				told = true
				if got := strings.Contains(d.Message, "still on the stack"); got != left {
					t.Errorf("%s: %s", src, d.Message)
				}
			}
		}
		if !told {
			t.Errorf("%s: nothing is said", src)
		}
	}
}
