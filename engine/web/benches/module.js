// How long the packed module takes for an update of a page: node module.js MODULE.gz REQUEST…
// A request is what `cargo run -p benchleaf-web --example request -- SHEET.md` writes. Tells the median and the quartiles
// of 60 updates
// in milliseconds, after 15 that let the host compile it.
'use strict';

const fs = require('node:fs');
const path = require('node:path');
const zlib = require('node:zlib');

const [packed, ...requests] = process.argv.slice(2);
const bytes = fs.readFileSync(packed);
const module_ = new WebAssembly.Module(packed.endsWith('.gz') ? zlib.gunzipSync(bytes) : bytes);

function update(engine, asked) {
  const at = engine.reserve(asked.length);
  new Uint8Array(engine.memory.buffer, at).set(asked);
  const told = engine.evaluate(at, asked.length);
  engine.release(at, asked.length);
  engine.release(told, new DataView(engine.memory.buffer).getUint32(told, true));
}

function timed(work) {
  const started = performance.now();
  work();
  return performance.now() - started;
}

const quantile = (sorted, share) => sorted[Math.floor((sorted.length - 1) * share)];

for (const request of requests) {
  const asked = fs.readFileSync(request);
  const engine = new WebAssembly.Instance(module_, {}).exports;
  for (let i = 0; i < 15; i += 1) update(engine, asked);
  const took = Array.from({ length: 60 }, () => timed(() => update(engine, asked))).sort((a, b) => a - b);
  const [low, middle, high] = [0.25, 0.5, 0.75].map((share) => quantile(took, share).toFixed(1));
  console.log(`${path.basename(request)}: ${middle} ms (${low} to ${high})`);
}
