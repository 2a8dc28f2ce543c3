package save

import (
	"bytes"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
)

// TestJournal holds that what a journal keeps makes the old text again, and no other.
func TestJournal(t *testing.T) {
	path := filepath.Join(t.TempDir(), "state", "journal.jsonl")
	file := filepath.Join(t.TempDir(), "points.s")
	r := rand.New(rand.NewPCG(1, 2))
	text := func() []byte {
		out := make([]byte, r.IntN(40))
		for i := range out {
			out[i] = "ab\n\xff"[r.IntN(4)]
		}
		return out
	}
	if last, err := NewJournal(path).Last(); err != nil || last != nil {
		t.Fatalf("without a file: %v, %v", last, err)
	}
	for range 300 {
		old, now := text(), text()
		j := NewJournal(path)
		for range 2 {
			if err := j.Add(file, old, now); err != nil {
				t.Fatal(err)
			}
		}
		last, err := NewJournal(path).Last()
		if err != nil || len(last) != 2 || last[0].Path != file {
			t.Fatalf("%v, %v", last, err)
		}
		before, done, err := last[0].Back(now)
		if err != nil || !bytes.Equal(before, old) || done == bytes.Equal(old, now) {
			t.Fatalf("%q → %q is undone to %q (%t, %v)", old, now, before, done, err)
		}
		if before, done, err := last[0].Back(old); err != nil || done || !bytes.Equal(before, old) {
			t.Fatalf("what was not written: %q, %t, %v", before, done, err)
		}
		if _, _, err := last[0].Back(append(now, 'x', 'y')); !errors.Is(err, ErrChanged) && !bytes.Equal(append(now, 'x', 'y'), old) {
			t.Fatalf("another text: %v", err)
		}
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm()&0o077 != 0 {
		t.Errorf("others may read the journal: %v, %v", info.Mode(), err)
	}
}

// TestDamagedJournal holds that a line cut off by a full disk takes no other with it,
// and that a damaged entry is not followed.
func TestDamagedJournal(t *testing.T) {
	path := filepath.Join(t.TempDir(), "journal.jsonl")
	file := filepath.Join(t.TempDir(), "points.s")
	if err := os.WriteFile(path, []byte(`{"Run":"1","Path":"/x","Be`), 0o600); err != nil {
		t.Fatal(err)
	}
	j := NewJournal(path)
	if err := j.Add(file, []byte("old"), []byte("new")); err != nil {
		t.Fatal(err)
	}
	last, err := j.Last()
	if err != nil || len(last) != 1 {
		t.Fatalf("%v, %v", last, err)
	}
	for _, patch := range []Patch{{-1, 2, nil}, {2, 1, nil}, {0, 99, nil}, {0, 3, []byte("odd")}} {
		e := last[0]
		e.Undo = patch
		if _, _, err := e.Back([]byte("new")); err == nil {
			t.Errorf("%v is taken", patch)
		}
	}
}

// TestJournalGrows holds that a journal has a bound, and that the last command's
// entries are found across it.
func TestJournalGrows(t *testing.T) {
	path := filepath.Join(t.TempDir(), "journal.jsonl")
	file := filepath.Join(t.TempDir(), "points.s")
	now := make([]byte, 1<<20)
	j := NewJournal(path)
	for i := range 20 {
		old := bytes.Repeat([]byte{byte(i + 1)}, 1<<20)
		if err := j.Add(file, old, now); err != nil {
			t.Fatal(err)
		}
	}
	if last, err := j.Last(); err != nil || len(last) != 20 {
		t.Errorf("%d entries, want the 20 of the command, %v", len(last), err)
	}
	for i := range 20 {
		j := NewJournal(path)
		old := bytes.Repeat([]byte{byte(i + 1)}, 1<<20)
		for range 2 {
			if err := j.Add(file, old, now); err != nil {
				t.Fatal(err)
			}
		}
		if last, err := j.Last(); err != nil || len(last) != 2 {
			t.Errorf("%d entries, %v", len(last), err)
		}
	}
	for _, p := range []string{path, path + ".old"} {
		info, err := os.Stat(p)
		if err != nil || info.Size() > maxJournal+4<<20 {
			t.Errorf("%s: %v, %v", p, info.Size(), err)
		}
	}
}

// TestJournalOfSeveral holds that two commands that write at the same time keep what they have
// changed apart, and that any name of a file comes back.
func TestJournalOfSeveral(t *testing.T) {
	path := filepath.Join(t.TempDir(), "journal.jsonl")
	names := []string{"/box/points.s", "/box/lamp\xff\xfe.s", "/box/a\nb\x1b.s", "/box/signal\u2028\ufffd.s"}
	a, b := NewJournal(path), NewJournal(path)
	b.run += "-b"
	for _, name := range names {
		for _, j := range []*Journal{a, b} {
			if err := j.Add(name, []byte("old"), []byte("new")); err != nil {
				t.Fatal(err)
			}
		}
	}
	last, err := a.Last()
	if err != nil || len(last) != len(names) {
		t.Fatalf("%d entries, want %d, %v", len(last), len(names), err)
	}
	for i, e := range last {
		if e.Path != names[i] || e.Run != b.run {
			t.Errorf("%q of %s, want %q", e.Path, e.Run, names[i])
		}
	}
}
