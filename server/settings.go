package server

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"go.uber.org/zap"

	"narrowgauge/analysis"
	"narrowgauge/server/project"
)

// section is the name of our settings in the editor's configuration.
const section = "narrowgauge"

// editorSettings is what an editor can set.
type editorSettings struct {
	analysis.Settings
	project.UserSettings
	// DocsBase is where the explanations of the checks are; see analysis.Definitions.
	DocsBase string `json:"docsBase"`
	// Hints and Lenses are the kinds that are shown; see analysis.Definitions.
	Hints  []string `json:"hints"`
	Lenses []string `json:"lenses"`
}

// field is a pointer to the setting with a name.
func (e *editorSettings) field(name string) any {
	switch name {
	case "docsBase":
		return &e.DocsBase
	case "readAlso":
		return &e.ReadAlso
	case "hints":
		return &e.Hints
	case "lenses":
		return &e.Lenses
	}
	return e.Settings.Field(name)
}

// decodeEditorSettings accepts the settings themselves or an object that
// holds them under the section's name. Each setting is decoded on its own,
// so that a bad one spoils no other.
func decodeEditorSettings(raw json.RawMessage) (editorSettings, error) {
	var out editorSettings
	if len(raw) == 0 || string(raw) == "null" {
		return out, nil
	}
	var fields map[string]json.RawMessage
	if err := json.Unmarshal(raw, &fields); err != nil {
		return out, errors.New("the settings must be a JSON object")
	}
	if inner, ok := fields[section]; ok {
		fields = nil
		if err := json.Unmarshal(inner, &fields); err != nil {
			return out, errors.New("the settings must be a JSON object")
		}
	}
	var problems []error
	for _, d := range analysis.Definitions() {
		raw, ok := fields[d.Name]
		if !ok {
			continue
		}
		if err := json.Unmarshal(raw, out.field(d.Name)); err != nil {
			problems = append(problems, fmt.Errorf("setting %s: %s has the wrong type", d.Name, raw))
		}
		if list, ok := out.field(d.Name).(*[]string); ok && d.Values != nil {
			problems = append(problems, strangers(&d, *list)...)
		}
	}
	return out, errors.Join(problems...)
}

// strangers says which texts of a list there are not.
func strangers(d *analysis.Setting, list []string) (problems []error) {
	var known []string
	for _, v := range d.Values {
		known = append(known, v.Text)
	}
	for _, text := range list {
		if !slices.Contains(known, text) {
			problems = append(problems, fmt.Errorf("setting %s: there is no %q; there are %s", d.Name, text, strings.Join(known, ", ")))
		}
	}
	return problems
}

// setEditorSettings takes new settings and analyses everything again if they
// differ from the old ones.
func (s *Server) setEditorSettings(raw json.RawMessage) {
	set, err := decodeEditorSettings(raw)
	if err != nil {
		s.warnOnce(err.Error())
	}
	s.mu.Lock()
	for i, dir := range set.Include {
		if !filepath.IsAbs(dir) && s.root != "" {
			set.Include[i] = filepath.Join(s.root, dir)
		}
	}
	if s.root != "" {
		set.CompileCommands = project.CommandsPath(set.CompileCommands, s.root)
	}
	set.ReadAlso = absoluteFolders(set.ReadAlso, s.root)
	a, _ := json.Marshal(s.editor)
	b, _ := json.Marshal(set)
	same := string(a) == string(b)
	s.editor = set
	s.mu.Unlock()
	s.changes.Add(1)
	if !same {
		s.catalog.forget(nil)
		s.update(nil, func(*run) bool { return true })
	}
}

// absoluteFolders completes folders of the editor's settings: ~ means the
// user's own, and relative ones start at root.
func absoluteFolders(dirs []string, root string) (out []string) {
	for _, dir := range dirs {
		if rest, ok := strings.CutPrefix(filepath.ToSlash(dir), "~/"); ok {
			if home, err := os.UserHomeDir(); err == nil {
				dir = filepath.Join(home, rest)
			}
		}
		if !filepath.IsAbs(dir) && root != "" {
			dir = filepath.Join(root, dir)
		}
		if filepath.IsAbs(dir) {
			out = append(out, filepath.Clean(dir))
		}
	}
	return out
}

// bounds are those of a file: the workspace, or for one that lies outside of it
// what lies beside it.
func (s *Server) bounds(path string) *project.Bounds {
	return s.near.get(path, s.changes.Load(), func() *project.Bounds {
		s.mu.Lock()
		folders, also := s.folders, s.editor.ReadAlso
		s.mu.Unlock()
		return project.Workspace(folders, also, path)
	})
}

// boundsOf are the bounds in which a file may be looked at that nobody has open:
// those of the workspace, or of an open document outside of it.
func (s *Server) boundsOf(path string) *project.Bounds {
	if b := s.bounds(path); b.Top() != "" {
		return b
	}
	for _, doc := range s.current().docs {
		if doc.path == "" {
			continue
		}
		if b := s.resolved(doc).ownWithin; b.Top() == "" && !b.Outside(path) {
			return b
		}
	}
	return nil
}

// maxHeld is up to how many folders of a workspace stay open while many files are looked at.
const maxHeld = 64

// boundsOfMany is boundsOf for many files at once, until release is called. The folders of the
// workspace are looked for and opened once, not for each file: another branch may bring
// thousands.
func (s *Server) boundsOfMany() (of func(path string) *project.Bounds, release func()) {
	s.mu.Lock()
	folders, docs := s.folders, s.snap.docs
	s.mu.Unlock()
	var tops []string // by all their names
	for _, dir := range folders {
		tops = append(tops, dir)
		if real, err := filepath.EvalSymlinks(dir); err == nil && real != dir {
			tops = append(tops, real)
		}
	}
	inside, ends := map[string]*project.Bounds{}, []func(){}
	beside := sync.OnceValue(func() (out []*project.Bounds) { // of documents that no folder has
		for _, doc := range docs {
			if doc.path == "" {
				continue
			}
			if b := s.resolved(doc).ownWithin; b.Top() == "" {
				out = append(out, b)
			}
		}
		return out
	})
	of = func(path string) *project.Bounds {
		top := ""
		for _, dir := range tops {
			if _, ok := project.Below(path, dir); ok && (top == "" || len(dir) < len(top)) {
				top = dir
			}
		}
		if b := inside[top]; b != nil {
			return b
		}
		if top != "" {
			if b := s.bounds(filepath.Join(top, "x.s")); b.Top() != "" {
				if len(inside) < maxHeld {
					held, end := b.Hold()
					b, ends = held, append(ends, end)
				}
				inside[top] = b
				return b
			}
		}
		for _, b := range beside() {
			if !b.Outside(path) {
				return b
			}
		}
		return nil
	}
	return of, func() {
		for _, end := range ends {
			end()
		}
	}
}

// resolved are the settings of a document as they were found on disk.
type resolved struct {
	// own are those without compile flags: the project file wins, the editor fills what it leaves
	// empty. at says where one of them comes from, and ownWithin is where they may reach files.
	own       analysis.Settings
	at        func(setting string) string
	ownWithin *project.Bounds

	// set are all: a compilation database fills what its own leave empty. within is where it and
	// they may reach files.
	set    *analysis.Settings
	within *project.Bounds
	named  bool // the database names the document

	changes int64 // of Server.changes when they were looked for
	when    time.Time
}

// settingsHold is for how long settings that were found on disk hold while nobody says that
// something has changed: to look for them takes more than all else that a keystroke in a short
// document does.
const settingsHold = 300 * time.Millisecond

// found holds for a moment what was found on disk, as settings do; see settingsHold.
type found[T any] struct {
	mu   sync.Mutex
	held map[string]foundAt[T]
}

type foundAt[T any] struct {
	changes int64
	when    time.Time
	value   T
}

// maxFound bounds what is held.
const maxFound = 1000

// get is what is held under a name, or what look finds. changes is Server.changes: what was found
// before it grew is looked for again.
func (f *found[T]) get(name string, changes int64, look func() T) T {
	f.mu.Lock()
	have, ok := f.held[name]
	f.mu.Unlock()
	if ok && have.changes == changes && time.Since(have.when) < settingsHold {
		return have.value
	}
	at := foundAt[T]{changes: changes, when: time.Now()}
	at.value = look()
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.held == nil || len(f.held) >= maxFound {
		f.held = map[string]foundAt[T]{}
	}
	f.held[name] = at
	return at.value
}

// resolved finds the settings of a document; its versions share what was found a moment ago.
func (s *Server) resolved(doc *document) *resolved {
	changes := s.changes.Load()
	if r := doc.target.settings.Load(); r != nil && r.changes == changes && time.Since(r.when) < settingsHold {
		return r
	}
	r := &resolved{changes: changes, when: time.Now()}
	s.resolveOwn(doc, r)
	s.resolve(doc, r)
	doc.target.settings.Store(r)
	return r
}

// settingsFor are the settings of a document, and where they may reach files.
func (s *Server) settingsFor(doc *document) (*analysis.Settings, *project.Bounds) {
	r := s.resolved(doc)
	return r.set, r.within
}

func (s *Server) resolveOwn(doc *document, r *resolved) {
	within := s.bounds(doc.path)
	s.mu.Lock()
	set := s.editor.Settings
	dir := s.root
	s.mu.Unlock()
	if doc.path != "" {
		dir = filepath.Dir(doc.path)
	}
	if dir != "" {
		if p := s.projects.Find(dir, within); p != nil {
			if p.Problem != "" {
				s.warnOnce(p.Problem)
			}
			own, at := p.For(doc.path)
			r.own, r.at, r.ownWithin = project.Fill(own, set), at, within.Project(filepath.Dir(p.Path))
			return
		}
	}
	r.own, r.at, r.ownWithin = set, func(string) string { return "editor settings" }, within
}

func (s *Server) resolve(doc *document, r *resolved) {
	set, within := r.own, r.ownWithin
	if doc.path != "" {
		var cmd *project.Command
		if set, cmd = s.commands.Resolve(set, doc.path, within); cmd != nil {
			for _, n := range cmd.Notes {
				s.logOnce(n)
			}
			for _, n := range cmd.Refused {
				s.warnOnce(n)
			}
			within, r.named = within.Command(cmd), cmd.Named
		}
	}
	valid, problems := project.Valid(set)
	for _, p := range problems {
		s.warnOnce(fmt.Sprintf("%s: %q: %v. The default is used instead.", r.at(p.Setting), p.Setting, p))
	}
	r.set, r.within = valid, within
}

// settingsCalls are the requests for our section that have no answer yet. A client that says of each
// letter that its settings have changed is not asked that often, and one that answers late does
// not bring back what has been changed since.
type settingsCalls struct {
	mu      sync.Mutex
	open    int  // without an answer
	again   bool // something has changed that none of them may know
	last    int  // request, counted from 1
	applied int  // the last one whose answer counts

	set sync.Mutex // held while an answer is followed
}

// maxAsking bounds the requests without an answer: more than one, as there may never be one.
// After askingPatience none is waited for.
const (
	maxAsking      = 3
	askingPatience = 30 * time.Second
)

// begin is for one more request; ok is false where it has to wait for the end of another one.
func (a *settingsCalls) begin() (turn int, ok bool) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.open >= maxAsking {
		a.again = true
		return 0, false
	}
	a.open, a.again = a.open+1, false
	a.last++
	return a.last, true
}

// end is for one that is over. again: another one has waited for that.
func (a *settingsCalls) end() (again bool) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.open--
	return a.again
}

// follow does something with the answer to a request, unless a newer one has been followed.
func (a *settingsCalls) follow(turn int, do func()) {
	a.set.Lock()
	defer a.set.Unlock()
	if turn > a.applied {
		a.applied = turn
		do()
	}
}

// pullSettings asks the client for our section.
func (s *Server) pullSettings(ctx context.Context) {
	for again := true; again; {
		turn, ok := s.asking.begin()
		if !ok {
			return
		}
		within, cancel := context.WithTimeout(ctx, askingPatience)
		var answer []json.RawMessage
		err := s.call(within, "workspace/configuration", configurationParams{[]configurationItem{{section}}}, &answer)
		cancel()
		switch {
		case err != nil:
			s.log.Warn("no configuration from the client", zap.Error(err))
		case len(answer) == 1 && string(answer[0]) != "null":
			s.asking.follow(turn, func() { s.setEditorSettings(answer[0]) })
		}
		again = s.asking.end() && ctx.Err() == nil
	}
}

// What is said once is remembered up to a number, and may quote what somebody else has written
// up to a length.
const (
	maxSaid     = 1000
	maxSaidText = 2000
)

// once says whether a text has not been said before, and how it is said.
func (s *Server) once(text string) (clipped string, fresh bool) {
	if len(text) > maxSaidText {
		text = strings.ToValidUTF8(text[:maxSaidText], "") + "…"
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.warned[text] || len(s.warned) >= maxSaid {
		return text, false // enough is enough
	}
	s.warned[text] = true
	return text, true
}

// logOnce logs a remark that has not been logged before.
func (s *Server) logOnce(text string) {
	if text, fresh := s.once(text); fresh {
		s.log.Info(text)
	}
}

// warnOnce shows the user a message that has not been shown before.
func (s *Server) warnOnce(text string) {
	if text, fresh := s.once(text); fresh {
		s.log.Warn(text)
		s.notify("window/showMessage", showMessageParams{2, "narrowgauge: " + text})
	}
}
