// Pages of an author, a link and a browser's memory that mean harm: nothing runs, nothing is fetched, nothing is mixed up.
//
//   NODE_PATH=$BENCHLEAF_NODE_MODULES node tests/browser/hostile.js FOLDER
//
// FOLDER holds page.html and other.html, of one worksheet, with an exercise `ex` and a given `R_t`, and payloads.txt.
'use strict';

const assert = require('node:assert/strict');
const fs = require('node:fs');
const path = require('node:path');
const { pathToFileURL } = require('node:url');
const { open } = require('./open.js');

const [folder] = process.argv.slice(2);
const url = (name) => pathToFileURL(path.join(folder, name)).href;
const payloads = fs.readFileSync(path.join(folder, 'payloads.txt'), 'utf8').split('\n').filter(Boolean);

(async () => {
  const browser = await open();
  try {
    const context = await browser.newContext();
    const wrong = [];
    const sheet = await context.newPage();
    const watch = (page) => {
      page.on('dialog', (dialog) => (wrong.push(`dialog ${dialog.message()}`), dialog.dismiss()));
      page.on('pageerror', (error) => wrong.push(error.stack));
      page.on('console', (message) => message.text().startsWith('Failed to load resource: net::ERR_FILE_NOT_FOUND') || wrong.push(message.text()));
      page.on('request', (request) => /^(file|blob|data):/.test(request.url()) || wrong.push(request.url()));
    };
    context.on('page', watch);
    watch(sheet);
    const visit = async (address) => {
      await sheet.goto('about:blank');
      await sheet.goto(address);
      await sheet.locator('html[data-live]').waitFor({ state: 'attached' });
    };
    const quiet = (when) => assert.deepEqual(wrong, [], when);
    const field = sheet.locator('tr[data-given="R_t"] input[type=text]');
    const form = sheet.locator('[data-exercise="ex"]');

    // What its author wrote, as it stands and once the engine has set it again.
    await visit(url('page.html'));
    quiet('at first');
    const written = await sheet.locator('main').innerText();
    await field.fill('820 kΩ');
    await sheet.locator('tr[data-given="R_t"] .was').waitFor();
    quiet('set again');
    for (const link of await sheet.locator('main a').all()) {
      const href = (await link.getAttribute('href')) ?? '';
      assert.ok(!/^\s*(javascript|vbscript|data):/i.test(href), href);
    }

    // A shared link with what is no value, and names that every object has.
    const author = await field.inputValue();
    for (const text of [...payloads, '1e308 kΩ ± 1e308 %', '\u0000', '%', '%ff', '(' .repeat(5000)]) {
      await sheet.goto(`${url('page.html')}#R_t=${encodeURIComponent(text)}&__proto__=${encodeURIComponent(text)}&constructor=1&${encodeURIComponent(text)}=1&toString=2`);
      await sheet.waitForFunction((wanted) => document.querySelector('tr[data-given="R_t"] input[type=text]').value === wanted, text.replace(/[\r\n]/g, ''));
    }
    await sheet.waitForTimeout(300);
    quiet('by links');
    await sheet.goto(`${url('page.html')}#R_t=%E0%A4%A&%=%&=&&&R_t`);
    quiet('by a broken link');
    assert.ok(author);

    // Typed by a learner.
    for (const text of payloads.slice(0, 30)) {
      await form.locator('[name=learner]').fill(text.slice(0, 80));
      await form.locator('[name=answer]').fill(text.slice(0, 200));
      await form.locator('button[type=submit]').click();
    }
    await form.locator('[role=status]:not(:empty)').waitFor();
    quiet('typed');

    // What the browser kept of this page and of another one: hostile, and not to be mixed up.
    await sheet.evaluate((texts) => {
      for (const key of Object.keys(localStorage)) texts.forEach((text) => localStorage.setItem(key, text));
      localStorage.setItem('benchleaf', texts[0]);
      localStorage.setItem(`benchleaf ${location.pathname}`, texts[0]);
      localStorage.setItem('another program', 'kept');
    }, payloads);
    const kept = () => sheet.evaluate(() => JSON.stringify(Object.entries(localStorage).sort()));
    await visit(url('page.html'));
    quiet('from what was kept');
    assert.equal(await sheet.locator('tr[data-given="R_t"] td').last().isVisible(), true);
    await visit(url('other.html'));
    quiet('the other page');
    assert.equal(await form.locator('[name=answer]').inputValue(), '', 'the other page has no answer of this one');
    await form.locator('[name=learner]').fill('Bo');
    await form.locator('[name=answer]').fill('22 s');
    await form.locator('button[type=submit]').click();
    await form.locator('[role=status]:not(:empty)').waitFor();
    const before = JSON.parse(await kept()).filter(([key]) => !key.includes('other.html'));
    await form.locator('button[data-do=clear]').click();
    const after = JSON.parse(await kept());
    assert.deepEqual(after.filter(([key]) => !key.includes('other.html')), before, 'only its own is cleared');
    assert.ok(after.some(([key]) => key === 'another program'));

    await visit(url('page.html'));
    await sheet.evaluate(() => localStorage.clear());
    await visit(url('page.html'));
    assert.equal(await sheet.locator('main').innerText(), written, 'all is as it was');
    assert.equal(await sheet.evaluate(() => globalThis.harmed), undefined);
    quiet('at last');
  } finally {
    await browser.close();
  }
})().catch((error) => {
  console.error(error);
  process.exitCode = 1;
});
