package main

import (
	"bytes"
	"fmt"
	"go/scanner"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// A source is a Go file, with its text in the form in which mutants are
// looked for: without comments, spaces and line ends.
type source struct {
	path string // relative to the root, with slashes
	text []byte
	bare []byte
	from []int // offset in text of each byte of bare
}

// A tree is the sources below a root, tests apart, in order of their paths.
type tree struct {
	root  string
	files []*source
}

// notSources are folders that have no code that mutants are made of: the
// reference tools are part of the tests.
var notSources = []string{"isa/reftest", "testdata", "node_modules"}

// readTree reads the sources below root.
func readTree(root string) (*tree, error) {
	t := &tree{root: root}
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		if d.IsDir() {
			if slices.Contains(notSources, rel) || slices.Contains(notSources, d.Name()) || rel != "." && strings.HasPrefix(d.Name(), ".") {
				return fs.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(rel, ".go") || strings.HasSuffix(rel, "_test.go") {
			return nil
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		s := &source{path: rel, text: text}
		s.bare, s.from = squeeze(text)
		t.files = append(t.files, s)
		return nil
	})
	return t, err
}

// squeeze returns text without comments and white space, and where each byte
// of that was.
func squeeze(text []byte) (bare []byte, from []int) {
	comment := make([]bool, len(text)+1)
	file := token.NewFileSet().AddFile("", -1, len(text))
	var s scanner.Scanner
	s.Init(file, text, func(token.Position, string) {}, scanner.ScanComments)
	for {
		pos, tok, lit := s.Scan()
		if tok == token.EOF {
			break
		}
		if tok == token.COMMENT {
			// The literal is without carriage returns; sources have none.
			for i := range lit {
				comment[file.Offset(pos)+i] = true
			}
		}
	}
	for i, c := range text {
		if !comment[i] && c != ' ' && c != '\t' && c != '\n' && c != '\r' {
			bare, from = append(bare, c), append(from, i)
		}
	}
	return bare, from
}

// An applied mutant is the file that it changes.
type applied struct {
	*mutant
	path       string // of the file, relative to the root
	line       int
	text       []byte // the whole changed file
	start, end int    // the changed range in text
	was        int    // where the range ended before
}

// within is what the range of the file before comes to with the change.
func (a *applied) within(start, end int) string {
	return string(a.text[start : end+a.end-a.was])
}

// pkg is the package of the changed file as the go command takes it.
func (a *applied) pkg() string {
	return "./" + a.path[:max(strings.LastIndexByte(a.path, '/'), 0)]
}

// apply finds where the mutant's text is; it has to be there exactly once.
func (t *tree) apply(m *mutant) (*applied, error) {
	old, _ := squeeze([]byte(m.old))
	var found *applied
	n := 0
	for _, s := range t.files {
		if !strings.HasPrefix(s.path, m.in+"/") {
			continue
		}
		for at := 0; ; at++ {
			i := bytes.Index(s.bare[at:], old)
			if i < 0 {
				break
			}
			if at += i; !s.whole(at, at+len(old)) {
				continue
			}
			n++
			found = s.replace(m, at, at+len(old))
		}
	}
	if n != 1 {
		return nil, fmt.Errorf("the text is there %d times below %s", n, m.in)
	}
	return found, nil
}

// whole says whether the range of bare begins and ends between words.
func (s *source) whole(start, end int) bool {
	from, to := s.from[start], s.from[end-1]+1
	return !(from > 0 && word(s.text[from-1]) && word(s.text[from])) &&
		!(to < len(s.text) && word(s.text[to-1]) && word(s.text[to]))
}

func word(c byte) bool {
	return c == '_' || c >= '0' && c <= '9' || c|0x20 >= 'a' && c|0x20 <= 'z' || c >= 0x80
}

// replace puts the mutant's text in place of the range of bare.
func (s *source) replace(m *mutant, start, end int) *applied {
	from, to := s.from[start], s.from[end-1]+1
	text := strings.TrimSpace(m.new)
	return &applied{
		mutant: m,
		path:   s.path,
		line:   1 + bytes.Count(s.text[:from], []byte("\n")),
		text:   slices.Concat(s.text[:from], []byte(text), s.text[to:]),
		start:  from,
		end:    from + len(text),
		was:    to,
	}
}
