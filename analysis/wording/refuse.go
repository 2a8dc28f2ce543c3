package wording

import (
	"fmt"
	"math"
	"math/bits"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
	"sync"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// maxDiags bounds the findings of one program; a hopeless file says enough.
const maxDiags = 20000

// MaxMessage bounds a message, in bytes: names in it may be long.
const MaxMessage = 1000

// maxNear bounds the findings with near names, which are searched for among
// all that there are.
const maxNear = 500

// RoomForNear says whether near names are still searched for.
func (p *Reporter) RoomForNear() bool { return !p.Mute && len(p.Diags) < maxNear }

// Emit adds a finding at a place.
func (p *Reporter) Emit(at program.Place, d finding.Diagnostic) {
	if len(p.Doubts) > 0 {
		p.TellDoubts()
	}
	if p.Said++; p.Mute {
		return
	}
	d.Location = at.Location
	if at.Use != nil {
		p.fromUse(at.Use, &d)
	}
	if p.Lacking && mayBeMissing(d.Code) {
		return
	}
	if p.enough() {
		if p.more == nil {
			p.more = &at.Location
		}
		return
	}
	if at.Made != nil && p.fromExpansion(at.Made, &d) {
		return
	}
	if c := finding.ByCode(d.Code); d.Severity == finding.Error && c != nil {
		d.Severity = c.Severity
	}
	d.Message = ClipText(d.Message, MaxMessage)
	p.Diags = append(p.Diags, d)
}

// enough says whether there are as many findings as there may be.
func (p *Reporter) enough() bool { return len(p.Diags) >= maxDiags }

// Anew is a reporter that has found nothing yet in a program that is assembled, and knows of
// what is missing as much as this one.
func (p *Reporter) Anew(r *program.Program) *Reporter {
	return &Reporter{Evaluator: *eval.New(r), Lacking: p.Lacking, Missed: p.Missed, Ended: p.Ended, Unsaid: p.Unsaid}
}

// Full says whether there was a finding for which there is no room.
func (p *Reporter) Full() bool { return p.more != nil }

// TellDoubts makes findings of what the evaluator has found doubtful.
func (p *Reporter) TellDoubts() {
	list := p.Doubts
	p.Doubts = nil
	for _, d := range list {
		p.Warn(d.At, finding.CodeSyntax, p.Trouble(d.Value, nil))
	}
}

// Report adds a finding with its check's severity.
func (p *Reporter) Report(at program.Place, code, msg string) {
	p.Emit(at, finding.Diagnostic{Code: code, Message: msg})
}

// reportOf is Report for one of the findings that one mistake brings.
func (p *Reporter) reportOf(cause string, at program.Place, code, msg string) {
	if !p.underCondition(cause, at, code) {
		p.Emit(at, finding.Diagnostic{Code: code, Message: msg, Cause: cause})
	}
}

// Warn adds a finding that is milder than its check's severity.
func (p *Reporter) Warn(at program.Place, code, msg string) {
	p.Emit(at, finding.Diagnostic{Code: code, Message: msg, Severity: finding.Warning})
}

// All gives the findings, sorted by file, place and severity, each once.
func (p *Reporter) All() []finding.Diagnostic {
	p.TellDoubts()
	if p.more != nil {
		d := finding.Diagnostic{Location: *p.more, Code: finding.CodeMacroSize, Severity: finding.Warning, Message: TooManyFindings(maxDiags)}
		p.Diags = append(p.Diags, d)
	}
	rank := map[string]int{}
	for i := range p.Sources {
		if _, ok := rank[p.Sources[i].Path]; !ok {
			rank[p.Sources[i].Path] = i
		}
	}
	sort.SliceStable(p.Diags, func(i, j int) bool {
		a, b := &p.Diags[i], &p.Diags[j]
		if a.Path != b.Path {
			return rank[a.Path] < rank[b.Path]
		}
		if a.Span.Start != b.Span.Start {
			return a.Span.Start < b.Span.Start
		}
		return a.Severity < b.Severity
	})
	// A file that is included twice tells once.
	out := p.Diags[:0]
	for i := range p.Diags {
		if n := len(out); n > 0 && out[n-1].Location == p.Diags[i].Location && out[n-1].Code == p.Diags[i].Code && out[n-1].Message == p.Diags[i].Message {
			continue
		}
		out = append(out, p.Diags[i])
	}
	p.Diags = nil
	p.proseBehind(out)
	p.otherStart(out)
	out = p.textOfC(out)
	return out
}

// refused is an instruction that no form takes, with the forms that came near, the
// nearest first.
type refused struct {
	*Reporter
	it   *program.Item
	q    *isa.Query
	near []isa.Refusal
	best isa.Refusal // the one that the message is about
	name string
	at   program.Place // of what is wrong
}

// Refuse reports an instruction that has no encoding.
func (p *Reporter) Refuse(it *program.Item, q *isa.Query) {
	if p.Said++; p.Mute || p.more != nil {
		return // nobody asks, or it would be left out
	}
	// A value that depends on an unknown symbol is the first thing to say.
	if p.OperandErrors(it, nil) {
		return
	}
	s := it.Stmt
	if p.nameRefused(it, q) {
		p.refuseName(it, q)
		return
	}
	if p.beyondRegisters(it) {
		return
	}
	near := s.Mnemonic.Refuse(q, p.Ops, p.room)
	p.room = nil // until it is not needed any more
	defer func() { p.room = near[:0] }()
	x := &refused{Reporter: p, it: it, q: q, near: near, best: nearestMiss(near), name: s.Name}
	if x.otherSpelling() || !q.A32 && p.refuseBlock(it, q, x.best.Reason) {
		return
	}
	if x.best.Reason == isa.OtherSyntax || x.takenUnified() {
		x.otherSyntax()
		return
	}
	if x.best.Op >= len(s.Ops) {
		x.best.Op = -1
	}
	x.at = p.StmtLoc(it)
	if x.best.Op >= 0 {
		x.at = p.PartLoc(it, x.best.Op, x.best.Part)
	}
	x.tell()
}

// nameRefused says whether the name by itself is what Thumb code does not take, whatever
// the operands are.
func (p *Reporter) nameRefused(it *program.Item, q *isa.Query) bool {
	if q.A32 {
		return false
	}
	n := it.Stmt.Mnemonic
	cond, spelt := n.Cond()
	// What T32 has is of A32 to those without T32.
	a32Only := q.Have&(isa.FeatA32|isa.FeatT32) == isa.FeatA32 && n.T32Only() && len(n.FormsOf(isa.A)) > 0
	return len(n.Forms) == 0 || a32Only || spelt && cond != isa.AL && !q.Have.Has(isa.FeatT32) && !it.Conditional()
}

// nearestMiss is the refusal to tell: the first, but an alias is no near miss with another
// constant than the one that it writes, nor where a '#' is missing, which only the alias
// does without.
func nearestMiss(near []isa.Refusal) isa.Refusal {
	best := near[0]
	for _, alias := range []struct {
		reason, instead isa.Reason
		fixed           bool
	}{{isa.TooLarge, isa.OtherKind, true}, {isa.NoRotation, isa.NoHash, false}} {
		if !best.Form.Alias || best.Reason != alias.reason || alias.fixed && best.Min != best.Max {
			continue
		}
		for _, r := range near[1:] {
			if !r.Form.Alias && r.Reason == alias.instead && r.Op == best.Op {
				best = r
				break
			}
		}
	}
	return best
}

// otherSpelling says whether the other spelling of the flags is what was meant, and then
// reports it. If that comes nearer without being right, the message is about it.
func (x *refused) otherSpelling() bool {
	other := x.otherFlags(x.it, x.q)
	if other == nil || x.q.A32 {
		return false
	}
	if m, ok := other.Match(x.q, x.Ops); ok && m.Form.Row != nil {
		x.flagSpelling(x.it, x.q, other)
		return true
	}
	if x.q.Have.Has(isa.FeatT32) || x.best.Reason < isa.HighReg {
		return false
	}
	if o, ok := other.Nearest(x.q, x.Ops); ok && o.Cost()+4 < x.best.Cost() {
		x.best = o
		x.name += " (as " + other.Name + ")"
	}
	return false
}

// takenUnified says whether T32 takes the line, which asks for an encoding of full width, as it
// is in the unified syntax.
func (x *refused) takenUnified() bool {
	if x.it.Stmt.Width != 'w' || x.q.A32 || x.q.Unified || !x.q.Have.Has(isa.FeatT32) {
		return false
	}
	q := *x.q
	q.Unified = true
	_, ok := x.it.Stmt.Mnemonic.Match(&q, x.Ops)
	return ok
}

// otherSyntax reports operands or a name that only the other syntax takes.
func (x *refused) otherSyntax() {
	name := x.it.Stmt.Name
	switch {
	case x.q.A32 && !x.q.Unified && x.it.Stmt.Mnemonic.OtherOrder(x.q.Unified) != strings.ToLower(name):
		x.orderSpelling(x.it, x.q)
	case x.q.Unified:
		x.Report(x.NameLoc(x.it), finding.CodeFlagsForm, fmt.Sprintf("%s takes these operands only in divided syntax; this code is in unified syntax.", name))
	default:
		x.reportOf(finding.CauseDivided, x.NameLoc(x.it), finding.CodeFlagsForm, fmt.Sprintf("%s takes these operands only in unified syntax; add %s above.", name, x.unifiedBy(x.it)))
	}
}

// tell reports how the line differs from the nearest form.
func (x *refused) tell() {
	switch best := &x.best; best.Reason {
	case isa.TooLarge:
		x.tooLarge()
	case isa.Misaligned:
		x.Report(x.at, finding.CodeConstAlign, fmt.Sprintf("%s takes %s here; %s is not a multiple of %d.", x.name, x.limits(), Num(best.Value), best.Step))
	case isa.Negative:
		x.Report(x.at, finding.CodeConstNegative, fmt.Sprintf("%s takes %s here; %s is negative.", x.name, x.limits(), Num(best.Value)))
	case isa.Behind:
		x.behind()
	case isa.TooFar:
		x.tooFar()
	case isa.NoRotation:
		x.Report(x.at, finding.CodeConstRange, x.rotationText(x.it, x.name, *best))
	case isa.OddReg:
		x.Report(x.at, finding.CodeNoForm, fmt.Sprintf("%s takes a register pair that starts with an even register from r0 to r12, not with %s.", x.name, best.Reg))
	case isa.NoCond:
		x.Report(x.NameLoc(x.it), finding.CodeNoForm, fmt.Sprintf("This form of %s takes no condition in A32.", x.it.Stmt.Name))
	case isa.OddTarget:
		x.oddTarget()
	case isa.HighReg:
		if best.Reg == isa.SP || best.Reg == isa.LR || best.Reg == isa.PC { // high only by number
			x.Report(x.at, finding.CodeLowRegs, fmt.Sprintf("%s takes only r0–r7 here, not %s.", x.name, best.Reg))
			return
		}
		x.Report(x.at, finding.CodeLowRegs, fmt.Sprintf("%s takes only r0–r7 here; %s is a high register.", x.name, best.Reg))
	case isa.BadList:
		x.badList()
	case isa.EmptyList:
		x.Report(x.at, finding.CodeRegList, fmt.Sprintf("%s needs at least one register in its list.", x.name))
	case isa.NoHash:
		x.Report(x.at, finding.CodeNoForm, "Write '#' before the constant: the divided syntax needs it.")
	case isa.NoD32, isa.NotNext, isa.BadLane, isa.NoVFP8, isa.BadVList, isa.ListCount, isa.ListGap, isa.NoAlign, isa.NoVConst, isa.NoPoint, isa.NoType:
		x.refuseVector(x.it, x.at, x.name, *best, x.near, x.q)
	case isa.NoFeature:
		x.noFeature()
	default:
		x.noForm(x.it, x.name, x.at, *best, x.near, x.q)
	}
}

func (x *refused) limits() string { return isa.Limits(x.best.Min, x.best.Max, x.best.Step) }

// tooLarge reports a constant out of range.
func (x *refused) tooLarge() {
	best, v := &x.best, Num(x.best.Value)
	what := map[isa.Part]string{isa.PartOffset: "an offset of", isa.PartShift: "a shift of"}[best.Part]
	if what == "" {
		what = "a constant of"
	}
	limits := isa.Limits(union(x.near, *best))
	if x.Ops[best.Op].Kind == isa.OpFloat {
		x.Report(x.at, finding.CodeConstRange, fmt.Sprintf("%s takes %s %s here, not %s.", x.name, what, limits, strings.TrimLeft(x.OpText(x.it, best.Op), "#$ ")))
		return
	}
	if list := only(x.near, *best); list != "" {
		x.Report(x.at, finding.CodeConstRange, fmt.Sprintf("%s takes %s %s here, not %s.", x.name, what, list, v))
		return
	}
	if v := strings.TrimPrefix(limits, "only "); v != limits {
		_, what, _ := strings.Cut(what, " ")
		x.Report(x.at, finding.CodeConstRange, fmt.Sprintf("%s takes only the %s %s here, not %s.", x.name, strings.TrimSuffix(what, " of"), v, Num(best.Value)))
		return
	}
	side, by := "too large", best.Value-best.Max
	if best.Value < best.Min {
		side, by = "too small", best.Min-best.Value
	}
	m := fmt.Sprintf("%s takes %s %s here; %s is %d %s.", x.name, what, limits, v, by, side)
	if by > 4096 {
		m = fmt.Sprintf("%s takes %s %s here; %s is %s.", x.name, what, limits, v, side)
	}
	if w := x.wider(x.near, *best, x.q); w != "" {
		m = m[:len(m)-1] + "; " + w + "."
	}
	x.Report(x.at, finding.CodeConstRange, m)
}

// behind reports a target before PC where only one after it is reached.
func (x *refused) behind() {
	code := finding.CodeLitBehind
	if x.best.Form.Row.Flow == isa.FlowBranch {
		code = finding.CodeBranchReach
	}
	x.Report(x.at, code, fmt.Sprintf("%s reaches only forward, 0–%d bytes after PC; %s is %d bytes before PC.", x.name, x.best.Max, x.OpText(x.it, x.best.Op), -x.best.Value))
}

// tooFar reports a target that is out of reach.
func (x *refused) tooFar() {
	best := &x.best
	if best.Form.Row.Flow == isa.FlowNext {
		lit := x.litText(x.it, best.Op)
		if x.q.A32 {
			x.Report(x.at, finding.CodeLitReach, fmt.Sprintf("%s reaches %d to %+d bytes from PC; %s is %d bytes away.", x.name, best.Min, best.Max, lit, best.Value))
			return
		}
		x.Report(x.at, finding.CodeLitReach, fmt.Sprintf("%s reaches 0–%d bytes after PC; %s is %d bytes after it, %d too far.", x.name, best.Max, lit, best.Value, best.Value-best.Max))
		return
	}
	by, dir := best.Value-best.Max, "ahead"
	if best.Value < 0 {
		by, dir = best.Min-best.Value, "back"
	}
	dist := max(best.Value, -best.Value)
	x.Report(x.at, finding.CodeBranchReach, fmt.Sprintf("%s reaches %d to %+d bytes from PC; %s is %d bytes %s, %d too far.", x.name, best.Min, best.Max, x.OpText(x.it, best.Op), dist, dir, by))
}

// oddTarget reports a target that is at no multiple of what the form takes.
func (x *refused) oddTarget() {
	best, target := &x.best, x.OpText(x.it, x.best.Op)
	past := func(n int64) string { return Plural(int(n), "byte", "bytes") }
	m := fmt.Sprintf("%s takes a word-aligned address; %s is %s past a word boundary.", x.name, target, past(best.Value&3))
	var t *program.Symbol
	if best.Op >= 0 && best.Op < len(x.it.Stmt.Ops) && x.it.Branches() {
		t = x.Value(&x.it.Stmt.Ops[best.Op], x.it).Symbol
	}
	switch {
	case x.q.A32 && t != nil && t.Label && t.Mode == isa.T:
		m = fmt.Sprintf("%s stays in A32 state, but %s is T16 code, %s past a multiple of %d.", x.name, t.Name, past((best.Value%best.Step+best.Step)%best.Step), best.Step)
	case x.q.A32:
		m = fmt.Sprintf("%s takes an address that is a multiple of %d bytes from PC; %s is %s past one.", x.name, best.Step, target, past((best.Value%best.Step+best.Step)%best.Step))
	case best.Step == 2:
		m = fmt.Sprintf("%s takes an even address; %s is odd.", x.name, target)
	}
	x.Report(x.at, finding.CodeLitAlign, m)
}

// badList reports a register that a list does not take.
func (x *refused) badList() {
	best, list := &x.best, listText(x.best.Form)
	m := fmt.Sprintf("%s takes %s in its list, not %s.", x.name, list, best.Reg)
	if best.Reg == isa.LR && x.Ops[best.Op].List.Has(isa.PC) && strings.Contains(list, isa.LR.String()) {
		m = fmt.Sprintf("%s takes lr or pc in its list, not both.", x.name)
	}
	x.Report(x.ListRegLoc(x.it, best.Op, best.Reg), finding.CodeRegList, m)
}

// noFeature reports what the target does not have.
func (x *refused) noFeature() {
	best, f, q := &x.best, x.best.Form, x.q
	if gone := f.Row.Lack & q.Have; gone != 0 {
		x.Report(x.NameLoc(x.it), finding.CodeNotOnArch, fmt.Sprintf("%s does not exist from %s on; the target is %s.", x.name, gone.FirstA32(), x.TargetName(x.it)))
		return
	}
	first := best.Need.First()
	if q.A32 {
		first = best.Need.FirstA32()
	} else if best.Need == isa.FeatA32 { // only the profile lacks it: what else it needs says since when
		first = (f.Row.Need | f.Need).First()
	}
	what := x.name
	if strings.EqualFold(what, "it") { // which is a word of its own
		what = "The instruction " + what
	}
	for _, other := range x.it.Stmt.Mnemonic.FormsOf(x.Environments[x.it.Environment].Mode) {
		if other.Row.State == f.Row.State && q.Have.Has(other.Row.Need|other.Need) && q.Have&(other.Row.Lack|other.Lack) == 0 {
			what += " with these operands"
			break
		}
	}
	cause, unit := "", x.noUnit(x.it, best.Need, q.Have)
	if unit != "" {
		cause = finding.CauseUnit
	}
	x.reportOf(cause, x.NameLoc(x.it), finding.CodeNotOnArch, fmt.Sprintf("%s exists from %s on; the target is %s.", what, first, x.TargetName(x.it)+unit))
}

// noUnit says what the target's floating-point unit lacks of need, for a message that
// names the target.
func (p *Reporter) noUnit(it *program.Item, need, have isa.Features) string {
	switch {
	case need&(isa.FeatVFP|isa.FeatNEON) != 0 && have&(isa.FeatVFP|isa.FeatNEON) == 0:
		return " without a floating-point unit (choose one with " + p.orSetting(it, ".fpu", "fpu") + ")"
	case need&isa.FeatVFPD != 0:
		return " with single precision only"
	}
	return ""
}

// TargetName is the target of an item in words. A default is called one, with how to
// choose another.
func (p *Reporter) TargetName(it *program.Item) string {
	e := &p.Environments[it.Environment]
	if e.Chosen {
		return e.Target
	}
	return e.Target + " (the default; choose another with " + p.orSetting(it, ".cpu", "cpu") + ")"
}

// orSetting names what chooses a part of the target: a directive that only the
// dialects with dots have, and a setting.
func (p *Reporter) orSetting(it *program.Item, directive, setting string) string {
	if p.DialectOf(it).Words() {
		return "the setting " + setting
	}
	return directive + " or the setting " + setting
}

// unifiedBy is the directive that makes code as that around an item be in unified
// syntax.
func (p *Reporter) unifiedBy(it *program.Item) string {
	switch {
	case p.DialectOf(it) != syntax.Columns && p.DialectOf(it) != syntax.Modules:
		return ".syntax unified"
	case p.Environments[it.Environment].Mode == isa.A:
		return p.Spelled(it, syntax.EffArm)
	}
	return p.Spelled(it, syntax.EffThumb)
}

// only lists the single values that forms of a name take in the same place, where
// several do: UXTB turns by 8, 16 or 24.
func only(rs []isa.Refusal, best isa.Refusal) string {
	var list []int
	for _, r := range rs {
		if r.Op == best.Op && r.Reason == best.Reason && r.Min == r.Max && best.Min == best.Max {
			list = append(list, int(r.Min))
		}
	}
	slices.Sort(list)
	if list = slices.Compact(list); len(list) < 2 {
		return ""
	}
	return orText(list)
}

// union is what encodings of full width that differ in nothing but the range of
// one operand take there together: LDR has one for offsets up, another for down.
func union(rs []isa.Refusal, best isa.Refusal) (lo, hi, step int64) {
	lo, hi, step = best.Min, best.Max, best.Step
	for _, r := range rs {
		if best.Form.Row.Size() == 4 && r.Form.Row.Size() == 4 && r.Op == best.Op && r.Part == best.Part && r.Step == step && r.Need == 0 &&
			(r.Reason == isa.TooLarge || r.Reason == isa.Negative) && r.Min <= hi+step && r.Max >= lo-step {
			lo, hi = min(lo, r.Min), max(hi, r.Max)
		}
	}
	return lo, hi, step
}

func listText(f *isa.Form) string {
	s := f.String()
	if i := strings.LastIndexByte(s, '{'); i >= 0 {
		list, _, _ := strings.Cut(s[i+1:], "}")
		return list
	}
	return s
}

// wider says which other form would have taken the value.
func (p *Reporter) wider(rs []isa.Refusal, best isa.Refusal, q *isa.Query) string {
	for _, r := range rs {
		if r.Reason == isa.SameReg && r.Form.Mnemonic == best.Form.Mnemonic {
			for i := 0; i < r.Form.Operands(); i++ {
				if lo, hi, step, ok := r.Form.Limits(i); ok && best.Value >= lo && best.Value <= hi {
					return "with one register as source and destination it takes " + isa.Limits(lo, hi, step)
				}
			}
		}
	}
	return ""
}

// slip reports what is a slip of typing by its looks: a list without braces, an address without
// brackets, or a value without the mark that makes a load from the pool of it.
func (p *Reporter) slip(it *program.Item, name string) bool {
	n := len(it.Stmt.Ops) - 1
	if n < 0 || n >= len(p.Ops) || it.Stmt.Mnemonic == nil {
		return false
	}
	registers := true
	for i := range p.Ops {
		registers = registers && p.Ops[i].Kind == isa.OpReg
	}
	op, _, _ := it.Stmt.Mnemonic.Operation()
	text := func(from, to int) string { return p.LineText(it)[it.Stmt.Ops[from].Start:it.Stmt.Ops[to].End] }
	is := func(names ...string) bool {
		return slices.ContainsFunc(names, func(x string) bool { return strings.HasPrefix(op, x) })
	}
	why, from := "", min(1, n)
	switch last := &p.Ops[n]; {
	case it.Stmt.Err != nil:
	case registers && is("push", "pop"):
		from = 0
		why = fmt.Sprintf("takes its registers in braces: %s {%s}.", name, text(0, n))
	case n >= 1 && is("ldr", "str") && p.Ops[1].Kind == isa.OpReg && p.Ops[0].Kind == isa.OpReg && !is("ldrd", "strd", "ldrex", "strex"):
		why = fmt.Sprintf("takes an address in brackets: %s %s, [%s].", name, text(0, 0), text(1, n))
	case n == 1 && op == "ldr" && (last.Kind == isa.OpImm || last.Kind == isa.OpExpr && last.Known && !strings.HasPrefix(text(1, 1), "(")):
		why = fmt.Sprintf("loads from an address; with = it loads a value: %s %s, =%s.", name, text(0, 0), strings.TrimSpace(strings.TrimPrefix(text(1, 1), "#")))
	case n >= 1 && last.Kind == isa.OpLit && !is("ldr", "str", "vldr", "vstr"):
		why = "takes no value with =, as only loads do; a constant has # in front of it."
	}
	if why == "" {
		return false
	}
	p.Report(p.Loc(it, it.Stmt.Ops[from].Start, it.Stmt.Ops[n].End), finding.CodeNoForm, name+" "+why)
	return true
}

// Unusual is lower for what one writes most of the time where an instruction has several ways to
// give an address: a constant offset, then a register's, and last a distance from PC, for which
// there are labels. It is 0 for all other forms.
func Unusual(f *isa.Form) int {
	switch s := f.String(); {
	case strings.Contains(s, "[pc"):
		return 3
	case strings.Contains(s, "[sp"):
		return 2
	case strings.Contains(s, "[Rn, Rm"):
		return 1
	}
	return 0
}

// usualFirst sorts refusals by how unusual their forms are, else leaves them in their order.
func usualFirst(rs []isa.Refusal) {
	var by [4][]isa.Refusal
	for _, r := range rs {
		n := Unusual(r.Form)
		by[n] = append(by[n], r)
	}
	copy(rs, slices.Concat(by[:]...))
}

// noForm reports operands of another shape than any form has.
func (p *Reporter) noForm(it *program.Item, name string, at program.Place, best isa.Refusal, rs []isa.Refusal, q *isa.Query) {
	if best.Reason == isa.BadWord && p.noSpecial(it, at, best, rs, q) || p.slip(it, name) {
		return
	}
	e := &p.Environments[it.Environment]
	var forms []string
	rs = slices.Clone(rs)
	usualFirst(rs)
	for _, r := range rs {
		f := r.Form
		if f.Alias || q.Unified && !f.Unified || !q.Unified && !f.Divided || !e.Have.Has(f.Row.Need|f.Need) {
			continue
		}
		s := manyWords().ReplaceAllString(f.String(), "$1|…")
		dup := false
		for _, x := range forms {
			dup = dup || x == s
		}
		if special := len(forms) > 0 && strings.Contains(s, "|…"); !dup && !special && len(forms) < 2 {
			forms = append(forms, s)
		}
	}
	if len(forms) == 0 {
		forms = append(forms, best.Form.String())
	}
	if len(forms) == 1 && best.Form.Operands() == 0 && len(it.Stmt.Ops) > 0 {
		p.Report(at, finding.CodeNoForm, name+" takes no operands.")
		return
	}
	what := "does not take these operands"
	switch best.Reason {
	case isa.SameReg:
		what = "must write to its first source"
		if best.Op == 2 && best.Form.Operands() == 3 {
			what = "must write to its second source"
		}
	case isa.NeedWB:
		what = "needs '!' after the base register"
		if p.listAfter(best.Op) != nil && !q.A32 && best.Form.Row.LoadsList() {
			what += ", which is not in the list"
		}
	case isa.NoWriteback:
		what = "cannot change its base register"
		if best.Op >= 0 && best.Op < len(p.Ops) && p.Ops[best.Op].Kind == isa.OpList {
			what = "takes no '^' after its list"
		} else if list := p.listAfter(best.Op); list != nil && list.List.Has(p.Ops[best.Op].Reg) {
			what = fmt.Sprintf("cannot change %s, which is both base and in the list", p.Ops[best.Op].Reg)
		}
	case isa.OtherReg:
		what = "does not take " + best.Reg.String() + " here"
	case isa.NeedHigh:
		what = "needs a high register on " + e.Target
	case isa.OtherKind:
		if best.Op >= 0 && best.Op < len(p.Ops) {
			switch o := &p.Ops[best.Op]; {
			case o.Kind == isa.OpImm:
				what = "takes no constant here"
			case o.Kind == isa.OpMem && o.Off == isa.OffImm:
				what = "takes no constant offset"
			case o.Kind == isa.OpMem && o.Off == isa.OffNone:
				what = "takes no base register without an offset"
			case o.Kind == isa.OpMem && o.Minus && (o.Off == isa.OffReg || o.Off == isa.OffShift):
				what = "cannot subtract a register offset"
			case o.Kind == isa.OpMem && o.Off == isa.OffReg:
				what = "takes no register offset"
			case o.Kind == isa.OpMem:
				what = "takes no shifted offset"
			case o.Kind == isa.OpReg:
				what = "takes no register here"
			case o.Kind == isa.OpLit:
				what = "takes no literal here"
			}
		}
	case isa.OtherWidth:
		what = "has no encoding of that width for these operands"
		at = p.NameLoc(it)
	case isa.OtherCount:
		what = countText(len(p.Ops))
		at = p.StmtLoc(it)
		if n := len(p.Ops) - 1; n > 0 && p.Ops[n].Kind == isa.OpShift {
			what = "takes no shift after the register"
			at = p.Loc(it, it.Stmt.Ops[n].Start, it.Stmt.Ops[n].End)
		}
	}
	p.Report(at, finding.CodeNoForm, fmt.Sprintf("%s %s; %s has %s.", name, what, p.setName(q), strings.Join(forms, " and ")))
}

// listAfter is the list of registers after an operand, nil if there is none.
func (p *Reporter) listAfter(op int) *isa.Operand {
	if op >= 0 && op+1 < len(p.Ops) && p.Ops[op+1].Kind == isa.OpList {
		return &p.Ops[op+1]
	}
	return nil
}

// manyWords are the names that an operand may have, where there are too many for a
// sentence.
var manyWords = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`(\w+\|\w+\|\w+)(\|\w+){4,}`) })

// instead says what there is for special registers of the other profile.
var instead = map[string]string{
	"cpsr":        "the flags are in apsr, and primask masks interrupts",
	"spsr":        "an exception leaves xpsr on the stack",
	"primask":     "bits I and F of cpsr mask interrupts",
	"faultmask":   "bits I and F of cpsr mask interrupts",
	"basepri":     "bits I and F of cpsr mask interrupts",
	"basepri_max": "bits I and F of cpsr mask interrupts",
	"xpsr":        "the flags are in cpsr",
	"ipsr":        "the mode is in cpsr",
	"msp":         "each mode has its own sp",
	"psp":         "each mode has its own sp",
	"control":     "the mode is in cpsr",
}

// noSpecial reports the name of a special register that MRS and MSR do not have
// here. It says whether the line is one of these.
func (p *Reporter) noSpecial(it *program.Item, at program.Place, best isa.Refusal, rs []isa.Refusal, q *isa.Query) bool {
	if op, _, _ := it.Stmt.Mnemonic.Operation(); op != "mrs" && op != "msr" {
		return false
	}
	word := p.OpText(it, best.Op)
	m := fmt.Sprintf("%s has no special register %s", p.Environments[it.Environment].Target, word)
	base, _, _ := strings.Cut(strings.ToLower(word), "_")
	var later *isa.Refusal // what has it, the first architecture that does so
	for i := range rs {
		r := &rs[i]
		if r.Reason == isa.NoFeature && r.Op < 0 && r.Need&(isa.FeatM|isa.FeatA32) == 0 && slices.Contains(r.Form.Words(best.Op), strings.ToLower(word)) &&
			(later == nil || bits.OnesCount64(uint64(r.Need)) < bits.OnesCount64(uint64(later.Need))) {
			later = r
		}
	}
	if q.Have.Has(isa.FeatSec) && !q.Have.Has(isa.FeatT32) && later != nil { // DDI 0553, "MRS"
		p.Report(at, finding.CodeNotOnArch, fmt.Sprintf("%s exists in the mainline of ARMv8-M; the target, %s, has the baseline.", word, p.TargetName(it)))
		return true
	}
	if later != nil {
		p.Report(at, finding.CodeNotOnArch, fmt.Sprintf("%s exists from %s on; the target is %s.", word, (later.Form.Row.Need|later.Form.Need).First(), p.TargetName(it)))
		return true
	}
	var words []string
	for _, f := range it.Stmt.Mnemonic.FormsOf(p.Environments[it.Environment].Mode) {
		if q.Have.Has(f.Row.Need | f.Need) {
			words = append(words, f.Words(best.Op)...)
		}
	}
	if hint := instead[base]; hint != "" && (base == "cpsr" || base == "spsr") == q.Have.Has(isa.FeatM) {
		m += "; " + hint
	} else if n := nearest(strings.ToLower(word), slices.Compact(slices.Sorted(slices.Values(words)))); len(n) > 0 {
		m += "; similar names: " + strings.Join(n, ", ")
	}
	p.Report(at, finding.CodeNoForm, m+".")
	return true
}

// setName is the instruction set to speak of: T32 takes in T16.
func (p *Reporter) setName(q *isa.Query) string {
	switch {
	case q.A32:
		return "A32"
	case q.Have.Has(isa.FeatT32):
		return "T32"
	}
	return "T16"
}

// rotationText says why a constant has no encoding of full width, and what comes near.
func (p *Reporter) rotationText(it *program.Item, name string, r isa.Refusal) string {
	f := it.Stmt.Ops[r.Op]
	if f.Kind == isa.OpExpr && !f.Bare && !p.Ops[r.Op].Bare {
		return fmt.Sprintf("%s holds a distance of 8 bits rotated by an even amount; %s is %d bytes from PC.", name, p.OpText(it, r.Op), r.Value)
	}
	state := r.Form.Row.State
	op, _, _ := it.Stmt.Mnemonic.Operation()
	v := uint32(r.Value)
	value := fmt.Sprintf("0x%x", v)
	if r.Value < 0 && isSum(op) {
		value = fmt.Sprintf("-0x%x", -r.Value)
	}
	two := ""
	if twoSteps(state, op, v, p.Environments[it.Environment].Have) {
		two = "; two instructions can do it"
	}
	near := nearConstants(state, op, v, r.Value < 0)
	if state == isa.T {
		return fmt.Sprintf("%s takes 8 bits at any place in the word, or a byte repeated in every or every second byte; %s is neither; nearest %s%s.", name, value, near, two)
	}
	return fmt.Sprintf("%s takes 8 bits rotated by an even amount, which %s is not; nearest %s%s.", name, value, near, two)
}

// isSum says whether assemblers take an operation with the constant negated for its
// counterpart.
func isSum(op string) bool { return op == "add" || op == "sub" || op == "cmp" || op == "cmn" }

// nearConstants names the constants next to v that an operation takes, those of its
// counterpart among them: ADD -4 is SUB 4, AND ~15 is BIC 15.
func nearConstants(state isa.State, op string, v uint32, negative bool) string {
	below, above := state.NearConstants(v)
	list := []uint32{below, above}
	switch op {
	case "add", "sub", "cmp", "cmn":
		x, y := state.NearConstants(-v)
		list = append(list, -y, -x)
	case "mov", "mvn", "and", "bic", "adc", "sbc":
		x, y := state.NearConstants(^v)
		list = append(list, ^y, ^x)
	}
	far := func(c uint32) uint32 { return uint32(max(int64(c)-int64(v), int64(v)-int64(c))) }
	best := list[0]
	for _, c := range list {
		if c != 0 && far(c) < far(best) {
			best = c
		}
	}
	text := func(c uint32) string {
		if negative && isSum(op) {
			return fmt.Sprintf("-0x%x", -c)
		}
		return fmt.Sprintf("0x%x", c)
	}
	for _, c := range list {
		if c != 0 && c != best && far(c) == far(best) {
			return text(min(c, best)) + " and " + text(max(c, best))
		}
	}
	return text(best)
}

// twoSteps says whether two instructions with constants do what the operation does
// with v.
func twoSteps(state isa.State, op string, v uint32, have isa.Features) bool {
	sum := func(v uint32) bool { _, _, ok := state.Sum(v); return ok }
	less := func(v uint32) bool { _, _, ok := state.Difference(v); return ok }
	switch op {
	case "mvn":
		return twoSteps(state, "mov", ^v, have)
	case "mov":
		return have.Has(isa.FeatMovW) || sum(v) || sum(^v) || less(v)
	case "add", "sub":
		return sum(v) || sum(-v) || less(v) || less(-v)
	case "orr", "eor", "bic":
		return sum(v)
	case "and":
		return sum(^v)
	}
	return false
}

// orderSpelling reports a condition in the place where the other syntax has it.
func (p *Reporter) orderSpelling(it *program.Item, q *isa.Query) {
	other := it.Stmt.Mnemonic.OtherOrder(q.Unified)
	p.reportOf(finding.CauseDivided, p.NameLoc(it), finding.CodeFlagsForm, fmt.Sprintf("Divided syntax writes this as %s; for %s add %s above.", other, it.Stmt.Name, p.unifiedBy(it)))
}

func countText(n int) string {
	switch n {
	case 0:
		return "needs operands"
	case 1:
		return "does not take just one operand"
	}
	return fmt.Sprintf("does not take %d operands like these", n)
}

// refuseName reports a name that only other instruction sets have.
func (p *Reporter) refuseName(it *program.Item, q *isa.Query) {
	s := it.Stmt
	low := strings.ToLower(s.Name)
	if _, spelt := s.Mnemonic.Cond(); !spelt && (q.Unified || strings.HasSuffix(low, "s")) {
		if other := p.otherFlags(it, q); other != nil && other != s.Mnemonic {
			if _, ok := other.Match(q, p.Ops); ok {
				p.flagSpelling(it, q, other)
				return
			}
			// Speak of the spelling that exists.
			if _, ok := other.Nearest(q, p.Ops); ok {
				save := *s
				c := save
				c.Mnemonic = other
				x := *it
				x.Stmt = &c
				p.Refuse(&x, q)
				return
			}
		}
	}
	if base, c, ok := condName(low); ok {
		p.Report(p.NameLoc(it), finding.CodeNoForm, fmt.Sprintf("In T16 only branches take a condition (%s), not %s; branch around it instead.", c, base))
		return
	}
	if isa.A32Name(low) {
		p.Report(p.NameLoc(it), finding.CodeNoForm, fmt.Sprintf("%s has no %s; it exists only in other instruction sets.", p.setName(q), s.Name))
		return
	}
	p.Report(p.NameLoc(it), finding.CodeNotOnArch, fmt.Sprintf("%s is a 32-bit instruction of later architectures; the target is %s.", s.Name, p.TargetName(it)))
}

func condName(low string) (base, cond string, ok bool) {
	low, _, _ = strings.Cut(low, ".")
	n := len(low) - 2
	if n < 1 {
		return
	}
	if _, ok := isa.CondByName(low[n:]); !ok {
		return "", "", false
	}
	for _, b := range []string{low[:n], low[:n] + "s", strings.TrimSuffix(low[:n], "s")} {
		if m, _ := isa.Find(b); m != nil && len(m.Forms) > 0 {
			return low[:n], low[n:], true
		}
	}
	return "", "", false
}

// otherFlags is the mnemonic with the flag letter the other way: adds for
// add in unified syntax, add for adds in divided syntax.
func (p *Reporter) otherFlags(it *program.Item, q *isa.Query) *isa.Mnemonic {
	if it.Stmt.Mnemonic.Vector() {
		return nil // of these none sets flags
	}
	low := strings.ToLower(it.Stmt.Name)
	low = strings.TrimSuffix(low, ".n")
	other := low + "s"
	if strings.HasSuffix(low, "s") && len(low) > 3 {
		other = low[:len(low)-1]
	}
	m, _ := isa.Find(other)
	if m == nil || len(m.Forms) == 0 {
		return nil
	}
	return m
}

func (p *Reporter) flagSpelling(it *program.Item, q *isa.Query, other *isa.Mnemonic) {
	name := it.Stmt.Name
	short := name // without the width
	if it.Stmt.Width != 0 && len(name) > 2 {
		short = name[:len(name)-2]
	}
	switch {
	case !q.Unified:
		p.reportOf(finding.CauseDivided, p.NameLoc(it), finding.CodeFlagsForm, fmt.Sprintf("Divided syntax writes this as %s; for %s add %s above.", other.Name, name, p.unifiedBy(it)))
	case len(other.Name) > len(short) && p.withLater(it, q):
		p.Report(p.NameLoc(it), finding.CodeFlagsForm, fmt.Sprintf("On %s, T16 has this only as %s, which sets the flags.", p.TargetName(it), other.Name))
	case len(other.Name) > len(short):
		p.Report(p.NameLoc(it), finding.CodeFlagsForm, fmt.Sprintf("%s has this only as %s, which sets the flags.", p.setName(q), other.Name))
	default:
		p.Report(p.NameLoc(it), finding.CodeFlagsForm, fmt.Sprintf("%s has this only as %s, which keeps the flags.", p.setName(q), other.Name))
	}
}

// ThumbOnly reports a line of A32 code for a target that has none.
func (p *Reporter) ThumbOnly(it *program.Item) {
	e := &p.Environments[it.Environment]
	p.reportOf(finding.CauseThumb, p.NameLoc(it), finding.CodeNotOnArch, ThumbOnly(e.Target, p.Spelled(it, syntax.EffThumb)))
}

// withLater says whether a later architecture takes the line as it is.
func (p *Reporter) withLater(it *program.Item, q *isa.Query) bool {
	later := *q
	later.Have |= isa.FeatV6
	_, ok := it.Stmt.Mnemonic.Match(&later, p.Ops)
	return ok
}

// OpText is an operand as written.
func (p *Reporter) OpText(it *program.Item, i int) string {
	if i < 0 || i >= len(it.Stmt.Ops) {
		return "it"
	}
	o := &it.Stmt.Ops[i]
	return syntax.WithoutComments(p.LineText(it)[o.Start:o.End])
}

func (p *Reporter) litText(it *program.Item, i int) string {
	if it.Literal >= 0 {
		return "the literal " + strings.TrimLeft(p.OpText(it, i), "= ")
	}
	return p.OpText(it, i)
}

// relocation checks a constant or target that the linker computes by a relocation
// operator, and the number added to it, which is in the place meanwhile
// (AAELF32, "Relocation": REL format).
func (p *Reporter) relocation(it *program.Item, o *syntax.Operand, f *isa.Form, v program.Value, isBranch bool) bool {
	lo, hi, step, ok := p.relocRange(it, o, f, v.Reloc, isBranch)
	switch {
	case !ok && p.Lacking && v.Reloc[0] == '(':
		return true // a macro with an argument, perhaps, of the file that was not found
	case !ok:
		q := p.Query(it, &p.Environments[it.Environment])
		p.Report(p.Loc(it, o.Start, o.End), finding.CodeNoForm, fmt.Sprintf("%s has no %s with the relocation operator %s.", p.setName(&q), it.Stmt.Name, v.Reloc))
		return true
	case v.Kind == program.Number:
		return false
	case v.N < lo || v.N > hi || v.N%step != 0:
		steps := ""
		if step > 1 {
			steps = fmt.Sprintf(" in steps of %d", step)
		}
		p.Report(p.Loc(it, o.Start, o.End), finding.CodeConstRange, fmt.Sprintf("The instruction keeps the number added to the address, and holds %d to %d%s here; this is %d.", lo, hi, steps, v.N))
		return true
	case o.Kind == isa.OpImm && strings.Contains(v.Reloc, "_g"):
		if _, ok := isa.Rotated(uint32(max(v.N, -v.N))); !ok {
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeConstRange, fmt.Sprintf("The instruction keeps the number added to the address, and holds 8 bits rotated by an even amount, which %s is not.", Num(v.N)))
			return true
		}
	}
	return false
}

// relocRange says whether the instruction has the relocation, and which numbers may
// be added to it (AAELF32, "Static ARM relocations" and "Static Thumb relocations":
// MOVW_* and MOVT_*, THM_ALU_ABS_*, ALU_*, LDR_*, LDRS_*, LDC_*, PLT32).
func (p *Reporter) relocRange(it *program.Item, o *syntax.Operand, f *isa.Form, name string, isBranch bool) (lo, hi, step int64, ok bool) {
	mn, mode := it.Stmt.Mnemonic, p.Environments[it.Environment].Mode
	has := func(r isa.Relocation) bool { return f != nil && f.Row.Reloc == r }
	switch name {
	case "lower16":
		return -0x8000, 0x7fff, 1, mn.Relocates(mode, isa.RelocLower)
	case "upper16":
		return -0x8000, 0x7fff, 1, mn.Relocates(mode, isa.RelocUpper)
	case "lower0_7", "lower8_15", "upper0_7", "upper8_15":
		return 0, 255, 1, p.Environments[it.Environment].Unified && f != nil && takesByte(mn, f, it.Stmt.Ops)
	case "(PLT)", "(plt)", "(TLSCALL)", "(tlscall)":
		return math.MinInt32, math.MaxInt32, 1, isBranch && (f == nil || f.Row.Linked())
	}
	switch {
	case !groupRelocation().MatchString(name):
		return 0, 0, 1, false
	case o.Kind != isa.OpMem:
		return math.MinInt32, math.MaxInt32, 1, has(isa.RelocSum)
	case strings.HasSuffix(name, "_nc") || o.Post || !has(isa.RelocOffset):
		return 0, 0, 1, false
	}
	return f.Offsets(eval.OpIndex(it, o))
}

// takesByte says whether a linker can put a byte of an address into the halfword of a
// line that sets flags. With one register as source and destination an addition has the
// form of two operands.
func takesByte(mn *isa.Mnemonic, f *isa.Form, ops []syntax.Operand) bool {
	for _, g := range mn.Forms {
		if g.Row.Reloc == isa.RelocByte && !g.Alias && g.SetsFlags() != 0 && g.Operands() == len(ops) &&
			(g.Row == f.Row || len(ops) == 3 && f.Row.Size() == 2 && ops[0].Reg == ops[1].Reg) {
			return true
		}
	}
	return false
}

var groupRelocation = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^(pc|sb)_g(0|1|2|0_nc|1_nc)$`) })

// elsewhere checks an address in another section or file. For a branch the
// object file holds the distance from that section's or symbol's start, less
// 4, in the instruction's own field (AAELF32, REL format): it has to fit
// there. For LDR and ADR there is no relocation at all that assemblers use.
func (p *Reporter) elsewhere(it *program.Item, o *syntax.Operand, i int, f *isa.Form, v program.Value, isBranch bool) bool {
	if !f.Address(i) {
		return false
	}
	lo, hi, step, _ := f.Limits(i)
	text := p.OpText(it, i)
	at := p.Loc(it, o.Start, o.End)
	name := it.Stmt.Name
	if !isBranch && fullADR(f) && v.Kind != program.Undefined {
		p.Warn(at, finding.CodeUndefined, fmt.Sprintf("%s is not in section %s, where this %s is; assemblers take its value as an offset in that section, which is another address.", text, p.Sections[it.Section].Name, name))
		return false
	}
	if !isBranch {
		switch v.Kind {
		case program.Undefined:
			p.undefined(it, o, v.Symbol, "an address relative to PC")
		case program.Address:
			p.Report(at, finding.CodeUndefined, fmt.Sprintf("%s is in section %s; %s reaches only its own section, %s.", text, p.Sections[v.Section].Name, name, p.Sections[it.Section].Name))
		default:
			p.Report(at, finding.CodeUndefined, fmt.Sprintf("%s is a number; %s needs a label in its own section, %s.", text, name, p.Sections[it.Section].Name))
		}
		return true
	}
	if v.Kind == program.Number || v.Kind == program.Address && !p.Sections[v.Section].Exact {
		return false
	}
	place := "another file"
	if v.Kind == program.Address {
		place = "section " + p.Sections[v.Section].Name
		if v.Section != it.Section && p.LeftToLinker(it, o) { // its own distance does not count either
			v.N -= p.Direct(o).Value.N
		}
	} else {
		p.External(it, o, v)
	}
	if y := p.Direct(o); !f.Row.Linked() && y != nil && y.Function && y.Mode == isa.T {
		p.Report(at, finding.CodeUndefined, fmt.Sprintf("%s is a function in %s: bit 0 of its address is set, which %s cannot hold.", text, place, name))
		return true
	}
	ahead := f.Row.State.Ahead()
	if f.Row.State == isa.A {
		linked := v.Symbol != nil && v.Symbol.Mode == isa.T && (v.Symbol.Function || v.Symbol.Global)
		if off := v.N & (step - 1); (step == 4 || off == 1) && off != 0 && !linked {
			p.Report(at, finding.CodeLitAlign, fmt.Sprintf("%s needs a word-aligned target; %s is %s past a word boundary.", name, text, Plural(int(off), "byte", "bytes")))
			return true
		}
	}
	if d := (v.N - ahead) &^ 1; (d < lo || d > hi) && !(d == -2 && lo == 0) {
		p.Report(at, finding.CodeBranchReach, fmt.Sprintf("%s is in %s, %d bytes from its start; %s holds such a distance only up to %d.", text, place, v.N, name, hi+ahead))
		return true
	}
	return false
}

// fullADR says whether the form is the 32-bit encoding of ADR in Thumb code.
// Assemblers compute its address as if every symbol were of its section.
func fullADR(f *isa.Form) bool {
	return f.Row.State == isa.T && f.Row.Size() == 4 && f.Row.Flow == isa.FlowNext && f.Row.Access == 0
}

// vectorLike are names that look like registers of floating point or vectors.
var vectorLike = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[sdqSDQ]\d+$`) })

func firstUnknown(p *eval.Evaluator, n *syntax.Names) string {
	for _, w := range append([]string{n.Base, n.Index}, n.List...) {
		if w == "" {
			continue
		}
		if _, ok := p.VectorWord(strings.TrimPrefix(w, "-")); ok {
			continue
		}
		if _, ok := isa.RegByName(strings.TrimPrefix(w, "-")); ok {
			continue
		}
		if _, ok := p.Alias(strings.TrimPrefix(w, "-")); !ok {
			return strings.TrimPrefix(w, "-")
		}
	}
	return "the name"
}

// beyondRegisters reports an operand that is like the name of a register and is none, where
// no symbol has that name.
func (p *Reporter) beyondRegisters(it *program.Item) bool {
	for i := range it.Stmt.Ops {
		o := &it.Stmt.Ops[i]
		name := o.Word
		if e := o.Expr; name == "" && e != nil && e.Op == syntax.ExprSym {
			name = e.Name
		}
		if o.Kind != isa.OpExpr || !likeRegister(name) {
			continue
		}
		if y := p.Table.Find(name); y == nil || !y.Defined {
			p.Report(p.wordLoc(it, o, name), finding.CodeUndefined, NoRegister(name))
			return true
		}
	}
	return false
}

// likeRegister says whether a name is like r16 or d40: a letter of registers and a number
// of which there is none.
func likeRegister(name string) bool {
	if len(name) < 2 || len(name) > 4 {
		return false
	}
	there, ok := map[byte]int{'r': 16, 's': 32, 'd': 32, 'q': 16}[name[0]|0x20]
	n, err := strconv.Atoi(name[1:])
	return ok && err == nil && n >= there && name[1] != '0'
}

// NoRegister says that there is no register of that name.
func NoRegister(name string) string {
	if name[0]|0x20 == 'r' {
		return name + " is no register; there are r0 to r15."
	}
	return "There is no register " + name + "; there are s0–s31, d0–d31 and q0–q15."
}

// undefined reports a symbol whose value is needed in this file.
func (p *Reporter) undefined(it *program.Item, o *syntax.Operand, s *program.Symbol, place string) {
	if s == nil {
		p.Report(p.Loc(it, o.Start, o.End), finding.CodeUndefined, "The value is not known here.")
		return
	}
	if it.Stmt.Kind == syntax.Instruction && likeRegister(s.Name) {
		p.Report(p.wordLoc(it, o, s.Name), finding.CodeUndefined, NoRegister(s.Name))
		return
	}
	p.reportOf(finding.CauseName+s.Name, p.wordLoc(it, o, s.Name), finding.CodeUndefined, fmt.Sprintf("%s is not defined in this file; %s cannot be left to the linker.", s.Name, place))
}

// numberIn is the place and the text of what is a number in an operand: the offset of
// an address, the amount of a shift, or all of it.
func (p *Reporter) numberIn(it *program.Item, i int) (program.Place, string) {
	o := &it.Stmt.Ops[i]
	if o.Kind == isa.OpMem || o.Kind == isa.OpShift {
		if e := o.Expr; e != nil {
			return p.Loc(it, e.Start, e.End), syntax.WithoutComments(p.LineText(it)[e.Start:e.End])
		}
		if o.Word != "" {
			return p.wordLoc(it, o, o.Word), o.Word
		}
	}
	return p.Loc(it, o.Start, o.End), strings.TrimLeft(p.OpText(it, i), "#$ ")
}

// wordLoc narrows an operand to the name in it.
func (p *Reporter) wordLoc(it *program.Item, o *syntax.Operand, name string) program.Place {
	t := syntax.Uncommented(p.LineText(it)[o.Start:o.End])
	if i := strings.Index(t, name); i >= 0 {
		return p.Loc(it, o.Start+int32(i), o.Start+int32(i+len(name)))
	}
	return p.Loc(it, o.Start, o.End)
}

// NoLocal says that a local label was looked for in vain.
func NoLocal(v program.Value) string {
	if n := v.Num - 1; n&syntax.DollarLabel != 0 {
		return fmt.Sprintf("There is no local label %d$: below, nor above since the last label with a name", n&^syntax.DollarLabel)
	}
	if v.Back {
		return fmt.Sprintf("There is no local label %d: above", v.Num-1)
	}
	return fmt.Sprintf("There is no local label %d: below", v.Num-1)
}

// LookBack reports a local label that o looks for above, where o is a value that may
// come later: of a label above it is known at once that there is none.
func (p *Reporter) LookBack(it *program.Item, o *syntax.Operand) {
	if v := p.Value(o, it); v.Kind == program.Undefined && v.Num != 0 && v.Back {
		p.External(it, o, v)
	}
}

// External notes a symbol that the linker has to supply.
func (p *Reporter) External(it *program.Item, o *syntax.Operand, v program.Value) {
	if v.Num != 0 {
		p.Report(p.Loc(it, o.Start, o.End), finding.CodeUndefined, NoLocal(v)+".")
		return
	}
	s := v.Symbol
	if v.Mixed && s != nil {
		p.reportOf(finding.CauseName+s.Name, p.wordLoc(it, o, s.Name), finding.CodeUndefined, fmt.Sprintf("%s is not defined in this file, and the linker can only add a number to it.", s.Name))
		return
	}
	if s == nil || s.Defined || s.Extern || s.Global || p.supplied[s] || strings.HasSuffix(s.Name, ")") { // SFE(section)
		return
	}
	p.Supplied(s)
	if p.Columns && p.Ended && !p.Missed {
		// A whole source of the column dialect: nothing is left to the linker
		// that no line imports (from memory of the armasm manual).
		p.reportOf(finding.CauseName+s.Name, p.wordLoc(it, o, s.Name), finding.CodeUndefined, fmt.Sprintf("%s is not defined in this file, and no IMPORT declares it.", s.Name))
		return
	}
	p.reportOf(finding.CauseName+s.Name, p.wordLoc(it, o, s.Name), finding.CodeExternal, fmt.Sprintf("%s is not defined in this file and not declared by %s; the linker must supply it.", s.Name, p.Spelled(it, syntax.EffExtern)))
}

// Supplied notes that it has been said that the linker supplies a symbol.
func (p *Reporter) Supplied(s *program.Symbol) {
	if p.supplied == nil {
		p.supplied = map[*program.Symbol]bool{}
	}
	p.supplied[s] = true
}

func (p *Reporter) BadValue(it *program.Item, o *syntax.Operand, v program.Value) {
	switch {
	case v.Kind == program.Bad && p.Lacking && p.namesNothing(o.Expr):
		// A file that was not found may make a number of the name.
	case v.Kind == program.Undefined && v.Num != 0:
		p.External(it, o, v)
	case v.Kind == program.Undefined:
		p.undefined(it, o, v.Symbol, "this value")
	case v.Kind == program.Address:
		p.Report(p.Loc(it, o.Start, o.End), finding.CodeUndefined, "A number is needed here; this is an address.")
	case v.Mild:
		p.Warn(p.Loc(it, o.Start, o.End), finding.CodeSyntax, p.Trouble(v, it))
	default:
		p.Report(p.Loc(it, o.Start, o.End), finding.CodeSyntax, p.Trouble(v, it))
	}
}

// namesNothing says whether an expression has a name that nothing defines.
func (p *Reporter) namesNothing(e *syntax.Expr) (found bool) {
	e.Walk(func(x *syntax.Expr) {
		if x.Op == syntax.ExprSym {
			y := p.Table.Find(x.Name)
			found = found || y == nil || !y.Defined
		}
	})
	return found
}

func (p *Reporter) UnknownMnemonic(it *program.Item) {
	e := &p.Environments[it.Environment]
	near := func(name string) []string { return NamesNear(p.Program, e, name) }
	if p.Columns {
		near = func(name string) []string {
			near := append(nearColumns(name), NamesNear(p.Program, e, name)...)
			return near[:min(len(near), 3)]
		}
	}
	if to := OtherNames[strings.ToLower(it.Stmt.Name)]; to != "" && !p.Lacking {
		p.reportOf(finding.CauseName+strings.ToLower(it.Stmt.Name), p.NameLoc(it), finding.CodeMnemonic, fmt.Sprintf("%s is a name of other processors; here it is %s.", it.Stmt.Name, to))
		return
	}
	p.unknownName(it, finding.CodeMnemonic, "instruction, directive or macro", near)
}

func (p *Reporter) UnknownDirective(it *program.Item) {
	p.unknownName(it, finding.CodeUnknownDir, "directive or macro", NearDirectives)
}

func (p *Reporter) unknownName(it *program.Item, code, what string, search func(name string) []string) {
	if p.Lacking {
		return // it may be a macro of the file that was not found
	}
	var near []string
	if p.RoomForNear() {
		near = p.once(fmt.Sprint(code, it.Environment), it.Stmt.Name, search)
	}
	m := it.Stmt.Name + " is not a known " + what
	if len(near) > 0 {
		m += "; similar names: " + strings.Join(near, ", ")
	}
	if line := p.LineText(it); code == finding.CodeMnemonic && strings.TrimSpace(syntax.WithoutComments(line)) == it.Stmt.Name && line[0] > ' ' {
		m += "; a label has a colon after it"
	}
	p.reportOf(finding.CauseName+strings.ToLower(it.Stmt.Name), p.NameLoc(it), code, m+".")
}

// once searches for the names close to one, and the next time knows them: a file that is of
// another language has the same words in many lines.
func (p *Reporter) once(code, name string, search func(name string) []string) []string {
	key := [2]string{fmt.Sprint(code, len(p.Macros)), name} // a macro that is defined since may be near
	near, ok := p.near[key]
	if !ok {
		if p.near == nil {
			p.near = map[[2]string][]string{}
		}
		near = search(name)
		p.near[key] = near
	}
	return near
}

// OtherNames are names of other processors' instructions, with what is meant. Names that are
// near to them in letters are far in meaning.
var OtherNames = map[string]string{"jmp": "b", "bra": "b", "call": "bl", "jsr": "bl", "bsr": "bl", "ret": "bx lr", "rts": "bx lr"}

// NamesNear lists names of macros, and of instructions that are there in an environment,
// that are near.
func NamesNear(r *program.Program, e *program.Environment, name string) []string {
	var macros []string
	for _, m := range r.Macros {
		if !strings.EqualFold(m.Name, name) { // not there at this line: taken back, or defined below
			macros = append(macros, strings.ToLower(m.Name))
		}
	}
	sort.Strings(macros)
	macros = slices.Compact(macros)
	near := append(nearest(strings.ToLower(name), macros), nearMnemonics(e, name)...)
	return near[:min(len(near), 3)]
}

func nearMnemonics(e *program.Environment, name string) []string {
	if len(name) > 12 {
		return nil
	}
	var all []string
	for _, m := range isa.Mnemonics() {
		if plain, always := strings.CutSuffix(m.Name, "al"); always && plain != "" {
			if x, _ := isa.Find(plain); x != nil {
				continue // the condition that says nothing
			}
		}
		if isThere(m, e) {
			all = append(all, m.Name)
		}
	}
	return nearest(strings.ToLower(name), all)
}

// isThere says whether some form of a mnemonic exists in an environment.
func isThere(m *isa.Mnemonic, e *program.Environment) bool {
	return m.OpensBlock() || slices.ContainsFunc(m.FormsOf(e.Mode), func(f *isa.Form) bool {
		return !f.Rare && e.Have.Has(f.Row.Need|f.Need) && e.Have&(f.Row.Lack|f.Lack) == 0
	})
}

func nearColumns(name string) []string {
	var all, out []string
	for _, n := range syntax.ColumnDirectives() {
		all = append(all, strings.ToLower(n))
	}
	for _, n := range nearest(strings.ToLower(name), all) {
		out = append(out, strings.ToUpper(n))
	}
	return out
}

func NearDirectives(name string) []string {
	if len(name) > 30 {
		return nil
	}
	var all []string
	for _, d := range syntax.Directives() {
		all = append(all, d.Name)
	}
	return nearest(name, all)
}

// nearest lists up to three of names, in any order, that are close to name
// and about as long.
func nearest(name string, names []string) []string {
	var like []string
	for _, n := range names {
		if d := len(n) - len(name); d >= -2 && (d <= 2 || strings.HasPrefix(n, name)) {
			like = append(like, n)
		}
	}
	sort.Strings(like)
	like = finding.Near(name, like)
	return like[:min(len(like), 3)]
}

// Cautions reports what is encodable and should not be.
func (p *Reporter) Cautions(it *program.Item) {
	added, labelled := p.addedToLabel(it)
	refused := false
	place := func(op int) program.Place {
		if op < len(it.Stmt.Ops) {
			return p.Loc(it, it.Stmt.Ops[op].Start, it.Stmt.Ops[op].End)
		}
		return p.NameLoc(it)
	}
	it.Match.Cautions(p.Environments[it.Environment].Have, func(c *isa.Caution) {
		code := finding.CodeUnpredictable
		if c.List {
			code = finding.CodeBaseInList
		}
		if c.Refused && (!c.Written || !labelled || added&3 != 0) {
			code, refused = finding.CodeNoForm, true
		}
		p.Emit(place(c.Op), finding.Diagnostic{Code: code, Message: string(c.Text[0]&^0x20) + c.Text[1:] + ".", Deprecated: c.Deprecated})
	})
	if labelled && added&3 != 0 && !refused {
		for i := range it.Match.Form.Row.Cautions {
			if c := &it.Match.Form.Row.Cautions[i]; c.Written {
				p.Report(place(c.Op), finding.CodeNoForm, fmt.Sprintf("The number that is added to a label has to be a multiple of 4 where pc is loaded or stored; it is %d.", added))
			}
		}
	}
}

// addedToLabel is the number that is added to a label or to '.' in the operand of a load or
// a store of pc relative to pc. ok is false for other lines, and where that is no plain sum.
func (p *Reporter) addedToLabel(it *program.Item) (n int64, ok bool) {
	m := &it.Match
	if !slices.ContainsFunc(m.Form.Row.Cautions, func(c isa.Caution) bool { return c.Written }) || len(it.Stmt.Ops) != 2 || it.Literal >= 0 {
		return 0, false
	}
	o := &it.Stmt.Ops[1]
	if isa.Reg(m.Values().Get("Rt")) != isa.PC || o.Kind != isa.OpExpr {
		return 0, false
	}
	if o.Word != "" {
		return 0, true
	}
	return p.added(o.Expr)
}

// added is what a sum has besides its label.
func (p *Reporter) added(e *syntax.Expr) (n int64, ok bool) {
	if e == nil {
		return 0, false
	}
	switch e.Op {
	case syntax.ExprNum:
		return e.Val, true
	case syntax.ExprDot, syntax.ExprLocal:
		return 0, true
	case syntax.ExprSym:
		if s := p.SymbolOf(e.Name); s != nil && s.Defined && s.Value.Kind == program.Number {
			return s.Value.N, true
		}
		return 0, true
	case syntax.ExprAdd, syntax.ExprSub:
		x, known := p.added(e.X)
		y, both := p.added(e.Y)
		if e.Op == syntax.ExprSub {
			y = -y
		}
		return x + y, known && both
	}
	return 0, false
}
