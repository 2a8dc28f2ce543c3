package analysis

import (
	"fmt"
	"math"
	"math/bits"
	"regexp"
	"slices"
	"sort"
	"strings"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// maxDiags bounds the findings of one program; a hopeless file says enough.
const maxDiags = 20000

// maxMessage bounds a message, in bytes: names in it may be long.
const maxMessage = 1000

// maxNear bounds the findings with near names, which are searched for among
// all that there are.
const maxNear = 500

// emit adds a finding at a place.
func (p *reporter) emit(at place, d Diagnostic) {
	if len(p.doubts) > 0 {
		p.tellDoubts()
	}
	d.Location = at.Location
	if at.use != nil {
		p.fromUse(at.use, &d)
	}
	if p.lacking && mayBeMissing(d.Code) {
		return
	}
	if len(p.diags) >= maxDiags || at.made != nil && p.fromExpansion(at.made, &d) {
		return
	}
	if p.columns {
		d.Message = columnWords.Replace(d.Message)
	}
	if c := check(d.Code); d.Severity == Error && c != nil {
		d.Severity = c.Severity
	}
	d.Message = clipText(d.Message, maxMessage)
	p.diags = append(p.diags, d)
}

// tellDoubts makes findings of what the evaluator has found doubtful.
func (p *reporter) tellDoubts() {
	list := p.doubts
	p.doubts = nil
	for _, d := range list {
		p.warn(d.at, codeSyntax, d.message)
	}
}

// report adds a finding with its check's severity.
func (p *reporter) report(at place, code, msg string) {
	p.emit(at, Diagnostic{Code: code, Message: msg})
}

// warn adds a finding that is milder than its check's severity.
func (p *reporter) warn(at place, code, msg string) {
	p.emit(at, Diagnostic{Code: code, Message: msg, Severity: Warning})
}

// all gives the findings, sorted by file, place and severity, each once.
func (p *reporter) all() []Diagnostic {
	p.tellDoubts()
	rank := map[string]int{}
	for i := range p.sources {
		if _, ok := rank[p.sources[i].path]; !ok {
			rank[p.sources[i].path] = i
		}
	}
	sort.SliceStable(p.diags, func(i, j int) bool {
		a, b := &p.diags[i], &p.diags[j]
		if a.Path != b.Path {
			return rank[a.Path] < rank[b.Path]
		}
		if a.Span.Start != b.Span.Start {
			return a.Span.Start < b.Span.Start
		}
		return a.Severity < b.Severity
	})
	// A file that is included twice tells once.
	out := p.diags[:0]
	for i := range p.diags {
		if n := len(out); n > 0 && out[n-1].Location == p.diags[i].Location && out[n-1].Code == p.diags[i].Code && out[n-1].Message == p.diags[i].Message {
			continue
		}
		out = append(out, p.diags[i])
	}
	p.diags = nil
	return out
}

// num writes a number as people read it: small ones in decimal, large ones in
// hexadecimal with the decimal behind.
func num(v int64) string {
	if v > -1024 && v < 1024 {
		return fmt.Sprint(v)
	}
	if v < 0 {
		return fmt.Sprintf("%d (0x%x)", v, uint32(v))
	}
	return fmt.Sprintf("0x%x (%d)", v, v)
}

// refuse reports an instruction of the compact state that has no encoding.
func (p *reporter) refuse(it *item, q *isa.Query) {
	s := it.stmt
	// A value that hangs on an unknown symbol is the first thing to say.
	if p.operandErrors(it, nil) {
		return
	}
	cond, spelt := s.Mnem.Cond()
	// What T32 has is of A32 to those without T32.
	a32Only := q.Have&(isa.FeatA32|isa.FeatT32) == isa.FeatA32 && s.Mnem.T32Only() && len(s.Mnem.FormsOf(isa.A)) > 0
	if !q.A32 && (len(s.Mnem.Forms) == 0 || a32Only || spelt && cond != isa.AL && !q.Have.Has(isa.FeatT32) && !it.conditional()) {
		p.refuseName(it, q)
		return
	}
	rs := s.Mnem.Refuse(q, p.ops)
	best := rs[0]
	if best.Form.Alias && best.Reason == isa.TooLarge && best.Min == best.Max {
		// Another constant than the one that an alias writes is no near miss.
		for _, r := range rs[1:] {
			if !r.Form.Alias && r.Reason == isa.OtherKind && r.Op == best.Op {
				best = r
				break
			}
		}
	}
	if best.Form.Alias && best.Reason == isa.NoRotation {
		// Nor is it where a '#' is missing, which the alias alone does without.
		for _, r := range rs[1:] {
			if !r.Form.Alias && r.Reason == isa.NoHash && r.Op == best.Op {
				best = r
				break
			}
		}
	}
	name := s.Name
	// The other spelling of the flags may be what was meant.
	if other := p.otherFlags(it, q); other != nil && !q.A32 {
		if m, ok := other.Match(q, p.ops); ok && m.Form.Row != nil {
			p.flagSpelling(it, q, other)
			return
		}
		if o := other.Refuse(q, p.ops); !q.Have.Has(isa.FeatT32) && best.Reason >= isa.HighReg && o[0].Cost()+4 < best.Cost() {
			best = o[0]
			name = s.Name + " (as " + other.Name + ")"
		}
	}
	if !q.A32 && p.refuseBlock(it, q, best.Reason) {
		return
	}
	if best.Reason == isa.OtherSyntax && q.A32 && s.Mnem.OtherOrder(q.Unified) != strings.ToLower(s.Name) {
		p.orderSpelling(it, q)
		return
	}
	if best.Reason == isa.OtherSyntax {
		if q.Unified {
			p.report(p.nameLoc(it), codeFlagsForm, fmt.Sprintf("%s with these operands is spelled so only in the divided syntax; here .syntax unified is in force.", s.Name))
		} else {
			p.report(p.nameLoc(it), codeFlagsForm, fmt.Sprintf("%s with these operands is spelled so only in the unified syntax; a line .syntax unified is missing above.", s.Name))
		}
		return
	}
	f := best.Form
	if best.Op >= len(s.Ops) {
		best.Op = -1
	}
	at := p.stmtLoc(it)
	if best.Op >= 0 {
		at = p.partLoc(it, best.Op, best.Part)
	}
	lim := isa.Limits(best.Min, best.Max, best.Step)
	v := num(best.Value)
	switch best.Reason {
	case isa.TooLarge:
		what := map[isa.Part]string{isa.PartOffset: "an offset of", isa.PartShift: "a shift of"}[best.Part]
		if what == "" {
			what = "a constant of"
		}
		lim := isa.Limits(union(rs, best))
		if p.ops[best.Op].Kind == isa.OpFloat {
			p.report(at, codeConstRange, fmt.Sprintf("%s takes %s %s here, not %s.", name, what, lim, strings.TrimLeft(p.opText(it, best.Op), "#$ ")))
			break
		}
		if list := only(rs, best); list != "" {
			p.report(at, codeConstRange, fmt.Sprintf("%s takes %s %s here; %s is none of them.", name, what, list, v))
			break
		}
		side, by := "too large", best.Value-best.Max
		if best.Value < best.Min {
			side, by = "too small", best.Min-best.Value
		}
		m := fmt.Sprintf("%s takes %s %s here; %s is %d %s.", name, what, lim, v, by, side)
		if by > 4096 {
			m = fmt.Sprintf("%s takes %s %s here; %s is %s.", name, what, lim, v, side)
		}
		if w := p.wider(rs, best, q); w != "" {
			m = m[:len(m)-1] + "; " + w + "."
		}
		p.report(at, codeConstRange, m)
	case isa.Misaligned:
		p.report(at, codeConstAlign, fmt.Sprintf("%s takes %s here; %s is no multiple of %d.", name, lim, v, best.Step))
	case isa.Negative:
		p.report(at, codeConstNegative, fmt.Sprintf("%s takes %s here; %s is negative.", name, lim, v))
	case isa.Behind:
		if f.Row.Flow == isa.FlowBranch {
			p.report(at, codeBranchReach, fmt.Sprintf("%s reaches 0–%d bytes ahead of PC only; %s stands %d bytes behind it.", name, best.Max, p.opText(it, best.Op), -best.Value))
			break
		}
		p.report(at, codeLitBehind, fmt.Sprintf("%s reaches 0–%d bytes ahead of PC only; %s stands %d bytes behind it.", name, best.Max, p.opText(it, best.Op), -best.Value))
	case isa.TooFar:
		if f.Row.Flow == isa.FlowNext && q.A32 {
			p.report(at, codeLitReach, fmt.Sprintf("%s reaches from %d to %+d bytes of PC; %s is %d bytes from it.", name, best.Min, best.Max, p.litText(it, best.Op), best.Value))
			break
		}
		if f.Row.Flow == isa.FlowNext {
			p.report(at, codeLitReach, fmt.Sprintf("%s reaches 0–%d bytes ahead of PC; %s is %d bytes ahead, %d too far.", name, best.Max, p.litText(it, best.Op), best.Value, best.Value-best.Max))
			break
		}
		by, dir := best.Value-best.Max, "ahead"
		if best.Value < 0 {
			by, dir = best.Min-best.Value, "back"
		}
		dist := max(best.Value, -best.Value)
		p.report(at, codeBranchReach, fmt.Sprintf("%s reaches from %d to %+d bytes of PC; %s is %d bytes %s, %d too far.", name, best.Min, best.Max, p.opText(it, best.Op), dist, dir, by))
	case isa.NoRotation:
		p.report(at, codeConstRange, p.rotationText(it, name, best))
	case isa.OddReg:
		p.report(at, codeNoForm, fmt.Sprintf("%s takes two registers, the first with an even number from r0 to r12; %s is none.", name, best.Reg))
	case isa.NoCond:
		p.report(p.nameLoc(it), codeNoForm, fmt.Sprintf("A32 has no condition on this form of %s.", it.stmt.Name))
	case isa.OddTarget:
		if q.A32 {
			p.report(at, codeLitAlign, fmt.Sprintf("%s takes an address in steps of %d bytes from PC; %s is %s off.", name, best.Step, p.opText(it, best.Op), plural(int((best.Value%best.Step+best.Step)%best.Step), "byte", "bytes")))
			break
		}
		if best.Step == 2 {
			p.report(at, codeLitAlign, fmt.Sprintf("%s takes an even address; %s is odd.", name, p.opText(it, best.Op)))
			break
		}
		p.report(at, codeLitAlign, fmt.Sprintf("%s takes a word-aligned address; %s is %s off a word.", name, p.opText(it, best.Op), plural(int(best.Value&3), "byte", "bytes")))
	case isa.HighReg:
		p.report(at, codeLowRegs, fmt.Sprintf("%s reaches only r0–r7 here; %s is a high register.", name, best.Reg))
	case isa.BadList:
		m := fmt.Sprintf("%s takes %s; %s is not among them.", name, listText(f), best.Reg)
		if best.Reg == isa.LR && p.ops[best.Op].List.Has(isa.PC) && strings.Contains(listText(f), isa.LR.String()) {
			m = fmt.Sprintf("%s takes lr or pc in its list, not both.", name)
		}
		p.report(p.listRegLoc(it, best.Op, best.Reg), codeRegList, m)
	case isa.EmptyList:
		p.report(at, codeRegList, fmt.Sprintf("%s needs at least one register in its list.", name))
	case isa.NoHash:
		p.report(at, codeNoForm, "In the divided syntax a constant stands behind a '#'.")
	case isa.NoD32, isa.NotNext, isa.BadLane, isa.NoVFP8, isa.BadVList, isa.ListCount, isa.ListGap, isa.NoAlign, isa.NoVConst, isa.NoPoint, isa.NoType:
		p.refuseVector(it, at, name, best, rs, q)
	case isa.NoFeature:
		first := best.Need.First()
		if q.A32 {
			first = best.Need.FirstA()
		} else if best.Need == isa.FeatA32 { // only the profile lacks it: what else it needs says since when
			first = (f.Row.Need | f.Need).First()
		}
		what := name
		for _, x := range s.Mnem.FormsOf(p.envs[it.env].mode) {
			if x.Row.State == f.Row.State && q.Have.Has(x.Row.Need|x.Need) && q.Have&(x.Row.Lack|x.Lack) == 0 {
				what = name + " with these operands"
				break
			}
		}
		m := fmt.Sprintf("%s exists from %s on; the target is %s.", what, first, p.targetName(it)+noUnit(best.Need, q.Have))
		if gone := f.Row.Lack & q.Have; gone != 0 {
			m = fmt.Sprintf("%s is gone from %s on; the target is %s.", name, gone.FirstA(), p.targetName(it))
		}
		p.report(p.nameLoc(it), codeNotOnArch, m)
	default:
		p.noForm(it, name, at, best, rs, q)
	}
}

// noUnit says what the target's floating-point unit lacks of need, for a message that
// names the target.
func noUnit(need, have isa.Features) string {
	switch {
	case need&(isa.FeatVFP|isa.FeatNEON) != 0 && have&(isa.FeatVFP|isa.FeatNEON) == 0:
		return " without a floating-point unit (the setting fpu, or a line .fpu, names one)"
	case need&isa.FeatVFPD != 0:
		return " with single precision alone"
	}
	return ""
}

func (p *reporter) targetName(it *item) string {
	e := &p.envs[it.env]
	if e.chosen {
		return e.target
	}
	return e.target + ", the default (the setting arch or cpu, or a line .cpu, names another)"
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
func (p *reporter) wider(rs []isa.Refusal, best isa.Refusal, q *isa.Query) string {
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

// noForm reports operands of another shape than any form has.
func (p *reporter) noForm(it *item, name string, at place, best isa.Refusal, rs []isa.Refusal, q *isa.Query) {
	if best.Reason == isa.BadWord && p.noSpecial(it, at, best, rs, q) {
		return
	}
	e := &p.envs[it.env]
	var forms []string
	for _, r := range rs {
		f := r.Form
		if f.Alias || q.Unified && !f.Unified || !q.Unified && !f.Divided || !e.have.Has(f.Row.Need|f.Need) {
			continue
		}
		s := manyWords.ReplaceAllString(f.String(), "$1|…")
		dup := false
		for _, x := range forms {
			dup = dup || x == s
		}
		if special := len(forms) > 0 && strings.Contains(s, "|…"); !dup && !special && len(forms) < 3 {
			forms = append(forms, s)
		}
	}
	if len(forms) == 0 {
		forms = append(forms, best.Form.String())
	}
	what := "these operands"
	switch best.Reason {
	case isa.SameReg:
		what = "a destination that differs from its first source"
		if best.Op == 2 && best.Form.Operands() == 3 {
			what = "a destination that differs from its second source"
		}
	case isa.NeedWB:
		what = "a base register without '!'"
		if best.Op >= 0 && !q.A32 && best.Op+1 < len(p.ops) && p.ops[best.Op+1].Kind == isa.OpList && strings.HasPrefix(it.stmt.Mnem.Stem(), "ldm") {
			what += " that is not in its list"
		}
	case isa.NoWB:
		what = "a base register that changes"
		if best.Op >= 0 && best.Op < len(p.ops) && p.ops[best.Op].Kind == isa.OpList {
			what = "a '^' behind its list"
		}
	case isa.OtherReg:
		what = best.Reg.String() + " there"
	case isa.NeedHigh:
		what = "low registers only, on " + e.target
	case isa.OtherKind:
		if best.Op >= 0 && best.Op < len(p.ops) {
			switch o := &p.ops[best.Op]; {
			case o.Kind == isa.OpImm:
				what = "a constant there"
			case o.Kind == isa.OpMem && o.Off == isa.OffImm:
				what = "a constant offset"
			case o.Kind == isa.OpMem && o.Off == isa.OffNone:
				what = "a base register alone"
			case o.Kind == isa.OpMem && o.Minus && (o.Off == isa.OffReg || o.Off == isa.OffShift):
				what = "a register offset that is subtracted"
			case o.Kind == isa.OpMem && o.Off == isa.OffReg:
				what = "a register offset"
			case o.Kind == isa.OpMem:
				what = "a shifted offset"
			case o.Kind == isa.OpReg:
				what = "a register there"
			case o.Kind == isa.OpLit:
				what = "a literal there"
			}
		}
	case isa.OtherWidth:
		what = "the width ." + string(it.stmt.Width)
		at = p.nameLoc(it)
	case isa.OtherCount:
		what = countText(len(p.ops))
		at = p.stmtLoc(it)
		if n := len(p.ops) - 1; n > 0 && p.ops[n].Kind == isa.OpShift {
			what = "a shift behind the register"
			at = p.loc(it, it.stmt.Ops[n].Start, it.stmt.Ops[n].End)
		}
	}
	p.report(at, codeNoForm, fmt.Sprintf("%s has no %s with %s; it has %s.", p.setName(q), name, what, strings.Join(forms, " and ")))
}

// manyWords are the names that an operand may have, where there are too many for a
// sentence.
var manyWords = regexp.MustCompile(`(\w+\|\w+\|\w+)(\|\w+){4,}`)

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
	"msp":         "each mode has a sp of its own",
	"psp":         "each mode has a sp of its own",
	"control":     "the mode is in cpsr",
}

// noSpecial reports the name of a special register that MRS and MSR do not have
// here. It says whether the line is one of these.
func (p *reporter) noSpecial(it *item, at place, best isa.Refusal, rs []isa.Refusal, q *isa.Query) bool {
	if op, _, _ := it.stmt.Mnem.Operation(); op != "mrs" && op != "msr" {
		return false
	}
	word := p.opText(it, best.Op)
	m := fmt.Sprintf("%s has no special register %s", p.envs[it.env].target, word)
	base, _, _ := strings.Cut(strings.ToLower(word), "_")
	var later *isa.Refusal // what has it, the first architecture that does so
	for i := range rs {
		r := &rs[i]
		if r.Reason == isa.NoFeature && r.Op < 0 && r.Need&(isa.FeatM|isa.FeatA32) == 0 && slices.Contains(r.Form.Words(best.Op), strings.ToLower(word)) &&
			(later == nil || bits.OnesCount64(uint64(r.Need)) < bits.OnesCount64(uint64(later.Need))) {
			later = r
		}
	}
	if later != nil {
		p.report(at, codeNotOnArch, fmt.Sprintf("%s exists from %s on; the target is %s.", word, (later.Form.Row.Need|later.Form.Need).First(), p.targetName(it)))
		return true
	}
	var words []string
	for _, f := range it.stmt.Mnem.FormsOf(p.envs[it.env].mode) {
		if q.Have.Has(f.Row.Need | f.Need) {
			words = append(words, f.Words(best.Op)...)
		}
	}
	if hint := instead[base]; hint != "" && (base == "cpsr" || base == "spsr") == q.Have.Has(isa.FeatM) {
		m += "; " + hint
	} else if n := nearest(strings.ToLower(word), slices.Compact(slices.Sorted(slices.Values(words)))); len(n) > 0 {
		m += "; near names: " + strings.Join(n, ", ")
	}
	p.report(at, codeNoForm, m+".")
	return true
}

// setName is the instruction set to speak of: T32 takes in T16.
func (p *reporter) setName(q *isa.Query) string {
	switch {
	case q.A32:
		return "A32"
	case q.Have.Has(isa.FeatT32):
		return "T32"
	}
	return "T16"
}

// rotationText says why a constant has no encoding of full width, and what comes near.
func (p *reporter) rotationText(it *item, name string, r isa.Refusal) string {
	f := it.stmt.Ops[r.Op]
	if f.Kind == isa.OpExpr && !f.Bare && !p.ops[r.Op].Bare {
		return fmt.Sprintf("%s holds a distance that is eight bits rotated by an even amount; %s is %d bytes from PC.", name, p.opText(it, r.Op), r.Value)
	}
	state := r.Form.Row.State
	op, _, _ := it.stmt.Mnem.Operation()
	v := uint32(r.Value)
	value := fmt.Sprintf("0x%x", v)
	if r.Value < 0 && isSum(op) {
		value = fmt.Sprintf("-0x%x", -r.Value)
	}
	two := ""
	if twoSteps(state, op, v, p.envs[it.env].have) {
		two = ", or two instructions"
	}
	near := nearConstants(state, op, v, r.Value < 0)
	if state == isa.T {
		return fmt.Sprintf("%s takes a byte, a byte repeated in all or in every second place, or a byte rotated; %s is none; nearest %s%s.", name, value, near, two)
	}
	return fmt.Sprintf("%s takes eight bits rotated by an even amount; %s has no such rotation; nearest %s%s.", name, value, near, two)
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
func (p *reporter) orderSpelling(it *item, q *isa.Query) {
	other := it.stmt.Mnem.OtherOrder(q.Unified)
	p.report(p.nameLoc(it), codeFlagsForm, fmt.Sprintf("The divided syntax spells this %s; %s needs .syntax unified.", other, it.stmt.Name))
}

func countText(n int) string {
	switch n {
	case 0:
		return "no operands"
	case 1:
		return "one operand"
	}
	return fmt.Sprintf("%d operands like these", n)
}

// refuseName reports a name that only other instruction sets have.
func (p *reporter) refuseName(it *item, q *isa.Query) {
	s := it.stmt
	low := strings.ToLower(s.Name)
	if _, spelt := s.Mnem.Cond(); !spelt && (q.Unified || strings.HasSuffix(low, "s")) {
		if other := p.otherFlags(it, q); other != nil && other != s.Mnem {
			if _, ok := other.Match(q, p.ops); ok {
				p.flagSpelling(it, q, other)
				return
			}
			// Speak of the spelling that exists.
			if rs := other.Refuse(q, p.ops); len(rs) > 0 {
				save := *s
				c := save
				c.Mnem = other
				x := *it
				x.stmt = &c
				p.refuse(&x, q)
				return
			}
		}
	}
	if base, c, ok := condName(low); ok {
		p.report(p.nameLoc(it), codeNoForm, fmt.Sprintf("T16 has no conditional %s outside an IT block; only branches take a condition (%s).", base, c))
		return
	}
	if isa.A32Name(low) {
		p.report(p.nameLoc(it), codeNoForm, fmt.Sprintf("%s has no %s; only other instruction sets have it.", p.setName(q), s.Name))
		return
	}
	p.report(p.nameLoc(it), codeNotOnArch, fmt.Sprintf("%s is a 32-bit instruction of later architectures; the target is %s.", s.Name, p.targetName(it)))
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
func (p *reporter) otherFlags(it *item, q *isa.Query) *isa.Mnemonic {
	if it.stmt.Mnem.Vector() {
		return nil // of these none sets flags
	}
	low := strings.ToLower(it.stmt.Name)
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

func (p *reporter) flagSpelling(it *item, q *isa.Query, other *isa.Mnemonic) {
	name := it.stmt.Name
	switch {
	case !q.Unified:
		p.report(p.nameLoc(it), codeFlagsForm, fmt.Sprintf("The divided syntax spells this %s; %s needs .syntax unified.", other.Name, name))
	case len(other.Name) > len(name) && p.withLater(it, q):
		p.report(p.nameLoc(it), codeFlagsForm, fmt.Sprintf("On %s, T16 has this only with the flags set: %s, not %s.", p.targetName(it), other.Name, name))
	case len(other.Name) > len(name):
		p.report(p.nameLoc(it), codeFlagsForm, fmt.Sprintf("%s has this only with the flags set: %s, not %s.", p.setName(q), other.Name, name))
	default:
		p.report(p.nameLoc(it), codeFlagsForm, fmt.Sprintf("%s has this only with the flags kept: %s, not %s.", p.setName(q), other.Name, name))
	}
}

// withLater says whether a later architecture takes the line as it is.
func (p *reporter) withLater(it *item, q *isa.Query) bool {
	later := *q
	later.Have |= isa.FeatV6
	_, ok := it.stmt.Mnem.Match(&later, p.ops)
	return ok
}

// opText is an operand as written.
func (p *reporter) opText(it *item, i int) string {
	if i < 0 || i >= len(it.stmt.Ops) {
		return "it"
	}
	o := &it.stmt.Ops[i]
	return p.lineText(it)[o.Start:o.End]
}

func (p *reporter) litText(it *item, i int) string {
	if it.lit >= 0 {
		return "the pool's word for " + strings.TrimLeft(p.opText(it, i), "= ")
	}
	return p.opText(it, i)
}

// partLoc is the place of a part of operand i.
func (r *Program) partLoc(it *item, i int, part isa.Part) place {
	o := &it.stmt.Ops[i]
	a, b := o.Start, o.End
	if o.Kind == isa.OpMem && part != isa.PartAll {
		t := r.lineText(it)[a:b]
		closeAt := strings.IndexByte(t, ']')
		comma := strings.IndexByte(t, ',')
		switch {
		case part == isa.PartBase:
			end := comma
			if end < 0 || closeAt >= 0 && closeAt < end {
				end = closeAt
			}
			if end > 1 {
				a, b = trimmed(r.lineText(it), a+1, a+int32(end))
			}
		case comma >= 0:
			end := len(t)
			if closeAt > comma {
				end = closeAt
			}
			a, b = trimmed(r.lineText(it), a+int32(comma)+1, a+int32(end))
		}
	}
	return r.loc(it, a, b)
}

func trimmed(s string, a, b int32) (int32, int32) {
	for a < b && (s[a] == ' ' || s[a] == '\t') {
		a++
	}
	for b > a && (s[b-1] == ' ' || s[b-1] == '\t') {
		b--
	}
	return a, b
}

// listRegLoc is the place of register g in the list operand i.
func (r *Program) listRegLoc(it *item, i int, g isa.Reg) place {
	o := &it.stmt.Ops[i]
	text := r.lineText(it)
	pos := o.Start + 1
	for _, piece := range strings.Split(strings.TrimRight(text[o.Start+1:o.End], "}^ "), ",") {
		first, last, ranged := strings.Cut(piece, "-")
		a, okA := isa.RegByName(strings.ToLower(strings.TrimSpace(first)))
		b, okB := a, true
		if ranged {
			b, okB = isa.RegByName(strings.ToLower(strings.TrimSpace(last)))
		}
		if okA && okB && g >= a && g <= b {
			x, y := trimmed(text, pos, pos+int32(len(piece)))
			return r.loc(it, x, y)
		}
		pos += int32(len(piece)) + 1
	}
	return r.loc(it, o.Start, o.End)
}

// operandErrors reports operands whose symbols cannot give what the place
// needs. f is the form that was taken, nil when none was.
func (p *reporter) operandErrors(it *item, f *isa.Form) bool {
	found := false
	for i := range it.stmt.Ops {
		o := &it.stmt.Ops[i]
		if o.Names != nil && p.ops[i].Kind == isa.OpOther {
			name := firstUnknown(&p.evaluator, o.Names)
			if vectorLike.MatchString(name) {
				p.report(p.loc(it, o.Start, o.End), codeUndefined, fmt.Sprintf("There is no register %s: single ones are s0–s31, double ones d0–d31, quadruple ones q0–q15.", name))
			} else {
				p.report(p.loc(it, o.Start, o.End), codeUndefined, "A register is expected here, and no .req gives "+name+" to one.")
			}
			found = true
			continue
		}
		if o.Word == "" && o.Expr == nil {
			continue
		}
		if p.ops[i].Kind == isa.OpReg || o.Names != nil && (p.ops[i].Off == isa.OffReg || p.ops[i].Off == isa.OffShift && o.Expr == nil) {
			continue
		}
		v := value{}
		if o.Kind == isa.OpLit {
			if it.lit < 0 {
				continue
			}
			v = p.eval(o, it)
			if v.kind == vUndef && v.num == 0 && !v.mixed {
				p.external(it, o, v)
				continue
			}
		} else {
			v = p.eval(o, it)
		}
		needsNumber := o.Kind == isa.OpImm || o.Kind == isa.OpMem
		isBranch := false
		if o.Kind == isa.OpExpr || o.Kind == isa.OpImm {
			fs := it.stmt.Mnem.FormsOf(p.envs[it.env].mode)
			if f != nil {
				fs = []*isa.Form{f}
			}
			for _, x := range fs {
				switch x.Row.Flow {
				case isa.FlowJump, isa.FlowBranch, isa.FlowCall:
					isBranch = true
				}
			}
		}
		bare := false // a constant without '#'; assemblers take an address as well
		switch {
		case o.Kind == isa.OpExpr && f != nil && f.Number(i):
			bare = true
			if f.Row.Flow == isa.FlowTrap {
				needsNumber = true
			}
		case o.Kind == isa.OpShift && p.ops[i].Reg == isa.NoReg:
			needsNumber = true
		}
		switch {
		case v.kind == vBad:
			p.badValue(it, o, v)
			found = true
		case v.kind == vUndef && v.num != 0:
			p.external(it, o, v)
			found = true
		case v.kind == vUndef && (needsNumber || bare || v.mixed):
			p.undefined(it, o, v.sym, "a constant of an instruction")
			found = true
		case v.kind == vRel && (needsNumber || bare) && f != nil && it.stmt.Mnem.TakesAddress(f, i) && (v.sec == it.sec && (p.direct(o) == nil || !p.direct(o).weak) || f.Row.State == isa.T):
			p.warn(p.loc(it, o.Start, o.End), codeUndefined, fmt.Sprintf("%s is an address, and %s holds a number; assemblers put its offset in the section there, %s, which says nothing about where the linker puts the section.", p.opText(it, i), it.stmt.Name, num(v.n)))
		case v.kind == vRel && (needsNumber || bare):
			text := strings.TrimLeft(p.opText(it, i), "#$ ")
			m := fmt.Sprintf("%s is an address, and %s needs a number that is known here", text, it.stmt.Name)
			if half := halfOperator[it.stmt.Mnem.Stem()]; half != "" {
				m += "; a half of it is #" + half + text
			}
			p.report(p.loc(it, o.Start, o.End), codeUndefined, m+".")
			found = true
		case v.kind == vUnknown && v.apart && (needsNumber || bare):
			p.report(p.loc(it, o.Start, o.End), codeUndefined, fmt.Sprintf("The distance between two sections is known only to the linker, and %s needs a number that is known here.", it.stmt.Name))
			found = true
		case v.kind == vUnknown && v.reloc != "" && v.sym != nil && p.columns:
			p.external(it, o, value{kind: vUndef, sym: v.sym}) // MOV32
		case (v.kind == vUnknown || v.kind == vAbs) && v.reloc != "":
			found = p.relocation(it, o, f, v, isBranch) || found
		case o.Kind == isa.OpExpr && isBranch && f != nil && f.Row.State == isa.T && !f.Row.Linked() && v.kind == vRel && p.direct(o) != nil && p.direct(o).global:
			p.report(p.loc(it, o.Start, o.End), codeUndefined, fmt.Sprintf("%s is global: assemblers leave a branch to it to the linker, and %s cannot wait for that.", p.opText(it, i), it.stmt.Name))
			found = true
		case o.Kind == isa.OpExpr && isBranch && f != nil && v.kind == vRel && v.sec == it.sec && p.leftToLinker(it, o):
			v.n -= p.direct(o).val.n
			found = p.elsewhere(it, o, i, f, v, isBranch) || found
		case o.Kind == isa.OpExpr && f != nil && !isBranch && v.kind == vRel && p.direct(o) != nil && p.direct(o).weak && fullADR(f):
			p.warn(p.loc(it, o.Start, o.End), codeUndefined, fmt.Sprintf("%s is weak: another definition may replace it at link time, and %s takes the address of this one.", p.opText(it, i), it.stmt.Name))
		case o.Kind == isa.OpExpr && f != nil && !isBranch && v.kind == vRel && p.direct(o) != nil && p.direct(o).weak:
			p.report(p.loc(it, o.Start, o.End), codeUndefined, fmt.Sprintf("%s is weak: another definition may replace it at link time, and %s cannot wait for that.", p.opText(it, i), it.stmt.Name))
			found = true
		case o.Kind == isa.OpExpr && f != nil && (v.kind == vUndef || v.kind == vRel && v.sec != it.sec || v.kind == vAbs && !needsNumber):
			found = p.elsewhere(it, o, i, f, v, isBranch) || found
		}
	}
	return found
}

// relocation checks a constant or target that the linker computes by a relocation
// operator, and the number added to it, which stands in the place meanwhile
// (AAELF32, "Relocation": REL format).
func (p *reporter) relocation(it *item, o *syntax.Operand, f *isa.Form, v value, isBranch bool) bool {
	lo, hi, step, ok := p.relocRange(it, o, f, v.reloc, isBranch)
	switch {
	case !ok && p.lacking && v.reloc[0] == '(':
		return true // a macro with an argument, perhaps, of the file that was not found
	case !ok:
		q := p.query(it, &p.envs[it.env])
		p.report(p.loc(it, o.Start, o.End), codeNoForm, fmt.Sprintf("%s has no %s with the relocation operator %s.", p.setName(&q), it.stmt.Name, v.reloc))
		return true
	case v.kind == vAbs:
		return false
	case v.n < lo || v.n > hi || v.n%step != 0:
		steps := ""
		if step > 1 {
			steps = fmt.Sprintf(" in steps of %d", step)
		}
		p.report(p.loc(it, o.Start, o.End), codeConstRange, fmt.Sprintf("The linker finds the number that it adds to the address in the instruction, which holds %d to %d%s here; this is %d.", lo, hi, steps, v.n))
		return true
	case o.Kind == isa.OpImm && strings.Contains(v.reloc, "_g"):
		if _, ok := isa.Rotated(uint32(max(v.n, -v.n))); !ok {
			p.report(p.loc(it, o.Start, o.End), codeConstRange, fmt.Sprintf("The linker finds the number that it adds to the address in the instruction, which holds eight bits rotated by an even number; %s is none such.", num(v.n)))
			return true
		}
	}
	return false
}

// relocRange says whether the instruction has the relocation, and which numbers may
// be added to it (AAELF32, "Static ARM relocations" and "Static Thumb relocations":
// MOVW_* and MOVT_*, THM_ALU_ABS_*, ALU_*, LDR_*, LDRS_*, LDC_*, PLT32).
func (p *reporter) relocRange(it *item, o *syntax.Operand, f *isa.Form, name string, isBranch bool) (lo, hi, step int64, ok bool) {
	stem, row := it.stmt.Mnem.Stem(), ""
	if f != nil {
		row = f.Row.ID
	}
	switch name {
	case "lower16":
		return -0x8000, 0x7fff, 1, stem == "movw"
	case "upper16":
		return -0x8000, 0x7fff, 1, stem == "movt"
	case "lower0_7", "lower8_15", "upper0_7", "upper8_15":
		ops := it.stmt.Ops
		if row == "add-imm3" && ops[0].Reg == ops[1].Reg {
			row = "add-imm8"
		}
		return 0, 255, 1, p.envs[it.env].unified && (stem == "movs" && row == "mov-imm" || stem == "adds" && row == "add-imm8")
	case "(PLT)", "(plt)", "(TLSCALL)", "(tlscall)":
		return math.MinInt32, math.MaxInt32, 1, isBranch && (f == nil || f.Row.Linked())
	}
	if !groupRelocation.MatchString(name) {
		return 0, 0, 1, false
	}
	if o.Kind != isa.OpMem {
		return math.MinInt32, math.MaxInt32, 1, row == "a-add-imm"
	}
	if strings.HasSuffix(name, "_nc") || o.Post {
		return 0, 0, 1, false
	}
	switch row {
	case "a-ldr-imm", "a-str-imm", "a-ldrb-imm", "a-strb-imm":
		return -4095, 4095, 1, true
	case "a-ldrh-imm", "a-strh-imm", "a-ldrsb-imm", "a-ldrsh-imm", "a-ldrd-imm", "a-strd-imm":
		return -255, 255, 1, true
	}
	return -1020, 1020, 4, coprocessorRow.MatchString(row)
}

var (
	groupRelocation = regexp.MustCompile(`^(pc|sb)_g(0|1|2|0_nc|1_nc)$`)
	coprocessorRow  = regexp.MustCompile(`^[at]-(ldc|stc)2?l?$`)
)

// elsewhere checks an address in another section or file. For a branch the
// object file holds the distance from that section's or symbol's start, less
// 4, in the instruction's own field (AAELF32, REL format): it has to fit
// there. For LDR and ADR there is no relocation at all that assemblers use.
func (p *reporter) elsewhere(it *item, o *syntax.Operand, i int, f *isa.Form, v value, isBranch bool) bool {
	if !f.Address(i) {
		return false
	}
	lo, hi, step, _ := f.Limits(i)
	text := p.lineText(it)[o.Start:o.End]
	at := p.loc(it, o.Start, o.End)
	name := it.stmt.Name
	if !isBranch && fullADR(f) && v.kind != vUndef {
		p.warn(at, codeUndefined, fmt.Sprintf("%s is no place in section %s, where %s stands; assemblers take its value for an offset there, which is another address.", text, p.secs[it.sec].name, name))
		return false
	}
	if !isBranch {
		switch v.kind {
		case vUndef:
			p.undefined(it, o, v.sym, "an address relative to PC")
		case vRel:
			p.report(at, codeUndefined, fmt.Sprintf("%s stands in section %s, and %s reaches only its own section, %s.", text, p.secs[v.sec].name, name, p.secs[it.sec].name))
		default:
			p.report(at, codeUndefined, fmt.Sprintf("%s is a number, and %s takes a label in its own section, %s.", text, name, p.secs[it.sec].name))
		}
		return true
	}
	if v.kind == vAbs || v.kind == vRel && !p.secs[v.sec].exact {
		return false
	}
	place := "another file"
	if v.kind == vRel {
		place = "section " + p.secs[v.sec].name
		if v.sec != it.sec && p.leftToLinker(it, o) { // its own distance does not count either
			v.n -= p.direct(o).val.n
		}
	} else {
		p.external(it, o, v)
	}
	if y := p.direct(o); !f.Row.Linked() && y != nil && y.fn && y.mode == isa.T {
		p.report(at, codeUndefined, fmt.Sprintf("%s is a function in %s: bit 0 of its address is set, which %s cannot hold.", text, place, name))
		return true
	}
	ahead := int64(4)
	if f.Row.State == isa.A {
		ahead = 8
		linked := v.sym != nil && v.sym.mode == isa.T && (v.sym.fn || v.sym.global)
		if off := v.n & (step - 1); (step == 4 || off == 1) && off != 0 && !linked {
			p.report(at, codeLitAlign, fmt.Sprintf("%s goes to a word; %s is %s off one.", name, text, plural(int(off), "byte", "bytes")))
			return true
		}
	}
	if d := (v.n - ahead) &^ 1; (d < lo || d > hi) && !(d == -2 && lo == 0) {
		p.report(at, codeBranchReach, fmt.Sprintf("%s stands in %s, %d bytes from its start; %s holds such a distance only up to %d.", text, place, v.n, name, hi+ahead))
		return true
	}
	return false
}

// skipsNothing says whether the line is CBZ or CBNZ to the next line, which has no
// encoding; assemblers put NOP in its place.
func (p *pass) skipsNothing(it *item, q *isa.Query) bool {
	m := it.stmt.Mnem
	if q.A32 || len(m.Forms) == 0 || len(p.ops) != 2 || m.Forms[0].Row.Flow != isa.FlowBranch || m.Forms[0].Row.Linked() {
		return false
	}
	to := p.ops[1]
	if to.Kind != isa.OpExpr || !to.Known || to.Bare || to.Imm != q.PC+2 {
		return false
	}
	p.ops[1].Imm += 2
	if _, ok := m.Match(q, p.ops); !ok {
		p.ops[1].Imm -= 2
		return false
	}
	if p.operandErrors(it, m.Forms[0]) {
		it.flags |= fRefused
		return true
	}
	nop, _ := isa.Find("nop")
	it.match, _ = nop.Match(q, nil)
	p.warn(p.nameLoc(it), codeUnpredictable, it.stmt.Name+" goes to the next line, for which it has no encoding; assemblers put nop in its place.")
	return true
}

// baselineBranch says whether the line is a conditional branch that assemblers make
// of full width on an architecture that has none such: ARMv8-M Baseline (DDI 0553,
// "B", T3, from memory).
func (p *pass) baselineBranch(it *item, q *isa.Query) bool {
	if it.flags&fWide == 0 || q.Have.Has(isa.FeatT32) || !it.conditional() || p.operandErrors(it, nil) {
		return false
	}
	p.warn(p.nameLoc(it), codeNotOnArch, fmt.Sprintf("%s is not sure to be within the reach of a halfword; assemblers make the encoding of full width of it, which %s does not have.", it.stmt.Name, p.targetName(it)))
	it.flags |= fUnchecked
	return true
}

// fullADR says whether the form is ADR of full width in the compact state.
// Assemblers compute its address as if every symbol were of its section.
func fullADR(f *isa.Form) bool {
	return f.Row.State == isa.T && f.Row.Size() == 4 && f.Row.Flow == isa.FlowNext && f.Row.Access == 0
}

// vectorLike are names that look like registers of floating point or vectors.
var vectorLike = regexp.MustCompile(`^[sdqSDQ]\d+$`)

func firstUnknown(p *evaluator, n *syntax.Names) string {
	for _, w := range append([]string{n.Base, n.Index}, n.List...) {
		if w == "" {
			continue
		}
		if _, ok := p.vectorWord(strings.TrimPrefix(w, "-")); ok {
			continue
		}
		if _, ok := isa.RegByName(strings.TrimPrefix(w, "-")); ok {
			continue
		}
		if _, ok := p.alias(strings.TrimPrefix(w, "-")); !ok {
			return strings.TrimPrefix(w, "-")
		}
	}
	return "the name"
}

// linked checks a bound instruction whose operands hang on symbols.
func (p *pass) linked(it *item, e *env) {
	if p.operandErrors(it, it.match.Form) {
		it.flags |= fRefused
		return
	}
	if it.match.Odd {
		for i := range it.stmt.Ops {
			if o := &it.stmt.Ops[i]; o.Kind == isa.OpExpr {
				p.report(p.loc(it, o.Start, o.End), codeBranchOdd, fmt.Sprintf("%s keeps no bit 0 of its target; %s goes to the address below.", it.stmt.Name, p.opText(it, i)))
			}
		}
	}
}

// undefined reports a symbol whose value is needed in this file.
func (p *reporter) undefined(it *item, o *syntax.Operand, s *symbol, place string) {
	if s == nil {
		p.report(p.loc(it, o.Start, o.End), codeUndefined, "The value is not known here.")
		return
	}
	p.report(p.wordLoc(it, o, s.name), codeUndefined, fmt.Sprintf("%s is not defined in this file, and %s cannot wait for the linker.", s.name, place))
}

// wordLoc narrows an operand to the name in it.
func (p *reporter) wordLoc(it *item, o *syntax.Operand, name string) place {
	t := p.lineText(it)[o.Start:o.End]
	if i := strings.Index(t, name); i >= 0 {
		return p.loc(it, o.Start+int32(i), o.Start+int32(i+len(name)))
	}
	return p.loc(it, o.Start, o.End)
}

// noLocal says that a local label was looked for in vain.
func noLocal(v value) string {
	if v.back {
		return fmt.Sprintf("No local label %d: stands above", v.num-1)
	}
	return fmt.Sprintf("No local label %d: stands below", v.num-1)
}

// lookBack reports a local label that o looks for above, where o is a value that may
// come later: of a label above it is known at once that there is none.
func (p *reporter) lookBack(it *item, o *syntax.Operand) {
	if v := p.eval(o, it); v.kind == vUndef && v.num != 0 && v.back {
		p.external(it, o, v)
	}
}

// external notes a symbol that the linker has to supply.
func (p *reporter) external(it *item, o *syntax.Operand, v value) {
	if v.num != 0 {
		p.report(p.loc(it, o.Start, o.End), codeUndefined, noLocal(v)+".")
		return
	}
	s := v.sym
	if v.mixed && s != nil {
		p.report(p.wordLoc(it, o, s.name), codeUndefined, fmt.Sprintf("%s is not defined in this file, and the linker can only add a number to it.", s.name))
		return
	}
	if s == nil || s.defined || s.extern || s.global || s.told {
		return
	}
	s.told = true
	if p.columns && p.ended && !p.missed {
		// A whole source of the column dialect: nothing is left to the linker
		// that no line imports (from memory of the armasm manual).
		p.report(p.wordLoc(it, o, s.name), codeUndefined, fmt.Sprintf("%s is not defined in this file, and no IMPORT names it.", s.name))
		return
	}
	p.report(p.wordLoc(it, o, s.name), codeExternal, fmt.Sprintf("%s is not defined in this file and not declared by .extern; the linker has to supply it.", s.name))
}

func (p *reporter) badValue(it *item, o *syntax.Operand, v value) {
	switch {
	case v.kind == vUndef && v.num != 0:
		p.external(it, o, v)
	case v.kind == vUndef:
		p.undefined(it, o, v.sym, "this place")
	case v.kind == vRel:
		p.report(p.loc(it, o.Start, o.End), codeUndefined, "An address stands here, and the place needs a number.")
	case v.mild:
		p.warn(p.loc(it, o.Start, o.End), codeSyntax, v.why)
	default:
		p.report(p.loc(it, o.Start, o.End), codeSyntax, v.why)
	}
}

func (p *reporter) unknownMnemonic(it *item) {
	near := func(name string) []string { return namesNear(p.Program, name) }
	if p.columns {
		near = func(name string) []string {
			near := append(nearColumns(name), namesNear(p.Program, name)...)
			return near[:min(len(near), 3)]
		}
	}
	p.unknownName(it, codeMnemonic, "no instruction, directive or macro", near)
}

func (p *reporter) unknownDirective(it *item) {
	p.unknownName(it, codeUnknownDir, "no directive or macro", nearDirectives)
}

func (p *reporter) unknownName(it *item, code, what string, search func(name string) []string) {
	if p.lacking {
		return // it may be a macro of the file that was not found
	}
	var near []string
	if len(p.diags) < maxNear {
		near = search(it.stmt.Name)
	}
	m := it.stmt.Name + " is " + what + " that is known here"
	if len(near) > 0 {
		m += "; near names: " + strings.Join(near, ", ")
	}
	p.report(p.nameLoc(it), code, m+".")
}

// namesNear lists names of instructions and macros that are near.
func namesNear(r *Program, name string) []string {
	var macros []string
	for _, m := range r.macros {
		macros = append(macros, strings.ToLower(m.name))
	}
	sort.Strings(macros)
	macros = slices.Compact(macros)
	near := append(nearest(strings.ToLower(name), macros), nearMnemonics(name)...)
	return near[:min(len(near), 3)]
}

func nearMnemonics(name string) []string {
	if len(name) > 12 {
		return nil
	}
	var all []string
	for _, m := range isa.Mnemonics() {
		all = append(all, m.Name)
	}
	return nearest(strings.ToLower(name), all)
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

func nearDirectives(name string) []string {
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
		if d := len(n) - len(name); d >= -2 && d <= 2 {
			like = append(like, n)
		}
	}
	sort.Strings(like)
	like = near(name, like)
	return like[:min(len(like), 3)]
}

// cautions reports what is encodable and should not be.
func (p *reporter) cautions(it *item) {
	it.match.Cautions(p.envs[it.env].have, func(c *isa.Caution) {
		at := p.nameLoc(it)
		if c.Op < len(it.stmt.Ops) {
			at = p.loc(it, it.stmt.Ops[c.Op].Start, it.stmt.Ops[c.Op].End)
		}
		code := codeUnpredictable
		if c.List {
			code = codeBaseInList
		}
		if c.Refused {
			code = codeNoForm
		}
		p.emit(at, Diagnostic{Code: code, Message: string(c.Text[0]&^0x20) + c.Text[1:] + ".", Deprecated: c.Deprecated})
	})
}
