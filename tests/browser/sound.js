// What holds for every page at any time: it fits its window, and `axe` finds nothing.
'use strict';

const assert = require('node:assert/strict');
const { source: axe } = require('axe-core');

// Chromium and Firefox let the keyboard into whatever scrolls; a tab stop at every formula would be in a reader's way.
const rules = { 'scrollable-region-focusable': { enabled: false } };

async function isSound(sheet, when) {
  const wide = await sheet.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
  assert.ok(wide <= 0, `${when}: ${wide} px wider than the window`);
  await sheet.evaluate(axe);
  const { violations } = await sheet.evaluate((asked) => globalThis.axe.run(asked), { resultTypes: ['violations'], rules });
  assert.deepEqual(violations.map(({ id, nodes }) => `${when}: ${id}: ${nodes[0].html}`), []);
}

module.exports = { isSound };
