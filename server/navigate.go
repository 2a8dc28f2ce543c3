package server

import (
	"cmp"
	"context"
	"encoding/json"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"

	"narrowgauge/analysis"
	"narrowgauge/server/project"
)

// Questions about several files: what one source does not define, another one may.

// places converts locations in files of the workspace, open or not.
type places struct {
	s     *Server
	snap  *snapshot
	texts map[string]*text
}

func (s *Server) places(snap *snapshot) *places { return &places{s, snap, map[string]*text{}} }

// text is that of a file; nil: it cannot be read.
func (p *places) text(path string) *text {
	if t, ok := p.texts[path]; ok {
		return t
	}
	var t *text
	if doc := p.snap.docs[pathKey(path)]; doc != nil {
		t = doc.text
	} else if b := p.s.boundsOf(path); b != nil {
		if file, _, err := p.s.disk.Read(path, b); err == nil {
			t = newText(file)
		}
	}
	p.texts[path] = t
	return t
}

func (p *places) uri(path string) string {
	if doc := p.snap.docs[pathKey(path)]; doc != nil {
		return doc.uri
	}
	return fileURI(path)
}

func (p *places) location(l analysis.Location) (protocol.Location, bool) {
	t := p.text(l.Path)
	if l.Path == "" || t == nil {
		return protocol.Location{}, false
	}
	return protocol.Location{URI: uri.URI(p.uri(l.Path)), Range: t.rangeOf(l.Span, p.s.enc)}, true
}

// locations converts a list, each place once.
func (p *places) locations(list []analysis.Location) []protocol.Location {
	out := []protocol.Location{}
	seen := map[analysis.Location]bool{}
	for _, l := range list {
		if seen[l] {
			continue
		}
		seen[l] = true
		if loc, ok := p.location(l); ok {
			out = append(out, loc)
		}
	}
	return out
}

// publicAt is the name at a place that other sources may be concerned with.
func publicAt(res facts, path string, off int) (name string, defined, ok bool) {
	found, is := res.(*analysis.Result)
	if !is {
		return "", false, false
	}
	t, err := found.RenameAt(path, off)
	if err != nil || t.Kind != analysis.RenameSymbol || !t.Public {
		return "", false, false
	}
	return t.Name, t.Defined, true
}

// ownUnit is the unit of a run among others; one is made if it is not there.
func ownUnit(all []*unit, r *run, res facts) *unit {
	for _, u := range all {
		if u.run == r || u.Path == r.doc.name() {
			return u
		}
	}
	facts := r.links(res)
	if facts == nil {
		facts = &analysis.LinkFile{Path: r.doc.name()}
	}
	return &unit{analysis.LinkUnit{File: facts}, r, r.deps}
}

// companions are the units that may be of one program with own, itself first; those of the
// same build in front of others, and else those in the nearest folders: where two programs of a
// workspace have a name, that of the own one is meant.
func companions(all []*unit, own *unit) []*unit {
	out := []*unit{own}
	for _, u := range all {
		if u != own && own.MayMeet(&u.LinkUnit) {
			out = append(out, u)
		}
	}
	slices.SortStableFunc(out[1:], func(a, b *unit) int {
		return cmp.Or(last(len(a.Groups) == 0)-last(len(b.Groups) == 0), project.InCommon(b.Path, own.Path)-project.InCommon(a.Path, own.Path))
	})
	return out
}

// defined lists where a name is defined: strong definitions, or else weak ones.
func defined(units []*unit, name string) []analysis.Location {
	var strong, other []analysis.Location
	for _, u := range units {
		y := u.Public(name)
		switch {
		case y == nil || !y.Defines() || y.At.Path == "":
		case y.Binding == analysis.LinkGlobal:
			strong = append(strong, y.At)
		default:
			other = append(other, y.At)
		}
	}
	if strong != nil {
		return strong
	}
	return other
}

func (s *Server) definition(params json.RawMessage) (work, error) {
	at, err := s.at(params)
	if err != nil {
		return nil, err
	}
	return s.answered(at.snap, at.doc, func(ctx context.Context, r *run, res facts) (any, error) {
		list, found := []protocol.Location{}, res.DefinitionIn(at.doc.name(), at.off)
		for _, l := range found {
			if loc, ok := s.location(r, l); ok {
				list = append(list, loc)
			}
		}
		name, defines, ok := publicAt(res, at.doc.name(), at.off)
		if !ok || defines && len(list) > 0 {
			return list, nil
		}
		all, _, err := s.units(ctx, at.snap, unitPatience)
		if err != nil {
			return nil, err
		}
		if others := s.places(at.snap).locations(defined(companions(all, ownUnit(all, r, res)), name)); len(others) > 0 {
			return others, nil
		}
		return list, nil
	}), nil
}

// declaration answers textDocument/declaration: where .global, .extern and their like name
// what is at the position, in its own source and where it is defined; without such lines the
// definition.
func (s *Server) declaration(params json.RawMessage) (work, error) {
	at, err := s.at(params)
	if err != nil {
		return nil, err
	}
	define, err := s.definition(params)
	if err != nil {
		return nil, err
	}
	return s.answered(at.snap, at.doc, func(ctx context.Context, r *run, res facts) (any, error) {
		if name, _, ok := publicAt(res, at.doc.name(), at.off); ok {
			all, _, err := s.units(ctx, at.snap, unitPatience)
			if err != nil {
				return nil, err
			}
			var list []analysis.Location
			for i, u := range companions(all, ownUnit(all, r, res)) {
				if y := u.Public(name); y != nil && (i == 0 || y.Defines()) {
					list = append(list, y.Declared...)
				}
			}
			if out := s.places(at.snap).locations(list); len(out) > 0 {
				return out, nil
			}
		}
		return define(ctx)
	}), nil
}

func (s *Server) references(params json.RawMessage) (work, error) {
	at, err := s.at(params)
	if err != nil {
		return nil, err
	}
	p, err := decode[referenceParams](params)
	if err != nil {
		return nil, err
	}
	return s.answered(at.snap, at.doc, func(ctx context.Context, r *run, res facts) (any, error) {
		list := res.ReferencesIn(at.doc.name(), at.off)
		defs := res.DefinitionIn(at.doc.name(), at.off)
		where := s.places(at.snap)
		for _, l := range list { // as the analysis has read them
			if src := r.source(l.Path); src != nil {
				where.texts[l.Path] = src
			}
		}
		if name, _, ok := publicAt(res, at.doc.name(), at.off); ok {
			all, _, err := s.units(ctx, at.snap, 4*unitPatience)
			if err != nil {
				return nil, err
			}
			units := companions(all, ownUnit(all, r, res))
			defs = append(defs, defined(units, name)...)
			for i, u := range units {
				if i > 0 || len(list) == 0 { // of its own source the analysis knows more
					list = append(list, mentions(u.File, name)...)
				}
			}
		} else if found, err := s.shared(ctx, at.snap, r.doc.name(), defs); err == nil {
			list = append(list, found...)
		} else {
			return nil, err
		}
		if !p.Context.IncludeDeclaration {
			list = slices.DeleteFunc(list, func(l analysis.Location) bool { return slices.Contains(defs, l) })
		}
		return where.locations(list), nil
	}), nil
}

// shared lists where other sources than root use what is defined in a file that they read, too:
// a constant or a macro of a header. Each is analysed; after a while the answer has what is known.
func (s *Server) shared(ctx context.Context, snap *snapshot, root string, defs []analysis.Location) (out []analysis.Location, err error) {
	if len(defs) == 0 {
		return nil, nil
	}
	def := defs[0]
	within, cancel := context.WithTimeout(ctx, 4*unitPatience)
	defer cancel()
	all, _, err := s.gather(ctx, within, snap, nil)
	if err != nil {
		return nil, err
	}
	for _, u := range all {
		if u.Path == root || !slices.Contains(u.Files, def.Path) {
			continue
		}
		j, err := s.program(within, snap, u)
		if err != nil {
			if ctx.Err() != nil {
				return nil, ctx.Err()
			}
			continue
		}
		if slices.Contains(j.res.DefinitionIn(def.Path, def.Span.Start), def) {
			out = append(out, j.res.ReferencesIn(def.Path, def.Span.Start)...)
		}
		j.end()
	}
	return out, nil
}

// mentions lists where a source defines and uses a public name.
func mentions(f *analysis.LinkFile, name string) (out []analysis.Location) {
	y := f.Public(name)
	if y == nil {
		return nil
	}
	if y.Defines() && y.At.Path != "" {
		out = append(out, y.At)
	}
	k := f.Find(name)
	for i := range f.Uses {
		if u := &f.Uses[i]; u.Symbol == k {
			out = append(out, u.At)
		}
	}
	return out
}

// maxSymbols bounds the answer to workspace/symbol: more than anybody looks through.
const maxSymbols = 500

// workspaceSymbol answers workspace/symbol: names of all sources that a query may mean, the
// nearest first.
func (s *Server) workspaceSymbol(params json.RawMessage) (work, error) {
	p, err := decode[workspaceSymbolParams](params)
	if err != nil {
		return nil, err
	}
	if p.Query == nil {
		return nil, invalidParams("query is missing")
	}
	snap := s.current()
	return func(ctx context.Context) (any, error) {
		all, _, err := s.units(ctx, snap, unitPatience)
		if err != nil {
			return nil, err
		}
		type hit struct {
			y    *analysis.LinkSymbol
			rank int
		}
		var hits []hit
		seen := map[analysis.Location]bool{}
		for _, u := range all {
			for _, list := range [][]analysis.LinkSymbol{u.Symbols, u.Macros} {
				for k := range list {
					y := &list[k]
					if y.At.Path == "" || seen[y.At] || strings.HasPrefix(y.Name, ".L") && !strings.HasPrefix(*p.Query, ".") {
						continue
					}
					if rank, ok := fits(*p.Query, y.Name); ok {
						seen[y.At] = true
						if y.Binding == analysis.LinkLocal && !y.Routine {
							rank++
						}
						hits = append(hits, hit{y, rank})
					}
				}
			}
		}
		slices.SortStableFunc(hits, func(a, b hit) int {
			return cmp.Or(a.rank-b.rank, len(a.y.Name)-len(b.y.Name), cmp.Compare(a.y.Name, b.y.Name))
		})
		where := s.places(snap)
		out := []protocol.SymbolInformation{}
		for _, h := range hits[:min(len(hits), maxSymbols)] {
			if loc, ok := where.location(h.y.At); ok {
				out = append(out, protocol.SymbolInformation{Name: h.y.Name, Kind: kindOf(h.y), Location: loc, ContainerName: filepath.Base(h.y.At.Path)})
			}
		}
		return out, nil
	}, nil
}

// kindOf is the protocol's kind of a symbol; code that is called is a function.
func kindOf(y *analysis.LinkSymbol) protocol.SymbolKind {
	if y.Routine {
		return protocol.SymbolKindFunction
	}
	return symbolKinds[y.Kind]
}

// fits says whether a query may mean a name, and how near it is, smaller being nearer: the
// name itself, its beginning, the beginning of one of its words, a part, or its letters in
// their order. The case of letters counts only between equals.
func fits(query, name string) (rank int, ok bool) {
	if query == "" {
		return 0, true
	}
	q, n := strings.ToLower(query), strings.ToLower(name)
	at := strings.Index(n, q)
	switch {
	case name == query:
		return 0, true
	case n == q:
		return 2, true
	case at == 0:
		return 10, true
	case at > 0 && slices.ContainsFunc(starts(name), func(i int) bool { return strings.HasPrefix(n[i:], q) }):
		return 20, true
	case at > 0:
		return 30, true
	}
	// The letters in their order: fewer gaps are better, and those before words are free.
	first, gaps, i := true, 0, 0
	begins := starts(name)
	for k := 0; k < len(q); k++ {
		j := strings.IndexByte(n[i:], q[k])
		if j < 0 {
			return 0, false
		}
		if j > 0 && !slices.Contains(begins, i+j) || first && j > 0 {
			gaps++
		}
		first, i = false, i+j+1
	}
	return 40 + 2*gaps, true
}

// starts lists where words in a name begin: behind _ . $ and digits, and at capital letters.
func starts(name string) (out []int) {
	for i := 1; i < len(name); i++ {
		a, b := name[i-1], name[i]
		letter := b >= 'a' && b <= 'z' || b >= 'A' && b <= 'Z'
		if letter && (a == '_' || a == '.' || a == '$' || a >= '0' && a <= '9' || b <= 'Z' && a >= 'a') {
			out = append(out, i)
		}
	}
	return out
}

// callData is what a call hierarchy's item says of itself when it comes back.
type callData struct {
	Root string `json:"root"`
	Name string `json:"name"`
}

func (p *places) callItem(u *unit, y *analysis.LinkSymbol) (callItem, bool) {
	t := p.text(y.At.Path)
	if t == nil || y.At.Path == "" {
		return callItem{}, false
	}
	data, _ := json.Marshal(callData{u.Path, y.Name})
	return callItem{Name: y.Name, Kind: kindOf(y), Detail: filepath.Base(y.At.Path), URI: p.uri(y.At.Path),
		Range: t.rangeOf(y.Full, p.s.enc), SelectionRange: t.rangeOf(y.At.Span, p.s.enc), Data: string(data)}, true
}

// prepareCalls answers textDocument/prepareCallHierarchy: the routine that is named at the
// position, or else the one around it.
func (s *Server) prepareCalls(params json.RawMessage) (work, error) {
	at, err := s.at(params)
	if err != nil {
		return nil, err
	}
	return s.answered(at.snap, at.doc, func(ctx context.Context, r *run, res facts) (any, error) {
		all, _, err := s.units(ctx, at.snap, unitPatience)
		if err != nil {
			return nil, err
		}
		own := ownUnit(all, r, res)
		name := ""
		if found, is := res.(*analysis.Result); is {
			if t, err := found.RenameAt(at.doc.name(), at.off); err == nil && t.Kind == analysis.RenameSymbol {
				name = t.Name
			}
		}
		where := s.places(at.snap)
		out := []callItem{}
		for i, u := range companions(all, own) {
			k := u.Find(name)
			if k < 0 || i > 0 && (u.Symbols[k].Binding == analysis.LinkLocal || len(out) > 0) {
				continue
			}
			if y := &u.Symbols[k]; y.Code {
				if item, ok := where.callItem(u, y); ok {
					out = append(out, item)
				}
				if y.Binding == analysis.LinkLocal {
					break
				}
			}
		}
		if len(out) > 0 {
			return out, nil
		}
		for k := range own.Symbols {
			if y := &own.Symbols[k]; y.Routine && y.At.Path == at.doc.name() && y.Full.Start <= at.off && at.off <= y.Full.End {
				if item, ok := where.callItem(own, y); ok {
					return []callItem{item}, nil
				}
			}
		}
		return nil, nil
	}), nil
}

// calls are what both questions about an item of a call hierarchy need.
func (s *Server) calls(params json.RawMessage, answer func(units []*unit, y *analysis.LinkSymbol, where *places) any) (work, error) {
	p, err := decode[callItemParams](params)
	if err != nil {
		return nil, err
	}
	var data callData
	if p.Item == nil || json.Unmarshal([]byte(p.Item.Data), &data) != nil {
		return nil, invalidParams("the item is not one that prepareCallHierarchy has sent")
	}
	snap := s.current()
	return func(ctx context.Context) (any, error) {
		all, _, err := s.units(ctx, snap, 4*unitPatience)
		if err != nil {
			return nil, err
		}
		for _, u := range all {
			if u.Path != data.Root {
				continue
			}
			if k := u.Find(data.Name); k >= 0 {
				return answer(companions(all, u), &u.Symbols[k], s.places(snap)), nil
			}
		}
		return nil, nil
	}, nil
}

// callsBy are the calls with one routine at the other end.
type callsBy struct {
	item   callItem
	ranges []protocol.Range
}

// gather lists the calls and jumps among a unit's uses by what is at their other end, in the order
// of the text. end says what that is, and whether the use is asked for; item is what it is shown
// as. A jump within the routine self is none.
func (p *places) gather(u *unit, self int32, end func(*analysis.LinkUse) (int32, bool), item func(int32, *analysis.LinkUse, *text) (callItem, bool)) (out []callsBy) {
	at := map[int32]int{}
	for n := range u.Uses {
		use := &u.Uses[n]
		other, asked := end(use)
		t := p.text(use.At.Path)
		if !asked || !use.Goes || t == nil || other == self && use.How != analysis.LinkCalls {
			continue
		}
		k, known := at[other]
		if !known {
			shown, ok := item(other, use, t)
			if !ok {
				continue
			}
			k = len(out)
			at[other] = k
			out = append(out, callsBy{item: shown})
		}
		out[k].ranges = append(out[k].ranges, t.rangeOf(use.At.Span, p.s.enc))
	}
	return out
}

func (s *Server) incomingCalls(params json.RawMessage) (work, error) {
	return s.calls(params, func(units []*unit, y *analysis.LinkSymbol, where *places) any {
		out := []incomingCall{}
		for i, u := range units {
			k := u.Find(y.Name)
			if k < 0 || i > 0 && (y.Binding == analysis.LinkLocal || u.Symbols[k].Binding == analysis.LinkLocal || u.Symbols[k].Binding == analysis.LinkGlobal || nearer(units, u, y.Name)) {
				continue
			}
			caller := func(use *analysis.LinkUse) (int32, bool) { return use.By, use.Symbol == k }
			for _, c := range where.gather(u, k, caller, func(by int32, use *analysis.LinkUse, t *text) (callItem, bool) {
				if by >= 0 {
					return where.callItem(u, &u.Symbols[by])
				}
				at := t.rangeOf(use.At.Span, s.enc)
				return callItem{Name: filepath.Base(use.At.Path), Kind: protocol.SymbolKindFile, URI: where.uri(use.At.Path), Range: at, SelectionRange: at}, true
			}) {
				out = append(out, incomingCall{c.item, c.ranges})
			}
		}
		return out
	})
}

// nearer says whether u is nearer to a definition of a name than to that of the first unit, so that it
// means another program's.
func nearer(units []*unit, u *unit, name string) bool {
	own := project.InCommon(units[0].Path, u.Path)
	return slices.ContainsFunc(units[1:], func(other *unit) bool {
		y := other.Public(name)
		return y != nil && y.Binding == analysis.LinkGlobal && y.Defines() && project.InCommon(other.Path, u.Path) > own
	})
}

func (s *Server) outgoingCalls(params json.RawMessage) (work, error) {
	return s.calls(params, func(units []*unit, y *analysis.LinkSymbol, where *places) any {
		out := []outgoingCall{}
		own := units[0]
		me := own.Find(y.Name)
		called := func(use *analysis.LinkUse) (int32, bool) { return use.Symbol, use.By == me }
		for _, c := range where.gather(own, me, called, func(to int32, _ *analysis.LinkUse, _ *text) (callItem, bool) {
			return where.target(units, own.Symbols[to].Name)
		}) {
			out = append(out, outgoingCall{c.item, c.ranges})
		}
		return out
	})
}

// target is the item of what a name leads to: code of the first unit, or of another one.
func (p *places) target(units []*unit, name string) (callItem, bool) {
	for i, u := range units {
		k := u.Find(name)
		if k < 0 || i > 0 && u.Symbols[k].Binding == analysis.LinkLocal || !u.Symbols[k].Code {
			continue
		}
		return p.callItem(u, &u.Symbols[k])
	}
	return callItem{}, false
}

// acrossDelay is how long after the last change it is looked at what does not fit between
// files.
const acrossDelay = 200 * time.Millisecond
