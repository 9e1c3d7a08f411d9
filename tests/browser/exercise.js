// Goes through the exercises of a page as a learner does, keyboard alone:
//
//   NODE_PATH=$BENCHLEAF_NODE_MODULES node tests/browser/exercise.js FOLDER
//
// FOLDER holds page.html and scenario.json: answers with the word for each, and what a learner named Ada then sees.
'use strict';

const assert = require('node:assert/strict');
const fs = require('node:fs');
const path = require('node:path');
const { pathToFileURL } = require('node:url');
const { open } = require('./open.js');
const { isSound } = require('./sound.js');
const { watched } = require('./visit.js');

const [folder] = process.argv.slice(2);
const read = (name) => fs.readFileSync(path.join(folder, name), 'utf8');
const { answers, question, line } = JSON.parse(read('scenario.json'));

/** Loads the page and waits for its engine. */
async function start(sheet) {
  await sheet.goto(pathToFileURL(path.join(folder, 'page.html')).href);
  assert.equal(await sheet.locator('.hint > summary:visible').count(), 1, 'the first hint is there without a script');
  await sheet.locator('form:visible').first().waitFor();
}

async function learn(browser, viewport) {
  const context = await browser.newContext({ viewport });
  const sheet = await context.newPage();
  const wrong = watched(sheet);
  await start(sheet);
  await isSound(sheet, 'at first');

  const pulse = sheet.locator('[data-exercise="pulse"]');
  const [learner, answer, said] = [pulse.locator('[name=learner]'), pulse.locator('[name=answer]'), pulse.locator('[role=status]')];
  const word = (wanted) => pulse.locator(`[role=status][data-word="${wanted}"]`).waitFor();

  // Numbers of their own before anything else.
  await answer.focus();
  await sheet.keyboard.press('Enter');
  assert.match(await said.textContent(), /Type your name or number first/);
  assert.equal(await learner.evaluate((field) => field === document.activeElement), true);
  await sheet.keyboard.type('Ada');
  await sheet.keyboard.press('Tab');
  assert.equal(await answer.evaluate((field) => field === document.activeElement), true, 'Tab leads from name to answer');
  await sheet.locator(`[data-exercise="pulse"] [data-part=question]:has-text("${question}")`).waitFor();
  assert.equal(await sheet.locator('[data-exercise="current"] [name=learner]').inputValue(), 'Ada', 'a name is typed once');

  // Hints, each behind the former.
  const hints = pulse.locator('.hint > summary');
  assert.equal(await hints.nth(1).isVisible(), false);
  await hints.nth(0).focus();
  await sheet.keyboard.press('Enter');
  assert.equal(await hints.nth(1).isVisible(), true);

  // Feedback of every kind.
  for (const [typed, wanted] of answers) {
    await answer.fill(typed);
    await answer.press('Enter');
    await word(wanted);
    const solved = wanted === 'right';
    assert.equal(await pulse.locator('.worked math').count() > 0, solved, `${typed}: the solution`);
    if (solved) assert.match(await said.textContent(), /Right\. 2 of 2 points\./);
  }
  await pulse.locator('.hand-in > summary').press('Enter');
  assert.equal(await pulse.locator('[name=line]').inputValue(), line);
  await isSound(sheet, 'solved');

  // What was done is there after a reload, on this page alone.
  await start(sheet);
  await word('right');
  assert.equal(await learner.inputValue(), 'Ada');
  assert.ok(await pulse.locator('.worked math').count() > 0);

  // A line that a spreadsheet would run.
  await answer.fill('-5 s');
  await answer.press('Enter');
  await word('wrong');
  assert.equal(await pulse.locator('[name=line]').inputValue(), "Ada,pulse,'-5 s");

  // Giving up.
  const current = sheet.locator('[data-exercise="current"]');
  await current.locator('[data-do=solution]').press('Enter');
  await current.locator('.worked math').first().waitFor();
  assert.equal(await current.locator('[data-do=solution]').isVisible(), false);

  // Clearing, of all that is kept.
  await current.locator('[data-do=clear]').press('Enter');
  assert.equal(await sheet.evaluate(() => localStorage.length), 0);
  await pulse.locator('.worked').waitFor({ state: 'hidden' });
  assert.deepEqual([await learner.inputValue(), await answer.inputValue(), await said.textContent()], ['', '', '']);
  assert.deepEqual(wrong, []);
  await context.close();
}

(async () => {
  const browser = await open();
  try {
    await learn(browser, { width: 1280, height: 900 });
    await learn(browser, { width: 360, height: 740 });
  } finally {
    await browser.close();
  }
})().catch((error) => {
  console.log(error.stack);
  process.exitCode = 1;
});
