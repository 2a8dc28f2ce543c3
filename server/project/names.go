package project

import (
	"io"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"narrowgauge/analysis"
)

// maxListed bounds the names that are listed of one folder, and maxNameFolders the folders.
const (
	maxListed      = 2000
	maxNameFolders = 50
)

// Names lists the files and folders, the latter with a slash at the end, that a name in an
// include can go on with: w.Name is what is written of it, up to the last slash. All files are
// listed for w of raw bytes, else those that hold source. What is outside of the bounds, and
// hidden names, are left out.
func (s *Search) Names(w analysis.Wanted, raw bool) (out []string) {
	if strings.ContainsRune(w.Name, 0) || filepath.IsAbs(w.Name) || path.IsAbs(w.Name) {
		return nil
	}
	var folders []string
	if w.From != "" && !w.System {
		folders = append(folders, filepath.Dir(w.From))
	}
	folders = append(folders, s.Include...)
	if s.Around != nil {
		folders = append(folders, s.Around.folders(w.From, w.System, s.Bounds)...)
	}
	seen := map[string]bool{}
	for _, dir := range folders {
		dir = filepath.Join(dir, filepath.FromSlash(w.Name))
		if seen[dir] || len(seen) >= maxNameFolders {
			continue
		}
		seen[dir] = true
		out = append(out, s.Bounds.list(dir, raw)...)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// list names the files and folders in a folder within the bounds.
func (b *Bounds) list(dir string, raw bool) (out []string) {
	p, info, err := b.find(dir)
	if err != nil || !info.IsDir() {
		return nil
	}
	_ = p.in.use(func(r *os.Root) error {
		f, err := r.Open(p.rel)
		if err != nil {
			return err
		}
		defer f.Close()
		entries, err := f.ReadDir(maxListed)
		if err != nil && err != io.EOF {
			return err
		}
		for _, e := range entries {
			name := e.Name()
			switch {
			case strings.HasPrefix(name, "."), p.in.narrow && !beside(name):
			case e.IsDir() && !p.in.narrow:
				out = append(out, name+"/")
			case e.Type().IsRegular() && (raw || IsSource(name)):
				out = append(out, name)
			}
		}
		return nil
	})
	return out
}
