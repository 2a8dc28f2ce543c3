package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/server/project"
)

// extensionOwn are settings of the VS Code extension itself.
var extensionOwn = []string{"serverPath", "trace.server"}

// extensionSetting is a setting as the VS Code extension contributes it.
func extensionSetting(d *analysis.Setting, order int) map[string]any {
	doc := d.Doc
	if d.By == analysis.Everywhere {
		doc += " `narrowgauge.json` wins."
	} else if d.By == analysis.User {
		doc += " Only your own settings count, not those of a workspace, and `narrowgauge.json` cannot say it."
	}
	out := map[string]any{"order": order, "type": "string", "default": "", "scope": "resource", "markdownDescription": doc}
	said := "Not said"
	if d.Default != "" {
		said += ": " + d.Default
	}
	switch {
	case d.Numbers:
		out["type"], out["additionalProperties"], out["default"] = "object", map[string]any{"type": "integer", "minimum": 0}, map[string]any{}
	case d.List && d.Values != nil:
		var words, docs []string
		for _, v := range d.Values {
			words, docs = append(words, v.Text), append(docs, v.Doc)
		}
		out["type"], out["default"] = "array", []string{}
		out["items"] = map[string]any{"type": "string", "enum": words, "enumDescriptions": docs}
		out["markdownDescription"] = doc + " Default: " + d.Default + "."
	case d.List:
		out["type"], out["items"], out["default"] = "array", map[string]any{"type": "string"}, []string{}
	case d.Values != nil:
		words, docs := []string{""}, []string{said}
		for _, v := range d.Values {
			words, docs = append(words, v.Text), append(docs, v.Doc)
		}
		out["enum"], out["enumDescriptions"] = words, docs
	case d.Default != "":
		out["markdownDescription"] = doc + " Default: " + d.Default + "."
	}
	if d.By == analysis.User {
		out["scope"] = "machine"
	}
	return out
}

// TestReadmeExtension holds that the VS Code extension has the settings of the
// definitions, and with -update writes them.
func TestReadmeExtension(t *testing.T) {
	const path = "../../editors/vscode/package.json"
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var pack struct {
		Contributes struct {
			Configuration struct {
				Properties map[string]json.RawMessage `json:"properties"`
			} `json:"configuration"`
		} `json:"contributes"`
	}
	if err := json.Unmarshal(data, &pack); err != nil {
		t.Fatal(err)
	}
	const opens, closes = "      \"title\": \"narrowgauge\",\n      \"properties\": {\n", "\n      }\n    }\n  },\n"
	before, rest, ok := strings.Cut(string(data), opens)
	_, after, ok2 := strings.Cut(rest, closes)
	if !ok || !ok2 {
		t.Fatalf("%s: where its settings begin and end is not found", path)
	}
	var members []string
	add := func(name string, value any) {
		var b bytes.Buffer
		enc := json.NewEncoder(&b)
		enc.SetEscapeHTML(false)
		enc.SetIndent("        ", "  ")
		if err := enc.Encode(value); err != nil {
			t.Fatal(err)
		}
		members = append(members, fmt.Sprintf("        %q: %s", "narrowgauge."+name, strings.TrimSuffix(b.String(), "\n")))
	}
	for _, name := range extensionOwn[:1] {
		add(name, pack.Contributes.Configuration.Properties["narrowgauge."+name])
	}
	for i, d := range analysis.Definitions() {
		add(d.Name, extensionSetting(&d, i+1))
	}
	for _, name := range extensionOwn[1:] {
		add(name, pack.Contributes.Configuration.Properties["narrowgauge."+name])
	}
	now := before + opens + strings.Join(members, ",\n") + closes + after
	if now == string(data) {
		return
	}
	if *update {
		if err := os.WriteFile(path, []byte(now), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	t.Errorf("%s is stale: go test ./cmd/lsp -run TestReadme -update", path)
}

// TestSettingsAgree compares all places that know settings: the type, the flags, the project
// file, the editors' settings, the schema and the documents.
func TestSettingsAgree(t *testing.T) {
	list := analysis.Definitions()
	var fields, defined []string
	for f := range reflect.TypeFor[analysis.Settings]().Fields() {
		fields = append(fields, f.Tag.Get("json"))
	}
	flags := map[string]*string{}
	cmd := checkCommand()
	for _, d := range list {
		if d.By == analysis.Everywhere {
			defined = append(defined, d.Name)
		}
		if d.Doc == "" || !strings.HasSuffix(d.Doc, ".") || (d.Flag != "") != (d.Help != "") {
			t.Errorf("%s: a text is missing", d.Name)
		}
		if d.By != analysis.Editor && cmd.Flags().Lookup(d.Flag) == nil {
			t.Errorf("%s: check has no flag --%s", d.Name, d.Flag)
		}
		if d.Flag != "" && flags[d.Flag] != nil {
			t.Errorf("two settings have the flag --%s", d.Flag)
		}
		flags[d.Flag] = &d.Name
		for _, v := range d.Values {
			if !strings.Contains(d.Doc, v.Text) || d.By != analysis.Editor && !strings.Contains(d.Help, v.Text) || v.Doc == "" {
				t.Errorf("%s: its texts do not say what %q is", d.Name, v.Text)
			}
			if d.By == analysis.Editor {
				continue // of an editor's own
			}
			set := analysis.Settings{}
			*set.Field(d.Name).(*string) = v.Text
			if err := set.Resolve(); err != nil {
				t.Errorf("%s: %v", d.Name, err)
			}
		}
		if d.Values != nil && d.By != analysis.Editor {
			set := analysis.Settings{}
			*set.Field(d.Name).(*string) = "neither"
			if err := set.Resolve(); err == nil || !strings.Contains(err.Error(), d.Values[0].Text) {
				t.Errorf("%s: a value that is not defined: %v", d.Name, err)
			}
		}
	}
	if !slices.Equal(fields, defined) {
		t.Errorf("the type has %q, and defined are %q", fields, defined)
	}
	if known := project.Fields(new(analysis.Settings)); len(known) != len(defined) {
		t.Errorf("a project file can give %d settings of %d", len(known), len(defined))
	}
	var schema struct {
		Properties map[string]struct {
			Type  string
			Enum  []string
			Items struct{ Properties map[string]any }
		}
	}
	if err := json.Unmarshal([]byte(settingsSchema()), &schema); err != nil {
		t.Fatal(err)
	}
	if n := len(schema.Properties); n != len(defined)+2 {
		t.Errorf("the schema has %d members", n)
	}
	for _, d := range list {
		p, ok := schema.Properties[d.Name]
		_, part := schema.Properties["profiles"].Items.Properties[d.Name]
		if ok != (d.By == analysis.Everywhere) || ok != part || ok && (p.Type == "array") != d.List || (p.Type == "object") != d.Numbers || ok && len(p.Enum) != len(d.Values) {
			t.Errorf("%s: the schema says %+v", d.Name, p)
		}
	}
}

// TestSettingsSchema holds that project files which say what they may fit the schema, and others
// do not.
func TestSettingsSchema(t *testing.T) {
	schema := schemaOf(t, settingsSchema())
	for text, good := range map[string]bool{
		`{}`: true,
		`{"arch": "armv6-m", "include": ["inc"], "budget": {".text": 16384}, "profiles": [{"files": ["boot/**"], "arch": "armv7-m"}]}`: true,
		`{"signals": 4}`:                           false,
		`{"arch": 6}`:                              false,
		`{"include": "inc"}`:                       false,
		`{"budget": {".text": -1}}`:                false,
		`{"profiles": [{"arch": "armv7-m"}]}`:      false,
		`{"profiles": [{"files": []}]}`:            false,
		`{"profiles": [{"files": [1]}]}`:           false,
		`["arch"]`:                                 false,
		`{"profiles": [{"files": ["a"], "x": 1}]}`: false,
	} {
		if err := fits(t, schema, text); (err == nil) != good {
			t.Errorf("%s: %v", text, err)
		}
	}
}
