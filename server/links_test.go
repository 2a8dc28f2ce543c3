package server

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"
)

// TestLinks asks for the files that a source names, and where they are.
func TestLinks(t *testing.T) {
	const text = "#include \"box.h\"\n\t.include \"lamp.inc\"\n\t.incbin \"bell.bin\" @ é\n\t.include \"gone.inc\"\n\t.incbin \"gone.bin\"\n\t.include \"lamp.inc\"\n"
	dir := t.TempDir()
	for _, name := range []string{"box.h", "sub/lamp.inc", "bell.bin"} {
		write(t, filepath.Join(dir, filepath.FromSlash(name)), "\n")
	}
	write(t, filepath.Join(dir, "narrowgauge.json"), `{"include": ["sub"]}`)
	uri := fileURI(filepath.Join(dir, "box.S"))
	c := dial(t, Options{})
	if r := c.initialize(allCaps(), obj{"rootUri": fileURI(dir)}); !r.Capabilities.LinkProvider.ResolveProvider {
		t.Error("cannot resolve")
	}
	c.open(uri, 1, text)
	var got []string
	for _, l := range call[[]documentLink](c, "textDocument/documentLink", obj{"textDocument": obj{"uri": uri}}) {
		if l.Target != "" {
			t.Errorf("%+v has a target at once", l)
		}
		l = call[documentLink](c, "documentLink/resolve", l)
		line := strings.Split(text, "\n")[l.Range.Start.Line]
		got = append(got, fmt.Sprintf("%s %s", line[l.Range.Start.Character:l.Range.End.Character], strings.TrimPrefix(l.Target, fileURI(dir))))
	}
	if s, want := strings.Join(got, "|"), "box.h /box.h|lamp.inc /sub/lamp.inc|bell.bin /bell.bin|lamp.inc /sub/lamp.inc"; s != want {
		t.Errorf("%s, want %s", s, want)
	}
}
