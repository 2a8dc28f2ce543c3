package describe

import (
	"fmt"
	"sort"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/preprocess"
	"narrowgauge/analysis/rewrite"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Explain returns Markdown about a check code, a rewrite, a mnemonic or a
// directive; where name is unknown, near lists known names close to it.
func Explain(name string) (markdown string, near []string, ok bool) {
	low := strings.ToLower(strings.TrimSpace(name))
	if c := finding.ByCode(low); c != nil {
		return checkText(c), nil, true
	}
	if w := rewrite.Find(low); w != nil {
		return rewriteText(w), nil, true
	}
	if d := syntax.FindDirective(low); d != nil {
		return fmt.Sprintf("# %s\n\n`%s`\n\n%s\n", d.Name, d.Usage, d.Doc), nil, true
	}
	if d, ok := preprocess.FindDirective(low); ok {
		return fmt.Sprintf("# %s\n\n`%s`\n\n%s A directive of the preprocessor.\n", d.Name, d.Usage, d.Doc), nil, true
	}
	if md, ok := explainMnemonic(low); ok {
		return md, nil, true
	}
	if d := syntax.ColumnDirective(low); d != nil {
		return fmt.Sprintf("# %s\n\n`%s`\n\n%s A directive of the column dialect.\n", d.Name, d.Usage, d.Doc), nil, true
	}
	return "", nearNames(low), false
}

func nearNames(low string) []string {
	var all []string
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
	sort.Strings(all)
	return finding.Near(low, all)
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

func explainMnemonic(name string) (string, bool) {
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
	type group struct {
		row   *isa.Row
		forms []*isa.Form
	}
	var groups []group
	for _, f := range append(m.Forms[:len(m.Forms):len(m.Forms)], m.FormsOf(isa.A)...) {
		if n := len(groups); n > 0 && groups[n-1].row == f.Row {
			groups[n-1].forms = append(groups[n-1].forms, f)
			continue
		}
		groups = append(groups, group{f.Row, []*isa.Form{f}})
	}
	for _, g := range groups {
		r := g.row
		fmt.Fprintf(&b, "## %s, %s encoding %s — %s\n\n%s\n\n```\n%s\n```\n\n", r.Name, r.Set(), r.Enc, r.Title, r.Text(), r.Bits)
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
			fmt.Fprintf(&b, "- `%s` — %d bytes, %s%s%s\n", s, r.Size(), syn, note, need)
		}
		fmt.Fprintf(&b, "\nFlags read: %s; set: %s.\n", r.FlagsRead, r.FlagsWritten)
		for _, c := range r.Cautions {
			fmt.Fprintf(&b, "\nCaution: %s.\n", c.Text)
		}
		b.WriteString("\n")
	}
	return strings.TrimSpace(b.String()) + "\n", true
}
