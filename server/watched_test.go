package server

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// watching is a server with folders of a workspace and one open document, without a client.
func watching(t *testing.T, doc string, folders ...string) *Server {
	t.Helper()
	s := &Server{opt: Options{}, folders: folders, root: folders[0], warned: map[string]bool{}}
	key, path, _ := parseURI(fileURI(doc))
	d := &document{uri: fileURI(doc), key: key, path: path, text: newText(syntax.Parse("\tnop\n")), target: &target{}}
	s.snap = &snapshot{docs: map[docKey]*document{key: d}, runs: map[docKey]*run{}, hidden: map[docKey]*run{}}
	return s
}

// The bounds of many files are those of each.
func TestBoundsOfMany(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	for _, name := range []string{"box/a.s", "box/deep/b.s", "yard/c.s", "house/d.s", "house/e.s", "far/f.s"} {
		write(t, at(name), "\tnop\n")
	}
	for link, to := range map[string]string{"named": "yard", "box/out.s": "../far/f.s"} {
		if err := os.Symlink(to, at(link)); err != nil {
			reftest.Need(t, false, err.Error())
		}
	}
	s := watching(t, at("house/d.s"), at("box"), at("named"), at("box/deep"))
	of, release := s.boundsOfMany()
	defer release()
	seen := 0
	for range 2 {
		for _, name := range []string{"box/a.s", "box/deep/b.s", "box/none.s", "box/out.s", "boxes/a.s", "named/c.s", "yard/c.s", "house/d.s", "house/e.s", "far/f.s", "far/none.s", "x.s"} {
			one, many := s.boundsOf(at(name)), of(at(name))
			if one.String() != many.String() || one.Stamp(at(name)) != many.Stamp(at(name)) || one.Outside(at(name)) != many.Outside(at(name)) {
				t.Errorf("%s: %v alone, %v among many", name, one, many)
			}
			if many.Stamp(at(name)).Size > 0 {
				seen++
			}
		}
	}
	if seen != 2*6 {
		t.Errorf("%d files are seen", seen)
	}
}

// What it takes to look at files of which the client says that they have changed is in step with
// their number, and the folders of the workspace are not looked for again for each: bytes are
// counted.
func TestWatchedMany(t *testing.T) {
	dir := t.TempDir()
	s := watching(t, filepath.Join(dir, "a.s"), dir)
	var paths []string
	for i := range 4_000 {
		paths = append(paths, filepath.Join(dir, fmt.Sprintf("lamp%d.s", i)))
	}
	s.catalog.listed = true
	allocated := func() uint64 {
		var was, now runtime.MemStats
		runtime.ReadMemStats(&was)
		s.changedOnDisk(paths, false)
		runtime.ReadMemStats(&now)
		return now.TotalAlloc - was.TotalAlloc
	}
	if n := allocated() / uint64(len(paths)); n > 4<<10 {
		t.Errorf("%d bytes for a file that is not there", n)
	}
	for _, path := range paths {
		write(t, path, "\tnop\n")
	}
	if n := allocated() / uint64(len(paths)); n > 64<<10 {
		t.Errorf("%d bytes for a file that is new", n)
	}
	if n := len(s.catalog.found.Programs); n != len(paths) {
		t.Errorf("%d sources are known", n)
	}
	paths = paths[:3_999]
	for _, path := range paths {
		if err := os.Remove(path); err != nil {
			t.Fatal(err)
		}
	}
	allocated()
	if left := s.catalog.found.Programs; len(left) != 1 || filepath.Base(left[0]) != "lamp3999.s" {
		t.Errorf("known of those that are gone: %d", len(left))
	}
}

// Folders that are added and removed by the thousand are kept in order, each once.
func TestManyFolders(t *testing.T) {
	s := watching(t, "/box/a.s", "/box")
	var all []string
	for i := range 50_000 {
		all = append(all, fmt.Sprintf("file:///yard/%d", i))
	}
	s.setFolders(append(all, all...), []string{"file:///box"})
	if len(s.folders) != 50_000 || s.root != "/yard/0" {
		t.Errorf("%d folders, the first %s", len(s.folders), s.root)
	}
	s.setFolders([]string{"file:///box"}, all[1:])
	if len(s.folders) != 2 || s.folders[0] != "/yard/0" || s.folders[1] != "/box" {
		t.Errorf("%v", s.folders)
	}
}

// What is around more places than an editor has cursors is not looked for.
func TestManyPositions(t *testing.T) {
	c := dial(t, Options{})
	c.initialize(allCaps(), nil)
	uri := fileURI(filepath.Join(t.TempDir(), "a.s"))
	c.open(uri, 1, "lamp:\n\tnop\n")
	for n, fine := range map[int]bool{maxPositions: true, maxPositions + 1: false} {
		at := make([]obj, n)
		for i := range at {
			at[i] = obj{"line": 1, "character": 1}
		}
		m := c.reply(c.start("textDocument/selectionRange", obj{"textDocument": obj{"uri": uri}, "positions": at}))
		if (m.Error == nil) != fine {
			t.Errorf("%d positions: %v", n, m.Error)
		}
	}
}
