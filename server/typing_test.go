package server

import (
	"slices"
	"testing"
	"time"
)

// insert types a text at a place of a document.
func (c *client) insert(uri string, version, line, char int, text string) {
	c.change(uri, version, obj{"range": rng(line, char, line, char), "text": text})
}

func (c *client) change(uri string, version int, changes ...obj) {
	c.notify("textDocument/didChange", obj{"textDocument": obj{"uri": uri, "version": version}, "contentChanges": changes})
}

// TestTypingHoldsBack types letter by letter: what a letter makes wrong is not said before the line
// ends, the source is saved, or more than a letter is changed; what it mends goes at once, and what
// was said before stays.
func TestTypingHoldsBack(t *testing.T) {
	c := dial(t, Options{analyze: toyAnalyze, TypingPause: time.Hour})
	c.initialize(allCaps(), nil)
	c.open(doc, 1, "bad\n\n")
	c.findings(doc, 1, 1) // nobody has typed it
	for i, letter := range []string{"b", "a", "d"} {
		c.insert(doc, 2+i, 1, i, letter)
		c.findings(doc, 2+i, 1)
	}
	c.insert(doc, 5, 1, 3, "\n")
	c.findings(doc, 5, 2)
	c.insert(doc, 6, 2, 0, "x")
	c.findings(doc, 6, 2) // they stay
	c.change(doc, 7, obj{"range": rng(1, 2, 1, 3), "text": ""})
	c.findings(doc, 7, 1)
	c.insert(doc, 8, 1, 2, "d")
	c.findings(doc, 8, 1)
	c.notify("textDocument/didSave", obj{"textDocument": obj{"uri": doc}})
	c.findings(doc, 8, 2)
	c.change(doc, 9, obj{"range": rng(2, 0, 2, 0), "text": "bad "}, obj{"range": rng(0, 0, 0, 0), "text": " "})
	c.findings(doc, 9, 2) // an editor that lays out what was typed
	c.replace(doc, 10, "bad bad bad bad")
	c.findings(doc, 10, 4)
}

// TestTypingPause stops typing: then all is said.
func TestTypingPause(t *testing.T) {
	c := dial(t, Options{analyze: toyAnalyze, TypingPause: 20 * time.Millisecond})
	c.initialize(allCaps(), nil)
	c.open(doc, 1, "\n")
	c.findings(doc, 1, 0)
	for i, letter := range []string{"b", "a", "d"} {
		c.insert(doc, 2+i, 0, i, letter)
	}
	c.findings(doc, 4, 1)
}

// TestTypingPulled is the same for a client that asks: it is told to ask again after the pause, and
// one that cannot be told has all at once.
func TestTypingPulled(t *testing.T) {
	for _, can := range []bool{true, false} {
		pause := 20 * time.Millisecond
		if !can {
			pause = time.Hour
		}
		c := dial(t, Options{analyze: toyAnalyze, TypingPause: pause})
		caps := allCaps()
		caps["workspace"].(obj)["diagnostics"] = obj{"refreshSupport": can}
		c.answers["workspace/diagnostic/refresh"] = nil
		c.initialize(caps, nil)
		c.open(doc, 1, "\n")
		ask := func() []string {
			return call[pulledReport](c, "textDocument/diagnostic", obj{"textDocument": obj{"uri": doc}}).codes()
		}
		ask()
		c.insert(doc, 2, 0, 0, "bad")
		if got := ask(); can && len(got) == 0 { // the machine may be slower than the pause
			c.find("a call to ask again", func(m incoming) bool { return m.Method == "workspace/diagnostic/refresh" })
		}
		if got := ask(); !slices.Equal(got, []string{"bad"}) {
			t.Errorf("can be told %v: %q", can, got)
		}
	}
}

// TestTypingGoesOn holds that lines which are laid out while others are typed do not say where
// something is typed: that the text is not whole yet is known.
func TestTypingGoesOn(t *testing.T) {
	c := dial(t, Options{})
	c.initialize(allCaps(), nil)
	c.open(doc, 1, "\t.syntax unified\n\t.thumb\nlamp:\n\tldr r0, =0x12345678\n")
	c.findings(doc, 1, 1)
	c.insert(doc, 2, 3, 20, " ")
	c.findings(doc, 2, 0)
	c.insert(doc, 3, 4, 0, "\tnop\n\t")
	c.findings(doc, 3, 0)
	c.change(doc, 4, obj{"range": rng(3, 4, 3, 5), "text": "\t"}, obj{"range": rng(2, 0, 2, 0), "text": "  "})
	c.findings(doc, 4, 0)
	c.insert(doc, 5, 5, 1, "beq 2f\n\tnop\n")
	c.findings(doc, 5, 0) // the label comes
	c.notify("textDocument/didSave", obj{"textDocument": obj{"uri": doc}})
	c.findings(doc, 5, 2)
	c.insert(doc, 6, 1, 0, "@ a lamp\n")
	c.findings(doc, 6, 2) // what is typed is above it
}
