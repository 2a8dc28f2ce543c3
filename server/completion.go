package server

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"

	"go.lsp.dev/protocol"

	"narrowgauge/analysis"
)

// maxCompletions bounds an answer; more letters bring what is left out.
const maxCompletions = 1000

// completionKinds maps ours to those of the protocol, which knows no assembly: each gets
// the one whose picture fits best.
var completionKinds = map[analysis.CompletionKind]protocol.CompletionItemKind{
	analysis.CompleteInstruction: protocol.CompletionItemKindKeyword,
	analysis.CompleteDirective:   protocol.CompletionItemKindProperty,
	analysis.CompleteMacro:       protocol.CompletionItemKindMethod,
	analysis.CompleteRegister:    protocol.CompletionItemKindField,
	analysis.CompleteLabel:       protocol.CompletionItemKindReference,
	analysis.CompleteFunction:    protocol.CompletionItemKindFunction,
	analysis.CompleteConstant:    protocol.CompletionItemKindConstant,
	analysis.CompleteWord:        protocol.CompletionItemKindEnumMember,
}

// completion answers textDocument/completion (LSP 3.17). The list is never whole: names
// with conditions come when some letters are there.
func (s *Server) completion(params json.RawMessage) (work, error) {
	at, err := s.at(params)
	if err != nil {
		return nil, err
	}
	return s.asked(at.snap, at.doc, func(_ *run, res facts) any {
		list, span := res.CompletionsIn(at.doc.name(), at.off)
		edit := at.doc.text.rangeOf(span, s.enc)
		out := protocol.CompletionList{IsIncomplete: true, Items: make([]protocol.CompletionItem, 0, min(len(list), maxCompletions))}
		for i, c := range list[:min(len(list), maxCompletions)] {
			out.Items = append(out.Items, protocol.CompletionItem{
				Label: c.Text, Kind: completionKinds[c.Kind], Detail: c.Detail, SortText: fmt.Sprintf("%d%04d", c.Rank, i),
				TextEdit: &protocol.TextEdit{Range: edit, NewText: c.Text},
			})
		}
		return out
	}), nil
}

// resolveCompletion answers completionItem/resolve with what is known of the item.
func (s *Server) resolveCompletion(params json.RawMessage) (work, error) {
	item, err := decode[protocol.CompletionItem](params)
	if err != nil {
		return nil, err
	}
	return func(context.Context) (any, error) {
		switch item.Kind {
		case protocol.CompletionItemKindKeyword, protocol.CompletionItemKindProperty, protocol.CompletionItemKindField, protocol.CompletionItemKindEnumMember:
			if md, _, ok := analysis.Explain(strings.ToLower(item.Label)); ok {
				item.Documentation = markup{"markdown", md}
			}
		}
		return item, nil
	}, nil
}
