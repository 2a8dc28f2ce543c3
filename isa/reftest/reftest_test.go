package reftest

import (
	"bytes"
	"debug/elf"
	"encoding/binary"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
)

// le16 and le32 are code as bytes, little-endian.
func le16(words ...uint16) []byte {
	var b []byte
	for _, w := range words {
		b = binary.LittleEndian.AppendUint16(b, w)
	}
	return b
}

func le32(words ...uint32) []byte {
	var b []byte
	for _, w := range words {
		b = binary.LittleEndian.AppendUint32(b, w)
	}
	return b
}

var (
	v4t    = Options{Arch: "armv4t", Unified: true, Thumb: true}
	v4tOld = Options{Arch: "armv4t", Thumb: true}
	v4tA32 = Options{Arch: "armv4t", Unified: true}
	v6m    = Options{Arch: "armv6-m", Unified: true, Thumb: true}
	v7a    = Options{Arch: "armv7-a", Unified: true, Thumb: true}
)

// known are statements with encodings worked out by hand from the diagrams of
// the Arm ARM (each instruction's page, "Encoding T1" and "Encoding A1"), those
// as remembered. What this package's tests cite of the Arm ARM and of AAELF32
// is from memory throughout; two tools besides the assembler confirm it.
var known = []struct {
	opt    Options
	source string
	code   []byte
}{
	{v4t, "movs r0, #1", le16(0x2001)},              // 00100 Rd imm8
	{v4t, "adds r0, r1, r2", le16(0x1888)},          // 0001100 Rm Rn Rd
	{v4t, "strh r1, [r2, #62]", le16(0x87d1)},       // 10000 imm5 Rn Rt
	{v4t, "ldr r3, [sp, #4]", le16(0x9b01)},         // 10011 Rt imm8
	{v4t, "push {r0, r1, lr}", le16(0xb503)},        // 1011010M list
	{v4t, "mov r8, r1", le16(0x4688)},               // 01000110 D Rm Rd
	{v4t, "svc #5", le16(0xdf05)},                   // 11011111 imm8
	{v4t, "bl .+260", le16(0xf000, 0xf880)},         // 11110 S imm10, 11 J1 1 J2 imm11, from PC
	{v4t, "beq .-4", le16(0xd0fc)},                  // 1101 cond imm8, from PC
	{v4tOld, "add r0, r1, r2", le16(0x1888)},        // divided syntax sets flags unsaid
	{v4tA32, "mov r0, #1", le32(0xe3a00001)},        // cond 00111010 0000 Rd imm12
	{v4tA32, "ldrh r0, [r1, #2]", le32(0xe1d100b2)}, // cond 000 P U 1 W 1 Rn Rt imm4H 1011 imm4L
	{v4tA32, "bx lr", le32(0xe12fff1e)},             // cond 00010010 … 0001 Rm
	{v4tA32, "b .-8", le32(0xeafffffc)},             // cond 1010 imm24, from PC
	{v6m, "rev r0, r1", le16(0xba08)},               // 1011101000 Rm Rd
	{v6m, "dmb sy", le16(0xf3bf, 0x8f5f)},           // 111100111011 … 0101 option
	{v7a, "cbz r0, .+4", le16(0xb100)},              // 101100 i 1 imm5 Rn, from PC
	{v7a, "add.w r0, r0, r1", le16(0xeb00, 0x0001)}, // 11101011000 S Rn 0 imm3 Rd …
}

func TestKnownEncodings(t *testing.T) {
	for _, k := range known {
		v := Assemble(t, k.opt, []string{k.source})[0]
		if k.source == "bx lr" && len(v.Relocs) == 1 && v.Relocs[0].Type == elf.R_ARM_V4BX {
			v.Relocs = nil // see Verdict.Relocs
		}
		if !v.OK || v.Warned || !bytes.Equal(v.Bytes, k.code) || len(v.Relocs) != 0 {
			t.Errorf("%s: %+v, want % x", k.source, v, k.code)
		}
	}
}

func TestDisassemblers(t *testing.T) {
	for _, k := range Sample(known, 5) {
		if !k.opt.Unified {
			continue // disassembly is unified
		}
		// Something in front, so that branch targets show their base.
		front := le16(0x2002, 0x2002)
		if !k.opt.Thumb {
			front = le32(0xe3a00002)
		}
		code := slices.Concat(front, k.code)
		want := Inst{Offset: len(front), Size: len(k.code), Text: Normalise(k.source, 0)}
		for tool, insts := range map[string][]Inst{
			"objdump": Objdump(t, k.opt.Arch, k.opt.Thumb, code),
			"llvm":    LLVM(t, k.opt.Arch, k.opt.Thumb, code),
		} {
			if len(insts) == 0 || insts[len(insts)-1] != want {
				t.Errorf("%s: %s: %+v, want %+v", tool, k.source, insts, want)
			}
		}
	}
}

// Lines that are refused, at once or late, and lines that reach out for their
// neighbours, between lines that must not notice.
func TestLinesAreIndependent(t *testing.T) {
	opt := v7a
	opt.Prologue = ".equ track, 12\n.macro twice op\n\\op\n\\op\n.endm"
	cases := []struct {
		line string
		ok   bool
		code []byte // unchecked where nil
	}{
		{"movs r0, #track", true, le16(0x200c)},
		{"movs r0, #256*1024+1", false, nil},
		{"bogus r0", false, nil},
		{"it eq", true, le16(0xbf08)},
		{"moveq r0, #1", false, nil}, // no IT block reaches it
		{"movs r0, #1", true, le16(0x2001)},
		{"b.n .+5000", false, nil}, // found late, in the fix-ups
		{"b 1f", false, nil},       // refused without a line number
		{"1: b 1b", true, le16(0xe7fe)},
		{"b 1b", false, nil},
		{"points: b points", true, nil},
		{"points: nop", true, nil}, // again: no conflict
		{"b points", true, nil},    // another symbol, undefined
		{".if 0", false, nil},
		{"nop", true, le16(0xbf00)},
		{".else", false, nil},
		{"/* open", true, []byte{}}, // to the end of the source
		{"nop /* closed */", true, le16(0xbf00)},
		{".ascii \"open", true, []byte{}},
		{".ascii \"shut\"", true, []byte("shut")},
		{".macro m", false, nil},
		{".endm", true, []byte{}}, // with a warning
		{".arm", true, nil},
		{"nop", true, le16(0xbf00)},
		{"nop; bogus", false, nil},
		{"nop; nop", true, le16(0xbf00, 0xbf00)},
		{"twice nop", true, le16(0xbf00, 0xbf00)},
		{"twice bogus", false, nil},
		{"signal = 3", true, nil},
		{"movs r0, #signal", false, nil},
		{"lamp .req r3", true, nil},
		{"movs lamp, #1", false, nil},
		{".equ track, 13", true, nil},
		{"movs r0, #track", true, le16(0x200c)},
		{".end", true, nil},
		{"", true, []byte{}},
		{"@ nothing", true, []byte{}},
		{".word 1, 2", true, le32(1, 2)},
		{"movs r0, #2", true, le16(0x2002)},
	}
	var lines []string
	for _, c := range cases {
		lines = append(lines, c.line)
	}
	// In both orders: nothing may depend on what is in front.
	for range 2 {
		verdicts := Assemble(t, opt, lines)
		for i, c := range cases {
			v := verdicts[i]
			if v.OK != c.ok || v.Crashed || c.code != nil && !bytes.Equal(v.Bytes, c.code) || !v.OK && v.Bytes != nil {
				t.Errorf("%q: %+v, want OK %v, % x", c.line, v, c.ok, c.code)
			}
		}
		slices.Reverse(cases)
		slices.Reverse(lines)
	}
}

// Each verdict of several batches is at its own line's place.
func TestManyLines(t *testing.T) {
	var lines []string
	for i := range 3*batchSize + 7 {
		lines = append(lines, fmt.Sprintf("movs r%d, #%d", i%8, i%300))
	}
	for i, v := range Assemble(t, v4t, lines) {
		n, rd := i%300, i%8
		if v.OK != (n < 256) || v.OK && !bytes.Equal(v.Bytes, le16(uint16(0x2000|rd<<8|n))) {
			t.Fatalf("%q: %+v", lines[i], v)
		}
	}
	if v := Assemble(t, v4t, nil); len(v) != 0 {
		t.Errorf("no lines: %v", v)
	}
}

func TestLineDetails(t *testing.T) {
	v := Assemble(t, v4t, []string{
		"ldr r0, =0x12345678",
		"bl station",
		"push {r1, r0}", // not in ascending order
		"push {r0, r1}",
	})
	// LDR (literal) T1: 01001 Rt imm8; from PC rounded down to 4, which is 4.
	if a := v[0]; !bytes.Equal(a.Bytes, le16(0x4800)) || !bytes.HasSuffix(a.Pool, le32(0x12345678)) {
		t.Errorf("literal: %+v", a)
	}
	// The addend of R_ARM_THM_CALL is -4 (AAELF32, "Addends and PC-bias").
	want := []Reloc{{0, elf.R_ARM_THM_PC22, "station"}}
	if a := v[1]; !a.OK || !slices.Equal(a.Relocs, want) || !bytes.Equal(a.Bytes, le16(0xf7ff, 0xfffe)) {
		t.Errorf("call: %+v", a)
	}
	if !v[2].OK || !v[2].Warned || v[3].Warned {
		t.Errorf("warning: %+v %+v", v[2], v[3])
	}
}

func TestOptions(t *testing.T) {
	// REV came with ARMv6 (Arm ARM, "REV"); divided syntax has no ADDS in T16
	// code but for its own reading of ADD.
	for _, c := range []struct {
		opt  Options
		line string
		ok   bool
	}{
		{v4t, "rev r0, r1", false},
		{v6m, "rev r0, r1", true},
		{v4t, "movs r0, #1", true},
		{v4t, "mov r0, #1", false},
		{v4tOld, "mov r0, #1", true},
		{v4tA32, "mov r0, #1", true},
		{Options{Unified: true, Thumb: true, Arch: "armv7-a"}, "addeq r0, r1", false},
		{Options{Unified: true, Thumb: true, Arch: "armv7-a", Flags: []string{"-mimplicit-it=always"}}, "addeq r0, r1", true},
	} {
		if v := Assemble(t, c.opt, []string{c.line})[0]; v.OK != c.ok {
			t.Errorf("%+v: %q: %+v", c.opt, c.line, v)
		}
	}
}

const program = `	.section .text.signal, "ax", %progbits
	.global	signal_set
	.type	signal_set, %function
signal_set:
	push	{lr}
	bl	lamp_on
.Lagain:
	ldr	r0, =lamps
	pop	{pc}
	.size	signal_set, . - signal_set
	.ltorg
	.arm
a32_entry:
	bx	lr
	.bss
lamps:	.space	8
	.equ	sections, 5
	.comm	shared, 4
`

func TestAssembleFile(t *testing.T) {
	f := AssembleFile(t, v4t, program)
	if !f.OK || len(f.ErrorLines)+len(f.WarnLines) != 0 {
		t.Fatalf("%+v", f)
	}
	// push T1; bl with addend -4; ldr literal, to 12 from PC = 8; pop T1; the
	// pool; bx A1.
	text := slices.Concat(le16(0xb500, 0xf7ff, 0xfffe, 0x4801, 0xbd00, 0x0000), le32(0, 0xe12fff1e))
	if got := f.Sections[".text.signal"]; !bytes.Equal(got, text) {
		t.Errorf("code: % x, want % x", got, text)
	}
	if got := f.Sections[".bss"]; !bytes.Equal(got, make([]byte, 8)) {
		t.Errorf("bss: % x", got)
	}
	want := map[string]Sym{
		"signal_set": {".text.signal", 0, 10, elf.STT_FUNC, elf.STB_GLOBAL, true},
		".Lagain":    {".text.signal", 6, 0, elf.STT_NOTYPE, elf.STB_LOCAL, true},
		"a32_entry":  {".text.signal", 16, 0, elf.STT_NOTYPE, elf.STB_LOCAL, false},
		"lamps":      {".bss", 0, 0, elf.STT_NOTYPE, elf.STB_LOCAL, false},
		"lamp_on":    {"", 0, 0, elf.STT_NOTYPE, elf.STB_GLOBAL, false},
		"sections":   {"*ABS*", 5, 0, elf.STT_NOTYPE, elf.STB_LOCAL, false},
		"shared":     {"*COM*", 4, 4, elf.STT_OBJECT, elf.STB_GLOBAL, false},
	}
	if !maps.Equal(f.Symbols, want) {
		t.Errorf("symbols: %+v\nwant %+v", f.Symbols, want)
	}
	relocs := []Reloc{{2, elf.R_ARM_THM_PC22, "lamp_on"}, {12, elf.R_ARM_ABS32, ".bss"}, {16, elf.R_ARM_V4BX, ""}}
	if got := f.Relocs[".text.signal"]; !slices.Equal(got, relocs) {
		t.Errorf("relocations: %+v", got)
	}
}

func TestAssembleFileErrors(t *testing.T) {
	opt := v4t
	opt.Prologue = ".equ track, 1\n.equ lamp, 2\n"
	text := `	.macro	inner n
	movs	r0, #\n
	.endm
	.macro	outer n
	inner	\n
	.endm
	movs	r0, #track
	bogus
	outer	999
	push	{r1, r0}
	strh	r0, [r1, #63]
	outer	lamp
	b	.+8000
`
	f := AssembleFile(t, opt, text)
	if f.OK || f.Sections != nil || !slices.Equal(f.ErrorLines, []int{8, 9, 11, 13}) || !slices.Equal(f.WarnLines, []int{10}) {
		t.Errorf("%+v", f)
	}
	if f := AssembleFile(t, opt, "\tb\t1f\n"); f.OK || len(f.ErrorLines) != 0 {
		t.Errorf("error without a line: %+v", f)
	}
}

// What the package's documentation says of how far each tool keeps to an
// architecture: for each code the architectures that decode it.
func TestRestriction(t *testing.T) {
	all := []string{"armv4t", "armv5te", "armv6", "armv6-m", "armv7"}
	objdump := func(arch string, thumb bool, code []byte) []Inst { return Objdump(t, arch, thumb, code) }
	llvm := func(arch string, thumb bool, code []byte) []Inst { return LLVM(t, arch, thumb, code) }
	cases := []struct {
		tool  string
		dis   func(string, bool, []byte) []Inst
		text  string
		thumb bool
		code  []byte
		want  string
	}{
		{"objdump", objdump, "rev r0, r1", true, le16(0xba08), "armv4t armv5te armv6 armv6-m armv7"},
		{"objdump", objdump, "cbz r0, .+4", true, le16(0xb100), "armv4t armv5te armv6 armv6-m armv7"},
		{"objdump", objdump, "add r0, r0, r1", true, le16(0xeb00, 1), "armv4t armv5te armv6 armv6-m armv7"},
		{"objdump", objdump, "blx r0", false, le32(0xe12fff30), "armv5te armv6 armv7"},
		{"objdump", objdump, "rev r0, r0", false, le32(0xe6bf0f30), "armv6 armv7"},
		{"objdump", objdump, "movw r0, #1", false, le32(0xe3000001), "armv7"},
		{"llvm", llvm, "movs r0, #1", true, le16(0x2001), "armv4t armv5te armv6 armv6-m armv7"},
		{"llvm", llvm, "rev r0, r1", true, le16(0xba08), "armv6 armv6-m armv7"},
		{"llvm", llvm, "blx r1", true, le16(0x4788), "armv5te armv6 armv6-m armv7"},
		{"llvm", llvm, "cbz r0, .+4", true, le16(0xb100), "armv7"},
		{"llvm", llvm, "nop", true, le16(0xbf00), "armv6-m armv7"},
		{"llvm", llvm, "dmb sy", true, le16(0xf3bf, 0x8f5f), "armv6-m armv7"},
		{"llvm", llvm, "setend le", true, le16(0xb650), "armv4t armv5te armv6 armv7"},
		{"llvm", llvm, "cpsie i", true, le16(0xb662), "armv4t armv5te armv6 armv6-m armv7"},
		{"llvm", llvm, "bkpt #0", true, le16(0xbe00), "armv4t armv5te armv6 armv6-m armv7"},
		{"llvm", llvm, "__brkdiv0", true, le16(0xdef9), "armv4t armv5te armv6 armv6-m armv7"},
		{"llvm", llvm, "blx r0", false, le32(0xe12fff30), "armv5te armv6 armv7"},
		{"llvm", llvm, "mul r2, r0, r1", false, le32(0xe0020190), "armv6 armv7"},
	}
	// The codes of one tool and one state go through it together, with MOVS or MOV
	// between them; an instruction is the one that begins and ends with its code.
	type group struct {
		tool  string
		thumb bool
	}
	codes := map[group][]byte{}
	places := make([]int, len(cases))
	for i, c := range cases {
		g := group{c.tool, c.thumb}
		places[i] = len(codes[g])
		between := le32(0xe3a00002)
		if c.thumb {
			between = le16(0x2002, 0x2002)
		}
		codes[g] = slices.Concat(codes[g], c.code, between)
	}
	decoded := map[group]map[string][]Inst{}
	for i, c := range cases {
		g := group{c.tool, c.thumb}
		if decoded[g] == nil {
			decoded[g] = map[string][]Inst{}
			for _, arch := range all {
				if arch == "armv6-m" && !c.thumb {
					continue // has no A32 code
				}
				decoded[g][arch] = c.dis(arch, c.thumb, codes[g])
			}
		}
		var got []string
		for _, arch := range all {
			if slices.ContainsFunc(decoded[g][arch], func(in Inst) bool {
				return in.Offset == places[i] && in.Size == len(c.code) && in.Text == c.text
			}) {
				got = append(got, arch)
			}
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("%s: %s: decoded for %s, want %s", c.tool, c.text, s, c.want)
		}
	}
	if in := LLVM(t, "armv4t", true, le16(0xeb00, 0x2001)); len(in) != 1 || !in[0].Undefined || in[0].Size != 4 {
		t.Errorf("llvm, 32-bit prefix: %+v", in)
	}
}

// Both tools on every halfword: one Inst each, none reached by the halfword in
// front, and the same text wherever ARMv4T has an encoding that they spell
// alike.
func TestEach16(t *testing.T) {
	words := make([]uint16, 1<<16)
	for i := range words {
		words[i] = uint16(i)
	}
	gnu := Each16(t, words, func(code []byte) []Inst { return Objdump(t, "armv4t", true, code) })
	llvm := Each16(t, words, func(code []byte) []Inst { return LLVM(t, "armv4t", true, code) })
	mnemonic := func(in Inst) string { m, _, _ := strings.Cut(in.Text, " "); return m }
	same := 0
	for i := range words {
		g, l := gnu[i], llvm[i]
		if g.Offset != 2*i || l.Offset != 2*i {
			t.Fatalf("%#04x: offsets %d, %d", i, g.Offset, l.Offset)
		}
		if wide := i >= 0xe800; (l.Size == 4) != wide || !wide && g.Size != 2 {
			t.Errorf("%#04x: sizes %d, %d", i, g.Size, l.Size)
		}
		switch {
		case i >= 0xe800, l.Undefined, i == 0xdef9, i == 0xdefe:
		case g.Text == l.Text:
			same++
		case mnemonic(g) == "negs" && mnemonic(l) == "rsbs":
		case mnemonic(g) == "muls" && mnemonic(l) == "muls":
		case strings.HasPrefix(l.Text, g.Text+", "): // add r0, sp, r0
		case mnemonic(g) == "bxns" && mnemonic(l) == "bx": // bit 2: should be zero before ARMv8-M
		case strings.HasPrefix(g.Text, "cps") && l.Text == g.Text+" none":
		case l.Text == "mov r8, r8" && g.Text == "nop":
		default:
			t.Errorf("%#04x: %+v, %+v", i, g, l)
		}
	}
	if same < 0xd000 {
		t.Errorf("the tools agree on %d halfwords only", same)
	}
	// 0xbf08 is IT EQ in T32; the halfword after it stays free of it.
	two := Each16(t, []uint16{0xbf08, 0x1888, 0xeb00, 0x1888}, func(code []byte) []Inst { return LLVM(t, "armv7", true, code) })
	if two[0].Text != "it eq" || two[1].Text != "adds r0, r1, r2" || two[2].Size != 4 || two[3].Text != "adds r0, r1, r2" {
		t.Errorf("%+v", two)
	}
}

func TestUndefined(t *testing.T) {
	// 0xe7f000f0 is UDF, which has a name; the space around 0xe6000010 with
	// op1 = 0 is UNDEFINED on ARMv7 (Arm ARM, "Media instructions").
	for tool, insts := range map[string][]Inst{
		"objdump": Objdump(t, "armv4t", false, le32(0xe6000010, 0xe3a00001)),
		"llvm":    LLVM(t, "armv4t", false, le32(0xe6000010, 0xe3a00001)),
	} {
		if len(insts) != 2 || !insts[0].Undefined || insts[0].Text != "" || insts[0].Size != 4 ||
			insts[1] != (Inst{Offset: 4, Size: 4, Text: "mov r0, #1"}) {
			t.Errorf("%s: %+v", tool, insts)
		}
	}
	// MUL with Rd = PC is UNPREDICTABLE (Arm ARM, "MUL").
	if in := Objdump(t, "armv4t", false, le32(0xe00f0190)); len(in) != 1 || !in[0].Unpredictable || in[0].Undefined {
		t.Errorf("%+v", in)
	}
	if len(Objdump(t, "armv4t", true, nil))+len(LLVM(t, "armv4t", true, nil)) != 0 {
		t.Error("instructions out of nothing")
	}
}

func TestNormalise(t *testing.T) {
	for _, c := range []struct {
		text   string
		offset int
		want   string
	}{
		{"MOVS\tr0, #0x1", 0, "movs r0, #1"},
		{"ldr\tr0, [pc, #0x4]          @ 0x34 <x+0x34>", 0, "ldr r0, [pc, #4]"},
		{"ldr r0 , [ r1 , #-0x10 ]!", 0, "ldr r0, [r1, #-16]!"},
		{"ldrb r6,[r5,#0]", 0, "ldrb r6, [r5]"},
		{"ldr r6, [r5, #-0]", 0, "ldr r6, [r5, #-0]"},
		{"push { r0,r1, lr }", 0, "push {r0, r1, lr}"},
		{"stmia sb!, {sl, fp, ip}", 0, "stm r9!, {r10, r11, r12}"},
		{"mov r13, r15", 0, "mov sp, pc"},
		{"beq.n 0x2a", 0x2a, "beq .+0"},
		{"bhs #0x20", 0x2a, "bcs .-10"},
		{"bl 0xfffffffc", 0, "bl .-4"},
		{"cbz r0, 0x12", 0xe, "cbz r0, .+4"},
		{"blx lr", 4, "blx lr"},
		{"bic r0, r1, #0x20", 4, "bic r0, r1, #32"},
		{"bkpt 0x00ff", 4, "bkpt #255"},
		{"svc 5", 4, "svc #5"},
		{"adr r0, #8", 4, "add r0, pc, #8"},
		{"add.w r0, r0, r1, lsl #3", 4, "add r0, r0, r1, lsl #3"},
		{"it lo", 0, "it cc"},
		{"nop", 0, "nop"},
		{"", 0, ""},
	} {
		if got := Normalise(c.text, c.offset); got != c.want {
			t.Errorf("%q: %q, want %q", c.text, got, c.want)
		}
	}
}

// recorder takes the place of a test that skips or fails.
type recorder struct {
	testing.TB
	skipped, failed bool
}

func (r *recorder) Helper()               {}
func (r *recorder) Skipf(string, ...any)  { r.skipped = true }
func (r *recorder) Fatalf(string, ...any) { r.failed = true }

func TestRequire(t *testing.T) {
	for _, c := range []struct {
		ci, tool     string
		skip, failed bool
	}{
		{"", "go", false, false},
		{"true", "go", false, false},
		{"", "no-such-tool-here", true, false},
		{"true", "no-such-tool-here", false, true},
	} {
		t.Setenv("CI", c.ci)
		r := recorder{TB: t}
		Require(&r, c.tool)
		if r.skipped != c.skip || r.failed != c.failed {
			t.Errorf("%+v: skipped %v, failed %v", c, r.skipped, r.failed)
		}
	}
}

// What can't have a verdict fails the test instead.
func TestAssembleRefuses(t *testing.T) {
	r := recorder{TB: t}
	Assemble(&r, Options{Arch: "armv4t", Thumb: true, Prologue: "bogus here"}, []string{"nop"})
	if !r.failed {
		t.Error("broken prologue: no failure")
	}
	r = recorder{TB: t}
	Assemble(&r, v4t, []string{"nop", "nop\nnop"})
	if !r.failed {
		t.Error("line break: no failure")
	}
}

// A mixture as a test over a table makes it: 100,000 lines, a third refused.
func BenchmarkAssemble100k(b *testing.B) {
	kinds := []string{"movs r0, #%d", "ldr r0, =%d", "strh r1, [r2, #%d]", "adds r0, r1, #%d", "ldr r7, [sp, #%d]", "b.n .+%d"}
	lines := make([]string, 100_000)
	for i := range lines {
		lines[i] = fmt.Sprintf(kinds[i%len(kinds)], i%1100)
	}
	for b.Loop() {
		Assemble(b, v4t, lines)
	}
}
