// Opens every page of a folder in a browser, at several widths and in its several dresses, and says what is wrong:
//
//   NODE_PATH=$BENCHLEAF_NODE_MODULES node tests/browser/look.js FOLDER
'use strict';

const fs = require('node:fs');
const path = require('node:path');
const { pathToFileURL } = require('node:url');
const { source: axe } = require('axe-core');
const { open } = require('./open.js');

const DRESSES = [
  { name: 'desktop', width: 1280, height: 900, colorScheme: 'light', media: 'screen' },
  { name: 'desktop, dark', width: 1280, height: 900, colorScheme: 'dark', media: 'screen' },
  { name: 'phone', width: 360, height: 740, colorScheme: 'light', media: 'screen' },
  { name: 'print', width: 720, height: 1000, colorScheme: 'light', media: 'print' },
];
// Chromium and Firefox let the keyboard into whatever scrolls; a tab stop at every formula would be in a reader's way.
const LEFT_OUT = { 'scrollable-region-focusable': { enabled: false } };
const RULES = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];

async function look(browser, page, dress) {
  const { name, width, height, colorScheme, media } = dress;
  const wrong = [];
  const sheet = await browser.newPage({ viewport: { width, height }, colorScheme });
  const url = pathToFileURL(page).href;
  sheet.on('console', (message) => wrong.push(`console: ${message.text()}`));
  sheet.on('pageerror', (error) => wrong.push(`script: ${error.message}`));
  // Its site's engine, search index and small pictures lie beside it.
  const folder = pathToFileURL(path.dirname(page)).href + '/';
  sheet.on('request', (request) => request.url().startsWith(folder) || request.url().startsWith('blob:') || wrong.push(`fetches ${request.url()}`));
  await sheet.emulateMedia({ media });
  await sheet.goto(url);
  if (await sheet.locator('#_query').count()) await sheet.waitForFunction(() => self.benchleafIndex);
  else if (await sheet.locator('script:not([type])').count()) await sheet.locator('html[data-live]').waitFor({ state: 'attached' });
  const wide = await sheet.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
  if (wide > 0) wrong.push(`${wide} px wider than the window`);
  await sheet.evaluate(axe);
  const options = { runOnly: { type: 'tag', values: RULES }, rules: LEFT_OUT, resultTypes: ['violations'] };
  const { violations } = await sheet.evaluate((asked) => globalThis.axe.run(asked), options);
  for (const { id, help, nodes } of violations) {
    wrong.push(`${id}: ${help}: ${nodes.slice(0, 3).map((node) => node.html.slice(0, 160)).join(' | ')}`);
  }
  await sheet.close();
  return wrong.map((what) => `${path.basename(page)}, ${name}: ${what}`);
}

(async () => {
  const [folder] = process.argv.slice(2);
  const pages = fs.readdirSync(folder, { recursive: true }).filter((name) => name.endsWith('.html'));
  if (pages.length === 0) throw new Error(`${folder} holds no page`);
  const browser = await open();
  const wrong = [];
  for (const page of pages) {
    for (const dress of DRESSES) wrong.push(...(await look(browser, path.join(folder, page), dress)));
  }
  await browser.close();
  for (const line of wrong) console.log(line);
  process.exitCode = wrong.length ? 1 : 0;
})();
