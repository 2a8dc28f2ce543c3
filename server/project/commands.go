package project

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"narrowgauge/analysis"
)

// CommandsName is the name of a JSON compilation database, as build tools
// write it: a list of objects with directory, file, and command or arguments
// (https://clang.llvm.org/docs/JSONCompilationDatabase.html, from memory).
const CommandsName = "compile_commands.json"

// BuildFolders lists the folders below a source's own and those above it in
// which a compilation database is looked for. A trailing * means any
// ending.
var BuildFolders = []string{"build", "out", "builddir", "build-*", "cmake-build-*"}

// maxDatabase bounds a compilation database, in bytes: those of large programs
// in C have tens of megabytes.
const maxDatabase = 256 << 20

// The values of the setting compileCommands that are no path.
const (
	commandsAuto  = "auto"
	commandsNever = "never"
)

// CommandsPath gives the setting compileCommands as [Commands.Find] takes it: a
// relative path starts at dir.
func CommandsPath(setting, dir string) string {
	switch setting {
	case "", commandsAuto, commandsNever:
		return setting
	}
	if !filepath.IsAbs(setting) {
		setting = filepath.Join(dir, setting)
	}
	return setting
}

// DatabaseFolders lists the folders of the project that a compilation database
// at path speaks for: its own, and the one above where its own is a build folder.
// path may be that of the database's folder.
func DatabaseFolders(path string) (out []string) {
	dir := path
	if info, err := os.Stat(path); err == nil && !info.IsDir() {
		dir = filepath.Dir(path)
	}
	out = []string{dir}
	if buildFolder(filepath.Base(dir)) && !wide(filepath.Dir(dir)) {
		out = append(out, filepath.Dir(dir))
	}
	return out
}

// Command is what a compilation database says about one source.
type Command struct {
	Path     string // of the database
	Named    bool   // the database names the source
	Settings analysis.Settings
	// Folder is the one above the source in which the database was found, with
	// or without a build folder; empty for one that a setting names.
	Folder string
	// Toolchain lists the folders that come with the compiler of the command.
	Toolchain []string
	// Notes say what of the command is not followed, a sentence each.
	Notes []string
	// Refused says what has not been read as it lies out of bounds, a sentence
	// each.
	Refused []string
}

// Commands finds compilation databases and keeps what it has read. It is safe
// for concurrent use.
type Commands struct {
	mu    sync.Mutex
	files map[string]*database
	dirs  map[string]buildFolders // by the folder that holds them
	tools tools
}

type buildFolders struct {
	modTime int64
	names   []string
}

// database is one state of a compilation database.
type database struct {
	stamp   Stamp
	entries map[string]*entry // by path of the source
	// real has them by path without symbolic links, made when first needed.
	real    map[string]*entry
	problem string
}

type entry struct {
	directory string
	file      string
	line      string   // command, or
	args      []string // arguments
	cmd       *Command // made when first asked for
	within    string   // the bounds that it was made in
	outputs   []string // where objects of the source come to
}

// Find gives what a compilation database says about source, an absolute path;
// nil if none names it. where is the setting compileCommands: empty or auto
// for the nearest database that names the source, never, or the path of one or
// of its folder. Only what lies within the bounds is read.
func (c *Commands) Find(source, where string, b *Bounds) (cmd *Command) {
	switch where {
	case commandsNever:
		return nil
	case "", commandsAuto:
	default:
		info, err := b.Stat(where)
		if err == nil && info.IsDir() {
			where = filepath.Join(where, CommandsName)
			info, err = b.Stat(where)
		}
		switch {
		case errors.Is(err, ErrOutside):
			return &Command{Path: where, Refused: []string{refused(where)}}
		case err != nil || !info.Mode().IsRegular():
			return &Command{Path: where, Notes: []string{where + " is not there, or is not a file."}}
		}
		cmd, problem := c.in(where, source, "", b, func() *Bounds { return b })
		if cmd == nil && problem != "" {
			return &Command{Path: where, Notes: []string{problem}}
		}
		return cmd
	}
	var out, problems []string
	b.up(filepath.Dir(source), func(dir string, in *Bounds) bool {
		for _, path := range append([]string{filepath.Join(dir, CommandsName)}, c.below(dir, in)...) {
			if in.Outside(path) {
				out = append(out, refused(path))
				continue
			}
			var problem string
			if cmd, problem = c.in(path, source, dir, in, func() *Bounds { return b.Project(dir) }); cmd != nil {
				return true
			}
			if problem != "" {
				problems = append(problems, problem)
			}
		}
		return false
	})
	if len(out) == 0 && len(problems) == 0 {
		return cmd
	}
	more := Command{}
	if cmd != nil {
		more = *cmd
	}
	more.Refused = append(out, more.Refused...)
	more.Notes = append(problems, more.Notes...)
	return &more
}

// Changed drops what is kept of databases, and what has been made of commands:
// the files may be some that they name.
func (c *Commands) Changed(files *Changed) {
	c.mu.Lock()
	defer c.mu.Unlock()
	maps.DeleteFunc(c.files, func(path string, db *database) bool { return files.Has(path, db.stamp) })
	for _, db := range c.files {
		for _, e := range db.entries {
			e.cmd = nil
		}
	}
}

// refused is the sentence about something that is out of bounds.
func refused(path string) string { return fmt.Sprintf("%s is not read: %v.", path, ErrOutside) }

// below lists the databases in the build folders of dir, the newest first.
func (c *Commands) below(dir string, b *Bounds) []string {
	info, err := b.Stat(dir)
	if err != nil {
		return nil
	}
	modTime := info.ModTime().UnixNano()
	c.mu.Lock()
	have, ok := c.dirs[dir]
	c.mu.Unlock()
	if !ok || have.modTime != modTime {
		have = buildFolders{modTime, buildFoldersIn(dir, b)}
		c.mu.Lock()
		if c.dirs == nil || len(c.dirs) > 10000 {
			c.dirs = map[string]buildFolders{}
		}
		c.dirs[dir] = have
		c.mu.Unlock()
	}
	type found struct {
		path  string
		stamp Stamp
	}
	var list []found
	for _, name := range have.names {
		path := filepath.Join(dir, name, CommandsName)
		if s := b.Stamp(path); s != (Stamp{}) || b.Outside(path) {
			list = append(list, found{path, s})
		}
	}
	slices.SortStableFunc(list, func(a, b found) int { return b.stamp.ModTime.Compare(a.stamp.ModTime) })
	var out []string
	for _, f := range list {
		out = append(out, f.path)
	}
	return out
}

// maxNames bounds the names that are read of a folder above a source.
const maxNames = 5000

func buildFoldersIn(dir string, b *Bounds) (out []string) {
	return slices.DeleteFunc(folderNames(dir, b), func(name string) bool { return !buildFolder(name) })
}

// folderNames lists the names in a folder, sorted; of very many only some.
func folderNames(dir string, b *Bounds) []string {
	p, err := b.Find(dir)
	if err != nil {
		return nil
	}
	root, rel, err := p.Open()
	if err != nil {
		return nil
	}
	defer root.Close()
	f, err := root.Open(rel)
	if err != nil {
		return nil
	}
	defer f.Close()
	names, _ := f.Readdirnames(maxNames)
	slices.Sort(names)
	return names
}

// buildFolder says whether a folder's name is one of [BuildFolders].
func buildFolder(name string) bool {
	return slices.ContainsFunc(BuildFolders, func(pattern string) bool {
		ok, _ := filepath.Match(pattern, name)
		return ok
	})
}

// in looks source up in the database at path, which lies within b and was found
// in or below folder. What the database names is looked for within. Where it does
// not name the source, problem says what of it could not be read, if anything.
func (c *Commands) in(path, source, folder string, b *Bounds, within func() *Bounds) (cmd *Command, problem string) {
	stamp := b.Stamp(path)
	c.mu.Lock()
	defer c.mu.Unlock()
	if stamp == (Stamp{}) {
		delete(c.files, path)
		return nil, ""
	}
	db := c.files[path]
	if db == nil || db.stamp != stamp {
		db = readDatabase(path, stamp, b)
		if c.files == nil {
			c.files = map[string]*database{}
		}
		c.files[path] = db
	}
	e := db.entries[source]
	if e == nil && len(db.entries) > 0 {
		e = db.byLink(source)
	}
	if e == nil {
		return nil, db.problem
	}
	reach := within()
	if within := reach.String(); e.cmd == nil || e.within != within {
		e.cmd, e.within = e.interpret(path, reach, &c.tools), within
		e.cmd.Folder = folder
		if db.problem != "" {
			e.cmd.Notes = append(e.cmd.Notes, db.problem)
		}
	}
	return e.cmd, ""
}

// maxOutputs bounds the programs that a source is known to be part of.
const maxOutputs = 100

// byLink looks up a source that the database knows by another path. Where links
// outside of the bounds lead decides nothing but whether they are meant.
func (db *database) byLink(source string) *entry {
	if db.real == nil {
		db.real = make(map[string]*entry, len(db.entries))
		for path, e := range db.entries {
			if strings.HasPrefix(path, `\\`) {
				continue // another machine
			}
			if real, err := filepath.EvalSymlinks(path); err == nil && db.real[real] == nil {
				db.real[real] = e
			}
		}
	}
	real, err := filepath.EvalSymlinks(source)
	if err != nil {
		return nil
	}
	return db.real[real]
}

// readDatabase reads the entries about assembly sources: they are few among
// those of a program in C. An entry that cannot be read spoils no other.
func readDatabase(path string, stamp Stamp, b *Bounds) *database {
	db := &database{stamp: stamp, entries: map[string]*entry{}}
	f, _, err := b.open(path, maxDatabase)
	if err != nil {
		db.problem = err.Error() + "."
		return db
	}
	defer f.Close()
	in := bufio.NewReader(io.LimitReader(f, maxDatabase))
	if mark, _ := in.Peek(len(byteOrderMark)); string(mark) == byteOrderMark {
		_, _ = in.Discard(len(mark))
	}
	dec := json.NewDecoder(in)
	if t, err := dec.Token(); err != nil || t != json.Delim('[') {
		db.problem = path + " is not a JSON list."
		return db
	}
	for dec.More() {
		var raw struct {
			Directory string   `json:"directory"`
			File      string   `json:"file"`
			Command   string   `json:"command"`
			Arguments []string `json:"arguments"`
			Output    string   `json:"output"`
		}
		if err := dec.Decode(&raw); err != nil {
			db.problem = fmt.Sprintf("%s: %v.", path, err)
			if _, ok := err.(*json.UnmarshalTypeError); ok {
				continue
			}
			break
		}
		assembly := slices.Contains(ProgramNames, filepath.Ext(raw.File)) ||
			strings.Contains(raw.Command, "assembler") || slices.ContainsFunc(raw.Arguments, func(a string) bool { return strings.Contains(a, "assembler") })
		if raw.File == "" || !assembly {
			continue
		}
		e := &entry{directory: raw.Directory, file: raw.File, line: raw.Command, args: raw.Arguments}
		if !filepath.IsAbs(e.directory) {
			e.directory = filepath.Join(filepath.Dir(path), e.directory)
		}
		full := e.path(raw.File)
		if db.entries[full] == nil { // the first one counts
			db.entries[full] = e
		}
		if e = db.entries[full]; len(e.outputs) < maxOutputs {
			e.outputs = append(e.outputs, outputOf(raw.Output, raw.Command, raw.Arguments))
		}
	}
	return db
}

// path is a path of the command, absolute.
func (e *entry) path(p string) string {
	if filepath.IsAbs(p) {
		return filepath.Clean(p)
	}
	return filepath.Join(e.directory, p)
}

// Under completes settings that somebody wrote by those of a compilation
// database. Architecture, core and floating-point unit come together. What is
// in lists is in front of what the database adds; a macro or symbol that
// both define is that of own.
func Under(own, db analysis.Settings) analysis.Settings {
	if own.Arch != "" || own.CPU != "" {
		db.FPU = ""
	}
	out := Fill(own, db)
	out.Include = added(own.Include, db.Include)
	out.Prelude = added(own.Prelude, db.Prelude)
	out.Defines = joined(own.Defines, db.Defines)
	out.Symbols = joined(own.Symbols, db.Symbols)
	return out
}

// joined appends to own what of more has another name.
func joined(own, more []string) []string {
	out := slices.Clone(own)
	has := map[string]bool{}
	for _, o := range own {
		has[defined(o)] = true
	}
	for _, m := range more {
		if !has[defined(m)] {
			out = append(out, m)
		}
	}
	return out
}

// added appends to own what of more is not in it; of more each once.
func added(own, more []string) []string {
	out := slices.Clone(own)
	has := map[string]bool{}
	for _, o := range own {
		has[o] = true
	}
	for _, m := range more {
		if !has[m] {
			has[m] = true
			out = append(out, m)
		}
	}
	return out
}

// distinct is a list without what was in it before.
func distinct(list []string) []string { return added(nil, list) }

// defined is the name that NAME, NAME=text or NAME(parameters)=text defines.
func defined(def string) string {
	if i := strings.IndexAny(def, "=("); i >= 0 {
		def = def[:i]
	}
	return strings.TrimSpace(def)
}
