// status.js - what the status bar shows. It stands in for the editor and the server:
// vscode_test.go runs it.
'use strict';

const assert = require('node:assert');
const Module = require('node:module');

const item = { shown: false, show() { this.shown = true; }, hide() { this.shown = false; } };
const handlers = {};
const asked = [];
const shown = [];
let answer;
const uriOf = (text) => ({ toString: () => text });
const vscode = {
  StatusBarAlignment: { Right: 2 },
  Uri: { parse: uriOf },
  window: {
    activeTextEditor: undefined,
    createStatusBarItem: () => item,
    onDidChangeActiveTextEditor: (run) => { handlers.editor = run; },
    onDidChangeTextEditorSelection: (run) => { handlers.selection = run; },
    showInformationMessage: async (text) => { shown.push(text); },
    showTextDocument: async (uri, options) => { shown.push([uri, options.selection]); },
  },
  commands: { registerCommand: (name, run) => { handlers[name] = run; } },
};
const load = Module._load;
Module._load = (name, ...rest) => (name === 'vscode' ? vscode : load(name, ...rest));

const client = {
  code2ProtocolConverter: { asUri: (uri) => uri.toString(), asPosition: (place) => place },
  protocol2CodeConverter: { asUri: (uri) => uri, asRange: (range) => range },
  registerFeature(feature) {
    const capabilities = { experimental: { other: 1 } };
    feature.fillClientCapabilities(capabilities);
    assert.deepStrictEqual(capabilities.experimental, { other: 1, narrowgaugeTarget: true });
  },
  onNotification(method, run) {
    assert.strictEqual(method, 'narrowgauge/targetChanged');
    handlers.changed = run;
  },
  async sendRequest(method, params) {
    asked.push([method, params.textDocument.uri, params.position]);
    if (answer === undefined) {
      throw new Error('modified');
    }
    return answer;
  },
};
const settle = (time = 0) => new Promise((done) => setTimeout(done, time));
const editor = (uri, languageId) => ({ document: { uri: uriOf(uri), languageId }, selection: { active: 'here' } });

async function main() {
  const { TargetStatus } = require('./src/target.js');
  const status = new TargetStatus(() => client);
  status.attach(client);
  handlers.editor();
  assert.strictEqual(item.shown, false);

  vscode.window.activeTextEditor = editor('file:///box.s', 't16asm');
  answer = { uri: 'file:///box.s', short: 'armv7-m T16+T32 ?', text: 'Target armv7-m.', syntax: 'unified', from: 'guess', location: { uri: 'file:///box.s', range: 'line 3' } };
  handlers.editor();
  await settle();
  assert.deepStrictEqual(asked, [['narrowgauge/target', 'file:///box.s', 'here']]);
  assert.ok(item.shown && item.text === 'armv7-m T16+T32 ?' && item.tooltip.includes('Target armv7-m.'));
  await handlers['narrowgauge.showTarget']();
  assert.deepStrictEqual(shown.pop(), ['file:///box.s', 'line 3']);

  // The cursor: one question when it rests, however often it has moved.
  answer = { ...answer, short: 'armv4t A32 ?', location: undefined, where: { section: '.text', offset: 4, short: '.text+0x4 ring: 12 bytes' } };
  handlers.selection();
  handlers.selection();
  await settle(300);
  assert.strictEqual(asked.length, 2);
  assert.strictEqual(item.text, 'armv4t A32 ? · .text+0x4 ring: 12 bytes');
  await handlers['narrowgauge.showTarget']();
  assert.strictEqual(shown.pop(), 'Target armv7-m.');

  // A notification about this document, and about another one.
  handlers.changed({ uri: 'file:///other.s' });
  handlers.changed({ uri: 'file:///box.s' });
  await settle();
  assert.strictEqual(asked.length, 3);

  answer = undefined;
  handlers.editor();
  await settle();
  assert.strictEqual(item.shown, false);
  answer = { short: 'x' };
  vscode.window.activeTextEditor = editor('file:///box.c', 'c');
  handlers.editor();
  await settle();
  assert.strictEqual(item.shown, false);
  console.log('status.js: passed');
}

main().catch((problem) => {
  console.error(problem);
  process.exit(1);
});
