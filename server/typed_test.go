package server

import "testing"

// insert types a text at a place of a document.
func (c *client) insert(uri string, version, line, char int, text string) {
	c.change(uri, version, obj{"range": rng(line, char, line, char), "text": text})
}

func (c *client) change(uri string, version int, changes ...obj) {
	c.notify("textDocument/didChange", obj{"textDocument": obj{"uri": uri, "version": version}, "contentChanges": changes})
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
	c.findings(doc, 5, 1) // the label that is not there
	c.notify("textDocument/didSave", obj{"textDocument": obj{"uri": doc}})
	c.findings(doc, 5, 2)
	c.insert(doc, 6, 1, 0, "@ a lamp\n")
	c.findings(doc, 6, 2) // what is typed is above it
}
