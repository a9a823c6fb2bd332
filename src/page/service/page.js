// The page: drop, name, choose, measure, read. Every text from a file is put in as text, never as markup.
import { shows } from "/carrier.js";
import { $, ask, make, openButton, option, saveButton, send } from "/common.js";
import { writeEngine } from "/form.js";

let capture = null; // the capture shown
let engine = null; // the engine chosen
let file = null; // the file last dropped, to be read again with a rate
let upload = null; // a running upload
let running = null; // number of the running measurement
let maxUpload = Infinity;
let toRaise = ""; // how a larger upload is allowed

const megabytes = (bytes) => (bytes / 1e6).toFixed(bytes < 1e7 ? 1 : 0) + " MB";

// 1. Capture

function drop(chosen) {
  if (!chosen) return;
  file = chosen;
  read();
}

function read(rate) {
  $("capture-error").textContent = "";
  $("rate-row").hidden = true;
  if (file.size > maxUpload) {
    $("capture-error").textContent = file.name + " has " + megabytes(file.size) + ", more than the " + megabytes(maxUpload) +
      " this page takes. Export a shorter capture" + (toRaise && ", or " + toRaise) + ".";
    return;
  }
  if (upload) upload.abort();
  take(upload = new AbortController(), rate);
}

// Hands the file over and shows what comes of it; `mine` is this upload, until another one takes its place.
async function take(mine, rate) {
  const taken = file;
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
  const about = new URLSearchParams({ name: taken.name, reading: number });
  if (rate) about.set("rate", rate);
  try {
    const read = await ask("/api/captures?" + about, { method: "POST", body: taken, sent, signal: mine.signal });
    if (upload !== mine) return;
    showCapture(read);
    showList().catch(() => {});
  } catch (error) {
    if (error.name === "AbortError") {
      ask("/api/readings/" + number, { method: "DELETE" }).catch(() => {});
      if (upload === mine) $("capture-about").textContent = "Cancelled.";
    } else if (upload === mine) {
      $("capture-error").textContent = error.message;
      $("rate-row").hidden = !(error.fields || []).includes("rate");
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

function showCapture(read) {
  capture = read;
  $("capture-error").textContent = "";
  $("capture-about").textContent = read.name + ": " + read.seconds.toFixed(2) + " s, " + read.rows.toLocaleString("en") + " rows, " + read.kind +
    (read.rate ? ", " + Math.round(read.rate).toLocaleString("en") + " per second" : "");
  $("capture-wheel").textContent = read.crank_wheel
    ? "The crank wheel looks like " + read.crank_wheel.spec + ", on “" + read.crank_wheel.channel + "”."
    : "The crank wheel is not recognised: " + read.doubt + ".";
  $("again").value = String(read.id);
  showChannels();
}

async function takeAgain(id) {
  try {
    showCapture(await ask("/api/captures/" + id));
  } catch (error) {
    $("capture-error").textContent = error.message;
  }
}

// A capture of the demonstration, held against the demonstration's engine when no other is chosen.
async function demonstrate(name) {
  if (upload) upload.abort();
  try {
    const read = await ask("/api/demonstration/" + name, { method: "POST" });
    const { engines } = await showEngines();
    if (!engine && engines.length) use(await ask("/api/engines/" + engines[0].id));
    $("engine").value = engine ? String(engine.id) : "";
    showCapture(read);
    showList().catch(() => {});
  } catch (error) {
    $("capture-error").textContent = error.message;
  }
}

async function forget() {
  const id = Number($("again").value);
  await ask("/api/captures/" + id, { method: "DELETE" }).catch((error) => { $("capture-error").textContent = error.message; });
  if (capture && capture.id === id) {
    capture = null;
    for (const part of ["capture-about", "capture-wheel", "channels"]) $(part).replaceChildren();
    ready();
  }
  await showList().catch(() => {});
}

function roles() {
  return engine ? engine.roles : ["crank", "starter", "battery"];
}

// Which role each channel gets before the user says otherwise: the library's one rule, which deals nothing out. Without an
// engine there are no cams to choose from yet.
async function suggested() {
  if (engine) return ask("/api/leads?" + new URLSearchParams({ capture: capture.id, engine: engine.id }));
  return capture.channels.map((channel) => ({ role: roles().includes(channel.guess) ? channel.guess : "", sure: true, open: [] }));
}

async function showChannels() {
  const list = $("channels");
  const [shown, by] = [capture, engine];
  let suggestions = [];
  if (capture) {
    try {
      suggestions = await suggested();
    } catch (error) {
      $("capture-error").textContent = error.message;
      suggestions = capture.channels.map(() => ({ role: "", sure: true, open: [] }));
    }
  }
  // Another capture or engine was chosen while this one was asked about.
  if (shown !== capture || by !== engine) return;
  list.replaceChildren();
  if (!capture) return;
  capture.channels.forEach((channel, index) => {
    const guess = (channel.guess ? "looks like " + channel.guess : "not recognised") + ": " + channel.reason;
    const choice = make("select", { id: "role" + index, ariaLabel: "Role of " + channel.name });
    choice.append(option("", "not used"), ...roles().map((role) => option(role, role)));
    if (!engine && channel.guess === "cam") choice.append(option("cam", "a cam; choose an engine"));
    const suggestion = suggestions[index];
    choice.value = suggestion.role || (!engine && channel.guess === "cam" ? "cam" : "");
    const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    svg.setAttribute("viewBox", "-1 -6 262 112");
    svg.setAttribute("preserveAspectRatio", "none");
    svg.setAttribute("role", "img");
    svg.setAttribute("aria-label", "Signal of " + channel.name);
    const outline = document.createElementNS("http://www.w3.org/2000/svg", "polygon");
    outline.setAttribute("points", channel.trace);
    svg.append(outline);
    const name = make("div", { className: "name" }, make("b", { textContent: channel.name }),
      make("small", { textContent: "column " + channel.column + ", " + channel.low.toPrecision(3) + " to " + channel.high.toPrecision(3) + " " + channel.unit + "; " + guess }));
    const scale = make("label", { className: "scale" }, "Clamp, amperes per volt ", make("input", { id: "scale" + index, size: 6, inputMode: "decimal" }));
    const showScale = () => { scale.hidden = choice.value !== "starter" || channel.unit !== "V"; };
    const box = make("div", { className: "channel" }, name, choice, svg, scale);
    const settled = () => { box.classList.remove("unsure"); if (box.querySelector(".guess")) box.querySelector(".guess").remove(); };
    if (suggestion.role && !suggestion.sure) {
      const tick = make("input", { type: "checkbox", id: "confirm" + index });
      tick.addEventListener("change", () => { settled(); ready(); choice.focus(); });
      box.classList.add("unsure");
      box.append(make("label", { className: "guess" }, tick, " A guess. Follow the lead to its sensor: it is “" + suggestion.role + "”"));
    } else if (suggestion.open.length) {
      box.append(make("p", { className: "hint guess", textContent: "Not used until you say which it is: " + suggestion.open.join(", ") + "." }));
    }
    choice.addEventListener("change", () => { settled(); showScale(); ready(); });
    showScale();
    list.append(box);
  });
  ready();
}

// 2. Engine

async function showEngines() {
  const session = await ask("/api/session");
  const chosen = engine ? String(engine.id) : $("engine").value;
  $("engine").replaceChildren(option("", "Choose an engine"), ...session.engines.map((one) => option(String(one.id), one.name)));
  $("engine").value = chosen;
  return session;
}

async function choose(id) {
  $("engine-error").textContent = "";
  try {
    use(id ? await ask("/api/engines/" + id) : null);
  } catch (error) {
    $("engine-error").textContent = error.message;
  }
}

function use(chosen) {
  engine = chosen;
  const save = $("engine-save");
  if (save.href) URL.revokeObjectURL(save.href);
  save.hidden = !engine;
  if (engine) save.href = URL.createObjectURL(new Blob([engine.toml], { type: "application/toml" }));
  showChannels();
  ready();
}

async function openEngine(chosen) {
  if (!chosen) return;
  $("engine-error").textContent = "";
  try {
    const added = await ask("/api/engines?" + new URLSearchParams({ name: chosen.name }), { method: "POST", body: chosen });
    use(added);
    await showEngines();
  } catch (error) {
    $("engine-error").textContent = error.message;
  }
}

// 3. Measure

function ready() {
  const unsure = document.querySelectorAll("#channels .unsure").length;
  $("run").disabled = !capture || !engine || running !== null || unsure > 0;
}

async function run() {
  $("run-error").textContent = "";
  const leads = [];
  capture.channels.forEach((channel, index) => {
    const role = $("role" + index).value;
    if (!role) return;
    const scale = parseFloat($("scale" + index).value.replace(",", "."));
    leads.push({ name: role, column: channel.column, amperes_per_volt: role === "starter" && Number.isFinite(scale) ? scale : null });
  });
  const job = {};
  for (const name of ["number", "vehicle", "mileage", "technician", "date"]) job[name] = $("job-" + name).value;
  const codes = $("job-codes").value.split(/[\s,;]+/).filter(Boolean);
  const figures = (id) => $(id).value.split(";").map((one) => one.trim()).filter(Boolean);
  const typed = { phasers: figures("job-phasers"), learned: figures("job-learned"), after_repair: $("job-repair").checked };
  try {
    const started = await send("/api/runs", { capture: capture.id, engine: engine.id, leads, codes, ...typed, job });
    running = started.id;
    ready();
    $("run-cancel").hidden = false;
    watch(started);
  } catch (error) {
    $("run-error").textContent = error.message;
  }
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
  running = null;
  $("run-bar").hidden = true;
  $("run-cancel").hidden = true;
  $("run-words").textContent = now.state === "cancelled" ? "Cancelled." : "";
  ready();
  if (now.state === "failed") $("run-error").textContent = now.message;
  if (now.state === "done") showReport(now);
  showList().catch(() => {});
}

const STATES = { in_time: "In time", jumped: "Timing has jumped", drive_due: "Timing drive is due", off_not_jumped: "Off, but not a jumped chain", does_not_fit: "The description does not fit", cannot_tell: "Cannot tell",
  even: "Compression even", cylinder_low: "One cylinder low", neighbours_low: "Two neighbours low", bank_low: "One bank low", uneven: "Compression uneven", withheld: "Compression not judged" };

function showReport(run) {
  $("report-part").hidden = false;
  $("finding").textContent = STATES[run.finding.state] + ". " + run.capture;
  $("finding").dataset.state = run.finding.state;
  $("finding-words").textContent = run.finding.sentence;
  const base = "/runs/" + run.id + "/";
  shows($("report"), base + "report");
  const link = (text, name) => saveButton(text, base + name, name);
  const own = openButton("Open to print", base + "report");
  const pictures = make("details", {}, make("summary", { textContent: "Pictures" }),
    make("div", { className: "row" }, ...run.pictures.flatMap((name) => ["svg", "png"].map((end) => link(name + " " + end.toUpperCase(), name + "." + end)))));
  $("downloads").replaceChildren(own, link("Save report", "report.html"), link("Save result (JSON)", "result.json"), pictures);
}

// This session

async function showList() {
  const session = await showEngines();
  maxUpload = session.max_upload;
  toRaise = session.to_raise;
  const held = $("again").value;
  $("again").replaceChildren(...session.captures.map((one) => option(String(one.id), one.name)));
  $("again").value = capture ? String(capture.id) : held;
  $("again-row").hidden = !session.captures.length;
  const done = session.runs.filter((run) => run.state === "done");
  $("list").hidden = !done.length;
  $("list-empty").hidden = !!done.length;
  $("list").querySelector("tbody").replaceChildren(...done.map((run) => {
    const read = make("button", { type: "button", textContent: "Read", ariaLabel: "Read the report of " + run.capture });
    read.addEventListener("click", () => showReport(run));
    const cams = run.finding.cams.map((cam) => cam.cam + " " + cam.off).join("; ");
    const row = make("tr", {}, ...[run.capture, run.engine, STATES[run.finding.state], cams, read].map((cell) => make("td", {}, cell)));
    row.dataset.run = run.id;
    row.dataset.state = run.finding.state;
    return row;
  }));
  pairs(done);
}

// Two measurements to hold against each other: the first and the last, until somebody chooses.
function pairs(done) {
  $("compare").hidden = done.length < 2;
  [["before", 0], ["after", done.length - 1]].forEach(([name, usual]) => {
    const chosen = $(name).dataset.chosen && $(name).value;
    $(name).replaceChildren(...done.map((run, index) => option(String(run.id), (index + 1) + ". " + run.capture + ": " + STATES[run.finding.state])));
    $(name).value = chosen || (done.length ? String(done[usual].id) : "");
  });
}

async function compare(inOrder) {
  $("compare-error").textContent = "";
  $("compare-anyway").hidden = true;
  $("compared").replaceChildren();
  const [before, after] = [$("before").value, $("after").value];
  try {
    const found = await ask("/api/compare?" + new URLSearchParams({ before, after, in_order: !!inOrder }));
    $("compare-error").textContent = found.message;
    $("compare-anyway").hidden = !found.wrong_way_round;
    if (found.table) showComparison(found.table, "/compare/" + before + "/" + after + "/");
  } catch (error) {
    $("compare-error").textContent = error.message;
  }
}

function showComparison(table, base) {
  const line = (tag, cells) => make("tr", {}, ...cells.map((cell) => make(tag, { textContent: cell })));
  const rows = table.cams.map((cam) => line("td", [cam.cam, cam.before, cam.after, cam.moved, cam.back]));
  const finding = make("p", { className: "finding" }, make("b", { textContent: table.title + ". " }), table.sentence);
  finding.dataset.outcome = table.outcome;
  const parts = [finding, make("div", { className: "wide" }, make("table", {},
    make("thead", {}, line("th", ["Measured", "Before", "After", "Moved", "Back in tolerance?"])), make("tbody", {}, ...rows)))];
  if (table.compression) parts.push(make("p", { textContent: "Compression, bank against bank. Before: " + table.compression[0] + ". After: " + table.compression[1] + ". " + table.compression[2] }));
  if (table.differences.length) parts.push(make("p", { textContent: "The two captures differ:" }), make("ul", {}, ...table.differences.map((text) => make("li", { textContent: text }))));
  parts.push(make("div", { className: "row" }, openButton("Open the sheet to sign", base + "sheet"),
    saveButton("Save it", base + "sheet.html", "before-after.html"), saveButton("Save as JSON", base + "comparison.json", "comparison.json")));
  $("compared").replaceChildren(...parts);
}

// Hands

const zone = $("drop");
// Dropped anywhere, a file must not replace the page.
["dragover", "drop"].forEach((kind) => window.addEventListener(kind, (event) => event.preventDefault()));
zone.addEventListener("dragover", () => zone.classList.add("over"));
zone.addEventListener("dragleave", () => zone.classList.remove("over"));
zone.addEventListener("drop", (event) => { zone.classList.remove("over"); drop(event.dataTransfer.files[0]); });
const chosenOnce = (input, then) => input.addEventListener("change", () => { then(input.files[0]); input.value = ""; });
chosenOnce($("file"), drop);
chosenOnce($("engine-file"), openEngine);
$("upload-cancel").addEventListener("click", () => upload && upload.abort());
$("rate-go").addEventListener("click", () => read($("rate").value.replace(",", ".").replace(/\s/g, "")));
$("engine").addEventListener("change", () => choose($("engine").value));
$("form-open").addEventListener("click", () => writeEngine(capture, async (written) => { use(written); await showEngines(); }));
$("again").addEventListener("change", () => takeAgain($("again").value));
$("forget").addEventListener("click", forget);
for (const button of $("demonstration").querySelectorAll("button")) button.addEventListener("click", () => demonstrate(button.dataset.file));
["before", "after"].forEach((name) => $(name).addEventListener("change", () => { $(name).dataset.chosen = "yes"; }));
$("compare-go").addEventListener("click", () => compare(false));
$("compare-anyway").addEventListener("click", () => compare(true));
$("run").addEventListener("click", run);
$("run-cancel").addEventListener("click", () => running !== null && ask("/api/runs/" + running + "/cancel", { method: "DELETE" }).catch(() => {}));
window.addEventListener("focus", () => showList().catch(() => {}));
showList().catch((error) => { $("capture-error").textContent = error.message; });
