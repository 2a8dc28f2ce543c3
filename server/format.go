package server

import (
	"context"
	"encoding/json"

	"go.lsp.dev/protocol"

	"narrowgauge/analysis"
)

// formatParams is what we read of the parameters of the three requests; the options are not among
// them: blanks are as the file has them, or as the setting format says.
type formatParams struct {
	TextDocument documentID         `json:"textDocument"`
	Range        *protocol.Range    `json:"range"`
	Position     *protocol.Position `json:"position"`
	Ch           string             `json:"ch"`
}

// onTypeOptions are the characters after which a line is laid out: the line above after a line
// end, the line itself after the colon of a label.
type onTypeOptions struct {
	First string   `json:"firstTriggerCharacter"`
	More  []string `json:"moreTriggerCharacter"`
}

// formatting answers textDocument/formatting.
func (s *Server) formatting(params json.RawMessage) (work, error) {
	return s.format(params, func(doc *document, _ *formatParams) (first, last int, err error) {
		return 0, doc.text.lines() - 1, nil
	})
}

// rangeFormatting answers textDocument/rangeFormatting: the lines that the range touches.
func (s *Server) rangeFormatting(params json.RawMessage) (work, error) {
	return s.format(params, func(doc *document, p *formatParams) (first, last int, err error) {
		if p.Range == nil {
			return 0, 0, invalidParams("range is missing")
		}
		span := doc.text.span(*p.Range, s.enc)
		first, last = doc.text.lineAt(span.Start), doc.text.lineAt(span.End)
		if last > first && span.End == doc.text.lineStart(last) {
			last-- // a selection of whole lines ends where the next one begins
		}
		return first, last, nil
	})
}

// onTypeFormatting answers textDocument/onTypeFormatting.
func (s *Server) onTypeFormatting(params json.RawMessage) (work, error) {
	return s.format(params, func(doc *document, p *formatParams) (first, last int, err error) {
		if p.Position == nil {
			return 0, 0, invalidParams("position is missing")
		}
		line := doc.text.lineAt(doc.text.offset(*p.Position, s.enc))
		if p.Ch == "\n" {
			line--
		}
		return line, line, nil
	})
}

// format is the work of the three: the edits that lay out some lines of a document.
func (s *Server) format(params json.RawMessage, lines func(doc *document, p *formatParams) (first, last int, err error)) (work, error) {
	p, err := decode[formatParams](params)
	if err != nil {
		return nil, err
	}
	doc, err := s.current().document(p.TextDocument.URI)
	if err != nil {
		return nil, err
	}
	first, last, err := lines(doc, &p)
	if err != nil {
		return nil, err
	}
	return func(ctx context.Context) (any, error) {
		// What is short has its turn, and takes no longer than other answers. A slot is not the
		// document's own: its analysis may take long, and is not needed.
		if len(doc.text.file.Text()) >= briefBytes {
			release, err := s.slots.acquire(ctx, doc.key+" formatted", false)
			if err != nil {
				return nil, err
			}
			defer release()
		}
		set, _ := s.settingsFor(doc)
		out := []protocol.TextEdit{}
		for _, e := range analysis.Format(doc.text.file, set, first, last) {
			out = append(out, protocol.TextEdit{Range: doc.text.rangeOf(e.Span, s.enc), NewText: e.New})
		}
		return out, nil
	}, nil
}
