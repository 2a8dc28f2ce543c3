package server

import (
	"context"
	"encoding/json"
	"regexp"
	"slices"
	"strings"

	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"

	"narrowgauge/analysis"
)

// at decodes a request about a position and finds its analysis.
func (s *Server) at(params json.RawMessage) (*run, int, error) {
	p, err := decode[positionParams](params)
	if err != nil {
		return nil, 0, err
	}
	if p.Position == nil {
		return nil, 0, invalidParams("position is missing")
	}
	r, err := s.run(p.TextDocument.URI)
	if err != nil {
		return nil, 0, err
	}
	return r, r.doc.text.offset(*p.Position, s.enc), nil
}

func (s *Server) hover(params json.RawMessage) (work, error) {
	r, off, err := s.at(params)
	if err != nil {
		return nil, err
	}
	return func(ctx context.Context) (any, error) {
		r, res, err := s.result(ctx, r)
		if err != nil {
			return nil, err
		}
		h, ok := res.Hover(off)
		if !ok {
			return nil, nil
		}
		m := markup{"markdown", h.Markdown}
		formats := s.caps.TextDocument.Hover.ContentFormat
		if !slices.Contains(formats, "markdown") {
			m = markup{"plaintext", plain(h.Markdown)}
		}
		return hover{m, r.doc.text.rangeOf(h.Span, s.enc)}, nil
	}, nil
}

var (
	mdFence    = regexp.MustCompile("^\\s*(```|~~~)")
	mdHeading  = regexp.MustCompile(`^#{1,6}\s+`)
	mdRule     = regexp.MustCompile(`^\s*([-*_]\s*){3,}$`)
	mdTable    = regexp.MustCompile(`^\s*\|?[\s:|-]*-[\s:|-]*\|[\s:|-]*$`)
	mdLink     = regexp.MustCompile(`\[([^\]]*)\]\([^)]*\)`)
	mdStrong   = regexp.MustCompile(`\*\*([^*]+)\*\*`)
	mdEmphasis = regexp.MustCompile(`(^|[\s(])\*([^*\s][^*]*)\*`)
	mdCode     = regexp.MustCompile("``[^`]+``|`[^`]+`")
	mdEscape   = regexp.MustCompile("\\\\([\\\\`*_{}\\[\\]()#+.!|<>-])")
)

// plain takes the marks out of Markdown, for clients that would show them.
// It knows what the analysis writes, not all of Markdown.
func plain(md string) string {
	var out []string
	fenced := false
	for line := range strings.SplitSeq(md, "\n") {
		if mdFence.MatchString(line) {
			fenced = !fenced
			continue
		}
		if !fenced {
			if mdRule.MatchString(line) {
				line = ""
			} else if mdTable.MatchString(line) {
				continue
			}
			line = plainLine(mdHeading.ReplaceAllString(line, ""))
		}
		if line == "" && (len(out) == 0 || out[len(out)-1] == "") {
			continue
		}
		out = append(out, line)
	}
	return strings.TrimRight(strings.Join(out, "\n"), "\n")
}

// plainLine takes the marks out of one line, but leaves what stands in code
// spans as it is.
func plainLine(line string) string {
	var b strings.Builder
	prose := func(s string) {
		s = mdLink.ReplaceAllString(s, "$1")
		s = mdStrong.ReplaceAllString(s, "$1")
		s = mdEmphasis.ReplaceAllString(s, "$1$2")
		b.WriteString(mdEscape.ReplaceAllString(s, "$1"))
	}
	at := 0
	for _, m := range mdCode.FindAllStringIndex(line, -1) {
		prose(line[at:m[0]])
		b.WriteString(strings.Trim(line[m[0]:m[1]], "`"))
		at = m[1]
	}
	prose(line[at:])
	return b.String()
}

func (s *Server) definition(params json.RawMessage) (work, error) {
	r, off, err := s.at(params)
	if err != nil {
		return nil, err
	}
	return func(ctx context.Context) (any, error) {
		r, res, err := s.result(ctx, r)
		if err != nil {
			return nil, err
		}
		out := []protocol.Location{}
		for _, l := range res.Definition(off) {
			if loc, ok := s.location(r, l); ok {
				out = append(out, loc)
			}
		}
		return out, nil
	}, nil
}

func (s *Server) references(params json.RawMessage) (work, error) {
	r, off, err := s.at(params)
	if err != nil {
		return nil, err
	}
	p, err := decode[referenceParams](params)
	if err != nil {
		return nil, err
	}
	return func(ctx context.Context) (any, error) {
		r, res, err := s.result(ctx, r)
		if err != nil {
			return nil, err
		}
		var defined []analysis.Location
		if !p.Context.IncludeDeclaration {
			defined = res.Definition(off)
		}
		out := []protocol.Location{}
		for _, l := range res.References(off) {
			if slices.Contains(defined, l) {
				continue
			}
			if loc, ok := s.location(r, l); ok {
				out = append(out, loc)
			}
		}
		return out, nil
	}, nil
}

func (s *Server) documentSymbol(params json.RawMessage) (work, error) {
	p, err := decode[documentParams](params)
	if err != nil {
		return nil, err
	}
	r, err := s.run(p.TextDocument.URI)
	if err != nil {
		return nil, err
	}
	return func(ctx context.Context) (any, error) {
		r, res, err := s.result(ctx, r)
		if err != nil {
			return nil, err
		}
		tree := s.symbols(r.doc.text, res.Symbols())
		if s.caps.TextDocument.DocumentSymbol.Hierarchical {
			return tree, nil
		}
		return flatten(make([]protocol.SymbolInformation, 0, len(tree)), r.doc.uri, "", tree), nil
	}, nil
}

// symbolKinds maps ours to those of the protocol, which knows no assembly:
// each gets the one whose picture fits best.
var symbolKinds = map[analysis.SymbolKind]protocol.SymbolKind{
	analysis.SymCode:     protocol.SymbolKindKey,
	analysis.SymFunction: protocol.SymbolKindFunction,
	analysis.SymData:     protocol.SymbolKindVariable,
	analysis.SymConstant: protocol.SymbolKindConstant,
	analysis.SymRegister: protocol.SymbolKindField,
	analysis.SymSection:  protocol.SymbolKindNamespace,
	analysis.SymMacro:    protocol.SymbolKindMethod,
}

func (s *Server) symbols(t *text, in []analysis.DocSymbol) []protocol.DocumentSymbol {
	out := make([]protocol.DocumentSymbol, 0, len(in))
	for _, d := range in {
		// LSP 3.17: a name may not be blank, and the selection must lie
		// inside the range.
		name := d.Name
		if strings.TrimSpace(name) == "" {
			name = "(unnamed)"
		}
		full := d.Full
		full.Start, full.End = min(full.Start, d.NameSpan.Start), max(full.End, d.NameSpan.End)
		sym := protocol.DocumentSymbol{
			Name: name, Detail: d.Detail, Kind: symbolKinds[d.Kind],
			Range: t.rangeOf(full, s.enc), SelectionRange: t.rangeOf(d.NameSpan, s.enc),
		}
		if len(d.Children) > 0 {
			sym.Children = s.symbols(t, d.Children)
		}
		out = append(out, sym)
	}
	return out
}

func flatten(out []protocol.SymbolInformation, docURI, container string, in []protocol.DocumentSymbol) []protocol.SymbolInformation {
	for _, d := range in {
		out = append(out, protocol.SymbolInformation{
			Name: d.Name, Kind: d.Kind, ContainerName: container,
			Location: protocol.Location{URI: uri.URI(docURI), Range: d.SelectionRange},
		})
		out = flatten(out, docURI, d.Name, d.Children)
	}
	return out
}
