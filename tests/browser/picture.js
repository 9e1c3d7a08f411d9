// Takes the picture of a page that the README shows:
//
//   NODE_PATH=$BENCHLEAF_NODE_MODULES node tests/browser/picture.js PAGE.html "words on the page" OUT.png
//
// The picture begins where those words first stand, as wide as a page with its margin and as high as a screen.
'use strict';

const { pathToFileURL } = require('node:url');
const { open } = require('./open.js');

const SIZE = { width: 1180, height: 1030 };

(async () => {
  const [page, words, out] = process.argv.slice(2);
  const browser = await open();
  const sheet = await browser.newPage({ viewport: SIZE, colorScheme: 'light' });
  await sheet.goto(pathToFileURL(page).href);
  const top = await sheet.locator('main').getByText(words).first().evaluate((it) => it.getBoundingClientRect().top);
  await sheet.evaluate((y) => window.scrollTo(0, y), top - 24);
  await sheet.screenshot({ path: out });
  await browser.close();
})();
