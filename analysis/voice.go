package analysis

import (
	"context"
	"strings"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/syntax"
)

// Voice is what a source says about its target, to those beside it: the sources of one
// folder are mostly for the same one.
type Voice struct {
	file  string
	said  *Evidence // by a directive
	names []int     // of rating
	miss  []int
	all   int
	tells []teller // by architecture, the line that tells it from smaller ones
}

// teller is a line that tells an architecture from smaller ones.
type teller struct {
	name string
	line int
}

// Listen asks a source what it says about its target; file is its name, as seen from the
// others.
func Listen(ctx context.Context, in *Input, file string) (*Voice, error) {
	as := *in
	as.brief = true
	in = &as
	r, err := Analyze(ctx, in)
	if err != nil {
		return nil, err
	}
	v := &Voice{file: file}
	if v.said = saidTarget(r, file); v.said != nil || r.foreign || in.Set != nil && (in.Set.Arch != "" || in.Set.CPU != "") || refusals(r.prog) == 0 {
		return v, nil
	}
	best, _, err := widest(ctx, beginning(in), r.prog)
	if err != nil {
		return nil, err
	}
	c := best.rate(nil)
	v.names, v.miss, v.all = c.names, c.misses, c.all
	for k := range guessable {
		var t teller
		if it := c.evidence(k); it != nil && it.File == 0 {
			t = teller{evidenceText(eval.New(best.prog), it), int(it.Line)}
		}
		v.tells = append(v.tells, t)
	}
	return v, nil
}

// saidTarget is the target that the first directive of a source names which is about it;
// nil: there is none.
func saidTarget(r *Result, file string) *Evidence {
	for i := range r.prog.Items {
		it := &r.prog.Items[i]
		if it.Stmt.Kind != syntax.Directive || it.File != 0 {
			continue
		}
		if e := it.Stmt.Directive.Effect; e != syntax.EffCPU && e != syntax.EffArch {
			continue
		}
		e := &Evidence{File: file, Line: int(it.Line)}
		line := r.prog.Sources[it.File].File.Line(int(it.Line)) // as the preprocessor leaves it
		name := strings.ToLower(it.Stmt.Rest(line))
		if it.Stmt.Directive.Effect == syntax.EffCPU {
			e.Settings.CPU = name
		} else {
			e.Settings.Arch = name
		}
		if _, err := e.Settings.env(); err != nil {
			continue
		}
		e.Text = strings.ToLower(it.Stmt.Name) + " " + name
		return e
	}
	return nil
}

// together is the target of a source that was chosen by itself, as those beside it would
// have it: one that takes of the source all that its own does.
func (c *rating) together(best, thumb *reading, chosen int, voices []*Voice) *Guess {
	var said []Evidence
	sum := &rating{have: c.have, names: append([]int(nil), c.names...), misses: append([]int(nil), c.misses...), all: c.all}
	for _, v := range voices {
		if v.said != nil {
			said = append(said, *v.said)
		}
		for k := range v.names { // of the guessable ones
			sum.names[k] += v.names[k]
			sum.misses[k] += v.miss[k]
		}
		sum.all += v.all
	}
	if g, names, misses := fitting(said, best, thumb); g != nil && names <= best.refused+c.names[chosen] && misses <= c.misses[chosen] {
		return g
	}
	k := sum.choose()
	if k == chosen || c.names[k] > c.names[chosen] || c.misses[k] > c.misses[chosen] {
		return nil
	}
	g := c.guess(k, best)
	for _, v := range voices {
		if g != nil && v.tells != nil && v.tells[k].name != "" {
			g.Name, g.Line, g.File = v.tells[k].name, v.tells[k].line, v.file
			break
		}
	}
	return g
}
