package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/rogpeppe/go-internal/diff"
	"github.com/spf13/cobra"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/cmd/lsp/save"
	"narrowgauge/server/project"
)

// maxRounds bounds how often the rewrites of one file are computed again
// because the last round made new ones possible.
const maxRounds = 10

// fixFlags are the flags of fix only.
type fixFlags struct {
	diff    bool
	force   bool
	undo    bool
	journal string
	stdin   string // what standard input is called
}

func fixCommand() *cobra.Command {
	var flags settingFlags
	var own fixFlags
	cmd := &cobra.Command{
		Use:   "fix PATH...",
		Short: "Apply the safe rewrites to files and folders",
		Long: `Apply the rewrites that keep every register, flag and memory byte, until no
more apply. Files are written in place; with --diff the changes are printed
instead. Included files are only read. With the path - the text comes from standard
input, and what becomes of it goes to standard output.

What undoes the changes is kept in a journal: "narrowgauge fix --undo" takes those
of the last run back, and, given once more, makes them again.`,
		ValidArgsFunction: completeSources,
		Args: func(cmd *cobra.Command, args []string) error {
			if own.undo && len(args) > 0 {
				return errors.New("fix --undo takes no path: it takes all of the last run back")
			}
			if own.undo {
				return nil
			}
			return needPaths(cmd, args)
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			defer untilEnded(cmd)()
			if own.undo {
				return undo(cmd, own)
			}
			in, err := readInput(cmd, args, own.stdin)
			if err != nil {
				return err
			}
			if in != nil {
				return filter(cmd, flags, own, args, in)
			}
			return fix(cmd, flags, own, args)
		},
	}
	flags.register(cmd)
	stdinFlag(cmd, &own.stdin)
	cmd.Flags().BoolVar(&own.diff, "diff", false, "print the changes as a unified diff and write nothing")
	cmd.Flags().BoolVar(&own.force, "force", false, "change files that are read-only, too")
	cmd.Flags().BoolVar(&own.undo, "undo", false, "take the changes of the last run back")
	cmd.Flags().StringVar(&own.journal, "journal", "", "keep what undoes the changes in `FILE` instead of the user's journal; \"none\" keeps nothing")
	return cmd
}

// untilEnded makes the signals that end a program end the command's context, so that no file
// is left half done; the function that it returns has to be called at last. What is ignored
// stays so, as nohup has it.
func untilEnded(cmd *cobra.Command) (stop func()) {
	var list []os.Signal
	for _, s := range endings {
		if !signal.Ignored(s) {
			list = append(list, s)
		}
	}
	if len(list) == 0 { // which stands for all
		return func() {}
	}
	ctx, stop := signal.NotifyContext(cmd.Context(), list...)
	cmd.SetContext(ctx)
	return stop
}

func fix(cmd *cobra.Command, flags settingFlags, own fixFlags, args []string) error {
	w, err := newWorkspace(flags, args)
	if err != nil {
		return err
	}
	sources, problems := collect(args, nil)
	out, err := newWriter(cmd, own)
	problems = errors.Join(problems, err)
	// One after the other: a file may include the one before it.
	shown := newProgress(cmd.ErrOrStderr(), len(sources))
	for _, src := range sources {
		if cmd.Context().Err() != nil {
			problems = errors.Join(problems, errors.New("interrupted; the files that follow have not been looked at"))
			break
		}
		old, now, edits, was, err := w.fix(cmd.Context(), src)
		if err == nil && now != old {
			shown.aside(func() { err = out.write(w.paths, src.path, was, old, now, counted(edits, "edit")) })
		}
		problems = errors.Join(problems, err)
		shown.add()
	}
	shown.end()
	return out.end(len(sources), problems, func() { w.remarks(cmd.ErrOrStderr()) })
}

// undo takes the changes of the last run back.
func undo(cmd *cobra.Command, own fixFlags) error {
	out, problems := newWriter(cmd, own)
	if out.journal == nil {
		return errors.Join(problems, errors.New("there is no journal to take changes back from"))
	}
	last, err := out.journal.Last()
	if err != nil {
		return cannotRead(out.journal.Path(), err)
	}
	if len(last) == 0 {
		return fmt.Errorf("%s has no change to take back", out.journal.Path())
	}
	// What was changed last goes back first.
	for _, e := range slices.Backward(last) {
		bounds := project.NewBounds().Named(e.Path)
		text, was, err := bounds.ReadNamed(e.Path)
		if err == nil {
			var before []byte
			var done bool
			if before, done, err = e.Back([]byte(text)); err == nil && done {
				err = out.write(bounds, e.Path, was, text, string(before), "taken back")
			}
			if err != nil {
				err = fmt.Errorf("%s: %w", e.Path, err)
			}
		}
		problems = errors.Join(problems, err)
	}
	return out.end(len(last), problems, func() {})
}

// A writer brings changes to where the user wants them, and says what it did.
type writer struct {
	fixFlags
	stdout, stderr io.Writer
	journal        *save.Journal // nil for none
	changed        int           // files
}

// newWriter opens the journal. Where there can be none, that is the error, and the
// changes can be made all the same.
func newWriter(cmd *cobra.Command, own fixFlags) (*writer, error) {
	out := &writer{fixFlags: own, stdout: cmd.OutOrStdout(), stderr: cmd.ErrOrStderr()}
	path := own.journal
	switch {
	case own.diff && !own.undo, path == "none":
		return out, nil
	case path == "":
		var err error
		if path, err = save.DefaultJournal(); err != nil {
			return out, fmt.Errorf("no place for the journal (%w); --journal gives one", err)
		}
	}
	out.journal = save.NewJournal(path)
	return out, nil
}

// write changes a file, or prints how it would. What was done is said after its name.
func (out *writer) write(within *project.Bounds, path string, was fs.FileInfo, old, now, done string) error {
	if !out.diff && within.Outside(path) {
		return fmt.Errorf("%s: a link leads outside of the files and folders named here, and nothing is written there", path)
	}
	name := display(path)
	if out.diff {
		out.changed++
		_, err := io.WriteString(out.stdout, shownDiff(out.stdout, unified(name, old, now)))
		return err
	}
	place, err := within.Real(path)
	if err == nil {
		change := save.Change{Was: was, Old: []byte(old), New: []byte(now), Force: out.force}
		if out.journal != nil {
			change.Before = func() error {
				if err := out.journal.Add(place.Path(), change.Old, change.New); err != nil {
					return fmt.Errorf("not changed, as the journal cannot be written (%w); --journal names another one, or none", err)
				}
				return nil
			}
		}
		err = replace(place, change)
	}
	left := new(save.LeftError)
	if err == nil || errors.As(err, &left) {
		out.changed++
		fmt.Fprintf(out.stdout, "%s: %s\n", clean(name), done)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return nil
}

// end sums up, and gives the exit code.
func (out *writer) end(of int, problems error, remarks func()) error {
	if !out.diff {
		fmt.Fprintf(out.stdout, "%s changed of %d\n", counted(out.changed, "file"), of)
		if out.changed > 0 && out.journal != nil && !out.undo {
			again := "narrowgauge fix --undo"
			if out.fixFlags.journal != "" {
				again += " --journal " + clean(out.fixFlags.journal)
			}
			fmt.Fprintf(out.stdout, "to take that back: %s\n", again)
		}
	}
	remarks()
	if problems != nil {
		complain(out.stderr, problems)
		return exitCode(2)
	}
	return nil
}

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// fix computes the text of src with all safe rewrites. was is the file that the
// text has been read from.
func (w *workspace) fix(ctx context.Context, src source) (old, now string, edits int, was fs.FileInfo, err error) {
	old, was, err = w.read(src)
	if err != nil {
		return "", "", 0, nil, err
	}
	now = old
	// What the source is taken for is not to change by what is fixed.
	analyze := analysis.AnalyzeGuessing
	var guess *analysis.Guess
	for range maxRounds {
		list, taken, err := w.safeFixes(ctx, src, now, guess, analyze)
		analyze, guess = analysis.Analyze, taken
		if err != nil {
			return old, old, 0, nil, err
		}
		next, err := apply(now, list)
		if err != nil {
			return old, old, 0, nil, fmt.Errorf("%s: %w", src.path, err)
		}
		if next == now {
			break
		}
		edits += len(list)
		now = next
	}
	return old, now, edits, was, nil
}

// safeFixes lists the safe rewrites of a text of src, and says what it was taken for.
func (w *workspace) safeFixes(ctx context.Context, src source, text string, guess *analysis.Guess, analyze func(context.Context, *analysis.Input) (*analysis.Result, error)) ([]analysis.Edit, *analysis.Guess, error) {
	p, err := w.open(src, syntax.Parse(text))
	if err != nil {
		return nil, nil, err
	}
	defer p.close()
	p.in.Guess = guess
	res, err := analyze(ctx, p.in)
	if err != nil {
		return nil, nil, err
	}
	list := res.SafeFixes(ctx, "")
	if err := ctx.Err(); err != nil {
		return nil, nil, err
	}
	if res.Costly() {
		return nil, nil, fmt.Errorf("%s: the safe rewrites would take too long to prove; none is made", src.path)
	}
	return list, res.Guess(), nil
}

// unified is the difference of two texts without the line that names the
// command, which patch tools do not need. A name with characters that would end its line, or
// steer a terminal, is between quotes, as patch tools read it.
func unified(name, old, now string) string {
	d := string(diff.Diff("a", []byte(old), "b", []byte(now)))
	head := "--- a\n+++ b\n"
	if i := strings.Index(d, head); i >= 0 {
		name = filepath.ToSlash(name)
		d = "--- " + quotedName("a/"+name) + "\n+++ " + quotedName("b/"+name) + "\n" + d[i+len(head):]
	}
	return d
}

// quotedName is a name as it stands in the head of a difference: as it is if it can be, and
// else between quotes with the escapes of C.
func quotedName(name string) string {
	if !strings.ContainsFunc(name, func(c rune) bool {
		return c < ' ' || c == '"' || c == '\\' || c >= 0x7f && c < 0xa0 || c == utf8.RuneError || isBidi(c)
	}) {
		return name
	}
	var b strings.Builder
	b.WriteByte('"')
	for _, c := range []byte(name) {
		switch {
		case c == '"' || c == '\\':
			b.WriteByte('\\')
			b.WriteByte(c)
		case c < ' ' || c >= 0x7f:
			fmt.Fprintf(&b, "\\%03o", c)
		default:
			b.WriteByte(c)
		}
	}
	return b.String() + "\""
}

// shownDiff is a difference as it is written to out: on a terminal, what is in the texts cannot
// steer it.
func shownDiff(out io.Writer, d string) string {
	if !isTerminal(out) {
		return d
	}
	lines := strings.SplitAfter(d, "\n")
	for i, l := range lines {
		text, end := strings.CutSuffix(l, "\n")
		lines[i], _ = expand(strings.TrimSuffix(text, "\r"), 0)
		if end {
			lines[i] += "\n"
		}
	}
	return strings.Join(lines, "")
}

// replace changes the file at a place with [save.Replace]: where a symbolic link leads,
// the link stays one. Nothing is written outside of the bounds, whatever has become of
// the folders meanwhile.
func replace(place project.Place, c save.Change) error {
	root, name, err := place.Open()
	if err != nil {
		return err
	}
	defer root.Close()
	c.Name = name
	return save.Replace(save.In(root), c)
}
