package exec_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"os"
	osexec "os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"narrowgauge/isa"
	"narrowgauge/isa/exec"
	"narrowgauge/isa/reftest"
)

// byUser lists the rows that TestUnicorn does not run and a user-mode emulator does, by
// patterns of their names, and what is to be seen there.
var byUser = []struct {
	rows   string
	signal bool // it ends in the signal of undefined instructions
}{
	{`yield|wfe|wfi|t-(yield|wfe|wfi)-w|a-(yield|wfe|wfi)`, false},
	// In User mode SMC and HVC are undefined (DDI 0406C, B9.3.14, "SMC", and B9.3.4,
	// "HVC"), and HLT is where no debugger halts on it (DDI 0487, F5.1.70, "HLT"; from
	// memory): the exception shows that nothing else happens.
	{`hlt|a-hlt|[at]-(smc|hvc)`, true},
}

// userCase is one instruction in one state.
type userCase struct {
	row   *isa.Row
	word  uint32
	it    uint16 // the IT in front of it, 0 without one
	start exec.State
}

// userRecord is how many bytes a case hands back: r0 to r12, lr, sp, CPSR, and whether there was
// a signal, in words.
const userRecord = 68

// userProgram is the source of a program that runs cases and writes what came of them:
// each sets flags and registers, goes to the instruction in its instruction set without
// changing any, and stores them.
func userProgram(cases []userCase) string {
	var b strings.Builder
	b.WriteString(`	.syntax unified
	.arch armv7-a
	.section .prog, "awx", %progbits
	.arm
	.global _start
_start:	ldr r0, =stack
	mov r1, #0
	mov r7, #186 @ sigaltstack
	svc #0
	mov r0, #4 @ SIGILL
	ldr r1, =action
	mov r2, #0
	mov r3, #8
	mov r7, #174 @ rt_sigaction
	svc #0
	b begin
handler:
	ldr r3, =resume
	ldr r3, [r3]
	str r3, [r2, #92] @ pc of the context
	ldr r3, [r2, #96] @ cpsr: no IT block
	bic r3, r3, #0x06000000
	bic r3, r3, #0xfc00
	str r3, [r2, #96]
	mov r3, #1
	ldr r1, =raised
	str r3, [r1]
	bx lr
	.ltorg
begin:
`)
	for i, c := range cases {
		fmt.Fprintf(&b, "	ldr r0, 2f\n	ldr r1, 3f\n	str r0, [r1]\n	adr sp, 1f\n	ldr r0, [sp, #60]\n	msr cpsr_fs, r0\n	ldmia sp, {r0-r12, lr}\n	ldr sp, [sp, #56]\n")
		if c.row.State == isa.T {
			fmt.Fprintf(&b, "	ldr pc, 4f\n4:	.word 5f+1\n	.thumb\n5:\n")
			if c.it != 0 {
				fmt.Fprintf(&b, "	.inst.n %#x\n", c.it)
			}
			if c.row.Size() == 2 {
				fmt.Fprintf(&b, "	.inst.n %#x\n", c.word)
			} else {
				fmt.Fprintf(&b, "	.inst.w %#x\n", c.word)
			}
			// An alignment would put zeros there, which are instructions that set flags.
			pad := ""
			if (c.it != 0) != (c.row.Size() == 2) {
				pad = "	nop\n"
			}
			fmt.Fprintf(&b, "after%d:\n%s	bx pc\n	nop\n	.arm\n", i, pad)
		} else {
			fmt.Fprintf(&b, "	.inst %#x\nafter%d:\n", c.word, i)
		}
		fmt.Fprintf(&b, "	str sp, 6f\n	ldr sp, 7f\n	stmia sp, {r0-r12, lr}\n	mrs r0, cpsr\n	str r0, [sp, #60]\n	ldr r0, 6f\n	str r0, [sp, #56]\n	ldr r1, 8f\n	ldr r0, [r1]\n	str r0, [sp, #64]\n	mov r0, #0\n	str r0, [r1]\n	b 9f\n1:")
		for k := range 13 {
			fmt.Fprintf(&b, "	.word %#x\n", c.start.Regs[k])
		}
		fmt.Fprintf(&b, "	.word %#x, %#x, %#x\n2:	.word after%d\n3:	.word resume\n6:	.word 0\n7:	.word out+%d\n8:	.word raised\n9:\n", c.start.Regs[14], c.start.Regs[13], flagBits(c.start.Flags)|uint32(c.start.GE)<<16, i, i*userRecord)
	}
	fmt.Fprintf(&b, `	mov r0, #1
	ldr r1, =out
	ldr r2, =%d
	mov r7, #4 @ write
	svc #0
	mov r0, #0
	mov r7, #1 @ exit
	svc #0
	.ltorg
	.data
action:	.word handler, 0x48000004, 0, 0, 0 @ SA_NODEFER, SA_ONSTACK, SA_SIGINFO
stack:	.word room, 0, 0x10000
raised:	.word 0
resume:	.word 0
	.bss
	.balign 16
room:	.space 0x10000
out:	.space %[1]d
`, len(cases)*userRecord)
	return b.String()
}

// runUser runs cases, and gives their records.
func runUser(t *testing.T, cases []userCase) []byte {
	t.Helper()
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "in.s"), []byte(userProgram(cases)), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"arm-none-eabi-as", "-o", "in.o", "in.s"}, {"arm-none-eabi-ld", "--no-warn-rwx-segments", "-z", "max-page-size=4096", "-o", "in.elf", "in.o"}} {
		cmd := osexec.Command(args[0], args[1:]...)
		cmd.Dir = dir
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("%s: %v\n%.2000s", args[0], err, out)
		}
	}
	cmd := osexec.Command("qemu-arm", "-cpu", "max", "in.elf")
	cmd.Dir = dir
	var out, complaint bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &complaint
	if err := cmd.Run(); err != nil {
		t.Fatalf("%v: %s", err, complaint.Bytes())
	}
	if out.Len() != len(cases)*userRecord {
		t.Fatalf("%d bytes for %d cases", out.Len(), len(cases))
	}
	return out.Bytes()
}

// TestUserMode holds rows that TestUnicorn leaves out against an emulator of programs:
// many states in one process, registers and flags before and after.
func TestUserMode(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as", "arm-none-eabi-ld", "qemu-arm")
	t.Parallel()
	proof := reftest.Begin(t)
	states := reftest.Count(40, 1000, 5000)
	rnd := reftest.Rand(33, 30)
	target, _ := isa.Arch("armv8.5-a")
	var cases []userCase
	signal := map[*isa.Row]bool{}
	for _, k := range byUser {
		x := regexp.MustCompile("^(" + k.rows + ")$")
		found := 0
		for _, r := range slices.Concat(isa.Rows(), isa.RowsA32()) {
			if !x.MatchString(r.ID) {
				continue
			}
			found++
			if !r.Described() || !target.Have.Has(r.Need) {
				t.Errorf("row %s cannot run", r.ID)
				continue
			}
			signal[r] = k.signal
			for try, done := 0, 0; done < states && try < 50*states; try++ {
				base, mask := r.Pattern()
				c := userCase{row: r, word: base | rnd.Uint32()&^mask}
				if r.Size() == 2 {
					c.word &= 0xffff
				}
				if r.State == isa.A && r.Has("cond") {
					c.word = c.word&^(0xf<<28) | uint32(rnd.IntN(15))<<28
				}
				// These two ask the emulator for a service of its own.
				in, ok := decode(r, target.Have, c.word)
				if v := in.Values(); !ok || r.Name == "HLT" && (v.Get("imm6") == 0x3c || v.Get("imm16") == 0xf000) {
					continue
				}
				done++
				c.start = exec.State{Set: r.State, Have: target.Have, Flags: isa.Flags(rnd.IntN(16)), GE: uint8(rnd.IntN(16)), Mem: exec.NewSparse(nil)}
				if r.State == isa.T && r.IT != isa.ITNever && rnd.IntN(4) == 0 {
					c.it = uint16(0xbf08 | rnd.IntN(14)<<4)
				}
				for i := range 15 {
					c.start.Regs[i] = values[rnd.IntN(len(values))]
					if rnd.IntN(2) == 0 {
						c.start.Regs[i] = rnd.Uint32()
					}
				}
				cases = append(cases, c)
			}
		}
		if found == 0 {
			t.Errorf("there is no row %s", k.rows)
		}
	}
	out := runUser(t, cases)
	ran, failed := map[*isa.Row]int{}, 0
	for i, c := range cases {
		word := func(k int) uint32 { return binary.LittleEndian.Uint32(out[i*userRecord+4*k:]) }
		s := c.start
		s.Regs[15] = codeAt
		if c.it != 0 {
			s.IT = uint8(c.it)
		}
		in, _ := decode(c.row, target.Have, c.word)
		r := exec.Step(in.Values(), &s)
		var diff []string
		for k := range 15 {
			at := k
			if k >= 13 {
				at = 27 - k // lr is in front of sp
			}
			if word(at) != s.Regs[k] {
				diff = append(diff, fmt.Sprintf("%s %08x not %08x", isa.Reg(k), word(at), s.Regs[k]))
			}
		}
		if want := flagBits(s.Flags) | uint32(s.GE)<<16; word(15)&0xf00f0000 != want {
			diff = append(diff, fmt.Sprintf("flags %08x not %08x", word(15), want))
		}
		if want := signal[c.row] && r.Passed; word(16) == 1 != want || want != (r.End == exec.Trapped) {
			diff = append(diff, fmt.Sprintf("signal %v, %v", word(16) == 1, r))
		}
		ran[c.row]++
		if len(diff) > 0 {
			if failed++; failed > 10 {
				t.Fatal("too many differences")
			}
			t.Errorf("%s: %s (%08x, IT %04x) from %08x: %v", c.row.ID, in.Text(true, 0), c.word, c.it, c.start.Regs[:15], diff)
		}
	}
	proof.Counted("semantics in user mode: %d rows, %d states", len(ran), len(cases))
	for r := range signal {
		if ran[r] < states {
			t.Errorf("row %s: only %d cases ran", r.ID, ran[r])
		}
	}
}
