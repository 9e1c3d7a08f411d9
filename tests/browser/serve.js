// The preview in a browser: a save reloads the page, what its reader did stays, errors are shown over it.
//
//   NODE_PATH=$BENCHLEAF_NODE_MODULES node tests/browser/serve.js URL FOLDER
//
// URL is that of a preview of FOLDER, which holds pulse.md, with a given `R_t`, and other.md.
'use strict';

const assert = require('node:assert/strict');
const fs = require('node:fs');
const path = require('node:path');
const { open } = require('./open.js');

const [url, folder] = process.argv.slice(2);
const file = path.join(folder, 'pulse.md');
const author = fs.readFileSync(file, 'utf8');
const save = (text, to = file) => {
  fs.writeFileSync(to, text);
  return performance.timeOrigin + performance.now();
};

(async () => {
  const browser = await open();
  try {
    const context = await browser.newContext({ viewport: { width: 1200, height: 700 } });
    const wrong = [];
    const newSheet = async (address) => {
      const sheet = await context.newPage();
      sheet.on('pageerror', (error) => wrong.push(error.stack));
      sheet.on('console', (message) => wrong.push(message.text()));
      sheet.on('request', (request) => /^(blob|data):/.test(request.url()) || request.url().startsWith(url) || wrong.push(request.url()));
      await sheet.goto(address);
      await sheet.locator('html[data-live]').waitFor({ state: 'attached' });
      return sheet;
    };
    const quiet = (when) => assert.deepEqual(wrong, [], when);
    const panel = (sheet) => sheet.locator('.preview');

    const list = await context.newPage();
    await list.goto(url);
    await list.getByRole('link', { name: /pulse/ }).click();
    const sheet = await newSheet(`${url}pulse.html`);
    quiet('at first');

    // A reader's value and place stay over a reload.
    const field = () => sheet.locator('tr[data-given="R_t"] input[type=text]');
    await field().fill('820 kΩ');
    await sheet.locator('tr[data-given="R_t"] .was').waitFor();
    const marked = sheet.locator('#mark, h2:has-text("The place")').first();
    await marked.evaluate((element) => scrollTo({ top: element.getBoundingClientRect().top + scrollY - 200, behavior: 'instant' }));
    await sheet.waitForTimeout(50);
    const top = () => marked.evaluate((element) => Math.round(element.getBoundingClientRect().top));
    assert.equal(await top(), 200);
    save(author.replace('First words.', 'Other words.\n\n'.repeat(20)));
    await sheet.getByText('Other words.').first().waitFor({ state: 'attached' });
    await sheet.locator('html[data-live]').waitFor({ state: 'attached' });
    await sheet.locator('tr[data-given="R_t"] .was').waitFor({ state: 'attached' });
    await sheet.waitForTimeout(100);
    assert.equal(await field().inputValue(), '820 kΩ', 'the value is kept');
    assert.ok(Math.abs((await top()) - 200) <= 2, `the place is kept: ${await top()}`);
    quiet('saved');

    // An error stands over the page, which stays; and goes with the error.
    save(author.replace('22 µF', '22 V'));
    await panel(sheet).waitFor();
    const said = await panel(sheet).innerText();
    assert.match(said, /1 error in the worksheet/);
    assert.match(said, /\d other places depend on what is wrong here\./);
    assert.match(said, /Line \d+, column \d+ E-unit-mismatch/);
    assert.equal(await sheet.locator('main').getByText('Other words.').count(), 20, 'the old page is underneath');
    assert.ok((await panel(sheet).locator('mark').innerText()).length > 0);
    assert.equal(await field().inputValue(), '820 kΩ');
    await sheet.keyboard.press('Escape');
    await panel(sheet).waitFor({ state: 'detached' });
    const current = await newSheet(`${url}pulse.html?current`);
    assert.equal(await panel(current).count(), 0);
    assert.match(await current.locator('main').innerText(), /E-unit-mismatch|cannot/);
    await current.close();
    save(author.replace('First words.', 'Mended.'));
    await sheet.getByText('Mended.').first().waitFor({ state: 'attached' });
    assert.equal(await panel(sheet).count(), 0);
    quiet('mended');

    // A page that is saved from the preview is what its author would have rendered.
    const policy = await sheet.locator('meta[http-equiv]').getAttribute('content');
    assert.ok(!policy.includes("worker-src blob: 'self'") && policy.includes('worker-src blob:'), policy);
    const only = await sheet.evaluate(() => [...document.querySelectorAll('[data-live=preview]')].length);
    assert.equal(only, 3, 'what the preview adds is marked');

    // Many tabs, and the time from a save to what a tab hears of it.
    const tabs = [sheet];
    while (tabs.length < 12) tabs.push(await newSheet(`${url}pulse.html`));
    const times = [];
    for (let i = 0; i < 15; i += 1) {
      // A page that is just being set anew hears nothing, and is not timed.
      const heard = tabs[1]
        .evaluate(() => new Promise((resolve) => {
          addEventListener('benchleaf-preview', () => resolve(performance.timeOrigin + performance.now()), { once: true });
          setTimeout(() => resolve(null), 5000);
        }))
        .catch(() => null);
      await tabs[1].waitForTimeout(60);
      const saved = save(author.replace('First words.', `Save ${i}.`));
      const at = await heard;
      if (at !== null) times.push(at - saved);
      await tabs[1].getByText(`Save ${i}.`).first().waitFor({ state: 'attached' });
      await tabs[1].locator('html[data-live]').waitFor({ state: 'attached' });
    }
    times.sort((one, other) => one - other);
    assert.ok(times.length > 3, String(times));
    console.log(`saved to heard, ms: median ${times[times.length >> 1].toFixed(1)}, greatest ${times.at(-1).toFixed(1)}`);
    for (let i = 0; i < 60; i += 1) {
      save(author.replace('First words.', `Rapid ${i}.`));
      await new Promise((resolve) => setTimeout(resolve, i % 7));
    }
    for (const tab of tabs) await tab.getByText('Rapid 59.').first().waitFor({ state: 'attached' });
    quiet('many tabs');
  } finally {
    await browser.close();
  }
})().catch((error) => {
  console.error(error);
  process.exitCode = 1;
});
