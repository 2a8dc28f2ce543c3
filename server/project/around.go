package project

import (
	"cmp"
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"narrowgauge/analysis"
)

// Around is where files are looked for that are in none of the folders that settings name:
// what is in a project tells where it is assembled, and with which folders.
type Around struct {
	Builds *BuildFiles
	Index  *Index
	// Source is the path of the root source, and Current the folder where the program
	// runs, in which the assembler would look first; empty: none.
	Source, Current string
}

// maxSought bounds the folders that are looked in for one name.
const maxSought = 100

// topmost is the topmost folder of the project that a folder is in, within the bounds; empty:
// there is none.
func (b *Bounds) topmost(dir string) (top string) {
	for ; b != nil && b.holds(dir) && !b.wide(dir); dir = filepath.Dir(dir) {
		top = dir
		if filepath.Dir(dir) == dir || dir == b.top {
			break
		}
	}
	return top
}

// folders lists where a file is looked for that the source at from names: the current
// folder, those from the sources upwards, and those that build files name. system leaves
// all but the last out.
func (a *Around) folders(from string, system bool, b *Bounds) (out []string) {
	add := func(dir string) {
		if len(out) < maxSought && !slices.Contains(out, dir) {
			out = append(out, dir)
		}
	}
	if a.Current != "" && !system && b.holds(a.Current) {
		add(a.Current)
	}
	for _, path := range []string{cmp.Or(from, a.Source), a.Source} {
		path, err := b.abs(path)
		if err != nil || system {
			continue
		}
		dir := filepath.Dir(path)
		top := b.topmost(dir)
		for top != "" {
			add(dir)
			if dir == top {
				break
			}
			dir = filepath.Dir(dir)
		}
	}
	for _, dir := range a.Builds.Folders(filepath.Dir(a.Source), b) {
		if b.holds(dir) {
			add(dir)
		}
	}
	return out
}

// headers lists the folders for headers, by custom, beside the source and above.
func (a *Around) headers(b *Bounds) (out []string) {
	path, err := b.abs(a.Source)
	if err != nil {
		return nil
	}
	dir := filepath.Dir(path)
	for top := b.topmost(dir); top != ""; dir = filepath.Dir(dir) {
		out = append(out, filepath.Join(dir, "include"))
		if dir == top {
			break
		}
	}
	return out
}

// paths lists the places of a file beyond those of the settings.
func (a *Around) paths(w analysis.Wanted, b *Bounds) (out []string) {
	if a == nil || w.Next || w.Name == "" || filepath.IsAbs(w.Name) {
		return nil
	}
	for _, dir := range a.folders(w.From, w.System, b) {
		if dir == a.Current && w.From != "" && !filepath.IsAbs(w.From) {
			dir = "" // as the source is named
		}
		out = append(out, filepath.Join(dir, w.Name))
	}
	if w.System && standard[w.Name] {
		return out
	}
	for _, dir := range a.headers(b) {
		if path := filepath.Join(dir, w.Name); len(out) < maxSought && !slices.Contains(out, path) {
			out = append(out, path)
		}
	}
	return out
}

// only finds the files of the project whose paths end as the name does: the one that is
// meant if it is the only one.
func (a *Around) only(w analysis.Wanted, b *Bounds) []string {
	if a == nil || w.Next || filepath.IsAbs(w.Name) || w.System && standard[w.Name] {
		return nil // one of the library's headers is not meant, whatever there is
	}
	tail := tailOf(w.Name)
	return nearest(a.Index.Find(b.topmost(filepath.Dir(a.Source)), tail), tail, a.Source)
}

// includeFolders are what folders for headers are called (common practice).
var includeFolders = map[string]bool{"include": true, "includes": true, "inc": true, "headers": true}

// serves says whether the folder that a path is looked up from, which is all of it but a tail,
// is one for headers beside the source or beside a folder above it.
func serves(path, tail, source string) bool {
	folder := strings.TrimSuffix(path, string(filepath.Separator)+tail)
	_, ok := Below(source, filepath.Dir(folder))
	return ok && includeFolders[strings.ToLower(filepath.Base(folder))]
}

// nearest is the one of several paths with a tail that shares more folders with a source than
// all others do, as that of its own part of the project, or the only one of these in a folder
// that serves the source; if there is none, they all are.
func nearest(paths []string, tail, source string) []string {
	if len(paths) < 2 {
		return paths
	}
	best, most, tie := 0, -1, false
	for i, path := range paths {
		switch n := InCommon(path, source); {
		case n > most:
			best, most, tie = i, n, false
		case n == most:
			tie = true
		}
	}
	if !tie {
		return paths[best : best+1]
	}
	var fit []string
	for _, path := range paths {
		if InCommon(path, source) == most && serves(path, tail, source) {
			fit = append(fit, path)
		}
	}
	if len(fit) == 1 {
		return fit
	}
	return paths
}

// InCommon counts the folders that two paths begin with.
func InCommon(a, b string) (n int) {
	for i := 0; i < len(a) && i < len(b) && a[i] == b[i]; i++ {
		if a[i] == filepath.Separator {
			n++
		}
	}
	return n
}

// standard are the headers of C (ISO/IEC 9899:2011, 7.1.2, from memory).
var standard = map[string]bool{
	"assert.h": true, "complex.h": true, "ctype.h": true, "errno.h": true, "fenv.h": true, "float.h": true, "inttypes.h": true, "iso646.h": true, "limits.h": true, "locale.h": true,
	"math.h": true, "setjmp.h": true, "signal.h": true, "stdalign.h": true, "stdarg.h": true, "stdatomic.h": true, "stdbool.h": true, "stddef.h": true, "stdint.h": true, "stdio.h": true,
	"stdlib.h": true, "stdnoreturn.h": true, "string.h": true, "tgmath.h": true, "threads.h": true, "time.h": true, "uchar.h": true, "wchar.h": true, "wctype.h": true,
}

// tailOf is a name without what leads upwards at its beginning.
func tailOf(name string) string {
	up := ".." + string(filepath.Separator)
	name = filepath.Clean(filepath.FromSlash(name))
	for strings.HasPrefix(name, up) {
		name = name[len(up):]
	}
	return name
}

// templates are what the names of files end in from which a build makes one without the
// ending (common practice).
var templates = []string{".in", ".cmake", ".template", ".tmpl", ".j2"}

// made are names of files that builds make, by custom.
var made = Pattern(`(?i)config\.(h|inc|asm|s)$|(^|/)autoconf\.h$|(^|[/_-])(auto)?gen(erated)?[/_.-]|asm-?offsets\.(h|inc)$`)

// Generated says whether a file that is not there is made by the build: a build file names
// it or makes a link that is in its path, there is a template for it, or it has one of the
// usual names.
func (a *Around) Generated(w analysis.Wanted, b *Bounds) bool {
	if a == nil || w.Name == "" {
		return false
	}
	if made().MatchString(filepath.ToSlash(w.Name)) {
		return true
	}
	dir := filepath.Dir(a.Source)
	base := baseOf(w.Name)
	if a.Builds.Names(dir, base, b) || a.Builds.Links(dir, filepath.ToSlash(filepath.Dir(tailOf(w.Name))), b) {
		return true
	}
	top := b.topmost(dir)
	// A converter adds an ending to the name of a source.
	if from := strings.TrimSuffix(base, filepath.Ext(base)); IsSource(base) && IsSource(from) && len(a.Index.Find(top, from)) > 0 {
		return true
	}
	return slices.ContainsFunc(templates, func(ending string) bool { return len(a.Index.Find(top, base+ending)) > 0 })
}

// twoFit says that it is not clear which file is meant.
func twoFit(paths []string, source string) string {
	var names []string
	for _, path := range paths[:2] {
		if rel, err := filepath.Rel(filepath.Dir(source), path); err == nil {
			path = filepath.ToSlash(rel)
		}
		names = append(names, path)
	}
	more := ""
	if n := len(paths) - 2; n > 0 {
		more = fmt.Sprintf(" and %d more", n)
	}
	return fmt.Sprintf("%s and %s%s fit; the setting include says which folder is meant", names[0], names[1], more)
}

// Index knows the files below folders by their names. It is safe for concurrent use.
type Index struct {
	mu   sync.Mutex
	tops map[string]*indexed
}

// indexed is one folder with those below.
type indexed struct {
	once   sync.Once
	byBase map[string][]string
	part   bool // there are too many
}

// Find lists the files below a folder whose paths end with a name, sorted. It is empty for
// folders with too many files to look at.
func (x *Index) Find(top, tail string) (out []string) {
	if x == nil || top == "" {
		return nil
	}
	x.mu.Lock()
	at := x.tops[top]
	if at == nil {
		at = &indexed{}
		if x.tops == nil {
			x.tops = map[string]*indexed{}
		}
		x.tops[top] = at
	}
	x.mu.Unlock()
	at.once.Do(func() { at.scan(top) })
	x.mu.Lock()
	defer x.mu.Unlock()
	if at.part {
		return nil
	}
	for _, path := range at.byBase[filepath.Base(tail)] {
		if strings.HasSuffix(path, string(filepath.Separator)+tail) {
			out = append(out, path)
		}
	}
	return out
}

// scan notes the files below a folder. Hidden folders are left out, links to folders are
// not followed.
func (at *indexed) scan(top string) {
	at.byBase = map[string][]string{}
	entries := 0
	_ = filepath.WalkDir(top, func(path string, d fs.DirEntry, err error) error {
		if entries++; entries > maxScanEntries {
			at.part, at.byBase = true, nil
			return fs.SkipAll
		}
		switch {
		case err != nil:
			return nil // what cannot be listed is left out
		case d.IsDir():
			if path != top && (strings.HasPrefix(d.Name(), ".") || d.Name() == "node_modules") {
				return fs.SkipDir
			}
		case d.Type().IsRegular():
			at.byBase[d.Name()] = append(at.byBase[d.Name()], path)
		}
		return nil
	})
}

// Changed notes which of the files that have changed are there.
func (x *Index) Changed(c *Changed, b func(path string) *Bounds) {
	x.mu.Lock()
	tops := make(map[string]*indexed, len(x.tops))
	for top, at := range x.tops {
		tops[top] = at
	}
	x.mu.Unlock()
	for path := range c.paths {
		there := b(path).Stamp(path) != (Stamp{})
		for top, at := range tops {
			rel, ok := Below(path, top)
			if !ok || strings.HasPrefix(rel, ".") || strings.Contains(rel, string(filepath.Separator)+".") {
				continue
			}
			at.once.Do(func() { at.scan(top) })
			x.mu.Lock()
			if !at.part {
				base := filepath.Base(path)
				i, has := slices.BinarySearch(at.byBase[base], path)
				switch {
				case there && !has:
					at.byBase[base] = slices.Insert(slices.Clone(at.byBase[base]), i, path)
				case !there && has:
					at.byBase[base] = slices.Delete(slices.Clone(at.byBase[base]), i, i+1)
				}
			}
			x.mu.Unlock()
		}
	}
}
