package describe

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/preprocess"
	"narrowgauge/analysis/rewrite"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Explain returns Markdown about a check code, a rewrite, a mnemonic, a directive or a
// register; where name is unknown, near lists known names close to it.
func Explain(name string) (markdown string, near []string, ok bool) {
	return ExplainFor(name, Target{})
}

// ExplainFor is Explain, for what a target has of an instruction. A name that means several
// things is explained as each of them; a directive may be without its dot.
func ExplainFor(name string, t Target) (markdown string, near []string, ok bool) {
	low := strings.ToLower(strings.TrimSpace(name))
	var all []string
	add := func(md string, ok bool) {
		if ok {
			all = append(all, strings.TrimRight(md, "\n")+"\n")
		}
	}
	if c := finding.ByCode(low); c != nil {
		add(checkText(c), true)
	}
	if w := rewrite.Find(low); w != nil {
		add(rewriteText(w), true)
	}
	add(explainMnemonic(low, t))
	add(explainDirectives(low))
	reg := registerText(low)
	add(reg, reg != "")
	if c, known := isa.CondByName(low); known {
		add("# "+low+"\n\nThe condition **"+strings.ToUpper(low)+"** — "+conditionMeaning(c)+", after an instruction's name as in `b"+low+"`.", true)
	}
	if len(all) == 0 {
		return "", nearNames(low), false
	}
	return strings.Join(all, "\n"), nil, true
}

// explainDirectives explains the directives of a name, of all dialects and of the
// preprocessor.
func explainDirectives(name string) (string, bool) {
	var all []string
	add := func(d *syntax.DirectiveInfo, more string) {
		if d != nil {
			all = append(all, fmt.Sprintf("# %s\n\n`%s`\n\n%s%s\n", d.Name, d.Usage, d.Doc, more))
		}
	}
	bare := strings.TrimLeft(name, ".#")
	if name[:len(name)-len(bare)] != "#" {
		d := syntax.FindDirective(name)
		if d == nil {
			d = syntax.FindDirective("." + bare)
		}
		add(d, "")
	}
	if name[:len(name)-len(bare)] != "." {
		if d, ok := preprocess.FindDirective("#" + bare); ok {
			all = append(all, fmt.Sprintf("# %s\n\n`%s`\n\n%s A directive of the preprocessor.\n", d.Name, d.Usage, d.Doc))
		}
	}
	if name == bare {
		add(syntax.ColumnDirective(name), " A directive of the column dialect.")
	}
	return strings.Join(all, "\n"), len(all) > 0
}

func nearNames(low string) []string { return finding.Near(low, Names()) }

// Names are all that Explain knows but registers with a number, sorted.
func Names() (all []string) {
	for i := range finding.Registry {
		all = append(all, finding.Registry[i].Code)
	}
	for _, w := range rewrite.Registered() {
		all = append(all, w.Name)
	}
	for _, m := range isa.Mnemonics() {
		all = append(all, m.Name)
	}
	for _, d := range syntax.Directives() {
		all = append(all, d.Name)
	}
	for _, d := range preprocess.Directives() {
		all = append(all, d.Name)
	}
	all = append(all, registerNames()...)
	sort.Strings(all)
	return slices.Compact(all)
}

// checkText is the check's documentation.
func checkText(c *finding.Check) string {
	var b strings.Builder
	fmt.Fprintf(&b, "# %s — %s\n\n%s. %s\n\nWrong:\n\n```\n%s```\n\nRight:\n\n```\n%s```\n", c.Code, c.Title, strings.ToUpper(c.Severity.String()[:1])+c.Severity.String()[1:], c.Explanation, c.Bad, c.Good)
	if len(c.Rewrites) > 0 {
		b.WriteString("\nRewrites that may be offered:\n\n")
		for _, n := range c.Rewrites {
			if w := rewrite.Find(n); w != nil {
				fmt.Fprintf(&b, "- `%s` — %s\n", n, w.Title)
			}
		}
	}
	return b.String()
}

// rewriteText is the rewrite's documentation.
func rewriteText(w *rewrite.Entry) string {
	var codes []string
	for i := range finding.Registry {
		for _, n := range finding.Registry[i].Rewrites {
			if n == w.Name {
				codes = append(codes, "`"+finding.Registry[i].Code+"`")
			}
		}
	}
	return fmt.Sprintf("# %s — %s\n\nOffered for %s.\n\nBefore:\n\n```\n%s```\n\nAfter:\n\n```\n%s```\n", w.Name, w.Title, strings.Join(codes, ", "), w.Before, w.After)
}

// explainMnemonic explains an instruction: all its encodings, or those of a target.
func explainMnemonic(name string, t Target) (string, bool) {
	m, _ := isa.Find(name)
	if m == nil {
		return "", false
	}
	var b strings.Builder
	fmt.Fprintf(&b, "# %s\n\n", m.Name)
	if len(m.Forms) == 0 && len(m.FormsOf(isa.A)) == 0 {
		what := "an instruction of T32 or of an extension"
		if isa.A32Name(m.Name) {
			what = "a vector instruction of which only the name is known: 4 bytes, operands not checked"
		}
		if base, c, ok := rewrite.CondSplit(m.Name); ok {
			what += fmt.Sprintf(" (%s on condition %s)", base, strings.ToUpper(c.String()))
		}
		fmt.Fprintf(&b, "%s is %s; T16 has no encoding of that name.\n", m.Name, what)
		return b.String(), true
	}
	var groups, without []formGroup
	for _, f := range append(m.Forms[:len(m.Forms):len(m.Forms)], m.FormsOf(isa.A)...) {
		to := &groups
		if !t.has(f) {
			to = &without
		}
		if n := len(*to); n > 0 && (*to)[n-1].row == f.Row {
			(*to)[n-1].forms = append((*to)[n-1].forms, f)
			continue
		}
		*to = append(*to, formGroup{f.Row, []*isa.Form{f}})
	}
	if t.Name != "" && len(groups) == 0 {
		fmt.Fprintf(&b, "%s has no %s.\n\n", t.Name, m.Name)
	}
	for i := range groups {
		groups[i].write(&b, m)
	}
	if t.Name != "" && len(without) > 0 {
		fmt.Fprintf(&b, "## What %s does not have\n\n", t.Name)
		seen := map[string]bool{}
		for _, g := range without {
			for _, f := range g.forms {
				line := fmt.Sprintf("- `%s` — %s encoding %s, from %s on\n", f, g.row.Set(), g.row.Enc, since(g.row, f.Need))
				if !seen[line] {
					seen[line] = true
					b.WriteString(line)
				}
			}
		}
	}
	return strings.TrimSpace(b.String()) + "\n", true
}

// has says whether a target has a form.
func (t Target) has(f *isa.Form) bool {
	return t.Name == "" || f.On(t.Have)
}

// formGroup are the forms of one encoding.
type formGroup struct {
	row   *isa.Row
	forms []*isa.Form
}

// flags are those that the forms read, by their condition as well, and those that they set.
func (g *formGroup) flags(m *isa.Mnemonic) (read, set isa.Flags) {
	c, conditional := m.Cond()
	for _, f := range g.forms {
		if conditional && g.row.State == isa.T && !f.Unified {
			continue // Thumb code of the divided syntax has no such name but for branches
		}
		in, out := f.Flags()
		read, set = read|in, set|out
	}
	if conditional {
		read |= c.Reads()
	}
	return read, set
}

// write explains an encoding, as a mnemonic has it.
func (g *formGroup) write(b *strings.Builder, m *isa.Mnemonic) {
	r := g.row
	fmt.Fprintf(b, "## %s, %s encoding %s — %s\n\n%s\n\n```\n%s\n```\n\n", r.Name, r.Set(), r.Enc, r.Title, r.Text(), r.Bits)
	seen := map[string]bool{}
	for _, f := range g.forms {
		s := f.String()
		if seen[s] {
			continue
		}
		seen[s] = true
		syn := "unified and divided syntax"
		switch {
		case !f.Divided:
			syn = "unified syntax"
		case !f.Unified:
			syn = "divided syntax"
		}
		note := ""
		if f.InIT() {
			note = " in IT blocks"
		}
		if lo, hi, _, ok := targetLimits(f); ok {
			note += fmt.Sprintf(", label %d to %d bytes from PC", lo, hi)
		}
		need := ""
		if n := f.Row.Need | f.Need; n != 0 {
			need = ", from " + n.First() + " on"
			if r.State == isa.A {
				need = ", from " + n.FirstA32() + " on"
			}
		}
		fmt.Fprintf(b, "- `%s` — %d bytes, %s%s%s\n", s, r.Size(), syn, note, need)
	}
	read, set := g.flags(m)
	fmt.Fprintf(b, "\nFlags read: %s; set: %s.\n", read, set)
	for _, c := range r.Cautions {
		fmt.Fprintf(b, "\nCaution: %s.\n", c.Text)
	}
	b.WriteString("\n")
}
