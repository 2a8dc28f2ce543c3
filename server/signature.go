package server

import (
	"encoding/json"
	"unicode/utf16"
)

// signatureHelp answers textDocument/signatureHelp: how the statement at the position may be
// written, and what its operand there may be.
func (s *Server) signatureHelp(params json.RawMessage) (work, error) {
	at, err := s.at(params)
	if err != nil {
		return nil, err
	}
	formats := s.caps.TextDocument.SignatureHelp.Information.DocumentationFormat
	offsets := s.caps.TextDocument.SignatureHelp.Information.Parameter.LabelOffsets
	return s.readings(at.snap, at.doc, func(_ *run, res reading) any {
		found, ok := res.SignaturesIn(at.doc.name(), at.off)
		if !ok {
			return nil
		}
		out := signatureHelp{ActiveSignature: uint32(found.Active), ActiveParameter: uint32(found.Part)}
		for _, x := range found.List {
			sig := signatureInformation{Label: x.Label, Parameters: []parameterInformation{}}
			if x.Doc != "" {
				doc := marked(x.Doc, formats)
				sig.Documentation = &doc
			}
			for _, p := range x.Parameters {
				part := parameterInformation{Label: x.Label[p.Start:p.End]}
				if offsets {
					// UTF-16 units whatever the encoding of positions (LSP 3.17, ParameterInformation).
					part.Label = [2]int{utf16Length(x.Label[:p.Start]), utf16Length(x.Label[:p.End])}
				}
				if p.Doc != "" {
					doc := marked(p.Doc, formats)
					part.Documentation = &doc
				}
				sig.Parameters = append(sig.Parameters, part)
			}
			out.Signatures = append(out.Signatures, sig)
		}
		return out
	}), nil
}

func utf16Length(text string) int { return len(utf16.Encode([]rune(text))) }
