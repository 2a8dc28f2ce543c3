// missing.js - what the extension says without a server, and where it finds one. It stands
// in for the editor: vscode_test.go runs it, with a folder that may be written to.
'use strict';

const assert = require('node:assert');
const fs = require('node:fs');
const Module = require('node:module');
const os = require('node:os');
const path = require('node:path');

const home = process.argv[2];
const said = [];
const started = [];
let setting = '';
let answer;
let copied;
let opened;
const vscode = {
  workspace: {
    getConfiguration: () => ({ get: (name, value) => (name === 'serverPath' ? setting : value) }),
    onDidChangeConfiguration: () => ({}),
    workspaceFolders: undefined,
  },
  StatusBarAlignment: { Right: 2 },
  window: {
    activeTextEditor: undefined,
    createStatusBarItem: () => ({ show() {}, hide() {} }),
    onDidChangeActiveTextEditor: () => ({}),
    onDidChangeTextEditorSelection: () => ({}),
    showErrorMessage: async (text, ...buttons) => {
      said.push({ text, buttons });
      return buttons[answer];
    },
  },
  commands: {
    registerCommand: (name, run) => {
      if (name === 'narrowgauge.restart') {
        vscode.restart = run;
      }
      return {};
    },
    executeCommand: async (...args) => {
      opened = args;
    },
  },
  env: {
    clipboard: {
      writeText: async (text) => {
        copied = text;
      },
    },
  },
};
class LanguageClient {
  constructor(_id, _name, server) {
    started.push(server.command);
  }
  registerFeature() {}
  onNotification() {}
  async start() {}
  async dispose() {}
}
const load = Module._load;
Module._load = (name, ...rest) => {
  switch (name) {
    case 'vscode':
      return vscode;
    case 'vscode-languageclient/node':
      return { LanguageClient };
  }
  return load(name, ...rest);
};
os.homedir = () => home;

function install(folder) {
  const file = path.join(folder, 'narrowgauge');
  fs.mkdirSync(folder, { recursive: true });
  fs.writeFileSync(file, '#!/bin/sh\n', { mode: 0o755 });
  return file;
}

/** Lets what was begun come to its end. */
const settle = () => new Promise((done) => setImmediate(done));

async function main() {
  const extension = require('./src/extension.js');
  process.env.PATH = path.join(home, 'nothing');
  delete process.env.GOBIN;
  delete process.env.GOPATH;

  answer = 0;
  await extension.activate({ subscriptions: { push() {} } });
  await settle();
  assert.deepStrictEqual(started, []);
  assert.strictEqual(said.length, 1);
  for (const part of ['go build -o narrowgauge ./cmd/lsp', 'install -D -m 755 narrowgauge ~/.local/bin/narrowgauge', 'PATH', 'Restart the server']) {
    assert.ok(said[0].text.includes(part), `not a word of ${part}: ${said[0].text}`);
  }
  assert.ok(copied.startsWith('go build'));

  answer = 1;
  setting = '/nowhere/narrowgauge';
  await vscode.restart();
  await settle();
  assert.ok(said[1].text.includes('/nowhere/narrowgauge') && !said[1].text.includes('in PATH'));
  assert.deepStrictEqual(opened, ['workbench.action.openSettings', 'narrowgauge.serverPath']);
  setting = '';

  // Each place wins over those after it.
  const wanted = [];
  for (const [folder, variable, value] of [
    [path.join(home, 'go', 'bin')],
    [path.join(home, 'tools', 'bin'), 'GOPATH', [path.join(home, 'more'), path.join(home, 'tools')].join(path.delimiter)],
    [path.join(home, 'gobin'), 'GOBIN', path.join(home, 'gobin')],
    [path.join(home, '.local', 'bin')],
    [path.join(home, 'first'), 'PATH', path.join(home, 'first')],
  ]) {
    if (variable) {
      process.env[variable] = value;
    }
    wanted.push(install(folder));
    await vscode.restart();
  }
  assert.deepStrictEqual(started, wanted);
  assert.strictEqual(said.length, 2);
  console.log('missing.js: passed');
}

main().catch((problem) => {
  console.error(problem);
  process.exit(1);
});
