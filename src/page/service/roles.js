// Which column carries what: guesses by the library's one rule, marked until they are confirmed; leads that look alike are
// asked about with a picture of each.
import { $, ask, complain, drawing, make, number, on, option, state, tell } from "/common.js";

// Seconds of a picture by which leads are told apart: two cycles and a little at cranking speed.
const PICTURE = 1.3;

// What the columns of a capture were said to be, by capture and engine: shown or joined again, it is read alike.
const said = new Map();
const key = (capture) => capture + " " + (state.engine ? state.engine.id : "");
export const saidOf = (capture) => said.get(key(capture)) || [];
on("ready", () => {
  if (!state.capture) return;
  if (open()) said.delete(key(state.capture.id));
  else said.set(key(state.capture.id), leads());
});

on("capture", showChannels);
on("engine", showChannels);

// What every column is now: role, column, scale of a clamp.
export function leads() {
  const found = [];
  if (!state.capture) return found;
  state.capture.channels.forEach((channel, index) => {
    const role = $("role" + index) ? $("role" + index).value : "";
    if (!role) return;
    const scale = number($("scale" + index).value);
    found.push({ name: role, column: channel.column, amperes_per_volt: role === "starter" && Number.isFinite(scale) ? scale : null });
  });
  return found;
}
// What is still to be said of the columns; empty when nothing is.
export function open() {
  const unsure = document.querySelectorAll("#channels .unsure").length;
  const chosen = leads().map((lead) => lead.name);
  const twice = chosen.find((name, at) => chosen.indexOf(name) !== at);
  if (twice) return "“" + twice + "” is chosen for two columns in step 1.";
  if (unsure) return "Confirm in step 1 what is marked as a guess (" + unsure + ").";
  return "";
}

async function showChannels() {
  const [capture, engine] = [state.capture, state.engine];
  const [list, alike] = [$("channels"), $("alike")];
  let suggested = { roles: [], columns: [] };
  if (capture) {
    try {
      const about = new URLSearchParams({ capture: capture.id });
      if (engine) about.set("engine", engine.id);
      suggested = await ask("/api/leads?" + about);
    } catch (error) {
      complain("capture-error", error);
      suggested.columns = capture.channels.map(() => ({ role: "", sure: true, open: [] }));
    }
  }
  // Another capture or engine was chosen while this one was asked about.
  if (capture !== state.capture || engine !== state.engine) return;
  list.replaceChildren();
  alike.replaceChildren();
  if (capture) {
    capture.channels.forEach((channel, index) => list.append(box(channel, index, suggested.columns[index], suggested.roles)));
    await askAlike(capture, suggested, alike);
  }
  await tell("ready");
}

function box(channel, index, suggestion, roles) {
  const guess = (channel.guess ? "looks like " + channel.guess : "not recognised") + ": " + channel.reason;
  const choice = make("select", { id: "role" + index, ariaLabel: "Role of " + channel.name });
  choice.append(option("", "not used"), ...roles.map((role) => option(role, role)));
  const before = saidOf(state.capture.id);
  const again = before.find((lead) => lead.column === channel.column);
  choice.value = before.length ? (again ? again.name : "") : suggestion.role;
  const range = channel.low.toPrecision(3) + " to " + channel.high.toPrecision(3) + " " + channel.unit;
  const svg = drawing([channel.trace], "Signal of " + channel.name + " over the whole capture, " + range + ", " + guess);
  const name = make("div", { className: "name" }, make("b", { textContent: channel.name }),
    make("small", { textContent: "column " + channel.column + ", " + range + "; " + guess }));
  const scale = make("label", { className: "scale" }, "Clamp, amperes per volt ", make("input", { id: "scale" + index, size: 6, inputMode: "decimal" }));
  const showScale = () => { scale.hidden = choice.value !== "starter" || channel.unit !== "V"; };
  const box = make("div", { className: "channel" }, name, choice, svg, scale);
  const settled = () => { box.classList.remove("unsure"); box.querySelectorAll(".guess").forEach((one) => one.remove()); };
  if (again && again.amperes_per_volt !== null) scale.lastChild.value = again.amperes_per_volt;
  if (!before.length && suggestion.role && !suggestion.sure) {
    const tick = make("input", { type: "checkbox", id: "confirm" + index });
    tick.addEventListener("change", () => { settled(); tell("ready"); choice.focus(); });
    box.classList.add("unsure");
    box.append(make("label", { className: "guess" }, tick, " A guess. Follow the lead to its sensor: it is “" + suggestion.role + "”"));
  } else if (!choice.value && suggestion.open.length) {
    box.append(make("p", { className: "hint guess", textContent: "Not used until you say which it is: " + suggestion.open.join(", ") + "." }));
  }
  choice.addEventListener("change", () => { settled(); showScale(); tell("ready"); });
  box.settled = settled;
  showScale();
  return box;
}

// Columns for which the same leads are left look alike: a picture of each, with the crank below it, and which is which.
async function askAlike(capture, suggested, place) {
  const groups = new Map();
  suggested.columns.forEach((one, index) => {
    if (one.open.length < 2) return;
    const key = one.open.join("\n");
    groups.set(key, [...(groups.get(key) || []), index]);
  });
  const crank = suggested.columns.findIndex((one) => one.role === "crank");
  for (const [key, columns] of groups) {
    if (columns.length < 2 || columns.every((index) => $("role" + index).value)) continue;
    const open = key.split("\n");
    let shown;
    try {
      const middle = capture.first + capture.seconds / 2;
      const half = Math.min(PICTURE, capture.seconds) / 2;
      shown = await ask("/api/trace?" + new URLSearchParams({ capture: capture.id, from: middle - half, to: middle + half }));
    } catch { return; }
    if (capture !== state.capture) return;
    const pictures = columns.map((index) => {
      const name = capture.channels[index].name;
      const rows = [shown.traces[index], ...(crank >= 0 ? [shown.traces[crank]] : [])];
      const words = name + " from second " + shown.from.toFixed(2) + " to " + shown.to.toFixed(2) + (crank >= 0 ? ", the crank below it" : "");
      const buttons = open.map((role) => {
        const button = make("button", { type: "button", textContent: "It is " + role });
        button.addEventListener("click", () => say(index, role, columns, open));
        return button;
      });
      return make("figure", {}, drawing(rows, words), make("figcaption", { textContent: name }), make("div", { className: "row" }, ...buttons));
    });
    const group = make("div", { className: "alike" }, make("p", {}, make("b", { textContent: columns.map((index) => capture.channels[index].name).join(" and ") + " look alike." }),
      " The signal does not say which is which. Follow each lead to its sensor:"), make("div", { className: "pair" }, ...pictures));
    group.dataset.columns = columns.join(" ");
    place.append(group);
  }
}
// Of two leads for two columns, what one is says what the other is.
function say(index, role, columns, open) {
  const set = (at, value) => { $("role" + at).value = value; $("role" + at).dispatchEvent(new Event("change")); };
  columns.filter((at) => at !== index && $("role" + at).value === role).forEach((at) => set(at, ""));
  set(index, role);
  if (columns.length === 2 && open.length === 2) set(columns.find((at) => at !== index), open.find((other) => other !== role));
  if (columns.every((at) => $("role" + at).value)) {
    const group = [...document.querySelectorAll("#alike .alike")].find((one) => one.dataset.columns === columns.join(" "));
    if (group) group.remove();
    $("role" + index).focus();
  }
}
