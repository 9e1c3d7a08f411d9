// Gives requests to the packed module, one after the other: node requests.js FOLDER < REQUESTS
// Each request has its length in front (four bytes, the least first). Reports every one that ends the module, whose
// answer is not texts with their lengths, or that takes more than five seconds of a processor, and when the module has more than 512 MiB.
'use strict';

const fs = require('node:fs');
const { unpacked } = require('../pack/unpacked.js');

const LONGEST_MS = 5000;
const MOST_BYTES = 512 * 1024 * 1024;

const module_ = new WebAssembly.Module(unpacked(process.argv[2]));
const start = () => new WebAssembly.Instance(module_, {}).exports;

/** The answer of one of the module's functions to a request. */
function call(engine, name, request) {
  const at = engine.reserve(request.length);
  new Uint8Array(engine.memory.buffer, at).set(request);
  const answered = engine[name](at, request.length);
  engine.release(at, request.length);
  const length = new DataView(engine.memory.buffer).getUint32(answered, true);
  const answer = Buffer.from(new Uint8Array(engine.memory.buffer.slice(answered + 4, answered + length)));
  engine.release(answered, length);
  return answer;
}

/** Whether the bytes are texts in UTF-8, each with its length in front. */
function areTexts(bytes) {
  const decoder = new TextDecoder('utf-8', { fatal: true });
  let at = 0;
  while (at + 4 <= bytes.length) {
    const length = bytes.readUInt32LE(at);
    if (at + 4 + length > bytes.length) return false;
    decoder.decode(bytes.subarray(at + 4, at + 4 + length));
    at += 4 + length;
  }
  return at === bytes.length;
}

const requests = fs.readFileSync(0);
let [engine, count, failed, slowest, most] = [start(), 0, 0, 0, 0];
for (let at = 0; at < requests.length; count += 1) {
  const length = requests.readUInt32LE(at);
  const request = requests.subarray(at + 4, at + 4 + length);
  at += 4 + length;
  const before = process.cpuUsage();
  let fault = '';
  try {
    for (const name of ['evaluate', 'assess', 'numbers']) {
      if (!areTexts(call(engine, name, request))) fault = `${name}: the answer is not texts`;
    }
  } catch (error) {
    fault = String(error);
    engine = start();
  }
  const spent = process.cpuUsage(before);
  const took = (spent.user + spent.system) / 1000;
  slowest = Math.max(slowest, took);
  most = Math.max(most, engine.memory.buffer.byteLength);
  if (took > LONGEST_MS) fault = `${took.toFixed(0)} ms`;
  if (fault) {
    failed += 1;
    console.log(`request ${count}: ${fault}`);
  }
}
if (most > MOST_BYTES) failed += 1;
console.log(`${count} requests: ${failed} failed, the slowest took ${slowest.toFixed(0)} ms, ${(most / 1048576).toFixed(0)} MiB`);
process.exit(failed === 0 && count > 0 ? 0 : 1);
