package isa_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"maps"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// answer is what the table says of a statement at address 0 of a section.
type answer struct {
	ok       bool
	deferred bool // a value is for the linker to fill in
	code     []byte
	form     *isa.Form
}

// ask takes a statement through the parser and the table, as the analysis
// does: its expressions know the location counter, which is 0, and no symbol.
func ask(l *syntax.Line, have isa.Features, unified bool) answer {
	return askAt(l, have, unified, 0)
}

func askAt(l *syntax.Line, have isa.Features, unified bool, pc int64) answer {
	if len(l.Stmts) != 1 {
		return answer{}
	}
	s := &l.Stmts[0]
	if s.Kind != syntax.Instruction || s.Err != nil {
		return answer{}
	}
	q := isa.Query{Have: have, Unified: unified, Width: s.Width, PC: pc}
	m, ok := s.Mnemonic.Match(&q, operandsAt(s, pc))
	if !ok || m.Refused(have) || m.Deferred() && !m.Form.Row.Linked() {
		// Only branches reach symbols that nothing here defines.
		return answer{}
	}
	return answer{ok: true, deferred: m.Deferred(), form: m.Form, code: codeBytes(m.Encode(), m.Form.Row.Size())}
}

// operands resolves the operands of a statement at address 0.
func operands(s *syntax.Stmt) []isa.Operand { return operandsAt(s, 0) }

func operandsAt(s *syntax.Stmt, pc int64) []isa.Operand {
	ops := make([]isa.Operand, 0, len(s.Ops))
	for i := range s.Ops {
		o := s.Ops[i].Operand
		if e := s.Ops[i].Expr; e != nil {
			o.Imm, o.Known = value(e, pc)
		}
		if o.Kind == isa.OpLit {
			// The assembler puts the literal after the statement, aligned.
			o.Imm, o.Known = (pc+5)&^3, true
		}
		if s.Ops[i].Names != nil {
			o.Kind = isa.OpOther // names of registers that nothing defines
		}
		ops = append(ops, o)
	}
	return ops
}

func reaches(f isa.Flow) bool {
	return f.ToLabel()
}

// codeBytes lays a halfword or two out as memory has them.
func codeBytes(w uint32, size int) []byte {
	var b []byte
	if size == 4 {
		b = binary.LittleEndian.AppendUint16(b, uint16(w>>16))
	}
	return binary.LittleEndian.AppendUint16(b, uint16(w))
}

// value evaluates an expression at an address.
func value(e *syntax.Expr, pc int64) (v int64, ok bool) {
	switch e.Op {
	case syntax.ExprNum:
		return e.Val, true
	case syntax.ExprDot:
		return pc, true
	case syntax.ExprAdd, syntax.ExprSub:
		x, okX := value(e.X, pc)
		y, okY := value(e.Y, pc)
		v, _ = syntax.Fold(e.Op, x, y)
		return v, okX && okY
	}
	return 0, false
}

// testArches are the architectures that the table is proved for.
var testArches = []string{"armv4t", "armv5te", "armv6", "armv6-m"}

// acceptDisagreements lists where the table and the assembler part, and why
// the table stays as it is. A pattern is matched against lines such as
// "armv4t divided refuse: b lr": the verdict is the table's.
//
// Where an instruction has several encodings the table follows the assembler,
// as users get its bytes; so it does with constants, which are words of 32
// bits (#0xffffffff is #-1), and with the condition AL written out.
var acceptDisagreements = []disagreement{
	{` refuse: (?i)(b|bal|bl|blx|b(eq|ne|cs|hs|cc|lo|ul|mi|pl|vs|vc|hi|ls|ge|lt|gt|le))(al)?(\.[nw])? (r\d+|sp|lr|pc|wr|\[.*)$`,
		`B, BL and BLX (immediate) take a label (DDI 0419, "B"); the assembler takes the register's name for an undefined symbol`},
	{`^armv6-m \w+ refuse: (?i)blx(al)?(\.w)? `,
		`BLX (immediate) does not exist where there is no A32 state (DDI 0419 has only "BLX (register)")`},
	{` refuse: blx(al)?(\.w)? \.[+-]\d*([13579]|[02468][26]|[13579][048]|\b[26])$`,
		`the target of BLX (immediate) is a word: the offset is a multiple of 4 (DDI 0406, "BL, BLX (immediate)"); the assembler branches to the word around it`},
	{` refuse: (?i)((ldm|stm)\w*(\.n)? (r\d+|sp)!?, |(push|pop)\w*(\.n)? )[#$]? ?-?[0-9(']`,
		`a register list is written in braces (DDI 0406, "LDM" and "PUSH"); the assembler takes a number for the mask`},
	{` divided refuse: (?i)(ldr|str)(al)?[bh] r\d+, (\[(sp|pc)(, #-?\d+)?\]|\.[+-]\d+|=\d+)$`,
		`byte and halfword accesses relative to SP or PC do not exist in T16 (DDI 0419, "LDRB (immediate)"); the assembler makes word accesses of them`},
	{` divided refuse: (lds|ldrs|ldrals|ldals|ldsal)[bh] r\d+, \[r\d+, r\d+\]!$`,
		`no T16 load with a register offset writes back (DDI 0419, "LDRSB (register)"); the assembler drops the '!'`},
	{` unified refuse: stm(al|ia|ea|iaal|eaal|alia|alea)?(\.n)? sp!, \{[-r0-7, ]*\}$`,
		`STMIA stores upwards (DDI 0406, "STM"); the assembler makes PUSH of it, which stores downwards`},
	{`^armv6 \w+ refuse: (?i)setend(al)?(\.n)? `, `SETEND takes BE or LE (DDI 0406, "SETEND")`},
	{`^armv6-m \w+ refuse: (?i)setend(al)?(\.n)? `, `no SETEND on M profile (DDI 0419 does not have it)`},
	{`^armv[456]\w* \w+ refuse: (?i)hlt(al)?(\.n)?( |$)`, `HLT is of ARMv8 (DDI 0487, "HLT")`},
	{` unified refuse: (?i)nop(eq)$`, `T16 before IT has conditions on branches only (DDI 0419, "Conditional execution"); the assembler drops it`},
	{` unified refuse: nop(al)?(\.n)? \{`, `NOP has no operands (DDI 0419, "NOP")`},
	{`^armv6-m \w+ refuse: (?i)(mrs(al)?(\.w)? r\d+, |msr(al)?(\.w)? )(basepri|basepri_max|faultmask|msplim|psplim|msp_ns|psp_ns)\b`,
		`ARMv6-M has no such special register (DDI 0419, "Special register encodings used in ARMv6-M system instructions")`},
	{`^armv6-m \w+ accept: bl(al)?(\.w)? \.[+-]\d{7,8}$`, `BL reaches 16 MB on ARMv6-M (DDI 0419, "BL")`},
	{`^armv6-m unified accept: (?i)udf(al)?(\.w)?( [#$]?\d+)?$`, `UDF has its 32-bit encoding on ARMv6-M (DDI 0419, "UDF")`},
	{` unified accept: add(al)?(\.n)? r[0-7], sp, r[0-7]$`, `ADD (SP plus register) T1 is of all architectures with T16 (DDI 0406, "ADD (SP plus register)")`},
}

// TestAccept compares the table with the assembler: what is accepted, what is
// refused, and the code. By default it takes a part of the statements; with
// NARROWGAUGE_THOROUGH=1 all of them.
func TestAccept(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	sample, sparse := reftest.Size(56*256, 448, 1), reftest.Size(64, 4, 1)
	c := compareAccept(t, testArches, reftest.Options{Thumb: true}, func(seed int, unified bool) []string { return statements(sample, sparse, seed) },
		func(_ string, l *syntax.Line, have isa.Features, unified bool) (answer, bool) {
			return ask(l, have, unified), true
		})
	judge(t, acceptDisagreements, c.cases)
	proof.Counted("accept/refuse: %d statements, %d accepted by both with the same code, %d known disagreements", c.total, c.taken, len(c.cases))
}

// features are those of an architecture with extensions after '+'.
func features(t testing.TB, arch string) isa.Features {
	t.Helper()
	parts := strings.Split(arch, "+")
	var s isa.Selection
	if !s.SelectArch(parts[0]) {
		t.Fatal(arch)
	}
	for _, x := range parts[1:] {
		if !s.Extend(x) {
			t.Fatal(arch)
		}
	}
	return s.Have()
}

// comparison is what putting statements to the table and to the assembler
// comes to.
type comparison struct {
	total, taken, open int      // open: of names that are not described
	cases              []string // disagreements, as judge takes them
	forms              map[*isa.Form]bool
}

// compareAccept puts generated statements to the table and to the assembler,
// for each architecture, which may have extensions, in both syntaxes, side by
// side. A name that starts in '_' is a macro of the prologue: the parser reads
// what is after. NARROWGAUGE_SEED picks other statements. With -short it takes
// every third of the pairs of architecture and syntax.
func compareAccept(t *testing.T, arches []string, opt reftest.Options, generate func(seed int, unified bool) []string,
	ask func(line string, l *syntax.Line, have isa.Features, unified bool) (a answer, checked bool)) comparison {
	parts := make([]comparison, 2*len(arches))
	t.Run("on", func(t *testing.T) { // ends when all that run side by side have
		for a, arch := range arches {
			for u, style := range []string{"divided", "unified"} {
				if (2*a+u+reftest.Seed(0))%reftest.Size(3, 1, 1) != 0 {
					continue
				}
				opt := opt
				opt.Arch, opt.Unified = arch, u == 1
				t.Run(arch+" "+style, func(t *testing.T) {
					t.Parallel()
					lines := generate(2*a+u+reftest.Seed(0), opt.Unified)
					parts[2*a+u].compare(t, arch+" "+style+" ", opt, lines, ask)
				})
			}
		}
	})
	whole := comparison{forms: map[*isa.Form]bool{}}
	for _, p := range parts {
		whole.total, whole.taken, whole.open = whole.total+p.total, whole.taken+p.taken, whole.open+p.open
		whole.cases = append(whole.cases, p.cases...)
		maps.Copy(whole.forms, p.forms)
	}
	return whole
}

// compare does it for one architecture and one syntax, which config names.
func (c *comparison) compare(t *testing.T, config string, opt reftest.Options, lines []string,
	ask func(line string, l *syntax.Line, have isa.Features, unified bool) (a answer, checked bool)) {
	c.forms = map[*isa.Form]bool{}
	have := features(t, opt.Arch)
	texts := make([]string, len(lines))
	for i, l := range lines {
		texts[i] = l
		if l[0] == '_' {
			_, texts[i], _ = strings.Cut(l, " ")
		}
	}
	f := syntax.Parse(strings.Join(texts, "\n"))
	for i, v := range reftest.Assemble(t, opt, lines) {
		c.total++
		ours, checked := ask(lines[i], f.Line(i), have, opt.Unified)
		if !checked {
			c.open++
			continue
		}
		if v.OK && ours.ok {
			c.taken++
			c.forms[ours.form] = true
		}
		switch {
		case ours.ok && !v.OK:
			c.cases = append(c.cases, config+"accept: "+lines[i])
		case !ours.ok && v.OK:
			c.cases = append(c.cases, config+"refuse: "+lines[i])
		case ours.ok && ours.deferred && len(ours.code) != len(v.Bytes):
			c.cases = append(c.cases, config+"size: "+lines[i])
		case ours.ok && !ours.deferred && !bytes.Equal(ours.code, v.Bytes):
			c.cases = append(c.cases, fmt.Sprintf("%scode %x for %x: %s", config, ours.code, v.Bytes, lines[i]))
		}
	}
}

// TestHalfway compares statements with targets that are between two words,
// where PC is rounded down for literals and A32 code, and is not for branches.
func TestHalfway(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	stride, n, at := reftest.Size(8, 1, 1), 0, reftest.Seed(0)
	var cases []string
	for _, c := range []struct{ arch, statement string }{
		{"armv4t", "ldr r0, "}, {"armv4t", "adr r3, "}, {"armv4t", "b "}, {"armv4t", "beq "}, {"armv4t", "bl "},
		{"armv5te", "blx "}, {"armv7-a", "cbz r0, "}, {"armv6-m", "ldr r7, "},
	} {
		target, _ := isa.Arch(c.arch)
		for _, d := range []int{-258, -256, -254, -252, -250, -4, -2, 0, 1, 2, 3, 4, 5, 6, 8, 10, 126, 128, 130, 132, 254, 256, 258, 260, 1018, 1020, 1022, 1024, 1026, 2046, 2048, 2050, 2052} {
			if at++; at%stride != 0 {
				continue
			}
			text := fmt.Sprintf("%s.%+d", c.statement, d)
			f := reftest.AssembleFile(t, reftest.Options{Arch: c.arch, Unified: true, Thumb: true}, "nop\n"+text+"\n")
			ours := askAt(syntax.Parse(text).Line(0), target.Have, true, 2)
			n++
			switch code := f.Sections[".text"]; {
			case ours.ok && f.OK && len(code) >= 2+len(ours.code) && bytes.Equal(ours.code, code[2:2+len(ours.code)]):
			case ours.ok || f.OK:
				cases = append(cases, fmt.Sprintf("%s: ours %v %x, the assembler's %v %x: %s", c.arch, ours.ok, ours.code, f.OK, code, text))
			}
		}
	}
	judge(t, halfwayDisagreements, cases)
	proof.Counted("halfway: %d statements", n)
}

var halfwayDisagreements = []disagreement{
	{`blx \.`, `the target of BLX (immediate) is a word (DDI 0406, "BL, BLX (immediate)"); the assembler branches to the word around it`},
	{`cbz r0, \.\+2$`, `CBZ reaches no further down than PC (DDI 0406, "CBNZ, CBZ"); the assembler writes NOP instead`},
}
