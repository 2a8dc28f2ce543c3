package isa

import (
	"fmt"
	"strconv"
	"strings"
	"sync"
)

// The notation of Row.Forms, one spelling a line:
//
//	~ u d     flags in front: ~ alias (never written by the decoder), u only in
//	          unified syntax, d only in divided syntax
//	[V6]      needs a feature beyond the row's
//	[!T32]    only where the feature is missing
//	{n}       where there is T32, only with the suffix .n
//	{hi}      at least one register of r8–r15
//	{in} {out} {blunt} {vain}  the base register is in the list, is not, is
//	          written back without a '!', is not for all its '!'
//	{apart}   the base register is not in the list, or is not the register loaded
//	          or stored, when it is written back
//	add<s>    T16: "adds" in unified syntax outside an IT block, "add" in one,
//	          and in divided syntax; T32: "add" with S=0, "adds" with S=1
//	{it} {-it}  only in an IT block, only outside
//	b<c>      one mnemonic for each condition, in the field c
//	Rd        a register in field Rd; the field's width says which registers.
//	          A field named again must hold the same register; Rd+ only r8–r15,
//	          Rd^ but pc, Rd^^ but sp and pc (ARMv8-A and R: but pc), Rd-sp-pc
//	          but those everywhere
//	Rd=Rn     one operand for two fields; Rt+Rt2: the second gets the next register
//	{#imm8}   a number in braces
//	sp pc     that register only; a '!' after a register: written back; '!?' may be
//	#imm5*4   a constant in a field, in units of 4; #imm5%32: 32 is held as 0;
//	          #-imm8: the negated constant; #sat+1: one more than the field holds; #0: just that constant; ##: '#' may
//	          lack in unified syntax, ###: in both, ####: and it is no 32-bit word
//	lsl#imm5  a shift by a constant; lsl-Rm by a register
//	#imm5<=3  no more than 3, although the field holds more
//	[Rn, …]   memory; Rn^ but pc, Rn^sp but sp (ARMv8-A and R: any)
//	@imm8*4   an address ahead, relative to PC rounded down to 4
//	~simm8*2  an address, relative to PC
//	{list}    registers in field list; {list+lr}, {list+pc} with a bit of its own
//	{=Rt}     a list of just one register, in field Rt; {=Rt-sp} but sp
//	%vocab.F  a word out of a vocabulary, in field F; %%iflags.F: letters
//	; Rd=8    a field without operand

var featureByName = map[string]Features{
	"V5": FeatV5, "V5T": FeatV5T, "V5TE": FeatV5TE, "V6K": FeatV6K, "V6": FeatV6, "Hint": FeatHint, "WideB": FeatWideB, "T32": FeatT32, "M": FeatM,
	"Setend": FeatSetend, "Bar": FeatBar, "A32": FeatA32, "DSP": FeatDSP, "Sec": FeatSec, "Virt": FeatVirt, "V8": FeatV8, "V8R": FeatV8R,
	"NEON": FeatNEON, "VFP3": FeatVFP3, "FPv8": FeatFPv8, "VFPD": FeatVFPD,
}

// vocabularies of words as operands.
var vocabularies = sync.OnceValue(func() map[string]*vocabulary {
	return map[string]*vocabulary{
		// CPS, Arm ARM "CPS", interrupt flags; on M profile only i and f exist.
		"aif":    {words: []string{"f", "i", "if", "a", "af", "ai", "aif"}, vals: []uint32{1, 2, 3, 4, 5, 6, 7}},
		"if":     {words: []string{"f", "i", "if"}, vals: []uint32{1, 2, 3}},
		"i":      {words: []string{"i"}, vals: []uint32{2}},
		"even":   {words: []string{"eq", "cs", "hs", "mi", "vs", "hi", "ge", "gt", "al"}, vals: []uint32{0, 2, 2, 4, 6, 8, 10, 12, 14}, mixed: true},
		"odd":    {words: []string{"ne", "cc", "lo", "ul", "pl", "vc", "ls", "lt", "le"}, vals: []uint32{1, 3, 3, 3, 5, 7, 9, 11, 13}, mixed: true},
		"status": {words: []string{"cpsr", "apsr", "spsr", "cpsr_all", "spsr_all"}, vals: []uint32{0, 0, 1, 0, 1}, parts: true},
		"nzcv":   {words: []string{"apsr_nzcv"}, vals: []uint32{15}},
		"endian": {words: []string{"le", "be"}, vals: []uint32{0, 1}, mixed: true},
		// Barrier options; ARMv6-M has SY only (DDI 0419, "DMB"), the others as ARMv7-A.
		"barrier": {words: []string{"sy", "st", "ish", "ishst", "nsh", "nshst", "osh", "oshst", "un", "unst", "sh", "shst"}, vals: []uint32{15, 14, 11, 10, 7, 6, 3, 2, 7, 6, 11, 10}, numbers: true},
		"sy":      {words: []string{"sy"}, vals: []uint32{15}, numbers: true},
		// Those of loads, ARMv8.
		"loads": {words: []string{"ld", "ishld", "nshld", "oshld"}, vals: []uint32{13, 9, 5, 1}},
		// Banked registers (DDI 0406, "Encoding and use of banked register transfer
		// instructions"): bit 5 is R, bit 4 is M.
		"banked": bankedNames(),
		// System registers of floating point (DDI 0406, "VMRS" and "VMSR").
		"fpsys": {words: []string{"fpsid", "fpscr", "mvfr1", "mvfr0", "fpexc", "fpinst", "fpinst2"}, vals: []uint32{0, 1, 6, 7, 8, 9, 10}},
		"fpc":   {words: []string{"c0", "c1", "c6", "c7", "c8", "c9", "c10", "cr0", "cr1", "cr6", "cr7", "cr8", "cr9", "cr10"}, vals: []uint32{0, 1, 6, 7, 8, 9, 10, 0, 1, 6, 7, 8, 9, 10}},
		"fpv8":  {words: []string{"mvfr2"}, vals: []uint32{5}},
		"fpscr": {words: []string{"fpscr"}, vals: []uint32{1}},
		// Special registers of the M profile, to read and to write.
		"special": specialNames(false, false, false), "wspecial": specialNames(true, false, false),
		"special7": specialNames(false, true, false), "wspecial7": specialNames(true, true, false),
		"special8b": specialNames(false, false, true), "wspecial8b": specialNames(true, false, true),
		"special8": specialNames(false, true, true), "wspecial8": specialNames(true, true, true),
		"parts_g": flagParts("g"), "parts_nzcvqg": flagParts("nzcvqg"),
	}
})

func (r *Row) compile() error {
	r.compileBits()
	for i := range r.fields {
		f := &r.fields[i]
		r.vector = r.vector || vectorFields[f.name]
		if vectorFields[f.name] && f.name[0] == 'D' {
			r.high |= f.put(16)
		}
	}
	r.vector = r.vector || r.Need&(FeatVFP|FeatNEON) != 0
	if r.full() {
		r.at = fieldsA32{r.fieldIndex("cond"), r.fieldIndex("S"), r.fieldIndex("P"), r.fieldIndex("U"), r.fieldIndex("W"), r.fieldIndex("Rn"),
			r.fieldIndex("list"), r.fieldIndex("type"), r.fieldIndex("coproc")}
	}
	for _, p := range strings.Fields(r.Not) {
		p, need, _ := strings.Cut(p, "[")
		var m, v uint32
		for _, c := range p {
			m, v = m<<1, v<<1
			if c != 'x' {
				m |= 1
				v |= uint32(c - '0')
			}
		}
		r.not = append(r.not, exclusion{m, v, featureByName[strings.TrimSuffix(need, "]")]})
	}
	if r.later != nil {
		r.Does = r.later()
	}
	if r.Does == "" {
		reads, writes := r.Reads, r.Writes
		if r.vector {
			r.floatReads, reads = r.floatRefs(reads)
			r.floatWrites, writes = r.floatRefs(writes)
		}
		r.reads, r.writes = r.refs(reads), r.refs(writes)
	} else if err := r.derive(); err != nil {
		return err
	}
	for _, line := range strings.Split(strings.TrimSpace(r.Forms), "\n") {
		if err := r.compileForm(strings.TrimSpace(line)); err != nil {
			return fmt.Errorf("isa: row %s: %q: %v", r.ID, line, err)
		}
	}
	if r.State == A && r.fieldIndex("cond") == 0 {
		r.not = append(r.not, exclusion{0xf << 28, 0xf << 28, 0})
	}
	for _, f := range r.forms {
		f.grows = f.growth()
	}
	if r.sum = (sum{reg: -1, imm: -1}); r.does != nil {
		r.sum = r.does.sum(r)
	}
	return nil
}

func (r *Row) fieldIndex(name string) int8 {
	for i := range r.fields {
		if r.fields[i].name == name {
			return int8(i)
		}
	}
	return -1
}

// compileBits lays out the fields from the most significant bit down.
func (r *Row) compileBits() {
	type part struct {
		name      string
		lo, width int
		fixed     uint32
		should    bool
	}
	var buf [32]part
	parts := buf[:0]
	r.fields = make([]field, 0, 6)
	total := 0
	word, outside, _ := strings.Cut(r.Bits, "|")
	for _, tok := range strings.Fields(word) {
		if tok[0] == '0' || tok[0] == '1' || tok[0] == '(' {
			should := false
			for _, c := range tok {
				switch c {
				case '(':
					should = true
				case ')':
					should = false
				default:
					parts = append(parts, part{width: 1, fixed: uint32(c - '0'), should: should})
					total++
				}
			}
			continue
		}
		p := part{}
		if name, w, ok := strings.Cut(tok, ":"); ok && !strings.Contains(name, "[") {
			p.name = name
			p.width, _ = strconv.Atoi(w)
		} else {
			name, rng, _ := strings.Cut(strings.TrimSuffix(tok, "]"), "[")
			hi, lo, two := strings.Cut(rng, ":")
			if !two {
				lo = hi
			}
			h, _ := strconv.Atoi(hi)
			l, _ := strconv.Atoi(lo)
			p.name, p.lo, p.width = name, l, h-l+1
		}
		total += p.width
		parts = append(parts, p)
	}
	if total != 16 && total != 32 {
		panic(fmt.Sprintf("isa: row %s has %d bits", r.ID, total))
	}
	r.size = uint8(total / 8)
	if r.Second != nil {
		r.size *= 2
	}
	at := total
	for _, p := range parts {
		at -= p.width
		if p.name == "" {
			r.mask |= 1 << at
			r.value |= p.fixed << at
			if p.should {
				r.should |= 1 << at
			}
			continue
		}
		i := r.fieldIndex(p.name)
		if i < 0 {
			r.fields = append(r.fields, field{name: p.name})
			i = int8(len(r.fields) - 1)
		}
		f := &r.fields[i]
		r.twice = r.twice || f.width > uint8(p.lo) && f.segs[0].lo == uint8(p.lo)
		f.segs = append(f.segs, seg{uint8(p.lo), uint8(p.width), uint8(at)})
		f.width = max(f.width, uint8(p.lo+p.width))
	}
	for i := range r.fields {
		if f := &r.fields[i]; len(f.segs) == 1 && f.segs[0].lo == 0 {
			f.whole, f.first = true, f.segs[0]
		}
	}
	rest := 0
	for _, tok := range strings.Fields(outside) {
		name, w, _ := strings.Cut(tok, ":")
		n, _ := strconv.Atoi(w)
		rest += n
		r.fields = append(r.fields, field{name: name, width: uint8(n)})
	}
	if rest > 16 { // of Match.rest
		panic("isa: row " + r.ID + " has too many bits beside its word")
	}
	if len(r.fields) > maxFields {
		panic("isa: row " + r.ID + " has too many fields")
	}
}

func (r *Row) refs(s string) []regRef {
	var out []regRef
	for _, n := range strings.Fields(s) {
		switch n {
		case "list":
			out = append(out, regRef{list: true})
		case "mem":
			out = append(out, regRef{mem: true, field: -1})
		default:
			if reg, ok := RegByName(n); ok {
				out = append(out, regRef{field: -1, reg: reg})
			} else if i := r.fieldIndex(n); i >= 0 {
				out = append(out, regRef{field: i})
			} else {
				panic("isa: row " + r.ID + ": no register " + n)
			}
		}
	}
	return out
}

// compileForm compiles one spelling, and adds the forms that it comes to.
func (r *Row) compileForm(line string) error {
	f := Form{Row: r, Unified: true, Divided: true}
	line, fixed, _ := strings.Cut(line, ";")
	mnemonic, operands, _ := strings.Cut(f.marks(strings.TrimSpace(line)), " ")
	if err := f.operands(operands); err != nil {
		return err
	}
	for _, kv := range strings.Fields(fixed) {
		k, v, _ := strings.Cut(kv, "=")
		n, err := strconv.Atoi(v)
		if err != nil || r.fieldIndex(k) < 0 {
			return fmt.Errorf("bad fixed field %s", kv)
		}
		f.fixed = append(f.fixed, fixedField{r.fieldIndex(k), uint32(n)})
	}
	if r.State == A || r.vector {
		r.addFormsA32(f, mnemonic)
	} else {
		r.addFormsThumb(f, mnemonic)
	}
	return nil
}

// marks reads what is in front of the name in a spelling, and gives the rest.
func (f *Form) marks(line string) string {
	for {
		head, rest, _ := strings.Cut(line, " ")
		switch {
		case head == "~":
			f.Alias = true
		case head == "u":
			f.Divided = false
		case head == "d":
			f.Unified = false
		case head == "{it}":
			f.it = itIn
		case head == "{-it}":
			f.it = itOut
		case head == "{n}":
			f.onlyN = true
		case head == "{hi}":
			f.hi, f.Row.strict = true, true
		case head == "{in}":
			f.base = baseIn
		case head == "{out}":
			f.base = baseOut
		case head == "{blunt}":
			f.base = baseBlunt
		case head == "{vain}":
			f.base = baseVain
		case head == "{apart}":
			f.base, f.Row.strict = baseApart, true
		case strings.HasPrefix(head, "[!"):
			f.Lack |= featureByName[strings.Trim(head, "[!]")]
		case head != "" && head[0] == '[' && featureByName[strings.Trim(head, "[]")] != 0:
			f.Need |= featureByName[strings.Trim(head, "[]")]
		default:
			return line
		}
		line = strings.TrimSpace(rest)
	}
}

// operands reads the operands of a spelling.
func (f *Form) operands(text string) error {
	r := f.Row
	c := specReader{row: r}
	toks := splitOperands(text)
	f.ops = make([]spec, 0, len(toks))
	for _, tok := range toks {
		s, err := c.read(tok)
		if err != nil {
			return err
		}
		switch shape := s.facts().shape; shape {
		case OpReg, OpMem, OpList:
			f.shapes[len(f.ops)] = shape
		}
		f.ops = append(f.ops, s)
		if _, one := s.(*oneSpec); one {
			f.Rare = true
		}
		r.strict = r.strict || s.strict()
	}
	return nil
}

// addFormsThumb adds the forms of a spelling: what <s> and <c> at the end of the name are
// replaced by.
func (r *Row) addFormsThumb(f Form, name string) {
	base, flags := strings.CutSuffix(name, "<s>")
	if s := r.fieldIndex("S"); s >= 0 && flags { // T32
		with := f
		f.Mnemonic, with.Mnemonic = base, base+"s"
		f.fixed = append(f.fixed[:len(f.fixed):len(f.fixed)], fixedField{s, 0})
		with.fixed = append(with.fixed[:len(with.fixed):len(with.fixed)], fixedField{s, 1})
		r.forms = append(r.forms, &f, &with)
		return
	}
	if base, conditions := strings.CutSuffix(name, "<c>"); conditions {
		r.addConditions(f, base)
		return
	}
	if !flags {
		if r.size == 2 && f.it == itAny && f.Unified && r.FlagsWritten&NZ != 0 && strings.HasSuffix(name, "s") && r.hasResult() {
			f.it = itOut // the flags are set outside IT blocks only
		}
		r.addForm(f, name)
		return
	}
	if f.Unified {
		setting, block := f, f
		setting.Divided, block.Divided = false, false
		setting.it, block.it, block.Need = itOut, itIn, f.Need|FeatT32
		r.addForm(setting, base+"s")
		block.Mnemonic = base
		r.forms = append(r.forms, &block)
	}
	if f.Divided {
		f.Unified = false
		r.addForm(f, base)
	}
}

// addForm adds a form with a name, and its spelling with AL.
func (r *Row) addForm(f Form, name string) {
	f.Mnemonic = name
	r.forms = append(r.forms, &f)
	r.addAlways(f)
}

// addConditions adds a form for each condition, which is a field of the encoding.
func (r *Row) addConditions(f Form, base string) {
	c := r.fieldIndex("c")
	add := func(f Form, name string) {
		f.Mnemonic = name
		r.forms = append(r.forms, &f)
	}
	for i, n := range condNames[:AL] {
		one := f
		one.it, one.own = itOut, true
		one.fixed = append(append([]fixedField{}, f.fixed...), fixedField{c, uint32(i)})
		add(one, base+n)
		for _, alias := range condWords[AL+1:] {
			if c, _ := CondByName(alias); c == Cond(i) {
				other := one
				other.Alias = true
				add(other, base+alias)
			}
		}
	}
}

// addAlways adds the spellings with the condition AL written out: "addal",
// and in the order of the divided syntax "ldralb". They are never proposed.
func (r *Row) addAlways(f Form) {
	f.Alias, f.Rare = true, true
	name := f.Mnemonic
	put := func(name string, divided bool) {
		g := f
		g.Mnemonic, g.Divided = name, f.Divided && divided
		if g.Unified || g.Divided {
			r.forms = append(r.forms, &g)
		}
	}
	stem := name
	switch name[:min(3, len(name))] {
	case "ldr", "str", "ldm", "stm", "lds":
		stem = name[:3]
	}
	switch {
	case r.Flow == FlowBranch, strings.HasPrefix(name, "it"), r.size == 4 && r.Need&(FeatT32|FeatMovW|FeatDivThumb) != 0:
	case name != stem: // ldrb: ldralb, and in unified syntax ldrbal
		put(stem+"al"+name[len(stem):], true)
		put(name+"al", false)
	case len(name) > 3 && name[len(name)-1] == 's' && name != "mrs" && !strings.HasSuffix(name, "xns"): // adds: addals, and in unified syntax addsal
		put(name[:len(name)-1]+"als", true)
		put(name+"al", false)
	default:
		put(name+"al", true)
	}
}

// splitOperands cuts at commas outside brackets and braces.
func splitOperands(s string) []string {
	var out []string
	depth, start := 0, 0
	for i, c := range s {
		switch c {
		case '[', '{', '<':
			depth++
		case ']', '}', '>':
			depth--
		case ',':
			if depth == 0 {
				out = append(out, strings.TrimSpace(s[start:i]))
				start = i + 1
			}
		}
	}
	if t := strings.TrimSpace(s[start:]); t != "" {
		out = append(out, t)
	}
	return out
}
