package server

import (
	"os"
	"path/filepath"
	"testing"
	"time"
)

// TestInitializedTwice holds that a second initialized registers nothing again.
func TestInitializedTwice(t *testing.T) {
	c := dial(t, Options{analyze: toyAnalyze})
	c.answers["client/registerCapability"] = nil
	caps := allCaps()
	caps["workspace"] = obj{"didChangeWatchedFiles": obj{"dynamicRegistration": true}}
	c.initialize(caps, nil)
	asked := func(m incoming) bool { return m.Method == "client/registerCapability" }
	c.find("registration", asked)
	c.notify("initialized", obj{})
	c.open(doc, 1, "bad")
	c.findings(doc, 1, 1)
	time.Sleep(50 * time.Millisecond) // for what a second one would have started
	c.mu.Lock()
	defer c.mu.Unlock()
	n := 0
	for _, m := range c.log {
		if asked(m) {
			n++
		}
	}
	if n != 1 {
		t.Errorf("registered %d times", n)
	}
}

// TestCacheFolderIsALink holds that nothing is written where a link in the place of the
// cache folder leads, and that findings come all the same.
func TestCacheFolderIsALink(t *testing.T) {
	const code = "constant-range"
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "house"), 0o755); err != nil {
		t.Fatal(err)
	}
	link := filepath.Join(dir, "cache")
	if err := os.Symlink("house", link); err != nil {
		t.Skip(err)
	}
	for _, name := range []string{link, filepath.Join(dir, "new"), filepath.Join(dir, "above", "new")} {
		e := explanations{dir: name}
		uri, err := e.write(code)
		if wrong := name == link; (err != nil) != wrong || (uri == "") != wrong {
			t.Errorf("%s: %v, %q", name, err, uri)
		}
	}
	if list, err := os.ReadDir(filepath.Join(dir, "house")); err != nil || len(list) > 0 {
		t.Errorf("written through a link: %v, %v", list, err)
	}
	list, err := os.ReadDir(filepath.Join(dir, "new", "checks"))
	if err != nil || len(list) != 1 || list[0].Name() != code+".md" {
		t.Errorf("%v, %v", list, err)
	}
	// A page that is a link is replaced, and not written through.
	secret := filepath.Join(dir, "house", "notes")
	if err := os.WriteFile(secret, []byte("mine"), 0o644); err != nil {
		t.Fatal(err)
	}
	page := filepath.Join(dir, "new", "checks", code+".md")
	if err := os.Remove(page); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("../../house/notes", page); err != nil {
		t.Fatal(err)
	}
	e := explanations{dir: filepath.Join(dir, "new")}
	if _, err := e.write(code); err != nil {
		t.Error(err)
	}
	// Neither is a folder that is a link followed out of the cache.
	if err := os.RemoveAll(filepath.Join(dir, "new", "checks")); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("../house", filepath.Join(dir, "new", "checks")); err != nil {
		t.Fatal(err)
	}
	if _, err := e.write(code); err == nil {
		t.Error("written through a link in the cache folder")
	}
	if list, err := os.ReadDir(filepath.Join(dir, "house")); err != nil || len(list) != 1 {
		t.Errorf("%v, %v", list, err)
	}
	if text, _ := os.ReadFile(secret); string(text) != "mine" {
		t.Errorf("written through a link: %.40q", text)
	}
}
