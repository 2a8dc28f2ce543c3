package server

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// placed are tokens at their places: line, column, end, kind, marks. It fails for those that
// overlap or leave their line.
func placed(t *testing.T, text string, enc encoding, data []uint32) (out [][5]uint32) {
	t.Helper()
	if len(data)%5 != 0 {
		t.Fatalf("%d numbers", len(data))
	}
	src := newText(syntax.Parse(text))
	line, col, end := uint32(0), uint32(0), uint32(0)
	for i := 0; i < len(data); i += 5 {
		if data[i] > 0 {
			col, end = 0, 0
		}
		line, col = line+data[i], col+data[i+1]
		if col < end || data[i+2] == 0 || int(line) >= src.lines() {
			t.Fatalf("token %d is at %d:%d, the one before ends at %d", i/5, line, col, end)
		}
		end = col + data[i+2]
		_, s := src.line(int(line))
		width := len(s)
		if enc == utf16Columns {
			width = len(utf16.Encode([]rune(s)))
		}
		if int(end) > width {
			t.Fatalf("token %d ends at %d:%d, behind the line %q", i/5, line, end, s)
		}
		out = append(out, [5]uint32{line, col, end, data[i+3], data[i+4]})
	}
	return out
}

// TestTokensEdited edits a document by chance, in both encodings: the changes of the tokens,
// made to the old ones, are what a fresh answer has, and a range has the part in it.
func TestTokensEdited(t *testing.T) {
	proof := reftest.Begin(t)
	pieces := []string{"\tmovs r0, #3\n", "l1:", "\r\n", "\n", "😀", "é", "@ x", "\"", "\tbl far\n", "far:\tnop\n", "/*", "*/", "\tldr r0, =l1\n", "", "\t.if 0\n", "\t.endif\n", "\r", "\t.macro m a\n\t.byte \\a\n\t.endm\n", "\tm 4\n"}
	rnd := reftest.Rand(81, 3)
	deltas, small := 0, 0
	for _, enc := range []encoding{utf16Columns, utf8Columns} {
		c := dial(t, Options{})
		caps := allCaps()
		caps["general"] = obj{"positionEncodings": []string{string(enc)}}
		r := c.initialize(caps, nil)
		if legend := r.Capabilities.SemanticTokensProvider.Legend; len(legend.TokenTypes) == 0 || len(legend.TokenModifiers) == 0 {
			t.Fatal("no legend")
		}
		text := "\t.syntax unified\n\t.thumb\n" + strings.Repeat("step: adds r0, r8, #1 @ é😀\n", 30)
		c.open(doc, 1, text)
		ref := obj{"textDocument": obj{"uri": doc}}
		was := call[semanticTokensAnswer](c, "textDocument/semanticTokens/full", ref)
		for turn := range reftest.Count(30, 150, 5000) {
			f := newText(syntax.Parse(text))
			a := rnd.IntN(len(text) + 1)
			b := min(a+rnd.IntN(4)*rnd.IntN(8), len(text))
			where := f.span(f.rangeOf(analysis.Span{Start: a, End: b}, enc), enc)
			with := pieces[rnd.IntN(len(pieces))]
			text = text[:where.Start] + with + text[where.End:]
			c.replace(doc, turn+2, text)
			d := call[struct {
				semanticTokensDelta
				Data []uint32 `json:"data"`
			}](c, "textDocument/semanticTokens/full/delta", obj{"textDocument": obj{"uri": doc}, "previousResultId": was.ResultID})
			if d.Data != nil {
				t.Fatal("no changes, but all of it")
			}
			data := slices.Clone(was.Data)
			for _, e := range d.Edits {
				data = slices.Concat(data[:e.Start], e.Data, data[e.Start+e.DeleteCount:])
				if len(e.Data) < len(data)/2 {
					small++
				}
			}
			deltas++
			whole := placed(t, text, enc, data)
			now := call[semanticTokensAnswer](c, "textDocument/semanticTokens/full", ref)
			if !slices.Equal(now.Data, data) {
				t.Fatalf("turn %d: %v, want %v", turn, data, now.Data)
			}
			was = now
			lines := newText(syntax.Parse(text)).lines()
			from := rnd.IntN(lines)
			to := from + rnd.IntN(lines-from)
			part := call[semanticTokensAnswer](c, "textDocument/semanticTokens/range", obj{"textDocument": obj{"uri": doc}, "range": rng(from, 0, to, 0)})
			want := slices.DeleteFunc(whole, func(x [5]uint32) bool { return int(x[0]) < from || int(x[0]) >= to })
			if got := placed(t, text, enc, part.Data); fmt.Sprint(got) != fmt.Sprint(want) {
				t.Fatalf("lines %d to %d: %v, want %v", from, to, got, want)
			}
		}
		// What the server does not remember is answered in full.
		d := call[semanticTokensAnswer](c, "textDocument/semanticTokens/full/delta", obj{"textDocument": obj{"uri": doc}, "previousResultId": "gone"})
		if !slices.Equal(d.Data, was.Data) {
			t.Error("an unknown state is not answered in full")
		}
	}
	proof.Counted("changes of tokens: %d after random edits, %d of them less than half of all", deltas, small)
}

// TestRefreshed holds that a client is told to ask again when settings change, and not when
// the text does.
func TestRefreshed(t *testing.T) {
	c := dial(t, Options{})
	caps := allCaps()
	caps["workspace"] = obj{"semanticTokens": obj{"refreshSupport": true}}
	c.initialize(caps, nil)
	c.open(doc, 1, "\tmvoe r0\n")
	c.findings(doc, 1, 1)
	c.replace(doc, 2, "\tmvoe r0\n\tmvoe r0\n")
	c.findings(doc, 2, 1)
	c.mu.Lock()
	for _, m := range c.log {
		if strings.HasSuffix(m.Method, "/refresh") {
			t.Errorf("%s after a change of the text", m.Method)
		}
	}
	c.mu.Unlock()
	c.notify("workspace/didChangeConfiguration", obj{"settings": obj{"narrowgauge": obj{"syntax": "unified", "startMode": "thumb"}}})
	c.find("a refresh", func(m incoming) bool { return m.Method == "workspace/semanticTokens/refresh" })
}
