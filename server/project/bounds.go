package project

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"hash/fnv"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"syscall"
)

// UserSettings are the settings that only the user can give, on the command
// line or in the editor. A repository cannot: no project file and no
// compilation database has them.
type UserSettings struct {
	// ReadAlso lists folders outside of the project that sources and settings
	// may reach. Everything else outside is left unread.
	ReadAlso []string `json:"readAlso"`
}

// ErrOutside says that a path, links followed, leads outside of the bounds.
// Nothing there has been looked at: the error is the same whether or not
// something is there.
var ErrOutside = errors.New("it is outside of the project; the setting readAlso (--read-also) allows folders there")

// Bounds are the folders in which files may be read. Sources, project files and
// compilation databases are often other people's: what they name, and where
// links in their folders lead, counts only within the bounds.
//
// Whatever is opened is opened from one of the folders by [os.Root], which lets
// no link lead out of it. So a link that changes between two looks at it shows
// nothing either. Bounds do not change and are safe for concurrent use; nil
// bounds have no folder.
type Bounds struct {
	folders []folder
	named   map[string]bool // files that the user has named, which may be links
	names   uint64          // tells sets of named files apart
	top     string          // the folder in which a search upwards ends; empty: none
	beside  string          // the file that the user has named, if it is for one
	wides   *sync.Map       // what [wide] said of folders; nil: it is asked each time
	here    func() string   // the current folder; nil: the system is asked each time
}

// folder is a folder of the bounds.
type folder struct {
	path string // as it was given, absolute
	real string // with its links followed
	// info tells it apart from a folder that comes to its place later; nil where
	// there was none.
	info fs.FileInfo
	// narrow: only sources that are not hidden, directly in it.
	narrow bool
	held   *held // nil: opened for each file
}

// held is a folder that stays open for a while.
type held struct {
	mu     sync.Mutex
	root   *os.Root
	closed bool
}

// Hold returns the bounds with folders that stay open when they have been used,
// which saves most of the work where many files are looked at. release closes
// them; what is looked at after it opens its folder anew.
func (b *Bounds) Hold() (out *Bounds, release func()) {
	out = b.clone()
	out.folders, out.wides = slices.Clone(out.folders), &sync.Map{}
	out.here = sync.OnceValue(func() string {
		dir, _ := os.Getwd()
		return dir
	})
	for i := range out.folders {
		out.folders[i].held = &held{}
	}
	return out, func() {
		for _, f := range out.folders {
			f.held.mu.Lock()
			if f.held.root != nil {
				f.held.root.Close()
			}
			f.held.root, f.held.closed = nil, true
			f.held.mu.Unlock()
		}
	}
}

// abs is [filepath.Abs], which asks the system twice for the current folder.
func (b *Bounds) abs(path string) (string, error) {
	if b != nil && b.here != nil && !filepath.IsAbs(path) {
		if dir := b.here(); dir != "" {
			return filepath.Join(dir, path), nil
		}
	}
	return filepath.Abs(path)
}

// use calls do with the folder open.
func (f folder) use(do func(r *os.Root) error) error {
	if h := f.held; h != nil {
		h.mu.Lock()
		defer h.mu.Unlock()
		if !h.closed && h.root == nil {
			r, err := f.open()
			if err != nil {
				return err
			}
			h.root = r
		}
		if h.root != nil {
			return do(h.root)
		}
	}
	r, err := f.open()
	if err != nil {
		return err
	}
	defer r.Close()
	return do(r)
}

// NewBounds makes bounds of folders that the user has named, directly or as a
// workspace. Relative ones start at the current folder; what is no folder is
// left out.
func NewBounds(folders ...string) *Bounds {
	return (&Bounds{}).With(folders...)
}

// Top is the folder of the workspace that a source lies in; empty for bounds of
// one that has been named.
func (b *Bounds) Top() string { return b.top }

// Folders lists the folders of the bounds, as they were given.
func (b *Bounds) Folders() (out []string) {
	if b == nil {
		return nil
	}
	for _, f := range b.folders {
		if f.narrow {
			out = append(out, f.path+", only sources directly in it")
		} else {
			out = append(out, f.path)
		}
	}
	return out
}

// With returns the bounds with more folders in them.
func (b *Bounds) With(folders ...string) *Bounds {
	out := b.clone()
	for _, dir := range folders {
		out.add(dir, false)
	}
	return out
}

// Named returns the bounds with files in them that the user has named. Links
// among them count, wherever they lead.
func (b *Bounds) Named(files ...string) *Bounds {
	out := b.clone()
	if len(files) > 0 {
		out.named = maps.Clone(out.named)
	}
	for _, path := range files {
		path, err := filepath.Abs(path)
		if err != nil || out.named[path] {
			continue
		}
		if out.named == nil {
			out.named = map[string]bool{}
		}
		out.named[path] = true
		sum := fnv.New64a()
		_, _ = io.WriteString(sum, path)
		out.names += sum.Sum64()
	}
	return out
}

func (b *Bounds) clone() *Bounds {
	if b == nil {
		return &Bounds{}
	}
	out := *b
	out.folders = slices.Clip(out.folders)
	return &out
}

func (b *Bounds) add(dir string, narrow bool) {
	path, err := filepath.Abs(dir)
	if err != nil || slices.ContainsFunc(b.folders, func(f folder) bool { return f.path == path && !f.narrow }) {
		return
	}
	real, err := filepath.EvalSymlinks(path)
	if err != nil {
		real = path
	}
	info, err := os.Stat(real)
	if err == nil && !info.IsDir() {
		return
	}
	b.folders = append(b.folders, folder{path: path, real: real, info: info, narrow: narrow})
}

// Workspace makes the bounds of a source in a workspace of folders, which more
// folders come on top of. A source in one of the folders has only the workspace,
// and a search upwards ends at the folder. One that lies in none has been opened
// by hand: see [Bounds.Beside].
func Workspace(folders, more []string, source string) *Bounds {
	b := NewBounds()
	var tops []string
	for _, dir := range folders {
		if filepath.Dir(dir) != dir { // an editor without a folder may name the root of the disk
			b.add(dir, false)
			tops = append(tops, dir, follow(dir))
		}
	}
	top := outermost(source, tops)
	if top != "" {
		top = cmp.Or(outermost(top, more), top)
	}
	b = b.With(more...)
	if top == "" && source != "" {
		return b.Beside(source)
	}
	b.top = top
	return b
}

// outermost is the first of the folders above path, by their names.
func outermost(path string, dirs []string) (out string) {
	for _, dir := range dirs {
		if _, ok := Below(path, dir); ok && (out == "" || len(dir) < len(out)) {
			out = dir
		}
	}
	return out
}

// Beside returns the bounds of a file that the user has named: its own folder
// belongs to them. The project that the file is part of does as well; see
// [Bounds.Project]. In folders that hold more than one project, such as the
// home folder, only the sources beside the file count.
func (b *Bounds) Beside(path string) *Bounds {
	out := b.clone()
	if path, err := filepath.Abs(path); err == nil {
		out.beside = path
		dir := filepath.Dir(path)
		out.add(dir, wide(dir))
	}
	return out
}

// tops are names in the topmost folder of a project.
var tops = []string{".git", ".hg", ".svn", "Makefile", "makefile", "GNUmakefile", "CMakeLists.txt", "meson.build"}

// Around returns the bounds of a file that the user has named while being in a folder
// above it: if that is the topmost one of a project, as its names show, it belongs to them,
// unless it, or one on the way, holds more than one project.
func (b *Bounds) Around(dir, path string) *Bounds {
	if _, ok := Below(path, dir); !ok || !slices.ContainsFunc(tops, func(name string) bool {
		_, err := os.Lstat(filepath.Join(dir, name))
		return err == nil
	}) {
		return b
	}
	for at := filepath.Dir(path); ; at = filepath.Dir(at) {
		if wide(at) {
			return b
		}
		if _, ok := Below(dir, at); ok {
			return b.With(dir)
		}
	}
}

// Given returns the bounds of what has been found in a folder that the user has
// named: the project that the folder is part of belongs to them.
func (b *Bounds) Given(dir string) *Bounds {
	out := b.With(dir)
	out.beside = filepath.Clean(dir)
	return out
}

// Project returns the bounds with the folder of the project in them that has
// been found above a file which the user has named.
func (b *Bounds) Project(dir string) *Bounds {
	if b == nil || b.beside == "" || wide(dir) {
		return b
	}
	if _, ok := Below(b.beside, dir); !ok {
		return b
	}
	return b.With(dir)
}

// Command returns the bounds with what a compilation database brings: the folder
// of its project, and those that come with the compiler.
func (b *Bounds) Command(cmd *Command) *Bounds {
	if cmd == nil || !cmd.Named {
		return b
	}
	if cmd.Folder != "" {
		b = b.Project(cmd.Folder)
	}
	return b.With(cmd.Toolchain...)
}

// up lists the folders from dir upwards in which a project is looked for, each
// with the bounds to look with, which are held meanwhile: there are several names to look for.
func (b *Bounds) up(dir string, look func(dir string, in *Bounds) (done bool)) {
	if b == nil {
		return
	}
	held := b
	if b.wides == nil {
		out, release := b.Hold()
		held = out
		defer release()
	}
	above := func(dir string) (done bool) {
		in, release := b.With(dir).Hold()
		defer release()
		return look(dir, in)
	}
	for {
		if b.top != "" {
			if _, ok := Below(dir, b.top); !ok {
				return
			}
		}
		done := false
		switch own := b.top != "" || b.beside == "" || b.holds(dir); {
		case own:
			done = look(dir, held)
		case !shared(dir):
			done = above(dir)
		}
		if done {
			return
		}
		parent := filepath.Dir(dir)
		if parent == dir || b.top == "" && b.beside == "" {
			return
		}
		dir = parent
	}
}

// holds says whether a folder lies in the bounds by its path.
func (b *Bounds) holds(dir string) bool {
	return slices.ContainsFunc(b.folders, func(f folder) bool {
		_, ok := Below(dir, f.path)
		return ok && !f.narrow
	})
}

// wide says whether a folder is no project whatever is in it: the root of the
// file system, the home folder and those above it, and folders in which every
// user may put a file.
func wide(dir string) bool {
	if filepath.Dir(dir) == dir {
		return true
	}
	if home, err := os.UserHomeDir(); err == nil {
		there := follow(dir)
		for _, home := range []string{home, followHome(home)} {
			for _, dir := range []string{dir, there} {
				if _, ok := Below(home, dir); ok {
					return true
				}
			}
		}
	}
	return shared(dir)
}

// wide is [wide], which bounds that are held ask once of each folder: for each file that is in
// none of the folders it would be asked of all above the source.
func (b *Bounds) wide(dir string) bool {
	if b.wides == nil {
		return wide(dir)
	}
	if is, ok := b.wides.Load(dir); ok {
		return is.(bool)
	}
	is := wide(dir)
	b.wides.Store(dir, is)
	return is
}

// homes has where home folders are, as it is asked for each folder above each source.
var homes sync.Map

func followHome(home string) string {
	if to, ok := homes.Load(home); ok {
		return to.(string)
	}
	to := follow(home)
	homes.Store(home, to)
	return to
}

// shared says whether every user may put a file into the folder, as into that
// for temporary files.
func shared(dir string) bool {
	info, err := os.Stat(dir)
	return err == nil && info.Mode()&fs.ModeSticky != 0 && info.Mode().Perm()&0o002 != 0
}

func follow(path string) string {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		return real
	}
	return path
}

// String tells bounds apart.
func (b *Bounds) String() string {
	if b == nil {
		return ""
	}
	var s strings.Builder
	for _, f := range b.folders {
		fmt.Fprintf(&s, "%q %q %t\n", f.path, f.real, f.narrow)
	}
	fmt.Fprintf(&s, "%d %x %q %q", len(b.named), b.names, b.top, b.beside)
	return s.String()
}

// Below gives path relative to dir, both absolute, if it is dir or lies in it
// by its name.
func Below(path, dir string) (rel string, ok bool) {
	same := func(a, b string) bool { return a == b }
	if runtime.GOOS == "windows" {
		same = strings.EqualFold // what is opened is opened from dir all the same
	}
	path, dir = filepath.Clean(path), filepath.Clean(dir)
	if same(path, dir) {
		return ".", true
	}
	if !os.IsPathSeparator(dir[len(dir)-1]) {
		dir += string(filepath.Separator)
	}
	if len(path) > len(dir) && same(path[:len(dir)], dir) {
		return path[len(dir):], true
	}
	return "", false
}

// Place is where a path leads, within the bounds.
type Place struct {
	in  folder
	rel string // below it
}

// Path is where the file is, links followed as far as they have been.
func (p Place) Path() string { return filepath.Join(p.in.real, p.rel) }

// Open gives the folder of the bounds, and the name in it. The caller closes
// the folder.
func (p Place) Open() (*os.Root, string, error) {
	r, err := p.in.open()
	return r, p.rel, err
}

// open opens a folder of the bounds.
func (f folder) open() (*os.Root, error) {
	r, err := os.OpenRoot(f.real)
	if err != nil {
		return nil, err
	}
	if info, err := r.Stat("."); err != nil || f.info == nil || !os.SameFile(info, f.info) {
		r.Close()
		return nil, &fs.PathError{Op: "open", Path: f.path, Err: errors.New("another folder has taken its place")}
	}
	return r, nil
}

// Find follows path as far as it stays within the bounds. The error is
// [ErrOutside] where it leaves them, and the system's where nothing is there.
func (b *Bounds) Find(path string) (Place, error) {
	p, _, err := b.find(path)
	return p, err
}

// Real follows path as [Bounds.Find] does, to a place that no link leads to.
func (b *Bounds) Real(path string) (Place, error) {
	if b == nil {
		return Place{}, ErrOutside
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return Place{}, err
	}
	if b.named[abs] {
		p, _, err := namedFile(path, abs)
		return p, err
	}
	p, err := b.walk(abs)
	if err != nil {
		return Place{}, &fs.PathError{Op: "read", Path: path, Err: inner(err)}
	}
	return p, nil
}

func (b *Bounds) find(path string) (Place, fs.FileInfo, error) {
	fail := func(err error) (Place, fs.FileInfo, error) {
		return Place{}, nil, &fs.PathError{Op: "read", Path: path, Err: err}
	}
	if b == nil {
		return fail(ErrOutside)
	}
	abs, err := b.abs(path)
	if err != nil || strings.ContainsRune(path, 0) {
		return fail(fs.ErrInvalid)
	}
	if b.named[abs] {
		return namedFile(path, abs)
	}
	// Most paths lead nowhere else: the system follows them at once.
	for _, f := range b.folders {
		rel, ok := Below(abs, f.path)
		if !ok {
			rel, ok = Below(abs, f.real)
		}
		if !ok || f.narrow {
			continue
		}
		info, err := f.stat(rel)
		switch {
		case err == nil:
			return Place{f, rel}, info, nil
		case errors.Is(err, fs.ErrNotExist), errors.Is(err, fs.ErrPermission):
			return fail(inner(err))
		}
		break
	}
	p, err := b.walk(abs)
	if err != nil {
		return fail(inner(err))
	}
	info, err := p.in.stat(p.rel)
	if err != nil {
		return fail(inner(err))
	}
	return p, info, nil
}

func (f folder) stat(rel string) (info fs.FileInfo, err error) {
	err = f.use(func(r *os.Root) error {
		info, err = r.Stat(rel)
		return err
	})
	return info, err
}

// namedFile follows a file that the user has named, wherever it leads.
func namedFile(path, abs string) (Place, fs.FileInfo, error) {
	real, err := filepath.EvalSymlinks(abs)
	if err != nil {
		return Place{}, nil, &fs.PathError{Op: "read", Path: path, Err: inner(err)}
	}
	dir := filepath.Dir(real)
	info, err := os.Stat(dir)
	if err != nil {
		return Place{}, nil, &fs.PathError{Op: "read", Path: path, Err: inner(err)}
	}
	p := Place{folder{path: filepath.Dir(abs), real: dir, info: info}, filepath.Base(real)}
	file, err := os.Lstat(real)
	if err != nil {
		return Place{}, nil, &fs.PathError{Op: "read", Path: path, Err: inner(err)}
	}
	return p, file, nil
}

// inner is an error of the system without the path, which may be one that a
// link leads to.
func inner(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}

// maxLinks is how many links a path may lead through, as in Linux.
const maxLinks = 40

// walk follows path one name after the other, and stops where it would have to
// look outside of the bounds.
func (b *Bounds) walk(path string) (Place, error) {
	at, rest := b.start(path)
	for links := 0; len(rest) > 0; {
		name := rest[0]
		rest = rest[1:]
		switch name {
		case "", ".":
			continue
		case "..":
			at = filepath.Dir(at)
			continue
		}
		next := filepath.Join(at, name)
		f, rel := b.holding(next)
		if f == nil {
			if !b.above(next) {
				return Place{}, ErrOutside
			}
			at = next // without links: it leads to the real path of a folder
			continue
		}
		if f.narrow && !beside(rel) {
			return Place{}, ErrOutside
		}
		target, err := f.readlink(rel)
		switch {
		case err != nil:
			return Place{}, err
		case target == "":
			at = next
			continue
		}
		if links++; links > maxLinks {
			return Place{}, syscall.ELOOP
		}
		if filepath.IsAbs(target) {
			var more []string
			at, more = b.start(target)
			rest = append(more, rest...)
		} else {
			rest = append(parts(target), rest...)
		}
	}
	f, rel := b.holding(at)
	if f == nil {
		return Place{}, ErrOutside
	}
	return Place{*f, rel}, nil
}

// beside says whether a name below a folder is that of a source directly in it,
// and not hidden.
func beside(rel string) bool {
	return !strings.ContainsRune(rel, filepath.Separator) && !strings.HasPrefix(rel, ".") && IsSource(rel)
}

// start is where an absolute path begins: in a folder of the bounds that is
// spelled so, or at the root of the file system.
func (b *Bounds) start(path string) (at string, rest []string) {
	best := 0
	for _, f := range b.folders {
		if rel, ok := Below(path, f.path); ok && len(f.path) > best {
			best, at, rest = len(f.path), f.real, parts(rel)
		}
	}
	if best > 0 {
		return at, rest
	}
	at = filepath.VolumeName(path) + string(filepath.Separator)
	return at, parts(path[len(filepath.VolumeName(path)):])
}

func parts(path string) []string {
	return strings.FieldsFunc(path, func(c rune) bool { return c < 0x80 && os.IsPathSeparator(uint8(c)) })
}

// holding finds the folder of the bounds in which a path without links lies, one
// that is not narrow before one that is.
func (b *Bounds) holding(path string) (best *folder, rel string) {
	for i := range b.folders {
		if r, ok := Below(path, b.folders[i].real); ok && (best == nil || best.narrow) {
			best, rel = &b.folders[i], r
		}
	}
	return best, rel
}

// above says whether a path without links leads to a folder of the bounds.
func (b *Bounds) above(path string) bool {
	return slices.ContainsFunc(b.folders, func(f folder) bool {
		_, ok := Below(f.real, path)
		return ok
	})
}

// readlink gives the target of a link in the folder; empty for what is none.
func (f *folder) readlink(rel string) (target string, err error) {
	err = f.use(func(r *os.Root) error {
		info, err := r.Lstat(rel)
		if err == nil && info.Mode()&fs.ModeSymlink != 0 {
			target, err = r.Readlink(rel)
		}
		return err
	})
	return target, err
}

// Stat looks at the file that path leads to.
func (b *Bounds) Stat(path string) (fs.FileInfo, error) {
	_, info, err := b.find(path)
	return info, err
}

// Stamp looks at path. It is the zero Stamp for what is no regular file within
// the bounds.
func (b *Bounds) Stamp(path string) Stamp {
	_, info, err := b.find(path)
	if err != nil {
		return Stamp{}
	}
	return stampOf(info)
}

// Outside says whether path leads outside of the bounds.
func (b *Bounds) Outside(path string) bool {
	_, _, err := b.find(path)
	return errors.Is(err, ErrOutside)
}

// ReadFile reads a regular file of at most [MaxSource] bytes. Anything else,
// such as a pipe on which reading would wait, is an error.
func (b *Bounds) ReadFile(path string) ([]byte, error) {
	var buf bytes.Buffer
	if _, err := b.readInto(&buf, path, MaxSource); err != nil {
		return nil, err
	}
	return buf.Bytes(), nil
}

// Read reads a text as [Bounds.ReadFile] reads a file, and says which file it was.
func (b *Bounds) Read(path string) (string, fs.FileInfo, error) { return b.read(path, MaxSource) }

// ReadNamed is [Bounds.Read] for a file that the user asks for by its name: it may have
// up to [MaxNamed] bytes.
func (b *Bounds) ReadNamed(path string) (string, fs.FileInfo, error) { return b.read(path, MaxNamed) }

func (b *Bounds) read(path string, limit int64) (string, fs.FileInfo, error) {
	var buf strings.Builder
	info, err := b.readInto(&buf, path, limit)
	if err != nil {
		return "", nil, err
	}
	return buf.String(), info, nil
}

// growing is what a file is read into.
type growing interface {
	io.Writer
	Grow(n int)
	Len() int
}

func (b *Bounds) readInto(buf growing, path string, limit int64) (fs.FileInfo, error) {
	f, info, err := b.open(path, limit)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	buf.Grow(int(info.Size()) + bytes.MinRead) // no more is wanted to see the end
	if _, err := io.Copy(buf, io.LimitReader(f, limit+1)); err != nil {
		return nil, &fs.PathError{Op: "read", Path: path, Err: inner(err)}
	}
	if int64(buf.Len()) > limit { // it grows
		return nil, &fs.PathError{Op: "read", Path: path, Err: errors.New(tooLarge(int64(buf.Len()), limit))}
	}
	return info, nil
}

// open opens a regular file of at most limit bytes.
func (b *Bounds) open(path string, limit int64) (*os.File, fs.FileInfo, error) {
	fail := func(err error) (*os.File, fs.FileInfo, error) {
		return nil, nil, &fs.PathError{Op: "read", Path: path, Err: err}
	}
	p, info, err := b.find(path) // opening a device may already do something
	if err != nil {
		return fail(inner(err))
	}
	if why := unreadable(info, limit); why != "" {
		return fail(errors.New(why))
	}
	var f *os.File
	err = p.in.use(func(r *os.Root) error {
		// Should it become a pipe meanwhile: opening must not wait for a writer.
		f, err = r.OpenFile(p.rel, os.O_RDONLY|noWait, 0)
		return err
	})
	if err != nil {
		return fail(inner(err))
	}
	if info, err = f.Stat(); err == nil {
		if why := unreadable(info, limit); why != "" {
			err = errors.New(why)
		}
	}
	if err != nil {
		f.Close()
		return fail(inner(err))
	}
	return f, info, nil
}

// unreadable says why a file is not read; empty if it is.
func unreadable(info fs.FileInfo, limit int64) string {
	switch {
	case info.IsDir():
		return "it is a folder"
	case !info.Mode().IsRegular():
		return "it is not a regular file, but a device, a pipe or the like"
	case info.Size() > limit:
		return tooLarge(info.Size(), limit)
	}
	return ""
}

func tooLarge(size, limit int64) string {
	return fmt.Sprintf("it has %d bytes, and the limit is %d", size, limit)
}
