package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"narrowgauge/analysis"
	"narrowgauge/server/project"
)

func explainCommand() *cobra.Command {
	var set analysis.Settings
	cmd := &cobra.Command{
		Use:   "explain [NAME | NUMBER | LINE]",
		Short: "Explain a check, a rewrite, an instruction, a directive, a register, machine code or a line of source",
		Long: `Explain a check, a rewrite, an instruction, a directive (with or without its dot) or a
register by its name; a number, which may be machine code; or a line of source, which
is encoded. Without an argument, list the checks.

With --cpu or --arch, explain what there is on that target. The exit code is 1 for a
line that no instruction set of the target has.`,
		Example: `  narrowgauge explain constant-range
  narrowgauge explain ldrd --cpu cortex-m3
  narrowgauge explain 0x43c0
  narrowgauge explain 0xf000 0xf801
  narrowgauge explain "movs r0, #1"`,
		ValidArgsFunction: completeNames,
		RunE: func(cmd *cobra.Command, args []string) error {
			out := cmd.OutOrStdout()
			if len(args) == 0 {
				listChecks(out)
				return nil
			}
			return explain(cmd, strings.Join(args, " "), &set)
		},
	}
	targetFlags(cmd, &set)
	return cmd
}

func listChecks(out io.Writer) {
	for _, c := range analysis.Checks() {
		fmt.Fprintf(out, "%-24s %-12s %s\n", c.Code, c.Severity, c.Title)
	}
}

func explain(cmd *cobra.Command, text string, set *analysis.Settings) error {
	if _, problems := project.Valid(*set); len(problems) > 0 {
		return settingErrors(problems, flagOf)
	}
	found, err := analysis.Ask(cmd.Context(), text, set)
	if err != nil {
		return err
	}
	if !found.Known {
		text, _, _ = window(text, 0, 0)
		msg := fmt.Sprintf("%q is not a known check, rewrite, instruction, directive, register or number", text)
		if len(found.Near) > 0 {
			msg += "; similar names: " + strings.Join(found.Near, ", ")
		}
		return errors.New(msg)
	}
	for line := range strings.Lines(found.Markdown) {
		fmt.Fprintln(cmd.OutOrStdout(), clean(strings.TrimSuffix(line, "\n")))
	}
	if found.Refused {
		return exitCode(1)
	}
	return nil
}
