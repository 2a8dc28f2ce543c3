package server

import (
	"slices"
	"sync"
	"time"

	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"

	"narrowgauge/analysis"
)

// Findings about several files. They come after those of each file, when the workspace's
// sources are known, and no finding of one file waits for them.

// across has these findings by document.
type across struct {
	mu    sync.Mutex
	timer *time.Timer
	pages map[docKey]acrossPage
	run   sync.Mutex // one at a time looks for them
	again bool       // something has changed while it did
}

// acrossPage are the findings of a document, as its text was.
type acrossPage struct {
	text  *text
	found []acrossFinding
}

// acrossFinding is a finding, or a place with a name that another source defines: that a
// linker has to supply it is no news then.
type acrossFinding struct {
	span  analysis.Span
	known bool
	wire  protocol.Diagnostic
}

// lookAcross looks for findings about several files, a moment after the last call.
func (s *Server) lookAcross() {
	a := &s.across
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.timer != nil {
		a.timer.Reset(s.opt.acrossDelay)
		return
	}
	a.timer = time.AfterFunc(s.opt.acrossDelay, func() {
		if s.ctx.Err() == nil {
			_, _ = guard(s, func() (any, error) { s.findAcross(); return nil, nil })
		}
	})
}

// findAcross finds what does not fit between the sources of the workspace, for the open
// documents.
func (s *Server) findAcross() {
	a := &s.across
	if !a.run.TryLock() {
		a.mu.Lock()
		a.again = true
		a.mu.Unlock()
		return
	}
	defer a.run.Unlock()
	snap := s.current()
	if snap != s.pub.whole.Load() {
		return // what only depends on a change waits; it is looked again when that is done
	}
	s.catalogue()
	all, complete, err := s.units(s.ctx, snap, 0)
	if err != nil {
		return
	}
	found := s.list(s.ctx)
	w := &analysis.Workspace{Closed: complete && found.All && len(found.Texts) == 0 && found.Objects == 0}
	for _, u := range all {
		w.Units = append(w.Units, &u.LinkUnit)
	}
	where := s.places(snap)
	pages := map[docKey]acrossPage{}
	var tells analysis.Tells
	for i, u := range all {
		if u.run == nil || !s.inFolders(u.Path) {
			continue
		}
		for _, l := range w.Supplied(i) {
			if doc := snap.docs[pathKey(l.Path)]; doc != nil {
				p := pages[doc.key]
				p.text = doc.text
				p.found = append(p.found, acrossFinding{span: l.Span, known: true})
				pages[doc.key] = p
			}
		}
		for _, d := range w.Check(i) {
			d, ok := told(&tells, u.run, d)
			if !ok {
				continue
			}
			key := pathKey(d.Path)
			doc := snap.docs[key]
			if doc == nil {
				continue
			}
			if wire, ok := s.diagnostic(u.run, d); ok {
				if s.caps.TextDocument.PublishDiagnostics.RelatedInformation {
					wire.RelatedInformation = where.related(d)
				}
				p := pages[key]
				p.text = doc.text
				p.found = append(p.found, acrossFinding{span: d.Span, wire: wire})
				pages[key] = p
			}
		}
	}
	a.mu.Lock()
	same := len(a.pages) == 0 && len(pages) == 0
	again := a.again
	a.pages, a.again = pages, false
	a.mu.Unlock()
	if again {
		s.lookAcross()
	}
	if !same {
		s.wake()
	}
}

// told is a finding about several files as comments and the settings of the run have it; ok
// is false where they leave it out.
func told(tells *analysis.Tells, r *run, d analysis.Diagnostic) (analysis.Diagnostic, bool) {
	src := r.source(d.Path)
	if src == nil {
		return d, true
	}
	r.mu.Lock()
	set := r.set
	r.mu.Unlock()
	return tells.Told(d, src.file, set)
}

func (p *places) related(d analysis.Diagnostic) (out []protocol.DiagnosticRelatedInformation) {
	for _, r := range d.Related {
		if t := p.text(r.Path); t != nil {
			out = append(out, protocol.DiagnosticRelatedInformation{Location: protocol.Location{URI: uri.URI(p.uri(r.Path)), Range: t.rangeOf(r.Span, p.s.enc)}, Message: r.Message})
		}
	}
	return out
}

// of gives the findings of a document for its present text, those in parts that are still
// what they were; and the places with names that other sources define.
func (a *across) of(doc *document, enc encoding) (out []finding, known []analysis.Span) {
	a.mu.Lock()
	p, ok := a.pages[doc.key]
	a.mu.Unlock()
	if !ok {
		return nil, nil
	}
	was, now := p.text.file.Text(), doc.text.file.Text()
	head, tail := 0, 0
	if was != now {
		most := min(len(was), len(now))
		for head < most && was[head] == now[head] {
			head++
		}
		for tail < most-head && was[len(was)-1-tail] == now[len(now)-1-tail] {
			tail++
		}
	} else {
		head = len(was)
	}
	for _, f := range p.found {
		switch {
		case f.span.End <= head:
		case f.span.Start >= len(was)-tail:
			by := len(now) - len(was)
			f.span.Start, f.span.End = f.span.Start+by, f.span.End+by
		default:
			continue
		}
		if f.known {
			known = append(known, f.span)
			continue
		}
		f.wire.Range = doc.text.rangeOf(f.span, enc)
		code, _ := f.wire.Code.(string)
		out = append(out, finding{code: code, span: f.span, wire: f.wire})
	}
	return out, known
}

// withAcross adds the findings about several files to the pages of documents. One that says
// more of a name than the source alone can takes its place.
func (s *Server) withAcross(snap *snapshot, pages map[docKey]page) {
	for key, p := range pages {
		doc := snap.docs[key]
		if doc == nil {
			continue
		}
		more, known := s.across.of(doc, s.enc)
		said := map[analysis.Span]bool{}
		for _, span := range known {
			said[span] = true
		}
		for _, f := range more {
			said[f.span] = said[f.span] || f.code == analysis.CodeNowhere
		}
		if len(more)+len(said) == 0 {
			continue
		}
		p.found = slices.DeleteFunc(slices.Clone(p.found), func(f finding) bool { return f.code == analysis.CodeExternal && said[f.span] })
		p.found = append(p.found, more...)
		pages[key] = p
	}
}
