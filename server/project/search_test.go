package project

import (
	"path/filepath"
	"testing"

	"narrowgauge/analysis"
)

// TestSearchNext looks for what #include_next names: after the folder that the
// source itself is from, and never the source again.
func TestSearchNext(t *testing.T) {
	dir := t.TempDir()
	at := func(parts ...string) string { return filepath.Join(append([]string{dir}, parts...)...) }
	for _, d := range []string{"a", "c"} {
		write(t, at(d, "lamp.h"), "@ invented\n")
	}
	s := &Search{Disk: &Disk{}, Include: []string{at("a"), at("b"), at("c")}, Bounds: NewBounds(dir)}
	for _, x := range []struct{ from, want string }{
		{at("a", "lamp.h"), at("c", "lamp.h")},
		{at("b", "lamp.h"), at("c", "lamp.h")},
		{at("c", "lamp.h"), ""},
		{at("main.S"), at("a", "lamp.h")},
	} {
		path, _, ok := s.Load(analysis.Wanted{From: x.from, Name: "lamp.h", System: true, Next: true})
		if ok != (x.want != "") || path != x.want {
			t.Errorf("from %s: %q, want %q", x.from, path, x.want)
		}
	}
}

// TestSearchWhy asks why a file is not found that has just been looked for: no place is looked at
// again, and the answer is that of one who asks first.
func TestSearchWhy(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "in", "main.s"), "@ invented\n")
	write(t, filepath.Join(dir, "in", "folder", "lamp.inc"), "@ invented\n")
	for _, name := range []string{"none.inc", "../none.inc", "../../../none.inc", "folder", "main.s/x.inc", "/none.inc"} {
		w := analysis.Wanted{From: filepath.Join(dir, "in", "main.s"), Name: name}
		search := func() *Search {
			return &Search{Disk: &Disk{}, Include: []string{filepath.Join(dir, "in", "more"), filepath.Join(dir, "out")}, Bounds: NewBounds(filepath.Join(dir, "in"))}
		}
		s := search()
		if _, _, ok := s.Load(w); ok {
			t.Fatalf("%s is found", name)
		}
		places := s.places
		if got, want := s.Why(w), search().Why(w); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
		if there := name == "folder" || name == "main.s/x.inc"; !there && s.places != places {
			t.Errorf("%s: %d places are looked at again", name, s.places-places)
		}
	}
}
