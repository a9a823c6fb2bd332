// What was measured in this session, before and after held against each other, and the watched folder.
import { $, ask, complain, make, on, openButton, option, remove, saveButton, state, tell, underHead } from "/common.js";
import { STATES, showReport } from "/measure.js";

// How often the session is asked while a folder is watched.
const PAUSE = 1500;

let last = ""; // the session as it was last shown

async function showList(always = true) {
  const session = await ask("/api/session");
  const about = JSON.stringify(session);
  // Shown anew, a list takes the keyboard away from whoever stands on one of its buttons.
  if (!always && about === last) return;
  last = about;
  state.session = session;
  await tell("session", session);
  const done = session.runs.filter((run) => run.state === "done");
  const failed = session.runs.filter((run) => run.state === "failed" && run.watched);
  $("list").hidden = !done.length && !failed.length;
  $("list-empty").hidden = !$("list").hidden;
  $("list").querySelector("tbody").replaceChildren(...[...done, ...failed].map(row));
  if (session.watched) $("watch-refused").replaceChildren(...session.watched.refused.map((text) => make("li", { textContent: text })));
  pairs(done);
}

function row(run) {
  const cells = [run.capture + (run.came ? ", " + run.came : ""), run.engine];
  const drop = make("button", { type: "button", textContent: "Remove", ariaLabel: "Remove the result of " + run.capture });
  drop.addEventListener("click", async () => { await remove("/api/runs/" + run.id).catch(() => {}); await tell("gone", run.id); await showList(); });
  const buttons = make("div", { className: "row" }, drop);
  if (run.finding) {
    const read = make("button", { type: "button", textContent: "Read", ariaLabel: "Read the report of " + run.capture });
    read.addEventListener("click", () => showReport(run));
    buttons.prepend(read);
    cells.push(STATES[run.finding.state], run.finding.cams.map((cam) => cam.cam + " " + cam.off).join("; "));
  } else cells.push("Nothing measured", run.message);
  const line = make("tr", {}, ...[...cells, buttons].map((cell, at) => underHead($("list"), at, make("td", {}, cell))));
  line.dataset.run = run.id;
  if (run.finding) line.dataset.state = run.finding.state;
  return line;
}
on("list", () => showList());

// Two measurements to hold against each other: the first and the last, until somebody chooses.
function pairs(done) {
  $("compare").hidden = done.length < 2;
  [["before", 0], ["after", done.length - 1]].forEach(([name, usual]) => {
    const there = done.some((run) => String(run.id) === $(name).value);
    const chosen = $(name).dataset.chosen && there && $(name).value;
    $(name).replaceChildren(...done.map((run, index) => option(String(run.id), (index + 1) + ". " + run.capture + (run.came ? ", " + run.came : "") + ": " + STATES[run.finding.state])));
    $(name).value = chosen || (done.length ? String(done[usual].id) : "");
  });
}

async function compare(inOrder) {
  complain("compare-error");
  $("compare-anyway").hidden = true;
  $("compared").replaceChildren();
  const [before, after] = [$("before").value, $("after").value];
  try {
    const found = await ask("/api/compare?" + new URLSearchParams({ before, after, in_order: !!inOrder }));
    $("compare-error").textContent = found.message;
    $("compare-anyway").hidden = !found.wrong_way_round;
    if (found.table) showComparison(found.table, "/compare/" + before + "/" + after + "/");
  } catch (error) {
    complain("compare-error", error);
  }
}

function showComparison(table, base) {
  const heads = ["Measured", "Before", "After", "Moved", "Back in tolerance?"];
  const line = (tag, cells) => make("tr", {}, ...cells.map((cell, at) => {
    const box = make(tag, { textContent: cell });
    if (tag === "td") box.dataset.head = heads[at];
    return box;
  }));
  const rows = table.cams.map((cam) => line("td", [cam.cam, cam.before, cam.after, cam.moved, cam.back]));
  const finding = make("p", { className: "finding" }, make("b", { textContent: table.title + ". " }), table.sentence);
  finding.dataset.outcome = table.outcome;
  const wide = make("div", { className: "wide", tabIndex: 0, role: "region", ariaLabel: "Before and after" }, make("table", {},
    make("thead", {}, line("th", heads)), make("tbody", {}, ...rows)));
  const parts = [finding, wide];
  if (table.compression) parts.push(make("p", { textContent: "Compression, bank against bank. Before: " + table.compression[0] + ". After: " + table.compression[1] + ". " + table.compression[2] }));
  if (table.differences.length) parts.push(make("p", { textContent: "The two captures differ:" }), make("ul", {}, ...table.differences.map((text) => make("li", { textContent: text }))));
  // The job's lines go onto the sheet as they are typed in step 3.
  const signed = () => {
    const lines = new URLSearchParams({ work: $("work").value });
    for (const name of ["number", "vehicle", "mileage", "technician", "date"]) lines.set(name, $("job-" + name).value);
    return "?" + lines;
  };
  parts.push(make("div", { className: "row" }, openButton("Open the sheet to sign", base + "sheet" + signed()),
    saveButton("Save it", base + "sheet.html" + signed(), "before-after.html"), saveButton("Save as JSON", base + "comparison.json", "comparison.json")));
  $("compared").replaceChildren(...parts);
}

export async function begin() {
  ["before", "after"].forEach((name) => $(name).addEventListener("change", () => { $(name).dataset.chosen = "yes"; }));
  $("compare-go").addEventListener("click", () => compare(false));
  $("compare-anyway").addEventListener("click", () => compare(true));
  window.addEventListener("focus", () => showList(false).catch(() => {}));
  await showList().catch((error) => complain("capture-error", error));
  if (!state.session || !state.session.watched) return;
  setInterval(() => { if (state.running === null) showList(false).catch(() => {}); }, PAUSE);
}
