package main

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
)

// surveyed is what is found out about one source.
type surveyed struct {
	source
	err     error
	errors  int
	set     analysis.Settings  // that hold for it, without what was guessed
	guess   *analysis.Guess    // what it was taken for; nil: nothing was guessed
	told    []string           // macros, symbols and included files of build files
	said    *analysis.Evidence // the target that a directive names; nil: none does
	dialect syntax.Dialect
	folders map[string]string // folders, absolute, in which included files were found, with the name of one
	missing []string          // included files that were not found
}

// surveyAll looks at sources side by side.
func (w *workspace) surveyAll(ctx context.Context, sources []source, shown *progress) []surveyed {
	var out []surveyed
	_ = inOrder(sources, shown, func(i int) surveyed { return w.survey(ctx, sources[i]) }, func(s surveyed) error {
		out = append(out, s)
		return nil
	})
	return out
}

// weight is nothing: all of them are kept.
func (surveyed) weight() int { return 0 }

func (w *workspace) survey(ctx context.Context, src source) (out surveyed) {
	out.source = src
	text, _, err := w.read(src)
	if err != nil {
		out.err = err
		return out
	}
	file := syntax.Parse(text)
	p, err := w.open(src, file)
	if err != nil {
		out.err = err
		return out
	}
	defer p.close()
	out.dialect, out.set, out.folders = file.Dialect(), *p.in.Set, map[string]string{}
	load := p.in.Load
	p.in.Load = func(f analysis.Wanted) (string, *syntax.File, bool) {
		path, file, ok := load(f)
		if dir, found := folderOf(path, f); ok && found {
			out.folders[dir] = f.Name
		}
		return path, file, ok
	}
	res, err := analysis.AnalyzeGuessing(ctx, p.in)
	if err != nil {
		out.err = err
		return out
	}
	out.guess, out.said = res.Guess(), res.Said()
	if told := res.Told(); told != nil {
		out.told = slices.Concat(told.Defines, told.Symbols)
		for _, path := range told.Prelude {
			out.told = append(out.told, display(path))
		}
	}
	for _, d := range res.Diagnostics() {
		if d.Severity == analysis.Error {
			out.errors++
			if d.Code == analysis.CodeInclude {
				out.missing = append(out.missing, d.Message)
			}
		}
	}
	return out
}

// folderOf is the folder in which an included file was found, if it is not that of the
// source which names it.
func folderOf(path string, f analysis.Wanted) (dir string, ok bool) {
	if path == "" || filepath.IsAbs(f.Name) {
		return "", false
	}
	dir, ok = strings.CutSuffix(absolute(path), string(filepath.Separator)+filepath.Clean(filepath.FromSlash(f.Name)))
	if !ok || f.From != "" && dir == filepath.Dir(absolute(f.From)) {
		return "", false
	}
	return dir, true
}

// targetOf says in a few words what a source was taken for, and the reason; both are empty
// where the default holds.
func (s *surveyed) targetOf() (target, why string) {
	if s.said != nil {
		return firstOf(s.said.Settings.CPU, s.said.Settings.Arch), fmt.Sprintf("%s in line %d of %s", s.said.Text, s.said.Line+1, display(s.path))
	}
	g := s.guess
	if g == nil {
		return "", ""
	}
	target = firstOf(g.Settings.CPU, g.Settings.Arch)
	file := display(s.path)
	if g.File != "" {
		file = display(filepath.Join(filepath.Dir(s.path), filepath.FromSlash(g.File)))
	}
	switch {
	case g.Name == "":
	case g.Line < 0:
		why = g.Name
	default:
		why = fmt.Sprintf("%s in line %d of %s", g.Name, g.Line+1, file)
	}
	return target, why
}

func firstOf(list ...string) string {
	if i := slices.IndexFunc(list, func(s string) bool { return s != "" }); i >= 0 {
		return list[i]
	}
	return ""
}
