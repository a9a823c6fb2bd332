// In the worker: the program, asked one request at a time. A message is { module }, { head, size }, { at, piece } or { end }.
"use strict";
let program = null;
let request = null; // { head, size, room } while its body comes in
const bytes = (at, length) => new Uint8Array(program.memory.buffer, at, length);

// The answer at an address: its head, and a copy of its body.
function answer(at) {
  const lengths = new DataView(program.memory.buffer, at, 8);
  const [head, body] = [lengths.getUint32(0, true), lengths.getUint32(4, true)];
  const shown = JSON.parse(new TextDecoder().decode(bytes(at + 8, head)));
  return { ...shown, body: bytes(at + 8 + head, body).slice().buffer };
}

function end() {
  const { head, size, room } = request;
  bytes(room + size, head.length).set(head);
  const given = answer(program.ask(size) >>> 0);
  postMessage({ answer: given, memory: program.memory.buffer.byteLength }, [given.body]);
  if (!given.work) return;
  program.work();
  postMessage({ worked: true });
}

onmessage = ({ data }) => {
  try {
    if (data.module) program = new WebAssembly.Instance(data.module).exports;
    if (data.head) {
      const head = new TextEncoder().encode(JSON.stringify(data.head));
      request = { head, size: data.size, room: program.room(data.size + head.length) >>> 0 };
      if (!request.room) postMessage({ full: true });
    }
    if (data.piece && request.room) bytes(request.room + data.at, data.piece.byteLength).set(new Uint8Array(data.piece));
    if (data.end && request.room) end();
  } catch (error) {
    postMessage({ trapped: String(error) });
  }
};
