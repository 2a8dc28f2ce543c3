package check

import (
	"math/bits"
	"slices"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/values"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// stateBit finds branch-exchanges through a value that is known, with the wrong bit 0: of
// code of this program, or on a core that has Thumb state only (DDI 0419, A3.2.1).
func stateBit(p *job, l *flow.Line) {
	if !l.Leaves || l.Item.Match.Form == nil || l.To.Assumed {
		return
	}
	e, have := l.Item.Match.Effects(), p.have(l.Item)
	exchanges := e.Flow == isa.FlowReg && l.Item.Match.Form.Row.Exchange || e.ReadsMem && e.Writes.Has(isa.PC) && (have.Has(isa.FeatV5T) || have.Has(isa.FeatM))
	if !exchanges || e.Reads.Has(isa.PC) && !e.ReadsMem || p.said(l.Item) {
		return
	}
	if p.tableBits(l) {
		return
	}
	mask, val := l.To.Bits()
	if mask&1 == 0 {
		return
	}
	set := val&1 != 0
	if l.To.Base.Kind == values.Section {
		it, label := p.known.CodeAt(l.To)
		if it == nil || label == "" {
			return
		}
		if y, mode := p.SymbolOf(label), p.Environments[it.Environment].Mode; (mode == isa.T) != set && !y.Auto {
			want := finding.WantsClear
			if mode == isa.T {
				want = finding.WantsSet
			}
			p.Emit(p.StmtLoc(l.Item), finding.Diagnostic{Code: finding.CodeStateBit, Message: wording.GoesToOtherState(l.Item.Stmt.Name, y.Name, mode), Bit: want, Shared: true,
				Related: []finding.Related{{Location: p.DefinedAt(y).Location, Message: wording.DefinedHere(y.Name)}}})
		}
		return
	}
	if have.Has(isa.FeatM) && !set && l.To.Base.Kind == values.None {
		p.Report(p.StmtLoc(l.Item), finding.CodeStateBit, wording.NoThumbBit(l.Item.Stmt.Name, wording.HeldText(l.To, p.known.PlaceName, p.known.RoutineOf)))
	}
}

// maxTable bounds the words of a table that are looked at.
const maxTable = 256

// tableBits looks at bit 0 of the words of which a line goes to one: those of a table at an
// index that is not known. It says whether there are any.
func (p *job) tableBits(l *flow.Line) (some bool) {
	by, added := l.Item, uint32(0)
	if !l.Item.Match.Effects().ReadsMem {
		if by, added = p.known.LoadedBy(l.To); by == nil {
			return false
		}
	}
	p.tableWords(by, func(it *program.Item, i int) {
		some = true
		o := &it.Stmt.Ops[i]
		s, mode, set, ok := p.wordBit(it, o)
		key := [2]int32{it.Index, int32(i)}
		if set = set != (added&1 != 0); !ok || (mode == isa.T) == set || p.words[key] || p.DialectOf(it).Words() {
			return
		}
		p.words[key] = true
		want, m := finding.WantsSet, wording.BitClear(l.Item.Stmt.Name, p.line(l.Item), s.Name)
		if mode == isa.A {
			want, m = finding.WantsClear, wording.BitSet(l.Item.Stmt.Name, p.line(l.Item), s.Name)
		}
		p.Emit(p.Loc(it, o.Start, o.End), finding.Diagnostic{Code: finding.CodeStateBit, Message: m, Bit: want, Odd: set != (added&1 != 0), Added: int64(added), Shared: true, Related: []finding.Related{
			{Location: p.StmtLoc(l.Item).Location, Message: wording.TheBranch()}, {Location: p.DefinedAt(s).Location, Message: wording.DefinedHere(s.Name)}}})
	})
	return some
}

// tableWords gives the words of data that a line may load one of, as far as that is known:
// where the index has bounds, or up to the next label where it counts words.
func (p *job) tableWords(by *program.Item, f func(it *program.Item, i int)) {
	l, ok := p.known.At(by)
	if !ok || len(l.Touches) != 1 || l.Touches[0].Store || l.Touches[0].Size != 4 {
		return
	}
	word := func(at values.Word) bool {
		it, i := p.known.Stored(at)
		if it != nil {
			f(it, i)
		}
		return it != nil
	}
	if addr := l.Touches[0].Addr; (addr.Base.Kind == values.Part || addr.Base.Kind == values.Section) && !addr.Assumed {
		addr.Each(maxTable, func(at values.Word) { word(at) })
		return
	}
	start, step, ok := p.indexed(&l)
	if !ok {
		return
	}
	for n := range uint32(maxTable) {
		if at := values.At(start.Base, start.Val+n*step); n > 0 && p.known.Labelled(at) || !word(at) {
			return
		}
	}
}

// indexed is the address of a table from which a line loads a word at an index that counts
// words, or several, and how far apart they are.
func (p *job) indexed(l *flow.Line) (start values.Word, step uint32, ok bool) {
	ops := p.paths.OperandsOf(l.Item)
	if len(ops) == 0 {
		return start, 0, false
	}
	o := &ops[len(ops)-1]
	if o.Kind != isa.OpMem || o.Off != isa.OffReg && o.Off != isa.OffShift || o.Minus || o.Reg >= isa.PC || o.Index >= isa.PC {
		return start, 0, false
	}
	start, index := l.Before.Regs[o.Reg], l.Before.Regs[o.Index]
	shifted := o.Off == isa.OffShift && o.Shift == isa.LSL && o.Imm > 0
	if o.Off == isa.OffReg && index.Base.Kind == values.Section {
		start, index = index, start
	}
	if start.Base.Kind != values.Section || start.Assumed || index.Base.Kind == values.Section || index.Base.Kind == values.Part {
		return start, 0, false
	}
	mask, val := index.Bits()
	zeros := bits.TrailingZeros32(^mask | val)
	if shifted {
		zeros += int(o.Imm)
	}
	return start, 1 << zeros, zeros >= 2 && zeros < 8
}

// said says whether a finding about bit 0 names the line already, or one that it is run into in
// the other state.
func (p *job) said(it *program.Item) bool {
	at, name := p.StmtLoc(it).Location, p.NameLoc(it).Location
	return slices.ContainsFunc(p.before, func(d finding.Diagnostic) bool {
		return d.Code == finding.CodeModeMix && d.Location == name ||
			d.Code == finding.CodeStateBit && (d.Location == at || slices.ContainsFunc(d.Related, func(r finding.Related) bool { return r.Location == at }))
	})
}
