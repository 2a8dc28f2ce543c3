package analysis

import (
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
}

// runLamp carries out the routine lamp. What it calls and the text does not have changes all
// that the procedure call standard lets it change.
func runLamp(t *testing.T, text string, s exec.State) (out ran) {
	t.Helper()
	r := analyze(t, nil, text)
	img := image.New(eval.New(r.prog))
	s.Mem = exec.NewSparse(func(addr uint32) byte { return dataByte(r.prog, img, addr) })
	f := &r.prog.Items[r.prog.SymbolOf("lamp").Item]
	s.Regs[isa.PC], _ = image.Address(f.Section, f.Offset)
	out = ran{State: s, visited: map[int32]bool{}}
	for range 1000 {
		pc := out.Regs[isa.PC]
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
			out.Regs[isa.PC] = out.Regs[isa.LR] &^ 1
			continue
		}
		if it == nil || it.Match.Form == nil {
			out.data = true
			return out
		}
		out.visited[it.Line] = true
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

// TestRunCases is a table of routines, each with the lines that have findings and their codes.
func TestRunCases(t *testing.T) {
	t.Parallel()
	const m0 = "\t.syntax unified\n\t.cpu cortex-m0\n\t.thumb\n\t.thumb_func\n\t.global f\nf:\n"
	const m4 = "\t.syntax unified\n\t.cpu cortex-m4\n\t.thumb\n\t.thumb_func\n\t.global f\nf:\n"
	const a32 = "\t.syntax unified\n\t.cpu arm7tdmi\n\t.arm\n\t.type f, %function\n\t.global f\nf:\n"
	for _, c := range []struct{ name, head, text, want string }{
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
		{"LR popped elsewhere", m0, "push {r4, lr}|bl g|pop {r4}|bx lr", "4 return-address-lost|4 stack-balance"},
		{"LR restored", m0, "push {r4, lr}|bl g|pop {r4}|pop {r3}|mov lr, r3|bx lr", ""},
		{"LR kept in a register", a32, "mov r12, lr|mov r11, r12|push {r11, r12}|bl g|pop {r11, r12}|bx r12", "6 register-not-restored"},
		{"LR kept, returned by another", m0, "push {r4, lr}|mov r4, lr|bl g|mov r3, r4|pop {r4}|add sp, #4|bx r3", ""},
		{"tail call", m0, "movs r0, #1|b g", ""},
		{"not popped", m0, "push {r4}|movs r4, #0|mov r0, r4|bx lr", "4 stack-balance"},
		{"room not given back", m0, "push {r4, lr}|sub sp, #8|bl g|pop {r4, pc}", "4 stack-balance"},
		{"different on two ways", m0, "cmp r0, #0|beq 1f|push {r0}|1: adds r0, #1|bx lr", "4 stack-balance"},
		{"the same on two ways", m0, "push {r4}|cmp r0, #0|beq 1f|adds r0, #1|1: pop {r4}|bx lr", ""},
		{"frame pointer", m0, "push {r7, lr}|mov r7, sp|sub sp, #16|bl g|mov sp, r7|pop {r7, pc}", ""},
		{"two ends", m0, "push {r4, lr}|cmp r0, #0|beq 1f|bl g|pop {r4, pc}|1: pop {r4, pc}", ""},
		{"compare overwritten", m0, "cmp r0, #4|movs r1, #0|bhi 1f|movs r1, #2|1: bx lr", "3 flags-of-two-lines|3 condition-known"},
		{"compare overwritten, one flag", m0, "cmp r0, #4|movs r1, r2|beq 1f|movs r1, #2|1: bx lr", "1 compare-unused"},
		{"signed compare overwritten", m0, "cmp r0, #4|lsls r1, r2, #1|bgt 1f|movs r1, #2|1: bx lr", "3 flags-of-two-lines"},
		{"test overwritten", m0, "tst r0, r1|lsls r2, r2, #1|bne 1f|movs r1, #2|1: bx lr", "1 compare-unused"},
		{"compare used later", m0, "cmp r0, #4|mov r1, r2|bhi 1f|movs r1, #2|1: bx lr", ""},
		{"one flag of it is used", m0, "cmp r0, #4|adcs r1, r1|bx lr", ""},
		{"lines that keep the flags", a32, "cmp r0, #4|mov r1, #0|bhi 1f|mov r1, #2|1: bx lr", ""},
		{"in an IT block", m4, "cmp r0, #4|it hi|movhi r1, #0|bx lr", ""},
		{"compare in a loop", m0, "1: cmp r0, r1|bne 1b|bx lr", ""},
		{"known by a mask", m0, "movs r1, #1|ands r0, r1|cmp r0, #2|bhs 1f|movs r0, #9|1: bx lr", "4 condition-known"},
		{"a loop that counts", m0, "movs r2, #0|1: strb r2, [r0, r2]|adds r2, #1|cmp r2, #9|bne 1b|bx lr", ""},
		{"by bx without bit 0", m0, "ldr r0, =0x08000200|bx r0", "2 state-bit"},
		{"by blx with bit 0", m0, "push {r4, lr}|ldr r0, =0x08000201|blx r0|pop {r4, pc}", ""},
		{"a result in r0 and r1", m0, "push {r4, lr}|bl g|adds r0, r1|pop {r4, pc}", ""},
		{"r3 after a call", m0, "push {r4, lr}|movs r3, #1|bl g|adds r0, r3|pop {r4, pc}", "4 changed-by-call"},
		{"r3 after a routine of this file", m0, "push {r4, lr}|movs r3, #1|bl g|adds r0, r3|pop {r4, pc}|g: adds r0, #1|bx lr", ""},
		{"into data", m0, "adds r0, #1|table: .byte 1", "2 runs-out-of-code"},
		{"off the end", m0, "adds r0, #1", "1 runs-out-of-code"},
		{"a loop without an end", m0, "1: adds r0, #1|b 1b", ""},
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
