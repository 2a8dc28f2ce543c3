package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/cmd/lsp/save"
	"narrowgauge/server/project"
)

func initCommand() *cobra.Command {
	var force, show bool
	cmd := &cobra.Command{
		Use:   "init [FOLDER]",
		Short: "Write what is found out about the sources of a folder as " + project.FileName,
		Long: `Look at the sources in a folder and those below it, find out what they are assembled
for, how they are written and where their included files are, and write that as
` + project.FileName + `. It is written only if no source has more errors with it
than without.`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return fmt.Errorf("init takes one folder, and here are %d", len(args))
			}
			return nil
		},
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return nil, cobra.ShellCompDirectiveFilterDirs
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			defer untilEnded(cmd)()
			return writeSettings(cmd, firstOf(strings.Join(args, ""), "."), force, show)
		},
	}
	cmd.Flags().BoolVar(&force, "force", false, "write the file anew if it is there already")
	cmd.Flags().BoolVar(&show, "print", false, "print what would be written, and write nothing")
	return cmd
}

// proposal is what init writes.
type proposal struct {
	folder string // absolute
	set    analysis.Settings
	why    map[string]string // by setting: where it is from
	notes  []string          // what is not written, and why
}

func writeSettings(cmd *cobra.Command, folder string, force, show bool) error {
	if info, err := os.Stat(folder); err != nil {
		return cannotRead(folder, err)
	} else if !info.IsDir() {
		return fmt.Errorf("%s is not a folder", folder)
	}
	path := filepath.Join(folder, project.FileName)
	was, err := os.Lstat(path)
	switch {
	case err == nil && !force && !show:
		return fmt.Errorf("%s is there already; --force writes it anew, and --print shows what that would be", display(path))
	case err == nil && !was.Mode().IsRegular():
		return fmt.Errorf("%s is not a regular file", display(path))
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return cannotRead(path, err)
	}
	sources, err := collect([]string{folder}, nil)
	if err != nil && len(sources) == 0 {
		return err
	}
	p, checked, err := propose(cmd, folder, sources)
	if err != nil {
		return err
	}
	text := p.text()
	out := cmd.OutOrStdout()
	if show {
		_, err := io.WriteString(out, text)
		return err
	}
	if len(p.why) == 0 {
		fmt.Fprintf(out, "%s is not written: there is nothing that it would have to say.\n", display(path))
		p.tell(out, checked)
		return nil
	}
	if err := writeProject(path, text, was); err != nil {
		return err
	}
	fmt.Fprintf(out, "%s is written:\n", display(path))
	p.tell(out, checked)
	return nil
}

// writeProject writes the project file: a new one, or in the place of the one that was there.
func writeProject(path, text string, was fs.FileInfo) error {
	if was == nil {
		root, err := os.OpenRoot(filepath.Dir(path))
		if err == nil {
			defer root.Close()
			err = save.New(save.In(root), filepath.Base(path), []byte(text))
		}
		if err != nil {
			return fmt.Errorf("%s: %w", path, bare(err))
		}
		return nil
	}
	within := project.NewBounds().Named(path)
	old, info, err := within.Read(path)
	if err != nil {
		return cannotRead(path, err)
	}
	place, err := within.Real(path)
	if err != nil {
		return cannotRead(path, err)
	}
	return replace(place, save.Change{Was: info, Old: []byte(old), New: []byte(text)})
}

// tell says what is written and why, and what is not.
func (p *proposal) tell(out io.Writer, sources int) {
	set := project.Fields(&p.set)
	for _, name := range settingNames() {
		if p.why[name] == "" {
			continue
		}
		value, _ := json.Marshal(set[name])
		fmt.Fprintf(out, "  %-13s %-20s %s\n", name, clean(string(value)), clean(p.why[name]))
	}
	for _, n := range p.notes {
		fmt.Fprintf(out, "%s\n", clean(n))
	}
	if len(p.why) > 0 {
		fmt.Fprintf(out, "%s checked with it: none has more errors than without.\n", counted(sources, "source"))
	}
}

// text is the project file.
func (p *proposal) text() string {
	set := project.Fields(&p.set)
	var b bytes.Buffer
	b.WriteString("{")
	for i, name := range slices.DeleteFunc(settingNames(), func(n string) bool { return p.why[n] == "" }) {
		if i > 0 {
			b.WriteString(",")
		}
		var value bytes.Buffer
		enc := json.NewEncoder(&value)
		enc.SetEscapeHTML(false)
		_ = enc.Encode(set[name]) // texts and lists of them
		fmt.Fprintf(&b, "\n  %q: %s", name, bytes.TrimSpace(value.Bytes()))
	}
	b.WriteString("\n}\n")
	return b.String()
}

// settingNames are the names of the settings in their order.
func settingNames() (out []string) {
	for f := range reflect.TypeFor[analysis.Settings]().Fields() {
		out = append(out, f.Tag.Get("json"))
	}
	return out
}

// target is what some of the sources are for.
type target struct {
	set   analysis.Settings
	why   string
	files int
}

// maxTargets is how many targets are tried for all sources.
const maxTargets = 4

// propose finds out what all sources have in common, and says how many there are.
func propose(cmd *cobra.Command, folder string, sources []source) (*proposal, int, error) {
	ctx := cmd.Context()
	p := &proposal{folder: absolute(folder), why: map[string]string{}}
	w, err := newWorkspace(settingFlags{}, []string{folder})
	if err != nil {
		return nil, 0, err
	}
	w.fresh = true
	shown := newProgress(cmd.ErrOrStderr(), len(sources))
	defer shown.end()
	found := w.surveyAll(ctx, sources, shown)
	found = slices.DeleteFunc(found, func(s surveyed) bool {
		if s.err != nil {
			p.notes = append(p.notes, s.err.Error()+"; it is left out.")
		}
		return s.err != nil
	})
	if err := ctx.Err(); err != nil {
		return nil, 0, err
	}
	p.includes(found)
	p.dialect(found)
	if len(p.why) > 0 && !p.holds(cmd, found, p.set) {
		p.set, p.why = analysis.Settings{}, map[string]string{}
		p.notes = append(p.notes, "Folders and dialect are not written: some source has more errors with them.")
	}
	p.target(cmd, found)
	if len(p.why) == 1 && p.set.Dialect == syntax.Dots.String() {
		delete(p.why, "dialect") // as is the default
	}
	return p, len(found), ctx.Err()
}

// includes are the folders of included files that no setting names.
func (p *proposal) includes(found []surveyed) {
	names := map[string]map[string]bool{}
	for _, s := range found {
		for dir, name := range s.folders {
			if slices.Contains(s.set.Include, dir) {
				continue // the compilation database has it
			}
			if names[dir] == nil {
				names[dir] = map[string]bool{}
			}
			names[dir][name] = true
		}
	}
	dirs := slices.SortedFunc(maps.Keys(names), func(a, b string) int {
		return cmp.Or(cmp.Compare(len(names[b]), len(names[a])), cmp.Compare(a, b))
	})
	var first string
	for _, dir := range dirs {
		rel, err := filepath.Rel(p.folder, dir)
		if err != nil || rel == ".." || strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
			continue // a project file does not reach there
		}
		p.set.Include = append(p.set.Include, filepath.ToSlash(rel))
		if first == "" {
			first = slices.Min(slices.Collect(maps.Keys(names[dir])))
		}
	}
	if len(p.set.Include) > 0 {
		p.why["include"] = "where " + first + " is found"
		if len(names) > 1 || len(names[dirs[0]]) > 1 {
			p.why["include"] = "where " + first + " and others are found"
		}
	}
}

// dialect is how all sources are written, if that is one way.
func (p *proposal) dialect(found []surveyed) {
	count := map[string]int{}
	for _, s := range found {
		count[s.dialect.String()]++
	}
	if len(count) == 1 {
		for name, n := range count {
			p.set.Dialect = name
			p.why["dialect"] = "as " + counted(n, "source") + " look"
			if n == 1 {
				p.why["dialect"] = "as the source looks"
			}
		}
		return
	}
	var list []string
	for _, name := range slices.Sorted(maps.Keys(count)) {
		list = append(list, fmt.Sprintf("%s: %d", name, count[name]))
	}
	if len(list) > 0 {
		p.notes = append(p.notes, "The dialect is not written: the sources are written in several ways ("+strings.Join(list, ", ")+"), and each is recognised.")
	}
}

// target is what the sources are for: of what was found for some, that which holds for all.
func (p *proposal) target(cmd *cobra.Command, found []surveyed) {
	byKey := map[string]*target{}
	said, guessed := 0, 0
	for i := range found {
		s := &found[i]
		if s.said != nil {
			said++
		}
		if s.guess == nil {
			continue
		}
		key := fmt.Sprintf("%+v", s.guess.Settings)
		t := byKey[key]
		if t == nil {
			_, why := s.targetOf()
			t = &target{set: s.guess.Settings, why: why}
			byKey[key] = t
		}
		t.files++
		guessed++
	}
	list := slices.SortedFunc(maps.Values(byKey), func(a, b *target) int {
		return cmp.Or(cmp.Compare(b.files, a.files), cmp.Compare(fmt.Sprint(a.set), fmt.Sprint(b.set)))
	})
	for _, t := range list[:min(len(list), maxTargets)] {
		set := project.Fill(t.set, p.set)
		if t.files*2 <= guessed || !p.holds(cmd, found, set) {
			continue // a few sources do not speak for all
		}
		p.set = set
		for name, value := range project.Fields(&t.set) {
			if v := reflect.ValueOf(value).Elem(); v.Len() > 0 {
				p.why[name] = fmt.Sprintf("found for %s", counted(t.files, "source"))
				if t.why != "" {
					p.why[name] += ", because of " + t.why
				}
			}
		}
		return
	}
	switch {
	case len(list) > 0:
		p.notes = append(p.notes, "The target is not written: the sources are for several, and none has all of them. A "+project.FileName+" in each folder can say it, or .cpu in each source.")
	case said > 0:
		p.notes = append(p.notes, fmt.Sprintf("The target is not written: %s it by .cpu or .arch.", plural(said, "source says", "sources say")))
	default:
		p.notes = append(p.notes, "The target is not written: nothing names one, and the default, "+analysis.DefaultArch+", has all instructions, or a compilation database says it.")
	}
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// holds says whether no source has more errors with settings than without.
func (p *proposal) holds(cmd *cobra.Command, found []surveyed, set analysis.Settings) bool {
	set.Include = slices.Clone(set.Include)
	for i, dir := range set.Include {
		set.Include[i] = filepath.Join(p.folder, filepath.FromSlash(dir))
	}
	w, err := newWorkspace(settingFlags{set: set}, []string{p.folder})
	if err != nil {
		return false
	}
	w.fresh = true
	sources := make([]source, len(found))
	for i := range found {
		sources[i] = found[i].source
	}
	for i, s := range w.surveyAll(cmd.Context(), sources, nil) {
		if s.err != nil || s.errors > found[i].errors {
			return false
		}
	}
	return true
}
