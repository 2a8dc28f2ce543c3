package server

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"narrowgauge/analysis"
	"narrowgauge/server/project"
)

// The sources of the workspace as a linker sees them. Open documents speak for themselves;
// what is known of the other sources is here, made in the background after the first
// findings have been published, and made again when something that it rests on changes.

// The bounds of what is looked at: beyond them names are not known, and nothing that
// depends on all of them is said or done.
const (
	maxUnits     = 4000
	maxUnitBytes = 48 << 20
)

// unitPatience is how long a question about other files waits for all of them. After it the
// answer has what is known.
const unitPatience = 5 * time.Second

// catalog has what is known of sources that are not open.
type catalog struct {
	mu      sync.Mutex
	listed  bool // the folders have been listed
	found   project.Sources
	entries map[docKey]*entry
	size    int64 // bytes of what has been read for the entries
	full    bool  // it has more than it may
	round   int   // grows when entries become stale
	// busy has room for the one that reads a source, and reading is that source.
	busy    chan struct{}
	reading docKey
}

// entry is what is known of one source.
type entry struct {
	path   string
	facts  *analysis.LinkFile // nil: it could not be read
	groups []string
	deps   map[string]project.Stamp
	docs   map[docKey]*document // the open documents among what it has read
	names  []string             // of the files that it asks for
}

// unit is a source among others, with the text of its files.
type unit struct {
	analysis.LinkUnit
	run  *run // of an open document, or nil
	deps map[string]project.Stamp
}

// tried says whether the source asks for a file that is; some of them may not be there.
func (u *unit) tried(is func(path string) bool) bool {
	if u.run != nil {
		u.run.mu.Lock()
		defer u.run.mu.Unlock()
	}
	for path := range u.deps {
		if is(path) {
			return true
		}
	}
	return is(u.Path)
}

// inFolders says whether a path lies in the workspace.
func (s *Server) inFolders(path string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.ContainsFunc(s.folders, func(dir string) bool {
		_, ok := project.Below(path, dir)
		return ok
	})
}

// list finds the sources of the workspace, once until it changes.
func (s *Server) list(ctx context.Context) project.Sources {
	c := &s.catalog
	c.mu.Lock()
	listed, found, round := c.listed, c.found, c.round
	c.mu.Unlock()
	if listed {
		return found
	}
	s.mu.Lock()
	folders := s.folders
	s.mu.Unlock()
	found = project.Sources{All: true}
	for _, dir := range folders {
		in := project.FindSources(ctx, dir, maxUnits)
		found.Programs = append(found.Programs, in.Programs...)
		found.Texts = append(found.Texts, in.Texts...)
		found.Objects += in.Objects
		found.All = found.All && in.All
	}
	slices.Sort(found.Programs)
	found.Programs = slices.Compact(found.Programs)
	c.mu.Lock()
	defer c.mu.Unlock()
	if ctx.Err() == nil && c.round == round {
		c.listed, c.found = true, found
	}
	return found
}

// forget drops what rests on changed files; nil: all of it.
func (c *catalog) forget(changed *project.Changed) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.round++
	if changed == nil {
		c.listed, c.entries, c.size, c.full = false, nil, 0, false
		return
	}
	for key, e := range c.entries {
		stale := slices.ContainsFunc(e.names, changed.Named)
		for path, stamp := range e.deps {
			stale = stale || changed.Has(path, stamp)
		}
		if stale {
			delete(c.entries, key)
		}
	}
}

// appeared notes which files are there now that the disk has been looked at again, and which are
// not.
func (c *catalog) appeared(there map[string]bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if !c.listed {
		return
	}
	var now []string
	changed := false
	for _, path := range c.found.Programs {
		if is, known := there[path]; known && !is {
			changed = true
		} else {
			now = append(now, path)
		}
	}
	for path, is := range there {
		if _, known := slices.BinarySearch(c.found.Programs, path); is && !known && slices.Contains(project.ProgramNames, filepath.Ext(path)) {
			now, changed = append(now, path), true
		}
	}
	if changed {
		slices.Sort(now)
		c.found.Programs = now
	}
}

// fresh is what is known of a source, if it is still true in a snapshot.
func (c *catalog) fresh(path string, snap *snapshot) (*entry, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	e := c.entries[pathKey(path)]
	if e == nil {
		return nil, false
	}
	for dep := range e.deps {
		if key := pathKey(dep); snap.docs[key] != e.docs[key] {
			return nil, false
		}
	}
	return e, true
}

// units gives the sources of the workspace with those of the open documents, as they are in a
// snapshot. all is false where there are more than are looked at, or where patience has ended
// before all were read; 0: it does not end.
func (s *Server) units(ctx context.Context, snap *snapshot, patience time.Duration) (out []*unit, all bool, err error) {
	if patience > 0 {
		within, cancel := context.WithTimeout(ctx, patience)
		defer cancel()
		return s.gather(ctx, within, snap, nil)
	}
	return s.gather(ctx, ctx, snap, nil)
}

// gather is units; within ends the reading of what is not known yet. told is called with how
// much is done.
func (s *Server) gather(ctx, within context.Context, snap *snapshot, told func(done, of int)) (out []*unit, all bool, err error) {
	defer s.startAll(ctx, snap)()
	for _, key := range snap.keys {
		doc := snap.docs[key]
		if s.includedOnly(doc) {
			continue
		}
		r, res, err := s.result(ctx, snap.runs[key])
		if err != nil {
			if ctx.Err() != nil {
				return nil, false, ctx.Err()
			}
			continue
		}
		if facts := r.links(res); facts != nil {
			out = append(out, &unit{analysis.LinkUnit{File: facts, Groups: s.groupsOf(doc)}, r, r.deps})
		}
	}
	found := s.list(within)
	for _, path := range found.Programs {
		select {
		case <-s.scanned(path, s.bounds(path)):
		case <-within.Done():
		}
	}
	all = found.All && within.Err() == nil
	for i, path := range found.Programs {
		if snap.docs[pathKey(path)] != nil || s.scans.graph.Included(path) {
			continue
		}
		e, ok := s.catalog.fresh(path, snap)
		if !ok {
			if within.Err() != nil {
				all = false
				continue
			}
			if e, ok = s.read(within, snap, path); !ok {
				all = false
				continue
			}
			if told != nil {
				told(i+1, len(found.Programs))
			}
		}
		if e.facts != nil {
			out = append(out, &unit{analysis.LinkUnit{File: e.facts, Groups: e.groups}, nil, e.deps})
		}
	}
	return out, all, ctx.Err()
}

// startAll starts the analyses of the open documents that a question about several files waits
// for: one after the other each would wait for its slot. end is for when the question waits no
// more.
func (s *Server) startAll(ctx context.Context, snap *snapshot) (end func()) {
	q := questionOf(ctx)
	if q == nil {
		return func() {}
	}
	var ends []func()
	for _, key := range snap.keys {
		r := snap.runs[key]
		if r.finished() || s.includedOnly(r.doc) {
			continue
		}
		q.hold(r)
		r.start()
		ends = append(ends, s.slots.hurry(key, q))
	}
	return func() {
		for _, end := range ends {
			end()
		}
	}
}

// includedOnly says whether other sources speak for a document.
func (s *Server) includedOnly(doc *document) bool {
	return doc.path != "" && s.scans.graph.Included(doc.path) && !slices.Contains(project.ProgramNames, filepath.Ext(doc.path))
}

// links are the facts of a finished run, made once; nil: its analysis has none.
func (r *run) links(res facts) *analysis.LinkFile {
	found, ok := res.(*analysis.Result)
	if !ok {
		return nil
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.linked == nil {
		r.linked = found.Links()
	}
	return r.linked
}

func (s *Server) groupsOf(doc *document) []string {
	if doc.path == "" {
		return nil
	}
	r := s.resolved(doc)
	return s.commands.Groups(doc.path, r.own.CompileCommands, r.ownWithin)
}

// closed makes a run for a source that is not open; nil: it cannot be read.
func (s *Server) closed(snap *snapshot, path string) *run {
	if !s.inFolders(path) {
		return nil
	}
	file, stamp, err := s.disk.Read(path, s.bounds(path))
	if err != nil {
		return nil
	}
	r := s.newRun(&document{uri: fileURI(path), key: pathKey(path), path: path, text: newText(file), target: &target{}}, snap.docs)
	r.deps[path] = stamp
	return r
}

// takeReading waits until no other source is read, to read one; false where ctx ends before. What a
// question waits for so is what it is waiting for: it goes before what nobody has asked for.
func (s *Server) takeReading(ctx context.Context, key docKey) bool {
	c := &s.catalog
	c.mu.Lock()
	if c.busy == nil {
		c.busy = make(chan struct{}, 1)
	}
	before := c.reading
	c.mu.Unlock()
	if q := questionOf(ctx); q != nil && before != "" {
		defer s.slots.hurry(before, q)()
	}
	select {
	case c.busy <- struct{}{}:
	case <-ctx.Done():
		return false
	}
	c.mu.Lock()
	c.reading = key
	c.mu.Unlock()
	return true
}

// read makes the entry of a source that is not open. One at a time is read, so that open
// documents have slots. ok is false where it could not be done, or may not.
func (s *Server) read(ctx context.Context, snap *snapshot, path string) (e *entry, ok bool) {
	c := &s.catalog
	if !s.takeReading(ctx, pathKey(path)) {
		return nil, false
	}
	defer func() { <-c.busy }()
	if e, ok := c.fresh(path, snap); ok {
		return e, true // somebody else was quicker
	}
	c.mu.Lock()
	round, full := c.round, c.full
	c.mu.Unlock()
	if full {
		return nil, false
	}
	e = &entry{path: path, docs: map[docKey]*document{}, deps: map[string]project.Stamp{path: {}}}
	if r := s.closed(snap, path); r != nil {
		defer r.cancel()
		stop := context.AfterFunc(ctx, r.cancel)
		res, err := r.wait(ctx)
		stop()
		if ctx.Err() != nil {
			return nil, false
		}
		r.mu.Lock()
		e.deps = r.deps
		for w := range r.asked {
			e.names = append(e.names, w.Name)
		}
		r.mu.Unlock()
		if err == nil {
			e.facts = r.links(res)
			e.groups = s.groupsOf(r.doc)
		}
	}
	size := int64(0)
	for dep, stamp := range e.deps {
		if doc := snap.docs[pathKey(dep)]; doc != nil {
			e.docs[pathKey(dep)] = doc
		}
		size += stamp.Size
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.round == round {
		if c.entries == nil {
			c.entries = map[docKey]*entry{}
		}
		c.entries[pathKey(path)] = e
		if c.size += size; c.size > maxUnitBytes {
			c.full = true
		}
	}
	return e, true
}

// catalogue reads the sources of the workspace in the background, and says how far it is.
func (s *Server) catalogue() {
	snap := s.current()
	found := s.list(s.ctx)
	missing := 0
	for _, path := range found.Programs {
		if _, ok := s.catalog.fresh(path, snap); !ok && snap.docs[pathKey(path)] == nil {
			missing++
		}
	}
	var told func(done, of int)
	if missing >= aBatch {
		p := s.begin("Reading the workspace's sources")
		defer p.end()
		told = func(done, of int) { p.report(done*100/max(of, 1), fmt.Sprintf("%d of %d", done, of)) }
	}
	_, _, _ = s.gather(s.ctx, s.ctx, snap, told)
}

// aBatch is how many sources it takes to tell how far they are read.
const aBatch = 20
