package server

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// pulledReport is a report as a client reads it.
type pulledReport struct {
	URI      string
	Version  *int32
	Kind     string
	ResultID string
	Items    []struct{ Code string }
}

func (r pulledReport) codes() (out []string) {
	for _, i := range r.Items {
		out = append(out, i.Code)
	}
	return out
}

// TestPull asks for the findings of a document: full, unchanged, after an edit of it and of
// what it includes. What was sent unasked is taken back, and nothing more is sent.
func TestPull(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return fileURI(path)
	}
	part := write("part.inc", "\tbadd r0\n")
	root := write("root.s", "")
	c := dial(t, Options{})
	caps := allCaps()
	c.answers["workspace/diagnostic/refresh"] = nil
	c.initialize(caps, obj{"rootUri": fileURI(dir)})
	text := "\t.include \"part.inc\"\n\tmvoe r0, r1\n"
	c.open(root, 1, text)
	c.findings(root, 1, 1)
	ask := func(uri, previous string) pulledReport {
		return call[pulledReport](c, "textDocument/diagnostic", obj{"textDocument": obj{"uri": uri}, "previousResultId": previous})
	}
	full := ask(root, "")
	if full.Kind != "full" || !slices.Equal(full.codes(), []string{"unknown-mnemonic"}) {
		t.Fatalf("%+v", full)
	}
	c.findings(root, 0, 0)
	c.forget()
	if r := ask(root, full.ResultID); r.Kind != "unchanged" || r.ResultID != full.ResultID || r.Items != nil {
		t.Errorf("%+v", r)
	}
	c.replace(root, 2, text+"\tmvoe r1, r2\n")
	if r := ask(root, full.ResultID); r.Kind != "full" || len(r.Items) != 1 && len(r.Items) != 2 {
		t.Errorf("%+v", r)
	}
	c.replace(root, 3, text)
	if r := ask(root, full.ResultID); r.Kind != "unchanged" {
		t.Errorf("the same text again: %+v", r)
	}
	for _, m := range c.heard("textDocument/publishDiagnostics") {
		t.Errorf("sent unasked: %s", m.Params)
	}
	if m := c.reply(c.start("textDocument/diagnostic", obj{"textDocument": obj{"uri": "file:///gone.s"}})); m.Error == nil || m.Error.Code != -32602 {
		t.Errorf("%+v", m)
	}
	whole := call[struct{ Items []pulledReport }](c, "workspace/diagnostic", obj{"previousResultIds": []obj{}})
	if len(whole.Items) != 2 || whole.Items[0].URI != root || *whole.Items[0].Version != 3 || whole.Items[1].URI != part || whole.Items[1].Version != nil || len(whole.Items[1].Items) != 1 {
		t.Errorf("%+v", whole)
	}
}

// TestPullWorkspace asks for the findings of a workspace, with and without tokens.
func TestPullWorkspace(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"a.s", "b.S", "sub/c.s", "d.txt", ".hidden/e.s"} {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte("\tmvoe r0, r1\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	type answer struct{ Items []pulledReport }
	all := call[answer](c, "workspace/diagnostic", obj{"previousResultIds": []obj{}})
	var previous []obj
	for _, r := range all.Items {
		if r.Kind != "full" || r.Version != nil || len(r.Items) != 1 {
			t.Errorf("%+v", r)
		}
		previous = append(previous, obj{"uri": r.URI, "value": r.ResultID})
	}
	if len(all.Items) != 3 {
		t.Fatalf("%+v", all)
	}
	c.forget()
	again := call[answer](c, "workspace/diagnostic", obj{"previousResultIds": previous, "partialResultToken": 7, "workDoneToken": "w"})
	if len(again.Items) != 0 {
		t.Errorf("%+v", again)
	}
	var kinds []string
	parts := 0
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, m := range c.log {
		var p struct {
			Token any
			Value struct {
				Kind  string
				Items []pulledReport
			}
		}
		if m.Method != "$/progress" || json.Unmarshal(m.Params, &p) != nil {
			continue
		}
		if p.Token == "w" {
			kinds = append(kinds, p.Value.Kind)
			continue
		}
		for _, r := range p.Value.Items {
			if parts++; r.Kind != "unchanged" {
				t.Errorf("%+v", r)
			}
		}
	}
	if parts != 3 || strings.Join(kinds, " ") != "begin end" {
		t.Errorf("%d parts, progress %q", parts, kinds)
	}
}

// TestTrace holds that the client is told of answers as much as it wants.
func TestTrace(t *testing.T) {
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"trace": "messages"})
	c.open(doc, 1, "\tnop\n")
	told := func() (out []string) {
		c.forget()
		call[any](c, "textDocument/documentSymbol", obj{"textDocument": obj{"uri": doc}})
		for _, m := range c.heard("$/logTrace") {
			out = append(out, string(m.Params))
		}
		return out
	}
	if got := told(); len(got) != 1 || strings.Contains(got[0], "verbose") {
		t.Errorf("messages: %q", got)
	}
	c.notify("$/setTrace", obj{"value": "verbose"})
	if got := told(); len(got) != 1 || !strings.Contains(got[0], "verbose") {
		t.Errorf("verbose: %q", got)
	}
	c.notify("$/setTrace", obj{"value": "off"})
	if got := told(); len(got) != 0 {
		t.Errorf("off: %q", got)
	}
}
