package describe

import (
	"cmp"
	"fmt"
	"math/bits"
	"slices"
	"strconv"
	"strings"
	"sync"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// CompletionKind is what a completion is.
type CompletionKind uint8

// The kinds of completions.
const (
	CompleteInstruction CompletionKind = iota
	CompleteDirective
	CompleteMacro
	CompleteRegister
	CompleteLabel
	CompleteFunction
	CompleteConstant
	CompleteWord
	CompleteTemplate
)

// Completion is what may be written at a place.
type Completion struct {
	Text   string // as it would be written there
	Kind   CompletionKind
	Detail string // a few words
	// Template is what is written instead of Text, where that is more than a word; nil for
	// others.
	Template []Part
	// Rank orders them: what is legal comes before what is not, with lower numbers.
	Rank int
	// order is that among those of one rank; see the orders below.
	order int
}

// Elsewhere is a name that another source defines for all.
type Elsewhere struct {
	Name    string
	Source  string // its name, as one would say it
	Code    bool   // it names code, not data
	Routine bool
}

// Orders of completions of one rank: those of registers are their numbers, from 0 on.
const (
	orderOwn   = -1 // a name that the program has given to a register
	orderUsual = 20 // what is written most of the time there
	orderPlace = 30 // places of code, the near ones first
	orderOther = 1 << 30
)

// Ranks of completions.
const (
	rankLegal = iota
	rankFar   // a label that the instruction does not reach, what is rarely meant, and what does not fit to the other operands
	rankOther // what needs another target
)

// CompletionsIn lists what may be written at byte offset off of a file of the program, and
// the word there that it takes the place of. What is written of that word decides: names
// begin with it, whatever the case. elsewhere visits what other sources of the program define for
// all; nil: nothing is known of that.
func (r *View) CompletionsIn(path string, off int, elsewhere func(visit func(Elsewhere))) ([]Completion, finding.Span) {
	c, col := r.completingAt(path, off)
	if c == nil {
		return nil, finding.Span{}
	}
	c.elsewhere = elsewhere
	f := r.Sources[c.file].AsWritten()
	start, line := f.LineStart(c.line), f.Line(c.line)
	from := col
	for from > 0 && program.IdentByte(line.Text[from-1]) {
		from--
	}
	to := col
	for to < len(line.Text) && program.IdentByte(line.Text[to]) {
		to++
	}
	if strings.HasPrefix(line.Text[to:], `\@`) { // the rest of a label in a macro
		to += 2
	}
	if c.word = line.Text[from:col]; !c.read(from) {
		return nil, finding.Span{}
	}
	if s := c.statement; s != nil && s.Directive != nil && s.Directive.Args == syntax.ArgsRaw && !strings.Contains(c.operand, ",") { // a name with any letters
		for from = int(s.NameEnd); from < col && line.Text[from] <= ' '; {
			from++
		}
		c.word = line.Text[from:col]
	}
	c.propose()
	slices.SortStableFunc(c.out, func(a, b Completion) int {
		return cmp.Or(cmp.Compare(a.Rank, b.Rank), cmp.Compare(a.order, b.order), c.otherCase(a)-c.otherCase(b), strings.Compare(a.Text, b.Text))
	})
	seen := map[string]bool{} // in another way, too
	c.out = slices.DeleteFunc(c.out, func(x Completion) bool {
		again := seen[x.Text]
		seen[x.Text] = true
		return again
	})
	return c.out, finding.Span{Start: start + from, End: start + to}
}

// otherCase is 0 for what begins with the word in the same case, and else 1.
func (c *completing) otherCase(x Completion) int {
	if strings.HasPrefix(x.Text, c.word) {
		return 0
	}
	return 1
}

// completingAt is a place in a file as completion sees it, and its column; nil: there is none.
func (r *View) completingAt(path string, off int) (*completing, int) {
	file := r.FileOf(path)
	if file < 0 || off < 0 {
		return nil, 0
	}
	f := r.Sources[file].AsWritten()
	if off > len(f.Text()) {
		return nil, 0
	}
	n := f.LineAt(off)
	line := f.Line(n)
	if line.StartsInComment() {
		return nil, 0
	}
	col := min(off-f.LineStart(n), len(line.Text))
	return &completing{View: r, file: file, line: n, dialect: f.Dialect(), text: line.Text[:col]}, col
}

// completing is a place at which something is being written.
type completing struct {
	*View
	file    int32
	line    int
	dialect syntax.Dialect
	text    string // the line up to the place
	word    string // what is written of the word there

	item        program.Item // like that of the place
	environment *program.Environment
	statement   *syntax.Stmt  // that the word is an operand of; nil: it is a name
	before      []isa.Operand // the operands in front of that of the word
	after       []isa.Operand // those behind it, where the line has a statement that is complete
	complete    bool          // it has one
	elsewhere   func(visit func(Elsewhere))
	near        bool   // places that are near come first
	labelled    bool   // labels come first
	whole       bool   // what is taken has to make it complete again
	operand     string // what is written of the operand, up to the word
	post        bool   // it is behind the brackets of an address
	unknown     bool   // one of those in front is not known before the body that it is in is read
	list        func() // what else may be there, and nothing but that

	macro       *program.Macro // that the line is in the body of
	first, last int            // lines of the body, or of what a condition leaves out, around the place
	unsure      bool           // what is in force is not known
	out         []Completion
}

// read finds out what is in front of the word, which begins at column from of the line.
// It says whether something can be completed there.
func (c *completing) read(from int) bool {
	c.place()
	c.text = withoutWhole(c.text)
	if c.hash(from) || c.parameter(from) {
		return true
	}
	head := syntax.ParseAs(c.text[:from]+"x", c.dialect).Line(0)
	if head.Comment >= 0 || len(head.Stmts) == 0 {
		return false
	}
	s := &head.Stmts[len(head.Stmts)-1]
	if int(s.Start) >= from { // a statement of its own
		return s.Kind != syntax.Label || !s.NoColon || from > 0
	}
	if int(s.NameEnd) > from { // in the middle of its name
		return false
	}
	switch s.Kind {
	case syntax.Instruction, syntax.Directive, syntax.Assign, syntax.Unknown:
	default:
		return false
	}
	c.statement = s
	if s.Kind != syntax.Instruction {
		c.operand = strings.TrimLeft(c.text[s.NameEnd:from], " \t")
		return strings.Count(c.operand, `"`)%2 == 0
	}
	if !c.inFront(s, from) {
		return false
	}
	c.behind(s, from)
	c.item = itemOf(s, c.item, c.item.Environment)
	return true
}

// inFront finds the operands in front of that of the word, which begins at column from: those of the
// statement without the last comma. What is added to an address after the brackets is a part of
// the address.
func (c *completing) inFront(s *syntax.Stmt, from int) bool {
	rest := c.text[s.NameEnd:from]
	last, before, depth := -1, -1, 0 // the last comma between operands, and the one before it
	for i, b := range []byte(rest) {
		switch b {
		case '[', '{':
			depth++
		case ']', '}':
			depth--
		case ',':
			if depth <= 0 {
				last, before = i, last
			}
		}
	}
	c.operand = strings.TrimLeft(rest[last+1:], " \t")
	if last < 0 {
		return true
	}
	whole := syntax.ParseAs(c.text[:int(s.NameEnd)+last], c.dialect).Line(0)
	if len(whole.Stmts) == 0 {
		return false
	}
	typed := whole.Stmts[len(whole.Stmts)-1]
	c.unknown = strings.ContainsRune(rest[:last], '\\')
	for i := range typed.Ops {
		c.unknown = c.unknown || c.unread(&typed.Ops[i], c.text)
	}
	now := itemOf(&typed, c.item, c.item.Environment)
	c.Operands(&now, true)
	c.before = slices.Clone(c.Ops)
	if n := len(c.before) - 1; n >= 0 && c.before[n].Kind == isa.OpMem && c.before[n].Off == isa.OffNone && !c.before[n].Writeback && c.postIndexed(s, c.before) {
		c.before, c.operand = c.before[:n], strings.TrimLeft(rest[before+1:], " \t")
		c.post = true
	}
	return true
}

// postIndexed says whether something may be added to the address that is the last operand, behind
// its brackets.
func (c *completing) postIndexed(s *syntax.Stmt, ops []isa.Operand) bool {
	q := c.query(s.Width)
	return slices.ContainsFunc(postIndexes(ops[len(ops)-1]), func(o isa.Operand) bool {
		return s.Mnemonic.Begins(q, append(ops[:len(ops)-1:len(ops)-1], o))
	})
}

// postIndexes are an address with what may be added behind its brackets: a constant that nearly
// every instruction takes, a register.
func postIndexes(at isa.Operand) (list []isa.Operand) {
	for _, o := range []isa.Operand{{Off: isa.OffImm, Imm: 4, Known: true}, {Off: isa.OffImm, Imm: 8, Known: true}, {Off: isa.OffReg, Index: 0}, {Off: isa.OffReg, Index: 1}} {
		o.Kind, o.Reg, o.Post = isa.OpMem, at.Reg, true
		list = append(list, o)
	}
	return list
}

// behind finds the operands behind that of the word, where the line has a complete statement.
func (c *completing) behind(s *syntax.Stmt, from int) {
	f := c.Sources[c.file].AsWritten()
	line := f.Line(c.line)
	for i := range line.Stmts {
		now := line.Stmts[i]
		if now.Start != s.Start || now.NameEnd != s.NameEnd || now.Kind != syntax.Instruction || now.Err != nil || len(now.Ops) <= len(c.before) {
			continue
		}
		if at := now.Ops[len(c.before)]; int(at.Start) > from || int(at.End) < from {
			return
		}
		it := itemOf(&now, c.item, c.item.Environment)
		c.Operands(&it, true)
		if _, ok := now.Mnemonic.Match(c.query(now.Width), c.Ops); ok {
			c.complete, c.after = true, slices.Clone(c.Ops[len(c.before)+1:])
		}
	}
}

// rank is that of what is taken as far as the operands go, by whether it fits to the others.
func (c *completing) rank(takes func() bool) (rank int, ok bool) {
	if !takes() {
		return 0, false
	}
	if c.whole = c.complete; c.whole && !takes() {
		rank = rankFar
	}
	c.whole = false
	return rank, true
}

// itemOf is an item with a statement at the place of another one, in an environment.
func itemOf(s *syntax.Stmt, at program.Item, environment int16) program.Item {
	return program.Item{Stmt: s, File: at.File, Line: at.Line, Index: at.Index, Section: at.Section, Offset: at.Offset,
		Slot: at.Slot, Size: max(at.Size, 2), Environment: environment, Literal: -1}
}

// withoutWhole puts blanks in place of the block comments that end in a line.
func withoutWhole(text string) string {
	for {
		from := strings.Index(text, "/*")
		if from < 0 {
			return text
		}
		n := strings.Index(text[from+2:], "*/")
		if n < 0 {
			return text
		}
		text = text[:from] + strings.Repeat(" ", n+4) + text[from+n+4:]
	}
}

// propose lists what may be there.
func (c *completing) propose() {
	if c.list == nil {
		c.parameters()
	}
	switch {
	case c.list != nil:
		c.list()
	case c.statement == nil:
		c.missing()
		c.names()
		c.templates()
	case c.statement.Kind == syntax.Instruction:
		c.operands()
	case c.statement.Kind == syntax.Unknown: // a macro's, which may be anything
		c.behindName()
		c.anySymbol()
		c.registers(func(isa.Reg) bool { return true })
	case c.statement.Directive != nil:
		c.arguments()
	default:
		c.anySymbol()
	}
}

// offer adds a completion that the word may be the beginning of, in the case of the word.
func (c *completing) offer(text string, kind CompletionKind, detail string, rank int) {
	c.offerIn(orderOther, text, kind, detail, rank)
}

// offerIn is offer with an order among those of one rank.
func (c *completing) offerIn(order int, text string, kind CompletionKind, detail string, rank int) {
	if len(text) < len(c.word) || !strings.EqualFold(text[:len(c.word)], c.word) {
		return
	}
	switch kind {
	case CompleteInstruction, CompleteRegister, CompleteWord, CompleteDirective:
		if c.word != "" && c.word == strings.ToUpper(c.word) && c.word != strings.ToLower(c.word) {
			text = strings.ToUpper(text)
		}
	}
	c.out = append(c.out, Completion{Text: text, Kind: kind, Detail: detail, Rank: rank, order: order})
}

// behindName lists the directives that are written behind the name that they give, as .req is, where
// no macro has that name.
func (c *completing) behindName() {
	if c.operand != "" || slices.ContainsFunc(c.Macros, func(m *program.Macro) bool { return strings.EqualFold(m.Name, c.statement.Name) }) {
		return
	}
	for _, d := range syntax.Directives() {
		if d.NameFirst && d.Name[0] == '.' {
			c.offer(d.Name, CompleteDirective, d.Usage, rankLegal)
		}
	}
}

// query is that of the place, with the width suffix of a name.
func (c *completing) query(width byte) *isa.Query {
	q := c.Query(&c.item, c.environment)
	q.Width = width
	return &q
}

// names lists what a statement may begin with.
func (c *completing) names() {
	low := strings.ToLower(c.word)
	c.mnemonics(low)
	for _, m := range c.Macros {
		c.offer(m.Name, CompleteMacro, strings.TrimSpace("macro "+header(m)), rankLegal)
	}
	c.defines()
	if c.dialect == syntax.Columns {
		for _, n := range syntax.ColumnDirectives() {
			c.offer(n, CompleteDirective, "directive", rankLegal)
		}
		return
	}
	if low == "" || low[0] == '.' {
		for _, d := range syntax.Directives() {
			if !d.NameFirst {
				order := orderOther
				if usualDirectives()[d.Name] {
					order = orderUsual
				}
				c.offerIn(order, d.Name, CompleteDirective, d.Usage, rankLegal)
			}
		}
	}
}

// missing lists the names that the program uses, or declares for all, and that nothing defines:
// at the beginning of a line one of them is about to be.
func (c *completing) missing() {
	if c.dialect == syntax.Columns || c.word == "" || len(c.text) > len(c.word) {
		return
	}
	supplied := map[string]bool{}
	if c.elsewhere != nil {
		c.elsewhere(func(x Elsewhere) { supplied[x.Name] = true })
	}
	c.EachSymbol(func(y *program.Symbol) {
		if !y.Defined && !y.Extern && !supplied[y.Name] && plainName(y.Name) {
			c.offerIn(orderUsual, y.Name+":", CompleteLabel, "not defined yet", rankLegal)
		}
	})
}

// plainName says whether a name can be written without quotes.
func plainName(name string) bool {
	return name != "" && (name[0] < '0' || name[0] > '9') && strings.IndexFunc(name, func(r rune) bool { return r < 0x80 && !program.IdentByte(byte(r)) }) < 0
}

// usualDirectives are those that nearly every source has, by common practice: they come before
// the others.
var usualDirectives = lazySet(".align .arch .arm .ascii .asciz .balign .bss .byte .cpu .data .else .endif .endm .endr .equ .extern .global .hword .if .ifdef" +
	" .include .ltorg .macro .pool .rept .section .set .size .space .syntax .text .thumb .thumb_func .type .weak .word")

// lazySet is a set of words, made when one is looked for.
func lazySet(list string) func() map[string]bool {
	return sync.OnceValue(func() map[string]bool {
		out := map[string]bool{}
		for _, w := range strings.Fields(list) {
			out[w] = true
		}
		return out
	})
}

// usualWords are cores, architectures and the like, and words of operands, that are named most, by
// common practice.
var usualWords = lazySet("arm7tdmi arm926ej-s cortex-a7 cortex-m0 cortex-m0plus cortex-m3 cortex-m33 cortex-m4 cortex-m7" +
	" armv4t armv5te armv6-m armv7-a armv7-m armv7e-m armv8-m.base armv8-m.main fpv4-sp-d16 fpv5-d16 neon vfpv2 vfpv3-d16" +
	" apsr_nzcvq control cpsr cpsr_c cpsr_f eq i msp ne primask psp p15 spsr sy")

// usualWord is the order of a word.
func usualWord(word string) int {
	if usualWords()[word] {
		return orderUsual
	}
	return orderOther
}

// usualInstructions are those that most lines have, by common practice.
var usualInstructions = lazySet("add adds and ands b beq bic bics bl blx bne bx cbnz cbz cmp eor eors ldr ldrb ldrh lsl lsls lsr lsrs" +
	" mov movs mul muls mvn mvns orr orrs pop push str strb strh sub subs tst")

// usual is the order of an instruction: the usual ones come before directives where there is code,
// and elsewhere after those.
func (c *completing) usual(name string) int {
	switch {
	case !usualInstructions()[name]:
		return orderOther
	case int(c.item.Section) < len(c.Sections) && c.Sections[c.item.Section].Exec:
		return orderUsual - 1
	}
	return orderUsual + 1
}

// mnemonics lists the instructions that begin with a word, those of other targets last.
// Conditions and width suffixes come when the word has all of the name that they are
// after.
func (c *completing) mnemonics(low string) {
	for i, q := range c.states(0) {
		c.mnemonicsOf(low, q, i > 0)
	}
}

// mnemonicsOf lists those of a state; other says that it is not the one in force.
func (c *completing) mnemonicsOf(low string, q *isa.Query, other bool) {
	name := func(text string) {
		m, width := isa.Find(text)
		if m == nil {
			return
		}
		q.Width = width
		if cond, written := m.Cond(); written && cond == isa.AL {
			return // nobody writes that it is always done
		}
		if m.Begins(q, nil) && !rare(m, q) {
			if other {
				c.offer(text, CompleteInstruction, elsewhere(q, c.query(0)), rankOther)
				return
			}
			c.offerIn(c.usual(text), text, CompleteInstruction, title(m, q), rankLegal)
		} else if need := needs(m, q); need != "" && width == 0 && (!m.Vector() || len(low) > 2) { // hundreds begin with a V
			c.offer(text, CompleteInstruction, "needs "+need, rankOther)
		}
	}
	carries := q.IT.In && c.higherOrSame()
	var stems []string
	if q.A32 {
		stems = isa.StemsA32()
	}
	for _, m := range isa.Mnemonics() {
		if !q.A32 || m.Vector() {
			stems = append(stems, m.Name)
		}
	}
	for _, stem := range stems {
		m, _ := isa.Find(stem)
		if m == nil {
			continue
		}
		if slot := q.IT; slot.In {
			text := m.With(slot.Cond, q.Unified)
			if other := otherSpelling(text, slot.Cond); other != "" && (carries || !strings.HasPrefix(text, low)) {
				text = other
			}
			if name(text); q.Unified && strings.HasPrefix(low, stem) {
				name(text + ".n")
				name(text + ".w")
			}
			continue
		}
		if strings.HasPrefix(stem, low) {
			name(stem)
		}
		// A condition may be inside a name, but not among its first letters.
		if n := min(3, len(stem), len(low)); n == 0 || stem[:n] != low[:n] {
			continue
		}
		for cond := isa.Cond(0); cond < isa.AL; cond++ {
			name(m.With(cond, q.Unified))
			if other := otherSpelling(m.With(cond, q.Unified), cond); other != "" {
				name(other)
			}
		}
		if q.Unified && !q.A32 && q.Have.Has(isa.FeatT32) {
			name(stem + ".n")
			name(stem + ".w")
		}
	}
	// Types of data may be written in other ways than the usual one.
	if stem, _, typed := strings.Cut(low, "."); typed {
		for _, letter := range []string{"", "i", "s", "u", "f", "p"} {
			for _, bits := range []string{"8", "16", "32", "64"} {
				text := stem + "." + letter + bits
				if slices.ContainsFunc(c.out, func(x Completion) bool { return strings.EqualFold(x.Text, text) }) {
					continue
				}
				if m, _ := isa.Find(text); m != nil && m.Begins(q, nil) {
					c.offer(text, CompleteInstruction, title(m, q), rankFar)
				}
			}
		}
	}
}

// otherSpelling is a name that ends with a condition with the other spelling of that, as HS is of
// CS; empty for conditions that have one spelling.
func otherSpelling(name string, cond isa.Cond) string {
	for _, other := range []string{"hs", "lo"} {
		if x, _ := isa.CondByName(other); x == cond {
			if i := strings.LastIndex(name, cond.String()); i >= 0 {
				return name[:i] + other + name[i+len(other):]
			}
		}
	}
	return ""
}

// higherOrSame says whether the IT line above the place has HS or LO, and not the other spellings:
// its lines are written alike.
func (c *completing) higherOrSame() bool {
	for at, n := min(c.item.Index, int32(len(c.Items)-1)), 0; at >= 0 && n <= maxBlock; at-- {
		s := c.Items[at].Stmt
		if s.Kind != syntax.Instruction {
			continue
		}
		if s.Mnemonic.OpensBlock() {
			return len(s.Ops) == 1 && (strings.EqualFold(s.Ops[0].Word, "hs") || strings.EqualFold(s.Ops[0].Word, "lo"))
		}
		n++
	}
	return false
}

// elsewhere says what a state is that is not in force.
func elsewhere(q, here *isa.Query) string {
	switch {
	case q.A32 == here.A32 && q.Unified && !q.IT.In:
		return "in the unified syntax"
	case q.A32 == here.A32 && !q.IT.In:
		return "in the divided syntax"
	case q.A32 && !q.Have.Has(isa.FeatA32):
		return "needs A32 code"
	case q.A32:
		return "in A32 code"
	case q.IT.In:
		return "in an IT block of the condition " + q.IT.Cond.String()
	}
	return "in Thumb code"
}

// title is what an instruction does, in the words that its forms have in common: those that the
// manual calls so, as far as the target has them, and else those that are not assembled as another
// instruction. With a condition it says when it is done.
func title(m *isa.Mnemonic, q *isa.Query) string {
	state, cond := isa.T, isa.AL
	if q.A32 {
		state, cond = isa.A, m.CondA32()
	} else if c, written := m.Cond(); written {
		cond = c
	}
	var own, named, all []string // titles: of rows with its name, of forms with it, and of all
	for _, f := range m.FormsOf(state) {
		if !q.Have.Has(f.Row.Need|f.Need) || q.Have&(f.Lack|f.Row.Lack) != 0 || f.Rare || !(f.Unified && q.Unified || f.Divided && !q.Unified) {
			continue
		}
		all = append(all, f.Row.Title)
		if f.Mnemonic != m.Name {
			continue
		}
		if rowOf(f.Row, m.Name) {
			own = append(own, f.Row.Title)
		}
		if !f.Alias {
			named = append(named, f.Row.Title)
		}
	}
	for _, list := range [][]string{own, named, all} {
		if len(list) > 0 {
			text := inCommon(list)
			if op, _, _ := m.Operation(); len(own) == 0 && shifting[op] != "" {
				text = shifting[op] // A32 has them as forms of MOV
			}
			return whenDone(text, cond)
		}
	}
	return ""
}

// shifting says what the shifts do that have no row of their own.
var shifting = map[string]string{"lsl": "Shift left", "lsr": "Shift right, zeros in", "asr": "Shift right, sign in", "ror": "Rotate right", "rrx": "Rotate right by one, through C"}

// rowOf says whether a row is of a name, with an S behind it or without.
func rowOf(row *isa.Row, name string) bool {
	return slices.ContainsFunc(strings.FieldsFunc(strings.ToLower(row.Name), func(r rune) bool { return strings.ContainsRune(" (),", r) }),
		func(of string) bool { return of == name || of+"s" == name })
}

// inCommon is what titles begin with alike, or the first of them where that is nothing.
func inCommon(titles []string) string {
	words := strings.Fields(titles[0])
	for _, t := range titles[1:] {
		other := strings.Fields(t)
		n := 0
		for n < min(len(words), len(other)) && words[n] == other[n] {
			n++
		}
		words = words[:n]
	}
	for len(words) > 0 && slices.Contains([]string{"a", "an", "the", "of", "with", "from", "on", "to", "by"}, words[len(words)-1]) {
		words = words[:len(words)-1]
	}
	if len(words) == 0 {
		return titles[0]
	}
	return strings.TrimSuffix(strings.Join(words, " "), ",")
}

// whenDone is a title with the condition on which the instruction is done.
func whenDone(title string, cond isa.Cond) string {
	if cond >= isa.AL {
		return title
	}
	return strings.TrimSuffix(title, " on a condition") + " if " + conditions[cond]
}

// rare says whether the name is only another spelling, as with the condition AL.
func rare(m *isa.Mnemonic, q *isa.Query) bool {
	if q.A32 {
		return false
	}
	spelled, common := false, false // so, and any
	for _, f := range m.FormsOf(isa.T) {
		if !f.Rare && f.Mnemonic == m.Name {
			return false
		}
		spelled, common = spelled || f.Mnemonic == m.Name, common || !f.Rare
	}
	return spelled || !common
}

// needs says what an instruction needs that the target does not have; empty where it is
// not that.
func needs(m *isa.Mnemonic, q *isa.Query) string {
	state := isa.T
	if q.A32 {
		state = isa.A
	}
	for _, f := range m.FormsOf(state) {
		if _, written := m.Cond(); written && !q.A32 && !q.IT.In && !f.Conditional() {
			continue // not there with any target
		}
		if need := f.Row.Need | f.Need; !f.Rare && (f.Unified && q.Unified || f.Divided && !q.Unified) && !q.Have.Has(need) {
			return since(f.Row, f.Need)
		}
	}
	return ""
}

// operands lists what an operand of an instruction may be.
func (c *completing) operands() {
	m, q := c.statement.Mnemonic, c.query(c.statement.Width)
	c.unsure = c.unsure || !m.Begins(q, nil) // the line is for another state
	states := c.states(c.statement.Width)
	takes := func(o isa.Operand) bool {
		ops := append(c.before[:len(c.before):len(c.before)], o)
		if c.unknown {
			return true
		}
		if !c.whole {
			return slices.ContainsFunc(states, func(q *isa.Query) bool { return m.Begins(q, ops) })
		}
		found, ok := m.Match(q, append(ops, c.after...))
		return ok && !found.Refused(q.Have)
	}
	// Some write % in front of a register's name.
	head := strings.TrimSuffix(c.operand, "%")
	shift := isa.ShiftByName(strings.ToLower(strings.TrimSpace(head)))
	switch {
	case strings.HasPrefix(head, "["):
		c.memory(head[1:], takes)
	case strings.HasPrefix(head, "{"):
		c.listed(takes)
		if m.Vector() {
			c.vectorRegisters()
		}
	case strings.HasPrefix(head, "#"):
		c.constants(func(v int64) bool { return takes(isa.Operand{Kind: isa.OpImm, Imm: v, Known: true}) })
	case strings.HasPrefix(head, "="):
		c.anySymbol()
	case shift != isa.NoShift:
		c.registers(func(reg isa.Reg) bool {
			return reg != isa.PC && takes(isa.Operand{Kind: isa.OpShift, Shift: shift, Reg: reg})
		})
	case strings.TrimSpace(head) != "": // in an expression, or after a whole operand
		if head = strings.TrimSpace(head); strings.IndexByte("#+-*/(|&^~<>", head[len(head)-1]) >= 0 {
			c.anySymbol()
		}
	default:
		c.registers(func(reg isa.Reg) bool {
			return takes(isa.Operand{Kind: isa.OpReg, Reg: reg}) || takes(isa.Operand{Kind: isa.OpReg, Reg: reg, Writeback: true})
		})
		if m.Vector() {
			c.vectorRegisters()
		}
		c.words(takes)
		for s := isa.LSL; s <= isa.RRX; s++ {
			if takes(isa.Operand{Kind: isa.OpShift, Shift: s, Imm: 1, Known: true, Reg: isa.NoReg}) || s == isa.RRX && takes(isa.Operand{Kind: isa.OpShift, Shift: s, Reg: isa.NoReg}) {
				c.offer(s.String(), CompleteWord, "shift", rankLegal)
			}
		}
		if c.unknown || slices.ContainsFunc(states, func(q *isa.Query) bool { return m.AddressNext(q, c.before) }) {
			c.labels(takes)
		}
	}
}

// listed lists the registers that may be in braces. Behind a '-' a range ends; else those that are
// below one that is there already come last, as lists are written in ascending order.
func (c *completing) listed(takes func(isa.Operand) bool) {
	before := c.text[:len(c.text)-len(c.word)]
	from, ranges := strings.CutSuffix(strings.TrimRight(strings.TrimSuffix(before, "%"), " \t"), "-")
	if !ranges {
		from = strings.TrimRight(from, " \t,")
	}
	list := isa.RegList(0)
	if whole := syntax.ParseAs(from+"}", c.dialect).Line(0); len(whole.Stmts) > 0 {
		now := itemOf(&whole.Stmts[len(whole.Stmts)-1], c.item, c.item.Environment)
		c.Operands(&now, true) // names of registers, too
		if n := len(c.Ops); n > 0 && c.Ops[n-1].Kind == isa.OpList {
			list = c.Ops[n-1].List
		}
	}
	last := isa.Reg(bits.Len16(uint16(list))) - 1 // where there is one
	c.registers(func(reg isa.Reg) bool {
		if !ranges || list == 0 {
			return takes(isa.Operand{Kind: isa.OpList, List: list | 1<<reg})
		}
		return reg > last && takes(isa.Operand{Kind: isa.OpList, List: list | (1<<(reg+1) - 1<<last)})
	})
	if ranges || list == 0 {
		return
	}
	for k := range c.out {
		x := &c.out[k]
		if x.Kind == CompleteRegister && c.register(x.Text) <= last {
			x.Rank = max(x.Rank, rankFar)
		}
	}
}

// register is the core register of a name, its own or one that the program has given to it.
func (c *completing) register(name string) isa.Reg {
	if reg, ok := isa.RegByName(strings.ToLower(name)); ok {
		return reg
	}
	return c.RegisterOf(name).Core
}

// memory lists what may be in brackets, of which head is written.
func (c *completing) memory(head string, takes func(isa.Operand) bool) {
	base, rest, second := strings.Cut(head, ",")
	inside, post := strings.CutSuffix(strings.TrimSpace(base), "]")
	base = inside
	if !second {
		c.registers(func(reg isa.Reg) bool {
			for _, o := range []isa.Operand{{}, {Off: isa.OffImm, Known: true}, {Off: isa.OffReg, Index: 0}} {
				o.Kind, o.Reg = isa.OpMem, reg
				if takes(o) {
					return true
				}
			}
			return false
		})
		return
	}
	reg := c.register(strings.TrimSpace(base))
	if reg == isa.NoReg {
		return
	}
	if strings.Contains(rest, "#") {
		c.constants(func(v int64) bool {
			return takes(isa.Operand{Kind: isa.OpMem, Reg: reg, Off: isa.OffImm, Imm: v, Known: true, Post: post})
		})
		return
	}
	if strings.Contains(rest, ",") {
		c.offer("lsl", CompleteWord, "shift", rankLegal)
		return
	}
	minus := strings.Contains(rest, "-")
	c.registers(func(index isa.Reg) bool {
		return takes(isa.Operand{Kind: isa.OpMem, Reg: reg, Off: isa.OffReg, Index: index, Minus: minus, Post: post}) ||
			takes(isa.Operand{Kind: isa.OpMem, Reg: reg, Off: isa.OffShift, Index: index, Minus: minus, Shift: isa.LSL, Imm: 2, Known: true, Post: post})
	})
}

// registers lists the core registers that are taken, and the names that the program has
// for them.
func (c *completing) registers(takes func(isa.Reg) bool) {
	for reg := isa.Reg(0); reg <= isa.PC; reg++ {
		rank, ok := c.rank(func() bool { return takes(reg) })
		if !ok {
			continue
		}
		order := int(reg)
		if reg == isa.LR && c.statement != nil && strings.EqualFold(c.statement.Name, "bx") {
			order = orderOwn // nearly all are returns
		}
		c.offerIn(order, reg.String(), CompleteRegister, kindOf(reg, c.environment), rank)
		for _, other := range otherNames[reg] {
			c.offerIn(int(isa.PC)+1+int(reg), other, CompleteRegister, reg.String(), rankFar)
		}
	}
	c.bodyRegisters(takes)
	c.eachAlias(func(name string, x program.Register) {
		if x.Core > isa.PC {
			return
		}
		if rank, ok := c.rank(func() bool { return takes(x.Core) }); ok {
			c.offerIn(orderOwn, name, CompleteRegister, x.Core.String(), rank)
		}
	})
}

// eachAlias visits the names that .req and its like give to registers: those that no .unreq takes
// back, and those that one takes back below the place.
func (c *completing) eachAlias(visitAny func(name string, x program.Register)) {
	// An assembler takes the name in small letters and in capitals as well: as it is written is enough.
	written := map[string]string{}
	for i := range c.Items {
		if s := c.Items[i].Stmt; s.Kind == syntax.Directive && (s.Directive.Effect == syntax.EffReq || s.Directive.Effect == syntax.EffTyped) {
			written[strings.ToLower(s.Name)] = s.Name
		}
	}
	visit := func(name string, x program.Register) {
		if as, ok := written[strings.ToLower(name)]; !ok || as == name {
			visitAny(name, x)
		}
	}
	for name, x := range c.Registers {
		visit(name, x)
	}
	for name, list := range c.Unreqs {
		for _, x := range list {
			if _, now := c.Registers[name]; !now && (c.unsure || x.From <= c.item.Index && c.item.Index <= x.To) {
				visit(name, x.Register)
				break
			}
		}
	}
}

// otherNames are the other names of registers (AAPCS32, table "Core registers and AAPCS
// usage").
var otherNames = map[isa.Reg][]string{
	0: {"a1"}, 1: {"a2"}, 2: {"a3"}, 3: {"a4"}, 4: {"v1"}, 5: {"v2"}, 6: {"v3"}, 7: {"v4"}, 8: {"v5"}, 9: {"v6", "sb"}, 10: {"v7", "sl"}, 11: {"v8", "fp"},
	12: {"ip"}, isa.SP: {"r13"}, isa.LR: {"r14"}, isa.PC: {"r15"},
}

func (c *completing) vectorRegisters() {
	for _, x := range []struct {
		letter string
		count  int
	}{{"s", 32}, {"d", 32}, {"q", 16}} {
		for n := range x.count {
			c.offerIn(n, fmt.Sprintf("%s%d", x.letter, n), CompleteRegister, "", rankFar)
		}
	}
	c.eachAlias(func(name string, x program.Register) {
		if x.Vector != "" {
			c.offer(name, CompleteRegister, x.Vector, rankFar)
		}
	})
}

// noWord is a name that no operand has a meaning for.
const noWord = "\x00"

// words lists the names of special registers, barriers and the like that are taken. Where any
// name is taken, as that of a label, they have no meaning.
func (c *completing) words(takes func(isa.Operand) bool) {
	if takes(isa.Operand{Kind: isa.OpExpr, Word: noWord}) {
		return
	}
	for _, w := range isa.Words() {
		if rank, ok := c.rank(func() bool { return takes(isa.Operand{Kind: isa.OpExpr, Word: w}) }); ok {
			c.offerIn(usualWord(w), w, CompleteWord, "", rank)
		}
	}
	// Coprocessors and their registers.
	for _, x := range []struct{ letters, detail string }{{"p", "coprocessor"}, {"c", "register of a coprocessor"}, {"cr", "register of a coprocessor"}} {
		for n := range 16 {
			w := fmt.Sprintf("%s%d", x.letters, n)
			if rank, ok := c.rank(func() bool { return takes(isa.Operand{Kind: isa.OpExpr, Word: w}) }); ok {
				if x.letters == "cr" {
					rank = rankFar
				}
				c.offerIn(min(usualWord(w), orderPlace+n), w, CompleteWord, x.detail, rank)
			}
		}
	}
}

// labels lists the labels that an operand may name: those that the instruction reaches
// first, with how far away they are.
func (c *completing) labels(takes func(isa.Operand) bool) {
	// Linkers change branches, but no addresses that are made of PC.
	elsewhere := rankLegal
	if name := strings.ToLower(c.statement.Name); !strings.HasPrefix(name, "b") {
		elsewhere = rankFar
	}
	c.near = true
	reach := func(v program.Value) int {
		if v.Kind != program.Address || v.Section != c.item.Section {
			return elsewhere
		}
		if !takes(isa.Operand{Kind: isa.OpExpr, Imm: (c.item.Offset + 8) &^ 3, Known: true}) { // no address is
			return rankLegal
		}
		if rank, ok := c.rank(func() bool { return takes(isa.Operand{Kind: isa.OpExpr, Imm: v.N &^ 1, Known: true}) }); ok {
			return rank
		}
		return rankFar
	}
	c.symbols(func(y *program.Symbol) (int, bool) {
		if !y.Label && y.Defined && y.Value.Kind != program.Address {
			return 0, false
		}
		if y.Weak {
			return elsewhere, true
		}
		return reach(y.Value), true
	})
	c.bodyLabels()
	for n, list := range c.Locals {
		for _, y := range list {
			if end := "b"; y.Item >= 0 {
				if y.Item > c.item.Index {
					end = "f"
				}
				if n&syntax.DollarLabel != 0 {
					if c.Local(n, false, c.item.Index).Symbol != y {
						continue
					}
					end = "$"
				}
				rank := reach(y.Value)
				c.offerIn(c.away(y.Value), fmt.Sprintf("%d%s", n&^syntax.DollarLabel, end), CompleteLabel, c.distance(y.Value, rank), rank)
			}
		}
	}
}

// distance says how far away a place is, and whether the instruction reaches it.
func (c *completing) distance(v program.Value, rank int) string {
	text := ""
	if v.Kind == program.Address {
		text = strings.TrimPrefix(c.awayText(&c.item, v), ", ")
	}
	if rank == rankFar {
		text = strings.TrimPrefix(text+", out of reach", ", ")
	}
	return text
}

// anySymbol lists all symbols.
func (c *completing) anySymbol() {
	c.bodyLabels()
	c.symbols(func(*program.Symbol) (int, bool) { return rankLegal, true })
}

// symbols lists those that rank takes, and the macros of the preprocessor.
func (c *completing) symbols(rank func(*program.Symbol) (int, bool)) {
	c.defines()
	c.EachSymbol(func(y *program.Symbol) {
		if y.Name == "" || y.Name == "." || strings.HasPrefix(y.Name, "\x00") {
			return
		}
		if y.Kind == program.SymRegister && !y.Defined {
			return // a register's name is no symbol
		}
		if y.Name == c.word && !y.Defined && c.onlyHere(y) {
			return // it is there only as it is being typed
		}
		n, ok := rank(y)
		if !ok {
			return
		}
		kind, detail := CompleteConstant, ""
		switch {
		case y.Function || y.ThumbFn:
			kind = CompleteFunction
		case y.Label, !y.Defined:
			kind = CompleteLabel
		}
		if v := y.Value; y.Defined && v.Kind == program.Address {
			detail = c.distance(v, n)
		} else if y.Defined && v.Kind == program.Number {
			if detail = "= " + strconv.FormatInt(v.N, 10); v.N > 9 { // few know an address by its decimal digits
				detail = fmt.Sprintf("= 0x%x (%d)", v.N, v.N)
			}
		}
		order := orderOther
		switch {
		case c.near:
			order = c.placeOrder(y)
		case c.labelled && kind != CompleteConstant:
			order = orderUsual
		}
		c.offerIn(order, y.Name, kind, detail, n)
	})
	c.others(rank)
}

// others lists what other sources define, where rank takes a name that is not defined here. In the
// dialect of columns such a name has to be imported first.
func (c *completing) others(rank func(*program.Symbol) (int, bool)) {
	if c.elsewhere == nil || c.dialect == syntax.Columns {
		return
	}
	c.elsewhere(func(x Elsewhere) {
		if len(x.Name) < len(c.word) || !strings.EqualFold(x.Name[:len(c.word)], c.word) {
			return
		}
		if y := c.SymbolOf(x.Name); y != nil && y.Defined {
			return
		} else if y != nil { // what is said of it is better than nothing
			c.out = slices.DeleteFunc(c.out, func(o Completion) bool { return o.Text == x.Name })
		}
		n, ok := rank(&program.Symbol{Name: x.Name})
		if !ok {
			return
		}
		kind, order := CompleteLabel, orderOther
		if c.near && !x.Code {
			n = rankFar // nobody branches there
		}
		if x.Routine {
			if kind = CompleteFunction; c.near {
				order = c.placeOrder(&program.Symbol{Name: x.Name})
			}
		}
		c.offerIn(order, x.Name, kind, "in "+x.Source, n)
	})
}

// placeOrder is that of a symbol where an instruction goes: routines come first where it calls, and
// else what is near.
func (c *completing) placeOrder(y *program.Symbol) int {
	order := c.away(y.Value)
	if name := strings.ToLower(c.statement.Name); name == "bl" || name == "blx" {
		switch {
		case y.Function || y.ThumbFn || !y.Defined:
			return orderUsual
		case y.Global:
			return orderUsual + 1
		}
	}
	return order
}

// away is the order of a place of code by how far it is from the line.
func (c *completing) away(v program.Value) int {
	if v.Kind != program.Address || v.Section != c.item.Section {
		return orderOther
	}
	by := v.N - c.item.Offset
	return orderPlace + int(min(max(by, -by), orderOther/2))
}

// onlyHere says whether a symbol that is not defined is there by the line of the place, as far as is
// known.
func (c *completing) onlyHere(y *program.Symbol) bool {
	return !y.Extern && !y.Global || c.statement != nil && c.statement.Kind == syntax.Directive
}

// constants lists the names of numbers that fit.
func (c *completing) constants(takes func(int64) bool) {
	c.symbols(func(y *program.Symbol) (int, bool) {
		if y.Label || !y.Defined {
			return 0, false
		}
		if y.Value.Kind != program.Number {
			return rankLegal, true // not known
		}
		if rank, ok := c.rank(func() bool { return takes(y.Value.N) }); ok {
			return rank, true
		}
		return rankFar, true
	})
}
