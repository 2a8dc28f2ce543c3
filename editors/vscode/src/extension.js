// Starts the narrowgauge server for assembly files and hands it the settings.
// All knowledge of the language is in the server; this file has none.
'use strict';

const fs = require('node:fs');
const os = require('node:os');
const path = require('node:path');
const vscode = require('vscode');
const { LanguageClient } = require('vscode-languageclient/node');
const { TargetStatus } = require('./target.js');

/** The settings that the server takes, by their names below `narrowgauge.`. */
const SERVER_SETTINGS = ['arch', 'guess', 'cpu', 'fpu', 'startMode', 'syntax', 'implicitIT', 'dialect', 'alignUnit', 'wordBytes', 'include', 'preprocess', 'defines', 'prelude', 'symbols', 'compileCommands', 'severity', 'format', 'readAlso', 'hints', 'lenses', 'budget'];

/** @type {LanguageClient | undefined} */
let client;

/** @type {TargetStatus | undefined} */
let status;

/**
 * The command that starts the server: the setting, or only the name, which
 * the operating system looks up in PATH.
 */
function serverCommand() {
  const configured = vscode.workspace.getConfiguration('narrowgauge').get('serverPath', '').trim();
  if (configured === '') {
    return 'narrowgauge';
  }
  const folder = vscode.workspace.workspaceFolders?.[0]?.uri.fsPath ?? '';
  return configured
    .replace(/^~(?=[/\\])/, () => os.homedir())
    .replaceAll('${workspaceFolder}', () => folder)
    .replaceAll('/', path.sep);
}

/** The settings that have a value. The server lets the project file win. */
function serverSettings() {
  const configuration = vscode.workspace.getConfiguration('narrowgauge');
  const settings = {};
  for (const name of SERVER_SETTINGS) {
    const value = configuration.get(name);
    if (value !== undefined && value !== '' && value.length !== 0) {
      settings[name] = value;
    }
  }
  return settings;
}

/** Where programs are looked for besides PATH: where they are installed by hand, and where Go puts them. */
function otherFolders() {
  const home = os.homedir();
  const { GOBIN, GOPATH } = process.env;
  const folders = [path.join(home, '.local', 'bin')];
  if (GOBIN) {
    folders.push(GOBIN);
  }
  for (const folder of (GOPATH || path.join(home, 'go')).split(path.delimiter)) {
    folders.push(path.join(folder, 'bin'));
  }
  return folders;
}

/** The file of the command: itself if it is a path, else found in PATH or in the other folders. */
function findExecutable(command) {
  const isPath = command.includes('/') || command.includes(path.sep);
  const folders = isPath ? [''] : [...(process.env.PATH ?? '').split(path.delimiter), ...otherFolders()];
  const endings = process.platform === 'win32' ? ['', '.exe'] : [''];
  for (const folder of folders) {
    for (const ending of endings) {
      const file = path.join(folder, command + ending);
      try {
        fs.accessSync(file, fs.constants.X_OK);
        if (fs.statSync(file).isFile()) {
          return file;
        }
      } catch {
        // Not here.
      }
    }
  }
  return undefined;
}

/** Starts the server, or says why it cannot. */
async function start() {
  const command = serverCommand();
  const executable = findExecutable(command);
  if (executable === undefined) {
    sayNotFound(command);
    return;
  }
  client = new LanguageClient(
    'narrowgauge', // also the section of trace.server
    'narrowgauge',
    { command: executable, args: ['serve'] },
    {
      documentSelector: [
        { scheme: 'file', language: 't16asm' },
        { scheme: 'untitled', language: 't16asm' },
      ],
      initializationOptions: serverSettings(),
      // A change of a setting is told at once; the server may also ask for
      // the section with workspace/configuration, which the client answers.
      synchronize: { configurationSection: 'narrowgauge' },
      // The server sends findings unasked, after each key, and to a client that asks no
      // more: the client must not ask as well, or it would show each of them later.
      middleware: { provideDiagnostics: () => undefined, provideWorkspaceDiagnostics: () => undefined },
    },
  );
  status?.attach(client);
  try {
    await client.start();
    await status?.ask();
  } catch {
    client = undefined; // the client has shown the reason
  }
}

/** What builds the server and puts it where it is found, in a clone of its repository. */
const BUILD = 'go build -o narrowgauge ./cmd/lsp && install -D -m 755 narrowgauge ~/.local/bin/narrowgauge';

async function sayNotFound(command) {
  const copy = 'Copy the command';
  const open = 'Open the setting';
  const where = command.includes('/') || command.includes(path.sep) ? '' : ', in PATH, in ~/.local/bin or in Go\'s folder for programs';
  const text = `There is no narrowgauge server to run: ${command}${where}. To build it, in a clone of its repository, with Go: ${BUILD}. Then run "narrowgauge: Restart the server".`;
  const choice = await vscode.window.showErrorMessage(text, copy, open);
  if (choice === copy) {
    await vscode.env.clipboard.writeText(BUILD);
  } else if (choice === open) {
    await vscode.commands.executeCommand('workbench.action.openSettings', 'narrowgauge.serverPath');
  }
}

async function stop() {
  const running = client;
  client = undefined;
  try {
    await running?.dispose();
  } catch {
    // It had not come up, or was gone already.
  }
}

// Starts and stops follow one another and never overlap: the settings of a
// remote window may change while the first start is under way.
let queue = Promise.resolve();

function restart() {
  queue = queue.then(stop).then(start);
  return queue;
}

async function activate(context) {
  status = new TargetStatus(() => client);
  context.subscriptions.push(
    ...status.subscriptions,
    vscode.commands.registerCommand('narrowgauge.restart', restart),
    vscode.workspace.onDidChangeConfiguration((event) => {
      if (event.affectsConfiguration('narrowgauge.serverPath')) {
        restart();
      }
    }),
  );
  await restart();
}

function deactivate() {
  queue = queue.then(stop);
  return queue;
}

module.exports = { activate, deactivate };
