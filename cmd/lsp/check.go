package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"unicode/utf16"

	"github.com/spf13/cobra"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
)

// formats are those that check prints.
var formats = []string{"text", "json", "sarif", "github"}

// maxMemory is what the process may take, with what is still to be collected. It is
// soft; what one source can come to is below it, as syntax.MaxParts and the bounds of a
// program say.
const maxMemory = 900 << 20

// tuneOneShot trades memory for speed in a process that ends soon: 100,000 lines
// take some 50 MB whether they are collected on the way or not.
func tuneOneShot() {
	debug.SetGCPercent(1600)
	debug.SetMemoryLimit(maxMemory) // past it, collect as usual
}

func checkCommand() *cobra.Command {
	var flags settingFlags
	var format string
	var how listing
	var stdinPath string
	cmd := &cobra.Command{
		Use:   "check PATH...",
		Short: "Print the findings in files and folders",
		Long: `Print the findings in files, and in all .s, .S, .sx and .asm files in folders.
What they include is checked as part of them. The path - is standard input; the
option --stdin-path says what it is called and where it is. The exit code is 1 if
there are errors, 2 if something could not be read.`,
		Args:              needPaths,
		ValidArgsFunction: completeSources,
		RunE: func(cmd *cobra.Command, args []string) error {
			if !slices.Contains(formats, format) {
				return fmt.Errorf("--format: %q is not known; it can be %s", format, strings.Join(formats, ", "))
			}
			if how.format = format; !how.text() && how.summary {
				return fmt.Errorf("--summary is for text; %s has all findings", format)
			}
			if how.write != "" && (!how.text() || how.baseline != "" || how.summary) {
				return errors.New("--write-baseline writes all findings to its file, and takes no other way to show them")
			}
			in, err := readInput(cmd, args, stdinPath)
			if err != nil {
				return err
			}
			return check(cmd, flags, args, in, how)
		},
	}
	flags.register(cmd)
	stdinFlag(cmd, &stdinPath)
	cmd.Flags().StringVar(&format, "format", "text", "`FORMAT` of the findings: text, json, sarif (SARIF 2.1.0) or github (annotations of a workflow)")
	cmd.Flags().StringVar(&how.baseline, "baseline", "", "leave out the findings that are known in `FILE`, and say which of those are gone")
	cmd.Flags().StringVar(&how.write, "write-baseline", "", "write the findings to `FILE` as known ones")
	cmd.Flags().BoolVar(&how.hints, "hints", false, "print hints in text too, such as each symbol that the linker must supply")
	cmd.Flags().BoolVar(&how.rewrites, "rewrites", true, "look for rewrites; --rewrites=false takes less time")
	cmd.Flags().BoolVar(&how.summary, "summary", false, "print only how many findings of each check there are")
	cmd.Flags().BoolVar(&how.all, "all", false, fmt.Sprintf("print all findings in text, not the first %d of a line, %d of a file and %d in all, and look for rewrites of all of them, which may take long", maxShownLine, maxShownFile, maxShownTotal))
	return cmd
}

func needPaths(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return fmt.Errorf("%s needs the path of a file or folder", cmd.Name())
	}
	return nil
}

// found is a finding, ready to be printed.
type found struct {
	abs  string
	diag analysis.Diagnostic
	json jsonFinding
	text string
	more int  // it is so many findings that are not printed
	safe bool // a safe rewrite is printed with it

	allowed    *allowed // what allows it; nil: nothing does
	state      baselineState
	mark, line string // by which a baseline knows it
}

// allowed is the place in the finding's file of the comment that allows it, and the reason there.
type allowed struct {
	at  linePlace
	why string
}

// jsonFinding is a finding in machine output. Lines and columns count from
// 1, columns in bytes; the end is the position after the last byte.
type jsonFinding struct {
	File      string `json:"file"`
	Line      int    `json:"line"`
	Column    int    `json:"column"`
	EndLine   int    `json:"endLine"`
	EndColumn int    `json:"endColumn"`
	Severity  string `json:"severity"`
	Code      string `json:"code"`
	Message   string `json:"message"`
	// Notes are other places that belong to the finding, with those of the same cause.
	Notes []jsonNote `json:"notes"`
	// Rewrites are those that are offered, best first; null where none was looked for.
	Rewrites []jsonRewrite `json:"rewrites"`
}

// jsonNote is a place that belongs to a finding, counted as that is.
type jsonNote struct {
	File      string `json:"file"`
	Line      int    `json:"line"`
	Column    int    `json:"column"`
	EndLine   int    `json:"endLine"`
	EndColumn int    `json:"endColumn"`
	Message   string `json:"message"`
}

// jsonRewrite is a rewrite that is offered for a finding.
type jsonRewrite struct {
	Name  string     `json:"name"`  // that explain takes
	Title string     `json:"title"` // with its cost in words
	Safe  bool       `json:"safe"`
	Cost  int        `json:"cost"` // in bytes, padding with it; less than 0: it saves some
	Edits []jsonEdit `json:"edits"`
}

// jsonEdit puts a text in the place of another one, in the finding's file; those of a rewrite
// are in order, do not overlap, and are all made or none.
type jsonEdit struct {
	Line      int    `json:"line"`
	Column    int    `json:"column"`
	EndLine   int    `json:"endLine"`
	EndColumn int    `json:"endColumn"`
	Text      string `json:"text"`
}

// checked is the outcome for one source.
type checked struct {
	source
	err      error
	found    []found
	includes []string // absolute
	prelude  []string // that its settings name
	guessed  bool     // the target was
	met      met      // what the baseline knows
	skipped  bool     // not every finding was searched for rewrites
	rest     [4]int   // findings in the source itself that are not in found, by severity
	links    *analysis.LinkFile
	groups   []string // what a build makes of it
}

func check(cmd *cobra.Command, flags settingFlags, args []string, in *input, how listing) error {
	w, err := newWorkspace(flags, args)
	if err != nil {
		return err
	}
	if how.baseline != "" {
		if w.known, err = readBaseline(how.baseline); err != nil {
			return err
		}
	}
	if how.write != "" {
		defer untilEnded(cmd)()
	}
	sources, problems := collect(args, in)
	stdout, stderr := cmd.OutOrStdout(), cmd.ErrOrStderr()
	style := styleFor(stdout)
	how.several = len(sources) > 1
	w.scanAll(sources)

	all := newTally(w, how, newReport(stdout, style, how, args))
	defer all.close()
	all.problems = problems
	shown := newProgress(stderr, len(sources))
	err = inOrder(sources, shown, func(i int) checked { return w.check(cmd.Context(), sources[i], how, style) }, all.take)
	shown.end()
	if err == nil {
		err = all.rest(cmd.Context(), sources, style)
	}
	if err == nil && how.write != "" && cmd.Context().Err() != nil {
		err = errors.New("interrupted; no baseline is written")
	}
	if err == nil {
		err = all.report.end(all)
	}
	if err != nil {
		return err
	}
	for _, line := range w.known.gone(all.met, all.looked) {
		fmt.Fprintf(stderr, "narrowgauge: %s\n", line)
	}
	w.remarks(stderr)
	if all.problems != nil {
		complain(stderr, all.problems)
		return exitCode(2)
	}
	if all.count[analysis.Error] > 0 && how.write == "" {
		return exitCode(1)
	}
	return nil
}

// listing says how findings are printed.
type listing struct {
	format   string // of formats
	baseline string // the file with what is known; empty: there is none
	write    string // the file to write that to
	rewrites bool   // with those that are offered
	several  bool   // there are several sources, which may not fit together
	summary  bool   // only how many there are of each check
	hints    bool   // with hints
	all      bool   // without a bound
}

// text says whether people read it.
func (how *listing) text() bool { return how.format == "" || how.format == "text" }

// each says whether all findings are kept, to be printed or written as data.
func (how *listing) each() bool { return !how.text() || how.write != "" }

func summary(s style, count [4]int, files int) string {
	var parts []string
	for sev, n := range count {
		if n == 0 {
			continue
		}
		name := [...]string{"error", "warning", "remark", "hint"}[sev]
		if n > 1 {
			name += "s"
		}
		parts = append(parts, s.severity(analysis.Severity(sev), fmt.Sprintf("%d %s", n, name)))
	}
	where := "1 file"
	if files != 1 {
		where = fmt.Sprintf("%d files", files)
	}
	if parts == nil {
		return "no findings in " + where
	}
	return strings.Join(parts, ", ") + " in " + where
}

// check analyses one file once and prepares what is printed.
func (w *workspace) check(ctx context.Context, src source, how listing, style style) (out checked) {
	out.source = src
	text, _, err := w.read(src)
	if err != nil {
		out.err = err
		return out
	}
	p, err := w.open(src, syntax.Parse(text))
	if err != nil {
		out.err = err
		return out
	}
	defer p.close()
	res, err := analysis.AnalyzeGuessing(ctx, p.in)
	if err != nil {
		out.err = err
		return out
	}
	for _, path := range res.Includes() {
		out.includes = append(out.includes, absolute(path))
	}
	out.prelude = p.in.Set.Prelude
	r := newRenderer(p, how, style)
	if how.rewrites && !how.summary && how.write == "" && how.format != "github" {
		r.rewrites(ctx, res)
		out.skipped = r.skipped
	}
	out.guessed = res.Guess() != nil
	if how.several {
		out.links = res.Links().Outside()
		out.groups = w.commands.Groups(src.abs, p.in.Set.CompileCommands, w.bounds(src))
	}
	out.met = met{}
	for _, d := range res.Diagnostics() {
		w.keep(&out, r, d, how)
	}
	if how.format == "sarif" {
		for _, s := range res.Suppressed() {
			w.keepAllowed(&out, r, s)
		}
	}
	return out
}

// newRenderer prints the findings of a program as they are to be listed.
func newRenderer(p *program, how listing, style style) *renderer {
	r := &renderer{place: place, style: style, all: how.all, each: how.each(), hints: how.hints || how.each(), p: p}
	if how.format == "sarif" || how.format == "github" {
		r.place = placeUTF16
	}
	return r
}

// keep prepares a finding, unless the baseline knows it.
func (w *workspace) keep(out *checked, r *renderer, d analysis.Diagnostic, how listing) {
	file := r.p.file(d.Path)
	if file == nil {
		return // the analysis names only what was loaded
	}
	f := found{abs: r.absolute(d.Path), diag: d}
	// Hints are not of a baseline: most are about what another file has to give.
	if (w.known != nil || how.each()) && d.Severity != analysis.Hint {
		f.mark, f.line = markOf(file, d)
		f.state = w.known.state(out.met, f.abs, d, f.mark)
	}
	if f.state == knownFinding && how.format != "sarif" {
		return
	}
	if how.each() || how.summary {
		f.json = r.json(d, file)
	} else if (d.Severity != analysis.Hint || how.hints) && r.fits(d, file) {
		f.text = r.finding(d, file)
		f.safe = r.best[findingKey{d.Code, d.Span}].Safe && d.Path == out.path
	}
	if f.text == "" && !how.each() && !how.summary && f.abs == out.abs {
		out.rest[d.Severity]++
		return
	}
	f.diag.Related = nil // it leads to the text of the program
	out.found = append(out.found, f)
}

// keepAllowed prepares a finding that a comment allows.
func (w *workspace) keepAllowed(out *checked, r *renderer, s analysis.Suppressed) {
	file := r.p.file(s.Path)
	if file == nil {
		return
	}
	f := found{abs: r.absolute(s.Path), diag: s.Diagnostic, json: r.json(s.Diagnostic, file), allowed: &allowed{r.place(file, s.Comment.Span.Start), s.Why}}
	f.mark, f.line = markOf(file, s.Diagnostic)
	f.diag.Related = nil
	out.found = append(out.found, f)
}

// absolute is the absolute path of a file: many findings are about one, and the system is
// asked for the current folder each time.
func (r *renderer) absolute(path string) string {
	abs, ok := r.at[path]
	if !ok {
		if r.at == nil {
			r.at = map[string]string{}
		}
		abs = absolute(path)
		r.at[path] = abs
	}
	return abs
}

func absolute(path string) string {
	abs, err := filepath.Abs(path)
	if err != nil {
		return path
	}
	return abs
}

// linePlace is a line and a column in bytes, both counted from 1.
type linePlace struct{ line, column int }

func place(f *syntax.File, off int) linePlace {
	off = max(0, min(off, len(f.Text())))
	line := f.LineAt(off)
	return linePlace{line + 1, off - f.LineStart(line) + 1}
}

// placeUTF16 is place with columns in UTF-16 code units.
func placeUTF16(f *syntax.File, off int) linePlace {
	p := place(f, off)
	start := f.LineStart(p.line - 1)
	units := 0
	for _, c := range f.Text()[start : start+p.column-1] {
		units += max(1, utf16.RuneLen(c)) // a byte that is no text counts as one
	}
	return linePlace{p.line, units + 1}
}
