// Uses the drawing of a circuit in a live page: values beside symbols, what a symbol lights, keyboard, download, phone, colours.
//
//   NODE_PATH=$BENCHLEAF_NODE_MODULES node tests/browser/circuit.js FOLDER
//
// FOLDER holds page.html.
'use strict';

const assert = require('node:assert/strict');
const fs = require('node:fs');
const path = require('node:path');
const { pathToFileURL } = require('node:url');
const { open } = require('./open.js');
const { isSound } = require('./sound.js');
const { visit } = require('./visit.js');

const [folder] = process.argv.slice(2);
const page = pathToFileURL(path.join(folder, 'page.html')).href;

async function follow(browser, options) {
  const context = await browser.newContext(options);
  const sheet = await visit(context, page);
  const circuit = sheet.locator('section.circuit');
  const symbol = (name) => circuit.locator(`svg g[data-part="${name}"]`);
  const beside = (name, text) => symbol(name).locator(`text:has-text("${text}")`).first();
  const field = (name) => sheet.locator(`tr[data-given="${name}"] input[type=text]`);
  const potential = (row) => circuit.locator('table tbody tr').filter({ hasText: row }).locator('td').first();
  await isSound(sheet, 'at first');

  // Values beside symbols follow a change, and so do the solved potentials: 9 V over 20 kΩ and 10 kΩ, then over 40 kΩ and 10 kΩ.
  await circuit.locator('summary:has-text("Nets")').click();
  assert.match(await symbol('R1').textContent(), /20\s?kΩ/);
  assert.match(await potential('R1.2').textContent(), /^3\.00\s?V$/);
  await field('R_up').fill('40 kΩ');
  await beside('R1', '40').waitFor();
  assert.match(await symbol('R1').textContent(), /40\s?kΩ/);
  assert.match(await symbol('R1').getAttribute('aria-label'), /40\s?kΩ/, 'the name of a symbol follows too');
  assert.match(await potential('R1.2').textContent(), /^1\.80\s?V$/);
  await field('R_up').fill('20 V');
  await sheet.locator('.refused').waitFor();
  assert.match(await symbol('R1').textContent(), /40\s?kΩ/, 'a value that is refused changes nothing');
  await field('R_up').fill('20 kΩ');
  await beside('R1', '20').waitFor();

  // A symbol lights its given, the formulas that read it, the requirement and its place in the list of connections.
  const lit = () => sheet.locator('.lit').evaluateAll((all) => all.map((row) => row.id || row.dataset.part || row.dataset.name || ''));
  assert.deepEqual(await lit(), []);
  await symbol('R2').focus();
  const found = await lit();
  for (const id of ['value-R_low', 'value-V_m', 'value-I_m', 'R2']) assert.ok(found.includes(id), `${id} in ${found}`);
  assert.ok(!found.includes('value-R_up') && !found.includes('value-other'), `${found}`);

  // One tab stop; arrow keys lead from symbol to symbol and round.
  const count = await circuit.locator('svg g.part').count();
  assert.equal(await circuit.locator('svg g.part[tabindex="0"]').count(), 1);
  const focused = () => sheet.evaluate(() => document.activeElement.dataset.part);
  const passed = [await focused()];
  for (let step = 0; step < count; step += 1) {
    await sheet.keyboard.press('ArrowRight');
    passed.push(await focused());
  }
  assert.equal(new Set(passed).size, count, `${passed}`);
  assert.equal(passed.at(-1), passed[0]);
  await sheet.keyboard.press('ArrowLeft');
  assert.equal(await focused(), passed.at(-2));
  const named = await sheet.evaluate(() => document.activeElement.getAttribute('aria-label') ?? document.activeElement.querySelector('title')?.textContent);
  assert.match(named, /: .*; .* to /, 'a symbol says what it is and what it is joined to');

  // The drawing as a file of its own says what the page says, without what is lit.
  const [download] = await Promise.all([sheet.waitForEvent('download'), circuit.locator('button:has-text("Save the drawing")').click()]);
  assert.match(download.suggestedFilename(), /^circuit-a-divider\.svg$/);
  const saved = fs.readFileSync(await download.path(), 'utf8');
  assert.ok(!/class="[^"]*\blit\b/.test(saved) && saved.includes('xmlns="http://www.w3.org/2000/svg"'));
  const parsed = await sheet.evaluate((text) => {
    const svg = new DOMParser().parseFromString(text, 'image/svg+xml');
    return { wrong: svg.querySelector('parsererror')?.textContent ?? null, parts: svg.querySelectorAll('g.part').length, text: svg.documentElement.textContent };
  }, saved);
  assert.deepEqual([parsed.wrong, parsed.parts], [null, count]);
  assert.match(parsed.text, /20\s?kΩ/);

  // Forced colours and dark: lines stay visible.
  for (const media of [{ forcedColors: 'active' }, { forcedColors: 'none', colorScheme: 'dark' }]) {
    await sheet.emulateMedia(media);
    const [line, ground] = await circuit.locator('svg.circuit').evaluate((svg) => [getComputedStyle(svg).color, getComputedStyle(document.body).backgroundColor]);
    assert.notEqual(line, ground, JSON.stringify(media));
    await isSound(sheet, JSON.stringify(media));
  }
  await sheet.emulateMedia({ media: 'print', colorScheme: 'light' });
  assert.equal(await circuit.locator('button:visible').count(), 0);
  assert.deepEqual(sheet.wrong, []);
  await context.close();
}

(async () => {
  const browser = await open();
  try {
    for (const viewport of [{ width: 1280, height: 900 }, { width: 360, height: 740 }]) await follow(browser, { viewport });
  } finally {
    await browser.close();
  }
})();
