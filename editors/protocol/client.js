// A scripted client: the protocol's reference library on one side, the server as a
// process on the other. It asks everything that the server offers, edits documents and
// compares them with the library's own, breaks frames, and ends sessions in every way.
// What comes back has to be what the library's types say.
'use strict'
const { spawn } = require('node:child_process')
const { once } = require('node:events')
const fs = require('node:fs')
const os = require('node:os')
const path = require('node:path')
const { pathToFileURL } = require('node:url')
const { isDeepStrictEqual: same } = require('node:util')
const rpc = require('vscode-jsonrpc/node')
const lsp = require('vscode-languageserver-protocol')
const { TextDocument } = require('vscode-languageserver-textdocument')

const program = process.argv[2]
const demo = path.join(__dirname, '..', 'demo')
const home = fs.mkdtempSync(path.join(os.tmpdir(), 'protocol-'))
let checks = 0
const failures = []

function check (what, ok, ...more) {
  checks++
  if (!ok && failures.push(what) <= 20) console.error(`FAIL ${what}`, ...more.map(x => JSON.stringify(x)?.slice(0, 300)))
}

// within waits for a promise, not for ever.
function within (what, promise) {
  let timer
  const late = new Promise((resolve, reject) => { timer = setTimeout(() => reject(new Error(`${what}: no answer`)), 60_000) })
  return Promise.race([promise, late]).finally(() => clearTimeout(timer))
}

function start () {
  const child = spawn(program, [], { stdio: ['pipe', 'pipe', 'pipe'], env: { ...process.env, XDG_CACHE_HOME: home } })
  child.said = ''
  child.stderr.on('data', d => { child.said += d })
  child.stdin.on('error', () => {}) // it has ended
  child.over = once(child, 'close').then(([code, signal]) => signal ?? code)
  return child
}

// ended says that the process has ended so, and without a trace.
async function ended (what, child, ...codes) {
  const code = await within(what, child.over)
  check(`${what}: ends with ${codes.join(' or ')}`, codes.includes(code), code)
  check(`${what}: no trace`, !/panic|goroutine \d/.test(child.said), child.said)
}

function session (child) {
  const c = rpc.createMessageConnection(new rpc.StreamMessageReader(child.stdout), new rpc.StreamMessageWriter(child.stdin))
  c.published = new Map()
  c.registered = []
  c.onNotification('textDocument/publishDiagnostics', p => {
    c.published.set(p.uri, p)
    c.waiting?.(p)
  })
  c.onRequest('client/registerCapability', p => { c.registered.push(...p.registrations); return null })
  c.onRequest('workspace/configuration', p => p.items.map(() => ({})))
  c.progress = new Map() // the kinds of what comes, by token
  c.onRequest('window/workDoneProgress/create', p => { c.progress.set(p.token, []); return null })
  c.onNotification('$/progress', p => c.progressed?.(p) || (c.progress.get(p.token)?.push(p.value.kind) ?? check('progress was announced', false, p)))
  c.onRequest('workspace/applyEdit', () => ({ applied: false }))
  c.onUnhandledNotification(m => check(`${m.method} is known to the client`, m.method.startsWith('window/') || m.method.startsWith('$/'), m))
  // An answer to a server that has been told to end may come too late; how it ends is looked at elsewhere.
  c.onError(e => e[0]?.code === 'EPIPE' || check('the client can read what comes', false, String(e)))
  c.listen()
  return c
}

function capabilities (encodings) {
  return {
    general: { positionEncodings: encodings },
    workspace: { configuration: true, workspaceFolders: true, didChangeWatchedFiles: { dynamicRegistration: true }, didChangeConfiguration: { dynamicRegistration: true }, applyEdit: true, workspaceEdit: { documentChanges: true } },
    window: { workDoneProgress: true },
    textDocument: {
      synchronization: { didSave: true },
      hover: { contentFormat: ['markdown', 'plaintext'] },
      completion: { completionItem: { documentationFormat: ['markdown', 'plaintext'] }, contextSupport: true },
      definition: { linkSupport: true },
      documentSymbol: { hierarchicalDocumentSymbolSupport: true },
      rename: { prepareSupport: true },
      codeAction: { codeActionLiteralSupport: { codeActionKind: { valueSet: ['quickfix', 'source.fixAll'] } }, isPreferredSupport: true, dataSupport: true, resolveSupport: { properties: ['edit'] }, disabledSupport: true },
      publishDiagnostics: { relatedInformation: true, versionSupport: true, codeDescriptionSupport: true, tagSupport: { valueSet: [1, 2] } }
    }
  }
}

async function begin (encodings = ['utf-16']) {
  const child = start()
  const c = session(child)
  const root = pathToFileURL(demo).href
  const result = await within('initialize', c.sendRequest('initialize', { processId: process.pid, rootUri: root, workspaceFolders: [{ uri: root, name: 'demo' }], capabilities: capabilities(encodings) }))
  await c.sendNotification('initialized', {})
  return { child, c, result }
}

async function finish (what, child, c) {
  check(`${what}: shutdown gives null`, await within('shutdown', c.sendRequest('shutdown')) === null)
  await c.sendNotification('exit')
  await ended(what, child, 0)
  c.dispose()
}

async function refused (what, promise, ...codes) {
  const code = await within(what, promise.then(r => ({ r }), e => e.code))
  check(`${what}: refused with ${codes.join(' or ')}`, codes.includes(code), code)
}

const list = (is, empty = true) => r => (empty && r === null) || (Array.isArray(r) && r.every(is))
const range = r => lsp.Range.is(r) && (r.start.line < r.end.line || (r.start.line === r.end.line && r.start.character <= r.end.character))
const symbol = s => lsp.DocumentSymbol.is(s) && range(s.range) && (s.children ?? []).every(symbol)
const finding = d => lsp.Diagnostic.is(d) && range(d.range) && d.message !== '' && d.source === 'narrowgauge'
const edit = e => lsp.WorkspaceEdit.is(e)
// The library asks for an edit or a command, though one that is to be resolved has neither.
const action = a => lsp.CodeAction.is(a.edit || a.data === undefined ? a : { ...a, edit: { changes: {} } }) && a.title !== '' && (a.edit === undefined || edit(a.edit))

// Tokens are five numbers each, with a width, and none begins before the last one ends.
function tokens (data) {
  if (!Array.isArray(data) || data.length % 5 !== 0 || !data.every(n => Number.isInteger(n) && n >= 0)) return false
  for (let i = 5; i < data.length; i += 5) {
    if (data[i] === 0 && data[i + 1] < data[i - 3]) return false
  }
  return data.every((n, i) => i % 5 !== 2 || n > 0)
}

// A signature's parameters are parts of its label.
const signature = s => lsp.SignatureInformation.is?.(s) !== false && s.label !== '' && s.parameters.every(p => typeof p.label === 'string' ? s.label.includes(p.label) : p.label[0] < p.label[1] && p.label[1] <= s.label.length)
// An edit of formatting stays within a line.
const laid = e => lsp.TextEdit.is(e) && range(e.range) && e.range.start.line === e.range.end.line && !/[\r\n]/.test(e.newText)

const callItem = i => i.name !== '' && range(i.range) && range(i.selectionRange) && Number.isInteger(i.kind) && /^file:/.test(i.uri)

// What is asked for each capability. One that is not here fails.
const provided = {
  positionEncoding: null,
  textDocumentSync: null, // the edits below
  workspace: null,
  experimental: null, // editors/SETUP.md
  hoverProvider: ['textDocument/hover', true, r => r === null || (lsp.Hover.is(r) && (r.range === undefined || range(r.range)))],
  completionProvider: ['textDocument/completion', true, r => typeof r.isIncomplete === 'boolean' && r.items.every(i => lsp.TextEdit.is(i.textEdit) && i.label !== '' && range(i.textEdit.range) && i.textEdit.newText !== '')],
  definitionProvider: ['textDocument/definition', true, list(l => lsp.Location.is(l) || lsp.LocationLink.is(l))],
  documentHighlightProvider: ['textDocument/documentHighlight', true, list(h => range(h.range) && (h.kind === 2 || h.kind === 3))],
  foldingRangeProvider: ['textDocument/foldingRange', false, list(f => lsp.FoldingRange.is(f) && f.startLine < f.endLine)],
  selectionRangeProvider: ['textDocument/selectionRange', true, list(s => lsp.SelectionRange.is(s) && range(s.range))],
  declarationProvider: ['textDocument/declaration', true, list(lsp.Location.is)],
  renameProvider: null, // acrossFiles, as these are
  workspaceSymbolProvider: null,
  callHierarchyProvider: ['textDocument/prepareCallHierarchy', true, list(callItem)],
  referencesProvider: ['textDocument/references', true, list(lsp.Location.is)],
  documentSymbolProvider: ['textDocument/documentSymbol', false, list(symbol)],
  signatureHelpProvider: ['textDocument/signatureHelp', true, r => r === null || (r.signatures.length > 0 && r.signatures.every(signature) && r.activeSignature < r.signatures.length)],
  documentLinkProvider: ['textDocument/documentLink', false, list(l => lsp.DocumentLink.is(l) && range(l.range), false)],
  codeLensProvider: ['textDocument/codeLens', false, list(l => lsp.CodeLens.is(l) && range(l.range) && l.range.start.line === l.range.end.line && (l.command?.title ?? l.data) !== '', false)],
  inlayHintProvider: ['textDocument/inlayHint', false, list(h => lsp.InlayHint.is(h) && h.label.every(p => p.value !== ''), false)],
  semanticTokensProvider: ['textDocument/semanticTokens/full', false, r => tokens(r.data)],
  diagnosticProvider: null, // pulls below
  documentFormattingProvider: ['textDocument/formatting', false, list(laid)],
  documentRangeFormattingProvider: ['textDocument/rangeFormatting', true, list(laid)],
  documentOnTypeFormattingProvider: ['textDocument/onTypeFormatting', true, list(laid)],
  codeActionProvider: ['textDocument/codeAction', true, list(action)]
}

// asksTokens changes a document and back: the changes of the tokens, made to the old ones, are
// what a fresh answer has, and those of a part are in it.
async function asksTokens (c, name, textDocument, lines, { legend }) {
  const full = await within('tokens', c.sendRequest(lsp.SemanticTokensRequest.type, { textDocument }))
  check(`tokens ${name} are in the legend`, full.data.every((n, i) => i % 5 === 3 ? n < legend.tokenTypes.length : i % 5 === 4 ? n < 1 << legend.tokenModifiers.length : true))
  const range = { start: { line: 2, character: 0 }, end: { line: 9, character: 0 } }
  const part = await within('tokens', c.sendRequest(lsp.SemanticTokensRangeRequest.type, { textDocument, range }))
  check(`tokens of a range ${name}`, tokens(part.data) && part.data.length <= full.data.length)
  const middle = lines.length >> 1
  c.sendNotification('textDocument/didChange', { textDocument: { ...textDocument, version: 2 }, contentChanges: [{ range: { start: { line: middle, character: 0 }, end: { line: middle, character: 0 } }, text: '\tmovs r0, #1 @ a signal\n' }] })
  const delta = await within('tokens', c.sendRequest(lsp.SemanticTokensDeltaRequest.type, { textDocument, previousResultId: full.resultId }))
  const made = [...full.data]
  for (const e of [...(delta.edits ?? [])].reverse()) made.splice(e.start, e.deleteCount, ...(e.data ?? []))
  const now = await within('tokens', c.sendRequest(lsp.SemanticTokensRequest.type, { textDocument }))
  check(`changes of tokens ${name}`, delta.edits && same(made, now.data), delta)
  c.sendNotification('textDocument/didChange', { textDocument: { ...textDocument, version: 3 }, contentChanges: [{ range: { start: { line: middle, character: 0 }, end: { line: middle + 1, character: 0 } }, text: '' }] })
}

// everything asks all that is offered, all over the demo.
async function everything (encoding) {
  const { child, c, result } = await begin([encoding])
  const caps = result.capabilities
  check('the encoding that was asked for', caps.positionEncoding === encoding, caps.positionEncoding)
  const offered = Object.keys(caps).filter(k => caps[k])
  for (const k of offered) check(`${k} is asked for`, k in provided)
  for (const k of Object.keys(provided)) check(`${k} is offered`, offered.includes(k))
  for (const name of fs.readdirSync(demo).filter(n => /\.(s|S|inc)$/.test(n))) {
    const uri = pathToFileURL(path.join(demo, name)).href
    const text = fs.readFileSync(path.join(demo, name), 'utf8')
    const textDocument = { uri }
    c.sendNotification('textDocument/didOpen', { textDocument: { uri, languageId: 'asm', version: 1, text } })
    const lines = text.split('\n')
    const asked = []
    for (const [method, placed, is] of Object.values(provided).filter(Boolean)) {
      const step = !placed ? lines.length : method === 'textDocument/codeAction' ? 40 : 7
      for (let line = 0; line < lines.length; line += step) {
        const position = { line, character: lines[line].length >> 1 }
        const params = { textDocument, position, positions: [position], range: { start: { line, character: 0 }, end: { line: line + (method === 'textDocument/inlayHint' ? step : 1), character: 0 } }, context: { diagnostics: [], includeDeclaration: true }, options: { tabSize: 8, insertSpaces: true }, ch: '\n' }
        asked.push(c.sendRequest(method, params).then(r => {
          check(`${method} ${name}:${line + 1}`, is(r), r)
          return method === 'textDocument/codeAction' ? r ?? [] : []
        }))
      }
    }
    const actions = (await within(name, Promise.all(asked))).flat()
    const at = { textDocument, position: { line: lines.findIndex(l => /^\s+movs\b/.test(l)), character: lines.find(l => /^\s+movs\b/.test(l))?.indexOf('movs') + 2 } }
    if (at.position.line >= 0) {
      const { items } = await within('completion', c.sendRequest('textDocument/completion', at))
      const movs = items.find(i => i.label === 'movs')
      check(`completion ${name} has movs`, movs !== undefined, items.map(i => i.label))
      const full = await within('resolve', c.sendRequest('completionItem/resolve', movs))
      check(`completionItem/resolve ${name}`, full.label === 'movs' && lsp.MarkupContent.is(full.documentation) && full.documentation.value !== '', full)
    }
    for (const a of actions.slice(0, encoding === 'utf-16' ? 10 : 2)) {
      const full = await within('resolve', c.sendRequest('codeAction/resolve', a).catch(e => e.code === -32803 && a.kind.startsWith('refactor.') ? { ...a, disabled: true } : Promise.reject(e)))
      check(`codeAction/resolve ${name} ${a.title}`, action(full) && full.title === a.title && (full.disabled || edit(full.edit)), full)
    }
    const regions = await within('regions', c.sendRequest('narrowgauge/regions', { textDocument }))
    check(`regions ${name}`, regions.uri === uri && regions.regions.length > 0 && regions.regions.every((x, i) => range(x.range) && (i === 0 || same(x.range.start, regions.regions[i - 1].range.end))), regions)
    for (const l of (await within('links', c.sendRequest('textDocument/documentLink', { textDocument }))).slice(0, 4)) {
      const full = await within('resolve', c.sendRequest('documentLink/resolve', l))
      check(`documentLink/resolve ${name}`, lsp.DocumentLink.is(full) && fs.existsSync(new URL(full.target)), full)
    }
    for (const l of (await within('lenses', c.sendRequest('textDocument/codeLens', { textDocument }))).slice(0, 12)) {
      const full = await within('resolve', c.sendRequest('codeLens/resolve', l))
      check(`codeLens/resolve ${name}`, same(full.range, l.range) && lsp.Command.is(full.command) && full.command.title !== '', full)
    }
    await asksTokens(c, name, textDocument, lines, caps.semanticTokensProvider)
  }
  await until(c, 'all documents have findings', () => [...c.published.keys()].some(u => u.endsWith('findings.s')))
  for (const p of c.published.values()) check(`findings of ${p.uri}`, p.diagnostics.every(finding), p)
  check('watchers are registered', c.registered.some(r => r.method === 'workspace/didChangeWatchedFiles'))
  c.sendNotification('workspace/didChangeWatchedFiles', { changes: [{ uri: pathToFileURL(path.join(demo, 'layout.inc')).href, type: 2 }] })
  c.sendNotification('workspace/didChangeConfiguration', { settings: {} })
  c.sendNotification('workspace/didChangeWorkspaceFolders', { event: { added: [{ uri: pathToFileURL(home).href, name: 'x' }], removed: [] } })
  await refused('an unknown request', c.sendRequest('points/throw', {}), -32601)
  await refused('an unknown request of $', c.sendRequest('$/points', {}), -32601)
  c.sendNotification('$/points', {})
  c.sendNotification('points/thrown', {})
  for (const p of [undefined, {}, { textDocument: {} }, { textDocument: { uri: 'x' }, position: { line: -1, character: 0 } }, { textDocument: { uri: 5 } }]) {
    for (const [method] of Object.values(provided).filter(Boolean)) {
      await within(method, c.sendRequest(method, p).then(r => check(`${method} of nothing`, r === null || (r.items ?? r.data ?? r).length === 0, p, r), e => check(`${method} is refused for its parameters`, e.code === -32602, p, e.code)))
    }
  }
  await refused('a second initialize', c.sendRequest('initialize', { processId: null, rootUri: null, capabilities: {} }), -32600)
  const source = new rpc.CancellationTokenSource()
  const stopped = c.sendRequest('textDocument/hover', { textDocument: { uri: pathToFileURL(path.join(demo, 'main.s')).href }, position: { line: 3, character: 3 } }, source.token)
  source.cancel()
  await within('a request that is cancelled', stopped.then(r => check('it was done before', r === null || lsp.Hover.is(r)), e => check('cancelled', e.code === -32800, e.code)))
  await finish(`all requests, ${encoding}`, child, c)
}

// applied is a text with edits made, as the library makes them; in UTF-8 columns are turned
// into its own first.
function applied (text, edits, encoding) {
  const lines = text.split('\n')
  const units = p => encoding === 'utf-16' ? p : { line: p.line, character: Buffer.from(lines[p.line]).subarray(0, p.character).toString().length }
  return TextDocument.applyEdits(TextDocument.create('file:///x', 'asm', 1, text), edits.map(e => ({ range: { start: units(e.range.start), end: units(e.range.end) }, newText: e.newText })))
}

// formats lays out a text in the three ways, and makes the edits as the library does.
async function formats (encoding) {
  const { child, c } = await begin([encoding])
  const uri = pathToFileURL(path.join(home, `laid-${encoding}.s`)).href
  const options = { tabSize: 4, insertSpaces: true }
  const good = ['\t.syntax unified', '\t.thumb', 'lamp:', '\tpush\t{r4, lr}\t@ "ü" 😀', '\tmovs\tr0, #1\t\t@ é', '\tmovs\tr1, #2\t\t@ one', '\tpop\t{r4, pc}', '\tadds\tr0, r1\t\t@ up', '\tadds\tr0, r2', '']
  const bad = [...good]
  bad[2] = '  lamp:  '
  bad[4] = ' /* 😀 */ movs  r0,#1 @ é'
  bad[5] = '    movs    r1  ,  #2  @ one'
  const want = [...good]
  want[4] = bad[4] // a comment is in front of it
  for (const end of ['\n', '\r\n']) {
    const textDocument = { uri }
    const ask = (method, more) => within(method, c.sendRequest(`textDocument/${method}`, { textDocument, options, ...more }))
    c.sendNotification('textDocument/didOpen', { textDocument: { uri, languageId: 'asm', version: 1, text: bad.join(end) } })
    const edits = await ask('formatting')
    check(`${encoding}: edits of lines`, edits.length > 0 && edits.every(laid), edits)
    check(`${encoding}: the text after formatting`, applied(bad.join(end), edits, encoding) === want.join(end), applied(bad.join(end), edits, encoding))
    const part = await ask('rangeFormatting', { range: { start: { line: 5, character: 0 }, end: { line: 6, character: 0 } } })
    check(`${encoding}: a range`, part.length > 0 && part.every(e => e.range.start.line === 5), part)
    const typed = await ask('onTypeFormatting', { position: { line: 6, character: 0 }, ch: '\n' })
    check(`${encoding}: after a line end`, same(typed, part), typed, part)
    const label = await ask('onTypeFormatting', { position: { line: 2, character: 7 }, ch: ':' })
    check(`${encoding}: after a colon`, label.length > 0 && label.every(e => e.range.start.line === 2), label)
    c.sendNotification('textDocument/didChange', { textDocument: { uri, version: 2 }, contentChanges: [{ text: want.join(end) }] })
    check(`${encoding}: nothing is left to do`, same(await ask('formatting'), []))
    c.sendNotification('textDocument/didClose', { textDocument })
  }
  await finish(`formats, ${encoding}`, child, c)
}

// editsOf are the edits that a workspace edit has for a document, which has to be all of it.
function editsOf (what, e, uri, version) {
  const own = e.documentChanges?.length === 1 && e.documentChanges[0].textDocument.uri === uri && e.documentChanges[0].textDocument.version === version
  check(`${what}: edits of the document`, edit(e) && own, e)
  return own ? e.documentChanges[0].edits : []
}

// makes makes the edits of code actions, completions and renames as the library does, behind
// characters of several units, and asks what the server says of the text that comes of it.
async function makes (encoding) {
  const { child, c } = await begin([encoding])
  for (const end of ['\n', '\r\n']) {
    const uri = pathToFileURL(path.join(home, `made-${encoding}-${end.length}.s`)).href
    const textDocument = { uri }
    const lines = ['\t.syntax unified', '\t.cpu cortex-m0', '\t.thumb', '\t.equ LAMPS, 12', '/* 😀 */ panel: movs r0, #300 @ é', '/* 😀é */ mov r1, #LAMPS', '\t/* 😀 */ movs r2, #LAM @ ü',
      '\t/* é😀 */ movs r', '\t/* 😀 */ mo', '\t/* 😀 */ beq pan', '\tmvoe r0, r1 @ 😀', '\tbl panel /* 😀 */; bl panel', '\tbx lr', '']
    const text = lines.join(end)
    let version = 1
    c.sendNotification('textDocument/didOpen', { textDocument: { uri, languageId: 'asm', version, text } })
    const ask = (method, more) => within(method, c.sendRequest(method, { textDocument, ...more }))
    const become = text => c.sendNotification('textDocument/didChange', { textDocument: { uri, version: ++version }, contentChanges: [{ text }] })
    const findings = async () => (await ask('textDocument/diagnostic')).items
    const units = s => encoding === 'utf-8' ? Buffer.byteLength(s) : s.length
    const after = (line, word) => ({ line, character: units(lines[line].slice(0, lines[line].indexOf(word) + word.length)) })
    const made = edits => applied(text, edits, encoding)
    const cut = d => lines[d.range.start.line] !== undefined && made([{ range: d.range, newText: '' }]).length < text.length

    const found = await findings()
    check(`${encoding}: findings to mend`, ['constant-range', 'unknown-mnemonic'].every(code => found.some(d => d.code === code)) && found.every(cut), found.map(d => d.code))
    let mended = 0
    for (const d of found) {
      const asked = version
      for (const a of (await ask('textDocument/codeAction', { range: d.range, context: { diagnostics: [d] } })).filter(a => a.kind === 'quickfix')) {
        const edits = editsOf(a.title, (a.edit ? a : await within('resolve', c.sendRequest('codeAction/resolve', a))).edit, uri, a.edit ? asked : version)
        become(made(edits))
        const left = await findings()
        check(`${encoding}: ${a.title} mends ${d.code}`, left.filter(x => x.code === d.code && x.message === d.message).length < found.filter(x => x.code === d.code && x.message === d.message).length, made(edits), left.map(x => x.message))
        check(`${encoding}: ${a.title} leaves the ends of lines`, end === '\n' ? !/\r/.test(made(edits)) : !/[^\r]\n/.test(made(edits)), made(edits))
        become(text)
        mended++
      }
    }
    check(`${encoding}: findings were mended`, mended >= 3, mended)

    for (const [line, typed, wanted, legal] of [[6, '#LAM', 'LAMPS', true], [7, 'movs r', 'r3', false], [8, ' mo', 'movs', false], [9, 'beq pan', 'panel', true]]) {
      const { items } = await ask('textDocument/completion', { position: after(line, typed) })
      check(`${encoding}: ${wanted} is offered`, items.some(i => i.label === wanted), items.map(i => i.label))
      for (const i of items.filter(i => i.label === wanted || i.sortText.startsWith('0')).slice(0, 30)) {
        const full = await within('resolve', c.sendRequest('completionItem/resolve', i))
        const now = made([full.textEdit, ...full.additionalTextEdits ?? []])
        const word = /[\w.]+$/.exec(typed)[0]
        const want = lines.map((l, n) => n !== line ? l : l.replace(typed, typed.slice(0, -word.length) + i.textEdit.newText)).join(end)
        check(`${encoding}: ${i.label} is in the place of ${word}`, now === want, now)
        if (i.label !== wanted) continue
        become(now)
        const said = await ask('textDocument/hover', { position: { line, character: i.textEdit.range.start.character + 1 } })
        check(`${encoding}: the server knows ${i.label}`, said !== null && said.contents.value.toLowerCase().includes(wanted.toLowerCase()), said)
        const bad = (await findings()).filter(d => d.range.start.line === line && d.severity === 1)
        check(`${encoding}: no error with ${i.label}`, !legal || bad.length === 0, now, bad)
        become(text)
      }
    }

    for (const [line, word, old, name] of [[11, 'bl p', 'panel', 'box'], [5, '#L', 'LAMPS', 'MOST']]) {
      const before = await ask('textDocument/references', { position: after(line, word), context: { includeDeclaration: true } })
      const edits = editsOf(name, await ask('textDocument/rename', { position: after(line, word), newName: name }), uri, version)
      check(`${encoding}: each place of ${old} is renamed`, edits.length === before.length && edits.length >= 2, edits, before)
      const now = made(edits)
      check(`${encoding}: ${old} has become ${name}`, now === text.replace(new RegExp(`\\b${old}\\b`, 'g'), name), now)
      become(now)
      const place = { position: { line: edits.at(-1).range.start.line, character: edits.at(-1).range.start.character } }
      const there = now.split(end)[place.position.line]
      const again = await ask('textDocument/references', { position: { ...place.position, character: units(there.slice(0, there.indexOf(name))) }, context: { includeDeclaration: true } })
      check(`${encoding}: ${name} is in as many places`, again.length === before.length, again)
      const ready = await ask('textDocument/prepareRename', { position: { ...place.position, character: units(there.slice(0, there.indexOf(name))) } })
      check(`${encoding}: the server knows ${name}`, ready?.placeholder === name, ready)
      become(text)
    }
    c.sendNotification('textDocument/didClose', { textDocument })
  }
  await finish(`makes, ${encoding}`, child, c)
}

// acrossFiles asks what one file cannot answer, in a workspace of its own, and makes the edits
// of renames with the library.
async function acrossFiles (encoding) {
  const folder = fs.mkdtempSync(path.join(home, 'box-'))
  const files = {
    'main.s': '\t.include "box.inc"\n\t.global main\n\t.type main, %function\nmain:\tbl set_lamp @ 😀 set_lamp\n\t/* 😀 */ bl set_lamp\n\tmov r0, #LAMPS\n\tb wait_é\nwait_é:\tb main\n',
    'lamp.s': '\t.include "box.inc"\n\t.global set_lamp\n\t.type set_lamp, %function\nset_lamp:\n\tcmp r0, #LAMPS\n\tbx lr\n',
    'box.inc': '\t.equ LAMPS, 12\n'
  }
  for (let i = 0; i < 30; i++) files[`signal${i}.s`] = `\t.global signal_${i}\nsignal_${i}:\tb set_lamp\n`
  const uris = Object.fromEntries(Object.keys(files).map(n => [n, pathToFileURL(path.join(folder, n)).href]))
  for (const n of Object.keys(files)) fs.writeFileSync(path.join(folder, n), files[n])
  const child = start()
  const c = session(child)
  const root = pathToFileURL(folder).href
  await within('initialize', c.sendRequest('initialize', { processId: process.pid, rootUri: root, workspaceFolders: [{ uri: root, name: 'box' }], capabilities: capabilities([encoding]) }))
  await c.sendNotification('initialized', {})
  c.sendNotification('textDocument/didOpen', { textDocument: { uri: uris['main.s'], languageId: 'asm', version: 7, text: files['main.s'] } })
  const units = s => encoding === 'utf-8' ? Buffer.byteLength(s) : s.length
  const place = (n, line, word) => ({ textDocument: { uri: uris[n] }, position: { line, character: units(files[n].split('\n')[line].split(word)[0]) + 1 } })
  const ask = (method, params) => within(method, c.sendRequest(method, params))
  const call = place('main.s', 4, 'set_lamp')
  const where = l => `${path.basename(l.uri)}:${l.range.start.line}:${l.range.start.character}`
  check('definition in another file', same((await ask('textDocument/definition', call)).map(where), ['lamp.s:3:0']))
  check('declaration in another file', same((await ask('textDocument/declaration', call)).map(where), ['lamp.s:1:9', 'lamp.s:2:7']))
  const refs = await ask('textDocument/references', { ...call, context: { includeDeclaration: true } })
  check('references in all files', refs.length === 35 && refs.every(lsp.Location.is), refs.map(where))
  const names = await ask('workspace/symbol', { query: 'setl' })
  check('workspace/symbol', names.length > 0 && names[0].name === 'set_lamp' && names.every(s => Number.isInteger(s.kind) && lsp.Location.is(s.location)), names)
  const [item] = await ask('textDocument/prepareCallHierarchy', call)
  check('the item of a call', callItem(item) && item.name === 'set_lamp' && item.uri === uris['lamp.s'], item)
  const callers = await ask('callHierarchy/incomingCalls', { item })
  check('callers', callers.length === 31 && callers.every(i => callItem(i.from) && i.fromRanges.length > 0), callers.length)
  const called = await ask('callHierarchy/outgoingCalls', { item: callers.find(i => i.from.name === 'main').from })
  check('called', called.length === 1 && called[0].to.name === 'set_lamp' && called[0].fromRanges.length === 2, called)
  const ready = await ask('textDocument/prepareRename', call)
  check('prepareRename', ready.placeholder === 'set_lamp' && range(ready.range), ready)
  check('prepareRename without a name', await ask('textDocument/prepareRename', { ...call, position: { line: 0, character: 0 } }) === null)
  await refused('prepareRename of a mnemonic', c.sendRequest('textDocument/prepareRename', place('main.s', 4, 'bl ')), -32803)
  await refused('rename to a register', c.sendRequest('textDocument/rename', { ...call, newName: 'r4' }), -32803)
  await refused('rename to a name that is there', c.sendRequest('textDocument/rename', { ...call, newName: 'signal_3' }), -32803)
  await refused('rename without a name', c.sendRequest('textDocument/rename', call), -32602)
  for (const [at, name, count] of [[call, 'switch_lamp', 32], [place('main.s', 5, 'LAMPS'), 'MOST', 3], [place('main.s', 6, 'wait_é'), 'hold', 1]]) {
    const e = await ask('textDocument/rename', { ...at, newName: name })
    check(`rename to ${name}`, edit(e) && e.documentChanges.length === count, e)
    for (const d of e.documentChanges) {
      const n = path.basename(d.textDocument.uri)
      check('the version of an open document', d.textDocument.version === (n === 'main.s' ? 7 : null), d.textDocument)
      const old = { switch_lamp: /(?<!@.*)set_lamp/g, MOST: /LAMPS/g, hold: /wait_é/g }[name]
      const now = applied(files[n], d.edits, encoding)
      check(`${n} with ${name}`, now === files[n].split('\n').map(l => l.replace(old, name)).join('\n'), now)
    }
  }
  const moved = await ask('workspace/willRenameFiles', { files: [{ oldUri: uris['box.inc'], newUri: pathToFileURL(path.join(folder, 'inc', 'box.inc')).href }] })
  check('willRenameFiles', edit(moved) && moved.documentChanges.length === 2 && moved.documentChanges.every(d => d.edits.length === 1 && d.edits[0].newText === 'inc/box.inc'), moved)
  check('willRenameFiles of what nobody includes', await ask('workspace/willRenameFiles', { files: [{ oldUri: uris['main.s'], newUri: pathToFileURL(path.join(folder, 'other.s')).href }] }) === null)
  c.sendNotification('textDocument/didChange', { textDocument: { uri: uris['main.s'], version: 8 }, contentChanges: [{ text: files['main.s'] + '\tbl nobody_has_it\n' }] })
  await until(c, 'a finding about several files', () => c.published.get(uris['main.s'])?.diagnostics.some(d => d.code === 'defined-nowhere'))
  const told = [...c.progress.values()].find(k => k.length > 0)
  check('progress has a beginning and an end', told === undefined || (told[0] === 'begin' && told.at(-1) === 'end'), told)
  await finish(`several files, ${encoding}`, child, c)
}

// pulls asks for findings: of a document, of the workspace, in parts and with progress.
async function pulls (encoding) {
  const { child, c } = await begin([encoding])
  const uri = pathToFileURL(path.join(demo, 'findings.s')).href
  const text = fs.readFileSync(path.join(demo, 'findings.s'), 'utf8')
  const textDocument = { uri }
  c.sendNotification('textDocument/didOpen', { textDocument: { uri, languageId: 'asm', version: 3, text } })
  await until(c, 'findings unasked', () => c.published.get(uri)?.diagnostics.length > 0)
  const pushed = c.published.get(uri).diagnostics
  const full = await within('a report', c.sendRequest('textDocument/diagnostic', { textDocument, identifier: 'narrowgauge' }))
  check('a full report', full.kind === 'full' && typeof full.resultId === 'string' && full.items.every(finding), full)
  const plain = list => list.map(d => JSON.stringify([d.range, d.code, d.message])).sort()
  check('it has what was sent', same(plain(full.items), plain(pushed)), full.items.length, pushed.length)
  await until(c, 'what was sent is taken back', () => c.published.get(uri).diagnostics.length === 0)
  const again = await within('a report', c.sendRequest('textDocument/diagnostic', { textDocument, previousResultId: full.resultId }))
  check('nothing has changed', same(again, { kind: 'unchanged', resultId: full.resultId }), again)
  c.sendNotification('textDocument/didChange', { textDocument: { uri, version: 4 }, contentChanges: [{ text: '\t.syntax unified\n' }] })
  const less = await within('a report', c.sendRequest('textDocument/diagnostic', { textDocument, previousResultId: full.resultId }))
  check('after an edit', less.kind === 'full' && less.items.length < full.items.length, less)
  const whole = await within('the workspace', c.sendRequest('workspace/diagnostic', { previousResultIds: [] }))
  const good = r => (r.kind === 'full' ? Array.isArray(r.items) && r.items.every(finding) : r.kind === 'unchanged' && r.items === undefined) && typeof r.resultId === 'string' && (r.version === null || Number.isInteger(r.version))
  check('the reports of a workspace', whole.items.length > 5 && whole.items.every(good), whole.items.map(r => [r.uri, r.kind]))
  check('the open document has its version', whole.items.some(r => r.uri === uri && r.version === 4 && r.items.length === less.items.length))
  check('each document once', new Set(whole.items.map(r => r.uri)).size === whole.items.length)
  const parts = []
  const done = []
  c.progressed = p => p.token === 'parts' ? parts.push(...p.value.items) : p.token === 'done' && done.push(p.value)
  const previousResultIds = whole.items.map(r => ({ uri: r.uri, value: r.resultId }))
  const rest = await within('the workspace in parts', c.sendRequest('workspace/diagnostic', { previousResultIds, partialResultToken: 'parts', workDoneToken: 'done' }))
  check('all came in parts', rest.items.length === 0 && parts.length === whole.items.length, rest, parts.length)
  check('none has changed', parts.every(r => good(r) && r.kind === 'unchanged'), parts)
  check('progress', done[0]?.kind === 'begin' && done[0].title !== '' && done.at(-1)?.kind === 'end' && done.slice(1, -1).every(p => p.kind === 'report'), done)
  const traced = []
  c.onNotification('$/logTrace', p => traced.push(p))
  c.sendNotification('$/setTrace', { value: 'verbose' })
  await within('a traced request', c.sendRequest('textDocument/documentSymbol', { textDocument }))
  c.sendNotification('$/setTrace', { value: 'off' })
  await within('an untraced request', c.sendRequest('textDocument/documentSymbol', { textDocument }))
  check('the trace', traced.length === 1 && typeof traced[0].message === 'string' && typeof traced[0].verbose === 'string', traced)
  await finish(`pulls, ${encoding}`, child, c)
}

function until (c, what, done) {
  if (done()) return
  return within(what, new Promise(resolve => { c.waiting = () => { if (done()) { c.waiting = undefined; resolve() } } }))
}

// random numbers that are the same in each run.
let state = 12
const random = n => { state = (state * 1103515245 + 12345) % 2147483648; return Math.floor(state / 65536) % n }

// edits changes a document piece by piece, as the library does, and compares what the
// server says of it with what it says of the same text in one piece.
async function edits () {
  const { child, c } = await begin()
  const uri = pathToFileURL(path.join(home, 'edited.s')).href
  const other = pathToFileURL(path.join(home, 'whole.s')).href
  const pieces = ['\tmovs r0, #300\n', 'l1:', '\r\n', '\n', '😀', 'é', '@', '"', '\tbeq far\n', 'far:\tnop\n', '/*', '*/', '\t.ascii "😀\n', '\tldr r0, =l1\n', '', '\t.if 1\n', '\t.endif\n', '\r']
  let doc = TextDocument.create(uri, 'asm', 1, '\t.syntax unified\n\t.thumb\n')
  c.sendNotification('textDocument/didOpen', { textDocument: { uri, languageId: 'asm', version: 1, text: doc.getText() } })
  let version = 1
  const plain = p => p.diagnostics.map(d => [d.range, d.code, d.severity, d.message]).map(x => JSON.stringify(x)).sort()
  for (let turn = 0; turn < 60; turn++) {
    const changes = []
    version++
    for (let k = random(4) + 1; k > 0; k--) {
      const place = () => doc.positionAt(random(doc.getText().length + 1))
      let [a, b] = [place(), place()]
      if (doc.offsetAt(a) > doc.offsetAt(b)) [a, b] = [b, a]
      if (random(3) > 0) b = a
      for (const p of [a, b]) { // not between the halves of a character
        const at = doc.offsetAt(p)
        if (/[\udc00-\udfff]/.test(doc.getText()[at] ?? '')) Object.assign(p, doc.positionAt(at - 1))
      }
      const text = pieces[random(pieces.length)]
      const change = random(12) === 0 ? { text: pieces.join('') } : { range: { start: a, end: b }, text }
      changes.push(change)
      doc = TextDocument.update(doc, [change], version)
    }
    c.sendNotification('textDocument/didChange', { textDocument: { uri, version }, contentChanges: changes })
    if (turn % 3 > 0) continue
    c.published.delete(other)
    c.sendNotification('textDocument/didOpen', { textDocument: { uri: other, languageId: 'asm', version, text: doc.getText() } })
    await until(c, `findings of version ${version}`, () => c.published.get(uri)?.version === version && c.published.get(other)?.version === version)
    check(`version ${version} after edits is the text in one piece`, same(plain(c.published.get(uri)), plain(c.published.get(other))), doc.getText(), plain(c.published.get(uri)), plain(c.published.get(other)))
    const [one, two] = await within('symbols', Promise.all([uri, other].map(uri => c.sendRequest('textDocument/documentSymbol', { textDocument: { uri } }))))
    check(`its symbols in version ${version}`, same(one, two), one, two)
    c.sendNotification('textDocument/didClose', { textDocument: { uri: other } })
  }
  c.sendNotification('textDocument/didSave', { textDocument: { uri } })
  c.sendNotification('textDocument/didClose', { textDocument: { uri } })
  await until(c, 'a closed document has no findings', () => c.published.get(uri).diagnostics.length === 0)
  await finish('edits', child, c)
}

const frame = body => `Content-Length: ${Buffer.byteLength(body)}\r\n\r\n${body}`
const ping = frame('{"jsonrpc":"2.0","id":"after","method":"points/ping"}')

// Each is sent to a running session, with a request behind it that has to be answered.
const broken = {
  'no JSON': frame('{]}'),
  'no object': frame('5'),
  nothing: frame('null'),
  'an empty body': 'Content-Length: 0\r\n\r\n',
  'an empty batch': frame('[]'),
  'a batch': frame('[{"jsonrpc":"2.0","method":"points/x"}]'),
  'no version': frame('{"id":1,"method":"textDocument/hover"}'),
  'an id of the wrong type': frame('{"jsonrpc":"2.0","id":{},"method":"x"}'),
  'a method of the wrong type': frame('{"jsonrpc":"2.0","id":7,"method":5}'),
  'an answer to nothing': frame('{"jsonrpc":"2.0","id":99,"result":null}'),
  'bytes that are no text': Buffer.concat([Buffer.from('Content-Length: 4\r\n\r\n'), Buffer.from([0xff, 0xfe, 0x80, 0])]),
  'deep brackets': frame('['.repeat(100_000)),
  'no length': 'Content-Type: x\r\n\r\n',
  'a negative length': 'Content-Length: -5\r\n\r\n',
  'a length in words': 'Content-Length: five\r\n\r\n',
  'two lengths': 'Content-Length: 5\r\nContent-Length: 6\r\n\r\n',
  'a huge length': 'Content-Length: 99999999999999999999\r\n\r\n',
  'a header in lower case': frame('{"jsonrpc":"2.0","method":"points/x"}').toLowerCase(),
  'a header of its own': 'Content-Type: application/vscode-jsonrpc; charset=utf-8\r\n' + frame('{"jsonrpc":"2.0","method":"points/x"}'),
  'noise between messages': '\r\n\r\n'
}

async function frames () {
  for (const [what, bytes] of Object.entries(broken)) {
    const child = start()
    let out = ''
    child.stdout.on('data', d => { out += d })
    child.stdin.write(frame('{"jsonrpc":"2.0","id":1,"method":"initialize","params":{"processId":null,"rootUri":null,"capabilities":{}}}'))
    child.stdin.write(bytes)
    child.stdin.write(ping)
    child.stdin.write(frame('{"jsonrpc":"2.0","id":"end","method":"shutdown"}') + frame('{"jsonrpc":"2.0","method":"exit"}'))
    await ended(what, child, 0)
    check(`${what}: what comes after is answered`, /"id":"after"/.test(out) && /-32601/.test(out), out)
  }
}

// cut ends the input in the middle of a message.
async function cut () {
  for (const bytes of ['', 'Content-Le', 'Content-Length: 100\r\n\r\n{"json', 'Content-Length: 100\r\n', ping.slice(0, -1)]) {
    const child = start()
    child.stdout.resume()
    child.stdin.end(bytes)
    await ended(`input that ends after ${JSON.stringify(bytes)}`, child, 0, 1)
  }
}

async function lifecycle () {
  {
    const child = start()
    const c = session(child)
    await refused('a request before initialize', c.sendRequest('textDocument/hover', { textDocument: { uri: 'file:///a.s' }, position: { line: 0, character: 0 } }), -32002)
    c.sendNotification('textDocument/didOpen', { textDocument: { uri: 'file:///a.s', languageId: 'asm', version: 1, text: '' } }) // dropped
    await within('initialize', c.sendRequest('initialize', { processId: null, rootUri: null, capabilities: {} }))
    await c.sendNotification('initialized', {})
    await c.sendNotification('initialized', {})
    await within('shutdown', c.sendRequest('shutdown'))
    await refused('a request after shutdown', c.sendRequest('textDocument/hover', { textDocument: { uri: 'file:///a.s' }, position: { line: 0, character: 0 } }), -32600)
    await refused('a second shutdown', c.sendRequest('shutdown'), -32600)
    await c.sendNotification('exit')
    await ended('exit after shutdown', child, 0)
  }
  for (const initialized of [false, true]) {
    const child = start()
    const c = session(child)
    if (initialized) await within('initialize', c.sendRequest('initialize', { processId: null, rootUri: null, capabilities: {} }))
    await c.sendNotification('exit')
    await ended('exit without shutdown', child, 1)
  }
  { // the client's output is gone
    const { child } = await begin()
    child.stdout.destroy()
    child.stdin.write(ping.repeat(100))
    child.stdin.end()
    await ended('a client that reads no more', child, 0, 1)
  }
  { // the client is gone
    const parent = spawn(process.execPath, ['-e', 'setTimeout(() => {}, 60000)'])
    const child = start()
    const c = session(child)
    await within('initialize', c.sendRequest('initialize', { processId: parent.pid, rootUri: null, capabilities: {} }))
    parent.kill('SIGKILL')
    await ended('the parent has ended', child, 0, 1)
  }
}

async function main () {
  for (const part of [lifecycle, cut, frames, () => everything('utf-16'), () => everything('utf-8'), () => formats('utf-16'), () => formats('utf-8'), () => makes('utf-16'), () => makes('utf-8'), () => acrossFiles('utf-16'), () => acrossFiles('utf-8'), () => pulls('utf-16'), () => pulls('utf-8'), edits]) {
    try {
      await part()
    } catch (e) {
      check(`${part.name || part}: ${e.stack}`, false)
    }
  }
  fs.rmSync(home, { recursive: true, force: true })
  console.log(`${checks} checks with the protocol's reference library, ${failures.length} failed`)
  process.exit(failures.length > 0 ? 1 : 0)
}

main()
