// Opens a page and notes all that goes wrong in it: messages, errors, requests.
'use strict';

/** A tab with a page in it whose engine runs. */
async function visit(context, url) {
  const sheet = await context.newPage();
  sheet.wrong = [];
  sheet.on('console', (message) => sheet.wrong.push(message.text()));
  sheet.on('pageerror', (error) => sheet.wrong.push(error.stack));
  sheet.on('request', (request) => /^(file|blob):/.test(request.url()) || sheet.wrong.push(request.url()));
  await sheet.goto(url);
  await sheet.locator('html[data-live]').waitFor({ state: 'attached' });
  return sheet;
}

module.exports = { visit };
