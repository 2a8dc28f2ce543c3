package reftest

import (
	"compress/gzip"
	"crypto/sha256"
	"encoding/gob"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

// What the reference assembler said to the cases of tables is kept in a file beside the
// tests, so that the tests of every day hold all cases against it: a run of the
// assembler costs far more than our analysis. A whole run asks the assembler anew, and
// holds the file against it. There are places and codes in it, none of its texts.

const answersPath = "testdata/answers.gz"

// answers are those of one package.
var answers struct {
	sync.Mutex
	read   bool
	known  map[[12]byte]File
	before int // how many of them have been written
}

// maxKept is the size of a section, in bytes, from which on a case is not kept.
const maxKept = 1 << 16

func readAnswers() {
	if answers.read {
		return
	}
	answers.read, answers.known = true, map[[12]byte]File{}
	f, err := os.Open(answersPath)
	if errors.Is(err, fs.ErrNotExist) {
		return
	}
	if err == nil {
		defer f.Close()
		var z *gzip.Reader
		if z, err = gzip.NewReader(f); err == nil {
			err = gob.NewDecoder(z).Decode(&answers.known)
		}
	}
	if err != nil {
		panic(fmt.Sprintf("reftest: %s: %v", answersPath, err))
	}
	answers.before = len(answers.known)
}

// Recorded is a list of cases: all of them in a whole run, and where answers are kept; else
// one in so many, as Sample gives.
func Recorded[T any](list []T, oneIn int) []T {
	answers.Lock()
	defer answers.Unlock()
	if readAnswers(); answers.before > 0 {
		return list
	}
	return Sample(list, oneIn)
}

// notKept is how few of the cases of which nothing is kept the assembler sees with
// -short: those with large sections.
const notKept = 9

// AssembleRecorded is AssembleFile, with -short from what is kept; asked is false for
// cases that -short leaves out. Sections for debuggers are left out. A whole run
// complains if what is kept is otherwise, or writes it anew with NARROWGAUGE_RECORD=1.
func AssembleRecorded(t testing.TB, opt Options, text string) (f File, asked bool) {
	t.Helper()
	sum := sha256.Sum256(fmt.Appendf(nil, "%q %v %v %q\n%s", opt.Arch, opt.Unified, opt.Thumb, opt.Flags, text))
	key := [12]byte(sum[:12])
	answers.Lock()
	readAnswers()
	f, ok := answers.known[key]
	some := answers.before > 0
	answers.Unlock()
	if testing.Short() && !Thorough() && (ok || some && key[0]%notKept != 0) {
		return f, ok
	}
	now := AssembleFile(t, opt, text)
	now.Sections, now.Sizes = maps.Clone(now.Sections), maps.Clone(now.Sizes)
	large := false
	for name, data := range now.Sections {
		if strings.HasPrefix(name, ".debug") { // which have the folder's name
			delete(now.Sections, name)
			delete(now.Sizes, name)
		}
		large = large || len(data) > maxKept
	}
	switch {
	case large:
	case Text(Record) != "":
		record(t, key, now)
	case !Part() && (!ok || plain(f) != plain(now)):
		t.Errorf("%s does not have what the assembler says of\n%s\n(%s=1 writes it)", answersPath, text, Record)
	}
	return now, true
}

// plain is a file as it comes out of gob, which does not tell nil from empty.
func plain(f File) string { return fmt.Sprintf("%v", f) }

// record keeps an answer, and writes all of them when the test ends.
func record(t testing.TB, key [12]byte, f File) {
	answers.Lock()
	defer answers.Unlock()
	answers.known[key] = f
	t.Cleanup(func() {
		answers.Lock()
		defer answers.Unlock()
		if len(answers.known) == answers.before {
			return
		}
		answers.before = len(answers.known)
		if err := writeAnswers(); err != nil {
			t.Errorf("reftest: %v", err)
		}
	})
}

func writeAnswers() error {
	f, err := os.CreateTemp(filepath.Dir(answersPath), "answers")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	z, err := gzip.NewWriterLevel(f, gzip.BestCompression)
	if err != nil {
		return err
	}
	err = errors.Join(gob.NewEncoder(z).Encode(answers.known), z.Close(), f.Close(), os.Chmod(f.Name(), 0o644))
	if err != nil {
		return err
	}
	return os.Rename(f.Name(), answersPath)
}
