package save

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
)

// faults is a System of which the calls with the numbers from first to last fail,
// counted from 1. A write that fails may have written a part.
type faults struct {
	System
	err         error
	first, last int
	part        bool
	calls       int
	failed      []string
}

func (s *faults) fail(what string) error {
	s.calls++
	if s.first <= s.calls && s.calls <= s.last {
		s.failed = append(s.failed, what)
		return &fs.PathError{Op: what, Path: "points.s", Err: s.err}
	}
	return nil
}

func (s *faults) Lstat(name string) (fs.FileInfo, error) {
	if err := s.fail("lstat"); err != nil {
		return nil, err
	}
	return s.System.Lstat(name)
}

func (s *faults) Read(name string) ([]byte, Info, error) {
	// Opening, describing and reading are three chances.
	for _, what := range []string{"open", "stat", "read"} {
		if err := s.fail(what); err != nil {
			return nil, Info{}, err
		}
	}
	return s.System.Read(name)
}

func (s *faults) Create(name string, mode fs.FileMode) (File, error) {
	if err := s.fail("create"); err != nil {
		return nil, err
	}
	f, err := s.System.Create(name, mode)
	return &faultyFile{f, s}, err
}

func (s *faults) Open(name string) (File, error) {
	if err := s.fail("open to write"); err != nil {
		return nil, err
	}
	f, err := s.System.Open(name)
	return &faultyFile{f, s}, err
}

func (s *faults) Rename(from, to string) error {
	if err := s.fail("rename"); err != nil {
		return err
	}
	return s.System.Rename(from, to)
}

func (s *faults) Link(from, to string) error {
	if err := s.fail("link"); err != nil {
		return err
	}
	return s.System.Link(from, to)
}

func (s *faults) Remove(name string) error {
	if err := s.fail("remove"); err != nil {
		return err
	}
	return s.System.Remove(name)
}

func (s *faults) Sync(name string) error {
	if err := s.fail("sync the folder"); err != nil {
		return err
	}
	return s.System.Sync(name)
}

type faultyFile struct {
	File
	s *faults
}

func (f *faultyFile) Write(data []byte) (int, error) {
	if err := f.s.fail("write"); err != nil {
		n := 0
		if f.s.part {
			n, _ = f.File.Write(data[:len(data)/2])
		}
		return n, err
	}
	return f.File.Write(data)
}

func (f *faultyFile) Truncate(size int64) error {
	if err := f.s.fail("truncate"); err != nil {
		return err
	}
	return f.File.Truncate(size)
}

func (f *faultyFile) Like(info Info) error {
	for _, what := range []string{"chown", "setxattr", "chmod"} {
		if err := f.s.fail(what); err != nil {
			return err
		}
	}
	return f.File.Like(info)
}

func (f *faultyFile) Sync() error {
	if err := f.s.fail("fsync"); err != nil {
		return err
	}
	return f.File.Sync()
}

func (f *faultyFile) Close() error {
	err := f.s.fail("close")
	return errors.Join(err, f.File.Close())
}

// A disk is a folder with a file to replace.
type disk struct {
	t    *testing.T
	dir  string
	sys  System
	info fs.FileInfo
}

func newDisk(t *testing.T, text string) *disk {
	t.Helper()
	dir, err := os.MkdirTemp(t.TempDir(), "")
	if err != nil {
		t.Fatal(err)
	}
	d := &disk{t: t, dir: dir}
	if err := os.WriteFile(d.path("points.s"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { root.Close() })
	d.sys = In(root)
	d.stat()
	return d
}

func (d *disk) path(name string) string { return filepath.Join(d.dir, name) }

func (d *disk) stat() {
	var err error
	if d.info, err = os.Lstat(d.path("points.s")); err != nil {
		d.t.Fatal(err)
	}
}

func (d *disk) text(name string) string {
	data, err := os.ReadFile(d.path(name))
	if err != nil {
		d.t.Fatal(err)
	}
	return string(data)
}

// left are the files beside the one to replace and what the test has made.
func (d *disk) left() (names []string) {
	entries, err := os.ReadDir(d.dir)
	if err != nil {
		d.t.Fatal(err)
	}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), Prefix) {
			names = append(names, e.Name())
		}
	}
	return names
}

// texts are pairs of an old text and a new one: longer, shorter, of equal length,
// and to and from nothing.
var texts = [][2]string{
	{"\tmovs r0, #300\n", "\tldr r0, =300\n\t.pool\n"},
	{"\tldr r0, =300\n\t.pool\n", "\tmovs r0, #3\n"},
	{"\tmovs r0, #1\n", "\tmovs r1, #1\n"},
	{"", "\tnop\n"},
	{"\tnop\n", ""},
	{strings.Repeat("\tadds r0, #1\n", 9000), strings.Repeat("\tsubs r0, #1\n", 11000)},
}

// errs are what calls of the system fail with.
var errs = []error{syscall.ENOSPC, syscall.EIO, syscall.EACCES, syscall.EINTR, syscall.EPERM, syscall.EROFS}

// TestFaults lets each call fail in turn, by itself and with all that follow, in both ways
// of writing, and asks that a text is there whole and that the error says which.
func TestFaults(t *testing.T) {
	points, lost := 0, 0
	for _, hard := range []bool{false, true} {
		for i, pair := range texts {
			for _, part := range []bool{false, true} {
				for _, all := range []bool{false, true} {
					for n := 1; ; n++ {
						kind := errs[(n+i)%len(errs)]
						d := newDisk(t, pair[0])
						if hard {
							if err := os.Link(d.path("points.s"), d.path("other.s")); err != nil {
								t.Skip("no hard links here:", err)
							}
						}
						s := &faults{System: d.sys, err: kind, first: n, last: n, part: part}
						if all {
							s.last = 1 << 30
						}
						err := Replace(s, Change{Name: "points.s", Was: d.info, Old: []byte(pair[0]), New: []byte(pair[1])})
						if s.calls < n {
							if err != nil {
								t.Fatalf("nothing failed: %v", err)
							}
							break
						}
						points++
						where := fmt.Sprintf("%q failing with %v, in place %t, part %t, %d → %d bytes: error %v", s.failed[0], kind, hard, part, len(pair[0]), len(pair[1]), err)
						if d.judge(err, pair[0], pair[1], all, where) {
							lost++
							if !all {
								t.Errorf("%s: one failing call has lost a text", where)
							}
						}
					}
				}
			}
		}
	}
	t.Logf("counted %d points of failure; at %d of them, where all calls failed from there on, the old text is in a copy", points, lost)
	if points < 500 || lost == 0 {
		t.Errorf("%d points of failure, lost at %d", points, lost)
	}
}

// judge holds what there is after Replace against its error. The file has been lost if
// the error says so and names a copy.
func (d *disk) judge(err error, old, now string, all bool, where string) (lost bool) {
	var left *LeftError
	var gone *LostError
	got := d.text("points.s")
	switch {
	case errors.As(err, &gone):
		if copied := d.text(gone.Copy); copied != old {
			d.t.Errorf("%s: the copy has %d bytes of the old text", where, len(copied))
		}
		return true
	case err == nil || errors.As(err, &left):
		if got != now {
			d.t.Errorf("%s: the file has not the new text but %.60q", where, got)
		}
	case got != old:
		d.t.Errorf("%s: the file has not the old text but %.60q", where, got)
	}
	for _, name := range d.left() {
		if err == nil || !strings.Contains(err.Error(), name) {
			d.t.Errorf("%s: %s is left without a word", where, name)
		}
	}
	if len(d.left()) > 0 && !all {
		if n := new(LeftError); !errors.As(err, &n) {
			d.t.Errorf("%s: a file is left after one failure", where)
		}
	}
	return false
}

// TestNew makes files while each call fails in turn: a file is there whole or not at all, the
// error says which, and one that is there already stays as it is.
func TestNew(t *testing.T) {
	points := 0
	for i, pair := range texts {
		text := pair[1]
		for _, part := range []bool{false, true} {
			for _, all := range []bool{false, true} {
				for n := 1; ; n++ {
					d := newDisk(t, "\tnop\n")
					s := &faults{System: d.sys, err: errs[(n+i)%len(errs)], first: n, last: n, part: part}
					if all {
						s.last = 1 << 30
					}
					err := New(s, "signals.s", []byte(text))
					got, missing := os.ReadFile(d.path("signals.s"))
					var left *LeftError
					if written := err == nil || errors.As(err, &left); written != (missing == nil) || written && string(got) != text {
						t.Errorf("%q fail: error %v, and the file is %.40q, %v", s.failed, err, got, missing)
					}
					for _, name := range d.left() {
						if err == nil || !strings.Contains(err.Error(), name) {
							t.Errorf("%q fail: %s is left without a word: %v", s.failed, name, err)
						}
					}
					if s.calls < n {
						if err != nil {
							t.Fatalf("nothing failed: %v", err)
						}
						break
					}
					points++
					if err := New(s, "points.s", []byte(text)); err == nil || d.text("points.s") != "\tnop\n" {
						t.Errorf("another file is in its place, error %v", err)
					}
				}
			}
		}
	}
	if points < 100 {
		t.Errorf("%d points of failure", points)
	}
	d := newDisk(t, "\tnop\n")
	if err := New(d.sys, "points.s", nil); !errors.Is(err, fs.ErrExist) || len(d.left()) > 0 {
		t.Errorf("%v, left %q", err, d.left())
	}
	if err := os.Symlink("elsewhere", d.path("link.s")); err == nil {
		if err := New(d.sys, "link.s", nil); !errors.Is(err, fs.ErrExist) || len(d.left()) > 0 {
			t.Errorf("in the place of a link: %v, left %q", err, d.left())
		}
	}
}

// TestOverwritten has another program write to the file at every point between two
// calls: its text is never lost.
func TestOverwritten(t *testing.T) {
	const old, now, other = "\tmovs r0, #300\n", "\tldr r0, =300\n", "\tmovs r0, #200 @ the signal's lamp\n"
	for _, hard := range []bool{false, true} {
		changed := 0
		for n := 1; ; n++ {
			d := newDisk(t, old)
			if hard {
				if err := os.Link(d.path("points.s"), d.path("other.s")); err != nil {
					t.Skip("no hard links here:", err)
				}
			}
			s := &meddler{faults: faults{System: d.sys}, at: n, do: func() {
				if err := os.WriteFile(d.path("points.s"), []byte(other), 0o644); err != nil {
					t.Fatal(err)
				}
			}}
			s.faults.System = s.watch(d.sys)
			err := Replace(s, Change{Name: "points.s", Was: d.info, Old: []byte(old), New: []byte(now)})
			if s.calls < n {
				break
			}
			got := d.text("points.s")
			switch {
			case errors.Is(err, ErrChanged):
				changed++
				if got != other || len(d.left()) > 0 {
					t.Errorf("before call %d, in place %t: %q is in the file, left %q", n, hard, got, d.left())
				}
			case err != nil:
				t.Errorf("before call %d, in place %t: %v", n, hard, err)
			}
		}
		if changed < 5 {
			t.Errorf("in place %t: seen %d times only", hard, changed)
		}
	}
}

// meddler does something before the call with a number.
type meddler struct {
	faults
	at int
	do func()
}

func (m *meddler) watch(s System) System { return &before{System: s, m: m} }

// before is the system below the faults: it is asked once a call has not failed.
type before struct {
	System
	m *meddler
}

func (b *before) step() {
	if b.m.calls >= b.m.at && b.m.do != nil {
		b.m.do()
		b.m.do = nil
	}
}

func (b *before) Lstat(name string) (fs.FileInfo, error) { b.step(); return b.System.Lstat(name) }
func (b *before) Read(name string) ([]byte, Info, error) { b.step(); return b.System.Read(name) }
func (b *before) Create(name string, mode fs.FileMode) (File, error) {
	b.step()
	return b.System.Create(name, mode)
}

// TestKept holds what a file keeps: its mode with setgid, its owner, attributes, names.
func TestKept(t *testing.T) {
	const old, now = "\tmovs r0, #300\n", "\tldr r0, =300\n"
	replace := func(t *testing.T, d *disk) (renamed bool) {
		t.Helper()
		if err := Replace(d.sys, Change{Name: "points.s", Was: d.info, Old: []byte(old), New: []byte(now)}); err != nil {
			t.Fatal(err)
		}
		if got := d.text("points.s"); got != now {
			t.Fatalf("the file has %q", got)
		}
		if left := d.left(); left != nil {
			t.Errorf("left: %q", left)
		}
		was := d.info
		d.stat()
		return !os.SameFile(was, d.info)
	}
	t.Run("mode", func(t *testing.T) {
		for _, mode := range []fs.FileMode{0o644, 0o600, 0o755, 0o664 | fs.ModeSetgid, 0o666 | fs.ModeSticky} {
			if runtime.GOOS == "windows" && mode != 0o644 {
				continue
			}
			d := newDisk(t, old)
			if err := os.Chmod(d.path("points.s"), mode); err != nil {
				t.Skip(err)
			}
			d.stat()
			before := d.info.Mode()
			if !replace(t, d) {
				t.Errorf("%v: written in place, which is not needed", mode)
			}
			if d.info.Mode() != before {
				t.Errorf("%v has become %v", before, d.info.Mode())
			}
		}
	})
	t.Run("owner", func(t *testing.T) {
		d := newDisk(t, old)
		if err := os.Chown(d.path("points.s"), 12345, 23456); err != nil {
			t.Skip("only root may give files away:", err)
		}
		d.stat()
		replace(t, d)
		_, info, err := d.sys.Read("points.s")
		if err != nil || info.User != 12345 || info.Group != 23456 {
			t.Errorf("owner %d:%d, %v", info.User, info.Group, err)
		}
	})
	t.Run("owner that cannot be given", func(t *testing.T) {
		d := newDisk(t, old)
		s := &refusing{System: d.sys}
		if err := Replace(s, Change{Name: "points.s", Was: d.info, Old: []byte(old), New: []byte(now)}); err != nil {
			t.Fatal(err)
		}
		was := d.info
		d.stat()
		if d.text("points.s") != now || !os.SameFile(was, d.info) || d.left() != nil {
			t.Errorf("not written in place: %q, left %q", d.text("points.s"), d.left())
		}
	})
	t.Run("attributes", func(t *testing.T) {
		d := newDisk(t, old)
		f, err := os.OpenFile(d.path("points.s"), os.O_RDWR, 0)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		if err := setAttribute(f, "user.signalbox", []byte("east\x00yard")); err != nil {
			t.Skip("no extended attributes here:", err)
		}
		replace(t, d)
		_, info, err := d.sys.Read("points.s")
		if attributesWork := runtime.GOOS == "linux" || runtime.GOOS == "darwin"; attributesWork && (err != nil || !bytes.Equal(info.Attributes["user.signalbox"], []byte("east\x00yard"))) {
			t.Errorf("attributes %q, %v", info.Attributes, err)
		}
	})
	t.Run("hard links", func(t *testing.T) {
		d := newDisk(t, old)
		if err := os.Link(d.path("points.s"), d.path("other.s")); err != nil {
			t.Skip(err)
		}
		d.stat()
		if replace(t, d) {
			t.Error("the file has been replaced by another one")
		}
		if got := d.text("other.s"); got != now {
			t.Errorf("its other name has %q", got)
		}
	})
	t.Run("read-only", func(t *testing.T) {
		d := newDisk(t, old)
		if err := os.Chmod(d.path("points.s"), 0o444); err != nil {
			t.Fatal(err)
		}
		d.stat()
		if err := Replace(d.sys, Change{Name: "points.s", Was: d.info, Old: []byte(old), New: []byte(now)}); !errors.Is(err, ErrReadOnly) || d.text("points.s") != old {
			t.Errorf("%v, %q", err, d.text("points.s"))
		}
		for _, hard := range []bool{false, true} {
			d := newDisk(t, old)
			if hard {
				if err := os.Link(d.path("points.s"), d.path("other.s")); err != nil {
					t.Skip(err)
				}
			}
			if err := os.Chmod(d.path("points.s"), 0o444); err != nil {
				t.Fatal(err)
			}
			d.stat()
			err := Replace(d.sys, Change{Name: "points.s", Was: d.info, Old: []byte(old), New: []byte(now), Force: true})
			d.stat()
			if err != nil || d.text("points.s") != now || d.info.Mode().Perm() != 0o444 {
				t.Errorf("forced, in place %t: %v, %q, %v", hard, err, d.text("points.s"), d.info.Mode())
			}
		}
	})
	t.Run("kept back", func(t *testing.T) {
		for _, hard := range []bool{false, true} {
			d := newDisk(t, old)
			if hard {
				if err := os.Link(d.path("points.s"), d.path("other.s")); err != nil {
					t.Skip(err)
				}
			}
			d.stat()
			kept := errors.New("no journal")
			err := Replace(d.sys, Change{Name: "points.s", Was: d.info, Old: []byte(old), New: []byte(now), Before: func() error { return kept }})
			if !errors.Is(err, kept) || d.text("points.s") != old || d.left() != nil {
				t.Errorf("in place %t: %v, %q, left %q", hard, err, d.text("points.s"), d.left())
			}
			// What is refused anyway is not asked about.
			err = Replace(d.sys, Change{Name: "points.s", Was: d.info, Old: []byte(now), New: []byte(old), Before: func() error { return kept }})
			if !errors.Is(err, ErrChanged) {
				t.Errorf("in place %t: %v", hard, err)
			}
		}
	})
	t.Run("no file", func(t *testing.T) {
		d := newDisk(t, old)
		if err := os.Remove(d.path("points.s")); err != nil {
			t.Fatal(err)
		}
		if err := os.Symlink("/etc/hostname", d.path("points.s")); err != nil {
			t.Skip(err)
		}
		if err := Replace(d.sys, Change{Name: "points.s", Was: d.info, Old: []byte(old), New: []byte(now), Force: true}); err == nil {
			t.Error("a link has been written to")
		}
	})
}

// refusing is a system whose new files cannot be like another one.
type refusing struct{ System }

func (s *refusing) Create(name string, mode fs.FileMode) (File, error) {
	f, err := s.System.Create(name, mode)
	return refusingFile{f}, err
}

type refusingFile struct{ File }

func (refusingFile) Like(Info) error { return syscall.EPERM }
