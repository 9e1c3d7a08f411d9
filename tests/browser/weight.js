// How long a reader on a line of 3 Mbit/s waits for a page of a site: until the first paragraph is painted, and until its
// values can be changed; of the first page that is opened, and of a second one, when the engine is there. The host sends
// what it sends packed, then as it is.
//
//   NODE_PATH=$BENCHLEAF_NODE_MODULES node tests/browser/weight.js SITE PAGE PAGE…
'use strict';

const fs = require('node:fs');
const http = require('node:http');
const path = require('node:path');
const zlib = require('node:zlib');
const { open } = require('./open.js');

const LINE = { offline: false, latency: 40, downloadThroughput: 3e6 / 8, uploadThroughput: 1e6 / 8 };
const TYPES = { '.html': 'text/html; charset=utf-8', '.js': 'text/javascript; charset=utf-8', '.svg': 'image/svg+xml' };
const ROUNDS = 3;

function host(folder, packs) {
  const packed = new Map();
  const server = http.createServer((request, response) => {
    const file = path.join(folder, decodeURIComponent(request.url));
    if (!fs.existsSync(file)) return response.writeHead(404).end();
    const head = { 'content-type': TYPES[path.extname(file)], 'cache-control': 'no-cache', etag: `"${fs.statSync(file).mtimeMs}"` };
    if (request.headers['if-none-match'] === head.etag) return response.writeHead(304, head).end();
    let body = fs.readFileSync(file);
    if (packs) {
      if (!packed.has(file)) packed.set(file, zlib.gzipSync(body));
      body = packed.get(file);
      head['content-encoding'] = 'gzip';
    }
    response.writeHead(200, { ...head, 'content-length': body.length }).end(body);
  });
  return new Promise((ready) => server.listen(0, '127.0.0.1', () => ready(server)));
}

async function visit(context, url) {
  const page = await context.newPage();
  const session = await context.newCDPSession(page);
  await session.send('Network.enable');
  await session.send('Network.emulateNetworkConditions', LINE);
  await page.addInitScript(() => {
    const look = () => {
      if (document.documentElement?.dataset.live) self.liveAt ??= performance.now();
    };
    new MutationObserver(look).observe(document, { attributes: true, subtree: true });
  });
  await page.goto(url);
  await page.waitForFunction(() => self.liveAt);
  const times = await page.evaluate(() => [performance.getEntriesByName('first-contentful-paint')[0]?.startTime, self.liveAt]);
  await page.close();
  return times;
}

(async () => {
  const [folder, ...pages] = process.argv.slice(2);
  const browser = await open();
  for (const packs of [true, false]) {
    const server = await host(folder, packs);
    const base = `http://127.0.0.1:${server.address().port}`;
    for (const [at, first] of pages.entries()) {
      const second = pages[(at + 1) % pages.length];
      const all = [[], []];
      for (let round = 0; round < ROUNDS; round += 1) {
        const context = await browser.newContext();
        all[0].push(await visit(context, `${base}/${first}`));
        all[1].push(await visit(context, `${base}/${second}`));
        await context.close();
      }
      const least = (times, which) => `${Math.round(Math.min(...times.map((time) => time[which])))} ms`;
      for (const [which, name] of [[0, first], [1, second]]) {
        console.log(`${packs ? 'packed' : 'as it is'}, ${which ? 'second' : 'first'} page ${name}: painted ${least(all[which], 0)}, live ${least(all[which], 1)}`);
      }
    }
    server.close();
  }
  await browser.close();
})();
