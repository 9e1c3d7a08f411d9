// The engine's module from the folder of packed modules, as a page unpacks it.
'use strict';

const fs = require('node:fs');
const path = require('node:path');
const zlib = require('node:zlib');

exports.unpacked = (folder) => {
  const unpacker = new WebAssembly.Module(zlib.gunzipSync(fs.readFileSync(path.join(folder, 'unpack.wasm.gz'))));
  const { memory, room, unpack } = new WebAssembly.Instance(unpacker, {}).exports;
  const packed = fs.readFileSync(path.join(folder, 'benchleaf.wasm.lzma'));
  const length = packed.readUInt32LE(5);
  const [packedAt, at] = [room(packed.length), room(length)];
  new Uint8Array(memory.buffer).set(packed, packedAt);
  if (!unpack(packedAt, packed.length, at, length)) throw new Error('the module does not unpack');
  return new Uint8Array(memory.buffer, at, length);
};
