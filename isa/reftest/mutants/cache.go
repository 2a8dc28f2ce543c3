package main

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// A cache keeps what was found, in a folder outside of the repository.
type cache struct {
	dir     string
	tree    string // stands for all files of the repository but these lists
	options string // what the run's options have to do with the answer
}

// newCache hashes the files below root.
func newCache(dir, root string, options ...string) (*cache, error) {
	h := sha256.New()
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		if rel = filepath.ToSlash(rel); d.IsDir() {
			if rel == ".git" || d.Name() == "node_modules" || rel == "isa/reftest/mutants" {
				return fs.SkipDir
			}
			return nil
		}
		if !d.Type().IsRegular() || strings.HasSuffix(rel, ".test") {
			return nil
		}
		text, err := os.ReadFile(path)
		fmt.Fprintf(h, "%s %x\n", rel, sha256.Sum256(text))
		return err
	})
	return &cache{dir: dir, tree: hex.EncodeToString(h.Sum(nil)), options: strings.Join(options, "\x00")}, err
}

// A record is what is kept of one mutant in one state of the file it changes.
type record struct {
	verdict
	Tree string
}

// key names a record.
func (c *cache) key(parts ...string) string {
	h := sha256.New()
	for _, part := range append(parts, c.options) {
		_, _ = io.WriteString(h, part+"\x00")
	}
	return hex.EncodeToString(h.Sum(nil)[:16])
}

// find returns what is known of a mutant. A killed one stays so as long as
// the changed file is the same; another has to be tried when anything has
// changed, as a test for it may have come.
// first says that the quick tests are enough.
func (c *cache) find(a *applied, first bool) (verdict, bool) {
	var r record
	if !c.read("verdict-"+c.key(a.path, string(a.text)), &r) {
		return verdict{}, false
	}
	return r.verdict, r.State == "killed" || r.Tree == c.tree && (first || !r.First)
}

// keep remembers a verdict, and which test to ask first another time.
func (c *cache) keep(a *applied, v verdict) error {
	if v.State == "killed" && v.Test != "" {
		if err := c.write("killer-"+a.name, selection{Pkg: v.Pkg, Run: pattern(v.Test)}); err != nil {
			return err
		}
	}
	return c.write("verdict-"+c.key(a.path, string(a.text)), record{v, c.tree})
}

// killer is the test that killed the mutant last, if any.
func (c *cache) killer(name string) []selection {
	var s selection
	if !c.read("killer-"+name, &s) {
		return nil
	}
	return []selection{s}
}

// durations is what the tests of a package took in this state of the tree.
func (c *cache) durations(pkg string) *durations {
	d := new(durations)
	if !c.read("durations-"+c.key(pkg, c.tree), d) {
		return nil
	}
	return d
}

func (c *cache) keepDurations(pkg string, d *durations) error {
	return c.write("durations-"+c.key(pkg, c.tree), d)
}

func (c *cache) read(name string, to any) bool {
	text, err := os.ReadFile(filepath.Join(c.dir, name+".json"))
	return err == nil && json.Unmarshal(text, to) == nil
}

// write replaces a file at once, so that runs of several shards can share it.
func (c *cache) write(name string, what any) error {
	text, err := json.Marshal(what)
	if err != nil {
		return err
	}
	f, err := os.CreateTemp(c.dir, "new")
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), filepath.Join(c.dir, name+".json"))
}
