// Opens a page and notes all that goes wrong in it: messages, errors, requests.
'use strict';

/** What a page says on its console, throws, and fetches from elsewhere, from now on. */
function watched(sheet) {
  const wrong = [];
  sheet.on('console', (message) => wrong.push(message.text()));
  sheet.on('pageerror', (error) => wrong.push(error.stack));
  sheet.on('request', (request) => /^(file|blob):/.test(request.url()) || wrong.push(request.url()));
  return wrong;
}

/** A tab with a page in it whose engine runs. */
async function visit(context, url) {
  const sheet = await context.newPage();
  sheet.wrong = watched(sheet);
  await sheet.goto(url);
  await sheet.locator('html[data-live]').waitFor({ state: 'attached' });
  return sheet;
}

module.exports = { visit, watched };
