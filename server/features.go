package server

import (
	"context"
	"encoding/json"
	"slices"
	"strings"
	"time"

	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"

	"narrowgauge/analysis"
)

// place is a position in a document at the time of a request.
type place struct {
	snap *snapshot
	doc  *document
	off  int
}

// at decodes a request about a position.
func (s *Server) at(params json.RawMessage) (place, error) {
	p, err := decode[positionParams](params)
	if err != nil {
		return place{}, err
	}
	if p.Position == nil {
		return place{}, invalidParams("position is missing")
	}
	snap := s.current()
	doc, err := snap.document(p.TextDocument.URI)
	if err != nil {
		return place{}, err
	}
	return place{snap, doc, doc.text.offset(*p.Position, s.enc)}, nil
}

// whole decodes a request about a whole document.
func (s *Server) whole(params json.RawMessage) (*snapshot, *document, error) {
	p, err := decode[documentParams](params)
	if err != nil {
		return nil, nil, err
	}
	snap := s.current()
	doc, err := snap.document(p.TextDocument.URI)
	return snap, doc, err
}

// asked is the work of a question: what the analysis that speaks for a document answers.
func (s *Server) asked(snap *snapshot, doc *document, answer func(r *run, res facts) any) work {
	return s.answered(snap, doc, func(_ context.Context, r *run, res facts) (any, error) { return answer(r, res), nil })
}

// answered is asked for a question that may wait or fail itself.
func (s *Server) answered(snap *snapshot, doc *document, answer func(ctx context.Context, r *run, res facts) (any, error)) work {
	return func(ctx context.Context) (any, error) {
		r, res, err := s.spoken(ctx, snap, doc)
		if err != nil {
			return nil, err
		}
		return answer(ctx, r, res)
	}
}

// unchanged finds the document of an earlier answer: its text has to be that of then.
func (s *Server) unchanged(docURI string, version int32) (*snapshot, *document, error) {
	snap := s.current()
	doc, err := snap.document(docURI)
	if err == nil && doc.version != version {
		err = errModified
	}
	return snap, doc, err
}

func (s *Server) hover(params json.RawMessage) (work, error) {
	at, err := s.at(params)
	if err != nil {
		return nil, err
	}
	return s.answered(at.snap, at.doc, func(ctx context.Context, r *run, res facts) (any, error) {
		h, ok := res.HoverIn(at.doc.name(), at.off)
		if !ok {
			return nil, nil
		}
		if name, defined, ok := publicAt(res, at.doc.name(), at.off); ok && !defined {
			if md := s.toldElsewhere(ctx, at.snap, r, res, name); md != "" {
				h.Markdown = md
			}
		}
		return hover{marked(h.Markdown, s.caps.TextDocument.Hover.ContentFormat), at.doc.text.rangeOf(h.Span, s.enc)}, nil
	}), nil
}

// marked is Markdown for a client that takes these formats.
func marked(md string, formats []string) markup {
	if slices.Contains(formats, "markdown") {
		return markup{"markdown", md}
	}
	return markup{"plaintext", plain(md)}
}

// toldElsewhere is what the source that defines a name for all says of it, as Markdown; empty where
// that is not known in time.
func (s *Server) toldElsewhere(ctx context.Context, snap *snapshot, r *run, res facts, name string) string {
	// The others that ask about the document wait meanwhile, so sources that have not been read
	// are left out: they are read soon after a document is opened.
	within, cancel := context.WithTimeout(ctx, s.opt.answerWithin/7)
	defer cancel()
	all, _, err := s.units(within, snap, time.Nanosecond)
	if err != nil {
		return ""
	}
	others := companions(all, ownUnit(all, r, res))[1:]
	for _, weak := range []bool{false, true} {
		for _, u := range others {
			y := u.Public(name)
			if y == nil || !y.Defines() || y.At.Path == "" || weak == (y.Binding == analysis.LinkGlobal) {
				continue
			}
			j, err := s.program(within, snap, u)
			if err != nil {
				return ""
			}
			md := j.res.Documentation(name)
			j.end()
			if md != "" {
				return md
			}
		}
	}
	return ""
}

func (s *Server) documentSymbol(params json.RawMessage) (work, error) {
	snap, doc, err := s.whole(params)
	if err != nil {
		return nil, err
	}
	return s.asked(snap, doc, func(_ *run, res facts) any {
		tree := s.symbols(doc.text, res.SymbolsIn(doc.name()))
		if s.caps.TextDocument.DocumentSymbol.Hierarchical {
			return tree
		}
		return flatten(make([]protocol.SymbolInformation, 0, len(tree)), doc.uri, "", tree)
	}), nil
}

// symbolKinds maps ours to those of the protocol, which knows no assembly:
// each gets the one whose picture fits best.
var symbolKinds = map[analysis.SymbolKind]protocol.SymbolKind{
	analysis.SymCode:     protocol.SymbolKindKey,
	analysis.SymFunction: protocol.SymbolKindFunction,
	analysis.SymData:     protocol.SymbolKindVariable,
	analysis.SymConstant: protocol.SymbolKindConstant,
	analysis.SymRegister: protocol.SymbolKindField,
	analysis.SymSection:  protocol.SymbolKindNamespace,
	analysis.SymMacro:    protocol.SymbolKindMethod,
}

func (s *Server) symbols(t *text, in []analysis.DocSymbol) []protocol.DocumentSymbol {
	out := make([]protocol.DocumentSymbol, 0, len(in))
	for _, d := range in {
		// LSP 3.17: a name may not be blank, and the selection must lie
		// inside the range.
		name := d.Name
		if strings.TrimSpace(name) == "" {
			name = "(unnamed)"
		}
		full := d.Full
		full.Start, full.End = min(full.Start, d.NameSpan.Start), max(full.End, d.NameSpan.End)
		sym := protocol.DocumentSymbol{
			Name: name, Detail: d.Detail, Kind: symbolKinds[d.Kind],
			Range: t.rangeOf(full, s.enc), SelectionRange: t.rangeOf(d.NameSpan, s.enc),
		}
		if len(d.Children) > 0 {
			sym.Children = s.symbols(t, d.Children)
		}
		out = append(out, sym)
	}
	return out
}

func flatten(out []protocol.SymbolInformation, docURI, container string, in []protocol.DocumentSymbol) []protocol.SymbolInformation {
	for _, d := range in {
		out = append(out, protocol.SymbolInformation{
			Name: d.Name, Kind: d.Kind, ContainerName: container,
			Location: protocol.Location{URI: uri.URI(docURI), Range: d.SelectionRange},
		})
		out = flatten(out, docURI, d.Name, d.Children)
	}
	return out
}
