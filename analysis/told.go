package analysis

import (
	"context"
	"slices"
	"strings"

	"narrowgauge/analysis/finding"
)

// withOptions is in with what build files near the source say of macros and symbols, where
// conditions or includes in it may depend on that; else in itself.
func (in *Input) withOptions() *Input {
	if in.Options == nil || in.told != nil || in.Set != nil && in.Set.Guess == "never" || !in.File.Conditional() {
		return in
	}
	return in.asTold(in.Options())
}

// asTold is in with options.
func (in *Input) asTold(told Settings) *Input {
	as := *in
	as.told = &told
	return &as
}

// unnamed analyses a source again of which names are unknown that build files define; else
// r is what there is.
func unnamed(ctx context.Context, in *Input, r *Result) (*Result, error) {
	if in.Options == nil || in.told != nil || in.Set != nil && in.Set.Guess == "never" {
		return r, nil
	}
	unknown := map[string]bool{}
	for i := range r.each {
		if name, ok := strings.CutPrefix(r.each[i].Cause, finding.CauseName); ok {
			unknown[strings.ToLower(name)] = true
		}
	}
	if len(unknown) == 0 {
		return r, nil
	}
	told := in.Options()
	helps := func(s string) bool {
		name, _, _ := strings.Cut(s, "=")
		return unknown[strings.ToLower(name)]
	}
	if told.Preprocess == "" && len(told.Prelude) == 0 && !slices.ContainsFunc(told.Defines, helps) && !slices.ContainsFunc(told.Symbols, helps) {
		return r, nil
	}
	return analyzeARM(ctx, in.asTold(told))
}

// under gives settings with what build files say where they say nothing of it.
func (told *Settings) under(set *Settings) *Settings {
	out := Settings{}
	if set != nil {
		out = *set
	}
	if out.Preprocess == "" || out.Preprocess == "auto" {
		out.Preprocess = told.Preprocess
	}
	out.Prelude = slices.Concat(told.Prelude, out.Prelude)
	out.Defines = slices.Concat(told.Defines, out.Defines) // of two with one name the last counts
	given := map[string]bool{}
	for _, s := range out.Symbols {
		name, _, _ := strings.Cut(s, "=")
		given[name] = true
	}
	out.Symbols = slices.Clone(out.Symbols)
	for _, s := range told.Symbols {
		if name, _, _ := strings.Cut(s, "="); !given[name] {
			out.Symbols = append(out.Symbols, s)
		}
	}
	return &out
}
