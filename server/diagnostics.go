package server

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"sync/atomic"
	"time"
	"weak"

	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
	"go.uber.org/zap"

	"narrowgauge/analysis"
)

// publisher is the state of the one goroutine that publishes diagnostics.
type publisher struct {
	wake    chan struct{} // holds one token: there is a new snapshot
	started chan struct{}
	once    sync.Once

	whole atomic.Pointer[snapshot] // of which all documents have been published last

	mu      sync.Mutex
	dirty   map[docKey]*document // changed by the client, not yet published
	visible map[docKey]*pageSet
	roots   map[docKey]map[docKey]bool // of visible: for each document, those that say something about it

	sent map[docKey]page // what the client shows; the goroutine's own
	// shown is the state of each document of which the client was told last.
	shown map[docKey]shown
	// targets is what the client has been told of targets, as JSON.
	targets map[docKey]string
	// unanswered are the documents about which questions were given up since; mu guards it.
	unanswered map[docKey]bool
	regions    map[docKey]string // the same of regions
}

// pageSet is what one document, as a root, says about which documents.
type pageSet struct {
	run   weak.Pointer[run] // which it was: what is known of a text that has changed is not kept for this
	doc   *document         // of the run
	pages map[docKey]page
	early bool // what goes wrong when the program runs is not among them yet
}

// page is the list of findings of one document.
type page struct {
	uri     string
	version *int32
	found   []finding
	more    int // findings for which there is no room
	grey    int // of found, the stretches that are not assembled
	// body is what the client has been sent of it, as JSON.
	body json.RawMessage
}

// maxPublished bounds the findings that a client is sent for a document; as many
// stretches may be greyed out. What a source may come to is more than a client takes,
// or a user reads.
const maxPublished = 1000

// mostSevere is the part of a list that there is room for, in the order that it has, and
// how many are not in it. Errors come before warnings.
func mostSevere(list []analysis.Diagnostic) (shown []analysis.Diagnostic, more int) {
	if len(list) <= maxPublished {
		return list, 0
	}
	var count [analysis.Hint + 1]int
	for i := range list {
		count[list[i].Severity]++
	}
	room := maxPublished
	for sev, n := range count {
		count[sev] = min(n, room)
		room -= count[sev]
	}
	for i := range list {
		if sev := list[i].Severity; count[sev] > 0 {
			count[sev]--
			shown = append(shown, list[i])
		}
	}
	return shown, len(list) - len(shown)
}

// told is what the client is sent of a page: with more findings than there is room for,
// it ends with one that says how many are left out.
func (p page) told() []protocol.Diagnostic {
	out := make([]protocol.Diagnostic, 0, len(p.found)+1)
	more, room := p.more, maxPublished
	for _, f := range p.found {
		switch {
		case f.code == "": // greyed out
		case room == 0:
			more++
			continue
		default:
			room--
		}
		out = append(out, f.wire)
	}
	if more > 0 {
		out = append(out, protocol.Diagnostic{Severity: protocol.DiagnosticSeverityInformation, Source: "narrowgauge", Code: analysis.CodeTooLarge,
			Message: fmt.Sprintf("%d more findings of this file are not shown, the least severe ones.", more)})
	}
	return out
}

type finding struct {
	code string
	span analysis.Span
	wire protocol.Diagnostic
	late bool // see markLate
}

func (p *publisher) init() {
	p.wake = make(chan struct{}, 1)
	p.started = make(chan struct{})
	p.dirty = map[docKey]*document{}
	p.visible, p.roots = map[docKey]*pageSet{}, map[docKey]map[docKey]bool{}
	p.sent = map[docKey]page{}
	p.targets, p.regions = map[docKey]string{}, map[docKey]string{}
	p.shown, p.unanswered = map[docKey]shown{}, map[docKey]bool{}
}

func (p *publisher) start() { p.once.Do(func() { close(p.started) }) }

func (p *publisher) changed(doc *document) {
	p.mu.Lock()
	p.dirty[doc.key] = doc
	p.mu.Unlock()
}

func (p *publisher) closed(key docKey) {
	p.mu.Lock()
	delete(p.dirty, key)
	delete(p.targets, key)
	delete(p.regions, key)
	delete(p.shown, key)
	delete(p.unanswered, key)
	p.mu.Unlock()
}

func (s *Server) wake() {
	select {
	case s.pub.wake <- struct{}{}:
	default:
	}
}

// publish runs for the whole session. Each round serves one snapshot in two
// phases: first what the client has just changed, then, after a short delay,
// what only depends on it, and of large programs what goes wrong when they
// run. A round ends early when there is a newer snapshot:
// its own round then covers what this one has left open.
func (s *Server) publish() {
	select {
	case <-s.pub.started:
	case <-s.ctx.Done():
		return
	}
	var seen *snapshot // that it was last looked across files for
	for {
		select {
		case <-s.pub.wake:
		case <-s.ctx.Done():
			return
		}
		snap := s.current()
		s.pub.mu.Lock()
		first := maps.Clone(s.pub.dirty)
		s.pub.mu.Unlock()
		if !s.publishRuns(snap, func(k docKey) bool { return first[k] != nil }, true) {
			continue
		}
		if s.opt.DependentsDelay > 0 && len(first) > 0 && (len(snap.docs) > len(first) || s.pub.hasEarly(slices.Collect(maps.Keys(first))...)) {
			if again, ended := s.delay(snap); ended {
				return
			} else if again {
				continue
			}
		}
		if s.publishRuns(snap, func(k docKey) bool { return first[k] == nil || s.pub.hasEarly(k) }, false) && seen != snap {
			seen = snap
			s.pub.whole.Store(snap)
			s.lookAcross()
		}
	}
}

// delay waits before what only depends on a change is looked at. again: there is a newer
// snapshot; ended: the session is over. What else wakes the publisher meanwhile has time.
func (s *Server) delay(snap *snapshot) (again, ended bool) {
	timer := time.NewTimer(s.opt.DependentsDelay)
	defer timer.Stop()
	called := false
	defer func() {
		if called {
			s.wake()
		}
	}()
	for {
		select {
		case <-timer.C:
			return false, false
		case <-s.pub.wake:
			if called = true; s.current() != snap {
				return true, false
			}
		case <-s.ctx.Done():
			return false, true
		}
	}
}

// hasEarly says whether findings of one of the documents are not all there yet.
func (p *publisher) hasEarly(keys ...docKey) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return slices.ContainsFunc(keys, func(k docKey) bool { return p.visible[k] != nil && p.visible[k].early })
}

// staged are facts of which some take long.
type staged interface {
	// Late says whether what Early leaves out takes long.
	Late() bool
	// Ready says whether it is there already.
	Ready() bool
	Early() []analysis.Diagnostic
	// Complete finds the rest.
	Complete(ctx context.Context) error
}

// complete waits until all findings of a result of r are there: what takes long is done in a
// slot, and ends when a change makes r stale.
func (s *Server) complete(ctx context.Context, r *run, res facts) error {
	all, ok := res.(staged)
	if !ok {
		return nil
	}
	ctx, release, err := s.computing(ctx, r)
	if err != nil {
		return err
	}
	defer release()
	if all.Complete(ctx) != nil {
		return context.Cause(ctx)
	}
	return nil
}

// publishRuns waits for the chosen runs of snap and publishes; with early, of large programs
// what there is at once. It returns false when snap has been overtaken.
func (s *Server) publishRuns(snap *snapshot, chosen func(docKey) bool, early bool) bool {
	ctx, cancel := context.WithCancel(s.ctx)
	defer cancel()
	type spoken struct {
		key docKey
		r   *run
		res facts
		err error
	}
	// A document that takes long keeps no other waiting.
	done := make(chan spoken, len(snap.keys))
	n := 0
	for _, key := range snap.keys {
		if chosen(key) {
			n++
			go func() {
				r, res, err := s.speaker(ctx, snap, snap.docs[key])
				if all, ok := res.(staged); err == nil && ok && (!early || !all.Late() || all.Ready()) {
					err = s.complete(ctx, r, res)
				}
				done <- spoken{key, r, res, err}
			}()
		}
	}
	again := false // somebody has called meanwhile
	defer func() {
		if again {
			s.wake()
		}
	}()
	for n > 0 {
		var next spoken
		select {
		case next = <-done:
			n--
		case <-s.pub.wake: // a run that goes on must not keep it from what has changed
			if again = true; s.current() != snap {
				return false
			}
			continue
		}
		key, r, res, err := next.key, next.r, next.res, next.err
		doc := snap.docs[key]
		if s.current() != snap || s.ctx.Err() != nil || r == nil {
			return false
		}
		s.pub.mu.Lock()
		set := s.pub.visible[key]
		s.pub.mu.Unlock()
		if set != nil && set.run == weak.Make(r) && (early || !set.early) {
			continue
		}
		if err != nil {
			// What failed says nothing; the log has the reason.
			s.log.Warn("no findings", zap.String("uri", doc.uri), zap.Error(err))
		}
		said := map[docKey]*pageSet{key: {run: weak.Make(r), doc: r.doc, pages: map[docKey]page{}}}
		if err == nil {
			late, ok := res.(staged)
			early := early && ok && late.Late() && !late.Ready()
			found := res.Diagnostics
			if early {
				found = late.Early
			}
			pages := s.pages(snap, r, res, found())
			said[key].early = early
			if ok {
				s.lateOf(pages, r, late, set, early)
			}
			switch {
			case r.doc.key == key:
				said[key].pages = pages
			case snap.docs[r.doc.key] != nil:
				said[r.doc.key] = &pageSet{run: weak.Make(r), doc: r.doc, pages: pages, early: early} // open as well
			default:
				said[key].pages[key] = pages[key]
			}
			s.tellTarget(r, doc, res)
			s.tellRegions(doc, res)
			s.renewed(doc, r)
		}
		s.pub.mu.Lock()
		for root, set := range said {
			s.pub.seeLocked(root, set)
		}
		if s.pub.dirty[key] == doc { // else there is a newer one by now
			delete(s.pub.dirty, key)
		}
		s.pub.mu.Unlock()
		if len(done) == 0 { // what is there already is sent together
			s.send(snap)
		}
	}
	s.send(snap) // closed documents
	return s.current() == snap
}

// pages sorts the findings of one run by document. A document without
// findings has a page as well, which clears what the client shows.
func (s *Server) pages(snap *snapshot, r *run, res facts, diags []analysis.Diagnostic) map[docKey]page {
	out := map[docKey]page{}
	open := func(path string) docKey {
		key := r.doc.key
		if path != r.doc.name() {
			key = pathKey(path)
		}
		if _, ok := out[key]; !ok {
			p := page{uri: fileURI(path)}
			if doc := snap.docs[key]; doc != nil {
				p.uri, p.version = doc.uri, &doc.version
			}
			out[key] = p
		}
		return key
	}
	open(r.doc.name())
	for _, path := range res.Includes() {
		open(path)
	}
	found := map[docKey][]analysis.Diagnostic{}
	for _, d := range diags {
		if r.source(d.Path) == nil {
			s.log.Warn("finding in an unknown file", zap.String("path", d.Path), zap.String("code", d.Code))
			continue
		}
		key := open(d.Path)
		found[key] = append(found[key], d)
	}
	for key, list := range found {
		p := out[key]
		list, p.more = mostSevere(list)
		for _, d := range list {
			if wire, ok := s.diagnostic(r, d); ok {
				p.found = append(p.found, finding{code: d.Code, span: d.Span, wire: wire})
			}
		}
		out[key] = p
	}
	if slices.Contains(s.tags, int(protocol.DiagnosticTagUnnecessary)) {
		for _, l := range res.Inactive() {
			if src := r.source(l.Path); src != nil {
				key := open(l.Path)
				p := out[key]
				if p.grey++; p.grey > maxPublished {
					continue
				}
				p.found = append(p.found, finding{span: l.Span, wire: s.inactive(src, l.Span)})
				out[key] = p
			}
		}
	}
	return out
}

// inactive greys out lines that are not assembled. It is no finding: it has no
// code, and the command line does not know it.
func (s *Server) inactive(src *text, span analysis.Span) protocol.Diagnostic {
	return protocol.Diagnostic{
		Range:    src.rangeOf(span, s.enc),
		Severity: protocol.DiagnosticSeverityHint,
		Source:   "narrowgauge",
		Message:  "Not assembled: its condition is not met.",
		Tags:     []protocol.DiagnosticTag{protocol.DiagnosticTagUnnecessary},
	}
}

// merged is what the client should see: for each document the findings of
// all roots that it belongs to. Where another root includes a document, that
// root knows its context, and the document's own view does not count.
func (s *Server) merged(snap *snapshot) map[docKey]page {
	s.pub.mu.Lock()
	defer s.pub.mu.Unlock()
	for key := range s.pub.visible {
		if snap.docs[key] == nil {
			s.pub.seeLocked(key, nil)
		}
	}
	out := map[docKey]page{}
	for _, root := range slices.Sorted(maps.Keys(s.pub.visible)) {
		for key, p := range s.pub.visible[root].pages {
			if key == root && s.pub.includedLocked(key) {
				continue
			}
			// The page may be older than the snapshot: of another version, or of the
			// file that the document is now open in place of.
			if doc := snap.docs[key]; doc != nil {
				if p.version == nil || *p.version != doc.version {
					continue
				}
				p.uri, p.version = doc.uri, &doc.version
			} else {
				p.version = nil
			}
			all, ok := out[key]
			if !ok {
				all = page{uri: p.uri, version: p.version}
			}
			out[key] = all.joined(p)
		}
	}
	return out
}

// joined is a page with what another one of the same document has besides, behind it.
func (p page) joined(q page) page {
	type place struct {
		code, message string
		span          analysis.Span
	}
	placeOf := func(f finding) place { return place{f.code, f.wire.Message, f.span} }
	known := make(map[place]bool, len(p.found)+len(q.found))
	for _, f := range p.found {
		known[placeOf(f)] = true
	}
	p.more = max(p.more, q.more) // they may be the same ones
	p.found = slices.Grow(slices.Clip(p.found), len(q.found))
	for _, f := range q.found {
		if at := placeOf(f); len(p.found) >= 4*maxPublished {
			p.more++
		} else if !known[at] {
			known[at] = true
			p.found = append(p.found, f)
		}
	}
	return p
}

// seeLocked takes what a root says now; nil: nothing any more.
func (p *publisher) seeLocked(root docKey, set *pageSet) {
	if was := p.visible[root]; was != nil {
		for key := range was.pages {
			if delete(p.roots[key], root); len(p.roots[key]) == 0 {
				delete(p.roots, key)
			}
		}
		delete(p.visible, root)
	}
	if set == nil {
		return
	}
	p.visible[root] = set
	for key := range set.pages {
		if p.roots[key] == nil {
			p.roots[key] = map[docKey]bool{}
		}
		p.roots[key][root] = true
	}
}

// includedLocked reports whether another open root includes the document,
// and is not itself included by it.
func (p *publisher) includedLocked(key docKey) bool {
	own := p.visible[key]
	for root := range p.roots[key] {
		if root == key {
			continue
		}
		if own != nil {
			if _, back := own.pages[root]; back {
				continue
			}
		}
		return true
	}
	return false
}

// send publishes what differs from what the client shows.
func (s *Server) send(snap *snapshot) {
	now := s.merged(snap)
	s.withAcross(snap, now)
	if s.pulls.Load() {
		for _, key := range slices.Sorted(maps.Keys(s.pub.sent)) {
			p := s.pub.sent[key]
			delete(s.pub.sent, key)
			if len(p.found) > 0 || p.more > 0 {
				s.notify("textDocument/publishDiagnostics", publishParams{URI: p.uri, Diagnostics: []protocol.Diagnostic{}})
			}
		}
		return
	}
	for _, key := range slices.Sorted(maps.Keys(s.pub.sent)) {
		if _, ok := now[key]; ok {
			continue
		}
		old := s.pub.sent[key]
		if doc := snap.docs[key]; doc != nil {
			continue // its new findings are on their way
		}
		delete(s.pub.sent, key)
		s.notify("textDocument/publishDiagnostics", publishParams{URI: old.uri, Diagnostics: []protocol.Diagnostic{}})
	}
	for _, key := range slices.Sorted(maps.Keys(now)) {
		p := now[key]
		old, known := s.pub.sent[key]
		if !known && len(p.found) == 0 && snap.docs[key] == nil {
			continue
		}
		p.body, _ = json.Marshal(publishParams{p.uri, p.version, p.told()})
		if known && string(old.body) == string(p.body) {
			continue
		}
		s.pub.sent[key] = p
		s.notify("textDocument/publishDiagnostics", p.body)
	}
}

// diagnostic converts a finding of run r for the client.
func (s *Server) diagnostic(r *run, d analysis.Diagnostic) (protocol.Diagnostic, bool) {
	src := r.source(d.Path)
	if src == nil {
		return protocol.Diagnostic{}, false
	}
	caps := s.caps.TextDocument.PublishDiagnostics
	out := protocol.Diagnostic{
		Range:    src.rangeOf(d.Span, s.enc),
		Severity: protocol.DiagnosticSeverity(d.Severity) + protocol.DiagnosticSeverityError,
		Code:     d.Code,
		Source:   "narrowgauge",
		Message:  d.Message,
	}
	if href := s.docsURI(d.Code); caps.CodeDescriptionSupport && href != "" {
		out.CodeDescription = &protocol.CodeDescription{Href: uri.URI(href)}
	}
	for tag, set := range map[protocol.DiagnosticTag]bool{
		protocol.DiagnosticTagUnnecessary: d.Unneeded,
		protocol.DiagnosticTagDeprecated:  d.Deprecated,
	} {
		if set && slices.Contains(s.tags, int(tag)) {
			out.Tags = append(out.Tags, tag)
		}
	}
	slices.Sort(out.Tags)
	if caps.RelatedInformation {
		for _, rel := range d.Related {
			if loc, ok := s.location(r, rel.Location); ok {
				out.RelatedInformation = append(out.RelatedInformation, protocol.DiagnosticRelatedInformation{Location: loc, Message: rel.Message})
			}
		}
		for _, same := range d.Same[:min(len(d.Same), maxSame)] {
			if loc, ok := s.location(r, same); ok {
				out.RelatedInformation = append(out.RelatedInformation, protocol.DiagnosticRelatedInformation{Location: loc, Message: analysis.SameHere})
			}
		}
	}
	return out, true
}

// maxSame is how many places of the same cause a client is told of.
const maxSame = 50

// location converts a place in a file of run r.
func (s *Server) location(r *run, l analysis.Location) (protocol.Location, bool) {
	src := r.source(l.Path)
	if src == nil {
		return protocol.Location{}, false
	}
	return protocol.Location{URI: uri.URI(s.uriOf(r, l.Path)), Range: src.rangeOf(l.Span, s.enc)}, true
}

// uriOf gives the client's own spelling where it has the document open.
func (s *Server) uriOf(r *run, path string) string {
	if path == r.doc.name() {
		return r.doc.uri
	}
	if doc := s.current().docs[pathKey(path)]; doc != nil {
		return doc.uri
	}
	return fileURI(path)
}

// explanations are the pages that diagnostics link to, one for each check, so that a link
// opens what it is about: editors show a file from its first line, whatever follows a #. A page
// is written when the first diagnostic needs it.
type explanations struct {
	mu   sync.Mutex
	dir  string            // empty: the user's cache folder
	uris map[string]string // by code; empty for one that could not be written
}

// docsURI is where code is explained, or empty.
func (s *Server) docsURI(code string) string {
	s.mu.Lock()
	base := s.editor.DocsBase
	s.mu.Unlock()
	if base != "" {
		return base + "#" + code
	}
	s.docs.mu.Lock()
	defer s.docs.mu.Unlock()
	uri, known := s.docs.uris[code]
	if !known {
		var err error
		if uri, err = s.docs.write(code); err != nil {
			s.log.Warn("an explanation could not be written", zap.String("code", code), zap.Error(err))
		}
		if s.docs.uris == nil {
			s.docs.uris = map[string]string{}
		}
		s.docs.uris[code] = uri
	}
	return uri
}

// write writes the page of a check, and gives its URI; empty for a code that is none.
func (e *explanations) write(code string) (uri string, err error) {
	if !slices.ContainsFunc(analysis.Checks(), func(c analysis.Check) bool { return c.Code == code }) {
		return "", nil
	}
	text, _, _ := analysis.Explain(code)
	dir := e.dir
	if dir == "" {
		if dir, err = CacheFolder(); err != nil {
			return "", err
		}
	}
	root, err := ownFolder(dir)
	if err != nil {
		return "", err
	}
	defer root.Close()
	const folder = "checks"
	if err := root.Mkdir(folder, 0o755); err != nil && !errors.Is(err, fs.ErrExist) {
		return "", err
	}
	page := folder + "/" + code + ".md"
	if old, err := root.ReadFile(page); err != nil || string(old) != text {
		tmp := page + "-" + rand.Text() + ".tmp"
		if err := root.WriteFile(tmp, []byte(text), 0o644); err != nil {
			return "", errors.Join(err, root.Remove(tmp))
		}
		if err := root.Rename(tmp, page); err != nil {
			return "", errors.Join(err, root.Remove(tmp))
		}
	}
	return fileURI(filepath.Join(dir, folder, code+".md")), nil
}

// CacheFolder is where the server keeps the pages that its findings link to.
func CacheFolder() (string, error) {
	cache, err := os.UserCacheDir()
	if err != nil {
		return "", err
	}
	return filepath.Join(cache, "narrowgauge"), nil
}

// ownFolder opens a folder in which only this program writes, and makes it if it is
// not there. It is no symbolic link: that would have this program write into a folder
// of somebody else's choice.
func ownFolder(dir string) (*os.Root, error) {
	if err := os.MkdirAll(filepath.Dir(dir), 0o755); err != nil {
		return nil, err
	}
	if err := os.Mkdir(dir, 0o755); err != nil && !errors.Is(err, fs.ErrExist) {
		return nil, err
	}
	info, err := os.Lstat(dir)
	if err != nil {
		return nil, err
	}
	if !info.IsDir() {
		return nil, &fs.PathError{Op: "write", Path: dir, Err: errors.New("a link or a file is where the folder should be")}
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, err
	}
	if opened, err := root.Stat("."); err != nil || !os.SameFile(info, opened) {
		root.Close()
		return nil, &fs.PathError{Op: "write", Path: dir, Err: errors.New("another folder has taken its place")}
	}
	return root, nil
}

// shown returns the findings of a document as the client sees them, if
// another root speaks for the document; ok is false otherwise.
func (s *Server) shown(ctx context.Context, key docKey) (found []finding, ok bool) {
	snap := s.current()
	s.pub.mu.Lock()
	set := s.pub.visible[key]
	ok = s.pub.includedLocked(key) || set != nil && set.doc.key != key
	s.pub.mu.Unlock()
	if !ok {
		return nil, false
	}
	return s.merged(snap)[key].found, true
}
