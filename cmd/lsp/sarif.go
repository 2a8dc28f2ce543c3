package main

import (
	"bufio"
	"bytes"
	"net/url"
	"path/filepath"
	"strings"

	"narrowgauge/analysis"
)

// The parts of SARIF that are written; names and meaning are those of "Static Analysis
// Results Interchange Format (SARIF) Version 2.1.0", OASIS Standard, section 3. Columns
// count UTF-16 code units from 1.
type (
	sarifTool struct {
		Driver sarifDriver `json:"driver"`
	}
	sarifDriver struct {
		Name    string      `json:"name"`
		Version string      `json:"version"`
		Rules   []sarifRule `json:"rules"`
	}
	sarifRule struct {
		ID            string       `json:"id"`
		Short         sarifMessage `json:"shortDescription"`
		Full          sarifMessage `json:"fullDescription"`
		Help          sarifMessage `json:"help"`
		Configuration sarifLevel   `json:"defaultConfiguration"`
	}
	sarifLevel struct {
		Level string `json:"level"`
	}
	sarifMessage struct {
		Text     string `json:"text"`
		Markdown string `json:"markdown,omitempty"`
	}
	sarifInvocation struct {
		Successful    bool                `json:"executionSuccessful"`
		Notifications []sarifNotification `json:"toolExecutionNotifications,omitempty"`
	}
	sarifNotification struct {
		Level   string       `json:"level"`
		Message sarifMessage `json:"message"`
	}
	sarifResult struct {
		RuleID        string             `json:"ruleId"`
		RuleIndex     int                `json:"ruleIndex"`
		Level         string             `json:"level"`
		Message       sarifMessage       `json:"message"`
		Locations     []sarifLocation    `json:"locations"`
		Related       []sarifLocation    `json:"relatedLocations,omitempty"`
		Fixes         []sarifFix         `json:"fixes,omitempty"`
		Suppressions  []sarifSuppression `json:"suppressions"`
		Fingerprints  map[string]string  `json:"partialFingerprints,omitempty"`
		BaselineState string             `json:"baselineState,omitempty"`
	}
	sarifLocation struct {
		ID       *int          `json:"id,omitempty"`
		Physical sarifPhysical `json:"physicalLocation"`
		Message  *sarifMessage `json:"message,omitempty"`
	}
	sarifPhysical struct {
		Artifact sarifArtifact `json:"artifactLocation"`
		Region   sarifRegion   `json:"region"`
	}
	sarifArtifact struct {
		URI    string `json:"uri"`
		BaseID string `json:"uriBaseId,omitempty"`
	}
	sarifRegion struct {
		StartLine   int `json:"startLine"`
		StartColumn int `json:"startColumn"`
		EndLine     int `json:"endLine"`
		EndColumn   int `json:"endColumn"`
	}
	sarifFix struct {
		Description sarifMessage  `json:"description"`
		Changes     []sarifChange `json:"artifactChanges"`
	}
	sarifChange struct {
		Artifact     sarifArtifact      `json:"artifactLocation"`
		Replacements []sarifReplacement `json:"replacements"`
	}
	sarifReplacement struct {
		Deleted  sarifRegion  `json:"deletedRegion"`
		Inserted sarifMessage `json:"insertedContent"`
	}
	sarifSuppression struct {
		Kind          string         `json:"kind"`
		Status        string         `json:"status"`
		Justification string         `json:"justification,omitempty"`
		Location      *sarifLocation `json:"location,omitempty"`
	}
)

// sarifBase stands for the folder in which the program ran, to which paths are relative
// (section 3.4.4); where that is, is left to whoever reads the file.
const sarifBase = "SRCROOT"

// sarifLevelOf is the level of a severity (section 3.27.10).
func sarifLevelOf(severity string) string {
	switch severity {
	case "error", "warning":
		return severity
	}
	return "note"
}

// sarifReport prints findings as one run: what is known of it first, then the results, and
// last whether it has gone well.
type sarifReport struct {
	out   *bufio.Writer
	one   bytes.Buffer
	index map[string]int // of the rules, by their codes
	any   bool
}

// begin prints what comes before the results. The log is an object whose last member is the
// list of runs, and the run one whose last members are the results and the invocations.
func (r *sarifReport) begin() error {
	driver := sarifDriver{Name: "narrowgauge", Version: version()}
	r.index = map[string]int{}
	for i, c := range analysis.Checks() {
		r.index[c.Code] = i
		text, _, _ := analysis.Explain(c.Code)
		driver.Rules = append(driver.Rules, sarifRule{ID: c.Code, Short: sarifMessage{Text: c.Title + "."}, Full: sarifMessage{Text: c.Explanation},
			Help: sarifMessage{Text: c.Explanation, Markdown: text}, Configuration: sarifLevel{sarifLevelOf(c.Severity.String())}})
	}
	for _, part := range []struct {
		before string
		item   any
	}{
		{"{\n  \"$schema\": ", "https://docs.oasis-open.org/sarif/sarif/v2.1.0/os/schemas/sarif-schema-2.1.0.json"},
		{",\n  \"version\": ", "2.1.0"},
		{",\n  \"runs\": [\n    {\n      \"tool\": ", sarifTool{driver}},
		{",\n      \"columnKind\": ", "utf16CodeUnits"},
	} {
		if err := encodeItem(r.out, &r.one, part.before, "      ", part.item); err != nil {
			return err
		}
	}
	_, err := r.out.WriteString(",\n      \"results\": [")
	return err
}

func (r *sarifReport) add(f *found) error {
	if r.index == nil {
		if err := r.begin(); err != nil {
			return err
		}
	}
	if f.more > 0 {
		return nil // a sum of others
	}
	before := ",\n        "
	if !r.any {
		before = "\n        "
	}
	r.any = true
	return encodeItem(r.out, &r.one, before, "        ", sarifResultOf(f, r.index))
}

func (r *sarifReport) end(all *tally) error {
	if r.index == nil {
		if err := r.begin(); err != nil {
			return err
		}
	}
	if r.any {
		r.out.WriteString("\n      ") // what goes wrong is told by Flush
	}
	run := sarifInvocation{Successful: all.problems == nil}
	if all.problems != nil {
		for line := range strings.SplitSeq(all.problems.Error(), "\n") {
			run.Notifications = append(run.Notifications, sarifNotification{"error", sarifMessage{Text: clean(line)}})
		}
	}
	if err := encodeItem(r.out, &r.one, "],\n      \"invocations\": ", "      ", []sarifInvocation{run}); err != nil {
		return err
	}
	r.out.WriteString("\n    }\n  ]\n}\n")
	return r.out.Flush()
}

func sarifResultOf(f *found, index map[string]int) sarifResult {
	j := &f.json
	r := sarifResult{RuleID: j.Code, RuleIndex: index[j.Code], Level: sarifLevelOf(j.Severity), Message: sarifMessage{Text: j.Message},
		Locations:    []sarifLocation{{Physical: sarifPhysical{sarifFile(j.File), sarifRegion{j.Line, j.Column, j.EndLine, j.EndColumn}}}},
		Suppressions: []sarifSuppression{}}
	if f.mark != "" {
		r.Fingerprints = map[string]string{"line/v1": f.mark}
	}
	for i, n := range j.Notes {
		id := i
		r.Related = append(r.Related, sarifLocation{&id, sarifPhysical{sarifFile(n.File), sarifRegion{n.Line, n.Column, n.EndLine, n.EndColumn}}, &sarifMessage{Text: n.Message}})
	}
	for _, w := range j.Rewrites {
		title := w.Title
		if !w.Safe {
			title += " (review before use)"
		}
		change := sarifChange{Artifact: sarifFile(j.File)}
		for _, e := range w.Edits {
			change.Replacements = append(change.Replacements, sarifReplacement{sarifRegion{e.Line, e.Column, e.EndLine, e.EndColumn}, sarifMessage{Text: e.Text}})
		}
		if len(change.Replacements) > 0 {
			r.Fixes = append(r.Fixes, sarifFix{sarifMessage{Text: title}, []sarifChange{change}})
		}
	}
	switch {
	case f.allowed != nil:
		at := f.allowed.at
		r.Suppressions = append(r.Suppressions, sarifSuppression{Kind: "inSource", Status: "accepted", Justification: f.allowed.why,
			Location: &sarifLocation{Physical: sarifPhysical{sarifFile(j.File), sarifRegion{at.line, at.column, at.line, at.column + len(j.Code)}}}})
	case f.state == knownFinding:
		r.BaselineState = "unchanged"
		r.Suppressions = append(r.Suppressions, sarifSuppression{Kind: "external", Status: "accepted"})
	case f.state == fresh:
		r.BaselineState = "new"
	}
	return r
}

// sarifFile is a file by its URI, relative where its path is (section 3.4).
func sarifFile(path string) sarifArtifact {
	u := url.URL{Path: filepath.ToSlash(path)}
	if filepath.IsAbs(path) {
		if !strings.HasPrefix(u.Path, "/") {
			u.Path = "/" + u.Path
		}
		u.Scheme = "file"
		return sarifArtifact{URI: u.String()}
	}
	return sarifArtifact{URI: u.String(), BaseID: sarifBase}
}
