package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"narrowgauge/analysis"
	"narrowgauge/server/project"
)

// input is what standard input has: a source without a file.
type input struct {
	path string // what it is called
	text string
}

// inputName is what standard input is called if nobody says it.
const inputName = "<stdin>"

func stdinFlag(cmd *cobra.Command, path *string) {
	cmd.Flags().StringVar(path, "stdin-path", "", "take what standard input has for the text of `FILE`, which need not be there: its name, and its folder for settings and included files")
}

// readInput reads standard input if one of the paths of the command line is "-", and is
// nil if none is.
func readInput(cmd *cobra.Command, args []string, path string) (*input, error) {
	if !slices.Contains(args, "-") {
		if path != "" {
			return nil, errors.New("--stdin-path: standard input is read for the path -, which is not among the paths")
		}
		return nil, nil
	}
	in := &input{path: path}
	if path == "" {
		in.path = inputName
	} else if info, err := os.Stat(path); err == nil && info.IsDir() {
		return nil, fmt.Errorf("--stdin-path: %s is a folder", path)
	}
	from := cmd.InOrStdin()
	if isTerminal(from) {
		fmt.Fprintln(cmd.ErrOrStderr(), "narrowgauge: reading standard input up to its end (Ctrl-D at the start of a line)")
	}
	text, err := io.ReadAll(io.LimitReader(from, project.MaxNamed+1))
	switch {
	case err != nil:
		return nil, fmt.Errorf("standard input: %w", bare(err))
	case len(text) > project.MaxNamed:
		return nil, fmt.Errorf("standard input: it has more than %d MiB", project.MaxNamed>>20)
	case len(text) == 0:
		fmt.Fprintln(cmd.ErrOrStderr(), "narrowgauge: standard input is empty")
	}
	in.text = string(text)
	return in, nil
}

// size is how many bytes a source has, as far as that is known.
func (src *source) size() int64 {
	if src.input != nil {
		return int64(len(src.input.text))
	}
	if info, err := os.Stat(src.path); err == nil {
		return info.Size()
	}
	return 0
}

// filter applies the safe rewrites to standard input and prints what becomes of it, or how
// it differs. Nothing is printed if that cannot be done.
func filter(cmd *cobra.Command, flags settingFlags, own fixFlags, args []string, in *input) error {
	if len(args) > 1 {
		return errors.New("fix - takes no other path: the result goes to standard output")
	}
	w, err := newWorkspace(flags, args)
	if err != nil {
		return err
	}
	sources, err := collect(args, in)
	if err != nil {
		return err
	}
	old, now, _, _, err := w.fix(cmd.Context(), sources[0])
	if err != nil {
		return err
	}
	w.remarks(cmd.ErrOrStderr())
	if !own.diff {
		_, err = io.WriteString(cmd.OutOrStdout(), now)
	} else if now != old {
		_, err = io.WriteString(cmd.OutOrStdout(), shownDiff(cmd.OutOrStdout(), unified(display(in.path), old, now)))
	}
	return err
}

// cannotRead says why something on the command line cannot be read.
func cannotRead(path string, err error) error {
	shown := clean(path) // a path may have what ends a line
	switch err := bare(err); {
	case path == "":
		return errors.New("a path is empty")
	case errors.Is(err, fs.ErrNotExist):
		near := ""
		if list := neighbours(path); len(list) > 0 {
			near = "; similar names: " + clean(strings.Join(list, ", "))
		}
		return fmt.Errorf("%s: there is no such file or folder%s", shown, near)
	case errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("%s: you have no permission to read it", shown)
	default:
		return fmt.Errorf("%s: %w", shown, err)
	}
}

// maxNeighbours is how many entries of a folder are looked at for similar names.
const maxNeighbours = 1000

// neighbours are entries of a path's folder whose names are close to its own.
func neighbours(path string) []string {
	dir, err := os.Open(filepath.Dir(path))
	if err != nil {
		return nil
	}
	defer dir.Close()
	names, _ := dir.Readdirnames(maxNeighbours)
	base := filepath.Base(path)
	names = slices.DeleteFunc(names, func(n string) bool { return n == base })
	slices.Sort(names)
	return analysis.Near(base, names)
}

// bare is an error of the system without the call and the path.
func bare(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}

// What is looked at to tell text from other files, and the part of it that may be
// characters which no text has: one in so many.
const (
	looksAt  = 8 << 10
	oddsPart = 32
)

// noText says why a file is no text; empty if it may be one. A stray control character does
// not make it one: the analysis says where it is.
func noText(text string) string {
	head := text[:min(len(text), looksAt)]
	odd := 0
	for _, c := range []byte(head) {
		if c < ' ' && strings.IndexByte("\t\n\v\f\r\x1a\x1b", c) < 0 {
			odd++
		}
	}
	if strings.IndexByte(head, 0) < 0 || odd*oddsPart < len(head) {
		return ""
	}
	if strings.HasPrefix(head, "\xff\xfe") || strings.HasPrefix(head, "\xfe\xff") {
		return "it is text in UTF-16; sources are read as UTF-8 or any other code that has ASCII in it"
	}
	return "it is a binary file, not a text"
}
