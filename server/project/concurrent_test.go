package project

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
)

// TestConcurrentUse uses what says it is safe for concurrent use, from several
// goroutines, while the files change. Without a lock the maps in it would be
// written to twice at a time, which Go ends a process for.
func TestConcurrentUse(t *testing.T) {
	dir := t.TempDir()
	const files = 40
	name := func(i int) string { return filepath.Join(dir, fmt.Sprintf("d%d", i%8), fmt.Sprintf("f%d.s", i%files)) }
	var entries strings.Builder
	for i := range files {
		write(t, name(i), fmt.Sprintf(".include \"f%d.s\"\n", i+1))
		write(t, filepath.Join(filepath.Dir(name(i)), FileName), fmt.Sprintf(`{"include":["d%d"]}`, i))
		fmt.Fprintf(&entries, `,{"directory":".","file":%q,"command":"gcc -DN=%d x.s"}`, name(i), i)
	}
	write(t, filepath.Join(dir, CommandsName), "["+entries.String()[1:]+"]")
	b := NewBounds(dir)
	in := b.Given(dir)
	var d Disk
	var f Finder
	var c Commands
	var g Graph
	made := &Changed{}
	made.Add(name(0), b.Stamp(name(0)))
	var wg sync.WaitGroup
	for worker := range 4 {
		wg.Go(func() {
			for i := range 300 {
				path := name(i*7 + worker)
				if i%25 == 0 {
					_ = os.WriteFile(path, []byte(fmt.Sprintf(".include \"f%d.s\"\n@ %d\n", i, worker)), 0o644)
				}
				if i%10 == 0 {
					d.Changed(made)
					f.Changed(made)
					c.Changed(made)
				}
				_, _, _ = d.Read(path, b)
				if i%5 == 0 {
					d.Forget(path)
				}
				if p := f.Find(filepath.Dir(path), in); p == nil {
					t.Error("no project file")
				}
				if cmd := c.Find(path, "", in); cmd == nil || len(cmd.Settings.Defines) != 1 {
					t.Errorf("%s: %+v", path, cmd)
				}
				g.Update(path, b)
				g.Roots(path, 3)
				if i%100 == 0 {
					g.Scan(context.Background(), dir, true, b)
				}
			}
		})
	}
	wg.Wait()
	// One search with folders that are held open, in several goroutines.
	held, release := b.Hold()
	s := &Search{Disk: &d, Bounds: held}
	for worker := range 4 {
		wg.Go(func() {
			for i := range 200 {
				path := name(i + worker)
				var f *syntax.File
				if _, f, _ = s.Load(analysis.Wanted{From: path, Name: filepath.Base(path)}); f == nil && i < 100 {
					t.Errorf("%s is not found", path)
				}
				if worker == 0 && i == 100 {
					release()
				}
			}
		})
	}
	wg.Wait()
	if _, _, ok := s.Load(analysis.Wanted{From: name(1), Name: filepath.Base(name(1))}); !ok {
		t.Error("nothing is found after the folders are released")
	}
}
