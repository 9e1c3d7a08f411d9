// What the packed module says of a request: node numbers.js FOLDER REQUEST ANSWER
'use strict';

const fs = require('node:fs');
const { unpacked } = require('../pack/unpacked.js');

const [folder, request, answer] = process.argv.slice(2);
const { exports: engine } = new WebAssembly.Instance(new WebAssembly.Module(unpacked(folder)), {});
const asked = fs.readFileSync(request);
const at = engine.reserve(asked.length);
new Uint8Array(engine.memory.buffer, at).set(asked);
const place = engine.numbers(at, asked.length);
const length = new DataView(engine.memory.buffer).getUint32(place, true);
fs.writeFileSync(answer, new Uint8Array(engine.memory.buffer, place, length));
