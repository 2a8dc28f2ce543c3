package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// fits says where a value does not fit a schema, for what ours has of JSON Schema; any
// other keyword is a mistake.
func fits(root, schema map[string]any, value any, at string) error {
	for key, want := range schema {
		switch key {
		case "$schema", "$id", "$defs", "title", "description":
		case "$ref":
			name := strings.TrimPrefix(want.(string), "#/$defs/")
			to, ok := root["$defs"].(map[string]any)[name].(map[string]any)
			if !ok {
				return fmt.Errorf("%s: there is no %s", at, want)
			}
			if err := fits(root, to, value, at); err != nil {
				return err
			}
		case "type":
			if !isOf(want, value) {
				return fmt.Errorf("%s: %v is no %v", at, value, want)
			}
		case "enum":
			if !slices.Contains(want.([]any), value) {
				return fmt.Errorf("%s: %v is not among %v", at, value, want)
			}
		case "minimum":
			if value.(float64) < want.(float64) {
				return fmt.Errorf("%s: %v is less than %v", at, value, want)
			}
		case "required":
			for _, name := range want.([]any) {
				if _, ok := value.(map[string]any)[name.(string)]; !ok {
					return fmt.Errorf("%s: no %s", at, name)
				}
			}
		case "properties":
			for name, v := range value.(map[string]any) {
				of, ok := want.(map[string]any)[name].(map[string]any)
				if !ok {
					return fmt.Errorf("%s: %s is not of the schema", at, name)
				}
				if err := fits(root, of, v, at+"."+name); err != nil {
					return err
				}
			}
		case "additionalProperties":
			if want != false || schema["properties"] == nil {
				return fmt.Errorf("%s: anything goes", at)
			}
		case "items":
			list, _ := value.([]any)
			for i, v := range list {
				if err := fits(root, want.(map[string]any), v, fmt.Sprintf("%s[%d]", at, i)); err != nil {
					return err
				}
			}
		default:
			return fmt.Errorf("%s: what is %s?", at, key)
		}
	}
	return nil
}

func isOf(kind, value any) bool {
	if list, ok := kind.([]any); ok {
		return slices.ContainsFunc(list, func(k any) bool { return isOf(k, value) })
	}
	switch v := value.(type) {
	case nil:
		return kind == "null"
	case string:
		return kind == "string"
	case bool:
		return kind == "boolean"
	case float64:
		return kind == "number" || kind == "integer" && v == float64(int(v))
	case []any:
		return kind == "array"
	}
	return kind == "object"
}

// TestSchema holds what is printed against the schema, and the schema against the types.
func TestSchema(t *testing.T) {
	var schema map[string]any
	if err := json.Unmarshal([]byte(findingsSchema), &schema); err != nil {
		t.Fatal(err)
	}
	if got := output(t, ".", "schema"); got != findingsSchema {
		t.Errorf("the command prints\n%s", got)
	}
	for name, of := range map[string]reflect.Type{"finding": reflect.TypeFor[jsonFinding](), "note": reflect.TypeFor[jsonNote](), "rewrite": reflect.TypeFor[jsonRewrite](), "edit": reflect.TypeFor[jsonEdit]()} {
		def := schema["$defs"].(map[string]any)[name].(map[string]any)
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
	var printed any
	var list []jsonFinding
	if err := json.Unmarshal([]byte(out), &printed); err != nil {
		t.Fatal(err)
	}
	if err := fits(schema, schema, printed, "list"); err != nil {
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
		var broken any
		text := strings.Replace(out, wrong, with, 1)
		if err := json.Unmarshal([]byte(text), &broken); err != nil || text == out {
			t.Fatalf("%s: %v", name, err)
		}
		if fits(schema, schema, broken, "list") == nil {
			t.Errorf("%s fits", name)
		}
	}
}
