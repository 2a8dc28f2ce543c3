package server

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
	"go.uber.org/zap"

	"narrowgauge/analysis"
	"narrowgauge/server/project"
)

// Options of a server. The zero value is usable.
type Options struct {
	// Log takes the server's log. It must not write to the connection.
	// Nil: no log.
	Log *zap.Logger
	// Version is reported to the client.
	Version string
	// CacheDir is the folder for the explanations that diagnostics link to.
	// Empty: the user's cache folder.
	CacheDir string
	// DependentsDelay is how long the server waits after a change before it
	// analyses what only depends on the changed document. Zero: 150 ms;
	// negative: none.
	DependentsDelay time.Duration

	// ParentCheck is how often the server looks whether the process that
	// started it still runs. Zero: every 3 s.
	ParentCheck time.Duration

	// Rest is called when the client has sent nothing for a moment, and again when that was a
	// quarter of a second: there is time for what would be in the way while somebody types. quiet
	// is for how long. Nil: there is nothing.
	Rest func(quiet time.Duration)

	// Largest is told the size, in bytes, of the largest open document when one has been opened or
	// closed; 0: none is open. Nil: nobody is.
	Largest func(size int)

	// analyze takes the place of the analysis in tests of what surrounds it, and acrossDelay,
	// unless it is zero, that of the delay of the same name.
	analyze     func(ctx context.Context, in *analysis.Input) (facts, error)
	acrossDelay time.Duration
	// answers is told of each answer before it is written: how long it took until its analysis
	// was there, 0 where it was not, and until it was made.
	answers func(id string, analysed, made time.Duration)
	// answerWithin is how long a question waits that is asked by the way, without what its
	// document's size adds to that. Zero: the constant of that name.
	answerWithin time.Duration
	// slots are those of another session in the same process, to share the processors with;
	// nil: it has its own.
	slots *slots
}

// Server is one session with one client.
type Server struct {
	opt  Options
	log  *zap.Logger
	conn jsonrpc2.Conn
	out  *stream // of conn

	ctx    context.Context // of the session: ends with the connection
	cancel context.CancelFunc
	slots  *slots // for the analyses and proofs that run at once

	disk     project.Disk
	projects project.Finder
	commands project.Commands
	builds   project.BuildFiles
	index    project.Index
	voices   project.Voices
	docs     explanations
	made     atomic.Pointer[analysis.Expansions] // shared by all analyses
	idle     *time.Timer                         // gives memory back when it fires
	gaveBack atomic.Int64                        // when it did, in nanoseconds since 1970
	rest     *time.Timer                         // calls Options.Rest when it fires; nil: there is none
	paused   atomic.Bool                         // it has, since the last message
	changes  atomic.Int64                        // grows when settings may be others
	near     found[*project.Bounds]              // bounds, by path
	flagged  found[bool]                         // whether a database names a source, by path and setting
	prepared atomic.Bool                         // memory for long documents
	scans    scans
	catalog  catalog
	across   across
	tokens   sentTokens

	// Set by initialize, before any other request is let through.
	caps         clientCapabilities
	pulls        atomic.Bool  // the client has asked for findings: none are sent unasked
	trace        atomic.Int32 // how much the client wants to be told: nothing, messages, all
	enc          encoding
	tells        bool // of changed targets
	tellsRegions bool // the same of regions
	tags         []int
	lifecycle    lifecycle // only the reading goroutine uses it
	// registered says that initialized has come; the reading goroutine uses it.
	registered bool
	ending     atomic.Bool // shutdown has come, for those that may not ask lifecycle
	exit       chan int
	broken     chan error // the client reads nothing any more, or has ended

	mu   sync.Mutex
	snap *snapshot
	// questions are those that have no answer yet.
	questions map[*question]bool
	editor    editorSettings
	root      string // first folder of the workspace; empty if there is none
	// folders are all that the workspace has.
	folders []string
	warned  map[string]bool
	asking  settingsCalls

	inFlightMu sync.Mutex
	inFlight   map[string]context.CancelCauseFunc // requests by id
	askedBytes int                                // of their parameters
	turns      *slots                             // for answers that are made and written

	pub publisher
}

// lifecycle is where the session is (LSP 3.17, "Server lifecycle").
type lifecycle int

const (
	created lifecycle = iota
	running
	shutDown
)

// Serve runs one session over in and out until the client sends exit, the
// input ends, or ctx is cancelled. The result is the exit code that the
// protocol asks for: 0 if the client had sent shutdown, else 1.
func Serve(ctx context.Context, in io.ReadCloser, out io.Writer, opt Options) int {
	if opt.Log == nil {
		opt.Log = zap.NewNop()
	}
	if opt.analyze == nil {
		opt.analyze = analyze
	}
	if opt.DependentsDelay == 0 {
		opt.DependentsDelay = 150 * time.Millisecond
	}
	if opt.answerWithin == 0 {
		opt.answerWithin = answerWithin
	}
	if opt.slots == nil {
		opt.slots = newSlots()
	}
	if opt.acrossDelay == 0 {
		opt.acrossDelay = acrossDelay
	}
	s := &Server{
		opt: opt, log: opt.Log,
		slots:  opt.slots,
		turns:  &slots{free: maxTurns, most: turnsEach, taken: map[docKey]int{}},
		exit:   make(chan int, 1),
		broken: make(chan error, 1),
		snap:   &snapshot{docs: map[docKey]*document{}, runs: map[docKey]*run{}, hidden: map[docKey]*run{}},
		warned: map[string]bool{}, questions: map[*question]bool{},
		inFlight: map[string]context.CancelCauseFunc{},
		enc:      utf16Columns,
	}
	s.docs.dir = opt.CacheDir
	s.pub.init()
	s.made.Store(new(analysis.Expansions))
	s.idle = time.AfterFunc(time.Hour, s.giveBack)
	defer s.idle.Stop()
	if opt.Rest != nil {
		s.rest = time.AfterFunc(time.Hour, s.quiet)
		defer s.rest.Stop()
	}
	s.ctx, s.cancel = context.WithCancel(ctx)
	defer s.cancel()
	s.out = newStream(in, &watchedWriter{out, s.end})
	s.conn = jsonrpc2.NewConn(s.out)
	s.conn.Go(s.ctx, s.handle)
	published := make(chan struct{})
	go func() { defer close(published); s.publish() }()
	code := 1
	select {
	case code = <-s.exit:
	case <-s.conn.Done():
		// The reading goroutine has ended: lifecycle is ours now.
		select {
		case code = <-s.exit:
		default:
			if s.lifecycle == shutDown {
				code = 0
			}
			s.log.Info("the input has ended", zap.Error(s.conn.Err()))
		}
	case err := <-s.broken:
		if s.ending.Load() { // after shutdown the client may go without exit
			code = 0
		}
		s.log.Info("the session ends", zap.Error(err))
	case <-ctx.Done():
	}
	s.cancel()
	_ = s.conn.Close()
	select {
	case <-published:
	case <-time.After(time.Second): // a client that reads nothing blocks it
	}
	return code
}

// end ends the session for a reason that no message gives.
func (s *Server) end(err error) {
	select {
	case s.broken <- err:
	default: // one is enough
	}
}

// watchedWriter is the output; the first error ends the session: what a client does
// not read any more, no work is done for.
type watchedWriter struct {
	io.Writer
	failed func(error)
}

func (w *watchedWriter) Write(data []byte) (int, error) {
	n, err := w.Writer.Write(data)
	if err != nil {
		w.failed(fmt.Errorf("the client cannot be written to: %w", err))
	}
	return n, err
}

// errCancelled is the cause of a context that the client has cancelled.
var errCancelled = errors.New("cancelled by the client")

// work is the part of a request that may take time. It runs in a goroutine
// of its own, on the snapshot that was current when the request arrived.
type work func(ctx context.Context) (any, error)

// requests and notifications: the first part of each handler runs in the
// order of arrival and must be quick.
var requests = map[string]func(s *Server, params json.RawMessage) (work, error){
	"textDocument/hover":             (*Server).hover,
	"textDocument/completion":        (*Server).completion,
	"completionItem/resolve":         (*Server).resolveCompletion,
	"textDocument/definition":        (*Server).definition,
	"textDocument/documentHighlight": (*Server).highlight,
	"textDocument/foldingRange":      (*Server).folding,
	"textDocument/selectionRange":    (*Server).selection,
	"textDocument/references":        (*Server).references,
	"textDocument/diagnostic":        (*Server).diagnostics,
	"workspace/diagnostic":           (*Server).workspaceDiagnostics,
	"textDocument/formatting":        (*Server).formatting,
	"textDocument/rangeFormatting":   (*Server).rangeFormatting,
	"textDocument/onTypeFormatting":  (*Server).onTypeFormatting,
	"textDocument/documentSymbol":    (*Server).documentSymbol,
	"textDocument/codeAction":        (*Server).codeAction,
	"codeAction/resolve":             (*Server).resolveCodeAction,
	"narrowgauge/target":             (*Server).target,
	"narrowgauge/regions":            (*Server).regions,

	"textDocument/declaration":          (*Server).declaration,
	"textDocument/prepareRename":        (*Server).prepareRename,
	"textDocument/rename":               (*Server).rename,
	"workspace/willRenameFiles":         (*Server).willRenameFiles,
	"workspace/symbol":                  (*Server).workspaceSymbol,
	"textDocument/prepareCallHierarchy": (*Server).prepareCalls,
	"callHierarchy/incomingCalls":       (*Server).incomingCalls,
	"callHierarchy/outgoingCalls":       (*Server).outgoingCalls,

	"textDocument/signatureHelp":             (*Server).signatureHelp,
	"textDocument/inlayHint":                 (*Server).hints,
	"textDocument/codeLens":                  (*Server).lenses,
	"textDocument/documentLink":              (*Server).links,
	"documentLink/resolve":                   (*Server).resolveLink,
	"codeLens/resolve":                       (*Server).resolveLens,
	"textDocument/semanticTokens/full":       (*Server).tokensFull,
	"textDocument/semanticTokens/full/delta": (*Server).tokensDelta,
	"textDocument/semanticTokens/range":      (*Server).tokensRange,
}

var notifications = map[string]func(s *Server, params json.RawMessage) error{
	"$/setTrace":                          (*Server).setTrace,
	"initialized":                         (*Server).initialized,
	"textDocument/didOpen":                (*Server).didOpen,
	"textDocument/didChange":              (*Server).didChange,
	"textDocument/didSave":                (*Server).didSave,
	"textDocument/didClose":               (*Server).didClose,
	"workspace/didChangeConfiguration":    (*Server).didChangeConfiguration,
	"workspace/didChangeWatchedFiles":     (*Server).didChangeWatchedFiles,
	"workspace/didChangeWorkspaceFolders": (*Server).didChangeWorkspaceFolders,
}

// pauseAfter is how long nothing comes until the server rests for a moment, as between two letters
// of one who types, and restAfter until it rests for longer than that.
const (
	pauseAfter = 25 * time.Millisecond
	restAfter  = 250 * time.Millisecond
)

// quiet has the server rest: nothing has come for a while.
func (s *Server) quiet() {
	if s.paused.Swap(true) {
		s.opt.Rest(restAfter)
		return
	}
	s.rest.Reset(restAfter - pauseAfter)
	s.opt.Rest(pauseAfter)
}

// handle dispatches one message. It never returns an error, which would end
// the connection, and replies to every request exactly once.
func (s *Server) handle(_ context.Context, reply jsonrpc2.Replier, req jsonrpc2.Request) error {
	var call *jsonrpc2.Call
	if c, ok := req.(*jsonrpc2.Call); ok {
		call = c
	}
	params := json.RawMessage(req.Params())
	if s.rest != nil {
		s.paused.Store(false)
		s.rest.Reset(pauseAfter)
	}
	if call == nil {
		s.notified(req.Method(), params)
		return nil
	}
	answer := func(result any, err error) { s.answer(reply, req.Method(), result, err) }
	switch {
	case s.lifecycle == shutDown:
		answer(nil, jsonrpc2.NewError(jsonrpc2.InvalidRequest, "the server has been shut down"))
		return nil
	case req.Method() == "initialize":
		answer(guard(s, func() (any, error) { return s.initialize(params) }))
		return nil
	case s.lifecycle == created:
		answer(nil, jsonrpc2.NewError(jsonrpc2.ServerNotInitialized, "the server waits for initialize"))
		return nil
	case req.Method() == "shutdown":
		s.lifecycle = shutDown
		s.ending.Store(true)
		s.cancelAll()
		answer(nil, nil)
		return nil
	}
	prepare := requests[req.Method()]
	if prepare == nil {
		answer(nil, jsonrpc2.Errorf(jsonrpc2.MethodNotFound, "no method %.100q", req.Method()))
		return nil
	}
	id := fmt.Sprintf("%s", call.ID())
	ctx, cancel := context.WithCancelCause(s.ctx)
	release := func() { cancel(nil) }
	if !strings.HasPrefix(req.Method(), "workspace/") { // what is about all documents has time
		ctx, release = s.question(ctx, cancel, req.Method())
	}
	if fresh, err := s.enter(id, len(params), cancel); !fresh || err != nil {
		release()
		if err == nil {
			err = jsonrpc2.NewError(jsonrpc2.InvalidRequest, "a request with this id is still running")
		}
		answer(nil, err)
		return nil
	}
	began := time.Now()
	end := func(result any, err error) {
		how := fmt.Sprintf("after %v", time.Since(began).Round(time.Microsecond))
		if err != nil {
			how += ", with an error: " + err.Error()
		}
		s.logTrace(req.Method()+" is answered", how)
		if s.opt.answers != nil {
			s.opt.answers(id, questionOf(ctx).spent(), time.Since(began))
		}
		s.leave(id, len(params))
		if cause := context.Cause(ctx); err != nil && cause != nil {
			err = cause
		}
		release()
		answer(result, err)
	}
	rest, err := guard(s, func() (work, error) { return prepare(s, params) })
	if err != nil {
		end(nil, err)
		return nil
	}
	s.carry(ctx, req.Method(), rest, end)
	return nil
}

// carry does the work of a request in its turn, and ends it with the result.
func (s *Server) carry(ctx context.Context, method string, rest work, end func(result any, err error)) {
	type outcome struct {
		result any
		err    error
	}
	done, written := make(chan outcome, 1), make(chan struct{})
	own := &turn{slots: s.turns}
	ctx = context.WithValue(ctx, turnKey{}, own)
	go func() {
		defer own.end()
		result, err := guard(s, func() (any, error) {
			if early[method] {
				if err := own.take(ctx, ""); err != nil {
					return nil, err
				}
			}
			return rest(ctx)
		})
		done <- outcome{result, err}
		<-written
	}()
	go func() {
		defer close(written)
		select {
		case o := <-done:
			end(o.result, o.err)
		case <-ctx.Done(): // what has been begun may take a moment until it notices
			end(nil, context.Cause(ctx))
		}
	}()
}

func (s *Server) notified(method string, params json.RawMessage) {
	switch {
	case method == "exit":
		code := 1
		if s.lifecycle == shutDown {
			code = 0
		}
		select {
		case s.exit <- code:
		default:
		}
		return
	case method == "$/cancelRequest":
		s.cancelRequest(params)
		return
	case s.lifecycle != running:
		return // LSP 3.17: to be dropped, except for exit
	}
	handle := notifications[method]
	if handle == nil {
		return
	}
	if _, err := guard(s, func() (any, error) { return nil, handle(s, params) }); err != nil {
		s.log.Warn("notification not followed", zap.String("method", method), zap.Error(err))
	}
}

// guard turns a panic of f into an error.
func guard[T any](s *Server, f func() (T, error)) (result T, err error) {
	defer func() {
		if p := recover(); p != nil {
			s.log.Error("panic", zap.Any("panic", p), zap.ByteString("stack", debug.Stack()))
			err = jsonrpc2.NewError(jsonrpc2.InternalError, "internal error; the server's log has the details")
		}
	}()
	return f()
}

// answer replies to a request. A result that cannot be encoded becomes an
// error, since the library would send nothing at all.
func (s *Server) answer(reply jsonrpc2.Replier, method string, result any, err error) {
	var raw json.RawMessage
	if err == nil {
		raw, err = json.Marshal(result)
	}
	if err != nil {
		var known *jsonrpc2.Error
		switch {
		case errors.As(err, &known):
		case errors.Is(err, errModified), errors.Is(err, errBusy), errors.Is(err, errCrowded):
			err = jsonrpc2.NewError(protocol.CodeContentModified, err.Error())
		case errors.Is(err, context.Canceled), errors.Is(err, errCancelled):
			err = jsonrpc2.NewError(protocol.CodeRequestCancelled, "cancelled")
		default:
			s.log.Error("request failed", zap.String("method", method), zap.Error(err))
			err = jsonrpc2.NewError(jsonrpc2.InternalError, err.Error())
		}
		raw = json.RawMessage("null")
	}
	if err := reply(s.ctx, raw, err); err != nil {
		s.log.Warn("no answer could be sent", zap.String("method", method), zap.Error(err))
	}
}

func (s *Server) cancelRequest(params json.RawMessage) {
	var p struct {
		ID json.RawMessage `json:"id"`
	}
	if json.Unmarshal(params, &p) != nil {
		return
	}
	id, ok := idKey(p.ID)
	if !ok {
		return
	}
	s.inFlightMu.Lock()
	cancel := s.inFlight[id]
	s.inFlightMu.Unlock()
	if cancel != nil {
		cancel(errCancelled)
	}
}

func (s *Server) cancelAll() {
	s.inFlightMu.Lock()
	defer s.inFlightMu.Unlock()
	for _, cancel := range s.inFlight {
		cancel(errCancelled)
	}
}

// notify sends a notification. Params that are JSON are sent as they are.
func (s *Server) notify(method string, params any) {
	raw, ok := params.(json.RawMessage)
	var err error
	if !ok {
		raw, err = json.Marshal(params)
	}
	if err == nil {
		err = s.out.notify(method, raw)
	}
	if err != nil {
		s.log.Warn("notification not sent", zap.String("method", method), zap.Error(err))
	}
}

// call sends a request to the client and waits for the answer. It must not
// be used from the reading goroutine.
func (s *Server) call(ctx context.Context, method string, params, result any) error {
	in, err := json.Marshal(params)
	if err != nil {
		return err
	}
	var out json.RawMessage
	if _, err := s.conn.Call(ctx, method, json.RawMessage(in), &out); err != nil {
		return fmt.Errorf("%s: %w", method, err)
	}
	if result == nil || len(out) == 0 {
		return nil
	}
	return json.Unmarshal(out, result)
}

// decode reads params. Missing params are as bad as malformed ones.
func decode[T any](params json.RawMessage) (T, error) {
	var out T
	if len(params) == 0 || string(params) == "null" {
		return out, jsonrpc2.NewError(jsonrpc2.InvalidParams, "params are missing")
	}
	if err := json.Unmarshal(params, &out); err != nil {
		return out, jsonrpc2.Errorf(jsonrpc2.InvalidParams, "params: %v", err)
	}
	return out, nil
}

func invalidParams(format string, args ...any) error {
	return jsonrpc2.Errorf(jsonrpc2.InvalidParams, format, args...)
}

func (s *Server) initialize(params json.RawMessage) (any, error) {
	if s.lifecycle != created {
		return nil, jsonrpc2.NewError(jsonrpc2.InvalidRequest, "initialize was sent twice")
	}
	p, err := decode[initializeParams](params)
	if err != nil {
		return nil, err
	}
	s.caps = p.Capabilities
	if slices.Contains(p.Capabilities.General.PositionEncodings, string(utf8Columns)) {
		s.enc = utf8Columns
	}
	var beyond experimental
	if json.Unmarshal(p.Capabilities.Experimental, &beyond) == nil {
		s.tells, s.tellsRegions = beyond.Target, beyond.Regions
	}
	var tags struct {
		ValueSet []int `json:"valueSet"`
	}
	if json.Unmarshal(p.Capabilities.TextDocument.PublishDiagnostics.TagSupport, &tags) == nil {
		s.tags = tags.ValueSet
	}
	var folders []string
	for _, f := range p.WorkspaceFolders {
		folders = append(folders, f.URI)
	}
	if len(folders) == 0 && p.RootURI != nil {
		folders = []string{*p.RootURI}
	}
	s.setFolders(folders, nil)
	if p.ClientInfo != nil {
		s.log.Info("client", zap.String("name", p.ClientInfo.Name), zap.String("version", p.ClientInfo.Version))
	}
	s.traceAs(p.Trace)
	s.watchParent(p.ProcessID)
	s.lifecycle = running
	s.setEditorSettings(p.InitializationOptions)
	if s.caps.Workspace.Configuration {
		// Findings wait for the settings, so that the first ones are right;
		// not for ever, in case the client never lets us ask or answers.
		time.AfterFunc(2*time.Second, s.pub.start)
	} else {
		s.pub.start()
	}
	var r initializeResult
	r.ServerInfo = protocol.ServerInfo{Name: "narrowgauge", Version: s.opt.Version}
	r.Capabilities = serverCapabilities{
		PositionEncoding:       s.enc,
		TextDocumentSync:       textDocumentSync{OpenClose: true, Change: 2, Save: true},
		HoverProvider:          true,
		CompletionProvider:     protocol.CompletionOptions{ResolveProvider: true, TriggerCharacters: []string{".", " ", "[", "{", "#", "=", ",", "\"", "/", "<", "\\", "%"}},
		DefinitionProvider:     true,
		DeclarationProvider:    true,
		RenameProvider:         true,
		WorkspaceSymbols:       true,
		CallHierarchy:          true,
		ReferencesProvider:     true,
		HighlightProvider:      true,
		FoldingProvider:        true,
		SelectionProvider:      true,
		DocumentSymbolProvider: true,
		FormattingProvider:     true,
		DiagnosticProvider:     diagnosticOptions{"narrowgauge", true, true, true},
		RangeFormatting:        true,
		OnTypeFormatting:       onTypeOptions{"\n", []string{":"}},
		CodeActionProvider: codeActionOptions{
			CodeActionKinds: []string{kindQuickFix, kindFixAll, kindExtract, kindRewrite},
			ResolveProvider: s.canResolve(),
		},
		SemanticTokensProvider: tokenOptions(),
		HintProvider:           true,
		LensProvider:           lensOptions{true},
		LinkProvider:           linkOptions{true},
		SignatureHelpProvider:  signatureHelpOptions{TriggerCharacters: []string{" ", ","}},
	}
	if s.caps.TextDocument.Rename.PrepareSupport { // LSP 3.17, RenameOptions: only then
		r.Capabilities.RenameProvider = renameOptions{PrepareProvider: true}
	}
	r.Capabilities.Experimental = experimental{true, true}
	r.Capabilities.Workspace.WorkspaceFolders.Supported = true
	r.Capabilities.Workspace.FileOperations.WillRename = &sourceFiles
	r.Capabilities.Workspace.WorkspaceFolders.ChangeNotifications = true
	return r, nil
}

// setFolders adds folders to those of the workspace and removes others.
func (s *Server) setFolders(added, removed []string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	gone, there := map[string]bool{}, map[string]bool{}
	for _, uri := range removed {
		if _, path, ok := parseURI(uri); ok && path != "" {
			gone[path] = true
		}
	}
	folders := slices.DeleteFunc(slices.Clone(s.folders), func(dir string) bool { return gone[dir] })
	for _, dir := range folders {
		there[dir] = true
	}
	for _, uri := range added {
		if _, path, ok := parseURI(uri); ok && path != "" && !there[path] {
			there[path] = true
			folders = append(folders, path)
		}
	}
	s.folders = folders
	s.root = ""
	if len(s.folders) > 0 {
		s.root = s.folders[0]
	}
}

func (s *Server) initialized(json.RawMessage) error {
	if s.registered {
		return nil // LSP 3.17: it is sent once; what it starts is not started twice
	}
	s.registered = true
	ws := s.caps.Workspace
	var regs []registration
	if ws.DidChangeWatchedFiles.DynamicRegistration {
		regs = append(regs, registration{"watch", "workspace/didChangeWatchedFiles", watchOptions{[]watcher{
			{"**/" + project.FileName}, {"**/" + project.CommandsName}, {"**/*.{s,S,sx,asm,inc,h,i,mac,bin}"},
			{"**/{Makefile,makefile,GNUmakefile,CMakeLists.txt,meson.build}"}, {"**/*.{mk,cmake,ld,ini}"},
		}}})
	}
	if ws.DidChangeConfiguration.DynamicRegistration {
		regs = append(regs, registration{"settings", "workspace/didChangeConfiguration", map[string]string{"section": section}})
	}
	go func() {
		if len(regs) > 0 {
			if err := s.call(s.ctx, "client/registerCapability", registrationParams{regs}, nil); err != nil {
				s.log.Warn("no dynamic registration", zap.Error(err))
			}
		}
	}()
	if ws.Configuration {
		go func() {
			s.pullSettings(s.ctx)
			s.pub.start()
		}()
	}
	return nil
}

func (s *Server) didChangeConfiguration(params json.RawMessage) error {
	if s.caps.Workspace.Configuration {
		go s.pullSettings(s.ctx)
		return nil
	}
	p, err := decode[struct {
		Settings json.RawMessage `json:"settings"`
	}](params)
	if err != nil {
		return err
	}
	s.setEditorSettings(p.Settings)
	return nil
}

func (s *Server) didChangeWatchedFiles(params json.RawMessage) error {
	p, err := decode[didChangeWatchedFilesParams](params)
	if err != nil {
		return err
	}
	var paths []string
	for _, c := range p.Changes {
		if _, path, ok := parseURI(c.URI); ok && path != "" {
			paths = append(paths, path)
		}
	}
	s.changedOnDisk(paths, false)
	s.wake()
	return nil
}

// changedOnDisk looks again at files of which the client says that they have
// changed. It is believed: size and time may be what they were.
// settings says that those that hold may be others too, whatever the files are.
func (s *Server) changedOnDisk(paths []string, settings bool) {
	changed, there := &project.Changed{}, make(map[string]bool, len(paths))
	boundsOf, release := s.boundsOfMany()
	defer release()
	for _, path := range paths {
		if _, done := there[path]; done {
			continue // said twice
		}
		within := boundsOf(path)
		stamp := within.Stamp(path)
		changed.Add(path, stamp)
		there[path] = stamp != project.Stamp{} && s.inFolders(path)
		s.scans.graph.Update(path, within)
	}
	s.catalog.appeared(there)
	if slices.ContainsFunc(paths, func(path string) bool {
		base := filepath.Base(path)
		return base == project.FileName || base == project.CommandsName || project.IsBuildFile(path)
	}) {
		s.catalog.forget(nil)
	} else {
		s.catalog.forget(changed)
	}
	s.disk.Changed(changed)
	s.projects.Changed(changed)
	s.commands.Changed(changed)
	s.builds.Changed(changed)
	if settings || slices.ContainsFunc(paths, func(path string) bool { return !project.IsSource(path) }) {
		s.changes.Add(1) // after what was read before is gone
	}
	s.index.Changed(changed, boundsOf)
	if slices.ContainsFunc(paths, project.IsBuildFile) {
		s.guessAgain()
	}
	s.refresh(changed)
}

func (s *Server) didChangeWorkspaceFolders(params json.RawMessage) error {
	p, err := decode[workspaceFoldersParams](params)
	if err != nil {
		return err
	}
	var added, removed []string
	for _, f := range p.Event.Added {
		added = append(added, f.URI)
	}
	for _, f := range p.Event.Removed {
		removed = append(removed, f.URI)
	}
	s.setFolders(added, removed)
	s.changes.Add(1)
	s.catalog.forget(nil)
	s.refresh(nil)
	s.wake()
	return nil
}
