package main

import (
	"slices"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"narrowgauge/analysis"
	"narrowgauge/server/project"
)

// values are those that a flag takes, for the completion of shells.
var values = sync.OnceValue(func() map[string]func() []string {
	out := map[string]func() []string{
		"arch":     func() []string { return analysis.Targets().Arches },
		"cpu":      func() []string { return analysis.Targets().Cores },
		"fpu":      func() []string { return analysis.Targets().FPUs },
		"format":   fixed(formats...),
		"define":   none,
		"symbol":   none,
		"severity": none,
		"budget":   none,
		"waits":    none,
		"style":    none,
	}
	for _, d := range analysis.Definitions() {
		if d.Values != nil {
			var words []string
			for _, v := range d.Values {
				words = append(words, v.Text)
			}
			out[d.Flag] = fixed(words...)
		}
	}
	return out
})

func fixed(list ...string) func() []string { return func() []string { return list } }

func none() []string { return nil }

// completeFlags tells shells what the flags of a command take.
func completeFlags(cmd *cobra.Command) {
	for name, list := range values() {
		if list == nil || cmd.Flags().Lookup(name) == nil {
			continue
		}
		_ = cmd.RegisterFlagCompletionFunc(name, func(_ *cobra.Command, _ []string, begun string) ([]string, cobra.ShellCompDirective) {
			return beginning(list(), begun), cobra.ShellCompDirectiveNoFileComp
		})
	}
	for _, name := range []string{"include", "read-also"} {
		if cmd.Flags().Lookup(name) != nil {
			_ = cmd.MarkFlagDirname(name)
		}
	}
}

// completeSources completes the paths of sources and folders.
func completeSources(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	var endings []string
	for _, e := range project.ProgramNames {
		endings = append(endings, strings.TrimPrefix(e, "."))
	}
	return endings, cobra.ShellCompDirectiveFilterFileExt
}

// completeNames completes what explain knows by a name.
func completeNames(_ *cobra.Command, args []string, begun string) ([]string, cobra.ShellCompDirective) {
	if len(args) > 0 {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	return beginning(analysis.Explainable(), strings.ToLower(begun)), cobra.ShellCompDirectiveNoFileComp
}

// beginning lists those that begin so.
func beginning(list []string, with string) []string {
	return slices.DeleteFunc(slices.Clone(list), func(s string) bool { return !strings.HasPrefix(s, with) })
}
