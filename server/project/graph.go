package project

import (
	"bytes"
	"cmp"
	"context"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
)

// The bounds of a scan for include lines.
const (
	maxScanEntries = 200_000
	maxScanFiles   = 20_000
	maxScanBytes   = 256 << 20
	maxScanFile    = 8 << 20
)

// Graph knows which sources include which, by what their lines say: it looks
// only for these lines, whether or not they are assembled. It is safe for
// concurrent use.
type Graph struct {
	mu     sync.Mutex
	files  map[string][]string        // the names that a file includes
	byBase map[string]map[string]bool // the files that include something of that base name
	read   map[string]bool            // all that were looked at
	named  map[string]bool            // the last words of the names of programs in lines about included files, in lower case
	open   bool                       // such a line has a name that is put together, or not all was read
}

// Scan reads the sources in dir, with deep those in the folders below as well,
// as far as the bounds reach. Hidden folders are left out, links to folders are
// not followed. It returns false where it has stopped at one of its limits.
func (g *Graph) Scan(ctx context.Context, dir string, deep bool, b *Bounds) bool {
	entries, files, size, all := 0, 0, int64(0), true
	root := dir
	if info, err := os.Lstat(dir); err == nil && info.Mode()&fs.ModeSymlink != 0 {
		root += string(filepath.Separator) // the folder that the link leads to
	}
	_ = filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if ctx.Err() != nil {
			return fs.SkipAll
		}
		if entries++; entries > maxScanEntries || files > maxScanFiles || size > maxScanBytes {
			all = false
			return fs.SkipAll
		}
		switch {
		case err != nil:
			return nil // what cannot be listed is left out
		case d.IsDir():
			if path != root && (!deep || strings.HasPrefix(d.Name(), ".") || d.Name() == "node_modules") {
				return fs.SkipDir
			}
			return nil
		}
		if !IsSource(path) || !d.Type().IsRegular() && d.Type()&fs.ModeSymlink == 0 {
			return nil
		}
		files++
		size += g.Update(path, b)
		return nil
	})
	return all
}

// Update reads one file again, or forgets it if it is gone or out of bounds. It
// returns the bytes read.
func (g *Graph) Update(path string, b *Bounds) int64 {
	if !IsSource(path) {
		return 0
	}
	var names, programs []string
	n, open := int64(0), false
	if stamp := b.Stamp(path); stamp != (Stamp{}) && stamp.Size <= maxScanFile {
		if data, err := b.ReadFile(path); err == nil {
			names, n = includeNames(data), int64(len(data))
			programs, open = programsNamed(data)
		}
	} else {
		open = stamp.Size > maxScanFile
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.files == nil {
		g.files, g.byBase = map[string][]string{}, map[string]map[string]bool{}
		g.read, g.named = map[string]bool{}, map[string]bool{}
	}
	g.read[path] = true
	g.open = g.open || open
	for _, name := range programs {
		g.named[name] = true
	}
	for _, name := range g.files[path] {
		delete(g.byBase[baseOf(name)], path)
	}
	if names == nil {
		delete(g.files, path)
		return n
	}
	g.files[path] = names
	for _, name := range names {
		base := baseOf(name)
		if g.byBase[base] == nil {
			g.byBase[base] = map[string]bool{}
		}
		g.byBase[base][path] = true
	}
	return n
}

func baseOf(name string) string { return name[strings.LastIndexAny(name, `/\`)+1:] }

// includeNames finds the names after .include, #include, INCLUDE and GET, each
// once.
func includeNames(text []byte) (out []string) {
	for len(text) > 0 {
		line := text
		if i := bytes.IndexByte(text, '\n'); i >= 0 {
			line, text = text[:i], text[i+1:]
		} else {
			text = nil
		}
		if len(line) > 4096 {
			continue
		}
		rest := bytes.TrimLeft(line, " \t")
		blank := len(rest) < len(line)
		hash := false
		switch {
		case len(rest) < 5:
			continue
		case rest[0] == '#':
			hash = true
			rest = bytes.TrimLeft(rest[1:], " \t")
		case rest[0] == '.':
			rest = rest[1:]
		case !blank: // a label in the column dialect
			continue
		}
		word := rest
		if i := bytes.IndexAny(rest, " \t\"<"); i > 0 {
			word = rest[:i]
		}
		if w := strings.ToLower(string(word)); w != "include" && (hash || w != "get") && (!hash || w != "import") {
			continue
		}
		name := bytes.TrimSpace(rest[len(word):])
		switch {
		case len(name) == 0:
			continue
		case name[0] == '"' || name[0] == '<':
			end := byte('"')
			if name[0] == '<' {
				end = '>'
			}
			i := bytes.IndexByte(name[1:], end)
			if i < 0 {
				continue
			}
			name = name[1 : 1+i]
		default:
			if i := bytes.IndexAny(name, " \t;@"); i >= 0 {
				name = name[:i]
			}
		}
		if s := string(name); s != "" && !slices.Contains(out, s) && len(out) < 1000 {
			out = append(out, s)
		}
	}
	return out
}

// MayInclude says whether some file that was read may include a program, by any line about
// included files that has its name, or one that is put together when it is assembled.
func (g *Graph) MayInclude(path string) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.open || g.named[lastPart(strings.ToLower(filepath.Base(path)))]
}

// Has says whether a file was looked at.
func (g *Graph) Has(path string) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.read[path]
}

// What ends a word of a name in a line, and what a name has that is put together of arguments
// of macros or of symbols.
const (
	wordEnds = " \t\r\"'<>()/\\,;"
	composed = "\\$&"
)

func lastPart(name string) string { return name[strings.LastIndexAny(name, wordEnds)+1:] }

// programsNamed lists what may be names of programs, in lower case, in lines that are about
// including, and says whether such a line has a name that cannot be read off it.
func programsNamed(text []byte) (out []string, open bool) {
	for at := 0; at < len(text); {
		line := text[at:]
		if i := bytes.IndexByte(line, '\n'); i >= 0 {
			line = line[:i]
		}
		at += len(line) + 1
		how, name := including(line)
		switch {
		case how == noInclude:
			continue
		case len(name) > 0 && (name[0] == '"' || name[0] == '<'):
			name, _, _ = bytes.Cut(name[1:], []byte{map[byte]byte{'"': '"', '<': '>'}[name[0]]})
		case how == directive:
			open = true
		default:
			name, _, _ = bytes.Cut(name, []byte{' '})
		}
		open = open || bytes.ContainsAny(name, composed)
		for _, name := range strings.FieldsFunc(strings.ToLower(string(line)), func(c rune) bool { return strings.ContainsRune(wordEnds, c) }) {
			if slices.ContainsFunc(ProgramNames, func(ext string) bool { return strings.HasSuffix(name, strings.ToLower(ext)) }) && !slices.Contains(out, name) {
				out = append(out, name)
			}
		}
	}
	return out, open
}

// How a line asks for a file: not, by a word of the column dialect, or by a directive, whose
// name of a file stands in marks.
const (
	noInclude = iota
	byWord
	directive
)

// including finds out how a line asks for a file, wherever in the line that is, and what
// follows.
func including(line []byte) (how int, rest []byte) {
	for _, w := range []string{"nclude", "NCLUDE", "mport", "MPORT", "get", "GET"} {
		i := bytes.Index(line, []byte(w))
		if i < 0 {
			continue
		}
		before, after := line[:i], bytes.TrimPrefix(line[i+len(w):], []byte("_next"))
		if w[1] != 'e' && w[1] != 'E' {
			before = before[:max(i-1, 0)] // without the I
		}
		rest = bytes.TrimLeft(after, " \t")
		if trimmed := bytes.TrimRight(before, " \t"); len(trimmed) > 0 && (trimmed[len(trimmed)-1] == '.' || trimmed[len(trimmed)-1] == '#') {
			return directive, rest
		}
		if blank := len(before) == 0 || before[len(before)-1] == ' ' || before[len(before)-1] == '\t'; blank && len(rest) < len(after) {
			how = byWord
			break
		}
	}
	return how, rest
}

// maxLooked bounds the include lines that are looked at for one question.
const maxLooked = 2_000_000

// includers lists the files that say they include path, those first that find
// it in their own folder.
func (g *Graph) includers(path string, spent *int) []string {
	type found struct {
		path string
		rank int
	}
	var list []found
	for from := range g.byBase[filepath.Base(path)] {
		best := 3
		if *spent += len(g.files[from]); *spent > maxLooked {
			break
		}
		for _, name := range g.files[from] {
			if baseOf(name) != filepath.Base(path) || from == path {
				continue
			}
			name = filepath.FromSlash(name)
			tail := filepath.Clean(name)
			for strings.HasPrefix(tail, ".."+string(filepath.Separator)) {
				tail = tail[3:]
			}
			switch {
			case filepath.Dir(from) == filepath.Dir(path) && tail == filepath.Base(path):
				best = 0
			case filepath.IsAbs(name) && filepath.Clean(name) == path, filepath.Join(filepath.Dir(from), name) == path:
				best = min(best, 1)
			case strings.HasSuffix(path, string(filepath.Separator)+tail):
				best = min(best, 2)
			}
		}
		if best < 3 {
			list = append(list, found{from, best})
		}
	}
	slices.SortFunc(list, func(a, b found) int { return cmp.Or(a.rank-b.rank, cmp.Compare(a.path, b.path)) })
	var out []string
	for _, f := range list {
		out = append(out, f.path)
	}
	return out
}

// Included says whether some file says that it includes path.
func (g *Graph) Included(path string) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	spent := 0
	return len(g.includers(path, &spent)) > 0 || spent > maxLooked
}

// Roots lists up to most files that nothing includes and that include path,
// directly or not, the most likely first. Whether they do is for an analysis
// to tell.
func (g *Graph) Roots(path string, most int) (out []string) {
	g.mu.Lock()
	defer g.mu.Unlock()
	seen := map[string]bool{path: true}
	next := []string{path}
	for steps, spent := 0, 0; len(next) > 0 && steps < 1000 && spent < maxLooked && len(out) < most; steps++ {
		at := next[0]
		next = next[1:]
		up := g.includers(at, &spent)
		if len(up) == 0 && at != path {
			out = append(out, at)
		}
		for _, p := range up {
			if !seen[p] && len(seen) < 10_000 {
				seen[p] = true
				next = append(next, p)
			}
		}
	}
	return out
}
