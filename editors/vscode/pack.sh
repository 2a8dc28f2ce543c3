#!/usr/bin/env bash
# Builds the extension and packs it as narrowgauge.vsix in this folder.
# Needs Node 20 or later and npm; downloads npm packages and nothing else.
set -euo pipefail
cd "$(dirname "$0")"
npm ci --no-audit --no-fund --ignore-scripts --loglevel=error
npm run --silent build -- --log-level=warning --metafile=out/meta.json
node licenses.js out/meta.json >out/licenses.txt
node_modules/.bin/vsce package --no-dependencies --allow-missing-repository --skip-license --out narrowgauge.vsix
