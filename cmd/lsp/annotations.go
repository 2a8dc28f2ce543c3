package main

import (
	"bufio"
	"fmt"
	"strings"

	"narrowgauge/analysis"
)

// The escapes of a command in the log of a workflow, in its text and in its properties
// (the documentation of GitHub Actions, "Workflow commands"; from memory).
var (
	annotationText  = strings.NewReplacer("%", "%25", "\r", "%0D", "\n", "%0A")
	annotationValue = strings.NewReplacer("%", "%25", "\r", "%0D", "\n", "%0A", ":", "%3A", ",", "%2C")
)

// annotations prints findings as commands that GitHub shows beside the lines of a change.
// Columns are given where a finding is within one line, as others are refused.
type annotations struct {
	out   *bufio.Writer
	hints bool
}

func (r *annotations) add(f *found) error {
	if f.allowed != nil || f.state == knownFinding || f.diag.Severity == analysis.Hint && !r.hints {
		return nil
	}
	j := &f.json
	kind := map[string]string{"error": "error", "warning": "warning"}[j.Severity]
	if kind == "" {
		kind = "notice"
	}
	place := fmt.Sprintf("file=%s,line=%d,endLine=%d", annotationValue.Replace(j.File), j.Line, j.EndLine)
	if j.Line == j.EndLine {
		place += fmt.Sprintf(",col=%d,endColumn=%d", j.Column, j.EndColumn)
	}
	_, err := fmt.Fprintf(r.out, "::%s %s,title=%s::%s\n", kind, place, annotationValue.Replace(j.Code), annotationText.Replace(j.Message))
	return err
}

func (r *annotations) end(*tally) error { return r.out.Flush() }
