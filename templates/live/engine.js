// The engine at work. It runs in a worker of its own, so that typing never waits for it; where a browser allows no
// worker it runs in the page. Requests and answers are texts in a row, each with its length in front (four bytes, the
// least first), as engine/web/src/message.rs has them.

/** What the worker does. It is handed over as text, so it uses nothing from outside itself. */
function engineRoom(room) {
  let module = null;
  let exports = null;
  let shown = [];

  room.onmessage = async ({ data }) => {
    try {
      if (data.packed) {
        module = await WebAssembly.compile(await unpacked(data.packed));
        await start();
        room.postMessage({ ready: true });
      } else {
        const started = performance.now();
        const answer = ask(data.texts);
        room.postMessage({ answer, took: performance.now() - started });
      }
    } catch (error) {
      // The engine may have stopped anywhere inside: what it left behind is not used again.
      if (module) await start();
      room.postMessage({ failed: String(error) });
    }
  };

  async function unpacked(base64) {
    const bytes = Uint8Array.from(atob(base64), (character) => character.charCodeAt(0));
    const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
    return new Response(stream).arrayBuffer();
  }

  async function start() {
    exports = (await WebAssembly.instantiate(module, {})).exports;
  }

  function ask(texts) {
    const encoder = new TextEncoder();
    const parts = texts.map((text) => encoder.encode(text));
    const length = parts.reduce((sum, part) => sum + 4 + part.length, 0);
    const at = exports.reserve(length);
    let memory = new DataView(exports.memory.buffer);
    let place = at;
    for (const part of parts) {
      memory.setUint32(place, part.length, true);
      new Uint8Array(exports.memory.buffer, place + 4).set(part);
      place += 4 + part.length;
    }
    const answerAt = exports.evaluate(at, length);
    exports.release(at, length);

    memory = new DataView(exports.memory.buffer);
    const answerLength = memory.getUint32(answerAt, true);
    const decoder = new TextDecoder();
    const said = [];
    for (place = answerAt + 4; place < answerAt + answerLength; ) {
      const partLength = memory.getUint32(place, true);
      said.push(decoder.decode(new Uint8Array(exports.memory.buffer, place + 4, partLength)));
      place += 4 + partLength;
    }
    exports.release(answerAt, answerLength);

    const [source, hash, title, tally, fields, refused, head, ...pieces] = said;
    const changed = pieces.flatMap((html, at) => (shown[at] === html ? [] : [[at, html]]));
    shown = pieces;
    return { source, hash, title, tally, fields, refused, head, changed };
  }
}

/**
 * The engine, started from its packed module. Of requests that wait the last one is sent; `heard` takes each answer with
 * what was handed over beside its request.
 */
function startEngine(packed, heard) {
  let waiting = null;
  let current = {};
  const room = makeRoom();
  room.onmessage = ({ data }) => {
    if (!data.ready) heard(data, current.about);
    current = null;
    send();
  };
  room.postMessage({ packed });

  function send() {
    if (current || !waiting) return;
    current = waiting;
    waiting = null;
    room.postMessage({ texts: current.texts });
  }

  return (texts, about) => {
    waiting = { texts, about };
    send();
  };
}

/** A worker, or something in the page that is spoken to like one. */
function makeRoom() {
  try {
    const script = new Blob([`(${engineRoom})(self);`], { type: "text/javascript" });
    return new Worker(URL.createObjectURL(script));
  } catch {
    const inside = { postMessage: (data) => setTimeout(() => outside.onmessage({ data })) };
    const outside = { postMessage: (data) => setTimeout(() => inside.onmessage({ data })) };
    engineRoom(inside);
    return outside;
  }
}
