// How long the packed module takes for an update of a page: node module.js FOLDER REQUEST…
// A request is what `cargo run -p benchleaf-web --example request -- SHEET.md` writes. As a reader would, one given at a
// time is changed, to another value each time. Prints in milliseconds the median of all updates, that of the given which
// takes the longest, and that of updates of which the engine remembers nothing; in Node, and in Chromium too where
// BENCHLEAF_CHROMIUM names it and BENCHLEAF_NODE_MODULES holds playwright-core.
'use strict';

const fs = require('node:fs');
const path = require('node:path');
const { unpacked } = require('../pack/unpacked.js');

/** Runs in Node and in a browser, so it uses nothing from outside itself. */
async function measure([engineModule, request]) {
  const bytesOf = (base64) => Uint8Array.from(atob(base64), (character) => character.charCodeAt(0));
  const module = await WebAssembly.compile(bytesOf(engineModule));
  const engine = (await WebAssembly.instantiate(module, {})).exports;

  /** The time of an update, and the texts of its answer. */
  function update(texts) {
    const asked = written(texts);
    const at = engine.reserve(asked.length);
    new Uint8Array(engine.memory.buffer, at).set(asked);
    const started = performance.now();
    const answered = engine.evaluate(at, asked.length);
    const took = performance.now() - started;
    engine.release(at, asked.length);
    const length = new DataView(engine.memory.buffer).getUint32(answered, true);
    const answer = read(new Uint8Array(engine.memory.buffer.slice(answered + 4, answered + length)));
    engine.release(answered, length);
    return { took, answer };
  }

  function read(bytes) {
    const lengths = new DataView(bytes.buffer, bytes.byteOffset);
    const texts = [];
    for (let at = 0; at < bytes.length; ) {
      const length = lengths.getUint32(at, true);
      texts.push(new TextDecoder('utf-8', { ignoreBOM: true }).decode(bytes.subarray(at + 4, at + 4 + length)));
      at += 4 + length;
    }
    return texts;
  }

  function written(texts) {
    const parts = texts.map((text) => new TextEncoder().encode(text));
    const bytes = new Uint8Array(parts.reduce((sum, part) => sum + 4 + part.length, 0));
    let at = 0;
    for (const part of parts) {
      new DataView(bytes.buffer).setUint32(at, part.length, true);
      bytes.set(part, at + 4);
      at += 4 + part.length;
    }
    return bytes;
  }

  const median = (times) => [...times].sort((a, b) => a - b)[times.length >> 1];

  const texts = read(bytesOf(request));
  const first = update(texts);
  for (let i = 0; i < 20; i += 1) update(texts);
  const givens = first.answer[4].trim().split('\n').map((line) => line.split('\t'));
  const times = givens.map(([name, , number, unit]) => ({
    name,
    times: Array.from({ length: 16 }, (_, i) => update([...texts, name, `${number * (1 + (i + 1) / 500)} ${unit}`]).took),
  }));
  const slowest = times.reduce((one, other) => (median(one.times) < median(other.times) ? other : one));
  // Another seed for each, so that all builds are drawn anew.
  const anew = Array.from({ length: 40 }, (_, seed) => update([texts[0], texts[1], '', String(seed)]).took);
  return {
    first: first.took,
    all: median(times.flatMap((given) => given.times)),
    most: median(slowest.times),
    of: slowest.name,
    anew: median(anew),
  };
}

async function main() {
  const base64 = (bytes) => Buffer.from(bytes).toString('base64');
  const [folder, ...requests] = process.argv.slice(2);
  const hosts = [['Node', measure]];
  let browser = null;
  if (process.env.BENCHLEAF_CHROMIUM) {
    const { chromium } = require(path.join(process.env.BENCHLEAF_NODE_MODULES, 'playwright-core'));
    const args = ['--headless', '--no-sandbox', '--disable-gpu', '--disable-background-networking'];
    browser = await chromium.launch({ executablePath: process.env.BENCHLEAF_CHROMIUM, args });
    const page = await browser.newPage();
    hosts.push(['Chromium', (asked) => page.evaluate(measure, asked)]);
  }
  console.log('| worksheet | in | an update / ms | of the given that takes longest / ms | all anew / ms | first of all / ms |');
  console.log('| --- | --- | ---: | ---: | ---: | ---: |');
  for (const request of requests) {
    for (const [host, run] of hosts) {
      const { first, all, most, of, anew } = await run([base64(unpacked(folder)), base64(fs.readFileSync(request))]);
      const [a, b, c, d] = [all, most, anew, first].map((time) => time.toFixed(1));
      console.log(`| ${path.basename(request)} | ${host} | ${a} | ${b} (\`${of}\`) | ${c} | ${d} |`);
    }
  }
  await browser?.close();
}

main();
