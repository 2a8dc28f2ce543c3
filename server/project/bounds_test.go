package project

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"narrowgauge/isa/reftest"
)

func link(t *testing.T, target, path string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(target, path); err != nil {
		reftest.Need(t, false, err.Error())
	}
}

// TestBounds follows paths and links within two folders, one of them known by a
// link, and out of them.
func TestBounds(t *testing.T) {
	dir := follow(t.TempDir())
	at := func(name string) string { return filepath.Join(dir, filepath.FromSlash(name)) }
	for name, text := range map[string]string{"a/x": "x", "a/sub/y": "y", "b/z": "z", "out/s": "hunter22", "named": "n"} {
		write(t, at(name), text)
	}
	link(t, "b", at("bee"))
	for name, target := range map[string]string{
		"a/rel": "sub/y", "a/abs": at("a/sub/y"), "a/up": "../a/x", "a/other": "../b/z", "a/spelled": at("bee/z"), "a/sub/dotdot": "../../a/./sub//../x",
		"a/dir": "sub", "a/alldirs": "/", "a/parent": "..", "a/out": "../out/s", "a/none": "../out/none", "a/gone": "sub/none", "a/loop": "loop", "a/loop1": "loop2", "a/loop2": "loop1",
		"a/deep": "dir/../../out/s", "b/out": at("out/s"), "link": "out/s",
	} {
		link(t, target, at(name))
	}
	b := NewBounds(at("a"), at("bee"), at("missing"), at("a/x")).Named(at("named"), at("link"))
	for _, tt := range []struct {
		path, text string
		err        error
	}{
		{"a/x", "x", nil},
		{"a/sub/y", "y", nil},
		{"a/rel", "y", nil},
		{"a/abs", "y", nil},
		{"a/up", "x", nil},
		{"a/other", "z", nil},
		{"a/spelled", "z", nil},
		{"a/sub/dotdot", "x", nil},
		{"a/dir/y", "y", nil},
		{"a/parent/a/x", "x", nil},
		{"a/parent/b/z", "z", nil},
		{"a/parent/bee/z", "", ErrOutside}, // a link outside, wherever it leads
		{"a/alldirs" + dir + "/a/x", "x", nil},
		{"b/z", "z", nil},
		{"bee/z", "z", nil},
		{"named", "n", nil},
		{"link", "hunter22", nil},
		{"a/out", "", ErrOutside},
		{"a/none", "", ErrOutside},
		{"a/parent/out/s", "", ErrOutside},
		{"a/parent/out/none", "", ErrOutside},
		{"a/alldirs" + dir + "/out/s", "", ErrOutside},
		{"a/deep", "", ErrOutside},
		{"b/out", "", ErrOutside},
		{"bee/out", "", ErrOutside},
		{"out/s", "", ErrOutside},
		{"out/none", "", ErrOutside},
		{"aa", "", ErrOutside},
		{"a/gone", "", fs.ErrNotExist},
		{"a/sub/none/x", "", fs.ErrNotExist},
		{"a/../out/s", "", ErrOutside},
		{"a/sub/../../a/x", "x", nil},
		{"missing/x", "", fs.ErrNotExist},
		{"a/alldirs/proc/self/root" + dir + "/a/x", "", ErrOutside},
	} {
		data, err := b.ReadFile(dir + "/" + tt.path)
		if string(data) != tt.text || !errors.Is(err, tt.err) || (err == nil) != (tt.err == nil) {
			t.Errorf("%s: %q %v, want %q %v", tt.path, data, err, tt.text, tt.err)
		}
		if err != nil && strings.Contains(err.Error(), "out/s") != strings.Contains(tt.path, "out/s") {
			t.Errorf("%s: the error says where a link leads: %v", tt.path, err)
		}
		place, err2 := b.Real(dir + "/" + tt.path)
		if tt.text != "" && (err2 != nil || follow(dir+"/"+tt.path) != place.Path()) {
			t.Errorf("%s leads to %s, %v", tt.path, place.Path(), err2)
		}
		if got := b.Outside(dir + "/" + tt.path); got != (tt.err == ErrOutside) {
			t.Errorf("%s: outside %v", tt.path, got)
		}
	}
	for _, path := range []string{"a/loop", "a/loop1"} {
		if data, err := b.ReadFile(at(path)); err == nil || errors.Is(err, ErrOutside) {
			t.Errorf("%s: %q %v", path, data, err)
		}
	}
	var none *Bounds
	if _, err := none.ReadFile(at("a/x")); !errors.Is(err, ErrOutside) {
		t.Error(err)
	}
	if _, err := NewBounds().ReadFile(at("a/x")); !errors.Is(err, ErrOutside) {
		t.Error(err)
	}
	if _, err := b.ReadFile(at("a") + "/x\x00"); err == nil {
		t.Error("a zero byte")
	}
}

// TestBoundsOfFolderThatChanges puts another folder in the place of one.
func TestBoundsOfFolderThatChanges(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "a", "x"), "x")
	write(t, filepath.Join(dir, "out", "x"), "hunter22")
	b := NewBounds(filepath.Join(dir, "a"))
	if err := os.Rename(filepath.Join(dir, "a"), filepath.Join(dir, "was")); err != nil {
		t.Fatal(err)
	}
	link(t, "out", filepath.Join(dir, "a"))
	if data, err := b.ReadFile(filepath.Join(dir, "a", "x")); err == nil {
		t.Errorf("%q", data)
	}
}

// TestLinksThatChange reads a path that is now a file, now a link out, below a
// folder that is now one, now a link out.
func TestLinksThatChange(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "out", "x.s"), "hunter22")
	write(t, filepath.Join(dir, "a", "good"), "x")
	write(t, filepath.Join(dir, "a", "sub", "x.s"), "x")
	a := filepath.Join(dir, "a")
	link(t, "../out/x.s", filepath.Join(a, "bad"))
	link(t, "../out", filepath.Join(a, "badsub"))
	b := NewBounds(a)
	stop := make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		for i := 0; ; i++ {
			select {
			case <-stop:
				return
			default:
			}
			_ = os.Remove(filepath.Join(a, "x.s"))
			if i%2 == 0 {
				_ = os.Link(filepath.Join(a, "good"), filepath.Join(a, "x.s"))
			} else {
				_ = os.Symlink("../out/x.s", filepath.Join(a, "x.s"))
			}
			_ = os.Rename(filepath.Join(a, "sub"), filepath.Join(a, "keep"))
			_ = os.Symlink("../out", filepath.Join(a, "sub"))
			_ = os.Remove(filepath.Join(a, "sub"))
			_ = os.Rename(filepath.Join(a, "keep"), filepath.Join(a, "sub"))
		}
	})
	read := 0
	for range 3000 {
		for _, name := range []string{"x.s", "sub/x.s"} {
			data, err := b.ReadFile(filepath.Join(a, name))
			if err == nil {
				read++
			}
			if strings.Contains(string(data), "hunter22") {
				t.Fatalf("%s: read what lies outside", name)
			}
		}
	}
	close(stop)
	wg.Wait()
	if read == 0 {
		t.Error("nothing was read at all")
	}
}
