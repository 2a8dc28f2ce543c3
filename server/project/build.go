package project

import (
	"bytes"
	"cmp"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"narrowgauge/analysis"
)

// The bounds of what is read of build files.
const (
	maxBuildFile   = 1 << 20 // bytes of one
	maxBuildBytes  = 4 << 20 // of those in one folder
	maxBuildFiles  = 100     // in one folder
	maxBuildMarks  = 1000    // options that are taken from one
	maxBuildLine   = 4096    // bytes of a line that is looked at
	maxBuildValues = 8       // that a variable may have
	maxEvidence    = 6       // targets that one folder speaks for
	maxKeptFolders = 10_000
)

// nearFolders are folders beside the sources, or above them, whose build files count like
// those that are directly there (common practice).
var nearFolders = []string{"build", "cmake", "config", "conf", "cross", "make", "meson", "mk", "scripts", "toolchain", "toolchains", "tools"}

// IsBuildFile says whether a file's name is one of those that say how sources are built:
// for make, CMake, Meson and the like, project files in JSON, INI and TOML, and the scripts of
// linkers. They are searched as plain text, and nothing in them is run.
func IsBuildFile(path string) bool {
	name := strings.ToLower(filepath.Base(path))
	switch name {
	case "cmakelists.txt", "meson.build", "sconstruct", "sconscript", "kbuild", "justfile":
		return true
	case CommandsName, FileName, "package-lock.json":
		return false
	}
	if strings.HasPrefix(name, "makefile") || strings.HasPrefix(name, "gnumakefile") {
		return true
	}
	switch filepath.Ext(name) {
	case ".mk", ".mak", ".make", ".gmk", ".cmake", ".ld", ".lds", ".json", ".ini", ".toml", ".sh":
		return true
	case ".txt":
		return strings.Contains(name, "cross") || strings.Contains(name, "toolchain") // Meson's, by custom
	}
	return false
}

// BuildFiles finds what the build files near a source say about its target, and keeps
// what it has read. It is safe for concurrent use.
type BuildFiles struct {
	mu      sync.Mutex
	files   map[string]buildText
	told    map[string]*tellings
	folders map[string]buildNames
}

// buildNames are the build files in a folder, and which of nearFolders it has.
type buildNames struct {
	stamp       int64
	files, near []string
}

// buildText is what one state of a build file says.
type buildText struct {
	stamp Stamp
	marks []mark
	vars  map[string][]string
	dirs  []string        // folders that it includes, as it says
	words map[string]bool // names of files that it makes
	links []string        // paths of the links that it makes, with slashes
}

// mark is an option in a build file. Its value may be a variable.
type mark struct {
	line        int
	name, value string
	said        string // as the file has it, where that is not how GCC's driver takes it
}

// Find lists what the nearest folder from dir upwards that has such options says of the
// target, each possibility once. It does not leave the bounds.
func (f *BuildFiles) Find(dir string, b *Bounds) []analysis.Evidence {
	from := dir
	var common []mark
	for ; b != nil && b.holds(dir) && !b.wide(dir); dir = filepath.Dir(dir) {
		names := f.names(dir, b)
		paths := inFolder(dir, names.files)
		for _, sub := range names.near {
			sub = filepath.Join(dir, sub)
			paths = append(paths, inFolder(sub, f.names(sub, b).files)...)
		}
		found, more := f.folder(paths, from, common, b)
		if len(found) > 0 {
			return found
		}
		common = append(common, more...)
		if filepath.Dir(dir) == dir {
			break
		}
	}
	return nil
}

func inFolder(dir string, names []string) (out []string) {
	for _, name := range names {
		out = append(out, filepath.Join(dir, name))
	}
	return out
}

// names lists the build files in a folder.
func (f *BuildFiles) names(dir string, b *Bounds) buildNames {
	info, err := b.Stat(dir)
	if err != nil || !info.IsDir() {
		return buildNames{}
	}
	stamp := info.ModTime().UnixNano()
	f.mu.Lock()
	have, ok := f.folders[dir]
	f.mu.Unlock()
	if ok && have.stamp == stamp {
		return have
	}
	have = buildNames{stamp: stamp}
	for _, name := range folderNames(dir, b) {
		switch {
		case IsBuildFile(name):
			if len(have.files) < maxBuildFiles {
				have.files = append(have.files, name)
			}
		case slices.Contains(nearFolders, strings.ToLower(name)):
			have.near = append(have.near, name)
		}
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.folders == nil || len(f.folders) > maxKeptFolders {
		f.folders = map[string]buildNames{}
	}
	f.folders[dir] = have
	return have
}

// Changed drops what is kept of files.
func (f *BuildFiles) Changed(c *Changed) {
	f.mu.Lock()
	defer f.mu.Unlock()
	maps.DeleteFunc(f.files, func(path string, t buildText) bool { return c.Has(path, t.stamp) })
	maps.DeleteFunc(f.told, func(path string, t *tellings) bool { return c.Has(path, t.stamp) })
}

// all lists what the build files say from dir upwards, the nearest first.
func (f *BuildFiles) all(dir string, b *Bounds, each func(path string, t buildText, top string)) {
	top := b.topmost(dir)
	for at := dir; top != ""; at = filepath.Dir(at) {
		names, left := f.names(at, b), maxBuildBytes
		paths := inFolder(at, names.files)
		for _, sub := range names.near {
			sub = filepath.Join(at, sub)
			paths = append(paths, inFolder(sub, f.names(sub, b).files)...)
		}
		for _, path := range paths {
			each(path, f.read(path, &left, b), top)
		}
		if at == top {
			return
		}
	}
}

// Folders lists the folders that build files from dir upwards give to compilers and
// assemblers.
func (f *BuildFiles) Folders(dir string, b *Bounds) (out []string) {
	f.all(dir, b, func(path string, t buildText, top string) {
		for _, name := range t.dirs {
			name = inTree(name, t.vars)
			for _, from := range []string{filepath.Dir(path), top} { // make may run above
				if full := filepath.Join(from, name); !slices.Contains(out, full) && len(out) < maxSought {
					out = append(out, full)
				}
			}
		}
	})
	return out
}

// inTree is the name of a folder with variables replaced; those that are not known are
// mostly the top of the project, and left out.
func inTree(name string, vars map[string][]string) string {
	for range 3 {
		name = variable().ReplaceAllStringFunc(name, func(v string) string {
			if values := vars[strings.Trim(v, "$(){}")]; len(values) > 0 {
				return values[0]
			}
			return "."
		})
	}
	return strings.TrimLeft(filepath.FromSlash(name), string(filepath.Separator))
}

// Names says whether a build file from dir upwards makes a file.
func (f *BuildFiles) Names(dir, base string, b *Bounds) (found bool) {
	f.all(dir, b, func(_ string, t buildText, _ string) { found = found || t.makes(base) })
	return found
}

// linked finds a link that a shell or CMake makes, with its path.
var linked = Pattern(`(?:\bln[ \t]+-[A-Za-z]*s[A-Za-z]*(?:[ \t]+-\S+)*|\bcreate_symlink)[ \t]+\S+[ \t]+["']?([^\s"')]+)`)

// Links says whether a build file from dir upwards makes a link that a folder, as an include
// names it with slashes, goes through.
func (f *BuildFiles) Links(dir, folder string, b *Bounds) (found bool) {
	var through []string
	for folder = "/" + strings.Trim(folder, "/"); len(folder) > 1 && folder != "/."; folder = folder[:strings.LastIndexByte(folder, '/')] {
		through = append(through, folder)
	}
	if len(through) == 0 {
		return false
	}
	f.all(dir, b, func(_ string, t buildText, _ string) {
		for _, link := range t.links {
			found = found || slices.ContainsFunc(through, func(tail string) bool { return strings.HasSuffix(link, tail) })
		}
	})
	return found
}

// read searches one file for options.
func (f *BuildFiles) read(path string, left *int, b *Bounds) buildText {
	stamp := b.Stamp(path)
	if stamp == (Stamp{}) || stamp.Size > maxBuildFile || stamp.Size > int64(*left) {
		return buildText{}
	}
	*left -= int(stamp.Size)
	f.mu.Lock()
	have, ok := f.files[path]
	f.mu.Unlock()
	if ok && have.stamp == stamp {
		return have
	}
	text, info, err := b.Read(path)
	if err != nil || len(text) > maxBuildFile {
		return buildText{}
	}
	have = searchBuild(filepath.Ext(path), []byte(text))
	have.stamp = stampOf(info)
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.files == nil || len(f.files) > maxKeptFolders {
		f.files = map[string]buildText{}
	}
	f.files[path] = have
	return have
}

// options finds the options of compilers and assemblers that are about the machine. What is
// before one may not belong to a longer word. A value may be a variable of make, CMake or a
// shell.
var options = Pattern(`(?:^|[^A-Za-z0-9_-])-m([a-z][a-z-]*)(?:=["']?((?:\$[({][A-Za-z0-9_.-]+[)}]|[A-Za-z0-9_.+-])+))?`)

// otherOptions finds how other compilers are told the core, and the machine of LLVM's targets.
var otherOptions = Pattern(`(?:^|[\s"'=,(])(--cpu(?:=|[ \t]+)["']?([A-Za-z0-9_.+-]+)|--?target(?:=|[ \t]+)["']?((?:thumb|arm)(v[0-9a-z.]+)-[a-z0-9-]+))`)

// machineOptions are those that count, with a value or without.
var machineOptions = map[string]bool{"cpu": true, "arch": true, "fpu": true, "float-abi": true, "implicit-it": true, "thumb": false, "arm": false, "soft-float": false, "hard-float": false}

// assigned finds a variable that is given a value of one word, in the ways of make, CMake,
// Meson, JSON, INI and shells.
var assigned = Pattern(`^\s*(?:export\s+|override\s+|set\s*\(\s*)?["']?([A-Za-z_][A-Za-z0-9_.-]*)["']?\s*(?:[:?+]{0,2}=|:|\s)\s*["']?((?:\$[({][A-Za-z0-9_.-]+[)}]|[A-Za-z0-9_./+-])+)`)

// variable finds a variable of make, CMake or a shell.
var variable = Pattern(`\$[({][A-Za-z0-9_.-]+[)}]`)

// included finds the folder after -I.
var included = Pattern(`(?:^|[\s"',;(=])-I\s*["']?((?:\$[({][A-Za-z0-9_.-]+[)}]|[^\s"',;()$])+)`)

// includes finds where CMake and Meson are given such folders, up to the end of the list.
var includes = Pattern(`\binclude_directories\s*\(([^)]{0,1000})\)`)

// fileName finds the names of files that a build makes, or that others are made of.
var fileName = Pattern(`[A-Za-z0-9_.-]+\.(?:h|hh|hpp|inc|i|s|S|sx|asm|mac|def|bin)\b`)

// makes finds what comes before a file that a command or a rule of CMake, Meson or a shell
// writes.
var makes = Pattern(`(?:>|\s-o|--output[= ]|\bOUTPUT|\bBYPRODUCTS|\boutput\s*:|\bconfigure_file\s*\(.*)\s*\[?["']?(?:[^\s"',;()]*/)?$`)

// madeBy says whether a line of a build file makes the file whose name is at [from,to) of it:
// it is the target of a rule, or something is written to it. What is only named has to be
// there.
func madeBy(line []byte, from, to int) bool {
	before, after := line[:from], line[to:]
	if i := bytes.IndexByte(after, ':'); i >= 0 && !bytes.HasPrefix(after[i+1:], []byte("=")) && len(line) > 0 && line[0] != '\t' &&
		!bytes.ContainsAny(before, "=:(\"'") && !bytes.ContainsAny(after[:i], "=(\"'") {
		return true
	}
	return makes().Match(before)
}

// machine finds OUTPUT_ARCH in the script of a linker.
var machine = Pattern(`\bOUTPUT_ARCH\s*\(\s*"?([A-Za-z0-9_.-]+)"?\s*\)`)

// searchBuild searches the text of a build file; ext is the ending of its name.
func searchBuild(ext string, data []byte) buildText {
	out := buildText{vars: map[string][]string{}, words: map[string]bool{}}
	script := ext == ".ld" || ext == ".lds"
	if script {
		data = withoutComments(data)
	}
	if !script {
		for _, m := range includes().FindAllSubmatch(data, maxSought) {
			for _, word := range strings.FieldsFunc(string(m[1]), func(c rune) bool { return strings.ContainsRune(" \t\r\n\"',", c) }) {
				out.folder(strings.NewReplacer("(", "", ")", "").Replace(word))
			}
		}
	}
	for n := 0; len(data) > 0 && len(out.marks) < maxBuildMarks; n++ {
		line := data
		if i := bytes.IndexByte(data, '\n'); i >= 0 {
			line, data = data[:i], data[i+1:]
		} else {
			data = nil
		}
		line = line[:min(len(line), maxBuildLine)]
		if script {
			for _, m := range machine().FindAllSubmatch(line, -1) {
				out.marks = append(out.marks, mark{line: n, name: "arch", value: strings.ToLower(string(m[1])), said: string(m[0])})
			}
			continue
		}
		if text := bytes.TrimLeft(line, " \t"); len(text) == 0 || text[0] == '#' || text[0] == ';' || bytes.HasPrefix(text, []byte("//")) {
			continue
		}
		if i := bytes.Index(line, []byte(" #")); i >= 0 && ext != ".json" {
			line = line[:i]
		}
		if bytes.Contains(line, []byte("-m")) {
			for _, m := range options().FindAllSubmatch(line, -1) {
				if valued, ok := machineOptions[string(m[1])]; ok && valued == (len(m[2]) > 0) {
					out.marks = append(out.marks, mark{line: n, name: string(m[1]), value: string(m[2])})
				}
			}
		}
		out.others(n, line)
		for _, m := range included().FindAllSubmatch(line, maxSought) {
			out.folder(string(m[1]))
		}
		if m := linked().FindSubmatch(line); m != nil && len(out.links) < maxBuildMarks {
			out.links = append(out.links, "/"+strings.Trim(string(m[1]), "/"))
		}
		out.rule(ext, line)
		for _, m := range fileName().FindAllIndex(line, maxSought) {
			if len(out.words) < maxBuildMarks && madeBy(line, m[0], m[1]) {
				out.words[string(line[m[0]:m[1]])] = true
			}
		}
		if m := assigned().FindSubmatch(line); m != nil {
			out.assign(n, ext, string(m[1]), string(m[2]))
		}
	}
	return out
}

// makeless are the endings of build files that have no rules of make.
var makeless = map[string]bool{".json": true, ".ini": true, ".toml": true, ".txt": true, ".cmake": true, ".build": true, ".sh": true}

// rule notes the files that a line of make makes, whatever their names end in: the targets of a
// rule, and those that Kbuild lists. A target with '%' is kept with it.
func (t *buildText) rule(ext string, line []byte) {
	if makeless[ext] || len(line) == 0 || line[0] == '\t' {
		return
	}
	text := variable().ReplaceAllString(string(line), "")
	head, rest, ok := strings.Cut(text, ":")
	switch {
	case !ok || strings.ContainsAny(head, "=(\"'$"):
		name, words, ok := strings.Cut(text, "=")
		if !ok || strings.Trim(name, " \t:+") != "targets" {
			return
		}
		head = words
	case strings.HasPrefix(strings.TrimLeft(rest, ":"), "="):
		if strings.TrimSpace(head) != "targets" {
			return
		}
		head = strings.TrimLeft(rest, ":=")
	}
	for _, word := range strings.Fields(head) {
		if word = word[strings.LastIndexByte(word, '/')+1:]; strings.HasPrefix(word, "%") || strings.Count(word, "%") > 1 || len(t.words) >= maxBuildMarks {
			continue // that is how files of a kind are made, not which
		}
		t.words[word] = true
	}
}

// makes says whether a build file makes a file.
func (t *buildText) makes(base string) bool {
	if t.words[base] {
		return true
	}
	for word := range t.words {
		if before, after, ok := strings.Cut(word, "%"); ok && len(base) > len(word)-1 && strings.HasPrefix(base, before) && strings.HasSuffix(base, after) {
			return true
		}
	}
	return false
}

// others notes what a line says of the target in the words of other compilers.
func (t *buildText) others(n int, line []byte) {
	if !bytes.Contains(line, []byte("-cpu")) && !bytes.Contains(line, []byte("-target")) {
		return
	}
	for _, m := range otherOptions().FindAllSubmatch(line, maxSought) {
		said := strings.Join(strings.Fields(string(m[1])), " ")
		if core := strings.ToLower(string(m[2])); core != "" {
			t.marks = append(t.marks, mark{n, "cpu", core, said})
		} else if arch := clangArch[string(m[4])]; arch != "" {
			t.marks = append(t.marks, mark{n, "arch", arch, said})
		}
	}
}

// folder notes a folder to include.
func (t *buildText) folder(name string) {
	switch name {
	case "", "PUBLIC", "PRIVATE", "INTERFACE", "SYSTEM", "BEFORE", "AFTER":
		return
	}
	if len(t.dirs) < maxSought && !slices.Contains(t.dirs, name) {
		t.dirs = append(t.dirs, name)
	}
}

// assign notes the value of a variable. One whose name says that it is the core, with the
// name of a core, counts as an option.
func (t *buildText) assign(line int, ext, name, value string) {
	if len(t.vars) < maxBuildMarks && len(t.vars[name]) < maxBuildValues {
		t.vars[name] = append(t.vars[name], value)
	}
	said := name + " = " + value
	name, value = strings.ToLower(name), strings.ToLower(value)
	if i := strings.LastIndexAny(name, "_.-"); i >= 0 {
		name = name[i+1:]
	}
	if name == "mcu" && (ext == ".ini" || ext == ".toml" || ext == ".json") {
		name = "mcpu" // which in files for make options have as a part
	}
	switch name {
	case "cpu", "mcpu", "core", "processor", "arch", "march":
		if strings.HasPrefix(value, "cortex-") || strings.HasPrefix(value, "armv") {
			t.marks = append(t.marks, mark{line, "cpu", value, said})
		}
	case "target":
		machine, _, _ := strings.Cut(value, "-")
		if arch := clangArch[strings.TrimPrefix(machine, "thumb")]; arch != "" {
			t.marks = append(t.marks, mark{line, "arch", arch, said})
		}
	}
}

// withoutComments takes what is between /* and */ out of a text, lines left as they are.
func withoutComments(data []byte) []byte {
	out := bytes.Clone(data)
	for at := 0; ; {
		i := bytes.Index(out[at:], []byte("/*"))
		if i < 0 {
			return out
		}
		end := bytes.Index(out[at+i+2:], []byte("*/"))
		if end < 0 {
			end = len(out)
		} else {
			end += at + i + 4
		}
		for k := at + i; k < end; k++ {
			if out[k] != '\n' {
				out[k] = ' '
			}
		}
		at = end
	}
}

// group are the options that belong together: those of one file, if it names one target.
type group struct {
	path  string
	line  int    // of the option that names the target
	text  string // that option
	marks []mark
}

// folder puts together what build files in one folder say. What names no target is more,
// to be added to what does: it may be in another file, or in a folder above.
func (f *BuildFiles) folder(paths []string, from string, common []mark, b *Bounds) (out []analysis.Evidence, more []mark) {
	var texts []buildText
	vars := map[string][]string{}
	left := maxBuildBytes
	for _, path := range paths {
		t := f.read(path, &left, b)
		texts = append(texts, t)
		for name, values := range t.vars {
			vars[name] = append(vars[name], values...)
		}
	}
	var groups []group
	for i, t := range texts {
		here, rest := grouped(paths[i], t.marks, vars)
		groups, more = append(groups, here...), append(more, rest...)
	}
	common = slices.Concat(more, common)
	seen := map[string]bool{}
	for _, g := range groups {
		e, key := g.evidence(common)
		if key == "" || seen[key] || len(out) >= maxEvidence {
			continue
		}
		seen[key] = true
		if rel, err := filepath.Rel(from, g.path); err == nil {
			e.File = filepath.ToSlash(rel)
		}
		out = append(out, e)
	}
	return out, more
}

// grouped divides the options of one file by the targets that it names; rest are those of
// a file that names none.
func grouped(path string, marks []mark, vars map[string][]string) (out []group, rest []mark) {
	targets := map[string]bool{}
	for _, m := range marks {
		for _, value := range expanded(m.value, vars, 0) {
			if m.name == "cpu" || m.name == "arch" {
				m := mark{m.line, m.name, value, m.said}
				if targets[value] || !m.known() {
					continue
				}
				targets[value] = true
				// Both in one line belong together.
				if n := len(out); n > 0 && out[n-1].line == m.line && out[n-1].marks[len(out[n-1].marks)-1].name != m.name {
					out[n-1].marks = append(out[n-1].marks, m)
					continue
				}
				out = append(out, group{path, m.line, cmp.Or(m.said, m.option()), []mark{m}})
				continue
			}
			m := mark{line: m.line, name: m.name, value: value}
			if n := len(out); n > 0 {
				out[n-1].marks = append(out[n-1].marks, m)
			} else {
				rest = append(rest, m)
			}
		}
	}
	// With one target all that the file says is of it.
	for i := range out {
		for _, m := range rest {
			out[i].add(m)
		}
	}
	if len(out) > 0 {
		rest = nil
	}
	return out, rest
}

// add takes an option of which the group has none.
func (g *group) add(m mark) {
	if !slices.ContainsFunc(g.marks, func(o mark) bool { return o.name == m.name }) {
		g.marks = append(g.marks, m)
	}
}

// expanded lists the values that a text with variables may have.
func expanded(value string, vars map[string][]string, depth int) (out []string) {
	at := variable().FindStringIndex(value)
	if at == nil {
		return []string{value}
	}
	if depth > 3 {
		return nil
	}
	for _, v := range vars[strings.Trim(value[at[0]:at[1]], "$(){}")] {
		out = append(out, expanded(value[:at[0]]+v+value[at[1]:], vars, depth+1)...)
		if len(out) >= maxBuildValues {
			return out[:maxBuildValues]
		}
	}
	return out
}

// option is how the command line would say it.
func (m mark) option() string {
	if m.value == "" {
		return "-m" + m.name
	}
	return "-m" + m.name + "=" + m.value
}

// known says whether there is a target of that name.
func (m mark) known() bool {
	set := analysis.Settings{CPU: m.value}
	if m.name == "arch" || strings.HasPrefix(m.value, "armv") {
		set = analysis.Settings{Arch: m.value}
	}
	return set.Resolve() == nil
}

// evidence is what a group comes to, as a compiler would pass it on; key tells it from others.
func (g *group) evidence(common []mark) (e analysis.Evidence, key string) {
	for _, m := range common {
		g.add(m)
	}
	f := flags{e: &entry{}, in: nil}
	for _, m := range g.marks {
		if m.name == "cpu" && strings.HasPrefix(m.value, "armv") {
			m.name = "arch"
		}
		f.machine(m.option())
	}
	set := f.settings()
	if set.Arch == "" && set.CPU == "" {
		return e, ""
	}
	e = analysis.Evidence{Line: g.line, Text: g.text}
	e.Settings = analysis.Settings{Arch: set.Arch, CPU: set.CPU, FPU: set.FPU, ImplicitIT: set.ImplicitIT, Defines: set.Defines}
	return e, strings.Join(append([]string{set.Arch, set.CPU, set.FPU, set.ImplicitIT}, set.Defines...), "\x00")
}
