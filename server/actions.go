package server

import (
	"context"
	"encoding/json"
	"errors"
	"slices"
	"strings"

	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"

	"narrowgauge/analysis"
)

const (
	kindQuickFix = "quickfix"
	kindFixAll   = "source.fixAll.narrowgauge"
	kindExtract  = "refactor.extract"
	kindRewrite  = "refactor.rewrite"
)

// wanted reports whether a client that asked for only wants kind. Kinds are
// dotted: a kind covers those that begin with it and a dot (LSP 3.17,
// CodeActionKind). No list at all covers everything.
func wanted(only []string, kind string) bool {
	return len(only) == 0 || slices.ContainsFunc(only, func(o string) bool {
		return o == "" || o == kind || strings.HasPrefix(kind, o+".")
	})
}

func (s *Server) canResolve() bool {
	c := s.caps.TextDocument.CodeAction
	return c.DataSupport && c.ResolveSupport != nil && slices.Contains(c.ResolveSupport.Properties, "edit")
}

// fixAllData travels, as JSON in a string, from codeAction to its resolve
// request. Numbers outside of a string would come back as floats.
type fixAllData struct {
	URI     string `json:"uri"`
	Version int32  `json:"version"`
	Code    string `json:"code"` // empty: all codes
	// Of a refactoring: its name, and the bytes that it was asked for.
	Refactor string         `json:"refactor,omitempty"`
	At       *analysis.Span `json:"at,omitempty"`
}

func (s *Server) codeAction(params json.RawMessage) (work, error) {
	p, err := decode[codeActionParams](params)
	if err != nil {
		return nil, err
	}
	if p.Range == nil {
		return nil, invalidParams("range is missing")
	}
	r, err := s.run(p.TextDocument.URI)
	if err != nil {
		return nil, err
	}
	only := p.Context.Only
	return func(ctx context.Context) (any, error) {
		if p.Context.TriggerKind == invoked || len(only) > 0 { // as when a document is saved
			questionOf(ctx).unhurried()
		}
		out := []codeAction{}
		if s.caps.TextDocument.CodeAction.Literal == nil {
			return out, nil // such a client takes commands only
		}
		r, res, err := s.result(ctx, r)
		if err != nil {
			return nil, err
		}
		ctx, end := questionOf(ctx).within(ctx)
		defer end()
		ctx, release, err := s.computing(ctx, r)
		if err != nil {
			return nil, err
		}
		defer release()
		if all, ok := res.(staged); ok && all.Complete(ctx) != nil {
			return nil, context.Cause(ctx)
		}
		if wanted(only, kindQuickFix) {
			if out, err = s.quickFixes(ctx, out, r, res, r.doc.text.span(*p.Range, s.enc)); err != nil {
				return nil, err
			}
		}
		// Without a filter the client asks at every move of the cursor: then
		// all the rewrites of the file are worth offering, not computing.
		if wanted(only, kindFixAll) && (s.canResolve() || len(only) > 0) && len(own(res, r)) > 0 {
			a := codeAction{Title: "Apply all safe rewrites in this file", Kind: kindFixAll}
			if s.fixAll(ctx, &a, r, res, "") {
				out = append(out, a)
			}
		}
		now := !s.canResolve() || p.Context.TriggerKind == invoked && r.doc.brief()
		out = s.refactorings(ctx, out, r, res, r.doc.text.span(*p.Range, s.enc), only, now)
		if err := context.Cause(ctx); err != nil && (len(out) == 0 || !errors.Is(err, errBusy)) {
			return nil, err
		}
		return out, nil
	}, nil
}

// stopped is why nobody wants an answer any more; nil where there is no time for more of it,
// and what there is will do.
func stopped(ctx context.Context) error {
	if err := context.Cause(ctx); !errors.Is(err, errBusy) {
		return err
	}
	return nil
}

// refactorings adds what may be done where nothing is wrong. Each is proven now, or when it is
// resolved; for a client that cannot do that, only if it asks for nothing else.
func (s *Server) refactorings(ctx context.Context, out []codeAction, r *run, res facts, span analysis.Span, only []string, now bool) []codeAction {
	found, ok := res.(refactoring)
	if !ok || !s.canResolve() && len(only) == 0 {
		return out
	}
	for _, x := range found.Refactorings(ctx, span) {
		kind := kindRewrite
		if x.Extract {
			kind = kindExtract
		}
		if !wanted(only, kind) {
			continue
		}
		a := codeAction{Title: x.Title, Kind: kind}
		var err error
		if now {
			var proven analysis.Refactoring
			var ok bool
			switch proven, ok, err = found.Refactored(ctx, span, x.Name); {
			case ok:
				a.Title, a.Edit = proven.Title, s.edit(r, proven.Edits)
			case err == nil:
				continue // it would not be the same
			}
		}
		if a.Edit == nil {
			if !s.canResolve() {
				continue
			}
			data, _ := json.Marshal(fixAllData{r.doc.uri, r.doc.version, "", x.Name, &span})
			a.Data = string(data)
		}
		out = append(out, a)
	}
	return out
}

// refactoring is what is asked of an analysis for these.
type refactoring interface {
	Refactorings(ctx context.Context, span analysis.Span) []analysis.Refactoring
	Refactored(ctx context.Context, span analysis.Span, name string) (x analysis.Refactoring, ok bool, err error)
}

// refactored is the edit of a refactoring that is proven; another result is an error.
func (s *Server) refactored(ctx context.Context, r *run, res facts, data *fixAllData) (*workspaceEdit, error) {
	found, ok := res.(refactoring)
	if !ok || data.At == nil {
		return nil, invalidParams("data is not what codeAction has sent")
	}
	x, ok, err := found.Refactored(ctx, *data.At, data.Refactor)
	switch {
	case err != nil:
		return nil, err
	case !ok:
		return nil, jsonrpc2.NewError(requestFailed, "the assembled bytes would be others, or a finding would come")
	}
	return s.edit(r, x.Edits), nil
}

// computing waits for a slot to work on the result of r. The context ends
// with the request, or, with errModified as its cause, when a change makes r
// stale.
func (s *Server) computing(ctx context.Context, r *run) (context.Context, func(), error) {
	ctx, cancel := context.WithCancelCause(ctx)
	stop := context.AfterFunc(r.ctx, func() { cancel(errModified) })
	end := func() { stop(); cancel(nil) }
	release, err := s.slots.acquire(ctx, r.doc.key, r.doc.brief())
	if err != nil {
		err = context.Cause(ctx)
		end()
		return nil, nil, err
	}
	return polite{ctx}, func() { release(); end() }, nil
}

// own returns the findings in the root file itself.
func own(res facts, r *run) []analysis.Diagnostic {
	all := res.Diagnostics()
	n := 0
	for n < len(all) && all[n].Path == r.doc.name() { // root first
		n++
	}
	return all[:n]
}

// sameCause says whether an action is at a further place of a finding.
func sameCause(found []analysis.Diagnostic, a *analysis.Action) bool {
	return slices.ContainsFunc(found, func(d analysis.Diagnostic) bool {
		return d.Code == a.Code && slices.ContainsFunc(d.Same, func(l analysis.Location) bool { return l.Span == a.Target })
	})
}

func (s *Server) quickFixes(ctx context.Context, out []codeAction, r *run, res facts, span analysis.Span) ([]codeAction, error) {
	found := own(res, r)
	shown, filtered := s.shown(ctx, r.doc.key)
	safe := []string{}
	for _, a := range res.Actions(ctx, span) {
		if err := stopped(ctx); err != nil {
			return nil, err
		}
		if filtered && !slices.ContainsFunc(shown, func(f finding) bool { return f.code == a.Code && f.span == a.Target }) && !sameCause(found, &a) {
			continue // the client does not see this finding
		}
		if a.Safe && !slices.Contains(safe, a.Code) {
			safe = append(safe, a.Code)
		}
		act := codeAction{Title: a.Title, Kind: kindQuickFix, IsPreferred: a.Preferred, Edit: s.edit(r, a.Edits)}
		for _, d := range found {
			if d.Code == a.Code && d.Span == a.Target {
				if wire, ok := s.diagnostic(r, d); ok {
					act.Diagnostics = append(act.Diagnostics, wire)
				}
			}
		}
		out = append(out, act)
	}
	for _, d := range found {
		if d.Code == analysis.CodeTarget && d.Span.Start <= span.End && span.Start <= d.Span.End {
			if a, ok := s.fixTarget(r, res, d); ok {
				out = append(out, a)
			}
		}
	}
	for _, code := range safe {
		a := codeAction{Title: "Fix all '" + code + "' in this file (safe rewrites only)", Kind: kindQuickFix}
		n := 0
		for _, d := range found {
			if d.Code != code {
				continue
			}
			n += 1 + len(d.Same)
			if d.Span.Start <= span.End && span.Start <= d.Span.End {
				if wire, ok := s.diagnostic(r, d); ok {
					a.Diagnostics = append(a.Diagnostics, wire)
				}
			}
		}
		if n >= 2 && s.fixAll(ctx, &a, r, res, code) {
			out = append(out, a)
		}
	}
	return out, stopped(ctx)
}

// fixAll completes an action that rewrites the whole file: with the edit, or
// with what codeAction/resolve needs to compute it. It returns false where
// there is nothing to do.
func (s *Server) fixAll(ctx context.Context, a *codeAction, r *run, res facts, code string) bool {
	if s.canResolve() {
		data, err := json.Marshal(fixAllData{URI: r.doc.uri, Version: r.doc.version, Code: code})
		a.Data = string(data)
		return err == nil
	}
	edits := res.SafeFixes(ctx, code)
	if len(edits) == 0 {
		return false
	}
	a.Edit = s.edit(r, edits)
	return true
}

func (s *Server) resolveCodeAction(params json.RawMessage) (work, error) {
	// Everything that the client sent goes back, with the edit added.
	action, err := decode[map[string]json.RawMessage](params)
	if err != nil {
		return nil, err
	}
	if action["data"] == nil {
		return func(context.Context) (any, error) { return action, nil }, nil
	}
	var text string
	var data fixAllData
	if json.Unmarshal(action["data"], &text) != nil || json.Unmarshal([]byte(text), &data) != nil {
		return nil, invalidParams("data is not what codeAction has sent")
	}
	r, err := s.run(data.URI)
	if err != nil {
		return nil, err
	}
	if r.doc.version != data.Version {
		return nil, errModified
	}
	return func(ctx context.Context) (any, error) {
		r, res, err := s.result(ctx, r)
		if err != nil {
			return nil, err
		}
		ctx, release, err := s.computing(ctx, r)
		if err != nil {
			return nil, err
		}
		defer release()
		var edit *workspaceEdit
		if data.Refactor != "" {
			if edit, err = s.refactored(ctx, r, res, &data); err != nil {
				return nil, err
			}
		} else {
			edit = s.edit(r, res.SafeFixes(ctx, data.Code))
		}
		if ctx.Err() != nil {
			return nil, context.Cause(ctx)
		}
		if action["edit"], err = json.Marshal(edit); err != nil {
			return nil, err
		}
		return action, nil
	}, nil
}

// edit converts edits of the run's document. Clients that can check the
// version get it, so that an edit never meets another text than its own.
func (s *Server) edit(r *run, edits []analysis.Edit) *workspaceEdit {
	list := make([]protocol.TextEdit, 0, len(edits))
	for _, e := range edits {
		list = append(list, protocol.TextEdit{Range: r.doc.text.rangeOf(e.Span, s.enc), NewText: e.New})
	}
	if s.caps.Workspace.WorkspaceEdit.DocumentChanges {
		version := r.doc.version
		return &workspaceEdit{DocumentChanges: []documentEdit{{versionedID{r.doc.uri, &version}, list}}}
	}
	return &workspaceEdit{Changes: map[string][]protocol.TextEdit{r.doc.uri: list}}
}
