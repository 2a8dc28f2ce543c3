package main

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
)

// baseline has the findings that a project had when it started to be checked: they are
// known, and only others are told. A finding is known by its file, its check and the text of
// its line, whatever line that is, and so many times as there are such lines.
type baseline struct {
	path  string
	count map[baselineKey]int // how many are known
	line  map[baselineKey]string
	files map[string]bool // the files of these
}

type baselineKey struct{ file, code, mark string }

// baselineState says what a baseline knows of a finding.
type baselineState uint8

const (
	unasked baselineState = iota
	fresh
	knownFinding
)

// baselineFile is the JSON of a baseline.
type baselineFile struct {
	About    string         `json:"about"`
	Findings []baselineItem `json:"findings"`
}

type baselineItem struct {
	File  string `json:"file"` // from the folder of the baseline, with slashes
	Code  string `json:"code"`
	Line  string `json:"line"` // its text, for people; blanks as one
	Mark  string `json:"mark"` // of that text
	Count int    `json:"count"`
}

// maxBaseline is the largest baseline, in bytes, that is read.
const maxBaseline = 64 << 20

// maxKnown is how many findings of a kind are known at most.
const maxKnown = 1 << 30

// markOf tells a finding from others of its check in its file by the text of its line,
// in which any number of blanks is one.
func markOf(file *syntax.File, d analysis.Diagnostic) (mark, text string) {
	at := max(0, min(d.Span.Start, len(file.Text())))
	text = strings.Join(strings.Fields(lineText(file, file.LineAt(at))), " ")
	sum := sha256.Sum256([]byte(d.Code + "\n" + text))
	return hex.EncodeToString(sum[:8]), text
}

// readBaseline reads a baseline.
func readBaseline(path string) (*baseline, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("--baseline: %w; --write-baseline makes one", cannotRead(path, err))
	}
	if !info.Mode().IsRegular() || info.Size() > maxBaseline {
		return nil, fmt.Errorf("--baseline: %s is no file of at most %d MiB", path, maxBaseline>>20)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("--baseline: %w", cannotRead(path, err))
	}
	var read baselineFile
	if err := json.Unmarshal(data, &read); err != nil {
		return nil, fmt.Errorf("--baseline: %s is not what --write-baseline writes (%w)", path, err)
	}
	b := &baseline{path: absolute(path), count: map[baselineKey]int{}, line: map[baselineKey]string{}, files: map[string]bool{}}
	for _, f := range read.Findings {
		k := baselineKey{f.File, f.Code, f.Mark}
		b.count[k] = min(b.count[k]+min(max(f.Count, 1), maxKnown), maxKnown)
		b.line[k] = f.Line
		b.files[f.File] = true
	}
	return b, nil
}

// relative is how a baseline calls a file.
func (b *baseline) relative(abs string) string {
	if rel, err := filepath.Rel(filepath.Dir(b.path), abs); err == nil {
		return filepath.ToSlash(rel)
	}
	return filepath.ToSlash(abs)
}

// met counts the findings of one program that are known.
type met map[baselineKey]int

// state says whether a finding is known. More of a kind than there were are fresh.
func (b *baseline) state(met met, abs string, d analysis.Diagnostic, mark string) baselineState {
	if b == nil {
		return unasked
	}
	k := baselineKey{b.relative(abs), d.Code, mark}
	if met[k] >= b.count[k] {
		return fresh
	}
	met[k]++
	return knownFinding
}

// gone lists what is known of the files that were looked at and is no longer there; most
// is what is still met.
func (b *baseline) gone(most met, looked map[string]bool) (out []string) {
	if b == nil {
		return nil
	}
	for k, n := range b.count {
		if left := n - most[k]; left > 0 && looked[k.file] {
			out = append(out, fmt.Sprintf("%s: %s of %s gone: %s", clean(k.file), counted(left, "known finding"), k.code, clean(b.line[k])))
		}
	}
	slices.Sort(out)
	return out
}

// baselineReport writes all findings as known ones.
type baselineReport struct {
	out   io.Writer
	path  string
	b     *baseline
	items map[baselineKey]*baselineItem
	total int
}

func (r *baselineReport) add(f *found) error {
	if f.allowed != nil || f.mark == "" {
		return nil
	}
	r.total++
	k := baselineKey{r.b.relative(f.abs), f.diag.Code, f.mark}
	if r.items[k] == nil {
		r.items[k] = &baselineItem{File: k.file, Code: k.code, Line: f.line, Mark: k.mark}
	}
	r.items[k].Count++
	return nil
}

func (r *baselineReport) end(*tally) error {
	path, items := r.path, r.items
	file := baselineFile{About: "Findings that were there when this was written, by narrowgauge check --write-baseline. Those that a check with --baseline does not find again can go from here.", Findings: []baselineItem{}}
	for _, k := range slices.SortedFunc(maps.Keys(items), func(a, b baselineKey) int {
		return strings.Compare(a.file+"\n"+a.code+"\n"+items[a].Line+a.mark, b.file+"\n"+b.code+"\n"+items[b].Line+b.mark)
	}) {
		file.Findings = append(file.Findings, *items[k])
	}
	text, err := json.MarshalIndent(file, "", "  ")
	if err != nil {
		return err
	}
	if len(text) >= maxBaseline {
		return fmt.Errorf("--write-baseline: %d MiB of findings are more than the %d MiB that are read; give fewer files", len(text)>>20, maxBaseline>>20)
	}
	was, err := os.Lstat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		was = nil
	case err != nil:
		return cannotRead(path, err)
	default:
		// Another file of that name is somebody's work.
		if _, err := readBaseline(path); err != nil {
			return fmt.Errorf("--write-baseline: %s is there and is no baseline; it is left as it is", path)
		}
	}
	if err := writeProject(path, string(text)+"\n", was); err != nil {
		return fmt.Errorf("--write-baseline: %w", err)
	}
	_, err = fmt.Fprintf(r.out, "%s: %s\n", clean(display(path)), counted(r.total, "known finding"))
	return err
}
