package rewrite

import (
	"context"
	"strconv"
	"strings"

	"narrowgauge/analysis/finding"
)

// SafeFixes applies the preferred safe rewrites for all findings of code in
// the root file (all codes when empty) and returns the edits against the
// original text. Each is proven on the text that the ones before it made. It
// goes from the last finding to the first, as what is dead after a line is
// known better when the lines below it are right, and again until nothing is
// left that it could fix.
func (r *Subject) SafeFixes(ctx context.Context, code string) []finding.Edit {
	cur := r
	tried := map[string]bool{}
	fixed := false
	for {
		a := cur.nextSafe(ctx, code, tried)
		if ctx.Err() != nil {
			return nil
		}
		if a == nil {
			if !fixed {
				break
			}
			// What was fixed may have made way for more.
			fixed = false
			clear(tried)
			continue
		}
		f := cur.File
		for k := len(a.Edits) - 1; k >= 0; k-- {
			e := a.Edits[k]
			f = edited(f, &e)
		}
		next, err := cur.again(ctx, f)
		if err != nil {
			return nil
		}
		cur, fixed = next, true
	}
	return diffLines(r.File.Text(), cur.File.Text())
}

// nextSafe is the first safe action of the last finding that has one. Findings
// without one are noted in tried.
func (r *Subject) nextSafe(ctx context.Context, code string, tried map[string]bool) *Action {
	f := r.File
	for i := len(r.diags) - 1; i >= 0; i-- {
		d := &r.diags[i]
		if d.Path != r.Path || code != "" && d.Code != code {
			continue
		}
		line := f.LineAt(d.Span.Start)
		key := d.Code + "\x00" + f.Line(line).Text + "\x00" + strconv.Itoa(line)
		if tried[key] {
			continue
		}
		for _, a := range r.actionsFor(ctx, d) {
			if a.Safe {
				return &a
			}
		}
		if ctx.Err() != nil {
			return nil
		}
		tried[key] = true
	}
	return nil
}

// diffLines gives the edits that turn a into b, whole lines at a time.
func diffLines(a, b string) []finding.Edit {
	if a == b {
		return nil
	}
	x, y := strings.SplitAfter(a, "\n"), strings.SplitAfter(b, "\n")
	var out []finding.Edit
	off, i, j := 0, 0, 0
	for i < len(x) || j < len(y) {
		if i < len(x) && j < len(y) && x[i] == y[j] {
			off += len(x[i])
			i, j = i+1, j+1
			continue
		}
		// Find the nearest lines where both go on alike.
		bi, bj := len(x), len(y)
	search:
		for d := 1; d < len(x)-i+len(y)-j; d++ {
			for di := 0; di <= d; di++ {
				p, q := i+di, j+d-di
				if p < len(x) && q < len(y) && x[p] == y[q] && (strings.TrimSpace(x[p]) != "" || d < 3) {
					bi, bj = p, q
					break search
				}
			}
		}
		e := finding.Edit{Span: finding.Span{Start: off}}
		for ; i < bi; i++ {
			off += len(x[i])
		}
		e.Span.End = off
		e.New = strings.Join(y[j:bj], "")
		j = bj
		out = append(out, e)
	}
	return out
}
