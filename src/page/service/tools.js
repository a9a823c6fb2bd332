// The shelf, and what is needed less often: hook-up sheet, learning, practice.
import { $, ask, clock, complain, doing, make, named, on, openButton, option, saveButton, send, state, tell, textButton, underHead } from "/common.js";
import { STATES, use } from "/measure.js";
import { leads } from "/roles.js";

// The shelf

async function showShelf() {
  if (!state.session || !state.session.shelf) return;
  $("shelf-part").hidden = false;
  await doing("shelf-error", async () => {
    const list = await ask("/api/shelf");
    await tell("shelf", list);
    const jobs = await ask("/api/shelf/jobs");
    $("shelf-words").textContent = list.place + ": " + (list.engines.length || "no") + (list.engines.length === 1 ? " engine, " : " engines, ") +
      (jobs.count || "no") + (jobs.count === 1 ? " job." : " jobs.") + (jobs.count > jobs.jobs.length ? " The last " + jobs.jobs.length + " are listed." : "") + " Nothing is sent anywhere.";
    $("jobs").hidden = !jobs.jobs.length;
    $("jobs").querySelector("tbody").replaceChildren(...jobs.jobs.map((job) => {
      const was = { right: "right", wrong: "NOT SO", open: "open" }[job.was];
      const line = make("tr", {}, ...[job.number + (job.vehicle ? ", " + job.vehicle : ""), job.engine, (STATES[job.finding] || job.finding) + " (" + job.odds + ")",
        (was ? was + (job.outcome ? ": " : "") : "") + job.outcome].map((text, at) => underHead($("jobs"), at, make("td", { textContent: text }))));
      line.dataset.was = job.was;
      return line;
    }));
    $("outcome-part").hidden = !jobs.jobs.length;
    const chosen = $("outcome-job").value;
    $("outcome-job").replaceChildren(...jobs.jobs.map((job) => option(String(job.number), job.number + ". " + job.engine + (job.vehicle ? ", " + job.vehicle : ""))));
    if (chosen) $("outcome-job").value = chosen;
    $("record").replaceChildren(...(jobs.count ? jobs.record : []).concat(jobs.broken).map((text) => make("li", { textContent: text })));
  });
}
on("shelved", showShelf);

// Asked once, so that a shelf too large for one file is said here and nothing else is saved under its name.
function saveShelf() {
  const [address, name] = ["/shelf/camwitness-shelf.tar.gz", "camwitness-shelf.tar.gz"];
  return doing("shelf-error", async () => {
    await ask(address);
    saveButton("", address, name).click();
  });
}

// Joins a shelf that came as one file with this one.
function addShelf() {
  const file = $("shelf-file").files[0];
  $("shelf-said").textContent = "";
  if (!file) return undefined;
  return doing("shelf-error", async () => {
    const { said } = await ask("/api/shelf/file?" + new URLSearchParams({ name: file.name }), { method: "POST", body: file });
    await showShelf();
    $("shelf-said").textContent = said;
  }).finally(() => { $("shelf-file").value = ""; });
}

function outcome() {
  return doing("outcome-error", async () => {
    const was = $("outcome-was").value;
    const { said } = await send("/api/shelf/outcomes", { job: Number($("outcome-job").value), text: $("outcome-text").value, right: was ? was === "right" : null, sound: $("outcome-sound").checked });
    $("outcome-said").textContent = said;
    $("outcome-text").value = "";
    $("outcome-sound").checked = false;
    await showShelf();
  });
}

// Every tool but the list needs an engine.
function chosen() {
  if (!state.engine) throw new Error("Choose the engine in step 2 first.");
  return state.engine;
}

function plan() {
  return doing("plan-error", async () => {
    const about = new URLSearchParams();
    for (const [name, id] of [["channels", "plan-channels"], ["rpm", "plan-rpm"], ["accuracy", "plan-accuracy"]]) about.set(name, $(id).value);
    const address = "/plan/" + chosen().id + "?" + about;
    // Asked once, so that a number that cannot be is said here and not in another window.
    $("plan-links").querySelectorAll("a").forEach((old) => old.remove());
    await ask(address);
    $("plan-links").append(openButton("Open to print", address));
  });
}

// Learning

on("session", (session) => {
  const ticked = [...$("learn-captures").querySelectorAll("input:checked")].map((tick) => Number(tick.value));
  $("learn-captures").replaceChildren(...session.captures.map((one) => make("label", { className: "tick" },
    Object.assign(make("input", { type: "checkbox", value: String(one.id) }), { checked: ticked.includes(one.id) }), " " + named(one))));
});

function learn() {
  return doing("learn-error", async () => {
    $("learned").textContent = "";
    $("learn-row").querySelectorAll("a").forEach((old) => old.remove());
    const captures = [...$("learn-captures").querySelectorAll("input:checked")].map((tick) => Number(tick.value));
    const engine = chosen();
    const learned = await send("/api/learn", { engine: engine.id, captures, leads: leads(), several_engines: $("learn-several").checked, accept_faulty: $("learn-anyway").checked });
    $("learned").textContent = learned.text + (learned.on_shelf ? "\nWritten to the shelf." : "");
    $("learn-row").append(textButton("Save the known-good", learned.file, learned.name, "application/toml"));
    await use(await ask("/api/engines/" + engine.id));
    if (learned.on_shelf) await tell("shelved");
  });
}

// Practice

on("engine", async () => {
  const engine = state.engine;
  const faults = engine ? await ask("/api/engines/" + engine.id + "/faults").catch(() => []) : [];
  if (engine !== state.engine) return;
  $("practice-fault").replaceChildren(option("", "none: a sound engine"), ...faults.map((one) => option(one.fault, one.words)));
});

function practice() {
  return doing("practice-error", async () => {
    $("practice-row").querySelectorAll("a, span").forEach((old) => old.remove());
    const made = await send("/api/practice", { engine: chosen().id, faults: $("practice-fault").value, preset: $("practice-preset").value, seed: $("practice-seed").value, leads: $("practice-leads").value, came: clock() });
    $("practice-row").append(textButton("Save the capture", made.csv, made.name, "text/csv"), textButton("Save what was done", made.truth, made.truth_name, "application/json"),
      make("span", { textContent: "It is in this session as " + made.name + "." }));
    await tell("list");
  });
}

export async function begin() {
  $("plan-go").addEventListener("click", plan);
  $("learn-go").addEventListener("click", learn);
  $("practice-go").addEventListener("click", practice);
  $("outcome-go").addEventListener("click", outcome);
  $("shelf-save").addEventListener("click", saveShelf);
  $("shelf-file").addEventListener("change", addShelf);
  document.documentElement.classList.toggle("no-shelf", !(state.session && state.session.shelf));
  await showShelf();
}
