package main

import (
	_ "embed"
	"fmt"

	"github.com/spf13/cobra"
)

// findingsSchema describes what check prints as JSON (JSON Schema, draft 2020-12).
//
//go:embed findings.schema.json
var findingsSchema string

func schemaCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "schema",
		Short: "Print the JSON schema of what \"check --format json\" prints",
		Args:  noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			_, err := fmt.Fprint(cmd.OutOrStdout(), findingsSchema)
			return err
		},
	}
}
