// Step 1: captures are dropped, read, shown.
import { $, ask, clock, complain, doing, make, named, on, option, remove, state, tell } from "/common.js";

let file = null; // the file last dropped, to be read again with what it leaves open
let upload = null; // a running upload

const FIELDS = ["rate", "time", "time_unit", "separator", "decimal", "kind"];
const megabytes = (bytes) => (bytes / 1e6).toFixed(bytes < 1e7 ? 1 : 0) + " MB";

// Several files at once: engine files and known-goods go where they belong, captures one after the other.
async function drop(files) {
  for (const one of [...files]) {
    if (/\.known\.toml$/i.test(one.name)) await tell("known", one);
    else if (/\.toml$/i.test(one.name)) await tell("engine-file", one);
    else await read(one);
  }
}

function forgetFields() {
  $("reading").hidden = true;
  for (const field of FIELDS) { $(field).value = ""; $("reading").querySelector('[data-field="' + field + '"]').hidden = true; }
}

// What is left of a capture that is no longer the one shown.
function clear() {
  state.capture = null;
  for (const part of ["capture-about", "capture-wheel", "channels", "alike"]) $(part).replaceChildren();
}

async function read(chosen) {
  if (upload) upload.abort();
  file = chosen;
  forgetFields();
  await take();
}

// Hands the file over and shows what comes of it.
async function take() {
  const taken = file;
  complain("capture-error");
  const { max_upload: most, to_raise: raise } = state.session || {};
  if (most && taken.size > most) {
    complain("capture-error", new Error(taken.name + " has " + megabytes(taken.size) + ", more than the " + megabytes(most) +
      " this page takes. Export a shorter capture" + (raise && ", or " + raise) + "."));
    return;
  }
  const mine = upload = new AbortController();
  // The number under which this upload is asked about; tabs must not meet on one.
  const number = Math.floor(Math.random() * Number.MAX_SAFE_INTEGER);
  $("uploading").hidden = false;
  $("upload-bar").value = 0;
  $("upload-words").textContent = "taking " + taken.name;
  const sent = (share) => {
    if (upload !== mine) return;
    $("upload-bar").value = share;
    if (share < 1) return;
    $("upload-words").textContent = "reading " + taken.name;
    $("upload-bar").value = 0;
    follow(mine, number);
  };
  const asked = new URLSearchParams({ name: taken.name, reading: number, came: clock() });
  for (const field of FIELDS) {
    const value = $(field).value.trim();
    if (value) asked.set(field, value);
  }
  try {
    const read = await ask("/api/captures?" + asked, { method: "POST", body: taken, sent, signal: mine.signal });
    if (upload !== mine) return;
    forgetFields();
    await show(read);
    await tell("list");
  } catch (error) {
    if (error.name === "AbortError") {
      remove("/api/readings/" + number).catch(() => {});
      if (upload === mine) $("capture-about").textContent = "Cancelled." + (state.capture ? " This is still " + about(state.capture) : "");
    } else if (upload === mine) {
      // What stood before is another capture: it must not be measured in this one's place.
      clear();
      await tell("stale");
      complain("capture-error", error);
      for (const field of error.fields || []) {
        const label = $("reading").querySelector('[data-field="' + field + '"]');
        if (label) { label.hidden = false; $("reading").hidden = false; }
      }
      await tell("capture");
    }
  } finally {
    if (upload === mine) { upload = null; $("uploading").hidden = true; }
  }
}

// How far the reading is, until the upload has ended.
async function follow(mine, number) {
  while (upload === mine) {
    await new Promise((done) => setTimeout(done, 250));
    try {
      const now = await ask("/api/readings/" + number);
      // Whoever carries this page cannot tell: the bar moves without a measure.
      if (now.share === null) { if (upload === mine) $("upload-bar").removeAttribute("value"); return; }
      if (upload === mine) $("upload-bar").value = now.share;
    } catch { return; }
  }
}

const about = (read) => read.name + ": " + read.seconds.toFixed(2) + " s, " + read.rows.toLocaleString("en") + " rows, " + read.kind +
  (read.rate ? ", " + Math.round(read.rate).toLocaleString("en") + " per second" : "");

export async function show(read) {
  state.capture = read;
  complain("capture-error");
  $("capture-about").textContent = about(read);
  $("capture-wheel").textContent = read.crank_wheel
    ? "The crank wheel looks like " + read.crank_wheel.spec + ", on “" + read.crank_wheel.channel + "”."
    : "The crank wheel is not recognised: " + read.doubt + ".";
  $("again").value = String(read.id);
  $("from").value = $("to").value = "";
  await tell("capture");
}

// A capture of the demonstration, held against the demonstration's engine when no other is chosen.
async function demonstrate(name) {
  if (upload) upload.abort();
  forgetFields();
  await doing("capture-error", async () => {
    const read = await ask("/api/demonstration/" + name + "?" + new URLSearchParams({ came: clock() }), { method: "POST" });
    if (!state.engine) await tell("first-engine");
    await show(read);
    await tell("list");
  });
}

async function forget() {
  const id = Number($("again").value);
  await doing("capture-error", () => remove("/api/captures/" + id));
  if (state.capture && state.capture.id === id) { clear(); await tell("capture"); }
  await tell("list");
}

on("session", (session) => {
  const held = $("again").value;
  $("again").replaceChildren(...session.captures.map((one) => option(String(one.id), named(one))));
  $("again").value = state.capture ? String(state.capture.id) : held;
  $("again-row").hidden = !session.captures.length;
  $("left").hidden = !session.left.length;
  $("left").textContent = "Left to make room in memory, the oldest first: " + session.left.join(", ") + ". Their results stay; drop them again if they are needed.";
});

export function begin() {
  const zone = $("drop");
  // Dropped anywhere, a file must not replace the page.
  ["dragover", "drop"].forEach((kind) => window.addEventListener(kind, (event) => event.preventDefault()));
  zone.addEventListener("dragover", () => zone.classList.add("over"));
  zone.addEventListener("dragleave", () => zone.classList.remove("over"));
  zone.addEventListener("drop", (event) => { zone.classList.remove("over"); drop(event.dataTransfer.files); });
  $("file").addEventListener("change", () => { const files = [...$("file").files]; $("file").value = ""; drop(files); });
  $("upload-cancel").addEventListener("click", () => upload && upload.abort());
  $("rate-go").addEventListener("click", () => file && take());
  $("again").addEventListener("change", () => doing("capture-error", async () => show(await ask("/api/captures/" + $("again").value))));
  $("forget").addEventListener("click", forget);
  for (const button of $("demonstration").querySelectorAll("button")) button.addEventListener("click", () => demonstrate(button.dataset.file));
}
