package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"

	"narrowgauge/analysis"
)

// reporter prints findings in some format, one at a time: none is kept.
type reporter interface {
	// add prints a finding, or notes it.
	add(f *found) error
	// end prints what comes last.
	end(all *tally) error
}

// newReport is the report that is asked for; args are the paths of the command line.
func newReport(out io.Writer, style style, how listing, args []string) reporter {
	switch {
	case how.write != "":
		return &baselineReport{out: out, path: how.write, b: &baseline{path: absolute(how.write)}, items: map[baselineKey]*baselineItem{}}
	case how.format == "json":
		return &jsonReport{out: bufio.NewWriter(out)}
	case how.format == "sarif":
		return &sarifReport{out: bufio.NewWriter(out)}
	case how.format == "github":
		return &annotations{out: bufio.NewWriter(out), hints: how.hints}
	}
	return &textReport{out: out, style: style, how: how, args: args, more: map[string]int{}, checks: map[string]*checkCount{}}
}

// textReport prints findings for people, and of those that are more than fit how many they
// are, by file. The findings of a file may be apart: a source that two others include has
// more in one of them.
type textReport struct {
	out   io.Writer
	style style
	how   listing
	args  []string // the paths of the command line

	printed int
	safe    bool   // a safe rewrite is offered
	code    string // of the first error
	more    map[string]int
	order   []string
	checks  map[string]*checkCount // for a summary
	codes   []string               // of these, as they have come
}

func (r *textReport) add(f *found) error {
	if r.code == "" && f.diag.Severity == analysis.Error {
		r.code = f.diag.Code
	}
	r.safe = r.safe || f.safe
	if r.how.summary {
		r.sum(f)
		return nil
	}
	if f.diag.Severity == analysis.Hint && !r.how.hints {
		return nil
	}
	if f.text == "" || r.printed >= maxShownTotal && !r.how.all {
		if r.more[f.diag.Path] == 0 {
			r.order = append(r.order, f.diag.Path)
		}
		r.more[f.diag.Path] += max(f.more, 1)
		return nil
	}
	r.printed++
	_, err := io.WriteString(r.out, f.text)
	return err
}

func (r *textReport) end(all *tally) error {
	if r.how.summary {
		r.summary()
	}
	if err := r.left(); err != nil {
		return err
	}
	if all.skipped {
		fmt.Fprintln(r.out, r.style.dim("Not every finding was searched for rewrites; \"fix --diff\" shows all the safe ones."))
	}
	if all.files > 0 {
		fmt.Fprintln(r.out, summary(r.style, all.count, all.files))
	}
	if n := all.knownCount(); n > 0 {
		fmt.Fprintln(r.out, r.style.dim(counted(n, "known finding")+" of the baseline not shown"))
	}
	if all.count[analysis.Hint] > 0 && !r.how.hints {
		fmt.Fprintln(r.out, r.style.dim("The option --hints prints the hints."))
	}
	if next := r.advice(all.guessed); next != "" {
		fmt.Fprintln(r.out, r.style.dim(next))
	}
	return nil
}

// left prints how many findings are not printed, by file.
func (r *textReport) left() error {
	const maxFiles = 20
	for i, path := range r.order {
		if i == maxFiles && !r.how.all {
			rest := 0
			for _, path := range r.order[i:] {
				rest += r.more[path]
			}
			fmt.Fprintln(r.out, r.style.dim(fmt.Sprintf("%s more in %s", counted(rest, "finding"), counted(len(r.order)-i, "other file"))))
			break
		}
		fmt.Fprintln(r.out, r.style.dim(fmt.Sprintf("%s: %s more", clean(display(path)), counted(r.more[path], "finding"))))
	}
	if len(r.order) == 0 {
		return nil
	}
	_, err := fmt.Fprintln(r.out, r.style.dim("The option --all prints all of them."))
	return err
}

// jsonReport prints one list.
type jsonReport struct {
	out *bufio.Writer
	one bytes.Buffer
	any bool
}

func (r *jsonReport) add(f *found) error {
	before := ",\n  "
	if !r.any {
		before = "[\n  "
	}
	r.any = true
	return encodeItem(r.out, &r.one, before, "  ", &f.json)
}

func (r *jsonReport) end(*tally) error {
	if !r.any {
		r.out.WriteString("[]\n") // what goes wrong is told by Flush
	} else {
		r.out.WriteString("\n]\n")
	}
	return r.out.Flush()
}

// encodeItem writes an item of a list, indented, behind what comes before it; one is room
// for it.
func encodeItem(out *bufio.Writer, one *bytes.Buffer, before, indent string, item any) error {
	one.Reset()
	enc := json.NewEncoder(one)
	enc.SetEscapeHTML(false)
	enc.SetIndent(indent, "  ")
	if err := enc.Encode(item); err != nil {
		return err
	}
	out.WriteString(before)
	_, err := out.Write(bytes.TrimSuffix(one.Bytes(), []byte("\n")))
	return err
}
