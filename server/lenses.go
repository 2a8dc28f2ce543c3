package server

import (
	"context"
	"encoding/json"

	"go.lsp.dev/protocol"

	"narrowgauge/analysis"
)

// lensData travels, as JSON in a string, from codeLens to its resolve request.
type lensData struct {
	URI     string            `json:"uri"`
	Version int32             `json:"version"`
	Kind    analysis.LensKind `json:"kind"`
	Name    string            `json:"name"`
}

// codeLens and its command are of LSP 3.17; a command without a name is a text only.
type codeLens struct {
	Range   protocol.Range `json:"range"`
	Command *lensCommand   `json:"command,omitempty"`
	Data    string         `json:"data,omitempty"`
}

type lensCommand struct {
	Title   string `json:"title"`
	Command string `json:"command"`
}

type lensOptions struct {
	ResolveProvider bool `json:"resolveProvider"`
}

// lenses answers textDocument/codeLens. What takes longer has its text when it is resolved.
func (s *Server) lenses(params json.RawMessage) (work, error) {
	snap, doc, err := s.whole(params)
	if err != nil {
		return nil, err
	}
	s.mu.Lock()
	kinds := chosen(s.editor.Lenses, analysis.LensKinds, analysis.LensesAtFirst)
	s.mu.Unlock()
	return s.readings(snap, doc, func(_ *run, res reading) any {
		out := []codeLens{}
		for _, l := range res.LensesIn(doc.name(), kinds) {
			x := codeLens{Range: doc.text.rangeOf(l.Span, s.enc)}
			if x.Range.End.Line != x.Range.Start.Line {
				x.Range.End = x.Range.Start // LSP 3.17: one line only
			}
			if l.Text != "" {
				x.Command = &lensCommand{Title: l.Text}
			} else {
				data, _ := json.Marshal(lensData{doc.uri, doc.version, l.Kind, l.Name})
				x.Data = string(data)
			}
			out = append(out, x)
		}
		return out
	}), nil
}

// resolveLens answers codeLens/resolve.
func (s *Server) resolveLens(params json.RawMessage) (work, error) {
	lens, err := decode[codeLens](params)
	if err != nil {
		return nil, err
	}
	if lens.Data == "" {
		return func(context.Context) (any, error) { return lens, nil }, nil
	}
	var data lensData
	if json.Unmarshal([]byte(lens.Data), &data) != nil {
		return nil, invalidParams("data is not what codeLens has sent")
	}
	snap, doc, err := s.unchanged(data.URI, data.Version)
	if err != nil {
		return nil, err
	}
	return s.answered(snap, doc, func(ctx context.Context, _ *run, res facts) (any, error) {
		lens.Command = &lensCommand{Title: "?"}
		if res, ok := res.(reading); ok {
			text, err := res.LensText(ctx, data.Kind, data.Name)
			if err != nil {
				return nil, err
			}
			if text != "" {
				lens.Command.Title = text
			}
		}
		return lens, nil
	}), nil
}
