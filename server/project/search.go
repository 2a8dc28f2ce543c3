package project

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

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
// An assembler reads whatever a source names. A language server also reads
// sources that somebody else has written and that are only looked at, so a
// file outside of the project is read only if its name says that it is a
// source: no finding shows a line of a key or password file.
type Search struct {
	Disk    *Disk
	Include []string // folders of the settings
	// Inside lists the folders of the project.
	Inside []string
	// Open gives the text that an editor has open, which wins over the disk;
	// nil: none.
	Open func(path string) (*syntax.File, bool)
	// Tried is told every path that an answer hangs on, and what was there;
	// nil: nobody is.
	Tried func(path string, stamp Stamp)
}

func (s *Search) candidates(w analysis.Wanted) []string {
	if strings.ContainsRune(w.Name, 0) {
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

// Load is an [analysis.Loader].
func (s *Search) Load(w analysis.Wanted) (string, *syntax.File, bool) {
	for _, path := range s.candidates(w) {
		if s.Open != nil {
			if f, ok := s.Open(path); ok {
				s.tried(path, StampOf(path))
				return path, f, true
			}
		}
		stamp := StampOf(path)
		s.tried(path, stamp)
		if stamp == (Stamp{}) || !s.allowed(path) {
			continue
		}
		if f, _, err := s.Disk.Read(path); err == nil {
			return path, f, true
		}
	}
	return "", nil, false
}

// Size gives the size of a file that .incbin names.
func (s *Search) Size(w analysis.Wanted) (int64, bool) {
	for _, path := range s.candidates(w) {
		stamp := StampOf(path)
		s.tried(path, stamp)
		if stamp != (Stamp{}) {
			return stamp.Size, true
		}
	}
	return 0, false
}

// Why says why a file that is there is not read; empty if none is there.
func (s *Search) Why(w analysis.Wanted) string {
	if strings.ContainsRune(w.Name, 0) {
		return "its name has a zero byte"
	}
	for _, path := range s.candidates(w) {
		info, err := os.Stat(path)
		switch {
		case errors.Is(err, fs.ErrPermission):
			return "the system does not let it be opened"
		case err != nil:
			continue
		}
		if why := unreadable(info, MaxSource); why != "" {
			return why
		}
		if !s.allowed(path) {
			return "it lies outside of the project, and its name has not the ending of a source"
		}
		if f, err := os.Open(path); err != nil {
			return "the system does not let it be opened"
		} else {
			f.Close()
		}
	}
	return ""
}

// allowed says whether a file may be read: links followed, it lies in the
// project, or its name has the ending of a source.
func (s *Search) allowed(path string) bool {
	real, err := filepath.EvalSymlinks(path)
	if err != nil {
		return false
	}
	if IsSource(real) {
		return true
	}
	if real, err = filepath.Abs(real); err != nil {
		return false
	}
	for _, dirs := range [][]string{s.Inside, s.Include} {
		for _, dir := range dirs {
			if within(real, dir) {
				return true
			}
		}
	}
	return false
}

// within says whether a path without links lies below dir.
func within(path, dir string) bool {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return false
	}
	if real, err := filepath.EvalSymlinks(dir); err == nil {
		dir = real
	}
	rel, err := filepath.Rel(dir, path)
	return err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator))
}
