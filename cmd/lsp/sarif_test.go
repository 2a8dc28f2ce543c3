package main

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"
)

// sarifSchema is a transcription of what SARIF 2.1.0 (OASIS Standard, section 3) asks of the
// objects that are written: which members they may and must have, of which types and
// values. It is written from the standard's text, not the schema that comes with it; what is
// not written is not in it.
const sarifSchema = `{
 "type": "object", "required": ["version", "runs"], "additionalProperties": false,
 "properties": {"$schema": {"type": "string"}, "version": {"enum": ["2.1.0"]}, "runs": {"type": "array", "items": {"$ref": "#/$defs/run"}}},
 "$defs": {
  "run": {"type": "object", "required": ["tool"], "additionalProperties": false, "properties": {
    "tool": {"type": "object", "required": ["driver"], "additionalProperties": false, "properties": {"driver": {"$ref": "#/$defs/toolComponent"}}},
    "invocations": {"type": "array", "items": {"$ref": "#/$defs/invocation"}},
    "columnKind": {"enum": ["utf16CodeUnits", "unicodeCodePoints"]},
    "results": {"type": ["array", "null"], "items": {"$ref": "#/$defs/result"}}}},
  "toolComponent": {"type": "object", "required": ["name"], "additionalProperties": false, "properties": {
    "name": {"type": "string"}, "version": {"type": "string"}, "rules": {"type": "array", "items": {"$ref": "#/$defs/reportingDescriptor"}}}},
  "reportingDescriptor": {"type": "object", "required": ["id"], "additionalProperties": false, "properties": {
    "id": {"type": "string"}, "shortDescription": {"$ref": "#/$defs/text"}, "fullDescription": {"$ref": "#/$defs/text"}, "help": {"$ref": "#/$defs/text"},
    "defaultConfiguration": {"type": "object", "additionalProperties": false, "properties": {"level": {"$ref": "#/$defs/level"}}}}},
  "level": {"enum": ["none", "note", "warning", "error"]},
  "text": {"type": "object", "required": ["text"], "additionalProperties": false, "properties": {"text": {"type": "string"}, "markdown": {"type": "string"}}},
  "invocation": {"type": "object", "required": ["executionSuccessful"], "additionalProperties": false, "properties": {
    "executionSuccessful": {"type": "boolean"}, "toolExecutionNotifications": {"type": "array", "items": {
      "type": "object", "required": ["message"], "additionalProperties": false, "properties": {"level": {"$ref": "#/$defs/level"}, "message": {"$ref": "#/$defs/text"}}}}}},
  "result": {"type": "object", "required": ["message"], "additionalProperties": false, "properties": {
    "ruleId": {"type": "string"}, "ruleIndex": {"type": "integer", "minimum": -1}, "level": {"$ref": "#/$defs/level"}, "message": {"$ref": "#/$defs/text"},
    "locations": {"type": "array", "items": {"$ref": "#/$defs/location"}}, "relatedLocations": {"type": "array", "items": {"$ref": "#/$defs/location"}},
    "fixes": {"type": "array", "items": {"$ref": "#/$defs/fix"}}, "suppressions": {"type": "array", "items": {"$ref": "#/$defs/suppression"}},
    "partialFingerprints": {"type": "object"}, "baselineState": {"enum": ["new", "unchanged", "updated", "absent"]}}},
  "location": {"type": "object", "additionalProperties": false, "properties": {
    "id": {"type": "integer", "minimum": -1}, "message": {"$ref": "#/$defs/text"}, "physicalLocation": {"type": "object", "required": ["artifactLocation"], "additionalProperties": false, "properties": {
      "artifactLocation": {"$ref": "#/$defs/artifactLocation"}, "region": {"$ref": "#/$defs/region"}}}}},
  "artifactLocation": {"type": "object", "additionalProperties": false, "properties": {"uri": {"type": "string"}, "uriBaseId": {"type": "string"}}},
  "region": {"type": "object", "additionalProperties": false, "properties": {
    "startLine": {"type": "integer", "minimum": 1}, "startColumn": {"type": "integer", "minimum": 1}, "endLine": {"type": "integer", "minimum": 1}, "endColumn": {"type": "integer", "minimum": 1}}},
  "fix": {"type": "object", "required": ["artifactChanges"], "additionalProperties": false, "properties": {
    "description": {"$ref": "#/$defs/text"}, "artifactChanges": {"type": "array", "items": {"type": "object", "required": ["artifactLocation", "replacements"], "additionalProperties": false, "properties": {
      "artifactLocation": {"$ref": "#/$defs/artifactLocation"}, "replacements": {"type": "array", "items": {"type": "object", "required": ["deletedRegion"], "additionalProperties": false, "properties": {
        "deletedRegion": {"$ref": "#/$defs/region"}, "insertedContent": {"$ref": "#/$defs/text"}}}}}}}}},
  "suppression": {"type": "object", "required": ["kind"], "additionalProperties": false, "properties": {
    "kind": {"enum": ["inSource", "external"]}, "status": {"enum": ["accepted", "underReview", "rejected"]}, "justification": {"type": "string"}, "location": {"$ref": "#/$defs/location"}}}
 }}`

// sarifLog is what is written, as a whole.
type (
	sarifLog struct {
		Schema  string     `json:"$schema"`
		Version string     `json:"version"`
		Runs    []sarifRun `json:"runs"`
	}
	sarifRun struct {
		Tool        sarifTool         `json:"tool"`
		Invocations []sarifInvocation `json:"invocations"`
		ColumnKind  string            `json:"columnKind"`
		Results     []sarifResult     `json:"results"`
	}
)

// sarifOf runs check on files and reads what it prints, after a look at the schema.
func sarifOf(t *testing.T, dir string, args ...string) (log sarifLog) {
	t.Helper()
	text := output(t, dir, append([]string{"check", "--format", "sarif"}, args...)...)
	var schema map[string]any
	var value any
	if err := json.Unmarshal([]byte(sarifSchema), &schema); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal([]byte(text), &value); err != nil {
		t.Fatalf("%v\n%.500s", err, text)
	}
	if err := fits(schema, schema, value, "log"); err != nil {
		t.Error(err)
	}
	if err := json.Unmarshal([]byte(text), &log); err != nil {
		t.Fatal(err)
	}
	return log
}

// cutUTF16 is what a region has of a text.
func cutUTF16(text string, r sarifRegion) string {
	lines := strings.SplitAfter(text, "\n")
	units := func(line, column int) int {
		n := 0
		for _, l := range lines[:line-1] {
			n += len(utf16.Encode([]rune(l)))
		}
		return n + column - 1
	}
	all := utf16.Encode([]rune(text))
	return string(utf16.Decode(all[units(r.StartLine, r.StartColumn):units(r.EndLine, r.EndColumn)]))
}

// TestSARIF holds what is written of a source with findings of each kind: the schema, the
// regions, the fixes, which are made, the notes and what a comment allows.
func TestSARIF(t *testing.T) {
	dir := t.TempDir()
	text := "\t.syntax unified\n\t.arch armv6-m\n\t.thumb\n\t/* \U0001F600\u00e9 */ movs r0, #300\n\t.byte 1\nw1:\t.word 2 @ \U0001F600 narrowgauge: allow data-alignment -- sent byte by byte\nw1:\t.word 3\n"
	if err := os.WriteFile(filepath.Join(dir, "a b.s"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	run := sarifOf(t, dir, "a b.s").Runs[0]
	if !run.Invocations[0].Successful {
		t.Errorf("what could be read is no success: %+v", run.Invocations)
	}
	found := map[string]sarifResult{}
	for _, r := range run.Results {
		if run.Tool.Driver.Rules[r.RuleIndex].ID != r.RuleID {
			t.Errorf("%s has the rule %d", r.RuleID, r.RuleIndex)
		}
		if at := r.Locations[0].Physical.Artifact; at.URI != "a%20b.s" || at.BaseID != sarifBase {
			t.Errorf("%s is in %+v", r.RuleID, at)
		}
		if _, ok := found[r.RuleID]; !ok {
			found[r.RuleID] = r
		}
	}
	bad := found["constant-range"]
	if got := cutUTF16(text, bad.Locations[0].Physical.Region); bad.Level != "error" || got != "#300" {
		t.Errorf("the constant: %s %q", bad.Level, got)
	}
	if len(bad.Fixes) == 0 {
		t.Fatal("no fix of the constant")
	}
	r := bad.Fixes[0].Changes[0].Replacements[0]
	if before := cutUTF16(text, sarifRegion{r.Deleted.StartLine, 1, r.Deleted.StartLine, r.Deleted.StartColumn}); !strings.HasPrefix(before, "\t/*") || strings.Contains(r.Inserted.Text, "\U0001F600") {
		t.Errorf("the fix begins after %q, with %q", before, r.Inserted.Text)
	}
	if twice := found["duplicate-symbol"]; len(twice.Related) == 0 || cutUTF16(text, twice.Related[0].Physical.Region) != "w1" || twice.Related[0].ID == nil {
		t.Errorf("the notes of a duplicate: %+v", twice.Related)
	}
	allowed := found["data-alignment"]
	if len(allowed.Suppressions) != 1 && len(run.Results) > 0 {
		i := slices.IndexFunc(run.Results, func(r sarifResult) bool { return len(r.Suppressions) == 1 })
		if i < 0 {
			t.Fatal("nothing is suppressed")
		}
		allowed = run.Results[i]
	}
	if s := allowed.Suppressions[0]; s.Kind != "inSource" || s.Justification != "sent byte by byte" || cutUTF16(text, s.Location.Physical.Region) != "data-alignment" {
		t.Errorf("the suppression: %+v", s)
	}
}

// TestSARIFProblems holds that what could not be read is told.
func TestSARIFProblems(t *testing.T) {
	var b strings.Builder
	if err := newReport(&b, style{}, listing{format: "sarif"}, nil).end(&tally{problems: errors.New("a\nb")}); err != nil {
		t.Fatal(err)
	}
	var log sarifLog
	if err := json.Unmarshal([]byte(b.String()), &log); err != nil {
		t.Fatal(err)
	}
	if i := log.Runs[0].Invocations[0]; i.Successful || len(i.Notifications) != 2 {
		t.Errorf("%+v", i)
	}
}

// TestSARIFDemo holds all findings of the demo against the schema.
func TestSARIFDemo(t *testing.T) {
	run := sarifOf(t, "../../editors/demo", "findings.s").Runs[0]
	if len(run.Results) < 50 {
		t.Errorf("only %d results", len(run.Results))
	}
	for _, rule := range run.Tool.Driver.Rules {
		if rule.Help.Markdown == "" || rule.Full.Text == "" {
			t.Errorf("%s has no help", rule.ID)
		}
	}
}
