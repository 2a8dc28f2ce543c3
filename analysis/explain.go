package analysis

import (
	"context"
	"regexp"
	"strings"
	"sync"

	"narrowgauge/analysis/describe"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// An Explanation answers what somebody asks.
type Explanation struct {
	Markdown string
	Near     []string // known names close to what was asked for, where it is not known
	Known    bool
	// Refused: it is a line that no instruction set has, of those that were asked for.
	Refused bool
}

// Ask explains a text: a check, a rewrite, an instruction, a directive with or without
// its dot, a register, a number, which may be machine code, or a line of source. What an
// instruction can do is said for the target of the settings; nil or no target: for all.
// The error is that of [Analyze].
func Ask(ctx context.Context, text string, set *Settings) (Explanation, error) {
	e, err := set.env()
	if err != nil {
		return Explanation{}, err
	}
	t := describe.Target{Have: e.Have}
	if set != nil && (set.Arch != "" || set.CPU != "" || set.FPU != "") {
		t.Name = e.Target
	}
	text = strings.Join(strings.Fields(text), " ")
	if md, ok := describe.Number(text, t); ok {
		return Explanation{Markdown: md, Known: true}, nil
	}
	md, near, ok := describe.ExplainFor(text, t)
	if code := asListed().FindString(text); !ok && code != "" {
		if md, ok := describe.Number("0x"+strings.Replace(code, " ", " 0x", 1), t); ok {
			return Explanation{Markdown: md, Known: true}, nil
		}
	}
	if ok || !strings.Contains(text, " ") {
		return Explanation{Markdown: md, Near: near, Known: ok}, nil
	}
	return askLine(ctx, text, set, t)
}

// asListed finds machine code as listings have it, in hexadecimal without a prefix: a halfword,
// two of them, or a word.
var asListed = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^(?i:[0-9a-f]{4}(?: ?[0-9a-f]{4})?)$`) })

// askLine explains a line of source.
func askLine(ctx context.Context, text string, set *Settings, t describe.Target) (out Explanation, err error) {
	f := syntax.Parse("\t" + text + "\n").As(syntax.Dots)
	if at := int(f.Line(0).Comment); at > 0 {
		text = strings.TrimSpace(text[:at-1])
	}
	stmt := firstStatement(f.Line(0))
	switch {
	case stmt != nil && stmt.Kind == syntax.Directive:
		md, near, ok := describe.ExplainFor(stmt.Name, t)
		return Explanation{Markdown: md, Near: near, Known: ok}, nil
	case stmt == nil || stmt.Mnemonic == nil:
		word, _, _ := strings.Cut(text, " ")
		_, near, _ := describe.ExplainFor(word, t)
		return Explanation{Near: near}, nil
	}
	var b strings.Builder
	b.WriteString("# " + text + "\n\n")
	taken := false
	from := &describe.Sources{}
	for _, s := range []struct {
		set, mode string
		need      isa.Features
	}{{"Thumb", ".thumb", isa.FeatT16}, {"A32", ".arm", isa.FeatA32}} {
		if t.Name != "" && !t.Have.Has(s.need) {
			b.WriteString("## " + s.set + ": not on " + t.Name + "\n\n")
			continue
		}
		md, ok, err := encoded(ctx, s.set, s.mode, text, set, t, from)
		if err != nil {
			return Explanation{}, err
		}
		taken = taken || ok
		b.WriteString(md)
	}
	b.WriteString(from.End())
	return Explanation{Markdown: strings.TrimSpace(b.String()) + "\n", Known: true, Refused: !taken}, nil
}

// firstStatement is the first instruction or directive of a line; nil: there is none.
func firstStatement(line *syntax.Line) *syntax.Stmt {
	for i := range line.Stmts {
		s := &line.Stmts[i]
		if s.Kind == syntax.Instruction || s.Kind == syntax.Directive {
			return s
		}
	}
	return nil
}

// all are the targets that a line is tried for where none is given and the guess does not
// take it: those that have most.
var all = []Settings{{Arch: "armv8.6-a", FPU: "crypto-neon-fp-armv8"}, {Arch: "armv8.1-m.main+dsp", FPU: "fpv5-d16"}}

// encoded says what a line is in one instruction set, or why it is not.
func encoded(ctx context.Context, name, mode, text string, set *Settings, t describe.Target, from *describe.Sources) (md string, ok bool, err error) {
	as := Settings{}
	if set != nil {
		as = Settings{Arch: set.Arch, CPU: set.CPU, FPU: set.FPU, Syntax: set.Syntax}
	}
	tries := []Settings{as}
	if t.Name == "" {
		tries = append(tries, all...)
	}
	head := ".syntax unified\n"
	if as.Syntax == "divided" {
		head = ".syntax divided\n"
	}
	file := syntax.Parse(head + mode + "\n\t" + text + "\n").As(syntax.Dots)
	var first *Result
	for i := range tries {
		tries[i].Dialect, tries[i].Preprocess = "dots", "never"
		r, err := AnalyzeGuessing(ctx, &Input{Path: "line", File: file, Set: &tries[i]})
		if err != nil {
			return "", false, err
		}
		if md, ok := r.view().Encoded(t, from); ok {
			return md, true, nil
		}
		if first == nil {
			first = r
		}
	}
	var b strings.Builder
	b.WriteString("## " + name + ": no encoding\n\n")
	seen := map[string]bool{}
	for _, d := range first.Diagnostics() {
		if d.Severity == finding.Error && !seen[d.Message] {
			seen[d.Message] = true
			b.WriteString(d.Message + " See `" + d.Code + "`.\n\n")
		}
	}
	return b.String(), false, nil
}

// Known are the names of targets, sorted.
type Known struct{ Arches, Cores, FPUs []string }

// Targets lists the names that the settings arch, cpu and fpu take, without extensions.
func Targets() Known { return Known{isa.ArchNames(), isa.CPUNames(), isa.FPUNames()} }

// Explainable lists the names that [Ask] explains, sorted.
func Explainable() []string { return describe.Names() }
