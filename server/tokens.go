package server

import (
	"context"
	"encoding/json"
	"slices"
	"strconv"
	"sync"
	"weak"

	"go.lsp.dev/protocol"

	"narrowgauge/analysis"
)

// reading is what is asked of an analysis for what editors show beside and over a text.
type reading interface {
	TokensIn(path string, from, to int) []analysis.Token
	LensesIn(path string, kinds []analysis.LensKind) []analysis.Lens
	LensText(ctx context.Context, kind analysis.LensKind, name string) (string, error)
	RegionsIn(path string) []analysis.Region
	WhereIn(path string, off int) analysis.Where
	LinksIn(path string) []analysis.Link
	HintsIn(path string, span analysis.Span, kinds []analysis.HintKind) []analysis.InlayHint
	SignaturesIn(path string, off int) (analysis.Signatures, bool)
}

// semanticTokens are those of a document as they were sent last.
type semanticTokens struct {
	id   string
	data []uint32
}

// sentTokens keeps what was sent, by document, so that the next answer may be what changed.
type sentTokens struct {
	mu   sync.Mutex
	next int
	last map[docKey]semanticTokens
}

// keep notes tokens as those that were sent last, and gives their id and the ones before.
func (k *sentTokens) keep(key docKey, data []uint32) (id string, before semanticTokens) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.last == nil {
		k.last = map[docKey]semanticTokens{}
	}
	k.next++
	id, before = strconv.Itoa(k.next), k.last[key]
	k.last[key] = semanticTokens{id, data}
	return id, before
}

// forget drops what a document has that is closed.
func (k *sentTokens) forget(key docKey) {
	k.mu.Lock()
	defer k.mu.Unlock()
	delete(k.last, key)
}

// tokenOptions are what the server says of its tokens (LSP 3.17, SemanticTokensOptions).
func tokenOptions() semanticTokensOptions {
	var o semanticTokensOptions
	o.Legend.TokenTypes, o.Legend.TokenModifiers = analysis.TokenKinds, analysis.TokenMarkNames
	o.Range, o.Full.Delta = true, true
	return o
}

// tokenData is what the protocol has for tokens: five numbers each, lines and columns as
// distances from the token before.
func (s *Server) tokenData(t *text, list []analysis.Token) []uint32 {
	out := make([]uint32, 0, 5*len(list))
	var last protocol.Position
	for _, x := range list {
		at, end := t.position(x.Start, s.enc), t.position(x.End, s.enc)
		if end.Line != at.Line || end.Character <= at.Character {
			continue // the protocol has none such
		}
		column := at.Character
		if at.Line == last.Line {
			column -= last.Character
		}
		out = append(out, at.Line-last.Line, column, end.Character-at.Character, uint32(x.Kind), uint32(x.Marks))
		last = at
	}
	return out
}

// readings is asked for what only an analysis of our own answers.
func (s *Server) readings(snap *snapshot, doc *document, answer func(r *run, res reading) any) work {
	return s.asked(snap, doc, func(r *run, res facts) any {
		if res, ok := res.(reading); ok {
			return answer(r, res)
		}
		return nil
	})
}

func (s *Server) wholeTokens(doc *document, res reading) []uint32 {
	return s.tokenData(doc.text, res.TokensIn(doc.name(), 0, doc.text.file.NumLines()))
}

// tokensFull answers textDocument/semanticTokens/full.
func (s *Server) tokensFull(params json.RawMessage) (work, error) {
	snap, doc, err := s.whole(params)
	if err != nil {
		return nil, err
	}
	return s.readings(snap, doc, func(_ *run, res reading) any {
		data := s.wholeTokens(doc, res)
		id, _ := s.tokens.keep(doc.key, data)
		return semanticTokensAnswer{id, data}
	}), nil
}

// tokensDelta answers textDocument/semanticTokens/full/delta: with what changed, if what the
// client has is what was sent last.
func (s *Server) tokensDelta(params json.RawMessage) (work, error) {
	snap, doc, err := s.whole(params)
	if err != nil {
		return nil, err
	}
	p, err := decode[struct {
		Previous string `json:"previousResultId"`
	}](params)
	if err != nil {
		return nil, err
	}
	return s.readings(snap, doc, func(_ *run, res reading) any {
		data := s.wholeTokens(doc, res)
		id, before := s.tokens.keep(doc.key, data)
		if before.id == "" || before.id != p.Previous {
			return semanticTokensAnswer{id, data}
		}
		return semanticTokensDelta{id, changedNumbers(before.data, data)}
	}), nil
}

// changedNumbers is the one edit that makes data of old, or none.
func changedNumbers(old, data []uint32) []semanticTokensEdit {
	n := min(len(old), len(data))
	a := 0
	for a < n && old[a] == data[a] {
		a++
	}
	b := 0
	for b < n-a && old[len(old)-1-b] == data[len(data)-1-b] {
		b++
	}
	if a == len(old) && a == len(data) {
		return []semanticTokensEdit{}
	}
	return []semanticTokensEdit{{uint32(a), uint32(len(old) - a - b), slices.Clone(data[a : len(data)-b])}}
}

// tokensRange answers textDocument/semanticTokens/range.
func (s *Server) tokensRange(params json.RawMessage) (work, error) {
	snap, doc, err := s.whole(params)
	if err != nil {
		return nil, err
	}
	span, err := s.spanOf(doc, params)
	if err != nil {
		return nil, err
	}
	return s.readings(snap, doc, func(_ *run, res reading) any {
		f := doc.text.file
		list := res.TokensIn(doc.name(), f.LineAt(span.Start), f.LineAt(span.End)+1)
		list = slices.DeleteFunc(list, func(x analysis.Token) bool { return x.End <= span.Start || x.Start >= span.End })
		return semanticTokensAnswer{Data: s.tokenData(doc.text, list)}
	}), nil
}

// spanOf is the range that a request is about.
func (s *Server) spanOf(doc *document, params json.RawMessage) (analysis.Span, error) {
	p, err := decode[rangeParams](params)
	if err != nil {
		return analysis.Span{}, err
	}
	if p.Range == nil {
		return analysis.Span{}, invalidParams("range is missing")
	}
	return doc.text.span(*p.Range, s.enc), nil
}

// shown is a state of a document, and the analysis that the client has been told of it.
type shown struct {
	doc *document
	run weak.Pointer[run]
}

// renewed asks the client to ask again for what it shows of documents, if the analysis of one
// is another although its text is not, as settings have changed, or another file; or if it was
// not there when it was asked for.
func (s *Server) renewed(doc *document, r *run) {
	s.pub.mu.Lock()
	before := s.pub.shown[doc.key]
	s.pub.shown[doc.key] = shown{doc, weak.Make(r)}
	again := s.pub.unanswered[doc.key]
	delete(s.pub.unanswered, doc.key)
	s.pub.mu.Unlock()
	if !again && (before.doc != doc || before.run == weak.Make(r)) {
		return
	}
	ws := &s.caps.Workspace
	for method, can := range map[string]bool{
		"workspace/semanticTokens/refresh": ws.SemanticTokens.RefreshSupport,
		"workspace/inlayHint/refresh":      ws.InlayHint.RefreshSupport,
		"workspace/codeLens/refresh":       ws.CodeLens.RefreshSupport,
		"workspace/diagnostic/refresh":     ws.Diagnostics.RefreshSupport && s.pulls.Load(),
	} {
		if can {
			go func() { _ = s.call(s.ctx, method, nil, nil) }()
		}
	}
}
