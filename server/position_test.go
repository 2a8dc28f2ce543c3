package server

import (
	"strings"
	"testing"
	"unicode/utf16"

	"go.lsp.dev/protocol"

	"narrowgauge/analysis/syntax"
)

func TestOffset(t *testing.T) {
	// é is two bytes and one unit, the station four bytes and two units.
	const src = "aé\U0001F689z\r\nsecond\rthird\n\nlast"
	for _, tt := range []struct {
		enc        encoding
		line, char uint32
		want       string // the rest of the text
	}{
		{utf16Columns, 0, 0, src},
		{utf16Columns, 0, 1, "é\U0001F689z\r\nsecond\rthird\n\nlast"},
		{utf16Columns, 0, 2, "\U0001F689z\r\nsecond\rthird\n\nlast"},
		{utf16Columns, 0, 3, "\U0001F689z\r\nsecond\rthird\n\nlast"}, // inside a pair
		{utf16Columns, 0, 4, "z\r\nsecond\rthird\n\nlast"},
		{utf16Columns, 0, 5, "\r\nsecond\rthird\n\nlast"},
		{utf16Columns, 0, 6, "\r\nsecond\rthird\n\nlast"}, // past the line
		{utf16Columns, 0, 1<<32 - 1, "\r\nsecond\rthird\n\nlast"},
		{utf8Columns, 0, 1, "é\U0001F689z\r\nsecond\rthird\n\nlast"},
		{utf8Columns, 0, 2, "é\U0001F689z\r\nsecond\rthird\n\nlast"}, // inside a character
		{utf8Columns, 0, 3, "\U0001F689z\r\nsecond\rthird\n\nlast"},
		{utf8Columns, 0, 6, "\U0001F689z\r\nsecond\rthird\n\nlast"},
		{utf8Columns, 0, 7, "z\r\nsecond\rthird\n\nlast"},
		{utf8Columns, 0, 99, "\r\nsecond\rthird\n\nlast"},
		{utf16Columns, 1, 6, "\rthird\n\nlast"},
		{utf16Columns, 2, 0, "third\n\nlast"}, // a lone return ends a line
		{utf16Columns, 3, 5, "\nlast"},
		{utf16Columns, 4, 4, ""},
		{utf16Columns, 5, 0, ""}, // past the end
		{utf8Columns, 1<<32 - 1, 7, ""},
	} {
		text := newText(syntax.Parse(src))
		off := text.offset(protocol.Position{Line: tt.line, Character: tt.char}, tt.enc)
		if src[off:] != tt.want {
			t.Errorf("%s %d:%d: %q, want %q", tt.enc, tt.line, tt.char, src[off:], tt.want)
		}
	}
}

// Every offset that starts a character and is not inside a line end comes
// back from its position.
func TestPositionRoundTrip(t *testing.T) {
	for _, src := range []string{"", "\n", "\r", "\r\n", "a\rb\r\nc\n", "aé\U0001F689\n\xff\xfez", "\r\r\n\n\r"} {
		text := newText(syntax.Parse(src))
		for _, enc := range []encoding{utf8Columns, utf16Columns} {
			for off := range len(src) + 1 {
				inside := off < len(src) && (src[off]&0xc0 == 0x80 || off > 0 && src[off] == '\n' && src[off-1] == '\r')
				if got := text.offset(text.position(off, enc), enc); got != off && !inside {
					t.Errorf("%q %s: %d comes back as %d", src, enc, off, got)
				}
			}
		}
	}
}

// model follows the protocol's words on a plain string of UTF-16 units: the
// server's way by bytes must come to the same text.
type model struct{ units []uint16 }

func (m *model) offset(p protocol.Position) int {
	line, i := uint32(0), 0
	for ; i < len(m.units) && line < p.Line; i++ {
		if m.units[i] == '\n' || m.units[i] == '\r' && (i+1 == len(m.units) || m.units[i+1] != '\n') {
			line++
		}
	}
	if line < p.Line {
		return len(m.units)
	}
	for n := uint32(0); n < p.Character && i < len(m.units) && m.units[i] != '\n' && m.units[i] != '\r'; n++ {
		i++
	}
	if i > 0 && i < len(m.units) && utf16.IsSurrogate(rune(m.units[i])) && m.units[i] >= 0xdc00 {
		i--
	}
	return i
}

func (m *model) edit(r protocol.Range, text string) {
	a, b := m.offset(r.Start), m.offset(r.End)
	if b < a {
		a, b = b, a
	}
	next := append([]uint16{}, m.units[:a]...)
	next = append(next, utf16.Encode([]rune(text))...)
	m.units = append(next, m.units[b:]...)
}

// FuzzChanges follows a sequence of incremental changes. Each four bytes of
// moves are a range in small numbers, followed by a piece of text.
func FuzzChanges(f *testing.F) {
	f.Add("first\nsecond\r\nthird", "\x00\x01\x01\x02x")
	f.Add("aé\U0001F689z\r\n", "\x00\x03\x00\x04\U0001F689\x01\x00\x00\x00\r\x01\x00\x02\x00\n")
	f.Add("\r\r\n\n", "\x01\x00\x01\x00a\x02\x00\x02\x00\r")
	f.Fuzz(func(t *testing.T, src, moves string) {
		src, moves = strings.ToValidUTF8(src, "?"), strings.ToValidUTF8(moves, "?")
		text := newText(syntax.Parse(src))
		m := &model{utf16.Encode([]rune(src))}
		rs := []rune(moves)
		for len(rs) >= 5 {
			r := protocol.Range{
				Start: protocol.Position{Line: uint32(rs[0]), Character: uint32(rs[1])},
				End:   protocol.Position{Line: uint32(rs[2]), Character: uint32(rs[3])},
			}
			with := string(rs[4])
			if rs[4] == 'd' {
				with = "" // a removal
			}
			text = text.edit(&r, with, utf16Columns)
			m.edit(r, with)
			rs = rs[5:]
			if got, want := text.file.Text(), string(utf16.Decode(m.units)); got != want {
				t.Fatalf("got %q, want %q", got, want)
			}
			if got, want := text.file.NumLines(), strings.Count(text.file.Text(), "\n")+1; got != want {
				t.Fatalf("%d lines, want %d", got, want)
			}
		}
	})
}

func TestURIs(t *testing.T) {
	for _, tt := range []struct{ a, b string }{
		{"file:///c%3A/box/a.s", "file:///C:/box/a.s"},
		{"file:///box/a%20b.s", "file:///box/a b.s"},
		{"FILE:///box/a.s", "file://localhost/box/./a.s"},
		{"untitled:Untitled%2d1", "untitled:Untitled-1"},
		{"git:/a%2fb?x", "GIT:/a%2Fb?x"},
	} {
		a, _, ok1 := parseURI(tt.a)
		b, _, ok2 := parseURI(tt.b)
		if !ok1 || !ok2 || a != b {
			t.Errorf("%q and %q: keys %q and %q", tt.a, tt.b, a, b)
		}
	}
	for _, tt := range []struct{ a, b string }{
		{"file:///box/a%23b.s", "file:///box/a#b.s"},
		{"untitled:a%23b", "untitled:a#b"},
		{"untitled:a", "file:///a"},
		{"file:///a", "file:///A"},
		{"file://host/a", "file:///a"},
	} {
		a, _, _ := parseURI(tt.a)
		b, _, _ := parseURI(tt.b)
		if a == b {
			t.Errorf("%q and %q: the same key %q", tt.a, tt.b, a)
		}
	}
	for _, path := range []string{"/box/a.s", "/box/a b#c%d?.s", "/box/\u00e4\U0001F689.s"} {
		key, back, ok := parseURI(fileURI(path))
		if !ok || back != path || key != pathKey(path) {
			t.Errorf("%q: %q %q", path, fileURI(path), back)
		}
	}
}

// TestSystemPaths leads paths of other systems to URIs and back: drives, shares and
// backslashes of Windows, and what looks like them elsewhere.
func TestSystemPaths(t *testing.T) {
	for _, tt := range []struct {
		uri, windows, unix string
	}{
		{"file:///c%3A/box/a.s", `c:\box\a.s`, "/c:/box/a.s"},
		{"file:///C:/box/a.s", `c:\box\a.s`, "/c:/box/a.s"},
		{"file:///D%3a/Box/A.S", `d:\Box\A.S`, "/d:/Box/A.S"},
		{"file:///c:/box/../tower/./a.s", `c:\tower\a.s`, "/c:/tower/a.s"},
		{"file:///c%3A/two%20words/%C3%A4.s", `c:\two words\ä.s`, "/c:/two words/ä.s"},
		{"file:///c%3A/", `c:\`, "/c:"},
		{"file:///c%3A", `c:\`, "/c:"},
		{"file://tower/share/a.s", `\\tower\share\a.s`, "//tower/share/a.s"},
		{"file://TOWER/Share/a.s", `\\tower\Share\a.s`, "//tower/Share/a.s"},
		{"file://localhost/c:/a.s", `c:\a.s`, "/c:/a.s"},
		{"file:///home/box/a.s", `\home\box\a.s`, "/home/box/a.s"},
		{"file:///Users/box/a.s", `\Users\box\a.s`, "/Users/box/a.s"},
	} {
		key, _, ok := parseURI(tt.uri)
		p := strings.TrimPrefix(string(key), "file:")
		for windows, want := range map[bool]string{true: tt.windows, false: tt.unix} {
			got := systemPath(p, windows)
			if !ok || got != want {
				t.Errorf("%s, windows %v: %q, want %q", tt.uri, windows, got, want)
			}
			back := keyOf(got, windows)
			if strings.TrimSuffix(string(back), "/") != strings.TrimSuffix(string(key), "/") {
				t.Errorf("%s, windows %v: %q has the key %q, the URI %q", tt.uri, windows, got, back, key)
			}
			if again, _, ok := parseURI(uriOf(back)); !ok || again != back {
				t.Errorf("%s, windows %v: %q is %q in a URI, with the key %q", tt.uri, windows, back, uriOf(back), again)
			}
		}
	}
	// One file, as an editor, the command line and a database spell it.
	for _, spelling := range []string{`C:\box\a.s`, `c:\box\a.s`, `c:/box/a.s`, `C:/box\a.s`, `c:\box\.\a.s`, `c:\box\deep\..\a.s`, `c:\box\\a.s`} {
		if key, _, _ := parseURI("file:///c%3A/box/a.s"); keyOf(spelling, true) != key {
			t.Errorf("%s has the key %q, want %q", spelling, keyOf(spelling, true), key)
		}
	}
	for _, spelling := range []string{`\\TOWER\share\a.s`, `//tower/share/a.s`, `\\tower\share\.\a.s`} {
		if key, _, _ := parseURI("file://tower/share/a.s"); keyOf(spelling, true) != key {
			t.Errorf("%s has the key %q, want %q", spelling, keyOf(spelling, true), key)
		}
	}
	// Elsewhere a backslash is a character like any other.
	if keyOf(`/box/a\b.s`, false) == keyOf("/box/a/b.s", false) {
		t.Error("a backslash separates folders")
	}
}

func FuzzURI(f *testing.F) {
	for _, s := range []string{"", "untitled:", "git:", "file:", "file://", "file:///%.", "file:///%00", ":", "%", "c:\\x", "file:///c%3A/x", "file://00/", "file://./"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, raw string) {
		key, path, ok := parseURI(raw)
		if ok && path != "" && pathKey(path) != key {
			t.Errorf("%q: key %q, but by its path %q", raw, key, pathKey(path))
		}
	})
}
