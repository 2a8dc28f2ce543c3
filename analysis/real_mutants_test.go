package analysis

import (
	"fmt"
	"maps"
	"math/rand"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/sources"
)

// mutator changes one thing in a source.
type mutator struct {
	*rand.Rand
	labels []string // that the source defines
	kinds  []string // of changes, see mutatedKinds
}

// mutatedKinds are the kinds of changes. The first ones keep the shape of a
// line, the others are slips of the fingers.
var mutatedKinds = strings.Fields("constant constant register register register label definition condition suffix width " +
	"name directive swapped dropped doubled lost added sign writeback case")

// directiveNames can take each other's place.
var directiveNames = strings.Fields(".align .p2align .balign .byte .hword .short .word .long .int .quad .space .skip .zero .fill .ascii .asciz .string " +
	".global .globl .weak .hidden .type .size .set .equ .equiv .section .text .data .bss .pushsection .popsection .previous .thumb .arm .code .thumb_func .syntax " +
	".arch .cpu .fpu .eabi_attribute .ltorg .pool .req .unreq .macro .endm .exitm .rept .irp .endr .if .ifdef .ifndef .ifc .ifeq .else .elseif .endif " +
	".fnstart .fnend .save .pad .vsave .setfp .cantunwind .cfi_startproc .cfi_endproc .cfi_def_cfa_offset .cfi_adjust_cfa_offset .cfi_offset .comm .lcomm .org " +
	".even .inst .inst.n .inst.w .object_arch .personality .handlerdata .purgem .altmacro .noaltmacro .file .loc .ident .error .warning .end .include .symver .float .double")

// misspelt has one letter of a name wrong.
func (m *mutator) misspelt(name string) string {
	i := m.Intn(len(name))
	switch m.Intn(4) {
	case 0:
		return name[:i] + name[i+1:]
	case 1:
		return name[:i+1] + name[i:]
	case 2:
		if i > 0 {
			return name[:i-1] + name[i:i+1] + name[i-1:i] + name[i+1:]
		}
	}
	return name[:i] + string(rune('a'+m.Intn(26))) + name[i+1:]
}

// operands cuts text at the commas outside of brackets and quotes; with inner,
// at those within brackets too.
func operands(text string, inner bool) []string {
	var list []string
	depth, from := 0, 0
	quoted := false
	for i := range len(text) {
		switch c := text[i]; {
		case c == '"':
			quoted = !quoted
		case quoted:
		case strings.IndexByte("[{(", c) >= 0:
			depth++
		case strings.IndexByte("]})", c) >= 0:
			depth--
		case c == ',' && (depth == 0 || inner):
			list = append(list, text[from:i])
			from = i + 1
		}
	}
	return append(list, text[from:])
}

// at is a place of one of these characters, -1 without one.
func (m *mutator) at(s, chars string) int {
	var list []int
	for i := range len(s) {
		if strings.IndexByte(chars, s[i]) >= 0 {
			list = append(list, i)
		}
	}
	if len(list) == 0 {
		return -1
	}
	return list[m.Intn(len(list))]
}

// slips change the operands of a line.
var slips = map[string]func(m *mutator, s string) (string, bool){
	// two operands in each other's place
	"swapped": func(m *mutator, s string) (string, bool) {
		list := operands(s, m.Intn(2) == 0)
		if len(list) < 2 {
			return s, false
		}
		i := m.Intn(len(list) - 1)
		list[i], list[i+1] = list[i+1], list[i]
		return " " + strings.Join(list, ","), true
	},
	// an operand gone
	"dropped": func(m *mutator, s string) (string, bool) {
		list := operands(s, m.Intn(2) == 0)
		i := m.Intn(len(list))
		return " " + strings.Join(slices.Delete(list, i, i+1), ","), true
	},
	// an operand twice
	"doubled": func(m *mutator, s string) (string, bool) {
		list := operands(s, m.Intn(2) == 0)
		i := m.Intn(len(list))
		return " " + strings.Join(slices.Insert(list, i, list[i]), ","), true
	},
	// a mark gone
	"lost": func(m *mutator, s string) (string, bool) {
		i := m.at(s, ",,[]{}#=!()\":-^%.+<>|&~*")
		if i < 0 {
			return s, false
		}
		return s[:i] + m.of("", "", " ") + s[i+1:], true
	},
	// a mark too many
	"added": func(m *mutator, s string) (string, bool) {
		i := m.Intn(len(s))
		if m.Intn(3) > 0 {
			if i = m.at(s, ",[]{}#=!() "); i < 0 {
				return s, false
			}
		}
		return s[:i] + m.of(",", "[", "]", "{", "}", "#", "=", "!", "(", ")", "\"", ":", "-", "^", "%", ".", "+", "*", "/", "$", "&", "|", "~", s[i:i+1]) + s[i:], true
	},
	// '#', '=', '-' or nothing for one another
	"sign": func(m *mutator, s string) (string, bool) {
		if i := m.at(s, "#=-"); i >= 0 && m.Intn(2) == 0 {
			return s[:i] + m.of("#", "=", "-", "", "#-", "$") + s[i+1:], true
		}
		return m.replace(s, anythingIn, func(old string) string { return m.of("#", "=", "-", "#-", "=#", "+") + old })
	},
	// '!' and the bracket it depends on
	"writeback": func(m *mutator, s string) (string, bool) {
		i := m.at(s, "]!},")
		switch {
		case i < 0:
			return s, false
		case s[i] == '!':
			return s[:i] + s[i+1:], true
		case s[i] == ']' && m.Intn(2) == 0:
			if c := strings.LastIndexByte(s[:i], ','); c >= 0 {
				return s[:c] + "]" + s[c:i] + s[i+1:], true
			}
		case s[i] == ',':
			return s[:i] + "!" + s[i:], true
		}
		return s[:i+1] + m.of("!", "^") + s[i+1:], true
	},
	// capitals
	"case": func(m *mutator, s string) (string, bool) {
		return m.replace(s, nameIn, func(old string) string {
			if m.Intn(2) == 0 {
				return strings.ToUpper(old[:1]) + old[1:]
			}
			return strings.ToUpper(old)
		})
	},
}

var (
	labelDefinition = regexp.MustCompile(`(?m)^\s*([A-Za-z_.$][\w.$]*|\d+):`)
	wordOf          = regexp.MustCompile(`^(\s*(?:[\w.$\\@]+:\s*)*)([A-Za-z.][\w.]*)(.*)$`)
	constantIn      = regexp.MustCompile(`(^|[^\w.$\\])(-?(?:0[xX][0-9a-fA-F]+|\d+))($|[^\w.$])`)
	registerIn      = regexp.MustCompile(`(?i)(^|[^\w.$\\#])(r\d+|sp|lr|pc|ip|fp|sl|sb|a[1-4]|v[1-8]|[sdq]\d+|c\d+|p\d+)($|[^\w.$(])`)
	localIn         = regexp.MustCompile(`(^|[^\w.$\\])(\d+[fb])($|[^\w.$])`)
	nameIn          = regexp.MustCompile(`(^|[^\w.$\\])([A-Za-z_.][\w.$]*)($|[^\w.$])`)
	anythingIn      = regexp.MustCompile(`(^|[^\w.$\\])([\w.$]+)($|[^\w.$])`)
	conditionAt     = regexp.MustCompile(`(?i)(eq|ne|cs|hs|cc|lo|mi|pl|vs|vc|hi|ls|ge|lt|gt|le|al)((?:\.[\w.]+)?)$`)
)

var conditions = strings.Fields("eq ne cs hs cc lo mi pl vs vc hi ls ge lt gt le al")

func (m *mutator) of(list ...string) string { return list[m.Intn(len(list))] }

// replace puts something else in the place of one of the pattern's matches
// (its second group) in s; false without one.
func (m *mutator) replace(s string, pattern *regexp.Regexp, with func(old string) string) (string, bool) {
	// Matches may share the character between them.
	var at [][2]int
	for from := 0; from <= len(s); {
		f := pattern.FindStringSubmatchIndex(s[from:])
		if f == nil {
			break
		}
		at = append(at, [2]int{from + f[4], from + f[5]})
		from += f[5]
	}
	if len(at) == 0 {
		return s, false
	}
	p := at[m.Intn(len(at))]
	old := s[p[0]:p[1]]
	n := with(old)
	if n == "" || n == old {
		return s, false
	}
	return s[:p[0]] + n + s[p[1]:], true
}

func (m *mutator) constant(old string) string {
	v, err := strconv.ParseInt(old, 0, 64)
	if err != nil {
		return ""
	}
	switch m.Intn(8) {
	case 0:
		v++
	case 1:
		v--
	case 2:
		v = -v
	case 3:
		v *= 2
	case 4:
		v += 4
	case 5:
		v = []int64{0, 1, 2, 3, 4, 7, 8, 15, 16, 31, 32, 33, 64, 100, 124, 128, 255, 256, 257, 508, 512, 1020, 1024, 4095, 4096, 0xff00, 0xffff, 0x10000, 0xff0000, 0x12345678, 0xffffffff, -255, -256, -4096}[m.Intn(34)]
	case 6:
		v += int64(m.Intn(40)) - 20
	default:
		v ^= 1 << m.Intn(13)
	}
	if m.Intn(4) == 0 && v >= 0 {
		return fmt.Sprintf("0x%x", v)
	}
	return fmt.Sprint(v)
}

func (m *mutator) register(old string) string {
	low := strings.ToLower(old)
	switch c := low[0]; {
	case m.Intn(12) == 0:
		return m.of("r0", "s1", "d3", "q2", "c4", "p15", "r16", "d31", "d32", "s31", "cpsr", "sp", "pc")
	case strings.IndexByte("sdqcp", c) >= 0 && len(low) > 1 && low[1] >= '0' && low[1] <= '9':
		return fmt.Sprintf("%c%d", c, m.Intn(33))
	}
	return m.of("r0", "r1", "r2", "r3", "r4", "r5", "r6", "r7", "r8", "r9", "r10", "r11", "r12", "ip", "sp", "r13", "lr", "r14", "pc", "r15")
}

func (m *mutator) local(old string) string {
	switch m.Intn(3) {
	case 0:
		return old[:len(old)-1] + m.of("f", "b")
	case 1:
		return fmt.Sprint(m.Intn(12)) + old[len(old)-1:]
	}
	return m.label()
}

// label is a target: one of the source, at times a bit off, or one that it
// does not have.
func (m *mutator) label() string {
	l := "elsewhere"
	if len(m.labels) > 0 && m.Intn(4) > 0 {
		if l = m.labels[m.Intn(len(m.labels))]; l[0] >= '0' && l[0] <= '9' {
			return l + m.of("f", "b")
		}
	}
	return l + m.of("", "", "", "+1", "+2", "+4", "-4")
}

func (m *mutator) condition(name string) string {
	if strings.HasPrefix(strings.ToLower(name), "it") && len(name) < 6 {
		return m.of("it", "itt", "ite", "ittt", "itet", "itte", "itttt", "iteee", "")
	}
	if f := conditionAt.FindStringSubmatchIndex(name); f != nil && f[0] > 0 {
		if m.Intn(4) == 0 {
			return name[:f[0]] + name[f[3]:]
		}
		return name[:f[0]] + conditions[m.Intn(len(conditions))] + name[f[3]:]
	}
	head, tail, dot := strings.Cut(name, ".")
	if dot {
		tail = "." + tail
	}
	return head + conditions[m.Intn(len(conditions))] + tail
}

func (m *mutator) suffix(name string) string {
	head, tail, dot := strings.Cut(name, ".")
	if dot && m.Intn(2) == 0 {
		return head + m.of("", ".w", ".n", ".f32", ".f64", ".8", ".16", ".32", ".64", ".u8", ".i16", ".s32")
	}
	if dot {
		tail = "." + tail
	}
	switch m.Intn(4) {
	case 0:
		if strings.HasSuffix(head, "s") {
			return head[:len(head)-1] + tail
		}
		return head + "s" + tail
	case 1:
		return head + tail + m.of(".w", ".n")
	case 2:
		return head + m.of("b", "h", "d", "sb", "sh", "t", "ex", "l", "x", "w") + tail
	}
	if len(head) > 1 {
		return head[:len(head)-1] + tail
	}
	return ""
}

// mutate changes one thing in text; what says which.
func (m *mutator) mutate(text string) (mutant, what string) {
	lines := strings.Split(text, "\n")
	for range 200 {
		i := m.Intn(len(lines))
		// One of several statements, without the comment.
		stmts := strings.Split(lines[i], ";")
		k := m.Intn(len(stmts))
		code, comment := stmts[k], ""
		if c := strings.IndexByte(code, '@'); c >= 0 && !strings.Contains(code, `\@`) {
			code, comment = code[:c], code[c:]
		}
		ok := false
		what = m.kinds[m.Intn(len(m.kinds))]
		old := code
		f := wordOf.FindStringSubmatch(code)
		switch {
		case what == "definition":
			if d := labelDefinition.FindStringSubmatchIndex(code); d != nil {
				n := fmt.Sprint(m.Intn(10))
				if m.Intn(2) == 0 && len(m.labels) > 0 {
					n = m.labels[m.Intn(len(m.labels))]
				}
				code, ok = code[:d[2]]+n+code[d[3]:], true
			}
		case f == nil:
		case what == "constant":
			f[3], ok = m.replace(f[3], constantIn, m.constant)
			code = f[1] + f[2] + f[3]
		case what == "register":
			f[3], ok = m.replace(f[3], registerIn, m.register)
			code = f[1] + f[2] + f[3]
		case what == "label" && f[2][0] != '.':
			if f[3], ok = m.replace(f[3], localIn, m.local); !ok {
				f[3], ok = m.replace(f[3], nameIn, func(old string) string {
					if !slices.Contains(m.labels, old) {
						return ""
					}
					return m.label()
				})
			}
			code = f[1] + f[2] + f[3]
		case what == "condition" && f[2][0] != '.':
			code, ok = f[1]+m.condition(f[2])+f[3], true
		case what == "suffix" && f[2][0] != '.':
			code, ok = f[1]+m.suffix(f[2])+f[3], true
		case what == "width":
			switch f[2] {
			case ".byte", ".hword", ".short", ".word", ".long", ".int", ".quad", ".2byte", ".4byte":
				code, ok = f[1]+m.of(".byte", ".hword", ".word", ".quad")+f[3], true
			}
		case what == "case" && m.Intn(3) == 0:
			n := 1 + m.Intn(len(f[2]))
			code, ok = f[1]+strings.ToUpper(f[2][:n])+f[2][n:]+f[3], true
		case what == "name":
			code, ok = f[1]+m.misspelt(f[2])+f[3], true
		case what == "directive" && f[2][0] == '.':
			code, ok = f[1]+directiveNames[m.Intn(len(directiveNames))]+f[3], true
		default:
			if slip := slips[what]; slip != nil && strings.TrimSpace(f[3]) != "" {
				f[3], ok = slip(m, f[3])
				code = f[1] + f[2] + f[3]
			}
		}
		if !ok || code == old {
			continue
		}
		stmts[k] = code + comment
		changed := strings.Join(stmts, ";")
		if (strings.Count(changed, `"`)-strings.Count(lines[i], `"`))%2 != 0 {
			continue // a string goes on to the next quote: what follows is another text
		}
		what = fmt.Sprintf("%s, line %d: %q for %q", what, i+1, changed, lines[i])
		lines[i] = changed
		return strings.Join(lines, "\n"), what
	}
	return text, ""
}

// TestRealMutants changes one thing in a copy of a source: the verdict on each
// line has to be the reference assembler's. NARROWGAUGE_COUNT is the number of
// mutants of each package, and NARROWGAUGE_SEED where they start.
func TestRealMutants(t *testing.T) {
	proof := reftest.Begin(t)
	reftest.Require(t, "arm-none-eabi-as")
	count, seed := reftest.Count(40, 1500, 50_000), int64(reftest.Seed(1))
	kinds := mutatedKinds
	if some := reftest.List(reftest.Kinds); some != nil {
		kinds = some
	}
	used := make([]bool, len(mutantOtherwise))
	all := 0
	for _, p := range sources.Chosen(t) {
		if p.Columns {
			continue // the assembler does not read them
		}
		t.Run(p.Name, func(t *testing.T) {
			// Short ones, as each mutant is a run of the assembler; and of those
			// that assemble, which a sample of each kind shows.
			var bases []*realText
			for _, x := range realTexts(t, p).texts {
				if n := strings.Count(x.text, "\n"); n >= 8 && n < 700 {
					bases = append(bases, x)
				}
			}
			r := rand.New(rand.NewSource(seed))
			r.Shuffle(len(bases), func(i, j int) { bases[i], bases[j] = bases[j], bases[i] })
			bases = takenOnly(t, bases)
			var mutants []*realText
			for n := 0; len(mutants) < count; n++ {
				x := bases[n%len(bases)]
				m := &mutator{Rand: r, kinds: kinds}
				for _, l := range labelDefinition.FindAllStringSubmatch(x.text, -1) {
					m.labels = append(m.labels, l[1])
				}
				if text, what := m.mutate(x.text); what != "" {
					mutants = append(mutants, &realText{unit: x.unit, text: text, note: what})
				}
			}
			judgeReal(t, mutants)
			refused, agreed, otherwise, differ := 0, 0, 0, 0
			of := map[string]int{} // kinds with differences
			for _, x := range mutants {
				if !x.ok {
					refused++
				}
				agreed += x.agreed
				tell := func(kind string, l int, message string) {
					if parted(mutantOtherwise, used, kind, x, l) {
						otherwise++
						return
					}
					change, _, _ := strings.Cut(x.note, ",")
					of[change]++
					if differ++; differ <= 400 {
						t.Errorf("%v: %s at line %d: %q: %s %s", x.unit, kind, l, x.line(l), message, x.note)
					}
				}
				for _, l := range x.silent {
					tell("silence", l, "")
				}
				for _, l := range slices.Sorted(maps.Keys(x.alarms)) {
					tell("alarm", l, x.alarms[l])
				}
			}
			all += len(mutants)
			proof.Counted("mutants of real sources, %s: %d of %d texts, %d refused by the assembler (%d lines, by both), %d accepted, %d lines judged otherwise for a known reason, %d differences %v",
				p.Name, len(mutants), len(bases), refused, agreed, len(mutants)-refused, otherwise, differ, of)
		})
	}
	if reftest.Text(reftest.Real) == "all" && all >= 15000 && seed == 1 {
		for i, e := range mutantOtherwise {
			if !used[i] {
				t.Errorf("%q is listed as judged otherwise (%s), and no mutant is", e.pattern, e.why)
			}
		}
	}
}

// takenOnly leaves those that the assembler takes.
func takenOnly(t *testing.T, texts []*realText) []*realText {
	judgeReal(t, texts)
	return slices.DeleteFunc(texts, func(x *realText) bool { return !x.ok })
}

// mutantOtherwise are the lines of mutants that we judge otherwise.
var mutantOtherwise = []judgedOtherwise{
	{`^alarm .*\bcbn?z(eq|ne|cs|hs|cc|lo|mi|pl|vs|vc|hi|ls|ge|lt|gt|le|al)\b`, `CBZ and CBNZ have no condition (DDI 0406, "CBNZ, CBZ"); the assembler reads over it`},
	{`^alarm .*"[^"]*\b(b|bl|blx)(eq|ne|cs|hs|cc|lo|mi|pl|vs|vc|hi|ls|ge|lt|gt|le|al)? (r\d+|lr|pc|sp|ip|\\+reg)\b`, `a register is no label (DDI 0406, "B"); the assembler takes its name for an undefined symbol`},
	{`^alarm armv(6|7e?|8)-m.*\b(blx|indirect_call) \w+`, `BLX (immediate) does not exist where there is no A32 state (DDI 0403 has only "BLX (register)")`},
	{`^alarm armv(6-m|8-m.base): movs? .*(r8|r9|r1\d|ip|sp|lr|pc)\b`, `MOVS with a high register is of the mainline (DDI 0553, "MOV (register)", T3, from memory)`},
	{`^alarm armv\S+: (adds|subs) \w+, (r15|pc), #`, `ADR changes no flags (DDI 0406, "ADR"); the assembler drops the S`},
	{`^alarm .*\bnop(eq|ne|cs|hs|cc|lo|mi|pl|vs|vc|hi|ls|ge|lt|gt|le)\b`, `a condition stands in an IT block (DDI 0406, "NOP"); the assembler drops that of NOP`},
	{`^alarm .*"[^"]*\b(add|sub|mov|mvn|cmp|cmn|tst|teq|and|orr|eor|bic|lsl|lsr|asr|ror)s?\w*(\.w)? +(\w+, *)?\w+, *#?-?\w+, *#?-?\w+" for `, `a shift is one of a register (DDI 0406, "LSL (immediate)"); the assembler drops what stands beside a constant`},
	{`^(silence|alarm) .* for "\s*\.syntax`, `IT is of the unified syntax (DDI 0406, "Assembler syntax"); the assembler takes it in the divided one, with all that follows from it`},
	{`^alarm .*\bv(dup|mov|mul\w*|ml[as]\w*|qd?ml\w*|qr?dmulh|ld[1-4]|st[1-4])(\.\w+)? .*\[(0x\w+|\d+)\]`, `there is no such element (DDI 0406, A7.3); the assembler takes bits of the number`},
	{`^alarm .*\bvcvt\S* \w+, *\w+, *#?-?(0x)?0+"`, `a number in fixed point has 1 place or more (DDI 0406, "VCVT (between floating-point and fixed-point)"); the assembler takes 0 for none`},
	{`^alarm .*\bvshll\.\S+ \w+, *\w+, *#?(0x\w+|\d+)"`, `VSHLL shifts by less than the size, or by the size (DDI 0406, "VSHLL"); the assembler writes the code of another size`},
	{`^alarm .*\{condition, line \d+: "[^"]*\bv(add|sub|mul|ml[as]|abs|neg|cvt)(al\b|l(eq|ne|cs|hs|cc|lo|mi|pl|vs|vc|hi|ls|ge|lt|gt|le|al)\b)`, `vectors have no condition in A32 code (DDI 0406, "VADD (integer)"); the assembler does not look at it in some names of scalars`},
	{`^silence .*\bvmov(eq|ne|cs|hs|cc|lo|mi|pl|vs|vc|hi|ls|ge|lt|gt|le)\.[su](8|16) `, `VMOV from an element takes a condition (DDI 0406, "VMOV (scalar to ARM core register)"); the assembler has it for words alone`},
	{`^alarm .*\bmov(\.w)? +(r13|sp|\w+, *(r13|sp)), `, `SP cannot be shifted, nor hold what is (DDI 0406, "LSL (immediate)")`},
	{`^alarm armv4t\S*: (ldr|str)s?[bh] \w+, *\[(r15|pc|r13|sp)\b`, `bytes and halfwords have no such base in T16 (DDI 0100, "LDRB"); the assembler writes the code for a word`},
	{`^alarm .*"[^"]*\bv(ld|st)[1-4]\S* +\w+((-|, *)\w+)*\}`, `a list is written in braces (DDI 0406, A7.7); the assembler does without the first one`},
	{`^alarm .*"[^"]*\bv(ld|st)[1-4]\S* .*\], *-`, `a register behind the address is added as it is (DDI 0406, A7.7.1); the assembler drops what stands around it`},
	{`^alarm .*\.eabi_attribute \d+!`, `a tag is not negative; the assembler does not look at one that comes from an operation`},
	{`^alarm .*\bcps(ie|id)(eq|ne|cs|hs|cc|lo|mi|pl|vs|vc|hi|ls|ge|lt|gt|le|al)\b`, `CPS has no condition (DDI 0406, "CPS"); the assembler drops it`},
	{`^alarm .*\{(writeback|added), line \d+: "[^"]*\d[)]?!`, `a '!' stands behind a constant in SRS alone; the assembler takes it for an operator, and 0 behind it`},
	{`^alarm .*\bv(add|sub)\S* q\d+, (q\d+, )?(r\d+|sp|lr|pc|ip|fp)"`, `a core register is no operand of vectors outside of ARMv8.1-M (DDI 0406, "VADD (integer)")`},
	{`^alarm .*\bvmov\S* .*d(1[6-9]|2\d|3[01])\b`, `d16 to d31 are not there (DDI 0406, A2.6.2); the assembler does not look at it in moves of two words`},
	{`^alarm armv8-m.base: movs\.w \w+, \w+ `, `the baseline of ARMv8-M has no MOVS of full width (DDI 0553, "MOV (register)", T3, from memory); the assembler writes it`},
	{`^alarm .*"[^"]*\bpl[di]w? .*\]!"`, `PLD writes nothing back (DDI 0406, "PLD (immediate)"); the assembler makes another code of it, a load into pc in T32`},
	{`^alarm .*"[^"]*\bldr\w*\.n \w+, *=`, `.n asks for a halfword (DDI 0406, "Instruction width selection"); the assembler writes MOVW`},
	{`^alarm .*"[^"]*\b(vldm|vstm|vpush|vpop|fldm|fstm)\S* [^{]*\{[^}]*" for `, `a list ends at a brace (DDI 0406, "VLDM"); the assembler does without it`},
	{`^(silence|alarm) .*\{\w+, line \d+: "[^"]*\.align ?(~|-\d+|0x\w+|\d{2,})`, `the alignment is read as 2 to the power of 31, with a warning at the line; what else that breaks is not told again`},
}
