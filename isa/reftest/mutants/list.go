package main

import (
	"embed"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

// A mutant is one small mistake.
type mutant struct {
	name, area string
	in         string // folder below which the text is looked for, with slashes
	old, new   string
	tests      []selection // tried first
	why        string      // reason that nothing can be seen of it, or empty
	at         string      // file and line in the list
}

// A selection is some tests of a package.
type selection struct {
	Pkg string // as in the arguments of go test: ./isa
	Run string // a pattern for -run, or empty for all
}

//go:embed list/*.txt
var lists embed.FS

// readLists reads all the lists: those in the program, or the files that
// match pattern if it is not empty.
func readLists(pattern string) ([]*mutant, error) {
	files, prefix := fs.FS(lists), ""
	if pattern != "" {
		files, prefix = os.DirFS(filepath.Dir(pattern)), filepath.Dir(pattern)
		pattern = filepath.Base(pattern)
	} else {
		pattern = "list/*.txt"
	}
	names, err := fs.Glob(files, pattern)
	if err != nil {
		return nil, err
	}
	if len(names) == 0 {
		return nil, fmt.Errorf("no list matches %s", pattern)
	}
	var all []*mutant
	for _, name := range names {
		text, err := fs.ReadFile(files, name)
		if err != nil {
			return nil, err
		}
		some, err := parseList(filepath.Join(prefix, name), string(text))
		if err != nil {
			return nil, err
		}
		all = append(all, some...)
	}
	seen := map[string]string{}
	for _, m := range all {
		if other, ok := seen[m.name]; ok {
			return nil, fmt.Errorf("%s: %s has the name of the mutant at %s", m.at, m.name, other)
		}
		seen[m.name] = m.at
	}
	return all, nil
}

var mutantName = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

// parseList reads one list; the form is in the package's comment.
func parseList(file, text string) ([]*mutant, error) {
	var (
		all      []*mutant
		now      *mutant
		area, in string
	)
	for i, line := range strings.Split(text, "\n") {
		at := fmt.Sprintf("%s:%d", filepath.ToSlash(file), i+1)
		if line == "" || line[0] == '#' {
			continue
		}
		if strings.ContainsRune("-+ ", rune(line[0])) {
			if now == nil {
				return nil, fmt.Errorf("%s: a change before the first mutant", at)
			}
			now.change(line)
			continue
		}
		word, rest, _ := strings.Cut(line, " ")
		if rest = strings.TrimSpace(rest); rest == "" {
			return nil, fmt.Errorf("%s: %s needs something after it", at, word)
		}
		switch {
		case word == "area":
			area = rest
		case word == "in":
			in = strings.Trim(rest, "/")
		case word == "mutant":
			now = &mutant{name: rest, area: area, in: in, at: at}
			all = append(all, now)
		case now == nil || now.old != "" || now.new != "":
			return nil, fmt.Errorf("%s: expected mutant, area or in", at)
		case word == "why":
			now.why = strings.TrimSpace(now.why + " " + rest)
		case word == "tests":
			pkg, run, _ := strings.Cut(rest, " ")
			now.tests = append(now.tests, selection{Pkg: pkg, Run: strings.TrimSpace(run)})
		default:
			return nil, fmt.Errorf("%s: unknown word %s", at, word)
		}
	}
	for _, m := range all {
		if err := m.valid(); err != nil {
			return nil, fmt.Errorf("%s: %s: %w", m.at, m.name, err)
		}
	}
	return all, nil
}

// change takes one line of a change.
func (m *mutant) change(line string) {
	if line[0] != '+' {
		m.old += line[1:] + "\n"
	}
	if line[0] != '-' {
		m.new += line[1:] + "\n"
	}
}

// valid says what is wrong with the entry itself.
func (m *mutant) valid() error {
	switch {
	case !mutantName.MatchString(m.name):
		return fmt.Errorf("a name is made of small letters, digits and '-'")
	case m.area == "" || m.in == "":
		return fmt.Errorf("no area, or no folder")
	case strings.TrimSpace(m.old) == "":
		return fmt.Errorf("no line with the text to replace")
	case !m.changes():
		return fmt.Errorf("the change changes nothing")
	}
	return nil
}

// changes says whether the mutant changes more than blanks.
func (m *mutant) changes() bool { return !slices.Equal(strings.Fields(m.old), strings.Fields(m.new)) }
