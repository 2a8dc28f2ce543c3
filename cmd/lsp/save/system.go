package save

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"syscall"
)

// In gives the files below an open folder.
func In(root *os.Root) System { return folder{root} }

type folder struct{ root *os.Root }

func (d folder) Lstat(name string) (fs.FileInfo, error) { return d.root.Lstat(name) }

func (d folder) Read(name string) ([]byte, Info, error) {
	// Should it have become a pipe: opening must not wait for a writer.
	f, err := d.root.OpenFile(name, os.O_RDONLY|noWait, 0)
	if err != nil {
		return nil, Info{}, err
	}
	defer f.Close()
	info, err := describe(f)
	if err == nil && !info.Mode().IsRegular() {
		err = &fs.PathError{Op: "read", Path: name, Err: errors.New("no regular file any more")}
	}
	if err != nil {
		return nil, Info{}, err
	}
	data, err := io.ReadAll(f)
	return data, info, err
}

func (d folder) Create(name string, mode fs.FileMode) (File, error) {
	f, err := d.root.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, mode)
	if err != nil {
		return nil, err
	}
	return file{f}, nil
}

func (d folder) Open(name string) (File, error) {
	f, err := d.root.OpenFile(name, os.O_WRONLY|noWait, 0)
	if errors.Is(err, fs.ErrPermission) {
		// With --force, of a file that its owner made read-only.
		if info, err2 := d.root.Lstat(name); err2 == nil && info.Mode().IsRegular() && info.Mode()&0o200 == 0 {
			if d.root.Chmod(name, info.Mode()|0o200) == nil {
				f, err = d.root.OpenFile(name, os.O_WRONLY|noWait, 0)
				err = errors.Join(err, d.root.Chmod(name, info.Mode()))
			}
		}
	}
	if err != nil {
		return nil, err
	}
	return file{f}, nil
}

func (d folder) Rename(from, to string) error { return d.root.Rename(from, to) }
func (d folder) Link(from, to string) error   { return d.root.Link(from, to) }
func (d folder) Remove(name string) error     { return d.root.Remove(name) }

func (d folder) Sync(name string) error {
	if runtime.GOOS == "windows" {
		return nil // folders cannot be opened for that
	}
	f, err := d.root.Open(filepath.Dir(name))
	if err != nil {
		return err
	}
	defer f.Close()
	err = f.Sync()
	if errors.Is(err, syscall.EINVAL) || errors.Is(err, errors.ErrUnsupported) {
		return nil // some file systems have no such thing
	}
	return err
}

func (d folder) Stays(name string) error {
	f, err := d.root.OpenFile(name, os.O_RDONLY|noWait, 0)
	if err != nil {
		return nil // what is done with it says why
	}
	defer f.Close()
	switch fixed, grows := stay(f); {
	case fixed:
		return ErrFixed
	case grows:
		return ErrGrows
	}
	return nil
}

// describe gives what there is to know of an open file.
func describe(f *os.File) (Info, error) {
	stat, err := f.Stat()
	if err != nil {
		return Info{}, err
	}
	info := Info{FileInfo: stat, Links: 1, User: -1, Group: -1}
	info.owner()
	info.Flags = flags(f)
	info.Attributes, err = attributes(f)
	return info, err
}

type file struct{ *os.File }

// Like copies owner, extended attributes, mode and flags, in this order: a new owner ends
// setuid and setgid, and an access list among the attributes changes the mode. What
// the system has not taken is an error, whether it said so or not.
func (f file) Like(want Info) error {
	have, err := describe(f.File)
	if err != nil {
		return err
	}
	if have.User != want.User || have.Group != want.Group {
		if err := f.Chown(want.User, want.Group); err != nil {
			return err
		}
	}
	if err := setAttributes(f.File, have.Attributes, want.Attributes); err != nil {
		return err
	}
	if err := f.Chmod(want.Mode() & (fs.ModePerm | fs.ModeSetuid | fs.ModeSetgid | fs.ModeSticky)); err != nil {
		return err
	}
	if have.Flags != want.Flags {
		if err := setFlags(f.File, want.Flags); err != nil {
			return err
		}
	}
	have, err = describe(f.File)
	if err != nil {
		return err
	}
	if lost := have.unlike(want); lost != "" {
		return errors.New("a new file cannot have of this one " + lost)
	}
	return nil
}

// setAttributes makes the extended attributes of a file others.
func setAttributes(f *os.File, have, want map[string][]byte) error {
	for _, name := range slices.Sorted(maps.Keys(want)) {
		if value, ok := have[name]; !ok || !bytes.Equal(value, want[name]) {
			if err := setAttribute(f, name, want[name]); err != nil {
				return err
			}
		}
	}
	for _, name := range slices.Sorted(maps.Keys(have)) {
		if _, ok := want[name]; !ok {
			if err := removeAttribute(f, name); err != nil {
				return err
			}
		}
	}
	return nil
}
