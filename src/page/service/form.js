// The short form that writes an engine file.
import { $, ask, make, option, send } from "/common.js";

let chosen = async () => {}; // what is done with an engine that was written
let beside = null; // the capture it is written beside
let taken = new Set(); // boxes of cams whose place was taken over from that capture

const CAM_FIELDS = [
  ["name", "Name", ""], ["bank", "Bank", "1"], ["shaft", "Shaft", ["intake", "exhaust", "single"]],
  ["same_as", "Same wheel as", "another camshaft"], ["later", "… standing later by", "degrees"],
  ["wheel", "Wheel", "0..30 90..150 250..265"], ["sensor", "Sensor", ["hall", "reluctance"]], ["at", "Its zero stands at", "degrees, if known"],
  ["rest", "Phaser rests", ["retarded", "advanced"]], ["travel", "Phaser travel", "empty for none"],
];
const field = (label, name, hint, values) => {
  const input = values ? make("select", {}, ...values.map((value) => option(value, value))) : make("input", { placeholder: hint });
  input.name = name;
  return make("label", {}, label, input);
};
const cams = () => [...$("form-cams").children];
const chains = () => [...$("form-chains").children];
const part = (box, name) => box.querySelector('[data-part="' + name + '"]');
const removal = (box, what) => {
  const remove = make("button", { type: "button", textContent: "Remove this " + what });
  remove.addEventListener("click", () => { box.remove(); renumber(); });
  return remove;
};

let boxes = 0;
function addCam(values = {}) {
  const drawing = make("div", { className: "drawing", id: "cam-drawing" + boxes++ });
  const fields = make("div", { className: "fields" });
  CAM_FIELDS.forEach(([name, label, kind]) => {
    const one = field(label, name, kind, Array.isArray(kind) ? kind : null);
    const input = one.lastChild;
    input.dataset.part = name;
    if (name === "wheel") { input.setAttribute("list", "wheels"); input.dataset.wheel = drawing.id; }
    if (name === "same_as") input.setAttribute("list", "shafts");
    if (name === "bank" || values[name] !== undefined) input.value = values[name] ?? "1";
    fields.append(one);
  });
  const box = make("div", { className: "cam withwheel" });
  box.append(make("div", {}, fields, removal(box, "camshaft")), drawing);
  part(box, "same_as").addEventListener("input", () => followsAnother(box));
  $("form-cams").append(box);
  renumber();
  followsAnother(box);
  if (values.wheel) drawWheel(part(box, "wheel"));
  return box;
}
// A camshaft that is the same as another one has no wheel to describe.
function followsAnother(box) {
  const follows = part(box, "same_as").value.trim() !== "";
  for (const name of ["wheel", "sensor", "at"]) part(box, name).closest("label").hidden = follows;
  part(box, "later").closest("label").hidden = !follows;
  if (follows) box.querySelector(".drawing").replaceChildren();
  else drawWheel(part(box, "wheel"));
}

function addChain(values = {}) {
  const box = make("div", { className: "cam" });
  const fields = make("div", { className: "fields" }, field("Name", "name", "primary"), field("Kind", "kind", "", ["chain", "belt", "gear"]));
  const rows = make("div", { className: "sprockets" });
  const add = make("button", { type: "button", textContent: "It drives another shaft" });
  add.addEventListener("click", () => { addSprocket(rows, {}); renumber(); });
  box.append(fields, rows, make("div", { className: "row" }, add, removal(box, "chain")));
  fields.querySelector("[name=name]").value = values.name || "";
  if (values.kind) fields.querySelector("[name=kind]").value = values.kind;
  addSprocket(rows, values.driver || {});
  (values.driven || [{}]).forEach((sprocket) => addSprocket(rows, sprocket));
  $("form-chains").append(box);
  renumber();
}
function addSprocket(rows, values) {
  const first = !rows.childElementCount;
  const row = make("div", { className: "sprocket" }, field(first ? "From the sprocket on" : "to the one on", "on", first ? "crank" : "a shaft"), field("teeth", "teeth", ""));
  row.querySelector("input").setAttribute("list", "shafts");
  row.querySelectorAll("input")[1].inputMode = "numeric";
  row.querySelector("input").value = values.on || "";
  row.querySelectorAll("input")[1].value = values.teeth || "";
  if (!first) row.append(removal(row, "shaft"));
  rows.append(row);
}

// Names of fields as the program names them in its answers, and the shafts there are to choose from.
function renumber() {
  cams().forEach((box, index) => box.querySelectorAll("[data-part]").forEach((input) => { input.name = "cam" + index + "_" + input.dataset.part; }));
  chains().forEach((box, index) => {
    const [name, kind, ...sprockets] = box.querySelectorAll("input, select");
    name.name = "chain" + index + "_name";
    kind.name = "chain" + index + "_kind";
    sprockets.forEach((input, at) => {
      const end = at < 2 ? "driver" : "driven" + (Math.floor(at / 2) - 1);
      input.name = "chain" + index + "_" + end + (at % 2 ? "_teeth" : "_on");
    });
  });
  shafts();
}
function shafts() {
  const named = cams().map((box) => part(box, "name").value.trim());
  const others = [...$("form-chains").querySelectorAll("[name$=_on]")].map((input) => input.value.trim());
  const all = [...new Set(["crank", ...named, ...others].filter(Boolean))];
  $("shafts").replaceChildren(...all.map((name) => option(name, name)));
}

// The usual drives, teeth left to be counted.
function usualDrive(kind) {
  const banks = new Map();
  cams().forEach((box) => {
    const bank = part(box, "bank").value.trim() || "1";
    banks.set(bank, [...(banks.get(bank) || []), part(box, "name").value.trim()].filter(Boolean));
  });
  const on = (names) => names.map((name) => ({ on: name }));
  const all = [...banks.values()].flat();
  const crank = { on: "crank" };
  let made = [{ name: "primary", driver: crank, driven: on(all) }];
  if (kind === "banks") made = [...banks].map(([bank, names]) => ({ name: "bank " + bank, driver: crank, driven: on(names) }));
  if (kind === "second") {
    made = [{ name: "primary", driver: crank, driven: on([...banks.values()].map((names) => names[0])) }];
    banks.forEach((names, bank) => { if (names.length > 1) made.push({ name: "second, bank " + bank, driver: { on: names[0] }, driven: on(names.slice(1)) }); });
  }
  if (kind === "idler") {
    made = [{ name: "primary", driver: crank, driven: [...banks.keys()].map((bank) => ({ on: "idler " + bank })) }];
    banks.forEach((names, bank) => made.push({ name: "bank " + bank, driver: { on: "idler " + bank }, driven: on(names) }));
  }
  $("form-chains").replaceChildren();
  made.forEach(addChain);
  const empty = $("form-chains").querySelector("[name$=_teeth]");
  if (empty) empty.focus();
}

// An empty form with what the capture shows of the engine.
function fillFrom(capture) {
  const fields = $("form-fields").elements;
  const seen = capture && capture.crank_wheel;
  if (seen) {
    fields.crank_wheel.value = seen.spec;
    fields.crank_sensor.value = seen.sensor;
    $("form-from").textContent = "The wheels are filled in from " + capture.name + " as its signals show them, to a degree or so. Check them.";
  }
  const found = (capture && capture.cam_wheels) || [];
  found.forEach((cam) => addCam({ name: cam.channel, wheel: cam.spec, sensor: cam.sensor, bank: cam.bank || "1", shaft: cam.shaft || "single" }));
  if (!found.length) addCam({ name: "B1 intake" });
}
// The fields of an engine there is.
function fillWith(engine) {
  const fields = $("form-fields").elements;
  for (const name of PLAIN) fields[name].value = engine.form[name];
  engine.form.cams.forEach((cam) => addCam(Object.fromEntries(Object.entries(cam).filter(([, value]) => value !== ""))));
  engine.form.chains.forEach(addChain);
}
function openForm(fill) {
  $("form-fields").reset();
  $("form-cams").replaceChildren();
  $("form-chains").replaceChildren();
  taken = new Set();
  for (const part of ["form-from", "places-words", "crank-drawing"]) $(part).replaceChildren();
  complain("", "");
  $("form-places").hidden = !beside;
  fill();
  drawWheel($("form-fields").elements.crank_wheel);
  $("form").showModal();
}

const typing = {};
function drawWheel(input) {
  const place = $(input.dataset.wheel);
  const spec = input.value.trim();
  clearTimeout(typing[place.id]);
  if (!spec) { place.replaceChildren(); return; }
  typing[place.id] = setTimeout(async () => {
    try {
      const wheel = await ask("/api/wheel?" + new URLSearchParams({ spec }));
      if (input.value.trim() !== spec) return;
      // Drawn by this program, which escapes every text in it.
      place.innerHTML = wheel.svg;
      place.firstElementChild.setAttribute("role", "img");
      place.firstElementChild.setAttribute("aria-label", "The wheel " + wheel.name + ", drawn: " + wheel.teeth + (wheel.teeth === 1 ? " tooth" : " teeth"));
      if (wheel.repeats > 1) place.append(make("p", { textContent: "Looks the same every " + (360 / wheel.repeats).toFixed(0) + "°." }));
      input.removeAttribute("aria-invalid");
    } catch (error) {
      if (input.value.trim() === spec) place.replaceChildren(make("p", { textContent: error.message }));
    }
  }, 150);
}

// Takes every message off the form, then puts one beside its field.
function complain(name, message) {
  const fields = $("form-fields");
  fields.querySelectorAll("[aria-invalid]").forEach((input) => { input.removeAttribute("aria-invalid"); input.removeAttribute("aria-describedby"); });
  fields.querySelectorAll(".error.beside").forEach((old) => old.remove());
  const wrong = name && fields.elements[name];
  $("form-error").textContent = wrong ? "" : message;
  if (!wrong) return;
  const said = make("span", { className: "error beside", id: "form-beside", role: "alert", textContent: message });
  wrong.closest("label").append(said);
  wrong.setAttribute("aria-invalid", "true");
  wrong.setAttribute("aria-describedby", said.id);
  wrong.focus();
}

const PLAIN = ["name", "firing_order", "bank1", "bank2", "crank_wheel", "crank_sensor", "crank_edge", "tdc", "tolerance"];

// The form as it is sent.
function written() {
  const value = (name) => $("form-fields").elements[name].value;
  const form = { cams: [], chains: [] };
  for (const name of PLAIN) form[name] = value(name);
  cams().forEach((box) => form.cams.push(Object.fromEntries(CAM_FIELDS.map(([name]) => [name, part(box, name).value]))));
  chains().forEach((box, index) => {
    const sprocket = (end) => ({ on: value("chain" + index + "_" + end + "_on"), teeth: value("chain" + index + "_" + end + "_teeth") });
    const driven = [...box.querySelectorAll(".sprocket")].slice(1).map((row, at) => sprocket("driven" + at));
    form.chains.push({ name: value("chain" + index + "_name"), kind: value("chain" + index + "_kind"), driver: sprocket("driver"), driven });
  });
  return form;
}

let asFile = false; // what was asked for when a question came up
async function saveForm(file, insisted = false) {
  asFile = file;
  complain("", "");
  $("form-ask").hidden = true;
  const capture = beside ? beside.id : null;
  const names = cams().filter((box) => taken.has(box)).map((box) => part(box, "name").value.trim());
  try {
    const answer = await send("/api/engines/form", { ...written(), capture, taken: names, insisted });
    complain(answer.field, answer.message || "");
    $("form-ask").hidden = !answer.asks;
    if (!answer.engine) return;
    $("form").close();
    await chosen(answer.engine);
    if (asFile) $("engine-save").click();
  } catch (error) {
    complain("", error.message);
  }
}

// What the capture measured, beside each place that may be typed: for comparison. Taken over, it judges nothing in this capture.
async function showPlaces() {
  complain("", "");
  document.querySelectorAll("#form-cams .measured").forEach((old) => old.remove());
  try {
    const places = await send("/api/places", { form: written(), capture: beside.id });
    $("places-words").textContent = "Measured in " + beside.name + ", for comparison only: a fault of this engine is in it.";
    cams().forEach((box, index) => {
      const field = part(box, "at");
      if (field.closest("label").hidden) return;
      const at = places[index] && places[index].at;
      const line = make("div", { className: "measured hint" }, at === null || at === undefined ? "This capture did not measure it." : "This capture: " + at.toFixed(1) + "° ");
      if (at !== null && at !== undefined) {
        const take = make("button", { type: "button", textContent: "Take it over", ariaLabel: "Take over " + at.toFixed(1) + "° for " + part(box, "name").value });
        take.addEventListener("click", () => {
          field.value = String(at);
          taken.add(box);
          line.textContent = "Taken over from this capture: in it this cam is not judged.";
        });
        line.append(take);
      }
      field.closest("label").after(line);
    });
  } catch (error) {
    complain("", error.message);
  }
}

$("form-close").addEventListener("click", () => $("form").close());
$("add-cam").addEventListener("click", () => part(addCam({ bank: "2" }), "name").focus());
$("add-chain").addEventListener("click", () => addChain({ driver: chains().length ? {} : { on: "crank" } }));
document.querySelectorAll("[data-drive]").forEach((button) => button.addEventListener("click", () => usualDrive(button.dataset.drive)));
$("form-fields").addEventListener("submit", (event) => { event.preventDefault(); saveForm(false); });
$("form-file").addEventListener("click", () => saveForm(true));
$("form-fields").addEventListener("input", (event) => { if (event.target.dataset.wheel) drawWheel(event.target); });
$("form-fields").addEventListener("change", shafts);
$("form-places").addEventListener("click", showPlaces);
$("form-insist").addEventListener("click", () => saveForm(asFile, true));
// A place that is typed anew is no longer the capture's.
$("form-cams").addEventListener("input", (event) => { if (event.target.dataset.part === "at") taken.delete(event.target.closest(".cam")); });

// Opens the form, filled with what a capture shows; `then` takes the engine.
export function writeEngine(capture, then) {
  [chosen, beside] = [then, capture];
  openForm(() => fillFrom(capture));
}
// Opens the form with an engine that is there.
export function editEngine(engine, capture, then) {
  [chosen, beside] = [then, capture];
  openForm(() => fillWith(engine));
}
