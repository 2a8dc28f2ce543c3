package server

import (
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"time"

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
	analysis.CompleteTemplate:    protocol.CompletionItemKindSnippet,
}

// completion answers textDocument/completion (LSP 3.17). The list is never whole: names
// with conditions come when some letters are there.
func (s *Server) completion(params json.RawMessage) (work, error) {
	at, err := s.at(params)
	if err != nil {
		return nil, err
	}
	asked, err := decode[struct {
		Context struct {
			TriggerCharacter string `json:"triggerCharacter"`
		} `json:"context"`
	}](params)
	if err != nil {
		return nil, err
	}
	return s.answered(at.snap, at.doc, func(ctx context.Context, r *run, res facts) (any, error) {
		if in, ok := res.IncludedIn(at.doc.name(), at.off); ok {
			return s.includedNames(r, at, in), nil
		}
		list, span := res.CompletionsAmong(at.doc.name(), at.off, s.elsewhere(ctx, at.snap, r))
		if asked.Context.TriggerCharacter == " " && slices.ContainsFunc(list, func(c analysis.Completion) bool { return c.Kind == analysis.CompleteInstruction }) {
			list = nil // a blank in front of a statement asks for nothing: Enter would take the first of all instructions
		}
		if can := &s.caps.TextDocument.Completion.Item; !can.SnippetSupport && can.InsertTextModeSupport == nil {
			// Such a client may put what it gets into one line: that of Neovim up to 0.10 writes bytes
			// with the value 0 between what should be lines.
			list = slices.DeleteFunc(list, func(c analysis.Completion) bool { return c.Template != nil })
		}
		edit := at.doc.text.rangeOf(span, s.enc)
		out := protocol.CompletionList{IsIncomplete: true, Items: make([]protocol.CompletionItem, 0, min(len(list), maxCompletions))}
		for i := range list[:min(len(list), maxCompletions)] {
			out.Items = append(out.Items, s.completionItem(at.doc, &list[i], i, edit))
		}
		return out, nil
	}), nil
}

// elsewhere visits what the workspace's other sources define for all, as far as that is known at
// once: what has not been read yet is not waited for, as other questions wait meanwhile.
func (s *Server) elsewhere(ctx context.Context, snap *snapshot, own *run) func(visit func(analysis.Elsewhere)) {
	return func(visit func(analysis.Elsewhere)) {
		within, cancel := context.WithTimeout(ctx, s.opt.answerWithin/7)
		defer cancel()
		all, _, err := s.units(within, snap, time.Nanosecond)
		if err != nil {
			return
		}
		known := map[string]bool{}
		for _, u := range all {
			if u.run == own || u.Path == own.doc.path {
				continue
			}
			for i := range u.Symbols {
				y := &u.Symbols[i]
				if y.Binding != analysis.LinkGlobal && y.Binding != analysis.LinkWeak && y.Binding != analysis.LinkCommon || y.At.Path == "" || known[y.Name] {
					continue
				}
				known[y.Name] = true
				visit(analysis.Elsewhere{Name: y.Name, Source: filepath.Base(y.At.Path), Code: y.Code, Routine: y.Function || y.Routine})
			}
		}
	}
}

// completionData is what an item carries back to completionItem/resolve.
type completionData struct {
	URI string `json:"uri"`
}

// completionItem is a completion at index i, in place of what is in a range.
func (s *Server) completionItem(doc *document, c *analysis.Completion, i int, edit protocol.Range) protocol.CompletionItem {
	item := protocol.CompletionItem{
		Label: c.Text, Kind: completionKinds[c.Kind], Detail: c.Detail, SortText: fmt.Sprintf("%d%04d", c.Rank, i),
		TextEdit: &protocol.TextEdit{Range: edit, NewText: c.Text},
	}
	switch c.Kind {
	case analysis.CompleteMacro, analysis.CompleteLabel, analysis.CompleteFunction, analysis.CompleteConstant:
		item.Data = completionData{doc.uri}
	}
	if c.Template == nil {
		return item
	}
	can := s.caps.TextDocument.Completion.Item
	item.TextEdit.NewText = templateText(c.Template, can.SnippetSupport)
	if can.SnippetSupport {
		item.InsertTextFormat = protocol.InsertTextFormatSnippet
	}
	if m := can.InsertTextModeSupport; m != nil && slices.Contains(m.ValueSet, int(protocol.InsertTextModeAsIs)) {
		item.InsertTextMode = protocol.InsertTextModeAsIs // it has the indentation of the file already
	}
	return item
}

// templateText is a template as the protocol has it, with places to fill in (LSP 3.17, "Snippet
// Syntax"), or as text.
func templateText(parts []analysis.CompletionPart, snippet bool) string {
	var b strings.Builder
	escape := strings.NewReplacer(`\`, `\\`, `$`, `\$`, `}`, `\}`)
	for _, p := range parts {
		switch {
		case !snippet:
			b.WriteString(p.Text)
		case !p.Hole:
			b.WriteString(escape.Replace(p.Text))
		case p.Text == "":
			fmt.Fprintf(&b, "$%d", p.N)
		default:
			fmt.Fprintf(&b, "${%d:%s}", p.N, escape.Replace(p.Text))
		}
	}
	return b.String()
}

// includedNames lists the files and folders that the name of an included file can go on with.
func (s *Server) includedNames(r *run, at place, in analysis.Included) protocol.CompletionList {
	out := protocol.CompletionList{Items: []protocol.CompletionItem{}}
	set, within := r.settings()
	if at.doc.path == "" || within == nil {
		return out
	}
	open, release := within.Hold()
	defer release()
	search := r.search(set.Include, open).Of(r.doc.path)
	edit := at.doc.text.rangeOf(in.Name, s.enc)
	for i, name := range search.Names(analysis.Wanted{Name: in.Folder, From: at.doc.path, System: in.System}, in.Raw) {
		if i == maxCompletions {
			out.IsIncomplete = true
			break
		}
		kind := protocol.CompletionItemKindFile
		if strings.HasSuffix(name, "/") {
			kind = protocol.CompletionItemKindFolder
		}
		out.Items = append(out.Items, protocol.CompletionItem{Label: name, Kind: kind, TextEdit: &protocol.TextEdit{Range: edit, NewText: name}})
	}
	return out
}

// resolveCompletion answers completionItem/resolve with what is known of the item.
func (s *Server) resolveCompletion(params json.RawMessage) (work, error) {
	item, err := decode[protocol.CompletionItem](params)
	if err != nil {
		return nil, err
	}
	formats := s.caps.TextDocument.Completion.Item.DocumentationFormat
	switch item.Kind {
	case protocol.CompletionItemKindKeyword, protocol.CompletionItemKindProperty, protocol.CompletionItemKindField, protocol.CompletionItemKindEnumMember:
		return func(context.Context) (any, error) {
			if md, _, ok := analysis.Explain(strings.ToLower(item.Label)); ok {
				item.Documentation = marked(md, formats)
			}
			return item, nil
		}, nil
	}
	var carried struct {
		Data completionData `json:"data"`
	}
	snap := s.current()
	if json.Unmarshal(params, &carried) == nil && carried.Data.URI != "" {
		if doc, err := snap.document(carried.Data.URI); err == nil {
			return s.answered(snap, doc, func(ctx context.Context, r *run, res facts) (any, error) {
				md := res.Documentation(item.Label)
				if md == "" {
					md = s.toldElsewhere(ctx, snap, r, res, item.Label)
				}
				if md != "" {
					item.Documentation = marked(md, formats)
				}
				return item, nil
			}), nil
		}
	}
	return func(context.Context) (any, error) { return item, nil }, nil
}
