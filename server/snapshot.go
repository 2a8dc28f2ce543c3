package server

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"path/filepath"
	"runtime/debug"
	"slices"
	"sync"
	"time"

	"go.uber.org/zap"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/server/project"
)

// document is one state of an open document. It never changes.
type document struct {
	uri     string // as the client spells it
	key     docKey
	path    string // empty where the URI is no file
	version int32
	text    *text
	typed   int     // byte offset behind the last change that is not saved; 0: there is none
	target  *target // the same for all versions
}

// name is the path under which the analysis knows the document.
func (d *document) name() string {
	if d.path != "" {
		return d.path
	}
	return string(d.key)
}

// brief says whether the analysis of a document is expected to take no time to speak of: it has
// not the last time, or the text is short.
func (d *document) brief() bool {
	return time.Duration(d.target.took.Load()) < briefly && len(d.text.file.Text()) < briefBytes
}

// briefBytes is how long a text may be whose analysis is expected to be brief.
const briefBytes = 256 << 10

// snapshot is one state of everything that an answer depends on. It never
// changes, so a request that holds one sees a single state for its whole
// life. Changes make a new snapshot and cancel the old one's work.
type snapshot struct {
	docs map[docKey]*document
	keys []docKey        // of docs, sorted
	runs map[docKey]*run // one for every document
	// hidden are the runs of roots that are not open and may include a
	// document; nil for those that cannot be read. They come when they are asked
	// for: the server's lock guards the map.
	hidden map[docKey]*run
}

// facts is what the server asks of an analysis.
type facts interface {
	Diagnostics() []analysis.Diagnostic
	Actions(ctx context.Context, span analysis.Span) []analysis.Action
	SafeFixes(ctx context.Context, code string) []analysis.Edit
	HoverIn(path string, off int) (analysis.Hover, bool)
	DefinitionIn(path string, off int) []analysis.Location
	ReferencesIn(path string, off int) []analysis.Location
	SymbolsIn(path string) []analysis.DocSymbol
	FoldsIn(path string) []analysis.Fold
	Around(path string) func(off int) []analysis.Span
	CompletionsAmong(path string, off int, elsewhere func(visit func(analysis.Elsewhere))) ([]analysis.Completion, analysis.Span)
	IncludedIn(path string, off int) (analysis.Included, bool)
	Documentation(name string) string
	Includes() []string
	Inactive() []analysis.Location
	TargetIn(path string, off int) analysis.TargetFact
}

func analyze(ctx context.Context, in *analysis.Input) (facts, error) {
	res, err := analysis.Analyze(ctx, in)
	if err != nil {
		return nil, err // not a typed nil
	}
	return res, nil
}

// run is the analysis of one document with one state of all that it
// includes. It starts when first asked for.
type run struct {
	srv    *Server
	doc    *document
	ctx    context.Context
	cancel context.CancelFunc
	once   sync.Once
	done   chan struct{} // closed when the fields below are set

	res facts
	err error

	held holders

	reads sync.Mutex // holds what follows; it is never held while something is read
	// before is a run of an earlier text to take over from, nil once the run begins, and from
	// the same while it goes on: what that has asked for is not asked for again.
	before, from *run
	docs         map[docKey]*document     // open buffers; nil once the run is done
	deps         map[string]project.Stamp // every path that was tried, and what was there

	mu     sync.Mutex
	set    *analysis.Settings         // nil until the run begins
	within *project.Bounds            // where it may reach files
	files  map[string]*text           // by the path that diagnostics name
	asked  map[analysis.Wanted]loaded // the loader's answers, which stay the same
	bytes  map[analysis.Wanted]string // the files that are taken as bytes
	parts  map[string]bool            // the files that the analysis has read; nil until asked
	linked *analysis.LinkFile         // what other sources are concerned with; nil until asked
}

type loaded struct {
	path string
	file *syntax.File
	ok   bool
}

func (s *Server) newRun(doc *document, docs map[docKey]*document) *run {
	ctx, cancel := context.WithCancel(s.ctx)
	return &run{
		srv: s, doc: doc, ctx: ctx, cancel: cancel, done: make(chan struct{}),
		docs:  docs,
		deps:  map[string]project.Stamp{},
		files: map[string]*text{doc.name(): doc.text},
		asked: map[analysis.Wanted]loaded{},
		bytes: map[analysis.Wanted]string{},
	}
}

// update replaces the current snapshot. edit changes the map of documents;
// stale says which finished runs must be done again for another reason than
// a change of their own document. This is the one place that invalidates.
func (s *Server) update(edit func(docs map[docKey]*document), stale func(r *run) bool) {
	s.mu.Lock()
	old := s.snap
	docs := maps.Clone(old.docs)
	if edit != nil {
		edit(docs)
	}
	next := &snapshot{docs: docs, keys: slices.Sorted(maps.Keys(docs)), runs: make(map[docKey]*run, len(docs)), hidden: map[docKey]*run{}}
	for key, doc := range docs {
		if r := old.runs[key]; r != nil && r.doc == doc && r.stays(old.docs, docs, stale) {
			next.runs[key] = r
			continue
		}
		r := s.newRun(doc, docs)
		r.before = old.runs[key].earlier(old.docs, docs, stale)
		next.runs[key] = r
	}
	for key, r := range old.runs {
		if next.runs[key] != r {
			// The new snapshot has a run of its own and the publisher is
			// about to ask for it, so that nothing is lost.
			if now := docs[key]; now == nil || now.text != r.doc.text {
				r.cancel()
			} else {
				r.leave()
			}
		}
	}
	for key, r := range old.hidden {
		if r == nil {
			continue // worth another look
		}
		if docs[key] == nil && r.stays(old.docs, docs, stale) && (len(docs) >= len(old.docs) || r.finished() && r.speaksFor(docs)) {
			next.hidden[key] = r
		} else {
			r.leave()
		}
	}
	for q := range s.questions {
		q.moved(docs)
	}
	s.snap = next
	s.mu.Unlock()
	s.wake()
}

// earlier is the finished run of which the run of a newer text of the document may take over
// what it can: this one, or the one before it; nil where files or settings are others.
func (r *run) earlier(old, now map[docKey]*document, stale func(r *run) bool) *run {
	switch {
	case r == nil:
		return nil
	case !r.finished():
		r.reads.Lock()
		defer r.reads.Unlock()
		if before := cmp.Or(r.before, r.from); before != nil && !before.asksFor(old, now) && (stale == nil || !stale(before)) {
			return before
		}
		return nil
	case r.asksFor(old, now), stale != nil && stale(r):
		return nil
	}
	if res, ok := r.res.(*analysis.Result); !ok || !res.Keeps() {
		return nil
	}
	return r
}

// takeOver lets an analysis begin with that of the earlier run, if nothing has changed on disk.
func (r *run) takeOver(in *analysis.Input) (from *run) {
	r.reads.Lock()
	from, r.before = r.before, nil
	r.from = from
	r.reads.Unlock()
	if from == nil || from.outdated(nil) {
		r.reads.Lock()
		r.from = nil
		r.reads.Unlock()
		return nil
	}
	if res, ok := from.res.(*analysis.Result); ok {
		in.Before = res
	}
	return from
}

// adopt takes over what an earlier run has read, whose files the analysis has not asked for
// again.
func (r *run) adopt(from *run) {
	if res, ok := r.res.(*analysis.Result); !ok || from == nil || !res.TookOver() {
		return
	}
	from.mu.Lock()
	defer from.mu.Unlock()
	r.mu.Lock()
	defer r.mu.Unlock()
	r.reads.Lock()
	maps.Copy(r.deps, from.deps)
	r.reads.Unlock()
	maps.Copy(r.asked, from.asked)
	maps.Copy(r.bytes, from.bytes)
	for path, t := range from.files {
		if path != r.doc.name() {
			r.files[path] = t
		}
	}
}

// speaksFor says whether the finished run includes one of the documents.
func (r *run) speaksFor(docs map[docKey]*document) bool {
	for _, doc := range docs {
		if r.includes(doc.path) {
			return true
		}
	}
	return false
}

func (s *Server) current() *snapshot {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.snap
}

func (r *run) finished() bool {
	select {
	case <-r.done:
		return r.err == nil
	default:
		return false
	}
}

// asksFor says whether a file that the run has asked for was opened, changed or closed. It has
// to be finished, or its reads held.
func (r *run) asksFor(old, now map[docKey]*document) bool {
	for path := range r.deps {
		key := pathKey(path)
		if old[key] != now[key] {
			return true
		}
	}
	return false
}

// stays says whether a run is as good after a change of documents: no file that it has asked
// for was opened, changed or closed. One that goes on takes what it has not asked for yet from
// the documents as they are now, so that it is as if it had begun after the change: typing in
// one document does not keep another one from being looked at. stale is as for update; what
// has changed otherwise may have been read, so that such a run has to be done.
func (r *run) stays(old, now map[docKey]*document, stale func(r *run) bool) bool {
	if stale != nil && (!r.finished() || stale(r)) {
		return false
	}
	select {
	case <-r.done:
		if r.err != nil {
			return false
		}
	case <-r.ctx.Done():
		return false
	default:
	}
	r.reads.Lock()
	defer r.reads.Unlock()
	if r.asksFor(old, now) || r.from != nil && r.from.asksFor(old, now) {
		return false
	}
	if r.before != nil && r.before.asksFor(old, now) {
		r.before = nil
	}
	if r.docs != nil {
		r.docs = now
	}
	return true
}

// refresh does again what rests on files that have changed on disk: those that
// look different, and those that are known to have; nil: none.
func (s *Server) refresh(changed *project.Changed) {
	s.mu.Lock()
	all := slices.AppendSeq(slices.Collect(maps.Values(s.snap.runs)), maps.Values(s.snap.hidden))
	s.mu.Unlock()
	old := map[*run]bool{}
	for _, r := range all { // outside the lock: this does I/O
		if r != nil && r.outdated(changed) {
			old[r] = true
		}
	}
	if len(old) > 0 {
		s.update(nil, func(r *run) bool { return old[r] })
	}
}

// settings are those that the run has been made with, and what it may read; nil before it has
// begun.
func (r *run) settings() (*analysis.Settings, *project.Bounds) {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.set, r.within
}

// outdated reports whether the disk differs from what the run has read there
// so far, be it source or settings.
func (r *run) outdated(changed *project.Changed) bool {
	set, within := r.settings()
	if set == nil {
		return false // not begun
	}
	now, reach := r.srv.settingsFor(r.doc)
	if now != set || reach != within {
		was, _ := json.Marshal(set)
		if is, _ := json.Marshal(now); string(is) != string(was) || reach.String() != within.String() {
			return true
		}
	}
	r.reads.Lock()
	deps := maps.Clone(r.deps)
	r.reads.Unlock()
	r.mu.Lock()
	defer r.mu.Unlock()
	for path, stamp := range deps {
		if s := reach.Stamp(path); changed.Has(path, stamp) || s.Size != stamp.Size || !s.ModTime.Equal(stamp.ModTime) {
			return true
		}
	}
	for w := range r.asked {
		if changed.Named(w.Name) {
			return true // it may be meant, or no longer the only one
		}
	}
	return false
}

// start begins the run if nobody has.
func (r *run) start() { r.once.Do(func() { go r.compute() }) }

// wait starts the run if nobody has, and waits for its end. One that is cancelled is not
// waited for: it may take a moment until it notices.
func (r *run) wait(ctx context.Context) (facts, error) {
	r.start()
	select {
	case <-r.done:
		return r.res, r.err
	default:
	}
	if q := questionOf(ctx); q != nil {
		q.hold(r)
		defer r.srv.slots.hurry(r.doc.key, q)()
	}
	select {
	case <-r.done:
		return r.res, r.err
	case <-r.ctx.Done():
		return nil, r.ctx.Err()
	case <-ctx.Done():
		return nil, context.Cause(ctx)
	}
}

func (r *run) compute() {
	defer close(r.done)
	defer func() {
		r.reads.Lock()
		r.docs, r.from = nil, nil // lets the snapshots before this one go
		r.reads.Unlock()
	}()
	// A finding that ends the analysis must not end the server.
	defer func() {
		if p := recover(); p != nil {
			r.res, r.err = nil, fmt.Errorf("analysis of %s failed: %v", r.doc.uri, p)
			r.srv.log.Error("panic in the analysis", zap.Any("panic", p), zap.String("uri", r.doc.uri), zap.ByteString("stack", debug.Stack()))
		}
	}()
	release, err := r.srv.slots.acquire(r.ctx, r.doc.key, r.doc.brief())
	if err != nil {
		r.err = err
		return
	}
	defer release()
	began := time.Now()
	defer func() { r.doc.target.took.Store(int64(time.Since(began))) }()
	set, within := r.srv.settingsFor(r.doc)
	open, release := within.Hold()
	defer release()
	search := r.search(set.Include, open)
	r.mu.Lock()
	r.set, r.within = set, within
	r.mu.Unlock()
	in := &analysis.Input{
		Path: r.doc.name(),
		File: r.doc.text.file,
		Set:  set, Typed: r.doc.typed,
		// Where that is known, the one that includes it speaks for it instead.
		Shared: func() bool { return r.srv.scans.graph.Included(r.doc.path) },
		Made:   r.srv.made.Load(),
		Beside: func(ctx context.Context) []*analysis.Voice {
			if r.doc.path == "" {
				return nil
			}
			return r.srv.voices.Beside(ctx, r.doc.path, set, search)
		},
		Evidence: func() []analysis.Evidence {
			if r.doc.path == "" {
				return nil
			}
			return r.srv.builds.Find(filepath.Dir(r.doc.path), open)
		},
		Options: func() analysis.Settings { return project.Told(&r.srv.builds, &r.srv.commands, set, r.doc.path, open) },
		Load:    func(w analysis.Wanted) (string, *syntax.File, bool) { return r.load(search, w) },
		Size: func(w analysis.Wanted) (int64, bool) {
			r.mu.Lock()
			defer r.mu.Unlock()
			path, size, ok := search.Bytes(r.wish(w))
			if ok {
				r.bytes[r.wish(w)] = path
			}
			return size, ok
		},
		Why:       func(w analysis.Wanted) string { return search.Why(r.wish(w)) },
		Several:   func(w analysis.Wanted) string { return search.Several(r.wish(w)) },
		Generated: func(w analysis.Wanted) bool { return search.Generated(r.wish(w)) },
	}
	from := r.takeOver(in)
	r.res, r.err = r.analyze(polite{r.ctx}, in)
	r.adopt(from)
}

// search finds the files that the run asks for: open buffers win over the
// disk. It is used with the lock held.
func (r *run) search(include []string, within *project.Bounds) *project.Search {
	var around *project.Around
	if r.doc.path != "" {
		around = &project.Around{Builds: &r.srv.builds, Index: &r.srv.index, Source: r.doc.path}
	}
	return &project.Search{
		Around: around,
		Disk:   &r.srv.disk, Bounds: within, Include: slices.DeleteFunc(slices.Clone(include), func(dir string) bool { return !filepath.IsAbs(dir) }),
		Open: func(path string) (*syntax.File, bool) {
			r.reads.Lock()
			doc := r.docs[pathKey(path)]
			r.reads.Unlock()
			if doc == nil {
				return nil, false
			}
			r.files[path] = doc.text
			return doc.text.file, true
		},
		// It is told before an open buffer is looked for, so that no change of one is missed.
		Tried: func(path string, stamp project.Stamp) {
			r.reads.Lock()
			r.deps[path] = stamp
			r.reads.Unlock()
		},
	}
}

// wish is what the analysis asks for, without the name of a document that has
// no folder.
func (r *run) wish(w analysis.Wanted) analysis.Wanted {
	if !filepath.IsAbs(w.From) {
		w.From = ""
	}
	return w
}

// load is the run's loader. It gives the same answer to the same question for
// ever, whatever happens on disk.
func (r *run) load(search *project.Search, w analysis.Wanted) (string, *syntax.File, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	w = r.wish(w)
	if a, ok := r.asked[w]; ok {
		return a.path, a.file, a.ok
	}
	var a loaded
	if a.path, a.file, a.ok = search.Load(w); a.ok && r.files[a.path] == nil {
		r.files[a.path] = newText(a.file)
	}
	r.asked[w] = a
	return a.path, a.file, a.ok
}

// source is the text that the analysis knows as path.
func (r *run) source(path string) *text {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.files[path]
}

// errModified tells a request that its document has changed meanwhile.
var errModified = errors.New("the document has changed")

// result waits for the analysis of the document of r as a root. If the run is
// cancelled because something else changed, it goes on with the newer
// snapshot, as spoken does.
func (s *Server) result(ctx context.Context, r *run) (*run, facts, error) {
	questionOf(ctx).about(r.doc)
	for {
		res, err := r.wait(ctx)
		if err == nil {
			return r, res, begin(ctx, r.doc.key)
		}
		if ctx.Err() != nil {
			return nil, nil, context.Cause(ctx)
		}
		if r.ctx.Err() == nil {
			return nil, nil, err
		}
		next := s.current().runs[r.doc.key]
		if next == nil || next.doc != r.doc || next == r {
			return nil, nil, errModified
		}
		r = next
	}
}
