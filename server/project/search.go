package project

import (
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
)

// ProgramNames are the endings of sources that are programs of their own: what
// ends otherwise belongs to the source that includes it.
var ProgramNames = []string{".s", ".S", ".sx", ".asm"}

// SourceNames are the endings of files that hold assembly source, or what it
// includes, in lower case.
var SourceNames = []string{".s", ".sx", ".asm", ".inc", ".h", ".i", ".mac"}

// IsSource says whether a file's name has the ending of a source.
func IsSource(path string) bool {
	return slices.Contains(SourceNames, strings.ToLower(filepath.Ext(path)))
}

// Search finds the files that the sources of one program ask for.
//
// An assembler reads whatever a source names. Sources that somebody else has
// written and that are only looked at must not show what lies elsewhere on the
// disk: candidates outside of the bounds are passed over, and nobody can tell
// from an answer whether they are there.
type Search struct {
	Disk    *Disk
	Include []string // folders of the settings
	Bounds  *Bounds
	Around  *Around // where to look further; nil: nowhere
	// Open gives the text that an editor has open, which wins over the disk;
	// nil: none.
	Open func(path string) (*syntax.File, bool)
	// Tried is told every path that an answer depends on, and what was there;
	// nil: nobody is.
	Tried func(path string, stamp Stamp)

	mu     sync.Mutex                  // holds what follows
	places int                         // looked at so far
	none   map[analysis.Wanted]missing // what was not found
	sizes  map[analysis.Wanted]taken   // files that are taken as bytes
	made   map[analysis.Wanted]bool    // what was not found, and whether the build makes it
}

// missing is a file that was not found, and why, once that was asked.
type missing struct {
	told bool
	why  string
	// nowhere: all places have been looked at, and nothing is in any of them, some of which
	// may be outside of the bounds.
	nowhere, outside bool
}

// taken is a file that is taken as bytes, if it is there.
type taken struct {
	path string
	size int64
	ok   bool
}

// maxMade bounds the files of which a program is told whether the build makes them: where more
// are missing, something else is wrong.
const maxMade = 1000

// maxPlaces bounds the places that are looked at for the files of one program: very many
// folders and very many missing files multiply.
const maxPlaces = 300_000

// tooManyPlaces is said of a file for which no place is looked at any more.
var tooManyPlaces = fmt.Sprintf("%d places have been looked at for the files of this program, and no more are", maxPlaces)

// room says whether one more place may be looked at.
func (s *Search) room() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.places++
	return s.places <= maxPlaces
}

// lost notes that a file was not found, as m says: its places are not looked at again.
func (s *Search) lost(w analysis.Wanted, m missing) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.none == nil {
		s.none = map[analysis.Wanted]missing{}
	}
	if _, ok := s.none[w]; !ok {
		s.none[w] = m
	}
}

// full says whether no more places are looked at.
func (s *Search) full() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.places > maxPlaces
}

// missed is what is known of a file that was not found; ok is false for another one.
func (s *Search) missed(w analysis.Wanted) (m missing, ok bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	m, ok = s.none[w]
	return m, ok
}

func (s *Search) candidates(w analysis.Wanted) []string {
	if strings.ContainsRune(w.Name, 0) || s.full() {
		return nil
	}
	from := w.From
	if w.System {
		from = ""
	}
	list := Candidates(from, w.Name, s.Include)
	if w.Next {
		// A file that was found beside another one is in none of the folders.
		self := filepath.Clean(w.From)
		list = slices.DeleteFunc(list[slices.Index(list, self)+1:], func(path string) bool { return path == self })
	}
	return list
}

func (s *Search) tried(path string, stamp Stamp) {
	if s.Tried != nil {
		s.Tried(path, stamp)
	}
}

// Of is the search for the files that another source names, with the same folders and
// bounds. It knows nothing of what an editor has open.
func (s *Search) Of(source string) *Search {
	out := &Search{Disk: s.Disk, Include: s.Include, Bounds: s.Bounds}
	if s.Around != nil {
		around := *s.Around
		around.Source = source
		out.Around = &around
	}
	return out
}

// Load is an [analysis.Loader].
func (s *Search) Load(w analysis.Wanted) (string, *syntax.File, bool) {
	if _, ok := s.missed(w); ok {
		return "", nil, false
	}
	m := missing{nowhere: true}
	for path := range s.paths(w) {
		stamp, err := s.look(path)
		if errors.Is(err, ErrOutside) {
			m.outside = true
			continue
		}
		m.nowhere = m.nowhere && errors.Is(err, fs.ErrNotExist)
		if s.Open != nil {
			if f, ok := s.Open(path); ok {
				return path, f, true
			}
		}
		if stamp == (Stamp{}) {
			continue
		}
		if f, _, err := s.Disk.read(path, stamp, s.Bounds); err == nil {
			return path, f, true
		}
	}
	m.nowhere = m.nowhere && !s.full()
	s.lost(w, m)
	return "", nil, false
}

// paths are where a file is looked for, in this order, as long as there is
// room for more.
func (s *Search) paths(w analysis.Wanted) iter.Seq[string] {
	return func(yield func(string) bool) {
		for _, path := range s.candidates(w) {
			if !s.room() || !yield(path) {
				return
			}
		}
		if strings.ContainsRune(w.Name, 0) || s.full() {
			return
		}
		for _, path := range s.Around.paths(w, s.Bounds) {
			if !s.room() || !yield(path) {
				return
			}
		}
		if only := s.Around.only(w, s.Bounds); len(only) == 1 && s.room() {
			yield(only[0])
		}
	}
}

// Generated says whether a file that is not found is one that the build makes.
func (s *Search) Generated(w analysis.Wanted) bool {
	s.mu.Lock()
	is, known := s.made[w]
	more := len(s.made) < maxMade
	s.mu.Unlock()
	if known || !more {
		return is
	}
	is = s.Around.Generated(w, s.Bounds)
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.made == nil {
		s.made = map[analysis.Wanted]bool{}
	}
	s.made[w] = is
	return is
}

// Several says which files of the project one that is not found may be, where none is clearly
// nearer than the others; empty: it is none.
func (s *Search) Several(w analysis.Wanted) string {
	if m, _ := s.missed(w); m.told && m.why != "" || strings.ContainsRune(w.Name, 0) {
		return ""
	}
	if only := s.Around.only(w, s.Bounds); len(only) > 1 {
		return twoFit(only, s.Around.Source)
	}
	return ""
}

func (s *Search) look(path string) (stamp Stamp, err error) {
	info, err := s.Bounds.Stat(path)
	if err == nil {
		stamp = stampOf(info)
	}
	s.tried(path, stamp)
	return stamp, err
}

// Size gives the size of a file that .incbin names.
func (s *Search) Size(w analysis.Wanted) (int64, bool) {
	_, size, ok := s.Bytes(w)
	return size, ok
}

// Bytes is where a file is that .incbin names, and its size in bytes. The answer stays the same.
func (s *Search) Bytes(w analysis.Wanted) (path string, size int64, ok bool) {
	s.mu.Lock()
	have, known := s.sizes[w]
	s.mu.Unlock()
	if !known {
		for path := range s.paths(w) {
			if stamp, _ := s.look(path); stamp != (Stamp{}) {
				have = taken{path, stamp.Size, true}
				break
			}
		}
		s.mu.Lock()
		defer s.mu.Unlock()
		if s.sizes == nil {
			s.sizes = map[analysis.Wanted]taken{}
		}
		s.sizes[w] = have
	}
	return have.path, have.size, have.ok
}

// notRead is said where a file is in none of the folders, and some of them are
// out of bounds: it is the same whether the file is there or not.
const notRead = "it is in none of the folders of the project, and files outside of the project are not read unless the setting readAlso (--read-also) allows their folder"

// Why says why a file is not read that is there, or that may be outside of the
// bounds; empty if it is in none of the folders.
func (s *Search) Why(w analysis.Wanted) string {
	m, known := s.missed(w)
	if m.told {
		return m.why
	}
	if !known {
		s.lost(w, m)
	}
	why := s.why(w, m)
	s.mu.Lock()
	s.none[w] = missing{told: true, why: why}
	s.mu.Unlock()
	return why
}

func (s *Search) why(w analysis.Wanted, m missing) string {
	if strings.ContainsRune(w.Name, 0) {
		return "its name has a zero byte"
	}
	if s.full() {
		return tooManyPlaces
	}
	if m.nowhere && m.outside {
		return notRead
	}
	if m.nowhere {
		return ""
	}
	outside := false
	for path := range s.paths(w) {
		info, err := s.Bounds.Stat(path)
		switch {
		case errors.Is(err, ErrOutside):
			outside = true
			continue
		case errors.Is(err, fs.ErrPermission):
			return "the system does not let it be opened"
		case err != nil:
			continue
		}
		if why := unreadable(info, MaxSource); why != "" {
			return why
		}
		f, _, err := s.Bounds.open(path, MaxSource)
		if err != nil {
			return "the system does not let it be opened"
		}
		f.Close()
	}
	if s.full() {
		return tooManyPlaces
	}
	if outside {
		return notRead
	}
	return ""
}
