// Starts the narrowgauge server for assembly files and hands it the settings.
// All knowledge of the language is in the server; this file has none.
'use strict';

const os = require('node:os');
const path = require('node:path');
const vscode = require('vscode');
const { LanguageClient } = require('vscode-languageclient/node');

/** The settings that the server takes, by their names below `narrowgauge.`. */
const SERVER_SETTINGS = ['arch', 'cpu', 'fpu', 'startMode', 'syntax', 'include'];

/** @type {LanguageClient | undefined} */
let client;

/**
 * The command that starts the server: the setting, or the name alone, which
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

async function start() {
  const command = serverCommand();
  client = new LanguageClient(
    'narrowgauge', // also the section of trace.server
    'narrowgauge',
    { command, args: ['serve'] },
    {
      documentSelector: [
        { scheme: 'file', language: 't16asm' },
        { scheme: 'untitled', language: 't16asm' },
      ],
      initializationOptions: serverSettings(),
      // A change of a setting is told at once; the server may also ask for
      // the section with workspace/configuration, which the client answers.
      synchronize: { configurationSection: 'narrowgauge' },
    },
  );
  try {
    await client.start();
  } catch (error) {
    client = undefined;
    const open = 'Open the setting';
    const choice = await vscode.window.showErrorMessage(
      `The narrowgauge server did not start (${command}): ${error.message ?? error}`,
      open,
    );
    if (choice === open) {
      await vscode.commands.executeCommand('workbench.action.openSettings', 'narrowgauge.serverPath');
    }
  }
}

async function stop() {
  const running = client;
  client = undefined;
  await running?.dispose();
}

async function activate(context) {
  context.subscriptions.push(
    vscode.commands.registerCommand('narrowgauge.restart', async () => {
      await stop();
      await start();
    }),
    vscode.workspace.onDidChangeConfiguration(async (event) => {
      if (event.affectsConfiguration('narrowgauge.serverPath')) {
        await stop();
        await start();
      }
    }),
  );
  await start();
}

module.exports = { activate, deactivate: stop };
