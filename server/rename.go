package server

import (
	"context"
	"encoding/json"
	"maps"
	"path/filepath"
	"slices"
	"strings"

	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"

	"narrowgauge/analysis"
	"narrowgauge/server/project"
)

// requestFailed is the code of an error that is no fault of the message's form (LSP 3.17,
// ErrorCodes): the reason is for the user.
const requestFailed = jsonrpc2.Code(-32803)

func reason(text string) error { return jsonrpc2.NewError(requestFailed, text) }

// prepareRename answers textDocument/prepareRename: the name at the position, or why it cannot
// be another one; null where there is no word.
func (s *Server) prepareRename(params json.RawMessage) (work, error) {
	at, err := s.at(params)
	if err != nil {
		return nil, err
	}
	return s.answered(at.snap, at.doc, func(ctx context.Context, r *run, res facts) (any, error) {
		found, ok := res.(*analysis.Result)
		if !ok {
			return nil, nil
		}
		t, err := found.RenameAt(at.doc.name(), at.off)
		if err != nil {
			if t.Name == "" {
				return nil, nil
			}
			return nil, reason(err.Error())
		}
		if !t.Defined {
			all, complete, err := s.units(ctx, at.snap, questionPatience)
			if err != nil {
				return nil, err
			}
			if complete && len(defined(companions(all, ownUnit(all, r, res)), t.Name)) == 0 {
				return nil, reason(analysis.DefinedOutside(t.Name))
			}
		}
		return map[string]any{"range": at.doc.text.rangeOf(t.Span, s.enc), "placeholder": t.Name}, nil
	}), nil
}

// renaming is the work of one rename.
type renaming struct {
	s      *Server
	snap   *snapshot
	target analysis.RenameTarget
	name   string
	all    []*unit
	jobs   []*renameJob // the programs that have the name, the first one asked about
	edits  map[string][]analysis.Edit
}

// renameJob is a program with the name.
type renameJob struct {
	unit *unit
	run  *run
	res  *analysis.Result
	made bool // the run is no part of a snapshot
}

// rename answers textDocument/rename. All programs that have the name get the edits, and each
// is proven to be the same but for the name.
func (s *Server) rename(params json.RawMessage) (work, error) {
	at, err := s.at(params)
	if err != nil {
		return nil, err
	}
	p, err := decode[renameParams](params)
	if err != nil {
		return nil, err
	}
	if p.NewName == nil {
		return nil, invalidParams("newName is missing")
	}
	return s.answered(at.snap, at.doc, func(ctx context.Context, r *run, res facts) (any, error) {
		found, ok := res.(*analysis.Result)
		if !ok {
			return nil, nil
		}
		t, err := found.RenameAt(at.doc.name(), at.off)
		if err != nil {
			return nil, reason(err.Error())
		}
		if t.Name == *p.NewName {
			return &workspaceEdit{}, nil
		}
		all, complete, err := s.units(ctx, at.snap, 0)
		if err != nil {
			return nil, err
		}
		if !complete && s.inFolders(at.doc.path) {
			return nil, reason(analysis.TooManySources())
		}
		n := &renaming{s: s, snap: at.snap, target: t, name: *p.NewName, all: all, edits: map[string][]analysis.Edit{}}
		n.jobs = append(n.jobs, &renameJob{unit: ownUnit(all, r, res), run: r, res: found})
		defer n.end()
		if err := n.work(ctx); err != nil {
			return nil, err
		}
		return n.workspaceEdit()
	}), nil
}

// end ends the run if nobody else has it.
func (j *renameJob) end() {
	if j.made {
		j.run.cancel()
	}
}

// end ends the runs that nobody else has.
func (n *renaming) end() {
	for _, j := range n.jobs {
		j.end()
	}
}

func (n *renaming) work(ctx context.Context) error {
	if err := n.spread(ctx); err != nil {
		return err
	}
	if err := n.allowed(); err != nil {
		return err
	}
	for _, j := range n.jobs {
		ctx, release, err := n.s.computing(ctx, j.run)
		if err != nil {
			return err
		}
		after, err := j.res.Edited(ctx, n.edits)
		release()
		if err != nil {
			return err
		}
		if err := j.res.SameBut(after, n.target, n.name); err != nil {
			return reason(err.Error())
		}
	}
	return nil
}

// spread finds the edits in the first program, and all other programs that have the name:
// those that share it as a linker sees it, and those that read an edited file.
func (n *renaming) spread(ctx context.Context) error {
	if err := n.take(n.jobs[0]); err != nil {
		return err
	}
	for i := 0; i < len(n.jobs); i++ {
		for _, u := range n.all {
			if slices.ContainsFunc(n.jobs, func(j *renameJob) bool { return j.unit == u || j.unit.Path == u.Path }) {
				continue
			}
			shares := n.target.Kind == analysis.RenameSymbol && n.target.Public && u.Public(n.target.Name) != nil && n.jobs[i].unit.MayMeet(&u.LinkUnit) && n.jobs[i].unit.Public(n.target.Name) != nil
			reads := slices.ContainsFunc(u.Files, func(path string) bool { return n.edits[path] != nil })
			if !shares && !reads {
				continue
			}
			j, err := n.s.program(ctx, n.snap, u)
			if err != nil {
				return err
			}
			n.jobs = append(n.jobs, j)
			if err := n.take(j); err != nil {
				return err
			}
		}
	}
	return nil
}

// program is that of a unit, analysed.
func (s *Server) program(ctx context.Context, snap *snapshot, u *unit) (*renameJob, error) {
	r := u.run
	if r == nil {
		r = s.closed(snap, u.Path)
	}
	if r == nil {
		return nil, errModified
	}
	res, err := r.wait(ctx)
	if err != nil {
		return nil, err
	}
	found, ok := res.(*analysis.Result)
	if !ok {
		return nil, errModified
	}
	return &renameJob{u, r, found, u.run == nil}, nil
}

// take adds the edits of a program.
func (n *renaming) take(j *renameJob) error {
	if err := j.res.CanRename(n.target, n.name); err != nil {
		return reason(err.Error())
	}
	if n.target.Kind == analysis.RenameNumber && j != n.jobs[0] {
		return nil // the others have to agree
	}
	edits, err := j.res.RenameEdits(n.target, n.name)
	if err != nil {
		return reason(err.Error())
	}
	for path, list := range edits {
		for _, e := range list {
			if !slices.Contains(n.edits[path], e) {
				n.edits[path] = append(n.edits[path], e)
			}
		}
		slices.SortFunc(n.edits[path], func(a, b analysis.Edit) int { return a.Span.Start - b.Span.Start })
	}
	return nil
}

// allowed says, by an error, why the name is not for us to change: it is defined elsewhere, or
// other files than sources in assembly have it; or the new one is another thing's.
func (n *renaming) allowed() error {
	for path := range n.edits {
		if n.snap.docs[pathKey(path)] == nil && !n.s.inFolders(path) {
			return reason(analysis.DefinedOutside(n.target.Name))
		}
	}
	if n.target.Kind != analysis.RenameSymbol || !n.target.Public {
		return nil
	}
	isDefined := false
	for _, j := range n.jobs {
		y := j.unit.Public(n.target.Name)
		isDefined = isDefined || y != nil && y.Defines()
	}
	if !isDefined {
		return reason(analysis.DefinedOutside(n.target.Name))
	}
	for _, u := range companions(n.all, n.jobs[0].unit) {
		if y := u.Public(n.name); y != nil {
			return reason(analysis.NameElsewhere(n.name, u.Path))
		}
	}
	if path := n.s.mentioned(n.snap, n.target.Name, n.all); path != "" {
		return reason(analysis.MentionedIn(n.target.Name, path))
	}
	return nil
}

// The bounds of the search for a name in files that are no assembly.
const (
	maxTextFile  = 4 << 20
	maxTextBytes = 256 << 20
)

// mentioned is the path of a file in another language, or of a linker's script, in the
// workspace that has a word; empty: there is none.
func (s *Server) mentioned(snap *snapshot, word string, all []*unit) string {
	sum := int64(0)
	for _, path := range s.list(s.ctx).Texts {
		if slices.ContainsFunc(all, func(u *unit) bool { return slices.Contains(u.Files, path) }) {
			continue // assembly includes it
		}
		within := s.bounds(path)
		size := within.Stamp(path).Size
		if size > maxTextFile || sum > maxTextBytes {
			return path // nobody knows
		}
		sum += size
		data, err := within.ReadFile(path)
		if err == nil && analysis.HasWord(string(data), word) {
			return path
		}
	}
	return ""
}

// workspaceEdit converts the edits for the client.
func (n *renaming) workspaceEdit() (*workspaceEdit, error) {
	now := n.s.current()
	out := &workspaceEdit{}
	where := n.s.places(n.snap)
	for _, path := range slices.Sorted(maps.Keys(n.edits)) {
		key := pathKey(path)
		var src *text
		for _, j := range n.jobs {
			if path == j.run.doc.name() {
				key = j.run.doc.key
			}
			if t := j.run.source(path); t != nil {
				src = t
			}
		}
		if src == nil || now.docs[key] != n.snap.docs[key] {
			return nil, errModified
		}
		if now.docs[key] == nil { // the disk is what has been read
			if t := where.text(path); t == nil || t.file.Text() != src.file.Text() {
				return nil, errModified
			}
		}
		n.s.addEdits(out, n.snap.docs[key], path, src, n.edits[path])
	}
	return out, nil
}

// addEdits adds the edits of a file, which doc has open, to an edit of the workspace.
func (s *Server) addEdits(out *workspaceEdit, doc *document, path string, src *text, edits []analysis.Edit) {
	list := make([]protocol.TextEdit, 0, len(edits))
	for _, e := range edits {
		list = append(list, protocol.TextEdit{Range: src.rangeOf(e.Span, s.enc), NewText: e.New})
	}
	id := versionedID{URI: fileURI(path)}
	if doc != nil {
		version := doc.version
		id = versionedID{doc.uri, &version}
	}
	if s.caps.Workspace.WorkspaceEdit.DocumentChanges {
		out.DocumentChanges = append(out.DocumentChanges, documentEdit{id, list})
		return
	}
	if out.Changes == nil {
		out.Changes = map[string][]protocol.TextEdit{}
	}
	out.Changes[id.URI] = list
}

// willRenameFiles answers workspace/willRenameFiles: lines that include the files, or take them
// as bytes, and those in them, lead to where they will be.
func (s *Server) willRenameFiles(params json.RawMessage) (work, error) {
	p, err := decode[renameFilesParams](params)
	if err != nil {
		return nil, err
	}
	moves := map[string]string{}
	for _, f := range p.Files {
		_, from, ok := parseURI(f.OldURI)
		_, to, ok2 := parseURI(f.NewURI)
		if !ok || !ok2 || from == "" || to == "" {
			return nil, invalidParams("a file needs an old and a new URI")
		}
		moves[from] = to
	}
	if p.Files == nil {
		return nil, invalidParams("files are missing")
	}
	snap := s.current()
	return func(ctx context.Context) (any, error) {
		all, _, err := s.units(ctx, snap, 4*unitPatience)
		if err != nil {
			return nil, err
		}
		edits, texts := map[string][]analysis.Edit{}, map[string]*text{}
		for _, u := range all {
			if !u.tried(func(path string) bool { return moved(moves, path) != path }) {
				continue
			}
			j, err := s.program(ctx, snap, u)
			if err != nil {
				return nil, err
			}
			for _, in := range j.namedFiles() {
				if name, ok := j.renamedInclude(in, moves); ok && (s.inFolders(in.At.Path) || snap.docs[pathKey(in.At.Path)] != nil) {
					e := analysis.Edit{Span: in.At.Span, New: name}
					if !slices.Contains(edits[in.At.Path], e) {
						edits[in.At.Path] = append(edits[in.At.Path], e)
					}
					texts[in.At.Path] = j.run.source(in.At.Path)
				}
			}
			j.end()
		}
		out := &workspaceEdit{}
		for _, path := range slices.Sorted(maps.Keys(edits)) {
			if texts[path] != nil {
				slices.SortFunc(edits[path], func(a, b analysis.Edit) int { return a.Span.Start - b.Span.Start })
				s.addEdits(out, snap.docs[pathKey(path)], path, texts[path], edits[path])
			}
		}
		if len(edits) == 0 {
			return nil, nil
		}
		return out, nil
	}, nil
}

// namedFiles are the names of files in the program: those that it includes, and those that it
// takes as bytes.
func (j *renameJob) namedFiles() []analysis.IncludeLine {
	list := j.res.IncludeLines()
	for _, path := range j.unit.Files {
		for _, l := range j.res.LinksIn(path) {
			if l.Path != "" {
				continue // it is included
			}
			if found := j.run.fileOf(path, &l); found != "" {
				list = append(list, analysis.IncludeLine{At: analysis.Location{Path: path, Span: l.Span}, Name: l.Name, Path: found})
			}
		}
	}
	return list
}

// moved is where a file will be when files and folders have moved.
func moved(moves map[string]string, path string) string {
	for from, to := range moves {
		if path == from {
			return to
		}
		if rest, ok := strings.CutPrefix(path, from+string(filepath.Separator)); ok {
			return filepath.Join(to, rest)
		}
	}
	return path
}

// renamedInclude is the name that an include line needs when files have moved: counted from the
// same folder as before, or one that leads there as well. ok is false where it needs no other one,
// or none can be told.
func (j *renameJob) renamedInclude(in analysis.IncludeLine, moves map[string]string) (name string, ok bool) {
	from, to := moved(moves, in.At.Path), moved(moves, in.Path)
	if from == in.At.Path && to == in.Path || filepath.IsAbs(in.Name) {
		return "", false
	}
	was := filepath.FromSlash(strings.ReplaceAll(in.Name, `\`, "/"))
	if filepath.Join(filepath.Dir(in.At.Path), was) == in.Path {
		name, ok = relative(filepath.Dir(from), to)
	} else if rest, found := strings.CutSuffix(in.Path, string(filepath.Separator)+filepath.Clean(was)); found && to != in.Path {
		name, ok = j.fromFolders(in, moves, rest)
	}
	if !ok || name == in.Name {
		return "", false
	}
	if strings.Contains(in.Name, `\`) && !strings.Contains(in.Name, "/") {
		return strings.ReplaceAll(name, "/", `\`), true
	}
	return inQuotes(name, in.C)
}

// fromFolders is the new name of a file that was found in a folder of the settings, which stays
// where it is. The preprocessor looks beside the file that includes first; the assembler, of which
// nobody knows in what folder it runs, only in those of the settings.
func (j *renameJob) fromFolders(in analysis.IncludeLine, moves map[string]string, folder string) (string, bool) {
	from, to := moved(moves, in.At.Path), moved(moves, in.Path)
	j.run.mu.Lock()
	set, within := j.run.set, j.run.within
	j.run.mu.Unlock()
	if set == nil {
		return "", false
	}
	beside := ""
	if in.C && !in.System {
		beside = from
	}
	leads := func(name string) bool {
		for _, path := range project.Candidates(beside, name, set.Include) {
			if path == to {
				return true
			}
			if moved(moves, path) == path && within.Stamp(path) != (project.Stamp{}) {
				return false // another one comes first
			}
		}
		return false
	}
	dirs := append([]string{folder}, set.Include...)
	if beside != "" {
		dirs = slices.Insert(dirs, 1, filepath.Dir(from))
	}
	for outside := range 2 { // of a folder, if nothing leads there inside of one
		for _, dir := range dirs {
			name, ok := relative(dir, to)
			if ok && strings.HasPrefix(name, "../") == (outside > 0) && (leads(name) || dir == folder && outside == 0) {
				return name, true
			}
		}
	}
	return "", false
}

// relative is a path as sources write it, counted from a folder.
func relative(dir, path string) (string, bool) {
	rel, err := filepath.Rel(dir, path)
	return filepath.ToSlash(rel), err == nil
}

// inQuotes is a name as it is written between quotes: the assembler reads escapes there, and the
// preprocessor none.
func inQuotes(name string, c bool) (string, bool) {
	if strings.ContainsAny(name, "\n\r") || c && strings.ContainsAny(name, `"<>`) {
		return "", false
	}
	if !c {
		name = strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(name)
	}
	return name, true
}
