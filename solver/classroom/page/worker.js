"use strict";
// Runs the engine beside the page. Answers twice: quickly with alike studs solved once, then with all ten coupled. A newer
// question takes the place of an older one between two pieces of a run.
let engine = null, waiting = null, busy = false;

const call = (name, type, types = [], values = []) => engine.ccall(name, type, types, values);
const breathe = () => new Promise((go) => { const c = new MessageChannel(); c.port1.onmessage = go; c.port2.postMessage(0); });

/// The answer as text, or null where a newer question waits. part: is given what there is after the first piece.
async function solve(settings, slice, part) {
  if (!call("classroom_begin", "number", ["string"], [JSON.stringify(settings)])) throw new Error(call("classroom_answer", "string"));
  for (;;) {
    const state = call("classroom_advance", "number", ["number"], [slice]);
    if (state < 0) throw new Error(call("classroom_answer", "string"));
    if (state > 0) return call("classroom_answer", "string");
    postMessage({alive: true});
    if (part) { part(call("classroom_answer", "string")); part = null; }
    await breathe();
    if (waiting) return null;
  }
}

async function work() {
  busy = true;
  while (waiting) {
    const {id, settings} = waiting;
    waiting = null;
    try {
      for (const coupled of [false, true]) {
        const text = await solve({...settings, coupled}, coupled ? 40 : 50, coupled ? null : (text) => postMessage({id, kind: "part", text}));
        if (text === null) break;
        postMessage({id, kind: coupled ? "full" : "quick", text});
        await breathe();
        if (waiting) break;
      }
    } catch (error) {
      postMessage({id, kind: "fault", text: String(error.message || error)});
    }
  }
  busy = false;
}

onmessage = ({data}) => {
  waiting = data;
  if (engine && !busy) work();
};

createClassroom().then((made) => {
  engine = made;
  postMessage({ready: true});
  if (waiting && !busy) work();
});
