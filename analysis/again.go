package analysis

import (
	"context"
	"reflect"
	"slices"
	"strings"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/wording"
)

// earlier is what an analysis leaves for one of nearly the same text.
type earlier struct {
	assembly *assemble.Earlier // nil: nothing
	settings *Settings         // with what was guessed
	followed *flow.Followed
	found    []Diagnostic // by it
	marks    lineCount
	took     bool // it was taken over itself
	same     bool // with no statement that means anything else
	late     *late
	quiet    bool // no comment may allow a finding
}

// late is what goes wrong when a program runs, as it was found.
type late struct {
	found  []Diagnostic
	asked  bool // what is found depends on shared
	shared bool // whether other sources include the root file
}

// lateOf is what is known of that about the program of an earlier analysis; nil: it is not, or
// still being looked for.
func lateOf(r *Result) *late {
	if r.whole.lock.TryLock() {
		defer r.whole.lock.Unlock()
		if r.whole.done && !r.foreign {
			return r.whole.late
		}
	}
	return r.kept.late
}

// follow is what is known of a program in which no statement means anything else, where it is
// now; nil where that is not sure.
func (l *late) follow(r *assemble.Replaced, path string) *late {
	if l == nil {
		return nil
	}
	found, ok := follow(l.found, r, path)
	if !ok || slices.ContainsFunc(l.found, func(d Diagnostic) bool { return quotes(d, r) }) {
		return nil
	}
	return &late{found, l.asked, l.shared}
}

// quotes says whether a finding has the text of a line that differs.
func quotes(d Diagnostic, r *assemble.Replaced) bool {
	for _, text := range r.Texts() {
		if strings.Contains(d.Message, text) || slices.ContainsFunc(d.Related, func(x Related) bool { return strings.Contains(x.Message, text) }) {
			return true
		}
	}
	return false
}

// follow gives findings where they are now; ok is false where one is in a line that differs, or
// names one that has another number.
func follow(list []Diagnostic, r *assemble.Replaced, path string) (out []Diagnostic, ok bool) {
	for _, d := range list {
		if r.Differs(d.Location, path) {
			return nil, false
		}
		if d, ok = r.Follows(d, path); !ok {
			return nil, false
		}
		out = append(out, d)
	}
	return out, true
}

// again takes over an earlier analysis with what differs in job; nil where that is not
// possible. The caller says that all else that an analysis depends on is the same, files among
// it.
func (e *earlier) again(ctx context.Context, job *assemble.Input, set *Settings, late *late) (*wording.Reporter, *earlier) {
	if e.assembly == nil || e.settings != set && !reflect.DeepEqual(e.settings, set) {
		return nil, nil
	}
	r := assemble.Again(ctx, job, e.assembly)
	if r == nil {
		return nil, nil
	}
	now := &earlier{assembly: r.Earlier, settings: set, followed: e.followed, took: true, same: len(r.Items) == 0 && !r.Other, quiet: e.quiet}
	for i := r.From; i < r.Now && now.quiet; i++ {
		now.quiet = !strings.Contains(job.File.Line(i).Text, allowMark)
	}
	path := r.Reporter.Path
	same := false
	if !r.Other {
		same = !e.followed.Concern(e.assembly.Program, r.Reporter.Program, r.Items)
	} else if f := e.followed.Moved(e.assembly.Program, r.Reporter.Program, flow.Edit{From: r.A, To: r.B, Now: r.C, Uneven: r.Uneven}, e.found); f != nil && !r.Turned {
		now.followed, same = f, true
	}
	if same {
		now.found, same = follow(e.found, r, path)
	}
	if same {
		r.Reporter.Diags = append(r.Reporter.Diags, now.found...)
		if len(r.Items) == 0 && !r.Other {
			now.late = late.follow(r, path)
		}
	} else {
		n := len(r.Reporter.Diags)
		now.followed = flow.Check(ctx, r.Reporter)
		r.Reporter.Doubts = nil // which the assembly has told
		now.found = slices.Clone(r.Reporter.Diags[n:])
	}
	if now.marks = e.marks; now.marks.done {
		for _, i := range r.Items {
			now.marks.add(&e.assembly.Items[i], -1)
			now.marks.add(&r.Reporter.Items[i], 1)
		}
		for k := range r.Old {
			now.marks.add(&r.Old[k], -1)
		}
		for k := range r.New {
			now.marks.add(&r.New[k], 1)
		}
	}
	return r.Reporter, now
}

// assembled is the program of a job with what is found in it and where execution goes, taken
// over from the earlier analysis where that is possible.
func assembled(ctx context.Context, job *assemble.Input, set *Settings, asked *Input) (*wording.Reporter, *earlier, error) {
	if b := asked.Before; b != nil && !b.foreign && b.in.Guess == asked.Guess {
		if found, kept := b.kept.again(ctx, job, set, lateOf(b)); found != nil {
			return found, kept, ctx.Err()
		}
	}
	found, assembly, err := assemble.RunKept(ctx, job)
	if err != nil {
		return nil, nil, err
	}
	kept := &earlier{assembly: assembly, settings: set}
	kept.quiet = !slices.ContainsFunc(found.Sources, func(s program.Source) bool {
		return s.File != nil && s.Expansion == nil && strings.Contains(s.File.Text(), allowMark)
	})
	n := len(found.Diags)
	kept.followed = flow.Check(ctx, found)
	if len(found.Diags) > n+maxFlowKept {
		kept.assembly = nil
	}
	if kept.assembly != nil {
		kept.found = slices.Clone(found.Diags[n:])
	}
	return found, kept, ctx.Err()
}

// maxFlowKept bounds the findings about where execution goes that are kept.
const maxFlowKept = 400
