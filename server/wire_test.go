package server

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode"
	"unicode/utf16"

	"go.lsp.dev/protocol"

	"narrowgauge/analysis"
)

// units is a text as an editor counts it: lines that end as LSP 3.17 says ("Text
// Documents"), columns in UTF-16 units or bytes.
type units struct {
	text string
	utf8 bool
}

func (u units) width(s string) int {
	if u.utf8 {
		return len(s)
	}
	return len(utf16.Encode([]rune(s)))
}

// place gives line and column of the n-th time that part is in the text, and
// of its end.
func (u units) place(part string, n int) (start, end [2]int) {
	off := -1
	for range n {
		off += 1 + strings.Index(u.text[off+1:], part)
	}
	at := func(off int) [2]int {
		before := strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(u.text[:off])
		if strings.HasSuffix(u.text[:off], "\r") && strings.HasPrefix(u.text[off:], "\n") {
			panic("inside a line end")
		}
		line := strings.Count(before, "\n")
		return [2]int{line, u.width(before[strings.LastIndexByte(before, '\n')+1:])}
	}
	return at(off), at(off + len(part))
}

func (u units) rng(part string, n int) string {
	a, b := u.place(part, n)
	return fmt.Sprint(a, b)
}

func ranged(r protocol.Range) string {
	return fmt.Sprint([2]int{int(r.Start.Line), int(r.Start.Character)}, [2]int{int(r.End.Line), int(r.End.Character)})
}

// A text with characters of one to four bytes in front of everything, and with all
// three line ends; the lone return is one to the protocol, not to the assembler.
const wireText = "\t.syntax unified\r\n\t.thumb\n" +
	"/* é€😀 */ lamp: /* 😀 */ movs r0, #300\n" +
	"\t.byte 1 /* \r 😀😀 */\r\n" +
	"/* ü */ .equ DIM😀, 7\n" +
	"/* 駅 */ b lamp\r\n" +
	"/* 😀 */ add r0, r1, r2 /* é */\n" +
	"\tcmp r0, #1\n\tbx lr\n"

// Every range that goes out, and every position that comes in, is in the units
// that were agreed on.
func TestUnits(t *testing.T) {
	for _, enc := range []string{"utf-16", "utf-8"} {
		t.Run(enc, func(t *testing.T) {
			caps := allCaps()
			caps["general"] = obj{"positionEncodings": []string{enc}}
			c := dial(t, Options{})
			if r := c.initialize(caps, nil); string(r.Capabilities.PositionEncoding) != enc {
				t.Fatalf("agreed on %s", r.Capabilities.PositionEncoding)
			}
			u := units{wireText, enc == "utf-8"}
			c.open(doc, 1, wireText)
			c.find("findings", func(m incoming) bool { return m.Method == "textDocument/publishDiagnostics" })
			all := c.publishes(doc)
			got := map[string]string{}
			for _, d := range all[len(all)-1].Diagnostics {
				got[d.Code.(string)] = ranged(d.Range)
			}
			if got["constant-range"] != u.rng("#300", 1) && got["constant-range"] != u.rng("300", 1) {
				t.Errorf("constant-range: %v, want %s", got, u.rng("#300", 1))
			}
			if got["flags-form"] != u.rng("add", 1) {
				t.Errorf("flags-form: %v, want %s", got, u.rng("add", 1))
			}
			place := func(part string, n int) obj {
				a, _ := u.place(part, n)
				return at(doc, a[0], a[1])
			}
			if h := call[hover](c, "textDocument/hover", place("lamp", 2)); ranged(h.Range) != u.rng("lamp", 2) || !strings.Contains(h.Contents.Value, "lamp") {
				t.Errorf("hover: %s %q, want %s", ranged(h.Range), h.Contents.Value, u.rng("lamp", 2))
			}
			if locs := call[[]protocol.Location](c, "textDocument/definition", place("lamp", 2)); len(locs) != 1 || ranged(locs[0].Range) != u.rng("lamp", 1) {
				t.Errorf("definition: %+v, want %s", locs, u.rng("lamp", 1))
			}
			p := place("lamp", 1)
			p["context"] = obj{"includeDeclaration": false}
			if locs := call[[]protocol.Location](c, "textDocument/references", p); len(locs) != 1 || ranged(locs[0].Range) != u.rng("lamp", 2) {
				t.Errorf("references: %+v, want %s", locs, u.rng("lamp", 2))
			}
			names := map[string]string{}
			for _, y := range flat(call[[]protocol.DocumentSymbol](c, "textDocument/documentSymbol", obj{"textDocument": obj{"uri": doc}})) {
				names[y.Name] = ranged(y.SelectionRange)
			}
			if names["lamp"] != u.rng("lamp", 1) || names["DIM😀"] != u.rng("DIM😀", 1) {
				t.Errorf("outline: %v, want %s and %s", names, u.rng("lamp", 1), u.rng("DIM😀", 1))
			}
			a, b := u.place("add", 1)
			as := call[[]codeAction](c, "textDocument/codeAction", obj{"textDocument": obj{"uri": doc}, "range": rng(a[0], a[1], b[0], b[1]), "context": obj{"only": []string{"quickfix"}}})
			if len(as) == 0 || as[0].Edit == nil {
				t.Fatalf("actions: %+v", as)
			}
			for _, e := range as[0].Edit.DocumentChanges[0].Edits {
				if ranged(e.Range) != u.rng("add", 1) && ranged(e.Range) != emptyAt(u, "add") {
					t.Errorf("edit at %s, want %s", ranged(e.Range), u.rng("add", 1))
				}
			}
			// An edit in the middle of a line, after wide characters, and one over a
			// lone return.
			_, end := u.place("#300", 1)
			start, _ := u.place("300", 1)
			c.notify("textDocument/didChange", obj{"textDocument": obj{"uri": doc, "version": 2}, "contentChanges": []obj{
				{"range": rng(start[0], start[1], end[0], end[1]), "text": "r15"},
			}})
			changed := units{strings.Replace(wireText, "300", "r15", 1), u.utf8}
			from, _ := changed.place(" 😀😀 */", 1)
			to, _ := changed.place("/* ü */", 1)
			c.notify("textDocument/didChange", obj{"textDocument": obj{"uri": doc, "version": 3}, "contentChanges": []obj{
				{"range": rng(from[0], from[1], to[0], to[1]), "text": "*/\n"},
			}})
			changed.text = strings.Replace(changed.text, " 😀😀 */\r\n", "*/\n", 1)
			if h := call[hover](c, "textDocument/hover", func() obj { a, _ := changed.place("lamp", 2); return at(doc, a[0], a[1]) }()); ranged(h.Range) != changed.rng("lamp", 2) {
				t.Errorf("hover after edits: %s, want %s", ranged(h.Range), changed.rng("lamp", 2))
			}
		})
	}
}

func emptyAt(u units, part string) string {
	_, b := u.place(part, 1)
	return fmt.Sprint(b, b)
}

func flat(in []protocol.DocumentSymbol) (out []protocol.DocumentSymbol) {
	for _, y := range in {
		out = append(append(out, y), flat(y.Children)...)
	}
	return out
}

// The outline in the protocol's terms: kinds by their numbers (LSP 3.17,
// SymbolKind), and each range around the one of the name and around its children.
func TestOutlineKinds(t *testing.T) {
	const text = "\t.syntax unified\n\t.thumb\n\t.text\n\t.equ LAMPS, 3\nscale .req r4\n\t.macro light n\n\tmovs r0, #\\n\n\t.endm\n" +
		"start:\n\tmovs r0, #LAMPS\n\tb start\n\t.thumb_func\npoints:\n\tbx lr\n\t.section .rodata\ntable:\n\t.word 1\n"
	want := map[string]int{"LAMPS": 14, "scale": 8, "light": 6, "start": 20, "points": 12, "table": 13, ".text": 3, ".rodata": 3}
	for _, nested := range []bool{true, false} {
		caps := allCaps()
		if !nested {
			caps["textDocument"].(obj)["documentSymbol"] = obj{}
		}
		c := dial(t, Options{})
		c.initialize(caps, nil)
		c.open(doc, 1, text)
		m := c.reply(c.start("textDocument/documentSymbol", obj{"textDocument": obj{"uri": doc}}))
		got := map[string]int{}
		if nested {
			var tree []protocol.DocumentSymbol
			if err := json.Unmarshal(m.Result, &tree); err != nil {
				t.Fatal(err)
			}
			var within func(parent *protocol.DocumentSymbol, list []protocol.DocumentSymbol)
			within = func(parent *protocol.DocumentSymbol, list []protocol.DocumentSymbol) {
				for i := range list {
					y := &list[i]
					got[y.Name] = int(y.Kind)
					if !covers(y.Range, y.SelectionRange) {
						t.Errorf("%s: %s does not cover its name at %s", y.Name, ranged(y.Range), ranged(y.SelectionRange))
					}
					if parent != nil && !covers(parent.Range, y.SelectionRange) {
						t.Errorf("%s at %s is no part of %s at %s", y.Name, ranged(y.Range), parent.Name, ranged(parent.Range))
					}
					within(y, y.Children)
				}
			}
			within(nil, tree)
			start := slices.IndexFunc(flat(tree), func(y protocol.DocumentSymbol) bool { return y.Name == "start" })
			if y := flat(tree)[start]; ranged(y.Range) != "[8 0] [10 8]" || !strings.Contains(y.Detail, "T16") {
				t.Errorf("start: %s %q", ranged(y.Range), y.Detail)
			}
		} else {
			var list []protocol.SymbolInformation
			if err := json.Unmarshal(m.Result, &list); err != nil {
				t.Fatal(err)
			}
			for _, y := range list {
				got[y.Name] = int(y.Kind)
				if string(y.Location.URI) != doc {
					t.Errorf("%s in %s", y.Name, y.Location.URI)
				}
				if y.Name == "start" && ranged(y.Location.Range) != "[8 0] [8 5]" {
					t.Errorf("start: %s", ranged(y.Location.Range))
				}
			}
		}
		for name, kind := range want {
			if got[name] != kind && (name[0] != '.' || got[name] != 0) {
				t.Errorf("nested %v: %s has kind %d, want %d", nested, name, got[name], kind)
			}
		}
	}
}

func covers(outer, inner protocol.Range) bool {
	before := func(a, b protocol.Position) bool {
		return a.Line < b.Line || a.Line == b.Line && a.Character <= b.Character
	}
	return before(outer.Start, inner.Start) && before(inner.End, outer.End)
}

// The outline of toy words: names that are blank, children and their containers.
func TestOutlineOfWords(t *testing.T) {
	c := dial(t, Options{analyze: toyAnalyze})
	c.initialize(obj{}, nil)
	c.open(doc, 1, "bell: lamp:")
	list := call[[]protocol.SymbolInformation](c, "textDocument/documentSymbol", obj{"textDocument": obj{"uri": doc}})
	var got []string
	for _, y := range list {
		got = append(got, fmt.Sprintf("%s in %q at %s", y.Name, y.ContainerName, ranged(y.Location.Range)))
	}
	want := []string{`bell in "" at [0 0] [0 4]`, `bell.child in "bell" at [0 0] [0 4]`, `lamp in "" at [0 6] [0 10]`, `lamp.child in "lamp" at [0 6] [0 10]`}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// What hovers say in plain text is what they say in Markdown, without its marks.
func TestHoverFormats(t *testing.T) {
	const text = "\t.syntax unified\n\t.thumb\n\tmovs r0, #1\n"
	var said [2]string
	for i, formats := range [][]string{{"markdown", "plaintext"}, {"plaintext"}} {
		caps := allCaps()
		caps["textDocument"].(obj)["hover"] = obj{"contentFormat": formats}
		c := dial(t, Options{})
		c.initialize(caps, nil)
		c.open(doc, 1, text)
		h := call[hover](c, "textDocument/hover", at(doc, 2, 2))
		if string(h.Contents.Kind) != formats[0] || ranged(h.Range) != "[2 1] [2 5]" {
			t.Errorf("%v: %+v", formats, h)
		}
		said[i] = h.Contents.Value
		// There is nothing to say: null, not an empty hover.
		if m := c.reply(c.start("textDocument/hover", at(doc, 2, 0))); string(m.Result) != "null" || m.Error != nil {
			t.Errorf("%v: %s", formats, m.Result)
		}
	}
	if !strings.Contains(said[0], "**MOV") || !strings.Contains(said[0], "`0x2001`") || strings.ContainsAny(said[1], "*`") || !strings.Contains(said[1], "MOV (immediate)") {
		t.Errorf("%q\n%q", said[0], said[1])
	}
	words := func(s string) []string {
		return strings.FieldsFunc(s, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	}
	if a, b := words(said[0]), words(said[1]); !slices.Equal(a, b) {
		t.Errorf("%q\n%q", a, b)
	}
}

// Findings of a document that several open roots include are those of all of
// them, each once; its own view does not count, and a root that is closed takes its
// findings along.
func TestMergedPages(t *testing.T) {
	dir := t.TempDir()
	file := func(name string) string { return fileURI(filepath.Join(dir, name)) }
	const part = "\tmovs r0, #LIMIT\n\tmovs r9, #1\n"
	root := func(limit, more string) string {
		return "\t.syntax unified\n\t.thumb\n\t.equ LIMIT, " + limit + "\n\t.include \"m.s\"\n" + more
	}
	for name, text := range map[string]string{"a.s": root("300", ""), "z.s": root("400", ""), "m.s": part} {
		write(t, filepath.Join(dir, name), text)
	}
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	messages := func(p publishParams) string {
		var out []string
		for _, d := range p.Diagnostics {
			out = append(out, d.Code.(string))
		}
		slices.Sort(out)
		return strings.Join(out, " ")
	}
	c.open(file("m.s"), 1, part)
	c.open(file("a.s"), 1, root("300", ""))
	p := c.findings(file("m.s"), 1, 2)
	if got := messages(p); got != "constant-range low-registers" {
		t.Errorf("one root: %s", got)
	}
	c.findings(file("a.s"), 1, 0)
	c.open(file("z.s"), 1, root("400", "\tmovs r9, #2\n"))
	p = c.findings(file("m.s"), 1, 3)
	if got := messages(p); got != "constant-range constant-range low-registers" {
		t.Errorf("two roots: %s", got)
	}
	c.findings(file("z.s"), 1, 1)
	// Both roots find the same: once.
	c.forget()
	c.replace(file("z.s"), 2, root("300", "\tmovs r9, #2\n"))
	c.findings(file("m.s"), 1, 2)
	// One is closed, and its findings go with it.
	c.replace(file("z.s"), 3, root("400", ""))
	c.findings(file("m.s"), 1, 3)
	c.forget()
	c.notify("textDocument/didClose", obj{"textDocument": obj{"uri": file("z.s")}})
	if got := messages(c.findings(file("m.s"), 1, 2)); got != "constant-range low-registers" {
		t.Errorf("after one is closed: %s", got)
	}
	// The quick fixes of a document are for what the client sees of it.
	as := call[[]codeAction](c, "textDocument/codeAction", obj{"textDocument": obj{"uri": file("m.s")}, "range": rng(0, 0, 0, 20), "context": obj{"only": []string{"quickfix"}}})
	for _, a := range as {
		for _, d := range a.Diagnostics {
			if d.Code == "undefined-symbol" {
				t.Errorf("%s is for a finding that is not shown", a.Title)
			}
		}
	}
}

// A document's own view ends when a root that includes it is opened: at no time
// are findings of both shown.
func TestOwnViewEnds(t *testing.T) {
	dir := t.TempDir()
	part, root := fileURI(filepath.Join(dir, "m.inc")), fileURI(filepath.Join(dir, "z.s"))
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	c.open(part, 1, "\t.syntax unified\n\t.thumb\n\tmovs r0, #LIMIT\n")
	if p := c.findings(part, 1, 1); p.Diagnostics[0].Code != "undefined-symbol" {
		t.Fatalf("%+v", p.Diagnostics)
	}
	c.forget()
	c.open(root, 1, "\t.equ LIMIT, 300\n\t.include \"m.inc\"\n")
	c.findings(root, 1, 0)
	c.find("the root's finding", func(m incoming) bool { return strings.Contains(string(m.Params), "constant-range") })
	c.reached()
	for _, p := range c.publishes(part) {
		if len(p.Diagnostics) != 1 || p.Diagnostics[0].Code != "constant-range" {
			t.Errorf("%+v", p.Diagnostics)
		}
	}
}

// Two documents that include each other speak for themselves and each other.
func TestMutualPages(t *testing.T) {
	dir := t.TempDir()
	a, b := fileURI(filepath.Join(dir, "a.s")), fileURI(filepath.Join(dir, "b.s"))
	c := dial(t, Options{analyze: toyAnalyze})
	c.initialize(allCaps(), nil)
	c.open(a, 1, `bad include "b.s"`)
	c.open(b, 1, `meh include "a.s"`)
	c.findings(a, 1, 1)
	c.findings(b, 1, 1)
	c.replace(a, 2, `ok include "b.s"`)
	c.findings(a, 2, 0)
	c.replace(b, 2, "ok")
	c.findings(b, 2, 0)
}

// TestLinkOfACode: the link of a finding opens the page of its check, from its first line on.
func TestLinkOfACode(t *testing.T) {
	c := dial(t, Options{CacheDir: filepath.Join(t.TempDir(), "cache")})
	c.initialize(allCaps(), nil)
	c.open(doc, 1, "\t.syntax unified\n\t.thumb\n\tmovs r0, #300\nx:\tnop\nx:\tnop\n")
	for _, d := range c.findings(doc, 1, 2).Diagnostics {
		if d.CodeDescription == nil {
			t.Fatalf("%v has no link", d.Code)
		}
		_, file, ok := parseURI(string(d.CodeDescription.Href))
		text, err := os.ReadFile(file)
		if !ok || err != nil || !strings.HasPrefix(string(text), fmt.Sprintf("# %s — ", d.Code)) {
			t.Errorf("%v: %s: %v, %.60q", d.Code, d.CodeDescription.Href, err, text)
		}
	}
	for _, check := range analysis.Checks() {
		e := explanations{dir: filepath.Join(t.TempDir(), "cache")}
		if uri, err := e.write(check.Code); err != nil || !strings.HasSuffix(uri, "/checks/"+check.Code+".md") {
			t.Errorf("%s: %q, %v", check.Code, uri, err)
		}
	}
}

// A finding goes out with all that belongs to it, and to a client that asked for
// less without.
func TestFindingOnTheWire(t *testing.T) {
	const text = "\t.syntax unified\n\t.thumb\n\t.include \"none.inc\"\nx:\t.word 1\nx:\t.word 2\n"
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"initializationOptions": obj{"docsBase": "https://box.invalid/checks"}})
	c.open(doc, 1, text)
	p := c.findings(doc, 1, 2)
	d := p.Diagnostics[1]
	if d.Code != "duplicate-symbol" || d.Severity != protocol.DiagnosticSeverityError || ranged(d.Range) != "[4 0] [4 1]" || d.Source != "narrowgauge" {
		t.Errorf("%+v", d)
	}
	if len(d.RelatedInformation) != 1 || string(d.RelatedInformation[0].Location.URI) != doc || ranged(d.RelatedInformation[0].Location.Range) != "[3 0] [3 1]" {
		t.Errorf("related: %+v", d.RelatedInformation)
	}
	if d.CodeDescription == nil || string(d.CodeDescription.Href) != "https://box.invalid/checks#duplicate-symbol" {
		t.Errorf("%+v", d.CodeDescription)
	}
}

// TestCompletion asks behind characters of two units: the word that is replaced is where
// the client has it, and each item says what is put there.
func TestCompletion(t *testing.T) {
	const text = "\t.syntax unified\n\t.cpu cortex-m0\n\t.thumb\n\tmovs r0, #1 /* 🚂 */; mo\n"
	for _, enc := range []string{"utf-16", "utf-8"} {
		caps := allCaps()
		caps["general"] = obj{"positionEncodings": []string{enc}}
		c := dial(t, Options{})
		c.initialize(caps, nil)
		c.open(doc, 1, text)
		start := strings.LastIndex(strings.Split(text, "\n")[3], "mo")
		if enc == "utf-16" {
			start -= 2
		}
		list := call[protocol.CompletionList](c, "textDocument/completion", at(doc, 3, start+2))
		i := slices.IndexFunc(list.Items, func(i protocol.CompletionItem) bool { return i.Label == "movs" })
		if i < 0 || !list.IsIncomplete {
			t.Fatalf("%s: %v", enc, list)
		}
		edit := list.Items[i].TextEdit
		if edit.NewText != "movs" || int(edit.Range.Start.Character) != start || int(edit.Range.End.Character) != start+2 || edit.Range.Start.Line != 3 {
			t.Errorf("%s: %+v, want columns %d to %d", enc, edit, start, start+2)
		}
		if slices.ContainsFunc(list.Items, func(i protocol.CompletionItem) bool { return i.Label == "moveq" }) {
			t.Error("moveq is offered outside of an IT block")
		}
		full := call[protocol.CompletionItem](c, "completionItem/resolve", list.Items[i])
		if full.Label != "movs" || !strings.Contains(fmt.Sprint(full.Documentation), "MOV") {
			t.Errorf("%+v", full)
		}
	}
}

// TestCompletionOfMore holds templates for clients that fill them in and for others, what is
// said of a label, and names of files within the workspace only.
func TestCompletionOfMore(t *testing.T) {
	dir, outside := t.TempDir(), t.TempDir()
	for name, text := range map[string]string{"main.s": "", "parts/lamps.inc": "LAMPS = 12\n", "parts/notes.txt": "", "parts/deep/bits.inc": "", ".hidden.inc": ""} {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(outside, "secret.inc"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(outside, filepath.Join(dir, "out")); err != nil {
		t.Fatal(err)
	}
	main := fileURI(filepath.Join(dir, "main.s"))
	lines := []string{"\t.syntax unified", "\t.thumb", "@ Sets a signal.", "set_signal:", "\tbx lr", "\tloo", "\tbl set_", "\t.include \"parts/", "\t.incbin \"parts/", "\t.include \"out/", "\t.include \"../", "\t.include \""}
	for _, can := range []bool{true, false} {
		caps := allCaps()
		caps["textDocument"].(obj)["completion"] = obj{"completionItem": obj{"snippetSupport": can, "insertTextModeSupport": obj{"valueSet": []int{1, 2}}}}
		c := dial(t, Options{})
		c.initialize(caps, obj{"rootUri": fileURI(dir)})
		c.open(main, 1, strings.Join(lines, "\n"))
		names := func(line int) (out []string) {
			list := call[protocol.CompletionList](c, "textDocument/completion", at(main, line, len(lines[line])))
			for _, i := range list.Items {
				out = append(out, i.Label)
			}
			return out
		}
		list := call[protocol.CompletionList](c, "textDocument/completion", at(main, 5, 4))
		i := slices.IndexFunc(list.Items, func(i protocol.CompletionItem) bool { return i.Label == "loop" })
		if i < 0 {
			t.Fatalf("%v", list.Items)
		}
		item := list.Items[i]
		want, format := "movs r2, #10\n1:\n\t\n\tsubs r2, r2, #1\n\tbne 1b", protocol.InsertTextFormat(0)
		if can {
			want, format = "movs ${1:r2}, #${2:10}\n${3:1}:\n\t$0\n\tsubs ${1:r2}, ${1:r2}, #1\n\tbne ${3:1}b", protocol.InsertTextFormatSnippet
		}
		if item.TextEdit.NewText != want || item.InsertTextFormat != format || item.InsertTextMode != protocol.InsertTextModeAsIs {
			t.Errorf("%v: %q, format %v, mode %v", can, item.TextEdit.NewText, item.InsertTextFormat, item.InsertTextMode)
		}
		list = call[protocol.CompletionList](c, "textDocument/completion", at(main, 6, len(lines[6])))
		if i = slices.IndexFunc(list.Items, func(i protocol.CompletionItem) bool { return i.Label == "set_signal" }); i < 0 {
			t.Fatalf("%v", list.Items)
		}
		if full := call[protocol.CompletionItem](c, "completionItem/resolve", list.Items[i]); !strings.Contains(fmt.Sprint(full.Documentation), "Sets a signal.") {
			t.Errorf("%+v", full)
		}
		for line, want := range map[int]string{7: "deep/ lamps.inc", 8: "deep/ lamps.inc notes.txt", 9: "", 10: "", 11: "main.s parts/"} {
			if got := strings.Join(names(line), " "); got != want {
				t.Errorf("%q: %q, want %q", lines[line], got, want)
			}
		}
	}
}

// TestCompletionElsewhere completes names that only other sources of the workspace define, and asks
// at blanks, which bring nothing in front of a statement.
func TestCompletionElsewhere(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{
		"points.s":         "\t.syntax unified\n\t.cpu cortex-m0\n\t.thumb\n\t.global points_poll, points_run\n\t.thumb_func\npoints_poll:\n\tbx lr\npoints_own:\n\tnop\n\t.data\npoints_run:\n\t.word 0\n",
		"narrowgauge.json": `{"cpu": "cortex-m0"}`,
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	lines := []string{"\t.syntax unified", "\t.thumb", "main:", "\tbl poi", "\tldr r0, =points_p", "\tbl points_r", "2: ", "\t", "\tmovs ", "\tbl points_poll"}
	main := fileURI(filepath.Join(dir, "main.s"))
	c := dial(t, Options{acrossDelay: 1})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	c.open(main, 1, strings.Join(lines, "\n"))
	call[[]protocol.SymbolInformation](c, "workspace/symbol", obj{"query": "points"}) // now the sources are known
	complete := func(line int, more obj) (names, details []string) {
		params := at(main, line, len(lines[line]))
		for k, v := range more {
			params[k] = v
		}
		for _, i := range call[protocol.CompletionList](c, "textDocument/completion", params).Items {
			names, details = append(names, i.Label), append(details, i.Detail)
		}
		return names, details
	}
	for line, want := range map[int]string{3: "points_poll points_run", 4: "points_poll", 5: "points_run"} {
		names, details := complete(line, nil)
		var got []string
		for i, n := range names {
			if details[i] == "in points.s" {
				got = append(got, n)
			}
		}
		if strings.Join(got, " ") != want {
			t.Errorf("%q: %q %q, want %q", lines[line], names, details, want)
		}
	}
	blank := obj{"context": obj{"triggerKind": 2, "triggerCharacter": " "}}
	for line, wanted := range map[int]bool{6: false, 7: false, 8: true} {
		if names, _ := complete(line, blank); (len(names) > 0) != wanted {
			t.Errorf("%q: after a blank there is %v", lines[line], names)
		}
		if names, _ := complete(line, nil); len(names) == 0 {
			t.Errorf("%q: nothing when asked for", lines[line])
		}
	}
}

// TestStructure asks for highlights, folds and selections behind characters of two units.
func TestStructure(t *testing.T) {
	const text = "\t.syntax unified\n\t.thumb\nlamp:\tnop /* 🚂 */; b lamp\n\tbx lr\n"
	caps := allCaps()
	caps["general"] = obj{"positionEncodings": []string{"utf-16"}}
	c := dial(t, Options{})
	c.initialize(caps, nil)
	c.open(doc, 1, text)
	var got []string
	for _, h := range call[[]protocol.DocumentHighlight](c, "textDocument/documentHighlight", at(doc, 2, 1)) {
		got = append(got, fmt.Sprint(ranged(h.Range), h.Kind))
	}
	if s := fmt.Sprint(got); s != "[[2 0] [2 4]Write [2 22] [2 26]Read]" {
		t.Errorf("highlights %s", s)
	}
	folds := call[[]protocol.FoldingRange](c, "textDocument/foldingRange", obj{"textDocument": obj{"uri": doc}})
	if len(folds) != 1 || folds[0].StartLine != 2 || folds[0].EndLine != 3 {
		t.Errorf("folds %v", folds)
	}
	list := call[[]protocol.SelectionRange](c, "textDocument/selectionRange", obj{"textDocument": obj{"uri": doc}, "positions": []obj{pos(2, 23), pos(99, 0)}})
	got = nil
	for _, s := range list {
		for at := &s; at != nil; at = at.Parent {
			got = append(got, ranged(at.Range))
		}
	}
	if s := fmt.Sprint(got); !strings.HasPrefix(s, "[[2 22] [2 26] [2 20] [2 26] [2 0] [2 26] [2 0] [3 6] [0 0] [4 0]") || len(list) != 2 {
		t.Errorf("selections %s", s)
	}
}

// TestTemplatesNeedLines holds that a client which says nothing of snippets or of how lines are
// inserted gets no template: it may put all of it into one line.
func TestTemplatesNeedLines(t *testing.T) {
	c := dial(t, Options{})
	c.initialize(allCaps(), nil)
	uri := fileURI(filepath.Join(t.TempDir(), "main.s"))
	c.open(uri, 1, "\t.syntax unified\n\t.thumb\n\t\n")
	list := call[protocol.CompletionList](c, "textDocument/completion", at(uri, 2, 1))
	for _, i := range list.Items {
		if strings.Contains(i.TextEdit.NewText, "\n") {
			t.Errorf("%s is %q", i.Label, i.TextEdit.NewText)
		}
	}
	if len(list.Items) == 0 {
		t.Error("nothing is offered")
	}
}
