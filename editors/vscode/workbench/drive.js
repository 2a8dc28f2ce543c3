// drive.js URL PROJECT IMAGES - what a user does in the workbench at URL, and
// what must come of it. run.sh starts it. Ends with a status other than 0 when
// something is not as it should be; IMAGES/failure.png then shows the window.
'use strict';

const assert = require('node:assert/strict');
const fs = require('node:fs');
const path = require('node:path');
const { chromium } = require('playwright-core');

const [url, project, images] = process.argv.slice(2);
const file = path.join(project, 'crossing.s');

async function main() {
  const browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    args: ['--headless', '--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run',
      '--disable-background-networking', '--disable-component-update', '--disable-sync'],
  });
  const page = await browser.newPage({ viewport: { width: 1280, height: 800 } });
  page.setDefaultTimeout(60_000);
  try {
    await drive(page);
  } catch (error) {
    await page.screenshot({ path: path.join(images, 'failure.png') });
    throw error;
  } finally {
    await browser.close();
  }
}

async function drive(page) {
  await retry(() => page.goto(url));
  await page.locator('.monaco-workbench').waitFor();

  // Open the file by its name.
  await page.locator('.explorer-folders-view').getByText('crossing.s', { exact: true }).dblclick();
  const editor = page.locator('.editor-instance .monaco-editor').first();
  await editor.locator('.view-line').first().waitFor();
  await page.keyboard.press('Control+b'); // no side bar: the code is the picture
  await page.locator('.statusbar-item', { hasText: 'ARM/T16 assembly' }).waitFor();
  console.log('ok: language of crossing.s');

  // The findings, in the text and in the list below it.
  await editor.locator('.squiggly-error').first().waitFor();
  await page.keyboard.press('Control+Shift+m');
  await page.locator('.markers-panel .monaco-list-row').nth(1).waitFor();
  await goTo(page, '[r4, #BELLS]');
  await page.waitForTimeout(2000); // let marks and icons settle for the picture
  await shot(page, 'findings');
  const problems = await page.locator('.markers-panel .monaco-list-row').allInnerTexts();
  console.log(`ok: the list of findings has ${problems.length - 1} entries`);
  for (const problem of problems) {
    console.log(`    ${problem.replaceAll(/\s+/g, ' ')}`);
  }
  await page.keyboard.press('Control+j'); // the list away again
  await page.locator('.markers-panel').waitFor({ state: 'hidden' });
  await goTo(page, '.syntax');

  // Hover: on a finding, its message; on a mnemonic, what the line does.
  await hoverOver(page, editor, 'add r0, r0, #1', 'narrowgauge');
  await hoverOff(page);
  const hover = await hoverOver(page, editor, 'mvns r0, r0', 'MVN');
  await page.waitForTimeout(800);
  await shot(page, 'hover');
  console.log(`ok: hover: ${(await hover.innerText()).split('\n')[0]}`);
  await hoverOff(page);

  // The menu of rewrites.
  await goTo(page, '#300');
  await page.keyboard.press('Control+.');
  const menu = page.locator('.action-widget:not(.action-list-submenu-panel)');
  await menu.waitFor();
  await page.waitForTimeout(800);
  await shot(page, 'rewrites');
  const items = await menu.locator('.monaco-list-row').allInnerTexts();
  console.log(`ok: menu: ${items.map((item) => item.trim()).filter(Boolean).join(' | ')}`);
  await menu.locator('.monaco-list-row.action', { hasText: 'literal pool' }).click();
  await editor.locator('.view-line', { hasText: '=300' }).waitFor();

  // What is in the file now: that one line changed and no other.
  await page.waitForTimeout(1000);
  await shot(page, 'rewritten');
  const before = fs.readFileSync(file, 'utf8');
  await page.keyboard.press('Control+s');
  await retry(() => assert.notEqual(fs.readFileSync(file, 'utf8'), before));
  const want = before.replace(/movs +r1, #300 +@/, 'ldr r1, =300 @');
  assert.notEqual(want, before);
  assert.equal(narrow(fs.readFileSync(file, 'utf8')), narrow(want));
  console.log('ok: text after the rewrite');

  // The target in the line of status: a click goes to what says it.
  const status = page.locator('.statusbar-item', { hasText: 'armv4t T16' });
  await status.waitFor();
  await status.click();
  await page.locator('.statusbar-item', { hasText: 'Ln 5' }).waitFor();
  console.log('ok: target in the line of status, and its click');

  // Completion: a label that a branch reaches.
  await goTo(page, 'bne     crossing_idle');
  await page.keyboard.press('Enter');
  await page.keyboard.type('b crossing_i', { delay: 60 });
  const offers = page.locator('.suggest-widget.visible .monaco-list-row');
  await offers.first().waitFor();
  const names = await offers.allInnerTexts();
  assert.ok(names[0].includes('crossing_idle'), `completion offers ${names}`);
  await page.keyboard.press('Tab');
  await word(editor, 'b crossing_idle').waitFor();
  console.log(`ok: completion: ${names[0].replaceAll(/\s+/g, ' ')}`);

  // Signature: the forms of an instruction while its operands are typed.
  await page.keyboard.press('Enter');
  await page.keyboard.type('ldr r3, [r4, #', { delay: 60 });
  const forms = page.locator('.parameter-hints-widget.visible');
  await forms.filter({ hasText: '[Rn' }).waitFor();
  console.log(`ok: signature: ${(await forms.innerText()).split('\n').find((line) => line.includes('ldr'))}`);
  await page.keyboard.type('BELLS - 4]');
  await page.keyboard.press('Escape');
  await page.keyboard.press('Escape');

  // A hint at the end of a line: the word of a literal that the line does not say.
  await page.keyboard.press('End');
  await page.keyboard.press('Enter');
  await page.keyboard.type('ldr r3, =BELLS + 1', { delay: 30 });
  await page.keyboard.press('Escape');
  await editor.locator('.view-line').filter({ hasText: /=BELLS\s\+\s1\s*=\s1$/ }).first().waitFor();
  console.log('ok: hint at the end of the line');

  // Formatting: what has been typed gets the columns of the rest.
  await command(page, 'Format Document');
  await editor.locator('.view-line').filter({ hasText: /^\s{8}ldr\s{5}r3,\s=BELLS/ }).first().waitFor();
  console.log('ok: formatting');

  // Rename: all that names a label has the new name.
  await command(page, 'Go to Symbol in Editor...');
  await page.locator('.quick-input-widget input').fill('@crossing_idle');
  await page.keyboard.press('Enter');
  await page.locator('.quick-input-widget').waitFor({ state: 'hidden' });
  await page.keyboard.press('F2');
  const box = page.locator('.rename-box input');
  await box.waitFor();
  await box.fill('crossing_open');
  await page.keyboard.press('Enter');
  await word(editor, 'bne crossing_open').waitFor();
  assert.equal(await editor.locator('.view-line', { hasText: 'crossing_idle' }).count(), 0);
  console.log('ok: rename');
}

/** Runs a command of the palette by its name. */
async function command(page, name) {
  await page.keyboard.press('F1');
  const input = page.locator('.quick-input-widget input');
  await input.waitFor();
  await input.fill(`>${name}`);
  await page.locator('.quick-input-list .monaco-list-row', { hasText: name }).first().waitFor();
  await page.keyboard.press('Enter');
}

/** The text with its columns gone: runs of spaces inside a line count as one. */
function narrow(text) {
  return text.replaceAll(/(?<=\S) +/g, ' ');
}

/** The text of a line; spaces in code are no-break spaces in the page. */
function word(editor, text) {
  return editor.locator('.view-line').filter({ hasText: new RegExp(text.replaceAll(' ', '\\s+')) }).first();
}

/** Hovers over the mnemonic of a line; the card that shows must have the text. */
async function hoverOver(page, editor, line, text) {
  const box = await word(editor, line).boundingBox();
  await page.mouse.move(box.x + 85, box.y + 10, { steps: 5 });
  const card = page.locator('.monaco-hover:visible').filter({ hasText: text }).first();
  await card.waitFor();
  return card;
}

/** Closes the card again, and takes the mouse away. */
async function hoverOff(page) {
  await page.mouse.move(1100, 740, { steps: 5 });
  await page.keyboard.press('Escape');
  await page.locator('.monaco-hover:visible').waitFor({ state: 'hidden' });
}

/** Puts the cursor behind a text that stands in the file once. */
async function goTo(page, text) {
  const lines = fs.readFileSync(file, 'utf8').split('\n');
  const line = lines.findIndex((candidate) => candidate.includes(text));
  await page.keyboard.press('Control+g');
  const input = page.locator('.quick-input-widget input');
  await input.fill(`:${line + 1}:${lines[line].indexOf(text) + text.length + 1}`);
  await page.keyboard.press('Enter');
  await input.waitFor({ state: 'hidden' });
}

async function shot(page, name) {
  const at = path.join(images, `${name}.png`);
  await page.screenshot({ path: at });
  const size = fs.statSync(at).size;
  assert.ok(size < 300_000, `${at} has ${size} bytes`);
}

/** Tries again for up to 30 s. */
async function retry(step) {
  for (let i = 0; ; i++) {
    try {
      return await step();
    } catch (error) {
      if (i === 60) {
        throw error;
      }
      await new Promise((resolve) => setTimeout(resolve, 500));
    }
  }
}

main().catch((error) => {
  console.error(error);
  process.exit(1);
});
