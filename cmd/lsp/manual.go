package main

import (
	_ "embed"
	"fmt"

	"github.com/spf13/cobra"
)

// manualPage is the manual page, which TestManual makes of the commands.
//
//go:embed narrowgauge.1
var manualPage string

func manualCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "manual",
		Short:   "Print the manual page, for man",
		Example: "  narrowgauge manual | man -l -",
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			_, err := fmt.Fprint(cmd.OutOrStdout(), manualPage)
			return err
		},
	}
}
