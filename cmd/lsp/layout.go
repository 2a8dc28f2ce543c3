package main

import (
	"bufio"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
)

// layoutFormats are those that layout prints.
var layoutFormats = []string{"text", "json", "csv"}

// jsonPlaced is a line of layout in machine output.
type jsonPlaced struct {
	File    string `json:"file"`
	Line    int    `json:"line"` // from 1
	Section string `json:"section"`
	Offset  *int64 `json:"offset"` // in bytes; null: what is in front of it has no known size
	Size    int64  `json:"size"`   // in bytes
	Code    string `json:"code"`   // in hexadecimal, as the manuals write it; empty: data, or not known
	State   string `json:"state"`
	Cycles  string `json:"cycles"`
	Kind    string `json:"kind"` // statement, made (by a macro or repetition), pool
	Text    string `json:"text"`
}

// jsonShare is a part of the map in machine output.
type jsonShare struct {
	Kind    string `json:"kind"`
	Name    string `json:"name"`
	Section string `json:"section"`
	Bytes   int64  `json:"bytes"`
	Exact   bool   `json:"exact"`
	Stack   *int64 `json:"stack"` // in bytes; null: not known, or not a routine
	Cycles  string `json:"cycles"`
}

func layoutCommand() *cobra.Command {
	var flags settingFlags
	var format, stdinPath string
	var parts bool
	cmd := &cobra.Command{
		Use:   "layout FILE",
		Short: "Print where each line of a file is placed, with its code and cycles",
		Long: `Print where each line of a file and of what it includes is placed: its offset in
the section, its bytes, instruction set and cycles. With --map, what sections,
routines and literal pools take. Offsets after something of unknown size are left
out. The exit code is 1 if a line has an error, as its size is not known then.`,
		Args:              cobra.MatchAll(needPaths, cobra.MaximumNArgs(1)),
		ValidArgsFunction: completeSources,
		RunE: func(cmd *cobra.Command, args []string) error {
			if !slices.Contains(layoutFormats, format) {
				return fmt.Errorf("--format: %q is not known; it can be %s", format, strings.Join(layoutFormats, ", "))
			}
			in, err := readInput(cmd, args, stdinPath)
			if err != nil {
				return err
			}
			return showLayout(cmd, flags, args, in, format, parts)
		},
	}
	flags.register(cmd)
	stdinFlag(cmd, &stdinPath)
	cmd.Flags().StringVar(&format, "format", "text", "`FORMAT` of the list: text, json or csv")
	cmd.Flags().BoolVar(&parts, "map", false, "print what sections, routines and pools take")
	return cmd
}

func showLayout(cmd *cobra.Command, flags settingFlags, args []string, in *input, format string, parts bool) error {
	w, err := newWorkspace(flags, args)
	if err != nil {
		return err
	}
	sources, err := collect(args, in)
	if err != nil {
		return err
	}
	if len(sources) != 1 || sources[0].walked {
		return errors.New("layout takes one file, not a folder")
	}
	text, _, err := w.read(sources[0])
	if err != nil {
		return err
	}
	p, err := w.open(sources[0], syntax.Parse(text))
	if err != nil {
		return err
	}
	defer p.close()
	res, err := analysis.AnalyzeGuessing(cmd.Context(), p.in)
	if err != nil {
		return err
	}
	out := bufio.NewWriter(cmd.OutOrStdout())
	switch {
	case parts:
		err = printMap(out, res.Map(), format)
	case format == "text":
		printLayout(out, res.Listing())
	default:
		err = printPlaced(out, res.Listing(), format)
	}
	if err = errors.Join(err, out.Flush()); err != nil {
		return err
	}
	w.remarks(cmd.ErrOrStderr())
	bad := 0
	for _, d := range res.Each() {
		if d.Severity == analysis.Error {
			bad++
		}
	}
	if bad > 0 {
		fmt.Fprintf(cmd.ErrOrStderr(), "narrowgauge: %s; \"narrowgauge check %s\" tells them\n", counted(bad, "error"), clean(display(sources[0].path)))
		return exitCode(1)
	}
	return nil
}

// printLayout prints a table for people, a section's name above its lines.
func printLayout(out io.Writer, list []analysis.Placed) {
	path, section := "", ""
	for i := range list {
		p := &list[i]
		if p.Path != path || p.Section != section {
			path, section = p.Path, p.Section
			fmt.Fprintf(out, "\n%s  %s\n", clean(display(path)), clean(section))
		}
		offset := "?"
		if p.Offset >= 0 {
			offset = fmt.Sprintf("%06x", p.Offset)
		}
		what := p.Code
		if what == "" && p.Size > 0 {
			what = fmt.Sprintf("%d bytes", p.Size)
			if p.Size == 1 {
				what = "1 byte"
			}
		}
		mark := " "
		if p.Made {
			mark = "+"
		}
		text, _, _ := window(clean(p.Text), 0, 0)
		cycles := ""
		if p.Cycles != "" {
			cycles = "  ; " + p.Cycles
		}
		fmt.Fprintf(out, "%6s  %-10s  %-3s %5d%s %s%s\n", offset, what, p.State, p.Line+1, mark, text, cycles)
	}
}

// printPlaced prints the list as data.
func printPlaced(out io.Writer, list []analysis.Placed, format string) error {
	rows := make([]jsonPlaced, 0, len(list))
	for _, p := range list {
		r := jsonPlaced{File: display(p.Path), Line: p.Line + 1, Section: p.Section, Size: p.Size, Code: p.Code, State: p.State, Cycles: p.Cycles, Kind: "statement", Text: p.Text}
		if p.Offset >= 0 {
			r.Offset = &p.Offset
		}
		switch {
		case p.Pool:
			r.Kind = "pool"
		case p.Made:
			r.Kind = "made"
		}
		rows = append(rows, r)
	}
	if format == "json" {
		return printIndented(out, rows)
	}
	table := [][]string{{"file", "line", "section", "offset", "size", "code", "state", "cycles", "kind", "text"}}
	for _, r := range rows {
		table = append(table, []string{r.File, strconv.Itoa(r.Line), r.Section, number(r.Offset), strconv.FormatInt(r.Size, 10), r.Code, r.State, r.Cycles, r.Kind, r.Text})
	}
	return csv.NewWriter(out).WriteAll(table)
}

// number is a number that may be missing.
func number(n *int64) string {
	if n == nil {
		return ""
	}
	return strconv.FormatInt(*n, 10)
}

func printIndented(out io.Writer, v any) error {
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

// barWidth is how many characters the bar of the largest section has.
const barWidth = 40

// printMap prints what the parts of a program take.
func printMap(out io.Writer, list []analysis.Share, format string) error {
	rows := make([]jsonShare, 0, len(list))
	largest := int64(1)
	for _, s := range list {
		r := jsonShare{Kind: s.Kind, Name: s.Name, Section: s.In, Bytes: s.Bytes, Exact: s.Exact, Cycles: s.Cycles}
		if s.Kind == "routine" && s.Stack >= 0 {
			r.Stack = &s.Stack
		}
		rows = append(rows, r)
		if s.Kind == "section" {
			largest = max(largest, s.Bytes)
		}
	}
	switch format {
	case "json":
		return printIndented(out, rows)
	case "csv":
		table := [][]string{{"kind", "name", "section", "bytes", "exact", "stack", "cycles"}}
		for _, r := range rows {
			table = append(table, []string{r.Kind, r.Name, r.Section, strconv.FormatInt(r.Bytes, 10), strconv.FormatBool(r.Exact), number(r.Stack), r.Cycles})
		}
		return csv.NewWriter(out).WriteAll(table)
	}
	for _, r := range rows {
		name, about := r.Name, ""
		if r.Kind != "section" {
			name = "  " + name
		}
		if r.Stack != nil && *r.Stack > 0 {
			about = fmt.Sprintf("  %d bytes of stack", *r.Stack)
		}
		if r.Cycles != "" {
			about += "  " + r.Cycles
		}
		least := ""
		if !r.Exact {
			least = "+" // and something of unknown size
		}
		bar := strings.Repeat("#", int((r.Bytes*barWidth+largest-1)/largest))
		fmt.Fprintln(out, strings.TrimRight(fmt.Sprintf("%-28s %8d%-1s  %-*s%s", clean(name), r.Bytes, least, barWidth, bar, about), " "))
	}
	return nil
}
