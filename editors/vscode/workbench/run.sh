#!/usr/bin/env bash
# run.sh [DIR] - tries the packed extension in the real workbench, in a
# headless browser: squiggles, hover, the menu of rewrites, the text after
# one. Rewrites ../images/*.png on the way. Run by hand; not part of CI.
#
# DIR keeps the workbench between runs (default /tmp/narrowgauge-workbench).
# Needs go, npm, and Debian's chromium. NARROWGAUGE_SERVER=PATH takes a server
# that is built already.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
dir=${1:-/tmp/narrowgauge-workbench}
root=$(cd "$here/../../.." && pwd)

bash "$here/install.sh" "$dir"
bash "$here/../pack.sh"

temp=$(mktemp -d)
pid=
trap '[ -z "$pid" ] || kill "$pid" 2>/dev/null || true; rm -rf "$temp"' EXIT

server=${NARROWGAUGE_SERVER:-}
if [ -z "$server" ]; then
  server=$temp/bin/narrowgauge
  (cd "$root" && go build -o "$server" ./cmd/lsp)
fi

# The demo, with one more file that has mistakes in it.
project=$temp/signalbox
mkdir -p "$project"
cp "$root"/editors/demo/{*.s,*.inc,*.ld,narrowgauge.json} "$project"
cp "$here/crossing.s" "$project"

# The path of the server is a setting of the machine that it runs on, and a
# browser's window is a remote one.
mkdir -p "$temp/data/User" "$temp/data/Machine"
echo "{\"narrowgauge.serverPath\": \"$server\"}" >"$temp/data/Machine/settings.json"
cat >"$temp/data/User/settings.json" <<JSON
{
  "workbench.startupEditor": "none",
  "workbench.tips.enabled": false,
  "workbench.secondarySideBar.defaultVisibility": "hidden",
  "workbench.activityBar.location": "hidden",
  "workbench.statusBar.visible": true,
  "workbench.layoutControl.enabled": false,
  "workbench.colorTheme": "Default Light Modern",
  "window.commandCenter": false,
  "window.menuBarVisibility": "compact",
  "chat.disableAIFeatures": true,
  "editor.fontFamily": "DejaVu Sans Mono",
  "editor.fontSize": 16,
  "editor.minimap.enabled": false,
  "editor.stickyScroll.enabled": false,
  "editor.hover.delay": 100,
  "editor.guides.indentation": false,
  "editor.cursorBlinking": "solid",
  "files.autoSave": "off",
  "telemetry.telemetryLevel": "off"
}
JSON

cd "$dir"
./node entry.js --user-data-dir "$temp/data" --extensions-dir "$temp/extensions" --install-extension "$here/../narrowgauge.vsix"

# Loopback only, and no gallery of extensions to ask.
port=${PORT:-$((20000 + RANDOM % 20000))}
EXTENSIONS_GALLERY='{"serviceUrl":"http://127.0.0.1:9"}' ./node entry.js --auth none --bind-addr "127.0.0.1:$port" \
  --user-data-dir "$temp/data" --extensions-dir "$temp/extensions" --config "$temp/config.yaml" \
  --disable-telemetry --disable-update-check --disable-workspace-trust "$project" >"$temp/log" 2>&1 &
pid=$!

NODE_PATH="$dir/node_modules" ./node "$here/drive.js" "http://127.0.0.1:$port/?folder=$project" "$project" "$here/../images" ||
  { tail -20 "$temp/log"; exit 1; }
