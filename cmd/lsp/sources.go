package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/server/project"
)

// settingFlags are the settings that the command line can give. They win
// over the project file.
type settingFlags struct {
	set  analysis.Settings
	user project.UserSettings
}

func (f *settingFlags) register(cmd *cobra.Command) {
	for _, d := range analysis.Definitions() {
		to := f.set.Field(d.Name)
		if d.Name == "readAlso" {
			to = &f.user.ReadAlso
		}
		settingFlag(cmd, &d, to)
	}
}

// settingFlag adds the flag of a setting, if it has one.
func settingFlag(cmd *cobra.Command, d *analysis.Setting, to any) {
	switch to := to.(type) {
	case *string:
		cmd.Flags().StringVarP(to, d.Flag, d.Letter, "", d.Help)
	case *map[string]int64:
		cmd.Flags().StringToInt64VarP(to, d.Flag, d.Letter, nil, d.Help)
	case *[]string:
		cmd.Flags().StringArrayVarP(to, d.Flag, d.Letter, nil, d.Help)
	}
}

// targetFlags are the flags for what lines are assembled for, and how they are spelled.
func targetFlags(cmd *cobra.Command, set *analysis.Settings) {
	for _, d := range analysis.Definitions() {
		if d.Target {
			settingFlag(cmd, &d, set.Field(d.Name))
		}
	}
}

// flagOf is the flag for a setting with a value that is not known.
func flagOf(p *analysis.SettingError) string {
	for _, d := range analysis.Definitions() {
		if d.Name == p.Setting {
			return "--" + d.Flag
		}
	}
	return p.Setting
}

// source is a file to work on.
type source struct {
	path   string // as given or found
	abs    string
	walked bool   // found in a folder, not named
	folder string // the named folder that it was found in
	input  *input // what standard input has; nil: it is a file
}

// read reads a source. One that is named may be larger than what is found in a folder.
func (w *workspace) read(src source) (string, fs.FileInfo, error) {
	var text string
	var info fs.FileInfo
	var err error
	switch {
	case src.input != nil:
		text = src.input.text
	case src.walked:
		text, info, err = w.bounds(src).Read(src.path)
	default:
		text, info, err = w.bounds(src).ReadNamed(src.path)
	}
	if err != nil {
		return "", nil, cannotRead(src.path, err)
	}
	if why := noText(text); why != "" {
		return "", nil, fmt.Errorf("%s: %s", src.path, why)
	}
	return text, info, nil
}

// collect lists the files that args name, each once, in order; in is for "-". What cannot
// be listed is an error beside the rest.
func collect(args []string, in *input) ([]source, error) {
	var out []source
	var problems []error
	seen := map[string]int{}
	add := func(path, folder string) {
		abs, err := filepath.Abs(path)
		if err != nil {
			problems = append(problems, err)
			return
		}
		if i, ok := seen[abs]; ok {
			out[i].walked = out[i].walked && folder != ""
			return
		}
		seen[abs] = len(out)
		out = append(out, source{path: filepath.Clean(path), abs: abs, walked: folder != "", folder: folder})
	}
	for _, arg := range args {
		if arg == "-" && in != nil {
			add(in.path, "")
			out[seen[absolute(in.path)]].input = in
			continue
		}
		info, err := os.Stat(arg)
		switch {
		case err != nil:
			problems = append(problems, cannotRead(arg, err))
			continue
		case !info.IsDir():
			add(arg, "")
			continue
		}
		found := false
		folder := absolute(arg)
		if link, err := os.Lstat(arg); err == nil && link.Mode()&fs.ModeSymlink != 0 {
			arg += string(filepath.Separator) // the folder that the link leads to
		}
		err = filepath.WalkDir(arg, func(path string, d fs.DirEntry, err error) error {
			if err != nil {
				problems = append(problems, cannotRead(path, err))
				return nil
			}
			name := d.Name()
			if d.IsDir() {
				if path != arg && strings.HasPrefix(name, ".") {
					return fs.SkipDir
				}
				return nil
			}
			if slices.Contains(project.ProgramNames, filepath.Ext(name)) && (d.Type().IsRegular() || d.Type()&fs.ModeSymlink != 0) {
				found = true
				add(path, folder)
			}
			return nil
		})
		if err != nil {
			problems = append(problems, err)
		} else if !found {
			problems = append(problems, fmt.Errorf("%s: no %s files in this folder", arg, strings.Join(project.ProgramNames, ", ")))
		}
	}
	return out, errors.Join(problems...)
}

// workspace resolves settings and loads files. It is safe for concurrent use.
type workspace struct {
	flags    analysis.Settings
	given    *project.Bounds // what the command line names
	paths    *project.Bounds // the files and folders to work on, only
	disk     project.Disk
	projects project.Finder
	commands project.Commands
	current  string // the folder where the program runs; empty: it is gone
	builds   project.BuildFiles
	index    project.Index
	voices   project.Voices
	fresh    bool      // project files do not count
	known    *baseline // nil: nothing is

	mu    sync.Mutex
	notes map[string]bool // remarks on compile flags, each once

	scanning sync.Mutex
	graph    project.Graph
	scanned  map[string]bool // folders that the graph has
	partly   bool            // not all of one of them
}

// included says whether another source in the named folder, or beside the named file,
// includes src.
func (w *workspace) included(src source) bool {
	w.scan(src)
	return w.graph.Included(src.abs)
}

// scan makes the graph know what lies in the named folder, or beside the named file.
func (w *workspace) scan(src source) {
	w.scanning.Lock()
	defer w.scanning.Unlock()
	dir, deep := src.folder, true
	if !src.walked {
		dir, deep = filepath.Dir(src.abs), false
	}
	if !w.scanned[dir] {
		if w.scanned == nil {
			w.scanned = map[string]bool{}
		}
		w.scanned[dir] = true
		if !w.graph.Scan(context.Background(), dir, deep, w.bounds(src)) {
			w.partly = true
		}
	}
}

// scanAll makes the graph know the sources, where some are in folders and may be parts of
// others.
func (w *workspace) scanAll(sources []source) {
	if len(sources) < 2 || !slices.ContainsFunc(sources, func(s source) bool { return s.walked }) {
		return
	}
	for _, src := range sources {
		if src.walked {
			w.scan(src)
		} else {
			w.reaches(src.abs, src)
		}
	}
}

// mayBeIncluded says whether a source that has been found in a folder may be a part of
// another one, by the lines about included files that are in the folders and, once they
// have been read, elsewhere.
func (w *workspace) mayBeIncluded(src source) bool {
	w.scanning.Lock()
	defer w.scanning.Unlock()
	return w.partly || w.graph.MayInclude(src.abs)
}

// reaches notes what a file includes that is not in a named folder.
func (w *workspace) reaches(path string, src source) {
	if project.IsSource(path) && !w.graph.Has(path) {
		w.graph.Update(path, w.bounds(src))
	}
}

// aMacro is what --define takes; it is compiled when it is asked for.
var aMacro = project.Pattern(`^[A-Za-z_$][\w$]*(\([^()]*\))?(=|$)`)

// newWorkspace takes the flags and paths of the command line. All that they name
// may be read.
func newWorkspace(flags settingFlags, args []string) (*workspace, error) {
	set := flags.set
	if _, problems := project.Valid(set); len(problems) > 0 {
		return nil, settingErrors(problems, flagOf)
	}
	for _, dir := range flags.user.ReadAlso {
		if info, err := os.Stat(dir); err != nil || !info.IsDir() {
			return nil, fmt.Errorf("--read-also: %s is not a folder", dir)
		}
	}
	for _, def := range set.Defines {
		if !aMacro().MatchString(def) {
			return nil, fmt.Errorf("--define: %q is not a macro, as in NAME, NAME=5 or NAME(x)=x", def)
		}
	}
	notes := map[string]bool{}
	for _, dir := range set.Include {
		if info, err := os.Stat(dir); err != nil || !info.IsDir() {
			notes["--include: "+dir+" is not a folder; nothing is found there."] = true
		}
	}
	var folders, files []string
	for _, arg := range args {
		if arg == "-" {
			continue
		}
		if info, err := os.Stat(arg); err == nil && info.IsDir() {
			folders = append(folders, arg)
		} else {
			files = append(files, arg)
		}
	}
	paths := project.NewBounds(folders...).Named(files...)
	folders = slices.Concat(folders, flags.user.ReadAlso, set.Include)
	for _, path := range set.Prelude {
		if filepath.IsAbs(path) {
			files, folders = append(files, path), append(folders, filepath.Dir(path))
		}
	}
	current, err := os.Getwd()
	if err == nil {
		set.CompileCommands = project.CommandsPath(set.CompileCommands, current)
	}
	if filepath.IsAbs(set.CompileCommands) {
		if _, err := os.Stat(set.CompileCommands); err != nil {
			return nil, fmt.Errorf("--compile-commands: %w", cannotRead(display(set.CompileCommands), err))
		}
		files = append(files, set.CompileCommands)
		folders = append(folders, project.DatabaseFolders(set.CompileCommands)...)
	}
	return &workspace{flags: set, current: current, given: project.NewBounds(folders...).Named(files...), paths: paths, notes: notes}, nil
}

// bounds are those of one source: what the command line names, and what lies
// beside it.
func (w *workspace) bounds(src source) *project.Bounds {
	given := w.given
	if w.current != "" {
		given = given.Around(w.current, src.abs)
	}
	if src.walked {
		return given.Given(src.folder)
	}
	var named []string
	for _, name := range w.flags.Prelude {
		if !filepath.IsAbs(name) {
			named = append(named, filepath.Join(filepath.Dir(src.abs), name))
		}
	}
	return given.Named(named...).Beside(src.abs)
}

func settingErrors(problems []*analysis.SettingError, origin func(*analysis.SettingError) string) error {
	var errs []error
	for _, p := range problems {
		errs = append(errs, fmt.Errorf("%s: %w", origin(p), p))
	}
	return errors.Join(errs...)
}

// settings resolves the settings of a source, and the bounds in which it and
// they may reach files.
func (w *workspace) settings(src source) (*analysis.Settings, *project.Bounds, error) {
	set, within := w.flags, w.bounds(src)
	var p *project.Project
	var at func(string) string
	if !w.fresh {
		p = w.projects.Find(filepath.Dir(src.abs), within)
	}
	if p != nil {
		if p.Problem != "" {
			return nil, nil, errors.New(strings.ReplaceAll(p.Problem, p.Path, display(p.Path)))
		}
		var own analysis.Settings
		own, at = p.For(src.abs)
		set = project.Fill(set, own)
		within = within.Project(filepath.Dir(p.Path))
	}
	set, cmd := w.commands.Resolve(set, src.abs, within)
	if cmd != nil {
		w.mu.Lock()
		for _, n := range slices.Concat(cmd.Notes, cmd.Refused) {
			w.notes[n] = true
		}
		w.mu.Unlock()
		within = within.Command(cmd)
	}
	valid, problems := project.Valid(set)
	if len(problems) > 0 {
		return nil, nil, settingErrors(problems, func(bad *analysis.SettingError) string {
			if p == nil {
				return bad.Setting
			}
			return fmt.Sprintf("%s%s: %q", display(p.Path), strings.TrimPrefix(at(bad.Setting), p.Path), bad.Setting)
		})
	}
	return valid, within, nil
}

// remarks prints what of the compile flags has not been followed.
func (w *workspace) remarks(out io.Writer) {
	for _, n := range slices.Sorted(maps.Keys(w.notes)) {
		fmt.Fprintf(out, "narrowgauge: %s\n", clean(n))
	}
}

// program is a root file with what it includes.
type program struct {
	source
	in *analysis.Input

	close func()

	mu    sync.Mutex
	files map[string]*syntax.File // by the path that findings name
}

// open prepares the analysis of src, whose text has been parsed as file. The
// caller closes the program.
func (w *workspace) open(src source, file *syntax.File) (*program, error) {
	set, within, err := w.settings(src)
	if err != nil {
		return nil, err
	}
	within, release := within.Hold()
	p := &program{source: src, close: release, files: map[string]*syntax.File{src.path: file}}
	around := &project.Around{Builds: &w.builds, Index: &w.index, Source: src.abs, Current: w.current}
	search := &project.Search{Disk: &w.disk, Include: set.Include, Bounds: within, Around: around}
	beside := func(ctx context.Context) []*analysis.Voice { return w.voices.Beside(ctx, src.abs, set, search) }
	p.in = &analysis.Input{Beside: beside, Path: src.path, File: file, Set: set, Size: search.Size, Why: search.Why, Several: search.Several, Generated: search.Generated, Shared: func() bool { return w.included(src) }, Evidence: func() []analysis.Evidence { return w.builds.Find(filepath.Dir(src.abs), within) }, Options: func() analysis.Settings { return project.Told(&w.builds, &w.commands, set, src.abs, within) }, Load: func(f analysis.Wanted) (string, *syntax.File, bool) {
		path, file, ok := search.Load(f)
		if ok {
			p.mu.Lock()
			p.files[path] = file
			p.mu.Unlock()
		}
		return path, file, ok
	}}
	return p, nil
}

func (p *program) file(path string) *syntax.File {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.files[path]
}

// display is the path as it is printed: relative where that is shorter.
func display(path string) string {
	if !filepath.IsAbs(path) {
		return path
	}
	if wd, err := os.Getwd(); err == nil {
		if rel, err := filepath.Rel(wd, path); err == nil && !strings.HasPrefix(rel, "..") {
			return rel
		}
	}
	return path
}

// apply returns text with edits made. It refuses edits that overlap, are out
// of order, or lie outside of the text.
func apply(text string, edits []analysis.Edit) (string, error) {
	var b strings.Builder
	at := 0
	for _, e := range edits {
		if e.Span.Start < at || e.Span.End < e.Span.Start || e.Span.End > len(text) {
			return "", fmt.Errorf("edit of bytes %d to %d does not fit", e.Span.Start, e.Span.End)
		}
		b.WriteString(text[at:e.Span.Start])
		b.WriteString(e.New)
		at = e.Span.End
	}
	b.WriteString(text[at:])
	return b.String(), nil
}
