package main

import (
	_ "embed"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"
)

// sarifSchema is the schema of SARIF 2.1.0 as OASIS publishes it with the standard
// (testdata/README.md).
//
//go:embed testdata/sarif-2.1.0.json
var sarifSchema string

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
	if err := fits(t, schemaOf(t, sarifSchema), text); err != nil {
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

// sarifText has findings with fixes and notes, and one that a comment allows, behind characters of
// two code units.
const sarifText = "\t.syntax unified\n\t.arch armv6-m\n\t.thumb\n\t/* \U0001F600\u00e9 */ movs r0, #300\n\t.byte 1\nw1:\t.word 2 @ \U0001F600 narrowgauge: allow data-alignment -- sent byte by byte\nw1:\t.word 3\n"

// TestSARIF holds what is written of a source with findings of each kind: the schema, the
// regions, the fixes, which are made, the notes and what a comment allows.
func TestSARIF(t *testing.T) {
	dir := t.TempDir()
	text := sarifText
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

// TestSARIFSchema holds that the schema notices what is wrong in what is written.
func TestSARIFSchema(t *testing.T) {
	schema, dir := schemaOf(t, sarifSchema), t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "a.s"), []byte(sarifText), 0o644); err != nil {
		t.Fatal(err)
	}
	text := output(t, dir, "check", "--format", "sarif", "a.s")
	if err := fits(t, schema, text); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct{ what, old, new string }{
		{"another version", `"version": "2.1.0"`, `"version": "2.0.0"`},
		{"a line 0", `"startLine": `, `"startLine": -`},
		{"a level that is none", `"level": "warning"`, `"level": "mild"`},
		{"a message that is a text", `"message": {`, `"message": "points", "other": {`},
		{"a member of our own", `"ruleIndex":`, `"rule_index":`},
		{"no name of the tool", `"name": "narrowgauge"`, `"fullName": "narrowgauge"`},
		{"a fix without changes", `"artifactChanges":`, `"artifacts":`},
		{"columns of another kind", `"columnKind": "utf16CodeUnits"`, `"columnKind": "bytes"`},
		{"a suppression of another kind", `"kind": "inSource"`, `"kind": "comment"`},
	} {
		broken := strings.Replace(text, tt.old, tt.new, 1)
		if broken == text {
			t.Errorf("%s: nothing is changed", tt.what)
		} else if fits(t, schema, broken) == nil {
			t.Errorf("%s fits", tt.what)
		}
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
