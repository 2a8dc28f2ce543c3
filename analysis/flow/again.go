package flow

import (
	"slices"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Followed is what Check has looked at besides what each line means for execution: stretches
// of lines from where a register is made to where it is branched to.
type Followed struct {
	stretches [][2]int32
	counts    bool // it has asked to which places lines count
}

// Concern says whether Check may find something else in a program that differs from the one
// that it has looked at in the meaning of some items.
func (f *Followed) Concern(old, now *program.Program, items []int32) bool {
	return slices.ContainsFunc(items, func(i int32) bool {
		a, b := &old.Items[i], &now.Items[i]
		return !straight(old, a) || !straight(now, b) || NextOf(old, a) != NextOf(now, b) ||
			slices.ContainsFunc(f.stretches, func(s [2]int32) bool { return s[0] <= i && i <= s[1] })
	})
}

// straight says whether an item has nothing to do with where execution goes.
func straight(r *program.Program, it *program.Item) bool {
	if it.Stmt.Kind != syntax.Instruction {
		return true
	}
	for k := range it.Stmt.Ops {
		if o := &it.Stmt.Ops[k]; o.Kind != isa.OpImm && (o.Reg == isa.PC || o.Index == isa.PC) {
			return false
		}
	}
	if it.Match.Form == nil {
		return r.Environments[it.Environment].Mode == isa.T || NextOf(r, it) != GoesOn
	}
	e := it.Match.Effects()
	return it.Match.Form.Row.Flow == isa.FlowNext && e.Flow == isa.FlowNext && !e.Reads.Has(isa.PC) && !e.Writes.Has(isa.PC)
}

// Edit is a place of a program where statements have come, gone, or become others: the items From
// to To of the earlier program, and From to Now of the present one.
type Edit struct {
	From, To, Now int32
	// Uneven are the first and the last item now of stretches that move by no multiple of a word.
	Uneven [][2]int32
}

// Moved gives what Check would have looked at in a program after an edit; nil where it may find
// something else than findings say of the program before. That is so unless all that has come and
// gone is straight code between instructions of the same state.
func (f *Followed) Moved(old, now *program.Program, e Edit, findings []finding.Diagnostic) *Followed {
	if f.counts || old.States != now.States || slices.ContainsFunc(findings, remote) {
		return nil
	}
	if !straightOnly(old, old.Items[e.From:e.To]) || !straightOnly(now, now.Items[e.From:e.Now]) || !amidCode(old, e.From, e.To) {
		return nil
	}
	for _, x := range e.Uneven {
		for i := x[0]; i <= x[1]; i++ {
			if it := &now.Items[i]; !anywhere(now, it) {
				return nil
			}
		}
	}
	out := &Followed{stretches: make([][2]int32, 0, len(f.stretches))}
	for _, s := range f.stretches {
		if s[0] < e.To && s[1] >= e.From || s[0] <= e.From && s[1] >= e.From {
			return nil
		}
		for k := range s {
			if s[k] >= e.To {
				s[k] += e.Now - e.To
			}
		}
		out.stretches = append(out.stretches, s)
	}
	return out
}

// remote says whether a finding depends on code or places that are elsewhere.
func remote(d finding.Diagnostic) bool {
	return d.Code == finding.CodeStateBit || d.Code == finding.CodeCodeAlign || d.Code == finding.CodeDataAlign
}

// straightOnly says whether items are instructions that have nothing to do with where execution
// goes, or lines that are no statement.
func straightOnly(r *program.Program, items []program.Item) bool {
	return !slices.ContainsFunc(items, func(it program.Item) bool {
		switch it.Stmt.Kind {
		case syntax.Unknown, syntax.Bad:
			return it.Size > 0
		case syntax.Instruction:
			return it.Match.Form == nil || it.Flags&program.Refused != 0 || !straight(r, &it) || NextOf(r, &it) != GoesOn
		}
		return true
	})
}

// amidCode says whether the items from a to b are where execution comes, and in front of an
// instruction in the state of the one that is above them.
func amidCode(r *program.Program, a, b int32) bool {
	if a == 0 {
		return false
	}
	for int(b) < len(r.Items) && r.Items[b].Stmt.Kind == syntax.Label {
		b++
	}
	if int(b) >= len(r.Items) {
		return false
	}
	y := &r.Items[b]
	if y.Stmt.Kind != syntax.Instruction || y.Section != r.Items[a-1].Section {
		return false
	}
	o, labelled := r.Order[y.Section], false
	for k := r.Position(&r.Items[a-1]); k >= 0; k-- {
		switch it := &r.Items[o[k]]; {
		case it.Stmt.Kind == syntax.Label:
			labelled = true
		case it.Stmt.Kind == syntax.Instruction:
			if r.Environments[it.Environment].Mode != r.Environments[y.Environment].Mode {
				return false
			}
			if labelled {
				return true
			}
			// What is behind a line that does not go on, with no label, is left alone.
			if NextOf(r, it) == Stops {
				return false
			}
		case it.Flags&program.HasPool != 0: // behind which only a label is reached
			return labelled
		case forgets(it):
			return true
		}
	}
	return true
}

// anywhere says whether it does not matter to an item where in a word it is, as long as code is at
// a halfword.
func anywhere(r *program.Program, it *program.Item) bool {
	switch it.Stmt.Kind {
	case syntax.Directive:
		return it.Size == 0 || it.Stmt.Directive.Effect == syntax.EffPool || program.Aligns(it.Stmt.Directive.Effect)
	case syntax.Instruction:
		if r.Environments[it.Environment].Mode != isa.T || it.Offset&1 != 0 {
			return false
		}
		if it.Match.Form == nil || it.Match.FallsThrough() || it.Match.Form.Row.Flow.ToLabel() {
			return true
		}
		e := it.Match.Effects()
		return !e.Reads.Has(isa.PC)
	}
	return true
}
