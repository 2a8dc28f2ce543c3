package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/rogpeppe/go-internal/diff"
	"github.com/spf13/cobra"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/server/project"
)

// maxRounds bounds how often the rewrites of one file are computed again
// because the last round made new ones possible.
const maxRounds = 10

func fixCommand() *cobra.Command {
	var flags settingFlags
	var asDiff bool
	cmd := &cobra.Command{
		Use:   "fix PATH...",
		Short: "Apply the safe rewrites to files and folders",
		Long: `Apply the rewrites that keep every register, flag and memory byte, until no
more apply. Files are written in place; with --diff the changes are printed
instead. Included files are only read.`,
		Args: needPaths,
		RunE: func(cmd *cobra.Command, args []string) error { return fix(cmd, flags, args, asDiff) },
	}
	flags.register(cmd)
	cmd.Flags().BoolVar(&asDiff, "diff", false, "print the changes as a unified diff and write nothing")
	return cmd
}

func fix(cmd *cobra.Command, flags settingFlags, args []string, asDiff bool) error {
	tuneOneShot()
	w, err := newWorkspace(flags, args)
	if err != nil {
		return err
	}
	sources, problems := collect(args)
	stdout, stderr := cmd.OutOrStdout(), cmd.ErrOrStderr()
	total := 0
	// One after the other: a file may include the one before it.
	for _, src := range sources {
		old, now, edits, was, err := w.fix(cmd.Context(), src)
		if err == nil && now != old && !asDiff && w.paths.Outside(src.path) {
			err = fmt.Errorf("%s: a link leads outside of the files and folders named here, and nothing is written there", src.path)
		}
		if err == nil && now != old {
			total++
			name := display(src.path)
			if asDiff {
				_, err = stdout.Write(unified(name, old, now))
			} else if err = replace(w.paths, src.path, was, now); err == nil {
				fmt.Fprintf(stdout, "%s: %s\n", clean(name), counted(edits, "edit"))
			}
		}
		problems = errors.Join(problems, err)
	}
	if !asDiff {
		fmt.Fprintf(stdout, "%s changed of %d\n", counted(total, "file"), len(sources))
	}
	w.remarks(stderr)
	if problems != nil {
		fmt.Fprintf(stderr, "narrowgauge: %s\n", strings.ReplaceAll(problems.Error(), "\n", "\nnarrowgauge: "))
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
	data, was, err := w.bounds(src).Read(src.path)
	if err != nil {
		return "", "", 0, nil, err
	}
	old = string(data)
	now = old
	for range maxRounds {
		list, err := w.safeFixes(ctx, src, now)
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

// safeFixes lists the safe rewrites of a text of src.
func (w *workspace) safeFixes(ctx context.Context, src source, text string) ([]analysis.Edit, error) {
	p, err := w.open(src, syntax.Parse(text))
	if err != nil {
		return nil, err
	}
	defer p.close()
	res, err := analysis.Analyze(ctx, p.in)
	if err != nil {
		return nil, err
	}
	list := res.SafeFixes(ctx, "")
	return list, ctx.Err()
}

// unified is the difference of two texts without the line that names the
// command, which patch tools do not need.
func unified(name, old, now string) []byte {
	d := diff.Diff("a/"+filepath.ToSlash(name), []byte(old), "b/"+filepath.ToSlash(name), []byte(now))
	if i := strings.IndexByte(string(d), '\n'); i >= 0 && strings.HasPrefix(string(d), "diff ") {
		d = d[i+1:]
	}
	return d
}

// replace writes a file so that a reader sees the old text or the new one,
// never a part. The file keeps its mode, and a symbolic link stays one. It has to
// be the file that the old text was read from, and nothing is written outside of
// the bounds: not where a link leads out of them, nor where one has come since.
func replace(within *project.Bounds, path string, was fs.FileInfo, text string) (err error) {
	place, err := within.Real(path)
	if err != nil {
		return err
	}
	root, name, err := place.Open()
	if err != nil {
		return err
	}
	defer root.Close()
	info, err := root.Lstat(name)
	if err != nil {
		return err
	}
	if !os.SameFile(info, was) {
		return &fs.PathError{Op: "write", Path: path, Err: errors.New("another file has taken its place since it was read")}
	}
	tmp, tmpName, err := createBeside(root, name)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			_ = root.Remove(tmpName)
		}
	}()
	_, err = tmp.WriteString(text)
	if err == nil {
		err = tmp.Chmod(info.Mode().Perm())
	}
	if err == nil {
		err = tmp.Sync()
	}
	if err2 := tmp.Close(); err == nil {
		err = err2
	}
	if err == nil {
		err = root.Rename(tmpName, name)
	}
	return err
}

// createBeside makes a new file in the folder of another one.
func createBeside(root *os.Root, name string) (*os.File, string, error) {
	for {
		tmp := filepath.Join(filepath.Dir(name), ".narrowgauge-"+rand.Text())
		f, err := root.OpenFile(tmp, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
		if !errors.Is(err, fs.ErrExist) {
			return f, tmp, err
		}
	}
}
