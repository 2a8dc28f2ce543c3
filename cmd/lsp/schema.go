package main

import (
	_ "embed"
	"encoding/json"
	"fmt"

	"github.com/spf13/cobra"

	"narrowgauge/analysis"
)

// findingsSchema describes what check prints as JSON (JSON Schema, draft 2020-12).
//
//go:embed findings.schema.json
var findingsSchema string

func schemaCommand() *cobra.Command {
	return &cobra.Command{
		Use:       "schema [findings|settings]",
		Short:     "Print the JSON schema of what \"check --format json\" prints, or of the project file",
		Args:      cobra.MatchAll(cobra.MaximumNArgs(1), cobra.OnlyValidArgs),
		ValidArgs: []string{"findings", "settings"},
		RunE: func(cmd *cobra.Command, args []string) error {
			text := findingsSchema
			if len(args) == 1 && args[0] == "settings" {
				text = settingsSchema()
			}
			_, err := fmt.Fprint(cmd.OutOrStdout(), text)
			return err
		},
	}
}

// object is an object of JSON; its members are printed in the order of their names.
type object = map[string]any

// settingsSchema describes the project file (JSON Schema, draft 2020-12).
func settingsSchema() string {
	whole, part := object{}, object{}
	for _, d := range analysis.Definitions() {
		if d.By != analysis.Everywhere {
			continue
		}
		whole[d.Name], part[d.Name] = settingSchema(&d), settingSchema(&d)
	}
	part["files"] = object{"type": "array", "minItems": 1, "items": object{"type": "string"}, "description": "Patterns of paths below the folder of this file: * is anything within a name, ** any number of folders; a pattern that ends in a slash means all that is in the folder."}
	whole["$schema"] = object{"type": "string", "description": "Where the schema of this file is, for editors."}
	whole["profiles"] = object{"type": "array", "description": "Settings for some of the sources; a later profile wins over an earlier one, and both over the rest of the file.",
		"items": object{"type": "object", "required": []string{"files"}, "properties": part, "additionalProperties": false}}
	text, _ := json.MarshalIndent(object{
		"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "narrowgauge.json", "description": "What the sources of a project are assembled for, and what is said of them.",
		"type": "object", "properties": whole, "additionalProperties": false,
	}, "", "  ")
	return string(text) + "\n"
}

// settingSchema describes one setting, as a schema does and as the settings of an editor
// do.
func settingSchema(d *analysis.Setting) object {
	doc := d.Doc
	if d.Default != "" {
		doc += " Default: " + d.Default + "."
	}
	out := object{"type": "string", "description": doc}
	switch {
	case d.Numbers:
		out["type"], out["additionalProperties"] = "object", object{"type": "integer", "minimum": 0}
	case d.List:
		out["type"], out["items"] = "array", object{"type": "string"}
	case d.Values != nil:
		var words []string
		for _, v := range d.Values {
			words = append(words, v.Text)
		}
		out["enum"] = words
	}
	return out
}
