package server

import (
	"encoding/json"
	"fmt"
	"runtime/debug"
	"strings"
	"time"

	"go.uber.org/zap"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/server/pages"
)

func (s *Server) didOpen(params json.RawMessage) error {
	p, err := decode[didOpenParams](params)
	if err != nil {
		return err
	}
	key, path, ok := parseURI(p.TextDocument.URI)
	if !ok || p.TextDocument.Text == nil {
		return invalidParams("a document needs a URI and a text")
	}
	doc := &document{
		uri: p.TextDocument.URI, key: key, path: path, version: p.TextDocument.Version,
		text: newText(syntax.Parse(*p.TextDocument.Text)), target: &target{},
	}
	s.prepare(int64(len(*p.TextDocument.Text)))
	s.pub.changed(doc)
	s.update(func(docs map[docKey]*document) { docs[key] = doc }, nil)
	s.tellLargest()
	return nil
}

// tellLargest tells how large the largest document is.
func (s *Server) tellLargest() {
	if s.opt.Largest == nil {
		return
	}
	most := 0
	for _, doc := range s.current().docs {
		most = max(most, len(doc.text.file.Text()))
	}
	s.opt.Largest(most)
}

// prepare makes room for the first document that is long: as it is typed in, two of its
// analyses are held, and what is collected is used again.
func (s *Server) prepare(size int64) {
	if size >= pages.Long && s.prepared.CompareAndSwap(false, true) {
		pages.Prepare(2 * size)
	}
}

func (s *Server) didChange(params json.RawMessage) error {
	p, err := decode[didChangeParams](params)
	if err != nil {
		return err
	}
	old, err := s.document(p.TextDocument.URI)
	if err != nil {
		return err
	}
	next := *old
	if p.TextDocument.Version != nil {
		if *p.TextDocument.Version <= old.version {
			s.log.Warn("version does not grow", zap.String("uri", old.uri), zap.Int32("from", old.version), zap.Int32("to", *p.TextDocument.Version))
		}
		next.version = *p.TextDocument.Version
	}
	for i, c := range p.ContentChanges {
		if c.Text == nil {
			return fmt.Errorf("change %d of %s has no text", i, old.uri)
		}
	}
	next.text, next.typed = next.text.editAll(p.ContentChanges, next.typed, s.enc)
	s.pub.changed(&next)
	s.update(func(docs map[docKey]*document) { docs[next.key] = &next }, nil)
	return nil
}

func (s *Server) didSave(params json.RawMessage) error {
	p, err := decode[documentParams](params)
	if err != nil {
		return err
	}
	if doc, err := s.document(p.TextDocument.URI); err == nil {
		doc.target.forget()
		if doc.typed > 0 {
			next := *doc
			next.typed = 0
			s.update(func(docs map[docKey]*document) { docs[next.key] = &next }, nil)
		}
	}
	var paths []string
	if _, path, ok := parseURI(p.TextDocument.URI); ok && path != "" {
		paths = append(paths, path)
	}
	s.changedOnDisk(paths, true) // and all else, for clients that do not watch files
	return nil
}

func (s *Server) didClose(params json.RawMessage) error {
	p, err := decode[documentParams](params)
	if err != nil {
		return err
	}
	doc, err := s.document(p.TextDocument.URI)
	if err != nil {
		return err
	}
	s.pub.closed(doc.key)
	s.tokens.forget(doc.key)
	s.update(func(docs map[docKey]*document) { delete(docs, doc.key) }, nil)
	s.tellLargest()
	s.idle.Reset(giveBackAfter)
	return nil
}

// giveBackAfter is how long after the last document was closed its memory goes back to
// the system: an editor may close many, or open another one.
const giveBackAfter = 2 * time.Second

// giveBackEvery is how often it does while documents are open: it takes a collection, and the
// processors from those who wait for answers. While something is computed it waits, too: where
// the collector wants to begin meanwhile, nothing runs until the memory is given back.
const giveBackEvery = 10 * time.Second

// giveBack returns memory to the system that closed documents have taken. Without any
// open document nothing is kept that is quickly read again.
func (s *Server) giveBack() {
	if wait := s.givesBackIn(); wait > 0 {
		s.idle.Reset(wait)
		return
	}
	s.gaveBack.Store(time.Now().UnixNano())
	if len(s.current().docs) == 0 {
		s.made.Store(new(analysis.Expansions))
		s.disk.Clear()
	}
	debug.FreeOSMemory()
}

// givesBackIn is how long giving memory back waits yet; 0: it is time.
func (s *Server) givesBackIn() time.Duration {
	wait := time.Duration(0)
	if len(s.current().docs) > 0 {
		wait = giveBackEvery - time.Since(time.Unix(0, s.gaveBack.Load()))
	}
	if s.slots.busy() {
		wait = max(wait, giveBackAfter)
	}
	return max(wait, 0)
}

// document finds an open document by a URI of the client.
func (s *Server) document(uri string) (*document, error) { return s.current().document(uri) }

func (snap *snapshot) document(uri string) (*document, error) {
	key, _, ok := parseURI(uri)
	if !ok {
		return nil, invalidParams("a document needs a URI")
	}
	doc := snap.docs[key]
	if doc == nil {
		return nil, invalidParams("not an open document: %.200s", uri)
	}
	return doc, nil
}

// run finds the analysis that a request about uri is to be answered from.
func (s *Server) run(uri string) (*run, error) {
	key, _, ok := parseURI(uri)
	if !ok {
		return nil, invalidParams("a document needs a URI")
	}
	r := s.current().runs[key]
	if r == nil {
		return nil, invalidParams("not an open document: %.200s", uri)
	}
	return r, nil
}

// typedAfter is where something was typed last once a change is made: behind it, or where it was
// before if the change only moves what is in front of that. blank says that the change takes
// nothing but blanks away.
func typedAfter(typed int, span analysis.Span, blank bool, with string) int {
	if span.End < typed && blank && strings.Trim(with, " \t") == "" {
		return typed - (span.End - span.Start) + len(with)
	}
	return span.Start + len(with)
}
