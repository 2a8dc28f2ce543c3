package save

import (
	"bytes"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"strings"
)

// A System is a folder and what can be done in it. Names are relative to it.
type System interface {
	// Lstat describes a file; it does not follow a symbolic link.
	Lstat(name string) (fs.FileInfo, error)
	// Read gives the bytes of a regular file, and which file it was.
	Read(name string) ([]byte, Info, error)
	// Create makes a new file with a mode, less what the user's mask takes away; it fails
	// if the name is taken.
	Create(name string, mode fs.FileMode) (File, error)
	// Open opens a file for writing, as it is.
	Open(name string) (File, error)
	Rename(from, to string) error
	// Link gives a file one more name; it fails if that is taken.
	Link(from, to string) error
	Remove(name string) error
	// Sync waits until the names in the folder of a file are on the disk.
	Sync(name string) error
	// Stays says that the system keeps whoever it is from changing what is in a file, or which
	// files are in a folder, as it was told to: ErrFixed, or ErrGrows where something may be
	// added; nil where it does not, or where it is not known.
	Stays(name string) error
}

// A File is open for writing.
type File interface {
	Write(data []byte) (int, error)
	Truncate(size int64) error
	// Like gives the file the owner, the mode and the extended attributes of
	// another one.
	Like(info Info) error
	Sync() error
	Close() error
}

// Info is what Replace has to know of a file.
type Info struct {
	fs.FileInfo
	Links      uint64            // names that the file has
	User       int               // who owns it; -1 where the system knows no such thing
	Group      int               // likewise
	Attributes map[string][]byte // extended attributes
	Flags      int               // those that a file keeps, as the system has them
}

// unlike says what a file has otherwise than another one; empty: nothing.
func (i Info) unlike(want Info) string {
	var what []string
	if i.User != want.User || i.Group != want.Group {
		what = append(what, fmt.Sprintf("its owner, %d:%d", want.User, want.Group))
	}
	if i.Mode() != want.Mode() {
		what = append(what, fmt.Sprintf("its mode, %v", want.Mode()))
	}
	if !maps.EqualFunc(i.Attributes, want.Attributes, bytes.Equal) {
		what = append(what, "its extended attributes")
	}
	if i.Flags != want.Flags {
		what = append(what, "its flags")
	}
	return strings.Join(what, " and ")
}

// Prefix begins the names of files that Replace makes for a moment.
const Prefix = ".narrowgauge-"

var (
	// ErrReadOnly says that nobody may write to the file.
	ErrReadOnly = errors.New("the file is read-only; --force changes it all the same")
	// ErrFixed and ErrGrows say that the system was told to keep a file or a folder as it is,
	// and that it was told to let something be added only.
	ErrFixed = errors.New("the system keeps it from being changed, as it was told to (immutable)")
	ErrGrows = errors.New("the system lets it only grow, as it was told to (append-only)")
	// ErrChanged says that the file is not what was read.
	ErrChanged = errors.New("the file has changed since it was read, and is left as it is")
)

// A LostError says that a file may have neither text whole. Its old text is in
// another file.
type LostError struct {
	Copy string // name of the file with the old text
	Err  error  // what went wrong first
}

func (e *LostError) Error() string {
	return fmt.Sprintf("%v; the file may be damaged, its old text is in %s", e.Err, e.Copy)
}

func (e *LostError) Unwrap() error { return e.Err }

// A LeftError says that the new text was written, but that something could not be
// tidied up after it.
type LeftError struct {
	Name string // of the file that was left, or empty
	Err  error
	Lost string // what the file has not kept, or empty
}

func (e *LeftError) Error() string {
	if e.Lost != "" {
		return fmt.Sprintf("written, but the system has not left the file %s", e.Lost)
	}
	if e.Name == "" {
		return fmt.Sprintf("written, but perhaps not yet on the disk: %v", e.Err)
	}
	return fmt.Sprintf("written, but %s is left and can be deleted: %v", e.Name, e.Err)
}

func (e *LeftError) Unwrap() error { return e.Err }

// A Change is a new text for a file.
type Change struct {
	Name     string      // of the file, in its System
	Was      fs.FileInfo // the file that Old was read from
	Old, New []byte
	Force    bool // change a read-only file, too
	// Before, if it is not nil, is called when all is ready and the file is about to be
	// changed. Its error keeps the file as it is.
	Before func() error
}

// Replace makes a change. The file has to be the one that was read, with the same text,
// else the error is ErrChanged. One that its owner may not write to is refused with
// ErrReadOnly unless the change is forced, and one that stays as it is, or whose folder does, in
// any case: a file that is made there for a moment could not be removed.
//
// After an error the file has its old text, but for two: with a [LeftError] it has
// the new one, and with a [LostError] part of it may be missing.
func Replace(sys System, c Change) error {
	kind, err := sys.Lstat(c.Name)
	if err != nil {
		return err
	}
	if !kind.Mode().IsRegular() { // opening a device may already do something
		return &fs.PathError{Op: "write", Path: c.Name, Err: errors.New("it is not a regular file any more")}
	}
	if err := stays(sys, c.Name); err != nil {
		return err
	}
	r := replacement{Change: c, sys: sys}
	if r.info, err = r.unchanged(); err != nil {
		return err
	}
	if r.info.Mode()&0o200 == 0 && !c.Force {
		return ErrReadOnly
	}
	if r.info.Links > 1 {
		return r.inPlace()
	}
	err = r.rename()
	if _, ok := err.(*cannotKeep); ok {
		return r.inPlace()
	}
	return err
}

// New makes a file with a text. The name has to be free, else the error is [fs.ErrExist].
//
// After an error the file is not there, but for one: with a [LeftError] it is, with its text.
func New(sys System, name string, text []byte) error {
	if err := folderStays(sys, name); err != nil {
		return err
	}
	r := replacement{Change: Change{Name: name}, sys: sys}
	tmp, err := r.create(text, 0o644, false)
	if err != nil {
		return err
	}
	err = sys.Link(tmp, name)
	if err != nil && !errors.Is(err, fs.ErrExist) {
		// Some file systems know no links. Nobody keeps a name for us there.
		if _, there := sys.Lstat(name); errors.Is(there, fs.ErrNotExist) {
			if err := sys.Rename(tmp, name); err != nil {
				return r.drop(tmp, err)
			}
			return r.settled()
		}
	}
	if err != nil {
		return r.drop(tmp, err)
	}
	if err := sys.Remove(tmp); err != nil {
		return &LeftError{Name: tmp, Err: err}
	}
	return r.settled()
}

// stays says whether a file has to stay as it is, or its folder.
func stays(sys System, name string) error {
	if err := sys.Stays(name); err != nil {
		return &fs.PathError{Op: "write", Path: name, Err: err}
	}
	return folderStays(sys, name)
}

func folderStays(sys System, name string) error {
	if err := sys.Stays(filepath.Dir(name)); err != nil {
		return &fs.PathError{Op: "write into the folder of", Path: name, Err: err}
	}
	return nil
}

// settled waits until the name of the file is on the disk.
func (r *replacement) settled() error {
	if err := r.sys.Sync(r.Name); err != nil {
		return &LeftError{Err: err}
	}
	return nil
}

// A replacement is one run of Replace or New.
type replacement struct {
	Change
	sys  System
	info Info
}

// cannotKeep says that a new file cannot take the place of the old one.
type cannotKeep struct{ error }

func (e *cannotKeep) Unwrap() error { return e.error }

// create makes a new file beside the one to write, with a text that is on the
// disk when it returns. keep says that it has to be like the old one.
func (r *replacement) create(text []byte, mode fs.FileMode, keep bool) (name string, err error) {
	var f File
	for {
		name = filepath.Join(filepath.Dir(r.Name), Prefix+rand.Text())
		if f, err = r.sys.Create(name, mode); err == nil {
			break
		}
		if !errors.Is(err, fs.ErrExist) {
			return "", &cannotKeep{err}
		}
	}
	_, err = f.Write(text)
	if err == nil && keep {
		if err = f.Like(r.info); err != nil {
			err = &cannotKeep{err}
		}
	}
	if err == nil {
		err = f.Sync()
	}
	if err2 := f.Close(); err == nil {
		err = err2
	}
	if err != nil {
		return "", r.drop(name, err)
	}
	return name, nil
}

// drop removes a file that is not needed after an error.
func (r *replacement) drop(name string, err error) error {
	if err2 := r.sys.Remove(name); err2 != nil && !errors.Is(err2, fs.ErrNotExist) {
		// No LeftError: the new text is not in its place.
		return fmt.Errorf("%w; %s is left and can be deleted", err, name)
	}
	return err
}

// ready says whether the file can be changed now: Before agrees, and it is still what
// was read.
func (r *replacement) ready() error {
	if r.Before != nil {
		if err := r.Before(); err != nil {
			return err
		}
	}
	_, err := r.unchanged()
	return err
}

// unchanged reads the file: it has to be the one that the caller has read, with
// the same text.
func (r *replacement) unchanged() (Info, error) {
	data, info, err := r.sys.Read(r.Name)
	if err == nil && (!os.SameFile(info.FileInfo, r.Was) || !bytes.Equal(data, r.Old)) {
		err = ErrChanged
	}
	return info, err
}

// rename writes a new file and gives it the name.
func (r *replacement) rename() error {
	tmp, err := r.create(r.New, 0o600, true)
	if err != nil {
		return err
	}
	if err := r.ready(); err != nil {
		return r.drop(tmp, err)
	}
	if err := r.sys.Rename(tmp, r.Name); err != nil {
		return r.drop(tmp, err)
	}
	return r.settled()
}

// inPlace writes into the file.
func (r *replacement) inPlace() error {
	backup, err := r.create(r.Old, 0o600, false)
	if err != nil {
		return err
	}
	if err := r.ready(); err != nil {
		return r.drop(backup, err)
	}
	f, err := r.sys.Open(r.Name)
	if err != nil {
		return r.drop(backup, err)
	}
	err = fill(f, r.New, len(r.Old))
	if err2 := f.Close(); err == nil {
		err = err2
	}
	if err == nil {
		if err := r.sys.Remove(backup); err != nil {
			return &LeftError{Name: backup, Err: err}
		}
		return r.kept()
	}
	if r.putBack() != nil {
		return &LostError{Copy: backup, Err: err}
	}
	return r.drop(backup, err)
}

// kept says what a file has lost that was written in place: writing by somebody else than the
// superuser ends setuid, setgid and capabilities.
func (r *replacement) kept() error {
	_, now, err := r.sys.Read(r.Name)
	if err != nil {
		return &LeftError{Err: err}
	}
	lost := now.unlike(r.info)
	if lost == "" {
		return nil
	}
	if f, err := r.sys.Open(r.Name); err == nil {
		again := f.Like(r.info)
		if f.Close() == nil && again == nil {
			return nil
		}
	}
	return &LeftError{Lost: lost, Err: errors.New("the system takes it from what is written to")}
}

// putBack writes the old text into the file again.
func (r *replacement) putBack() error {
	f, err := r.sys.Open(r.Name)
	if err != nil {
		return err
	}
	return errors.Join(fill(f, r.Old, len(r.New)), f.Close())
}

// fill writes a text over another one of size bytes, from the first byte on.
func fill(f File, text []byte, size int) error {
	if _, err := f.Write(text); err != nil {
		return err
	}
	if len(text) < size {
		if err := f.Truncate(int64(len(text))); err != nil {
			return err
		}
	}
	return f.Sync()
}
