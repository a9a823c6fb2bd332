// How requests of the page reach the service: it runs in a worker of this page, out of this file. Takes the place of the
// page's own carrier, with the same functions.

const PIECE = 4e6; // bytes of a file handed over at a time
const HIGH = 200e6; // bytes of memory above which a new worker is worth its start, to give it back

let worker = null;
let current = null; // the request the worker has, or the measurement it works on
let queue = [];
let journal = []; // what made this session what it is, to be asked again of a new worker
let again = []; // what of it is still to be asked
let memory = 0;
let highest = 1; // the last number given: a new worker goes on behind it; the demonstration's engine has the first

const stopped = () => new DOMException("stopped", "AbortError");
const text = (body) => new TextDecoder().decode(body);
const refused = (error) => ({ done: false, kind: "application/json", body: new TextEncoder().encode(JSON.stringify({ error })) });
const told = (value) => ({ done: true, kind: "application/json", body: new TextEncoder().encode(JSON.stringify(value)) });
const runOf = (address) => (/^\/api\/runs\/(\d+)/.exec(address) || [])[1];

// One line above the page, read aloud.
function say(words) {
  let line = document.getElementById("started-again");
  const main = document.querySelector("main");
  if (!main) return;
  if (!line) {
    line = Object.assign(document.createElement("p"), { id: "started-again", className: "error" });
    line.setAttribute("role", "alert");
    line.style.padding = "0 20px";
    main.before(line);
  }
  line.textContent = words;
}

function start() {
  if (worker) worker.terminate();
  const mine = worker = new Worker(URL.createObjectURL(new Blob([camwitness.worker], { type: "text/javascript" })));
  // What one that was ended still said is nobody's any more.
  const heard = (data) => { if (worker === mine) hear(data); };
  worker.onmessage = ({ data }) => heard(data);
  worker.onerror = (event) => { event.preventDefault(); heard({ trapped: event.message }); };
  worker.postMessage({ module: camwitness.module });
  memory = 0;
  again = journal.map((entry) => ({ ...entry, replayed: true, resolve() {}, reject() {} })).concat(again);
  journal = [];
  current = null;
  next();
}

function next() {
  if (current) return;
  current = again.shift() || queue.shift() || null;
  if (current) hand(current);
}

// Hands a request over, its body piece by piece: a file is never in memory twice.
async function hand(asked) {
  const [mine, body] = [worker, asked.body instanceof Blob ? asked.body : new Blob(asked.body === null ? [] : [asked.body])];
  const { method, address } = asked;
  const number = asked.number ?? (method === "POST" ? highest + 1 : null);
  mine.postMessage({ head: { method, address, number }, size: body.size });
  try {
    for (let at = 0; at < body.size; at += PIECE) {
      const piece = await body.slice(at, at + PIECE).arrayBuffer();
      if (current !== asked || worker !== mine) return;
      mine.postMessage({ at, piece }, [piece]);
      if (asked.sent) asked.sent(Math.min(1, (at + PIECE) / body.size));
    }
  } catch {
    if (current !== asked) return;
    current = null;
    if (asked.replayed) say(UNLIKE);
    asked.resolve(refused("The file cannot be read any more: it was changed, moved, or its stick was pulled. Drop it again."));
    return next();
  }
  mine.postMessage({ end: true });
}

function hear({ answer, memory: now, worked, full, trapped }) {
  if (now) memory = now;
  const asked = current;
  if (!asked) return;
  if (answer) {
    asked.answer = answer;
    highest = Math.max(highest, added(asked) || 0);
    asked.resolve(answer);
    if (answer.work) return;
  }
  if (full) asked.resolve(refused("This browser has no memory for a file of " + megabytes(asked) + ". " + INSTEAD));
  if (trapped !== undefined) return trap(asked);
  current = null;
  if (asked.answer && asked.answer.done) remember(asked);
  else if (asked.replayed) say(UNLIKE);
  const failed = full || (asked.answer && !asked.answer.done && asked.address.startsWith("/api/captures?"));
  const shrinks = asked.method === "DELETE" || failed;
  if (shrinks && memory > HIGH && !again.length) return start();
  next();
}

const UNLIKE = "The program was started again, and a file of before cannot be read any more: what rests on it is gone.";
const INSTEAD = "Export a shorter capture, or read it with the camwitness program on a computer.";
const megabytes = (asked) => ((asked.body && asked.body.size || 0) / 1e6).toFixed(1) + " MB";

// The program ended itself at a request. What was there before is asked again of a new one; what ends that one too is left.
function trap(asked) {
  const name = new URLSearchParams(asked.address.split("?")[1] || "").get("name");
  const what = name ? name + " (" + megabytes(asked) + ")" : "the last step";
  const lost = asked.replayed;
  if (lost) journal = [];
  say("The program ended at " + what + " and was started again. " +
    (lost ? "What was measured before could not be kept." : "What was read and measured before is kept."));
  const why = (name ? what : "The last step") + " ended the program: more memory was needed than this browser gives, or it is a fault of the program. It was started again. " + INSTEAD;
  asked.failed = why;
  asked.resolve(refused(asked.failed));
  const id = asked.answer && JSON.parse(text(asked.answer.body)).id;
  if (id !== undefined) ended[id] = { state: "failed", message: asked.failed };
  again = lost ? [] : again;
  start();
}

// Measurements that ended with their worker, by number.
const ended = {};

// The number of what a request added.
function added({ method, address, answer }) {
  if (method !== "POST" || !answer.done) return undefined;
  const value = JSON.parse(text(answer.body));
  return (address === "/api/engines/form" ? value.engine || {} : value).id;
}

// Keeps what a new worker has to be asked for the same session, under the same numbers.
function remember(asked) {
  const { method, address, body } = asked;
  const path = address.split("?")[0];
  const number = added(asked);
  if (number !== undefined) journal.push({ method, address, body, number });
  const forgotten = method === "DELETE" && /^\/api\/(captures|engines|runs)\/(\d+)$/.exec(path);
  const changed = (method === "DELETE" && /\/known$/.test(path)) || (method === "POST" && /^\/api\/(known|learn|practice|shelf\/(jobs|outcomes|file))$/.test(path));
  if (changed && number === undefined) journal.push({ method, address, body });
  if (!forgotten) return;
  const id = Number(forgotten[2]);
  // A result of it needs it once more; then it is forgotten again.
  const about = /^\/api\/(runs|shelf\/jobs|shelf\/engines|learn)$/;
  const needs = (entry) => {
    const asked = about.test(entry.address) ? JSON.parse(entry.body) : {};
    return [asked.capture, asked.engine, asked.run, ...(asked.join || []), ...(asked.captures || [])].includes(id);
  };
  if (journal.some(needs)) journal.push({ method, address, body: null });
  else journal = journal.filter((entry) => entry.number !== id);
}

// A worker cannot be told anything while it works: it is ended, and a new one asked for the same session.
function cancel(asked) {
  if (asked !== current) {
    queue = queue.filter((other) => other !== asked);
    return;
  }
  start();
}

// One request, and what it is answered: { done, kind, save_as, body }.
function request(method, address, body, sent, signal) {
  const run = runOf(address);
  if (run && ended[run]) return Promise.resolve(told({ id: Number(run), ...ended[run] }));
  // Nobody is asked who could not answer before the end.
  if (address.startsWith("/api/readings/")) return Promise.resolve(told({ share: null }));
  if (method === "DELETE" && /\/cancel$/.test(address)) {
    const working = current && current.answer && current.answer.work && String(JSON.parse(text(current.answer.body)).id) === run;
    if (working) {
      ended[run] = { state: "cancelled", message: "" };
      queue = queue.filter((asked) => {
        const about = runOf(asked.address) === run;
        if (about) asked.resolve(told({ id: Number(run), ...ended[run] }));
        return !about;
      });
      cancel(current);
      return Promise.resolve(told({ id: Number(run), ...ended[run] }));
    }
  }
  return new Promise((resolve, reject) => {
    const asked = { method, address, body, sent, resolve, reject };
    if (signal) signal.addEventListener("abort", () => { if (asked.answer) return; cancel(asked); reject(stopped()); });
    queue.push(asked);
    if (!worker) start();
    else next();
  });
}

export async function carry({ method = "GET", address, body = null, sent = null, signal = null }) {
  const answer = await request(method, address, body, sent, signal);
  let value = {};
  try { value = JSON.parse(text(answer.body)); } catch { /* an answer without words */ }
  return { done: answer.done, value: value || {} };
}

// What an address answers, as text: for whoever puts the page together.
export async function reads(address) {
  return text((await request("GET", address, null, null, null)).body);
}

async function blob(address) {
  const answer = await request("GET", address, null, null, null);
  return URL.createObjectURL(new Blob([answer.body], { type: answer.kind }));
}

export function saves(link, address, name) {
  link.href = "#";
  link.download = name;
  link.addEventListener("click", async (event) => {
    event.preventDefault();
    const made = document.createElement("a");
    made.href = await blob(address);
    made.download = name;
    made.click();
    setTimeout(() => URL.revokeObjectURL(made.href), 60000);
  });
}
export function opens(link, address) {
  link.target = "_blank";
  link.rel = "noopener";
  blob(address).then((made) => { link.href = made; });
}
// Without an address of its own, the frame says on which report it is.
export function shows(frame, address) {
  reads(address).then((html) => { frame.srcdoc = html; frame.dataset.shows = address; });
}
