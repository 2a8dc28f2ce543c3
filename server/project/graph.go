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
	var names []string
	n := int64(0)
	if stamp := b.Stamp(path); stamp != (Stamp{}) && stamp.Size <= maxScanFile {
		if data, err := b.ReadFile(path); err == nil {
			names, n = includeNames(data), int64(len(data))
		}
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.files == nil {
		g.files, g.byBase = map[string][]string{}, map[string]map[string]bool{}
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
