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
