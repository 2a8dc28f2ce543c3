package analysis

import (
	"context"

	"narrowgauge/analysis/rewrite"
)

// Refactorings lists what may be done at a place of the root file where nothing is wrong. They are
// not proven: [Result.Refactored] does that.
func (r *Result) Refactorings(ctx context.Context, span Span) (list []Refactoring) {
	if r.foreign {
		return nil
	}
	r.ask(ctx, maxAsked, func(_ context.Context, s *rewrite.Subject) { list = s.Refactorings(span) })
	return list
}

// Refactored is the refactoring of a name at a place, proven: the same bytes are assembled, or
// others as the title says. ok is false where there is none, or where they would be others. The
// error is that of the context.
func (r *Result) Refactored(ctx context.Context, span Span, name string) (found Refactoring, ok bool, err error) {
	r.ask(ctx, maxAsked, func(ctx context.Context, s *rewrite.Subject) {
		for _, x := range s.Refactorings(span) {
			if x.Name == name {
				found = x
				found.Title, ok, err = s.Refactored(ctx, &x)
			}
		}
	})
	return found, ok, err
}
