#!/usr/bin/env bash
# Lets a scripted client of the protocol's reference library talk to the server: run.sh
# [PROGRAM]. Without one it builds it. Needs Node 20 or later and npm; downloads the
# library and nothing else.
set -euo pipefail
cd "$(dirname "$0")"
npm ci --no-audit --no-fund --ignore-scripts --loglevel=error
server=${1:-}
if [ -z "$server" ]; then
  server=$(mktemp)
  trap 'rm -f "$server"' EXIT
  (cd ../.. && go build -o "$server" ./cmd/lsp)
fi
node client.js "$server"
