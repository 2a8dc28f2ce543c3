package rewrite

import (
	"context"
	"slices"
	"sort"
	"strings"

	"narrowgauge/analysis/finding"
)

// SafeFixes applies the preferred safe rewrites for all findings of code in
// the root file (all codes when empty) and returns the edits against the
// original text. It works in rounds: each takes one finding of every region of the code
// (see flow.Paths.Regions), the last first, as what is dead after a line is known better when the
// lines below it are right, and proves all of them by one analysis. It goes on until
// nothing is left that it could fix.
func (r *Subject) SafeFixes(ctx context.Context, code string) []finding.Edit {
	cur := r
	givenUp, fixed := map[fixKey]bool{}, false
	for {
		list := cur.ready(code, givenUp)
		if len(list) == 0 {
			if !fixed {
				break
			}
			// What was fixed may have made way for more.
			fixed = false
			clear(givenUp)
			continue
		}
		t := cur.round(ctx, list)
		if ctx.Err() != nil {
			return nil
		}
		after := map[fixKey]bool{}
		for _, x := range list {
			if x.done() {
				givenUp[x.key()] = true
			}
		}
		if t == nil {
			continue
		}
		for k := range givenUp {
			after[fixKey{t.moved(k.at), k.code}] = true
		}
		cur, givenUp, fixed = t.after, after, true
	}
	return diffLines(r.File.Text(), cur.File.Text())
}

// fixKey says which finding was given up: where it is, and its code.
type fixKey struct {
	at   int
	code string
}

// fix is a finding for which a safe rewrite is sought.
type fix struct {
	d    *finding.Diagnostic
	c    *rewriting
	list []int  // the candidates of c, the one that is likely to be best first
	cure []bool // by candidate of c: it was tried, and cures the finding
}

func (x *fix) key() fixKey { return fixKey{x.d.Span.Start, x.d.Code} }

// done says whether no candidate is left.
func (x *fix) done() bool { return len(x.list) == 0 }

// attempt is the one that is to be tried now.
func (x *fix) attempt() *attempt { return x.c.attempt(&x.c.out[x.list[0]]) }

// fail goes on to the next candidate. One that is there for where another one fails is
// passed over if that one cures.
func (x *fix) fail(cures bool) {
	x.cure[x.list[0]] = cures
	x.list = x.list[1:]
	for !x.done() && x.c.out[x.list[0]].fallback && x.cure[x.list[0]-1] {
		x.list = x.list[1:]
	}
}

// perRegion bounds how many rounds a region takes: one with more findings gets several
// tried in one round.
const perRegion = 24

// ready are the findings that a round may fix: of each region of the code the last one,
// and where there are very many, some that are far apart.
func (r *Subject) ready(code string, givenUp map[fixKey]bool) (list []*fix) {
	var open []*finding.Diagnostic
	var regions []int32
	var in []int32
	count, seen := map[int32]int{}, map[int32]int{}
	for i := len(r.diags) - 1; i >= 0; i-- {
		d := &r.diags[i]
		if d.Path != r.Path || code != "" && d.Code != code || givenUp[fixKey{d.Span.Start, d.Code}] || !rewritable(d) {
			continue
		}
		it := r.ItemAt(d.Span.Start)
		if it == nil {
			continue
		}
		if regions == nil {
			regions = r.Regions()
		}
		open, in = append(open, d), append(in, regions[it.Index])
		count[regions[it.Index]]++
	}
	for i, d := range open {
		n := seen[in[i]]
		seen[in[i]]++
		if every := (count[in[i]] + perRegion - 1) / perRegion; n%((count[in[i]]+every-1)/every) != 0 {
			continue
		}
		x := &fix{d: d, c: r.propose(d, true, false)}
		if x.c != nil {
			x.rank()
		}
		list = append(list, x)
	}
	return list
}

// rank puts the candidates that may be safe in the order in which they would be offered,
// as far as that is known without an analysis.
func (x *fix) rank() {
	c := x.c
	x.cure = make([]bool, len(c.out))
	ranks := make([]int, len(c.out))
	for i := range c.out {
		k := &c.out[i]
		if !k.safe {
			continue
		}
		size, flags, known := c.estimate(k)
		if lost := c.changedFlags(k, flags); known && c.needed(lost) != 0 {
			if k.name == spelling && !c.compared(c.needed(lost)) {
				x.list = nil // see compared
				return
			}
			continue
		}
		ranks[i] = c.rank(&Action{Bytes: size, Safe: true, Edits: k.edits}, k)
		x.list = append(x.list, i)
	}
	sort.SliceStable(x.list, func(i, j int) bool { return ranks[x.list[i]] < ranks[x.list[j]] })
}

// round tries one safe rewrite of each finding, all at once, and for those that fail
// the next one. The trial that it gives is proven as a whole; nil: nothing could be
// fixed. Findings for which no rewrite is left are done.
func (r *Subject) round(ctx context.Context, list []*fix) *trial {
	active := slices.DeleteFunc(slices.Clone(list), (*fix).done)
	for len(active) > 0 && ctx.Err() == nil {
		attempts := make([]*attempt, len(active))
		for i, x := range active {
			attempts[i] = x.attempt()
		}
		ch, clash, ok := newChange(attempts)
		if !ok {
			active = slices.Delete(active, clash, clash+1) // another round may take it
			continue
		}
		t, err := r.try(ctx, ch, attempts)
		if err != nil {
			return nil
		}
		if t.pairs == nil && len(active) > 1 { // for the sake of one of them; the others may try again
			active = active[:len(active)/2]
			continue
		}
		failed := false
		cured, stray := t.cures()
		for i, x := range active {
			safe := false
			if cured[i] {
				_, safe, _ = t.judge(i)
			}
			if !safe {
				x.fail(cured[i])
				failed = true
			}
		}
		if !failed {
			blamed := t.culprits(stray)
			if len(blamed) == 0 {
				return t
			}
			for i := range blamed {
				active[i].fail(false)
			}
		}
		active = slices.DeleteFunc(active, (*fix).done)
	}
	return nil
}

// culprits are the attempts that are taken to have brought new findings elsewhere, or moved
// code in stretches where none of them is: for each the nearest one above, or the first.
func (t *trial) culprits(stray []*finding.Diagnostic) map[int]bool {
	blamed := map[int]bool{}
	blame := func(at int) {
		i := sort.Search(len(t.edits), func(i int) bool { return t.edits[i].Span.Start > at })
		blamed[t.of[max(i-1, 0)]] = true
	}
	for _, d := range stray {
		if d.Path == t.after.Path {
			i := sort.Search(len(t.edits), func(i int) bool { return t.start(i) > d.Span.Start })
			blamed[t.of[max(i-1, 0)]] = true
		} else {
			blamed[t.of[0]] = true
		}
	}
	for _, s := range t.broken {
		if it := t.before.FirstIn(s); it != nil && it.File == 0 {
			blame(t.before.File.LineStart(int(it.Line)))
		} else {
			blamed[t.of[0]] = true
		}
	}
	return blamed
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
