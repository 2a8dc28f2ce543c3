package describe

import (
	"fmt"
	"slices"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// HintKind is what an inlay hint tells of a line.
type HintKind string

// The kinds, as the setting hints takes them.
const (
	HintOffset  HintKind = "offset"  // where the line is in its section
	HintCode    HintKind = "code"    // its machine code
	HintPool    HintKind = "pool"    // how far its word in the literal pool is away
	HintLiteral HintKind = "literal" // the word that a literal load gets, where the line does not say it
	HintData    HintKind = "data"    // what a load takes from constant data
	HintFlags   HintKind = "flags"   // the lines that set the flags of a condition
	HintValue   HintKind = "value"   // what registers hold after the line, where it is known and not obvious
)

// HintKinds lists all kinds, and those that are shown if nobody chooses.
var (
	HintKinds    = []HintKind{HintOffset, HintCode, HintPool, HintLiteral, HintData, HintFlags, HintValue}
	HintsAtFirst = []HintKind{HintLiteral, HintData, HintFlags, HintValue}
)

// Hint is a text after a statement that its line does not have.
type Hint struct {
	At    int // byte offset
	Kind  HintKind
	Text  string
	Tip   string            // more words; may be empty
	Where *finding.Location // of what it names, if anything
}

// HintsIn lists the hints of some kinds for the statements in a stretch of a file of the
// program, in the order of the text.
func (r *View) HintsIn(path string, span finding.Span, kinds []HintKind) (out []Hint) {
	id := r.FileOf(path)
	if id < 0 {
		return nil
	}
	seen := map[int]bool{} // ends of statements: of a file that is included twice, the first time
	var items []*program.Item
	var ends []int
	for i := range r.Items {
		it := &r.Items[i]
		if it.File != id || it.Size == 0 || it.Flags&program.Calls != 0 || it.Stmt.Directive == syntax.AutoAlign {
			continue
		}
		at := r.Span(id, int(it.Line), it.Stmt.End, it.Stmt.End).Start
		if at < span.Start || at > span.End || seen[at] {
			continue
		}
		seen[at] = true
		items, ends = append(items, it), append(ends, at)
	}
	k := knownHints{loads: map[int32]program.Value{}, held: map[int32][]Held{}}
	if slices.Contains(kinds, HintData) || slices.Contains(kinds, HintValue) {
		r.findKnown(items, &k)
	}
	for i, it := range items {
		for _, kind := range kinds {
			if h := r.hint(it, kind, &k); h.Text != "" {
				h.At, h.Kind = ends[i], kind
				out = append(out, h)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Hint) int { return a.At - b.At })
	return out
}

// knownHints are what is known of values at lines, by item.
type knownHints struct {
	loads map[int32]program.Value // the addresses that they load from
	held  map[int32][]Held        // what registers hold after them
}

// findKnown follows the values once for all of the items.
func (r *View) findKnown(items []*program.Item, to *knownHints) {
	r.values(func(_ *flow.Paths, k *flow.Known) {
		k.Some(items, func(l *flow.Line) {
			if v, ok := loadedAt(l); ok {
				to.loads[l.Item.Index] = v
			}
			if held := r.heldAfter(k, l); held != nil {
				to.held[l.Item.Index] = held
			}
		})
	})
}

// hint is what there is to say of a statement; its text is empty where there is nothing.
func (r *View) hint(it *program.Item, kind HintKind, k *knownHints) Hint {
	exact := r.Sections[it.Section].Exact
	bound := it.Match.Form != nil && it.Flags&program.Refused == 0
	switch {
	case kind == HintOffset && exact:
		return Hint{Text: fmt.Sprintf("+0x%x", it.Offset), Tip: "Place: " + r.PlaceText(it.Section, it.Offset)}
	case kind == HintCode && bound:
		return Hint{Text: bytesText(it.Match.Form.Row, it.Match.Encode()), Tip: "Bytes in memory; the code is 0x" + r.bytesText(it)}
	case kind == HintPool && exact && it.Literal >= 0 && r.Literals[it.Literal].Offset >= 0:
		l := &r.Literals[it.Literal]
		ahead := r.Environments[it.Environment].Mode.Ahead()
		return Hint{Text: fmt.Sprintf("pool %+d", l.Offset-(it.Offset+ahead)&^3), Tip: r.poolText(it)}
	case kind == HintLiteral && bound:
		return r.literalHint(it)
	case kind == HintData && bound:
		return r.dataHint(it, k)
	case kind == HintFlags && bound:
		return r.flagsHint(it)
	case kind == HintValue && bound:
		return r.valueHint(it, k)
	}
	return Hint{}
}

// literalHint tells the word of a literal load that is written as an expression or a name.
func (r *View) literalHint(it *program.Item) Hint {
	for i := range it.Stmt.Ops {
		o := &it.Stmt.Ops[i]
		if o.Kind != isa.OpLit || o.Expr == nil && o.Word == "" {
			continue
		}
		switch v := r.ValueOf(o, it); {
		case v.Kind == program.Number:
			return Hint{Text: "= " + wording.Num(v.N), Tip: numberText(v.N)}
		case v.Kind == program.Address && o.Expr != nil && o.Expr.Op != syntax.ExprSym && r.Sections[v.Section].Exact:
			return Hint{Text: "= " + r.PlaceText(v.Section, v.N)}
		}
	}
	return Hint{}
}

// dataHint tells what a load takes from data that does not change.
func (r *View) dataHint(it *program.Item, k *knownHints) Hint {
	row, ef := it.Match.Form.Row, it.Match.Effects()
	if !ef.ReadsMem || ef.WritesMem || row.Access == 0 && row.Vector() || it.Literal >= 0 || len(it.Stmt.Ops) != 2 {
		return Hint{}
	}
	r.Operands(it, true)
	ops := slices.Clone(r.Ops)
	size := it.Stmt.Mnemonic.Unit(row.State)
	if size < 1 || size > 4 || ops[0].Kind != isa.OpReg {
		return Hint{}
	}
	at, ok := k.loads[it.Index]
	if !ok {
		if at, ok = r.loadedFrom(it, ops[1]); !ok {
			return Hint{}
		}
	}
	v, ok := r.constantAt(at, size)
	if !ok {
		return Hint{}
	}
	if op, _, _ := it.Stmt.Mnemonic.Operation(); strings.HasPrefix(op, "ldrs") && size < 4 {
		if top := int64(1) << (8*size - 1); v >= top {
			v -= 2 * top
		}
	}
	return Hint{Text: "= " + wording.Num(v), Tip: fmt.Sprintf("The %s at %s: %s", [...]string{1: "byte", 2: "halfword", 4: "word"}[size], r.PlaceText(at.Section, at.N), numberText(v))}
}

// loadedFrom is the address that a load reads, if it is in the program and known: from a label,
// or a register that a line close above gives an address.
func (r *View) loadedFrom(it *program.Item, o isa.Operand) (program.Value, bool) {
	if it.Match.Form.Address(1) {
		v := r.ValueOf(&it.Stmt.Ops[1], it)
		return v, v.Kind == program.Address && r.Sections[v.Section].Exact
	}
	if o.Kind != isa.OpMem || o.Post || o.Off != isa.OffNone && (o.Off != isa.OffImm || !o.Known) {
		return program.Value{}, false
	}
	by := o.Imm
	if o.Off == isa.OffNone {
		by = 0
	}
	from := r.aboveUntil(it, func(x *program.Item) bool { return x.Match.Effects().Writes.Has(o.Reg) })
	if from == nil || from.Match.Effects().Conditional || len(from.Stmt.Ops) != 2 {
		return program.Value{}, false
	}
	first := from.Stmt.Ops[0]
	if reg := r.RegisterOf(first.Word).Core; (first.Kind != isa.OpReg || first.Reg != o.Reg) && reg != o.Reg {
		return program.Value{}, false
	}
	second := &from.Stmt.Ops[1]
	if second.Kind != isa.OpLit && !(from.Match.Form.Address(1) && !from.Match.Effects().ReadsMem) {
		return program.Value{}, false // neither =label nor ADR
	}
	v := r.ValueOf(second, from)
	if v.Kind != program.Address || !r.Sections[v.Section].Exact || v.Symbol != nil && v.Symbol.Weak {
		return program.Value{}, false
	}
	v.N += by
	return v, true
}

// maxAbove bounds how many lines above a line are looked at.
const maxAbove = 24

// aboveUntil is the nearest instruction above in the straight line with an item that is wanted;
// nil where execution may come from elsewhere in between, or a call is there.
func (r *View) aboveUntil(it *program.Item, wanted func(*program.Item) bool) *program.Item {
	order := r.Order[it.Section]
	for k, n := r.Position(it)-1, 0; k >= 0 && n < maxAbove; k-- {
		x := &r.Items[order[k]]
		switch {
		case x.Stmt.Kind == syntax.Label:
			return nil
		case x.Size == 0 && x.Stmt.Kind != syntax.Instruction:
			continue
		case x.Match.Form == nil || x.Flags&program.Refused != 0:
			return nil
		}
		switch row := x.Match.Form.Row; {
		case row.Flow == isa.FlowNext && wanted(x):
			return x
		case row.Flow != isa.FlowNext && row.Flow != isa.FlowBranch, x.Match.Effects().Writes.Has(isa.PC):
			return nil
		}
		n++
	}
	return nil
}

// constantAt is the number in so many bytes at an address, of little-endian data in a section
// that is not written.
func (r *View) constantAt(at program.Value, size int) (v int64, ok bool) {
	s := &r.Sections[at.Section]
	if at.N < 0 || !s.Exact || s.Declaration.Nobits || strings.Contains(s.Declaration.Flags, "w") || !s.Exec && !strings.HasPrefix(s.Name, ".rodata") {
		return 0, false
	}
	for i := range size {
		b, ok := r.byteAt(at.Section, at.N+int64(i))
		if !ok {
			return 0, false
		}
		v |= int64(b) << (8 * i)
	}
	return v, true
}

// byteAt is the byte of data at an offset of a section; ok is false for code and what is not known.
func (r *View) byteAt(sec int16, off int64) (b byte, ok bool) {
	order := r.Order[sec]
	k, _ := slices.BinarySearchFunc(order, off+1, func(i int32, want int64) int {
		return int(min(max(r.Items[i].Offset-want, -1), 1))
	})
	for k--; k >= 0; k-- {
		it := &r.Items[order[k]]
		if it.Size == 0 {
			continue
		}
		if off >= it.Offset+it.Size || it.Stmt.Kind != syntax.Directive || it.Stmt.Directive.Effect != syntax.EffData {
			return 0, false
		}
		unit := int64(r.Unit(it))
		op := (off - it.Offset) / max(unit, 1)
		if unit < 1 || unit > 8 || int64(len(it.Stmt.Ops))*unit != it.Size {
			return 0, false
		}
		v := r.ValueOf(&it.Stmt.Ops[op], it)
		return byte(v.N >> (8 * ((off - it.Offset) % unit))), v.Kind == program.Number
	}
	return 0, false
}

// flagsHint names the lines that set the flags of a condition, if that is not the one right above.
func (r *View) flagsHint(it *program.Item) (h Hint) {
	if _, ok := conditionOf(&it.Match); !ok || len(r.Items) > maxGraph {
		return h
	}
	want := it.Match.Effects().FlagsRead
	r.graph(func(paths *flow.Paths) {
		set, all := paths.FlagsBefore(it, want)
		if !all || len(set) == 0 || len(set) > maxNamed || len(set) == 1 && (r.rightAbove(it) == set[0] || set[0].Line == it.Line) ||
			slices.ContainsFunc(set, func(x *program.Item) bool { return x.File != it.File }) {
			return
		}
		slices.SortFunc(set, func(a, b *program.Item) int { return int(a.Line - b.Line) })
		var tips []string
		for _, x := range set {
			tips = append(tips, fmt.Sprintf("`%s` sets %s", r.statementText(x), x.Match.Effects().FlagsWritten))
		}
		at := r.StmtLoc(set[0]).Location
		h = Hint{Text: "flags of " + r.lineNumbers(set), Tip: strings.Join(tips, "  \n"), Where: &at}
	})
	return h
}

// rightAbove is the instruction in front of an item, whatever labels are between them.
func (r *View) rightAbove(it *program.Item) *program.Item {
	order := r.Order[it.Section]
	for k := r.Position(it) - 1; k >= 0; k-- {
		if x := &r.Items[order[k]]; x.Size > 0 {
			return x
		}
	}
	return nil
}

// valueHint tells what registers hold after a line that does not say it, nor another hint.
func (r *View) valueHint(it *program.Item, k *knownHints) Hint {
	held := k.held[it.Index]
	if len(held) == 0 || len(held) > 2 || r.literalHint(it).Text != "" || r.dataHint(it, k).Text != "" {
		return Hint{}
	}
	var texts, tips []string
	for _, x := range held {
		texts, tips = append(texts, x.Reg.String()+" = "+x.Text), append(tips, x.Full)
	}
	return Hint{Text: strings.Join(texts, ", "), Tip: strings.Join(tips, "  \n")}
}

// statementText is a statement as people would quote it: on one line, without comments.
func (r *View) statementText(it *program.Item) string {
	return wording.ClipText(strings.Join(strings.Fields(syntax.WithoutComments(r.LineText(it)[it.Stmt.Start:it.Stmt.End])), " "), 40)
}
