package server

import (
	"path/filepath"
	"testing"
	"time"
)

// TestTypingOverIncludes types where the analysis before is taken over, and then lets what the
// document includes change: on disk with a word of the client and without, and as a document.
func TestTypingOverIncludes(t *testing.T) {
	dir := t.TempDir()
	main, inc := filepath.Join(dir, "main.s"), filepath.Join(dir, "lamps.inc")
	const text = "\t.syntax unified\n\t.thumb\n\t.include \"lamps.inc\"\n\tmovs r0, #LAMPS\n\tmovs r1, #1\n"
	write(t, inc, "\t.equ LAMPS, 9\n")
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	uri := fileURI(main)
	version := 1
	c.open(uri, version, text)
	c.findings(uri, version, 0)
	digits := "1"
	// key puts another constant in line 4, which is refused from 256 on.
	key := func(now string, findings int) {
		t.Helper()
		version++
		c.notify("textDocument/didChange", obj{"textDocument": obj{"uri": uri, "version": version},
			"contentChanges": []obj{{"range": rng(4, 11, 4, 11+len(digits)), "text": now}}})
		digits = now
		c.findings(uri, version, findings)
	}
	key("2", 0)
	key("300", 1)
	key("3", 0)
	// On disk, and the client says so.
	c.forget()
	write(t, inc, "\t.equ LAMPS, 900\n")
	touch(t, inc, time.Minute)
	c.notify("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": fileURI(inc), "type": 2}}})
	c.findings(uri, version, 1)
	key("4", 1)
	key("5", 1)
	// On disk, and nobody says so before the next letter.
	write(t, inc, "\t.equ LAMPS, 7\n")
	touch(t, inc, 2*time.Minute)
	key("6", 0)
	key("7", 0)
	// It is opened, and its text is another one there.
	c.forget()
	c.open(fileURI(inc), 1, "\t.equ LAMPS, 800\n")
	c.findings(uri, version, 1)
	key("400", 2)
	key("8", 1)
	c.forget()
	c.replace(fileURI(inc), 2, "\t.equ LAMPS, 8\n")
	c.findings(uri, version, 0)
	key("9", 0)
}
