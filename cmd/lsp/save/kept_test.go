package save

import (
	"errors"
	"io/fs"
	"os"
	"strings"
	"testing"
)

// A file keeps the flags that it has, and takes on none of its folder's.
func TestFlags(t *testing.T) {
	const old, now = "\tnop\n", "\tmov r8, r8\n"
	const noDump = 0x40
	d := newDisk(t, old)
	mark := func(name string, to int) {
		f, err := os.Open(d.path(name))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		if err := setFlags(f, to); err != nil || flags(f) != to {
			t.Skip("no flags here:", err)
		}
	}
	has := func() int {
		_, info, err := d.sys.Read("points.s")
		if err != nil {
			t.Fatal(err)
		}
		return info.Flags
	}
	for i, tt := range []struct{ folder, file int }{{0, noDump}, {noDump, 0}, {noDump, noDump}} {
		mark("points.s", tt.file)
		mark(".", tt.folder)
		was, want := old, now
		if i%2 == 1 {
			was, want = now, old
		}
		d.stat()
		if err := Replace(d.sys, Change{Name: "points.s", Was: d.info, Old: []byte(was), New: []byte(want)}); err != nil {
			t.Fatal(err)
		}
		if got := has(); got != tt.file {
			t.Errorf("folder %#x: %#x has become %#x", tt.folder, tt.file, got)
		}
	}
}

// losing is a System in which a file has another mode once it has been written to.
type losing struct {
	System
	again   bool // giving the mode back works
	written bool
}

type lesser struct{ fs.FileInfo }

func (lesser) Mode() fs.FileMode { return 0o711 }

func (s *losing) Read(name string) ([]byte, Info, error) {
	data, info, err := s.System.Read(name)
	if s.written && err == nil {
		info.FileInfo = lesser{info.FileInfo}
	}
	return data, info, err
}

func (s *losing) Open(name string) (File, error) {
	s.written = true
	f, err := s.System.Open(name)
	return &losingFile{f, s}, err
}

type losingFile struct {
	File
	s *losing
}

func (f *losingFile) Like(info Info) error {
	if !f.s.again {
		return fs.ErrPermission
	}
	return f.File.Like(info)
}

// What the system takes from a file that is written in place is given back, or said.
func TestLost(t *testing.T) {
	const old, now = "\tnop\n", "\tmov r8, r8\n"
	for _, again := range []bool{true, false} {
		d := newDisk(t, old)
		if err := os.Link(d.path("points.s"), d.path("other.s")); err != nil {
			t.Skip(err)
		}
		d.stat()
		err := Replace(&losing{System: d.sys, again: again}, Change{Name: "points.s", Was: d.info, Old: []byte(old), New: []byte(now)})
		var left *LeftError
		if again && err != nil || !again && (!errors.As(err, &left) || !strings.Contains(err.Error(), "has not left the file its mode, "+d.info.Mode().String())) {
			t.Errorf("again %v: %v", again, err)
		}
		if d.text("points.s") != now || d.left() != nil {
			t.Errorf("again %v: %q, left %q", again, d.text("points.s"), d.left())
		}
	}
}
