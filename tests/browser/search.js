// Searches a site as a reader does, from a folder of files: by typing, by keyboard alone, by a link, without the index and
// without scripts.
//
//   NODE_PATH=$BENCHLEAF_NODE_MODULES node tests/browser/search.js FOLDER
'use strict';

const assert = require('node:assert/strict');
const fs = require('node:fs');
const path = require('node:path');
const { pathToFileURL } = require('node:url');
const { source: axe } = require('axe-core');
const { open } = require('./open.js');
const { watched } = require('./visit.js');

const RULES = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];

(async () => {
  const [folder] = process.argv.slice(2);
  const url = pathToFileURL(path.join(folder, 'search.html')).href;
  const browser = await open();

  for (const [width, colorScheme] of [[1280, 'light'], [390, 'dark']]) {
    const page = await browser.newPage({ viewport: { width, height: 900 }, colorScheme });
    const wrong = watched(page);
    await page.goto(url);
    await page.waitForFunction(() => self.benchleafIndex);
    const found = page.locator('#_found');
    const focused = () => page.evaluate(() => document.activeElement.id || document.activeElement.getAttribute('href'));
    await page.getByLabel('Words to look for').click();
    await page.keyboard.type('capacitor');
    const links = await page.locator('#_results a').evaluateAll((all) => all.map((link) => [link.getAttribute('href'), link.textContent]));
    assert.match(await found.textContent(), new RegExp(`^${links.length} places`));
    assert.ok(links.length > 5 && links.filter(([, text]) => /capacitor/i.test(text)).length > 5, `${links}`);
    assert.equal(await page.locator('#_all').isVisible(), false);
    // Every word counts, accents and case do not.
    await page.keyboard.type(' TIMÍNG');
    const fewer = await page.locator('#_results a').count();
    assert.ok(fewer > 0 && fewer < links.length, `${fewer} of ${links.length}`);
    await check(page);

    await page.keyboard.press('ArrowDown');
    const first = await focused();
    await page.keyboard.press('ArrowDown');
    assert.notEqual(await focused(), first);
    await page.keyboard.press('ArrowUp');
    assert.equal(await focused(), first);
    await page.keyboard.press('ArrowUp');
    assert.equal(await focused(), '_query');
    await page.keyboard.press('Escape');
    assert.equal(await page.locator('#_query').inputValue(), '');
    assert.equal(await page.locator('#_all').isVisible(), true);
    await page.keyboard.type('zyzzyva');
    assert.equal(await found.textContent(), 'Nothing was found.');

    await page.goto(`${url}#q=one_shot`);
    await page.reload();
    await page.waitForFunction(() => document.querySelector('#_results a'));
    await page.locator('#_query').press('ArrowDown');
    await page.keyboard.press('Enter');
    await page.waitForURL(/#value-/);
    assert.ok(await page.evaluate(() => document.getElementById(decodeURIComponent(location.hash.slice(1)))), page.url());
    assert.deepEqual(wrong, []);
    await page.close();
  }

  const lacking = await browser.newPage();
  const away = path.join(folder, 'search-index.js');
  fs.renameSync(away, `${away}.away`);
  await lacking.goto(url);
  await lacking.waitForFunction(() => document.querySelector('#_found').textContent.includes('search-index.js'));
  fs.renameSync(`${away}.away`, away);
  await lacking.close();

  const context = await browser.newContext({ javaScriptEnabled: false });
  const still = await context.newPage();
  await still.goto(url);
  assert.equal(await still.locator('#_search').isVisible(), false);
  assert.ok(await still.getByText('The search needs scripts').isVisible());
  const worksheets = fs.readdirSync(folder).filter((name) => /^[a-z-]+\.html$/.test(name));
  const own = ['index.html', 'search.html', 'exercises.html', 'parts.html', 'safety-notes.html'];
  assert.equal(await still.locator('#_all > ul > li').count(), worksheets.filter((name) => !own.includes(name)).length);
  await context.close();

  await browser.close();
})().catch((error) => {
  console.log(error.stack);
  process.exit(1);
});

async function check(page) {
  await page.evaluate(axe);
  const { violations } = await page.evaluate((values) => globalThis.axe.run({ runOnly: { type: 'tag', values } }), RULES);
  assert.deepEqual(violations.map(({ id, nodes }) => `${id}: ${nodes[0].html}`), []);
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
  assert.ok(wide <= 0, `${wide} px wider than the window`);
}
