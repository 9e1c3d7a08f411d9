// A reader's afternoon with a live page, from a file, without a network:
//
//   NODE_PATH=$BENCHLEAF_NODE_MODULES node tests/browser/live.js FOLDER
//
// FOLDER holds page.html, with its engine inside, and site/, whose pages share one.
'use strict';

const assert = require('node:assert/strict');
const fs = require('node:fs');
const path = require('node:path');
const { pathToFileURL } = require('node:url');
const { open } = require('./open.js');
const { isSound } = require('./sound.js');
const { visit } = require('./visit.js');

const [folder] = process.argv.slice(2);
const url = (name) => pathToFileURL(path.join(folder, name)).href;

/** Sound, and nothing was said on the console or fetched. */
async function isQuiet(sheet, when) {
  await isSound(sheet, when);
  assert.deepEqual(sheet.wrong, [], when);
}

const field = (sheet, name) => sheet.locator(`tr[data-given="${name}"] input[type=text]`);
const refused = (sheet, name) => sheet.locator(`#refused-${name}`);
const shows = (sheet, text) => sheet.locator('main > p').filter({ hasText: text }).first().waitFor();

/** Prose, table, formula, verdict, note, plot, head and bar follow a given; and go back with it. */
async function change(context, viewport) {
  const sheet = await visit(context, url('page.html'));
  await sheet.setViewportSize(viewport);
  const drawing = () => sheet.locator('figure.plot').first().innerHTML();
  const before = { drawing: await drawing(), text: await sheet.locator('main').innerText() };
  await isQuiet(sheet, 'at first');
  assert.equal(await sheet.locator('[data-signal="warning"]').getAttribute('data-shown'), 'false');

  // The keyboard alone: to the field, another value, and it follows while it is typed.
  await field(sheet, 'R_t').focus();
  await sheet.keyboard.press('ControlOrMeta+A');
  await sheet.keyboard.type('2M2');
  await shows(sheet, 'It is on for 53.2 s');
  assert.match(await sheet.title(), /53\.2/);
  await sheet.locator('.now-bar:has-text("1 broken")').waitFor();
  assert.match(await sheet.locator('.masthead .standing').innerText(), /is broken/);
  assert.equal(await sheet.locator('[data-signal="warning"]').getAttribute('data-shown'), 'true');
  assert.match(await sheet.locator('[data-signal="warning"]').innerText(), /For 53\.2\ss it floods/);
  assert.notEqual(await drawing(), before.drawing);
  assert.ok(await sheet.locator('math:has-text("2.2")').count() > 0, 'formulas have the new number');
  assert.equal(await field(sheet, 'R_t').evaluate((input) => input === document.activeElement), true, 'the field keeps the focus');
  assert.match(await sheet.locator('tr[data-given="R_t"] .was').innerText(), /the author has 910.kΩ.+5.%/);
  await isQuiet(sheet, 'changed');

  // What moved is marked with what it was, and the head counts the verdicts that changed.
  const moved = sheet.locator('.margin > .moved');
  const head = sheet.locator('.verdicts-changed');
  assert.match(await moved.first().innerText(), /^was 22\.0\ss$/);
  assert.match(await head.innerText(), /^1 verdict changed: .+: (holds|at risk) → broken$/);
  assert.equal(await head.getAttribute('role'), 'status');
  assert.equal(await moved.first().getAttribute('role'), null);
  assert.equal(await sheet.locator('.row.keep .moved').count(), 1);

  // What cannot be read is reported at once, and the last sound value stands.
  await field(sheet, 'R_t').fill('22 µF');
  await refused(sheet, 'R_t').waitFor();
  assert.match(await refused(sheet, 'R_t').innerText(), /that is a capacitance \(F\); R_t is a resistance/);
  assert.equal(await field(sheet, 'R_t').getAttribute('aria-invalid'), 'true');
  await shows(sheet, 'It is on for 53.2 s');
  await isQuiet(sheet, 'refused');
  await field(sheet, 'R_t').fill('470 kΩ ± 1 %');
  await refused(sheet, 'R_t').waitFor({ state: 'detached' });
  await shows(sheet, 'It is on for 11.4 s');

  // The next given: the marks speak of this one alone.
  await field(sheet, 'C_t').fill('10u');
  await shows(sheet, 'It is on for 5.16 s');
  assert.match(await moved.first().innerText(), /^was 11\.4\ss$/);

  // A link to this version.
  const link = sheet.url();
  assert.ok(link.includes('R_t=') && link.includes('C_t=10u'), link);
  const other = await visit(context, link);
  await shows(other, 'It is on for 5.16 s');
  assert.equal(await field(other, 'R_t').inputValue(), '470 kΩ ± 1 %');
  await isQuiet(other, 'from a link');

  // The changed worksheet and its page, saved.
  const saved = async (button) => {
    const [download] = await Promise.all([other.waitForEvent('download'), other.getByRole('button', { name: button }).click()]);
    const name = path.join(folder, download.suggestedFilename().replace('page', 'mine'));
    await download.saveAs(name);
    return name;
  };
  assert.match(fs.readFileSync(await saved('Save worksheet'), 'utf8'), /R_t = 470 kΩ ± 1 % {2}"timing resistor"\nC_t = 10u -20 % \+50 %/);
  const mine = await visit(context, pathToFileURL(await saved('Save page')).href);
  await shows(mine, 'It is on for 5.16 s');
  assert.equal(await field(mine, 'C_t').inputValue(), '10u');
  assert.equal(await mine.locator('.now-bar').count(), 1);
  await isQuiet(mine, 'saved');
  await mine.close();
  await other.close();

  // One back, by its button and by Escape; then all.
  await sheet.locator('tr[data-given="C_t"] .back-to').press('Enter');
  await shows(sheet, 'It is on for 11.4 s');
  await field(sheet, 'C_t').fill('1 F');
  await sheet.locator('tr[data-given="C_t"] .was').waitFor();
  await field(sheet, 'C_t').press('Escape');
  await shows(sheet, 'It is on for 11.4 s');
  await sheet.getByRole('button', { name: 'Put all back' }).press('Enter');
  await shows(sheet, 'It is on for 22.0 s');
  assert.ok(!sheet.url().includes('#'), sheet.url());
  assert.equal(await drawing(), before.drawing);
  // All is as its author has it: nothing is marked.
  assert.equal(await moved.count(), 0);
  await field(sheet, 'C_t').fill('1 F');
  await sheet.locator('tr[data-given="C_t"] .was').waitFor();
  await field(sheet, 'C_t').press('Escape');
  await sheet.locator('.margin > .moved').first().waitFor({ state: 'detached' });
  assert.equal(await sheet.locator('main').innerText(), before.text);

  // The slider.
  await sheet.locator('tr[data-given="R_t"] .handle').press('Enter');
  const slider = sheet.locator('input[type=range]');
  await slider.press('End');
  assert.equal(await field(sheet, 'R_t').inputValue(), '9100 kΩ');
  await sheet.locator('.now-bar:has-text("broken")').waitFor();
  await isQuiet(sheet, 'slid');

  // On paper there are values, not fields.
  await sheet.emulateMedia({ media: 'print' });
  assert.equal(await sheet.locator('input:visible').count(), 0);
  assert.equal(await sheet.locator('tr[data-given="R_t"] .value').innerText(), '9100\u202fkΩ');
  await sheet.close();
}

/** Two pages of a folder share one engine; the worksheet is there to be read. */
async function site(context) {
  const isWorksheet = (name) => name.endsWith('.html') && fs.readFileSync(path.join(folder, 'site', name), 'utf8').includes('id="_worksheet"');
  for (const page of fs.readdirSync(path.join(folder, 'site')).filter(isWorksheet)) {
    const sheet = await visit(context, url(`site/${page}`));
    await sheet.locator('#_written > summary').press('Enter');
    assert.match(await sheet.locator('#_written').innerText(), /```calc/);
    await isQuiet(sheet, page);
    await sheet.close();
  }
}

(async () => {
  const browser = await open();
  try {
    for (const viewport of [{ width: 1280, height: 900 }, { width: 360, height: 740 }]) {
      const context = await browser.newContext({ viewport, offline: true, acceptDownloads: true });
      await change(context, viewport);
      await site(context);
      await context.close();
    }
  } finally {
    await browser.close();
  }
})().catch((error) => {
  console.log(error.stack);
  process.exitCode = 1;
});
