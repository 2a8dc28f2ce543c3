package server

import (
	"context"
	"encoding/json"

	"go.lsp.dev/protocol"

	"narrowgauge/analysis"
)

// linkData travels, as JSON in a string, from documentLink to its resolve request.
type linkData struct {
	URI     string `json:"uri"`
	Version int32  `json:"version"`
	Start   int    `json:"start"` // byte offset
}

// documentLink is of LSP 3.17.
type documentLink struct {
	Range  protocol.Range `json:"range"`
	Target string         `json:"target,omitempty"`
	Data   string         `json:"data,omitempty"`
}

type linkOptions struct {
	ResolveProvider bool `json:"resolveProvider"`
}

// links answers textDocument/documentLink: names of files, where they are is told when they are
// resolved.
func (s *Server) links(params json.RawMessage) (work, error) {
	snap, doc, err := s.whole(params)
	if err != nil {
		return nil, err
	}
	return s.readings(snap, doc, func(r *run, res reading) any {
		out := []documentLink{}
		for _, l := range res.LinksIn(doc.name()) {
			if r.fileOf(doc.name(), &l) == "" {
				continue // the finding says that it is not there
			}
			data, _ := json.Marshal(linkData{doc.uri, doc.version, l.Span.Start})
			out = append(out, documentLink{Range: doc.text.rangeOf(l.Span, s.enc), Data: string(data)})
		}
		return out
	}), nil
}

// fileOf is the path of the file that a link in a document names; empty where it was not found.
func (r *run) fileOf(from string, l *analysis.Link) string {
	if l.Path != "" {
		return l.Path
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.bytes[r.wish(analysis.Wanted{From: from, Name: l.Name})]
}

// resolveLink answers documentLink/resolve.
func (s *Server) resolveLink(params json.RawMessage) (work, error) {
	link, err := decode[documentLink](params)
	if err != nil {
		return nil, err
	}
	if link.Data == "" {
		return func(context.Context) (any, error) { return link, nil }, nil
	}
	var data linkData
	if json.Unmarshal([]byte(link.Data), &data) != nil {
		return nil, invalidParams("data is not what documentLink has sent")
	}
	snap, doc, err := s.unchanged(data.URI, data.Version)
	if err != nil {
		return nil, err
	}
	return s.readings(snap, doc, func(r *run, res reading) any {
		for _, l := range res.LinksIn(doc.name()) {
			if path := r.fileOf(doc.name(), &l); path != "" && l.Span.Start == data.Start {
				link.Target = fileURI(path)
				if open := snap.docs[pathKey(path)]; open != nil {
					link.Target = open.uri
				}
			}
		}
		return link
	}), nil
}
