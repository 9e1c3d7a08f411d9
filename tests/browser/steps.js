// Follows the steps of a build in a page: ticks, readings, another visit, another worksheet, paper, a saved copy.
//
//   NODE_PATH=$BENCHLEAF_NODE_MODULES node tests/browser/steps.js FOLDER
//
// FOLDER holds page.html, other.html (another worksheet with a step of the same name) and still.html (without an engine).
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

const box = (sheet, step) => sheet.locator(`[data-step="${step}"] [data-tick]`);
const reading = (sheet) => sheet.locator('[data-reading="V_m"] input');
const judged = (sheet, word) => sheet.locator(`.judged[data-word="${word}"]`);
const dots = (sheet) => sheet.locator('.test-point .margin svg:visible .reading').count();

async function build(browser, viewport) {
  const context = await browser.newContext({ viewport });
  const sheet = await visit(context, url('page.html'));
  await isSound(sheet, 'at first');
  assert.equal(await sheet.locator('.building').innerText().then((text) => /0 of 2 done/.test(text)), true);
  assert.equal(await sheet.locator('.blank:visible').count(), 0, 'a field stands in the place of the blank');

  // Ticks by mouse and by keyboard.
  await box(sheet, 'Solder').check();
  await sheet.locator('text=1 of 2 done').waitFor();
  await box(sheet, 'Switch on').focus();
  await sheet.keyboard.press('Space');
  await sheet.locator('text=2 of 2 done').waitFor();
  await box(sheet, 'Switch on').uncheck();

  // Readings: without a unit, sound, rare, and one that no sound build shows.
  const says = async (typed, word, text) => {
    await reading(sheet).fill(typed);
    await reading(sheet).press('Enter');
    await judged(sheet, word).waitFor();
    assert.match(await judged(sheet, word).innerText(), text);
  };
  await says('6', 'trouble', /The unit is missing: V_m is a voltage \(V\)\. Write V behind the number/);
  assert.equal(await dots(sheet), 0);
  await says('6.05 V', 'usual', /A sound build shows this: 95\s% of builds lie within 5\.71 to 6\.29\sV/);
  assert.equal(await dots(sheet), 1, 'the reading stands on the range bar');
  await says('6320 mV', 'rare', /A sound build can show this, but few do/);
  await says('3 V', 'unsound', /No sound build shows this/);
  assert.equal(await judged(sheet, 'unsound').locator('tbody tr').count(), 3, 'three suspects');
  await isSound(sheet, 'judged');

  // The note that no build met stays hidden where power is applied, until a reader's change meets it.
  const note = sheet.locator('[data-step="Switch on"] .step-note');
  assert.equal(await note.isVisible(), false);
  await sheet.locator('tr[data-given="V_s"] input[type=text]').fill('4.5 V');
  await judged(sheet, 'usual').waitFor();
  await sheet.locator('tr[data-given="V_s"] input[type=text]').fill('18 V');
  await note.waitFor();
  assert.match(await note.innerText(), /WARNING\s+Up to 18\.9.V/);
  await judged(sheet, 'unsound').waitFor();
  assert.equal(await box(sheet, 'Solder').isChecked(), true, 'a change leaves ticks as they are');
  await isSound(sheet, 'changed');

  // What the parts cost, for a number of builds to choose.
  const costs = sheet.locator('[data-live="costs"]');
  await costs.locator('text=12.50').waitFor();
  await costs.locator('input').fill('50');
  await costs.locator('text=15.00').waitFor();
  await costs.locator('input').fill('0');
  await costs.locator('text=A whole number from 1 to').waitFor();
  await costs.locator('input').fill('7');
  await costs.locator('text=3.50').waitFor();

  // A copy that is saved has nothing of the reader's bench in it.
  const [download] = await Promise.all([sheet.waitForEvent('download'), sheet.locator('button:has-text("Save page")').click()]);
  const saved = fs.readFileSync(await download.path(), 'utf8');
  assert.equal(/ data-live/.test(saved.replace(/<script[\s\S]*?<\/script>/g, '').replace(/<style[\s\S]*?<\/style>/g, '')), false);
  assert.equal(saved.includes('No sound build shows this:'), false);

  // Another visit finds it as it was, and another worksheet of the same site has its own.
  assert.deepEqual(sheet.wrong, []);
  await sheet.close();
  const again = await visit(context, url('page.html'));
  await judged(again, 'unsound').waitFor();
  assert.equal(await reading(again).inputValue(), '3 V');
  assert.deepEqual([await box(again, 'Solder').isChecked(), await box(again, 'Switch on').isChecked()], [true, false]);
  const other = await visit(context, url('other.html'));
  assert.equal(await box(other, 'Solder').isChecked(), false, 'another worksheet keeps its own ticks');
  await box(other, 'Solder').check();
  await other.locator('button:has-text("Clear ticks and readings")').click();
  assert.equal(await box(other, 'Solder').isChecked(), false);
  assert.deepEqual(other.wrong, []);
  await again.reload();
  await judged(again, 'unsound').waitFor();
  assert.equal(await box(again, 'Solder').isChecked(), true, 'what another worksheet forgets stays here');

  // Paper has boxes, and blanks for what was not read.
  await again.emulateMedia({ media: 'print' });
  assert.equal(await box(again, 'Solder').isVisible(), true);
  const printed = (step) => box(again, step).evaluate((input) => getComputedStyle(input, '::before').content);
  assert.match(await printed('Solder'), /✓/);
  assert.equal(await printed('Switch on'), 'none');
  assert.equal(await again.locator('button:visible').count(), 0);
  assert.equal(await reading(again).isVisible(), true);
  await again.emulateMedia({ media: 'screen' });
  await again.locator('button:has-text("Clear ticks and readings")').click();
  assert.deepEqual([await reading(again).inputValue(), await judged(again, 'unsound').count()], ['', 0]);
  await again.reload();
  await again.locator('text=0 of 2 done').waitFor();
  assert.equal(await reading(again).inputValue(), '');
  assert.deepEqual(again.wrong, []);

  const still = await context.newPage();
  await still.goto(url('still.html'));
  assert.equal(await still.locator('.blank:visible').count(), 1);
  await isSound(still, 'still');
  await context.close();
}

(async () => {
  const browser = await open();
  try {
    for (const viewport of [{ width: 1280, height: 900 }, { width: 360, height: 740 }]) await build(browser, viewport);
  } finally {
    await browser.close();
  }
})();
