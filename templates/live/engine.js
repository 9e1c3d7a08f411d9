// The engine at work. It runs in a worker of its own, so that typing never waits for it; where a browser allows no
// worker it runs in the page. Requests and answers are texts in a row, each with its length in front (four bytes, the
// least first), as engine/web/src has them.

/** What the worker does. It is handed over as text, so it uses nothing from outside itself. */
function engineWorker(room) {
  let unpacker = null;
  let module = null;
  let exports = null;
  let shown = [];

  room.onmessage = async ({ data }) => {
    try {
      if (data.unpacker) {
        unpacker = unpackerOf(data.unpacker);
        // What goes wrong shows when the engine is to be unpacked.
        unpacker.catch(() => {});
      } else if (data.packed) {
        module = await WebAssembly.compile(unpacked(await unpacker, data.packed));
        await start();
        room.postMessage({ ready: true });
      } else {
        const started = performance.now();
        const said = ask(data.call, data.texts);
        const answer = data.call === "evaluate" ? update(said) : data.call === "glance" ? sorted(said) : said;
        room.postMessage({ answer, took: performance.now() - started });
      }
    } catch (error) {
      // The engine may have stopped anywhere inside: what it left behind is not used again.
      if (module) await start().catch(() => {});
      room.postMessage({ failed: String(error) });
    }
  };

  /** The small module that unpacks the engine. */
  async function unpackerOf(text) {
    const stream = new Blob([bytesOf(text)]).stream().pipeThrough(new DecompressionStream("gzip"));
    const { instance } = await WebAssembly.instantiate(await new Response(stream).arrayBuffer());
    return instance.exports;
  }

  function unpacked({ memory, room: roomFor, unpack }, text) {
    const engine = bytesOf(text);
    // The head of the packed engine says its length, least byte first: it has far less than four gigabytes.
    const length = new DataView(engine.buffer).getUint32(5, true);
    const [packedAt, at] = [roomFor(engine.length), roomFor(length)];
    new Uint8Array(memory.buffer).set(engine, packedAt);
    if (!unpack(packedAt, engine.length, at, length)) throw new Error("the engine does not unpack");
    return new Uint8Array(memory.buffer, at, length);
  }

  function bytesOf(base64) {
    const characters = atob(base64);
    const bytes = new Uint8Array(characters.length);
    for (let at = 0; at < bytes.length; at += 1) bytes[at] = characters.charCodeAt(at);
    return bytes;
  }

  async function start() {
    exports = (await WebAssembly.instantiate(module, {})).exports;
  }

  function ask(call, texts) {
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
    const answerAt = exports[call](at, length);
    exports.release(at, length);

    memory = new DataView(exports.memory.buffer);
    const answerLength = memory.getUint32(answerAt, true);
    const decoder = new TextDecoder("utf-8", { ignoreBOM: true });
    const said = [];
    for (place = answerAt + 4; place < answerAt + answerLength; ) {
      const partLength = memory.getUint32(place, true);
      said.push(decoder.decode(new Uint8Array(exports.memory.buffer, place + 4, partLength)));
      place += 4 + partLength;
    }
    exports.release(answerAt, answerLength);
    return said;
  }

  /** What is shown anew; of the blocks only those that are not as they were. */
  function update(said) {
    const { blocks, ...rest } = sorted(said);
    const changed = blocks.flatMap((html, at) => (shown[at] === html ? [] : [[at, html]]));
    shown = blocks;
    return { ...rest, changed };
  }

  function sorted([source, outline, hash, tally, fields, refused, head, count, ...set]) {
    if (source === undefined) throw new Error("the worksheet does not read");
    return { source, outline, hash, tally, fields, refused, head, blocks: set.slice(0, Number(count)), inlines: set.slice(Number(count)) };
  }
}

/**
 * The engine, started from its packed modules: what unpacks it, and itself once it is there. Of updates that wait the last one alone is asked for; `heard` takes each
 * answer with what was handed over beside its request. What is asked besides is asked in turn.
 */
function startEngine({ unpacker, packed }, heard, call = "evaluate") {
  let update = null;
  const questions = [];
  let current = { hear: () => {} };
  const room = makeRoom();
  room.onmessage = ({ data }) => {
    const { hear } = current;
    current = null;
    if (!data.ready || data.failed) hear(data);
    send();
  };
  room.postMessage({ unpacker });
  packed.then((text) => room.postMessage({ packed: text }));

  function send() {
    if (current) return;
    current = questions.shift() ?? update;
    if (!current) return;
    if (current === update) update = null;
    room.postMessage({ call: current.call, texts: [...engineWords, ...current.texts] });
  }

  return {
    end: () => room.terminate?.(),
    update(texts, about) {
      update = { call, texts, hear: (data) => heard(data, about) };
      send();
    },
    ask(call, texts) {
      return new Promise((resolve, failed) => {
        const hear = ({ answer, failed: reason }) => (reason ? failed(new Error(reason)) : resolve(answer));
        questions.push({ call, texts, hear });
        send();
      });
    },
  };
}

/** A worker, or something in the page that is spoken to like one. */
function makeRoom() {
  try {
    const script = new Blob([`(${engineWorker})(self);`], { type: "text/javascript" });
    return new Worker(URL.createObjectURL(script));
  } catch {
    const inside = { postMessage: (data) => setTimeout(() => outside.onmessage({ data })) };
    const outside = { postMessage: (data) => setTimeout(() => inside.onmessage({ data })) };
    engineWorker(inside);
    return outside;
  }
}
