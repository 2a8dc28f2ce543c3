package server

// This file holds the parts of LSP 3.17 that go.lsp.dev/protocol lacks or
// decodes wrongly: fields that must be pointers, options that may be an
// object or a flag, everything that came with 3.17. Names and meaning are
// those of the specification.

import (
	"encoding/json"

	"go.lsp.dev/protocol"
)

// initializeParams is what we read of InitializeParams. Only these parts are
// decoded, so that nothing else in the message can make it fail.
type initializeParams struct {
	// ProcessID is read apart: a client that gives no number is served all the same.
	ProcessID        json.RawMessage `json:"processId"`
	RootURI          *string         `json:"rootUri"`
	WorkspaceFolders []struct {
		URI string `json:"uri"`
	} `json:"workspaceFolders"`
	InitializationOptions json.RawMessage `json:"initializationOptions"`
	Trace                 string          `json:"trace"`
	ClientInfo            *struct {
		Name    string `json:"name"`
		Version string `json:"version"`
	} `json:"clientInfo"`
	Capabilities clientCapabilities `json:"capabilities"`
}

type clientCapabilities struct {
	Experimental json.RawMessage `json:"experimental"` // anything; see experimental
	General      struct {
		PositionEncodings []string `json:"positionEncodings"`
	} `json:"general"`
	Window struct {
		WorkDoneProgress bool `json:"workDoneProgress"`
	} `json:"window"`
	Workspace struct {
		Configuration bool `json:"configuration"`
		WorkspaceEdit struct {
			DocumentChanges bool `json:"documentChanges"`
		} `json:"workspaceEdit"`
		DidChangeConfiguration dynamicRegistration `json:"didChangeConfiguration"`
		DidChangeWatchedFiles  dynamicRegistration `json:"didChangeWatchedFiles"`
		SemanticTokens         refreshes           `json:"semanticTokens"`
		InlayHint              refreshes           `json:"inlayHint"`
		CodeLens               refreshes           `json:"codeLens"`
		Diagnostics            refreshes           `json:"diagnostics"`
	} `json:"workspace"`
	TextDocument struct {
		Completion struct {
			Item struct {
				SnippetSupport        bool     `json:"snippetSupport"`
				DocumentationFormat   []string `json:"documentationFormat"`
				InsertTextModeSupport *struct {
					ValueSet []int `json:"valueSet"`
				} `json:"insertTextModeSupport"`
			} `json:"completionItem"`
		} `json:"completion"`
		Hover struct {
			ContentFormat []string `json:"contentFormat"`
		} `json:"hover"`
		Rename struct {
			PrepareSupport bool `json:"prepareSupport"`
		} `json:"rename"`
		DocumentSymbol struct {
			Hierarchical bool `json:"hierarchicalDocumentSymbolSupport"`
		} `json:"documentSymbol"`
		PublishDiagnostics struct {
			RelatedInformation bool `json:"relatedInformation"`
			// TagSupport was a flag before it became an object.
			TagSupport             json.RawMessage `json:"tagSupport"`
			VersionSupport         bool            `json:"versionSupport"`
			CodeDescriptionSupport bool            `json:"codeDescriptionSupport"`
		} `json:"publishDiagnostics"`
		SignatureHelp struct {
			Information struct {
				DocumentationFormat []string `json:"documentationFormat"`
				Parameter           struct {
					LabelOffsets bool `json:"labelOffsetSupport"`
				} `json:"parameterInformation"`
			} `json:"signatureInformation"`
		} `json:"signatureHelp"`
		CodeAction struct {
			Literal *struct {
				CodeActionKind struct {
					ValueSet []string `json:"valueSet"`
				} `json:"codeActionKind"`
			} `json:"codeActionLiteralSupport"`
			IsPreferredSupport bool `json:"isPreferredSupport"`
			DataSupport        bool `json:"dataSupport"`
			ResolveSupport     *struct {
				Properties []string `json:"properties"`
			} `json:"resolveSupport"`
		} `json:"codeAction"`
	} `json:"textDocument"`
}

// experimental is what goes beyond the protocol; editors/SETUP.md describes it.
type experimental struct {
	// Target: of a server, that it answers narrowgauge/target; of a client, that it takes
	// narrowgauge/targetChanged.
	Target bool `json:"narrowgaugeTarget,omitempty"`
	// Regions: the same of narrowgauge/regions and narrowgauge/regionsChanged.
	Regions bool `json:"narrowgaugeRegions,omitempty"`
}

// refreshes says whether a client can be told to ask for something again.
type refreshes struct {
	RefreshSupport bool `json:"refreshSupport"`
}

type dynamicRegistration struct {
	DynamicRegistration bool `json:"dynamicRegistration"`
}

type initializeResult struct {
	Capabilities serverCapabilities  `json:"capabilities"`
	ServerInfo   protocol.ServerInfo `json:"serverInfo"`
}

type serverCapabilities struct {
	PositionEncoding       encoding                   `json:"positionEncoding"`
	TextDocumentSync       textDocumentSync           `json:"textDocumentSync"`
	HoverProvider          bool                       `json:"hoverProvider"`
	CompletionProvider     protocol.CompletionOptions `json:"completionProvider"`
	DefinitionProvider     bool                       `json:"definitionProvider"`
	DeclarationProvider    bool                       `json:"declarationProvider"`
	RenameProvider         any                        `json:"renameProvider"`
	WorkspaceSymbols       bool                       `json:"workspaceSymbolProvider"`
	CallHierarchy          bool                       `json:"callHierarchyProvider"`
	ReferencesProvider     bool                       `json:"referencesProvider"`
	DocumentSymbolProvider bool                       `json:"documentSymbolProvider"`
	HighlightProvider      bool                       `json:"documentHighlightProvider"`
	FoldingProvider        bool                       `json:"foldingRangeProvider"`
	SelectionProvider      bool                       `json:"selectionRangeProvider"`
	DiagnosticProvider     diagnosticOptions          `json:"diagnosticProvider"`
	FormattingProvider     bool                       `json:"documentFormattingProvider"`
	RangeFormatting        bool                       `json:"documentRangeFormattingProvider"`
	OnTypeFormatting       onTypeOptions              `json:"documentOnTypeFormattingProvider"`
	CodeActionProvider     codeActionOptions          `json:"codeActionProvider"`
	SemanticTokensProvider semanticTokensOptions      `json:"semanticTokensProvider"`
	LinkProvider           linkOptions                `json:"documentLinkProvider"`
	LensProvider           lensOptions                `json:"codeLensProvider"`
	HintProvider           bool                       `json:"inlayHintProvider"`
	SignatureHelpProvider  signatureHelpOptions       `json:"signatureHelpProvider"`
	Workspace              serverWorkspaceCapability  `json:"workspace"`
	Experimental           experimental               `json:"experimental"`
}

type textDocumentSync struct {
	OpenClose bool `json:"openClose"`
	Change    int  `json:"change"` // 2: incremental
	Save      bool `json:"save"`
}

type codeActionOptions struct {
	CodeActionKinds []string `json:"codeActionKinds"`
	ResolveProvider bool     `json:"resolveProvider,omitempty"`
}

type semanticTokensOptions struct {
	Legend struct {
		TokenTypes     []string `json:"tokenTypes"`
		TokenModifiers []string `json:"tokenModifiers"`
	} `json:"legend"`
	Range bool `json:"range"`
	Full  struct {
		Delta bool `json:"delta"`
	} `json:"full"`
}

type semanticTokensAnswer struct {
	ResultID string   `json:"resultId,omitempty"`
	Data     []uint32 `json:"data"`
}

type semanticTokensDelta struct {
	ResultID string               `json:"resultId"`
	Edits    []semanticTokensEdit `json:"edits"`
}

type semanticTokensEdit struct {
	Start       uint32   `json:"start"`
	DeleteCount uint32   `json:"deleteCount"`
	Data        []uint32 `json:"data,omitempty"`
}

type signatureHelpOptions struct {
	TriggerCharacters []string `json:"triggerCharacters"`
}

type signatureHelp struct {
	Signatures      []signatureInformation `json:"signatures"`
	ActiveSignature uint32                 `json:"activeSignature"`
	ActiveParameter uint32                 `json:"activeParameter"`
}

type signatureInformation struct {
	Label         string                 `json:"label"`
	Documentation *markup                `json:"documentation,omitempty"`
	Parameters    []parameterInformation `json:"parameters"`
}

type parameterInformation struct {
	Label         any     `json:"label"` // a text, or two offsets
	Documentation *markup `json:"documentation,omitempty"`
}

type rangeParams struct {
	Range *protocol.Range `json:"range"`
}

type serverWorkspaceCapability struct {
	WorkspaceFolders struct {
		Supported           bool `json:"supported"`
		ChangeNotifications bool `json:"changeNotifications"`
	} `json:"workspaceFolders"`
	FileOperations struct {
		WillRename *fileOperations `json:"willRename,omitempty"`
	} `json:"fileOperations"`
}

type renameOptions struct {
	PrepareProvider bool `json:"prepareProvider"`
}

// fileOperations says of which files a client tells what it is about to do.
type fileOperations struct {
	Filters []fileFilter `json:"filters"`
}

type fileFilter struct {
	Scheme  string `json:"scheme,omitempty"`
	Pattern struct {
		Glob string `json:"glob"`
	} `json:"pattern"`
}

// sourceFiles are those that other files may include.
var sourceFiles = fileOperations{Filters: []fileFilter{{Scheme: "file", Pattern: struct {
	Glob string `json:"glob"`
}{"**/*"}}}}

type renameParams struct {
	NewName *string `json:"newName"`
}

type renameFilesParams struct {
	Files []struct {
		OldURI string `json:"oldUri"`
		NewURI string `json:"newUri"`
	} `json:"files"`
}

type workspaceSymbolParams struct {
	Query *string `json:"query"`
}

type callItem struct {
	Name           string              `json:"name"`
	Kind           protocol.SymbolKind `json:"kind"`
	Detail         string              `json:"detail,omitempty"`
	URI            string              `json:"uri"`
	Range          protocol.Range      `json:"range"`
	SelectionRange protocol.Range      `json:"selectionRange"`
	Data           string              `json:"data,omitempty"`
}

type callItemParams struct {
	Item *callItem `json:"item"`
}

type incomingCall struct {
	From       callItem         `json:"from"`
	FromRanges []protocol.Range `json:"fromRanges"`
}

type outgoingCall struct {
	To         callItem         `json:"to"`
	FromRanges []protocol.Range `json:"fromRanges"`
}

type documentID struct {
	URI string `json:"uri"`
}

type versionedID struct {
	URI     string `json:"uri"`
	Version *int32 `json:"version"`
}

type didOpenParams struct {
	TextDocument struct {
		URI     string  `json:"uri"`
		Version int32   `json:"version"`
		Text    *string `json:"text"`
	} `json:"textDocument"`
}

type didChangeParams struct {
	TextDocument   versionedID     `json:"textDocument"`
	ContentChanges []contentChange `json:"contentChanges"`
}

// contentChange replaces Range, or everything where there is none.
type contentChange struct {
	Range *protocol.Range `json:"range"`
	Text  *string         `json:"text"`
}

type documentParams struct {
	TextDocument documentID `json:"textDocument"`
}

type positionParams struct {
	TextDocument documentID         `json:"textDocument"`
	Position     *protocol.Position `json:"position"`
}

type referenceParams struct {
	Context struct {
		IncludeDeclaration bool `json:"includeDeclaration"`
	} `json:"context"`
}

type selectionParams struct {
	TextDocument documentID          `json:"textDocument"`
	Positions    []protocol.Position `json:"positions"`
}

type codeActionParams struct {
	TextDocument documentID      `json:"textDocument"`
	Range        *protocol.Range `json:"range"`
	Context      struct {
		Only []string `json:"only"`
		// TriggerKind says who asks (LSP 3.17, CodeActionTriggerKind).
		TriggerKind int `json:"triggerKind"`
	} `json:"context"`
}

// invoked says that the user has asked for code actions, and not the editor at a move of the
// cursor.
const invoked = 1

type codeAction struct {
	Title       string                `json:"title"`
	Kind        string                `json:"kind"`
	Diagnostics []protocol.Diagnostic `json:"diagnostics,omitempty"`
	IsPreferred bool                  `json:"isPreferred,omitempty"`
	Edit        *workspaceEdit        `json:"edit,omitempty"`
	Data        string                `json:"data,omitempty"`
}

// workspaceEdit has either Changes or DocumentChanges.
type workspaceEdit struct {
	Changes         map[string][]protocol.TextEdit `json:"changes,omitempty"`
	DocumentChanges []documentEdit                 `json:"documentChanges,omitempty"`
}

type documentEdit struct {
	TextDocument versionedID         `json:"textDocument"`
	Edits        []protocol.TextEdit `json:"edits"`
}

type publishParams struct {
	URI         string                `json:"uri"`
	Version     *int32                `json:"version,omitempty"`
	Diagnostics []protocol.Diagnostic `json:"diagnostics"`
}

type hover struct {
	Contents markup         `json:"contents"`
	Range    protocol.Range `json:"range"`
}

type markup struct {
	Kind  string `json:"kind"`
	Value string `json:"value"`
}

type configurationParams struct {
	Items []configurationItem `json:"items"`
}

type configurationItem struct {
	Section string `json:"section"`
}

type registrationParams struct {
	Registrations []registration `json:"registrations"`
}

type registration struct {
	ID      string `json:"id"`
	Method  string `json:"method"`
	Options any    `json:"registerOptions,omitempty"`
}

type watchOptions struct {
	Watchers []watcher `json:"watchers"`
}

type watcher struct {
	GlobPattern string `json:"globPattern"`
}

type didChangeWatchedFilesParams struct {
	Changes []struct {
		URI string `json:"uri"`
	} `json:"changes"`
}

type workspaceFoldersParams struct {
	Event struct {
		Added []struct {
			URI string `json:"uri"`
		} `json:"added"`
		Removed []struct {
			URI string `json:"uri"`
		} `json:"removed"`
	} `json:"event"`
}

type showMessageParams struct {
	Type    int    `json:"type"` // 1 error, 2 warning, 3 info, 4 log
	Message string `json:"message"`
}
