package save

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"golang.org/x/sys/unix"
)

// TestStaysForReal asks the system: FS_APPEND_FL and FS_IMMUTABLE_FL of linux/fs.h, which only the
// superuser may set, and not all file systems have.
func TestStaysForReal(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "points.s")
	if err := os.WriteFile(path, []byte("old\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer root.Close()
	for name, at := range map[string]string{".": dir, "points.s": path} {
		f, err := os.Open(at)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		was, err := unix.IoctlGetInt(int(f.Fd()), unix.FS_IOC_GETFLAGS)
		if err != nil {
			t.Skipf("the file system has no such flags: %v", err)
		}
		for flag, want := range map[int]error{0: nil, 0x20: ErrGrows, 0x10: ErrFixed} {
			if err := unix.IoctlSetPointerInt(int(f.Fd()), unix.FS_IOC_SETFLAGS, was|flag); err != nil {
				t.Skipf("the flags cannot be set: %v", err)
			}
			got := In(root).Stays(name)
			if err := unix.IoctlSetPointerInt(int(f.Fd()), unix.FS_IOC_SETFLAGS, was); err != nil {
				t.Fatal(err)
			}
			if !errors.Is(got, want) || want == nil && got != nil {
				t.Errorf("%s with %#x: %v, want %v", name, flag, got, want)
			}
		}
	}
	if err := In(root).Stays("none.s"); err != nil {
		t.Errorf("what is not there: %v", err)
	}
}
