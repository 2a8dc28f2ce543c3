package save

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"time"
	"unicode/utf8"
)

// A Journal is a file with a line of JSON for each change that has been made to a
// file, and what undoes it. A line is written when all is ready for its change, and
// before it is made: that of one which then failed has no effect, as the file is not
// what it says.
type Journal struct {
	path  string
	run   string
	begun bool // it has a line of this command
}

// An Entry is one line.
type Entry struct {
	Run    string // the same for all changes of one command
	Time   time.Time
	Path   string // of the file, absolute
	Name   []byte `json:",omitempty"` // Path where it is not in UTF-8, which JSON cannot have
	Before string // SHA-256 of the text before, in hexadecimal
	After  string // and after
	Undo   Patch  // makes the text before out of the one after
}

// A Patch replaces bytes of a text.
type Patch struct {
	Start, End int // byte offsets
	Bytes      []byte
}

// maxJournal is how many bytes a journal may have before its lines become those of the file
// with ".old" after its name. What one command changes stays together, however much it is.
const maxJournal = 8 << 20

// maxEntry bounds a line that is read: a patch of the largest source that can be named,
// in base 64.
const maxEntry = 400 << 20

// DefaultJournal is where the journal is if nobody says otherwise: in the folder for
// what programs keep of a user, XDG_STATE_HOME where the system has that.
func DefaultJournal() (string, error) {
	var dir string
	var err error
	switch runtime.GOOS {
	case "windows":
		dir, err = os.UserCacheDir()
	case "darwin", "ios":
		dir, err = os.UserConfigDir()
	default:
		if dir = os.Getenv("XDG_STATE_HOME"); !filepath.IsAbs(dir) {
			if dir, err = os.UserHomeDir(); err == nil {
				dir = filepath.Join(dir, ".local", "state")
			}
		}
	}
	if err != nil {
		return "", err
	}
	return filepath.Join(dir, "narrowgauge", "journal.jsonl"), nil
}

// NewJournal returns the journal at a path, for the changes of one command. Nothing
// is written yet.
func NewJournal(path string) *Journal {
	now := time.Now().UTC()
	return &Journal{path: path, run: fmt.Sprintf("%s-%d", now.Format("20060102T150405.000000000"), os.Getpid())}
}

// Path is where the journal is.
func (j *Journal) Path() string { return j.path }

// Add writes a line on a change of the file path, absolute, that is about to be made.
func (j *Journal) Add(path string, old, now []byte) error {
	e := Entry{Run: j.run, Time: time.Now().UTC(), Path: path, Before: digest(old), After: digest(now), Undo: between(now, old)}
	if !utf8.ValidString(path) {
		e.Name = []byte(path)
	}
	line, err := json.Marshal(e)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(j.path), 0o700); err != nil {
		return err
	}
	if info, err := os.Stat(j.path); err == nil && !j.begun && info.Size()+int64(len(line)) > maxJournal {
		if err := os.Rename(j.path, j.path+".old"); err != nil {
			return err
		}
	}
	// The texts are the user's: nobody else reads them.
	f, err := os.OpenFile(j.path, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o600)
	if err != nil {
		return err
	}
	// One write, so that lines of two commands do not mix; a line that was cut off
	// by a full disk is ended first.
	_, err = f.Write(append(append([]byte{'\n'}, line...), '\n'))
	if err == nil {
		err = f.Sync()
	}
	j.begun = true
	return errors.Join(err, f.Close())
}

// Last gives the entries of the last command that changed something, in their order, whatever
// other commands have written between them. What is no entry is passed over.
func (j *Journal) Last() (last []Entry, err error) {
	run := ""
	if err := j.each(func(e *Entry) { run = e.Run }); err != nil {
		return nil, err
	}
	err = j.each(func(e *Entry) {
		if e.Run == run {
			last = append(last, *e)
		}
	})
	return last, err
}

// each reads the entries one by one.
func (j *Journal) each(do func(e *Entry)) error {
	for _, path := range []string{j.path + ".old", j.path} {
		f, err := os.Open(path)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return err
		}
		lines := bufio.NewScanner(f)
		lines.Buffer(nil, maxEntry)
		for lines.Scan() {
			var e Entry
			if json.Unmarshal(lines.Bytes(), &e) != nil {
				continue
			}
			if len(e.Name) > 0 {
				e.Path = string(e.Name)
			}
			if e.Run != "" && filepath.IsAbs(e.Path) {
				do(&e)
			}
		}
		if err := errors.Join(lines.Err(), f.Close()); err != nil {
			return err
		}
	}
	return nil
}

// Back makes the text before the change out of the one after it. done is false if the
// text is the one before: nothing has to be undone. A text that is neither is
// ErrChanged.
func (e Entry) Back(text []byte) (before []byte, done bool, err error) {
	switch digest(text) {
	case e.Before:
		return text, false, nil
	case e.After:
		if e.Undo.Start < 0 || e.Undo.Start > e.Undo.End || e.Undo.End > len(text) {
			return nil, false, errors.New("the journal's entry is damaged")
		}
		before = bytes.Join([][]byte{text[:e.Undo.Start], e.Undo.Bytes, text[e.Undo.End:]}, nil)
		if digest(before) != e.Before {
			return nil, false, errors.New("the journal's entry is damaged")
		}
		return before, true, nil
	}
	return nil, false, ErrChanged
}

func digest(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

// between gives the patch that makes to out of from.
func between(from, to []byte) Patch {
	start := 0
	for start < min(len(from), len(to)) && from[start] == to[start] {
		start++
	}
	end := 0
	for end < min(len(from), len(to))-start && from[len(from)-1-end] == to[len(to)-1-end] {
		end++
	}
	return Patch{start, len(from) - end, to[start : len(to)-end]}
}
