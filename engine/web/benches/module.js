// How long the packed module takes for an update of a page: node module.js MODULE.gz REQUEST…
// A request is what `cargo run -p benchleaf-web --example request -- SHEET.md` writes. As a reader would, one given at a
// time is changed, to another value each time. Tells in milliseconds: the median of all updates with the quartiles, the
// median of the given that takes the longest, and that of updates of which the engine remembers nothing.
'use strict';

const fs = require('node:fs');
const path = require('node:path');
const zlib = require('node:zlib');

const [packed, ...requests] = process.argv.slice(2);
const bytes = fs.readFileSync(packed);
const compiled = new WebAssembly.Module(packed.endsWith('.gz') ? zlib.gunzipSync(bytes) : bytes);

/** The time of an update, and the texts of its answer. */
function update(engine, asked) {
  const at = engine.reserve(asked.length);
  new Uint8Array(engine.memory.buffer, at).set(asked);
  const started = performance.now();
  const told = engine.evaluate(at, asked.length);
  const took = performance.now() - started;
  engine.release(at, asked.length);
  const length = new DataView(engine.memory.buffer).getUint32(told, true);
  const answer = texts(Buffer.from(new Uint8Array(engine.memory.buffer, told + 4, length - 4)));
  engine.release(told, length);
  return { took, answer };
}

function texts(answer) {
  const found = [];
  for (let at = 0; at < answer.length; ) {
    const length = answer.readUInt32LE(at);
    found.push(answer.toString('utf8', at + 4, at + 4 + length));
    at += 4 + length;
  }
  return found;
}

function written(...parts) {
  return Buffer.concat(
    parts.flatMap((text) => {
      const length = Buffer.alloc(4);
      length.writeUInt32LE(Buffer.byteLength(text));
      return [length, Buffer.from(text)];
    }),
  );
}

const quantile = (times, share) => [...times].sort((a, b) => a - b)[Math.floor((times.length - 1) * share)].toFixed(1);

for (const request of requests) {
  const asked = fs.readFileSync(request);
  const engine = new WebAssembly.Instance(compiled, {}).exports;
  const first = update(engine, asked);
  for (let i = 0; i < 20; i += 1) update(engine, asked);
  const givens = first.answer[4].trim().split('\n').map((line) => line.split('\t'));
  const all = [];
  let slowest = { name: '', times: [0] };
  for (const [name, , number, unit] of givens) {
    const times = [];
    for (let i = 1; i <= 16; i += 1) {
      const change = written(name, `${Number(number) * (1 + i / 500)} ${unit}`);
      times.push(update(engine, Buffer.concat([asked, change])).took);
    }
    all.push(...times);
    if (quantile(times, 0.5) - quantile(slowest.times, 0.5) > 0) slowest = { name, times };
  }
  // With another seed nothing that is remembered holds.
  const parts = texts(asked);
  const anew = Array.from({ length: 40 }, (_, seed) => update(engine, written(parts[0], parts[1], '', String(seed))).took);
  const [low, middle, high] = [0.25, 0.5, 0.75].map((share) => quantile(all, share));
  const most = `${quantile(slowest.times, 0.5)} (${slowest.name})`;
  console.log(`${path.basename(request)}: ${middle} (${low} to ${high}), most ${most}, all anew ${quantile(anew, 0.5)}`);
}
