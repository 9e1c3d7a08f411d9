// A reader of a page with a Rust block, which no browser runs:
//
//   NODE_PATH=$BENCHLEAF_NODE_MODULES node tests/browser/rust.js FOLDER
//
// FOLDER holds page.html, whose block reads R and C; what follows from it hangs on X besides, and Y on nothing of that.
'use strict';

const assert = require('node:assert/strict');
const path = require('node:path');
const { pathToFileURL } = require('node:url');
const { open } = require('./open.js');
const { isSound } = require('./sound.js');
const { visit } = require('./visit.js');

const [folder] = process.argv.slice(2);

const field = (sheet, name) => sheet.locator(`tr[data-given="${name}"] input[type=text]`);
const shows = (sheet, text) => sheet.locator('main > p').filter({ hasText: text }).first().waitFor();
const block = '.rust-calc';
const follower = '#value-t_2';

async function isQuiet(sheet, when) {
  await isSound(sheet, when);
  assert.deepEqual(sheet.wrong, [], when);
}

/** Which of these are greyed, each of them with a reason in words. */
async function stale(sheet) {
  const found = [];
  for (const place of [block, follower, '#keep-2', 'figure.plot', 'main > p > data[data-name="t"]', '#value-y']) {
    const element = sheet.locator(place).first();
    if ((await element.getAttribute('data-stale')) === null) continue;
    assert.match(await element.locator(':scope > .stale-why').innerText(), /author/, place);
    const soft = await element.evaluate((e) => [e, ...e.querySelectorAll(':not(.stale-why, svg *)')].every((one) => getComputedStyle(one).color === getComputedStyle(e).color));
    assert.ok(soft, `${place} is greyed as a whole`);
    found.push(place);
  }
  return found;
}

async function read(browser, viewport, scheme) {
  const context = await browser.newContext({ viewport, colorScheme: scheme, acceptDownloads: true });
  const sheet = await visit(context, pathToFileURL(path.join(folder, 'page.html')).href);
  const before = { text: await sheet.locator('main').innerText(), head: await sheet.locator('.masthead').innerText() };
  // A proof does not reach through a Rust block: what follows from it is at risk, and says so.
  assert.match(before.head, /2 requirements are at risk/);
  assert.match(await sheet.locator('.now').innerText(), /2 at risk.*1 holds/s);
  assert.deepEqual(await stale(sheet), []);
  await isQuiet(sheet, 'at first');

  // Something that the block has nothing to do with: the block and what follows from it stand.
  await field(sheet, 'Y').fill('3');
  await shows(sheet, /y is 6/);
  assert.deepEqual(await stale(sheet), []);
  assert.match(await sheet.locator('.now').innerText(), /2 at risk.*1 holds/s);
  assert.match(await sheet.locator('.masthead').innerText(), /stay as their author had them/);

  // What only a follower reads.
  await field(sheet, 'X').fill('5');
  await sheet.locator(`${follower}[data-stale]`).waitFor();
  assert.ok(!(await stale(sheet)).includes(block), 'the block does not read X');
  await field(sheet, 'X').press('Escape');
  await sheet.locator(`${follower}:not([data-stale])`).waitFor();

  // What the block reads: it and all that follows, and the verdict with them.
  const result = await sheet.locator('#value-t .came-to').innerText();
  await field(sheet, 'R').fill('200 kΩ');
  await sheet.locator(`${block}[data-stale]`).waitFor();
  assert.deepEqual(await stale(sheet), [block, follower, '#keep-2', 'figure.plot', 'main > p > data[data-name="t"]']);
  assert.equal(await sheet.locator('#value-t .came-to').innerText(), result, 'the author’s value stays');
  assert.match(await sheet.locator(`${block} > .stale-why`).innerText(), /R was changed, and a browser cannot run Rust/);
  assert.match(await sheet.locator('.masthead').innerText(), /2 are not worked out here/);
  assert.match(await sheet.locator('.now').innerText(), /1 hold.*2 not worked out here/s);
  assert.match(await sheet.locator('.note-row').innerText(), /Whether it applies is not known here: R was changed/);
  await isQuiet(sheet, 'changed');

  // A page saved like this does not pretend to be worked out.
  const [download] = await Promise.all([sheet.waitForEvent('download'), sheet.getByRole('button', { name: 'Save page' }).click()]);
  const mine = path.join(folder, 'mine.html');
  await download.saveAs(mine);
  const saved = await visit(context, pathToFileURL(mine).href);
  assert.ok((await stale(saved)).includes(block));
  assert.match(await saved.locator(`${block} > .stale-why`).innerText(), /R was changed/);
  await isQuiet(saved, 'saved');
  await saved.close();

  // A reset restores.
  await sheet.getByRole('button', { name: 'Put all back' }).press('Enter');
  await sheet.locator(`${block}:not([data-stale])`).waitFor();
  assert.deepEqual(await stale(sheet), []);
  assert.equal(await sheet.locator('main').innerText(), before.text);
  assert.equal(await sheet.locator('.masthead').innerText(), before.head);
  await isQuiet(sheet, 'put back');
  await context.close();
}

(async () => {
  const browser = await open();
  try {
    await read(browser, { width: 1280, height: 900 }, 'light');
    await read(browser, { width: 390, height: 844 }, 'dark');
  } finally {
    await browser.close();
  }
})().catch((error) => {
  console.error(error);
  process.exitCode = 1;
});
