package server

import (
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"sync/atomic"

	"go.lsp.dev/protocol"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/server/project"
)

// target is what a document has been taken for. Its versions share it: a guess costs
// several analyses, so that it is made when a document is opened, after it is saved, when
// it has become another one by its length, when its directives have begun or ceased to say it,
// and when its settings have become others.
type target struct {
	mu    sync.Mutex
	known bool
	guess *analysis.Guess    // nil: nothing to guess
	lines int                // of the text that it was guessed from
	set   *analysis.Settings // with which it was guessed
	said  bool               // directives of that text said it
	round int                // grows when it is to be made anew

	settings atomic.Pointer[resolved] // as they were found last
	took     atomic.Int64             // how long the last analysis took, in ns
}

// of is the guess that holds for a text of so many lines with settings, and whether directives said the target
// when it was made; ok is false where one is to be made, for a round.
func (t *target) of(lines int, set *analysis.Settings) (guess *analysis.Guess, said bool, round int, ok bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if away := lines - t.lines; away > 4+t.lines/8 || -away > 4+t.lines/8 {
		return nil, false, t.round, false
	}
	if !t.known || t.set != set && !reflect.DeepEqual(t.set, set) {
		return nil, false, t.round, false // what holds no more would count as said
	}
	t.set = set // to compare no more than pointers the next time
	return t.guess, t.said, t.round, true
}

// keep keeps a guess, unless it was begun before the last time that all was forgotten. said:
// directives say the target.
func (t *target) keep(guess *analysis.Guess, said bool, set *analysis.Settings, lines, round int) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if round == t.round {
		t.known, t.guess, t.said, t.set, t.lines = true, guess, said, set, lines
	}
}

// forget makes the next analysis guess anew.
func (t *target) forget() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.known = false
	t.round++
}

// guessAgain guesses the targets of all documents anew: a build file has changed.
func (s *Server) guessAgain() {
	for _, doc := range s.current().docs {
		doc.target.forget()
	}
	s.update(nil, func(*run) bool { return true })
}

// analyze analyses the run's document, for the target that it speaks for.
func (r *run) analyze(ctx context.Context, in *analysis.Input) (facts, error) {
	lines := in.File.NumLines()
	guess, said, round, known := r.doc.target.of(lines, in.Set)
	in.Guess = guess
	res, err := r.srv.opt.analyze(ctx, in)
	if err != nil {
		return nil, err
	}
	found, ok := res.(*analysis.Result)
	if !ok || known && found.SaysTarget() == said {
		return res, nil
	}
	if guess != nil { // it is to be made of what holds without one
		in.Guess = nil
		if res, err = r.srv.opt.analyze(ctx, in); err != nil {
			return nil, err
		}
		found = res.(*analysis.Result)
	}
	if guess, err = analysis.GuessTarget(ctx, in, found); err != nil {
		return nil, err
	}
	r.doc.target.keep(guess, found.SaysTarget(), in.Set, lines, round)
	if guess == nil {
		return res, nil
	}
	r.srv.logOnce(in.Path + ": " + guess.String())
	in.Guess = guess
	if res, err = r.srv.opt.analyze(ctx, in); err != nil {
		return nil, err
	}
	if found, ok = res.(*analysis.Result); ok { // conditions may ask for the target
		r.doc.target.keep(guess, found.SaysTarget(), in.Set, lines, round)
	}
	return res, nil
}

// targetParams asks what a document is taken for; without a position at its first
// instruction.
type targetParams = positionParams

// targetAnswer is what a document is taken for, in the answer to narrowgauge/target.
type targetAnswer struct {
	URI    string `json:"uri"`
	Target string `json:"target"` // architecture or core, as the settings take it
	Sets   string `json:"sets"`   // A32, T16, or T16 and T32
	Syntax string `json:"syntax"` // unified or divided
	From   string `json:"from"`   // directive, settings, guess or default
	// Evidence is the line or the option that tells the target, and Location where that is;
	// neither is there where nothing is known of it.
	Evidence string             `json:"evidence,omitempty"`
	Location *protocol.Location `json:"location,omitempty"`
	Short    string             `json:"short"` // a few words for a line of status
	Text     string             `json:"text"`  // a sentence
	// Where is the place of the line at the position; it is not there without one.
	Where *whereAnswer `json:"where,omitempty"`
}

// whereAnswer is the place of a line in the program, in the answer to narrowgauge/target.
type whereAnswer struct {
	Section string `json:"section"`
	Offset  *int64 `json:"offset,omitempty"`  // in bytes; not there where it is not known
	Routine string `json:"routine,omitempty"` // that the line belongs to, and its bytes
	Bytes   int64  `json:"bytes,omitempty"`
	Short   string `json:"short"` // for a line of status
}

// whereText is the place for the client; nil where there is none.
func whereText(w analysis.Where) *whereAnswer {
	if w.Section == "" {
		return nil
	}
	a := &whereAnswer{Section: w.Section, Routine: w.Routine, Bytes: w.Bytes, Short: w.Section}
	if w.Offset >= 0 {
		a.Offset = &w.Offset
		a.Short += fmt.Sprintf("+0x%x", w.Offset)
	}
	if w.Routine != "" {
		a.Short += fmt.Sprintf(" %s: %d bytes", w.Routine, w.Bytes)
	}
	return a
}

// regionsAnswer is the answer to narrowgauge/regions: the whole document, in stretches.
type regionsAnswer struct {
	URI     string   `json:"uri"`
	Version int32    `json:"version"`
	Regions []region `json:"regions"`
}

// region is a stretch of a document in one instruction set, syntax and target.
type region struct {
	Range  protocol.Range `json:"range"`
	State  string         `json:"state"`  // A32 or Thumb
	Syntax string         `json:"syntax"` // unified or divided
	Target string         `json:"target"` // architecture or core, as the settings take it
}

// regions answers narrowgauge/regions.
func (s *Server) regions(params json.RawMessage) (work, error) {
	snap, doc, err := s.whole(params)
	if err != nil {
		return nil, err
	}
	return s.readings(snap, doc, func(_ *run, res reading) any { return s.regionsText(doc, res) }), nil
}

func (s *Server) regionsText(doc *document, res reading) regionsAnswer {
	out := regionsAnswer{doc.uri, doc.version, []region{}}
	for _, x := range res.RegionsIn(doc.name()) {
		r := region{doc.text.rangeOf(x.Span, s.enc), "A32", "divided", x.Target}
		if x.State.String() != r.State {
			r.State = "Thumb"
		}
		if x.Unified {
			r.Syntax = "unified"
		}
		out.Regions = append(out.Regions, r)
	}
	return out
}

// tellRegions notifies a client that asks for it of the regions of a document, after each of its
// changes that moves or changes one.
func (s *Server) tellRegions(doc *document, res facts) {
	found, ok := res.(reading)
	if !ok || !s.tellsRegions {
		return
	}
	now := s.regionsText(doc, found)
	text, _ := json.Marshal(now.Regions)
	s.pub.mu.Lock()
	same := s.pub.regions[doc.key] == string(text)
	s.pub.regions[doc.key] = string(text)
	s.pub.mu.Unlock()
	if !same {
		s.notify("narrowgauge/regionsChanged", now)
	}
}

// target answers narrowgauge/target.
func (s *Server) target(params json.RawMessage) (work, error) {
	p, err := decode[targetParams](params)
	if err != nil {
		return nil, err
	}
	snap := s.current()
	doc, err := snap.document(p.TextDocument.URI)
	if err != nil {
		return nil, err
	}
	off := 0
	if p.Position != nil {
		off = doc.text.offset(*p.Position, s.enc)
	}
	return s.asked(snap, doc, func(r *run, res facts) any {
		a := s.targetText(r, doc, res.TargetIn(doc.name(), off))
		if found, ok := res.(reading); ok && p.Position != nil {
			a.Where = whereText(found.WhereIn(doc.name(), off))
		}
		return a
	}), nil
}

func (s *Server) targetText(r *run, doc *document, f analysis.TargetFact) targetAnswer {
	a := targetAnswer{URI: doc.uri, Target: f.Name, Sets: f.Sets, Syntax: "divided", From: f.From.String(), Evidence: f.Evidence, Text: f.Text}
	if f.Unified {
		a.Syntax = "unified"
	}
	if f.Where.Path != "" {
		if loc, ok := s.location(r, f.Where); ok {
			a.Location = &loc
		}
	}
	a.Short = f.Name + " " + strings.ReplaceAll(f.Sets, " and ", "+")
	if f.From == analysis.ByGuess || f.From == analysis.ByDefault {
		a.Short += " ?"
	}
	return a
}

// tellTarget notifies a client that asks for it of what an open document is taken for now, if
// that differs from what it has been told.
func (s *Server) tellTarget(r *run, doc *document, res facts) {
	if !s.tells {
		return
	}
	now := s.targetText(r, doc, res.TargetIn(doc.name(), 0))
	text, _ := json.Marshal(now)
	s.pub.mu.Lock()
	same := s.pub.targets[doc.key] == string(text)
	s.pub.targets[doc.key] = string(text)
	s.pub.mu.Unlock()
	if !same {
		s.notify("narrowgauge/targetChanged", now)
	}
}

// fixTarget offers to write a guessed target into the project file, if there is one.
func (s *Server) fixTarget(r *run, res facts, d analysis.Diagnostic) (codeAction, bool) {
	found, ok := res.(*analysis.Result)
	if !ok || found.Guess() == nil || r.doc.path == "" {
		return codeAction{}, false
	}
	within := s.bounds(r.doc.path)
	p := s.projects.Find(filepath.Dir(r.doc.path), within)
	if p == nil || p.Problem != "" {
		return codeAction{}, false
	}
	data, err := within.ReadFile(p.Path)
	if err != nil {
		return codeAction{}, false
	}
	members := project.Fixed(&found.Guess().Settings)
	at, written, ok := project.Insert(string(data), members)
	if !ok {
		return codeAction{}, false
	}
	place := newText(syntax.ParseAs(string(data), syntax.Dots)).rangeOf(analysis.Span{Start: at, End: at}, s.enc)
	uri, edits := fileURI(p.Path), []protocol.TextEdit{{Range: place, NewText: written}}
	edit := &workspaceEdit{Changes: map[string][]protocol.TextEdit{uri: edits}}
	if s.caps.Workspace.WorkspaceEdit.DocumentChanges {
		edit = &workspaceEdit{DocumentChanges: []documentEdit{{versionedID{URI: uri}, edits}}}
	}
	a := codeAction{Title: "write " + strings.Join(members, ", ") + " into " + project.FileName + " (for all sources of the project)", Kind: kindQuickFix, Edit: edit}
	if wire, ok := s.diagnostic(r, d); ok {
		a.Diagnostics = []protocol.Diagnostic{wire}
	}
	return a, true
}
