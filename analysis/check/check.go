package check

import (
	"context"
	"slices"
	"strings"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/values"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// job is what the checks have: the findings so far, and what is known.
type job struct {
	*wording.Reporter
	paths  *flow.Paths
	known  *flow.Known
	before []finding.Diagnostic
	// saved are, by routine, the registers that some line keeps elsewhere.
	saved map[int32]isa.RegList
	// back are the returns that notRestored has found, until all of saved is known.
	back []back
	// told are the routines of which a check has said something.
	told map[told]bool
	// words are those of tables of which bit 0 has been looked at, by item and operand.
	words map[[2]int32]bool
	// last is the line on a condition that has been looked at before this one.
	last onCondition
}

// lines are the checks that look at each line that is reached, with what is known there.
var lines = []func(p *job, l *flow.Line){misaligned, stateBit, lostReturn, unbalanced, unusedCompare, flagsOfTwo, constantCondition, notRestored, changedByCall, unusedValue,
	stateKept, unsetFlags, unsetRegisters, unsetStack, unalignedCall, flagsAfterCall, madeReturn, madeEarly, storesReadOnly, idleCondition}

// programs are those that look at the program as a whole.
var programs = []func(p *job){vectors, depths, unreached, runsIntoData, returnsNotRestored, endless}

// MaxItems bounds the programs that are looked at, as it takes longer than to assemble them.
// Sources of this size are rarely written by hand (common practice).
const MaxItems = 50_000

// Run gives what goes wrong when a program runs. before are the findings that there are
// without it: where a file is missing nothing is looked for. It ends early when ctx is cancelled.
func Run(ctx context.Context, r *program.Program, shared func() bool, before []finding.Diagnostic) []finding.Diagnostic {
	missing := func(d finding.Diagnostic) bool { return d.Code == finding.CodeInclude && d.Severity == finding.Error }
	if len(r.Items) > MaxItems || slices.ContainsFunc(before, missing) {
		return nil
	}
	p := &job{Reporter: &wording.Reporter{Evaluator: *eval.New(r)}, before: before, saved: map[int32]isa.RegList{}, told: map[told]bool{}, words: map[[2]int32]bool{}}
	p.paths = &flow.Paths{Evaluator: eval.New(r), Shared: shared}
	p.paths.Stop = func() bool { return ctx.Err() != nil }
	p.known = p.paths.Known()
	if ctx.Err() != nil {
		return nil
	}
	p.known.Each(func(l *flow.Line) {
		if ctx.Err() == nil {
			p.noteSaved(l)
			for _, f := range lines {
				f(p, l)
			}
		}
	})
	for _, f := range programs {
		if ctx.Err() == nil {
			f(p)
		}
	}
	if ctx.Err() != nil {
		return nil
	}
	return slices.DeleteFunc(p.All(), onErrors(before))
}

// onErrors says of findings whether they are on a line that the assembler refuses, as before
// has it: what that would do is not known.
func onErrors(before []finding.Diagnostic) func(d finding.Diagnostic) bool {
	spans := map[string][]finding.Span{}
	for _, d := range before {
		if d.Severity == finding.Error {
			spans[d.Path] = append(spans[d.Path], d.Span)
		}
	}
	for _, list := range spans {
		slices.SortFunc(list, func(a, b finding.Span) int { return a.Start - b.Start })
	}
	return func(d finding.Diagnostic) bool {
		list := spans[d.Path]
		n, _ := slices.BinarySearchFunc(list, d.Span.Start, func(s finding.Span, at int) int { return s.Start - at })
		return n < len(list) && list[n].Start < d.Span.End || n > 0 && list[n-1].End > d.Span.Start
	}
}

// noteSaved notes which registers of the caller are somewhere else than in their own place.
func (p *job) noteSaved(l *flow.Line) {
	sp := l.Before.Regs[isa.SP].Base
	if sp.Kind != values.Entry {
		return
	}
	note := func(w values.Word, own isa.Reg) {
		if w.Base.Kind == values.Entry && w.Val == 0 && w.Base.Reg != own {
			p.saved[w.Base.ID] |= 1 << w.Base.Reg
		}
	}
	l.Before.Slots(func(_ int32, w values.Word) { note(w, isa.NoReg) })
	for r, w := range l.Before.Regs {
		note(w, isa.Reg(r))
	}
}

func (p *job) have(it *program.Item) isa.Features { return p.Environments[it.Environment].Have }

// line is the number of the line where an item is shown, from 1.
func (p *job) line(it *program.Item) int32 {
	_, line, _ := p.Shown(it)
	return line + 1
}

// restText is a line without its label and comment, for a sentence.
func (p *job) restText(it *program.Item) string {
	text := p.LineText(it)
	if int(it.Stmt.End) <= len(text) {
		text = text[it.Stmt.Start:it.Stmt.End]
	}
	return wording.ClipText(strings.Join(strings.Fields(text), " "), 40)
}

// Merged are two lists of findings as one, in the order that findings have.
func Merged(r *program.Program, a, b []finding.Diagnostic) []finding.Diagnostic {
	p := &wording.Reporter{Evaluator: *eval.New(r), Diags: append(slices.Clone(a), b...)}
	return p.All()
}
