package describe

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// A Target is what an explanation is about.
type Target struct {
	Name string       // as given; empty: whatever there is
	Have isa.Features // meaningless without a name
}

// everything are the sets of features that explanations look at if no target is given: what
// the A and R profile has, and what the M profile has.
func everything() []isa.Features {
	var a, m isa.Selection
	a.SelectArch("armv8.6-a")
	a.AddFPU("crypto-neon-fp-armv8")
	m.SelectArch("armv8.1-m.main")
	m.Extend("dsp")
	m.AddFPU("fpv5-d16")
	return []isa.Features{a.Have(), m.Have()}
}

func (t Target) sets() []isa.Features {
	if t.Name == "" {
		return everything()
	}
	return []isa.Features{t.Have}
}

// cycles is how long a line takes on the target.
func (t Target) cycles(m *isa.Match) []isa.Cycles {
	if t.Name == "" {
		return m.AllCycles()
	}
	return m.Cycles(t.Name, t.Have)
}

// code is one instruction as machine code, with what there is to say of it.
type code struct {
	row     *isa.Row
	word    uint32
	second  *uint32
	effects isa.Effects
	floats  isa.FloatEffects
	cycles  []isa.Cycles
	cond    isa.Cond
	// restores: it is a return from an exception, which takes CPSR from SPSR.
	restores bool
}

// bytesText are the bytes of an instruction in the order of memory, of little-endian code:
// those of a halfword the low one first, of two the first halfword first (DDI 0406C, A3.3.2).
func bytesText(row *isa.Row, word uint32) string {
	w := []uint32{word & 0xff, word >> 8 & 0xff, word >> 16 & 0xff, word >> 24}
	switch {
	case row.Size() == 2:
		return fmt.Sprintf("%02x %02x", w[0], w[1])
	case row.State == isa.T:
		return fmt.Sprintf("%02x %02x %02x %02x", w[2], w[3], w[0], w[1])
	}
	return fmt.Sprintf("%02x %02x %02x %02x", w[0], w[1], w[2], w[3])
}

// Sources collects under which conditions figures hold, and where they are from: once at
// the end of an explanation, however many lines have them.
type Sources struct {
	keys  []string
	cores map[string][]string // by key
}

// text lists the figures of one line, and notes what there is to say of them.
func (s *Sources) text(list []isa.Cycles) string {
	if len(list) == 0 {
		return ""
	}
	var counts []string
	for _, c := range list {
		counts = append(counts, c.Core.Name+" "+c.Count)
		key := c.Note + " (" + c.Source + ")"
		if s.cores == nil {
			s.cores = map[string][]string{}
		}
		if s.cores[key] == nil {
			s.keys = append(s.keys, key)
		}
		if !slices.Contains(s.cores[key], c.Core.Name) {
			s.cores[key] = append(s.cores[key], c.Core.Name)
		}
	}
	return "Cycles: " + strings.Join(counts, ", ") + ".\n\n"
}

// End is what has been collected.
func (s *Sources) End() string {
	if len(s.keys) == 0 {
		return ""
	}
	var b strings.Builder
	b.WriteString("## Where the cycles are from\n\n")
	for _, key := range s.keys {
		fmt.Fprintf(&b, "- %s: %s\n", strings.Join(s.cores[key], ", "), key)
	}
	return b.String()
}

// text is Markdown about the code.
func (c *code) text(from *Sources) string {
	r := c.row
	var b strings.Builder
	digits := 4
	if r.Size() > 2 {
		digits = 8
	}
	fmt.Fprintf(&b, "%s, %s encoding %s — %s\n\n%s\n\n", r.Name, r.Set(), r.Enc, r.Title, r.Text())
	fmt.Fprintf(&b, "Code `0x%0*x`, in memory `%s`, from %s on\n\n```\n%s\n```\n\n", digits, c.word, bytesText(r, c.word), since(r, 0), r.Layout(c.word))
	if c.second != nil {
		fmt.Fprintf(&b, "After it a second instruction: code `0x%08x`.\n\n", *c.second)
	}
	if c.effects.Conditional && c.cond < isa.AL {
		fmt.Fprintf(&b, "On condition %s. ", strings.ToUpper(c.cond.String()))
	}
	does := &c.effects
	reads, writes := listOrNone(nil, does.Reads, does.ReadsMem, 0), listOrNone(nil, does.Writes, does.WritesMem, 0)
	switch f := &c.floats; {
	case r.Scalar():
		reads, writes = listOrNone(f.ReadNames, does.Reads, does.ReadsMem, f.PartsRead), listOrNone(f.WriteNames, does.Writes, does.WritesMem, f.PartsWritten)
	case r.Vector() && reads == "nothing" && writes == "nothing" && does.FlagsRead|does.FlagsWritten == 0:
		reads, writes = "no core register", "none"
	}
	set := does.FlagsWritten.String()
	if c.restores {
		set = "all of CPSR, from SPSR"
	}
	fmt.Fprintf(&b, "Reads %s; writes %s; flags read: %s, set: %s.\n\n", reads, writes, does.FlagsRead, set)
	b.WriteString(from.text(c.cycles))
	return b.String()
}

// since names the first architecture that has an encoding.
func since(r *isa.Row, more isa.Features) string {
	need, thumb := r.Need|more, r.State == isa.T
	s := need.First()
	if !thumb {
		s = need.FirstA32()
	}
	switch {
	case s != "every architecture":
		return s
	case !thumb:
		return "the first A32 cores"
	}
	return "ARMv4T"
}

// aNumber is the longest prefix of words that are numbers, in the notations of C and of the
// assembler.
func aNumber(word string) (v uint64, ok bool) {
	word = strings.TrimPrefix(strings.ReplaceAll(word, "_", ""), "#")
	negative := strings.HasPrefix(word, "-")
	v, err := strconv.ParseUint(strings.TrimPrefix(word, "-"), 0, 32)
	if err != nil {
		return 0, false
	}
	if negative {
		v = uint64(uint32(-int64(v)))
	}
	return v, true
}

// Number explains a text that is a number, or two halfwords: what it is as machine code, and
// which instructions take it as a constant. ok is false for other texts.
func Number(text string, t Target) (markdown string, ok bool) {
	words := strings.Fields(text)
	if len(words) == 0 || len(words) > 2 {
		return "", false
	}
	v, ok := aNumber(words[0])
	if !ok {
		return "", false
	}
	halves := false
	if len(words) == 2 {
		low, ok := aNumber(words[1])
		if !ok || v > 0xffff || low > 0xffff {
			return "", false
		}
		v, halves = v<<16|low, true
	}
	var b strings.Builder
	from := &Sources{}
	fmt.Fprintf(&b, "# %s\n\n", text)
	word := uint32(v)
	fmt.Fprintf(&b, "%d, 0x%x, binary %s", word, word, groups(word))
	if int32(word) < 0 {
		fmt.Fprintf(&b, "; signed %d", int32(word))
	}
	b.WriteString("\n\n")
	if word <= 0xffff && !halves {
		b.WriteString(decoded("T16", fmt.Sprintf("0x%04x", word), t, from, func(have isa.Features) (isa.Inst, bool) {
			in, ok := isa.Decode(have, uint16(word), 0)
			return in, ok && in.Row.Size() == 2
		}))
		if top := word >> 11; top >= 0b11101 { // DDI 0406C, A6.1
			b.WriteString("As a halfword it is the first one of a T32 instruction of two: ask for both, the first one first.\n\n")
		}
	} else {
		b.WriteString(decoded("T32", fmt.Sprintf("0x%04x 0x%04x", word>>16, word&0xffff), t, from, func(have isa.Features) (isa.Inst, bool) {
			in, ok := isa.Decode(have, uint16(word>>16), uint16(word))
			return in, ok && in.Row.Size() == 4
		}))
	}
	if !halves {
		b.WriteString(decoded("A32", fmt.Sprintf("0x%08x", word), t, from, func(have isa.Features) (isa.Inst, bool) {
			if !have.Has(isa.FeatA32) {
				return isa.Inst{}, false
			}
			return isa.DecodeA32(have, word)
		}))
		b.WriteString(constantText(word) + "\n")
	}
	b.WriteString(from.End())
	return strings.TrimSpace(b.String()) + "\n", true
}

// decoded explains machine code in one instruction set, once for each row that has it.
func decoded(set, shown string, t Target, from *Sources, decode func(isa.Features) (isa.Inst, bool)) string {
	var b strings.Builder
	var rows []*isa.Row
	for _, have := range t.sets() {
		in, ok := decode(have)
		if !ok || len(rows) > 0 && rows[0] == in.Row {
			continue
		}
		rows = append(rows, in.Row)
		note := ""
		if in.Unpredictable {
			note = " (unpredictable)"
		}
		fmt.Fprintf(&b, "## %s %s: `%s`%s\n\n", set, shown, Source(&in), note)
		c := code{row: in.Row, word: in.Word, effects: in.Effects(), floats: in.Floats(), cond: in.Values().Condition(), restores: in.RestoresStatus()}
		if m, ok := in.Match(); ok {
			c.cycles = t.cycles(&m)
		}
		b.WriteString(c.text(from))
	}
	if rows == nil {
		on := ""
		if t.Name != "" {
			on = " on " + t.Name
		}
		fmt.Fprintf(&b, "## %s %s: no instruction%s\n\n", set, shown, on)
	}
	return b.String()
}

// far is an address from which no branch reaches 0.
const far = 1 << 30

var address = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`0x[0-9a-f]{8}$`) })

// Source writes a decoded instruction as a line of source in unified syntax; a branch's target
// is told as its distance from the line.
func Source(in *isa.Inst) string {
	text := in.Text(true, far)
	if at := address().FindString(text); at != "" {
		if v, err := strconv.ParseInt(at[2:], 16, 64); err == nil && v > far/2 && v < far+far/2 && in.Row.Flow != isa.FlowNext {
			target := "."
			if v != far {
				target = fmt.Sprintf(".%+d", v-far)
			}
			text = strings.TrimSuffix(text, at) + target
		}
	}
	return text
}

// groups writes a number in binary, in groups of four.
func groups(v uint32) string {
	s := strconv.FormatUint(uint64(v), 2)
	s = strings.Repeat("0", (4-len(s)%4)%4) + s
	var out []string
	for ; s != ""; s = s[4:] {
		out = append(out, s[:4])
	}
	return strings.Join(out, " ")
}

// constantText says which instructions have a number as a constant.
func constantText(v uint32) string {
	var list []string
	add := func(ok bool, text string) {
		if ok {
			list = append(list, "- "+text+"\n")
		}
	}
	add(v <= 255, fmt.Sprintf("T16: `movs r0, #%d`, one byte", v))
	_, t32 := isa.ModifiedT32(v)
	_, inverted := isa.ModifiedT32(^v)
	add(t32, fmt.Sprintf("T32: `mov.w r0, #0x%x`, a constant of data processing (from ARMv6T2 and ARMv7-M on)", v))
	add(!t32 && inverted, fmt.Sprintf("T32: `mvn r0, #0x%x`, the inverted constant (from ARMv6T2 and ARMv7-M on)", ^v))
	add(v <= 0xffff, fmt.Sprintf("T32 and A32: `movw r0, #0x%x`, 16 bits (from ARMv6T2, in T32 also from ARMv8-M on)", v))
	_, a32 := isa.Rotated(v)
	_, inverted = isa.Rotated(^v)
	add(a32, fmt.Sprintf("A32: `mov r0, #0x%x`, a rotated byte", v))
	add(!a32 && inverted, fmt.Sprintf("A32: `mvn r0, #0x%x`, the inverted constant", ^v))
	add(true, fmt.Sprintf("everywhere: `ldr r0, =0x%x`, from the literal pool where it has to be", v))
	return "## As a constant\n\n" + strings.Join(list, "")
}

// Encoded explains what the first instruction of the program comes to, as a line of the
// instruction set that is in force; from collects what is said at the end. ok is false if there is no such line, or it has no encoding.
func (r *View) Encoded(t Target, from *Sources) (markdown string, ok bool) {
	for i := range r.Items {
		it := &r.Items[i]
		if it.Stmt.Kind != syntax.Instruction {
			continue
		}
		if it.Match.Form == nil || r.hasErrors(it) {
			return "", false
		}
		m := &it.Match
		c := code{row: m.Form.Row, word: m.Encode(), effects: m.Effects(), floats: m.Floats(), cond: m.Condition(), restores: m.RestoresStatus(), cycles: t.cycles(m)}
		if second, ok := m.Second(); ok {
			c.second = &second
		}
		var b strings.Builder
		fmt.Fprintf(&b, "## %s: `%s`\n\n%s", c.row.Set(), strings.TrimSpace(syntax.WithoutComments(r.LineText(it))), c.text(from))
		if it.Literal >= 0 {
			b.WriteString("The literal is in a pool right after the line here; elsewhere the offset is another one.\n\n")
		}
		if m.Deferred() {
			b.WriteString("What depends on symbols that are not known here is 0.\n\n")
		}
		return b.String(), true
	}
	return "", false
}

func listOrNone(floats []string, l isa.RegList, mem bool, parts isa.FloatParts) string {
	list := append(floats, registersText(l)...)
	if mem {
		list = append(list, "memory")
	}
	if list = withParts(list, parts); len(list) == 0 {
		return "nothing"
	}
	return joined(list)
}
