// Prints our licence and those of the packages that esbuild put into the
// bundle, which its metafile lists.    node licenses.js META.json
'use strict';

const fs = require('node:fs');
const path = require('node:path');

const meta = JSON.parse(fs.readFileSync(process.argv[2], 'utf8'));
const packages = new Set();
for (const input of Object.keys(meta.inputs)) {
  const found = input.match(/^(.*node_modules\/(?:@[^/]+\/)?[^/]+)\//);
  if (found) {
    packages.add(found[1]);
  }
}

process.stdout.write(fs.readFileSync(path.join(__dirname, '../../LICENSE'), 'utf8'));
for (const folder of [...packages].sort()) {
  const { name, version, license } = JSON.parse(fs.readFileSync(path.join(folder, 'package.json'), 'utf8'));
  const file = fs.readdirSync(folder).find((entry) => /^licen[cs]e/i.test(entry));
  process.stdout.write(`\n---- ${name} ${version} (${license}) ----\n\n`);
  process.stdout.write(file ? fs.readFileSync(path.join(folder, file), 'utf8') : 'See the package.\n');
}
