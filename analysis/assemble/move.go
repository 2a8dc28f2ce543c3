package assemble

import (
	"context"
	"slices"
	"strings"

	"narrowgauge/analysis/assemble/layout"
	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// An edit that adds statements, takes some away or gives them another size moves what is below
// by so many bytes, up to the next alignment that takes them up. What was assembled of the rest
// stays as it is, but for the lines that reach over the place of the edit: these are bound again.
// As in again.go, whatever is not sure to be such an edit is assembled anew, and TestAgain and
// its like compare both.

// mover makes the program of a text from that of an earlier one.
type mover struct {
	ctx     context.Context
	in      *Input
	before  *Earlier
	old     *program.Program
	was     *places
	r       *Replaced
	now     *program.Program
	a, b    int32 // the earlier items from a to b are not there any more
	c       int32 // and those from a to c are in their place
	shift   int32 // how far the index of what is below moves
	sec     int16 // the section
	env     int16 // and the environment of the edit
	moves   []move
	said    map[int][]finding.Diagnostic // of the assembly, by line of the earlier text
	dropped map[int]bool                 // lines of which others are found
	taken   map[string]int               // the findings about names that the new statements may have instead
	must    map[string]bool              // the names that the new statements have to say this of
	open    open
	shared  bool // the symbols are those of the earlier program
	pool    poolEdit
	grows   bool            // something in the section can
	gaps    []layout.Placed // those behind the edit
	closed  []int32         // what takes room now and did not, or the other way, by index now
	laid    []layout.Laid
	looked  int
	names   map[string]*program.Symbol // those that the new statements name first
	// usedOld and usedNew are the names that the earlier and the new statements asked for.
	usedOld, usedNew map[string]bool
	unsure           bool // whether something still asks for a name is not known
}

// moved is the program after an edit that moves what is below; nil where it has to be assembled
// anew.
func moved(ctx context.Context, in *Input, before *Earlier, r *Replaced) *Replaced {
	if before.hashes || hashes(in.File, r.From, r.Now) {
		return nil
	}
	was := before.places.Load()
	if was == nil {
		was = placesOf(before)
		before.places.Store(was)
	}
	if !was.ok {
		return nil
	}
	r.Renumbered = r.Now != r.To
	for range maxBlock {
		r.Old, r.New, r.Turned = nil, nil, false
		m := &mover{ctx: ctx, in: in, before: before, old: before.Program, was: was, r: r,
			said: map[int][]finding.Diagnostic{}, dropped: map[int]bool{}, taken: map[string]int{}, must: map[string]bool{}, usedOld: map[string]bool{}, usedNew: map[string]bool{}}
		if !m.lines() || !m.reads() {
			return nil
		}
		var found []finding.Diagnostic
		if m.here() {
			found = m.statements()
		}
		switch {
		case ctx.Err() != nil:
			return nil
		case found != nil:
			return m.done(found)
		case m.open == above && r.From > 0:
			r.From--
		case m.open == below && r.To < r.old.NumLines() && r.Now < r.file.NumLines():
			r.To++
			r.Now++
		default:
			return nil
		}
	}
	return nil
}

// maxBlock bounds the lines that are looked at besides those that differ, as an IT block goes on
// there.
const maxBlock = 12

// open says where an IT block goes on that an edit is in.
type open uint8

const (
	above open = iota + 1
	below
)

// lines says whether all that differs are statements that can be moved, each an item of its own.
func (m *mover) lines() bool {
	r := m.r
	for i := max(r.From-1, 0); i < r.To; i++ {
		if r.old.Line(i).EndsInComment() {
			return false
		}
	}
	for i := r.From; i < r.Now; i++ {
		if r.file.Line(i).EndsInComment() {
			return false
		}
	}
	for s := range statementsIn(r.file, r.From, r.Now) {
		if !movable(s) {
			return false
		}
	}
	m.a, m.b = int32(itemFrom(m.old, r.From)), int32(itemFrom(m.old, r.To))
	k := m.a
	for s := range statementsIn(r.old, r.From, r.To) {
		if k >= m.b || !movable(s) {
			return false
		}
		if it := &m.old.Items[k]; it.Stmt != s || it.File != 0 || it.Flags&(program.Calls|program.Opaque) != 0 {
			return false
		}
		k++
	}
	if k != m.b || inBody(m.old, int(m.a)-1) {
		return false
	}
	at := len(r.old.Text())
	if r.From < r.old.NumLines() {
		at = r.old.LineStart(r.From)
	}
	for k := range m.old.Excluded {
		if x := &m.old.Excluded[k]; x.File == 0 && x.Span.Start <= at && at <= x.Span.End {
			return false
		}
	}
	return true
}

// reads says whether the lines that differ are read as in any program: no macro has the name of a
// statement, and no name for a register is made below them.
func (m *mover) reads() bool {
	if n := len(m.was.registers); n > 0 && m.was.registers[n-1] >= m.a {
		return false
	}
	named := func(f *syntax.File, a, b int) bool {
		for s := range statementsIn(f, a, b) {
			if slices.ContainsFunc(m.old.Macros, func(x *program.Macro) bool { return strings.EqualFold(x.Name, s.Name) }) {
				return true
			}
		}
		return false
	}
	return len(m.old.Macros) == 0 || !named(m.r.old, m.r.From, m.r.To) && !named(m.r.file, m.r.From, m.r.Now)
}

// movable says whether a statement leaves nothing behind but its bytes.
func movable(s *syntax.Stmt) bool {
	switch s.Kind {
	case syntax.Instruction:
		for k := range s.Ops {
			if s.Ops[k].Kind == isa.OpLit && (!s.Ops[k].Known || s.Mnemonic.Vector()) {
				return false // what a pool has of names depends on where they are defined
			}
		}
		return true
	case syntax.Unknown, syntax.Bad:
		return true
	case syntax.Directive:
		if s.Directive.Unit > 4 { // whose values have to be known above
			return false
		}
		return s.Directive.Effect == syntax.EffData || s.Directive.Effect == syntax.EffString
	}
	return false
}

// here finds where the edit is; false where something is open there.
func (m *mover) here() bool {
	r := m.old
	m.env, m.sec = r.Last, 0
	if m.a > 0 {
		m.sec = r.Items[m.a-1].Section // that of a directive is the one that it switches to
	}
	if int(m.b) < len(r.Items) {
		it := &r.Items[m.b]
		m.env = it.Environment
		if it.Section != m.sec {
			if it.Stmt.Kind != syntax.Directive {
				return false
			}
			switch it.Stmt.Directive.Effect {
			case syntax.EffSection, syntax.EffPush, syntax.EffPop, syntax.EffPrevious:
			default:
				return false
			}
		}
	}
	for i := m.a; i < m.b; i++ {
		if it := &r.Items[i]; it.Environment != m.env || it.Section != m.sec {
			return false
		}
	}
	e := &r.Environments[m.env]
	if e.Implicit && e.Have.Has(isa.FeatT32) || r.Sections[m.sec].Declaration.Nobits {
		return false
	}
	// A block of the same section may be open.
	o := r.Order[m.sec]
	for k, _ := slices.BinarySearch(o, m.a); k > 0; k-- {
		it := &r.Items[o[k-1]]
		if it.Stmt.Kind != syntax.Instruction {
			continue
		}
		// A line that cannot be read takes no place of the block.
		if it.Stmt.Mnemonic.OpensBlock() || it.Slot != 0 && (it.Stmt.Err != nil || it.Slot&program.SlotLast == 0) {
			m.open = above
			return false
		}
		break
	}
	return true
}

// statements assembles the new statements in the place of the earlier ones; it gives what is
// found in the program, and nil where it has to be assembled anew.
func (m *mover) statements() []finding.Diagnostic {
	n := 0
	for range statementsIn(m.r.file, m.r.From, m.r.Now) {
		n++
	}
	m.c = m.a + int32(n)
	m.shift = m.c - m.b
	items := make([]program.Item, m.a, len(m.old.Items)+n+1)
	copy(items, m.old.Items)
	if !m.leave(items) {
		return nil
	}
	now := *m.old
	now.Items = items
	m.names = map[string]*program.Symbol{}
	x := m.read(&now, m.in.File, m.r.From, m.r.Now, m.usedNew)
	if x == nil || len(now.Items) != int(m.c) || !m.steady(m.r.file, m.r.From, m.r.Now) {
		return nil
	}
	m.now = &now
	m.grows = m.before.laid[m.sec].Grows() || x.Points(m.sec)
	if !m.pooled() || !m.layOut() {
		return nil
	}
	m.fill()
	if m.grows && !m.relax(x) || !m.stillEarly() {
		return nil
	}
	x.Phase = eval.Resolving
	x.Gen++
	x.Table = eval.New(&now).Table
	if !m.suppliedNow(x) || !m.bindAgain(x) {
		return nil
	}
	x.Table = &inEnd{&now, m, m.usedNew, true}
	x.Steps = 0
	for _, i := range x.unresolved {
		x.resolveItem(&now.Items[i])
	}
	x.resolveEarly()
	for _, w := range x.dataLater {
		x.resolveArgument(&now.Items[w.item], int(w.op))
	}
	m.looked += x.Steps
	for i := m.a; i < m.c; i++ {
		x.caution(&now.Items[i])
	}
	x.TellDoubts()
	if x.Full() || m.unsure {
		return nil
	}
	return m.findings(x.Diags)
}

// done is the program as it is handed on.
func (m *mover) done(found []finding.Diagnostic) *Replaced {
	r, now, before := m.r, m.now, m.before
	if !m.states() {
		return nil
	}
	now.Work = m.old.Work - len(m.old.Items) - before.looked/aStep + len(now.Items) + m.looked/aStep
	was := &places{ok: true, early: m.follow(m.was.early), registers: m.follow(m.was.registers)}
	was.absent, was.unread = m.was.recounted(m.old, now, r)
	was.refs = make([]ref, 0, len(m.was.refs)+4)
	for _, x := range m.was.refs {
		if x.item < m.a || x.item >= m.b {
			if x.item = m.index(x.item); x.at >= 0 {
				x.at = m.index(x.at)
			}
			was.refs = append(was.refs, x)
		}
	}
	var come places
	for i := m.a; i < m.c; i++ {
		come.stands(now, &now.Items[i])
	}
	k, _ := slices.BinarySearchFunc(was.refs, m.a, func(x ref, i int32) int { return int(x.item) - int(i) })
	was.refs = slices.Insert(was.refs, k, come.refs...)
	k, _ = slices.BinarySearch(was.early, m.a)
	was.early = slices.Insert(was.early, k, come.early...)
	r.Earlier = &Earlier{Reporter: before.Anew(now), Found: found, laid: m.laid, looked: m.looked}
	r.Earlier.places.Store(was)
	r.Reporter = before.Anew(now)
	r.Reporter.Phase, r.Reporter.Gen = eval.Resolving, 1
	r.Reporter.Diags = slices.Clone(found)
	r.Other, r.Old, r.New = true, append(r.Old, m.old.Items[m.a:m.b]...), append(r.New, now.Items[m.a:m.c]...)
	r.A, r.B, r.C = m.a, m.b, m.c
	for k, x := range m.moves {
		last := int32(len(now.Items)) - 1
		if k+1 < len(m.moves) {
			last = min(last, m.moves[k+1].from-1)
		}
		if x.by&3 != 0 {
			r.Uneven = append(r.Uneven, [2]int32{x.from, last})
		}
	}
	return r
}

// states says whether the states that instructions have are still those: where the last one of
// a state may be gone, it is not sure.
func (m *mover) states() bool {
	mode := m.old.Environments[m.env].Mode
	code := func(list []program.Item) bool {
		return slices.ContainsFunc(list, func(it program.Item) bool {
			return it.Stmt.Kind == syntax.Instruction && m.old.Environments[it.Environment].Mode == mode
		})
	}
	gone, come := m.old.Items[m.a:m.b], m.now.Items[m.a:m.c]
	if code(come) {
		m.now.States[mode] = true
		m.now.Sections[m.sec].Code = true
		return true
	}
	if !code(gone) {
		return true
	}
	near := m.now.Items[max(0, m.a-200):min(len(m.now.Items), int(m.c)+200)]
	return code(near) && slices.ContainsFunc(near, func(it program.Item) bool { return it.Section == m.sec && it.Flags&program.IsCode != 0 })
}
