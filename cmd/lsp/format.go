package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"

	"github.com/spf13/cobra"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
)

// formatFlags are the flags of format only.
type formatFlags struct {
	fixFlags
	check bool
}

func formatCommand() *cobra.Command {
	var flags settingFlags
	var own formatFlags
	cmd := &cobra.Command{
		Use:   "format PATH...",
		Short: "Lay out the lines of files and folders",
		Long: `Lay out the lines of files: where labels, mnemonics, operands and comments begin,
the blanks after commas, the case of mnemonics, as most lines of a file have it or as
the setting format says. What is assembled stays the same. Files are written in place;
with --diff the changes are printed instead, with --check the names of the files that
would change, and the exit code is 1 if there are any. With the path - the text comes
from standard input, and what becomes of it goes to standard output.

What undoes the changes is kept in the journal of fix: "narrowgauge fix --undo" takes
those of the last run back.`,
		Args:              needPaths,
		ValidArgsFunction: completeSources,
		RunE: func(cmd *cobra.Command, args []string) error {
			defer untilEnded(cmd)()
			if own.diff && own.check {
				return errors.New("--check prints names and --diff changes; one of them, please")
			}
			in, err := readInput(cmd, args, own.stdin)
			if err != nil {
				return err
			}
			if in != nil && len(args) > 1 {
				return errors.New("format - takes no other path: the result goes to standard output")
			}
			return format(cmd, flags, own, args, in)
		},
	}
	flags.register(cmd)
	stdinFlag(cmd, &own.stdin)
	cmd.Flags().BoolVar(&own.diff, "diff", false, "print the changes as a unified diff and write nothing")
	cmd.Flags().BoolVar(&own.check, "check", false, "print the names of files that would change and write nothing")
	cmd.Flags().BoolVar(&own.force, "force", false, "change files that are read-only, too")
	cmd.Flags().StringVar(&own.journal, "journal", "", "keep what undoes the changes in `FILE` instead of the user's journal; \"none\" keeps nothing")
	return cmd
}

func format(cmd *cobra.Command, flags settingFlags, own formatFlags, args []string, in *input) error {
	w, err := newWorkspace(flags, args)
	if err != nil {
		return err
	}
	sources, problems := collect(args, in)
	asked := own.fixFlags
	asked.diff = own.diff || own.check || in != nil
	out, err := newWriter(cmd, asked)
	problems = errors.Join(problems, err)
	would := 0
	for _, src := range sources {
		if cmd.Context().Err() != nil {
			problems = errors.Join(problems, errors.New("interrupted; the files that follow have not been looked at"))
			break
		}
		old, now, edits, was, err := w.format(src)
		switch {
		case err != nil:
		case in != nil && !own.diff && !own.check:
			_, err = io.WriteString(cmd.OutOrStdout(), now)
		case now == old:
		case own.check:
			would++
			fmt.Fprintf(out.stdout, "%s: %s\n", clean(display(src.path)), counted(edits, "edit"))
		default:
			err = out.write(w.paths, src.path, was, old, now, counted(edits, "edit"))
		}
		problems = errors.Join(problems, err)
	}
	if err := out.end(len(sources), problems, func() { w.remarks(cmd.ErrOrStderr()) }); err != nil {
		return err
	}
	if would > 0 {
		return exitCode(1)
	}
	return nil
}

// format lays out the text of src. was is the file that the text has been read from.
func (w *workspace) format(src source) (old, now string, edits int, was fs.FileInfo, err error) {
	old, was, err = w.read(src)
	if err != nil {
		return "", "", 0, nil, err
	}
	set, _, err := w.settings(src)
	if err != nil {
		return "", "", 0, nil, err
	}
	f := syntax.Parse(old)
	list := analysis.Format(f, set, 0, f.NumLines()-1)
	now, err = apply(old, list)
	return old, now, len(list), was, err
}
