package rewrite

import (
	"strings"

	"narrowgauge/analysis/finding"
)

// targetRewrites are the rewrites that say what a source is for.
func targetRewrites() []Entry {
	return []Entry{{
		Name: "target-directive", Title: "Say the target at the top",
		Before: UnifiedThumb + "rev r0, r1\nrev16 r2, r3\n",
		After:  ".arch armv6\n" + UnifiedThumb + "rev r0, r1\nrev16 r2, r3\n",
		apply:  targetDirective,
	}}
}

// targetDirective writes what was guessed as directives in front of the first statement. It is
// never safe: nobody may want it who has the target in a setting tomorrow.
func targetDirective(c *rewriting) {
	says := c.diagnostic.Says
	if len(says) == 0 || c.onlySafe {
		return
	}
	line := int(c.item.Line)
	indent := c.subject.directiveIndent(line)
	text := indent + strings.Join(says, c.lineEnd()+indent)
	c.add(candidate{title: "write " + strings.Join(says, ", ") + " at the top", edits: []finding.Edit{c.insertBefore(line, text)}})
}
