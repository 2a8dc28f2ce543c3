package server

import (
	"os"
	"path/filepath"
	"testing"

	"go.uber.org/zap"
)

// TestSettingsHeld holds that versions of a document share the settings that were found on
// disk, so that not every keystroke looks for them, and that whatever says that they may be
// others has them looked for at once: files, the editor's settings, folders.
func TestSettingsHeld(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "narrowgauge.json")
	s := &Server{
		log: zap.NewNop(), ctx: t.Context(), folders: []string{dir}, root: dir, warned: map[string]bool{},
		snap: &snapshot{docs: map[docKey]*document{}, runs: map[docKey]*run{}, hidden: map[docKey]*run{}},
	}
	s.pub.init()
	doc := &document{path: filepath.Join(dir, "box.s"), target: &target{}}
	shares := false
	for range 20 { // a look may be due in between
		next := *doc
		was := s.resolved(doc)
		shares = shares || s.resolved(&next) == was
		doc = &next
	}
	if !shares {
		t.Error("no version shares the settings of the one before")
	}
	for _, change := range []struct {
		name string
		do   func() error
	}{
		{"a file", func() error {
			s.changedOnDisk([]string{file}, false)
			return nil
		}},
		{"settings of the editor", func() error {
			s.setEditorSettings([]byte(`{"arch": "armv4t"}`))
			return nil
		}},
		{"a folder", func() error {
			return s.didChangeWorkspaceFolders([]byte(`{"event": {"added": [{"uri": "file:///else", "name": "else"}], "removed": []}}`))
		}},
	} {
		was := s.resolved(doc)
		if err := change.do(); err != nil {
			t.Fatal(err)
		}
		if s.resolved(doc) == was {
			t.Errorf("%s has changed, and what was found before holds", change.name)
		}
	}
	if got := s.resolved(doc).set; got.CPU != "" || got.Arch != "armv4t" {
		t.Errorf("the core is %q, the architecture %q", got.CPU, got.Arch)
	}
	if err := os.WriteFile(file, []byte(`{"cpu": "cortex-m0"}`), 0o644); err != nil {
		t.Fatal(err)
	}
	s.changedOnDisk([]string{file}, false)
	if got := s.resolved(doc).set.CPU; got != "cortex-m0" {
		t.Errorf("the core is %q after the project file was written", got)
	}
}
