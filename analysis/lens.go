package analysis

import (
	"context"
	"fmt"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
)

// LensesIn lists the lenses of some kinds over the lines of a file of the program, in the order
// of the text.
func (r *Result) LensesIn(path string, kinds []LensKind) []Lens {
	var budget map[string]int64
	if r.in.Set != nil {
		budget = r.in.Set.Budget
	}
	return r.view().LensesIn(path, kinds, budget)
}

// LensText is the text of a lens that has none at first. Of the other instruction set it is what
// an analysis of the routine in that set says.
func (r *Result) LensText(ctx context.Context, kind LensKind, name string) (string, error) {
	switch kind {
	case LensCycles:
		return r.view().CyclesText(name), nil
	case LensOther:
		return r.otherSize(ctx, name)
	}
	return "", nil
}

// otherSize says how many bytes a routine would have in the other instruction set.
func (r *Result) otherSize(ctx context.Context, name string) (string, error) {
	source, set, ok := r.view().OtherSource(name)
	if !ok {
		return "no counterpart in the other instruction set", nil
	}
	y := r.view().SymbolOf(name)
	target := r.prog.Environments[r.prog.Items[y.Item].Environment].Target
	as := &Settings{Arch: target, Guess: "never", Dialect: "dots", Preprocess: "never", ImplicitIT: "always"}
	if as.Resolve() != nil {
		as.Arch, as.CPU = "", target
	}
	other, err := Analyze(ctx, &Input{Path: "other.s", File: syntax.ParseAs(source, syntax.Dots), Set: as})
	if err != nil {
		return "", err
	}
	for _, d := range other.each {
		if d.Severity == finding.Error {
			return "no counterpart in the other instruction set", nil
		}
	}
	size := int64(0)
	for i := range other.prog.Items {
		if it := &other.prog.Items[i]; it.Stmt.Kind == syntax.Instruction {
			size += it.Size + it.Slot.ItSize()
		}
	}
	return fmt.Sprintf("as %s: %d bytes", set, size), nil
}

// LinksIn lists the names of files that a file of the program includes, or takes as bytes, in
// the order of the text.
func (r *Result) LinksIn(path string) []Link { return r.view().LinksIn(path) }

// RegionsIn divides a file of the program by mode, syntax and target.
func (r *Result) RegionsIn(path string) []Region { return r.view().RegionsIn(path) }

// WhereIn is the place in the program of the line at byte offset off of a file of it.
func (r *Result) WhereIn(path string, off int) Where { return r.view().WhereIn(path, off) }
