package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"narrowgauge/analysis"
	"narrowgauge/cmd/lsp/save"
	"narrowgauge/server"
	"narrowgauge/server/project"
)

func doctorCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "doctor [PATH]",
		Short: "Say what is found: program, project file, target and why, included files, problems",
		Long: `Say which program this is, and what it finds out about a file or the sources of a
folder: the project file and compilation database that count, the target and where that
is from, which folders are read, and what is wrong. The exit code is 1 if something is.`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return fmt.Errorf("doctor takes one file or folder, and here are %d", len(args))
			}
			return nil
		},
		ValidArgsFunction: completeSources,
		RunE: func(cmd *cobra.Command, args []string) error {
			return doctor(cmd, firstOf(strings.Join(args, ""), "."))
		},
	}
}

// report is what the doctor says: lines of a name and a text, then what is wrong.
type report struct {
	out      io.Writer
	problems []string
}

func (r *report) line(name, format string, args ...any) {
	fmt.Fprintf(r.out, "  %-13s %s\n", name, clean(fmt.Sprintf(format, args...)))
}

func (r *report) problem(format string, args ...any) {
	if text := fmt.Sprintf(format, args...); !slices.Contains(r.problems, text) {
		r.problems = append(r.problems, text)
	}
}

func doctor(cmd *cobra.Command, path string) error {
	if _, err := os.Stat(path); err != nil {
		return cannotRead(path, err)
	}
	r := &report{out: cmd.OutOrStdout()}
	fmt.Fprint(r.out, versionText())
	r.program()
	r.files()
	w, err := newWorkspace(settingFlags{}, []string{path})
	if err != nil {
		return err
	}
	sources, err := collect([]string{path}, nil)
	if err != nil {
		r.problem("%s", err)
	}
	fmt.Fprintf(r.out, "%s\n", clean(display(absolute(path))))
	shown := newProgress(cmd.ErrOrStderr(), len(sources))
	found := w.surveyAll(cmd.Context(), sources, shown)
	shown.end()
	if err := cmd.Context().Err(); err != nil {
		return err
	}
	r.project(w, path, sources)
	r.sources(found)
	w.mu.Lock()
	for _, n := range slices.Sorted(maps.Keys(w.notes)) {
		r.problem("%s", n)
	}
	w.mu.Unlock()
	if len(r.problems) == 0 {
		fmt.Fprintln(r.out, "No problems.")
		return nil
	}
	fmt.Fprintf(r.out, "%s:\n", counted(len(r.problems), "problem"))
	const most = 20
	for i, p := range r.problems {
		if i == most {
			fmt.Fprintf(r.out, "  and %d more\n", len(r.problems)-most)
			break
		}
		for line := range strings.SplitSeq(p, "\n") {
			fmt.Fprintf(r.out, "  %s\n", clean(line))
		}
	}
	return exitCode(1)
}

// program says which program runs, and which one an editor would start.
func (r *report) program() {
	self, err := os.Executable()
	if err != nil {
		return
	}
	r.line("program", "%s", self)
	first, err := exec.LookPath("narrowgauge")
	if err != nil {
		r.problem("No narrowgauge is in PATH: an editor does not find it there. install -D -m 755 %s ~/.local/bin/narrowgauge puts it where many systems look.", self)
		return
	}
	a, errA := os.Stat(first)
	b, errB := os.Stat(self)
	if errA == nil && errB == nil && !os.SameFile(a, b) {
		r.line("in PATH", "%s, which is another file than this one", first)
	}
}

// files says where the program keeps what is its own.
func (r *report) files() {
	if dir, err := server.CacheFolder(); err != nil {
		r.problem("There is no folder for the explanations that findings link to: %v", err)
	} else {
		r.line("cache", "%s%s", dir, missing(dir))
	}
	if path, err := save.DefaultJournal(); err != nil {
		r.problem("There is no place for the journal of fix: %v", err)
	} else {
		r.line("journal", "%s%s", path, missing(path))
	}
}

// missing says that a file is not there.
func missing(path string) string {
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return " (not there yet)"
	}
	return ""
}

// project says which settings hold for a file or folder, and which files are read.
func (r *report) project(w *workspace, path string, sources []source) {
	src := source{path: path, abs: absolute(path)}
	dir := filepath.Dir(src.abs)
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		src.walked, src.folder, dir = true, src.abs, src.abs
	}
	within := w.bounds(src)
	p := w.projects.Find(dir, within)
	switch {
	case p == nil:
		r.line("project file", "none; narrowgauge init writes one")
	default:
		r.line("project file", "%s", display(p.Path))
		within = within.Project(filepath.Dir(p.Path))
		own, _ := p.For(src.abs)
		set := project.Fields(&own)
		for _, name := range settingNames() {
			switch v := set[name].(type) {
			case *string:
				if *v != "" {
					r.line("", "%s: %s", name, *v)
				}
			case *map[string]int64:
				for _, section := range slices.Sorted(maps.Keys(*v)) {
					r.line("", "%s: %s %d", name, display(section), (*v)[section])
				}
			case *[]string:
				if len(*v) > 0 {
					var list []string
					for _, text := range *v {
						list = append(list, display(text))
					}
					r.line("", "%s: %s", name, strings.Join(list, ", "))
				}
			}
		}
		if n := len(p.Profiles); n > 0 {
			r.line("", "%s, for some of the sources", counted(n, "profile"))
		}
		if p.Problem != "" {
			r.problem("%s", strings.ReplaceAll(p.Problem, p.Path, display(p.Path)))
		}
	}
	databases := map[string]int{}
	for _, s := range sources {
		set := analysis.Settings{}
		if p := w.projects.Find(filepath.Dir(s.abs), w.bounds(s)); p != nil {
			set, _ = p.For(s.abs)
		}
		if c := w.commands.Find(s.abs, set.CompileCommands, w.bounds(s)); c != nil && c.Named {
			databases[c.Path]++
			within = within.Command(c)
		}
	}
	if len(databases) == 0 {
		r.line("database", "none has one of the sources")
	}
	for _, path := range slices.Sorted(maps.Keys(databases)) {
		r.line("database", "%s, %d of %s", display(path), databases[path], counted(len(sources), "source"))
	}
	for i, dir := range within.Folders() {
		name := "reads"
		if i > 0 {
			name = ""
		}
		r.line(name, "%s", dir)
	}
}

// sources says what was found out about them.
func (r *report) sources(found []surveyed) {
	dialects, targets, why := map[string]int{}, map[string]int{}, map[string]string{}
	folders, told := map[string]string{}, map[string]bool{}
	broken := 0
	for i := range found {
		s := &found[i]
		if s.err != nil {
			r.problem("%s", s.err)
			continue
		}
		dialects[s.dialect.String()]++
		target, reason := s.targetOf()
		if reason != "" {
			reason = ", because of " + reason
		}
		if set := firstOf(s.set.CPU, s.set.Arch); target == "" && set != "" {
			target, reason = set, ", as the project file or the compilation database says"
		}
		if target == "" {
			target, reason = analysis.DefaultArch, ", the default"
		}
		targets[target]++
		why[target] = firstOf(why[target], reason)
		maps.Copy(folders, s.folders)
		for _, t := range s.told {
			told[t] = true
		}
		for _, m := range s.missing {
			r.problem("%s: %s", display(s.path), m)
		}
		if s.errors > len(s.missing) {
			broken++
		}
	}
	var list []string
	for _, d := range slices.Sorted(maps.Keys(dialects)) {
		list = append(list, fmt.Sprintf("%d in dialect %s", dialects[d], d))
	}
	r.line("sources", "%d: %s", len(found), firstOf(strings.Join(list, ", "), "none was read"))
	for i, t := range slices.SortedFunc(maps.Keys(targets), func(a, b string) int {
		return cmp.Or(cmp.Compare(targets[b], targets[a]), cmp.Compare(a, b))
	}) {
		name := "target"
		if i > 0 {
			name = ""
		}
		r.line(name, "%s for %s%s", t, counted(targets[t], "source"), why[t])
	}
	for i, dir := range slices.Sorted(maps.Keys(folders)) {
		name := "includes"
		if i > 0 {
			name = ""
		}
		r.line(name, "%s, as for %s", display(dir), folders[dir])
	}
	if len(told) > 0 {
		r.line("build files", "%s", strings.Join(slices.Sorted(maps.Keys(told)), ", "))
	}
	if broken > 0 {
		r.line("errors", "%s; narrowgauge check prints them", plural(broken, "source has some", "sources have some"))
	}
}
