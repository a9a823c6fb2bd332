// Steps 2 and 3: the engine, the stretch, what is joined, and the measurement.
import { shows } from "/carrier.js";
import { $, ask, clock, complain, doing, drawing, make, named, number, on, openButton, option, remove, saveButton, send, state, tell } from "/common.js";
import { editEngine, writeEngine } from "/form.js";
import { leads, open, saidOf } from "/roles.js";

const SHELF = "shelf:"; // before the name of an engine that is still on the shelf

export const STATES = { in_time: "In time", jumped: "Timing has jumped", drive_due: "Timing drive is due", off_not_jumped: "Off, but not a jumped chain", does_not_fit: "The description does not fit", cannot_tell: "Cannot tell",
  even: "Compression even", cylinder_low: "One cylinder low", neighbours_low: "Two neighbours low", bank_low: "One bank low", uneven: "Compression uneven", withheld: "Compression not judged" };

let shelved = []; // engines on the shelf
let shownRun = null; // the run whose report stands

// 2. Engine

function showEngines(session) {
  const chosen = state.engine ? String(state.engine.id) : "";
  const called = session.engines.map((one) => one.name + (one.more ? " (shelf: " + one.more + ")" : ""));
  // Of one name, they are told apart by the order in which they came.
  const earlier = called.map((name, at) => called.slice(0, at).filter((other) => other === name).length);
  const held = session.engines.map((one, at) => option(String(one.id), called[at] + (earlier[at] ? ", " + (earlier[at] + 1) : "")));
  const taken = session.engines.map((one) => one.more);
  const others = shelved.filter((one) => !taken.includes(one.name)).map((one) => Object.assign(
    option(SHELF + one.name, one.name + (one.problem ? " (cannot be used)" : one.known ? " (known-good of " + one.known + ")" : "")), { disabled: !!one.problem, title: one.problem || "" }));
  $("engine").replaceChildren(option("", "No engine file: compare bank with bank"),
    ...(held.length ? [make("optgroup", { label: "In this session" }, ...held)] : []), ...(others.length ? [make("optgroup", { label: "On the shelf" }, ...others)] : []));
  $("engine").value = chosen;
}
on("session", showEngines);
on("shelf", (list) => { shelved = list.engines; if (state.session) showEngines(state.session); });
on("first-engine", async () => { const session = await ask("/api/session"); if (session.engines.length) await use(await ask("/api/engines/" + session.engines[0].id)); });
on("engine-file", openEngine);
on("known", (file) => doing("engine-error", async () => use(await ask("/api/known?" + new URLSearchParams({ name: file.name, engine: state.engine ? state.engine.id : 0 }), { method: "POST", body: file }))));

async function choose(value) {
  await doing("engine-error", async () => {
    if (value.startsWith(SHELF)) {
      await use(await send("/api/shelf/engine", { name: value.slice(SHELF.length) }));
      await tell("list");
    } else await use(value ? await ask("/api/engines/" + value) : null);
  });
}

export async function use(chosen) {
  state.engine = chosen;
  const save = $("engine-save");
  if (save.href) URL.revokeObjectURL(save.href);
  for (const part of ["engine-save", "form-edit", "text-edit", "engine-remove", "shelve-row"]) $(part).hidden = !chosen;
  $("undescribed").hidden = !!chosen;
  $("text-part").hidden = true;
  $("known-row").hidden = !(chosen && chosen.known);
  if (chosen) {
    save.href = URL.createObjectURL(new Blob([chosen.toml], { type: "application/toml" }));
    $("form-edit").hidden = !chosen.form;
    $("known-words").textContent = "Held against its known-good, learned from " + chosen.known + (chosen.known === 1 ? " engine." : " engines.");
    $("shelve-name").value = chosen.shelf || chosen.name.replace(/[^\p{L}\p{N} ._-]/gu, " ").trim().slice(0, 60);
    $("shelve-row").hidden = !!chosen.shelf;
    $("engine").value = String(chosen.id);
  } else $("engine").value = "";
  await tell("engine");
  follow();
}

async function openEngine(file) {
  await doing("engine-error", async () => {
    await use(await ask("/api/engines?" + new URLSearchParams({ name: file.name }), { method: "POST", body: file }));
    await tell("list");
  });
}

async function removeEngine() {
  const id = state.engine.id;
  await doing("engine-error", async () => { await remove("/api/engines/" + id); await use(null); await tell("list"); });
}

function useText() {
  return doing("engine-error", async () => {
    await use(await ask("/api/engines?" + new URLSearchParams({ name: "the text" }), { method: "POST", body: $("engine-text").value }));
    await tell("list");
  });
}

// Which engine of the shelf a capture is likely of.
on("capture", async () => {
  $("likely").hidden = true;
  const capture = state.capture;
  if (!capture || !shelved.length) return;
  const names = await ask("/api/shelf/likely/" + capture.id).catch(() => []);
  if (capture !== state.capture || !names.length) return;
  $("likely").replaceChildren("By its wheels it is likely: ", ...names.flatMap((name) => {
    const button = make("button", { type: "button", textContent: name });
    button.addEventListener("click", () => choose(SHELF + name));
    return [button, " "];
  }));
  $("likely").hidden = false;
});

// A part of the capture, and others joined to it

on("capture", () => {
  const capture = state.capture;
  $("stretch-part").hidden = !capture;
  if (!capture) return;
  const first = capture.channels.find((channel) => channel.guess === "crank") || capture.channels[0];
  const svg = drawing([first.trace], "The whole capture on " + first.name + ", " + capture.seconds.toFixed(2) + " s: drag over it to use a part");
  const mark = make("div", { className: "mark", hidden: true });
  const area = make("div", { className: "stretch" }, svg, mark);
  $("stretch-drawing").replaceChildren(area);
  const at = (event) => {
    const box = area.getBoundingClientRect();
    return capture.first + capture.seconds * Math.min(1, Math.max(0, (event.clientX - box.left) / box.width));
  };
  const show = () => {
    const [from, to] = ["from", "to"].map((id) => number($(id).value));
    const [a, b] = [Number.isFinite(from) ? from : capture.first, Number.isFinite(to) ? to : capture.first + capture.seconds];
    mark.hidden = !($("from").value || $("to").value);
    mark.style.left = 100 * (a - capture.first) / capture.seconds + "%";
    mark.style.width = Math.max(0, 100 * (b - a) / capture.seconds) + "%";
  };
  let start = null;
  area.addEventListener("pointerdown", (event) => { start = at(event); area.setPointerCapture && event.isTrusted && area.setPointerCapture(event.pointerId); });
  area.addEventListener("pointermove", (event) => {
    if (start === null) return;
    const ends = [start, at(event)].sort((a, b) => a - b);
    [$("from").value, $("to").value] = ends.map((second) => second.toFixed(3));
    show();
  });
  ["pointerup", "pointercancel"].forEach((kind) => area.addEventListener(kind, () => { start = null; }));
  ["from", "to"].forEach((id) => { $(id).oninput = show; });
  $("whole").onclick = () => { $("from").value = $("to").value = ""; show(); };
  show();
});

function others(session) {
  const ticked = joined();
  const rest = session.captures.filter((one) => !state.capture || one.id !== state.capture.id);
  $("join-part").hidden = !rest.length || !state.capture;
  $("join").replaceChildren(...rest.map((one) => make("label", { className: "tick" }, Object.assign(make("input", { type: "checkbox", value: String(one.id) }), { checked: ticked.includes(one.id) }), " " + named(one) + readAs(one))));
}
// As what the columns of a joined capture are read.
function readAs(one) {
  const roles = saidOf(one.id).map((lead) => lead.name);
  return roles.length ? ": " + roles.join(", ") : ": by the names of its columns";
}
const joined = () => [...$("join").querySelectorAll("input:checked")].map((tick) => Number(tick.value));
on("session", others);
on("capture", () => state.session && others(state.session));
on("ready", () => state.session && others(state.session));

// 3. Measure

// Why nothing can be measured yet; empty when it can.
function why() {
  if (state.running !== null) return "A measurement is running.";
  if (!state.capture) return "First drop a capture, or take one of the demonstration.";
  const still = open();
  if (still) return still;
  const names = leads().map((lead) => lead.name);
  const clamp = names.some((name) => name === "starter" || name === "battery" || name.startsWith("pressure"));
  if (!names.includes("crank") && !(state.engine && clamp)) return "Say in step 1 which column is the crank.";
  return "";
}
function ready() {
  const open = why();
  $("run").disabled = !!open;
  $("why").textContent = open;
}
on("ready", ready);

// What was found before must not stand beside a capture it is not of.
function nothingStands() {
  $("report-part").hidden = true;
  shownRun = null;
  for (const part of ["finding", "finding-words", "finding-notes", "downloads", "kept"]) $(part).replaceChildren();
  delete $("finding").dataset.state;
}

on("stale", nothingStands);

const asked = () => ({ engine: state.engine ? state.engine.id : null, capture: state.capture.id, leads: leads() });

// What follows in a watched folder is read alike.
function follow() {
  if (!state.session || !state.session.watched) return;
  const { engine, capture, leads } = state.capture ? asked() : { engine: state.engine && state.engine.id, capture: null, leads: [] };
  send("/api/watch", { engine, capture, leads }).catch((error) => complain("engine-error", error));
}

async function run() {
  complain("run-error");
  const job = {};
  for (const name of ["number", "vehicle", "mileage", "technician", "date"]) job[name] = $("job-" + name).value;
  const codes = $("job-codes").value.split(/[\s,;]+/).filter(Boolean);
  const figures = (id) => $(id).value.split(";").map((one) => one.trim()).filter(Boolean);
  const typed = { phasers: figures("job-phasers"), learned: figures("job-learned"), after_repair: $("job-repair").checked, from: $("from").value, to: $("to").value,
    firing: state.engine ? "" : $("firing").value, banks: state.engine ? "" : $("banks").value, join: joined(), join_leads: joined().map((capture) => ({ capture, leads: saidOf(capture) })), came: clock() };
  nothingStands();
  try {
    follow();
    const started = await send("/api/runs", { ...asked(), codes, ...typed, job });
    state.running = started.id;
    ready();
    $("run-cancel").hidden = false;
    await watch(started);
  } catch (error) {
    failed(error);
  }
}

// A failure stands beside Measure, and what would mend it is opened and gets the keyboard.
function failed({ message, fields = [] }) {
  $("run-error").textContent = message;
  const places = { stretch: ["stretch-part", "from"], codes: ["job-part", "job-codes"], phasers: ["job-part", "job-phasers"], firing: [null, "firing"], banks: [null, "banks"], leads: [null, "role0"], engine: [null, "engine"] };
  const place = fields.map((field) => places[field]).find(Boolean);
  if (!place || !$(place[1])) return;
  if (place[0]) $(place[0]).open = true;
  $(place[1]).setAttribute("aria-describedby", "run-error");
  $(place[1]).focus();
}

async function watch(run) {
  let now = run;
  try {
    while (now.state === "working") {
      $("run-words").textContent = now.message + " …";
      $("run-bar").hidden = false;
      $("run-bar").value = now.share;
      await new Promise((done) => setTimeout(done, 150));
      now = await ask("/api/runs/" + run.id);
    }
  } catch (error) {
    now = { state: "failed", message: error.message };
  }
  state.running = null;
  $("run-bar").hidden = true;
  $("run-cancel").hidden = true;
  $("run-words").textContent = now.state === "cancelled" ? "Cancelled." : "";
  ready();
  if (now.state === "failed") failed(now);
  if (now.state === "done") showReport(now);
  await tell("list");
}

export function showReport(run) {
  shownRun = run;
  $("report-part").hidden = false;
  $("finding").textContent = STATES[run.finding.state] + ". " + run.capture;
  $("finding").dataset.state = run.finding.state;
  $("finding-words").textContent = run.finding.sentence;
  $("finding-notes").replaceChildren(...run.finding.notes.map((text) => make("li", { textContent: text })));
  const base = "/runs/" + run.id + "/";
  shows($("report"), base + "report");
  const link = (text, name) => saveButton(text, base + name, name);
  const own = openButton("Open to print", base + "report");
  const pictures = make("details", {}, make("summary", { textContent: "Pictures" }),
    make("div", { className: "row" }, ...run.pictures.flatMap((name) => ["svg", "png"].map((end) => link(name + " " + end.toUpperCase(), name + "." + end)))));
  $("downloads").replaceChildren(own, link("Save report", "report.html"), link("Save result (JSON)", "result.json"), pictures);
  $("keep-row").hidden = !(state.session && state.session.shelf);
  $("keep").disabled = run.job !== null;
  $("kept").textContent = run.job !== null ? "Kept as job " + run.job + "." : "";
  complain("keep-error");
  $("h-report").focus({ preventScroll: true });
  $("report-part").scrollIntoView({ block: "start" });
}
on("gone", (id) => { if (shownRun && shownRun.id === id) nothingStands(); });

function keep() {
  const run = shownRun;
  return doing("keep-error", async () => {
    const { job } = await send("/api/shelf/jobs", { run: run.id });
    run.job = job;
    $("keep").disabled = true;
    $("kept").textContent = "Kept as job " + job + ".";
    await tell("shelved");
  });
}

export function begin() {
  $("engine").addEventListener("change", () => choose($("engine").value));
  $("engine-file").addEventListener("change", () => { const file = $("engine-file").files[0]; $("engine-file").value = ""; if (file) openEngine(file); });
  const written = async (engine) => { await use(engine); await tell("list"); };
  $("form-open").addEventListener("click", () => writeEngine(state.capture, written));
  $("form-edit").addEventListener("click", () => editEngine(state.engine, state.capture, written));
  $("text-edit").addEventListener("click", () => { $("engine-text").value = state.engine.toml; $("text-part").hidden = false; $("engine-text").focus(); });
  $("text-use").addEventListener("click", useText);
  $("text-close").addEventListener("click", () => { $("text-part").hidden = true; $("text-edit").focus(); });
  $("engine-remove").addEventListener("click", removeEngine);
  $("known-forget").addEventListener("click", () => doing("engine-error", async () => use(await remove("/api/engines/" + state.engine.id + "/known"))));
  $("shelve").addEventListener("click", () => doing("engine-error", async () => {
    await use(await send("/api/shelf/engines", { engine: state.engine.id, name: $("shelve-name").value }));
    await tell("shelved");
    await tell("list");
  }));
  $("layout").addEventListener("change", () => { const [order, banks] = $("layout").value.split("|"); $("firing").value = order || ""; $("banks").value = banks || ""; });
  $("run").addEventListener("click", run);
  $("run-cancel").addEventListener("click", () => state.running !== null && remove("/api/runs/" + state.running + "/cancel").catch(() => {}));
  $("keep").addEventListener("click", keep);
  on("session", (session) => {
    if ($("layout").options.length > 1) return;
    $("layout").append(...session.layouts.map(([count, order, banks]) => option(order + "|" + banks, count + " cylinders: " + order + (banks ? ", banks " + banks : ""))));
  });
}
