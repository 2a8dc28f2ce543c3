package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// schemaOf is a JSON schema, which has to be one of the draft that it names.
func schemaOf(t *testing.T, text string) *jsonschema.Schema {
	t.Helper()
	value, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	c.AssertContent()
	if err := c.AddResource("schema.json", value); err != nil {
		t.Fatal(err)
	}
	schema, err := c.Compile("schema.json")
	if err != nil {
		t.Fatal(err)
	}
	return schema
}

// fits says where a text does not fit a schema; one that is no JSON ends the test.
func fits(t *testing.T, schema *jsonschema.Schema, text string) error {
	t.Helper()
	value, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
	if err != nil {
		t.Fatalf("%v\n%.500s", err, text)
	}
	return schema.Validate(value)
}

// TestSchema holds what is printed against the schema, and the schema against the types.
func TestSchema(t *testing.T) {
	var said map[string]any
	if err := json.Unmarshal([]byte(findingsSchema), &said); err != nil {
		t.Fatal(err)
	}
	schema := schemaOf(t, findingsSchema)
	if got := output(t, ".", "schema"); got != findingsSchema {
		t.Errorf("the command prints\n%s", got)
	}
	for name, of := range map[string]reflect.Type{"finding": reflect.TypeFor[jsonFinding](), "note": reflect.TypeFor[jsonNote](), "rewrite": reflect.TypeFor[jsonRewrite](), "edit": reflect.TypeFor[jsonEdit]()} {
		def := said["$defs"].(map[string]any)[name].(map[string]any)
		var required []string
		for _, r := range def["required"].([]any) {
			required = append(required, r.(string))
		}
		var fields []string
		for f := range of.Fields() {
			fields = append(fields, f.Tag.Get("json"))
			if def["properties"].(map[string]any)[f.Tag.Get("json")] == nil {
				t.Errorf("%s: the schema has no %s", name, f.Tag.Get("json"))
			}
		}
		if !slices.Equal(fields, required) || len(def["properties"].(map[string]any)) != len(fields) {
			t.Errorf("%s: the schema requires %v, and there are %v", name, required, fields)
		}
	}

	dir := t.TempDir()
	for name, text := range map[string]string{
		"points.s": "\t.syntax unified\n\t.thumb\n\t.include \"part.inc\"\n\tmovs r0, #300\n\tbeq far\n\t.space 4000\nfar:\tbx lr\nfar:\tnop\n\tbl signal_box\n\tldr r0, =0x12345678\n\t.ltorg\n",
		"part.inc": "\tmovs r9, #1\n",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	out := output(t, dir, "check", "--format", "json", "points.s")
	var list []jsonFinding
	if err := fits(t, schema, out); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
	if err := json.Unmarshal([]byte(out), &list); err != nil {
		t.Fatal(err)
	}
	var notes, rewrites, safe, unasked int
	for _, f := range list {
		notes += len(f.Notes)
		rewrites += len(f.Rewrites)
		if f.Rewrites == nil {
			unasked++
		}
		for _, w := range f.Rewrites {
			if w.Safe {
				safe++
			}
			if len(w.Edits) == 0 || w.Title == "" || w.Name == "" {
				t.Errorf("%+v", w)
			}
		}
	}
	if notes == 0 || rewrites == 0 || safe == 0 || safe == rewrites || unasked != 1 {
		t.Errorf("%d notes, %d rewrites, %d safe, %d findings not searched for any\n%s", notes, rewrites, safe, unasked, out)
	}
	if bare := output(t, dir, "check", "--format", "json", "--rewrites=false", "points.s"); strings.Contains(bare, `"rewrites": [`) || strings.Count(bare, `"rewrites": null`) != len(list) {
		t.Errorf("with --rewrites=false there are some\n%s", bare)
	}
	for name, wrong := range map[string]string{"a line 0": `"column": `, "a severity": `"severity": "hint"`, "no code": `"code":`, "a title that is a number": `"title": "`} {
		with := map[string]string{"a line 0": `"column": -`, "a severity": `"severity": "catastrophe"`, "no code": `"cod":`, "a title that is a number": `"title": 5, "t": "`}[name]
		text := strings.Replace(out, wrong, with, 1)
		if text == out {
			t.Fatalf("%s is as it was", name)
		}
		if fits(t, schema, text) == nil {
			t.Errorf("%s fits", name)
		}
	}
}
