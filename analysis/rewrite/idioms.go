package rewrite

import (
	"strconv"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// idiomRewrites are the rewrites that say in this instruction set what authors say
// otherwise in others.
func idiomRewrites() []Entry {
	return []Entry{
		{
			Name: "known-name", Title: "Use the name that this instruction set has",
			Before: UnifiedThumb + "f: jmp f\n",
			After:  UnifiedThumb + "f: b f\n",
			apply:  knownName,
		},
		{
			Name: "stack-word", Title: "Push or pop one register",
			Before: UnifiedThumb + "\tstr r4, [sp, #-4]!\n\tmovs r4, #0\n\tbx lr\n",
			After:  UnifiedThumb + "\tpush {r4}\n\tmovs r4, #0\n\tbx lr\n",
			apply:  narrow(stackWord),
		},
		{
			Name: "stack-detour", Title: "Save a register, and count from there",
			Before: UnifiedThumb + "\tstr r8, [sp, #4]\n\tbx lr\n",
			After:  UnifiedThumb + "\tpush {r7}\n\tmov r7, r8\n\tstr r7, [sp, #8]\n\tpop {r7}\n\tbx lr\n",
			apply:  narrow(stackDetour),
		},
		{
			Name: "extend-low", Title: "Keep the low byte or halfword",
			Before: UnifiedThumb + "\tands r0, #0xff\n\tbx lr\n",
			After:  UnifiedThumb + "\tlsls r0, r0, #24\n\tlsrs r0, r0, #24\n\tbx lr\n",
			apply:  narrow(extendLow),
		},
	}
}

// knownName puts a name in the place of one that other instruction sets have.
func knownName(c *rewriting) {
	to := wording.OtherNames[strings.ToLower(c.name)]
	if to == "" || to == "bx lr" != (strings.TrimSpace(c.line[c.item.Stmt.NameEnd:c.item.Stmt.End]) == "") {
		return
	}
	to = c.inCase(to)
	c.add(candidate{title: "write " + to, named: true, edits: []finding.Edit{c.rename(to)}})
}

// stackWord writes an access that moves the stack pointer by the word that it stores or
// loads as PUSH or POP.
func stackWord(c *rewriting) {
	n := len(c.ops) - 1
	if n != 1 || c.ops[0].Kind != isa.OpReg || c.ops[1].Kind != isa.OpMem || c.ops[1].Reg != isa.SP || c.ops[1].Off != isa.OffImm || !c.ops[1].Known {
		return
	}
	m, name := &c.ops[1], ""
	switch base := c.base(); {
	case base == "str" && m.Writeback && !m.Post && m.Imm == -4:
		name = "push"
	case base == "ldr" && m.Post && m.Imm == 4:
		name = "pop"
	default:
		return
	}
	list := isa.Operand{Kind: isa.OpList, List: 1 << c.ops[0].Reg}
	if _, ok := c.matches(name, list); !ok {
		return
	}
	c.add(candidate{title: "write " + c.inCase(name), safe: true, edits: c.replace(c.statement(name, "{"+c.opText(0)+"}"))})
}

// extendLow writes a mask of the low byte or halfword as an extension, or as two shifts,
// which set C as well.
func extendLow(c *rewriting) {
	n := len(c.ops) - 1
	if c.base() != "and" && c.base() != "ands" || n < 1 || n > 2 || !c.plainRegs() || c.ops[n].Kind != isa.OpImm || !c.ops[n].Known {
		return
	}
	name, by := "", int64(0)
	switch c.ops[n].Imm {
	case 0xff:
		name, by = "uxtb", 24
	case 0xffff:
		name, by = "uxth", 16
	default:
		return
	}
	if !lowReg(&c.ops[0]) || !lowReg(&c.ops[n-1]) {
		return
	}
	d, s := c.opText(0), c.opText(n-1)
	if _, ok := c.matches(name, c.ops[0], c.ops[n-1]); ok {
		c.add(candidate{title: "extend by " + c.inCase(name), safe: true, edits: c.replace(c.statement(name, d, s))})
	}
	shift := "#" + strconv.FormatInt(by, 10)
	c.add(candidate{title: "shift out the upper bits", wrong: isa.C, safe: true, edits: c.replace(c.statement(c.flagSetting("lsl"), d, s, shift), c.statement(c.flagSetting("lsr"), d, d, shift))})
}
