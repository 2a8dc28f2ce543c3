package server

import (
	"encoding/json"
	"slices"

	"go.lsp.dev/protocol"

	"narrowgauge/analysis"
)

// chosen are the names of a setting that there are; those at first where it names none.
func chosen[T ~string](setting []string, known, first []T) []T {
	if len(setting) == 0 {
		return first
	}
	return slices.DeleteFunc(slices.Clone(known), func(k T) bool { return !slices.Contains(setting, string(k)) })
}

// hints answers textDocument/inlayHint, with the kinds that the settings choose.
func (s *Server) hints(params json.RawMessage) (work, error) {
	snap, doc, err := s.whole(params)
	if err != nil {
		return nil, err
	}
	span, err := s.spanOf(doc, params)
	if err != nil {
		return nil, err
	}
	s.mu.Lock()
	kinds := chosen(s.editor.Hints, analysis.HintKinds, analysis.HintsAtFirst)
	s.mu.Unlock()
	return s.readings(snap, doc, func(r *run, res reading) any {
		out := []inlayHint{}
		for _, h := range res.HintsIn(doc.name(), span, kinds) {
			x := inlayHint{Position: doc.text.position(h.At, s.enc), Label: []inlayHintPart{{Value: h.Text}}, PaddingLeft: true}
			if h.Tip != "" {
				x.Tooltip = &markup{"markdown", h.Tip}
			}
			if h.Where != nil {
				if loc, ok := s.location(r, *h.Where); ok {
					x.Label[0].Location = &loc
				}
			}
			out = append(out, x)
		}
		return out
	}), nil
}

// inlayHint, and its part, are of LSP 3.17.
type inlayHint struct {
	Position    protocol.Position `json:"position"`
	Label       []inlayHintPart   `json:"label"`
	Tooltip     *markup           `json:"tooltip,omitempty"`
	PaddingLeft bool              `json:"paddingLeft"`
}

type inlayHintPart struct {
	Value    string             `json:"value"`
	Location *protocol.Location `json:"location,omitempty"`
}
