// Shows in the status bar what the source at the cursor is taken for: instruction sets and
// core; what tells it is in the tooltip, and a click goes there. The server knows it.
'use strict';

const vscode = require('vscode');

const LANGUAGE = 't16asm';
/** How long the cursor rests before the server is asked, in milliseconds. */
const REST = 200;

/** Says to the server that this client takes narrowgauge/targetChanged. */
const feature = {
  fillClientCapabilities(capabilities) {
    capabilities.experimental = { ...capabilities.experimental, narrowgaugeTarget: true };
  },
  initialize() {},
  getState: () => ({ kind: 'static' }),
  clear() {},
};

class TargetStatus {
  /** @param {() => import('vscode-languageclient/node').LanguageClient | undefined} client */
  constructor(client) {
    this.client = client;
    this.item = vscode.window.createStatusBarItem('narrowgauge.target', vscode.StatusBarAlignment.Right, 90);
    this.item.name = 'Assembly target';
    this.item.command = 'narrowgauge.showTarget';
    this.subscriptions = [
      this.item,
      vscode.commands.registerCommand('narrowgauge.showTarget', () => this.show()),
      vscode.window.onDidChangeActiveTextEditor(() => this.ask()),
      vscode.window.onDidChangeTextEditorSelection(() => {
        clearTimeout(this.timer);
        this.timer = setTimeout(() => this.ask(), REST);
      }),
    ];
  }

  /** Listens to a client that is about to start. */
  attach(client) {
    client.registerFeature(feature);
    client.onNotification('narrowgauge/targetChanged', (target) => {
      if (vscode.window.activeTextEditor?.document.uri.toString() === vscode.Uri.parse(target.uri).toString()) {
        this.ask();
      }
    });
  }

  /** Asks for the target at the cursor, and shows it. */
  async ask() {
    const editor = vscode.window.activeTextEditor;
    const client = this.client();
    if (client === undefined || editor?.document.languageId !== LANGUAGE) {
      this.item.hide();
      return;
    }
    try {
      const target = await client.sendRequest('narrowgauge/target', {
        textDocument: { uri: client.code2ProtocolConverter.asUri(editor.document.uri) },
        position: client.code2ProtocolConverter.asPosition(editor.selection.active),
      });
      if (editor !== vscode.window.activeTextEditor) {
        return; // another answer is on its way
      }
      this.target = target;
      this.item.text = target.where === undefined ? target.short : `${target.short} · ${target.where.short}`;
      this.item.tooltip = `${target.text}\n${target.syntax} syntax; told by: ${target.from}`;
      this.item.show();
    } catch {
      this.item.hide(); // the text has changed meanwhile: there will be a notification
    }
  }

  /** Goes to the line that tells the target, or says what does. */
  async show() {
    const location = this.target?.location;
    const client = this.client();
    if (location === undefined || client === undefined) {
      await vscode.window.showInformationMessage(this.target?.text ?? 'No assembly is open.');
      return;
    }
    await vscode.window.showTextDocument(client.protocol2CodeConverter.asUri(location.uri), {
      selection: client.protocol2CodeConverter.asRange(location.range),
    });
  }
}

module.exports = { TargetStatus };
