package main

import (
	"encoding/json"
	"io"
	"net/url"
	"path/filepath"
	"strings"

	"narrowgauge/analysis"
)

// The parts of SARIF that are written; names and meaning are those of "Static Analysis
// Results Interchange Format (SARIF) Version 2.1.0", OASIS Standard, section 3. Columns
// count UTF-16 code units from 1.
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

// printSARIF prints findings as one run; problems are what could not be read.
func printSARIF(out io.Writer, all []found, problems error) error {
	driver := sarifDriver{Name: "narrowgauge", Version: version()}
	index := map[string]int{}
	for i, c := range analysis.Checks() {
		index[c.Code] = i
		text, _, _ := analysis.Explain(c.Code)
		driver.Rules = append(driver.Rules, sarifRule{ID: c.Code, Short: sarifMessage{Text: c.Title + "."}, Full: sarifMessage{Text: c.Explanation},
			Help: sarifMessage{Text: c.Explanation, Markdown: text}, Configuration: sarifLevel{sarifLevelOf(c.Severity.String())}})
	}
	run := sarifRun{Tool: sarifTool{driver}, Invocations: []sarifInvocation{{Successful: problems == nil}}, ColumnKind: "utf16CodeUnits", Results: []sarifResult{}}
	if problems != nil {
		for line := range strings.SplitSeq(problems.Error(), "\n") {
			run.Invocations[0].Notifications = append(run.Invocations[0].Notifications, sarifNotification{"error", sarifMessage{Text: clean(line)}})
		}
	}
	for i := range all {
		run.Results = append(run.Results, sarifResultOf(&all[i], index))
	}
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(sarifLog{"https://docs.oasis-open.org/sarif/sarif/v2.1.0/os/schemas/sarif-schema-2.1.0.json", "2.1.0", []sarifRun{run}})
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
