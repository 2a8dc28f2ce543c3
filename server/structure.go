package server

import (
	"context"
	"encoding/json"
	"slices"

	"go.lsp.dev/protocol"

	"narrowgauge/analysis"
)

// highlight answers textDocument/documentHighlight: the places in the document that name
// what is at the position; where it is defined, that is written.
func (s *Server) highlight(params json.RawMessage) (work, error) {
	at, err := s.at(params)
	if err != nil {
		return nil, err
	}
	return s.asked(at.snap, at.doc, func(_ *run, res facts) any {
		name := at.doc.name()
		defined := res.DefinitionIn(name, at.off)
		out := []protocol.DocumentHighlight{}
		for _, l := range res.ReferencesIn(name, at.off) {
			if l.Path != name {
				continue
			}
			kind := protocol.DocumentHighlightKindRead
			if slices.Contains(defined, l) {
				kind = protocol.DocumentHighlightKindWrite
			}
			out = append(out, protocol.DocumentHighlight{Range: at.doc.text.rangeOf(l.Span, s.enc), Kind: kind})
		}
		return out
	}), nil
}

// folding answers textDocument/foldingRange, by lines.
func (s *Server) folding(params json.RawMessage) (work, error) {
	snap, doc, err := s.whole(params)
	if err != nil {
		return nil, err
	}
	return s.asked(snap, doc, func(_ *run, res facts) any {
		out := []protocol.FoldingRange{}
		for _, f := range res.FoldsIn(doc.name()) {
			x := protocol.FoldingRange{StartLine: uint32(f.First), EndLine: uint32(f.Last)}
			if f.Comment {
				x.Kind = protocol.CommentFoldingRange
			}
			out = append(out, x)
		}
		return out
	}), nil
}

// maxPositions is at how many positions a client may ask what is around them: an editor has one
// for each cursor.
const maxPositions = 10_000

// selection answers textDocument/selectionRange: for each position what is around it.
func (s *Server) selection(params json.RawMessage) (work, error) {
	p, err := decode[selectionParams](params)
	if err != nil {
		return nil, err
	}
	if len(p.Positions) > maxPositions {
		return nil, invalidParams("%d positions are more than %d", len(p.Positions), maxPositions)
	}
	snap := s.current()
	doc, err := snap.document(p.TextDocument.URI)
	if err != nil {
		return nil, err
	}
	return s.answered(snap, doc, func(ctx context.Context, _ *run, res facts) (any, error) {
		out, spans := make([]protocol.SelectionRange, 0, len(p.Positions)), res.Around(doc.name())
		for _, at := range p.Positions {
			if ctx.Err() != nil {
				return nil, context.Cause(ctx)
			}
			off := doc.text.offset(at, s.enc)
			around := spans(off)
			if len(around) == 0 { // the specification wants one for each position
				around = []analysis.Span{{Start: off, End: off}}
			}
			var last *protocol.SelectionRange
			for _, span := range slices.Backward(around) {
				last = &protocol.SelectionRange{Range: doc.text.rangeOf(span, s.enc), Parent: last}
			}
			out = append(out, *last)
		}
		return out, nil
	}), nil
}
