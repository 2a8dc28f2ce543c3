package reftest

import (
	"encoding/binary"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// Inst is one instruction as a reference disassembler sees it.
type Inst struct {
	Offset        int    // from the start of the code, in bytes
	Size          int    // in bytes: 2 or 4
	Text          string // normalised, see Normalise; empty where Undefined
	Undefined     bool   // the tool knows no instruction there
	Unpredictable bool   // the tool calls it UNPREDICTABLE; not every tool says so
}

// Objdump disassembles code with arm-none-eabi-objdump. arch is an architecture
// as the assembler's -march names it ("armv4t", "armv6-m", "armv7-a"); the
// package's documentation says how much that restricts. thumb: T16 and T32
// code; otherwise A32.
func Objdump(t testing.TB, arch string, thumb bool, code []byte) []Inst {
	t.Helper()
	const tool = "arm-none-eabi-objdump"
	Require(t, tool)
	switch arch { // the tool has one name for these
	case "armv7-a", "armv7ve", "armv7-r", "armv7-m":
		arch = "armv7"
	}
	if strings.HasPrefix(arch, "armv8") && strings.HasSuffix(arch, "-a") {
		arch = "armv8-a"
	}
	style := "reg-names-std"
	if thumb {
		style += ",force-thumb"
	}
	out := disassemble(t, code, func(file string) *exec.Cmd {
		return exec.Command(tool, "-D", "-z", "-b", "binary", "-m", arch, "-M", style, file)
	})
	return parseListing(t, out, len(code))
}

// LLVM disassembles code with llvm-objdump-19. arch is an architecture as the
// assembler's -march names it ("armv4t", "armv6-m", "armv8-m.base"); attrs are
// feature flags for -mattr ("+crc", "-neon"). thumb: T16 and T32 code;
// otherwise A32.
func LLVM(t testing.TB, arch string, thumb bool, code []byte, attrs ...string) []Inst {
	t.Helper()
	const tool, copier = "llvm-objdump-19", "llvm-objcopy-19"
	Require(t, tool, copier)
	triple := strings.ReplaceAll(strings.ToLower(arch), "-", "") // armv6-m -> armv6m
	if thumb {
		triple = "thumb" + strings.TrimPrefix(triple, "arm")
	}
	out := disassemble(t, code, func(file string) *exec.Cmd {
		// The tool reads object files only. Without mapping symbols in it the
		// only the triple decides between A32 and Thumb.
		wrap := exec.Command(copier, "-I", "binary", "-O", "elf32-littlearm",
			"--rename-section", ".data=.text,alloc,load,readonly,code", "--strip-all", file, file+".o")
		if err := wrap.Run(); err != nil {
			t.Fatalf("reftest: %s: %v", copier, err)
		}
		return exec.Command(tool, "-d", "-z", "--triple="+triple+"-none-eabi",
			"--mattr="+strings.Join(attrs, ","), file+".o")
	})
	return parseListing(t, out, len(code))
}

// disassemble puts code in a file, runs the command on it and returns what the
// command wrote.
func disassemble(t testing.TB, code []byte, command func(file string) *exec.Cmd) []byte {
	t.Helper()
	file := filepath.Join(t.TempDir(), "code")
	if err := os.WriteFile(file, code, 0o644); err != nil {
		t.Fatal(err)
	}
	if len(code) == 0 {
		return nil
	}
	cmd := command(file)
	cmd.Env = append(os.Environ(), "LC_ALL=C")
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("reftest: %s: %v", cmd.Args[0], err)
	}
	return out
}

// parseListing reads either tool's listing of size bytes of code: offset, raw
// code in groups of a halfword or a word, text. The instructions must cover the
// code without a gap.
func parseListing(t testing.TB, listing []byte, size int) []Inst {
	t.Helper()
	var insts []Inst
	texts := Texts{}
	next := 0
	for line := range strings.Lines(string(listing)) {
		at, rest, _ := strings.Cut(line, ":")
		offset, err := strconv.ParseUint(strings.TrimLeft(at, " "), 16, 32)
		if err != nil {
			continue // a heading
		}
		if int(offset) != next {
			t.Fatalf("reftest: listing jumps from offset %#x to %#x", next, offset)
		}
		raw, text, _ := strings.Cut(strings.TrimLeft(rest, " \t"), "\t")
		digits := len(raw) - strings.Count(raw, " ")
		in := texts.Inst(next, digits/2, text)
		insts = append(insts, in)
		next += in.Size
	}
	if next != size {
		t.Fatalf("reftest: listing covers %d bytes of %d", next, size)
	}
	return insts
}

// NewInst makes an Inst of a disassembler's text for the size bytes at offset.
func NewInst(offset, size int, text string) Inst {
	in := Inst{Offset: offset, Size: size}
	low := strings.ToLower(text)
	in.Unpredictable = strings.Contains(low, "<unpredictable>")
	in.Text = Normalise(text, offset)
	if in.Text == "" || in.Text[0] == '.' || strings.Contains(low, "<undefined>") {
		in.Text, in.Undefined = "", true
	}
	return in
}

// Texts are the instructions that a listing has had, by their raw text. It
// spares normalising what comes again and again.
type Texts map[string]Inst

// Inst is NewInst.
func (l Texts) Inst(offset, size int, text string) Inst {
	in, known := l[text]
	if !known {
		in = NewInst(offset, size, text)
		if !strings.Contains(in.Text, ".+") && !strings.Contains(in.Text, ".-") { // the same at any offset
			l[text] = in
		}
	}
	in.Offset, in.Size = offset, size
	return in
}

var (
	comment     = regexp.MustCompile(`[@;].*|//.*|<[^>]*>`)
	hexConstant = regexp.MustCompile(`#(-?)0x([0-9a-f]+)`)
	bareNumber  = regexp.MustCompile(`^(-?)(0x[0-9a-f]+|[0-9]+)$`)
	lastNumber  = regexp.MustCompile(`^(.*[ ,])?#?(-?)(0x[0-9a-f]+|[0-9]+)$`)
	branch      = regexp.MustCompile(`^(b|bl|blx|cbz|cbnz)(eq|ne|cs|hs|cc|lo|mi|pl|vs|vc|hi|ls|ge|lt|gt|le|al)?$`)
)

var archNames = map[string]string{"sb": "r9", "sl": "r10", "fp": "r11", "ip": "r12", "r13": "sp", "r14": "lr", "r15": "pc"}

// Normalise brings a disassembler's text for the instruction at offset into
// one shape, which is that of this example: "ldr r0, [r1, #20]".
//
//   - lower case, single spaces, one after each comma, no comments;
//   - no width suffix (.n, .w) on the mnemonic: the size says it;
//   - registers r0 to r12, sp, lr, pc;
//   - constants in decimal, with '#', also where the tool omits it: "svc #5";
//   - one spelling where tools differ: cs and cc for hs and lo, ldm and stm for
//     ldmia and stmia, "add r0, pc, #4" for "adr r0, #4", [r1] for [r1, #0];
//   - branch targets, which tools write as addresses, relative to the
//     instruction: "beq .-6".
func Normalise(text string, offset int) string {
	// Millions of texts come here: an expression is asked only where a byte
	// says that it may match.
	if strings.ContainsAny(text, "@;/<") {
		text = comment.ReplaceAllString(text, "")
	}
	s := strings.Join(strings.Fields(strings.ToLower(text)), " ")
	mnemonic, rest, _ := strings.Cut(s, " ")
	mnemonic = plainMnemonic(mnemonic)
	if rest == "" {
		return mnemonic
	}
	if (strings.HasPrefix(mnemonic, "b") || strings.HasPrefix(mnemonic, "c")) && branch.MatchString(mnemonic) {
		if m := lastNumber.FindStringSubmatch(rest); m != nil {
			to, err := strconv.ParseInt(m[2]+m[3], 0, 64)
			if err == nil {
				// Addresses are 32 bits; one before the code's start wraps.
				if d := int32(uint32(to) - uint32(offset)); d < 0 {
					rest = m[1] + "." + strconv.Itoa(int(d))
				} else {
					rest = m[1] + ".+" + strconv.Itoa(int(d))
				}
			}
		}
	}
	if strings.Contains(rest, "0x") {
		rest = hexConstant.ReplaceAllStringFunc(rest, func(c string) string {
			m := hexConstant.FindStringSubmatch(c)
			n, err := strconv.ParseUint(m[2], 16, 64)
			if err != nil {
				return c
			}
			return "#" + m[1] + strconv.FormatUint(n, 10)
		})
	}
	operands := strings.Split(rest, ",")
	for i, o := range operands {
		o = strings.TrimSpace(o)
		if o == "" || o[0] != '-' && (o[0] < '0' || o[0] > '9') {
			// no number
		} else if m := bareNumber.FindStringSubmatch(o); m != nil {
			if n, err := strconv.ParseUint(m[2], 0, 64); err == nil {
				o = "#" + m[1] + strconv.FormatUint(n, 10)
			}
		}
		switch o { // the condition of an IT block
		case "hs":
			o = "cs"
		case "lo":
			o = "cc"
		}
		operands[i] = o
	}
	rest = strings.ReplaceAll(punctuated(strings.Join(operands, ", ")), ", #0]", "]")
	rest = manualNames(rest)
	if mnemonic == "adr" {
		if rd, offset, ok := strings.Cut(rest, ", #"); ok {
			if n, negative := strings.CutPrefix(offset, "-"); negative {
				return "sub " + rd + ", pc, #" + n
			}
			return "add " + rd + ", pc, #" + offset
		}
	}
	return mnemonic + " " + strings.TrimSpace(rest)
}

// punctuated takes the space before and after brackets and commas away, and
// puts one after each comma.
func punctuated(s string) string {
	mark := func(i int) bool { return i < len(s) && strings.IndexByte(",[]{}", s[i]) >= 0 }
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if s[i] == ' ' && mark(i+1) {
			i++
		}
		b.WriteByte(s[i])
		if !mark(i) {
			continue
		}
		if s[i] == ',' {
			b.WriteByte(' ')
		}
		if i+1 < len(s) && s[i+1] == ' ' {
			i++
		}
	}
	return b.String()
}

// manualNames puts the manual's names of registers in the place of those of the
// procedure call standard.
func manualNames(s string) string {
	var b strings.Builder
	at := 0 // what is written
	for i := 0; i < len(s); {
		end := i
		for end < len(s) && isWord(s[end]) {
			end++
		}
		if end == i {
			i++
			continue
		}
		if name := archNames[s[i:end]]; name != "" {
			b.WriteString(s[at:i])
			b.WriteString(name)
			at = end
		}
		i = end
	}
	if at == 0 {
		return s
	}
	return b.String() + s[at:]
}

func isWord(c byte) bool {
	return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '_'
}

// plainMnemonic drops a width suffix and unifies the spellings.
func plainMnemonic(m string) string {
	m = strings.TrimSuffix(strings.TrimSuffix(m, ".n"), ".w")
	if base, ok := strings.CutSuffix(m, "hs"); ok {
		m = base + "cs"
	} else if base, ok := strings.CutSuffix(m, "lo"); ok {
		m = base + "cc"
	}
	for _, multiple := range []string{"ldm", "stm"} {
		if cond, ok := strings.CutPrefix(m, multiple+"ia"); ok {
			m = multiple + cond
		}
	}
	return m
}

// padding is how many NOPs Each16 puts after a halfword that could reach over
// the next ones: as many as an IT block can (Arm ARM, "IT": up to four
// instructions).
const padding = 4

// reachesOn says whether a halfword may be the first one of an encoding of 32
// bits (Arm ARM, "Thumb instruction set encoding": from 0xe800 up) or an IT.
func reachesOn(w uint16) bool { return w >= 0xe800 || w>>8 == 0xbf }

// Nop16 is MOV r8, r8: no operation on every architecture with T16 code (Arm
// ARM, "Pre-UAL pseudo-instruction NOP").
const Nop16 = 0x46c0

// Each16 decodes every halfword on its own with dis, which is given little-
// endian T16 code: NOPs are after those that could reach on, so that neither
// a prefix of a 32-bit encoding nor an IT block touches the next one. The
// result has one Inst for each of words; an Inst of size 4 took a NOP as its
// second halfword. Offsets are those that the words would have side by side.
func Each16(t testing.TB, words []uint16, dis func(code []byte) []Inst) []Inst {
	t.Helper()
	var code []byte
	places := make([]int, len(words)) // in code
	for i, w := range words {
		places[i] = len(code)
		code = binary.LittleEndian.AppendUint16(code, w)
		if reachesOn(w) {
			for range padding {
				code = binary.LittleEndian.AppendUint16(code, Nop16)
			}
		}
	}
	out := make([]Inst, 0, len(words))
	for _, in := range dis(code) {
		if n := len(out); n < len(places) && in.Offset == places[n] {
			in.Offset = 2 * n
			out = append(out, in)
		}
	}
	if len(out) != len(words) {
		t.Fatalf("reftest: %d instructions for %d halfwords", len(out), len(words))
	}
	return out
}
