// What the packed module says of a request: node numbers.js MODULE.gz REQUEST ANSWER
'use strict';

const fs = require('node:fs');
const zlib = require('node:zlib');

const [module, request, answer] = process.argv.slice(2);
const { exports } = new WebAssembly.Instance(new WebAssembly.Module(zlib.gunzipSync(fs.readFileSync(module))), {});
const asked = fs.readFileSync(request);
const at = exports.reserve(asked.length);
new Uint8Array(exports.memory.buffer, at).set(asked);
const told = exports.numbers(at, asked.length);
const length = new DataView(exports.memory.buffer).getUint32(told, true);
fs.writeFileSync(answer, new Uint8Array(exports.memory.buffer, told, length));
