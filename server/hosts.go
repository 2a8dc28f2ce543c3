package server

import (
	"context"
	"errors"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"go.uber.org/zap"

	"narrowgauge/server/project"
)

// A document that other sources include means something only in a program
// that it is part of. This file finds that program: the root, open or not,
// whose analysis speaks for the document.

// maxHosts bounds the roots that are analysed in search of the one that
// includes a document.
const maxHosts = 4

// scanPatience is how long the first answer about a document waits for the
// scan of its folder. After it the document speaks for itself until the scan
// is over. questionPatience is that of a question, for which somebody waits, and
// programPatience that for a document with the name of a program: few of these are
// included, and in a large workspace the first findings would come late.
const (
	scanPatience     = 2 * time.Second
	questionPatience = 500 * time.Millisecond
	programPatience  = 20 * time.Millisecond
)

// scans are the searches for include lines, each begun once.
type scans struct {
	graph project.Graph
	mu    sync.Mutex
	done  map[string]chan struct{} // by folder
}

// scanned is closed when the sources around path have been searched for
// include lines: those of the workspace, or of the folder of a file outside.
func (s *Server) scanned(path string, within *project.Bounds) <-chan struct{} {
	dir, deep := filepath.Dir(path), false
	s.mu.Lock()
	for _, f := range s.folders {
		if strings.HasPrefix(path, strings.TrimSuffix(f, string(filepath.Separator))+string(filepath.Separator)) && (!deep || len(f) < len(dir)) {
			dir, deep = f, true
		}
	}
	s.mu.Unlock()
	s.scans.mu.Lock()
	defer s.scans.mu.Unlock()
	if done := s.scans.done[dir]; done != nil {
		return done
	}
	if s.scans.done == nil {
		s.scans.done = map[string]chan struct{}{}
	}
	done := make(chan struct{})
	s.scans.done[dir] = done
	go func() {
		if !s.scans.graph.Scan(s.ctx, dir, deep, within) {
			s.log.Warn("the folder is too large to be searched for include lines as a whole", zap.String("folder", dir))
		}
		close(done)
		s.wake()
	}()
	return done
}

// rootsOf lists the roots that may include a document, the most likely first:
// open ones that do, then what the disk says, sources with compile flags before
// others. There is none for what a compilation database names, which is a
// program of its own.
func (s *Server) rootsOf(ctx context.Context, snap *snapshot, doc *document) (out []string) {
	if doc.path == "" {
		return nil
	}
	its := s.resolved(doc)
	if its.named {
		return nil
	}
	own, within := its.own, its.ownWithin
	// An open root may have been changed just now: what it has said last counts.
	s.pub.mu.Lock()
	for _, key := range slices.Sorted(maps.Keys(s.pub.roots[doc.key])) {
		other, set := snap.docs[key], s.pub.visible[key]
		if key == doc.key || other == nil || other.path == "" || set.doc.key != key {
			continue
		}
		if !s.pub.includesLocked(doc.key, key) {
			out = append(out, other.path)
		}
	}
	s.pub.mu.Unlock()
	patience := scanPatience
	if questionOf(ctx) != nil {
		patience = questionPatience
	}
	if slices.Contains(project.ProgramNames, filepath.Ext(doc.path)) {
		patience = programPatience
	}
	timer := time.NewTimer(patience)
	defer timer.Stop()
	select {
	case <-s.scanned(doc.path, within):
	case <-timer.C:
	case <-ctx.Done():
	}
	found := slices.DeleteFunc(s.scans.graph.Roots(doc.path, 20*maxHosts), func(path string) bool {
		// What only the graph knows has not been opened by anybody.
		return within.Outside(path) || within.Top() != "" && s.bounds(path).Top() == ""
	})
	slices.SortStableFunc(found, func(a, b string) int {
		return last(snap.docs[pathKey(a)] == nil) - last(snap.docs[pathKey(b)] == nil)
	})
	found = found[:min(len(found), 2*maxHosts)]
	named := map[string]int{}
	for _, path := range found {
		told := snap.docs[pathKey(path)] != nil || s.flagged.get(path+"\x00"+own.CompileCommands, s.changes.Load(), func() bool {
			cmd := s.commands.Find(path, own.CompileCommands, s.bounds(path))
			return cmd != nil && cmd.Named
		})
		named[path] = last(!told)
	}
	slices.SortStableFunc(found, func(a, b string) int { return named[a] - named[b] })
	return append(out, found[:min(len(found), maxHosts)]...)
}

// last is the rank of what comes last.
func last(is bool) int {
	if is {
		return 1
	}
	return 0
}

// includesLocked says whether one open document has said that it includes
// another.
func (p *publisher) includesLocked(root, part docKey) bool {
	set := p.visible[root]
	if set == nil || set.doc.key != root {
		return false
	}
	_, ok := set.pages[part]
	return ok
}

// errStale tells that a snapshot is no longer the current one.
var errStale = errors.New("there is a newer state")

// speaker waits for the run that speaks for a document: that of a root which
// includes it, or its own.
func (s *Server) speaker(ctx context.Context, snap *snapshot, doc *document) (*run, facts, error) {
	own := snap.runs[doc.key]
	questionOf(ctx).hold(own)
	for _, path := range s.rootsOf(ctx, snap, doc) {
		r, err := s.host(snap, path)
		if err != nil {
			return nil, nil, err
		}
		if r == nil {
			continue
		}
		res, err := r.wait(ctx)
		switch {
		case err == nil && r.includes(doc.path):
			return r, res, nil
		case err != nil && (ctx.Err() != nil || r.ctx.Err() != nil):
			return r, nil, err
		}
	}
	res, err := own.wait(ctx)
	return own, res, err
}

// host is the run of the root at path, nil if it cannot be read.
func (s *Server) host(snap *snapshot, path string) (*run, error) {
	key := pathKey(path)
	if r := snap.runs[key]; r != nil {
		return r, nil
	}
	s.mu.Lock()
	r, ok := snap.hidden[key]
	s.mu.Unlock()
	if ok {
		return r, nil
	}
	file, stamp, err := s.disk.Read(path, s.bounds(path)) // outside the lock
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.snap != snap {
		return nil, errStale
	}
	if r, ok := snap.hidden[key]; ok {
		return r, nil
	}
	if err != nil {
		snap.hidden[key] = nil
		return nil, nil
	}
	r = s.newRun(&document{uri: fileURI(path), key: key, path: path, text: newText(file), target: &target{}}, snap.docs)
	r.deps[path] = stamp
	snap.hidden[key] = r
	return r, nil
}

// includes says whether the finished run has read the file at path.
func (r *run) includes(path string) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.parts == nil {
		r.parts = map[string]bool{}
		for _, p := range r.res.Includes() {
			r.parts[p] = true
		}
	}
	return r.parts[path]
}

// spoken waits for the analysis that a request about a document is answered
// from. If it is cancelled because something else changed, it goes on with the
// newer snapshot; if the document itself changed, positions in the request
// have lost their meaning and the answer is errModified.
func (s *Server) spoken(ctx context.Context, snap *snapshot, doc *document) (*run, facts, error) {
	questionOf(ctx).about(doc)
	for {
		r, res, err := s.speaker(ctx, snap, doc)
		switch {
		case err == nil:
			return r, res, begin(ctx, doc.key)
		case ctx.Err() != nil:
			return nil, nil, context.Cause(ctx)
		case r != nil && r.ctx.Err() == nil:
			return nil, nil, err
		}
		next := s.current()
		if next.docs[doc.key] != doc || next == snap {
			return nil, nil, errModified
		}
		snap = next
	}
}
