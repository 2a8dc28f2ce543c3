package save

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
)

// kept is a System in which some names stay as they are. It notes what is made in it.
type kept struct {
	System
	stays map[string]error
	made  int
}

func (k *kept) Stays(name string) error { return k.stays[name] }

func (k *kept) Create(name string, mode fs.FileMode) (File, error) {
	k.made++
	return k.System.Create(name, mode)
}

// TestStays changes files that the system keeps as they are, or whose folder it does: nothing is
// made before that is said, as it could not be removed again.
func TestStays(t *testing.T) {
	for _, c := range []struct {
		name  string
		stays map[string]error
		links bool
		want  error
	}{
		{"a file that only grows", map[string]error{"points.s": ErrGrows}, false, ErrGrows},
		{"one with two names", map[string]error{"points.s": ErrGrows}, true, ErrGrows},
		{"a file that stays", map[string]error{"points.s": ErrFixed}, false, ErrFixed},
		{"a folder that only grows", map[string]error{".": ErrGrows}, false, ErrGrows},
		{"a file with two names in one", map[string]error{".": ErrGrows}, true, ErrGrows},
		{"a folder that stays", map[string]error{".": ErrFixed}, false, ErrFixed},
		{"another file stays", map[string]error{"signals.s": ErrFixed}, false, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, "points.s")
			if err := os.WriteFile(path, []byte("old\n"), 0o644); err != nil {
				t.Fatal(err)
			}
			if c.links {
				if err := os.Link(path, filepath.Join(dir, "same.s")); err != nil {
					t.Fatal(err)
				}
			}
			root, err := os.OpenRoot(dir)
			if err != nil {
				t.Fatal(err)
			}
			defer root.Close()
			was, err := root.Stat("points.s")
			if err != nil {
				t.Fatal(err)
			}
			sys := &kept{System: In(root), stays: c.stays}
			asked := false
			err = Replace(sys, Change{Name: "points.s", Was: was, Old: []byte("old\n"), New: []byte("new\n"), Force: true, Before: func() error { asked = true; return nil }})
			if !errors.Is(err, c.want) || c.want == nil && err != nil {
				t.Fatalf("%v, want %v", err, c.want)
			}
			if c.want != nil && (sys.made > 0 || asked) {
				t.Errorf("%d files are made, the journal is asked: %v", sys.made, asked)
			}
			sys.made = 0
			folder := c.stays["."]
			if err := New(sys, "new.json", []byte("{}\n")); !errors.Is(err, folder) || folder == nil && err != nil {
				t.Errorf("a new file: %v, want %v", err, folder)
			} else if folder != nil && sys.made > 0 {
				t.Errorf("%d files are made for a new one", sys.made)
			}
		})
	}
}
