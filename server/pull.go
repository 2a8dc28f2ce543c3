package server

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"path/filepath"
	"slices"

	"go.lsp.dev/protocol"
	"go.uber.org/zap"

	"narrowgauge/server/project"
)

// Pulled diagnostics (LSP 3.17, "Pull Diagnostics"). A client that has asked once is sent
// no findings unasked any more, as it would show each twice.

// diagnosticOptions says what is offered.
type diagnosticOptions struct {
	Identifier            string `json:"identifier"`
	InterFileDependencies bool   `json:"interFileDependencies"`
	WorkspaceDiagnostics  bool   `json:"workspaceDiagnostics"`
	WorkDoneProgress      bool   `json:"workDoneProgress"`
}

type diagnosticParams struct {
	TextDocument     documentID `json:"textDocument"`
	PreviousResultID string     `json:"previousResultId"`
}

// diagnosticReport is a report on a document: a full one, or one that says that nothing
// has changed. Those of a workspace have URI and version.
type diagnosticReport struct {
	URI      string                 `json:"uri,omitempty"`
	Version  *int32                 `json:"-"`
	Kind     string                 `json:"kind"` // full, unchanged
	ResultID string                 `json:"resultId"`
	Items    *[]protocol.Diagnostic `json:"items,omitempty"`
}

// MarshalJSON writes the version of a document of a workspace: null where it is not open.
func (r diagnosticReport) MarshalJSON() ([]byte, error) {
	type plain diagnosticReport
	if r.URI == "" {
		return json.Marshal(plain(r))
	}
	return json.Marshal(struct {
		plain
		Version *int32 `json:"version"`
	}{plain(r), r.Version})
}

type workspaceDiagnosticParams struct {
	PreviousResultIDs []struct {
		URI   string `json:"uri"`
		Value string `json:"value"`
	} `json:"previousResultIds"`
	PartialResultToken json.RawMessage `json:"partialResultToken"`
	WorkDoneToken      json.RawMessage `json:"workDoneToken"`
}

type workspaceDiagnosticReport struct {
	Items []diagnosticReport `json:"items"`
}

// report is what a client is told of a page, if it had been told previous.
func (p page) report(previous string) diagnosticReport {
	items := p.told()
	text, _ := json.Marshal(items)
	sum := sha256.Sum256(text)
	id := hex.EncodeToString(sum[:12])
	if id == previous {
		return diagnosticReport{Kind: "unchanged", ResultID: id}
	}
	return diagnosticReport{Kind: "full", ResultID: id, Items: &items}
}

// pulled notes that the client asks for findings.
func (s *Server) pulled() {
	if s.pulls.CompareAndSwap(false, true) {
		s.wake() // what has been sent is taken back
	}
}

// diagnostics answers textDocument/diagnostic.
func (s *Server) diagnostics(params json.RawMessage) (work, error) {
	p, err := decode[diagnosticParams](params)
	if err != nil {
		return nil, err
	}
	snap := s.current()
	doc, err := snap.document(p.TextDocument.URI)
	if err != nil {
		return nil, err
	}
	s.pulled()
	return func(ctx context.Context) (any, error) {
		if err := s.ready(ctx); err != nil {
			return nil, err
		}
		var r *run
		var res facts
		for err := errModified; err != nil; { // what else changes meanwhile may make it stale
			if s.current().docs[doc.key] != doc {
				return nil, err
			}
			if r, res, err = s.spoken(ctx, s.current(), doc); err == nil {
				err = s.complete(ctx, r, res)
			}
			if err != nil && err != errModified {
				return nil, err
			}
		}
		now := s.current()
		all := s.pages(now, r, res, res.Diagnostics())[doc.key]
		// What other programs say that the document is part of, as far as that is known.
		if more, ok := s.merged(now)[doc.key]; ok && more.version != nil && *more.version == doc.version {
			all = all.with(more)
		}
		return s.wholly(now, doc.key, all).report(p.PreviousResultID), nil
	}, nil
}

// wholly is a page with the findings about several files.
func (s *Server) wholly(snap *snapshot, key docKey, p page) page {
	one := map[docKey]page{key: p}
	s.withAcross(snap, one)
	return one[key]
}

// ready waits until the settings of the client are known.
func (s *Server) ready(ctx context.Context) error {
	select {
	case <-s.pub.started:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// with is a page with what another one has beside it, in order.
func (p page) with(more page) page {
	p.found = slices.Clone(p.found)
	p = p.joined(more)
	slices.SortStableFunc(p.found, func(a, b finding) int { return cmp.Compare(a.span.Start, b.span.Start) })
	return p
}

// maxWorkspace is how many sources of a workspace are looked at for findings.
const maxWorkspace = 5000

// workspaceDiagnostics answers workspace/diagnostic: the findings of all sources in the
// folders of the workspace, and of what they include.
func (s *Server) workspaceDiagnostics(params json.RawMessage) (work, error) {
	p, err := decode[workspaceDiagnosticParams](params)
	if err != nil {
		return nil, err
	}
	s.pulled()
	return func(ctx context.Context) (any, error) {
		if err := s.ready(ctx); err != nil {
			return nil, err
		}
		w := &workspacePull{s: s, snap: s.current(), previous: map[docKey]string{}, partial: p.PartialResultToken, done: p.WorkDoneToken,
			parts: map[docKey]page{}, items: []diagnosticReport{}}
		for _, prev := range p.PreviousResultIDs {
			if key, _, ok := parseURI(prev.URI); ok {
				w.previous[key] = prev.Value
			}
		}
		if err := w.run(ctx); err != nil {
			return nil, err
		}
		return workspaceDiagnosticReport{w.items}, nil
	}, nil
}

// workspacePull is the work on one request for the findings of the workspace.
type workspacePull struct {
	s             *Server
	snap          *snapshot
	previous      map[docKey]string
	partial, done json.RawMessage // tokens; empty: the client gave none
	parts         map[docKey]page // of files that others include
	told          map[docKey]bool
	items         []diagnosticReport
}

// run looks at one source after the other; analyses of open documents are there already.
func (w *workspacePull) run(ctx context.Context) error {
	w.told = map[docKey]bool{}
	paths := w.sources(ctx)
	w.progress("begin", "Findings of the workspace", 0)
	defer w.progress("end", "", 100)
	for i, path := range paths {
		if ctx.Err() != nil {
			return context.Cause(ctx)
		}
		if i%16 == 0 && i > 0 {
			w.progress("report", fmt.Sprintf("%d of %d sources", i, len(paths)), 100*i/len(paths))
		}
		if err := w.source(ctx, path); err != nil {
			return err
		}
	}
	for _, key := range slices.Sorted(maps.Keys(w.parts)) {
		if !w.told[key] {
			w.tell(key, w.s.wholly(w.snap, key, w.parts[key]))
		}
	}
	return nil
}

// sources lists the sources that are programs: nothing in the workspace includes them.
func (w *workspacePull) sources(ctx context.Context) (out []string) {
	w.s.mu.Lock()
	folders := slices.Clone(w.s.folders)
	w.s.mu.Unlock()
	seen := map[string]bool{}
	for _, dir := range folders {
		within := w.s.bounds(filepath.Join(dir, "x.s"))
		select {
		case <-w.s.scanned(filepath.Join(dir, "x.s"), within):
		case <-ctx.Done():
			return nil
		}
		list := project.FindSources(ctx, dir, maxWorkspace-len(out))
		if !list.All {
			w.s.logOnce(fmt.Sprintf("Only %d sources of the workspace are looked at for findings.", maxWorkspace))
		}
		for _, path := range list.Programs {
			if !seen[path] && !w.s.scans.graph.Included(path) {
				seen[path] = true
				out = append(out, path)
			}
		}
	}
	return out
}

// source tells the findings of a source, and keeps those of what it includes.
func (w *workspacePull) source(ctx context.Context, path string) error {
	r, err := w.s.host(w.snap, path)
	if err != nil { // something has changed meanwhile
		w.snap = w.s.current()
		if r, err = w.s.host(w.snap, path); err != nil {
			return errModified
		}
	}
	if r == nil {
		return nil
	}
	r, res, err := w.s.result(ctx, r)
	if err == nil {
		err = w.s.complete(ctx, r, res)
	}
	switch {
	case ctx.Err() != nil:
		return context.Cause(ctx)
	case err != nil:
		w.s.log.Warn("no findings", zap.String("path", path), zap.Error(err))
		return nil
	}
	defer w.release(r)
	for key, p := range w.s.pages(w.snap, r, res, res.Diagnostics()) {
		if key == r.doc.key {
			w.tell(key, w.s.wholly(w.snap, key, p))
			continue
		}
		if old, ok := w.parts[key]; ok {
			p = p.with(old)
		}
		w.parts[key] = p
	}
	return nil
}

// maxKept is how many analyses of sources that are not open are kept for the next request;
// each may hold some megabytes.
const maxKept = 200

// release lets the analysis of a source go that is not open, if there are many.
func (w *workspacePull) release(r *run) {
	w.s.mu.Lock()
	defer w.s.mu.Unlock()
	for _, snap := range []*snapshot{w.snap, w.s.snap} {
		if snap.hidden[r.doc.key] == r && len(snap.hidden) > maxKept {
			delete(snap.hidden, r.doc.key)
		}
	}
}

// tell adds a report, or sends it where the client takes them one by one.
func (w *workspacePull) tell(key docKey, p page) {
	w.told[key] = true
	report := p.report(w.previous[key])
	report.URI, report.Version = p.uri, p.version
	if len(w.partial) == 0 {
		w.items = append(w.items, report)
		return
	}
	w.s.notify("$/progress", pullProgress{w.partial, workspaceDiagnosticReport{[]diagnosticReport{report}}})
}

// pullProgress is a part of an answer, or how far it is, for a token of the client's.
type pullProgress struct {
	Token json.RawMessage `json:"token"`
	Value any             `json:"value"`
}

// progress tells a client that has given a token how far the work is.
func (w *workspacePull) progress(kind, text string, percent int) {
	if len(w.done) == 0 {
		return
	}
	v := workDoneValue{Kind: kind, Percentage: &percent}
	switch kind {
	case "begin":
		v.Title = text
	case "report":
		v.Message = text
	default:
		v.Percentage = nil
	}
	w.s.notify("$/progress", pullProgress{w.done, v})
}

// setTrace follows $/setTrace: off, messages or verbose.
func (s *Server) setTrace(params json.RawMessage) error {
	p, err := decode[struct {
		Value string `json:"value"`
	}](params)
	if err != nil {
		return err
	}
	s.traceAs(p.Value)
	return nil
}

// traceAs notes how much the client wants to be told of the server's work.
func (s *Server) traceAs(value string) {
	level := slices.Index([]string{"off", "messages", "verbose"}, value)
	s.trace.Store(int32(max(level, 0)))
}

// logTrace tells a client that has asked for it what has been done, with more of it where
// it wants all.
func (s *Server) logTrace(message, verbose string) {
	level := s.trace.Load()
	if level == 0 {
		return
	}
	p := struct {
		Message string `json:"message"`
		Verbose string `json:"verbose,omitempty"`
	}{message, ""}
	if level > 1 {
		p.Verbose = verbose
	}
	s.notify("$/logTrace", p)
}
