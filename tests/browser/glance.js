// A page whose evaluation takes long: nominal values come first, ranges and verdicts follow, and in the end the page is what it is
// when it is opened with the same values.
//
//   NODE_PATH=$BENCHLEAF_NODE_MODULES node tests/browser/glance.js FOLDER
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

/** All that the page says in its worksheet, without what a reader's change marks. */
const said = (sheet) =>
  sheet.evaluate(() => {
    const copy = document.querySelector('main').cloneNode(true);
    for (const own of copy.querySelectorAll('[data-live], .as-set')) own.remove();
    for (const element of copy.querySelectorAll('*')) for (const { name } of [...element.attributes]) if (name.startsWith('data-live')) element.removeAttribute(name);
    return copy.innerHTML.replace(/\s+/g, ' ');
  });

(async () => {
  const browser = await open();
  try {
    const context = await browser.newContext();
    const sheet = await visit(context, page);
    // Notes each order of things: the nominal number in the margin, and whether ranges are still to follow.
    await sheet.evaluate(() => {
      globalThis.seen = [];
      const note = () => {
        const row = document.getElementById('value-t_end');
        const state = [row.querySelector('.came-to').textContent.trim(), row.hasAttribute('data-live-following')];
        if (JSON.stringify(globalThis.seen.at(-1)) !== JSON.stringify(state)) globalThis.seen.push(state);
      };
      note();
      new MutationObserver(note).observe(document.body, { subtree: true, childList: true, attributes: true, characterData: true });
    });
    const seen = () => sheet.evaluate(() => globalThis.seen);
    const field = sheet.locator('tr[data-given="R"] input[type=text]');
    const follows = () => sheet.locator('[data-live-following]').count();
    const settled = async () => {
      for (let tries = 0; tries < 600 && (await follows()); tries += 1) await sheet.waitForTimeout(100);
      assert.equal(await follows(), 0);
    };

    const [[before]] = await seen();
    await field.fill('20 kΩ');
    await sheet.locator('#value-t_end[data-live-following]').waitFor();
    // A page that is saved meanwhile waits for the ranges.
    const [download] = await Promise.all([sheet.waitForEvent('download', { timeout: 60000 }), sheet.locator('button:has-text("Save page")').click()]);
    assert.equal(await follows(), 0);
    const saved = fs.readFileSync(await download.path(), 'utf8');
    assert.ok(!saved.replace(/<script[\s\S]*?<\/script>/g, '').replace(/<style[\s\S]*?<\/style>/g, '').includes('data-live'));
    const [first, glanced, whole, ...more] = await seen();
    assert.deepEqual([first[0], first[1], glanced[1], whole[1], more], [before, false, true, false, []], JSON.stringify(await seen()));
    assert.notEqual(glanced[0], before);
    assert.equal(glanced[0], whole[0], 'the nominal value that came first is that of the whole answer');

    // Many changes, faster than they can be worked out; there and back again.
    for (const text of ['21 kΩ', '22 kΩ', '23 kΩ', '20 kΩ', '24 kΩ', '20 V', '25 kΩ', '30 kΩ']) {
      await field.fill(text);
      await sheet.waitForTimeout(60);
    }
    await sheet.locator('#value-t_end .came-to:has-text("0.330")').waitFor();
    await settled();
    const fresh = await visit(context, `${page}#R=${encodeURIComponent('30 kΩ')}`);
    await fresh.locator('#value-t_end .came-to:has-text("0.330")').waitFor();
    for (let tries = 0; tries < 600 && (await fresh.locator('[data-live-following]').count()); tries += 1) await fresh.waitForTimeout(100);
    assert.equal(await said(sheet), await said(fresh), 'the page is what it is when it is opened with these values');
    await isSound(sheet, 'settled');
    assert.deepEqual([...sheet.wrong, ...fresh.wrong], []);
    await context.close();
  } finally {
    await browser.close();
  }
})();
