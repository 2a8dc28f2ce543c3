package project

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"sync"
	"time"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
)

// FileName is the name of the project file. Its JSON object has the fields
// of [analysis.Settings], and profiles; relative include folders start at its own folder.
const FileName = "narrowgauge.json"

// MaxSource is the largest source file, in bytes, that is read from disk.
const MaxSource = 16 << 20

// MaxNamed is the largest one, in bytes, that is read if the user asks for it by its name.
// As much of it is looked at as [syntax.MaxParts] has room for.
const MaxNamed = 256 << 20

// Stamp tells two states of a file apart without reading it. The zero Stamp
// is a file that does not exist or is no regular file.
type Stamp struct {
	Size    int64
	ModTime time.Time
}

func stampOf(info fs.FileInfo) Stamp {
	if !info.Mode().IsRegular() {
		return Stamp{}
	}
	return Stamp{info.Size(), info.ModTime()}
}

// Disk reads and parses source files, each state of a file once. It is safe
// for concurrent use.
type Disk struct {
	mu    sync.Mutex
	files map[string]diskEntry
	parts int // of the files
	round int // how often files have been said to have changed
}

type diskEntry struct {
	stamp Stamp
	file  *syntax.File
}

// maxCached bounds what a Disk holds on to, in parts of [syntax.MaxParts]: some 150 MB.
const maxCached = syntax.MaxParts / 5

// Read returns the parsed file at path and its stamp, which is good for an
// error as well. Only regular files of at most [MaxSource] bytes within the
// bounds are read.
func (d *Disk) Read(path string, b *Bounds) (*syntax.File, Stamp, error) {
	return d.read(path, b.Stamp(path), b)
}

// read reads a file that was just seen with a stamp.
func (d *Disk) read(path string, stamp Stamp, b *Bounds) (*syntax.File, Stamp, error) {
	d.mu.Lock()
	e, ok := d.files[path]
	round := d.round
	d.mu.Unlock()
	if ok && stamp != (Stamp{}) && e.stamp == stamp {
		return e.file, stamp, nil
	}
	text, info, err := b.Read(path)
	if err != nil {
		d.Forget(path)
		return nil, stamp, err
	}
	stamp = stampOf(info) // of what has been read, should the path lead elsewhere by now
	file := syntax.Parse(text)
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.round != round {
		return file, stamp, nil // it may have been read before the change
	}
	d.drop(path)
	n := file.Parts()
	if d.files == nil || d.parts+n > maxCached {
		d.files, d.parts = map[string]diskEntry{}, 0
	}
	if n <= maxCached {
		d.parts += n
		d.files[path] = diskEntry{stamp, file}
	}
	return file, stamp, nil
}

// Changed are files of which somebody says that they have changed. It is believed,
// as size and time may be what they were.
type Changed struct {
	paths map[string]bool
	now   map[Stamp]bool
	bases map[string]bool // the last parts of paths
}

// Add takes a file by a path of it, and by its present stamp, which it has by any
// other path as well.
func (c *Changed) Add(path string, now Stamp) {
	if c.paths == nil {
		c.paths, c.now, c.bases = map[string]bool{}, map[Stamp]bool{}, map[string]bool{}
	}
	c.bases[filepath.Base(path)] = true
	c.paths[path] = true
	if now != (Stamp{}) {
		c.now[now] = true
	}
}

// Named says whether one of the files has the name that ends a path.
func (c *Changed) Named(name string) bool {
	return c != nil && c.bases[baseOf(name)]
}

// Has says whether what was known of path with a stamp may be one of the files.
func (c *Changed) Has(path string, was Stamp) bool {
	return c != nil && (c.paths[path] || c.now[was])
}

// Changed drops what is kept of files.
func (d *Disk) Changed(c *Changed) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.round++
	for path, e := range d.files {
		if c.Has(path, e.stamp) {
			d.drop(path)
		}
	}
}

// Clear drops all that is cached.
func (d *Disk) Clear() {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.files, d.parts = nil, 0
}

// Forget drops what is cached of path.
func (d *Disk) Forget(path string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.drop(path)
}

// drop is Forget with the lock held.
func (d *Disk) drop(path string) {
	if e, ok := d.files[path]; ok {
		d.parts -= e.file.Parts()
		delete(d.files, path)
	}
}

// Candidates lists the paths at which a file named in the source at from may
// be, in the order in which they are tried: the folder of from, then the
// include folders. from may be empty for a source that has no folder.
func Candidates(from, name string, include []string) []string {
	if name == "" {
		return nil
	}
	if filepath.IsAbs(name) {
		return []string{filepath.Clean(name)}
	}
	var out []string
	if from != "" {
		out = append(out, filepath.Join(filepath.Dir(from), name))
	}
	for _, dir := range include {
		out = append(out, filepath.Join(dir, name))
	}
	return out
}

// Project is a project file.
type Project struct {
	Path     string // of the project file
	Settings analysis.Settings
	Profiles []Profile // settings for some of the sources; see For
	// Problem says what is wrong with the file, each mistake on a line of its own with
	// its place in front; empty when nothing is. Settings then holds what could be read.
	Problem string
	keys    map[string]aPlace
}

// At is the place of a setting in the file, as in "narrowgauge.json:2:3"; the file where it
// does not have it.
func (p *Project) At(setting string) string {
	if at, ok := p.keys[setting]; ok {
		return p.Path + ":" + at.String()
	}
	return p.Path
}

// Finder finds project files and keeps what it has read. It is safe for
// concurrent use.
type Finder struct {
	mu    sync.Mutex
	cache map[string]foundProject // by path of the project file
}

type foundProject struct {
	stamp   Stamp
	project *Project
}

// Find searches dir and the folders above it, as far as the bounds say, for a
// project file. It returns nil when there is none.
func (f *Finder) Find(dir string, b *Bounds) (found *Project) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil
	}
	b.up(dir, func(dir string, in *Bounds) bool {
		path := filepath.Join(dir, FileName)
		info, err := in.Stat(path)
		switch {
		case errors.Is(err, ErrOutside):
			found = &Project{Path: path, Problem: fmt.Sprintf("%s is not read: %v", path, ErrOutside)}
		case err == nil && info.Mode().IsRegular():
			found = f.read(path, stampOf(info), in)
		}
		return found != nil
	})
	return found
}

// Changed drops what is kept of project files.
func (f *Finder) Changed(c *Changed) {
	f.mu.Lock()
	defer f.mu.Unlock()
	maps.DeleteFunc(f.cache, func(path string, p foundProject) bool { return c.Has(path, p.stamp) })
}

func (f *Finder) read(path string, stamp Stamp, b *Bounds) *Project {
	f.mu.Lock()
	defer f.mu.Unlock()
	if e, ok := f.cache[path]; ok && e.stamp == stamp {
		return e.project
	}
	p := &Project{Path: path}
	data, err := b.ReadFile(path)
	if err == nil {
		problems := decodeSettings(data, p)
		for i := range problems {
			problems[i] = path + ":" + problems[i]
		}
		p.Problem = strings.Join(problems, "\n")
	} else {
		p.Problem = fmt.Sprintf("%s: %v", path, inner(err))
	}
	startAt(&p.Settings, filepath.Dir(path))
	for i := range p.Profiles {
		startAt(&p.Profiles[i].Settings, filepath.Dir(path))
	}
	if f.cache == nil {
		f.cache = map[string]foundProject{}
	}
	f.cache[path] = foundProject{stamp, p}
	return p
}

// startAt lets relative paths of settings start at a folder.
func startAt(set *analysis.Settings, folder string) {
	for i, dir := range set.Include {
		if !filepath.IsAbs(dir) {
			set.Include[i] = filepath.Join(folder, dir)
		}
	}
	set.CompileCommands = CommandsPath(set.CompileCommands, folder)
}

// Fields points to every setting, by its name in JSON: to a string or to a
// []string.
func Fields(s *analysis.Settings) map[string]any {
	out := map[string]any{}
	for v, i := reflect.ValueOf(s).Elem(), 0; i < v.NumField(); i++ {
		if name := v.Type().Field(i).Tag.Get("json"); name != "" {
			out[name] = v.Field(i).Addr().Interface()
		}
	}
	return out
}

// Fill gives every setting that is empty in s the value from other. Arch and
// CPU both choose the instructions, so they are filled only together: else a
// core from other would win over an architecture in s.
func Fill(s, other analysis.Settings) analysis.Settings {
	if s.Arch != "" || s.CPU != "" {
		other.Arch, other.CPU = "", ""
	}
	from := Fields(&other)
	for name, to := range Fields(&s) {
		switch to := to.(type) {
		case *string:
			if *to == "" {
				*to = *from[name].(*string)
			}
		case *[]string:
			if len(*to) == 0 {
				*to = *from[name].(*[]string)
			}
		case *map[string]int64:
			if len(*to) == 0 {
				*to = *from[name].(*map[string]int64)
			}
		}
	}
	return s
}

// Valid resolves a copy of s. Each setting with an unknown value is reported
// and then left at its default, so that the result is always usable.
func Valid(s analysis.Settings) (*analysis.Settings, []*analysis.SettingError) {
	s.Include = append([]string(nil), s.Include...)
	var problems []*analysis.SettingError
	known := Fields(&s)
	for range len(known) + len(s.Symbols) + len(s.Severity) + len(s.Format) {
		err := s.Resolve()
		var bad *analysis.SettingError
		if !errors.As(err, &bad) {
			break
		}
		problems = append(problems, bad)
		switch to := known[bad.Setting].(type) {
		case *string:
			*to = ""
		case *[]string:
			*to = slices.DeleteFunc(slices.Clone(*to), func(item string) bool { return item == bad.Value })
		}
	}
	return &s, problems
}
