package rewrite

import (
	"slices"
	"sync"

	"narrowgauge/analysis/finding"
)

// Entry is one registered way to say something else: the only place where
// it is described.
type Entry struct {
	Name          string
	Title         string
	Before, After string // documented example, used as a test
	apply         func(c *rewriting)
}

// Rewrite describes a registered rewrite.
type Rewrite struct{ Name, Title, Before, After string }

// Rewrites lists all rewrites in the order of the documentation.
func Rewrites() []Rewrite {
	var out []Rewrite
	for _, w := range Registered() {
		out = append(out, Rewrite{w.Name, w.Title, w.Before, w.After})
	}
	return out
}

func Find(name string) *Entry {
	for _, w := range Registered() {
		if w.Name == name {
			return &w
		}
	}
	return nil
}

// UnifiedThumb is what the sources of the examples begin with.
const UnifiedThumb = finding.UnifiedThumb

// registered are all rewrites, family by family. Each family has a file with its
// registration: a title, and an example that is a test, whose After the tests expect
// as first or later offer.
// It is made when it is asked for first.
var registered = sync.OnceValue(func() []Entry {
	return slices.Concat(constantRewrites(), sumRewrites(), operandRewrites(), accessRewrites(), highRewrites(), branchRewrites(), poolRewrites(), olderRewrites(), nameRewrites(), addressRewrites(), itRewrites(), idiomRewrites(), targetRewrites(), wideRewrites(), slipRewrites(), runningRewrites())
})

// Registered lists the rewrites with what tests need of them.
func Registered() []Entry { return registered() }
